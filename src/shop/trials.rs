//! The examples, made ready for the tests of the sheets.

use super::{Block, Case, Field, Leaf};
use crate::geom::Interior;
use crate::geom::build::build;
use crate::model::{Apparatus, file};
use crate::stages::{self, Stages};

/// The examples by their files.
pub(super) const EXAMPLES: [(&str, &str); 4] = [
    ("rubidium-six", include_str!("../../examples/rubidium-six.json")),
    ("benzene-d6-five", include_str!("../../examples/benzene-d6-five.json")),
    (
        "gallium-indium-eight",
        include_str!("../../examples/gallium-indium-eight.json"),
    ),
    ("teaching-three", include_str!("../../examples/teaching-three.json")),
];

/// An example.
pub(super) fn example(name: &str) -> Apparatus {
    let found = EXAMPLES.iter().find(|(known, _)| *known == name);
    file::read(found.unwrap().1).unwrap()
}

/// Looks at the job of an example.
pub(super) fn job<T>(name: &str, look: impl FnOnce(&stages::Case) -> T) -> T {
    job_of(&example(name), look)
}

/// Looks at the job of a design.
pub(super) fn job_of<T>(apparatus: &Apparatus, look: impl FnOnce(&stages::Case) -> T) -> T {
    let built = build(apparatus).unwrap();
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).unwrap();
    look(&stages::Case::new(apparatus, &built, &interior))
}

/// Looks at an example.
pub(super) fn with<T>(name: &str, look: impl FnOnce(&Case) -> T) -> T {
    job(name, |job| look(&Case::of(&Stages::of(job))))
}

/// A leaf as plain lines, as far as words go.
pub(super) fn lines(leaf: &Leaf) -> Vec<String> {
    let field = |field: &Field| format!("[{}: {}]", field.label, field.value);
    let mut list = vec![leaf.title.clone()];
    for block in &leaf.blocks {
        match block {
            Block::Heading(text) => list.push(format!("# {text}")),
            Block::Text(text) => list.push(text.clone()),
            Block::Caution(text) => list.push(format!("! {text}")),
            Block::Note(text) => list.push(format!("({text})")),
            Block::Fields(fields) => list.extend(fields.iter().map(field)),
            Block::Table(table) => {
                list.push(table.heads.join(" | "));
                list.extend(table.rows.iter().map(|row| row.join(" | ")));
            }
            Block::Steps(steps) => {
                for step in steps {
                    list.push(format!("- {}", step.text));
                    list.extend(step.cautions.iter().map(|text| format!("  ! {text}")));
                    list.extend(step.fields.iter().map(|one| format!("  {}", field(one))));
                }
            }
            Block::Figure(figure) => list.push(format!("{figure:?}")),
        }
    }
    list
}
