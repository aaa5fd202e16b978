//! DXF, release 2000 (AC1015), in millimetres.
//!
//! Written by hand rather than with the `dxf` crate that reads drawings: that one leaves the table
//! heads without handles, gives a block and its end the same handle, and stamps each file with the
//! time and random identities. This writer's files are the same from run to run and pass a strict
//! audit without a correction.
//!
//! Circles are CIRCLE entities, other closed curves and marks LWPOLYLINE with true arcs as bulges,
//! saw cuts LINE, text TEXT. Each is in the order of the [`Drawing`], which is the cutting order.
//!
//! Source of structure and group codes: DXF reference for release 2000.

use super::drawing::{Drawing, Entity};
use super::dxf_pairs::{Pairs, encoded, shortest, text_start};
use crate::layer::Layer;
use crate::shape::{Shape, Text};
use panelwright_geometry::{Point, Vertex};

/// Handles of what is in every file; 0 is nobody's.
mod handle {
    pub const VPORTS: u32 = 0x1;
    pub const LINE_TYPES: u32 = 0x2;
    pub const LAYERS: u32 = 0x3;
    pub const STYLES: u32 = 0x4;
    pub const VIEWS: u32 = 0x5;
    pub const SYSTEMS: u32 = 0x6;
    pub const APPLICATIONS: u32 = 0x7;
    pub const DIM_STYLES: u32 = 0x8;
    pub const BLOCKS: u32 = 0x9;
    pub const ROOT: u32 = 0xA;
    pub const GROUPS: u32 = 0xB;
    pub const MODEL: u32 = 0xC;
    pub const PAPER: u32 = 0xD;
    /// First one for all the rest.
    pub const FREE: u32 = 0x20;
}

/// Colour (index), line type and line width (hundredths of a millimetre) of a layer.
///
/// Not the pure primaries: laser controls give those a meaning of their own.
pub(super) fn style(layer: Layer) -> (u8, &'static str, i16) {
    match layer {
        Layer::Edge => (7, CONTINUOUS, 35),
        Layer::Flaw => (22, DOTTED, 25),
        Layer::Zone => (200, DASHED, 25),
        Layer::Blank => (8, DASHED, 25),
        Layer::Offcut => (72, DASHED, 25),
        Layer::Scrap => (8, DOTTED, 13),
        Layer::Saw => (30, CENTER, 25),
        Layer::Sawn => (152, CONTINUOUS, 25),
        Layer::Mark => (42, CONTINUOUS, 18),
        Layer::Finished => (9, CONTINUOUS, 13),
        Layer::Inside(_) | Layer::PathInside(_) => (212, CONTINUOUS, 30),
        Layer::Outside(_) | Layer::PathOutside(_) => (132, CONTINUOUS, 50),
        Layer::PathSkin(_) => (62, CONTINUOUS, 50),
        Layer::PathTab(_) => (12, CONTINUOUS, 70),
        Layer::Label => (7, CONTINUOUS, 13),
    }
}

pub(super) const CONTINUOUS: &str = "Continuous";
const DASHED: &str = "PW-DASHED";
const DOTTED: &str = "PW-DOTTED";
const CENTER: &str = "PW-CENTER";

/// Line types: name, description, dash lengths (gaps negative) in millimetres.
pub(super) const LINE_TYPES: [(&str, &str, &[f64]); 6] = [
    ("ByBlock", "", &[]),
    ("ByLayer", "", &[]),
    (CONTINUOUS, "Solid line", &[]),
    (DASHED, "Dashes", &[24.0, -12.0]),
    (DOTTED, "Short dashes", &[6.0, -9.0]),
    (CENTER, "Long and short dashes", &[36.0, -8.0, 8.0, -8.0]),
];

/// The drawing as the bytes of a DXF file (ASCII, lines end with LF).
#[must_use]
pub fn to_bytes(drawing: &Drawing) -> Vec<u8> {
    let mut body = Tags::default();
    body.tables(drawing);
    body.blocks();
    body.section("ENTITIES");
    for entity in &drawing.entities {
        body.entity(entity);
    }
    body.tag(0, "ENDSEC");
    body.objects();
    body.tag(0, "EOF");

    let mut file = Tags::default();
    file.header(drawing, body.next);
    file.text.push_str(&body.text);
    file.text.into_bytes()
}

/// A DXF file as it grows: pairs of group code and value.
struct Tags {
    text: String,
    /// The next free handle.
    next: u32,
}

impl Default for Tags {
    fn default() -> Self {
        Self {
            text: String::new(),
            next: handle::FREE,
        }
    }
}

