//! The main job: read, nest, judge, write.

use crate::args::NestArgs;
use crate::cut_plan::CutPlan;
use crate::given::{self, Given};
use crate::input::{OrderFile, Process, ShopFile, json};
use crate::job::Job;
use crate::paper::Paper;
use crate::plan::{PlanOptions, Status, plan_from};
use crate::rack::{self, Rack};
use crate::read_job::{ReadJobOptions, beside, rack_path};
use crate::terminal::{Left, Voice};
use crate::write::OutFolder;
use crate::{
    Failure, Result, cut_checks, papers, preview, report, saw_steps, toolpath, workload, write,
};
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

/// More is a slip of the finger: a year of work.
const MOST_EFFORT: u32 = 30_000_000;

/// More is a slip of the finger: four months.
const MOST_SECONDS: f64 = 1e7;

/// What `nest` did.
pub struct NestOutcome {
    /// The order as read.
    pub job: Job,
    /// What was written.
    pub plan: CutPlan,
    /// Time from the start to the first whole nest of the order.
    pub first_nest: Option<Duration>,
    /// Time of the whole run.
    pub taken: Duration,
}

/// Runs `panelwright nest`. `cancel` ends the search early with the best so far.
///
/// # Errors
/// Bad input, a folder that cannot be written. Nothing is written then.
pub fn run(args: &NestArgs, voice: Voice, cancel: &AtomicBool) -> Result<NestOutcome> {
    let start = Instant::now();
    let options = options(args)?;
    let pool = workload::pool(args.threads)?;
    let stay = args.from.as_deref().map(given::remnants_of).transpose()?;
    let mut job = Job::read(
        &args.order,
        &ReadJobOptions {
            rack: args.rack.clone(),
            stay: stay.unwrap_or_default(),
        },
    )?;
    settings(args, &mut job);
    args.paper.apply(&mut job.shop.paper);
    args.labels.apply(&mut job.shop.labels)?;
    toolpath::check(&job)?;
    cut_checks::apply(&mut job, args.strict)?;
    let given = match &args.from {
        Some(path) => {
            let mut given = Given::read(path, &job)?;
            given.notes.extend(cut_already(args, path)?);
            Some(given)
        }
        None => None,
    };
    // Before the search, so that nobody waits for a result that cannot be stored.
    let folder = OutFolder::prepare(&args.out)?;
    let first_nest = Mutex::new(None);
    let progress = voice.progress("nesting", left(&options));
    let tell = |status: Status| {
        if status.spend.is_some() {
            // Nothing that holds this lock can panic.
            let mut first = first_nest.lock().unwrap_or_else(PoisonError::into_inner);
            first.get_or_insert_with(|| start.elapsed());
        }
        progress.done(status.done);
        progress.found(&found(&status, &job.shop.currency));
    };
    let search = || plan_from(&job, &options, given.as_ref(), cancel, Some(&tell));
    let plan = workload::on(pool.as_ref(), search);
    drop(progress);
    let mut plan = plan?;
    saw_steps::check(&plan)?;
    plan.paths = toolpath::of_plan(&plan, &job)?;
    plan.finishing = toolpath::of_finishing(&plan, &job)?;
    let write::CutFiles { mut files, nest } = write::cut_files(&plan, &job)?;
    files.extend(papers::files(&plan, &job, &nest)?);
    files.push((write::NEST.to_owned(), nest));
    files.push(("report.txt".into(), report::text(&plan, &job).into_bytes()));
    files.push((
        "report.html".into(),
        report::html(&plan, &job)?.into_bytes(),
    ));
    if args.preview {
        files.extend(preview::pictures(&plan, &job, args.preview_width)?);
    }
    folder.commit(files)?;
    let first_nest = first_nest
        .into_inner()
        .unwrap_or_else(PoisonError::into_inner);
    Ok(NestOutcome {
        job,
        plan,
        first_nest,
        taken: start.elapsed(),
    })
}

/// Says which sheets of the nest at `path` stand booked. Their copies are nested all the same: how many are to be cut is up
/// to the order.
fn cut_already(args: &NestArgs, path: &Path) -> Result<Vec<String>> {
    let order = OrderFile::read(&args.order)?;
    let shop = beside(&args.order, &order.shop);
    let file: ShopFile = json(&shop, "panelwright-shop-1")?;
    let rack = rack_path(&file, &shop, args.rack.as_deref());
    let Some(rack) = rack.filter(|rack| rack.exists()) else {
        return Ok(Vec::new());
    };
    let (nest, digest) = rack::read_nest(path)?;
    let booked = rack::booked_of(&Rack::open_to_read(&rack)?, &nest, &digest)?;
    let told = booked.into_iter().map(|(booking, sheets)| {
        let numbers: Vec<String> = sheets.iter().map(usize::to_string).collect();
        let (noun, are) = match numbers.len() {
            1 => ("sheet", "is"),
            _ => ("sheets", "are"),
        };
        format!(
            "{noun} {} of the nest taken up {are} booked as {booking}: the copies on them are cut already, and this nest cuts \
             them once more unless the order asks for fewer",
            numbers.join(", ")
        )
    });
    Ok(told.collect())
}

