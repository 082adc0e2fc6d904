//! The job's numbers: as given, or proposed with a reason, or open.

use super::sheet::InputLine;
use crate::data::liquids::{Family, Liquid};
use crate::model::job::{Input, Stage};
use crate::model::{Apparatus, Gas};
use crate::units::si::{in_celsius, pascals, significant};
use std::collections::BTreeMap;

/// Where a number of the job is from.
#[derive(Clone, Debug, PartialEq)]
pub enum Origin {
    /// The user gave it.
    Given,
    /// The program proposes it, for this reason.
    Proposed(String),
}

/// The numbers of the job; what is neither given nor proposed is not among them.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Inputs {
    numbers: BTreeMap<Input, (f64, Origin)>,
}

/// Vapour pressure that a pot of metal is proposed to have, Pa: the upper end of the trade's band of 0.01 to 0.1 mbar.
const METAL_PA: f64 = 10.0;
/// Standard atmosphere, mbar.
const OPEN_MBAR: f64 = 1013.25;
/// What an evacuated apparatus is taken to hold, mbar.
const EVACUATED_MBAR: f64 = 0.001;

impl Inputs {
    /// The numbers of a design with so many ampoules.
    pub fn of(apparatus: &Apparatus, liquid: Option<&Liquid>, vessels: usize) -> Self {
        let mut inputs = Self::default();
        for &input in Input::ALL {
            let given = apparatus.job.given(input).map(|value| (value, Origin::Given));
            let entry = given.or_else(|| {
                let (value, why) = inputs.propose(input, apparatus, liquid, vessels)?;
                Some((value, Origin::Proposed(why)))
            });
            if let Some(entry) = entry {
                inputs.numbers.insert(input, entry);
            }
        }
        inputs
    }

    /// A number, given or proposed.
    pub fn value(&self, input: Input) -> Option<f64> {
        self.numbers.get(&input).map(|(value, _)| *value)
    }

    /// Where a number is from; none when it is open.
    pub fn origin(&self, input: Input) -> Option<&Origin> {
        self.numbers.get(&input).map(|(_, origin)| origin)
    }

    /// Whether the user gave a number.
    pub fn is_given(&self, input: Input) -> bool {
        self.origin(input) == Some(&Origin::Given)
    }

    /// The inputs of a stage as lines.
    pub(super) fn lines(&self, stage: Stage) -> Vec<InputLine> {
        let of_stage = Input::ALL.iter().filter(|input| input.stage() == stage);
        of_stage
            .map(|&input| {
                let limit = input.limit();
                let (value, origin) = match self.numbers.get(&input) {
                    Some((value, Origin::Given)) => (Some(*value), "given".to_owned()),
                    Some((value, Origin::Proposed(why))) => (Some(*value), format!("proposed: {why}")),
                    None => (None, String::new()),
                };
                let value = value.map_or_else(
                    || "not given".to_owned(),
                    |value| {
                        format!(
                            "{} {}",
                            significant(value, 6).trim_end_matches(".00000"),
                            limit.unit.symbol()
                        )
                    },
                );
                InputLine {
                    key: limit.key,
                    what: limit.label,
                    value: tidy_number(&value),
                    origin,
                }
            })
            .collect()
    }

