//! A nest taken up again: what of it still stands, before a search goes on from there.

use crate::offcut::Finder;
use crate::{Layout, Method, Nest, NotPlaced, Offcut, PlacedPart, Problem, Stock, Why, verify};

/// Something of a nest that was taken up again and no longer stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Dropped {
    /// Index of the layout in the nest given.
    pub layout: usize,
    /// The copies taken off it, as indices into [`Problem::parts`]; all of them when the layout as a
    /// whole no longer stands.
    pub parts: Vec<usize>,
    /// Whether nothing of the layout is left.
    pub whole: bool,
    /// The reason, as a sentence about the first of them.
    pub why: String,
}

/// What of `nest` still stands as an answer to `problem`, and what does not.
///
/// A layout is dropped when its stock is used up or not there, and copies are when no more are
/// wanted or when the judge refuses them beside what lies there before them; pinned parts come
/// first. Of a sawn layout all or nothing stands. Pieces with pinned parts that `nest` does not have
/// are added. The nest returned passes the judge; its left-overs are found anew, and what it leaves
/// out counts as [`Why::Stopped`].
///
/// Expects a problem that [`Problem::check`] passes; the nest may be anything at all.
#[must_use]
pub fn standing(problem: &Problem, nest: &Nest) -> (Nest, Vec<Dropped>) {
    let finder = Finder::new(problem);
    let mut supplies = problem.supplies.clone();
    let pinned = problem.pinned_counts();
    let wanted = problem.parts.iter().map(|p| p.quantity);
    let mut wanted: Vec<u32> = wanted
        .zip(pinned)
        .map(|(n, p)| n.saturating_sub(p))
        .collect();
    let mut kept = Nest::default();
    let mut dropped = Vec::new();
    for (i, layout) in nest.layouts.iter().enumerate() {
        let mut drop = |parts: Vec<usize>, whole: bool, why: String| {
            dropped.push(Dropped {
                layout: i,
                parts,
                whole,
                why,
            });
        };
        let all = || layout.placed.iter().map(|p| p.part).collect();
        let Some(stock) = problem.stock.get(layout.stock) else {
            drop(all(), true, "its stock is not there any more".into());
            continue;
        };
        if supplies[stock.supply] == Some(0) {
            drop(all(), true, format!("no more of '{}' is there", stock.name));
            continue;
        }
        let (stands, off) = match problem.method {
            Method::Guillotine(_) => sawn(problem, layout, &wanted),
            Method::FreeForm => free_form(problem, layout, &wanted),
        };
        let stands = stands.map(|layout| match problem.method {
            Method::Guillotine(_) => layout,
            Method::FreeForm => Layout {
                offcuts: finder.all(&layout),
                ..layout
            },
        });
        if !off.is_empty() {
            let why = off[0].1.clone();
            let parts = off.into_iter().map(|(part, _)| part).collect();
            drop(parts, stands.is_none(), why);
        }
        if let Some(layout) = stands {
            for part in movable(stock, &layout) {
                wanted[part.part] = wanted[part.part].saturating_sub(1);
            }
            if let Some(n) = &mut supplies[stock.supply] {
                *n -= 1;
            }
            kept.layouts.push(layout);
        }
    }
    for (i, stock) in problem.stock.iter().enumerate() {
        if !stock.pinned.is_empty() && kept.layouts.iter().all(|l| l.stock != i) {
            let bare = Layout::bare(problem, i);
            kept.layouts.push(Layout {
                offcuts: finder.all(&bare),
                ..bare
            });
        }
    }
    let missing = kept.placed_counts(problem);
    kept.not_placed = missing
        .into_iter()
        .enumerate()
        .map(|(part, placed)| NotPlaced {
            part,
            quantity: problem.parts[part].quantity.saturating_sub(placed),
            why: Why::Stopped,
        })
        .filter(|n| n.quantity > 0)
        .collect();
    (kept, dropped)
}

/// What lies on the layout beside the parts pinned on its stock.
pub(crate) fn movable(stock: &Stock, layout: &Layout) -> Vec<PlacedPart> {
    let mut others = layout.placed.clone();
    for pinned in &stock.pinned {
        if let Some(found) = others.iter().position(|p| p == pinned) {
            others.remove(found);
        }
    }
    others
}

/// Parts taken off, each with the reason.
type Off = Vec<(usize, String)>;

