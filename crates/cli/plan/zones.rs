//! What a machine needs free on the stock that lies on it.

use crate::bed::from_bed;
use crate::cut_plan::Zone;
use crate::input::Machine;
use panelwright_geometry::{Point, Polygon, Region};
use panelwright_nesting::Stock;

/// What of the machine's areas to keep clear lies on `stock`, in the stock's coordinates: on the
/// whole of it, or on each of its blanks.
///
/// What reaches beyond the piece on the bed is cut off. That takes nothing away: a part that keeps the
/// margin from its piece's edge keeps it from everything beyond. Nor does leaving out slivers too small to be kept clear,
/// which a tip leaves that just meets the edge: they lie at the edge, within the margin.
pub fn zones_on(machine: &Machine, stock: &Stock) -> Vec<Zone> {
    let mut zones = Vec::new();
    for field in stock.fields() {
        let bounds = field.bounds();
        let back = from_bed(&bounds, machine);
        for area in &machine.keep_clear {
            let ring: Vec<Point> = area.corners().iter().map(|p| back.apply(*p)).collect();
            let shape = Polygon::new(ring, Vec::new());
            let its = shape.bounds();
            let pieces = if bounds.contains(&its) {
                vec![shape]
            } else if its.touches(&bounds) {
                Region::covering(&[shape], 0.0)
                    .intersection(&Region::from(Polygon::from_bounds(bounds)))
                    .polygons()
            } else {
                Vec::new()
            };
            let pieces = pieces.into_iter().map(|piece| piece.outer);
            zones.extend(
                pieces
                    .filter(|ring| {
                        Polygon::new(ring.clone(), Vec::new()).area() >= Stock::LEAST_CLEAR
                    })
                    .map(|outline| Zone {
                        why: area.why.clone(),
                        outline,
                    }),
            );
        }
    }
    zones
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bed::to_bed;
    use panelwright_geometry::{Bounds, Placement};
    use panelwright_nesting::BreakDown;

    fn machine() -> Machine {
        let text = r#"{"name": "laser", "process": "laser", "kerf": 0.2, "bed": [1200, 900],
            "keep_clear": [{"why": "clamp", "at": [0, 700], "length": 50, "width": 40},
                {"why": "stop", "outline": [[1100, -10], [1160, -10], [1160, 20], [1100, 20]]}]}"#;
        serde_json::from_str(text).expect("a machine")
    }

    fn found(stock: &Stock) -> Vec<(f64, f64, f64, f64)> {
        let zones = zones_on(&machine(), stock);
        let bounds = zones
            .iter()
            .map(|z| Polygon::new(z.outline.clone(), vec![]).bounds());
        bounds
            .map(|b| (b.min.x, b.min.y, b.width(), b.height()))
            .collect()
    }

    #[test]
    fn they_lie_as_on_the_bed_and_end_at_the_edge() {
        let sheet = Stock::sheet("s", 1120.0, 720.0, 1.0, 0);
        assert_eq!(
            found(&sheet),
            [(0.0, 700.0, 50.0, 20.0), (1100.0, 0.0, 20.0, 20.0)]
        );
        // A remnant's corner need not be its origin.
        let mut remnant = sheet.clone();
        let moved = Placement::new(0.0, Point::new(-300.0, 40.0));
        remnant.outline = remnant.outline.placed(&moved);
        assert_eq!(
            found(&remnant),
            [(-300.0, 740.0, 50.0, 20.0), (800.0, 40.0, 20.0, 20.0)]
        );
        assert_eq!(found(&Stock::sheet("s", 500.0, 500.0, 1.0, 0)), []);
    }

    #[test]
    fn a_piece_that_fits_only_turned_has_them_turned() {
        let tall = Stock::sheet("s", 800.0, 1150.0, 1.0, 0);
        // On the bed its upper left corner is at the origin and its left edge lies below.
        let expected = [(700.0, 1100.0, 40.0, 50.0), (0.0, 0.0, 20.0, 50.0)];
        assert_eq!(found(&tall), expected);
        let bounds = tall.outline.bounds();
        let there = to_bed(&bounds, &machine());
        let back = from_bed(&bounds, &machine());
        for corner in bounds.corners() {
            assert_eq!(back.apply(there.apply(corner)), corner);
        }
    }

    #[test]
    fn a_tip_that_just_meets_the_edge_leaves_nothing_behind() {
        let text = r#"{"name": "router", "process": "router", "kerf": 5, "bed": [2500, 1300],
            "keep_clear": [{"why": "valve", "outline": [[900, 0], [960, 0], [930, 40]]}]}"#;
        let machine: Machine = serde_json::from_str(text).expect("a machine");
        for reach in [0.0, 1e-9, 1e-6, 1e-4, 0.01] {
            let sheet = Stock::sheet("s", 900.0 + reach, 500.0, 1.0, 0);
            assert_eq!(zones_on(&machine, &sheet), [], "{reach}");
        }
        // What has an area stays, however small.
        let sheet = Stock::sheet("s", 900.1, 500.0, 1.0, 0);
        assert_eq!(zones_on(&machine, &sheet).len(), 1);
    }

    #[test]
    fn every_blank_has_its_own() {
        let mut sheet = Stock::sheet("s", 2440.0, 900.0, 1.0, 0);
        let blank = |x: f64| Bounds::new(Point::new(x, 0.0), Point::new(x + 1150.0, 900.0));
        sheet.break_down = Some(BreakDown {
            cuts: Vec::new(),
            blanks: vec![blank(0.0), blank(1153.2)],
        });
        assert_eq!(
            found(&sheet),
            [
                (0.0, 700.0, 50.0, 40.0),
                (1100.0, 0.0, 50.0, 20.0),
                (1153.2, 700.0, 50.0, 40.0),
                (2253.2, 0.0, 50.0, 20.0)
            ]
        );
    }
}
