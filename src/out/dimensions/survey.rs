//! What is measured on a piece, and which numbers of the design it sets.

use super::{Dimension, Figure, Knob, Measure};
use crate::model::param::Parameter;
use crate::model::place::{CONTACT_MM, Centreline, Placed, Point, Segment, direction};
use crate::model::{Apparatus, Form, Place, Row, Seat};
use std::collections::{HashMap, HashSet};

/// Shorter than this is not measured, mm; nor a turn or bend of fewer degrees.
pub(super) const LEAST: f64 = 1e-6;

/// What places the vessels.
const MAJOR: u8 = 0;
/// What every piece is made by.
pub(super) const COMMON: u8 = 1;
/// What can be looked up on the piece itself.
pub(super) const MINOR: u8 = 2;

/// The dimensions of the pieces in `chosen`, all of them; of the whole apparatus the main ones when there is none.
/// Members of a row that do not depart are alike, and so only the first of them is measured.
pub fn survey(apparatus: &Apparatus, placed: &Placed, chosen: &[usize]) -> Vec<Dimension> {
    let names = placed.pieces.iter().enumerate().map(|(i, p)| (p.name.as_str(), i));
    let mut surveyor = Surveyor {
        apparatus,
        placed,
        index: names.collect(),
        parameters: HashMap::new(),
        rows: HashSet::new(),
        all: !chosen.is_empty(),
        found: Vec::new(),
    };
    // A piece that is named twice is measured once.
    let mut pieces = chosen.to_vec();
    pieces.sort_unstable();
    pieces.dedup();
    if pieces.is_empty() {
        pieces = (0..placed.pieces.len()).collect();
    }
    for piece in pieces {
        surveyor.piece(piece, chosen);
    }
    if chosen.is_empty() {
        without_doubles(surveyor.found)
    } else {
        surveyor.found
    }
}

/// Of dimensions between the same points the first.
fn without_doubles(found: Vec<Dimension>) -> Vec<Dimension> {
    let ends_of = |dimension: &Dimension| match &dimension.figure {
        Figure::Between { ends, .. } => Some(*ends),
        _ => None,
    };
    let near = |a: Point, b: Point| (a - b).norm() < CONTACT_MM;
    let mut kept: Vec<Dimension> = Vec::with_capacity(found.len());
    for dimension in found {
        let is_double = ends_of(&dimension).is_some_and(|[a, b]| {
            let mut others = kept.iter().filter_map(ends_of);
            others.any(|[c, d]| near(a, c) && near(b, d) || near(a, d) && near(b, c))
        });
        if !is_double {
            kept.push(dimension);
        }
    }
    kept
}

pub(super) struct Surveyor<'a> {
    apparatus: &'a Apparatus,
    pub placed: &'a Placed,
    index: HashMap<&'a str, usize>,
    /// Numbers by their owner.
    parameters: HashMap<String, Vec<Parameter>>,
    /// Names of the rows whose place and pitch are told.
    rows: HashSet<String>,
    /// Whether all dimensions are wanted, not only the main ones.
    pub all: bool,
    found: Vec<Dimension>,
}

/// A dimension to be added.
pub(super) struct Found {
    piece: usize,
    measure: Measure,
    rank: u8,
    figure: Figure,
    through: Vec<usize>,
    group: usize,
}

impl Found {
    /// On a piece, beside its own axis.
    pub(super) fn on(piece: usize, measure: Measure, figure: Figure) -> Self {
        Self {
            piece,
            measure,
            rank: COMMON,
            figure,
            through: Vec::new(),
            group: piece,
        }
    }

    pub(super) fn ranked(self, rank: u8) -> Self {
        Self { rank, ..self }
    }

    pub(super) fn through(self, through: &[usize]) -> Self {
        Self {
            through: through.to_vec(),
            ..self
        }
    }

    /// Beside the axis of a host.
    fn beside(self, host: usize) -> Self {
        Self { group: host, ..self }
    }
}

