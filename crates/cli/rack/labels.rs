//! Labels for remnants: identity, material, sizes, sketch and a QR code, as a page to print.

use super::picture::{Drawn, escaped, n, sketch};
use super::remnant_row::{self, State};
use super::shape;
use super::store::Rack;
use crate::remnant::Remnant;
use crate::{Failure, Result};
use qrcode::{Color, EcLevel, QrCode};
use std::fmt::Write as _;

/// Size of a label, millimetres: two columns and five rows on A4 with room for any printer's edge.
const LABEL: (f64, f64) = (95.0, 54.0);

/// Clear modules round a QR code (ISO/IEC 18004, quiet zone of 4 modules on all sides).
const QUIET: usize = 4;

/// Side of a module, millimetres, at the least: what a telephone reads from half a metre on a scuffed
/// label. Common practice, from memory.
const LEAST_MODULE: f64 = 0.5;

/// Largest side of a code with its quiet zone, millimetres.
const CODE: f64 = 30.0;

/// Labels of remnants as an HTML page of A4 sheets; of all on the rack when `ids` is empty.
///
/// The QR code holds the identity alone, so that a label stays true when a remnant is moved.
///
/// # Errors
/// The rack cannot be read, or does not know one of the ids.
pub fn labels(rack: &Rack, ids: &[String]) -> Result<String> {
    let db = rack.db();
    let remnants: Vec<Remnant> = if ids.is_empty() {
        let all = remnant_row::in_state(db, State::OnRack)?;
        all.into_iter().map(|logged| logged.remnant).collect()
    } else {
        ids.iter()
            .map(|id| match remnant_row::find(db, id)? {
                Some(logged) => Ok(logged.remnant),
                None => Err(remnant_row::unknown(db, id)?),
            })
            .collect::<Result<_>>()?
    };
    let mut page = String::from(HEAD);
    for remnant in &remnants {
        page += &label(remnant)?;
        page.push('\n');
    }
    page.push_str("</body>\n</html>\n");
    Ok(page)
}

const HEAD: &str = r#"<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>Labels of remnants</title>
<style>
@page { size: A4; margin: 8mm; }
body { margin: 0; font-family: sans-serif; }
svg { display: inline-block; break-inside: avoid; margin: 0; border: 0.2mm dashed #999; }
</style>
</head>
<body>
"#;

/// One label as SVG, a user unit a millimetre.
fn label(remnant: &Remnant) -> Result<String> {
    let (width, height) = LABEL;
    let bounds = remnant.outline.bounds();
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{width}mm\" height=\"{height}mm\" \
         viewBox=\"0 0 {width} {height}\" font-family=\"sans-serif\">\n\
         <rect width=\"{width}\" height=\"{height}\" fill=\"#fff\"/>\n"
    );
    let (code, side) = qr(&remnant.id)?;
    let _ = writeln!(
        svg,
        "<g transform=\"translate({} 1.5)\">{code}</g>",
        n(width - side - 1.5)
    );
    let room = width - side - 6.0;
    let mut y = 13.0;
    line(&mut svg, &remnant.id, 4.0, y, room, 11.0, true);
    y += 7.0;
    line(&mut svg, &remnant.material, 4.0, y, room, 4.6, true);
    let shape = match shape::describe(&remnant.outline, remnant.flaws.len()).as_str() {
        "" => String::new(),
        shape => format!(", {shape}"),
    };
    y += 6.0;
    let size = format!("{:.0} x {:.0} mm{shape}", bounds.width(), bounds.height());
    line(&mut svg, &size, 4.0, y, room, 4.6, false);
    let mut rest = Vec::new();
    if let Some(lot) = &remnant.lot {
        rest.push(format!("lot {lot}"));
    }
    if let Some(logged) = &remnant.logged {
        rest.push(logged.clone());
    }
    rest.push(match remnant.good_faces {
        1 => "good face up".to_owned(),
        faces => format!("{faces} good faces"),
    });
    y += 5.4;
    line(&mut svg, &rest.join(", "), 4.0, y, room, 3.6, false);
    if let Some(note) = &remnant.note {
        line(&mut svg, note, 4.0, height - 2.5, width - 8.0, 3.2, false);
    }
    // The sketch has what is left below; the grain is the line in its corner.
    let (top, bottom) = (side.max(y) + 3.0, height - 6.0);
    svg += &sketch(&Drawn::of(remnant), 4.0, bottom, width - 8.0, bottom - top);
    svg.push_str("\n</svg>");
    Ok(svg)
}

