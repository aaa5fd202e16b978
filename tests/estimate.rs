//! What an order costs: every cell nested, every line adding up, the same later when it is booked.

use crate::util::{Bench, Run, program, root};
use proptest::prelude::*;
use serde_json::{Value, json};

fn estimate(bench: &Bench, more: &[&str]) -> Run {
    bench.write_inputs();
    let mut args = vec!["estimate", "order.json"];
    if !more.contains(&"--effort") {
        args.extend(["--effort", "0.01"]);
    }
    args.extend(more);
    bench.run(&args)
}

fn as_json(run: &Run) -> Value {
    serde_json::from_str(&run.stdout).unwrap_or_else(|e| panic!("{e}: {run:?}"))
}

/// An amount in cents: exact, as JSON prints amounts as the decimals they are.
fn cents(amount: &Value) -> i64 {
    let text = amount.to_string();
    let (whole, part) = text.split_once('.').unwrap_or((&text, ""));
    assert!(part.len() <= 2, "{text} has more than cents");
    let sign = if whole.starts_with('-') { -1 } else { 1 };
    let whole: i64 = whole.trim_start_matches('-').parse().expect("a number");
    let part: i64 = format!("{part:0<2}").parse().expect("digits");
    sign * (100 * whole + part)
}

fn line_sum(cell: &Value) -> i64 {
    cell["lines"]
        .as_object()
        .expect("lines")
        .values()
        .map(cents)
        .sum()
}

/// What must hold in every cell of every choice.
fn adds_up(value: &Value) {
    for choice in value["choices"].as_array().expect("choices") {
        let Some(cells) = choice["cells"].as_array() else {
            assert!(choice["refused"].is_string(), "{choice}");
            continue;
        };
        let mut before: Option<&Value> = None;
        for cell in cells {
            let cost = cents(&cell["cost"]);
            assert_eq!(line_sum(cell), cost, "{cell}");
            assert_eq!(
                cost + cents(&cell["margin"]),
                cents(&cell["price"]),
                "{cell}"
            );
            let quantity = cell["quantity"].as_i64().expect("a number");
            assert_eq!(cents(&cell["unit_price"]) * quantity, cents(&cell["price"]));
            let shares = cell["shares"]["parts"].as_array().expect("shares");
            let shared: i64 = shares.iter().map(|s| cents(&s["amount"])).sum();
            assert_eq!(shared, cost, "{cell}");
            if let Some(before) = before {
                assert!(cents(&before["cost"]) <= cost, "{before} {cell}");
            }
            before = Some(cell);
        }
        // Where the unit cost rises, the step names what it comes from.
        for step in choice["steps"].as_array().expect("steps") {
            if step["rises"] == true {
                let words = step["because_of"].as_str().expect("words");
                assert!(words.contains("most by the line"), "{step}");
            }
        }
    }
}

#[test]
fn the_demo_order_is_estimated_in_three_materials() {
    let run = |more: &[&str]| -> Run {
        let mut command = program();
        command.current_dir(root()).args([
            "estimate",
            "demo-data/cabinet-order.json",
            "--quantities",
            "1,3",
            "--effort",
            "0.005",
        ]);
        command
            .args(more)
            .output()
            .expect("the program starts")
            .into()
    };
    let first = run(&["--json", "--threads", "1"]);
    assert_eq!(first.code, 0, "{first:?}");
    assert_eq!(first.stdout, run(&["--json", "--threads", "2"]).stdout);
    let value = as_json(&first);
    adds_up(&value);
    let choices = value["choices"].as_array().expect("choices");
    let labels: Vec<&str> = choices.iter().filter_map(|c| c["label"].as_str()).collect();
    assert_eq!(
        labels,
        ["composite-3-white", "acrylic-6-white", "aluminium-2-white"]
    );
    for choice in choices {
        assert_eq!(
            choice["cells"].as_array().map(Vec::len),
            Some(2),
            "{choice}"
        );
    }
    // 6 mm acrylic has 77 % of the stiffness of 3 mm composite with 0.3 mm skins: (6 / 6.54)^3.
    let hints = choices[1]["hints"].to_string();
    assert!(hints.contains("77 % of the bending stiffness"), "{hints}");
    assert!(hints.contains("as stiff would be 6.5 mm"), "{hints}");
    assert!(hints.contains("Thickness 3 to 6 mm"), "{hints}");
    assert!(!value["placeholders"].as_array().expect("a list").is_empty());

    let said = run(&["--every-line"]).stdout;
    for line in said.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for words in [
        "Router:",
        "Laser:",
        "Panel saw:",
        "NIOSH",
        "local codes",
        "placeholder",
    ] {
        assert!(
            said.to_lowercase().contains(&words.to_lowercase()),
            "{words}: {said}"
        );
    }
}