    fn propose(
        &self,
        input: Input,
        apparatus: &Apparatus,
        liquid: Option<&Liquid>,
        vessels: usize,
    ) -> Option<(f64, String)> {
        let melting = liquid
            .and_then(|liquid| liquid.melting.as_ref())
            .map(|fact| in_celsius(fact.value));
        let is_metal = liquid.is_some_and(|liquid| matches!(liquid.family, Family::AlkaliMetal | Family::Metal));
        let say = |value: f64, why: &str| Some((value, why.to_owned()));
        let as_filled = |name: &str| say(self.value(Input::Filling)?, name);
        match input {
            Input::Filling => match melting {
                Some(melting) if melting + 10.0 > 20.0 => say(tidied(melting + 10.0), "10 K above the melting point"),
                Some(_) => say(20.0, "room temperature"),
                None => say(20.0, "room temperature, the melting point is not known"),
            },
            Input::Spares => say((vessels as f64 / 10.0).ceil(), "one for every ten, common practice"),
            Input::FirstRunnings => say(0.0, "nothing is put away"),
            Input::Yield if !apparatus.job.reaction.is_empty() => say(80.0, "common practice"),
            Input::Excess if !apparatus.job.reaction.is_empty() => say(0.0, "what the formula asks for"),
            Input::Pot if is_metal => {
                let t = tidied(in_celsius(liquid?.boils_at(pascals(METAL_PA))?));
                let limit = liquid?.glass_limit.as_ref().map(|fact| in_celsius(fact.value));
                (t <= limit.unwrap_or(500.0)).then(|| {
                    (
                        t,
                        "vapour pressure of 0.1 mbar, upper end of the trade's band".to_owned(),
                    )
                })
            }
            Input::Pot => say(
                melting.map_or(30.0, |melting| (melting + 20.0).max(30.0)),
                "gentle warmth, common practice",
            ),
            Input::Receiver if is_metal => {
                say(tidied(melting? + 10.0), "10 K above the melting point, so that it runs")
            }
            Input::Receiver => say(
                tidied((melting? + 5.0).max(0.0)),
                "in ice, or 5 K above the melting point",
            ),
            Input::Residual => match apparatus.run.gas {
                Gas::Evacuated => say(EVACUATED_MBAR, "evacuated"),
                Gas::Open => say(OPEN_MBAR, "open to the air in the run"),
                Gas::Filled { pressure_mbar } => say(pressure_mbar, "gas of the run"),
            },
            Input::StillTilt => match apparatus.run.stops.first() {
                Some(stop) => say(stop.tilt_deg, "first stop of the run"),
                None => say(0.0, "as drawn"),
            },
            Input::Accommodation => say(1.0, "clean surface; an upper bound"),
            Input::PurgeLow => say(1.0, "end of a diaphragm pump"),
            Input::PurgeFill => say(1000.0, "filled to just below one atmosphere"),
            Input::Wanted => say(1.0, "glove-box grade"),
            Input::Cycles => say(3.0, "common practice"),
            Input::PumpSpeed => say(1.0, "small rotary pump"),
            Input::PumpEnd => say(0.01, "end of a rotary pump"),
            Input::Loss => say(1.0, "a visible film"),
            Input::Exposed => say(10.0, "a long day"),
            Input::Closing => match apparatus.run.gas {
                Gas::Evacuated => say(EVACUATED_MBAR, "evacuated"),
                Gas::Open => say(OPEN_MBAR, "open to the air in the run"),
                Gas::Filled { pressure_mbar } => say(pressure_mbar, "gas of the run"),
            },
            Input::ClosingT => {
                if melting.is_some_and(|melting| melting > 20.0) {
                    as_filled("as filled: the liquid is known only above its melting point")
                } else {
                    say(20.0, "room temperature")
                }
            }
            Input::ShutGas => say(127.0, "small volume beside a flame, recalled"),
            Input::Warmest => say(60.0, "a warm store or a car in summer"),
            Input::Coldest => say(5.0, "an unheated store"),
            Input::Flame => say(1.0, "neck of 6 mm, common practice"),
            Input::Over => match apparatus.run.gas {
                Gas::Filled { pressure_mbar } if pressure_mbar > OPEN_MBAR => {
                    say(tidied(pressure_mbar - OPEN_MBAR), "gas of the run")
                }
                _ => say(0.0, "never above the outside"),
            },
            Input::Derating => say(
                25.0,
                "a quarter, for flame-closed ends and scratches; judgement without a source",
            ),
            Input::Difference => say(20.0, "gentle warming"),
            Input::StockLength => say(1500.0, "tube as the makers of borosilicate 3.3 sell it"),
            Input::Kerf => say(1.0, "0.5 mm of fire-polish at both ends, recalled"),
            Input::Butt => say(1.0, "the upper end of what melts back, recalled"),
            Input::SideSeal => say(3.0, "the upper end of what is lost, recalled"),
            Input::PulledOff => say(40.0, "a point of 80 mm shared between two pieces, recalled"),
            Input::SpareBlanks => say((vessels as f64 / 10.0).ceil(), "one for every ten, common practice"),
            Input::AskedG
            | Input::AskedMol
            | Input::Heel
            | Input::Yield
            | Input::Excess
            | Input::LeakFrom
            | Input::LeakTo
            | Input::LeakHours
            | Input::Bath
            | Input::Strain
            | Input::StrainPath
            | Input::Oven
            | Input::Residue => None,
        }
    }
}

fn tidied(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// A number without the zeros that rounding left behind its point.
fn tidy_number(text: &str) -> String {
    let (number, unit) = text.split_once(' ').unwrap_or((text, ""));
    let number = if number.contains('.') && !number.contains('e') {
        number.trim_end_matches('0').trim_end_matches('.')
    } else {
        number
    };
    format!("{number} {unit}").trim_end().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::data::liquids::liquid;

    fn inputs(name: &str) -> Inputs {
        Inputs::of(&Apparatus::default(), liquid(name), 6)
    }

    #[test]
    fn what_is_open_is_proposed_for_the_liquid() {
        let rb = inputs("rubidium");
        assert_eq!(rb.value(Input::Filling), Some(49.3));
        assert!((rb.value(Input::Pot).unwrap() - 212.5).abs() < 0.1);
        assert_eq!(rb.value(Input::Receiver), Some(49.3));
        assert_eq!(rb.value(Input::Spares), Some(1.0));
        assert_eq!(rb.value(Input::Oven), None);
        assert!(matches!(rb.origin(Input::Pot), Some(Origin::Proposed(_))));
        // Gallium has no vapour that glass would bear.
        assert_eq!(inputs("gallium").value(Input::Pot), None);
        assert_eq!(inputs("benzene").value(Input::Pot), Some(30.0));
    }

    #[test]
    fn what_is_given_stays() {
        let mut apparatus = Apparatus::default();
        apparatus.job.set(Input::Pot, Some(180.0));
        let inputs = Inputs::of(&apparatus, liquid("rubidium"), 6);
        assert_eq!(
            (inputs.value(Input::Pot), inputs.is_given(Input::Pot)),
            (Some(180.0), true)
        );
        let lines = inputs.lines(Stage::Still);
        assert_eq!(
            (lines[0].key, lines[0].value.as_str(), lines[0].origin.as_str()),
            ("pot_c", "180 \u{b0}C", "given")
        );
        assert!(lines[1].origin.starts_with("proposed: 10 K above"));
    }
}
