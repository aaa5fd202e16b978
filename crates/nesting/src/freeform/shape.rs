//! What the search knows of the parts: their shapes in convex pieces, at each angle they may lie at.

use super::angles::{FreeTurns, free_angles, scanned};
use super::convex::hull;
use super::cover::{Closeness, Smallest, covering_pieces};
use super::windows::{convex_ring, lies_in, may_lie_in};
use crate::{Angles, Nest, Problem, Stock, Turn};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon, Ring, Vec2};
use std::collections::BTreeMap;
use std::collections::btree_map::Entry;

/// How near, in millimetres, two turned outlines must be to count as the same.
const SAME_OUTLINE: f64 = 1e-7;

/// Convex windows of a part that others may be laid into, the largest first.
const MOST_WINDOWS: usize = 24;

/// A shape that one or more parts have.
#[derive(Debug, Clone)]
pub(super) struct Shape {
    /// Convex pieces that together cover the part, as drawn.
    pub pieces: Vec<Vec<Point>>,
    /// Convex hull of the pieces.
    pub hull: Vec<Point>,
    /// Pieces of the part with its `windows` filled.
    filled: Vec<Vec<Point>>,
    /// Convex hull of the part itself, its curves within the usual chords.
    true_hull: Vec<Point>,
    /// Its convex windows that some part may fit into.
    windows: Vec<Vec<Point>>,
    /// Area of the part, holes not counted.
    pub area: f64,
    /// Area of the hull, for the order in which parts are placed.
    pub room: f64,
}

impl Shape {
    /// The shape moved by `to`, which keeps distances and the turning sense.
    pub fn lying(&self, to: impl Fn(Point) -> Point) -> Turned {
        let moved = |ring: &Vec<Point>| -> Vec<Point> { ring.iter().map(|p| to(*p)).collect() };
        let all_moved = |rings: &[Vec<Point>]| rings.iter().map(moved).collect();
        let hull = moved(&self.true_hull);
        let bounds = Bounds::of_points(hull.iter().copied());
        Turned {
            pieces: all_moved(&self.pieces),
            filled: all_moved(&self.filled),
            hull,
            windows: all_moved(&self.windows),
            width: bounds.map_or(0.0, |b| b.width()),
            height: bounds.map_or(0.0, |b| b.height()),
        }
    }
}

/// A shape at one angle, moved so that its bounds begin at the origin.
#[derive(Debug, Clone)]
pub(super) struct Turned {
    /// Convex pieces.
    pub pieces: Vec<Vec<Point>>,
    /// Convex pieces of the part with its `windows` filled.
    pub filled: Vec<Vec<Point>>,
    /// Convex hull of the part itself.
    pub hull: Vec<Point>,
    /// Its convex windows, without what is little.
    pub windows: Vec<Vec<Point>>,
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
    ///
    /// In whole nanometres (and billionths of a degree), so that a nest that was written and read
    /// again is the same nest. That is a twentieth of what the judge forgives.
    pub fn placement(&self, at: Point) -> Placement {
        let origin = at + self.to_origin;
        let whole = |v: f64, per: f64| (v * per).round() / per;
        Placement::new(
            whole(self.angle_deg, 1e9),
            Point::new(whole(origin.x, 1e6), whole(origin.y, 1e6)),
        )
    }

    /// Where the lower left corner of the turned bounds lies when the drawing's origin is at `origin`.
    pub fn corner(&self, origin: Point) -> Point {
        origin - self.to_origin
    }
}

/// What a pair of turned shapes keep each other out of is what these do, turned and moved.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Likeness {
    /// Indices into [`Catalogue::turned`].
    pub fixed: usize,
    pub moving: usize,
    /// Quarter turns, and what it is moved by after them.
    pub quarters: u8,
    pub by: Vec2,
}

/// `v` turned by so many quarters, exactly.
pub(super) fn quarter_turned(v: Vec2, quarters: u8) -> Vec2 {
    match quarters % 4 {
        0 => v,
        1 => Vec2::new(-v.y, v.x),
        2 => -v,
        _ => Vec2::new(v.y, -v.x),
    }
}