impl Pairs for Tags {
    fn out(&mut self) -> &mut String {
        &mut self.text
    }
}

impl Tags {
    fn handle(&mut self, code: u16, value: u32) {
        self.tag(code, format_args!("{value:X}"));
    }

    fn fresh(&mut self) -> u32 {
        self.next += 1;
        self.next - 1
    }

    fn header(&mut self, drawing: &Drawing, next: u32) {
        self.section("HEADER");
        self.tag(9, "$ACADVER");
        self.tag(1, "AC1015");
        self.tag(9, "$DWGCODEPAGE");
        self.tag(3, "ANSI_1252");
        self.tag(9, "$HANDSEED");
        self.handle(5, next);
        self.tag(9, "$INSUNITS");
        self.tag(70, 4);
        self.tag(9, "$MEASUREMENT");
        self.tag(70, 1);
        self.tag(9, "$LUNITS");
        self.tag(70, 2);
        self.tag(9, "$LTSCALE");
        self.number(40, 1.0);
        self.extents(drawing);
        self.tag(0, "ENDSEC");
        self.section("CLASSES");
        self.tag(0, "ENDSEC");
    }

    fn table(&mut self, name: &str, own: u32, count: usize) {
        self.tag(0, "TABLE");
        self.tag(2, name);
        self.handle(5, own);
        self.handle(330, 0);
        self.tag(100, "AcDbSymbolTable");
        self.tag(70, count);
    }

    /// The head of a table's entry.
    fn record(&mut self, kind: &str, own: u32, table: u32, class: &str, name: &str) {
        self.tag(0, kind);
        self.handle(if kind == "DIMSTYLE" { 105 } else { 5 }, own);
        self.handle(330, table);
        self.tag(100, "AcDbSymbolTableRecord");
        self.tag(100, class);
        self.tag(2, name);
    }

    fn tables(&mut self, drawing: &Drawing) {
        self.section("TABLES");
        self.view_port(drawing);

        self.table("LTYPE", handle::LINE_TYPES, LINE_TYPES.len());
        for (name, description, dashes) in LINE_TYPES {
            let own = self.fresh();
            let class = "AcDbLinetypeTableRecord";
            self.record("LTYPE", own, handle::LINE_TYPES, class, name);
            self.tag(70, 0);
            self.tag(3, description);
            self.tag(72, 65);
            self.tag(73, dashes.len());
            self.number(40, dashes.iter().map(|d| d.abs()).sum());
            for dash in dashes {
                self.number(49, *dash);
                self.tag(74, 0);
            }
        }
        self.tag(0, "ENDTAB");

        let layers = drawing.layers();
        self.table("LAYER", handle::LAYERS, layers.len() + 1);
        self.layer("0", 7, CONTINUOUS, -3);
        for layer in layers {
            let (color, line_type, width) = style(layer);
            self.layer(&layer.to_string(), color, line_type, width);
        }
        self.tag(0, "ENDTAB");

        self.table("STYLE", handle::STYLES, 1);
        let own = self.fresh();
        let class = "AcDbTextStyleTableRecord";
        self.record("STYLE", own, handle::STYLES, class, "Standard");
        self.tag(70, 0);
        self.number(40, 0.0);
        self.number(41, 1.0);
        self.number(50, 0.0);
        self.tag(71, 0);
        self.number(42, 2.5);
        self.tag(3, "txt");
        self.tag(4, "");
        self.tag(0, "ENDTAB");

        self.table("VIEW", handle::VIEWS, 0);
        self.tag(0, "ENDTAB");
        self.table("UCS", handle::SYSTEMS, 0);
        self.tag(0, "ENDTAB");

        self.table("APPID", handle::APPLICATIONS, 1);
        let own = self.fresh();
        let class = "AcDbRegAppTableRecord";
        self.record("APPID", own, handle::APPLICATIONS, class, "ACAD");
        self.tag(70, 0);
        self.tag(0, "ENDTAB");

        self.table("DIMSTYLE", handle::DIM_STYLES, 1);
        self.tag(100, "AcDbDimStyleTable");
        self.tag(71, 0);
        let own = self.fresh();
        let class = "AcDbDimStyleTableRecord";
        self.record("DIMSTYLE", own, handle::DIM_STYLES, class, "Standard");
        self.tag(70, 0);
        self.tag(0, "ENDTAB");

        self.table("BLOCK_RECORD", handle::BLOCKS, 2);
        for (own, name) in [
            (handle::MODEL, "*Model_Space"),
            (handle::PAPER, "*Paper_Space"),
        ] {
            let class = "AcDbBlockTableRecord";
            self.record("BLOCK_RECORD", own, handle::BLOCKS, class, name);
            self.handle(340, 0);
        }
        self.tag(0, "ENDTAB");
        self.tag(0, "ENDSEC");
    }

