//! Papers in other languages and units: what changes, and what must not.

use crate::util::Bench;
use serde_json::json;

/// The file of cuts with this ending, of the first sheet.
fn cut_file(bench: &Bench) -> String {
    bench.read("out/cut/sheet-01.dxf")
}

#[test]
fn papers_follow_the_options_and_cut_files_do_not() {
    let bench = Bench::new();
    let run = bench.nest(&[]);
    assert_eq!(run.code, 0, "{run:?}");
    let (nest, cut) = (bench.read("out/nest.json"), cut_file(&bench));
    assert!(bench.read("out/report.html").contains("<html lang=\"en\">"));

    let run = bench.nest(&["--language", "de", "--lengths", "inch/16"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.stdout.contains("Ausbeute"), "{}", run.stdout);
    let report = bench.read("out/report.txt");
    assert!(report.contains("Maß, in"), "{report}");
    assert!(report.contains("Schnittfuge"), "{report}");
    assert!(!report.contains(" mm"), "{report}");
    let html = bench.read("out/report.html");
    assert!(html.contains("<html lang=\"de\">"));
    assert!(html.contains("Maße in Zoll"));
    assert_eq!(bench.read("out/nest.json"), nest);
    assert_eq!(cut_file(&bench), cut);
}

#[test]
fn the_shop_file_sets_them_and_an_option_overrules_it() {
    let mut bench = Bench::new();
    bench.shop["papers"] = json!({"language": "de", "lengths": "inch"});
    assert_eq!(bench.nest(&[]).code, 0);
    let report = bench.read("out/report.txt");
    assert!(report.contains("Nettoausbeute"), "{report}");
    assert!(report.contains("Maß, in"), "{report}");

    assert_eq!(bench.nest(&["--language", "en"]).code, 0);
    let report = bench.read("out/report.txt");
    assert!(report.contains("Net yield"), "{report}");
    assert!(report.contains("Size, in"), "{report}");
}

#[test]
fn what_is_no_language_or_unit_is_refused() {
    let mut bench = Bench::new();
    let run = bench.nest(&["--lengths", "inch/12"]);
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.stderr.contains("inch/16"), "{}", run.stderr);
    bench.shop["papers"] = json!({"language": "xx"});
    let run = bench.nest(&[]);
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.stderr.contains("papers"), "{}", run.stderr);
    assert!(!bench.path("out").exists());
}
