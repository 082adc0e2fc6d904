//! From the apparatus to its interior and its drawn walls. The only file of the engine that knows the model.
//!
//! - The bore is the outside minus the wall: a tube, stem, neck or body is a frustum of its bore; a rounded end is
//!   a sphere of the bore's radius about the centre of the last disc; a bend is a torus.
//! - Elements of a course share their end discs: both take the point from the centreline.
//! - What sits on a host starts on the host's centreline. Hosts come before guests, so that shared volume counts for
//!   the host.
//! - An in-line bulb is a spheroid whose poles lie one wall inside its length, with the tube running through it.
//! - A bulb's neck runs to the centre of its sphere. A pear adds a cone that touches the sphere, a flask a cone that
//!   touches the sphere and ends in the flat at the sphere's lowest point.
//! - An open end is a port unless another piece sits there.

use super::glass::{Glass, Mark, MarkKind, Path, Sides, Stroke};
use super::{Port, Primitive, Shape};
use crate::model::check::Fault;
use crate::model::place::{CONTACT_MM, Centreline, Placed, Segment, Spot, direction};
use crate::model::{
    Ampoule, Apparatus, Bottom, Bridge, Bulb, BulbShape, Element, End, Fitting, FittingKind, Form, Seat, Tube, TubeSize,
};
use nalgebra::Vector2;
use std::collections::HashMap;
use std::f64::consts::{FRAC_PI_2, PI};
use thiserror::Error;

/// Why an apparatus has no interior.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum BuildError {
    /// It does not hold together.
    #[error(transparent)]
    Fault(#[from] Fault),
}

/// An apparatus as bores and walls.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Built {
    /// Names of the pieces, members of rows included; a piece's index is its place here.
    pub names: Vec<String>,
    /// The interior, hosts before guests.
    pub primitives: Vec<Primitive>,
    /// The same chain of shapes at the outside of the walls, for clearances. A flat floor's thickness is left out.
    pub outsides: Vec<Primitive>,
    /// Where the interior meets the outside.
    pub ports: Vec<Port>,
    /// The walls, one for each piece.
    pub glass: Vec<Glass>,
    /// Where everything stands, and what could not stand as asked.
    pub placed: Placed,
}

impl Built {
    /// Indices of the pieces that are to be filled: the ampoules.
    pub fn vessels(&self) -> impl Iterator<Item = usize> {
        self.glass
            .iter()
            .filter(|glass| glass.target_ml.is_some())
            .map(|glass| glass.piece)
    }
}

/// Half the angle between the sides of a pear's cone where the neck has room for it, radians. With 30 degrees the
/// cone's apex lies two radii from the centre: the usual pear.
const PEAR_HALF_ANGLE: f64 = PI / 6.0;

/// Builds the interior and the walls.
///
/// # Errors
/// When the apparatus does not hold together.
pub fn build(apparatus: &Apparatus) -> Result<Built, BuildError> {
    let placed = apparatus.place()?;
    let mut built = Built {
        names: placed.pieces.iter().map(|piece| piece.name.clone()).collect(),
        ..Built::default()
    };
    let taken = Taken::new(&placed);
    for &piece in &placed.order {
        let line = &placed.lines[piece];
        let mut maker = Maker::new(piece, line);
        let (open_start, open_end) = match &placed.pieces[piece].form {
            Form::Tube(tube) => maker.tube(tube, matches!(placed.pieces[piece].seat, Seat::Free { .. })),
            Form::Bulb(bulb) => maker.bulb(bulb),
            Form::Bridge(bridge) => maker.bridge(bridge),
            Form::Ampoule(ampoule) => maker.ampoule(ampoule),
            Form::Fitting(fitting) => maker.fitting(fitting),
        };
        // What sits on a host is fused there.
        let open_start = open_start.filter(|_| matches!(placed.pieces[piece].seat, Seat::Free { .. }));
        if let Some(r) = open_start.filter(|_| !taken.start[piece]) {
            let Spot { at, heading_deg } = line.start;
            built.ports.push(Port {
                piece,
                at,
                heading: radians(heading_deg + 180.0),
                r,
            });
        }
        if let Some(r) = open_end.filter(|_| !taken.end[piece]) {
            let Spot { at, heading_deg } = line.end();
            built.ports.push(Port {
                piece,
                at,
                heading: radians(heading_deg),
                r,
            });
        }
        built.primitives.append(&mut maker.primitives);
        built.outsides.append(&mut maker.outsides);
        built.glass.push(maker.glass());
    }
    built.glass.sort_by_key(|glass| glass.piece);
    built.placed = placed;
    Ok(built)
}