impl Surveyor<'_> {
    fn piece(&mut self, piece: usize, chosen: &[usize]) {
        let (apparatus, placed) = (self.apparatus, self.placed);
        let Some(it) = placed.pieces.get(piece) else { return };
        match apparatus.member(&it.name) {
            None => {
                self.form(piece);
                self.seat(piece);
            }
            Some((row, member)) => {
                // With nothing chosen the last of a row shows what all are: beside it there is room.
                let shows = if self.all {
                    self.rows.insert(row.name.clone())
                } else {
                    let alike = (1..=row.count).rev().find(|member| !row.departs(*member));
                    member == alike.unwrap_or(row.count)
                };
                if shows {
                    self.row(row, if self.all { member } else { 1 });
                }
                if shows || row.departs(member) {
                    self.form(piece);
                }
            }
        }
        if self.all {
            self.guests(piece, chosen);
        }
    }

    fn parameter(&mut self, owner: &str, key: &str) -> Option<&Parameter> {
        if !self.parameters.contains_key(owner) {
            let list = self.apparatus.parameters(owner).unwrap_or_default();
            self.parameters.insert(owner.to_owned(), list);
        }
        self.parameters.get(owner)?.iter().find(|p| p.key == key)
    }

    /// A knob for a number that is shown as it is stored but for a factor.
    pub(super) fn knob(&mut self, owner: &str, key: &str, factor: f64) -> Option<Knob> {
        let parameter = self.parameter(owner, key)?;
        Some(Knob {
            name: format!("{} of {owner}", parameter.label),
            owner: owner.to_owned(),
            key: key.to_owned(),
            shown: parameter.value / factor,
            factor,
            offset: 0.0,
            limit: parameter.limit,
        })
    }

    pub(super) fn add(&mut self, found: Found, name: String, knobs: Vec<Knob>) {
        self.found.push(Dimension {
            piece: found.piece,
            name,
            measure: found.measure,
            knobs,
            rank: found.rank,
            figure: found.figure,
            through: found.through,
            group: found.group,
        });
    }

    /// Adds a dimension that sets the number of that key.
    pub(super) fn set(&mut self, found: Found, owner: &str, key: &str) {
        self.set_by(found, owner, key, 1.0);
    }

    pub(super) fn set_by(&mut self, found: Found, owner: &str, key: &str, factor: f64) {
        if let Some(knob) = self.knob(owner, key, factor) {
            self.add(found, knob.name.clone(), vec![knob]);
        }
    }

    pub(super) fn host(&self, piece: usize) -> Option<usize> {
        match &self.placed.pieces[piece].seat {
            Seat::On(place) => self.index.get(place.host.as_str()).copied(),
            Seat::Free { .. } | Seat::Between { .. } => None,
        }
    }

    pub(super) fn hosts(&self, piece: usize) -> Vec<usize> {
        let places = self.placed.pieces[piece].seat.places();
        places
            .filter_map(|place| self.index.get(place.host.as_str()).copied())
            .collect()
    }

    /// The free piece that a piece stands on in the end.
    pub(super) fn root(&self, piece: usize) -> Option<usize> {
        let mut at = piece;
        for _ in 0..self.placed.pieces.len() {
            match &self.placed.pieces[at].seat {
                Seat::Free { .. } => return Some(at),
                Seat::On(place) | Seat::Between { from: place, .. } => at = *self.index.get(place.host.as_str())?,
            }
        }
        None
    }

    fn seat(&mut self, piece: usize) {
        let placed = self.placed;
        let it = &placed.pieces[piece];
        match &it.seat {
            Seat::Free { .. } => {}
            Seat::On(place) => {
                self.place(piece, &it.name, place, "seat");
            }
            Seat::Between { from, to } if self.all => {
                self.place(piece, &it.name, from, "seat.from");
                self.place(piece, &it.name, to, "seat.to");
            }
            Seat::Between { .. } => {}
        }
    }

    /// Distance along the host and turn from it.
    fn place(&mut self, piece: usize, name: &str, place: &Place, key: &str) {
        if let Some(knob) = self.knob(name, &format!("{key}.at_mm"), 1.0) {
            self.along(piece, place, knob, COMMON);
        }
        if self.all {
            self.turn(piece, name, place, &format!("{key}.turn_deg"));
        }
    }

    /// The distance of a guest along its host, from the host's start.
    fn along(&mut self, piece: usize, place: &Place, knob: Knob, rank: u8) {
        let placed = self.placed;
        let Some(&host) = self.index.get(place.host.as_str()) else {
            return;
        };
        // A place at the end says what the lengths of the host say already.
        let at_end = place.at_mm >= placed.lines[host].length_mm - CONTACT_MM;
        if let Some(figure) = self.stretch(host, 0.0, place.at_mm)
            && (self.all || !at_end)
        {
            let name = format!("Place of {} on {}", placed.pieces[piece].name, place.host);
            let knob = Knob {
                name: name.clone(),
                ..knob
            };
            let mut through = vec![piece];
            through.extend(self.host(host));
            let found = Found::on(piece, Measure::Length(place.at_mm), figure).beside(host);
            self.add(found.ranked(rank).through(&through), name, vec![knob]);
        }
    }

    /// A stretch of a piece's centreline as a figure; `None` when it is nothing.
    fn stretch(&self, piece: usize, from_mm: f64, to_mm: f64) -> Option<Figure> {
        let line = &self.placed.lines[piece];
        let clear_mm = girth(&self.placed.pieces[piece].form);
        let path = portion(line, from_mm, to_mm);
        let (first, last) = (path.first()?, path.last()?);
        let heading = first.end_heading_deg();
        let is_straight = path
            .iter()
            .all(|s| matches!(s, Segment::Line { heading_deg, .. } if *heading_deg == heading));
        Some(if is_straight {
            Figure::Between {
                ends: [first.from(), last.to()],
                along: direction(heading),
                clear_mm,
            }
        } else {
            Figure::Along { path, clear_mm }
        })
    }

    /// The turn of a guest from its host's direction; along the host there is no angle to show.
    fn turn(&mut self, piece: usize, owner: &str, place: &Place, key: &str) {
        let placed = self.placed;
        let Some(&host) = self.index.get(place.host.as_str()) else {
            return;
        };
        let turn_deg = shortest(place.turn_deg);
        if turn_deg.abs() < LEAST || turn_deg.abs() > 180.0 - LEAST {
            return;
        }
        let Some(knob) = self.knob(owner, key, turn_deg.signum()) else {
            return;
        };
        // A whole turn more or less gives the same glass and stays as it was entered.
        let knob = Knob {
            shown: turn_deg.abs(),
            offset: place.turn_deg - turn_deg,
            ..knob
        };
        let line = &placed.lines[host];
        let spot = line.spot(place.at_mm.min(line.length_mm));
        let figure = Figure::Turn {
            vertex: spot.at,
            from_deg: spot.heading_deg,
            turn_deg,
            clear_mm: girth(&placed.pieces[host].form),
        };
        let found = Found::on(piece, Measure::Angle(turn_deg.abs()), figure).ranked(MINOR);
        self.add(found.through(&[host, piece]), knob.name.clone(), vec![knob]);
    }

    /// Place of one member of a row and the pitch.
    fn row(&mut self, row: &Row, member: usize) {
        let index = |name: &str| self.index.get(name).copied();
        let (Some(host), Some(piece)) = (index(&row.first.host), index(&row.member_name(member))) else {
            return;
        };
        let ends = [1, row.count].map(|member| index(&row.member_name(member)));
        let at_mm = row.at_mm(member);
        if let Some(knob) = self.knob(&row.name, "first.at_mm", 1.0) {
            let place = Place {
                at_mm,
                ..row.first.clone()
            };
            // A member that is moved takes its row along.
            let knob = Knob {
                shown: at_mm,
                offset: row.first.at_mm - at_mm,
                ..knob
            };
            self.along(piece, &place, knob, MAJOR);
            if self.all {
                self.turn(piece, &row.name, &place, "first.turn_deg");
            }
        }
        let gaps = row.count.saturating_sub(1);
        if gaps > 0
            && let Some(figure) = self.stretch(host, row.first.at_mm, row.at_mm(row.count))
        {
            let through: Vec<usize> = ends.into_iter().flatten().collect();
            let measure = Measure::Pitch {
                each_mm: row.pitch_mm,
                gaps,
            };
            let found = Found::on(piece, measure, figure).beside(host).ranked(MAJOR);
            self.set(found.through(&through), &row.name, "pitch_mm");
        }
    }

    /// Places of what sits on a chosen piece, unless they are chosen themselves.
    fn guests(&mut self, host: usize, chosen: &[usize]) {
        let placed = self.placed;
        let name = &placed.pieces[host].name;
        for (guest, it) in placed.pieces.iter().enumerate() {
            let Seat::On(place) = &it.seat else { continue };
            if place.host != *name || chosen.contains(&guest) {
                continue;
            }
            match self.apparatus.member(&it.name) {
                Some((row, member)) => {
                    if self.rows.insert(row.name.clone()) {
                        self.row(row, member);
                    }
                }
                None => {
                    if let Some(knob) = self.knob(&it.name, "seat.at_mm", 1.0) {
                        self.along(guest, place, knob, COMMON);
                    }
                }
            }
        }
    }
}

