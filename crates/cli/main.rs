//! The `panelwright` program: reads arguments, runs a command of the library, prints, exits.

use clap::Parser;
use panelwright::args::Cli;
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};

/// Set by Ctrl-C: the search then ends with the best nest so far.
static CANCEL: AtomicBool = AtomicBool::new(false);

fn main() -> ExitCode {
    let cli = Cli::parse();
    // Without the handler Ctrl-C ends the program at once, which loses a search but breaks nothing.
    let _ = ctrlc::set_handler(|| {
        if CANCEL.swap(true, Ordering::Relaxed) {
            std::process::exit(130);
        }
    });
    match panelwright::run(&cli, &CANCEL) {
        Ok(code) => ExitCode::from(code),
        Err(failure) => {
            eprintln!("error: {failure}");
            ExitCode::from(2)
        }
    }
}