/// Which ends have another piece sitting on them.
struct Taken {
    start: Vec<bool>,
    end: Vec<bool>,
}

impl Taken {
    fn new(placed: &Placed) -> Self {
        let names = placed
            .pieces
            .iter()
            .enumerate()
            .map(|(i, piece)| (piece.name.as_str(), i));
        let index: HashMap<&str, usize> = names.collect();
        let mut taken = Self {
            start: vec![false; placed.pieces.len()],
            end: vec![false; placed.pieces.len()],
        };
        for place in placed.pieces.iter().flat_map(|piece| piece.seat.places()) {
            if let Some(&host) = index.get(place.host.as_str()) {
                taken.start[host] |= place.at_mm <= CONTACT_MM;
                taken.end[host] |= place.at_mm >= placed.lines[host].length_mm - CONTACT_MM;
            }
        }
        taken
    }
}

/// Angle in radians of an angle in degrees, brought into (-180, 180] first.
fn radians(deg: f64) -> f64 {
    let deg = deg.rem_euclid(360.0);
    (if deg > 180.0 { deg - 360.0 } else { deg }).to_radians()
}

/// Radii of the bore and of the outside.
#[derive(Clone, Copy)]
struct Radii {
    inside: f64,
    outside: f64,
}

impl From<TubeSize> for Radii {
    fn from(size: TubeSize) -> Self {
        Self {
            inside: size.bore_mm() / 2.0,
            outside: size.od_mm / 2.0,
        }
    }
}

/// Radius of a port, where an end is open.
type Open = Option<f64>;

struct Maker<'a> {
    piece: usize,
    line: &'a Centreline,
    primitives: Vec<Primitive>,
    outsides: Vec<Primitive>,
    inner: Sides,
    outer: Sides,
    marks: Vec<Mark>,
    target_ml: Option<f64>,
}

impl<'a> Maker<'a> {
    fn new(piece: usize, line: &'a Centreline) -> Self {
        Self {
            piece,
            line,
            primitives: Vec::new(),
            outsides: Vec::new(),
            inner: Sides::default(),
            outer: Sides::default(),
            marks: Vec::new(),
            target_ml: None,
        }
    }

    fn glass(self) -> Glass {
        let mut strokes = Vec::new();
        for segment in &self.line.segments {
            strokes.push(match *segment {
                Segment::Line { to, .. } => Stroke::Line { to },
                Segment::Arc {
                    centre,
                    radius_mm,
                    heading_deg,
                    turn_deg,
                    ..
                } => Stroke::Arc {
                    centre,
                    heading: 0.0,
                    semi_axial: radius_mm,
                    semi_radial: radius_mm,
                    start: arc_start(heading_deg, turn_deg),
                    sweep: turn_deg.to_radians(),
                },
            });
        }
        Glass {
            piece: self.piece,
            outer: self.outer.outline(),
            inner: self.inner.outline(),
            centreline: Path {
                start: self.line.start.at,
                strokes,
                closed: false,
            },
            marks: self.marks,
            target_ml: self.target_ml,
        }
    }

    fn inside(&mut self, shape: Shape) {
        self.primitives.push(Primitive {
            piece: self.piece,
            shape,
        });
    }

    fn outside(&mut self, shape: Shape) {
        self.outsides.push(Primitive {
            piece: self.piece,
            shape,
        });
    }

    fn mark(&mut self, kind: MarkKind, spot: Spot, radius: f64) {
        self.marks.push(Mark {
            kind,
            at: spot.at,
            heading: radians(spot.heading_deg),
            radius,
        });
    }

    /// A straight part between two discs.
    fn cone(&mut self, from: Vector2<f64>, to: Vector2<f64>, along: Vector2<f64>, first: Radii, last: Radii) {
        self.inside(Shape::Frustum {
            from,
            to,
            r_from: first.inside,
            r_to: last.inside,
        });
        self.outside(Shape::Frustum {
            from,
            to,
            r_from: first.outside,
            r_to: last.outside,
        });
        for (at, radii) in [(from, first), (to, last)] {
            self.inner.disc(at, along, radii.inside);
            self.outer.disc(at, along, radii.outside);
        }
    }

    fn sphere(&mut self, centre: Vector2<f64>, radii: Radii) {
        let shape = |r| Shape::Spheroid {
            centre,
            heading: 0.0,
            semi_axial: r,
            semi_radial: r,
        };
        self.inside(shape(radii.inside));
        self.outside(shape(radii.outside));
    }