/// Half the greatest outside diameter of a piece, mm.
pub(super) fn girth(form: &Form) -> f64 {
    let sizes = crate::model::param::sizes_of(form);
    sizes.iter().map(|(_, size)| size.od_mm / 2.0).fold(0.0, f64::max)
}

/// The same turn within -180 (exclusive) to 180 degrees.
fn shortest(turn_deg: f64) -> f64 {
    let turn = turn_deg.rem_euclid(360.0);
    if turn > 180.0 { turn - 360.0 } else { turn }
}

/// The part of a centreline between two distances from its start, mm; beyond its end it runs straight on.
fn portion(line: &Centreline, from_mm: f64, to_mm: f64) -> Vec<Segment> {
    let straight = |from: Point, to: Point, heading_deg: f64| Segment::Line {
        from,
        to,
        heading_deg,
        length_mm: (to - from).norm(),
    };
    let mut path = Vec::new();
    let mut s = 0.0;
    for segment in &line.segments {
        let length = segment.length_mm();
        let (low, high) = ((from_mm - s).max(0.0), (to_mm - s).min(length));
        s += length;
        if high - low < LEAST {
            continue;
        }
        let (a, b) = (line.spot(s - length + low), line.spot(s - length + high));
        path.push(match *segment {
            Segment::Line { heading_deg, .. } => straight(a.at, b.at, heading_deg),
            Segment::Arc {
                centre,
                radius_mm,
                turn_deg,
                heading_deg,
                ..
            } => Segment::Arc {
                from: a.at,
                to: b.at,
                heading_deg: heading_deg + turn_deg * (low / length),
                centre,
                radius_mm,
                turn_deg: turn_deg * ((high - low) / length),
            },
        });
    }
    if to_mm - s.max(from_mm) > LEAST {
        let (a, b) = (line.spot(s.max(from_mm)), line.spot(to_mm));
        path.push(straight(a.at, b.at, b.heading_deg));
    }
    path
}
