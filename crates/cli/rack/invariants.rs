//! Whatever is booked and undone in whatever order, nothing is lost and nothing used twice.

use super::remnant_row::{self, State};
use super::testing::{TestRack, block, digest, nest, sheet_record, shop, when};
use super::{BookOptions, Rack, book, retire, undo};
use crate::Result;
use crate::nest_file::{NestFile, OffcutRecord, Ring};
use panelwright_geometry::{Point, Polygon};
use proptest::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// One thing that a shop may do, with numbers that pick among what there is.
#[derive(Debug, Clone)]
enum Step {
    /// Cut so many sheets, leaving this share of each as one offcut.
    Sheets { count: usize, share: f64 },
    /// Cut a remnant, leaving this share of its length.
    Remnant { pick: usize, share: f64 },
    /// Take a booking back.
    Undo { pick: usize },
    /// Retire a remnant.
    Retire { pick: usize },
    /// Book the last nest once more.
    Twice,
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        4 => (1..3_usize, 0.0..0.8).prop_map(|(count, share)| Step::Sheets { count, share }),
        4 => (0..99_usize, 0.0..0.8).prop_map(|(pick, share)| Step::Remnant { pick, share }),
        3 => (0..99_usize).prop_map(|pick| Step::Undo { pick }),
        1 => (0..99_usize).prop_map(|pick| Step::Retire { pick }),
        1 => Just(Step::Twice),
    ]
}

/// A corner on the sheet more often than not, on a coarse grid so that corners meet.
fn corner() -> impl Strategy<Value = [f64; 2]> {
    let coordinate = prop_oneof![
        90 => (0..9_i32).prop_map(|step| f64::from(step) * 100.0),
        30 => 0.0..900.0,
        1 => prop::sample::select(vec![-5.0, 1e-7, 99_999.0, 1e9, 1e300, f64::NAN, f64::INFINITY]),
    ];
    [coordinate.clone().boxed(), coordinate.boxed()]
}

/// A part on the left and an offcut on the right of a rectangle.
fn halves(length: f64, width: f64, share: f64) -> (Vec<Ring>, Vec<Ring>) {
    let cut = length * (1.0 - share);
    let part = vec![block(0.0, 0.0, cut - 3.2, width)];
    let kept = (share > 0.05).then(|| block(cut, 0.0, length - cut, width));
    (part, kept.into_iter().collect())
}

fn sheets(count: usize, share: f64, seed: u64) -> NestFile {
    let (parts, kept) = halves(2440.0, 1220.0, share);
    let whole = block(0.0, 0.0, 2440.0, 1220.0);
    let mut nest = nest(
        (1..=count)
            .map(|n| {
                sheet_record(
                    n,
                    "sheet",
                    "W-2440",
                    "white 3",
                    whole.clone(),
                    &parts,
                    &kept,
                )
            })
            .collect(),
    );
    nest.seed = seed;
    nest
}

/// Books, and writes down what was used up and which numbers were given.
fn attempt(
    rack: &mut Rack,
    nest: &NestFile,
    used: &mut BTreeMap<String, f64>,
    given: &mut BTreeSet<String>,
) -> Result<()> {
    let booking = book(
        rack,
        nest,
        &digest(nest),
        &shop(),
        &when(2),
        &BookOptions::default(),
    )?;
    used.insert(booking.id, booking.areas.parts + booking.areas.rest);
    for offcut in booking.offcuts {
        assert!(
            given.insert(offcut.remnant.clone()),
            "{} twice",
            offcut.remnant
        );
    }
    Ok(())
}

