//! What `pour` answers: every stop with what lies where, and what ran where on the way.
//!
//! The JSON form is a stable contract, as in [`answers`](super::answers).

use std::fmt::Write;

use serde::Serialize;

use super::answers::{LostAnswer, PieceAnswer, RunsToAnswer, StanceAnswer};
use crate::geom::{Interior, RunsTo, Stance};
use crate::run::{Kept, Locked, Moment, Outcome, Rest};
use crate::units::{self, MM3_PER_ML};

/// What a piece holds at a stop.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeldAnswer {
    /// Name of the piece.
    pub piece: String,
    /// Volume, mL; shared volume counts for the lowest primitive id.
    pub volume_ml: f64,
    /// Height of the level of the largest pool in it.
    pub level_mm: f64,
    /// That level above the lowest point of the pool.
    pub depth_mm: f64,
}

/// A stop.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StopAnswer {
    /// What the user calls it; empty without a name.
    pub name: String,
    /// The stance.
    pub stance: StanceAnswer,
    /// Every piece that holds liquid.
    pub vessels: Vec<HeldAnswer>,
    /// Of these, what lies elsewhere than in a piece that is to be filled; empty where nothing is known to be.
    pub heels: Vec<PieceAnswer>,
    /// What has been lost up to this stop, by port.
    pub lost: Vec<LostAnswer>,
    /// Pieces sealed off at stops before, with what they hold.
    pub sealed: Vec<PieceAnswer>,
    /// Vessels that take nothing here, though liquid stands over the mouths of their necks.
    pub locked: Vec<LockedAnswer>,
}

/// A vessel that takes nothing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LockedAnswer {
    /// Name of the piece.
    pub piece: String,
    /// Bore of its neck where it is narrowest, mm.
    pub bore_mm: f64,
    /// Head of liquid over the neck's mouth, mm.
    pub head_mm: f64,
    /// Head at which the liquid, which does not wet the bore, enters it, mm; null where gas bars it whatever the head.
    pub entry_mm: Option<f64>,
    /// What that head presses in against the gas, mL; counted where it came from.
    pub pressed_in_ml: f64,
}

/// A vessel that took nothing for a while.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LockAnswer {
    /// The vessel, with the greatest head of that time.
    #[serde(flatten)]
    pub locked: LockedAnswer,
    /// Stance where liquid came over the mouth of its neck.
    pub begins: StanceAnswer,
    /// The way on which that was: from the stop of this number, from 1, to the next.
    pub after_stop: usize,
    /// Stance where it was gone, or entered, or the run was over.
    pub ends: StanceAnswer,
    /// The way on which that was.
    pub ends_after_stop: usize,
}

impl LockedAnswer {
    fn new(interior: &Interior, locked: &Locked) -> Self {
        Self {
            piece: interior.pieces()[locked.neck.vessel].clone(),
            bore_mm: 2.0 * locked.neck.least_r,
            head_mm: locked.head_mm,
            entry_mm: locked.entry_mm,
            pressed_in_ml: locked.pressed_in / MM3_PER_ML,
        }
    }
}

/// Liquid that ran from one place to another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TransferAnswer {
    /// The piece that gave it up.
    pub from: String,
    /// Where it came to rest.
    pub to: RunsToAnswer,
    /// Volume, mL.
    pub volume_ml: f64,
    /// Stance where it began.
    pub begins: StanceAnswer,
    /// Stance where it ended.
    pub ends: StanceAnswer,
    /// The way on which it ran: from the stop of this number, from 1, to the next; 0 when the charge was given.
    pub after_stop: usize,
}

/// A film on the walls of a piece.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FilmAnswer {
    /// Name of the piece.
    pub piece: String,
    /// Volume, mL, at most.
    pub volume_ml: f64,
    /// Thickness at the lower end, mm.
    pub thickness_mm: f64,
}

/// The answer of `pour`.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PourAnswer {
    /// The stops in their order.
    pub stops: Vec<StopAnswer>,
    /// The transfers in the order in which they began.
    pub transfers: Vec<TransferAnswer>,
    /// Vessels that took nothing for a while, in the order in which that began.
    pub locks: Vec<LockAnswer>,
    /// Bore below which a plug of liquid stands in a neck under gas, mm; 0 where nothing hinders, null where the liquid is
    /// not known.
    pub plug_limit_mm: Option<f64>,
    /// What pieces keep as a film on walls that the liquid has left, at most; missing from the charge here.
    pub film: Vec<FilmAnswer>,
    /// The same at the other end of the liquid's contact angles, where that was asked.
    pub other_end: Option<Box<PourAnswer>>,
}

