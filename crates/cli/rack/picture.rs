//! Pieces drawn as SVG: remnants with what is to be cut from them, and sketches for labels.
//!
//! One user unit is one millimetre; y is turned, so that it points up as on the sheet.

use crate::path_data::escaped;
use crate::remnant::Remnant;
use panelwright_geometry::{Bounds, Point, Polygon};
use std::fmt::Write as _;

/// What is drawn of a piece.
#[derive(Debug, Clone, Default)]
pub struct Drawn {
    /// Words above it.
    pub title: String,
    /// The piece with its voids.
    pub outline: Polygon,
    /// Areas to avoid.
    pub flaws: Vec<Vec<Point>>,
    /// Parts to be cut and their names.
    pub parts: Vec<(String, Polygon)>,
    /// Offcuts that are kept.
    pub kept: Vec<Polygon>,
    /// Direction of the grain, degrees from x.
    pub grain_deg: Option<f64>,
}

impl Drawn {
    /// A remnant as it stands on the rack.
    #[must_use]
    pub fn of(remnant: &Remnant) -> Self {
        Self {
            title: remnant.id.clone(),
            outline: remnant.outline.clone(),
            flaws: remnant.flaws.clone(),
            grain_deg: remnant.grain_deg,
            ..Self::default()
        }
    }
}

/// Width of a page of pictures in its own units.
const PAGE: f64 = 1000.0;

/// Highest picture of one piece on it.
const HIGHEST: f64 = 420.0;

/// Size of letters on it.
const LETTER: f64 = 17.0;

/// Room round a picture: sizes stand there.
const AROUND: f64 = 44.0;

/// Pieces under each other on one page, a file of its own.
#[must_use]
pub fn page(pieces: &[Drawn]) -> String {
    let mut body = String::new();
    let mut y = 12.0;
    for piece in pieces {
        let bounds = piece.outline.bounds();
        let room = PAGE - 2.0 * AROUND;
        let scale = (room / bounds.width()).min(HIGHEST / bounds.height());
        let _ = writeln!(
            body,
            r#"<text x="{AROUND}" y="{}" font-size="{LETTER}" font-weight="bold">{}</text>"#,
            n(y + LETTER),
            escaped(&piece.title)
        );
        y += 2.0 * LETTER;
        let _ = writeln!(
            body,
            r#"<g transform="translate({} {}) scale({scale:.5})">"#,
            n(AROUND - bounds.min.x * scale),
            n(y + bounds.max.y * scale)
        );
        shapes(&mut body, piece, 1.0 / scale);
        body.push_str("</g>\n");
        let below = y + bounds.height() * scale;
        let middle = AROUND + 0.5 * bounds.width() * scale;
        let _ = writeln!(
            body,
            r#"<text x="{}" y="{}" font-size="{LETTER}" text-anchor="middle">{:.0} mm</text>"#,
            n(middle),
            n(below + 1.2 * LETTER),
            bounds.width()
        );
        let (x, half) = (AROUND - 0.5 * LETTER, 0.5 * (y + below));
        let _ = writeln!(
            body,
            r#"<text x="{}" y="{}" font-size="{LETTER}" text-anchor="middle" transform="rotate(-90 {} {})">{:.0} mm</text>"#,
            n(x),
            n(half),
            n(x),
            n(half),
            bounds.height()
        );
        y = below + 2.6 * LETTER;
    }
    format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {PAGE} {}\" \
         font-family=\"sans-serif\">\n<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n{body}</svg>\n",
        n(y)
    )
}

/// A sketch that fills a box of `width` by `height` units as well as it can, its lower left corner at
/// `x`, `y` (down); without words.
#[must_use]
pub fn sketch(piece: &Drawn, x: f64, y: f64, width: f64, height: f64) -> String {
    let bounds = piece.outline.bounds();
    let scale = (width / bounds.width()).min(height / bounds.height());
    let mut body = format!(
        r#"<g transform="translate({} {}) scale({scale:.6})">"#,
        n(x - bounds.min.x * scale),
        n(y + bounds.min.y * scale)
    );
    shapes(&mut body, piece, 0.2 / scale);
    body.push_str("</g>");
    body
}

