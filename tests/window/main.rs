//! The window, driven through its accessible nodes and by pointer and keys; no graphics device is needed.
#![cfg(feature = "window")]
#![allow(clippy::unwrap_used, reason = "a test stops at what it does not find")]

mod basics;
mod begin;
mod commands;
mod desk;
mod dimensions;
mod editing;
mod find;
mod handles;
mod harness;
mod jobs;
mod keyboard;
mod measured;
mod particulars;
mod reading;
mod ring;
mod run;
mod sheets;
mod sketching;
mod stages;