impl PourAnswer {
    /// Puts an answer together; `is_vessel` tells the pieces that are to be filled.
    pub fn new(interior: &Interior, outcome: &Outcome, is_vessel: impl Fn(usize) -> bool) -> Self {
        let name = |piece: usize| interior.pieces()[piece].clone();
        let port = |port: usize| name(interior.ports()[port].piece);
        let knows_vessels = (0..interior.pieces().len()).any(&is_vessel);
        let named = |piece: usize, volume: f64| PieceAnswer {
            piece: name(piece),
            volume_ml: volume / MM3_PER_ML,
        };
        let stop = |(rest, halt): (&Rest, &crate::run::Halt)| {
            let wet = || {
                rest.held
                    .iter()
                    .copied()
                    .enumerate()
                    .filter(|(_, volume)| *volume > 0.0)
            };
            let heels = wet().filter(|(piece, _)| knows_vessels && !is_vessel(*piece));
            StopAnswer {
                name: halt.name.clone(),
                stance: halt.stance.into(),
                vessels: wet()
                    .map(|(piece, volume)| {
                        let pool = rest.settled.main_pool(piece);
                        HeldAnswer {
                            piece: name(piece),
                            volume_ml: volume / MM3_PER_ML,
                            level_mm: pool.map_or(0.0, |pool| pool.level),
                            depth_mm: pool.map_or(0.0, |pool| pool.depth()),
                        }
                    })
                    .collect(),
                heels: heels.map(|(piece, volume)| named(piece, volume)).collect(),
                lost: rest
                    .settled
                    .lost
                    .iter()
                    .map(|&(lost_by, volume)| LostAnswer {
                        port: port(lost_by),
                        volume_ml: volume / MM3_PER_ML,
                    })
                    .collect(),
                sealed: rest
                    .sealed
                    .iter()
                    .map(|&(piece, volume)| named(piece, volume))
                    .collect(),
                locked: rest
                    .locked
                    .iter()
                    .map(|locked| LockedAnswer::new(interior, locked))
                    .collect(),
            }
        };
        let transfers = outcome.transfers.iter().map(|passage| TransferAnswer {
            from: name(passage.from),
            to: match passage.to {
                RunsTo::Piece(piece) => RunsToAnswer::Piece(name(piece)),
                RunsTo::Port(out) => RunsToAnswer::Port { port: port(out) },
            },
            volume_ml: passage.volume / MM3_PER_ML,
            begins: outcome.stance(passage.begins).into(),
            ends: outcome.stance(passage.ends).into(),
            after_stop: if passage.ends == Moment::default() {
                0
            } else {
                passage.begins.leg + 1
            },
        });
        let locks = outcome.locks.iter().map(|lock| LockAnswer {
            locked: LockedAnswer::new(interior, &lock.locked),
            begins: outcome.stance(lock.begins).into(),
            after_stop: lock.begins.leg + 1,
            ends: outcome.stance(lock.ends).into(),
            ends_after_stop: lock.ends.leg + 1,
        });
        Self {
            stops: outcome.stops.iter().zip(&outcome.halts).map(stop).collect(),
            transfers: transfers.collect(),
            locks: locks.collect(),
            plug_limit_mm: None,
            film: Vec::new(),
            other_end: None,
        }
    }

    /// The same with the bore below which a plug stands, mm, where it is known, and the films that pieces keep.
    pub fn with(self, interior: &Interior, plug_limit_mm: Option<f64>, kept: &[Kept]) -> Self {
        let film = kept.iter().map(|kept| FilmAnswer {
            piece: interior.pieces()[kept.piece].clone(),
            volume_ml: kept.volume / MM3_PER_ML,
            thickness_mm: kept.thickness_mm,
        });
        Self {
            plug_limit_mm,
            film: film.collect(),
            ..self
        }
    }

    /// The answer as a person reads it: what lies where at each stop, and what ran on the way there.
    pub fn text(&self) -> String {
        let mut text = String::new();
        // Writing to a string cannot fail.
        let _ = self.write_text(&mut text);
        match self.plug_limit_mm {
            None => text += "\nThe liquid is not known: whether a neck locks under gas is unknown.\n",
            Some(limit) if limit > 0.0 => {
                text += &format!(
                    "\nUnder gas a plug stands in bores below {}.\n",
                    units::length_text(limit)
                );
            }
            Some(_) => {}
        }
        for lock in &self.locks {
            let (words, help) = locked_text(&lock.locked);
            text += &format!(
                "\nFrom {} after stop {} to {} after stop {}: {words} {help}\n",
                stance_text(lock.begins),
                lock.after_stop,
                stance_text(lock.ends),
                lock.ends_after_stop,
            );
        }
        if let Some(other) = &self.other_end {
            text += "\nWith the least contact angle:\n\n";
            text += &other.text();
            let film: f64 = other.film.iter().map(|film| film.volume_ml).sum();
            if film > 0.0 {
                let pieces: Vec<_> = other.film.iter().map(|film| film.piece.as_str()).collect();
                text += &format!(
                    "\nThe walls of {} keep a film of at most {} that is missing from the charge here: as if they were wet all \
                     over and drained upright.\n",
                    pieces.join(", "),
                    units::volume_text(film)
                );
            }
        }
        text
    }

