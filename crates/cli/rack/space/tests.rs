use super::super::testing::{TestRack, shop, when};
use super::super::{NewRemnant, NewShape, add, hold};
use super::*;
use crate::input::{CutOften, Unit};
use panelwright_geometry::Polygon;

fn room(pieces: Option<u32>, area_m2: Option<f64>) -> Room {
    Room {
        pieces,
        area_m2,
        ..Room::default()
    }
}

/// A rack of nothing but white rectangles, each with the bay it stands in.
fn filled(sizes: &[(f64, f64, &str)]) -> (TestRack, Vec<String>) {
    let mut test = TestRack::new();
    for id in ["R-0007", "R-0012"] {
        let state = super::super::State::ThrownOut;
        super::super::retire(&mut test.rack, id, state, "to begin with", &when(1)).expect("gone");
    }
    let mut ids = Vec::new();
    for (length, width, place) in sizes {
        let new = NewRemnant {
            id: None,
            material: "white 3".to_owned(),
            shape: NewShape::Rectangle {
                length: *length,
                width: *width,
                voids: Vec::new(),
                flaws: Vec::new(),
            },
            units: Unit::Millimetre,
            lot: None,
            grain_deg: None,
            good_faces: None,
            place: Some((*place).to_owned()),
            origin: None,
            note: None,
            value: None,
        };
        let added = add(&mut test.rack, &new, &shop().materials, &when(2));
        ids.push(added.expect("added").id);
    }
    (test, ids)
}

fn leaving(test: &TestRack, shop: &Shop, room: &Room) -> Vec<String> {
    let space = space(&test.rack, shop, room).expect("a proposal");
    space.leave.into_iter().map(|r| r.id).collect()
}

#[test]
fn the_least_valuable_leave_until_both_limits_hold() {
    let (mut test, ids) = filled(&[
        (1000.0, 500.0, "bay A1"),
        (800.0, 500.0, "bay A2"),
        (600.0, 500.0, "bay A12"),
        (400.0, 500.0, "bay B1"),
    ]);
    let least = |n: usize| ids.iter().rev().take(n).cloned().collect::<Vec<_>>();
    let ask = |test: &TestRack, room: Room| leaving(test, &shop(), &room);
    assert_eq!(ask(&test, room(Some(4), None)), least(0));
    assert_eq!(ask(&test, room(Some(2), None)), least(2));
    // 1.4 m2 stand there; without the two least 0.9.
    assert_eq!(ask(&test, room(None, Some(1.4))), least(0));
    assert_eq!(ask(&test, room(Some(3), Some(0.9))), least(2));
    assert_eq!(ask(&test, room(Some(0), None)), least(4));
    // A place with all that is within it, and no other one that begins alike.
    let at = |place: &str| Room {
        place: Some(place.to_owned()),
        ..room(Some(0), None)
    };
    assert_eq!(ask(&test, at("Bay A")), least(4)[1..]);
    assert_eq!(ask(&test, at("bay A1")), [ids[0].clone()]);
    assert_eq!(ask(&test, at("bay C")), least(0));
    // What is held stays.
    hold(&mut test.rack, &ids[3..], "GC-7", 3, &when(2)).expect("held");
    assert_eq!(
        ask(&test, room(Some(2), None)),
        [ids[2].clone(), ids[1].clone()]
    );
}

#[test]
fn what_holds_a_part_cut_often_stays_longer() {
    let (test, ids) = filled(&[(450.0, 450.0, "A"), (2000.0, 110.0, "A")]);
    let mut shop = shop();
    // By its area the strip is worth more.
    assert_eq!(
        leaving(&test, &shop, &room(Some(1), None)),
        [ids[0].clone()]
    );
    let white = shop
        .materials
        .iter_mut()
        .find(|m| m.name == "white 3")
        .expect("white");
    white.keep.cut_often = vec![CutOften {
        part: "hatch".to_owned(),
        length: 430.0,
        width: 430.0,
        copies: 3.0,
    }];
    assert_eq!(
        leaving(&test, &shop, &room(Some(1), None)),
        [ids[1].clone()]
    );
    let ranked = space(&test.rack, &shop, &room(Some(0), None))
        .expect("read")
        .leave;
    assert_eq!(
        ranked.iter().map(|r| r.often).collect::<Vec<_>>(),
        [0.0, 1.0]
    );
    // With an edge that is lost on each side it does not come out of it any more.
    if let Some(white) = shop.materials.iter_mut().find(|m| m.name == "white 3") {
        white.keep.edge = 10.5;
    }
    let ranked = space(&test.rack, &shop, &room(Some(0), None))
        .expect("read")
        .leave;
    assert!(ranked.iter().all(|r| r.often == 0.0), "{ranked:?}");
}

