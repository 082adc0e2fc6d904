//! FILE: a design or a dump, told apart by content.

use std::io::Read;
use std::path::Path;

use thiserror::Error;

use crate::dump::{self, Dump, DumpError};
use crate::files::{self, FilesError};
use crate::geom::build::{BuildError, Built, build};
use crate::geom::{Interior, InteriorError};
use crate::model::Apparatus;
use crate::model::file::{self, FileError, MAX_BYTES};

/// What FILE held, as an interior.
#[derive(Debug)]
pub(super) struct Input {
    /// Name for messages.
    pub(super) name: String,
    pub(super) dump: Dump,
    /// The design, when FILE is one.
    pub(super) design: Option<Design>,
}

/// What a design says beyond its interior.
#[derive(Debug)]
pub(super) struct Design {
    pub(super) apparatus: Apparatus,
    /// Pieces (indices) that are to be filled.
    pub(super) vessels: Vec<usize>,
}

/// Why FILE gave no interior.
#[derive(Debug, Error)]
pub enum InputError {
    /// It can't be read.
    #[error(transparent)]
    Files(#[from] FilesError),
    /// Standard input can't be read.
    #[error("standard input: {0}")]
    Stdin(std::io::Error),
    /// Standard input is too long.
    #[error("standard input: longer than {MAX_BYTES} bytes")]
    TooLong,
    /// It is not JSON.
    #[error("{name}: {error}")]
    NotJson {
        /// The file.
        name: String,
        /// What is wrong, with line and column.
        error: serde_json::Error,
    },
    /// It is a design, but not a good one.
    #[error("{name}: {error}")]
    Design {
        /// The file.
        name: String,
        /// What is wrong.
        error: Box<FileError>,
    },
    /// It is a design that has no interior.
    #[error("{name}: {error}")]
    Build {
        /// The file.
        name: String,
        /// What is wrong.
        error: Box<BuildError>,
    },
    /// It is a dump, but not a good one.
    #[error("{name}: {error}")]
    Dump {
        /// The file.
        name: String,
        /// What is wrong.
        error: Box<DumpError>,
    },
    /// Its primitives are no interior.
    #[error("{name}: {error}")]
    Interior {
        /// The file.
        name: String,
        /// What is wrong.
        error: InteriorError,
    },
}

/// A design with its bores and its interior.
#[derive(Debug)]
pub(super) struct Bench {
    pub(super) apparatus: Apparatus,
    pub(super) built: Built,
    pub(super) interior: Interior,
}

/// Reads a design; a dump has no job to work out.
pub(super) fn read_design(path: &Path, stdin: &mut dyn Read) -> Result<Bench, InputError> {
    let (name, text) = read_text(path, stdin)?;
    let apparatus = file::read(&text).map_err(|error| InputError::Design {
        name: name.clone(),
        error: Box::new(error),
    })?;
    let built = build(&apparatus).map_err(|error| InputError::Build {
        name: name.clone(),
        error: Box::new(error),
    })?;
    let interior = Interior::new(built.names.clone(), built.primitives.clone(), built.ports.clone());
    let interior = interior.map_err(|error| InputError::Interior {
        name: name.clone(),
        error,
    })?;
    Ok(Bench {
        apparatus,
        built,
        interior,
    })
}

/// The text of a file, or of standard input for `-`, with a name for messages.
fn read_text(path: &Path, stdin: &mut dyn Read) -> Result<(String, String), InputError> {
    if path != Path::new("-") {
        return Ok((path.display().to_string(), files::read_text(path)?));
    }
    let mut text = String::new();
    stdin
        .take(MAX_BYTES as u64 + 1)
        .read_to_string(&mut text)
        .map_err(InputError::Stdin)?;
    if text.len() > MAX_BYTES {
        return Err(InputError::TooLong);
    }
    Ok(("standard input".to_owned(), text))
}

impl Input {
    /// Reads a file, or standard input for `-`.
    pub(super) fn read(path: &Path, stdin: &mut dyn Read) -> Result<Self, InputError> {
        let (name, text) = read_text(path, stdin)?;
        let (dump, design) = Self::understand(&name, &text)?;
        Ok(Self { name, dump, design })
    }

    fn understand(name: &str, text: &str) -> Result<(Dump, Option<Design>), InputError> {
        let name = || name.to_owned();
        let value: serde_json::Value =
            serde_json::from_str(text).map_err(|error| InputError::NotJson { name: name(), error })?;
        if value.get("primitives").is_some() {
            let dump = dump::read(text).map_err(|error| InputError::Dump {
                name: name(),
                error: Box::new(error),
            })?;
            return Ok((dump, None));
        }
        let apparatus = file::read(text).map_err(|error| InputError::Design {
            name: name(),
            error: Box::new(error),
        })?;
        let built = build(&apparatus).map_err(|error| InputError::Build {
            name: name(),
            error: Box::new(error),
        })?;
        let vessels = built.vessels().collect();
        let dump = Dump {
            names: built.names,
            primitives: built.primitives,
            ports: built.ports,
        };
        Ok((dump, Some(Design { apparatus, vessels })))
    }

    /// The interior.
    pub(super) fn interior(&self) -> Result<Interior, InputError> {
        let Dump {
            names,
            primitives,
            ports,
        } = self.dump.clone();
        Interior::new(names, primitives, ports).map_err(|error| InputError::Interior {
            name: self.name.clone(),
            error,
        })
    }
}
