//! The interior: the union of the primitives, with everything that does not depend on the stance.

use nalgebra::Vector2;
use thiserror::Error;

use super::alike;
use super::care::Care;
use super::meet::{self, Meeting};
use super::rim::Rim;
use super::shape::{Disc, Port, Primitive, Shape, Solid};
use super::spans::{Span, spans};
use super::tolerance::CONTACT_MM;

/// Most primitives an interior may have.
pub const MOST_PRIMITIVES: usize = 50_000;
/// Most ports an interior may have.
pub const MOST_PORTS: usize = 1_000;
/// Greatest coordinate, mm.
pub const GREATEST_MM: f64 = 100_000.0;
/// Greatest radius, mm.
pub const GREATEST_RADIUS_MM: f64 = 10_000.0;
/// Least length of a frustum or radius of a spheroid or bend, mm.
pub const LEAST_MM: f64 = 0.001;

/// Why a list of primitives is no interior.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum InteriorError {
    /// Too many primitives or ports.
    #[error("{what}: {count} given, at most {most} allowed")]
    TooMany {
        /// What there is too much of.
        what: &'static str,
        /// How many were given.
        count: usize,
        /// How many are allowed.
        most: usize,
    },
    /// A number is out of its range or not a number.
    #[error("{what}[{index}] ({piece}), {field}: {value} is outside {least} to {most}")]
    OutOfRange {
        /// `primitives` or `ports`.
        what: &'static str,
        /// Index in that list.
        index: usize,
        /// Name of the piece.
        piece: String,
        /// Which number.
        field: &'static str,
        /// Its value.
        value: f64,
        /// Least value allowed.
        least: f64,
        /// Greatest value allowed.
        most: f64,
    },
    /// A primitive or port names a piece that is not in the list.
    #[error("{what}[{index}]: piece number {piece} does not exist, there are {count}")]
    NoSuchPiece {
        /// `primitives` or `ports`.
        what: &'static str,
        /// Index in that list.
        index: usize,
        /// Number of the piece.
        piece: usize,
        /// How many pieces there are.
        count: usize,
    },
}

/// Two primitives that communicate.
#[derive(Clone, Debug)]
pub(super) struct Link {
    pub(super) a: usize,
    pub(super) b: usize,
    pub(super) meeting: Meeting,
    /// The curve in which their walls meet, where both are quadrics, one of them a frustum.
    pub(super) rim: Option<Rim>,
    /// Extent of the slices of each that meet the other, along its own axis or arc.
    pub(super) reach: [(f64, f64); 2],
}

impl Link {
    /// The other primitive, and the extent of the meeting along `own`.
    pub(super) fn from(&self, own: usize) -> (usize, (f64, f64)) {
        if self.a == own {
            (self.b, self.reach[0])
        } else {
            (self.a, self.reach[1])
        }
    }
}

/// A port where it meets a primitive: at one of its end discs, or anywhere.
#[derive(Clone, Copy, Debug)]
pub(super) struct Opening {
    pub(super) port: usize,
    pub(super) primitive: usize,
    pub(super) disc: Disc,
    pub(super) end: Option<usize>,
}

/// The union of primitives, their ports, and what follows from the geometry alone.
#[derive(Clone, Debug)]
pub struct Interior {
    pub(super) care: Care,
    pieces: Vec<String>,
    primitives: Vec<Primitive>,
    ports: Vec<Port>,
    pub(super) solids: Vec<Solid>,
    pub(super) spans: Vec<Vec<Span>>,
    /// How many levels are remembered of joints that are alike.
    pub(super) alike_levels: usize,
    pub(super) links: Vec<Link>,
    pub(super) openings: Vec<Opening>,
    /// Links of each primitive, as indices into `links`, in the order in which they lie along it.
    pub(super) touching: Vec<Vec<usize>>,
}

