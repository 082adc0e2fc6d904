//! The apparatus as a finished, flat drawing in millimetres of the apparatus frame, x to the right and y up.
//!
//! It holds outlines, marks and places, says to which piece each belongs, and knows nothing of a screen or a page.

use super::cells::Cells;
use super::section;
use crate::geom::build::Built;
use crate::geom::glass::{Glass, MarkKind};
use crate::geom::{Interior, Port, Primitive, Stance};
use crate::model::Form;
use crate::model::place::{Spot, direction};
use crate::units::MM3_PER_ML;
use nalgebra::Vector2;

/// How far marks reach beyond the glass at both sides, mm.
const OVERHANG_MM: f64 = 2.0;

/// A short line across the glass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tick {
    /// Index of the piece.
    pub piece: usize,
    /// What it marks.
    pub kind: TickKind,
    /// Its ends, mm.
    pub ends: [Vector2<f64>; 2],
}

/// What a [`Tick`] marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TickKind {
    /// The place to be sealed off.
    Seal,
    /// How high the target volume stands when the vessel is held upright.
    Target,
}

/// The far end of a vessel, where its name is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Foot {
    /// Index of the piece.
    pub piece: usize,
    /// Outermost place of the glass on the centreline, mm.
    pub at: Vector2<f64>,
    /// Unit vector away from the glass.
    pub out: Vector2<f64>,
}

/// A finished drawing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Names of the pieces.
    pub pieces: Vec<String>,
    /// Walls and centrelines, one for each piece in the order of `pieces`. Where pieces are fused their outlines
    /// overlap: every outer one is drawn before every inner one.
    pub glass: Vec<Glass>,
    /// The shapes of the outside, hosts before guests.
    pub outsides: Vec<Primitive>,
    /// Open ends.
    pub mouths: Vec<Port>,
    /// Seal-off places and target levels.
    pub ticks: Vec<Tick>,
    /// Where the names of vessels stand.
    pub feet: Vec<Foot>,
    /// Where the outsides lie.
    cells: Cells,
}

/// Error of the outlines from which extents are taken, mm.
const EXTENT_TOLERANCE_MM: f64 = 0.05;

impl Drawing {
    /// The drawing of what was built.
    pub fn new(built: &Built) -> Self {
        let seals = built.glass.iter().flat_map(|glass| {
            let seals = glass.marks.iter().filter(|mark| mark.kind == MarkKind::Seal);
            seals.map(|mark| across(glass.piece, TickKind::Seal, mark.at, mark.heading, mark.radius))
        });
        let vessels = Vessels::of(built);
        let targets = vessels.targets();
        Self {
            ticks: seals.chain(targets).collect(),
            feet: built.vessels().filter_map(|piece| vessels.foot(piece)).collect(),
            pieces: built.names.clone(),
            glass: built.glass.clone(),
            outsides: built.outsides.clone(),
            mouths: built.ports.clone(),
            cells: Cells::of(&built.outsides),
        }
    }

    /// For each piece, the corners of the smallest upright rectangle around its glass; `None` when it has none.
    pub fn bounds(&self) -> Vec<Option<[Vector2<f64>; 4]>> {
        let mut ends: Vec<Option<(Vector2<f64>, Vector2<f64>)>> = vec![None; self.pieces.len()];
        for outside in &self.outsides {
            let Some(ends) = ends.get_mut(outside.piece) else {
                continue;
            };
            for p in corners(outside) {
                *ends = Some(ends.map_or((p, p), |(low, high)| (low.inf(&p), high.sup(&p))));
            }
        }
        let rectangle = |(low, high): (Vector2<f64>, Vector2<f64>)| {
            [low, Vector2::new(high.x, low.y), high, Vector2::new(low.x, high.y)]
        };
        ends.into_iter().map(|ends| ends.map(rectangle)).collect()
    }

