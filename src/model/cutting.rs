//! Copies of pieces: cut out of a design with everything that sits on them, and put back elsewhere.

use super::edit::{Edit, EditError, unfit};
use super::place::{Placed, Spot};
use super::{Apparatus, Fill, Form, Piece, Place, Row, Seat};
use std::collections::{HashMap, HashSet};

/// Pieces and rows taken out of a design as a copy.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Cutting {
    pieces: Vec<Piece>,
    rows: Vec<Row>,
    fills: Vec<Fill>,
    /// Where the pieces, and the first members of the rows, stood on the drawing, by name.
    spots: HashMap<String, Spot>,
    /// From left to right, mm.
    width_mm: f64,
}

/// Copies ready to be put in: named and seated.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Grafts {
    pieces: Vec<Piece>,
    rows: Vec<Row>,
    fills: Vec<Fill>,
    /// Names of those on which the others sit, as they can be selected.
    roots: Vec<String>,
}

impl Grafts {
    /// Names of those on which the others sit; for a row its members.
    pub fn roots(&self) -> &[String] {
        &self.roots
    }

    pub(super) fn words(&self) -> String {
        let first = self.pieces.first().map(|piece| &piece.name);
        let first = first.or_else(|| self.rows.first().map(|row| &row.name));
        let others = (self.pieces.len() + self.rows.len()).saturating_sub(1);
        match (first, others) {
            (None, _) => "Paste nothing".to_owned(),
            (Some(first), 0) => format!("Paste {first}"),
            (Some(first), others) => format!("Paste {first} and {others} more"),
        }
    }

    pub(super) fn put_into(&self, apparatus: &mut Apparatus) {
        apparatus.pieces.extend(self.pieces.iter().cloned());
        apparatus.rows.extend(self.rows.iter().cloned());
        apparatus.charge.fills.extend(self.fills.iter().cloned());
    }
}

/// Places along a host nearer than this are the same, mm.
const CLOSE_MM: f64 = 1.0;
/// Free space left between an original and a copy that stands free beside it, mm.
const GAP_MM: f64 = 20.0;

impl Apparatus {
    /// A copy of the pieces, rows and members of these names with everything that sits on them. Members are taken as
    /// single ampoules unless all of their row are named. A bridge that leads to a piece outside is left out unless it
    /// is named itself. `None` when there is nothing to copy.
    pub fn cutting(&self, names: &[String]) -> Option<Cutting> {
        let placed = self.place().ok()?;
        let mut taken: HashSet<String> = names.iter().filter(|name| self.owner(name).is_ok()).cloned().collect();
        for name in names {
            taken.extend(self.guests_of(name));
        }
        let whole = |row: &Row| taken.contains(&row.name) || row.member_names().all(|name| taken.contains(&name));
        let rows: Vec<Row> = self.rows.iter().filter(|row| whole(row)).cloned().collect();
        taken.extend(rows.iter().flat_map(Row::member_names));
        // Bridges to pieces outside, and what sits on them.
        let dangling = self.pieces.iter().filter(|piece| {
            matches!(piece.seat, Seat::Between { .. })
                && !names.contains(&piece.name)
                && !piece.seat.places().all(|place| taken.contains(&place.host))
        });
        let mut left_out = HashSet::new();
        for bridge in dangling {
            left_out.extend(self.guests_of(&bridge.name));
            left_out.insert(bridge.name.clone());
        }
        taken.retain(|name| !left_out.contains(name));
        let in_row = |name: &str| rows.iter().any(|row| row.member_of_name(name).is_some());
        let pieces: Vec<Piece> = placed
            .pieces
            .iter()
            .filter(|piece| taken.contains(&piece.name) && !in_row(&piece.name))
            .cloned()
            .collect();
        let rows: Vec<Row> = rows.into_iter().filter(|row| !left_out.contains(&row.name)).collect();
        if pieces.is_empty() && rows.is_empty() {
            return None;
        }
        let spot_of = |name: &str| placed.index(name).map(|i| placed.lines[i].start);
        let spots = pieces
            .iter()
            .filter_map(|piece| Some((piece.name.clone(), spot_of(&piece.name)?)));
        let first = |row: &Row| Some((row.name.clone(), spot_of(&row.member_name(1))?));
        Some(Cutting {
            spots: spots.chain(rows.iter().filter_map(first)).collect(),
            width_mm: width_mm(&placed, |name| taken.contains(name)),
            fills: self
                .charge
                .fills
                .iter()
                .filter(|fill| taken.contains(&fill.piece))
                .cloned()
                .collect(),
            pieces,
            rows,
        })
    }

