//! What the search must reach, must not reach, and must always obey.

mod best_value;
mod enumerate;
mod random;
mod remnants;

use super::*;
use crate::{FirstCut, KeepRule, Layout, Method, Part, SawCut, Stock, Trim, Turn};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon};
use proptest::prelude::*;

/// A hundredth of what the judge forgives, ten times the search's own unit.
const EXACT: f64 = 1e-7 * 20.0;

fn rect(name: &str, w: f64, h: f64, quantity: u32) -> Part {
    Part::new(name, Outline::rectangle(w, h), quantity)
}

fn problem(parts: Vec<Part>, sheet: (f64, f64), supply: Option<u32>, rules: SawRules) -> Problem {
    let stock = Stock::sheet("sheet", sheet.0, sheet.1, 100.0, 0);
    let mut p = Problem::new(parts, vec![stock], vec![supply]);
    p.method = Method::Guillotine(rules);
    p
}

fn rules_of(problem: &Problem) -> SawRules {
    match problem.method {
        Method::Guillotine(rules) => rules,
        Method::FreeForm => unreachable!("these tests saw"),
    }
}

fn steps(steps: u64) -> Budget {
    Budget {
        steps,
        ..Budget::default()
    }
}

/// Searches, and replays the saw cuts of all layouts.
fn solve(problem: &Problem, budget: u64) -> Nest {
    problem.check().expect("a sound problem");
    let rules = rules_of(problem);
    let nest = search(problem, &rules, &steps(budget), &Control::none());
    for layout in &nest.layouts {
        replay(problem, &rules, layout);
    }
    assert_eq!(crate::verify::judge(problem, &nest), Vec::new());
    let mut counts = nest.placed_counts(problem);
    for missing in &nest.not_placed {
        counts[missing.part] += missing.quantity;
    }
    let wanted: Vec<u32> = problem.parts.iter().map(|p| p.quantity).collect();
    assert_eq!(counts, wanted, "every copy is placed or named as missing");
    nest
}

/// Bounding area of the parts placed.
fn placed_area(problem: &Problem, nest: &Nest) -> f64 {
    nest.layouts
        .iter()
        .flat_map(|l| &l.placed)
        .map(|p| p.outline(problem).bounds().area())
        .sum()
}

