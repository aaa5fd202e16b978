//! panelwright: from an order of panel kits to judged cut files, a yield report and a rack of
//! remnants. The program in `main.rs` is a thin shell round this library.
//!
//! [`geometry`] holds outlines and drawings, [`nesting`] the searches and the judge. A job goes
//! through these stages, each a module: [`input`] (files as written), [`read_job`] (checked, in
//! millimetres), [`given`] (an earlier nest to go on from), [`plan`] (nested and judged),
//! [`toolpath`] (what router and laser follow), [`mod@write`], [`report`] and [`papers`] (files and papers),
//! [`rack`] (booked).
//! [`estimate`] asks what it would cost.

pub use panelwright_geometry as geometry;
pub use panelwright_nesting as nesting;

mod area;
pub mod args;
pub mod aside;
pub mod bed;
mod check_command;
mod check_drawing;
pub mod cut_checks;
pub mod cut_plan;
mod drawing_options;
pub mod estimate;
mod estimate_command;
mod failure;
pub mod given;
pub mod input;
pub mod interrupt;
pub mod job;
pub mod layer;
mod letters;
mod manual_command;
mod nest_command;
pub mod nest_file;
mod number;
pub mod paper;
pub mod papers;
mod path_data;
pub mod plan;
pub mod preview;
pub mod process_rules;
pub mod rack;
mod rack_command;
pub mod rates;
pub mod read_job;
pub mod remnant;
pub mod report;
pub mod saw_steps;
pub mod shape;
pub mod terminal;
pub mod time;
pub mod toolpath;
mod workload;
pub mod write;

pub use failure::{Failure, Result};

use args::{Cli, Command};
use std::sync::atomic::AtomicBool;
use terminal::{Look, Voice};

/// All placed, all done.
pub const DONE: u8 = 0;
/// Done, but something is left over.
pub const LEFT_OVER: u8 = 1;

/// Runs a command, prints its answer and returns the exit code. `cancel` ends a search early with
/// the best so far.
///
/// # Errors
/// Bad input or files that cannot be written: exit code 2.
pub fn run(cli: &Cli, cancel: &AtomicBool) -> Result<u8> {
    let mut voice = Voice {
        quiet: cli.quiet,
        json: cli.json,
    };
    let mut look = Look::Plain;
    let (text, code) = match &cli.command {
        Command::Check(args) => (check_command::run(args)?, DONE),
        Command::Nest(args) => {
            let outcome = nest_command::run(args, voice, cancel)?;
            look = Look::Summary {
                lacking: !outcome.plan.missing.is_empty(),
            };
            let code = if outcome.plan.missing.is_empty() {
                DONE
            } else {
                LEFT_OVER
            };
            (nest_command::answer(args, &outcome), code)
        }
        Command::Estimate(args) => {
            voice.json |= args.csv;
            look = Look::Summary { lacking: false };
            estimate_command::run(args, voice, cancel)?
        }
        Command::Book(args) => (rack_command::book(args)?, DONE),
        Command::Rack(args) => rack_command::rack(args)?,
        Command::Completions(args) => {
            voice.quiet = false;
            (manual_command::completions(args), DONE)
        }
        Command::Man(args) => (manual_command::man(args)?, DONE),
    };
    voice.print(&text, look);
    Ok(code)
}

/// The README's example, run as a test.
#[cfg(doctest)]
#[doc = include_str!("../../README.md")]
struct Readme;
