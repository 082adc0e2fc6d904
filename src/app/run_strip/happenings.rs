//! What happens in a run, in words and with its time: what runs where, brims, locks, is sealed off or lost.

use super::worker::End;
use crate::app::ring::degrees;
use crate::geom::{Interior, RunsTo, Stance};
use crate::out::run_answers::locked_words;
use crate::run::{Moment, Outcome, Passage};
use crate::units::{MM3_PER_ML, length_text, volume_text};

/// Least volume that is told, mm3: less is shown as nothing.
const TOLD: f64 = 5.0;

/// What kind of thing happens; of several at one place the first of these is shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Kind {
    /// Liquid runs out of a port.
    Loss,
    /// Gas or surface tension keeps liquid out of a vessel.
    Locks,
    /// A vessel is sealed off where liquid stands.
    SealsWet,
    /// A vessel is sealed off.
    Seals,
    /// A vessel comes to its brim.
    Brims,
    /// Liquid begins to run from one place to another.
    Begins,
    /// It has run.
    Ends,
}

/// Something that happens.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Happening {
    /// What kind of thing.
    pub kind: Kind,
    /// When, s from the start.
    pub time_s: f64,
    /// What, in words.
    pub words: String,
}

/// A stance in words.
pub(super) fn stance_text(stance: Stance) -> String {
    match stance.roll_deg {
        0.0 => degrees(stance.tilt_deg),
        roll => format!("{} rolled {}", degrees(stance.tilt_deg), degrees(roll)),
    }
}

/// The name of a stop, or its number.
pub(super) fn stop_name(outcome: &Outcome, stop: usize) -> String {
    match outcome.halts.get(stop) {
        Some(halt) if !halt.name.is_empty() => halt.name.clone(),
        _ => format!("stop {}", stop + 1),
    }
}

fn ml(volume: f64) -> String {
    volume_text(volume / MM3_PER_ML)
}

/// Pieces and ports in words.
struct Names<'a>(&'a Interior);

impl Names<'_> {
    fn of(&self, piece: usize) -> &str {
        self.0.pieces().get(piece).map_or("", String::as_str)
    }

    fn port(&self, port: usize) -> &str {
        self.0.ports().get(port).map_or("", |port| self.of(port.piece))
    }

    fn runs_to(&self, to: RunsTo) -> String {
        match to {
            RunsTo::Piece(piece) => format!("to {}", self.of(piece)),
            RunsTo::Port(port) => format!("OUT of {}", self.port(port)),
        }
    }
}

/// A passage in words, such as `receiver runs to vial-1`.
pub(super) fn passage_text(interior: &Interior, passage: &Passage) -> String {
    let names = Names(interior);
    format!("{} runs {}", names.of(passage.from), names.runs_to(passage.to))
}

/// What happens in a run, in order.
pub(super) fn of(interior: &Interior, end: &End, vessels: &[bool]) -> Vec<Happening> {
    let outcome = &end.outcome;
    let names = Names(interior);
    let at = |moment: Moment| format!("at {}", stance_text(outcome.stance(moment)));
    let mut list: Vec<Happening> = Vec::new();
    let is_told = |passage: &&Passage| passage.volume >= TOLD;
    for passage in outcome.transfers.iter().filter(is_told) {
        list.extend(of_passage(outcome, passage, &names));
    }
    let is_vessel = |piece: usize| vessels.get(piece) == Some(&true);
    for brim in end.trace.brims.iter().filter(|brim| is_vessel(brim.piece)) {
        list.push(Happening {
            kind: Kind::Brims,
            time_s: outcome.time_s(brim.moment),
            words: format!("{} comes to its brim {}", names.of(brim.piece), at(brim.moment)),
        });
    }
    for lock in &outcome.locks {
        let (words, help) = locked_words(interior, &lock.locked);
        list.push(Happening {
            kind: Kind::Locks,
            time_s: outcome.time_s(lock.begins),
            words: format!(
                "From {} to {}: {words} {help}",
                stance_text(outcome.stance(lock.begins)),
                stance_text(outcome.stance(lock.ends))
            ),
        });
    }
    list.extend(seals(outcome, &names));
    list.sort_by(|a, b| a.time_s.total_cmp(&b.time_s).then(a.kind.cmp(&b.kind)));
    list
}

/// Begin and end of a passage; what runs as soon as the charge is given is one.
fn of_passage(outcome: &Outcome, passage: &Passage, names: &Names<'_>) -> Vec<Happening> {
    let [begins, ends] = [passage.begins, passage.ends].map(|moment| stance_text(outcome.stance(moment)));
    let (from, to, volume) = (names.of(passage.from), names.runs_to(passage.to), ml(passage.volume));
    let is_loss = matches!(passage.to, RunsTo::Port(_));
    let kind = if is_loss { Kind::Loss } else { Kind::Begins };
    if passage.ends == Moment::default() {
        let words = format!("{from} runs on {to} as it is given: {volume}");
        let time_s = 0.0;
        return vec![Happening { kind, time_s, words }];
    }
    let happening = |kind, moment, words| Happening {
        kind,
        time_s: outcome.time_s(moment),
        words,
    };
    vec![
        happening(
            kind,
            passage.begins,
            format!("{from} begins to run {to} at {begins}: {volume}"),
        ),
        happening(
            Kind::Ends,
            passage.ends,
            format!("{from} has run {to} by {ends}: {volume}"),
        ),
    ]
}

/// Vessels that are sealed off, after the wait.
fn seals(outcome: &Outcome, names: &Names<'_>) -> Vec<Happening> {
    let mut list = Vec::new();
    for (stop, (halt, rest)) in outcome.halts.iter().zip(&outcome.stops).enumerate() {
        for &(piece, _) in &halt.seals {
            let holds = ml(rest.held.get(piece).copied().unwrap_or_default());
            let mut words = format!(
                "{} is sealed off at {} with {holds}",
                names.of(piece),
                stop_name(outcome, stop)
            );
            let mut wet = outcome.wet_seals.iter();
            let wet = wet.find(|wet| wet.stop == stop && wet.piece == piece);
            if let Some(wet) = wet {
                words += &format!("; liquid stands {} over its seal-off place", length_text(wet.head_mm));
            }
            list.push(Happening {
                kind: if wet.is_some() { Kind::SealsWet } else { Kind::Seals },
                time_s: outcome.reached_s(stop) + halt.wait_s,
                words,
            });
        }
    }
    list
}
