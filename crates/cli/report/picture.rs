//! The drawing of one sheet, as SVG inside the HTML report.
//!
//! One user unit is one millimetre. A part's shape is there once in the report ([`shapes`]); drawings turn and
//! place it.

use super::figures::key;
use super::label::{self, Label};
use crate::cut_plan::{CutOffcut, CutPart, CutPlan, CutSheet, Zone};
use crate::job::Job;
use crate::number;
use crate::paper::{Lengths, Paper};
use crate::path_data::{at, chain_path, escaped, n, outline_path, points_path};
use panelwright_geometry::{Bounds, Path, Point, Polygon, Side, Vec2};
use std::collections::BTreeMap;
use std::fmt::Write;

/// Room that the stock gets on a printed page, millimetres: A4 across, less margins, sizes, scale
/// and the lists below. The style sheet's height of a drawing follows from it.
const PAGE: (f64, f64) = (255.0, 89.0);

/// How far flattened curves may be off where they only guide text.
const COARSE: f64 = 0.5;

/// Sizes of text, in millimetres on the page: names and keys of parts, and what is less.
const NAME: (f64, f64) = (2.3, 4.4);
const KEY: (f64, f64) = (1.7, 5.0);
const SMALL: (f64, f64) = (1.9, 3.2);

/// Letters of a word that is written where it does not fit; the lists have it whole.
const LONGEST_FORCED: usize = 10;

/// The length of a dash of a mark, and of the gap to the next, in millimetres on the page.
const DASH: f64 = 1.2;

/// Marks that are no larger than so many dashes, millimetres on the page, are drawn through: of letters and short ticks
/// dashes leave nothing that can be read.
const LEAST_DASHED: f64 = 7.0 * DASH;

/// The shapes of all parts that a plan places, for its drawings to use: `o` and the item's index the outline, `m` the
/// marks that are dashed, `l` those that are not.
pub(super) fn shapes(plan: &CutPlan, job: &Job) -> String {
    let used = plan.sheets.iter().map(|s| (s, unit(s, PAGE)));
    format!(
        "<svg class=\"shapes\" width=\"0\" height=\"0\" aria-hidden=\"true\"><defs>{}</defs></svg>",
        shape_paths(used, job)
    )
}

/// Millimetres of the sheet in a millimetre of a page with this room.
fn unit(sheet: &CutSheet, page: (f64, f64)) -> f64 {
    let bounds = sheet.polygon().bounds();
    (bounds.width() / page.0)
        .max(bounds.height() / page.1)
        .max(f64::MIN_POSITIVE)
}

/// The shapes of the parts of these sheets, each once; beside each sheet its unit.
fn shape_paths<'a>(sheets: impl Iterator<Item = (&'a CutSheet, f64)>, job: &Job) -> String {
    // Where a part lies on several sheets, the one that is drawn smallest counts.
    let mut used: BTreeMap<usize, f64> = BTreeMap::new();
    for (sheet, unit) in sheets {
        for part in &sheet.parts {
            let largest = used.entry(part.item).or_insert(unit);
            *largest = largest.max(unit);
        }
    }
    let mut svg = String::new();
    for (item, unit) in used {
        let outline = &job.items[item].outline;
        let d = outline_path(outline);
        let _ = write!(
            svg,
            "<path id=\"o{item}\" fill-rule=\"evenodd\" d=\"{d}\"/>"
        );
        let (through, dashed): (Vec<&Path>, Vec<&Path>) = outline
            .marks
            .iter()
            .partition(|m| extent(m) <= LEAST_DASHED * unit);
        for (id, marks) in [("m", dashed), ("l", through)] {
            // Both are there where there is a mark: whoever uses them need not know the unit.
            if !outline.marks.is_empty() {
                let marks = marks.into_iter();
                let d: String = marks.map(|m| chain_path(m.segments(), m.closed)).collect();
                let _ = write!(svg, "<path id=\"{id}{item}\" d=\"{d}\"/>");
            }
        }
    }
    svg
}

/// The larger side of the bounds of a mark.
pub(crate) fn extent(mark: &Path) -> f64 {
    let bounds = mark.segments().map(|s| s.bounds()).reduce(Bounds::union);
    bounds.map_or(0.0, |b| b.width().max(b.height()))
}

