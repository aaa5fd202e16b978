//! Moves of the improvement that let parts overlap for a while.

use super::fill::Sheet;
use super::nesting::{Nesting, Worth};
use super::separate::Arena;
use super::tables::Tables;
use super::work::{Watch, Work};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// Most sheets that parts are squeezed into at a time.
const RECEIVERS: usize = 3;

/// Passes without progress after which a squeeze is given up.
const PATIENCE: u32 = 25;

/// The same when a sheet is tightened: there is nothing else to turn to, so more is tried.
const TIGHTEN_PATIENCE: u32 = 150;

/// Near misses in a row that are carried on with, before the last whole layout is tried again.
const STRIKES: usize = 3;

/// Shares of the used length taken off at a time when a sheet is tightened. Larger ones fail and waste
/// the attempt, smaller ones take long on a loose layout.
const TIGHTEN_STEP: std::ops::Range<f64> = 0.001..0.01;

/// Share of a sheet's area above which no one should hope to add a part. Parts that are missing are
/// tried up to the last square millimetre: a jigsaw has to come out.
const FULL: f64 = 0.985;

/// Takes one part, several or all off an emptier sheet (or some that are missing) and squeezes them
/// into others. `None` when there is nothing to try or it fails.
pub(super) fn squeeze(
    tables: &Tables,
    nesting: &Nesting,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Option<Nesting> {
    let mut result = nesting.clone();
    let absent: Vec<usize> = (0..nesting.missing.len())
        .filter(|p| nesting.missing[*p] > 0)
        .collect();
    let donor = if absent.is_empty() {
        if nesting.sheets.len() < 2 {
            return None;
        }
        let least = |i: &usize| nesting.sheets[*i].1.part_area;
        if random.random_bool(0.9) {
            (0..nesting.sheets.len()).min_by(|a, b| least(a).total_cmp(&least(b)))
        } else {
            Some(random.random_range(0..nesting.sheets.len()))
        }
    } else {
        None
    };
    let receivers = receivers(tables, nesting, donor, random);
    if receivers.is_empty() {
        return None;
    }
    let full = if donor.is_some() { FULL } else { 1.0 + 1e-9 };
    let mut room: f64 = receivers
        .iter()
        .map(|&i| {
            let (sheet, worth) = &nesting.sheets[i];
            let area: f64 = tables
                .fields_of(sheet.stock)
                .map(|f| tables.fields[f].area)
                .sum();
            (full * area - worth.part_area).max(0.0)
        })
        .sum();
    // What to add: parts that may lie on a receiver, until their area would be too much.
    let mut offered: Vec<usize> = match donor {
        Some(i) => nesting.sheets[i].0.items.iter().map(|x| x.1.part).collect(),
        None => absent
            .iter()
            .flat_map(|&p| std::iter::repeat_n(p, nesting.missing[p].min(20) as usize))
            .collect(),
    };
    offered.retain(|&p| {
        receivers
            .iter()
            .any(|&r| tables.may_fit(p, nesting.sheets[r].0.stock))
    });
    for i in (1..offered.len()).rev() {
        offered.swap(i, random.random_range(0..=i));
    }
    let most = match random.random_range(0..4) {
        0 => usize::MAX,
        1 => 3,
        _ => 1,
    };
    let mut added: Vec<usize> = Vec::new();
    for part in offered {
        let area = tables.catalogue.shape(part).area;
        if added.len() < most && area <= room {
            room -= area;
            added.push(part);
        }
    }
    if added.is_empty() {
        return None;
    }
    let sheets: Vec<&Sheet> = receivers.iter().map(|&i| &nesting.sheets[i].0).collect();
    let mut arena = Arena::new(tables, &sheets, &added, random)?;
    if !arena.separate(PATIENCE, random, watch, work) {
        return None;
    }
    for (&i, sheet) in receivers.iter().zip(arena.sheets()) {
        let worth = Worth::of(&sheet, tables, work);
        result.sheets[i] = (sheet, worth);
    }
    match donor {
        Some(i) => {
            let mut sheet = result.sheets[i].0.clone();
            for part in &added {
                if let Some(at) = sheet.items.iter().position(|x| x.1.part == *part) {
                    sheet.items.swap_remove(at);
                }
            }
            if sheet.items.is_empty() {
                result.sheets.swap_remove(i);
            } else {
                let worth = Worth::of(&sheet, tables, work);
                result.sheets[i] = (sheet, worth);
            }
        }
        None => {
            for part in added {
                result.missing[part] -= 1;
            }
        }
    }
    result.sheets.retain(|(sheet, _)| !sheet.items.is_empty());
    Some(result)
}

/// One to three sheets other than `donor`, those with more room more likely.
fn receivers(
    tables: &Tables,
    nesting: &Nesting,
    donor: Option<usize>,
    random: &mut Pcg64Mcg,
) -> Vec<usize> {
    let mut keyed: Vec<(f64, usize)> = (0..nesting.sheets.len())
        .filter(|i| Some(*i) != donor)
        .map(|i| {
            let (sheet, worth) = &nesting.sheets[i];
            let area: f64 = tables
                .fields_of(sheet.stock)
                .map(|f| tables.fields[f].area)
                .sum();
            let free = (area - worth.part_area).max(1e-9);
            // Weighted choice without replacement (Efraimidis & Spirakis 2006).
            (random.random::<f64>().max(1e-12).ln() / free, i)
        })
        .collect();
    keyed.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    keyed.truncate(random.random_range(1..=RECEIVERS));
    keyed.into_iter().map(|(_, i)| i).collect()
}

/// Pushes the parts of the emptiest sheet closer together, so that more of it is left in one piece.
pub(super) fn tighten(
    tables: &Tables,
    nesting: &Nesting,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Option<Nesting> {
    let index = (0..nesting.sheets.len()).min_by(|&a, &b| {
        let used = |i: usize| nesting.sheets[i].1.used_area;
        used(a).total_cmp(&used(b))
    })?;
    let sheet = &nesting.sheets[index].0;
    let bounds = tables.problem.stock[sheet.stock].outline.bounds();
    let mut arena = Arena::new(tables, &[sheet], &[], random)?;
    let used = |arena: &Arena| {
        let (right, top) = arena.reach();
        (right - bounds.min.x, top - bounds.min.y)
    };
    let (right, top) = used(&arena);
    let along_x = right * bounds.height() <= top * bounds.width();
    let length = |arena: &Arena| {
        let (right, top) = used(arena);
        if along_x { right } else { top }
    };
    let first = length(&arena);
    // No shorter than the parts' area: jigsaws end there.
    let area = nesting.sheets[index].1.part_area;
    let floor = area
        / if along_x {
            bounds.height()
        } else {
            bounds.width()
        };
    let mut best = arena.places();
    let mut shortest = first;
    let mut step = random.random_range(TIGHTEN_STEP);
    let mut failed = 0;
    while !work.spent() && !watch.stopped() {
        if shortest <= floor + 1e-6 {
            break;
        }
        let target = (shortest * (1.0 - step)).max(floor + 1e-9);
        // From the last whole layout, or from the near miss with some parts exchanged.
        if failed == 0 {
            arena.put_back(&best);
        }
        arena.forget();
        let (far_x, far_y) = if along_x {
            (bounds.min.x + target, f64::INFINITY)
        } else {
            (f64::INFINITY, bounds.min.y + target)
        };
        if !arena.limit(far_x, far_y, random) {
            break;
        }
        for _ in 0..failed.min(1 + arena.len() / 10) {
            arena.swap(random);
        }
        if arena.separate(TIGHTEN_PATIENCE, random, watch, work) {
            best = arena.places();
            shortest = length(&arena);
            failed = 0;
        } else {
            failed += 1;
            if failed > STRIKES {
                failed = 0;
                step = (step * 0.5).max(TIGHTEN_STEP.start);
            }
        }
    }
    if shortest >= first - 1e-6 {
        return None;
    }
    arena.put_back(&best);
    let mut result = nesting.clone();
    for tightened in arena.sheets() {
        let worth = Worth::of(&tightened, tables, work);
        result.sheets[index] = (tightened, worth);
    }
    Some(result)
}
