//! Where a new piece would go: under the pointer, or where there is room when it is put by keys alone.

use super::snap::{Snap, angle_words, length_words, within_turn};
use crate::model::fresh::Kind;
use crate::model::place::{Centreline, Placed, Point, direction, heading_deg};
use crate::model::{Apparatus, Bridge, Edit, Element, Form, Place, Route, Seat};
use crate::units::LengthUnit;

/// A change that would put a piece, and what is told of it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Proposal {
    /// The change.
    pub edit: Edit,
    /// Where, in words.
    pub words: String,
}

impl Proposal {
    /// Names of the pieces that it makes.
    pub(crate) fn names(&self) -> Vec<String> {
        match &self.edit {
            Edit::Add(piece) => vec![piece.name.clone()],
            Edit::AddRow(row) => row.member_names().collect(),
            _ => Vec::new(),
        }
    }
}

/// A place that the pointer shows.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Anchor {
    /// On a host.
    Host(Place),
    /// On the empty bench.
    Free(Point),
}

/// What the placing looks at.
#[derive(Clone, Copy)]
pub(crate) struct Bench<'a> {
    /// The apparatus without what is in hand.
    pub apparatus: &'a Apparatus,
    /// Its pieces, placed.
    pub placed: &'a Placed,
    /// The unit in which lengths are told.
    pub length_unit: LengthUnit,
}

/// Least length of a tube that is drawn out, mm.
const LEAST_TUBE_MM: f64 = 5.0;
/// Rise of a new bridge's crossbar, mm.
const RISE_MM: f64 = 45.0;
/// Bend radii of a new bridge, in outside diameters: least and usual.
const BENDS: (f64, f64) = (1.5, 2.5);