    /// The view that a program opens with.
    fn view_port(&mut self, drawing: &Drawing) {
        self.table("VPORT", handle::VPORTS, 1);
        let own = self.fresh();
        let class = "AcDbViewportTableRecord";
        self.record("VPORT", own, handle::VPORTS, class, "*Active");
        self.view(drawing);
        self.tag(0, "ENDTAB");
    }

    fn layer(&mut self, name: &str, color: u8, line_type: &str, width: i16) {
        let own = self.fresh();
        let class = "AcDbLayerTableRecord";
        self.record("LAYER", own, handle::LAYERS, class, name);
        self.tag(70, 0);
        self.tag(62, color);
        self.tag(6, line_type);
        self.tag(370, width);
    }

    fn blocks(&mut self) {
        self.section("BLOCKS");
        for (record, name) in [
            (handle::MODEL, "*Model_Space"),
            (handle::PAPER, "*Paper_Space"),
        ] {
            for (kind, class) in [("BLOCK", "AcDbBlockBegin"), ("ENDBLK", "AcDbBlockEnd")] {
                let own = self.fresh();
                self.tag(0, kind);
                self.handle(5, own);
                self.handle(330, record);
                self.tag(100, "AcDbEntity");
                if record == handle::PAPER {
                    self.tag(67, 1);
                }
                self.tag(8, "0");
                self.tag(100, class);
                if kind == "BLOCK" {
                    self.tag(2, name);
                    self.tag(70, 0);
                    self.point_3d(10, Point::new(0.0, 0.0));
                    self.tag(3, name);
                    self.tag(1, "");
                }
            }
        }
        self.tag(0, "ENDSEC");
    }

    fn objects(&mut self) {
        self.section("OBJECTS");
        self.dictionary(handle::ROOT, 0);
        self.tag(3, "ACAD_GROUP");
        self.handle(350, handle::GROUPS);
        self.dictionary(handle::GROUPS, handle::ROOT);
        self.tag(0, "ENDSEC");
    }

    fn dictionary(&mut self, own: u32, owner: u32) {
        self.tag(0, "DICTIONARY");
        self.handle(5, own);
        self.handle(330, owner);
        self.tag(100, "AcDbDictionary");
        self.tag(281, 1);
    }

    /// The head of a drawn entity.
    fn begin(&mut self, kind: &str, layer: Layer, class: &str) {
        let own = self.fresh();
        self.tag(0, kind);
        self.handle(5, own);
        self.handle(330, handle::MODEL);
        self.tag(100, "AcDbEntity");
        self.tag(8, layer);
        self.tag(100, class);
    }

    fn entity(&mut self, entity: &Entity) {
        let layer = entity.layer;
        match &entity.shape {
            Shape::Circle { center, radius } => {
                self.begin("CIRCLE", layer, "AcDbCircle");
                self.point_3d(10, *center);
                self.number(40, *radius);
            }
            Shape::Ring(ring) => self.polyline(layer, &ring.vertices, true),
            Shape::Path(path) => self.polyline(layer, &path.vertices, path.closed),
            Shape::Cut { from, to, .. } => {
                self.begin("LINE", layer, "AcDbLine");
                self.point_3d(10, *from);
                self.point_3d(11, *to);
            }
            Shape::Text(text) => self.text(layer, text),
        }
    }

    fn polyline(&mut self, layer: Layer, vertices: &[Vertex], closed: bool) {
        self.begin("LWPOLYLINE", layer, "AcDbPolyline");
        self.tag(90, vertices.len());
        self.tag(70, u8::from(closed));
        self.number(43, 0.0);
        for vertex in vertices {
            self.point(10, vertex.point);
            if vertex.bulge != 0.0 {
                self.tag(42, shortest(vertex.bulge));
            }
        }
    }

    fn text(&mut self, layer: Layer, text: &Text) {
        self.begin("TEXT", layer, "AcDbText");
        self.point_3d(10, text_start(text));
        self.number(40, text.height);
        self.tag(1, encoded(&text.content));
        self.number(50, text.turn_deg);
        self.tag(7, "Standard");
        // Centred on the second point, both ways; the first is for readers that look no further.
        self.tag(72, 1);
        self.point_3d(11, text.at);
        self.tag(100, "AcDbText");
        self.tag(73, 2);
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Drawing, Owner, cut_files, samples};
    use super::*;
    use ::dxf::entities::EntityType;
    use panelwright_geometry::{Outline, Placement, Ring, Vec2};
    use proptest::prelude::*;