/// How a shape is turned and moved to where a part lies.
fn transform(part: &CutPart) -> String {
    let origin = at(part.placement.origin);
    match part.placement.angle_deg() {
        0.0 => format!("translate({origin})"),
        // Angles turn the other way once y points down.
        angle => format!("translate({origin}) rotate({})", number::short(-angle, 6)),
    }
}

/// The drawing of a sheet, and over it what can be pressed: every part leads to its row in the list of parts. The
/// latter is for pointers alone; keyboards and screen readers have the lists.
///
/// Names are escaped. Coordinates have three decimals, so that the same plan gives the same bytes.
pub(super) fn picture(sheet: &CutSheet, job: &Job) -> String {
    let drawing = draw(sheet, job);
    format!("{}{}", drawing.svg, drawing.presses)
}

fn draw(sheet: &CutSheet, job: &Job) -> Drawing {
    draw_on(sheet, job, PAGE)
}

/// The same with letters twice as large, for a picture of its own, and its width and height in its own units. It has no
/// namespace: it is to stand inside another SVG, with the report's rules for `.drawing`.
pub(crate) fn drawing_alone(sheet: &CutSheet, job: &Job) -> (String, (f64, f64)) {
    /// Room for the stock where a sheet is the only one on a picture: a phone held in the hand.
    const ALONE: (f64, f64) = (120.0, 100.0);
    let drawing = draw_on(sheet, job, ALONE);
    let size = (drawing.frame.width(), drawing.frame.height());
    // The report keeps the shapes of its parts in one place; here they go into the drawing.
    let alone = std::iter::once((sheet, unit(sheet, ALONE)));
    let defs = format!("<defs>{}", shape_paths(alone, job));
    (drawing.svg.replacen("<defs>", &defs, 1), size)
}

fn draw_on(sheet: &CutSheet, job: &Job, page: (f64, f64)) -> Drawing {
    let stock = sheet.polygon();
    let bounds = stock.bounds();
    let unit = unit(sheet, page);
    // A narrow strip still needs room for the scale and the grain side by side.
    let right = (bounds.max.x + 3.0 * unit).max(bounds.min.x + 92.0 * unit);
    let frame = Bounds::new(
        Point::new(bounds.min.x - 6.0 * unit, bounds.min.y - 13.0 * unit),
        Point::new(right, bounds.max.y + 6.0 * unit),
    );
    let mut drawing = Drawing {
        paper: job.shop.paper,
        svg: String::new(),
        presses: String::new(),
        unit,
        frame,
        taken: Vec::new(),
    };
    drawing.open(sheet, job);
    drawing.polygon("stock", &stock);
    for offcut in &sheet.offcuts {
        drawing.offcut_area(sheet.number, offcut);
    }
    for flaw in &sheet.flaws {
        drawing.flaw(sheet.number, flaw);
    }
    for void in &sheet.voids {
        drawing.void(void);
    }
    for zone in &sheet.zones {
        drawing.zone(zone);
    }
    let _ = write!(drawing.svg, "<g stroke-width=\"{}\">", n(0.3 * unit));
    for part in &sheet.parts {
        drawing.part(part, job);
    }
    drawing.svg.push_str("</g>");
    for offcut in sheet.offcuts.iter().filter(|o| o.kept) {
        drawing.offcut_label(offcut);
    }
    for (i, blank) in sheet.blanks.iter().enumerate() {
        drawing.blank(i + 1, blank, &sheet.parts);
    }
    drawing.sizes(bounds);
    drawing.saw_cuts(sheet);
    drawing.scale_bar(bounds);
    if let Some(grain) = sheet.grain_deg {
        drawing.grain(bounds, grain);
    }
    drawing.svg.push_str("</svg>");
    drawing.presses.push_str("</svg>");
    drawing
}

/// How wide a word of this height is.
fn wide(word: &str, size: f64) -> f64 {
    let label = Label {
        center: Point::new(0.0, 0.0),
        size,
        turned: false,
    };
    label.bounds(&[word]).width()
}

/// A word of at most [`LONGEST_FORCED`] letters.
fn shortened(word: &str) -> String {
    if word.chars().count() <= LONGEST_FORCED {
        return word.to_owned();
    }
    word.chars().take(LONGEST_FORCED - 1).chain(['…']).collect()
}

struct Drawing {
    paper: Paper,
    svg: String,
    /// A second picture of the same frame, with the parts as links.
    presses: String,
    /// Millimetres of the sheet in a millimetre of the page.
    unit: f64,
    /// What the picture shows.
    frame: Bounds,
    /// Where words already stand.
    taken: Vec<Bounds>,
}

