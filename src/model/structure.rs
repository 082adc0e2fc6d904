//! Which pieces there are, what they are called and where they sit.

use super::edit::{EditError, unfit};
use super::{Apparatus, Form, Piece, Row, Seat};
use std::collections::{HashMap, HashSet};

impl Apparatus {
    pub(super) fn piece_mut(&mut self, name: &str) -> Result<&mut Piece, EditError> {
        let piece = self.pieces.iter_mut().find(|piece| piece.name == name);
        piece.ok_or_else(|| EditError::NoSuchPiece(name.to_owned()))
    }

    pub(super) fn row_mut(&mut self, name: &str) -> Result<&mut Row, EditError> {
        self.rows
            .iter_mut()
            .find(|row| row.name == name)
            .ok_or_else(|| EditError::NoSuchPiece(name.to_owned()))
    }

    pub(super) fn member_mut(&mut self, name: &str) -> Result<(&mut Row, usize), EditError> {
        let found = self
            .rows
            .iter_mut()
            .find_map(|row| row.member_of_name(name).map(|member| (row, member)));
        found.ok_or_else(|| EditError::NoSuchPiece(name.to_owned()))
    }

    pub(super) fn tube_mut(&mut self, name: &str) -> Result<&mut super::Tube, EditError> {
        match &mut self.piece_mut(name)?.form {
            Form::Tube(tube) => Ok(tube),
            _ => Err(unfit(name, "is not a tube")),
        }
    }

    /// What goes when `names` are removed, in the order of [`Apparatus::names`]: the pieces themselves, the members
    /// of rows, and everything that sits on them.
    pub fn removed_with(&self, names: &[String]) -> Vec<String> {
        let mut gone: HashSet<String> = HashSet::new();
        for name in names {
            gone.extend(self.guests_of(name));
            gone.insert(name.clone());
        }
        let rows = self.rows.iter().filter(|row| gone.contains(&row.name));
        let members: Vec<String> = rows.flat_map(Row::member_names).collect();
        gone.extend(members);
        self.names().into_iter().filter(|name| gone.contains(name)).collect()
    }

    pub(super) fn remove(&mut self, names: &[String]) -> Result<(), EditError> {
        let mut gone: HashSet<String> = HashSet::new();
        for name in names {
            if self.piece(name).is_none() && self.row(name).is_none() && self.member(name).is_none() {
                return Err(EditError::NoSuchPiece(name.clone()));
            }
            gone.extend(self.guests_of(name));
            gone.insert(name.clone());
        }
        let whole = |row: &Row| gone.contains(&row.name) || row.member_names().all(|name| gone.contains(&name));
        let (whole, part): (Vec<Row>, Vec<Row>) = std::mem::take(&mut self.rows).into_iter().partition(whole);
        gone.extend(whole.iter().flat_map(Row::member_names));
        self.rows = part;
        self.charge.fills.retain(|fill| !gone.contains(&fill.piece));
        self.pieces.retain(|piece| !gone.contains(&piece.name));
        self.close_up(&gone);
        Ok(())
    }

    /// Takes members out of rows; the others close up, and what refers to them follows.
    fn close_up(&mut self, gone: &HashSet<String>) {
        let mut renamed = HashMap::new();
        for row in &mut self.rows {
            let stay: Vec<usize> = (1..=row.count)
                .filter(|member| !gone.contains(&row.member_name(*member)))
                .collect();
            if stay.len() == row.count {
                continue;
            }
            for (i, member) in stay.iter().enumerate() {
                renamed.insert(row.member_name(*member), row.member_name(i + 1));
            }
            row.departures.retain_mut(|departure| {
                let place = stay.iter().position(|member| *member == departure.member);
                departure.member = place.map_or(departure.member, |i| i + 1);
                place.is_some()
            });
            row.count = stay.len();
        }
        self.follow(&renamed);
    }

    pub(super) fn move_along(&mut self, name: &str, at_mm: f64) -> Result<(), EditError> {
        if let Some(piece) = self.pieces.iter_mut().find(|piece| piece.name == name) {
            match &mut piece.seat {
                Seat::On(place) => place.at_mm = at_mm,
                _ => return Err(unfit(name, "does not sit on a host")),
            }
        } else if let Some(row) = self.rows.iter_mut().find(|row| row.name == name) {
            row.first.at_mm = at_mm;
        } else {
            let (row, member) = self.member_mut(name)?;
            row.first.at_mm = at_mm - (row.at_mm(member) - row.first.at_mm);
        }
        Ok(())
    }

    pub(super) fn turn(&mut self, name: &str, angle_deg: f64) -> Result<(), EditError> {
        if let Some(piece) = self.pieces.iter_mut().find(|piece| piece.name == name) {
            match &mut piece.seat {
                Seat::Free { heading_deg, .. } => *heading_deg = angle_deg,
                Seat::On(place) => place.turn_deg = angle_deg,
                Seat::Between { .. } => {
                    return Err(unfit(name, "stands between two places; turn those"));
                }
            }
        } else if let Some(row) = self.rows.iter_mut().find(|row| row.name == name) {
            row.first.turn_deg = angle_deg;
        } else {
            self.member_mut(name)?.0.first.turn_deg = angle_deg;
        }
        Ok(())
    }

