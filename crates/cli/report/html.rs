//! The report as one HTML file that needs nothing else.

use super::caution::{Caution, cautions};
use super::cutting::cutting_words;
use super::figures::{Figures, SheetFigures, key};
use super::picture::{picture, shapes};
use super::saw::{SawPlan, centre_lines, saw_plan, saw_time};
use super::wording::{
    choice_words, complete_after, complete_counts, headline, keep_off, least_spend, method,
    missing_why, part_note, repeat_note, sheet_spends, spend_amounts, stock_name, turned, way_up,
};
use crate::cut_plan::{CutPlan, CutSheet};
use crate::job::Job;
use crate::number::{plain, ranges, short};
use crate::paper::{Lengths, Paper};
use crate::rack::digest_of;
use crate::{Failure, Result};
use askama::Template;
use std::collections::BTreeMap;
use std::fmt::Write;

/// Most rows of a list below a drawing: as many as a printed page has room for.
const LIST_ROWS: usize = 8;

/// What the template prints; every number is text by now.
#[derive(Template)]
#[template(path = "report.html", config = "crates/cli/report/askama.toml")]
struct Page {
    paper: Paper,
    /// What ticks are kept under.
    digest: String,
    tab: String,
    title: String,
    shop: String,
    currency: String,
    under_title: String,
    headline: String,
    complete: bool,
    repeat_note: String,
    yields: [Share; 2],
    spend: String,
    least_spend: String,
    no_plan_less: String,
    /// Kits complete, of how many; empty without kits.
    kits_complete: String,
    kits_after: String,
    /// How long the sawing takes, and what that is made of.
    saw_time: Option<(String, String)>,
    /// What the options changed, in sentences.
    choices: Vec<String>,
    size_head: String,
    area_head: String,
    value_head: String,
    saw_help: String,
    taken: Vec<TakenRow>,
    missing: Vec<MissingRow>,
    shapes: String,
    sheets: Vec<Sheet>,
    kits: Vec<KitRow>,
    parts: Vec<PlacesRow>,
    kept: Vec<KeptRow>,
    spend_caption: String,
    spend_rows: Vec<(String, String)>,
    cautions: Vec<Caution>,
    notes: Vec<String>,
}

/// A yield and its ceiling, as words and as a bar of 100 units.
struct Share {
    name: String,
    text: String,
    ceiling: String,
    bar: String,
    ceiling_bar: String,
}

impl Share {
    /// Under a name and with a ceiling, both told by the messages of these keys.
    fn new([name, told]: [&str; 2], share: f64, ceiling: f64, paper: Paper) -> Self {
        let bar = |v: f64| {
            let v = if v.is_finite() { v } else { 0.0 };
            short((v * 100.0).clamp(0.0, 100.0), 2)
        };
        let most = paper.percent(ceiling);
        Self {
            name: paper.say(name),
            text: paper.percent(share),
            ceiling: paper.say_with(told, &[("share", most.into())]),
            bar: bar(share),
            ceiling_bar: bar(ceiling),
        }
    }
}

struct TakenRow {
    count: usize,
    name: String,
    material: String,
    place: String,
    numbers: Vec<u32>,
    parts: usize,
}

struct MissingRow {
    quantity: u32,
    part: String,
    kit: String,
    why: String,
}

struct KeptRow {
    find: String,
    id: String,
    size: String,
    shape: String,
    area: String,
    material: String,
    sheet: usize,
    at: String,
    value: String,
}

/// A kit, or the single parts.
struct KitRow {
    find: String,
    name: String,
    /// The sheet after which it is complete, if it ever is.
    complete: Option<usize>,
    after: String,
    sheets: Vec<KitSheet>,
    sheet_list: String,
    parts: usize,
    lacks: u32,
    /// Whether it is one of the kits that are counted, not the single parts.
    counts: bool,
}

/// What of a kit lies on one sheet.
struct KitSheet {
    number: usize,
    name: String,
    /// Its parts by key and name.
    parts: String,
}

/// A part of the order and everywhere it lies.
struct PlacesRow {
    find: String,
    item: usize,
    key: String,
    part: String,
    /// Text of its label where that is not its name.
    label: String,
    kit: String,
    quantity: usize,
    size: String,
    sheets: Vec<Places>,
    /// How many are missing, in words; empty when none is.
    missing: String,
}

