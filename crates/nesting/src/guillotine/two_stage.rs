//! The most valuable pattern of a rectangle in two stages when copies are limited.
//!
//! The sheet is cut into strips, the strips into parts. With a price on every copy that is taken, the
//! limits can be left out and the best strips are knapsacks; what the copies there are would fetch at
//! these prices comes on top, and the sum is a ceiling (Lagrangian relaxation). Prices that make it low are
//! found by subgradient steps. Then all strips that could be part of a better pattern under this
//! ceiling are tried, the thickest first.

use super::cut_tree::Axis;
use super::cutting::{Cutting, Lying, Meter};
use super::length::Nm;
use super::limited::{Found, Question};
use super::points::{sums, under};
use crate::Control;

/// Steps towards lower ceilings.
const PRICE_STEPS: u32 = 300;

/// Steps without a lower ceiling after which they become half as long.
const PATIENCE: u32 = 12;

/// Most entries of a table.
const MOST_ENTRIES: usize = 4_000_000;

/// Most choices one after the other, strips times items: each takes some hundred bytes of the stack.
const DEEPEST: u64 = 2000;

/// Work between two looks at the caller's control.
const LOOK: u64 = 100_000;

/// Slack for sums of values.
const SLACK: f64 = 1e-9;

/// Searches for a pattern that is worth more than `least`; `ceiling` is known to hold. The result's
/// pattern is none when there is no such pattern, or when none was found in time. `None` when there are too
/// many strips or sums of sides.
///
/// Lengths of cuts are not looked at.
pub(super) fn search(
    asked: &Question,
    least: f64,
    ceiling: f64,
    meter: &mut Meter,
    control: &Control,
) -> Option<Found> {
    let mut found = Found {
        cutting: None,
        ceiling: least,
    };
    let mut best = least;
    for axis in 0..2 {
        if asked.limits.first.is_some_and(|f| f != axis) {
            continue;
        }
        let mut strips = Strips::new(asked, axis)?;
        let Some(bound) = strips.price(best, meter) else {
            found.ceiling = ceiling;
            continue;
        };
        if bound <= best * (1.0 + SLACK) {
            continue;
        }
        let mut tried = Trial {
            strips: &strips,
            left: asked.most.to_vec(),
            taken: Vec::new(),
            best,
            cutting: None,
            meter,
            control,
            look: 0,
            stopped: false,
        };
        tried.strips_from(0, strips.whole, 0.0, strips.fetched(asked.most));
        if tried.stopped {
            found.ceiling = found.ceiling.max(bound.min(ceiling));
        }
        if tried.best > best {
            best = tried.best;
            found.cutting = tried.cutting;
        }
    }
    found.ceiling = found.ceiling.max(best);
    Some(found)
}

/// A part as it may lie in a strip.
#[derive(Debug, Clone, Copy)]
struct Item {
    piece: usize,
    turned: bool,
    /// Along the strip, and across it.
    length: Nm,
    thickness: Nm,
    value: f64,
    most: u32,
}

/// Strips that are as thick as some part.
struct Class {
    thickness: Nm,
    /// The items as thick as that.
    items: std::ops::Range<usize>,
    /// The first item that may lie in such a strip; they go on to the end of `items`.
    from: usize,
}

/// All there is to know about strips along one axis.
struct Strips {
    axis: Axis,
    /// Thin ones first.
    items: Vec<Item>,
    /// Thick ones first.
    classes: Vec<Class>,
    /// Sums of lengths along a strip, and of thicknesses.
    lengths: Vec<Nm>,
    thicknesses: Vec<Nm>,
    most: Vec<u32>,
    prices: Vec<f64>,
    /// By number of items, then by length: the most that a strip holds of that many, less prices.
    held: Vec<Vec<f64>>,
    /// By class, then by thickness: the most that strips of this and thinner classes hold.
    filled: Vec<Vec<f64>>,
    whole: Nm,
}