impl Interior {
    /// Checks the primitives, finds which meet, and cuts them into spans.
    ///
    /// The order of `primitives` is that of their ids: where two overlap the volume counts for the earlier one.
    /// Cost: n log n in the number of primitives while each meets few others.
    pub fn new(pieces: Vec<String>, primitives: Vec<Primitive>, ports: Vec<Port>) -> Result<Self, InteriorError> {
        Self::with(pieces, primitives, ports, Care::Full)
    }

    /// The same, taken with other care: [`Care::Shares`] for searches in which many glasses are poured.
    pub fn with(
        pieces: Vec<String>,
        primitives: Vec<Primitive>,
        ports: Vec<Port>,
        care: Care,
    ) -> Result<Self, InteriorError> {
        check(&pieces, &primitives, &ports)?;
        let mut solids: Vec<Solid> = primitives.iter().map(|p| Solid::new(&p.shape)).collect();
        let bounds: Vec<_> = solids.iter().map(Solid::bounds).collect();
        let mut links = Vec::new();
        for (a, b) in near_pairs(&bounds) {
            if let Some(meeting) = meet::meeting(&solids[a], &solids[b]) {
                links.push(Link {
                    a,
                    b,
                    meeting,
                    rim: None,
                    reach: [(0.0, 0.0); 2],
                });
            }
        }
        links.sort_by_key(|l| (l.b, l.a));
        let mut touching = vec![Vec::new(); solids.len()];
        for (i, link) in links.iter().enumerate() {
            touching[link.a].push(i);
            touching[link.b].push(i);
        }
        align_spheres(&mut solids, &links, &touching);
        for link in &mut links {
            let (a, b) = (&solids[link.a], &solids[link.b]);
            if matches!(link.meeting, Meeting::Overlap) {
                link.rim = Rim::of(a, b);
            }
            link.reach = reaches(a, b, link);
        }
        for (own, touching) in touching.iter_mut().enumerate() {
            touching.sort_by(|&x, &y| links[x].from(own).1.0.total_cmp(&links[y].from(own).1.0));
        }
        let mut spans: Vec<Vec<Span>> = (0..solids.len())
            .map(|i| {
                let lower: Vec<_> = touching[i]
                    .iter()
                    .map(|&l| &links[l])
                    .filter(|link| link.b == i && matches!(link.meeting, Meeting::Overlap))
                    .map(|link| (link.reach[1], solids[link.a]))
                    .collect();
                spans(&solids[i], &lower, care)
            })
            .collect();
        let alike_levels = alike::group(&solids, &mut spans);
        let openings = find_openings(&solids, &bounds, &ports);
        Ok(Self {
            care,
            pieces,
            primitives,
            ports,
            solids,
            spans,
            alike_levels,
            links,
            openings,
            touching,
        })
    }

    /// The same interior taken with other care.
    ///
    /// # Errors
    /// None that [`Interior::new`] has not given before.
    pub fn taken_with(&self, care: Care) -> Result<Self, InteriorError> {
        Self::with(self.pieces.clone(), self.primitives.clone(), self.ports.clone(), care)
    }

    /// Names of the pieces; other lists refer to them by index.
    pub fn pieces(&self) -> &[String] {
        &self.pieces
    }

    /// The primitives, in order of id.
    pub fn primitives(&self) -> &[Primitive] {
        &self.primitives
    }

    /// The ports.
    pub fn ports(&self) -> &[Port] {
        &self.ports
    }

    /// Index of the piece of that name.
    pub fn piece_index(&self, name: &str) -> Option<usize> {
        self.pieces.iter().position(|p| p == name)
    }

    /// Volume of the union, mm3.
    pub fn total_volume(&self) -> f64 {
        (0..self.spans.len()).map(|primitive| self.full(primitive)).sum()
    }

    /// Volume by piece, mm3; an overlap counts for the lowest primitive id, so that the sum is the total.
    pub fn piece_volumes(&self) -> Vec<f64> {
        let mut volumes = vec![0.0; self.pieces.len()];
        for (i, primitive) in self.primitives.iter().enumerate() {
            volumes[primitive.piece] += self.full(i);
        }
        volumes
    }

