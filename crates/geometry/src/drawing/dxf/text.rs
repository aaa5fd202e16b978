//! TEXT, ATTRIB and MTEXT as they are written: the words, their size and how they lie.
//!
//! Source: DXF reference, TEXT, ATTRIB and MTEXT; the control codes of text (`%%c` and the like) and of
//! MTEXT (`\P`, `\H` and the like) as the reference's users know them, common practice.

use super::super::affine::Affine;
use super::super::error::DrawingError;
use super::super::lettering::{Across, MOST_CHARACTERS, Sign, Text, Upright, length};
use super::super::stroke_font::{CAPITAL, GAP};
use super::pairs::Pair;
use super::structure::Entity;
use crate::{Point, Vec2};

/// Widest slant that is taken for one, in degrees: beyond it letters lie down.
const MOST_SLANT: f64 = 85.0;

/// The deepest nesting of braces in an MTEXT; deeper ones change nothing.
const MOST_BRACES: usize = 32;

/// Whether an entity is text that stands for itself.
pub(super) fn is_text(kind: &str) -> bool {
    matches!(kind, "TEXT" | "MTEXT" | "ATTRIB")
}

/// A text and the map from its own coordinates to those of the drawing.
///
/// `seen_from_below`: its plane is that of the extrusion (0, 0, -1).
pub(super) fn read(
    entity: &Entity<'_>,
    seen_from_below: bool,
) -> Result<(Text, Affine), DrawingError> {
    if entity.kind == "MTEXT" {
        return paragraph(entity, seen_from_below);
    }
    let (text, map) = line(entity)?;
    let side = Affine::scale(if seen_from_below { -1.0 } else { 1.0 }, 1.0);
    Ok((text, side.after(&map)))
}

fn place(entity: &Entity<'_>, x: i32, y: i32) -> Result<Option<Point>, DrawingError> {
    if entity.first(x).is_none() {
        return Ok(None);
    }
    Ok(Some(Point::new(
        entity.number(x, 0.0)?,
        entity.number(y, 0.0)?,
    )))
}

fn height(entity: &Entity<'_>) -> Result<f64, DrawingError> {
    let height = entity.needed(40, "the height of the text")?;
    if height <= 0.0 {
        return Err(entity.bad(
            "the height of the text (group 40)".to_owned(),
            height.to_string(),
            "it must be above 0",
        ));
    }
    Ok(height)
}

/// A share that must be above 0.
fn share(entity: &Entity<'_>, code: i32, what: &str) -> Result<f64, DrawingError> {
    let share = entity.number(code, 1.0)?;
    if share <= 0.0 {
        return Err(entity.bad(
            format!("{what} (group {code})"),
            share.to_string(),
            "it must be above 0",
        ));
    }
    Ok(share)
}

fn check_length(entity: &Entity<'_>, count: usize) -> Result<(), DrawingError> {
    if count > MOST_CHARACTERS {
        return Err(entity.bad(
            "the text".to_owned(),
            format!("{count} characters"),
            &format!("at most {MOST_CHARACTERS} are read; leave it out by a rule, or split it"),
        ));
    }
    Ok(())
}

fn tangent(degrees: f64) -> f64 {
    degrees.clamp(-MOST_SLANT, MOST_SLANT).to_radians().tan()
}

