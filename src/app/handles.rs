//! The handles of a selected piece: which number each holds, where it stands, and what a pull makes of it.
//!
//! A handle belongs to one number that also stands as a field in the particulars; nothing can be pulled that cannot
//! be typed.

use super::snap::{Snap, within_turn};
use super::view::Placed as OnScreen;
use crate::data;
use crate::model::limits::Limit;
use crate::model::param::{self, Parameter};
use crate::model::place::{Centreline, Placed, Point, Spot, direction};
use crate::model::{Ampoule, Apparatus, Bottom, Element, End, Form, Route, Row, Seat, TubeSize};
use crate::model::{Edit, EditError};
use crate::units::LengthUnit;
use egui::{Pos2, Vec2};

/// A number of a piece or row, named so that it is found again after every change.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Measure {
    /// The piece, row or member that has it.
    pub owner: String,
    /// Its key there.
    pub key: String,
}

impl Measure {
    fn new(owner: &str, key: impl Into<String>) -> Self {
        Self {
            owner: owner.to_owned(),
            key: key.into(),
        }
    }

    /// The number as it stands.
    pub(crate) fn read(&self, apparatus: &Apparatus) -> Option<Parameter> {
        let mut all = apparatus.parameters(&self.owner)?;
        let index = all.iter().position(|parameter| parameter.key == self.key)?;
        Some(all.swap_remove(index))
    }

    /// The change that sets it.
    pub(crate) fn edit(&self, value: f64) -> Edit {
        Edit::Set {
            piece: self.owner.clone(),
            key: self.key.clone(),
            value,
        }
    }

    /// Words for the history, once the number is `value`.
    pub(crate) fn words(&self, apparatus: &Apparatus, value: f64, unit: LengthUnit) -> String {
        use super::snap::{angle_words, length_words};
        let host = match (apparatus.piece(&self.owner), apparatus.row(&self.owner)) {
            (Some(piece), _) => piece.seat.places().next().map(|place| place.host.clone()),
            (None, Some(row)) => Some(row.first.host.clone()),
            (None, None) => None,
        };
        let (owner, host) = (&self.owner, host.unwrap_or_default());
        match self.key.as_str() {
            "seat.at_mm" | "first.at_mm" => format!("Move {owner} to {} on {host}", length_words(value, unit)),
            "seat.turn_deg" | "first.turn_deg" | "seat.heading_deg" => {
                format!("Turn {owner} to {}", angle_words(value))
            }
            _ => match self.read(apparatus) {
                Some(parameter) => format!("{} of {owner}", parameter.label),
                None => format!("Change {owner}"),
            },
        }
    }
}

/// How a pull changes the number.
#[derive(Clone, Debug, PartialEq)]
enum Lever {
    /// By the way along a direction.
    Along(Point),
    /// By twice the way along a direction: an outside diameter. Tube keeps to stock sizes: the size's key; what is
    /// blown has none.
    Across(Point, Option<String>),
    /// By the angle about a point.
    Around(Point),
    /// By the way along a centreline, shared by so many.
    Rail(Centreline, f64),
}

/// What a handle looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    /// Arrows along the pull.
    Arrows,
    /// An arc with an arrow.
    Arc,
    /// A plus and a minus.
    Count,
}

/// A handle.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Handle {
    /// Its number.
    pub measure: Measure,
    /// How it is drawn.
    pub look: Look,
    /// The place of the glass that it stands for, mm.
    anchor: Point,
    /// Away from the glass: the way it is set off, and how far, points.
    away: (Point, f32),
    /// The way of its pull, for drawing.
    pull: Point,
    lever: Lever,
}

/// Distance of a handle from the glass, points.
const OFF: f32 = 15.0;
/// Distance of the turning handle from the axis of a thin piece, points.
const ASIDE: f32 = 26.0;
/// Length of an ampoule on the screen from which there is room for a handle at its stem, points.
const ROOMY: f32 = 120.0;

impl Handle {
    /// Where it stands on the screen.
    pub(crate) fn at(&self, screen: OnScreen) -> Pos2 {
        let at = screen.to_screen(self.anchor);
        let away = screen.to_screen(self.anchor + self.away.0) - at;
        at + away.normalized() * self.away.1
    }

