//! Moves of the improvement that let parts overlap for a while.

use super::arena::Arena;
use super::fill::Sheet;
use super::nesting::{Nesting, Worth};
use super::squash::{Aim, Along, Squash};
use super::tables::Tables;
use super::work::{Watch, Work};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// Most sheets that parts are squeezed into at a time.
const RECEIVERS: usize = 3;

/// Passes without progress after which a squeeze is given up.
const PATIENCE: u32 = 12;

/// Rounds in which a sheet is tightened: the last ones take small steps.
const TIGHTEN_ROUNDS: u32 = 5;

/// Share of a sheet's area above which no one should hope to add a part. Parts that are missing are
/// tried up to the last square millimetre: a jigsaw has to come out.
const FULL: f64 = 0.985;

/// Chance that parts come off any sheet, not off the emptiest one; and where windows are stock.
const ANY_DONOR: [f64; 2] = [0.1, 0.3];

/// Chance that a sheet is tightened together with others that may take its parts, where windows are stock.
const TOGETHER: f64 = 0.5;

/// The sheets of a nest, as indices, that are no windows.
fn whole_sheets(tables: &Tables, nesting: &Nesting) -> impl Iterator<Item = usize> {
    (0..nesting.sheets.len()).filter(|i| nesting.sheets[*i].0.stock < tables.windows)
}

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
        let any = ANY_DONOR[usize::from(tables.has_windows())];
        if random.random_bool(1.0 - any) {
            whole_sheets(tables, nesting).min_by(|a, b| least(a).total_cmp(&least(b)))
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
    if arena.separate(PATIENCE, random, watch, work).is_some() {
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
/// Where windows are stock, its parts may also go into some of these, or to other sheets.
pub(super) fn tighten(
    tables: &Tables,
    nesting: &Nesting,
    random: &mut Pcg64Mcg,
    watch: &Watch,
    work: &mut Work,
) -> Option<Nesting> {
    let used = |i: &usize| nesting.sheets[*i].1.used_area;
    let index = whole_sheets(tables, nesting).min_by(|a, b| used(a).total_cmp(&used(b)))?;
    let mut indices = vec![index];
    if tables.has_windows() && random.random_bool(TOGETHER) {
        indices.extend(receivers(tables, nesting, Some(index), random));
    }
    let sheets: Vec<&Sheet> = indices.iter().map(|i| &nesting.sheets[*i].0).collect();
    let bounds = tables.problem.stock[sheets[0].stock].outline.bounds();
    let arena = Arena::new(tables, &sheets, &[], random)?;
    let (right, top) = arena.reach();
    let (right, top) = (right - bounds.min.x, top - bounds.min.y);
    let along_x = right * bounds.height() <= top * bounds.width();
    let area = nesting.sheets[index].1.part_area;
    let mut squash = if along_x {
        let aim = Aim::at(area / bounds.height());
        Squash::new(arena, Along::X, bounds.min.x, aim, false)
    } else {
        let aim = Aim::at(area / bounds.width());
        Squash::new(arena, Along::Y, bounds.min.y, aim, false)
    };
    let first = squash.length();
    for round in 0..TIGHTEN_ROUNDS {
        let done = f64::from(round) / f64::from(TIGHTEN_ROUNDS);
        let mut own = work.split(work.left() / u64::from(TIGHTEN_ROUNDS - round));
        squash.run(done, random, watch, &mut own);
        work.join(&own);
    }
    if squash.length() >= first - 1e-6 {
        return None;
    }
    let mut result = nesting.clone();
    for (index, tightened) in indices.into_iter().zip(squash.sheets()) {
        let worth = Worth::of(&tightened, tables, work);
        result.sheets[index] = (tightened, worth);
    }
    result.sheets.retain(|(sheet, _)| !sheet.items.is_empty());
    Some(result)
}
