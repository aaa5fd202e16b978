//! Mutants of drawings: whatever is done to a file, the readers answer, soon and in little memory.
//!
//! The short runs are part of every test run. A million mutants of each kind:
//!
//! ```sh
//! FUZZ_COUNT=1000000 cargo test --release -p panelwright-geometry mutants -- --test-threads 1
//! ```
//!
//! `FUZZ_SEED` chooses others (1 when not given). Mutant `i` of seed `s` is the first one of seed `s + i`, so a
//! fault is seen again with `FUZZ_SEED` as printed and `FUZZ_COUNT=1`.

use super::{Drawing, DrawingError, DrawingRule, LayerUse, ReadOptions, read_dxf, read_svg};
use std::time::{Duration, Instant};

/// A reader that takes longer for a few kilobytes hangs.
const SLOWEST: Duration = Duration::from_secs(1);

/// What a run may add to the largest memory seen, in KiB.
const MOST_MEMORY: u64 = 200 * 1024;

/// Knuth's MMIX generator (from memory), its upper bits.
struct Random(u64);

impl Random {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit.max(1)
    }

    fn of<'a, T: ?Sized>(&mut self, all: &[&'a T]) -> &'a T {
        all[self.below(all.len())]
    }
}

const NUMBERS: [&str; 18] = [
    "0",
    "-0",
    "1",
    "-1",
    "nan",
    "inf",
    "1e400",
    "-1e300",
    "1e-300",
    "99999999999",
    "2147483647",
    "-32768",
    "1e9",
    "0.0000001",
    "3.141592653589793",
    "65536",
    "x",
    "",
];

/// Every way to read a drawing, texts as marks too.
fn options() -> ReadOptions {
    let mut options = ReadOptions {
        unit: Some(super::Unit::Millimetre),
        ..ReadOptions::default()
    };
    options.layers.rules.push(DrawingRule {
        layer: None,
        colour: None,
        line_type: None,
        class: None,
        text: Some(true),
        becomes: LayerUse::Mark,
    });
    options
}

/// Runs mutants through a reader. `mutant` makes one from its own random numbers.
fn run(
    mutant: impl Fn(&mut Random) -> Vec<u8>,
    read: fn(&[u8], &ReadOptions) -> Result<Drawing, DrawingError>,
) {
    let number = |name: &str, default: u64| {
        std::env::var(name).map_or(default, |v| v.parse().expect("a whole number"))
    };
    let (seed, count) = (number("FUZZ_SEED", 1), number("FUZZ_COUNT", 1500));
    let before = peak_memory();
    let options = options();
    let (mut read_well, mut slowest) = (0_u64, Duration::ZERO);
    for i in 0..count {
        let own = seed.wrapping_add(i);
        let bytes = mutant(&mut Random(own.wrapping_mul(0x9E37_79B9_7F4A_7C15)));
        let attempt = || {
            let start = (Instant::now(), worked());
            let read = std::panic::catch_unwind(|| read(&bytes, &options));
            let taken = match (start.1, worked()) {
                (Some(before), Some(after)) => after.saturating_sub(before),
                _ => start.0.elapsed(),
            };
            (read, taken)
        };
        let (result, mut taken) = attempt();
        // Where only the clock on the wall is known, a busy machine may hold up any of them once.
        for _ in 0..2 {
            if taken > SLOWEST {
                taken = taken.min(attempt().1);
            }
        }
        slowest = slowest.max(taken);
        assert!(taken <= SLOWEST, "FUZZ_SEED={own}: {taken:?}");
        match result {
            Ok(Ok(drawing)) => {
                read_well += 1;
                let sound = |p: &super::DrawnPart| crate::validate(&p.outline).is_ok();
                assert!(
                    drawing.parts.iter().all(sound),
                    "FUZZ_SEED={own}: unsound part"
                );
            }
            Ok(Err(error)) => assert!(!error.to_string().is_empty()),
            Err(_) => panic!("FUZZ_SEED={own}: the reader panics"),
        }
    }
    let added = peak_memory().saturating_sub(before);
    println!("{count} mutants, {read_well} of them read; slowest {slowest:?}, {added} KiB added");
    // Other tests share the process in an ordinary run.
    let is_long = std::env::var("FUZZ_COUNT").is_ok();
    assert!(!is_long || added <= MOST_MEMORY, "{added} KiB");
    // Mutants that are all refused at the door test nothing behind it.
    assert!(count < 1000 || read_well > count / 100);
}

/// Processor time of this thread so far, where the system tells.
fn worked() -> Option<Duration> {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    let nanoseconds = text.split_whitespace().next()?.parse().ok()?;
    Some(Duration::from_nanos(nanoseconds))
}

