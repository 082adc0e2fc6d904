//! The starter: a handful of numbers become a whole, sized apparatus, or a reason why they can't.
//!
//! - `sizes` chooses the tubes that were left open, and the dimensions of an ampoule for its target fill.
//! - `layout` places the pieces so that a hand torch reaches every neck and nothing touches.
//! - `pour` asks the engine where every vessel meters out its target, and gives the charge that this needs.
//!
//! The rules of the bench are those of [`findings`]: what is given has no finding graver than a note, and pours its
//! target into every vessel. A finished apparatus is held against both before it leaves.

mod layout;
mod pour;
mod sizes;

pub use sizes::{Part, sealed_ml};

use crate::data::{self, Stock};
use crate::findings::{self, Finding, Severity};
use crate::geom::build::{BuildError, build};
use crate::model::limits::{Limit, Unit};
use crate::model::{Apparatus, Edit, EditError, TubeSize};
use thiserror::Error;

/// Vessels that a starter may have.
pub static VESSELS: Limit = limit("vessels", "number of vials", Unit::Count, 1.0, 24.0, 1.0);
/// Target fill of each vessel.
pub static TARGET: Limit = limit("target", "target fill", Unit::Ml, 0.1, 25.0, 0.1);
/// Slope of the header, rising away from where the charge lies.
pub static SLOPE: Limit = limit("slope", "slope of the header", Unit::Deg, 0.0, 10.0, 0.5);
/// Bore of any tube: through less no liquid passes in an evening.
static BORE: Limit = limit("bore", "bore", Unit::Mm, 1.0, 40.0, 0.5);
/// Longest straight body of an ampoule: beyond it a wider tube is the better vial.
pub static BODY_LENGTH: Limit = limit("body_mm", "length of a body", Unit::Mm, 0.5, 120.0, 1.0);
/// Longest header: tube comes in lengths of 1.5 m (SCHOTT/DURAN tubing catalogue).
pub static HEADER_LENGTH: Limit = limit("header_mm", "length of the header", Unit::Mm, 0.5, 1500.0, 1.0);
/// Longest closed leg that holds a charge: a longer one is no longer handled with the rest.
pub static LEG_LENGTH: Limit = limit("leg_mm", "length of the closed leg", Unit::Mm, 0.5, 300.0, 1.0);

const fn limit(key: &'static str, label: &'static str, unit: Unit, min: f64, max: f64, step: f64) -> Limit {
    Limit {
        key,
        label,
        unit,
        min,
        max,
        step,
    }
}

/// To which side of the receiver the header runs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Side {
    /// To the right.
    #[default]
    Right,
    /// To the left.
    Left,
}

/// What is wanted of the apparatus.
#[derive(Clone, Debug, PartialEq)]
pub struct Wish {
    /// Number of vials, within [`VESSELS`].
    pub vessels: usize,
    /// Target fill of each, mL, within [`TARGET`].
    pub target_ml: f64,
    /// Name of the liquid.
    pub liquid: String,
    /// Tube sizes; none where the starter is to choose.
    pub sizes: Sizes<Option<TubeSize>>,
    /// Slope of the header, degrees, within [`SLOPE`]; it rises away from where the charge lies.
    pub slope_deg: f64,
    /// Where the header runs.
    pub side: Side,
    /// A pot to distil from; without a receiver the charge lies in it.
    pub pot: bool,
    /// A receiver, in which the charge lies. Without pot and receiver it lies in a closed leg of the header.
    pub receiver: bool,
    /// A tube from the header's far end back to the vessel of the charge, through which gas passes while liquid pours.
    pub return_tube: bool,
    /// A port to the pump.
    pub vacuum_port: bool,
    /// A port to the gas line.
    pub gas_port: bool,
}

impl Default for Wish {
    fn default() -> Self {
        Self {
            vessels: 6,
            target_ml: 1.5,
            liquid: "Water".to_owned(),
            sizes: Sizes::default(),
            slope_deg: 0.0,
            side: Side::Right,
            pot: true,
            receiver: true,
            return_tube: false,
            vacuum_port: true,
            gas_port: false,
        }
    }
}