/// Divides the stock cut by cut and checks that each cut runs edge to edge of one piece, that the
/// rules are kept, and that every part is freed to its size and is a piece of its own.
fn replay(problem: &Problem, rules: &SawRules, layout: &Layout) {
    let stock = layout.stock(problem);
    let plain = plain_rectangle(stock).is_some();
    let mut pieces = if plain {
        vec![stock.outline.bounds()]
    } else {
        trimmed_pieces(stock, layout)
    };
    let mut stage = 0;
    for cut in layout.saw_cuts.iter().filter(|c| plain || c.stage > 0) {
        assert!(cut.stage >= stage, "stages in order");
        stage = cut.stage;
        assert_eq!(cut.kerf, rules.kerf);
        let across = cut.from.x == cut.to.x;
        assert!(across || cut.from.y == cut.to.y, "upright");
        let at = |p: Point| if across { p.x } else { p.y };
        let along = |p: Point| if across { p.y } else { p.x };
        let half = 0.5 * cut.kerf;
        let meets = |b: &Bounds| {
            let (lo, hi) = (at(cut.from) - half, at(cut.from) + half);
            (along(b.min) - along(cut.from)).abs() < EXACT
                && (along(b.max) - along(cut.to)).abs() < EXACT
                && lo < at(b.max) - EXACT / 4.0
                && hi > at(b.min) + EXACT / 4.0
        };
        let met: Vec<usize> = (0..pieces.len()).filter(|i| meets(&pieces[*i])).collect();
        assert_eq!(met.len(), 1, "one piece is met edge to edge by {cut:?}");
        let piece = pieces.swap_remove(met[0]);
        let length = along(cut.to) - along(cut.from);
        let longest = if across {
            rules.longest_crosscut
        } else {
            rules.longest_rip
        };
        assert!(length <= longest + EXACT, "{cut:?} is {length} long");
        let (mut low, mut high) = (piece, piece);
        if across {
            low.max.x = cut.from.x - half;
            high.min.x = cut.from.x + half;
        } else {
            low.max.y = cut.from.y - half;
            high.min.y = cut.from.y + half;
        }
        pieces.extend(
            [low, high]
                .into_iter()
                .filter(|b| b.max.x - b.min.x > EXACT / 4.0 && b.max.y - b.min.y > EXACT / 4.0),
        );
    }
    if let Some(most) = rules.stages {
        assert!(stage <= most, "{stage} stages of {most}");
    }
    let first = match rules.first_cut {
        FirstCut::Either => None,
        FirstCut::Along => Some(false),
        FirstCut::Across => Some(true),
    };
    let vertical = |c: &SawCut| c.from.x == c.to.x;
    for cut in layout.saw_cuts.iter().filter(|c| c.stage > 0) {
        if let Some(first) = first {
            assert_eq!(vertical(cut) == first, cut.stage % 2 == 1);
        }
    }
    let mut own = vec![false; pieces.len()];
    let mut claim = |bounds: Bounds| {
        let found = (0..pieces.len()).find(|i| {
            pieces[*i].min.distance(bounds.min) < EXACT
                && pieces[*i].max.distance(bounds.max) < EXACT
        });
        let i = found.expect("a sawn piece of exactly this size and place");
        assert!(!own[i], "no piece is used twice");
        own[i] = true;
    };
    for placed in &layout.placed {
        claim(placed.outline(problem).bounds());
        let part = &problem.parts[placed.part];
        let stock = layout.stock(problem);
        assert!(part.faces_fit(stock));
        assert!(part.grain_fits(placed.placement.angle_deg(), stock));
    }
    for offcut in &layout.offcuts {
        claim(offcut.outline.bounds());
        let b = offcut.outline.bounds();
        if (offcut.outline.area() - b.area()).abs() < 1e-3 {
            // Equality is told in whole nanometres; the corners are rounded.
            let passes = |slack: f64| stock.keep.passes(b.width() + slack, b.height() + slack);
            let held = b.width().min(b.height()) >= rules.least_strip + EXACT;
            assert!(if offcut.kept {
                passes(EXACT)
            } else {
                !(passes(-EXACT) && held)
            });
        }
    }
}

/// Bounds of what the trims make of an irregular remnant. Needs a kerf.
fn trimmed_pieces(stock: &Stock, layout: &Layout) -> Vec<Bounds> {
    use geo::{BooleanOps, BoundingRect};
    let mut pieces = vec![stock.outline.to_geo()];
    for cut in layout.saw_cuts.iter().filter(|c| c.stage == 0) {
        let half = 0.5 * cut.kerf;
        let strip = Bounds::new(cut.from, cut.to).grown(half);
        let strip = Polygon::from_bounds(strip).to_geo();
        let met: Vec<usize> = (0..pieces.len())
            .filter(|i| {
                pieces[*i]
                    .intersection(&strip)
                    .bounding_rect()
                    .is_some_and(|r| {
                        let (w, h) = (r.width(), r.height());
                        let ends = cut.from.distance(cut.to);
                        w.min(h) > half && (w.max(h) - ends).abs() < 1e-5
                    })
            })
            .collect();
        assert_eq!(met.len(), 1, "{cut:?} meets one piece edge to edge");
        let piece = pieces.swap_remove(met[0]);
        pieces.extend(piece.difference(&strip));
    }
    pieces
        .iter()
        .map(|p| Polygon::from_geo(p).bounds())
        .collect()
}

/// Squares of the perfect guillotine rectangle 13 x 8, times `scale`.
fn squares(scale: f64) -> Vec<Part> {
    [(8.0, 1), (5.0, 1), (3.0, 1), (2.0, 1), (1.0, 2)]
        .map(|(side, n)| rect(&format!("{side}"), side * scale, side * scale, n))
        .to_vec()
}

fn with_stages(stages: u32) -> SawRules {
    SawRules {
        stages: Some(stages),
        ..SawRules::default()
    }
}

