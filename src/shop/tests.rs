//! The sheets of the four examples: nothing left out, nothing empty that is known.

use super::trials::{EXAMPLES, lines, with};
use super::*;

#[test]
fn show() {
    for (name, _) in EXAMPLES {
        with(name, |case| {
            for leaf in [
                cuts::leaf(case),
                assembly::leaf(case),
                procedure::leaf(case),
                order::leaf(case),
            ] {
                println!("{}", lines(&leaf).join("\n"));
            }
        });
    }
}
