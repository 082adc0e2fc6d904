//! Where dimensions stand: each tries its places from the best to the least and takes the first one with room.
//!
//! The more important and the shorter go first, so that short ones stand nearest to the glass and longer ones around
//! them, in rows. In the first round no extension line crosses glass or a dimension line; what found no place then
//! may cross them. No text ever lies on glass, on a line or on another text, whichever side of its line it stands on.
//! What finds no place at all is left out: at a larger scale there is more room.

use super::clear::{Ground, Hull, Kind, can_be_together, hulls_of};
use super::trials::{FIRST, ROW, Text, left_of};
use super::{Arrow, Dimension, Drawn, Figure, Label};
use crate::geom::Primitive;
use crate::model::place::{Point, Segment};
use crate::units::LengthUnit;
use nalgebra::Vector2;
use std::collections::HashMap;

/// Half-width of an arrow, points.
const ARROW_HALF: f64 = 1.7;
/// How far extension lines run beyond the dimension line, and texts from an end, points.
pub(super) const BEYOND: f64 = 3.0;
/// Gap between a line and its text, points.
const GAP: f64 = 1.0;
/// By how much a line is shorter for its neighbours: they may share its ends, points.
const SHARED: f64 = 1.5;
/// Half the width that a dimension line keeps free of others, points.
const APART: f64 = 3.5;

/// The lettering: how large texts are on the drawing.
#[derive(Clone, Copy)]
pub struct Pen<'a> {
    /// Length on the drawing of a point of lettering, mm.
    pub point_mm: f64,
    /// Height of a text, points.
    pub height_points: f64,
    /// Width of a text, points.
    pub width_points: &'a dyn Fn(&str) -> f64,
    /// The unit in which lengths are told.
    pub unit: LengthUnit,
}

/// Places dimensions around the glass. What stands in `kept` (convex, mm) is kept free. The order of the result is
/// that in which they were placed.
pub fn lay_out(dimensions: &[Dimension], glass: &[Primitive], kept: &[Vec<Point>], pen: &Pen<'_>) -> Vec<Drawn> {
    let mut layout = Layout::new(glass, kept, *pen);
    layout.choose_sides(dimensions);
    let mut order: Vec<usize> = (0..dimensions.len()).collect();
    order.sort_by(|&a, &b| {
        let key = |i: usize| (dimensions[i].rank, dimensions[i].figure.is_leader());
        key(a).cmp(&key(b)).then(
            dimensions[a]
                .figure
                .weight_mm()
                .total_cmp(&dimensions[b].figure.weight_mm()),
        )
    });
    for index in order {
        let dimension = &dimensions[index];
        for strict in [true, false] {
            let found = layout.find(index, dimension, strict);
            if let Some(drawn) = found {
                layout.take(drawn);
                break;
            }
        }
    }
    layout.drawn
}

impl Figure {
    /// By what the order of equals goes: the shorter length, the larger diameter first.
    fn weight_mm(&self) -> f64 {
        match self {
            Self::Between { ends, along, .. } => (ends[1] - ends[0]).dot(along).abs(),
            Self::Along { path, .. } => path.iter().map(Segment::length_mm).sum(),
            Self::Tube { r_mm, .. } | Self::Ball { r_mm, .. } => -r_mm,
            Self::Bend { arc, .. } | Self::Sweep { arc, .. } => arc.length_mm(),
            Self::Turn { clear_mm, .. } => *clear_mm,
        }
    }

    /// Whether a leader shows it, which finds a place more easily.
    fn is_leader(&self) -> bool {
        matches!(self, Self::Tube { .. } | Self::Ball { .. } | Self::Bend { .. })
    }
}

impl Dimension {
    /// Whether it is measured on the glass of that piece.
    pub(super) fn measures(&self, piece: usize) -> bool {
        piece == self.piece || piece == self.group || self.through.contains(&piece)
    }
}

/// A place that is tried.
pub(super) struct Trial {
    pub line: Vec<Point>,
    pub extensions: Vec<[Point; 2]>,
    pub arrows: Vec<Arrow>,
    /// The middle of the text on its line, and the line's direction there.
    pub text: (Point, Vector2<f64>),
    /// Whether the line's ends are led from what is measured, and so may lie within glass that stands there.
    pub is_led: bool,
    /// Whether the line may run through the glass of its own piece.
    pub through_own: bool,
}

pub(super) struct Layout<'a> {
    pen: Pen<'a>,
    pub ground: Ground,
    /// The side of a group's dimensions: 1 for the left.
    sides: HashMap<usize, f64>,
    drawn: Vec<Drawn>,
}