/// All shapes, all angles, and which of them each part may take on each stock.
#[derive(Debug, Clone, Default)]
pub(super) struct Catalogue {
    /// The shapes.
    pub shapes: Vec<Shape>,
    /// The shapes at their angles; those that look the same are one.
    pub turned: Vec<Turned>,
    /// By turned shape: the shape, and its pose.
    first_pose: Vec<(usize, Pose)>,
    /// The shape of each part.
    pub shape_of: Vec<usize>,
    /// Poses by part and stock; empty where faces or grain rule it out.
    poses: Vec<Vec<Vec<Pose>>>,
    /// Every pose seen, by shape and angle (its bits).
    given: BTreeMap<(usize, u64), Pose>,
    /// By shape and angle (its bits): a pose that looks the same and is taken for it.
    alike: BTreeMap<(usize, u64), Pose>,
}

/// Outlines turned and looked up while the catalogue is built.
/// What a part may go into aslant.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Into {
    /// Shape of a frame, and the index of its window.
    Window(usize, usize),
    /// Index of the stock.
    Stock(usize),
}

/// Convex pieces of stock in which an angle is looked for at most, all parts together: a look takes some milliseconds.
const MOST_STOCK_SCANNED: usize = 60;

struct Builder<'p> {
    outlines: Vec<&'p Outline>,
    catalogue: Catalogue,
    /// By shape: the turned outlines seen, each with its index and how far the lower left corner of
    /// its pieces' bounds is from that of its own.
    seen: Vec<Vec<(Outline, usize, Vec2)>>,
    free: FreeTurns,
    /// By shape and what it may go into: the angle at which the one goes into the other, both as drawn.
    aslant: BTreeMap<(usize, Into), Option<f64>>,
    margin: f64,
    poses: BTreeMap<(usize, u64), Pose>,
}

impl Catalogue {
    /// Prepares every part of `problem`, also at the angles of `start`, whose indices must be of it.
    /// Where `finer` has angles for a part, a free turn means these.
    pub fn new(
        problem: &Problem,
        start: Option<&Nest>,
        finer: &[Vec<f64>],
        closeness: Closeness,
    ) -> Self {
        let mut builder = Builder {
            outlines: Vec::new(),
            catalogue: Self::default(),
            seen: Vec::new(),
            free: FreeTurns::of(0),
            aslant: BTreeMap::new(),
            margin: problem.margin,
            poses: BTreeMap::new(),
        };
        let smallest = Smallest::of(problem);
        for part in &problem.parts {
            let shape = builder.shape(&part.outline, problem, &smallest, closeness);
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
            let by_stock = problem
                .stock
                .iter()
                .enumerate()
                .map(|(s, stock)| {
                    if part.faces_fit(stock) {
                        let finer = finer.get(i).map_or(&[][..], Vec::as_slice);
                        builder.poses(problem, i, s, finer)
                    } else {
                        Vec::new()
                    }
                })
                .collect();
            builder.catalogue.poses.push(by_stock);
        }
        for layout in start.iter().flat_map(|nest| &nest.layouts) {
            for placed in &layout.placed {
                let pose = builder.pose(
                    builder.catalogue.shape_of[placed.part],
                    placed.placement.angle_deg(),
                );
                let poses = &mut builder.catalogue.poses[placed.part][layout.stock];
                if poses.iter().all(|p| p.turned != pose.turned) {
                    poses.push(pose);
                }
            }
        }
        builder.catalogue.given = builder.poses;
        builder.catalogue
    }

    /// The same with every turned shape as one convex piece, its hull, but for its windows. What keeps apart by it keeps apart
    /// by the true pieces too.
    pub fn rough(&self) -> Self {
        let mut rough = self.clone();
        for turned in &mut rough.turned {
            turned.pieces = vec![hull(&turned.pieces.concat())];
            turned.filled.clone_from(&turned.pieces);
        }
        rough
    }

    /// Area of the pieces that cover all copies.
    pub fn covered(&self, problem: &Problem) -> f64 {
        let piece = |points: &Vec<Point>| Polygon::new(points.clone(), Vec::new()).area();
        let parts = problem.parts.iter().zip(&self.shape_of);
        parts
            .map(|(part, shape)| {
                let pieces = &self.shapes[*shape].pieces;
                f64::from(part.quantity) * pieces.iter().map(piece).sum::<f64>()
            })
            .sum()
    }

    /// The ways to lay `part` on `stock`; none when faces or grain rule it out.
    pub fn poses(&self, part: usize, stock: usize) -> &[Pose] {
        &self.poses[part][stock]
    }

