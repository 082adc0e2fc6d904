//! The `vialwright` program: chooses the window or a headless command.

fn main() {}