    /// The way of its pull on the screen.
    pub(crate) fn pull(&self, screen: OnScreen) -> Vec2 {
        (screen.to_screen(self.anchor + self.pull) - screen.to_screen(self.anchor)).normalized()
    }

    /// The change that a pull from one point of the drawing to another makes of the value `start`, and the value.
    pub(crate) fn pulled(&self, start: &Parameter, from: Point, to: Point, snap: Snap, now: &Apparatus) -> (Edit, f64) {
        let raw = start.value
            + match &self.lever {
                Lever::Along(way) => (to - from).dot(way),
                Lever::Across(way, _) => 2.0 * (to - from).dot(way),
                Lever::Around(centre) => {
                    let (a, b) = (from - centre, to - centre);
                    (a.x * b.y - a.y * b.x).atan2(a.dot(&b)).to_degrees()
                }
                Lever::Rail(line, share) => (line.nearest_mm(to) - line.nearest_mm(from)) / share,
            };
        let value = self.rounded(raw, start.limit, snap);
        if let (Lever::Across(_, Some(key)), false) = (&self.lever, snap.suspended)
            && let Some(size) = self.stock(now, key, raw)
        {
            let edit = Edit::SetSize {
                piece: self.measure.owner.clone(),
                key: key.clone(),
                size,
            };
            return (edit, size.od_mm);
        }
        (self.measure.edit(value), value)
    }

    fn rounded(&self, raw: f64, limit: &Limit, snap: Snap) -> f64 {
        use crate::model::limits::Unit;
        let value = match (limit.unit, self.measure.key.as_str()) {
            (Unit::Deg, "seat.heading_deg") => snap.angle(within_turn(raw)),
            (Unit::Deg, _) => snap.angle(within_turn(raw)),
            (Unit::Count, _) => raw.round(),
            _ => snap.length(raw),
        };
        limit.nearest(value)
    }

    /// The stock size nearest to an outside diameter, the user's own sizes included, with a wall near to the present
    /// one.
    fn stock(&self, apparatus: &Apparatus, key: &str, od_mm: f64) -> Option<TubeSize> {
        let sizes = apparatus
            .find(&self.measure.owner)
            .map(|piece| param::sizes_of(&piece.form));
        let sizes = sizes.or_else(|| {
            let row = apparatus.row(&self.measure.owner)?;
            Some(param::sizes_of(&Form::Ampoule(row.pattern.clone())))
        })?;
        let present = sizes.into_iter().find(|(other, _)| other == key)?.1;
        let stock = data::nearest_stock(od_mm, present.wall_mm).map(|row| TubeSize::new(row.od_mm, row.wall_mm));
        let own = apparatus.own_stock.iter().map(|own| own.tube);
        let off = |size: &TubeSize| ((size.od_mm - od_mm).abs(), (size.wall_mm - present.wall_mm).abs());
        stock.into_iter().chain(own).min_by(|a, b| {
            let (a, b) = (off(a), off(b));
            a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
        })
    }
}

