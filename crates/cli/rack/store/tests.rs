//! The rack file: made, opened, refused, brought up to date.

use super::super::testing::{TestRack, remnant_nest, shop, when};
use super::super::{BookOptions, book, digest_of};
use super::*;

fn refused(path: &Path) -> String {
    Rack::open_within(path, Duration::from_millis(20))
        .expect_err("refused")
        .to_string()
}

#[test]
fn takes_over_the_shop_and_gives_it_back_exactly() {
    let test = TestRack::new();
    assert_eq!(test.rack.remnants().expect("read"), shop().remnants);
    let counts = test.rack.stock_counts().expect("read");
    assert_eq!(counts["W-2440"], Some(3));
    assert_eq!(counts["W-2440-loose"], None);
    assert_eq!(counts.len(), 3);
    // Nothing but the rack and, while it is open, SQLite's own two files.
    for entry in std::fs::read_dir(test.dir.path()).expect("the folder") {
        let name = entry.expect("an entry").file_name();
        let name = name.to_str().expect("plain");
        assert!(name.starts_with("rack.sqlite"), "{name}");
    }
    let again = Rack::create_from(&test.path(), &shop(), &when(2)).expect_err("exists");
    assert!(again.what.contains("a file already"), "{again}");
}

#[test]
fn the_shop_is_filled_from_the_rack() {
    let mut test = TestRack::new();
    test.book_remnant(5).expect("booked");
    test.rack
        .set_stock("W-2440", None, "a full pallet", &when(6))
        .expect("set");
    let mut shop = shop();
    shop.materials.remove(1);
    let notes = test.rack.fill(&mut shop, &[], &when(2)).expect("filled");
    assert_eq!(shop.sheets[0].stock, None);
    assert_eq!(shop.sheets[2].stock, Some(1));
    assert_eq!(shop.remnants.len(), 1);
    assert_eq!(shop.remnants[0].id, "R-0007");
    assert_eq!(notes.len(), 1);
    assert!(notes[0].contains("remnant R-0013 is left out"), "{notes:?}");
    let nowhere = Rack::create_from(Path::new("/nowhere/at/all/r"), &shop, &when(1));
    assert!(
        nowhere
            .expect_err("no folder")
            .what
            .contains("cannot be made")
    );
}

#[test]
fn coordinates_come_back_to_the_last_digit() {
    let mut shop = shop();
    let mut x = 0.1_f64;
    shop.remnants[0].outline.outer = (0..200)
        .map(|i| {
            // Digits of a logistic map: none of them round.
            x = 3.99 * x * (1.0 - x);
            let turn = f64::from(i) / 200.0 * std::f64::consts::TAU;
            let r = 1000.0 + x;
            panelwright_geometry::Point::new(r * turn.cos(), r * turn.sin())
        })
        .collect();
    let dir = tempfile::tempdir().expect("a folder");
    let rack = Rack::create_from(&dir.path().join("r"), &shop, &when(1)).expect("made");
    assert_eq!(rack.remnants().expect("read")[0], shop.remnants[0]);
}

#[test]
fn a_duplicate_remnant_leaves_no_file() {
    let mut shop = shop();
    let twin = Remnant {
        id: "r-0007".to_owned(),
        ..shop.remnants[0].clone()
    };
    shop.remnants.push(twin);
    let dir = tempfile::tempdir().expect("a folder");
    let failure = Rack::create_from(&dir.path().join("r"), &shop, &when(1));
    assert!(failure.expect_err("twice").what.contains("already"));
    assert_eq!(
        std::fs::read_dir(dir.path()).expect("the folder").count(),
        0
    );
}

#[test]
fn other_files_are_refused_and_left_as_they_are() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("x");
    assert!(refused(&path).contains("there is no rack file"));
    assert!(refused(dir.path()).contains("it is a folder"));
    std::fs::write(&path, "").expect("written");
    assert!(refused(&path).contains("it is empty"));
    let text = "remnants, 2026\n".repeat(200);
    std::fs::write(&path, &text).expect("written");
    assert!(
        refused(&path).contains("no SQLite file"),
        "{}",
        refused(&path)
    );
    assert_eq!(std::fs::read_to_string(&path).expect("read"), text);
    let other = dir.path().join("other");
    let conn = Connection::open(&other).expect("made");
    conn.execute_batch("CREATE TABLE remnants (id TEXT); PRAGMA user_version = 1;")
        .expect("made");
    drop(conn);
    let before = std::fs::read(&other).expect("read");
    assert!(refused(&other).contains("SQLite file of another program"));
    assert_eq!(std::fs::read(&other).expect("read"), before);
}

