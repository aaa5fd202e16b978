//! One drawing of a sheet, a blank or a part, from which every cut file is written, so that the
//! formats cannot disagree.
//!
//! Lines of cuts are the **finished edges**, or, where the machine's settings ask for it, the **path of
//! the tool's centre** beside them ([`crate::toolpath`]), with the finished edges on a layer of their
//! own that is not cut. On a guillotine sheet the
//! saw frees the parts, so a rectangular part has no outside cut: its size is shown on the layer of
//! sawn sizes, beside the saw's centre lines. Its holes are inside cuts, and a part that is not a
//! rectangle keeps its outside cut within the rectangle that the saw leaves: both are finished on
//! the router.

use super::label;
use crate::bed::{on_finisher, to_bed, turned_on_bed};
use crate::cut_plan::{CutPart, CutSheet};
use crate::input::Machine;
use crate::job::{Item, Job};
use crate::layer::Layer;
use crate::shape::{Shape, Text};
use crate::toolpath::{Cutter, Tool, ToolPaths, Work};
use crate::{Failure, Result};
use panelwright_geometry::{Bounds, Outline, Placement, Point, Polygon, Vec2, tolerance};
use panelwright_nesting::{SawCut, StockKind};
use std::collections::BTreeMap;

/// Capitals are at most the longer side of the drawing over this: read at arm's length on a page,
/// small enough to leave the lines in sight.
const LARGEST_TEXT: f64 = 90.0;

/// Capitals are at least this high, millimetres, even where they do not fit.
const LEAST_TEXT: f64 = 1.5;

/// Where along a saw cut its number stands, so that numbers of cuts that meet stay apart.
const NUMBER_AT: f64 = 0.13;

/// An outline this near to an upright rectangle is sawn, not routed.
const SAWN: f64 = 1e-3;

/// Follows the size of a piece that lies on the bed otherwise than in stock.
const TURNED: &str = ", turned by a quarter to fit the bed";

/// Facts of a sheet before those about the tool's path.
const SHEET_FACTS: usize = 3;

/// Lines and texts with their layers, in the order in which they are to be cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawing {
    /// What it shows, such as `Order 17: sheet 1 of 3`.
    pub title: String,
    /// Facts about it, one a line.
    pub facts: Vec<String>,
    /// Bounds of the stock or blank it shows.
    pub bounds: Bounds,
    /// Direction of the grain in degrees, if there is one.
    pub grain_deg: Option<f64>,
    /// What is drawn: stock, blanks, left-overs and saw cuts, then what the tool follows, in working
    /// order, then texts.
    pub entities: Vec<Entity>,
}

/// One thing drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Entity {
    /// What it means.
    pub layer: Layer,
    /// Its curve or text.
    pub shape: Shape,
    /// What it belongs to.
    pub owner: Owner,
    /// Whether other parts lie inside it.
    pub occupied: bool,
    /// Whether it is the edge of an opening of a part.
    pub opening: bool,
}

/// What something drawn belongs to; indices are those of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Owner {
    /// The stock or a blank.
    Stock,
    /// A part, in [`CutSheet::parts`].
    Part(usize),
    /// A left-over, in [`CutSheet::offcuts`].
    Offcut(usize),
    /// A saw cut, in [`CutSheet::saw_cuts`].
    SawCut(usize),
}

impl Entity {
    fn new(layer: Layer, shape: Shape) -> Self {
        Self {
            layer,
            shape,
            owner: Owner::Stock,
            occupied: false,
            opening: false,
        }
    }

    fn of(self, owner: Owner) -> Self {
        Self { owner, ..self }
    }

    fn text(text: Text) -> Self {
        Self::new(Layer::Label, Shape::Text(text))
    }
}