    /// A rounded end beyond a disc; `t` runs from the rim to the pole (or from the pole at a start).
    fn dome(&mut self, spot: Spot, radii: Radii, t: (f64, f64)) {
        self.sphere(spot.at, radii);
        let heading = radians(spot.heading_deg);
        self.inner
            .oval(spot.at, heading, (radii.inside, radii.inside), t.0, t.1);
        self.outer
            .oval(spot.at, heading, (radii.outside, radii.outside), t.0, t.1);
    }

    fn bend(&mut self, segment: &Segment, radii: Radii) {
        let Segment::Arc {
            centre,
            radius_mm: radius,
            heading_deg,
            turn_deg,
            from,
            to,
        } = *segment
        else {
            return;
        };
        if turn_deg == 0.0 {
            return;
        }
        let (start, sweep) = (arc_start(heading_deg, turn_deg), turn_deg.to_radians());
        if radius < radii.inside {
            // No room for a bend: a mitre, rounded outside. Only corners of bridges can come to this.
            let corner = from + direction(heading_deg) * (radius * (sweep.abs() / 2.0).tan());
            self.cone(from, corner, direction(heading_deg), radii, radii);
            self.sphere(corner, radii);
            self.cone(corner, to, direction(heading_deg + turn_deg), radii, radii);
            return;
        }
        self.inside(Shape::Torus {
            centre,
            radius,
            r: radii.inside,
            start,
            sweep,
        });
        // The outside of the wall may be thicker than the bend's radius allows; there its bend is filled.
        let r = radii.outside.min(radius);
        self.outside(Shape::Torus {
            centre,
            radius,
            r,
            start,
            sweep,
        });
        self.inner.bend(centre, radius, radii.inside, start, sweep);
        self.outer.bend(centre, radius, radii.outside, start, sweep);
    }

    fn tube(&mut self, tube: &Tube, free: bool) -> (Open, Open) {
        let mut now = Radii::from(tube.size);
        let start = self.line.start;
        let mut open_start = None;
        if free {
            let back = Spot {
                heading_deg: start.heading_deg + 180.0,
                ..start
            };
            open_start = self.end_mark(&tube.start, back, now);
            match tube.start {
                End::Round => self.dome(start, now, (PI, FRAC_PI_2)),
                End::Flat => {
                    let along = direction(start.heading_deg);
                    self.outer
                        .disc(start.at - along * tube.size.wall_mm, along, now.outside);
                }
                End::Open | End::Joint { .. } | End::Port => {}
            }
        }
        let mut wall_mm = tube.size.wall_mm;
        for (element, segment) in tube.course.iter().zip(&self.line.segments) {
            let (from, to) = (segment.from(), segment.to());
            let along = direction(segment.end_heading_deg());
            match *element {
                Element::Straight { .. } => self.cone(from, to, along, now, now),
                Element::Bend { .. } => self.bend(segment, now),
                Element::Taper { to: size, .. } => {
                    self.cone(from, to, along, now, size.into());
                    now = size.into();
                    wall_mm = size.wall_mm;
                }
                Element::Neck {
                    size,
                    taper_mm,
                    length_mm,
                } => {
                    let (first, second) = (from + along * taper_mm, from + along * (taper_mm + length_mm));
                    self.cone(from, first, along, now, size.into());
                    self.cone(first, second, along, size.into(), size.into());
                    self.cone(second, to, along, size.into(), now);
                    let middle = from + along * (taper_mm + length_mm / 2.0);
                    let spot = Spot {
                        at: middle,
                        heading_deg: segment.end_heading_deg(),
                    };
                    self.mark(MarkKind::Seal, spot, size.od_mm / 2.0);
                }
                Element::Bulb { size, length_mm } => {
                    let heading = radians(segment.end_heading_deg());
                    self.blown(from, to, (along, heading), now, (length_mm / 2.0, size));
                }
            }
        }
        let end = self.line.end();
        let open_end = self.end_mark(&tube.end, end, now);
        match tube.end {
            End::Round => self.dome(end, now, (FRAC_PI_2, 0.0)),
            End::Flat => {
                let along = direction(end.heading_deg);
                self.outer.disc(end.at + along * wall_mm, along, now.outside);
            }
            End::Open | End::Joint { .. } | End::Port => {}
        }
        (open_start, open_end)
    }

