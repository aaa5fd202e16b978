//! The largest upright rectangle inside a shape: what a left-over is worth to the next job.

use crate::{Bounds, Point, Polygon};

/// Lengths below this cannot be told from rounding, in millimetres. An edge that reaches this little
/// into a rectangle does not count, so a result pokes out by no more than this.
const SLIVER: f64 = 1e-9;

/// An edge that lies no farther behind a side than this still stops it. A side that a sloping edge has stopped lies a
/// sliver beyond that edge's end, and rounding decides on which side of the core an upright edge from there is.
const BEHIND: f64 = 16.0 * SLIVER;

/// A rectangle slimmer than this is none: so near to its own sides that what limits it along their length
/// cannot be told from the sides.
const SLIM: f64 = 1e-6;

/// Most grid lines along one axis while all edges are upright, where every corner must be a line
/// for the answer to be exact. A square of them in bytes is the memory taken.
const MOST_EXACT_LINES: usize = 3_000;

/// Grid lines along one axis when there are sloped edges. More find a better start for the polish
/// at a cost that grows with the square.
const MOST_SLOPED_LINES: usize = 128;

/// How many of those are spread evenly, for shapes whose corners say little (a triangle has three).
const EVEN_LINES: usize = 32;

/// How many of the best rectangles on the grid are grown off the grid, of those that pass the limits and of
/// those that do not yet. One is seldom enough: the grid's best is often cut short where its runner-up
/// can still grow.
const GROWN: usize = 6;

/// How many of those are polished; it is what takes long.
const POLISHED: usize = 2;

/// The polish stops at steps below this, in millimetres. The sides are always pushed out to the edge
/// exactly; the step is only what one side is given up for the others, and the area hardly changes
/// near the best trade.
const LEAST_STEP: f64 = 1.0;

/// A trade must enlarge the rectangle by this share, or two sides could hand each other ever smaller
/// gains for ever.
const LEAST_GAIN: f64 = 1e-5;

/// Most rounds of trades; a good start needs about ten.
const MOST_ROUNDS: usize = 60;

/// The upright rectangle of the largest area inside `free` whose shorter side is at least
/// `min_width` and whose longer side is at least `min_length` (equality passes); `None` when there
/// is none.
///
/// The border counts as inside. Exact when all edges are upright (with up to 3,000 different
/// coordinates along an axis); with sloped edges a good answer, not proven best, but as large as any whose
/// sides lie at coordinates of corners (up to 96 different ones along an axis). It is truly inside
/// in either case, within a millionth of a millimetre. Of rectangles with the same area the one
/// found first from below is taken. A shape with a coordinate that is not finite has none, and less than a
/// millionth of a millimetre of width is no rectangle.
///
/// # Runtime
/// The product of the numbers of different x and y coordinates, each at most 128 with sloped edges,
/// plus the edges times the rows they span.
///
/// # Source
/// The row-by-row histogram with a stack is the textbook way to list all rectangles of free cells
/// that cannot grow; the largest that passes the limits is among them, because growing never fails
/// a limit.
#[must_use]
pub fn largest_rectangle(free: &Polygon, min_width: f64, min_length: f64) -> Option<Bounds> {
    largest_clear_rectangle(free, &[], min_width, min_length)
}

