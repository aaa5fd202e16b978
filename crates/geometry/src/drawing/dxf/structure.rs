//! The sections of a DXF file that matter for parts: units, layers, blocks, entities.

use super::super::error::{Culprit, DrawingError};
use super::pairs::{Pair, is_binary, pairs};
use std::collections::BTreeMap;

/// One entity: its kind and its own pairs.
#[derive(Debug, Clone)]
pub(super) struct Entity<'a> {
    pub kind: String,
    pairs: Vec<Pair<'a>>,
    line: Option<usize>,
}

/// A named set of entities.
#[derive(Debug, Clone)]
pub(super) struct Block<'a> {
    pub name: String,
    pub head: Entity<'a>,
    pub entities: Vec<Entity<'a>>,
}

/// How a layer is shown.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct LayerState {
    pub off: bool,
    pub frozen: bool,
    /// Group 62, never negative; 0 when the file names none.
    pub colour: i64,
    /// Group 420.
    pub true_colour: Option<i64>,
    /// Group 6; empty when the file names none.
    pub line_type: String,
}

/// What of a file matters for parts.
#[derive(Debug, Default)]
pub(super) struct Structure<'a> {
    /// `$INSUNITS` and its line.
    pub units: Option<(i64, usize)>,
    /// By name in lower case.
    pub layers: BTreeMap<String, LayerState>,
    /// By name in lower case: DXF compares names without regard to case.
    pub blocks: BTreeMap<String, Block<'a>>,
    pub entities: Vec<Entity<'a>>,
}

impl<'a> Entity<'a> {
    fn new(kind: &Pair<'a>, is_text: bool) -> Self {
        Self {
            kind: kind.text(),
            pairs: Vec::new(),
            line: is_text.then_some(kind.line),
        }
    }

    /// Takes the entity's pairs off `rest`, without extension data: groups in braces (102), what
    /// follows an embedded object (101), and everything from 1000 on.
    fn read(rest: &mut &[Pair<'a>], is_text: bool) -> Option<Self> {
        let (head, mut pairs) = rest.split_first()?;
        let mut entity = Self::new(head, is_text);
        let mut braces = 0_usize;
        let mut embedded = false;
        while let Some((pair, after)) = pairs.split_first() {
            if pair.code == 0 {
                break;
            }
            pairs = after;
            match pair.code {
                101 => embedded = true,
                102 if pair.is("}") => braces = braces.saturating_sub(1),
                102 => braces += 1,
                code if code < 1000 && braces == 0 && !embedded => entity.pairs.push(*pair),
                _ => {}
            }
        }
        *rest = pairs;
        Some(entity)
    }

    /// The pairs in order.
    pub fn pairs(&self) -> &[Pair<'a>] {
        &self.pairs
    }

    /// The first pair with this code.
    pub fn first(&self, code: i32) -> Option<&Pair<'a>> {
        self.pairs.iter().find(|p| p.code == code)
    }

    /// The text of a code; empty when there is none.
    pub fn text(&self, code: i32) -> String {
        self.first(code).map(Pair::text).unwrap_or_default()
    }

    /// How messages name it; `layer` is the one that counts for it.
    pub fn culprit(&self, layer: &str) -> Box<Culprit> {
        Box::new(Culprit {
            kind: self.kind.clone(),
            layer: layer.to_owned(),
            line: self.line,
            column: None,
            id: self.first(5).map(Pair::text),
        })
    }

    /// A finite number, or `default` when the code is absent.
    pub fn number(&self, code: i32, default: f64) -> Result<f64, DrawingError> {
        match self.first(code) {
            Some(pair) => self.finite(pair),
            None => Ok(default),
        }
    }

    /// A finite number that must be there.
    pub fn needed(&self, code: i32, what: &str) -> Result<f64, DrawingError> {
        match self.first(code) {
            Some(pair) => self.finite(pair),
            None => Err(self.bad(
                format!("{what} (group {code})"),
                "missing".to_owned(),
                "export the drawing again",
            )),
        }
    }

    /// The number of a pair, finite.
    pub fn finite(&self, pair: &Pair<'_>) -> Result<f64, DrawingError> {
        match pair.number() {
            Some(v) if v.is_finite() => Ok(v),
            _ => Err(self.bad_pair(pair, "expected a finite number")),
        }
    }

    /// A whole number, or `default` when the code is absent.
    pub fn whole(&self, code: i32, default: i64) -> Result<i64, DrawingError> {
        match self.first(code) {
            Some(pair) => pair
                .whole()
                .ok_or_else(|| self.bad_pair(pair, "expected a whole number")),
            None => Ok(default),
        }
    }

    /// Refuses a list whose length is not the one that the entity states in `code`: a piece of it
    /// was lost.
    pub fn check_count(&self, code: i32, what: &str, found: usize) -> Result<(), DrawingError> {
        match self.first(code) {
            Some(pair) if pair.whole() != i64::try_from(found).ok() => Err(self.bad(
                format!("the number of {what} (group {code})"),
                format!("{}, and {found} follow", pair.text()),
                "the file is damaged; export it again",
            )),
            _ => Ok(()),
        }
    }

