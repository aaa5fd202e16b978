//! What a person at a terminal sees: colour, progress, errors. Where the output goes anywhere else, it is plain text.

mod colour;
mod failure;
mod progress;

pub use colour::{Look, STYLES};
pub use failure::failure_text;
pub use progress::{Left, Progress};

use std::io::{IsTerminal, Write};

/// How the program was asked to speak.
#[derive(Debug, Clone, Copy, Default)]
pub struct Voice {
    /// Nothing but errors, and the answer where a program reads it.
    pub quiet: bool,
    /// The answer is for a program.
    pub json: bool,
}

impl Voice {
    /// A bar on standard error; hidden where nobody looks at one.
    #[must_use]
    pub fn progress(self, what: &'static str, left: Left) -> Progress {
        let shown = !self.quiet
            && !self.json
            && std::io::stderr().is_terminal()
            && !colour::is_dumb(std::env::var_os("TERM").as_deref());
        Progress::new(what, left, shown)
    }

    /// Prints an answer: as it is for a program, with its headlines set off on a terminal, not at all when nothing is wanted.
    pub fn print(self, text: &str, look: Look) {
        if self.quiet && !self.json {
            return;
        }
        let stdout = std::io::stdout();
        let text = if self.json || !colour::wanted(stdout.is_terminal()) {
            text.to_owned()
        } else {
            look.apply(text)
        };
        // A reader that closed the pipe (`| head`) has seen enough; that is no failure.
        let _ = anstream::AutoStream::always(stdout).write_all(text.as_bytes());
    }
}

/// Whether help and errors of the arguments are coloured where they go.
#[must_use]
pub fn help_colour() -> clap::ColorChoice {
    if colour::wanted(std::io::stdout().is_terminal()) {
        clap::ColorChoice::Always
    } else {
        clap::ColorChoice::Never
    }
}

/// Prints an error to standard error: for a program as JSON, for a person on a terminal with place and advice set apart, in
/// one line otherwise.
pub fn print_failure(failure: &crate::Failure, json: bool) {
    let stderr = std::io::stderr();
    let terminal = stderr.is_terminal();
    let text = failure_text(failure, json, terminal, colour::wanted(terminal));
    let _ = anstream::AutoStream::always(stderr).write_all(text.as_bytes());
}
