//! Every change that a user can make, as a value: `apply` gives the changed apparatus or says why not, and
//! `words` is what the undo list shows.

use super::check::Fault;
use super::limits::Limit;
use super::param::{self, Parameter};
use super::{
    Ampoule, Apparatus, Departure, Element, End, Fill, Form, OwnSize, Piece, Place, Route, Row, Seat, TubeSize,
};
use std::collections::HashSet;
use thiserror::Error;

/// A change.
#[derive(Clone, Debug, PartialEq)]
pub enum Edit {
    /// Change the title.
    Title(String),
    /// Add a piece.
    Add(Piece),
    /// Add a row.
    AddRow(Row),
    /// Take away pieces and rows with everything that sits on them, and the fills given to them.
    Remove(Vec<String>),
    /// Put a free piece elsewhere.
    Move {
        /// Name of the piece.
        piece: String,
        /// Start of its centreline, mm to the right.
        x_mm: f64,
        /// Start of its centreline, mm upwards.
        y_mm: f64,
    },
    /// Move a piece, row or member along its host. A member takes its row along.
    MoveAlong {
        /// Name of the piece.
        piece: String,
        /// Distance along the host, mm.
        at_mm: f64,
    },
    /// Turn a piece: the heading of a free one, the turn from the host of another.
    Turn {
        /// Name of the piece.
        piece: String,
        /// Angle, degrees anticlockwise.
        angle_deg: f64,
    },
    /// Seat a piece anew.
    Seat {
        /// Name of the piece.
        piece: String,
        /// Its new seat.
        seat: Seat,
    },
    /// Seat a row anew: the place of its first member.
    SeatRow {
        /// Name of the row.
        row: String,
        /// The place.
        first: Place,
    },
    /// Set one number by its key.
    Set {
        /// Name of the piece, row or member.
        piece: String,
        /// Key of the number.
        key: String,
        /// Its new value.
        value: f64,
    },
    /// Set outside diameter and wall together.
    SetSize {
        /// Name of the piece, row or member.
        piece: String,
        /// Key of the size, such as `body` or `course.2.to`.
        key: String,
        /// The new size.
        size: TubeSize,
    },
    /// Change how a tube's end is made.
    SetEnd {
        /// Name of the tube.
        piece: String,
        /// The far end; otherwise the start.
        far: bool,
        /// How it is made.
        end: End,
    },
    /// Replace what a piece is by another of the same form: another bulb, route, fitting or bottom.
    Reshape {
        /// Name of the piece, row or member.
        piece: String,
        /// Its new form.
        form: Form,
    },
    /// Give a piece, row or member another name; everything that refers to it follows.
    Rename {
        /// Old name.
        from: String,
        /// New name.
        to: String,
    },
    /// Put an element into a tube's course.
    AddElement {
        /// Name of the tube.
        piece: String,
        /// Position that it will have, from 0.
        index: usize,
        /// The element.
        element: Element,
    },
    /// Take an element out of a tube's course.
    RemoveElement {
        /// Name of the tube.
        piece: String,
        /// Its position, from 0.
        index: usize,
    },
    /// Let a member of a row depart from the pattern, starting as a copy of it.
    Depart {
        /// Name of the member.
        member: String,
    },
    /// Return a member of a row to the pattern.
    Rejoin {
        /// Name of the member.
        member: String,
    },
    /// Name the liquid.
    Liquid(String),
    /// Give a piece a volume at the start; 0 takes its fill away.
    Fill {
        /// Name of the piece.
        piece: String,
        /// Volume, mL.
        volume_ml: f64,
    },
    /// Replace the user's own tube sizes.
    OwnStock(Vec<OwnSize>),
    /// Mirror the drawing left to right about x = 0.
    Mirror,
}

