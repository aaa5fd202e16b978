//! A year of a shop, replayed through nest and book: what the rack saves, and how large it gets.
//!
//! `cargo bench --bench season -- [--orders 300] [--together 7] [--effort 2] [--seed N] [--share 0.8] [--handling 1]
//! [--edge 6] [--remnant-margin 6] [--often 0] [--pieces 60] [--least-width 100] [--least-length 200] [--quiet]`
//!
//! Orders come one after another from a catalogue of eight kits, all invented, in two composite colours
//! and clear acrylic. Every twelfth order or so has a part spoiled half-way, which is cut again; now and
//! then somebody calls for one scratched panel, which is cut the same day from the best remnant that `rack fit` finds.
//! What came in within `--together` days, a week, is nested as one order and cut on the last of them; with
//! `--together 1` each day's by itself, which is one order or none. Nothing is known of later weeks. The same orders
//! are nested once with the rack and once without: then nothing is kept and everything comes from new sheets.
//!
//! The shop's settings are those that a shop file has: keep rule (`--least-width` and so on, `--often` parts of the
//! catalogue as `cut_often`), margins of the router on sheets (10 mm) and on remnants, room for `--pieces` of each
//! material. Effort is that of one nest.
//!
//! One JSON line a month tells how it stands. After the year one line has what was set and bought, the next
//! one where the composite bought went, in per cent of it: good and spoiled parts; the half gap round parts;
//! the margins; the rest by how wide it is (below 15, 60, 100, 140 mm and above); what stands on the rack; what was
//! thrown out for want of room. Composite alone counts, because it cannot be recycled. The last line:
//! * `bought_over_floor`: area of the sheets bought over the least area that any nest of all parts of the
//!   year together could take with the shop's gaps and margins: part area over the proven yield ceiling.
//! * `saved_by_rack`: share of the sheets' area that is bought less with the rack than without.
//! * `net_yield`: part area over the area bought, the rack at the end of the year counted as lost.
//! * `rack_peak`: most pieces on the rack at once.

use jiff::{ToSpan, Zoned};
use panelwright::cut_plan::CutSheet;
use panelwright::geometry::{Outline, Point, Polygon, Region, Ring, Side};
use panelwright::input::{
    CutOften, FirstCutWord, Keep, Machine, Material, Process, Room, Sheet, Substance, TrimCuts,
};
use panelwright::job::{Item, Job, KitOrder, Shop, SingleOrder};
use panelwright::nest_file::NestFile;
use panelwright::nesting::{KeepRule, Part, Problem, Stock, StockKind, Turn, net_yield_ceiling};
use panelwright::plan::{PlanOptions, plan};
use panelwright::rack::{self, BookOptions, FitOptions, Rack, Spoil};
use panelwright::write::nest_json;
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::AtomicBool;
use std::time::Instant;

