//! Asking for a file without holding up the frame.
//!
//! The system's dialog runs in a thread of its own. Where there is none it answers at once with nothing, exactly
//! as a cancel does; an answer quicker than a hand is therefore taken as "no dialog here" and the window's own
//! dialog opens instead.

use super::plots::Form;
use super::theme;
use crate::shop::sheet::Format;
use egui::{Id, Key, Modal, RichText, ScrollArea};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::time::{Duration, Instant};

/// No hand cancels a dialog faster than this.
const QUICKEST_HAND: Duration = Duration::from_millis(300);
/// Ending of files that can be designs.
const READ: &str = "json";
/// Ending that a design gets: plain JSON for any program, and told from other JSON by its name.
pub(crate) const ENDING: &str = "vialwright.json";

/// What a file is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// To read a design from it.
    Open,
    /// To write the design to it.
    Save,
    /// To write a chart to it.
    Chart(Form),
    /// To write a sheet for the workshop to it.
    Sheet(Format),
}

impl Purpose {
    /// Ending that its files get.
    fn ending(self) -> &'static str {
        match self {
            Self::Open | Self::Save => ENDING,
            Self::Chart(form) => form.ending(),
            Self::Sheet(format) => format.name(),
        }
    }

    /// Ending of the files that are listed.
    fn listed(self) -> &'static str {
        match self {
            Self::Open | Self::Save => READ,
            Self::Chart(form) => form.ending(),
            Self::Sheet(format) => format.name(),
        }
    }

    /// What stands over the dialog.
    fn title(self) -> &'static str {
        match self {
            Self::Open => "Open a design",
            Self::Save => "Save the design",
            Self::Chart(Form::Svg) => "Save the chart as a picture",
            Self::Chart(Form::Csv) => "Save the chart as a table",
            Self::Sheet(_) => "Save the sheet",
        }
    }

    /// What its files are called.
    fn kind(self) -> &'static str {
        match self {
            Self::Open | Self::Save => "Design",
            Self::Chart(Form::Svg) => "Picture",
            Self::Chart(Form::Csv) => "Table",
            Self::Sheet(_) => "Sheet",
        }
    }
}

/// The dialogs of a window; at most one is open.
pub(crate) struct Dialogs {
    /// The system's, to be tried first.
    system: Option<rfd::FileDialog>,
    waiting: Option<Waiting>,
    own: Option<Own>,
}

struct Waiting {
    purpose: Purpose,
    folder: PathBuf,
    name: String,
    since: Instant,
    answer: Receiver<Option<PathBuf>>,
}

/// The window's own dialog.
struct Own {
    purpose: Purpose,
    folder: PathBuf,
    typed: String,
    entries: Vec<Entry>,
    message: Option<String>,
    /// The file that is there already and of which it is asked whether it may be replaced.
    replacing: Option<PathBuf>,
    fresh: bool,
}

struct Entry {
    name: String,
    is_folder: bool,
}

impl Dialogs {
    /// No dialog is open; that of the system is tried first.
    pub(crate) fn new(system: Option<rfd::FileDialog>) -> Self {
        Self {
            system,
            waiting: None,
            own: None,
        }
    }

    /// Whether a dialog is open.
    pub(crate) fn is_open(&self) -> bool {
        self.waiting.is_some() || self.own.is_some()
    }

    /// Asks for a file, starting beside `near` with its name.
    pub(crate) fn ask(&mut self, ctx: &egui::Context, purpose: Purpose, near: Option<&Path>, name: &str) {
        if self.is_open() {
            return;
        }
        let folder = near
            .and_then(Path::parent)
            .filter(|folder| !folder.as_os_str().is_empty())
            .map(Path::to_path_buf)
            .or_else(|| std::env::current_dir().ok())
            .unwrap_or_else(|| PathBuf::from("."));
        let name = near
            .and_then(Path::file_name)
            .map_or_else(|| name.to_owned(), |name| name.to_string_lossy().into_owned());
        let Some(system) = &self.system else {
            self.own = Some(Own::new(purpose, folder, &name));
            return;
        };
        let (sender, answer) = channel();
        let dialog = system
            .clone()
            .set_title(purpose.title())
            .add_filter(purpose.kind(), &[purpose.listed()])
            .set_directory(&folder);
        let dialog = if purpose == Purpose::Open {
            dialog
        } else {
            dialog.set_file_name(&name)
        };
        let ctx = ctx.clone();
        // Never joined: a system dialog that dies may leave its thread waiting for ever.
        std::thread::spawn(move || {
            let path = match purpose {
                Purpose::Open => dialog.pick_file(),
                Purpose::Save | Purpose::Chart(_) | Purpose::Sheet(_) => dialog.save_file(),
            };
            if sender.send(path).is_ok() {
                ctx.request_repaint();
            }
        });
        self.waiting = Some(Waiting {
            purpose,
            folder,
            name,
            since: Instant::now(),
            answer,
        });
    }

