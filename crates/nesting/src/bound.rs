//! Proven bounds, for a result to be read against: when it meets them, more searching is idle.
//!
//! Both rest on one argument (see [`room`]): every copy keeps an area to itself that no other copy on
//! the same piece of stock has a share in, and all these areas lie within an area known beforehand.
//! Whatever is rounded or flattened errs to the side that weakens the bound.

mod dual;
mod fit;
mod knapsack;
mod room;

use crate::offcut::can_keep;
use crate::{Problem, Stock};
use fit::Shape;
use knapsack::{Item, Supply, least_cost, most_value};
use room::WAYS;

/// Most slopes tried for the share of the spend that goes with area; there are as many as different
/// offcut values among the stock.
const MOST_SLOPES: usize = 16;

/// A yield that no layout of the problem's parts on the stock with index `stock` can beat: part area
/// over the area of the stock's outline.
///
/// # Proof
/// The copies on one piece keep areas to themselves that fit together into its room, so their part
/// area is no more than that of the most valuable choice of copies whose areas fit by their sum
/// alone: a knapsack, with each part's quantity as its limit. Parts whose good faces, grain or
/// bounding rectangle rule the stock out are left aside. Window cut-outs count as room or, where
/// nothing can or may lie in them, as taken; both give a bound and the lower one stands.
///
/// # Panics
/// When `stock` is no index into the problem's stock.
#[must_use]
pub fn yield_ceiling(problem: &Problem, stock: usize) -> f64 {
    ceiling(problem, &measure(problem), &problem.stock[stock])
}

/// [`yield_ceiling`] of every kind of stock; measures the parts once.
#[must_use]
pub fn yield_ceilings(problem: &Problem) -> Vec<f64> {
    let shapes = measure(problem);
    let ceiling = |stock| ceiling(problem, &shapes, stock);
    problem.stock.iter().map(ceiling).collect()
}

fn ceiling(problem: &Problem, shapes: &[Measured], stock: &Stock) -> f64 {
    (most_area(problem, shapes, stock) / stock.outline.area()).clamp(0.0, 1.0)
}

/// A part with the areas its copies keep to themselves, by [`WAYS`].
struct Measured<'a> {
    shape: Shape<'a>,
    area: f64,
    taken: [f64; 2],
}

fn measure(problem: &Problem) -> Vec<Measured<'_>> {
    let measured = |part| {
        let shape = Shape::new(part);
        Measured {
            area: shape.part.outline.area(),
            taken: WAYS.map(|way| room::taken(problem, &shape, way)),
            shape,
        }
    };
    problem.parts.iter().map(measured).collect()
}

/// Most of what `worth` counts that copies on one piece of `stock` can have together.
fn most_of(
    problem: &Problem,
    parts: &[Measured],
    stock: &Stock,
    worth: impl Fn(usize) -> f64,
) -> f64 {
    let may: Vec<usize> = (0..parts.len())
        .filter(|p| fit::may_fit(problem, &parts[*p].shape, stock))
        .collect();
    let rooms: Vec<f64> = WAYS
        .iter()
        .map(|w| room::room(problem, stock, *w))
        .collect();
    most_within(parts, &may, &rooms, worth)
}

fn most_within(
    parts: &[Measured],
    may: &[usize],
    rooms: &[f64],
    worth: impl Fn(usize) -> f64,
) -> f64 {
    let by_way = rooms.iter().enumerate().map(|(way, room)| {
        let items: Vec<Item> = may
            .iter()
            .map(|&p| Item {
                takes: parts[p].taken[way],
                brings: worth(p),
                quantity: parts[p].shape.part.quantity,
            })
            .collect();
        most_value(&items, *room)
    });
    by_way.fold(f64::INFINITY, f64::min)
}

fn most_area(problem: &Problem, parts: &[Measured], stock: &Stock) -> f64 {
    most_of(problem, parts, stock, |p| parts[p].area)
}

/// One kind of stock, as far as the bound needs it.
struct Kind<'a> {
    stock: &'a Stock,
    /// Whether each part may lie on it.
    may: Vec<bool>,
    /// Most part area on one piece.
    most_area: f64,
    /// Most that one piece holds, by measure.
    holds: Vec<f64>,
}