    /// The change that puts copies in: on a host where there is room, or else beside where they were taken from.
    /// Liquid comes along only when the piece that it was given to is gone from here.
    ///
    /// # Errors
    /// When there is no such host, or a row would be without one.
    pub fn graft(&self, cutting: &Cutting, onto: Option<&str>) -> Result<Edit, EditError> {
        let placed = self.place()?;
        let mut grafts = cutting.renamed(self);
        let spots = std::mem::take(&mut grafts.spots);
        let inner: HashSet<String> = grafts.all_names().collect();
        let mut roots = Vec::new();
        let mut room = Room::new(self, placed, &grafts, &inner);
        let mut pieces = Vec::with_capacity(grafts.pieces.len());
        for mut piece in std::mem::take(&mut grafts.pieces) {
            let outside = piece.seat.places().filter(|place| !inner.contains(&place.host)).count();
            let is_root = outside > 0 || matches!(piece.seat, Seat::Free { .. });
            if is_root {
                roots.push(piece.name.clone());
                piece.seat = match (piece.seat.clone(), onto) {
                    (Seat::Between { from, to }, _) => {
                        let mut moved = |place: Place| match inner.contains(&place.host) {
                            true => Ok(place),
                            false => room.beside(&place).ok_or_else(|| missing(&place)),
                        };
                        Seat::Between {
                            from: moved(from)?,
                            to: moved(to)?,
                        }
                    }
                    (Seat::On(place), Some(host)) => Seat::On(room.onto(host, &place)?),
                    (Seat::Free { heading_deg, .. }, Some(host)) => Seat::On(room.free_onto(host, heading_deg)?),
                    (Seat::On(place), None) => match (room.beside(&place), spots.get(&piece.name)) {
                        (Some(place), _) => Seat::On(place),
                        (None, Some(spot)) => free_at(*spot, 0.0),
                        (None, None) => return Err(missing(&place)),
                    },
                    (
                        Seat::Free {
                            x_mm,
                            y_mm,
                            heading_deg,
                        },
                        None,
                    ) => {
                        let is_taken = self.pieces.iter().any(|other| match other.seat {
                            Seat::Free { x_mm: x, y_mm: y, .. } => x == x_mm && y == y_mm,
                            _ => false,
                        });
                        let aside = if is_taken { cutting.width_mm + GAP_MM } else { 0.0 };
                        Seat::Free {
                            x_mm: x_mm + aside,
                            y_mm,
                            heading_deg,
                        }
                    }
                };
            }
            pieces.push(piece);
        }
        for row in &mut grafts.rows {
            if inner.contains(&row.first.host) {
                continue;
            }
            roots.extend(row.member_names());
            row.first = match onto {
                Some(host) => room.onto(host, &row.first)?,
                None => room
                    .beside(&row.first)
                    .ok_or_else(|| unfit(&row.name, "hangs on a host: choose one first"))?,
            };
        }
        Ok(Edit::Graft(Grafts {
            pieces,
            rows: grafts.rows,
            fills: grafts.fills,
            roots,
        }))
    }
}

fn missing(place: &Place) -> EditError {
    EditError::NoSuchPiece(place.host.clone())
}

fn free_at(spot: Spot, aside_mm: f64) -> Seat {
    Seat::Free {
        x_mm: tenths(spot.at.x + aside_mm),
        y_mm: tenths(spot.at.y),
        heading_deg: tenths(within_turn(spot.heading_deg)),
    }
}

