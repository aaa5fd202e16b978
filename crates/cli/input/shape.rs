//! From a rectangle with features to an outline with true arcs.

use super::{Edge, Feature, Rectangle};
use panelwright_geometry::{Outline, Path, Point, Ring, Vec2, Vertex, tolerance};
use std::f64::consts::PI;

/// More holes than this in one grid or row is a slip of the pen.
const MOST_HOLES: u32 = 10_000;

/// What is wrong with a feature: its index (`None` for the rectangle itself), what, and advice.
#[derive(Debug, Clone, PartialEq)]
pub struct BadFeature {
    /// Index into the features.
    pub feature: Option<usize>,
    /// What is wrong, with the value.
    pub what: String,
    /// What to do.
    pub advice: &'static str,
}

impl Rectangle {
    /// The outline in millimetres; `scale` is millimetres per unit of this rectangle.
    ///
    /// # Errors
    /// The first value that is no length, or notches that run into each other or into a corner.
    /// Whether holes cross each other or the edge is for [`panelwright_geometry::validate`].
    pub fn outline(&self, scale: f64) -> Result<Outline, BadFeature> {
        let here = |what: String, advice| BadFeature {
            feature: None,
            what,
            advice,
        };
        for (name, value) in [("length", self.length), ("width", self.width)] {
            if !(value.is_finite() && value > 0.0) {
                return Err(here(
                    format!("the {name} is {value}"),
                    "give a length above 0",
                ));
            }
        }
        let (l, w) = (self.length * scale, self.width * scale);
        let radius = self.corner_radius * scale;
        if !(radius.is_finite() && radius >= 0.0 && 2.0 * radius <= l.min(w)) {
            let what = format!("the corner_radius is {}", self.corner_radius);
            return Err(here(what, "give 0 or more, up to half the shorter side"));
        }
        let mut notches: Vec<(usize, Notch)> = Vec::new();
        let mut holes = Vec::new();
        let mut marks = Vec::new();
        for (i, feature) in self.features.iter().enumerate() {
            let bad = |(what, advice)| BadFeature {
                feature: Some(i),
                what,
                advice,
            };
            match feature {
                Feature::Notch {
                    edge,
                    at,
                    width,
                    depth,
                    radius: inner,
                } => {
                    let notch = Notch::new(*edge, [*at, *width, *depth, *inner], scale);
                    let span = if edge.is_level() { l } else { w };
                    let across = if edge.is_level() { w } else { l };
                    notches.push((i, notch.check(span, across, radius).map_err(bad)?));
                }
                Feature::Mark { from, to } => {
                    let ends = [
                        point(*from, scale).map_err(bad)?,
                        point(*to, scale).map_err(bad)?,
                    ];
                    let beyond = |p: &Point| {
                        let slack = tolerance::COINCIDENT;
                        !(-slack..=l + slack).contains(&p.x) || !(-slack..=w + slack).contains(&p.y)
                    };
                    if let Some(end) = ends.iter().find(|p| beyond(p)) {
                        let what = format!(
                            "the mark reaches beyond the part, to {}, {}",
                            end.x / scale,
                            end.y / scale
                        );
                        return Err(bad((what, "keep both ends on the part")));
                    }
                    let vertices = ends.map(|point| Vertex { point, bulge: 0.0 }).to_vec();
                    marks.push(Path {
                        vertices,
                        closed: false,
                    });
                }
                other => holes.extend(rings(other, scale).map_err(bad)?),
            }
        }
        let outer = outside(l, w, radius, &mut notches)?;
        let mut outline = Outline::from_rings(outer, holes);
        outline.marks = marks;
        Ok(outline)
    }
}