/// The same as [`largest_rectangle`] for what is left of `field` beside `obstacles`, which may overlap
/// each other and the edge of the field; their holes are no obstacle.
///
/// Much faster than to take the obstacles away first. An obstacle with a coordinate that is not finite
/// is passed over.
#[must_use]
pub fn largest_clear_rectangle(
    field: &Polygon,
    obstacles: &[Polygon],
    min_width: f64,
    min_length: f64,
) -> Option<Bounds> {
    let finite = |p: &Polygon| p.outer.len() >= 3 && p.rings().flatten().all(|q| q.is_finite());
    if !finite(field) {
        return None;
    }
    let bounds = field.bounds();
    let mut shapes = vec![field];
    shapes.extend(
        obstacles
            .iter()
            .filter(|o| finite(o) && o.bounds().touches(&bounds)),
    );
    let passes = |b: &Bounds| {
        let (w, h) = (b.width() + SLIVER, b.height() + SLIVER);
        w.min(h) >= min_width && w.max(h) >= min_length
    };
    let edges: Vec<(Point, Point)> = shapes.iter().flat_map(|s| s.edges()).collect();
    let upright = edges
        .iter()
        .all(|(a, b)| (a.x - b.x).abs() <= SLIVER || (a.y - b.y).abs() <= SLIVER);
    let flipped = |p: Point| Point::new(p.y, p.x);
    let xs = grid_lines(&shapes, |p| p, (bounds.min.x, bounds.max.x), upright);
    let ys = grid_lines(&shapes, flipped, (bounds.min.y, bounds.max.y), upright);
    if xs.len() < 2 || ys.len() < 2 {
        return None;
    }
    let mut fitting = Best::new(if upright { 1 } else { GROWN });
    let mut others = Best::new(if upright { 0 } else { GROWN });
    let blocked = blocked_cells(&shapes, &edges, &xs, &ys);
    maximal_rectangles(&blocked, xs.len() - 1, ys.len() - 1, |c0, c1, r0, r1| {
        let rectangle = Bounds {
            min: Point::new(xs[c0], ys[r0]),
            max: Point::new(xs[c1], ys[r1]),
        };
        if rectangle.width().min(rectangle.height()) < SLIM {
            return;
        }
        if passes(&rectangle) {
            fitting.offer(rectangle);
        } else {
            others.offer(rectangle);
        }
    });
    if upright {
        return fitting.found.into_iter().next();
    }
    let views = Views::new(&edges);
    let starts = fitting.found.into_iter().chain(others.found);
    let mut grown: Vec<Bounds> = starts.map(|start| views.grow(start, EDGES)).collect();
    grown.sort_by(|a, b| {
        let passing_first = passes(b).cmp(&passes(a));
        passing_first.then(b.area().total_cmp(&a.area()))
    });
    let step = (bounds.width() + bounds.height()) / MOST_SLOPED_LINES as f64;
    let mut winner: Option<Bounds> = None;
    for (rank, start) in grown.into_iter().enumerate() {
        let polished = if rank < POLISHED {
            polish(&views, start, step, &passes)
        } else {
            start
        };
        let free = is_free(&shapes, polished.center());
        debug_assert!(free, "{start:?} grew into an obstacle: {polished:?}");
        if free && passes(&polished) && winner.is_none_or(|w| polished.area() > w.area() + SLIVER) {
            winner = Some(polished);
        }
    }
    winner
}

/// Whether a place lies inside the first shape and outside the others.
fn is_free(shapes: &[&Polygon], at: Point) -> bool {
    shapes.iter().enumerate().all(|(index, shape)| {
        let crossings = shape.edges().filter(|(a, b)| {
            (a.y <= at.y) != (b.y <= at.y) && a.x + (at.y - a.y) / (b.y - a.y) * (b.x - a.x) > at.x
        });
        (crossings.count() % 2 == 1) == (index == 0)
    })
}

/// The few largest rectangles seen, largest first.
struct Best {
    most: usize,
    found: Vec<Bounds>,
}

impl Best {
    fn new(most: usize) -> Self {
        Self {
            most,
            found: Vec::with_capacity(most + 1),
        }
    }

    fn offer(&mut self, rectangle: Bounds) {
        let area = rectangle.area();
        if self.most == 0 {
            return;
        }
        if self.found.len() == self.most && self.found.last().is_some_and(|l| area <= l.area()) {
            return;
        }
        let at = self.found.partition_point(|f| f.area() >= area);
        self.found.insert(at, rectangle);
        self.found.truncate(self.most);
    }
}

