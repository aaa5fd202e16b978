//! Parts in windows: where a part may lie within a window of another, by their true outlines.
//!
//! A part is in one piece, so it lies either outside of another part or wholly in one of its windows. In a convex
//! window it fits exactly where its hull fits, and those places are a convex area: how far the window reaches beyond
//! the hull on every side. So a window needs no convex pieces round it that follow its corners; the places are cut out of what the
//! part with its windows filled forbids. What fits snugly into round corners has few places, and few sides tell them.

use super::convex::{Convex, HalfPlane, depth, diameter, grown, hull, least_inside, least_width};
use super::shape::Turned;
use panelwright_geometry::{Bounds, Placement, Point, Polygon, Vec2};

/// The border of a window may bulge into it by so much, in millimetres, and is taken for a convex one within that.
const BULGE: f64 = 0.02;

/// Places beyond the border of a window by so much, in millimetres, are places: what fits exactly has no others. Far above the
/// rounding of coordinates, and a third of what counts as a contact.
const EXACT: f64 = 1e-7;

/// Places are given up where that saves sides, as deep as this share of how wide they are.
const GIVEN_UP: f64 = 0.05;

/// How closely places are told.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sides {
    /// Sides of an area of places at most.
    pub most: usize,
    /// Places are given up no deeper than this, in millimetres, while they have no more sides.
    pub deep: f64,
}

/// Sides of the places in a window at most, by the number of areas that they may be cut out of, and how deep they are given up.
const MOST_SIDES: [(usize, usize); 3] = [(4, 20), (12, 14), (usize::MAX, 10)];
const DEEP: f64 = 0.5;

/// Share of its circumference from which on a side of an area of places is long.
const LONG_SIDE: f64 = 0.12;

/// Places in two windows are told apart only with so much between them, in millimetres.
const BETWEEN: f64 = 1e-3;

/// The ring of a convex window or of stock, counter-clockwise, within what bulges into it a little; `None` when it is not convex.
pub(super) fn convex_ring(hole: &[Point]) -> Option<Vec<Point>> {
    let mut around = grown(&hull(hole), 0.0)?;
    let bulge = hole.iter().map(|p| depth(&around.planes, *p));
    let bulge = bulge.fold(0.0, f64::max);
    if bulge > BULGE {
        return None;
    }
    if bulge > EXACT {
        for plane in around.planes.clone() {
            around = around.cut(&HalfPlane {
                reach: plane.reach - bulge,
                ..plane
            })?;
        }
    }
    (around.points.len() >= 3).then_some(around.points)
}

/// The places of the moving shape's origin, seen from the fixed one's, at which one of the two lies in a window of the
/// other and keeps `gap` from it. Convex areas apart from each other.
pub(super) fn places(fixed: &Turned, moving: &Turned, gap: f64) -> Vec<Convex> {
    let into_fixed = fixed
        .windows
        .iter()
        .filter_map(|w| within(w, &moving.hull, gap));
    let round_fixed = moving.windows.iter().filter_map(|w| {
        let places = within(w, &fixed.hull, gap)?;
        let mirrored: Vec<Point> = places
            .points
            .iter()
            .map(|p| Point::new(-p.x, -p.y))
            .collect();
        let opposite = |p: &HalfPlane| HalfPlane {
            normal: -p.normal,
            reach: p.reach,
        };
        Some(Convex {
            bounds: Bounds::of_points(mirrored.iter().copied())?,
            points: mirrored,
            planes: places.planes.iter().map(opposite).collect(),
        })
    });
    into_fixed.chain(round_fixed).collect()
}

