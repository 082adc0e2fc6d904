//! The document and its file: opening, saving, and never losing anything.
//!
//! Before work would be lost the user is asked. Unsaved work is handed to the [`Keeper`] with every change, and what
//! another run left behind is offered. A file that something else has changed is noticed when the window gets the
//! focus and when it is saved; in between nothing is looked at.

use super::dialogs::{Dialogs, ENDING, Purpose};
use super::doubts::Question;
use super::keeper::{self, Keeper, Report, Work};
use super::plots::Export;
use super::restore::Offer;
use super::session::Document;
use super::settings::Settings;
use super::sheets::Written;
use super::{Command, Opening, Window};
use crate::files::recovery::{Left, Store};
use crate::files::{self, FilesError, Stamp};
use crate::model::{Apparatus, file};
use std::path::{Path, PathBuf};

/// What comes after an answer or a save.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Next {
    /// Close the window.
    Close,
    /// Clear the bench.
    New,
    /// Open another design.
    Open {
        /// Its file.
        path: PathBuf,
        /// How many further files were dropped with it.
        beside: usize,
    },
    /// Take up work that was left behind, by its number.
    Restore(usize),
}

/// What has become of the document's file.
enum Fate {
    /// It is as it was last read or written, or there is none.
    Same,
    /// It is gone.
    Gone,
    /// It holds something else now, or nothing that can be read.
    Changed(Box<Result<Apparatus, String>>),
}

/// What belongs to the document's file and to what is remembered.
pub(super) struct Desk {
    dialogs: Dialogs,
    pub(super) question: Option<Question>,
    /// What to do once a save that was asked for is done.
    pub(super) after_save: Option<Next>,
    /// Closing is agreed.
    may_close: bool,
    /// The file as it was last read or written; `None` when that is not known.
    seen: Option<Stamp>,
    keeper: Keeper,
    /// The revision of which the keeper knows.
    known: Option<u64>,
    /// Whether the keeper has something unsaved.
    keeps: bool,
    /// A chart for which a file is being chosen.
    export: Option<Export>,
    /// A sheet for which a file is being chosen.
    sheet: Option<Written>,
    pub(super) left: Vec<Left>,
    pub(super) offer: Option<Offer>,
    settings: Settings,
}

impl Desk {
    /// The desk of a window that starts, and what there is to say of it.
    pub(super) fn new(ctx: &egui::Context, opening: &Opening) -> (Self, Option<String>) {
        let folder = opening.data_folder.as_deref();
        let settings = folder
            .and_then(|folder| files::read_text(&keeper::settings_file(folder)).ok())
            .map_or_else(Settings::default, |text| Settings::read(&text));
        let (left, complaint) = folder.map_or_else(Default::default, left_behind);
        let desk = Self {
            dialogs: Dialogs::new(opening.system_dialog.clone()),
            question: None,
            after_save: None,
            may_close: false,
            seen: opening.path.as_deref().and_then(files::stamp),
            keeper: Keeper::new(ctx, opening.data_folder.clone()),
            known: None,
            keeps: false,
            export: None,
            sheet: None,
            offer: (!left.is_empty()).then(Offer::default),
            left,
            settings,
        };
        (desk, complaint)
    }

    /// What is remembered.
    pub(super) fn settings(&self) -> &Settings {
        &self.settings
    }

    /// Remembers something, here and for the next run.
    pub(super) fn remember(&mut self, change: impl Fn(&mut Settings) + Send + 'static) {
        change(&mut self.settings);
        self.keeper.change_settings(change);
    }

    /// Whether a dialog of the desk stands over the window.
    pub(super) fn is_asking(&self) -> bool {
        self.question.is_some() || self.dialogs.is_open() || self.offer.is_some()
    }
}

/// Work of earlier runs, and what can't be read of it.
fn left_behind(data: &Path) -> (Vec<Left>, Option<String>) {
    let found = Store::new(keeper::store_folder(data)).scan();
    let mut unread = found.unread;
    let mut left = Vec::new();
    for one in found.left {
        match file::read(&one.record.text) {
            Ok(_) => left.push(one),
            Err(error) => unread.push((one.put_aside(), error.to_string())),
        }
    }
    let complaint = unread.first().map(|(path, reason)| {
        let more = match unread.len() {
            1 => String::new(),
            n => format!(" (and {} more beside it)", n - 1),
        };
        format!(
            "Unsaved work can't be read and is kept as {}{more}: {reason}",
            path.display()
        )
    });
    (left, complaint)
}

impl Window {
    /// Remembers the file with which the window started.
    pub(super) fn note_opened(&mut self) {
        if let Some(path) = self.session.document.path().map(Path::to_path_buf) {
            self.desk.remember(move |settings| settings.note_recent(&path));
        }
    }

