//! Booking: what goes in comes out, once, whoever else is at it.

use super::super::testing::{
    TestRack, block, digest, nest, remnant_nest, sheet_nest, sheet_record, shop, when,
};
use super::super::{NewReceipt, receive, retire, undo};
use super::*;
use crate::remnant::Remnant;
use panelwright_geometry::Point;

fn find<'a>(remnants: &'a [Remnant], id: &str) -> &'a Remnant {
    remnants
        .iter()
        .find(|r| r.id == id)
        .expect("it is on the rack")
}

#[test]
fn sheets_leave_and_offcuts_enter() {
    let mut test = TestRack::new();
    let booking = test.book(&sheet_nest(), 5).expect("booked");
    assert_eq!(booking.id, "B-0001");
    let taken = SheetsTaken {
        sheet: "W-2440".to_owned(),
        count: 2,
        left: Some(1),
    };
    assert_eq!(booking.sheets, [taken]);
    assert_eq!(test.rack.stock_counts().expect("read")["W-2440"], Some(1));
    let ids: Vec<_> = booking.offcuts.iter().map(|o| o.remnant.as_str()).collect();
    assert_eq!(ids, ["R-0013", "R-0014"]);
    let remnants = test.rack.remnants().expect("read");
    let l = find(&remnants, "R-0014");
    let short = &digest(&sheet_nest())[..8];
    assert_eq!(
        l.origin.as_deref(),
        Some(format!("offcut 2B of nest {short}.., sheet W-2440").as_str())
    );
    assert_eq!(l.outline.bounds().min, Point::new(0.0, 0.0));
    assert_eq!(l.outline.bounds().max, Point::new(1130.0, 1200.0));
    // By hand: 1130 x 590 + 430 x 610; the cheapest white sheet costs 40 per square metre
    // (119.072 / 2.9768 m2), half of it is the keep rule's share.
    assert!((l.outline.area() - 929_000.0).abs() < 1e-6);
    assert!((l.value.expect("valued") - 0.929 * 20.0).abs() < 1e-9);
    assert_eq!(l.lot.as_deref(), Some("P-31"));
    assert_eq!((l.grain_deg, l.good_faces), (None, 1));
    assert_eq!(l.place.as_deref(), Some("not yet placed"));
    assert_eq!(l.logged.as_deref(), Some("2026-11-05"));
    let text = booking.text();
    assert!(text.contains("took 2 x sheet W-2440, 1 left"), "{text}");
    assert!(
        text.contains("offcut 2B is remnant R-0014: white 3, 1130 x 1200 mm"),
        "{text}"
    );
}

#[test]
fn what_goes_in_comes_out() {
    let mut test = TestRack::new();
    for nest in [sheet_nest(), remnant_nest()] {
        let booking = test.book(&nest, 5).expect("booked");
        let areas = booking.areas;
        assert!((areas.taken - areas.parts - areas.kept - areas.rest).abs() < 1e-6);
        assert!(areas.rest > 0.0);
        let remnants = test.rack.remnants().expect("read");
        let entered: f64 = booking
            .offcuts
            .iter()
            .map(|o| find(&remnants, &o.remnant).outline.area())
            .sum();
        assert!((entered - areas.kept).abs() < 1e-6);
    }
    // By hand: two sheets of 2440 x 1220; the L less its void.
    let taken: Vec<f64> = test
        .rack
        .db()
        .rows("SELECT taken FROM bookings ORDER BY number", [], |row| {
            row.get(0)
        })
        .expect("read");
    assert_eq!(taken, [5_953_600.0, 380_000.0]);
}

#[test]
fn an_offcut_of_a_remnant_inherits_its_papers_and_flaws() {
    let mut test = TestRack::new();
    let options = BookOptions {
        place: Some("bay 9".to_owned()),
        name: Some("order 17".to_owned()),
        ..BookOptions::default()
    };
    let nest = remnant_nest();
    let booking = book(
        &mut test.rack,
        &nest,
        &digest(&nest),
        &shop(),
        &when(5),
        &options,
    )
    .expect("booked");
    assert_eq!(booking.remnants, ["R-0012"]);
    let remnants = test.rack.remnants().expect("read");
    assert!(remnants.iter().all(|r| r.id != "R-0012"));
    let offcut = find(&remnants, "R-0013");
    assert_eq!(offcut.lot.as_deref(), Some("P-28"));
    assert_eq!((offcut.grain_deg, offcut.good_faces), (Some(90.0), 2));
    assert_eq!(offcut.place.as_deref(), Some("bay 9"));
    assert!(
        offcut
            .origin
            .as_deref()
            .is_some_and(|o| o.ends_with("remnant R-0012"))
    );
    // The flaw at 150..350, 350..450 moves with the piece that began at 10, 310.
    assert_eq!(offcut.flaws.len(), 1);
    let flaw = Polygon::new(offcut.flaws[0].clone(), Vec::new()).bounds();
    for (is, should) in [
        (flaw.min.x, 140.0),
        (flaw.min.y, 40.0),
        (flaw.max.x, 340.0),
        (flaw.max.y, 140.0),
    ] {
        assert!((is - should).abs() < 1e-4, "{flaw:?}");
    }
}