impl<'a> Layout<'a> {
    fn new(glass: &[Primitive], kept: &[Vec<Point>], pen: Pen<'a>) -> Self {
        // Half a point is less than anyone sees.
        let tolerance_mm = (0.5 * pen.point_mm).clamp(1e-3, 1.0);
        let mut hulls: Vec<Hull> = glass
            .iter()
            .flat_map(|outside| hulls_of(Kind::Glass(outside.piece), &outside.shape, tolerance_mm))
            .collect();
        hulls.extend(kept.iter().map(|points| Hull::new(Kind::Kept, points)));
        let margin = Vector2::repeat(FIRST * pen.point_mm);
        let mut ends = (Point::repeat(f64::INFINITY), Point::repeat(f64::NEG_INFINITY));
        for hull in &hulls {
            ends = (ends.0.inf(&hull.low()), ends.1.sup(&hull.high()));
        }
        if hulls.is_empty() {
            ends = (Point::zeros(), Point::zeros());
        }
        let mut ground = Ground::new(ends.0 - margin, ends.1 + margin, 2.0 * ROW * pen.point_mm);
        for hull in hulls {
            ground.take(hull);
        }
        Self {
            pen,
            ground,
            sides: HashMap::new(),
            drawn: Vec::new(),
        }
    }

    /// So many points on the drawing, mm.
    pub(super) fn mm(&self, points: f64) -> f64 {
        points * self.pen.point_mm
    }

    /// For each group, the side with less glass in the first row.
    fn choose_sides(&mut self, dimensions: &[Dimension]) {
        let mut met: HashMap<usize, [usize; 2]> = HashMap::new();
        for dimension in dimensions {
            let (ends, clear_mm) = match &dimension.figure {
                Figure::Between { ends, clear_mm, .. } => (*ends, *clear_mm),
                Figure::Along { path, clear_mm } => match (path.first(), path.last()) {
                    (Some(first), Some(last)) => ([first.from(), last.to()], *clear_mm),
                    _ => continue,
                },
                _ => continue,
            };
            let Some(along) = (ends[1] - ends[0]).try_normalize(0.0) else {
                continue;
            };
            for (i, side) in [1.0, -1.0].into_iter().enumerate() {
                let n = left_of(along) * side * (clear_mm + self.mm(FIRST / 2.0 + 1.0));
                let band = Hull::bar(Kind::Kept, [ends[0] + n, ends[1] + n], self.mm(FIRST / 2.0));
                met.entry(dimension.group).or_default()[i] +=
                    self.ground.near(&band).filter(|h| h.meets(&band)).count();
            }
        }
        let side = |[left, right]: [usize; 2]| if right < left { -1.0 } else { 1.0 };
        self.sides = met.into_iter().map(|(group, counts)| (group, side(counts))).collect();
    }

    /// The side of a dimension's group: 1 for the left.
    pub(super) fn side(&self, dimension: &Dimension) -> f64 {
        self.sides.get(&dimension.group).copied().unwrap_or(1.0)
    }

    fn find(&self, index: usize, dimension: &Dimension, strict: bool) -> Option<Drawn> {
        let text = dimension.text(self.pen.unit);
        let width = self.mm((self.pen.width_points)(&text));
        let mut found = None;
        let wanted = Text {
            width_mm: width,
            may_stand_beside: !strict,
        };
        self.try_each(dimension, wanted, &mut |trial| {
            if found.is_none() {
                found = self.fit(index, dimension, &text, width, trial, strict);
            }
            found.is_some()
        });
        found
    }

    /// The trial as a drawn dimension, if there is room.
    fn fit(
        &self,
        index: usize,
        dimension: &Dimension,
        text: &str,
        width_mm: f64,
        trial: Trial,
        strict: bool,
    ) -> Option<Drawn> {
        let (at, along) = trial.text;
        let mut label = Label {
            text: String::new(),
            at,
            along: rightwards(along),
            width_mm,
            height_mm: self.mm(self.pen.height_points),
            gap_mm: self.mm(GAP),
        };
        let has_room = self.has_room_for_text(&label, &trial)
            && self.has_room_for_line(dimension, &trial, strict)
            && self.has_room_for_extensions(dimension, &trial, strict);
        if !has_room {
            return None;
        }
        text.clone_into(&mut label.text);
        Some(Drawn {
            dimension: index,
            line: trial.line,
            extensions: trial.extensions,
            arrows: trial.arrows,
            label,
        })
    }

    /// Whether a text lies on nothing, on either side of its line.
    fn has_room_for_text(&self, label: &Label, trial: &Trial) -> bool {
        let lines = trial.line.windows(2).map(|pair| Hull::new(Kind::Line, pair));
        let extensions = trial.extensions.iter().map(|ends| Hull::new(Kind::Line, ends));
        let mut own = lines.chain(extensions);
        let texts = texts(label);
        !own.any(|line| texts.iter().any(|hull| line.meets(hull)))
            && texts
                .iter()
                .all(|hull| !self.ground.is_met(hull, |kind| can_be_together(kind, &hull.kind)))
    }

