//! The chart of a run: what each vessel holds against time, its target, and what is lost.
//!
//! Each number is what the engine answers at that moment; between them the lines are straight.

use super::chart::{Chart, Guide, Line, Mark, MarkKind, Panel, Rank, STYLES, Scale, Unit};
use crate::geom::Interior;
use crate::run::{Trace, TracePoint};
use crate::units::MM3_PER_ML;

/// Room above the highest value, as a part of the scale.
const HEADROOM: f64 = 0.1;
/// Volumes that are no more than this are rounding, mL.
const NOTHING_ML: f64 = 1e-6;

/// What the chart of a run is about.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Course {
    /// The vessels with a target, by index, and the target, mL.
    pub targets: Vec<(usize, f64)>,
    /// The moment that is shown, s from the start.
    pub now_s: Option<f64>,
}

/// Volumes against time; `least` is the run at the least contact angle where capillarity counts.
pub fn of(interior: &Interior, trace: &Trace, least: Option<&Trace>, about: &Course) -> Chart {
    let name = |piece: usize| interior.pieces().get(piece).cloned().unwrap_or_default();
    let mut lines: Vec<Line> = Vec::new();
    for (i, piece) in pieces(interior, trace, about).into_iter().enumerate() {
        lines.push(Line {
            name: name(piece),
            rank: if i < STYLES.len() {
                Rank::Named(i)
            } else {
                Rank::Background
            },
            values: values(trace, |point| point.held.get(piece).copied().unwrap_or(f64::NAN)),
        });
        if let Some(least) = least {
            lines.push(Line {
                name: format!("{} at the least contact angle", name(piece)),
                rank: Rank::Background,
                values: between(trace, least, piece),
            });
        }
    }
    let lost = values(trace, |point| point.lost);
    if lost.iter().any(|ml| *ml > NOTHING_ML) {
        lines.push(Line {
            name: "lost".to_owned(),
            rank: Rank::Loss,
            values: lost,
        });
    }
    let mut guides: Vec<Guide> = Vec::new();
    for (_, target_ml) in about.targets.iter().filter(|(_, ml)| *ml > 0.0) {
        if guides.iter().all(|known| known.at != *target_ml) {
            guides.push(Guide {
                name: format!("target {}", Unit::Millilitre.text(*target_ml)),
                at: *target_ml,
            });
        }
    }
    let finite = lines
        .iter()
        .flat_map(|line| &line.values)
        .copied()
        .filter(|v| v.is_finite());
    let most = finite.chain(guides.iter().map(|guide| guide.at)).fold(0.0, f64::max);
    let lasts_s = trace.points.last().map_or(0.0, |point| point.time_s);
    let present = about.now_s.map(|x| Mark {
        kind: MarkKind::Present,
        x,
        y: None,
    });
    Chart {
        title: "Held over the run".to_owned(),
        note: match least {
            None => "Volumes at rest at every moment of the run, turned slowly.".to_owned(),
            Some(_) => {
                "Volumes at rest at every moment; thick at the greatest, thin at the least contact angle.".to_owned()
            }
        },
        x: Scale {
            name: "Time".to_owned(),
            unit: Unit::Second,
            low: 0.0,
            high: if lasts_s > 0.0 { lasts_s } else { 1.0 },
        },
        xs: trace.points.iter().map(|point| point.time_s).collect(),
        panels: vec![Panel {
            y: Scale {
                name: "Volume".to_owned(),
                unit: Unit::Millilitre,
                low: 0.0,
                high: if most > NOTHING_ML {
                    most * (1.0 + HEADROOM)
                } else {
                    1.0
                },
            },
            lines,
            guides,
        }],
        marks: present.into_iter().collect(),
    }
}