/// To a tenth, without the tail of what was computed.
fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// The same direction in (-180, 180].
fn within_turn(deg: f64) -> f64 {
    let deg = deg.rem_euclid(360.0);
    if deg > 180.0 { deg - 360.0 } else { deg }
}

/// Where there is room on the hosts of a design.
struct Room<'a> {
    apparatus: &'a Apparatus,
    placed: Placed,
    /// What came from each host outside: places along it and what it takes of it from there, mm. What came from one
    /// host keeps its distances.
    from: HashMap<String, Vec<(f64, f64)>>,
    /// Where the first of what came from a host goes, by old and new host, mm.
    starts: HashMap<(String, String), f64>,
}

impl<'a> Room<'a> {
    fn new(apparatus: &'a Apparatus, placed: Placed, grafts: &Cutting, inner: &HashSet<String>) -> Self {
        let places = grafts
            .pieces
            .iter()
            .flat_map(|piece| piece.seat.places().map(|place| (place, 0.0)));
        let firsts = grafts
            .rows
            .iter()
            .map(|row| (&row.first, row.at_mm(row.count) - row.first.at_mm));
        let mut from: HashMap<String, Vec<(f64, f64)>> = HashMap::new();
        for (place, span) in places.chain(firsts).filter(|(place, _)| !inner.contains(&place.host)) {
            from.entry(place.host.clone()).or_default().push((place.at_mm, span));
        }
        Self {
            apparatus,
            placed,
            from,
            starts: HashMap::new(),
        }
    }

    /// Least and greatest place of what came from a host, mm.
    fn extent(&self, place: &Place) -> (f64, f64) {
        let own = (place.at_mm, place.at_mm);
        let list = self.from.get(&place.host).into_iter().flatten();
        list.fold(own, |(low, high), (at, span)| (low.min(*at), high.max(at + span)))
    }

    /// The place on `host` for what sat at `place`.
    fn onto(&mut self, host: &str, place: &Place) -> Result<Place, EditError> {
        let (low, high) = self.extent(place);
        let key = (place.host.clone(), host.to_owned());
        let start = match self.starts.get(&key) {
            Some(start) => *start,
            None => {
                // On its own host from where it was, on another from the start.
                let from = if host == place.host { low } else { 0.0 };
                let found = self.apparatus.free_place_mm(&self.placed, host, high - low, from);
                let start = found.ok_or_else(|| EditError::NoSuchPiece(host.to_owned()))?;
                self.starts.insert(key, start);
                start
            }
        };
        Ok(Place {
            host: host.to_owned(),
            at_mm: start + (place.at_mm - low),
            turn_deg: place.turn_deg,
        })
    }

    /// A place on its own host: where it was when nothing sits there now. `None` when the host is gone.
    fn beside(&mut self, place: &Place) -> Option<Place> {
        let host = place.host.clone();
        self.placed.index(&host)?;
        if !self.is_taken(&host) {
            let (low, _) = self.extent(place);
            self.starts.insert((host.clone(), host.clone()), low);
        }
        self.onto(&host, place).ok()
    }

    /// Whether something sits where anything came from on a host.
    fn is_taken(&self, host: &str) -> bool {
        let seats = self.placed.pieces.iter().flat_map(|piece| piece.seat.places());
        let mut present = seats.filter(|place| place.host == host).map(|place| place.at_mm);
        let came = self.from.get(host);
        present.any(|at| {
            let mut list = came.into_iter().flatten();
            list.any(|(from, span)| (from - CLOSE_MM..=from + span + CLOSE_MM).contains(&at))
        })
    }

