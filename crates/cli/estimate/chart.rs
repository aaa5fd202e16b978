//! The quantity curve as an SVG picture: unit cost of each choice against quantity.

use super::table::Row;
use crate::number::plain;
use crate::paper::Paper;
use crate::path_data::escaped;
use std::fmt::Write as _;

/// Size of the picture, in its own units.
const WIDTH: f64 = 900.0;
const HEIGHT: f64 = 420.0;
/// Room for the numbers on the left, for the names on the right, above and below.
const LEFT: f64 = 78.0;
const RIGHT: f64 = 200.0;
const TOP: f64 = 20.0;
const BOTTOM: f64 = 52.0;

/// Least distance between two names on the right.
const NAME_ROOM: f64 = 19.0;

/// A choice to draw: its name and rows.
pub struct Curve<'a> {
    /// For the right end.
    pub name: &'a str,
    /// In rising order of quantity.
    pub rows: &'a [Row],
}

/// Where quantities and amounts lie in the picture. Quantities stand evenly by their logarithm, so that one and
/// five kits are not on top of each other beside a hundred.
struct Scale {
    quantity: (f64, f64),
    amount: (f64, f64),
}

impl Scale {
    fn x(&self, quantity: u32) -> f64 {
        let (from, to) = self.quantity;
        let at = (f64::from(quantity).ln() - from) / (to - from).max(1e-9);
        LEFT + at * (WIDTH - LEFT - RIGHT)
    }

    fn y(&self, amount: f64) -> f64 {
        let (from, to) = self.amount;
        TOP + (to - amount) / (to - from).max(1e-9) * (HEIGHT - TOP - BOTTOM)
    }
}

/// The picture; empty when there is nothing to draw.
#[must_use]
pub fn chart(curves: &[Curve], currency: &str, paper: &Paper) -> String {
    let amounts = || {
        curves
            .iter()
            .flat_map(|c| c.rows)
            .map(|r| r.unit_cost.to_f64())
    };
    let quantities = || curves.iter().flat_map(|c| c.rows).map(|r| r.quantity);
    let (Some(first), Some(last)) = (quantities().min(), quantities().max()) else {
        return String::new();
    };
    if first == last {
        return String::new();
    }
    let most = amounts().fold(0.0, f64::max);
    let least = amounts().fold(f64::INFINITY, f64::min);
    let step = tidy((most - least).max(0.02 * most.max(0.01)) / 5.0);
    let scale = Scale {
        quantity: (f64::from(first).ln(), f64::from(last).ln()),
        amount: (
            (least / step - 0.05).floor() * step,
            (most / step - 0.05).ceil() * step,
        ),
    };
    let mut svg = format!(
        "<svg class=\"curve\" viewBox=\"0 0 {WIDTH} {HEIGHT}\" role=\"img\" aria-label=\"{}\">",
        escaped(&plain(&paper.say_with(
            "estimate-chart-name",
            &[("currency", currency.into())]
        )))
    );
    let about = paper.say_with("estimate-chart-axis", &[("currency", currency.into())]);
    axes(
        &mut svg,
        &scale,
        step,
        quantities().collect(),
        &about,
        paper,
    );
    names(&mut svg, &scale, curves);
    for (i, curve) in curves.iter().enumerate() {
        line(&mut svg, &scale, i, curve);
    }
    svg + "</svg>"
}

/// The nearest of 1, 2 and 5 times a power of ten above.
fn tidy(step: f64) -> f64 {
    let power = 10_f64.powf(step.log10().floor());
    let times = [1.0, 2.0, 5.0, 10.0];
    power
        * times
            .into_iter()
            .find(|t| t * power >= step)
            .unwrap_or(10.0)
}

