//! The upright rectangle of a piece of stock that the saw divides, and the cuts that free it.

use super::length::{Nm, at_most, mm, nearest};
use crate::{Problem, SawCut, SawRules, Stock, StockKind};
use geo::{BooleanOps, Contains, Relate};
use panelwright_geometry::{Bounds, Point, Polygon, Region, largest_rectangle, tolerance};

/// A rectangle of stock that is ready to be divided.
#[derive(Debug, Clone)]
pub(super) struct Usable {
    /// Lower left corner, in the stock's coordinates.
    pub corner: Point,
    /// Length and width.
    pub size: [Nm; 2],
    /// The cuts that free it, in order; all of stage 0.
    pub trims: Vec<SawCut>,
    /// What those cuts take off, where it is more than dust, flaws taken out of it; none for sheets.
    pub trimmed: Vec<Polygon>,
    /// Whether the saw's longest cuts allow those.
    pub sawable: bool,
}

/// Area by which an outline may differ from its bounding rectangle and still be one, in relation
/// to its circumference: what the rounding of its corners can make.
const RECTANGLE: f64 = 1e-6;

/// Trimmings narrower than this are not looked at, in millimetres.
const DUST: f64 = 20.0;

/// The bounds of `stock` when it is a plain upright rectangle without voids or flaws.
pub(crate) fn plain_rectangle(stock: &Stock) -> Option<Bounds> {
    let bounds = stock.outline.bounds();
    let off = bounds.area() - stock.outline.area();
    let plain = stock.outline.holes.is_empty()
        && stock.keep_clear.is_empty()
        && off.abs() <= RECTANGLE * (bounds.width() + bounds.height());
    plain.then_some(bounds)
}

/// Rectangles tried of one irregular remnant.
const MOST_RECTANGLES: usize = 4;

/// What the saw can use of `stock`: one rectangle, or several of which one can be had.
///
/// A sheet loses its trims. A remnant, or a sheet with a void or flaw, is trimmed to the largest
/// rectangle that keeps the margin, or to the largest that takes one of the `parts` (their sides)
/// which the largest of all does not; a margin above 0 counts for at least the kerf, since a narrower
/// cut along an edge would leave the blade half in the air.
pub(super) fn usable(
    problem: &Problem,
    rules: &SawRules,
    stock: &Stock,
    parts: &[[f64; 2]],
) -> Vec<Usable> {
    let margin = problem.margin_on(stock);
    let margin = if margin > 0.0 {
        margin.max(rules.kerf)
    } else {
        0.0
    };
    let rectangles = match (plain_rectangle(stock), stock.kind) {
        (Some(bounds), StockKind::Sheet) => {
            let t = &rules.trim;
            vec![inset(bounds, [t.left, t.bottom, t.right, t.top])]
        }
        (Some(bounds), StockKind::Remnant) => vec![inset(bounds, [margin; 4])],
        (None, _) => free_rectangles(stock, margin, parts)
            .into_iter()
            .map(|free| {
                if margin > 0.0 {
                    free
                } else {
                    to_edges(stock, free, rules.kerf > 0.0)
                }
            })
            // Rounded inward, by less than a nanometre.
            .map(|free| (free.min, [free.width(), free.height()].map(at_most)))
            .collect(),
    };
    rectangles
        .into_iter()
        .filter(|(_, size)| size[0] > 0 && size[1] > 0)
        .filter_map(|(corner, size)| {
            let far = Point::new(corner.x + mm(size[0]), corner.y + mm(size[1]));
            let wanted = Bounds::new(corner, far);
            // Rips first, as the trade does; the other way round where the stock is longer than the
            // saw can rip.
            let (trims, trimmed, sawable) = [[1, 3, 0, 2], [0, 2, 1, 3]]
                .map(|order| trim(stock, wanted, order, rules))
                .into_iter()
                .reduce(|a, b| if a.2 || !b.2 { a } else { b })?;
            Some(Usable {
                corner,
                size,
                trims,
                trimmed,
                sawable,
            })
        })
        .collect()
}

