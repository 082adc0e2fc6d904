//! The geometry engine: bores, and liquid at rest in them.
//!
//! Axes, stance and words are those of DEVELOPERS.md: the drawing plane is z = 0 with x to the right and y up;
//! lengths are millimetres, areas mm2, volumes mm3; angles inside the engine are radians.

pub mod build;
pub mod glass;
mod shape;

pub use shape::{Port, Primitive, Shape};
