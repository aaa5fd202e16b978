//! What people see: colour, progress and errors on a terminal, pictures, manual pages, completions.

use crate::util::{Bench, program, root};
use serde_json::{Value, json};
use std::process::Command;

const ESCAPE: char = '\u{1b}';

/// What the program writes to a terminal of its own, without waiting for anybody to type.
#[cfg(unix)]
fn on_terminal(bench: &Bench, args: &[&str], set: &[(&str, &str)]) -> String {
    let mut command = program();
    command.current_dir(bench.path("")).args(args);
    command.env_remove("NO_COLOR").env("TERM", "xterm-256color");
    command.envs(set.iter().copied());
    let mut session = rexpect::session::spawn_command(command, Some(60_000)).expect("a terminal");
    session.exp_eof().expect("the program ends")
}

#[cfg(unix)]
#[test]
fn colour_is_for_terminals_and_can_be_forbidden() {
    let bench = Bench::new();
    bench.write_inputs();
    let nest = ["nest", "order.json", "--out", "out", "--effort", "0.1"];
    // The progress bar moves the cursor; the answer follows it.
    let answer = |said: &str| said[said.find("Order T-1").expect("an answer")..].to_owned();
    let coloured = answer(&on_terminal(&bench, &nest, &[]));
    assert!(coloured.contains(ESCAPE), "{coloured}");
    for set in [("NO_COLOR", "1"), ("TERM", "dumb")] {
        let plain = answer(&on_terminal(&bench, &nest, &[set]));
        assert!(!plain.contains(ESCAPE), "{set:?}: {plain}");
    }
    // An empty one does not count (no-color.org).
    let coloured = answer(&on_terminal(&bench, &nest, &[("NO_COLOR", "")]));
    assert!(coloured.contains(ESCAPE), "{coloured}");
    let mut piped = program();
    piped.current_dir(bench.path("")).args(nest);
    piped.env_remove("NO_COLOR").env("TERM", "xterm-256color");
    let output = piped.output().expect("the program starts");
    for bytes in [output.stdout, output.stderr] {
        assert!(!String::from_utf8_lossy(&bytes).contains(ESCAPE));
    }
}

#[cfg(unix)]
#[test]
fn progress_tells_what_is_left_and_leaves_nothing_behind() {
    let bench = Bench::new();
    bench.write_inputs();
    let nest = ["nest", "order.json", "--out", "out", "--seconds", "1.5"];
    let said = on_terminal(&bench, &nest, &[]);
    for words in ["nesting", "0:01 left", "spend ", "floor "] {
        assert!(said.contains(words), "{words}: {said:?}");
    }
    for quiet in [["--quiet"], ["--json"]] {
        let said = on_terminal(&bench, &[&nest[..], &quiet].concat(), &[]);
        assert!(!said.contains("nesting"), "{said:?}");
        assert!(!said.contains(ESCAPE), "{said:?}");
    }
    let said = on_terminal(&bench, &nest, &[("TERM", "dumb")]);
    assert!(!said.contains("nesting"), "{said:?}");
}

#[cfg(unix)]
#[test]
fn an_error_on_a_terminal_has_its_hint_on_a_line_of_its_own() {
    let bench = Bench::new();
    let nest = ["nest", "none.json", "--out", "out"];
    let said = on_terminal(&bench, &nest, &[("NO_COLOR", "1")]);
    let lines: Vec<&str> = said.lines().map(str::trim_end).collect();
    assert_eq!(lines.len(), 2, "{said:?}");
    assert!(lines[0].starts_with("error: none.json"), "{said:?}");
    assert!(lines[1].starts_with(" hint: "), "{said:?}");
    let coloured = on_terminal(&bench, &nest, &[]);
    assert!(coloured.contains(ESCAPE), "{coloured:?}");
}

