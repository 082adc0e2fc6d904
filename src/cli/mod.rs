//! The headless commands: arguments in, text and an exit status out. A thin front on the library.

mod check;
mod compare;
mod input;
mod nest;
mod pour;
mod seek;
mod sheet;
mod stages;

use std::io::Read;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};
use thiserror::Error;

use crate::dump;
use crate::geom::{Interior, Question, Stance, tilts};
use crate::model::job::Stage;
use crate::out::answers::{MeasureAnswer, TiltsAnswer};
use crate::seek::Watch;
use crate::units::MM3_PER_ML;
use input::{Input, InputError};
pub use pour::PourArguments;
pub use seek::{EvenArguments, SizeArguments, SpreadArguments, VaryArgument};
pub use sheet::{SheetArguments, SheetCommandError};

/// Design, check and size borosilicate distil-pour-seal apparatus before the glass is blown.
#[derive(Debug, Parser)]
#[command(name = "vialwright", version, args_conflicts_with_subcommands = true)]
pub struct Arguments {
    /// Design to open in the window; the six-ampoule demo when none is given.
    pub file: Option<PathBuf>,
    /// What to do without a window.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// A headless command. FILE is a design or a neutral interior dump, told apart by content; `-` is standard input.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Write the neutral interior dump of a design.
    Interior {
        /// Design or dump, `-` for standard input.
        file: PathBuf,
    },
    /// Volumes, basins or pools, levels, sills and brims at a stance.
    Measure(MeasureArguments),
    /// Spill, hold, drain and metering tilts of a piece.
    Tilts(TiltsArguments),
    /// What ends up in which piece when the glass is turned from stance to stance.
    Pour(PourArguments),
    /// The shortest run of stances that fills every vessel to its target.
    Even(EvenArguments),
    /// Sizes of vessels for their targets, best first.
    Size(SizeArguments),
    /// How the fills spread when the glass is made by hand: Monte Carlo over the tolerances.
    Spread(SpreadArguments),
    /// How much product and which reagents are needed.
    Charge(stages::StageArguments),
    /// Pumping, purging and distilling: rates, time, bumping, what stays back.
    Still(stages::StageArguments),
    /// Necks and sealing, strength and heat.
    Seal(stages::StageArguments),
    /// What is wrong, doubtful or worth a note, and what could not be judged; status 1 when a stop stands.
    Check(check::CheckArguments),
    /// Every stage of the job.
    Stages(stages::StageArguments),
    /// Write a sheet for the workshop: template, drawing, cut list, assembly, run, order form, or all as a dossier.
    Sheet(SheetArguments),
    /// Measured fills against the run, and what would explain the difference.
    Compare(compare::CompareArguments),
    /// Lengths of tube laid out on as few lengths of stock as can be.
    Nest(nest::NestArguments),
}

