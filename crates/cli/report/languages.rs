//! The report in every language and unit.

use super::{html, sample, text};
use crate::cut_plan::CutPlan;
use crate::job::Job;
use crate::paper::{Language, Lengths, Paper};
use std::collections::BTreeSet;
use unicode_width::UnicodeWidthStr;

fn written(language: Language, lengths: Lengths) -> (CutPlan, Job) {
    let (plan, mut job) = sample::cabinet();
    job.shop.paper = Paper { language, lengths };
    (plan, job)
}

/// The text report without its line breaks, and without what was noticed while reading: that stays as it was noticed.
fn said(plan: &CutPlan, job: &mut Job) -> String {
    job.notes.clear();
    let text = text(plan, job);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Words of at least three letters, in small letters.
fn words(text: &str) -> BTreeSet<String> {
    text.split(|c: char| !c.is_alphabetic())
        .filter(|w| w.chars().count() > 2)
        .map(str::to_lowercase)
        .collect()
}

/// Words of a file of messages, without keys, comments and variables.
fn message_words(file: &str) -> BTreeSet<String> {
    let mut all = String::new();
    for line in file.lines().filter(|l| !l.starts_with('#')) {
        let text = match line.split_once(" = ") {
            Some((key, text)) if !key.contains(char::is_whitespace) => text,
            _ => line,
        };
        for word in text.split_whitespace() {
            if !word.starts_with('$') && !word.starts_with("[one]") && !word.starts_with("*[") {
                all += word;
                all.push(' ');
            }
        }
    }
    words(&all)
}

/// Words that are names of the job: no language changes them.
fn names(plan: &CutPlan, job: &Job) -> BTreeSet<String> {
    let mut all = format!("{} {}", job.order, job.shop.name);
    for item in &job.items {
        all += &format!(" {} {} {}", item.part, item.kit, item.label);
    }
    for material in &job.shop.materials {
        all += &format!(" {}", material.name);
    }
    for machine in &job.shop.machines {
        all += &format!(" {}", machine.name);
    }
    for sheet in &plan.sheets {
        let source = &sheet.source;
        let place = source.place.as_deref().unwrap_or_default();
        all += &format!(" {} {place}", source.id);
    }
    words(&all)
}

/// What a person sees or hears of a page.
fn shown(html: &str) -> String {
    let body = html.strip_prefix("<!doctype html>").expect("a doctype");
    let tree = roxmltree::Document::parse(body.trim_start()).expect("well-formed");
    let mut all = String::new();
    for node in tree.descendants() {
        let unseen = ["script", "style"];
        if node
            .parent_element()
            .is_some_and(|p| unseen.contains(&p.tag_name().name()))
        {
            continue;
        }
        if let Some(text) = node.text().filter(|_| node.is_text()) {
            all += text;
            all.push(' ');
        }
        for attribute in node.attributes() {
            let name = attribute.name();
            if name == "aria-label" || name == "title" || name.starts_with("data-") {
                all += attribute.value();
                all.push(' ');
            }
        }
    }
    all
}

#[test]
fn no_english_is_left_in_a_german_report() {
    let english = message_words(include_str!("../paper/en/report.ftl"));
    let german = message_words(include_str!("../paper/de/report.ftl"));
    let (plan, mut job) = written(Language::German, Lengths::Millimetres);
    let german_text = said(&plan, &mut job);
    let known = names(&plan, &job);
    let page = html(&plan, &job).expect("a report");
    assert!(page.contains("<html lang=\"de\">"));
    for said in [german_text, shown(&page)] {
        let left: Vec<String> = words(&said)
            .into_iter()
            .filter(|w| english.contains(w) && !german.contains(w) && !known.contains(w))
            .collect();
        assert!(left.is_empty(), "{left:?}");
    }
}

#[test]
fn an_english_report_would_be_noticed() {
    let english = message_words(include_str!("../paper/en/report.ftl"));
    let german = message_words(include_str!("../paper/de/report.ftl"));
    let (plan, job) = written(Language::English, Lengths::Millimetres);
    let page = shown(&html(&plan, &job).expect("a report"));
    let found = words(&page);
    let only: Vec<&String> = found
        .iter()
        .filter(|w| english.contains(*w) && !german.contains(*w))
        .collect();
    assert!(only.len() > 100, "{only:?}");
}

#[test]
fn german_lines() {
    let (plan, mut job) = written(Language::German, Lengths::Millimetres);
    let said = said(&plan, &mut job);
    for line in [
        "Auftrag GC-6, Demo panel shop",
        "bewiesene Obergrenze 93,0 %",
        "3 von 3 1 nach Platte 2, 3 nach Platte 4",
        "Platte 3: Reststück R-0001",
        "router: Rand 10, Abstand 6, Schnittfuge 3,175",
        "panel saw: auf Maß gesägt, Schnittfuge 3,2",
        "freizuhalten: 1 Aussparung und 1 Fehlstelle",
        "Säge: 9 Schnitte mit ",
        "alles an aluminium-1.5, worauf es passt, ist aufgebraucht",
        "etwa 11,4 kg",
    ] {
        assert!(said.contains(line), "{line} in {said}");
    }
    let page = html(&plan, &job).expect("a report");
    for piece in [
        "<h1>Auftrag GC-6</h1>",
        "Platte 3 von 4: Reststück R-0001",
        ">Laufrichtung<",
        "aufheben 2A",
        "Maße in Millimetern, Nullpunkt unten links; gute Seite oben.",
        "data-progress=\"#n von #m Platten geschnitten\"",
    ] {
        assert!(page.contains(piece), "{piece}");
    }
}

#[test]
fn lines_in_inches() {
    let (plan, mut job) = written(Language::English, Lengths::Inches);
    let inches = said(&plan, &mut job);
    for line in [
        "96.063 x 48.031 in",
        "about 25.1 lb",
        "router: margin 0.3937, gap 0.2362, kerf 0.125",
        "Area, ft²",
        "Held 24 in from the body",
        "about 21.1 lb of its 51 lb",
    ] {
        assert!(inches.contains(line), "{line} in {inches}");
    }
    assert!(!inches.contains(" mm") && !inches.contains(" kg"));
    let page = html(&plan, &job).expect("a report");
    assert!(page.contains("Lengths in inches"));
    let scale = page.contains(">10 in<") && !page.contains(" mm<");
    assert!(scale, "the scale bar is in round inches");

    let (plan, mut job) = written(Language::German, Lengths::Fractions(32));
    let fractions = said(&plan, &mut job);
    assert!(fractions.contains("96-1/16 x 48-1/32 in"), "{fractions}");
    let page = html(&plan, &job).expect("a report");
    assert!(page.contains(">6 in<") || page.contains(">12 in<"));
    assert!(page.contains("Maße in Zoll"));
}

#[test]
fn all_papers_fit_and_are_well_formed() {
    for paper in sample::papers() {
        for (plan, mut job) in [sample::cabinet(), sample::odd_names()] {
            job.shop.paper = paper;
            for line in text(&plan, &job).lines() {
                assert!(line.width() <= 80, "{} columns: {line}", line.width());
            }
            let page = html(&plan, &job).expect("a report");
            shown(&page);
            assert!(!page.contains("not known") && !page.contains("nicht bekannt"));
        }
    }
}
