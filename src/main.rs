//! The `vialwright` program: chooses the window or a headless command.

use std::process::ExitCode;

/// Opens the window on the design that is named, or on the example.
#[cfg(feature = "window")]
fn main() -> ExitCode {
    let path = std::env::args_os().nth(1).map(Into::into);
    match vialwright::app::run(path) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            #[allow(
                clippy::print_stderr,
                reason = "the one place where the program speaks to the terminal"
            )]
            {
                eprintln!("vialwright: no window can be opened: {error}");
            }
            ExitCode::FAILURE
        }
    }
}

/// Without the window there is nothing to do yet.
#[cfg(not(feature = "window"))]
fn main() -> ExitCode {
    ExitCode::from(2)
}
