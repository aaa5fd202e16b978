//! What window cut-outs can hold.
//!
//! A copy lies either in a window of another one or in none. Those in none (the outermost) keep their
//! areas to themselves even with all their windows filled. So whatever is counted of the outermost
//! copies also bounds a count of all of them: each copy counts what it would outermost, less the most
//! that its windows can hold of the same (see [`Windows::counted`]).
//!
//! Proof: let v be what a copy counts outermost, c the most of it that the outermost of the copies in a
//! window can have, and w = v less the sum of c over its own windows. Then w summed over a copy and all
//! that lies in its windows, windows in windows included, is at most its v: by induction from the inside,
//! what lies in a window adds up to no more than v of the outermost there, which is at most c.

use super::fit::{self, Shape};
use super::knapsack::{Item, most_value};
use super::prices::Limit;
use super::{dual, room};
use crate::{Method, Problem};
use panelwright_geometry::{Outline, Ring, tolerance};

/// Given away wherever sides and widths are compared, in millimetres: chords and what the judge forgives.
const GIVEN_AWAY: f64 = 0.01;

/// The steps of dual feasible functions that windows are measured by, beside area. Those that count
/// panels above half a side; windows seldom hold more than a few.
const STEPS: [(u32, u32); 4] = [(0, 1), (1, 0), (1, 1), (2, 2)];

/// All windows of all parts.
pub(super) struct Windows {
    /// By part.
    of: Vec<Vec<Window>>,
    quantities: Vec<u32>,
}

/// One or more windows alike of one part.
pub(super) struct Window {
    pub(super) alike: f64,
    /// Sides of the bounding rectangle, to tell those alike.
    sides: (f64, f64),
    /// Area of the window as drawn.
    area: f64,
    /// Area for what is grown by half the gap.
    pub(super) room: f64,
    /// Whether a kept offcut may come out of it.
    pub(super) yields: bool,
    /// The most of that area that kept offcuts can be, as a share of what copies leave of it.
    pub(super) kept_share: f64,
    /// Sides within the gap, when it is only ever upright.
    pub(super) inner: Option<(f64, f64)>,
    /// Parts that may lie in it.
    pub(super) holds: Vec<usize>,
    /// What each of these takes of what there is, by measure.
    pub(super) limits: Vec<Limit>,
}

impl Windows {
    /// Of the parts of `problem`; `filled` is what each keeps to itself with its windows filled, `yields`
    /// tells whether a kept offcut may come out of a window, which is upright or not.
    pub(super) fn new(
        problem: &Problem,
        shapes: &[&Shape],
        filled: &[f64],
        yields: impl Fn(&Ring, bool) -> bool,
    ) -> Self {
        let quantities = shapes.iter().map(|s| s.part.quantity).collect();
        let none = || Self {
            of: shapes.iter().map(|_| Vec::new()).collect(),
            quantities: shapes.iter().map(|s| s.part.quantity).collect(),
        };
        if matches!(problem.method, Method::Guillotine(_)) {
            return none();
        }
        if shapes.iter().all(|s| s.part.outline.holes.is_empty()) {
            return none();
        }
        let sizes: Vec<Size> = shapes.iter().map(|s| Size::of(problem, s)).collect();
        let of = (0..shapes.len())
            .map(|host| {
                let mut windows: Vec<Window> = Vec::new();
                for hole in &shapes[host].part.outline.holes {
                    let yields = yields(hole, sizes[host].upright);
                    let takes = room::can_hold(problem, hole);
                    if !takes && !yields {
                        continue;
                    }
                    let area = hole.area();
                    let bounds = hole.bounds();
                    let sides = (bounds.width(), bounds.height());
                    let alike = windows
                        .iter_mut()
                        .find(|w| (w.area, w.sides) == (area, sides));
                    if let Some(window) = alike {
                        window.alike += 1.0;
                        continue;
                    }
                    let room = room::window_room(problem, hole);
                    let hull = fit::hull(&Outline::from_rings(
                        hole.clone().oriented(true),
                        Vec::new(),
                    ));
                    let less = 2.0 * problem.gap - GIVEN_AWAY;
                    let inner = (sides.0 - less, sides.1 - less);
                    let (narrow, wide) = (fit::least_width(&hull), fit::diameter(&hull));
                    // The hull is of chords within the material, so it may lack the chord error.
                    let slack = 2.0 * tolerance::CHORD;
                    let holds: Vec<usize> = (0..shapes.len())
                        .filter(|p| takes && filled[*p] <= room * (1.0 + 1e-9))
                        .filter(|p| {
                            let size = &sizes[*p];
                            if size.upright && sizes[host].upright {
                                let (a, b) = size.sides;
                                a.min(b) <= inner.0.min(inner.1) && a.max(b) <= inner.0.max(inner.1)
                            } else {
                                size.narrow <= narrow - less + slack
                                    && size.wide <= wide - less + slack
                            }
                        })
                        .collect();
                    if holds.is_empty() && !yields {
                        continue;
                    }
                    let mut limits = vec![Limit {
                        takes: holds.iter().map(|p| filled[*p]).collect(),
                        room,
                    }];
                    if sizes[host].upright && holds.iter().all(|p| sizes[*p].upright) {
                        for (i, j) in STEPS {
                            let inside =
                                |p: &usize| dual::count_in(problem, sizes[*p].inside, inner, i, j);
                            limits.push(Limit {
                                takes: holds.iter().map(inside).collect(),
                                room: 1.0,
                            });
                        }
                    }
                    windows.push(Window {
                        alike: 1.0,
                        sides,
                        area,
                        room,
                        yields,
                        kept_share: kept_share(problem, room),
                        inner: sizes[host].upright.then_some(inner),
                        holds,
                        limits,
                    });
                }
                windows
            })
            .collect();
        Self { of, quantities }
    }