/// Something for each of the tubes that can be chosen.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Sizes<T> {
    /// Of the header.
    pub header: T,
    /// Of an ampoule's body.
    pub body: T,
    /// Of an ampoule's neck.
    pub neck: T,
    /// Of the bridge, the riser and the necks that they join.
    pub bridge: T,
}

/// An apparatus to start from.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// The apparatus.
    pub apparatus: Apparatus,
    /// What is worth knowing of it at once.
    pub sums: Sums,
    /// What was found in it, notes only.
    pub notes: Vec<Finding>,
}

/// The sums of a starter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sums {
    /// The tubes, chosen or wished.
    pub sizes: Sizes<TubeSize>,
    /// Length of a body, mm.
    pub body_mm: f64,
    /// Distance between vials, mm.
    pub pitch_mm: f64,
    /// Inside volume of a vial below its seal-off place, mL.
    pub sealed_ml: f64,
    /// From the level of the target to the seal-off place of a vial that stands upright, mm.
    pub room_mm: f64,
    /// The charge, mL: all targets, a tenth to spare, and what stays behind.
    pub charge_ml: f64,
    /// Length of the header, mm.
    pub header_mm: f64,
    /// Length of all centrelines, mm: the tube that goes into the apparatus, bulbs included.
    pub glass_mm: f64,
    /// Tilt at which every vial meters out its target, degrees.
    pub pour_deg: f64,
}

/// Why there is no such apparatus.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum Refusal {
    /// A number outside its limit.
    #[error("The {} must be {limit}.", limit.label)]
    OutOfLimit {
        /// The number.
        value: f64,
        /// Its limit.
        limit: &'static Limit,
    },
    /// A tube too narrow or too wide for its place.
    #[error("The {} must be {limit} wide outside, not {} mm.", part.words(), size.od_mm)]
    Size {
        /// The tube.
        part: Part,
        /// Its size.
        size: TubeSize,
        /// The limit of its outside diameter.
        limit: &'static Limit,
    },
    /// A wall that leaves too little bore.
    #[error("The {} of {} x {} mm must leave a bore of {limit}.", part.words(), size.od_mm, size.wall_mm)]
    Bore {
        /// The tube.
        part: Part,
        /// Its size.
        size: TubeSize,
        /// The limit of its bore.
        limit: &'static Limit,
    },
    /// Neither a vacuum nor a gas port.
    #[error("Without a port the glass can be neither pumped nor vented: take a vacuum port or a gas port.")]
    NoPort,
    /// A return tube without a vessel to which it leads.
    #[error("A return tube leads to a pot or a receiver: take one of them, or leave the return tube out.")]
    NothingToReturnTo,
    /// A neck that leaves nothing to seal.
    #[error(
        "The neck's bore of {neck_mm:.1} mm leaves too little to seal: in this body it may be {most_mm:.1} mm at most."
    )]
    NeckTooWide {
        /// Bore of the neck, mm.
        neck_mm: f64,
        /// The greatest that will do, mm.
        most_mm: f64,
    },
    /// A stem that is wider than the header.
    #[error("This neck needs a stem of {stem_mm} mm, wider than the header of {header_mm} mm that it is joined to.")]
    StemTooWide {
        /// Outside diameter of the stem, mm.
        stem_mm: f64,
        /// Outside diameter of the header, mm.
        header_mm: f64,
    },
    /// A body too narrow for the target.
    #[error(
        "The body would be {length_mm} mm long; the limit is {} mm. A bore of {bore_mm:.1} mm or more holds the target.",
        BODY_LENGTH.max
    )]
    BodyTooLong {
        /// Its length, mm.
        length_mm: f64,
        /// The least bore that will do, mm.
        bore_mm: f64,
    },
    /// An ampoule in which the level can't sink as low as the target before its stem holds liquid back.
    #[error(
        "With this body and neck no less than {least_ml:.2} mL is metered out. Take a narrower body or a wider neck."
    )]
    TooLittle {
        /// The least that is metered out, mL.
        least_ml: f64,
    },
    /// A header longer than a length of tube.
    #[error(
        "The header would be {length_mm} mm long; tube comes in {} mm. Take fewer vials, or narrower tubes.",
        HEADER_LENGTH.max
    )]
    HeaderTooLong {
        /// Its length, mm.
        length_mm: f64,
    },
    /// A charge too great for a closed leg.
    #[error(
        "The leg for a charge of {charge_ml:.1} mL would be {length_mm} mm long; the limit is {} mm. Take a receiver or \
         a wider header.",
        LEG_LENGTH.max
    )]
    LegTooLong {
        /// The charge, mL.
        charge_ml: f64,
        /// Its length, mm.
        length_mm: f64,
    },
    /// Something the model refuses, such as a wall that leaves no bore.
    #[error("{0}.")]
    Unfit(#[from] EditError),
    /// Tubes so unlike each other that the glass could not be made, or would not pour.
    #[error("These sizes do not go together: {piece}: {what}.")]
    Unsound {
        /// The piece.
        piece: String,
        /// What is wrong with it.
        what: String,
    },
}

