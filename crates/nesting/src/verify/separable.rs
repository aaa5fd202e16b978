//! Whether a saw could free rectangles at all.

use panelwright_geometry::{Bounds, tolerance};

/// Groups of rectangles that no edge-to-edge line between them parts, along one axis.
fn groups(
    mut rects: Vec<Bounds>,
    low: fn(&Bounds) -> f64,
    high: fn(&Bounds) -> f64,
) -> Vec<Vec<Bounds>> {
    rects.sort_by(|a, b| low(a).total_cmp(&low(b)));
    let mut groups: Vec<Vec<Bounds>> = Vec::new();
    let mut reach = f64::NEG_INFINITY;
    for rect in rects {
        match groups.last_mut() {
            Some(group) if low(&rect) < reach - tolerance::JUDGE => group.push(rect),
            _ => groups.push(vec![rect]),
        }
        reach = reach.max(high(&rect));
    }
    groups
}

/// Whether edge-to-edge cuts, in any number of stages and with a blade of no width, can part all of
/// these rectangles from one another. Touching rectangles can be parted, overlapping ones cannot.
///
/// # Runtime
/// Sorts once for each stage, so n log n times the number of stages.
#[must_use]
pub fn guillotine_separable(rects: &[Bounds]) -> bool {
    let mut open = vec![rects.to_vec()];
    while let Some(group) = open.pop() {
        if group.len() < 2 {
            continue;
        }
        let count = group.len();
        let mut parts = groups(group, |b| b.min.x, |b| b.max.x);
        if parts.len() == 1 {
            parts = groups(parts.remove(0), |b| b.min.y, |b| b.max.y);
        }
        if parts.iter().any(|p| p.len() == count) {
            return false;
        }
        open.extend(parts);
    }
    true
}