impl Drawing {
    fn open(&mut self, sheet: &CutSheet, job: &Job) {
        let frame = self.frame;
        let number = sheet.number;
        let paper = self.paper;
        let title = paper.say_with(
            "drawing-title",
            &[
                ("number", number.into()),
                ("name", number::plain(&sheet.source.id).into()),
            ],
        );
        let size = sheet.polygon().bounds();
        let mut says = vec![paper.say_with(
            "drawing-parts",
            &[
                ("n", sheet.parts.len().into()),
                ("size", paper.size(size.width(), size.height()).into()),
                ("unit", paper.length_unit().into()),
            ],
        )];
        let kept = sheet.offcuts.iter().filter(|o| o.kept).count();
        for (count, key) in [
            (sheet.saw_cuts.len(), "drawing-cuts"),
            (sheet.voids.len(), "voids-count"),
            (sheet.flaws.len(), "flaws-count"),
            (sheet.zones.len(), "drawing-zones"),
            (kept, "drawing-kept"),
        ] {
            if count > 0 {
                says.push(paper.say_with(key, &[("n", count.into())]));
            }
        }
        let material = number::plain(&job.shop.materials[sheet.material].name);
        let view = format!(
            "viewBox=\"{} {} {} {}\"",
            n(frame.min.x),
            n(-frame.max.y),
            n(frame.width()),
            n(frame.height()),
        );
        let _ = write!(
            self.presses,
            "<svg class=\"presses\" aria-hidden=\"true\" {view}>"
        );
        let _ = write!(
            self.svg,
            "<svg class=\"drawing\" role=\"img\" aria-labelledby=\"t{number} d{number}\" \
             style=\"--u:{}px\" {view}><title id=\"t{number}\">{}</title>\
             <desc id=\"d{number}\">{}</desc>",
            n(self.unit),
            escaped(&title),
            escaped(&paper.say_with(
                "drawing-says",
                &[
                    ("what", says.join(", ").into()),
                    ("material", material.into()),
                ],
            )),
        );
        // Two patterns that differ in direction and density, so that they read without colour.
        let u = self.unit;
        let _ = write!(
            self.svg,
            "<defs><pattern id=\"keep{number}\" patternUnits=\"userSpaceOnUse\" width=\"{w}\" \
             height=\"{w}\" patternTransform=\"rotate(45)\"><path class=\"keep-line\" \
             stroke-width=\"{s}\" d=\"M0 0V{w}\"/></pattern>\
             <pattern id=\"flaw{number}\" patternUnits=\"userSpaceOnUse\" width=\"{v}\" \
             height=\"{v}\" patternTransform=\"rotate(45)\"><path class=\"flaw-line\" \
             stroke-width=\"{s}\" d=\"M0 0V{v}M0 0H{v}\"/></pattern></defs>",
            w = n(2.6 * u),
            v = n(1.6 * u),
            s = n(0.3 * u),
        );
    }

    fn polygon(&mut self, class: &str, polygon: &Polygon) {
        let d = points_path(polygon.rings());
        let _ = write!(
            self.svg,
            "<path class=\"{class}\" fill-rule=\"evenodd\" stroke-width=\"{}\" d=\"{d}\"/>",
            n(0.4 * self.unit)
        );
    }

    fn offcut_area(&mut self, sheet: usize, offcut: &CutOffcut) {
        let d = points_path(offcut.outline.rings());
        let (class, fill) = if offcut.kept {
            ("keep", format!(" fill=\"url(#keep{sheet})\""))
        } else {
            (
                "scrap",
                format!(" stroke-dasharray=\"{0} {0}\"", n(0.8 * self.unit)),
            )
        };
        let bounds = offcut.outline.bounds();
        let _ = write!(
            self.svg,
            "<path class=\"{class}\"{fill} fill-rule=\"evenodd\" stroke-width=\"{}\" d=\"{d}\">\
             <title>{}</title></path>",
            n(0.35 * self.unit),
            escaped(&self.paper.say_with(
                if offcut.kept {
                    "drawing-offcut"
                } else {
                    "drawing-scrap"
                },
                &[
                    ("id", number::plain(&offcut.id).into()),
                    (
                        "size",
                        self.paper.size(bounds.width(), bounds.height()).into()
                    ),
                    ("unit", self.paper.length_unit().into()),
                ]
            ))
        );
    }