/// Why a change was refused.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum EditError {
    /// No piece, row or member has that name.
    #[error("there is no piece \"{0}\"")]
    NoSuchPiece(String),
    /// The piece has no such value.
    #[error("\"{piece}\" has no \"{key}\"")]
    NoSuchKey {
        /// Name of the piece.
        piece: String,
        /// The key.
        key: String,
    },
    /// The number is outside its limit.
    #[error("\"{piece}\": {key}: {value} is outside the limit of the {}, {limit}", limit.label)]
    OutOfLimit {
        /// Name of the piece.
        piece: String,
        /// The key.
        key: String,
        /// The value.
        value: f64,
        /// The limit.
        limit: &'static Limit,
    },
    /// The change does not fit what the piece is.
    #[error("\"{piece}\" {why}")]
    Unfit {
        /// Name of the piece.
        piece: String,
        /// Why not.
        why: &'static str,
    },
    /// The changed apparatus would not hold together.
    #[error(transparent)]
    Fault(#[from] Fault),
}

impl Edit {
    /// Short words for the undo list.
    pub fn words(&self) -> String {
        match self {
            Self::Title(_) => "Change the title".to_owned(),
            Self::Add(piece) => format!("Add {}", piece.name),
            Self::AddRow(row) => format!("Add {}", row.name),
            Self::Remove(names) => match names.as_slice() {
                [name] => format!("Remove {name}"),
                names => format!("Remove {} pieces", names.len()),
            },
            Self::Move { piece, .. } => format!("Move {piece}"),
            Self::MoveAlong { piece, .. } => format!("Move {piece} along"),
            Self::Turn { piece, .. } => format!("Turn {piece}"),
            Self::Seat { piece, .. } => format!("Seat {piece}"),
            Self::SeatRow { row, .. } => format!("Seat {row}"),
            Self::Set { piece, key, .. } => format!("Change {key} of {piece}"),
            Self::SetSize { piece, key, size } => {
                format!("Make {key} of {piece} {} x {}", size.od_mm, size.wall_mm)
            }
            Self::SetEnd { piece, far: true, .. } => format!("Change the end of {piece}"),
            Self::SetEnd { piece, far: false, .. } => format!("Change the start of {piece}"),
            Self::Reshape { piece, .. } => format!("Reshape {piece}"),
            Self::Rename { from, to } => format!("Rename {from} to {to}"),
            Self::AddElement { piece, .. } => format!("Add to the course of {piece}"),
            Self::RemoveElement { piece, .. } => format!("Shorten the course of {piece}"),
            Self::Depart { member } => format!("Let {member} depart"),
            Self::Rejoin { member } => format!("Return {member} to its row"),
            Self::Liquid(_) => "Change the liquid".to_owned(),
            Self::Fill { piece, .. } => format!("Change the fill of {piece}"),
            Self::OwnStock(_) => "Change own tube sizes".to_owned(),
            Self::Mirror => "Mirror".to_owned(),
        }
    }
}

impl Apparatus {
    /// The apparatus after a change; it satisfies [`Apparatus::check`].
    ///
    /// # Errors
    /// When the change names what is not there, or its result would be at fault. `self` stays as it is.
    pub fn apply(&self, edit: &Edit) -> Result<Self, EditError> {
        let mut next = self.clone();
        next.change(edit)?;
        next.check()?;
        Ok(next)
    }

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