fn main() {
    let args: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let value = |name: &str, default: f64| -> f64 {
        let at = args.iter().position(|a| a == name);
        at.and_then(|i| args.get(i + 1)).map_or(default, |text| {
            text.parse()
                .unwrap_or_else(|_| panic!("'{text}' is no number"))
        })
    };
    let run = Run {
        orders: value("--orders", 300.0) as usize,
        effort: value("--effort", 2.0),
        seed: value("--seed", 1.0) as u64,
        share: value("--share", 0.8),
        handling: value("--handling", 1.0),
        edge: value("--edge", 6.0),
        remnant_margin: value("--remnant-margin", 6.0),
        often: value("--often", 0.0) as usize,
        pieces: value("--pieces", 60.0) as usize,
        together: value("--together", 7.0).max(1.0) as i64,
        least: [
            value("--least-width", 100.0),
            value("--least-length", 200.0),
        ],
        quiet: args.iter().any(|a| a == "--quiet"),
    };
    let start = Instant::now();
    let calls = calls(&run);
    let with = Season::replay(&run, &calls, true);
    let without = Season::replay(&run, &calls, false);
    let floor = with.floor();
    let (bought, alone) = (with.bought(), without.bought());
    println!(
        "{}",
        serde_json::json!({
            "orders": run.orders, "calls": calls.len(), "effort": run.effort, "seed": run.seed,
            "days_together": run.together, "value_share": run.share, "handling": run.handling,
            "edge": run.edge, "remnant_margin": run.remnant_margin, "cut_often": run.often,
            "least": run.least, "rack_limit": run.pieces,
            "sheets_with": with.sheets, "sheets_without": without.sheets,
            "bought_over_parts": bought / with.part_area(), "floor_over_parts": floor / with.part_area(),
            "without_over_floor": alone / floor, "rack_at_the_end_m2": with.rack_area / 1e6,
            "thrown_out_m2": with.thrown_out / 1e6, "from_the_rack": with.from_rack,
            "seconds": start.elapsed().as_secs_f64(),
        })
    );
    let per_cent = |area: f64| rounded(100.0 * area / bought);
    let went = &with.went;
    println!(
        "{}",
        serde_json::json!({
            "per_cent_of_bought": {
                "good_parts": per_cent(with.part_area()),
                "spoiled_parts": per_cent(went.parts - with.part_area()),
                "gaps": per_cent(went.gaps),
                "margins_of_sheets": per_cent(went.margins_of_sheets),
                "margins_of_remnants": per_cent(went.margins_of_remnants),
                "scrap_by_width": went.scrap.map(per_cent),
                "on_the_rack": per_cent(with.rack_area),
                "thrown_out": per_cent(with.thrown_out),
            }
        })
    );
    println!(
        "{}",
        serde_json::json!({
            "bought_over_floor": rounded(bought / floor),
            "saved_by_rack": rounded(1.0 - bought / alone),
            "net_yield": rounded(with.part_area() / bought),
            "rack_peak": with.peak,
        })
    );
}

fn rounded(value: f64) -> f64 {
    (value * 1e4).round() / 1e4
}

/// What may be set on the command line.
struct Run {
    orders: usize,
    /// Search for each order: 1 is a million steps.
    effort: f64,
    seed: u64,
    /// The keep rule's share of a new sheet's price.
    share: f64,
    /// The keep rule's handling of a piece.
    handling: f64,
    /// The keep rule's edge.
    edge: f64,
    /// The router's margin on remnants.
    remnant_margin: f64,
    /// How many parts of the catalogue the keep rule names as cut often, those cut most.
    often: usize,
    /// Most pieces on the rack, of each material.
    pieces: usize,
    /// Days whose orders are nested and cut together, on the last of them.
    together: i64,
    /// The keep rule's least rectangle.
    least: [f64; 2],
    quiet: bool,
}

/// The materials, by index.
const WHITE: usize = 0;
const GREEN: usize = 1;
const CLEAR: usize = 2;

fn shop(run: &Run, keeps: bool) -> Shop {
    let keep = Keep {
        least_width: if keeps { run.least[0] } else { 1e5 },
        least_length: if keeps { run.least[1] } else { 1e5 },
        value_share: run.share,
        handling: run.handling,
        edge: run.edge,
        cut_often: cut_often(run.often),
    };
    let material = |name: &str, substance: Substance| Material {
        name: name.to_owned(),
        substance,
        thickness: 3.0,
        finish: String::new(),
        good_faces: 1,
        grain: false,
        kg_per_m2: 3.8,
        keep: keep.clone(),
        disposal_per_m2: if substance == Substance::Composite {
            1.2
        } else {
            0.0
        },
        recycling_credit_per_m2: if substance == Substance::Acrylic {
            0.9
        } else {
            0.0
        },
    };
    let machine = |name: &str, process: Process, kerf: f64| Machine {
        name: name.to_owned(),
        process,
        kerf,
        bed: None,
        gap: None,
        margin: 0.0,
        trim: TrimCuts::default(),
        stages: None,
        first_cut: FirstCutWord::Either,
        longest_rip: None,
        longest_crosscut: None,
        least_strip: 0.0,
        stack_height: None,
        keep_clear: Vec::new(),
        remnant_margin: None,
        cutting: None,
    };
    let sheet = |id: &str, material: &str, [length, width]: [f64; 2], price: f64| Sheet {
        id: id.to_owned(),
        material: material.to_owned(),
        length,
        width,
        price,
        stock: None,
        lot: None,
        place: None,
    };
    // Prices by area, so that least spend is least area.
    let per_m2 = 26.0;
    let composite = |id: &str, material: &str, size: [f64; 2]| {
        sheet(id, material, size, per_m2 * size[0] * size[1] / 1e6)
    };
    Shop {
        name: "Season".to_owned(),
        currency: "EUR".to_owned(),
        paper: panelwright::paper::Paper::default(),
        labels: panelwright::input::LabelStock::default(),
        materials: vec![
            material("composite white", Substance::Composite),
            material("composite green", Substance::Composite),
            material("acrylic clear", Substance::Acrylic),
        ],
        machines: vec![
            Machine {
                bed: Some([2500.0, 1300.0]),
                gap: Some(6.0),
                margin: 10.0,
                remnant_margin: Some(run.remnant_margin),
                ..machine("router", Process::Router, 3.175)
            },
            Machine {
                bed: Some([1219.2, 914.4]),
                gap: Some(3.0),
                margin: 5.0,
                ..machine("laser", Process::Laser, 0.2)
            },
        ],
        sheets: vec![
            composite("white-2440x1220", "composite white", [2440.0, 1220.0]),
            composite("white-1500x1000", "composite white", [1500.0, 1000.0]),
            composite("green-2440x1220", "composite green", [2440.0, 1220.0]),
            composite("green-1500x1000", "composite green", [1500.0, 1000.0]),
            sheet("acrylic-1200x900", "acrylic clear", [1200.0, 900.0], 41.0),
        ],
        room: ["composite white", "composite green", "acrylic clear"]
            .map(|material| Room {
                material: Some(material.to_owned()),
                pieces: Some(run.pieces as u32),
                ..Room::default()
            })
            .to_vec(),
        ..Shop::default()
    }
}