/// Where the origin of `hull` may lie so that it keeps `gap` from the border of `window`.
pub(super) fn within(window: &[Point], hull: &[Point], gap: f64) -> Option<Convex> {
    let (room, size) = (bounds(window)?, bounds(hull)?);
    let spare = 2.0 * (gap - EXACT);
    if size.width() + spare > room.width() || size.height() + spare > room.height() {
        return None;
    }
    // More than all places, in a rectangle that none of its sides are left of.
    let reach = Bounds::new(room.min - size.max.to_vec(), room.max - size.min.to_vec()).grown(1.0);
    let mut places = grown(&reach.corners(), 0.0)?;
    // Sides and hull are in order of direction, so what reaches farthest along one is not far from what does along the next.
    let n = hull.len();
    let mut far = 0;
    let along = |normal: Vec2, i: usize| normal.x * hull[i].x + normal.y * hull[i].y;
    for (k, plane) in grown(window, 0.0)?.planes.iter().enumerate() {
        if k == 0 {
            let all =
                (0..n).max_by(|a, b| along(plane.normal, *a).total_cmp(&along(plane.normal, *b)));
            far = all.unwrap_or(0);
        }
        let mut reach = along(plane.normal, far);
        for _ in 0..n {
            let next = along(plane.normal, (far + 1) % n);
            if next < reach {
                break;
            }
            (far, reach) = ((far + 1) % n, next);
        }
        let side = HalfPlane {
            normal: plane.normal,
            reach: plane.reach - gap + EXACT - reach,
        };
        if places.points.iter().any(|p| side.over(*p) > 0.0) {
            places = places.cut(&side)?;
        }
    }
    Some(places)
}

/// Whether `hull` may lie in `window` at some angle, as far as a quick look tells.
pub(super) fn may_lie_in(hull: &[Point], window: &[Point], gap: f64) -> bool {
    least_width(hull) + 2.0 * (gap - EXACT) <= least_width(window)
        && diameter(hull) + 2.0 * (gap - EXACT) <= diameter(window)
}

/// Whether `hull`, turned by `angle_deg`, lies in `window` somewhere.
pub(super) fn lies_in(hull: &[Point], angle_deg: f64, window: &[Point], gap: f64) -> bool {
    let turn = Placement::new(angle_deg, Point::default());
    let turned: Vec<Point> = hull.iter().map(|p| turn.apply(*p)).collect();
    within(window, &turned, gap).is_some()
}

fn bounds(points: &[Point]) -> Option<Bounds> {
    Bounds::of_points(points.iter().copied())
}

/// How closely to tell places that are cut out of so many areas.
pub(super) fn sides(areas: usize) -> Sides {
    let row = MOST_SIDES.iter().find(|(n, _)| areas <= *n);
    let (_, most) = row.unwrap_or(&MOST_SIDES[MOST_SIDES.len() - 1]);
    Sides {
        most: *most,
        deep: DEEP,
    }
}

/// `areas` without the `places`: areas that overlap, but leave all they have in common with no place, and nothing else.
pub(super) fn cut_out(areas: Vec<Convex>, places: &[Convex]) -> Vec<Convex> {
    let all: Vec<&Convex> = places.iter().collect();
    let mut left = Vec::with_capacity(areas.len());
    for area in areas {
        cut_all(area, &all, &mut left);
    }
    left
}

fn cut_all(area: Convex, places: &[&Convex], left: &mut Vec<Convex>) {
    let apart = |planes: &[HalfPlane], points: &[Point]| {
        planes.iter().any(|plane| {
            points
                .iter()
                .all(|p| least_inside(std::slice::from_ref(plane), *p) <= EXACT)
        })
    };
    let meets = |p: &&&Convex| !apart(&p.planes, &area.points) && !apart(&area.planes, &p.points);
    let near: Vec<&Convex> = places.iter().filter(meets).copied().collect();
    match near[..] {
        [] => left.push(area),
        [only] => left.extend(only.planes.iter().filter_map(|p| area.cut(&opposite(p)))),
        _ => match between(&near) {
            Some((plane, beyond)) => {
                // They overlap in all there is between the places, so that nothing there is near a border.
                for half in [area.cut(&plane), area.cut(&beyond)].into_iter().flatten() {
                    cut_all(half, &near, left);
                }
            }
            // Never seen: the places of the smallest window are given up.
            None => {
                let size = |p: &&Convex| Polygon::new(p.points.clone(), Vec::new()).area();
                let least =
                    (0..near.len()).min_by(|a, b| size(&near[*a]).total_cmp(&size(&near[*b])));
                let others = (0..near.len())
                    .filter(|i| Some(*i) != least)
                    .map(|i| near[i]);
                cut_all(area, &others.collect::<Vec<_>>(), left);
            }
        },
    }
}