#[test]
fn a_newer_rack_is_refused() {
    let test = TestRack::new();
    test.rack
        .conn
        .pragma_update(None, "user_version", 99)
        .expect("set");
    let failure = refused(&test.path());
    assert!(failure.contains("schema 99"), "{failure}");
    assert!(failure.contains("update this program"), "{failure}");
}

#[test]
fn a_damaged_rack_is_refused() {
    let test = TestRack::new();
    let path = test.path();
    let TestRack { dir, rack } = test;
    drop(rack);
    let whole = std::fs::read(&path).expect("read");
    // Cut short, as a copy to a full stick is.
    std::fs::write(&path, &whole[..whole.len() / 2 / 4096 * 4096]).expect("written");
    let failure = refused(&path);
    assert!(failure.contains("damaged"), "{failure}");
    assert!(failure.contains("restore the last copy"), "{failure}");
    // Overwritten in the middle; every page but the first in turn.
    for page in 1..whole.len() / 4096 {
        let mut broken = whole.clone();
        broken[page * 4096..page * 4096 + 4096].fill(0x5a);
        std::fs::write(&path, &broken).expect("written");
        let failure = refused(&path);
        assert!(failure.contains("damaged"), "page {page}: {failure}");
    }
    drop(dir);
}

#[test]
fn a_locked_rack_says_so() {
    let mut test = TestRack::new();
    let mut other = Rack::open_within(&test.path(), Duration::from_millis(30)).expect("open");
    let failure = test
        .rack
        .change(&when(2), |_| {
            // Reading goes on beside a booking; writing has to wait, here in vain.
            assert_eq!(other.remnants()?.len(), 2);
            Rack::open_within(other.path(), Duration::ZERO)?;
            let nest = remnant_nest();
            let digest = digest_of(b"x");
            let options = BookOptions::default();
            book(&mut other, &nest, &digest, &shop(), &when(2), &options).map(|_| ())
        })
        .expect_err("locked");
    assert!(
        failure.what.contains("rack locked by another process"),
        "{failure}"
    );
    assert!(failure.what.contains("waited 0.0 s"), "{failure}");
    // Nothing was done, and nothing is in the way any more.
    assert_eq!(other.remnants().expect("read").len(), 2);
    other
        .set_stock("W-2440", Some(9), "delivery", &when(2))
        .expect("free again");
}

#[test]
fn a_read_only_rack_is_refused() {
    let test = TestRack::new();
    let conn =
        Connection::open_with_flags(test.path(), OpenFlags::SQLITE_OPEN_READ_ONLY).expect("open");
    let error = conn
        .execute("DELETE FROM sheets", [])
        .expect_err("read-only");
    let failure = fault(&test.path(), WAIT, &error);
    assert!(failure.what.contains("read-only"), "{failure}");
    let rack = Rack {
        conn,
        path: test.path(),
        wait: WAIT,
        _copy: None,
    };
    let failure = rack.check_identity().expect_err("read-only");
    assert!(failure.what.contains("read-only"), "{failure}");
}

#[test]
fn a_full_disk_is_told_and_changes_nothing() {
    let mut test = TestRack::new();
    let before = test.dump();
    let pages: i64 = test
        .rack
        .conn
        .pragma_query_value(None, "page_count", |row| row.get(0))
        .expect("read");
    // SQLite gives the same error where the file may not grow (documentation of max_page_count).
    test.rack
        .conn
        .pragma_update_and_check(None, "max_page_count", pages, |_| Ok(()))
        .expect("set");
    let plain = test.rack.remnants().expect("read").remove(0);
    let failure = test
        .rack
        .change(&when(2), |change| {
            for i in 0..500 {
                let id = format!("F{i}");
                remnant_row::insert(
                    change,
                    &Remnant {
                        id,
                        ..plain.clone()
                    },
                )?;
            }
            Ok(())
        })
        .expect_err("full");
    assert!(failure.what.contains("the disk is full"), "{failure}");
    assert_eq!(test.dump(), before);
}

