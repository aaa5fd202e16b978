//! A nest of rectangles read as a free-form nest.

use super::{Question, Rectangles, SAME_SIDE, turned_room};
use crate::freeform::fill::Sheet;
use crate::freeform::region::Item;
use crate::freeform::shape::Pose;
use crate::{Layout, PlacedPart};
use panelwright_geometry::{Bounds, Placement, Point};
use std::collections::VecDeque;

/// Reads a sheet of rectangles.
pub(super) struct Reader<'a, 't, 'l> {
    pub rectangles: &'a Rectangles<'t>,
    pub question: &'a Question,
    /// What is still to be laid into each room.
    pub filled: &'a mut [VecDeque<&'l Layout>],
    pub missing: &'a mut [u32],
    pub sheet: Sheet,
}

impl Reader<'_, '_, '_> {
    /// Lays a copy into the rectangle `lying`, and into its rooms what is in the next boards of those.
    pub fn lay(&mut self, index: usize, lying: Bounds) {
        let (rectangles, question) = (self.rectangles, self.question);
        let tables = rectangles.tables;
        let part = question.parts[index];
        let (Some(own), Some(pose)) = (&rectangles.parts[part], self.pose(index, &lying)) else {
            return;
        };
        let middle = Bounds::new(lying.center(), lying.center());
        let mut fields = tables.fields_of(self.sheet.stock);
        let field = fields.find(|f| tables.fields[*f].room().touches(&middle));
        let (Some(field), true) = (field, self.missing[part] > 0) else {
            return;
        };
        let at = lying.min;
        self.sheet.items.push((field, Item { part, pose, at }));
        self.missing[part] -= 1;
        // From the rectangle at home to the stock.
        let back = Placement::new(-own.home.angle_deg, Point::default());
        let there = Placement::new(pose.angle_deg, at + pose.to_origin);
        let moved = |b: Bounds| {
            let corner = |p: Point| there.apply(back.apply(p - own.home.to_origin));
            Bounds::new(corner(b.min), corner(b.max))
        };
        let rooms = question.rooms.iter().enumerate();
        let rooms = rooms.filter(|(_, room)| room.of == index);
        for ((i, room), place) in rooms.zip(own.rooms.iter().map(|r| moved(*r))) {
            // Its contents as they lie if the room lies as it was asked about, or turned by a quarter.
            let same = (place.width() - room.at.width()).abs() <= SAME_SIDE
                && (place.height() - room.at.height()).abs() <= SAME_SIDE;
            let lying = |inner: Bounds| {
                if same {
                    inner
                } else {
                    turned_room(&inner, room.at.height())
                }
            };
            let on_stock = |placed: &PlacedPart| {
                let inner = lying(placed.outline(&question.problem).bounds());
                let by = place.min.to_vec();
                Bounds::new(inner.min + by, inner.max + by)
            };
            let fits = |board: &&Layout| {
                let mut placed = board.placed.iter();
                placed.all(|p| self.pose(p.part, &on_stock(p)).is_some())
            };
            // What may not be turned as this copy is waits for another, if there is one.
            let next = self.filled[i].iter().position(fits);
            let Some(board) = self.filled[i].remove(next.unwrap_or(0)) else {
                continue;
            };
            for placed in &board.placed {
                self.lay(placed.part, on_stock(placed));
            }
        }
    }

    /// How a part lies whose rectangle is there; `None` when it may not.
    fn pose(&self, index: usize, lying: &Bounds) -> Option<Pose> {
        let rectangles = self.rectangles;
        let part = self.question.parts[index];
        let poses = rectangles.tables.catalogue.poses(part, self.sheet.stock);
        let has = |p: &&Pose| rectangles.has_sides(p, lying.width(), lying.height());
        poses.iter().find(has).copied()
    }
}
