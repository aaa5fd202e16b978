//! What lies in the cut-outs of parts, laid anew.
//!
//! Most small parts of an order lie in the cut-outs of frames, as rectangles in a row where those did best (see
//! [`rectangles`](super::rectangles)). Laid closer they take fewer cut-outs, and one that stays empty is an offcut that
//! may be kept. All cut-outs of a nest together are a problem of their own: as many remnants, each costing what it is
//! worth while it is empty, for the parts in them. Sheets are large and hardly two hold the same parts; cut-outs are
//! small and many of them alike, which suits [`patterns`](super::patterns).

#[cfg(test)]
mod tests;

use super::fill::Sheet;
use super::holes::{Holes, Laid, least_rate, stock_of};
use super::nesting::{Nesting, Scored, Worth};
use super::patterns::{Pattern, by_patterns};
use super::region::Item;
use super::rows::tiled;
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::{Part, Problem, Turn};
use panelwright_geometry::Point;
use rand_pcg::Pcg64Mcg;

/// Kinds of cut-outs that are told apart. Others stay as they are.
const MOST_KINDS: usize = 400;

/// Steps for each cut-out in use below which nothing would come of it.
const LEAST_STEPS: u64 = 2_000;

/// Kinds of cut-outs and parts that are tried with each other in rows, those with most of them first; most of the steps that may take, as a
/// share, and how many copies a cut-out must have the area of.
const MOST_TILED: usize = 8;
const TILED_SHARE: f64 = 0.5;
const MANY: f64 = 4.0;

/// Whether something lies in cut-outs of `nesting`, and these steps might lay it closer.
pub(super) fn are_worth(tables: &Tables, nesting: &Nesting, steps: u64) -> bool {
    tables.problem.use_cutouts && Cutouts::of(tables, nesting).are_worth(steps)
}

/// `nesting` with the contents of its cut-outs laid anew, where that is better, and the steps it took.
pub(super) fn laid_anew(
    tables: &Tables,
    nesting: &Nesting,
    steps: u64,
    random: &mut Pcg64Mcg,
    watch: &Watch,
) -> (Option<Scored>, u64) {
    if watch.stopped() {
        return (None, 0);
    }
    let cutouts = Cutouts::of(tables, nesting);
    if !cutouts.are_worth(steps) {
        return (None, 0);
    }
    let mut work = Work::of_steps(u64::MAX);
    let better = cutouts.better(tables, nesting, steps, random, watch, &mut work);
    (better, work.steps())
}

/// A cut-out as it lies on a sheet.
struct Cutout {
    /// Index of the sheet.
    sheet: usize,
    /// The field that its frame lies in.
    field: usize,
    /// Index of the stock that it is.
    kind: usize,
    /// Lower left corner of its bounds.
    at: Point,
    /// Indices of the items in it.
    contents: Vec<usize>,
}

/// The cut-outs of a nest as a problem of their own.
struct Cutouts {
    /// With the parts that lie in them, and the cut-outs as stock.
    problem: Problem,
    /// By part of the nest: its index in that problem.
    index_of: Vec<Option<usize>>,
    /// By part of that problem: its index in the nest.
    part_of: Vec<usize>,
    all: Vec<Cutout>,
}

impl Cutouts {
    /// Those that parts of the nest might lie in. Left out are such that something else reaches into their bounds, and such
    /// with a part that turns freely, which would lie at another angle than the nest knows.
    fn of(tables: &Tables, nesting: &Nesting) -> Self {
        let given = tables.problem;
        let mut found = Self {
            problem: Problem {
                parts: Vec::new(),
                stock: Vec::new(),
                supplies: Vec::new(),
                ..given.clone()
            },
            index_of: vec![None; given.parts.len()],
            part_of: Vec::new(),
            all: Vec::new(),
        };
        let rate = least_rate(given);
        let mut holes = Holes::of_parts_in(tables, nesting);
        for (index, (sheet, _)) in nesting.sheets.iter().enumerate() {
            found.add_those_on(tables, index, sheet, &mut holes, rate);
        }
        for cutout in &found.all {
            let items = &nesting.sheets[cutout.sheet].0.items;
            for i in &cutout.contents {
                let part = items[*i].1.part;
                let index = *found.index_of[part].get_or_insert_with(|| {
                    found.part_of.push(part);
                    found.problem.parts.push(Part {
                        quantity: 0,
                        ..given.parts[part].clone()
                    });
                    found.part_of.len() - 1
                });
                found.problem.parts[index].quantity += 1;
            }
        }
        found
    }

    fn are_worth(&self, steps: u64) -> bool {
        let in_use = self.all.iter().filter(|c| !c.contents.is_empty()).count();
        in_use > 0 && steps >= LEAST_STEPS * in_use as u64
    }

    /// Adds those on a sheet; `rate` is what an area costs at least.
    fn add_those_on(
        &mut self,
        tables: &Tables,
        index: usize,
        sheet: &Sheet,
        holes: &mut Holes,
        rate: f64,
    ) {
        let laid = Laid::new(tables, sheet, holes);
        for hole in laid.all() {
            // What lies in a frame that lies in a cut-out itself belongs to that one.
            if laid.all().any(|outer| laid.is_in(hole.0, outer)) || !laid.is_free(hole) {
                continue;
            }
            let contents = (0..laid.items.len()).filter(|item| laid.is_in(*item, hole));
            let contents: Vec<usize> = contents.collect();
            let turn = |item: &usize| tables.problem.parts[laid.items[*item].part].turn;
            if contents.iter().any(|item| turn(item) == Turn::Free) {
                continue;
            }
            let shape = &hole.1.shape;
            let kind = stock_of(&mut self.problem, 0, MOST_KINDS, laid.stock, shape, rate);
            if let Some(kind) = kind {
                self.all.push(Cutout {
                    sheet: index,
                    field: sheet.items[hole.0].0,
                    kind,
                    at: hole.1.bounds.min,
                    contents,
                });
            }
        }
    }