impl Bench<'_> {
    fn line(&self, host: &str) -> Option<&Centreline> {
        self.placed.lines.get(self.placed.index(host)?)
    }

    /// The place on a host that a point of the drawing shows: square to the host on the side of the point, or
    /// straight on from an end that lies within `reach_mm` of it.
    pub(crate) fn place_at(&self, host: &str, point: Point, reach_mm: f64, snap: Snap) -> Option<Place> {
        let line = self.line(host)?;
        let at = line.nearest_mm(point);
        let place = |at_mm: f64, turn_deg: f64| Place {
            host: host.to_owned(),
            at_mm,
            turn_deg,
        };
        let length = end_of(line);
        if length - at <= reach_mm && at >= length / 2.0 {
            return Some(place(length, 0.0));
        }
        if at <= reach_mm {
            return Some(place(0.0, 180.0));
        }
        let spot = line.spot(at);
        let side = direction(spot.heading_deg).perp(&(point - spot.at));
        Some(place(
            snap.length(at).clamp(0.0, length),
            if side < 0.0 { -90.0 } else { 90.0 },
        ))
    }

    /// A piece of a kind at an anchor, turned on by `turned_deg`.
    pub(crate) fn piece_at(&self, kind: &Kind, anchor: &Anchor, turned_deg: f64) -> Result<Proposal, String> {
        if *kind == Kind::Row {
            let Anchor::Host(place) = anchor else {
                return Err("A row hangs on a host: point at a piece".to_owned());
            };
            let first = turned(place, turned_deg);
            let words = on_words(&first, self.length_unit);
            let row = self.apparatus.new_row(self.placed, first);
            let words = format!("{} ampoules, the first {words}", row.count);
            return Ok(Proposal {
                edit: Edit::AddRow(row),
                words,
            });
        }
        let (seat, words) = self.seat_at(kind, anchor, turned_deg);
        Ok(Proposal {
            edit: Edit::Add(self.apparatus.new_piece(kind, seat)),
            words,
        })
    }

    fn seat_at(&self, kind: &Kind, anchor: &Anchor, turned_deg: f64) -> (Seat, String) {
        match anchor {
            Anchor::Host(place) => {
                let place = turned(place, turned_deg);
                let words = on_words(&place, self.length_unit);
                (Seat::On(place), words)
            }
            Anchor::Free(at) => {
                let heading_deg = within_turn(free_heading_deg(kind) + turned_deg);
                (free(*at, heading_deg), free_words(*at, heading_deg, self.length_unit))
            }
        }
    }

    /// A tube drawn out from an anchor to a point.
    pub(crate) fn tube_to(&self, anchor: &Anchor, to: Point, snap: Snap) -> Proposal {
        let (start, host_deg) = match anchor {
            Anchor::Host(place) => match self.line(&place.host) {
                Some(line) => {
                    let spot = line.spot(place.at_mm);
                    (spot.at, spot.heading_deg)
                }
                None => (Point::zeros(), 0.0),
            },
            Anchor::Free(at) => (*at, 0.0),
        };
        let pull = to - start;
        let turn_deg = within_turn(snap.angle(within_turn(heading_deg(pull) - host_deg)));
        let along = direction(host_deg + turn_deg);
        let length_mm = snap.length(pull.dot(&along)).max(LEAST_TUBE_MM);
        let (seat, words) = match anchor {
            Anchor::Host(place) => {
                let place = Place {
                    turn_deg,
                    ..place.clone()
                };
                let words = on_words(&place, self.length_unit);
                (Seat::On(place), words)
            }
            Anchor::Free(at) => (free(*at, turn_deg), format!("heading {}", angle_words(turn_deg))),
        };
        let mut piece = self.apparatus.new_piece(&Kind::Tube, seat);
        if let Form::Tube(tube) = &mut piece.form {
            tube.course = vec![Element::Straight { length_mm }];
        }
        Proposal {
            words: format!("{} long, {words}", length_words(length_mm, self.length_unit)),
            edit: Edit::Add(piece),
        }
    }

    /// A bridge from one place to another: arched where both lead upwards, else straight.
    pub(crate) fn bridge(&self, from: Place, to: Place) -> Result<Proposal, String> {
        if from.host == to.host && (from.at_mm - to.at_mm).abs() < LEAST_TUBE_MM {
            return Err("Let go on another place".to_owned());
        }
        let end = |place: &Place| format!("{} at {}", place.host, length_words(place.at_mm, self.length_unit));
        let words = format!("from {} to {}", end(&from), end(&to));
        let mut piece = self.apparatus.new_piece(&Kind::Bridge, Seat::Between { from, to });
        let places: Vec<&Place> = piece.seat.places().collect();
        let spots: Vec<(Point, f64)> = places
            .iter()
            .filter_map(|place| {
                let spot = self.line(&place.host)?.spot(place.at_mm);
                Some((spot.at, spot.heading_deg + place.turn_deg))
            })
            .collect();
        if let (Form::Bridge(bridge), [(a, up_a), (b, up_b)]) = (&mut piece.form, &spots[..]) {
            shape_bridge(bridge, (*a, *up_a), (*b, *up_b));
        }
        Ok(Proposal {
            edit: Edit::Add(piece),
            words,
        })
    }

    /// The place on a host where a bridge towards a point would stand: an end that is free, or else upwards from
    /// where there is room.
    pub(crate) fn bridge_place(&self, host: &str, towards: Point) -> Option<Place> {
        let line = self.line(host)?;
        let is_free = |at_mm: f64| {
            let seats = self.placed.pieces.iter().flat_map(|piece| piece.seat.places());
            seats
                .filter(|place| place.host == host)
                .all(|place| (place.at_mm - at_mm).abs() > LEAST_TUBE_MM)
        };
        let index = self.placed.index(host)?;
        let piece = &self.placed.pieces[index];
        let place = |at_mm: f64, turn_deg: f64| Place {
            host: host.to_owned(),
            at_mm,
            turn_deg,
        };
        let has_mouth =
            matches!(piece.seat, Seat::Free { .. }) && matches!(piece.form, Form::Bulb(_) | Form::Ampoule(_));
        if has_mouth && is_free(0.0) {
            return Some(place(0.0, 180.0));
        }
        let length = end_of(line);
        if matches!(piece.form, Form::Tube(_)) && is_free(length) && direction(line.end().heading_deg).y > 0.5 {
            return Some(place(length, 0.0));
        }
        let at_mm = self
            .apparatus
            .free_place_mm(self.placed, host, 0.0, line.nearest_mm(towards))?;
        Some(place(at_mm, self.turn_towards(host, at_mm, 90.0)))
    }

    /// Which way a pointer's place for a bridge leads: an end goes straight on, anything else upwards.
    pub(crate) fn upwards(&self, place: Place) -> Place {
        if place.turn_deg.abs() != 90.0 {
            return place;
        }
        let turn_deg = self.turn_towards(&place.host, place.at_mm, 90.0);
        Place { turn_deg, ..place }
    }

    /// The square turn from a host that comes nearest to a heading; on an upright host to the right.
    fn turn_towards(&self, host: &str, at_mm: f64, wanted_deg: f64) -> f64 {
        let Some(line) = self.line(host) else { return 90.0 };
        let along = line.spot(at_mm).heading_deg;
        let leaning = |turn: f64| direction(along + turn).dot(&direction(wanted_deg));
        let (left, right) = (leaning(90.0), leaning(-90.0));
        if (left - right).abs() < 0.2 {
            return if direction(along + 90.0).x > 0.0 { 90.0 } else { -90.0 };
        }
        if left > right { 90.0 } else { -90.0 }
    }

    /// Where a piece of a kind goes without a pointer: on the selected piece where there is room, or else free beside
    /// everything, turned on by `turned_deg`. A bridge joins the two pieces that are selected.
    pub(crate) fn unseen(&self, kind: &Kind, selected: &[String], turned_deg: f64) -> Result<Proposal, String> {
        if *kind == Kind::Bridge {
            let [from, to] = selected else {
                return Err("Select the two pieces that the bridge joins".to_owned());
            };
            return self.bridge_between(from, to);
        }
        let host = match selected.last() {
            Some(name) => Some(name.clone()),
            None if *kind == Kind::Row => self.only_tube(),
            None => None,
        };
        let anchor = match host {
            Some(host) => {
                let at_mm = self
                    .apparatus
                    .free_place_mm(self.placed, &host, 0.0, 0.0)
                    .ok_or_else(|| format!("There is no piece {host}"))?;
                let turn_deg = self.turn_towards(&host, at_mm, free_heading_deg(kind));
                Anchor::Host(Place { host, at_mm, turn_deg })
            }
            None if *kind == Kind::Row => return Err("Select the piece that the row hangs on first".to_owned()),
            None => Anchor::Free(self.beside_all()),
        };
        self.piece_at(kind, &anchor, turned_deg)
    }

    /// A bridge between two pieces by their names.
    pub(crate) fn bridge_between(&self, from: &str, to: &str) -> Result<Proposal, String> {
        let start = |name: &str| self.line(name).map(|line| line.spot(line.length_mm / 2.0).at);
        let places = start(from)
            .zip(start(to))
            .and_then(|(a, b)| Some((self.bridge_place(from, b)?, self.bridge_place(to, a)?)));
        let (from, to) = places.ok_or_else(|| "There is no such piece".to_owned())?;
        self.bridge(from, to)
    }

    fn only_tube(&self) -> Option<String> {
        let mut tubes = self
            .apparatus
            .pieces
            .iter()
            .filter(|piece| matches!(piece.form, Form::Tube(_)));
        let first = tubes.next()?.name.clone();
        tubes.next().is_none().then_some(first)
    }

    /// A place on the empty bench to the right of everything.
    fn beside_all(&self) -> Point {
        let ends = self.placed.lines.iter().flat_map(|line| [line.start.at, line.end().at]);
        let right = ends
            .map(|at| at.x)
            .fold(None, |right: Option<f64>, x| Some(right.map_or(x, |r| r.max(x))));
        match right {
            Some(right) => Point::new(((right + 50.0) / 10.0).ceil() * 10.0, 0.0),
            None => Point::zeros(),
        }
    }
}

