//! What the window asks about the document and its file, and what follows from the answers.

use super::desk::Next;
use super::question;
use super::restore::{self, Choice, Offer};
use super::{Command, Window, theme};
use crate::model::Apparatus;
use egui::{Align2, Id, LayerId, Order, Stroke, StrokeKind};
use std::path::Path;
use std::time::SystemTime;

/// What is being asked.
pub(super) enum Question {
    /// Something unsaved would be lost.
    Unsaved(Next),
    /// The file was changed by something else: what it now holds, or why that can't be told.
    Changed(Result<Apparatus, String>),
    /// Saving would replace such a change.
    Replace(Result<Apparatus, String>),
}

impl Window {
    /// Shows what is asked or offered, and does what is answered.
    pub(super) fn show_desk(&mut self, ctx: &egui::Context) {
        match self.desk.question.take() {
            Some(Question::Unsaved(next)) => self.ask_unsaved(ctx, next),
            Some(Question::Changed(theirs)) => self.ask_changed(ctx, theirs),
            Some(Question::Replace(theirs)) => self.ask_replace(ctx, theirs),
            None => self.show_offer(ctx),
        }
        show_hovering(ctx);
    }

    fn ask_unsaved(&mut self, ctx: &egui::Context, next: Next) {
        #[derive(Clone)]
        enum Answer {
            Save,
            Drop,
            Cancel,
        }
        let words = match &next {
            Next::Close => "Save them before closing?",
            Next::New => "Save them before the bench is cleared?",
            Next::Open { .. } | Next::Restore(_) => "Save them before another is opened?",
        };
        let heading = "The design has changes that are not saved";
        let answers = [
            ("Save", Answer::Save),
            ("Drop the changes", Answer::Drop),
            ("Cancel", Answer::Cancel),
        ];
        match question::ask(ctx, heading, words, &answers, Answer::Cancel) {
            Some(Answer::Save) => {
                self.desk.after_save = Some(next);
                self.carry_out(ctx, Command::Save);
            }
            Some(Answer::Drop) => self.proceed(ctx, next),
            Some(Answer::Cancel) => {}
            None => self.desk.question = Some(Question::Unsaved(next)),
        }
    }

    fn ask_changed(&mut self, ctx: &egui::Context, theirs: Result<Apparatus, String>) {
        let heading = "The file was changed by another program";
        let path = self.shown_path();
        let (words, answers): (String, &[(&str, bool)]) = match &theirs {
            Ok(_) => (
                format!("{path}\nReloading is a step that can be undone."),
                &[("Keep mine", false), ("Reload", true)],
            ),
            Err(reason) => (format!("It can't be read now. {reason}"), &[("Keep mine", false)]),
        };
        match (question::ask(ctx, heading, &words, answers, false), theirs) {
            (Some(true), Ok(theirs)) => self.reload(theirs),
            (Some(_), theirs) => self.note_their_file(theirs.ok()),
            (None, theirs) => self.desk.question = Some(Question::Changed(theirs)),
        }
    }

    fn ask_replace(&mut self, ctx: &egui::Context, theirs: Result<Apparatus, String>) {
        #[derive(Clone)]
        enum Answer {
            Cancel,
            SaveAs,
            Reload,
            Replace,
        }
        let heading = "The file was changed by another program";
        let path = self.shown_path();
        let words = match &theirs {
            Ok(_) => format!("{path}\nSaving would put your design in its place; what is there now would be lost."),
            Err(reason) => format!("It can't be read now: {reason}\nSaving would replace what is there."),
        };
        let mut answers = vec![("Cancel", Answer::Cancel), ("Save as…", Answer::SaveAs)];
        if theirs.is_ok() {
            answers.push(("Reload", Answer::Reload));
        }
        answers.push(("Replace it", Answer::Replace));
        match (question::ask(ctx, heading, &words, &answers, Answer::Cancel), theirs) {
            (Some(Answer::SaveAs), _) => self.ask_where_to_save(ctx),
            (Some(Answer::Replace), _) => {
                if let Some(path) = self.session.document.path().map(Path::to_path_buf) {
                    self.write(ctx, path);
                }
            }
            (Some(Answer::Reload), Ok(theirs)) => self.reload(theirs),
            (Some(_), _) => {}
            (None, theirs) => self.desk.question = Some(Question::Replace(theirs)),
        }
    }

    fn show_offer(&mut self, ctx: &egui::Context) {
        let Some(offer) = &mut self.desk.offer else { return };
        let Some(choice) = restore::show(ctx, offer, &self.desk.left, SystemTime::now()) else {
            return;
        };
        match choice {
            Choice::Later => {
                self.desk.offer = None;
                self.say("Kept for later: File, Unsaved work…".to_owned());
            }
            Choice::Restore(number) => {
                self.desk.offer = None;
                self.lead_to(ctx, Next::Restore(number));
            }
            Choice::OpenSaved(path) => {
                self.desk.offer = None;
                self.lead_to(ctx, Next::Open { path, beside: 0 });
            }
            Choice::Discard(number) => {
                if number < self.desk.left.len()
                    && let Err(error) = self.desk.left.remove(number).discard()
                {
                    self.refuse(error.to_string());
                }
                self.desk.offer = (!self.desk.left.is_empty()).then(Offer::default);
            }
        }
    }
}

/// Says over the window what dropping would do, while files hover over it.
fn show_hovering(ctx: &egui::Context) {
    let (count, name) = ctx.input(|input| {
        let first = input.raw.hovered_files.first();
        let name = first.and_then(|file| file.path.as_deref()?.file_name());
        let name = name.map(|name| name.to_string_lossy().into_owned());
        (input.raw.hovered_files.len(), name)
    });
    if count == 0 {
        return;
    }
    let words = match name {
        Some(name) if count == 1 => format!("Drop to open {name}"),
        Some(name) => format!("Drop to open {name}, the first of {count} files"),
        None => "Drop to open".to_owned(),
    };
    let colours = theme::palette(ctx.theme());
    let painter = ctx.layer_painter(LayerId::new(Order::Foreground, Id::unique("hovering files")));
    let rect = ctx.content_rect().shrink(6.0);
    painter.rect(
        rect,
        8.0,
        colours.panel.gamma_multiply(0.85),
        Stroke::new(2.0, colours.accent),
        StrokeKind::Inside,
    );
    painter.text(
        rect.center(),
        Align2::CENTER_CENTER,
        words,
        theme::heavy(16.0),
        colours.text,
    );
}