    /// The error that names a pair's value.
    pub fn bad_pair(&self, pair: &Pair<'_>, remedy: &str) -> DrawingError {
        let place = match self.line {
            Some(_) => format!(", line {}", pair.line + 1),
            None => format!(", byte {}", pair.line),
        };
        let shown: String = pair.text().chars().take(40).collect();
        self.bad(
            format!("group {}{place}", pair.code),
            format!("`{shown}`"),
            remedy,
        )
    }

    /// The error that names a value.
    pub fn bad(&self, field: String, value: String, remedy: &str) -> DrawingError {
        DrawingError::BadValue {
            culprit: self.culprit(&self.text(8)),
            field,
            value,
            remedy: remedy.to_owned(),
        }
    }
}

impl<'a> Structure<'a> {
    /// Reads the sections of a file.
    ///
    /// # Errors
    /// [`DrawingError::Malformed`] when the file is no DXF or is cut short.
    pub fn read(bytes: &'a [u8]) -> Result<Self, DrawingError> {
        let all = pairs(bytes)?;
        let is_text = !is_binary(bytes);
        let mut structure = Self::default();
        let mut rest = all.as_slice();
        let mut sections = 0;
        while let Some((head, after)) = rest.split_first() {
            if head.code == 0 && head.is("SECTION") {
                sections += 1;
                let name = after
                    .first()
                    .filter(|p| p.code == 2)
                    .map(Pair::text)
                    .unwrap_or_default();
                rest = after;
                match name.as_str() {
                    "HEADER" => structure.read_header(&mut rest),
                    "TABLES" => structure.read_layers(&mut rest, is_text),
                    "BLOCKS" => structure.read_blocks(&mut rest, is_text),
                    "ENTITIES" => {
                        skip_head(&mut rest);
                        structure.entities.extend(read_entities(&mut rest, is_text));
                    }
                    _ => {}
                }
            } else {
                rest = after;
            }
        }
        if sections == 0 {
            return Err(DrawingError::Malformed {
                line: 1,
                what: "no section begins anywhere: this is no DXF drawing".to_owned(),
            });
        }
        Ok(structure)
    }

    fn read_header(&mut self, rest: &mut &[Pair<'a>]) {
        while let Some((pair, after)) = rest.split_first() {
            if pair.code == 0 {
                return;
            }
            if pair.code == 9
                && pair.is("$INSUNITS")
                && let Some(value) = after.first().filter(|p| p.code == 70)
            {
                // A value that is no number is as unknown as one out of the table.
                self.units = Some((value.whole().unwrap_or(-1), value.line + 1));
            }
            *rest = after;
        }
    }

    fn read_layers(&mut self, rest: &mut &[Pair<'a>], is_text: bool) {
        skip_head(rest);
        while let Some(head) = rest.first() {
            if head.is("ENDSEC") || head.is("SECTION") {
                return;
            }
            let Some(entry) = Entity::read(rest, is_text) else {
                return;
            };
            if entry.kind == "LAYER" {
                let whole = |code| entry.first(code).and_then(Pair::whole).unwrap_or(0);
                let state = LayerState {
                    off: whole(62) < 0,
                    frozen: whole(70) & 1 != 0,
                    colour: whole(62).saturating_abs(),
                    true_colour: entry.first(420).and_then(Pair::whole),
                    line_type: entry.text(6),
                };
                self.layers.insert(entry.text(2).to_lowercase(), state);
            }
        }
    }

    fn read_blocks(&mut self, rest: &mut &[Pair<'a>], is_text: bool) {
        skip_head(rest);
        while let Some(head) = rest.first() {
            if head.is("ENDSEC") || head.is("SECTION") {
                return;
            }
            let Some(entry) = Entity::read(rest, is_text) else {
                return;
            };
            if entry.kind == "BLOCK" {
                let name = entry.text(2);
                let block = Block {
                    name: name.clone(),
                    head: entry,
                    entities: read_entities(rest, is_text),
                };
                self.blocks.insert(name.to_lowercase(), block);
            }
        }
    }
}

/// Moves to the next pair of code 0.
fn skip_head(rest: &mut &[Pair<'_>]) {
    let skip = rest.iter().position(|p| p.code == 0).unwrap_or(rest.len());
    *rest = &rest[skip..];
}

/// The entities up to the end of the block or section.
fn read_entities<'a>(rest: &mut &[Pair<'a>], is_text: bool) -> Vec<Entity<'a>> {
    let mut entities = Vec::new();
    while let Some(head) = rest.first() {
        if ["ENDSEC", "ENDBLK", "SECTION", "BLOCK"]
            .iter()
            .any(|end| head.is(end))
        {
            break;
        }
        match Entity::read(rest, is_text) {
            Some(entity) => entities.push(entity),
            None => break,
        }
    }
    entities
}
