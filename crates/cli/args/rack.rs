//! `panelwright rack` as typed.

use super::{LabelArgs, PaperArgs};
use clap::{Args, Subcommand, ValueEnum};
use std::path::PathBuf;

/// `panelwright rack`
#[derive(Debug, Args)]
pub struct RackArgs {
    /// What to do with the rack.
    #[command(subcommand)]
    pub command: RackCommand,
}

/// Where the rack is.
#[derive(Debug, Args)]
pub struct RackPlace {
    /// Shop file
    #[arg(long, value_name = "FILE")]
    pub shop: PathBuf,
    /// Rack file to use instead of the one the shop file names; the first change makes it
    #[arg(long, value_name = "FILE")]
    pub rack: Option<PathBuf>,
    /// Print the answer as JSON
    #[arg(long)]
    pub json: bool,
}

/// How a piece leaves the rack that is not cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum StateWord {
    /// Another reason, such as sold
    Retired,
    /// Thrown away
    ThrownOut,
    /// Given to a recycler
    Recycled,
    /// Not found where it should be
    Lost,
}

/// The rack's commands.
#[derive(Debug, Subcommand)]
pub enum RackCommand {
    /// What stands on the rack
    #[command(
        after_help = "Examples:\n  panelwright rack list --shop demo-data/shop.json\n  \
        panelwright rack list --material acrylic-3-clear --page 2 --shop demo-data/shop.json"
    )]
    List(ListArgs),
    /// How many sheets of each size are in stock; or set a count after a recount
    #[command(
        after_help = "Examples:\n  panelwright rack stock --shop demo-data/shop.json\n  \
        panelwright rack stock composite-2440x1220 --count 20 --reason \"recount\" \\\n    \
        --shop demo-data/shop.json\n\n\
        A delivery is better written down with `rack receive`: that keeps its lot and price."
    )]
    Stock(StockArgs),
    /// Write down sheets that came in, with lot and price; or list all purchases
    #[command(
        after_help = "Examples:\n  panelwright rack receive composite-2440x1220 --count 10 \
        --lot CW-2612 --price 79.50 \\\n    \
        --shop demo-data/shop.json\n  \
        panelwright rack receive --shop demo-data/shop.json"
    )]
    Receive(ReceiveArgs),
    /// What was booked
    #[command(after_help = "Example:\n  panelwright rack bookings --shop demo-data/shop.json")]
    Bookings(RackPlace),
    /// Log a remnant
    #[command(after_help = "Examples:\n  \
        panelwright rack add --shop demo-data/shop.json --material composite-3-white --size 800x450 \\\n    \
        --place \"bay B2\"\n  \
        panelwright rack add --shop demo-data/shop.json --material composite-3-white \\\n    \
        --outline \"[[0,0],[900,0],[900,300],[400,300],[400,700],[0,700]]\"")]
    Add(AddArgs),
    /// Everything about one remnant
    #[command(after_help = "Example:\n  panelwright rack show R-0001 --shop demo-data/shop.json")]
    Show(ShowArgs),
    /// Which remnants take a part or a small order, best first
    #[command(after_help = "Examples:\n  \
        panelwright rack fit demo-data/cabinet-order.json --part door-frame \\\n    \
        --shop demo-data/shop.json --picture fit.svg\n  \
        panelwright rack fit demo-data/germination-cabinet.json --part door-glazing \\\n    \
        --role clear=acrylic-3-clear --shop demo-data/shop.json\n  \
        panelwright rack fit demo-data/drawings/side.dxf --material composite-3-white \\\n    \
        --route router --shop demo-data/shop.json\n\n\
        Exit code 1 when no remnant takes it.")]
    Fit(FitArgs),
    /// Keep remnants and sheets for an order: nests and bookings of others leave them alone until the hold ends
    #[command(
        after_help = "A sheet size that is named more than once is held as often, with what --nest takes of it. Asked for again, \
        the number of a size is the one that is held for the order from then on, more or less than before, and a hold ends on \
        the later of both days.\n\n\
        Example:\n  panelwright rack hold R-0003 composite-2440x1220:2 --order GC-7 --days 10 --shop demo-data/shop.json"
    )]
    Hold(HoldArgs),
    /// End a hold before its time
    #[command(
        after_help = "Example:\n  panelwright rack release R-0003 --reason \"order was cancelled\" --shop demo-data/shop.json"
    )]
    Release(ReleaseArgs),
    /// Take a remnant off the rack that was not cut: thrown out, recycled, lost, sold
    #[command(
        after_help = "Example:\n  panelwright rack retire R-0001 --as thrown-out --reason \"corner broken off\" \\\n    \
        --shop demo-data/shop.json"
    )]
    Retire(RetireArgs),
    /// Put a remnant back that was lost or left the rack by mistake
    #[command(
        after_help = "Example:\n  panelwright rack found R-0001 --place \"bay C1\" --reason \"behind the acrylic\" \\\n    \
        --shop demo-data/shop.json"
    )]
    Found(FoundArgs),
    /// Write down that a remnant stands somewhere else now
    #[command(
        after_help = "Example:\n  panelwright rack move R-0001 \"bay C1\" --shop demo-data/shop.json"
    )]
    Move(MoveArgs),
    /// Write down what is to be said of a remnant, or where its photo is
    #[command(
        after_help = "Example:\n  panelwright rack note R-0001 --note \"film torn at one end\" --shop demo-data/shop.json"
    )]
    Note(NoteArgs),
    /// Count the rack: a list to walk with, and what was found entered from it
    #[command(
        after_help = "Examples:\n  panelwright rack count --list count.csv --shop demo-data/shop.json\n  \
        panelwright rack count --enter count.csv --reason \"count of November\" --shop demo-data/shop.json\n\n\
        Fill in 'found' (yes or no; for sheets how many) and, where a piece stands somewhere else, 'place_now'. \
        What is left empty stays as it is. What is booked or received between list and entry is reckoned with, \
        by the column 'ledger', which has to stay as it is."
    )]
    Count(CountArgs),
    /// What should leave a rack that is full: the least valuable pieces, as a proposal
    #[command(
        after_help = "How much the rack holds stands in the shop file under \"room\"; --pieces and --area ask for another \
        limit, for each material or for a place. Pieces leave from the least valuable on until the limit holds; then those come \
        back that fit into the room that is left, the most valuable first. What is held stays.\n\n\
        Example:\n  panelwright rack space --pieces 40 --shop demo-data/shop.json"
    )]
    Space(SpaceArgs),
    /// Print labels: identity, sizes, sketch and QR code, as an HTML page
    #[command(
        after_help = "Example:\n  panelwright rack labels R-0001 R-0002 --out labels.html --shop demo-data/shop.json"
    )]
    Labels(RackLabelArgs),
    /// Write all remnants on the rack to a list (CSV or JSON)
    #[command(
        after_help = "Example:\n  panelwright rack export remnants.csv --shop demo-data/shop.json"
    )]
    Export(ExportArgs),
    /// Log the remnants of a list (CSV or JSON), all of them or none
    #[command(
        after_help = "Example:\n  panelwright rack import remnants.csv --shop demo-data/shop.json\n\n\
        `panelwright rack export` shows how a list is written. Where no id is given, the rack gives the next free one."
    )]
    Import(ImportArgs),
    /// Look through the whole file: is it sound, is everything accounted for
    #[command(
        after_help = "Exit code 1 when something is wrong, 2 when the file cannot be read.\n\n\
        Example:\n  panelwright rack check --shop demo-data/shop.json"
    )]
    Check(RackPlace),
    /// Copy the rack while it is in use; the copy is checked
    #[command(
        after_help = "Example:\n  panelwright rack backup rack-2026-11-25.db --shop demo-data/shop.json\n\n\
        To restore, close every program that uses the rack and put the copy in its place, without \
        the old file's -wal and -shm."
    )]
    Backup(BackupArgs),
}