/// The lines of a part that the saw frees: marks, inside cuts, the size that the saw leaves, and the
/// outside cut that finishes it when it is no rectangle.
///
/// `occupied` says whether other parts lie in a hole with these bounds.
fn part_lines(outline: &Outline, occupied: impl Fn(&Bounds) -> bool) -> Vec<Entity> {
    let marks = outline
        .marks
        .iter()
        .filter(|m| m.vertices.len() > 1)
        .map(|m| Entity::new(Layer::Mark, Shape::mark(m)));
    let holes = outline.holes.iter().map(|hole| Entity {
        occupied: occupied(&hole.bounds()),
        opening: true,
        ..Entity::new(Layer::Inside(0), Shape::closed(hole))
    });
    let mut lines: Vec<Entity> = marks.chain(holes).collect();
    lines.push(Entity::new(Layer::Sawn, Shape::rectangle(outline.bounds())));
    if !outline.is_rectangle(SAWN) {
        lines.push(Entity::new(
            Layer::Outside(0),
            Shape::closed(&outline.outer),
        ));
    }
    lines
}

/// What the tool follows, in working order; before it, where it follows a path, the finished edges of
/// the parts.
fn followed(parts: &[CutPart], paths: &ToolPaths) -> Vec<Entity> {
    let mut entities = Vec::new();
    for (i, part) in parts.iter().enumerate().filter(|_| paths.figures.tool_path) {
        entities.extend(finished(&part.outline).map(|e| e.of(Owner::Part(i))));
    }
    entities.extend(pass_lines(paths));
    entities
}

/// The edges of a part, not to be cut.
fn finished(outline: &Outline) -> impl Iterator<Item = Entity> {
    outline.rings().enumerate().map(|(i, ring)| Entity {
        opening: i > 0,
        ..Entity::new(Layer::Finished, Shape::closed(ring))
    })
}

fn pass_lines(paths: &ToolPaths) -> impl Iterator<Item = Entity> {
    paths.passes.iter().flat_map(|pass| {
        pass.lines.iter().map(|(layer, shape)| Entity {
            owner: Owner::Part(pass.part),
            occupied: pass.occupied,
            opening: matches!(pass.work, Work::Inside(_)),
            ..Entity::new(*layer, shape.clone())
        })
    })
}

/// What a reader of a file with tool paths has to know.
fn path_facts(machine: &Machine, thickness: f64, paths: &ToolPaths) -> Vec<String> {
    let figures = &paths.figures;
    if !figures.tool_path {
        return Vec::new();
    }
    let tool = Tool::of(machine);
    let mut facts = vec![format!(
        "PW-PATH lines are the path of the tool's centre for a cut {} mm wide: no further compensation",
        machine.kerf
    )];
    if let (Some(height), true) = (tool.tab_height, figures.tabs > 0) {
        // In a thin sheet a tab is half as high as the sheet is thick.
        let height = height.min(0.5 * thickness);
        facts.push(format!("PW-PATH-TAB: go over it so that {height} mm stand"));
    }
    if figures.skins > 0 {
        facts.push(format!("PW-PATH-SKIN: leave {} mm below it", tool.skin));
    }
    facts
}

/// Where the label of each part of a sheet goes. Copies that lie alike are looked at once.
///
/// Text is level or upright on the sheet, except on a part at an odd angle: there it runs with the
/// part, which has more room that way.
fn labels(parts: &[CutPart], job: &Job, most: f64) -> Vec<Text> {
    let mut found: BTreeMap<(usize, u64), Text> = BTreeMap::new();
    parts
        .iter()
        .map(|part| {
            let item = &job.items[part.item];
            let square = part.placement.angle_deg() % 90.0 == 0.0;
            let angle = if square {
                part.placement.angle_deg()
            } else {
                0.0
            };
            let room = found
                .entry((part.item, angle.to_bits()))
                .or_insert_with(|| {
                    let turned = item
                        .outline
                        .placed(&Placement::new(angle, Point::default()));
                    let longest = label_text(item, item.quantity);
                    label::fit(&turned, &longest, most, LEAST_TEXT)
                });
            let rest = Placement::new(part.placement.angle_deg() - angle, part.placement.origin);
            let text = Text {
                content: label_text(item, part.copy),
                ..room.clone()
            };
            text.placed(&rest)
        })
        .collect()
}

fn label_text(item: &Item, copy: u32) -> String {
    if item.quantity > 1 {
        format!("{} {copy}/{}", item.label, item.quantity)
    } else {
        item.label.clone()
    }
}

