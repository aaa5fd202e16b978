//! Two small exact problems behind the bounds, each answered on the safe side when it grows too big.

/// A relative slack for sums of areas, so that what fits exactly is not turned away by rounding.
const SLACK: f64 = 1e-9;

/// Nodes of a search tree before the rest is bounded by its relaxation. More make a bound a hair
/// tighter; this many take under a millisecond for a few dozen kinds.
const MOST_NODES: u32 = 2_000;

/// With more kinds of items the relaxation is as good as the truth, and the search would be deep.
const MOST_KINDS: usize = 200;

/// Something to pack: what it takes and brings, and how many there are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Item {
    /// Room it takes, at least 0.
    pub(super) takes: f64,
    /// Value it brings, at least 0.
    pub(super) brings: f64,
    /// How many there are.
    pub(super) quantity: u32,
}

/// An upper bound on the value that fits into `room`, exact unless there are very many kinds.
///
/// Branch and bound on whole numbers; where it is cut short, the value with fractions stands in,
/// which is never less (the fractions may be whole).
pub(super) fn most_value(items: &[Item], room: f64) -> f64 {
    let room = room.max(0.0) * (1.0 + SLACK) + SLACK;
    let sorted = by_rate(items, room);
    let mut search = MostValue {
        items: &sorted,
        best: 0.0,
        nodes: 0,
    };
    if sorted.len() > MOST_KINDS {
        return search.with_fractions(0, room);
    }
    search.branch(0, room, 0.0);
    search.best
}

/// An upper bound on the value that fits into `room`: that of a choice with fractions.
pub(super) fn most_value_in_parts(items: &[Item], room: f64) -> f64 {
    let room = room.max(0.0) * (1.0 + SLACK) + SLACK;
    let sorted = by_rate(items, room);
    let search = MostValue {
        items: &sorted,
        best: 0.0,
        nodes: 0,
    };
    search.with_fractions(0, room)
}

/// Items that fit, best value for its room first; what takes nothing comes before all.
fn by_rate(items: &[Item], room: f64) -> Vec<Item> {
    let mut sorted: Vec<Item> = items
        .iter()
        .copied()
        .filter(|i| i.quantity > 0 && i.brings > 0.0 && i.takes <= room)
        .collect();
    // By a number of each item's own: products across two are rounded and may go round in a circle.
    let rate = |i: &Item| i.takes / i.brings;
    sorted.sort_by(|a, b| rate(a).total_cmp(&rate(b)));
    sorted
}

struct MostValue<'a> {
    items: &'a [Item],
    best: f64,
    nodes: u32,
}

impl MostValue<'_> {
    fn with_fractions(&self, from: usize, mut room: f64) -> f64 {
        let mut value = 0.0;
        for item in &self.items[from..] {
            let all = item.takes * f64::from(item.quantity);
            if all <= room {
                value += item.brings * f64::from(item.quantity);
                room -= all;
            } else {
                return value + item.brings * (room / item.takes);
            }
        }
        value
    }

    fn branch(&mut self, from: usize, room: f64, value: f64) {
        let bound = value + self.with_fractions(from, room);
        if bound <= self.best {
            return;
        }
        let Some(item) = self.items.get(from).copied() else {
            self.best = value;
            return;
        };
        self.nodes += 1;
        if self.nodes > MOST_NODES {
            self.best = bound;
            return;
        }
        let fitting = if item.takes > 0.0 {
            (room / item.takes).floor().min(f64::from(item.quantity))
        } else {
            f64::from(item.quantity)
        };
        let mut count = fitting;
        while count >= 0.0 {
            let left = (room - count * item.takes).max(0.0);
            let with = value + count * item.brings;
            // Fewer of the best kind never raise the relaxation.
            if with + self.with_fractions(from + 1, left) <= self.best {
                break;
            }
            self.branch(from + 1, left, with);
            count -= 1.0;
        }
    }
}

/// A supply of pieces of stock: what one holds and costs, and how many there are.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Supply {
    /// What one piece holds.
    pub(super) holds: f64,
    /// What one piece costs; may be below 0.
    pub(super) costs: f64,
    /// How many pieces there are at most.
    pub(super) pieces: f64,
}

/// A lower bound on the cost of whole pieces that together hold `need`; exact unless there are very
/// many supplies. When all together do not hold it, the cost of all.
pub(super) fn least_cost(supplies: &[Supply], need: f64) -> f64 {
    let mut need = need * (1.0 - SLACK) - SLACK;
    let mut fixed = 0.0;
    let mut sorted = Vec::new();
    for supply in supplies {
        if supply.costs <= 0.0 {
            // Taking all of these is cheapest and holds most, so it bounds every choice.
            if supply.costs < 0.0 {
                fixed += supply.costs * supply.pieces;
            }
            need -= supply.holds * supply.pieces;
        } else if supply.holds > 0.0 && supply.pieces > 0.0 {
            sorted.push(*supply);
        }
    }
    let rate = |s: &Supply| s.costs / s.holds;
    sorted.sort_by(|a, b| rate(a).total_cmp(&rate(b)));
    let all: f64 = sorted.iter().map(|s| s.holds * s.pieces).sum();
    need = need.min(all * (1.0 - SLACK) - SLACK);
    if need <= 0.0 {
        return fixed;
    }
    let mut search = LeastCost {
        supplies: &sorted,
        nothing: SLACK * need,
        best: f64::INFINITY,
        nodes: 0,
    };
    if sorted.len() > MOST_KINDS {
        return fixed + search.with_fractions(0, need);
    }
    search.branch(0, need, 0.0);
    fixed + search.best
}

