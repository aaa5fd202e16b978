//! The areas of the stock that parts lie in.

use super::convex::{CONTACT, Convex, hull};
use super::decompose::convex_pieces;
use super::nofit::{self, Edge, NoFit, border_of};
use super::shape::Turned;
use super::simplify::simplified;
use super::windows::{self, Sides, convex_ring};
use crate::{Problem, Stock};
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
    /// Convex pieces of what is not the field beside its edge: cut-off corners.
    walls: Vec<Vec<Point>>,
    /// Voids, flaws, areas to keep clear and parts pinned in it: a part may go round one with its window, or into that of a
    /// pinned one.
    islands: Vec<Island>,
    /// Its area, the margin included, less that of pinned parts: no parts of more area fit.
    pub area: f64,
}

/// Something that lies fast within a field.
#[derive(Debug, Clone)]
struct Island {
    shape: Turned,
    bounds: Bounds,
    /// Distance that parts keep from it.
    keep: f64,
}

impl Island {
    /// `None` of nothing.
    fn new(shape: Turned, keep: f64) -> Option<Self> {
        let bounds = Bounds::of_points(shape.filled.iter().flatten().copied())?;
        Some(Self {
            shape,
            bounds,
            keep,
        })
    }

    /// A void, a flaw or an area to keep clear.
    fn solid(ring: &[Point], keep: f64) -> Option<Self> {
        let pieces = solid(ring);
        let hull = hull(ring);
        let shape = Turned {
            // A line or a point has no hull of its own.
            hull: if hull.len() >= 3 {
                hull
            } else {
                pieces.concat()
            },
            filled: pieces.clone(),
            pieces,
            windows: Vec::new(),
            width: 0.0,
            height: 0.0,
        };
        Self::new(shape, keep)
    }

    /// Adds what it keeps a turned shape out of.
    fn add_to(&self, areas: &mut Vec<Convex>, turned: &Turned) {
        let around = nofit::areas_of(&[(&self.shape.filled, self.keep)], &turned.filled);
        let places = windows::places(&self.shape, turned, self.keep);
        if places.is_empty() {
            areas.extend(around);
            return;
        }
        let sides = windows::sides(around.len());
        let places: Vec<Convex> = places
            .iter()
            .map(|p| windows::fewer_sides(p, sides))
            .collect();
        areas.extend(windows::cut_out(around, &places));
    }
}

/// A part pinned on the stock, as the search sees it.
#[derive(Debug, Clone)]
pub(super) struct Pinned {
    /// Its shape where it lies.
    pub shape: Turned,
    /// Area of the part, holes not counted.
    pub area: f64,
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
    pub fn all_of(problem: &Problem, stock: &Stock, pinned: &[Pinned]) -> Vec<Self> {
        let (margin, gap) = (problem.margin_on(stock), problem.gap);
        let of_zones = problem.margin_of_zones(stock);
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
                let mut islands: Vec<Island> = (field.holes.iter().chain(&stock.keep_clear))
                    .filter_map(|ring| Island::solid(ring, margin))
                    .collect();
                let zones = stock.zones.iter();
                islands.extend(zones.filter_map(|ring| Island::solid(ring, of_zones)));
                // What a blank cut from an irregular remnant could lack is a wall there too.
                if stock.break_down.is_some() {
                    walls.extend(surroundings(&stock.outline)?);
                    let voids = stock.outline.holes.iter();
                    islands.extend(voids.filter_map(|ring| Island::solid(ring, margin)));
                }
                walls.retain(|w| {
                    Bounds::of_points(w.iter().copied())
                        .is_some_and(|b| b.grown(margin).touches(&bounds))
                });
                let pinned = pinned
                    .iter()
                    .filter_map(|p| Some((Island::new(p.shape.clone(), gap)?, p.area)));
                let mut taken = 0.0;
                for (island, area) in pinned {
                    let middle = island.bounds.center();
                    if bounds.touches(&Bounds::new(middle, middle)) {
                        taken += area;
                    }
                    islands.push(island);
                }
                islands.retain(|i| i.bounds.grown(i.keep).touches(&bounds));
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
                    islands,
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
    pub fn fit(&self, turned: &Turned) -> Option<Fit> {
        if let Some(ring) = &self.ring {
            let places = windows::within(ring, &turned.hull, self.margin)?;
            let range = places.bounds;
            let (walls, border) = self.walls_of(turned);
            let places = windows::fewer_sides(&places, SIDES);
            return Some(Fit {
                range,
                walls: NoFit::beyond(&places, SURROUND, walls, border),
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
            walls: {
                let (walls, border) = self.walls_of(turned);
                NoFit::with_border(&walls, border)
            },
        })
    }

    /// What walls and islands keep a turned shape out of, and the border of that.
    fn walls_of(&self, turned: &Turned) -> (Vec<Convex>, Vec<Edge>) {
        let mut areas = nofit::areas_of(&[(&self.walls, self.margin)], &turned.filled);
        for island in &self.islands {
            island.add_to(&mut areas, turned);
        }
        let border = border_of(&areas);
        (areas, border)
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
            let hull = hull(ring);
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
        let problem = Problem {
            margin: 10.0,
            gap: 6.0,
            ..Problem::new(Vec::new(), Vec::new(), Vec::new())
        };
        let fields = Field::all_of(&problem, &sheet, &[]);
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
        let problem = Problem::new(Vec::new(), Vec::new(), Vec::new());
        let fields = Field::all_of(&problem, &stock, &[]);
        let area = |w: &Vec<Point>| Polygon::new(w.clone(), Vec::new()).area();
        let outside: f64 = fields[0].walls.iter().map(area).sum();
        let island: f64 = fields[0].islands[0].shape.filled.iter().map(area).sum();
        // The missing corner (60 x 60), perhaps with the frame beyond it, and the void (4 x 4).
        assert!(
            (3600.0..3600.0 + 20.0 * 140.0).contains(&outside),
            "{outside}"
        );
        assert_eq!((fields[0].islands.len(), island), (1, 16.0));
        let islands = fields[0].islands.iter().flat_map(|i| &i.shape.filled);
        let all: Vec<&Vec<Point>> = fields[0].walls.iter().chain(islands).collect();
        let probe = |x: f64, y: f64| {
            let p = Point::new(x, y);
            all.iter().any(|w| {
                super::super::convex::grown(w, 0.0)
                    .is_some_and(|c| super::super::convex::depth(&c.planes, p) > 1e-9)
            })
        };
        assert!(probe(31.0, 31.0) && probe(89.0, 89.0) && probe(7.0, 7.0));
        assert!(!probe(29.9, 80.0) && !probe(80.0, 29.9) && !probe(1.0, 1.0));
    }
}
