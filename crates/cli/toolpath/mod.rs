//! The paths that a router or laser follows: beside the finished edges, in an order that frees nothing
//! too early, with leads in the scrap.
//!
//! Stages, each a module: `tool` (the machine's settings with every default filled in), `contour`
//! (the lines of a part, moved aside for the tool, with the places where each may begin), `lead`
//! (onto a line and off it), `task` (a line where it lies on a piece), `hold` (tabs), `order` (which line
//! comes when, begun where), `figures` (length, pierces, travel, time).
//!
//! The order has blocks, worked one after another: all marks; openings with nothing in them; then, from
//! the innermost window outward, parts in windows (small ones first) and the windows round them; outlines
//! last, small ones first. Within a block the way is short.

mod contour;
mod figures;
mod hold;
mod lead;
pub mod order;
mod task;
mod tool;

pub use contour::Work;
pub use figures::CutFigures;
pub use tool::Tool;

use crate::bed::{from_bed, on_finisher};
use crate::cut_plan::{CutPart, CutPlan, CutSheet};
use crate::input::{Machine, Process};
use crate::job::{Item, Job};
use crate::layer::Layer;
use crate::shape::Shape;
use crate::{Failure, Result};
use contour::{Contour, Unfit, contours};
use order::{Stop, order, travel};
use panelwright_geometry::{Bounds, KerfError, Narrow, Placement, Point, tolerance};
use rayon::prelude::*;
use std::collections::BTreeMap;
use task::{Obstacles, Task};

/// Most parts named in one message.
const MOST_UNFIT: usize = 20;

/// An opening that is wider than the tool by less than this, in millimetres, is as wide as it.
const AS_WIDE: f64 = 0.01;

/// What a machine does to a piece, in working order.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ToolPaths {
    /// Cuts and marks in working order.
    pub passes: Vec<Pass>,
    /// What they amount to.
    pub figures: CutFigures,
    /// What those on each blank amount to, in the order of the blanks; empty for a piece that is not sawn first.
    pub blanks: Vec<CutFigures>,
}

/// How copies of a part are finished that the saw has cut to its bounding rectangle.
#[derive(Debug, Clone, PartialEq)]
pub struct Finishing {
    /// The part, as an index into the job's items.
    pub item: usize,
    /// What the router follows on each copy, as it lies there ([`on_finisher`]).
    pub paths: ToolPaths,
}

/// One cut or mark from the moment the tool comes down until it lifts.
#[derive(Debug, Clone, PartialEq)]
pub struct Pass {
    /// The part, as an index into [`CutSheet::parts`].
    pub part: usize,
    /// What it does.
    pub work: Work,
    /// What is drawn for it, in order: one line, or several where tabs stay.
    pub lines: Vec<(Layer, Shape)>,
    /// Whether other parts lie inside it.
    pub occupied: bool,
}

/// The paths of every sheet of a plan.
///
/// # Errors
/// When a tool cannot make a part, naming both.
///
/// # Panics
/// When the plan refers to items or machines that `job` does not have.
pub fn of_plan(plan: &CutPlan, job: &Job) -> Result<Vec<ToolPaths>> {
    let mut cutter = Cutter::new(job);
    for sheet in &plan.sheets {
        cutter.prepare(sheet)?;
    }
    Ok(plan
        .sheets
        .par_iter()
        .map(|sheet| cutter.paths(sheet))
        .collect())
}

/// How the sawn parts of a plan are finished, in the order of their cut files; none where the shop has no
/// router.
///
/// # Errors
/// When the router's tool cannot make a part, naming both.
///
/// # Panics
/// When the plan refers to items that `job` does not have.
pub fn of_finishing(plan: &CutPlan, job: &Job) -> Result<Vec<Finishing>> {
    let Some(router) = job.shop.first(Process::Router) else {
        return Ok(Vec::new());
    };
    let mut cutter = Cutter::new(job);
    plan.finished(job)
        .into_iter()
        .map(|item| {
            let placement = on_finisher(&job.items[item], Some(&job.shop.machines[router]));
            let paths = cutter.sawn_part(item, router, placement)?;
            Ok(Finishing { item, paths })
        })
        .collect()
}

