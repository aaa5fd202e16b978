//! Plans made by hand, for the tests of the writers.

use crate::cut_plan::{CutOffcut, CutPart, CutPlan, CutSheet, Source, Totals};
use crate::input::{Keep, Machine, Material, Process, Substance};
use crate::job::{Item, Job, KitOrder, Shop};
use panelwright_geometry::{Bounds, Outline, Path, Placement, Point, Polygon, Ring, Vertex};
use panelwright_nesting::{SawCut, StockKind, Turn};

fn machine(name: &str, process: Process, kerf: f64, bed: Option<[f64; 2]>) -> Machine {
    Machine {
        name: name.to_owned(),
        process,
        kerf,
        bed,
        gap: Some(6.0),
        margin: 10.0,
        trim: crate::input::TrimCuts::default(),
        stages: None,
        first_cut: crate::input::FirstCutWord::default(),
        longest_rip: None,
        longest_crosscut: None,
        least_strip: 0.0,
        stack_height: None,
        keep_clear: Vec::new(),
        remnant_margin: None,
        cutting: None,
    }
}

fn item(part: &str, outline: Outline, quantity: u32, machine: usize) -> Item {
    Item {
        part: part.to_owned(),
        kit: "seed drawer".to_owned(),
        label: format!("SD {part}"),
        outline,
        quantity,
        material: 0,
        machine,
        finish_on_router: machine == 0,
        turn: Turn::Free,
        grain_deg: None,
        good_faces: 1,
    }
}

/// A door: rounded corners, a window and two round holes, one of them in quarters, and a mark.
pub fn door() -> Outline {
    let corner = |x, y| Point::new(x, y);
    let mut door = Outline::from_rings(
        Ring::rounded_rectangle(corner(0.0, 0.0), corner(620.0, 420.0), 25.0),
        vec![
            Ring::rounded_rectangle(corner(60.0, 60.0), corner(560.0, 300.0), 12.0),
            Ring::circle(corner(40.0, 380.0), 6.5),
            Ring::circle(corner(580.0, 380.0), 6.5),
        ],
    );
    door.marks.push(Path {
        vertices: vec![
            Vertex::new(100.0, 340.0, 0.0),
            Vertex::new(300.0, 340.0, 0.4),
            Vertex::new(500.0, 340.0, 0.0),
        ],
        closed: false,
    });
    door
}

/// A latch plate with a slot: small enough for the door's window.
pub fn latch() -> Outline {
    let bulge = |x, y, b| Vertex::new(x, y, b);
    Outline::from_rings(
        Ring::new(vec![
            bulge(0.0, 0.0, 0.0),
            bulge(150.0, 0.0, 1.0),
            bulge(150.0, 80.0, 0.0),
            bulge(0.0, 80.0, -0.3),
        ]),
        vec![Ring::new(vec![
            bulge(60.0, 34.0, 0.0),
            bulge(120.0, 34.0, 1.0),
            bulge(120.0, 46.0, 0.0),
            bulge(60.0, 46.0, 1.0),
        ])],
    )
}

/// A bottom that the saw frees and the router drills.
fn bottom() -> Outline {
    let mut bottom = Outline::rectangle(500.0, 300.0);
    bottom
        .holes
        .push(Ring::circle(Point::new(250.0, 150.0), 20.0).reversed());
    bottom
}

/// A side that the saw frees as a rectangle and the router rounds.
fn side() -> Outline {
    Outline::from_rings(
        Ring::rounded_rectangle(Point::default(), Point::new(500.0, 300.0), 30.0),
        Vec::new(),
    )
}

/// Three machines, one material, four items.
pub fn job() -> Job {
    let keep = Keep {
        least_width: 150.0,
        least_length: 300.0,
        value_share: 0.5,
        handling: 0.0,
        ..Keep::default()
    };
    Job {
        order: "Order \u{00e9}17 <a&b>".to_owned(),
        due: None,
        kits: vec![KitOrder {
            kit: "seed drawer".to_owned(),
            quantity: 2,
            priority: 0,
            parts: Vec::new(),
        }],
        singles: Vec::new(),
        shop: Shop {
            name: "Bench".to_owned(),
            currency: "EUR".to_owned(),
            paper: crate::paper::Paper::default(),
            labels: crate::input::LabelStock::default(),
            materials: vec![Material {
                name: "composite 4 silver".to_owned(),
                substance: Substance::Composite,
                thickness: 4.0,
                finish: "silver".to_owned(),
                good_faces: 1,
                grain: true,
                kg_per_m2: 5.5,
                keep,
                disposal_per_m2: 0.0,
                recycling_credit_per_m2: 0.0,
            }],
            machines: vec![
                machine("wall saw", Process::Saw, 3.2, None),
                machine("router", Process::Router, 6.0, Some([1300.0, 2600.0])),
            ],
            sheets: Vec::new(),
            remnants: Vec::new(),
            ..Shop::default()
        },
        items: vec![
            item("door", door(), 2, 1),
            item("latch", latch(), 3, 1),
            item("bottom", bottom(), 1, 0),
            item("side", side(), 1, 0),
        ],
        notes: Vec::new(),
        text_left: Vec::new(),
    }
}

fn part(job: &Job, item: usize, copy: u32, turn: f64, x: f64, y: f64) -> CutPart {
    let placement = Placement::new(turn, Point::new(x, y));
    CutPart {
        item,
        copy,
        kit_number: Some(copy),
        placement,
        outline: job.items[item].outline.placed(&placement),
        inside: None,
        pinned: false,
    }
}

fn cut(from: (f64, f64), to: (f64, f64), stage: u32) -> SawCut {
    SawCut {
        from: Point::new(from.0, from.1),
        to: Point::new(to.0, to.1),
        kerf: 3.2,
        stage,
    }
}

