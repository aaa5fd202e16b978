//! The report as text of at most 80 columns.

use super::caution::cautions;
use super::cutting::cutting_words;
use super::figures::{Figures, SheetFigures};
use super::saw::{centre_lines, saw_plan, saw_time};
use super::wording::{
    choice_words, complete_after, complete_counts, headline, keep_off, least_spend, method,
    missing_why, part_note, repeat_note, sheet_spends, spend_amounts, stock_name, turned,
};
use crate::cut_plan::{CutPlan, CutSheet};
use crate::job::Job;
use crate::number::{plain, ranges};
use crate::paper::Paper;
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Table, Width, presets};
use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

/// Columns of a terminal and of a printed page that nobody has set up.
const WIDTH: usize = 80;

/// The report as text: first the answer, then what it rests on.
///
/// Lines have at most 80 columns, whatever the names; the text ends in a line feed.
///
/// # Panics
/// When the plan is not of this job: an index of an item, material or machine out of range.
#[must_use]
pub fn text(plan: &CutPlan, job: &Job) -> String {
    let paper = job.shop.paper;
    let figures = Figures::new(plan, job);
    let mut page = Page::default();
    answer(&mut page, plan, job, &figures);
    taken(&mut page, &figures, paper);
    missing(&mut page, &figures, paper);
    sheet_table(&mut page, plan, job, &figures);
    spend(&mut page, plan, job, &figures);
    kept(&mut page, job, &figures);
    let spends = sheet_spends(&figures, plan, paper);
    for ((sheet, cut), spend) in figures.sheets.iter().zip(&plan.sheets).zip(&spends) {
        one_sheet(&mut page, sheet, cut, spend, plan, job);
    }
    page.heading(&paper.say("cautions"));
    for caution in cautions(plan, job, paper) {
        page.wrapped(&format!("{}:", caution.about), "", "");
        for line in &caution.lines {
            page.wrapped(line, "  - ", "    ");
        }
    }
    if !(job.notes.is_empty() && plan.notes.is_empty()) {
        page.heading(&paper.say("noticed-reading"));
        for note in job.notes.iter().chain(&plan.notes) {
            page.wrapped(note, "  - ", "    ");
        }
    }
    page.text
}

/// The first answer only: what was asked and how well it is met. For a terminal.
///
/// # Panics
/// As for [`text`].
#[must_use]
pub fn summary(plan: &CutPlan, job: &Job) -> String {
    let paper = job.shop.paper;
    let figures = Figures::new(plan, job);
    let mut page = Page::default();
    answer(&mut page, plan, job, &figures);
    taken(&mut page, &figures, paper);
    missing(&mut page, &figures, paper);
    if !plan.notes.is_empty() {
        page.heading(&paper.say("noticed"));
        for note in &plan.notes {
            page.wrapped(note, "  - ", "    ");
        }
    }
    page.text
}