/// `panelwright rack list`
#[derive(Debug, Args)]
pub struct ListArgs {
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
    /// Only this material
    #[arg(long)]
    pub material: Option<String>,
    /// Also what was cut or left the rack
    #[arg(long)]
    pub all: bool,
    /// Only entries with this text in identity, place, lot or note
    #[arg(long, value_name = "TEXT")]
    pub text: Option<String>,
    /// Show this page of a long list
    #[arg(long, value_name = "N")]
    pub page: Option<usize>,
    /// Rows on a page
    #[arg(long, value_name = "N", default_value_t = 100)]
    pub rows: usize,
}

/// `panelwright rack stock`
#[derive(Debug, Args)]
pub struct StockArgs {
    /// Identity of the sheet size to count
    #[arg(requires = "count")]
    pub sheet: Option<String>,
    /// How many there are now
    #[arg(long, value_name = "N", requires_all = ["sheet", "reason"])]
    pub count: Option<u32>,
    /// Why the count changes; a count needs it
    #[arg(long, value_name = "TEXT", requires = "count")]
    pub reason: Option<String>,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack receive`
#[derive(Debug, Args)]
pub struct ReceiveArgs {
    /// Identity of the sheet size
    #[arg(requires = "count")]
    pub sheet: Option<String>,
    /// How many came, 1 to 1000000; a sheet size needs it
    #[arg(long, value_name = "N", requires = "sheet")]
    pub count: Option<u32>,
    /// Name of the purchase
    #[arg(long, requires = "sheet")]
    pub lot: Option<String>,
    /// What one sheet cost; kept with the purchase, nests and estimates take the shop file's price
    #[arg(long, value_name = "AMOUNT", requires = "sheet")]
    pub price: Option<f64>,
    /// Anything else
    #[arg(long, requires = "sheet")]
    pub note: Option<String>,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack add`
#[derive(Debug, Args)]
pub struct AddArgs {
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
    /// Material by name
    #[arg(long)]
    pub material: String,
    /// Size of a rectangle in millimetres, LENGTHxWIDTH
    #[arg(long, value_name = "LxW", required_unless_present_any = ["outline", "drawing"])]
    pub size: Option<String>,
    /// Corners in millimetres, good face up: JSON text, or a file with it
    #[arg(long, value_name = "JSON", conflicts_with = "size")]
    pub outline: Option<String>,
    /// Drawing of the piece, good face up (DXF or SVG): its outline and voids
    #[arg(long, value_name = "FILE", conflicts_with_all = ["size", "outline"])]
    pub drawing: Option<PathBuf>,
    /// A hole in it, as for --outline; may be repeated
    #[arg(long = "void", value_name = "JSON")]
    pub voids: Vec<String>,
    /// An area to avoid, as for --outline; may be repeated
    #[arg(long = "flaw", value_name = "JSON")]
    pub flaws: Vec<String>,
    /// The purchase its sheet came from
    #[arg(long)]
    pub lot: Option<String>,
    /// Direction of the grain in degrees from x
    #[arg(long, value_name = "DEGREES")]
    pub grain: Option<f64>,
    /// How many faces are good [default: as the material]
    #[arg(long, value_name = "N")]
    pub good_faces: Option<u8>,
    /// Where it stands
    #[arg(long)]
    pub place: Option<String>,
    /// Anything else
    #[arg(long)]
    pub note: Option<String>,
}

/// `panelwright rack show`
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// Identity of the remnant
    pub id: String,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack fit`
#[derive(Debug, Args)]
pub struct FitArgs {
    /// Order (JSON), kit (JSON) or drawing (DXF, SVG)
    pub file: PathBuf,
    /// Only this part of the order or kit
    #[arg(long, value_name = "NAME")]
    pub part: Option<String>,
    /// How many of the part, or of each part of the kit [default: 1, of a kit as it says]
    #[arg(long, value_name = "N")]
    pub quantity: Option<u32>,
    /// Which material fills a role of the kit; may be repeated
    #[arg(long = "role", value_name = "ROLE=MATERIAL")]
    pub roles: Vec<String>,
    /// Material of a drawing
    #[arg(long)]
    pub material: Option<String>,
    /// How a drawing is cut: saw, saw-then-router, router or laser
    #[arg(long, default_value = "router")]
    pub route: String,
    /// How a drawing may be turned: none, half, quarter or free
    #[arg(long, default_value = "quarter")]
    pub turn: String,
    /// Tell at most so many remnants
    #[arg(long, value_name = "N", default_value_t = 5)]
    pub best: usize,
    /// Draw how the parts lie on them to this SVG file
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Hold the best one for this order; what it holds already may be taken
    #[arg(long, value_name = "ORDER")]
    pub hold: Option<String>,
    /// Hold it for so many days, 1 to 366
    #[arg(long, value_name = "N", default_value_t = 7)]
    pub days: u16,
    /// Also look at remnants that are held for other orders
    #[arg(long, conflicts_with = "hold")]
    pub held_too: bool,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack hold`
#[derive(Debug, Args)]
pub struct HoldArgs {
    /// Identities of the remnants, and sheets as ID or ID:COUNT
    #[arg(required_unless_present = "nest")]
    pub ids: Vec<String>,
    /// Hold every remnant and every counted sheet that this nest.json takes
    #[arg(long, value_name = "NEST.JSON")]
    pub nest: Option<PathBuf>,
    /// Name or number of the order
    #[arg(long, value_name = "NAME")]
    pub order: String,
    /// After so many days, 1 to 366, they are free by themselves
    #[arg(long, value_name = "N", default_value_t = 7)]
    pub days: u16,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack release`
#[derive(Debug, Args)]
pub struct ReleaseArgs {
    /// Identities of the remnants and sheets
    #[arg(required_unless_present = "order")]
    pub ids: Vec<String>,
    /// Only what is held for this order; without identities all of it
    #[arg(long, value_name = "NAME")]
    pub order: Option<String>,
    /// Why
    #[arg(long)]
    pub reason: String,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack retire`
#[derive(Debug, Args)]
pub struct RetireArgs {
    /// Identity of the remnant
    pub id: String,
    /// What became of it
    #[arg(long = "as", value_enum, default_value = "retired")]
    pub state: StateWord,
    /// Why
    #[arg(long)]
    pub reason: String,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack found`
#[derive(Debug, Args)]
pub struct FoundArgs {
    /// Identity of the remnant
    pub id: String,
    /// Where it stands now
    #[arg(long)]
    pub place: Option<String>,
    /// How it was found, or what the mistake was
    #[arg(long)]
    pub reason: String,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack move`
#[derive(Debug, Args)]
pub struct MoveArgs {
    /// Identity of the remnant
    pub id: String,
    /// Where it stands now
    pub place: String,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack note`
#[derive(Debug, Args)]
pub struct NoteArgs {
    /// Identity of the remnant
    pub id: String,
    /// What is to be said; replaces what was
    #[arg(long, value_name = "TEXT", required_unless_present = "photo")]
    pub note: Option<String>,
    /// File name of a photo
    #[arg(long, value_name = "FILE")]
    pub photo: Option<String>,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack count`
#[derive(Debug, Args)]
pub struct CountArgs {
    /// Write the list to walk with to this CSV file
    #[arg(long, value_name = "FILE", required_unless_present = "enter")]
    pub list: Option<PathBuf>,
    /// Enter the differences from the filled-in list
    #[arg(
        long,
        value_name = "FILE",
        conflicts_with = "list",
        requires = "reason"
    )]
    pub enter: Option<PathBuf>,
    /// What count it was
    #[arg(long, value_name = "TEXT")]
    pub reason: Option<String>,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack space`
#[derive(Debug, Args)]
pub struct SpaceArgs {
    /// Most pieces, of each material or at the place
    #[arg(long, value_name = "N")]
    pub pieces: Option<u32>,
    /// Most area in square metres, of each material or at the place
    #[arg(long, value_name = "M2")]
    pub area: Option<f64>,
    /// Only this material
    #[arg(long)]
    pub material: Option<String>,
    /// Only this place; bay B2 is in bay B
    #[arg(long)]
    pub place: Option<String>,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack labels`
#[derive(Debug, Args)]
pub struct RackLabelArgs {
    /// Identities of the remnants [default: all on the rack]
    pub ids: Vec<String>,
    /// The page to write
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,
    /// What they are printed on
    #[command(flatten)]
    pub labels: LabelArgs,
    /// How papers are written
    #[command(flatten)]
    pub paper: PaperArgs,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack export`
#[derive(Debug, Args)]
pub struct ExportArgs {
    /// The list to write; its ending (.csv or .json) tells the kind
    pub to: PathBuf,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack import`
#[derive(Debug, Args)]
pub struct ImportArgs {
    /// The list; its ending (.csv or .json) tells the kind
    pub from: PathBuf,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}

/// `panelwright rack backup`
#[derive(Debug, Args)]
pub struct BackupArgs {
    /// The copy to write; never replaces a file
    pub to: PathBuf,
    /// Where the rack is.
    #[command(flatten)]
    pub at: RackPlace,
}