/// TEXT and ATTRIB: one line.
fn line(entity: &Entity<'_>) -> Result<(Text, Affine), DrawingError> {
    let first = Point::new(
        entity.needed(10, "x of the text")?,
        entity.needed(20, "y of the text")?,
    );
    let second = place(entity, 11, 21)?;
    let mut height = height(entity)?;
    let mut stretch = share(entity, 41, "the width of the letters")?;
    let slant = tangent(entity.number(51, 0.0)?);
    let words = entity.first(1).map(Pair::whole_text).unwrap_or_default();
    let signs: Vec<Sign> = plain(&words).into_iter().map(Sign::plain).collect();
    check_length(entity, signs.len())?;
    let along = entity.whole(72, 0)?;
    // An attribute has its field length where a text has its place across.
    let up = entity.whole(if entity.kind == "ATTRIB" { 74 } else { 73 }, 0)?;
    let mut turn = Affine::turn_deg(entity.number(50, 0.0)?);
    let (mut across, mut upright) = (Across::Left, Upright::Baseline);
    let mut at = first;
    match (along, second) {
        // Between two places: aligned (the height follows) and fitted (it stays).
        (3 | 5, Some(second)) => {
            let (reach, own) = (second - first, height * length(&signs) * stretch);
            if reach.length() > 0.0 && own > 0.0 {
                let way = reach.normalized();
                turn = Affine::new(way.x, way.y, -way.y, way.x, 0.0, 0.0);
                let fits = reach.length() / own;
                if along == 3 {
                    height *= fits;
                } else {
                    stretch *= fits;
                }
            }
        }
        (0, _) if up == 0 => {}
        (_, second) => {
            at = second.unwrap_or(first);
            across = match along {
                1 | 4 => Across::Middle,
                2 => Across::Right,
                _ => Across::Left,
            };
            upright = match up {
                _ if along == 4 => Upright::Whole,
                1 => Upright::Bottom,
                2 => Upright::Middle,
                3 => Upright::Top,
                _ => Upright::Baseline,
            };
        }
    }
    let flags = entity.whole(71, 0)?;
    let mirrored = Affine::scale(
        if flags & 2 != 0 { -1.0 } else { 1.0 },
        if flags & 4 != 0 { -1.0 } else { 1.0 },
    );
    let signs = signs.into_iter().map(|sign| Sign { stretch, ..sign });
    let text = Text {
        lines: vec![signs.collect()],
        height,
        across,
        upright,
        feed: 1.0,
    };
    // As ezdxf has it, the letters lean about the place that the text is aligned to.
    let leaning = Affine::new(1.0, 0.0, slant, 1.0, 0.0, 0.0);
    let map = Affine::shift(at.x, at.y)
        .after(&turn)
        .after(&mirrored)
        .after(&leaning);
    Ok((text, map))
}

