//! What the user typed, typed. Touches no file.

mod rack;

pub use rack::{
    AddArgs, BackupArgs, CountArgs, ExportArgs, FitArgs, FoundArgs, HoldArgs, ImportArgs, ListArgs,
    MoveArgs, NoteArgs, RackArgs, RackCommand, RackLabelArgs, RackPlace, ReceiveArgs, ReleaseArgs,
    RetireArgs, ShowArgs, SpaceArgs, StateWord, StockArgs,
};

use crate::input::LabelStock;
use crate::input::{DxfForm, Lines, suggestion};
use crate::paper::{Language, Lengths, Paper};
use crate::preview::WIDTHS;
use crate::{Failure, Result};
use clap::{Args, CommandFactory, FromArgMatches, Parser, Subcommand};
use std::ffi::OsString;
use std::path::PathBuf;

/// Nests kits of flat panels on remnants and sheets and writes the files to cut them.
#[derive(Debug, Parser)]
#[command(name = "panelwright", version, about, max_term_width = 100, styles = crate::terminal::STYLES)]
#[command(
    after_help = "Exit codes: 0 done; 1 done, but parts are left over, a material is refused, no remnant fits or \
    the rack is not sound; 2 bad input, nothing written. With --json an error is an object on standard error. \
    Colour is for terminals alone, and not where NO_COLOR is set.\n\n\
    Example:\n  panelwright nest demo-data/cabinet-order.json --out out"
)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Print nothing but errors, and what --json or --csv asks for
    #[arg(long, short, global = true, display_order = 900)]
    pub quiet: bool,
    /// Whether a program reads what is said.
    #[arg(skip)]
    pub json: bool,
}

impl Cli {
    /// Reads the program's arguments, its name first.
    ///
    /// # Errors
    /// What is wrong with them, or the help that was asked for; see [`argument_failure`].
    pub fn read(args: impl IntoIterator<Item = OsString>) -> Result<Self, clap::Error> {
        let args: Vec<OsString> = args.into_iter().collect();
        let json = wants_json(&args);
        let cli = Self::from_arg_matches(&Self::described().try_get_matches_from(args)?)?;
        Ok(Self { json, ..cli })
    }

    /// What the program takes, as clap keeps it.
    #[must_use]
    pub fn described() -> clap::Command {
        with_broken_examples(with_negatives(Self::command())).color(crate::terminal::help_colour())
    }
}

/// Whether the arguments ask for JSON, even where something else is wrong with them.
#[must_use]
pub fn wants_json(args: &[OsString]) -> bool {
    let options = args.iter().take_while(|a| *a != "--");
    options.into_iter().any(|a| a == "--json")
}

/// A minus before a number is a wrong value, which is told as such, and no unknown option.
fn with_negatives(command: clap::Command) -> clap::Command {
    command
        .mut_args(|arg| match arg.get_action().takes_values() {
            true => arg.allow_negative_numbers(true),
            false => arg,
        })
        .mut_subcommands(with_negatives)
}

/// Columns of a terminal that nobody has widened.
const COLUMNS: usize = 80;

/// Examples, which are indented by two, are broken before an option where they are too long, as a shell takes them.
fn with_broken_examples(command: clap::Command) -> clap::Command {
    let command = match command.get_after_help().map(ToString::to_string) {
        Some(text) => command.after_help(broken_examples(&text)),
        None => command,
    };
    command.mut_subcommands(with_broken_examples)
}

fn broken_examples(text: &str) -> String {
    let mut lines = Vec::new();
    for line in text.lines() {
        let mut rest = line.to_owned();
        while line.starts_with("  ") && rest.len() > COLUMNS {
            let indent = rest.len() - rest.trim_start().len();
            let breaks = rest.match_indices(" --").map(|(at, _)| at);
            // Room for the sign that the line goes on.
            let Some(at) = breaks
                .filter(|at| (indent + 1..COLUMNS - 1).contains(at))
                .last()
            else {
                break;
            };
            lines.push(format!("{} \\", &rest[..at]));
            rest = format!("    {}", &rest[at + 1..]);
        }
        lines.push(rest);
    }
    lines.join("\n")
}

