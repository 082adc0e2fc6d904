//! What leaves the program: answers as text for people and JSON for machines, and finished, flat drawings in
//! millimetres that the bench and every exporter read.

pub mod answers;
pub mod callouts;
mod cells;
pub mod chart;
pub mod chart_svg;
pub mod curves;
pub mod dimensions;
pub mod drawing;
pub mod labels;
pub mod review;
pub mod run_answers;
pub mod run_chart;
pub mod section;
pub mod seek_answers;
pub mod trapezoids;