struct LeastCost<'a> {
    supplies: &'a [Supply],
    /// A need this small is rounding.
    nothing: f64,
    best: f64,
    nodes: u32,
}

impl LeastCost<'_> {
    fn with_fractions(&self, from: usize, mut need: f64) -> f64 {
        let mut cost = 0.0;
        for supply in &self.supplies[from..] {
            if need <= self.nothing {
                break;
            }
            let pieces = (need / supply.holds).min(supply.pieces);
            cost += pieces * supply.costs;
            need -= pieces * supply.holds;
        }
        if need > self.nothing {
            f64::INFINITY
        } else {
            cost
        }
    }

    fn branch(&mut self, from: usize, need: f64, cost: f64) {
        if need <= self.nothing {
            self.best = self.best.min(cost);
            return;
        }
        let bound = cost + self.with_fractions(from, need);
        if bound >= self.best {
            return;
        }
        let Some(supply) = self.supplies.get(from).copied() else {
            return;
        };
        self.nodes += 1;
        if self.nodes > MOST_NODES {
            self.best = bound;
            return;
        }
        let mut count = (need / supply.holds).ceil().min(supply.pieces);
        while count >= 0.0 {
            let (left, with) = (need - count * supply.holds, cost + count * supply.costs);
            if with + self.with_fractions(from + 1, left) >= self.best {
                if left >= 0.0 {
                    // Fewer of the cheapest kind never lower the relaxation, but one piece that is
                    // not needed whole may be dear.
                    break;
                }
                count -= 1.0;
                continue;
            }
            self.branch(from + 1, left, with);
            count -= 1.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn most_value_matches_brute_force(
            kinds in proptest::collection::vec((1u32..30, 1u32..30, 1u32..4), 1..5), room in 0u32..80,
        ) {
            let items: Vec<Item> = kinds.iter().map(|&(t, b, quantity)| Item {
                takes: f64::from(t), brings: f64::from(b), quantity,
            }).collect();
            let mut best = vec![0u32; room as usize + 1];
            for &(takes, brings, quantity) in &kinds {
                for _ in 0..quantity {
                    for r in (takes as usize..best.len()).rev() {
                        best[r] = best[r].max(best[r - takes as usize] + brings);
                    }
                }
            }
            let expected = f64::from(best[room as usize]);
            prop_assert!((most_value(&items, f64::from(room)) - expected).abs() < 1e-6);
        }

        #[test]
        fn least_cost_matches_brute_force(
            kinds in proptest::collection::vec((1u32..30, 1u32..30, 1u32..4), 1..5), need in 0u32..150,
        ) {
            let supplies: Vec<Supply> = kinds.iter().map(|&(h, c, p)| Supply {
                holds: f64::from(h), costs: f64::from(c), pieces: f64::from(p),
            }).collect();
            let all: u32 = kinds.iter().map(|k| k.0 * k.2).sum();
            let need = need.min(all);
            let mut least = vec![u32::MAX; need as usize + 1];
            least[0] = 0;
            for &(holds, costs, pieces) in &kinds {
                for _ in 0..pieces {
                    for n in (1..least.len()).rev() {
                        let before = least[n.saturating_sub(holds as usize)];
                        least[n] = least[n].min(before.saturating_add(costs));
                    }
                }
            }
            let expected = f64::from(least[need as usize]);
            prop_assert!((least_cost(&supplies, f64::from(need)) - expected).abs() < 1e-6);
        }
    }

    #[test]
    fn cut_short_it_errs_to_the_safe_side() {
        // A hundred nearly equal kinds: too many trees to search. Every value is 1 above its room,
        // so no whole choice beats room + pieces, and the fractions say so at once.
        let items: Vec<Item> = (0..100)
            .map(|i| Item {
                takes: 100.0 + f64::from(i) * 0.37,
                brings: 101.0 + f64::from(i) * 0.37,
                quantity: 3,
            })
            .collect();
        let most = most_value(&items, 9_999.5);
        assert!((9_999.5..=10_099.5).contains(&most));
        let supplies: Vec<Supply> = (0..100)
            .map(|i| Supply {
                holds: 100.0 + f64::from(i) * 0.37,
                costs: 101.0 + f64::from(i) * 0.37,
                pieces: 3.0,
            })
            .collect();
        let least = least_cost(&supplies, 9_999.5);
        assert!((9_999.5..=10_235.5).contains(&least));
    }

    #[test]
    fn rates_that_differ_by_rounding_alone_can_be_sorted() {
        // Some 600 kinds of nearly one rate once made the sort give up.
        let items: Vec<Item> = (0..2_000)
            .map(|i| {
                let takes = 1.0 / f64::from(3 + i * 7 % 1_999);
                Item {
                    takes,
                    brings: takes * (1.0 / 3.0),
                    quantity: 1,
                }
            })
            .collect();
        assert!((most_value(&items, 0.3) - 0.1).abs() < 1e-6);
    }

    #[test]
    fn pieces_that_pay_are_all_taken() {
        let pays = Supply {
            holds: 5.0,
            costs: -2.0,
            pieces: 3.0,
        };
        let sheet = Supply {
            holds: 10.0,
            costs: 7.0,
            pieces: f64::INFINITY,
        };
        assert_eq!(least_cost(&[pays, sheet], 40.0), -6.0 + 21.0);
        assert_eq!(least_cost(&[sheet], 0.0), 0.0);
        // Not enough of it: all of it.
        let two = Supply {
            pieces: 2.0,
            ..sheet
        };
        assert!((least_cost(&[two], 500.0) - 14.0).abs() < 1e-6);
    }
}