/// Length of a line to a hundredth, which still counts as its end, mm.
fn end_of(line: &Centreline) -> f64 {
    (line.length_mm * 100.0).round() / 100.0
}

/// Gives a bridge the way that suits its two places.
fn shape_bridge(bridge: &mut Bridge, (a, up_a): (Point, f64), (b, up_b): (Point, f64)) {
    let od = bridge.size.od_mm;
    let leads_up = |deg: f64| direction(deg).y > 0.5;
    if !(leads_up(up_a) && leads_up(up_b)) {
        bridge.route = Route::Straight;
        return;
    }
    // Half the crossbar at most goes into each bend.
    let room = ((a.x - b.x).abs() / 2.0).floor();
    bridge.bend_radius_mm = room.clamp(BENDS.0 * od, BENDS.1 * od);
    bridge.route = Route::Arched { rise_mm: RISE_MM };
}

/// How a free piece stands: vessels hang, fittings stand up, tubes lie.
fn free_heading_deg(kind: &Kind) -> f64 {
    match kind {
        Kind::Bulb | Kind::Ampoule | Kind::Row => -90.0,
        Kind::Fitting(_) => 90.0,
        Kind::Tube | Kind::Bridge => 0.0,
    }
}

fn free(at: Point, heading_deg: f64) -> Seat {
    Seat::Free {
        x_mm: at.x,
        y_mm: at.y,
        heading_deg,
    }
}

