//! The question put to a search.

mod check;

use crate::{NestError, Part, PlacedPart, Stock, verify};
use panelwright_geometry::{Bounds, Point};

/// Direction of the first cuts of a saw plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum FirstCut {
    /// Rips: along the sheet's length (x).
    Along,
    /// Crosscuts: across the sheet's length.
    Across,
    /// Whichever is better.
    #[default]
    Either,
}

/// What the first cuts take off each edge to square it, in millimetres, the blade included.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Trim {
    /// Off the left edge.
    pub left: f64,
    /// Off the right edge.
    pub right: f64,
    /// Off the lower edge.
    pub bottom: f64,
    /// Off the upper edge.
    pub top: f64,
}

/// What a panel saw can do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SawRules {
    /// Width of the blade's cut.
    pub kerf: f64,
    /// Trim cuts; each 0 or at least the kerf. Remnants are always trimmed to a rectangle.
    pub trim: Trim,
    /// Most stages (runs of parallel cuts), trims not counted; `None` for any number.
    pub stages: Option<u32>,
    /// Direction of the first stage.
    pub first_cut: FirstCut,
    /// Longest rip (a cut along x) that the saw takes.
    pub longest_rip: f64,
    /// Longest crosscut (a cut along y) that the saw takes.
    pub longest_crosscut: f64,
    /// Narrowest strip or piece that the saw can hold.
    pub least_strip: f64,
}

impl Default for SawRules {
    /// No kerf, no trim and no limits.
    fn default() -> Self {
        Self {
            kerf: 0.0,
            trim: Trim::default(),
            stages: None,
            first_cut: FirstCut::Either,
            longest_rip: f64::INFINITY,
            longest_crosscut: f64::INFINITY,
            least_strip: 0.0,
        }
    }
}

/// How parts are freed from the stock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Method {
    /// By a tool that follows any outline: a router or a laser.
    FreeForm,
    /// By edge-to-edge saw cuts. Parts are sawn to their bounding rectangle; gap and margin then
    /// follow from kerf and trim.
    Guillotine(SawRules),
}

/// Parts, stock and rules. All lengths in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// What is wanted: a million copies at most.
    pub parts: Vec<Part>,
    /// What there is to cut it from.
    pub stock: Vec<Stock>,
    /// How many pieces there are of each supply; `None` for as many as it takes.
    pub supplies: Vec<Option<u32>>,
    /// How parts are freed.
    pub method: Method,
    /// Least distance between two finished outlines; at least the kerf.
    pub gap: f64,
    /// Least distance from an edge of the stock, a void or a flaw; [`Stock::margin`] may set another.
    pub margin: f64,
    /// Width that the router or laser removes.
    pub kerf: f64,
    /// Whether parts may be set into window cut-outs of other parts.
    pub use_cutouts: bool,
}

impl Problem {
    /// A free-form problem without gap, margin or kerf.
    #[must_use]
    pub fn new(parts: Vec<Part>, stock: Vec<Stock>, supplies: Vec<Option<u32>>) -> Self {
        Self {
            parts,
            stock,
            supplies,
            method: Method::FreeForm,
            gap: 0.0,
            margin: 0.0,
            kerf: 0.0,
            use_cutouts: true,
        }
    }

    /// Least distance from an edge, a void or a flaw of `stock`.
    #[must_use]
    pub fn margin_on(&self, stock: &Stock) -> f64 {
        stock.margin.unwrap_or(self.margin)
    }

    /// Least distance from an area that the machine needs free ([`Stock::zones`]): the tool must not meet a clamp, however
    /// clean the edges of the stock are.
    #[must_use]
    pub fn margin_of_zones(&self, stock: &Stock) -> f64 {
        self.margin_on(stock).max(self.margin)
    }

