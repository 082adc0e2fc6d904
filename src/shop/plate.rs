//! The glass on a page: walls, centrelines, marks and names, for the template, the drawing and the pictures alike.

use super::names::Wanted;
use super::outline::Outlines;
use super::page::{Layer, Part, Placing, Point, Tone};
use crate::geom::build::Built;
use crate::geom::glass::{MarkKind, Path};
use crate::model::place::{Segment, direction};
use crate::model::{Element, Form, Seat};
use crate::out::drawing::{Drawing, TickKind};
use crate::out::section;
use nalgebra::Vector2;

/// How far marks reach beyond the glass, mm of the glass.
const BEYOND_MM: f64 = 2.0;
/// Half an arm of the cross where centrelines meet, mm of the page.
const CROSS: f64 = 3.0;

/// The finished drawing of an apparatus with its joined outlines.
pub struct Plate<'a> {
    /// What was built.
    pub built: &'a Built,
    /// Its drawing.
    pub drawing: Drawing,
    outlines: Outlines,
}

/// What is drawn beside the walls.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Details {
    /// Walls are tinted.
    pub tinted: bool,
    /// Centrelines.
    pub centrelines: bool,
    /// Where bends and necks begin and end, and where centrelines meet.
    pub marks: bool,
    /// Seal-off places and target levels.
    pub ticks: bool,
    /// The outside alone, in a thin line: for pictures so small that both lines of a wall would run together.
    pub is_small: bool,
}

/// Below this scale a picture is small.
pub const SMALL: f64 = 0.4;

impl<'a> Plate<'a> {
    /// The plate of what was built.
    pub fn of(built: &'a Built) -> Self {
        Self {
            built,
            drawing: Drawing::new(built),
            outlines: Outlines::of(built),
        }
    }

    /// Least and greatest coordinates of the glass when it is turned by `turn` radians; a point when there is none.
    pub fn extent(&self, turn: f64) -> [Vector2<f64>; 2] {
        let hull = self.drawing.hull();
        let rotation = nalgebra::Rotation2::new(turn);
        let turned = hull.iter().map(|p| rotation * p);
        let ends = turned
            .map(|p| (p, p))
            .reduce(|(low, high), (p, _)| (low.inf(&p), high.sup(&p)));
        ends.map_or([Vector2::zeros(); 2], |(low, high)| [low, high])
    }

    /// Draws the glass.
    pub fn draw(&self, part: &mut Part, placing: &Placing, details: Details) {
        if details.tinted {
            for glass in &self.drawing.glass {
                part.fill(Tone::Wall, placing.path(&glass.outer));
            }
            for glass in &self.drawing.glass {
                part.fill(Tone::White, placing.path(&glass.inner));
            }
        }
        self.draw_lines(part, placing, details);
    }

    /// Draws the lines alone, over what was filled.
    pub fn draw_lines(&self, part: &mut Part, placing: &Placing, details: Details) {
        if details.centrelines {
            for glass in self
                .drawing
                .glass
                .iter()
                .filter(|glass| !glass.centreline.strokes.is_empty())
            {
                part.path(Layer::Centre, placing.path(&glass.centreline));
            }
        }
        let lines = if details.is_small {
            vec![(Layer::Bore, &self.outlines.outer)]
        } else {
            vec![(Layer::Bore, &self.outlines.inner), (Layer::Wall, &self.outlines.outer)]
        };
        for (layer, paths) in lines {
            for (_, path) in paths {
                part.path(layer, placing.path(path));
            }
        }
        if details.marks {
            self.draw_tangents(part, placing);
            self.draw_crosses(part, placing);
        }
        if details.ticks {
            for tick in &self.drawing.ticks {
                let layer = match tick.kind {
                    TickKind::Seal => Layer::Seal,
                    TickKind::Target => Layer::Level,
                };
                let [from, to] = tick.ends.map(|p| placing.point(p));
                part.line(layer, from, to);
            }
        }
    }

