//! A run along its clock: what every piece holds at moments close enough to draw lines through, and where vessels
//! come to their brims.

use super::{Moment, Outcome, held};
use crate::geom::{Interior, RunsTo, Settled};

/// Greatest turn between two points, degrees of the larger of tilt and roll.
const STEP_DEG: f64 = 1.0;
/// Most points on a way beside those where a transfer begins or ends.
const MOST_STEPS: f64 = 180.0;
/// A pool that holds all but this part of its brim volume has come to its brim: the end of a transfer is known no better.
const BRIM_PART: f64 = 1e-4;

/// What lies where at a time.
#[derive(Clone, Debug, PartialEq)]
pub struct TracePoint {
    /// Seconds from the start.
    pub time_s: f64,
    /// The moment.
    pub moment: Moment,
    /// Volume by piece, mm3.
    pub held: Vec<f64>,
    /// What has been lost up to then, mm3.
    pub lost: f64,
}

/// A piece whose pool has come to its brim by what ran into it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Brimming {
    /// The piece.
    pub piece: usize,
    /// When.
    pub moment: Moment,
}

/// A run along its clock.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Points in rising order of time; a wait has one at its begin and one at its end.
    pub points: Vec<TracePoint>,
    /// Pieces that come to their brims, each once, in order.
    pub brims: Vec<Brimming>,
}

impl Trace {
    /// Follows a run. `go_on` is asked at every point; none when it said no.
    pub fn of(outcome: &Outcome, interior: &Interior, go_on: impl Fn() -> bool) -> Option<Self> {
        let mut trace = Self::default();
        for (stop, (halt, rest)) in outcome.halts.iter().zip(&outcome.stops).enumerate() {
            if let Some(leg) = stop.checked_sub(1) {
                for part in parts(outcome, leg) {
                    if !go_on() {
                        return None;
                    }
                    let moment = Moment { leg, part };
                    let settled = outcome.settled(interior, moment);
                    trace.add(interior, outcome.time_s(moment), moment, &settled);
                }
            }
            let reached_s = outcome.reached_s(stop);
            for time_s in [reached_s, reached_s + halt.wait_s] {
                trace.add(interior, time_s, Moment::at_stop(stop), &rest.settled);
            }
        }
        trace.brims = brims(outcome, interior);
        Some(trace)
    }

    fn add(&mut self, interior: &Interior, time_s: f64, moment: Moment, settled: &Settled) {
        self.points.push(TracePoint {
            time_s,
            moment,
            held: held(interior, settled),
            // The sum of nothing is a negative zero.
            lost: settled.lost.iter().map(|(_, volume)| volume).sum::<f64>() + 0.0,
        });
    }
}

/// The parts of a way that are looked at, without its end.
fn parts(outcome: &Outcome, leg: usize) -> Vec<f64> {
    let stance = |stop: usize| outcome.halts.get(stop).map(|halt| halt.stance).unwrap_or_default();
    let (from, to) = (stance(leg), stance(leg + 1));
    let steps = (from.apart_deg(to) / STEP_DEG).ceil().clamp(1.0, MOST_STEPS);
    let even = (0..steps as usize).map(|i| i as f64 / steps);
    let ends = outcome
        .transfers
        .iter()
        .flat_map(|passage| [passage.begins, passage.ends]);
    let of_leg = ends.filter(|moment| moment.leg == leg && moment.part < 1.0);
    let mut parts: Vec<f64> = even.chain(of_leg.map(|moment| moment.part)).collect();
    parts.sort_by(f64::total_cmp);
    parts.dedup();
    parts
}