#[test]
fn perfect_rectangle_needs_five_stages() {
    // 16 layouts fill 13 x 8 with squares 8, 5, 3, 2, 1, 1, all of five stages (enumerated by an
    // independent program).
    for stages in 1..=5 {
        let p = problem(squares(1.0), (13.0, 8.0), Some(1), with_stages(stages));
        let nest = solve(&p, 60_000);
        let full = placed_area(&p, &nest) == 104.0;
        assert_eq!(full, stages == 5, "{stages} stages");
        assert_eq!(nest.not_placed.is_empty(), full);
    }
}

#[test]
fn kerf_counts_between_parts_only() {
    // Parts w x h kept k apart fit W x H just when (w+k) x (h+k) fit (W+k) x (H+k): with k 3 these
    // are ten times the squares above, on 130 x 80.
    let sides = [77.0, 47.0, 27.0, 17.0, 7.0, 7.0];
    let parts: Vec<Part> = sides
        .iter()
        .map(|s| rect(&format!("{s}"), *s, *s, 1))
        .collect();
    for (kerf, full) in [(3.0, true), (3.1, false), (2.9, true)] {
        let rules = SawRules {
            kerf,
            ..SawRules::default()
        };
        let p = problem(parts.clone(), (127.0, 77.0), Some(1), rules);
        assert_eq!(solve(&p, 60_000).not_placed.is_empty(), full, "kerf {kerf}");
    }
}

#[test]
fn squared_square_cannot_be_sawn() {
    // Duijvestijn, "Simple perfect squared square of lowest order", J. Combin. Theory B 25 (1978)
    // 240-243: 21 squares fill 112 x 112, but no cut runs edge to edge.
    let sides = [
        50, 35, 27, 8, 19, 15, 17, 11, 6, 24, 29, 25, 9, 2, 7, 18, 16, 42, 4, 37, 33,
    ];
    assert_eq!(sides.iter().map(|s| s * s).sum::<i32>(), 112 * 112);
    let parts = sides
        .iter()
        .map(|s| rect(&format!("{s}"), f64::from(*s), f64::from(*s), 1))
        .collect();
    let p = problem(parts, (112.0, 112.0), Some(1), SawRules::default());
    let nest = solve(&p, 100_000);
    assert!(!nest.not_placed.is_empty());
    assert!(placed_area(&p, &nest) > 0.85 * 12_544.0);
}

#[test]
fn pinwheels_reach_their_best_sawn_area() {
    // Best guillotine areas with quarter turns, by an independent exact search.
    for (side, big, small, best) in [
        (5.0, (3.0, 2.0), 1.0, 19.0),
        (7.0, (4.0, 3.0), 1.0, 37.0),
        (8.0, (5.0, 3.0), 2.0, 49.0),
    ] {
        let parts = vec![rect("big", big.0, big.1, 4), rect("small", small, small, 1)];
        let p = problem(parts, (side, side), Some(1), SawRules::default());
        assert_eq!(placed_area(&p, &solve(&p, 30_000)), best);
    }
}

#[test]
fn trims_take_their_side() {
    let rules = SawRules {
        kerf: 3.2,
        trim: Trim {
            left: 10.0,
            right: 0.0,
            bottom: 5.0,
            top: 3.2,
        },
        ..SawRules::default()
    };
    // Usable: 2440 - 10 by 1220 - 8.2; two halves along it with one kerf between.
    let half = (2430.0 - 3.2) / 2.0;
    let fits = problem(
        vec![rect("half", half, 1211.8, 2)],
        (2440.0, 1220.0),
        Some(1),
        rules,
    );
    let nest = solve(&fits, 1000);
    assert!(nest.not_placed.is_empty());
    let layout = &nest.layouts[0];
    assert_eq!(layout.saw_cuts.iter().filter(|c| c.stage == 0).count(), 3);
    assert_eq!(layout.saw_cuts.len(), 4);
    assert_eq!(layout.saw_cuts[0].from, Point::new(0.0, 5.0 - 1.6));
    let parts = vec![rect("half", half + 0.001, 1211.8, 2)];
    let tight = problem(parts, (2440.0, 1220.0), Some(1), rules);
    assert_eq!(solve(&tight, 1000).not_placed[0].quantity, 1);
}

