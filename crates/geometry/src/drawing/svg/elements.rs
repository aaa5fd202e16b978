//! Elements to chains.

use super::super::ReadOptions;
use super::super::affine::Affine;
use super::super::error::{Culprit, DrawingError};
use super::super::lettering::MOST_CHARACTERS;
use super::super::options::{LayerUse, PreparedRules, TextUse};
use super::super::pen::{Chain, Pen};
use super::super::rule::{Colour, Traits};
use super::super::sketch::Sketch;
use super::path;
use super::style::Styles;
use super::text::{Chunk, Font, Places, Setting, lengths};
use super::viewport::{Along, Viewport, length, nested};
use crate::fit::EllipseArc;
use crate::{Bounds, Outline, Point, Ring, Vec2};
use roxmltree::{Document, Node, NodeId};
use std::collections::HashMap;
use std::f64::consts::TAU;
use svgtypes::{PointsParser, TransformListParser, TransformListToken};

/// Elements that are looked at, with all copies by `use`.
const MOST_VISITS: usize = 500_000;

/// How deep `use` may refer to what uses in turn.
const MOST_USES: usize = 16;

/// How deep groups and copies may stand in each other, all told.
const MOST_DEPTH: usize = 256;

/// How far a shape may reach beyond the window of a clip path, in millimetres: rounding.
const SLACK: f64 = 1e-3;

/// How messages name an element.
pub(super) fn culprit(document: &Document<'_>, node: Node<'_, '_>, layer: &str) -> Box<Culprit> {
    let place = document.text_pos_at(node.range().start);
    Box::new(Culprit {
        kind: node.tag_name().name().to_owned(),
        layer: layer.to_owned(),
        line: Some(place.row as usize),
        column: Some(place.col as usize),
        id: node.attribute("id").map(|id| format!("`{id}`")),
    })
}

/// Draws everything visible under `root`.
pub(super) fn draw<'a>(
    document: &'a Document<'a>,
    root: Node<'a, 'a>,
    to_mm: &Affine,
    viewport: Viewport,
    options: &ReadOptions,
    sketch: &mut Sketch,
) -> Result<(), DrawingError> {
    if root.attribute("transform").is_some() {
        return Err(DrawingError::Unsupported {
            culprit: culprit(document, root, ""),
            why: "has a transform on the drawing as a whole; put it on a group instead".to_owned(),
        });
    }
    let styles = Styles::new(document);
    if !styles.not_read.is_empty() {
        sketch.remark(format!(
            "of the style sheets {} {} not read: what only that hides, shows or moves is taken as if it were not \
             there; a drawing is read as a screen shows it",
            styles.not_read.join(", "),
            if styles.not_read.len() == 1 { "is" } else { "are" }
        ));
    }
    // The first of equal ids counts, as in browsers.
    let mut ids = HashMap::new();
    for node in document.descendants() {
        if let Some(id) = node.attribute("id") {
            ids.entry(id).or_insert(node);
        }
    }
    let mut painter = Painter {
        document,
        options,
        rules: options.layers.prepared(),
        sketch,
        styles,
        is_clip: false,
        ids,
        visits: 0,
        depth: 0,
        uses: Vec::new(),
        lines: LineIndex::new(document.input_text()),
    };
    let top = Context {
        to_mm: *to_mm,
        viewport,
        layer: String::new(),
        is_named: false,
        is_hidden: false,
        name: None,
        names: Vec::new(),
        classes: Vec::new(),
        paint: Paint::default(),
        font: Font::default(),
        clips: Vec::new(),
    };
    painter.children(root, &top)
}

/// Where lines begin, so that placing an element does not scan the file each time.
struct LineIndex {
    starts: Vec<usize>,
}

impl LineIndex {
    fn new(text: &str) -> Self {
        let after = text.bytes().enumerate().filter(|(_, b)| *b == b'\n');
        Self {
            starts: std::iter::once(0)
                .chain(after.map(|(i, _)| i + 1))
                .collect(),
        }
    }

    /// Line and byte column, both from 1.
    fn place(&self, at: usize) -> (usize, usize) {
        let line = self.starts.partition_point(|start| *start <= at);
        let start = self
            .starts
            .get(line.saturating_sub(1))
            .copied()
            .unwrap_or(0);
        (line, at - start + 1)
    }
}

