//! Lattices: a unit of one or two copies moved by all whole sums of two displacements, so that each lies among the others as every
//! other one does.
//!
//! Of two displacements that are as close as can be, one leads to a corner of what a unit forbids to the next one, and the other to where
//! borders of what the units of that row forbid cross. So first displacements are taken from corners and middles of the border, and for each
//! the crossings are looked through from the nearest row on. What was found is then slid along the border a little.

use super::convex::CONTACT;
use super::nofit::Edge;
use super::shape::Pose;
use super::tables::Tables;
use super::unit::{Keep, Unit};
use super::work::{Watch, Work};
use panelwright_geometry::{Bounds, Point, Vec2};

/// Lattices that are cut by stock at most, and by how much more area than the closest one they may take for each copy: edges suit one
/// better than another.
const KEPT: usize = 24;
const SLACK: f64 = 1.04;

/// First displacements that are tried for each unit: of round parts only some.
const FIRSTS: usize = 64;

/// Edges of a border shorter than this share of its size have no middle worth a try.
const SHORT: f64 = 0.03;

/// Displacements nearer to each other than this, in millimetres, are one.
const SAME: f64 = 1e-6;

/// The closest lattices are slid, so many of them, by so many looks along an edge of the border and so many closer ones.
const SLID: usize = 6;
const SLIDES: u32 = 8;
const CLOSER: u32 = 24;

/// Ways in which a lattice is laid under the edges of stock, along each of its displacements.
const OFFSETS: u32 = 16;

/// Halvings of the length of a strip.
const HALVINGS: u32 = 40;

/// Tests of two lines for a crossing that take as long as one look.
const TESTS_PER_LOOK: u64 = 8;

/// A unit and the displacements by which it is repeated.
#[derive(Debug, Clone)]
pub(super) struct Lattice {
    /// Index of the unit.
    pub unit: usize,
    /// The displacements, the shorter one first; counter-clockwise.
    pub steps: [Vec2; 2],
    /// Area that it takes for each copy.
    pub area: f64,
}

impl Lattice {
    /// Sum of the lengths of its displacements.
    pub fn span(&self) -> f64 {
        self.steps[0].length() + self.steps[1].length()
    }
}

/// What is known of one unit.
struct Ground {
    keep: Keep,
    border: Vec<Edge>,
    /// No lattice takes less area for a unit.
    least: f64,
}

impl Ground {
    fn of(unit: &Unit, least: f64, tables: &Tables, work: &mut Work) -> Option<Self> {
        let keep = Keep::of(unit, tables)?;
        let border = keep.border(work);
        Some(Self {
            keep,
            border,
            least,
        })
    }