/// A part of the catalogue.
struct Panel {
    name: &'static str,
    outline: Outline,
    each: u32,
    acrylic: bool,
}

fn panel(name: &'static str, outline: Outline, each: u32) -> Panel {
    Panel {
        name,
        outline,
        each,
        acrylic: false,
    }
}

fn clear(name: &'static str, outline: Outline, each: u32) -> Panel {
    Panel {
        acrylic: true,
        ..panel(name, outline, each)
    }
}

fn plain(length: f64, width: f64) -> Outline {
    Outline::rectangle(length, width)
}

fn rounded_panel(length: f64, width: f64, radius: f64) -> Outline {
    let corner = Point::new(length, width);
    let ring = Ring::rounded_rectangle(Point::default(), corner, radius);
    Outline::from_rings(ring, Vec::new())
}

fn frame(length: f64, width: f64, border: f64) -> Outline {
    let mut outline = Outline::rectangle(length, width);
    let inner = Point::new(length - border, width - border);
    let window = Ring::rounded_rectangle(Point::new(border, border), inner, 12.0);
    outline.holes.push(window.reversed());
    outline
}

fn angle(long: f64, short: f64, leg: f64) -> Outline {
    let l = [
        (0.0, 0.0),
        (long, 0.0),
        (long, leg),
        (leg, leg),
        (leg, short),
        (0.0, short),
    ];
    Outline::polygon(l.map(|(x, y)| Point::new(x, y)))
}

fn gusset(a: f64, b: f64) -> Outline {
    let corners = [(0.0, 0.0), (a, 0.0), (a, 30.0), (30.0, b), (0.0, b)];
    Outline::polygon(corners.map(|(x, y)| Point::new(x, y)))
}