    /// Bars across the glass where bends, tapers and necks begin and end.
    fn draw_tangents(&self, part: &mut Part, placing: &Placing) {
        for (at, along, radius_mm) in self.tangents() {
            let across = Vector2::new(-along.y, along.x) * (radius_mm + BEYOND_MM);
            part.line(Layer::Tangent, placing.point(at - across), placing.point(at + across));
        }
    }

    /// Where bends, tapers and necks begin and end: the place on the centreline, its direction and the radius of the
    /// glass, mm.
    pub fn tangents(&self) -> Vec<(Vector2<f64>, Vector2<f64>, f64)> {
        let mut found = Vec::new();
        let placed = &self.built.placed;
        for (piece, line) in placed.pieces.iter().zip(&placed.lines) {
            let mut spot = |at_mm: f64, od_mm: f64| {
                let spot = line.spot(at_mm);
                found.push((spot.at, direction(spot.heading_deg), od_mm / 2.0));
            };
            match &piece.form {
                Form::Tube(tube) => {
                    let mut at = 0.0;
                    let mut od_mm = tube.size.od_mm;
                    for (element, segment) in tube.course.iter().zip(&line.segments) {
                        let length = segment.length_mm();
                        match *element {
                            Element::Straight { .. } => {}
                            Element::Bend { .. } | Element::Bulb { .. } => {
                                spot(at, od_mm);
                                spot(at + length, od_mm);
                            }
                            Element::Taper { to, .. } => {
                                spot(at, od_mm);
                                od_mm = to.od_mm;
                                spot(at + length, od_mm);
                            }
                            Element::Neck {
                                size,
                                taper_mm,
                                length_mm,
                            } => {
                                spot(at, od_mm);
                                spot(at + taper_mm, size.od_mm);
                                spot(at + taper_mm + length_mm, size.od_mm);
                                spot(at + length, od_mm);
                            }
                        }
                        at += length;
                    }
                }
                Form::Bridge(bridge) => {
                    let mut at = 0.0;
                    for segment in &line.segments {
                        let length = segment.length_mm();
                        if matches!(segment, Segment::Arc { .. }) {
                            spot(at, bridge.size.od_mm);
                            spot(at + length, bridge.size.od_mm);
                        }
                        at += length;
                    }
                }
                Form::Ampoule(ampoule) => {
                    let neck = ampoule.stem_mm + ampoule.funnel_mm;
                    spot(ampoule.stem_mm, ampoule.stem.od_mm);
                    spot(neck, ampoule.neck.od_mm);
                    spot(neck + ampoule.neck_mm, ampoule.neck.od_mm);
                    spot(neck + ampoule.neck_mm + ampoule.shoulder_mm, ampoule.body.od_mm);
                }
                Form::Bulb(_) | Form::Fitting(_) => {}
            }
        }
        found
    }

    /// Crosses where the centreline of a guest meets that of its host.
    fn draw_crosses(&self, part: &mut Part, placing: &Placing) {
        for at in self.meetings() {
            let p = placing.point(at);
            let (x, y) = (Vector2::new(CROSS, 0.0), Vector2::new(0.0, CROSS));
            part.line(Layer::Cross, p - x, p + x);
            part.line(Layer::Cross, p - y, p + y);
            part.circle(Layer::Cross, p, CROSS / 3.0);
        }
    }

    /// Where the centrelines of guests meet those of their hosts, mm.
    pub fn meetings(&self) -> Vec<Vector2<f64>> {
        let placed = &self.built.placed;
        let lines = placed.pieces.iter().zip(&placed.lines);
        let ends = lines.flat_map(|(piece, line)| match piece.seat {
            Seat::Free { .. } => vec![],
            Seat::On(_) => vec![line.start.at],
            Seat::Between { .. } => vec![line.start.at, line.end().at],
        });
        ends.collect()
    }

    /// Whether glass, grown by a margin of the page, lies at a point of the page.
    pub fn is_at(&self, placing: &Placing, p: Point, margin: f64) -> bool {
        let point = placing.back(p);
        let margin_mm = margin / placing.scale;
        let mut outsides = self.drawing.outsides.iter();
        outsides.any(|outside| section::contains(&outside.shape, point, margin_mm))
    }

