//! Every kit from one lot of each material, so that its colours match.
//!
//! Sheets and remnants that name the same lot are one lot; sheets of one size may be of several, as the rack
//! knows their purchases. A purchase of a sheet size that names none is a lot of its own, a remnant that names none matches nothing but itself. The lines
//! of the order are shared out over the lots of each material by trial: all to one lot first, then
//! all, half or one of a line moved to another as long as that places more or costs less. Each lot
//! is then a nest of its own.

use super::kit_claims::Pool;
use super::problem::StockRef;
use super::task::Task;
use super::{Done, Line, missing, spend, wants_of};
use crate::Result;
use crate::job::Job;
use std::collections::BTreeMap;
use std::sync::atomic::Ordering;
use std::time::Instant;

/// Share of a task's steps for each trial.
const TRIAL_SHARE: f64 = 0.01;

/// Most trials for the lots of one material: together no more work than the nest itself.
const MOST_TRIALS: usize = 100;

/// Most of them to find the lot that all starts from: with dozens of remnants, each a lot of its own, the other half is
/// left for moving lines to and fro.
const MOST_FIRST_TRIALS: usize = MOST_TRIALS / 2;

/// The stock of one material that came with one purchase.
#[derive(Debug, Clone, PartialEq)]
pub struct Lot {
    /// The [`Pool`] of what is cut from it.
    pub pool: usize,
    /// What it is called.
    pub name: Option<String>,
    /// Indices into the shop's sheets, and how many of each; `None` for any number.
    pub sheets: BTreeMap<usize, Option<u32>>,
    /// Indices into the shop's remnants.
    pub remnants: Vec<usize>,
}

/// Lines of the order that come from one lot. `None` stands for all stock of a material that has no
/// more than one lot, or where lots do not matter.
#[derive(Debug, Clone)]
pub struct Parcel {
    pub lot: Option<Lot>,
    pub lines: Vec<Line>,
}

impl Lot {
    /// How many sheets of a size, by its index, are of it; `None` for any number.
    pub fn count(&self, sheet: usize) -> Option<u32> {
        self.sheets.get(&sheet).copied().unwrap_or(Some(0))
    }

    /// Whether all of this is of it.
    fn holds(&self, taken: &BTreeMap<StockRef, u32>) -> bool {
        taken.iter().all(|(stock, count)| match stock {
            StockRef::Sheet(i) => self.count(*i).is_none_or(|there| *count <= there),
            StockRef::Remnant(i) => self.remnants.contains(i),
        })
    }
}

/// The lots of a material.
fn lots(job: &Job, material: usize, use_remnants: bool) -> Vec<Lot> {
    let name = &job.shop.materials[material].name;
    // By name of the lot; without one, by what it is, its place in the list and that of the purchase.
    let mut lots: BTreeMap<(Option<String>, [usize; 3]), Lot> = BTreeMap::new();
    let mut lot_of = |lot: &Option<String>, place: [usize; 3], add: &dyn Fn(&mut Lot)| {
        let place = lot.as_ref().map_or(place, |_| [0; 3]);
        let entry = lots.entry((lot.clone(), place));
        add(entry.or_insert_with(|| Lot {
            pool: 0,
            name: lot.clone(),
            sheets: BTreeMap::new(),
            remnants: Vec::new(),
        }));
    };
    for (i, sheet) in job.shop.sheets.iter().enumerate() {
        let of_material = sheet.material == *name;
        let purchases = of_material.then(|| job.shop.purchases_of(sheet));
        for (p, purchase) in purchases.into_iter().flatten().enumerate() {
            lot_of(&purchase.lot, [1, i, p], &|lot| {
                let count = lot.sheets.entry(i).or_insert(Some(0));
                *count = count.zip(purchase.count).map(|(a, b)| a + b);
            });
        }
    }
    for (i, remnant) in job.shop.remnants.iter().enumerate() {
        if use_remnants && remnant.material == *name {
            lot_of(&remnant.lot, [2, i, 0], &|lot| lot.remnants.push(i));
        }
    }
    lots.into_values().collect()
}

