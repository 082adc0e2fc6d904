//! Moving pieces: along their hosts, or about the bench when they stand free.

use super::snap::{Snap, length_words};
use crate::model::place::{Placed, Point, direction};
use crate::model::{Apparatus, Edit, EditError, Place, Seat};
use crate::units::LengthUnit;
use std::collections::{HashMap, HashSet};

/// Why nothing moved.
#[derive(Debug)]
pub(crate) enum NotMoved {
    /// It can't, as a sentence.
    Stuck(String),
    /// The apparatus refuses the change.
    Refused(EditError),
}

impl NotMoved {
    /// The reason as a sentence, with lengths in a unit.
    pub(crate) fn words(&self, unit: LengthUnit) -> String {
        match self {
            Self::Stuck(words) => words.clone(),
            Self::Refused(error) => super::handles::refusal(error, unit),
        }
    }
}

/// A move: what becomes of the apparatus, and what is told of it.
#[derive(Clone, Debug)]
pub(crate) struct Moved {
    /// The apparatus after it.
    pub next: Apparatus,
    /// Words for the history.
    pub words: String,
}

/// Where a piece or row can be moved.
enum Freedom {
    /// About the drawing, from here.
    Free(Point),
    /// Along a host: the place, the way there, and how far the host reaches, mm.
    Along(Place, Point, f64),
}

/// The pieces and rows among `names` that nothing else among them carries along.
pub(crate) fn roots(apparatus: &Apparatus, names: &[String]) -> Vec<String> {
    let row_of: HashMap<String, &str> = apparatus
        .rows
        .iter()
        .flat_map(|row| row.member_names().map(move |member| (member, row.name.as_str())))
        .collect();
    let owner_of = |name: &str| {
        row_of
            .get(name)
            .map_or_else(|| name.to_owned(), |row| (*row).to_owned())
    };
    let pieces = apparatus.pieces.iter().map(|piece| {
        let hosts = piece
            .seat
            .places()
            .map(|place| owner_of(&place.host))
            .collect::<Vec<_>>();
        (piece.name.clone(), hosts)
    });
    let rows = apparatus
        .rows
        .iter()
        .map(|row| (row.name.clone(), vec![owner_of(&row.first.host)]));
    let hosts: HashMap<String, Vec<String>> = pieces.chain(rows).collect();
    let mut owners: Vec<String> = Vec::new();
    let mut seen = HashSet::new();
    for owner in names
        .iter()
        .map(|name| owner_of(name))
        .filter(|owner| hosts.contains_key(owner))
    {
        if seen.insert(owner.clone()) {
            owners.push(owner);
        }
    }
    let is_carried = |owner: &String| {
        let mut above: Vec<&String> = hosts.get(owner).into_iter().flatten().collect();
        while let Some(host) = above.pop() {
            if seen.contains(host) {
                return true;
            }
            above.extend(hosts.get(host).into_iter().flatten());
        }
        false
    };
    owners.retain(|owner| !is_carried(owner));
    owners
}

fn freedom(apparatus: &Apparatus, placed: &Placed, owner: &str) -> Option<Freedom> {
    let along = |place: &Place, span_mm: f64| {
        let line = &placed.lines[placed.index(&place.host)?];
        let way = direction(line.spot(place.at_mm).heading_deg);
        // To a hundredth, which still counts as the end itself.
        let length = (line.length_mm * 100.0).round() / 100.0;
        Some(Freedom::Along(place.clone(), way, (length - span_mm).max(0.0)))
    };
    if let Some(row) = apparatus.row(owner) {
        return along(&row.first, row.at_mm(row.count) - row.first.at_mm);
    }
    match &apparatus.piece(owner)?.seat {
        Seat::Free { x_mm, y_mm, .. } => Some(Freedom::Free(Point::new(*x_mm, *y_mm))),
        Seat::On(place) => along(place, 0.0),
        Seat::Between { .. } => None,
    }
}

/// Why nothing moves.
const STANDS: &str = "A bridge stands where its two places are: move its ends, or the pieces that it joins.";

