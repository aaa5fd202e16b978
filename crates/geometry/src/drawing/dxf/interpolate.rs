//! The cubic spline through given points.

use crate::fit::Bezier;
use crate::{Point, Vec2};

/// The Béziers of the twice smooth cubic spline through `points`, its parameter the length of the
/// chords.
///
/// `ends`: directions in which it starts and ends, of any length; where there is none its bending is
/// nought there. `is_closed`: from the last point back to the first, smooth there too. Points that
/// repeat the one before are left out; fewer than two different ones give nothing.
///
/// # Source
/// DXF leaves open which curve passes fit points. Chord lengths, natural ends and tangents of unit speed
/// are the usual choice (C. de Boor, A Practical Guide to Splines, chapter IV, from memory; ezdxf
/// takes the same, and the corpus of drawings compares with it).
pub(super) fn through(
    points: &[Point],
    ends: (Option<Vec2>, Option<Vec2>),
    is_closed: bool,
) -> Vec<Bezier> {
    let mut places: Vec<Point> = Vec::with_capacity(points.len() + 1);
    for p in points {
        if places.last().is_none_or(|last| last.distance(*p) > 1e-9) {
            places.push(*p);
        }
    }
    if is_closed && places.len() > 1 {
        let first = places[0];
        if places[places.len() - 1].distance(first) > 1e-9 {
            places.push(first);
        } else if let Some(last) = places.last_mut() {
            *last = first;
        }
    }
    if places.len() < 2 {
        return Vec::new();
    }
    let steps: Vec<f64> = places.windows(2).map(|w| w[0].distance(w[1])).collect();
    let speeds = if is_closed && places.len() > 3 {
        speeds_round(&places, &steps)
    } else {
        speeds(&places, &steps, ends)
    };
    (0..steps.len())
        .map(|i| {
            let reach = steps[i] / 3.0;
            Bezier::plain([
                places[i],
                places[i] + speeds[i] * reach,
                places[i + 1] - speeds[i + 1] * reach,
                places[i + 1],
            ])
        })
        .collect()
}

/// What the second derivatives of both neighbours ask of the speeds round place `i`: the shares of the
/// speed before, here and after, and their sum.
fn smooth_at(before: (f64, Vec2), after: (f64, Vec2)) -> ([f64; 3], Vec2) {
    let ((h, chord), (k, next)) = (before, after);
    (
        [1.0 / h, 2.0 / h + 2.0 / k, 1.0 / k],
        chord * (3.0 / (h * h)) + next * (3.0 / (k * k)),
    )
}

fn speeds(places: &[Point], steps: &[f64], ends: (Option<Vec2>, Option<Vec2>)) -> Vec<Vec2> {
    let n = places.len();
    let chord = |i: usize| places[i + 1] - places[i];
    let mut rows = Vec::with_capacity(n);
    rows.push(match ends.0 {
        Some(direction) => ([0.0, 1.0, 0.0], direction.normalized()),
        None => ([0.0, 2.0, 1.0], chord(0) * (3.0 / steps[0])),
    });
    for i in 1..n - 1 {
        rows.push(smooth_at(
            (steps[i - 1], chord(i - 1)),
            (steps[i], chord(i)),
        ));
    }
    rows.push(match ends.1 {
        Some(direction) => ([0.0, 1.0, 0.0], direction.normalized()),
        None => ([1.0, 2.0, 0.0], chord(n - 2) * (3.0 / steps[n - 2])),
    });
    solved(rows)
}

/// The speeds of a closed spline, the last one equal to the first.
fn speeds_round(places: &[Point], steps: &[f64]) -> Vec<Vec2> {
    let n = steps.len();
    let chord = |i: usize| places[i + 1] - places[i];
    let rows: Vec<([f64; 3], Vec2)> = (0..n)
        .map(|i| {
            let before = (i + n - 1) % n;
            smooth_at((steps[before], chord(before)), (steps[i], chord(i)))
        })
        .collect();
    // The two corners of the matrix are a product of vectors (Sherman and Morrison): solved without
    // them, then put right.
    let (top, bottom) = (rows[0].0[0], rows[n - 1].0[2]);
    let gamma = -rows[0].0[1];
    let changed = |values: &dyn Fn(usize) -> Vec2| {
        let mut changed: Vec<([f64; 3], Vec2)> = (0..n).map(|i| (rows[i].0, values(i))).collect();
        changed[0].0[1] -= gamma;
        changed[n - 1].0[1] -= bottom * top / gamma;
        changed[0].0[0] = 0.0;
        changed[n - 1].0[2] = 0.0;
        solved(changed)
    };
    let plain = changed(&|i| rows[i].1);
    let corner = changed(&|i| {
        let u = if i == 0 {
            gamma
        } else if i == n - 1 {
            bottom
        } else {
            0.0
        };
        Vec2::new(u, u)
    });
    let share = top / gamma;
    let factor =
        (plain[0] + plain[n - 1] * share) * (1.0 / (1.0 + corner[0].x + share * corner[n - 1].x));
    let mut speeds: Vec<Vec2> = (0..n).map(|i| plain[i] - factor * corner[i].x).collect();
    speeds.push(speeds[0]);
    speeds
}

