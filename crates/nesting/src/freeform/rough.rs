//! Forbidden areas in single precision, four abreast: quick to look at, and good enough to tell where a
//! closer look pays.

use super::convex::Convex;
use panelwright_geometry::{Bounds, Vec2};
use std::sync::Arc;
use wide::f32x4;

/// Areas looked at together.
const LANES: usize = 4;

/// Depths below this share of the coordinates are the rounding of single precision.
const NOISE: f64 = 1e-6;

/// One half-plane of each of four areas.
#[derive(Debug, Clone, Copy)]
struct Planes {
    normal_x: f32x4,
    normal_y: f32x4,
    reach: f32x4,
}

/// Four areas: where they are at all, and the end of their half-planes.
#[derive(Debug, Clone, Copy)]
struct Group {
    /// Left, bottom, and right and top turned round: a point is inside when it is beyond all four.
    bounds: f32x4,
    end: u32,
}

/// Convex areas, for the sum of how deep a point lies in them. Cheap to clone.
#[derive(Debug, Clone, Default)]
pub(super) struct Rough {
    /// The half-planes, those of one group of areas after those of another.
    planes: Arc<[Planes]>,
    groups: Arc<[Group]>,
}

impl Rough {
    /// Of these areas.
    pub fn new(areas: &[Convex]) -> Self {
        let (mut planes, mut groups) = (Vec::new(), Vec::new());
        // Areas of about as many sides together: little is padded.
        let mut order: Vec<usize> = (0..areas.len()).collect();
        order.sort_by(|&a, &b| {
            areas[a]
                .planes
                .len()
                .cmp(&areas[b].planes.len())
                .then(a.cmp(&b))
        });
        for group in order.chunks(LANES) {
            let sides = group
                .iter()
                .map(|i| areas[*i].planes.len())
                .max()
                .unwrap_or(0);
            for k in 0..sides {
                // An area that is missing is nowhere.
                let (mut x, mut y, mut reach) = ([0.0; LANES], [0.0; LANES], [-1.0; LANES]);
                for (lane, &i) in group.iter().enumerate() {
                    let own = &areas[i].planes;
                    // A side that is missing is the last one again.
                    let plane = own[k.min(own.len() - 1)];
                    let Bounds { min, max } = areas[i].bounds;
                    let large = min.to_vec().length().max(max.to_vec().length());
                    x[lane] = plane.normal.x as f32;
                    y[lane] = plane.normal.y as f32;
                    reach[lane] = (plane.reach - NOISE * large) as f32;
                }
                planes.push(Planes {
                    normal_x: f32x4::new(x),
                    normal_y: f32x4::new(y),
                    reach: f32x4::new(reach),
                });
            }
            let bounds = group.iter().map(|i| areas[*i].bounds).reduce(Bounds::union);
            let bounds = bounds.map_or([0.0; 4], |b| {
                [b.min.x, b.min.y, -b.max.x, -b.max.y].map(|v| v as f32)
            });
            groups.push(Group {
                bounds: f32x4::new(bounds),
                end: planes.len() as u32,
            });
        }
        Self {
            planes: planes.into(),
            groups: groups.into(),
        }
    }

    /// The same turned by so many quarters and then moved.
    pub fn turned(&self, quarters: u8, by: Vec2) -> Self {
        let (by_x, by_y) = (by.x as f32, by.y as f32);
        let (x, y) = (f32x4::splat(by_x), f32x4::splat(by_y));
        let plane = |p: &Planes| {
            let (normal_x, normal_y) = match quarters % 4 {
                0 => (p.normal_x, p.normal_y),
                1 => (-p.normal_y, p.normal_x),
                2 => (-p.normal_x, -p.normal_y),
                _ => (p.normal_y, -p.normal_x),
            };
            Planes {
                normal_x,
                normal_y,
                reach: p.reach + normal_x * x + normal_y * y,
            }
        };
        let group = |g: &Group| {
            // Left, bottom, and right and top turned round.
            let [l, b, r, t] = g.bounds.to_array();
            let [l, b, r, t] = match quarters % 4 {
                0 => [l, b, r, t],
                1 => [t, l, b, r],
                2 => [r, t, l, b],
                _ => [b, r, t, l],
            };
            Group {
                bounds: f32x4::new([l + by_x, b + by_y, r - by_x, t - by_y]),
                end: g.end,
            }
        };
        Self {
            planes: self.planes.iter().map(plane).collect(),
            groups: self.groups.iter().map(group).collect(),
        }
    }

    /// Bytes that it takes.
    pub fn size(&self) -> usize {
        size_of_val(&*self.planes) + size_of_val(&*self.groups)
    }

    /// Number of areas, rounded up.
    pub fn len(&self) -> usize {
        LANES * self.groups.len()
    }

    /// Sum over the areas of how deep the point lies inside, less what may be rounding.
    #[inline]
    pub fn depth_sum(&self, x: f32, y: f32) -> f32 {
        let (px, py) = (f32x4::splat(x), f32x4::splat(y));
        let place = f32x4::new([x, y, -x, -y]);
        let mut sum = f32x4::ZERO;
        let mut begin = 0;
        for group in &*self.groups {
            let end = group.end as usize;
            if place.simd_gt(group.bounds).all() {
                let mut depth = f32x4::splat(f32::MAX);
                for plane in &self.planes[begin..end] {
                    let inside = plane.reach - plane.normal_x * px - plane.normal_y * py;
                    depth = depth.fast_min(inside);
                }
                sum += depth.fast_max(f32x4::ZERO);
            }
            begin = end;
        }
        sum.reduce_add()
    }
}

#[cfg(test)]
mod tests {
    use super::super::convex::{depth, grown};
    use super::super::nofit::NoFit;
    use super::*;
    use panelwright_geometry::Point;
    use proptest::prelude::*;

    fn triangle() -> impl Strategy<Value = Vec<Point>> {
        let point = (-500.0..500.0, -500.0..500.0).prop_map(|(x, y)| Point::new(x, y));
        proptest::array::uniform3(point).prop_map(|mut p| {
            if (p[1] - p[0]).cross(p[2] - p[0]) < 0.0 {
                p.swap(1, 2);
            }
            p.to_vec()
        })
    }

    proptest! {
        #[test]
        fn about_as_deep_as_in_double_precision(
            triangles in proptest::collection::vec(triangle(), 1..12),
            x in -600.0..600.0,
            y in -600.0..600.0,
        ) {
            let areas: Vec<Convex> = triangles.iter().filter_map(|t| grown(t, 1.0)).collect();
            let rough = Rough::new(&areas);
            let at = Point::new(x, y);
            let exact: f64 = areas.iter().map(|a| depth(&a.planes, at).max(0.0)).sum();
            let found = f64::from(rough.depth_sum(x as f32, y as f32));
            prop_assert!((found - exact).abs() <= 3e-3 * areas.len() as f64);
            prop_assert!(found <= exact + 1e-6);
            let same = NoFit::of_groups(&[(&triangles, 0.0)], &[vec![Point::default()]]);
            prop_assert_eq!(same.rough.len(), same.areas.len().div_ceil(4) * 4);
        }
    }
}