    /// A place for what stood free with that heading: it keeps its heading unless it would lie along the host.
    fn free_onto(&mut self, host: &str, heading_deg: f64) -> Result<Place, EditError> {
        let gone = || EditError::NoSuchPiece(host.to_owned());
        let at_mm = self
            .apparatus
            .free_place_mm(&self.placed, host, 0.0, 0.0)
            .ok_or_else(gone)?;
        let index = self.placed.index(host).ok_or_else(gone)?;
        let along = self.placed.lines[index].spot(at_mm).heading_deg;
        let turn_deg = tenths(within_turn(heading_deg - along));
        let turn_deg = if turn_deg.to_radians().sin().abs() < 0.3 {
            -90.0
        } else {
            turn_deg
        };
        Ok(Place {
            host: host.to_owned(),
            at_mm,
            turn_deg,
        })
    }
}

impl Cutting {
    /// A whole design as a cutting: everything in it can be put into another.
    pub fn of(apparatus: &Apparatus) -> Option<Self> {
        let rows = apparatus.rows.iter().map(|row| row.name.clone());
        let names: Vec<String> = apparatus
            .pieces
            .iter()
            .map(|piece| piece.name.clone())
            .chain(rows)
            .collect();
        apparatus.cutting(&names)
    }

    /// Whether a piece or member of that name is in it.
    pub fn holds(&self, name: &str) -> bool {
        self.all_names().any(|own| own == name)
    }

    /// How many pieces it has, members of rows included.
    pub fn count(&self) -> usize {
        self.pieces.len() + self.rows.iter().map(|row| row.count).sum::<usize>()
    }

    /// The cutting as a design that stands by itself: what sat on a piece outside stands free where it stood, the
    /// ampoules of a row likewise. A bridge to a piece outside is left out.
    pub fn design(&self) -> Apparatus {
        let mut inner: HashSet<String> = self.pieces.iter().map(|piece| piece.name.clone()).collect();
        inner.extend(self.rows.iter().flat_map(Row::member_names));
        let mut design = Apparatus {
            title: "Cutting".to_owned(),
            ..Apparatus::default()
        };
        for piece in &self.pieces {
            let outside = piece.seat.places().any(|place| !inner.contains(&place.host));
            let seat = match (&piece.seat, self.spots.get(&piece.name)) {
                (Seat::Between { .. }, _) if outside => continue,
                (Seat::On(_), Some(spot)) if outside => free_at(*spot, 0.0),
                (seat, _) => seat.clone(),
            };
            design.pieces.push(Piece { seat, ..piece.clone() });
        }
        for row in &self.rows {
            match self.spots.get(&row.name) {
                Some(spot) if !inner.contains(&row.first.host) => {
                    let along = super::place::direction(spot.heading_deg - row.first.turn_deg);
                    for member in 1..=row.count {
                        let at = spot.at + along * (row.at_mm(member) - row.first.at_mm);
                        design.pieces.push(Piece {
                            seat: free_at(Spot { at, ..*spot }, 0.0),
                            ..row.member(member)
                        });
                    }
                }
                _ => design.rows.push(row.clone()),
            }
        }
        design
    }

    /// The same with names that are fresh in `apparatus`; liquid only of pieces that are gone from there.
    fn renamed(&self, apparatus: &Apparatus) -> Self {
        let mut new: HashMap<String, String> = HashMap::new();
        let mut own = self.clone();
        // The hosts outside keep their names, whether or not they are there.
        let inner: HashSet<String> = self.all_names().collect();
        let places = self.pieces.iter().flat_map(|piece| piece.seat.places());
        let hosts = places
            .chain(self.rows.iter().map(|row| &row.first))
            .map(|place| &place.host);
        let mut given: HashSet<String> = hosts.filter(|host| !inner.contains(*host)).cloned().collect();
        for piece in &mut own.pieces {
            let name = apparatus.kept_or_fresh_name(&piece.name, &given, false);
            given.insert(name.clone());
            new.insert(std::mem::replace(&mut piece.name, name.clone()), name);
        }
        for row in &mut own.rows {
            let old: Vec<String> = row.member_names().collect();
            let name = apparatus.kept_or_fresh_name(&row.name, &given, true);
            new.insert(std::mem::replace(&mut row.name, name.clone()), name);
            given.extend(row.member_names().chain([row.name.clone()]));
            new.extend(old.into_iter().zip(row.member_names()));
        }
        let follow = |name: &mut String| {
            if let Some(other) = new.get(name.as_str()) {
                name.clone_from(other);
            }
        };
        let seats = own.pieces.iter_mut().flat_map(|piece| piece.seat.places_mut());
        seats.for_each(|place| follow(&mut place.host));
        own.rows.iter_mut().for_each(|row| follow(&mut row.first.host));
        own.fills.retain(|fill| apparatus.find(&fill.piece).is_none());
        own.fills.iter_mut().for_each(|fill| follow(&mut fill.piece));
        own.spots = std::mem::take(&mut own.spots)
            .into_iter()
            .map(|(name, spot)| (new.get(&name).cloned().unwrap_or(name), spot))
            .collect();
        own
    }