#[test]
fn grain_and_faces_are_kept() {
    let mut part = rect("door", 600.0, 1000.0, 2);
    part.grain_deg = Some(90.0);
    let mut p = problem(vec![part], (2000.0, 650.0), None, SawRules::default());
    assert!(
        solve(&p, 1000).not_placed.is_empty(),
        "no grain in the stock"
    );
    p.stock[0].grain_deg = Some(90.0);
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::FaceOrGrain);
    p.stock[0].grain_deg = Some(0.0);
    let nest = solve(&p, 1000);
    assert_eq!(nest.layouts.len(), 1);
    p.parts[0].good_faces = 2;
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::FaceOrGrain);
    p.parts[0].good_faces = 0;
    p.parts[0].turn = Turn::None;
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::FaceOrGrain);
}

#[test]
fn missing_parts_say_why() {
    let p = problem(
        vec![rect("wide", 101.0, 101.0, 1), rect("ok", 60.0, 60.0, 3)],
        (100.0, 100.0),
        Some(2),
        SawRules::default(),
    );
    let nest = solve(&p, 1000);
    assert_eq!(nest.not_placed[0].why, Why::TooLarge);
    assert_eq!(nest.not_placed[1].why, Why::StockUsedUp);
    assert_eq!(nest.not_placed[1].quantity, 1);

    let narrow = SawRules {
        least_strip: 50.0,
        ..SawRules::default()
    };
    let p = problem(
        vec![rect("slat", 49.0, 90.0, 1)],
        (100.0, 100.0),
        None,
        narrow,
    );
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::TooNarrow);

    let short = SawRules {
        trim: Trim {
            left: 8.0,
            right: 0.0,
            bottom: 0.0,
            top: 0.0,
        },
        longest_crosscut: 90.0,
        ..SawRules::default()
    };
    let p = problem(
        vec![rect("part", 60.0, 40.0, 1)],
        (200.0, 100.0),
        None,
        short,
    );
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::CannotTrim);

    let one_stage = with_stages(1);
    let parts = vec![rect("part", 40.0, 90.0, 1), rect("strip", 100.0, 20.0, 4)];
    let p = problem(parts, (100.0, 100.0), None, one_stage);
    let nest = solve(&p, 1000);
    assert_eq!(nest.not_placed.len(), 1);
    assert_eq!(nest.not_placed[0].why, Why::SawLimits);
}

#[test]
fn long_sheets_are_crosscut_before_they_are_ripped() {
    let rules = SawRules {
        kerf: 3.0,
        longest_rip: 1000.0,
        ..SawRules::default()
    };
    let parts = vec![rect("a", 700.0, 300.0, 9), rect("b", 220.0, 480.0, 7)];
    let p = problem(parts, (3050.0, 1500.0), None, rules);
    let nest = solve(&p, 20_000);
    assert!(nest.not_placed.is_empty());
    assert_eq!(nest.layouts.len(), 1);
    // A part longer than the saw rips, and narrower than the sheet, cannot be freed.
    let p = problem(
        vec![rect("long", 2000.0, 300.0, 1)],
        (3050.0, 1500.0),
        None,
        {
            SawRules {
                longest_crosscut: 1500.0,
                ..rules
            }
        },
    );
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::SawLimits);
}

#[test]
fn first_cut_is_obeyed() {
    for first_cut in [FirstCut::Along, FirstCut::Across] {
        for stages in [2, 3] {
            let rules = SawRules {
                kerf: 4.0,
                first_cut,
                stages: Some(stages),
                ..SawRules::default()
            };
            let parts = vec![
                rect("a", 700.0, 300.0, 9),
                rect("b", 220.0, 480.0, 14),
                rect("c", 150.0, 90.0, 20),
            ];
            let p = problem(parts, (2440.0, 1220.0), None, rules);
            assert!(solve(&p, 20_000).not_placed.is_empty());
        }
    }
}