/// What is wrong, and what to do.
type Wrong = (String, &'static str);

fn length(name: &str, value: f64, scale: f64) -> Result<f64, Wrong> {
    if value.is_finite() && value > 0.0 {
        Ok(value * scale)
    } else {
        Err((format!("the {name} is {value}"), "give a length above 0"))
    }
}

fn point(at: [f64; 2], scale: f64) -> Result<Point, Wrong> {
    let p = Point::new(at[0] * scale, at[1] * scale);
    if p.is_finite() {
        Ok(p)
    } else {
        Err((
            format!("the point is [{}, {}]", at[0], at[1]),
            "give two numbers",
        ))
    }
}

fn count(name: &str, value: u32) -> Result<u32, Wrong> {
    if (1..=MOST_HOLES).contains(&value) {
        Ok(value)
    } else {
        Err((format!("{name} is {value}"), "give a count from 1 to 10000"))
    }
}

/// A slot with round ends between two centres.
fn slot(from: Point, to: Point, width: f64) -> Ring {
    let along = (to - from).normalized();
    let side = along.left() * (0.5 * width);
    Ring::new(
        [
            (from - side, 0.0),
            (to - side, 1.0),
            (to + side, 0.0),
            (from + side, 1.0),
        ]
        .map(|(point, bulge)| Vertex { point, bulge })
        .to_vec(),
    )
}

/// The holes of one feature.
fn rings(feature: &Feature, scale: f64) -> Result<Vec<Ring>, Wrong> {
    Ok(match feature {
        Feature::Hole { at, diameter } => {
            let radius = 0.5 * length("diameter", *diameter, scale)?;
            vec![Ring::circle(point(*at, scale)?, radius)]
        }
        Feature::HoleGrid {
            at,
            diameter,
            columns,
            rows,
            pitch,
        } => {
            let radius = 0.5 * length("diameter", *diameter, scale)?;
            let first = point(*at, scale)?;
            let (columns, rows) = (count("columns", *columns)?, count("rows", *rows)?);
            count("columns times rows", columns.saturating_mul(rows))?;
            let step = point(*pitch, scale)?;
            let mut holes = Vec::new();
            for row in 0..rows {
                for column in 0..columns {
                    let by = Vec2::new(f64::from(column) * step.x, f64::from(row) * step.y);
                    holes.push(Ring::circle(first + by, radius));
                }
            }
            holes
        }
        Feature::Slot { from, to, width } => {
            let (from, to) = (point(*from, scale)?, point(*to, scale)?);
            if from == to {
                return Err(("both ends of the slot are the same".into(), "use a hole"));
            }
            vec![slot(from, to, length("width", *width, scale)?)]
        }
        Feature::SlotRow {
            at,
            length: long,
            width,
            count: n,
            pitch,
        } => {
            let first = point(*at, scale)?;
            let up = Vec2::new(0.0, length("length", *long, scale)?);
            let width = length("width", *width, scale)?;
            let pitch = length("pitch", *pitch, scale)?;
            (0..count("count", *n)?)
                .map(|i| {
                    let from = first + Vec2::new(f64::from(i) * pitch, 0.0);
                    slot(from, from + up, width)
                })
                .collect()
        }
        Feature::Window {
            at,
            length: long,
            width,
            corner_radius,
        } => {
            let min = point(*at, scale)?;
            let size = Vec2::new(
                length("length", *long, scale)?,
                length("width", *width, scale)?,
            );
            let radius = corner_radius * scale;
            if !(radius.is_finite() && radius >= 0.0 && 2.0 * radius <= size.x.min(size.y)) {
                let what = format!("the corner_radius is {corner_radius}");
                return Err((what, "give 0 or more, up to half the window's shorter side"));
            }
            vec![Ring::rounded_rectangle(min, min + size, radius)]
        }
        Feature::Notch { .. } | Feature::Mark { .. } => Vec::new(),
    })
}

/// A notch in millimetres.
#[derive(Debug, Clone, Copy)]
struct Notch {
    edge: Edge,
    at: f64,
    width: f64,
    depth: f64,
    radius: f64,
}

impl Edge {
    fn is_level(self) -> bool {
        matches!(self, Self::Bottom | Self::Top)
    }
}

impl Notch {
    fn new(edge: Edge, [at, width, depth, radius]: [f64; 4], scale: f64) -> Self {
        let [at, width, depth, radius] = [at, width, depth, radius].map(|v| v * scale);
        Self {
            edge,
            at,
            width,
            depth,
            radius,
        }
    }

    /// Checks the notch against the edge's `span`, the size `across` it and the corner's radius.
    fn check(self, span: f64, across: f64, corner: f64) -> Result<Self, Wrong> {
        length("width", self.width, 1.0)?;
        length("depth", self.depth, 1.0)?;
        let fits =
            self.at - 0.5 * self.width > corner && self.at + 0.5 * self.width < span - corner;
        if !fits {
            let what = format!(
                "the notch from {} to {} mm leaves its edge of {span} mm",
                self.at - 0.5 * self.width,
                self.at + 0.5 * self.width
            );
            return Err((what, "move it or make it narrower"));
        }
        if self.depth >= across {
            return Err((
                format!(
                    "the notch is {} mm deep, the part only {across} mm",
                    self.depth
                ),
                "make it shallower",
            ));
        }
        let roomy = self.radius.is_finite()
            && self.radius >= 0.0
            && 2.0 * self.radius <= self.width
            && self.radius <= self.depth;
        if !roomy {
            let what = format!("the radius is {} mm", self.radius);
            return Err((
                what,
                "give 0 or more, up to half the notch's width and up to its depth",
            ));
        }
        Ok(self)
    }
}

/// The outer ring: round the rectangle, in and out of each notch.
fn outside(
    l: f64,
    w: f64,
    radius: f64,
    notches: &mut [(usize, Notch)],
) -> Result<Ring, BadFeature> {
    notches.sort_by(|a, b| a.1.at.total_cmp(&b.1.at));
    let quarter = (PI / 8.0).tan();
    let mut vertices = Vec::new();
    // Each edge is walked in its own frame: origin, direction of travel, length.
    let walk = [
        (Edge::Bottom, Point::new(0.0, 0.0), Vec2::new(1.0, 0.0), l),
        (Edge::Right, Point::new(l, 0.0), Vec2::new(0.0, 1.0), w),
        (Edge::Top, Point::new(l, w), Vec2::new(-1.0, 0.0), l),
        (Edge::Left, Point::new(0.0, w), Vec2::new(0.0, -1.0), w),
    ];
    for (edge, origin, along, span) in walk {
        let inward = along.left();
        let at = |s: f64, d: f64| origin + along * s + inward * d;
        let mut push = |s: f64, d: f64, bulge: f64| {
            vertices.push(Vertex {
                point: at(s, d),
                bulge,
            });
        };
        push(radius, 0.0, 0.0);
        let mine: Vec<&(usize, Notch)> = notches.iter().filter(|(_, n)| n.edge == edge).collect();
        for pair in mine.windows(2) {
            if pair[0].1.at + 0.5 * pair[0].1.width >= pair[1].1.at - 0.5 * pair[1].1.width {
                return Err(BadFeature {
                    feature: Some(pair[1].0),
                    what: format!("the notch runs into that of features[{}]", pair[0].0),
                    advice: "move one of them",
                });
            }
        }
        // Top and left are walked against the direction that `at` is measured in.
        let backwards = matches!(edge, Edge::Top | Edge::Left);
        let in_order: Vec<&(usize, Notch)> = if backwards {
            mine.into_iter().rev().collect()
        } else {
            mine
        };
        for (_, n) in in_order {
            let middle = if backwards { span - n.at } else { n.at };
            let (from, to, r) = (middle - 0.5 * n.width, middle + 0.5 * n.width, n.radius);
            push(from, 0.0, 0.0);
            // The inner corners turn right as seen from inside the notch: clockwise bulges.
            push(from, n.depth - r, if r > 0.0 { -quarter } else { 0.0 });
            if r > 0.0 {
                push(from + r, n.depth, 0.0);
            }
            push(to - r, n.depth, if r > 0.0 { -quarter } else { 0.0 });
            if r > 0.0 {
                push(to, n.depth - r, 0.0);
            }
            push(to, 0.0, 0.0);
        }
        push(span - radius, 0.0, if radius > 0.0 { quarter } else { 0.0 });
    }
    let mut ring = Ring::new(vertices);
    ring.drop_coincident();
    Ok(ring)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn outline(features: Vec<Feature>) -> Outline {
        let rectangle = Rectangle {
            length: 600.0,
            width: 400.0,
            corner_radius: 10.0,
            features,
        };
        rectangle.outline(1.0).expect("a sound rectangle")
    }

    #[test]
    fn a_mark_stays_on_its_part() {
        let mark = |to: [f64; 2]| Rectangle {
            length: 200.0,
            width: 100.0,
            corner_radius: 0.0,
            features: vec![Feature::Mark {
                from: [0.0, 50.0],
                to,
            }],
        };
        assert!(mark([200.0, 50.0]).outline(1.0).is_ok());
        let bad = mark([350.0, 50.0]).outline(1.0).expect_err("beyond");
        assert!(bad.what.contains("350, 50"), "{}", bad.what);
    }

    #[test]
    fn area_is_what_the_formulas_say() {
        let notch = |edge, at| Feature::Notch {
            edge,
            at,
            width: 40.0,
            depth: 25.0,
            radius: 6.0,
        };
        let part = outline(vec![
            Feature::Hole {
                at: [50.0, 50.0],
                diameter: 8.0,
            },
            Feature::HoleGrid {
                at: [100.0, 100.0],
                diameter: 6.0,
                columns: 5,
                rows: 3,
                pitch: [12.0, 15.0],
            },
            Feature::Slot {
                from: [300.0, 50.0],
                to: [340.0, 50.0],
                width: 20.0,
            },
            Feature::SlotRow {
                at: [300.0, 100.0],
                length: 40.0,
                width: 20.0,
                count: 4,
                pitch: 30.0,
            },
            Feature::Window {
                at: [100.0, 200.0],
                length: 100.0,
                width: 60.0,
                corner_radius: 8.0,
            },
            notch(Edge::Bottom, 200.0),
            notch(Edge::Bottom, 400.0),
            notch(Edge::Right, 120.0),
            notch(Edge::Top, 90.0),
            notch(Edge::Left, 300.0),
        ]);
        panelwright_geometry::validate(&part).expect("a sound outline");
        let circle = |d: f64| PI * d * d / 4.0;
        let corner = |r: f64| (1.0 - PI / 4.0) * r * r;
        let expected = 600.0 * 400.0
            - 4.0 * corner(10.0)
            - circle(8.0)
            - 15.0 * circle(6.0)
            - 5.0 * (40.0 * 20.0 + circle(20.0))
            - (6000.0 - 4.0 * corner(8.0))
            - 5.0 * (40.0 * 25.0 - 2.0 * corner(6.0));
        assert!(
            (part.area() - expected).abs() < 1e-6,
            "{} {expected}",
            part.area()
        );
    }

    #[test]
    fn a_notch_lies_where_it_is_measured() {
        let top = outline(vec![Feature::Notch {
            edge: Edge::Top,
            at: 90.0,
            width: 40.0,
            depth: 25.0,
            radius: 0.0,
        }]);
        let deepest = top
            .outer
            .vertices
            .iter()
            .filter(|v| (v.point.y - 375.0).abs() < 1e-9);
        let xs: Vec<f64> = deepest.map(|v| v.point.x).collect();
        assert!(xs.contains(&70.0) && xs.contains(&110.0), "{xs:?}");
    }

    #[test]
    fn slips_are_named() {
        let rectangle = |features| Rectangle {
            length: 100.0,
            width: 50.0,
            corner_radius: 0.0,
            features,
        };
        let hole = |d| Feature::Hole {
            at: [1.0, 1.0],
            diameter: d,
        };
        let e = rectangle(vec![hole(3.0), hole(-2.0)])
            .outline(1.0)
            .expect_err("negative");
        assert_eq!(e.feature, Some(1));
        assert!(e.what.contains("-2"));
        let notch = |at| Feature::Notch {
            edge: Edge::Top,
            at,
            width: 30.0,
            depth: 5.0,
            radius: 0.0,
        };
        assert!(rectangle(vec![notch(90.0)]).outline(1.0).is_err());
        assert!(
            rectangle(vec![notch(30.0), notch(55.0)])
                .outline(1.0)
                .is_err()
        );
        assert!(
            Rectangle {
                length: f64::NAN,
                ..rectangle(vec![])
            }
            .outline(1.0)
            .is_err()
        );
    }

    #[test]
    fn inches_are_exact() {
        let part = Rectangle {
            length: 48.0,
            width: 36.0,
            corner_radius: 0.0,
            features: vec![],
        };
        let bounds = part.outline(25.4).expect("sound").bounds();
        // 4 ft by 3 ft: 1219.2 x 914.4 mm (international yard and pound agreement, 1959).
        assert!((bounds.width() - 1219.2).abs() < 1e-9 && (bounds.height() - 914.4).abs() < 1e-9);
    }
}