    fn change(&mut self, edit: &Edit) -> Result<(), EditError> {
        match edit {
            Edit::Title(title) => self.title.clone_from(title),
            Edit::Add(piece) => self.pieces.push(piece.clone()),
            Edit::AddRow(row) => self.rows.push(row.clone()),
            Edit::Remove(names) => self.remove(names)?,
            Edit::Move { piece, x_mm, y_mm } => match &mut self.piece_mut(piece)?.seat {
                Seat::Free { x_mm: x, y_mm: y, .. } => (*x, *y) = (*x_mm, *y_mm),
                _ => return Err(unfit(piece, "does not stand free")),
            },
            Edit::MoveAlong { piece, at_mm } => self.move_along(piece, *at_mm)?,
            Edit::Turn { piece, angle_deg } => self.turn(piece, *angle_deg)?,
            Edit::Seat { piece, seat } => self.piece_mut(piece)?.seat = seat.clone(),
            Edit::SeatRow { row, first } => self.row_mut(row)?.first = first.clone(),
            Edit::Set { piece, key, value } => self.set(piece, key, *value)?,
            Edit::SetSize { piece, key, size } => self.set_size(piece, key, *size)?,
            Edit::SetEnd { piece, far, end } => {
                let tube = self.tube_mut(piece)?;
                *(if *far { &mut tube.end } else { &mut tube.start }) = end.clone();
            }
            Edit::Reshape { piece, form } => self.reshape(piece, form)?,
            Edit::Rename { from, to } => self.rename(from, to)?,
            Edit::AddElement { piece, index, element } => {
                let course = &mut self.tube_mut(piece)?.course;
                if *index > course.len() {
                    return Err(unfit(piece, "has a shorter course"));
                }
                course.insert(*index, *element);
            }
            Edit::RemoveElement { piece, index } => {
                let course = &mut self.tube_mut(piece)?.course;
                if *index >= course.len() {
                    return Err(unfit(piece, "has a shorter course"));
                }
                course.remove(*index);
            }
            Edit::Depart { member } => {
                let (row, number) = self.member_mut(member)?;
                if !row.departs(number) {
                    row.departures.push(Departure {
                        member: number,
                        ampoule: row.pattern.clone(),
                    });
                    row.departures.sort_by_key(|departure| departure.member);
                }
            }
            Edit::Rejoin { member } => {
                let (row, number) = self.member_mut(member)?;
                row.departures.retain(|departure| departure.member != number);
            }
            Edit::Liquid(liquid) => self.charge.liquid.clone_from(liquid),
            Edit::Fill { piece, volume_ml } => {
                let fills = &mut self.charge.fills;
                match fills.iter_mut().find(|fill| fill.piece == *piece) {
                    _ if *volume_ml == 0.0 => fills.retain(|fill| fill.piece != *piece),
                    Some(fill) => fill.volume_ml = *volume_ml,
                    None => fills.push(Fill {
                        piece: piece.clone(),
                        volume_ml: *volume_ml,
                    }),
                }
            }
            Edit::OwnStock(list) => self.own_stock.clone_from(list),
            Edit::Mirror => self.mirror(),
        }
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

    fn piece_mut(&mut self, name: &str) -> Result<&mut Piece, EditError> {
        let piece = self.pieces.iter_mut().find(|piece| piece.name == name);
        piece.ok_or_else(|| EditError::NoSuchPiece(name.to_owned()))
    }

    fn row_mut(&mut self, name: &str) -> Result<&mut Row, EditError> {
        self.rows
            .iter_mut()
            .find(|row| row.name == name)
            .ok_or_else(|| EditError::NoSuchPiece(name.to_owned()))
    }

    fn member_mut(&mut self, name: &str) -> Result<(&mut Row, usize), EditError> {
        let found = self
            .rows
            .iter_mut()
            .find_map(|row| row.member_of_name(name).map(|member| (row, member)));
        found.ok_or_else(|| EditError::NoSuchPiece(name.to_owned()))
    }

    fn tube_mut(&mut self, name: &str) -> Result<&mut super::Tube, EditError> {
        match &mut self.piece_mut(name)?.form {
            Form::Tube(tube) => Ok(tube),
            _ => Err(unfit(name, "is not a tube")),
        }
    }

    fn remove(&mut self, names: &[String]) -> Result<(), EditError> {
        let mut gone: HashSet<String> = HashSet::new();
        for name in names {
            if self.piece(name).is_none() && self.row(name).is_none() {
                return Err(match self.member(name) {
                    Some(_) => unfit(name, "is a member of a row; change the row's number of members"),
                    None => EditError::NoSuchPiece(name.clone()),
                });
            }
            gone.extend(self.guests_of(name));
            gone.insert(name.clone());
        }
        for row in self.rows.iter().filter(|row| gone.contains(&row.name)) {
            let members: Vec<String> = (1..=row.count).map(|member| row.member_name(member)).collect();
            self.charge.fills.retain(|fill| !members.contains(&fill.piece));
        }
        self.charge.fills.retain(|fill| !gone.contains(&fill.piece));
        self.pieces.retain(|piece| !gone.contains(&piece.name));
        self.rows.retain(|row| !gone.contains(&row.name));
        Ok(())
    }

    fn move_along(&mut self, name: &str, at_mm: f64) -> Result<(), EditError> {
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

    fn turn(&mut self, name: &str, angle_deg: f64) -> Result<(), EditError> {
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

    fn set_size(&mut self, name: &str, key: &str, size: TubeSize) -> Result<(), EditError> {
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

    fn reshape(&mut self, name: &str, form: &Form) -> Result<(), EditError> {
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

    fn rename(&mut self, from: &str, to: &str) -> Result<(), EditError> {
        let mut pairs = vec![(from.to_owned(), to.to_owned())];
        if let Some(piece) = self.pieces.iter_mut().find(|piece| piece.name == from) {
            to.clone_into(&mut piece.name);
        } else if let Some(row) = self.rows.iter_mut().find(|row| row.name == from) {
            let old: Vec<String> = (1..=row.count).map(|member| row.member_name(member)).collect();
            to.clone_into(&mut row.name);
            pairs = old
                .into_iter()
                .zip((1..=row.count).map(|member| row.member_name(member)))
                .collect();
        } else if self.member(from).is_some() {
            return Err(unfit(from, "is named after its row; rename the row"));
        } else {
            return Err(EditError::NoSuchPiece(from.to_owned()));
        }
        let pairs: std::collections::HashMap<String, String> = pairs.into_iter().collect();
        let follow = |name: &mut String| {
            if let Some(new) = pairs.get(name.as_str()) {
                name.clone_from(new);
            }
        };
        self.pieces
            .iter_mut()
            .flat_map(|piece| piece.seat.places_mut())
            .for_each(|place| follow(&mut place.host));
        self.rows.iter_mut().for_each(|row| follow(&mut row.first.host));
        self.charge.fills.iter_mut().for_each(|fill| follow(&mut fill.piece));
        Ok(())
    }

    fn mirror(&mut self) {
        for piece in &mut self.pieces {
            if let Seat::Free { x_mm, heading_deg, .. } = &mut piece.seat {
                *x_mm = 0.0 - *x_mm;
                *heading_deg = mirrored_heading_deg(*heading_deg);
            }
            piece
                .seat
                .places_mut()
                .for_each(|place| place.turn_deg = 0.0 - place.turn_deg);
            match &mut piece.form {
                Form::Tube(tube) => {
                    for element in &mut tube.course {
                        if let Element::Bend { angle_deg, .. } = element {
                            *angle_deg = 0.0 - *angle_deg;
                        }
                    }
                }
                Form::Bridge(bridge) => {
                    if let Route::Via { corners_mm } = &mut bridge.route {
                        corners_mm.iter_mut().for_each(|corner| corner[0] = 0.0 - corner[0]);
                    }
                }
                Form::Bulb(_) | Form::Ampoule(_) | Form::Fitting(_) => {}
            }
        }
        self.rows
            .iter_mut()
            .for_each(|row| row.first.turn_deg = 0.0 - row.first.turn_deg);
    }
}

/// A heading in the mirror, 180 - h, rounded to 1e-9 degree: so mirroring twice gives a number as entered back
/// to the last bit.
fn mirrored_heading_deg(heading_deg: f64) -> f64 {
    ((180.0 - heading_deg) * 1e9).round() / 1e9
}

fn drop_departures_beyond(row: &mut Row) {
    let count = row.count;
    row.departures.retain(|departure| departure.member <= count);
}

fn unfit(piece: &str, why: &'static str) -> EditError {
    EditError::Unfit {
        piece: piece.to_owned(),
        why,
    }
}

enum Target<'a> {
    Piece(&'a mut Piece),
    Row(&'a mut Row),
    Ampoule(&'a mut Ampoule),
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use proptest::prelude::*;

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
    fn refusals_name_piece_value_and_limit() {
        let apparatus = sample::apparatus();
        let words = |edit: &Edit| apparatus.apply(edit).unwrap_err().to_string();
        let text = words(&set("header", "size.od_mm", 1e300));
        assert!(
            text.contains("header") && text.contains("1 to 300 mm") && text.contains("size.od_mm"),
            "{text}"
        );
        assert!(words(&set("header", "size.od_mm", f64::NAN)).contains("NaN"));
        assert!(words(&set("header", "size.wall_mm", 8.0)).contains("leave a bore of 0.000 mm"));
        assert!(words(&set("header", "course.1.radius_mm", 3.0)).contains("less than half the bore, 6.8 mm"));
        assert!(words(&set("header", "course.9.radius_mm", 3.0)).contains("course.9.radius_mm"));
        let seat = Seat::On(sample::on("pump", 10.0, 0.0));
        let text = words(&Edit::Seat {
            piece: "header".to_owned(),
            seat,
        });
        assert!(
            text.contains("ring") && text.contains("header on pump on header"),
            "{text}"
        );
        let seat = Seat::On(sample::on("nobody", 10.0, 0.0));
        assert!(
            words(&Edit::Seat {
                piece: "header".to_owned(),
                seat
            })
            .contains("nobody")
        );
        let seat = Seat::Free {
            x_mm: 0.0,
            y_mm: 0.0,
            heading_deg: 0.0,
        };
        assert!(
            words(&Edit::Seat {
                piece: "bridge".to_owned(),
                seat
            })
            .contains("bridge")
        );
    }

    #[test]
    fn mirroring_twice_changes_nothing() {
        let apparatus = sample::apparatus();
        let once = apparatus.apply(&Edit::Mirror).unwrap();
        assert_ne!(once, apparatus);
        assert_eq!(once.apply(&Edit::Mirror).unwrap(), apparatus);
    }

    #[test]
    fn a_crowd_is_refused_at_once() {
        let piece = sample::apparatus().pieces[0].clone();
        let apparatus = Apparatus {
            pieces: vec![piece; 100_000],
            ..Apparatus::default()
        };
        let text = apparatus.check().unwrap_err().to_string();
        assert!(text.contains("100000") && text.contains("5000"), "{text}");
        let mut apparatus = sample::apparatus();
        apparatus.rows[0].count = usize::MAX;
        assert!(apparatus.check().is_err());
    }

    proptest! {
        #[test]
        fn mirrored_headings_come_back(tenths in -18000i32..=36000) {
            let heading = f64::from(tenths) / 100.0;
            prop_assert_eq!(mirrored_heading_deg(mirrored_heading_deg(heading)), heading);
        }

        #[test]
        fn apply_never_panics_and_gives_what_holds(
            name in prop_oneof!["[a-z]{1,8}", Just("header".to_owned()), Just("vial".to_owned()), Just("vial-2".to_owned()), ".*"],
            key in prop_oneof![".*", Just("size".to_owned()), Just("body_mm".to_owned()), Just("count".to_owned())],
            value in prop_oneof![any::<f64>(), -10.0..400.0f64],
            index in 0usize..9,
        ) {
            let apparatus = sample::apparatus();
            let size = TubeSize::new(value, value / 10.0);
            let place = Place { host: key.clone(), at_mm: value, turn_deg: value };
            let edits = [
                Edit::Title(key.clone()),
                Edit::Remove(vec![name.clone(), key.clone()]),
                Edit::Move { piece: name.clone(), x_mm: value, y_mm: value },
                Edit::MoveAlong { piece: name.clone(), at_mm: value },
                Edit::Turn { piece: name.clone(), angle_deg: value },
                Edit::Seat { piece: name.clone(), seat: Seat::On(place.clone()) },
                Edit::SeatRow { row: name.clone(), first: place },
                Edit::Set { piece: name.clone(), key: key.clone(), value },
                Edit::SetSize { piece: name.clone(), key: key.clone(), size },
                Edit::SetEnd { piece: name.clone(), far: index > 4, end: End::Flat },
                Edit::Rename { from: name.clone(), to: key.clone() },
                Edit::AddElement { piece: name.clone(), index, element: Element::Straight { length_mm: value } },
                Edit::RemoveElement { piece: name.clone(), index },
                Edit::Depart { member: name.clone() },
                Edit::Rejoin { member: name.clone() },
                Edit::Liquid(key.clone()),
                Edit::Fill { piece: name.clone(), volume_ml: value },
                Edit::Reshape { piece: name.clone(), form: Form::Ampoule(sample::ampoule()) },
            ];
            for edit in edits {
                prop_assert!(!edit.words().is_empty());
                if let Ok(next) = apparatus.apply(&edit) {
                    prop_assert!(next.check().is_ok());
                    prop_assert!(next.place().is_ok());
                }
            }
        }
    }
}