#[test]
fn shared_supplies_are_not_overdrawn() {
    let mut p = problem(
        vec![rect("panel", 100.0, 100.0, 9)],
        (200.0, 100.0),
        Some(2),
        SawRules::default(),
    );
    // The same supply, in another shape, and a remnant of its own.
    p.stock.push(Stock::sheet("turned", 300.0, 100.0, 150.0, 0));
    let shape = Polygon::from_bounds(Bounds::new(
        Point::new(50.0, 70.0),
        Point::new(150.0, 170.0),
    ));
    p.stock.push(Stock::remnant("remnant", shape, 1.0, 1));
    p.supplies.push(Some(1));
    let nest = solve(&p, 20_000);
    assert_eq!(nest.layouts.len(), 3);
    // Two of the larger shape hold six, the remnant one.
    assert_eq!(nest.not_placed[0].quantity, 2);
    let of = |s: usize| nest.layouts.iter().filter(|l| l.stock == s).count();
    assert_eq!((of(0), of(1), of(2)), (0, 2, 1));
}

#[test]
fn cheaper_stock_is_found() {
    // One large sheet for 100 or two remnants for 30 each hold the four panels.
    let mut p = problem(
        vec![rect("panel", 400.0, 300.0, 4)],
        (2440.0, 1220.0),
        None,
        SawRules::default(),
    );
    for name in ["a", "b"] {
        let outline = Polygon::rectangle(810.0, 310.0);
        p.stock
            .push(Stock::remnant(name, outline, 30.0, p.supplies.len()));
        p.supplies.push(Some(1));
    }
    let nest = solve(&p, 5_000);
    assert_eq!(nest.spend(&p), 60.0);
}

#[test]
fn left_over_is_kept_in_one_piece() {
    let mut p = problem(
        vec![rect("panel", 500.0, 400.0, 3)],
        (2440.0, 1220.0),
        None,
        SawRules {
            kerf: 3.0,
            ..SawRules::default()
        },
    );
    p.stock[0].keep = KeepRule {
        least_width: 200.0,
        least_length: 400.0,
        value_per_area: 100.0 / (2440.0 * 1220.0) / 2.0,
        handling: 0.0,
        scrap_cost_per_area: 0.0,
        ..KeepRule::default()
    };
    let nest = solve(&p, 40_000);
    // By hand: a row of three at the edge leaves 817 x 2440 and 931 x 400; three above each other
    // leave 1937 x 1220 and a useless strip, which is a little less.
    let kept = nest.layouts[0].kept_area();
    assert!(kept >= 817.0 * 2440.0 + 931.0 * 400.0 - 1.0, "{kept}");
    let value: f64 = nest.layouts[0].offcuts.iter().map(|o| o.value).sum();
    assert!((nest.spend(&p) - (100.0 - value)).abs() < 1e-9);
}

/// Eighteen panels of a cabinet on two sheet sizes that both keep their left-overs.
fn cabinet_panels() -> Problem {
    let parts = vec![
        rect("base", 800.0, 500.0, 6),
        rect("top", 800.0, 500.0, 6),
        rect("shelf", 770.0, 440.0, 6),
    ];
    let rules = SawRules {
        kerf: 3.2,
        trim: Trim {
            left: 8.0,
            bottom: 8.0,
            ..Trim::default()
        },
        stages: Some(3),
        least_strip: 40.0,
        ..SawRules::default()
    };
    let mut p = problem(parts, (2440.0, 1220.0), Some(12), rules);
    p.parts[1].turn = Turn::Half;
    p.stock[0].cost = 78.0;
    p.stock.push(Stock::sheet("small", 1500.0, 1000.0, 40.0, 1));
    p.supplies.push(Some(4));
    for stock in &mut p.stock {
        stock.keep = KeepRule {
            least_width: 150.0,
            least_length: 400.0,
            value_per_area: 0.5 * stock.cost / stock.outline.area(),
            handling: 1.0,
            scrap_cost_per_area: 1.2e-6,
            ..KeepRule::default()
        };
    }
    p
}

#[test]
fn seeds_do_not_matter_much() {
    let p = cabinet_panels();
    let rules = rules_of(&p);
    let spends: Vec<f64> = (1..=4)
        .map(|seed| {
            let budget = Budget {
                seed,
                steps: 200_000,
                limit: None,
            };
            search(&p, &rules, &budget, &Control::none()).spend(&p)
        })
        .collect();
    let (least, most) = spends
        .iter()
        .fold((f64::INFINITY, 0.0_f64), |(l, m), s| (l.min(*s), m.max(*s)));
    assert!(most - least < 1e-3 * least, "{spends:?}");
}