fn answer(page: &mut Page, plan: &CutPlan, job: &Job, figures: &Figures) {
    let paper = job.shop.paper;
    let order = [
        ("order", job.order.as_str().into()),
        ("shop", job.shop.name.as_str().into()),
    ];
    page.wrapped(&paper.say_with("report-order", &order), "", "");
    let kits = job.kit_list();
    if !kits.is_empty() {
        page.wrapped(&kits, "", "");
    }
    if let Some(due) = &job.due {
        page.wrapped(
            &paper.say_with("due", &[("day", due.as_str().into())]),
            "",
            "",
        );
    }
    page.rule('=');
    page.wrapped(&headline(figures, paper), "", "");
    page.blank();
    let t = &plan.totals;
    let currency = plain(&job.shop.currency);
    let ceiling = |share| [("share", paper.percent(share).into())];
    let mut rows = vec![
        vec![
            paper.say("yield"),
            paper.percent(t.yield_),
            paper.say_with("proven-ceiling", &ceiling(t.yield_ceiling)),
        ],
        vec![
            paper.say("net-yield"),
            paper.percent(t.net_yield),
            paper.say_with("net-ceiling", &ceiling(t.net_yield_ceiling)),
        ],
        vec![
            paper.say("spend"),
            format!("{} {currency}", paper.money(t.spend)),
            least_spend(plan, job, paper),
        ],
    ];
    if plan.kits > 0 {
        let values = [("n", plan.kits_complete().into()), ("m", plan.kits.into())];
        rows.push(vec![
            paper.say("kits-complete"),
            paper.say_with("n-of-m", &values),
            complete_after(&complete_counts(plan), paper),
        ]);
    }
    if let Some((time, made_of)) = saw_time(plan, job) {
        let about = paper.say_with("saw-time-about", &[("time", time.into())]);
        rows.push(vec![paper.say("at-the-saw-time"), about, made_of]);
    }
    page.table(&[], rows, &[1]);
    for choice in &plan.choices {
        let words = choice_words(choice, plan, &job.shop.currency, paper);
        page.wrapped(&words, "", "  ");
    }
    page.wrapped(&repeat_note(plan, paper), "", "");
}

/// The messages of these keys, for the head of a table.
fn heads(paper: Paper, keys: &[&str]) -> Vec<String> {
    keys.iter().map(|key| paper.say(key)).collect()
}

fn taken(page: &mut Page, figures: &Figures, paper: Paper) {
    if figures.taken.is_empty() {
        return;
    }
    page.heading(&paper.say("take"));
    let rows = figures
        .taken
        .iter()
        .map(|t| {
            vec![
                t.count.to_string(),
                stock_name(&t.id, t.kind, paper),
                t.material.clone(),
                t.place.clone().unwrap_or_default(),
                ranges(&t.numbers),
                t.parts.to_string(),
            ]
        })
        .collect();
    let heads = heads(
        paper,
        &["qty", "what", "material", "stands", "sheet-no", "parts"],
    );
    page.table_with(&heads, rows, &[0, 5], Some(4));
}

fn missing(page: &mut Page, figures: &Figures, paper: Paper) {
    if figures.missing.is_empty() {
        return;
    }
    page.heading(&paper.say("not-placed"));
    let rows = figures
        .missing
        .iter()
        .map(|m| {
            vec![
                m.quantity.to_string(),
                m.part.clone(),
                m.kit.clone(),
                missing_why(m, paper),
            ]
        })
        .collect();
    let heads = heads(paper, &["qty", "part", "kit", "why"]);
    page.table_with(&heads, rows, &[0], None);
}

fn sheet_table(page: &mut Page, plan: &CutPlan, job: &Job, figures: &Figures) {
    if figures.sheets.is_empty() {
        return;
    }
    let paper = job.shop.paper;
    page.heading(&paper.say("sheets"));
    if plan.kits > 0 {
        page.wrapped(&paper.say("kits-column"), "", "");
    }
    let mut rows: Vec<Vec<String>> = figures
        .sheets
        .iter()
        .zip(sheet_spends(figures, plan, paper))
        .map(|(s, spend)| {
            let parts: usize = s.parts.iter().map(|p| p.copies.len()).sum();
            vec![
                s.number.to_string(),
                stock_name(&s.id, s.kind, paper),
                s.machine.clone(),
                parts.to_string(),
                s.kits_complete.to_string(),
                paper.percent(s.yield_),
                paper.percent(s.yield_ceiling),
                paper.percent(s.net_yield),
                spend,
            ]
        })
        .collect();
    rows.push(vec![
        paper.say("all"),
        String::new(),
        String::new(),
        figures.placed.to_string(),
        plan.kits_complete().to_string(),
        paper.percent(plan.totals.yield_),
        paper.percent(plan.totals.yield_ceiling),
        paper.percent(plan.totals.net_yield),
        paper.money(plan.totals.spend),
    ]);
    let mut heads = heads(
        paper,
        &[
            "number-short",
            "cut-from",
            "machine",
            "parts",
            "kits-head",
            "yield-head",
            "ceiling",
            "net",
        ],
    );
    heads.push(with_currency(paper, "spend-of", job));
    page.table_with(&heads, rows, &[0, 3, 4, 5, 6, 7, 8], None);
}

