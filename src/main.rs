//! The `vialwright` program: chooses the window or a headless command. The only place that prints and exits.

use std::io::{IsTerminal, Write};
use std::process::ExitCode;
use std::sync::atomic::{AtomicU32, Ordering};

use clap::Parser;
use vialwright::cli::{self, Arguments};
use vialwright::seek::Watch;

#[expect(clippy::print_stderr, reason = "the program's own output")]
fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let Some(command) = &arguments.command else {
        return open_window(arguments.file);
    };
    match cli::run(command, &mut std::io::stdin(), &Progress::default()) {
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

/// Long work told on standard error where that is a terminal: how many per cent are done.
#[derive(Default)]
struct Progress(AtomicU32);

impl Watch for Progress {
    #[expect(clippy::print_stderr, reason = "the program's own output")]
    fn at(&self, part: f64) -> bool {
        let percent = (100.0 * part.clamp(0.0, 1.0)) as u32;
        let is_further = self.0.fetch_max(percent, Ordering::Relaxed) < percent;
        if is_further && std::io::stderr().is_terminal() {
            let end = if percent < 100 { "" } else { "\n" };
            eprint!("\r{percent:3} %{end}");
        }
        true
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