/// Exact answers for a handful of parts: all ways to saw a board in two, again and again, by whole
/// millimetres, without kerf.
struct Exact {
    sides: Vec<[i64; 2]>,
    keep: KeepRule,
    known: std::collections::HashMap<(i64, i64, usize), f64>,
}

impl Exact {
    /// Most that left-overs of `w` x `h` are worth with all of `set` sawn from it.
    fn kept(&mut self, w: i64, h: i64, set: usize) -> f64 {
        if set == 0 {
            let passes = self.keep.passes(w as f64, h as f64);
            return if passes {
                self.keep.value_of_rectangle(w as f64, h as f64)
            } else {
                0.0
            };
        }
        if let Some(known) = self.known.get(&(w, h, set)) {
            return *known;
        }
        let inside: Vec<usize> = (0..self.sides.len())
            .filter(|i| set >> i & 1 == 1)
            .collect();
        let area: i64 = inside
            .iter()
            .map(|i| self.sides[*i][0] * self.sides[*i][1])
            .sum();
        let mut best = f64::NEG_INFINITY;
        if area <= w * h {
            if let [one] = inside[..] {
                let [a, b] = self.sides[one];
                if (a, b) == (w, h) || (b, a) == (w, h) {
                    best = 0.0;
                }
            }
            let mut part = set;
            while part > 0 {
                for at in self.sums(part) {
                    if at < w {
                        let rest = self.kept(w - at, h, set ^ part);
                        best = best.max(self.kept(at, h, part) + rest);
                    }
                    if at < h {
                        let rest = self.kept(w, h - at, set ^ part);
                        best = best.max(self.kept(w, at, part) + rest);
                    }
                }
                part = (part - 1) & set;
            }
        }
        self.known.insert((w, h, set), best);
        best
    }

    /// Sums of one side each of some of `set`.
    fn sums(&self, set: usize) -> std::collections::BTreeSet<i64> {
        let mut sums = std::collections::BTreeSet::from([0]);
        for (i, sides) in self.sides.iter().enumerate() {
            if set >> i & 1 == 1 {
                let more: Vec<i64> = sums
                    .iter()
                    .flat_map(|s| sides.map(|side| s + side))
                    .collect();
                sums.extend(more);
            }
        }
        sums.remove(&0);
        sums
    }

    /// Least spend for all parts on any number of boards (length, width, price).
    fn least(&mut self, boards: &[(i64, i64, f64)]) -> f64 {
        let all = (1_usize << self.sides.len()) - 1;
        let mut least = vec![f64::INFINITY; all + 1];
        least[0] = 0.0;
        for set in 1..=all {
            let mut part = set;
            while part > 0 {
                for (w, h, price) in boards {
                    let spend = price - self.kept(*w, *h, part);
                    least[set] = least[set].min(spend + least[set ^ part]);
                }
                part = (part - 1) & set;
            }
        }
        least[all]
    }
}

