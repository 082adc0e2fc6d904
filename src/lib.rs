//! Vialwright: borosilicate distil, pour and seal apparatus, computed before the glass is blown.
//!
//! The modules stand in dependency order; each may use only those above it (checked by `tests/layering.rs`).

pub mod units;

pub mod data;

pub mod physics;

pub mod model;

pub mod geom;

pub mod dump;

pub mod run;

pub mod stages;

pub mod findings;

pub mod starter;

pub mod seek;

pub mod out;

pub mod shop;

pub mod files;

pub mod cli;

#[cfg(feature = "window")]
pub mod app;
