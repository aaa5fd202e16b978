//! SVG in millimetres: a cut file for lasers that read it, and a picture for people.
//!
//! One unit is one millimetre, arcs are true arcs, and each line is there once: tints are fills of
//! the cuts themselves, never a second copy that a machine would cut again. Each layer is a group
//! named like the DXF layer. `y` points down in SVG: it is turned here and nowhere else.
//!
//! Source: SVG 2, sections 8 (viewBox) and 9.5 (arc commands).

use super::drawing::{Drawing, Entity};
use crate::layer::Layer;
use crate::shape::{Shape, Text};
use panelwright_geometry::{Point, Segment, Vec2, Vertex};
use std::f64::consts::PI;
use std::fmt::Write as _;
use svg::Document;
use svg::node::element::{Circle, Definitions, Group, Line, Path, Pattern, Rectangle, Title};

/// Height of capitals over font size in common screen fonts.
const CAPITALS: f64 = 0.72;

/// Width of a character over font size in common screen fonts, on the safe side.
const CHARACTER: f64 = 0.6;

/// The longer side over this is the width of a plain line: about half a point on a page.
const LINES_ACROSS: f64 = 1400.0;

/// Ink for text and edges: a warm near-black, not the pure black that some lasers engrave.
const INK: &str = "#33302b";

/// How a layer looks.
struct Look {
    stroke: &'static str,
    /// Width over the plain line's.
    width: f64,
    /// Dash lengths over the plain line's width; empty for an unbroken line.
    dashes: &'static [f64],
    fill: &'static str,
    fill_opacity: f64,
}

fn look(layer: Layer) -> Look {
    let plain = Look {
        stroke: INK,
        width: 1.0,
        dashes: &[],
        fill: "none",
        fill_opacity: 1.0,
    };
    match layer {
        Layer::Edge => Look {
            width: 1.6,
            fill: "#ece8df",
            ..plain
        },
        Layer::Flaw => Look {
            stroke: "#a3412a",
            dashes: &[2.0, 2.0],
            fill: "url(#pw-flaw-hatch)",
            ..plain
        },
        Layer::Zone => Look {
            stroke: "#6b4a8c",
            dashes: &[4.0, 2.0],
            fill: "#b9a3cf",
            fill_opacity: 0.45,
            ..plain
        },
        Layer::Blank => Look {
            stroke: "#6a6f78",
            width: 1.4,
            dashes: &[12.0, 5.0],
            ..plain
        },
        Layer::Offcut => Look {
            stroke: "#4f7f35",
            width: 1.2,
            dashes: &[8.0, 3.0],
            fill: "url(#pw-offcut-hatch)",
            ..plain
        },
        Layer::Scrap => Look {
            stroke: "#8d877a",
            width: 0.6,
            dashes: &[2.0, 3.0],
            ..plain
        },
        Layer::Saw => Look {
            stroke: "#c2591a",
            dashes: &[18.0, 4.0, 4.0, 4.0],
            ..plain
        },
        Layer::Sawn => Look {
            stroke: "#4a5a86",
            fill: "#3f63b0",
            fill_opacity: 0.13,
            ..plain
        },
        Layer::Mark => Look {
            stroke: "#9a6c08",
            width: 0.8,
            ..plain
        },
        Layer::Inside(_) => Look {
            stroke: "#8b2f63",
            fill: "#ffffff",
            // A kept cut-out lies below, and its hatch has to show through.
            fill_opacity: 0.6,
            ..plain
        },
        // The tint lies over what it surrounds, so it has to be thin.
        Layer::Outside(_) => Look {
            stroke: "#0c5f66",
            width: 1.4,
            fill: "#0f7f88",
            fill_opacity: 0.14,
            ..plain
        },
        Layer::Finished => Look {
            stroke: "#7d8a8b",
            width: 0.6,
            fill: "#0f7f88",
            fill_opacity: 0.14,
            ..plain
        },
        Layer::PathInside(_) => Look {
            stroke: "#8b2f63",
            ..plain
        },
        Layer::PathOutside(_) => Look {
            stroke: "#0c5f66",
            width: 1.2,
            ..plain
        },
        Layer::PathSkin(_) => Look {
            stroke: "#5b7414",
            width: 1.2,
            ..plain
        },
        Layer::PathTab(_) => Look {
            stroke: "#c2371a",
            width: 2.4,
            ..plain
        },
        Layer::Label => plain,
    }
}

