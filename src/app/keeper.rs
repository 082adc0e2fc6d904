//! What must outlive the window, written off the frame: unsaved work and settings.
//!
//! One thread does the writing. Unsaved work is written a moment after the last change, and during a long gesture now
//! and then; of several states the newest wins. What could not be written is tried again, and the window is told.

use super::settings::Settings;
use crate::files::recovery::{Left, Record, Slot, Store};
use crate::files::{self, FilesError};
use crate::model::{Apparatus, file};
use std::path::PathBuf;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant, SystemTime};

/// Quiet after a change before the work is written.
const SETTLED: Duration = Duration::from_millis(600);
/// Longest time that changes go on without being written.
const AT_LATEST: Duration = Duration::from_secs(2);
/// Time after which a failed writing is tried again.
const AGAIN: Duration = Duration::from_secs(10);
/// Longest time that the closing window waits for the disk.
const PATIENCE: Duration = Duration::from_secs(2);

/// Unsaved work as the window has it.
pub(crate) struct Work {
    /// The apparatus, a change under way included.
    pub design: Apparatus,
    /// What its file holds.
    pub as_saved: Option<Apparatus>,
    /// Its file.
    pub path: Option<PathBuf>,
    /// The last step in words.
    pub last_step: Option<String>,
}

/// What the window is told.
#[derive(Debug, PartialEq)]
pub(crate) enum Report {
    /// Something could not be written: what and why.
    Refused(String),
    /// Unsaved work could be kept again after it could not.
    KeptAgain,
}

enum Job {
    Keep(Box<Work>),
    /// Remove what was left behind as soon as its successor is kept, which is written at once.
    Replace(Left),
    Clear,
    Change(Box<dyn Fn(&mut Settings) + Send>),
}

/// The way to the thread. Dropped, it has the work written that is still due, and leaves it in place.
pub(crate) struct Keeper {
    jobs: Option<Sender<Job>>,
    reports: Receiver<Report>,
    ended: Receiver<()>,
}

impl Keeper {
    /// Starts the thread for a folder; without one nothing is kept.
    pub(crate) fn new(ctx: &egui::Context, folder: Option<PathBuf>) -> Self {
        let (jobs, inbox) = channel();
        let (outbox, reports) = channel();
        let (end, ended) = channel::<()>();
        let ctx = ctx.clone();
        let thread = folder.and_then(|folder| {
            let mut clerk = Clerk {
                store: Store::new(store_folder(&folder)),
                settings: settings_file(&folder),
                slot: None,
                due: None,
                replaced: Vec::new(),
                failed: false,
                report: Box::new(move |report| {
                    if outbox.send(report).is_ok() {
                        ctx.request_repaint();
                    }
                }),
            };
            let name = std::thread::Builder::new().name("keeper".into());
            name.spawn(move || {
                clerk.run(&inbox);
                drop(end);
            })
            .ok()
        });
        Self {
            jobs: thread.map(|_| jobs),
            reports,
            ended,
        }
    }

    /// Has unsaved work written before long.
    pub(crate) fn keep(&self, work: Work) {
        self.send(Job::Keep(Box::new(work)));
    }

    /// Has what was left behind removed as soon as the work of this window is kept.
    pub(crate) fn replace(&self, left: Left) {
        self.send(Job::Replace(left));
    }

    /// Nothing is unsaved any more: it was saved, or given up.
    pub(crate) fn clear(&self) {
        self.send(Job::Clear);
    }

    /// Makes a change to the settings as they now stand in the file, which another window may have changed.
    pub(crate) fn change_settings(&self, change: impl Fn(&mut Settings) + Send + 'static) {
        self.send(Job::Change(Box::new(change)));
    }

    /// What has happened since the last call.
    pub(crate) fn reports(&self) -> Vec<Report> {
        self.reports.try_iter().collect()
    }

