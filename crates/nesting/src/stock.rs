//! What parts are cut from.

use crate::{PlacedPart, SawCut};
use panelwright_geometry::{Bounds, Point, Polygon};

/// Whether stock was bought or left over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum StockKind {
    /// As bought; upright, its length along x.
    Sheet,
    /// A logged left-over of any outline.
    Remnant,
}

/// When a left-over is worth keeping, and what it and the rest are worth.
#[derive(Debug, Clone, PartialEq)]
pub struct KeepRule {
    /// Least shorter side of the rectangle inside it, millimetres.
    pub least_width: f64,
    /// Least longer side of the rectangle inside it, millimetres.
    pub least_length: f64,
    /// Rectangles that may be smaller than that: a left-over that holds one of them is kept as well,
    /// whichever way it lies. Both sides in millimetres: what a part that is cut often takes, with the
    /// margin round it.
    pub or_holds: Vec<[f64; 2]>,
    /// Value of kept material per square millimetre.
    pub value_per_area: f64,
    /// Width, in millimetres, that is lost along the whole border of a piece when it is cut later: the
    /// machine's margin. It counts nothing, so that a narrow piece is worth less than a square one.
    pub edge: f64,
    /// What labelling, logging and storing one piece costs; taken off its value. Without it, many
    /// scattered pieces would seem as good as one.
    pub handling: f64,
    /// Cost of scrap per square millimetre: disposal less recycling credit, so perhaps negative.
    pub scrap_cost_per_area: f64,
}

impl Default for KeepRule {
    /// Nothing is kept and scrap costs nothing.
    fn default() -> Self {
        Self {
            least_width: f64::INFINITY,
            least_length: f64::INFINITY,
            or_holds: Vec::new(),
            value_per_area: 0.0,
            edge: 0.0,
            handling: 0.0,
            scrap_cost_per_area: 0.0,
        }
    }
}

impl KeepRule {
    /// What a kept piece of this area (square millimetres) is worth that has so long a border
    /// (millimetres, voids included), never below 0. A rate that is no number is none.
    ///
    /// The strip along the border is counted with four right corners, so it is exact for rectangles and all other shapes of
    /// right angles that are wide enough, and a little off elsewhere.
    #[must_use]
    pub fn value_of(&self, area: f64, border: f64) -> f64 {
        let edge = self.edge.max(0.0);
        let sound = if 8.0 * edge <= border {
            (area - edge * border + 4.0 * edge * edge).max(0.0)
        } else if border > 0.0 {
            // Narrower than both strips together.
            0.0
        } else {
            area
        };
        let value = self.value_per_area * sound - self.handling;
        if value.is_finite() {
            value.max(0.0)
        } else {
            0.0
        }
    }

    /// [`value_of`](Self::value_of) a piece of this outline.
    #[must_use]
    pub fn value_of_piece(&self, piece: &Polygon) -> f64 {
        let border = piece.edges().map(|(a, b)| a.distance(b)).sum();
        self.value_of(piece.area(), border)
    }

    /// [`value_of`](Self::value_of) a rectangle of these sides.
    #[must_use]
    pub fn value_of_rectangle(&self, a: f64, b: f64) -> f64 {
        self.value_of(a * b, 2.0 * (a + b))
    }

    /// Whether a rectangle of these sides passes; equality does.
    #[must_use]
    pub fn passes(&self, a: f64, b: f64) -> bool {
        let (short, long) = (a.min(b), a.max(b));
        let mut least = self.least_rectangles();
        least.any(|[width, length]| short >= width && long >= length)
    }

    /// The rectangles of which a left-over must hold one, each as its shorter and its longer side.
    pub fn least_rectangles(&self) -> impl Iterator<Item = [f64; 2]> + '_ {
        let others = self.or_holds.iter().map(|[a, b]| [a.min(*b), a.max(*b)]);
        // Both sides as given: where least_width is above least_length, that is what both sides have to reach.
        std::iter::once([self.least_width, self.least_length]).chain(others)
    }

    /// The shorter side, the longer side and the area that every left-over has at least; none of them is
    /// enough alone.
    pub(crate) fn least(&self) -> ([f64; 2], f64) {
        let start = ([f64::INFINITY; 2], f64::INFINITY);
        self.least_rectangles().fold(start, |([w, l], area), r| {
            ([w.min(r[0]), l.min(r[1])], area.min(r[0] * r[1]))
        })
    }

    /// The largest rectangle that passes, where `find` finds the largest with at least these two sides, the
    /// shorter one first.
    pub(crate) fn largest_passing(
        &self,
        find: impl Fn(f64, f64) -> Option<Bounds>,
    ) -> Option<Bounds> {
        let ([width, length], _) = self.least();
        // Nearly always the largest of all passes, and the others need not be looked for.
        let found = find(width, length)?;
        if self.passes(found.width(), found.height()) {
            return Some(found);
        }
        let of_each = self.least_rectangles().filter_map(|[w, l]| find(w, l));
        of_each.fold(None, |best: Option<Bounds>, found| {
            Some(best.filter(|b| b.area() >= found.area()).unwrap_or(found))
        })
    }
}