/// How a shape is painted, as far as it tells shapes apart.
#[derive(Debug, Clone, Copy)]
struct Paint<'a> {
    fill: &'a str,
    stroke: &'a str,
    dashes: &'a str,
}

impl Default for Paint<'_> {
    /// SVG 2, chapter Painting: initial values.
    fn default() -> Self {
        Self {
            fill: "black",
            stroke: "none",
            dashes: "none",
        }
    }
}

/// A clip path that lies on what is drawn.
#[derive(Debug, Clone)]
struct Clip {
    name: String,
    /// What it leaves visible, in millimetres, when that is an upright rectangle.
    window: Option<Bounds>,
}

/// What an element takes from those round it.
#[derive(Clone)]
struct Context<'a> {
    to_mm: Affine,
    viewport: Viewport,
    layer: String,
    /// Whether the layer rules name the layer.
    is_named: bool,
    /// `visibility`, which a child may lift again.
    is_hidden: bool,
    /// Name of the symbol or group that is placed by `use`.
    name: Option<String>,
    /// Ids, classes and labels of the element and the groups round it, for the rules.
    names: Vec<&'a str>,
    /// The classes among them.
    classes: Vec<&'a str>,
    paint: Paint<'a>,
    font: Font,
    clips: Vec<Clip>,
}

struct Painter<'a, 'b> {
    document: &'a Document<'a>,
    options: &'b ReadOptions,
    rules: PreparedRules,
    sketch: &'b mut Sketch,
    styles: Styles<'a>,
    /// Whether what is drawn now is a clip path.
    is_clip: bool,
    ids: HashMap<&'a str, Node<'a, 'a>>,
    visits: usize,
    depth: usize,
    uses: Vec<NodeId>,
    lines: LineIndex,
}