    fn send(&self, job: Job) {
        if let Some(jobs) = &self.jobs {
            // The thread lives as long as this sender.
            let _ = jobs.send(job);
        }
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        if self.jobs.take().is_some() {
            // Ends by the thread's end of the channel being dropped; a disk that hangs must not hold the window.
            let _ = self.ended.recv_timeout(PATIENCE);
        }
    }
}

/// Where unsaved work is kept.
pub(crate) fn store_folder(data: &std::path::Path) -> PathBuf {
    data.join("recovery")
}

/// Where settings are kept.
pub(crate) fn settings_file(data: &std::path::Path) -> PathBuf {
    data.join("settings.json")
}

/// The thread's side.
struct Clerk {
    store: Store,
    settings: PathBuf,
    /// Taken with the first unsaved work.
    slot: Option<Slot>,
    due: Option<Due>,
    replaced: Vec<Left>,
    failed: bool,
    report: Box<dyn Fn(Report) + Send>,
}

/// Work that is to be written.
struct Due {
    work: Box<Work>,
    since: Instant,
    at: Instant,
}

impl Clerk {
    fn run(&mut self, inbox: &Receiver<Job>) {
        loop {
            let job = match &self.due {
                Some(due) => inbox.recv_timeout(due.at.saturating_duration_since(Instant::now())),
                None => inbox.recv().map_err(|_| RecvTimeoutError::Disconnected),
            };
            match job {
                Ok(job) => self.take(job),
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => {
                    self.write();
                    if let Some(slot) = self.slot.take() {
                        slot.leave();
                    }
                    return;
                }
            }
            if self.due.as_ref().is_some_and(|due| due.at <= Instant::now()) {
                self.write();
            }
        }
    }

    fn take(&mut self, job: Job) {
        match job {
            Job::Keep(work) => {
                let now = Instant::now();
                let since = self.due.as_ref().map_or(now, |due| due.since);
                let at = (now + SETTLED).min(since + AT_LATEST);
                self.due = Some(Due { work, since, at });
            }
            Job::Replace(left) => {
                self.replaced.push(left);
                self.write();
            }
            Job::Clear => {
                self.due = None;
                // Kept for later rather than removed without their successor having been written.
                self.replaced.clear();
                if let Some(Err(error)) = self.slot.as_ref().map(Slot::clear) {
                    self.refuse("What is kept of the unsaved work can't be removed", &error);
                }
            }
            Job::Change(change) => {
                let old = files::read_text(&self.settings).unwrap_or_default();
                let mut settings = Settings::read(&old);
                change(&mut settings);
                let text = settings.write(&old);
                if text != old
                    && let Err(error) = write_settings(&self.settings, &text)
                {
                    self.refuse("Settings can't be kept", &error);
                }
            }
        }
    }

    fn refuse(&self, what: &str, error: &FilesError) {
        (self.report)(Report::Refused(format!("{what}: {error}")));
    }

    /// Writes what is due.
    fn write(&mut self) {
        let Some(due) = self.due.take() else { return };
        match self.keep(&due.work) {
            Ok(()) => {
                for left in self.replaced.drain(..) {
                    // What can't be removed is offered again.
                    let _ = left.discard();
                }
                if std::mem::take(&mut self.failed) {
                    (self.report)(Report::KeptAgain);
                }
            }
            Err(error) => {
                if !std::mem::replace(&mut self.failed, true) {
                    self.refuse("Unsaved work can't be kept in case of a crash", &error);
                }
                let now = Instant::now();
                self.due = Some(Due {
                    work: due.work,
                    since: now,
                    at: now + AGAIN,
                });
            }
        }
    }

    fn keep(&mut self, work: &Work) -> Result<(), FilesError> {
        let slot = match self.slot.take() {
            Some(slot) => slot,
            None => self.store.slot()?,
        };
        let record = Record {
            text: file::write(&work.design),
            as_saved: work.as_saved.as_ref().map(file::write),
            path: work.path.clone(),
            last_step: work.last_step.clone(),
            kept_at: SystemTime::now(),
        };
        self.slot.insert(slot).keep(&record)
    }
}