/// The shapes of a piece; `pen` is the width of a thin line in millimetres of the piece.
fn shapes(body: &mut String, piece: &Drawn, pen: f64) {
    let mut shape = |polygon: &Polygon, fill: &str, stroke: &str, wide: f64, dash: &str| {
        let _ = writeln!(
            body,
            r#"<path d="{}" fill="{fill}" fill-rule="evenodd" stroke="{stroke}" stroke-width="{}"{dash}/>"#,
            path(polygon),
            n(wide * pen)
        );
    };
    shape(&piece.outline, "#f3efe6", "#222", 2.0, "");
    let dash = format!(r#" stroke-dasharray="{} {}""#, n(7.0 * pen), n(4.0 * pen));
    for kept in &piece.kept {
        shape(kept, "#d7ead9", "#2c6b3a", 1.2, &dash);
    }
    for (_, part) in &piece.parts {
        shape(part, "#b9cde6", "#1d3f6e", 1.4, "");
    }
    for flaw in &piece.flaws {
        let flaw = Polygon::new(flaw.clone(), Vec::new());
        shape(&flaw, "#e9b8b0", "#9b2d20", 1.2, "");
    }
    for (name, part) in &piece.parts {
        let bounds = part.bounds();
        let letters = name.chars().count().max(1) as f64;
        let size = (LETTER * pen)
            .min(1.6 * bounds.width() / letters)
            .min(0.7 * bounds.height());
        let middle = label_place(part);
        let _ = writeln!(
            body,
            r#"<text x="{}" y="{}" font-size="{}" text-anchor="middle">{}</text>"#,
            n(middle.x),
            n(-middle.y + 0.35 * size),
            n(size),
            escaped(name)
        );
    }
    if let Some(grain) = piece.grain_deg {
        grain_arrow(body, piece.outline.bounds(), grain, pen);
    }
}

/// An arrow with two heads along the grain, in the upper right corner.
fn grain_arrow(body: &mut String, bounds: Bounds, grain_deg: f64, pen: f64) {
    let half = (30.0 * pen)
        .min(0.2 * bounds.width())
        .min(0.2 * bounds.height());
    let c = Point::new(bounds.max.x - 1.4 * half, bounds.max.y - 1.4 * half);
    let turned = |x: f64, y: f64| {
        let (sin, cos) = grain_deg.to_radians().sin_cos();
        let p = Point::new(c.x + x * cos - y * sin, c.y + x * sin + y * cos);
        format!("{} {}", n(p.x), n(-p.y))
    };
    let (head, wide) = (0.65 * half, 0.2 * half);
    let _ = writeln!(
        body,
        r##"<path d="M{}L{}M{}L{}L{}M{}L{}L{}" fill="none" stroke="#555" stroke-width="{}"><title>grain</title></path>"##,
        turned(-half, 0.0),
        turned(half, 0.0),
        turned(head, wide),
        turned(half, 0.0),
        turned(head, -wide),
        turned(-head, wide),
        turned(-half, 0.0),
        turned(-head, -wide),
        n(1.6 * pen)
    );
}

/// Where the name of a part is best read: the middle of its largest clear rectangle.
fn label_place(part: &Polygon) -> Point {
    panelwright_geometry::largest_rectangle(part, 0.0, 0.0)
        .unwrap_or_else(|| part.bounds())
        .center()
}

fn path(polygon: &Polygon) -> String {
    let mut d = String::new();
    for ring in polygon.rings() {
        for (i, p) in ring.iter().enumerate() {
            let _ = write!(
                d,
                "{}{} {}",
                if i == 0 { "M" } else { "L" },
                n(p.x),
                n(-p.y)
            );
        }
        d.push('Z');
    }
    d
}

/// A number with at most three decimals.
pub(super) fn n(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}