/// The copies of a part on one sheet.
struct Places {
    number: usize,
    name: String,
    copy_words: String,
    copies: Vec<u32>,
    /// The same in short, for paper.
    range: String,
}

struct Sheet {
    number: usize,
    /// What a link to it says.
    link: String,
    title: String,
    find: String,
    /// What the line of progress calls it when it is next.
    next_name: String,
    drawing_name: String,
    parts_name: String,
    facts: Vec<(String, String)>,
    picture: String,
    caption: String,
    rack_words: String,
    /// What of it goes to the rack.
    rack: Vec<RackLine>,
    part_count: String,
    has_notes: bool,
    /// Rows that the lists take on a printed page, two lists standing side by side.
    rows: usize,
    /// In lists short enough to stand side by side.
    parts: Vec<Vec<PartRow>>,
    cuts: Vec<Vec<CutRow>>,
    saw_head: String,
    /// The saw plan; `cuts` is empty then.
    saw: Option<SawPlan>,
    before: String,
    after: String,
}

struct RackLine {
    /// Its row among all offcuts that are kept.
    anchor: usize,
    id: String,
    size: String,
}

struct PartRow {
    item: usize,
    key: String,
    quantity: usize,
    part: String,
    size: String,
    copies: String,
    note: String,
    /// Names of its boxes.
    off: String,
    bench: String,
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
    let paper = job.shop.paper;
    let t = &plan.totals;
    let mut under_title = Vec::new();
    if !job.kits.is_empty() {
        under_title.push(plain(&job.kit_list()));
    }
    if let Some(due) = &job.due {
        under_title.push(paper.say_with("due", &[("day", plain(due).into())]));
    }
    let order = [("order", plain(&job.order).into())];
    let currency = [("currency", plain(&job.shop.currency).into())];
    let least = [
        ("least", paper.money(t.least_spend).into()),
        ("currency", plain(&job.shop.currency).into()),
    ];
    let unit = [("unit", paper.length_unit().into())];
    let in_words = [("unit", unit_word(paper).into())];
    Page {
        paper,
        digest: digest(plan, job),
        tab: paper.say_with("report-tab", &order),
        title: paper.say_with("report-title", &order),
        shop: plain(&job.shop.name),
        currency: plain(&job.shop.currency),
        under_title: under_title.join(", "),
        headline: headline(figures, paper),
        complete: figures.missing.is_empty(),
        repeat_note: repeat_note(plan, paper),
        yields: [
            Share::new(
                ["yield", "proven-ceiling"],
                t.yield_,
                t.yield_ceiling,
                paper,
            ),
            Share::new(
                ["net-yield", "net-ceiling"],
                t.net_yield,
                t.net_yield_ceiling,
                paper,
            ),
        ],
        spend: paper.money(t.spend),
        least_spend: least_spend(plan, job, paper),
        no_plan_less: match plan.sheets.is_empty() {
            true => String::new(),
            false => paper.say_with("no-plan-less-than", &least),
        },
        kits_complete: match plan.kits {
            0 => String::new(),
            kits => paper.say_with(
                "n-of-m",
                &[("n", plan.kits_complete().into()), ("m", kits.into())],
            ),
        },
        kits_after: complete_after(&complete_counts(plan), paper),
        saw_time: saw_time(plan, job),
        choices: plan
            .choices
            .iter()
            .map(|c| choice_words(c, plan, &job.shop.currency, paper))
            .collect(),
        size_head: paper.say_with("size-in", &unit),
        area_head: paper.say_with("area-in", &[("unit", paper.area_unit().into())]),
        value_head: paper.say_with("value-of", &currency),
        saw_help: paper.say_with("saw-help", &in_words),
        taken: taken_rows(figures, paper),
        missing: missing_rows(figures, paper),
        shapes: shapes(plan, job),
        sheets: sheets(plan, job, figures),
        kits: kit_rows(plan, job),
        parts: places_rows(job, figures),
        kept: kept_rows(figures, paper),
        spend_caption: paper.say_with("spend-caption", &currency),
        spend_rows: figures
            .spend
            .iter()
            .map(|l| paper.say(l.what))
            .zip(spend_amounts(figures, plan, paper))
            .collect(),
        cautions: cautions(plan, job, paper),
        notes: job
            .notes
            .iter()
            .chain(&plan.notes)
            .map(|n| plain(n))
            .collect(),
    }
}

