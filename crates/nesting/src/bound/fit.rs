//! Whether a part can lie on a kind of stock at all, told from its bounding rectangle.

use super::dual;
use crate::{Angles, FirstCut, Method, Part, Problem, SawRules, Stock, StockKind, Trim, Turn};
use panelwright_geometry::{
    Bounds, Outline, Placement, Point, Polygon, Side, largest_clear_rectangle, largest_rectangle,
    tolerance,
};
use std::borrow::Cow;
use std::cell::OnceCell;

/// Stock with more corners than this is judged by its bounds: the look inside would take long.
const MOST_CORNERS: usize = 60;

/// Angles looked at, evenly over a half turn, when a part may lie at any.
const ANY_ANGLES: u32 = 360;

/// Sides of the bounding rectangle of a part.
type Size = (f64, f64);

/// Corners of the outline's convex hull, erring inward by the chord error.
pub(super) fn hull(outline: &Outline) -> Vec<Point> {
    use geo::ConvexHull;
    let flat = outline.flatten(tolerance::CHORD, Side::Within);
    Polygon::from_geo(&flat.to_geo().convex_hull()).outer
}

/// Least distance between two parallel lines that hold the convex polygon between them.
pub(super) fn least_width(hull: &[Point]) -> f64 {
    let edges = (0..hull.len()).map(|i| (hull[i], hull[(i + 1) % hull.len()]));
    edges
        .filter(|(a, b)| a.distance(*b) > 0.0)
        .map(|(a, b)| {
            let along = (b - a).normalized();
            let off = hull.iter().map(|p| along.cross(*p - a).abs());
            off.fold(0.0, f64::max)
        })
        .fold(f64::INFINITY, f64::min)
}

/// Largest distance between two corners.
pub(super) fn diameter(hull: &[Point]) -> f64 {
    let all = hull
        .iter()
        .flat_map(|a| hull.iter().map(|b| a.distance(*b)));
    all.fold(0.0, f64::max)
}

/// Size of the points' bounding rectangle when turned.
fn turned_size(points: &[Point], angle_deg: f64) -> Size {
    let turn = Placement::new(angle_deg, Point::default());
    Bounds::of_points(points.iter().map(|p| turn.apply(*p)))
        .map_or((0.0, 0.0), |b| (b.width(), b.height()))
}

/// A part, with what takes long to find out about it.
pub(super) struct Shape<'a> {
    pub(super) part: &'a Part,
    /// Sizes at many angles, for parts that may lie at any.
    any: Option<(Vec<Size>, f64)>,
    /// Sides of an upright rectangle inside its material, once asked for.
    inside: OnceCell<Size>,
}

impl<'a> Shape<'a> {
    pub(super) fn new(part: &'a Part) -> Self {
        let any = (part.turn == Turn::Free).then(|| {
            let hull = hull(&part.outline);
            let step = 180.0 / f64::from(ANY_ANGLES);
            let all = (0..ANY_ANGLES).map(|i| turned_size(&hull, f64::from(i) * step));
            // A side changes by no more than the diameter times the turn (radians), and half a step
            // away there is an angle that was looked at. The hull errs by the chord on both ends.
            let b = part.outline.bounds();
            let diameter = b.width().hypot(b.height());
            let slack = diameter * (0.5 * step).to_radians() + 2.0 * tolerance::CHORD;
            (all.collect(), slack)
        });
        Self {
            part,
            any,
            inside: OnceCell::new(),
        }
    }

    /// Sizes at the angles the part may have on the stock, and by how much a side at an angle between
    /// those may be shorter.
    pub(super) fn sizes(&self, stock: &Stock) -> (Cow<'_, [Size]>, f64) {
        match (self.part.angles(stock), &self.any) {
            (Angles::Any, Some((sizes, slack))) => (Cow::Borrowed(sizes), *slack),
            // No angle is ruled out, so nothing is ruled out.
            (Angles::Any, None) => (Cow::Borrowed(&[(0.0, 0.0)]), 0.0),
            (Angles::Listed(angles), _) => {
                let exact = angles.iter().map(|a| {
                    let turn = Placement::new(*a, Point::default());
                    let b = self.part.outline.placed(&turn).bounds();
                    (b.width(), b.height())
                });
                (Cow::Owned(exact.collect()), 0.0)
            }
        }
    }
}

/// The rectangle that a saw has left of a sheet after its trim cuts (of a remnant: at most).
pub(super) fn sawable(stock: &Stock, saw: &SawRules) -> Size {
    let b = stock.outline.bounds();
    let trim = if stock.kind == StockKind::Sheet {
        saw.trim
    } else {
        Trim::default()
    };
    (
        (b.width() - trim.left - trim.right).max(0.0),
        (b.height() - trim.bottom - trim.top).max(0.0),
    )
}

