//! Edits that put a piece on another host, or let a bridge run another way, and keep it where it is as well as can be.

use super::place::{CONTACT_MM, Placed, Segment, Spot, direction};
use super::{Apparatus, Edit, Form, Place, Route, Seat};
use std::collections::HashSet;

/// One of the places by which a piece or row is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Footing {
    /// Where a piece sits, on a host or free.
    Seat,
    /// Where a bridge starts.
    From,
    /// Where a bridge ends.
    To,
    /// Where the first member of a row sits.
    First,
}

impl Apparatus {
    /// Names of the pieces on which a piece or row can sit: all but itself and what sits on it.
    pub fn possible_hosts(&self, name: &str) -> Vec<String> {
        let mut barred: HashSet<String> = self.guests_of(name).into_iter().collect();
        barred.insert(name.to_owned());
        for row in &self.rows {
            if barred.contains(&row.name) {
                barred.extend((1..=row.count).map(|member| row.member_name(member)));
            }
        }
        self.names().into_iter().filter(|name| !barred.contains(name)).collect()
    }

    /// The host that a footing is on now; `None` for a piece that stands free.
    pub fn host_of(&self, name: &str, footing: Footing) -> Option<&str> {
        self.held_at(name, footing).map(|place| place.host.as_str())
    }

    /// The edit that puts a footing on `host`, or lets a piece stand free when there is none. It goes to the place
    /// of the host's centreline nearest to where it is, to 0.1 mm, and keeps its heading, to 0.1 degree. `None` when
    /// there is no such footing, or nothing can be placed.
    pub fn reseated(&self, name: &str, footing: Footing, host: Option<&str>) -> Option<Edit> {
        let placed = self.place().ok()?;
        let spot = self.spot_of(&placed, name, footing)?;
        let place = match host {
            Some(host) => Some(nearest_place(&placed, host, spot)?),
            None => None,
        };
        let piece = name.to_owned();
        let seat = match (footing, place) {
            (Footing::First, Some(first)) => return Some(Edit::SeatRow { row: piece, first }),
            (Footing::Seat, Some(place)) => Seat::On(place),
            (Footing::Seat, None) => Seat::Free {
                x_mm: tenths(spot.at.x),
                y_mm: tenths(spot.at.y),
                heading_deg: tenths(within_a_turn(spot.heading_deg)),
            },
            (_, None) => return None,
            (Footing::From | Footing::To, Some(place)) => match self.piece(name)?.seat.clone() {
                Seat::Between { to, .. } if footing == Footing::From => Seat::Between { from: place, to },
                Seat::Between { from, .. } => Seat::Between { from, to: place },
                _ => return None,
            },
        };
        Some(Edit::Seat { piece, seat })
    }

    /// The corners of the way that a bridge takes now, mm from its start to 0.1 mm; the middle when it has none.
    /// `None` when there is no such bridge.
    pub fn corners_of(&self, bridge: &str) -> Option<Vec<[f64; 2]>> {
        let Form::Bridge(form) = &self.piece(bridge)?.form else {
            return None;
        };
        if let Route::Via { corners_mm } = &form.route {
            return Some(corners_mm.clone());
        }
        let placed = self.place().ok()?;
        let line = placed.lines.get(placed.index(bridge)?)?;
        let start = line.start.at;
        let corners: Vec<_> = line
            .segments
            .iter()
            .filter_map(|segment| match *segment {
                // The sides of a bend meet at the radius times the tangent of half its turn.
                Segment::Arc {
                    from,
                    heading_deg,
                    radius_mm,
                    turn_deg,
                    ..
                } => {
                    let reach = radius_mm * (turn_deg.to_radians() / 2.0).tan().abs();
                    Some(from + direction(heading_deg) * reach - start)
                }
                Segment::Line { .. } => None,
            })
            .map(|corner| [tenths(corner.x), tenths(corner.y)])
            .collect();
        if corners.is_empty() {
            let middle = (line.end().at - start) / 2.0;
            return Some(vec![[tenths(middle.x), tenths(middle.y)]]);
        }
        Some(corners)
    }

    fn held_at(&self, name: &str, footing: Footing) -> Option<&Place> {
        if footing == Footing::First {
            return self.row(name).map(|row| &row.first);
        }
        match (&self.piece(name)?.seat, footing) {
            (Seat::On(place), Footing::Seat)
            | (Seat::Between { from: place, .. }, Footing::From)
            | (Seat::Between { to: place, .. }, Footing::To) => Some(place),
            _ => None,
        }
    }

    /// Where a footing is on the drawing, and where it heads.
    fn spot_of(&self, placed: &Placed, name: &str, footing: Footing) -> Option<Spot> {
        if let Some(place) = self.held_at(name, footing) {
            let line = placed.lines.get(placed.index(&place.host)?)?;
            let spot = line.spot(place.at_mm);
            return Some(Spot {
                heading_deg: spot.heading_deg + place.turn_deg,
                ..spot
            });
        }
        match (&self.piece(name)?.seat, footing) {
            (&Seat::Free { .. }, Footing::Seat) => Some(placed.lines.get(placed.index(name)?)?.start),
            _ => None,
        }
    }
}