    fn write_text(&self, out: &mut String) -> std::fmt::Result {
        for (i, stop) in self.stops.iter().enumerate() {
            self.write_transfers(out, i)?;
            let name = if stop.name.is_empty() {
                String::new()
            } else {
                format!(", {}", stop.name)
            };
            let blank = if i == 0 { "" } else { "\n" };
            writeln!(out, "{blank}Stop {}{name}: {}", i + 1, stance_text(stop.stance))?;
            writeln!(out, "{:<24} {:>12} {:>12}", "Piece", "volume / mL", "depth / mm")?;
            let is_heel = |held: &HeldAnswer| stop.heels.iter().any(|heel| heel.piece == held.piece);
            for held in &stop.vessels {
                let heel = if is_heel(held) { "  heel" } else { "" };
                writeln!(
                    out,
                    "{:<24} {:>12} {:>12}{heel}",
                    held.piece,
                    units::fixed(held.volume_ml, 2),
                    units::fixed(held.depth_mm, 1),
                )?;
            }
            let total: f64 = stop.vessels.iter().map(|held| held.volume_ml).sum();
            writeln!(out, "{:<24} {:>12}", "all", units::fixed(total, 2))?;
            for sealed in &stop.sealed {
                writeln!(
                    out,
                    "Sealed off: {} with {}",
                    sealed.piece,
                    units::volume_text(sealed.volume_ml)
                )?;
            }
            for lost in &stop.lost {
                writeln!(out, "LOST out of {}: {}", lost.port, units::volume_text(lost.volume_ml))?;
            }
        }
        Ok(())
    }

    /// What ran before a stop, in the order in which it began.
    fn write_transfers(&self, out: &mut String, stop: usize) -> std::fmt::Result {
        let mut ran = self
            .transfers
            .iter()
            .filter(|transfer| transfer.after_stop == stop)
            .peekable();
        if ran.peek().is_some() && stop > 0 {
            writeln!(out)?;
        }
        for transfer in ran {
            let to = match &transfer.to {
                RunsToAnswer::Piece(piece) => piece.clone(),
                RunsToAnswer::Port { port } => format!("OUT of {port}"),
            };
            let volume = units::volume_text(transfer.volume_ml);
            let when = match stop {
                0 => "as it is given".to_owned(),
                _ => format!(
                    "from {} to {}",
                    stance_text(transfer.begins),
                    stance_text(transfer.ends)
                ),
            };
            writeln!(out, "  {} -> {to}: {volume}, {when}", transfer.from)?;
        }
        if stop == 0 && self.transfers.iter().any(|transfer| transfer.after_stop == 0) {
            writeln!(out)?;
        }
        Ok(())
    }
}

impl From<Stance> for StanceAnswer {
    fn from(stance: Stance) -> Self {
        Self {
            tilt_deg: stance.tilt_deg,
            roll_deg: stance.roll_deg,
        }
    }
}

/// A vessel that takes nothing in words: why, with which numbers; and what helps.
pub fn locked_words(interior: &Interior, locked: &Locked) -> (String, &'static str) {
    locked_text(&LockedAnswer::new(interior, locked))
}

fn locked_text(locked: &LockedAnswer) -> (String, &'static str) {
    let [bore, head] = [locked.bore_mm, locked.head_mm].map(units::length_text);
    let piece = &locked.piece;
    match locked.entry_mm {
        None => (
            format!("{piece} is locked by gas: its bore of {bore} takes nothing under {head} of liquid."),
            "Evacuate first, widen the bore, give it a second way for the gas, or press with gas once the plug stands.",
        ),
        Some(entry_mm) => (
            format!(
                "{piece} holds the liquid off: it does not wet the bore of {bore} and enters it under {} only, where {head} \
                 stands.",
                units::length_text(entry_mm)
            ),
            "Widen the bore, bring more liquid over it, or press with gas.",
        ),
    }
}

pub(super) fn stance_text(stance: StanceAnswer) -> String {
    let tilt = units::angle_text(stance.tilt_deg);
    if stance.roll_deg == 0.0 {
        tilt
    } else {
        format!("{tilt} rolled {}", units::angle_text(stance.roll_deg))
    }
}