/// Eight kits of a shop that builds for plant nurseries. Sizes are invented.
fn catalogue() -> Vec<(&'static str, Vec<Panel>)> {
    vec![
        (
            "germination cabinet",
            vec![
                panel("base", plain(800.0, 500.0), 1),
                panel("top", plain(800.0, 500.0), 1),
                panel("shelf", plain(770.0, 440.0), 1),
                panel("side", plain(594.0, 500.0), 2),
                panel("back", plain(794.0, 594.0), 1),
                panel("door frame", frame(796.0, 590.0, 90.0), 1),
                panel("bracket", angle(140.0, 140.0, 40.0), 8),
                panel("hinge plate", rounded_panel(90.0, 60.0, 8.0), 4),
                panel("drip tray front", rounded_panel(760.0, 90.0, 20.0), 1),
                clear("glazing", rounded_panel(660.0, 440.0, 10.0), 1),
                clear("light shelf", plain(520.0, 440.0), 1),
            ],
        ),
        (
            "small cabinet",
            vec![
                panel("floor", plain(520.0, 400.0), 2),
                panel("side", plain(400.0, 380.0), 2),
                panel("back", plain(520.0, 380.0), 1),
                panel("door frame", frame(516.0, 376.0, 70.0), 1),
                panel("bracket", angle(90.0, 90.0, 30.0), 8),
                clear("glazing", rounded_panel(400.0, 260.0, 10.0), 1),
            ],
        ),
        (
            "seed rack",
            vec![
                panel("upright", plain(1150.0, 220.0), 2),
                panel("tray", plain(560.0, 300.0), 4),
                panel("lip", rounded_panel(560.0, 60.0, 15.0), 4),
                panel("gusset", gusset(160.0, 120.0), 8),
            ],
        ),
        (
            "potting screen",
            vec![
                panel("screen", plain(1180.0, 590.0), 1),
                panel("foot", gusset(320.0, 260.0), 2),
                panel("rail", plain(590.0, 80.0), 2),
            ],
        ),
        (
            "fan box",
            vec![
                panel("front", frame(330.0, 330.0, 45.0), 1),
                panel("wall", plain(330.0, 160.0), 4),
                panel("guard ring", frame(240.0, 240.0, 25.0), 1),
                panel("foot", angle(110.0, 80.0, 28.0), 4),
            ],
        ),
        (
            "humidity hood",
            vec![
                panel("skirt long", plain(900.0, 140.0), 2),
                panel("skirt short", plain(450.0, 140.0), 2),
                clear("roof", plain(880.0, 440.0), 1),
                clear("pane", plain(430.0, 300.0), 2),
            ],
        ),
        (
            "name plates",
            vec![
                panel("bed plate", rounded_panel(210.0, 100.0, 12.0), 12),
                panel("row plate", rounded_panel(150.0, 60.0, 10.0), 20),
            ],
        ),
        (
            "drip tray",
            vec![
                panel("tray floor", plain(600.0, 380.0), 1),
                panel("tray long", plain(600.0, 70.0), 2),
                panel("tray short", plain(374.0, 70.0), 2),
                panel("corner", gusset(70.0, 70.0), 4),
            ],
        ),
    ]
}

/// How often each kit is asked for, in the order of the catalogue.
const OFTEN: [u32; 8] = [22, 16, 14, 10, 14, 8, 8, 8];

/// The composite parts that the catalogue asks for most.
fn cut_often(most: usize) -> Vec<CutOften> {
    let catalogue = catalogue();
    let mut parts: Vec<CutOften> = catalogue
        .iter()
        .zip(OFTEN)
        .flat_map(|((_, parts), kits)| parts.iter().map(move |part| (part, kits)))
        .filter(|(part, _)| !part.acrylic)
        .map(|(part, kits)| {
            let size = part.outline.bounds();
            CutOften {
                part: part.name.to_owned(),
                length: size.width(),
                width: size.height(),
                copies: f64::from(kits * part.each),
            }
        })
        .collect();
    parts.sort_by(|a, b| b.copies.total_cmp(&a.copies));
    parts.truncate(most);
    parts
}

/// One thing that happens.
struct Call {
    /// Days after the first of January.
    day: i64,
    kind: What,
}

enum What {
    /// Kits, a colour, and by chance a part of it that is spoiled.
    Order {
        kits: Vec<(usize, u32)>,
        colour: usize,
        spoiled: Option<u64>,
    },
    /// One panel, scratched on the way.
    Scratched {
        kit: usize,
        part: usize,
        colour: usize,
    },
}

fn calls(run: &Run) -> Vec<Call> {
    let mut rng = Pcg64Mcg::seed_from_u64(run.seed);
    let catalogue = catalogue();
    let pick = |rng: &mut Pcg64Mcg| {
        let mut at = rng.random_range(0..OFTEN.iter().sum::<u32>());
        for (i, often) in OFTEN.iter().enumerate() {
            if at < *often {
                return i;
            }
            at -= often;
        }
        0
    };
    let mut calls = Vec::new();
    for i in 0..run.orders {
        let day = (i * 360 / run.orders.max(1)) as i64;
        let colour = |rng: &mut Pcg64Mcg| if rng.random_bool(0.65) { WHITE } else { GREEN };
        let mut kits = BTreeMap::new();
        for _ in 0..rng.random_range(1..=2) {
            *kits.entry(pick(&mut rng)).or_insert(0) += rng.random_range(1..=4);
        }
        let kind = What::Order {
            kits: kits.into_iter().collect(),
            colour: colour(&mut rng),
            spoiled: rng.random_bool(1.0 / 12.0).then(|| rng.random()),
        };
        calls.push(Call { day, kind });
        if rng.random_bool(0.15) {
            let kit = pick(&mut rng);
            let part = rng.random_range(0..catalogue[kit].1.len());
            let colour = colour(&mut rng);
            let kind = What::Scratched { kit, part, colour };
            calls.push(Call { day, kind });
        }
    }
    calls
}