/// Moves by one stroke of an arrow key, `way` being the arrow's direction on the drawing. On a host that lies across
/// the arrow nothing moves.
pub(crate) fn nudged(
    apparatus: &Apparatus,
    names: &[String],
    way: Point,
    mm: f64,
    unit: LengthUnit,
) -> Result<Moved, NotMoved> {
    let placed = apparatus.place().map_err(|fault| NotMoved::Stuck(fault.to_string()))?;
    let owners = roots(apparatus, names);
    let mut edits = Vec::new();
    let mut last = None;
    for owner in &owners {
        match freedom(apparatus, &placed, owner) {
            Some(Freedom::Free(at)) => {
                // The axis of the drawing that comes nearest to the arrow.
                let step = if way.x.abs() >= way.y.abs() {
                    Point::new(way.x.signum() * mm, 0.0)
                } else {
                    Point::new(0.0, way.y.signum() * mm)
                };
                edits.push(moved_to(owner, at + step));
            }
            Some(Freedom::Along(place, along, most)) => {
                let sense = along.dot(&way);
                if sense.abs() > ACROSS {
                    let at_mm = hundredths(place.at_mm + sense.signum() * mm).clamp(0.0, most.max(place.at_mm));
                    last = Some((at_mm, place.host));
                    edits.push(along_to(owner, at_mm));
                }
            }
            None => {}
        }
    }
    finish(apparatus, &owners, &edits, last, (STANDS, unit))
}

/// Cosine above which a host does not count as lying across an arrow.
const ACROSS: f64 = 0.26;

/// Moves as the pointer does, from one point of the drawing to another, with `lead` under it. The piece under the
/// pointer keeps to whole millimetres; the others go as far.
pub(crate) fn dragged(
    apparatus: &Apparatus,
    placed: &Placed,
    names: &[String],
    lead: &str,
    (from, to): (Point, Point),
    (snap, unit): (Snap, LengthUnit),
) -> Result<Moved, NotMoved> {
    let owners = roots(apparatus, names);
    // What is under the pointer, or what carries it along.
    let lead = owners
        .iter()
        .find(|owner| {
            apparatus.owner(lead).as_ref() == Ok(owner) || apparatus.guests_of(owner).iter().any(|g| g == lead)
        })
        .or(owners.first())
        .cloned()
        .unwrap_or_default();
    let mut edits = Vec::new();
    let mut last = None;
    let by = match freedom(apparatus, placed, &lead) {
        Some(Freedom::Free(at)) => {
            let goal = at + to - from;
            let goal = Point::new(snap.length(goal.x), snap.length(goal.y));
            edits.push(moved_to(&lead, goal));
            goal - at
        }
        Some(Freedom::Along(place, _, most)) => {
            let Some(host) = placed.index(&place.host) else {
                return Err(NotMoved::Stuck(STANDS.to_owned()));
            };
            let line = &placed.lines[host];
            let way = line.nearest_mm(to) - line.nearest_mm(from);
            // The end itself can be reached, though it seldom is a whole number.
            let asked = place.at_mm + way;
            let at_mm = if asked >= most - 0.5 {
                most.max(0.0)
            } else {
                snap.length(asked).clamp(0.0, most)
            };
            last = Some((at_mm, place.host.clone()));
            edits.push(along_to(&lead, at_mm));
            line.spot(at_mm).at - line.spot(place.at_mm).at
        }
        None => return Err(NotMoved::Stuck(STANDS.to_owned())),
    };
    for owner in owners.iter().filter(|owner| **owner != lead) {
        match freedom(apparatus, placed, owner) {
            Some(Freedom::Free(at)) => edits.push(moved_to(owner, at + by)),
            Some(Freedom::Along(place, along, most)) => {
                let at_mm = hundredths(place.at_mm + along.dot(&by)).clamp(0.0, most.max(place.at_mm));
                edits.push(along_to(owner, at_mm));
            }
            None => {}
        }
    }
    finish(apparatus, &owners, &edits, last, (STANDS, unit))
}

