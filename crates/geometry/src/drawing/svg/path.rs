//! Path data to strokes.

use super::super::pen::{Chain, Pen};
use crate::fit::EllipseArc;
use crate::{Point, Vec2};
use std::f64::consts::TAU;
use svgtypes::{PathParser, PathSegment};

/// Why path data cannot be used.
pub(super) struct BadPath(pub String);

/// Draws path data; `end` takes each stroke as it ends, with whether it is closed.
pub(super) fn draw(
    data: &str,
    pen: &mut Pen<'_>,
    mut end: impl FnMut(&mut Pen<'_>, bool) -> Option<Chain>,
) -> Result<Vec<Option<Chain>>, BadPath> {
    let mut strokes = Vec::new();
    let mut is_drawn = false;
    let mut at = Point::default();
    let mut first = at;
    // The control point that a smooth command reflects, and the degree it is from.
    let mut control: Option<(Point, u8)> = None;
    let mirrored = |at: Point, control: Option<(Point, u8)>, degree: u8| match control {
        Some((c, from)) if from == degree => at + (at - c),
        _ => at,
    };
    for segment in PathParser::from(data) {
        let segment = segment.map_err(|error| BadPath(error.to_string()))?;
        let is_move = matches!(segment, PathSegment::MoveTo { .. });
        if !is_drawn && !is_move {
            // A command after a closing one begins where the closed stroke began.
            pen.move_to(at);
        }
        let from = at;
        let place = |abs: bool, x: f64, y: f64| {
            if abs {
                Point::new(x, y)
            } else {
                Point::new(from.x + x, from.y + y)
            }
        };
        let mut next_control = None;
        match segment {
            PathSegment::MoveTo { abs, x, y } => {
                if is_drawn {
                    strokes.push(end(pen, false));
                }
                is_drawn = false;
                at = place(abs, x, y);
                first = at;
                pen.move_to(at);
                continue;
            }
            PathSegment::ClosePath { .. } => {
                if is_drawn {
                    pen.line_to(first);
                    strokes.push(end(pen, true));
                }
                is_drawn = false;
                at = first;
                control = None;
                continue;
            }
            PathSegment::LineTo { abs, x, y } => {
                at = place(abs, x, y);
                pen.line_to(at);
            }
            PathSegment::HorizontalLineTo { abs, x } => {
                at.x = if abs { x } else { at.x + x };
                pen.line_to(at);
            }
            PathSegment::VerticalLineTo { abs, y } => {
                at.y = if abs { y } else { at.y + y };
                pen.line_to(at);
            }
            PathSegment::CurveTo {
                abs,
                x1,
                y1,
                x2,
                y2,
                x,
                y,
            } => {
                let second = place(abs, x2, y2);
                at = place(abs, x, y);
                pen.bezier(&[place(abs, x1, y1), second, at]);
                next_control = Some((second, 3));
            }
            PathSegment::SmoothCurveTo { abs, x2, y2, x, y } => {
                let second = place(abs, x2, y2);
                at = place(abs, x, y);
                pen.bezier(&[mirrored(from, control, 3), second, at]);
                next_control = Some((second, 3));
            }
            PathSegment::Quadratic { abs, x1, y1, x, y } => {
                let middle = place(abs, x1, y1);
                at = place(abs, x, y);
                pen.bezier(&[middle, at]);
                next_control = Some((middle, 2));
            }
            PathSegment::SmoothQuadratic { abs, x, y } => {
                let middle = mirrored(from, control, 2);
                at = place(abs, x, y);
                pen.bezier(&[middle, at]);
                next_control = Some((middle, 2));
            }
            PathSegment::EllipticalArc {
                abs,
                rx,
                ry,
                x_axis_rotation,
                large_arc,
                sweep,
                x,
                y,
            } => {
                at = place(abs, x, y);
                let ends = (from, at);
                match arc(
                    ends,
                    (rx.abs(), ry.abs()),
                    x_axis_rotation,
                    large_arc,
                    sweep,
                ) {
                    Some(arc) => pen.elliptical(&arc, Some(at)),
                    None => pen.line_to(at),
                }
            }
        }
        is_drawn = true;
        control = next_control;
    }
    if is_drawn {
        strokes.push(end(pen, false));
    }
    Ok(strokes)
}

/// The ellipse of an arc command; `None` when it is a line or nothing.
///
/// Source: SVG 2, appendix Implementation Notes, conversion from endpoint to center
/// parameterization, and the correction of out-of-range radii.
fn arc(
    (from, to): (Point, Point),
    (rx, ry): (f64, f64),
    rotation_deg: f64,
    large: bool,
    sweep: bool,
) -> Option<EllipseArc> {
    if rx == 0.0 || ry == 0.0 || from == to {
        return None;
    }
    // A rotated circle is the same circle; leaving the turn out keeps its digits.
    let (sin, cos) = if rx == ry {
        (0.0, 1.0)
    } else {
        rotation_deg.to_radians().sin_cos()
    };
    let half = (from - to) * 0.5;
    // The half chord in the ellipse's own axes, scaled to a unit circle.
    let x = (cos * half.x + sin * half.y) / rx;
    let y = (cos * half.y - sin * half.x) / ry;
    let square = x * x + y * y;
    let grown = square.sqrt().max(1.0);
    let (rx, ry, x, y) = (rx * grown, ry * grown, x / grown, y / grown);
    let square = (square / (grown * grown)).min(1.0);
    let aside = ((1.0 - square) / square).max(0.0).sqrt() * if large == sweep { -1.0 } else { 1.0 };
    // Centre on the unit circle's plane, relative to the chord's middle.
    let (cx, cy) = (aside * y, -aside * x);
    let u = Vec2::new(cos * rx, sin * rx);
    let v = Vec2::new(-sin * ry, cos * ry);
    let center = from.midpoint(to) + u * cx + v * cy;
    let start = (y - cy).atan2(x - cx);
    let end = (-y - cy).atan2(-x - cx);
    let mut turned = (end - start).rem_euclid(TAU);
    // Half circles come out as half a turn either way; only a nought needs care.
    if turned == 0.0 {
        turned = TAU;
    }
    Some(EllipseArc {
        center,
        u,
        v,
        start,
        sweep: if sweep { turned } else { turned - TAU },
    })
}
