//! What is printed and taken to the torch: sheets of text, full-size templates and workshop drawings.

pub mod leaf;
