//! A shop, a rack and nests for the tests of this module.

use super::{BookOptions, Booking, Rack, book};
use crate::Result;
use crate::input::{Keep, Material, Sheet, Substance};
use crate::job::Shop;
use crate::nest_file::{
    FORMAT, NestFile, OffcutRecord, PlacementRecord, Ring, SheetRecord, SourceRecord, TotalsRecord,
};
use crate::remnant::Remnant;
use jiff::Zoned;
use panelwright_geometry::{Bounds, Point, Polygon};
use rusqlite::Connection;
use rusqlite::types::Value;
use std::path::PathBuf;

/// Eight in the morning of a November day, thirteen hours east of Greenwich.
pub fn when(day: i8) -> Zoned {
    let zone = jiff::tz::TimeZone::fixed(jiff::tz::offset(13));
    jiff::civil::date(2026, 11, day)
        .at(8, 0, 0, 0)
        .to_zoned(zone)
        .expect("a fixed offset has every hour")
}

fn material(name: &str, grain: bool, good_faces: u8) -> Material {
    Material {
        name: name.to_owned(),
        substance: Substance::Composite,
        thickness: 3.0,
        finish: String::new(),
        good_faces,
        grain,
        kg_per_m2: 3.83,
        keep: Keep {
            least_width: 150.0,
            least_length: 300.0,
            value_share: 0.5,
            handling: 0.0,
            ..Keep::default()
        },
        disposal_per_m2: 0.0,
        recycling_credit_per_m2: 0.0,
    }
}

fn sheet(id: &str, material: &str, stock: Option<u32>) -> Sheet {
    Sheet {
        id: id.to_owned(),
        material: material.to_owned(),
        length: 2440.0,
        width: 1220.0,
        price: 119.072,
        stock,
        lot: Some("P-31".to_owned()),
        place: Some("stand 1".to_owned()),
    }
}

fn points(ring: &[[f64; 2]]) -> Vec<Point> {
    ring.iter().map(|p| Point::new(p[0], p[1])).collect()
}

/// A rectangle as a ring.
pub fn block(x: f64, y: f64, length: f64, width: f64) -> Ring {
    vec![
        [x, y],
        [x + length, y],
        [x + length, y + width],
        [x, y + width],
    ]
}

const L: [[f64; 2]; 6] = [
    [0.0, 0.0],
    [900.0, 0.0],
    [900.0, 300.0],
    [400.0, 300.0],
    [400.0, 600.0],
    [0.0, 600.0],
];

/// Two materials, three sheets (one of them not counted), two remnants.
pub fn shop() -> Shop {
    let plain = Remnant {
        id: "R-0007".to_owned(),
        material: "white 3".to_owned(),
        outline: Polygon::rectangle(1000.0, 800.0),
        flaws: Vec::new(),
        lot: None,
        grain_deg: None,
        good_faces: 1,
        place: Some("bay 1".to_owned()),
        logged: Some("2026-09-30".to_owned()),
        origin: None,
        note: None,
        value: Some(12.5),
    };
    Shop {
        name: "Seedling Joinery".to_owned(),
        currency: "EUR".to_owned(),
        paper: crate::paper::Paper::default(),
        labels: crate::input::LabelStock::default(),
        materials: vec![
            material("white 3", false, 1),
            material("brushed 3", true, 2),
        ],
        machines: Vec::new(),
        sheets: vec![
            sheet("W-2440", "white 3", Some(3)),
            sheet("W-2440-loose", "white 3", None),
            sheet("B-2440", "brushed 3", Some(1)),
        ],
        remnants: vec![
            plain.clone(),
            Remnant {
                id: "R-0012".to_owned(),
                material: "brushed 3".to_owned(),
                outline: Polygon::new(points(&L), vec![points(&block(20.0, 20.0, 100.0, 100.0))]),
                flaws: vec![points(&block(150.0, 350.0, 200.0, 100.0))],
                lot: Some("P-28".to_owned()),
                grain_deg: Some(90.0),
                good_faces: 2,
                place: Some("bay 4".to_owned()),
                value: None,
                ..plain
            },
        ],
        ..Shop::default()
    }
}