fn write_settings(path: &std::path::Path, text: &str) -> Result<(), FilesError> {
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(|source| FilesError::System {
            path: folder.to_owned(),
            source,
        })?;
    }
    files::write_whole(path, text.as_bytes())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn work(title: &str) -> Work {
        Work {
            design: Apparatus {
                title: title.into(),
                ..Apparatus::default()
            },
            as_saved: None,
            path: None,
            last_step: None,
        }
    }

    fn left(folder: &std::path::Path) -> Vec<Left> {
        Store::new(store_folder(folder)).scan().left
    }

    fn title(left: &Left) -> String {
        file::read(&left.record.text).unwrap().title
    }

    #[test]
    fn the_newest_work_outlives_the_window() {
        let folder = tempfile::tempdir().unwrap();
        let keeper = Keeper::new(&egui::Context::default(), Some(folder.path().to_owned()));
        for title in ["a", "b", "c"] {
            keeper.keep(work(title));
        }
        drop(keeper);
        let found = left(folder.path());
        assert_eq!(found.iter().map(title).collect::<Vec<_>>(), ["c"]);
    }

    #[test]
    fn what_is_saved_or_given_up_is_not_kept() {
        let folder = tempfile::tempdir().unwrap();
        let keeper = Keeper::new(&egui::Context::default(), Some(folder.path().to_owned()));
        keeper.keep(work("a"));
        keeper.clear();
        drop(keeper);
        assert!(left(folder.path()).is_empty());
    }

    #[test]
    fn work_is_written_while_changes_go_on() {
        let folder = tempfile::tempdir().unwrap();
        let keeper = Keeper::new(&egui::Context::default(), Some(folder.path().to_owned()));
        let start = Instant::now();
        let records = || std::fs::read_dir(store_folder(folder.path())).map_or(0, |entries| entries.count());
        while records() == 0 && start.elapsed() < 5 * AT_LATEST {
            keeper.keep(work("going on"));
            std::thread::sleep(SETTLED / 10);
        }
        assert!(records() > 0, "a change every {:?} holds nothing up", SETTLED / 10);
    }

    #[test]
    fn what_was_left_goes_only_when_its_successor_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let open = || Keeper::new(&egui::Context::default(), Some(folder.path().to_owned()));
        let first = open();
        first.keep(work("a"));
        drop(first);
        let second = open();
        second.replace(left(folder.path()).remove(0));
        second.clear();
        drop(second);
        assert_eq!(left(folder.path()).len(), 1, "no successor was kept");
        let third = open();
        third.keep(work("b"));
        third.replace(left(folder.path()).remove(0));
        drop(third);
        assert_eq!(left(folder.path()).iter().map(title).collect::<Vec<_>>(), ["b"]);
    }

    #[test]
    fn a_folder_that_refuses_is_told_once() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        std::fs::write(&file, "x").unwrap();
        let keeper = Keeper::new(&egui::Context::default(), Some(file));
        keeper.keep(work("a"));
        keeper.change_settings(|settings| settings.hint_done = true);
        let start = Instant::now();
        let mut told = Vec::new();
        while told.len() < 2 && start.elapsed() < Duration::from_secs(10) {
            told.extend(keeper.reports());
            std::thread::sleep(Duration::from_millis(20));
        }
        for words in ["Unsaved work can't be kept", "Settings can't be kept"] {
            let named = |report: &Report| matches!(report, Report::Refused(text) if text.starts_with(words));
            assert!(told.iter().any(named), "{words}: {told:?}");
        }
    }

    #[test]
    fn settings_of_two_windows_are_joined() {
        let folder = tempfile::tempdir().unwrap();
        let open = || Keeper::new(&egui::Context::default(), Some(folder.path().to_owned()));
        let (one, two) = (open(), open());
        one.change_settings(|settings| settings.less_motion = true);
        drop(one);
        two.change_settings(|settings| settings.column = Some(false));
        drop(two);
        let kept = Settings::read(&files::read_text(&settings_file(folder.path())).unwrap());
        assert!(kept.less_motion);
        assert_eq!(kept.column, Some(false));
    }
}
