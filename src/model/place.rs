//! Where everything stands: the centreline of every piece in the drawing plane.
//!
//! Headings are carried in degrees and turned into vectors by [`direction`], which is exact at multiples of 90
//! degrees: glass drawn level is level to the last bit. A place that does not exist (beyond a host's end, an arch
//! that never reaches its crossbar, a corner without room) does not stop the drawing: the nearest thing that can
//! be drawn is drawn, and the [`Strain`] is reported for the findings.

use super::{Apparatus, Bottom, Bridge, Element, Form, Piece, Place, Route, Seat};
use crate::units::sin_cos_deg;
use nalgebra::Vector2;
use std::collections::HashMap;

/// A point of the drawing plane, mm.
pub type Point = Vector2<f64>;

/// A piece of a centreline.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Segment {
    /// A straight line.
    Line {
        /// Start.
        from: Point,
        /// End.
        to: Point,
        /// Heading, degrees.
        heading_deg: f64,
        /// Length, mm.
        length_mm: f64,
    },
    /// An arc.
    Arc {
        /// Start.
        from: Point,
        /// End.
        to: Point,
        /// Heading at the start, degrees.
        heading_deg: f64,
        /// Centre.
        centre: Point,
        /// Radius, mm.
        radius_mm: f64,
        /// Turn, degrees anticlockwise.
        turn_deg: f64,
    },
}

impl Segment {
    /// Length, mm.
    pub fn length_mm(&self) -> f64 {
        match *self {
            Self::Line { length_mm, .. } => length_mm,
            Self::Arc {
                radius_mm, turn_deg, ..
            } => radius_mm * turn_deg.to_radians().abs(),
        }
    }

    /// Start.
    pub fn from(&self) -> Point {
        match *self {
            Self::Line { from, .. } | Self::Arc { from, .. } => from,
        }
    }

    /// End.
    pub fn to(&self) -> Point {
        match *self {
            Self::Line { to, .. } | Self::Arc { to, .. } => to,
        }
    }

    /// Heading at the end, degrees.
    pub fn end_heading_deg(&self) -> f64 {
        match *self {
            Self::Line { heading_deg, .. } => heading_deg,
            Self::Arc {
                heading_deg, turn_deg, ..
            } => heading_deg + turn_deg,
        }
    }
}

/// A place on the drawing with a direction.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Spot {
    /// Where.
    pub at: Point,
    /// Heading, degrees.
    pub heading_deg: f64,
}

/// The centreline of a piece.
#[derive(Clone, Debug, PartialEq)]
pub struct Centreline {
    /// Its start.
    pub start: Spot,
    /// Its segments from the start; may be empty. Tubes: one for each element of the course.
    pub segments: Vec<Segment>,
    /// Its length, mm.
    pub length_mm: f64,
}

impl Centreline {
    /// Its end.
    pub fn end(&self) -> Spot {
        match self.segments.last() {
            Some(last) => Spot {
                at: last.to(),
                heading_deg: last.end_heading_deg(),
            },
            None => self.start,
        }
    }

    /// The place at a distance from the start, mm; before the start and beyond the end the line runs straight on.
    pub fn spot(&self, at_mm: f64) -> Spot {
        if at_mm <= 0.0 {
            return Spot {
                at: self.start.at + direction(self.start.heading_deg) * at_mm,
                ..self.start
            };
        }
        let mut rest = at_mm;
        for segment in &self.segments {
            let length = segment.length_mm();
            if rest >= length {
                rest -= length;
                continue;
            }
            return match *segment {
                Segment::Line { from, heading_deg, .. } => Spot {
                    at: from + direction(heading_deg) * rest,
                    heading_deg,
                },
                Segment::Arc {
                    from,
                    heading_deg,
                    radius_mm,
                    turn_deg,
                    ..
                } => {
                    let turned = turn_deg * (rest / length);
                    let (_, at) = arc_end(from, heading_deg, radius_mm, turned);
                    Spot {
                        at,
                        heading_deg: heading_deg + turned,
                    }
                }
            };
        }
        let end = self.end();
        Spot {
            at: end.at + direction(end.heading_deg) * rest,
            ..end
        }
    }
}

