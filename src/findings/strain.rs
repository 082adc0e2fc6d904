//! Rules of strength and heat.

use super::{Found, Severity, Work};
use crate::data::glass;
use crate::model::job::Input;
use crate::physics::strength::atmosphere;
use crate::stages::strength::Wall;
use crate::units::si::{
    in_bars, in_kelvins_apart, interval_text, kelvins_apart, pascals, percent_text, percents, pressure_text,
    stress_text, temperature_text,
};

pub(super) fn ampoule(work: &Work, found: &mut Found) {
    let strength = work.stages.strength();
    for (name, pressure, trusted) in &strength.ampoules {
        let Some(pressure) = found.value(name, pressure).copied() else {
            continue;
        };
        if !in_bars(pressure).is_finite() {
            // The rule of the full ampoule tells this.
            continue;
        }
        let severity = if pressure > *trusted {
            Severity::Stop
        } else if pressure > *trusted * 0.5 {
            Severity::Watch
        } else {
            continue;
        };
        found.add(
            severity,
            name,
            [
                "The sealed ampoule comes under pressure".to_owned(),
                format!(
                    "{} above the outside at {}; {} of its rating are trusted, {}.",
                    pressure_text(pressure),
                    temperature_text(work.stages.seal().warmest),
                    percent_text(percents(strength.derating * 100.0)),
                    pressure_text(*trusted)
                ),
                "Fill less, seal at lower pressure, take a thicker wall, or keep it cooler.".to_owned(),
            ],
        );
    }
}

pub(super) fn over(work: &Work, found: &mut Found) {
    let strength = work.stages.strength();
    let Some(weakest) = strength.parts.first() else {
        found.unknown("", "there is no glass");
        return;
    };
    let trusted = weakest.rated * strength.derating;
    if strength.over > trusted {
        found.add(
            Severity::Stop,
            &weakest.piece,
            [
                "The overpressure is more than the glass is trusted with".to_owned(),
                format!(
                    "{} above the outside; {} of {} is rated {}, of which {} are trusted.",
                    pressure_text(strength.over),
                    weakest.part,
                    weakest.piece,
                    pressure_text(weakest.rated),
                    pressure_text(trusted)
                ),
                "Set the relief lower, or use a thicker wall there.".to_owned(),
            ],
        );
    }
}

pub(super) fn collapse(work: &Work, found: &mut Found) {
    for part in work
        .stages
        .strength()
        .parts
        .iter()
        .filter(|part| part.wall != Wall::Flat)
    {
        if part.collapses < atmosphere() * 3.0 {
            found.add(
                if part.collapses < atmosphere() {
                    Severity::Stop
                } else {
                    Severity::Watch
                },
                &part.piece,
                [
                    format!("Its {} may collapse under vacuum", part.part),
                    format!(
                        "Cold, round and unscratched it buckles at {} from outside; one atmosphere stands on it.",
                        pressure_text(part.collapses)
                    ),
                    "Use a thicker wall or a smaller diameter.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn flat(work: &Work, found: &mut Found) {
    for part in work
        .stages
        .strength()
        .parts
        .iter()
        .filter(|part| part.wall == Wall::Flat)
    {
        if part.collapses < atmosphere() * 2.0 {
            found.add(
                if part.collapses < atmosphere() {
                    Severity::Stop
                } else {
                    Severity::Watch
                },
                &part.piece,
                [
                    format!("Its {} is weak under vacuum", part.part),
                    format!(
                        "It reaches the design stress of {} at {}; flame-made corners are strained as well.",
                        stress_text(glass::design_stress()),
                        pressure_text(part.collapses)
                    ),
                    "Close it round, or make the flat smaller or thicker.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn shock(work: &Work, found: &mut Found) {
    let Some(k) = work.case.inputs.value(Input::Difference) else {
        return;
    };
    let strength = work.stages.strength();
    let severity = if k > glass::shock() {
        Severity::Stop
    } else if strength.is_beyond_quench(k) {
        Severity::Watch
    } else {
        return;
    };
    found.add(
        severity,
        "",
        [
            "The glass is shocked".to_owned(),
            format!(
                "{} at once give {} on the colder face; the design stress is {}, the makers' limit for new tube {}.",
                interval_text(kelvins_apart(k)),
                stress_text(strength.quenched),
                stress_text(glass::design_stress()),
                interval_text(kelvins_apart(in_kelvins_apart(kelvins_apart(glass::shock()))))
            ),
            "Warm and cool in steps, with a soft flame or a bath.".to_owned(),
        ],
    );
}

pub(super) fn reading(work: &Work, found: &mut Found) {
    let inputs = &work.case.inputs;
    if inputs.value(Input::Strain).is_none() {
        // No glass has been looked at: nothing to judge before it is blown.
        return;
    }
    let Some(stress) = found.value("", &work.stages.strength().strain).copied() else {
        return;
    };
    let limit = glass::design_stress();
    if stress > limit * 0.5 {
        found.add(
            if stress > limit {
                Severity::Stop
            } else {
                Severity::Watch
            },
            "",
            [
                "The glass holds strain".to_owned(),
                format!(
                    "The reading stands for {}; the design stress is {}.",
                    stress_text(stress),
                    stress_text(limit)
                ),
                "Anneal again: hold at 550 \u{b0}C, then cool slowly.".to_owned(),
            ],
        );
    }
}

pub(super) fn trust(work: &Work, found: &mut Found) {
    let derating = work.stages.strength().derating;
    if derating > 0.34 {
        found.add(
            Severity::Watch,
            "",
            [
                "The rating is trusted far".to_owned(),
                format!(
                    "{} of it; hand-made, flame-closed ends are trusted with a quarter to a third.",
                    percent_text(percents(derating * 100.0))
                ),
                "Trust less, or have the glass tested by someone competent.".to_owned(),
            ],
        );
    }
}

pub(super) fn hand_made(work: &Work, found: &mut Found) {
    let strength = work.stages.strength();
    for (name, pressure, trusted) in &strength.ampoules {
        let Ok(pressure) = pressure else {
            continue;
        };
        if *pressure > pascals(2e5) && *pressure <= *trusted {
            found.add(
                Severity::Watch,
                name,
                [
                    "More than 2 bar in a hand-made ampoule".to_owned(),
                    format!(
                        "{} above the outside at {}.",
                        pressure_text(*pressure),
                        temperature_text(work.stages.seal().warmest)
                    ),
                    "Keep it behind a shield, hands off until it is cold.".to_owned(),
                ],
            );
        }
    }
}
