//! Whether a part can lie on a kind of stock at all, told from its bounding rectangle.

use crate::{Angles, FirstCut, Method, Part, Problem, SawRules, Stock, StockKind, Trim, Turn};
use panelwright_geometry::{
    Bounds, Placement, Point, Polygon, Side, largest_clear_rectangle, tolerance,
};
use std::borrow::Cow;

/// Angles looked at, evenly over a half turn, when a part may lie at any.
const ANY_ANGLES: u32 = 360;

/// Sides of the bounding rectangle of a part.
type Size = (f64, f64);

/// Corners of the part's convex hull, erring inward by the chord error.
fn hull(part: &Part) -> Vec<Point> {
    use geo::ConvexHull;
    let flat = part.outline.flatten(tolerance::CHORD, Side::Within);
    Polygon::from_geo(&flat.to_geo().convex_hull()).outer
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
}

impl<'a> Shape<'a> {
    pub(super) fn new(part: &'a Part) -> Self {
        let any = (part.turn == Turn::Free).then(|| {
            let hull = hull(part);
            let step = 180.0 / f64::from(ANY_ANGLES);
            let all = (0..ANY_ANGLES).map(|i| turned_size(&hull, f64::from(i) * step));
            // A side changes by no more than the diameter times the turn (radians), and half a step
            // away there is an angle that was looked at. The hull errs by the chord on both ends.
            let b = part.outline.bounds();
            let diameter = b.width().hypot(b.height());
            let slack = diameter * (0.5 * step).to_radians() + 2.0 * tolerance::CHORD;
            (all.collect(), slack)
        });
        Self { part, any }
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
            .map(|f| f.bounds().grown(-problem.margin))
            .map(|b| (b.width(), b.height()))
            .collect(),
    };
    let (sizes, slack) = shape.sizes(stock);
    let slack = slack + 4.0 * tolerance::JUDGE;
    sizes.iter().any(|s| {
        fields
            .iter()
            .any(|f| s.0 <= f.0 + slack && s.1 <= f.1 + slack)
    })
}

/// Whether the part surely fits on the stock when it is alone there; never wrong when it says yes.
pub(super) fn must_fit(problem: &Problem, shape: &Shape, stock: &Stock) -> bool {
    if !shape.part.faces_fit(stock) {
        return false;
    }
    let (sizes, slack) = shape.sizes(stock);
    // Sizes at free angles are of a hull within the part.
    let hidden = if slack > 0.0 {
        2.0 * tolerance::CHORD
    } else {
        0.0
    };
    match &problem.method {
        Method::Guillotine(saw) => {
            let sheet = sawable(stock, saw);
            is_plain(stock, &stock.outline)
                && saw.stages.is_none_or(|n| n >= 2)
                && sizes.iter().any(|s| {
                    s.0 + hidden <= sheet.0
                        && s.1 + hidden <= sheet.1
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
                let clear = stock.keep_clear.iter().chain(&stock.zones);
                let clear: Vec<Polygon> = clear
                    .map(|ring| Polygon::new(ring.clone(), Vec::new()))
                    .collect();
                largest_clear_rectangle(field, &clear, 0.0, 0.0)
            };
            let need = 2.0 * problem.margin + hidden;
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
