//! What a file format's reader hands on: chains by use, and what was left out.

use super::error::{Culprit, DrawingError};
use super::lettering::Lettering;
use super::note::Note;
use super::options::LayerUse;
use super::pen::{Approximations, Chain};
use crate::tolerance;
use std::collections::BTreeMap;

/// The most chains and corners a drawing may come to after its blocks are copied out. A kit of
/// parts has thousands; beyond this something multiplies.
const MOST_CHAINS: usize = 200_000;
const MOST_CORNERS: usize = 2_000_000;

/// The most strokes of letters. Each is looked for on the parts, and a machine needs a second for it.
const MOST_STROKES: usize = 50_000;

/// Chains in millimetres, y up, and the record of what was not read.
#[derive(Debug, Default)]
pub(super) struct Sketch {
    pub cut: Vec<Chain>,
    pub marks: Vec<Chain>,
    /// Texts that are marked. Their strokes meet, cross and repeat as letters do: nothing is healed.
    pub letterings: Vec<Lettering>,
    pub approximations: Approximations,
    not_read: BTreeMap<String, (usize, Culprit)>,
    /// Text that no rule says anything of: by kind and by whether its layer is cut.
    text_left: BTreeMap<(String, bool), (usize, Culprit)>,
    left_out: BTreeMap<(String, &'static str), (usize, Culprit)>,
    remarks: Vec<String>,
    corners: usize,
    letter_strokes: usize,
}

impl Sketch {
    /// Takes a chain whose layer has this use.
    pub fn add(&mut self, chain: Chain, layer_use: LayerUse) -> Result<(), DrawingError> {
        self.check(&chain)?;
        match layer_use {
            LayerUse::Cut => self.cut.push(chain),
            LayerUse::Mark => self.marks.push(chain),
            LayerUse::Ignore => {}
        }
        Ok(())
    }

    /// Takes a text that is marked.
    pub fn add_lettering(&mut self, lettering: Lettering) -> Result<(), DrawingError> {
        for chain in &lettering.strokes {
            self.check(chain)?;
        }
        self.letter_strokes += lettering.strokes.len();
        if self.letter_strokes > MOST_STROKES {
            return Err(DrawingError::TooMuch {
                culprit: lettering.culprit,
                why: format!(
                    "brings the drawing over {MOST_STROKES} strokes of letters; mark less of its text"
                ),
            });
        }
        self.letterings.push(lettering);
        Ok(())
    }

    /// Refuses a chain beyond the limits of a drawing, and counts it.
    fn check(&mut self, chain: &Chain) -> Result<(), DrawingError> {
        for v in &chain.vertices {
            let p = v.point;
            if !p.is_finite()
                || !v.bulge.is_finite()
                || p.x.abs().max(p.y.abs()) > tolerance::LARGEST
            {
                return Err(DrawingError::BadValue {
                    culprit: chain.culprit.clone(),
                    field: "a coordinate".to_owned(),
                    value: format!("({}, {}) mm", p.x, p.y),
                    remedy: format!(
                        "nothing may lie beyond {} mm; check the drawing's unit",
                        tolerance::LARGEST
                    ),
                });
            }
        }
        self.corners += chain.vertices.len();
        if self.corners > MOST_CORNERS || self.cut.len() + self.marks.len() >= MOST_CHAINS {
            return Err(DrawingError::TooMuch {
                culprit: chain.culprit.clone(),
                why: format!(
                    "brings the drawing over {MOST_CHAINS} curves or {MOST_CORNERS} corners; \
                     split the drawing, or copy parts by their quantity"
                ),
            });
        }
        Ok(())
    }

    /// Records a text that no rule says anything of.
    pub fn text_left(&mut self, culprit: &Culprit, is_cut: bool) {
        self.text_left
            .entry((culprit.kind.clone(), is_cut))
            .or_insert_with(|| (0, culprit.clone()))
            .0 += 1;
    }

    /// Records an entity of a kind that is not read.
    pub fn not_read(&mut self, culprit: &Culprit) {
        self.not_read
            .entry(culprit.kind.clone())
            .or_insert_with(|| (0, culprit.clone()))
            .0 += 1;
    }

    /// Records an entity left out for its layer, or for itself.
    pub fn left_out(&mut self, culprit: &Culprit, why: &'static str) {
        self.left_out
            .entry((culprit.layer.clone(), why))
            .or_insert_with(|| (0, culprit.clone()))
            .0 += 1;
    }

    /// Records anything else, once.
    pub fn remark(&mut self, text: String) {
        if !self.remarks.contains(&text) {
            self.remarks.push(text);
        }
    }

    /// The record as notes.
    pub fn notes(&self) -> Vec<Note> {
        let approximated =
            self.approximations
                .by_kind
                .iter()
                .map(|(kind, (count, pieces, error))| Note::Approximated {
                    kind: kind.clone(),
                    count: *count,
                    pieces: *pieces,
                    error: *error,
                });
        let not_read = self
            .not_read
            .iter()
            .map(|(kind, (count, first))| Note::NotRead {
                kind: kind.clone(),
                count: *count,
                first: first.clone(),
            });
        let text_left = self
            .text_left
            .iter()
            .map(|((kind, is_cut), (count, first))| Note::TextLeft {
                kind: kind.clone(),
                count: *count,
                is_cut: *is_cut,
                first: first.clone(),
            });
        let left_out =
            self.left_out
                .iter()
                .map(|((layer, why), (count, first))| Note::LayerLeftOut {
                    layer: layer.clone(),
                    count: *count,
                    why,
                    first: first.clone(),
                });
        let remarks = self
            .remarks
            .iter()
            .map(|text| Note::Remark { text: text.clone() });
        approximated
            .chain(not_read)
            .chain(text_left)
            .chain(left_out)
            .chain(remarks)
            .collect()
    }

    /// What was left out, as the end of the message that nothing is left.
    pub fn hint(&self) -> String {
        let mut left: Vec<String> = self
            .not_read
            .iter()
            .map(|(kind, (count, _))| format!("{count} {kind}"))
            .collect();
        left.extend(
            self.text_left
                .iter()
                .map(|((kind, _), (count, _))| format!("{count} {kind}")),
        );
        left.extend(self.left_out.iter().map(
            |((layer, why), (count, first))| match layer.as_str() {
                "" => format!("{count} without a layer ({why}), the first {first}"),
                _ => format!("{count} on layer `{layer}` ({why})"),
            },
        ));
        if left.is_empty() {
            String::new()
        } else {
            format!("; left out: {}", left.join(", "))
        }
    }
}