    /// First displacements: corners and middles of the border, and contacts along the axes; upward ones, as the border is the same
    /// seen from the other side.
    fn firsts(&self) -> Vec<Vec2> {
        let bounds = &self.keep.bounds;
        let short = SHORT * (bounds.width() + bounds.height());
        let along_axes = [Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0)];
        let mut firsts: Vec<Vec2> = Vec::new();
        let corners = self.border.iter().map(|e| e.from.to_vec());
        let long = self.border.iter().filter(|e| e.along.length() > short);
        let middles = long.map(|e| (e.from + e.along * 0.5).to_vec());
        for v in corners.chain(middles) {
            let upward = v.y > SAME || v.y > -SAME && v.x > 0.0;
            if upward && v.length() > SAME {
                firsts.push(v);
            }
        }
        firsts.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
        firsts.dedup_by(|a, b| (*a - *b).length() < SAME);
        firsts.sort_by(|a, b| a.dot(*a).total_cmp(&b.dot(*b)));
        let every = firsts.len().div_ceil(FIRSTS).max(1);
        let axes = along_axes.into_iter().map(|way| way * self.keep.reach(way));
        axes.filter(|v| v.length() > SAME && v.length().is_finite())
            .chain(firsts.into_iter().step_by(every))
            .collect()
    }

    /// Whether a row of units `first` apart is allowed.
    fn allows_row(&self, first: Vec2, work: &mut Work) -> bool {
        let far = self.keep.bounds.width() + self.keep.bounds.height();
        let most = (far / first.length()).min(1e3) as u32;
        (1..=most.max(1)).all(|k| self.keep.allows(first * f64::from(k), work))
    }

    /// Whether the rows above such a row are allowed, each moved on by `second`.
    fn allows_rows(&self, first: Vec2, second: Vec2, work: &mut Work) -> bool {
        let area = first.cross(second);
        let corners = self.keep.bounds.corners();
        let reach = corners.map(|c| first.cross(c.to_vec())).into_iter();
        let up = (reach.fold(0.0, f64::max) / area).min(1e3) as u32;
        (1..=up.max(1)).all(|j| {
            let from = second * f64::from(j);
            let Some((begin, end)) = within(from, first, &self.keep.bounds) else {
                return true;
            };
            (begin..=end).all(|i| self.keep.allows(from + first * i as f64, work))
        })
    }

    /// The second displacement by which rows of units `first` apart take least area, below `most`; and that area.
    fn second(&self, first: Vec2, most: f64, work: &mut Work) -> Option<(f64, Vec2)> {
        if most < self.least || !self.allows_row(first, work) {
            return None;
        }
        let sides = self.sides(first, most);
        let mut meeting: Vec<(f64, f64)> = Vec::new();
        let mut tests = sides.len() as u64;
        for (i, side) in sides.iter().enumerate() {
            for (u, area, is_end) in side.ends {
                if is_end {
                    meeting.push((area, u - u.floor()));
                }
            }
            for other in &sides[i + 1..] {
                tests += 1;
                if other.low > side.high {
                    // They come from the lowest on.
                    break;
                }
                if other.high < side.low {
                    continue;
                }
                let from = (side.left - other.right).ceil() as i32;
                let to = (side.right - other.left).floor() as i32;
                for k in from..=to {
                    tests += 1;
                    if let Some((u, area)) = side.crossing(other, f64::from(k)) {
                        meeting.push((area, u - u.floor()));
                    }
                }
            }
        }
        work.add(tests / TESTS_PER_LOOK);
        meeting.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
        let across = first.left() * (1.0 / first.dot(first));
        let mut last = (f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (area, u) in meeting {
            let near = |a: f64, b: f64| (a - b).abs() < 1e-9;
            if near(area / last.0, 1.0) && near(u, last.1) {
                continue;
            }
            last = (area, u);
            let second = first * u + across * area;
            if self.allows_rows(first, second, work) {
                return Some((area, second));
            }
            if work.spent() {
                return None;
            }
        }
        None
    }

    /// The border as the rows see it that are a row or two above one of units `first` apart, as far as these take at least and at
    /// `most` so much area; the lowest first.
    fn sides(&self, first: Vec2, most: f64) -> Vec<Side> {
        let scale = 1.0 / first.dot(first);
        let (low, high) = (self.least * (1.0 - 1e-9), most);
        let mut sides: Vec<Side> = Vec::new();
        for edge in &self.border {
            let (p, q) = (edge.from.to_vec(), (edge.from + edge.along).to_vec());
            // The row after next is at twice the displacement, so it keeps that out of the half of what it forbids.
            for (share, moved) in [(1.0, 0.0), (0.5, 0.0), (0.5, 0.5)] {
                let seen = |v: Vec2| {
                    let u = first.dot(v) * scale * share + moved;
                    (u, first.cross(v) * share)
                };
                sides.extend(Side::cut(seen(p), seen(q), low, high));
            }
        }
        sides.sort_by(|a, b| a.low.total_cmp(&b.low));
        sides
    }

    /// The lattice of two displacements, slid along the border as long as it takes less area.
    fn slid(&self, mut steps: [Vec2; 2], watch: &Watch, work: &mut Work) -> [Vec2; 2] {
        for _ in 0..2 {
            let (first, second) = (steps[0], steps[1]);
            let mut best = (first.cross(second), first, second);
            let on = |edge: &&Edge| {
                let length = edge.along.length();
                let off = first - edge.from.to_vec();
                let along = edge.along * (1.0 / length.max(1e-12));
                let at = along.dot(off).clamp(0.0, length);
                length > SAME && (off - along * at).length() < SAME
            };
            for edge in self.border.iter().filter(on) {
                if watch.stopped() || work.spent() {
                    return [best.1, best.2];
                }
                let at = |share: f64| (edge.from + edge.along * share).to_vec();
                let mut look = |share: f64| {
                    let first = at(share);
                    let found = self.second(first, best.0, work);
                    let (area, second) = found.unwrap_or((f64::INFINITY, Vec2::default()));
                    if area < best.0 {
                        best = (area, first, second);
                    }
                    area
                };
                let (mut least, mut middle) = (f64::INFINITY, 0.0);
                for i in 0..=SLIDES {
                    let share = f64::from(i) / f64::from(SLIDES);
                    let area = look(share);
                    if area < least {
                        (least, middle) = (area, share);
                    }
                }
                let mut step = 0.5 / f64::from(SLIDES);
                for _ in 0..CLOSER / 2 {
                    for share in [middle - step, middle + step] {
                        let area = look(share.clamp(0.0, 1.0));
                        if area < least {
                            (least, middle) = (area, share.clamp(0.0, 1.0));
                        }
                    }
                    step *= 0.5;
                }
            }
            // Then the other one along its edge.
            steps = [best.2, -best.1];
        }
        steps
    }
}