/// The largest memory of this process so far, in KiB; 0 where the system does not tell.
fn peak_memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find(|l| l.starts_with("VmHWM:"));
    line.and_then(|l| l.split_whitespace().nth(1)?.parse().ok())
        .unwrap_or(0)
}

// ---- DXF ------------------------------------------------------------------------------------------

type Pairs = Vec<(i32, String)>;

const DXF: &str = "0 SECTION|2 HEADER|9 $ACADVER|1 AC1015|9 $INSUNITS|70 4|0 ENDSEC|0 SECTION|2 TABLES|\
0 TABLE|2 LAYER|70 2|0 LAYER|2 Off|70 0|62 -7|0 LAYER|2 Red|70 0|62 1|6 DASHED|0 ENDTAB|0 ENDSEC|0 SECTION|2 BLOCKS|\
0 BLOCK|8 0|2 A|70 0|10 0|20 0|0 CIRCLE|8 0|10 3|20 3|40 1|0 ELLIPSE|8 0|10 3|20 3|11 0.5|21 0.2|40 0.5|0 ENDBLK|8 0|\
0 BLOCK|8 0|2 B|70 0|10 1|20 1|0 INSERT|8 0|2 A|10 0|20 0|41 -1|42 2|50 30|0 ENDBLK|8 0|0 ENDSEC|0 SECTION|2 ENTITIES|\
0 LWPOLYLINE|8 0|90 4|70 1|10 0|20 0|42 0.2|10 400|20 0|10 400|20 300|10 0|20 300|\
0 INSERT|8 0|2 A|10 10|20 10|70 2|71 2|44 10|45 10|0 INSERT|8 Red|2 B|10 50|20 10|230 -1|0 INSERT|8 0|2 B|10 80|20 20|\
0 SPLINE|8 0|70 8|71 3|72 8|73 4|40 0|40 0|40 0|40 0|40 1|40 1|40 1|40 1|10 120|20 20|30 0|10 150|20 60|30 0|10 90|20 60|30 0|10 120|20 20|30 0|\
0 SPLINE|8 0|70 9|71 3|74 4|11 200|21 20|11 240|21 30|11 230|21 60|11 190|21 50|\
0 SPLINE|8 0|71 2|40 0|40 0|40 0|40 1|40 1|40 1|41 1|41 0.7|41 1|10 300|20 20|10 320|20 60|10 340|20 20|0 LINE|8 0|10 340|20 20|11 300|21 20|\
0 ELLIPSE|8 0|10 60|20 150|11 40|21 10|40 0.5|41 0|42 3.14159|0 LINE|8 0|10 20|20 140|11 100|21 160|\
0 ARC|8 0|10 200|20 150|40 30|50 270|51 90|0 LINE|8 0|10 200|20 120|11 200|21 180|\
0 POLYLINE|8 0|66 1|70 1|0 VERTEX|8 0|10 260|20 120|0 VERTEX|8 0|10 300|20 120|42 1|0 VERTEX|8 0|10 280|20 170|0 SEQEND|8 0|\
0 LINE|8 score|10 30|20 250|11 200|21 260|0 TEXT|8 0|10 5|20 5|40 3|41 0.9|50 10|51 5|72 1|73 2|11 20|21 270|1 n%%c|\
0 MTEXT|8 0|10 20|20 280|40 4|41 60|71 1|44 1.2|3 {\\H1.5x;A\\|1 P b}c|0 LINE|8 0|10 350|20 205|11 350|21 195|0 LINE|8 0|10 350|20 215|11 350|21 200|\
0 LINE|8 0|10 350|20 195|11 345|21 195|0 LINE|8 0|10 345|20 195|11 345|21 215|0 LINE|8 0|10 345|20 215|11 350|21 215|0 INSERT|8 0|66 1|2 A|10 90|20 90|0 ATTRIB|8 0|10 5|20 290|40 2|1 7|70 0|74 1|0 SEQEND|8 0|0 HATCH|8 0|10 0|20 0|\
0 CIRCLE|8 0|5 2F|102 {X|330 1F|102 }|10 350|20 250|40 20|1001 APP|1002 {|1000 text|1002 }|\
0 ARC|8 0|10 350|20 250|40 20|50 80|51 200|0 LWPOLYLINE|8 0|90 3|10 250|20 200|42 0.3|10 290|20 200|10 270|20 240|\
0 LWPOLYLINE|8 0|90 3|10 280|20 220|10 270|20 240|10 250|20 200|0 ENDSEC|0 EOF";

fn pairs() -> Pairs {
    let pair = |text: &str| {
        let (code, value) = text.split_once(' ').expect("code and value");
        (code.parse().expect("a code"), value.to_owned())
    };
    DXF.split('|').map(pair).collect()
}

