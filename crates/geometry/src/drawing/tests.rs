use super::*;
use crate::{Placement, Point, Ring};
use proptest::prelude::*;
use std::fmt::Write as _;

/// Calls `check` with variants of `sample` in which bytes are changed, doubled, cut out or replaced
/// by numbers that hurt. Seeded: a failure comes again. The generator is a plain 64-bit linear
/// congruential one with Knuth's MMIX constants (from memory).
pub(super) fn mutate(sample: &[u8], count: u32, check: impl Fn(&[u8])) {
    let mut state = 20_u64;
    let mut random = move |below: usize| {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % below.max(1)
    };
    let nasty: [&[u8]; 8] = [
        b"1e400",
        b"nan",
        b"-0",
        b"1e300",
        b"99999999999",
        b"{",
        b"-1",
        b"1e-300",
    ];
    for _ in 0..count {
        let mut bytes = sample.to_vec();
        for _ in 0..=random(4) {
            let at = random(bytes.len());
            let end = (at + random(12)).min(bytes.len());
            match random(4) {
                0 => bytes[at] = random(256) as u8,
                1 => {
                    let copy = bytes[at..end].to_vec();
                    bytes.splice(at..at, copy);
                }
                2 => {
                    bytes.drain(at..end);
                }
                _ => {
                    // Replace a number where there is one.
                    let digits = bytes[at..].iter().position(u8::is_ascii_digit);
                    let from = at + digits.unwrap_or(0);
                    let length = bytes[from..]
                        .iter()
                        .take_while(|b| b.is_ascii_digit() || **b == b'.')
                        .count();
                    bytes.splice(from..from + length, nasty[random(8)].iter().copied());
                }
            }
            if bytes.is_empty() {
                break;
            }
        }
        check(&bytes);
    }
}

#[test]
fn files_are_read_by_their_ending() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("Panel.SVG");
    std::fs::write(
        &path,
        r#"<svg width="10mm" viewBox="0 0 10 10"><rect width="10" height="10"/></svg>"#,
    )
    .expect("writes");
    let drawing = read_file(&path, &ReadOptions::default()).expect("reads");
    assert!((drawing.parts[0].outline.area() - 100.0).abs() < 1e-9);
    assert_eq!(
        read_file(&folder.path().join("panel.pdf"), &ReadOptions::default()),
        Err(DrawingError::UnknownFormat)
    );
    assert!(matches!(
        read_file(&folder.path().join("absent.dxf"), &ReadOptions::default()),
        Err(DrawingError::NotFound)
    ));
}

/// A ring as an LWPOLYLINE.
fn as_dxf(ring: &Ring) -> String {
    let mut text = format!("0\nLWPOLYLINE\n8\n0\n90\n{}\n70\n1\n", ring.vertices.len());
    for v in &ring.vertices {
        let _ = write!(
            text,
            "10\n{}\n20\n{}\n42\n{}\n",
            v.point.x, v.point.y, v.bulge
        );
    }
    text
}

/// A ring as path data, y down.
fn as_svg(ring: &Ring) -> String {
    let first = ring.vertices[0].point;
    let mut text = format!("M{} {}", first.x, -first.y);
    for s in ring.segments() {
        let (x, y) = (s.end.x, -s.end.y);
        let _ = match s.arc_geometry() {
            None => write!(text, "L{x} {y}"),
            // Counter-clockwise on the page is against SVG's positive angles.
            Some(arc) => write!(
                text,
                "A{r} {r} 0 {} {} {x} {y}",
                u8::from(arc.sweep.abs() > std::f64::consts::PI),
                u8::from(arc.sweep < 0.0),
                r = arc.radius
            ),
        };
    }
    text + "Z"
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    /// A turned panel with a hole, written by hand in either format, is the same panel again, arc for arc.
    #[test]
    fn outlines_come_back_from_both_formats(
        w in 40.0..900.0, h in 40.0..700.0, r in 0.5..15.0, hole in 1.0..9.0,
        angle in 0.0..360.0, x in -500.0..500.0, y in -500.0..500.0,
    ) {
        let outside = Ring::rounded_rectangle(Point::default(), Point::new(w, h), r);
        let inside = Ring::circle(Point::new(0.5 * w, 0.5 * h), hole).reversed();
        let panel = Outline::from_rings(outside, vec![inside])
            .placed(&Placement::new(angle, Point::new(x, y)));
        let rings: Vec<&Ring> = panel.rings().collect();
        let dxf = format!(
            "0\nSECTION\n2\nHEADER\n9\n$INSUNITS\n70\n4\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n{}0\nENDSEC\n0\nEOF\n",
            rings.iter().map(|r| as_dxf(r)).collect::<String>()
        );
        let paths: String = rings.iter().map(|r| format!("<path d='{}'/>", as_svg(r))).collect();
        let svg = format!("<svg width='999mm' height='999mm' viewBox='0 0 999 999'>{paths}</svg>");
        for read in [
            read_dxf(dxf.as_bytes(), &ReadOptions::default()),
            read_svg(svg.as_bytes(), &ReadOptions::default()),
        ] {
            let read = read.map_err(|error| TestCaseError::fail(error.to_string()))?;
            prop_assert_eq!(read.parts.len(), 1);
            let outline = &read.parts[0].outline;
            // A half circle told by its radius may have its middle off by the root of what is rounded.
            prop_assert!((outline.area() - panel.area()).abs() <= 1e-7 * panel.area());
            let (a, b) = (outline.bounds(), panel.bounds());
            prop_assert!(a.min.distance(b.min) < 1e-7 && a.max.distance(b.max) < 1e-7);
            for (ring, own) in outline.rings().zip(panel.rings()) {
                prop_assert_eq!(ring.vertices.len(), own.vertices.len());
                let arcs = |r: &Ring| r.segments().filter(|s| s.is_arc()).count();
                prop_assert_eq!(arcs(ring), arcs(own));
            }
        }
    }
}