/// What tells this nest from every other: order, seed and every part's place.
fn digest(plan: &CutPlan, job: &Job) -> String {
    let mut text = format!("{} {}", job.order, plan.seed);
    for sheet in &plan.sheets {
        // Writing into a string cannot fail.
        let _ = write!(text, "\n{}", sheet.source.id);
        for part in &sheet.parts {
            let (at, angle) = (part.placement.origin, part.placement.angle_deg());
            let _ = write!(
                text,
                " {},{},{},{},{angle}",
                part.item, part.copy, at.x, at.y
            );
        }
    }
    let mut digest = digest_of(text.as_bytes());
    digest.truncate(16);
    digest
}

fn taken_rows(figures: &Figures, paper: Paper) -> Vec<TakenRow> {
    figures
        .taken
        .iter()
        .map(|t| TakenRow {
            count: t.count,
            name: stock_name(&t.id, t.kind, paper),
            material: t.material.clone(),
            place: t.place.clone().unwrap_or_default(),
            numbers: t.numbers.clone(),
            parts: t.parts,
        })
        .collect()
}

fn missing_rows(figures: &Figures, paper: Paper) -> Vec<MissingRow> {
    figures
        .missing
        .iter()
        .map(|m| MissingRow {
            quantity: m.quantity,
            part: m.part.clone(),
            kit: m.kit.clone(),
            why: missing_why(m, paper),
        })
        .collect()
}

fn kept_rows(figures: &Figures, paper: Paper) -> Vec<KeptRow> {
    figures
        .kept
        .iter()
        .map(|k| KeptRow {
            find: format!("{} {} {}", paper.say("offcut"), k.id, k.material),
            id: k.id.clone(),
            size: paper.size(k.size.0, k.size.1),
            shape: paper.say(if k.rectangle { "rectangle" } else { "outline" }),
            area: paper.area(k.area),
            material: k.material.clone(),
            sheet: k.sheet,
            at: paper.say_with(
                "place-at",
                &[
                    ("x", paper.length(k.at.x).into()),
                    ("y", paper.length(k.at.y).into()),
                ],
            ),
            value: paper.money(k.value),
        })
        .collect()
}

/// Every kit with the sheets that hold its parts, and the single parts at the end.
fn kit_rows(plan: &CutPlan, job: &Job) -> Vec<KitRow> {
    let paper = job.shop.paper;
    // Copies by sheet and item. Single parts come last: they have no number. Kits of one name lie together, in the
    // order of the job.
    type Lies = BTreeMap<usize, BTreeMap<usize, usize>>;
    let mut found: BTreeMap<(bool, usize, u32), Lies> = BTreeMap::new();
    for (i, kit) in job.kits.iter().enumerate() {
        // Kits of the same name on several lines count on from each other.
        if job.kits[..i].iter().any(|k| k.kit == kit.kit) {
            continue;
        }
        let count: u32 = job.kits[i..]
            .iter()
            .filter(|k| k.kit == kit.kit)
            .map(|k| k.quantity)
            .sum();
        for number in 1..=count {
            found.insert((false, i, number), Default::default());
        }
    }
    for sheet in &plan.sheets {
        for part in &sheet.parts {
            let name = &job.items[part.item].kit;
            let line = job.kits.iter().position(|k| k.kit == *name);
            let key = match (line, part.kit_number) {
                (Some(line), Some(number)) => (false, line, number),
                _ => (true, 0, 0),
            };
            let on_sheet = found.entry(key).or_default().entry(sheet.number);
            *on_sheet.or_default().entry(part.item).or_default() += 1;
        }
    }
    found
        .into_iter()
        .map(|((single, line, number), lies)| {
            let parts: usize = lies.values().flat_map(BTreeMap::values).sum();
            let wanted: u32 = match single {
                true => 0,
                false => job.kits[line].parts.iter().map(|(_, n)| n).sum(),
            };
            let lacks = wanted.saturating_sub(u32::try_from(parts).unwrap_or(u32::MAX));
            let name = if single {
                paper.say("single-parts")
            } else {
                format!("{} {number}", plain(&job.kits[line].kit))
            };
            let complete = lies.keys().last().copied().filter(|_| lacks == 0);
            let list: Vec<String> = lies.keys().map(usize::to_string).collect();
            KitRow {
                find: if single {
                    name.clone()
                } else {
                    format!("{} {number} {name}", paper.say("kit"))
                },
                name,
                complete,
                after: match complete {
                    Some(n) => paper.say_with("sheet-number", &[("n", n.into())]),
                    None => paper.say_with("kit-lacks", &[("n", lacks.into())]),
                },
                sheets: lies
                    .into_iter()
                    .map(|(number, items)| KitSheet {
                        number,
                        name: paper.say_with("sheet-number", &[("n", number.into())]),
                        parts: parts_of(&items, job),
                    })
                    .collect(),
                sheet_list: list.join(" "),
                parts,
                lacks,
                counts: !single,
            }
        })
        .collect()
}