fn moved_to(owner: &str, at: Point) -> Edit {
    Edit::Move {
        piece: owner.to_owned(),
        x_mm: hundredths(at.x),
        y_mm: hundredths(at.y),
    }
}

fn along_to(owner: &str, at_mm: f64) -> Edit {
    Edit::MoveAlong {
        piece: owner.to_owned(),
        at_mm,
    }
}

/// Without the tail of a sum, and without a negative zero.
fn hundredths(mm: f64) -> f64 {
    (mm * 100.0).round() / 100.0 + 0.0
}

fn finish(
    apparatus: &Apparatus,
    owners: &[String],
    edits: &[Edit],
    last: Option<(f64, String)>,
    (why_not, unit): (&str, LengthUnit),
) -> Result<Moved, NotMoved> {
    if edits.is_empty() {
        return Err(NotMoved::Stuck(why_not.to_owned()));
    }
    let next = apparatus.apply_all(edits).map_err(NotMoved::Refused)?;
    let words = match (owners, last) {
        ([owner], Some((at_mm, host))) => format!("Move {owner} to {} on {host}", length_words(at_mm, unit)),
        ([owner], None) => format!("Move {owner}"),
        (owners, _) => format!("Move {} pieces", owners.len()),
    };
    Ok(Moved { next, words })
}

/// Turns the selection by a step: what sits on a host from it, what stands free on the drawing.
pub(crate) fn turned(apparatus: &Apparatus, names: &[String], deg: f64) -> Result<Moved, NotMoved> {
    let owners = roots(apparatus, names);
    let mut edits = Vec::new();
    let mut words = None;
    for owner in &owners {
        let present = match (apparatus.row(owner), apparatus.piece(owner).map(|piece| &piece.seat)) {
            (Some(row), _) => row.first.turn_deg,
            (None, Some(Seat::On(place))) => place.turn_deg,
            (None, Some(Seat::Free { heading_deg, .. })) => *heading_deg,
            _ => continue,
        };
        // On to the next multiple of the step, as a hand would.
        let steps = present / deg.abs();
        let goal = if deg > 0.0 {
            (steps + EDGE).floor() + 1.0
        } else {
            (steps - EDGE).ceil() - 1.0
        } * deg.abs();
        let goal = super::snap::within_turn(hundredths(goal));
        words = Some(format!("Turn {owner} to {}", super::snap::angle_words(goal)));
        edits.push(Edit::Turn {
            piece: owner.clone(),
            angle_deg: goal,
        });
    }
    if edits.is_empty() {
        return Err(NotMoved::Stuck("A bridge is turned by its ends.".to_owned()));
    }
    let next = apparatus.apply_all(&edits).map_err(NotMoved::Refused)?;
    let words = match words.filter(|_| edits.len() == 1) {
        Some(words) => words,
        None => format!("Turn {} pieces", edits.len()),
    };
    Ok(Moved { next, words })
}

