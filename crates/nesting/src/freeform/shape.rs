//! What the search knows of the parts: their shapes in convex pieces, at each angle they may lie at.

use super::convex::{diameter, hull, least_width};
use super::decompose::convex_pieces;
use super::simplify::simplified;
use crate::{Angles, Part, Problem, Stock, Turn};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon, Ring, Vec2};
use std::collections::BTreeMap;

/// How deep simplifying may add material, as a share of the part's size. More wastes sheet, less
/// leaves corners that cost time.
const REACH_SHARE: f64 = 0.0015;

/// Simplifying never needs to be finer than this, in millimetres: the judge's own chords are 0.02.
const LEAST_REACH: f64 = 0.03;

/// How much deeper than the outside a corner that bends inward may be filled. That costs only room in
/// the corner, where parts seldom reach, while each corner of a rounded window costs a piece.
const FILL: f64 = 3.0;

/// Rings with at most this many corners are taken as they are, so that drawn fits stay exact.
const FEW_CORNERS: usize = 16;

/// Rings with more corners than this after simplifying are simplified more roughly.
const MANY_CORNERS: usize = 40;

/// The roughest simplifying, as a share of the part's size.
const ROUGHEST_SHARE: f64 = 0.02;

/// Pieces that the outside may take; two shapes of this many have this squared forbidden areas.
const MOST_PIECES: usize = 20;

/// Further pieces for each hole that is kept.
const PIECES_PER_HOLE: usize = 5;

/// Holes that are kept, the largest first; smaller ones are filled.
const MOST_HOLES: usize = 8;

/// How near, in millimetres, two turned outlines must be to count as the same.
const SAME_OUTLINE: f64 = 1e-7;

/// How many of the longest edges of a freely turned part are laid along an edge of the stock, and how
/// many other angles it is tried at, as a division of the quarter turn. The more shapes turn freely
/// (up to the number given), the fewer: the tables grow with the square of shapes times angles.
const FREE_TURNS: [(usize, FreeTurns); 3] = [
    (10, FreeTurns { edges: 4, steps: 4 }),
    (40, FreeTurns { edges: 2, steps: 2 }),
    (usize::MAX, FreeTurns { edges: 1, steps: 1 }),
];

/// How freely turned parts are tried.
#[derive(Debug, Clone, Copy)]
struct FreeTurns {
    edges: usize,
    steps: usize,
}

impl FreeTurns {
    /// For this many shapes that turn freely.
    fn of(shapes: usize) -> Self {
        let row = FREE_TURNS.iter().find(|(most, _)| shapes <= *most);
        row.unwrap_or(&FREE_TURNS[FREE_TURNS.len() - 1]).1
    }
}

/// A shape that one or more parts have.
#[derive(Debug)]
pub(super) struct Shape {
    /// Convex pieces that together cover the part, as drawn.
    pub pieces: Vec<Vec<Point>>,
    /// Convex hull of the pieces.
    pub hull: Vec<Point>,
    /// Area of the part, holes not counted.
    pub area: f64,
    /// Area of the hull, for the order in which parts are placed.
    pub room: f64,
}

/// A shape at one angle, moved so that its bounds begin at the origin.
#[derive(Debug)]
pub(super) struct Turned {
    /// Convex pieces.
    pub pieces: Vec<Vec<Point>>,
    /// Size along x.
    pub width: f64,
    /// Size along y.
    pub height: f64,
}

/// One way to lay a part down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pose {
    /// Index into [`Catalogue::turned`].
    pub turned: usize,
    /// The angle of the part's drawing, in degrees.
    pub angle_deg: f64,
    /// From the lower left corner of the turned bounds to the drawing's origin.
    pub to_origin: Vec2,
}

impl Pose {
    /// The placement that brings the lower left corner of the turned bounds to `at`.
    pub fn placement(&self, at: Point) -> Placement {
        Placement::new(self.angle_deg, at + self.to_origin)
    }
}

/// All shapes, all angles, and which of them each part may take on each stock.
#[derive(Debug, Default)]
pub(super) struct Catalogue {
    /// The shapes.
    pub shapes: Vec<Shape>,
    /// The shapes at their angles; those that look the same are one.
    pub turned: Vec<Turned>,
    /// The shape of each part.
    pub shape_of: Vec<usize>,
    /// Poses by part and stock; empty where faces or grain rule it out.
    poses: Vec<Vec<Vec<Pose>>>,
}

/// Outlines turned and looked up while the catalogue is built.
struct Builder<'p> {
    outlines: Vec<&'p Outline>,
    catalogue: Catalogue,
    /// By shape: the angles seen, the turned outline there and its index.
    seen: Vec<Vec<(f64, Outline, usize)>>,
    free: FreeTurns,
    poses: BTreeMap<(usize, u64), Pose>,
}