fn points(list: &[(f64, f64)]) -> Vec<Point> {
    list.iter().map(|(x, y)| Point::new(*x, *y)).collect()
}

fn sheet(number: usize, length: f64, width: f64, parts: Vec<CutPart>) -> CutSheet {
    CutSheet {
        number,
        material: 0,
        machine: 1,
        saw: None,
        guillotine: false,
        source: Source {
            kind: StockKind::Sheet,
            id: "S-2500".to_owned(),
            price: 61.5,
            place: None,
            lot: None,
        },
        outline: Polygon::rectangle(length, width).outer,
        voids: Vec::new(),
        flaws: Vec::new(),
        zones: Vec::new(),
        grain_deg: Some(0.0),
        margin: 10.0,
        gap: 6.0,
        kerf: 6.0,
        parts,
        saw_cuts: Vec::new(),
        blanks: Vec::new(),
        offcuts: Vec::new(),
        yield_: 0.41,
        net_yield: 0.82,
        yield_ceiling: 0.9,
        spend: 61.5,
        kits_complete: 0,
    }
}

/// Three sheets: blanks for the router with a part in a window, a guillotine sheet with parts that
/// the router finishes, and a remnant with a void and a flaw and a part at an odd angle.
pub fn plan(job: &Job) -> CutPlan {
    let mut nested = part(job, 1, 1, 33.0, 160.0, 80.0);
    nested.inside = Some(1);
    let mut blanks = sheet(
        1,
        2600.0,
        1400.0,
        vec![
            nested,
            part(job, 0, 1, 0.0, 10.0, 10.0),
            part(job, 1, 2, 90.0, 750.0, 20.0),
            part(job, 0, 2, 90.0, 1760.0, 30.0),
        ],
    );
    blanks.saw = Some(0);
    blanks.blanks = vec![
        Bounds::new(Point::default(), Point::new(1298.4, 1400.0)),
        Bounds::new(Point::new(1301.6, 0.0), Point::new(2600.0, 1250.0)),
    ];
    blanks.saw_cuts = vec![
        cut((1300.0, 0.0), (1300.0, 1400.0), 1),
        cut((1301.6, 1251.6), (2600.0, 1251.6), 2),
    ];
    blanks.offcuts = vec![
        CutOffcut {
            id: "1A".to_owned(),
            outline: Polygon::from_bounds(Bounds::new(
                Point::new(0.0, 450.0),
                Point::new(1298.4, 1400.0),
            )),
            kept: true,
            value: 20.0,
        },
        CutOffcut {
            id: "1B".to_owned(),
            outline: Polygon::from_bounds(Bounds::new(
                Point::new(1301.6, 1253.2),
                Point::new(2600.0, 1400.0),
            )),
            kept: false,
            value: 0.0,
        },
    ];

    let mut sawn = sheet(
        2,
        1100.0,
        320.0,
        vec![
            part(job, 2, 1, 0.0, 10.0, 10.0),
            part(job, 3, 1, 0.0, 513.2, 10.0),
        ],
    );
    sawn.guillotine = true;
    sawn.source.id = "S-1100".to_owned();
    (sawn.gap, sawn.kerf, sawn.margin) = (3.2, 3.2, 0.0);
    (sawn.machine, sawn.saw) = (0, Some(0));
    sawn.saw_cuts = vec![
        cut((0.0, 8.4), (1100.0, 8.4), 0),
        cut((8.4, 10.0), (8.4, 320.0), 0),
        cut((10.0, 311.6), (1100.0, 311.6), 1),
        cut((511.6, 10.0), (511.6, 310.0), 2),
        cut((1014.8, 10.0), (1014.8, 310.0), 2),
    ];

    let mut remnant = sheet(3, 1.0, 1.0, vec![part(job, 1, 3, 123.456, 330.0, 100.0)]);
    remnant.source.kind = StockKind::Remnant;
    remnant.source.id = "R-0012".to_owned();
    remnant.outline = points(&[
        (0.0, 0.0),
        (700.0, 0.0),
        (700.0, 300.0),
        (400.0, 500.0),
        (0.0, 500.0),
    ]);
    // Clockwise on purpose: the record turns it.
    remnant.outline.reverse();
    remnant.voids = vec![points(&[
        (500.0, 50.0),
        (600.0, 50.0),
        (600.0, 150.0),
        (500.0, 150.0),
    ])];
    remnant.flaws = vec![points(&[(50.0, 380.0), (160.0, 400.0), (90.0, 450.0)])];
    remnant.grain_deg = Some(30.0);

    let mut sheets = vec![blanks, sawn, remnant];
    let area = |sheet: &CutSheet| sheet.parts.iter().map(|p| p.outline.area()).sum::<f64>();
    for sheet in &mut sheets {
        sheet.yield_ = area(sheet) / sheet.polygon().area();
        sheet.yield_ceiling = 0.95;
    }
    let part_area = sheets.iter().map(area).sum();
    let taken_area = sheets.iter().map(|s| s.polygon().area()).sum();
    let offcuts = sheets.iter().flat_map(|s| &s.offcuts);
    let kept_area = offcuts.filter(|o| o.kept).map(|o| o.outline.area()).sum();
    CutPlan {
        seed: 7,
        sheets,
        missing: Vec::new(),
        totals: Totals {
            part_area,
            taken_area,
            kept_area,
            yield_: part_area / taken_area,
            net_yield: part_area / (taken_area - kept_area),
            ..Totals::default()
        },
        repeatable: true,
        notes: Vec::new(),
        paths: Vec::new(),
        finishing: Vec::new(),
        kits: 2,
        choices: Vec::new(),
    }
}
