//! What is being worked on: the document with its history, the stance, the selection. No widgets.

use super::paper::Sheet;
use crate::geom::Stance;
use crate::model::Apparatus;
use crate::units::LengthUnit;
use std::path::{Path, PathBuf};

/// One change and what came of it.
#[derive(Clone, Debug)]
struct Step {
    /// What was done, such as `Body length of vial`.
    words: String,
    /// The apparatus after it.
    after: Apparatus,
}

/// The document and its history. A change that is still under way is a preview and not yet in the history.
#[derive(Debug)]
pub struct Document {
    start: Apparatus,
    steps: Vec<Step>,
    /// Number of steps that are done; those after it can be redone.
    done: usize,
    preview: Option<Apparatus>,
    saved: Option<Apparatus>,
    path: Option<PathBuf>,
    revision: u64,
}

impl Document {
    /// A document that agrees with the file at `path`, or an example that has no file yet.
    pub fn new(apparatus: Apparatus, path: Option<PathBuf>) -> Self {
        Self {
            saved: Some(apparatus.clone()),
            start: apparatus,
            steps: Vec::new(),
            done: 0,
            preview: None,
            path,
            revision: 0,
        }
    }

    /// The apparatus as it stands, a change under way included.
    pub fn now(&self) -> &Apparatus {
        self.preview.as_ref().unwrap_or_else(|| self.settled())
    }

    /// The apparatus after the last finished change.
    pub fn settled(&self) -> &Apparatus {
        self.done
            .checked_sub(1)
            .and_then(|i| self.steps.get(i))
            .map_or(&self.start, |step| &step.after)
    }

    /// A number that grows with every change of [`Document::now`].
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// Shows a change that is still under way.
    pub fn preview(&mut self, apparatus: Apparatus) {
        if *self.now() != apparatus {
            self.preview = Some(apparatus);
            self.revision += 1;
        }
    }

    /// Whether a change is under way.
    pub fn is_previewing(&self) -> bool {
        self.preview.is_some()
    }

    /// Takes back a change that is under way.
    pub fn abandon(&mut self) {
        if self.preview.take().is_some() {
            self.revision += 1;
        }
    }

    /// Ends a change that was under way as one step.
    pub fn keep(&mut self, words: &str) {
        if let Some(apparatus) = self.preview.take() {
            self.change(words, apparatus);
        }
    }

    /// Adds a finished change to the history and drops what could have been redone. No change adds nothing.
    pub fn change(&mut self, words: &str, apparatus: Apparatus) {
        self.preview = None;
        if *self.settled() != apparatus {
            self.steps.truncate(self.done);
            self.steps.push(Step {
                words: words.to_owned(),
                after: apparatus,
            });
            self.done = self.steps.len();
        }
        self.revision += 1;
    }

    /// Puts another design on the bench as one step, so that undo brings back the one before. The file of that one
    /// is let go: saving asks for a name instead of writing over it. A design that is `kept` elsewhere, such as an
    /// example, needs no saving, unless what was on the bench before did.
    pub fn replace(&mut self, words: &str, apparatus: Apparatus, kept: bool) {
        let hides_nothing = !self.is_unsaved();
        self.change(words, apparatus);
        self.path = None;
        if kept && hides_nothing {
            self.saved = Some(self.settled().clone());
        } else if !self.is_unsaved() {
            // It happens to be what the file let go of holds; what lies below it in the history may not be.
            self.saved = None;
        }
    }

    /// Words of the step that an undo takes back.
    pub fn undo_words(&self) -> Option<&str> {
        self.done
            .checked_sub(1)
            .and_then(|i| self.steps.get(i))
            .map(|step| step.words.as_str())
    }

    /// Words of the step that a redo brings back.
    pub fn redo_words(&self) -> Option<&str> {
        self.steps.get(self.done).map(|step| step.words.as_str())
    }

    /// Takes back the last step; a change under way is dropped first.
    pub fn undo(&mut self) {
        self.abandon();
        if self.done > 0 {
            self.done -= 1;
            self.revision += 1;
        }
    }

    /// Brings back the step that was last undone.
    pub fn redo(&mut self) {
        self.abandon();
        if self.done < self.steps.len() {
            self.done += 1;
            self.revision += 1;
        }
    }

    /// Where the document is kept, if it has a file.
    pub fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// Whether the document differs from its file.
    pub fn is_unsaved(&self) -> bool {
        self.saved.as_ref() != Some(self.settled())
    }