/// The number of a saw cut, beside it: above it or to its right.
fn cut_number(number: usize, cut: &SawCut, height: f64) -> Text {
    let along = cut.to - cut.from;
    let aside = Vec2::new(along.y.abs(), along.x.abs()).normalized();
    Text {
        at: cut.from + along * NUMBER_AT + aside * (0.9 * height + 0.5 * cut.kerf),
        height,
        turn_deg: 0.0,
        content: number.to_string(),
    }
}

fn largest_text(bounds: &Bounds) -> f64 {
    (bounds.width().max(bounds.height()) / LARGEST_TEXT).max(LEAST_TEXT)
}

/// `2500 x 1250 mm`, without needless decimals.
fn size(bounds: &Bounds) -> String {
    let short = |v: f64| (v * 10.0).round() / 10.0;
    format!("{} x {} mm", short(bounds.width()), short(bounds.height()))
}

/// The distances that hold on a sheet, in words.
fn distances(sheet: &CutSheet) -> String {
    if sheet.guillotine {
        format!("kerf {} mm", sheet.kerf)
    } else {
        format!("gap {} mm, margin {} mm", sheet.gap, sheet.margin)
    }
}

fn parts_counted(count: usize) -> String {
    match count {
        1 => "1 part".to_owned(),
        _ => format!("{count} parts"),
    }
}

/// The identity and size of a left-over, where they fit on it.
fn offcut_text(outline: &Polygon, id: &str, most: f64) -> Text {
    let content = format!("{id}  {}", size(&outline.bounds()));
    label::fit_polygon(outline, &content, most, LEAST_TEXT)
}

impl Drawing {
    /// A sheet or remnant with everything cut from it, in the stock's own coordinates; turned by a
    /// quarter, with its lower left corner at the origin, when it goes onto the machine whole and fits the
    /// bed only so.
    ///
    /// `sheets` is how many there are in the plan, for the title.
    ///
    /// # Errors
    /// When a coordinate is not finite, naming the sheet; when a tool cannot make a part.
    ///
    /// # Panics
    /// When the sheet refers to items or materials that `job` does not have.
    pub fn of_sheet(sheet: &CutSheet, sheets: usize, job: &Job) -> Result<Self> {
        Self::with_paths(sheet, sheets, job, &Cutter::new(job).sheet(sheet)?)
    }