/// A piece of border seen from a row: shares of the row's displacement and, across, areas.
struct Side {
    /// Both ends, each with whether the border ends there too.
    ends: [(f64, f64, bool); 2],
    low: f64,
    high: f64,
    left: f64,
    right: f64,
}

impl Side {
    /// What of the line from `p` to `q` lies between two areas.
    fn cut(p: (f64, f64), q: (f64, f64), low: f64, high: f64) -> Option<Self> {
        let (p, q) = if p.1 <= q.1 { (p, q) } else { (q, p) };
        if q.1 < low || p.1 > high {
            return None;
        }
        let at = |area: f64| {
            (
                p.0 + (q.0 - p.0) * ((area - p.1) / (q.1 - p.1)),
                area,
                false,
            )
        };
        let from = if p.1 < low { at(low) } else { (p.0, p.1, true) };
        let to = if q.1 > high {
            at(high)
        } else {
            (q.0, q.1, true)
        };
        Some(Self {
            ends: [from, to],
            low: from.1,
            high: to.1,
            left: from.0.min(to.0),
            right: from.0.max(to.0),
        })
    }

    /// Where the other one, moved by `by`, crosses it.
    fn crossing(&self, other: &Self, by: f64) -> Option<(f64, f64)> {
        let [(u, area, _), (u_end, area_end, _)] = self.ends;
        let [(v, of, _), (v_end, of_end, _)] = other.ends;
        let own = Vec2::new(u_end - u, area_end - area);
        let its = Vec2::new(v_end - v, of_end - of);
        let turn = own.cross(its);
        // Areas are far larger than shares, so their product says whether two are parallel.
        if turn.abs() <= 1e-12 * (own.x * its.y).abs().max((own.y * its.x).abs()) {
            return None;
        }
        let off = Vec2::new(v + by - u, of - area);
        let (s, t) = (off.cross(its) / turn, off.cross(own) / turn);
        let on = -1e-9..=1.0 + 1e-9;
        (on.contains(&s) && on.contains(&t)).then_some((u + own.x * s, area + own.y * s))
    }
}

/// The first and last whole multiples of `step` at which `from` and them together lie in `room`.
fn within(from: Vec2, step: Vec2, room: &Bounds) -> Option<(i64, i64)> {
    let (mut begin, mut end) = (f64::NEG_INFINITY, f64::INFINITY);
    for (at, by, low, high) in [
        (from.x, step.x, room.min.x, room.max.x),
        (from.y, step.y, room.min.y, room.max.y),
    ] {
        if by.abs() < 1e-12 {
            if at < low || at > high {
                return None;
            }
        } else {
            let (s, t) = ((low - at) / by, (high - at) / by);
            begin = begin.max(s.min(t));
            end = end.min(s.max(t));
        }
    }
    let (begin, end) = (begin.ceil(), end.floor());
    (begin <= end).then_some((begin as i64, end as i64))
}

/// The same lattice by its shortest displacements, counter-clockwise.
fn reduced([mut a, mut b]: [Vec2; 2]) -> [Vec2; 2] {
    // Lagrange's reduction ends after few rounds; rounding may make it go to and fro.
    for _ in 0..64 {
        if a.dot(a) > b.dot(b) {
            (a, b) = (b, a);
        }
        let times = (a.dot(b) / a.dot(a)).round();
        if times == 0.0 {
            break;
        }
        b = b - a * times;
    }
    if a.cross(b) < 0.0 {
        b = -b;
    }
    [a, b]
}