/// What could not be placed as asked.
#[derive(Clone, Debug, PartialEq)]
pub enum Strain {
    /// A guest beyond its host's end.
    Beyond {
        /// The guest.
        piece: String,
        /// Its host.
        host: String,
        /// Where it was to sit, mm.
        at_mm: f64,
        /// Length of the host, mm.
        length_mm: f64,
    },
    /// A corner of a bridge without room for its bend radius.
    Corner {
        /// The bridge.
        piece: String,
        /// Radius asked for, mm.
        asked_mm: f64,
        /// Radius drawn, mm.
        drawn_mm: f64,
    },
    /// An arch whose leg does not lead upwards; it is drawn straight.
    Leg {
        /// The bridge.
        piece: String,
        /// Heading of the leg, degrees.
        heading_deg: f64,
    },
}

/// All pieces placed.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Placed {
    /// The pieces, rows written out: [`Apparatus::expanded`].
    pub pieces: Vec<Piece>,
    /// Their centrelines in the same order.
    pub lines: Vec<Centreline>,
    /// Indices of the pieces, hosts before guests and otherwise in order.
    pub order: Vec<usize>,
    /// What could not be placed as asked.
    pub strains: Vec<Strain>,
}

impl Placed {
    /// Index of the piece of that name.
    pub fn index(&self, name: &str) -> Option<usize> {
        self.pieces.iter().position(|piece| piece.name == name)
    }
}

/// Unit vector of a heading; exact at multiples of 90 degrees.
pub fn direction(heading_deg: f64) -> Vector2<f64> {
    let (sin, cos) = sin_cos_deg(heading_deg);
    Vector2::new(cos, sin)
}

/// Heading of a vector, degrees in (-180, 180]; exact along the axes. The zero vector has heading 0.
pub fn heading_deg(v: Vector2<f64>) -> f64 {
    if v.y == 0.0 {
        return if v.x < 0.0 { 180.0 } else { 0.0 };
    }
    if v.x == 0.0 {
        return if v.y < 0.0 { -90.0 } else { 90.0 };
    }
    v.y.atan2(v.x).to_degrees()
}

impl Apparatus {
    /// Places every piece.
    ///
    /// # Errors
    /// A [`super::check::Fault`] when the apparatus does not hold together; see [`Apparatus::check`].
    pub fn place(&self) -> Result<Placed, super::check::Fault> {
        self.check()?;
        let pieces = self.expanded();
        let index: HashMap<&str, usize> = pieces.iter().enumerate().map(|(i, p)| (p.name.as_str(), i)).collect();
        let order = hosts_first(&pieces, &index);
        let mut lines: Vec<Centreline> = vec![
            Centreline {
                start: Spot {
                    at: Point::zeros(),
                    heading_deg: 0.0
                },
                segments: Vec::new(),
                length_mm: 0.0
            };
            pieces.len()
        ];
        let mut strains = Vec::new();
        for &i in &order {
            let piece = &pieces[i];
            let mut spot = |place: &Place| {
                // The check has made sure that the host exists, and the order that it is placed.
                let line = &lines[index.get(place.host.as_str()).copied().unwrap_or(i)];
                if place.at_mm > line.length_mm + CONTACT_MM {
                    strains.push(Strain::Beyond {
                        piece: piece.name.clone(),
                        host: place.host.clone(),
                        at_mm: place.at_mm,
                        length_mm: line.length_mm,
                    });
                }
                // Within the contact distance of the end the guest sits at the end itself, without a gap.
                let at_end = (place.at_mm - line.length_mm).abs() <= CONTACT_MM;
                let spot = if at_end { line.end() } else { line.spot(place.at_mm) };
                Spot {
                    heading_deg: spot.heading_deg + place.turn_deg,
                    ..spot
                }
            };
            lines[i] = match (&piece.seat, &piece.form) {
                (Seat::Between { from, to }, Form::Bridge(bridge)) => {
                    let (from, to) = (spot(from), spot(to));
                    bridge_line(&piece.name, bridge, from, to, &mut strains)
                }
                (
                    Seat::Free {
                        x_mm,
                        y_mm,
                        heading_deg,
                    },
                    form,
                ) => line(
                    Spot {
                        at: Point::new(*x_mm, *y_mm),
                        heading_deg: *heading_deg,
                    },
                    form,
                ),
                (Seat::On(place) | Seat::Between { from: place, .. }, form) => line(spot(place), form),
            };
        }
        Ok(Placed {
            pieces,
            lines,
            order,
            strains,
        })
    }
}

/// Distance within which a place counts as the end of its host, mm. The length of a course with bends is not a
/// round number, and a hundredth of a millimetre is nothing in glass.
pub const CONTACT_MM: f64 = 0.01;

/// Legs of a bridge shorter than this are left out, mm.
const TINY_MM: f64 = 1e-6;