#[test]
fn a_nest_costs_the_same_when_it_is_booked() {
    let mut bench = Bench::new();
    // One tray: its frame fits on a remnant, so that a sheet less is taken.
    bench.order["kits"][0]["quantity"] = json!(1);
    let run = estimate(&bench, &["--json", "--out", "quote"]);
    assert_eq!(run.code, 0, "{run:?}");
    let value = as_json(&run);
    adds_up(&value);
    let cell = &value["choices"][0]["cells"][0];
    assert!(
        !cell["remnants"].as_array().expect("a list").is_empty(),
        "{cell}"
    );
    let nest = "quote/cells/choice-1-quantity-1/nest.json";
    let cost = || as_json(&bench.run(&["estimate", "order.json", "--nest", nest, "--json"]));
    let before = cost();
    assert_eq!(before["cost"], cell["cost"]);
    assert_eq!(before["lines"], cell["lines"]);
    assert_eq!(before["kits"], json!(1));

    let booked = bench.run(&["book", nest, "--shop", "shop.json", "--json"]);
    assert_eq!(booked.code, 0, "{booked:?}");
    assert_eq!(cost(), before);
    // The rack values the new remnants as the estimate valued the offcuts.
    let mut worth = 0.0;
    for offcut in as_json(&booked)["offcuts"].as_array().expect("offcuts") {
        let id = offcut["remnant"].as_str().expect("an id");
        let shown = bench.run(&["rack", "show", id, "--shop", "shop.json", "--json"]);
        worth += as_json(&shown)["value"].as_f64().expect("a value");
    }
    let offcuts = cell["lines"]
        .get("offcuts")
        .map_or(0.0, |v| -v.as_f64().expect("a number"));
    assert!(
        (worth - offcuts).abs() < 0.005 + 1e-9,
        "{worth} and {offcuts}"
    );
}

#[test]
fn every_form_says_the_same_amounts() {
    let bench = Bench::new();
    let run = estimate(&bench, &["--quantities", "1-3", "--out", "quote", "--csv"]);
    assert_eq!(run.code, 0, "{run:?}");
    let value: Value = serde_json::from_str(&bench.read("quote/estimate.json")).expect("JSON");
    adds_up(&value);
    assert_eq!(run.stdout, bench.read("quote/estimate.csv"));
    let (text, html) = (
        bench.read("quote/estimate.txt"),
        bench.read("quote/estimate.html"),
    );
    for cell in value["choices"][0]["cells"].as_array().expect("cells") {
        let quantity = cell["quantity"].to_string();
        let mut sum = 0;
        for row in run.stdout.lines().skip(1) {
            let columns: Vec<&str> = row.split(',').collect();
            if columns[2] == quantity && columns[4] == "line" {
                sum += cents(&serde_json::from_str(columns[5]).expect("an amount"));
            }
        }
        assert_eq!(sum, cents(&cell["cost"]));
        let cost = cents(&cell["cost"]);
        let printed = format!("{}.{:02}", cost / 100, cost % 100);
        assert!(
            text.contains(&printed) && html.contains(&printed),
            "{printed}"
        );
        let folder = format!("quote/cells/choice-1-quantity-{quantity}");
        let report = bench.read(&format!("{folder}/report.html"));
        assert!(report.contains("parts are placed"));
        assert!(html.contains(&format!(
            "{}/report.html",
            folder.trim_start_matches("quote/")
        )));
    }
    assert!(html.contains("<polyline"), "the curve is drawn");
    // A second estimate takes the first one's place; a nest is not covered.
    assert_eq!(estimate(&bench, &["--out", "quote"]).code, 0);
    assert_eq!(bench.nest(&[]).code, 0);
    let run = estimate(&bench, &["--out", "out"]);
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.stderr.contains("name another folder"), "{run:?}");
    assert!(
        !bench
            .listing()
            .iter()
            .any(|f| f.starts_with("out/estimate"))
    );
}

