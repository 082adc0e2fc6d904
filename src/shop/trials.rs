//! The examples, made ready for the tests of the sheets.

use super::Case;
use crate::geom::Interior;
use crate::geom::build::build;
use crate::model::{Apparatus, file};
use crate::stages::{self, Stages};

/// The examples by their files.
pub(super) const EXAMPLES: [(&str, &str); 4] = [
    ("rubidium-six", include_str!("../../examples/rubidium-six.json")),
    ("benzene-d6-five", include_str!("../../examples/benzene-d6-five.json")),
    ("gallium-indium-eight", include_str!("../../examples/gallium-indium-eight.json")),
    ("teaching-three", include_str!("../../examples/teaching-three.json")),
];

/// An example.
pub(super) fn example(name: &str) -> Apparatus {
    let found = EXAMPLES.iter().find(|(known, _)| *known == name);
    file::read(found.unwrap().1).unwrap()
}

/// Looks at an example.
pub(super) fn with<T>(name: &str, look: impl FnOnce(&Case) -> T) -> T {
    with_apparatus(&example(name), look)
}

/// Looks at an apparatus.
pub(super) fn with_apparatus<T>(apparatus: &Apparatus, look: impl FnOnce(&Case) -> T) -> T {
    let built = build(apparatus).unwrap();
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
    let case = stages::Case::new(apparatus, &built, &interior);
    look(&Case::of(&Stages::of(&case)))
}