/// Where the composite of all pieces cut went, square millimetres; what was kept is left aside.
#[derive(Debug, Default)]
struct Went {
    parts: f64,
    /// Within half the gap of a part, as far as it is not lost to the margin.
    gaps: f64,
    /// Within the margin of the edge of a sheet or remnant.
    margins_of_sheets: f64,
    margins_of_remnants: f64,
    /// The rest, by the shorter side of the largest rectangle inside.
    scrap: [f64; SCRAP.len() + 1],
}

/// Widths that tell classes of scrap apart.
const SCRAP: [f64; 4] = [15.0, 60.0, 100.0, 140.0];

impl Went {
    fn add(&mut self, sheet: &CutSheet) {
        let parts: Vec<Polygon> = sheet
            .parts
            .iter()
            .map(|part| part.outline.flatten(1.0, Side::Covering))
            .collect();
        self.parts += sheet.parts.iter().map(|p| p.outline.area()).sum::<f64>();
        let whole = sheet.polygon();
        let kept: Vec<Polygon> = sheet
            .offcuts
            .iter()
            .filter(|o| o.kept)
            .map(|o| o.outline.clone())
            .collect();
        // What was kept is not lost, nor is its edge.
        let there = Region::within(std::slice::from_ref(&whole), 0.0).difference(&kept);
        let beside = there.difference(&parts);
        let inside = Region::within(std::slice::from_ref(&whole), sheet.margin).polygons();
        let margins = beside.difference(&inside).area();
        match sheet.source.kind {
            StockKind::Sheet => self.margins_of_sheets += margins,
            StockKind::Remnant => self.margins_of_remnants += margins,
        }
        let grown: Vec<Polygon> = [parts.as_slice(), &kept]
            .iter()
            .flat_map(|p| p.iter())
            .flat_map(|p| Region::covering(std::slice::from_ref(p), 0.5 * sheet.gap).polygons())
            .collect();
        let free = beside.intersection(&Region::union_of(&inside));
        let scrap = free.difference(&grown);
        self.gaps += free.area() - scrap.area();
        // The narrow ones first, so that they do not hang large ones together.
        let mut before = scrap.area();
        for (i, width) in SCRAP.iter().enumerate() {
            let wider = scrap.opened(0.5 * width).area();
            self.scrap[i] += before - wider;
            before = wider;
        }
        self.scrap[SCRAP.len()] += before;
    }
}

/// How the year goes.
struct Season<'a> {
    run: &'a Run,
    shop: Shop,
    rack: Rack,
    /// Holds the rack; goes with it.
    _folder: tempfile::TempDir,
    uses_rack: bool,
    /// By item and material: copies made.
    made: BTreeMap<(usize, usize, usize), u32>,
    /// Sheets bought, by id.
    sheets: BTreeMap<String, u32>,
    /// Area of composite sheets bought.
    area_bought: f64,
    rack_area: f64,
    thrown_out: f64,
    went: Went,
    from_rack: usize,
    peak: usize,
    nests: u64,
}

impl<'a> Season<'a> {
    fn replay(run: &'a Run, calls: &[Call], uses_rack: bool) -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let shop = shop(run, uses_rack);
        let rack = Rack::create_from(&folder.path().join("rack"), &shop, &day(0)).expect("a rack");
        let mut season = Self {
            run,
            shop,
            rack,
            _folder: folder,
            uses_rack,
            made: BTreeMap::new(),
            sheets: BTreeMap::new(),
            area_bought: 0.0,
            rack_area: 0.0,
            thrown_out: 0.0,
            went: Went::default(),
            from_rack: 0,
            peak: 0,
            nests: 0,
        };
        let mut month = 0;
        let window = |call: &Call| call.day / run.together;
        for calls in calls.chunk_by(|a, b| window(a) == window(b)) {
            let on = (window(&calls[0]) + 1) * run.together - 1;
            season.happens(calls, on);
            if on / 30 > month {
                month = on / 30;
                season.tell(month);
            }
        }
        season.clear_space(360, 0);
        let checked = rack::check(&season.rack).expect("checked");
        assert!(checked.is_sound(), "{}", checked.text());
        season
    }