impl Catalogue {
    /// Prepares every part of `problem`.
    pub fn new(problem: &Problem) -> Self {
        let mut builder = Builder {
            outlines: Vec::new(),
            catalogue: Self::default(),
            seen: Vec::new(),
            free: FreeTurns::of(0),
            poses: BTreeMap::new(),
        };
        let smallest = Smallest::of(problem);
        for part in &problem.parts {
            let shape = builder.shape(&part.outline, problem, &smallest);
            builder.catalogue.shape_of.push(shape);
        }
        let mut free: Vec<usize> = (0..problem.parts.len())
            .filter(|i| problem.parts[*i].turn == Turn::Free)
            .map(|i| builder.catalogue.shape_of[i])
            .collect();
        free.sort_unstable();
        free.dedup();
        builder.free = FreeTurns::of(free.len());
        for (i, part) in problem.parts.iter().enumerate() {
            let shape = builder.catalogue.shape_of[i];
            let by_stock = problem
                .stock
                .iter()
                .map(|stock| {
                    if part.faces_fit(stock) {
                        builder.poses(shape, part, stock)
                    } else {
                        Vec::new()
                    }
                })
                .collect();
            builder.catalogue.poses.push(by_stock);
        }
        builder.catalogue
    }

    /// The ways to lay `part` on `stock`; none when faces or grain rule it out.
    pub fn poses(&self, part: usize, stock: usize) -> &[Pose] {
        &self.poses[part][stock]
    }

    /// The shape of `part`.
    pub fn shape(&self, part: usize) -> &Shape {
        &self.shapes[self.shape_of[part]]
    }
}

/// The least sizes of any part: a hole that is smaller can take none.
struct Smallest {
    width: f64,
    diameter: f64,
}

impl Smallest {
    fn of(problem: &Problem) -> Self {
        let mut least = Self {
            width: f64::INFINITY,
            diameter: f64::INFINITY,
        };
        for part in &problem.parts {
            let hull = hull(&part.outline.covering().outer);
            least.width = least.width.min(least_width(&hull));
            least.diameter = least.diameter.min(diameter(&hull));
        }
        least
    }

    /// Whether some part may fit into `hole` with a gap all round.
    fn may_fit(&self, hole: &[Point], gap: f64) -> bool {
        let hull = hull(hole);
        hull.len() >= 3
            && least_width(&hull) + 1e-6 >= self.width + 2.0 * gap
            && diameter(&hull) + 1e-6 >= self.diameter + 2.0 * gap
    }
}

impl<'p> Builder<'p> {
    /// Index of the shape of `outline`.
    fn shape(&mut self, outline: &'p Outline, problem: &Problem, smallest: &Smallest) -> usize {
        let same = |o: &Outline| o.outer == outline.outer && o.holes == outline.holes;
        if let Some(i) = self.outlines.iter().position(|o| same(o)) {
            return i;
        }
        self.outlines.push(outline);
        self.seen.push(Vec::new());
        let keep = |hole: &[Point]| problem.use_cutouts && smallest.may_fit(hole, problem.gap);
        let pieces = covering_pieces(outline, keep);
        let hull = hull(&pieces.concat());
        let room = Polygon::new(hull.clone(), Vec::new()).area();
        self.catalogue.shapes.push(Shape {
            pieces,
            hull,
            area: outline.area(),
            room,
        });
        self.outlines.len() - 1
    }

    /// The poses of `part` on `stock`, those that look the same taken once.
    fn poses(&mut self, shape: usize, part: &Part, stock: &Stock) -> Vec<Pose> {
        let angles = match part.angles(stock) {
            Angles::Listed(angles) => angles,
            Angles::Any => free_angles(&self.catalogue.shapes[shape].hull, stock, self.free),
        };
        let mut poses: Vec<Pose> = Vec::with_capacity(angles.len());
        for angle in angles {
            let pose = self.pose(shape, angle);
            if poses.iter().all(|p| p.turned != pose.turned) {
                poses.push(pose);
            }
        }
        poses
    }

    /// The pose of `shape` at `angle`.
    fn pose(&mut self, shape: usize, angle: f64) -> Pose {
        if let Some(pose) = self.poses.get(&(shape, angle.to_bits())) {
            return *pose;
        }
        let turn = Placement::new(angle, Point::default());
        let pieces: Vec<Vec<Point>> = self.catalogue.shapes[shape]
            .pieces
            .iter()
            .map(|piece| piece.iter().map(|p| turn.apply(*p)).collect())
            .collect();
        let bounds = Bounds::of_points(pieces.iter().flatten().copied())
            .unwrap_or_else(|| Bounds::new(Point::default(), Point::default()));
        let to_origin = Vec2::new(-bounds.min.x, -bounds.min.y);
        let outline = self.outlines[shape].placed(&turn).at_origin();
        let known = self.seen[shape]
            .iter()
            .find(|(_, o, _)| looks_same(o, &outline))
            .map(|(_, _, i)| *i);
        let turned = known.unwrap_or_else(|| {
            let pieces = pieces
                .iter()
                .map(|piece| piece.iter().map(|p| *p + to_origin).collect())
                .collect();
            self.catalogue.turned.push(Turned {
                pieces,
                width: bounds.width(),
                height: bounds.height(),
            });
            let i = self.catalogue.turned.len() - 1;
            self.seen[shape].push((angle, outline, i));
            i
        });
        let pose = Pose {
            turned,
            angle_deg: turn.angle_deg(),
            to_origin,
        };
        self.poses.insert((shape, angle.to_bits()), pose);
        pose
    }
}