/// The coordinates, ascending within `range`, that a rectangle's sides are first tried at.
///
/// `view` turns a point so that its x is the coordinate in question.
fn grid_lines(
    shapes: &[&Polygon],
    view: impl Fn(Point) -> Point,
    range: (f64, f64),
    upright: bool,
) -> Vec<f64> {
    let (low, high) = range;
    let mut lines = vec![low, high];
    let mut rest = Vec::new();
    for ring in shapes.iter().flat_map(|s| s.rings()) {
        let n = ring.len();
        for i in 0..n {
            let at = |k: usize| view(ring[k % n]).x;
            let (before, here, after) = (at(i + n - 1), at(i), at(i + 1));
            // A side of a large rectangle lies on an upright edge or at an outermost point sooner
            // than at a corner on a slope.
            let outermost = (before - here) * (after - here) >= -SLIVER;
            let list = if outermost { &mut lines } else { &mut rest };
            list.push(here);
        }
    }
    for list in [&mut lines, &mut rest] {
        list.retain(|v| (low..=high).contains(v));
        list.sort_by(f64::total_cmp);
        list.dedup_by(|later, earlier| *later - *earlier <= SLIVER);
    }
    if upright {
        lines.append(&mut rest);
        return thinned(sorted_distinct(lines), MOST_EXACT_LINES);
    }
    let mut lines = thinned(lines, MOST_SLOPED_LINES - EVEN_LINES);
    lines.append(&mut thinned(
        rest,
        MOST_SLOPED_LINES - EVEN_LINES - lines.len(),
    ));
    lines.extend((1..EVEN_LINES).map(|i| low + (high - low) * i as f64 / EVEN_LINES as f64));
    sorted_distinct(lines)
}

fn sorted_distinct(mut values: Vec<f64>) -> Vec<f64> {
    values.sort_by(f64::total_cmp);
    values.dedup_by(|later, earlier| *later - *earlier <= SLIVER);
    values
}

/// At most `most` of the values, evenly picked, the first and last among them.
fn thinned(values: Vec<f64>, most: usize) -> Vec<f64> {
    let n = values.len();
    if n <= most {
        return values;
    }
    if most < 2 {
        return Vec::new();
    }
    (0..most)
        .map(|i| values[i * (n - 1) / (most - 1)])
        .collect()
}

/// Row by row, whether a cell is not wholly free: inside the first shape and outside the others.
fn blocked_cells(
    shapes: &[&Polygon],
    edges: &[(Point, Point)],
    xs: &[f64],
    ys: &[f64],
) -> Vec<bool> {
    let (columns, rows) = (xs.len() - 1, ys.len() - 1);
    let mut blocked = vec![true; columns * rows];
    // Cells whose middle is inside, by the even-odd rule within each shape.
    let mut crossings = Vec::new();
    for (index, shape) in shapes.iter().enumerate() {
        let bounds = shape.bounds();
        for row in 0..rows {
            let y = 0.5 * (ys[row] + ys[row + 1]);
            if y < bounds.min.y || y > bounds.max.y {
                continue;
            }
            crossings.clear();
            for (a, b) in shape.edges() {
                if (a.y <= y) != (b.y <= y) {
                    crossings.push(a.x + (y - a.y) / (b.y - a.y) * (b.x - a.x));
                }
            }
            crossings.sort_by(f64::total_cmp);
            for inside in crossings.chunks_exact(2) {
                let from = xs.partition_point(|x| *x < inside[0]).saturating_sub(1);
                for column in from..columns {
                    let x = 0.5 * (xs[column] + xs[column + 1]);
                    if x > inside[1] {
                        break;
                    }
                    if x >= inside[0] {
                        blocked[row * columns + column] = index > 0;
                    }
                }
            }
        }
    }
    // Cells that an edge runs through.
    for &(a, b) in edges {
        let (a, b) = if a.x <= b.x { (a, b) } else { (b, a) };
        let mut column = xs.partition_point(|x| *x + SLIVER < a.x).saturating_sub(1);
        while column < columns && xs[column] + SLIVER < b.x.max(a.x + 2.0 * SLIVER) {
            let (left, right) = (xs[column], xs[column + 1]);
            column += 1;
            if a.x >= right - SLIVER || b.x <= left + SLIVER {
                continue;
            }
            let (y0, y1) = span_within(a, b, left, right);
            let mut row = ys.partition_point(|y| *y + SLIVER < y0).saturating_sub(1);
            while row < rows && ys[row] + SLIVER < y1.max(y0 + 2.0 * SLIVER) {
                if y0 < ys[row + 1] - SLIVER && y1 > ys[row] + SLIVER {
                    blocked[row * columns + column - 1] = true;
                }
                row += 1;
            }
        }
    }
    blocked
}

