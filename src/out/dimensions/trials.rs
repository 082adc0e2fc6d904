//! The places that a dimension may take, from the best to the least: rows beside the glass, arcs, leaders.

use super::clear::{Hull, Kind};
use super::layout::{BEYOND, Layout, Trial};
use super::{Arrow, Dimension, Figure};
use crate::model::place::{Point, Segment, direction};
use nalgebra::Vector2;

/// Distance of the first row from the glass, points: room for a text between the two.
pub(super) const FIRST: f64 = 20.0;
/// Distance between rows, points: a text, and room for a finger.
pub(super) const ROW: f64 = 24.0;
/// Rows that are tried on each side.
const ROWS: u32 = 5;
/// By how many rows the other side is less welcome than the group's own.
const OTHER_SIDE: u32 = 2;
/// Length of an arrow, points.
const ARROW: f64 = 7.0;
/// Gap between the outline and an extension line, points.
const CLEAR: f64 = 2.0;
/// Nothing shorter is dimensioned, points: it could not be told what is meant.
const SHORTEST: f64 = 6.0;
/// Shorter lines have their arrows outside, points.
const ARROWS_INSIDE: f64 = 18.0;
/// No extension line is longer than its dimension or, where that is short, than this, points: what stands far from its
/// glass is not found again.
const FARTHEST: f64 = 52.0;
/// Steps that the arc of a turn is tried at, and the distance between them, points.
const TURNS: u32 = 10;
const TURN_STEP: f64 = 12.0;
/// Lengths of leaders, points.
const LEADERS: [f64; 3] = [16.0, 30.0, 52.0];
/// Where along a straight line a text is tried, as fractions of its length.
const ALONG: [f64; 5] = [0.5, 0.35, 0.65, 0.22, 0.78];

/// A text that wants a place.
#[derive(Clone, Copy)]
pub(super) struct Text {
    pub width_mm: f64,
    /// Whether it may stand beside the end of its line although there is room for it on the line.
    pub may_stand_beside: bool,
}

/// Takes a place, and tells whether it is settled.
type Offer<'o> = &'o mut dyn FnMut(Trial) -> bool;

/// Where a text may stand on a line: the point of the line beside its middle, the line's direction there, and how much
/// of the line there is for it.
#[derive(Clone, Copy)]
struct Stand {
    at: Point,
    along: Vector2<f64>,
    room_mm: f64,
}

impl Stand {
    /// Places along a straight line.
    fn along([from, to]: [Point; 2]) -> impl Iterator<Item = Self> {
        let way = to - from;
        let length = way.norm();
        let along = way.try_normalize(0.0).unwrap_or_else(Vector2::x);
        ALONG.into_iter().map(move |fraction: f64| Self {
            at: from + way * fraction,
            along,
            room_mm: 2.0 * fraction.min(1.0 - fraction) * length,
        })
    }
}

/// A bend as it is dimensioned.
struct Bent {
    centre: Point,
    /// Unit vector from the centre to where the bend starts.
    start: Vector2<f64>,
    radius_mm: f64,
    turn_deg: f64,
}

impl Bent {
    fn of(arc: &Segment) -> Option<Self> {
        let Segment::Arc {
            from,
            centre,
            radius_mm,
            turn_deg,
            ..
        } = *arc
        else {
            return None;
        };
        Some(Self {
            centre,
            start: (from - centre).try_normalize(0.0)?,
            radius_mm,
            turn_deg,
        })
    }
}

