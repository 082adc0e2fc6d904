//! The events of a turn: what the liquid of the whole apparatus does while the glass is turned either way.
//!
//! From a stance at which the liquid given rests, the glass is turned both ways: over half a turn each by the tilt, so
//! that together they make the full turn and every stance is met once, by the shorter way; or over a quarter each by
//! the roll. The liquid is carried along as `walk` states, so that what ran over stays where it ran and the events stand
//! in their true order. The two ways run side by side, on the threads of the pool from which the turn is asked for.
//!
//! **Events.** A vessel *begins to run* where its liquid, unchanged until then, stands at its brim; it *reaches its
//! brim* where what it takes up fills it; it *has drained* where what it holds itself falls below
//! [`DRAINED_PART`](super::DRAINED_PART) of the most that it held on the way. Its *metering* angle is the first at which
//! its brim volume equals the target; this does not depend on the liquid. A *loss* lasts while a port takes liquid, with
//! pauses of up to a degree; a trickle, less than 2e-4 of the charge at a time, only adds to one, and makes one where there
//! is no other. Volumes below half a per cent of the charge make no other event.
//!
//! **Error.** 0.001 degree: changes are placed to 5e-4 degree, and where a brim is reached the margins at both sides give
//! it much closer; drained heels are found to 1e-5 degree, metering angles to 1e-9.

use super::interior::Interior;
use super::pools::RunsTo;
use super::walk::Walk;
use super::watch::OneWay;

pub use super::walk::Turning;

/// Longest step of the walk, degrees.
const STEP_DEG: f64 = 0.5;

/// What a turn is asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Asked {
    /// What is turned.
    pub turning: Turning,
    /// Liquid given at the start: piece (index) and volume, mm3.
    pub given: Vec<(usize, f64)>,
    /// Pieces whose events are asked for, each once.
    pub vessels: Vec<Vessel>,
}

/// A piece whose events are asked for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Vessel {
    /// Its index.
    pub piece: usize,
    /// Target fill, mm3: gives metering angles.
    pub target: Option<f64>,
}

/// An event of a turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// The angle, degrees; counted on from 0 without wrapping.
    pub at_deg: f64,
    /// The piece.
    pub piece: usize,
    /// What happens.
    pub what: What,
}

/// What happens at an event. Volumes are mm3.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum What {
    /// Its liquid begins to run.
    Begins {
        /// What it holds there.
        volume: f64,
        /// Where it runs to first.
        to: Option<RunsTo>,
    },
    /// It is filled to its brim.
    Brims {
        /// Its brim volume there.
        volume: f64,
        /// Where the surplus runs to.
        to: Option<RunsTo>,
    },
    /// It has drained.
    Drained {
        /// What stays behind.
        heel: f64,
    },
    /// Its brim volume equals the target.
    Meters {
        /// The target.
        target: f64,
    },
}

/// The angles over which what was given to a piece stays put.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hold {
    /// The piece.
    pub piece: usize,
    /// Volume, mm3.
    pub volume: f64,
    /// Where it begins to run clockwise (tilt) or away (roll), degrees; the end of the turn when it never does.
    pub from_deg: f64,
    /// The same the other way.
    pub to_deg: f64,
}

/// A range of angles over which a port takes liquid, with pauses of up to a degree; trickles make none if there is one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loss {
    /// Index of the port.
    pub port: usize,
    /// Where it begins, degrees.
    pub from_deg: f64,
    /// Where it ends, degrees, going on in the same direction away from 0.
    pub to_deg: f64,
    /// Lost by this port before it, mm3.
    pub before: f64,
    /// Lost by this port at its end, with what trickles out later, mm3.
    pub by_end: f64,
}

/// What is held and lost at an angle of the walk.
#[derive(Clone, Debug, PartialEq)]
pub struct Moment {
    /// The angle, degrees.
    pub at_deg: f64,
    /// The pools: piece of the lowest point, and volume, mm3.
    pub held: Vec<(usize, f64)>,
    /// Lost so far by each port, mm3.
    pub lost: Vec<f64>,
    /// What found no room, mm3.
    pub left_over: f64,
}