#[test]
fn a_nest_is_booked_once() {
    let mut test = TestRack::new();
    let one = nest(vec![sheet_nest().sheets[0].clone()]);
    test.book(&one, 5).expect("booked");
    let before = test.dump();
    let failure = test.book(&one, 6).expect_err("twice");
    assert_eq!(
        failure.to_string(),
        "nest: it is already booked on 2026-11-05 as booking B-0001; \
         use --again if it really was cut twice"
    );
    assert_eq!(test.dump(), before);
    let options = BookOptions {
        again: true,
        ..BookOptions::default()
    };
    let again = book(
        &mut test.rack,
        &one,
        &digest(&one),
        &shop(),
        &when(6),
        &options,
    )
    .expect("cut twice");
    assert_eq!(again.sheets[0].left, Some(1));
    // Once both are undone it is a new nest again.
    for id in ["B-0001", "b-2"] {
        undo(&mut test.rack, id, None, &when(7)).expect("undone");
    }
    assert_eq!(test.book(&one, 8).expect("anew").id, "B-0003");
    let bad = book(&mut test.rack, &one, "xyz", &shop(), &when(8), &options);
    assert!(bad.expect_err("no digest").what.contains("SHA-256"));
}

#[test]
fn a_nest_written_otherwise_is_the_same_nest() {
    let mut test = TestRack::new();
    let whole = sheet_nest();
    test.rack
        .set_stock("W-2440", Some(9), "delivery", &when(2))
        .expect("set");
    let booked = |test: &mut TestRack, bytes: &[u8], sheets: &[usize]| {
        let nest: NestFile = serde_json::from_slice(bytes).expect("a nest");
        let options = BookOptions {
            sheets: sheets.to_vec(),
            ..BookOptions::default()
        };
        let digest = super::super::digest_of(bytes);
        book(&mut test.rack, &nest, &digest, &shop(), &when(5), &options)
    };
    let text = serde_json::to_string_pretty(&whole).expect("JSON");
    booked(&mut test, text.as_bytes(), &[2]).expect("booked");
    let mut pinned = whole.clone();
    pinned.sheets[1].placements[0].pinned = true;
    let files = [
        text.replace('\n', "\r\n"),
        serde_json::to_string(&whole).expect("JSON"),
        serde_json::to_string(&pinned).expect("JSON"),
    ];
    for file in &files {
        let before = test.dump();
        for sheets in [&[][..], &[2]] {
            let failure = booked(&mut test, file.as_bytes(), sheets).expect_err("twice");
            assert!(
                failure.what.contains("sheet 2 of it is already booked"),
                "{failure}"
            );
        }
        assert_eq!(test.dump(), before);
    }
    // The rest of it may be booked from another of these files, and once undone all of it.
    booked(&mut test, files[0].as_bytes(), &[1]).expect("the other sheet");
    assert!(booked(&mut test, files[1].as_bytes(), &[1]).is_err());
    let nest: NestFile = serde_json::from_str(&files[2]).expect("a nest");
    let known = |test: &TestRack| {
        let digest = super::super::digest_of(files[2].as_bytes());
        booked_of(&test.rack, &nest, &digest).expect("read")
    };
    let sheets = |number| BTreeSet::from([number]);
    let both = [
        ("B-0001".to_owned(), sheets(2)),
        ("B-0002".to_owned(), sheets(1)),
    ];
    assert_eq!(known(&test), BTreeMap::from(both));
    for id in ["B-0001", "B-0002"] {
        undo(&mut test.rack, id, None, &when(6)).expect("undone");
    }
    assert_eq!(known(&test), BTreeMap::new());
    booked(&mut test, files[2].as_bytes(), &[]).expect("anew");
}

