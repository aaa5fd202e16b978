//! The `panelwright` program: reads arguments, runs a command of the library, prints, exits.

use clap::error::ErrorKind;
use panelwright::args::{Cli, argument_failure, wants_json};
use panelwright::interrupt::{remove_empty_folders, undisturbed};
use panelwright::terminal::print_failure;
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};

/// Nothing was asked for: the help says what there is.
const NO_COMMAND: ErrorKind = ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand;

/// Set by Ctrl-C: the search then ends with the best nest so far.
static CANCEL: AtomicBool = AtomicBool::new(false);

fn main() -> ExitCode {
    let args: Vec<_> = std::env::args_os().collect();
    let json = wants_json(&args);
    let cli = match Cli::read(args) {
        Ok(cli) => cli,
        Err(said) if said.use_stderr() && said.kind() != NO_COMMAND => {
            print_failure(&argument_failure(&said), json);
            return ExitCode::from(2);
        }
        // Help, asked for or not, and version.
        Err(said) => said.exit(),
    };
    // Without the handler Ctrl-C ends the program at once, which loses a search but breaks nothing.
    let _ = ctrlc::set_handler(|| {
        if CANCEL.swap(true, Ordering::Relaxed) {
            let _undisturbed = undisturbed();
            remove_empty_folders();
            std::process::exit(130);
        }
    });
    match panelwright::run(&cli, &CANCEL) {
        Ok(code) => ExitCode::from(code),
        Err(failure) => {
            print_failure(&failure, json);
            ExitCode::from(2)
        }
    }
}