impl Kind<'_> {
    /// The least that a layout with `area` of parts can cost: the stock, less the best that keeping
    /// all of the rest could bring, plus scrap.
    fn spend_with(&self, area: f64) -> f64 {
        let keep = &self.stock.keep;
        let rest = (self.stock.outline.area() - area).max(0.0);
        let (value, scrap) = rates(self.stock);
        let kept = if can_keep(self.stock)
            && rest >= keep.least_width * keep.least_length
            && value + scrap > 0.0
        {
            if value * rest <= self.stock.cost {
                (value + scrap) * rest
            } else {
                // From here on more keeping brings no value, but may still spare scrap.
                let capped = self.stock.cost / value;
                self.stock.cost + scrap * capped + scrap.max(0.0) * (rest - capped)
            }
        } else {
            0.0
        };
        self.stock.cost + scrap * rest - kept
    }

    /// The least of spend less `slope` times part area over all layouts.
    ///
    /// The spend is made of straight pieces over the part area, so its least is at an end of one.
    fn least_above(&self, slope: f64) -> f64 {
        let whole = self.stock.outline.area();
        let keep = &self.stock.keep;
        let (value, _) = rates(self.stock);
        let ends = [
            0.0,
            self.most_area,
            whole - keep.least_width * keep.least_length,
            whole - self.stock.cost / value,
        ];
        ends.into_iter()
            .filter(|a| a.is_finite())
            .map(|a| a.clamp(0.0, self.most_area))
            .map(|a| self.spend_with(a) - slope * a)
            .fold(f64::INFINITY, f64::min)
    }
}

/// Value and scrap cost per area; what is no number counts as nothing.
fn rates(stock: &Stock) -> (f64, f64) {
    let number = |v: f64| if v.is_finite() { v } else { 0.0 };
    (
        number(stock.keep.value_per_area),
        number(stock.keep.scrap_cost_per_area),
    )
}

/// A spend that no nest can beat that places every part which surely fits some stock.
///
/// Parts that may fit nowhere are not counted. When there is too little stock for the rest, the bound
/// is for using all of it; a nest that leaves parts out may then cost less.
///
/// # Proof
/// Let a layout on stock s have part area u. Its spend is at least f_s(u): the price, less what
/// keeping all the rest could bring under the keep rule, plus scrap. For any slope b of at least 0,
/// f_s(u) >= b u + a_s with a_s the least of f_s(u) - b u. Summed over a nest that is b times the area
/// of all parts plus a_s for every piece taken. The pieces taken must hold all parts by every measure
/// (area kept to itself, part area, number of copies, dual feasible functions of the sides), where one
/// piece holds no more than a knapsack says; the cheapest whole pieces that do so are found by
/// branch and bound. Parts that fit some supplies only must be held by those alone, and such
/// demands on supplies that are not shared add up. Pieces with pinned parts are taken in any case,
/// with what they hold. The largest of the bounds over several slopes, measures and sets of
/// supplies is returned.
#[must_use]
pub fn least_spend(problem: &Problem) -> f64 {
    let parts = measure(problem);
    let copies: f64 = parts.iter().map(|p| f64::from(p.shape.part.quantity)).sum();
    let pieces: Vec<f64> = problem
        .supplies
        .iter()
        // A piece is taken for at least one copy.
        .map(|s| s.map_or(copies, |n| f64::from(n).min(copies)))
        .collect();
    let there = |stock: &&Stock| pieces.get(stock.supply).is_some_and(|n| *n > 0.0);
    let counted: Vec<bool> = parts
        .iter()
        .map(|p| surely_fits(problem, &p.shape))
        .collect();
    let measures = measures(problem, &parts, &counted);
    let kinds: Vec<Kind> = problem
        .stock
        .iter()
        .filter(there)
        .map(|stock| kind(problem, &parts, &measures, stock))
        .collect();
    let demands = demands(&parts, &counted, &kinds, &measures, pieces.len());
    let area: f64 = (0..parts.len())
        .filter(|p| counted[*p])
        .map(|p| parts[p].area * f64::from(parts[p].shape.part.quantity))
        .sum();
    let mut slopes: Vec<f64> = kinds.iter().map(|k| rates(k.stock).0).collect();
    slopes.retain(|v| *v > 0.0);
    slopes.sort_by(f64::total_cmp);
    slopes.dedup();
    slopes.truncate(MOST_SLOPES - 1);
    slopes.push(0.0);
    slopes
        .into_iter()
        .map(|slope| slope * area + cheapest(&kinds, &pieces, &demands, slope))
        .fold(f64::NEG_INFINITY, f64::max)
}