#[test]
fn a_remnant_used_meanwhile_is_named_with_the_booking() {
    let mut test = TestRack::new();
    test.book_remnant(5).expect("booked");
    let mut other = remnant_nest();
    other.seed = 8;
    let before = test.dump();
    let failure = test.book(&other, 6).expect_err("used");
    assert_eq!(
        failure.to_string(),
        "remnant R-0012: it was used on 2026-11-05 by booking B-0001, so it cannot be booked; \
         nest the order again with the rack as it is now"
    );
    assert_eq!(test.dump(), before);
    // The very nest says that it is booked, not that its remnant is gone.
    assert!(
        test.book_remnant(6)
            .expect_err("twice")
            .what
            .contains("already booked")
    );
    undo(&mut test.rack, "B-0001", None, &when(7)).expect("undone");
    retire(&mut test.rack, "R-0012", State::Retired, "broken", &when(7)).expect("retired");
    let failure = test.book(&other, 8).expect_err("retired");
    assert!(
        failure.what.contains("retired since 2026-11-07: broken"),
        "{failure}"
    );
}

#[test]
fn two_programs_never_use_one_remnant() {
    let mut test = TestRack::new();
    let mut other = Rack::open(&test.path()).expect("open");
    let (one, mut two) = (remnant_nest(), remnant_nest());
    two.seed = 8;
    let start = std::sync::Barrier::new(2);
    let run = |rack: &mut Rack, nest: &NestFile| {
        start.wait();
        book(
            rack,
            nest,
            &digest(nest),
            &shop(),
            &when(5),
            &BookOptions::default(),
        )
    };
    let outcomes = std::thread::scope(|scope| {
        let first = scope.spawn(|| run(&mut test.rack, &one));
        let second = scope.spawn(|| run(&mut other, &two));
        [first.join().expect("ran"), second.join().expect("ran")]
    });
    assert_eq!(
        outcomes.iter().filter(|o| o.is_ok()).count(),
        1,
        "{outcomes:?}"
    );
    let failure = outcomes
        .into_iter()
        .find_map(Result::err)
        .expect("one lost");
    assert!(failure.what.contains("by booking B-0001"), "{failure}");
}

#[test]
fn two_programs_count_every_sheet() {
    let mut test = TestRack::new();
    test.rack
        .set_stock("W-2440", Some(40), "delivery", &when(2))
        .expect("set");
    let path = test.path();
    std::thread::scope(|scope| {
        for worker in 0..2_u64 {
            let path = &path;
            scope.spawn(move || {
                let mut rack = Rack::open(path).expect("open");
                for i in 0..15 {
                    let mut one = nest(vec![sheet_nest().sheets[1].clone()]);
                    one.seed = 100 * worker + i;
                    let options = BookOptions::default();
                    book(&mut rack, &one, &digest(&one), &shop(), &when(5), &options)
                        .expect("booked");
                }
            });
        }
    });
    assert_eq!(test.rack.stock_counts().expect("read")["W-2440"], Some(10));
    // Two from the shop's list, two offcuts for each of thirty bookings, all numbered apart.
    assert_eq!(test.rack.remnants().expect("read").len(), 62);
}

#[test]
fn too_few_sheets() {
    let mut test = TestRack::new();
    test.rack
        .set_stock("W-2440", Some(1), "one fell", &when(2))
        .expect("set");
    let before = test.dump();
    let failure = test.book(&sheet_nest(), 5).expect_err("too few");
    assert_eq!(failure.what, "the nest takes 2, the rack counts 1");
    assert_eq!(test.dump(), before);
    // Sheets that are not counted never run out, and stay uncounted.
    let mut loose = sheet_nest();
    for sheet in &mut loose.sheets {
        sheet.source.id = "W-2440-loose".to_owned();
    }
    let booking = test.book(&loose, 5).expect("booked");
    assert_eq!(booking.sheets[0].left, None);
    undo(&mut test.rack, "1", None, &when(6)).expect("undone");
    assert_eq!(
        test.rack.stock_counts().expect("read")["W-2440-loose"],
        None
    );
}

