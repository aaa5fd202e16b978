//! Letters of single lines and arcs, for engraving.
//!
//! A letter is drawn on a grid on which capitals are [`CAPITAL`] high and small letters 4; the
//! baseline is y = 0, descenders reach down to -2. Round letters are half and quarter circles. The
//! shapes are the project's own.

use crate::{Point, Vertex};
use std::collections::HashMap;
use std::f64::consts::SQRT_2;
use std::sync::LazyLock;

/// Height of capitals and figures in units of the grid.
pub(super) const CAPITAL: f64 = 6.0;

/// How far letters reach below the baseline.
pub(super) const DESCENT: f64 = 2.0;

/// What is left free between two letters.
pub(super) const GAP: f64 = 1.5;

/// Radius of a dot: a point would be nothing to engrave.
const DOT: f64 = 0.25;

/// How far an accent is moved up for a capital, whose top is that much higher.
const ABOVE_CAPITAL: f64 = 2.0;

/// Each letter with its strokes: places `x,y`, with the way to the next one before it: nothing is a
/// line, `<` and `>` a quarter circle to the left and to the right, `(` and `)` half a circle. `*x,y`
/// is a dot; `|` ends a stroke.
const LETTERS: &[(char, &str)] = &[
    ('A', "0,0 2,6 4,0 | 0.6667,2 3.3333,2"),
    ('B', "0,0 0,6 2.5,6 ) 2.5,3 0,3 | 2.5,3 ) 2.5,0 0,0"),
    ('C', "4,4 < 2,6 < 0,4 0,2 < 2,0 < 4,2"),
    ('D', "0,0 0,6 2,6 > 4,4 4,2 > 2,0 0,0"),
    ('E', "3.5,6 0,6 0,0 3.5,0 | 0,3 3,3"),
    ('F', "3.5,6 0,6 0,0 | 0,3 3,3"),
    ('G', "4,4 < 2,6 < 0,4 0,2 < 2,0 < 4,2 4,3 2.5,3"),
    ('H', "0,0 0,6 | 4,6 4,0 | 0,3 4,3"),
    ('I', "0,0 2,0 | 1,0 1,6 | 0,6 2,6"),
    ('J', "3,6 3,1.5 > 1.5,0 > 0,1.5"),
    ('K', "0,6 0,0 | 4,6 0,2 | 1.3333,3.3333 4,0"),
    ('L', "0,6 0,0 3.5,0"),
    ('M', "0,0 0,6 2.5,2 5,6 5,0"),
    ('N', "0,0 0,6 4,0 4,6"),
    ('O', "4,4 < 2,6 < 0,4 0,2 < 2,0 < 4,2 4,4"),
    ('P', "0,0 0,6 2.5,6 ) 2.5,3 0,3"),
    (
        'Q',
        "4,4 < 2,6 < 0,4 0,2 < 2,0 < 4,2 4,4 | 2.5,1.5 4.2,-0.2",
    ),
    ('R', "0,0 0,6 2.5,6 ) 2.5,3 0,3 | 2,3 4,0"),
    (
        'S',
        "4,4.5 < 2.5,6 1.5,6 ( 1.5,3 2.5,3 ) 2.5,0 1.5,0 > 0,1.5",
    ),
    ('T', "0,6 4,6 | 2,6 2,0"),
    ('U', "0,6 0,2 < 2,0 < 4,2 4,6"),
    ('V', "0,6 2,0 4,6"),
    ('W', "0,6 1.5,0 3,5 4.5,0 6,6"),
    ('X', "0,0 4,6 | 0,6 4,0"),
    ('Y', "0,6 2,3 4,6 | 2,3 2,0"),
    ('Z', "0,6 4,6 0,0 4,0"),
    ('a', "3,4 3,0 | 3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5"),
    ('b', "0,6 0,0 | 0,2.5 > 1.5,4 > 3,2.5 3,1.5 > 1.5,0 > 0,1.5"),
    ('c', "3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5"),
    ('d', "3,6 3,0 | 3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5"),
    ('e', "0,2 3,2 3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 2.6,0"),
    ('f', "2.4,6 2,6 < 1,5 1,0 | 0,4 2.2,4"),
    (
        'g',
        "3,4 3,-0.5 > 1.5,-2 0.4,-2 | 3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5",
    ),
    ('h', "0,6 0,0 | 0,2.5 > 1.5,4 > 3,2.5 3,0"),
    ('i', "0.25,0 0.25,4 | *0.25,5.5"),
    ('j', "1.25,4 1.25,-0.75 > 0,-2 | *1.25,5.5"),
    ('k', "0,6 0,0 | 2.7,4 0,1.3 | 1,2.3 2.9,0"),
    ('l', "0,6 0,1 < 1,0"),
    (
        'm',
        "0,4 0,0 | 0,2.75 > 1.25,4 > 2.5,2.75 2.5,0 | 2.5,2.75 > 3.75,4 > 5,2.75 5,0",
    ),
    ('n', "0,4 0,0 | 0,2.5 > 1.5,4 > 3,2.5 3,0"),
    ('o', "3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5 3,2.5"),
    (
        'p',
        "0,4 0,-2 | 0,2.5 > 1.5,4 > 3,2.5 3,1.5 > 1.5,0 > 0,1.5",
    ),
    (
        'q',
        "3,4 3,-2 | 3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5",
    ),
    ('r', "0,4 0,0 | 0,2.5 > 1.5,4 2,4"),
    ('s', "2.6,4 1,4 ( 1,2 1.6,2 ) 1.6,0 0,0"),
    ('t', "0.9,5.5 0.9,1 < 1.9,0 2.3,0 | 0,4 2.1,4"),
    ('u', "0,4 0,1.5 < 1.5,0 < 3,1.5 | 3,4 3,0"),
    ('v', "0,4 1.5,0 3,4"),
    ('w', "0,4 1.1,0 2.2,3.4 3.3,0 4.4,4"),
    ('x', "0,0 3,4 | 0,4 3,0"),
    ('y', "0,4 1.5,0 | 3,4 0.75,-2"),
    ('z', "0,4 3,4 0,0 3,0"),
    ('0', "3,4.5 < 1.5,6 < 0,4.5 0,1.5 < 1.5,0 < 3,1.5 3,4.5"),
    ('1', "0,4.5 1.5,6 1.5,0"),
    ('2', "0,4.5 > 1.5,6 > 3,4.5 3,4 0,0 3,0"),
    ('3', "0,4.5 > 1.5,6 ) 1.5,3 1,3 | 1.5,3 ) 1.5,0 > 0,1.5"),
    ('4', "2.5,0 2.5,6 0,2 3.5,2"),
    ('5', "2.8,6 0,6 0,3.5 1.25,3.5 ) 1.25,0 0,0"),
    (
        '6',
        "2.5,6 < 0,3.5 0,1.5 < 1.5,0 < 3,1.5 3,2 < 1.5,3.5 < 0,2",
    ),
    ('7', "0,6 3,6 1,0"),
    ('8', "1.5,3 ( 1.5,6 ( 1.5,3 ) 1.5,0 ) 1.5,3"),
    (
        '9',
        "0.5,0 < 3,2.5 3,4.5 < 1.5,6 < 0,4.5 0,4 < 1.5,2.5 < 3,4",
    ),
    ('.', "*0.25,0.25"),
    (',', "0.4,0.5 0,-1"),
    (':', "*0.25,0.25 | *0.25,3.5"),
    (';', "0.4,0.5 0,-1 | *0.4,3.5"),
    ('!', "0.25,6 0.25,1.8 | *0.25,0.25"),
    ('?', "0,4.5 > 1.5,6 > 3,4.5 > 1.5,3 1.5,1.8 | *1.5,0.25"),
    ('-', "0,3 2.4,3"),
    ('_', "0,-1 4,-1"),
    ('+', "0,3 3,3 | 1.5,1.5 1.5,4.5"),
    ('=', "0,2.2 3,2.2 | 0,3.8 3,3.8"),
    ('/', "0,-0.5 3,6.5"),
    ('\\', "0,6.5 3,-0.5"),
    ('(', "1.6569,7 < 1.6569,-1"),
    (')', "0,7 > 0,-1"),
    ('[', "1.2,7 0,7 0,-1 1.2,-1"),
    (']', "0,7 1.2,7 1.2,-1 0,-1"),
    (
        '{',
        "1.6,7 < 0.8,6.2 0.8,3.8 > 0,3 > 0.8,2.2 0.8,-0.2 < 1.6,-1",
    ),
    (
        '}',
        "0,7 > 0.8,6.2 0.8,3.8 < 1.6,3 < 0.8,2.2 0.8,-0.2 > 0,-1",
    ),
    ('<', "3,5 0,3 3,1"),
    ('>', "0,5 3,3 0,1"),
    ('#', "1,0 1.8,6 | 2.6,0 3.4,6 | 0.2,2 4,2 | 0.4,4 4.2,4"),
    (
        '&',
        "4,0 0.6,4.6 0.6,5 ) 2.6,5 2.6,4.8 0.4393,2.5607 < 0.4393,0.4393 < 2.5607,0.4393 4.2,2.4",
    ),
    (
        '%',
        "1.8,5.1 ( 0,5.1 ( 1.8,5.1 | 4,0.9 ( 2.2,0.9 ( 4,0.9 | 0.3,0 3.7,6",
    ),
    (
        '@',
        "3.6,3 ( 1.4,3 ( 3.6,3 | 3.6,4.1 3.6,2.7 ( 5,2.7 5,3.5 < 2.5,6 < 0,3.5 0,2.5 < 2.5,0 4,0",
    ),
    (
        '*',
        "1.5,2.5 1.5,5.5 | 0.2,3.25 2.8,4.75 | 0.2,4.75 2.8,3.25",
    ),
    ('\'', "0,6 0,4.5"),
    ('"', "0,6 0,4.5 | 1,6 1,4.5"),
    ('^', "0,4.5 1.25,6 2.5,4.5"),
    ('`', "0,6 0.8,4.8"),
    ('~', "0,3 > 1.5,3 < 3,3"),
    ('|', "0,-1 0,7"),
    (
        '$',
        "4,4.5 < 2.5,6 1.5,6 ( 1.5,3 2.5,3 ) 2.5,0 1.5,0 > 0,1.5 | 2,6.8 2,-0.8",
    ),
    ('\u{b0}', "1.6,5.2 ( 0,5.2 ( 1.6,5.2"),
    ('\u{b1}', "0,3.5 3,3.5 | 1.5,2 1.5,5 | 0,0.8 3,0.8"),
    ('\u{d7}', "0.2,1.6 2.8,4.2 | 0.2,4.2 2.8,1.6"),
    ('\u{f7}', "0,3 3,3 | *1.5,4.6 | *1.5,1.4"),
    ('\u{b7}', "*0.25,3"),
    ('\u{b5}', "0,4 0,-2 | 0,1.5 < 1.5,0 < 3,1.5 | 3,4 3,0"),
    ('\u{b2}', "0,5 > 0.8,5.8 > 1.6,5 1.6,4.8 0,3 1.6,3"),
    (
        '\u{b3}',
        "0,5.3 > 0.7,6 ) 0.7,4.6 | 0.7,4.6 ) 0.7,3.2 > 0,3.9",
    ),
    ('\u{b9}', "0,5.2 0.7,6 0.7,3"),
    (
        '\u{df}',
        "0,0 0,4.5 > 1.5,6 ) 1.5,3.4 1.2,3.4 | 1.5,3.4 ) 1.5,0 0.9,0",
    ),
    (
        '\u{d8}',
        "4,4 < 2,6 < 0,4 0,2 < 2,0 < 4,2 4,4 | -0.2,-0.5 4.2,6.5",
    ),
    (
        '\u{f8}',
        "3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5 3,2.5 | -0.2,-0.4 3.2,4.4",
    ),
    (
        '\u{c6}',
        "5.5,6 2.5,6 0,0 | 2.5,6 2.5,0 5.5,0 | 0.8333,2 2.5,2 | 2.5,3 5,3",
    ),
    (
        '\u{e6}',
        "3,4 3,0 | 3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5 | 3,2 6,2 6,2.5 < 4.5,4 < 3,2.5 | 3,1.5 < 4.5,0 5.6,0",
    ),
    (
        '\u{152}',
        "4,4 < 2,6 < 0,4 0,2 < 2,0 < 4,2 4,4 | 2,6 6,6 | 2,0 6,0 | 4,3 5.5,3",
    ),
    (
        '\u{153}',
        "3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5 3,2.5 | 3,2 6,2 6,2.5 < 4.5,4 < 3,2.5 | 3,1.5 < 4.5,0 5.6,0",
    ),
    (
        '\u{110}',
        "0.5,0 0.5,6 2.5,6 > 4.5,4 4.5,2 > 2.5,0 0.5,0 | -0.3,3 1.6,3",
    ),
    (
        '\u{111}',
        "3,6 3,0 | 3,2.5 < 1.5,4 < 0,2.5 0,1.5 < 1.5,0 < 3,1.5 | 1.6,5 3.8,5",
    ),
    ('\u{141}', "0.5,6 0.5,0 4,0 | -0.3,2.4 1.8,3.8"),
    ('\u{142}', "0.7,6 0.7,1 < 1.7,0 | -0.2,2.6 1.6,3.6"),
    ('\u{131}', "0.25,0 0.25,4"),
    ('\u{2013}', "0,3 3,3"),
    ('\u{2014}', "0,3 5,3"),
    ('\u{2018}', "0.5,6 0,4.6"),
    ('\u{2019}', "0.5,6 0,4.6"),
    ('\u{201a}', "0.4,0.5 0,-1"),
    ('\u{201c}', "0,4.6 0.5,6 | 1,4.6 1.5,6"),
    ('\u{201d}', "0.5,6 0,4.6 | 1.5,6 1,4.6"),
    ('\u{201e}', "0.4,0.5 0,-1 | 1.4,0.5 1,-1"),
    ('\u{2026}', "*0.25,0.25 | *2.25,0.25 | *4.25,0.25"),
    (
        '\u{20ac}',
        "4,4.6 < 2.6,6 < 0.6,4 0.6,2 < 2.6,0 < 4,1.4 | 0,3.5 3,3.5 | 0,2.5 3,2.5",
    ),
    (
        '\u{a3}',
        "3.5,4.5 < 2,6 < 0.8,4.8 0.8,0 | 0,0 3.5,0 | 0,3 2.4,3",
    ),
    (
        '\u{a7}',
        "2.4,5.4 < 1.8,6 1.2,6 < 0,4.8 0.3,4.4 2.1,2.8 > 2.4,2.4 > 1.2,1.2 | 1.2,4.2 > 0,3 0.3,2.6 2.4,0.8 2.4,0.2 > 1.2,-1 0.6,-1 > 0,-0.4",
    ),
    (
        '\u{2126}',
        "0,0 1.4,0 1.4,0.6 > 0,3 0,4 > 2,6 > 4,4 4,3 > 2.6,0.6 2.6,0 4,0",
    ),
    ('\u{2264}', "3,5.4 0,3.6 3,1.8 | 0,0.6 3,0.6"),
    ('\u{2265}', "0,5.4 3,3.6 0,1.8 | 0,0.6 3,0.6"),
];