/// The vessels with a target, and then what else ever holds a tenth of a millilitre, the largest first.
fn pieces(interior: &Interior, trace: &Trace, about: &Course) -> Vec<usize> {
    const TOLD_ML: f64 = 0.1;
    let mut pieces: Vec<usize> = about.targets.iter().map(|(piece, _)| *piece).collect();
    let most = |piece: usize| {
        let held = trace.points.iter().filter_map(|point| point.held.get(piece));
        held.copied().fold(0.0, f64::max)
    };
    let others = (0..interior.pieces().len()).filter(|piece| !pieces.contains(piece));
    let mut others: Vec<(usize, f64)> = others.map(|piece| (piece, most(piece))).collect();
    others.retain(|(_, most)| *most > TOLD_ML * MM3_PER_ML);
    others.sort_by(|a, b| b.1.total_cmp(&a.1));
    pieces.extend(others.into_iter().map(|(piece, _)| piece));
    pieces
}

fn values(trace: &Trace, of: impl Fn(&TracePoint) -> f64) -> Vec<f64> {
    trace.points.iter().map(|point| of(point) / MM3_PER_ML).collect()
}

/// What a piece holds in another trace at the times of the first, mL.
fn between(times: &Trace, other: &Trace, piece: usize) -> Vec<f64> {
    let held = |point: &TracePoint| point.held.get(piece).copied().unwrap_or(f64::NAN);
    values(times, |point| {
        let after = other.points.partition_point(|it| it.time_s < point.time_s);
        let (Some(b), a) = (
            other.points.get(after),
            after.checked_sub(1).and_then(|i| other.points.get(i)),
        ) else {
            return other.points.last().map_or(f64::NAN, held);
        };
        match a {
            Some(a) if b.time_s > a.time_s => {
                held(a) + (held(b) - held(a)) * (point.time_s - a.time_s) / (b.time_s - a.time_s)
            }
            _ => held(b),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::build::build;
    use crate::model::{Stop, sample};
    use crate::run::{Outcome, Plan};

    fn poured() -> (Interior, Outcome, Trace) {
        let built = build(&sample::apparatus()).unwrap();
        let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
        let stops = [0.0, -60.0, 0.0].map(|tilt| Stop::at(tilt, 0.0));
        let plan = Plan {
            given: vec![(0, 6000.0)],
            halts: Plan::halts(&stops, &interior, |_| None),
            ..Plan::default()
        };
        let outcome = Outcome::of(&interior, &plan, || true).unwrap();
        let trace = Trace::of(&outcome, &interior, || true).unwrap();
        (interior, outcome, trace)
    }

    #[test]
    fn a_run_is_drawn_as_it_was_computed() {
        let (interior, outcome, trace) = poured();
        let vial = interior.piece_index("vial-2").unwrap();
        let about = Course {
            targets: vec![(vial, 1.5)],
            now_s: Some(12.0),
        };
        let chart = of(&interior, &trace, None, &about);
        assert_eq!((chart.x.unit, chart.x.high), (Unit::Second, outcome.lasts_s()));
        let line = &chart.panels[0].lines[0];
        assert_eq!(line.name, "vial-2");
        let last = outcome.stops.last().unwrap().held[vial];
        assert_eq!(line.values.last().copied(), Some(last / 1000.0));
        assert_eq!(chart.panels[0].guides.len(), 1);
        assert!(chart.words().contains("now at 12 s"), "{}", chart.words());
        let svg = chart.svg();
        assert!(svg.contains("target 1.50 mL"));
        assert!(chart.csv().unwrap().starts_with("Time (s),"));
    }

    #[test]
    fn the_other_end_is_read_at_the_same_times() {
        let (interior, _, trace) = poured();
        let same = of(&interior, &trace, Some(&trace), &Course::default());
        let lines = &same.panels[0].lines;
        assert!(lines.len() >= 2);
        for pair in lines.chunks(2).filter(|pair| pair.len() == 2) {
            assert_eq!(pair[1].rank, Rank::Background);
            for (a, b) in pair[0].values.iter().zip(&pair[1].values) {
                assert!((a - b).abs() < 1e-9, "{a} {b}");
            }
        }
    }
}