/// The range of y that the edge from `a` to `b` (left to right) covers while x is within
/// `left..right`.
fn span_within(a: Point, b: Point, left: f64, right: f64) -> (f64, f64) {
    let run = b.x - a.x;
    if run <= SLIVER {
        return (a.y.min(b.y), a.y.max(b.y));
    }
    let at = |x: f64| {
        // The ends are returned as they are, without rounding.
        if x <= a.x {
            a.y
        } else if x >= b.x {
            b.y
        } else {
            a.y + (x - a.x) / run * (b.y - a.y)
        }
    };
    let (from, to) = (at(left), at(right));
    (from.min(to), from.max(to))
}

/// Calls `visit` with first column, end column, first row and end row of every rectangle of free
/// cells that cannot grow upward, left or right within the rows from its first to its last.
fn maximal_rectangles(
    blocked: &[bool],
    columns: usize,
    rows: usize,
    mut visit: impl FnMut(usize, usize, usize, usize),
) {
    // Free cells above each other that end in the current row.
    let mut heights = vec![0usize; columns + 1];
    let mut stack: Vec<(usize, usize)> = Vec::new();
    for row in 0..rows {
        for column in 0..columns {
            let free = !blocked[row * columns + column];
            heights[column] = if free { heights[column] + 1 } else { 0 };
        }
        stack.clear();
        for (column, &height) in heights.iter().enumerate() {
            let mut start = column;
            while let Some(&(from, tall)) = stack.last() {
                if tall <= height {
                    break;
                }
                stack.pop();
                visit(from, column, row + 1 - tall, row + 1);
                start = from;
            }
            if height > 0 && stack.last().is_none_or(|&(_, tall)| tall < height) {
                stack.push((start, height));
            }
        }
    }
}

/// The sides of a rectangle, for the polish.
#[derive(Clone, Copy, PartialEq)]
enum Edge {
    Left,
    Right,
    Bottom,
    Top,
}

const EDGES: [Edge; 4] = [Edge::Left, Edge::Right, Edge::Bottom, Edge::Top];

/// An edge as seen by [`Views`], its ends sorted by y.
struct Seen {
    low: Point,
    high: Point,
    /// Range of x.
    near: f64,
    far: f64,
}

/// The edges looked at so that the side in question is always the right one; sorted by their least x.
struct Views([Vec<Seen>; 4]);

impl Edge {
    fn view(self, p: Point) -> Point {
        match self {
            Self::Right => p,
            Self::Left => Point::new(-p.x, p.y),
            Self::Top => Point::new(p.y, p.x),
            Self::Bottom => Point::new(-p.y, p.x),
        }
    }
}

impl Views {
    fn new(edges: &[(Point, Point)]) -> Self {
        Self(EDGES.map(|side| {
            let mut seen: Vec<Seen> = edges
                .iter()
                .map(|&(a, b)| {
                    let (a, b) = (side.view(a), side.view(b));
                    let (low, high) = if a.y <= b.y { (a, b) } else { (b, a) };
                    Seen {
                        low,
                        high,
                        near: a.x.min(b.x),
                        far: a.x.max(b.x),
                    }
                })
                .collect();
            seen.sort_by(|a, b| a.near.total_cmp(&b.near));
            seen
        }))
    }

    /// `rectangle` with one side pushed out until it meets an edge of the shape.
    ///
    /// # Proof that it stays free
    /// Let the core be the rectangle less a sliver on every side, and no edge run through it. All of an edge within
    /// the strip ahead of the core counts, also where the edge begins beside the core or has come into it by
    /// rounding: then the side stays where it is. So no edge runs through the core pushed out either, and what
    /// is free at one place of it is free everywhere. Edges at the border of the core count as ahead, with room for
    /// rounding: [`BEHIND`]. It needs a core that is wider than what edges may reach into the rectangle, or those
    /// behind it would be missed: hence [`SLIM`].
    fn pushed(&self, rectangle: Bounds, side: Edge) -> Bounds {
        let own = Bounds::new(side.view(rectangle.min), side.view(rectangle.max));
        let (low, high) = (own.min.y + SLIVER, own.max.y - SLIVER);
        let mut limit = f64::INFINITY;
        for edge in &self.0[side as usize] {
            if edge.near >= limit {
                break;
            }
            let behind = edge.far <= own.max.x - BEHIND;
            if behind || edge.low.y >= high || edge.high.y <= low {
                continue;
            }
            // The same clipping as for the grid, with x and y exchanged.
            let flip = |p: Point| Point::new(p.y, p.x);
            let (near, far) = span_within(flip(edge.low), flip(edge.high), low, high);
            if far > own.max.x - BEHIND {
                limit = limit.min(near);
            }
        }
        if !limit.is_finite() || limit <= own.max.x {
            return rectangle;
        }
        moved(rectangle, side, limit - own.max.x)
    }