    /// Takes what came from outside since the last frame: answers of dialogs, files, the wish to close.
    pub(super) fn take_desk_events(&mut self, ctx: &egui::Context) {
        for report in self.desk.keeper.reports() {
            match report {
                Report::Refused(text) => self.refuse(text),
                Report::KeptAgain => self.say("Unsaved work is kept in case of a crash again".to_owned()),
            }
        }
        match self.desk.dialogs.poll(ctx) {
            Some((Purpose::Open, path)) => self.lead_to(ctx, Next::Open { path, beside: 0 }),
            Some((Purpose::Save, path)) => self.save(ctx, path),
            Some((Purpose::Chart(_), path)) => self.save_chart(&path),
            Some((Purpose::Sheet(_), path)) => self.save_sheet(&path),
            None if !self.desk.dialogs.is_open() && self.desk.question.is_none() => self.desk.after_save = None,
            None => {}
        }
        self.take_dropped(ctx);
        let (close, focused) = ctx.input(|input| {
            let focused = |event: &egui::Event| matches!(event, egui::Event::WindowFocused(true));
            (input.viewport().close_requested(), input.raw.events.iter().any(focused))
        });
        if focused && !self.desk.is_asking() {
            self.notice_foreign_change();
        }
        if close && !self.desk.may_close && self.session.document.is_unsaved() {
            ctx.send_viewport_cmd(egui::ViewportCommand::CancelClose);
            self.desk.question = Some(Question::Unsaved(Next::Close));
        } else if close {
            // Nothing is unsaved, or the user has given it up.
            self.desk.keeper.clear();
        }
    }

    /// Files that were dropped on the window: the first is opened.
    fn take_dropped(&mut self, ctx: &egui::Context) {
        let dropped: Vec<PathBuf> = ctx.input(|input| {
            let files = input.raw.dropped_files.iter();
            files.map(|file| file.path().to_owned()).collect()
        });
        let Some((first, others)) = dropped.split_first() else {
            return;
        };
        if self.desk.is_asking() {
            self.refuse("Answer the question first, then drop the file again".to_owned());
            return;
        }
        let next = Next::Open {
            path: first.clone(),
            beside: others.len(),
        };
        self.lead_to(ctx, next);
    }

    /// Carries out the commands that concern files.
    pub(super) fn carry_out_at_desk(&mut self, ctx: &egui::Context, command: Command) {
        match command {
            Command::New => self.lead_to(ctx, Next::New),
            Command::Open => {
                let near = self.session.document.path().map(Path::to_path_buf);
                self.desk.dialogs.ask(ctx, Purpose::Open, near.as_deref(), "");
            }
            Command::Save => match self.session.document.path().map(Path::to_path_buf) {
                Some(path) => self.save(ctx, path),
                None => self.ask_where_to_save(ctx),
            },
            Command::SaveAs => self.ask_where_to_save(ctx),
            Command::UnsavedWork if self.desk.left.is_empty() => {
                self.say("No unsaved work of an earlier run is kept".to_owned());
            }
            Command::UnsavedWork => self.desk.offer = Some(Offer::default()),
            Command::ForgetRecent => self.desk.remember(|settings| settings.recent.clear()),
            Command::Quit => ctx.send_viewport_cmd(egui::ViewportCommand::Close),
            _ => {}
        }
    }

    /// Opens a file that was chosen from the recent ones.
    pub(super) fn open_recent(&mut self, ctx: &egui::Context, path: PathBuf) {
        self.lead_to(ctx, Next::Open { path, beside: 0 });
    }

    /// Does what was asked; if something unsaved would be lost, asks first.
    pub(super) fn lead_to(&mut self, ctx: &egui::Context, next: Next) {
        if self.session.document.is_unsaved() {
            self.desk.question = Some(Question::Unsaved(next));
        } else {
            self.proceed(ctx, next);
        }
    }

    /// Does what was asked, whether or not something is unsaved.
    pub(super) fn proceed(&mut self, ctx: &egui::Context, next: Next) {
        match next {
            Next::Close => {
                self.desk.may_close = true;
                ctx.send_viewport_cmd(egui::ViewportCommand::Close);
            }
            Next::New => self.take_up(Document::new(Apparatus::default(), None), None),
            Next::Open { path, beside } => self.open(&path, beside),
            Next::Restore(number) => self.restore(number),
        }
    }

    /// Puts another document on the bench.
    fn take_up(&mut self, document: Document, seen: Option<Stamp>) {
        self.session.take_up(document);
        self.desk.seen = seen;
        self.desk.known = None;
        self.scene = None;
        self.basis = None;
        self.shelf.forget();
        self.run.forget();
        self.notice = None;
        self.bench.fit();
    }