#[test]
fn a_material_that_a_machine_must_not_cut_is_refused_in_its_row() {
    let mut bench = Bench::new();
    bench.kit["parts"][3] = json!({"part": "lid", "quantity": 1, "role": "lid", "route": "laser",
        "rectangle": {"length": 300, "width": 200}});
    bench.order["roles"]["lid"] = json!("acrylic-3");
    bench.order["alternatives"] = json!({"lid": ["composite-3"]});
    let run = estimate(
        &bench,
        &["--quantities", "2", "--swap", "board=vinyl-3", "--json"],
    );
    assert_eq!(run.code, 1, "{run:?}");
    let value = as_json(&run);
    adds_up(&value);
    let refused = |i: usize| {
        value["choices"][i]["refused"]
            .as_str()
            .expect("refused")
            .to_owned()
    };
    assert!(
        refused(1).contains("never sent to the laser"),
        "{}",
        refused(1)
    );
    assert!(refused(2).contains("hydrogen chloride"), "{}", refused(2));
    let said = estimate(&bench, &["--quantities", "2"]);
    assert!(said.stdout.contains("composite-3: no."), "{said:?}");
}

#[test]
fn what_ifs_are_told_line_by_line() {
    let bench = Bench::new();
    let run = estimate(
        &bench,
        &[
            "--quantities",
            "2",
            "--what-if",
            "price:C1=50",
            "--what-if",
            "no-offcuts,no-remnants",
            "--what-if",
            "machine:router=laser",
            "--what-if",
            "sheet:composite-3=1500x1000@45",
            "--json",
        ],
    );
    assert_eq!(run.code, 0, "{run:?}");
    let value = as_json(&run);
    let cell = |i: usize| &value["what_ifs"][i]["cells"][0];
    let sheets = cell(0)["sheets"]["C1"].as_i64().unwrap_or(0);
    let acrylic = cell(0)["sheets"]["A1"].as_i64().unwrap_or(0);
    let line = cell(0)["lines"].get("sheets").map_or(0, cents);
    assert_eq!(line, 5_000 * sheets + 3_000 * acrylic);
    assert!(cell(1)["lines"].get("offcuts").is_none(), "{}", cell(1));
    assert!(cell(1)["lines"].get("remnants").is_none(), "{}", cell(1));
    assert_eq!(line_sum(cell(1)), cents(&cell(1)["cost"]));
    let refused = value["what_ifs"][2]["refused"].as_str().expect("refused");
    assert!(refused.contains("never sent to the laser"), "{refused}");
    assert!(cell(3)["cost"].is_number());
    let said = estimate(&bench, &["--what-if", "no-offcuts"]);
    assert!(said.stdout.contains("What if no-offcuts\n"), "{said:?}");
    let size = "sheet:composite-3=1500x1000@45";
    let said = estimate(&bench, &["--what-if", size]);
    assert!(
        said.stdout.contains(&format!("What if {size} (mm)")),
        "{said:?}"
    );
}

#[test]
fn what_the_shop_sets_is_no_placeholder() {
    let mut bench = Bench::new();
    bench.shop["costing"] = json!({"margin": 0.2, "packing_per_kit": 5.0,
        "machines": {"router": {"per_hour": 60.0, "set_up_minutes": 30.0}},
        "materials": {"composite-3": {"cutting": {"router":
            {"rpm": 18000, "flutes": 2, "chip_load_mm": 0.1, "start_seconds": 0.0}}}}});
    bench.shop["labour"] = json!({"machining_per_hour": 0.0, "bench_per_hour": 30.0});
    let run = estimate(&bench, &["--quantities", "1", "--json"]);
    assert_eq!(run.code, 0, "{run:?}");
    let value = as_json(&run);
    let open = value["placeholders"].to_string();
    for set in [
        "margin",
        "packing material",
        "operator",
        "router: set-up",
        "on router: speed",
    ] {
        assert!(!open.contains(set), "{set} in {open}");
    }
    assert!(open.contains("laser: set-up"), "{open}");
    // One kit routes a frame of 500 x 400 with a window of 400 x 300 and corners of 10 mm, and two plates of
    // 120 x 80, corners of 8 mm, each with a hole of 6 mm, at 3600 mm a minute and 60 an hour: one a minute.
    let pi = std::f64::consts::PI;
    let rounded = |a: f64, b: f64, r: f64| 2.0 * (a + b) - 8.0 * r + 2.0 * pi * r;
    let length =
        1_800.0 + rounded(400.0, 300.0, 10.0) + 2.0 * (rounded(120.0, 80.0, 8.0) + 6.0 * pi);
    let expected = (length / 3_600.0 * 100.0).round() as i64;
    let cell = &value["choices"][0]["cells"][0];
    assert_eq!(cents(&cell["lines"]["router"]), expected, "{cell}");
    // 1 - 0.2: the price is the cost over 0.8, rounded up to the cent.
    let (cost, price) = (cents(&cell["cost"]), cents(&cell["price"]));
    assert_eq!(price, (cost * 10 + 7) / 8);
}

