//! Nests generated orders and prints one JSON line per order: time to the first whole nest, spend over
//! the proven floor after so many seconds of one run, net yield and its proven ceiling, memory.
//!
//! `cargo bench --bench kit_nest -- [--orders 50,500,5000x20,150p,120r] [--seconds 60] [--steps N]
//! [--marks 1,10,60] [--threads T] [--seed N] [--bounds] [--out DIR]`
//!
//! An order is a number of copies. `x` and a number after it sets the number of kinds; `p` makes every
//! copy a random polygon of its own; `r` adds irregular remnants of different values. With `--steps`
//! the run ends after so many steps, whatever the load of the machine, and can be repeated exactly. With
//! `--bounds` nothing is nested: only the floor and the ceiling are told, and how long they take. With `--out`
//! the sheets of each nest are drawn, `ORDER-SEED.svg`: parts, kept offcuts in green, scrap as it is.

use panelwright::geometry::{Outline, Point, Polygon, Ring, Vertex};
use panelwright::nesting::{
    Budget, Control, KeepRule, Nest, Part, Problem, Progress, Stock, Turn, least_spend, nest,
    net_yield_ceiling,
};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// From a single kit to a large order, one of few kinds, one of many shapes, one with remnants.
const ORDERS: &str = "50,150p,150r,500,1500,5000x20";

fn main() {
    let args: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| a != "--bench")
        .collect();
    let value = |name: &str, default: &str| -> String {
        let at = args.iter().position(|a| a == name);
        at.and_then(|i| args.get(i + 1))
            .map_or(default.to_string(), Clone::clone)
    };
    let run = Run {
        seed: number(&value("--seed", "1")),
        steps: number(&value("--steps", "0")),
        seconds: number(&value("--seconds", "60")),
        marks: value("--marks", "1,10,60").split(',').map(number).collect(),
        out: Some(value("--out", "")).filter(|dir| !dir.is_empty()),
    };
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(number(&value("--threads", "0")))
        .build()
        .expect("threads");
    for name in value("--orders", ORDERS).split(',') {
        let problem = order(name, run.seed);
        if args.iter().any(|a| a == "--bounds") {
            report_bounds(name, run.seed, &problem);
            continue;
        }
        pool.install(|| report(name, &problem, &run));
    }
}

fn number<T: std::str::FromStr>(text: &str) -> T {
    let parsed = text.parse();
    parsed.unwrap_or_else(|_| panic!("'{text}' is no number that can stand here"))
}

/// How long to search and when to note the spend.
struct Run {
    seed: u64,
    /// 0 for as many as the seconds allow.
    steps: u64,
    seconds: f64,
    marks: Vec<f64>,
    /// Folder for drawings of the sheets.
    out: Option<String>,
}

fn report_bounds(name: &str, seed: u64, problem: &Problem) {
    let processor = processor_seconds();
    let floor = least_spend(problem);
    let floor_seconds = processor_seconds() - processor;
    let line = serde_json::json!({
        "order": name,
        "seed": seed,
        "floor": floor,
        "net_yield_ceiling": net_yield_ceiling(problem),
        "floor_processor_seconds": floor_seconds,
    });
    println!("{line}");
}

fn report(name: &str, problem: &Problem, run: &Run) {
    reset_peak_memory();
    let (start, processor) = (Instant::now(), processor_seconds());
    // What was told and when: seconds, processor seconds, spend.
    let told: Mutex<Vec<(f64, f64, f64)>> = Mutex::default();
    let listener = |p: Progress| {
        if p.missing == 0 && p.spend.is_finite() {
            let at = (start.elapsed().as_secs_f64(), processor_seconds(), p.spend);
            told.lock().expect("no listener panics").push(at);
        }
    };
    let by_time = run.steps == 0;
    let budget = Budget {
        seed: run.seed,
        steps: if by_time { u64::MAX / 4 } else { run.steps },
        limit: by_time.then(|| Duration::from_secs_f64(run.seconds)),
    };
    let control = Control::none().with_listener(&listener);
    let nest = nest(problem, &budget, &control).expect("the judge passes it");
    let seconds = start.elapsed().as_secs_f64();
    let processor_taken = processor_seconds() - processor;
    let memory = peak_memory_mib();
    let told = told.into_inner().expect("no listener panics");
    if let Some(dir) = &run.out {
        let file = format!("{dir}/{name}-{}.svg", run.seed);
        std::fs::write(&file, drawing(problem, &nest)).expect("the folder is there");
    }
    let spend = nest.spend(problem);
    let floor = least_spend(problem);
    let missing: u32 = nest.not_placed.iter().map(|n| n.quantity).sum();
    let layouts = || nest.layouts.iter();
    let taken: f64 = layouts().map(|l| l.stock(problem).outline.area()).sum();
    let kept: f64 = layouts().map(|l| l.kept_area()).sum();
    let part_area: f64 = layouts().map(|l| l.part_area(problem)).sum();
    let over_floor = |at: f64| {
        let known = told.iter().rev().find(|t| t.0 <= at)?.2;
        Some(known / floor)
    };
    // A run may end a little before its time is over.
    let known = if by_time { run.seconds } else { seconds };
    let marks = run.marks.iter().filter(|m| **m <= known);
    let marks: serde_json::Map<String, serde_json::Value> = marks
        .map(|m| (m.to_string(), over_floor(*m).into()))
        .collect();
    let line = serde_json::json!({
        "order": name,
        "kinds": problem.parts.len(),
        "seconds": seconds,
        "processor_seconds": processor_taken,
        "first_nest_ms": told.first().map(|t| t.0 * 1e3),
        "first_nest_processor_ms": told.first().map(|t| (t.1 - processor) * 1e3),
        "first_over_floor": told.first().map(|t| t.2 / floor),
        "over_floor_at_seconds": marks,
        "sheets": nest.layouts.len(),
        "missing": missing,
        "spend": spend,
        "floor": floor,
        "spend_over_floor": spend / floor,
        "yield": part_area / taken,
        "net_yield": part_area / (taken - kept),
        "net_yield_ceiling": net_yield_ceiling(problem),
        "peak_memory_mib": memory,
    });
    println!("{line}");
}