/// The events of a turn.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Turn {
    /// The events, by angle.
    pub events: Vec<Event>,
    /// Where what was given stays put; only pieces in which it fits at the start.
    pub holds: Vec<Hold>,
    /// The losses, by the angle at which they begin.
    pub losses: Vec<Loss>,
    /// The walk, by angle.
    pub moments: Vec<Moment>,
}

/// Walks a turn both ways from 0. Nothing comes back when `is_wanted` says no on the way.
pub fn of_turn(interior: &Interior, asked: &Asked, is_wanted: &(dyn Fn() -> bool + Sync)) -> Option<Turn> {
    turn_in_steps(interior, asked, STEP_DEG, is_wanted)
}

fn turn_in_steps(
    interior: &Interior,
    asked: &Asked,
    step_deg: f64,
    is_wanted: &(dyn Fn() -> bool + Sync),
) -> Option<Turn> {
    let walk = Walk {
        interior,
        turning: asked.turning,
        charge: asked.given.iter().map(|(_, v)| v.max(0.0)).sum(),
    };
    let one_way = |way: f64| OneWay::new(&walk, asked, way).walked(step_deg, is_wanted);
    let (forwards, backwards) = rayon::join(|| one_way(1.0), || one_way(-1.0));
    let (forwards, backwards) = (forwards?, backwards?);
    let mut turn = Turn {
        holds: holds(&walk, asked, &forwards, &backwards),
        ..Turn::default()
    };
    // Both begin at the same stance: what stands there already is told once.
    let elsewhere = |e: &Event| e.at_deg != 0.0;
    turn.events = backwards.events.into_iter().filter(elsewhere).collect();
    turn.events.extend(forwards.events);
    turn.events
        .sort_by(|a, b| a.at_deg.total_cmp(&b.at_deg).then(a.piece.cmp(&b.piece)));
    turn.losses = backwards.losses.into_iter().chain(forwards.losses).collect();
    turn.losses
        .sort_by(|a, b| a.from_deg.total_cmp(&b.from_deg).then(a.port.cmp(&b.port)));
    turn.moments = backwards
        .moments
        .into_iter()
        .skip(1)
        .rev()
        .chain(forwards.moments)
        .collect();
    Some(turn)
}

/// How far a turn goes each way, degrees.
pub(super) fn reach_deg(turning: Turning) -> f64 {
    match turning {
        Turning::Tilt { .. } => 180.0,
        Turning::Roll { .. } => 90.0,
    }
}

/// What was given to a piece, mm3.
pub(super) fn given_to(given: &[(usize, f64)], piece: usize) -> f64 {
    given
        .iter()
        .filter(|(at, _)| *at == piece)
        .map(|(_, v)| v.max(0.0))
        .sum()
}

/// Where what was given stays put.
fn holds(walk: &Walk<'_>, asked: &Asked, forwards: &Turn, backwards: &Turn) -> Vec<Hold> {
    let reach = reach_deg(asked.turning);
    let posture = walk.posture(0.0);
    let begins = |turn: &Turn, piece: usize| {
        let runs = |e: &&Event| e.piece == piece && matches!(e.what, What::Begins { .. });
        turn.events.iter().find(runs).map(|e| e.at_deg)
    };
    let hold = |vessel: &Vessel| {
        let volume = given_to(&asked.given, vessel.piece);
        let fits = volume > 0.0 && posture.brim_of_piece(vessel.piece) >= volume;
        fits.then(|| Hold {
            piece: vessel.piece,
            volume,
            from_deg: begins(backwards, vessel.piece).unwrap_or(-reach),
            to_deg: begins(forwards, vessel.piece).unwrap_or(reach),
        })
    };
    asked.vessels.iter().filter_map(hold).collect()
}

#[cfg(test)]
mod tests {
    use nalgebra::Vector2;
    use proptest::prelude::*;

    use super::*;
    use crate::geom::{Port, Primitive, Shape};