/// The message of this key, which names the currency.
fn with_currency(paper: Paper, key: &str, job: &Job) -> String {
    paper.say_with(key, &[("currency", plain(&job.shop.currency).into())])
}

fn spend(page: &mut Page, plan: &CutPlan, job: &Job, figures: &Figures) {
    let paper = job.shop.paper;
    page.heading(&paper.say("spend"));
    let mut rows: Vec<Vec<String>> = figures
        .spend
        .iter()
        .zip(spend_amounts(figures, plan, paper))
        .map(|(l, amount)| vec![paper.say(l.what), amount])
        .collect();
    rows.push(vec![paper.say("spend"), paper.money(plan.totals.spend)]);
    if !plan.sheets.is_empty() {
        rows.push(vec![
            paper.say("no-plan-less"),
            paper.money(plan.totals.least_spend),
        ]);
    }
    page.table(&["", &plain(&job.shop.currency)], rows, &[1]);
}

fn kept(page: &mut Page, job: &Job, figures: &Figures) {
    let paper = job.shop.paper;
    page.heading(&paper.say("worth-keeping"));
    if figures.kept.is_empty() {
        page.wrapped(&paper.say("none-kept"), "", "");
        return;
    }
    let rows = figures
        .kept
        .iter()
        .map(|k| {
            let size = paper.size(k.size.0, k.size.1);
            vec![
                k.id.clone(),
                if k.rectangle {
                    size
                } else {
                    paper.say_with("of-outline", &[("size", size.into())])
                },
                paper.area(k.area),
                k.material.clone(),
                paper.say_with(
                    "lies-on",
                    &[
                        ("sheet", k.sheet.into()),
                        ("x", paper.length(k.at.x).into()),
                        ("y", paper.length(k.at.y).into()),
                    ],
                ),
                paper.money(k.value),
            ]
        })
        .collect();
    let heads = [
        paper.say("identity"),
        paper.say_with("size-in", &[("unit", paper.length_unit().into())]),
        paper.say_with("area-in", &[("unit", paper.area_unit().into())]),
        paper.say("material"),
        paper.say("lies"),
        with_currency(paper, "value-of", job),
    ];
    page.table_with(&heads, rows, &[2, 5], None);
}

fn one_sheet(
    page: &mut Page,
    sheet: &SheetFigures,
    cut: &CutSheet,
    spend: &str,
    plan: &CutPlan,
    job: &Job,
) {
    let paper = job.shop.paper;
    let name = stock_name(&sheet.id, sheet.kind, paper);
    let title = [("number", sheet.number.into()), ("name", name.into())];
    page.heading(&paper.say_with("sheet-named", &title));
    let mass = paper.mass(sheet.mass_kg);
    let mut facts = vec![
        sheet.material.clone(),
        format!(
            "{} {}",
            paper.size(sheet.size.0, sheet.size.1),
            paper.length_unit()
        ),
        paper.say_with("about-mass", &[("mass", mass.into())]),
    ];
    if let Some(place) = &sheet.place {
        facts.push(paper.say_with("stands-in", &[("place", place.as_str().into())]));
    }
    if let Some(lot) = &sheet.lot {
        facts.push(paper.say_with("of-lot", &[("lot", lot.as_str().into())]));
    }
    page.wrapped(&facts.join(", "), "", "");
    page.wrapped(&method(sheet, cut, paper), "", "");
    if let Some(cutting) = &sheet.cutting {
        page.wrapped(&cutting_words(cutting, paper), "", "");
    }
    if let Some(words) = turned("sheet-turned", cut, job) {
        page.wrapped(&words, "", "");
    }
    let keep_off = keep_off(cut, paper);
    if !keep_off.is_empty() {
        let words = paper.say_with("keep-off", &[("what", keep_off.into())]);
        page.wrapped(&words, "", "");
    }
    let yields = paper.say_with(
        "sheet-yields",
        &[
            ("yield", paper.percent(sheet.yield_).into()),
            ("ceiling", paper.percent(sheet.yield_ceiling).into()),
            ("net", paper.percent(sheet.net_yield).into()),
            ("spend", spend.into()),
            ("currency", plain(&job.shop.currency).into()),
        ],
    );
    page.wrapped(&yields, "", "");
    page.blank();
    let rows = sheet
        .parts
        .iter()
        .map(|p| {
            vec![
                p.key.clone(),
                p.copies.len().to_string(),
                p.part.clone(),
                paper.size(p.size.0, p.size.1),
                ranges(&p.copies),
                part_note(p, paper),
            ]
        })
        .collect();
    let heads = [
        paper.say("key"),
        paper.say("qty"),
        paper.say("part"),
        paper.say_with("size-in", &[("unit", paper.length_unit().into())]),
        paper.say("copies"),
        paper.say("note"),
    ];
    page.table_with(&heads, rows, &[1], None);
    if !cut.saw_cuts.is_empty() {
        page.blank();
        saw_table(page, cut, sheet, plan, job);
    }
}

