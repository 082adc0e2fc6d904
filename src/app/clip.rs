//! Copying and pasting: within the program the pieces themselves, on the system's clipboard a design that stands by
//! itself.

use super::session::Session;
use crate::model::cutting::Cutting;
use crate::model::{Edit, file};

/// What was copied last.
pub(crate) struct Clip {
    cutting: Cutting,
    /// The same as it was written to the clipboard.
    text: String,
}

impl Clip {
    /// How many pieces it has.
    pub(crate) fn count(&self) -> usize {
        self.cutting.count()
    }
}

/// Copies the selection; the text is for the clipboard.
pub(crate) fn copy(session: &Session) -> Option<(Clip, String)> {
    let cutting = session.document.now().cutting(session.selection.names())?;
    let text = file::write(&cutting.design());
    Some((
        Clip {
            cutting,
            text: text.clone(),
        },
        text,
    ))
}

/// Puts in what is on the clipboard, or where the clipboard could not be read, what was copied last: on the selected
/// piece, or beside the original. The copies are selected.
pub(crate) fn paste(session: &mut Session, clip: Option<&Clip>, text: Option<&str>) -> Result<(), String> {
    let own = clip.filter(|clip| text.is_none_or(|text| text == clip.text));
    let cutting = match (own, text) {
        (Some(clip), _) => clip.cutting.clone(),
        (None, Some(text)) => from_text(text)?,
        (None, None) => return Err("Nothing has been copied yet.".to_owned()),
    };
    // The original that is still selected is no host of its copy.
    let onto = match session.selection.names() {
        [host] if !own.is_some_and(|clip| clip.cutting.holds(host)) => Some(host.clone()),
        _ => None,
    };
    put(session, &cutting, onto.as_deref())
}

/// Puts in a copy of the selection beside it.
pub(crate) fn duplicate(session: &mut Session) -> Result<(), String> {
    match session.document.settled().cutting(session.selection.names()) {
        Some(cutting) => put(session, &cutting, None),
        None => Err("Select the pieces to duplicate first.".to_owned()),
    }
}

/// A design from the clipboard.
fn from_text(text: &str) -> Result<Cutting, String> {
    let design = file::read(text).map_err(|_| "The clipboard holds no pieces and no design.".to_owned())?;
    Cutting::of(&design).ok_or_else(|| "The design on the clipboard has no pieces.".to_owned())
}

fn put(session: &mut Session, cutting: &Cutting, onto: Option<&str>) -> Result<(), String> {
    let settled = session.document.settled();
    let put = || {
        let edit = settled.graft(cutting, onto)?;
        let next = settled.apply(&edit)?;
        Ok((edit, next))
    };
    let (edit, next) = put().map_err(|error| super::handles::refusal(&error, session.length_unit))?;
    session.document.change(&edit.words(), next);
    if let Edit::Graft(grafts) = edit {
        session.selection.set(grafts.roots().iter().cloned());
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::session::Document;
    use super::*;
    use crate::model::sample;

    fn session(chosen: &str) -> Session {
        let mut session = Session::new(Document::new(sample::apparatus(), None));
        session.selection.only(chosen);
        session
    }

    #[test]
    fn what_was_copied_here_keeps_more_than_its_text_says() {
        let mut session = session("vial-1");
        session.selection.set(["vial-1", "vial-2", "vial-3"].map(str::to_owned));
        let (clip, text) = copy(&session).unwrap();
        session.selection.clear();
        paste(&mut session, Some(&clip), Some(&text)).unwrap();
        assert_eq!(session.document.now().rows.len(), 2, "the row is a row again");
        assert_eq!(session.selection.names(), ["vial-b-1", "vial-b-2", "vial-b-3"]);
        assert_eq!(session.document.undo_words(), Some("Paste vial-b"));
        session.document.undo();
        assert_eq!(*session.document.now(), sample::apparatus());
    }

    #[test]
    fn text_of_another_window_is_read_and_other_text_refused() {
        let (_, text) = copy(&session("pot")).unwrap();
        let mut other = session("header");
        paste(&mut other, None, Some(&text)).unwrap();
        assert!(other.document.now().piece("pot-2").is_some());
        let before = other.document.now().clone();
        for (clip, text) in [(None, Some("a shopping list")), (None, None)] {
            assert!(paste(&mut other, clip, text).is_err());
        }
        assert_eq!(*other.document.now(), before);
    }

    #[test]
    fn a_duplicate_stands_beside() {
        let mut session = session("pot");
        duplicate(&mut session).unwrap();
        assert_eq!(session.selection.names(), ["pot-2"]);
        session.selection.clear();
        assert!(duplicate(&mut session).is_err());
    }
}