    /// The same with the paths of its tool, worked out before.
    ///
    /// # Errors
    /// When a coordinate is not finite, naming the sheet.
    ///
    /// # Panics
    /// When the sheet or the paths refer to items or materials that are not there.
    pub fn with_paths(
        sheet: &CutSheet,
        sheets: usize,
        job: &Job,
        paths: &ToolPaths,
    ) -> Result<Self> {
        let bounds = Bounds::of_points(sheet.outline.iter().copied())
            .ok_or_else(|| broken(sheet, "has no outline"))?;
        let mut corners = sheet
            .parts
            .iter()
            .flat_map(|p| p.outline.rings())
            .flat_map(|r| &r.vertices);
        if !corners.all(|v| v.point.is_finite() && v.bulge.is_finite()) {
            return Err(broken(sheet, NOT_FINITE));
        }
        let most = largest_text(&bounds);
        let ring = |layer, points: &[Point]| {
            (points.len() > 2).then(|| Entity::new(layer, Shape::polygon(points.iter().copied())))
        };

        let mut entities = Vec::new();
        entities.extend(ring(Layer::Edge, &sheet.outline));
        entities.extend(sheet.voids.iter().filter_map(|v| ring(Layer::Edge, v)));
        entities.extend(sheet.flaws.iter().filter_map(|f| ring(Layer::Flaw, f)));
        for zone in &sheet.zones {
            entities.extend(ring(Layer::Zone, &zone.outline));
        }
        let blanks = sheet.blanks.iter();
        entities.extend(blanks.map(|b| Entity::new(Layer::Blank, Shape::rectangle(*b))));
        for (i, offcut) in sheet.offcuts.iter().enumerate() {
            let layer = if offcut.kept {
                Layer::Offcut
            } else {
                Layer::Scrap
            };
            let rings = offcut.outline.rings().filter_map(|r| ring(layer, r));
            entities.extend(rings.map(|e| e.of(Owner::Offcut(i))));
        }
        for (i, cut) in sheet.saw_cuts.iter().enumerate() {
            let (from, to, kerf) = (cut.from, cut.to, cut.kerf);
            let cut = Entity::new(Layer::Saw, Shape::Cut { from, to, kerf });
            entities.push(cut.of(Owner::SawCut(i)));
        }

        entities.extend(followed(&sheet.parts, paths));
        let sawn = sheet.guillotine.then_some(&sheet.parts);
        for (i, part) in sawn.into_iter().flatten().enumerate() {
            let guests = sheet.parts.iter().filter(|p| p.inside == Some(i));
            let guests: Vec<Bounds> = guests.map(|p| p.outline.bounds()).collect();
            let within = |hole: &Bounds| guests.iter().any(|g| hole.contains(g));
            let lines = part_lines(&part.outline, within);
            entities.extend(lines.into_iter().map(|e| e.of(Owner::Part(i))));
        }

        for zone in sheet.zones.iter().filter(|z| z.outline.len() > 2) {
            let area = Polygon::new(zone.outline.clone(), Vec::new());
            let text = label::fit_polygon(&area, &zone.why, most, LEAST_TEXT);
            entities.push(Entity::text(text));
        }
        for (i, label) in labels(&sheet.parts, job, most).into_iter().enumerate() {
            entities.push(Entity::text(label).of(Owner::Part(i)));
        }
        for (i, offcut) in sheet.offcuts.iter().enumerate() {
            if offcut.kept && offcut.outline.outer.len() > 2 {
                let text = offcut_text(&offcut.outline, &offcut.id, most);
                entities.push(Entity::text(text).of(Owner::Offcut(i)));
            }
        }
        for (i, cut) in sheet.saw_cuts.iter().enumerate() {
            let number = cut_number(i + 1, cut, 0.7 * most);
            entities.push(Entity::text(number).of(Owner::SawCut(i)));
        }

        let material = &job.shop.materials[sheet.material];
        let source = match sheet.source.kind {
            StockKind::Sheet => "sheet",
            StockKind::Remnant => "remnant",
        };
        let machine = &job.shop.machines[sheet.machine].name;
        let method = match (sheet.saw, sheet.blanks.is_empty()) {
            (Some(saw), false) => {
                format!("{} first, then {machine}", job.shop.machines[saw].name)
            }
            _ => machine.clone(),
        };
        let to_bed = turned_on_bed(sheet, &job.shop.machines[sheet.machine]);
        let turned = to_bed.map_or("", |_| TURNED);
        let mut drawing = Self {
            title: format!("{}: {source} {} of {sheets}", job.order, sheet.number),
            facts: vec![
                format!(
                    "{}, {source} {}, {}{turned}",
                    material.name,
                    sheet.source.id,
                    size(&bounds)
                ),
                format!("{method}; {}", distances(sheet)),
                format!(
                    "{}, yield {:.1} %",
                    parts_counted(sheet.parts.len()),
                    100.0 * sheet.yield_
                ),
            ],
            bounds,
            grain_deg: sheet.grain_deg,
            entities,
        };
        drawing.facts.extend(path_facts(
            &job.shop.machines[sheet.machine],
            material.thickness,
            paths,
        ));
        if let Some(to_bed) = to_bed {
            drawing = drawing.placed(&to_bed);
        }
        drawing.checked(sheet)
    }

