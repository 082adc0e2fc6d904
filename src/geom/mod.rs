//! The geometry engine: bores, and liquid at rest in them.
//!
//! Axes, stance and words are those of DEVELOPERS.md: the drawing plane is z = 0 with x to the right and y up;
//! lengths are millimetres, areas mm2, volumes mm3; angles inside the engine are radians.
//!
//! From the geometry to the answer: [`Primitive`]s form an [`Interior`] (which ones meet, and the spans of each, once);
//! [`Interior::at`] a [`Stance`] gives a [`Posture`] (basins and sills: a merge tree); [`Posture::settle`] puts liquid
//! in (streams, levels); [`events::of_turn`] carries it along a turn and finds what happens. Each file opens with its
//! method and what bounds its error.

mod alike;
pub mod build;
mod care;
pub mod events;
pub mod glass;
mod interior;
mod joint;
mod liquid;
mod losses;
mod meet;
mod metering;
mod moving;
mod pools;
mod posture;
mod postures;
mod pour;
mod rim;
mod rise;
mod rooms;
mod section;
mod shape;
mod shut;
mod solve;
mod spans;
mod stance;
mod stream;
mod sweep;
mod tilts;
mod tolerance;
mod transfer;
mod turn;
mod walk;
mod wall;
mod watch;

pub use care::Care;
pub use interior::{GREATEST_MM, GREATEST_RADIUS_MM, Interior, InteriorError, LEAST_MM, MOST_PORTS, MOST_PRIMITIVES};
pub use liquid::Liquid;
pub use pools::{Below, Pool, RunsTo, Settled};
pub use posture::Posture;
pub use postures::Postures;
pub use pour::{Poured, Transfer, pour};
pub use rise::Sounding;
pub use shape::{Port, Primitive, Shape};
pub use shut::{Bar, Neck, Shut};
pub use stance::Stance;
pub use tilts::{BothWays, DRAINED_PART, Question, Tilts, tilts};
pub use turn::{TurnStep, main_pool, turn};
pub use wall::Wall;