/// Shares the lines out over the lots. `plain` is a nest without regard to them: where it takes one
/// lot only, that one serves all. Returns the parcels and the pools of all materials and lots.
pub fn share_out(task: &Task, lines: &[Line], plain: &[Done]) -> Result<(Vec<Parcel>, Vec<Pool>)> {
    let job = task.job;
    let end = task.limit.map(|limit| Instant::now() + limit);
    let mut pools = super::whole_pools(job);
    let mut parcels = Vec::new();
    for material in 0..job.shop.materials.len() {
        let lines = of_material(job, lines, material);
        if lines.is_empty() {
            continue;
        }
        let lots = lots(job, material, task.options.use_remnants);
        let mut taken: BTreeMap<StockRef, u32> = BTreeMap::new();
        for done in plain.iter().filter(|d| d.group.material == material) {
            for layout in &done.nest.layouts {
                *taken.entry(done.stock[layout.stock]).or_default() += 1;
            }
        }
        let whole = plain
            .iter()
            .filter(|d| d.group.material == material)
            .all(|d| d.nest.not_placed.is_empty());
        if lots.len() < 2 {
            parcels.push(Parcel { lot: None, lines });
            continue;
        }
        let only = lots.iter().position(|lot| lot.holds(&taken));
        let shares = match only {
            // The cheapest nest needs no other lot.
            Some(only) if !taken.is_empty() && whole => {
                let all: Vec<u32> = lines.iter().map(|l| l.quantity).collect();
                let mut shares = vec![vec![0; lines.len()]; lots.len()];
                shares[only] = all;
                shares
            }
            _ => {
                let sharing = Sharing {
                    task,
                    lots: &lots,
                    lines: &lines,
                    known: BTreeMap::new(),
                    end,
                };
                sharing.best()?
            }
        };
        for (mut lot, quantities) in lots.into_iter().zip(shares) {
            let lines: Vec<Line> = lines
                .iter()
                .zip(quantities)
                .filter(|(_, n)| *n > 0)
                .map(|(line, quantity)| Line {
                    quantity,
                    ..line.clone()
                })
                .collect();
            if lines.is_empty() {
                continue;
            }
            let mut kits = vec![0; job.kits.len()];
            for line in &lines {
                if let Some(kit) = line.kit {
                    kits[kit] += line.quantity;
                }
            }
            lot.pool = pools.len();
            pools.push(Pool {
                material,
                kits: Some(kits),
            });
            parcels.push(Parcel {
                lot: Some(lot),
                lines,
            });
        }
        // Nothing comes from stock of any lot.
        pools[material].kits = Some(vec![0; job.kits.len()]);
    }
    Ok((parcels, pools))
}

/// What the lines want of one material.
fn of_material(job: &Job, lines: &[Line], material: usize) -> Vec<Line> {
    lines
        .iter()
        .map(|line| Line {
            parts: line
                .parts
                .iter()
                .filter(|(item, _)| job.items[*item].material == material)
                .copied()
                .collect(),
            ..line.clone()
        })
        .filter(|line| !line.parts.is_empty())
        .collect()
}

/// How good a share of one lot, or all of them, is: copies missing, then spend.
type Merit = (u32, f64);

/// A lot, what comes from it now, and how good that is.
type Change = (usize, Vec<u32>, Merit);

fn sum(merits: impl Iterator<Item = Merit>) -> Merit {
    merits.fold((0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1))
}

fn beats(a: Merit, b: Merit) -> bool {
    a.0 < b.0 || a.0 == b.0 && a.1 < b.1 - 1e-9
}

/// The lots in the order in which they are tried for all lines, by whether they have room for these and their area: those
/// with room first, large before small, and as listed where they are alike.
fn by_promise(rooms: &[(bool, f64)]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..rooms.len()).collect();
    order.sort_by(|a, b| {
        let (a, b) = (rooms[*a], rooms[*b]);
        b.0.cmp(&a.0).then(b.1.total_cmp(&a.1))
    });
    order
}

/// Lines being shared out over lots.
struct Sharing<'a> {
    task: &'a Task<'a>,
    lots: &'a [Lot],
    lines: &'a [Line],
    /// What was tried: a lot with so many of each line.
    known: BTreeMap<(usize, Vec<u32>), Merit>,
    /// When to stop trying.
    end: Option<Instant>,
}