    fn offcut_label(&mut self, offcut: &CutOffcut) {
        let bounds = offcut.outline.bounds();
        let short = number::plain(&offcut.id);
        let id = self
            .paper
            .say_with("drawing-keep", &[("id", short.as_str().into())]);
        let size = self.paper.size(bounds.width(), bounds.height());
        let one_line = format!("{id}: {size}");
        self.first_that_fits(
            "keep-name",
            &offcut.outline,
            &[&[&id, &size], &[&one_line], &[&id], &[&short]],
            SMALL,
        );
    }

    fn flaw(&mut self, sheet: usize, flaw: &Vec<Point>) {
        let d = points_path([flaw]);
        let word = self.paper.say("drawing-flaw");
        let _ = write!(
            self.svg,
            "<path class=\"flaw\" fill=\"url(#flaw{sheet})\" stroke-width=\"{}\" d=\"{d}\">\
             <title>{}</title></path>",
            n(0.35 * self.unit),
            escaped(&word)
        );
        let shape = Polygon::new(flaw.clone(), Vec::new());
        self.first_that_fits("flaw-name", &shape, &[&[&word]], SMALL);
    }

    fn void(&mut self, void: &[Point]) {
        let shape = Polygon::new(void.to_vec(), Vec::new());
        self.polygon("void", &shape);
        let word = self.paper.say("drawing-void");
        self.first_that_fits("void-name", &shape, &[&[&word]], SMALL);
    }

    fn zone(&mut self, zone: &Zone) {
        let d = points_path([&zone.outline]);
        let why = number::plain(&zone.why);
        let _ = write!(
            self.svg,
            "<path class=\"zone\" stroke-width=\"{}\" stroke-dasharray=\"{}\" d=\"{d}\">\
             <title>{}</title></path>",
            n(0.35 * self.unit),
            n(1.4 * self.unit),
            escaped(
                &self
                    .paper
                    .say_with("drawing-zone", &[("why", why.as_str().into())])
            )
        );
        let shape = Polygon::new(zone.outline.clone(), Vec::new());
        let short = shortened(&why);
        // Where it does not fit, the caption has it: a clamp often lies under another name.
        let _ = self.try_label("zone-name", &shape, &[], &[&why], SMALL)
            || self.try_label("zone-name", &shape, &[], &[&short], SMALL);
    }

    fn part(&mut self, part: &CutPart, job: &Job) {
        let item = &job.items[part.item];
        let name = number::plain(&item.part);
        let title = self.part_words(part, &name);
        let (item, moved) = (part.item, transform(part));
        let _ = write!(
            self.presses,
            "<a href=\"#part-{item}\" tabindex=\"-1\"><title>{}</title>\
             <use href=\"#o{item}\" transform=\"{moved}\"/></a>",
            escaped(&title)
        );
        let _ = write!(
            self.svg,
            "<g class=\"p\" id=\"p{item}-{}\" data-i=\"{item}\">\
             <use class=\"part\" href=\"#o{item}\" transform=\"{moved}\"/>",
            part.copy
        );
        let u = self.unit;
        if !part.outline.marks.is_empty() {
            // What is drawn through is thin, so that it is not taken for a cut.
            let _ = write!(
                self.svg,
                "<use class=\"mark\" href=\"#m{item}\" transform=\"{moved}\" \
                 stroke-dasharray=\"{}\"/>\
                 <use class=\"mark\" href=\"#l{item}\" transform=\"{moved}\" stroke-width=\"{}\"/>",
                n(DASH * u),
                n(0.15 * u)
            );
        }
        let shape = part.outline.flatten(COARSE, Side::Within);
        let marks: Vec<Bounds> = part
            .outline
            .marks
            .iter()
            .flat_map(|m| m.segments())
            .map(|s| s.bounds().grown(0.4 * u))
            .collect();
        let key = key(part.item);
        let one_line = format!("{key} {name}");
        let fitted = self.try_label("name", &shape, &marks, &[&one_line], NAME)
            || self.try_label("name", &shape, &marks, &[&key, &name], NAME)
            || self.try_label("key", &shape, &marks, &[&key], KEY)
            || self.try_label("key", &shape, &[], &[&key], KEY);
        if !fitted {
            self.forced_label("key", &shape, &key, KEY.0);
        }
        self.svg.push_str("</g>");
    }