/// `bounds` less the widths taken off its left, lower, right and upper side.
fn inset(bounds: Bounds, by: [f64; 4]) -> (Point, [Nm; 2]) {
    let by = by.map(nearest);
    let size = [
        nearest(bounds.width()) - by[0] - by[2],
        nearest(bounds.height()) - by[1] - by[3],
    ];
    let corner = Point::new(bounds.min.x + mm(by[0]), bounds.min.y + mm(by[1]));
    (corner, size)
}

/// Upright rectangles of `stock` that are `margin` away from edges, voids and flaws: the largest, then
/// the largest for those of `parts` that no other takes.
fn free_rectangles(stock: &Stock, margin: f64, parts: &[[f64; 2]]) -> Vec<Bounds> {
    let inside = Region::within(std::slice::from_ref(&stock.outline), margin);
    let flaws: Vec<Polygon> = stock
        .keep_clear
        .iter()
        .map(|ring| Polygon::new(ring.clone(), Vec::new()))
        .collect();
    let free = inside.without(&Region::covering(&flaws, margin)).polygons();
    let largest = |least: [f64; 2]| {
        let (short, long) = (least[0].min(least[1]), least[0].max(least[1]));
        free.iter()
            .filter_map(|free| largest_rectangle(free, short, long))
            .reduce(|a, b| if b.area() > a.area() { b } else { a })
    };
    let takes = |r: &Bounds, part: &[f64; 2]| {
        let (w, h) = (r.width(), r.height());
        part[0].max(part[1]) <= w.max(h) && part[0].min(part[1]) <= w.min(h)
    };
    let mut found: Vec<Bounds> = largest([0.0; 2]).into_iter().collect();
    for part in parts {
        if found.len() >= MOST_RECTANGLES {
            break;
        }
        if !found.iter().any(|r| takes(r, part)) {
            found.extend(largest(*part));
        }
    }
    found
}

/// `free` with the sides that lie at an edge of `stock` moved onto it, unless that would leave the
/// stock or enter a flaw.
///
/// Regions are rounded inward; without a margin that would ask for a trim of less than a micrometre,
/// with the blade beside the piece. Sides are moved onto corners as well, if `corners`: a blade without width through one leaves
/// it open whether the pieces beside it hang together.
fn to_edges(stock: &Stock, free: Bounds, corners: bool) -> Bounds {
    let rings = stock.outline.rings().chain(&stock.keep_clear);
    let edges: Vec<(Point, Point)> = rings
        .flat_map(|ring| ring.iter().zip(ring.iter().cycle().skip(1)))
        .map(|(a, b)| (*a, *b))
        .collect();
    let nearest_of = |side: f64, along: fn(&Point) -> f64| {
        let off = |q: &f64| (q - side).abs();
        let upright = edges
            .iter()
            .filter(|(a, b)| corners || along(a) == along(b));
        upright
            .map(|(a, _)| along(a))
            .filter(|q| off(q) <= ROUNDED)
            .min_by(|a, b| off(a).total_cmp(&off(b)))
            .unwrap_or(side)
    };
    let moved = Bounds::new(
        Point::new(
            nearest_of(free.min.x, |p| p.x),
            nearest_of(free.min.y, |p| p.y),
        ),
        Point::new(
            nearest_of(free.max.x, |p| p.x),
            nearest_of(free.max.y, |p| p.y),
        ),
    );
    let rectangle = Polygon::from_bounds(moved).to_geo();
    let clear = stock.keep_clear.iter().all(|ring| {
        let flaw = Polygon::new(ring.clone(), Vec::new()).to_geo();
        let meeting = rectangle.relate(&flaw);
        meeting.is_disjoint() || meeting.is_touches()
    });
    if clear && stock.outline.to_geo().relate(&rectangle).is_covers() {
        moved
    } else {
        free
    }
}