impl From<BuildError> for Refusal {
    fn from(error: BuildError) -> Self {
        let BuildError::Fault(fault) = error;
        Self::Unfit(fault.into())
    }
}

/// The stock sizes offered for a part, by outside diameter and wall.
pub fn offered(part: Part) -> impl Iterator<Item = TubeSize> {
    let size = |row: &Stock| TubeSize::new(row.od_mm, row.wall_mm);
    data::STOCK
        .iter()
        .map(size)
        .filter(move |size| part.limit().allows(size.od_mm))
}

/// Makes the apparatus that is wished for.
///
/// # Errors
/// When there is none; see [`Refusal`].
pub fn start(wish: &Wish) -> Result<Start, Refusal> {
    check(wish)?;
    let choice = sizes::choose(wish)?;
    let plan = layout::plan(wish, &choice)?;
    let drawn = layout::draw(wish, &choice, &plan);
    drawn.check().map_err(EditError::from)?;
    let (mut apparatus, mut pour_deg) = pour::charged(drawn, plan.holder, &choice)?;
    if wish.side == Side::Left {
        apparatus = apparatus.apply(&Edit::Mirror)?;
        pour_deg = 0.0 - pour_deg;
    }
    let built = build(&apparatus)?;
    let notes = findings::geometric(&apparatus, &built);
    if let Some(grave) = notes.iter().find(|finding| finding.severity != Severity::Note) {
        return Err(Refusal::Unsound {
            piece: grave.piece.clone(),
            what: grave.what.clone(),
        });
    }
    let lines = built.placed.pieces.iter().zip(&built.placed.lines);
    let sums = Sums {
        sizes: choice.sizes,
        body_mm: choice.ampoule.body_mm,
        pitch_mm: plan.pitch_mm,
        sealed_ml: sealed_ml(&choice.ampoule),
        room_mm: choice.room_mm,
        charge_ml: apparatus.charge.fills.iter().map(|fill| fill.volume_ml).sum(),
        header_mm: lines
            .clone()
            .filter(|(piece, _)| piece.name == "header")
            .map(|(_, line)| line.length_mm)
            .sum(),
        glass_mm: lines.map(|(_, line)| line.length_mm).sum(),
        pour_deg,
    };
    Ok(Start { apparatus, sums, notes })
}

/// What can be told without making anything.
fn check(wish: &Wish) -> Result<(), Refusal> {
    let numbers = [
        (wish.vessels as f64, &VESSELS),
        (wish.target_ml, &TARGET),
        (wish.slope_deg, &SLOPE),
    ];
    for (value, limit) in numbers {
        if !limit.allows(value) {
            return Err(Refusal::OutOfLimit { value, limit });
        }
    }
    for part in Part::ALL {
        let Some(size) = *wish.sizes.of(part) else { continue };
        let limit = part.limit();
        if !limit.allows(size.od_mm) {
            return Err(Refusal::Size { part, size, limit });
        }
        if !BORE.allows(size.bore_mm()) {
            return Err(Refusal::Bore {
                part,
                size,
                limit: &BORE,
            });
        }
    }
    if !wish.vacuum_port && !wish.gas_port {
        return Err(Refusal::NoPort);
    }
    if wish.return_tube && !wish.pot && !wish.receiver {
        return Err(Refusal::NothingToReturnTo);
    }
    Ok(())
}