    fn tell(&self, month: i64) {
        if self.run.quiet || !self.uses_rack {
            return;
        }
        let line = serde_json::json!({
            "month": month, "bought_m2": self.area_bought / 1e6,
            "net_yield": self.part_area() / self.area_bought,
            "rack_m2": self.rack_area / 1e6, "rack_peak": self.peak,
        });
        println!("{line}");
    }

    /// Calls of the days that are worked on together; their orders are cut `on` the last one. A
    /// scratched panel is cut on the day that somebody calls for it.
    fn happens(&mut self, calls: &[Call], on: i64) {
        let mut kits: BTreeMap<(usize, usize), u32> = BTreeMap::new();
        let mut spoiled = Vec::new();
        for call in calls {
            match &call.kind {
                What::Order {
                    kits: asked,
                    colour,
                    spoiled: bad,
                } => {
                    for (kit, quantity) in asked {
                        *kits.entry((*kit, *colour)).or_default() += quantity;
                    }
                    spoiled.extend(bad);
                }
                What::Scratched { kit, part, colour } => {
                    self.replace(*kit, *part, *colour, call.day);
                }
            }
        }
        if !kits.is_empty() {
            let mut job = self.job();
            for ((kit, colour), quantity) in kits {
                self.ask_for_kit(&mut job, kit, quantity, colour);
            }
            let again = self.cut(&mut job, on, &spoiled);
            if !again.is_empty() {
                let mut job = self.job();
                for ((kit, part, colour), quantity) in again {
                    self.ask_for_part(&mut job, kit, part, colour, quantity);
                }
                self.cut(&mut job, on, &[]);
            }
        }
        if self.uses_rack {
            self.clear_space(on, self.run.pieces);
        }
    }

    /// Cuts one panel anew, from the best remnant that takes it.
    fn replace(&mut self, kit: usize, part: usize, colour: usize, on: i64) {
        let mut job = self.job();
        self.ask_for_part(&mut job, kit, part, colour, 1);
        if self.uses_rack {
            let options = FitOptions::default();
            let fit = rack::fit(&self.rack, &job, &options, &day(on)).expect("fit");
            let best = fit.groups.first().and_then(|g| g.takers.first());
            if let Some(best) = best {
                let there = self.rack.remnants().expect("read");
                job.shop.remnants = there.into_iter().filter(|r| r.id == best.remnant).collect();
            }
        }
        self.cut(&mut job, on, &[]);
    }

    fn job(&self) -> Job {
        Job {
            order: "season".to_owned(),
            due: None,
            kits: Vec::new(),
            singles: Vec::new(),
            shop: self.shop.clone(),
            items: Vec::new(),
            notes: Vec::new(),
            text_left: Vec::new(),
        }
    }

    fn item(job: &mut Job, kit: usize, part: usize, colour: usize, quantity: u32) -> usize {
        let (name, parts) = &catalogue()[kit];
        let panel = &parts[part];
        job.items.push(Item {
            part: panel.name.to_owned(),
            kit: named(name, colour),
            label: panel.name.to_owned(),
            outline: panel.outline.clone(),
            quantity,
            material: if panel.acrylic { CLEAR } else { colour },
            machine: usize::from(panel.acrylic),
            finish_on_router: false,
            turn: Turn::Quarter,
            grain_deg: None,
            good_faces: 0,
        });
        job.items.len() - 1
    }

    fn ask_for_kit(&self, job: &mut Job, kit: usize, quantity: u32, colour: usize) {
        let (name, parts) = &catalogue()[kit];
        let parts = (0..parts.len())
            .map(|part| {
                let each = parts[part].each;
                (Self::item(job, kit, part, colour, each * quantity), each)
            })
            .collect();
        job.kits.push(KitOrder {
            kit: named(name, colour),
            quantity,
            priority: 0,
            parts,
        });
    }