/// Makes sure that every part of an order can be made by its machine's tool, before a long search.
///
/// # Errors
/// All parts that cannot, each with the place, and what to do: a shop mends its drawings in one go.
pub fn check(job: &Job) -> Result<()> {
    let mut cutter = Cutter::new(job);
    let mut unfit = Vec::new();
    for (i, item) in job.items.iter().enumerate() {
        if let Some(machine) = job.finisher(item)
            && let Err(failure) = cutter.contours(i, machine)
        {
            unfit.push(failure);
        }
    }
    let Some(first) = unfit.first() else {
        return Ok(());
    };
    if unfit.len() == 1 {
        return Err(first.clone());
    }
    let told = unfit.iter().take(MOST_UNFIT);
    let mut what: Vec<String> = told.map(|f| format!("{}: {}", f.place, f.what)).collect();
    if unfit.len() > MOST_UNFIT {
        what.push(format!("and {} more", unfit.len() - MOST_UNFIT));
    }
    Err(Failure::new(
        format!("{} parts cannot be made", unfit.len()),
        what.join("; "),
        &first.advice,
    ))
}

/// How many windows each part lies in.
#[must_use]
pub fn depths(parts: &[CutPart]) -> Vec<u32> {
    parts
        .iter()
        .map(|part| {
            let mut depth = 0;
            let mut around = part.inside;
            // No chain is longer than there are parts; a longer one would be a ring.
            while let Some(next) = around.and_then(|i| parts.get(i))
                && (depth as usize) < parts.len()
            {
                depth += 1;
                around = next.inside;
            }
            depth
        })
        .collect()
}

/// Works out paths; each part's lines are offset once for all its copies.
pub struct Cutter<'a> {
    job: &'a Job,
    known: BTreeMap<(usize, usize), Vec<Contour>>,
}

impl<'a> Cutter<'a> {
    /// For the parts of a job.
    #[must_use]
    pub fn new(job: &'a Job) -> Self {
        Self {
            job,
            known: BTreeMap::new(),
        }
    }

    fn contours(&mut self, item: usize, machine: usize) -> Result<()> {
        if !self.known.contains_key(&(item, machine)) {
            let (its, with) = (&self.job.items[item], &self.job.shop.machines[machine]);
            let found =
                contours(&its.outline, &Tool::of(with)).map_err(|e| unfit(its, with, &e))?;
            self.known.insert((item, machine), found);
        }
        Ok(())
    }

    /// The paths on a sheet, in its own coordinates; those of one blank after those of another. None
    /// for a sheet that the saw frees.
    ///
    /// # Errors
    /// When the tool cannot make a part, naming both.
    ///
    /// # Panics
    /// When the sheet refers to items or machines that the job does not have.
    pub fn sheet(&mut self, sheet: &CutSheet) -> Result<ToolPaths> {
        self.prepare(sheet)?;
        Ok(self.paths(sheet))
    }

    /// Works out the lines of every part on a sheet that is not the saw's.
    fn prepare(&mut self, sheet: &CutSheet) -> Result<()> {
        for part in sheet.parts.iter().filter(|_| !sheet.guillotine) {
            self.contours(part.item, sheet.machine)?;
        }
        Ok(())
    }