/// The lattices of `units` that take least area, the closest first.
pub(super) fn closest(
    tables: &Tables,
    part: usize,
    units: &[Unit],
    watch: &Watch,
    work: &mut Work,
) -> Vec<Lattice> {
    let mut kept = Kept(Vec::new());
    let gap = tables.problem.gap;
    // Side by side they always may lie.
    let boxes = units
        .iter()
        .map(|u| (u.width + gap) * (u.height + gap) / u.copies.len() as f64);
    let widest = boxes.fold(f64::INFINITY, f64::min) * (1.0 + 1e-9);
    let mut grounds: Vec<Option<Ground>> = Vec::new();
    for (i, unit) in units.iter().enumerate() {
        // What of the work is left is shared by the units and by sliding.
        let mut own = work.split(work.left() / (units.len() - i + 1) as u64);
        let copies = unit.copies.len() as f64;
        let least = copies * tables.catalogue.shape(part).area;
        let ground = Ground::of(unit, least, tables, &mut own);
        for first in ground.iter().flat_map(Ground::firsts) {
            if watch.stopped() || own.spent() {
                break;
            }
            let most = copies * kept.most().unwrap_or(widest);
            let second = ground
                .as_ref()
                .and_then(|g| g.second(first, most, &mut own));
            if let Some((_, second)) = second {
                kept.add(i, [first, second], copies);
            }
        }
        work.join(&own);
        grounds.push(ground);
    }
    for lattice in kept.0.iter().take(SLID).cloned().collect::<Vec<_>>() {
        if let Some(ground) = &grounds[lattice.unit] {
            let steps = ground.slid(lattice.steps, watch, work);
            kept.add(lattice.unit, steps, units[lattice.unit].copies.len() as f64);
        }
    }
    kept.0
}

/// The closest lattices so far, the closest first.
struct Kept(Vec<Lattice>);

impl Kept {
    /// The area for each copy above which another one does not matter.
    fn most(&self) -> Option<f64> {
        Some(self.0.first()?.area * SLACK)
    }

    fn add(&mut self, unit: usize, steps: [Vec2; 2], copies: f64) {
        let steps = reduced(steps);
        let area = steps[0].cross(steps[1]) / copies;
        let same = |l: &Lattice| {
            let alike = |a: Vec2, b: Vec2| (a - b).length().min((a + b).length()) < SAME;
            l.unit == unit && alike(l.steps[0], steps[0]) && alike(l.steps[1], steps[1])
        };
        if area <= 0.0 || !area.is_finite() || self.0.iter().any(same) {
            return;
        }
        self.0.push(Lattice { unit, steps, area });
        self.0.sort_by(|a, b| a.area.total_cmp(&b.area));
        self.0.truncate(KEPT);
        if let Some(most) = self.most() {
            self.0.retain(|l| l.area <= most);
        }
    }
}

/// A lattice as it is cut out by the edges of stock.
pub(super) struct Cutting<'a> {
    lattice: &'a Lattice,
    unit: &'a Unit,
    /// Sizes of the unit's copies.
    sizes: Vec<Vec2>,
}

impl<'a> Cutting<'a> {
    /// Of one of `units`.
    pub fn new(tables: &Tables, lattice: &'a Lattice, units: &'a [Unit]) -> Self {
        let unit = &units[lattice.unit];
        let size = |(pose, _): &(Pose, Vec2)| {
            let turned = &tables.catalogue.turned[pose.turned];
            Vec2::new(turned.width, turned.height)
        };
        Self {
            lattice,
            unit,
            sizes: unit.copies.iter().map(size).collect(),
        }
    }

    /// Calls `found` with each row of copies that lie in a room of this size: the copy's index, its first place, and how many
    /// there are, each the lattice's first step further.
    fn rows(&self, off: Vec2, size: Vec2, mut found: impl FnMut(usize, Vec2, i64)) {
        let [a, b] = self.lattice.steps;
        for (copy, ((_, to), own)) in self.unit.copies.iter().zip(&self.sizes).enumerate() {
            let far = size - *own;
            let rounded = 0.2 * CONTACT;
            if far.x < -rounded || far.y < -rounded {
                continue;
            }
            let room = Bounds::new(Point::default(), Point::new(far.x.max(0.0), far.y.max(0.0)))
                .grown(rounded);
            let from = off + *to;
            let across = room.corners().map(|c| a.cross(c.to_vec() - from));
            let area = a.cross(b);
            let lowest = across.into_iter().fold(f64::INFINITY, f64::min) / area;
            let highest = across.into_iter().fold(f64::NEG_INFINITY, f64::max) / area;
            for j in lowest.ceil() as i64..=highest.floor() as i64 {
                let row = from + b * j as f64;
                if let Some((begin, end)) = within(row, a, &room) {
                    found(copy, row + a * begin as f64, end - begin + 1);
                }
            }
        }
    }