    /// A header on a slope with a receiver at its left, vials below and an open end at the right.
    fn comb() -> impl Strategy<Value = Interior> {
        let vials = prop::collection::vec((1.5..4.0f64, 4.0..7.0f64, 15.0..45.0f64), 2..5);
        (vials, -6.0..6.0f64, 6.0..9.0f64, 14.0..25.0f64).prop_map(|(vials, slope, bore, bulb)| {
            let along = Vector2::new(1.0, slope.to_radians().tan());
            let tube = |piece, from: Vector2<f64>, to: Vector2<f64>, r_from, r_to| Primitive {
                piece,
                shape: Shape::Frustum { from, to, r_from, r_to },
            };
            let ball = |piece, centre, r| Primitive {
                piece,
                shape: Shape::Spheroid {
                    centre,
                    heading: 0.0,
                    semi_axial: r,
                    semi_radial: r,
                },
            };
            let end = along * (36.0 * (vials.len() as f64 + 1.0));
            let arm = Vector2::new(-30.0, 15.0);
            let mut names = vec!["header".to_owned(), "receiver".to_owned()];
            let mut primitives = vec![
                tube(0, Vector2::zeros(), end, bore, bore),
                tube(1, along * 8.0, arm, 0.8 * bore, 0.8 * bore),
                ball(1, arm - Vector2::new(0.6, 0.6) * bulb, bulb),
            ];
            for (i, (neck, body, long)) in vials.into_iter().enumerate() {
                let (piece, from) = (names.len(), along * (36.0 * (i as f64 + 1.0)));
                names.push(format!("vial-{}", i + 1));
                let below = |y: f64| from - Vector2::new(0.0, y);
                primitives.extend([
                    tube(piece, from, below(bore + 12.0), neck, neck),
                    tube(piece, below(bore + 12.0), below(bore + 18.0), neck, body),
                    tube(piece, below(bore + 18.0), below(bore + 18.0 + long), body, body),
                    ball(piece, below(bore + 18.0 + long), body),
                ]);
            }
            let port = Port {
                piece: 0,
                at: end,
                heading: along.y.atan2(along.x),
                r: bore,
            };
            Interior::new(names, primitives, vec![port]).expect("the comb is sound")
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

        #[test]
        fn half_the_step_gives_the_same_events(interior in comb(), volume in 500.0..14_000.0f64) {
            let vessels = (1..interior.pieces().len()).map(|piece| Vessel { piece, target: Some(900.0) });
            let asked = Asked {
                turning: Turning::Tilt { roll_deg: 0.0 },
                given: vec![(1, volume)],
                vessels: vessels.collect(),
            };
            let [whole, half] = [STEP_DEG, 0.5 * STEP_DEG].map(|step| turn_in_steps(&interior, &asked, step, &|| true));
            let (whole, half) = (whole.expect("wanted"), half.expect("wanted"));
            // Whether a pool at its brim was still being filled is told from the step before, and so by its length.
            let kind = |e: &Event| match e.what {
                What::Begins { volume, to } => std::mem::discriminant(&What::Brims { volume, to }),
                what => std::mem::discriminant(&what),
            };
            let key = |e: &Event| (kind(e), e.piece, e.at_deg > 0.0);
            prop_assert_eq!(whole.events.len(), half.events.len(), "\n{:?}\n{:?}", whole.events, half.events);
            for event in &whole.events {
                let near = half.events.iter().filter(|e| key(e) == key(event)).map(|e| (e.at_deg - event.at_deg).abs());
                let off = near.fold(f64::INFINITY, f64::min);
                prop_assert!(off <= 2e-3, "{:?} is off by {}", event, off);
            }
            for (a, b) in whole.losses.iter().zip(&half.losses) {
                prop_assert!((a.by_end - b.by_end).abs() <= 1e-3 * volume, "{:?} {:?}", a, b);
                prop_assert!((a.from_deg - b.from_deg).abs() <= 2e-3, "{:?} {:?}", a, b);
            }
        }
    }
}