/// The same sign under another number.
const ALIKE: &[(char, char)] = &[
    ('\u{2300}', '\u{d8}'), // diameter
    ('\u{2205}', '\u{d8}'), // empty set, as some programs write a diameter
    ('\u{3bc}', '\u{b5}'),
    ('\u{3a9}', '\u{2126}'),
    ('\u{2010}', '-'),
    ('\u{2011}', '-'),
    ('\u{ad}', '-'),
    ('\u{2212}', '\u{2013}'),
    ('\u{b4}', '\''),
    ('\u{2032}', '\''),
    ('\u{2033}', '"'),
    ('\u{2215}', '/'),
    ('\u{2044}', '/'),
    ('\u{d0}', '\u{110}'),
];

/// Accents over a small letter two units wide about x = 0 (below it for the last two), and the letters that have them: accented
/// and plain in turn.
const ACCENTED: &[(&str, &str)] = &[
    ("*-0.8,5.4 | *0.8,5.4", "ÄAäaËEëeÏIïıÖOöoÜUüuŸYÿy"),
    ("-0.4,5 0.6,6.2", "ÁAáaÉEéeÍIíıÓOóoÚUúuÝYýyĆCćcŃNńnŚSśsŹZźz"),
    ("0.4,5 -0.6,6.2", "ÀAàaÈEèeÌIìıÒOòoÙUùu"),
    ("-1,5 0,6 1,5", "ÂAâaÊEêeÎIîıÔOôoÛUûu"),
    ("-1,6 0,5 1,6", "ČCčcĎDěeĚEŇNňnŘRřrŠSšsŽZžz"),
    ("-1.2,5.3 > 0,5.3 < 1.2,5.3", "ÃAãaÑNñnÕOõo"),
    ("0.7,5.5 ( -0.7,5.5 ( 0.7,5.5", "ÅAåaŮUůu"),
    ("-0.8,5 -0.2,6.2 | 0.4,5 1,6.2", "ŐOőoŰUűu"),
    ("*0,5.4", "ŻZżzĖEėeİI"),
    ("0,0 0,-0.7 ) 0,-1.9 -0.6,-1.9", "ÇCçcŞSşs"),
    ("0.6,0 < 0.6,-1.8", "ĄAąaĘEęe"),
];

