//! The handles of a selected piece: which numbers each holds, where it stands, and what a pull makes of them.
//!
//! A handle belongs to a number that also stands as a field in the particulars, the corner of a bridge to two; nothing
//! can be pulled that cannot be typed.

mod places;

pub(crate) use places::of;

use super::snap::{Snap, within_turn};
use super::view::Placed as OnScreen;
use crate::data;
use crate::model::limits::Limit;
use crate::model::param::{self, Parameter};
use crate::model::place::{Centreline, Point};
use crate::model::{Apparatus, Form, TubeSize};
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
            key => match self.read(apparatus) {
                Some(parameter) if key.starts_with("corners.") => {
                    format!("Move {} of {owner}", head_of(&parameter.label).to_lowercase())
                }
                Some(parameter) => format!("{} of {owner}", parameter.label),
                None => format!("Change {owner}"),
            },
        }
    }
}

/// What a number belongs to: its label without the detail.
pub(crate) fn head_of(label: &str) -> &str {
    label.split_once(": ").map_or(label, |(head, _)| head)
}

/// How a pull changes the number.
#[derive(Clone, Debug, PartialEq)]
enum Lever {
    /// By the way along a vector, times its length.
    Along(Point),
    /// By the way to the right, and a second number by the way upwards.
    About(Measure),
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
    /// Arrows to all four sides.
    Cross,
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

    /// The numbers that it holds.
    pub(crate) fn measures(&self) -> impl Iterator<Item = &Measure> {
        let second = match &self.lever {
            Lever::About(second) => Some(second),
            _ => None,
        };
        std::iter::once(&self.measure).chain(second)
    }

    /// The changes that a pull from one point of the drawing to another makes of the value `start`, and the value.
    pub(crate) fn pulled(
        &self,
        start: &Parameter,
        (from, to): (Point, Point),
        snap: Snap,
        now: &Apparatus,
    ) -> (Vec<Edit>, f64) {
        let way = to - from;
        let raw = start.value
            + match &self.lever {
                Lever::Along(along) => way.dot(along),
                Lever::About(_) => way.x,
                Lever::Across(side, _) => 2.0 * way.dot(side),
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
            return (vec![edit], size.od_mm);
        }
        let mut edits = vec![self.measure.edit(value)];
        if let Lever::About(second) = &self.lever
            && let Some(present) = second.read(now)
        {
            edits.push(second.edit(self.rounded(present.value + way.y, present.limit, snap)));
        }
        (edits, value)
    }

    fn rounded(&self, raw: f64, limit: &Limit, snap: Snap) -> f64 {
        use crate::model::limits::Unit;
        let value = match (limit.unit, self.measure.key.as_str()) {
            (Unit::Deg, key) if key.starts_with("course.") => snap.angle(raw),
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
                let (edits, value) = handle.pulled(&start, (from, to), Snap::default(), &apparatus);
                let what = format!("{name} {}", handle.measure.key);
                assert_ne!(value, start.value, "{what}");
                let next = apparatus.apply_all(&edits).unwrap();
                assert_eq!(handle.measure.read(&next).unwrap().value, value, "{what}");
                let still = handle.pulled(&start, (from, from), Snap { suspended: true }, &apparatus);
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
            let pull = (handle.anchor, handle.anchor + way);
            let (edits, value) = handle.pulled(&start, pull, Snap::default(), &apparatus);
            assert_eq!(value, start.value + 17.0, "{name}");
            let after = find(&apparatus.apply_all(&edits).unwrap());
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
            let (edits, _) = handle.pulled(&start, (handle.anchor, to), Snap::default(), &apparatus);
            let next = apparatus.apply_all(&edits).unwrap();
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