/// The place of a host's centreline nearest to a spot, with the turn that keeps its heading.
fn nearest_place(placed: &Placed, host: &str, spot: Spot) -> Option<Place> {
    let line = placed.lines.get(placed.index(host)?)?;
    let exact = line.nearest_mm(spot.at);
    // A tenth beyond the end would be off the host; at the end itself the length holds to the hundredth.
    let at_mm = if line.length_mm - exact <= CONTACT_MM.max(0.05) {
        let hundredths = (line.length_mm * 100.0).round() / 100.0;
        hundredths.max(0.0)
    } else {
        tenths(exact)
    };
    let turn_deg = tenths(within_a_turn(spot.heading_deg - line.spot(at_mm).heading_deg));
    Some(Place {
        host: host.to_owned(),
        at_mm,
        turn_deg,
    })
}

/// The same direction within -180 (exclusive) to 180 degrees.
fn within_a_turn(deg: f64) -> f64 {
    let deg = deg.rem_euclid(360.0);
    if deg > 180.0 { deg - 360.0 } else { deg }
}

/// To a tenth, and without a minus before zero.
fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0 + 0.0
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn nothing_sits_on_itself_or_on_what_it_carries() {
        let apparatus = sample::apparatus();
        assert_eq!(apparatus.possible_hosts("header"), ["pot"]);
        assert_eq!(apparatus.possible_hosts("vial"), ["header", "pot", "bridge", "pump"]);
        let hosts = apparatus.possible_hosts("pump");
        assert!(hosts.contains(&"vial-3".to_owned()) && !hosts.contains(&"pump".to_owned()));
        assert_eq!(apparatus.host_of("bridge", Footing::To), Some("header"));
        assert_eq!(apparatus.host_of("vial", Footing::First), Some("header"));
        assert_eq!(apparatus.host_of("pot", Footing::Seat), None);
    }

    #[test]
    fn a_piece_stays_where_it_is_when_it_changes_hosts() {
        let apparatus = sample::apparatus();
        // The pump stands on the straight part of the header at (180, 0), heading up.
        let free = apparatus.reseated("pump", Footing::Seat, None).unwrap();
        let seat = Seat::Free {
            x_mm: 180.0,
            y_mm: 0.0,
            heading_deg: 90.0,
        };
        assert_eq!(
            free,
            Edit::Seat {
                piece: "pump".into(),
                seat
            }
        );
        let moved = apparatus.apply(&free).unwrap();
        let back = moved.reseated("pump", Footing::Seat, Some("header")).unwrap();
        assert_eq!(moved.apply(&back).unwrap(), apparatus);
        // The bend turns about (200, 32): its middle lies nearest to (232, 0).
        let mut beside = moved.clone();
        beside.set("pump", "seat.x_mm", 232.0).unwrap();
        beside.set("pump", "seat.y_mm", 0.0).unwrap();
        let Some(Edit::Seat {
            seat: Seat::On(place), ..
        }) = beside.reseated("pump", Footing::Seat, Some("header"))
        else {
            panic!("a seat on the header")
        };
        // The middle of the bend lies 32 * pi / 4 = 25.13 mm after its start; a tenth of a millimetre before it the
        // host heads 44.95 degrees.
        assert_eq!((place.at_mm, place.turn_deg), (225.1, 45.1));
    }

    #[test]
    fn far_off_the_end_of_the_host_is_nearest() {
        let mut apparatus = sample::apparatus();
        apparatus = apparatus
            .apply(&apparatus.reseated("pump", Footing::Seat, None).unwrap())
            .unwrap();
        apparatus.set("pump", "seat.x_mm", -500.0).unwrap();
        apparatus.set("pump", "seat.y_mm", -80.0).unwrap();
        let next = apparatus
            .apply(&apparatus.reseated("pump", Footing::Seat, Some("pot")).unwrap())
            .unwrap();
        assert!(next.place().unwrap().strains.is_empty());
        let Seat::On(place) = &next.piece("pump").unwrap().seat else {
            panic!("on the pot")
        };
        // The pot's centreline: 50 mm of neck and half a bore of 37.2 mm.
        assert_eq!(place.at_mm, 68.6);
    }

    #[test]
    fn rows_and_bridges_are_reseated_by_their_own_places() {
        let apparatus = sample::apparatus();
        let row = apparatus.reseated("vial", Footing::First, Some("pot")).unwrap();
        assert!(matches!(&row, Edit::SeatRow { first, .. } if first.host == "pot"));
        assert!(apparatus.reseated("vial", Footing::First, None).is_none());
        let next = apparatus
            .apply(&apparatus.reseated("bridge", Footing::To, Some("vial-1")).unwrap())
            .unwrap();
        assert_eq!(next.host_of("bridge", Footing::To), Some("vial-1"));
        assert_eq!(next.host_of("bridge", Footing::From), Some("pot"));
        assert!(apparatus.reseated("bridge", Footing::To, None).is_none());
        assert!(apparatus.reseated("nobody", Footing::Seat, None).is_none());
    }

    #[test]
    fn an_arch_becomes_its_corners() {
        let apparatus = sample::apparatus();
        assert_eq!(apparatus.corners_of("bridge"), Some(vec![[0.0, 40.0], [170.0, 40.0]]));
        let mut straight = apparatus.clone();
        if let Form::Bridge(bridge) = &mut straight.pieces[2].form {
            bridge.route = Route::Straight;
        }
        assert_eq!(straight.corners_of("bridge"), Some(vec![[85.0, -5.0]]));
        assert_eq!(apparatus.corners_of("pot"), None);
    }
}
