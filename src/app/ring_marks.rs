//! The marks of the turn around the tilt ring.
//!
//! What vessels hold lies along the rim, what ports take over it; beyond stand the symbols, fanned out where they would
//! lie on each other, each with a line to its place. Marks of one kind that leave no room are drawn as one.

use super::fan::spread_round;
use super::mark_paint::Symbol;
use super::marks::{Group, Kind, Marks};
use super::ring::{Ring, outwards};
use super::session::Selection;
use super::spots::{self, Spot};
use super::theme::Palette;
use egui::{Painter, Pos2, Shape, Stroke};
use std::ops::Range;

/// Marks of one kind within so many degrees are drawn as one: the first that leaves room for all.
const SPANS_DEG: [f64; 8] = [0.02, 0.4, 0.8, 1.6, 3.2, 6.4, 12.8, 45.0];
/// How far a symbol may stand from its place, degrees.
const FARTHEST_DEG: f32 = 16.0;
/// Distances from the rim: where the bands lie, and the symbols begin, points.
const BAND: (f32, f32) = (1.5, 6.5);
const LANE: f32 = 9.0;
/// Size of a symbol, and of a notch, points.
const SYMBOL: f32 = 12.0;
const NOTCH: f32 = 9.0;
/// Room between neighbours, points.
const GAP: f32 = 2.0;

/// The marks at their places around a ring.
pub(crate) struct RingMarks<'a> {
    /// The symbols.
    pub spots: Vec<Spot<'a>>,
    marks: &'a Marks,
    stay: Option<(Range<f64>, String)>,
    ring: Ring,
}

/// What of a group is beside the rim: the symbol's size, the label with its size, and the extents along and across.
struct Room {
    symbol: f32,
    label: Option<(String, egui::Vec2)>,
    along: f32,
}

impl<'a> RingMarks<'a> {
    /// Lays the marks out.
    pub(crate) fn new(ring: Ring, marks: &'a Marks, selection: &'a Selection) -> Self {
        let mut spots = Vec::new();
        for (i, span) in SPANS_DEG.iter().enumerate() {
            let mut groups = marks.groups(selection, *span);
            groups.sort_by(|a, b| middle_deg(a).total_cmp(&middle_deg(b)));
            let rooms: Vec<Room> = groups.iter().map(Room::of).collect();
            let wanted: Vec<f32> = groups.iter().map(middle_deg).collect();
            let radius = ring.outer() + LANE + 0.5 * SYMBOL;
            let half = |room: &Room| ((0.5 * (room.along + GAP)) / radius).to_degrees();
            let halves: Vec<f32> = rooms.iter().map(half).collect();
            let is_last = i + 1 == SPANS_DEG.len();
            let farthest = if is_last { 360.0 } else { FARTHEST_DEG };
            if let Some(places) = spread_round(&wanted, &halves, farthest).or(is_last.then_some(wanted)) {
                let parts = groups.into_iter().zip(rooms).zip(places);
                spots = parts.map(|((group, room), at)| room.spot(&ring, group, at)).collect();
                break;
            }
        }
        Self {
            spots,
            marks,
            stay: marks.stay(selection),
            ring,
        }
    }

    /// What lies under a position, in words.
    pub(crate) fn words_under(&self, at: Pos2) -> Option<String> {
        if let Some(spot) = spots::under(&self.spots, at) {
            return Some(spot.group.words());
        }
        let distance = (at - self.ring.centre).length() - self.ring.outer();
        if !(0.0..=LANE).contains(&distance) {
            return None;
        }
        let tilt = self.ring.tilt_at(at);
        let lies_in = |a: f64, b: f64| (a.min(b)..=a.max(b)).contains(&tilt);
        let leaks = self
            .marks
            .leaks
            .iter()
            .filter(|leak| lies_in(leak.from_deg, leak.to_deg));
        let words: Vec<&str> = leaks.map(|leak| leak.words.as_str()).collect();
        if !words.is_empty() {
            return Some(words.join("\n"));
        }
        let stay = self.stay.as_ref().filter(|(range, _)| lies_in(range.start, range.end));
        stay.map(|(_, words)| words.clone())
    }

