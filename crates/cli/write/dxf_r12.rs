//! DXF, release 12 (AC1009), for controls that read nothing newer.
//!
//! The same drawing as in `dxf.rs`, told with what release 12 has: POLYLINE and VERTEX with bulges
//! for chains of lines and arcs, CIRCLE, LINE, TEXT. It has no place for a unit (the numbers are
//! millimetres, which a comment says) nor for line widths, and needs no handles.
//!
//! Source of structure and group codes: DXF reference for release 12.

use super::drawing::{Drawing, Entity};
use super::dxf::{CONTINUOUS, LINE_TYPES, style};
use super::dxf_pairs::{Pairs, encoded, shortest, text_start};
use crate::layer::Layer;
use crate::shape::{Shape, Text};
use panelwright_geometry::{Point, Vertex};

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

impl Pairs for Tags {
    fn out(&mut self) -> &mut String {
        &mut self.0
    }
}

impl Tags {
    fn table(&mut self, name: &str, count: usize) {
        self.tag(0, "TABLE");
        self.tag(2, name);
        self.tag(70, count);
    }

    fn header(&mut self, drawing: &Drawing) {
        self.section("HEADER");
        self.tag(9, "$ACADVER");
        self.tag(1, "AC1009");
        self.extents(drawing);
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

    /// The view that a program opens with.
    fn view_port(&mut self, drawing: &Drawing) {
        self.table("VPORT", 1);
        self.tag(0, "VPORT");
        self.tag(2, "*ACTIVE");
        self.view(drawing);
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
        self.begin("TEXT", layer);
        self.point_3d(10, text_start(text));
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