/// A free-form layout with what may stay on it; none when that is nothing.
fn free_form(problem: &Problem, layout: &Layout, wanted: &[u32]) -> (Option<Layout>, Off) {
    let stock = &problem.stock[layout.stock];
    let mut off = Off::new();
    let mut left = wanted.to_vec();
    let mut candidates = Vec::new();
    for part in movable(stock, layout) {
        match left.get_mut(part.part) {
            Some(0) | None => {
                let name = problem.parts.get(part.part).map(|p| p.name.as_str());
                let why = format!("no more copies of '{}' are wanted", name.unwrap_or("?"));
                off.push((part.part, why));
            }
            Some(n) => {
                *n -= 1;
                candidates.push(part);
            }
        }
    }
    let mut stands = Layout::bare(problem, layout.stock);
    add_sound(problem, &mut stands, &candidates, &mut off);
    let empty = stands.placed.is_empty();
    ((!empty).then_some(stands), off)
}

/// Adds those of `more` that the judge passes beside what is there. Halves that it refuses are
/// halved again, so a few bad ones among many take few looks.
fn add_sound(problem: &Problem, layout: &mut Layout, more: &[PlacedPart], off: &mut Off) {
    if more.is_empty() {
        return;
    }
    let before = layout.placed.len();
    layout.placed.extend_from_slice(more);
    let faults = verify::judge_layout(problem, layout, 1);
    let Some(fault) = faults.first() else { return };
    layout.placed.truncate(before);
    if let [single] = more {
        let why = fault.to_string();
        // The number is not that of the sheet in question.
        let why = why.strip_prefix("sheet 1: ").unwrap_or(&why).to_owned();
        off.push((single.part, why));
        return;
    }
    let (first, second) = more.split_at(more.len() / 2);
    add_sound(problem, layout, first, off);
    add_sound(problem, layout, second, off);
}

/// A sawn layout as it is, or nothing of it.
fn sawn(problem: &Problem, layout: &Layout, wanted: &[u32]) -> (Option<Layout>, Off) {
    let all = |why: String| -> Off {
        let parts = layout.placed.iter();
        parts.map(|p| (p.part, why.clone())).collect()
    };
    let mut left = wanted.to_vec();
    for placed in &layout.placed {
        match left.get_mut(placed.part) {
            Some(n) if *n > 0 => *n -= 1,
            _ => {
                let name = problem.parts.get(placed.part).map(|p| p.name.as_str());
                let why = format!("no more copies of '{}' are wanted", name.unwrap_or("?"));
                return (None, all(why));
            }
        }
    }
    if layout.placed.is_empty() {
        return (None, Off::new());
    }
    let stock = &problem.stock[layout.stock];
    let stands = Layout {
        offcuts: valued(stock, &layout.offcuts),
        ..layout.clone()
    };
    let alone = Nest {
        layouts: vec![stands.clone()],
        not_placed: Vec::new(),
    };
    let faults = verify::judge(problem, &alone);
    // What is missing elsewhere is no fault of this layout.
    let fault = faults
        .iter()
        .find(|f| !matches!(f, verify::Fault::MissingMiscounted { .. }));
    match fault {
        None => (Some(stands), Off::new()),
        Some(fault) => {
            let why = fault.to_string();
            let why = why.strip_prefix("sheet 1: ").unwrap_or(&why).to_owned();
            (None, all(why))
        }
    }
}

/// Offcuts with what the stock's rule says they are worth, together no more than the stock.
fn valued(stock: &Stock, offcuts: &[Offcut]) -> Vec<Offcut> {
    let worth = |o: &Offcut| match o.kept {
        true => stock.keep.value_of_piece(&o.outline),
        false => 0.0,
    };
    let whole: f64 = offcuts.iter().map(worth).sum();
    let share = if whole > stock.cost {
        stock.cost / whole
    } else {
        1.0
    };
    offcuts
        .iter()
        .map(|o| Offcut {
            value: share * worth(o),
            ..o.clone()
        })
        .collect()
}

/// Whether `a` is better than `b`: fewer copies missing, urgent ones first, then less spend.
pub(crate) fn better(problem: &Problem, a: &Nest, b: &Nest) -> bool {
    /// Spends nearer than this share are equal.
    const SAME_SPEND: f64 = 1e-9;
    let missing = |n: &Nest| -> u64 { n.not_placed.iter().map(|m| u64::from(m.quantity)).sum() };
    let weights = problem.priority_weights();
    let denied = |n: &Nest| -> u128 {
        let weighed = n.not_placed.iter();
        weighed
            .map(|m| weights[m.part].saturating_mul(u128::from(m.quantity)))
            .fold(0, u128::saturating_add)
    };
    let (spend_a, spend_b) = (a.spend(problem), b.spend(problem));
    let slack = SAME_SPEND * (spend_a.abs() + spend_b.abs());
    denied(a)
        .cmp(&denied(b))
        .then(missing(a).cmp(&missing(b)))
        .then_with(|| {
            if (spend_a - spend_b).abs() <= slack {
                std::cmp::Ordering::Equal
            } else {
                spend_a.total_cmp(&spend_b)
            }
        })
        .is_lt()
}

#[cfg(test)]
mod tests;