    /// Where a click on a position goes.
    pub(crate) fn place_under(&self, at: Pos2) -> Option<f64> {
        spots::under(&self.spots, at).map(|spot| spot.group.at_deg())
    }

    /// Draws bands and marks.
    pub(crate) fn paint(&self, painter: &Painter, colours: &Palette) {
        if let Some((range, _)) = &self.stay {
            self.paint_stay(painter, colours, range);
        }
        for leak in &self.marks.leaks {
            self.paint_leak(painter, colours, leak.from_deg, leak.to_deg);
        }
        for spot in &self.spots {
            spot.paint(painter, colours, NOTCH);
        }
    }

    /// A soft hatched band between two lines.
    fn paint_stay(&self, painter: &Painter, colours: &Palette, range: &Range<f64>) {
        let (low, high) = (self.ring.outer() + BAND.0, self.ring.outer() + BAND.1);
        let soft = Stroke::new(1.0, colours.level.gamma_multiply(0.75));
        let steps = ((range.end - range.start) / 1.5).ceil().clamp(1.0, 240.0);
        let at = |i: f64| range.start + (range.end - range.start) * i / steps;
        let mut i = 0.0;
        while i < steps {
            painter.line_segment([self.ring.at(at(i), low), self.ring.at(at(i + 1.0), high)], soft);
            i += 1.0;
        }
        painter.add(Shape::line(self.arc(range.start, range.end, low), soft));
        for end in [range.start, range.end] {
            let line = [self.ring.at(end, low - 1.0), self.ring.at(end, high + 2.0)];
            painter.line_segment(line, Stroke::new(1.6, colours.level));
        }
    }

    /// A heavy broken arc with a bar at its beginning.
    fn paint_leak(&self, painter: &Painter, colours: &Palette, from_deg: f64, to_deg: f64) {
        const DASH: f32 = 11.0;
        const SPACE: f32 = 4.0;
        let radius = self.ring.outer() + 0.5 * (BAND.0 + BAND.1) + 0.5;
        let heavy = Stroke::new(BAND.1 - BAND.0 + 1.5, colours.stop);
        let degrees_of = |points: f32| f64::from((points / radius).to_degrees());
        let way = if to_deg < from_deg { -1.0 } else { 1.0 };
        // Even what runs out at once is to be seen.
        let length = (to_deg - from_deg).abs().max(degrees_of(DASH));
        let mut at = 0.0;
        while at < length {
            let end = (at + degrees_of(DASH)).min(length);
            let arc = self.arc(from_deg + way * at, from_deg + way * end, radius);
            painter.add(Shape::line(arc, heavy));
            at = end + degrees_of(SPACE);
        }
        let bar = [
            self.ring.at(from_deg, self.ring.outer() - 3.0),
            self.ring.at(from_deg, self.ring.outer() + LANE + 1.0),
        ];
        painter.line_segment(bar, Stroke::new(2.5, colours.stop));
    }

    fn arc(&self, from_deg: f64, to_deg: f64, radius: f32) -> Vec<Pos2> {
        let steps = ((to_deg - from_deg).abs() / 1.5).ceil().max(1.0);
        let mut points = Vec::new();
        let mut i = 0.0;
        while i <= steps {
            points.push(self.ring.at(from_deg + (to_deg - from_deg) * i / steps, radius));
            i += 1.0;
        }
        points
    }
}

/// The middle of a group, degrees.
#[allow(clippy::cast_possible_truncation, reason = "an angle on the screen")]
fn middle_deg(group: &Group<'_>) -> f32 {
    let (first, last) = (group.marks[0].at_deg, group.marks[group.marks.len() - 1].at_deg);
    (0.5 * (first + last)) as f32
}