    /// Volume that a primitive adds, mm3.
    pub(super) fn full(&self, primitive: usize) -> f64 {
        let solid = &self.solids[primitive];
        self.spans[primitive].iter().map(|span| span.full(solid)).sum()
    }
}

/// Extents of a meeting along both solids.
fn reaches(a: &Solid, b: &Solid, link: &Link) -> [(f64, f64); 2] {
    match &link.meeting {
        Meeting::Disc { ends, .. } => [(a, ends[0]), (b, ends[1])].map(|(solid, end)| {
            let (lo, hi) = solid.range();
            let sigma = if end == 0 { lo } else { hi };
            (sigma, sigma)
        }),
        Meeting::Overlap => {
            let extent = |own: &Solid, other| meet::extent(own, other, link.rim.as_ref()).unwrap_or(own.range());
            [extent(a, b), extent(b, a)]
        }
    }
}

fn check(pieces: &[String], primitives: &[Primitive], ports: &[Port]) -> Result<(), InteriorError> {
    for (what, count, most) in [
        ("primitives", primitives.len(), MOST_PRIMITIVES),
        ("ports", ports.len(), MOST_PORTS),
    ] {
        if count > most {
            return Err(InteriorError::TooMany { what, count, most });
        }
    }
    let within = |what, index, piece: usize, field, value: f64, least, most| {
        if value >= least && value <= most {
            Ok(())
        } else {
            Err(InteriorError::OutOfRange {
                what,
                index,
                piece: pieces[piece].clone(),
                field,
                value,
                least,
                most,
            })
        }
    };
    let known = |what, index, piece| {
        if piece < pieces.len() {
            Ok(())
        } else {
            Err(InteriorError::NoSuchPiece {
                what,
                index,
                piece,
                count: pieces.len(),
            })
        }
    };
    for (i, primitive) in primitives.iter().enumerate() {
        let what = "primitives";
        known(what, i, primitive.piece)?;
        let number = |field, value, least, most| within(what, i, primitive.piece, field, value, least, most);
        let point = |x_field, y_field, p: Vector2<f64>| {
            number(x_field, p.x, -GREATEST_MM, GREATEST_MM)?;
            number(y_field, p.y, -GREATEST_MM, GREATEST_MM)
        };
        match primitive.shape {
            Shape::Frustum { from, to, r_from, r_to } => {
                point("from x", "from y", from)?;
                point("to x", "to y", to)?;
                number("r_from", r_from, 0.0, GREATEST_RADIUS_MM)?;
                number("r_to", r_to, 0.0, GREATEST_RADIUS_MM)?;
                number("greater radius", r_from.max(r_to), LEAST_MM, GREATEST_RADIUS_MM)?;
                number("length", (to - from).norm(), LEAST_MM, 2.0 * GREATEST_MM)?;
            }
            Shape::Spheroid {
                centre,
                heading,
                semi_axial,
                semi_radial,
            } => {
                point("centre x", "centre y", centre)?;
                number("heading", heading, -1e3, 1e3)?;
                number("semi_axial", semi_axial, LEAST_MM, GREATEST_RADIUS_MM)?;
                number("semi_radial", semi_radial, LEAST_MM, GREATEST_RADIUS_MM)?;
            }
            Shape::Torus {
                centre,
                radius,
                r,
                start,
                sweep,
            } => {
                point("centre x", "centre y", centre)?;
                number("r", r, LEAST_MM, GREATEST_RADIUS_MM)?;
                number("radius", radius, r, GREATEST_RADIUS_MM)?;
                number("start", start, -1e3, 1e3)?;
                number("sweep size", sweep.abs(), 1e-6, std::f64::consts::TAU)?;
            }
        }
    }
    for (i, port) in ports.iter().enumerate() {
        let what = "ports";
        known(what, i, port.piece)?;
        let number = |field, value, least, most| within(what, i, port.piece, field, value, least, most);
        number("at x", port.at.x, -GREATEST_MM, GREATEST_MM)?;
        number("at y", port.at.y, -GREATEST_MM, GREATEST_MM)?;
        number("heading", port.heading, -1e3, 1e3)?;
        number("r", port.r, LEAST_MM, GREATEST_RADIUS_MM)?;
    }
    Ok(())
}