/// Sheets and remnants there are, in square millimetres.
fn area(rack: &Rack) -> Result<f64> {
    let counted = rack.stock_counts()?["W-2440"].map_or(0.0, f64::from) * 2440.0 * 1220.0;
    let remnants: f64 = rack.remnants()?.iter().map(|r| r.outline.area()).sum();
    Ok(counted + remnants)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]
    #[test]
    fn nothing_is_lost_and_nothing_used_twice(steps in prop::collection::vec(step(), 1..14)) {
        let mut test = TestRack::new();
        test.rack.set_stock("W-2440", Some(9), "delivery", &when(1)).expect("set");
        let mut gone = 0.0;
        let start = area(&test.rack).expect("read");
        // What a booking turned into parts and scrap, while it stands.
        let mut used: BTreeMap<String, f64> = BTreeMap::new();
        let mut given: BTreeSet<String> = BTreeSet::new();
        let mut last: Option<NestFile> = None;
        for (i, step) in steps.iter().enumerate() {
            let before = test.dump();
            let there = test.rack.remnants().expect("read");
            let plain: Vec<_> = there
                .iter()
                .filter(|r| r.outline.outer.len() == 4 && r.outline.bounds().width() > 50.0)
                .collect();
            let done = match step {
                Step::Sheets { count, share } => {
                    let nest = sheets(*count, *share, i as u64);
                    let stock = test.rack.stock_counts().expect("read")["W-2440"];
                    let booked = attempt(&mut test.rack, &nest, &mut used, &mut given);
                    prop_assert_eq!(booked.is_ok(), stock >= Some(*count as u32), "{:?}", booked);
                    last = Some(nest);
                    booked.is_ok()
                }
                Step::Remnant { pick, share } if !plain.is_empty() => {
                    let remnant = plain[pick % plain.len()];
                    let size = remnant.outline.bounds();
                    let (parts, kept) = halves(size.width(), size.height(), *share);
                    let whole = block(0.0, 0.0, size.width(), size.height());
                    let (id, material) = (&remnant.id, &remnant.material);
                    let mut nest =
                        nest(vec![sheet_record(1, "remnant", id, material, whole, &parts, &kept)]);
                    nest.seed = i as u64;
                    let booked = attempt(&mut test.rack, &nest, &mut used, &mut given);
                    prop_assert!(booked.is_ok(), "{:?}", booked);
                    last = Some(nest);
                    true
                }
                Step::Undo { pick } if !used.is_empty() => {
                    let id = used.keys().nth(pick % used.len()).expect("one").clone();
                    let undone = undo(&mut test.rack, &id, None, &when(3));
                    if undone.is_ok() {
                        used.remove(&id);
                    }
                    undone.is_ok()
                }
                Step::Retire { pick } if !there.is_empty() => {
                    let remnant = &there[pick % there.len()];
                    retire(&mut test.rack, &remnant.id, State::Lost, "broken", &when(3)).expect("retired");
                    gone += remnant.outline.area();
                    true
                }
                Step::Twice => {
                    if let Some(nest) = &last {
                        let booked = attempt(&mut test.rack, nest, &mut used, &mut given);
                        // Only a nest that does not stand may be booked, and only once.
                        if booked.is_ok() {
                            prop_assert!(attempt(&mut test.rack, nest, &mut used, &mut given).is_err());
                        }
                        booked.is_ok()
                    } else {
                        false
                    }
                }
                _ => false,
            };
            if !done {
                prop_assert_eq!(test.dump(), before);
            }
            let now = area(&test.rack).expect("read") + used.values().sum::<f64>() + gone;
            prop_assert!((now - start).abs() < 1e-3, "{} became {}", start, now);
        }
        // Each standing booking holds its remnants alone.
        let holders = test.rack.db().rows(
            "SELECT remnant, count(*) FROM booked_remnants JOIN bookings ON number = booking \
             WHERE undone IS NULL GROUP BY remnant",
            [],
            |row| Ok((row.get::<_, String>(0)?, row.get::<_, u32>(1)?)),
        ).expect("read");
        for (remnant, count) in holders {
            prop_assert_eq!(count, 1);
            let logged = remnant_row::find(test.rack.db(), &remnant).expect("read").expect("kept");
            prop_assert_eq!(logged.state, State::Cut);
        }
        Rack::open(&test.path()).expect("a sound rack");
    }

    #[test]
    fn no_nest_upsets_the_rack(
        part in prop::collection::vec(corner(), 0..9),
        hole in prop_oneof![3 => Just(Vec::new()), 1 => prop::collection::vec(corner(), 0..6)],
        offcut in prop::collection::vec(corner(), 0..9),
        void in prop_oneof![3 => Just(Vec::new()), 1 => prop::collection::vec(corner(), 0..6)],
        on_remnant in any::<bool>(),
        apart in any::<bool>(),
    ) {
        let mut test = TestRack::new();
        let (kind, id, whole) = if on_remnant {
            ("remnant", "R-0007", block(0.0, 0.0, 1000.0, 800.0))
        } else {
            ("sheet", "W-2440", block(0.0, 0.0, 2440.0, 1220.0))
        };
        let mut record =
            sheet_record(1, kind, id, "white 3", whole, &[block(5.0, 5.0, 50.0, 50.0)], &[]);
        // Half the time the part is well clear of the offcut, and that runs once round its middle,
        // so that many of them are let in.
        let (mut offcut, mut void) = (offcut, void);
        if apart {
            let angle = |p: &[f64; 2]| (p[1] - 410.0).atan2(p[0] - 410.0);
            offcut.sort_by(|a, b| angle(a).total_cmp(&angle(b)));
            void.truncate(3);
        }
        if !apart {
            record.placements[0].outline = part;
            record.placements[0].holes.extend((!hole.is_empty()).then_some(hole));
        } else if !on_remnant {
            record.placements[0].outline = block(1500.0, 100.0, 300.0, 900.0);
        } else {
            record.placements.clear();
        }
        let area = |ring: &Ring| {
            let points = ring.iter().map(|p| Point::new(p[0], p[1])).collect();
            Polygon::new(points, Vec::new()).area()
        };
        let voids: Vec<Ring> = (!void.is_empty()).then_some(void).into_iter().collect();
        record.offcuts.push(OffcutRecord {
            id: "1A".to_owned(),
            area: area(&offcut) - voids.iter().map(area).sum::<f64>(),
            outline: offcut,
            voids,
            kept: true,
        });
        let nest = nest(vec![record]);
        let before = test.dump();
        match book(&mut test.rack, &nest, &digest(&nest), &shop(), &when(2), &BookOptions::default()) {
            Ok(booking) => {
                // Whatever was let in is a shape that lies on the sheet, and can be taken back.
                let there = test.rack.remnants().expect("read");
                let entered = there.iter().find(|r| r.id == booking.offcuts[0].remnant);
                let bounds = entered.expect("entered").outline.bounds();
                prop_assert!(bounds.width() < 2440.1 && bounds.height() < 1220.1);
                undo(&mut test.rack, &booking.id, None, &when(3)).expect("undone");
            }
            Err(failure) => {
                prop_assert!(!failure.what.is_empty());
                prop_assert_eq!(test.dump(), before);
            }
        }
    }
}