    fn all_names(&self) -> impl Iterator<Item = String> {
        let pieces = self.pieces.iter().map(|piece| piece.name.clone());
        pieces.chain(self.rows.iter().flat_map(Row::member_names))
    }
}

/// Width of what is drawn of the pieces of these names, mm.
fn width_mm(placed: &Placed, is_of_them: impl Fn(&str) -> bool) -> f64 {
    let mut low = f64::INFINITY;
    let mut high = f64::NEG_INFINITY;
    for (piece, line) in placed.pieces.iter().zip(&placed.lines) {
        if !is_of_them(&piece.name) {
            continue;
        }
        let half = match &piece.form {
            Form::Bridge(bridge) => bridge.size.od_mm,
            form => form.greatest_od_mm(),
        } / 2.0;
        for point in line.segments.iter().flat_map(|segment| [segment.from(), segment.to()]) {
            (low, high) = (low.min(point.x - half), high.max(point.x + half));
        }
    }
    if low < high {
        ((high - low) / 10.0).ceil() * 10.0
    } else {
        0.0
    }
}

#[cfg(test)]
mod tests {
    use super::super::{file, sample};
    use super::*;

    fn names(list: &[&str]) -> Vec<String> {
        list.iter().map(|name| (*name).to_owned()).collect()
    }

    fn paste(apparatus: &Apparatus, cutting: &Cutting, onto: Option<&str>) -> Apparatus {
        apparatus.apply(&apparatus.graft(cutting, onto).unwrap()).unwrap()
    }

    #[test]
    fn a_copy_takes_its_guests_and_stands_beside_the_original() {
        let apparatus = sample::apparatus();
        let cutting = apparatus.cutting(&names(&["header"])).unwrap();
        assert_eq!(
            cutting.count(),
            5,
            "header, pump and three vials; the bridge leads elsewhere"
        );
        let next = paste(&apparatus, &cutting, None);
        assert_eq!(next.pieces[4].name, "header-2");
        assert_eq!(next.pieces[5].seat, Seat::On(sample::on("header-2", 180.0, 90.0)));
        assert_eq!(next.rows[1].name, "vial-b");
        assert_eq!(next.rows[1].first.host, "header-2");
        let Seat::Free { x_mm, y_mm, .. } = next.pieces[4].seat else {
            panic!("it stands free")
        };
        assert!(x_mm > 230.0 && y_mm == 0.0, "{x_mm}");
        assert_eq!(next.charge, apparatus.charge);
    }

