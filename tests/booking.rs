//! The rack over weeks: nest, book, find the offcuts again; and everything that may go wrong.

use crate::rack_steps::{answer, done, ids, nested, rack, refused};
use crate::util::Bench;
use serde_json::{Value, json};

const BOOK: [&str; 4] = ["book", "out/nest.json", "--shop", "shop.json"];

fn list(bench: &Bench) -> Vec<Value> {
    let list = answer(bench, &["list"]);
    list["remnants"].as_array().expect("remnants").clone()
}

#[test]
fn a_booked_nest_moves_stock_remnants_and_offcuts() {
    let bench = nested(&[]);
    let nest = bench.nest_file();
    let sheets = nest["sheets"].as_array().expect("sheets");
    let taken: Vec<&str> = sheets
        .iter()
        .filter(|s| s["source"]["kind"] == "remnant")
        .map(|s| s["source"]["id"].as_str().expect("id"))
        .collect();
    let kept = sheets
        .iter()
        .flat_map(|s| s["offcuts"].as_array().expect("offcuts"))
        .filter(|o| o["kept"] == true)
        .count();
    assert!(
        !taken.is_empty() && kept > 0,
        "the small order shows both: {taken:?} {kept}"
    );

    let run = bench.run(&BOOK);
    assert_eq!(run.code, 0, "{run:?}");
    let now = ids(&bench);
    assert!(
        taken.iter().all(|id| !now.contains(&(*id).to_string())),
        "{now:?}"
    );
    assert_eq!(now.len(), 2 - taken.len() + kept, "{now:?}");

    // The next nest of another order may use what was kept, and knows its lot and outline.
    let found = list(&bench);
    let offcut = found
        .iter()
        .find(|r| r["id"].as_str() > Some("R-0002"))
        .expect("an offcut");
    let id = offcut["id"].as_str().expect("id");
    let run = bench.run(&["rack", "show", id, "--shop", "shop.json", "--json"]);
    let shown: Value = serde_json::from_str(&run.stdout).expect("JSON");
    let origin = shown["origin"].as_str().expect("origin");
    assert!(
        origin.contains("nest") && shown["lot"].is_string() | shown["lot"].is_null(),
        "{shown}"
    );
    assert_eq!(run.code, 0, "{run:?}");
}