    /// How `part` lies at exactly this angle; `None` for an angle that is not among its poses and
    /// none of the nest started from.
    pub fn pose_at(&self, part: usize, angle_deg: f64) -> Option<Pose> {
        let key = (self.shape_of[part], angle_deg.to_bits());
        self.given.get(&key).copied()
    }

    /// The pose of `part` on `stock` that looks as it does at this angle.
    pub fn pose_alike(&self, part: usize, stock: usize, angle_deg: f64) -> Option<Pose> {
        let key = (self.shape_of[part], angle_deg.to_bits());
        let known = [self.given.get(&key), self.alike.get(&key)];
        let may = |pose: &&Pose| self.poses(part, stock).contains(pose);
        known.into_iter().flatten().find(may).copied()
    }

    /// Which pair of turned shapes this one comes from, both turned together by quarters, or the other way round; the same for
    /// all pairs that come from each other.
    pub fn likeness(&self, fixed: usize, moving: usize) -> Likeness {
        let own = Likeness {
            fixed,
            moving,
            quarters: 0,
            by: Vec2::default(),
        };
        // The other way round the places are turned by half.
        let either = [(fixed, moving, 0), (moving, fixed, 2)];
        let found = either.iter().filter_map(|(fixed, moving, half)| {
            let ((shape, pose), (other, pose_of_other)) =
                (self.first_pose[*fixed], self.first_pose[*moving]);
            let quarters = (pose.angle_deg / 90.0).floor();
            let back = |shape: usize, angle_deg: f64| {
                let angle = (angle_deg - 90.0 * quarters).rem_euclid(360.0);
                self.given.get(&(shape, angle.to_bits())).copied()
            };
            let base = back(shape, pose.angle_deg)?;
            let base_of_other = back(other, pose_of_other.angle_deg)?;
            let lead = quarter_turned(base_of_other.to_origin - base.to_origin, quarters as u8);
            let by = lead + pose.to_origin - pose_of_other.to_origin;
            Some(Likeness {
                fixed: base.turned,
                moving: base_of_other.turned,
                quarters: (quarters as u8 + half) % 4,
                by: if *half == 0 { by } else { -by },
            })
        });
        found
            .chain([own])
            .min_by_key(|like| (like.fixed, like.moving))
            .unwrap_or(own)
    }

    /// The shape of `part`.
    pub fn shape(&self, part: usize) -> &Shape {
        &self.shapes[self.shape_of[part]]
    }
}

impl<'p> Builder<'p> {
    /// Index of the shape of `outline`; `smallest` are those of parts and of voids.
    fn shape(
        &mut self,
        outline: &'p Outline,
        problem: &Problem,
        smallest: &[Smallest; 2],
        closeness: Closeness,
    ) -> usize {
        let same = |o: &Outline| o.outer == outline.outer && o.holes == outline.holes;
        if let Some(i) = self.outlines.iter().position(|o| same(o)) {
            return i;
        }
        self.outlines.push(outline);
        self.seen.push(Vec::new());
        let cover = outline.covering();
        let open = |hole: &[Point]| problem.use_cutouts && smallest.iter().any(|s| s.may_fit(hole));
        let pieces = covering_pieces(&cover, closeness, open);
        let kept = cover.holes.iter().filter(|h| open(h));
        let mut windows: Vec<Vec<Point>> = kept.filter_map(|h| convex_ring(h)).collect();
        let size = |ring: &Vec<Point>| Polygon::new(ring.clone(), Vec::new()).area();
        windows.sort_by(|a, b| size(b).total_cmp(&size(a)));
        windows.truncate(MOST_WINDOWS);
        let filled = if windows.is_empty() {
            pieces.clone()
        } else {
            let odd = |hole: &[Point]| open(hole) && convex_ring(hole).is_none();
            covering_pieces(&cover, closeness, odd)
        };
        let true_hull = hull(&cover.outer);
        let hull = hull(&pieces.concat());
        let room = Polygon::new(hull.clone(), Vec::new()).area();
        self.catalogue.shapes.push(Shape {
            pieces,
            hull,
            filled,
            true_hull,
            windows,
            area: outline.area(),
            room,
        });
        self.outlines.len() - 1
    }

