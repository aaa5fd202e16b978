//! Measures the guillotine search: orders on sheets, and the most valuable pattern of one sheet.
//!
//! `cargo bench --bench guillotine -- [FILE.jsonl] [--seconds-each S] [--threads T] [--seed N]
//! [--turns] [--stages K] [--every N] [--out DIR]`
//!
//! FILE holds one problem a line, lengths in millimetres. What a line asks for is told by its keys:
//!
//! * an order: `{"name", "sheets": [{"length", "width", "stock", "cost"}], "items": [[length, width,
//!   wanted, value]]}`; `stock` null for as many as it takes, and the value of an item is not used;
//! * one sheet: `{"name", "sheet": [length, width], "items": [[length, width, most, value]]}`; `most`
//!   null for as many as fit, and `optimum` stands beside the result when it is given.
//!
//! Without FILE a set of generated orders of its own is run. One JSON line is printed for each problem
//! and one for the sum. Budgets are steps, not seconds, so a line repeats on any machine: one second is
//! [`STEPS_PER_SECOND`] for each thread. `seconds` and `processor_seconds` tell what it took.
//! With `--out`, DIR receives the sheets of each problem in the form of `nest.json`.
//! `--every N` runs every Nth problem only.

use panelwright::geometry::{Outline, Placement, Point, Polygon};
use panelwright::nest_file::{
    FORMAT, MissingRecord, NestFile, OffcutRecord, PlacementRecord, SawCutRecord, SheetRecord,
    SourceRecord, TotalsRecord,
};
use panelwright::nesting::guillotine::{BestValueOptions, best_value};
use panelwright::nesting::{
    Budget, Control, Method, Nest, Part, Problem, Progress, SawRules, Stock, Turn, least_spend,
    nest, verify, yield_ceilings,
};
use panelwright::write::nest_json;
use panelwright::{Failure, Result};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;
use serde::Deserialize;
use serde_json::json;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Mutex;
use std::time::Instant;

/// Steps that one thread is given for a second: the search counts them to be about a microsecond.
const STEPS_PER_SECOND: f64 = 1e6;

/// Largest length of a file, in millimetres: what the search takes.
const LARGEST: f64 = 1e5;

fn main() -> ExitCode {
    match Options::read(std::env::args().skip(1)).and_then(|o| run(&o)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            eprintln!("guillotine: {failure}");
            ExitCode::from(2)
        }
    }
}

/// What was asked for.
struct Options {
    file: Option<PathBuf>,
    seconds: f64,
    threads: usize,
    seed: u64,
    turns: bool,
    stages: Option<u32>,
    every: usize,
    out: Option<PathBuf>,
}

impl Options {
    fn read(args: impl Iterator<Item = String>) -> Result<Self> {
        let mut options = Self {
            file: None,
            seconds: 1.0,
            threads: 1,
            seed: 1,
            turns: false,
            stages: None,
            every: 1,
            out: None,
        };
        // The harness adds `--bench` by itself.
        let mut args = args.filter(|a| a != "--bench");
        while let Some(arg) = args.next() {
            let mut value = || {
                args.next().ok_or_else(|| {
                    Failure::new(arg.clone(), "has no value", "write the value behind it")
                })
            };
            match arg.as_str() {
                "--turns" => options.turns = true,
                "--seconds-each" => {
                    options.seconds = number(&arg, &value()?, |s: &f64| *s > 0.0 && *s <= 1e6)?;
                }
                "--threads" => {
                    options.threads = number(&arg, &value()?, |n| (1..=1024).contains(n))?;
                }
                "--seed" => options.seed = number(&arg, &value()?, |_| true)?,
                "--stages" => options.stages = Some(number(&arg, &value()?, |n| *n > 0)?),
                "--every" => options.every = number(&arg, &value()?, |n| *n > 0)?,
                "--out" => options.out = Some(value()?.into()),
                other if other.starts_with('-') => {
                    return Err(Failure::new(
                        arg,
                        "is no option of this measurement",
                        "use --seconds-each, --threads, --seed, --turns, --stages, --every or --out",
                    ));
                }
                _ if options.file.is_some() => {
                    return Err(Failure::new(
                        arg,
                        "is a second file",
                        "measure one file at a time",
                    ));
                }
                _ => options.file = Some(arg.into()),
            }
        }
        Ok(options)
    }
}

