//! The apparatus as a finished, flat drawing in millimetres of the apparatus frame, x to the right and y up.
//!
//! It holds outlines, marks and places, says to which piece each belongs, and knows nothing of a screen or a page.

use super::section;
use crate::geom::build::Built;
use crate::geom::glass::{Glass, MarkKind};
use crate::geom::{Interior, Port, Primitive, Stance};
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
        Self {
            ticks: seals
                .chain(built.glass.iter().filter_map(|glass| target(built, glass)))
                .collect(),
            feet: built.vessels().filter_map(|piece| foot(built, piece)).collect(),
            pieces: built.names.clone(),
            glass: built.glass.clone(),
            outsides: built.outsides.clone(),
            mouths: built.ports.clone(),
        }
    }

    /// Corners of the smallest upright rectangle around a piece's glass; `None` when it has none.
    pub fn bounds_of(&self, piece: usize) -> Option<[Vector2<f64>; 4]> {
        let own = self.outsides.iter().filter(|outside| outside.piece == piece);
        let (low, high) = extent(own)?;
        Some([low, Vector2::new(high.x, low.y), high, Vector2::new(low.x, high.y)])
    }

    /// Least and greatest coordinates of all of the glass; `None` when there is none.
    pub fn extent(&self) -> Option<(Vector2<f64>, Vector2<f64>)> {
        extent(self.outsides.iter())
    }

    /// Centre and radius of a circle around all of the glass, mm; a circle of 100 mm when there is none. Its radius
    /// exceeds the least possible one by less than a hundredth.
    pub fn circle(&self) -> (Vector2<f64>, f64) {
        let points: Vec<_> = self.outsides.iter().flat_map(corners).collect();
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

    /// Name of the piece whose glass or bore, grown by `margin_mm`, holds `point`. Where several do, the one that
    /// comes last: a guest is fused onto its host and comes after it.
    pub fn piece_at(&self, point: Vector2<f64>, margin_mm: f64) -> Option<&str> {
        let inside = |margin: f64| {
            let mut from_last = self.outsides.iter().rev();
            from_last.find(|outside| section::contains(&outside.shape, point, margin))
        };
        let found = inside(0.0).or_else(|| inside(margin_mm))?;
        self.pieces.get(found.piece).map(String::as_str)
    }
}

fn corners(outside: &Primitive) -> Vec<Vector2<f64>> {
    section::outline(&section::stations(&outside.shape, EXTENT_TOLERANCE_MM))
}

/// Least and greatest coordinates of the sections.
fn extent<'a>(shapes: impl Iterator<Item = &'a Primitive>) -> Option<(Vector2<f64>, Vector2<f64>)> {
    shapes.flat_map(corners).fold(None, |found, p| match found {
        None => Some((p, p)),
        Some((low, high)) => Some((low.inf(&p), high.sup(&p))),
    })
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

/// The foot of a vessel: where its centreline leaves its outside.
fn foot(built: &Built, piece: usize) -> Option<Foot> {
    let end = built.placed.lines.get(piece)?.end();
    let heading = end.heading_deg.to_radians();
    let out = Vector2::new(heading.cos(), heading.sin());
    let own = built.outsides.iter().filter(|outside| outside.piece == piece);
    let reach = own
        .flat_map(corners)
        .map(|p| (p - end.at).dot(&out))
        .fold(0.0, f64::max);
    Some(Foot {
        piece,
        at: end.at + out * reach,
        out,
    })
}

/// The level of the target volume in a vessel that stands alone, its foot straight down.
fn target(built: &Built, glass: &Glass) -> Option<Tick> {
    let volume = glass.target_ml.filter(|ml| *ml > 0.0)? * MM3_PER_ML;
    let end = built.placed.lines.get(glass.piece)?.end();
    let own = |p: &&Primitive| p.piece == glass.piece;
    let primitives = built
        .primitives
        .iter()
        .filter(own)
        .map(|p| Primitive { piece: 0, ..*p })
        .collect();
    let alone = Interior::new(vec![String::new()], primitives, Vec::new()).ok()?;
    // The stance whose up is against the vessel's heading: up = (sin t, cos t).
    let stance = Stance::new(-90.0 - end.heading_deg, 0.0);
    let settled = alone.at(stance).settle(&[(0, volume)]);
    let pool = settled.pools.first().filter(|_| settled.left_over == 0.0)?;
    let up = stance.up().xy();
    let at = end.at + up * (pool.level - up.dot(&end.at));
    let wall = built.outsides.iter().filter(|outside| outside.piece == glass.piece);
    let radius = wall
        .filter_map(|outside| reach_across(outside, at, up))
        .fold(0.0, f64::max);
    (radius > 0.0).then(|| across(glass.piece, TickKind::Target, at, end.heading_deg.to_radians(), radius))
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
        Drawing {
            pieces: vec!["header".into(), "arm".into()],
            outsides: vec![
                tube(0, [0.0, 0.0], [100.0, 0.0], 8.0),
                tube(1, [50.0, 0.0], [50.0, -40.0], 4.0),
            ],
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
        let bounds = drawing.bounds_of(1).expect("an arm");
        assert_eq!(bounds[0], Vector2::new(46.0, -40.0));
        assert_eq!(bounds[2], Vector2::new(54.0, 0.0));
        let (_, radius) = drawing.circle();
        // The least circle runs through both ends of the header's lower side, or nearly.
        let least = 50.0_f64.hypot(8.0);
        assert!((least..least * 1.01).contains(&radius), "{radius} for {least}");
        assert_eq!(drawing.bounds_of(7), None);
        assert_eq!(Drawing::default().circle().1, 100.0);
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