#[test]
fn a_buying_list_counts_stock_and_lots() {
    let mut bench = Bench::new();
    bench.shop["sheets"][0]["stock"] = json!(1);
    bench.shop["costing"] = json!({"buying": {"C1": {"least": 5, "multiple": 5}}});
    let mut second = bench.order.clone();
    second["order"] = json!("T-2");
    second["kits"][0]["quantity"] = json!(3);
    bench.write("second.json", &second.to_string());
    for twice in ["order.json", "./order.json", "same.json"] {
        bench.write("same.json", &bench.order.to_string());
        let run = estimate(&bench, &["--buy", "--also", "second.json", "--also", twice]);
        assert_eq!(run.code, 2, "{run:?}");
        assert!(
            run.stderr.contains("'T-1' is on the list already"),
            "{run:?}"
        );
    }
    let run = estimate(&bench, &["--buy", "--also", "second.json", "--json"]);
    assert_eq!(run.code, 0, "{run:?}");
    let value = as_json(&run);
    assert_eq!(value["orders"], json!(["T-1", "T-2"]));
    let lines = value["sheets"].as_array().expect("sheets");
    let sum: i64 = lines.iter().map(|l| cents(&l["amount"])).sum();
    assert_eq!(sum, cents(&value["outlay"]));
    for line in lines {
        let number = |key: &str| line[key].as_i64().expect("a number");
        assert!(
            number("stock") + number("buy") >= number("needed"),
            "{line}"
        );
        assert_eq!(
            number("left"),
            number("stock") + number("buy") - number("needed")
        );
        if line["sheet"] == "C1" {
            assert_eq!(number("buy") % 5, 0, "{line}");
        }
    }
    let said = estimate(&bench, &["--buy"]).stdout;
    assert!(said.contains("To pay"), "{said}");
}

#[test]
fn fewer_lots_and_another_size_are_tried() {
    let mut bench = Bench::new();
    // A sheet holds one of them, so the list can be worked out by hand.
    bench.kit["parts"] = json!([{"part": "board", "quantity": 1, "material": "composite-3", "route": "router",
        "rectangle": {"length": 1100, "width": 700}}]);
    bench.order["kits"][0]["quantity"] = json!(7);
    let sheet = |id: &str, price: f64, stock: u32| json!({"id": id, "material": "composite-3", "length": 1200, "width": 800, "price": price, "stock": stock});
    bench.shop["sheets"] = json!([sheet("C1", 40.0, 1), sheet("C2", 50.0, 0)]);
    bench.shop["costing"] = json!({"buying": {"C1": {"multiple": 5}}});
    let value = as_json(&estimate(&bench, &["--buy", "--json"]));
    // Seven are needed: one in stock, and ten at 40 are 400, six at 50 are 300, five at 40 and one at 50 are 250.
    assert_eq!(cents(&value["outlay"]), 25_000, "{value:#}");
    assert_eq!(value["tried"], json!([{"without": "C1", "outlay": 300.0}]));
}

