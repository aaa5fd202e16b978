//! Leads: how the tool comes to a path and leaves it, on the side of the scrap.

use crate::input::LeadShape;
use panelwright_geometry::{Boundary, Placement, Point, Segment, Vec2};
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Places looked at on each half of a lead, its ends included: at least and at most.
const PLACES: (f64, f64) = (9.0, 400.0);

/// Share of a lead's length that its ends are away from the path at least. In a small hole a long lead
/// would come round to the path again and begin in the edge that is to be cut.
const AWAY: f64 = 0.4;

/// Leads are not made shorter than this, millimetres, unless a shorter one was asked for: the tool would come down on
/// the edge all the same.
const SHORTEST: f64 = 0.2;

/// How much nearer than the tool's radius a lead may come to its own part's edge: it leaves the path
/// there at exactly that distance, and this is the rounding of the path.
const ROUNDING: f64 = 2e-3;

/// A way onto a path and off it again, both at the same place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lead {
    /// Where the tool plunges.
    pub from: Point,
    /// Bulge from there to the path.
    pub into: f64,
    /// Bulge from the path to where the tool lifts.
    pub out_of: f64,
    /// Where the tool lifts.
    pub to: Point,
}

impl Lead {
    /// The lengths that are tried: what was asked for, then ever shorter ones, so that a long one that was asked for
    /// does not leave small openings without any.
    pub fn sizes(shape: LeadShape, length: f64) -> impl Iterator<Item = f64> {
        let shares: &[f64] = match shape {
            LeadShape::None => &[],
            _ => &[1.0, 0.7, 0.45, 0.3, 0.15, 0.07],
        };
        let shorter = shares.last().map(|share| 0.5 * share * length);
        let shorter = std::iter::successors(shorter, |size| Some(0.5 * size));
        shares
            .iter()
            .map(move |share| share * length)
            .chain(shorter.take_while(|size| *size >= SHORTEST))
    }

    /// The lead at `at` of a path that runs `along` there (length 1), its scrap to the left or right.
    ///
    /// An arc of radius `length` meets the path without a corner; a line of that length at 45 degrees.
    pub fn new(shape: LeadShape, at: Point, along: Vec2, scrap_left: bool, length: f64) -> Self {
        let aside = if scrap_left {
            along.left()
        } else {
            -along.left()
        };
        let (reach, bulge) = match shape {
            LeadShape::Arc => (length, (PI / 8.0).tan()),
            LeadShape::Line | LeadShape::None => (length * FRAC_1_SQRT_2, 0.0),
        };
        let bulge = if scrap_left { bulge } else { -bulge };
        Self {
            from: at + (aside - along) * reach,
            into: bulge,
            out_of: bulge,
            to: at + (aside + along) * reach,
        }
    }

    /// The lead turned and moved.
    pub fn placed(&self, by: &Placement) -> Self {
        Self {
            from: by.apply(self.from),
            to: by.apply(self.to),
            ..*self
        }
    }

    fn halves(&self, at: Point) -> [Segment; 2] {
        [
            Segment::arc(self.from, at, self.into),
            Segment::arc(at, self.to, self.out_of),
        ]
    }

    /// How long it is, in and out, at a path begun at `at`.
    pub fn length(&self, at: Point) -> f64 {
        self.halves(at).iter().map(Segment::length).sum()
    }

    /// Places on it, and how far they are from each other at most: less than a tool of this radius is
    /// wide. A lead that crossed an edge would have a place nearer to it than the radius.
    fn places(&self, at: Point, radius: f64) -> (Vec<Point>, f64) {
        let halves = self.halves(at);
        let longest = halves[0].length().max(halves[1].length());
        let apart = 1.8 * (radius - ROUNDING).max(f64::MIN_POSITIVE);
        let last = (longest / apart).ceil().clamp(PLACES.0, PLACES.1);
        let on = |s: Segment| (0..=last as u32).map(move |i| s.point_at(f64::from(i) / last));
        (halves.into_iter().flat_map(on).collect(), longest / last)
    }

    /// Whether a tool of this radius stays on the scrap's side of its own part all along the lead.
    ///
    /// The lead begins at a path that is the radius away from the part, so that keeping that distance
    /// means never crossing an edge.
    pub fn is_clear_of_part(&self, at: Point, part: &Boundary, radius: f64) -> bool {
        let reach = at.distance(self.from) * std::f64::consts::FRAC_1_SQRT_2;
        let away = |end: Point| part.distance(end) >= radius + AWAY * reach;
        let (places, step) = self.places(at, radius);
        // With a beam so fine that its width proves nothing there are no leads.
        step < 2.0 * (radius - ROUNDING)
            && away(self.from)
            && away(self.to)
            && places
                .into_iter()
                .all(|p| part.distance(p) >= radius - ROUNDING)
    }

    /// Whether a tool of this radius keeps off everything else, the rings of `but` left out.
    ///
    /// Between two places a distance can only be less by what the triangle over their distance
    /// allows, which is asked for on top.
    pub fn is_clear_of_others(
        &self,
        at: Point,
        others: &Boundary,
        radius: f64,
        but: impl Fn(usize) -> bool,
    ) -> bool {
        let (places, step) = self.places(at, radius);
        let reach = radius.hypot(0.5 * step);
        // Both halves bow by a quarter circle at most, so no place is farther from `at` than the ends are. Most leads have
        // nothing near them, which one question tells.
        let farthest = at.distance(self.from).max(at.distance(self.to));
        if !others.is_within(at, reach + farthest * (1.0 + 1e-9), &but) {
            return true;
        }
        places
            .into_iter()
            .all(|p| !others.is_within(p, reach, &but))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Ring;

    #[test]
    fn an_arc_meets_its_path_without_a_corner() {
        for left in [true, false] {
            let (at, along) = (Point::new(3.0, 4.0), Vec2::from_angle(0.7, 1.0));
            let lead = Lead::new(LeadShape::Arc, at, along, left, 5.0);
            let [into, out] = lead.halves(at);
            assert!((into.tangent_at(1.0) - along).length() < 1e-12);
            assert!((out.tangent_at(0.0) - along).length() < 1e-12);
            assert!((lead.length(at) - 5.0 * PI).abs() < 1e-9);
            assert_eq!(along.cross(lead.from - at) > 0.0, left);
        }
    }

    #[test]
    fn a_long_lead_is_shortened_down_to_what_a_small_hole_takes() {
        for length in [0.5, 2.0, 5.0, 20.0, 500.0] {
            let sizes: Vec<f64> = Lead::sizes(LeadShape::Arc, length).collect();
            assert_eq!(sizes[0], length);
            assert!(sizes.is_sorted_by(|a, b| a > b), "{sizes:?}");
            assert!(sizes.last().is_some_and(|s| *s < 2.0 * SHORTEST));
        }
        assert_eq!(Lead::sizes(LeadShape::None, 20.0).count(), 0);
    }

    #[test]
    fn a_lead_keeps_off_a_neighbour_as_far_as_its_tool_is_wide() {
        let at = Point::default();
        let lead = Lead::new(LeadShape::Line, at, Vec2::new(1.0, 0.0), true, 10.0);
        // A small disc beside the end of the lead-out, 4 mm from it.
        let disc = Ring::circle(lead.to + Vec2::new(5.0, 0.0), 1.0);
        let others = Boundary::new([&disc]);
        assert!(lead.is_clear_of_others(at, &others, 3.9, |_| false));
        assert!(!lead.is_clear_of_others(at, &others, 4.1, |_| false));
        assert!(lead.is_clear_of_others(at, &others, 4.1, |ring| ring == 0));
    }
}