    fn read(bytes: &[u8]) -> ::dxf::Drawing {
        ::dxf::Drawing::load(&mut &bytes[..]).unwrap()
    }

    /// Layer and closed curve of every entity that has one, in file order.
    fn curves(drawing: &::dxf::Drawing) -> Vec<(String, Ring)> {
        drawing
            .entities()
            .filter_map(|e| {
                let ring = match &e.specific {
                    EntityType::Circle(c) => {
                        Ring::circle(Point::new(c.center.x, c.center.y), c.radius)
                    }
                    EntityType::LwPolyline(p) if p.is_closed() => Ring::new(
                        p.vertices
                            .iter()
                            .map(|v| Vertex::new(v.x, v.y, v.bulge))
                            .collect(),
                    ),
                    _ => return None,
                };
                Some((e.common.layer.clone(), ring))
            })
            .collect()
    }

    /// Area, length, lowest left corner, arcs: enough to tell one cut from another.
    fn assert_same_curve(a: &Ring, b: &Ring) {
        let arcs = |r: &Ring| r.vertices.iter().filter(|v| v.bulge != 0.0).count();
        assert!((a.area() - b.area()).abs() < 1e-5, "{a:?} {b:?}");
        assert!((a.length() - b.length()).abs() < 1e-6, "{a:?} {b:?}");
        assert!(
            a.bounds().min.distance(b.bounds().min) < 1e-6,
            "{a:?} {b:?}"
        );
        assert!(
            a.bounds().max.distance(b.bounds().max) < 1e-6,
            "{a:?} {b:?}"
        );
        assert_eq!(arcs(a), arcs(b));
    }

    #[test]
    fn every_cut_comes_back_with_its_arcs() {
        let job = samples::job();
        let plan = samples::plan(&job);
        for sheet in plan.sheets.iter().filter(|s| !s.guillotine) {
            let drawing = Drawing::of_sheet(sheet, 3, &job).unwrap();
            let back = read(&to_bytes(&drawing));
            let mut cuts: Vec<_> = curves(&back)
                .into_iter()
                .filter(|(layer, _)| {
                    layer.starts_with("PW-INSIDE") || layer.starts_with("PW-OUTSIDE")
                })
                .collect();
            for part in &sheet.parts {
                let depth = if part.inside.is_some() { "-1" } else { "" };
                let rings = part.outline.holes.iter().map(|r| (r, "PW-INSIDE"));
                for (ring, name) in rings.chain([(&part.outline.outer, "PW-OUTSIDE")]) {
                    let its = |(layer, found): &(String, Ring)| {
                        layer == &format!("{name}{depth}")
                            && found.bounds().min.distance(ring.bounds().min) < 1e-6
                    };
                    let at = cuts.iter().position(its).expect("the cut is there");
                    assert_same_curve(&cuts.remove(at).1, ring);
                }
            }
            assert!(cuts.is_empty());
        }
    }

    #[test]
    fn the_file_says_millimetres_and_release_2000() {
        let job = samples::job();
        for (name, bytes) in cut_files(&samples::plan(&job), &job).unwrap().files {
            if !name.ends_with(".dxf") {
                continue;
            }
            let back = read(&bytes);
            assert_eq!(back.header.version, ::dxf::enums::AcadVersion::R2000);
            assert_eq!(
                back.header.default_drawing_units,
                ::dxf::enums::Units::Millimeters
            );
            assert!(bytes.is_ascii(), "{name}");
            let known: Vec<_> = back.layers().map(|l| l.name.clone()).collect();
            assert!(
                back.entities().all(|e| known.contains(&e.common.layer)),
                "{name}"
            );
        }
    }

    #[test]
    fn handles_are_never_given_twice() {
        let job = samples::job();
        let plan = samples::plan(&job);
        let bytes = to_bytes(&Drawing::of_sheet(&plan.sheets[0], 3, &job).unwrap());
        let text = String::from_utf8(bytes).unwrap();
        let lines: Vec<&str> = text.lines().collect();
        // After the header, whose one handle is the seed.
        let pairs = lines.chunks(2).skip_while(|p| p[1] != "TABLES");
        let handles: Vec<&str> = pairs
            .filter(|p| matches!(p[0].trim(), "5" | "105"))
            .map(|p| p[1])
            .collect();
        let mut distinct = handles.clone();
        distinct.sort_unstable();
        distinct.dedup();
        assert!(handles.len() > 60);
        assert_eq!(distinct.len(), handles.len());
    }