/// The characters of a TEXT: `%%c`, `%%d`, `%%p`, `%%nnn` and `%%%` stand for others, `%%u` and `%%o`
/// draw lines that are left out; a caret with a letter is a control character.
fn plain(text: &str) -> Vec<char> {
    let mut out = Vec::new();
    let mut rest = text.chars().peekable();
    while let Some(c) = rest.next() {
        match c {
            '%' if rest.peek() == Some(&'%') => {
                rest.next();
                percent(&mut rest, &mut out);
            }
            '^' => match rest.next() {
                Some(' ') | None => out.push('^'),
                // Tabulator, new line and the rest of them.
                Some(_) => out.push(' '),
            },
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

/// What stands behind two per cent signs.
fn percent(rest: &mut std::iter::Peekable<std::str::Chars<'_>>, out: &mut Vec<char>) {
    match rest.peek().map(char::to_ascii_lowercase) {
        Some('c') => out.push('\u{d8}'),
        Some('d') => out.push('\u{b0}'),
        Some('p') => out.push('\u{b1}'),
        Some('%') => out.push('%'),
        Some('u' | 'o' | 'k') => {}
        Some(c) if c.is_ascii_digit() => {
            let mut number = 0_u32;
            for _ in 0..3 {
                let Some(digit) = rest.peek().and_then(|c| c.to_digit(10)) else {
                    break;
                };
                number = 10 * number + digit;
                rest.next();
            }
            out.extend(char::from_u32(number).filter(|c| !c.is_control()));
            return;
        }
        _ => {
            out.extend(['%', '%']);
            return;
        }
    }
    rest.next();
}

/// MTEXT: lines and their sizes. Its place and the direction of its lines are in world coordinates, its
/// angle is not.
fn paragraph(entity: &Entity<'_>, seen_from_below: bool) -> Result<(Text, Affine), DrawingError> {
    let at = Point::new(
        entity.needed(10, "x of the text")?,
        entity.needed(20, "y of the text")?,
    );
    let height = height(entity)?;
    // Longer texts are cut into pieces, all but the last under code 3.
    let pieces = entity.pairs().iter().filter(|p| p.code == 3);
    let mut words: String = pieces.map(Pair::whole_text).collect();
    words += &entity.first(1).map(Pair::whole_text).unwrap_or_default();
    check_length(entity, words.chars().count())?;
    let width = entity.number(41, 0.0)?;
    let lines = broken(formatted(&words, height), width / height);
    let attachment = entity.whole(71, 1)?;
    let across = match attachment {
        2 | 5 | 8 => Across::Middle,
        3 | 6 | 9 => Across::Right,
        _ => Across::Left,
    };
    let upright = match attachment {
        4..=6 => Upright::Whole,
        7..=9 => Upright::Bottom,
        _ => Upright::Top,
    };
    let text = Text {
        lines,
        height,
        across,
        upright,
        feed: share(entity, 44, "the distance of the lines")?,
    };
    // The one that is given last counts (DXF reference, MTEXT); an angle is written in degrees.
    let direction = place(entity, 11, 21)?.map(Point::to_vec);
    let last = |code: i32| entity.pairs().iter().rposition(|p| p.code == code);
    let turn = match direction.filter(|d| d.length() > 1e-9 && last(11) > last(50)) {
        Some(direction) => {
            let Vec2 { x, y } = direction.normalized();
            let up = if seen_from_below { -1.0 } else { 1.0 };
            Affine::new(x, y, -y * up, x * up, 0.0, 0.0)
        }
        None => {
            let side = Affine::scale(if seen_from_below { -1.0 } else { 1.0 }, 1.0);
            side.after(&Affine::turn_deg(entity.number(50, 0.0)?))
        }
    };
    Ok((text, Affine::shift(at.x, at.y).after(&turn)))
}

/// What codes within an MTEXT have set.
#[derive(Debug, Clone, Copy)]
struct Format {
    height: f64,
    stretch: f64,
    slant: f64,
}

/// The signs of an MTEXT, line by line as it breaks them itself. `height` is the text's own.
fn formatted(text: &str, height: f64) -> Vec<Vec<Sign>> {
    let usual = Format {
        height: 1.0,
        stretch: 1.0,
        slant: 0.0,
    };
    let mut format = usual;
    let mut outer: Vec<Format> = Vec::new();
    let mut lines: Vec<Vec<Sign>> = vec![Vec::new()];
    let mut rest = text.chars().peekable();
    let put = |c: char, format: &Format, lines: &mut Vec<Vec<Sign>>| {
        let Format {
            height,
            stretch,
            slant,
        } = *format;
        if let Some(line) = lines.last_mut() {
            line.push(Sign {
                c: if c.is_control() { ' ' } else { c },
                height,
                stretch,
                slant,
            });
        }
    };
    while let Some(c) = rest.next() {
        match c {
            '{' => {
                if outer.len() < MOST_BRACES {
                    outer.push(format);
                }
            }
            '}' => format = outer.pop().unwrap_or(format),
            '\\' => match rest.next() {
                Some('P' | 'N' | 'X') => lines.push(Vec::new()),
                Some('~') => put('\u{a0}', &format, &mut lines),
                Some(c @ ('\\' | '{' | '}')) => put(c, &format, &mut lines),
                Some('L' | 'l' | 'O' | 'o' | 'K' | 'k') => {}
                Some('S') => {
                    // A fraction, on one line.
                    for c in value(&mut rest).chars() {
                        put(
                            if matches!(c, '#' | '^') { '/' } else { c },
                            &format,
                            &mut lines,
                        );
                    }
                }
                Some('H') => {
                    let text = value(&mut rest);
                    let (number, of) = match text.strip_suffix(['x', 'X']) {
                        Some(number) => (number, format.height),
                        None => (text.as_str(), 1.0 / height),
                    };
                    set(
                        &mut format.height,
                        number.parse::<f64>().map(|v| v * of).ok(),
                    );
                }
                Some('W') => {
                    let text = value(&mut rest);
                    let (number, of) = match text.strip_suffix(['x', 'X']) {
                        Some(number) => (number, format.stretch),
                        None => (text.as_str(), 1.0),
                    };
                    set(
                        &mut format.stretch,
                        number.parse::<f64>().map(|v| v * of).ok(),
                    );
                }
                Some('Q') => {
                    if let Ok(degrees) = value(&mut rest).parse::<f64>()
                        && degrees.is_finite()
                    {
                        format.slant = tangent(degrees);
                    }
                }
                // Font, colour, tracking, paragraph and the like.
                Some('A' | 'C' | 'c' | 'f' | 'F' | 'T' | 'p') => {
                    value(&mut rest);
                }
                Some(other) => {
                    put('\\', &format, &mut lines);
                    put(other, &format, &mut lines);
                }
                None => put('\\', &format, &mut lines),
            },
            '^' => match rest.next() {
                Some(' ') | None => put('^', &format, &mut lines),
                Some('J') => lines.push(Vec::new()),
                Some('M') => {}
                Some(_) => put(' ', &format, &mut lines),
            },
            '%' if rest.peek() == Some(&'%') => {
                rest.next();
                let mut found = Vec::new();
                percent(&mut rest, &mut found);
                for c in found {
                    put(c, &format, &mut lines);
                }
            }
            c => put(c, &format, &mut lines),
        }
    }
    lines
}

/// The value of a code, up to its semicolon.
fn value(rest: &mut std::iter::Peekable<std::str::Chars<'_>>) -> String {
    rest.by_ref().take_while(|c| *c != ';').collect()
}

/// Takes a share when it makes sense.
fn set(slot: &mut f64, value: Option<f64>) {
    if let Some(value) = value.filter(|v| (1e-3..=1e3).contains(v)) {
        *slot = value;
    }
}

/// Breaks lines at blanks so that none is longer than `width`, in heights of a capital; not at all when
/// that is 0 or less. A word that is longer stays whole.
fn broken(lines: Vec<Vec<Sign>>, width: f64) -> Vec<Vec<Sign>> {
    if width <= 0.0 {
        return lines;
    }
    let mut out = Vec::new();
    for line in lines {
        let mut current: Vec<Sign> = Vec::new();
        for word in line.split_inclusive(|s| s.c == ' ') {
            let is_blank = |s: &Sign| s.c == ' ';
            let bare = match word.split_last() {
                Some((last, rest)) if is_blank(last) => rest,
                _ => word,
            };
            let with = length(&current) + GAP / CAPITAL + length(bare);
            if !current.is_empty() && with > width {
                while current.last().is_some_and(is_blank) {
                    current.pop();
                }
                out.push(std::mem::take(&mut current));
            }
            current.extend_from_slice(word);
        }
        while current.last().is_some_and(|s| s.c == ' ') {
            current.pop();
        }
        out.push(current);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(lines: &[Vec<Sign>]) -> Vec<String> {
        let line = |line: &Vec<Sign>| line.iter().map(|s| s.c).collect();
        lines.iter().map(line).collect()
    }

    #[test]
    fn control_codes_stand_for_characters() {
        let text = |t: &str| plain(t).into_iter().collect::<String>();
        assert_eq!(text("%%c12 %%P0.5 45%%d"), "\u{d8}12 \u{b1}0.5 45\u{b0}");
        assert_eq!(text("%%uunder%%u 100%%% 5% %%065"), "under 100% 5% A");
        assert_eq!(text("a^ b^Ic %%q %%"), "a^b c %%q %%");
    }

    #[test]
    fn paragraphs_lose_their_codes() {
        let lines = formatted(
            r"{\fArial|b0;\C1;Side} \H2x;A\H1;b\PNo \S1/2; \Q15;\W0.8;x\\ \{y\} %%d^Jz\~z",
            4.0,
        );
        assert_eq!(
            words(&lines),
            ["Side Ab", "No 1/2 x\\ {y} \u{b0}", "z\u{a0}z"]
        );
        assert_eq!((lines[0][5].height, lines[0][6].height), (2.0, 0.25));
        let x = lines[1].iter().find(|s| s.c == 'x').expect("x");
        assert!((x.slant - 15_f64.to_radians().tan()).abs() < 1e-12 && x.stretch == 0.8);
        // What no code can mean is left alone.
        let odd = formatted(r"\H0;a\Hnan;b\W-1;c}\", 4.0);
        assert_eq!(words(&odd), ["abc\\"]);
        assert!(odd[0].iter().all(|s| s.height == 1.0 && s.stretch == 1.0));
    }

    #[test]
    fn lines_are_broken_at_blanks() {
        let signs = formatted("one two three", 1.0);
        let wide = length(&signs[0]);
        assert_eq!(words(&broken(signs.clone(), 0.0)), ["one two three"]);
        assert_eq!(words(&broken(signs.clone(), wide + 1.0)), ["one two three"]);
        assert_eq!(
            words(&broken(signs.clone(), 0.7 * wide)),
            ["one two", "three"]
        );
        assert_eq!(words(&broken(signs, 0.01)), ["one", "two", "three"]);
    }
}