    /// What the file holds, as far as is known; `None` when there is no such file any more, or no design in it.
    pub fn saved(&self) -> Option<&Apparatus> {
        self.saved.as_ref()
    }

    /// Notes what the file now holds that something else has written or removed.
    pub fn note_file(&mut self, holds: Option<Apparatus>) {
        self.saved = holds;
    }

    /// Notes that `apparatus` now stands in the file at `path`.
    pub fn note_saved(&mut self, apparatus: Apparatus, path: PathBuf) {
        self.saved = Some(apparatus);
        self.path = Some(path);
    }
}

/// The selected pieces, in the order in which they were chosen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Selection {
    names: Vec<String>,
}

impl Selection {
    /// The names, in the order of choice.
    pub fn names(&self) -> &[String] {
        &self.names
    }

    /// The piece whose particulars are shown: the one chosen last.
    pub fn shown(&self) -> Option<&str> {
        self.names.last().map(String::as_str)
    }

    /// Whether a piece is among them.
    pub fn contains(&self, name: &str) -> bool {
        self.names.iter().any(|chosen| chosen == name)
    }

    /// Whether nothing is selected.
    pub fn is_empty(&self) -> bool {
        self.names.is_empty()
    }

    /// Selects this piece alone.
    pub fn only(&mut self, name: &str) {
        self.names = vec![name.to_owned()];
    }

    /// Adds a piece, or takes it out if it is among them.
    pub fn toggle(&mut self, name: &str) {
        if self.contains(name) {
            self.names.retain(|chosen| chosen != name);
        } else {
            self.names.push(name.to_owned());
        }
    }

    /// Selects these pieces, each once.
    pub fn set(&mut self, names: impl IntoIterator<Item = String>) {
        self.names.clear();
        for name in names {
            if !self.contains(&name) {
                self.names.push(name);
            }
        }
    }

    /// Selects nothing.
    pub fn clear(&mut self) {
        self.names.clear();
    }
}

/// The session: document, stance and selection.
#[derive(Debug)]
pub struct Session {
    /// The document.
    pub document: Document,
    /// How the glass is held. Turning it is no change of the document.
    pub stance: Stance,
    /// What is selected.
    pub selection: Selection,
    /// The unit in which lengths are shown and, without a unit, typed.
    pub length_unit: LengthUnit,
    /// What is shown beside the glass.
    pub sheet: Sheet,
}

impl Session {
    /// A session on a fresh document, upright, with nothing selected and lengths in millimetres.
    pub fn new(document: Document) -> Self {
        Self {
            document,
            stance: Stance::default(),
            selection: Selection::default(),
            length_unit: LengthUnit::default(),
            sheet: Sheet::default(),
        }
    }

    /// Takes up another document, upright and with nothing selected.
    pub fn take_up(&mut self, document: Document) {
        self.document = document;
        self.stance = Stance::default();
        self.selection.clear();
    }

    /// Turns the glass to `tilt_deg`, taken into -180 (exclusive) to 180, to a hundredth of a degree.
    pub fn tilt_to(&mut self, tilt_deg: f64) {
        if tilt_deg.is_finite() {
            self.stance.tilt_deg = turned(tilt_deg);
        }
    }

    /// Turns the glass to just `tilt_deg`, taken into -180 (exclusive) to 180: where something happens.
    pub fn tilt_exactly(&mut self, tilt_deg: f64) {
        if tilt_deg.is_finite() {
            let turns = ((tilt_deg - 180.0) / 360.0).ceil();
            self.stance.tilt_deg = tilt_deg - 360.0 * turns;
        }
    }

    /// Rolls the glass to just `roll_deg`, kept within -90 to 90.
    pub fn roll_exactly(&mut self, roll_deg: f64) {
        if roll_deg.is_finite() {
            self.stance.roll_deg = roll_deg.clamp(-90.0, 90.0);
        }
    }

    /// Rolls the glass to `roll_deg`, kept within -90 to 90, to a hundredth of a degree.
    pub fn roll_to(&mut self, roll_deg: f64) {
        if roll_deg.is_finite() {
            self.stance.roll_deg = hundredths(roll_deg.clamp(-90.0, 90.0));
        }
    }

    /// Drops from the selection what is gone.
    pub fn check_selection(&mut self) {
        let apparatus = self.document.now();
        self.selection.names.retain(|name| apparatus.find(name).is_some());
    }
}

/// The same direction within -180 (exclusive) to 180 degrees.
fn turned(deg: f64) -> f64 {
    let within = hundredths(deg).rem_euclid(360.0);
    hundredths(if within > 180.0 { within - 360.0 } else { within })
}