/// What is wrong with the arguments, as every other error of the program.
#[must_use]
pub fn argument_failure(error: &clap::Error) -> Failure {
    let text = error.to_string();
    let lines = text.lines().map(str::trim);
    let said: Vec<&str> = lines
        .take_while(|l| !l.starts_with("Usage:") && !l.starts_with("For more information"))
        .filter(|l| !l.is_empty())
        .collect();
    let said = said.join(" ").replace(" tip: ", "; ");
    let said = said.strip_prefix("error: ").unwrap_or(&said);
    Failure::new("", said, "--help after the command tells what it takes")
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Read an order and everything it names, or one drawing, and say what is wrong
    Check(CheckArgs),
    /// Nest an order and write cut files and reports
    Nest(NestArgs),
    /// What an order costs, by material and quantity: every cell nested
    Estimate(EstimateArgs),
    /// Record that a nest was cut: stock leaves, offcuts enter the rack
    Book(BookArgs),
    /// The remnants and sheets in stock: find, hold, log, count, check
    Rack(RackArgs),
    /// Print a script that completes commands and options in a shell
    Completions(CompletionsArgs),
    /// Write manual pages, one for each command
    Man(ManArgs),
}

/// `panelwright completions`
#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  panelwright completions bash > \\\n    \
    ~/.local/share/bash-completion/completions/panelwright\n  \
    panelwright completions fish > ~/.config/fish/completions/panelwright.fish\n  \
    panelwright completions zsh > ~/.zfunc/_panelwright")]
pub struct CompletionsArgs {
    /// The shell
    pub shell: clap_complete::Shell,
}

/// `panelwright man`
#[derive(Debug, Args)]
#[command(after_help = "Example:\n  panelwright man --out ~/.local/share/man/man1")]
pub struct ManArgs {
    /// Folder for the pages
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
}

/// `panelwright check`
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  panelwright check demo-data/cabinet-order.json\n  \
    panelwright check demo-data/drawings/side.dxf"
)]
pub struct CheckArgs {
    /// Order file (JSON), or one drawing (DXF or SVG)
    pub file: PathBuf,
    /// Unit of a drawing that names none
    #[arg(long, value_name = "UNIT")]
    pub units: Option<UnitWord>,
    /// Read a drawing by the drawing_rules of this kit file
    #[arg(long, value_name = "FILE")]
    pub kit: Option<PathBuf>,
    /// Rack file to use instead of the one the shop file names
    #[arg(long, value_name = "FILE")]
    pub rack: Option<PathBuf>,
    /// Stop at what would only be noted: narrow webs and openings, sharp inside corners, tiny lines
    #[arg(long)]
    pub strict: bool,
    /// Print the answer as JSON
    #[arg(long)]
    pub json: bool,
}

/// A unit that drawings are said to be in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum UnitWord {
    /// Millimetres
    Mm,
    /// Inches
    Inch,
}