    #[test]
    fn a_copy_on_a_host_finds_room_there() {
        let apparatus = sample::apparatus();
        let cutting = apparatus.cutting(&names(&["pump"])).unwrap();
        let next = paste(&apparatus, &cutting, Some("header"));
        let Seat::On(place) = &next.pieces[4].seat else {
            panic!("it sits on the header")
        };
        assert_eq!(
            (place.host.as_str(), place.turn_deg, next.pieces[4].name.as_str()),
            ("header", 90.0, "pump-2")
        );
        assert!(place.at_mm > 240.0, "{}", place.at_mm);
        let row = apparatus.cutting(&names(&["vial"])).unwrap();
        let next = paste(&apparatus, &row, Some("pot"));
        assert_eq!((next.rows[1].first.host.as_str(), next.rows[1].count), ("pot", 3));
        assert!(next.rows[1].departs(2), "a departure comes along");
        let pot = apparatus.cutting(&names(&["pot"])).unwrap();
        let next = paste(&apparatus, &pot, Some("header"));
        let Seat::On(place) = &next.pieces[4].seat else {
            panic!("it hangs on the header")
        };
        assert_eq!(place.turn_deg, -90.0);
        assert!(apparatus.graft(&pot, Some("nobody")).is_err());
    }

    #[test]
    fn a_member_is_copied_as_a_single_ampoule() {
        let apparatus = sample::apparatus();
        let cutting = apparatus.cutting(&names(&["vial-2"])).unwrap();
        let next = paste(&apparatus, &cutting, None);
        assert_eq!(next.rows, apparatus.rows);
        assert_eq!(next.pieces[4].name, "vial-b");
        assert_eq!(next.pieces[4].form, Form::Ampoule(apparatus.rows[0].ampoule(2).clone()));
        let all = apparatus.cutting(&names(&["vial-1", "vial-2", "vial-3"])).unwrap();
        assert_eq!(paste(&apparatus, &all, None).rows.len(), 2);
    }

    #[test]
    fn cut_out_and_put_back_is_the_same_apparatus() {
        let apparatus = sample::apparatus();
        for chosen in [&["pump"][..], &["pot", "bridge"], &["vial"], &["header", "bridge"]] {
            let cutting = apparatus.cutting(&names(chosen)).unwrap();
            let without = apparatus.apply(&Edit::Remove(names(chosen))).unwrap();
            let next = paste(&without, &cutting, None);
            let sorted = |apparatus: &Apparatus| {
                let mut pieces = apparatus.expanded();
                pieces.sort_by(|a, b| a.name.cmp(&b.name));
                pieces
            };
            assert_eq!(sorted(&next), sorted(&apparatus), "{chosen:?}");
            assert_eq!(next.charge, apparatus.charge, "{chosen:?}: the fill comes back");
        }
    }

    #[test]
    fn a_cutting_stands_by_itself_as_a_design() {
        let apparatus = sample::apparatus();
        let placed = apparatus.place().unwrap();
        for chosen in [
            &["pump"][..],
            &["vial"],
            &["header"],
            &["bridge", "pot"],
            &["vial-3", "pump"],
        ] {
            let cutting = apparatus.cutting(&names(chosen)).unwrap();
            let design = cutting.design();
            assert_eq!(file::read(&file::write(&design)).as_ref(), Ok(&design), "{chosen:?}");
            let drawn = design.place().unwrap();
            for (piece, line) in drawn.pieces.iter().zip(&drawn.lines) {
                let original = &placed.lines[placed.index(&piece.name).unwrap()];
                assert!((line.end().at - original.end().at).norm() < 0.2, "{}", piece.name);
            }
        }
        assert_eq!(Cutting::of(&apparatus).unwrap().design().names(), apparatus.names());
        assert!(apparatus.cutting(&names(&["nobody"])).is_none());
        assert!(Cutting::of(&Apparatus::default()).is_none());
    }

    #[test]
    fn a_row_without_a_host_is_refused_and_a_piece_stands_free() {
        let apparatus = sample::apparatus();
        let row = apparatus.cutting(&names(&["vial"])).unwrap();
        let error = Apparatus::default().graft(&row, None).unwrap_err().to_string();
        assert!(error.contains("choose one first"), "{error}");
        let pump = apparatus.cutting(&names(&["pump"])).unwrap();
        let next = paste(&Apparatus::default(), &pump, None);
        assert_eq!(
            next.pieces[0].seat,
            Seat::Free {
                x_mm: 180.0,
                y_mm: 0.0,
                heading_deg: 90.0
            }
        );
    }
}