    pub(super) fn rename(&mut self, from: &str, to: &str) -> Result<(), EditError> {
        let mut pairs = vec![(from.to_owned(), to.to_owned())];
        if let Some(piece) = self.pieces.iter_mut().find(|piece| piece.name == from) {
            to.clone_into(&mut piece.name);
        } else if let Some(row) = self.rows.iter_mut().find(|row| row.name == from) {
            let old: Vec<String> = row.member_names().collect();
            to.clone_into(&mut row.name);
            pairs = old.into_iter().zip(row.member_names()).collect();
        } else if self.member(from).is_some() {
            return Err(unfit(from, "is named after its row; rename the row"));
        } else {
            return Err(EditError::NoSuchPiece(from.to_owned()));
        }
        self.follow(&pairs.into_iter().collect());
        Ok(())
    }

    /// Lets everything that refers to a piece or member by an old name use the new one.
    fn follow(&mut self, renamed: &HashMap<String, String>) {
        let follow = |name: &mut String| {
            if let Some(new) = renamed.get(name.as_str()) {
                name.clone_from(new);
            }
        };
        self.pieces
            .iter_mut()
            .flat_map(|piece| piece.seat.places_mut())
            .for_each(|place| follow(&mut place.host));
        self.rows.iter_mut().for_each(|row| follow(&mut row.first.host));
        self.charge.fills.iter_mut().for_each(|fill| follow(&mut fill.piece));
    }
}

#[cfg(test)]
mod tests {
    use super::super::edit::{Edit, EditError};
    use super::super::{Fill, Seat, sample};

    #[test]
    fn removing_takes_guests_and_fills_along() {
        let apparatus = sample::apparatus();
        let next = apparatus.apply(&Edit::Remove(vec!["header".to_owned()])).unwrap();
        assert_eq!(next.names(), ["pot"]);
        let next = next.apply(&Edit::Remove(vec!["pot".to_owned()])).unwrap();
        assert!(next.pieces.is_empty() && next.charge.fills.is_empty());
        assert!(matches!(
            next.apply(&Edit::Remove(vec!["pot".to_owned()])),
            Err(EditError::NoSuchPiece(_))
        ));
    }

    #[test]
    fn renaming_follows_into_hosts_and_fills() {
        let mut apparatus = sample::apparatus();
        apparatus.pieces[3].seat = Seat::On(sample::on("vial-3", 10.0, 90.0));
        let rename = |from: &str, to: &str| Edit::Rename {
            from: from.to_owned(),
            to: to.to_owned(),
        };
        let next = apparatus.apply(&rename("header", "trough")).unwrap();
        let next = next.apply(&rename("pot", "flask")).unwrap();
        let next = next.apply(&rename("vial", "ampoule")).unwrap();
        assert_eq!(next.rows[0].first.host, "trough");
        assert_eq!(next.charge.fills[0].piece, "flask");
        assert_eq!(next.pieces[3].seat, Seat::On(sample::on("ampoule-3", 10.0, 90.0)));
        assert!(apparatus.apply(&rename("pot", "header")).is_err());
        assert!(apparatus.apply(&rename("pot", "vial-2")).is_err());
        assert!(apparatus.apply(&rename("pot", "")).is_err());
    }

    #[test]
    fn a_member_is_taken_out_and_the_others_close_up() {
        let mut apparatus = sample::apparatus();
        apparatus.pieces[3].seat = Seat::On(sample::on("vial-3", 10.0, 90.0));
        apparatus.charge.fills.push(Fill {
            piece: "vial-3".to_owned(),
            volume_ml: 1.0,
        });
        let remove = |names: &[&str]| Edit::Remove(names.iter().map(|name| (*name).to_owned()).collect());
        let next = apparatus.apply(&remove(&["vial-1"])).unwrap();
        assert_eq!((next.rows[0].count, next.rows[0].departures[0].member), (2, 1));
        assert_eq!(next.pieces[3].seat, Seat::On(sample::on("vial-2", 10.0, 90.0)));
        assert_eq!(next.charge.fills[1].piece, "vial-2");
        let next = apparatus.apply(&remove(&["vial-3"])).unwrap();
        assert!(next.piece("pump").is_none(), "it sat on the member");
        assert_eq!(next.rows[0].count, 2);
        let next = apparatus.apply(&remove(&["vial-1", "vial-2", "vial-3"])).unwrap();
        assert!(next.rows.is_empty());
        assert!(apparatus.apply(&remove(&["vial-4"])).is_err());
    }

    #[test]
    fn what_goes_along_is_told_beforehand() {
        let apparatus = sample::apparatus();
        let told = apparatus.removed_with(&["header".to_owned()]);
        assert_eq!(told, ["header", "bridge", "pump", "vial-1", "vial-2", "vial-3"]);
        let next = apparatus.apply(&Edit::Remove(vec!["header".to_owned()])).unwrap();
        let left: Vec<String> = apparatus
            .names()
            .into_iter()
            .filter(|name| !told.contains(name))
            .collect();
        assert_eq!(next.names(), left);
        assert_eq!(apparatus.removed_with(&["vial-2".to_owned()]), ["vial-2"]);
    }
}