#[test]
fn new_sheets_are_learnt_and_counts_stand() {
    let mut test = TestRack::new();
    let mut shop = shop();
    shop.sheets[0].stock = Some(50);
    shop.sheets[0].lot = Some("P-40".to_owned());
    let mut new = shop.sheets[0].clone();
    new.id = "W-3050".to_owned();
    new.length = 3050.0;
    shop.sheets.push(new);
    test.rack
        .set_stock("W-2440", Some(7), "stock-take", &when(2))
        .expect("set");
    let rack = Rack::open_for(&test.path(), &shop, &when(3)).expect("open");
    let counts = rack.stock_counts().expect("read");
    assert_eq!((counts["W-2440"], counts["W-3050"]), (Some(7), Some(50)));
    let events = test.table("events").len();
    Rack::open_for(&test.path(), &shop, &when(4)).expect("open");
    assert_eq!(
        test.table("events").len(),
        events,
        "nothing new, nothing written"
    );
    // A size may be corrected until something rests on it.
    shop.sheets[0].length = 2500.0;
    Rack::open_for(&test.path(), &shop, &when(4)).expect("corrected");
    shop.sheets[0].length = 2440.0;
    Rack::open_for(&test.path(), &shop, &when(4)).expect("back");
    test.book(&super::super::testing::sheet_nest(), 5)
        .expect("booked");
    shop.sheets[0].length = 2500.0;
    let failure = Rack::open_for(&test.path(), &shop, &when(6)).expect_err("booked");
    assert!(
        failure.to_string().contains("booking B-0001 took it as"),
        "{failure}"
    );
    let unknown = test
        .rack
        .set_stock("W-2441", None, "x", &when(6))
        .expect_err("unknown");
    assert!(unknown.advice.contains("did you mean W-2440?"), "{unknown}");
}

#[test]
fn a_rack_copied_in_mid_change_holds_the_change_whole_or_not_at_all() {
    // What a killed process leaves is the files as they are at that moment.
    let mut test = TestRack::new();
    let (from, dir) = (test.path(), tempfile::tempdir().expect("a folder"));
    let copy = |name: &str| {
        let to = dir.path().join(name);
        for end in ["", "-wal"] {
            let part = |path: &Path| PathBuf::from(format!("{}{end}", path.display()));
            std::fs::copy(part(&from), part(&to)).expect("copied");
        }
        to
    };
    let mut half = None;
    test.rack
        .change(&when(2), |change| {
            let by_hand = Some(1);
            sheet_stock::set(change, "W-2440", by_hand, "for the test")?;
            half = Some(copy("half"));
            change.event(Event::new("taken", "for the test").sheet("W-2440"))
        })
        .expect("changed");
    let whole = copy("whole");
    for (path, left) in [(half.expect("copied"), 3), (whole, 1)] {
        let rack = Rack::open(&path).expect("a sound rack");
        assert_eq!(rack.stock_counts().expect("read")["W-2440"], Some(left));
    }
}

#[test]
fn the_trace_is_only_added_to() {
    let test = TestRack::new();
    for sql in ["DELETE FROM events", "UPDATE events SET why = 'x'"] {
        let error = test.rack.conn.execute_batch(sql).expect_err("kept");
        assert!(error.to_string().contains("events are never"), "{error}");
    }
}

#[test]
fn an_older_rack_is_brought_up_to_date() {
    let mut test = TestRack::new();
    let before = test.dump();
    let now = schema::VERSION;
    let next = "ALTER TABLE remnants ADD COLUMN shelf INTEGER;
         INSERT INTO states VALUES ('lent', 'at another shop');";
    let steps = [schema::STEPS, &[next]].concat();
    let migrate = |rack: &mut Rack| schema::migrate(&mut rack.conn, &steps);
    assert_eq!(migrate(&mut test.rack).expect("migrated"), now);
    let version = |rack: &Rack| schema::version(&rack.conn).expect("read");
    assert_eq!(version(&test.rack), now as i64 + 1);
    assert_eq!(migrate(&mut test.rack).expect("nothing to do"), now + 1);
    let migrated = test
        .table("events")
        .iter()
        .filter(|e| e.contains("migrated"))
        .count();
    assert_eq!(migrated, 1);
    assert_ne!(test.dump(), before);
    // A step that fails, or breaks a reference, leaves everything as it was.
    let before = test.dump();
    for bad in [
        "CREATE TABLE t (a); SELECT nonsense;",
        "DELETE FROM states WHERE state = 'on-rack';",
    ] {
        let steps = [&steps[..], &[bad]].concat();
        schema::migrate(&mut test.rack.conn, &steps).expect_err("refused");
        assert_eq!(version(&test.rack), now as i64 + 1);
        assert_eq!(test.dump(), before);
    }
    let on: bool = test
        .rack
        .conn
        .pragma_query_value(None, "foreign_keys", |row| row.get(0))
        .expect("read");
    assert!(on, "references are checked again afterwards");
}

