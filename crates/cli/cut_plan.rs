//! What is cut from what: the judged nest in the order's own words, ready for files and papers.

use crate::job::Job;
use crate::paper::Paper;
use crate::toolpath::{Finishing, ToolPaths};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon};
use panelwright_nesting::{SawCut, StockKind, Turn, Why};
use std::collections::BTreeSet;

/// Every sheet of a job, judged, and what is missing.
#[derive(Debug, Clone)]
pub struct CutPlan {
    /// Seed of the search.
    pub seed: u64,
    /// Sheets and remnants in cutting order.
    pub sheets: Vec<CutSheet>,
    /// What could not be placed.
    pub missing: Vec<Missing>,
    /// Sums over all sheets.
    pub totals: Totals,
    /// Kits ordered, all together.
    pub kits: u32,
    /// What the options of the nest changed, one entry each.
    pub choices: Vec<Choice>,
    /// How the search went, for papers: time-limited results are not repeatable.
    pub repeatable: bool,
    /// What was noticed while a nest was taken up again, and what the rack has no room for.
    pub notes: Vec<String>,
    /// What router and laser follow on each sheet; empty until it is worked out
    /// ([`crate::toolpath::of_plan`]).
    pub paths: Vec<ToolPaths>,
    /// How sawn parts are finished on the router; empty until it is worked out
    /// ([`crate::toolpath::of_finishing`]).
    pub finishing: Vec<Finishing>,
}

/// An option of the nest, and the same order nested without it.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The option as typed, such as `--kits-early`.
    pub option: String,
    /// What it led to, in a few words.
    pub result: String,
    /// Spend with it, before any option that is named after it.
    pub spend_with: f64,
    /// Spend without it.
    pub spend_without: f64,
    /// Copies missing with it.
    pub missing_with: u32,
    /// Copies missing without it.
    pub missing_without: u32,
    /// Without it: how many kits are complete after each sheet.
    pub complete_without: Vec<u32>,
}

/// One sheet or remnant and everything cut from it. Coordinates are the stock's own.
#[derive(Debug, Clone)]
pub struct CutSheet {
    /// Counted from 1 over the whole plan.
    pub number: usize,
    /// Index into the shop's materials.
    pub material: usize,
    /// Index into the shop's machines: the one that frees the parts.
    pub machine: usize,
    /// Index of the saw that makes blanks or sawn parts, if any cut is sawn.
    pub saw: Option<usize>,
    /// Whether saw cuts free the parts.
    pub guillotine: bool,
    /// What it is cut from.
    pub source: Source,
    /// Outline of the stock, without its voids.
    pub outline: Vec<Point>,
    /// Voids of the stock.
    pub voids: Vec<Vec<Point>>,
    /// Flaws of the stock.
    pub flaws: Vec<Vec<Point>>,
    /// What the machine needs free there.
    pub zones: Vec<Zone>,
    /// Direction of the grain in degrees, if the stock has one.
    pub grain_deg: Option<f64>,
    /// Least distance from the edge that holds on this sheet.
    pub margin: f64,
    /// Least distance between finished outlines that holds on this sheet.
    pub gap: f64,
    /// Width removed by the tool that frees the parts.
    pub kerf: f64,
    /// The parts in cutting order: a part inside a window of another comes before that other.
    pub parts: Vec<CutPart>,
    /// Saw cuts in cutting order.
    pub saw_cuts: Vec<SawCut>,
    /// Blanks that go on to the machine; empty when the stock goes there whole.
    pub blanks: Vec<Bounds>,
    /// What is left.
    pub offcuts: Vec<CutOffcut>,
    /// Part area over stock area.
    pub yield_: f64,
    /// Part area over (stock area less kept offcuts).
    pub net_yield: f64,
    /// A yield that no layout of this job's parts on this stock can beat.
    pub yield_ceiling: f64,
    /// What this sheet costs: see the totals.
    pub spend: f64,
    /// How many kits are complete once this sheet and all before it are cut.
    pub kits_complete: u32,
}

/// An area that the machine needs free while it cuts; the material in it is sound.
#[derive(Debug, Clone, PartialEq)]
pub struct Zone {
    /// What is there.
    pub why: String,
    /// Its corners, in the stock's coordinates.
    pub outline: Vec<Point>,
}

/// Where a sheet comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Bought sheet or logged remnant.
    pub kind: StockKind,
    /// Identity of the sheet size or of the remnant.
    pub id: String,
    /// Price of the sheet or book value of the remnant.
    pub price: f64,
    /// Where it stands.
    pub place: Option<String>,
    /// Its lot.
    pub lot: Option<String>,
}

/// One copy of a part where it is cut.
#[derive(Debug, Clone)]
pub struct CutPart {
    /// Index into the job's items.
    pub item: usize,
    /// Copy of that item, counted from 1 over the whole plan.
    pub copy: u32,
    /// Number of the kit it belongs to among the kits of its name, counted from 1; `None` for a
    /// single part.
    pub kit_number: Option<u32>,
    /// Its turn and place.
    pub placement: Placement,
    /// True outline where it lies.
    pub outline: Outline,
    /// Index into this sheet's parts: the part whose window it lies in.
    pub inside: Option<usize>,
    /// Whether it was pinned there by the user.
    pub pinned: bool,
}

/// A left-over of a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct CutOffcut {
    /// Identity within the plan, such as `3A`; the rack gives a lasting one when it is booked.
    pub id: String,
    /// Outline with its voids as holes.
    pub outline: Polygon,
    /// Whether the keep rule keeps it.
    pub kept: bool,
    /// Book value; 0 when not kept.
    pub value: f64,
}

