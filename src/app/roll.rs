//! The roll scale: a short vertical scale beside the ring, with the marks of the roll.

use super::fan::spread;
use super::mark_paint::Symbol;
use super::marks::{Group, Kind, Marks};
use super::session::Selection;
use super::spots::{self, Spot};
use super::theme::{self, Palette};
use egui::{Align2, Painter, Pos2, Rect, Shape, Stroke, pos2, vec2};

/// Marks of one kind within so many degrees are drawn as one: the first that leaves room for all.
const SPANS_DEG: [f64; 7] = [0.02, 1.0, 2.0, 4.0, 8.0, 16.0, 45.0];
/// How far a symbol may stand from its place, points.
const FARTHEST: f32 = 30.0;
/// Size of a symbol, and of a notch, points.
const SYMBOL: f32 = 9.0;
const NOTCH: f32 = 7.0;
/// From the scale to the symbols, points.
const LANE: f32 = 14.0;

/// The scale's place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct RollScale {
    /// What takes hold of it.
    pub rect: Rect,
}

impl RollScale {
    /// The scale at the upper left of `bench`, where the ring leaves most room, below the plumb line.
    pub(crate) fn beside(bench: Rect) -> Self {
        let height = (bench.height() * 0.28).clamp(90.0, 220.0);
        let top = pos2(bench.left() + 28.0, bench.top() + 112.0);
        Self {
            rect: Rect::from_center_size(top + vec2(0.0, height / 2.0), vec2(28.0, height)),
        }
    }

    /// Screen height of a roll; positive rolls, the top towards the viewer, stand below.
    #[allow(clippy::cast_possible_truncation, reason = "screen positions need no more than f32")]
    pub(crate) fn y_of(&self, roll_deg: f64) -> f32 {
        self.rect.center().y + (roll_deg / 90.0) as f32 * (self.rect.height() / 2.0 - 8.0)
    }

    /// The roll that a screen height stands for.
    pub(crate) fn roll_at(&self, y: f32) -> f64 {
        let half = self.rect.height() / 2.0 - 8.0;
        (f64::from((y - self.rect.center().y) / half) * 90.0).clamp(-90.0, 90.0)
    }

    /// The scale with its marks.
    pub(crate) fn reach(&self) -> Rect {
        let mut rect = self.rect;
        rect.max.x = self.x() + LANE + 26.0;
        rect
    }

    fn x(&self) -> f32 {
        self.rect.center().x
    }

    /// Draws the scale with its pointer.
    pub(crate) fn paint(&self, painter: &Painter, colours: &Palette, roll_deg: f64) {
        let x = self.x();
        painter.vline(x, self.y_of(-90.0)..=self.y_of(90.0), Stroke::new(1.0, colours.outline));
        for deg in (-90..=90).step_by(10) {
            let y = self.y_of(f64::from(deg));
            let length = if deg % 30 == 0 { 8.0 } else { 4.0 };
            painter.hline(x - length..=x, y, Stroke::new(1.0, colours.division));
        }
        // At the ends, so that the sides are free for the pointer and the marks.
        for (text, y) in [
            ("Roll", self.rect.top() - 20.0),
            ("−90°", self.rect.top() - 4.0),
            ("90°", self.rect.bottom() + 4.0),
        ] {
            painter.text(
                pos2(x, y),
                Align2::CENTER_CENTER,
                text,
                theme::plain(11.0),
                colours.quiet,
            );
        }
        let y = self.y_of(roll_deg);
        let points = vec![pos2(x - 1.0, y), pos2(x - 12.0, y - 6.0), pos2(x - 12.0, y + 6.0)];
        painter.add(Shape::convex_polygon(points, colours.accent, Stroke::NONE));
    }

