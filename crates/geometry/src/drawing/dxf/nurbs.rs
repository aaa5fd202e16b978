//! B-splines to Béziers.

use crate::fit::Bezier;
use crate::{Point, Vec2};

/// The rational Béziers that a non-uniform rational B-spline is made of, one for each knot span
/// that is not empty.
///
/// `knots.len()` is `control.len() + degree + 1`, knots do not fall, `degree` is at least 1 and
/// less than `control.len()`, weights are positive: the caller has checked. Clamped, unclamped and
/// periodic knots all give the spline over its proper range.
///
/// # Source
/// Each control point of a span's Bézier is the span's blossom at the span's ends (L. Ramshaw,
/// "Blossoms are polar forms", Computer Aided Geometric Design 6 (1989) 323-358; from memory),
/// computed by de Boor's scheme in homogeneous coordinates.
pub(super) fn beziers(degree: usize, knots: &[f64], control: &[(Point, f64)]) -> Vec<Bezier> {
    let Some((origin, _)) = control.first() else {
        return Vec::new();
    };
    let homogeneous: Vec<(Vec2, f64)> = control
        .iter()
        .map(|(p, w)| ((*p - *origin) * *w, *w))
        .collect();
    (degree..control.len())
        .filter(|span| knots[*span] < knots[span + 1])
        .map(|span| {
            let (low, high) = (knots[span], knots[span + 1]);
            let points = (0..=degree)
                .map(|count| {
                    let mut work = homogeneous[span - degree..=span].to_vec();
                    for round in 1..=degree {
                        // `count` of the blossom's arguments are the upper end.
                        let at = if round <= count { high } else { low };
                        for i in (round..=degree).rev() {
                            let k = span - degree + i;
                            let (from, to) = (knots[k], knots[k + degree - round + 1]);
                            let share = (at - from) / (to - from);
                            let (a, b) = (work[i - 1], work[i]);
                            work[i] = (
                                a.0 * (1.0 - share) + b.0 * share,
                                a.1 * (1.0 - share) + b.1 * share,
                            );
                        }
                    }
                    let (v, w) = work[degree];
                    (*origin + v * (1.0 / w), w)
                })
                .collect();
            Bezier::new(points)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Cox-de Boor recursion, straight from its definition: slow and independent.
    fn basis(i: usize, p: usize, knots: &[f64], u: f64) -> f64 {
        if p == 0 {
            return f64::from(u8::from(knots[i] <= u && u < knots[i + 1]));
        }
        let part = |from: f64, to: f64, value: f64| {
            if to > from { value / (to - from) } else { 0.0 }
        };
        part(knots[i], knots[i + p], u - knots[i]) * basis(i, p - 1, knots, u)
            + part(knots[i + 1], knots[i + p + 1], knots[i + p + 1] - u)
                * basis(i + 1, p - 1, knots, u)
    }

    #[test]
    fn agrees_with_the_definition_of_the_b_spline() {
        let control: Vec<(Point, f64)> = [
            (0.0, 0.0, 1.0),
            (10.0, 30.0, 2.0),
            (25.0, -5.0, 0.5),
            (40.0, 12.0, 1.0),
            (60.0, 3.0, 3.0),
            (55.0, -20.0, 1.0),
        ]
        .map(|(x, y, w)| (Point::new(x, y), w))
        .to_vec();
        for knots in [
            [0.0, 0.0, 0.0, 0.0, 1.0, 2.5, 3.0, 3.0, 3.0, 3.0], // clamped
            [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0], // unclamped uniform
            [0.0, 0.0, 1.0, 1.0, 2.0, 2.0, 3.0, 3.0, 4.0, 5.0], // double knots
        ] {
            let pieces = beziers(3, &knots, &control);
            let spans: Vec<usize> = (3..6).filter(|s| knots[*s] < knots[s + 1]).collect();
            assert_eq!(pieces.len(), spans.len());
            for (piece, span) in pieces.iter().zip(spans) {
                for step in 0..10 {
                    let t = f64::from(step) / 10.0;
                    let u = knots[span] + t * (knots[span + 1] - knots[span]);
                    let (mut x, mut y, mut w) = (0.0, 0.0, 0.0);
                    for (i, (p, weight)) in control.iter().enumerate() {
                        let n = basis(i, 3, &knots, u) * weight;
                        x += n * p.x;
                        y += n * p.y;
                        w += n;
                    }
                    let expected = Point::new(x / w, y / w);
                    assert!(piece.at(t).distance(expected) < 1e-9, "{knots:?} {u}");
                }
            }
        }
    }
}
