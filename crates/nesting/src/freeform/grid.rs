//! Parts drawn on a grid, whose layouts have lengths in whole steps of it.

use crate::{Angles, Problem};
use panelwright_geometry::Vec2;

/// Drawn lengths nearer than this, in millimetres, are the same.
const DRAWN: f64 = 1e-9;

/// The same of layouts, in which contact is found less exactly.
const LAID: f64 = 1e-6;

/// The finest grid that is looked for, in millimetres.
const FINEST: f64 = 1e-4;

/// A grid that all corners of all parts lie on, each measured from a corner of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Grid {
    /// Its pitch in millimetres.
    pub pitch: f64,
    /// Whether some edges run diagonally. If none does, every layout has one on the grid that is no longer; two
    /// diagonals may meet half way between.
    pub diagonal: bool,
    /// Whether nothing keeps a gap.
    touching: bool,
}

impl Grid {
    /// The widest grid that the parts of `problem` are drawn on, or `None` where an edge is curved or
    /// runs neither along the sides of the stock nor diagonally. Across, parts have `room`: with diagonals that
    /// tells how far they lie along, so it has to be of the grid too.
    pub fn of(problem: &Problem, room: f64) -> Option<Self> {
        let mut grid = Self {
            pitch: 0.0,
            diagonal: false,
            touching: problem.gap == 0.0,
        };
        let mut lengths = vec![problem.gap];
        for part in &problem.parts {
            for stock in &problem.stock {
                match part.angles(stock) {
                    Angles::Listed(angles) if angles.iter().all(|a| a % 90.0 == 0.0) => {}
                    _ => return None,
                }
            }
            let first = part.outline.outer.vertices.first()?.point;
            for segment in part.outline.rings().flat_map(|r| r.segments()) {
                let Vec2 { x, y } = segment.end - segment.start;
                if segment.bulge != 0.0 {
                    return None;
                }
                if x.abs() > DRAWN && y.abs() > DRAWN {
                    if (x.abs() - y.abs()).abs() > DRAWN {
                        return None;
                    }
                    grid.diagonal = true;
                }
                let off = segment.start - first;
                lengths.extend([off.x.abs(), off.y.abs()]);
            }
        }
        if grid.diagonal {
            // Its mitre is on no grid.
            if !grid.touching {
                return None;
            }
            lengths.push(room);
        }
        for length in &lengths {
            grid.pitch = common_measure(grid.pitch, *length);
        }
        let off = |length: &f64| (length - (length / grid.pitch).round() * grid.pitch).abs();
        (grid.pitch > FINEST && lengths.iter().all(|l| off(l) < DRAWN)).then_some(grid)
    }

    /// The least length of a layout that is no shorter than `floor`.
    ///
    /// Without diagonals, and without a gap (which is round at corners), two parts are clear of each other, however
    /// they lie across, between lengths on the grid. So they stay clear where all are moved back to the grid.
    pub fn raised(&self, floor: f64) -> f64 {
        if self.diagonal || !self.touching {
            return floor;
        }
        floor.max(self.pitch * ((floor - LAID) / self.pitch).ceil())
    }

    /// The longest length on a grid of this pitch that is shorter than `length` and, where it can be, no longer than
    /// `wanted`.
    pub fn below(pitch: f64, length: f64, wanted: f64) -> f64 {
        let next = ((length - LAID) / pitch).ceil() - 1.0;
        pitch * next.min(((wanted + LAID) / pitch).floor())
    }
}

/// The longest length that both are multiples of (Euclid).
fn common_measure(mut a: f64, mut b: f64) -> f64 {
    while b > DRAWN {
        let rest = a - (a / b).round() * b;
        (a, b) = (b, rest.abs());
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Part, Stock, Turn};
    use panelwright_geometry::{Outline, Point};

    fn problem(corners: &[(f64, f64)], turn: Turn, gap: f64) -> Problem {
        let outline = Outline::polygon(corners.iter().map(|&(x, y)| Point::new(x, y)));
        let part = Part {
            turn,
            ..Part::new("piece", outline, 3)
        };
        let sheet = Stock::sheet("sheet", 100.0, 40.0, 1.0, 0);
        Problem {
            gap,
            ..Problem::new(vec![part], vec![sheet], vec![Some(1)])
        }
    }

    const L: [(f64, f64); 6] = [
        (3.1, 0.7),
        (12.1, 0.7),
        (12.1, 6.7),
        (9.1, 6.7),
        (9.1, 3.7),
        (3.1, 3.7),
    ];

    #[test]
    fn parts_on_a_grid_are_known() {
        let grid = Grid::of(&problem(&L, Turn::Quarter, 0.0), 40.0).expect("drawn on threes");
        assert!((grid.pitch - 3.0).abs() < 1e-9 && !grid.diagonal);
        assert!((grid.raised(30.1) - 33.0).abs() < 1e-9);
        assert!((grid.raised(33.0) - 33.0).abs() < 1e-9);
        // The gap is a part of every distance, and round at corners.
        let apart = Grid::of(&problem(&L, Turn::Quarter, 2.0), 40.0).expect("drawn on ones");
        assert!((apart.pitch - 1.0).abs() < 1e-9 && apart.raised(30.1) == 30.1);
        let rhomb = [(0., 0.), (6., -6.), (12., 0.), (6., 6.)];
        let grid = Grid::of(&problem(&rhomb, Turn::None, 0.0), 40.0)
            .expect("drawn on sixes, across forty");
        assert!((grid.pitch - 2.0).abs() < 1e-9 && grid.diagonal && grid.raised(31.0) == 31.0);
        assert_eq!(Grid::of(&problem(&rhomb, Turn::None, 1.0), 40.0), None);
        assert_eq!(Grid::of(&problem(&L, Turn::Free, 0.0), 40.0), None);
        let slanted = [(0., 0.), (6., 0.), (6., 5.)];
        assert_eq!(Grid::of(&problem(&slanted, Turn::None, 0.0), 40.0), None);
        let odd = [
            (0., 0.),
            (6., 0.),
            (6., std::f64::consts::PI),
            (0., std::f64::consts::PI),
        ];
        assert_eq!(Grid::of(&problem(&odd, Turn::None, 0.0), 40.0), None);
    }

    #[test]
    fn the_next_length_is_shorter_and_on_the_grid() {
        assert_eq!(Grid::below(1.0, 54.0, 53.95), 53.0);
        assert_eq!(Grid::below(1.0, 53.6, 53.55), 53.0);
        assert_eq!(Grid::below(0.5, 54.0, 53.95), 53.5);
        assert_eq!(Grid::below(1.0, 54.0, 52.0), 52.0);
        assert_eq!(Grid::below(1.0, 54.0, 51.7), 51.0);
    }
}