/// `panelwright nest`
#[derive(Debug, Args)]
#[command(
    after_help = "The same files, seed and effort give the same bytes, on any number of threads. \
    A time limit trades that away.\n\n\
    Examples:\n  panelwright nest demo-data/cabinet-order.json --out out\n  \
    panelwright nest demo-data/cabinet-order.json --out out --from out/nest.json --seed 2"
)]
pub struct NestArgs {
    /// Order file (JSON)
    pub order: PathBuf,
    /// Folder for nest.json, cut files and reports
    #[arg(long, value_name = "FOLDER")]
    pub out: PathBuf,
    /// Go on from this nest.json of the order: the result is never worse. A placement in it with
    /// "pinned": true stays exactly where it is; its "origin" and "angle" may be edited. Sheets of it that are
    /// booked as cut are told, and their copies are nested all the same
    #[arg(long, value_name = "NEST.JSON")]
    pub from: Option<PathBuf>,
    /// Seed of every random choice
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// How long to search: 1 is about a second of work on one core; what curved and freely turned parts
    /// take to prepare comes on top
    #[arg(
        long,
        default_value_t = 24.0,
        value_name = "N",
        allow_negative_numbers = true
    )]
    pub effort: f64,
    /// Stop after this many seconds with the best so far
    #[arg(long, value_name = "N", allow_negative_numbers = true)]
    pub seconds: Option<f64>,
    /// Threads to use [default: one per core]
    #[arg(long, value_name = "N")]
    pub threads: Option<usize>,
    /// Rack file to use instead of the one the shop file names
    #[arg(long, value_name = "FILE")]
    pub rack: Option<PathBuf>,
    /// Take new sheets only
    #[arg(long)]
    pub no_remnants: bool,
    /// Set no parts into window cut-outs of other parts; those that --from has there stay
    #[arg(long)]
    pub no_cutouts: bool,
    /// Let kits be complete early, even where that costs more: tries batches of kits, which takes up
    /// to six times as long; not with --from
    #[arg(long)]
    pub kits_early: bool,
    /// Cut all parts of one material in a kit from one lot, so that colours match (of sheets, by the
    /// rack's purchases where these are written down); takes two to three times as long; not with --from
    #[arg(long)]
    pub one_lot: bool,
    /// What the lines of cut files are: the parts' finished edges, or the path of the tool's centre with
    /// its leads [default: as the shop file says for each machine, else finished]
    #[arg(long, value_name = "WHAT")]
    pub lines: Option<Lines>,
    /// Release of the DXF files [default: as the shop file says for each machine, else 2000]
    #[arg(long, value_name = "RELEASE")]
    pub dxf: Option<DxfForm>,
    /// Write each operation of a cut file to a file of its own as well
    #[arg(long)]
    pub by_operation: bool,
    /// Stop at what would only be noted: narrow webs and openings, sharp inside corners, tiny lines
    #[arg(long)]
    pub strict: bool,
    /// Also draw each sheet as a PNG in the folder preview, for chat and mail
    #[arg(long)]
    pub preview: bool,
    /// Width of these pictures in pixels, 400 to 6000
    #[arg(long, value_name = "N", default_value_t = 1600, requires = "preview",
        value_parser = clap::value_parser!(u32)
            .range(i64::from(*WIDTHS.start())..=i64::from(*WIDTHS.end())))]
    pub preview_width: u32,
    /// How papers are written
    #[command(flatten)]
    pub paper: PaperArgs,
    /// What labels are printed on
    #[command(flatten)]
    pub labels: LabelArgs,
    /// Print the answer as JSON
    #[arg(long)]
    pub json: bool,
}

/// In which language and unit papers are written; for every command that writes some.
#[derive(Debug, Clone, Copy, Default, Args)]
pub struct PaperArgs {
    /// Language of the papers [default: as the shop file says, else en]
    #[arg(long, value_name = "LANGUAGE")]
    pub language: Option<Language>,
    /// Unit of lengths on the papers: mm, inch, or inch/32 for fractions [default: as the shop file says, else mm]
    #[arg(long, value_name = "UNIT")]
    pub lengths: Option<Lengths>,
}

impl PaperArgs {
    /// Sets what was asked for.
    pub fn apply(&self, paper: &mut Paper) {
        paper.language = self.language.unwrap_or(paper.language);
        paper.lengths = self.lengths.unwrap_or(paper.lengths);
    }
}

/// What labels are printed on; for every command that writes some.
#[derive(Debug, Clone, Default, Args)]
pub struct LabelArgs {
    /// Labels to print on: a4-3x7, a4-3x8, a4-2x7, letter-3x10, letter-2x5, roll-57x32, roll-62x100 or
    /// roll-102x152 [default: as the shop file says, else a4-3x7]
    #[arg(long, value_name = "STOCK")]
    pub labels: Option<String>,
    /// The first label of a used sheet that is still there, counted along the rows [default: as the shop file
    /// says, else 1]
    #[arg(long, value_name = "N")]
    pub first_label: Option<u32>,
}

impl LabelArgs {
    /// Sets what was asked for.
    ///
    /// # Errors
    /// A stock that is not known, or a label that is not on its page.
    pub fn apply(&self, stock: &mut LabelStock) -> Result<()> {
        if let Some(name) = &self.labels {
            *stock = LabelStock::named(name).ok_or_else(|| {
                Failure::new(
                    "--labels",
                    format!("no labels are called '{name}'"),
                    suggestion(name, &LabelStock::names()),
                )
            })?;
        }
        if let Some(first) = self.first_label {
            *stock = stock.starting_at_option(first, "--first-label")?;
        }
        Ok(())
    }
}