/// The shape of a letter.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Letter {
    /// Its strokes; one whose ends meet is closed. Corners with the way to the next one.
    pub strokes: Vec<Vec<Vertex>>,
    /// How wide it is, in units of the grid, without the gap to the next letter.
    pub width: f64,
}

/// The letter for a character; `None` where there is none. A space has no strokes.
pub(super) fn letter(c: char) -> Option<&'static Letter> {
    static FONT: LazyLock<HashMap<char, Letter>> = LazyLock::new(font);
    FONT.get(&c)
}

fn font() -> HashMap<char, Letter> {
    let mut font = HashMap::new();
    for (c, shape) in LETTERS {
        font.insert(*c, drawn(shape));
    }
    for c in [' ', '\u{a0}', '\t', '\u{2009}', '\u{202f}'] {
        let space = Letter {
            strokes: Vec::new(),
            width: 1.5,
        };
        font.insert(c, space);
    }
    for (c, like) in ALIKE {
        if let Some(letter) = font.get(like).cloned() {
            font.insert(*c, letter);
        }
    }
    for (accent, letters) in ACCENTED {
        let accent = drawn(accent);
        let letters: Vec<char> = letters.chars().collect();
        for pair in letters.chunks_exact(2) {
            if let Some(plain) = font.get(&pair[1]) {
                let letter = accented(plain, &accent, pair[1].is_uppercase());
                font.insert(pair[0], letter);
            }
        }
    }
    font
}

