//! `even`, `size` and `spread`: runs, dimensions and how sure an outcome is.

use std::io::Read;
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::input::{Design, Input};
use super::{CommandError, json, number, parse_stance, parse_volume};
use crate::geom::{Interior, Stance};
use crate::model::{TubeSize, file};
use crate::out::seek_answers::{EvenAnswer, SizeAnswers, SpreadAnswer};
use crate::run::Halt;
use crate::seek::even::even;
use crate::seek::size::{Vary, size};
use crate::seek::spread::spread;
use crate::seek::{Watch, even, size, spread, targets};
use crate::stages::Pouring;
use crate::units::LengthUnit;

/// Arguments of `even`.
#[derive(Debug, Args)]
pub struct EvenArguments {
    /// Design, `-` for standard input.
    file: PathBuf,
    /// Deviation from the target allowed, per cent of it.
    #[arg(long, default_value = "3", value_parser = parse_percent)]
    tolerance_percent: f64,
    /// Tilts allowed, LEAST,MOST degrees.
    #[arg(long, default_value = "-100,100", value_parser = parse_range, allow_hyphen_values = true)]
    tilts: Range,
    /// Rolls allowed, LEAST,MOST degrees.
    #[arg(long, default_value = "0,0", value_parser = parse_range, allow_hyphen_values = true)]
    rolls: Range,
    /// Stance in which the glass ends up, `tilt` or `tilt,roll`; that of the first stop when not given.
    #[arg(long, value_parser = parse_stance, allow_hyphen_values = true)]
    finish: Option<Stance>,
    /// Most stances between the first and the last, 1 to 4.
    #[arg(long, default_value = "2", value_parser = clap::value_parser!(u8).range(1..=4))]
    stops: u8,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

/// Arguments of `spread`.
#[derive(Debug, Args)]
pub struct SpreadArguments {
    /// Design with a run, `-` for standard input.
    file: PathBuf,
    /// Glasses to be tried, 10 to 100000.
    #[arg(long, default_value = "1000", value_parser = clap::value_parser!(u32).range(10..=100_000))]
    samples: u32,
    /// Seed: the same gives the same answer.
    #[arg(long, default_value = "1")]
    seed: u64,
    /// Error of the level, plus or minus degrees.
    #[arg(long, value_parser = parse_volume)]
    level_deg: Option<f64>,
    /// Tolerance of angles, plus or minus degrees.
    #[arg(long, value_parser = parse_volume)]
    angle_deg: Option<f64>,
    /// Tolerance of lengths and places, plus or minus mm.
    #[arg(long, value_parser = parse_volume)]
    length_mm: Option<f64>,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

/// Arguments of `size`.
#[derive(Debug, Args)]
pub struct SizeArguments {
    /// Design, `-` for standard input.
    file: PathBuf,
    /// Row or ampoule to be sized; repeatable. All when not given.
    #[arg(long)]
    vessel: Vec<String>,
    /// Target of each, mL; their own when not given.
    #[arg(long, value_parser = parse_volume)]
    target_ml: Option<f64>,
    /// Part of the body that stays free above the target, per cent.
    #[arg(long, default_value = "25", value_parser = parse_percent)]
    headspace_percent: f64,
    /// Least length from the level to the seal-off place, mm.
    #[arg(long, default_value = "30", value_parser = parse_volume)]
    clearance_mm: f64,
    /// Size at hand for bodies, as `16 x 1.2`; repeatable. The catalogue when not given.
    #[arg(long, value_parser = parse_tube)]
    stock: Vec<TubeSize>,
    /// Longest vessel, mm.
    #[arg(long, default_value = "250", value_parser = parse_volume)]
    longest_mm: f64,
    /// Least distance of vessels, mm.
    #[arg(long, default_value = "30", value_parser = parse_volume)]
    pitch_mm: f64,
    /// What else may be changed; repeatable.
    #[arg(long)]
    vary: Vec<VaryArgument>,
    /// Deviation from the target allowed in the run, per cent of it.
    #[arg(long, default_value = "3", value_parser = parse_percent)]
    tolerance_percent: f64,
    /// Writes the design of the best answer to standard output, instead of the answers.
    #[arg(long)]
    design: bool,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

/// What may be changed beside the vessels.
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum VaryArgument {
    /// The distance of vessels in a row.
    Pitch,
    /// The angle at which vessels leave their host.
    Lean,
    /// The last bend of the host.
    Slope,
}

/// Least and most.
type Range = (f64, f64);

/// Carries out `even`.
pub(super) fn find_even(
    arguments: &EvenArguments,
    stdin: &mut dyn Read,
    watch: &dyn Watch,
) -> Result<String, CommandError> {
    let input = Input::read(&arguments.file, stdin)?;
    let (design, interior) = design(&input)?;
    let mut plan = Pouring::of(&design.apparatus, &interior).plan;
    plan.halts.truncate(1);
    if plan.halts.is_empty() {
        plan.halts.push(Halt::default());
    }
    if plan.given.is_empty() {
        return Err(CommandError::NoCharge { file: input.name });
    }
    let question = even::Question {
        targets: targets(&design.apparatus, &interior),
        tolerance: arguments.tolerance_percent / 100.0,
        tilts: arguments.tilts,
        rolls: arguments.rolls,
        finish: arguments.finish.unwrap_or(plan.halts[0].stance),
        most_stops: usize::from(arguments.stops),
    };
    if question.targets.is_empty() {
        return Err(CommandError::NoVessels { file: input.name });
    }
    let found = even(&interior, &plan, &question, watch).ok_or(CommandError::Stopped)?;
    let answer = EvenAnswer::new(&interior, &plan, &question, &found);
    if arguments.json {
        json(&answer)
    } else {
        Ok(answer.text())
    }
}

/// Carries out `spread`.
pub(super) fn find_spread(
    arguments: &SpreadArguments,
    stdin: &mut dyn Read,
    watch: &dyn Watch,
) -> Result<String, CommandError> {
    let input = Input::read(&arguments.file, stdin)?;
    let (design, interior) = design(&input)?;
    let plan = Pouring::of(&design.apparatus, &interior).plan;
    if plan.given.is_empty() {
        return Err(CommandError::NoCharge { file: input.name });
    }
    if plan.halts.is_empty() {
        return Err(CommandError::NoRun { file: input.name });
    }
    let usual = spread::Tolerances::default();
    let tolerances = spread::Tolerances {
        level_deg: arguments.level_deg.unwrap_or(usual.level_deg),
        angle_deg: arguments.angle_deg.unwrap_or(usual.angle_deg),
        length_mm: arguments.length_mm.unwrap_or(usual.length_mm),
        place_mm: arguments.length_mm.unwrap_or(usual.place_mm),
        ..usual
    };
    let question = spread::Question {
        samples: arguments.samples as usize,
        seed: arguments.seed,
        tolerances,
    };
    let found = spread(&design.apparatus, question, watch).ok_or(CommandError::Stopped)?;
    let answer = SpreadAnswer::new(&interior, arguments.seed, &found);
    if arguments.json {
        json(&answer)
    } else {
        Ok(answer.text())
    }
}

/// Carries out `size`.
pub(super) fn find_size(
    arguments: &SizeArguments,
    stdin: &mut dyn Read,
    watch: &dyn Watch,
) -> Result<String, CommandError> {
    let input = Input::read(&arguments.file, stdin)?;
    let (design, _) = design(&input)?;
    let question = size::Question {
        vessels: arguments.vessel.clone(),
        target_ml: arguments.target_ml,
        headspace: arguments.headspace_percent / 100.0,
        clearance_mm: arguments.clearance_mm,
        stock: arguments.stock.clone(),
        longest_mm: arguments.longest_mm,
        least_pitch_mm: arguments.pitch_mm,
        vary: arguments.vary.iter().map(|vary| (*vary).into()).collect(),
        tolerance: arguments.tolerance_percent / 100.0,
        ..size::Question::default()
    };
    let answers = size(&design.apparatus, &question, watch).ok_or(CommandError::Stopped)??;
    if let (true, Some(best)) = (arguments.design, answers.first()) {
        return Ok(file::write(&best.apparatus));
    }
    let answer = SizeAnswers::new(&answers);
    if arguments.json {
        json(&answer)
    } else {
        Ok(answer.text())
    }
}

fn design(input: &Input) -> Result<(&Design, Interior), CommandError> {
    let design = input.design.as_ref();
    let design = design.ok_or_else(|| CommandError::NoDesign {
        file: input.name.clone(),
    })?;
    Ok((design, input.interior()?))
}

impl From<VaryArgument> for Vary {
    fn from(vary: VaryArgument) -> Self {
        match vary {
            VaryArgument::Pitch => Self::Pitch,
            VaryArgument::Lean => Self::Lean,
            VaryArgument::Slope => Self::Slope,
        }
    }
}

fn parse_percent(text: &str) -> Result<f64, String> {
    let percent = number(text)?;
    if (0.0..=90.0).contains(&percent) {
        Ok(percent)
    } else {
        Err(format!("{text} % is outside 0 to 90 %"))
    }
}

fn parse_range(text: &str) -> Result<Range, String> {
    let (least, most) = text.split_once(',').ok_or("it is LEAST,MOST")?;
    let (least, most) = (number(least)?, number(most)?);
    if least > most || least < -360.0 || most > 360.0 {
        return Err(format!("{least} to {most} degrees is no range within -360 to 360"));
    }
    Ok((least, most))
}

fn parse_tube(text: &str) -> Result<TubeSize, String> {
    let (od_mm, wall_mm) = LengthUnit::default()
        .parse_size(text)
        .map_err(|error| error.to_string())?;
    let wall_mm = wall_mm.ok_or("it is OUTSIDE DIAMETER x WALL")?;
    Ok(TubeSize { od_mm, wall_mm })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_and_percents_are_kept_in_bounds() {
        assert_eq!(parse_range("-90, 45"), Ok((-90.0, 45.0)));
        assert!(parse_range("10,-10").is_err() && parse_range("10").is_err() && parse_range("0,9e9").is_err());
        assert_eq!(parse_percent("2.5"), Ok(2.5));
        assert!(parse_percent("-1").is_err() && parse_percent("nan").is_err());
    }
}