    /// The nest with other contents, where that is better.
    fn better(
        &self,
        tables: &Tables,
        nesting: &Nesting,
        steps: u64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<Scored> {
        let own = Tables::new(&self.problem, None);
        let present = self.present(nesting, &own, work)?;
        let tiled = self.tiled(&own, steps, random, watch, work);
        let left = steps.saturating_sub(work.steps());
        let (found, score, used) = by_patterns(&own, &present, tiled, left, random, watch)?;
        work.add_steps(used);
        if !score.beats(&present.score(&own)) {
            return None;
        }
        let laid = self.put_back(tables, nesting, &found, work)?;
        let score = laid.score(tables);
        score.beats(&nesting.score(tables)).then_some((laid, score))
    }

    /// Cut-outs filled with one part in rows or on a lattice, which lies closer than at free corners.
    fn tiled(
        &self,
        own: &Tables,
        steps: u64,
        random: &mut Pcg64Mcg,
        watch: &Watch,
        work: &mut Work,
    ) -> Vec<Pattern> {
        let problem = &self.problem;
        let wanted: Vec<u32> = problem.parts.iter().map(|p| p.quantity).collect();
        let pieces = |kind: usize| problem.supplies[problem.stock[kind].supply].unwrap_or(0);
        let area = |part: usize| f64::from(wanted[part]) * problem.parts[part].outline.area();
        let kinds = (0..problem.stock.len()).filter(|kind| pieces(*kind) > 0);
        let mut pairs: Vec<(usize, usize)> = kinds
            .flat_map(|kind| (0..wanted.len()).map(move |part| (kind, part)))
            .filter(|(kind, part)| {
                let room = problem.stock[*kind].outline.area();
                MANY * problem.parts[*part].outline.area() <= room
            })
            .collect();
        let weight = |(kind, part): (usize, usize)| f64::from(pieces(kind)) * area(part);
        pairs.sort_by(|a, b| weight(*b).total_cmp(&weight(*a)).then(a.cmp(b)));
        pairs.truncate(MOST_TILED);
        let share = (steps as f64 * TILED_SHARE) as u64 / pairs.len().max(1) as u64;
        let mut found = Vec::new();
        for (kind, part) in pairs {
            let mut its = work.split(share);
            for sheet in tiled(own, kind, part, &wanted, random, watch, &mut its) {
                let worth = Worth::of(&sheet, own, &mut its);
                found.push(Pattern::new(own, sheet, worth));
            }
            work.join(&its);
        }
        found
    }

    /// The cut-outs with what is in them now; `None` where a part lies at an angle of its own.
    fn present(&self, nesting: &Nesting, own: &Tables, work: &mut Work) -> Option<Nesting> {
        let mut present = Nesting {
            sheets: Vec::new(),
            missing: vec![0; self.problem.parts.len()],
        };
        for cutout in self.all.iter().filter(|c| !c.contents.is_empty()) {
            let field = own.fields_of(cutout.kind).next()?;
            let items = &nesting.sheets[cutout.sheet].0.items;
            let item = |i: &usize| {
                let Item { part, pose, at } = items[*i].1;
                let part = self.index_of[part]?;
                let pose = own.catalogue.pose_at(part, pose.angle_deg)?;
                let at = at - cutout.at.to_vec();
                Some((field, Item { part, pose, at }))
            };
            let sheet = Sheet {
                stock: cutout.kind,
                items: cutout.contents.iter().map(item).collect::<Option<_>>()?,
            };
            let worth = Worth::of(&sheet, own, work);
            present.sheets.push((sheet, worth));
        }
        Some(present)
    }

    /// The nest with these contents instead; `None` where a part lies at an angle that the nest does not know.
    fn put_back(
        &self,
        tables: &Tables,
        nesting: &Nesting,
        contents: &Nesting,
        work: &mut Work,
    ) -> Option<Nesting> {
        let mut of_kind: Vec<Vec<&Sheet>> = vec![Vec::new(); self.problem.stock.len()];
        // Taken from the end, so that sheets with the same contents follow each other.
        for (sheet, _) in contents.sheets.iter().rev() {
            of_kind[sheet.stock].push(sheet);
        }
        let mut added: Vec<Vec<(usize, Item)>> = vec![Vec::new(); nesting.sheets.len()];
        let mut removed: Vec<Vec<usize>> = vec![Vec::new(); nesting.sheets.len()];
        for cutout in &self.all {
            removed[cutout.sheet].extend(&cutout.contents);
            let items = of_kind[cutout.kind].pop().map_or(&[][..], |s| &s.items);
            for (_, item) in items {
                let part = self.part_of[item.part];
                let pose = tables.catalogue.pose_at(part, item.pose.angle_deg)?;
                let at = item.at + cutout.at.to_vec();
                added[cutout.sheet].push((cutout.field, Item { part, pose, at }));
            }
        }
        let sheets = nesting.sheets.iter().zip(removed).zip(added);
        let sheets = sheets.map(|(((sheet, worth), removed), added)| {
            if removed.is_empty() && added.is_empty() {
                return (sheet.clone(), *worth);
            }
            let stays = |(i, item)| (!removed.contains(&i)).then_some(item);
            let stay = sheet.items.iter().copied().enumerate().filter_map(stays);
            let sheet = Sheet {
                stock: sheet.stock,
                items: stay.chain(added).collect(),
            };
            let worth = Worth::of(&sheet, tables, work);
            (sheet, worth)
        });
        Some(Nesting {
            sheets: sheets.collect(),
            missing: nesting.missing.clone(),
        })
    }
}