/// Items with how many of each, as `A base, B top (2)`.
fn parts_of(items: &BTreeMap<usize, usize>, job: &Job) -> String {
    let named = |(item, count): (&usize, &usize)| {
        let part = plain(&job.items[*item].part);
        match count {
            1 => format!("{} {part}", key(*item)),
            n => format!("{} {part} ({n})", key(*item)),
        }
    };
    items.iter().map(named).collect::<Vec<_>>().join(", ")
}

/// Every part of the order with the places of its copies.
fn places_rows(job: &Job, figures: &Figures) -> Vec<PlacesRow> {
    let paper = job.shop.paper;
    let mut places: Vec<Vec<Places>> = job.items.iter().map(|_| Vec::new()).collect();
    for sheet in &figures.sheets {
        let name = paper.say_with("sheet-number", &[("n", sheet.number.into())]);
        for line in &sheet.parts {
            places[line.item].push(Places {
                number: sheet.number,
                name: name.clone(),
                copy_words: format!("{name}, {}", paper.say("copy")),
                copies: line.copies.clone(),
                range: ranges(&line.copies),
            });
        }
    }
    job.items
        .iter()
        .zip(places)
        .enumerate()
        .map(|(index, (item, sheets))| {
            let (part, label, kit) = (plain(&item.part), plain(&item.label), plain(&item.kit));
            let letters = key(index);
            let bounds = item.outline.bounds();
            let quantity = sheets.iter().map(|s| s.copies.len()).sum();
            let placed = u32::try_from(quantity).unwrap_or(u32::MAX);
            let lacks = item.quantity.saturating_sub(placed);
            PlacesRow {
                find: format!("{letters} {part} {label} {kit}"),
                item: index,
                key: letters,
                label: if label == part { String::new() } else { label },
                part,
                kit,
                quantity,
                size: paper.size(bounds.width(), bounds.height()),
                sheets,
                missing: match lacks {
                    0 => String::new(),
                    n => paper.say_with("kit-lacks", &[("n", n.into())]),
                },
            }
        })
        .collect()
}

fn sheets(plan: &CutPlan, job: &Job, figures: &Figures) -> Vec<Sheet> {
    let mut anchor = 0;
    figures
        .sheets
        .iter()
        .zip(&plan.sheets)
        .zip(sheet_spends(figures, plan, job.shop.paper))
        .map(|((sheet, cut), spend)| one_sheet(sheet, cut, spend, plan, job, &mut anchor))
        .collect()
}