#[test]
fn new_offcuts_make_room_first_where_they_are_worth_least() {
    let mut shop = shop();
    let piece = |id: &str, length: f64| Remnant {
        id: id.to_owned(),
        material: "white 3".to_owned(),
        outline: Polygon::rectangle(length, 500.0),
        ..Remnant::default()
    };
    shop.remnants = vec![piece("R-1", 900.0), piece("R-2", 300.0)];
    shop.aside = vec![piece("R-3", 500.0)];
    shop.held = vec![piece("R-4", 100.0)];
    let new = |lengths: &[f64]| -> Vec<(String, Remnant)> {
        let remnants = lengths.iter().map(|l| piece("", *l));
        remnants.map(|r| ("white 3".to_owned(), r)).collect()
    };
    let taken = |ids: &[&str]| {
        ids.iter()
            .map(|id| (*id).to_owned())
            .collect::<BTreeSet<_>>()
    };
    let over = |pieces: u32, offcuts: &[f64], used: &[&str]| {
        let found = overflow(
            &shop,
            &room(Some(pieces), None),
            &new(offcuts),
            &taken(used),
        );
        (found.offcuts, found.pieces)
    };
    let none: (Vec<usize>, Vec<String>) = Default::default();
    assert_eq!(over(6, &[400.0, 200.0], &[]), none);
    assert_eq!(over(5, &[400.0, 200.0], &[]), (vec![1], vec![]));
    assert_eq!(
        over(4, &[400.0, 200.0], &[]),
        (vec![1], vec!["R-2".to_owned()])
    );
    assert_eq!(
        over(3, &[400.0, 200.0], &[]),
        (vec![1, 0], vec!["R-2".to_owned()])
    );
    // What is cut makes room.
    assert_eq!(over(4, &[400.0, 200.0], &["R-1", "R-2"]), none);
    // Another material, and a place that no offcut stands at yet.
    let other = Room {
        material: Some("brushed 3".to_owned()),
        ..room(Some(0), None)
    };
    assert_eq!(
        overflow(&shop, &other, &new(&[400.0]), &taken(&[])),
        Overflow::default()
    );
    let place = Room {
        place: Some("bay A".to_owned()),
        ..room(Some(0), None)
    };
    assert_eq!(
        overflow(&shop, &place, &new(&[400.0]), &taken(&[])),
        Overflow::default()
    );
}

#[test]
fn what_fits_into_the_room_that_a_large_piece_leaves_stays() {
    // 2.4, 1.0, 0.4, 0.3 and 0.2 m2.
    let (mut test, ids) = filled(&[
        (2000.0, 1200.0, "bay A"),
        (1000.0, 1000.0, "bay A"),
        (800.0, 500.0, "bay A"),
        (600.0, 500.0, "bay A"),
        (400.0, 500.0, "bay A"),
    ]);
    let named = |which: &[usize]| which.iter().map(|i| ids[*i].clone()).collect::<Vec<_>>();
    let mut shop = shop();
    // Room, and what leaves: the four least have to go for 3.0 m2, which leaves room for 0.6 again.
    let cases: [(Room, &[usize]); 5] = [
        (room(None, Some(4.3)), &[]),
        (room(None, Some(3.0)), &[3, 1]),
        (room(Some(2), Some(3.0)), &[4, 3, 1]),
        (room(Some(1), Some(3.0)), &[4, 3, 2, 1]),
        // Nothing large fits, and what does fit stays.
        (room(None, Some(0.6)), &[3, 1, 0]),
    ];
    for (room, leave) in &cases {
        assert_eq!(leaving(&test, &shop, room), named(leave), "{room:?}");
        // A nest that leaves nothing finds the same, and one that leaves the last three too.
        shop.remnants = test.rack.remnants().expect("read");
        let found = overflow(&shop, room, &[], &BTreeSet::new());
        assert_eq!((found.offcuts, found.pieces), (vec![], named(leave)));
        let new = shop.remnants.split_off(2);
        let new: Vec<_> = new.into_iter().map(|r| (r.material.clone(), r)).collect();
        let found = overflow(&shop, room, &new, &BTreeSet::new());
        let (old, fresh): (Vec<usize>, Vec<usize>) = leave.iter().partition(|i| **i < 2);
        assert_eq!(found.pieces, named(&old), "{room:?}");
        let fresh: Vec<usize> = fresh.into_iter().map(|i| i - 2).collect();
        assert_eq!(found.offcuts, fresh, "{room:?}");
    }
    // Beside pieces that are held and fill the room alone nothing comes back.
    hold(&mut test.rack, &ids[..1], "GC-7", 3, &when(2)).expect("held");
    assert_eq!(
        leaving(&test, &shop, &room(None, Some(2.0))),
        named(&[4, 3, 2, 1])
    );
    assert_eq!(
        leaving(&test, &shop, &room(None, Some(2.7))),
        named(&[4, 2, 1])
    );
}
