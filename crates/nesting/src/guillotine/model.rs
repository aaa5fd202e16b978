//! The problem in whole numbers: pieces to be sawn, and the rectangles they can be sawn from.

use super::cut_tree::{CutTree, Limits};
use super::length::{Nm, area, at_most, limit, mm, nearest};
use super::usable::{Usable, usable};
use crate::{Angles, FirstCut, Problem, SawRules, Stock, Why};
use panelwright_geometry::{Polygon, largest_rectangle};

/// A part as the saw sees it: its bounding rectangle.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    /// Index into [`Problem::parts`].
    pub part: usize,
    /// Sides as drawn, one kerf included.
    pub size: [Nm; 2],
    /// How many are wanted.
    pub demand: u32,
    /// Area of `size` in square millimetres.
    pub area: f64,
    /// How much it weighs when it is left out: see [`Problem::priority_weights`].
    pub denied: u128,
    /// By how much its area counts when it is left out; 1 for the lowest priority.
    pub urgency: f64,
}

/// How much more the area of one priority counts than that of the next lower, while pieces are
/// exchanged. Plans are compared exactly; this only leads there. Much more would freeze what lies.
const URGENCY: f64 = 4.0;

/// Priorities beyond which it counts no more.
const MOST_URGENT: usize = 4;

impl Piece {
    /// Sides as it lies, one kerf included.
    pub fn lying(&self, turned: bool) -> [Nm; 2] {
        if turned {
            [self.size[1], self.size[0]]
        } else {
            self.size
        }
    }
}

/// How a piece may lie on a source, as the angles in degrees.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Ways {
    /// With its sides as drawn: 0 or 180.
    pub upright: Option<f64>,
    /// At a quarter turn: 90 or 270.
    pub turned: Option<f64>,
}

impl Ways {
    /// The allowed ones as `turned` flags.
    pub fn each(self) -> impl Iterator<Item = bool> {
        [false, true].into_iter().filter(move |t| self.allows(*t))
    }

    /// Whether that one is allowed.
    pub fn allows(self, turned: bool) -> bool {
        if turned {
            self.turned.is_some()
        } else {
            self.upright.is_some()
        }
    }
}

/// One kind of stock that the saw can use.
#[derive(Debug, Clone)]
pub(super) struct Source {
    /// Index into [`Problem::stock`].
    pub stock: usize,
    /// The usable rectangle, one kerf included.
    pub size: [Nm; 2],
    /// Area of `size` in square millimetres.
    pub area: f64,
    /// Where it is and how it is freed.
    pub usable: Usable,
    /// Area of those trimmings that are kept.
    pub trimmings: f64,
    /// What these are worth by the rule alone.
    pub trimmings_worth: f64,
    /// Cost of taking one, its whole area counted as scrap.
    pub price: f64,
    /// Index into [`Problem::supplies`].
    pub supply: usize,
    /// By piece: how it may lie.
    pub ways: Vec<Ways>,
}

/// The problem as the search needs it.
pub(super) struct Model<'a> {
    /// As given.
    pub problem: &'a Problem,
    /// What is wanted; only pieces that fit some source.
    pub pieces: Vec<Piece>,
    /// What there is to saw it from.
    pub sources: Vec<Source>,
    /// How many of each supply there are.
    pub supplies: Vec<u32>,
    /// The saw.
    pub limits: Limits,
    /// The rules as given.
    pub rules: SawRules,
    /// Narrowest piece that the saw can hold.
    pub least_strip: Nm,
    /// Parts that cannot be sawn, and why.
    pub refused: Vec<(usize, Why)>,
}

/// The quarter turn nearest to an angle, if it is one.
fn quarter(angle_deg: f64) -> Option<f64> {
    let turns = (angle_deg / 90.0).round();
    ((angle_deg - 90.0 * turns).abs() < 1e-9).then(|| (90.0 * turns).rem_euclid(360.0))
}

/// Whether what was trimmed off a remnant is kept.
pub(super) fn keeps_trimming(stock: &Stock, rules: &SawRules, piece: &Polygon) -> bool {
    let keep = &stock.keep;
    keep.largest_passing(|width, length| {
        largest_rectangle(piece, width.max(rules.least_strip), length)
    })
    .is_some_and(|r| {
        keep.passes(r.width(), r.height()) && r.width().min(r.height()) >= rules.least_strip
    })
}

