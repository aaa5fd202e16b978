//! Elements to chains.

use super::super::ReadOptions;
use super::super::affine::Affine;
use super::super::error::{Culprit, DrawingError};
use super::super::options::{LayerUse, PreparedRules};
use super::super::pen::Pen;
use super::super::sketch::Sketch;
use super::path;
use super::viewport::{Along, Viewport, length, nested};
use crate::fit::EllipseArc;
use crate::{Point, Vec2};
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
    // The first of equal ids counts, as in browsers.
    if root.attribute("transform").is_some() {
        return Err(DrawingError::Unsupported {
            culprit: culprit(document, root, ""),
            why: "has a transform on the drawing as a whole; put it on a group instead".to_owned(),
        });
    }
    let hides = |node: &Node<'_, '_>| {
        node.tag_name().name() == "style"
            && node.text().is_some_and(|text| {
                ["display", "visibility", "transform"]
                    .iter()
                    .any(|word| text.contains(word))
            })
    };
    if document.descendants().any(|node| hides(&node)) {
        sketch.remark(
            "style sheets are not read: what only a style sheet hides or moves is cut as drawn"
                .to_owned(),
        );
    }
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

/// What an element takes from those round it.
#[derive(Clone)]
struct Context {
    to_mm: Affine,
    viewport: Viewport,
    layer: String,
    /// Whether the layer rules name the layer.
    is_named: bool,
    /// `visibility`, which a child may lift again.
    is_hidden: bool,
    /// Name of the symbol or group that is placed by `use`.
    name: Option<String>,
}

struct Painter<'a, 'b> {
    document: &'a Document<'a>,
    options: &'b ReadOptions,
    rules: PreparedRules,
    sketch: &'b mut Sketch,
    ids: HashMap<&'a str, Node<'a, 'a>>,
    visits: usize,
    depth: usize,
    uses: Vec<NodeId>,
    lines: LineIndex,
}

/// A property from the `style` attribute or, failing that, the attribute of its name.
fn property<'n>(node: Node<'n, '_>, name: &str) -> Option<&'n str> {
    let styled = node.attribute("style").and_then(|style| {
        style
            .split(';')
            .filter_map(|declaration| declaration.split_once(':'))
            .filter(|(key, _)| key.trim().eq_ignore_ascii_case(name))
            .map(|(_, value)| value.trim().trim_end_matches("!important").trim_end())
            .next_back()
    });
    styled.or_else(|| node.attribute(name).map(str::trim))
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

    fn children(&mut self, node: Node<'a, 'a>, context: &Context) -> Result<(), DrawingError> {
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
        outer: &Context,
    ) -> Result<Option<Context>, DrawingError> {
        let mut context = outer.clone();
        let is_group = matches!(node.tag_name().name(), "g" | "a" | "switch" | "svg");
        let names = || {
            node.attribute("id").into_iter().chain(
                node.attribute("class")
                    .into_iter()
                    .flat_map(str::split_whitespace),
            )
        };
        if let Some(named) = names().find(|n| self.rules.named(n).is_some()) {
            context.layer = named.to_owned();
            context.is_named = true;
        } else if let (true, false, Some(first)) = (is_group, outer.is_named, names().next()) {
            context.layer = first.to_owned();
        }
        for clipping in ["clip-path", "mask"] {
            if property(node, clipping).is_some_and(|value| value != "none") {
                self.sketch.remark(
                    "clip paths and masks are not applied: curves are cut in full".to_owned(),
                );
            }
        }
        if property(node, "display") == Some("none") {
            self.sketch.left_out(&context.layer, "not displayed");
            return Ok(None);
        }
        match property(node, "visibility") {
            Some("hidden" | "collapse") => context.is_hidden = true,
            Some("visible") => context.is_hidden = false,
            _ => {}
        }
        if let Some(text) = property(node, "transform") {
            let map = self.transform(node, &context.layer, text)?;
            context.to_mm = context.to_mm.after(&map);
        }
        Ok(Some(context))
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

    fn element(&mut self, node: Node<'a, 'a>, outer: &Context) -> Result<(), DrawingError> {
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
            "text" | "image" | "foreignObject" => {
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
        mut context: Context,
        size: (Option<f64>, Option<f64>),
    ) -> Result<(), DrawingError> {
        let (map, viewport) = nested(self.document, node, context.viewport, size)?;
        context.to_mm = context.to_mm.after(&map);
        context.viewport = viewport;
        self.children(node, &context)
    }

    fn copy(&mut self, node: Node<'a, 'a>, outer: &Context) -> Result<(), DrawingError> {
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

    fn shape(&mut self, node: Node<'a, 'a>, context: &Context) -> Result<(), DrawingError> {
        let layer = context.layer.as_str();
        if context.is_hidden {
            self.sketch.left_out(layer, "hidden");
            return Ok(());
        }
        let layer_use = self.rules.for_layer(layer);
        if layer_use == LayerUse::Ignore {
            self.sketch.left_out(layer, "by rule");
            return Ok(());
        }
        let culprit = self.culprit(node, layer);
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
            self.sketch.add(chain, layer_use)?;
        }
        Ok(())
    }

    /// Draws a basic shape: whether it is closed, `None` when it has no size.
    fn basic(
        &self,
        node: Node<'a, 'a>,
        context: &Context,
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
