//! A plan made by hand, for the tests of the papers: two sheets of composite, a remnant with a
//! void and a flaw, and a sheet of acrylic that is sawn into blanks for the laser.

use crate::cut_plan::{
    Cause, Choice, CutOffcut, CutPart, CutPlan, CutSheet, Missing, Source, Totals,
};
use crate::input::{FirstCutWord, Keep, Machine, Material, Process, Substance, TrimCuts};
use crate::job::{Item, Job, KitOrder, Shop};
use crate::paper::{Language, Lengths, Paper};
use panelwright_geometry::{Bounds, Outline, Path, Placement, Point, Polygon, Ring, Vertex};
use panelwright_nesting::{SawCut, StockKind, Turn, Why};

const BASE: usize = 0;
const TOP: usize = 1;
const SIDE: usize = 2;
const DOOR: usize = 3;
const BRACKET: usize = 4;
const HINGE: usize = 5;
const GLAZING: usize = 6;
const LIGHT_SHELF: usize = 7;
const LATCH: usize = 8;

const SAW: usize = 0;
const ROUTER: usize = 1;
const LASER: usize = 2;

fn p(x: f64, y: f64) -> Point {
    Point::new(x, y)
}

fn rectangle(x0: f64, y0: f64, x1: f64, y1: f64) -> Bounds {
    Bounds::new(p(x0, y0), p(x1, y1))
}

fn material(name: &str, substance: Substance, kg_per_m2: f64) -> Material {
    Material {
        name: name.to_owned(),
        substance,
        thickness: 3.0,
        finish: String::new(),
        good_faces: 1,
        grain: substance == Substance::Composite,
        kg_per_m2,
        keep: Keep {
            least_width: 150.0,
            least_length: 400.0,
            value_share: 0.5,
            handling: 0.0,
            ..Keep::default()
        },
        disposal_per_m2: 1.2,
        recycling_credit_per_m2: 0.0,
    }
}

fn machine(name: &str, process: Process, kerf: f64, gap: Option<f64>, margin: f64) -> Machine {
    Machine {
        name: name.to_owned(),
        process,
        kerf,
        bed: None,
        gap,
        margin,
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
    }
}

fn item(part: &str, outline: Outline, quantity: u32, material: usize, machine: usize) -> Item {
    Item {
        part: part.to_owned(),
        kit: "germination cabinet".to_owned(),
        label: part.to_owned(),
        outline,
        quantity,
        material,
        machine,
        finish_on_router: false,
        turn: Turn::Quarter,
        grain_deg: None,
        good_faces: 0,
    }
}

fn with_holes(mut outline: Outline, holes: &[(f64, f64, f64)]) -> Outline {
    outline.holes.extend(
        holes
            .iter()
            .map(|(x, y, d)| Ring::circle(p(*x, *y), d / 2.0).reversed()),
    );
    outline
}

fn rounded(length: f64, width: f64, radius: f64) -> Outline {
    let ring = Ring::rounded_rectangle(p(0.0, 0.0), p(length, width), radius);
    Outline::from_rings(ring, Vec::new())
}

fn door() -> Outline {
    let mut door = rounded(796.0, 590.0, 6.0);
    let window = Ring::rounded_rectangle(p(88.0, 95.0), p(708.0, 495.0), 20.0);
    door.holes.push(window.reversed());
    with_holes(
        door,
        &[(20.0, 70.0, 5.0), (20.0, 520.0, 5.0), (766.0, 295.0, 12.0)],
    )
}

fn bracket() -> Outline {
    let corner = (std::f64::consts::PI / 8.0).tan();
    let ring = Ring::new(vec![
        Vertex::new(0.0, 0.0, 0.0),
        Vertex::new(140.0, 0.0, 0.0),
        Vertex::new(140.0, 45.0, 0.0),
        Vertex::new(57.0, 45.0, -corner),
        Vertex::new(45.0, 57.0, 0.0),
        Vertex::new(45.0, 140.0, 0.0),
        Vertex::new(0.0, 140.0, 0.0),
    ]);
    with_holes(
        Outline::from_rings(ring, Vec::new()),
        &[(118.0, 22.5, 5.0), (22.5, 118.0, 5.0)],
    )
}