    /// What is to know about a part where it lies.
    fn part_words(&self, part: &CutPart, name: &str) -> String {
        let paper = self.paper;
        let bounds = part.outline.bounds();
        let turn = match part.placement.angle_deg() {
            0.0 => paper.say("drawing-as-drawn"),
            angle => {
                let angle = paper.short(angle, 3);
                paper.say_with("drawing-turned", &[("angle", angle.into())])
            }
        };
        let words = paper.say_with(
            "drawing-part",
            &[
                ("name", name.into()),
                ("copy", part.copy.into()),
                ("size", paper.size(bounds.width(), bounds.height()).into()),
                ("unit", paper.length_unit().into()),
                ("x", paper.length(bounds.min.x).into()),
                ("y", paper.length(bounds.min.y).into()),
                ("turn", turn.into()),
            ],
        );
        let kit = part
            .kit_number
            .map(|n| paper.say_with("drawing-kit", &[("n", n.into())]));
        let pinned = part.pinned.then(|| paper.say("drawing-pinned"));
        let all = [Some(words), kit, pinned];
        all.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }

    /// The first wording that fits; the last one whether it fits or not.
    fn first_that_fits(
        &mut self,
        class: &str,
        shape: &Polygon,
        wordings: &[&[&str]],
        sizes: (f64, f64),
    ) {
        for lines in wordings {
            if self.try_label(class, shape, &[], lines, sizes) {
                return;
            }
        }
        if let Some(word) = wordings.last().and_then(|lines| lines.first()) {
            self.forced_label(class, shape, word, sizes.0);
        }
    }

    fn try_label(
        &mut self,
        class: &str,
        shape: &Polygon,
        clear: &[Bounds],
        lines: &[&str],
        (least, largest): (f64, f64),
    ) -> bool {
        let u = self.unit;
        match label::fit(shape, clear, lines, (least * u, largest * u)) {
            Some(label) => {
                self.words(class, label, lines);
                true
            }
            None => false,
        }
    }

    /// A short word over the middle of a shape that is too small for it.
    fn forced_label(&mut self, class: &str, shape: &Polygon, word: &str, size: f64) {
        let word = shortened(word);
        if let Some(bounds) = Bounds::of_points(shape.outer.iter().copied()) {
            let label = Label {
                center: bounds.center(),
                size: size * self.unit,
                turned: false,
            };
            self.words(class, label, &[&word]);
        }
    }

    fn words(&mut self, class: &str, label: Label, lines: &[&str]) {
        self.taken.push(label.bounds(lines));
        let (x, y) = (label.center.x, -label.center.y);
        let turn = if label.turned {
            format!(" transform=\"rotate(-90 {} {})\"", n(x), n(y))
        } else {
            String::new()
        };
        let _ = write!(
            self.svg,
            "<text class=\"{class}\" font-size=\"{}\"{turn}>",
            n(label.size)
        );
        let first = -0.6 * (lines.len() as f64 - 1.0);
        for (i, line) in lines.iter().enumerate() {
            // A third of the height below the middle puts the middle of the letters on it.
            let down = (first + 1.2 * i as f64 + 0.35) * label.size;
            let _ = write!(
                self.svg,
                "<tspan x=\"{}\" y=\"{}\">{}</tspan>",
                n(x),
                n(y + down),
                escaped(line)
            );
        }
        self.svg.push_str("</text>");
    }

    fn blank(&mut self, number: usize, blank: &Bounds, parts: &[CutPart]) {
        let u = self.unit;
        let _ = write!(
            self.svg,
            "<rect class=\"blank\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" \
             stroke-width=\"{}\" stroke-dasharray=\"{} {}\"/>",
            n(blank.min.x),
            n(-blank.max.y),
            n(blank.width()),
            n(blank.height()),
            n(0.6 * u),
            n(4.0 * u),
            n(1.5 * u)
        );
        let name = self
            .paper
            .say_with("drawing-blank", &[("n", number.into())]);
        let size = self.paper.size(blank.width(), blank.height());
        let with_size = format!("{name}: {size}");
        let mut clear = self.taken.clone();
        clear.extend(parts.iter().map(|p| p.outline.bounds()));
        let room = Polygon::from_bounds(blank.grown(-0.4 * u));
        for words in [&with_size, &name] {
            if self.try_label("blank-name", &room, &clear, &[words], SMALL) {
                return;
            }
        }
        // No room beside the parts: over them, but clear of what is written there.
        let written = self.taken.clone();
        if self.try_label("blank-name", &room, &written, &[&name], SMALL) {
            return;
        }
        let size = 2.4 * u;
        let label = Label {
            center: Point::new(
                blank.max.x - (name.chars().count() as f64 * 0.3 + 1.5) * size,
                blank.max.y - 1.5 * size,
            ),
            size,
            turned: false,
        };
        self.words("blank-name", label, &[&name]);
    }