/// The value of an option as a number that `fits`.
fn number<N: std::str::FromStr>(option: &str, text: &str, fits: impl Fn(&N) -> bool) -> Result<N> {
    text.parse().ok().filter(fits).ok_or_else(|| {
        Failure::new(
            option,
            format!("'{text}' is not a number it takes"),
            "give a number above 0",
        )
    })
}

/// A sheet size as written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SheetLine {
    length: f64,
    width: f64,
    stock: Option<u32>,
    cost: f64,
}

/// Length, width, how many, value.
type ItemLine = (f64, f64, Option<u32>, f64);

/// One line of a file as written.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Line {
    name: String,
    sheets: Option<Vec<SheetLine>>,
    sheet: Option<[f64; 2]>,
    optimum: Option<f64>,
    /// Somebody else's floor; ours is printed.
    #[serde(rename = "lower_bound")]
    _lower_bound: Option<f64>,
    items: Vec<ItemLine>,
}

/// What is asked for.
enum Question {
    /// Cut all of it at the least spend.
    Order(Problem),
    /// Cut what is worth most from one sheet.
    OneSheet {
        problem: Problem,
        values: Vec<f64>,
        optimum: Option<f64>,
    },
}

/// A problem with its name.
struct Case {
    name: String,
    question: Question,
}

fn read_cases(file: &Path, options: &Options) -> Result<Vec<Case>> {
    let text = std::fs::read_to_string(file)
        .map_err(|e| Failure::in_file(file, "", e.to_string(), "name a file that can be read"))?;
    let mut cases: Vec<Case> = Vec::new();
    for (i, line) in text.lines().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        let place = format!("line {}", i + 1);
        let bad = |what: String, advice: &str| Failure::in_file(file, &place, what, advice);
        let line: Line = serde_json::from_str(line)
            .map_err(|e| bad(e.to_string(), "write one problem a line as JSON"))?;
        if cases.iter().any(|c| c.name == line.name) {
            let what = format!("the name '{}' was there before", line.name);
            return Err(bad(what, "give each problem a name of its own"));
        }
        if line.name.is_empty() || line.name.contains(['/', '\\', '\0']) || line.name == ".." {
            let what = format!("the name '{}' cannot name a file", line.name);
            return Err(bad(what, "use letters, digits and underlines"));
        }
        let name = line.name.clone();
        let question = question(line, options).map_err(|what| {
            bad(
                format!("{name}: {what}"),
                "correct the line; lengths and prices are numbers up to 100000",
            )
        })?;
        cases.push(Case { name, question });
    }
    if cases.is_empty() {
        return Err(Failure::in_file(
            file,
            "",
            "holds no problem",
            "write one problem a line as JSON",
        ));
    }
    Ok(cases.into_iter().step_by(options.every).collect())
}