    fn ask_for_part(&self, job: &mut Job, kit: usize, part: usize, colour: usize, quantity: u32) {
        let item = Self::item(job, kit, part, colour, quantity);
        job.singles.push(SingleOrder {
            item,
            quantity,
            priority: 0,
        });
    }

    /// Nests and books a job; of a spoiled one returns how many of which kit, part and colour have to be
    /// cut again.
    fn cut(
        &mut self,
        job: &mut Job,
        on: i64,
        spoiled: &[u64],
    ) -> BTreeMap<(usize, usize, usize), u32> {
        if self.uses_rack && job.shop.remnants.is_empty() {
            let there = self.rack.remnants().expect("read");
            job.shop.remnants = rack::promising(there, &job.items, &self.shop, &BTreeSet::new()).0;
        }
        let options = PlanOptions {
            seed: self.run.seed,
            steps: (self.run.effort * 1e6) as u64,
            use_remnants: self.uses_rack,
            ..PlanOptions::default()
        };
        let plan = plan(job, &options, &AtomicBool::new(false), None).expect("a plan");
        assert!(plan.missing.is_empty(), "{:?}", plan.missing);
        let mut nest = nest_json::record(&plan, job);
        // Two equal orders are two nests.
        self.nests += 1;
        nest.seed = self.nests;
        for sheet in &plan.sheets {
            let composite = sheet.material != CLEAR;
            if composite {
                self.went.add(sheet);
            }
            match sheet.source.kind {
                StockKind::Sheet => {
                    *self.sheets.entry(sheet.source.id.clone()).or_default() += 1;
                    if composite {
                        self.area_bought += sheet.polygon().area();
                    }
                }
                StockKind::Remnant => self.from_rack += usize::from(composite),
            }
        }
        for item in &job.items {
            *self.made.entry(of_catalogue(item)).or_default() += item.quantity;
        }
        let digest = rack::digest_of(&serde_json::to_vec(&nest).expect("JSON"));
        let mut book = |sheets: Vec<usize>, spoil: Option<Spoil>| {
            let options = BookOptions {
                sheets,
                spoil,
                ..BookOptions::default()
            };
            let (rack, shop) = (&mut self.rack, &self.shop);
            rack::book(rack, &nest, &digest, shop, &day(on), &options).expect("booked");
        };
        let (spoils, bad) = spoil(&nest, spoiled);
        let sound = plan.sheets.iter().map(|sheet| sheet.number);
        let sound: Vec<usize> = sound
            .filter(|n| spoils.iter().all(|s| s.sheet != *n))
            .collect();
        if !sound.is_empty() {
            book(sound, None);
        }
        for spoil in spoils {
            book(vec![spoil.sheet], Some(spoil));
        }
        // What was spoiled was not made.
        let mut again = BTreeMap::new();
        for (kit, part) in bad {
            let item = job.items.iter().find(|i| i.kit == kit && i.part == part);
            let key = of_catalogue(item.expect("an item of the job"));
            *again.entry((key.1, key.2, key.0)).or_default() += 1;
            *self.made.entry(key).or_default() -= 1;
        }
        again
    }

    /// Takes the least valuable pieces off the rack where there are more of a material than it holds;
    /// with a limit of 0 only counts.
    fn clear_space(&mut self, on: i64, limit: usize) {
        let there = self.rack.remnants().expect("read");
        self.peak = self.peak.max(there.len());
        if limit > 0 {
            for room in &self.shop.room {
                let space = rack::space(&self.rack, &self.shop, room);
                for leaves in space.expect("a proposal").leave {
                    if leaves.material != self.shop.materials[CLEAR].name {
                        self.thrown_out += leaves.area;
                    }
                    let state = rack::State::ThrownOut;
                    rack::retire(&mut self.rack, &leaves.id, state, "no space", &day(on))
                        .expect("retired");
                }
            }
        }
        let there = self.rack.remnants().expect("read");
        let composite = there
            .iter()
            .filter(|r| r.material != self.shop.materials[CLEAR].name);
        self.rack_area = composite.map(|r| r.outline.area()).sum();
    }

    fn bought(&self) -> f64 {
        self.area_bought
    }