fn brims(outcome: &Outcome, interior: &Interior) -> Vec<Brimming> {
    let mut brims: Vec<Brimming> = Vec::new();
    let mut ended: Vec<_> = outcome.transfers.iter().filter(|it| it.begins < it.ends).collect();
    ended.sort_by(|a, b| a.ends.partial_cmp(&b.ends).unwrap_or(std::cmp::Ordering::Equal));
    for passage in ended {
        let RunsTo::Piece(piece) = passage.to else { continue };
        if brims.iter().any(|known| known.piece == piece) {
            continue;
        }
        let settled = outcome.settled(interior, passage.ends);
        let pools = settled.pools.iter().filter(|pool| pool.piece == piece);
        let mut own = pools.filter_map(|pool| Some((pool.volume, pool.brim?)));
        if own.any(|(volume, brim)| volume >= brim * (1.0 - BRIM_PART)) {
            brims.push(Brimming {
                piece,
                moment: passage.ends,
            });
        }
    }
    brims
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::{Stop, sample};
    use crate::run::{Passage, Plan};
    use proptest::prelude::*;

    fn interior() -> Interior {
        let built = build(&sample::apparatus()).unwrap();
        Interior::new(built.names, built.primitives, built.ports).unwrap()
    }

    fn outcome(interior: &Interior, given: f64, stances: &[(f64, f64)]) -> Outcome {
        let stops: Vec<Stop> = stances.iter().map(|&(tilt, roll)| Stop::at(tilt, roll)).collect();
        let plan = Plan {
            given: vec![(0, given)],
            halts: Plan::halts(&stops, interior, |_| None),
            ..Plan::default()
        };
        Outcome::of(interior, &plan, || true).unwrap()
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 6, ..ProptestConfig::default() })]

        #[test]
        fn nothing_comes_and_nothing_goes(
            given in 100.0..20_000.0f64,
            stances in prop::collection::vec((-100.0..100.0f64, -30.0..30.0f64), 1..4),
        ) {
            let interior = interior();
            let outcome = outcome(&interior, given, &stances);
            let trace = Trace::of(&outcome, &interior, || true).unwrap();
            for point in &trace.points {
                let whole = point.held.iter().sum::<f64>() + point.lost + outcome.left_over();
                prop_assert!((whole - given).abs() < 1e-5 * given, "{whole} of {given} at {} s", point.time_s);
            }
            let times: Vec<f64> = trace.points.iter().map(|point| point.time_s).collect();
            prop_assert!(times.windows(2).all(|pair| pair[0] <= pair[1] + 1e-9), "{times:?}");
            prop_assert_eq!(times.first().copied(), Some(0.0));
            prop_assert!((times.last().unwrap() - outcome.lasts_s()).abs() < 1e-9);
        }
    }

    #[test]
    fn the_trace_passes_through_the_stops_and_gains_what_the_passages_carry() {
        let interior = interior();
        let outcome = outcome(&interior, 6000.0, &[(0.0, 0.0), (-70.0, 0.0), (0.0, 0.0)]);
        let trace = Trace::of(&outcome, &interior, || true).unwrap();
        for (stop, rest) in outcome.stops.iter().enumerate() {
            let reached_s = outcome.reached_s(stop);
            let at = |point: &&TracePoint| point.time_s == reached_s && point.moment == Moment::at_stop(stop);
            let point = trace.points.iter().find(at).unwrap();
            assert_eq!(point.held, rest.held, "stop {stop}");
        }
        assert!(!outcome.transfers.is_empty());
        assert_eq!(Trace::of(&outcome, &interior, || false), None);
    }

    #[test]
    fn a_stream_falls_from_its_pool_to_where_it_rests() {
        let interior = interior();
        let outcome = outcome(&interior, 6000.0, &[(0.0, 0.0), (-70.0, 0.0)]);
        let long = |passage: &&Passage| passage.begins < passage.ends;
        let mut seen = 0;
        for passage in outcome.transfers.iter().filter(long) {
            let moment = Moment {
                part: 0.5 * (passage.begins.part + passage.ends.part),
                ..passage.begins
            };
            let up = outcome.stance(moment).up();
            let streams = outcome.streams(&interior, moment);
            let stream = streams.iter().find(|stream| stream.passage == *passage).unwrap();
            for way in &stream.ways {
                let heights: Vec<f64> = way.iter().map(|p| up.dot(p)).collect();
                assert!(heights.windows(2).all(|pair| pair[1] <= pair[0] + 0.01), "{heights:?}");
                seen += 1;
            }
        }
        assert!(seen > 0, "something runs");
    }
}