    /// Least and greatest coordinates of all of the glass; `None` when there is none.
    pub fn extent(&self) -> Option<(Vector2<f64>, Vector2<f64>)> {
        let all = self.outsides.iter().flat_map(corners);
        all.map(|p| (p, p))
            .reduce(|(low, high), (p, _)| (low.inf(&p), high.sup(&p)))
    }

    /// The least convex outline around all of the glass, anticlockwise; empty when there is none.
    pub fn hull(&self) -> Vec<Vector2<f64>> {
        hull(self.outsides.iter().flat_map(corners).collect())
    }

    /// Name of the piece whose glass or bore, grown by `margin_mm`, holds `point`. Where several do, the one that
    /// comes last: a guest is fused onto its host and comes after it.
    pub fn piece_at(&self, point: Vector2<f64>, margin_mm: f64) -> Option<&str> {
        let inside = |margin: f64| {
            let mut from_last = self.cells.near(point, margin).filter_map(|n| self.outsides.get(n));
            from_last.find(|outside| section::contains(&outside.shape, point, margin))
        };
        let found = inside(0.0).or_else(|| inside(margin_mm))?;
        self.pieces.get(found.piece).map(String::as_str)
    }
}

fn corners(outside: &Primitive) -> Vec<Vector2<f64>> {
    section::outline(&section::stations(&outside.shape, EXTENT_TOLERANCE_MM))
}

/// Convex hull by a scan from left to right and back (Andrew, 1979), after what lies within the octagon of the
/// outermost points is put aside (Akl and Toussaint, 1978).
fn hull(mut points: Vec<Vector2<f64>>) -> Vec<Vector2<f64>> {
    let outermost = [
        (1.0, 0.0),
        (1.0, 1.0),
        (0.0, 1.0),
        (-1.0, 1.0),
        (-1.0, 0.0),
        (-1.0, -1.0),
        (0.0, -1.0),
        (1.0, -1.0),
    ]
    .map(|(x, y)| {
        let reach = |p: &&Vector2<f64>| p.x * x + p.y * y;
        points.iter().max_by(|a, b| reach(a).total_cmp(&reach(b))).copied()
    });
    let corners: Vec<Vector2<f64>> = outermost.into_iter().flatten().collect();
    let n = corners.len();
    points.retain(|p| (0..n).any(|i| (corners[(i + 1) % n] - corners[i]).perp(&(p - corners[i])) <= 0.0));
    points.sort_unstable_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let mut found: Vec<Vector2<f64>> = Vec::new();
    scan(points.iter(), &mut found);
    scan(points.iter().rev(), &mut found);
    found
}

/// Adds one side of a hull: each point that the line does not turn right at. The last point is left to the way back.
fn scan<'p>(points: impl Iterator<Item = &'p Vector2<f64>>, found: &mut Vec<Vector2<f64>>) {
    let start = found.len();
    for p in points {
        while let [.., before, last] = found[start..]
            && (last - before).perp(&(p - last)) <= 0.0
        {
            found.pop();
        }
        found.push(*p);
    }
    found.pop();
}

/// Centre and radius of a circle around all points, mm; a circle of 100 mm when there is none. Its radius exceeds the
/// least possible one by less than a hundredth.
pub fn circle(points: &[Vector2<f64>]) -> (Vector2<f64>, f64) {
    let Some(first) = points.first() else {
        return (Vector2::zeros(), 100.0);
    };
    // Steps of 1/(i + 1) towards the farthest point converge on the least circle (Badoiu and Clarkson, 2003).
    let farthest = |centre: Vector2<f64>| {
        let by_distance = |a: &&Vector2<f64>, b: &&Vector2<f64>| {
            (*a - centre).norm_squared().total_cmp(&(*b - centre).norm_squared())
        };
        points.iter().max_by(by_distance).unwrap_or(first)
    };
    let mut centre = *first;
    for i in 1..=200 {
        centre += (farthest(centre) - centre) / f64::from(i + 1);
    }
    (centre, (farthest(centre) - centre).norm().max(1.0))
}