/// Nearer to a step than this is on it.
const EDGE: f64 = 1e-6;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample;

    fn names(list: &[&str]) -> Vec<String> {
        list.iter().map(|name| (*name).to_owned()).collect()
    }

    fn at_of(apparatus: &Apparatus, name: &str) -> f64 {
        apparatus
            .find(name)
            .and_then(|piece| piece.seat.places().next().map(|place| place.at_mm))
            .unwrap()
    }

    #[test]
    fn an_arrow_moves_along_the_host_the_way_that_it_points() {
        let apparatus = sample::apparatus();
        let moved = nudged(
            &apparatus,
            &names(&["pump"]),
            Point::new(-1.0, 0.0),
            1.0,
            LengthUnit::Millimetre,
        )
        .unwrap();
        assert_eq!(at_of(&moved.next, "pump"), 179.0);
        assert_eq!(moved.words, "Move pump to 179 mm on header");
        let moved = nudged(
            &apparatus,
            &names(&["vial-2"]),
            Point::new(1.0, 0.0),
            0.1,
            LengthUnit::Millimetre,
        )
        .unwrap();
        assert_eq!(at_of(&moved.next, "vial-1"), 40.1);
        assert!(
            nudged(
                &apparatus,
                &names(&["pump"]),
                Point::new(0.0, 1.0),
                1.0,
                LengthUnit::Millimetre
            )
            .is_err(),
            "across the host"
        );
        assert!(
            nudged(
                &apparatus,
                &names(&["bridge"]),
                Point::new(1.0, 0.0),
                1.0,
                LengthUnit::Millimetre
            )
            .is_err()
        );
        let moved = nudged(
            &apparatus,
            &names(&["pot"]),
            Point::new(0.1, -0.9),
            10.0,
            LengthUnit::Millimetre,
        )
        .unwrap();
        assert_eq!(
            moved.next.pieces[1].seat,
            Seat::Free {
                x_mm: -150.0,
                y_mm: 10.0,
                heading_deg: -90.0
            }
        );
    }

    #[test]
    fn what_is_carried_along_is_not_moved_twice() {
        let apparatus = sample::apparatus();
        assert_eq!(
            roots(&apparatus, &names(&["vial-1", "pump", "header", "vial-2"])),
            ["header"]
        );
        let moved = nudged(
            &apparatus,
            &names(&["header", "pump"]),
            Point::new(1.0, 0.0),
            1.0,
            LengthUnit::Millimetre,
        )
        .unwrap();
        assert_eq!(at_of(&moved.next, "pump"), 180.0);
        let moved = nudged(
            &apparatus,
            &names(&["vial-1", "pump"]),
            Point::new(1.0, 0.0),
            1.0,
            LengthUnit::Millimetre,
        )
        .unwrap();
        assert_eq!(
            (at_of(&moved.next, "pump"), at_of(&moved.next, "vial-1")),
            (181.0, 41.0)
        );
        assert_eq!(moved.words, "Move 2 pieces");
    }

    #[test]
    fn a_drag_snaps_and_stays_on_the_host() {
        let apparatus = sample::apparatus();
        let placed = apparatus.place().unwrap();
        let drag = |x: f64, snap| {
            let points = (Point::new(180.0, 30.0), Point::new(180.0 + x, 55.0));
            at_of(
                &dragged(
                    &apparatus,
                    &placed,
                    &names(&["pump"]),
                    "pump",
                    points,
                    (snap, LengthUnit::Millimetre),
                )
                .unwrap()
                .next,
                "pump",
            )
        };
        assert_eq!(drag(-30.4, Snap::default()), 150.0);
        assert_eq!(drag(-30.44, Snap { suspended: true }), 149.6);
        assert_eq!(drag(-500.0, Snap::default()), 0.0);
        let points = (Point::new(180.0, 0.0), Point::new(300.0, 300.0));
        let moved = dragged(
            &apparatus,
            &placed,
            &names(&["pump"]),
            "pump",
            points,
            (Snap::default(), LengthUnit::Millimetre),
        )
        .unwrap();
        let length = placed.lines[0].length_mm;
        assert!(
            (at_of(&moved.next, "pump") - length).abs() < crate::model::place::CONTACT_MM,
            "the end itself"
        );
    }

    #[test]
    fn turning_goes_on_to_the_next_multiple() {
        let mut apparatus = sample::apparatus();
        let turn = |apparatus: &Apparatus, deg: f64| {
            let moved = turned(apparatus, &names(&["pump"]), deg).unwrap();
            let turn = moved.next.pieces[3].seat.places().next().unwrap().turn_deg;
            (turn, moved.words)
        };
        assert_eq!(turn(&apparatus, 15.0), (105.0, "Turn pump to 105°".into()));
        apparatus.pieces[3].seat = Seat::On(sample::on("header", 180.0, 98.0));
        assert_eq!(turn(&apparatus, 15.0).0, 105.0);
        assert_eq!(turn(&apparatus, -15.0).0, 90.0);
        assert_eq!(turn(&apparatus, -1.0).0, 97.0);
        assert!(turned(&apparatus, &names(&["bridge"]), 15.0).is_err());
    }
}