/// Cuts `stock` down to `wanted`, its sides left, bottom, right and top taken in `order`: the cuts,
/// what comes off, and whether no cut is longer than the saw takes.
///
/// Each cut runs from the first to the last point where the blade meets the piece at hand. Sides
/// beyond which there is nothing are left alone.
fn trim(
    stock: &Stock,
    wanted: Bounds,
    order: [usize; 4],
    rules: &SawRules,
) -> (Vec<SawCut>, Vec<Polygon>, bool) {
    let mut piece = stock.outline.clone();
    let (mut cuts, mut off) = (Vec::new(), Vec::new());
    let mut sawable = true;
    for side in order {
        let bounds = piece.bounds();
        let upright = side.is_multiple_of(2);
        let beyond = match side {
            0 => wanted.min.x - bounds.min.x,
            1 => wanted.min.y - bounds.min.y,
            2 => bounds.max.x - wanted.max.x,
            _ => bounds.max.y - wanted.max.y,
        };
        if beyond <= tolerance::JUDGE {
            continue;
        }
        let outward = if side < 2 { -1.0 } else { 1.0 };
        let edge = match side {
            0 => wanted.min.x,
            1 => wanted.min.y,
            2 => wanted.max.x,
            _ => wanted.max.y,
        };
        let line = edge + outward * 0.5 * rules.kerf;
        let far = edge + outward * rules.kerf;
        let strip = Strip::new(upright, edge, far);
        let mut ends = ends_of(strip.meets(&piece));
        if let Some((low, high)) = &mut ends {
            // Where the piece is cut its coordinates are rounded, and along a shallow slope that
            // moves the end of a cut; the stock's own edges are exact.
            let exact: Vec<f64> = strip
                .meets(&stock.outline)
                .into_iter()
                .chain(if upright {
                    [wanted.min.y, wanted.max.y]
                } else {
                    [wanted.min.x, wanted.max.x]
                })
                .collect();
            for end in [low, high] {
                let off = |q: &f64| (q - *end).abs();
                let nearest = exact.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
                if let Some(q) = nearest.filter(|q| off(q) <= ROUNDED) {
                    *end = *q;
                }
            }
        }
        let Some((low, high)) = ends else {
            continue;
        };
        let place = |along: f64| {
            if upright {
                Point::new(line, along)
            } else {
                Point::new(along, line)
            }
        };
        sawable &= high - low
            <= tolerance::COINCIDENT
                + if upright {
                    rules.longest_crosscut
                } else {
                    rules.longest_rip
                };
        cuts.push(SawCut {
            from: place(low),
            to: place(high),
            kerf: rules.kerf,
            stage: 0,
        });
        // Beside a blade without width an edge of the piece, rounded, may leave a sliver.
        let sliver = if rules.kerf > 0.0 { 0.0 } else { TOUCHES };
        let start = far + outward * sliver;
        let (inner, outer) = (
            half_plane(bounds, side, edge),
            half_plane(bounds, side, start),
        );
        let center = wanted.center();
        let center = geo::Point::new(center.x, center.y);
        let shape = piece.to_geo();
        let mut rest = None;
        for part in shape.intersection(&inner.0) {
            if part.contains(&center) {
                rest = Some(Polygon::from_geo(&part));
            } else if stock.kind == StockKind::Remnant {
                off.push(Polygon::from_geo(&part));
            }
        }
        if stock.kind == StockKind::Remnant {
            let parts = shape.intersection(&outer.1);
            off.extend(parts.iter().map(|part| {
                let mut part = Polygon::from_geo(part);
                for p in part.outer.iter_mut().chain(part.holes.iter_mut().flatten()) {
                    let across = if upright { &mut p.x } else { &mut p.y };
                    if (*across - start).abs() <= sliver {
                        *across = far;
                    }
                }
                part
            }));
        }
        match rest {
            Some(rest) => piece = rest,
            None => break,
        }
    }
    if rules.kerf <= 0.0 && !stock.outline.holes.is_empty() {
        // Where a blade without width runs along a void, pieces touch in a corner: are these one or two?
        off.clear();
    }
    let off = off
        .into_iter()
        .filter_map(|piece| without_flaws(stock, piece));
    let off = off.filter(|p| {
        let b = p.bounds();
        b.width().min(b.height()) >= DUST
    });
    (cuts, off.collect(), sawable)
}