impl Sharing<'_> {
    /// Whether no more may be tried. An early stop counts only once nothing is missing: shares that
    /// leave half out help nobody.
    fn over(&self, merits: &[Merit]) -> bool {
        let stopped = || {
            self.task.cancel.load(Ordering::Relaxed)
                || self.end.is_some_and(|end| Instant::now() >= end)
        };
        let whole = merits.iter().all(|(missing, _)| *missing == 0);
        self.known.len() >= MOST_TRIALS || whole && stopped()
    }

    /// Nests so many of each line from a lot.
    fn merit(&mut self, lot: usize, quantities: &[u32]) -> Result<Merit> {
        if quantities.iter().all(|n| *n == 0) {
            return Ok((0, 0.0));
        }
        let key = (lot, quantities.to_vec());
        if let Some(known) = self.known.get(&key) {
            return Ok(*known);
        }
        let lines: Vec<Line> = self
            .lines
            .iter()
            .zip(quantities)
            .map(|(line, quantity)| Line {
                quantity: *quantity,
                ..line.clone()
            })
            .collect();
        let done = Task {
            wants: wants_of(&lines),
            lot: Some(&self.lots[lot]),
            board: None,
            ..self.task.share(TRIAL_SHARE)
        }
        .run()?;
        let merit = (missing(&done).values().sum(), spend(&done));
        self.known.insert(key, merit);
        Ok(merit)
    }

    /// The lot that does best with all lines, and how good that is.
    fn first(&mut self, everything: &[u32]) -> Result<(usize, Merit)> {
        let mut first = (0, (u32::MAX, f64::INFINITY));
        let rooms: Vec<(bool, f64)> = (0..self.lots.len()).map(|lot| self.room(lot)).collect();
        for (trial, lot) in by_promise(&rooms).into_iter().enumerate() {
            // What has no room for all leaves something out, so it helps only where everything else does too.
            let whole = first.1.0 == 0;
            if trial > 0
                && (trial >= MOST_FIRST_TRIALS || self.over(&[first.1]) || whole && !rooms[lot].0)
            {
                break;
            }
            let merit = self.merit(lot, everything)?;
            // Of equals the first in the list.
            if beats(merit, first.1) || lot < first.0 && !beats(first.1, merit) {
                first = (lot, merit);
            }
        }
        Ok(first)
    }

    /// By lot: how many of each line come from it.
    fn best(mut self) -> Result<Vec<Vec<u32>>> {
        let nothing = vec![0; self.lines.len()];
        let everything: Vec<u32> = self.lines.iter().map(|l| l.quantity).collect();
        let first = self.first(&everything)?;
        let mut shares = vec![nothing; self.lots.len()];
        shares[first.0] = everything;
        let mut merits: Vec<Merit> = vec![(0, 0.0); self.lots.len()];
        merits[first.0] = first.1;
        // The best move each time; what was tried before costs nothing.
        loop {
            let mut best: Option<((i64, f64), [Change; 2])> = None;
            'moves: for line in 0..self.lines.len() {
                for from in 0..self.lots.len() {
                    let have = shares[from][line];
                    let mut amounts = vec![have, have / 2, 1];
                    amounts.dedup();
                    amounts.retain(|n| *n > 0 && *n <= have);
                    for (to, amount) in (0..self.lots.len())
                        .filter(|to| *to != from)
                        .flat_map(|to| amounts.iter().map(move |n| (to, *n)))
                    {
                        if self.over(&merits) {
                            break 'moves;
                        }
                        if !self.has_room(to, line) {
                            continue;
                        }
                        let (mut less, mut more) = (shares[from].clone(), shares[to].clone());
                        less[line] -= amount;
                        more[line] += amount;
                        let after = [self.merit(from, &less)?, self.merit(to, &more)?];
                        let old = sum([merits[from], merits[to]].into_iter());
                        let new = sum(after.into_iter());
                        let change = (i64::from(new.0) - i64::from(old.0), new.1 - old.1);
                        let better = best.as_ref().is_none_or(|(least, _)| {
                            change.0 < least.0 || change.0 == least.0 && change.1 < least.1
                        });
                        if beats(new, old) && better {
                            let moved = [(from, less, after[0]), (to, more, after[1])];
                            best = Some((change, moved));
                        }
                    }
                }
            }
            let Some((_, changes)) = best else {
                return Ok(shares);
            };
            for (lot, share, merit) in changes {
                shares[lot] = share;
                merits[lot] = merit;
            }
        }
    }

    /// Whether a lot has the area for all lines, and its area.
    fn room(&self, lot: usize) -> (bool, f64) {
        let trial = Task {
            wants: wants_of(self.lines),
            lot: Some(&self.lots[lot]),
            ..self.task.clone()
        };
        let materials = trial.wanted_areas().into_keys();
        let area = materials.map(|material| trial.stock_area(material)).sum();
        (trial.has_the_area(), area)
    }

    /// Whether a lot has the area for one of a line.
    fn has_room(&self, lot: usize, line: usize) -> bool {
        let one = Line {
            quantity: 1,
            ..self.lines[line].clone()
        };
        let trial = Task {
            wants: wants_of(&[one]),
            lot: Some(&self.lots[lot]),
            ..self.task.clone()
        };
        trial.has_the_area()
    }
}

