//! The stages of the job as headless commands: `charge`, `still`, `seal` and `stages`.

use std::io::Read;
use std::path::PathBuf;

use clap::Args;

use super::CommandError;
use super::input::{Bench, read_design};
use crate::model::job::Stage;
use crate::stages::{Case, Sheet, Stages};

/// Arguments of the commands that print stages.
#[derive(Debug, Args)]
pub struct StageArguments {
    /// Design, `-` for standard input.
    file: PathBuf,
    /// Leave the workings out.
    #[arg(long)]
    brief: bool,
    /// Answer in JSON, workings included.
    #[arg(long)]
    json: bool,
}

/// Prints stages of the job.
pub(super) fn run(arguments: &StageArguments, stages: &[Stage], stdin: &mut dyn Read) -> Result<String, CommandError> {
    let Bench {
        apparatus,
        built,
        interior,
    } = read_design(&arguments.file, stdin)?;
    let case = Case::new(&apparatus, &built, &interior);
    let worked = Stages::of(&case);
    let sheets: Vec<&Sheet> = stages.iter().map(|stage| worked.sheet(*stage)).collect();
    if arguments.json {
        return super::json(&sheets);
    }
    let pages = sheets.iter().map(|sheet| sheet.text(!arguments.brief));
    let title = format!("{}\n\n", apparatus.title);
    Ok(title + &pages.collect::<Vec<_>>().join("\n\n"))
}
