//! Nests generated kit orders and prints one JSON line per order: time to the first whole nest,
//! spend over the proven floor after so many seconds, memory.
//!
//! `cargo bench --bench kit_nest -- [--parts 50,500] [--seconds 1,10] [--threads T] [--seed N]`

use panelwright::geometry::{Outline, Point, Ring, Vertex};
use panelwright::nesting::{Budget, Control, KeepRule, Part, Problem, Progress, Stock, Turn, nest};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use std::sync::Mutex;
use std::time::{Duration, Instant};

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
    let list = |text: String| -> Vec<f64> {
        text.split(',')
            .map(|n| n.parse().unwrap_or_else(|_| panic!("'{n}' is no number")))
            .collect()
    };
    let seed: u64 = value("--seed", "1")
        .parse()
        .expect("--seed takes a whole number");
    let threads: usize = value("--threads", "0")
        .parse()
        .expect("--threads takes a whole number");
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(threads)
        .build()
        .expect("threads");
    for parts in list(value("--parts", "50,500")) {
        let problem = order(parts as usize, seed);
        for seconds in list(value("--seconds", "1,10")) {
            pool.install(|| report(&problem, parts as usize, seconds, seed));
        }
    }
}

fn report(problem: &Problem, parts: usize, seconds: f64, seed: u64) {
    let start = Instant::now();
    let first = Mutex::new(None);
    let listener = |p: Progress| {
        if p.spend.is_finite() {
            first
                .lock()
                .expect("no listener panics")
                .get_or_insert_with(|| start.elapsed());
        }
    };
    let budget = Budget {
        seed,
        steps: u64::MAX / 4,
        limit: None,
    };
    let deadline = start + Duration::from_secs_f64(seconds);
    let control = Control::none()
        .with_deadline(Some(deadline))
        .with_listener(&listener);
    let nest = nest(problem, &budget, &control).expect("the judge passes it");
    let taken = start.elapsed().as_secs_f64();
    let first = first.into_inner().expect("no listener panics");
    let spend = nest.spend(problem);
    let floor = panelwright::nesting::least_spend(problem);
    let missing: u32 = nest.not_placed.iter().map(|n| n.quantity).sum();
    let area: f64 = nest
        .layouts
        .iter()
        .map(|l| l.stock(problem).outline.area())
        .sum();
    let part_area: f64 = nest.layouts.iter().map(|l| l.part_area(problem)).sum();
    let line = serde_json::json!({
        "parts": parts,
        "budget_seconds": seconds,
        "seconds": taken,
        "first_nest_ms": first.map(|t: Duration| t.as_secs_f64() * 1e3),
        "sheets": nest.layouts.len(),
        "missing": missing,
        "yield": part_area / area,
        "spend": spend,
        "spend_over_floor": spend / floor,
        "peak_memory_mib": peak_memory_mib(),
    });
    println!("{line}");
}

/// Peak memory of this process; `None` where the system does not tell it in the Linux way.
fn peak_memory_mib() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024.0)
}

/// An order of about `count` copies: panels, frames with windows, brackets, curved fronts.
fn order(count: usize, seed: u64) -> Problem {
    let mut rng = Pcg64Mcg::seed_from_u64(seed);
    let mut parts = Vec::new();
    let mut left = count;
    while left > 0 {
        let (outline, most) = match parts.len() % 6 {
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
                Outline::rectangle(rng.random_range(60.0..200.0), rng.random_range(40.0..120.0)),
                24,
            ),
        };
        let quantity = rng.random_range(1..=most).min(left);
        left -= quantity;
        let name = format!("part {}", parts.len() + 1);
        let turn = if parts.len() % 6 == 3 {
            Turn::Half
        } else {
            Turn::Quarter
        };
        parts.push(Part {
            turn,
            ..Part::new(name, outline, quantity as u32)
        });
    }
    let keep = KeepRule {
        least_width: 150.0,
        least_length: 400.0,
        value_per_area: 0.5 * 40.0 / (1500.0 * 1000.0),
        handling: 0.0,
        scrap_cost_per_area: 1e-6,
    };
    let stock = vec![
        Stock {
            keep,
            ..Stock::sheet("large", 2440.0, 1220.0, 78.0, 0)
        },
        Stock {
            keep,
            ..Stock::sheet("small", 1500.0, 1000.0, 40.0, 1)
        },
    ];
    Problem {
        gap: 6.0,
        margin: 10.0,
        kerf: 3.175,
        ..Problem::new(parts, stock, vec![None, None])
    }
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