/// Arguments of `measure`.
#[derive(Debug, Args)]
pub struct MeasureArguments {
    /// Design or dump, `-` for standard input.
    file: PathBuf,
    /// Stance `tilt` or `tilt,roll`, degrees.
    #[arg(long, default_value = "0", value_parser = parse_stance, allow_hyphen_values = true)]
    stance: Stance,
    /// Liquid given to a piece at its lowest point, PIECE=ML; repeatable.
    #[arg(long, value_name = "PIECE=ML", value_parser = parse_pair)]
    liquid: Vec<(String, f64)>,
    /// Also the volume connected to a piece's lowest point below a height, PIECE=LEVEL_MM; repeatable.
    #[arg(long, value_name = "PIECE=LEVEL_MM", value_parser = parse_pair, allow_hyphen_values = true)]
    volume_below: Vec<(String, f64)>,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

/// Arguments of `tilts`.
#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("asked").required(true).multiple(true).args(["volume_ml", "target_ml"]))]
pub struct TiltsArguments {
    /// Design or dump, `-` for standard input.
    file: PathBuf,
    /// Name of the piece.
    #[arg(long)]
    piece: String,
    /// Volume it holds, mL: gives spill, hold and drain.
    #[arg(long, value_parser = parse_volume)]
    volume_ml: Option<f64>,
    /// Target fill, mL: gives metering.
    #[arg(long, value_parser = parse_volume)]
    target_ml: Option<f64>,
    /// Tilt to turn from, degrees (`tilt` or `tilt,roll`).
    #[arg(long, default_value = "0", value_parser = parse_stance, allow_hyphen_values = true)]
    from: Stance,
    /// Heel below which the piece counts as drained, mL; 0.5 % of the volume when not given.
    #[arg(long, value_parser = parse_volume)]
    heel_ml: Option<f64>,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

/// Why a command gave no answer.
#[derive(Debug, Error)]
pub enum CommandError {
    /// The arguments don't fit the file.
    #[error("there is no piece \"{name}\" in {file}; it has: {known}")]
    NoSuchPiece {
        /// Name asked for.
        name: String,
        /// The file.
        file: String,
        /// Names in the file.
        known: String,
    },
    /// The file can't be read or understood.
    #[error(transparent)]
    Input(#[from] InputError),
    /// More liquid was given than a closed interior holds.
    #[error("{file}: {left_over_ml:.3} mL more than the closed interior holds")]
    NoRoom {
        /// The file.
        file: String,
        /// What finds no room.
        left_over_ml: f64,
    },
    /// There is nothing to pour.
    #[error("{file} has no charge; give it with --charge PIECE=ML")]
    NoCharge {
        /// The file.
        file: String,
    },
    /// There is no way to pour it.
    #[error("{file} has no run; give the stances with --stances \"0; 25; 0,10\"")]
    NoRun {
        /// The file.
        file: String,
    },
    /// Only a design tells this.
    #[error("{file} is a dump of an interior; this needs a design")]
    NoDesign {
        /// The file.
        file: String,
    },
    /// Nothing is to be filled.
    #[error("{file} has no ampoules to be filled")]
    NoVessels {
        /// The file.
        file: String,
    },
    /// No size fits.
    #[error(transparent)]
    Size(#[from] crate::seek::size::Refusal),
    /// There is no liquid of that name.
    #[error("no liquid is known by the name \"{0}\"")]
    NoLiquid(String),
    /// Something about the liquid is not known.
    #[error(transparent)]
    NoValue(#[from] crate::data::law::NoValue),
    /// No sheet was written.
    #[error(transparent)]
    Sheet(#[from] SheetCommandError),
    /// The lengths have no layout.
    #[error(transparent)]
    Nest(#[from] crate::shop::nest::NestError),
    /// Nothing can be compared.
    #[error(transparent)]
    Compare(#[from] crate::shop::measured::CompareError),
    /// More pieces than can be laid out.
    #[error("more than {0} pieces")]
    TooMany(usize),
    /// It was stopped.
    #[error("stopped")]
    Stopped,
    /// The answer could not be written as JSON.
    #[error("the answer can't be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

impl CommandError {
    /// Exit status: 2 wrong usage, 3 the file can't be read or understood, 4 stopped.
    pub fn status(&self) -> u8 {
        match self {
            Self::NoSuchPiece { .. }
            | Self::NoCharge { .. }
            | Self::NoRun { .. }
            | Self::NoDesign { .. }
            | Self::NoVessels { .. }
            | Self::Nest(_)
            | Self::Compare(_)
            | Self::TooMany(_)
            | Self::Size(_)
            | Self::Sheet(_)
            | Self::NoValue(_)
            | Self::NoLiquid(_) => 2,
            Self::Stopped => 4,
            Self::Input(_) | Self::NoRoom { .. } | Self::Json(_) => 3,
        }
    }
}

/// What a command says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Goes to standard output.
    pub text: String,
    /// Exit status: 0, or 1 when a stop stands in the design.
    pub status: u8,
}

/// Runs a command. `watch` is told how long work is getting on.
///
/// # Errors
/// When a file can't be read or understood, or does not have what is asked for.
pub fn run(command: &Command, stdin: &mut dyn Read, watch: &dyn Watch) -> Result<Answer, CommandError> {
    let text = match command {
        Command::Interior { file } => Ok(dump::write(&Input::read(file, stdin)?.dump)),
        Command::Measure(arguments) => measure(arguments, stdin),
        Command::Tilts(arguments) => find_tilts(arguments, stdin),
        Command::Pour(arguments) => pour::pour(arguments, stdin),
        Command::Even(arguments) => seek::find_even(arguments, stdin, watch),
        Command::Size(arguments) => seek::find_size(arguments, stdin, watch),
        Command::Spread(arguments) => seek::find_spread(arguments, stdin, watch),
        Command::Charge(arguments) => stages::run(arguments, &[Stage::Charge], stdin),
        Command::Still(arguments) => stages::run(arguments, &[Stage::Gas, Stage::Still], stdin),
        Command::Seal(arguments) => stages::run(arguments, &[Stage::Seal, Stage::Strength], stdin),
        Command::Stages(arguments) => stages::run(arguments, &Stage::ALL, stdin),
        Command::Sheet(arguments) => sheet::run(arguments, stdin),
        Command::Compare(arguments) => compare::run(arguments, stdin, watch),
        Command::Nest(arguments) => nest::run(arguments),
        Command::Check(arguments) => return check::run(arguments, stdin),
    };
    Ok(Answer { text: text?, status: 0 })
}

fn measure(arguments: &MeasureArguments, stdin: &mut dyn Read) -> Result<String, CommandError> {
    let input = Input::read(&arguments.file, stdin)?;
    let interior = input.interior()?;
    let posture = interior.at(arguments.stance);
    let mut given = Vec::with_capacity(arguments.liquid.len());
    for (name, ml) in &arguments.liquid {
        given.push((piece(&interior, name, &input)?, ml * MM3_PER_ML));
    }
    let settled = (!given.is_empty()).then(|| posture.settle(&given));
    no_room(&input, settled.as_ref().map_or(0.0, |settled| settled.left_over))?;
    let pools = settled.as_ref().map_or_else(|| posture.basins(), |s| s.pools.clone());
    let mut below = Vec::with_capacity(arguments.volume_below.len());
    for (name, level_mm) in &arguments.volume_below {
        let piece = piece(&interior, name, &input)?;
        below.push((piece, *level_mm, posture.below(piece, *level_mm)));
    }
    let answer = MeasureAnswer::new(&interior, arguments.stance, &pools, settled.as_ref(), &below);
    if arguments.json {
        json(&answer)
    } else {
        Ok(answer.text())
    }
}

fn find_tilts(arguments: &TiltsArguments, stdin: &mut dyn Read) -> Result<String, CommandError> {
    let input = Input::read(&arguments.file, stdin)?;
    let interior = input.interior()?;
    let piece = piece(&interior, &arguments.piece, &input)?;
    let mm3 = |ml: Option<f64>| ml.map(|ml| ml * MM3_PER_ML);
    let ask = Question {
        volume: mm3(arguments.volume_ml),
        target: mm3(arguments.target_ml),
        heel: mm3(arguments.heel_ml),
    };
    let answer = TiltsAnswer::from(tilts(&interior, piece, ask, arguments.from));
    if arguments.json {
        json(&answer)
    } else {
        Ok(answer.text())
    }
}

/// Refuses more liquid, mm3, than there is room for.
fn no_room(input: &Input, left_over: f64) -> Result<(), CommandError> {
    if left_over > 0.0 {
        return Err(CommandError::NoRoom {
            file: input.name.clone(),
            left_over_ml: left_over / MM3_PER_ML,
        });
    }
    Ok(())
}

fn json(answer: &impl serde::Serialize) -> Result<String, CommandError> {
    Ok(serde_json::to_string_pretty(answer)? + "\n")
}

fn piece(interior: &Interior, name: &str, input: &Input) -> Result<usize, CommandError> {
    interior.piece_index(name).ok_or_else(|| CommandError::NoSuchPiece {
        name: name.to_owned(),
        file: input.name.clone(),
        known: interior.pieces().join(", "),
    })
}

fn number(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        _ => Err(format!("\"{text}\" is not a number")),
    }
}

/// Greatest angle that makes sense as a tilt: ten turns.
const GREATEST_ANGLE_DEG: f64 = 3600.0;

fn parse_stance(text: &str) -> Result<Stance, String> {
    let (tilt, roll) = text.split_once(',').unwrap_or((text, "0"));
    let stance = Stance::new(number(tilt)?, number(roll)?);
    if stance.tilt_deg.abs() > GREATEST_ANGLE_DEG || stance.roll_deg.abs() > GREATEST_ANGLE_DEG {
        return Err(format!("an angle of \"{text}\" is beyond {GREATEST_ANGLE_DEG} degrees"));
    }
    Ok(stance)
}

fn parse_volume(text: &str) -> Result<f64, String> {
    let value = number(text)?;
    if value > 0.0 {
        Ok(value)
    } else {
        Err(format!("a volume of \"{text}\" is not above 0"))
    }
}

fn parse_pair(text: &str) -> Result<(String, f64), String> {
    let (name, value) = text
        .rsplit_once('=')
        .ok_or_else(|| format!("\"{text}\" is not of the form PIECE=NUMBER"))?;
    Ok((name.to_owned(), number(value)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn arguments_hold_together() {
        <Arguments as clap::CommandFactory>::command().debug_assert();
    }

    #[test]
    fn stances_are_tilt_and_roll() {
        assert_eq!(parse_stance("-12.5"), Ok(Stance::new(-12.5, 0.0)));
        assert_eq!(parse_stance("10,-3"), Ok(Stance::new(10.0, -3.0)));
        for bad in ["", "ten", "1,2,3", "nan", "inf,0", "1e9"] {
            assert!(parse_stance(bad).is_err(), "{bad}");
        }
    }
}
