//! `nest.json`: the output that anyone can check.
//!
//! Millimetres, y up, angles in degrees counter-clockwise, polygons without a repeated last point,
//! outer rings counter-clockwise. Curves are flattened so that a polygon never shows less material
//! than the true part, within 0.02 mm.

use panelwright_geometry::{Bounds, Point, Polygon, tolerance};
use panelwright_nesting::SawCut;
use panelwright_nesting::verify::{Fault, judge_saw_cuts, pieces_of};
use serde::{Deserialize, Serialize};

/// The value of [`NestFile::format`].
pub const FORMAT: &str = "panelwright-nest-1";

/// A ring of x, y pairs.
pub type Ring = Vec<[f64; 2]>;

/// A whole nest.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct NestFile {
    /// Always [`FORMAT`].
    pub format: String,
    /// Always `mm`.
    pub units: String,
    /// Seed of the search.
    pub seed: u64,
    /// Sheets in cutting order.
    pub sheets: Vec<SheetRecord>,
    /// What is missing.
    pub not_placed: Vec<MissingRecord>,
    /// Sums.
    pub totals: TotalsRecord,
    /// What each option changed; absent without options.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub choices: Vec<ChoiceRecord>,
}

/// One sheet or remnant.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SheetRecord {
    /// Counted from 1.
    pub number: usize,
    /// Material by name.
    pub material: String,
    /// Machine by name.
    pub machine: String,
    /// `free-form` or `guillotine`.
    pub method: String,
    /// What it is cut from.
    pub source: SourceRecord,
    /// Outline of the stock.
    pub outline: Ring,
    /// Voids and flaws of the stock.
    pub voids: Vec<Ring>,
    /// Areas that the machine needs free; parts keep the margin from them too. Absent when there are
    /// none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub keep_clear: Vec<ZoneRecord>,
    /// Least distance from the edge.
    pub margin: f64,
    /// Least distance between two finished outlines.
    pub gap: f64,
    /// Width the tool removes.
    pub kerf: f64,
    /// The parts.
    pub placements: Vec<PlacementRecord>,
    /// Saw cuts in cutting order.
    pub saw_cuts: Vec<SawCutRecord>,
    /// Time for these in seconds, loading and setting up not in it; absent where it is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saw_seconds: Option<f64>,
    /// What is left.
    pub offcuts: Vec<OffcutRecord>,
    /// Part area over stock area.
    #[serde(rename = "yield")]
    pub yield_: f64,
    /// A proven ceiling of that yield.
    pub yield_ceiling: f64,
    /// How many kits are complete once this sheet and those before it are cut.
    #[serde(default)]
    pub kits_complete: u32,
    /// Where its cut file has it; absent where that is as it is here. A sheet that fits its machine's bed only
    /// turned by a quarter is drawn as it lies there.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on_bed: Option<BedRecord>,
    /// What its cut file amounts to; absent for a sheet that the saw frees.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cutting: Option<CuttingRecord>,
}

impl SheetRecord {
    /// What ring is none, if any: it has fewer than three corners.
    #[must_use]
    pub fn wrong_ring(&self) -> Option<String> {
        let stock = std::iter::once(("the sheet".to_owned(), &self.outline));
        let voids = self.voids.iter().map(|r| ("a void".to_owned(), r));
        let zones = (self.keep_clear.iter()).map(|z| (z.why.clone(), &z.outline));
        let parts = self.placements.iter().flat_map(|p| {
            let rings = std::iter::once(&p.outline).chain(&p.holes);
            rings.map(|r| (format!("{} of {}, copy {}", p.part, p.kit, p.copy), r))
        });
        let offcuts = self.offcuts.iter().flat_map(|o| {
            let rings = std::iter::once(&o.outline).chain(&o.voids);
            rings.map(|r| (format!("offcut {}", o.id), r))
        });
        let mut all = stock.chain(voids).chain(zones).chain(parts).chain(offcuts);
        let (of, ring) = all.find(|(_, ring)| ring.len() < 3)?;
        Some(format!("an outline of {of} has {} corners", ring.len()))
    }

    /// Bounding rectangles of the pieces that the saw cuts leave, as far as they can be made. The outline must have
    /// points.
    #[must_use]
    pub fn pieces_sawn(&self) -> Vec<Bounds> {
        pieces_of(
            &Polygon::new(points(&self.outline), Vec::new()),
            &self.cuts(),
        )
    }

    fn cuts(&self) -> Vec<SawCut> {
        let cut = |c: &SawCutRecord| SawCut {
            from: Point::new(c.from[0], c.from[1]),
            to: Point::new(c.to[0], c.to[1]),
            kerf: c.kerf,
            stage: c.stage,
        };
        self.saw_cuts.iter().map(cut).collect()
    }

