//! Nests published strip problems and prints one JSON line each: length, density, time to the first
//! whole layout.
//!
//! `cargo bench --bench strip_density -- [FILE...] [--seconds S] [--steps N] [--threads T] [--seed N] [--out DIR]`
//!
//! A file holds `{name, strip_width, total_piece_area, pieces: [{id, quantity, angles, outer}]}`; without
//! files a small set of the project's own is run. With `--out` the layouts are written, so that anyone can
//! check them. A problem that cannot be nested is told on standard error and the others go on; the exit code
//! is 2 then.

use panelwright::geometry::{Outline, Point};
use panelwright::nesting::freeform::{Strip, StripProblem, nest_strip};
use panelwright::nesting::{Budget, Control, Part, Progress, Turn};
use serde::Deserialize;
use std::path::{Component, Path, PathBuf};
use std::process::ExitCode;
use std::sync::Mutex;
use std::time::{Duration, Instant};

/// Most seconds for one problem, as the program has it.
const MOST_SECONDS: f64 = 1e7;

/// Most bytes of a problem's name: with its ending it has to be a file name on common file systems.
const LONGEST_NAME: usize = 250;

/// A problem as published.
#[derive(Deserialize)]
struct Instance {
    name: String,
    strip_width: f64,
    total_piece_area: f64,
    pieces: Vec<Piece>,
}

#[derive(Deserialize)]
struct Piece {
    id: String,
    quantity: u32,
    angles: Vec<f64>,
    outer: Vec<[f64; 2]>,
}

/// What the command line asks for.
struct Wanted {
    files: Vec<PathBuf>,
    /// For each problem; none when steps were asked for.
    limit: Option<Duration>,
    steps: u64,
    threads: usize,
    seed: u64,
    out: Option<PathBuf>,
}

fn main() -> ExitCode {
    let faults = match wanted().and_then(|w| run(&w)) {
        Ok(faults) => faults,
        Err(message) => {
            tell(&message);
            1
        }
    };
    match faults {
        0 => ExitCode::SUCCESS,
        _ => ExitCode::from(2),
    }
}

fn tell(message: &str) {
    eprintln!("strip_density: {message}");
}

fn wanted() -> Result<Wanted, String> {
    let mut wanted = Wanted {
        files: Vec::new(),
        limit: Some(Duration::from_secs(10)),
        steps: u64::MAX / 4,
        threads: 0,
        seed: 1,
        out: None,
    };
    let mut args = std::env::args().skip(1).filter(|a| a != "--bench");
    while let Some(arg) = args.next() {
        let mut value = || args.next().ok_or(format!("{arg} needs a value"));
        fn number<T: std::str::FromStr>(arg: &str, text: String) -> Result<T, String> {
            text.parse()
                .map_err(|_| format!("{arg}: '{text}' is not a number it can use"))
        }
        match arg.as_str() {
            "--seconds" => wanted.limit = Some(limit(number(&arg, value()?)?)?),
            "--steps" => {
                wanted.steps = number(&arg, value()?)?;
                wanted.limit = None;
            }
            "--threads" => wanted.threads = number(&arg, value()?)?,
            "--seed" => wanted.seed = number(&arg, value()?)?,
            "--out" => wanted.out = Some(value()?.into()),
            _ if arg.starts_with("--") => return Err(format!("{arg} is no option of this bench")),
            _ => wanted.files.push(arg.into()),
        }
    }
    Ok(wanted)
}

fn limit(seconds: f64) -> Result<Duration, String> {
    let limit = Duration::try_from_secs_f64(seconds).ok();
    limit
        .filter(|limit| !limit.is_zero() && seconds <= MOST_SECONDS)
        .ok_or_else(|| {
            format!("--seconds: the time limit is {seconds}; give a number above 0, up to {MOST_SECONDS}")
        })
}

/// Nests every problem; returns how many could not be nested.
fn run(wanted: &Wanted) -> Result<usize, String> {
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(wanted.threads)
        .build()
        .map_err(|e| e.to_string())?;
    let mut instances: Vec<Result<Instance, String>> =
        wanted.files.iter().map(|file| read(file)).collect();
    if instances.is_empty() {
        instances = own().into_iter().map(Ok).collect();
    }
    if let Some(out) = &wanted.out {
        std::fs::create_dir_all(out).map_err(|e| format!("{}: {e}", out.display()))?;
    }
    let mut faults = 0;
    for instance in instances {
        if let Err(message) = instance.and_then(|i| pool.install(|| solve(&i, wanted))) {
            tell(&message);
            faults += 1;
        }
    }
    Ok(faults)
}

fn read(file: &Path) -> Result<Instance, String> {
    let text = std::fs::read_to_string(file).map_err(|e| format!("{}: {e}", file.display()))?;
    let instance: Instance =
        serde_json::from_str(&text).map_err(|e| format!("{}: {e}", file.display()))?;
    check(&instance).map_err(|e| format!("{}: {e}", file.display()))?;
    Ok(instance)
}