/// Hosts before guests; among those that could be next, the earliest.
fn hosts_first(pieces: &[Piece], index: &HashMap<&str, usize>) -> Vec<usize> {
    let mut waiting = vec![0usize; pieces.len()];
    let mut guests: Vec<Vec<usize>> = vec![Vec::new(); pieces.len()];
    for (i, piece) in pieces.iter().enumerate() {
        for place in piece.seat.places() {
            if let Some(&host) = index.get(place.host.as_str()) {
                waiting[i] += 1;
                guests[host].push(i);
            }
        }
    }
    let mut ready: std::collections::BTreeSet<usize> = (0..pieces.len()).filter(|&i| waiting[i] == 0).collect();
    let mut order = Vec::with_capacity(pieces.len());
    while let Some(i) = ready.pop_first() {
        order.push(i);
        for &guest in &guests[i] {
            waiting[guest] -= 1;
            if waiting[guest] == 0 {
                ready.insert(guest);
            }
        }
    }
    order
}

/// Centre and end of an arc that starts with a heading.
fn arc_end(from: Point, heading_deg: f64, radius_mm: f64, turn_deg: f64) -> (Point, Point) {
    // The centre lies to the left of an anticlockwise arc, to the right of a clockwise one.
    let side = if turn_deg < 0.0 { -90.0 } else { 90.0 };
    let centre = from + direction(heading_deg + side) * radius_mm;
    (centre, centre - direction(heading_deg + turn_deg + side) * radius_mm)
}

struct Pen {
    start: Spot,
    now: Spot,
    segments: Vec<Segment>,
    length_mm: f64,
}

impl Pen {
    fn new(start: Spot) -> Self {
        Self {
            start,
            now: start,
            segments: Vec::new(),
            length_mm: 0.0,
        }
    }

    fn straight(&mut self, length_mm: f64) {
        let to = self.now.at + direction(self.now.heading_deg) * length_mm;
        self.segments.push(Segment::Line {
            from: self.now.at,
            to,
            heading_deg: self.now.heading_deg,
            length_mm,
        });
        self.now.at = to;
        self.length_mm += length_mm;
    }

    /// A straight line to a given point, whose heading is known.
    fn straight_to(&mut self, to: Point, heading_deg: f64) {
        let length_mm = (to - self.now.at).norm();
        if length_mm > TINY_MM {
            self.segments.push(Segment::Line {
                from: self.now.at,
                to,
                heading_deg,
                length_mm,
            });
            self.length_mm += length_mm;
            self.now = Spot { at: to, heading_deg };
        }
    }

    fn bend(&mut self, turn_deg: f64, radius_mm: f64) {
        let Spot { at: from, heading_deg } = self.now;
        let (centre, to) = arc_end(from, heading_deg, radius_mm, turn_deg);
        let segment = Segment::Arc {
            from,
            to,
            heading_deg,
            centre,
            radius_mm,
            turn_deg,
        };
        self.length_mm += segment.length_mm();
        self.segments.push(segment);
        self.now = Spot {
            at: to,
            heading_deg: heading_deg + turn_deg,
        };
    }

    fn done(self) -> Centreline {
        Centreline {
            start: self.start,
            segments: self.segments,
            length_mm: self.length_mm,
        }
    }
}

/// The centreline of a piece that is not a bridge.
fn line(start: Spot, form: &Form) -> Centreline {
    let mut pen = Pen::new(start);
    match form {
        Form::Tube(tube) => {
            for element in &tube.course {
                match *element {
                    Element::Straight { length_mm }
                    | Element::Taper { length_mm, .. }
                    | Element::Bulb { length_mm, .. } => pen.straight(length_mm),
                    Element::Bend { angle_deg, radius_mm } => pen.bend(angle_deg, radius_mm),
                    Element::Neck {
                        taper_mm, length_mm, ..
                    } => pen.straight(2.0 * taper_mm + length_mm),
                }
            }
        }
        // To the lowest point of the inside, where what sits there can meet it.
        Form::Bulb(bulb) => pen.straight(bulb.neck_mm + bulb.body.bore_mm() / 2.0),
        Form::Bridge(_) => {}
        Form::Ampoule(ampoule) => {
            let straight =
                ampoule.stem_mm + ampoule.funnel_mm + ampoule.neck_mm + ampoule.shoulder_mm + ampoule.body_mm;
            pen.straight(match ampoule.bottom {
                Bottom::Round => straight + ampoule.body.bore_mm() / 2.0,
                Bottom::Flat => straight - ampoule.body.wall_mm,
                Bottom::Conical { length_mm } => straight + length_mm,
            });
        }
        Form::Fitting(fitting) => pen.straight(fitting.length_mm),
    }
    pen.done()
}