impl Strips {
    /// `None` when there are too many sums of sides.
    fn new(asked: &Question, axis: Axis) -> Option<Self> {
        let [whole, length] = [asked.sheet[axis], asked.sheet[1 - axis]];
        let fits = |l: &&Lying| l.size[axis] <= whole && l.size[1 - axis] <= length;
        let mut items: Vec<Item> = asked
            .lying
            .iter()
            .filter(fits)
            .map(|l| Item {
                piece: l.piece,
                turned: l.turned,
                length: l.size[1 - axis],
                thickness: l.size[axis],
                value: l.value,
                most: asked.most[l.piece],
            })
            .collect();
        items.sort_by_key(|i| (i.thickness, i.length, i.piece));
        let copies = asked.most.iter().map(|n| u64::from(*n)).sum::<u64>();
        let strips = items.first().map_or(0, |i| (whole / i.thickness) as u64);
        if strips.min(copies) * items.len() as u64 > DEEPEST {
            return None;
        }
        let lengths = sums(&items.iter().map(|i| i.length).collect::<Vec<_>>(), length)?;
        let sides: Vec<Nm> = items.iter().map(|i| i.thickness).collect();
        let thicknesses = sums(&sides, whole)?;
        let mut classes: Vec<Class> = Vec::new();
        for (n, item) in items.iter().enumerate() {
            match classes.last_mut() {
                Some(class) if class.thickness == item.thickness => class.items.end = n + 1,
                _ => classes.push(Class {
                    thickness: item.thickness,
                    items: n..n + 1,
                    from: if asked.free_trim { 0 } else { n },
                }),
            }
        }
        classes.reverse();
        let entries = (items.len() + 1) * lengths.len() + classes.len() * thicknesses.len();
        (entries <= MOST_ENTRIES).then(|| Self {
            axis,
            held: vec![vec![0.0; lengths.len()]; items.len() + 1],
            filled: vec![vec![0.0; thicknesses.len()]; classes.len() + 1],
            prices: vec![0.0; asked.most.len()],
            most: asked.most.to_vec(),
            items,
            classes,
            lengths,
            thicknesses,
            whole,
        })
    }

    fn net(&self, item: &Item) -> f64 {
        item.value - self.prices[item.piece]
    }

    /// What all copies there are fetch at the prices.
    fn fetched(&self, most: &[u32]) -> f64 {
        let each = self.prices.iter().zip(most);
        each.filter(|(price, _)| **price > 0.0)
            .map(|(price, n)| price * f64::from(*n))
            .sum()
    }

    /// Works the tables out for the prices. Returns the work.
    fn solve(&mut self) -> u64 {
        let mut work = 0;
        let n = self.lengths.len();
        for class in self.classes.iter().rev() {
            for i in class.items.clone() {
                let item = self.items[i];
                let net = self.net(&item);
                let mut row = if i == class.from {
                    vec![0.0; n]
                } else {
                    self.held[i].clone()
                };
                if net > 0.0 {
                    let copies =
                        u64::from(item.most).min((self.lengths[n - 1] / item.length) as u64);
                    let start = under(&self.lengths, item.length);
                    for _ in 0..copies {
                        for at in (start..n).rev() {
                            let rest = under(&self.lengths, self.lengths[at] - item.length);
                            row[at] = f64::max(row[at], row[rest] + net);
                        }
                    }
                    work += 4 * copies * n as u64;
                }
                work += n as u64;
                self.held[i + 1] = row;
            }
        }
        for c in (0..self.classes.len()).rev() {
            let class = &self.classes[c];
            let value = self.held[class.items.end][n - 1];
            let mut row = self.filled[c + 1].clone();
            let start = under(&self.thicknesses, class.thickness);
            for at in start..row.len() {
                let rest = under(&self.thicknesses, self.thicknesses[at] - class.thickness);
                row[at] = f64::max(row[at], row[rest] + value);
            }
            work += 4 * row.len() as u64;
            self.filled[c] = row;
        }
        work
    }

    /// Copies in the pattern that the tables stand for.
    fn taken(&self) -> Vec<u32> {
        let mut taken = vec![0; self.most.len()];
        let mut at = self.thicknesses.len() - 1;
        for (c, class) in self.classes.iter().enumerate() {
            while self.filled[c][at] > self.filled[c + 1][at] {
                at = under(&self.thicknesses, self.thicknesses[at] - class.thickness);
                let mut length = self.lengths.len() - 1;
                for i in (class.from..class.items.end).rev() {
                    let item = &self.items[i];
                    let without = |length: usize| {
                        if i == class.from {
                            0.0
                        } else {
                            self.held[i][length]
                        }
                    };
                    // As few copies as give the value.
                    let (value, mut rest, mut sum, mut copies) =
                        (self.held[i + 1][length], length, 0.0, 0);
                    while without(rest) + sum < value * (1.0 - SLACK)
                        && self.lengths[rest] >= item.length
                        && copies < item.most
                    {
                        rest = under(&self.lengths, self.lengths[rest] - item.length);
                        sum += self.net(item);
                        copies += 1;
                    }
                    taken[item.piece] += copies;
                    length = rest;
                }
            }
        }
        taken
    }