#[test]
fn undo_puts_everything_back() {
    let bench = nested(&[]);
    let before = list(&bench);
    assert_eq!(bench.run(&BOOK).code, 0);
    let run = bench.run(&["book", "--undo", "B-0001", "--shop", "shop.json"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert_eq!(list(&bench), before);
    let run = bench.run(&BOOK);
    assert_eq!(run.code, 0, "what was undone may be booked: {run:?}");
}

#[test]
fn booking_twice_is_refused() {
    let bench = nested(&[]);
    assert_eq!(bench.run(&BOOK).code, 0);
    let before = ids(&bench);
    refused(
        &bench.run(&BOOK),
        &["nest.json", "already booked", "B-0001", "--again"],
    );
    assert_eq!(ids(&bench), before);
}

#[test]
fn saw_cuts_that_nobody_can_make_are_refused() {
    let bench = nested(&[]);
    let nest = bench.nest_file();
    let sheets = nest["sheets"].as_array().expect("sheets");
    let sawn = |s: &Value| s["saw_cuts"].as_array().is_some_and(|cuts| cuts.len() > 1);
    let sheet = sheets.iter().position(sawn).expect("a sawn sheet");
    type Edit = fn(&mut Value);
    let edits: [(&str, Edit); 3] = [
        ("wide", |cut| cut["kerf"] = json!(-3.2)),
        ("short", |cut| {
            let [from, to] = ["from", "to"].map(|end| cut[end].clone());
            cut["to"] = json!([0, 1].map(|i| {
                let [a, b] = [&from, &to].map(|p| p[i].as_f64().expect("a number"));
                0.5 * (a + b)
            }));
        }),
        ("upright", |cut| cut["to"] = json!([1000.0, 700.0])),
    ];
    for (word, edit) in edits {
        let mut wrong = nest.clone();
        edit(&mut wrong["sheets"][sheet]["saw_cuts"][0]);
        bench.write("wrong.json", &wrong.to_string());
        for command in [
            vec!["book", "wrong.json", "--shop", "shop.json"],
            vec!["estimate", "order.json", "--nest", "wrong.json"],
        ] {
            let words = [word, "wrong.json", "cut 1"];
            refused(&bench.run(&command), &words);
        }
    }
    // As it was written it is booked.
    assert_eq!(bench.run(&BOOK).code, 0);
}

#[test]
fn a_remnant_used_meanwhile_is_refused() {
    let bench = nested(&[]);
    let nest = bench.nest_file();
    let remnant = nest["sheets"]
        .as_array()
        .expect("sheets")
        .iter()
        .find(|s| s["source"]["kind"] == "remnant")
        .expect("the small order uses a remnant")["source"]["id"]
        .as_str()
        .expect("id")
        .to_string();
    // Another order's nest that cuts the same remnant: by its seed it is another nest.
    let mut other = nest;
    other["seed"] = json!(99);
    bench.write("other.json", &other.to_string());
    let run = bench.run(&["book", "other.json", "--shop", "shop.json"]);
    assert_eq!(run.code, 0, "{run:?}");
    let before = ids(&bench);
    refused(
        &bench.run(&BOOK),
        &["nest.json", &remnant, "B-0001", "nest the order again"],
    );
    assert_eq!(ids(&bench), before);
}

#[test]
fn a_rack_file_that_is_no_database_is_left_alone() {
    let bench = nested(&[]);
    bench.write(
        "rack.db",
        "remnants: two, in bay A. This is a shopping list, not a database.",
    );
    refused(&bench.run(&BOOK), &["rack.db", "not"]);
    refused(&bench.nest(&[]), &["rack.db", "not"]);
    assert!(bench.read("rack.db").starts_with("remnants: two"));
}

#[test]
fn a_rack_locked_by_another_process_is_told() {
    let bench = nested(&[]);
    assert_eq!(
        bench
            .run(&[
                "rack",
                "add",
                "--shop",
                "shop.json",
                "--material",
                "acrylic-3",
                "--size",
                "400x300"
            ])
            .code,
        0
    );
    let other = rusqlite::Connection::open(bench.path("rack.db")).expect("the rack");
    other.execute_batch("BEGIN EXCLUSIVE").expect("the lock");
    refused(&bench.run(&BOOK), &["rack.db", "locked", "another"]);
    other.execute_batch("ROLLBACK").expect("the lock back");
    assert_eq!(bench.run(&BOOK).code, 0);
}

#[test]
fn adding_showing_and_retiring() {
    let bench = Bench::new();
    bench.write_inputs();
    let add = |args: &[&str]| {
        let mut all = vec!["rack", "add", "--shop", "shop.json"];
        all.extend(args);
        bench.run(&all)
    };
    let run = add(&[
        "--material",
        "composite-3",
        "--outline",
        "[[0,0],[500,0],[500,200],[200,200],[200,450],[0,450]]",
        "--void",
        "[[50,50],[90,50],[90,90],[50,90]]",
        "--place",
        "bay C",
        "--lot",
        "L7",
    ]);
    assert_eq!(run.code, 0, "{run:?}");
    let all = list(&bench);
    let added = all
        .iter()
        .find(|r| r["place"] == "bay C")
        .expect("the remnant");
    let area = added["area"].as_f64().expect("area");
    assert!(
        (area - (500.0 * 200.0 + 200.0 * 250.0 - 1600.0)).abs() < 1e-6,
        "{area}"
    );
    let id = added["id"].as_str().expect("id").to_string();
    assert_eq!(id, "R-0003");

    refused(
        &add(&["--material", "composit-3", "--size", "300x200"]),
        &["composit-3", "composite-3"],
    );
    refused(
        &add(&["--material", "composite-3", "--size", "300x-2"]),
        &["-2"],
    );
    refused(
        &add(&["--material", "composite-3", "--size", "300"]),
        &["300", "LENGTHxWIDTH"],
    );
    refused(
        &add(&[
            "--material",
            "composite-3",
            "--outline",
            "[[0,0],[90,90],[90,0],[0,60]]",
        ]),
        &["cross"],
    );

    let run = bench.run(&["rack", "show", &id, "--shop", "shop.json"]);
    assert!(
        run.code == 0 && run.stdout.contains("bay C") && run.stdout.contains("L7"),
        "{run:?}"
    );
    let retire = [
        "rack",
        "retire",
        &id,
        "--reason",
        "dropped",
        "--shop",
        "shop.json",
    ];
    assert_eq!(bench.run(&retire).code, 0);
    assert!(!ids(&bench).contains(&id));
    refused(&bench.run(&retire), &[&id]);
    refused(
        &bench.run(&["rack", "show", "R-9999", "--shop", "shop.json"]),
        &["R-9999"],
    );
}

#[test]
fn sheets_are_counted_down_and_up() {
    let bench = nested(&[]);
    let stock = |more: &[&str]| {
        let mut args = vec!["rack", "stock", "--shop", "shop.json", "--json"];
        args.extend(more);
        let run = bench.run(&args);
        assert_eq!(run.code, 0, "{run:?}");
        serde_json::from_str::<Value>(&run.stdout).expect("JSON")
    };
    assert_eq!(stock(&[])["C1"]["count"], 5);
    let nest = bench.nest_file();
    let sheets = nest["sheets"].as_array().expect("sheets");
    let taken = sheets.iter().filter(|s| s["source"]["id"] == "C1").count();
    assert_eq!(bench.run(&BOOK).code, 0);
    assert_eq!(stock(&[])["C1"]["count"], 5 - taken);
    assert_eq!(
        stock(&["C1", "--count", "12", "--reason", "delivery"])["C1"]["count"],
        12
    );
    assert_eq!(
        stock(&[])["V1"]["count"],
        Value::Null,
        "what is not counted stays so"
    );
    let run = bench.run(&[
        "rack",
        "stock",
        "C7",
        "--count",
        "2",
        "--reason",
        "x",
        "--shop",
        "shop.json",
    ]);
    refused(&run, &["C7"]);
}

#[test]
fn a_changed_nest_file_is_not_booked() {
    let bench = nested(&[]);
    let mut nest = bench.nest_file();
    nest["sheets"][0]["offcuts"] = json!([{"id": "1A", "outline": [[0, 0], [9000, 0], [9000, 9000], [0, 9000]],
        "voids": [], "area": 81e6, "kept": true}]);
    bench.write("forged.json", &nest.to_string());
    let run = bench.run(&["book", "forged.json", "--shop", "shop.json"]);
    refused(&run, &["forged.json", "1A"]);
    assert_eq!(ids(&bench), ["R-0001", "R-0002"]);
}

/// The list to count by, with what was found of the sheet C1 filled in.
fn counted(bench: &Bench, found: usize) {
    let list = bench.read("count.csv");
    let filled = list.lines().map(|line| {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        if cells[1] == "C1" {
            cells[7] = found.to_string();
        }
        cells.join(",")
    });
    bench.write("count.csv", &filled.collect::<Vec<_>>().join("\n"));
}

#[test]
fn a_count_entered_late_leaves_what_was_booked_meanwhile() {
    let bench = nested(&["--no-remnants"]);
    let stock = || {
        answer(&bench, &["stock"])["C1"]["count"]
            .as_u64()
            .expect("counted")
    };
    let enter = || {
        let args = ["count", "--enter", "count.csv", "--reason", "autumn"];
        done(&rack(&bench, &args)).to_owned()
    };
    done(&rack(&bench, &["count", "--list", "count.csv"]));
    done(&bench.run(&BOOK));
    let left = stock();
    assert!(left < 5, "{left}");
    counted(&bench, 5);
    let said = enter();
    assert_eq!(stock(), left, "{said}");
    assert!(!said.contains("C1"), "{said}");
    counted(&bench, 6);
    let said = enter();
    assert_eq!(stock(), left + 1, "{said}");
    let says = format!(
        "6 counted where the list had 5; the rack has {left} by now, so it is {}",
        left + 1
    );
    assert!(said.contains(&says), "{said}");
}