/// `panelwright estimate`
#[derive(Debug, Args)]
#[command(
    after_help = "The kits of the order in their proportion are one; single parts are left out. Without \
    --quantities the order is estimated as it stands. Exit code 1 when a material is refused.\n\n\
    What-ifs, several with commas between: price:SHEET=AMOUNT, without:SHEET, \
    sheet:MATERIAL=LENGTHxWIDTH@PRICE (in millimetres), machine:router=laser, role:ROLE=MATERIAL, no-remnants, \
    no-offcuts\n\n\
    Examples:\n  panelwright estimate demo-data/cabinet-order.json --quantities 1,5,10,25\n  \
    panelwright estimate demo-data/cabinet-order.json --quantities 1-12 --out quote\n  \
    panelwright estimate demo-data/cabinet-order.json --what-if price:composite-2440x1220=70"
)]
pub struct EstimateArgs {
    /// Order file (JSON)
    pub order: PathBuf,
    /// Quantities, such as 1,5,10,25 or 1-12 or 10-100/10
    #[arg(long, value_name = "LIST")]
    pub quantities: Option<String>,
    /// Also try this material in this role; may be repeated. Those under 'alternatives' in the order
    /// are tried in any case
    #[arg(long, value_name = "ROLE=MATERIAL")]
    pub swap: Vec<String>,
    /// Compare with the order changed like this, line by line; may be repeated: price:SHEET=AMOUNT,
    /// sheet:MATERIAL=LENGTHxWIDTH@PRICE (in millimetres, whatever the unit of the shop file), without:SHEET,
    /// machine:router=laser, role:ROLE=MATERIAL, no-remnants or no-offcuts, or several of them with commas between
    #[arg(long, value_name = "CHANGES")]
    pub what_if: Vec<String>,
    /// Instead tell what this nest.json of the order costs, booked or not: the same lines at the same rates
    #[arg(long, value_name = "NEST.JSON", conflicts_with_all = ["quantities", "swap", "what_if", "out", "csv", "seed", "effort", "threads", "shares", "every_line"])]
    pub nest: Option<PathBuf>,
    /// Instead list what to buy for the order, and for those given with --also, as they stand; what is held
    /// for any of them counts as theirs
    #[arg(long, conflicts_with_all = ["quantities", "swap", "what_if", "out", "csv", "nest", "shares", "every_line"])]
    pub buy: bool,
    /// One more order for the buying list; may be repeated
    #[arg(long, value_name = "ORDER", requires = "buy")]
    pub also: Vec<PathBuf>,
    /// Folder for the estimate as HTML, text, CSV and JSON, and the layouts of every cell
    #[arg(long, value_name = "FOLDER")]
    pub out: Option<PathBuf>,
    /// Seed of every random choice
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// How long to search for each nest, of which a cell takes several: 1 is about a second of work on one core
    #[arg(
        long,
        default_value_t = 0.1,
        value_name = "N",
        allow_negative_numbers = true
    )]
    pub effort: f64,
    /// Threads to use [default: one per core]
    #[arg(long, value_name = "N")]
    pub threads: Option<usize>,
    /// Rack file to use instead of the one the shop file names
    #[arg(long, value_name = "FILE")]
    pub rack: Option<PathBuf>,
    /// Rule that shares the cost over the parts, in the files and in JSON
    #[arg(long, value_enum, default_value = "area")]
    pub shares: crate::estimate::share::ShareRule,
    /// Print every line of every quantity
    #[arg(long)]
    pub every_line: bool,
    /// How papers are written
    #[command(flatten)]
    pub paper: PaperArgs,
    /// Print the answer as JSON
    #[arg(long)]
    pub json: bool,
    /// Print the answer as CSV, one line for each amount
    #[arg(long, conflicts_with = "json")]
    pub csv: bool,
}