/// All sheets of a nest, one below the other.
fn drawing(problem: &Problem, nest: &Nest) -> String {
    use std::fmt::Write;
    let ring = |points: &[Point]| -> String {
        let points = points.iter().map(|p| format!("{:.2},{:.2} ", p.x, p.y));
        format!("M{}Z", points.collect::<String>())
    };
    let outline = |p: &Polygon| -> String {
        let holes = p.holes.iter().map(|h| ring(h));
        ring(&p.outer) + &holes.collect::<String>()
    };
    let (mut body, mut top, mut width) = (String::new(), 0.0, 0.0_f64);
    for layout in &nest.layouts {
        let sheet = &layout.stock(problem).outline;
        let bounds = sheet.bounds();
        let mut path = |what: &Polygon, fill: &str| {
            let _ = writeln!(
                body,
                "<path transform='translate({} {})' d='{}' fill='{fill}' stroke='black' fill-rule='evenodd'/>",
                -bounds.min.x,
                top - bounds.min.y,
                outline(what)
            );
        };
        path(sheet, "white");
        for offcut in layout.offcuts.iter().filter(|o| o.kept) {
            path(&offcut.outline, "palegreen");
        }
        for placed in &layout.placed {
            path(&placed.covering(problem), "lightsteelblue");
        }
        top += bounds.height() + 40.0;
        width = width.max(bounds.width());
    }
    format!("<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width} {top}'>\n{body}</svg>\n")
}

/// Peak memory of this process since [`reset_peak_memory`]; `None` where the system does not tell it in
/// the Linux way.
fn peak_memory_mib() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024.0)
}

/// Forgets the peak, so that orders can be told apart. Where that is not possible the peak is that of
/// all orders so far.
fn reset_peak_memory() {
    let _ = std::fs::write("/proc/self/clear_refs", "5");
}

/// Time that processors spent on this process, all threads together; 0 where the system does not tell
/// it in the Linux way.
fn processor_seconds() -> f64 {
    // The usual length of a tick where there is such a file.
    const PER_SECOND: f64 = 100.0;
    let ticks = || {
        let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
        let after_name = stat.rsplit_once(')')?.1;
        let fields: Vec<&str> = after_name.split_whitespace().collect();
        let user: f64 = fields.get(11)?.parse().ok()?;
        let system: f64 = fields.get(12)?.parse().ok()?;
        Some(user + system)
    };
    ticks().map_or(0.0, |t| t / PER_SECOND)
}

/// The order of that name; see the top of this file.
fn order(name: &str, seed: u64) -> Problem {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let (name, remnants) = name.strip_suffix('r').map_or((name, false), |n| (n, true));
    let (name, polygons) = name.strip_suffix('p').map_or((name, false), |n| (n, true));
    let (count, kinds) = match name.split_once('x') {
        Some((count, kinds)) => (number(count), Some(number::<usize>(kinds))),
        None => (number::<usize>(name), None),
    };
    let mut parts = Vec::new();
    let mut left = count;
    while left > 0 {
        let nth = parts.len();
        let (outline, most) = if polygons {
            (blob(&mut rng), 1)
        } else {
            match nth % 6 {
                0 => (
                    Outline::rectangle(
                        rng.random_range(300.0..800.0),
                        rng.random_range(200.0..550.0),
                    ),
                    6,
                ),
                1 => (frame(&mut rng), 6),
                2 => (bracket(&mut rng), 24),
                3 => (front(&mut rng), 6),
                4 => (rounded(&mut rng), 12),
                _ => (
                    Outline::rectangle(
                        rng.random_range(60.0..200.0),
                        rng.random_range(40.0..120.0),
                    ),
                    24,
                ),
            }
        };
        let quantity = match kinds {
            None => rng.random_range(1..=most).min(left),
            // What is left is shared out evenly.
            Some(kinds) => left.div_ceil(kinds.saturating_sub(nth).max(1)),
        };
        left -= quantity;
        let turn = if !polygons && nth % 6 == 3 {
            Turn::Half
        } else {
            Turn::Quarter
        };
        parts.push(Part {
            turn,
            ..Part::new(format!("part {}", nth + 1), outline, quantity as u32)
        });
    }
    let keep = KeepRule {
        least_width: 150.0,
        least_length: 400.0,
        value_per_area: 0.5 * 40.0 / (1500.0 * 1000.0),
        handling: 0.0,
        scrap_cost_per_area: 1e-6,
        ..KeepRule::default()
    };
    let mut stock = vec![
        Stock {
            keep: keep.clone(),
            ..Stock::sheet("large", 2440.0, 1220.0, 78.0, 0)
        },
        Stock {
            keep: keep.clone(),
            ..Stock::sheet("small", 1500.0, 1000.0, 40.0, 1)
        },
    ];
    let mut supplies = vec![None, None];
    if remnants {
        for i in 0..REMNANTS {
            let outline = remnant(&mut rng);
            // From nearly nothing to nearly the rate of new material.
            let rate = rng.random_range(0.1..0.9) * 40.0 / (1500.0 * 1000.0);
            let cost = rate * outline.area();
            stock.push(Stock {
                keep: KeepRule {
                    value_per_area: 0.5 * rate,
                    ..keep.clone()
                },
                ..Stock::remnant(format!("remnant {}", i + 1), outline, cost, supplies.len())
            });
            supplies.push(Some(1));
        }
    }
    Problem {
        gap: 6.0,
        margin: 10.0,
        kerf: 3.175,
        ..Problem::new(parts, stock, supplies)
    }
}