/// Solves rows of three neighbours each. Every row's middle outweighs its sides, so no pivots are needed.
fn solved(mut rows: Vec<([f64; 3], Vec2)>) -> Vec<Vec2> {
    for i in 1..rows.len() {
        let ([_, middle, after], sum) = rows[i - 1];
        let share = rows[i].0[0] / middle;
        rows[i].0[1] -= share * after;
        rows[i].1 = rows[i].1 - sum * share;
    }
    let mut out = vec![Vec2::new(0.0, 0.0); rows.len()];
    let mut next = Vec2::new(0.0, 0.0);
    for (i, ([_, middle, after], sum)) in rows.iter().enumerate().rev() {
        next = (*sum - next * *after) * (1.0 / middle);
        out[i] = next;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bend(b: &Bezier, at_end: bool) -> Vec2 {
        let p: Vec<Point> = b.points().collect();
        if at_end {
            (p[3] - p[2]) - (p[2] - p[1])
        } else {
            (p[2] - p[1]) - (p[1] - p[0])
        }
    }

    fn round() -> Vec<Point> {
        [
            (0.0, 0.0),
            (50.0, -10.0),
            (120.0, 30.0),
            (90.0, 90.0),
            (10.0, 70.0),
        ]
        .map(|(x, y)| Point::new(x, y))
        .to_vec()
    }

    /// First and second derivatives by the chord's length agree at every joint, and at the ends the
    /// second one is nought.
    #[test]
    fn is_twice_smooth_and_natural() {
        let points = round();
        let pieces = through(&points, (None, None), false);
        assert_eq!(pieces.len(), 4);
        assert!(bend(&pieces[0], false).length() < 1e-9);
        assert!(bend(&pieces[3], true).length() < 1e-9);
        smooth(&pieces, &points, false);
    }

    #[test]
    fn closed_is_smooth_where_it_closes() {
        let mut points = round();
        let pieces = through(&points, (None, None), true);
        assert_eq!(pieces.len(), 5);
        points.push(points[0]);
        smooth(&pieces, &points, true);
        // Given with its first point repeated it is the same.
        assert_eq!(through(&points, (None, None), true), pieces);
    }

    fn smooth(pieces: &[Bezier], points: &[Point], is_closed: bool) {
        let n = pieces.len();
        for i in 0..n {
            let next = (i + 1) % n;
            if next == 0 && !is_closed {
                break;
            }
            let step = |k: usize| points[k].distance(points[k + 1]);
            let (h, k) = (step(i), step(next));
            let a: Vec<Point> = pieces[i].points().collect();
            let b: Vec<Point> = pieces[next].points().collect();
            assert!(a[3].distance(b[0]) < 1e-12);
            let (u, v) = ((a[3] - a[2]) * (1.0 / h), (b[1] - b[0]) * (1.0 / k));
            assert!((u - v).length() < 1e-9);
            let (u, v) = (
                bend(&pieces[i], true) * (1.0 / (h * h)),
                bend(&pieces[next], false) * (1.0 / (k * k)),
            );
            assert!((u - v).length() < 1e-9, "{i}: {u:?} {v:?}");
        }
    }

    #[test]
    fn keeps_tangents_and_stands_repeated_points() {
        let points = [
            (0.0, 0.0),
            (0.0, 0.0),
            (60.0, 30.0),
            (60.0, 30.0),
            (120.0, -10.0),
        ]
        .map(|(x, y)| Point::new(x, y));
        let ends = (Some(Vec2::new(0.0, 3.0)), Some(Vec2::new(5.0, 5.0)));
        let pieces = through(&points, ends, false);
        assert_eq!(pieces.len(), 2);
        let first: Vec<Point> = pieces[0].points().collect();
        assert!((first[1].x).abs() < 1e-12 && first[1].y > 0.0);
        assert!(through(&points[..2], ends, true).is_empty());
        // Two places and a closed flag: there and back.
        let two = through(&points[1..3], (None, None), true);
        assert_eq!(two.len(), 2);
        assert_eq!(two[1].end(), two[0].start());
    }
}