    /// A bulb blown in line; `half` is half its outside length and its size.
    fn blown(
        &mut self,
        from: Vector2<f64>,
        to: Vector2<f64>,
        (along, heading): (Vector2<f64>, f64),
        tube: Radii,
        (half_mm, size): (f64, TubeSize),
    ) {
        let centre = from + along * half_mm;
        let body = Radii::from(size);
        let inside = (half_mm - size.wall_mm, body.inside);
        let outside = (half_mm, body.outside);
        self.inside(Shape::Frustum {
            from,
            to,
            r_from: tube.inside,
            r_to: tube.inside,
        });
        self.outside(Shape::Frustum {
            from,
            to,
            r_from: tube.outside,
            r_to: tube.outside,
        });
        let shape = |(semi_axial, semi_radial)| Shape::Spheroid {
            centre,
            heading,
            semi_axial,
            semi_radial,
        };
        self.inside(shape(inside));
        self.outside(shape(outside));
        for (sides, semi, r) in [
            (&mut self.inner, inside, tube.inside),
            (&mut self.outer, outside, tube.outside),
        ] {
            sides.disc(from, along, r);
            // Where the spheroid comes out of the tube; a bulb no wider than its tube does not show.
            if r < semi.1 {
                let t = (r / semi.1).asin();
                sides.oval(centre, heading, semi, PI - t, t);
            }
            sides.disc(to, along, r);
        }
    }

    /// Marks an end and gives the radius of its port if it is open.
    fn end_mark(&mut self, end: &End, spot: Spot, radii: Radii) -> Open {
        match end {
            End::Open => Some(radii.inside),
            End::Round | End::Flat => None,
            End::Joint { designation, stoppered } => {
                let kind = MarkKind::Joint {
                    designation: designation.clone(),
                    stoppered: *stoppered,
                };
                self.mark(kind, spot, radii.outside);
                (!stoppered).then_some(radii.inside)
            }
            End::Port => {
                self.mark(MarkKind::Line, spot, radii.outside);
                Some(radii.inside)
            }
        }
    }

    fn bulb(&mut self, bulb: &Bulb) -> (Open, Open) {
        let Spot { at: mouth, heading_deg } = self.line.start;
        let (along, heading) = (direction(heading_deg), radians(heading_deg));
        let at = |s: f64| mouth + along * s;
        let (body, neck) = (Radii::from(bulb.body), Radii::from(bulb.neck));
        let centre = at(bulb.neck_mm);
        for (is_inside, radius, r) in [(true, body.inside, neck.inside), (false, body.outside, neck.outside)] {
            let pear = match bulb.shape {
                BulbShape::Pear => pear_cone(bulb.neck_mm, radius, r),
                BulbShape::Sphere | BulbShape::Flask { .. } => None,
            };
            let foot = match bulb.shape {
                // The foot's walls are parallel when the flats are in proportion to the spheres.
                BulbShape::Flask { flat_mm } if flat_mm > 0.0 => {
                    Some((flat_mm / 2.0 * radius / body.outside).min(radius))
                }
                _ => None,
            };
            let mut shapes = Vec::with_capacity(3);
            let sides = if is_inside { &mut self.inner } else { &mut self.outer };
            let frustum = |s0: f64, s1: f64, r_from, r_to| Shape::Frustum {
                from: at(s0),
                to: at(s1),
                r_from,
                r_to,
            };
            shapes.push(Shape::Spheroid {
                centre,
                heading: 0.0,
                semi_axial: radius,
                semi_radial: radius,
            });
            sides.disc(mouth, along, r);
            // Parameter of the sphere's arc where it comes out of the neck or cone; PI is the pole at the neck.
            let mut emerge = PI - (r / radius).min(1.0).asin();
            match pear {
                Some(cone) => {
                    if cone.start_mm > 1e-6 {
                        shapes.push(frustum(0.0, cone.start_mm, r, r));
                    }
                    shapes.push(frustum(cone.start_mm, cone.touch_mm, r, cone.touch_r));
                    sides.disc(at(cone.start_mm), along, r);
                    emerge = FRAC_PI_2 + cone.half_angle;
                }
                None => shapes.push(frustum(0.0, bulb.neck_mm, r, r)),
            }
            match foot {
                Some(foot_r) => {
                    // The foot's side touches the sphere at twice the angle under which the flat's rim is seen.
                    let touch = 2.0 * foot_r.atan2(radius);
                    let from = bulb.neck_mm + radius * touch.cos();
                    shapes.push(frustum(from, bulb.neck_mm + radius, radius * touch.sin(), foot_r));
                    sides.oval(centre, heading, (radius, radius), emerge, touch);
                    sides.disc(at(bulb.neck_mm + radius), along, foot_r);
                }
                None => sides.oval(centre, heading, (radius, radius), emerge, 0.0),
            }
            for shape in shapes {
                if is_inside {
                    self.inside(shape)
                } else {
                    self.outside(shape)
                }
            }
        }
        (Some(neck.inside), None)
    }