fn side() -> Outline {
    let vents: Vec<_> = (0..6)
        .map(|i| (180.0 + 28.0 * f64::from(i), 520.0, 14.0))
        .collect();
    let mut side = with_holes(Outline::rectangle(500.0, 594.0), &vents);
    side.marks.push(Path {
        vertices: vec![
            Vertex::new(20.0, 300.0, 0.0),
            Vertex::new(480.0, 300.0, 0.0),
        ],
        closed: false,
    });
    side
}

/// The job: items of three materials on three machines.
pub(super) fn job() -> Job {
    let mut items = vec![
        item("base", Outline::rectangle(800.0, 500.0), 3, 0, SAW),
        item(
            "top",
            with_holes(Outline::rectangle(800.0, 500.0), &[(700.0, 420.0, 32.0)]),
            2,
            0,
            SAW,
        ),
        item("side-left", side(), 4, 0, ROUTER),
        item("door-frame", door(), 3, 0, ROUTER),
        item("corner-bracket", bracket(), 23, 0, ROUTER),
        item(
            "hinge-plate",
            with_holes(
                rounded(90.0, 60.0, 8.0),
                &[(15.0, 10.0, 5.0), (75.0, 50.0, 5.0)],
            ),
            8,
            0,
            ROUTER,
        ),
        item("door-glazing", rounded(660.0, 440.0, 12.0), 3, 1, LASER),
        item("light-shelf", rounded(520.0, 440.0, 10.0), 2, 1, LASER),
        item("latch-plate", rounded(120.0, 66.0, 10.0), 4, 2, ROUTER),
    ];
    items[TOP].finish_on_router = true;
    items[TOP].label = "Top, good face up".to_owned();
    for grained in [SIDE, DOOR] {
        items[grained].grain_deg = Some(0.0);
        items[grained].turn = Turn::Half;
    }
    Job {
        order: "GC-6".to_owned(),
        due: Some("2026-12-11".to_owned()),
        kits: vec![KitOrder {
            kit: "germination cabinet".to_owned(),
            quantity: 3,
            priority: 0,
            parts: Vec::new(),
        }],
        singles: Vec::new(),
        shop: Shop {
            name: "Demo panel shop".to_owned(),
            currency: "EUR".to_owned(),
            paper: Paper::default(),
            labels: crate::input::LabelStock::default(),
            materials: vec![
                material("composite-3-white", Substance::Composite, 3.83),
                material("acrylic-3-clear", Substance::Acrylic, 3.57),
                material("aluminium-1.5", Substance::Aluminium, 4.05),
            ],
            machines: vec![
                machine("panel saw", Process::Saw, 3.2, None, 5.0),
                machine("router", Process::Router, 3.175, Some(6.0), 10.0),
                machine("laser", Process::Laser, 0.2, Some(3.0), 5.0),
            ],
            sheets: Vec::new(),
            remnants: Vec::new(),
            ..Shop::default()
        },
        items,
        notes: vec!["drawings/side.dxf: a gap of 0.02 mm was closed at 500, 40".to_owned()],
        text_left: Vec::new(),
    }
}

/// Lays down parts and counts their copies.
struct Hand<'a> {
    job: &'a Job,
    copies: Vec<u32>,
}

impl Hand<'_> {
    fn lay(&mut self, item: usize, angle: f64, x: f64, y: f64) -> CutPart {
        let turned = self.job.items[item]
            .outline
            .placed(&Placement::new(angle, p(0.0, 0.0)));
        let min = turned.bounds().min;
        let placement = Placement::new(angle, p(x - min.x, y - min.y));
        self.copies[item] += 1;
        CutPart {
            item,
            copy: self.copies[item],
            placement,
            kit_number: Some(1),
            outline: self.job.items[item].outline.placed(&placement),
            inside: None,
            pinned: false,
        }
    }
}

