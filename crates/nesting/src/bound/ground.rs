//! Where on a piece of stock a part may lie, by its true outline.

use super::cover::{Convex, Effort, covers, sums};
use super::solid::{self, Pieces, Solid};
use crate::{Angles, Part, Problem, Stock};
use panelwright_geometry::{Bounds, Point, Polygon, Region, largest_clear_rectangle, tolerance};

/// Given away wherever two things are said to be too near to each other, in millimetres: what the judge forgives,
/// and rounding.
pub(super) const GIVEN_AWAY: f64 = 1e-3;

/// Convex pieces of what is not stock, beyond which a field counts by its bounds alone.
const MOST_BLOCKED: usize = 120;

/// Most pairs of such a piece and one of a part; beyond it the part counts by its bounds.
const MOST_SUMS: usize = 1_000;

/// How far beyond a field its surroundings are looked at, in millimetres, besides the margin.
const ROUND: f64 = 1.0;

/// Halvings in the search for how far a border strip of the places is blocked.
const HALVINGS: u32 = 7;

/// One area of the stock that parts lie in.
#[derive(Debug, Clone)]
pub(super) struct Ground {
    /// Bounding rectangle of what is within the margin.
    pub(super) bounds: Bounds,
    /// A rectangle that is free but for the margin: what is no larger lies here for sure. Only for odd areas.
    roomy: Option<Bounds>,
    /// Convex pieces, grown by the margin, of what is surely not within it; none for a rectangle with nothing in it.
    blocked: Vec<Vec<Point>>,
}

impl Ground {
    /// All areas of the stock. With pinned parts nothing is blocked: these may lie anywhere.
    pub(super) fn of(problem: &Problem, stock: &Stock) -> Vec<Self> {
        let fields = stock.fields();
        let clear = |field: &Polygon| {
            let things = stock.keep_clear.iter();
            let things: Vec<Polygon> = things
                .map(|r| Polygon::new(r.clone(), Vec::new()))
                .collect();
            let clear = largest_clear_rectangle(field, &things, 0.0, 0.0)?;
            Some(clear.grown(-problem.margin_on(stock).max(0.0)))
        };
        let area = |field: &Polygon| {
            let blocked = if stock.pinned.is_empty() {
                blocked(problem, stock, field)
            } else {
                Vec::new()
            };
            Self {
                bounds: field
                    .bounds()
                    .grown(GIVEN_AWAY - problem.margin_on(stock).max(0.0)),
                roomy: if blocked.is_empty() {
                    None
                } else {
                    clear(field)
                },
                blocked,
            }
        };
        fields.iter().map(area).collect()
    }

    /// Whether two areas take the same parts in the same ways, told in a simple manner.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        self.blocked.is_empty()
            && other.blocked.is_empty()
            && (self.bounds.width() - other.bounds.width()).abs() < tolerance::COINCIDENT
            && (self.bounds.height() - other.bounds.height()).abs() < tolerance::COINCIDENT
    }

    /// Whether the part at this angle may lie here; never wrong when it says no.
    pub(super) fn may_take(&self, solid: &Solid, effort: &mut Effort) -> bool {
        let pieces = &solid.material;
        let b = &pieces.bounds;
        let fits = |room: &Bounds| b.width() <= room.width() && b.height() <= room.height();
        if self.roomy.as_ref().is_some_and(fits) {
            return true;
        }
        self.within_bounds(pieces).is_some_and(|places| {
            self.blocked.is_empty() || !covers(&self.against(pieces), places, effort)
        })
    }

    /// A rectangle that holds all places (of the solid's origin) where it may lie; `None` when there is none.
    pub(super) fn places(&self, solid: &Solid, effort: &mut Effort) -> Option<Bounds> {
        let places = self.within_bounds(&solid.filled)?;
        // The disc of a part that turns freely is another one with its windows open, so it lies elsewhere.
        if self.blocked.is_empty() || solid.angle.is_none() {
            return Some(places);
        }
        let against = self.against(&solid.material);
        if covers(&against, places, effort) {
            return None;
        }
        Some(trimmed(&against, places, effort))
    }

    /// Where the pieces' bounds lie within those of the area.
    fn within_bounds(&self, pieces: &Pieces) -> Option<Bounds> {
        let b = &pieces.bounds;
        let min = self.bounds.min - b.min.to_vec();
        let max = self.bounds.max - b.max.to_vec().to_owned();
        (self.bounds.width() >= 0.0
            && self.bounds.height() >= 0.0
            && min.x <= max.x
            && min.y <= max.y)
            .then(|| Bounds::new(min, max))
    }

    /// Places where the pieces surely reach into something.
    fn against(&self, pieces: &Pieces) -> Vec<Convex> {
        if self.blocked.len() * pieces.convex.len() > MOST_SUMS {
            return Vec::new();
        }
        let mirrored: Vec<Vec<Point>> = pieces.convex.iter().map(|p| mirrored(p)).collect();
        self.blocked
            .iter()
            .flat_map(|b| {
                mirrored
                    .iter()
                    .filter_map(move |p| Convex::hull(&sums(b, p), GIVEN_AWAY))
            })
            .collect()
    }
}