/// The handles of a piece or member. `mm` is the length of a point on the screen.
pub(crate) fn of(apparatus: &Apparatus, placed: &Placed, name: &str, mm: f64) -> Vec<Handle> {
    let Some(index) = placed.index(name) else {
        return Vec::new();
    };
    let (piece, line) = (&placed.pieces[index], &placed.lines[index]);
    let mut list = Vec::new();
    match &piece.form {
        Form::Tube(tube) => of_tube(&mut list, name, tube, line),
        Form::Bulb(bulb) => {
            let along = direction(line.end().heading_deg);
            let centre = line.spot(bulb.neck_mm).at;
            let bottom = centre + along * (bulb.body.od_mm / 2.0);
            list.push(end_handle(name, "neck_mm", bottom, along));
            let side = side_handle(name, "body", centre, along, bulb.body.od_mm);
            let lever = Lever::Across(side.pull, None);
            list.push(Handle { lever, ..side });
        }
        Form::Ampoule(ampoule) => of_ampoule(&mut list, name, ampoule, line, mm),
        Form::Fitting(_) => {
            let end = line.end();
            list.push(end_handle(name, "length_mm", end.at, direction(end.heading_deg)));
        }
        Form::Bridge(bridge) => {
            of_bridge(
                &mut list,
                placed,
                name,
                &piece.seat,
                line,
                matches!(bridge.route, Route::Arched { .. }),
            );
        }
    }
    let row = apparatus.member(name).map(|(row, _)| row);
    let turn = match (&piece.seat, row) {
        (_, Some(row)) => Some(Measure::new(&row.name, "first.turn_deg")),
        (Seat::Free { .. }, None) => Some(Measure::new(name, "seat.heading_deg")),
        (Seat::On(_), None) => Some(Measure::new(name, "seat.turn_deg")),
        (Seat::Between { .. }, None) => None,
    };
    if let Some(measure) = turn {
        list.push(turn_handle(measure, line, &piece.form, mm));
    }
    if let Some(row) = row {
        of_row(&mut list, placed, row, line.start);
    }
    list
}

fn across(along: Point) -> Point {
    Point::new(-along.y, along.x)
}

/// Lengthens: stands at the end of the glass.
fn end_handle(owner: &str, key: impl Into<String>, end: Point, along: Point) -> Handle {
    Handle {
        measure: Measure::new(owner, key),
        look: Look::Arrows,
        anchor: end,
        away: (along, OFF),
        pull: along,
        lever: Lever::Along(along),
    }
}

/// Widens: stands at the side of the glass.
fn side_handle(owner: &str, size: &str, centre: Point, along: Point, od_mm: f64) -> Handle {
    let side = across(along);
    Handle {
        measure: Measure::new(owner, format!("{size}.od_mm")),
        look: Look::Arrows,
        anchor: centre + side * (od_mm / 2.0),
        away: (side, OFF),
        pull: side,
        lever: Lever::Across(side, Some(size.to_owned())),
    }
}

/// Turns about the start: stands beside the end.
fn turn_handle(measure: Measure, line: &Centreline, form: &Form, mm: f64) -> Handle {
    let (start, end) = (line.start, line.end());
    let reach = (end.at - start.at).norm();
    // A piece that is short on the screen, or comes back to its start, is turned by a longer arm.
    let arm = f64::from(ASIDE) * 1.5 * mm;
    let (at, along) = if reach < arm {
        let along = direction(start.heading_deg);
        (start.at + along * arm, along)
    } else {
        (end.at, (end.at - start.at) / reach)
    };
    let side = -across(along);
    let half = form.greatest_od_mm() / 2.0;
    let aside = Handle {
        measure,
        look: Look::Arc,
        anchor: at + side * half,
        away: (side, ASIDE),
        pull: side,
        lever: Lever::Around(start.at),
    };
    Handle {
        pull: across(along),
        ..aside
    }
}

fn of_tube(list: &mut Vec<Handle>, name: &str, tube: &crate::model::Tube, line: &Centreline) {
    let straight = |element: &Element| matches!(element, Element::Straight { .. });
    let Some(last) = tube.course.iter().rposition(straight) else {
        return;
    };
    let Some(segment) = line.segments.get(last) else { return };
    let along = direction(segment.end_heading_deg());
    let end = line.end();
    let size = tube.course.iter().fold(tube.size, |size, element| match element {
        Element::Taper { to, .. } => *to,
        _ => size,
    });
    let beyond = if tube.end == End::Round { size.od_mm / 2.0 } else { 0.0 };
    let away = direction(end.heading_deg);
    list.push(Handle {
        away: (away, OFF),
        ..end_handle(name, format!("course.{last}.length_mm"), end.at + away * beyond, along)
    });
    // The size at the start holds up to the first taper: its handle stands on the longest straight part.
    let tapered = tube
        .course
        .iter()
        .position(|element| matches!(element, Element::Taper { .. }));
    let of_start = line
        .segments
        .iter()
        .zip(&tube.course)
        .take(tapered.unwrap_or(usize::MAX));
    let longest = of_start
        .filter(|(_, element)| straight(element))
        .map(|(segment, _)| segment)
        .max_by(|a, b| a.length_mm().total_cmp(&b.length_mm()));
    if let Some(segment) = longest {
        let along = direction(segment.end_heading_deg());
        let at = segment.from() + (segment.to() - segment.from()) * 0.7;
        list.push(side_handle(name, "size", at, along, tube.size.od_mm));
    }
}