    /// The poses of `part` on the stock with that index, those that look the same taken once.
    fn poses(&mut self, problem: &Problem, part: usize, index: usize, finer: &[f64]) -> Vec<Pose> {
        let shape = self.catalogue.shape_of[part];
        let (part, stock) = (&problem.parts[part], &problem.stock[index]);
        let angles = match part.angles(stock) {
            Angles::Listed(angles) => angles,
            Angles::Any if !finer.is_empty() => finer.to_vec(),
            Angles::Any => {
                let hull = &self.catalogue.shapes[shape].hull;
                let margin = stock.margin.unwrap_or(self.margin);
                let mut angles = free_angles(hull, stock, margin, self.free);
                if self.free.looks_into_windows() {
                    self.add_aslant(shape, problem, stock, &mut angles);
                    self.add_aslant_on(shape, problem, index, &mut angles);
                }
                angles
            }
        };
        let mut poses: Vec<Pose> = Vec::with_capacity(angles.len());
        let mut laid: Vec<Outline> = Vec::new();
        for angle in angles {
            let turn = Placement::new(angle, Point::default());
            let outline = self.outlines[shape].placed(&turn).at_origin();
            if let Some(i) = laid
                .iter()
                .position(|o| looks_same(o, &outline, same_curve))
            {
                let key = (shape, turn.angle_deg().to_bits());
                self.catalogue.alike.entry(key).or_insert(poses[i]);
            } else {
                poses.push(self.pose(shape, angle));
                laid.push(outline);
            }
        }
        poses
    }

    /// Adds to the angles of a freely turned shape those at which it goes into windows that it fits into at none of them.
    fn add_aslant(
        &mut self,
        shape: usize,
        problem: &Problem,
        stock: &Stock,
        angles: &mut Vec<f64>,
    ) {
        let catalogue = &self.catalogue;
        for (other, of) in problem.parts.iter().zip(&catalogue.shape_of) {
            if *of == shape || !other.faces_fit(stock) {
                continue;
            }
            let frames = match other.angles(stock) {
                Angles::Listed(listed) => listed,
                Angles::Any => vec![0.0],
            };
            for (i, window) in catalogue.shapes[*of].windows.iter().enumerate() {
                let hull = &catalogue.shapes[shape].true_hull;
                if !may_lie_in(hull, window, problem.gap) {
                    continue;
                }
                let fits = |angle: f64| lies_in(hull, angle, window, problem.gap);
                let mut usual = angles
                    .iter()
                    .flat_map(|a| frames.iter().map(move |f| a - f));
                if usual.any(fits) {
                    continue;
                }
                let known = self.aslant.entry((shape, Into::Window(*of, i)));
                if let Some(angle) = *known.or_insert_with(|| scanned(fits)) {
                    angles.extend(frames.iter().map(|f| (angle + f).rem_euclid(360.0)));
                }
            }
        }
    }

    /// Adds to the angles of a freely turned shape one at which it lies on convex stock that it fits on at none of them.
    fn add_aslant_on(
        &mut self,
        shape: usize,
        problem: &Problem,
        index: usize,
        angles: &mut Vec<f64>,
    ) {
        let stock = &problem.stock[index];
        let margin = problem.margin_on(stock);
        let hull = &self.catalogue.shapes[shape].true_hull;
        let Some(ring) = convex_ring(&stock.outline.outer) else {
            return;
        };
        let fits = |angle: f64| lies_in(hull, angle, &ring, margin);
        if !may_lie_in(hull, &ring, margin) || angles.iter().any(|a| fits(*a)) {
            return;
        }
        let of_stock = |key: &&(usize, Into)| matches!(key.1, Into::Stock(_));
        let looked = self.aslant.keys().filter(of_stock).count();
        let known = self.aslant.entry((shape, Into::Stock(index)));
        if let Entry::Vacant(_) = known
            && looked >= MOST_STOCK_SCANNED
        {
            return;
        }
        angles.extend(*known.or_insert_with(|| scanned(fits)));
    }