#[test]
fn a_buying_list_is_the_same_whichever_order_comes_first() {
    let mut bench = Bench::new();
    bench.shop["sheets"][0]["stock"] = json!(6);
    bench.write_inputs();
    let mut second = bench.order.clone();
    second["order"] = json!("T-2");
    second["kits"][0]["quantity"] = json!(3);
    bench.write("second.json", &second.to_string());
    for held in ["C1:6", "R-0002"] {
        let run = bench.run(&[
            "rack",
            "hold",
            held,
            "--order",
            "T-2",
            "--shop",
            "shop.json",
        ]);
        assert_eq!(run.code, 0, "{run:?}");
    }
    let list = |first: &str, also: &[&str]| {
        let mut args = vec!["estimate", first, "--buy", "--json", "--effort", "0.05"];
        args.extend(also.iter().flat_map(|order| ["--also", order]));
        let run = bench.run(&args);
        assert_eq!(run.code, 0, "{run:?}");
        as_json(&run)
    };
    let mut one = list("order.json", &["second.json"]);
    let mut other = list("second.json", &["order.json"]);
    assert_eq!(one["orders"], json!(["T-1", "T-2"]));
    assert_eq!(other["orders"], json!(["T-2", "T-1"]));
    for list in [&mut one, &mut other] {
        list["orders"].take();
    }
    assert_eq!(one, other);
    // The sheets that are held for the second order serve it, and what is left of them the first.
    let of = |list: &Value, sheet: &str, key: &str| {
        let lines = list["sheets"].as_array().expect("sheets").iter();
        let line = lines.filter(|l| l["sheet"] == sheet);
        line.map(|l| l[key].as_u64()).next().flatten()
    };
    assert_eq!(of(&one, "C1", "stock"), Some(6), "{one:#}");
    assert_eq!(of(&one, "C1", "buy"), Some(0), "{one:#}");
    // Alone, the first order has nothing of it.
    let alone = list("order.json", &[]);
    assert_eq!(of(&alone, "C1", "stock"), Some(0), "{alone:#}");
    assert_ne!(of(&alone, "C1", "buy"), Some(0), "{alone:#}");
    // What others hold is told.
    assert_eq!(of(&alone, "C1", "held"), Some(6), "{alone:#}");
    assert_eq!(of(&one, "C1", "held"), Some(0), "{one:#}");
    let text = bench
        .run(&["estimate", "order.json", "--buy", "--effort", "0.05"])
        .stdout;
    assert!(
        text.contains("of sheet C1 6 are held for other orders"),
        "{text}"
    );
    assert!(
        text.contains(" Free ") && !text.contains("In stock"),
        "{text}"
    );
}

