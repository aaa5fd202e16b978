//! Parts that keep each other off a piece of stock, told by their true outlines.
//!
//! Two parts, each at an angle, lie together on a rectangle only when the place of one seen from the other lies
//! in a rectangle too: what is left of the field's sides beyond those of the two. Where sums of pieces of the
//! two (no-fit areas) cover that rectangle, they exclude each other. Here all errs to the other side than in
//! the search: pieces lie within the parts, places are taken from bounds where the field is odd, distances are
//! cut short.
//!
//! A set of which no two members lie on one piece needs as many pieces as it has copies. On a piece where not all
//! of them exclude each other, it has no more copies than there are groups of members that do.

use super::cover::{Convex, Effort, covers, sums};
use super::ground::{GIVEN_AWAY, Ground, allowed, mirrored};
use super::solid::{Pieces, Solid, circle};
use crate::{Problem, Stock};
use panelwright_geometry::Bounds;
use std::collections::BTreeMap;

/// How many kinds of parts, the largest ones, are looked at in pairs.
const MOST_KINDS: usize = 40;

/// How many different areas of stock are looked at; on others nothing is said.
const MOST_GROUNDS: usize = 24;

/// Most sets that are counted. Each costs a few knapsacks.
const MOST_SETS: usize = 8;

/// Most pairs of convex pieces of two parts; beyond it they count as compatible.
const MOST_SUMS: usize = 700;

/// A set of parts of which few lie on one piece.
pub(super) struct Set {
    /// 1 for its members, 0 for others, by part.
    pub(super) counts: Vec<f64>,
    /// Most copies of it that lie on one piece, none in a window of another part, by stock; infinite where nothing is
    /// known.
    pub(super) most: Vec<f64>,
}

/// Sets of large parts that exclude each other on some stock.
pub(super) fn sets(problem: &Problem, solids: &[Vec<Solid>], grounds: &[Vec<Ground>]) -> Vec<Set> {
    let area = |part: usize| problem.parts[part].outline.outer.area();
    let mut kinds: Vec<usize> = (0..solids.len())
        .filter(|p| !solids[*p].is_empty() && problem.parts[*p].quantity > 0)
        .collect();
    kinds.sort_by(|a, b| area(*b).total_cmp(&area(*a)));
    kinds.truncate(MOST_KINDS);
    if kinds.is_empty() {
        return Vec::new();
    }
    let pairs = Pairs::new(problem, solids, grounds, kinds);
    let mut members: Vec<Vec<usize>> = Vec::new();
    for graph in &pairs.graphs {
        for set in pairs.cliques(graph) {
            if !members.contains(&set) {
                members.push(set);
            }
        }
    }
    let copies = |set: &Vec<usize>| -> u32 {
        let each = set.iter().map(|k| problem.parts[pairs.kinds[*k]].quantity);
        each.fold(0, u32::saturating_add)
    };
    members.retain(|set| copies(set) > 1);
    members.sort_by_key(|set| std::cmp::Reverse(copies(set)));
    members.truncate(MOST_SETS);
    members.iter().map(|set| pairs.counted(set)).collect()
}

/// Which of the kinds exclude each other, on each area of stock.
struct Pairs<'a> {
    problem: &'a Problem,
    kinds: Vec<usize>,
    /// By area of stock that differs: row by row, whether two kinds exclude each other.
    graphs: Vec<Vec<bool>>,
    /// The graphs of each stock's areas; `None` where nothing is known.
    of_stock: Vec<Option<Vec<usize>>>,
}

impl<'a> Pairs<'a> {
    fn new(
        problem: &'a Problem,
        solids: &[Vec<Solid>],
        grounds: &[Vec<Ground>],
        kinds: Vec<usize>,
    ) -> Self {
        let mut seen: Vec<(&Ground, Option<f64>, u8)> = Vec::new();
        let mut graphs = Vec::new();
        let mut sums = Sums {
            problem,
            solids,
            known: BTreeMap::new(),
            effort: Effort::new(Effort::PLENTY),
        };
        let mut of_stock = Vec::new();
        for (stock, grounds) in problem.stock.iter().zip(grounds) {
            if !stock.pinned.is_empty() {
                of_stock.push(None);
                continue;
            }
            let mut areas = Vec::new();
            for ground in grounds {
                let alike = seen.iter().position(|(other, grain, faces)| {
                    (*grain, *faces) == (stock.grain_deg, stock.good_faces) && other.is_like(ground)
                });
                if let Some(index) = alike {
                    areas.push(index);
                } else if graphs.len() < MOST_GROUNDS {
                    areas.push(graphs.len());
                    graphs.push(sums.graph(&kinds, ground, stock));
                    seen.push((ground, stock.grain_deg, stock.good_faces));
                } else {
                    areas.clear();
                    break;
                }
            }
            of_stock.push((!areas.is_empty()).then_some(areas));
        }
        Self {
            problem,
            kinds,
            graphs,
            of_stock,
        }
    }

    fn copies(&self, kind: usize) -> u32 {
        self.problem.parts[self.kinds[kind]].quantity
    }

