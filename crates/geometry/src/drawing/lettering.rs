//! Text to marks: letters of single lines where the drawing has its text.

use super::affine::Affine;
use super::error::{Culprit, DrawingError};
use super::pen::{Approximations, Chain, Pen};
use super::stroke_font::{CAPITAL, DESCENT, GAP, letter};
use crate::Point;

/// Baselines of a text of several lines are this many heights of a capital apart (DXF reference, MTEXT,
/// group 44: five thirds of the height).
const LINE_FEED: f64 = 5.0 / 3.0;

/// The longest text that is marked, in characters. Labels have dozens.
pub(super) const MOST_CHARACTERS: usize = 10_000;

/// Where a text lies beside its place, along its lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Across {
    #[default]
    Left,
    Middle,
    Right,
}

/// Where a text lies beside its place, across its lines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Upright {
    /// The first line stands on it.
    #[default]
    Baseline,
    /// Descenders reach down to it.
    Bottom,
    /// Halfway up the capitals; of several lines, halfway from the first to the last.
    Middle,
    /// Capitals of the first line reach up to it.
    Top,
    /// Halfway from the top of the capitals of the first line to the descenders of the last.
    Whole,
}

/// A character with its own size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sign {
    pub c: char,
    /// Height of its capitals, as a share of the text's.
    pub height: f64,
    /// Width, as a share of the usual.
    pub stretch: f64,
    /// Slant to the right: the tangent of its angle.
    pub slant: f64,
}

impl Sign {
    /// A character of the text's own size.
    pub fn plain(c: char) -> Self {
        Self {
            c,
            height: 1.0,
            stretch: 1.0,
            slant: 0.0,
        }
    }

    /// How far the next character is, in heights of a capital of the text.
    fn advance(&self) -> f64 {
        let width = letter(self.c).map_or(CAPITAL / 2.0, |l| l.width);
        (width + GAP) / CAPITAL * self.height * self.stretch
    }
}

/// A text to be drawn, its place the origin of its own coordinates, its lines along x, y up.
#[derive(Debug, Clone, Default)]
pub(super) struct Text {
    pub lines: Vec<Vec<Sign>>,
    /// Height of a capital.
    pub height: f64,
    pub across: Across,
    pub upright: Upright,
    /// Distance of the lines, as a share of the usual.
    pub feed: f64,
}

/// What was drawn for a text.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Lettering {
    pub strokes: Vec<Chain>,
    pub culprit: Box<Culprit>,
    /// The text as it reads, lines apart by a space.
    pub words: String,
    /// Where it stands and how high its capitals are, in millimetres.
    pub at: Point,
    pub height: f64,
    /// Characters that the letters do not have.
    pub missing: Vec<char>,
}

/// How long a line is, in heights of a capital: from the first letter's left to the last one's right.
pub(super) fn length(line: &[Sign]) -> f64 {
    let all: f64 = line.iter().map(Sign::advance).sum();
    let last = line
        .last()
        .map_or(0.0, |sign| GAP / CAPITAL * sign.height * sign.stretch);
    (all - last).max(0.0)
}

impl Text {
    /// The strokes in millimetres.
    ///
    /// # Errors
    /// [`DrawingError::Unsupported`] when the letters cannot be brought within `fit`.
    pub fn draw(
        &self,
        to_mm: &Affine,
        fit: f64,
        culprit: &Culprit,
        approximations: &mut Approximations,
    ) -> Result<Lettering, DrawingError> {
        let mut missing = Vec::new();
        let mut strokes = Vec::new();
        let mut y = self.first_baseline();
        for (i, line) in self.lines.iter().enumerate() {
            if i > 0 {
                y -= self.line_feed(line);
            }
            let long = length(line);
            let mut x = match self.across {
                Across::Left => 0.0,
                Across::Middle => -0.5 * long,
                Across::Right => -long,
            };
            for sign in line {
                match letter(sign.c) {
                    Some(letter) => {
                        let size = self.height * sign.height / CAPITAL;
                        let own = Affine::new(
                            size * sign.stretch,
                            0.0,
                            size * sign.slant,
                            size,
                            self.height * x,
                            self.height * y,
                        );
                        let to_mm = to_mm.after(&own);
                        for stroke in &letter.strokes {
                            let mut pen = Pen::new(to_mm, fit, &culprit.kind, approximations);
                            pen.move_to(stroke[0].point);
                            for pair in stroke.windows(2) {
                                pen.bulge_to(pair[1].point, pair[0].bulge);
                            }
                            let closed = stroke[0].point == stroke[stroke.len() - 1].point;
                            let chain = pen.finish(closed, culprit, None);
                            if pen.missed_fit().is_some() {
                                return Err(DrawingError::Unsupported {
                                    culprit: Box::new(culprit.clone()),
                                    why: format!(
                                        "has letters that cannot be brought within {fit} mm by arcs"
                                    ),
                                });
                            }
                            strokes.extend(chain);
                        }
                    }
                    None if missing.contains(&sign.c) => {}
                    None => missing.push(sign.c),
                }
                x += sign.advance();
            }
        }
        let up = to_mm.vector(crate::Vec2::new(0.0, self.height));
        Ok(Lettering {
            strokes,
            culprit: Box::new(culprit.clone()),
            words: self.words(),
            at: to_mm.point(Point::default()),
            height: up.length(),
            missing,
        })
    }

    /// The text as it reads.
    pub fn words(&self) -> String {
        let line = |line: &Vec<Sign>| line.iter().map(|s| s.c).collect::<String>();
        let lines: Vec<String> = self.lines.iter().map(line).collect();
        lines.join(" ").trim().to_owned()
    }

    /// From one baseline down to that of `line`, in heights of a capital.
    fn line_feed(&self, line: &[Sign]) -> f64 {
        let tallest = line.iter().map(|s| s.height).fold(0.0, f64::max);
        let tallest = if tallest > 0.0 { tallest } else { 1.0 };
        LINE_FEED * self.feed * tallest
    }

    /// Where the first baseline is, in heights of a capital.
    fn first_baseline(&self) -> f64 {
        let down: f64 = self.lines.iter().skip(1).map(|l| self.line_feed(l)).sum();
        let first = self.lines.first().map_or(1.0, |line| {
            line.iter().map(|s| s.height).fold(0.0, f64::max)
        });
        match self.upright {
            Upright::Baseline => 0.0,
            Upright::Bottom => down + DESCENT / CAPITAL,
            Upright::Middle => 0.5 * (down + first) - first,
            Upright::Top => -first,
            Upright::Whole => 0.5 * (down + DESCENT / CAPITAL - first),
        }
    }
}