fn saw_table(page: &mut Page, cut: &CutSheet, sheet: &SheetFigures, plan: &CutPlan, job: &Job) {
    let paper = job.shop.paper;
    let Some(plan) = saw_plan(cut, sheet, plan, job) else {
        let rows = centre_lines(cut, paper)
            .into_iter()
            .map(|(number, stage, line)| vec![number.to_string(), stage, line])
            .collect();
        let heads = heads(paper, &["cut", "stage", "centre-line"]);
        page.table_with(&heads, rows, &[0], None);
        return;
    };
    let summary = [("summary", plan.summary.as_str().into())];
    page.wrapped(&paper.say_with("saw-line", &summary), "", "");
    if !plan.alike.is_empty() {
        page.wrapped(&plan.alike, "", "");
    }
    let rows = plan
        .rows
        .into_iter()
        .map(|r| {
            vec![
                r.number.to_string(),
                r.table,
                r.way,
                r.fence,
                r.near,
                r.beyond,
            ]
        })
        .collect();
    let heads = heads(
        paper,
        &[
            "cut",
            "on-the-table",
            "way",
            "fence",
            "at-the-fence",
            "beyond",
        ],
    );
    page.table_with(&heads, rows, &[0, 3], None);
}

/// Widest that a column with lists of numbers gets: these break anywhere, so that names need not.
const NUMBERS: u16 = 13;

/// Lines of at most [`WIDTH`] columns.
#[derive(Debug, Default)]
pub(crate) struct Page {
    text: String,
}

impl Page {
    /// What was written.
    pub(crate) fn into_text(self) -> String {
        self.text
    }

    pub(crate) fn blank(&mut self) {
        self.text.push('\n');
    }

    pub(crate) fn rule(&mut self, with: char) {
        self.text.extend(std::iter::repeat_n(with, WIDTH));
        self.blank();
    }

    pub(crate) fn heading(&mut self, words: &str) {
        self.blank();
        self.wrapped(words, "", "");
        self.rule('-');
    }

    /// Words broken into lines, the first after `first` and the others after `next`.
    pub(crate) fn wrapped(&mut self, words: &str, first: &str, next: &str) {
        let mut line = first.to_owned();
        let mut empty = true;
        for word in plain(words).split(' ') {
            for piece in pieces(word, WIDTH - next.width().max(first.width())) {
                if !empty && line.width() + 1 + piece.width() > WIDTH {
                    self.line(&line);
                    next.clone_into(&mut line);
                    empty = true;
                }
                if !empty {
                    line.push(' ');
                }
                line.push_str(&piece);
                empty = false;
            }
        }
        self.line(&line);
    }