/// A rack in a folder of its own, made of [`shop`] on the first of November.
pub struct TestRack {
    pub dir: tempfile::TempDir,
    pub rack: Rack,
}

impl TestRack {
    pub fn new() -> Self {
        let dir = tempfile::tempdir().expect("a folder");
        let rack = Rack::create_from(&dir.path().join("rack.sqlite"), &shop(), &when(1))
            .expect("a new rack");
        Self { dir, rack }
    }

    pub fn path(&self) -> PathBuf {
        self.dir.path().join("rack.sqlite")
    }

    pub fn l_outline(&self) -> Polygon {
        shop().remnants[1].outline.clone()
    }

    pub fn l_flaws(&self) -> Vec<Vec<Point>> {
        shop().remnants[1].flaws.clone()
    }

    /// Every row of every table but the trace, in order, as text.
    pub fn dump(&self) -> Vec<String> {
        let conn = Connection::open(self.path()).expect("the file");
        [
            "states",
            "remnants",
            "sheets",
            "bookings",
            "booked_sheets",
            "booked_remnants",
            "booked_offcuts",
            "holds",
            "sheet_holds",
            "booked_holds",
            "receipts",
            "movements",
            "booked_receipts",
            "booked_numbers",
            "booked_parts",
        ]
        .iter()
        .flat_map(|table| self.rows(&conn, table))
        .collect()
    }

    /// Every row of one table.
    pub fn table(&self, table: &str) -> Vec<String> {
        self.rows(&Connection::open(self.path()).expect("the file"), table)
    }

    fn rows(&self, conn: &Connection, table: &str) -> Vec<String> {
        let mut statement = conn
            .prepare(&format!("SELECT * FROM {table} ORDER BY 1, 2"))
            .expect("a table");
        let columns = statement.column_count();
        statement
            .query_map([], |row| {
                let values: Vec<Value> = (0..columns)
                    .map(|i| row.get(i))
                    .collect::<rusqlite::Result<_>>()?;
                Ok(format!("{table}: {values:?}"))
            })
            .expect("rows")
            .map(|row| row.expect("a row"))
            .collect()
    }

    pub fn book(&mut self, nest: &NestFile, day: i8) -> Result<Booking> {
        let digest = digest(nest);
        book(
            &mut self.rack,
            nest,
            &digest,
            &shop(),
            &when(day),
            &BookOptions::default(),
        )
    }

    /// Books a nest on remnant R-0012 that leaves one offcut.
    pub fn book_remnant(&mut self, day: i8) -> Result<Booking> {
        self.book(&remnant_nest(), day)
    }
}

/// The digest of a nest as it would be written.
pub fn digest(nest: &NestFile) -> String {
    super::digest_of(&serde_json::to_vec(nest).expect("a nest is JSON"))
}

/// One sheet of a nest: `parts` and kept offcuts as rings.
pub fn sheet_record(
    number: usize,
    kind: &str,
    id: &str,
    material: &str,
    outline: Ring,
    parts: &[Ring],
    kept: &[Ring],
) -> SheetRecord {
    SheetRecord {
        number,
        material: material.to_owned(),
        machine: "saw".to_owned(),
        method: "free-form".to_owned(),
        source: SourceRecord {
            kind: kind.to_owned(),
            id: id.to_owned(),
            price: 50.0,
            lot: None,
        },
        outline,
        voids: Vec::new(),
        keep_clear: Vec::new(),
        margin: 10.0,
        gap: 3.2,
        kerf: 0.0,
        placements: parts
            .iter()
            .zip(1..)
            .map(|(ring, copy)| PlacementRecord {
                part: "side".to_owned(),
                kit: "cabinet".to_owned(),
                copy,
                kit_number: None,
                angle: 0.0,
                origin: ring[0],
                pinned: false,
                outline: ring.clone(),
                holes: Vec::new(),
            })
            .collect(),
        saw_cuts: Vec::new(),
        saw_seconds: None,
        offcuts: kept
            .iter()
            .zip('A'..)
            .map(|(ring, letter)| OffcutRecord {
                id: format!("{number}{letter}"),
                outline: ring.clone(),
                voids: Vec::new(),
                area: area(ring),
                kept: true,
            })
            .collect(),
        yield_: 0.5,
        yield_ceiling: 0.9,
        kits_complete: 0,
        on_bed: None,
        cutting: None,
    }
}