    /// One blank of the sheet that this drawing shows, with its lower left corner at the origin, as
    /// it lies on the machine: turned by a quarter when it fits the bed only so. Blanks are counted
    /// from 0 here.
    ///
    /// # Panics
    /// As [`Self::of_sheet`], and when there is no such blank.
    #[must_use]
    pub fn of_blank(&self, sheet: &CutSheet, job: &Job, blank: usize) -> Self {
        let bounds = sheet.blanks[blank];
        let to_bed = to_bed(&bounds, &job.shop.machines[sheet.machine]);
        let reach = bounds.grown(tolerance::JUDGE);
        let part = |i: usize| reach.contains(&sheet.parts[i].outline.bounds());
        let offcut = |i: usize| {
            let points = sheet.offcuts[i].outline.outer.iter().copied();
            Bounds::of_points(points).is_some_and(|b| reach.contains(&b))
        };
        let shown = |entity: &&Entity| match entity.owner {
            Owner::Part(i) => part(i),
            Owner::Offcut(i) => offcut(i),
            Owner::SawCut(_) => false,
            // Voids and flaws that reach into the blank, but not the edge of the sheet.
            Owner::Stock => {
                entity.layer != Layer::Blank
                    && entity
                        .shape
                        .bounds()
                        .is_some_and(|b| b.touches(&bounds) && !b.contains(&bounds))
            }
        };
        let edge = Entity::new(Layer::Edge, Shape::rectangle(bounds));
        let entities = std::iter::once(&edge)
            .chain(self.entities.iter().filter(shown))
            .cloned()
            .collect();

        let count = (0..sheet.parts.len()).filter(|i| part(*i)).count();
        let turned = if to_bed.angle_deg() == 0.0 {
            ""
        } else {
            TURNED
        };
        let blank = Self {
            title: format!(
                "{}, blank {} of {}",
                self.title,
                blank + 1,
                sheet.blanks.len()
            ),
            facts: vec![
                format!(
                    "{}, blank of {}{turned}",
                    job.shop.materials[sheet.material].name,
                    size(&bounds)
                ),
                format!(
                    "{}; {}",
                    job.shop.machines[sheet.machine].name,
                    distances(sheet)
                ),
                parts_counted(count),
            ]
            .into_iter()
            // What the tool's path is, as on the whole sheet.
            .chain(self.facts.iter().skip(SHEET_FACTS).cloned())
            .collect(),
            bounds,
            grain_deg: self.grain_deg,
            entities,
        };
        blank.placed(&to_bed)
    }

    /// All of it moved.
    fn placed(mut self, by: &Placement) -> Self {
        for entity in &mut self.entities {
            entity.shape = entity.shape.placed(by);
        }
        self.bounds = moved(&self.bounds, by);
        self.grain_deg = self
            .grain_deg
            .map(|g| (g + by.angle_deg()).rem_euclid(180.0));
        self
    }

    /// A part that the saw has cut to its bounding rectangle, ready to be finished: that rectangle
    /// with its lower left corner at the origin, turned by a quarter when it fits the bed of
    /// `finisher` only so; see [`on_finisher`]. With the paths of the finisher's tool where it follows `paths`, in the
    /// coordinates of the result.
    ///
    /// # Errors
    /// When a coordinate is not finite, naming the part.
    pub fn of_sawn_part(
        item: &Item,
        job: &Job,
        finisher: Option<&Machine>,
        paths: Option<&ToolPaths>,
    ) -> Result<Self> {
        let bounds = item.outline.bounds();
        let move_ = on_finisher(item, finisher);
        let paths = paths.filter(|p| p.figures.tool_path);
        let mut entities = part_lines(&item.outline, |_| false);
        if paths.is_some() {
            entities.retain(|e| e.layer == Layer::Sawn);
            entities.extend(finished(&item.outline));
        }
        let most = 2.0 * largest_text(&bounds);
        entities.push(Entity::text(label::fit(
            &item.outline,
            &item.label,
            most,
            LEAST_TEXT,
        )));
        for entity in &mut entities {
            entity.owner = Owner::Part(0);
            entity.shape = entity.shape.placed(&move_);
        }
        if let Some(paths) = paths {
            let text = entities.pop();
            entities.extend(pass_lines(paths));
            entities.extend(text);
        }
        let mut drawing = Self {
            title: format!("{}: finish {}", job.order, item.label),
            facts: vec![
                format!(
                    "{} of kit {}, {}, sawn to {}",
                    item.part,
                    item.kit,
                    job.material_of(item).name,
                    size(&bounds)
                ),
                finisher.map_or_else(String::new, |machine| machine.name.clone()),
            ],
            bounds: moved(&bounds, &move_),
            grain_deg: item
                .grain_deg
                .map(|g| (g + move_.angle_deg()).rem_euclid(180.0)),
            entities,
        };
        if let (Some(machine), Some(paths)) = (finisher, paths) {
            let thickness = job.material_of(item).thickness;
            drawing.facts.extend(path_facts(machine, thickness, paths));
        }
        match drawing.is_finite() {
            true => Ok(drawing),
            false => Err(Failure::new(
                format!("part {} of kit {}", item.part, item.kit),
                "a coordinate is not a finite number",
                "check its drawing",
            )),
        }
    }