/// `anchor` counts the offcuts that are kept, over all sheets.
fn one_sheet(
    sheet: &SheetFigures,
    cut: &CutSheet,
    spend: String,
    plan: &CutPlan,
    job: &Job,
    anchor: &mut usize,
) -> Sheet {
    let paper = job.shop.paper;
    let saw = saw_plan(cut, sheet, plan, job);
    let name = stock_name(&sheet.id, sheet.kind, paper);
    let numbered = |n: usize| paper.say_with("sheet-number", &[("n", n.into())]);
    let link = numbered(sheet.number);
    let part_count = paper.say_with("parts-count", &[("n", cut.parts.len().into())]);
    let title = [
        ("number", sheet.number.into()),
        ("of", plan.sheets.len().into()),
        ("name", name.as_str().into()),
    ];
    let place = sheet.place.as_deref().unwrap_or_default();
    let find = [
        &link,
        &name,
        &sheet.material,
        place,
        sheet.lot.as_deref().unwrap_or_default(),
        &sheet.machine,
    ]
    .join(" ");
    let rack: Vec<RackLine> = cut
        .offcuts
        .iter()
        .filter(|o| o.kept)
        .map(|o| {
            *anchor += 1;
            let bounds = o.outline.bounds();
            RackLine {
                anchor: *anchor,
                id: plain(&o.id),
                size: paper.size(bounds.width(), bounds.height()),
            }
        })
        .collect();
    let parts = in_lists(part_rows(sheet, paper));
    let cuts = if saw.is_some() {
        Vec::new()
    } else {
        in_lists(cut_rows(cut, paper))
    };
    let longest = parts.iter().map(Vec::len).chain(cuts.iter().map(Vec::len));
    let rows = longest.max().unwrap_or(0) * (parts.len() + cuts.len()).div_ceil(2);
    Sheet {
        number: sheet.number,
        rows,
        title: paper.say_with("sheet-of", &title),
        find,
        next_name: if place.is_empty() {
            format!("{link}: {name}")
        } else {
            format!("{link}: {name}, {place}")
        },
        drawing_name: paper.say_with("drawing-of", &[("sheet", link.as_str().into())]),
        parts_name: format!("{link}: {part_count}"),
        link,
        facts: facts(sheet, cut, spend, job),
        picture: picture(cut, job),
        caption: caption(sheet, cut, job),
        rack_words: paper.say("goes-to-rack"),
        rack,
        part_count,
        has_notes: sheet.parts.iter().any(|p| !part_note(p, paper).is_empty()),
        parts,
        cuts,
        saw_head: saw.as_ref().map_or_else(String::new, |s| {
            let values = [
                ("sheet", numbered(sheet.number).into()),
                ("summary", s.summary.as_str().into()),
            ];
            paper.say_with("at-the-saw", &values)
        }),
        saw,
        before: format!("← {}", numbered(sheet.number.saturating_sub(1))),
        after: format!("{} →", numbered(sheet.number + 1)),
    }
}

/// Where the piece is and what it is, before anything else.
fn facts(sheet: &SheetFigures, cut: &CutSheet, spend: String, job: &Job) -> Vec<(String, String)> {
    let paper = job.shop.paper;
    let mass = paper.mass(sheet.mass_kg);
    let size = paper.size(sheet.size.0, sheet.size.1);
    let yields = [sheet.yield_, sheet.net_yield, sheet.yield_ceiling]
        .map(|v| paper.percent(v))
        .join(", ");
    let cutting = sheet.cutting.map(|c| cutting_words(&c, paper));
    [
        ("stands", sheet.place.clone()),
        ("material", Some(sheet.material.clone())),
        ("size", Some(format!("{size} {}", paper.length_unit()))),
        (
            "mass",
            Some(paper.say_with("about-mass", &[("mass", mass.into())])),
        ),
        ("lot", sheet.lot.clone()),
        ("way-up", Some(way_up(cut, job))),
        ("cutting", cutting),
        ("yields", Some(yields)),
        (
            "spend",
            Some(format!("{spend} {}", plain(&job.shop.currency))),
        ),
    ]
    .into_iter()
    .filter_map(|(key, value)| Some((paper.say(key), value?)))
    .collect()
}

/// The unit of lengths in a word.
fn unit_word(paper: Paper) -> String {
    paper.say(match paper.lengths {
        Lengths::Millimetres => "millimetres",
        Lengths::Inches | Lengths::Fractions(_) => "inches",
    })
}

/// What stands under a drawing.
fn caption(sheet: &SheetFigures, cut: &CutSheet, job: &Job) -> String {
    let paper = job.shop.paper;
    let mut words = paper.say_with(
        "drawing-caption",
        &[
            ("method", method(sheet, cut, paper).into()),
            ("unit", unit_word(paper).into()),
            ("way", way_up(cut, job).into()),
        ],
    );
    if let Some(turned) = turned("caption-turned", cut, job) {
        words.push(' ');
        words += &turned;
    }
    let keep_off = keep_off(cut, paper);
    if !keep_off.is_empty() {
        words.push(' ');
        words += &paper.say_with("caption-keep-off", &[("what", keep_off.into())]);
    }
    if !cut.flaws.is_empty() {
        words.push(' ');
        words += &paper.say("caption-flaws");
    }
    words
}