    /// Sets of which each member excludes the others and, where there are more copies, itself: from each kind on
    /// the largest that fit to it, and those of the most copies.
    fn cliques(&self, graph: &[bool]) -> Vec<Vec<usize>> {
        let n = self.kinds.len();
        let alone = |k: usize| graph[k * n + k] || self.copies(k) == 1;
        let by_size: Vec<usize> = (0..n).filter(|k| alone(*k)).collect();
        let mut by_copies = by_size.clone();
        by_copies.sort_by_key(|k| std::cmp::Reverse(self.copies(*k)));
        let mut found: Vec<Vec<usize>> = Vec::new();
        for first in &by_size {
            for order in [&by_size, &by_copies] {
                let mut set = vec![*first];
                for k in order {
                    if set.iter().all(|m| m != k && graph[m * n + k]) {
                        set.push(*k);
                    }
                }
                set.sort_unstable();
                if !found.contains(&set) {
                    found.push(set);
                }
            }
        }
        found
    }

    fn counted(&self, set: &[usize]) -> Set {
        let mut counts = vec![0.0; self.problem.parts.len()];
        for k in set {
            counts[self.kinds[*k]] = 1.0;
        }
        let most = self.of_stock.iter().map(|areas| match areas {
            Some(areas) => areas
                .iter()
                .map(|a| self.groups(&self.graphs[*a], set))
                .sum(),
            None => f64::INFINITY,
        });
        Set {
            most: most.collect(),
            counts,
        }
    }

    /// How many copies of the set can lie together, at most: one of each group of members that exclude each other.
    fn groups(&self, graph: &[bool], set: &[usize]) -> f64 {
        let n = self.kinds.len();
        let mut groups: Vec<Vec<usize>> = Vec::new();
        let mut others = 0.0;
        for &k in set {
            if !graph[k * n + k] && self.copies(k) > 1 {
                others += f64::from(self.copies(k));
                continue;
            }
            let group = groups
                .iter_mut()
                .find(|g| g.iter().all(|m| graph[m * n + k]));
            match group {
                Some(group) => group.push(k),
                None => groups.push(vec![k]),
            }
        }
        groups.len() as f64 + others
    }
}

/// The no-fit areas of pairs, made when they are first asked for.
struct Sums<'a> {
    problem: &'a Problem,
    solids: &'a [Vec<Solid>],
    /// By part and index of its solid, twice.
    known: BTreeMap<(usize, usize, usize, usize), Vec<Convex>>,
    effort: Effort,
}

impl Sums<'_> {
    fn graph(&mut self, kinds: &[usize], ground: &Ground, stock: &Stock) -> Vec<bool> {
        let n = kinds.len();
        // Solids that may lie here, and where.
        let lying: Vec<Vec<(usize, Bounds)>> = kinds
            .iter()
            .map(|part| {
                let solids = &self.solids[*part];
                let part = &self.problem.parts[*part];
                if !part.faces_fit(stock) {
                    return Vec::new();
                }
                allowed(solids, part, stock)
                    .filter_map(|solid| {
                        let index = solids.iter().position(|s| std::ptr::eq(s, solid))?;
                        Some((index, ground.places(solid, &mut self.effort)?))
                    })
                    .collect()
            })
            .collect();
        let mut graph = vec![false; n * n];
        for i in 0..n {
            for j in i..n {
                let excluded = lying[i].iter().all(|(a, here)| {
                    lying[j].iter().all(|(b, there)| {
                        self.exclude((kinds[i], *a, *here), (kinds[j], *b, *there))
                    })
                });
                graph[i * n + j] = excluded;
                graph[j * n + i] = excluded;
            }
        }
        graph
    }

    /// Whether a part, one of its solids and where it may lie, and another such cannot lie there together.
    fn exclude(&mut self, one: (usize, usize, Bounds), other: (usize, usize, Bounds)) -> bool {
        let solids = self.solids;
        let (a, b) = (
            &solids[one.0][one.1].filled,
            &solids[other.0][other.1].filled,
        );
        let seen = seen_from(&one.2, &other.2);
        if beside(a, b, &seen, self.problem.gap) || a.convex.len() * b.convex.len() > MOST_SUMS {
            return false;
        }
        let gap = self.problem.gap;
        let areas = self
            .known
            .entry((one.0, one.1, other.0, other.1))
            .or_insert_with(|| no_fit(a, b, gap));
        covers(areas, seen, &mut self.effort)
    }
}

/// Where the second of two may lie, seen from the first.
fn seen_from(first: &Bounds, second: &Bounds) -> Bounds {
    Bounds::new(
        second.min - first.max.to_vec(),
        second.max - first.min.to_vec(),
    )
}

/// Whether the bounding rectangles can lie beside each other: most pairs can, and this is quickly told.
pub(super) fn beside(a: &Pieces, b: &Pieces, seen: &Bounds, gap: f64) -> bool {
    let (a, b) = (&a.bounds, &b.bounds);
    seen.max.x + b.min.x >= a.max.x + gap
        || seen.min.x + b.max.x <= a.min.x - gap
        || seen.max.y + b.min.y >= a.max.y + gap
        || seen.min.y + b.max.y <= a.min.y - gap
}

/// Places of the second's origin, seen from the first's, where the two surely come too near to each other.
pub(super) fn no_fit(first: &Pieces, second: &Pieces, gap: f64) -> Vec<Convex> {
    let round = (gap > 0.0).then(|| circle(gap));
    let grown: Vec<_> = first
        .convex
        .iter()
        .map(|p| round.as_ref().map_or(p.clone(), |r| sums(p, r)))
        .collect();
    let second: Vec<_> = second.convex.iter().map(|p| mirrored(p)).collect();
    grown
        .iter()
        .flat_map(|p| {
            second
                .iter()
                .filter_map(move |q| Convex::hull(&sums(p, q), GIVEN_AWAY))
        })
        .collect()
}
