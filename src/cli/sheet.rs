//! `sheet`: what is printed and taken to the torch.

use std::io::Read;
use std::path::{Path, PathBuf};

use clap::Args;
use thiserror::Error;

use super::CommandError;
use super::input::{Bench, read_design};
use crate::files;
use crate::shop::Case;
use crate::shop::date::Date;
use crate::shop::page::Paper;
use crate::shop::sheet::{self, Format, Request, SheetError, What};
use crate::stages::{self, Stages};

/// Arguments of `sheet`.
#[derive(Debug, Args)]
pub struct SheetArguments {
    /// Design, `-` for standard input.
    file: PathBuf,
    /// Which sheet: template, drawing, cuts, assembly, run, measured, order, or dossier for all
    /// of them.
    #[arg(long, value_parser = parse_what)]
    what: What,
    /// Paper: a4, a3 or letter.
    #[arg(long, default_value = "a4", value_parser = parse_paper)]
    paper: Paper,
    /// File to write.
    #[arg(long, value_name = "PATH")]
    out: PathBuf,
    /// Format: pdf, svg, dxf or csv; by the ending of the file when not given. Svg and dxf are one sheet in full size, as
    /// large as it must be, whatever the paper.
    #[arg(long, value_parser = parse_format)]
    format: Option<Format>,
    /// Day on the sheet, YYYY-MM-DD; today when not given.
    #[arg(long)]
    date: Option<Date>,
    /// Replace a file that is there.
    #[arg(long)]
    force: bool,
}

/// Why no sheet was written.
#[derive(Debug, Error)]
pub enum SheetCommandError {
    /// Another file is in its place.
    #[error("{} is there already; --force replaces it", .0.display())]
    Exists(PathBuf),
    /// The ending tells no format.
    #[error("the ending of {} tells no format; give one with --format", .0.display())]
    NoFormat(PathBuf),
    /// It can't be made.
    #[error(transparent)]
    Sheet(#[from] SheetError),
}

/// Writes a sheet and tells what was written.
pub(super) fn run(arguments: &SheetArguments, stdin: &mut dyn Read) -> Result<String, CommandError> {
    let path = &arguments.out;
    let format = arguments.format.or_else(|| by_ending(path));
    let format = format.ok_or_else(|| SheetCommandError::NoFormat(path.clone()))?;
    let is_there = || path.symlink_metadata().is_ok();
    if !arguments.force && is_there() {
        return Err(SheetCommandError::Exists(path.clone()).into());
    }
    let Bench {
        apparatus,
        built,
        interior,
    } = read_design(&arguments.file, stdin)?;
    let request = Request {
        what: arguments.what,
        format,
        paper: arguments.paper,
        date: arguments.date.unwrap_or_else(|| Date::of_unix_days(files::unix_days())),
    };
    let job = stages::Case::new(&apparatus, &built, &interior);
    let worked = Stages::of(&job);
    let bytes = sheet::make(request, &Case::of(&worked)).map_err(SheetCommandError::from)?;
    files::write_whole(path, &bytes).map_err(super::InputError::from)?;
    Ok(format!("{}: {}\n", path.display(), request.what.title()))
}

fn by_ending(path: &Path) -> Option<Format> {
    let ending = path.extension()?.to_str()?.to_lowercase();
    Format::ALL.into_iter().find(|format| format.name() == ending)
}

fn parse_what(text: &str) -> Result<What, String> {
    let found = What::ALL.into_iter().find(|what| what.name() == text);
    let names = || What::ALL.map(What::name).join(", ");
    found.ok_or_else(|| format!("it is one of {}", names()))
}

fn parse_format(text: &str) -> Result<Format, String> {
    let found = Format::ALL.into_iter().find(|format| format.name() == text);
    let names = || Format::ALL.map(Format::name).join(", ");
    found.ok_or_else(|| format!("it is one of {}", names()))
}

fn parse_paper(text: &str) -> Result<Paper, String> {
    let all = [Paper::A4, Paper::A3, Paper::Letter];
    let found = all.into_iter().find(|paper| paper.name().eq_ignore_ascii_case(text));
    found.ok_or_else(|| "it is a4, a3 or letter".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arguments(what: What, out: PathBuf) -> SheetArguments {
        SheetArguments {
            file: PathBuf::from("examples/teaching-three.json"),
            what,
            paper: Paper::A4,
            out,
            format: None,
            date: Some(Date::of_unix_days(20_000)),
            force: false,
        }
    }

    #[test]
    fn a_file_is_replaced_only_when_told_so() {
        let folder = tempfile::tempdir().unwrap();
        let out = folder.path().join("cuts.CSV");
        let mut order = arguments(What::Cuts, out.clone());
        run(&order, &mut std::io::empty()).unwrap();
        let first = std::fs::read(&out).unwrap();
        assert!(first.starts_with(b"blank,"), "the ending tells the format");
        std::fs::write(&out, "mine").unwrap();
        let refusal = run(&order, &mut std::io::empty()).unwrap_err();
        assert_eq!(refusal.status(), 2);
        assert!(refusal.to_string().contains("--force"), "{refusal}");
        assert_eq!(std::fs::read(&out).unwrap(), b"mine");
        order.force = true;
        run(&order, &mut std::io::empty()).unwrap();
        assert_eq!(std::fs::read(&out).unwrap(), first);
    }

    #[test]
    fn what_can_not_be_is_refused_in_words() {
        let folder = tempfile::tempdir().unwrap();
        for (what, name, says) in [
            (What::Order, "order.dxf", "\"order\" can't be dxf; it can be pdf"),
            (What::Template, "t.csv", "it can be pdf or svg"),
            (What::Template, "template", "--format"),
        ] {
            let refusal = run(&arguments(what, folder.path().join(name)), &mut std::io::empty()).unwrap_err();
            assert!(refusal.to_string().contains(says), "{refusal}");
        }
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
        assert!(parse_what("plan").is_err() && parse_paper("a5").is_err() && parse_format("png").is_err());
        assert_eq!(parse_paper("letter"), Ok(Paper::Letter));
    }
}