    /// The paths on a sheet that is prepared.
    fn paths(&self, sheet: &CutSheet) -> ToolPaths {
        if sheet.guillotine {
            return ToolPaths::default();
        }
        let machine = &self.job.shop.machines[sheet.machine];
        let tool = Tool::of(machine);
        let depths = depths(&sheet.parts);
        let obstacles = tool.follows_path().then(|| Obstacles::of(sheet));
        let whole = Bounds::of_points(sheet.outline.iter().copied());
        let pieces = if sheet.blanks.is_empty() {
            whole.into_iter().collect()
        } else {
            sheet.blanks.clone()
        };
        let on_piece = |part: &CutPart| {
            let bounds = part.outline.bounds();
            let on = |p: &Bounds| p.grown(tolerance::JUDGE).contains(&bounds);
            // A part that is on none of them is the judge's business; here it must not be lost.
            pieces.iter().position(on).unwrap_or(0)
        };
        let on: Vec<usize> = sheet.parts.iter().map(on_piece).collect();
        let mut all = ToolPaths {
            figures: CutFigures {
                seconds: Some(0.0),
                ..CutFigures::default()
            },
            ..ToolPaths::default()
        };
        for (piece, bounds) in pieces.iter().enumerate() {
            let of_part = |i: usize| -> Vec<Task> {
                let part = &sheet.parts[i];
                let found = &self.known[&(part.item, sheet.machine)];
                let tasks = found.iter().map(|contour| {
                    let occupied = match contour.work {
                        Work::Inside(hole) => {
                            let hole = part.outline.holes[hole].bounds();
                            let guests = sheet.parts.iter().filter(|p| p.inside == Some(i));
                            guests
                                .map(|g| g.outline.bounds())
                                .any(|g| hole.contains(&g))
                        }
                        _ => false,
                    };
                    Task::new(
                        i,
                        contour,
                        part.placement,
                        depths[i],
                        occupied,
                        obstacles.as_ref(),
                        &tool,
                    )
                });
                tasks.collect()
            };
            // Leads that keep clear of everything are most of the work; each part looks for its own.
            let tasks: Vec<Vec<Task>> = (0..sheet.parts.len())
                .into_par_iter()
                .filter(|i| on[*i] == piece)
                .map(of_part)
                .collect();
            let tasks: Vec<Task> = tasks.into_iter().flatten().collect();
            let home = from_bed(bounds, machine).apply(Point::default());
            let paths = work_out(&tasks, &tool, home);
            all.passes.extend(paths.passes);
            all.figures = all.figures.and(&paths.figures);
            if !sheet.blanks.is_empty() {
                all.blanks.push(paths.figures);
            }
        }
        all
    }

    /// The paths that finish a part which the saw has cut to its bounding rectangle, the part moved
    /// by `placement`.
    ///
    /// # Errors
    /// When the tool cannot make the part.
    ///
    /// # Panics
    /// When the job has no such item or machine.
    pub fn sawn_part(
        &mut self,
        item: usize,
        machine: usize,
        placement: Placement,
    ) -> Result<ToolPaths> {
        self.contours(item, machine)?;
        let tool = Tool::of(&self.job.shop.machines[machine]);
        // What is left round the part is scrap on all sides: nothing to keep off.
        let found = &self.known[&(item, machine)];
        let rectangle = self.job.items[item].outline.is_rectangle(1e-3);
        let tasks: Vec<Task> = found
            .iter()
            .filter(|c| !(rectangle && c.work == Work::Outside))
            .map(|c| Task::new(0, c, placement, 0, false, None, &tool))
            .collect();
        Ok(work_out(&tasks, &tool, Point::default()))
    }
}

/// Puts the lines in order and draws each as it is begun.
fn work_out(tasks: &[Task], tool: &Tool, home: Point) -> ToolPaths {
    let mut blocks: Vec<_> = tasks.iter().map(|t| t.block(tool.small_area)).collect();
    let of_each = blocks.clone();
    blocks.sort_unstable();
    blocks.dedup();
    let stops: Vec<Stop> = tasks
        .iter()
        .zip(&of_each)
        .map(|(task, block)| Stop {
            block: blocks.binary_search(block).unwrap_or(0),
            ways: (0..task.ways.len()).map(|w| task.ends(w)).collect(),
        })
        .collect();
    let tour = order(&stops, home);
    let mut figures = CutFigures {
        tool_path: tool.follows_path(),
        travel: travel(&stops, &tour, home),
        travel_as_drawn: as_drawn(tasks, home),
        ..CutFigures::default()
    };
    let passes = tour
        .iter()
        .map(|(i, way)| tasks[*i].drawn(*way, tool, &mut figures))
        .collect();
    ToolPaths {
        passes,
        figures: figures.timed(tool),
        blanks: Vec::new(),
    }
}