fn turned(place: &Place, by_deg: f64) -> Place {
    Place {
        turn_deg: within_turn(place.turn_deg + by_deg),
        ..place.clone()
    }
}

fn on_words(place: &Place, unit: LengthUnit) -> String {
    let (at, turn) = (length_words(place.at_mm, unit), angle_words(place.turn_deg));
    format!("at {at} on {}, {turn}", place.host)
}

fn free_words(at: Point, heading_deg: f64, unit: LengthUnit) -> String {
    let (x, y) = (length_words(at.x, unit), length_words(at.y, unit));
    // One unit for both.
    let x = x.trim_end_matches(unit.symbol()).trim_end();
    format!("free at {x}, {y}, heading {}", angle_words(heading_deg))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::sample;

    struct Desk(Apparatus, Placed);

    impl Desk {
        fn new() -> Self {
            let apparatus = sample::apparatus();
            let placed = apparatus.place().unwrap();
            Self(apparatus, placed)
        }

        fn bench(&self) -> Bench<'_> {
            Bench {
                apparatus: &self.0,
                placed: &self.1,
                length_unit: LengthUnit::Millimetre,
            }
        }

        fn put(&self, proposal: &Proposal) -> Apparatus {
            self.0.apply(&proposal.edit).unwrap()
        }
    }

    #[test]
    fn a_pointer_shows_a_place_square_to_the_host_on_its_side() {
        let desk = Desk::new();
        let place = |x, y| {
            desk.bench()
                .place_at("header", Point::new(x, y), 4.0, Snap::default())
                .unwrap()
        };
        assert_eq!(place(57.3, 12.0), sample::on("header", 57.0, 90.0));
        assert_eq!(place(57.3, -12.0), sample::on("header", 57.0, -90.0));
        assert_eq!(place(-5.0, 1.0), sample::on("header", 0.0, 180.0));
        let fine = desk
            .bench()
            .place_at("header", Point::new(57.34, 1.0), 4.0, Snap { suspended: true });
        assert_eq!(fine.unwrap().at_mm, 57.3);
        let end = desk.1.lines[0].end();
        let at_end = place(end.at.x + 2.0, end.at.y + 5.0);
        assert_eq!(at_end.turn_deg, 0.0);
        assert!((at_end.at_mm - desk.1.lines[0].length_mm).abs() < crate::model::place::CONTACT_MM);
        assert!(
            desk.bench()
                .place_at("nobody", Point::zeros(), 4.0, Snap::default())
                .is_none()
        );
    }

    #[test]
    fn words_tell_where_it_goes() {
        let desk = Desk::new();
        let anchor = Anchor::Host(sample::on("header", 45.0, -90.0));
        let proposal = desk.bench().piece_at(&Kind::Ampoule, &anchor, 0.0).unwrap();
        assert_eq!(proposal.words, "at 45 mm on header, −90°");
        assert_eq!(proposal.names(), ["ampoule"]);
        let turned = desk.bench().piece_at(&Kind::Ampoule, &anchor, -15.0).unwrap();
        assert_eq!(turned.words, "at 45 mm on header, −105°");
        let row = desk.bench().piece_at(&Kind::Row, &anchor, 0.0).unwrap();
        assert_eq!(row.words, "3 ampoules, the first at 45 mm on header, −90°");
        let free = Anchor::Free(Point::new(12.0, -30.0));
        let proposal = desk.bench().piece_at(&Kind::Bulb, &free, 0.0).unwrap();
        assert_eq!(proposal.words, "free at 12, −30 mm, heading −90°");
        assert!(desk.bench().piece_at(&Kind::Row, &free, 0.0).is_err());
        for proposal in [row, turned] {
            assert!(desk.put(&proposal).place().is_ok());
        }
    }

    #[test]
    fn a_tube_is_drawn_out_to_whole_millimetres_and_usual_angles() {
        let desk = Desk::new();
        let free = Anchor::Free(Point::zeros());
        let proposal = desk.bench().tube_to(&free, Point::new(80.2, 2.0), Snap::default());
        assert_eq!(proposal.words, "80 mm long, heading 0°");
        let proposal = desk.bench().tube_to(
            &Anchor::Host(sample::on("pot", 30.0, 90.0)),
            Point::new(-100.0, -8.0),
            Snap::default(),
        );
        let next = desk.put(&proposal);
        let tube = next.pieces.last().unwrap();
        assert_eq!(tube.seat, Seat::On(sample::on("pot", 30.0, 90.0)));
        let placed = next.place().unwrap();
        let end = placed.lines[placed.index("tube").unwrap()].end().at;
        assert!((end - Point::new(-100.0, -10.0)).norm() < 0.5, "{end}");
    }

    #[test]
    fn bridges_are_arched_where_both_places_lead_up() {
        let desk = Desk::new();
        let proposal = desk
            .bench()
            .bridge(sample::on("pot", 0.0, 180.0), sample::on("header", 60.0, 90.0))
            .unwrap();
        let next = desk.put(&proposal);
        let Some(Form::Bridge(bridge)) = next.pieces.last().map(|piece| &piece.form) else {
            panic!("a bridge")
        };
        assert_eq!(bridge.route, Route::Arched { rise_mm: RISE_MM });
        assert!(next.place().unwrap().strains.is_empty());
        assert_eq!(proposal.words, "from pot at 0 mm to header at 60 mm");
        let proposal = desk
            .bench()
            .bridge(sample::on("pot", 30.0, 90.0), sample::on("header", 60.0, -90.0))
            .unwrap();
        let next = desk.put(&proposal);
        let Some(Form::Bridge(bridge)) = next.pieces.last().map(|piece| &piece.form) else {
            panic!("a bridge")
        };
        assert_eq!(bridge.route, Route::Straight);
        let here = sample::on("pot", 30.0, 90.0);
        assert!(desk.bench().bridge(here.clone(), here).is_err());
    }

    #[test]
    fn by_keys_alone_a_piece_goes_where_there_is_room() {
        let desk = Desk::new();
        let unseen = |kind: Kind, selected: &[&str]| {
            let selected: Vec<String> = selected.iter().map(|name| (*name).to_owned()).collect();
            desk.bench().unseen(&kind, &selected, 0.0)
        };
        let put = desk.put(&unseen(Kind::Ampoule, &["header"]).unwrap());
        let Seat::On(place) = &put.pieces.last().unwrap().seat else {
            panic!("it hangs")
        };
        let line = &desk.1.lines[0];
        let heading = line.spot(place.at_mm).heading_deg + place.turn_deg;
        assert!(direction(heading).y < 0.1, "an ampoule hangs: {heading}");
        let put = desk.put(&unseen(Kind::Bulb, &[]).unwrap());
        let Seat::Free { x_mm, .. } = put.pieces.last().unwrap().seat else {
            panic!("it stands free")
        };
        assert!(x_mm > 240.0, "{x_mm}");
        let row = desk.put(&unseen(Kind::Row, &[]).unwrap());
        assert_eq!(row.rows[1].first.host, "header", "the only tube");
        let bridge = desk.put(&unseen(Kind::Bridge, &["pot", "header"]).unwrap());
        assert!(bridge.place().unwrap().strains.is_empty());
        assert!(unseen(Kind::Bridge, &["pot"]).is_err());
        assert!(unseen(Kind::Tube, &["nobody"]).is_err());
    }
}
