//! The areas of the stock that parts lie in.

use super::convex::CONTACT;
use super::decompose::convex_pieces;
use super::nofit::{self, NoFit};
use super::shape::Turned;
use super::simplify::simplified;
use super::windows::{self, Sides, convex_ring};
use crate::Stock;
use panelwright_geometry::{Bounds, Point, Polygon};

/// How far beyond the field's bounds the surroundings are modelled, in millimetres.
const SURROUND: f64 = 10.0;

/// How much room simplifying a field's edge may cost, in millimetres.
const REACH: f64 = 0.1;

/// Edges of a field with at most this many corners are taken as they are.
const FEW_CORNERS: usize = 24;

/// How closely the places within a convex ring are told.
const SIDES: Sides = Sides {
    most: 60,
    deep: REACH,
};

/// One area that parts lie in, by the margin.
#[derive(Debug, Clone)]
pub(super) struct Field {
    /// Distance that parts keep from its walls.
    margin: f64,
    /// Its bounds, less the margin.
    room: Bounds,
    /// Its ring where that is convex and no upright rectangle: what lies beyond it is no wall then.
    ring: Option<Vec<Point>>,
    /// Convex pieces of what is not the field: cut-off corners, voids, areas to keep clear.
    walls: Vec<Vec<Point>>,
    /// Convex pieces of the parts pinned in it: walls kept away from by the gap.
    pinned: Vec<Vec<Point>>,
    /// Its area, the margin included, less that of pinned parts: no parts of more area fit.
    pub area: f64,
}

/// A part pinned on the stock, as the search sees it.
#[derive(Debug, Clone)]
pub(super) struct Pinned {
    /// Convex pieces where it lies.
    pub pieces: Vec<Vec<Point>>,
    /// Area of the part, holes not counted.
    pub area: f64,
}

impl Pinned {
    fn bounds(&self) -> Option<Bounds> {
        Bounds::of_points(self.pieces.iter().flatten().copied())
    }
}

/// Where one turned shape's lower left corner may lie in a field.
#[derive(Debug)]
pub(super) struct Fit {
    /// The rectangle it must lie in, borders included; without width for an exact fit.
    pub range: Bounds,
    /// What the field's walls forbid.
    pub walls: NoFit,
}

impl Field {
    /// The fields of `stock`, on which the `pinned` parts lie.
    pub fn all_of(stock: &Stock, margin: f64, gap: f64, pinned: &[Pinned]) -> Vec<Self> {
        stock
            .fields()
            .iter()
            .filter(|f| f.outer.len() >= 3)
            .filter_map(|field| {
                let bounds = field.bounds();
                let mut walls = surroundings(field)?;
                let whole = stock.break_down.is_none() && !walls.is_empty();
                let ring = convex_ring(&field.outer).filter(|_| whole);
                if ring.is_some() {
                    walls.clear();
                }
                let clear = stock.keep_clear.iter().chain(&stock.zones);
                for ring in field.holes.iter().chain(clear) {
                    if let Some(b) = Bounds::of_points(ring.iter().copied())
                        && b.grown(margin).touches(&bounds)
                    {
                        walls.extend(solid(ring));
                    }
                }
                // What a blank cut from an irregular remnant could lack is a wall there too.
                if stock.break_down.is_some() {
                    walls.extend(surroundings(&stock.outline)?);
                    for ring in &stock.outline.holes {
                        walls.extend(solid(ring));
                    }
                }
                walls.retain(|w| {
                    Bounds::of_points(w.iter().copied())
                        .is_some_and(|b| b.grown(margin).touches(&bounds))
                });
                let near = |p: &&Pinned| {
                    let at = p.bounds();
                    at.is_some_and(|b| b.grown(gap).touches(&bounds))
                };
                let inside = |p: &&Pinned| {
                    let middle = p.bounds().map(|b| b.center());
                    middle.is_some_and(|m| bounds.touches(&Bounds::new(m, m)))
                };
                let taken: f64 = pinned.iter().filter(inside).map(|p| p.area).sum();
                let pieces = pinned.iter().filter(near).flat_map(|p| p.pieces.clone());
                // Parts on two blanks of one sheet keep the gap too: half of it from the middle of the cut.
                let others = stock.break_down.iter().flat_map(|plan| &plan.blanks);
                let between = others
                    .filter(|other| **other != bounds)
                    .map(|other| apart(&bounds, other))
                    .fold(f64::INFINITY, f64::min);
                let keep = margin.max(0.5 * (gap - between));
                Some(Self {
                    margin,
                    ring,
                    pinned: pieces.collect(),
                    room: Bounds {
                        min: Point::new(bounds.min.x + keep, bounds.min.y + keep),
                        max: Point::new(bounds.max.x - keep, bounds.max.y - keep),
                    },
                    walls,
                    area: (field.area() - taken).max(0.0),
                })
            })
            .collect()
    }

    /// The bounds less the margin; turned inside out when the margin leaves nothing.
    pub fn room(&self) -> Bounds {
        self.room
    }

    /// Where `turned` may lie; `None` when it is larger than the field.
    pub fn fit(&self, turned: &Turned, gap: f64) -> Option<Fit> {
        if let Some(ring) = &self.ring {
            let places = windows::within(ring, &turned.hull, self.margin)?;
            let range = places.bounds;
            let walls = nofit::areas_of(&self.groups(gap), &turned.pieces);
            let places = windows::fewer_sides(&places, SIDES);
            return Some(Fit {
                range,
                walls: NoFit::beyond(&places, SURROUND, walls),
            });
        }
        let axis = |low: f64, high: f64, size: f64| {
            let last = high - size;
            if last >= low {
                Some((low, last))
            } else if low - last <= 2.0 * CONTACT {
                // As wide as the field: one place, half the rounding on either side.
                Some((0.5 * (low + last), 0.5 * (low + last)))
            } else {
                None
            }
        };
        let (x0, x1) = axis(self.room.min.x, self.room.max.x, turned.width)?;
        let (y0, y1) = axis(self.room.min.y, self.room.max.y, turned.height)?;
        Some(Fit {
            range: Bounds {
                min: Point::new(x0, y0),
                max: Point::new(x1, y1),
            },
            walls: NoFit::of_groups(&self.groups(gap), &turned.pieces),
        })
    }