/// A few changes to pairs and whole entities.
fn changed(random: &mut Random) -> Pairs {
    let mut all = pairs();
    for _ in 0..=random.below(5) {
        let at = random.below(all.len());
        let entity = |from: usize, all: &Pairs| {
            let start = (0..=from).rev().find(|i| all[*i].0 == 0).unwrap_or(0);
            let length = all[start + 1..].iter().take_while(|p| p.0 != 0).count();
            start..start + 1 + length
        };
        match random.below(10) {
            0..=3 => {
                // A number of the kind's own codes, so that most mutants pass the door.
                let number = (0..all.len()).map(|k| (at + k) % all.len());
                if let Some(i) = { number }.find(|i| all[*i].1.parse::<f64>().is_ok()) {
                    all[i].1 = random.of(&NUMBERS).to_owned();
                }
            }
            4 => {
                all.remove(at);
            }
            5 => {
                let copy = all[at].clone();
                all.insert(at, copy);
            }
            6 => {
                let range = entity(at, &all);
                let copy: Pairs = all[range.clone()].to_vec();
                let to = entity(random.below(all.len()), &all).start;
                all.splice(to..to, copy);
            }
            7 => {
                let range = entity(at, &all);
                all.drain(range);
            }
            8 => {
                all[at].0 = [
                    0, 1, 2, 8, 10, 20, 40, 42, 70, 72, 90, 102, 210, 230, 1002, -5,
                ][random.below(16)]
            }
            _ => {
                let other = random.below(all.len());
                all[at].1 = all[other].1.clone();
            }
        }
        if all.is_empty() {
            break;
        }
    }
    all
}

/// Sometimes a change of the bytes themselves.
fn scratched(mut bytes: Vec<u8>, random: &mut Random) -> Vec<u8> {
    if !bytes.is_empty() && random.below(5) == 0 {
        let at = random.below(bytes.len());
        match random.below(3) {
            0 => bytes[at] = random.below(256) as u8,
            1 => bytes.truncate(at),
            _ => {
                let end = (at + random.below(40)).min(bytes.len());
                let copy = bytes[at..end].to_vec();
                bytes.splice(at..at, copy);
            }
        }
    }
    bytes
}

fn as_text(pairs: &Pairs) -> Vec<u8> {
    let line = |(code, value): &(i32, String)| format!("{code}\n{value}\n");
    pairs.iter().map(line).collect::<String>().into_bytes()
}

fn as_binary(pairs: &Pairs) -> Vec<u8> {
    let mut out = b"        Binary DXF\r\n\x1a\0".to_vec();
    for (code, value) in pairs {
        out.extend((*code as i16).to_le_bytes());
        let number: f64 = value.parse().unwrap_or(0.0);
        match code {
            10..=59 | 110..=149 | 210..=239 | 1010..=1059 => out.extend(number.to_le_bytes()),
            60..=79 | 170..=179 | 270..=289 => out.extend((number as i16).to_le_bytes()),
            90..=99 | 420..=429 => out.extend((number as i32).to_le_bytes()),
            _ => {
                out.extend(value.bytes());
                out.push(0);
            }
        }
    }
    out
}

#[test]
fn mutants_of_text_dxf() {
    let whole = read_dxf(&as_text(&pairs()), &options());
    let drawing = whole.unwrap_or_else(|error| panic!("{error}"));
    assert!(drawing.parts.iter().any(|p| p.outline.marks.len() > 5));
    let healed = |note: &super::Note| matches!(note, super::Note::Overlaps { count: 3, .. });
    assert!(drawing.notes.iter().any(healed));
    run(
        |random| scratched(as_text(&changed(random)), random),
        read_dxf,
    );
}

#[test]
fn mutants_of_binary_dxf() {
    let whole = read_dxf(&as_binary(&pairs()), &options());
    assert_eq!(
        whole.map(|d| d.parts),
        read_dxf(&as_text(&pairs()), &options()).map(|d| d.parts)
    );
    run(
        |random| scratched(as_binary(&changed(random)), random),
        read_dxf,
    );
}

// ---- SVG ------------------------------------------------------------------------------------------