/// The problem that a line poses, or what is wrong with it.
fn question(line: Line, options: &Options) -> std::result::Result<Question, String> {
    let sound = |v: f64| v > 0.0 && v <= LARGEST;
    let rectangle = |what: String, length: f64, width: f64| {
        if sound(length) && sound(width) {
            Ok(())
        } else {
            Err(format!("{what} is {length} x {width}"))
        }
    };
    if line.items.is_empty() {
        return Err("it has no items".into());
    }
    for (i, (length, width, wanted, value)) in line.items.iter().enumerate() {
        rectangle(format!("item {}", i + 1), *length, *width)?;
        if *wanted == Some(0) {
            return Err(format!("item {} is wanted 0 times", i + 1));
        }
        if !value.is_finite() || *value < 0.0 {
            return Err(format!("item {} has the value {value}", i + 1));
        }
    }
    match (line.sheets, line.sheet) {
        (Some(sheets), None) => {
            if sheets.is_empty() {
                return Err("it has no sheets".into());
            }
            let mut stock = Vec::new();
            for (i, s) in sheets.iter().enumerate() {
                rectangle(format!("sheet {}", i + 1), s.length, s.width)?;
                if !(s.cost.is_finite() && s.cost >= 0.0) {
                    return Err(format!("sheet {} costs {}", i + 1, s.cost));
                }
                let name = format!("sheet {}", i + 1);
                stock.push(Stock::sheet(name, s.length, s.width, s.cost, i));
            }
            let mut parts = Vec::new();
            for (i, (length, width, wanted, _)) in line.items.iter().enumerate() {
                let wanted =
                    wanted.ok_or_else(|| format!("item {} does not say how many", i + 1))?;
                parts.push(part(i, *length, *width, wanted, options));
            }
            let supplies = sheets.iter().map(|s| s.stock).collect();
            Ok(Question::Order(sawn(parts, stock, supplies, options)))
        }
        (None, Some([length, width])) => {
            rectangle("the sheet".into(), length, width)?;
            let stock = Stock::sheet("sheet", length, width, 1.0, 0);
            let parts = line.items.iter().enumerate().map(|(i, item)| {
                let (l, w, most, _) = *item;
                // No more than this many fit by their area.
                let fit = (length * width / (l * w)).floor().max(1.0) as u32;
                part(i, l, w, most.unwrap_or(fit), options)
            });
            Ok(Question::OneSheet {
                problem: sawn(parts.collect(), vec![stock], vec![Some(1)], options),
                values: line.items.iter().map(|item| item.3).collect(),
                optimum: line.optimum,
            })
        }
        (Some(_), Some(_)) => Err("it has both 'sheets' and 'sheet'".into()),
        (None, None) => Err("it has neither 'sheets' nor 'sheet'".into()),
    }
}

fn part(index: usize, length: f64, width: f64, wanted: u32, options: &Options) -> Part {
    let outline = Outline::rectangle(length, width);
    Part {
        turn: if options.turns {
            Turn::Quarter
        } else {
            Turn::None
        },
        ..Part::new(format!("panel {}", index + 1), outline, wanted)
    }
}

fn sawn(
    parts: Vec<Part>,
    stock: Vec<Stock>,
    supplies: Vec<Option<u32>>,
    options: &Options,
) -> Problem {
    Problem {
        method: Method::Guillotine(SawRules {
            stages: options.stages,
            ..SawRules::default()
        }),
        ..Problem::new(parts, stock, supplies)
    }
}

/// Orders of its own: shelves, doors and side panels of germination cabinets.
fn own_cases(options: &Options) -> Vec<Case> {
    let mut cases = Vec::new();
    for (name, kinds, most, sizes) in [
        ("cabinet_20", 12, 3, 1),
        ("cabinet_100", 40, 4, 2),
        ("series_2000", 25, 160, 4),
    ] {
        let mut rng = Pcg64Mcg::seed_from_u64(options.seed);
        let whole = |rng: &mut Pcg64Mcg, from: u32, to: u32| f64::from(rng.random_range(from..=to));
        let parts = (0..kinds)
            .map(|i| {
                let (length, width) = (whole(&mut rng, 150, 1100), whole(&mut rng, 80, 600));
                // Series of equal panels, and exactly 2000 of them in the last order.
                let wanted = if most == 160 {
                    80
                } else {
                    rng.random_range(1..=most)
                };
                Part {
                    turn: Turn::Quarter,
                    ..part(i, length, width, wanted, options)
                }
            })
            .collect();
        let stock = [
            (2440.0, 1220.0, 78.0),
            (1500.0, 1000.0, 40.0),
            (3050.0, 1500.0, 124.0),
            (2000.0, 1000.0, 52.0),
        ];
        let stock = stock[..sizes].iter().enumerate().map(|(i, s)| {
            let name = format!("{} x {}", s.0, s.1);
            Stock::sheet(name, s.0, s.1, s.2, i)
        });
        let mut problem = sawn(parts, stock.collect(), vec![None; sizes], options);
        if let Method::Guillotine(rules) = &mut problem.method {
            rules.kerf = 3.2;
        }
        cases.push(Case {
            name: name.into(),
            question: Question::Order(problem),
        });
    }
    cases
}

/// Sums over all problems.
#[derive(Default)]
struct Sum {
    problems: usize,
    sheets: usize,
    sheet_floor: f64,
    spend: f64,
    least_spend: f64,
    area_floor: f64,
    missing: u32,
    met: usize,
    value: f64,
    proven: usize,
    wrong: usize,
    seconds: f64,
    processor: f64,
}