impl<'a> Painter<'a, '_> {
    fn culprit(&self, node: Node<'_, '_>, layer: &str) -> Box<Culprit> {
        let (line, column) = self.lines.place(node.range().start);
        Box::new(Culprit {
            kind: node.tag_name().name().to_owned(),
            layer: layer.to_owned(),
            line: Some(line),
            column: Some(column),
            id: node.attribute("id").map(|id| format!("`{id}`")),
        })
    }

    fn bad(
        &self,
        node: Node<'_, '_>,
        layer: &str,
        field: &str,
        value: &str,
        remedy: impl Into<String>,
    ) -> DrawingError {
        let shown: String = value.chars().take(60).collect();
        DrawingError::BadValue {
            culprit: self.culprit(node, layer),
            field: field.to_owned(),
            value: format!("`{shown}`"),
            remedy: remedy.into(),
        }
    }

    fn children(&mut self, node: Node<'a, 'a>, context: &Context<'a>) -> Result<(), DrawingError> {
        self.depth += 1;
        if self.depth > MOST_DEPTH {
            return Err(DrawingError::TooMuch {
                culprit: self.culprit(node, &context.layer),
                why: format!("stands {MOST_DEPTH} groups and copies deep; ungroup some of them"),
            });
        }
        for child in node.children().filter(Node::is_element) {
            self.element(child, context)?;
        }
        self.depth -= 1;
        Ok(())
    }

    /// The context of what is in or is this element, `None` when it is not displayed.
    fn enter(
        &mut self,
        node: Node<'a, 'a>,
        outer: &Context<'a>,
    ) -> Result<Option<Context<'a>>, DrawingError> {
        let mut context = outer.clone();
        let is_group = matches!(node.tag_name().name(), "g" | "a" | "switch" | "svg");
        let names = || {
            node.attribute("id").into_iter().chain(
                node.attribute("class")
                    .into_iter()
                    .flat_map(str::split_whitespace)
                    .chain(label_of(node)),
            )
        };
        if let Some(named) = names().find(|n| self.rules.named(n).is_some()) {
            context.layer = named.to_owned();
            context.is_named = true;
        } else if let (true, false, Some(first)) = (is_group, outer.is_named, names().next()) {
            context.layer = first.to_owned();
        }
        if self.rules.has_rules() {
            let classes = node.attribute("class").unwrap_or_default();
            context.classes.extend(classes.split_whitespace());
            context.names.extend(names());
        }
        let Some(style) = self.styles.of(node) else {
            return Err(DrawingError::TooMuch {
                culprit: self.culprit(node, &context.layer),
                why:
                    "is one of too many elements for so long a style sheet; shorten one of the two"
                        .to_owned(),
            });
        };
        if style.get("display") == Some("none") {
            let culprit = self.culprit(node, &context.layer);
            self.sketch.left_out(&culprit, "not displayed");
            return Ok(None);
        }
        match style.get("visibility") {
            Some("hidden" | "collapse") => context.is_hidden = true,
            Some("visible") => context.is_hidden = false,
            _ => {}
        }
        for (name, slot) in [
            ("fill", &mut context.paint.fill),
            ("stroke", &mut context.paint.stroke),
            ("stroke-dasharray", &mut context.paint.dashes),
        ] {
            if let Some(value) = style.get(name).filter(|v| *v != "inherit") {
                *slot = value;
            }
        }
        for name in ["font", "font-size", "text-anchor", "dominant-baseline"] {
            if let Some(value) = style.get(name) {
                context.font.set(name, value);
            }
        }
        let is_text = matches!(node.tag_name().name(), "text" | "tspan");
        if let (Some(property), false) = (style.shape, is_group || is_text) {
            return Err(DrawingError::Unsupported {
                culprit: self.culprit(node, &context.layer),
                why: format!(
                    "has its `{property}` set by a style; set it as an attribute, or redraw the shape"
                ),
            });
        }
        if let Some(text) = style.get("transform") {
            let map = self.transform(node, &context.layer, text)?;
            context.to_mm = context.to_mm.after(&map);
        }
        if style.get("mask").is_some_and(|value| value != "none") {
            self.sketch.not_read(&Culprit {
                kind: "mask".to_owned(),
                ..*self.culprit(node, &context.layer)
            });
            self.sketch
                .remark("masks are not applied: curves are cut in full".to_owned());
        }
        if let Some(value) = style.get("clip-path").filter(|v| *v != "none") {
            let clip = self.clip(value, &context)?;
            context.clips.push(clip);
        }
        Ok(Some(context))
    }

    /// The clip path that `clip-path` refers to, from inside the element that has it.
    fn clip(&mut self, value: &str, context: &Context<'a>) -> Result<Clip, DrawingError> {
        let unknown = Clip {
            name: value.chars().take(60).collect(),
            window: None,
        };
        let id = value
            .strip_prefix("url(")
            .and_then(|v| v.strip_suffix(')'))
            .map(|v| v.trim_matches(['"', '\'', ' ']).trim_start_matches('#'));
        let target = id.and_then(|id| self.ids.get(id)).copied();
        let Some(target) = target.filter(|t| t.tag_name().name() == "clipPath" && !self.is_clip)
        else {
            return Ok(unknown);
        };
        if target.attribute("clipPathUnits") == Some("objectBoundingBox") {
            return Ok(unknown);
        }
        // Drawn on a sheet of its own. It is the shape that clips, however it is painted.
        let mut inside = Context {
            is_hidden: false,
            paint: Paint::default(),
            clips: Vec::new(),
            ..context.clone()
        };
        if let Some(text) = target.attribute("transform") {
            let map = self.transform(target, &context.layer, text)?;
            inside.to_mm = inside.to_mm.after(&map);
        }
        let drawing = std::mem::take(self.sketch);
        self.is_clip = true;
        let drawn = self.children(target, &inside);
        self.is_clip = false;
        let clip = std::mem::replace(self.sketch, drawing);
        drawn?;
        let window = match clip.cut.as_slice() {
            [chain] if clip.marks.is_empty() => {
                let mut ring = Ring::new(chain.vertices.clone());
                ring.drop_coincident();
                let outline = Outline::from_rings(ring, Vec::new());
                outline.is_rectangle(SLACK).then(|| outline.bounds())
            }
            _ => None,
        };
        Ok(Clip { window, ..unknown })
    }

    /// Whether a chain is shown through all clip paths.
    ///
    /// # Errors
    /// When a piece of it may be clipped away: what is cut would not be what is seen.
    fn is_shown(
        &mut self,
        chain: &Chain,
        context: &Context<'_>,
        layer_use: LayerUse,
    ) -> Result<bool, DrawingError> {
        for clip in &context.clips {
            let path = crate::Path {
                vertices: chain.vertices.clone(),
                closed: chain.closed,
            };
            let bounds = path.segments().map(|s| s.bounds()).reduce(Bounds::union);
            let (Some(window), Some(b)) = (clip.window, bounds) else {
                if layer_use == LayerUse::Cut {
                    return Err(clipped(chain, clip));
                }
                self.sketch
                    .remark("clip paths are not applied to marks".to_owned());
                continue;
            };
            let window = window.grown(SLACK);
            if window.contains(&b) {
                continue;
            }
            if !window.touches(&b) {
                return Ok(false);
            }
            if layer_use == LayerUse::Cut {
                return Err(clipped(chain, clip));
            }
            self.sketch
                .remark("clip paths are not applied to marks".to_owned());
        }
        Ok(true)
    }

    fn transform(
        &self,
        node: Node<'_, '_>,
        layer: &str,
        text: &str,
    ) -> Result<Affine, DrawingError> {
        let mut map = Affine::IDENTITY;
        if text == "none" {
            return Ok(map);
        }
        for token in TransformListParser::from(text) {
            let token = token
                .map_err(|error| self.bad(node, layer, "transform", text, error.to_string()))?;
            let step = match token {
                TransformListToken::Matrix { a, b, c, d, e, f } => Affine::new(a, b, c, d, e, f),
                TransformListToken::Translate { tx, ty } => Affine::shift(tx, ty),
                TransformListToken::Scale { sx, sy } => Affine::scale(sx, sy),
                // Counter-clockwise with y up is clockwise on the page, and so is SVG's.
                TransformListToken::Rotate { angle } => Affine::turn_deg(angle),
                TransformListToken::SkewX { angle } => {
                    Affine::new(1.0, 0.0, angle.to_radians().tan(), 1.0, 0.0, 0.0)
                }
                TransformListToken::SkewY { angle } => {
                    Affine::new(1.0, angle.to_radians().tan(), 0.0, 1.0, 0.0, 0.0)
                }
            };
            map = map.after(&step);
        }
        if !map.is_finite() || map.determinant() == 0.0 {
            let remedy = "it makes everything infinite or flat";
            return Err(self.bad(node, layer, "transform", text, remedy));
        }
        Ok(map)
    }

    fn element(&mut self, node: Node<'a, 'a>, outer: &Context<'a>) -> Result<(), DrawingError> {
        self.visits += 1;
        if self.visits > MOST_VISITS {
            return Err(DrawingError::TooMuch {
                culprit: self.culprit(node, &outer.layer),
                why: format!(
                    "brings the drawing over {MOST_VISITS} elements with all copies; \
                     split the drawing, or copy parts by their quantity"
                ),
            });
        }
        // Elements of other vocabularies are a drawing program's own notes.
        let namespace = node.tag_name().namespace();
        if namespace.is_some_and(|n| n != "http://www.w3.org/2000/svg") {
            return Ok(());
        }
        match node.tag_name().name() {
            "g" | "a" | "switch" => {
                if let Some(mut context) = self.enter(node, outer)? {
                    let title = node.children().find(|c| c.tag_name().name() == "title");
                    if title.is_some() {
                        context.name = name_of(node).or(context.name);
                    }
                    self.children(node, &context)?;
                }
                Ok(())
            }
            "svg" => match self.enter(node, outer)? {
                Some(context) => self.inner(node, context, (None, None)),
                None => Ok(()),
            },
            "use" => self.copy(node, outer),
            "rect" | "circle" | "ellipse" | "line" | "polyline" | "polygon" | "path" => {
                match self.enter(node, outer)? {
                    Some(context) => self.shape(node, &context),
                    None => Ok(()),
                }
            }
            "text" => match self.enter(node, outer)? {
                Some(context) => self.text(node, &context),
                None => Ok(()),
            },
            "image" | "foreignObject" => {
                let culprit = self.culprit(node, &outer.layer);
                self.sketch.not_read(&culprit);
                Ok(())
            }
            // What is only referred to (defs, symbol, clipPath, gradients, ...) and descriptions.
            _ => Ok(()),
        }
    }

    /// The inside of a nested `svg` or a `symbol`.
    fn inner(
        &mut self,
        node: Node<'a, 'a>,
        mut context: Context<'a>,
        size: (Option<f64>, Option<f64>),
    ) -> Result<(), DrawingError> {
        let (map, viewport) = nested(self.document, node, context.viewport, size)?;
        context.to_mm = context.to_mm.after(&map);
        context.viewport = viewport;
        self.children(node, &context)
    }

    fn copy(&mut self, node: Node<'a, 'a>, outer: &Context<'a>) -> Result<(), DrawingError> {
        let Some(mut context) = self.enter(node, outer)? else {
            return Ok(());
        };
        let href = node
            .attribute("href")
            .or_else(|| node.attribute(("http://www.w3.org/1999/xlink", "href")))
            .unwrap_or_default()
            .trim();
        let target = href
            .strip_prefix('#')
            .and_then(|id| self.ids.get(id))
            .copied();
        let Some(target) = target else {
            let remedy =
                "it refers to nothing in this file; unlink the copy or embed what it shows";
            return Err(self.bad(node, &context.layer, "href", href, remedy));
        };
        let too_much = |why: String| DrawingError::TooMuch {
            culprit: self.culprit(node, &context.layer),
            why,
        };
        // An element also may not be copied into itself.
        if self.uses.contains(&target.id()) || node.ancestors().any(|n| n == target) {
            return Err(too_much(format!(
                "places `{href}` within itself; unlink the copy"
            )));
        }
        if self.uses.len() >= MOST_USES {
            return Err(too_much(format!(
                "copies {MOST_USES} levels of copies; unlink some of them"
            )));
        }
        let side = |name, along| length(self.document, node, name, along, context.viewport);
        let shift = Affine::shift(
            side("x", Along::X)?.unwrap_or(0.0),
            side("y", Along::Y)?.unwrap_or(0.0),
        );
        let size = (side("width", Along::X)?, side("height", Along::Y)?);
        context.to_mm = context.to_mm.after(&shift);
        if matches!(target.tag_name().name(), "symbol" | "g") {
            context.name = name_of(node).or_else(|| name_of(target)).or(context.name);
        }
        self.uses.push(target.id());
        let drawn = match target.tag_name().name() {
            "symbol" => match self.enter(target, &context)? {
                Some(inside) => self.inner(target, inside, size),
                None => Ok(()),
            },
            "svg" => match self.enter(target, &context)? {
                Some(inside) => self.inner(target, inside, size),
                None => Ok(()),
            },
            _ => self.element(target, &context),
        };
        self.uses.pop();
        drawn
    }

    fn shape(&mut self, node: Node<'a, 'a>, context: &Context<'a>) -> Result<(), DrawingError> {
        let layer = context.layer.as_str();
        let culprit = self.culprit(node, layer);
        if context.is_hidden {
            self.sketch.left_out(&culprit, "hidden");
            return Ok(());
        }
        let Paint {
            fill,
            stroke,
            dashes,
        } = context.paint;
        let layer_use = match self.is_clip {
            true => LayerUse::Cut,
            false => {
                let traits = Traits {
                    layers: &context.names,
                    classes: &context.classes,
                    colour: Colour::parse(stroke),
                    line_type: line_type(dashes),
                    is_text: false,
                };
                self.rules.decide(layer, &traits)
            }
        };
        if layer_use == LayerUse::Ignore {
            self.sketch.left_out(&culprit, "by rule");
            return Ok(());
        }
        if fill == "none" && stroke == "none" && !self.is_clip {
            self.sketch.left_out(&culprit, "neither filled nor stroked");
            return Ok(());
        }
        let kind = node.tag_name().name();
        let name = context.name.clone().or_else(|| name_of(node));
        let fit = self.options.least_fit();
        let mut approximations = std::mem::take(&mut self.sketch.approximations);
        let mut pen = Pen::new(context.to_mm, fit, kind, &mut approximations);
        let mut end = |pen: &mut Pen<'_>, closed| pen.finish(closed, &culprit, name.as_ref());
        let strokes = if kind == "path" {
            let data = node.attribute("d").unwrap_or_default();
            path::draw(data, &mut pen, &mut end)
                .map_err(|path::BadPath(error)| self.bad(node, layer, "d", data, error))
        } else {
            self.basic(node, context, &mut pen)
                .map(|closed| vec![closed.and_then(|closed| end(&mut pen, closed))])
        };
        let missed = pen.missed_fit();
        drop(pen);
        self.sketch.approximations = approximations;
        let strokes = strokes?;
        if missed.is_some() {
            return Err(DrawingError::Unsupported {
                culprit,
                why: format!("cannot be brought within {fit} mm by arcs; redraw it"),
            });
        }
        if strokes.iter().all(Option::is_none) {
            self.sketch.not_read(&Culprit {
                kind: format!("{kind} without size"),
                ..(*culprit).clone()
            });
        }
        for chain in strokes.into_iter().flatten() {
            if self.is_shown(&chain, context, layer_use)? {
                self.sketch.add(chain, layer_use)?;
            } else {
                self.sketch.left_out(&culprit, "clipped away");
            }
        }
        Ok(())
    }

    /// A `text`: marked when a rule says so.
    fn text(&mut self, node: Node<'a, 'a>, context: &Context<'a>) -> Result<(), DrawingError> {
        let layer = context.layer.as_str();
        let culprit = self.culprit(node, layer);
        if self.is_clip {
            self.sketch.not_read(&culprit);
            return Ok(());
        }
        if context.is_hidden {
            self.sketch.left_out(&culprit, "hidden");
            return Ok(());
        }
        let Paint {
            fill,
            stroke,
            dashes,
        } = context.paint;
        let seen = if stroke == "none" { fill } else { stroke };
        let traits = Traits {
            layers: &context.names,
            classes: &context.classes,
            colour: Colour::parse(seen),
            line_type: line_type(dashes),
            is_text: true,
        };
        match self.rules.decide_text(layer, &traits) {
            TextUse::Ignore => self.sketch.left_out(&culprit, "by rule"),
            TextUse::Tell { is_cut } => self.sketch.text_left(&culprit, is_cut),
            TextUse::Mark if seen == "none" => {
                self.sketch.left_out(&culprit, "neither filled nor stroked");
            }
            TextUse::Mark => {
                let space = ("http://www.w3.org/XML/1998/namespace", "space");
                let said = node.ancestors().find_map(|n| n.attribute(space));
                let keeps_blanks = said == Some("preserve")
                    || self.styles.of(node).is_some_and(|style| {
                        style
                            .get("white-space")
                            .is_some_and(|v| v.starts_with("pre"))
                    });
                let mut setting = Setting::new(keeps_blanks);
                self.words(node, context, &mut setting)?;
                for Chunk { at, text } in setting.finish() {
                    // Letters stand with y up.
                    let map = Affine::shift(at.x, at.y).after(&Affine::scale(1.0, -1.0));
                    let to_mm = context.to_mm.after(&map);
                    let fit = self.options.least_fit();
                    let approximations = &mut self.sketch.approximations;
                    let mut drawn = text.draw(&to_mm, fit, &culprit, approximations)?;
                    let mut shown = Vec::with_capacity(drawn.strokes.len());
                    for chain in std::mem::take(&mut drawn.strokes) {
                        if self.is_shown(&chain, context, LayerUse::Mark)? {
                            shown.push(chain);
                        } else {
                            self.sketch.left_out(&culprit, "clipped away");
                        }
                    }
                    drawn.strokes = shown;
                    self.sketch.add_lettering(drawn)?;
                }
            }
        }
        Ok(())
    }

    /// Sets the words of a `text` or what stands in one.
    fn words(
        &mut self,
        node: Node<'a, 'a>,
        context: &Context<'a>,
        setting: &mut Setting,
    ) -> Result<(), DrawingError> {
        self.depth += 1;
        if self.depth > MOST_DEPTH {
            return Err(DrawingError::TooMuch {
                culprit: self.culprit(node, &context.layer),
                why: format!("stands {MOST_DEPTH} groups and copies deep; ungroup some of them"),
            });
        }
        let list = |name: &str, whole: f64| match node.attribute(name) {
            None => Ok(Vec::new()),
            Some(text) => lengths(text, context.font.size, whole).ok_or_else(|| {
                let remedy = "expected lengths such as 10 or 10mm";
                self.bad(node, &context.layer, name, text, remedy)
            }),
        };
        let Viewport { width, height } = context.viewport;
        let mut places = Places {
            x: list("x", width)?,
            y: list("y", height)?,
            dx: list("dx", width)?,
            dy: list("dy", height)?,
        };
        if node.tag_name().name() == "text" {
            // A text stands at the origin where it does not say.
            for list in [&mut places.x, &mut places.y] {
                if list.is_empty() {
                    list.push(0.0);
                }
            }
        }
        let vertical = self.styles.of(node).is_some_and(|style| {
            style
                .get("writing-mode")
                .is_some_and(|v| v.starts_with("vertical") || v.starts_with("tb"))
        });
        if vertical
            || ["textLength", "rotate"]
                .iter()
                .any(|n| node.has_attribute(*n))
        {
            self.sketch.remark(
                "text that is turned letter by letter, set downwards or spread to a length is marked \
                 along a line with the usual gaps"
                    .to_owned(),
            );
        }
        let mut used = 0;
        for child in node.children() {
            if let Some(text) = child.text().filter(|_| child.is_text()) {
                setting.characters += text.len();
                if setting.characters > MOST_CHARACTERS {
                    return Err(DrawingError::TooMuch {
                        culprit: self.culprit(node, &context.layer),
                        why: format!(
                            "has more than {MOST_CHARACTERS} characters to mark; leave it out by a rule, or split it"
                        ),
                    });
                }
                used = setting.put(text, &context.font, &places, used);
                continue;
            }
            match child.tag_name().name() {
                "tspan" | "a" => {
                    self.visits += 1;
                    if let Some(inner) = self.enter(child, context)?
                        && !inner.is_hidden
                    {
                        self.words(child, &inner, setting)?;
                    }
                }
                "textPath" | "tref" => {
                    let culprit = self.culprit(child, &context.layer);
                    self.sketch.not_read(&culprit);
                }
                _ => {}
            }
        }
        self.depth -= 1;
        Ok(())
    }

    /// Draws a basic shape: whether it is closed, `None` when it has no size.
    fn basic(
        &self,
        node: Node<'a, 'a>,
        context: &Context<'a>,
        pen: &mut Pen<'_>,
    ) -> Result<Option<bool>, DrawingError> {
        let read = |name, along| length(self.document, node, name, along, context.viewport);
        let x = |name| read(name, Along::X);
        let y = |name| read(name, Along::Y);
        let radius = |name, along| -> Result<Option<f64>, DrawingError> {
            match read(name, along)? {
                Some(r) if r < 0.0 => {
                    let shown = r.to_string();
                    let remedy = "it may not be negative";
                    Err(self.bad(node, &context.layer, name, &shown, remedy))
                }
                r => Ok(r),
            }
        };
        match node.tag_name().name() {
            "rect" => {
                let corner = Point::new(x("x")?.unwrap_or(0.0), y("y")?.unwrap_or(0.0));
                let w = radius("width", Along::X)?.unwrap_or(0.0);
                let h = radius("height", Along::Y)?.unwrap_or(0.0);
                let (rx, ry) = (radius("rx", Along::X)?, radius("ry", Along::Y)?);
                if w == 0.0 || h == 0.0 {
                    return Ok(None);
                }
                // A missing radius follows the other one, and neither passes half a side.
                let rx_used = rx.or(ry).unwrap_or(0.0).min(0.5 * w);
                let ry_used = ry.or(rx).unwrap_or(0.0).min(0.5 * h);
                rectangle(corner, Vec2::new(w, h), rx_used, ry_used, pen);
                Ok(Some(true))
            }
            "circle" | "ellipse" => {
                let (rx, ry) = if node.tag_name().name() == "circle" {
                    let r = radius("r", Along::Diagonal)?;
                    (r, r)
                } else {
                    (radius("rx", Along::X)?, radius("ry", Along::Y)?)
                };
                let (Some(rx), Some(ry)) = (rx.or(ry), ry.or(rx)) else {
                    return Ok(None);
                };
                if rx == 0.0 || ry == 0.0 {
                    return Ok(None);
                }
                let center = Point::new(x("cx")?.unwrap_or(0.0), y("cy")?.unwrap_or(0.0));
                let u = Vec2::new(rx, 0.0);
                let arc = EllipseArc {
                    center,
                    u,
                    v: Vec2::new(0.0, ry),
                    start: 0.0,
                    sweep: TAU,
                };
                pen.move_to(center + u);
                pen.elliptical(&arc, Some(center + u));
                Ok(Some(true))
            }
            "line" => {
                pen.move_to(Point::new(x("x1")?.unwrap_or(0.0), y("y1")?.unwrap_or(0.0)));
                pen.line_to(Point::new(x("x2")?.unwrap_or(0.0), y("y2")?.unwrap_or(0.0)));
                Ok(Some(false))
            }
            kind => {
                let text = node.attribute("points").unwrap_or_default();
                let mut points = PointsParser::from(text).map(|(x, y)| Point::new(x, y));
                // The parser stops at the first thing it cannot read and leaves out half a pair.
                let numbers = text
                    .split(|c: char| c.is_whitespace() || c == ',')
                    .filter(|t| !t.is_empty());
                let separate = numbers.clone().all(|t| t.parse::<f64>().is_ok());
                let read = PointsParser::from(text).count();
                if (separate && numbers.count() != 2 * read)
                    || text.contains(|c: char| c.is_alphabetic() && !matches!(c, 'e' | 'E'))
                {
                    let remedy = "expected pairs of numbers";
                    return Err(self.bad(node, &context.layer, "points", text, remedy));
                }
                let Some(first) = points.next() else {
                    return Ok(None);
                };
                pen.move_to(first);
                for p in points {
                    pen.line_to(p);
                }
                if kind == "polygon" {
                    pen.line_to(first);
                }
                Ok(Some(kind == "polygon"))
            }
        }
    }
}

