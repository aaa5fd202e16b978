//! What to look at before one material takes another's place: stiffness, and openings that are drawn to the
//! thickness.

use super::stiffness::{bending, modulus_gpa, solid_thickness};
use crate::input::{Material, Substance};
use crate::job::{Item, Job};
use crate::number::plain;
use crate::paper::{Lengths, Paper};
use crate::rates::Rates;
use panelwright_geometry::{Outline, Ring, Segment};
use std::collections::BTreeSet;

/// Openings this much narrower than a thickness may still be drawn to it, in millimetres: cast sheet runs
/// 0.7 mm under at 3 mm (ISO 7823-1 as stated by suppliers: 0.4 + 0.1 t).
const UNDER: f64 = 0.7;

/// And this much wider: usual clearance and the same tolerance.
const OVER: f64 = 1.2;

/// Hints for using the materials of `now` in place of those of `before`; both are the same order otherwise.
#[must_use]
pub fn hints(before: &Job, now: &Job, rates: &Rates) -> Vec<String> {
    let mut hints = Vec::new();
    let paper = &now.shop.paper;
    let pairs = before.items.iter().zip(&now.items);
    let changed: BTreeSet<(usize, usize)> = pairs
        .map(|(old, new)| (old.material, new.material))
        .filter(|(old, new)| old != new)
        .collect();
    let everything: Vec<&Item> = before.items.iter().collect();
    for (old, new) in &changed {
        let (a, b) = (&before.shop.materials[*old], &now.shop.materials[*new]);
        hints.extend(stiffness_hint(a, b, (*old, *new), rates, paper));
        if (a.thickness - b.thickness).abs() > 1e-6 {
            hints.push(thickness_hint(a, b, &everything, paper));
        }
        if b.substance == Substance::Acrylic && a.substance != Substance::Acrylic {
            let values = [("material", plain(&b.name).into())];
            hints.push(paper.say_with("estimate-swap-brittle", &values));
        }
    }
    hints
}

fn stiffness_hint(
    a: &Material,
    b: &Material,
    (old, new): (usize, usize),
    rates: &Rates,
    paper: &Paper,
) -> Option<String> {
    let (before, now) = (
        bending(a, &rates.materials[old])?,
        bending(b, &rates.materials[new])?,
    );
    let share = paper.short(100.0 * now / before, 0);
    let mut values = vec![
        ("new", plain(&b.name).into()),
        ("share", share.into()),
        ("old", plain(&a.name).into()),
    ];
    if b.substance == Substance::Composite {
        return Some(paper.say_with("estimate-swap-stiffness", &values));
    }
    let modulus = rates.materials[new]
        .modulus_gpa
        .or_else(|| modulus_gpa(b.substance))?;
    let thickness = solid_thickness(before, modulus);
    values.push(("thickness", small(thickness, 1, paper).into()));
    Some(paper.say_with("estimate-swap-stiffness-as", &values))
}

/// A small length with its unit: millimetres with at most so many decimals, inches to a thousandth.
fn small(mm: f64, decimals: usize, paper: &Paper) -> String {
    let value = match paper.lengths {
        Lengths::Millimetres => paper.short(mm, decimals),
        Lengths::Inches | Lengths::Fractions(_) => paper.short(mm / 25.4, 3),
    };
    format!("{value} {}", paper.length_unit())
}

fn thickness_hint(a: &Material, b: &Material, items: &[&Item], paper: &Paper) -> String {
    let mut parts = Vec::new();
    for item in items {
        let mut widths: Vec<String> = narrow_openings(&item.outline)
            .into_iter()
            .filter(|w| (a.thickness - UNDER..=a.thickness + OVER).contains(w))
            .map(|w| small(w, 1, paper))
            .collect();
        widths.sort();
        widths.dedup();
        if !widths.is_empty() {
            let values = [
                ("part", plain(&item.part).into()),
                ("widths", widths.join(", ").into()),
            ];
            parts.push(paper.say_with("estimate-swap-slot", &values));
        }
    }
    let width = ("width", small(a.thickness, 2, paper).into());
    let found = match parts.is_empty() {
        true => paper.say_with("estimate-swap-no-slot", &[width]),
        false => paper.say_with(
            "estimate-swap-slots",
            &[width, ("parts", parts.join(", ").into())],
        ),
    };
    let from = match paper.lengths {
        Lengths::Millimetres => paper.short(a.thickness, 2),
        Lengths::Inches | Lengths::Fractions(_) => paper.short(a.thickness / 25.4, 3),
    };
    paper.say_with(
        "estimate-swap-thickness",
        &[
            ("from", from.into()),
            ("to", small(b.thickness, 2, paper).into()),
            ("found", found.into()),
        ],
    )
}