fn bridge_line(name: &str, bridge: &Bridge, from: Spot, to: Spot, strains: &mut Vec<Strain>) -> Centreline {
    let mut points = vec![from.at];
    match &bridge.route {
        Route::Straight => {}
        Route::Arched { rise_mm } => {
            let top = from.at.y.max(to.at.y) + rise_mm;
            let legs = [leg(from, top), leg(to, top)];
            if let [Some(first), Some(second)] = legs {
                points.extend([first, second]);
            } else {
                let lame = if legs[0].is_none() { from } else { to };
                strains.push(Strain::Leg {
                    piece: name.to_owned(),
                    heading_deg: lame.heading_deg,
                });
            }
        }
        Route::Via { corners_mm } => {
            points.extend(corners_mm.iter().map(|&[x, y]| from.at + Vector2::new(x, y)));
        }
    }
    points.push(to.at);
    points.dedup_by(|b, a| (*b - *a).norm() <= TINY_MM);
    rounded(name, &points, bridge.bend_radius_mm, from, strains)
}

/// Where a leg of an arch meets the crossbar's height.
fn leg(spot: Spot, top: f64) -> Option<Point> {
    let d = direction(spot.heading_deg);
    // Flatter than about 3 degrees the leg would run off the drawing before it rises.
    if d.y < 0.05 {
        return None;
    }
    Some(Point::new(spot.at.x + d.x * ((top - spot.at.y) / d.y), top))
}

/// A line through points with every corner rounded; a corner that lacks the room gets the radius that fits.
fn rounded(name: &str, points: &[Point], radius_mm: f64, start: Spot, strains: &mut Vec<Strain>) -> Centreline {
    let [first, second, ..] = points else {
        return Pen::new(start).done();
    };
    let mut pen = Pen::new(Spot {
        at: *first,
        heading_deg: heading_deg(second - first),
    });
    let mut worst = radius_mm;
    for (i, corner) in points.windows(3).enumerate() {
        let (before, after) = (corner[1] - corner[0], corner[2] - corner[1]);
        let (h0, h1) = (heading_deg(before), heading_deg(after));
        let (d0, d1) = (before.normalize(), after.normalize());
        let turn_deg = turn_between(h0, h1);
        if turn_deg == 0.0 {
            continue;
        }
        // Length of the tangents for radius 1, the tangent of half the turn; exactly 1 for a right angle.
        let tangent = (d0.x * d1.y - d0.y * d1.x).abs() / (1.0 + d0.dot(&d1));
        // A leg between two corners is shared; the first and the last belong to one corner alone.
        let share = |leg: f64, alone: bool| if alone { leg } else { leg / 2.0 };
        let room = share(before.norm(), i == 0).min(share(after.norm(), i + 3 == points.len()));
        let drawn = if tangent.is_finite() {
            radius_mm.min(room / tangent.max(f64::MIN_POSITIVE))
        } else {
            0.0
        };
        worst = worst.min(drawn);
        let reach = if drawn > 0.0 { drawn * tangent } else { 0.0 };
        pen.straight_to(corner[1] - d0 * reach, h0);
        pen.now.heading_deg = h0;
        if drawn > 0.0 {
            pen.bend(turn_deg, drawn);
        }
        // The arc's end computed from the corner keeps the next leg exactly on its line.
        if let Some(Segment::Arc { to, .. }) = pen.segments.last_mut()
            && drawn > 0.0
        {
            *to = corner[1] + d1 * reach;
            pen.now.at = *to;
        }
        pen.now.heading_deg = h1;
    }
    if let [.., before, last] = points {
        pen.straight_to(*last, heading_deg(last - before));
    }
    if worst < radius_mm {
        strains.push(Strain::Corner {
            piece: name.to_owned(),
            asked_mm: radius_mm,
            drawn_mm: worst,
        });
    }
    pen.done()
}