/// `panelwright book`
#[derive(Debug, Args)]
#[command(
    after_help = "Examples:\n  panelwright book out/nest.json --shop demo-data/shop.json\n  \
    panelwright book out/nest.json --sheet 1 --sheet 2 --shop demo-data/shop.json\n  \
    panelwright book out/nest.json --sheet 3 --spoiled 3 --good back,cable-cover:2 \\\n    \
    --of-order demo-data/cabinet-order.json --again-to again.json --shop demo-data/shop.json\n  \
    panelwright book --undo B-0001 --shop demo-data/shop.json"
)]
pub struct BookArgs {
    /// The nest.json that was cut
    #[arg(required_unless_present = "undo")]
    pub nest: Option<PathBuf>,
    /// Shop file
    #[arg(long, value_name = "FILE")]
    pub shop: PathBuf,
    /// Rack file to use instead of the one the shop file names; made when it is not there
    #[arg(long, value_name = "FILE")]
    pub rack: Option<PathBuf>,
    /// Where the offcuts are put
    #[arg(long, value_name = "TEXT")]
    pub place: Option<String>,
    /// Name of the order, for the log; what is held for it may be cut
    #[arg(long, value_name = "NAME")]
    pub order: Option<String>,
    /// Only this sheet of the nest was cut; may be repeated
    #[arg(long = "sheet", value_name = "N")]
    pub sheets: Vec<usize>,
    /// This sheet went wrong half-way: only the copies named by --good came out
    #[arg(long, value_name = "N")]
    pub spoiled: Option<usize>,
    /// Copies on the spoiled sheet that came out good: part, part:copy or kit/part:copy, with commas
    #[arg(
        long,
        value_name = "NAMES",
        value_delimiter = ',',
        requires = "spoiled"
    )]
    pub good: Vec<String>,
    /// Copies on it that were not cut at all, so that their material is sound; named likewise
    #[arg(
        long,
        value_name = "NAMES",
        value_delimiter = ',',
        requires = "spoiled"
    )]
    pub uncut: Vec<String>,
    /// An area of the spoiled sheet that cannot be used any more: corners [[x, y], ...] in its
    /// coordinates, or a file with them; may be repeated
    #[arg(long = "damage", value_name = "JSON", requires = "spoiled")]
    pub damage: Vec<String>,
    /// Write an order for what has to be cut again to this file
    #[arg(long, value_name = "FILE", requires_all = ["spoiled", "of_order"])]
    pub again_to: Option<PathBuf>,
    /// The order that the nest was made of, for the files that the new one names
    #[arg(long, value_name = "FILE", requires = "again_to")]
    pub of_order: Option<PathBuf>,
    /// Book a nest once more because it was cut twice
    #[arg(long)]
    pub again: bool,
    /// Take a booking back instead; what was held for its order is held again until its time is over
    #[arg(long, value_name = "BOOKING", conflicts_with_all = ["nest", "again", "place", "order", "sheets", "spoiled"])]
    pub undo: Option<String>,
    /// Why it is taken back, for the history
    #[arg(long, value_name = "TEXT", requires = "undo")]
    pub reason: Option<String>,
    /// Print the answer as JSON
    #[arg(long)]
    pub json: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_description_of_arguments_holds_together() {
        Cli::described().debug_assert();
    }

    #[test]
    fn long_examples_are_broken_before_options() {
        let text = "Prose that is as long as it likes stays on one line, since it is wrapped to the terminal anyway.\n  \
            panelwright book out/nest.json --sheet 3 --spoiled 3 --good back,cable-cover:2 --shop shop.json\n  short";
        let broken = broken_examples(text);
        let lines: Vec<&str> = broken.lines().collect();
        assert_eq!(
            lines[1..],
            [
                "  panelwright book out/nest.json --sheet 3 --spoiled 3 \\",
                "    --good back,cable-cover:2 --shop shop.json",
                "  short"
            ]
        );
    }

    /// Each command that does something, with its name in full.
    fn leaves(command: &clap::Command, name: &str, into: &mut Vec<(String, String)>) {
        let inner: Vec<_> = command
            .get_subcommands()
            .filter(|c| c.get_name() != "help")
            .collect();
        if inner.is_empty() {
            let more = command.get_after_help().map(ToString::to_string);
            into.push((name.to_owned(), more.unwrap_or_default()));
        }
        for inner in inner {
            leaves(inner, &format!("{name} {}", inner.get_name()), into);
        }
    }

    #[test]
    fn each_command_has_an_example_that_fits() {
        let mut all = Vec::new();
        leaves(&Cli::described(), "panelwright", &mut all);
        assert!(all.len() > 20);
        for (name, text) in all {
            let examples: Vec<&str> = text.lines().filter(|l| l.starts_with("  ")).collect();
            assert!(
                examples.iter().any(|l| l.trim_start().starts_with(&name)),
                "{name}: {text}"
            );
            for line in examples {
                assert!(line.len() <= COLUMNS, "{name}: {line}");
            }
        }
    }

    #[test]
    fn json_is_asked_for_before_the_end_of_options() {
        let args = |text: &str| text.split(' ').map(OsString::from).collect::<Vec<_>>();
        assert!(wants_json(&args("panelwright nest --json x")));
        assert!(!wants_json(&args("panelwright nest -- --json")));
        assert!(!wants_json(&args("panelwright nest --jso")));
    }
}