#[cfg(test)]
mod tests {
    use super::super::PlanOptions;
    use super::super::problem::Used;
    use super::*;
    use crate::input::Sheet;
    use crate::remnant::Remnant;
    use crate::write::samples;
    use panelwright_geometry::{Point, Polygon};
    use std::sync::atomic::AtomicBool;

    #[test]
    fn lots_with_room_for_all_come_first_and_large_before_small() {
        let rooms = [
            (false, 9.0),
            (true, 2.0),
            (true, 5.0),
            (false, 1.0),
            (true, 2.0),
        ];
        assert_eq!(by_promise(&rooms), [2, 1, 4, 0, 3]);
    }

    /// A job of two sides and two bottoms, with so many remnants, each a lot, and sheets of one lot.
    fn many_lots(remnants: usize) -> Job {
        let mut job = samples::job();
        let material = job.shop.materials[0].name.clone();
        job.shop.sheets = vec![Sheet {
            id: "S".to_owned(),
            material: material.clone(),
            length: 2500.0,
            width: 1250.0,
            price: 50.0,
            stock: Some(9),
            lot: Some("new".to_owned()),
            place: None,
        }];
        job.shop.remnants = (0..remnants)
            .map(|i| Remnant {
                id: format!("R-{i:04}"),
                material: material.clone(),
                outline: {
                    let width = 300.0 + i as f64;
                    let corners = [(0.0, 0.0), (400.0, 0.0), (400.0, width), (0.0, width)];
                    let corners = corners.map(|(x, y)| Point::new(x, y));
                    Polygon::new(corners.to_vec(), Vec::new())
                },
                good_faces: 1,
                grain_deg: Some(0.0),
                ..Remnant::default()
            })
            .collect();
        job
    }

    #[test]
    fn however_many_lots_there_are_the_trials_are_bounded() {
        for (remnants, most) in [(3, 4), (120, MOST_FIRST_TRIALS)] {
            let job = many_lots(remnants);
            let options = PlanOptions {
                steps: 100_000,
                ..PlanOptions::default()
            };
            let cancel = AtomicBool::new(false);
            let lines: Vec<Line> = [2, 3]
                .map(|item| Line {
                    kit: None,
                    priority: 0,
                    quantity: 2,
                    parts: vec![(item, 1)],
                })
                .to_vec();
            let task = Task {
                job: &job,
                options: &options,
                cancel: &cancel,
                board: None,
                wants: wants_of(&lines),
                used: Used::default(),
                lot: None,
                given: None,
                promised: &[],
                steps: options.steps,
                most_first_steps: 1000.0,
                limit: None,
            };
            let lots = lots(&job, 0, true);
            assert_eq!(lots.len(), remnants + 1);
            let mut sharing = Sharing {
                task: &task,
                lots: &lots,
                lines: &lines,
                known: BTreeMap::new(),
                end: None,
            };
            let (first, merit) = sharing.first(&[2, 2]).unwrap();
            assert_eq!(lots[first].name.as_deref(), Some("new"));
            assert_eq!(merit.0, 0);
            assert!(sharing.known.len() <= most, "{}", sharing.known.len());
            // As many as there are, up to the bound, where nothing holds everything.
            job_without_sheets(&job, &task, &lines, remnants);
        }
    }

    fn job_without_sheets(job: &Job, task: &Task, lines: &[Line], remnants: usize) {
        let mut job = job.clone();
        job.shop.sheets[0].stock = Some(0);
        let task = Task {
            job: &job,
            ..task.clone()
        };
        let lots = lots(&job, 0, true);
        let mut sharing = Sharing {
            task: &task,
            lots: &lots,
            lines,
            known: BTreeMap::new(),
            end: None,
        };
        let (_, merit) = sharing.first(&[2, 2]).unwrap();
        assert!(merit.0 > 0);
        assert_eq!(sharing.known.len(), remnants.min(MOST_FIRST_TRIALS));
    }
}
