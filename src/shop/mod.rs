//! What is printed and taken to the torch: the contents of its leaves as plain data, worked out from a [`Case`].

pub mod assembly;
pub mod blanks;
pub mod case;
pub mod cuts;
pub mod leaf;
pub mod measured;
pub mod nest;
pub mod order;
pub mod parts;
pub mod procedure;
#[cfg(test)]
mod tests;
mod texts;
#[cfg(test)]
mod trials;

pub use case::Case;
pub use leaf::{Block, Field, Figure, Leaf, Step, Table};