    fn saw_cuts(&mut self, sheet: &CutSheet) {
        let u = self.unit;
        for cut in &sheet.saw_cuts {
            let _ = write!(
                self.svg,
                "<line class=\"saw\" x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" \
                 stroke-width=\"{}\"/>",
                n(cut.from.x),
                n(-cut.from.y),
                n(cut.to.x),
                n(-cut.to.y),
                n(cut.kerf.max(0.5 * u))
            );
        }
        for (i, cut) in sheet.saw_cuts.iter().enumerate() {
            let radius = 2.3 * u;
            let center = self.clear_spot(cut.from, cut.to, radius);
            let r = Vec2::new(radius, radius);
            self.taken.push(Bounds::new(center + (-r), center + r));
            let _ = write!(
                self.svg,
                "<g class=\"cut-number\"><title>{}</title>\
                 <circle cx=\"{}\" cy=\"{}\" r=\"{}\" stroke-width=\"{}\"/>\
                 <text x=\"{}\" y=\"{}\" font-size=\"{}\">{}</text></g>",
                escaped(&self.paper.say_with(
                    "drawing-saw-cut",
                    &[("n", (i + 1).into()), ("stage", cut.stage.into())]
                )),
                n(center.x),
                n(-center.y),
                n(radius),
                n(0.3 * u),
                n(center.x),
                n(-center.y + 0.95 * u),
                n(2.7 * u),
                i + 1
            );
        }
    }

    /// The place along a cut where a number of this radius covers least of what is written.
    fn clear_spot(&self, from: Point, to: Point, radius: f64) -> Point {
        let shares = [
            0.5, 0.35, 0.65, 0.2, 0.8, 0.42, 0.58, 0.1, 0.9, 0.27, 0.73, 0.05, 0.95,
        ];
        let covered = |center: Point| -> f64 {
            let r = Vec2::new(radius, radius);
            let spot = Bounds::new(center + (-r), center + r);
            self.taken
                .iter()
                .map(|b| {
                    let w = (spot.max.x.min(b.max.x) - spot.min.x.max(b.min.x)).max(0.0);
                    let h = (spot.max.y.min(b.max.y) - spot.min.y.max(b.min.y)).max(0.0);
                    w * h
                })
                .sum()
        };
        let mut best = from + (to - from) * shares[0];
        let mut least = covered(best);
        for share in &shares[1..] {
            let center = from + (to - from) * *share;
            let here = covered(center);
            if here < least {
                (best, least) = (center, here);
            }
        }
        best
    }

    fn with_unit(&self, mm: f64) -> String {
        format!("{} {}", self.paper.length(mm), self.paper.length_unit())
    }

    /// Length above and width beside the stock.
    fn sizes(&mut self, bounds: Bounds) {
        let u = self.unit;
        let size = 3.2 * u;
        let center = bounds.center();
        let above = Label {
            center: Point::new(center.x, bounds.max.y + 3.0 * u),
            size,
            turned: false,
        };
        self.words("size", above, &[&self.with_unit(bounds.width())]);
        let beside = Label {
            center: Point::new(bounds.min.x - 3.2 * u, center.y),
            size,
            turned: true,
        };
        self.words("size", beside, &[&self.with_unit(bounds.height())]);
    }

    fn scale_bar(&mut self, bounds: Bounds) {
        let u = self.unit;
        let length = round_length(30.0 * u, self.paper.lengths);
        let (x, y) = (bounds.min.x, -(bounds.min.y - 6.0 * u));
        let tick = 1.2 * u;
        let _ = write!(
            self.svg,
            "<path class=\"scale\" stroke-width=\"{}\" d=\"M{x0} {y0}V{y1}M{x0} {ym}H{x1}M{x1} {y0}V{y1}\"/>",
            n(0.5 * u),
            x0 = n(x),
            x1 = n(x + length),
            y0 = n(y - tick),
            y1 = n(y + tick),
            ym = n(y)
        );
        let words = self.with_unit(length);
        let label = Label {
            center: Point::new(x + length + 2.0 * u + 0.5 * wide(&words, 3.2 * u), -y),
            size: 3.2 * u,
            turned: false,
        };
        self.words("size", label, &[&words]);
    }