    /// The names of pieces with the places where they may stand; of the vessels alone where that is asked for.
    pub fn names(&self, placing: &Placing, vessels_only: bool) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        for glass in &self.drawing.glass {
            let Some(name) = self.drawing.pieces.get(glass.piece) else {
                continue;
            };
            let is_vessel = self
                .built
                .placed
                .pieces
                .get(glass.piece)
                .is_some_and(|piece| matches!(piece.form, Form::Ampoule(_) | Form::Bulb(_)));
            if vessels_only && !is_vessel {
                continue;
            }
            let mut spots = Vec::new();
            let feet = self.drawing.feet.iter().filter(|foot| foot.piece == glass.piece);
            spots.extend(feet.map(|foot| (placing.point(foot.at), placing.way(foot.out))));
            spots.extend(beside(&glass.outer, placing));
            let mut text = name.clone();
            if self.is_fitting(glass.piece) {
                for mark in glass.marks.iter().filter_map(|mark| told(&mark.kind)) {
                    text += &format!(", {mark}");
                }
            }
            wanted.push(Wanted { text, spots });
        }
        wanted
    }

    fn is_fitting(&self, piece: usize) -> bool {
        let piece = self.built.placed.pieces.get(piece);
        piece.is_some_and(|piece| matches!(piece.form, Form::Fitting(_)))
    }

    /// What stands at the joints and stopcocks of tubes; a fitting's name says what it is.
    pub fn fittings(&self, placing: &Placing) -> Vec<Wanted> {
        let mut wanted = Vec::new();
        let tubes = self.drawing.glass.iter().filter(|glass| !self.is_fitting(glass.piece));
        for mark in tubes.flat_map(|glass| &glass.marks) {
            let Some(text) = told(&mark.kind) else { continue };
            // Straight on first, then ever more to both sides.
            let spots = [0.0_f64, 30.0, -30.0, 60.0, -60.0, 90.0, -90.0].map(|turn_deg| {
                let turn = turn_deg.to_radians();
                let (sin, cos) = (mark.heading + turn).sin_cos();
                let way = Vector2::new(cos, sin);
                let reach = mark.radius * turn.sin().abs();
                (placing.point(mark.at + way * reach), placing.way(way))
            });
            wanted.push(Wanted {
                text,
                spots: spots.to_vec(),
            });
        }
        wanted
    }
}

/// What a joint or stopcock is; a connection to a line says by its piece's name what it is.
fn told(mark: &MarkKind) -> Option<String> {
    match mark {
        MarkKind::Seal | MarkKind::Line => None,
        MarkKind::Joint { designation, stoppered } if *stoppered => Some(format!("{designation}, stopper")),
        MarkKind::Joint { designation, .. } => Some(designation.clone()),
        MarkKind::Stopcock { .. } => Some("stopcock".to_owned()),
    }
}

/// Places along an outline, from its middle outwards, with the way away from the glass.
fn beside(outline: &Path, placing: &Placing) -> Vec<(Point, Vector2<f64>)> {
    let points = placing.path(outline).points(0.2);
    let n = points.len();
    let area: f64 = (0..n).map(|i| points[i].perp(&points[(i + 1) % n])).sum();
    let mut spots = Vec::new();
    for i in 0..n {
        let (a, b) = (points[i], points[(i + 1) % n]);
        let way = b - a;
        let length = way.norm();
        let Some(along) = way.try_normalize(1e-9) else { continue };
        let away = Vector2::new(along.y, -along.x) * area.signum();
        let steps = (length / 6.0).ceil().max(1.0) as usize;
        // Long sides first.
        spots.extend((0..steps).map(|k| {
            let part = (k as f64 + 0.5) / steps as f64;
            let off = (part - 0.5).abs() * length;
            (length.min(60.0) - off, a + way * part, away)
        }));
    }
    spots.sort_by(|a, b| b.0.total_cmp(&a.0));
    spots.truncate(60);
    spots.into_iter().map(|(_, at, away)| (at, away)).collect()
}