#[test]
fn errors_for_programs_are_json() {
    let bench = Bench::new();
    bench.write_inputs();
    for (args, place) in [
        (&["check", "none.json", "--json"][..], "none.json"),
        (
            &[
                "nest",
                "order.json",
                "--json",
                "--out",
                "out",
                "--effort",
                "-1",
            ],
            "--effort",
        ),
        (
            &["rack", "list", "--shop", "none.json", "--json"],
            "none.json",
        ),
        (&["nest", "order.json", "--json", "--sed", "1"], ""),
    ] {
        let run = bench.run(args);
        assert_eq!(run.code, 2, "{run:?}");
        assert_eq!(run.stdout, "");
        let said: Value = serde_json::from_str(&run.stderr).expect("JSON");
        let error = &said["error"];
        assert!(
            error["place"].as_str().unwrap().starts_with(place),
            "{said}"
        );
        assert!(!error["what"].as_str().unwrap().is_empty(), "{said}");
        assert!(!error["advice"].as_str().unwrap().is_empty(), "{said}");
    }
}

#[test]
fn quiet_is_for_every_command() {
    let bench = Bench::new();
    bench.write_inputs();
    assert_eq!(bench.nest(&["--quiet"]).stdout, "");
    for args in [
        &["check", "order.json", "--quiet"][..],
        &["book", "out/nest.json", "--shop", "shop.json", "-q"],
        &["rack", "list", "--shop", "shop.json", "--quiet"],
        &["-q", "rack", "check", "--shop", "shop.json"],
        &["estimate", "order.json", "--effort", "0.01", "--quiet"],
    ] {
        let run = bench.run(args);
        assert_eq!(run.code, 0, "{run:?}");
        assert_eq!(
            (run.stdout.as_str(), run.stderr.as_str()),
            ("", ""),
            "{args:?}"
        );
        // What a program asked for is there all the same.
        let json = bench.run(&[args, &["--json"]].concat());
        if args[0] != "book" {
            assert!(
                serde_json::from_str::<Value>(&json.stdout).is_ok(),
                "{json:?}"
            );
        }
    }
    assert!(
        bench
            .run(&["check", "none.json", "-q"])
            .stderr
            .contains("none.json")
    );
}

/// Width and height of a PNG (ISO/IEC 15948, 11.2.2: IHDR comes first).
fn png_size(bytes: &[u8]) -> (u32, u32) {
    assert_eq!(&bytes[..8], b"\x89PNG\r\n\x1a\n");
    let number = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes"));
    (number(16), number(20))
}

#[test]
fn pictures_of_sheets() {
    let mut bench = Bench::new();
    bench.order["kits"][0]["quantity"] = json!(3);
    bench.write_inputs();
    let nest = |more: &[&str]| {
        let args = ["nest", "order.json", "--out", "out", "--effort", "0.02"];
        bench.run(&[&args[..], more].concat())
    };
    let run = nest(&["--preview"]);
    assert_eq!(run.code, 0, "{run:?}");
    assert!(run.stdout.contains("preview/"), "{}", run.stdout);
    let sheets = bench.nest_file()["sheets"].as_array().unwrap().len();
    let pictures = |bench: &Bench| -> Vec<String> {
        let all = bench.listing();
        all.into_iter()
            .filter(|n| n.starts_with("out/preview/"))
            .collect()
    };
    let wanted: Vec<String> = (1..=sheets)
        .map(|n| format!("out/preview/sheet-{n:02}.png"))
        .collect();
    assert_eq!(pictures(&bench), wanted);
    let first = std::fs::read(bench.path(&wanted[0])).unwrap();
    assert_eq!(png_size(&first).0, 1600);
    // The same bytes again, on one thread.
    nest(&["--preview", "--threads", "1"]);
    assert_eq!(std::fs::read(bench.path(&wanted[0])).unwrap(), first);
    nest(&["--preview", "--preview-width", "800"]);
    let small = std::fs::read(bench.path(&wanted[0])).unwrap();
    assert_eq!(png_size(&small).0, 800);
    // Pictures of another nest would be wrong; a file of somebody else's stays.
    bench.write("out/preview/note.txt", "mine");
    nest(&[]);
    assert_eq!(pictures(&bench), ["out/preview/note.txt"]);
    for width in ["399", "6001", "-1", "x"] {
        let run = nest(&["--preview", "--preview-width", width]);
        assert_eq!(run.code, 2, "{run:?}");
        assert!(run.stderr.contains("--preview-width"), "{}", run.stderr);
    }
}

