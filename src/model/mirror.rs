//! The drawing in the mirror, whole or in part.

use super::edit::EditError;
use super::place::{Point, direction};
use super::{Apparatus, Element, Form, Route, Seat};
use std::collections::HashSet;

impl Apparatus {
    pub(super) fn mirror(&mut self) {
        for piece in &mut self.pieces {
            if let Seat::Free { x_mm, heading_deg, .. } = &mut piece.seat {
                *x_mm = 0.0 - *x_mm;
                *heading_deg = mirrored_heading_deg(*heading_deg);
            }
            piece
                .seat
                .places_mut()
                .for_each(|place| place.turn_deg = 0.0 - place.turn_deg);
            mirror_form(&mut piece.form, |corner| [0.0 - corner[0], corner[1]]);
        }
        self.rows
            .iter_mut()
            .for_each(|row| row.first.turn_deg = 0.0 - row.first.turn_deg);
    }

    /// Mirrors pieces and rows with everything that sits on them. A bridge with one foot elsewhere stays as it is but
    /// for the foot on what is mirrored.
    pub(super) fn mirror_pieces(&mut self, names: &[String]) -> Result<(), EditError> {
        let owners = names
            .iter()
            .map(|name| self.owner(name))
            .collect::<Result<Vec<_>, _>>()?;
        // The pieces and rows that turn over: those named and what sits on them alone.
        let mut turned: HashSet<String> = owners.iter().cloned().collect();
        let mut lines = Vec::new();
        for owner in &owners {
            turned.extend(self.guests_of(owner));
        }
        let inside = |host: &str| self.owner(host).is_ok_and(|owner| turned.contains(&owner));
        let apart: Vec<String> = self
            .pieces
            .iter()
            .filter(|piece| matches!(piece.seat, Seat::Between { .. }) && !owners.contains(&piece.name))
            .filter(|piece| !piece.seat.places().all(|place| inside(&place.host)))
            .map(|piece| piece.name.clone())
            .collect();
        for bridge in &apart {
            turned.remove(bridge);
            for guest in self.guests_of(bridge) {
                turned.remove(&guest);
            }
        }
        let inside = |host: &str| self.owner(host).is_ok_and(|owner| turned.contains(&owner));
        // Corners of a bridge are given along the axes of the drawing: they follow the line about which its root is
        // turned over.
        let placed = self.place()?;
        let heading_of = |name: &str| {
            let root = self.root_within(name, &turned);
            let piece = self.find(&root)?;
            match piece.seat {
                Seat::Free { .. } => Some(90.0),
                Seat::On(place) | Seat::Between { from: place, .. } => {
                    let line = placed.lines.get(placed.index(&place.host)?)?;
                    Some(line.spot(place.at_mm).heading_deg)
                }
            }
        };
        for piece in &self.pieces {
            let of_piece = turned.contains(&piece.name);
            let flips: Vec<bool> = piece
                .seat
                .places()
                .map(|place| inside(&place.host) || of_piece)
                .collect();
            lines.push((of_piece, flips, heading_of(&piece.name)));
        }
        let row_flips: Vec<bool> = self
            .rows
            .iter()
            .map(|row| turned.contains(&row.name) || inside(&row.first.host))
            .collect();
        let free = self.pieces.iter().filter(|piece| turned.contains(&piece.name));
        let starts = free.filter_map(|piece| match piece.seat {
            Seat::Free { x_mm, .. } => Some(x_mm),
            _ => None,
        });
        let (low, high) = starts.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| {
            (low.min(x), high.max(x))
        });
        for (piece, (of_piece, flips, heading)) in self.pieces.iter_mut().zip(lines) {
            for (place, flip) in piece.seat.places_mut().zip(flips) {
                if flip {
                    place.turn_deg = 0.0 - place.turn_deg;
                }
            }
            if !of_piece {
                continue;
            }
            if let Seat::Free { x_mm, heading_deg, .. } = &mut piece.seat {
                *x_mm = rounded(low + high - *x_mm);
                *heading_deg = mirrored_heading_deg(*heading_deg);
            }
            let along = direction(heading.unwrap_or(90.0));
            mirror_form(&mut piece.form, |[x, y]| {
                let corner = Point::new(x, y);
                let over = along * (2.0 * corner.dot(&along)) - corner;
                [rounded(over.x), rounded(over.y)]
            });
        }
        for (row, flip) in self.rows.iter_mut().zip(row_flips) {
            if flip {
                row.first.turn_deg = 0.0 - row.first.turn_deg;
            }
        }
        Ok(())
    }

    /// The piece of that name, or the row to which the member of that name belongs.
    pub fn owner(&self, name: &str) -> Result<String, EditError> {
        if self.piece(name).is_some() || self.row(name).is_some() {
            return Ok(name.to_owned());
        }
        self.member(name)
            .map(|(row, _)| row.name.clone())
            .ok_or_else(|| EditError::NoSuchPiece(name.to_owned()))
    }

    /// The host of hosts of a piece that is among `names`.
    fn root_within(&self, name: &str, names: &HashSet<String>) -> String {
        let mut root = name.to_owned();
        loop {
            let host = match self.row(&root) {
                Some(row) => Some(row.first.host.clone()),
                None => self
                    .piece(&root)
                    .and_then(|piece| piece.seat.places().next().map(|place| place.host.clone())),
            };
            match host
                .and_then(|host| self.owner(&host).ok())
                .filter(|host| names.contains(host))
            {
                Some(host) => root = host,
                None => return root,
            }
        }
    }
}