    /// The marks at their places.
    pub(crate) fn spots<'a>(&self, marks: &'a Marks, selection: &'a Selection) -> Vec<Spot<'a>> {
        let bounds = (self.y_of(-90.0) - 6.0, self.y_of(90.0) + 6.0);
        for (i, span) in SPANS_DEG.iter().enumerate() {
            let groups = marks.groups(selection, *span);
            let mut groups: Vec<(f32, Group<'a>)> = groups.into_iter().map(|g| (self.middle(&g), g)).collect();
            groups.sort_by(|a, b| a.0.total_cmp(&b.0));
            let wanted: Vec<f32> = groups.iter().map(|(y, _)| *y).collect();
            let halves: Vec<f32> = groups.iter().map(|(_, group)| self.half(group)).collect();
            let places = spread(&wanted, &halves, Some(bounds));
            let near = places.iter().zip(&wanted).all(|(a, b)| (a - b).abs() <= FARTHEST);
            let fits = 2.0 * halves.iter().sum::<f32>() <= bounds.1 - bounds.0;
            if (near && fits) || i + 1 == SPANS_DEG.len() {
                let parts = groups.into_iter().zip(places);
                return parts.map(|((_, group), y)| self.spot(group, y)).collect();
            }
        }
        Vec::new()
    }

    /// Draws bands and marks.
    pub(crate) fn paint_marks(
        &self,
        painter: &Painter,
        colours: &Palette,
        marks: &Marks,
        selection: &Selection,
        spots: &[Spot<'_>],
    ) {
        let x = self.x();
        if let Some((range, _)) = marks.stay(selection) {
            let (top, end) = (self.y_of(range.start), self.y_of(range.end));
            let soft = Stroke::new(1.0, colours.level.gamma_multiply(0.75));
            let mut y = top;
            while y + 4.0 <= end {
                painter.line_segment([pos2(x + 2.0, y + 4.0), pos2(x + 6.0, y)], soft);
                y += 4.0;
            }
            for y in [top, end] {
                painter.hline(x + 1.0..=x + 7.5, y, Stroke::new(1.4, colours.level));
            }
        }
        for leak in &marks.leaks {
            let (from, to) = (self.y_of(leak.from_deg), self.y_of(leak.to_deg));
            let way = if to < from { -1.0 } else { 1.0 };
            let length = (to - from).abs().max(6.0);
            let mut at = 0.0;
            while at < length {
                let end = (at + 7.0).min(length);
                let line = [pos2(x + 4.5, from + way * at), pos2(x + 4.5, from + way * end)];
                painter.line_segment(line, Stroke::new(5.0, colours.stop));
                at = end + 3.0;
            }
        }
        for spot in spots {
            spot.paint(painter, colours, NOTCH);
        }
    }

    /// What lies under a position, in words.
    pub(crate) fn words_under(
        &self,
        marks: &Marks,
        selection: &Selection,
        spots: &[Spot<'_>],
        at: Pos2,
    ) -> Option<String> {
        if let Some(spot) = spots::under(spots, at) {
            return Some(spot.group.words());
        }
        if !(self.x() + 1.0..=self.x() + LANE).contains(&at.x) || !self.rect.y_range().contains(at.y) {
            return None;
        }
        let roll = self.roll_at(at.y);
        let lies_in = |a: f64, b: f64| (a.min(b)..=a.max(b)).contains(&roll);
        let leaks = marks.leaks.iter().filter(|leak| lies_in(leak.from_deg, leak.to_deg));
        let words: Vec<&str> = leaks.map(|leak| leak.words.as_str()).collect();
        if !words.is_empty() {
            return Some(words.join("\n"));
        }
        let stay = marks.stay(selection);
        stay.filter(|(range, _)| lies_in(range.start, range.end))
            .map(|(_, words)| words)
    }

    fn middle(&self, group: &Group<'_>) -> f32 {
        let (first, last) = (group.marks[0].at_deg, group.marks[group.marks.len() - 1].at_deg);
        self.y_of(0.5 * (first + last))
    }

    fn half(&self, group: &Group<'_>) -> f32 {
        let text = spots::label(group).map_or(0.0, |(_, size)| size.y);
        let symbol = if group.kind == Kind::Brims {
            3.0
        } else {
            spots::symbol_size(group, SYMBOL)
        };
        0.5 * (text.max(symbol) + 1.0)
    }

    fn spot<'a>(&self, group: Group<'a>, y: f32) -> Spot<'a> {
        let out = vec2(1.0, 0.0);
        let symbol = if group.kind == Kind::Brims {
            0.0
        } else {
            spots::symbol_size(&group, SYMBOL)
        };
        let x = self.x() + LANE;
        let label = spots::label(&group).map(|(text, size)| (text, pos2(x + symbol + 2.0 + 0.5 * size.x, y)));
        Spot {
            feet: group
                .marks
                .iter()
                .map(|mark| pos2(self.x(), self.y_of(mark.at_deg)))
                .collect(),
            outs: vec![out; group.marks.len()],
            symbol: Symbol {
                centre: pos2(x + 0.5 * symbol, y),
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

    #[test]
    fn roll_and_height_are_inverse() {
        let scale = RollScale::beside(Rect::from_min_size(pos2(0.0, 0.0), vec2(900.0, 700.0)));
        for roll in [-90.0, -30.0, 0.0, 12.0, 90.0] {
            assert!((scale.roll_at(scale.y_of(roll)) - roll).abs() < 1e-3);
        }
    }
}