/// Convex pieces that cover `outline`, its holes filled but for those that `keep`.
///
/// Tries to be exact within a small share of the part's size; an outline that would take too many
/// pieces (a comb, a gear, a spiral) has its bays filled further and further.
fn covering_pieces(outline: &Outline, keep: impl Fn(&[Point]) -> bool) -> Vec<Vec<Point>> {
    let cover = outline.covering();
    let bounds = Bounds::of_points(cover.outer.iter().copied())
        .unwrap_or_else(|| Bounds::new(Point::default(), Point::default()));
    let size = bounds.area().sqrt();
    let mut holes: Vec<(f64, &Vec<Point>)> = cover
        .holes
        .iter()
        .filter(|h| keep(h))
        .map(|h| (Polygon::new(h.clone(), Vec::new()).area(), h))
        .collect();
    holes.sort_by(|a, b| b.0.total_cmp(&a.0));
    holes.truncate(MOST_HOLES);
    let start = (REACH_SHARE * size).max(LEAST_REACH);
    let roughest = (ROUGHEST_SHARE * size).max(start);
    let few = |ring: &[Point], within: Option<Bounds>, start: f64, fill: f64| {
        let mut reach = start;
        loop {
            let result = simplified(ring, reach, reach.max(fill), FEW_CORNERS, within);
            reach *= 2.0;
            if result.len() <= MANY_CORNERS || reach > roughest {
                return result;
            }
        }
    };
    let mut best: Option<Vec<Vec<Point>>> = None;
    for (reach, fill, with_holes) in [
        (start, FILL * start, true),
        // Finer where the rough outline crosses itself.
        (0.1 * start, FILL * start, true),
        // Bays filled where there are too many.
        (roughest, 0.05 * size, true),
        (roughest, 0.2 * size, true),
        (roughest, size, true),
        (start, FILL * start, false),
    ] {
        let inner: Vec<Vec<Point>> = holes
            .iter()
            .filter(|_| with_holes)
            .map(|(_, h)| few(h, None, reach, FILL * reach))
            .collect();
        let most = MOST_PIECES + PIECES_PER_HOLE * inner.len();
        let polygon = Polygon::new(few(&cover.outer, Some(bounds), reach, fill), inner);
        // A ring that turned inside out while it was simplified covers less than the part.
        if polygon.area() + 1e-6 * cover.area() < cover.area() {
            continue;
        }
        if let Some(pieces) = convex_pieces(&polygon) {
            let enough = pieces.len() <= most;
            if best.as_ref().is_none_or(|b| pieces.len() < b.len()) {
                best = Some(pieces);
            }
            if enough {
                break;
            }
        }
    }
    let hull = hull(&cover.outer);
    match best {
        Some(pieces) if pieces.len() <= MOST_PIECES + PIECES_PER_HOLE * holes.len() => pieces,
        _ if hull.len() >= 3 => vec![simplified(&hull, start, start, FEW_CORNERS, Some(bounds))],
        _ => vec![bounds.grown(0.01).corners().to_vec()],
    }
}

/// Whether two outlines that begin at the origin are the same.
fn looks_same(a: &Outline, b: &Outline) -> bool {
    let (p, q) = (a.bounds(), b.bounds());
    (p.width() - q.width()).abs() <= SAME_OUTLINE
        && (p.height() - q.height()).abs() <= SAME_OUTLINE
        && same_ring(&a.outer, &b.outer)
        && a.holes.len() == b.holes.len()
        && a.holes
            .iter()
            .all(|h| b.holes.iter().any(|g| same_ring(h, g)))
}

/// Whether two rings run through the same corners by the same curves.
fn same_ring(a: &Ring, b: &Ring) -> bool {
    if let (Some((ca, ra)), Some((cb, rb))) = (as_circle(a), as_circle(b)) {
        return ca.distance(cb) <= SAME_OUTLINE && (ra - rb).abs() <= SAME_OUTLINE;
    }
    let n = a.vertices.len();
    let same = |i: usize, j: usize| {
        let (p, q) = (a.vertices[i], b.vertices[j]);
        p.point.distance(q.point) <= SAME_OUTLINE && (p.bulge - q.bulge).abs() <= 1e-9
    };
    n == b.vertices.len()
        && (0..n).any(|shift| same(0, shift) && (1..n).all(|i| same(i, (i + shift) % n)))
}