    /// Area of the composite parts that were delivered.
    fn part_area(&self) -> f64 {
        let catalogue = catalogue();
        let composite = self
            .made
            .iter()
            .filter(|((material, ..), _)| *material != CLEAR);
        composite
            .map(|((_, kit, part), n)| f64::from(*n) * catalogue[*kit].1[*part].outline.area())
            .sum()
    }

    /// Least area of composite that any nest of all parts of the year takes.
    fn floor(&self) -> f64 {
        let catalogue = catalogue();
        let mut floor = 0.0;
        for material in [WHITE, GREEN] {
            let of_it = self
                .made
                .iter()
                .filter(|((m, ..), n)| *m == material && **n > 0);
            let parts: Vec<Part> = of_it
                .map(|((_, kit, part), n)| {
                    let panel = &catalogue[*kit].1[*part];
                    Part::new(panel.name, panel.outline.clone(), *n)
                })
                .collect();
            if parts.is_empty() {
                continue;
            }
            let area: f64 = parts
                .iter()
                .map(|p| p.outline.area() * f64::from(p.quantity))
                .sum();
            let name = &self.shop.materials[material].name;
            let sheets = self.shop.sheets.iter().filter(|s| s.material == *name);
            let stock: Vec<Stock> = sheets
                .enumerate()
                .map(|(i, s)| Stock {
                    keep: KeepRule::default(),
                    ..Stock::sheet(&s.id, s.length, s.width, s.price, i)
                })
                .collect();
            let router = &self.shop.machines[0];
            let supplies = vec![None; stock.len()];
            let problem = Problem {
                gap: router.gap.unwrap_or(router.kerf),
                margin: router.margin,
                kerf: router.kerf,
                ..Problem::new(parts, stock, supplies)
            };
            floor += area / net_yield_ceiling(&problem);
        }
        floor
    }
}

/// A kit in one colour.
fn named(kit: &str, colour: usize) -> String {
    format!("{kit}, {}", ["white", "green"][colour])
}

/// Material, kit and part of an item.
fn of_catalogue(item: &Item) -> (usize, usize, usize) {
    let catalogue = catalogue();
    let is_kit = |name: &&str| item.kit.rsplit_once(", ").is_some_and(|(k, _)| k == *name);
    let mut kits = catalogue.iter();
    let kit = kits.position(|(name, _)| is_kit(name)).expect("a kit");
    let mut parts = catalogue[kit].1.iter();
    let part = parts.position(|p| p.name == item.part).expect("a part");
    (item.material, kit, part)
}

/// Copies on sheets of composite that go wrong, by sheet, and their kits and parts.
fn spoil(nest: &NestFile, picks: &[u64]) -> (Vec<Spoil>, Vec<(String, String)>) {
    let copies: Vec<_> = nest
        .sheets
        .iter()
        .filter(|sheet| sheet.machine == "router")
        .flat_map(|sheet| sheet.placements.iter().map(move |p| (sheet, p)))
        .collect();
    let mut bad: Vec<usize> = picks
        .iter()
        .filter(|_| !copies.is_empty())
        .map(|pick| (pick % copies.len() as u64) as usize)
        .collect();
    bad.sort_unstable();
    bad.dedup();
    let name =
        |p: &panelwright::nest_file::PlacementRecord| format!("{}/{}:{}", p.kit, p.part, p.copy);
    let mut spoils: Vec<Spoil> = Vec::new();
    for at in &bad {
        let (sheet, copy) = copies[*at];
        if spoils.last().is_none_or(|s| s.sheet != sheet.number) {
            spoils.push(Spoil {
                sheet: sheet.number,
                good: sheet.placements.iter().map(name).collect(),
                ..Spoil::default()
            });
        }
        if let Some(spoil) = spoils.last_mut() {
            spoil.good.retain(|n| *n != name(copy));
        }
    }
    let bad = bad.iter().map(|at| copies[*at].1);
    (
        spoils,
        bad.map(|p| (p.kit.clone(), p.part.clone())).collect(),
    )
}

/// A day of the year.
fn day(after: i64) -> Zoned {
    let first = jiff::civil::date(2026, 1, 1)
        .at(8, 0, 0, 0)
        .to_zoned(jiff::tz::TimeZone::UTC)
        .expect("UTC has every hour");
    first
        .checked_add(after.days())
        .expect("within a year or so")
}
