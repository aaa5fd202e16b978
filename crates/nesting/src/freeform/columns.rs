//! All parts as upright rectangles in columns across a roll: a layout that is there at once, whatever the parts are like.

use super::field::Field;
use super::fill::Sheet;
use super::region::Item;
use super::shape::Pose;
use super::tables::Tables;
use crate::{Angles, Problem};
use panelwright_geometry::{Bounds, Placement, Point};

/// Copies that are laid in columns at most: a slip of the finger must not fill the memory.
const MOST_IN_COLUMNS: u64 = 1_000_000;

/// The parts in columns, the longest first.
pub(super) struct Columns {
    /// Part, angle in degrees and lower left corner of the bounds of each.
    lying: Vec<(usize, f64, Point)>,
    /// Length that they take, without margins.
    pub length: f64,
}

/// One way for a part to lie: its angle in degrees, width and height.
type Way = (f64, f64, f64);

impl Columns {
    /// By nothing but the parts' bounds at the angles that are listed for them, which is there before all tables; `None` where a
    /// part may lie at any angle, or not on this roll.
    pub fn of_bounds(problem: &Problem) -> Option<Self> {
        let stock = problem.stock.first()?;
        let fields = Field::all_of(problem, stock, &[]);
        let [field] = &fields[..] else {
            return None;
        };
        let ways = |part: usize| {
            let part = &problem.parts[part];
            let (Angles::Listed(angles), true) = (part.angles(stock), part.faces_fit(stock)) else {
                return Vec::new();
            };
            let ring = part.outline.covering().outer;
            let way = |angle: &f64| {
                let turn = Placement::new(*angle, Point::default());
                let bounds = Bounds::of_points(ring.iter().map(|p| turn.apply(*p)))?;
                Some((turn.angle_deg(), bounds.width(), bounds.height()))
            };
            angles.iter().filter_map(way).collect()
        };
        Self::new(problem, field.room(), ways)
    }

    /// By the poses of the parts.
    pub fn of_poses(tables: &Tables) -> Option<Self> {
        let mut fields = tables.fields_of(0);
        let (Some(field), None) = (fields.next(), fields.next()) else {
            return None;
        };
        let ways = |part: usize| {
            let poses = tables.catalogue.poses(part, 0).iter();
            let way = |pose: &Pose| {
                let turned = &tables.catalogue.turned[pose.turned];
                (pose.angle_deg, turned.width, turned.height)
            };
            poses.map(way).collect()
        };
        Self::new(tables.problem, tables.fields[field].room(), ways)
    }

    /// Each part the way it takes least length of those that `room` is wide enough for; `None` where they do not all go in so.
    fn new(problem: &Problem, room: Bounds, ways: impl Fn(usize) -> Vec<Way>) -> Option<Self> {
        /// Ways that differ by less take as much, in millimetres: of such that look the same only the first is a pose.
        const ALIKE: f64 = 1e-6;
        let copies: u64 = problem.parts.iter().map(|p| u64::from(p.quantity)).sum();
        if copies > MOST_IN_COLUMNS {
            return None;
        }
        let gap = problem.gap;
        let mut all = Vec::new();
        for (part, given) in problem.parts.iter().enumerate() {
            let fitting = ways(part)
                .into_iter()
                .filter(|(_, _, height)| *height <= room.height());
            let least = fitting.reduce(|a, b| if b.1 < a.1 - ALIKE { b } else { a });
            let (angle, width, height) = least?;
            all.push((width, height, part, angle, given.quantity));
        }
        all.sort_by(|a, b| b.0.total_cmp(&a.0).then(b.1.total_cmp(&a.1)));
        let mut lying = Vec::new();
        let (mut column, mut at) = (0.0, room.min);
        let mut right = room.min.x;
        for (width, height, part, angle, quantity) in all {
            for _ in 0..quantity {
                if at.y + height > room.max.y {
                    at = Point::new(at.x + column + gap, room.min.y);
                    column = 0.0;
                }
                column = width.max(column);
                if at.x + width > room.max.x {
                    return None;
                }
                right = right.max(at.x + width);
                lying.push((part, angle, at));
                at.y += height + gap;
            }
        }
        Some(Self {
            lying,
            length: right - room.min.x,
        })
    }

    /// The parts as they lie; `None` where one has no such pose.
    pub fn sheet(&self, tables: &Tables) -> Option<Sheet> {
        let field = tables.fields_of(0).next()?;
        let item = |&(part, angle, at): &(usize, f64, Point)| {
            let mut poses = tables.catalogue.poses(part, 0).iter();
            let pose = *poses.find(|pose| pose.angle_deg == angle)?;
            Some((field, Item { part, pose, at }))
        };
        let items = self.lying.iter().map(item).collect::<Option<_>>()?;
        Some(Sheet { stock: 0, items })
    }
}