    fn bridge(&mut self, bridge: &Bridge) -> (Open, Open) {
        let radii = Radii::from(bridge.size);
        let mut before: Option<f64> = None;
        for segment in &self.line.segments {
            match *segment {
                Segment::Line {
                    from, to, heading_deg, ..
                } => {
                    // A corner drawn without an arc is closed by a sphere.
                    if before.is_some_and(|before| before != heading_deg) {
                        self.sphere(from, radii);
                    }
                    self.cone(from, to, direction(heading_deg), radii, radii);
                    before = Some(heading_deg);
                }
                Segment::Arc { .. } => {
                    self.bend(segment, radii);
                    before = None;
                }
            }
        }
        (None, None)
    }

    fn ampoule(&mut self, ampoule: &Ampoule) -> (Open, Open) {
        let start = self.line.start;
        let along = direction(start.heading_deg);
        let (stem, neck, body) = (
            Radii::from(ampoule.stem),
            Radii::from(ampoule.neck),
            Radii::from(ampoule.body),
        );
        let floor = match ampoule.bottom {
            Bottom::Flat => ampoule.body.wall_mm,
            Bottom::Round | Bottom::Conical { .. } => 0.0,
        };
        let parts = [
            (ampoule.stem_mm, stem, stem),
            (ampoule.funnel_mm, stem, neck),
            (ampoule.neck_mm, neck, neck),
            (ampoule.shoulder_mm, neck, body),
            (ampoule.body_mm - floor, body, body),
        ];
        let (mut from, mut s) = (start.at, 0.0);
        for (length, first, last) in parts {
            s += length;
            let to = start.at + along * s;
            self.cone(from, to, along, first, last);
            from = to;
        }
        let end = Spot {
            at: from,
            heading_deg: start.heading_deg,
        };
        match ampoule.bottom {
            Bottom::Round => self.dome(end, body, (FRAC_PI_2, 0.0)),
            Bottom::Flat => self.outer.disc(from + along * floor, along, body.outside),
            Bottom::Conical { length_mm } => {
                let tip = from + along * length_mm;
                // The outside runs parallel at one wall's distance; its tip lies farther by wall / sin(half angle).
                let slope = length_mm.hypot(body.inside);
                let outer_tip = tip + along * (ampoule.body.wall_mm * slope / body.inside);
                // Where the parallel of the cone meets the straight outside of the body.
                let knee = from + along * (ampoule.body.wall_mm * (slope - length_mm) / body.inside);
                self.inside(Shape::Frustum {
                    from,
                    to: tip,
                    r_from: body.inside,
                    r_to: 0.0,
                });
                self.outside(Shape::Frustum {
                    from: knee,
                    to: outer_tip,
                    r_from: body.outside,
                    r_to: 0.0,
                });
                self.inner.disc(tip, along, 0.0);
                self.outer.disc(knee, along, body.outside);
                self.outer.disc(outer_tip, along, 0.0);
            }
        }
        let seal = start.at + along * (ampoule.stem_mm + ampoule.funnel_mm + ampoule.seal_mm);
        self.mark(MarkKind::Seal, Spot { at: seal, ..start }, neck.outside);
        self.target_ml = Some(ampoule.target_ml);
        (Some(stem.inside), None)
    }

    fn fitting(&mut self, fitting: &Fitting) -> (Open, Open) {
        let radii = Radii::from(fitting.size);
        let (start, end) = (self.line.start, self.line.end());
        self.cone(start.at, end.at, direction(start.heading_deg), radii, radii);
        let open = match &fitting.kind {
            FittingKind::VacuumPort | FittingKind::GasPort => {
                self.mark(MarkKind::Line, end, radii.outside);
                true
            }
            FittingKind::Stopcock { open } => {
                self.mark(MarkKind::Stopcock { open: *open }, end, radii.outside);
                *open
            }
            FittingKind::Joint { designation, stoppered } => {
                let kind = MarkKind::Joint {
                    designation: designation.clone(),
                    stoppered: *stoppered,
                };
                self.mark(kind, end, radii.outside);
                !stoppered
            }
            FittingKind::Cap => {
                self.dome(end, radii, (FRAC_PI_2, 0.0));
                false
            }
        };
        (Some(radii.inside), open.then_some(radii.inside))
    }
}