/// The form seen in the mirror; `over` mirrors a corner of a bridge.
fn mirror_form(form: &mut Form, over: impl Fn([f64; 2]) -> [f64; 2]) {
    match form {
        Form::Tube(tube) => {
            for element in &mut tube.course {
                if let Element::Bend { angle_deg, .. } = element {
                    *angle_deg = 0.0 - *angle_deg;
                }
            }
        }
        Form::Bridge(bridge) => {
            if let Route::Via { corners_mm } = &mut bridge.route {
                corners_mm.iter_mut().for_each(|corner| *corner = over(*corner));
            }
        }
        Form::Bulb(_) | Form::Ampoule(_) | Form::Fitting(_) => {}
    }
}

/// Without the tail of a binary fraction, so that twice in the mirror gives back what was entered.
fn rounded(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

/// A heading in the mirror, 180 - h.
fn mirrored_heading_deg(heading_deg: f64) -> f64 {
    rounded(180.0 - heading_deg)
}

#[cfg(test)]
mod tests {
    use super::super::{Bridge, Edit, Piece, TubeSize, sample};
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn mirroring_twice_changes_nothing() {
        let apparatus = sample::apparatus();
        let once = apparatus.apply(&Edit::Mirror).unwrap();
        assert_ne!(once, apparatus);
        assert_eq!(once.apply(&Edit::Mirror).unwrap(), apparatus);
    }

    fn mirror(names: &[&str]) -> Edit {
        Edit::MirrorPieces(names.iter().map(|name| (*name).to_owned()).collect())
    }

    #[test]
    fn what_sits_on_a_host_turns_over_with_its_guests() {
        let mut apparatus = sample::apparatus();
        apparatus.pieces[3].seat = Seat::On(sample::on("vial-3", 10.0, 40.0));
        let next = apparatus.apply(&mirror(&["vial-2"])).unwrap();
        assert_eq!(next.rows[0].first.turn_deg, 90.0);
        assert_eq!(next.pieces[3].seat, Seat::On(sample::on("vial-3", 10.0, -40.0)));
        assert_eq!(next.pieces[..3], apparatus.pieces[..3], "nothing else moves");
        // Every point of the pump stands as far above the header as it stood below.
        let (before, after) = (apparatus.place().unwrap(), next.place().unwrap());
        let (a, b) = (before.lines[3].end().at, after.lines[3].end().at);
        assert!((a.x - b.x).abs() < 1e-9 && (a.y + b.y).abs() < 1e-9, "{a} {b}");
        assert_eq!(next.apply(&mirror(&["vial"])).unwrap(), apparatus);
    }

    #[test]
    fn free_pieces_turn_over_about_the_middle_between_them() {
        let apparatus = sample::apparatus();
        let next = apparatus.apply(&mirror(&["pot"])).unwrap();
        let Seat::Free { x_mm, heading_deg, .. } = next.pieces[1].seat else {
            panic!("the pot stands free")
        };
        assert_eq!((x_mm, heading_deg), (-150.0, 270.0));
        assert_eq!(next.pieces[0], apparatus.pieces[0]);
        let next = apparatus.apply(&mirror(&["pot", "header", "bridge"])).unwrap();
        let (before, after) = (apparatus.place().unwrap(), next.place().unwrap());
        for (one, other) in before.lines.iter().zip(&after.lines) {
            let (a, b) = (one.end().at, other.end().at);
            assert!((a.x + b.x + 150.0).abs() < 1e-9 && (a.y - b.y).abs() < 1e-9, "{a} {b}");
        }
    }

    #[test]
    fn corners_follow_what_their_bridge_stands_on() {
        let mut apparatus = sample::apparatus();
        let arm = |name: &str, at_mm: f64| Piece {
            name: name.to_owned(),
            seat: Seat::On(sample::on("header", at_mm, 60.0)),
            form: apparatus.pieces[3].form.clone(),
        };
        let arms = [arm("left", 60.0), arm("right", 110.0)];
        apparatus.pieces.extend(arms);
        let route = Route::Via {
            corners_mm: vec![[0.0, 25.0], [30.0, 25.0]],
        };
        apparatus.pieces[2] = Piece {
            name: "bridge".to_owned(),
            seat: Seat::Between {
                from: sample::on("left", 20.0, 30.0),
                to: sample::on("right", 30.0, 30.0),
            },
            form: Form::Bridge(Bridge {
                size: TubeSize::new(10.0, 1.0),
                bend_radius_mm: 10.0,
                route,
            }),
        };
        let next = apparatus.apply(&mirror(&["left", "right"])).unwrap();
        let (before, after) = (apparatus.place().unwrap(), next.place().unwrap());
        for at in [0.0, 20.0, 40.0, 60.0] {
            let (a, b) = (before.lines[2].spot(at).at, after.lines[2].spot(at).at);
            assert!((a.x - b.x).abs() < 1e-9 && (a.y + b.y).abs() < 1e-9, "{a} {b} at {at}");
        }
        // With one foot elsewhere the bridge stays: only its place on the arm turns over.
        let next = apparatus.apply(&mirror(&["left"])).unwrap();
        assert_eq!(next.pieces[2].form, apparatus.pieces[2].form);
        assert_eq!(
            next.pieces[2].seat.places().next().map(|place| place.turn_deg),
            Some(-30.0)
        );
    }

    proptest! {
        #[test]
        fn mirrored_headings_come_back(tenths in -18000i32..=36000) {
            let heading = f64::from(tenths) / 100.0;
            prop_assert_eq!(mirrored_heading_deg(mirrored_heading_deg(heading)), heading);
        }
    }
}
