//! The shop file: materials, machines, sheets with prices and stock, keep rules.

use crate::area::m2;
use panelwright_geometry::{Bounds, Point};
use serde::Deserialize;

/// A shop file as written. Lengths in its own unit, see [`super::Unit`].
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShopFile {
    /// Always `panelwright-shop-1`.
    pub format: String,
    /// Name of the shop, for papers.
    pub shop: String,
    /// Unit of every length in this file.
    #[serde(default)]
    pub units: super::Unit,
    /// Currency label, for printing only.
    pub currency: String,
    /// What sheets are made of.
    pub materials: Vec<Material>,
    /// What cuts them.
    pub machines: Vec<Machine>,
    /// Stock as bought.
    pub sheets: Vec<Sheet>,
    /// Labour rates.
    #[serde(default)]
    pub labour: Option<Labour>,
    /// What estimates work out money and time with.
    #[serde(default)]
    pub costing: super::Costing,
    /// How papers are written.
    #[serde(default)]
    pub papers: super::Papers,
    /// A readable list of remnants, relative to this file; read until the rack file exists.
    #[serde(default)]
    pub remnants: Option<String>,
    /// The rack file (SQLite), relative to this file; made by the first booking.
    #[serde(default)]
    pub rack: Option<String>,
    /// How much the rack holds.
    #[serde(default)]
    pub room: Vec<Room>,
}

/// How much a place of the rack holds, or the whole of it, of one material or of all: so many pieces, so much
/// area, or both.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Room {
    /// Only pieces of this material.
    pub material: Option<String>,
    /// Only pieces that stand there; bay B2 is in bay B.
    pub place: Option<String>,
    /// Most pieces.
    pub pieces: Option<u32>,
    /// Most area in square metres.
    pub area_m2: Option<f64>,
}

impl Room {
    /// In words.
    #[must_use]
    pub fn name(&self) -> String {
        let words: Vec<&str> = [&self.place, &self.material]
            .into_iter()
            .flatten()
            .map(|s| s.as_str())
            .collect();
        match words.as_slice() {
            [] => "the rack".to_owned(),
            some => some.join(", "),
        }
    }
}

/// What a sheet is made of; decides which machines may cut it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Substance {
    /// Two aluminium skins on a polyethylene or mineral core.
    Composite,
    /// Acrylic glass, cast or extruded.
    Acrylic,
    /// Solid aluminium.
    Aluminium,
    /// Polycarbonate.
    Polycarbonate,
    /// Medium-density fibreboard.
    Mdf,
    /// Plywood.
    Plywood,
    /// PVC and every other chlorinated plastic.
    #[serde(alias = "pvc", alias = "vinyl", alias = "cpvc")]
    ChlorinatedPlastic,
    /// Anything else; never cut by laser, because what it gives off is not known.
    Other,
}

/// A substance at one thickness and finish.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// Name that kits and sheets use.
    pub name: String,
    /// What it is made of.
    pub substance: Substance,
    /// Thickness.
    pub thickness: f64,
    /// Colour, surface.
    #[serde(default)]
    pub finish: String,
    /// How many faces are good: 0, 1 or 2.
    #[serde(default = "one")]
    pub good_faces: u8,
    /// Whether it has a grain (brushing, film arrows), along the length of its sheets.
    #[serde(default)]
    pub grain: bool,
    /// Mass in kg per square metre, for lifting notes.
    pub kg_per_m2: f64,
    /// Which left-overs are kept.
    pub keep: Keep,
    /// Cost of throwing scrap away, per square metre.
    #[serde(default)]
    pub disposal_per_m2: f64,
    /// What a recycler pays for scrap, per square metre.
    #[serde(default)]
    pub recycling_credit_per_m2: f64,
}

impl Material {
    /// Mass of a piece in kg; its area in square millimetres.
    #[must_use]
    pub fn mass(&self, area: f64) -> f64 {
        m2(area) * self.kg_per_m2
    }
}

fn one() -> u8 {
    1
}

/// Which left-overs are kept and what they are worth.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Keep {
    /// Least shorter side of the rectangle inside.
    pub least_width: f64,
    /// Least longer side of the rectangle inside.
    pub least_length: f64,
    /// Value per area as a share (0 to 1) of a new sheet's price per area.
    pub value_share: f64,
    /// What labelling, logging and storing one piece costs; taken off its value.
    #[serde(default)]
    pub handling: f64,
    /// Width along the border of a piece that is lost when it is cut later, as a rule the margin of the
    /// machine; it counts nothing in the value.
    #[serde(default)]
    pub edge: f64,
    /// Parts that are cut often: a left-over that holds one of them is kept too, and is the last to leave
    /// a full rack.
    #[serde(default)]
    pub cut_often: Vec<CutOften>,
}

impl Keep {
    /// No left-over is kept any more; what scrap costs stays.
    pub fn nothing(&mut self) {
        // No rectangle is as large as that.
        (self.least_width, self.least_length) = (f64::INFINITY, f64::INFINITY);
        self.cut_often.clear();
    }
}

