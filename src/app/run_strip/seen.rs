//! The moment of a run as it is seen on the bench: what runs is drawn down the glass where it runs, and told in words.
//!
//! What runs from pool to pool is a line of liquid with arrowheads that move along it; what runs out of a port is a
//! heavy broken line that falls on outside, with the sign of a loss.

use super::happenings;
use crate::app::mark_paint::Symbol;
use crate::app::marks::Kind;
use crate::app::tell;
use crate::app::theme::Palette;
use crate::app::view::Placed;
use crate::geom::{Interior, RunsTo};
use crate::out::run_answers::locked_words;
use crate::run::{Moment, Outcome, Stream};
use egui::{Painter, Pos2, Shape, Stroke, Vec2, vec2};
use nalgebra::Vector3;

/// Distance of the arrowheads along a stream, points.
const ARROWS: f32 = 16.0;
/// How far they go in a second of the run, points.
const PACE: f64 = 12.0;
/// Most streams that are told in words.
const MOST: usize = 5;
/// Most vessels that are told of that take nothing.
const MOST_LOCKED: usize = 3;
/// How far what is lost is seen to fall, points.
const FALL: f32 = 70.0;

/// What is seen of a run at a moment beside the pools.
#[derive(Clone, Debug, Default)]
pub(crate) struct Seen {
    /// When it is, in a few words.
    pub when: String,
    /// At which stop, or on the way to which.
    place: String,
    /// What runs, in words.
    running: Vec<String>,
    streams: Vec<Stream>,
    is_losing: bool,
    /// What is locked at that moment, in words.
    locked: Vec<String>,
    time_s: f64,
}

impl Seen {
    /// A run at a moment; `stop` is where the glass rests then, if it does.
    pub(super) fn at(
        outcome: &Outcome,
        interior: &Interior,
        (time_s, moment, stop): (f64, Moment, Option<usize>),
    ) -> Self {
        let streams = match stop {
            Some(_) => Vec::new(),
            None => outcome.streams(interior, moment),
        };
        let place = match stop {
            Some(stop) => format!("at {}", happenings::stop_name(outcome, stop)),
            None => format!("turning to {}", happenings::stop_name(outcome, moment.leg + 1)),
        };
        Self {
            when: format!("Run, {}", super::clock_text(time_s)),
            place,
            running: streams
                .iter()
                .map(|stream| happenings::passage_text(interior, &stream.passage))
                .collect(),
            is_losing: streams
                .iter()
                .any(|stream| matches!(stream.passage.to, RunsTo::Port(_))),
            locked: locked(outcome, interior, moment),
            streams,
            time_s,
        }
    }

    /// What stands at the bottom of the bench.
    pub(crate) fn caption(&self) -> String {
        let first = format!("{}: {}", self.when, self.place);
        let more = self.running.len().saturating_sub(MOST);
        let more = (more > 0).then(|| format!("and {more} more"));
        let running = self.running.iter().take(MOST).cloned();
        let lines = std::iter::once(first).chain(running).chain(more);
        lines.collect::<Vec<_>>().join("\n")
    }

    /// What nobody may overlook; `lost_ml` is what has been lost so far, by the piece with the port.
    pub(crate) fn warning(&self, lost_ml: &[(String, f64)]) -> Option<String> {
        let lost = if self.is_losing {
            tell::loss_in_words(lost_ml, &[])
        } else {
            tell::loss_in_words(&[], lost_ml)
        };
        let lines: Vec<String> = lost.into_iter().chain(self.locked.iter().cloned()).collect();
        (!lines.is_empty()).then(|| lines.join("\n"))
    }