#[test]
fn tiny_orders_reach_their_exact_least_spend() {
    let mut random = 12_345_u64;
    let mut draw = |low: i64, high: i64| {
        random = random
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        low + ((random >> 33) % (high - low + 1) as u64) as i64
    };
    for case in 0..10 {
        let sides: Vec<[i64; 2]> = (0..5)
            .map(|_| [10 * draw(20, 90), 10 * draw(15, 60)])
            .collect();
        let boards = [
            (1500, 1000, draw(36, 44) as f64),
            (2000, 1000, draw(48, 58) as f64),
        ];
        // Prices alone, and with left-overs worth about 60 % of what stock costs.
        let keep = if case % 2 == 0 {
            KeepRule::default()
        } else {
            KeepRule {
                least_width: 200.0,
                least_length: 400.0,
                value_per_area: 1.6e-5,
                handling: 1.0,
                scrap_cost_per_area: 0.0,
                ..KeepRule::default()
            }
        };
        let parts = sides
            .iter()
            .map(|[w, h]| {
                let mut part = rect(&format!("{w} x {h}"), *w as f64, *h as f64, 1);
                part.turn = Turn::Quarter;
                part
            })
            .collect();
        let mut p = problem(parts, (1500.0, 1000.0), None, SawRules::default());
        p.stock[0].cost = boards[0].2;
        p.stock
            .push(Stock::sheet("large", 2000.0, 1000.0, boards[1].2, 1));
        p.supplies.push(None);
        for stock in &mut p.stock {
            stock.keep = keep.clone();
        }
        let mut exact = Exact {
            sides,
            keep,
            known: std::collections::HashMap::new(),
        };
        let least = exact.least(&boards);
        let spend = solve(&p, 40_000).spend(&p);
        assert!(spend >= least - 1e-6, "case {case}: {spend} below {least}");
        // A known shortfall where left-overs count, 1.6 % in the worst case seen: cut trees are
        // tight, so a corner between two left-overs cannot go to whichever gains more by it.
        let slack = if case % 2 == 0 { 1e-9 } else { 0.03 };
        assert!(
            spend <= least * (1.0 + slack),
            "case {case}: {spend} above {least}"
        );
    }
}

#[test]
fn thousands_of_equal_panels_are_quick() {
    let rules = SawRules {
        kerf: 3.2,
        ..SawRules::default()
    };
    // 24 x 12 on a sheet: 24 * 100 + 23 * 3.2 = 2473.6 > 2440, so 23 by 11 with turns no better.
    let p = problem(
        vec![rect("panel", 100.0, 100.0, 5060)],
        (2440.0, 1220.0),
        None,
        rules,
    );
    let nest = solve(&p, 50_000);
    assert_eq!(nest.layouts.len(), 20);
    assert!(nest.not_placed.is_empty());
}

#[test]
fn drawings_lie_on_their_piece() {
    // A drawing far from its origin, not a rectangle, turned by its grain.
    let mut part = Part::new(
        "gusset",
        Outline::polygon(
            [(510.3, 77.7), (910.4, 77.7), (510.3, 377.9)].map(|(x, y)| Point::new(x, y)),
        ),
        5,
    );
    part.turn = Turn::Free;
    part.grain_deg = Some(0.0);
    let mut p = problem(vec![part], (650.0, 850.0), None, SawRules::default());
    p.stock[0].grain_deg = Some(90.0);
    let nest = solve(&p, 1000);
    assert!(nest.layouts.iter().flat_map(|l| &l.placed).all(|q| {
        let angle = q.placement.angle_deg();
        angle == 90.0 || angle == 270.0
    }));
    assert_eq!(nest.layouts.len(), 2);
    assert_eq!(Placement::new(90.0, Point::default()).angle_deg(), 90.0);
}

fn mixed_order() -> Problem {
    let sizes = [
        (620.0, 410.0, 7),
        (433.0, 287.0, 11),
        (910.5, 205.2, 6),
        (150.0, 150.0, 19),
        (777.7, 333.3, 4),
        (1210.0, 96.0, 5),
    ];
    let parts = sizes
        .iter()
        .map(|(w, h, n)| rect(&format!("{w} x {h}"), *w, *h, *n))
        .collect();
    let rules = SawRules {
        kerf: 3.2,
        trim: Trim {
            left: 8.0,
            right: 8.0,
            bottom: 8.0,
            top: 8.0,
        },
        stages: Some(4),
        ..SawRules::default()
    };
    let mut p = problem(parts, (2440.0, 1220.0), None, rules);
    p.stock
        .push(Stock::sheet("large", 3050.0, 1500.0, 160.0, 1));
    p.supplies.push(Some(2));
    p
}

#[test]
fn threads_do_not_matter() {
    let p = mixed_order();
    let rules = rules_of(&p);
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .expect("a pool");
        pool.install(|| search(&p, &rules, &steps(30_000), &Control::none()))
    };
    let one = run(1);
    assert_eq!(one, run(2));
    assert!(one.not_placed.is_empty());
}