/// What is outside of a half-plane.
fn opposite(plane: &HalfPlane) -> HalfPlane {
    HalfPlane {
        normal: -plane.normal,
        reach: -plane.reach,
    }
}

/// Two half-planes that overlap, each of which holds some of the places and has none of the others in it; as many in
/// one as in the other where that goes.
fn between(places: &[&Convex]) -> Option<(HalfPlane, HalfPlane)> {
    let upright = [Vec2::new(1.0, 0.0), Vec2::new(0.0, 1.0)];
    let normals = upright.into_iter().chain(
        places
            .iter()
            .flat_map(|p| p.planes.iter().map(|p| p.normal)),
    );
    let mut best: Option<(usize, HalfPlane, HalfPlane)> = None;
    for normal in normals {
        let along = |p: &&Convex| {
            let shares = p.points.iter().map(|q| normal.dot(q.to_vec()));
            shares.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), s| {
                (a.min(s), b.max(s))
            })
        };
        let mut spans: Vec<(f64, f64)> = places.iter().map(along).collect();
        spans.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut end = f64::NEG_INFINITY;
        for (i, span) in spans.iter().enumerate() {
            let fewer = i.min(spans.len() - i);
            if i > 0 && span.0 > end + BETWEEN && best.as_ref().is_none_or(|b| fewer > b.0) {
                let low = HalfPlane {
                    normal,
                    reach: span.0,
                };
                let high = opposite(&HalfPlane { normal, reach: end });
                best = Some((fewer, low, high));
            }
            end = end.max(span.1);
        }
    }
    best.map(|(_, low, high)| (low, high))
}

/// The same area or a smaller one with fewer sides: corners are cut off, those that lose least first. Long sides stay where they are: what
/// fits snugly lies along them.
pub(super) fn fewer_sides(area: &Convex, sides: Sides) -> Convex {
    let mut corners = area.points.clone();
    let n = corners.len();
    let around: f64 = (0..n)
        .map(|i| corners[i].distance(corners[(i + 1) % n]))
        .sum();
    let across =
        2.0 * Polygon::new(corners.clone(), Vec::new()).area() / around.max(f64::MIN_POSITIVE);
    let deep = sides.deep.min(GIVEN_UP * across);
    let loss = |corners: &[Point], i: usize| {
        let n = corners.len();
        let (a, b, c) = (corners[(i + n - 1) % n], corners[i], corners[(i + 1) % n]);
        if a.distance(b).max(b.distance(c)) > LONG_SIDE * around {
            return f64::INFINITY;
        }
        let line = c - a;
        (b - a).cross(line).abs() / line.dot(line).sqrt().max(f64::MIN_POSITIVE)
    };
    let mut losses: Vec<f64> = (0..n).map(|i| loss(&corners, i)).collect();
    while corners.len() > 4 {
        let least = losses.iter().enumerate().min_by(|a, b| a.1.total_cmp(b.1));
        let may_go = |l: f64| l <= deep || l.is_finite() && corners.len() > sides.most;
        let Some((i, _)) = least.filter(|(_, l)| may_go(**l)) else {
            break;
        };
        corners.remove(i);
        losses.remove(i);
        let n = corners.len();
        for j in [(i + n - 1) % n, i % n] {
            losses[j] = loss(&corners, j);
        }
    }
    if corners.len() == n {
        return area.clone();
    }
    grown(&corners, 0.0).unwrap_or_else(|| area.clone())
}

#[cfg(test)]
mod tests {
    use super::super::convex::keep_away;
    use super::*;
    use panelwright_geometry::{Outline, Ring};
    use proptest::prelude::*;

