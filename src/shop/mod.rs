//! What is printed and taken to the torch: sheets of text, full-size templates and workshop drawings.

pub mod date;
pub mod dxf;
pub mod font;
pub mod leaf;
pub mod outline;
pub mod page;
pub mod pdf;
pub mod svg;