impl<'a> Model<'a> {
    pub fn new(problem: &'a Problem, rules: &SawRules) -> Self {
        let kerf = nearest(rules.kerf);
        let weights = problem.priority_weights();
        let mut classes: Vec<i32> = problem.parts.iter().map(|p| p.priority).collect();
        classes.sort_unstable();
        classes.dedup();
        let rank = |priority: i32| classes.iter().take_while(|c| **c < priority).count();
        let pieces: Vec<Piece> = problem
            .parts
            .iter()
            .enumerate()
            .map(|(part, p)| {
                let bounds = p.outline.bounds();
                let size = [bounds.width(), bounds.height()].map(|side| at_most(side) + kerf);
                Piece {
                    part,
                    size,
                    demand: p.quantity,
                    area: area(size),
                    denied: weights[part],
                    urgency: URGENCY.powi(rank(p.priority).min(MOST_URGENT) as i32),
                }
            })
            .collect();
        // Larger ones first, so that few rectangles of a remnant take many.
        let mut sides: Vec<[f64; 2]> = pieces
            .iter()
            .map(|p| p.size.map(|side| mm(side - kerf)))
            .collect();
        sides.sort_by(|a, b| (b[0] * b[1]).total_cmp(&(a[0] * a[1])));
        sides.dedup();
        let source = |stock: usize, usable: Usable| {
            let s = &problem.stock[stock];
            let size = usable.size.map(|side| side + kerf);
            let kept = usable
                .trimmed
                .iter()
                .filter(|p| keeps_trimming(s, rules, p));
            Source {
                stock,
                trimmings: kept.clone().map(Polygon::area).sum(),
                trimmings_worth: kept.map(|p| s.keep.value_of_piece(p)).sum(),
                size,
                area: area(size),
                usable,
                price: s.cost + s.keep.scrap_cost_per_area * s.outline.area(),
                supply: s.supply,
                ways: Vec::new(),
            }
        };
        let mut sources: Vec<Source> = Vec::new();
        for (i, stock) in problem.stock.iter().enumerate() {
            let rectangles = usable(problem, rules, stock, &sides);
            sources.extend(rectangles.into_iter().map(|u| source(i, u)));
        }
        let longest = [limit(rules.longest_rip), limit(rules.longest_crosscut)];
        let limits = Limits {
            kerf,
            stages: rules.stages.unwrap_or(u32::MAX),
            first: match rules.first_cut {
                FirstCut::Along => Some(1),
                FirstCut::Across => Some(0),
                FirstCut::Either => None,
            },
            longest,
            lengths_matter: sources
                .iter()
                .any(|s| (0..2).any(|axis| s.usable.size[axis] > longest[axis])),
        };
        let mut model = Self {
            problem,
            pieces: Vec::new(),
            sources: Vec::new(),
            supplies: problem
                .supplies
                .iter()
                .map(|s| s.unwrap_or(u32::MAX))
                .collect(),
            limits,
            rules: *rules,
            least_strip: nearest(rules.least_strip),
            refused: Vec::new(),
        };
        for piece in pieces {
            if let Some(why) = model.refusal(&piece, &sources) {
                model.refused.push((piece.part, why));
                continue;
            }
            for source in &mut sources {
                let ways = model.sawable(&piece, source, model.turns(&piece, source));
                source.ways.push(ways);
            }
            model.pieces.push(piece);
        }
        sources.retain(|s| {
            let supplied = model.supplies.get(s.supply).is_some_and(|n| *n > 0);
            supplied && s.usable.sawable && s.ways.iter().any(|w| w.each().next().is_some())
        });
        model.sources = sources;
        model
    }

    /// How `piece` may lie on `source`, its size not looked at.
    fn turns(&self, piece: &Piece, source: &Source) -> Ways {
        let part = &self.problem.parts[piece.part];
        let stock = &self.problem.stock[source.stock];
        if !part.faces_fit(stock) {
            return Ways::default();
        }
        let angles = match part.angles(stock) {
            Angles::Any => vec![0.0, 90.0],
            Angles::Listed(list) => list.into_iter().filter_map(quarter).collect(),
        };
        let find = |turned: bool| {
            angles
                .iter()
                .copied()
                .find(|a| ((a / 90.0).round() as i64 % 2 == 1) == turned)
        };
        Ways {
            upright: find(false),
            turned: find(true),
        }
    }