fn sheet(number: usize, material: usize, machine: usize, id: &str, price: f64) -> CutSheet {
    CutSheet {
        number,
        material,
        machine,
        saw: None,
        guillotine: false,
        source: Source {
            kind: StockKind::Sheet,
            id: id.to_owned(),
            price,
            place: Some("upright rack 1".to_owned()),
            lot: Some("CW-2609".to_owned()),
        },
        outline: rectangle(0.0, 0.0, 2440.0, 1220.0).corners().to_vec(),
        voids: Vec::new(),
        flaws: Vec::new(),
        zones: Vec::new(),
        grain_deg: Some(0.0),
        margin: 10.0,
        gap: 6.0,
        kerf: 3.175,
        parts: Vec::new(),
        saw_cuts: Vec::new(),
        blanks: Vec::new(),
        offcuts: Vec::new(),
        yield_: 0.0,
        net_yield: 0.0,
        yield_ceiling: 0.95,
        spend: price,
        kits_complete: 0,
    }
}

fn cut(x0: f64, y0: f64, x1: f64, y1: f64, stage: u32) -> SawCut {
    SawCut {
        from: p(x0, y0),
        to: p(x1, y1),
        kerf: 3.2,
        stage,
    }
}

fn offcut(id: &str, outline: Polygon, value: f64) -> CutOffcut {
    CutOffcut {
        id: id.to_owned(),
        outline,
        kept: value > 0.0,
        value,
    }
}

fn routed(hand: &mut Hand) -> CutSheet {
    let mut s = sheet(1, 0, ROUTER, "composite-2440x1220", 78.0);
    for column in 0..3 {
        let x = 10.0 + 802.0 * f64::from(column);
        let first = s.parts.len();
        for (dx, dy) in [
            (100.0, 107.0),
            (246.0, 107.0),
            (392.0, 107.0),
            (538.0, 107.0),
        ] {
            s.parts.push(hand.lay(BRACKET, 0.0, x + dx, 10.0 + dy));
            s.parts
                .push(hand.lay(BRACKET, 180.0, x + dx, 10.0 + dy + 160.0));
        }
        if column < 2 {
            s.parts.push(hand.lay(HINGE, 0.0, x + 100.0, 10.0 + 420.0));
            s.parts.push(hand.lay(HINGE, 90.0, x + 200.0, 10.0 + 395.0));
        }
        let door = s.parts.len();
        for part in &mut s.parts[first..] {
            part.inside = Some(door);
        }
        s.parts.push(hand.lay(DOOR, 0.0, x, 10.0));
    }
    for column in 0..4 {
        let side = hand.lay(SIDE, 180.0, 10.0 + 506.0 * f64::from(column), 606.0);
        s.parts.push(side);
    }
    let rest = Polygon::from_bounds(rectangle(2040.0, 606.0, 2440.0, 1220.0));
    s.offcuts = vec![offcut("1A", rest, 3.21)];
    s
}

fn sawn(hand: &mut Hand) -> CutSheet {
    let mut s = sheet(2, 0, SAW, "composite-2440x1220", 78.0);
    s.guillotine = true;
    s.saw = Some(SAW);
    s.kerf = 3.2;
    s.margin = 0.0;
    s.gap = 3.2;
    let rows = [8.0, 511.2];
    for (row, y) in rows.into_iter().enumerate() {
        for column in 0..3 {
            let x = 8.0 + 803.2 * f64::from(column);
            if row == 1 && column == 2 {
                continue;
            }
            s.parts
                .push(hand.lay(if row == 0 { BASE } else { TOP }, 0.0, x, y));
        }
    }
    s.saw_cuts = vec![
        cut(0.0, 6.4, 2440.0, 6.4, 0),
        cut(6.4, 8.0, 6.4, 1220.0, 0),
        cut(8.0, 509.6, 2440.0, 509.6, 1),
        cut(8.0, 1012.8, 2440.0, 1012.8, 1),
        cut(809.6, 8.0, 809.6, 508.0, 2),
        cut(1612.8, 8.0, 1612.8, 508.0, 2),
        cut(2416.0, 8.0, 2416.0, 508.0, 2),
        cut(809.6, 511.2, 809.6, 1011.2, 2),
        cut(1612.8, 511.2, 1612.8, 1011.2, 2),
    ];
    s.offcuts = vec![
        offcut(
            "2A",
            Polygon::from_bounds(rectangle(8.0, 1014.4, 2440.0, 1220.0)),
            6.55,
        ),
        offcut(
            "2B",
            Polygon::from_bounds(rectangle(1614.4, 511.2, 2440.0, 1011.2)),
            5.41,
        ),
        offcut(
            "2C",
            Polygon::from_bounds(rectangle(2417.6, 8.0, 2440.0, 508.0)),
            0.0,
        ),
    ];
    s
}

