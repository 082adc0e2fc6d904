//! Rules of cleaning up.

use super::{Found, Severity, Work};
use crate::data::liquids::Family;
use crate::units::si::{heat_text, in_litres, in_millilitres, ml_text};

/// A residue smaller than this is rinsed off with the rest, mL.
const LEAST_ML: f64 = 0.05;

fn is_alkali(work: &Work) -> bool {
    work.case
        .liquid
        .as_ref()
        .is_some_and(|liquid| liquid.family == Family::AlkaliMetal)
}

pub(super) fn unreached(work: &Work, found: &mut Found) {
    if work.case.built.ports.is_empty() {
        found.unknown("", "there is no port to bring a quench in by");
        return;
    }
    let clean = work.stages.clean();
    for pocket in clean.pockets.iter().filter(|pocket| !pocket.reached) {
        if in_millilitres(pocket.volume) > LEAST_ML {
            found.add(
                if is_alkali(work) {
                    Severity::Stop
                } else {
                    Severity::Watch
                },
                &pocket.piece,
                [
                    "No quench liquid reaches what stays in it".to_owned(),
                    format!(
                        "Its hollows keep up to {}, and nothing poured in by a port comes there at any tilt tried.",
                        ml_text(pocket.volume)
                    ),
                    "Give it a rinse port, or a way that a liquid can run.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn behind_seal(work: &Work, found: &mut Found) {
    let clean = work.stages.clean();
    for pocket in &clean.pockets {
        if let Some(neck) = &pocket.behind
            && in_millilitres(pocket.volume) > LEAST_ML
        {
            found.add(
                if is_alkali(work) {
                    Severity::Watch
                } else {
                    Severity::Note
                },
                &pocket.piece,
                [
                    "Residue stays behind a seal".to_owned(),
                    format!(
                        "Once {neck} is sealed, no port leads to it; its hollows keep up to {}.",
                        ml_text(pocket.volume)
                    ),
                    "Plan how it is opened under inert gas, or give it a rinse port of its own.".to_owned(),
                ],
            );
        }
    }
}

pub(super) fn water(work: &Work, found: &mut Found) {
    let quench = work.case.apparatus.job.quench.trim().to_lowercase();
    let is_bad = ["water", "halogen", "chloro", "dichloromethane", "carbon dioxide"]
        .iter()
        .any(|word| quench.contains(word));
    if is_alkali(work) && is_bad {
        found.add(
            Severity::Stop,
            "",
            [
                "The quench is violent".to_owned(),
                format!("Alkali metal with {quench}: fire or explosion."),
                "Use a long-chain or tertiary alcohol in an inert solvent, slowly and cold; water only last."
                    .to_owned(),
            ],
        );
    }
}

pub(super) fn much_gas(work: &Work, found: &mut Found) {
    if !is_alkali(work) {
        return;
    }
    let clean = work.stages.clean();
    let Some(hydrogen) = found.value("", &clean.hydrogen).copied() else {
        return;
    };
    if in_litres(hydrogen) > 0.5 {
        let heat = clean
            .heat
            .as_ref()
            .map_or_else(ToString::to_string, |heat| heat_text(*heat));
        found.add(
            Severity::Watch,
            "",
            [
                "The quench gives off much hydrogen".to_owned(),
                format!("{} at 20 \u{b0}C, with up to {heat} of heat.", ml_text(hydrogen)),
                "Quench in portions, under argon, with a bubbler into the hood.".to_owned(),
            ],
        );
    }
}