/// A net yield that no nest of all the parts can beat: part area over the area of the stock taken less
/// that of the offcuts kept.
///
/// Holds for nests that place every part that surely fits some stock; 0 when there is none.
///
/// # Proof
/// The least net area is the least spend where each piece of stock costs its area and a kept offcut
/// brings back its own.
#[must_use]
pub fn net_yield_ceiling(problem: &Problem) -> f64 {
    let mut by_area = problem.clone();
    for stock in &mut by_area.stock {
        stock.cost = stock.outline.area();
        stock.keep.value_per_area = 1.0;
        stock.keep.handling = 0.0;
        stock.keep.scrap_cost_per_area = 0.0;
    }
    let parts = measure(problem);
    let placed = parts.iter().filter(|p| surely_fits(problem, &p.shape));
    let area: f64 = placed
        .map(|p| p.area * f64::from(p.shape.part.quantity))
        .sum();
    if area > 0.0 {
        (area / least_spend(&by_area).max(area)).min(1.0)
    } else {
        0.0
    }
}

/// Whether the part surely fits on some stock that there is.
fn surely_fits(problem: &Problem, shape: &Shape) -> bool {
    let there = |stock: &&Stock| {
        let supply = problem.supplies.get(stock.supply);
        supply.is_some_and(|left| *left != Some(0))
    };
    let mut stock = problem.stock.iter().filter(there);
    stock.any(|s| fit::must_fit(problem, shape, s))
}

/// A way to count copies.
struct Measure {
    /// What a copy of each part counts; parts not counted count nothing.
    each: Vec<f64>,
    /// Whether copies in one area count no more than 1 together (see [`dual`]).
    unit: bool,
}

fn measures(problem: &Problem, parts: &[Measured], counted: &[bool]) -> Vec<Measure> {
    let by = |worth: &dyn Fn(&Measured) -> f64| Measure {
        each: parts
            .iter()
            .zip(counted)
            .map(|(p, c)| if *c { worth(p) } else { 0.0 })
            .collect(),
        unit: false,
    };
    let mut measures = vec![by(&|p| p.area), by(&|_| 1.0), by(&|p| p.taken[0])];
    if parts.iter().any(|p| p.taken[0] != p.taken[1]) {
        measures.push(by(&|p| p.taken[1]));
    }
    let shapes: Vec<&Shape> = parts.iter().map(|p| &p.shape).collect();
    let dual = dual::measures(problem, &shapes).into_iter();
    measures.extend(dual.map(|mut each| {
        for (worth, counted) in each.iter_mut().zip(counted) {
            if !counted {
                *worth = 0.0;
            }
        }
        Measure { each, unit: true }
    }));
    measures
}

fn kind<'a>(
    problem: &Problem,
    parts: &[Measured],
    measures: &[Measure],
    stock: &'a Stock,
) -> Kind<'a> {
    let may: Vec<bool> = parts
        .iter()
        .map(|p| fit::may_fit(problem, &p.shape, stock))
        .collect();
    let listed: Vec<usize> = (0..parts.len()).filter(|p| may[*p]).collect();
    let rooms: Vec<f64> = WAYS
        .iter()
        .map(|w| room::room(problem, stock, *w))
        .collect();
    let most = |worth: &dyn Fn(usize) -> f64| most_within(parts, &listed, &rooms, worth);
    let whole = stock.outline.area();
    Kind {
        most_area: most(&|p| parts[p].area).min(whole),
        holds: measures
            .iter()
            .map(|m| {
                let most = most(&|p| m.each[p]);
                if m.unit {
                    most.min(dual::area_count(problem, stock))
                } else {
                    most
                }
            })
            .collect(),
        stock,
        may,
    }
}

/// What the parts that fit within a set of supplies ask of it, by measure.
struct Demand {
    /// The set, by supply.
    on: Vec<bool>,
    /// How much is asked for, by measure.
    needs: Vec<f64>,
}

