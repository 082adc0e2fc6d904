//! Rules of gas and vacuum.

use super::{Found, Severity, Work};
use crate::model::job::Input;
use crate::units::si::{in_minutes, leak_text, ml_text, significant, time_text};

/// Time in which fresh gas mixes into a dead end that is worth a word, minutes.
const MIXES_MIN: f64 = 5.0;

pub(super) fn never(work: &Work, found: &mut Found) {
    let Some(cycles) = found.value("", &work.stages.gas().cycles_needed).copied() else {
        return;
    };
    if cycles.is_none() {
        let inputs = &work.case.inputs;
        found.add(
            Severity::Stop,
            "",
            [
                "Pump and fill gets nowhere".to_owned(),
                format!(
                    "Pumped down to {} mbar and filled to {} mbar: the gas is not thinned.",
                    significant(inputs.value(Input::PurgeLow).unwrap_or(0.0), 3),
                    significant(inputs.value(Input::PurgeFill).unwrap_or(0.0), 3)
                ),
                "Pump lower than you fill.".to_owned(),
            ],
        );
    }
}

pub(super) fn short(work: &Work, found: &mut Found) {
    let gas = work.stages.gas();
    let (Some(left), Some(wanted)) = (
        found.value("", &gas.left_ppm).copied(),
        work.case.inputs.value(Input::Wanted),
    ) else {
        return;
    };
    if left > wanted {
        let needed = gas.cycles_needed.as_ref().ok().copied().flatten();
        found.add(
            Severity::Watch,
            "",
            [
                "Too few pump-and-fill cycles".to_owned(),
                format!(
                    "{} ppm of oxygen are left, {} are wanted at most.",
                    significant(left, 2),
                    significant(wanted, 2)
                ),
                needed.map_or_else(
                    || "Pump lower than you fill.".to_owned(),
                    |n| format!("Do {n} cycles, or pump lower."),
                ),
            ],
        );
    }
}

pub(super) fn leaks(work: &Work, found: &mut Found) {
    let gas = work.stages.gas();
    let Ok(allowed) = gas.allowed else {
        return;
    };
    let Some(measured) = found.value("", &gas.measured).copied() else {
        return;
    };
    if measured > allowed {
        found.add(
            Severity::Stop,
            "",
            [
                "It leaks too much".to_owned(),
                format!(
                    "{} are read, {} are allowed for the loss that is given.",
                    leak_text(measured),
                    leak_text(allowed)
                ),
                "Find the leak before charging; if the rise bends over it is water from the glass: bake and pump."
                    .to_owned(),
            ],
        );
    }
}

pub(super) fn dead_ends(work: &Work, found: &mut Found) {
    let gas = work.stages.gas();
    if found.value("", &gas.port).is_none() || !work.case.has_gas() {
        return;
    }
    for end in gas.dead_ends.iter().filter(|end| in_minutes(end.mixes) > MIXES_MIN) {
        found.add(
            Severity::Note,
            &end.piece,
            [
                "Its gas changes slowly".to_owned(),
                format!(
                    "{} with one way in; fresh gas mixes in within {}.",
                    ml_text(end.volume),
                    time_text(end.mixes)
                ),
                "Pump and fill instead of streaming, and wait between the cycles.".to_owned(),
            ],
        );
    }
}
