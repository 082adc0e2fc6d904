//! What is printed and taken to the torch: sheets of text, full-size templates and workshop drawings.
//!
//! `leaf` holds the contents of a sheet as plain data; `page` is what is drawn of them, a flat list in millimetres;
//! `pdf`, `svg` and `dxf` write it.

pub mod blocks;
pub mod date;
pub mod drawing;
pub mod dxf;
pub mod figures;
pub mod font;
pub mod header;
pub mod leaf;
pub mod names;
pub mod outline;
pub mod page;
pub mod pdf;
pub mod plate;
pub mod sheet;
pub mod svg;
pub mod table;
pub mod template;
pub mod tiling;
pub mod title_block;
pub mod typeset;
pub mod view;