    /// The file that was chosen, once it has been.
    pub(crate) fn poll(&mut self, ctx: &egui::Context) -> Option<(Purpose, PathBuf)> {
        if let Some(waiting) = &self.waiting {
            let answer = match waiting.answer.try_recv() {
                Err(TryRecvError::Empty) => return None,
                Ok(answer) => answer,
                Err(TryRecvError::Disconnected) => None,
            };
            let waiting = self.waiting.take()?;
            match answer {
                Some(path) => {
                    let whole = with_ending(path.clone(), waiting.purpose);
                    if whole == path || !whole.exists() {
                        return Some((waiting.purpose, whole));
                    }
                    // The system has asked about the name without its ending; this file has not been asked about.
                    let mut own = Own::new(waiting.purpose, waiting.folder, &whole.display().to_string());
                    own.ask_to_replace(whole);
                    self.own = Some(own);
                }
                None if waiting.since.elapsed() < QUICKEST_HAND => {
                    self.own = Some(Own::new(waiting.purpose, waiting.folder, &waiting.name));
                }
                None => {}
            }
        }
        match self.own.as_mut()?.show(ctx) {
            Answer::None => None,
            Answer::Cancel => {
                self.own = None;
                None
            }
            Answer::Path(path) => self.own.take().map(|own| (own.purpose, path)),
        }
    }
}

/// A name to save under gets the ending of its kind if it has none.
fn with_ending(path: PathBuf, purpose: Purpose) -> PathBuf {
    if purpose != Purpose::Open && path.extension().is_none() {
        path.with_extension(purpose.ending())
    } else {
        path
    }
}

enum Answer {
    None,
    Cancel,
    Path(PathBuf),
}

impl Own {
    fn new(purpose: Purpose, folder: PathBuf, name: &str) -> Self {
        let typed = folder.join(if purpose == Purpose::Open { "" } else { name });
        let mut own = Self {
            purpose,
            folder,
            typed: typed.display().to_string(),
            entries: Vec::new(),
            message: None,
            replacing: None,
            fresh: true,
        };
        own.read_folder();
        own
    }

    /// Lists folders and files of the kind asked for, folders first; hidden ones are left out.
    fn read_folder(&mut self) {
        let listed = self.purpose.listed();
        let found = std::fs::read_dir(&self.folder).map(|entries| {
            entries
                .flatten()
                .map(|entry| Entry {
                    is_folder: entry.path().is_dir(),
                    name: entry.file_name().to_string_lossy().into_owned(),
                })
                .filter(|entry| !entry.name.starts_with('.'))
                .filter(|entry| entry.is_folder || Path::new(&entry.name).extension().is_some_and(|e| e == listed))
                .collect::<Vec<_>>()
        });
        match found {
            Ok(mut entries) => {
                entries.sort_by(|a, b| (!a.is_folder, &a.name).cmp(&(!b.is_folder, &b.name)));
                self.entries = entries;
                self.message = None;
            }
            Err(error) => {
                self.entries.clear();
                self.message = Some(format!("This folder can't be read: {error}"));
            }
        }
    }

    fn enter(&mut self, folder: PathBuf) {
        let name = Path::new(&self.typed)
            .file_name()
            .map(|n| n.to_string_lossy().into_owned());
        let name = name.filter(|_| self.purpose != Purpose::Open).unwrap_or_default();
        self.folder = folder;
        self.typed = self.folder.join(name).display().to_string();
        self.read_folder();
    }

