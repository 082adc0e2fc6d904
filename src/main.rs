//! The `vialwright` program: chooses the window or a headless command. The only place that prints and exits.

use std::io::Write;
use std::process::ExitCode;

use clap::Parser;
use vialwright::cli::{self, Arguments};

#[expect(clippy::print_stderr, reason = "the program's own output")]
fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let Some(command) = &arguments.command else {
        return open_window(arguments.file);
    };
    match cli::run(command, &mut std::io::stdin()) {
        Ok(answer) => {
            // A reader that closes the pipe early has what it wants.
            let _ = std::io::stdout().write_all(answer.text.as_bytes());
            ExitCode::from(answer.status)
        }
        Err(error) => {
            eprintln!("vialwright: {error}");
            ExitCode::from(error.status())
        }
    }
}

#[cfg(feature = "window")]
#[expect(
    clippy::print_stderr,
    reason = "without a window there is no other place for the message"
)]
fn open_window(file: Option<std::path::PathBuf>) -> ExitCode {
    match vialwright::app::run(file) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("vialwright: the window can't be opened: {error}");
            ExitCode::FAILURE
        }
    }
}

#[cfg(not(feature = "window"))]
#[expect(
    clippy::print_stderr,
    reason = "without a window there is no other place for the message"
)]
fn open_window(_file: Option<std::path::PathBuf>) -> ExitCode {
    eprintln!("vialwright: built without the window; see `vialwright --help` for the headless commands");
    ExitCode::from(2)
}