/// Whether the part could lie on the stock; never wrong when it says no.
pub(super) fn may_fit(problem: &Problem, shape: &Shape, stock: &Stock) -> bool {
    let part = shape.part;
    if !part.faces_fit(stock) {
        return false;
    }
    let fields: Vec<Size> = match &problem.method {
        Method::Guillotine(saw) => vec![sawable(stock, saw)],
        Method::FreeForm => stock
            .fields()
            .iter()
            .filter(|f| f.area() + tolerance::JUDGE >= part.outline.area())
            .map(|f| f.bounds().grown(-problem.margin_on(stock)))
            .map(|b| (b.width(), b.height()))
            .collect(),
    };
    let (sizes, slack) = shape.sizes(stock);
    let slack = slack + 4.0 * tolerance::JUDGE;
    let within_bounds = sizes.iter().any(|s| {
        fields
            .iter()
            .any(|f| s.0 <= f.0 + slack && s.1 <= f.1 + slack)
    });
    within_bounds && inside_may_fit(problem, shape, stock)
}

/// Whether an upright rectangle inside the part could lie on the stock; never wrong when it says no.
///
/// Bounds alone let every panel lie on an L or on a ring.
fn inside_may_fit(problem: &Problem, shape: &Shape, stock: &Stock) -> bool {
    if matches!(problem.method, Method::Guillotine(_)) || dual::upright(shape, stock).is_none() {
        return true;
    }
    // What keeps the margin all round still lies within the field when it is grown by this along x and y.
    let apart = problem.margin_on(stock) * std::f64::consts::FRAC_1_SQRT_2;
    stock.fields().iter().any(|field| {
        let upright = |(a, b): (Point, Point)| a.x == b.x || a.y == b.y;
        // Beside slanted edges the largest rectangle is not proven to be the largest.
        let exact = field.outer.len() <= MOST_CORNERS && field.edges().all(upright);
        if is_plain(stock, field) || !exact {
            return true;
        }
        let (a, b) = *shape
            .inside
            .get_or_init(|| dual::inside(problem, shape.part, false));
        let give = 2.0 * apart - 2.0 * dual::GIVEN_AWAY;
        let (narrow, long) = (a.min(b) + give, a.max(b) + give);
        a.min(b) <= 0.0 || largest_rectangle(field, narrow.max(0.0), long.max(0.0)).is_some()
    })
}

/// Whether the part surely fits on the stock when it is alone there; never wrong when it says yes.
pub(super) fn must_fit(problem: &Problem, shape: &Shape, stock: &Stock) -> bool {
    if !shape.part.faces_fit(stock) {
        return false;
    }
    let (sizes, slack) = shape.sizes(stock);
    let sizes: Vec<Size> = if slack > 0.0 {
        // These are of a hull within the part; as drawn and a quarter turn from there they are known exactly.
        let hidden = 2.0 * tolerance::CHORD;
        let b = shape.part.outline.bounds();
        let exact = [(b.width(), b.height()), (b.height(), b.width())];
        let turned = sizes.iter().map(|s| (s.0 + hidden, s.1 + hidden));
        exact.into_iter().chain(turned).collect()
    } else {
        sizes.into_owned()
    };
    match &problem.method {
        Method::Guillotine(saw) => {
            let sheet = sawable(stock, saw);
            is_plain(stock, &stock.outline)
                && saw.stages.is_none_or(|n| n >= 2)
                && sizes.iter().any(|s| {
                    s.0 <= sheet.0
                        && s.1 <= sheet.1
                        && s.0.min(s.1) >= saw.least_strip
                        && can_free(saw, sheet, *s)
                })
        }
        Method::FreeForm => stock.fields().iter().any(|field| {
            let room = if is_plain(stock, field) {
                Some(field.bounds())
            } else if !stock.pinned.is_empty() {
                None
            } else {
                let clear = problem.clear_by_margin(stock).into_iter();
                let clear: Vec<Polygon> =
                    clear.map(|ring| Polygon::new(ring, Vec::new())).collect();
                largest_clear_rectangle(field, &clear, 0.0, 0.0)
            };
            let need = 2.0 * problem.margin_on(stock);
            room.is_some_and(|r| {
                sizes
                    .iter()
                    .any(|s| s.0 + need <= r.width() && s.1 + need <= r.height())
            })
        }),
    }
}

/// Whether the stock has no flaws, areas to keep clear or pinned parts.
fn nothing_in_the_way(stock: &Stock) -> bool {
    stock.keep_clear.is_empty() && stock.zones.is_empty() && stock.pinned.is_empty()
}

/// Whether a field of the stock is an upright rectangle with nothing in it.
fn is_plain(stock: &Stock, field: &Polygon) -> bool {
    field.holes.is_empty()
        && nothing_in_the_way(stock)
        && field.outer.len() == 4
        && (field.bounds().area() - field.area()).abs() <= 1e-9 * field.area()
}

/// Whether a rip and a crosscut within the saw's limits free a piece from a corner of the sheet.
fn can_free(saw: &SawRules, sheet: Size, piece: Size) -> bool {
    let rip_first = sheet.0 <= saw.longest_rip && piece.1 <= saw.longest_crosscut;
    let cross_first = sheet.1 <= saw.longest_crosscut && piece.0 <= saw.longest_rip;
    match saw.first_cut {
        FirstCut::Along => rip_first,
        FirstCut::Across => cross_first,
        FirstCut::Either => rip_first || cross_first,
    }
}
