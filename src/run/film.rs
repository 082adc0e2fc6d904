//! What a liquid that wets the glass leaves on the walls that it has left, and what of the charge does not arrive for that.
//!
//! **Assumptions.** The film drains as down an upright wall, from when the liquid begins to leave until the run is over;
//! the whole wall of a piece that the liquid left or ran through was wet, all of it as thick as at its lower end. Both make
//! the film thicker than it is, so that a volume is an upper bound. A liquid that beads leaves less, or drops.

use std::collections::BTreeSet;

use super::{Moment, Outcome, Plan};
use crate::data::law::NoValue;
use crate::data::liquids::Liquid;
use crate::geom::{Interior, RunsTo};
use crate::physics::capillary::film_thickness;
use crate::units::si::{ThermodynamicTemperature, in_millimetres, millimetres, seconds};

/// A film drains for at least this, s.
const LEAST_S: f64 = 1.0;
/// A piece that holds in the end less than this part of the most that it held has been left.
const LEFT_PART: f64 = 0.5;

/// How a liquid films.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// Thickness 1 mm below the top of a wall after 1 s, mm; it grows as the root of the distance and falls as that of
    /// the time.
    pub unit_mm: f64,
}

/// The film that a piece keeps.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Kept {
    /// The piece (index).
    pub piece: usize,
    /// Its thickness at the lower end, mm.
    pub thickness_mm: f64,
    /// Its volume, mm3, at most.
    pub volume: f64,
}

impl Film {
    /// Of a liquid at a temperature.
    ///
    /// # Errors
    /// When its density or viscosity is not known there.
    pub fn of(liquid: &Liquid, t: ThermodynamicTemperature) -> Result<Self, NoValue> {
        let (mu, rho) = (liquid.viscosity_at(t)?, liquid.density_at(t)?);
        let unit = film_thickness(mu, millimetres(1.0), rho, seconds(1.0));
        Ok(Self {
            unit_mm: in_millimetres(unit),
        })
    }

    /// What the pieces keep that the liquid has left in a run, or run through.
    pub fn kept(&self, interior: &Interior, outcome: &Outcome) -> Vec<Kept> {
        let walls = interior.walls();
        let left = left(interior, outcome);
        let kept = left.into_iter().map(|(piece, begins, passed)| {
            let drains_s = (outcome.lasts_s() - outcome.time_s(begins)).max(LEAST_S);
            let thickness_mm = self.unit_mm * (walls[piece].reach / drains_s).sqrt();
            Kept {
                piece,
                thickness_mm,
                volume: (walls[piece].area * thickness_mm).min(passed),
            }
        });
        kept.filter(|kept| kept.volume > 0.0).collect()
    }
}

impl Plan {
    /// The same with what is kept as a film missing from the charge, in proportion.
    pub fn without(&self, kept: &[Kept]) -> Self {
        let film: f64 = kept.iter().map(|kept| kept.volume).sum();
        let whole: f64 = self.given.iter().map(|(_, volume)| volume).sum();
        let part = if whole > 0.0 {
            (1.0 - film / whole).max(0.0)
        } else {
            1.0
        };
        let given = self.given.iter().map(|&(piece, volume)| (piece, volume * part));
        Self {
            given: given.collect(),
            ..self.clone()
        }
    }
}

/// The pieces that liquid left or ran through and that do not end filled: since when, and how much came from or through
/// them, mm3.
fn left(interior: &Interior, outcome: &Outcome) -> Vec<(usize, Moment, f64)> {
    let mut left: Vec<(usize, Moment, f64)> = Vec::new();
    for passage in &outcome.transfers {
        let middle = Moment {
            leg: passage.begins.leg,
            part: 0.5 * (passage.begins.part + passage.ends.part),
        };
        let streams = outcome.streams(interior, middle);
        let own = streams.iter().filter(|stream| stream.passage == *passage);
        let on_way = own
            .flat_map(|stream| stream.ways.iter().flatten())
            .filter_map(|point| {
                let mut primitives = interior.primitives().iter();
                primitives.find(|primitive| primitive.shape.contains(point))
            })
            .map(|primitive| primitive.piece);
        let to = match passage.to {
            RunsTo::Piece(piece) => Some(piece),
            RunsTo::Port(_) => None,
        };
        let pieces: BTreeSet<usize> = on_way
            .filter(|piece| Some(*piece) != to)
            .chain([passage.from])
            .collect();
        for piece in pieces {
            match left.iter_mut().find(|(known, ..)| *known == piece) {
                Some((_, begins, passed)) => {
                    if passage.begins < *begins {
                        *begins = passage.begins;
                    }
                    *passed += passage.volume;
                }
                None => left.push((piece, passage.begins, passage.volume)),
            }
        }
    }
    let held = |piece: usize| outcome.stops.iter().map(move |stop| stop.held[piece]);
    left.retain(|(piece, ..)| {
        let most = held(*piece).fold(0.0, f64::max);
        held(*piece).next_back().unwrap_or_default() < LEFT_PART * most || most == 0.0
    });
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::{Stop, sample};
    use crate::run::Halt;
    use crate::units::si::{kg_per_m3, millipascal_seconds};

    /// practice.md, wetted film: 1 mPa s, 100 mm, 60 s: 13 um; on a bore of 10 mm and 300 mm length (94 cm2) 0.12 mL.
    #[test]
    fn the_film_of_the_worked_example() {
        let unit = film_thickness(
            millipascal_seconds(1.0),
            millimetres(1.0),
            kg_per_m3(1000.0),
            seconds(1.0),
        );
        let film = Film {
            unit_mm: in_millimetres(unit),
        };
        let thickness_mm = film.unit_mm * (100.0f64 / 60.0).sqrt();
        assert!((thickness_mm - 0.013).abs() < 0.0005, "{thickness_mm}");
        let volume = std::f64::consts::PI * 10.0 * 300.0 * thickness_mm;
        assert!((volume - 120.0).abs() < 5.0, "{volume}");
    }

    #[test]
    fn what_is_left_films_and_what_is_filled_does_not() {
        let apparatus = sample::apparatus();
        let built = build(&apparatus).unwrap();
        let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
        let plan = Plan {
            given: vec![(0, 6_000.0)],
            halts: Halt::all(&[Stop::at(0.0, 0.0), Stop::at(-70.0, 0.0)]),
            ..Plan::default()
        };
        let outcome = Outcome::of(&interior, &plan, || true).unwrap();
        let film = Film { unit_mm: 0.01 };
        let kept = film.kept(&interior, &outcome);
        assert!(kept.iter().any(|kept| kept.piece == 0), "{kept:?}");
        let last = outcome.stops.last().unwrap();
        let fullest = (0..last.held.len()).max_by(|a, b| last.held[*a].total_cmp(&last.held[*b]));
        assert!(kept.iter().all(|kept| Some(kept.piece) != fullest), "{kept:?}");
        let gone: f64 = kept.iter().map(|kept| kept.volume).sum();
        let less: f64 = plan.without(&kept).given.iter().map(|(_, volume)| volume).sum();
        assert!(gone > 0.0 && (less + gone - 6_000.0).abs() < 1e-9, "{gone} {less}");
    }
}
