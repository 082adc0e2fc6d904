//! Work that is not saved yet, kept so that it outlives the program.
//!
//! Each running program has a [`Slot`] in a common folder: a lock, which the system releases however the program ends,
//! and beside it, while there is something unsaved, one record written whole. A record whose lock is free was left by
//! a program that lives no longer; [`Store::scan`] takes its lock, so that no other program offers it as well. Nothing
//! is removed but by [`Slot::clear`] and [`Left::discard`]; what is damaged is put aside under another name.
//!
//! A lock takes its name only after it is held, so that nobody finds it free before it is.

use super::{FilesError, read_text, write_whole};
use serde::{Deserialize, Serialize};
use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// Mark of a record, in its key `format`.
const FORMAT: &str = "vialwright-recovery";
/// The version that is written, and the newest that is read.
const VERSION: u32 = 1;
/// Ending of records.
const RECORD: &str = "json";
/// Ending of locks.
const LOCK: &str = "lock";
/// Ending of what could not be read.
const ASIDE: &str = "damaged";

/// Unsaved work.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// The work, as text.
    pub text: String,
    /// The text of which it is a changed version; `None` when it never had a file.
    pub as_saved: Option<String>,
    /// Its file.
    pub path: Option<PathBuf>,
    /// The last change in words.
    pub last_step: Option<String>,
    /// When it was kept.
    pub kept_at: SystemTime,
}

/// A record as it stands in a file.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Wire {
    format: String,
    version: u32,
    /// Seconds since the start of 1970, UTC.
    kept_at_s: u64,
    path: Option<String>,
    last_step: Option<String>,
    text: String,
    as_saved: Option<String>,
}

/// Why a record was not understood.
enum Unread {
    /// It holds what no version writes.
    Damaged(String),
    /// A newer version of the program wrote it, and can read it.
    Newer(u32),
}

/// The keys that every version has.
#[derive(Deserialize)]
struct Head {
    format: String,
    version: u32,
}

impl Record {
    fn write(&self) -> String {
        let since = self.kept_at.duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default();
        let wire = Wire {
            format: FORMAT.to_owned(),
            version: VERSION,
            kept_at_s: since.as_secs(),
            // A path that is no text can't be written here; the work then has none and asks for one when saved.
            path: self.path.as_deref().and_then(Path::to_str).map(str::to_owned),
            last_step: self.last_step.clone(),
            text: self.text.clone(),
            as_saved: self.as_saved.clone(),
        };
        // Text, whole numbers and nothing else: this always can be written.
        serde_json::to_string_pretty(&wire).unwrap_or_default() + "\n"
    }

    fn read(text: &str) -> Result<Self, Unread> {
        let damaged = |error: serde_json::Error| Unread::Damaged(error.to_string());
        let head: Head = serde_json::from_str(text).map_err(damaged)?;
        if head.format != FORMAT {
            return Err(Unread::Damaged("not a record of unsaved work".to_owned()));
        }
        if head.version > VERSION {
            return Err(Unread::Newer(head.version));
        }
        let wire: Wire = serde_json::from_str(text).map_err(damaged)?;
        Ok(Self {
            text: wire.text,
            as_saved: wire.as_saved,
            path: wire.path.map(PathBuf::from),
            last_step: wire.last_step,
            kept_at: SystemTime::UNIX_EPOCH
                .checked_add(Duration::from_secs(wire.kept_at_s))
                .unwrap_or(SystemTime::UNIX_EPOCH),
        })
    }
}

/// The folder in which unsaved work is kept.
#[derive(Clone, Debug)]
pub struct Store {
    folder: PathBuf,
}

/// What a [`Store`] holds of programs that live no longer.
#[derive(Debug, Default)]
pub struct Found {
    /// Work that can be taken up, the newest first.
    pub left: Vec<Left>,
    /// Files that could not be read: where each is now, and why.
    pub unread: Vec<(PathBuf, String)>,
}

/// Unsaved work that was left behind. While it is held no other program is offered it; dropped, it stays for later.
#[derive(Debug)]
pub struct Left {
    /// The work.
    pub record: Record,
    path: PathBuf,
    /// `None` where the folder knows no locks.
    _lock: Option<File>,
}

/// The place of a running program in a [`Store`].
#[derive(Debug)]
pub struct Slot {
    record: PathBuf,
    lock: PathBuf,
    /// Held as long as the program lives; `None` where the folder knows no locks.
    held: Option<File>,
}

impl Store {
    /// The store in a folder that need not exist yet.
    pub fn new(folder: PathBuf) -> Self {
        Self { folder }
    }