    /// Its walls and pinned parts, with what is kept from them.
    fn groups(&self, gap: f64) -> [(&[Vec<Point>], f64); 2] {
        [(&self.walls, self.margin), (&self.pinned, gap)]
    }
}

/// How far two rectangles are apart, along x or y, whichever is more.
fn apart(a: &Bounds, b: &Bounds) -> f64 {
    let along = |p: (f64, f64), q: (f64, f64)| (q.0 - p.1).max(p.0 - q.1);
    let x = along((a.min.x, a.max.x), (b.min.x, b.max.x));
    let y = along((a.min.y, a.max.y), (b.min.y, b.max.y));
    x.max(y)
}

/// Convex pieces of what lies within the bounds of `field` but outside of its outer ring; `None` when
/// the ring crosses itself, so that no one can say what is inside.
fn surroundings(field: &Polygon) -> Option<Vec<Vec<Point>>> {
    let bounds = field.bounds();
    let mut inner = field.outer.clone();
    inner.reverse();
    // Seen from outside the material is on the left, so simplifying only takes room away.
    let inner = simplified(&inner, REACH, REACH, FEW_CORNERS, None);
    let frame = bounds.grown(SURROUND).corners().to_vec();
    let pieces = convex_pieces(&Polygon::new(frame.clone(), vec![inner]))
        .or_else(|| convex_pieces(&Polygon::new(frame, vec![field.outer.clone()])))?;
    let inside = pieces
        .into_iter()
        .filter(|piece| {
            Bounds::of_points(piece.iter().copied()).is_some_and(|b| {
                b.min.x < bounds.max.x - 1e-9
                    && b.max.x > bounds.min.x + 1e-9
                    && b.min.y < bounds.max.y - 1e-9
                    && b.max.y > bounds.min.y + 1e-9
                    && reaches_into(piece, &bounds)
            })
        })
        .collect();
    Some(inside)
}

/// Whether a convex piece has area in common with `bounds`.
fn reaches_into(piece: &[Point], bounds: &Bounds) -> bool {
    let n = piece.len();
    // Separated by one of the piece's own edges? The axes were tried before.
    (0..n).all(|i| {
        let edge = (piece[(i + 1) % n] - piece[i]).normalized();
        bounds
            .corners()
            .iter()
            .any(|c| edge.cross(*c - piece[i]) > 1e-9)
    })
}

/// Convex pieces of a ring taken as solid; its hull when it crosses itself.
fn solid(ring: &[Point]) -> Vec<Vec<Point>> {
    if ring.len() < 3 {
        // A scratch or a point: the least area that has an inside.
        return Bounds::of_points(ring.iter().copied())
            .map(|b| b.grown(1e-3).corners().to_vec())
            .into_iter()
            .collect();
    }
    let polygon = Polygon::new(ring.to_vec(), Vec::new());
    let rough = simplified(&polygon.outer, REACH, REACH, FEW_CORNERS, None);
    convex_pieces(&Polygon::new(rough, Vec::new()))
        .or_else(|| convex_pieces(&polygon))
        .unwrap_or_else(|| {
            let hull = super::convex::hull(ring);
            if hull.len() >= 3 {
                vec![hull]
            } else {
                solid(&ring[..2])
            }
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rectangle_has_no_walls() {
        let sheet = Stock::sheet("s", 2440.0, 1220.0, 1.0, 0);
        let fields = Field::all_of(&sheet, 10.0, 6.0, &[]);
        assert_eq!(fields.len(), 1);
        assert!(fields[0].walls.is_empty());
        assert_eq!(fields[0].room().width(), 2420.0);
    }

    #[test]
    fn an_l_has_one_wall_and_voids_add_theirs() {
        let l = [
            (0.0, 0.0),
            (90.0, 0.0),
            (90.0, 30.0),
            (30.0, 30.0),
            (30.0, 90.0),
            (0.0, 90.0),
        ];
        let void = Bounds::new(Point::new(5.0, 5.0), Point::new(9.0, 9.0));
        let outline = Polygon::new(
            l.iter().map(|&(x, y)| Point::new(x, y)).collect(),
            vec![void.corners().to_vec()],
        );
        let stock = Stock::remnant("r", outline, 1.0, 0);
        let fields = Field::all_of(&stock, 0.0, 0.0, &[]);
        let inside: f64 = fields[0]
            .walls
            .iter()
            .map(|w| Polygon::new(w.clone(), Vec::new()).area())
            .sum();
        // The missing corner (60 x 60), perhaps with the frame beyond it, and the void (4 x 4).
        assert!(
            (3616.0..3616.0 + 20.0 * 140.0).contains(&inside),
            "{inside}"
        );
        let probe = |x: f64, y: f64| {
            let p = Point::new(x, y);
            fields[0].walls.iter().any(|w| {
                super::super::convex::grown(w, 0.0)
                    .is_some_and(|c| super::super::convex::depth(&c.planes, p) > 1e-9)
            })
        };
        assert!(probe(31.0, 31.0) && probe(89.0, 89.0) && probe(7.0, 7.0));
        assert!(!probe(29.9, 80.0) && !probe(80.0, 29.9) && !probe(1.0, 1.0));
    }
}