    /// What a copy of each part counts for all copies together, given what it counts outermost.
    pub(super) fn counted(&self, outermost: &[f64]) -> Vec<f64> {
        let less = |part: usize| -> f64 {
            let windows = self.of[part].iter();
            windows.map(|w| w.alike * w.most(self, outermost)).sum()
        };
        (0..outermost.len())
            .map(|part| (outermost[part] - less(part)).max(0.0))
            .collect()
    }

    /// The same when what is counted is also what kept offcuts have no share in: a window that one may
    /// come out of is not counted at all.
    pub(super) fn lost(&self, outermost: &[f64]) -> Vec<f64> {
        let less = |part: usize| -> f64 {
            let open = |w: &Window| {
                if w.yields {
                    w.room
                } else {
                    w.most(self, outermost)
                }
            };
            let windows = self.of[part].iter();
            windows.map(|w| w.alike * open(w)).sum()
        };
        (0..outermost.len())
            .map(|part| (outermost[part] - less(part)).max(0.0))
            .collect()
    }

    /// Those of a part.
    pub(super) fn of(&self, part: usize) -> &[Window] {
        &self.of[part]
    }

    /// Parts that may lie in some window.
    pub(super) fn set_in(&self) -> Vec<usize> {
        let all = self.of.iter().flatten().flat_map(|w| w.holds.clone());
        let mut parts: Vec<usize> = all.collect();
        parts.sort_unstable();
        parts.dedup();
        parts
    }
}

impl Window {
    /// Most that the outermost copies in it count together.
    fn most(&self, windows: &Windows, counts: &[f64]) -> f64 {
        let by_limit = self.limits.iter().map(|limit| {
            let items: Vec<Item> = self
                .holds
                .iter()
                .zip(&limit.takes)
                .map(|(&p, &takes)| Item {
                    takes,
                    brings: counts[p],
                    quantity: windows.quantities[p],
                })
                .collect();
            most_value(&items, limit.room)
        });
        by_limit.fold(f64::INFINITY, f64::min)
    }
}

/// Most of an area in a window that kept offcuts can be, as a share.
///
/// They keep the whole gap from the window's edge and from copies in it. So grown by half of it they lie within
/// that area, beside the copies grown in the same way. Whatever has the area k has at least the area
/// (root k + root of pi h h) squared when it is grown by h (Brunn and Minkowski). Of less area they can have
/// a smaller share only.
fn kept_share(problem: &Problem, room: f64) -> f64 {
    let half_gap = (0.5 * problem.gap - GIVEN_AWAY).max(0.0);
    let root = room.max(0.0).sqrt();
    let kept = (root - half_gap * std::f64::consts::PI.sqrt()).max(0.0);
    if root > 0.0 {
        (kept / root).powi(2)
    } else {
        0.0
    }
}

/// How large a part is, so that a window may be too small for it.
pub(super) struct Size {
    /// Whether it may only lie at quarter turns.
    pub(super) upright: bool,
    /// Sides of the bounding rectangle.
    pub(super) sides: (f64, f64),
    /// Sides of a rectangle inside it, its windows filled.
    pub(super) inside: (f64, f64),
    /// Least width of its hull, and the distance of its farthest corners.
    narrow: f64,
    wide: f64,
}

impl Size {
    pub(super) fn of(problem: &Problem, shape: &Shape) -> Self {
        let bounds = shape.part.outline.bounds();
        let hull = fit::hull(&shape.part.outline);
        Self {
            upright: problem
                .stock
                .iter()
                .all(|s| dual::upright(shape, s).is_some()),
            sides: (bounds.width(), bounds.height()),
            inside: dual::inside(problem, shape.part, true),
            narrow: fit::least_width(&hull),
            wide: fit::diameter(&hull),
        }
    }
}