    fn open(&mut self, path: &Path, beside: usize) {
        // Before reading: a change that comes between is then noticed later.
        let seen = files::stamp(path);
        match read_design(path) {
            Ok(document) => {
                self.take_up(document, seen);
                if beside > 0 {
                    let files = if beside == 1 { "file" } else { "files" };
                    let path = self.shown_path();
                    self.say(format!(
                        "Opened {path}; {beside} more {files} dropped with it stayed closed"
                    ));
                }
                self.note_opened();
            }
            Err(message) => self.refuse(message),
        }
    }

    pub(super) fn ask_where_to_save(&mut self, ctx: &egui::Context) {
        let near = self.session.document.path().map(Path::to_path_buf);
        let name = file_name_for(&self.session.document.settled().title, ENDING);
        self.desk.dialogs.ask(ctx, Purpose::Save, near.as_deref(), &name);
    }

    /// Asks where to write a chart.
    pub(super) fn ask_where_to_save_chart(&mut self, ctx: &egui::Context, export: Export) {
        let folder = self.session.document.path().and_then(Path::parent);
        let name = file_name_for(&export.chart.title, export.form.ending());
        let near = folder.map(|folder| folder.join(&name));
        let purpose = Purpose::Chart(export.form);
        self.desk.dialogs.ask(ctx, purpose, near.as_deref(), &name);
        self.desk.export = Some(export);
    }

    /// Asks where to write a sheet.
    pub(super) fn ask_where_to_save_sheet(&mut self, ctx: &egui::Context, written: Written) {
        let folder = self.session.document.path().and_then(Path::parent);
        let name = file_name_for(&written.title, written.format.name());
        let near = folder.map(|folder| folder.join(&name));
        let purpose = Purpose::Sheet(written.format);
        self.desk.dialogs.ask(ctx, purpose, near.as_deref(), &name);
        self.desk.sheet = Some(written);
    }

    fn save_sheet(&mut self, path: &Path) {
        let Some(written) = self.desk.sheet.take() else {
            return;
        };
        match files::write_whole(path, &written.bytes) {
            Ok(()) => self.say(format!("Sheet saved as {}", path.display())),
            Err(error) => self.refuse(format!("Sheet not saved: {error}")),
        }
    }

    fn save_chart(&mut self, path: &Path) {
        let Some(export) = self.desk.export.take() else {
            return;
        };
        let text = export.text().map_err(|error| error.to_string());
        let written =
            text.and_then(|text| files::write_whole(path, text.as_bytes()).map_err(|error| error.to_string()));
        match written {
            Ok(()) => self.say(format!("Chart saved as {}", path.display())),
            Err(error) => self.refuse(format!("Chart not saved: {error}")),
        }
    }

    /// Saves, unless that would replace what something else has written into the document's own file: then asks.
    fn save(&mut self, ctx: &egui::Context, path: PathBuf) {
        let path = std::path::absolute(&path).unwrap_or(path);
        let is_own = self.session.document.path() == Some(path.as_path());
        match self.fate_of_file() {
            Fate::Changed(theirs) if is_own => self.desk.question = Some(Question::Replace(*theirs)),
            _ => self.write(ctx, path),
        }
    }

    pub(super) fn write(&mut self, ctx: &egui::Context, path: PathBuf) {
        let apparatus = self.session.document.settled().clone();
        match write_design(&path, &apparatus) {
            Ok(()) => {
                self.say(format!("Saved as {}", path.display()));
                self.desk.seen = files::stamp(&path);
                self.desk.known = None;
                let saved = path.clone();
                self.session.document.note_saved(apparatus, path);
                self.desk.remember(move |settings| settings.note_recent(&saved));
                if let Some(next) = self.desk.after_save.take() {
                    self.proceed(ctx, next);
                }
            }
            Err(error) => {
                self.desk.after_save = None;
                self.refuse(format!("Not saved: {error}"));
            }
        }
    }

    /// Compares the file with what was last read or written. Its content counts: a file that was touched or
    /// written anew in other words is the same.
    fn fate_of_file(&mut self) -> Fate {
        let document = &self.session.document;
        let Some(path) = document.path() else {
            return Fate::Same;
        };
        let now = files::stamp(path);
        if now.is_none() {
            return Fate::Gone;
        }
        if now == self.desk.seen {
            return Fate::Same;
        }
        match read_design(path) {
            Ok(theirs) if document.saved() == Some(theirs.settled()) => {
                self.desk.seen = now;
                Fate::Same
            }
            theirs => Fate::Changed(Box::new(theirs.map(|document| document.settled().clone()))),
        }
    }