/// A tick across the centreline at `at`, which runs along `heading` (radians) in a tube of outside `radius`.
fn across(piece: usize, kind: TickKind, at: Vector2<f64>, heading: f64, radius: f64) -> Tick {
    let side = Vector2::new(-heading.sin(), heading.cos()) * (radius + OVERHANG_MM);
    Tick {
        piece,
        kind,
        ends: [at - side, at + side],
    }
}

/// A level in a vessel that stands upright.
#[derive(Clone, Copy)]
struct Level {
    /// Height above the end of the centreline, mm.
    height_mm: f64,
    /// Radius of the glass there, mm.
    radius_mm: f64,
}

/// The shapes of every piece, so that marks of vessels need not look for theirs among all.
struct Vessels<'a> {
    built: &'a Built,
    bores: Vec<Vec<Primitive>>,
    outsides: Vec<Vec<Primitive>>,
}

impl<'a> Vessels<'a> {
    fn of(built: &'a Built) -> Self {
        let by_piece = |shapes: &[Primitive]| {
            let mut found = vec![Vec::new(); built.names.len()];
            for shape in shapes {
                if let Some(own) = found.get_mut(shape.piece) {
                    own.push(*shape);
                }
            }
            found
        };
        Self {
            built,
            bores: by_piece(&built.primitives),
            outsides: by_piece(&built.outsides),
        }
    }

    /// The foot of a vessel: where its centreline leaves its outside.
    fn foot(&self, piece: usize) -> Option<Foot> {
        let end = self.built.placed.lines.get(piece)?.end();
        let out = direction(end.heading_deg);
        let reach = self.outsides.get(piece)?.iter();
        let reach = reach
            .flat_map(corners)
            .map(|p| (p - end.at).dot(&out))
            .fold(0.0, f64::max);
        Some(Foot {
            piece,
            at: end.at + out * reach,
            out,
        })
    }

    /// The target levels of all vessels. Vessels of one form have theirs at the same distance from their ends, so that
    /// it is found but once for a row.
    fn targets(&self) -> Vec<Tick> {
        let mut known: Vec<(&Form, f64, Option<Level>)> = Vec::new();
        let mut ticks = Vec::new();
        for glass in &self.built.glass {
            let Some(target_ml) = glass.target_ml.filter(|ml| *ml > 0.0) else {
                continue;
            };
            let placed = &self.built.placed;
            let (Some(piece), Some(line)) = (placed.pieces.get(glass.piece), placed.lines.get(glass.piece)) else {
                continue;
            };
            let end = line.end();
            let found = known
                .iter()
                .find(|(form, ml, _)| *ml == target_ml && **form == piece.form)
                .map(|(.., found)| *found);
            let found = found.unwrap_or_else(|| {
                let found = self.target(glass.piece, target_ml, end);
                known.push((&piece.form, target_ml, found));
                found
            });
            if let Some(Level { height_mm, radius_mm }) = found {
                let at = end.at - direction(end.heading_deg) * height_mm;
                let heading = end.heading_deg.to_radians();
                ticks.push(across(glass.piece, TickKind::Target, at, heading, radius_mm));
            }
        }
        ticks
    }

    /// The level of a volume in a vessel that stands alone, its foot straight down.
    fn target(&self, piece: usize, target_ml: f64, end: Spot) -> Option<Level> {
        let volume = target_ml * MM3_PER_ML;
        let bores = self.bores.get(piece)?.iter();
        let primitives = bores.map(|p| Primitive { piece: 0, ..*p }).collect();
        let alone = Interior::new(vec![String::new()], primitives, Vec::new()).ok()?;
        // The stance whose up is against the vessel's heading: up = (sin t, cos t).
        let stance = Stance::new(-90.0 - end.heading_deg, 0.0);
        let settled = alone.at(stance).settle(&[(0, volume)]);
        let pool = settled.pools.first().filter(|_| settled.left_over == 0.0)?;
        let up = stance.up().xy();
        let height_mm = pool.level - up.dot(&end.at);
        let at = end.at + up * height_mm;
        let radius_mm = self
            .outsides
            .get(piece)?
            .iter()
            .filter_map(|outside| reach_across(outside, at, up))
            .fold(0.0, f64::max);
        (radius_mm > 0.0).then_some(Level { height_mm, radius_mm })
    }
}

