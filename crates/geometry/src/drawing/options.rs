//! How a drawing is to be read.

use super::Unit;
use crate::tolerance;

/// What becomes of the curves on a layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LayerUse {
    /// They are cut through: outlines and holes.
    Cut,
    /// They are scored or engraved: marks.
    Mark,
    /// They are left out: dimensions, notes, construction lines.
    Ignore,
}

/// Which layers are cut, marked or left out. Names are compared without regard to case.
///
/// A layer in several lists is cut before it is marked, and marked before it is ignored: leaving
/// out a curve by mistake costs a sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerRules {
    /// Layers that are cut.
    pub cut: Vec<String>,
    /// Layers that are marked.
    pub mark: Vec<String>,
    /// Layers that are left out.
    pub ignore: Vec<String>,
    /// What becomes of every other layer.
    pub otherwise: LayerUse,
}

impl Default for LayerRules {
    /// Everything is cut, apart from layers named for marks (`mark`, `marks`, `score`, `engrave`)
    /// and for remarks (`ignore`, `notes`, `dimensions`, `text`, `defpoints`).
    fn default() -> Self {
        let names = |list: &[&str]| list.iter().map(|n| (*n).to_owned()).collect();
        Self {
            cut: Vec::new(),
            mark: names(&["mark", "marks", "score", "engrave"]),
            ignore: names(&["ignore", "notes", "dimensions", "text", "defpoints"]),
            otherwise: LayerUse::Cut,
        }
    }
}

impl LayerRules {
    /// The rule that names `layer`, if any does.
    #[must_use]
    pub fn named(&self, layer: &str) -> Option<LayerUse> {
        let layer = layer.trim().to_lowercase();
        let in_list = |list: &[String]| list.iter().any(|n| n.trim().to_lowercase() == layer);
        if in_list(&self.cut) {
            Some(LayerUse::Cut)
        } else if in_list(&self.mark) {
            Some(LayerUse::Mark)
        } else if in_list(&self.ignore) {
            Some(LayerUse::Ignore)
        } else {
            None
        }
    }

    /// What becomes of `layer`.
    #[must_use]
    pub fn for_layer(&self, layer: &str) -> LayerUse {
        self.named(layer).unwrap_or(self.otherwise)
    }
}

/// How a drawing is to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadOptions {
    /// The unit the drawing is said to be in. It scales a drawing that names none; it never
    /// overrules one that does: a difference is [`super::DrawingError::UnitClash`].
    pub unit: Option<Unit>,
    /// Ends of curves that are nearer than this belong together, in millimetres.
    pub join: f64,
    /// How far the arcs that stand for other curves may be from them, in millimetres. Below a
    /// ten-thousandth, or no number, it counts as that.
    pub fit: f64,
    /// What becomes of each layer.
    pub layers: LayerRules,
}

impl Default for ReadOptions {
    /// No unit claimed, [`tolerance::JOIN`], [`tolerance::FIT`] and the default layer rules.
    fn default() -> Self {
        Self {
            unit: None,
            join: tolerance::JOIN,
            fit: tolerance::FIT,
            layers: LayerRules::default(),
        }
    }
}

impl ReadOptions {
    /// [`ReadOptions::fit`] as it is used. Finer than this, the arcs only trace the rounding of
    /// the drawing's own numbers.
    pub(super) fn least_fit(&self) -> f64 {
        self.fit.max(1e-4)
    }
}