    #[test]
    fn a_blank_lies_on_the_bed_with_its_corner_at_the_origin() {
        let job = samples::job();
        let mut plan = samples::plan(&job);
        // The second blank then fits the bed only when turned.
        plan.sheets[0].blanks[1].max.y = 1310.0;
        let sheet = &plan.sheets[0];
        let turns = [
            Placement::new(90.0, Point::new(1400.0, 0.0)),
            Placement::new(0.0, Point::new(-1301.6, 0.0)),
        ];
        let mut job = job;
        job.shop.machines[1].bed = Some([1400.0, 1310.0]);
        for (blank, turn) in turns.iter().enumerate() {
            let whole = Drawing::of_sheet(sheet, 3, &job).unwrap();
            let drawing = whole.of_blank(sheet, &job, blank);
            let cuts = curves(&read(&to_bytes(&drawing)));
            let (edge, ring) = &cuts[0];
            assert_eq!(edge, "PW-EDGE");
            assert_eq!(ring.bounds().min, Point::default());
            let outside: Vec<_> = cuts
                .iter()
                .filter(|(l, _)| l.starts_with("PW-OUTSIDE"))
                .collect();
            let there = sheet
                .parts
                .iter()
                .filter(|p| sheet.blanks[blank].contains(&p.outline.bounds()));
            let there: Vec<Outline> = there.map(|p| p.outline.placed(turn)).collect();
            assert!(!there.is_empty());
            assert_eq!(outside.len(), there.len());
            for ((_, found), want) in outside.iter().zip(&there) {
                assert_same_curve(found, &want.outer);
                assert!(ring.bounds().contains(&found.bounds()));
            }
        }
    }

    #[test]
    fn what_the_saw_frees_has_no_outside_cut() {
        let job = samples::job();
        let plan = samples::plan(&job);
        let drawing = Drawing::of_sheet(&plan.sheets[1], 3, &job).unwrap();
        let layers: Vec<String> = curves(&read(&to_bytes(&drawing)))
            .into_iter()
            .map(|(layer, _)| layer)
            .collect();
        // Edge; the drilled bottom; the side that gets its round corners on the router.
        assert_eq!(
            layers,
            ["PW-EDGE", "PW-INSIDE", "PW-SAWN", "PW-SAWN", "PW-OUTSIDE"]
        );
        let files = cut_files(&plan, &job).unwrap().files;
        let finish = files
            .iter()
            .filter(|(n, _)| n.starts_with("cut/finish-") && n.ends_with("dxf"));
        assert_eq!(finish.count(), 2);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]
        /// A star of lines and arcs, turned and moved anywhere, is the same curve when read back.
        #[test]
        fn any_curve_comes_back(
            corners in prop::collection::vec((20.0..900.0_f64, prop_oneof![Just(0.0), -1.2..1.2_f64, 2.0..40.0_f64]), 3..12),
            turn in 0.0..360.0_f64,
            x in -9e4..9e4_f64,
            y in -9e4..9e4_f64,
        ) {
            let count = corners.len() as f64;
            let star = corners.iter().enumerate().map(|(i, (reach, bulge))| {
                let corner = Vec2::from_angle(std::f64::consts::TAU * i as f64 / count, *reach);
                Vertex::new(corner.x, corner.y, *bulge)
            });
            let ring = Ring::new(star.collect()).placed(&Placement::new(turn, Point::new(x, y)));
            let mut tags = Tags::default();
            tags.section("ENTITIES");
            tags.entity(&Entity {
                layer: Layer::Outside(0),
                shape: Shape::closed(&ring),
                owner: Owner::Part(0),
                occupied: false,
                opening: false,
            });
            tags.tag(0, "ENDSEC");
            tags.tag(0, "EOF");
            let back = curves(&read(tags.text.as_bytes()));
            prop_assert_eq!(back.len(), 1);
            let found = &back[0].1;
            let sweep = |r: &Ring| r.segments().map(|s| s.sweep().abs()).sum::<f64>();
            prop_assert!((found.length() - ring.length()).abs() < 1e-6 * ring.length());
            prop_assert!((sweep(found) - sweep(&ring)).abs() < 1e-9);
            prop_assert!(found.bounds().min.distance(ring.bounds().min) < 1e-5);
            prop_assert!(found.bounds().max.distance(ring.bounds().max) < 1e-5);
        }
    }
}