fn part_rows(sheet: &SheetFigures, paper: Paper) -> Vec<PartRow> {
    let named = |key: &str, part: &str| format!("{part}: {}", paper.say(key));
    sheet
        .parts
        .iter()
        .map(|p| PartRow {
            item: p.item,
            key: p.key.clone(),
            quantity: p.copies.len(),
            part: p.part.clone(),
            size: paper.size(p.size.0, p.size.1),
            copies: ranges(&p.copies),
            note: part_note(p, paper),
            off: named("tick-off", &p.part),
            bench: named("tick-bench", &p.part),
        })
        .collect()
}

fn cut_rows(sheet: &CutSheet, paper: Paper) -> Vec<CutRow> {
    centre_lines(sheet, paper)
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
    use std::collections::BTreeSet;

    #[test]
    fn needs_nothing_from_elsewhere() {
        let (plan, job) = sample::cabinet();
        let html = html(&plan, &job).expect("a report");
        for outside in [
            "http:",
            "https:",
            "//",
            "url(\"",
            "@import",
            "src=",
            "<link",
            "fetch(",
            "import(",
            "XMLHttpRequest",
        ] {
            // Links to a place in the file itself and to patterns are all there may be.
            assert!(!html.contains(outside), "{outside}");
        }
        for (i, _) in html.match_indices(" href=") {
            assert!(html[i..].starts_with(" href=\"#"), "{}", &html[i..i + 40]);
        }
        assert_eq!(html.matches("<script").count(), 1);
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
                // There and back.
                let (item, copy) = (part.item, part.copy);
                assert!(section.contains(&format!(
                    "<a href=\"#part-{item}\">{}<",
                    job.items[item].part
                )));
                assert!(section.contains(&format!("id=\"p{item}-{copy}\"")));
                assert!(html.contains(&format!("<a href=\"#p{item}-{copy}\"")));
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
        assert!(with.contains("all aluminium-1.5 that it fits on is used up"));
        let mut plan = plan;
        plan.missing.clear();
        let without = html(&plan, &job).expect("a report");
        assert!(!without.contains("id=\"missing\""));
    }

    #[test]
    fn odd_names_are_text() {
        let (plan, job) = sample::odd_names();
        let html = html(&plan, &job).expect("a report");
        assert_eq!(html.matches("<script").count(), 1);
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
    fn sixty_sheets_and_three_thousand_parts_stay_small() {
        let (mut plan, mut job) = sample::cabinet();
        let first = plan.sheets[0].clone();
        let mut copies = vec![0; job.items.len()];
        plan.sheets = (1..=60)
            .map(|number| {
                let mut sheet = first.clone();
                sheet.number = number;
                // Fifty on each sheet; a report does not judge.
                let more: Vec<_> = first.parts.iter().cycle().take(50).cloned().collect();
                sheet.parts = more;
                for part in &mut sheet.parts {
                    copies[part.item] += 1;
                    part.copy = copies[part.item];
                    part.inside = None;
                }
                sheet
            })
            .collect();
        for (item, copies) in job.items.iter_mut().zip(copies) {
            item.quantity = copies;
        }
        assert_eq!(plan.part_count(), 3000);
        let html = html(&plan, &job).expect("a report");
        // What a browser opens at once; 8 MiB would be the most.
        assert!(html.len() < 4 << 20, "{} bytes", html.len());
        assert_eq!(html.matches("class=\"p\"").count(), 3000);
    }

    #[test]
    fn kits_tell_their_sheets_and_what_they_lack() {
        let (mut plan, mut job) = sample::cabinet();
        job.kits[0].parts = vec![(0, 1), (1, 1)];
        for sheet in &mut plan.sheets {
            for part in &mut sheet.parts {
                part.kit_number = match (part.item, part.copy) {
                    (0, copy) => Some(copy),
                    (1, 1) => Some(1),
                    _ => None,
                };
            }
        }
        let rows = kit_rows(&plan, &job);
        let names: Vec<&str> = rows.iter().map(|r| r.name.as_str()).collect();
        assert_eq!(
            names,
            [
                "germination cabinet 1",
                "germination cabinet 2",
                "germination cabinet 3",
                "Single parts"
            ]
        );
        assert_eq!(rows[0].complete, Some(2));
        let lies: Vec<_> = rows[0]
            .sheets
            .iter()
            .map(|s| (s.number, s.parts.as_str()))
            .collect();
        assert_eq!(lies, [(2, "A base, B top")]);
        assert_eq!(rows[1].after, "1 part is missing");
        assert_eq!((rows[1].complete, rows[1].lacks), (None, 1));
        assert!(rows[3].parts > 20 && !rows[3].counts);
    }

    #[test]
    fn ticks_of_another_nest_are_not_taken_over() {
        let (mut plan, mut job) = sample::cabinet();
        let known = digest(&plan, &job);
        assert_eq!(known, digest(&plan, &job));
        plan.seed += 1;
        let other_seed = digest(&plan, &job);
        job.order.push('a');
        let other_order = digest(&plan, &job);
        plan.sheets[0].parts[0].placement.origin.x += 0.001;
        let other_place = digest(&plan, &job);
        let all = BTreeSet::from([known, other_seed, other_order, other_place]);
        assert_eq!(all.len(), 4);
    }

    /// The colours of one scheme, by name.
    fn colours(block: &str) -> std::collections::HashMap<&str, [f64; 3]> {
        block
            .split(';')
            .filter_map(|line| line.trim().strip_prefix("--")?.split_once(": #"))
            .map(|(name, hex)| {
                // #abc is short for #aabbcc.
                let digit = |i: usize| {
                    let short = hex.len() == 3;
                    let two = if short {
                        hex[i..=i].repeat(2)
                    } else {
                        hex[2 * i..2 * i + 2].to_owned()
                    };
                    f64::from(u8::from_str_radix(&two, 16).expect("a colour")) / 255.0
                };
                (name, [0, 1, 2].map(digit))
            })
            .collect()
    }

    /// Contrast of two colours. Source: WCAG 2.2, definitions of relative luminance and contrast ratio.
    fn contrast(a: [f64; 3], b: [f64; 3]) -> f64 {
        let luminance = |colour: [f64; 3]| {
            let [r, g, b] = colour.map(|c| match c {
                c if c <= 0.04045 => c / 12.92,
                c => ((c + 0.055) / 1.055).powf(2.4),
            });
            0.2126 * r + 0.7152 * g + 0.0722 * b
        };
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn text_stands_out_in_light_in_dark_and_on_paper() {
        let css = include_str!("templates/report.css");
        let schemes: Vec<_> = css
            .split(":root {")
            .skip(1)
            .map(|rest| colours(rest.split('}').next().expect("a block")))
            .collect();
        assert_eq!(schemes.len(), 3);
        for colours in schemes {
            let pairs = [
                ("ink", "paper card stock leaf-pale alarm-pale found"),
                ("soft", "paper card"),
                ("leaf", "paper card leaf-pale"),
                ("alarm", "card"),
            ];
            for (text, grounds) in pairs {
                for ground in grounds.split(' ') {
                    let found = contrast(colours[text], colours[ground]);
                    assert!(found >= 4.5, "{text} on {ground}: {found:.2}");
                }
            }
            // Lines and boxes that carry meaning: 3 to 1.
            for (line, ground) in [("clay", "card"), ("ochre", "stock"), ("alarm", "stock")] {
                let found = contrast(colours[line], colours[ground]);
                assert!(found >= 3.0, "{line} on {ground}: {found:.2}");
            }
        }
    }

    #[test]
    fn an_empty_plan_is_still_a_page() {
        let (mut plan, mut job) = sample::cabinet();
        plan.sheets.clear();
        job.kits.clear();
        let html = html(&plan, &job).expect("a report");
        let body = html.strip_prefix("<!doctype html>").expect("a doctype");
        roxmltree::Document::parse(body.trim_start()).expect("well-formed");
        assert!(!html.contains("id=\"kits\"") && html.contains("id=\"parts\""));
    }

    #[test]
    fn same_plan_same_bytes() {
        let (plan, job) = sample::cabinet();
        assert_eq!(html(&plan, &job), html(&plan, &job));
    }
}