    fn ring(corners: &[(f64, f64)]) -> Vec<Point> {
        hull(
            &corners
                .iter()
                .map(|&(x, y)| Point::new(x, y))
                .collect::<Vec<_>>(),
        )
    }

    fn is_free(areas: &[Convex], at: Point) -> bool {
        areas.iter().all(|a| least_inside(&a.planes, at) <= 1e-6)
    }

    #[test]
    fn what_is_as_large_as_the_window_less_the_gap_has_one_place() {
        let window = ring(&[(10.0, 20.0), (110.0, 20.0), (110.0, 60.0), (10.0, 60.0)]);
        let plate = ring(&[(0.0, 0.0), (88.0, 0.0), (88.0, 28.0), (0.0, 28.0)]);
        let places = within(&window, &plate, 6.0).expect("a place");
        assert!(places.bounds.width() < 1e-6 && places.bounds.height() < 1e-6);
        assert!(places.bounds.center().distance(Point::new(16.0, 26.0)) < 1e-6);
        let around = keep_away(&window, &plate, 6.0).expect("an area");
        let left = cut_out(vec![around], &[fewer_sides(&places, sides(1))]);
        assert!(is_free(&left, Point::new(16.0, 26.0)));
        for off in [(1e-3, 0.0), (0.0, -1e-3), (-1e-3, 1e-3), (9.0, 9.0)] {
            assert!(!is_free(
                &left,
                Point::new(16.0, 26.0) + Vec2::new(off.0, off.1)
            ));
        }
        let larger = ring(&[(0.0, 0.0), (88.01, 0.0), (88.01, 28.0), (0.0, 28.0)]);
        assert!(within(&window, &larger, 6.0).is_none());
    }

    #[test]
    fn long_sides_stay_where_they_are() {
        let far = Point::new(620.0, 400.0);
        let window = Outline::from_rings(
            Ring::rounded_rectangle(Point::default(), far, 20.0),
            Vec::new(),
        );
        let window = convex_ring(&window.covering().outer).expect("convex");
        let plate = ring(&[(0.0, 0.0), (140.0, 0.0), (140.0, 191.0), (0.0, 191.0)]);
        let places = within(&window, &plate, 6.0).expect("places");
        let fewer = fewer_sides(&places, sides(1));
        assert!(fewer.points.len() < places.points.len());
        let inside = |x: f64, y: f64| least_inside(&fewer.planes, Point::new(x, y));
        for (x, y) in [(20.0, 6.0), (240.0, 6.0), (460.0, 6.0), (6.0, 100.0)] {
            assert!(inside(x, y).abs() < 1e-6, "{x} {y}: {}", inside(x, y));
        }
    }

    #[test]
    fn round_parts_fit_snugly_into_round_windows() {
        let hole = |r: f64| {
            let hole = Ring::circle(Point::new(150.0, 150.0), r);
            let frame = Outline::rectangle(300.0, 300.0).outer;
            Outline::from_rings(frame, vec![hole])
                .covering()
                .holes
                .remove(0)
        };
        let window = convex_ring(&hole(100.0)).expect("a disc is convex");
        for (radius, gap, fits) in [
            (93.0, 6.0, true),
            (93.9, 6.0, true),
            (94.1, 6.0, false),
            (99.9, 0.0, true),
        ] {
            let disc = Outline::from_rings(Ring::circle(Point::default(), radius), Vec::new());
            let disc = hull(&disc.covering().outer);
            assert_eq!(within(&window, &disc, gap).is_some(), fits, "{radius}");
        }
    }

    #[test]
    fn a_window_with_a_notch_is_not_convex() {
        let notched = [
            (0.0, 0.0),
            (50.0, 0.0),
            (50.0, 40.0),
            (25.0, 35.0),
            (0.0, 40.0),
        ];
        let notched: Vec<Point> = notched.iter().map(|&(x, y)| Point::new(x, y)).collect();
        assert_eq!(convex_ring(&notched), None);
        // A line that is straight but for rounding in the drawing is taken for one.
        let nearly = [
            (0.0, 0.0),
            (50.0, 0.0),
            (50.0, 40.0),
            (25.0, 39.99),
            (0.0, 40.0),
        ];
        let nearly: Vec<Point> = nearly.iter().map(|&(x, y)| Point::new(x, y)).collect();
        let window = convex_ring(&nearly).expect("convex");
        assert!(window.iter().all(|p| p.y <= 39.99 + 1e-9));
    }