/// Direction from the centre of an arc to its start, radians.
fn arc_start(heading_deg: f64, turn_deg: f64) -> f64 {
    radians(heading_deg + if turn_deg < 0.0 { 90.0 } else { -90.0 })
}

/// The cone of a pear: from the neck's radius at `start_mm` to the sphere at `touch_mm`, both from the mouth.
struct PearCone {
    half_angle: f64,
    start_mm: f64,
    touch_mm: f64,
    touch_r: f64,
}

/// `None` when the neck is as wide as the body or its mouth lies within the sphere.
fn pear_cone(neck_mm: f64, radius: f64, r: f64) -> Option<PearCone> {
    let mouth = neck_mm.hypot(r);
    if r >= radius || mouth <= radius {
        return None;
    }
    let cone = |half_angle: f64| {
        let (sin, cos) = half_angle.sin_cos();
        let touch_mm = neck_mm - radius * sin;
        let touch_r = radius * cos;
        PearCone {
            half_angle,
            start_mm: touch_mm - (touch_r - r) * cos / sin,
            touch_mm,
            touch_r,
        }
    };
    let usual = cone(PEAR_HALF_ANGLE);
    if usual.start_mm >= 0.0 && usual.touch_r > r {
        return Some(usual);
    }
    // No room for the usual cone: the one from the mouth itself, whose side is a tangent of the sphere:
    // radius = neck sin(a) + r cos(a) = mouth sin(a + atan(r / neck)).
    let half_angle = (radius / mouth).asin() - r.atan2(neck_mm);
    let cone = cone(half_angle);
    (cone.touch_r > r && cone.touch_mm > 0.0).then_some(PearCone { start_mm: 0.0, ..cone })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Edit, sample};

    fn forms() -> Vec<Apparatus> {
        let mut list = vec![sample::apparatus()];
        for shape in [BulbShape::Sphere, BulbShape::Pear, BulbShape::Flask { flat_mm: 0.0 }] {
            let mut next = sample::apparatus();
            if let Form::Bulb(bulb) = &mut next.pieces[1].form {
                bulb.shape = shape;
            }
            list.push(next);
        }
        // A pear whose neck is too short for the usual cone.
        let mut next = list[2].clone();
        next.set("pot", "neck_mm", 24.0).unwrap();
        list.push(next);
        for bottom in [Bottom::Flat, Bottom::Conical { length_mm: 12.0 }] {
            let mut next = sample::apparatus();
            next.rows[0].pattern.bottom = bottom;
            list.push(next);
        }
        list.push(sample::apparatus().apply(&Edit::Mirror).unwrap());
        list
    }

    /// Signed distance-like value: negative inside, zero on the boundary, good to a few per cent near it.
    fn depth(shape: &Shape, p: Vector2<f64>) -> f64 {
        match *shape {
            Shape::Frustum { from, to, r_from, r_to } => {
                let axis = to - from;
                let length = axis.norm();
                let d = axis / length;
                let s = (p - from).dot(&d);
                let across = (p - from).perp(&d).abs();
                let r = r_from + (r_to - r_from) * s / length;
                let slope = length / length.hypot(r_to - r_from);
                ((across - r) * slope).max(-s).max(s - length)
            }
            Shape::Spheroid {
                centre,
                heading,
                semi_axial,
                semi_radial,
            } => {
                let d = Vector2::new(heading.cos(), heading.sin());
                let (x, y) = ((p - centre).dot(&d) / semi_axial, (p - centre).perp(&d) / semi_radial);
                (x.hypot(y) - 1.0) * semi_axial.min(semi_radial)
            }
            Shape::Torus {
                centre,
                radius,
                r,
                start,
                sweep,
            } => {
                let v = p - centre;
                let turned = (v.y.atan2(v.x) - start) * sweep.signum();
                let turned = turned.rem_euclid(2.0 * PI);
                let turned = if turned > PI + sweep.abs() / 2.0 {
                    turned - 2.0 * PI
                } else {
                    turned
                };
                let beyond = (-turned).max(turned - sweep.abs()) * v.norm();
                ((v.norm() - radius).abs() - r).max(beyond)
            }
        }
    }

    #[test]
    fn outlines_run_along_the_boundary_of_the_shapes() {
        for (n, apparatus) in forms().iter().enumerate() {
            let built = build(apparatus).unwrap();
            for glass in &built.glass {
                for (path, shapes) in [(&glass.inner, &built.primitives), (&glass.outer, &built.outsides)] {
                    let points = path.points(0.05);
                    assert!(points.len() > 3);
                    for p in points {
                        let own = shapes.iter().filter(|primitive| primitive.piece == glass.piece);
                        let value = own
                            .map(|primitive| depth(&primitive.shape, p))
                            .fold(f64::INFINITY, f64::min);
                        // A flat floor's thickness is not one of the shapes.
                        let floor = if path == &glass.outer { 1.2 } else { 0.0 };
                        assert!(
                            value > -1e-9 && value < floor + 1e-9,
                            "{n} {} {p:?} {value}",
                            built.names[glass.piece]
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn elements_share_their_end_discs_exactly() {
        let built = build(&sample::apparatus()).unwrap();
        let header = built.primitives.iter().filter(|primitive| primitive.piece == 0);
        let frustums: Vec<_> = header
            .filter_map(|primitive| match primitive.shape {
                Shape::Frustum { from, to, r_from, r_to } => Some((from, to, r_from, r_to)),
                _ => None,
            })
            .collect();
        // Straight, taper, neck (three), bulb, straight; the bend lies between the first two.
        assert_eq!(frustums.len(), 7);
        for pair in frustums[1..].windows(2) {
            assert_eq!((pair[0].1, pair[0].3), (pair[1].0, pair[1].2));
        }
        assert_eq!(
            (frustums[0].1, frustums[1].0),
            (Vector2::new(200.0, 0.0), Vector2::new(232.0, 32.0))
        );
    }

    #[test]
    fn hosts_come_before_guests_and_guests_start_on_centrelines() {
        let mut apparatus = sample::apparatus();
        apparatus.pieces.reverse();
        let built = build(&apparatus).unwrap();
        let first = |name: &str| {
            let piece = built.names.iter().position(|other| other == name).unwrap();
            built
                .primitives
                .iter()
                .position(|primitive| primitive.piece == piece)
                .unwrap()
        };
        assert!(
            first("header") < first("vial-1") && first("header") < first("bridge") && first("pot") < first("bridge")
        );
        match built.primitives[first("vial-2")].shape {
            Shape::Frustum { from, .. } => assert_eq!(from, Vector2::new(85.0, 0.0)),
            shape => panic!("{shape:?}"),
        }
    }

    #[test]
    fn open_ends_are_ports_unless_taken_or_closed() {
        let port_names = |apparatus: &Apparatus| {
            let built = build(apparatus).unwrap();
            built
                .ports
                .iter()
                .map(|port| built.names[port.piece].clone())
                .collect::<Vec<_>>()
        };
        // The header's joint, the pot's mouth and the pump's port; the bridge sits 10 mm below the mouth.
        let mut apparatus = sample::apparatus();
        assert_eq!(port_names(&apparatus), ["header", "pot", "pump"]);
        apparatus.set("bridge", "seat.from.at_mm", 0.0).unwrap();
        assert_eq!(port_names(&apparatus), ["header", "pump"]);
        if let Form::Tube(tube) = &mut apparatus.pieces[0].form {
            tube.end = End::Joint {
                designation: "14/23".to_owned(),
                stoppered: true,
            };
        }
        for (kind, open) in [
            (FittingKind::Stopcock { open: false }, false),
            (FittingKind::Cap, false),
            (FittingKind::GasPort, true),
        ] {
            if let Form::Fitting(fitting) = &mut apparatus.pieces[3].form {
                fitting.kind = kind;
            }
            assert_eq!(port_names(&apparatus).len(), usize::from(open));
        }
        let built = build(&sample::apparatus()).unwrap();
        let pump = built
            .ports
            .iter()
            .find(|port| built.names[port.piece] == "pump")
            .unwrap();
        assert_eq!(
            (pump.at, pump.heading, pump.r),
            (Vector2::new(180.0, 60.0), FRAC_PI_2, 4.0)
        );
    }

    #[test]
    fn bottoms_follow_their_walls() {
        let mut apparatus = sample::apparatus();
        let lowest = |apparatus: &Apparatus| {
            let built = build(apparatus).unwrap();
            let glass = &built.glass[built.names.iter().position(|name| name == "vial-1").unwrap()];
            let low = |path: &Path| path.points(1e-4).iter().map(|p| p.y).fold(0.0, f64::min);
            (low(&glass.inner), low(&glass.outer))
        };
        // 20 + 10 + 20 + 8 + 45 mm to the end of the straight body.
        let (inner, outer) = lowest(&apparatus);
        assert!(
            (inner + 108.0).abs() < 1e-9 && (outer + 109.0).abs() < 1e-9,
            "{inner} {outer}"
        );
        apparatus.rows[0].pattern.bottom = Bottom::Flat;
        assert_eq!(lowest(&apparatus), (-102.0, -103.0));
        apparatus.rows[0].pattern.bottom = Bottom::Conical { length_mm: 12.0 };
        assert_eq!(lowest(&apparatus).0, -115.0);
    }

    #[test]
    fn a_corner_without_room_becomes_a_mitre() {
        let mut apparatus = sample::apparatus();
        apparatus.set("bridge", "rise_mm", 3.0).unwrap();
        let built = build(&apparatus).unwrap();
        assert!(!built.placed.strains.is_empty());
        for primitive in &built.primitives {
            if let Shape::Torus { radius, r, .. } = primitive.shape {
                assert!(radius >= r);
            }
        }
    }

    #[test]
    fn volumes_follow_the_closed_forms() {
        use crate::geom::Interior;
        use crate::model::{Bridge, Bulb, Piece, Route, Tube};
        let piece = |x_mm: f64, form| Piece {
            name: format!("p{x_mm}"),
            seat: Seat::Free {
                x_mm,
                y_mm: 0.0,
                heading_deg: 30.0,
            },
            form,
        };
        let cylinder = |r: f64, h: f64| PI * r * r * h;
        let cone = |a: f64, b: f64, h: f64| PI / 3.0 * h * (a * a + a * b + b * b);
        let sphere = |r: f64| 4.0 / 3.0 * PI * r * r * r;
        // Stem, funnel, neck, shoulder, body, half a sphere.
        let vial = cylinder(3.0, 20.0)
            + cone(3.0, 1.5, 10.0)
            + cylinder(1.5, 20.0)
            + cone(1.5, 5.0, 8.0)
            + cylinder(5.0, 45.0)
            + sphere(5.0) / 2.0;
        // A half sphere at both ends, a straight, a bend of a right angle (Pappus).
        let bent = Form::Tube(Tube {
            size: TubeSize::new(10.0, 1.0),
            course: vec![
                Element::Straight { length_mm: 40.0 },
                Element::Bend {
                    angle_deg: 90.0,
                    radius_mm: 20.0,
                },
                Element::Straight { length_mm: 25.0 },
            ],
            start: End::Round,
            end: End::Round,
        });
        let course = cylinder(4.0, 65.0) + cylinder(4.0, 20.0 * FRAC_PI_2) + sphere(4.0);
        // The neck meets the sphere at s; a cap of the sphere is replaced by the neck.
        let flask = Form::Bulb(Bulb {
            shape: BulbShape::Sphere,
            body: TubeSize::new(40.0, 1.0),
            neck: TubeSize::new(12.0, 1.0),
            neck_mm: 50.0,
        });
        let (radius, r): (f64, f64) = (19.0, 5.0);
        let h = radius - (radius * radius - r * r).sqrt();
        let cap = PI * h * h * (radius - h / 3.0);
        let bulb = sphere(radius) - cap + cylinder(r, 50.0 - (radius - h));
        let apparatus = Apparatus {
            pieces: vec![
                piece(0.0, Form::Ampoule(sample::ampoule())),
                piece(500.0, bent),
                piece(1000.0, flask),
                Piece {
                    name: "bridge".to_owned(),
                    seat: Seat::Between {
                        from: sample::on("p0", 0.0, 0.0),
                        to: sample::on("p1000", 0.0, 0.0),
                    },
                    form: Form::Bridge(Bridge {
                        size: TubeSize::new(10.0, 1.0),
                        bend_radius_mm: 20.0,
                        route: Route::Straight,
                    }),
                },
            ],
            ..Apparatus::default()
        };
        let built = build(&apparatus).unwrap();
        let interior = Interior::new(built.names, built.primitives, built.ports).unwrap();
        let volumes = interior.piece_volumes();
        for (volume, expected) in volumes.iter().zip([vial, course, bulb]) {
            assert!((volume / expected - 1.0).abs() < 1e-9, "{volume} {expected}");
        }
    }
}