    /// The lines of one layer alone, with the edge of the stock to lay it by.
    #[must_use]
    pub fn of_layer(&self, layer: Layer) -> Self {
        let its = |e: &&Entity| e.layer == layer || e.layer == Layer::Edge;
        Self {
            title: format!("{}, {}", self.title, layer.title()),
            entities: self.entities.iter().filter(its).cloned().collect(),
            ..self.clone()
        }
    }

    /// The layers it uses, in their order.
    #[must_use]
    pub fn layers(&self) -> Vec<Layer> {
        let mut layers: Vec<Layer> = self.entities.iter().map(|e| e.layer).collect();
        layers.sort();
        layers.dedup();
        layers
    }

    fn is_finite(&self) -> bool {
        self.bounds.min.is_finite()
            && self.bounds.max.is_finite()
            && self.grain_deg.is_none_or(f64::is_finite)
            && self.entities.iter().all(|e| e.shape.is_finite())
    }

    fn checked(self, sheet: &CutSheet) -> Result<Self> {
        if self.is_finite() {
            Ok(self)
        } else {
            Err(broken(sheet, NOT_FINITE))
        }
    }
}

const NOT_FINITE: &str = "has a coordinate that is not a finite number";

fn broken(sheet: &CutSheet, what: &str) -> Failure {
    Failure::new(
        format!("sheet {} ({})", sheet.number, sheet.source.id),
        what,
        "check the outline of the stock and the drawings of its parts",
    )
}

fn moved(bounds: &Bounds, by: &Placement) -> Bounds {
    Bounds::new(by.apply(bounds.min), by.apply(bounds.max))
}

#[cfg(test)]
mod tests {
    use super::super::samples;
    use super::*;

    fn layers_of(drawing: &Drawing, part: usize) -> Vec<String> {
        let own = |e: &&Entity| e.owner == Owner::Part(part) && e.layer.is_worked();
        drawing
            .entities
            .iter()
            .filter(own)
            .map(|e| e.layer.to_string())
            .collect()
    }

    #[test]
    fn each_window_round_a_part_takes_its_cuts_a_layer_forward() {
        let job = samples::job();
        let mut plan = samples::plan(&job);
        let sheet = &mut plan.sheets[0];
        // As if the latch had a part in its slot.
        let mut innermost = sheet.parts[0].clone();
        innermost.inside = Some(1);
        sheet.parts.insert(0, innermost);
        sheet.parts[1].inside = Some(2);
        let drawing = Drawing::of_sheet(sheet, 1, &job).unwrap();
        assert_eq!(layers_of(&drawing, 0), ["PW-INSIDE-2", "PW-OUTSIDE-2"]);
        assert_eq!(layers_of(&drawing, 1), ["PW-INSIDE-1", "PW-OUTSIDE-1"]);
        let door = [
            "PW-MARK",
            "PW-INSIDE",
            "PW-INSIDE",
            "PW-INSIDE",
            "PW-OUTSIDE",
        ];
        assert_eq!(layers_of(&drawing, 2), door);
        let occupied = drawing.entities.iter().filter(|e| e.occupied).count();
        assert_eq!(occupied, 1);
    }

    #[test]
    fn parts_said_to_lie_in_each_other_do_not_hang() {
        let job = samples::job();
        let mut plan = samples::plan(&job);
        let sheet = &mut plan.sheets[0];
        sheet.parts[0].inside = Some(1);
        sheet.parts[1].inside = Some(0);
        sheet.parts[2].inside = Some(99);
        Drawing::of_sheet(sheet, 1, &job).unwrap();
    }