/// The points on the other side of the origin.
pub(super) fn mirrored(points: &[Point]) -> Vec<Point> {
    points.iter().map(|p| Point::new(-p.x, -p.y)).collect()
}

/// `places` less strips along its sides that are surely covered.
fn trimmed(areas: &[Convex], places: Bounds, effort: &mut Effort) -> Bounds {
    let mut left = places;
    for side in 0..4 {
        let cut = |b: Bounds, share: f64| -> (Bounds, Bounds) {
            let (w, h) = (share * b.width(), share * b.height());
            let (mut strip, mut rest) = (b, b);
            match side {
                0 => (strip.max.x, rest.min.x) = (b.min.x + w, b.min.x + w),
                1 => (strip.min.x, rest.max.x) = (b.max.x - w, b.max.x - w),
                2 => (strip.max.y, rest.min.y) = (b.min.y + h, b.min.y + h),
                _ => (strip.min.y, rest.max.y) = (b.max.y - h, b.max.y - h),
            }
            (strip, rest)
        };
        let (mut proven, mut open) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let share = 0.5 * (proven + open);
            if covers(areas, cut(left, share).0, effort) {
                proven = share;
            } else {
                open = share;
            }
        }
        left = cut(left, proven).1;
    }
    left
}

/// Convex pieces of the field's surroundings, voids and flaws, grown by the margin.
fn blocked(problem: &Problem, stock: &Stock, field: &Polygon) -> Vec<Vec<Point>> {
    let plain = field.holes.is_empty()
        && stock.keep_clear.is_empty()
        && (field.bounds().area() - field.area()).abs() <= 1e-9 * field.area();
    if plain {
        return Vec::new();
    }
    let flaws: Vec<Polygon> = stock
        .keep_clear
        .iter()
        .map(|ring| Polygon::new(ring.clone(), Vec::new()))
        .collect();
    let free =
        Region::covering(std::slice::from_ref(field), 0.0).without(&Region::within(&flaws, 0.0));
    let round = Polygon::from_bounds(field.bounds().grown(ROUND));
    let rest = Region::from(round).without(&free);
    let pieces: Vec<Vec<Point>> = rest
        .polygons()
        .iter()
        .flat_map(solid::convex_pieces)
        .collect();
    if pieces.len() > MOST_BLOCKED {
        return Vec::new();
    }
    if problem.margin_on(stock) <= 0.0 {
        return pieces;
    }
    let margin = solid::circle(problem.margin_on(stock));
    pieces.iter().map(|p| sums(p, &margin)).collect()
}

/// Whether the part may lie on some of the areas, by its solids; never wrong when it says no.
pub(super) fn may_lie(
    grounds: &[Ground],
    solids: &[Solid],
    part: &Part,
    stock: &Stock,
    effort: &mut Effort,
) -> bool {
    let mut at = allowed(solids, part, stock);
    at.any(|solid| grounds.iter().any(|g| g.may_take(solid, effort)))
}

/// The solids of a part at the angles that the stock allows.
pub(super) fn allowed<'s>(
    solids: &'s [Solid],
    part: &Part,
    stock: &Stock,
) -> impl Iterator<Item = &'s Solid> + use<'s> {
    let angles = part.angles(stock);
    solids.iter().filter(move |s| match (&angles, s.angle) {
        (Angles::Any, None) => true,
        (Angles::Listed(listed), Some(angle)) => listed.contains(&angle),
        _ => false,
    })
}