const SVG: &str = r##"<?xml version="1.0"?>
<!DOCTYPE svg [<!ENTITY side "400">]>
<svg xmlns="http://www.w3.org/2000/svg" width="500mm" height="400mm" viewBox="0 0 500 400">
<style>@media print {rect {display:none}} @media screen {.off, g > line {display:none}} @import url(a.css); #jig {visibility:hidden!important} .clip{clip-path:url(#page)}</style>
<clipPath id="page"><rect x="0" y="0" width="500" height="400"/></clipPath>
<defs><symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="4"/></symbol>
<g id="pair"><use href="#s" x="10" y="10" width="20" height="20"/><use href="#s" x="40" y="10" width="20" height="20"/></g></defs>
<g class="clip"><g id="panel" transform="rotate(2) translate(20 5)"><title>Tray side</title>
<rect x="1" y="1" width="&side;" height="300" rx="12" ry="9"/>
<path d="M20 20 h80 a10 10 0 0 1 10 10 v20 c0 10 -10 10 -20 10 q-20 5 -40 0 t-20 0 s-9 -5 -10 -20 z m120 0 l40 10 -20 30z"/>
<ellipse cx="300" cy="60" rx="40" ry="25" transform="skewX(10)"/>
<use href="#pair" x="50" y="100" transform="matrix(1 0.2 -0.2 1 0 0)"/>
<polygon points="200,200 240,200 220,240"/><polyline points="250,200 290,200 270,240 250,200"/>
<circle class="off" r="500"/><circle id="jig" cx="50" cy="50" r="300"/></g></g>
<svg x="10" y="320" width="100" height="60" viewBox="0 0 50 30" preserveAspectRatio="xMinYMax slice"><rect width="40" height="20" style="fill:none;stroke:#f00;stroke-dasharray:2 2"/></svg>
<g id="mark"><path d="M40 150 L100 152" fill="none" stroke="blue"/></g><text x="150" y="270" font-size="9" text-anchor="middle">side <tspan dy="-2" font-size="60%">&#216;</tspan></text></svg>
"##;

const VALUES: [&str; 20] = [
    "url(#page)",
    "#s",
    "#pair",
    "none",
    "scale(0)",
    "rotate(1e9)",
    "matrix(1 0 0 1 0 0)",
    "skewX(90)",
    "translate(nan)",
    "0 0 0 0",
    "-1 -1 1e9 1e9",
    "M0 0 A 1 1 0 0 1 1e300 0z",
    "M1 1 C 9 9",
    "50%",
    "1e3mm",
    "display:none",
    "inherit",
    "0,0 1e30,1 5,5",
    "hidden",
    "&side;",
];

fn changed_svg(random: &mut Random) -> Vec<u8> {
    let mut text = SVG.to_owned();
    for _ in 0..=random.below(4) {
        // Numbers, attribute values and elements by their places in the text.
        let spots = |open: &str| text.match_indices(open).map(|m| m.0).collect::<Vec<_>>();
        match random.below(8) {
            0..=2 => {
                let digits: Vec<usize> = text
                    .char_indices()
                    .filter(|(_, c)| c.is_ascii_digit())
                    .map(|(i, _)| i)
                    .collect();
                let Some(&at) = digits.get(random.below(digits.len())) else {
                    continue;
                };
                let number = |c: char| c.is_ascii_digit() || c == '.';
                let end = text[at..]
                    .find(|c| !number(c))
                    .map_or(text.len(), |n| at + n);
                text.replace_range(at..end, random.of(&NUMBERS));
            }
            3 | 4 => {
                let starts = spots("=\"");
                let Some(&at) = starts.get(random.below(starts.len())) else {
                    continue;
                };
                if let Some(length) = text[at + 2..].find('"') {
                    text.replace_range(at + 2..at + 2 + length, random.of(&VALUES));
                }
            }
            5 | 6 => {
                let starts = spots("<");
                let Some(&at) = starts.get(random.below(starts.len())) else {
                    continue;
                };
                let Some(length) = text[at..].find('>') else {
                    continue;
                };
                let tag = text[at..=at + length].to_owned();
                match random.below(3) {
                    0 => text.replace_range(at..=at + length, ""),
                    1 => text.insert_str(at, &tag),
                    _ => {
                        let to = starts[random.below(starts.len())];
                        text.insert_str(to, &tag);
                    }
                }
            }
            _ => {
                let starts = spots(" ");
                let Some(&at) = starts.get(random.below(starts.len())) else {
                    continue;
                };
                text.insert_str(
                    at,
                    random.of(&[
                        " transform=\"scale(-1 2)\"",
                        " clip-path=\"url(#page)\"",
                        " class=\"off\"",
                        " style=\"r:5\"",
                        "<g>",
                        "<use href=\"#panel\"/>",
                    ]),
                );
            }
        }
    }
    text.into_bytes()
}

#[test]
fn mutants_of_svg() {
    let whole = read_svg(SVG.as_bytes(), &options());
    let drawing = whole.unwrap_or_else(|error| panic!("{error}"));
    assert!(drawing.parts.iter().any(|p| p.outline.marks.len() > 5));
    run(|random| scratched(changed_svg(random), random), read_svg);
}