/// What would only come to light after the search.
fn check(instance: &Instance) -> Result<(), String> {
    let name = &instance.name;
    let mut components = Path::new(name).components();
    let plain = matches!(
        (components.next(), components.next()),
        (Some(Component::Normal(only)), None) if only == name.as_str()
    );
    if !plain || name.contains(['/', '\\']) || name.contains(char::is_control) {
        return Err(format!(
            "name: {name:?} is no plain file name, which layouts are written under; give one without \
             folders"
        ));
    }
    if name.len() > LONGEST_NAME {
        return Err(format!(
            "name: it has {} bytes, and layouts are written under it; give at most {LONGEST_NAME}",
            name.len()
        ));
    }
    if instance.pieces.iter().all(|piece| piece.quantity == 0) {
        return Err("pieces: there is none to nest; give at least one".into());
    }
    Ok(())
}

/// The turn that allows just these angles.
fn turn(piece: &Piece) -> Result<Turn, String> {
    let mut angles = piece.angles.clone();
    angles.sort_by(f64::total_cmp);
    match angles.as_slice() {
        [] | [0.0] => Ok(Turn::None),
        [0.0, 180.0] => Ok(Turn::Half),
        [0.0, 90.0, 180.0, 270.0] => Ok(Turn::Quarter),
        _ => Err(format!(
            "piece {}: the angles {angles:?} are none of [0], [0, 180], [0, 90, 180, 270]",
            piece.id
        )),
    }
}

fn solve(instance: &Instance, wanted: &Wanted) -> Result<(), String> {
    let fault = |e: String| format!("{}: {e}", instance.name);
    let mut parts = Vec::new();
    for piece in &instance.pieces {
        let mut corners = piece.outer.clone();
        // Some data repeat corners, or the first one at the end.
        corners.dedup();
        if corners.len() > 1 && corners.first() == corners.last() {
            corners.pop();
        }
        let outline = Outline::polygon(corners.iter().map(|p| Point::new(p[0], p[1])));
        let mut part = Part::new(piece.id.clone(), outline, piece.quantity);
        part.turn = turn(piece).map_err(fault)?;
        parts.push(part);
    }
    let problem = StripProblem::new(parts, instance.strip_width);
    let start = Instant::now();
    let first = Mutex::new(None);
    let listener = |p: Progress| {
        if p.spend.is_finite()
            && let Ok(mut first) = first.lock()
        {
            first.get_or_insert_with(|| start.elapsed());
        }
    };
    let budget = Budget {
        seed: wanted.seed,
        steps: wanted.steps,
        limit: wanted.limit,
    };
    let control = Control::none().with_listener(&listener);
    let strip = nest_strip(&problem, &budget, &control).map_err(|e| fault(e.to_string()))?;
    let first = first.lock().ok().and_then(|f| *f);
    let line = serde_json::json!({
        "instance": instance.name,
        "length": strip.length,
        "density": instance.total_piece_area / (instance.strip_width * strip.length),
        "seconds": start.elapsed().as_secs_f64(),
        "first_valid_ms": first.map(|t: Duration| t.as_secs_f64() * 1e3),
    });
    println!("{line}");
    if let Some(out) = &wanted.out {
        write(
            &out.join(format!("{}.json", instance.name)),
            &problem,
            &strip,
        )?;
    }
    Ok(())
}

/// The layout for anyone to check.
fn write(file: &Path, problem: &StripProblem, strip: &Strip) -> Result<(), String> {
    let placements: Vec<serde_json::Value> = strip
        .placed
        .iter()
        .map(|placed| {
            let part = &problem.parts[placed.part];
            let outline = part.outline.placed(&placed.placement);
            let corners: Vec<[f64; 2]> = outline
                .outer
                .vertices
                .iter()
                .map(|v| [v.point.x, v.point.y])
                .collect();
            serde_json::json!({
                "id": part.name,
                "angle": placed.placement.angle_deg(),
                "outline": corners,
            })
        })
        .collect();
    let text = serde_json::json!({ "placements": placements }).to_string();
    std::fs::write(file, text).map_err(|e| format!("{}: {e}", file.display()))
}

/// A jigsaw that fills its strip, and brackets with gussets that leave room.
fn own() -> Vec<Instance> {
    let piece = |id: &str, quantity: u32, angles: &[f64], outer: &[(f64, f64)]| Piece {
        id: id.into(),
        quantity,
        angles: angles.to_vec(),
        outer: outer.iter().map(|&(x, y)| [x, y]).collect(),
    };
    let half = [0.0, 180.0];
    let l = [
        (0.0, 0.0),
        (20.0, 0.0),
        (20.0, 10.0),
        (10.0, 10.0),
        (10.0, 20.0),
        (0.0, 20.0),
    ];
    let gusset = [(0.0, 0.0), (70.0, 0.0), (0.0, 45.0)];
    let bracket = [
        (0.0, 0.0),
        (90.0, 0.0),
        (90.0, 18.0),
        (22.0, 18.0),
        (22.0, 64.0),
        (0.0, 64.0),
    ];
    vec![
        Instance {
            name: "corners".into(),
            strip_width: 40.0,
            total_piece_area: 12.0 * 300.0,
            pieces: vec![piece("corner", 12, &[0.0, 90.0, 180.0, 270.0], &l)],
        },
        Instance {
            name: "brackets".into(),
            strip_width: 200.0,
            total_piece_area: 10.0 * 1575.0 + 10.0 * (90.0 * 18.0 + 22.0 * 46.0),
            pieces: vec![
                piece("gusset", 10, &half, &gusset),
                piece("bracket", 10, &half, &bracket),
            ],
        },
    ]
}
