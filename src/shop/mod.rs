//! What is printed and taken to the torch: sheets of text, full-size templates and workshop drawings.
//!
//! `leaf` holds the contents of a sheet as plain data; `page` is what is drawn of them, a flat list in millimetres;
//! `pdf`, `svg` and `dxf` write it.

pub mod assembly;
pub mod blanks;
pub mod blocks;
pub mod case;
pub mod cuts;
pub mod date;
mod details;
pub mod drawing;
pub mod dxf;
pub mod figures;
mod fit;
pub mod font;
pub mod header;
pub mod leaf;
pub mod measured;
pub mod names;
pub mod nest;
pub mod order;
pub mod outline;
pub mod page;
pub mod parts;
pub mod pdf;
pub mod plate;
mod pouring;
pub mod procedure;
pub mod sheet;
mod steps;
pub mod svg;
pub mod table;
pub mod template;
#[cfg(test)]
mod tests;
mod texts;
pub mod tiling;
pub mod title_block;
#[cfg(test)]
mod trials;
pub mod typeset;
pub mod view;

pub use case::Case;
pub use leaf::{Block, Field, Figure, Leaf, Step, Table};
