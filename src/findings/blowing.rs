//! Rules of blowing it.

use super::{Found, Severity, Work};
use crate::stages::build::HOLD_MM;
use crate::units::length_text;
use crate::units::si::mm_text;

pub(super) fn closed(work: &Work, found: &mut Found) {
    for step in work
        .stages
        .build()
        .steps
        .iter()
        .filter(|step| !step.to.is_empty() && step.vent.is_none())
    {
        found.add(
            Severity::Stop,
            &step.piece,
            [
                "A closed volume would be heated".to_owned(),
                format!(
                    "When it is joined to {} nothing is open: the warm air blows the soft glass out and sucks it in again.",
                    step.to.join(" and ")
                ),
                "Leave a port or a side arm open, and close it last.".to_owned(),
            ],
        );
    }
}

pub(super) fn oven(work: &Work, found: &mut Found) {
    let build = work.stages.build();
    let Some(oven) = found.value("", &build.oven).copied() else {
        return;
    };
    let (name, longest) = &build.longest;
    let whole = if build.extent.0 > build.extent.1 {
        build.extent.0
    } else {
        build.extent.1
    };
    if *longest > oven {
        found.add(
            Severity::Watch,
            name,
            [
                "It does not go into the oven".to_owned(),
                format!("It is {} long, the oven takes {}.", mm_text(*longest), mm_text(oven)),
                "Split it, or anneal its joints in the flame and look at the strain.".to_owned(),
            ],
        );
    } else if whole > oven {
        found.add(
            Severity::Note,
            "",
            [
                "The whole does not go into the oven".to_owned(),
                format!("It is {} across, the oven takes {}.", mm_text(whole), mm_text(oven)),
                "Anneal the parts, and the last joints in the flame.".to_owned(),
            ],
        );
    }
}

pub(super) fn short_runs(work: &Work, found: &mut Found) {
    for run in &work.stages.build().short_runs {
        found.add(
            Severity::Watch,
            &run.piece,
            [
                "There is little between two bends".to_owned(),
                format!(
                    "A straight run of {}; {} are needed to hold it by.",
                    mm_text(run.length),
                    length_text(HOLD_MM)
                ),
                "Move the bends apart, or make them one.".to_owned(),
            ],
        );
    }
}
