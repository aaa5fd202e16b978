//! Steps that tests of the rack have in common.

use crate::util::{Bench, Run};
use serde_json::Value;

/// Runs `panelwright rack` on the shop of the bench.
pub fn rack(bench: &Bench, args: &[&str]) -> Run {
    let mut all = vec!["rack"];
    all.extend(args);
    all.extend(["--shop", "shop.json"]);
    bench.run(&all)
}

/// What it answers to programs.
pub fn answer(bench: &Bench, args: &[&str]) -> Value {
    let mut all = args.to_vec();
    all.push("--json");
    let run = rack(bench, &all);
    assert!(run.code < 2, "{args:?}: {run:?}");
    serde_json::from_str(&run.stdout).unwrap_or_else(|e| panic!("{e}: {run:?}"))
}

/// What a run printed that went well.
pub fn done(run: &Run) -> &str {
    assert_eq!(run.code, 0, "{run:?}");
    &run.stdout
}

/// A run that was refused, with these words.
pub fn refused(run: &Run, words: &[&str]) {
    assert_eq!(run.code, 2, "{run:?}");
    for word in words {
        assert!(
            run.stderr.contains(word),
            "'{word}' is not in: {}",
            run.stderr
        );
    }
}

/// What stands on the rack.
pub fn ids(bench: &Bench) -> Vec<String> {
    let list = answer(bench, &["list"]);
    let rows = list["remnants"].as_array().expect("rows");
    rows.iter()
        .map(|r| r["id"].as_str().expect("id").to_owned())
        .collect()
}

/// The whole look through the file finds nothing.
pub fn sound(bench: &Bench) {
    let run = rack(bench, &["check"]);
    assert!(done(&run).contains("The rack is sound."), "{run:?}");
}

/// A bench whose small order has been nested.
pub fn nested(more: &[&str]) -> Bench {
    let bench = Bench::new();
    done(&bench.nest(more));
    bench
}

/// Remnants that a nest takes.
pub fn taken(nest: &Value) -> Vec<String> {
    let sheets = nest["sheets"].as_array().expect("sheets");
    let remnants = sheets.iter().filter(|s| s["source"]["kind"] == "remnant");
    remnants
        .map(|s| s["source"]["id"].as_str().expect("id").to_owned())
        .collect()
}