/// How a sheet too large for a machine is first sawn into blanks.
#[derive(Debug, Clone, PartialEq)]
pub struct BreakDown {
    /// Saw cuts in cutting order, in the sheet's coordinates.
    pub cuts: Vec<SawCut>,
    /// The blanks that go to the machine; parts lie inside one of them, by the margin.
    pub blanks: Vec<Bounds>,
}

/// One kind of stock: a sheet size, or one remnant.
#[derive(Debug, Clone, PartialEq)]
pub struct Stock {
    /// Identity for messages and files.
    pub name: String,
    /// Bought or left over.
    pub kind: StockKind,
    /// Outline, with its voids as holes.
    pub outline: Polygon,
    /// Flaws that no part may touch: kept clear by the margin, as voids are, and no offcut that is
    /// kept has one in it. They may cross each other, a void or the edge.
    pub keep_clear: Vec<Vec<Point>>,
    /// Areas that the machine needs free while it cuts (clamps, screws), where they lie on this
    /// piece: kept clear by the margin of the problem or, if it is more, of the stock
    /// ([`crate::Problem::margin_of_zones`]), but the material there is sound and may be part
    /// of an offcut. Not for sawn stock.
    pub zones: Vec<Vec<Point>>,
    /// Parts that already have their place here. When there are any, this kind of stock stands for
    /// one definite piece: its supply is 1 and its own, every nest takes it, and its layout has
    /// exactly these parts where they are, among others. Not for sawn stock.
    pub pinned: Vec<PlacedPart>,
    /// What taking one costs: the price of a sheet, the book value of a remnant.
    pub cost: f64,
    /// Index into [`crate::Problem::supplies`]; kinds of stock that are the same sheet broken down
    /// in different ways share one.
    pub supply: usize,
    /// Direction of the grain in degrees; `None` when the material has none.
    pub grain_deg: Option<f64>,
    /// How many faces are good: 0, 1 or 2.
    pub good_faces: u8,
    /// What becomes of its left-overs.
    pub keep: KeepRule,
    /// Least distance of a part from its edges, voids and flaws, where it is another one than that of the
    /// problem: the edges of a remnant are cut clean, those of a sheet as it was delivered are not.
    pub margin: Option<f64>,
    /// How it is sawn into blanks before parts are cut from those; `None` when it goes to the
    /// machine whole.
    pub break_down: Option<BreakDown>,
}

impl Stock {
    /// Least area of what is kept clear, in square millimetres: a flaw or a zone without any would be kept clear by no
    /// search, and is refused.
    pub const LEAST_CLEAR: f64 = 1e-3;

    /// A rectangular sheet without grain, one good face, that keeps no offcuts.
    pub fn sheet(
        name: impl Into<String>,
        length: f64,
        width: f64,
        cost: f64,
        supply: usize,
    ) -> Self {
        Self {
            name: name.into(),
            kind: StockKind::Sheet,
            outline: Polygon::rectangle(length, width),
            keep_clear: Vec::new(),
            zones: Vec::new(),
            pinned: Vec::new(),
            cost,
            supply,
            grain_deg: None,
            good_faces: 1,
            keep: KeepRule::default(),
            margin: None,
            break_down: None,
        }
    }

    /// A remnant of any outline, with its voids as holes; there is one of it.
    pub fn remnant(name: impl Into<String>, outline: Polygon, cost: f64, supply: usize) -> Self {
        Self {
            kind: StockKind::Remnant,
            outline,
            ..Self::sheet(name, 1.0, 1.0, cost, supply)
        }
    }

    /// The areas that parts must lie in, each by the margin: the whole outline, or the blanks.
    #[must_use]
    pub fn fields(&self) -> Vec<Polygon> {
        match &self.break_down {
            Some(plan) => plan
                .blanks
                .iter()
                .map(|b| Polygon::from_bounds(*b))
                .collect(),
            None => vec![self.outline.clone()],
        }
    }
}