fn remnant(hand: &mut Hand) -> CutSheet {
    let mut s = sheet(3, 0, ROUTER, "R-0001", 5.26);
    s.source.kind = StockKind::Remnant;
    s.source.place = Some("bay B1".to_owned());
    s.source.lot = None;
    s.grain_deg = Some(90.0);
    s.outline = [
        (0.0, 0.0),
        (900.0, 0.0),
        (900.0, 330.0),
        (400.0, 330.0),
        (400.0, 700.0),
        (0.0, 700.0),
    ]
    .map(|(x, y)| p(x, y))
    .to_vec();
    s.voids = vec![rectangle(90.0, 400.0, 310.0, 620.0).corners().to_vec()];
    s.flaws = vec![vec![p(700.0, 200.0), p(860.0, 190.0), p(850.0, 250.0)]];
    for i in 0..4 {
        s.parts
            .push(hand.lay(HINGE, 0.0, 10.0 + 96.0 * f64::from(i), 10.0));
    }
    s
}

fn lasered(hand: &mut Hand) -> CutSheet {
    let mut s = sheet(4, 1, LASER, "acrylic-2440x1220", 96.0);
    s.saw = Some(SAW);
    s.kerf = 0.2;
    s.margin = 5.0;
    s.gap = 3.0;
    s.grain_deg = None;
    s.blanks = vec![
        rectangle(8.0, 8.0, 1222.4, 920.0),
        rectangle(1225.6, 8.0, 2440.0, 920.0),
    ];
    s.saw_cuts = vec![
        cut(0.0, 6.4, 2440.0, 6.4, 0),
        cut(6.4, 8.0, 6.4, 1220.0, 0),
        cut(8.0, 921.6, 2440.0, 921.6, 1),
        cut(1224.0, 8.0, 1224.0, 920.0, 2),
    ];
    for (item, x, y) in [
        (GLAZING, 13.0, 13.0),
        (GLAZING, 13.0, 456.0),
        (LIGHT_SHELF, 676.0, 13.0),
        (LIGHT_SHELF, 676.0, 456.0),
        (GLAZING, 1231.0, 13.0),
    ] {
        let part = hand.lay(item, 0.0, x, y);
        s.parts.push(part);
    }
    s.offcuts = vec![
        offcut(
            "4A",
            Polygon::from_bounds(rectangle(8.0, 923.2, 2440.0, 1220.0)),
            11.64,
        ),
        offcut(
            "4B",
            Polygon::new(
                [
                    (1894.0, 8.0),
                    (2440.0, 8.0),
                    (2440.0, 920.0),
                    (1226.0, 920.0),
                    (1226.0, 456.0),
                    (1894.0, 456.0),
                ]
                .map(|(x, y)| p(x, y))
                .to_vec(),
                Vec::new(),
            ),
            12.95,
        ),
    ];
    s
}

/// Papers in every language, in millimetres and in both kinds of inches.
pub(super) fn papers() -> Vec<Paper> {
    let lengths = [
        Lengths::Millimetres,
        Lengths::Inches,
        Lengths::Fractions(32),
    ];
    let of = |language| lengths.map(|lengths| Paper { language, lengths });
    Language::ALL.into_iter().flat_map(of).collect()
}