/// Half the width of a section at the height of `at` when `up` points up.
fn reach_across(outside: &Primitive, at: Vector2<f64>, up: Vector2<f64>) -> Option<f64> {
    let stations = section::stations(&outside.shape, EXTENT_TOLERANCE_MM);
    let level = up.dot(&at);
    let cuts = section::surface(&stations, nalgebra::Vector3::new(up.x, up.y, 0.0), level);
    cuts.iter().flatten().map(|p| (p - at).norm()).max_by(f64::total_cmp)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geom::Shape;

    fn tube(piece: usize, from: [f64; 2], to: [f64; 2], r: f64) -> Primitive {
        Primitive {
            piece,
            shape: Shape::Frustum {
                from: from.into(),
                to: to.into(),
                r_from: r,
                r_to: r,
            },
        }
    }

    fn tee() -> Drawing {
        let outsides = vec![
            tube(0, [0.0, 0.0], [100.0, 0.0], 8.0),
            tube(1, [50.0, 0.0], [50.0, -40.0], 4.0),
        ];
        Drawing {
            pieces: vec!["header".into(), "arm".into()],
            cells: Cells::of(&outsides),
            outsides,
            ..Drawing::default()
        }
    }

    #[test]
    fn the_guest_is_found_where_it_is_fused_to_its_host() {
        let drawing = tee();
        assert_eq!(drawing.piece_at(Vector2::new(20.0, 3.0), 0.0), Some("header"));
        assert_eq!(drawing.piece_at(Vector2::new(50.0, -5.0), 0.0), Some("arm"));
        assert_eq!(drawing.piece_at(Vector2::new(50.0, -41.0), 0.0), None);
        assert_eq!(drawing.piece_at(Vector2::new(50.0, -41.0), 2.0), Some("arm"));
    }

    #[test]
    fn extents_hold_the_glass() {
        let drawing = tee();
        let bounds = drawing.bounds()[1].expect("an arm");
        assert_eq!(bounds[0], Vector2::new(46.0, -40.0));
        assert_eq!(bounds[2], Vector2::new(54.0, 0.0));
        let hull = drawing.hull();
        let corners = [
            (0.0, -8.0),
            (46.0, -40.0),
            (54.0, -40.0),
            (100.0, -8.0),
            (100.0, 8.0),
            (0.0, 8.0),
        ];
        assert_eq!(hull, corners.map(|(x, y)| Vector2::new(x, y)));
        let (_, radius) = circle(&hull);
        // The least circle runs through both ends of the header's lower side, or nearly.
        let least = 50.0_f64.hypot(8.0);
        assert!((least..least * 1.01).contains(&radius), "{radius} for {least}");
        assert_eq!(circle(&Drawing::default().hull()).1, 100.0);
    }

    #[test]
    fn a_target_stands_where_its_volume_does() {
        use crate::geom::build::build;
        let built = build(&crate::model::sample::apparatus()).expect("the sample");
        let drawing = Drawing::new(&built);
        let piece = built.vessels().next().expect("a vessel");
        let tick = drawing
            .ticks
            .iter()
            .find(|t| t.piece == piece && t.kind == TickKind::Target)
            .expect("a target");
        let interior =
            Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone()).expect("sound");
        // The sample's vials hang straight down, so the stance as drawn holds them upright.
        let below = interior.at(Stance::default()).below(piece, tick.ends[0].y);
        let wanted = built.glass[piece].target_ml.expect("a target") * MM3_PER_ML;
        assert!(
            (below.volume - wanted).abs() < 1e-6 * wanted,
            "{} for {wanted}",
            below.volume
        );
        assert!((tick.ends[0].y - tick.ends[1].y).abs() < 1e-9);
    }
}