    /// Draws what runs.
    pub(crate) fn paint(&self, painter: &Painter, colours: &Palette, placed: &Placed) {
        // Streams that meet go on as one.
        let mut drawn: Vec<&Vec<Vector3<f64>>> = Vec::new();
        for stream in &self.streams {
            let is_loss = matches!(stream.passage.to, RunsTo::Port(_));
            for (i, way) in stream.ways.iter().enumerate() {
                if drawn.contains(&way) {
                    continue;
                }
                drawn.push(way);
                let mut line: Vec<Pos2> = way.iter().map(|p| placed.to_screen(p.xy())).collect();
                line.dedup_by(|a, b| a.distance(*b) < 0.5);
                let is_out = is_loss && i + 1 == stream.ways.len();
                if is_out {
                    paint_loss(painter, colours, &line);
                } else {
                    self.paint_flow(painter, colours, &line);
                }
            }
        }
    }

    fn paint_flow(&self, painter: &Painter, colours: &Palette, line: &[Pos2]) {
        painter.add(Shape::line(line.to_vec(), Stroke::new(5.0, colours.level)));
        painter.add(Shape::line(line.to_vec(), Stroke::new(3.0, colours.liquid)));
        #[allow(clippy::cast_possible_truncation, reason = "a place along a line on the screen")]
        let phase = (self.time_s * PACE).rem_euclid(f64::from(ARROWS)) as f32;
        for (at, along) in places(line, phase) {
            let across = vec2(-along.y, along.x);
            let corners = vec![
                at + along * 6.0,
                at - along * 3.0 + across * 5.0,
                at - along * 3.0 - across * 5.0,
            ];
            painter.add(Shape::convex_polygon(
                corners,
                colours.level,
                Stroke::new(1.0, colours.bore),
            ));
        }
    }
}

/// What is lost: broken and heavy, on outside of the glass straight down.
fn paint_loss(painter: &Painter, colours: &Palette, line: &[Pos2]) {
    let Some(&mouth) = line.last() else { return };
    let mut line = line.to_vec();
    line.push(mouth + vec2(0.0, FALL));
    painter.add(Shape::line(line.clone(), Stroke::new(8.0, colours.bore)));
    painter.extend(Shape::dashed_line(&line, Stroke::new(5.0, colours.stop), 10.0, 5.0));
    let sign = Symbol {
        centre: mouth + vec2(0.0, FALL + 14.0),
        out: vec2(0.0, 1.0),
        size: 24.0,
    };
    sign.paint(painter, Kind::Loss, colours.stop);
}

/// Places at like distances along a line, with the way on there.
fn places(line: &[Pos2], first: f32) -> Vec<(Pos2, Vec2)> {
    let mut found = Vec::new();
    let mut next = first;
    for pair in line.windows(2) {
        let (from, way) = (pair[0], pair[1] - pair[0]);
        let length = way.length();
        if length <= 0.0 {
            continue;
        }
        while next <= length {
            found.push((from + way * (next / length), way / length));
            next += ARROWS;
        }
        next -= length;
    }
    found
}

/// What takes nothing at a moment, and what helps against the first of these.
fn locked(outcome: &Outcome, interior: &Interior, moment: Moment) -> Vec<String> {
    let locks: Vec<_> = outcome.locked_at(moment).collect();
    let told = locks
        .iter()
        .take(MOST_LOCKED)
        .map(|lock| locked_words(interior, &lock.locked));
    let (mut lines, helps): (Vec<String>, Vec<&str>) = told.unzip();
    let more = locks.len().saturating_sub(MOST_LOCKED);
    lines.extend((more > 0).then(|| format!("And {more} more.")));
    lines.extend(helps.first().map(|help| (*help).to_owned()));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::pos2;

    #[test]
    fn arrowheads_stand_at_like_distances_round_corners() {
        let line = [pos2(0.0, 0.0), pos2(20.0, 0.0), pos2(20.0, 20.0)];
        let found = places(&line, 4.0);
        let at: Vec<Pos2> = found.iter().map(|(at, _)| *at).collect();
        assert_eq!(at, [pos2(4.0, 0.0), pos2(20.0, 0.0), pos2(20.0, 16.0)]);
        assert_eq!(found[2].1, vec2(0.0, 1.0));
        assert!(places(&line[..1], 0.0).is_empty());
    }
}