/// What of a piece of `stock` is sound: all of it but its flaws, or the largest part where these divide it.
fn without_flaws(stock: &Stock, piece: Polygon) -> Option<Polygon> {
    let bounds = piece.bounds();
    let flaw = |ring: &Vec<Point>| Polygon::new(ring.clone(), Vec::new());
    let flaws: Vec<Polygon> = stock.keep_clear.iter().map(flaw).collect();
    if !flaws.iter().any(|flaw| flaw.bounds().touches(&bounds)) {
        return Some(piece);
    }
    let sound = Region::from(piece).without(&Region::covering(&flaws, 0.0));
    let larger = |a: &Polygon, b: &Polygon| a.area().total_cmp(&b.area());
    sound.polygons().into_iter().max_by(larger)
}

/// The two rectangles that together cover `bounds` generously, divided at `at`: the one towards the
/// middle, seen from `side`, and the one beyond.
fn half_plane(bounds: Bounds, side: usize, at: f64) -> (geo::Polygon<f64>, geo::Polygon<f64>) {
    let wide = bounds.grown(10.0);
    let (mut low, mut high) = (wide, wide);
    if side.is_multiple_of(2) {
        low.max.x = at;
        high.min.x = at;
    } else {
        low.max.y = at;
        high.min.y = at;
    }
    let [low, high] = [low, high].map(|b| Polygon::from_bounds(b).to_geo());
    if side < 2 { (high, low) } else { (low, high) }
}

/// How far rounding may move the end of a cut along a shallow slope, in millimetres.
const ROUNDED: f64 = 0.01;

/// How near to a blade without width an edge is met, in millimetres: farther than coordinates are rounded.
const TOUCHES: f64 = 1e-4;

/// What a blade removes: from `low` to `high` in x (`upright`) or y; one without width is taken for a little wider, and runs
/// along an edge to its end.
struct Strip {
    upright: bool,
    low: f64,
    high: f64,
}

impl Strip {
    fn new(upright: bool, near: f64, far: f64) -> Self {
        let (low, high) = (near.min(far), near.max(far));
        let more = if low < high { 0.0 } else { TOUCHES };
        Self {
            upright,
            low: low - more,
            high: high + more,
        }
    }

    /// The places along the strip where edges of `piece` enter or leave it, or end in it. Edges that
    /// only touch the strip are not in the blade's way.
    fn meets(&self, piece: &Polygon) -> Vec<f64> {
        let (low, high) = (self.low, self.high);
        let split = |p: Point| if self.upright { (p.x, p.y) } else { (p.y, p.x) };
        let mut places = Vec::new();
        for (a, b) in piece.edges() {
            let ((pa, qa), (pb, qb)) = (split(a), split(b));
            let (least, most) = (pa.min(pb), pa.max(pb));
            let misses = most <= low || least >= high;
            if misses {
                continue;
            }
            let along = |at: f64| qa + (qb - qa) * (at - pa) / (pb - pa);
            places.extend(if pa == pb {
                [qa, qb]
            } else {
                [pa, pb].map(|p| along(p.clamp(low, high)))
            });
        }
        places
    }
}

/// The least and the most of some places.
fn ends_of(places: Vec<f64>) -> Option<(f64, f64)> {
    let least = places.iter().copied().reduce(f64::min)?;
    let most = places.iter().copied().reduce(f64::max)?;
    Some((least, most))
}