    /// The pose of `shape` at `angle`.
    fn pose(&mut self, shape: usize, angle: f64) -> Pose {
        if let Some(pose) = self.poses.get(&(shape, angle.to_bits())) {
            return *pose;
        }
        let turn = Placement::new(angle, Point::default());
        let drawn = &self.catalogue.shapes[shape];
        let hull = drawn.true_hull.iter().map(|p| turn.apply(*p));
        let bounds = Bounds::of_points(hull)
            .unwrap_or_else(|| Bounds::new(Point::default(), Point::default()));
        let to_origin = Vec2::new(-bounds.min.x, -bounds.min.y);
        let outline = self.outlines[shape].placed(&turn);
        let own = outline.bounds().min;
        let outline = outline.at_origin();
        // A circle between the same corners only: its chords turn with it.
        let known = self.seen[shape]
            .iter()
            .find(|(o, ..)| looks_same(o, &outline, same_corners))
            .map(|(_, i, lead)| (*i, Point::default() - (own + *lead)));
        let (turned, to_origin) = known.unwrap_or_else(|| {
            let turned = drawn.lying(|p| turn.apply(p) + to_origin);
            self.catalogue.turned.push(turned);
            let i = self.catalogue.turned.len() - 1;
            self.seen[shape].push((outline, i, bounds.min - own));
            (i, to_origin)
        });
        let pose = Pose {
            turned,
            angle_deg: turn.angle_deg(),
            to_origin,
        };
        // A new one, not one that looks the same as another.
        if turned == self.catalogue.first_pose.len() {
            self.catalogue.first_pose.push((shape, pose));
        }
        self.poses.insert((shape, angle.to_bits()), pose);
        pose
    }
}

/// Whether two outlines that begin at the origin are the same, ring by ring.
fn looks_same(a: &Outline, b: &Outline, same_ring: fn(&Ring, &Ring) -> bool) -> bool {
    let (p, q) = (a.bounds(), b.bounds());
    (p.width() - q.width()).abs() <= SAME_OUTLINE
        && (p.height() - q.height()).abs() <= SAME_OUTLINE
        && same_ring(&a.outer, &b.outer)
        && a.holes.len() == b.holes.len()
        && a.holes
            .iter()
            .all(|h| b.holes.iter().any(|g| same_ring(h, g)))
}

/// Whether two rings are the same curve; circles are, wherever their corners lie.
fn same_curve(a: &Ring, b: &Ring) -> bool {
    if let (Some((ca, ra)), Some((cb, rb))) = (as_circle(a), as_circle(b)) {
        return ca.distance(cb) <= SAME_OUTLINE && (ra - rb).abs() <= SAME_OUTLINE;
    }
    same_corners(a, b)
}

/// Whether two rings run through the same corners by the same curves.
fn same_corners(a: &Ring, b: &Ring) -> bool {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Part;

    fn poses_of(outline: Outline, turn: Turn) -> usize {
        let mut part = Part::new("p", outline, 1);
        part.turn = turn;
        let stock = Stock::sheet("s", 1000.0, 1000.0, 1.0, 0);
        let problem = Problem::new(vec![part], vec![stock], vec![None]);
        Catalogue::new(&problem, None, &[], Closeness::Usual)
            .poses(0, 0)
            .len()
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
    fn a_disc_is_where_its_pose_says() {
        // Its chords turn with it, and the grain of the second sheet asks for another angle.
        for radius in [31.7, 64.147_436, 67.841_69] {
            let disc = Outline::from_rings(Ring::circle(Point::new(3.0, 4.0), radius), Vec::new());
            let mut part = Part::new("p", disc, 1);
            (part.turn, part.grain_deg) = (Turn::Free, Some(0.0));
            let stock: Vec<Stock> = [0.0, 30.0, 90.0]
                .iter()
                .map(|grain| Stock {
                    grain_deg: Some(*grain),
                    ..Stock::sheet("s", 1000.0, 1000.0, 1.0, 0)
                })
                .collect();
            let problem = Problem::new(vec![part], stock, vec![None]);
            let catalogue = Catalogue::new(&problem, None, &[], Closeness::Usual);
            for stock in 0..3 {
                let pose = catalogue.poses(0, stock)[0];
                let placed = problem.parts[0]
                    .outline
                    .placed(&pose.placement(Point::default()));
                let turned = &catalogue.turned[pose.turned];
                let far = Point::new(turned.width, turned.height);
                let room = Bounds::new(Point::default(), far).grown(1e-6);
                assert!(room.contains(&placed.covering().bounds()), "{radius}");
            }
        }
    }
}