#[test]
fn cancelling_keeps_a_whole_nest() {
    let p = mixed_order();
    let rules = rules_of(&p);
    let flag = std::sync::atomic::AtomicBool::new(true);
    let control = Control::none().with_cancel(&flag);
    let nest = search(&p, &rules, &steps(u64::MAX), &control);
    assert!(nest.not_placed.is_empty());
    for layout in &nest.layouts {
        replay(&p, &rules, layout);
    }
}

#[test]
fn nothing_wanted_or_nothing_there() {
    let none = problem(Vec::new(), (100.0, 100.0), None, SawRules::default());
    assert_eq!(solve(&none, 1000), Nest::default());
    let mut p = problem(
        vec![rect("a", 10.0, 10.0, 2)],
        (100.0, 100.0),
        Some(0),
        SawRules::default(),
    );
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::StockUsedUp);
    p.stock.clear();
    assert_eq!(solve(&p, 1000).not_placed[0].why, Why::TooLarge);
}

/// Panels by the hundred from sheets of two sizes, with more sums of sides than can be looked at.
fn series() -> Problem {
    let sides = [
        (713.0, 391.0),
        (622.0, 477.0),
        (538.0, 263.0),
        (461.0, 312.0),
        (283.0, 205.0),
    ];
    let parts = sides.iter().enumerate().map(|(i, (w, h))| Part {
        turn: Turn::Quarter,
        ..rect(&format!("panel {i}"), *w, *h, 150)
    });
    let stock = vec![
        Stock::sheet("large", 2440.0, 1220.0, 78.0, 0),
        Stock::sheet("small", 1500.0, 1000.0, 40.0, 1),
    ];
    let mut p = Problem::new(parts.collect(), stock, vec![None, None]);
    p.method = Method::Guillotine(SawRules {
        kerf: 3.2,
        ..SawRules::default()
    });
    p
}

#[test]
fn a_series_is_planned_by_patterns() {
    let problem = series();
    let model = Model::new(&problem, &rules_of(&problem));
    let control = Control::none();
    let stop = Stop::new(&control, &steps(1_000_000));
    let (greedy, score, _) = first_plan(&model, u64::MAX, &stop);
    assert!(series::is_series(&model, score.boards));
    let (plan, _) = series::plan(&model, &greedy, 20_000_000, &stop);
    let plan = plan.expect("the work suffices");
    let better = plan.score(&model);
    assert_eq!(better.missing, 0.0);
    assert!(better.spend < 0.99 * score.spend, "{better:?} {score:?}");
    let nest = solve(&problem, 200_000);
    let spend: f64 = nest.layouts.iter().map(|l| l.stock(&problem).cost).sum();
    let floor = crate::least_spend(&problem);
    assert!(spend <= better.spend + 1e-6 && spend >= floor - 1e-6);
    assert!(spend < 1.03 * floor, "{spend} {floor}");
}

#[test]
fn patterns_of_a_series_keep_to_supplies() {
    let mut problem = series();
    problem.supplies = vec![Some(9), None];
    let nest = solve(&problem, 200_000);
    assert!(nest.not_placed.is_empty());
    let large = nest.layouts.iter().filter(|l| l.stock == 0).count();
    assert!(large <= 9, "{large}");
    problem.supplies = vec![Some(9), Some(11)];
    assert!(!solve(&problem, 100_000).not_placed.is_empty());
}

#[test]
fn patterns_of_a_series_keep_to_stages() {
    for stages in [2, 3] {
        let mut problem = series();
        let rules = SawRules {
            stages: Some(stages),
            ..rules_of(&problem)
        };
        problem.method = Method::Guillotine(rules);
        let model = Model::new(&problem, &rules);
        let control = Control::none();
        let stop = Stop::new(&control, &steps(1_000_000));
        let (greedy, score, _) = first_plan(&model, u64::MAX, &stop);
        let (plan, _) = series::plan(&model, &greedy, 20_000_000, &stop);
        let better = plan.expect("the work suffices").score(&model);
        assert_eq!(better.missing, 0.0);
        assert!(better.beats(&score), "{stages}: {better:?} {score:?}");
        assert!(solve(&problem, 100_000).not_placed.is_empty());
    }
}