/// Remnants of an order that has some.
const REMNANTS: usize = 12;

/// A left-over: an L, a sheet's end with a slanted cut, or one with a void.
fn remnant(rng: &mut Pcg64Mcg) -> Polygon {
    let (l, w) = (
        rng.random_range(500.0..1600.0),
        rng.random_range(350.0..1000.0),
    );
    let (x, y) = (
        l * rng.random_range(0.3..0.7),
        w * rng.random_range(0.3..0.7),
    );
    let points =
        |p: &[(f64, f64)]| -> Vec<Point> { p.iter().map(|&(x, y)| Point::new(x, y)).collect() };
    match rng.random_range(0..3) {
        0 => Polygon::new(
            points(&[(0.0, 0.0), (l, 0.0), (l, y), (x, y), (x, w), (0.0, w)]),
            Vec::new(),
        ),
        1 => Polygon::new(
            points(&[(0.0, 0.0), (l, 0.0), (x, w), (0.0, w)]),
            Vec::new(),
        ),
        _ => Polygon::new(
            points(&[(0.0, 0.0), (l, 0.0), (l, w), (0.0, w)]),
            vec![points(&[
                (x, y),
                (x + 80.0, y),
                (x + 80.0, y + 60.0),
                (x, y + 60.0),
            ])],
        ),
    }
}

/// A polygon with corners at random distances from its middle.
fn blob(rng: &mut Pcg64Mcg) -> Outline {
    let size = rng.random_range(60.0..260.0);
    let corners = rng.random_range(5..13);
    Outline::polygon((0..corners).map(|i| {
        let angle = std::f64::consts::TAU * f64::from(i) / f64::from(corners);
        let reach = size * rng.random_range(0.45..1.0);
        Point::new(reach * angle.cos(), reach * angle.sin())
    }))
}

fn frame(rng: &mut Pcg64Mcg) -> Outline {
    let (l, w) = (
        rng.random_range(400.0..800.0),
        rng.random_range(300.0..600.0),
    );
    let border = rng.random_range(40.0..80.0);
    let mut outline = Outline::rectangle(l, w);
    let window = Ring::rounded_rectangle(
        Point::new(border, border),
        Point::new(l - border, w - border),
        12.0,
    );
    outline.holes.push(window.reversed());
    outline
}

fn bracket(rng: &mut Pcg64Mcg) -> Outline {
    let (a, b) = (rng.random_range(80.0..200.0), rng.random_range(80.0..200.0));
    let t = rng.random_range(25.0..50.0);
    let l = [(0.0, 0.0), (a, 0.0), (a, t), (t, t), (t, b), (0.0, b)];
    Outline::polygon(l.map(|(x, y)| Point::new(x, y)))
}

fn front(rng: &mut Pcg64Mcg) -> Outline {
    let (l, w) = (
        rng.random_range(300.0..700.0),
        rng.random_range(60.0..150.0),
    );
    let bulge = rng.random_range(0.05..0.2);
    Outline::from_rings(
        Ring::new(vec![
            Vertex::new(0.0, 0.0, bulge),
            Vertex::new(l, 0.0, 0.0),
            Vertex::new(l, w, -bulge),
            Vertex::new(0.0, w, 0.0),
        ]),
        Vec::new(),
    )
}

fn rounded(rng: &mut Pcg64Mcg) -> Outline {
    let (l, w) = (
        rng.random_range(120.0..400.0),
        rng.random_range(100.0..300.0),
    );
    let corner = Point::new(l, w);
    Outline::from_rings(
        Ring::rounded_rectangle(Point::default(), corner, 20.0),
        Vec::new(),
    )
}