/// Centre and radius when the ring is a full circle.
fn as_circle(ring: &Ring) -> Option<(Point, f64)> {
    let mut circle: Option<(Point, f64)> = None;
    for segment in ring.segments() {
        let arc = segment.arc_geometry()?;
        match circle {
            None => circle = Some((arc.center, arc.radius)),
            Some((center, radius)) => {
                if center.distance(arc.center) > SAME_OUTLINE
                    || (radius - arc.radius).abs() > SAME_OUTLINE
                {
                    return None;
                }
            }
        }
    }
    circle
}

/// Angles for a part that may be turned freely: quarter turns, its longest straight edges along the
/// axes and along the longest slanted edge of the stock, and a few more.
fn free_angles(hull: &[Point], stock: &Stock, turns: FreeTurns) -> Vec<f64> {
    let directions = |ring: &[Point], most: usize| {
        let n = ring.len();
        let mut edges: Vec<(f64, f64)> = (0..n)
            .map(|i| ring[(i + 1) % n] - ring[i])
            .map(|e| (e.length(), e.angle().to_degrees().rem_euclid(90.0)))
            .collect();
        edges.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
        let mut found: Vec<f64> = Vec::new();
        for (_, angle) in edges {
            let off = |f: &f64| {
                let d = (f - angle).abs();
                d.min(90.0 - d)
            };
            if found.len() < most && found.iter().all(|f| off(f) > 0.01) {
                found.push(angle);
            }
        }
        found
    };
    let mut first: Vec<f64> = (0..turns.steps)
        .map(|k| 90.0 * k as f64 / turns.steps as f64)
        .collect();
    let own = directions(hull, turns.edges);
    let mut along = vec![0.0];
    along.extend(
        directions(&stock.outline.outer, 3)
            .into_iter()
            .filter(|a| *a > 0.01 && *a < 89.99)
            .take(1),
    );
    for to in along {
        first.extend(own.iter().map(|from| (to - from).rem_euclid(90.0)));
    }
    let mut angles: Vec<f64> = Vec::new();
    for base in first {
        // A rounding error must not turn an upright edge by a hair.
        let upright = base < 1e-9 || 90.0 - base < 1e-9;
        let base = if upright { 0.0 } else { base };
        for quarter in 0..4 {
            let angle = base + 90.0 * f64::from(quarter);
            if angles.iter().all(|a| (a - angle).abs() > 1e-6) {
                angles.push(angle);
            }
        }
    }
    angles
}

#[cfg(test)]
mod tests {
    use super::*;

    fn poses_of(outline: Outline, turn: Turn) -> usize {
        let mut part = Part::new("p", outline, 1);
        part.turn = turn;
        let stock = Stock::sheet("s", 1000.0, 1000.0, 1.0, 0);
        let problem = Problem::new(vec![part], vec![stock], vec![None]);
        Catalogue::new(&problem).poses(0, 0).len()
    }

    #[test]
    fn angles_that_look_the_same_are_one() {
        assert_eq!(poses_of(Outline::rectangle(50.0, 50.0), Turn::Quarter), 1);
        assert_eq!(poses_of(Outline::rectangle(80.0, 50.0), Turn::Quarter), 2);
        let circle = Ring::circle(Point::new(3.0, 4.0), 30.0);
        let disc = Outline::from_rings(circle, Vec::new());
        assert_eq!(poses_of(disc, Turn::Free), 1);
        let l = [
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 3.0),
            (3.0, 3.0),
            (3.0, 9.0),
            (0.0, 9.0),
        ];
        let l = Outline::polygon(l.map(|(x, y)| Point::new(x, y)));
        assert_eq!(poses_of(l, Turn::Quarter), 4);
    }

    #[test]
    fn two_thousand_corners_become_few() {
        let n = 2000;
        let ring = (0..n).map(|i| {
            let angle = std::f64::consts::TAU * f64::from(i) / f64::from(n);
            let wave = 200.0 + 30.0 * (5.0 * angle).sin() + 0.01 * (300.0 * angle).sin();
            Point::default() + Vec2::from_angle(angle, wave)
        });
        let outline = Outline::polygon(ring);
        let pieces = covering_pieces(&outline, |_| true);
        assert!(pieces.concat().len() < 150, "{}", pieces.concat().len());
        let sum: f64 = pieces
            .iter()
            .map(|p| Polygon::new(p.clone(), Vec::new()).area())
            .sum();
        assert!(sum >= outline.area() && sum < 1.03 * outline.area());
    }
}