/// A line of text, its letters smaller where it would not fit.
fn line(svg: &mut String, text: &str, x: f64, y: f64, room: f64, size: f64, bold: bool) {
    // Letters of a plain face are about six tenths as wide as they are high.
    let fits = room / (0.6 * text.chars().count().max(1) as f64);
    let size = size.min(fits.max(2.0));
    let most = (room / (0.6 * size) + 0.01) as usize;
    let short: String = if text.chars().count() > most {
        text.chars()
            .take(most.saturating_sub(1))
            .chain(['…'])
            .collect()
    } else {
        text.to_owned()
    };
    let weight = if bold { " font-weight=\"bold\"" } else { "" };
    let _ = writeln!(
        svg,
        "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{weight}>{}</text>",
        n(x),
        n(y),
        n(size),
        escaped(&short)
    );
}

/// A QR code with its quiet zone as SVG shapes, and its side in millimetres.
fn qr(text: &str) -> Result<(String, f64)> {
    // Medium correction: a quarter of a small code would be lost to more, and labels are short-lived.
    let code = QrCode::with_error_correction_level(text, EcLevel::M).map_err(|e| {
        let what = format!("its identity cannot be a QR code: {e}");
        Failure::new(
            format!("remnant {text}"),
            what,
            "use a short one, such as R-0012",
        )
    })?;
    let modules = code.width();
    let across = (modules + 2 * QUIET) as f64;
    let module = (CODE / across).max(LEAST_MODULE);
    let mut d = String::new();
    let colors = code.to_colors();
    for (i, _) in colors
        .iter()
        .enumerate()
        .filter(|(_, c)| **c == Color::Dark)
    {
        let (x, y) = (i % modules + QUIET, i / modules + QUIET);
        let _ = write!(d, "M{x} {y}h1v1h-1z");
    }
    let svg = format!(
        "<g class=\"qr\" transform=\"scale({})\" shape-rendering=\"crispEdges\">\
         <rect width=\"{across}\" height=\"{across}\" fill=\"#fff\"/><path d=\"{d}\" fill=\"#000\"/></g>",
        n(module)
    );
    Ok((svg, module * across))
}

#[cfg(test)]
mod tests {
    use super::super::testing::TestRack;
    use super::*;

    #[test]
    fn a_label_says_what_the_piece_is() {
        let test = TestRack::new();
        let page = labels(&test.rack, &[]).expect("labels");
        assert_eq!(page.matches("<svg").count(), 2);
        for words in [
            "R-0012",
            "brushed 3",
            "900 x 600 mm, L, 1 void, 1 flaw",
            "lot P-28",
            "2 good faces",
        ] {
            assert!(page.contains(words), "{words}: {page}");
        }
        let one = labels(&test.rack, &["r-0007".to_owned()]).expect("a label");
        assert_eq!(one.matches("<svg").count(), 1);
        let failure = labels(&test.rack, &["R-0099".to_owned()]).expect_err("unknown");
        assert!(failure.to_string().contains("R-0099"), "{failure}");
    }

    #[test]
    fn the_quiet_zone_is_clear() {
        // A code of version 1 has 21 modules (ISO/IEC 18004); with the zone 29.
        let (svg, side) = qr("R-0012").expect("a code");
        assert!((side - CODE).abs() < 1e-9, "{side}");
        let path = svg.split("d=\"").nth(1).expect("a path");
        let path = path.split('"').next().expect("its end");
        for square in path.split('M').skip(1) {
            let place = square.split('h').next().expect("a place");
            let (x, y) = place.split_once(' ').expect("two numbers");
            for at in [x, y] {
                let at: usize = at.parse().expect("a number");
                assert!((QUIET..QUIET + 21).contains(&at), "{at}");
            }
        }
        // The finder's corner is dark.
        assert!(path.starts_with("M4 4h"), "{path}");
    }
}