#[test]
fn holds_of_the_third_schema_stand_and_are_given_back() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("rack");
    let mut conn = Connection::open(&path).expect("made");
    schema::migrate(&mut conn, &schema::STEPS[..3]).expect("the third schema");
    conn.execute_batch(
        "INSERT INTO sheets VALUES ('W-2440', 'white 3', 2440, 1220, 3, 'P-31', NULL);
         INSERT INTO movements (at, sheet, change, kind) VALUES
            ('2026-11-01T08:00:00+13:00', 'W-2440', 3, 'opening');
         INSERT INTO sheet_holds VALUES ('W-2440', 'GC-7', 3, '2026-11-01T08:00:00+13:00',
            '2036-11-01T08:00:00+13:00', 2109000000);",
    )
    .expect("filled");
    drop(conn);
    let mut rack = Rack::open(&path).expect("brought up to date");
    let held = rack.sheet_holds(&when(2)).expect("read");
    assert_eq!(held[0].count, 3);
    let nest = super::super::testing::sheet_nest();
    let options = BookOptions {
        name: Some("GC-7".to_owned()),
        ..BookOptions::default()
    };
    let digest = super::super::testing::digest(&nest);
    let booking = super::super::book(&mut rack, &nest, &digest, &shop(), &when(3), &options);
    let booking = booking.expect("booked").id;
    assert_eq!(rack.sheet_holds(&when(3)).expect("read")[0].count, 1);
    super::super::undo(&mut rack, &booking, None, &when(4)).expect("undone");
    assert_eq!(rack.sheet_holds(&when(4)).expect("read"), held);
    assert!(super::super::check(&rack).expect("checked").is_sound());
}

/// A rack as the first schema had it, with a booking that stands, one that was undone and one made
/// knowingly twice.
const FIRST: &str = "
    INSERT INTO remnants (id, material, outline, area, length, width, good_faces, state) VALUES
        ('R-0007', 'white 3', '[[0,0],[1000,0],[1000,800],[0,800]]', 8e5, 1000, 800, 1, 'on-rack'),
        ('R-0012', 'brushed 3', '[[0,0],[900,0],[900,300],[400,300],[400,600],[0,600]]', 390000,
         900, 600, 2, 'cut');
    INSERT INTO sheets VALUES ('W-2440', 'white 3', 2440, 1220, 3, 'P-31', NULL),
        ('W-loose', 'white 3', 2440, 1220, NULL, NULL, NULL);
    INSERT INTO bookings VALUES
        (1, 'aaaaaaaabbbbbbbbccccccccddddddddaaaaaaaabbbbbbbbccccccccdddddddd', NULL,
         '2026-11-05T08:00:00+13:00', NULL, 0, 390000, 300000, 0, 90000),
        (2, 'baaaaaaabbbbbbbbccccccccddddddddaaaaaaaabbbbbbbbccccccccdddddddd', NULL,
         '2026-11-05T08:00:00+13:00', '2026-11-06T08:00:00+13:00', 0, 5, 3, 0, 2);
    INSERT INTO booked_remnants VALUES (1, 'R-0012');
    INSERT INTO events (at, kind, remnant, booking, why) VALUES
        ('2026-11-01T08:00:00+13:00', 'listed', 'R-0007', NULL, 'x'),
        ('2026-11-01T08:00:00+13:00', 'listed', 'R-0012', NULL, 'x'),
        ('2026-11-05T08:00:00+13:00', 'booked', NULL, 1, 'x'),
        ('2026-11-05T08:00:00+13:00', 'booked', NULL, 2, 'x'),
        ('2026-11-05T08:00:00+13:00', 'cut', 'R-0012', 1, 'x'),
        ('2026-11-06T08:00:00+13:00', 'removed', 'R-0044', 2, 'x');";

#[test]
fn a_rack_of_the_first_schema_is_taken_over_whole() {
    let dir = tempfile::tempdir().expect("a folder");
    let path = dir.path().join("rack");
    let mut conn = Connection::open(&path).expect("made");
    schema::migrate(&mut conn, &schema::STEPS[..1]).expect("the first schema");
    conn.execute_batch(FIRST).expect("filled");
    drop(conn);
    let mut rack = Rack::open(&path).expect("brought up to date");
    assert_eq!(
        schema::version(&rack.conn).expect("read"),
        schema::VERSION as i64
    );
    let checked = super::super::check(&rack).expect("checked");
    assert!(checked.is_sound(), "{}", checked.text());
    // Numbers of offcuts whose booking was undone are not given again.
    assert_eq!(remnant_row::next_id(rack.db()).expect("read"), "R-0045");
    // A whole nest that was booked then cannot be booked now, not even a sheet of it.
    let digest = "aaaaaaaabbbbbbbbccccccccddddddddaaaaaaaabbbbbbbbccccccccdddddddd";
    for sheets in [Vec::new(), vec![1]] {
        let nest = super::super::testing::sheet_nest();
        let options = BookOptions {
            sheets,
            ..BookOptions::default()
        };
        let failure = book(&mut rack, &nest, digest, &shop(), &when(8), &options);
        assert!(failure.expect_err("booked").what.contains("B-0001"));
    }
    super::super::undo(&mut rack, "B-0001", None, &when(9)).expect("undone");
    assert!(super::super::check(&rack).expect("checked").is_sound());
}
