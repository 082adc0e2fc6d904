//! `pour`: what ends up where when the glass is turned from stance to stance.

use std::io::Read;
use std::path::PathBuf;

use clap::Args;

use super::input::Input;
use super::{CommandError, json, no_room, number, parse_pair, parse_stance, piece};
use crate::geom::Stance;
use crate::model::{Apparatus, Gas, Stop};
use crate::out::run_answers::PourAnswer;
use crate::run::{Kept, Outcome, Plan};
use crate::stages::{Pouring, filling_c, liquid_named};
use crate::units::MM3_PER_ML;

/// Pressure of the gas when none is given, mbar: the standard atmosphere.
const ATMOSPHERE_MBAR: f64 = 1013.25;

/// Arguments of `pour`.
#[derive(Debug, Args)]
pub struct PourArguments {
    /// Design or dump, `-` for standard input.
    file: PathBuf,
    /// Liquid given to a piece at its lowest point, PIECE=ML; repeatable. Without any, the design's own charge.
    #[arg(long, value_name = "PIECE=ML", value_parser = parse_pair)]
    charge: Vec<(String, f64)>,
    /// Stances `tilt` or `tilt,roll`, degrees, with semicolons between; the charge is given at the first. Without any,
    /// the design's own run.
    #[arg(long, value_name = "STANCES", value_parser = parse_stances, allow_hyphen_values = true)]
    stances: Option<Stances>,
    /// What fills the space above the liquid: `evacuated`, `open`, `filled` or `filled=MBAR`. Without it, as the
    /// design's run says.
    #[arg(long, value_parser = parse_gas)]
    gas: Option<Gas>,
    /// Liquid, for what hinders it in narrow bores; the design's own when not given.
    #[arg(long)]
    liquid: Option<String>,
    /// Its temperature, degrees Celsius; the filling temperature of the job when not given.
    #[arg(long, value_parser = number, allow_hyphen_values = true)]
    temperature_c: Option<f64>,
    /// Counts in the head that a liquid needs to enter a narrow bore that it does not wet, and the film that stays on the
    /// walls of one that does, as a design's run may say itself. The answer then has two ends: the greatest and the
    /// least contact angle.
    #[arg(long)]
    capillarity: bool,
    /// Answer in JSON.
    #[arg(long)]
    json: bool,
}

/// Stances in their order, at least one.
#[derive(Clone, Debug, PartialEq)]
struct Stances(Vec<Stance>);

/// Carries out `pour`.
pub(super) fn pour(arguments: &PourArguments, stdin: &mut dyn Read) -> Result<String, CommandError> {
    let input = Input::read(&arguments.file, stdin)?;
    let interior = input.interior()?;
    let mut plan = match &input.design {
        Some(design) => Plan::of(&design.apparatus, &interior),
        None => Plan::default(),
    };
    if !arguments.charge.is_empty() {
        plan.given.clear();
    }
    for (name, ml) in &arguments.charge {
        plan.given.push((piece(&interior, name, &input)?, ml * MM3_PER_ML));
    }
    if let Some(Stances(stances)) = &arguments.stances {
        let stops: Vec<Stop> = stances.iter().map(|at| Stop::at(at.tilt_deg, at.roll_deg)).collect();
        plan.halts = Plan::halts(&stops, &interior, |_| None);
    }
    plan.gas = arguments.gas.unwrap_or(plan.gas);
    if plan.given.is_empty() {
        return Err(CommandError::NoCharge { file: input.name });
    }
    if plan.halts.is_empty() {
        return Err(CommandError::NoRun { file: input.name });
    }
    let pouring = pouring(arguments, &input, plan)?;
    let is_vessel = |piece: usize| {
        input
            .design
            .as_ref()
            .is_some_and(|design| design.vessels.contains(&piece))
    };
    let outcome = |plan: &Plan| {
        let outcome = Outcome::of(&interior, plan, || true).unwrap_or_default();
        no_room(&input, outcome.left_over()).map(|()| outcome)
    };
    let first = outcome(&pouring.plan)?;
    let answer = |outcome: &Outcome, plan: &Plan, kept: &[Kept]| {
        let limit_mm = pouring.unknown.is_none().then_some(2.0 * plan.hindrance.plug_mm);
        PourAnswer::new(&interior, outcome, is_vessel).with(&interior, limit_mm, kept)
    };
    let mut told = answer(&first, &pouring.plan, &[]);
    if let Some((least, kept)) = pouring.at_least_angle(&interior, &first) {
        told.other_end = Some(Box::new(answer(&outcome(&least)?, &least, &kept)));
    }
    if arguments.json { json(&told) } else { Ok(told.text()) }
}

/// The run made ready. Where the liquid is not named and only gas counts, it is unknown what hinders.
fn pouring(arguments: &PourArguments, input: &Input, plan: Plan) -> Result<Pouring, CommandError> {
    let unset = Apparatus::default();
    let apparatus = input.design.as_ref().map_or(&unset, |design| &design.apparatus);
    let capillarity = arguments.capillarity || apparatus.run.capillarity;
    if plan.gas == Gas::Evacuated && !capillarity {
        return Ok(Pouring {
            plan,
            ..Pouring::default()
        });
    }
    let name = arguments.liquid.as_deref().unwrap_or(&apparatus.charge.liquid);
    let Some(liquid) = liquid_named(apparatus, name) else {
        return if capillarity || arguments.liquid.is_some() {
            Err(CommandError::NoLiquid(name.to_owned()))
        } else {
            Ok(Pouring {
                plan,
                least: None,
                unknown: Some("nothing is known of the liquid".to_owned()),
            })
        };
    };
    let t_c = arguments
        .temperature_c
        .unwrap_or_else(|| filling_c(apparatus, Some(&liquid)));
    Ok(Pouring::with(plan, &liquid, t_c, capillarity)?)
}

fn parse_stances(text: &str) -> Result<Stances, String> {
    text.split(';').map(parse_stance).collect::<Result<_, _>>().map(Stances)
}

fn parse_gas(text: &str) -> Result<Gas, String> {
    match text.split_once('=') {
        None if text == "evacuated" => Ok(Gas::Evacuated),
        None if text == "open" => Ok(Gas::Open),
        None if text == "filled" => Ok(Gas::Filled {
            pressure_mbar: ATMOSPHERE_MBAR,
        }),
        Some(("filled", pressure)) => {
            let pressure_mbar = number(pressure)?;
            let limit = &crate::model::limits::PRESSURE;
            if limit.allows(pressure_mbar) {
                Ok(Gas::Filled { pressure_mbar })
            } else {
                Err(format!("{pressure_mbar} mbar is outside {limit}"))
            }
        }
        _ => Err("it is evacuated, open, filled or filled=MBAR".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stances_stand_with_semicolons_between() {
        let stances = parse_stances("0; 25; -3.5,10").unwrap();
        let expected = [Stance::default(), Stance::new(25.0, 0.0), Stance::new(-3.5, 10.0)];
        assert_eq!(stances.0, expected);
        for bad in ["", "0;", "0;;1", "0;ten"] {
            assert!(parse_stances(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn gas_is_one_of_three() {
        assert_eq!(parse_gas("open"), Ok(Gas::Open));
        assert_eq!(parse_gas("filled"), Ok(Gas::Filled { pressure_mbar: 1013.25 }));
        assert_eq!(parse_gas("filled=200"), Ok(Gas::Filled { pressure_mbar: 200.0 }));
        for bad in ["", "full", "open=3", "filled=", "filled=0", "filled=nan"] {
            assert!(parse_gas(bad).is_err(), "{bad}");
        }
    }
}