fn of_ampoule(list: &mut Vec<Handle>, name: &str, ampoule: &Ampoule, line: &Centreline, mm: f64) {
    let along = direction(line.start.heading_deg);
    let shoulder = ampoule.stem_mm + ampoule.funnel_mm + ampoule.neck_mm + ampoule.shoulder_mm;
    let bottom = shoulder
        + ampoule.body_mm
        + match ampoule.bottom {
            Bottom::Round => ampoule.body.od_mm / 2.0,
            Bottom::Flat => 0.0,
            Bottom::Conical { length_mm } => length_mm + ampoule.body.wall_mm,
        };
    let at = |mm: f64| line.start.at + along * mm;
    list.push(end_handle(name, "body_mm", at(bottom), along));
    list.push(side_handle(
        name,
        "body",
        at(shoulder + ampoule.body_mm / 2.0),
        along,
        ampoule.body.od_mm,
    ));
    if line.length_mm < f64::from(ROOMY) * mm {
        return;
    }
    let side = -across(along);
    // The stem's end stands at the side, where the body's width leaves room.
    list.push(Handle {
        measure: Measure::new(name, "stem_mm"),
        look: Look::Arrows,
        anchor: at(ampoule.stem_mm) + side * (ampoule.stem.od_mm / 2.0),
        away: (side, OFF),
        pull: along,
        lever: Lever::Along(along),
    });
}

fn of_bridge(list: &mut Vec<Handle>, placed: &Placed, name: &str, seat: &Seat, line: &Centreline, arched: bool) {
    for ((place, key), spot) in seat
        .places()
        .zip(["seat.from.at_mm", "seat.to.at_mm"])
        .zip([line.start, line.end()])
    {
        let Some(host) = placed.index(&place.host) else {
            continue;
        };
        let along = direction(placed.lines[host].spot(place.at_mm).heading_deg);
        let out = direction(spot.heading_deg) * if key == "seat.from.at_mm" { 1.0 } else { -1.0 };
        list.push(Handle {
            measure: Measure::new(name, key),
            look: Look::Arrows,
            anchor: spot.at,
            away: (-out, OFF),
            pull: along,
            lever: Lever::Rail(placed.lines[host].clone(), 1.0),
        });
    }
    if arched {
        let up = Point::new(0.0, 1.0);
        let middle = line.spot(line.length_mm / 2.0).at;
        list.push(end_handle(name, "rise_mm", middle, up));
    }
}

/// Pitch and number of members: on the host, on the side away from the members.
fn of_row(list: &mut Vec<Handle>, placed: &Placed, row: &Row, start: Spot) {
    let Some(host) = placed.index(&row.first.host) else {
        return;
    };
    let (line, form) = (&placed.lines[host], &placed.pieces[host].form);
    let away = -direction(start.heading_deg);
    let half = form.joined_od_mm() / 2.0;
    let mut push = |key: &str, at_mm: f64, look, share| {
        let spot = line.spot(at_mm);
        list.push(Handle {
            measure: Measure::new(&row.name, key),
            look,
            anchor: spot.at + away * half,
            away: (away, OFF),
            pull: direction(spot.heading_deg),
            lever: Lever::Rail(line.clone(), share),
        });
    };
    if row.count > 1 {
        push("pitch_mm", row.at_mm(2), Look::Arrows, 1.0);
    }
    let last = row.at_mm(row.count);
    push(
        "count",
        (last + row.pitch_mm / 2.0).min(line.length_mm.max(last)),
        Look::Count,
        row.pitch_mm,
    );
}