impl Room {
    fn of(group: &Group<'_>) -> Self {
        let out = outwards(f64::from(middle_deg(group)));
        let label = spots::label(group);
        let symbol = spots::symbol_size(group, SYMBOL);
        // Upright text takes its width along the rim at the top and its height at the sides.
        let text = label
            .as_ref()
            .map_or(0.0, |(_, size)| size.x * out.y.abs() + size.y * out.x.abs());
        Self {
            symbol,
            along: text.max(if group.kind == Kind::Brims { 4.0 } else { symbol }),
            label,
        }
    }

    fn spot<'a>(self, ring: &Ring, group: Group<'a>, at_deg: f32) -> Spot<'a> {
        let at = f64::from(at_deg);
        let out = outwards(at);
        let depth = |size: egui::Vec2| size.x * out.x.abs() + size.y * out.y.abs();
        let base = ring.outer() + LANE;
        // A notch has its number where others have their symbol.
        let symbol = if group.kind == Kind::Brims { 0.0 } else { self.symbol };
        let label = self.label.map(|(text, size)| {
            let gap = if symbol > 0.0 { 1.0 } else { 0.0 };
            (text, ring.at(at, base + symbol + gap + 0.5 * depth(size)))
        });
        let places = group.marks.iter().map(|mark| mark.at_deg);
        Spot {
            feet: places.clone().map(|deg| ring.at(deg, ring.outer())).collect(),
            outs: places.map(outwards).collect(),
            symbol: Symbol {
                centre: ring.at(at, base + 0.5 * symbol),
                out,
                size: symbol,
            },
            label,
            group,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::marks::tests::marks;
    use egui::{Rect, pos2, vec2};

    fn ring() -> Ring {
        Ring::within(Rect::from_min_size(pos2(0.0, 0.0), vec2(640.0, 568.0)))
    }

    #[test]
    fn numbers_do_not_lie_on_each_other() {
        let names: Vec<String> = (1..=24).map(|i| format!("vial-{i}")).collect();
        for spacing in [0.0, 0.05, 0.3, 1.0, 4.0, 14.0] {
            for start in [-175.0, -100.0, -10.0, 80.0] {
                let place = |(i, name): (usize, &'_ String)| (name.clone(), start + spacing * i as f64);
                let mut places: Vec<(String, f64)> = names.iter().enumerate().map(place).collect();
                for (_, at) in &mut places {
                    *at = (*at + 180.0).rem_euclid(360.0) - 180.0;
                }
                places.sort_by(|a, b| a.1.total_cmp(&b.1));
                let places: Vec<(&str, f64)> = places.iter().map(|(name, at)| (name.as_str(), *at)).collect();
                let marks = marks(Kind::Brims, &places);
                let selection = Selection::default();
                let laid = RingMarks::new(ring(), &marks, &selection);
                let shown: usize = laid.spots.iter().map(|spot| spot.group.marks.len()).sum();
                assert_eq!(shown, names.len());
                let rects: Vec<Rect> = laid
                    .spots
                    .iter()
                    .filter_map(|spot| {
                        let (_, size) = spots::label(&spot.group)?;
                        spot.label
                            .as_ref()
                            .map(|(_, at)| Rect::from_center_size(*at, size - vec2(1.0, 1.0)))
                    })
                    .collect();
                for (i, a) in rects.iter().enumerate() {
                    for b in &rects[..i] {
                        assert!(!a.intersects(*b), "{spacing} from {start}: {a:?} {b:?}");
                    }
                }
            }
        }
    }

    #[test]
    fn a_mark_is_found_where_it_is_drawn() {
        let marks = marks(Kind::Begins, &[("vial-1", -50.0), ("vial-2", 35.0)]);
        let selection = Selection::default();
        let laid = RingMarks::new(ring(), &marks, &selection);
        for (spot, at) in laid.spots.iter().zip([-50.0, 35.0]) {
            assert_eq!(laid.place_under(spot.symbol.centre), Some(at));
            assert!(
                laid.words_under(spot.symbol.centre)
                    .is_some_and(|words| words.contains("begins to run"))
            );
        }
        assert_eq!(laid.place_under(ring().at(120.0, ring().outer() + 10.0)), None);
    }
}
