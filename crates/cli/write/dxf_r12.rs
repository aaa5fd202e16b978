//! DXF, release 12 (AC1009), for controls that read nothing newer.
//!
//! The same drawing as in `dxf.rs`, told with what release 12 has: POLYLINE and VERTEX with bulges
//! for chains of lines and arcs, CIRCLE, LINE, TEXT. It has no place for a unit (the numbers are
//! millimetres, which a comment says) nor for line widths, and needs no handles.
//!
//! Source of structure and group codes: DXF reference for release 12.

use super::drawing::{Drawing, Entity};
use super::dxf::{CONTINUOUS, LINE_TYPES, encoded, number, shortest, style};
use super::layer::Layer;
use super::shape::{Shape, Text};
use panelwright_geometry::{Point, Vec2, Vertex};
use std::fmt::{Display, Write as _};

/// The drawing as the bytes of a DXF file (ASCII, lines end with LF).
#[must_use]
pub fn to_bytes(drawing: &Drawing) -> Vec<u8> {
    let mut tags = Tags(String::new());
    tags.tag(999, "lengths in millimetres");
    tags.header(drawing);
    tags.tables(drawing);
    tags.section("BLOCKS");
    tags.tag(0, "ENDSEC");
    tags.section("ENTITIES");
    for entity in &drawing.entities {
        tags.entity(entity);
    }
    tags.tag(0, "ENDSEC");
    tags.tag(0, "EOF");
    tags.0.into_bytes()
}

/// Names are in capitals in release 12.
fn line_type(name: &str) -> String {
    name.to_uppercase()
}

/// A DXF file as it grows: pairs of group code and value.
struct Tags(String);

impl Tags {
    fn tag(&mut self, code: u16, value: impl Display) {
        let _ = write!(self.0, "{code:>3}\n{value}\n");
    }

    fn number(&mut self, code: u16, value: f64) {
        self.tag(code, number(value));
    }

    fn point(&mut self, code: u16, point: Point) {
        self.number(code, point.x);
        self.number(code + 10, point.y);
    }

    fn point_3d(&mut self, code: u16, point: Point) {
        self.point(code, point);
        self.number(code + 20, 0.0);
    }

    fn section(&mut self, name: &str) {
        self.tag(0, "SECTION");
        self.tag(2, name);
    }

    fn table(&mut self, name: &str, count: usize) {
        self.tag(0, "TABLE");
        self.tag(2, name);
        self.tag(70, count);
    }

    fn header(&mut self, drawing: &Drawing) {
        let (min, max) = (drawing.bounds.min, drawing.bounds.max);
        self.section("HEADER");
        self.tag(9, "$ACADVER");
        self.tag(1, "AC1009");
        for (name, corner) in [("$EXTMIN", min), ("$EXTMAX", max)] {
            self.tag(9, name);
            self.point_3d(10, corner);
        }
        for (name, corner) in [("$LIMMIN", min), ("$LIMMAX", max)] {
            self.tag(9, name);
            self.point(10, corner);
        }
        self.tag(9, "$LUNITS");
        self.tag(70, 2);
        self.tag(9, "$LTSCALE");
        self.number(40, 1.0);
        self.tag(0, "ENDSEC");
    }

    fn tables(&mut self, drawing: &Drawing) {
        self.section("TABLES");
        self.view_port(drawing);
        // The two that stand for "as the block" and "as the layer" are not in the table.
        let own = LINE_TYPES
            .iter()
            .filter(|(name, ..)| !name.starts_with("By"));
        self.table("LTYPE", own.clone().count());
        for (name, description, dashes) in own {
            self.tag(0, "LTYPE");
            self.tag(2, line_type(name));
            self.tag(70, 0);
            self.tag(3, description);
            self.tag(72, 65);
            self.tag(73, dashes.len());
            self.number(40, dashes.iter().map(|d| d.abs()).sum());
            for dash in *dashes {
                self.number(49, *dash);
            }
        }
        self.tag(0, "ENDTAB");

        let layers = drawing.layers();
        self.table("LAYER", layers.len() + 1);
        self.layer("0", 7, CONTINUOUS);
        for layer in layers {
            let (color, its, _) = style(layer);
            self.layer(&layer.to_string(), color, its);
        }
        self.tag(0, "ENDTAB");

        self.table("STYLE", 1);
        self.tag(0, "STYLE");
        self.tag(2, "STANDARD");
        self.tag(70, 0);
        self.number(40, 0.0);
        self.number(41, 1.0);
        self.number(50, 0.0);
        self.tag(71, 0);
        self.number(42, 2.5);
        self.tag(3, "txt");
        self.tag(4, "");
        self.tag(0, "ENDTAB");
        self.tag(0, "ENDSEC");
    }