/// What the dashes of a stroke are called in rules.
fn line_type(dashes: &str) -> &'static str {
    match dashes {
        "none" | "" => "continuous",
        _ => "dashed",
    }
}

/// The error for a chain that a clip path may cut off.
fn clipped(chain: &Chain, clip: &Clip) -> DrawingError {
    DrawingError::Unsupported {
        culprit: chain.culprit.clone(),
        why: format!(
            "is clipped by {}, which may hide a piece of it; release the clip, or redraw what is to be cut",
            clip.name
        ),
    }
}

/// The label that drawing programs give a layer: an attribute `label` of any vocabulary.
fn label_of<'a>(node: Node<'a, '_>) -> Option<&'a str> {
    node.attributes()
        .find(|a| a.name() == "label" && a.namespace().is_some())
        .map(|a| a.value())
}

/// What a part drawn by this element is called: its title, or its id.
fn name_of(node: Node<'_, '_>) -> Option<String> {
    node.children()
        .find(|c| c.tag_name().name() == "title")
        .and_then(|t| t.text())
        .or_else(|| node.attribute("id"))
        .map(|t| t.trim().to_owned())
        .filter(|t| !t.is_empty())
}

fn rectangle(corner: Point, size: Vec2, rx: f64, ry: f64, pen: &mut Pen<'_>) {
    let at = |x: f64, y: f64| Point::new(corner.x + x, corner.y + y);
    let (w, h) = (size.x, size.y);
    if rx == 0.0 || ry == 0.0 {
        pen.move_to(at(0.0, 0.0));
        for p in [at(w, 0.0), at(w, h), at(0.0, h), at(0.0, 0.0)] {
            pen.line_to(p);
        }
        return;
    }
    let quarter = TAU / 4.0;
    let corners = [
        (at(w - rx, 0.0), at(w - rx, ry), -quarter, at(w, ry)),
        (at(w, h - ry), at(w - rx, h - ry), 0.0, at(w - rx, h)),
        (at(rx, h), at(rx, h - ry), quarter, at(0.0, h - ry)),
        (at(0.0, ry), at(rx, ry), 2.0 * quarter, at(rx, 0.0)),
    ];
    pen.move_to(at(rx, 0.0));
    for (before, center, start, end) in corners {
        pen.line_to(before);
        let arc = EllipseArc {
            center,
            u: Vec2::new(rx, 0.0),
            v: Vec2::new(0.0, ry),
            start,
            sweep: quarter,
        };
        pen.elliptical(&arc, Some(end));
    }
}
