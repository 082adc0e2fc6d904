//! Published physics as plain functions of quantities; nothing here knows of glass pieces, screens or files.
//!
//! Each function is given with its [`Formula`]: text, range, source and how that source is known. A [`Working`] is a
//! formula with the inputs and the result of one use of it, so that a window and a printed page show the same.

pub mod anneal;
pub mod capillary;
pub mod evaporation;
pub mod flame;
pub mod formula;
pub mod quench;
pub mod reaction;
pub mod sealed;
pub mod strength;
pub mod vacuum;
mod working;

pub use working::{Formula, Term, Working};

/// Standard gravity, m/s2.
pub const G: f64 = 9.80665;
/// Gas constant, J/(mol K).
pub const R: f64 = 8.314_462_618_153_24;
/// Boltzmann constant, J/K.
pub const K_B: f64 = 1.380_649e-23;
/// Standard atmosphere, Pa.
pub const ATMOSPHERE: f64 = 101_325.0;

#[cfg(test)]
#[track_caller]
pub(crate) fn close(got: f64, printed: f64, part: f64) {
    assert!(
        ((got - printed) / printed).abs() <= part,
        "got {got}, printed {printed}, off by {:e}",
        got / printed - 1.0
    );
}