#[test]
fn a_nest_that_does_not_add_up_is_refused() {
    let mut test = TestRack::new();
    let before = test.dump();
    type Spoil = fn(&mut NestFile);
    let cases: Vec<(&str, Spoil)> = vec![
        ("format", |n| n.format = "other".to_owned()),
        ("units", |n| n.units = "inch".to_owned()),
        ("no sheets", |n| n.sheets.clear()),
        ("two sheets of this number", |n| n.sheets[1].number = 1),
        ("two offcuts 2A", |n| {
            n.sheets[1].offcuts[1].id = "2A".to_owned()
        }),
        ("did you mean \"white 3\"", |n| {
            n.sheets[0].material = "white 33".to_owned()
        }),
        ("is \"white 3\", the nest wants", |n| {
            n.sheets[0].material = "brushed 3".to_owned()
        }),
        ("did you mean W-2440?", |n| {
            n.sheets[0].source.id = "W-2441".to_owned()
        }),
        ("neither sheet nor remnant", |n| {
            n.sheets[0].source.kind = "roll".to_owned()
        }),
        ("does not know it", |n| {
            n.sheets[0].source.kind = "remnant".to_owned();
            n.sheets[0].source.id = "R-9000".to_owned();
        }),
        ("another outline", |n| {
            n.sheets[0].source.kind = "remnant".to_owned();
            n.sheets[0].source.id = "R-0007".to_owned();
        }),
        ("2440 x 1220 mm, the nest wants", |n| {
            n.sheets[0].outline = block(0., 0., 2440., 1221.)
        }),
        ("lies over the part", |n| {
            n.sheets[1].offcuts[0].outline = block(10., 509., 1200., 690.);
        }),
        ("lies over the offcut 2A", |n| {
            n.sheets[1].offcuts[0].outline = block(110., 520., 1200., 690.);
            // The two have 10 mm in common above the foot of the L.
            n.sheets[1].offcuts[1].outline = block(1300., 520., 800., 690.);
            n.sheets[1].offcuts[1].area = 800. * 690.;
        }),
        ("reaches out of the sheet", |n| {
            n.sheets[1].offcuts[0].outline = block(-10., 520., 1200., 690.);
        }),
        ("the part reaches out", |n| {
            n.sheets[1].placements[0].outline = block(10., -5., 1200., 500.);
        }),
        ("an area of 1 mm2 is stated", |n| {
            n.sheets[1].offcuts[0].area = 1.0
        }),
        ("is no number", |n| n.sheets[1].offcuts[0].area = f64::NAN),
        ("is no number", |n| {
            n.sheets[1].offcuts[0].outline[2][0] = f64::INFINITY
        }),
        ("kerf: inf is no number", |n| {
            n.sheets[0].kerf = f64::INFINITY
        }),
        ("spend: NaN is no number", |n| n.totals.spend = f64::NAN),
        ("crosses", |n| {
            n.sheets[1].offcuts[0].outline[2] = [100., 300.]
        }),
        ("part_area", |n| n.totals.part_area *= 1.1),
        ("kept_area", |n| n.totals.kept_area *= 1.1),
        ("taken_area", |n| n.totals.taken_area *= 1.1),
        ("this copy is there a second time", |n| {
            let part = n.sheets[0].placements[0].clone();
            n.sheets[1].placements.push(part);
        }),
        ("copies are counted from 1", |n| {
            n.sheets[0].placements[0].copy = 0
        }),
        ("it lies over side of cabinet, copy 1", |n| {
            let mut part = n.sheets[0].placements[0].clone();
            part.copy = 99;
            n.sheets[0].placements.push(part);
            n.totals.part_area += 1_440_000.0;
        }),
        ("the saw cuts do not free it", |n| {
            n.sheets[0].method = "guillotine".to_owned()
        }),
        ("neither guillotine nor free-form", |n| {
            n.sheets[0].method = "by hand".to_owned()
        }),
        ("-1 is no price", |n| n.sheets[0].source.price = -1.0),
    ];
    for (expected, spoil) in cases {
        let mut nest = sheet_nest();
        spoil(&mut nest);
        let failure = test.book(&nest, 5).expect_err(expected).to_string();
        assert!(failure.contains(expected), "{expected}: {failure}");
        assert_eq!(test.dump(), before, "{expected}");
    }
    let mut twice = remnant_nest();
    let mut second = twice.sheets[0].clone();
    second.number = 2;
    second.offcuts.clear();
    second.source.id = "r-0012".to_owned();
    twice.sheets.push(second);
    assert!(
        test.book(&twice, 5)
            .expect_err("twice")
            .what
            .contains("a second time")
    );
    let mut over_void = remnant_nest();
    over_void.sheets[0].offcuts[0].outline = block(10.0, 100.0, 380.0, 280.0);
    assert!(
        test.book(&over_void, 5)
            .expect_err("void")
            .what
            .contains("over a void")
    );
    // A part as large as the remnant, over its void.
    let mut over_all = remnant_nest().sheets.swap_remove(0);
    over_all.offcuts.clear();
    over_all.placements.truncate(1);
    over_all.placements[0].outline = over_all.outline.clone();
    let failure = test.book(&nest(vec![over_all]), 5).expect_err("too much");
    assert!(failure.what.contains("are more than"), "{failure}");
    test.book(&sheet_nest(), 5).expect("unspoilt");
}