/// Why a change was refused, in a sentence.
pub(crate) fn refusal(error: &EditError, unit: LengthUnit) -> String {
    super::particulars::refusal(error, unit)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample;

    const PIECES: [&str; 6] = ["header", "pot", "bridge", "pump", "vial-1", "vial-2"];

    fn handles(apparatus: &Apparatus, name: &str) -> Vec<Handle> {
        of(apparatus, &apparatus.place().unwrap(), name, 0.5)
    }

    #[test]
    fn every_handle_holds_a_number_that_a_pull_changes() {
        let apparatus = sample::apparatus();
        for name in PIECES {
            let list = handles(&apparatus, name);
            assert!(list.len() >= 2, "{name}");
            for handle in list {
                let start = handle.measure.read(&apparatus).unwrap();
                let from = handle.anchor;
                let to = from + handle.pull * 55.0;
                let (edit, value) = handle.pulled(&start, from, to, Snap::default(), &apparatus);
                let what = format!("{name} {}", handle.measure.key);
                assert_ne!(value, start.value, "{what}");
                let next = apparatus.apply(&edit).unwrap();
                assert_eq!(handle.measure.read(&next).unwrap().value, value, "{what}");
                let still = handle.pulled(&start, from, from, Snap { suspended: true }, &apparatus);
                assert_eq!(still.1, start.value, "{what}: nothing moves without a pull");
            }
        }
        assert!(handles(&apparatus, "nobody").is_empty());
    }

    #[test]
    fn the_end_of_the_glass_follows_its_handle() {
        let apparatus = sample::apparatus();
        for (name, key) in [
            ("header", "course.5.length_mm"),
            ("pump", "length_mm"),
            ("vial-1", "body_mm"),
            ("pot", "neck_mm"),
        ] {
            let find = |apparatus: &Apparatus| {
                handles(apparatus, name)
                    .into_iter()
                    .find(|h| h.measure.key == key)
                    .unwrap()
            };
            let handle = find(&apparatus);
            let start = handle.measure.read(&apparatus).unwrap();
            let way = handle.pull * 17.0;
            let (edit, value) = handle.pulled(&start, handle.anchor, handle.anchor + way, Snap::default(), &apparatus);
            assert_eq!(value, start.value + 17.0, "{name}");
            let after = find(&apparatus.apply(&edit).unwrap());
            assert!((after.anchor - handle.anchor - way).norm() < 1e-9, "{name}");
        }
    }

    #[test]
    fn diameters_of_tube_keep_to_stock_and_those_of_bulbs_do_not() {
        let apparatus = sample::apparatus();
        let widen = |name: &str, by_mm: f64| {
            let list = handles(&apparatus, name);
            let handle = list
                .iter()
                .find(|handle| handle.measure.key.ends_with("od_mm"))
                .unwrap();
            let start = handle.measure.read(&apparatus).unwrap();
            let to = handle.anchor + handle.pull * by_mm;
            let (edit, _) = handle.pulled(&start, handle.anchor, to, Snap::default(), &apparatus);
            let next = apparatus.apply(&edit).unwrap();
            param::sizes_of(&next.find(name).unwrap().form)
                .into_iter()
                .find(|(key, _)| handle.measure.key.starts_with(key.as_str()))
                .unwrap()
                .1
        };
        // Stock goes from 20 to 22 mm; 13.5 mm is the user's own.
        assert_eq!(widen("header", 2.4), TubeSize::new(20.0, 1.2));
        assert_eq!(widen("vial-1", 0.8), TubeSize::new(13.5, 1.25));
        assert_eq!(widen("pot", 10.5), TubeSize::new(61.0, 1.4));
    }

    #[test]
    fn words_tell_what_was_done() {
        let apparatus = sample::apparatus();
        let words = |owner: &str, key: &str, value: f64| {
            Measure::new(owner, key).words(&apparatus, value, LengthUnit::Millimetre)
        };
        assert_eq!(words("pump", "seat.at_mm", 180.0), "Move pump to 180 mm on header");
        assert_eq!(words("vial", "first.turn_deg", -45.0), "Turn vial to −45°");
        assert_eq!(words("pot", "seat.heading_deg", 90.0), "Turn pot to 90°");
        assert_eq!(words("vial", "pitch_mm", 40.0), "Pitch of vial");
    }
}
