//! The report as one HTML file that needs nothing else.

use super::caution::{Caution, cautions};
use super::cutting::cutting_words;
use super::figures::{Figures, SheetFigures};
use super::number::{area, length, mass, money, percent, plain, plural, ranges, short, size};
use super::picture::picture;
use super::saw::{SawPlan, centre_lines, saw_plan};
use super::wording::{
    choice_words, complete_after, complete_counts, completions, headline, keep_off, method,
    part_note, repeat_note, sheet_spends, spend_amounts, stock_name, to_gain,
};
use crate::cut_plan::{CutPlan, CutSheet};
use crate::job::Job;
use crate::{Failure, Result};
use askama::Template;

/// Most rows of a list below a drawing: as many as a printed page has room for.
const LIST_ROWS: usize = 8;

/// What the template prints; every number is text by now.
#[derive(Template)]
#[template(path = "report.html", config = "crates/cli/report/askama.toml")]
struct Page {
    order: String,
    shop: String,
    currency: String,
    under_title: String,
    headline: String,
    complete: bool,
    repeat_note: String,
    yield_: Share,
    net_yield: String,
    spend: String,
    least_spend: String,
    to_gain: String,
    /// Kits complete, of how many; empty without kits.
    kits: String,
    kits_after: String,
    /// When kits are complete, in lists short enough to stand side by side.
    completions: Vec<Vec<CompletionRow>>,
    /// What the options changed, in sentences.
    choices: Vec<String>,
    taken: Vec<TakenRow>,
    missing: Vec<MissingRow>,
    sheets: Vec<Sheet>,
    kept: Vec<KeptRow>,
    spend_rows: Vec<(&'static str, String)>,
    cautions: Vec<Caution>,
    notes: Vec<String>,
}

/// A yield and its ceiling, as words and as a bar of 100 units.
struct Share {
    text: String,
    ceiling: String,
    bar: String,
    ceiling_bar: String,
}

impl Share {
    fn new(share: f64, ceiling: f64) -> Self {
        let bar = |v: f64| {
            let v = if v.is_finite() { v } else { 0.0 };
            short((v * 100.0).clamp(0.0, 100.0), 2)
        };
        Self {
            text: percent(share),
            ceiling: percent(ceiling),
            bar: bar(share),
            ceiling_bar: bar(ceiling),
        }
    }
}

struct CompletionRow {
    sheet: usize,
    name: String,
    complete: u32,
    more: u32,
}

struct TakenRow {
    count: usize,
    name: String,
    material: String,
    place: String,
    numbers: String,
    parts: usize,
}

struct MissingRow {
    quantity: u32,
    part: String,
    kit: String,
    why: String,
}

struct KeptRow {
    id: String,
    size: String,
    shape: &'static str,
    area: String,
    material: String,
    sheet: usize,
    at: String,
    value: String,
}

struct Sheet {
    number: usize,
    name: String,
    facts: Vec<(&'static str, String)>,
    method: String,
    picture: String,
    yields: String,
    spend: String,
    part_count: String,
    has_notes: bool,
    /// In lists short enough to stand side by side.
    parts: Vec<Vec<PartRow>>,
    cuts: Vec<Vec<CutRow>>,
    /// The saw plan; `cuts` is empty then.
    saw: Option<SawPlan>,
    keep_off: String,
}

struct PartRow {
    key: String,
    quantity: usize,
    part: String,
    size: String,
    copies: String,
    note: String,
}

struct CutRow {
    number: usize,
    stage: String,
    cut: String,
}

/// The report as one self-contained HTML file: nothing is fetched, so it opens anywhere.
///
/// # Errors
/// When the template cannot be filled in; that is a fault of the program, not of the inputs.
///
/// # Panics
/// When the plan is not of this job: an index of an item, material or machine out of range.
pub fn html(plan: &CutPlan, job: &Job) -> Result<String> {
    let figures = Figures::new(plan, job);
    page(plan, job, &figures).render().map_err(|error| {
        Failure::new(
            "report",
            format!("the HTML could not be made: {error}"),
            "the other files are not affected",
        )
    })
}

fn page(plan: &CutPlan, job: &Job, figures: &Figures) -> Page {
    let t = &plan.totals;
    let mut under_title = Vec::new();
    if !job.kits.is_empty() {
        under_title.push(plain(&job.kit_list()));
    }
    under_title.extend(job.due.as_deref().map(|d| format!("due {}", plain(d))));
    Page {
        order: plain(&job.order),
        shop: plain(&job.shop.name),
        currency: plain(&job.shop.currency),
        under_title: under_title.join(", "),
        headline: headline(figures),
        complete: figures.missing.is_empty(),
        repeat_note: repeat_note(plan),
        yield_: Share::new(t.yield_, t.yield_ceiling),
        net_yield: percent(t.net_yield),
        spend: money(t.spend),
        least_spend: money(t.least_spend),
        to_gain: to_gain(t),
        kits: match plan.kits {
            0 => String::new(),
            kits => format!("{} of {kits}", plan.kits_complete()),
        },
        kits_after: complete_after(&complete_counts(plan)),
        completions: in_lists(completion_rows(plan, figures)),
        choices: plan
            .choices
            .iter()
            .map(|c| choice_words(c, plan, &job.shop.currency))
            .collect(),
        taken: taken_rows(figures),
        missing: missing_rows(figures),
        sheets: sheets(plan, job, figures),
        kept: kept_rows(figures),
        spend_rows: figures
            .spend
            .iter()
            .map(|l| l.what)
            .zip(spend_amounts(figures, plan))
            .collect(),
        cautions: cautions(plan, job),
        notes: job
            .notes
            .iter()
            .chain(&plan.notes)
            .map(|n| plain(n))
            .collect(),
    }
}

fn completion_rows(plan: &CutPlan, figures: &Figures) -> Vec<CompletionRow> {
    let mut before = 0;
    completions(&complete_counts(plan))
        .into_iter()
        .map(|(number, complete)| {
            let sheet = &figures.sheets[number - 1];
            let more = complete - std::mem::replace(&mut before, complete);
            CompletionRow {
                sheet: sheet.number,
                name: stock_name(&sheet.id, sheet.kind),
                complete,
                more,
            }
        })
        .collect()
}

fn taken_rows(figures: &Figures) -> Vec<TakenRow> {
    figures
        .taken
        .iter()
        .map(|t| TakenRow {
            count: t.count,
            name: stock_name(&t.id, t.kind),
            material: t.material.clone(),
            place: t.place.clone().unwrap_or_default(),
            numbers: ranges(&t.numbers),
            parts: t.parts,
        })
        .collect()
}

fn missing_rows(figures: &Figures) -> Vec<MissingRow> {
    figures
        .missing
        .iter()
        .map(|m| MissingRow {
            quantity: m.quantity,
            part: m.part.clone(),
            kit: m.kit.clone(),
            why: m.why.clone(),
        })
        .collect()
}

fn kept_rows(figures: &Figures) -> Vec<KeptRow> {
    figures
        .kept
        .iter()
        .map(|k| KeptRow {
            id: k.id.clone(),
            size: size(k.size.0, k.size.1),
            shape: if k.rectangle { "rectangle" } else { "outline" },
            area: area(k.area),
            material: k.material.clone(),
            sheet: k.sheet,
            at: format!("{}, {}", length(k.at.x), length(k.at.y)),
            value: money(k.value),
        })
        .collect()
}

fn sheets(plan: &CutPlan, job: &Job, figures: &Figures) -> Vec<Sheet> {
    figures
        .sheets
        .iter()
        .zip(&plan.sheets)
        .zip(sheet_spends(figures, plan))
        .map(|((sheet, cut), spend)| one_sheet(sheet, cut, spend, plan, job))
        .collect()
}

fn one_sheet(
    sheet: &SheetFigures,
    cut: &CutSheet,
    spend: String,
    plan: &CutPlan,
    job: &Job,
) -> Sheet {
    let mut facts = vec![
        ("Material", sheet.material.clone()),
        ("Size", format!("{} mm", size(sheet.size.0, sheet.size.1))),
        ("Mass", format!("about {} kg", mass(sheet.mass_kg))),
    ];
    facts.extend(sheet.place.clone().map(|p| ("Stands in", p)));
    facts.extend(sheet.lot.clone().map(|l| ("Lot", l)));
    facts.extend(sheet.cutting.map(|c| ("Cutting", cutting_words(&c))));
    let saw = saw_plan(cut, sheet, plan, job);
    Sheet {
        number: sheet.number,
        name: stock_name(&sheet.id, sheet.kind),
        facts,
        method: method(sheet, cut),
        picture: picture(cut, job),
        yields: [sheet.yield_, sheet.net_yield, sheet.yield_ceiling]
            .map(percent)
            .join(", "),
        spend,
        part_count: format!(
            "{} {}",
            cut.parts.len(),
            plural(cut.parts.len(), "part", "parts")
        ),
        has_notes: sheet.parts.iter().any(|p| !part_note(p).is_empty()),
        parts: in_lists(part_rows(sheet)),
        cuts: if saw.is_some() {
            Vec::new()
        } else {
            in_lists(cut_rows(cut))
        },
        saw,
        keep_off: keep_off(cut),
    }
}

fn part_rows(sheet: &SheetFigures) -> Vec<PartRow> {
    sheet
        .parts
        .iter()
        .map(|p| PartRow {
            key: p.key.clone(),
            quantity: p.copies.len(),
            part: p.part.clone(),
            size: size(p.size.0, p.size.1),
            copies: ranges(&p.copies),
            note: part_note(p),
        })
        .collect()
}

fn cut_rows(sheet: &CutSheet) -> Vec<CutRow> {
    centre_lines(sheet)
        .into_iter()
        .map(|(number, stage, cut)| CutRow { number, stage, cut })
        .collect()
}

/// Rows in lists of nearly equal length that stand side by side.
fn in_lists<T>(rows: Vec<T>) -> Vec<Vec<T>> {
    let lists = rows.len().div_ceil(LIST_ROWS).max(1);
    let each = rows.len().div_ceil(lists).max(1);
    let mut rows = rows.into_iter();
    let mut split = Vec::new();
    loop {
        let list: Vec<T> = rows.by_ref().take(each).collect();
        if list.is_empty() {
            return split;
        }
        split.push(list);
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn needs_nothing_from_elsewhere() {
        let (plan, job) = sample::cabinet();
        let html = html(&plan, &job).expect("a report");
        for outside in [
            "http:", "https:", "//", "url(\"", "@import", "src=", "<link", "<script",
        ] {
            // Links to a place in the file itself and to patterns are all there may be.
            assert!(!html.contains(outside), "{outside}");
        }
        for (i, _) in html.match_indices("href=") {
            assert!(html[i..].starts_with("href=\"#"), "{}", &html[i..i + 40]);
        }
    }

    #[test]
    fn every_sheet_and_part_appears() {
        let (plan, job) = sample::cabinet();
        let html = html(&plan, &job).expect("a report");
        for sheet in &plan.sheets {
            let start = html
                .find(&format!(
                    "<section class=\"sheet\" id=\"sheet-{}\"",
                    sheet.number
                ))
                .expect("a section for the sheet");
            let section = &html[start..];
            let section = &section[..section.find("</section>").expect("an end")];
            assert!(section.contains(&sheet.source.id));
            for part in &sheet.parts {
                assert!(
                    section.contains(&format!("<td class=\"w\">{}<", job.items[part.item].part))
                );
            }
            assert_eq!(section.matches("class=\"part\"").count(), sheet.parts.len());
            assert!(section.contains("role=\"img\""));
        }
    }

    #[test]
    fn missing_parts_are_named() {
        let (plan, job) = sample::cabinet();
        let with = html(&plan, &job).expect("a report");
        assert!(with.contains("4 are missing"));
        assert!(with.contains("latch-plate"));
        assert!(with.contains("all stock that it fits on is used up"));
        let mut plan = plan;
        plan.missing.clear();
        let without = html(&plan, &job).expect("a report");
        assert!(!without.contains("id=\"missing\""));
    }

    #[test]
    fn odd_names_are_text() {
        let (plan, job) = sample::odd_names();
        let html = html(&plan, &job).expect("a report");
        assert!(!html.contains("<script"));
        assert!(!html.contains("<b>"));
        assert!(!html.chars().any(|c| c.is_control() && c != '\n'));
        assert!(html.contains("alert(1)"));
    }

    #[test]
    fn tags_are_closed_and_ids_unique() {
        let (plan, job) = sample::odd_names();
        let html = html(&plan, &job).expect("a report");
        // The page is written as XML would have it, so an XML reader can vouch for its nesting.
        let body = html.strip_prefix("<!doctype html>").expect("a doctype");
        let tree = roxmltree::Document::parse(body.trim_start()).expect("well-formed");
        let mut ids: Vec<&str> = tree
            .descendants()
            .filter_map(|e| e.attribute("id"))
            .collect();
        let targets: Vec<&str> = tree
            .descendants()
            .filter_map(|e| e.attribute("href"))
            .filter_map(|h| h.strip_prefix('#'))
            .collect();
        let all = ids.len();
        ids.sort_unstable();
        ids.dedup();
        assert_eq!(ids.len(), all);
        for target in targets {
            assert!(ids.contains(&target), "{target}");
        }
        for table in tree.descendants().filter(|e| e.has_tag_name("table")) {
            assert!(table.descendants().any(|e| e.has_tag_name("th")));
            assert!(table.descendants().any(|e| e.has_tag_name("caption")));
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn any_name_is_text(name in any::<String>(), other in "\\PC{0,60}") {
            let (mut plan, mut job) = sample::cabinet();
            for item in &mut job.items {
                item.part.clone_from(&name);
                item.label.clone_from(&other);
            }
            job.order.clone_from(&name);
            for sheet in &mut plan.sheets {
                sheet.source.id.clone_from(&other);
                for offcut in &mut sheet.offcuts {
                    offcut.id.clone_from(&name);
                }
            }
            let html = html(&plan, &job).expect("a report");
            let body = html.strip_prefix("<!doctype html>").expect("a doctype");
            let tree = roxmltree::Document::parse(body.trim_start()).expect("well-formed");
            let title = tree.descendants().find(|e| e.has_tag_name("h1")).expect("a title");
            let expected = format!("Order {}", plain(&name));
            prop_assert_eq!(title.text().expect("text").trim(), expected.trim());
        }
    }

    #[test]
    fn lists_stay_short_and_lose_nothing() {
        assert!(in_lists(Vec::<u8>::new()).is_empty());
        for count in 1..60 {
            let lists = in_lists((0..count).collect());
            assert!(lists.iter().all(|l| l.len() <= LIST_ROWS));
            assert_eq!(lists.len(), (count as usize).div_ceil(LIST_ROWS));
            assert_eq!(lists.concat(), (0..count).collect::<Vec<i32>>());
        }
    }

    #[test]
    fn same_plan_same_bytes() {
        let (plan, job) = sample::cabinet();
        assert_eq!(html(&plan, &job), html(&plan, &job));
    }
}
