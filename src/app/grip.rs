//! A pull that is under way: on a piece itself, or on one of its handles. It is a preview until it is let go, and
//! then one step of the history.

use super::handles::{Handle, Measure, refusal};
use super::session::Session;
use super::shift;
use super::snap::Snap;
use crate::model::place::{Placed, Point};
use crate::model::{Apparatus, Seat};

/// What is held.
pub(crate) enum Grip {
    /// The selected pieces, by one of them.
    Pieces {
        /// The one under the pointer.
        lead: String,
        /// Where it was taken hold of, mm.
        from: Point,
        /// The pieces as they stood then.
        placed: Placed,
        /// What is told in the history.
        words: Option<String>,
    },
    /// A handle.
    Handle {
        /// The handle as it was then.
        handle: Box<Handle>,
        /// Where it was taken hold of, mm.
        from: Point,
        /// What is told in the history.
        words: Option<String>,
    },
    /// Given up, with the button still pressed.
    GivenUp,
}

impl Grip {
    /// Takes hold of the selection by the piece `lead`.
    pub(crate) fn pieces(session: &Session, lead: &str, from: Point) -> Option<Self> {
        let placed = session.document.settled().place().ok()?;
        Some(Self::Pieces {
            lead: lead.to_owned(),
            from,
            placed,
            words: None,
        })
    }

    /// Takes hold of a handle.
    pub(crate) fn handle(handle: &Handle, from: Point) -> Self {
        Self::Handle {
            handle: Box::new(handle.clone()),
            from,
            words: None,
        }
    }

    /// Follows the pointer: the document shows what the pull has come to. Gives the reason when it can't be done.
    pub(crate) fn pull(&mut self, session: &mut Session, to: Point, snap: Snap) -> Result<(), String> {
        match self {
            Self::Pieces {
                lead,
                from,
                placed,
                words,
            } => {
                let names = session.selection.names();
                let moved = shift::dragged(
                    session.document.settled(),
                    placed,
                    names,
                    lead,
                    (*from, to),
                    (snap, session.length_unit),
                )
                .map_err(|error| error.words(session.length_unit))?;
                session.document.preview(moved.next);
                *words = Some(moved.words);
            }
            Self::Handle { handle, from, words } => {
                let settled = session.document.settled();
                let Some(start) = handle.measure.read(settled) else {
                    return Ok(());
                };
                let (edits, value) = handle.pulled(&start, (*from, to), snap, settled);
                let next = settled
                    .apply_all(&edits)
                    .map_err(|error| refusal(&error, session.length_unit))?;
                *words = Some(handle.measure.words(&next, value, session.length_unit));
                session.document.preview(next);
            }
            Self::GivenUp => {}
        }
        Ok(())
    }

    /// Lets go: what has been pulled becomes one step.
    pub(crate) fn let_go(self, session: &mut Session) {
        if let Self::Pieces { words: Some(words), .. } | Self::Handle { words: Some(words), .. } = self {
            session.document.keep(&words);
        }
    }

    /// The numbers that the pull changes.
    pub(crate) fn measures(&self, apparatus: &Apparatus) -> Vec<Measure> {
        match self {
            Self::Pieces { lead, .. } => places_of(apparatus, lead),
            Self::Handle { handle, .. } => handle.measures().cloned().collect(),
            Self::GivenUp => Vec::new(),
        }
    }
}

/// The numbers that say where a piece stands.
fn places_of(apparatus: &Apparatus, name: &str) -> Vec<Measure> {
    let Ok(owner) = apparatus.owner(name) else {
        return Vec::new();
    };
    let keys: &[&str] = match apparatus.piece(&owner).map(|piece| &piece.seat) {
        Some(Seat::Free { .. }) => &["seat.x_mm", "seat.y_mm"],
        Some(Seat::On(_)) => &["seat.at_mm"],
        Some(Seat::Between { .. }) => &[],
        None => &["first.at_mm"],
    };
    let measure = |key: &&str| Measure {
        owner: owner.clone(),
        key: (*key).to_owned(),
    };
    keys.iter().map(measure).collect()
}
