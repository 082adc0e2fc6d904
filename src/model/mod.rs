//! The apparatus: a plain value, the only thing that is saved.
//!
//! Lengths are millimetres, angles degrees (anticlockwise positive, 0 = +x), volumes millilitres; every
//! field says so in its name. The value carries no caches and knows nothing of files, bores or liquids in motion.

pub mod check;
pub mod cutting;
pub mod edit;
mod expand;
pub mod file;
pub mod fresh;
pub mod limits;
mod mirror;
mod nearest;
pub mod param;
mod piece;
pub mod place;
pub mod reseat;
#[cfg(test)]
pub(crate) mod sample;
mod structure;
mod values;
mod wire;

pub use edit::{Edit, EditError};
pub use piece::*;

/// A whole design.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Apparatus {
    /// What the user calls it; shown in the window's title and on sheets.
    pub title: String,
    /// Tube sizes the user added to the catalogue.
    pub own_stock: Vec<OwnSize>,
    /// Every piece that is not a member of a row, in the order they were made.
    pub pieces: Vec<Piece>,
    /// Rows of like ampoules.
    pub rows: Vec<Row>,
    /// The liquid and where it lies.
    pub charge: Charge,
}

/// A tube size added by the user.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnSize {
    /// Outside diameter and wall.
    pub tube: TubeSize,
    /// The user's remark, such as where the tube lies in the shop.
    pub note: String,
}

/// The liquid and its amount.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Charge {
    /// Name of the liquid; free text until a liquid of that name is known.
    pub liquid: String,
    /// Volumes given to pieces at the start.
    pub fills: Vec<Fill>,
}

/// A volume of liquid given to a piece at the start.
#[derive(Clone, Debug, PartialEq)]
pub struct Fill {
    /// Name of the piece.
    pub piece: String,
    /// Volume, mL.
    pub volume_ml: f64,
}
