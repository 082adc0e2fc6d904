//! `check`: the review of a design.

use std::io::Read;
use std::path::PathBuf;

use clap::Args;

use super::input::{Bench, read_design};
use super::{Answer, CommandError};
use crate::findings;
use crate::out::review::ReviewAnswer;
use crate::stages::{Case, Stages};

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct CheckArguments {
    /// Design, `-` for standard input.
    file: PathBuf,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

/// Lists the findings; the status is 1 when a stop stands.
pub(super) fn run(arguments: &CheckArguments, stdin: &mut dyn Read) -> Result<Answer, CommandError> {
    let Bench {
        apparatus,
        built,
        interior,
    } = read_design(&arguments.file, stdin)?;
    let case = Case::new(&apparatus, &built, &interior);
    let review = findings::review(&Stages::of(&case));
    let answer = ReviewAnswer::new(&apparatus.title, &review);
    Ok(Answer {
        text: if arguments.json {
            super::json(&answer)?
        } else {
            answer.text()
        },
        status: u8::from(review.has_stop()),
    })
}