/// Finer than a hand can hold, and without the tails of binary fractions.
fn hundredths(deg: f64) -> f64 {
    // Adding zero turns -0 into 0, which is shown without a sign.
    (deg * 100.0).round() / 100.0 + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn titled(title: &str) -> Apparatus {
        Apparatus {
            title: title.into(),
            ..Apparatus::default()
        }
    }

    #[test]
    fn a_gesture_is_one_step_and_undo_restores_the_start() {
        let mut document = Document::new(titled("a"), None);
        for title in ["b", "c", "d"] {
            document.preview(titled(title));
        }
        assert!(!document.is_unsaved(), "a preview is no change yet");
        document.keep("Rename");
        assert_eq!(document.now().title, "d");
        assert_eq!(document.undo_words(), Some("Rename"));
        document.undo();
        assert_eq!(*document.now(), titled("a"));
        assert_eq!(document.undo_words(), None);
        document.redo();
        assert_eq!(document.now().title, "d");
    }

    #[test]
    fn a_new_change_drops_what_could_be_redone() {
        let mut document = Document::new(titled("a"), None);
        document.change("First", titled("b"));
        document.change("Second", titled("c"));
        document.undo();
        assert_eq!(document.redo_words(), Some("Second"));
        document.change("Third", titled("d"));
        assert_eq!(document.redo_words(), None);
        document.undo();
        assert_eq!(document.now().title, "b");
    }

    #[test]
    fn the_revision_grows_with_every_visible_change() {
        let mut document = Document::new(titled("a"), None);
        let mut last = document.revision();
        let mut grown = |document: &Document| {
            let now = document.revision();
            assert!(now > last);
            last = now;
        };
        document.preview(titled("b"));
        grown(&document);
        document.abandon();
        grown(&document);
        document.change("Change", titled("c"));
        grown(&document);
        document.undo();
        grown(&document);
    }

    #[test]
    fn undoing_to_what_was_saved_is_saved() {
        let mut document = Document::new(titled("a"), None);
        document.change("Change", titled("b"));
        assert!(document.is_unsaved());
        document.note_saved(titled("b"), PathBuf::from("b.json"));
        assert!(!document.is_unsaved());
        document.undo();
        assert!(document.is_unsaved());
    }

    #[test]
    fn another_design_lets_go_of_the_file_and_undo_brings_the_old_one_back() {
        let mut document = Document::new(titled("a"), Some(PathBuf::from("a.json")));
        document.replace("Example", titled("b"), true);
        assert_eq!(document.path(), None);
        assert!(!document.is_unsaved(), "an example is kept elsewhere");
        document.undo();
        assert_eq!((document.now().title.as_str(), document.path()), ("a", None));
        document.redo();
        document.change("Change", titled("c"));
        document.replace("Example", titled("b"), true);
        assert!(document.is_unsaved(), "a change that is not saved lies below it");
        let mut document = Document::new(titled("a"), None);
        document.replace("Starter", titled("b"), false);
        assert!(document.is_unsaved());
    }

    #[test]
    fn several_pieces_can_be_selected_and_the_last_is_shown() {
        let mut selection = Selection::default();
        selection.only("a");
        selection.toggle("b");
        assert_eq!(selection.shown(), Some("b"));
        selection.toggle("b");
        assert_eq!(selection.names(), ["a"]);
        selection.set(["c", "d", "c"].map(str::to_owned));
        assert_eq!(selection.names(), ["c", "d"]);
        selection.clear();
        assert!(selection.is_empty());
    }

    #[test]
    fn tilts_are_taken_into_one_turn() {
        let mut session = Session::new(Document::new(titled("a"), None));
        for (asked, held) in [
            (190.0, -170.0),
            (-180.0, 180.0),
            (540.0, 180.0),
            (-0.001, 0.0),
            (33.333, 33.33),
        ] {
            session.tilt_to(asked);
            assert_eq!(session.stance.tilt_deg, held, "{asked}");
            assert!(session.stance.tilt_deg.is_sign_positive() == (held >= 0.0));
        }
        for (asked, held) in [(12.345_678, 12.345_678), (-180.0, 180.0), (200.0, -160.0)] {
            session.tilt_exactly(asked);
            assert_eq!(session.stance.tilt_deg, held, "{asked}");
        }
        session.tilt_to(33.33);
        session.tilt_to(f64::NAN);
        assert_eq!(session.stance.tilt_deg, 33.33);
        session.roll_to(-120.0);
        assert_eq!(session.stance.roll_deg, -90.0);
    }
}