#[test]
fn bash_takes_the_completions() {
    let script = Bench::new().run(&["completions", "bash"]);
    assert_eq!(script.code, 0, "{script:?}");
    let bench = Bench::new();
    bench.write("completions.bash", &script.stdout);
    let ask = "set -eu; source ./completions.bash; COMP_WORDS=(panelwright ne); COMP_CWORD=1; \
               _panelwright panelwright ne panelwright; echo \"${COMPREPLY[@]}\"";
    let Ok(output) = Command::new("bash")
        .current_dir(bench.path(""))
        .args(["--norc", "-c", ask])
        .output()
    else {
        // No bash here; the script is looked at in a unit test.
        return;
    };
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert_eq!(said.trim(), "nest");
    assert_eq!(bench.run(&["completions", "tcsh"]).code, 2);
}

#[test]
fn manual_pages_can_be_read() {
    let bench = Bench::new();
    let run = bench.run(&["man", "--out", "pages"]);
    assert_eq!(run.code, 0, "{run:?}");
    let pages: Vec<String> = bench.listing();
    assert!(pages.len() > 20, "{pages:?}");
    for page in [
        "panelwright",
        "panelwright-nest",
        "panelwright-rack",
        "panelwright-rack-list",
    ] {
        assert!(pages.contains(&format!("pages/{page}.1")), "{page}");
    }
    // The same again over the old ones.
    assert_eq!(bench.run(&["man", "--out", "pages"]).code, 0);
    assert_eq!(bench.listing(), pages);
    for page in &pages {
        // Warnings of groff tell what would be missing on paper.
        let Ok(output) = Command::new("groff")
            .current_dir(bench.path(""))
            .args(["-man", "-Tutf8", "-ww", "-z", page])
            .output()
        else {
            return;
        };
        let warnings = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(
            output.status.success() && warnings.is_empty(),
            "{page}: {warnings}"
        );
    }
    bench.write("file", "");
    let run = bench.run(&["man", "--out", "file/pages"]);
    assert_eq!(run.code, 2, "{run:?}");
    assert!(run.stderr.contains("file/pages"), "{}", run.stderr);
}

#[test]
fn an_estimate_in_another_language_and_unit() {
    let bench = Bench::new();
    bench.write_inputs();
    let estimate = |more: &[&str]| {
        let args = [
            "estimate",
            "order.json",
            "--quantities",
            "1,2",
            "--effort",
            "0.01",
        ];
        bench.run(&[&args[..], more].concat())
    };
    let english = estimate(&["--every-line"]);
    let german = estimate(&["--every-line", "--language", "de", "--lengths", "inch"]);
    assert_eq!(german.code, 0, "{german:?}");
    for (en, de) in [
        ("Unit cost in EUR", "Stückkosten in EUR"),
        ("Sheets", "Platten"),
        ("Margin", "Marge"),
        ("Router, minutes", "Fräse, Minuten"),
        ("What this rests on", "Worauf das beruht"),
    ] {
        assert!(english.stdout.contains(en), "{en}");
        assert!(german.stdout.contains(de), "{de}: {}", german.stdout);
        assert!(!german.stdout.contains(en), "{en}: {}", german.stdout);
    }
    assert!(german.stdout.contains(" lb"), "{}", german.stdout);
    for run in [&english, &german] {
        let long = run.stdout.lines().find(|l| l.chars().count() > 80);
        assert_eq!(long, None);
    }
    // Programs read the same keys and numbers.
    let columns = |run: &str| -> Vec<String> {
        run.lines()
            .map(|l| l.split(',').skip(2).collect())
            .collect()
    };
    let (a, b) = (
        estimate(&["--csv"]),
        estimate(&["--csv", "--language", "de"]),
    );
    assert_eq!(columns(&a.stdout), columns(&b.stdout));
    // The shop's own wish counts where nothing is typed.
    let mut shop = bench.shop.clone();
    shop["papers"] = json!({"language": "de"});
    bench.write("shop.json", &shop.to_string());
    assert!(estimate(&[]).stdout.contains("Stückkosten"));
    estimate(&["--out", "quote", "--quiet"]);
    let page = bench.read("quote/estimate.html");
    assert!(page.contains("<html lang=\"de\">") && page.contains("Das Ergebnis"));
    assert!(root().join("crates/cli/paper/de/estimate.ftl").exists());
}