    /// Looks for prices with a low ceiling, and leaves the tables for them. `None` when there is not
    /// enough work left.
    fn price(&mut self, least: f64, meter: &mut Meter) -> Option<f64> {
        let mut best: Option<(f64, Vec<f64>)> = None;
        let (mut pace, mut failures) = (1.0, 0_u32);
        for _ in 0..PRICE_STEPS {
            if !meter.spend(self.solve()) {
                return None;
            }
            let bound = self.filled[0].last().unwrap_or(&0.0) + self.fetched(&self.most);
            if best.as_ref().is_none_or(|b| bound < b.0) {
                best = Some((bound, self.prices.clone()));
                failures = 0;
            } else {
                failures += 1;
                if failures.is_multiple_of(PATIENCE) {
                    pace *= 0.5;
                }
            }
            if bound <= least * (1.0 + SLACK) {
                break;
            }
            let spare: Vec<f64> = self
                .taken()
                .iter()
                .zip(&self.most)
                .map(|(taken, most)| f64::from(*most) - f64::from(*taken))
                .collect();
            // A copy too few at no price changes nothing.
            let counts = |p: usize| spare[p] < 0.0 || self.prices[p] > 0.0;
            let square: f64 = (0..spare.len())
                .filter(|p| counts(*p))
                .map(|p| spare[p] * spare[p])
                .sum();
            if square == 0.0 {
                break;
            }
            let step = pace * (bound - least) / square;
            for (p, price) in self.prices.iter_mut().enumerate() {
                *price = (*price - step * spare[p]).max(0.0);
            }
        }
        let (bound, prices) = best?;
        self.prices = prices;
        meter.spend(self.solve());
        Some(bound)
    }
}

/// Strip after strip.
struct Trial<'a, 'b> {
    strips: &'a Strips,
    left: Vec<u32>,
    /// By strip: its class, and the items in it with their numbers, the thick ones first.
    taken: Vec<(usize, Vec<(usize, u32)>)>,
    best: f64,
    cutting: Option<Cutting>,
    meter: &'a mut Meter,
    control: &'a Control<'b>,
    look: u64,
    stopped: bool,
}

impl Trial<'_, '_> {
    fn stop(&mut self) -> bool {
        self.look += 1;
        self.stopped |=
            !self.meter.spend(4) || self.look.is_multiple_of(LOOK) && self.control.stopped();
        self.stopped
    }

    fn hopeless(&self, ceiling: f64) -> bool {
        ceiling <= self.best * (1.0 + SLACK)
    }

    /// Tries all further strips of class `first` and thinner ones on what is left of the sheet. `net` is
    /// what the strips so far hold less prices, plus what all copies fetch; `value` what they are worth.
    fn strips_from(&mut self, first: usize, room: Nm, value: f64, net: f64) {
        if value > self.best {
            self.best = value;
            self.cutting = Some(self.pattern());
        }
        let strips = self.strips;
        for c in first..strips.classes.len() {
            let class = &strips.classes[c];
            if class.thickness > room {
                continue;
            }
            let more = strips.filled[c][under(&strips.thicknesses, room)];
            if self.hopeless(net + more) || self.stop() {
                return;
            }
            let rest = room - class.thickness;
            let later = strips.filled[c][under(&strips.thicknesses, rest)];
            self.taken.push((c, Vec::new()));
            let length = strips.lengths[strips.lengths.len() - 1];
            self.fill(c, class.items.end, length, rest, (value, net, later));
            self.taken.pop();
        }
    }

    /// Puts copies of the items below `end` into the strip at hand, `length` being left of it, and goes
    /// on with the next one. `worth` is the value so far, the same less prices, and what later strips may add.
    fn fill(&mut self, c: usize, end: usize, length: Nm, rest: Nm, worth: (f64, f64, f64)) {
        let strips = self.strips;
        let class = &strips.classes[c];
        let (value, net, later) = worth;
        let at = under(&strips.lengths, length);
        let more = if end > class.from {
            strips.held[end][at]
        } else {
            0.0
        };
        if self.hopeless(net + more + later) || self.stop() {
            return;
        }
        let empty = self.taken.last().is_none_or(|t| t.1.is_empty());
        if empty && end <= class.items.start {
            // No part is as thick as the strip.
            return;
        }
        if end == class.from {
            let n = self.taken.len();
            let again = n > 1 && self.taken[n - 2].0 == c;
            // Equal strips in one order only.
            if !again || self.taken[n - 2].1 >= self.taken[n - 1].1 {
                self.strips_from(c, rest, value, net);
            }
            return;
        }
        let i = end - 1;
        let item = strips.items[i];
        let most = u64::from(self.left[item.piece]).min((length / item.length) as u64) as u32;
        for copies in (0..=most).rev() {
            let n = f64::from(copies);
            if copies > 0 {
                self.left[item.piece] -= copies;
                if let Some(strip) = self.taken.last_mut() {
                    strip.1.push((i, copies));
                }
            }
            let worth = (value + n * item.value, net + n * strips.net(&item), later);
            self.fill(c, i, length - Nm::from(copies) * item.length, rest, worth);
            if copies > 0 {
                self.left[item.piece] += copies;
                if let Some(strip) = self.taken.last_mut() {
                    strip.1.pop();
                }
            }
            if self.stopped {
                return;
            }
        }
    }

    fn pattern(&self) -> Cutting {
        let strips = self.taken.iter().map(|(_, items)| {
            let parts = items.iter().flat_map(|(i, n)| {
                let Item { piece, turned, .. } = self.strips.items[*i];
                std::iter::repeat_n(Cutting::Part { piece, turned }, *n as usize)
            });
            Cutting::Stack(1 - self.strips.axis, parts.collect())
        });
        Cutting::Stack(self.strips.axis, strips.collect())
    }
}