fn run(options: &Options) -> Result<()> {
    let cases = match &options.file {
        Some(file) => read_cases(file, options)?,
        None => own_cases(options),
    };
    if let Some(out) = &options.out {
        std::fs::create_dir_all(out).map_err(|e| {
            Failure::in_file(out, "", e.to_string(), "name a folder that can be written")
        })?;
    }
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(options.threads)
        .build()
        .map_err(|e| Failure::new("--threads", e.to_string(), "use fewer threads"))?;
    let mut sum = Sum::default();
    for case in &cases {
        let (line, nest, problem) = pool.install(|| match &case.question {
            Question::Order(problem) => {
                order(&case.name, problem, options, &mut sum).map(|(l, n)| (l, n, problem))
            }
            Question::OneSheet {
                problem,
                values,
                optimum,
            } => one_sheet(&case.name, problem, values, *optimum, options, &mut sum)
                .map(|(l, n)| (l, n, problem)),
        })?;
        print(&line)?;
        if let Some(out) = &options.out {
            let file = out.join(format!("{}.json", case.name));
            write_nest(&file, problem, &nest, options)?;
        }
    }
    let orders = cases
        .iter()
        .any(|c| matches!(c.question, Question::Order(_)));
    let mut total = json!({
        "total": sum.problems,
        "seed": options.seed,
        "seconds": sum.seconds,
        "processor_seconds": sum.processor,
    });
    if orders {
        total["sheets"] = json!(sum.sheets);
        total["sheet_floor"] = json!(sum.sheet_floor);
        total["spend"] = json!(sum.spend);
        total["least_spend"] = json!(sum.least_spend);
        total["spend_over_floor"] = json!(sum.spend / sum.least_spend);
        total["area_floor"] = json!(sum.area_floor);
        total["spend_over_area_floor"] = json!(sum.spend / sum.area_floor);
        total["met_floor"] = json!(sum.met);
        total["missing"] = json!(sum.missing);
    }
    if sum.problems > 0 && sum.value > 0.0 {
        total["value"] = json!(sum.value);
        total["proven"] = json!(sum.proven);
        total["differ_from_optimum"] = json!(sum.wrong);
    }
    print(&total)
}

/// A reader that closed the pipe has seen enough; that is no failure.
fn print(line: &serde_json::Value) -> Result<()> {
    let mut out = std::io::stdout();
    match writeln!(out, "{line}").and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(Failure::new(
            "standard output",
            e.to_string(),
            "free some space",
        )),
        _ => Ok(()),
    }
}

fn budget(options: &Options) -> Budget {
    let steps = options.seconds * STEPS_PER_SECOND * options.threads as f64;
    Budget {
        seed: options.seed,
        steps: steps.min(u64::MAX as f64 / 1e6).round() as u64,
        limit: None,
    }
}

fn order(
    name: &str,
    problem: &Problem,
    options: &Options,
    sum: &mut Sum,
) -> Result<(serde_json::Value, Nest)> {
    let (start, processor) = (Instant::now(), processor_seconds());
    let first = Mutex::new(None);
    let listener = |p: Progress| {
        if p.spend.is_finite()
            && let Ok(mut first) = first.lock()
        {
            first.get_or_insert((start.elapsed().as_secs_f64(), p.spend));
        }
    };
    let control = Control::none().with_listener(&listener);
    let nest = nest(problem, &budget(options), &control)
        .map_err(|e| Failure::new(name, e.to_string(), "correct the problem"))?;
    let seconds = start.elapsed().as_secs_f64();
    let processor = processor_seconds() - processor;
    let floor_start = Instant::now();
    let least = least_spend(problem);
    let floor_seconds = floor_start.elapsed().as_secs_f64();
    let spend = nest.spend(problem);
    let missing: u32 = nest.not_placed.iter().map(|n| n.quantity).sum();
    let sheets = nest.layouts.len();
    let floor = sheet_floor(problem, least);
    let area_floor = area_floor(problem);
    let met = missing == 0 && spend <= least * (1.0 + 1e-9);
    let first = first.into_inner().unwrap_or(None);
    sum.problems += 1;
    sum.sheets += sheets;
    sum.sheet_floor += floor;
    sum.spend += spend;
    sum.least_spend += least;
    sum.area_floor += area_floor;
    sum.missing += missing;
    sum.met += usize::from(met);
    sum.seconds += seconds;
    sum.processor += processor;
    let line = json!({
        "name": name,
        "sheets": sheets,
        "sheet_floor": floor,
        "spend": spend,
        "least_spend": least,
        "area_floor": area_floor,
        "met_floor": met,
        "missing": missing,
        "first_seconds": first.map(|f| f.0),
        "first_spend": first.map(|f| f.1),
        "seconds": seconds,
        "processor_seconds": processor,
        "floor_seconds": floor_seconds,
    });
    Ok((line, nest))
}

