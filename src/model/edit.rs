//! Every change that a user can make, as a value: `apply` gives the changed apparatus or says why not, and
//! `words` is what the undo list shows.

use super::check::Fault;
use super::cutting::Grafts;
use super::limits::Limit;
use super::{
    Apparatus, Departure, Element, End, Fill, Form, Gas, Job, OwnSize, Piece, Place, Row, Run, Seat, Stop, TubeSize,
};
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
    /// Take away pieces and rows with everything that sits on them, and the fills given to them. A member of a row
    /// is taken out of it and the others close up.
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
    /// Mirror pieces and rows with everything that sits on them: what sits on a host about the host's direction
    /// there, what stands free about the upright line midway between the free ones.
    MirrorPieces(Vec<String>),
    /// Put in copies of pieces and rows, named and seated.
    Graft(Grafts),
    /// Change the job.
    Job {
        /// What is changed, for the undo list.
        words: String,
        /// The whole job after it.
        job: Box<Job>,
    },
    /// Put another run in the place of the present one.
    Run(Run),
    /// Say what fills the space above the liquid.
    Gas(Gas),
    /// Let the charge drip into a piece, or, with none, lie where it is given.
    DripsInto(Option<String>),
    /// Count the head in that the liquid needs to enter a narrow bore that it does not wet, or leave it aside.
    Capillarity(bool),
    /// Note what was measured in a vessel after the run; with nothing, the note is taken away.
    Measured {
        /// Name of the vessel.
        piece: String,
        /// Volume, mL.
        volume_ml: Option<f64>,
    },
    /// Put a stop into the run.
    AddStop {
        /// Position that it will have, from 0.
        index: usize,
        /// The stop.
        stop: Stop,
    },
    /// Change a stop.
    SetStop {
        /// Its position, from 0.
        index: usize,
        /// What it will be.
        stop: Stop,
    },
    /// Move a stop to another position.
    MoveStop {
        /// Its position, from 0.
        from: usize,
        /// Position that it will have.
        to: usize,
    },
    /// Take a stop out of the run.
    RemoveStop {
        /// Its position, from 0.
        index: usize,
    },
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
    /// The run has no such stop.
    #[error("there is no stop {}; the run has {count}", index + 1)]
    NoSuchStop {
        /// The position, from 0.
        index: usize,
        /// Stops of the run.
        count: usize,
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
            Self::Mirror => "Mirror the drawing".to_owned(),
            Self::MirrorPieces(names) => match names.as_slice() {
                [name] => format!("Mirror {name}"),
                names => format!("Mirror {} pieces", names.len()),
            },
            Self::Graft(grafts) => grafts.words(),
            Self::Job { words, .. } => words.clone(),
            Self::Run(_) => "Change the run".to_owned(),
            Self::Gas(Gas::Evacuated) => "Pour evacuated".to_owned(),
            Self::Gas(Gas::Open) => "Pour open to the air".to_owned(),
            Self::Gas(Gas::Filled { .. }) => "Pour filled with gas".to_owned(),
            Self::DripsInto(Some(piece)) => format!("Let the charge drip into {piece}"),
            Self::DripsInto(None) => "Let the charge lie where it is given".to_owned(),
            Self::Capillarity(true) => "Count capillarity in".to_owned(),
            Self::Capillarity(false) => "Leave capillarity aside".to_owned(),
            Self::Measured { piece, volume_ml } => match volume_ml {
                Some(_) => format!("Note what was measured in {piece}"),
                None => format!("Forget what was measured in {piece}"),
            },
            Self::AddStop { index, stop } => format!("Add {}", stop_words(*index, stop)),
            Self::SetStop { index, stop } => format!("Change {}", stop_words(*index, stop)),
            Self::MoveStop { from, to } => format!("Move stop {} to {}", from + 1, to + 1),
            Self::RemoveStop { index } => format!("Remove stop {}", index + 1),
        }
    }
}

impl Apparatus {
    /// The apparatus after a change; it satisfies [`Apparatus::check`].
    ///
    /// # Errors
    /// When the change names what is not there, or its result would be at fault. `self` stays as it is.
    pub fn apply(&self, edit: &Edit) -> Result<Self, EditError> {
        self.apply_all(std::slice::from_ref(edit))
    }

    /// The apparatus after several changes that make one step; only the last must hold together.
    ///
    /// # Errors
    /// As [`Apparatus::apply`].
    pub fn apply_all(&self, edits: &[Edit]) -> Result<Self, EditError> {
        let mut next = self.clone();
        for edit in edits {
            next.change(edit)?;
        }
        next.check()?;
        Ok(next)
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
            Edit::MirrorPieces(names) => self.mirror_pieces(names)?,
            Edit::Graft(grafts) => grafts.put_into(self),
            Edit::Job { job, .. } => self.job.clone_from(job),
            Edit::Run(run) => self.run.clone_from(run),
            Edit::Gas(gas) => self.run.gas = *gas,
            Edit::DripsInto(piece) => self.run.drips_into.clone_from(piece),
            Edit::Capillarity(counts) => self.run.capillarity = *counts,
            Edit::Measured { piece, volume_ml } => self.run.note_measured(piece, *volume_ml),
            Edit::AddStop { index, stop } => self.run.add_stop(*index, stop)?,
            Edit::SetStop { index, stop } => self.run.stop_at(*index)?.clone_from(stop),
            Edit::MoveStop { from, to } => self.run.move_stop(*from, *to)?,
            Edit::RemoveStop { index } => self.run.remove_stop(*index)?,
        }
        Ok(())
    }
}

fn stop_words(index: usize, stop: &Stop) -> String {
    match stop.name.as_str() {
        "" => format!("stop {}", index + 1),
        name => format!("stop {} ({name})", index + 1),
    }
}

/// The refusal of a change that does not fit what the piece is.
pub(super) fn unfit(piece: &str, why: &'static str) -> EditError {
    EditError::Unfit {
        piece: piece.to_owned(),
        why,
    }
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
                Edit::MirrorPieces(vec![name.clone(), key.clone()]),
                Edit::Gas(Gas::Filled { pressure_mbar: value }),
                Edit::DripsInto(Some(name.clone())),
                Edit::Capillarity(index % 2 == 0),
                Edit::Measured { piece: name.clone(), volume_ml: Some(value) },
                Edit::AddStop { index, stop: Stop { seals: vec![name.clone(), key.clone()], ..Stop::at(value, 0.0) } },
                Edit::SetStop { index, stop: Stop { name: key.clone(), wait_s: value, ..Stop::default() } },
                Edit::MoveStop { from: index, to: index / 2 },
                Edit::RemoveStop { index },
            ];
            let cutting = apparatus.cutting(std::slice::from_ref(&name));
            let graft = cutting.and_then(|cutting| apparatus.graft(&cutting, Some(key.as_str())).ok());
            let edits = edits.into_iter().chain(graft);
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