    /// Copies that lie in a room of this size.
    fn count(&self, off: Vec2, size: Vec2, work: &mut Work) -> u64 {
        let (mut copies, mut rows) = (0, 0);
        self.rows(off, size, |_, _, n| {
            copies += n as u64;
            rows += 1;
        });
        work.add(1 + rows / 2);
        copies
    }

    /// The copies that lie in a room of this size, those that end furthest left first, moved into its corner.
    pub fn laid(&self, off: Vec2, size: Vec2) -> Vec<(Pose, Vec2)> {
        let mut laid: Vec<(f64, Pose, Vec2)> = Vec::new();
        let step = self.lattice.steps[0];
        self.rows(off, size, |copy, from, n| {
            let pose = self.unit.copies[copy].0;
            for i in 0..n {
                let at = from + step * i as f64;
                laid.push((at.x + self.sizes[copy].x, pose, at));
            }
        });
        laid.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.y.total_cmp(&b.2.y)));
        let low = |of: fn(&Vec2) -> f64| {
            let all = laid.iter().map(|(.., at)| of(at));
            all.fold(f64::INFINITY, f64::min)
        };
        let corner = Vec2::new(low(|v| v.x), low(|v| v.y));
        laid.into_iter()
            .map(|(_, pose, at)| (pose, at - corner))
            .collect()
    }

    /// Ways to lie under the edges: the displacements divided alike.
    fn offsets(&self) -> impl Iterator<Item = Vec2> {
        let [a, b] = self.lattice.steps;
        let share = |i: u32| f64::from(i) / f64::from(OFFSETS);
        (0..OFFSETS * OFFSETS).map(move |i| a * share(i / OFFSETS) + b * share(i % OFFSETS))
    }

    /// The way in which most copies go into a room of this size, and how many.
    pub fn fullest(&self, size: Vec2, watch: &Watch, work: &mut Work) -> (u64, Vec2) {
        let mut best = (0, Vec2::default());
        for off in self.offsets() {
            if work.spent() || watch.stopped() {
                break;
            }
            let count = self.count(off, size, work);
            if count > best.0 {
                best = (count, off);
            }
        }
        best
    }

    /// The way in which so many copies take least length in a room of this height, below `most`, and that length.
    pub fn shortest(
        &self,
        copies: u64,
        height: f64,
        most: f64,
        watch: &Watch,
        work: &mut Work,
    ) -> Option<(f64, Vec2)> {
        let mut best: Option<(f64, Vec2)> = None;
        let mut most = most;
        for off in self.offsets() {
            if work.spent() || watch.stopped() {
                break;
            }
            if self.count(off, Vec2::new(most, height), work) < copies {
                continue;
            }
            let mut too_short = 0.0;
            for _ in 0..HALVINGS {
                let middle = 0.5 * (too_short + most);
                if self.count(off, Vec2::new(middle, height), work) < copies {
                    too_short = middle;
                } else {
                    most = middle;
                }
            }
            best = Some((most, off));
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::freeform::unit::units;
    use crate::{Budget, Control, Part, Problem, Stock, Turn};
    use panelwright_geometry::Outline;
    use proptest::prelude::*;

    fn problem(corners: &[(f64, f64)], turn: Turn, gap: f64) -> Problem {
        let outline = Outline::polygon(corners.iter().map(|&(x, y)| Point::new(x, y)));
        let part = Part {
            turn,
            ..Part::new("p", outline, 100)
        };
        let stock = Stock::sheet("s", 2000.0, 1000.0, 1.0, 0);
        Problem {
            gap,
            ..Problem::new(vec![part], vec![stock], vec![None])
        }
    }

    fn found(problem: &Problem, steps: u64) -> (Vec<Lattice>, u64) {
        let tables = Tables::new(problem, None);
        let units = units(&tables, 0, 0);
        let control = Control::none();
        let watch = Watch::new(&Budget::default(), &control);
        let mut work = Work::of_steps(steps);
        let lattices = closest(&tables, 0, &units, &watch, &mut work);
        for lattice in &lattices {
            // None of the units comes too near to any other one.
            let keep = Keep::of(&units[lattice.unit], &tables).expect("areas");
            for (i, j) in (-12..=12).flat_map(|i| (-12..=12).map(move |j| (i, j))) {
                let off = lattice.steps[0] * f64::from(i) + lattice.steps[1] * f64::from(j);
                assert!((i, j) == (0, 0) || keep.depth(off) <= CONTACT);
            }
        }
        (lattices, work.steps())
    }

    #[test]
    fn thin_brackets_lie_aslant() {
        let bracket = [
            (0.0, 0.0),
            (90.0, 0.0),
            (90.0, 18.0),
            (22.0, 18.0),
            (22.0, 64.0),
            (0.0, 64.0),
        ];
        // One in the corner of the next: steps (22, 18) and (90, -46), each longer by the gap.
        for (gap, area) in [(0.0, 2632.0), (3.0, 25.0 * 46.0 + 93.0 * 21.0)] {
            let (lattices, _) = found(&problem(&bracket, Turn::None, gap), 100_000);
            let least = lattices.first().map_or(f64::INFINITY, |l| l.area);
            assert!(least < area + 1e-6, "{least} instead of {area}");
        }
    }

    #[test]
    fn looking_ends_with_its_steps() {
        // A crescent of arcs has hundreds of forbidden areas.
        let arc = |radius: f64, x: f64, back: bool| {
            (0..=40).map(move |i| {
                let share = f64::from(if back { 40 - i } else { i }) / 40.0;
                let at = Vec2::from_angle((share - 0.5) * std::f64::consts::PI, radius);
                (at.x * (1.0 - x / radius), at.y)
            })
        };
        let corners: Vec<(f64, f64)> = arc(40.0, 0.0, false).chain(arc(40.0, 20.0, true)).collect();
        let problem = problem(&corners, Turn::Quarter, 2.0);
        for steps in [2_000, 10_000, 50_000] {
            let (_, used) = found(&problem, steps);
            assert!(used < 2 * steps + 20_000, "{used} of {steps}");
        }
        let (few, _) = found(&problem, 100);
        let (many, _) = found(&problem, 2_000_000);
        assert!(few.len() < many.len());
    }

    #[test]
    fn so_many_copies_are_cut_out_of_a_lattice() {
        let problem = problem(&[(0.0, 0.0), (30.0, 0.0), (10.0, 20.0)], Turn::Half, 0.0);
        let tables = Tables::new(&problem, None);
        let units = units(&tables, 0, 0);
        let control = Control::none();
        let watch = Watch::new(&Budget::default(), &control);
        let mut work = Work::of_steps(1_000_000);
        let lattices = closest(&tables, 0, &units, &watch, &mut work);
        // Two triangles make a parallelogram.
        assert!((lattices[0].area - 300.0).abs() < 1e-6);
        for lattice in &lattices {
            let cutting = Cutting::new(&tables, lattice, &units);
            let size = Vec2::new(400.0, 200.0);
            let (most, off) = cutting.fullest(size, &watch, &mut work);
            let laid = cutting.laid(off, size);
            assert_eq!(laid.len() as u64, most);
            assert!(most > 200, "{most}");
            for (pose, at) in &laid {
                let turned = &tables.catalogue.turned[pose.turned];
                assert!(at.x > -1e-6 && at.x + turned.width < 400.0 + 1e-6);
                assert!(at.y > -1e-6 && at.y + turned.height < 200.0 + 1e-6);
            }
            let half = most / 2;
            let (length, off) = cutting
                .shortest(half, 200.0, 400.0, &watch, &mut work)
                .expect("room for half of them");
            assert!(length < 250.0);
            assert!(cutting.laid(off, Vec2::new(length, 200.0)).len() as u64 >= half);
        }
    }

    proptest! {
        #[test]
        fn quadrilaterals_turned_by_half_fill_the_plane(
            reaches in proptest::collection::vec(20.0..60.0_f64, 4),
            turned in 0.0..90.0_f64,
        ) {
            let corners: Vec<(f64, f64)> = reaches
                .iter()
                .enumerate()
                .map(|(i, r)| Vec2::from_angle((turned + 90.0 * i as f64).to_radians(), *r))
                .map(|v| (v.x, v.y))
                .collect();
            let problem = problem(&corners, Turn::Half, 0.0);
            let (lattices, _) = found(&problem, 1_000_000);
            let area = problem.parts[0].outline.area();
            let least = lattices.first().map_or(f64::INFINITY, |l| l.area);
            prop_assert!(least < area * (1.0 + 1e-6), "{} instead of {}", least, area);
        }
    }
}