    /// Whether a dimension line keeps clear of glass but where its ends lead into it, of texts and of other lines.
    fn has_room_for_line(&self, dimension: &Dimension, trial: &Trial, strict: bool) -> bool {
        let mut passes = dimension.through.clone();
        if trial.through_own {
            passes.push(dimension.piece);
        }
        if let (true, Some(first), Some(last)) = (trial.is_led, trial.line.first(), trial.line.last()) {
            // Wherever its ends lead, the middle of a line is seen, and at first well away from glass.
            let half = if strict { FIRST / 2.0 } else { 0.0 };
            let middle = Hull::bar(Kind::Line, middle_of(&trial.line), self.mm(half));
            if self.ground.is_met(&middle, |kind| matches!(kind, Kind::Glass(_))) {
                return false;
            }
            if !strict {
                for end in [first, last].map(|end| Hull::new(Kind::Line, &[*end])) {
                    let met = self.ground.near(&end).filter(|hull| hull.meets(&end));
                    passes.extend(met.filter_map(|hull| match hull.kind {
                        Kind::Glass(piece) => Some(piece),
                        _ => None,
                    }));
                }
            }
        }
        let mut parts = trial.line.windows(2).map(|pair| Hull::new(Kind::Line, pair));
        let meets = parts.any(|hull| {
            self.ground.is_met(&hull, |kind| match kind {
                Kind::Glass(piece) => !passes.contains(piece),
                Kind::Kept | Kind::Text { .. } => true,
                Kind::Line | Kind::Whole | Kind::Extension => false,
            })
        });
        let near_another = |half: f64, kept: fn(&Kind) -> bool| {
            let mut bars = self.bars(&trial.line, half).into_iter();
            bars.any(|hull| self.ground.is_met(&hull, kept))
        };
        let crosses = strict && near_another(0.0, |kind| matches!(kind, Kind::Extension));
        // What leads into its own glass, an arc or a radius, may in the end cross another line: it is no neighbour of it.
        let free_to_cross = trial.through_own && !strict;
        let is_beside = !free_to_cross && near_another(APART, |kind| matches!(kind, Kind::Line));
        !(meets || crosses || is_beside)
    }

    /// Whether extension lines keep clear of texts and, where that is asked for, of glass and dimension lines.
    fn has_room_for_extensions(&self, dimension: &Dimension, trial: &Trial, strict: bool) -> bool {
        trial.extensions.iter().all(|ends| {
            let hull = Hull::new(Kind::Extension, ends);
            !self.ground.is_met(&hull, |kind| match kind {
                Kind::Text { .. } | Kind::Kept => true,
                Kind::Line => strict,
                Kind::Glass(piece) => strict && !dimension.measures(*piece),
                Kind::Extension | Kind::Whole => false,
            })
        })
    }

    /// A line as bars, its ends drawn in so that it may share them with others.
    fn bars(&self, line: &[Point], half: f64) -> Vec<Hull> {
        let shared = self.mm(SHARED);
        let last = line.len().saturating_sub(2);
        let parts = line.windows(2).enumerate();
        parts
            .filter_map(|(i, pair)| {
                let (from, to) = (pair[0], pair[1]);
                let way = to - from;
                let length = way.norm();
                let (cut_from, cut_to) = (if i == 0 { shared } else { 0.0 }, if i == last { shared } else { 0.0 });
                if length <= cut_from + cut_to {
                    return None;
                }
                let along = way / length;
                let ends = [from + along * cut_from, to - along * cut_to];
                Some(Hull::bar(Kind::Line, ends, self.mm(half)))
            })
            .collect()
    }

    fn take(&mut self, drawn: Drawn) {
        for hull in texts(&drawn.label) {
            self.ground.take(hull);
        }
        for hull in self.bars(&drawn.line, ARROW_HALF) {
            self.ground.take(hull);
        }
        for pair in drawn.line.windows(2) {
            self.ground.take(Hull::new(Kind::Whole, pair));
        }
        for ends in &drawn.extensions {
            self.ground.take(Hull::new(Kind::Extension, ends));
        }
        self.drawn.push(drawn);
    }
}

/// A short part of a line about its middle.
fn middle_of(line: &[Point]) -> [Point; 2] {
    let half: f64 = line.windows(2).map(|pair| (pair[1] - pair[0]).norm()).sum::<f64>() / 2.0;
    let mut left = half;
    let mut middle = [Point::zeros(); 2];
    for pair in line.windows(2) {
        let way = pair[1] - pair[0];
        let length = way.norm();
        if left <= length && length > 0.0 {
            let at = pair[0] + way * (left / length);
            // No farther than the part reaches to either side.
            let reach = way * ((0.16 * half).min(left).min(length - left) / length);
            return [at - reach, at + reach];
        }
        left -= length;
        middle = [pair[1], pair[1]];
    }
    middle
}

/// The same line with a direction whose x is not negative.
fn rightwards(along: Vector2<f64>) -> Vector2<f64> {
    let is_upright = along.x.abs() < 1e-9;
    if along.x < 0.0 && !is_upright || is_upright && along.y < 0.0 {
        -along
    } else {
        along
    }
}

/// Both places of a text, with half the gap to its line around it: what only touches it, to rounding, is too near.
fn texts(label: &Label) -> [Hull; 2] {
    [false, true].map(|turned_over| {
        let kind = Kind::Text {
            turned_over,
            along: label.along,
        };
        let along = label.reading(turned_over) * (label.gap_mm / 2.0);
        let up = Vector2::new(-along.y, along.x);
        let [start, end, over_end, over_start] = label.corners(turned_over);
        let corners = [
            start - along - up,
            end + along - up,
            over_end + along + up,
            over_start - along + up,
        ];
        Hull::new(kind, &corners)
    })
}