/// Least number of sheets that a least spend leaves, by the dearest sheet.
fn sheet_floor(problem: &Problem, least: f64) -> f64 {
    let dearest = problem.stock.iter().map(|s| s.cost).fold(0.0, f64::max);
    if dearest > 0.0 {
        (least / dearest - 1e-9).ceil()
    } else {
        0.0
    }
}

/// What the parts' area alone costs at the best rate.
fn area_floor(problem: &Problem) -> f64 {
    let rates = problem.stock.iter().map(|s| s.cost / s.outline.area());
    let area: f64 = problem
        .parts
        .iter()
        .map(|p| p.outline.area() * f64::from(p.quantity))
        .sum();
    area * rates.fold(f64::INFINITY, f64::min)
}

fn one_sheet(
    name: &str,
    problem: &Problem,
    values: &[f64],
    optimum: Option<f64>,
    options: &Options,
    sum: &mut Sum,
) -> Result<(serde_json::Value, Nest)> {
    let (start, processor) = (Instant::now(), processor_seconds());
    let bad = |what: String| Failure::new(name, what, "correct the problem");
    problem.check().map_err(|e| bad(e.to_string()))?;
    let how = BestValueOptions {
        steps: budget(options).steps,
        free_last_trim: options.stages.is_some(),
    };
    let Method::Guillotine(rules) = &problem.method else {
        return Err(bad("it is not for a saw".into()));
    };
    let best = best_value(problem, rules, 0, values, &how, &Control::none());
    let seconds = start.elapsed().as_secs_f64();
    let processor = processor_seconds() - processor;
    let nest = Nest {
        layouts: best.layout.into_iter().collect(),
        not_placed: Vec::new(),
    };
    let faults = verify::judge(&accounted(problem, &nest), &nest);
    if let Some(fault) = faults.first() {
        return Err(bad(format!("the judge refuses the sheet: {fault}")));
    }
    let differs = best.proven
        && !options.turns
        && options.stages.is_none()
        && optimum.is_some_and(|o| (o - best.value).abs() > 1e-9 * o.abs());
    sum.problems += 1;
    sum.value += best.value;
    sum.proven += usize::from(best.proven);
    sum.wrong += usize::from(differs);
    sum.seconds += seconds;
    sum.processor += processor;
    let line = json!({
        "name": name,
        "value": best.value,
        "ceiling": best.ceiling,
        "proven": best.proven,
        "optimum": optimum,
        "steps": best.steps,
        "seconds": seconds,
        "processor_seconds": processor,
    });
    Ok((line, nest))
}

/// `problem` with as many copies wanted as `nest` places, since one sheet never makes up an order.
fn accounted(problem: &Problem, nest: &Nest) -> Problem {
    let mut wanted = problem.clone();
    for (part, placed) in wanted.parts.iter_mut().zip(nest.placed_counts(problem)) {
        part.quantity = placed;
    }
    wanted
}

/// Processor time of this process so far; 0 where the system does not tell it in the Linux way.
fn processor_seconds() -> f64 {
    /// Clock ticks in a second, as every Linux has it.
    const TICKS: f64 = 100.0;
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The program's name, in brackets, may hold blanks.
    let fields = stat.rsplit_once(')').map_or("", |(_, rest)| rest);
    let ticks = fields.split_whitespace().skip(11).take(2);
    ticks.filter_map(|t| t.parse::<f64>().ok()).sum::<f64>() / TICKS
}