    fn line(&mut self, line: &str) {
        self.text.push_str(line.trim_end());
        self.blank();
    }

    /// Rows under a header (none when empty); the columns in `right` are set to the right.
    pub(crate) fn table(&mut self, header: &[&str], rows: Vec<Vec<String>>, right: &[usize]) {
        self.table_with(header, rows, right, None);
    }

    /// The same, with a column of lists of numbers.
    fn table_with(
        &mut self,
        header: &[impl AsRef<str>],
        rows: Vec<Vec<String>>,
        right: &[usize],
        numbers: Option<usize>,
    ) {
        let mut table = Table::new();
        table
            .load_style(presets::NOTHING)
            .set_content_arrangement(ContentArrangement::Dynamic)
            .set_width(WIDTH as u16);
        if !header.is_empty() {
            table.set_header(header.iter().map(|h| plain(h.as_ref())).collect::<Vec<_>>());
        }
        for row in rows {
            table.add_row(row);
        }
        let last = table.column_count().saturating_sub(1);
        for i in 0..=last {
            if let Some(column) = table.column_mut(i) {
                column.set_padding((0, if i == last { 0 } else { 2 }));
                if numbers == Some(i) {
                    column.set_constraint(ColumnConstraint::UpperBoundary(Width::Fixed(NUMBERS)));
                }
                if right.contains(&i) {
                    column.set_cell_alignment(CellAlignment::Right);
                }
            }
        }
        for line in table.lines() {
            self.line(&line);
        }
    }
}

