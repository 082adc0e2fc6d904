//! Reading and writing whole files, for the command line and the window.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::SystemTime;
use thiserror::Error;

pub mod recovery;

/// Why a file could not be read or written.
#[derive(Debug, Error)]
pub enum FilesError {
    /// The system refused.
    #[error("{}: {source}", path.display())]
    System {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The file is larger than any design or dump.
    #[error("{}: more than {limit} bytes", path.display())]
    TooLong {
        /// The file.
        path: PathBuf,
        /// The limit, bytes.
        limit: u64,
    },
    /// The file is there and marked as not to be written.
    #[error("{}: the file is read-only", path.display())]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// The folder of the file is gone.
    #[error("{}: there is no folder {}", path.display(), folder.display())]
    NoFolder {
        /// The file.
        path: PathBuf,
        /// Its folder.
        folder: PathBuf,
    },
}

/// What tells one state of a file from another without reading it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stamp {
    modified: Option<SystemTime>,
    bytes: u64,
}

/// The stamp of a file; `None` when there is no such file, or none that may be seen.
pub fn stamp(path: &Path) -> Option<Stamp> {
    let known = std::fs::metadata(path).ok().filter(std::fs::Metadata::is_file)?;
    Some(Stamp {
        modified: known.modified().ok(),
        bytes: known.len(),
    })
}

/// Today by the system's clock, days since 1970-01-01 UTC; 0 when the clock stands before that.
pub fn unix_days() -> u32 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    since.map_or(0, |since| u32::try_from(since.as_secs() / 86_400).unwrap_or(u32::MAX))
}

/// Largest file that is read, bytes.
const MAX_BYTES: u64 = 64 << 20;

/// Reads a whole text file.
///
/// # Errors
/// When the system refuses, the text is not UTF-8, or the file is too long.
pub fn read_text(path: &Path) -> Result<String, FilesError> {
    use std::io::Read;
    let refused = |source| FilesError::System {
        path: path.to_owned(),
        source,
    };
    let mut text = String::new();
    let file = std::fs::File::open(path).map_err(refused)?;
    file.take(MAX_BYTES + 1).read_to_string(&mut text).map_err(refused)?;
    if text.len() as u64 > MAX_BYTES {
        return Err(FilesError::TooLong {
            path: path.to_owned(),
            limit: MAX_BYTES,
        });
    }
    Ok(text)
}

/// Writes a file whole or not at all: into a new file beside it, brought to the disc, then put in its place.
///
/// # Errors
/// When the system refuses, the file is read-only or its folder is gone; the old file is then as it was.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), FilesError> {
    let refused = |source| FilesError::System {
        path: path.to_owned(),
        source,
    };
    // A link keeps pointing where it points: its target is replaced.
    let target = std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
    let folder = match target.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    if !folder.is_dir() {
        return Err(FilesError::NoFolder {
            path: path.to_owned(),
            folder: folder.to_owned(),
        });
    }
    // Another file can be put in the place of a read-only one; whoever marked it so did not mean that.
    if std::fs::metadata(&target).is_ok_and(|old| old.permissions().readonly()) {
        return Err(FilesError::ReadOnly { path: path.to_owned() });
    }
    let mut new = tempfile::NamedTempFile::new_in(folder).map_err(refused)?;
    new.write_all(bytes).map_err(refused)?;
    // A temporary file is private; the one that takes its name keeps the permissions of the old one.
    match std::fs::metadata(&target) {
        Ok(old) => new.as_file().set_permissions(old.permissions()).map_err(refused)?,
        Err(_) => make_readable(new.as_file()).map_err(refused)?,
    }
    new.as_file().sync_all().map_err(refused)?;
    new.persist(&target).map_err(|error| refused(error.error))?;
    Ok(())
}

#[cfg(unix)]
fn make_readable(file: &std::fs::File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    file.set_permissions(std::fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn make_readable(_: &std::fs::File) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_replaced_whole() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.json");
        write_whole(&path, b"one").unwrap();
        write_whole(&path, b"two").unwrap();
        assert_eq!(read_text(&path).unwrap(), "two");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        let missing = folder.path().join("none").join("a.json");
        let refusal = write_whole(&missing, b"x").unwrap_err();
        assert!(matches!(&refusal, FilesError::NoFolder { folder, .. } if folder.ends_with("none")));
        assert!(refusal.to_string().contains("a.json"), "{refusal}");
        assert!(read_text(&missing).is_err());
    }

    #[test]
    fn a_read_only_file_is_not_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.json");
        write_whole(&path, b"one").unwrap();
        let mut permissions = std::fs::metadata(&path).unwrap().permissions();
        permissions.set_readonly(true);
        std::fs::set_permissions(&path, permissions.clone()).unwrap();
        let refusal = write_whole(&path, b"two").unwrap_err();
        assert!(matches!(&refusal, FilesError::ReadOnly { path: named } if *named == path));
        assert_eq!(read_text(&path).unwrap(), "one");
    }

    #[test]
    fn a_stamp_tells_that_a_file_was_written() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.json");
        assert_eq!(stamp(&path), None);
        write_whole(&path, b"one").unwrap();
        let first = stamp(&path);
        assert_eq!(stamp(&path), first);
        write_whole(&path, b"three").unwrap();
        assert!(stamp(&path).is_some() && stamp(&path) != first);
        assert_eq!(stamp(folder.path()), None, "a folder is no file");
    }
}