/// Turn from one heading to another, degrees in (-180, 180].
fn turn_between(from_deg: f64, to_deg: f64) -> f64 {
    let turn = (to_deg - from_deg).rem_euclid(360.0);
    if turn > 180.0 { turn - 360.0 } else { turn }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn quarter_turns_are_exact() {
        for (angle, x, y) in [
            (0.0, 1.0, 0.0),
            (90.0, 0.0, 1.0),
            (180.0, -1.0, 0.0),
            (270.0, 0.0, -1.0),
            (-90.0, 0.0, -1.0),
            (720.0, 1.0, 0.0),
        ] {
            assert_eq!(direction(angle), Vector2::new(x, y), "{angle}");
            assert!(direction(angle).iter().all(|c| c.is_sign_positive() || *c != 0.0));
        }
        for tenths in -3600..3600 {
            let angle = f64::from(tenths) / 10.0;
            let (sin, cos) = angle.to_radians().sin_cos();
            assert!((direction(angle) - Vector2::new(cos, sin)).norm() < 1e-14, "{angle}");
        }
    }

    #[test]
    fn level_glass_is_level_to_the_last_bit() {
        let placed = sample::apparatus().place().unwrap();
        let header = &placed.lines[placed.index("header").unwrap()];
        assert_eq!(header.spot(137.3).at.y, 0.0);
        assert_eq!(header.segments[1].to(), Point::new(232.0, 32.0));
        assert_eq!(header.end().at.x, 232.0);
        let vial = &placed.lines[placed.index("vial-3").unwrap()];
        assert_eq!((vial.start.at, vial.end().at.x), (Point::new(130.0, 0.0), 130.0));
    }

    #[test]
    fn an_arch_rises_from_both_places_and_bends_at_its_corners() {
        let placed = sample::apparatus().place().unwrap();
        assert_eq!(placed.strains, []);
        let bridge = &placed.lines[placed.index("bridge").unwrap()];
        // Up from (-150, 10), level at 10 + 40, down to the header at (20, 0).
        assert_eq!(bridge.start.at, Point::new(-150.0, 10.0));
        let kinds: Vec<bool> = bridge
            .segments
            .iter()
            .map(|s| matches!(s, Segment::Arc { .. }))
            .collect();
        assert_eq!(kinds, [false, true, false, true, false]);
        assert_eq!(bridge.segments[2].from(), Point::new(-130.0, 50.0));
        assert_eq!(bridge.segments[2].to(), Point::new(0.0, 50.0));
        assert_eq!(bridge.end().at, Point::new(20.0, 0.0));
        let length = 20.0 + 130.0 + 30.0 + 20.0 * std::f64::consts::PI;
        assert!((bridge.length_mm - length).abs() < 1e-12);
        let along = bridge.spot(20.0 + 5.0 * std::f64::consts::PI);
        assert!((along.heading_deg - 45.0).abs() < 1e-12);
    }

    #[test]
    fn a_bridge_follows_its_hosts() {
        let mut apparatus = sample::apparatus();
        apparatus.set("pot", "seat.x_mm", -200.0).unwrap();
        apparatus.set("header", "seat.y_mm", -15.0).unwrap();
        let placed = apparatus.place().unwrap();
        let bridge = &placed.lines[placed.index("bridge").unwrap()];
        assert_eq!(bridge.start.at, Point::new(-200.0, 10.0));
        assert_eq!(bridge.end().at, Point::new(20.0, -15.0));
    }

    #[test]
    fn what_has_no_place_is_reported_and_still_drawn() {
        let mut apparatus = sample::apparatus();
        apparatus.set("vial", "pitch_mm", 400.0).unwrap();
        apparatus.set("bridge", "bend_radius_mm", 100.0).unwrap();
        let placed = apparatus.place().unwrap();
        let beyond = placed
            .strains
            .iter()
            .filter(|s| matches!(s, Strain::Beyond { host, .. } if host == "header"));
        assert_eq!(beyond.count(), 2);
        let drawn = placed.strains.iter().find_map(|s| match s {
            Strain::Corner { piece, drawn_mm, .. } if piece == "bridge" => Some(*drawn_mm),
            _ => None,
        });
        // The first leg is 40 mm high.
        assert_eq!(drawn, Some(40.0));
        apparatus.set("bridge", "seat.from.turn_deg", 0.0).unwrap();
        let placed = apparatus.place().unwrap();
        assert!(
            placed
                .strains
                .iter()
                .any(|s| matches!(s, Strain::Leg { heading_deg: -90.0, .. }))
        );
    }

    #[test]
    fn hosts_come_first_whatever_the_order() {
        let mut apparatus = sample::apparatus();
        apparatus.pieces.reverse();
        let placed = apparatus.place().unwrap();
        let rank = |name: &str| {
            placed
                .order
                .iter()
                .position(|&i| placed.pieces[i].name == name)
                .unwrap()
        };
        for piece in &placed.pieces {
            assert!(piece.seat.places().all(|place| rank(&place.host) < rank(&piece.name)));
        }
    }
}