fn area(ring: &Ring) -> f64 {
    Polygon::new(points(ring), Vec::new()).area()
}

/// A nest of these sheets with the totals that belong to it. Voids of stock count as not taken.
pub fn nest(mut sheets: Vec<SheetRecord>) -> NestFile {
    // Copies are counted over the whole nest.
    let placements = sheets.iter_mut().flat_map(|s| &mut s.placements);
    for (placement, copy) in placements.zip(1..) {
        placement.copy = copy;
    }
    let mut totals = TotalsRecord {
        part_area: 0.0,
        taken_area: 0.0,
        kept_area: 0.0,
        yield_: 0.5,
        net_yield: 0.6,
        spend: 100.0,
        least_spend: 90.0,
        kits: 1,
        kits_complete: 0,
    };
    for sheet in &sheets {
        totals.taken_area += area(&sheet.outline) - sheet.voids.iter().map(area).sum::<f64>();
        totals.part_area += sheet
            .placements
            .iter()
            .map(|p| area(&p.outline) - p.holes.iter().map(area).sum::<f64>())
            .sum::<f64>();
        totals.kept_area += sheet
            .offcuts
            .iter()
            .filter(|o| o.kept)
            .map(|o| area(&o.outline) - o.voids.iter().map(area).sum::<f64>())
            .sum::<f64>();
    }
    NestFile {
        format: FORMAT.to_owned(),
        units: "mm".to_owned(),
        seed: 7,
        sheets,
        not_placed: Vec::new(),
        totals,
        choices: Vec::new(),
    }
}

/// Two white sheets, the second with two kept offcuts, one of them an L.
pub fn sheet_nest() -> NestFile {
    let whole = Bounds::new(Point::default(), Point::new(2440.0, 1220.0));
    let outline: Ring = whole.corners().iter().map(|p| [p.x, p.y]).collect();
    let l = vec![
        [1300.0, 10.0],
        [2430.0, 10.0],
        [2430.0, 1210.0],
        [2000.0, 1210.0],
        [2000.0, 600.0],
        [1300.0, 600.0],
    ];
    nest(vec![
        sheet_record(
            1,
            "sheet",
            "W-2440",
            "white 3",
            outline.clone(),
            &[
                block(10.0, 10.0, 1200.0, 1200.0),
                block(1213.2, 10.0, 1200.0, 1200.0),
            ],
            &[],
        ),
        sheet_record(
            2,
            "sheet",
            "W-2440",
            "white 3",
            outline,
            &[block(10.0, 10.0, 1200.0, 500.0)],
            &[block(10.0, 520.0, 1200.0, 690.0), l],
        ),
    ])
}

/// The L-shaped remnant, a part cut from its foot, the upper arm kept.
pub fn remnant_nest() -> NestFile {
    let mut record = sheet_record(
        1,
        "remnant",
        "R-0012",
        "brushed 3",
        L.to_vec(),
        &[block(420.0, 10.0, 470.0, 280.0)],
        &[block(10.0, 310.0, 380.0, 280.0)],
    );
    record.voids = vec![block(20.0, 20.0, 100.0, 100.0)];
    nest(vec![record])
}
