//! Rules of the charge.

use super::{Found, Severity, Work, capital};
use crate::data::liquids::{Family, is_solid};
use crate::model::Gas;
use crate::model::job::Input;
use crate::units::si::{in_millilitres, millilitres, ml_text, percents, significant, temperature_text};

/// Charge beyond what is needed that is worth a word, as a part of it.
const SURPLUS: f64 = 0.3;
/// Difference between what is asked for and what an ampoule is drawn for that counts.
const DIFFERS: f64 = 0.02;

pub(super) fn liquid_unknown(work: &Work, found: &mut Found) {
    if let Err(why) = work.case.liquid() {
        found.add(
            Severity::Watch,
            "",
            [
                "Nothing is known of the liquid".to_owned(),
                format!(
                    "{}. Vapour, sticking, expansion and freezing are not judged.",
                    capital(&why.to_string())
                ),
                "Name a liquid of the table, or add your own with what you know of it.".to_owned(),
            ],
        );
    }
}

pub(super) fn short(work: &Work, found: &mut Found) {
    let charge = work.stages.charge();
    let given = work.case.given();
    if given <= millilitres(0.0) {
        found.unknown("", "no charge is drawn in the design");
        return;
    }
    let (Some(targets), Some(needed)) = (found.value("", &charge.targets), found.value("", &charge.needed)) else {
        return;
    };
    // A hundredth of a millilitre is what people read.
    let hair = millilitres(0.005);
    if given + hair < *targets {
        found.add(
            Severity::Stop,
            "",
            [
                "The charge does not fill the ampoules".to_owned(),
                format!(
                    "{} are drawn, {} are wanted in the ampoules alone.",
                    ml_text(given),
                    ml_text(*targets)
                ),
                format!("Give {} to the receiver.", ml_text(*needed)),
            ],
        );
    } else if given + hair < *needed {
        found.add(
            Severity::Watch,
            "",
            [
                "The charge leaves nothing for heel and spares".to_owned(),
                format!(
                    "{} are drawn, {} are needed: {} for spare ampoules, {} of heel, and what films the walls.",
                    ml_text(given),
                    ml_text(*needed),
                    ml_text(charge.spares),
                    ml_text(charge.heel)
                ),
                format!("Give {} in all, or plan no spare.", ml_text(*needed)),
            ],
        );
    }
}

pub(super) fn surplus(work: &Work, found: &mut Found) {
    let needed = &work.stages.charge().needed;
    let Some(needed) = found.value("", needed) else {
        return;
    };
    let given = work.case.given();
    if given > *needed * (1.0 + SURPLUS) && in_millilitres(*needed) > 0.0 {
        found.add(
            Severity::Note,
            "",
            [
                "Much of the charge is left over".to_owned(),
                format!("{} are drawn, {} are needed.", ml_text(given), ml_text(*needed)),
                "Charge less, or add ampoules: what is left has to be quenched.".to_owned(),
            ],
        );
    }
}

pub(super) fn target_differs(work: &Work, found: &mut Found) {
    let case = work.case;
    if case
        .inputs
        .value(Input::AskedG)
        .or(case.inputs.value(Input::AskedMol))
        .is_none()
    {
        return;
    }
    let Some(targets) = found.value("", &work.stages.charge().targets) else {
        return;
    };
    let each = *targets / case.vessels.len().max(1) as f64;
    for vessel in &case.vessels {
        let off = (vessel.target / each).value - 1.0;
        if off.abs() > DIFFERS {
            found.add(
                Severity::Watch,
                &vessel.name,
                [
                    "It is drawn for another volume than is asked for".to_owned(),
                    format!(
                        "Asked are {} at the filling temperature, drawn {}.",
                        ml_text(each),
                        ml_text(vessel.target)
                    ),
                    format!("Set its target volume to {}.", ml_text(each)),
                ],
            );
        }
    }
}

pub(super) fn reaction(work: &Work, found: &mut Found) {
    if let Some(Err(why)) = &work.stages.charge().reagents {
        found.add(
            Severity::Stop,
            "",
            [
                "The reaction can't be worked out".to_owned(),
                format!("It reads \"{}\": {why}.", work.case.apparatus.job.reaction),
                "Write it balanced, with the liquid among the products, as in 2 RbCl + Ca -> 2 Rb + CaCl2.".to_owned(),
            ],
        );
    }
}

pub(super) fn yield_low(work: &Work, found: &mut Found) {
    let job = &work.case.apparatus.job;
    let Some(percent) = work
        .case
        .inputs
        .value(Input::Yield)
        .filter(|_| !job.reaction.is_empty())
    else {
        return;
    };
    if percents(percent) >= percents(99.5) {
        found.add(
            Severity::Note,
            "",
            [
                "No reaction loses nothing".to_owned(),
                format!("The expected yield is {} %.", significant(percent, 3)),
                "Plan with what you have reached before; 80 % where nothing is known.".to_owned(),
            ],
        );
    }
}

pub(super) fn filling_solid(work: &Work, found: &mut Found) {
    let Ok(liquid) = work.case.liquid() else {
        found.unknown("", "nothing is known of the liquid");
        return;
    };
    let filling = work.stages.charge().filling;
    match is_solid(liquid, filling) {
        None => found.unknown("", format!("the melting point of {} is not known", liquid.name)),
        Some(false) => {}
        Some(true) => {
            let melting = liquid.melting.as_ref().map_or(filling, |fact| fact.value);
            found.add(
                Severity::Stop,
                "",
                [
                    format!("{} is solid at the filling temperature", capital(&liquid.name)),
                    format!(
                        "It melts at {}; filled is at {}.",
                        temperature_text(melting),
                        temperature_text(filling)
                    ),
                    "Fill warmer: header and necks 10 to 20 K above the melting point.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn in_air(work: &Work, found: &mut Found) {
    let Ok(liquid) = work.case.liquid() else {
        found.unknown("", "nothing is known of the liquid");
        return;
    };
    if work.case.apparatus.run.gas == Gas::Open && liquid.family == Family::AlkaliMetal {
        found.add(
            Severity::Stop,
            "",
            [
                format!("{} would be poured in air", capital(&liquid.name)),
                "The run has its ports open to the air; the metal ignites in it.".to_owned(),
                "Evacuate the glass, or fill it with argon.".to_owned(),
            ],
        );
    }
}