    /// Takes a place of one's own.
    ///
    /// # Errors
    /// When the folder can't be made or written.
    pub fn slot(&self) -> Result<Slot, FilesError> {
        let refused = |source| FilesError::System {
            path: self.folder.clone(),
            source,
        };
        std::fs::create_dir_all(&self.folder).map_err(refused)?;
        loop {
            let new = tempfile::Builder::new()
                .prefix("work-")
                .suffix(".new")
                .tempfile_in(&self.folder)
                .map_err(refused)?;
            let lock = new.path().with_extension(LOCK);
            let record = new.path().with_extension(RECORD);
            if lock.exists() || record.exists() {
                continue;
            }
            let held = new.as_file().try_lock().is_ok();
            let file = new.persist(&lock).map_err(|error| refused(error.error))?;
            return Ok(Slot {
                record,
                lock,
                held: held.then_some(file),
            });
        }
    }

    /// Takes hold of what was left behind. A damaged record is renamed, never removed.
    pub fn scan(&self) -> Found {
        let mut found = Found::default();
        let Ok(entries) = std::fs::read_dir(&self.folder) else {
            return found;
        };
        let mut paths: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).collect();
        paths.sort();
        for path in paths {
            match path.extension().and_then(std::ffi::OsStr::to_str) {
                Some(RECORD) => take(&path, &mut found),
                Some(LOCK) => drop_bare_lock(&path),
                _ => {}
            }
        }
        found.left.sort_by_key(|left| std::cmp::Reverse(left.record.kept_at));
        found
    }
}

/// Takes hold of one record, unless a living program has it.
fn take(path: &Path, found: &mut Found) {
    let lock = OpenOptions::new()
        .create(true)
        .append(true)
        .open(path.with_extension(LOCK))
        .ok();
    let held = match lock.as_ref().map(File::try_lock) {
        Some(Err(TryLockError::WouldBlock)) => return,
        Some(Ok(())) => lock,
        // Where there are no locks nobody can tell; better offered twice than lost.
        Some(Err(TryLockError::Error(_))) | None => None,
    };
    let text = match read_text(path) {
        Ok(text) => text,
        // Its owner has just removed it.
        Err(FilesError::System { source, .. }) if source.kind() == std::io::ErrorKind::NotFound => return,
        Err(error) => return found.unread.push((path.to_owned(), error.to_string())),
    };
    match Record::read(&text) {
        Ok(record) => found.left.push(Left {
            record,
            path: path.to_owned(),
            _lock: held,
        }),
        Err(Unread::Newer(version)) => {
            let reason = format!("version {version} is newer than {VERSION}, the newest that this program reads");
            found.unread.push((path.to_owned(), reason));
        }
        Err(Unread::Damaged(reason)) => {
            found.unread.push((put_aside(path), reason));
        }
    }
}

/// Gives a damaged record a name under which there is nothing yet; gives the name under which it is now.
fn put_aside(path: &Path) -> PathBuf {
    let numbered = (2_u32..).map(|n| path.with_extension(format!("{n}.{ASIDE}")));
    let mut names = std::iter::once(path.with_extension(ASIDE)).chain(numbered);
    match names.find(|name| !name.exists()) {
        Some(aside) if std::fs::rename(path, &aside).is_ok() => aside,
        _ => path.to_owned(),
    }
}

/// Removes the lock of a program that ended with nothing unsaved.
fn drop_bare_lock(path: &Path) {
    let free = OpenOptions::new()
        .append(true)
        .open(path)
        .is_ok_and(|lock| lock.try_lock().is_ok());
    if free && !path.with_extension(RECORD).exists() {
        // Another program may have been quicker.
        let _ = std::fs::remove_file(path);
    }
}

impl Left {
    /// Removes the work for good.
    ///
    /// # Errors
    /// When the system refuses; the work then stays.
    pub fn discard(self) -> Result<(), FilesError> {
        remove(&self.path)?;
        // Without its record a lock says nothing; the next scan removes one that stays.
        let _ = std::fs::remove_file(self.path.with_extension(LOCK));
        Ok(())
    }

    /// Puts work aside that nobody understands; gives the file in which it now stands.
    pub fn put_aside(self) -> PathBuf {
        put_aside(&self.path)
    }
}

impl Slot {
    /// Keeps unsaved work in place of what was kept before.
    ///
    /// # Errors
    /// When the system refuses; what was kept before then still is.
    pub fn keep(&self, record: &Record) -> Result<(), FilesError> {
        write_whole(&self.record, record.write().as_bytes())
    }

    /// Removes what is kept: it has been saved, or given up.
    ///
    /// # Errors
    /// When the system refuses.
    pub fn clear(&self) -> Result<(), FilesError> {
        remove(&self.record)
    }

    /// Leaves the store; what is kept stays and can be taken up by the next program.
    pub fn leave(self) {
        if !self.record.exists() {
            // A lock that stays is removed by the next scan.
            let _ = std::fs::remove_file(&self.lock);
        }
        drop(self.held);
    }
}