impl Layout<'_> {
    /// Offers places from the best to the least until one is taken.
    pub(super) fn try_each(&self, dimension: &Dimension, text: Text, offer: Offer<'_>) {
        match &dimension.figure {
            Figure::Between { ends, along, clear_mm } => self.rows(dimension, |side, row| {
                let distance = self.row_mm(*clear_mm, row);
                self.between(dimension, *ends, left_of(*along) * side, distance, text, offer)
            }),
            Figure::Along { path, clear_mm } => self.rows(dimension, |side, row| {
                self.along(dimension, path, self.row_mm(*clear_mm, row) * side, text, offer)
            }),
            Figure::Tube { from, to, r_mm } => self.tube([*from, *to], *r_mm, text, offer),
            Figure::Ball { centre, axis, r_mm } => self.ball(*centre, *axis, *r_mm, text, offer),
            Figure::Bend { arc, clear_mm } => {
                if let Some(bent) = Bent::of(arc) {
                    self.radius(&bent, *clear_mm, text, offer);
                }
            }
            Figure::Sweep { arc, clear_mm } => {
                if let Some(bent) = Bent::of(arc) {
                    self.sweep(&bent, *clear_mm, text, offer);
                }
            }
            Figure::Turn {
                vertex,
                from_deg,
                turn_deg,
                clear_mm,
            } => {
                let bent = Bent {
                    centre: *vertex,
                    start: direction(*from_deg),
                    radius_mm: 0.0,
                    turn_deg: *turn_deg,
                };
                self.turn(&bent, *clear_mm, text, offer);
            }
        }
    }

    /// Rows from the nearest; each at the group's side first, but a near row at the other side before a far one.
    fn rows(&self, dimension: &Dimension, mut offer: impl FnMut(f64, u32) -> bool) {
        let side = self.side(dimension);
        for step in 0..ROWS + OTHER_SIDE {
            for (side, row) in [(side, Some(step)), (-side, step.checked_sub(OTHER_SIDE))] {
                if let Some(row) = row.filter(|row| *row < ROWS)
                    && offer(side, row)
                {
                    return;
                }
            }
        }
    }

    /// Distance of a row's line from the axis of glass with that half-width, mm.
    fn row_mm(&self, clear_mm: f64, row: u32) -> f64 {
        clear_mm + self.mm(FIRST + ROW * f64::from(row))
    }

    /// On a straight line at a distance from whichever end reaches farther in the direction `n`.
    fn between(
        &self,
        dimension: &Dimension,
        ends: [Point; 2],
        n: Vector2<f64>,
        distance: f64,
        text: Text,
        offer: Offer<'_>,
    ) -> bool {
        let height = ends[0].dot(&n).max(ends[1].dot(&n)) + distance;
        let feet = ends.map(|p| p + n * (height - p.dot(&n)));
        let extensions = [0, 1].map(|i| self.extension(dimension, ends[i], feet[i]));
        let led: Vec<_> = extensions.into_iter().flatten().collect();
        if self.is_far(&led, (feet[1] - feet[0]).norm()) {
            return false;
        }
        let stands: Vec<_> = Stand::along(feet).collect();
        self.on_line(&feet, led, &stands, text, offer)
    }

    /// Beside a bent path, at a distance to its left.
    fn along(&self, dimension: &Dimension, path: &[Segment], distance: f64, text: Text, offer: Offer<'_>) -> bool {
        let (Some(first), Some(last), Some(line)) = (path.first(), path.last(), shifted(path, distance)) else {
            return false;
        };
        let ends = [
            (first.from(), start_heading_deg(first)),
            (last.to(), last.end_heading_deg()),
        ];
        let extensions =
            ends.map(|(p, heading)| self.extension(dimension, p, p + left_of(direction(heading)) * distance));
        let led: Vec<_> = extensions.into_iter().flatten().collect();
        if self.is_far(&led, path.iter().map(Segment::length_mm).sum()) {
            return false;
        }
        // The text stands beside a straight part, the longest first.
        let mut straight: Vec<&Segment> = path.iter().filter(|s| matches!(s, Segment::Line { .. })).collect();
        straight.sort_by(|a, b| b.length_mm().total_cmp(&a.length_mm()));
        let stands: Vec<_> = straight
            .into_iter()
            .flat_map(|s| {
                let n = left_of(direction(s.end_heading_deg())) * distance;
                Stand::along([s.from() + n, s.to() + n])
            })
            .collect();
        self.on_line(&line, led, &stands, text, offer)
    }

    /// The extension line from a measured point to the foot on the dimension line: it starts where it has left the
    /// glass that is measured. `None` when it does not leave it.
    fn extension(&self, dimension: &Dimension, from: Point, foot: Point) -> Option<[Point; 2]> {
        let way = foot - from;
        let length = way.norm();
        let along = way.try_normalize(0.0)?;
        let whole = Hull::new(Kind::Extension, &[from, foot]);
        let left = self
            .ground
            .near(&whole)
            .filter(|hull| matches!(hull.kind, Kind::Glass(piece) if dimension.measures(piece)))
            .filter_map(|hull| hull.left_at(from, foot))
            .fold(0.0, f64::max);
        let start = left * length + self.mm(CLEAR);
        (start < length).then(|| [from + along * start, foot + along * self.mm(BEYOND)])
    }

    /// Whether extension lines lead too far for a dimension of that length.
    fn is_far(&self, extensions: &[[Point; 2]], length_mm: f64) -> bool {
        let farthest = self.mm(FARTHEST).max(length_mm);
        extensions.iter().any(|[from, to]| (to - from).norm() > farthest)
    }

    /// A dimension line with its arrows and every place of the text on it: at `stands`, else beside an end.
    fn on_line(
        &self,
        line: &[Point],
        extensions: Vec<[Point; 2]>,
        stands: &[Stand],
        text: Text,
        offer: Offer<'_>,
    ) -> bool {
        let ([first, second, ..], [.., before, last]) = (line, line) else {
            return false;
        };
        let ways = [second - first, last - before].map(|way| way.try_normalize(0.0));
        let [Some(start), Some(end)] = ways else { return false };
        let length: f64 = line.windows(2).map(|pair| (pair[1] - pair[0]).norm()).sum();
        if length < self.mm(SHORTEST) {
            return false;
        }
        let inside = length >= self.mm(ARROWS_INSIDE);
        let sense = if inside { 1.0 } else { -1.0 };
        let arrows = vec![
            Arrow {
                tip: *first,
                towards: -start * sense,
            },
            Arrow {
                tip: *last,
                towards: end * sense,
            },
        ];
        // Arrows from outside stand on continuations of the line.
        let tail = if inside { 0.0 } else { self.mm(1.6 * ARROW) };
        let mut trial = |at_start: f64, at_end: f64, stand: (Point, Vector2<f64>)| {
            let mut points = line.to_vec();
            if let Some(point) = points.first_mut() {
                *point -= start * at_start;
            }
            if let Some(point) = points.last_mut() {
                *point += end * at_end;
            }
            offer(Trial {
                line: points,
                extensions: extensions.clone(),
                arrows: arrows.clone(),
                text: stand,
                is_led: true,
                through_own: false,
            })
        };
        let width = text.width_mm;
        let mut has_room = false;
        for stand in stands {
            if width <= stand.room_mm - self.mm(2.0) {
                has_room = true;
                if trial(tail, tail, (stand.at, stand.along)) {
                    return true;
                }
            }
        }
        if has_room && !text.may_stand_beside {
            return false;
        }
        let lead = self.mm(BEYOND);
        let reach = (lead + width).max(tail);
        trial(tail, reach, (last + end * (lead + width / 2.0), end))
            || trial(reach, tail, (first - start * (lead + width / 2.0), start))
    }

    /// A leader from `tip` in the direction `out`, then a shoulder along `run` under the text.
    fn leader(&self, tip: Point, out: Vector2<f64>, length: f64, run: Vector2<f64>, text: Text) -> Trial {
        let elbow = tip + out * length;
        let pad = self.mm(2.0);
        Trial {
            // It starts a little beside the outline, which it would meet otherwise.
            line: vec![
                tip + out * self.mm(0.5),
                elbow,
                elbow + run * (text.width_mm + 2.0 * pad),
            ],
            extensions: Vec::new(),
            arrows: vec![Arrow { tip, towards: -out }],
            text: (elbow + run * (pad + text.width_mm / 2.0), run),
            is_led: false,
            through_own: false,
        }
    }

    /// A leader to either side of a straight part.
    fn tube(&self, [from, to]: [Point; 2], r_mm: f64, text: Text, offer: Offer<'_>) {
        if r_mm * 2.0 < self.mm(SHORTEST / 2.0) {
            return;
        }
        let Some(axis) = (to - from).try_normalize(0.0) else {
            return;
        };
        for length in LEADERS {
            for fraction in [0.5, 0.25, 0.75, 0.05, 0.95] {
                for n in [left_of(axis), -left_of(axis)] {
                    let tip = from + (to - from) * fraction + n * r_mm;
                    for run in runs(axis) {
                        for angle in [35.0, -35.0] {
                            let out = turned(n, angle);
                            // A leader that turns back on itself would lie under its own text.
                            if out.dot(&run) > 0.2 && offer(self.leader(tip, out, self.mm(length), run, text)) {
                                return;
                            }
                        }
                    }
                }
            }
        }
    }

    /// A leader that points at the centre of a round body.
    fn ball(&self, centre: Point, axis: Vector2<f64>, r_mm: f64, text: Text, offer: Offer<'_>) {
        if r_mm * 2.0 < self.mm(SHORTEST / 2.0) {
            return;
        }
        for length in LEADERS {
            for angle in [50.0, -50.0, 75.0, -75.0, 105.0, -105.0, 130.0, -130.0, 25.0, -25.0] {
                let out = turned(axis, angle);
                for run in runs(axis) {
                    if out.dot(&run) > 0.2 && offer(self.leader(centre + out * r_mm, out, self.mm(length), run, text)) {
                        return;
                    }
                }
            }
        }
    }

    /// The radius of a bend: a line from its centre to its centreline, or one from outside that points there.
    fn radius(&self, bent: &Bent, clear_mm: f64, text: Text, offer: Offer<'_>) {
        let Bent { centre, radius_mm, .. } = *bent;
        if radius_mm < self.mm(SHORTEST) {
            return;
        }
        let width = text.width_mm;
        let pad = self.mm(3.0);
        for fraction in [0.5, 0.3, 0.7] {
            let out = turned(bent.start, bent.turn_deg * fraction);
            let tip = centre + out * radius_mm;
            let mut trial = |line: Vec<Point>, towards: Vector2<f64>, at: Point| {
                offer(Trial {
                    line,
                    extensions: Vec::new(),
                    arrows: vec![Arrow { tip, towards }],
                    text: (at, out),
                    is_led: false,
                    through_own: true,
                })
            };
            let room = radius_mm - clear_mm - 2.0 * pad;
            let far = radius_mm + clear_mm + pad;
            if width <= room && trial(vec![centre, tip], out, centre + out * (pad + room / 2.0))
                || trial(
                    vec![tip, centre + out * (far + width)],
                    -out,
                    centre + out * (far + width / 2.0),
                )
                || trial(
                    vec![centre - out * (width + pad), tip],
                    out,
                    centre - out * (width / 2.0),
                )
            {
                return;
            }
        }
    }

    /// The angle of a bend, on an arc about its centre outside the glass.
    fn sweep(&self, bent: &Bent, clear_mm: f64, text: Text, offer: Offer<'_>) {
        for row in 0..ROWS {
            let rho = bent.radius_mm + self.row_mm(clear_mm, row);
            let near = bent.radius_mm + clear_mm + self.mm(CLEAR);
            let extensions = [0.0, bent.turn_deg].map(|deg| {
                let out = turned(bent.start, deg);
                [near, rho + self.mm(BEYOND)].map(|distance| bent.centre + out * distance)
            });
            if self.on_arc(bent, rho, extensions.to_vec(), false, text, offer) {
                return;
            }
        }
    }

    /// The turn from a host to its guest, on an arc that leads to both centrelines; else on the opposite side of the
    /// place, where the angle is the same.
    fn turn(&self, bent: &Bent, clear_mm: f64, text: Text, offer: Offer<'_>) {
        // The middle of the arc must clear the host, from which it lies at half the turn.
        let half = (bent.turn_deg.abs() / 2.0).min(90.0).to_radians();
        let guest = turned(bent.start, bent.turn_deg);
        let opposite = Bent {
            start: -bent.start,
            ..*bent
        };
        for step in 0..TURNS {
            let rho = (clear_mm + self.mm(FIRST)) / half.sin().max(0.2) + self.mm(TURN_STEP * f64::from(step));
            if self.on_arc(bent, rho, Vec::new(), true, text, offer) {
                return;
            }
            // There is no glass in that direction: the guest's centreline goes on as an extension line.
            let near = clear_mm / guest.perp(&bent.start).abs().max(0.2) + self.mm(CLEAR);
            let line = [near, rho + self.mm(BEYOND)].map(|distance| bent.centre - guest * distance);
            if near < rho && self.on_arc(&opposite, rho, vec![line], true, text, offer) {
                return;
            }
        }
    }

    /// A dimension line on an arc, with the text at its middle or beside an end.
    fn on_arc(
        &self,
        bent: &Bent,
        rho: f64,
        extensions: Vec<[Point; 2]>,
        through_own: bool,
        text: Text,
        offer: Offer<'_>,
    ) -> bool {
        let line = arc_points(bent.centre, bent.start * rho, bent.turn_deg);
        let out = turned(bent.start, bent.turn_deg / 2.0);
        let stand = Stand {
            at: bent.centre + out * rho,
            along: left_of(out),
            room_mm: rho * bent.turn_deg.to_radians().abs(),
        };
        self.on_line(&line, extensions, &[stand], text, &mut |trial| {
            offer(Trial {
                is_led: false,
                through_own,
                ..trial
            })
        })
    }
}