    /// Those of `ways` in which `piece` fits `source` under the saw's limits, so that an empty
    /// source can always take it.
    fn sawable(&self, piece: &Piece, source: &Source, mut ways: Ways) -> Ways {
        let k = self.limits.kerf;
        let wide_enough = piece.size.iter().all(|side| side - k >= self.least_strip);
        let fits = |turned: bool| {
            let size = piece.lying(turned);
            source.usable.sawable
                && wide_enough
                && CutTree::default()
                    .best_spot(
                        size,
                        source.size,
                        &self.limits,
                        &mut None,
                        &mut CutTree::default(),
                    )
                    .is_some()
        };
        if !fits(false) {
            ways.upright = None;
        }
        if !fits(true) {
            ways.turned = None;
        }
        if piece.size[0] == piece.size[1] && ways.upright.is_some() {
            ways.turned = None;
        }
        ways
    }

    /// Why no source at all can take `piece`, if so.
    fn refusal(&self, piece: &Piece, sources: &[Source]) -> Option<Why> {
        let fits = |s: &Source, turned: bool| {
            let size = piece.lying(turned);
            size[0] <= s.size[0] && size[1] <= s.size[1]
        };
        let mut why = Why::TooLarge;
        for source in sources {
            if !fits(source, false) && !fits(source, true) {
                continue;
            }
            let turns = self.turns(piece, source);
            if !turns.each().any(|turned| fits(source, turned)) {
                if why == Why::TooLarge {
                    why = Why::FaceOrGrain;
                }
                continue;
            }
            if self.sawable(piece, source, turns).each().next().is_some() {
                return None;
            }
            let narrow = piece
                .size
                .iter()
                .min()
                .is_some_and(|side| side - self.limits.kerf < self.least_strip);
            let here = if narrow {
                Why::TooNarrow
            } else if source.usable.sawable {
                Why::SawLimits
            } else {
                Why::CannotTrim
            };
            // Of several reasons the one nearest to success.
            if why != Why::SawLimits {
                why = here;
            }
        }
        Some(why)
    }

    /// The number of parts that are wanted and can be sawn.
    pub fn wanted(&self) -> Vec<u32> {
        self.pieces.iter().map(|p| p.demand).collect()
    }

    /// Area of the pieces of which `counts` says how many there are.
    pub fn area_of(&self, counts: &[u32]) -> f64 {
        self.pieces
            .iter()
            .zip(counts)
            .map(|(p, n)| p.area * f64::from(*n))
            .sum()
    }

    /// The same with what is urgent counted for more.
    pub fn urgent_area_of(&self, counts: &[u32]) -> f64 {
        self.pieces
            .iter()
            .zip(counts)
            .map(|(p, n)| p.area * p.urgency * f64::from(*n))
            .sum()
    }

    /// What pieces weigh that are left out, by priority.
    pub fn denied(&self, counts: &[u32]) -> u128 {
        self.pieces
            .iter()
            .zip(counts)
            .map(|(p, n)| p.denied.saturating_mul(u128::from(*n)))
            .fold(0, u128::saturating_add)
    }

    /// Whether a left-over with these sides is kept; no kerf included.
    ///
    /// What is narrower than the saw can hold is cut off as scrap.
    pub fn keeps(&self, source: &Source, size: [Nm; 2]) -> bool {
        let keep = &self.problem.stock[source.stock].keep;
        size[0].min(size[1]) >= self.least_strip && keep.passes(mm(size[0]), mm(size[1]))
    }

    /// Whether keeping a left-over may ever lower the spend.
    pub fn keeps_any(&self) -> bool {
        self.sources.iter().any(|source| {
            let keep = &self.problem.stock[source.stock].keep;
            self.keeps(source, source.usable.size)
                && keep.value_per_area + keep.scrap_cost_per_area > 0.0
        })
    }

    /// What a left-over with these sides is worth by the rule alone.
    pub fn worth(&self, source: &Source, size: [Nm; 2]) -> f64 {
        let keep = &self.problem.stock[source.stock].keep;
        keep.value_of_rectangle(mm(size[0]), mm(size[1]))
    }
}