    /// What is wrong with the saw cuts, if anything: one that cannot be made after those before it, or runs through a part or a
    /// kept rectangle. Outlines must have points.
    #[must_use]
    pub fn wrong_saw_cut(&self) -> Option<String> {
        let cuts = self.cuts();
        // What is written of a part may be larger than it is by the chord error.
        let parts: Vec<(&str, Bounds)> = self
            .placements
            .iter()
            .filter_map(|p| {
                let bounds = Bounds::of_points(points(&p.outline))?;
                Some((p.part.as_str(), bounds.grown(-tolerance::CHORD)))
            })
            .collect();
        let kept = self
            .offcuts
            .iter()
            .filter(|o| o.kept && o.voids.is_empty() && o.outline.len() == 4);
        let kept: Vec<(String, Bounds)> = kept
            .filter_map(|o| {
                let shape = Polygon::new(points(&o.outline), Vec::new());
                let bounds = shape.bounds();
                let square = (bounds.area() - shape.area()).abs()
                    <= tolerance::CHORD * bounds.width().max(bounds.height());
                square.then(|| (format!("offcut {}", o.id), bounds.grown(-tolerance::CHORD)))
            })
            .collect();
        let kept = kept.iter().map(|(name, bounds)| (name.as_str(), *bounds));
        let parts: Vec<(&str, Bounds)> = parts.into_iter().chain(kept).collect();
        // A blade without width that runs along an edge meets nothing.
        let harmless = |fault: &Fault| match fault {
            Fault::CutMeetsNothing { cut, .. } => cuts[cut - 1].kerf <= tolerance::JUDGE,
            _ => false,
        };
        // Flaws are listed among the voids: the saw may run through one, and a void may part what a cut meets.
        let voids: Vec<Vec<Point>> = self.voids.iter().map(|ring| points(ring)).collect();
        let mut faults = [voids, Vec::new()].into_iter().map(|voids| {
            let stock = Polygon::new(points(&self.outline), voids);
            let faults = judge_saw_cuts(&stock, &parts, &cuts, self.number);
            faults.into_iter().find(|f| !harmless(f))
        });
        let first = faults.next()??;
        faults.next()?.map(|_| first.to_string())
    }
}

fn points(ring: &[[f64; 2]]) -> Vec<Point> {
    ring.iter().map(|[x, y]| Point::new(*x, *y)).collect()
}

/// How much cutting a sheet is. Lengths in millimetres.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CuttingRecord {
    /// `finished` or `tool-path`: what the lines of the cut file are.
    pub lines: String,
    /// Length of the cuts, leads included.
    pub cut_length: f64,
    /// Length of the marks.
    pub mark_length: f64,
    /// How often the tool goes through the sheet.
    pub pierces: usize,
    /// Length of the moves between cuts, from the corner of the piece to the last cut.
    pub travel: f64,
    /// Length of these moves if everything was cut in the order in which it is listed here.
    pub travel_as_listed: f64,
    /// Tabs left on small parts.
    pub tabs: usize,
    /// Time in seconds, where the shop file tells the feed; loading is not in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seconds: Option<f64>,
}

/// An area that the machine needs free. The material in it is sound: offcuts may have it in them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ZoneRecord {
    /// What is there.
    pub why: String,
    /// Outline.
    pub outline: Ring,
}

/// Where a sheet comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SourceRecord {
    /// `sheet` or `remnant`.
    pub kind: String,
    /// Identity.
    pub id: String,
    /// Price or book value.
    pub price: f64,
    /// The purchase it came from, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lot: Option<String>,
}

/// One copy of a part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlacementRecord {
    /// The part's name.
    pub part: String,
    /// Its kit's name.
    pub kit: String,
    /// Copy, counted from 1.
    pub copy: u32,
    /// Number of the kit it belongs to among the kits of that name; absent for a single part.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kit_number: Option<u32>,
    /// Turn in degrees, counter-clockwise.
    pub angle: f64,
    /// Where the drawing's origin lies.
    pub origin: [f64; 2],
    /// Whether it has to stay there when the nest is taken up again. The one thing in the file that
    /// is meant to be edited, with `angle` and `origin`; absent for false.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub pinned: bool,
    /// Outside.
    pub outline: Ring,
    /// Holes.
    pub holes: Vec<Ring>,
}

/// One saw cut.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SawCutRecord {
    /// One end of the centre line.
    pub from: [f64; 2],
    /// The other end.
    pub to: [f64; 2],
    /// Width of the cut.
    pub kerf: f64,
    /// Stage; 0 for trims.
    pub stage: u32,
}

/// How a sheet is moved to where it lies on the bed: first turned about 0, 0, then shifted, as a placement is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BedRecord {
    /// The turn in degrees, counter-clockwise.
    pub angle: f64,
    /// Where the sheet's 0, 0 comes to lie.
    pub origin: [f64; 2],
}

/// One left-over.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OffcutRecord {
    /// Identity within the nest.
    pub id: String,
    /// Outline.
    pub outline: Ring,
    /// Holes in it.
    pub voids: Vec<Ring>,
    /// Area less holes.
    pub area: f64,
    /// Whether it is kept.
    pub kept: bool,
}

/// Copies that could not be placed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MissingRecord {
    /// The part's name.
    pub part: String,
    /// Its kit's name.
    pub kit: String,
    /// How many.
    pub quantity: u32,
    /// Why.
    pub why: String,
}

/// Sums over all sheets.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TotalsRecord {
    /// Area of the parts, holes not counted.
    pub part_area: f64,
    /// Area of the stock taken.
    pub taken_area: f64,
    /// Area of the offcuts kept.
    pub kept_area: f64,
    /// Part area over taken area.
    #[serde(rename = "yield")]
    pub yield_: f64,
    /// Part area over taken less kept area.
    pub net_yield: f64,
    /// What the nest costs.
    pub spend: f64,
    /// A proven floor of that.
    pub least_spend: f64,
    /// Kits ordered.
    #[serde(default)]
    pub kits: u32,
    /// Kits of which every part is placed.
    #[serde(default)]
    pub kits_complete: u32,
}

/// An option of the nest, and the same order nested without it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChoiceRecord {
    /// The option as typed.
    pub option: String,
    /// What it led to.
    pub result: String,
    /// Spend with it, before any option that is named after it.
    pub spend_with: f64,
    /// Spend without it.
    pub spend_without: f64,
    /// Copies missing with it.
    pub missing_with: u32,
    /// Copies missing without it.
    pub missing_without: u32,
    /// Without it: kits complete after each sheet.
    pub kits_complete_without: Vec<u32>,
}