/// Widths of long narrow holes, and of notches open to the outside, in millimetres.
#[must_use]
pub fn narrow_openings(outline: &Outline) -> Vec<f64> {
    let slots = outline.holes.iter().filter_map(slot_width);
    slots.chain(notch_widths(&outline.outer)).collect()
}

/// Width of a hole that is a rectangle or has round ends, whatever its angle, if it is at least half as
/// long again as wide: from area and perimeter.
fn slot_width(hole: &Ring) -> Option<f64> {
    let (area, perimeter) = (hole.area(), hole.length());
    let round = hole.segments().any(|s| s.bulge.abs() > 1e-9);
    let (length, width) = if round {
        // Area w l + pi w^2 / 4 and perimeter 2 l + pi w, l between the middles of the ends; so the width is
        // the smaller root of pi w^2 / 4 - p w / 2 + area = 0.
        let quarter = std::f64::consts::FRAC_PI_4;
        let root = (0.25 * perimeter * perimeter - 4.0 * quarter * area)
            .max(0.0)
            .sqrt();
        let width = (0.5 * perimeter - root) / (2.0 * quarter);
        (0.5 * perimeter - quarter * 2.0 * width + width, width)
    } else {
        let half = 0.25 * perimeter;
        let root = (half * half - area).max(0.0).sqrt();
        (half + root, half - root)
    };
    (width > 0.0 && length >= 1.5 * width).then_some(width)
}

/// Widths of notches: the length of an edge that both neighbours rise from towards the outside.
fn notch_widths(outer: &Ring) -> Vec<f64> {
    let edges: Vec<Segment> = outer.segments().filter(|s| s.length() > 1e-6).collect();
    let n = edges.len();
    let straight = |s: &Segment| s.bulge.abs() < 1e-9;
    (0..n)
        .filter_map(|i| {
            let (before, edge, after) = (&edges[(i + n - 1) % n], &edges[i], &edges[(i + 1) % n]);
            if ![before, edge, after].into_iter().all(straight) {
                return None;
            }
            let [a, b, c] = [before, edge, after].map(|s| s.end - s.start);
            let unit = |x: f64, of: f64| x / of;
            let turn = |u: panelwright_geometry::Vec2, v: panelwright_geometry::Vec2| {
                unit(u.x * v.y - u.y * v.x, u.length() * v.length())
            };
            // Both corners turn right by about a quarter: the edge is the floor of a notch.
            let deep = a.length() >= 0.5 * b.length() && c.length() >= 0.5 * b.length();
            (turn(a, b) < -0.9 && turn(b, c) < -0.9 && deep).then(|| b.length())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::Point;

    fn near(widths: &[f64], expected: &[f64]) {
        assert_eq!(widths.len(), expected.len(), "{widths:?}");
        for (w, e) in widths.iter().zip(expected) {
            assert!((w - e).abs() < 1e-6, "{widths:?}");
        }
    }

    #[test]
    fn slots_and_notches_are_measured() {
        let corner = |x: f64, y: f64| Point::new(x, y);
        let square = Ring::rounded_rectangle(corner(20.0, 20.0), corner(60.0, 23.2), 0.0);
        let round = Ring::rounded_rectangle(corner(20.0, 40.0), corner(60.0, 46.0), 3.0);
        let hole = Ring::circle(corner(80.0, 80.0), 3.0);
        let mut outline = Outline::rectangle(100.0, 100.0);
        outline.holes = vec![square, round, hole];
        near(&narrow_openings(&outline), &[3.2, 6.0]);
        // A notch of 3.1 mm from above, 20 deep.
        let notched = Outline::polygon(
            [
                (0.0, 0.0),
                (100.0, 0.0),
                (100.0, 50.0),
                (53.1, 50.0),
                (53.1, 30.0),
                (50.0, 30.0),
                (50.0, 50.0),
                (0.0, 50.0),
            ]
            .map(|(x, y)| corner(x, y)),
        );
        near(&narrow_openings(&notched), &[3.1]);
        // A step in the edge is no notch.
        let stepped = Outline::polygon(
            [
                (0.0, 0.0),
                (100.0, 0.0),
                (100.0, 30.0),
                (50.0, 30.0),
                (50.0, 50.0),
                (0.0, 50.0),
            ]
            .map(|(x, y)| corner(x, y)),
        );
        assert!(narrow_openings(&stepped).is_empty());
    }
}