    fn show(&mut self, ctx: &egui::Context) -> Answer {
        let mut answer = Answer::None;
        let verb = match self.purpose {
            Purpose::Open => "Open",
            Purpose::Save | Purpose::Chart(_) | Purpose::Sheet(_) => "Save",
        };
        let modal = Modal::new(Id::unique("path dialog"))
            .frame(theme::dialog(ctx))
            .show(ctx, |ui| {
                ui.set_width(480.0_f32.min(ui.ctx().content_rect().width() - 80.0));
                ui.heading(self.purpose.title());
                ui.add_space(6.0);
                let label = ui.label("File");
                let edit = egui::TextEdit::singleline(&mut self.typed).desired_width(f32::INFINITY);
                let response = ui.add(edit).labelled_by(label.id);
                if response.changed() {
                    self.replacing = None;
                }
                if std::mem::take(&mut self.fresh) {
                    response.request_focus();
                }
                let entered = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
                ui.add_space(6.0);
                let mut go_to = None;
                let mut taken = false;
                ScrollArea::vertical()
                    .max_height(220.0)
                    .min_scrolled_height(220.0)
                    .auto_shrink([false, true])
                    .show(ui, |ui| {
                        if let Some(parent) = self.folder.parent()
                            && ui.selectable_label(false, "↑ Folder above").clicked()
                        {
                            go_to = Some(parent.to_path_buf());
                        }
                        for entry in &self.entries {
                            let text = if entry.is_folder {
                                format!("{}/", entry.name)
                            } else {
                                entry.name.clone()
                            };
                            let response = ui.selectable_label(false, text);
                            if response.clicked() && entry.is_folder {
                                go_to = Some(self.folder.join(&entry.name));
                            } else if response.clicked() {
                                self.typed = self.folder.join(&entry.name).display().to_string();
                                self.replacing = None;
                            }
                            taken |= response.double_clicked() && !entry.is_folder;
                        }
                    });
                if let Some(folder) = go_to {
                    self.enter(folder);
                }
                if taken {
                    answer = self.take();
                }
                if let Some(message) = &self.message {
                    ui.label(RichText::new(message).color(theme::of(ui).stop));
                }
                ui.add_space(8.0);
                ui.horizontal(|ui| {
                    if let Some(path) = self.replacing.clone() {
                        if ui.button("Replace it").clicked() {
                            answer = Answer::Path(path);
                        }
                    } else if ui.button(verb).clicked() || entered {
                        answer = self.take();
                    }
                    if ui.button("Cancel").clicked() {
                        answer = Answer::Cancel;
                    }
                });
            });
        if modal.should_close() && matches!(answer, Answer::None) {
            Answer::Cancel
        } else {
            answer
        }
    }

    /// What was typed, if it will do.
    fn take(&mut self) -> Answer {
        let path = PathBuf::from(self.typed.trim());
        if path.is_dir() {
            self.enter(path);
            return Answer::None;
        }
        let path = with_ending(path, self.purpose);
        let folder_exists = path
            .parent()
            .is_some_and(|folder| folder.as_os_str().is_empty() || folder.is_dir());
        self.message = match self.purpose {
            Purpose::Open if !path.is_file() => Some("There is no such file.".into()),
            Purpose::Save | Purpose::Chart(_) | Purpose::Sheet(_) if path.file_name().is_none() => {
                Some("The file needs a name.".into())
            }
            Purpose::Save | Purpose::Chart(_) | Purpose::Sheet(_) if !folder_exists => {
                Some("There is no such folder.".into())
            }
            Purpose::Save | Purpose::Chart(_) | Purpose::Sheet(_) if path.exists() => {
                self.ask_to_replace(path);
                return Answer::None;
            }
            _ => return Answer::Path(path),
        };
        Answer::None
    }

    /// Asks whether a file that is there already may be replaced.
    fn ask_to_replace(&mut self, path: PathBuf) {
        self.message = Some("There is a file of that name. Replace it, or type another name.".into());
        self.replacing = Some(path);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_to_save_under_gets_the_ending_of_designs() {
        assert_eq!(
            with_ending("a/b".into(), Purpose::Save),
            PathBuf::from("a/b.vialwright.json")
        );
        assert_eq!(with_ending("a/b.txt".into(), Purpose::Save), PathBuf::from("a/b.txt"));
        assert_eq!(with_ending("a/b".into(), Purpose::Open), PathBuf::from("a/b"));
        let chart = Purpose::Chart(Form::Csv);
        assert_eq!(with_ending("a/b".into(), chart), PathBuf::from("a/b.csv"));
    }

    #[test]
    fn what_cannot_be_opened_or_written_is_refused() {
        let folder = tempfile::tempdir().expect("a folder");
        let missing = folder.path().join("missing.json");
        let mut own = Own::new(Purpose::Open, folder.path().to_path_buf(), "");
        own.typed = missing.display().to_string();
        assert!(matches!(own.take(), Answer::None));
        assert!(own.message.is_some());
        let mut own = Own::new(Purpose::Save, folder.path().to_path_buf(), "missing.json");
        assert!(matches!(own.take(), Answer::Path(path) if path == missing));
        own.typed = folder.path().join("no/such/folder.json").display().to_string();
        assert!(matches!(own.take(), Answer::None));
        std::fs::write(&missing, "{}").expect("a file");
        let mut own = Own::new(Purpose::Save, folder.path().to_path_buf(), "missing.json");
        assert!(matches!(own.take(), Answer::None), "it is asked first");
        assert_eq!(own.replacing, Some(missing));
    }
}