    /// `rectangle` with its sides pushed out in this order.
    fn grow(&self, rectangle: Bounds, order: [Edge; 4]) -> Bounds {
        order
            .iter()
            .fold(rectangle, |r, side| self.pushed(r, *side))
    }
}

/// `rectangle` with one side moved outward by `by`.
fn moved(mut rectangle: Bounds, side: Edge, by: f64) -> Bounds {
    match side {
        Edge::Left => rectangle.min.x -= by,
        Edge::Right => rectangle.max.x += by,
        Edge::Bottom => rectangle.min.y -= by,
        Edge::Top => rectangle.max.y += by,
    }
    rectangle
}

/// Trades one side of a free rectangle against the others while that enlarges it; one that passes the limits
/// keeps doing so.
fn polish(views: &Views, start: Bounds, step: f64, passes: &impl Fn(&Bounds) -> bool) -> Bounds {
    let mut best = start;
    let mut step = step;
    // Small shapes are measured by their own size.
    let least = LEAST_STEP.min(step / 32.0);
    for _ in 0..MOST_ROUNDS {
        if step <= least {
            break;
        }
        let mut improved = false;
        for side in EDGES {
            let given = moved(best, side, -step);
            if given.width() < SLIM || given.height() < SLIM {
                continue;
            }
            let across = match side {
                Edge::Left | Edge::Right => [Edge::Bottom, Edge::Top, Edge::Left, Edge::Right],
                Edge::Bottom | Edge::Top => [Edge::Left, Edge::Right, Edge::Bottom, Edge::Top],
            };
            for order in [across, [across[1], across[0], across[2], across[3]]] {
                let tried = views.grow(given, order);
                let larger = tried.area() > best.area() * (1.0 + LEAST_GAIN);
                if larger && (passes(&tried) || !passes(&best)) {
                    best = tried;
                    improved = true;
                }
            }
        }
        if !improved {
            step *= 0.5;
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Outline, Placement, Ring, Side};
    use proptest::prelude::*;

    fn polygon(points: &[(f64, f64)]) -> Polygon {
        Polygon::new(
            points.iter().map(|&(x, y)| Point::new(x, y)).collect(),
            Vec::new(),
        )
    }

    fn any(free: &Polygon) -> Bounds {
        largest_rectangle(free, 0.0, 0.0).expect("there is room")
    }

    /// Whether the rectangle, drawn in by a millionth, lies inside by the `geo` crate's predicates.
    fn lies_inside(free: &Polygon, rectangle: Bounds) -> bool {
        use geo::Contains;
        free.to_geo()
            .contains(&Polygon::from_bounds(rectangle.grown(-1e-6)).to_geo())
    }

    #[test]
    fn a_side_never_passes_an_obstacle() {
        let field = Polygon::rectangle(900.0, 600.0);
        let obstacles = [
            &[
                (2.0, 140.7581),
                (10.758100000000013, 132.0),
                (199.2419, 132.0),
                (208.0, 140.7581),
                (208.0, 429.2419),
                (199.2419, 438.0),
                (10.758100000000013, 438.0),
                (2.0, 429.2419),
            ][..],
            &[
                (205.0, 10.758099999999999),
                (213.7581, 2.0),
                (402.2419, 2.0),
                (411.0, 10.758099999999999),
                (411.0, 299.2419),
                (402.2419, 308.0),
                (213.7581, 308.0),
                (205.0, 299.2419),
            ],
            &[
                (-0.2003, 437.7997),
                (199.159, 437.7997),
                (207.7997, 429.159),
                (207.7997, 307.7997),
                (402.159, 307.7997),
                (410.7997, 299.159),
                (410.7997, -0.2003),
                (900.2003, -0.2003),
                (900.2003, 600.2003),
                (-0.2003, 600.2003),
            ],
        ]
        .map(polygon);
        for least in [0.0, 50.0, 100.0, 120.0] {
            for length in [100.0, 200.0, 300.0, 400.0] {
                let found = largest_clear_rectangle(&field, &obstacles, least, length);
                assert!(
                    found.is_none_or(|f| f.max.x <= 206.0 || f.max.y < 10.0),
                    "{least} {length}: {found:?}"
                );
            }
        }
    }

    #[test]
    fn upright_shapes_are_exact() {
        assert_eq!(any(&Polygon::rectangle(30.0, 20.0)).area(), 600.0);
        let l = polygon(&[
            (0.0, 0.0),
            (90.0, 0.0),
            (90.0, 30.0),
            (40.0, 30.0),
            (40.0, 80.0),
            (0.0, 80.0),
        ]);
        // Of 90 x 30 and 40 x 80 the upright arm is the larger.
        assert_eq!(any(&l).area(), 3_200.0);
        // With the limits the other arm is the only one that is long enough.
        let long = largest_rectangle(&l, 30.0, 85.0).expect("the lower arm");
        assert_eq!((long.width(), long.height()), (90.0, 30.0));
        assert!(largest_rectangle(&l, 30.1, 85.0).is_none());
        let mut frame = Polygon::rectangle(100.0, 60.0);
        frame.holes.push(
            Bounds::new(Point::new(20.0, 10.0), Point::new(50.0, 50.0))
                .corners()
                .to_vec(),
        );
        let right = any(&frame);
        assert_eq!(
            (right.min.x, right.max.x, right.height()),
            (50.0, 100.0, 60.0)
        );
    }

    #[test]
    fn curved_shapes_come_near_the_formula() {
        // Largest in a circle: the square of side r sqrt 2, area 2 r^2. In a right triangle: half.
        let disc = Outline::from_rings(Ring::circle(Point::new(5.0, -3.0), 100.0), Vec::new());
        let found = any(&disc.flatten(0.02, Side::Within));
        assert!(
            found.area() > 0.995 * 20_000.0 && found.area() < 20_000.0,
            "{}",
            found.area()
        );
        let triangle = polygon(&[(0.0, 0.0), (400.0, 0.0), (0.0, 300.0)]);
        let found = any(&triangle);
        assert!(found.area() > 0.999 * 30_000.0 && found.area() <= 30_000.001);
        assert!(lies_inside(&triangle, found));
    }

    #[test]
    fn a_turned_sheet_keeps_most_of_its_middle() {
        let turned =
            Polygon::rectangle(400.0, 200.0).placed(&Placement::new(20.0, Point::default()));
        let found = any(&turned);
        assert!(lies_inside(&turned, found));
        // The upright rectangle of largest area inside a turned one, from the textbook formula for
        // the case where the short side is the limit: (b / (2 sin)) * (b / (2 cos)).
        let (sin, cos) = 20f64.to_radians().sin_cos();
        let formula = if 200.0 <= 2.0 * sin * cos * 400.0 {
            0.25 * 200.0 * 200.0 / (sin * cos)
        } else {
            let c2 = cos * cos - sin * sin;
            (400.0 * cos - 200.0 * sin) / c2 * (200.0 * cos - 400.0 * sin) / c2
        };
        assert!(found.area() > 0.98 * formula && found.area() < formula + 1e-3);
    }

    #[test]
    fn free_is_inside_the_field_and_outside_the_obstacles() {
        let field = polygon(&[(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]);
        let obstacle = polygon(&[(5.0, 0.0), (9.0, 0.0), (5.0, 8.0)]);
        let free = |x: f64, y: f64| is_free(&[&field, &obstacle], Point::new(x, y));
        assert!(free(2.0, 5.0) && free(9.0, 9.0));
        assert!(!free(6.0, 2.0) && !free(11.0, 5.0));
    }

    #[test]
    fn nothing_comes_of_no_shape() {
        assert!(largest_rectangle(&Polygon::default(), 0.0, 0.0).is_none());
        let flat = polygon(&[(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)]);
        assert!(largest_rectangle(&flat, 0.0, 0.0).is_none());
        let nan = polygon(&[(0.0, 0.0), (f64::NAN, 0.0), (20.0, 5.0)]);
        assert!(largest_rectangle(&nan, 0.0, 0.0).is_none());
    }

    /// Stairs of random steps under a random skyline, with a few upright holes.
    fn skyline() -> impl Strategy<Value = (Polygon, Vec<Vec<bool>>)> {
        proptest::collection::vec((1usize..8, 1usize..8), 2..8).prop_map(|towers| {
            let width = towers.len();
            let mut points = vec![(0.0, 0.0), (width as f64, 0.0)];
            let mut cells = vec![vec![false; width]; 8];
            for (i, &(height, hole)) in towers.iter().enumerate().rev() {
                points.push(((i + 1) as f64, height as f64));
                points.push((i as f64, height as f64));
                for (row, line) in cells.iter_mut().enumerate() {
                    // A hole may share its sides with the edge, but not its top.
                    line[i] = row < height && !(i % 2 == 1 && hole == row && row + 1 < height);
                }
            }
            let mut free = polygon(&points);
            for (i, &(height, hole)) in towers.iter().enumerate() {
                if i % 2 == 1 && hole + 1 < height {
                    let min = Point::new(i as f64, hole as f64);
                    let corner = Point::new((i + 1) as f64, (hole + 1) as f64);
                    let mut ring = Bounds::new(min, corner).corners().to_vec();
                    ring.reverse();
                    free.holes.push(ring);
                }
            }
            (free, cells)
        })
    }

    proptest! {
        #[test]
        fn matches_brute_force_over_cells((free, cells) in skyline()) {
            let width = cells[0].len();
            let mut most = 0;
            for r0 in 0..8 { for r1 in r0 + 1..=8 { for c0 in 0..width { for c1 in c0 + 1..=width {
                if (r0..r1).all(|r| (c0..c1).all(|c| cells[r][c])) {
                    most = most.max((r1 - r0) * (c1 - c0));
                }
            }}}}
            prop_assert_eq!(any(&free).area(), most as f64);
        }

        #[test]
        fn obstacles_count_as_if_taken_away(
            discs in proptest::collection::vec((0.0f64..400.0, 0.0f64..300.0, 10.0f64..60.0, 0usize..3), 0..9),
        ) {
            let field = Polygon::rectangle(400.0, 300.0);
            let obstacles: Vec<Polygon> = discs.iter().map(|&(x, y, r, kind)| match kind {
                0 => Outline::from_rings(Ring::circle(Point::new(x, y), r), Vec::new()).covering(),
                1 => Polygon::rectangle(r, 2.0 * r).placed(&Placement::new(x, Point::new(x, y))),
                _ => {
                    let mut frame = Polygon::from_bounds(Bounds::new(Point::new(x, y), Point::new(x + 2.0 * r, y + 2.0 * r)));
                    frame.holes.push(frame.bounds().grown(-0.2 * r).corners().to_vec());
                    frame
                }
            }).collect();
            let left = crate::Region::from(&field).difference(&obstacles);
            let found = largest_clear_rectangle(&field, &obstacles, 5.0, 5.0);
            if let Some(found) = found {
                let rectangle = crate::Region::from(Polygon::from_bounds(found.grown(-2e-4)));
                prop_assert!(rectangle.without(&left).is_empty(), "{found:?}");
            }
            // As good as after taking them away one by one, but for the luck of the search.
            let areas = left.polygons().into_iter().filter_map(|p| largest_rectangle(&p, 5.0, 5.0)).map(|b| b.area());
            let other = areas.fold(0.0, f64::max);
            prop_assert!(found.map_or(0.0, |b| b.area()) > 0.9 * other - 50.0);
        }

        #[test]
        fn always_lies_inside(
            radii in proptest::collection::vec(20.0f64..200.0, 5..24),
            turn in 0.0f64..360.0,
        ) {
            let n = radii.len() as f64;
            let star: Vec<Point> = radii.iter().enumerate().map(|(i, r)| {
                Point::default() + crate::Vec2::from_angle(i as f64 / n * std::f64::consts::TAU, *r)
            }).collect();
            let mut free = Polygon::new(star, Vec::new()).placed(&Placement::new(turn, Point::new(7.0, 9.0)));
            free.holes.push(Ring::circle(Point::new(7.0, 9.0), 5.0).reversed().flatten(0.02, Side::Within));
            if let Some(found) = largest_rectangle(&free, 0.0, 0.0) {
                prop_assert!(lies_inside(&free, found), "{found:?}");
            }
        }
    }
}
#[cfg(test)]
mod brute_force;