type Bounds = (Vector2<f64>, Vector2<f64>);

/// Pairs `(a, b)`, `a < b`, whose upright rectangles touch: a sweep along the longer extent of the whole.
fn near_pairs(bounds: &[Bounds]) -> Vec<(usize, usize)> {
    let span = |axis: usize| {
        let lo = bounds.iter().map(|b| b.0[axis]).fold(f64::INFINITY, f64::min);
        let hi = bounds.iter().map(|b| b.1[axis]).fold(f64::NEG_INFINITY, f64::max);
        hi - lo
    };
    let axis = usize::from(span(1) > span(0));
    let mut order: Vec<usize> = (0..bounds.len()).collect();
    order.sort_by(|&i, &j| bounds[i].0[axis].total_cmp(&bounds[j].0[axis]));
    let mut open: Vec<usize> = Vec::new();
    let mut pairs = Vec::new();
    for &i in &order {
        let (lo, hi) = &bounds[i];
        open.retain(|&j| bounds[j].1[axis] + CONTACT_MM >= lo[axis]);
        for &j in &open {
            let other = 1 - axis;
            if bounds[j].1[other] + CONTACT_MM >= lo[other] && bounds[j].0[other] - CONTACT_MM <= hi[other] {
                pairs.push((i.min(j), i.max(j)));
            }
        }
        open.push(i);
    }
    pairs
}

/// Cuts each sphere along the axis of a neighbour that it closes or widens, so that their slices are rings.
fn align_spheres(solids: &mut [Solid], links: &[Link], touching: &[Vec<usize>]) {
    for i in 0..solids.len() {
        let Solid::Spheroid { o, c, b, .. } = solids[i] else {
            continue;
        };
        if c != b {
            continue;
        }
        let mut axis = None;
        for &l in &touching[i] {
            let j = if links[l].a == i { links[l].b } else { links[l].a };
            let direction = match solids[j] {
                Solid::Frustum { o: from, e, .. } => ((o - from).perp(&e).abs() <= CONTACT_MM).then_some(e),
                Solid::Spheroid { o: other, .. } => (other - o).try_normalize(CONTACT_MM),
                Solid::Bend { .. } => None,
            };
            // Only lower ids take volume away, so they decide; any other neighbour will do as well.
            if direction.is_some() && (axis.is_none() || j < i) {
                axis = direction;
                if j < i {
                    break;
                }
            }
        }
        if let Some(axis) = axis {
            solids[i].align(axis);
        }
    }
}

/// Where ports meet primitives.
fn find_openings(solids: &[Solid], bounds: &[Bounds], ports: &[Port]) -> Vec<Opening> {
    let mut openings = Vec::new();
    for (port, p) in ports.iter().enumerate() {
        let out = Vector2::new(p.heading.cos(), p.heading.sin());
        let disc = Disc {
            centre: p.at,
            out,
            r: p.r,
        };
        for (primitive, solid) in solids.iter().enumerate() {
            let (lo, hi) = &bounds[primitive];
            let apart = (0..2).any(|k| p.at[k] + p.r < lo[k] - CONTACT_MM || p.at[k] - p.r > hi[k] + CONTACT_MM);
            if apart {
                continue;
            }
            let end = solid.ends().and_then(|ends| {
                ends.iter()
                    .position(|e| (e.centre - p.at).norm() <= CONTACT_MM && e.out.perp(&out).abs() < CONTACT_MM)
            });
            let disc = match (end, solid.ends()) {
                (Some(end), Some(ends)) => Disc {
                    r: p.r.min(ends[end].r),
                    ..disc
                },
                _ => disc,
            };
            let up = nalgebra::Vector3::new(0.0, 1.0, 0.0);
            if end.is_some() || meet::lowest_on_disc(&disc, solid, solid.range(), &up).is_some() {
                openings.push(Opening {
                    port,
                    primitive,
                    disc,
                    end,
                });
            }
        }
    }
    openings
}