/// Copies that could not be placed.
#[derive(Debug, Clone, PartialEq)]
pub struct Missing {
    /// Index into the job's items.
    pub item: usize,
    /// How many.
    pub quantity: u32,
    /// Why, as a sentence.
    pub why: String,
    /// Why; papers say it in their language.
    pub cause: Cause,
}

/// Why copies could not be placed.
#[derive(Debug, Clone, PartialEq)]
pub enum Cause {
    /// As the search tells it.
    Search(Why),
    /// All that it fits on is used up, but for sheets, by id, that the saw cannot cut it from.
    PassedOver(Vec<String>),
    /// All that it fits on is larger than the machine's bed, and the shop has no saw.
    LargerThanBed,
    /// It would fit but for what the machine needs free: what is there, by name.
    KeptClear(Vec<String>),
    /// It would fit at a turn that the part does not allow.
    TurnRuledOut {
        /// The part's turn.
        turn: Turn,
        /// The turn that is enough.
        needed: Turn,
        /// Whether it is for the grain, not for the size.
        grain: bool,
    },
}

impl Cause {
    /// The cause as a sentence, names of material and machine filled in.
    #[must_use]
    pub fn words(&self, material: &str, machine: &str, paper: Paper) -> String {
        let named = [("material", material.into()), ("machine", machine.into())];
        match self {
            Self::Search(Why::TooLarge) => paper.say_with("why-too-large", &named),
            Self::Search(Why::FaceOrGrain) => paper.say_with("why-face-or-grain", &named),
            Self::Search(Why::SawLimits) => paper.say_with("why-saw-limits", &named),
            Self::Search(Why::TooNarrow) => paper.say_with("why-too-narrow", &named),
            Self::Search(Why::CannotTrim) => paper.say_with("why-cannot-trim", &named),
            Self::Search(Why::Stopped) => paper.say("why-stopped"),
            Self::Search(Why::StockUsedUp) => paper.say_with("why-used-up", &named),
            Self::PassedOver(sheets) => {
                let [material, machine] = named;
                let values = [material, machine, ("sheets", sheets.join(", ").into())];
                paper.say_with("why-passed-over", &values)
            }
            Self::LargerThanBed => paper.say_with("why-bed", &named),
            Self::KeptClear(what) => {
                let [material, machine] = named;
                let values = [material, machine, ("what", what.join(", ").into())];
                paper.say_with("why-kept-clear", &values)
            }
            Self::TurnRuledOut {
                turn,
                needed,
                grain,
            } => {
                let values = [
                    ("material", material.into()),
                    ("turn", turn_word(*turn).into()),
                    ("needed", turn_word(*needed).into()),
                ];
                if *grain {
                    paper.say_with("why-turn-grain", &values)
                } else {
                    paper.say_with("why-turn", &values)
                }
            }
        }
    }
}

/// A turn as kit files have it, in every language.
fn turn_word(turn: Turn) -> &'static str {
    match turn {
        Turn::None => "none",
        Turn::Half => "half",
        Turn::Quarter => "quarter",
        Turn::Free => "free",
    }
}

/// Sums over all sheets of a plan. Areas in square millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Totals {
    /// Area of the parts placed, holes not counted.
    pub part_area: f64,
    /// Area of sheets and remnants taken.
    pub taken_area: f64,
    /// Area of the offcuts kept.
    pub kept_area: f64,
    /// Part area over taken area.
    pub yield_: f64,
    /// Part area over taken less kept area.
    pub net_yield: f64,
    /// A yield that no plan of these parts can beat on any of the shop's stock.
    pub yield_ceiling: f64,
    /// A net yield that none can beat.
    pub net_yield_ceiling: f64,
    /// Price of the sheets taken.
    pub sheets: f64,
    /// Book value of the remnants taken.
    pub remnants: f64,
    /// Book value of the offcuts kept.
    pub offcuts: f64,
    /// Disposal of scrap less recycling credit.
    pub scrap: f64,
    /// Sheets + remnants - offcuts + scrap.
    pub spend: f64,
    /// A spend that no plan of this job can beat.
    pub least_spend: f64,
}

impl CutSheet {
    /// Outline with voids as holes.
    #[must_use]
    pub fn polygon(&self) -> Polygon {
        Polygon::new(self.outline.clone(), self.voids.clone())
    }
}

impl CutPlan {
    /// How many parts are placed in all.
    #[must_use]
    pub fn part_count(&self) -> usize {
        self.sheets.iter().map(|s| s.parts.len()).sum()
    }

    /// The parts that the router finishes after the saw, as indices into the job's items, in rising order.
    ///
    /// # Panics
    /// When the plan refers to items that `job` does not have.
    #[must_use]
    pub fn finished(&self, job: &Job) -> BTreeSet<usize> {
        let sawn = self.sheets.iter().filter(|s| s.guillotine);
        let items = sawn.flat_map(|s| &s.parts).map(|p| p.item);
        items.filter(|i| job.items[*i].finish_on_router).collect()
    }

    /// How many kits are complete when all is cut.
    #[must_use]
    pub fn kits_complete(&self) -> u32 {
        self.sheets.last().map_or(0, |s| s.kits_complete)
    }

    /// How many copies could not be placed.
    #[must_use]
    pub fn missing_count(&self) -> u32 {
        self.missing.iter().map(|m| m.quantity).sum()
    }

    /// How many copies were wanted in all.
    #[must_use]
    pub fn wanted(job: &Job) -> u32 {
        job.items.iter().map(|i| i.quantity).sum()
    }
}