    fn layer(&mut self, name: &str, color: u8, its: &str) {
        self.tag(0, "LAYER");
        self.tag(2, name);
        self.tag(70, 0);
        self.tag(62, color);
        self.tag(6, line_type(its));
    }

    /// The view that a program opens with: all of the drawing.
    fn view_port(&mut self, drawing: &Drawing) {
        let bounds = drawing.bounds;
        let origin = Point::default();
        self.table("VPORT", 1);
        self.tag(0, "VPORT");
        self.tag(2, "*ACTIVE");
        self.tag(70, 0);
        self.point(10, origin);
        self.point(11, Point::new(1.0, 1.0));
        self.point(12, bounds.center());
        self.point(13, origin);
        self.point(14, Point::new(10.0, 10.0));
        self.point(15, Point::new(10.0, 10.0));
        // Looking straight down.
        self.point(16, origin);
        self.number(36, 1.0);
        self.point_3d(17, origin);
        self.number(40, 1.1 * bounds.height().max(bounds.width() / 1.5));
        self.number(41, 1.5);
        self.number(42, 50.0);
        for code in [43, 44, 50, 51] {
            self.number(code, 0.0);
        }
        for (code, value) in [
            (71, 0),
            (72, 1000),
            (73, 1),
            (74, 3),
            (75, 0),
            (76, 0),
            (77, 0),
            (78, 0),
        ] {
            self.tag(code, value);
        }
        self.tag(0, "ENDTAB");
    }

    fn begin(&mut self, kind: &str, layer: Layer) {
        self.tag(0, kind);
        self.tag(8, layer);
    }

    fn entity(&mut self, entity: &Entity) {
        let layer = entity.layer;
        match &entity.shape {
            Shape::Circle { center, radius } => {
                self.begin("CIRCLE", layer);
                self.point_3d(10, *center);
                self.number(40, *radius);
            }
            Shape::Ring(ring) => self.polyline(layer, &ring.vertices, true),
            Shape::Path(path) => self.polyline(layer, &path.vertices, path.closed),
            Shape::Cut { from, to, .. } => {
                self.begin("LINE", layer);
                self.point_3d(10, *from);
                self.point_3d(11, *to);
            }
            Shape::Text(text) => self.text(layer, text),
        }
    }

    fn polyline(&mut self, layer: Layer, vertices: &[Vertex], closed: bool) {
        self.begin("POLYLINE", layer);
        self.tag(66, 1);
        self.point_3d(10, Point::default());
        self.tag(70, u8::from(closed));
        for vertex in vertices {
            self.begin("VERTEX", layer);
            self.point_3d(10, vertex.point);
            if vertex.bulge != 0.0 {
                self.tag(42, shortest(vertex.bulge));
            }
        }
        self.begin("SEQEND", layer);
    }

    fn text(&mut self, layer: Layer, text: &Text) {
        let along = Vec2::from_angle(text.turn_deg.to_radians(), 1.0);
        let start = text.at - along * (0.5 * text.length()) - along.left() * (0.5 * text.height);
        self.begin("TEXT", layer);
        self.point_3d(10, start);
        self.number(40, text.height);
        self.tag(1, encoded(&text.content));
        self.number(50, text.turn_deg);
        self.tag(7, "STANDARD");
        // Centred on the second point, both ways; the first is for readers that look no further.
        self.tag(72, 1);
        self.tag(73, 2);
        self.point_3d(11, text.at);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Drawing, read_back, samples};
    use super::*;
    use crate::input::DxfForm;

    #[test]
    fn every_drawing_reads_back_and_is_the_same_each_time() {
        let job = samples::job();
        for sheet in &samples::plan(&job).sheets {
            let drawing = Drawing::of_sheet(sheet, 3, &job).unwrap();
            let bytes = to_bytes(&drawing);
            assert!(bytes.is_ascii());
            assert_eq!(bytes, to_bytes(&drawing.clone()));
            read_back::check("x.dxf", &bytes, &drawing, DxfForm::Release12).unwrap();
            let text = String::from_utf8(bytes).unwrap();
            // What release 12 does not know.
            for word in [
                "LWPOLYLINE",
                "AcDb",
                "OBJECTS",
                "CLASSES",
                "\n370\n",
                "\n100\n",
            ] {
                assert!(!text.contains(word), "{word}");
            }
        }
    }
}