fn remove(path: &Path) -> Result<(), FilesError> {
    match std::fs::remove_file(path) {
        Err(source) if source.kind() != std::io::ErrorKind::NotFound => Err(FilesError::System {
            path: path.to_owned(),
            source,
        }),
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn work(text: &str) -> Record {
        Record {
            text: text.into(),
            as_saved: Some("before".into()),
            path: Some("/some/where.json".into()),
            last_step: Some("Body of vial".into()),
            kept_at: SystemTime::UNIX_EPOCH + Duration::from_secs(1_700_000_000),
        }
    }

    fn names(folder: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(folder).unwrap();
        let mut names: Vec<_> = entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    #[test]
    fn what_a_program_left_is_found_and_kept_until_it_is_discarded() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::new(folder.path().join("recovery"));
        assert!(store.scan().left.is_empty());
        let slot = store.slot().unwrap();
        slot.keep(&work("one")).unwrap();
        slot.keep(&work("two")).unwrap();
        assert!(store.scan().left.is_empty(), "its program lives");
        drop(slot);
        for _ in 0..2 {
            let found = store.scan();
            assert_eq!(found.left.len(), 1);
            assert_eq!(found.left[0].record, work("two"));
        }
        store.scan().left.remove(0).discard().unwrap();
        assert!(store.scan().left.is_empty());
        assert!(names(&folder.path().join("recovery")).is_empty());
    }

    #[test]
    fn two_programs_do_not_offer_the_same_work() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::new(folder.path().to_owned());
        for text in ["one", "two"] {
            let slot = store.slot().unwrap();
            slot.keep(&work(text)).unwrap();
        }
        let first = store.scan();
        assert_eq!(first.left.len(), 2);
        assert!(store.scan().left.is_empty(), "the first holds both");
        drop(first);
        assert_eq!(store.scan().left.len(), 2, "kept for later");
    }

    #[test]
    fn living_programs_do_not_meet() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::new(folder.path().to_owned());
        let (one, two) = (store.slot().unwrap(), store.slot().unwrap());
        one.keep(&work("one")).unwrap();
        two.keep(&work("two")).unwrap();
        one.clear().unwrap();
        one.leave();
        assert!(store.scan().left.is_empty());
        drop(two);
        assert_eq!(store.scan().left[0].record.text, "two");
        assert_eq!(names(folder.path()).len(), 2, "the other's record and lock alone");
    }

    #[test]
    fn a_program_that_ended_with_nothing_unsaved_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::new(folder.path().to_owned());
        let slot = store.slot().unwrap();
        slot.keep(&work("one")).unwrap();
        slot.clear().unwrap();
        slot.clear().unwrap();
        drop(slot);
        assert_eq!(names(folder.path()).len(), 1, "a lock, as after a kill");
        assert!(store.scan().left.is_empty());
        assert!(names(folder.path()).is_empty());
    }

    #[test]
    fn what_cannot_be_read_is_put_aside_and_named() {
        let folder = tempfile::tempdir().unwrap();
        let store = Store::new(folder.path().to_owned());
        let other = work("one").write().replace("vialwright-recovery", "vialwright-design");
        let texts = ["{\"format\": \"vialwright-rec", "", &other, "[1, 2]"];
        for (i, text) in texts.iter().enumerate() {
            std::fs::write(folder.path().join(format!("work-{i}.json")), text).unwrap();
        }
        std::fs::write(folder.path().join("work-0.damaged"), "an earlier one").unwrap();
        let found = store.scan();
        assert!(found.left.is_empty());
        assert_eq!(found.unread.len(), texts.len());
        for ((path, reason), text) in found.unread.iter().zip(texts) {
            assert_eq!(std::fs::read_to_string(path).unwrap(), text, "{reason}");
            assert!(path.to_string_lossy().ends_with(".damaged"), "{}", path.display());
        }
        let earlier = folder.path().join("work-0.damaged");
        assert_eq!(std::fs::read_to_string(earlier).unwrap(), "an earlier one");
        assert!(store.scan().unread.is_empty(), "it is named once");
    }

    #[test]
    fn what_a_newer_program_left_stays_for_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("work-1.json");
        let newer = work("one").write().replace("\"version\": 1", "\"version\": 2");
        std::fs::write(&path, &newer).unwrap();
        let found = Store::new(folder.path().to_owned()).scan();
        assert!(found.left.is_empty());
        assert_eq!(found.unread.len(), 1);
        assert_eq!(found.unread[0].0, path);
        assert_eq!(std::fs::read_to_string(&path).unwrap(), newer);
    }

    #[test]
    fn a_folder_that_cannot_be_made_is_refused_with_its_path() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        std::fs::write(&file, "x").unwrap();
        let refusal = Store::new(file.join("recovery")).slot().unwrap_err();
        assert!(refusal.to_string().contains("recovery"), "{refusal}");
    }
}
