use super::super::testing::{TestRack, digest, sheet_nest, shop, when};
use super::super::{BookOptions, book, check, hold, release, undo};

fn ids(ids: &[&str]) -> Vec<String> {
    ids.iter().map(|id| (*id).to_owned()).collect()
}

fn free(test: &TestRack, orders: &[&str], day: i8) -> Option<u32> {
    test.rack.stock_for(orders, &when(day)).expect("read")["W-2440"]
}

#[test]
fn held_sheets_are_for_their_order_alone() {
    let mut test = TestRack::new();
    let all = free(&test, &[], 2).expect("counted");
    let held = hold(&mut test.rack, &ids(&["W-2440:2"]), "GC-7", 3, &when(2)).expect("held");
    assert_eq!((held.sheets[0].count, held.held.len()), (2, 0));
    assert!(held.text().contains("2 of W-2440 are held for order GC-7"));
    assert_eq!(free(&test, &[], 3), Some(all - 2));
    assert_eq!(free(&test, &["GC-7"], 3), Some(all));
    // It is over on the fifth at eight, though nobody wrote that down.
    assert_eq!(free(&test, &[], 5), Some(all));
    // A second order gets what is left, and no more.
    let rest = format!("W-2440:{}", all - 2);
    let more = format!("W-2440:{}", all - 1);
    let before = test.dump();
    let failure = hold(&mut test.rack, &ids(&[&more]), "GC-8", 3, &when(3)).expect_err("too many");
    let says = format!("the rack counts {all}, of which are held 2 for order GC-7");
    assert!(failure.what.contains(&says), "{failure}");
    assert_eq!(test.dump(), before);
    hold(&mut test.rack, &ids(&[&rest]), "GC-8", 3, &when(3)).expect("held");
    assert_eq!(free(&test, &[], 3), Some(0));
    assert_eq!(free(&test, &["GC-7", "GC-8"], 3), Some(all));
    // Nobody else may cut any.
    let before = test.dump();
    let failure = test.book(&sheet_nest(), 4).expect_err("held");
    assert!(failure.what.contains("for order GC-8 until"), "{failure}");
    assert_eq!(test.dump(), before);
}

#[test]
fn a_booking_uses_the_hold_of_its_order_up() {
    let mut test = TestRack::new();
    let all = free(&test, &[], 2).expect("counted");
    let every = format!("W-2440:{all}");
    hold(&mut test.rack, &ids(&[&every]), "GC-7", 9, &when(2)).expect("held");
    let nest = sheet_nest();
    let takes = nest
        .sheets
        .iter()
        .filter(|s| s.source.id == "W-2440")
        .count() as u32;
    assert!(takes > 0 && takes < all);
    let options = BookOptions {
        name: Some(" GC-7 ".to_owned()),
        ..BookOptions::default()
    };
    let booking = book(
        &mut test.rack,
        &nest,
        &digest(&nest),
        &shop(),
        &when(4),
        &options,
    )
    .expect("booked");
    let holds = test.rack.sheet_holds(&when(4)).expect("read");
    assert_eq!(holds[0].count, all - takes);
    assert_eq!(free(&test, &[], 4), Some(0));
    // What comes back is held as it was.
    let undone = undo(&mut test.rack, &booking.id, None, &when(5)).expect("undone");
    assert_eq!(undone.held_sheets[0].count, all);
    assert_eq!(free(&test, &[], 5), Some(0));
    // A hold of the same number is gone altogether once it is cut.
    let exact = format!("W-2440:{takes}");
    hold(&mut test.rack, &ids(&[&exact]), "GC-7", 9, &when(5)).expect("held");
    book(
        &mut test.rack,
        &nest,
        &digest(&nest),
        &shop(),
        &when(6),
        &options,
    )
    .expect("booked");
    assert_eq!(test.table("sheet_holds"), [""; 0]);
    assert!(check(&test.rack).expect("checked").is_sound());
}