/// A part that the shop cuts often, by the size of its bounding rectangle.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CutOften {
    /// What it is called, for people.
    pub part: String,
    /// Length.
    pub length: f64,
    /// Width.
    pub width: f64,
    /// How many are cut, in whatever time, beside the other ones listed.
    #[serde(default = "one_copy")]
    pub copies: f64,
}

fn one_copy() -> f64 {
    1.0
}

/// How a machine works.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Process {
    /// A panel saw: edge-to-edge cuts.
    Saw,
    /// A router.
    Router,
    /// A laser.
    Laser,
}

/// A machine of the shop.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Machine {
    /// Name for papers.
    pub name: String,
    /// How it works.
    pub process: Process,
    /// Width its tool removes.
    pub kerf: f64,
    /// Largest piece it takes, length and width (router, laser).
    #[serde(default)]
    pub bed: Option<[f64; 2]>,
    /// Least distance between two finished outlines (router, laser); the kerf when not given.
    #[serde(default)]
    pub gap: Option<f64>,
    /// Least distance from the edge of the stock (router, laser; on the saw from the edge of a
    /// remnant).
    #[serde(default)]
    pub margin: f64,
    /// The same on a remnant, whose edges are cut clean (router, laser); the margin when not given.
    #[serde(default)]
    pub remnant_margin: Option<f64>,
    /// Trim cuts (saw).
    #[serde(default)]
    pub trim: TrimCuts,
    /// Most stages (saw).
    #[serde(default)]
    pub stages: Option<u32>,
    /// Direction of the first stage (saw).
    #[serde(default)]
    pub first_cut: FirstCutWord,
    /// Longest rip, along the sheet (saw).
    #[serde(default)]
    pub longest_rip: Option<f64>,
    /// Longest crosscut, across the sheet (saw).
    #[serde(default)]
    pub longest_crosscut: Option<f64>,
    /// Narrowest piece it can hold (saw).
    #[serde(default)]
    pub least_strip: f64,
    /// Highest stack that it cuts at once (saw).
    #[serde(default)]
    pub stack_height: Option<f64>,
    /// Areas that it needs free while it cuts (router, laser).
    #[serde(default)]
    pub keep_clear: Vec<KeepClear>,
    /// What its cut files hold and how it works along their lines (router, laser).
    #[serde(default)]
    pub cutting: Option<super::CutSettings>,
}

impl Machine {
    /// Least distance from the edge of a remnant.
    #[must_use]
    pub fn margin_on_remnants(&self) -> f64 {
        match self.process {
            Process::Saw => self.margin,
            Process::Router | Process::Laser => self.remnant_margin.unwrap_or(self.margin),
        }
    }
}

/// An area of a machine's bed that parts keep clear of by the margin: a clamp, a screw, a zone
/// without vacuum. `at`, `length` and `width` for a rectangle, or an `outline`; on the bed, its
/// lower left corner at 0, 0, as is that of every piece laid on it.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeepClear {
    /// What is there, for pictures and papers.
    pub why: String,
    /// Lower left corner of a rectangle.
    #[serde(default)]
    pub at: Option<[f64; 2]>,
    /// Its size along x.
    #[serde(default)]
    pub length: Option<f64>,
    /// Its size along y.
    #[serde(default)]
    pub width: Option<f64>,
    /// Corners in order.
    #[serde(default)]
    pub outline: Option<Vec<[f64; 2]>>,
}

impl KeepClear {
    /// Its corners; none when it was given neither way.
    #[must_use]
    pub fn corners(&self) -> Vec<Point> {
        match (&self.outline, self.at, self.length, self.width) {
            (Some(outline), ..) => outline.iter().map(|[x, y]| Point::new(*x, *y)).collect(),
            (None, Some([x, y]), Some(length), Some(width)) => {
                Bounds::new(Point::new(x, y), Point::new(x + length, y + width))
                    .corners()
                    .to_vec()
            }
            _ => Vec::new(),
        }
    }
}

/// What the first cuts take off each edge.
#[derive(Debug, Clone, Copy, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct TrimCuts {
    /// Off the left edge.
    pub left: f64,
    /// Off the right edge.
    pub right: f64,
    /// Off the lower edge.
    pub bottom: f64,
    /// Off the upper edge.
    pub top: f64,
}

/// Direction of the first stage.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum FirstCutWord {
    /// Along the sheet's length.
    Along,
    /// Across it.
    Across,
    /// Whichever is better.
    #[default]
    Either,
}

/// Sheets of one size, as bought.
#[derive(Debug, Clone, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sheet {
    /// Identity.
    pub id: String,
    /// Material by name.
    pub material: String,
    /// Size along x; the grain runs this way.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Price of one.
    pub price: f64,
    /// How many there are; `null` or absent for as many as it takes.
    #[serde(default)]
    pub stock: Option<u32>,
    /// The purchase they came from.
    #[serde(default)]
    pub lot: Option<String>,
    /// Where they stand.
    #[serde(default)]
    pub place: Option<String>,
}

/// Labour rates, per hour, in the shop's currency.
#[derive(Debug, Clone, Copy, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Labour {
    /// Operator at the machines.
    pub machining_per_hour: f64,
    /// Edge cleaning, packing.
    pub bench_per_hour: f64,
}