    /// What parts keep clear of on `stock` beside its edges and voids, as rings that the margin of the stock is enough
    /// for: where zones ask for more, rectangles round them.
    pub(crate) fn clear_by_margin(&self, stock: &Stock) -> Vec<Vec<Point>> {
        let more = self.margin_of_zones(stock) - self.margin_on(stock);
        let widened = |ring: &Vec<Point>| match Bounds::of_points(ring.iter().copied()) {
            Some(bounds) if more > 0.0 => bounds.grown(more).corners().to_vec(),
            _ => ring.clone(),
        };
        let flaws = stock.keep_clear.iter().cloned();
        flaws.chain(stock.zones.iter().map(widened)).collect()
    }

    /// The least margin of any stock.
    pub(crate) fn least_margin(&self) -> f64 {
        let margins = self.stock.iter().map(|stock| self.margin_on(stock));
        margins.reduce(f64::min).unwrap_or(self.margin)
    }

    /// By part: how much a missing copy weighs, so that one of higher priority outweighs all of lower.
    /// Copies of the lowest priority weigh nothing: their number is compared elsewhere.
    pub(crate) fn priority_weights(&self) -> Vec<u128> {
        let mut classes: Vec<i32> = self.parts.iter().map(|p| p.priority).collect();
        classes.sort_unstable();
        classes.dedup();
        let mut weights = vec![0; self.parts.len()];
        let mut weight: u128 = 1;
        for class in classes.into_iter().skip(1) {
            let mut copies: u128 = 0;
            for (part, of_part) in self.parts.iter().zip(&mut weights) {
                if part.priority == class {
                    *of_part = weight;
                    copies += u128::from(part.quantity);
                }
            }
            weight = weight.saturating_mul(1 + copies);
        }
        weights
    }

    /// Checks what can be checked before a search: that all numbers are some and make sense, that parts have sound outlines,
    /// stock an area and flaws too, and that pinned parts are sound where they lie. That stock does not cross itself, and
    /// that its voids lie within it and apart, is not looked at.
    ///
    /// # Errors
    /// The first thing that is wrong: see [`NestError`].
    pub fn check(&self) -> Result<(), NestError> {
        check::numbers(self)?;
        check::parts(self)?;
        check::stock(self)?;
        self.check_pinned()
    }

    /// How many copies of each part are pinned; those on stock that does not name them right are
    /// not counted.
    #[must_use]
    pub fn pinned_counts(&self) -> Vec<u32> {
        let mut counts = vec![0_u32; self.parts.len()];
        for pinned in self.stock.iter().flat_map(|s| &s.pinned) {
            if let Some(count) = counts.get_mut(pinned.part) {
                *count += 1;
            }
        }
        counts
    }

    /// Pinned parts: there, wanted, on a piece of its own, and sound where they lie.
    fn check_pinned(&self) -> Result<(), NestError> {
        for (i, stock) in self.stock.iter().enumerate() {
            let Some(first) = stock.pinned.first() else {
                continue;
            };
            let bad = |placed: &PlacedPart, reason: &str| NestError::BadPinned {
                part: self
                    .parts
                    .get(placed.part)
                    .map_or_else(|| format!("part {}", placed.part), |p| p.name.clone()),
                stock: stock.name.clone(),
                reason: reason.into(),
            };
            if let Some(unknown) = stock.pinned.iter().find(|p| p.part >= self.parts.len()) {
                return Err(bad(unknown, "there is no such part"));
            }
            if matches!(self.method, Method::Guillotine(_)) {
                return Err(bad(
                    first,
                    "parts that are sawn cannot be pinned: every cut runs from edge to edge",
                ));
            }
            let shared = self.stock.iter().filter(|s| s.supply == stock.supply);
            if self.supplies[stock.supply] != Some(1) || shared.count() != 1 {
                return Err(bad(first, "the stock is not one piece of its own"));
            }
            if let Some(fault) = verify::judge_pinned(self, i, 1).first() {
                return Err(bad(first, &fault.to_string()));
            }
        }
        let counts = self.pinned_counts();
        for (part, pinned) in self.parts.iter().zip(counts) {
            if pinned > part.quantity {
                return Err(NestError::BadPart {
                    part: part.name.clone(),
                    reason: format!(
                        "{pinned} copies are pinned, but only {} are wanted",
                        part.quantity
                    ),
                });
            }
        }
        Ok(())
    }
}
