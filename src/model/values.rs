//! Numbers, sizes and forms: what a change of a value comes down to.

use super::edit::{EditError, unfit};
use super::limits::Limit;
use super::param::{self, Parameter};
use super::{Ampoule, Apparatus, Form, Piece, Row, TubeSize};

/// What holds the values of a name.
enum Target<'a> {
    Piece(&'a mut Piece),
    Row(&'a mut Row),
    Ampoule(&'a mut Ampoule),
}

impl Apparatus {
    /// The numbers of a piece, row or member; `None` when there is none of that name. A member shows its ampoule
    /// alone: its place is the row's.
    pub fn parameters(&self, name: &str) -> Option<Vec<Parameter>> {
        if let Some(piece) = self.piece(name) {
            return Some(param::of_piece(piece));
        }
        if let Some(row) = self.row(name) {
            return Some(param::of_row(row));
        }
        self.member(name)
            .map(|(row, member)| param::of_ampoule(row.ampoule(member)))
    }

    /// Sets one number in place. A member of a row that does not depart sets the pattern, and so the whole row.
    ///
    /// # Errors
    /// When there is no such piece or key, the value is outside its limit, or the piece would be at fault; the
    /// apparatus is then unchanged.
    pub fn set(&mut self, piece: &str, key: &str, value: f64) -> Result<(), EditError> {
        let mut limit = None;
        let mut visit = |k: &str, _: &str, l: &'static Limit, number: &mut f64| {
            if k == key {
                limit = Some(l);
                if l.allows(value) {
                    *number = value;
                }
            }
        };
        let mut next = self.clone();
        match next.target(piece)? {
            Target::Piece(piece) => param::visit_piece(piece, &mut visit),
            Target::Row(row) => {
                param::visit_row(row, &mut visit);
                drop_departures_beyond(row);
            }
            Target::Ampoule(ampoule) => param::visit_ampoule(ampoule, &mut visit),
        }
        match limit {
            None => {
                return Err(EditError::NoSuchKey {
                    piece: piece.to_owned(),
                    key: key.to_owned(),
                });
            }
            Some(limit) if !limit.allows(value) => {
                return Err(EditError::OutOfLimit {
                    piece: piece.to_owned(),
                    key: key.to_owned(),
                    value,
                    limit,
                });
            }
            Some(_) => {}
        }
        next.check()?;
        *self = next;
        Ok(())
    }

    fn target(&mut self, name: &str) -> Result<Target<'_>, EditError> {
        if let Some(i) = self.pieces.iter().position(|piece| piece.name == name) {
            return Ok(Target::Piece(&mut self.pieces[i]));
        }
        if let Some(i) = self.rows.iter().position(|row| row.name == name) {
            return Ok(Target::Row(&mut self.rows[i]));
        }
        let (row, member) = self.member_mut(name)?;
        Ok(Target::Ampoule(
            match row.departures.iter().position(|departure| departure.member == member) {
                Some(k) => &mut row.departures[k].ampoule,
                None => &mut row.pattern,
            },
        ))
    }

    pub(super) fn set_size(&mut self, name: &str, key: &str, size: TubeSize) -> Result<(), EditError> {
        let mut found = false;
        let mut visit = |k: &str, present: &mut TubeSize| {
            if k == key {
                *present = size;
                found = true;
            }
        };
        match self.target(name)? {
            Target::Piece(piece) => param::visit_sizes(&mut piece.form, &mut visit),
            Target::Row(row) => param::visit_ampoule_sizes(&mut row.pattern, &mut visit),
            Target::Ampoule(ampoule) => param::visit_ampoule_sizes(ampoule, &mut visit),
        }
        if found {
            Ok(())
        } else {
            Err(EditError::NoSuchKey {
                piece: name.to_owned(),
                key: key.to_owned(),
            })
        }
    }

    pub(super) fn reshape(&mut self, name: &str, form: &Form) -> Result<(), EditError> {
        let (present, form): (&mut Ampoule, _) = match (self.target(name)?, form) {
            (Target::Piece(piece), form) => {
                if std::mem::discriminant(&piece.form) != std::mem::discriminant(form) {
                    return Err(unfit(name, "is another kind of piece"));
                }
                piece.form = form.clone();
                return Ok(());
            }
            (Target::Row(row), Form::Ampoule(ampoule)) => (&mut row.pattern, ampoule),
            (Target::Ampoule(present), Form::Ampoule(ampoule)) => (present, ampoule),
            _ => return Err(unfit(name, "is an ampoule")),
        };
        present.clone_from(form);
        Ok(())
    }
}

fn drop_departures_beyond(row: &mut Row) {
    let count = row.count;
    row.departures.retain(|departure| departure.member <= count);
}

#[cfg(test)]
mod tests {
    use super::super::{Edit, Seat, sample};

    fn set(piece: &str, key: &str, value: f64) -> Edit {
        Edit::Set {
            piece: piece.to_owned(),
            key: key.to_owned(),
            value,
        }
    }

    #[test]
    fn every_parameter_can_be_set_and_read_back() {
        let mut apparatus = sample::apparatus();
        for name in ["header", "pot", "bridge", "pump", "vial", "vial-1", "vial-2"] {
            for parameter in apparatus.parameters(name).unwrap() {
                let value = parameter.limit.nearest(parameter.value + parameter.limit.step);
                apparatus.set(name, &parameter.key, value).unwrap();
                let now = apparatus.parameters(name).unwrap();
                let found = now.iter().find(|other| other.key == parameter.key).unwrap();
                assert_eq!(found.value, value, "{name} {}", parameter.key);
            }
        }
    }

    #[test]
    fn a_member_sets_its_row_unless_it_departs() {
        let apparatus = sample::apparatus();
        let next = apparatus.apply(&set("vial-1", "body_mm", 60.0)).unwrap();
        assert_eq!(next.rows[0].pattern.body_mm, 60.0);
        assert_eq!(next.rows[0].ampoule(2).body_mm, 50.0);
        let next = next.apply(&set("vial-2", "body_mm", 70.0)).unwrap();
        assert_eq!(
            (next.rows[0].ampoule(2).body_mm, next.rows[0].ampoule(3).body_mm),
            (70.0, 60.0)
        );
        let next = next
            .apply(&Edit::Rejoin {
                member: "vial-2".to_owned(),
            })
            .unwrap();
        assert_eq!(next.rows[0].ampoule(2).body_mm, 60.0);
        let next = next
            .apply(&Edit::Depart {
                member: "vial-3".to_owned(),
            })
            .unwrap();
        let next = next.apply(&set("vial-3", "body_mm", 30.0)).unwrap();
        assert_eq!(next.rows[0].pattern.body_mm, 60.0);
    }

    #[test]
    fn fewer_members_drop_departures_but_not_hosts() {
        let mut apparatus = sample::apparatus();
        apparatus.set("vial", "count", 1.0).unwrap();
        assert!(apparatus.rows[0].departures.is_empty());
        let mut apparatus = sample::apparatus();
        apparatus.pieces[3].seat = Seat::On(sample::on("vial-3", 10.0, 90.0));
        let error = apparatus.set("vial", "count", 2.0).unwrap_err();
        assert!(error.to_string().contains("vial-3"), "{error}");
        assert_eq!(apparatus.rows[0].count, 3);
    }
}
