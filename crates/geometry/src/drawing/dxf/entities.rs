//! Entities to chains.

use super::super::ReadOptions;
use super::super::affine::Affine;
use super::super::error::{Culprit, DrawingError};
use super::super::options::{LayerUse, PreparedRules, TextUse};
use super::super::pen::Pen;
use super::super::rule::{Colour, Traits};
use super::super::sketch::Sketch;
use super::interpolate;
use super::nurbs;
use super::pairs::Pair;
use super::structure::{Entity, LayerState, Structure};
use super::text;
use crate::fit::{Curve, EllipseArc, MAX_DEGREE};
use crate::{Point, Vec2};
use std::f64::consts::TAU;

/// How deep blocks may stand in blocks. Real drawings have two or three levels.
const MOST_DEPTH: usize = 16;

/// Entities that are looked at, with all copies. Guards against blocks that multiply.
const MOST_VISITS: usize = 500_000;

/// Draws all entities of the model.
pub(super) fn draw(
    structure: &Structure<'_>,
    to_mm: &Affine,
    options: &ReadOptions,
    sketch: &mut Sketch,
) -> Result<(), DrawingError> {
    let mut painter = Painter {
        structure,
        options,
        rules: options.layers.prepared(),
        sketch,
        visits: 0,
        stack: Vec::new(),
    };
    let top = Context {
        to_mm: *to_mm,
        layer: None,
        name: None,
        look: Look::default(),
    };
    painter.entities(&structure.entities, &top)
}

/// What a block's entities take from the INSERT that places it.
struct Context {
    to_mm: Affine,
    /// The layer that entities on layer `0` of a block belong to.
    layer: Option<String>,
    /// Name of the block.
    name: Option<String>,
    /// How the INSERT itself looks, for entities that look as it does.
    look: Look,
}

/// Colour and line type as they are shown.
#[derive(Debug, Clone, Default)]
struct Look {
    colour: Option<Colour>,
    line_type: String,
}

/// The colour of the groups 62 and 420, where they name one.
fn colour(index: i64, rgb: Option<i64>) -> Option<Colour> {
    match rgb {
        Some(rgb) => {
            let [_, r, g, b] = (rgb as u32).to_be_bytes();
            Some(Colour::Rgb([r, g, b]))
        }
        None => u8::try_from(index)
            .ok()
            .filter(|i| *i > 0)
            .map(Colour::Index),
    }
}

struct Painter<'a, 'b> {
    structure: &'a Structure<'a>,
    options: &'a ReadOptions,
    rules: PreparedRules,
    sketch: &'b mut Sketch,
    visits: usize,
    /// Blocks that are being drawn, in lower case.
    stack: Vec<String>,
}

