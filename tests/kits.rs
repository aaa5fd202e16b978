//! Kits: complete early, from one lot, by priority. Everything is counted anew from nest.json.

use crate::util::Bench;
use serde_json::{Value, json};
use std::collections::{BTreeMap, BTreeSet};

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().expect("a list")
}

fn number(value: &Value) -> u64 {
    value.as_u64().expect("a whole number")
}

fn amount(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn text(value: &Value) -> String {
    value.as_str().expect("text").to_owned()
}

/// How many of each part a kit holds.
fn content(kit: &Value) -> BTreeMap<String, u64> {
    let parts = list(&kit["parts"]).iter();
    parts
        .map(|p| (text(&p["part"]), number(&p["quantity"])))
        .collect()
}

/// Kits of one name that are complete after each sheet, copies being interchangeable.
fn complete(nest: &Value, kit: &Value, wanted: u64) -> Vec<u64> {
    let content = content(kit);
    let mut cut: BTreeMap<String, u64> = BTreeMap::new();
    list(&nest["sheets"])
        .iter()
        .map(|sheet| {
            for placed in list(&sheet["placements"]) {
                if placed["kit"] == kit["kit"] {
                    *cut.entry(text(&placed["part"])).or_default() += 1;
                }
            }
            let each = content
                .iter()
                .map(|(part, n)| cut.get(part).unwrap_or(&0) / n);
            each.min().expect("parts").min(wanted)
        })
        .collect()
}

/// The same by the numbers of the kits that the copies are said to belong to.
fn complete_by_number(nest: &Value, kit: &Value) -> Vec<u64> {
    let content = content(kit);
    let mut kits: BTreeMap<u64, BTreeMap<String, u64>> = BTreeMap::new();
    list(&nest["sheets"])
        .iter()
        .map(|sheet| {
            for placed in list(&sheet["placements"]) {
                if placed["kit"] == kit["kit"] && placed.get("kit_number").is_some() {
                    let parts = kits.entry(number(&placed["kit_number"])).or_default();
                    *parts.entry(text(&placed["part"])).or_default() += 1;
                }
            }
            for (kit, parts) in &kits {
                for (part, n) in parts {
                    assert!(*n <= content[part], "kit {kit} has {n} of {part}");
                }
            }
            kits.values().filter(|parts| **parts == content).count() as u64
        })
        .collect()
}

fn stated(nest: &Value) -> Vec<u64> {
    let sheets = list(&nest["sheets"]).iter();
    sheets.map(|s| number(&s["kits_complete"])).collect()
}

/// Kits still open after each sheet, added up: the smaller, the earlier they are complete.
fn waiting(nest: &Value, wanted: u64) -> u64 {
    stated(nest).iter().map(|done| wanted - done).sum()
}

/// Lots that the copies of each kit come from, by kit number and material.
fn lots(nest: &Value) -> BTreeMap<(u64, String), BTreeSet<String>> {
    let mut lots: BTreeMap<(u64, String), BTreeSet<String>> = BTreeMap::new();
    for sheet in list(&nest["sheets"]) {
        // Without a name, a remnant is a lot of its own and a sheet size is another.
        let lot = match sheet["source"].get("lot") {
            Some(lot) => text(lot),
            None => format!("none, {}", sheet["source"]["id"]),
        };
        for placed in list(&sheet["placements"]) {
            if let Some(kit) = placed.get("kit_number") {
                let key = (number(kit), text(&sheet["material"]));
                lots.entry(key).or_default().insert(lot.clone());
            }
        }
    }
    lots
}

/// The bench with several sheets of each group, and spares.
fn larger() -> Bench {
    let mut bench = Bench::new();
    bench.order["kits"][0]["quantity"] = json!(6);
    bench.order["parts"] = json!([{"kit": "kit.json", "part": "plate", "quantity": 3}]);
    bench.shop["sheets"][0]["stock"] = json!(null);
    bench.shop["sheets"][1]["length"] = json!(420);
    bench
}

#[test]
fn kits_complete_are_told_after_each_sheet() {
    let bench = larger();
    let run = bench.nest(&[]);
    assert_eq!(run.code, 0, "{run:?}");
    let nest = bench.nest_file();
    assert_eq!(stated(&nest), complete(&nest, &bench.kit, 6));
    assert_eq!(stated(&nest), complete_by_number(&nest, &bench.kit));
    assert_eq!(nest["totals"]["kits"], 6);
    assert_eq!(nest["totals"]["kits_complete"], 6);
    assert_eq!(nest.get("choices"), None);
    let single = list(&nest["sheets"])
        .iter()
        .flat_map(|s| list(&s["placements"]))
        .filter(|p| p.get("kit_number").is_none());
    assert_eq!(single.count(), 3);
    // Said in the papers as well, at the sheet where it happens.
    let (first, _) = stated(&nest)
        .iter()
        .zip(1..)
        .find(|(n, _)| **n > 0)
        .map(|(n, i)| (i, n))
        .expect("a kit");
    let kits = stated(&nest)[first - 1];
    assert!(
        run.stdout.contains(&format!("{kits} after sheet {first}")),
        "{}",
        run.stdout
    );
    assert!(
        bench
            .read("out/report.html")
            .contains("Every kit, the sheets that hold its parts")
    );
}

#[test]
fn no_other_order_of_the_sheets_completes_kits_earlier() {
    let bench = larger();
    assert_eq!(bench.nest(&[]).code, 0);
    let nest = bench.nest_file();
    let sheets = list(&nest["sheets"]);
    assert!((4..10).contains(&sheets.len()), "{}", sheets.len());
    // All orders, by exchanges (Heap 1963).
    let mut order: Vec<usize> = (0..sheets.len()).collect();
    let mut wheels = vec![0; order.len()];
    let content = content(&bench.kit);
    let parts: Vec<&String> = content.keys().collect();
    let piles: Vec<Vec<u64>> = sheets
        .iter()
        .map(|sheet| {
            let placed = list(&sheet["placements"]);
            let count = |part: &&String| placed.iter().filter(|p| p["part"] == ***part).count();
            parts.iter().map(|part| count(part) as u64).collect()
        })
        .collect();
    let open = |order: &[usize]| -> u64 {
        let mut cut = vec![0; parts.len()];
        let mut sum = 0;
        for sheet in order {
            for (cut, n) in cut.iter_mut().zip(&piles[*sheet]) {
                *cut += n;
            }
            let kits = cut.iter().zip(&parts).map(|(n, part)| n / content[*part]);
            sum += 6 - kits.min().expect("parts").min(6);
        }
        sum
    };
    let mut least = open(&order);
    assert_eq!(least, waiting(&nest, 6));
    let mut i = 1;
    while i < order.len() {
        if wheels[i] < i {
            order.swap(if i % 2 == 0 { 0 } else { wheels[i] }, i);
            least = least.min(open(&order));
            wheels[i] += 1;
            i = 1;
        } else {
            wheels[i] = 0;
            i += 1;
        }
    }
    assert_eq!(least, waiting(&nest, 6));
}

#[test]
fn with_the_option_kits_are_never_complete_later_and_its_cost_is_told() {
    for seed in ["1", "2"] {
        let bench = larger();
        assert_eq!(bench.nest(&["--seed", seed]).code, 0);
        let without = bench.nest_file();
        let run = bench.nest(&["--seed", seed, "--kits-early"]);
        assert_eq!(run.code, 0, "{run:?}");
        let with = bench.nest_file();
        assert_eq!(stated(&with), complete(&with, &bench.kit, 6));
        assert_eq!(stated(&with), complete_by_number(&with, &bench.kit));
        assert!(
            waiting(&with, 6) <= waiting(&without, 6),
            "{with} {without}"
        );
        let choice = &with["choices"][0];
        assert_eq!(choice["option"], "--kits-early");
        assert_eq!(choice["spend_without"], without["totals"]["spend"]);
        assert_eq!(choice["spend_with"], with["totals"]["spend"]);
        assert_eq!(choice["kits_complete_without"], json!(stated(&without)));
        let more = amount(&with["totals"]["spend"]) - amount(&choice["spend_without"]);
        let said = if more.abs() < 0.005 {
            "the spend is the same".to_owned()
        } else {
            format!(
                "the spend is {:.2} EUR {}",
                more.abs(),
                if more > 0.0 { "more" } else { "less" }
            )
        };
        assert!(
            run.stdout.replace("\n  ", " ").contains(&said),
            "{said} {}",
            run.stdout
        );
    }
}

#[test]
fn batches_complete_the_first_kits_sooner_where_the_cheapest_nest_does_not() {
    // Four large panels fill a sheet, twenty-four small ones another, and half of both, one kit, a third: all cost alike.
    let mut bench = Bench::new();
    let part = |name: &str, quantity: u32, length: u32, width: u32| {
        json!({"part": name, "quantity": quantity, "material": "composite-3", "route": "router",
            "rectangle": {"length": length, "width": width}})
    };
    bench.kit["parts"] = json!([part("large", 2, 560, 370), part("small", 12, 185, 183)]);
    bench.order["kits"][0]["quantity"] = json!(8);
    bench.shop["sheets"][0]["stock"] = json!(null);
    assert_eq!(bench.nest(&["--no-remnants"]).code, 0);
    let without = waiting(&bench.nest_file(), 8);
    assert_eq!(bench.nest(&["--no-remnants", "--kits-early"]).code, 0);
    let with = waiting(&bench.nest_file(), 8);
    assert!(with < without, "{with} {without}");
}

/// Two lots of composite, the cheaper one too small for all.
fn two_lots() -> Bench {
    let mut bench = Bench::new();
    bench.order["kits"][0]["quantity"] = json!(4);
    bench.order["parts"] = json!([{"kit": "kit.json", "part": "floor", "quantity": 2}]);
    bench.shop["sheets"] = json!([
        {"id": "C1", "material": "composite-3", "length": 1200, "width": 800, "price": 40,
         "stock": 1, "lot": "L1"},
        {"id": "C2", "material": "composite-3", "length": 1200, "width": 800, "price": 41,
         "stock": 3, "lot": "L2"},
        {"id": "C3", "material": "composite-3", "length": 1200, "width": 800, "price": 44,
         "stock": 3},
        {"id": "A1", "material": "acrylic-3", "length": 900, "width": 600, "price": 30, "stock": 5}
    ]);
    bench
}

#[test]
fn one_lot_serves_all_of_a_material_in_a_kit() {
    let mut bench = two_lots();
    let mixed = |nest: &Value| lots(nest).values().filter(|lots| lots.len() > 1).count();
    // Some number of kits whose cheapest nest mixes lots: others may happen not to.
    let kits = (3..9).find(|kits| {
        bench.order["kits"][0]["quantity"] = json!(kits);
        bench.nest(&["--no-remnants"]).code == 0 && mixed(&bench.nest_file()) > 0
    });
    let kits = kits.expect("an order to tell the difference from");
    bench.remnants["remnants"] = json!([]);
    assert_eq!(bench.nest(&[]).code, 0);
    let without = bench.nest_file();
    assert!(mixed(&without) > 0, "nothing to be told from");
    for more in [
        &["--one-lot"][..],
        &["--one-lot", "--kits-early"],
        &["--one-lot", "--no-remnants"],
    ] {
        let run = bench.nest(more);
        assert_eq!(run.code, 0, "{run:?}");
        let with = bench.nest_file();
        assert_eq!(mixed(&with), 0, "{more:?} {:?}", lots(&with));
        assert_eq!(with["totals"]["kits_complete"], kits);
        assert_eq!(stated(&with), complete_by_number(&with, &bench.kit));
        let choice = &with["choices"][0];
        assert_eq!(choice["option"], "--one-lot");
        if !more.contains(&"--no-remnants") {
            assert_eq!(choice["spend_without"], without["totals"]["spend"]);
        }
    }
}

#[test]
fn one_lot_rather_leaves_a_kit_out_than_mixes() {
    let mut bench = two_lots();
    bench.remnants["remnants"] = json!([]);
    for (sheet, stock) in [(0, 1), (1, 1), (2, 0)] {
        bench.shop["sheets"][sheet]["stock"] = json!(stock);
    }
    // A kit's frame and floor take 0.38 of 0.96 m2: two kits to a sheet, not all four.
    bench.order["parts"] = json!([]);
    bench.order["kits"][0]["quantity"] = json!(5);
    let run = bench.nest(&["--one-lot"]);
    assert_eq!(run.code, 1, "{run:?}");
    let nest = bench.nest_file();
    assert!(
        lots(&nest).values().all(|lots| lots.len() == 1),
        "{:?}",
        lots(&nest)
    );
    assert_eq!(stated(&nest), complete_by_number(&nest, &bench.kit));
}

/// Two kits of which stock takes only some: big panels, four to a sheet, and a sheet or two.
fn rivals(first: i32, second: i32, sheets: u32) -> Bench {
    let mut bench = Bench::new();
    let kit = |name: &str, length: u32| {
        json!({"format": "panelwright-kit-1", "kit": name, "parts": [
            {"part": "panel", "quantity": 1, "material": "composite-3", "route": "router",
             "rectangle": {"length": length, "width": 370}},
            {"part": "slat", "quantity": 3, "material": "composite-3", "route": "router",
             "rectangle": {"length": 150, "width": 60}}]})
    };
    bench.kit = kit("first", 560);
    bench.write("second.json", &kit("second", 555).to_string());
    bench.order["kits"] = json!([
        {"kit": "kit.json", "quantity": 4, "priority": first},
        {"kit": "second.json", "quantity": 4, "priority": second}
    ]);
    bench.shop["sheets"][0]["stock"] = json!(sheets);
    bench.remnants["remnants"] = json!([]);
    bench
}

/// Kits of a name of which every part is placed.
fn whole(nest: &Value, name: &str) -> usize {
    let mut kits: BTreeMap<u64, usize> = BTreeMap::new();
    for placed in list(&nest["sheets"])
        .iter()
        .flat_map(|s| list(&s["placements"]))
    {
        if placed["kit"] == name {
            *kits.entry(number(&placed["kit_number"])).or_default() += 1;
        }
    }
    kits.values().filter(|n| **n == 4).count()
}

#[test]
fn when_stock_is_short_the_higher_priority_is_placed() {
    for (first, second, expected) in [(0, 0, (3, 0)), (0, 1, (0, 3)), (2, -1, (3, 0))] {
        let bench = rivals(first, second, 1);
        let run = bench.nest(&[]);
        assert_eq!(run.code, 1, "{run:?}");
        let nest = bench.nest_file();
        let found = (whole(&nest, "first"), whole(&nest, "second"));
        assert_eq!(found, expected, "{first} {second} {}", nest["not_placed"]);
    }
    // With three sheets to spare nothing is missing, and what has priority is cut first.
    for (first, second, kit) in [(0, 1, "second"), (1, 0, "first")] {
        let bench = rivals(first, second, 5);
        assert_eq!(bench.nest(&[]).code, 0);
        let nest = bench.nest_file();
        let on_first = list(&nest["sheets"][0]["placements"]);
        assert!(on_first.iter().any(|p| p["kit"] == kit), "{first} {second}");
    }
}

/// Two sheets for four kits, each a wall that takes nearly a sheet and slats, and for single slats.
fn walls_and_slats() -> Bench {
    let mut bench = Bench::new();
    bench.kit["parts"] = json!([
        {"part": "wall", "quantity": 1, "material": "composite-3", "route": "router",
         "rectangle": {"length": 1000, "width": 700}},
        {"part": "slat", "quantity": 4, "material": "composite-3", "route": "router",
         "rectangle": {"length": 150, "width": 120}}
    ]);
    bench.order["kits"][0]["quantity"] = json!(4);
    bench.order["parts"] = json!([{"kit": "kit.json", "part": "slat", "quantity": 40}]);
    bench.shop["sheets"][0]["stock"] = json!(2);
    bench.remnants["remnants"] = json!([]);
    bench
}

#[test]
fn whole_kits_come_before_parts_of_many() {
    // A kit takes a whole sheet less a strip: two sheets make two kits, though without that rule
    // the many small parts of all four would be the fewer to miss.
    let mut bench = walls_and_slats();
    assert_eq!(bench.nest(&[]).code, 1);
    let nest = bench.nest_file();
    assert_eq!(nest["totals"]["kits_complete"], 2, "{}", nest["not_placed"]);
    // Single parts of higher priority turn that round.
    bench.order["parts"][0]["priority"] = json!(1);
    assert_eq!(bench.nest(&[]).code, 1);
    let nest = bench.nest_file();
    let placed = list(&nest["sheets"])
        .iter()
        .flat_map(|s| list(&s["placements"]));
    let slats = placed.filter(|p| p["part"] == "slat" && p.get("kit_number").is_none());
    assert_eq!(slats.count(), 40);
}

#[test]
fn a_nest_taken_up_keeps_its_pins_and_its_whole_kits_on_short_stock() {
    let bench = walls_and_slats();
    assert_eq!(bench.nest(&[]).code, 1);
    let mut nest = bench.nest_file();
    let (kits, missing) = (
        nest["totals"]["kits_complete"].clone(),
        nest["not_placed"].clone(),
    );
    // More slats pinned than the promised kits take, so some are pinned beyond them.
    let mut pinned = Vec::new();
    for sheet in nest["sheets"].as_array_mut().expect("sheets") {
        for placed in sheet["placements"].as_array_mut().expect("placements") {
            placed["pinned"] = json!(true);
            pinned.push((placed["part"].clone(), placed["origin"].clone()));
        }
    }
    bench.write("edited.json", &nest.to_string());
    let run = bench.nest(&["--from", "edited.json"]);
    assert_eq!(run.code, 1, "{run:?}");
    let nest = bench.nest_file();
    assert_eq!(nest["totals"]["kits_complete"], kits);
    assert_eq!(nest["not_placed"], missing);
    let placed: Vec<&Value> = list(&nest["sheets"])
        .iter()
        .flat_map(|s| list(&s["placements"]))
        .filter(|p| p["pinned"] == true)
        .collect();
    assert_eq!(placed.len(), pinned.len());
    for (part, origin) in &pinned {
        assert!(
            placed
                .iter()
                .any(|p| p["part"] == *part && p["origin"] == *origin),
            "{part} {origin}"
        );
    }
}

#[test]
fn options_for_kits_do_not_go_with_a_nest_taken_up() {
    let bench = Bench::new();
    assert_eq!(bench.nest(&[]).code, 0);
    let before = bench.read("out/nest.json");
    for option in ["--kits-early", "--one-lot"] {
        let run = bench.nest(&["--from", "out/nest.json", option]);
        assert_eq!(run.code, 2, "{run:?}");
        assert!(
            run.stderr
                .contains(&format!("{option} and --from do not go together")),
            "{}",
            run.stderr
        );
        assert_eq!(bench.read("out/nest.json"), before, "nothing is written");
    }
}

#[test]
fn stock_is_kept_back_for_whole_kits_on_another_machine() {
    // The saw could use up all sheets for floors that no frame is left for.
    let mut bench = Bench::new();
    bench.kit["parts"] = json!([
        {"part": "floor", "quantity": 1, "material": "composite-3", "route": "saw",
         "rectangle": {"length": 1100, "width": 380}},
        {"part": "frame", "quantity": 1, "material": "composite-3", "route": "router",
         "rectangle": {"length": 1100, "width": 370, "corner_radius": 20}}
    ]);
    bench.order["kits"][0]["quantity"] = json!(8);
    bench.shop["sheets"][0]["stock"] = json!(4);
    bench.remnants["remnants"] = json!([]);
    assert_eq!(bench.nest(&[]).code, 1);
    let nest = bench.nest_file();
    // Two to a sheet: two sheets for the saw, two for the router.
    assert_eq!(nest["totals"]["kits_complete"], 4, "{}", nest["not_placed"]);
}

#[test]
fn the_same_bytes_with_options_on_any_number_of_threads() {
    for more in ["--kits-early", "--one-lot"] {
        let bench = two_lots();
        assert_eq!(bench.nest(&[more, "--threads", "1"]).code, 0);
        let (nest, html) = (bench.read("out/nest.json"), bench.read("out/report.html"));
        assert_eq!(bench.nest(&[more, "--threads", "2"]).code, 0);
        assert_eq!(bench.read("out/nest.json"), nest);
        assert_eq!(bench.read("out/report.html"), html);
    }
}

#[test]
fn a_priority_that_is_none_is_named() {
    for value in [json!("high"), json!(1.5), json!(3_000_000_000_u32)] {
        let mut bench = Bench::new();
        bench.order["kits"][0]["priority"] = value;
        let run = bench.nest(&[]);
        assert_eq!(run.code, 2, "{run:?}");
        assert!(
            run.stderr.contains("order.json") && run.stderr.contains("priority"),
            "{}",
            run.stderr
        );
    }
}