/// The drawing as an SVG document.
#[must_use]
pub fn to_string(drawing: &Drawing) -> String {
    let page = Page::new(drawing);
    let mut document = Document::new()
        .set("width", format!("{}mm", number(page.width)))
        .set("height", format!("{}mm", number(page.height)))
        .set(
            "viewBox",
            format!("0 0 {} {}", number(page.width), number(page.height)),
        )
        // For screens with a dark ground; a rectangle would be one more line to cut.
        .set("style", "background:#ffffff")
        .add(Title::new(clean(&drawing.title)))
        .add(page.hatches());
    for layer in drawing.layers() {
        document = document.add(page.layer(drawing, layer));
    }
    document = document.add(page.notes(drawing));
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{document}\n")
}

/// The page round a drawing: where its millimetres come to lie.
struct Page {
    width: f64,
    height: f64,
    /// Width of a plain line.
    line: f64,
    /// Height of the capitals of notes.
    capitals: f64,
    /// Room round the drawing and between lines of notes.
    room: f64,
    /// The drawing's left edge and upper edge.
    left: f64,
    top: f64,
    /// Where the notes begin.
    notes: f64,
}

impl Page {
    fn new(drawing: &Drawing) -> Self {
        let bounds = drawing.bounds;
        let longest = bounds.width().max(bounds.height()).max(1.0);
        // Notes shrink rather than leave the page on a narrow piece.
        let lines = || std::iter::once(&drawing.title).chain(&drawing.facts);
        let longest_line = lines().map(|l| l.chars().count()).max().unwrap_or(1).max(1);
        let capitals = (longest / 75.0)
            .min(bounds.width().max(1.0) * CAPITALS / (CHARACTER * 1.25 * longest_line as f64));
        let room = longest / 50.0;
        let rows = lines().count() as f64 + 1.0;
        Self {
            width: bounds.width() + 2.0 * room,
            height: bounds.height() + 2.0 * room + rows * 2.1 * capitals + room,
            line: longest / LINES_ACROSS,
            capitals,
            room,
            left: bounds.min.x - room,
            top: bounds.max.y + room,
            notes: bounds.height() + 2.0 * room + capitals,
        }
    }

    /// A point of the drawing on the page.
    fn at(&self, p: Point) -> Point {
        Point::new(p.x - self.left, self.top - p.y)
    }

    fn pair(&self, p: Point) -> String {
        let p = self.at(p);
        format!("{} {}", number(p.x), number(p.y))
    }

    fn hatches(&self) -> Definitions {
        let hatch = |id: &str, color: &str, turn: f64, spacing: f64| {
            let line = Line::new()
                .set("x1", 0)
                .set("y1", 0)
                .set("x2", 0)
                .set("y2", number(spacing))
                .set("stroke", color)
                .set("stroke-width", number(self.line));
            let ground = Rectangle::new()
                .set("width", number(spacing))
                .set("height", number(spacing))
                .set("fill", "#ffffff")
                .set("fill-opacity", 0.55);
            Pattern::new()
                .set("id", id)
                .set("patternUnits", "userSpaceOnUse")
                .set("width", number(spacing))
                .set("height", number(spacing))
                .set("patternTransform", format!("rotate({turn})"))
                .add(ground)
                .add(line)
        };
        Definitions::new()
            .add(hatch("pw-offcut-hatch", "#86ab70", 35.0, 9.0 * self.line))
            .add(hatch("pw-flaw-hatch", "#cf8873", -35.0, 4.0 * self.line))
    }

    fn layer(&self, drawing: &Drawing, layer: Layer) -> Group {
        let look = look(layer);
        let mut group = Group::new()
            .set("id", layer.to_string().to_lowercase())
            .add(Title::new(layer.title()));
        if layer == Layer::Label {
            group = group.set("font-family", "sans-serif").set("fill", INK);
        } else {
            group = group
                .set("stroke", look.stroke)
                .set("stroke-width", number(look.width * self.line))
                .set("stroke-linejoin", "round")
                .set("fill", look.fill);
            if look.fill_opacity < 1.0 {
                group = group.set("fill-opacity", look.fill_opacity);
            }
            if !look.dashes.is_empty() {
                let dashes: Vec<String> =
                    look.dashes.iter().map(|d| number(d * self.line)).collect();
                group = group.set("stroke-dasharray", dashes.join(" "));
            }
        }
        let mut first = true;
        for entity in drawing.entities.iter().filter(|e| e.layer == layer) {
            // A window that holds parts is not painted over them, nor a void with the stock.
            let fill = match layer {
                Layer::Edge if !first => Some("#ffffff"),
                Layer::Inside(_) if entity.occupied => Some("none"),
                Layer::PathInside(_) | Layer::PathOutside(_) | Layer::PathSkin(_) => Some("none"),
                // The sheet shows through the openings of a part.
                Layer::Finished if entity.opening => Some("#ffffff"),
                _ => None,
            };
            group = self.draw(group, entity, fill);
            first = false;
        }
        group
    }