    #[test]
    fn a_sawn_part_is_turned_when_it_fits_the_bed_only_so() {
        let mut job = samples::job();
        let bounds = |job: &Job| {
            let router = job.shop.machines.get(1);
            Drawing::of_sawn_part(&job.items[2], job, router, None)
                .unwrap()
                .bounds
        };
        let at_origin = |x, y| Bounds::new(Point::default(), Point::new(x, y));
        assert_eq!(bounds(&job), at_origin(500.0, 300.0));
        job.shop.machines[1].bed = Some([320.0, 800.0]);
        assert_eq!(bounds(&job), at_origin(300.0, 500.0));
        // Too large either way: as drawn, for the one who decides what to do.
        job.shop.machines[1].bed = Some([200.0, 200.0]);
        assert_eq!(bounds(&job), at_origin(500.0, 300.0));
    }

    #[test]
    fn a_sheet_that_fits_the_bed_only_turned_is_drawn_so() {
        let mut job = samples::job();
        let mut sheet = samples::plan(&job).sheets.remove(2);
        let stands = Drawing::of_sheet(&sheet, 1, &job).unwrap();
        job.shop.machines[1].bed = Some([600.0, 800.0]);
        let lies = Drawing::of_sheet(&sheet, 1, &job).unwrap();
        assert_eq!(
            lies.bounds,
            Bounds::new(Point::default(), Point::new(500.0, 700.0))
        );
        // To the left: x goes up the bed.
        for (a, b) in stands.entities.iter().zip(&lies.entities) {
            assert_eq!((a.layer, a.owner), (b.layer, b.owner));
            let (Some(a), Some(b)) = (a.shape.bounds(), b.shape.bounds()) else {
                continue;
            };
            assert!((a.min.x - b.min.y).abs() + (a.max.x - b.max.y).abs() < 1e-9);
            assert!((500.0 - a.max.y - b.min.x).abs() + (500.0 - a.min.y - b.max.x).abs() < 1e-9);
        }
        assert_eq!(stands.entities.len(), lies.entities.len());
        assert_eq!(
            (stands.grain_deg, lies.grain_deg),
            (Some(30.0), Some(120.0))
        );
        assert!(!stands.facts[0].contains("turned"));
        assert!(lies.facts[0].ends_with("700 x 500 mm, turned by a quarter to fit the bed"));
        // The saw takes a sheet as it is in stock, whatever the bed.
        sheet.guillotine = true;
        let sawn = Drawing::of_sheet(&sheet, 1, &job).unwrap();
        assert_eq!(sawn.bounds, stands.bounds);
    }

    #[test]
    fn a_blank_shows_what_lies_on_it_and_nothing_else() {
        let job = samples::job();
        let mut plan = samples::plan(&job);
        let sheet = &mut plan.sheets[0];
        let flaw = |x: f64| Bounds::new(Point::new(x, 900.0), Point::new(x + 50.0, 950.0));
        sheet.flaws = vec![
            flaw(100.0).corners().to_vec(),
            flaw(2000.0).corners().to_vec(),
        ];
        let whole = Drawing::of_sheet(sheet, 1, &job).unwrap();
        for (blank, parts, offcuts) in [(0, 3, 2), (1, 1, 0)] {
            let drawing = whole.of_blank(sheet, &job, blank);
            let count = |layer: fn(Layer) -> bool| {
                drawing.entities.iter().filter(|e| layer(e.layer)).count()
            };
            assert_eq!(count(|l| matches!(l, Layer::Outside(_))), parts);
            assert_eq!(count(|l| l == Layer::Edge), 1);
            assert_eq!(count(|l| l == Layer::Flaw), 1);
            assert_eq!(count(|l| matches!(l, Layer::Saw | Layer::Blank)), 0);
            let of_offcuts = |e: &&Entity| matches!(e.owner, Owner::Offcut(_));
            assert_eq!(drawing.entities.iter().filter(of_offcuts).count(), offcuts);
            let reach = drawing.bounds.grown(1e-6);
            assert!(
                drawing
                    .entities
                    .iter()
                    .filter_map(|e| e.shape.bounds())
                    .all(|b| reach.contains(&b))
            );
        }
    }
}
