//! What was found, in words and pictures.

use super::{Fit, GroupFit, Taker};
use crate::rack::picture::{self, Drawn};
use crate::remnant::NOT_PLACED;
use panelwright_geometry::Side;
use std::fmt::Write as _;

impl Fit {
    /// For people.
    #[must_use]
    pub fn text(&self) -> String {
        let mut text = String::new();
        for group in &self.groups {
            group.tell(&mut text, &self.currency);
        }
        text
    }
}

impl GroupFit {
    fn tell(&self, text: &mut String, currency: &str) {
        let list = |parts: &[(String, u32)]| {
            let names: Vec<String> = parts
                .iter()
                .map(|(part, n)| format!("{n} x {part}"))
                .collect();
            names.join(", ")
        };
        let _ = writeln!(
            text,
            "{} in {}, {}",
            list(&self.parts),
            self.material,
            self.machine
        );
        for (i, taker) in self.takers.iter().enumerate() {
            let _ = writeln!(text, "  {}. {}", i + 1, taker.line(currency));
        }
        if self.takers.is_empty() && !self.together.is_empty() {
            text.push_str("  no single remnant takes them; together:\n");
            for taker in &self.together {
                let _ = writeln!(text, "     {}", taker.line(currency));
            }
        }
        if !self.missing.is_empty() {
            let _ = writeln!(text, "  no remnant takes {}", list(&self.missing));
        }
        if let Some(new) = self.from_new {
            let _ = writeln!(text, "  from a new sheet: {new:.2} {currency} lost");
        }
        let _ = writeln!(
            text,
            "  ({} on the rack, {} large enough by size, {} nested on)",
            self.on_rack, self.possible, self.looked_at
        );
    }
}

impl Taker {
    fn line(&self, currency: &str) -> String {
        let mut line = format!(
            "{}  {:.0} x {:.0} mm, {}: {:.2} {currency} lost, worth {:.2} now",
            self.remnant,
            self.length,
            self.width,
            self.place.as_deref().unwrap_or(NOT_PLACED),
            self.value_lost,
            self.value
        );
        if !self.keeps.is_empty() {
            let sizes: Vec<String> = self
                .keeps
                .iter()
                .map(|[l, w]| format!("{l:.0} x {w:.0}"))
                .collect();
            let _ = write!(line, ", keeps {}", sizes.join(" and "));
        }
        if let Some(order) = &self.held_for {
            let _ = write!(line, " (held for order {order})");
        }
        line
    }
}

impl Fit {
    /// Pictures of the takers of each group, or of those that take it together, as one SVG file;
    /// `None` where there are none.
    #[must_use]
    pub fn picture(&self) -> Option<String> {
        let drawn: Vec<Drawn> = self
            .groups
            .iter()
            .flat_map(|group| group.takers.iter().chain(&group.together))
            .map(|taker| taker.drawn(&self.currency))
            .collect();
        (!drawn.is_empty()).then(|| picture::page(&drawn))
    }
}

impl Taker {
    fn drawn(&self, currency: &str) -> Drawn {
        let sheet = &self.sheet;
        Drawn {
            title: self.line(currency),
            outline: sheet.polygon(),
            flaws: sheet.flaws.clone(),
            parts: sheet
                .parts
                .iter()
                .map(|part| {
                    let polygon = part.outline.flatten(CHORD, Side::Covering);
                    (self.names[part.item].clone(), polygon)
                })
                .collect(),
            kept: sheet
                .offcuts
                .iter()
                .filter(|offcut| offcut.kept)
                .map(|offcut| offcut.outline.clone())
                .collect(),
            grain_deg: sheet.grain_deg,
        }
    }
}

/// How far curves may be off in a picture, millimetres.
const CHORD: f64 = 0.3;