/// What was typed about cut files goes for every router and laser of the shop; the release also for
/// the drawings that a saw is worked by.
fn settings(args: &NestArgs, job: &mut Job) {
    for machine in &mut job.shop.machines {
        let settings = machine.cutting.get_or_insert_default();
        settings.dxf = args.dxf.unwrap_or(settings.dxf);
        if machine.process == Process::Saw {
            continue;
        }
        settings.lines = args.lines.unwrap_or(settings.lines);
        settings.by_operation |= args.by_operation;
    }
}

fn options(args: &NestArgs) -> Result<PlanOptions> {
    let steps = workload::steps(args.effort, MOST_EFFORT)?;
    let limit = match args.seconds {
        None => None,
        Some(s) if s > 0.0 && s <= MOST_SECONDS => Some(Duration::from_secs_f64(s)),
        Some(s) => {
            let what = format!("the time limit is {s}");
            return Err(Failure::new(
                "--seconds",
                what,
                "give a number of seconds above 0, up to 10000000",
            ));
        }
    };
    // With a time limit the time decides, not the steps.
    let steps = match limit {
        Some(_) => u64::MAX / 4,
        None => steps,
    };
    Ok(PlanOptions {
        seed: args.seed,
        steps,
        limit,
        use_remnants: !args.no_remnants,
        use_cutouts: !args.no_cutouts,
        kits_early: args.kits_early,
        one_lot: args.one_lot,
    })
}

/// With a time limit the clock tells what is left.
fn left(options: &PlanOptions) -> Left {
    options.limit.map_or(Left::ByShare, Left::ByClock)
}

/// What the search has found so far.
fn found(status: &Status, currency: &str) -> String {
    let least = status.least_spend;
    match status.spend {
        Some(spend) => format!("spend {spend:.2} {currency}, floor {least:.2}"),
        None => "first nest".to_owned(),
    }
}

/// What to print after a nest.
#[must_use]
pub fn answer(args: &NestArgs, outcome: &NestOutcome) -> String {
    let NestOutcome { job, plan, .. } = outcome;
    if args.json {
        let t = &plan.totals;
        let missing: u32 = plan.missing.iter().map(|m| m.quantity).sum();
        let value = serde_json::json!({
            "out": args.out,
            "sheets": plan.sheets.len(),
            "placed": plan.part_count(),
            "missing": missing,
            "yield": t.yield_,
            "net_yield": t.net_yield,
            "yield_ceiling": t.yield_ceiling,
            "net_yield_ceiling": t.net_yield_ceiling,
            "kits": plan.kits,
            "kits_complete": plan.kits_complete(),
            "spend": t.spend,
            "least_spend": t.least_spend,
            "currency": job.shop.currency,
            "repeatable": plan.repeatable,
            "notes": plan.notes,
            "first_nest_seconds": outcome.first_nest.map(|t| t.as_secs_f64()),
            "seconds": outcome.taken.as_secs_f64(),
        });
        return format!("{value:#}\n");
    }
    let mut text = report::summary(plan, job);
    text.push('\n');
    text += &written(args, &job.shop.paper);
    text
}

/// What was written, in lines that fit a narrow terminal.
fn written(args: &NestArgs, paper: &Paper) -> String {
    const WIDTH: usize = 80;
    let files = ["report.html", "report.txt"]
        .into_iter()
        .chain(papers::NAMES)
        .chain(["nest.json", "cut/"])
        .chain(args.preview.then_some("preview/"));
    let folder = args.out.display().to_string();
    let mut text = paper.say_with("written-to", &[("folder", folder.into())]);
    let mut column = text.chars().count();
    for (i, file) in files.enumerate() {
        if i > 0 {
            text.push(',');
        }
        // A space before the name, a comma after it.
        let more = file.len() + 2;
        if column + more > WIDTH {
            text.push_str("\n ");
            column = 1;
        }
        text.push(' ');
        text.push_str(file);
        column += more;
    }
    text.push('\n');
    text
}