    fn draw(&self, group: Group, entity: &Entity, fill: Option<&str>) -> Group {
        macro_rules! filled {
            ($node:expr) => {
                match fill {
                    Some(fill) => $node.set("fill", fill),
                    None => $node,
                }
            };
        }
        match &entity.shape {
            Shape::Circle { center, radius } => {
                let at = self.at(*center);
                group.add(filled!(
                    Circle::new()
                        .set("cx", number(at.x))
                        .set("cy", number(at.y))
                        .set("r", number(*radius))
                ))
            }
            Shape::Ring(ring) => group.add(filled!(
                Path::new().set("d", self.path(&ring.vertices, true))
            )),
            Shape::Path(path) => {
                let d = self.path(&path.vertices, path.closed);
                group.add(Path::new().set("d", d).set("fill", "none"))
            }
            Shape::Cut { from, to, kerf } => {
                let (from, to) = (self.at(*from), self.at(*to));
                group.add(
                    Line::new()
                        .set("x1", number(from.x))
                        .set("y1", number(from.y))
                        .set("x2", number(to.x))
                        .set("y2", number(to.y))
                        .set("stroke-width", number(kerf.max(self.line))),
                )
            }
            Shape::Text(text) => group.add(self.text(text)),
        }
    }

    /// The commands of a chain of lines and arcs.
    fn path(&self, vertices: &[Vertex], closed: bool) -> String {
        let mut d = String::new();
        for (i, vertex) in vertices.iter().enumerate() {
            if i == 0 {
                let _ = write!(d, "M{}", self.pair(vertex.point));
            }
            let last = i + 1 == vertices.len();
            if last && !closed {
                break;
            }
            let next = vertices[(i + 1) % vertices.len()].point;
            let segment = Segment::arc(vertex.point, next, vertex.bulge);
            match segment.arc_geometry() {
                Some(arc) => {
                    let radius = number(arc.radius);
                    let large = u8::from(arc.sweep.abs() > PI);
                    // Counter-clockwise with y up is the negative sense on the page.
                    let sense = u8::from(arc.sweep < 0.0);
                    let end = self.pair(next);
                    let _ = write!(d, " A{radius} {radius} 0 {large} {sense} {end}");
                }
                // The closing command draws the last line.
                None if last => {}
                None => {
                    let _ = write!(d, " L{}", self.pair(next));
                }
            }
        }
        if closed {
            d.push_str(" Z");
        }
        d
    }

    fn text(&self, text: &Text) -> svg::node::element::Text {
        let at = self.at(text.at);
        let node = svg::node::element::Text::new(clean(&text.content))
            .set("x", number(at.x))
            .set("y", number(at.y + 0.5 * text.height))
            .set("font-size", number(text.height / CAPITALS))
            .set("text-anchor", "middle")
            // A halo, so that lines under the text leave it readable.
            .set("stroke", "#ffffff")
            .set("stroke-opacity", 0.75)
            .set("stroke-width", number(0.22 * text.height))
            .set("stroke-linejoin", "round")
            .set("paint-order", "stroke");
        if text.turn_deg == 0.0 {
            return node;
        }
        let turn = format!(
            "rotate({} {} {})",
            number(-text.turn_deg),
            number(at.x),
            number(at.y)
        );
        node.set("transform", turn)
    }

    /// Title, facts, scale and grain below the drawing.
    fn notes(&self, drawing: &Drawing) -> Group {
        let mut group = Group::new()
            .set("id", "pw-notes")
            .set("font-family", "sans-serif")
            .set("fill", INK)
            .add(Title::new("Notes, not cut"));
        let mut y = self.notes;
        let line = |content: &str, x: f64, y: f64, size: f64| {
            svg::node::element::Text::new(clean(content))
                .set("x", number(x))
                .set("y", number(y))
                .set("font-size", number(size / CAPITALS))
        };
        let title = line(&drawing.title, self.room, y, 1.15 * self.capitals);
        group = group.add(title.set("font-weight", "bold"));
        for fact in drawing.facts.iter().filter(|f| !f.is_empty()) {
            y += 2.1 * self.capitals;
            group = group.add(line(fact, self.room, y, self.capitals));
        }

        y += 2.6 * self.capitals;
        let length = round_length(drawing.bounds.width() / 5.0);
        let (x, thick) = (self.room, 0.55 * self.capitals);
        for half in 0..2 {
            // Half dark, half light: two lengths to read off.
            let bar = Rectangle::new()
                .set("x", number(x + f64::from(half) * 0.5 * length))
                .set("y", number(y - thick))
                .set("width", number(0.5 * length))
                .set("height", number(thick))
                .set("fill", if half == 0 { INK } else { "#ffffff" })
                .set("stroke", INK)
                .set("stroke-width", number(0.8 * self.line));
            group = group.add(bar);
        }
        let after = x + length + self.capitals;
        let scale = format!("{} mm", number(length));
        group = group.add(line(&scale, after, y, self.capitals));

        if let Some(grain) = drawing.grain_deg {
            let reach = 1.4 * self.capitals;
            let x = after + CHARACTER * scale.len() as f64 * self.capitals / CAPITALS + 2.0 * reach;
            let middle = Point::new(x, y - 0.5 * self.capitals);
            group = group.add(self.arrow(middle, grain, reach)).add(line(
                "grain",
                x + 1.4 * reach,
                y,
                self.capitals,
            ));
        }
        group
    }