    proptest! {
        #[test]
        fn places_are_those_at_which_every_corner_keeps_the_gap(
            window in proptest::collection::vec((0.0..200.0_f64, 0.0..200.0_f64), 3..30),
            part in proptest::collection::vec((0.0..80.0_f64, 0.0..80.0_f64), 3..30),
            gap in 0.0..9.0_f64,
            tries in proptest::collection::vec((-90.0..200.0_f64, -90.0..200.0_f64), 200),
        ) {
            let (window, part) = (ring(&window), ring(&part));
            let edges = grown(&window, 0.0).expect("an area").planes;
            let places = within(&window, &part, gap);
            let all = Bounds::new(Point::new(-300.0, -300.0), Point::new(500.0, 500.0));
            let all = grown(&all.corners(), 0.0).expect("an area");
            let left = places.as_ref().map(|p| cut_out(vec![all], &[fewer_sides(p, sides(1))]));
            for (x, y) in tries {
                let room = part.iter().map(|p| least_inside(&edges, *p + Vec2::new(x, y)));
                let room = room.fold(f64::INFINITY, f64::min) - gap;
                let at = Point::new(x, y);
                let inside = places.as_ref().is_some_and(|p| least_inside(&p.planes, at) >= 0.0);
                if room.abs() > 1e-6 {
                    prop_assert_eq!(inside, room > 0.0);
                }
                if let Some(left) = &left {
                    // Cut out: nothing that is no place, and all places but little.
                    prop_assert!(inside || !is_free(left, at) || room > -1e-5);
                    prop_assert!(room < 1.0 || is_free(left, at));
                }
            }
        }

        #[test]
        fn places_of_many_windows_are_all_cut_out(
            at in proptest::collection::vec((0..6_u32, 0..6_u32), 1..12),
            sides in proptest::collection::vec((1.0..18.0_f64, 1.0..18.0_f64), 12),
            turn in 0.0..90.0_f64,
            tries in proptest::collection::vec((-20.0..140.0_f64, -20.0..140.0_f64), 200),
        ) {
            let turn = Placement::new(turn, Point::default());
            let mut places: Vec<Convex> = Vec::new();
            let mut seen = Vec::new();
            for (cell, (w, h)) in at.iter().zip(&sides) {
                if !seen.contains(cell) {
                    seen.push(*cell);
                    let low = Point::new(20.0 * f64::from(cell.0), 20.0 * f64::from(cell.1));
                    let room = Bounds::new(low, low + Vec2::new(*w, *h)).corners();
                    places.extend(grown(&room.map(|p| turn.apply(p)), 0.0));
                }
            }
            // Two areas that overlap, as those of a part of two pieces do.
            let area = |low: (f64, f64), high: (f64, f64)| {
                let area = Bounds::new(Point::new(low.0, low.1), Point::new(high.0, high.1)).corners();
                grown(&area.map(|p| turn.apply(p)), 0.0).expect("an area")
            };
            let areas = vec![area((-10.0, -10.0), (70.0, 130.0)), area((50.0, -5.0), (130.0, 125.0))];
            let left = cut_out(areas.clone(), &places);
            for (x, y) in tries {
                let p = turn.apply(Point::new(x, y));
                let room = places.iter().map(|c| least_inside(&c.planes, p)).fold(f64::NEG_INFINITY, f64::max);
                let kept = areas.iter().map(|c| least_inside(&c.planes, p)).fold(f64::NEG_INFINITY, f64::max);
                if room.abs() > 1e-6 && kept.abs() > 1e-5 {
                    prop_assert_eq!(is_free(&left, p), room > 0.0 || kept < 0.0);
                }
            }
        }
    }
}