/// A word, cut where it is wider than a line.
fn pieces(word: &str, width: usize) -> Vec<String> {
    let mut pieces = vec![String::new()];
    let mut used = 0;
    for c in word.chars() {
        let wide = c.width().unwrap_or(0);
        if used + wide > width {
            pieces.push(String::new());
            used = 0;
        }
        used += wide;
        if let Some(last) = pieces.last_mut() {
            last.push(c);
        }
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use proptest::prelude::*;

    fn section<'a>(text: &'a str, heading: &str) -> Vec<&'a str> {
        let mut lines = text.lines().skip_while(|l| *l != heading);
        lines.next().expect("the heading is there");
        lines.skip(1).take_while(|l| !l.is_empty()).collect()
    }

    fn last_number(line: &str) -> f64 {
        let word = line.split_whitespace().last().expect("words");
        word.parse().expect("a number")
    }

    #[test]
    fn no_line_is_wider_than_80_columns() {
        for (plan, job) in [sample::cabinet(), sample::odd_names()] {
            let text = text(&plan, &job);
            for line in text.lines() {
                assert!(line.width() <= WIDTH, "{} columns: {line}", line.width());
                assert!(!line.chars().any(char::is_control), "{line:?}");
            }
            assert!(text.ends_with('\n'));
        }
    }

    #[test]
    fn printed_spend_adds_up() {
        let (plan, job) = sample::cabinet();
        let text = text(&plan, &job);
        let lines = section(&text, "Spend");
        let amounts: Vec<f64> = lines[1..].iter().map(|l| last_number(l)).collect();
        let sum: f64 = amounts[..4].iter().sum();
        assert!((sum - amounts[4]).abs() < 1e-6, "{lines:?}");
        assert!((amounts[4] - plan.totals.spend).abs() <= 0.005 + 1e-9);

        let sheets = section(&text, "Sheets");
        let amounts: Vec<f64> = sheets
            .iter()
            .skip_while(|l| !l.starts_with("  1"))
            .filter(|l| l.split_whitespace().last().is_some_and(|w| w.contains('.')))
            .map(|l| last_number(l))
            .collect();
        assert_eq!(amounts.len(), plan.sheets.len() + 1, "{sheets:?}");
        let (all, each) = amounts.split_last().expect("lines");
        assert!((each.iter().sum::<f64>() - all).abs() < 1e-6, "{sheets:?}");
    }

    #[test]
    fn says_the_answer_first_and_names_what_is_missing() {
        let (mut plan, mut job) = sample::cabinet();
        let placed = plan.part_count();
        let said = text(&plan, &job);
        let answer = format!(
            "{placed} of {} parts are placed, on 3 sheets and 1 remnant. 4 are missing, see below.",
            placed + 4
        );
        assert!(said.lines().take(8).any(|l| l == answer), "{said}");
        let missing = section(&said, "Not placed");
        assert!(missing[1].contains("latch-plate"), "{missing:?}");
        assert!(missing.concat().contains("is used"), "{missing:?}");

        job.items.truncate(8);
        plan.missing.clear();
        let said = text(&plan, &job);
        assert!(said.contains(&format!("All {placed} parts are placed")));
        assert!(!said.contains("Not placed"));
    }

    #[test]
    fn kits_complete_are_told_first_and_at_each_sheet() {
        let (plan, job) = sample::cabinet();
        let said = text(&plan, &job);
        let told = said
            .lines()
            .take(14)
            .find(|l| l.starts_with("Kits complete"));
        let told = told.expect("among the first lines");
        assert!(
            told.contains("3 of 3  1 after sheet 2, 3 after sheet 4"),
            "{told}"
        );
        let sheets = section(&said, "Sheets");
        let last = sheets
            .iter()
            .rfind(|l| l.starts_with("all"))
            .expect("a sum");
        let words: Vec<&str> = last.split_whitespace().collect();
        assert_eq!(words[1..3], [plan.part_count().to_string().as_str(), "3"]);
    }

    #[test]
    fn every_sheet_part_offcut_and_note_appears() {
        let (plan, job) = sample::cabinet();
        let said = text(&plan, &job);
        for sheet in &plan.sheets {
            assert!(said.contains(&sheet.source.id));
            for part in &sheet.parts {
                assert!(said.contains(&job.items[part.item].part));
            }
            for offcut in &sheet.offcuts {
                let listed = said.lines().any(|l| l.starts_with(&offcut.id));
                assert_eq!(listed, offcut.kept, "{}", offcut.id);
            }
        }
        assert!(said.contains("a gap of 0.02 mm was closed"));
        assert!(said.contains("Panel saw:"));
        assert!(said.contains("2 blanks"));
        assert!(said.contains("keep off 1 void and 1 flaw"));
        let cuts: usize = plan.sheets.iter().map(|s| s.saw_cuts.len()).sum();
        // Each at the fence, or by its centre line where no fence can tell it.
        let listed = said.lines().filter(|l| {
            l.contains("  rip  ")
                || l.contains("  cross  ")
                || l.contains(" to ") && (l.contains("  x ") || l.contains("  y "))
        });
        assert_eq!(listed.count(), cuts);
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        #[test]
        fn any_name_fits(name in "\\PC{0,100}", other in any::<String>()) {
            let (mut plan, mut job) = sample::cabinet();
            for item in &mut job.items {
                item.part.clone_from(&name);
                item.kit.clone_from(&other);
                item.label.clone_from(&other);
            }
            job.order.clone_from(&name);
            job.shop.currency = other.chars().take(8).collect();
            job.notes.push(other.clone());
            for sheet in &mut plan.sheets {
                sheet.source.id.clone_from(&name);
                sheet.source.place = Some(other.clone());
            }
            for line in text(&plan, &job).lines() {
                prop_assert!(line.width() <= WIDTH, "{} columns: {line:?}", line.width());
            }
        }
    }

    #[test]
    fn an_empty_plan_is_still_a_report() {
        let (mut plan, job) = sample::cabinet();
        plan.sheets.clear();
        plan.totals = crate::cut_plan::Totals {
            yield_: f64::NAN,
            ..Default::default()
        };
        let said = text(&plan, &job);
        assert!(said.contains("0 of"), "{said}");
        assert!(said.contains("not known"), "{said}");
    }
}
