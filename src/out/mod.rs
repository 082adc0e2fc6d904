//! Finished, flat drawings in millimetres; the bench and every exporter read them and share nothing else.

pub mod drawing;
pub mod section;
pub mod trapezoids;