#[test]
fn bad_questions_are_refused_whole() {
    let mut bench = Bench::new();
    for (args, part) in [
        (vec!["--quantities", "0"], "no quantity"),
        (vec!["--quantities", "5-2"], "backwards"),
        (vec!["--quantities", "100000"], "at most 200000 parts"),
        (vec!["--swap", "board"], "has no '='"),
        (vec!["--swap", "boart=composite-3"], "board"),
        (vec!["--swap", "board=composite-4"], "composite-3"),
        (vec!["--what-if", "price:C2=3"], "no sheet is called 'C2'"),
        (vec!["--what-if", "cheaper"], "'cheaper' is not known"),
        (
            vec!["--what-if", "role:bord=acrylic-3"],
            "no role of the order is called 'bord' in 'role:bord=acrylic-3'; did you mean 'board'?",
        ),
        (
            vec!["--what-if", "role:="],
            "no role of the order is called ''",
        ),
        // An offer in inches: 48 x 32 mm is smaller than any part, the frame's plate of 120 x 80 included.
        (
            vec!["--what-if", "no-offcuts,sheet:composite-3=48x32@45"],
            "a sheet of 48 x 32 mm holds no part of composite-3",
        ),
        (
            vec!["--what-if", "sheet:composite-3=48x32@45"],
            "lengths are in millimetres",
        ),
        (
            vec!["--what-if", "sheet:vinyl-3=900x600@5"],
            "no part is of vinyl-3",
        ),
        (vec!["--effort", "0"], "the effort is 0"),
        (vec!["--threads", "0"], "threads is 0"),
    ] {
        let mut all = args.clone();
        all.extend(["--out", "quote"]);
        let run = estimate(&bench, &all);
        assert_eq!(run.code, 2, "{args:?} {run:?}");
        assert!(run.stderr.contains(part), "{args:?} {run:?}");
        assert!(run.stdout.is_empty());
    }
    for (costing, part) in [
        (
            json!({"machines": {"rooter": {}}}),
            "no machine is called 'rooter'",
        ),
        (
            json!({"materials": {"composite-3": {"cutting": {"router": {"rpm": 18000}}}}}),
            "in part",
        ),
        (json!({"margin": 1.0}), "the margin is 1"),
        (json!({"learning": 0.2}), "learning rate is 0.2"),
        (json!({"decimals": 9}), "9 decimals"),
        (json!({"packing_per_kit": -1}), "the value is -1"),
        (
            json!({"buying": {"C1": {"least": 0}}}),
            "number of sheets is 0",
        ),
        (json!({"marjin": 0.1}), "margin"),
    ] {
        bench.shop["costing"] = costing;
        let run = estimate(&bench, &["--out", "quote"]);
        assert_eq!(run.code, 2, "{run:?}");
        assert!(run.stderr.contains(part), "{part}: {run:?}");
    }
    assert!(!bench.listing().iter().any(|f| f.starts_with("quote")));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(6))]

    #[test]
    fn a_remnant_more_never_raises_the_estimate(
        sizes in prop::collection::vec((80_u32..900, 60_u32..600), 1..4),
        acrylic in any::<bool>(),
    ) {
        let mut bench = Bench::new();
        let material = if acrylic { "acrylic-3" } else { "composite-3" };
        bench.remnants["remnants"] = json!([]);
        let mut before = None;
        for n in 0..=sizes.len() {
            let list: Vec<Value> = sizes[..n]
                .iter()
                .enumerate()
                .map(|(i, (l, w))| json!({"id": format!("R-{:04}", i + 1), "material": material,
                    "length": l, "width": w}))
                .collect();
            bench.remnants["remnants"] = json!(list);
            let run = estimate(&bench, &["--quantities", "1,2,3", "--json"]);
            prop_assert_eq!(run.code, 0, "{:?}", run);
            let value = as_json(&run);
            adds_up(&value);
            let cells = value["choices"][0]["cells"].as_array().expect("cells");
            let costs: Vec<i64> = cells.iter().map(|c| cents(&c["cost"])).collect();
            if let Some(before) = before {
                let before: Vec<i64> = before;
                for (now, then) in costs.iter().zip(&before) {
                    prop_assert!(now <= then, "{:?} after {:?} with {:?}", costs, before, list);
                }
            }
            before = Some(costs);
        }
    }

    #[test]
    fn more_cost_no_less_and_multiples_no_more_each(
        length in 100_u32..700,
        width in 80_u32..500,
        price in 5_u32..90,
    ) {
        let mut bench = Bench::new();
        bench.remnants["remnants"] = json!([]);
        bench.shop["sheets"][0]["price"] = json!(price);
        bench.kit["parts"] = json!([{"part": "board", "quantity": 1, "material": "composite-3",
            "route": "router", "rectangle": {"length": length, "width": width}}]);
        let run = estimate(&bench, &["--quantities", "1-6", "--json"]);
        prop_assert_eq!(run.code, 0, "{:?}", run);
        let value = as_json(&run);
        adds_up(&value);
        let cells = value["choices"][0]["cells"].as_array().expect("cells");
        let cost = |n: usize| cents(&cells[n - 1]["cost"]);
        // A larger quantity may be put together from smaller ones; each line is rounded, 12 at most.
        for (small, times) in [(1, 2), (1, 3), (2, 2), (2, 3), (3, 2)] {
            let (n, many) = (small * times, cost(small * times));
            prop_assert!(many <= times as i64 * cost(small) + 12, "{} of {}: {}", n, small, many);
        }
    }
}

#[test]
fn without_offcuts_nothing_is_kept_that_is_cut_often_either() {
    let mut bench = Bench::new();
    bench.shop["materials"][0]["keep"]["cut_often"] =
        json!([{"part": "plate", "length": 120, "width": 80, "copies": 4}]);
    bench.write_inputs();
    let value = as_json(&estimate(&bench, &["--what-if", "no-offcuts", "--json"]));
    let kept = |choices: &str| value[choices][0]["cells"][0]["offcuts_kept"].clone();
    assert_ne!(kept("choices"), json!(0), "{value}");
    assert_eq!(kept("what_ifs"), json!(0), "{value}");
}

#[test]
fn a_nest_whose_outlines_are_none_is_refused() {
    let bench = Bench::new();
    assert_eq!(bench.nest(&[]).code, 0);
    let nest = bench.nest_file();
    for (at, what) in [
        ("/sheets/0/outline", "the sheet has 0"),
        ("/sheets/0/placements/0/outline", "copy"),
    ] {
        let mut broken = nest.clone();
        *broken.pointer_mut(at).expect(at) = json!([]);
        bench.write("broken.json", &broken.to_string());
        let run = bench.run(&["estimate", "order.json", "--nest", "broken.json"]);
        assert_eq!(run.code, 2, "{run:?}");
        assert!(
            run.stderr.contains("broken.json") && run.stderr.contains(what),
            "{run:?}"
        );
    }
}
