//! How a drawing is to be read.

use super::Unit;
use super::error::DrawingError;
use super::rule::{DrawingRule, Traits};
use crate::tolerance;
use std::collections::HashMap;

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
    /// Rules that come before the names below: the first one that holds decides.
    pub rules: Vec<DrawingRule>,
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
            rules: Vec::new(),
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
        self.prepared().named(layer)
    }

    /// What becomes of `layer`.
    #[must_use]
    pub fn for_layer(&self, layer: &str) -> LayerUse {
        self.prepared().for_layer(layer)
    }

    /// The rules in a form that is quick to ask for thousands of entities.
    pub(super) fn prepared(&self) -> PreparedRules {
        let mut named = HashMap::new();
        // The first in the order of precedence stays.
        for (list, layer_use) in [
            (&self.cut, LayerUse::Cut),
            (&self.mark, LayerUse::Mark),
            (&self.ignore, LayerUse::Ignore),
        ] {
            for name in list {
                named.entry(key(name)).or_insert(layer_use);
            }
        }
        PreparedRules {
            rules: self.rules.clone(),
            named,
            otherwise: self.otherwise,
        }
    }
}

fn key(layer: &str) -> String {
    layer.trim().to_lowercase()
}

/// What becomes of a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum TextUse {
    /// Its letters are marked.
    Mark,
    /// It is left out, as asked for.
    Ignore,
    /// It is left out, which may not be what was meant.
    Tell {
        /// Whether its layer is cut.
        is_cut: bool,
    },
}

/// [`LayerRules`] by name.
#[derive(Debug)]
pub(super) struct PreparedRules {
    rules: Vec<DrawingRule>,
    named: HashMap<String, LayerUse>,
    otherwise: LayerUse,
}

impl PreparedRules {
    /// Whether anything but names decides, so that colours and the like have to be found out.
    pub fn has_rules(&self) -> bool {
        !self.rules.is_empty()
    }

    /// What becomes of a curve on `layer` with these traits.
    pub fn decide(&self, layer: &str, traits: &Traits<'_>) -> LayerUse {
        let rule = self.rules.iter().find(|rule| rule.holds(traits));
        rule.map_or_else(|| self.for_layer(layer), |rule| rule.becomes)
    }

    /// What becomes of text on `layer` with these traits: it is marked where a rule says so, left out
    /// where a rule or a list does, and otherwise told.
    pub fn decide_text(&self, layer: &str, traits: &Traits<'_>) -> TextUse {
        let rule = self.rules.iter().find(|rule| rule.holds(traits));
        let by_rule = rule.map(|rule| rule.becomes);
        match (by_rule, self.for_layer(layer)) {
            (Some(LayerUse::Mark), _) => TextUse::Mark,
            (Some(LayerUse::Ignore), _) | (None, LayerUse::Ignore) => TextUse::Ignore,
            (_, LayerUse::Cut) => TextUse::Tell { is_cut: true },
            (_, LayerUse::Mark | LayerUse::Ignore) => TextUse::Tell { is_cut: false },
        }
    }

    /// What a rule or a list says of `layer` by its name alone, if any does.
    pub fn by_layer(&self, layer: &str) -> Option<LayerUse> {
        let traits = Traits {
            layers: &[layer],
            ..Traits::default()
        };
        let mut rules = self.rules.iter().filter(|rule| rule.is_by_layer());
        rules
            .find(|rule| rule.holds(&traits))
            .map(|rule| rule.becomes)
            .or_else(|| self.named(layer))
    }

    pub fn named(&self, layer: &str) -> Option<LayerUse> {
        self.named.get(&key(layer)).copied()
    }

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
    /// Ends of curves that are nearer than this belong together, in millimetres. Below 0, or no
    /// number, it counts as 0; above [`tolerance::WIDEST_JOIN`] no drawing is read.
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
    /// [`ReadOptions::join`] as it is used.
    ///
    /// # Errors
    /// It is too wide.
    pub(super) fn sound_join(&self) -> Result<f64, DrawingError> {
        if self.join > tolerance::WIDEST_JOIN {
            return Err(DrawingError::JoinTooWide { join: self.join });
        }
        Ok(self.join.max(0.0))
    }

    /// [`ReadOptions::fit`] as it is used. Finer than this, the arcs only trace the rounding of
    /// the drawing's own numbers.
    pub(super) fn least_fit(&self) -> f64 {
        self.fit.max(1e-4)
    }
}