/// The plan, and the job it is of: all placed but the latch plates.
pub(crate) fn cabinet() -> (CutPlan, Job) {
    let mut job = job();
    let mut hand = Hand {
        job: &job,
        copies: vec![0; job.items.len()],
    };
    let mut sheets = vec![
        routed(&mut hand),
        sawn(&mut hand),
        remnant(&mut hand),
        lasered(&mut hand),
    ];
    let copies = hand.copies;
    for (item, copies) in copies.into_iter().enumerate().filter(|(i, _)| *i != LATCH) {
        job.items[item].quantity = copies;
    }
    for (sheet, kits) in sheets.iter_mut().zip([0, 1, 1, 3]) {
        sheet.kits_complete = kits;
    }
    let mut totals = Totals {
        yield_ceiling: 0.93,
        net_yield_ceiling: 0.96,
        ..Totals::default()
    };
    for s in &mut sheets {
        let parts: f64 = s.parts.iter().map(|p| p.outline.area()).sum();
        let taken = s.polygon().area();
        let kept: f64 = s
            .offcuts
            .iter()
            .filter(|o| o.kept)
            .map(|o| o.outline.area())
            .sum();
        let value: f64 = s.offcuts.iter().map(|o| o.value).sum();
        let scrap = (taken - parts - kept) / 1e6 * 1.2;
        s.yield_ = parts / taken;
        s.net_yield = parts / (taken - kept);
        s.spend = s.source.price - value + scrap;
        totals.part_area += parts;
        totals.taken_area += taken;
        totals.kept_area += kept;
        match s.source.kind {
            StockKind::Sheet => totals.sheets += s.source.price,
            StockKind::Remnant => totals.remnants += s.source.price,
        }
        totals.offcuts += value;
        totals.scrap += scrap;
    }
    totals.yield_ = totals.part_area / totals.taken_area;
    totals.net_yield = totals.part_area / (totals.taken_area - totals.kept_area);
    totals.spend = totals.sheets + totals.remnants - totals.offcuts + totals.scrap;
    totals.least_spend = 0.9 * totals.spend;
    let plan = CutPlan {
        seed: 7,
        sheets,
        missing: vec![Missing {
            item: LATCH,
            quantity: 4,
            why: "all aluminium-1.5 that it fits on is used up; buy or free more".to_owned(),
            cause: Cause::Search(Why::StockUsedUp),
        }],
        totals,
        repeatable: true,
        notes: Vec::new(),
        paths: Vec::new(),
        finishing: Vec::new(),
        kits: 3,
        choices: Vec::new(),
    };
    (plan, job)
}

/// The same plan with names that want escaping and are too long for a line.
pub(super) fn odd_names() -> (CutPlan, Job) {
    let (mut plan, mut job) = cabinet();
    let odd = r#"<b>"R&D"</b> 'x' </title></svg><script>alert(1)</script>"#;
    job.items[DOOR].part = odd.to_owned();
    job.items[HINGE].part = "é漢字\u{1b}[2J\nline".to_owned();
    job.items[BASE].part = "long-".repeat(60);
    job.items[LATCH].label = odd.to_owned();
    job.items[LATCH].part = odd.to_owned();
    job.order = odd.to_owned();
    job.shop.name = odd.to_owned();
    job.shop.currency = "<€>".to_owned();
    job.shop.materials[0].name = odd.to_owned();
    job.shop.machines[ROUTER].name = odd.to_owned();
    job.notes.push(odd.repeat(5));
    job.kits.push(KitOrder {
        kit: odd.to_owned(),
        quantity: 1,
        priority: 0,
        parts: Vec::new(),
    });
    plan.choices.push(Choice {
        option: odd.to_owned(),
        result: odd.repeat(3),
        spend_with: 100.0,
        spend_without: 90.0,
        missing_with: 4,
        missing_without: 5,
        complete_without: (0..40).collect(),
    });
    plan.sheets[0].source.id = odd.to_owned();
    plan.sheets[0].source.place = Some(odd.to_owned());
    plan.sheets[1].source.lot = Some(odd.to_owned());
    plan.sheets[0].offcuts[0].id = odd.to_owned();
    (plan, job)
}