impl Painter<'_, '_> {
    fn entities(&mut self, entities: &[Entity<'_>], context: &Context) -> Result<(), DrawingError> {
        let mut rest = entities;
        while let Some((entity, after)) = rest.split_first() {
            // The parts of a POLYLINE and of an INSERT with attributes follow it up to SEQEND.
            let followers = after
                .iter()
                .take_while(|e| matches!(e.kind.as_str(), "VERTEX" | "ATTRIB"))
                .count();
            let (members, mut after) = after.split_at(followers);
            if let Some((end, beyond)) = after.split_first()
                && end.kind == "SEQEND"
            {
                after = beyond;
            }
            rest = after;
            self.entity(entity, members, context)?;
        }
        Ok(())
    }

    fn entity(
        &mut self,
        entity: &Entity<'_>,
        members: &[Entity<'_>],
        context: &Context,
    ) -> Result<(), DrawingError> {
        let drawn_on = entity.text(8);
        let layer = match &context.layer {
            Some(outer) if drawn_on == "0" || drawn_on.is_empty() => outer.clone(),
            _ => drawn_on,
        };
        let culprit = entity.culprit(&layer);
        self.visit(&culprit)?;
        if entity.whole(67, 0)? != 0 {
            self.sketch.left_out(&culprit, "paper space");
            return Ok(());
        }
        if entity.whole(60, 0)? != 0 {
            self.sketch.left_out(&culprit, "hidden");
            return Ok(());
        }
        let structure = self.structure;
        let state = structure.layers.get(&layer.to_lowercase());
        let is_insert = entity.kind == "INSERT";
        let why = match state.unwrap_or(&LayerState::default()) {
            LayerState { frozen: true, .. } => Some("frozen"),
            // Switching a layer off hides what is on it, not blocks placed on it.
            LayerState { off: true, .. } if !is_insert => Some("off"),
            _ => None,
        };
        if let Some(why) = why {
            self.sketch.left_out(&culprit, why);
            return Ok(());
        }
        let look = if self.rules.has_rules() {
            look(entity, state, &context.look)?
        } else {
            Look::default()
        };
        let traits = Traits {
            layers: &[&layer],
            colour: look.colour,
            line_type: &look.line_type,
            is_text: text::is_text(&entity.kind),
            ..Traits::default()
        };
        if traits.is_text {
            let text_use = self.rules.decide_text(&layer, &traits);
            return self.text(entity, &culprit, context, text_use);
        }
        let layer_use = if is_insert {
            self.rules.by_layer(&layer).unwrap_or(LayerUse::Cut)
        } else {
            self.rules.decide(&layer, &traits)
        };
        if layer_use == LayerUse::Ignore {
            self.sketch.left_out(&culprit, "by rule");
            return Ok(());
        }
        for attribute in members.iter().filter(|m| m.kind == "ATTRIB") {
            self.entity(attribute, &[], context)?;
        }
        if is_insert {
            return self.insert(entity, &layer, &culprit, context, look);
        }
        let shape = match entity.kind.as_str() {
            "LINE" | "ARC" | "CIRCLE" | "ELLIPSE" | "LWPOLYLINE" | "SPLINE" => true,
            // 16 and 64: meshes, which have no outline.
            "POLYLINE" => entity.whole(70, 0)? & (16 | 64) == 0,
            _ => false,
        };
        if !shape {
            self.sketch.not_read(&culprit);
            return Ok(());
        }
        let raised =
            |p: &Pair<'_>| matches!(p.code, 30 | 31 | 38) && p.number().is_some_and(|z| z != 0.0);
        if entity.pairs().iter().any(raised) {
            self.sketch
                .remark("heights (z) are left out: everything is taken as flat".to_owned());
        }
        let fit = self.options.least_fit();
        let mut approximations = std::mem::take(&mut self.sketch.approximations);
        let mut pen = Pen::new(context.to_mm, fit, &entity.kind, &mut approximations);
        let drawn = trace(entity, members, context, &mut pen);
        let chain = drawn.map(|closed| pen.finish(closed, &culprit, context.name.as_ref()));
        let missed = pen.missed_fit();
        drop(pen);
        self.sketch.approximations = approximations;
        if missed.is_some() {
            return Err(DrawingError::Unsupported {
                culprit,
                why: format!("cannot be brought within {fit} mm by arcs; redraw it"),
            });
        }
        if entity.kind == "SPLINE" && entity.first(10).is_none() {
            self.sketch.remark(
                "a SPLINE is given by fit points alone, between which programs differ: it is read as the \
                 cubic spline over the lengths of its chords; save it with control points to be sure"
                    .to_owned(),
            );
        }
        match chain? {
            Some(chain) => self.sketch.add(chain, layer_use)?,
            None => self.sketch.not_read(&Culprit {
                kind: format!("{} without length", entity.kind),
                ..*culprit
            }),
        }
        Ok(())
    }

    fn text(
        &mut self,
        entity: &Entity<'_>,
        culprit: &Culprit,
        context: &Context,
        text_use: TextUse,
    ) -> Result<(), DrawingError> {
        // An attribute may be there for lists alone.
        if entity.kind == "ATTRIB" && entity.whole(70, 0)? & 1 != 0 {
            self.sketch.left_out(culprit, "hidden");
            return Ok(());
        }
        match text_use {
            TextUse::Ignore => self.sketch.left_out(culprit, "by rule"),
            TextUse::Tell { is_cut } => self.sketch.text_left(culprit, is_cut),
            TextUse::Mark => {
                let seen_from_below = side(entity, culprit)?.a < 0.0;
                let (text, map) = text::read(entity, seen_from_below)?;
                let to_mm = context.to_mm.after(&map);
                let fit = self.options.least_fit();
                let drawn = text.draw(&to_mm, fit, culprit, &mut self.sketch.approximations)?;
                self.sketch.add_lettering(drawn)?;
            }
        }
        Ok(())
    }

    /// Counts an entity or a copy of a block.
    fn visit(&mut self, culprit: &Culprit) -> Result<(), DrawingError> {
        self.visits += 1;
        if self.visits > MOST_VISITS {
            return Err(DrawingError::TooMuch {
                culprit: Box::new(culprit.clone()),
                why: format!(
                    "brings the drawing over {MOST_VISITS} entities with all copies of its \
                     blocks; split the drawing, or copy parts by their quantity"
                ),
            });
        }
        Ok(())
    }

    fn insert(
        &mut self,
        entity: &Entity<'_>,
        layer: &str,
        culprit: &Culprit,
        context: &Context,
        look: Look,
    ) -> Result<(), DrawingError> {
        let unsupported = |why: String| DrawingError::Unsupported {
            culprit: Box::new(culprit.clone()),
            why,
        };
        let too_much = |why: String| DrawingError::TooMuch {
            culprit: Box::new(culprit.clone()),
            why,
        };
        let name = entity.text(2);
        let key = name.to_lowercase();
        let structure = self.structure;
        let Some(block) = structure.blocks.get(&key) else {
            return Err(unsupported(format!(
                "places the block `{name}`, which the file does not hold; \
                 add the block or delete the reference"
            )));
        };
        if block.head.whole(70, 0)? & 4 != 0 {
            return Err(unsupported(format!(
                "places `{name}` from another file; bind the reference into the drawing"
            )));
        }
        if self.stack.contains(&key) {
            return Err(too_much(format!(
                "places the block `{name}` within itself; explode or delete it"
            )));
        }
        if self.stack.len() >= MOST_DEPTH {
            return Err(too_much(format!(
                "stands {MOST_DEPTH} blocks deep; explode some of them"
            )));
        }
        let side = side(entity, culprit)?;
        let (columns, rows) = (
            entity.whole(70, 1)?.clamp(1, i64::from(i16::MAX)),
            entity.whole(71, 1)?.clamp(1, i64::from(i16::MAX)),
        );
        if columns * rows > 10_000 {
            return Err(too_much(format!(
                "makes {columns} x {rows} copies, at most 10000 are read; \
                 copy parts by their quantity"
            )));
        }
        let (x, y) = (entity.number(41, 1.0)?, entity.number(42, 1.0)?);
        if x == 0.0 || y == 0.0 {
            return Err(entity.bad(
                "the scale (groups 41, 42)".to_owned(),
                format!("{x}, {y}"),
                "it may not be 0",
            ));
        }
        let head = &block.head;
        let base = Affine::shift(-head.number(10, 0.0)?, -head.number(20, 0.0)?);
        let turn = Affine::turn_deg(entity.number(50, 0.0)?);
        let place = Affine::shift(entity.number(10, 0.0)?, entity.number(20, 0.0)?);
        let (dx, dy) = (entity.number(44, 0.0)?, entity.number(45, 0.0)?);
        self.stack.push(key);
        for row in 0..rows {
            for column in 0..columns {
                self.visit(culprit)?;
                let copy = Affine::shift(column as f64 * dx, row as f64 * dy);
                let to_mm = context
                    .to_mm
                    .after(&side)
                    .after(&place)
                    .after(&turn)
                    .after(&copy)
                    .after(&Affine::scale(x, y))
                    .after(&base);
                let inner = Context {
                    to_mm,
                    layer: Some(layer.to_owned()),
                    look: look.clone(),
                    // Names that begin with a star are made up by the drawing program.
                    name: if block.name.starts_with('*') {
                        context.name.clone()
                    } else {
                        Some(block.name.clone())
                    },
                };
                self.entities(&block.entities, &inner)?;
            }
        }
        self.stack.pop();
        Ok(())
    }
}

/// How an entity looks: by itself, by its layer, or by the INSERT of the block it stands in.
///
/// Source: DXF reference, common group codes 6, 62 (256 by layer, 0 by block) and 420.
fn look(
    entity: &Entity<'_>,
    layer: Option<&LayerState>,
    outer: &Look,
) -> Result<Look, DrawingError> {
    let by_layer = || layer.and_then(|l| colour(l.colour, l.true_colour));
    let rgb = entity.first(420).and_then(Pair::whole);
    let colour = match (entity.whole(62, 256)?, rgb) {
        (index, Some(rgb)) => colour(index, Some(rgb)),
        (0, None) => outer.colour,
        (256, None) => by_layer(),
        (index, None) => colour(index, None),
    };
    let named = entity.text(6);
    let line_type = if named.is_empty() || named.eq_ignore_ascii_case("bylayer") {
        layer.map(|l| l.line_type.clone()).unwrap_or_default()
    } else if named.eq_ignore_ascii_case("byblock") {
        outer.line_type.clone()
    } else {
        named
    };
    let line_type = if line_type.is_empty() {
        "CONTINUOUS".to_owned()
    } else {
        line_type
    };
    Ok(Look { colour, line_type })
}

/// The map from an entity's own plane to the drawing's, from its extrusion direction: nothing, or
/// x mirrored where the plane is seen from below (arbitrary axis algorithm of the DXF reference
/// for the direction (0, 0, -1)).
fn side(entity: &Entity<'_>, culprit: &Culprit) -> Result<Affine, DrawingError> {
    let (x, y, z) = (
        entity.number(210, 0.0)?,
        entity.number(220, 0.0)?,
        entity.number(230, 1.0)?,
    );
    if x.abs().max(y.abs()) > 1e-6 * z.abs() || z == 0.0 {
        return Err(DrawingError::Unsupported {
            culprit: Box::new(culprit.clone()),
            why: format!(
                "lies in a tilted plane (extrusion ({x}, {y}, {z})); \
                 draw it flat in the plane of the sheet"
            ),
        });
    }
    Ok(Affine::scale(z.signum(), 1.0))
}

/// Draws a shape; whether it is closed.
fn trace(
    entity: &Entity<'_>,
    members: &[Entity<'_>],
    context: &Context,
    pen: &mut Pen<'_>,
) -> Result<bool, DrawingError> {
    let culprit = entity.culprit(&entity.text(8));
    let own_plane = |pen: &mut Pen<'_>| -> Result<(), DrawingError> {
        pen.set_map(context.to_mm.after(&side(entity, &culprit)?));
        Ok(())
    };
    match entity.kind.as_str() {
        "LINE" => {
            pen.move_to(Point::new(
                entity.needed(10, "x of the start")?,
                entity.needed(20, "y of the start")?,
            ));
            pen.line_to(Point::new(
                entity.needed(11, "x of the end")?,
                entity.needed(21, "y of the end")?,
            ));
            Ok(false)
        }
        "ARC" | "CIRCLE" => {
            own_plane(pen)?;
            let r = entity.needed(40, "the radius")?;
            if r <= 0.0 {
                return Err(entity.bad(
                    "the radius (group 40)".to_owned(),
                    r.to_string(),
                    "it must be above 0",
                ));
            }
            let (start, sweep) = if entity.kind == "ARC" {
                let start = entity.needed(50, "the start angle")?;
                let turned = (entity.needed(51, "the end angle")? - start).rem_euclid(360.0);
                let sweep = if turned == 0.0 { 360.0 } else { turned };
                (start, sweep.to_radians())
            } else {
                (0.0, TAU)
            };
            // Quarter directions exactly, so that ends on an axis meet what is drawn there.
            let turn = Affine::turn_deg(start);
            let arc = EllipseArc {
                center: Point::new(
                    entity.needed(10, "x of the centre")?,
                    entity.needed(20, "y of the centre")?,
                ),
                u: turn.vector(Vec2::new(r, 0.0)),
                v: turn.vector(Vec2::new(0.0, r)),
                start: 0.0,
                sweep,
            };
            pen.move_to(arc.center + arc.u);
            let turned = Affine::turn_deg(start + sweep.to_degrees());
            let end = arc.center + turned.vector(Vec2::new(r, 0.0));
            pen.elliptical(&arc, Some(end));
            Ok(sweep >= TAU)
        }
        "ELLIPSE" => ellipse(entity, &culprit, pen),
        "LWPOLYLINE" => {
            own_plane(pen)?;
            let mut corners: Vec<(Point, f64)> = Vec::new();
            for pair in entity.pairs() {
                match (pair.code, corners.last_mut()) {
                    (10, _) => corners.push((Point::new(entity.finite(pair)?, 0.0), 0.0)),
                    (20, Some(last)) => last.0.y = entity.finite(pair)?,
                    (42, Some(last)) => last.1 = entity.finite(pair)?,
                    _ => {}
                }
            }
            entity.check_count(90, "corners", corners.len())?;
            Ok(polyline(&corners, entity.whole(70, 0)? & 1 != 0, pen))
        }
        "POLYLINE" => {
            let flags = entity.whole(70, 0)?;
            if flags & 8 == 0 {
                own_plane(pen)?;
            }
            let mut corners = Vec::new();
            for vertex in members.iter().filter(|m| m.kind == "VERTEX") {
                // 16: a control point of the spline that the other vertices follow.
                if vertex.whole(70, 0)? & 16 == 0 {
                    let p = Point::new(
                        vertex.needed(10, "x of a corner")?,
                        vertex.needed(20, "y of a corner")?,
                    );
                    corners.push((p, vertex.number(42, 0.0)?));
                }
            }
            Ok(polyline(&corners, flags & 1 != 0, pen))
        }
        _ => spline(entity, pen),
    }
}

fn polyline(corners: &[(Point, f64)], closed: bool, pen: &mut Pen<'_>) -> bool {
    let Some((first, _)) = corners.first() else {
        return false;
    };
    pen.move_to(*first);
    for pair in corners.windows(2) {
        pen.bulge_to(pair[1].0, pair[0].1);
    }
    if let (true, Some((_, bulge))) = (closed, corners.last()) {
        pen.bulge_to(*first, *bulge);
    }
    closed
}

fn ellipse(
    entity: &Entity<'_>,
    culprit: &Culprit,
    pen: &mut Pen<'_>,
) -> Result<bool, DrawingError> {
    // Centre and axes are in world coordinates; the extrusion only tells the turning direction.
    let turning = side(entity, culprit)?.a;
    let u = Vec2::new(
        entity.needed(11, "x of the major axis")?,
        entity.needed(21, "y of the major axis")?,
    );
    let ratio = entity.needed(40, "the ratio of the axes")?;
    if u.length() == 0.0 || ratio == 0.0 || ratio.abs() > 1.0 + 1e-6 {
        return Err(entity.bad(
            "the axes (groups 11, 21, 40)".to_owned(),
            format!("({}, {}) and ratio {ratio}", u.x, u.y),
            "both axes must have a length and the ratio be at most 1",
        ));
    }
    let start = entity.number(41, 0.0)?;
    let turned = (entity.number(42, TAU)? - start).rem_euclid(TAU);
    // A full turn written with a few decimals.
    let whole = turned < 1e-6 || TAU - turned < 1e-6;
    let sweep = if whole { TAU } else { turned };
    let arc = EllipseArc {
        center: Point::new(
            entity.needed(10, "x of the centre")?,
            entity.needed(20, "y of the centre")?,
        ),
        u,
        v: u.left() * (ratio * turning),
        start,
        sweep,
    };
    let begin = arc.point(start);
    pen.move_to(begin);
    pen.elliptical(&arc, whole.then_some(begin));
    Ok(whole)
}

fn spline(entity: &Entity<'_>, pen: &mut Pen<'_>) -> Result<bool, DrawingError> {
    let mut control: Vec<(Point, f64)> = Vec::new();
    let (mut knots, mut weights) = (Vec::new(), Vec::new());
    let mut through: Vec<Point> = Vec::new();
    for pair in entity.pairs() {
        match (pair.code, control.last_mut(), through.last_mut()) {
            (10, ..) => control.push((Point::new(entity.finite(pair)?, 0.0), 1.0)),
            (20, Some(last), _) => last.0.y = entity.finite(pair)?,
            (11, ..) => through.push(Point::new(entity.finite(pair)?, 0.0)),
            (21, _, Some(last)) => last.y = entity.finite(pair)?,
            (40, ..) => knots.push(entity.finite(pair)?),
            (41, ..) => weights.push(entity.finite(pair)?),
            _ => {}
        }
    }
    entity.check_count(72, "knots", knots.len())?;
    entity.check_count(73, "control points", control.len())?;
    entity.check_count(74, "fit points", through.len())?;
    if control.is_empty() && !through.is_empty() {
        return spline_through(entity, &through, pen);
    }
    let degree = entity.whole(71, 3)?;
    let bad =
        |field: &str, value: String, remedy: &str| Err(entity.bad(field.to_owned(), value, remedy));
    if !(1..=MAX_DEGREE as i64).contains(&degree) {
        return bad(
            "the degree (group 71)",
            degree.to_string(),
            &format!("degrees 1 to {MAX_DEGREE} are read"),
        );
    }
    let degree = degree as usize;
    if control.len() <= degree || knots.len() != control.len() + degree + 1 {
        return bad(
            "the number of knots",
            format!(
                "{} with {} control points and degree {degree}",
                knots.len(),
                control.len()
            ),
            "there must be more control points than the degree, and as many knots as control \
             points plus degree plus 1",
        );
    }
    if let Some(pair) = knots.windows(2).find(|w| w[1] < w[0]) {
        return bad(
            "a knot (group 40)",
            format!("{} after {}", pair[1], pair[0]),
            "knots may not fall",
        );
    }
    if !weights.is_empty() {
        if weights.len() != control.len() {
            return bad(
                "the number of weights",
                format!("{} for {} control points", weights.len(), control.len()),
                "there must be one for each",
            );
        }
        if let Some(w) = weights.iter().find(|w| **w <= 0.0) {
            return bad("a weight (group 41)", w.to_string(), "it must be above 0");
        }
        for (point, weight) in control.iter_mut().zip(&weights) {
            point.1 = *weight;
        }
    }
    let pieces = nurbs::beziers(degree, &knots, &control);
    if let Some(first) = pieces.first() {
        pen.move_to(first.start());
    }
    for piece in &pieces {
        pen.rational(piece);
    }
    // Whether it closes is told by its ends, like for every chain.
    Ok(false)
}

/// A spline given by the points it passes alone.
fn spline_through(
    entity: &Entity<'_>,
    points: &[Point],
    pen: &mut Pen<'_>,
) -> Result<bool, DrawingError> {
    let tangent = |x: i32, y: i32| -> Result<Option<Vec2>, DrawingError> {
        let v = Vec2::new(entity.number(x, 0.0)?, entity.number(y, 0.0)?);
        Ok((v.length() > 1e-9).then_some(v))
    };
    let ends = (tangent(12, 22)?, tangent(13, 23)?);
    let is_closed = entity.whole(70, 0)? & 1 != 0;
    let pieces = interpolate::through(points, ends, is_closed);
    if let Some(first) = pieces.first() {
        pen.move_to(first.start());
    }
    for piece in &pieces {
        pen.rational(piece);
    }
    Ok(is_closed)
}