/// A letter with an accent over or under its middle.
fn accented(plain: &Letter, accent: &Letter, is_capital: bool) -> Letter {
    let mut letter = plain.clone();
    let mut corners = accent.strokes.iter().flatten();
    let is_over = corners.all(|v| v.point.y > 2.0);
    let up = if is_capital && is_over {
        ABOVE_CAPITAL
    } else {
        0.0
    };
    let moved = |v: &Vertex| Vertex {
        point: Point::new(v.point.x + 0.5 * plain.width, v.point.y + up),
        ..*v
    };
    let strokes = accent.strokes.iter();
    letter
        .strokes
        .extend(strokes.map(|stroke| stroke.iter().map(moved).collect()));
    letter
}

fn drawn(shape: &str) -> Letter {
    let mut letter = Letter::default();
    let quarter = SQRT_2 - 1.0;
    for stroke in shape.split('|') {
        let mut corners: Vec<Vertex> = Vec::new();
        for token in stroke.split_whitespace() {
            let bulge = match token {
                "<" => quarter,
                ">" => -quarter,
                "(" => 1.0,
                ")" => -1.0,
                place => {
                    let (dot, place) = match place.strip_prefix('*') {
                        Some(place) => (true, place),
                        None => (false, place),
                    };
                    let number = |text: &str| text.parse().unwrap_or(f64::NAN);
                    let (x, y) = place.split_once(',').unwrap_or((place, ""));
                    let at = Point::new(number(x), number(y));
                    if dot {
                        for side in [DOT, -DOT, DOT] {
                            corners.push(Vertex::new(at.x + side, at.y, 1.0));
                        }
                    } else {
                        corners.push(Vertex::new(at.x, at.y, 0.0));
                    }
                    continue;
                }
            };
            if let Some(last) = corners.last_mut() {
                last.bulge = bulge;
            }
        }
        if let Some(last) = corners.last_mut() {
            last.bulge = 0.0;
        }
        let reach = corners.iter().zip(corners.iter().skip(1)).map(|(a, b)| {
            let segment = crate::Segment::arc(a.point, b.point, a.bulge);
            segment.bounds().max.x
        });
        letter.width = reach.fold(letter.width, f64::max);
        letter.strokes.push(corners);
    }
    letter
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Segment;

    #[test]
    fn every_letter_is_drawn_within_its_lines() {
        let all: Vec<char> = LETTERS.iter().map(|(c, _)| *c).collect();
        let accented = ACCENTED.iter().flat_map(|(_, l)| l.chars());
        for c in all.into_iter().chain(accented) {
            let letter = letter(c).unwrap_or_else(|| panic!("no {c}"));
            assert!(!letter.strokes.is_empty(), "{c}");
            for stroke in &letter.strokes {
                assert!(stroke.len() > 1, "{c}: {stroke:?}");
                for pair in stroke.windows(2) {
                    let segment = Segment::arc(pair[0].point, pair[1].point, pair[0].bulge);
                    let b = segment.bounds();
                    assert!(segment.length() > 0.05, "{c}: {segment:?}");
                    assert!(
                        b.min.x >= -1.0 && b.max.x <= letter.width + 1.0,
                        "{c}: {b:?}"
                    );
                    assert!(b.min.y >= -DESCENT - 1e-9 && b.max.y <= 8.3, "{c}: {b:?}");
                }
            }
        }
        for c in ' '..='~' {
            assert!(letter(c).is_some(), "{c:?}");
        }
        assert_eq!(letter('\u{4e00}'), None);
    }

    #[test]
    fn round_letters_run_without_corners() {
        // Where an arc meets a line or an arc within a stroke the direction stays, in these letters everywhere.
        for c in "COSUces0689".chars() {
            for stroke in &letter(c).expect("a letter").strokes {
                let segments: Vec<Segment> = stroke
                    .windows(2)
                    .map(|w| Segment::arc(w[0].point, w[1].point, w[0].bulge))
                    .collect();
                let corners = segments
                    .windows(2)
                    .filter(|w| w[0].tangent_at(1.0).dot(w[1].tangent_at(0.0)) < 0.999)
                    .count();
                // The bar of the small e.
                let expected = usize::from(c == 'e');
                assert_eq!(corners, expected, "{c}");
            }
        }
    }
}