    fn grain(&mut self, bounds: Bounds, degrees: f64) {
        let u = self.unit;
        let center = Point::new(self.frame.max.x - 11.0 * u, bounds.min.y - 7.0 * u);
        let along = Vec2::from_angle(degrees.to_radians(), 5.0 * u);
        let mut d = format!("M{}L{}", at(center + (-along)), at(center + along));
        for (tip, back) in [(center + along, -along), (center + (-along), along)] {
            let back = back * 0.3;
            let side = back.left() * 0.6;
            let _ = write!(
                d,
                "M{}L{}L{}",
                at(tip + back + side),
                at(tip),
                at(tip + back + (-side))
            );
        }
        let _ = write!(
            self.svg,
            "<path class=\"scale\" stroke-width=\"{}\" d=\"{d}\"/>",
            n(0.5 * u)
        );
        let words = self.paper.say("drawing-grain");
        let label = Label {
            center: Point::new(center.x - 7.0 * u - 0.5 * wide(&words, 3.2 * u), center.y),
            size: 3.2 * u,
            turned: false,
        };
        self.words("size", label, &[&words]);
    }
}

/// The largest round length that is not above `most`: 1, 2 or 5 times a power of ten of millimetres or inches;
/// with fractions 1, 2, 3, 6 or 12 inches or so many feet, and below an inch halves of it.
fn round_length(most: f64, lengths: Lengths) -> f64 {
    const INCH: f64 = 25.4;
    let most = most.max(1e-3);
    let decimal = |most: f64| {
        let power = 10f64.powf(most.log10().floor());
        [5.0, 2.0, 1.0]
            .into_iter()
            .map(|m| m * power)
            .find(|l| *l <= most * (1.0 + 1e-12))
            .unwrap_or(power)
    };
    match lengths {
        Lengths::Millimetres => decimal(most),
        Lengths::Inches => INCH * decimal(most / INCH),
        Lengths::Fractions(_) => {
            let inches = most / INCH;
            INCH * match inches {
                i if i >= 12.0 => 12.0 * (i / 12.0).floor(),
                i if i >= 1.0 => [6.0, 3.0, 2.0].into_iter().find(|l| *l <= i).unwrap_or(1.0),
                i => 0.5f64.powf((1.0 / i).log2().ceil()),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;
    use panelwright_geometry::Vertex;

    #[test]
    fn well_formed_and_complete() {
        for (plan, job) in [sample::cabinet(), sample::odd_names()] {
            for sheet in &plan.sheets {
                let svg = format!("<div>{}</div>", picture(sheet, &job));
                let tree = roxmltree::Document::parse(&svg).expect("well-formed");
                let count = |class: &str| {
                    tree.descendants()
                        .filter(|e| e.attribute("class") == Some(class))
                        .count()
                };
                assert_eq!(count("part"), sheet.parts.len());
                assert_eq!(count("name") + count("key"), sheet.parts.len());
                assert_eq!(count("saw"), sheet.saw_cuts.len());
                assert_eq!(count("cut-number"), sheet.saw_cuts.len());
                assert_eq!(count("blank"), sheet.blanks.len());
                assert_eq!(count("void"), sheet.voids.len());
                assert_eq!(count("flaw"), sheet.flaws.len());
                let kept = sheet.offcuts.iter().filter(|o| o.kept).count();
                assert_eq!(count("keep"), kept);
                assert_eq!(count("scrap"), sheet.offcuts.len() - kept);
                assert!(!svg.contains("not known"), "{svg}");
            }
        }
    }

    #[test]
    fn words_lie_in_the_picture_and_apart() {
        let (mut plan, mut job) = sample::cabinet();
        for (length, width) in [(205.0, 2440.0), (2440.0, 205.0), (60.0, 60.0)] {
            let mut strip = plan.sheets[0].clone();
            strip.outline = Polygon::rectangle(length, width).outer;
            strip.parts.clear();
            strip.offcuts.clear();
            strip.grain_deg = Some(90.0);
            plan.sheets.push(strip);
        }
        for (sheet, paper) in plan
            .sheets
            .iter()
            .flat_map(|s| sample::papers().into_iter().map(move |p| (s, p)))
        {
            job.shop.paper = paper;
            let drawing = draw(sheet, &job);
            for (i, words) in drawing.taken.iter().enumerate() {
                assert!(drawing.frame.grown(1e-9).contains(words), "{words:?}");
                for other in &drawing.taken[..i] {
                    let apart = !words.grown(-1e-9).touches(other);
                    assert!(apart, "sheet {}: {words:?} {other:?}", sheet.number);
                }
            }
        }
    }

    #[test]
    fn shapes_come_to_lie_where_the_parts_lie() {
        let (plan, job) = sample::cabinet();
        let shapes = shapes(&plan, &job);
        for part in plan.sheets.iter().flat_map(|s| &s.parts) {
            assert!(shapes.contains(&format!("id=\"o{}\"", part.item)));
            let words = transform(part);
            let numbers: Vec<f64> = words
                .split(['(', ')', ' '])
                .filter_map(|w| w.parse().ok())
                .collect();
            let turn = numbers.get(2).copied().unwrap_or(0.0).to_radians();
            let drawn = job.items[part.item].outline.rings();
            let drawn = drawn.flat_map(|r| &r.vertices);
            let lies = part.outline.rings().flat_map(|r| &r.vertices);
            for (d, l) in drawn.zip(lies) {
                // As SVG has it: turned about the origin, then moved; y points down.
                let (x, y) = (d.point.x, -d.point.y);
                let moved = Point::new(
                    x * turn.cos() - y * turn.sin() + numbers[0],
                    x * turn.sin() + y * turn.cos() + numbers[1],
                );
                let there = Point::new(l.point.x, -l.point.y);
                assert!(moved.distance(there) < 0.01, "{words}: {moved:?} {there:?}");
            }
        }
    }

    #[test]
    fn letters_are_drawn_through_and_long_lines_dashed() {
        let (plan, mut job) = sample::cabinet();
        let sheet = &plan.sheets[0];
        let item = sheet.parts[0].item;
        let u = unit(sheet, PAGE);
        let line = |length: f64, y: f64| {
            let at = [Point::new(10.0, y), Point::new(10.0 + length, y)];
            Path {
                vertices: at
                    .map(|p| Vertex {
                        point: p,
                        bulge: 0.0,
                    })
                    .to_vec(),
                closed: false,
            }
        };
        job.items[item].outline.marks = vec![line(9.0 * u, 20.0), line(6.0 * u, 30.0)];
        let shapes = shapes(&plan, &job);
        let path = |id: String| {
            let from = shapes
                .split_once(&format!("id=\"{id}\" d=\""))
                .expect("a path")
                .1;
            from.split_once('"').expect("its end").0.to_owned()
        };
        let (dashed, through) = (path(format!("m{item}")), path(format!("l{item}")));
        assert!(dashed.starts_with("M10 -20L"), "{dashed}");
        assert!(through.starts_with("M10 -30L"), "{through}");
        assert_eq!(
            (dashed.matches('M').count(), through.matches('M').count()),
            (1, 1)
        );
        let mut marked = sheet.clone();
        marked.parts[0].outline.marks = job.items[item].outline.marks.clone();
        let picture = picture(&marked, &job);
        let rest = picture
            .split_once(&format!("href=\"#l{item}\""))
            .expect("in use")
            .1;
        let its = rest.split_once("/>").expect("its end").0;
        assert!(
            !its.contains("dash") && its.contains("stroke-width"),
            "{its}"
        );
    }

    #[test]
    fn scale_lengths_are_round() {
        let mm = |most| round_length(most, Lengths::Millimetres);
        assert_eq!([280.0, 500.0, 14.0].map(mm), [200.0, 500.0, 10.0]);
        let inches = |most: f64| round_length(most * 25.4, Lengths::Inches) / 25.4;
        for (most, round) in [(11.2, 10.0), (5.0, 5.0), (0.3, 0.2)] {
            assert!((inches(most) - round).abs() < 1e-9, "{most}");
        }
        let fractions = |most: f64| round_length(most * 25.4, Lengths::Fractions(32)) / 25.4;
        for (most, round) in [(37.0, 36.0), (11.2, 6.0), (1.4, 1.0), (0.3, 0.25)] {
            assert!((fractions(most) - round).abs() < 1e-9, "{most}");
        }
    }
}