/// The travel when every line is begun at its first corner and all are worked in the order in which
/// the parts are listed: each part's marks, openings, outline.
fn as_drawn(tasks: &[Task], home: Point) -> f64 {
    let mut at = home;
    tasks
        .iter()
        .filter(|t| !t.contour.line.vertices.is_empty())
        .map(|task| {
            let line = &task.contour.line;
            let first = task.placement.apply(line.vertices[0].point);
            let moved = at.distance(first);
            at = match line.closed {
                true => first,
                false => task
                    .placement
                    .apply(line.vertices[line.vertices.len() - 1].point),
            };
            moved
        })
        .sum()
}

/// A part that its machine's tool cannot make.
fn unfit(item: &Item, machine: &Machine, why: &Unfit) -> Failure {
    let place = format!("part '{}' of kit '{}'", item.part, item.kit);
    let place_of = |p: Point| format!("{:.1}, {:.1}", p.x, p.y);
    let which = |hole: Option<usize>| match hole.map(|i| item.outline.holes[i].bounds()) {
        Some(b) => format!("the opening at {}", place_of(b.center())),
        None => "the outline".to_owned(),
    };
    let tool = format!("the {} mm that the {} removes", machine.kerf, machine.name);
    // Where sides meet in corners, as in a small triangle, no width can be told.
    let narrow = |hole: Option<usize>| item.outline.opening_below(hole, machine.kerf);
    let what = match why {
        Unfit::Kerf(KerfError::HoleClosed { hole, .. }) => match narrow(Some(*hole)) {
            Some(Narrow { width, at }) => format!(
                "{} is {width:.3} mm wide at {}, narrower than {tool}",
                which(Some(*hole)),
                place_of(at)
            ),
            None if (item.outline)
                .opening_below(Some(*hole), machine.kerf + AS_WIDE)
                .is_some() =>
            {
                format!(
                    "{} is as wide as {tool}, and only a round one is drilled",
                    which(Some(*hole))
                )
            }
            None => format!("{} has no room for {tool}", which(Some(*hole))),
        },
        Unfit::Kerf(KerfError::NeckClosed { hole, .. }) => match narrow(*hole) {
            Some(Narrow { width, at }) => format!(
                "{} has a neck {width:.3} mm wide at {}, narrower than {tool}",
                which(*hole),
                place_of(at)
            ),
            None => format!("{} has a neck narrower than {tool}", which(*hole)),
        },
        Unfit::Kerf(other) => other.to_string(),
        Unfit::OutOfReach { at, by } => format!(
            "the outline at {} is {by:.2} mm out of reach of {tool}",
            place_of(*at)
        ),
    };
    let advice = "use a finer tool or a wider opening; or leave the tool to the machine's own software: \
        \"lines\": \"finished\"";
    Failure::new(place, what, advice)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{CutSettings, Direction, LeadSettings, LeadShape, Lines, SmallParts};
    use crate::write::samples;
    use panelwright_geometry::{Boundary, Outline, Ring, Segment, Vec2, Vertex, validate};
    use proptest::prelude::*;
    use std::f64::consts::TAU;

    fn segments(shape: &Shape) -> Vec<Segment> {
        match shape {
            Shape::Circle { center, radius } => Ring::circle(*center, *radius).segments().collect(),
            Shape::Ring(ring) => ring.segments().collect(),
            Shape::Path(path) => path.segments().collect(),
            _ => Vec::new(),
        }
    }

    /// Every place, a tenth of a millimetre apart at most, is the radius from every edge or further.
    fn assert_never_too_near(paths: &ToolPaths, sheet: &CutSheet, radius: f64) -> f64 {
        let boundary = Boundary::new(sheet.parts.iter().flat_map(|p| p.outline.rings()));
        let mut length = 0.0;
        for pass in paths.passes.iter().filter(|p| p.work != Work::Mark) {
            for segment in pass.lines.iter().flat_map(|(_, shape)| segments(shape)) {
                length += segment.length();
                let count = (segment.length() * 10.0).ceil().max(4.0);
                for i in 0..=count as u32 {
                    let p = segment.point_at(f64::from(i) / count);
                    let distance = boundary.distance(p);
                    assert!(
                        distance >= radius - 2.5e-3,
                        "{distance} of {radius} at {p:?}, {pass:?}"
                    );
                }
            }
        }
        length
    }

    fn on_path(job: &mut Job, settings: CutSettings) {
        for machine in &mut job.shop.machines {
            machine.cutting = (machine.process != Process::Saw).then(|| CutSettings {
                lines: Lines::ToolPath,
                ..settings.clone()
            });
        }
    }

    #[test]
    fn the_order_frees_nothing_too_early() {
        let mut job = samples::job();
        let plan = samples::plan(&job);
        for path in [false, true] {
            if path {
                on_path(&mut job, CutSettings::default());
            }
            let paths = of_plan(&plan, &job).unwrap();
            let sheet = &plan.sheets[0];
            let work: Vec<(usize, Work)> =
                paths[0].passes.iter().map(|p| (p.part, p.work)).collect();
            let place = |part: usize, its: Work| {
                let found = work.iter().position(|w| *w == (part, its));
                found.expect("it is cut")
            };
            // The latch lies in the window (opening 0) of the door on the first blank.
            assert_eq!(sheet.parts[0].inside, Some(1));
            assert!(place(1, Work::Mark) < place(0, Work::Inside(0)));
            assert!(place(0, Work::Inside(0)) < place(0, Work::Outside));
            assert!(place(1, Work::Inside(2)) < place(0, Work::Outside));
            assert!(place(0, Work::Outside) < place(1, Work::Inside(0)));
            assert!(place(1, Work::Inside(0)) < place(1, Work::Outside));
            // What lies on the second blank comes after everything on the first.
            assert!(place(1, Work::Outside) < place(3, Work::Mark));
            assert_eq!(work.len(), 2 + 4 + 4 + 2 + 2);
            assert!(paths[1].passes.is_empty(), "the saw frees the second sheet");
        }
    }

    #[test]
    fn every_part_that_cannot_be_made_is_named_at_once() {
        let mut job = samples::job();
        on_path(&mut job, CutSettings::default());
        assert_eq!(check(&job), Ok(()));
        let slot = Bounds::new(Point::new(20.0, 20.0), Point::new(26.0, 50.0));
        job.items[1].outline.holes = vec![Ring::polygon(slot.corners()).reversed()];
        let one = check(&job).unwrap_err();
        assert!(one.place.contains("'latch'"), "{one}");
        assert!(one.what.contains("is as wide as the 6 mm"), "{one}");
        job.items[0].outline.holes[1] = Ring::circle(Point::new(40.0, 380.0), 2.0).reversed();
        let both = check(&job).unwrap_err();
        assert!(both.place.starts_with("2 parts"), "{both}");
        for part in ["'door'", "'latch'", "4.000 mm wide"] {
            assert!(both.what.contains(part), "{both}");
        }
    }

    #[test]
    fn only_leads_that_were_asked_for_can_be_missing() {
        let mut job = samples::job();
        let plan = samples::plan(&job);
        for (shape, length) in [(LeadShape::None, None), (LeadShape::Arc, Some(20.0))] {
            let lead = LeadSettings { shape, length };
            on_path(
                &mut job,
                CutSettings {
                    lead,
                    ..CutSettings::default()
                },
            );
            for paths in of_plan(&plan, &job).unwrap() {
                assert_eq!(paths.figures.without_lead, 0, "{shape:?}");
            }
        }
    }

    #[test]
    fn a_part_in_tabs_is_drawn_in_pieces_that_meet() {
        let mut job = samples::job();
        let plan = samples::plan(&job);
        on_path(
            &mut job,
            CutSettings {
                small_parts: SmallParts {
                    area: Some(20_000.0),
                    ..SmallParts::default()
                },
                ..CutSettings::default()
            },
        );
        let paths = of_plan(&plan, &job).unwrap().remove(2);
        let outline = paths.passes.last().expect("passes");
        assert_eq!((outline.work, outline.lines.len()), (Work::Outside, 7));
        assert_eq!(paths.figures.tabs, 3);
        let ends = |shape: &Shape| {
            let all = segments(shape);
            (all[0].start, all[all.len() - 1].end)
        };
        for (i, pair) in outline.lines.windows(2).enumerate() {
            assert!(matches!(pair[i % 2].0, Layer::PathOutside(_)));
            assert!(matches!(pair[1 - i % 2].0, Layer::PathTab(_)));
            assert!(ends(&pair[0].1).1.distance(ends(&pair[1].1).0) < 1e-9);
        }
        assert_eq!(paths.figures.pierces, 2);
    }

    /// A star-shaped part with arcs and, when there is room, a round hole.
    fn blob() -> impl Strategy<Value = Outline> {
        let corner = (40.0..120.0_f64, -0.4..0.6_f64, any::<bool>());
        (prop::collection::vec(corner, 3..9), 3.0..25.0_f64)
            .prop_map(|(corners, hole)| {
                let n = corners.len() as f64;
                let vertices = corners
                    .iter()
                    .enumerate()
                    .map(|(i, (reach, bulge, arc))| Vertex {
                        point: Point::default() + Vec2::from_angle(i as f64 * TAU / n, *reach),
                        bulge: if *arc { *bulge } else { 0.0 },
                    });
                let hole = Ring::circle(Point::default(), hole);
                Outline::from_rings(Ring::new(vertices.collect()), vec![hole])
            })
            .prop_filter("no proper part", |o| validate(o).is_ok())
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn paths_and_leads_keep_off_every_edge(
            parts in prop::collection::vec((blob(), 0.0..360.0_f64), 1..4),
            kerf in 0.05..6.0_f64, more in 0.0..8.0_f64,
            climb in any::<bool>(), arc in any::<bool>(), length in prop::option::of(0.5..15.0_f64),
        ) {
            let mut job = samples::job();
            let mut sheet = samples::plan(&job).sheets.remove(2);
            let gap = kerf + more;
            (sheet.gap, sheet.kerf, sheet.machine) = (gap, kerf, 1);
            (sheet.voids, sheet.flaws) = (Vec::new(), Vec::new());
            sheet.parts.clear();
            let mut x = 10.0;
            for (i, (outline, turn)) in parts.iter().enumerate() {
                job.items[i].outline = outline.clone();
                let turned = outline.placed(&Placement::new(*turn, Point::default())).bounds();
                let placement = Placement::new(*turn, Point::new(x - turned.min.x, 10.0 - turned.min.y));
                x += turned.width() + gap;
                sheet.parts.push(CutPart {
                    item: i,
                    copy: 1,
                    kit_number: None,
                    placement,
                    outline: outline.placed(&placement),
                    inside: None,
                    pinned: false,
                });
            }
            let stock = Bounds::new(Point::default(), Point::new(x + 10.0, 300.0));
            sheet.outline = stock.corners().to_vec();
            (job.shop.machines[1].kerf, job.shop.machines[1].gap) = (kerf, Some(gap));
            on_path(&mut job, CutSettings {
                direction: if climb { Direction::Climb } else { Direction::Conventional },
                lead: LeadSettings {
                    shape: if arc { LeadShape::Arc } else { LeadShape::Line },
                    length,
                },
                ..CutSettings::default()
            });
            let Ok(paths) = Cutter::new(&job).sheet(&sheet) else {
                // A hole, neck or notch that the tool does not fit into.
                return Ok(());
            };
            prop_assert_eq!(paths.passes.len(), 2 * parts.len());
            let found = assert_never_too_near(&paths, &sheet, 0.5 * kerf);
            prop_assert!((found - paths.figures.cut_length).abs() < 1e-4 * found);
            let ends = paths.passes.iter().flat_map(|p| &p.lines).flat_map(|(_, s)| segments(s));
            for segment in ends {
                let within = stock.contains(&segment.bounds());
                prop_assert!(within, "beside the stock: {segment:?}");
            }
        }
    }
}