fn axes(
    svg: &mut String,
    scale: &Scale,
    step: f64,
    mut quantities: Vec<u32>,
    about: &str,
    paper: &Paper,
) {
    let (from, to) = scale.amount;
    let count = ((to - from) / step).round() as u32;
    for i in 0..=count {
        let amount = from + f64::from(i) * step;
        let y = scale.y(amount);
        let _ = write!(
            svg,
            "<path class=\"grid\" d=\"M{LEFT} {y:.1}H{:.1}\"/><text class=\"end\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            WIDTH - RIGHT,
            LEFT - 10.0,
            y + 5.0,
            paper.short(amount, 2)
        );
    }
    quantities.sort_unstable();
    quantities.dedup();
    let base = HEIGHT - BOTTOM;
    let mut free = f64::NEG_INFINITY;
    for quantity in quantities {
        let x = scale.x(quantity);
        let _ = write!(svg, "<path class=\"grid\" d=\"M{x:.1} {base:.1}v6\"/>");
        let half = 5.0 * quantity.to_string().len() as f64;
        if x - half >= free {
            let _ = write!(
                svg,
                "<text class=\"mid\" x=\"{x:.1}\" y=\"{:.1}\">{quantity}</text>",
                base + 23.0
            );
            free = x + half + 8.0;
        }
    }
    let _ = write!(
        svg,
        "<text class=\"mid\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
        0.5 * (LEFT + WIDTH - RIGHT),
        HEIGHT - 6.0,
        escaped(&plain(about))
    );
}

/// The names at the right ends, kept apart.
fn names(svg: &mut String, scale: &Scale, curves: &[Curve]) {
    let mut ends: Vec<(f64, usize)> = curves
        .iter()
        .enumerate()
        .filter_map(|(i, c)| Some((scale.y(c.rows.last()?.unit_cost.to_f64()), i)))
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut free = TOP;
    let lowest = HEIGHT - BOTTOM;
    let count = ends.len();
    for (k, (y, i)) in ends.into_iter().enumerate() {
        let room = NAME_ROOM * (count - 1 - k) as f64;
        let at = y.max(free).min((lowest - room).max(free));
        free = at + NAME_ROOM;
        let name: String = plain(curves[i].name).chars().take(22).collect();
        let _ = write!(
            svg,
            "<text class=\"c{}\" x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            i % 4,
            WIDTH - RIGHT + 12.0,
            at + 5.0,
            escaped(&name)
        );
    }
}

fn line(svg: &mut String, scale: &Scale, index: usize, curve: &Curve) {
    let points: Vec<String> = curve
        .rows
        .iter()
        .map(|r| {
            format!(
                "{:.1},{:.1}",
                scale.x(r.quantity),
                scale.y(r.unit_cost.to_f64())
            )
        })
        .collect();
    let class = index % 4;
    let _ = write!(
        svg,
        "<polyline class=\"c{class}\" points=\"{}\"/>",
        points.join(" ")
    );
    if curve.rows.len() > 60 {
        return;
    }
    for row in curve.rows {
        let (x, y) = (scale.x(row.quantity), scale.y(row.unit_cost.to_f64()));
        let mark = match class {
            0 => format!("<circle class=\"c0\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"5\"/>"),
            1 => format!(
                "<rect class=\"c1\" x=\"{:.1}\" y=\"{:.1}\" width=\"9\" height=\"9\"/>",
                x - 4.5,
                y - 4.5
            ),
            2 => format!(
                "<path class=\"c2 m\" d=\"M{x:.1} {:.1}l5.5 9.5h-11z\"/>",
                y - 6.0
            ),
            _ => format!(
                "<path class=\"c3 m\" d=\"M{x:.1} {:.1}l6 6l-6 6l-6 -6z\"/>",
                y - 6.0
            ),
        };
        svg.push_str(&mark);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_of_the_scale_are_tidy() {
        for (step, expected) in [
            (0.7, 1.0),
            (1.1, 2.0),
            (2.3, 5.0),
            (31.0, 50.0),
            (7e-3, 0.01),
        ] {
            assert!((tidy(step) - expected).abs() < 1e-9);
        }
    }
}