/// One demand for every set of supplies that some part is limited to, and one for all.
fn demands(
    parts: &[Measured],
    counted: &[bool],
    kinds: &[Kind],
    measures: &[Measure],
    supplies: usize,
) -> Vec<Demand> {
    let limits: Vec<Vec<bool>> = (0..parts.len())
        .map(|p| {
            let mut on = vec![false; supplies];
            for kind in kinds {
                on[kind.stock.supply] |= kind.may[p];
            }
            on
        })
        .collect();
    let mut sets: Vec<Vec<bool>> = vec![vec![true; supplies]];
    for p in (0..parts.len()).filter(|p| counted[*p]) {
        if !sets.contains(&limits[p]) {
            sets.push(limits[p].clone());
        }
    }
    let within = |inner: &[bool], outer: &[bool]| inner.iter().zip(outer).all(|(i, o)| !i || *o);
    sets.into_iter()
        .map(|on| {
            let inside: Vec<usize> = (0..parts.len())
                .filter(|p| counted[*p] && within(&limits[*p], &on))
                .collect();
            let need = |m: &Measure| {
                let each = inside.iter();
                each.map(|p| m.each[*p] * f64::from(parts[*p].shape.part.quantity))
                    .sum()
            };
            let needs = measures.iter().map(need).collect();
            Demand { on, needs }
        })
        .collect()
}

/// The least that the pieces taken add to `slope` times the area.
fn cheapest(kinds: &[Kind], pieces: &[f64], demands: &[Demand], slope: f64) -> f64 {
    let above: Vec<f64> = kinds.iter().map(|k| k.least_above(slope)).collect();
    // Of kinds that share a supply the cheapest and the roomiest at once: no choice beats that.
    let supply = |j: usize, measure: usize| {
        let mine = || (0..kinds.len()).filter(move |k| kinds[*k].stock.supply == j);
        Supply {
            holds: mine().map(|k| kinds[k].holds[measure]).fold(0.0, f64::max),
            costs: mine().map(|k| above[k]).fold(f64::INFINITY, f64::min),
            pieces: pieces[j],
        }
    };
    let forced = |j: usize| {
        let mut kinds = kinds.iter().filter(|k| k.stock.supply == j);
        kinds.any(|k| !k.stock.pinned.is_empty())
    };
    let offered: Vec<usize> = (0..pieces.len())
        .filter(|j| kinds.iter().any(|k| k.stock.supply == *j))
        .collect();
    // Pieces that pay for themselves are all taken, wherever no demand speaks for them.
    let paying = |on: &dyn Fn(usize) -> bool| -> f64 {
        let left = offered.iter().filter(|j| !on(**j));
        let cost = |j: usize| match forced(j) {
            true => supply(j, 0).costs,
            false => supply(j, 0).costs.min(0.0) * pieces[j],
        };
        left.map(|j| cost(*j)).sum()
    };
    let mut costs: Vec<(f64, &Demand)> = demands
        .iter()
        .map(|demand| {
            let by_measure = demand.needs.iter().enumerate().map(|(m, need)| {
                let inside = || offered.iter().copied().filter(|j| demand.on[*j]);
                let (mut need, mut cost) = (*need, 0.0);
                for j in inside().filter(|j| forced(*j)) {
                    need -= supply(j, m).holds;
                    cost += supply(j, m).costs;
                }
                let free = inside().filter(|j| !forced(*j));
                let supplies: Vec<Supply> = free.map(|j| supply(j, m)).collect();
                cost + least_cost(&supplies, need.max(0.0))
            });
            (by_measure.fold(f64::NEG_INFINITY, f64::max), demand)
        })
        .collect();
    let single = costs
        .iter()
        .map(|(cost, demand)| cost + paying(&|j| demand.on[j]))
        .fold(f64::NEG_INFINITY, f64::max);
    // Demands on supplies that are not shared add up.
    costs.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut taken = vec![false; pieces.len()];
    let mut sum = 0.0;
    for (cost, demand) in costs {
        let shared = demand.on.iter().zip(&taken).any(|(d, t)| *d && *t);
        let everything = demand.on.iter().all(|d| *d);
        if !shared && !everything && cost.is_finite() {
            sum += cost;
            taken.iter_mut().zip(&demand.on).for_each(|(t, d)| *t |= d);
        }
    }
    single.max(sum + paying(&|j| taken[j]))
}

#[cfg(test)]
mod tests;