#[test]
fn an_offcut_may_lie_in_a_window_and_keep_its_voids() {
    let mut test = TestRack::new();
    let whole = block(0.0, 0.0, 2440.0, 1220.0);
    let mut record = sheet_record(
        1,
        "sheet",
        "B-2440",
        "brushed 3",
        whole,
        &[
            block(10.0, 10.0, 1200.0, 1200.0),
            block(1500.0, 300.0, 400.0, 400.0),
        ],
        &[
            block(110.0, 110.0, 1000.0, 1000.0),
            block(1220.0, 10.0, 1210.0, 1200.0),
        ],
    );
    record.placements[0].holes = vec![block(100.0, 100.0, 1020.0, 1020.0)];
    record.offcuts[1].voids = vec![block(1490.0, 290.0, 420.0, 420.0)];
    record.offcuts[1].area -= 420.0 * 420.0;
    let booking = test.book(&nest(vec![record]), 5).expect("booked");
    let remnants = test.rack.remnants().expect("read");
    let holed = find(&remnants, &booking.offcuts[1].remnant);
    assert_eq!(holed.outline.holes.len(), 1);
    assert_eq!(holed.outline.area(), 1210.0 * 1200.0 - 420.0 * 420.0);
    // The grain of a sheet runs along it; this material has two good faces.
    assert_eq!((holed.grain_deg, holed.good_faces), (Some(0.0), 2));
}

#[test]
fn a_sheet_of_another_lot_than_its_papers_name_is_told() {
    let mut test = TestRack::new();
    let mut shop = shop();
    for sheet in &mut shop.sheets {
        sheet.lot = None;
    }
    test.rack.learn(&shop, &when(1)).expect("learnt");
    for (lot, count) in [("NEW", 1), ("NEWER", 1)] {
        let new = NewReceipt {
            sheet: "W-2440".to_owned(),
            count,
            lot: Some(lot.to_owned()),
            price: None,
            note: None,
        };
        receive(&mut test.rack, &new, &when(1)).expect("received");
    }
    let mut nest = sheet_nest();
    let mut asking = |test: &mut TestRack, lots: [&str; 2]| {
        for (sheet, lot) in nest.sheets.iter_mut().zip(lots) {
            sheet.source.lot = Some(lot.to_owned());
        }
        test.book(&nest, 5).expect("booked")
    };
    let booking = asking(&mut test, ["NEW", "NEWER"]);
    assert_eq!(booking.other_lots, []);
    undo(&mut test.rack, &booking.id, None, &when(5)).expect("undone");
    // One of them there is, and those without a purchase go before the next one.
    let booking = asking(&mut test, ["NEW", "NEW"]);
    let other = OtherLot {
        number: 2,
        sheet: "W-2440".to_owned(),
        asked: "NEW".to_owned(),
        taken: None,
    };
    assert_eq!(booking.other_lots, [other]);
    let says =
        "sheet 2 was to be of lot NEW, and is of no lot that has a name: of NEW none is left";
    assert!(booking.text().contains(says), "{}", booking.text());
    let events = test.table("events");
    let says_so = |e: &String| e.contains("other-lot") && e.contains(says) && e.contains("W-2440");
    assert!(events.iter().any(says_so), "{events:?}");
    undo(&mut test.rack, &booking.id, None, &when(5)).expect("undone");
    let set = test.rack.set_stock("W-2440", Some(2), "counted", &when(5));
    set.expect("set");
    let booking = asking(&mut test, ["NEWER", "OLD"]);
    let says = "sheet 2 was to be of lot OLD, and is of lot NEW: of OLD none is left";
    assert!(booking.text().contains(says), "{}", booking.text());
    let offcut = &booking.offcuts[0].remnant;
    let remnants = test.rack.remnants().expect("read");
    assert_eq!(find(&remnants, offcut).lot.as_deref(), Some("NEW"));
}