pub(super) fn left_of(v: Vector2<f64>) -> Vector2<f64> {
    Vector2::new(-v.y, v.x)
}

fn turned(v: Vector2<f64>, deg: f64) -> Vector2<f64> {
    let (sin, cos) = crate::units::sin_cos_deg(deg);
    Vector2::new(v.x * cos - v.y * sin, v.x * sin + v.y * cos)
}

/// Directions of a leader's shoulder: level as drawn, then along the axis.
fn runs(axis: Vector2<f64>) -> [Vector2<f64>; 4] {
    [Vector2::x(), -Vector2::x(), axis, -axis]
}

/// Heading at the start of a segment, degrees.
fn start_heading_deg(segment: &Segment) -> f64 {
    match *segment {
        Segment::Line { heading_deg, .. } | Segment::Arc { heading_deg, .. } => heading_deg,
    }
}

/// Points along an arc about `centre` that starts at `centre + from`.
fn arc_points(centre: Point, from: Vector2<f64>, turn_deg: f64) -> Vec<Point> {
    // Steps of three degrees leave a chord a three-thousandth of the radius from its arc.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to a small count"
    )]
    let steps = (turn_deg.abs() / 3.0).ceil().clamp(1.0, 240.0) as u32;
    (0..=steps)
        .map(|k| centre + turned(from, turn_deg * f64::from(k) / f64::from(steps)))
        .collect()
}

/// A path at a distance to the left of another; `None` where a bend is too narrow for that.
fn shifted(path: &[Segment], distance: f64) -> Option<Vec<Point>> {
    let mut points: Vec<Point> = Vec::new();
    for segment in path {
        match *segment {
            Segment::Line {
                from, to, heading_deg, ..
            } => {
                let n = left_of(direction(heading_deg)) * distance;
                points.extend([from + n, to + n]);
            }
            Segment::Arc {
                from,
                centre,
                radius_mm,
                turn_deg,
                ..
            } => {
                // The centre of an anticlockwise bend lies at the left.
                let radius = radius_mm - distance * turn_deg.signum();
                if radius <= 0.1 * radius_mm {
                    return None;
                }
                points.extend(arc_points(centre, (from - centre) * (radius / radius_mm), turn_deg));
            }
        }
    }
    points.dedup_by(|b, a| (*b - *a).norm() < 1e-9);
    (points.len() > 1).then_some(points)
}