    /// Looks whether something else has changed the file, and asks what to do.
    fn notice_foreign_change(&mut self) {
        match self.fate_of_file() {
            Fate::Changed(theirs) => self.desk.question = Some(Question::Changed(*theirs)),
            Fate::Gone if self.session.document.saved().is_some() => {
                self.session.document.note_file(None);
                self.desk.known = None;
                self.refuse(format!("{} is gone; saving writes it anew", self.shown_path()));
            }
            Fate::Gone | Fate::Same => {}
        }
    }

    pub(super) fn shown_path(&self) -> String {
        let path = self.session.document.path();
        path.map(|path| path.display().to_string()).unwrap_or_default()
    }

    /// Takes what the file now holds as a step that can be undone.
    pub(super) fn reload(&mut self, theirs: Apparatus) {
        self.note_their_file(Some(theirs.clone()));
        self.session.document.change("Reload the changed file", theirs);
        self.session.check_selection();
    }

    /// From now on the file counts as known as it stands.
    pub(super) fn note_their_file(&mut self, theirs: Option<Apparatus>) {
        self.desk.seen = self.session.document.path().and_then(files::stamp);
        self.desk.known = None;
        self.session.document.note_file(theirs);
    }

    /// Takes up work that was left behind; the step before it is the design as it was saved.
    fn restore(&mut self, number: usize) {
        if number >= self.desk.left.len() {
            return;
        }
        let left = self.desk.left.remove(number);
        let design = match file::read(&left.record.text) {
            Ok(design) => design,
            Err(error) => return self.refuse(error.to_string()),
        };
        let as_saved = left.record.as_saved.as_deref().and_then(|text| file::read(text).ok());
        let path = left.record.path.clone();
        let document = match as_saved {
            Some(as_saved) => {
                let mut document = Document::new(as_saved, path);
                document.change("Restore unsaved work", design);
                document
            }
            None => {
                let mut document = Document::new(design, path);
                document.note_file(None);
                document
            }
        };
        self.take_up(document, None);
        self.keep_unsaved();
        self.desk.keeper.replace(left);
        self.say(match self.desk.left.len() {
            0 => "Restored; not saved yet".to_owned(),
            1 => "Restored; not saved yet. One more is kept: File, Unsaved work…".to_owned(),
            n => format!("Restored; not saved yet. {n} more are kept: File, Unsaved work…"),
        });
        if self.session.document.path().is_some() {
            self.notice_foreign_change();
        }
    }

    /// Tells the keeper of what has changed since the last frame.
    pub(super) fn keep_unsaved(&mut self) {
        let document = &self.session.document;
        if self.desk.may_close || self.desk.known == Some(document.revision()) {
            return;
        }
        self.desk.known = Some(document.revision());
        if document.saved() == Some(document.now()) {
            if std::mem::take(&mut self.desk.keeps) {
                self.desk.keeper.clear();
            }
            return;
        }
        self.desk.keeps = true;
        self.desk.keeper.keep(Work {
            design: document.now().clone(),
            as_saved: document.saved().cloned(),
            path: document.path().map(Path::to_path_buf),
            last_step: document.undo_words().map(str::to_owned),
        });
    }
}

/// Reads a design; the message of a refusal names the file and the place in it.
pub(super) fn read_design(path: &Path) -> Result<Document, String> {
    let text = files::read_text(path).map_err(|error| error.to_string())?;
    match file::read(&text) {
        Ok(apparatus) => {
            let path = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
            Ok(Document::new(apparatus, Some(path)))
        }
        Err(error) => Err(format!("{}: {error}", path.display())),
    }
}

fn write_design(path: &Path, apparatus: &Apparatus) -> Result<(), FilesError> {
    files::write_whole(path, file::write(apparatus).as_bytes())
}

/// A file name made from a title: letters and figures kept, anything else a hyphen.
fn file_name_for(title: &str, ending: &str) -> String {
    let plain: String = title
        .chars()
        .map(|c| {
            if c.is_alphanumeric() {
                c.to_ascii_lowercase()
            } else {
                '-'
            }
        })
        .collect();
    let words: Vec<_> = plain.split('-').filter(|word| !word.is_empty()).collect();
    let name = if words.is_empty() {
        "apparatus".to_owned()
    } else {
        words.join("-")
    };
    format!("{name}.{ending}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_title_becomes_a_file_name() {
        assert_eq!(
            file_name_for("Rubidium, six ampoules", ENDING),
            "rubidium-six-ampoules.vialwright.json"
        );
        assert_eq!(file_name_for("../..", ENDING), "apparatus.vialwright.json");
    }
}