#[test]
fn holds_of_sheets_run_out_and_are_released() {
    let mut test = TestRack::new();
    hold(
        &mut test.rack,
        &ids(&["W-2440", "R-0012"]),
        "GC-7",
        1,
        &when(2),
    )
    .expect("held");
    hold(&mut test.rack, &ids(&["W-2440"]), "GC-8", 9, &when(2)).expect("held");
    let failure = release(&mut test.rack, &ids(&["W-2440"]), None, "x", &when(2)).expect_err("two");
    assert!(failure.what.contains("GC-7, GC-8"), "{failure}");
    // The first one runs out; the change after that says so.
    let gone = release(
        &mut test.rack,
        &ids(&["W-2440"]),
        Some("GC-7"),
        "x",
        &when(4),
    );
    assert!(gone.expect_err("ran out").what.contains("nobody holds it"));
    let freed = release(&mut test.rack, &[], Some("GC-8"), "cancelled", &when(4)).expect("freed");
    assert_eq!(freed.released, ["W-2440"]);
    let events = test.table("events");
    let says = |words: &str| events.iter().any(|e| e.contains(words));
    assert!(
        says("ran out on 2026-11-03 (1 were held for order GC-7)"),
        "{events:?}"
    );
    assert!(says("cancelled (1 were held for order GC-8)"), "{events:?}");
    let none = release(&mut test.rack, &[], Some("GC-8"), "x", &when(4)).expect_err("none");
    assert!(none.what.contains("nothing is held for it"), "{none}");
}

#[test]
fn what_cannot_be_held() {
    let mut test = TestRack::new();
    let before = test.dump();
    for (id, says) in [
        ("W-2440:0", "'0' is no number of sheets"),
        ("W-2440:many", "'many' is no number of sheets"),
        ("W-2440:4000000000", "4000000000 cannot be held"),
        ("W-2441:2", "W-2441:2"),
        ("W-2440-loose", "it is not counted"),
    ] {
        let failure = hold(&mut test.rack, &ids(&["R-0012", id]), "GC", 3, &when(2)).expect_err(id);
        assert!(failure.to_string().contains(says), "{id}: {failure}");
        assert_eq!(test.dump(), before, "{id}");
    }
}

#[test]
fn sheets_named_more_than_once_are_added_up_and_asked_again_the_number_is_what_is_asked() {
    let mut test = TestRack::new();
    let mut ask = |which: &[&str]| hold(&mut test.rack, &ids(which), "GC-7", 3, &when(2));
    let held = ask(&["W-2440", "B-2440", "W-2440:2"]).expect("held");
    let counts: Vec<_> = held.sheets.iter().map(|h| (&*h.sheet, h.count)).collect();
    assert_eq!(counts, [("W-2440", 3), ("B-2440", 1)]);
    assert!(held.before.is_empty(), "{held:?}");
    let text = held.text();
    assert!(text.contains("3 of W-2440 are held for order GC-7 until 2026-11-05\n"));
    // Again, with another number: that is it now, and the answer says what it was.
    let held = ask(&["W-2440"]).expect("held");
    assert_eq!((held.sheets[0].count, held.before["W-2440"]), (1, 3));
    let text = held.text();
    assert!(
        text.contains("1 of W-2440 are held for order GC-7 until 2026-11-05 (it was 3 before)"),
        "{text}"
    );
    // The same again is no change to tell.
    assert!(ask(&["W-2440"]).expect("held").before.is_empty());
    // Together they are too many, though each alone is not.
    let failure = ask(&["W-2440:2", "W-2440:2"]).expect_err("four of three");
    assert!(failure.what.contains("4 cannot be held"), "{failure}");
    let failure = ask(&["W-2440:4000000000", "W-2440:4000000000"]).expect_err("no sum");
    assert!(failure.what.contains("cannot be held"), "{failure}");
    let holds = test.rack.sheet_holds(&when(2)).expect("read");
    let counts: Vec<_> = holds.iter().map(|h| (&*h.sheet, h.count)).collect();
    assert_eq!(counts, [("B-2440", 1), ("W-2440", 1)]);
    let events = test.table("events");
    let says = "1 for order GC-7, until 2026-11-05, 3 before";
    assert!(events.iter().any(|e| e.contains(says)), "{events:?}");
}