fn write_nest(file: &Path, problem: &Problem, nest: &Nest, options: &Options) -> Result<()> {
    let failed = |e: &dyn std::fmt::Display| {
        Failure::in_file(file, "", e.to_string(), "name a folder that can be written")
    };
    let text = nest_json::to_string(&record(problem, nest, options))?;
    // Whole or not at all.
    let folder = file.parent().unwrap_or(Path::new("."));
    let mut aside = tempfile::NamedTempFile::new_in(folder).map_err(|e| failed(&e))?;
    aside.write_all(text.as_bytes()).map_err(|e| failed(&e))?;
    aside.persist(file).map_err(|e| failed(&e))?;
    Ok(())
}

fn pair(p: Point) -> [f64; 2] {
    [p.x, p.y]
}

fn ring(polygon: &Polygon) -> Vec<[f64; 2]> {
    polygon.outer.iter().map(|p| pair(*p)).collect()
}

/// The nest in the form of `nest.json`.
fn record(problem: &Problem, nest: &Nest, options: &Options) -> NestFile {
    let ceilings = yield_ceilings(problem);
    let kerf = match &problem.method {
        Method::Guillotine(rules) => rules.kerf,
        Method::FreeForm => problem.kerf,
    };
    let mut copies = vec![0; problem.parts.len()];
    let (mut part_area, mut taken_area, mut kept_area) = (0.0, 0.0, 0.0);
    let mut sheets = Vec::new();
    for (i, layout) in nest.layouts.iter().enumerate() {
        let stock = layout.stock(problem);
        let area = stock.outline.area();
        part_area += layout.part_area(problem);
        taken_area += area;
        kept_area += layout.kept_area();
        let placements = layout.placed.iter().map(|placed| {
            let part = &problem.parts[placed.part];
            copies[placed.part] += 1;
            let Placement { origin, .. } = placed.placement;
            PlacementRecord {
                part: part.name.clone(),
                kit: "order".into(),
                copy: copies[placed.part],
                kit_number: None,
                pinned: false,
                angle: placed.placement.angle_deg(),
                origin: pair(origin),
                outline: ring(&placed.covering(problem)),
                holes: Vec::new(),
            }
        });
        let placements = placements.collect();
        let saw_cuts = layout.saw_cuts.iter().map(|cut| SawCutRecord {
            from: pair(cut.from),
            to: pair(cut.to),
            kerf: cut.kerf,
            stage: cut.stage,
        });
        let offcuts = layout
            .offcuts
            .iter()
            .enumerate()
            .map(|(n, o)| OffcutRecord {
                id: format!("{}-{}", i + 1, n + 1),
                outline: ring(&o.outline),
                voids: Vec::new(),
                area: o.outline.area(),
                kept: o.kept,
            });
        sheets.push(SheetRecord {
            number: i + 1,
            material: "panel".into(),
            machine: "saw".into(),
            method: "guillotine".into(),
            source: SourceRecord {
                kind: "sheet".into(),
                id: stock.name.clone(),
                price: stock.cost,
                lot: None,
            },
            outline: ring(&stock.outline),
            voids: Vec::new(),
            keep_clear: Vec::new(),
            margin: 0.0,
            gap: kerf,
            kerf,
            placements,
            saw_cuts: saw_cuts.collect(),
            saw_seconds: None,
            offcuts: offcuts.collect(),
            yield_: layout.part_area(problem) / area,
            yield_ceiling: ceilings[layout.stock],
            kits_complete: 0,
            on_bed: None,
            cutting: None,
        });
    }
    let missing = nest.not_placed.iter().map(|n| MissingRecord {
        part: problem.parts[n.part].name.clone(),
        kit: "order".into(),
        quantity: n.quantity,
        why: n.why.to_string(),
    });
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
    let placed = accounted(problem, nest);
    let least = Problem {
        parts: placed
            .parts
            .into_iter()
            .filter(|p| p.quantity > 0)
            .collect(),
        ..placed
    };
    NestFile {
        format: FORMAT.into(),
        units: "mm".into(),
        seed: options.seed,
        sheets,
        not_placed: missing.collect(),
        totals: TotalsRecord {
            part_area,
            taken_area,
            kept_area,
            yield_: share(part_area, taken_area),
            net_yield: share(part_area, taken_area - kept_area),
            spend: nest.spend(problem),
            least_spend: least_spend(&least),
            kits: 0,
            kits_complete: 0,
        },
        choices: Vec::new(),
    }
}