    /// A double-headed arrow on the page, `reach` to either side.
    fn arrow(&self, middle: Point, turn_deg: f64, reach: f64) -> Path {
        let up = Vec2::from_angle(turn_deg.to_radians(), 1.0);
        let along = Vec2::new(up.x, -up.y);
        let mut d = String::new();
        let (a, b) = (middle - along * reach, middle + along * reach);
        let put = |d: &mut String, command: char, p: Point| {
            let _ = write!(d, "{command}{} {} ", number(p.x), number(p.y));
        };
        put(&mut d, 'M', a);
        put(&mut d, 'L', b);
        for (tip, back) in [(a, along), (b, -along)] {
            for side in [0.45, -0.45] {
                let barb = (back + back.left() * side) * (0.5 * self.capitals);
                put(&mut d, 'M', tip + barb);
                put(&mut d, 'L', tip);
            }
        }
        Path::new()
            .set("d", d.trim_end())
            .set("fill", "none")
            .set("stroke", INK)
            .set("stroke-width", number(1.4 * self.line))
    }
}

/// The largest of 1, 2 and 5 times a power of ten that is not above `most`.
fn round_length(most: f64) -> f64 {
    if !(most.is_finite() && most > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(most.log10().floor());
    let step = [5.0, 2.0, 1.0]
        .into_iter()
        .find(|s| s * power <= most * 1.000_001);
    step.unwrap_or(1.0) * power
}

/// Millionths of a millimetre and no exponent; shortest form.
fn number(value: f64) -> String {
    ((value * 1e6).round() / 1e6 + 0.0).to_string()
}

/// Text without what XML cannot hold; the tree escapes the rest.
///
/// Source: XML 1.0, section 2.2, `Char`.
fn clean(content: &str) -> String {
    content
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .filter(|c| !matches!(c, '\u{FFFE}' | '\u{FFFF}'))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::{Drawing, cut_files, samples};
    use super::*;
    use panelwright_geometry::Ring;

    fn page() -> Page {
        let job = samples::job();
        let plan = samples::plan(&job);
        Page::new(&Drawing::of_sheet(&plan.sheets[0], 3, &job).unwrap())
    }

    #[test]
    fn every_file_is_well_formed_and_in_millimetres() {
        let job = samples::job();
        let mut seen = 0;
        for (name, bytes) in cut_files(&samples::plan(&job), &job).unwrap().files {
            if !name.ends_with(".svg") {
                continue;
            }
            seen += 1;
            let text = String::from_utf8(bytes).unwrap();
            let tree = roxmltree::Document::parse(&text).unwrap();
            let root = tree.root_element();
            let view: Vec<f64> = root
                .attribute("viewBox")
                .unwrap()
                .split(' ')
                .map(|v| v.parse().unwrap())
                .collect();
            for (size, length) in [("width", view[2]), ("height", view[3])] {
                let value = root.attribute(size).unwrap().strip_suffix("mm").unwrap();
                assert_eq!(value.parse::<f64>().unwrap(), length, "{name}");
            }
            // The order's name has signs that XML has a use for.
            let title = root.first_element_child().unwrap().text().unwrap();
            assert!(title.contains("Order \u{00e9}17 <a&b>"), "{title}");
            assert!(!text.contains("NaN") && !text.contains("inf"));
        }
        assert_eq!(seen, 3 + 2 + 2);
    }

    #[test]
    fn groups_come_in_cutting_order_and_hold_each_cut_once() {
        let job = samples::job();
        let plan = samples::plan(&job);
        let text = to_string(&Drawing::of_sheet(&plan.sheets[0], 3, &job).unwrap());
        let tree = roxmltree::Document::parse(&text).unwrap();
        let groups: Vec<_> = tree
            .root_element()
            .children()
            .filter(|n| n.has_tag_name("g"))
            .collect();
        let ids: Vec<_> = groups.iter().map(|g| g.attribute("id").unwrap()).collect();
        assert_eq!(
            ids,
            [
                "pw-edge",
                "pw-blank",
                "pw-offcut",
                "pw-scrap",
                "pw-saw",
                "pw-mark",
                "pw-inside-1",
                "pw-outside-1",
                "pw-inside",
                "pw-outside",
                "pw-label",
                "pw-notes",
            ]
        );
        let count = |id: &str| {
            let group = groups
                .iter()
                .find(|g| g.attribute("id") == Some(id))
                .unwrap();
            group
                .children()
                .filter(|n| matches!(n.tag_name().name(), "path" | "circle" | "line"))
                .count()
        };
        assert_eq!(
            [
                count("pw-inside-1"),
                count("pw-outside-1"),
                count("pw-inside"),
                count("pw-outside")
            ],
            [1, 1, 7, 3]
        );
        assert_eq!(count("pw-mark"), 2);
        assert_eq!(count("pw-saw"), 2);
    }

    /// Measured by points along the commands as the standard describes them, not by bulges.
    #[test]
    fn arcs_are_arcs_and_bow_to_the_right_side() {
        let page = page();
        let rings = [
            samples::door().outer,
            samples::latch().outer,
            samples::latch().holes[0].clone(),
            Ring::new(vec![
                Vertex::new(0.0, 0.0, 2.0),
                Vertex::new(50.0, 0.0, 0.0),
                Vertex::new(20.0, -9.0, -0.2),
            ]),
        ];
        for ring in rings {
            let d = page.path(&ring.vertices, true);
            let arcs = ring.vertices.iter().filter(|v| v.bulge != 0.0).count();
            assert_eq!(d.matches('A').count(), arcs, "{d}");
            let area = area_of(&d);
            assert!(
                (-area - ring.signed_area()).abs() < 1e-3 * ring.area(),
                "{d}: {area} {}",
                ring.signed_area()
            );
        }
    }

    /// Signed area of M, L, A and Z commands with y down, arcs by SVG 2, appendix B.2.4.
    fn area_of(d: &str) -> f64 {
        let mut points: Vec<(f64, f64)> = Vec::new();
        let commands = d.split(['M', 'L', 'A', 'Z']).map(str::trim);
        for command in commands.filter(|c| !c.is_empty()) {
            let v: Vec<f64> = command.split(' ').map(|v| v.parse().unwrap()).collect();
            if v.len() == 2 {
                points.push((v[0], v[1]));
                continue;
            }
            let (x1, y1) = *points.last().unwrap();
            let (r, large, sweep, x2, y2) = (v[0], v[3] == 1.0, v[4] == 1.0, v[5], v[6]);
            let (hx, hy) = ((x1 - x2) / 2.0, (y1 - y2) / 2.0);
            let q = hx * hx + hy * hy;
            let factor =
                ((r * r - q).max(0.0) / q).sqrt() * if large == sweep { -1.0 } else { 1.0 };
            let (cx, cy) = (
                factor * hy + (x1 + x2) / 2.0,
                -factor * hx + (y1 + y2) / 2.0,
            );
            let start = (y1 - cy).atan2(x1 - cx);
            let mut turn = ((y2 - cy).atan2(x2 - cx) - start).rem_euclid(2.0 * PI);
            if !sweep {
                turn -= 2.0 * PI;
            }
            for i in 1..=200 {
                let angle = start + turn * f64::from(i) / 200.0;
                points.push((cx + r * angle.cos(), cy + r * angle.sin()));
            }
        }
        let n = points.len();
        (0..n)
            .map(|i| {
                let (a, b) = (points[i], points[(i + 1) % n]);
                0.5 * (a.0 * b.1 - b.0 * a.1)
            })
            .sum()
    }

    #[test]
    fn text_loses_what_xml_cannot_hold() {
        assert_eq!(clean("a\u{0}b\u{1b}c\u{FFFF}\td"), "a b c d");
    }

    #[test]
    fn the_scale_bar_is_a_round_length() {
        for (most, want) in [
            (520.0, 500.0),
            (499.0, 200.0),
            (1.0, 1.0),
            (0.35, 0.2),
            (f64::NAN, 1.0),
            (0.0, 1.0),
        ] {
            assert!((round_length(most) - want).abs() < 1e-9, "{most}");
        }
    }
}
