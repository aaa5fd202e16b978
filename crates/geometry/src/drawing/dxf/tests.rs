use super::super::*;
use crate::{Point, Segment};
use proptest::prelude::*;
use std::f64::consts::PI;
use std::fmt::Write as _;

/// Pairs written as `code value`, separated by commas, as the lines of a DXF file.
fn lines(pairs: &str) -> String {
    let mut out = String::new();
    for pair in pairs.split(',') {
        let (code, value) = pair.trim().split_once(' ').expect("code and value");
        let _ = write!(out, "{code}\n{value}\n");
    }
    out
}

fn section(name: &str, body: &str) -> String {
    format!("0\nSECTION\n2\n{name}\n{body}0\nENDSEC\n")
}

/// A drawing in millimetres with these entities.
fn file(entities: &str) -> String {
    whole("", "", entities)
}

fn whole(layers: &str, blocks: &str, entities: &str) -> String {
    let part = |name: &str, pairs: &str| {
        if pairs.is_empty() {
            String::new()
        } else {
            section(name, &lines(pairs))
        }
    };
    format!(
        "{}{}{}{}0\nEOF\n",
        section("HEADER", &lines("9 $ACADVER, 1 AC1015, 9 $INSUNITS, 70 4")),
        part("TABLES", layers),
        part("BLOCKS", blocks),
        section("ENTITIES", &lines(entities)),
    )
}

fn read(text: &str) -> Result<Drawing, DrawingError> {
    read_dxf(text.as_bytes(), &ReadOptions::default())
}

fn one(entities: &str) -> crate::Outline {
    let drawing = read(&file(entities)).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(drawing.parts.len(), 1);
    drawing.parts[0].outline.clone()
}

fn near(a: f64, b: f64, tol: f64) {
    assert!((a - b).abs() <= tol, "{a} is not {b}");
}

/// A closed square from (0, 0) to (`size`, `size`).
fn square(size: f64) -> String {
    format!(
        "0 LWPOLYLINE, 8 0, 90 4, 70 1, 10 0, 20 0, 10 {size}, 20 0, 10 {size}, 20 {size}, 10 0, 20 {size}"
    )
}

#[test]
fn entities_have_their_shapes() {
    near(one(&square(10.0)).area(), 100.0, 1e-12);
    let circle = one("0 CIRCLE, 8 0, 10 5, 20 6, 40 10");
    near(circle.area(), PI * 100.0, 1e-9);
    assert_eq!(circle.outer.vertices.len(), 2);
    // Slot 60 x 20 overall by bulges: 40 * 20 + pi * 100. Group 42 belongs to the segment that
    // starts there, and the closing segment's counts (DXF reference, LWPOLYLINE).
    let slot = one(
        "0 LWPOLYLINE, 8 0, 90 4, 70 1, 10 10, 20 0, 10 50, 20 0, 42 1, 10 50, 20 20, 10 10, 20 20, 42 1",
    );
    near(slot.area(), 1_114.159_265_4, 1e-6);
    let old = one(
        "0 POLYLINE, 8 0, 66 1, 70 1, 0 VERTEX, 8 0, 10 10, 20 0, 0 VERTEX, 8 0, 10 50, 20 0, 42 1, \
         0 VERTEX, 8 0, 10 50, 20 20, 0 VERTEX, 8 0, 10 10, 20 20, 42 1, 0 SEQEND, 8 0",
    );
    assert_eq!(old, slot);
    // Half disc of a LINE and an ARC that crosses 0 degrees: start 270, end 90.
    let half =
        one("0 LINE, 8 0, 10 0, 20 -5, 11 0, 21 5, 0 ARC, 8 0, 10 0, 20 0, 40 5, 50 270, 51 90");
    near(half.area(), 12.5 * PI, 1e-9);
    near(half.bounds().max.x, 5.0, 1e-12);
    // Area of an ellipse: pi a b.
    let ellipse = one("0 ELLIPSE, 8 0, 10 0, 20 0, 11 30, 21 40, 40 0.5, 41 0, 42 6.283185307");
    near(
        ellipse.area(),
        PI * 50.0 * 25.0,
        0.01 * ellipse.cut_length(),
    );
    // Half an ellipse from 0 to pi lies left of its major axis.
    let upper = one(
        "0 ELLIPSE, 8 0, 10 0, 20 0, 11 20, 21 0, 40 0.5, 41 0, 42 3.141592653589793, \
         0 LINE, 8 0, 10 -20, 20 0, 11 20, 21 0",
    );
    near(upper.bounds().max.y, 10.0, 1e-3);
    near(upper.bounds().min.y, 0.0, 1e-9);
}

#[test]
fn a_spline_that_is_a_circle_comes_out_as_one() {
    // Nine points, degree 2, middle weights cos 45 degrees (textbook NURBS circle).
    let w = 0.5_f64.sqrt();
    let mut text = "0 SPLINE, 8 0, 70 13, 71 2, 72 12, 73 9".to_owned();
    for knot in [0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 4] {
        let _ = write!(text, ", 40 {knot}");
    }
    for i in 0..9 {
        let _ = write!(text, ", 41 {}", if i % 2 == 0 { 1.0 } else { w });
    }
    for (x, y) in [
        (1, 0),
        (1, 1),
        (0, 1),
        (-1, 1),
        (-1, 0),
        (-1, -1),
        (0, -1),
        (1, -1),
        (1, 0),
    ] {
        let _ = write!(text, ", 10 {}, 20 {}", 50 + 40 * x, 60 + 40 * y);
    }
    let circle = one(&text);
    near(circle.area(), PI * 1600.0, 1e-4);
    assert!(circle.outer.vertices.len() <= 4, "{:?}", circle.outer);
    assert!(circle.outer.segments().all(|s| s.is_arc()));
}

#[test]
fn mirrored_entities_follow_the_arbitrary_axis() {
    // By hand from the arbitrary axis algorithm (DXF reference): for the extrusion (0, 0, -1)
    // world x is minus own x. ARC about (10, 0), r 5, 0 to 90 degrees, becomes centre (-10, 0),
    // 90 to 180 degrees, with ends (-10, 5) and (-15, 0).
    let arc = one(
        "0 ARC, 8 0, 10 10, 20 0, 40 5, 50 0, 51 90, 210 0, 220 0, 230 -1, \
         0 LINE, 8 0, 10 -10, 20 5, 11 -10, 21 0, 0 LINE, 8 0, 10 -10, 20 0, 11 -15, 21 0",
    );
    near(arc.area(), 0.25 * PI * 25.0, 1e-9);
    let curve: Segment = arc.outer.segments().find(|s| s.is_arc()).expect("the arc");
    let ends = [curve.start, curve.end];
    for end in [Point::new(-10.0, 5.0), Point::new(-15.0, 0.0)] {
        assert!(ends.iter().any(|p| p.distance(end) < 1e-9), "{ends:?}");
    }
    assert!(
        curve
            .arc_geometry()
            .expect("an arc")
            .center
            .distance(Point::new(-10.0, 0.0))
            < 1e-9
    );

    let circle = one("0 CIRCLE, 8 0, 10 10, 20 3, 40 5, 230 -1");
    assert!(circle.bounds().center().distance(Point::new(-10.0, 3.0)) < 1e-9);
    // The bulge changes its sign with the mirroring: an ear that stays outside.
    let ear = "10 0, 20 0, 10 20, 20 0, 42 1, 10 20, 20 10, 10 0, 20 10";
    let plain = one(&format!("0 LWPOLYLINE, 8 0, 90 4, 70 1, {ear}"));
    let mirrored = one(&format!("0 LWPOLYLINE, 8 0, 90 4, 70 1, {ear}, 230 -1"));
    near(mirrored.area(), plain.area(), 1e-9);
    near(mirrored.bounds().min.x, -plain.bounds().max.x, 1e-9);
    let old = one(
        "0 POLYLINE, 8 0, 66 1, 70 1, 230 -1, 0 VERTEX, 8 0, 10 0, 20 0, 0 VERTEX, 8 0, 10 20, 20 0, 42 1, \
         0 VERTEX, 8 0, 10 20, 20 10, 0 VERTEX, 8 0, 10 0, 20 10, 0 SEQEND, 8 0",
    );
    assert_eq!(old, mirrored);
    // LINE and ELLIPSE are in world coordinates; the ellipse turns the other way.
    let lower = one(
        "0 ELLIPSE, 8 0, 10 0, 20 0, 11 20, 21 0, 40 0.5, 41 0, 42 3.141592653589793, 230 -1, \
         0 LINE, 8 0, 10 -20, 20 0, 11 20, 21 0, 230 -1",
    );
    near(lower.bounds().min.y, -10.0, 1e-3);
    assert!(matches!(
        read(&file(
            "0 CIRCLE, 8 0, 10 0, 20 0, 40 5, 210 1, 220 0, 230 0"
        )),
        Err(DrawingError::Unsupported { .. })
    ));
}

#[test]
fn blocks_are_placed_scaled_turned_and_repeated() {
    let blocks = "0 BLOCK, 8 0, 2 Flap, 70 0, 10 1, 20 1, 0 LWPOLYLINE, 8 0, 90 3, 70 1, 10 1, 20 1, 10 11, 20 1, 10 1, 20 6, \
         0 CIRCLE, 8 0, 10 3, 20 3, 40 1, 0 ENDBLK, 8 0, \
         0 BLOCK, 8 0, 2 PAIR, 70 0, 10 0, 20 0, 0 INSERT, 8 0, 2 FLAP, 10 0, 20 0, 0 INSERT, 8 0, 2 flap, 10 20, 20 0, 230 -1, 0 ENDBLK, 8 0";
    let at =
        |insert: &str| read(&whole("", blocks, insert)).unwrap_or_else(|error| panic!("{error}"));
    let placed = at("0 INSERT, 8 0, 2 Flap, 10 100, 20 50, 50 90, 41 2, 42 2");
    let part = &placed.parts[0];
    assert_eq!(part.name.as_deref(), Some("Flap"));
    near(part.outline.area(), 4.0 * (25.0 - PI), 1e-9);
    // Scaled by 2, turned by 90 degrees about the base point (1, 1), then moved to (100, 50).
    let b = part.outline.bounds();
    for (a, b) in [
        (b.min.x, 90.0),
        (b.max.x, 100.0),
        (b.min.y, 50.0),
        (b.max.y, 70.0),
    ] {
        near(a, b, 1e-9);
    }
    assert_eq!(part.outline.holes[0].vertices.len(), 2);
    let mirrored = at("0 INSERT, 8 0, 2 Flap, 10 0, 20 0, 41 -1, 42 1");
    near(mirrored.parts[0].outline.bounds().min.x, -10.0, 1e-9);
    assert_eq!(mirrored.parts[0].outline.holes[0].vertices.len(), 2);
    // Unequal scales make ellipses of circles.
    let stretched = at("0 INSERT, 8 0, 2 Flap, 10 0, 20 0, 41 3, 42 1");
    near(stretched.parts[0].outline.holes[0].area(), 3.0 * PI, 0.2);
    assert!(
        stretched
            .notes
            .iter()
            .any(|n| matches!(n, Note::Approximated { .. }))
    );
    let grid = at("0 INSERT, 8 0, 2 Flap, 10 0, 20 0, 70 3, 71 2, 44 30, 45 20");
    assert_eq!(grid.parts.len(), 6);
    near(grid.parts[5].outline.bounds().min.x, 60.0, 1e-9);
    near(grid.parts[5].outline.bounds().min.y, 20.0, 1e-9);
    // A pair whose second half is mirrored by its extrusion.
    let pair = at("0 INSERT, 8 0, 2 Pair, 10 0, 20 0");
    assert_eq!(pair.parts.len(), 2);
    near(pair.parts[1].outline.bounds().min.x, -30.0, 1e-9);
    assert_eq!(pair.parts[1].outline.holes[0].vertices.len(), 2);
}

#[test]
fn blocks_without_end_are_refused() {
    let cycle = "0 BLOCK, 8 0, 2 A, 10 0, 20 0, 0 INSERT, 8 0, 2 B, 10 0, 20 0, 0 ENDBLK, 8 0, \
         0 BLOCK, 8 0, 2 B, 10 0, 20 0, 0 INSERT, 8 0, 2 A, 10 0, 20 0, 0 ENDBLK, 8 0";
    let insert = "0 INSERT, 8 0, 2 A, 10 0, 20 0";
    let error = read(&whole("", cycle, insert)).expect_err("a cycle");
    assert!(matches!(error, DrawingError::TooMuch { .. }));
    assert!(error.to_string().contains("within itself"), "{error}");
    assert!(matches!(
        read(&whole("", cycle, "0 INSERT, 8 0, 2 C, 10 0, 20 0")),
        Err(DrawingError::Unsupported { .. })
    ));
    let one = "0 BLOCK, 8 0, 2 A, 10 0, 20 0, 0 CIRCLE, 8 0, 10 0, 20 0, 40 1, 0 ENDBLK, 8 0";
    let many = "0 INSERT, 8 0, 2 A, 10 0, 20 0, 70 32767, 71 32767, 44 3, 45 3";
    assert!(matches!(
        read(&whole("", one, many)),
        Err(DrawingError::TooMuch { .. })
    ));
    // Ten levels of a hundred empty copies each.
    let mut blocks = String::new();
    for level in 0..10 {
        let _ = write!(
            blocks,
            "0 BLOCK, 8 0, 2 L{level}, 10 0, 20 0, 0 INSERT, 8 0, 2 L{}, 10 0, 20 0, 70 10, 71 10, 0 ENDBLK, 8 0, ",
            level + 1
        );
    }
    blocks.push_str("0 BLOCK, 8 0, 2 L10, 10 0, 20 0, 0 ENDBLK, 8 0");
    assert!(matches!(
        read(&whole("", &blocks, "0 INSERT, 8 0, 2 L0, 10 0, 20 0")),
        Err(DrawingError::TooMuch { .. })
    ));
}

#[test]
fn layers_off_frozen_marked_and_ignored() {
    let layers = "0 TABLE, 2 LAYER, 70 3, 0 LAYER, 2 Hidden, 70 0, 62 -7, 0 LAYER, 2 Cold, 70 1, 62 7, \
         0 LAYER, 2 PANEL, 70 0, 62 7, 0 ENDTAB";
    let entities = format!(
        "{}, 0 CIRCLE, 8 HIDDEN, 10 5, 20 5, 40 1, 0 CIRCLE, 8 cold, 10 5, 20 5, 40 2, \
         0 LINE, 8 Score, 10 1, 20 1, 11 9, 21 1, 0 LINE, 8 DIMENSIONS, 10 1, 20 1, 11 90, 21 1, \
         0 TEXT, 8 PANEL, 10 1, 20 1, 40 2, 1 Side, 0 CIRCLE, 8 PANEL, 67 1, 10 0, 20 0, 40 99, \
         0 HATCH, 8 PANEL, 10 0, 20 0, 0 LINE, 8 score, 10 50, 20 50, 11 60, 21 50",
        square(10.0)
    );
    let drawing = read(&whole(layers, "", &entities)).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(drawing.parts.len(), 1);
    let part = &drawing.parts[0].outline;
    assert_eq!((part.holes.len(), part.marks.len()), (0, 1));
    let notes: Vec<String> = drawing.notes.iter().map(ToString::to_string).collect();
    let all = notes.join("\n");
    for text in [
        "layer `HIDDEN` left out (off): 1 entity",
        "layer `cold` left out (frozen): 1 entity",
        "layer `DIMENSIONS` left out (by rule): 1 entity",
        "layer `PANEL` left out (paper space): 1 entity",
        "1 TEXT not read",
        "1 HATCH not read",
        "a mark at (50, 50) lies on no part",
    ] {
        assert!(all.contains(text), "{text} not in\n{all}");
    }
    // A rule of the caller's own.
    let mut options = ReadOptions::default();
    options.layers.mark.clear();
    options.layers.ignore.push("score".to_owned());
    let text = whole(layers, "", &entities);
    let drawing = read_dxf(text.as_bytes(), &options).expect("reads");
    assert!(drawing.parts[0].outline.marks.is_empty());
}

/// A rule that marks text.
fn marking() -> ReadOptions {
    let mut options = ReadOptions::default();
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

/// Where the strokes of a text lie, on a plate from (-500, -500) to (500, 500): their number and bounds.
fn lettered(text: &str) -> (usize, crate::Bounds) {
    lettered_in("", text)
}

fn lettered_in(blocks: &str, text: &str) -> (usize, crate::Bounds) {
    let plate = "0 LWPOLYLINE, 8 0, 90 4, 70 1, 10 -500, 20 -500, 10 500, 20 -500, 10 500, 20 500, 10 -500, 20 500";
    let file = whole("", blocks, &format!("{plate}, {text}"));
    let drawing = read_dxf(file.as_bytes(), &marking()).unwrap_or_else(|error| panic!("{error}"));
    let marks = &drawing.parts[0].outline.marks;
    let all = marks.iter().flat_map(|m| m.segments()).map(|s| s.bounds());
    let bounds = all.reduce(crate::Bounds::union).expect("strokes");
    (marks.len(), bounds)
}

fn is_about(found: crate::Bounds, expected: [f64; 4]) {
    let found = [found.min.x, found.min.y, found.max.x, found.max.y];
    for (a, b) in found.into_iter().zip(expected) {
        assert!((a - b).abs() < 1e-9, "{found:?} is not {expected:?}");
    }
}

#[test]
fn text_that_a_rule_marks_stands_where_it_is_drawn() {
    // H is 4 wide and 6 high on the grid of its letter, so 12 high it is 8 wide.
    let (strokes, b) = lettered("0 TEXT, 8 A, 10 100, 20 50, 40 12, 1 H");
    assert_eq!(strokes, 3);
    is_about(b, [100.0, 50.0, 108.0, 62.0]);
    // Turned by 90 degrees it runs up and its top is on the left.
    let turned = lettered("0 TEXT, 8 A, 10 100, 20 50, 40 12, 50 90, 1 H").1;
    is_about(turned, [88.0, 50.0, 100.0, 58.0]);
    // Alignment counts from the second place (DXF reference, TEXT, groups 72 and 73).
    for (codes, expected) in [
        ("72 1", [-4.0, 0.0, 4.0, 12.0]),
        ("72 2", [-8.0, 0.0, 0.0, 12.0]),
        // Centred with its descenders, which reach a third of its height below the baseline.
        ("72 4", [-4.0, -4.0, 4.0, 8.0]),
        ("72 0, 73 3", [0.0, -12.0, 8.0, 0.0]),
        ("72 1, 73 2", [-4.0, -6.0, 4.0, 6.0]),
        ("72 2, 73 1", [-8.0, 4.0, 0.0, 16.0]),
    ] {
        let text = format!("0 TEXT, 8 A, 10 70, 20 70, 11 0, 21 0, 40 12, {codes}, 1 H");
        is_about(lettered(&text).1, expected);
    }
    // Aligned between two places the letters fill the way, in proportion; fitted they keep their height.
    let aligned = "0 TEXT, 8 A, 10 0, 20 0, 11 16, 21 0, 40 12, 72 3, 1 H";
    is_about(lettered(aligned).1, [0.0, 0.0, 16.0, 24.0]);
    let fitted = "0 TEXT, 8 A, 10 0, 20 0, 11 0, 21 16, 40 12, 72 5, 1 H";
    is_about(lettered(fitted).1, [-12.0, 0.0, 0.0, 16.0]);
    // Half as wide; mirrored; upside down; slanted by 45 degrees; seen from below.
    is_about(
        lettered("0 TEXT, 8 A, 10 0, 20 0, 40 12, 41 0.5, 1 H").1,
        [0.0, 0.0, 4.0, 12.0],
    );
    is_about(
        lettered("0 TEXT, 8 A, 10 0, 20 0, 40 12, 71 2, 1 H").1,
        [-8.0, 0.0, 0.0, 12.0],
    );
    is_about(
        lettered("0 TEXT, 8 A, 10 0, 20 0, 40 12, 71 4, 1 H").1,
        [0.0, -12.0, 8.0, 0.0],
    );
    is_about(
        lettered("0 TEXT, 8 A, 10 0, 20 0, 40 12, 51 45, 1 H").1,
        [0.0, 0.0, 20.0, 12.0],
    );
    is_about(
        lettered("0 TEXT, 8 A, 10 5, 20 0, 40 12, 230 -1, 1 H").1,
        [-13.0, 0.0, -5.0, 12.0],
    );
    // In a block that is placed twice as large.
    let blocks = "0 BLOCK, 8 0, 2 B, 10 0, 20 0, 0 TEXT, 8 0, 10 1, 20 0, 40 6, 1 H, 0 ENDBLK, 8 0";
    let placed = lettered_in(blocks, "0 INSERT, 8 A, 2 B, 10 10, 20 0, 41 2, 42 2");
    is_about(placed.1, [12.0, 0.0, 20.0, 12.0]);
    // An attribute stands in the drawing's own coordinates; group 74 is its place across.
    let attribute = lettered_in(
        blocks,
        "0 INSERT, 8 A, 2 B, 10 0, 20 400, 66 1, 0 ATTRIB, 8 A, 10 7, 20 7, 11 0, 21 0, 40 12, 2 NO, 70 0, 74 3, 1 H, \
         0 ATTRIB, 8 A, 10 7, 20 7, 40 12, 2 NO, 70 1, 1 HIDDEN, 0 SEQEND, 8 A",
    );
    assert_eq!(attribute.0, 6);
    is_about(attribute.1, [0.0, -12.0, 8.0, 406.0]);
}

#[test]
fn paragraphs_stand_about_their_place() {
    // Two lines, 12 high, 20 apart: attached at the top left, in the middle, at the bottom right.
    let text = |codes: &str| {
        lettered(&format!(
            "0 MTEXT, 8 A, 10 0, 20 0, 40 12, 41 0, {codes}, 1 H\\PH"
        ))
        .1
    };
    is_about(text("71 1"), [0.0, -32.0, 8.0, 0.0]);
    // Descenders count, as ezdxf has it too.
    is_about(text("71 5"), [-4.0, -14.0, 4.0, 18.0]);
    is_about(text("71 9"), [-8.0, 4.0, 0.0, 36.0]);
    // Lines twice as far apart; turned by the angle and by the direction.
    is_about(text("71 1, 44 2"), [0.0, -52.0, 8.0, 0.0]);
    is_about(text("71 1, 50 90"), [0.0, 0.0, 32.0, 8.0]);
    is_about(text("71 1, 11 0, 21 1"), [0.0, 0.0, 32.0, 8.0]);
    is_about(text("71 1, 11 1, 21 0, 50 90"), [0.0, 0.0, 32.0, 8.0]);
    // Broken where the width ends.
    let broken = lettered("0 MTEXT, 8 A, 10 0, 20 0, 40 12, 41 10, 71 1, 1 H H").1;
    is_about(broken, [0.0, -32.0, 8.0, 0.0]);
}

#[test]
fn what_becomes_of_text_is_told() {
    let entities = format!(
        "{}, 0 TEXT, 8 A, 10 1, 20 1, 40 1, 1 ok, 0 TEXT, 8 A, 10 1, 20 4, 40 1, 1 \u{4e2d}, \
         0 TEXT, 8 A, 10 8, 20 8, 40 2, 1 HH, 0 TEXT, 8 notes, 10 1, 20 1, 40 1, 1 no",
        square(10.0)
    );
    let drawing = read_dxf(file(&entities).as_bytes(), &marking()).expect("reads");
    let notes: Vec<String> = drawing.notes.iter().map(ToString::to_string).collect();
    let all = notes.join("\n");
    for text in [
        // A rule for text comes before the names of layers, as every rule does.
        "3 texts marked in letters of single lines: `ok` 1.00 mm high at (1, 1), `HH` 2.00 mm high at (8, 8), `no` 1.00",
        "no letters for \u{4e2d} (U+4E2D): left free, first in `\u{4e2d}` at (1, 4)",
        // The first H reaches from 8 to 9.33, its top up to the edge; the second is beyond it.
        "5 strokes of letters not on a part and left out, the first of `HH` at (8, 8)",
    ] {
        assert!(all.contains(text), "{text} not in\n{all}");
    }
    let plain = read(&file(&entities)).expect("reads");
    let notes: Vec<String> = plain.notes.iter().map(ToString::to_string).collect();
    let all = notes.join("\n");
    assert!(
        all.contains("3 TEXT not read on layers that are cut; the first is TEXT"),
        "{all}"
    );
    assert!(all.contains("layer `notes` left out (by rule)"), "{all}");
    assert!(plain.parts[0].outline.marks.is_empty());
    let error = read_dxf(
        file(&format!(
            "{}, 0 TEXT, 8 A, 10 1, 20 1, 40 -1, 1 x",
            square(10.0)
        ))
        .as_bytes(),
        &marking(),
    );
    let error = error.expect_err("no height").to_string();
    assert!(
        error.contains("the height of the text (group 40)"),
        "{error}"
    );
}

#[test]
fn units_are_the_drawings_own() {
    let with = |units: &str| {
        file(&square(10.0)).replace("$INSUNITS\n70\n4", &format!("$INSUNITS\n70\n{units}"))
    };
    let claim = |unit: Option<Unit>| ReadOptions {
        unit,
        ..ReadOptions::default()
    };
    let width = |text: &str, unit| {
        read_dxf(text.as_bytes(), &claim(unit)).map(|d| d.parts[0].outline.bounds().width())
    };
    near(width(&with("4"), None).expect("mm"), 10.0, 1e-12);
    // International yard and pound agreement 1959: an inch is 25.4 mm exactly.
    near(width(&with("1"), None).expect("inches"), 254.0, 1e-12);
    near(
        width(&with("5"), Some(Unit::Centimetre)).expect("cm"),
        100.0,
        1e-12,
    );
    assert!(matches!(
        width(&with("0"), None),
        Err(DrawingError::NoUnit { .. })
    ));
    near(
        width(&with("0"), Some(Unit::Inch)).expect("claimed"),
        254.0,
        1e-12,
    );
    let none = file(&square(10.0)).replace("9\n$INSUNITS\n70\n4\n", "");
    assert!(matches!(
        width(&none, None),
        Err(DrawingError::NoUnit { .. })
    ));
    let clash = width(&with("1"), Some(Unit::Millimetre)).expect_err("clash");
    assert_eq!(
        clash,
        DrawingError::UnitClash {
            found: Unit::Inch,
            claimed: Unit::Millimetre
        }
    );
    assert_eq!(
        clash.to_string(),
        "is drawn in inches, but is said to be in millimetres; correct one of the two"
    );
    assert!(matches!(
        width(&with("18"), None),
        Err(DrawingError::UnknownUnit { .. })
    ));
}

#[test]
fn loose_lines_are_joined_and_duplicates_dropped() {
    // Corners 0.03 mm apart, one line backwards, one line twice (once each way).
    let drawing = read(&file(
        "0 LINE, 8 0, 10 0, 20 0, 11 50, 21 0, 0 LINE, 8 0, 10 50.02, 20 0.02, 11 50, 21 30, \
         0 LINE, 8 0, 10 0, 20 30, 11 50, 21 30, 0 LINE, 8 0, 10 0, 20 30, 11 0, 21 0, \
         0 LINE, 8 0, 10 0, 20 0, 11 0, 21 30",
    ))
    .unwrap_or_else(|error| panic!("{error}"));
    let outline = &drawing.parts[0].outline;
    assert_eq!(outline.outer.vertices.len(), 4);
    near(outline.area(), 1500.0, 1.0);
    assert!(
        drawing
            .notes
            .iter()
            .any(|n| matches!(n, Note::Duplicates { count: 1, .. }))
    );
    assert!(drawing.notes.iter().any(
        |n| matches!(n, Note::Joined { count: 1, widest, .. } if (*widest - 0.0283).abs() < 1e-4)
    ));
}

#[test]
fn ends_that_lie_far_apart_are_not_joined_whatever_is_asked_for() {
    let text = file(&square(10.0));
    let read = |join: f64| {
        let options = ReadOptions {
            join,
            ..ReadOptions::default()
        };
        read_dxf(text.as_bytes(), &options)
    };
    assert!(read(crate::tolerance::WIDEST_JOIN).is_ok() && read(f64::NAN).is_ok());
    for join in [2.1, f64::INFINITY] {
        let refused = read(join).expect_err("too wide");
        assert_eq!(refused, DrawingError::JoinTooWide { join });
        assert!(
            refused.to_string().contains("at most 2 mm are"),
            "{refused}"
        );
    }
}

#[test]
fn a_polyline_of_pieces_shorter_than_the_joining_distance_is_whole() {
    // A circle of 0.8 mm radius from 200 lines of 0.025 mm each.
    let mut text = square(10.0);
    let at = |i: i32| {
        let angle = f64::from(i) * PI / 100.0;
        (5.0 + 0.8 * angle.cos(), 5.0 + 0.8 * angle.sin())
    };
    for i in 0..200 {
        let ((a, b), (c, d)) = (at(i), at((i + 1) % 200));
        let _ = write!(
            text,
            ", 0 LINE, 8 0, 10 {a:.6}, 20 {b:.6}, 11 {c:.6}, 21 {d:.6}"
        );
    }
    let outline = one(&text);
    assert_eq!(outline.holes[0].vertices.len(), 200);
}

#[test]
fn slivers_are_dropped_and_told() {
    // A strip of 0.03 mm by 50 mm, and a polyline there and back.
    let drawing = read(&file(&format!(
        "{}, 0 LWPOLYLINE, 8 0, 90 4, 70 1, 10 200, 20 0, 10 250, 20 0, 10 250, 20 0.03, 10 200, 20 0.03, \
         0 LWPOLYLINE, 8 0, 90 2, 70 1, 10 300, 20 0, 10 350, 20 0",
        square(100.0)
    )))
    .unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(drawing.parts.len(), 1);
    let slivers = drawing
        .notes
        .iter()
        .find(|n| matches!(n, Note::Slivers { count: 2, .. }))
        .expect("a note");
    assert_eq!(slivers.places()[0], Point::new(200.0, 0.0));
}

#[test]
fn a_figure_of_eight_is_no_sliver() {
    // Both loops have the same area and cancel out.
    let eight =
        "0 LWPOLYLINE, 8 0, 90 4, 70 1, 10 0, 20 0, 10 100, 20 100, 10 100, 20 0, 10 0, 20 100";
    let error = read(&file(&format!(
        "{}, {eight}",
        square(300.0).replace("10 0, 20 0", "10 -9, 20 -9")
    )));
    let error = error.expect_err("it crosses itself").to_string();
    assert!(error.contains("crosses itself"), "{error}");
}

#[test]
fn lost_corners_are_noticed() {
    let lost = square(100.0).replace("90 4", "90 5");
    let error = read(&file(&lost)).expect_err("a corner is missing");
    assert!(
        error
            .to_string()
            .contains("the number of corners (group 90) is 5, and 4 follow"),
        "{error}"
    );
}

#[test]
fn nesting_makes_parts_holes_and_parts_in_holes() {
    let ring = |x: f64, r: f64| format!("0 CIRCLE, 8 0, 10 {x}, 20 0, 40 {r}");
    let text = [
        ring(0.0, 10.0),
        ring(0.0, 50.0),
        ring(0.0, 40.0),
        ring(200.0, 5.0),
        ring(0.0, 5.0),
    ]
    .join(", ");
    let drawing = read(&file(&text)).unwrap_or_else(|error| panic!("{error}"));
    let shapes: Vec<(usize, f64)> = drawing
        .parts
        .iter()
        .map(|p| (p.outline.holes.len(), p.outline.bounds().width()))
        .collect();
    assert_eq!(shapes.len(), 3);
    for (shape, expected) in shapes.iter().zip([(1, 20.0), (1, 100.0), (0, 10.0)]) {
        assert_eq!(shape.0, expected.0);
        near(shape.1, expected.1, 1e-9);
    }
}

#[test]
fn faults_name_entity_layer_line_and_value() {
    let open = read(&file("0 LINE, 8 SIDE, 5 2F, 10 0, 20 0, 11 50, 21 0, 0 LINE, 8 SIDE, 10 50, 20 0.5, 11 50, 21 30"))
        .expect_err("open");
    let DrawingError::OpenOutline { gap, culprit, .. } = &open else {
        panic!("{open}");
    };
    near(*gap, 0.5, 1e-9);
    assert_eq!((culprit.layer.as_str(), culprit.line), ("SIDE", Some(19)));
    assert_eq!(
        open.to_string(),
        "LINE 2F on layer `SIDE` (line 19): the outline is open between (50, 0) and (0, 0), \
         the nearest end is 0.500 mm away at (50, 0.5) (others from (50, 0.5) to (50, 30)); \
         close it, let ends so far apart be joined (\"join\" of the part), or put it on a layer that is \
         marked or ignored"
    );
    // A remark ahead of the drawing, as many programs write, shifts the lines.
    let remark = format!(
        "999\nfrom a drawing program\n{}",
        file("0 CIRCLE, 8 A, 10 0, 20 0, 40 0")
    );
    let error = read(&remark).expect_err("no radius").to_string();
    assert!(
        error.starts_with("CIRCLE on layer `A` (line 21)"),
        "{error}"
    );
    let crossing = read(&file(
        "0 LWPOLYLINE, 8 0, 90 4, 70 1, 10 0, 20 0, 10 10, 20 10, 10 10, 20 0, 10 0, 20 12",
    ));
    assert!(matches!(
        crossing,
        Err(DrawingError::Invalid {
            source: crate::InvalidOutline::CrossesItself { .. },
            ..
        })
    ));
    let sticking_out = read(&file(&format!(
        "{}, 0 CIRCLE, 8 0, 10 10, 20 5, 40 2",
        square(10.0)
    )));
    assert!(matches!(
        sticking_out,
        Err(DrawingError::OutlinesCross { .. })
    ));
    let branch = read(&file(&format!(
        "{}, 0 LINE, 8 0, 10 0, 20 20, 11 5, 21 25, 0 LINE, 8 0, 10 5, 20 25, 11 0, 21 30, 0 LINE, 8 0, 10 5, 20 25, 11 9, 21 25",
        square(10.0)
    )));
    assert!(matches!(
        branch,
        Err(DrawingError::Branches { count: 3, .. })
    ));
    for (entities, part) in [
        (
            "0 LINE, 8 A, 10 x, 20 0, 11 5, 21 0",
            "LINE on layer `A` (line 19): group 10, line 24 is `x`",
        ),
        ("0 LINE, 8 A, 10 nan, 20 0, 11 5, 21 0", "`nan`"),
        ("0 LINE, 8 A, 10 1e400, 20 0, 11 5, 21 0", "`1e400`"),
        (
            "0 LINE, 8 A, 10 1e9, 20 0, 11 5, 21 0",
            "check the drawing's unit",
        ),
        (
            "0 LINE, 8 A, 10 1, 20 0, 11 5",
            "y of the end (group 21) is missing",
        ),
        (
            "0 CIRCLE, 8 A, 10 1, 20 0, 40 -3",
            "the radius (group 40) is -3",
        ),
        (
            "0 SPLINE, 8 A, 70 8, 71 3, 74 2, 11 0, 21 0, 11 5, 21 5",
            "the outline is open between (0, 0) and (5, 5)",
        ),
        (
            "0 SPLINE, 8 A, 71 3, 40 0, 40 1, 10 0, 20 0, 10 5, 20 5",
            "the number of knots",
        ),
    ] {
        let error = read(&file(entities)).expect_err(entities).to_string();
        assert!(error.contains(part), "{part} not in {error}");
    }
    let hidden = read(&file("0 TEXT, 8 A, 10 1, 20 0, 1 Note")).expect_err("empty");
    assert_eq!(
        hidden.to_string(),
        "holds no outline to cut; left out: 1 TEXT"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// A rounded panel with a slot, cut up into single lines and arcs, in any order and direction,
    /// each end up to 0.01 mm off: the same panel comes out.
    #[test]
    fn loose_pieces_make_the_panel_they_were_cut_from(
        w in 50.0..900.0, h in 30.0..700.0, r in 1.0..14.0,
        order in Just((0..16_usize).collect::<Vec<_>>()).prop_shuffle(),
        backward in prop::collection::vec(any::<bool>(), 16),
        jitter in prop::collection::vec(-0.01..0.01, 32),
    ) {
        let outside = crate::Ring::rounded_rectangle(Point::default(), Point::new(w, h), r);
        let slot = crate::Ring::rounded_rectangle(Point::new(15.0, 15.0), Point::new(w - 15.0, h - 12.0), 1.0);
        let pieces: Vec<Segment> = outside.segments().chain(slot.segments()).collect();
        prop_assume!(pieces.len() == 16 && pieces.iter().all(|s| s.chord() > 0.2));
        let mut text = Vec::new();
        for i in order {
            let s = if backward[i] { pieces[i].reversed() } else { pieces[i] };
            let (dx, dy) = (jitter[2 * i], jitter[2 * i + 1]);
            text.push(match s.arc_geometry() {
                None => format!("0 LINE, 8 0, 10 {}, 20 {}, 11 {}, 21 {}", s.start.x + dx, s.start.y + dy, s.end.x + dx, s.end.y + dy),
                Some(arc) => {
                    let (from, to) = (arc.start_angle.to_degrees(), (arc.start_angle + arc.sweep).to_degrees());
                    let (from, to) = if arc.sweep > 0.0 { (from, to) } else { (to, from) };
                    format!("0 ARC, 8 0, 10 {}, 20 {}, 40 {}, 50 {from}, 51 {to}", arc.center.x + dx, arc.center.y + dy, arc.radius)
                }
            });
        }
        let drawing = read(&file(&text.join(", "))).map_err(|error| TestCaseError::fail(error.to_string()))?;
        prop_assert_eq!(drawing.parts.len(), 1);
        let outline = &drawing.parts[0].outline;
        prop_assert_eq!(outline.holes.len(), 1);
        prop_assert_eq!(outline.outer.vertices.len(), 8);
        let expected = outside.area() - slot.area();
        prop_assert!((outline.area() - expected).abs() <= 0.03 * outline.cut_length());
        // The arcs are true arcs of nearly their radius still.
        for arc in outline.outer.segments().filter_map(|s| s.arc_geometry()) {
            prop_assert!((arc.radius - r).abs() <= 0.05);
        }
    }
}

/// Drawings written by a general DXF library, as text and as binary.
#[test]
fn a_general_library_writes_what_we_read() {
    use ::dxf::entities::{Arc, Circle, Ellipse, Entity, EntityType, Line, LwPolyline, Spline};
    use ::dxf::{LwPolylineVertex, Point as P};
    let mut drawing = ::dxf::Drawing::new();
    drawing.header.version = ::dxf::enums::AcadVersion::R2000;
    drawing.header.default_drawing_units = ::dxf::enums::Units::Centimeters;
    let mut add = |specific: EntityType| {
        drawing.add_entity(Entity::new(specific));
    };
    let vertex = |x: f64, y: f64, bulge: f64| LwPolylineVertex {
        x,
        y,
        bulge,
        ..LwPolylineVertex::default()
    };
    let mut plate = LwPolyline {
        vertices: vec![
            vertex(0.0, 0.0, 0.0),
            vertex(30.0, 0.0, 0.5),
            vertex(30.0, 20.0, 0.0),
            vertex(0.0, 20.0, 0.0),
        ],
        ..LwPolyline::default()
    };
    plate.set_is_closed(true);
    add(EntityType::LwPolyline(plate));
    add(EntityType::Circle(Circle::new(P::new(5.0, 5.0, 0.0), 2.0)));
    add(EntityType::Line(Line::new(
        P::new(10.0, 5.0, 0.0),
        P::new(10.0, 9.0, 0.0),
    )));
    add(EntityType::Arc(Arc::new(
        P::new(10.0, 7.0, 0.0),
        2.0,
        270.0,
        90.0,
    )));
    add(EntityType::Ellipse(Ellipse {
        center: P::new(20.0, 5.0, 0.0),
        major_axis: ::dxf::Vector::new(3.0, 0.0, 0.0),
        minor_axis_ratio: 0.5,
        ..Ellipse::default()
    }));
    let mut spline = Spline {
        degree_of_curve: 3,
        knot_values: vec![0.0, 0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 1.0],
        ..Spline::default()
    };
    spline.control_points = [(5.0, 12.0), (15.0, 20.0), (-5.0, 20.0), (5.0, 12.0)]
        .map(|(x, y)| P::new(x, y, 0.0))
        .to_vec();
    add(EntityType::Spline(spline));
    let (mut text, mut binary) = (Vec::new(), Vec::new());
    drawing.save(&mut text).expect("saves");
    drawing.save_binary(&mut binary).expect("saves");
    for bytes in [text, binary] {
        let read =
            read_dxf(&bytes, &ReadOptions::default()).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(read.unit, Unit::Centimetre);
        assert_eq!(read.parts.len(), 1);
        let outline = &read.parts[0].outline;
        assert_eq!(outline.holes.len(), 4);
        let mut areas: Vec<f64> = outline.holes.iter().map(|h| h.area() / 100.0).collect();
        areas.sort_by(f64::total_cmp);
        near(areas[0], 2.0 * PI, 1e-9);
        near(areas[1], 4.0 * PI, 1e-9);
        // Ellipse 3 x 1.5: pi a b.
        near(areas[2], 4.5 * PI, 0.02);
        // The loop: area of a cubic by Green's theorem, half the integral of x dy - y dx, worked
        // out with exact polynomials for these control points, relative to (5, 12): with
        // x = 30 t (1 - t) (1 - 2 t) and y = 24 t (1 - t), it is 24.
        near(areas[3], 24.0, 0.01);
    }
}

/// A file with every kind of entity, for breaking.
fn sample() -> String {
    whole(
        "0 TABLE, 2 LAYER, 70 1, 0 LAYER, 2 Off, 70 0, 62 -7, 0 ENDTAB",
        "0 BLOCK, 8 0, 2 A, 70 0, 10 0, 20 0, 0 CIRCLE, 8 0, 10 3, 20 3, 40 1, 0 ENDBLK, 8 0",
        &format!(
            "{}, 102 {{X, 330 1F, 102 }}, 1001 APP, 1002 {{, 1000 text, 1002 }}, 0 INSERT, 8 0, 2 A, 10 0, 20 0, 70 2, 71 2, 44 10, 45 10, \
             0 SPLINE, 8 0, 70 8, 71 3, 40 0, 40 0, 40 0, 40 0, 40 1, 40 1, 40 1, 40 1, 10 20, 20 20, 30 0, 10 30, 20 30, 30 0, 10 10, 20 30, 30 0, 10 20, 20 20, 30 0, \
             0 ELLIPSE, 8 0, 10 30, 20 10, 11 4, 21 1, 40 0.5, 0 ARC, 8 0, 10 30, 20 25, 40 3, 50 270, 51 90, 0 LINE, 8 0, 10 30, 20 22, 11 30, 21 28, \
             0 POLYLINE, 8 mark, 66 1, 70 0, 0 VERTEX, 8 0, 10 20, 20 5, 0 VERTEX, 8 0, 10 25, 20 5, 42 1, 0 VERTEX, 8 0, 10 22, 20 9, 0 SEQEND, 8 0",
            square(40.0)
        ),
    )
}

#[test]
fn no_broken_file_panics() {
    let text = sample();
    let drawing = read(&text).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(drawing.parts[0].outline.holes.len(), 7);
    for end in (0..text.len() - 5).step_by(50) {
        let error = read(&text[..end]).expect_err("cut short");
        assert!(matches!(error, DrawingError::Malformed { .. }), "{error}");
    }
    let mut binary = Vec::new();
    ::dxf::Drawing::load(&mut text.as_bytes())
        .expect("loads")
        .save_binary(&mut binary)
        .expect("saves");
    read_dxf(&binary, &ReadOptions::default()).unwrap_or_else(|error| panic!("{error}"));
    super::super::tests::mutate(&binary, 500, |bytes| {
        let _ = read_dxf(bytes, &ReadOptions::default());
    });
    super::super::tests::mutate(text.as_bytes(), 3000, |bytes| {
        let _ = read_dxf(bytes, &ReadOptions::default());
    });
    let nested = format!("{}0\nEOF\n", "102\n{\n1002\n{\n".repeat(200_000));
    assert!(read(&nested).is_err());
}

#[test]
fn thousands_of_entities_take_well_under_a_second() {
    let mut text = String::from(
        "0 LWPOLYLINE, 8 0, 90 4, 70 1, 10 -10, 20 -10, 10 2000, 20 -10, 10 2000, 20 2000, 10 -10, 20 2000",
    );
    for i in 0..1250 {
        let (x, y) = (f64::from(i % 40) * 40.0, f64::from(i / 40) * 40.0);
        let _ = write!(
            text,
            ", 0 LINE, 8 0, 10 {x}, 20 {y}, 11 {}, 21 {y}, 0 LINE, 8 0, 10 {}, 20 {y}, 11 {x}, 21 {}, \
             0 LINE, 8 0, 10 {x}, 20 {}, 11 {x}, 21 {y}, 0 CIRCLE, 8 0, 10 {}, 20 {}, 40 3",
            x + 20.0,
            x + 20.0,
            y + 20.0,
            y + 20.0,
            x + 30.0,
            y + 30.0
        );
    }
    let text = file(&text);
    let start = std::time::Instant::now();
    let drawing = read(&text).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(drawing.parts[0].outline.holes.len(), 2500);
    let taken = start.elapsed();
    // Measured: 0.17 s at opt-level 1 on a busy machine; quadratic work would take far longer.
    assert!(taken.as_millis() < 2000, "{taken:?}");
}

/// The ends of a line.
type Ends = ((f64, f64), (f64, f64));

#[test]
fn lines_that_lie_partly_on_another_become_one() {
    let line = |a: (f64, f64), b: (f64, f64)| {
        format!(
            "0 LINE, 8 A, 10 {}, 20 {}, 11 {}, 21 {}",
            a.0, a.1, b.0, b.1
        )
    };
    let read_lines = |lines: &[Ends]| {
        let all: Vec<String> = lines.iter().map(|(a, b)| line(*a, *b)).collect();
        read(&file(&all.join(", ")))
    };
    let overlaps = |drawing: &Drawing| {
        drawing.notes.iter().find_map(|n| match n {
            Note::Overlaps { count, places } => Some((*count, places.clone())),
            _ => None,
        })
    };
    // The lower edge of a square in two pieces that overlap from 40 to 60, one of them drawn backwards.
    let rest = [
        ((100.0, 0.0), (100.0, 100.0)),
        ((100.0, 100.0), (0.0, 100.0)),
        ((0.0, 100.0), (0.0, 0.0)),
    ];
    let with = |more: &[Ends]| [more, &rest].concat();
    let drawing = read_lines(&with(&[
        ((0.0, 0.0), (60.0, 0.0)),
        ((100.0, 0.0), (40.0, 0.0)),
    ]))
    .expect("healed");
    near(drawing.parts[0].outline.area(), 10_000.0, 1e-9);
    assert_eq!(drawing.parts[0].outline.outer.vertices.len(), 4);
    let (count, places) = overlaps(&drawing).expect("told");
    assert!(count == 1 && places[0].distance(Point::new(50.0, 0.0)) < 1e-9);
    // In three pieces, each on the next, and a piece wholly on the edge from one of its ends.
    let drawing = read_lines(&with(&[
        ((0.0, 0.0), (40.0, 0.0)),
        ((60.0, 0.0), (100.0, 0.0)),
        ((0.0, 0.0), (30.0, 0.0)),
        ((30.0, 0.01), (70.0, 0.01)),
    ]))
    .expect("healed");
    near(drawing.parts[0].outline.area(), 10_000.0, 2.0);
    assert_eq!(overlaps(&drawing).expect("told").0, 3);
    // On an edge of a polyline.
    let text = format!("{}, {}", square(100.0), line((20.0, 0.0), (50.0, 0.0)));
    let drawing = read(&file(&text)).expect("healed");
    near(drawing.parts[0].outline.area(), 10_000.0, 1e-9);
    assert_eq!(overlaps(&drawing).expect("told").0, 1);
    // Half a millimetre beside it is another line, and stays one: an open outline.
    let text = format!("{}, {}", square(100.0), line((20.0, 0.5), (50.0, 0.5)));
    assert!(matches!(
        read(&file(&text)),
        Err(DrawingError::OpenOutline { .. })
    ));
    // Two squares that share a piece of an edge are not made one.
    let squares = [
        ((0.0, 0.0), (60.0, 0.0)),
        ((60.0, 0.0), (60.0, 50.0)),
        ((60.0, 50.0), (0.0, 50.0)),
        ((0.0, 50.0), (0.0, 0.0)),
        ((40.0, 50.0), (100.0, 50.0)),
        ((100.0, 50.0), (100.0, 90.0)),
        ((100.0, 90.0), (40.0, 90.0)),
        ((40.0, 90.0), (40.0, 50.0)),
    ];
    assert!(matches!(
        read_lines(&squares),
        Err(DrawingError::OutlinesCross { .. })
    ));
    // The same length end to end is no overlap.
    let drawing = read_lines(&with(&[
        ((0.0, 0.0), (50.0, 0.0)),
        ((50.0, 0.0), (100.0, 0.0)),
    ]))
    .expect("reads");
    assert_eq!(overlaps(&drawing), None);
}

#[test]
fn curves_that_run_over_others_become_one() {
    let read_all = |all: &[&str]| read(&file(&all.join(", ")));
    let told = |drawing: &Drawing| {
        drawing.notes.iter().find_map(|n| match n {
            Note::Overlaps { count, .. } => Some(*count),
            _ => None,
        })
    };
    let outer = square(300.0);
    let arc = |from: f64, to: f64| format!("0 ARC, 8 A, 10 150, 20 150, 40 50, 50 {from}, 51 {to}");
    let circle = "0 CIRCLE, 8 A, 10 150, 20 150, 40 50";
    let disc = PI * 2500.0;
    // Arcs on one circle: two that overlap at both ends, three, one wholly on a circle, one on another from its
    // end on.
    for (arcs, count) in [
        (vec![arc(0.0, 270.0), arc(100.0, 10.0)], 2),
        (
            vec![arc(20.0, 150.0), arc(140.0, 300.0), arc(290.0, 30.0)],
            3,
        ),
        (vec![arc(0.0, 180.0), arc(170.0, 190.0), arc(180.0, 0.0)], 1),
        (vec![circle.to_owned(), arc(80.0, 290.0)], 1),
        (vec![arc(0.0, 180.0), arc(180.0, 0.0), arc(0.0, 60.0)], 1),
    ] {
        let all: Vec<&str> = std::iter::once(&outer)
            .chain(&arcs)
            .map(String::as_str)
            .collect();
        let drawing = read_all(&all).unwrap_or_else(|error| panic!("{arcs:?}: {error}"));
        near(drawing.parts[0].outline.area(), 90_000.0 - disc, 1e-3);
        assert_eq!(told(&drawing), Some(count), "{arcs:?}");
    }
    // Half a millimetre beside the circle is an open outline.
    let beside = "0 ARC, 8 A, 10 150, 20 150, 40 50.5, 50 0, 51 60";
    let refused = read_all(&[&outer, circle, beside]);
    assert!(matches!(refused, Err(DrawingError::OpenOutline { .. })));

    let open = |corners: &[(f64, f64, f64)]| {
        let mut text = format!("0 LWPOLYLINE, 8 A, 90 {}, 70 0", corners.len());
        for (x, y, bulge) in corners {
            let _ = write!(text, ", 10 {x}, 20 {y}, 42 {bulge}");
        }
        text
    };
    let flat = |corners: &[(f64, f64)]| {
        open(
            &corners
                .iter()
                .map(|(x, y)| (*x, *y, 0.0))
                .collect::<Vec<_>>(),
        )
    };
    let lower = flat(&[(0.0, 60.0), (0.0, 0.0), (100.0, 0.0), (100.0, 60.0)]);
    let upper = flat(&[(0.0, 40.0), (0.0, 100.0), (100.0, 100.0), (100.0, 40.0)]);
    // Two halves of a square whose legs overlap.
    let drawing = read_all(&[&lower, &upper]).expect("healed");
    near(drawing.parts[0].outline.area(), 10_000.0, 1e-9);
    assert_eq!(told(&drawing), Some(2));
    // A polyline that runs on along its beginning, round a corner too.
    for more in [vec![(70.0, 0.0)], vec![(100.0, 0.0), (100.0, 20.0)]] {
        let mut ring = vec![
            (50.0, 0.0),
            (100.0, 0.0),
            (100.0, 100.0),
            (0.0, 100.0),
            (0.0, 0.0),
        ];
        ring.extend(more);
        let drawing = read_all(&[&flat(&ring)]).expect("healed");
        near(drawing.parts[0].outline.area(), 10_000.0, 1e-9);
        assert_eq!(told(&drawing), Some(1));
    }
    // A corner of a closed square drawn again, and a whole edge in pieces.
    let corner = flat(&[(30.0, 0.0), (0.0, 0.0), (0.0, 45.0)]);
    let edge = flat(&[(0.0, 100.0), (40.0, 100.0), (100.0, 100.0)]);
    let drawing = read_all(&[&square(100.0), &corner, &edge]).expect("healed");
    near(drawing.parts[0].outline.area(), 10_000.0, 1e-9);
    assert_eq!(told(&drawing), Some(2));
    // A slot whose halves, of a line and an arc each, overlap in the arcs.
    let quarter = (PI / 8.0).tan();
    let left = open(&[
        (160.0, 20.0, 0.0),
        (120.0, 20.0, -quarter),
        (100.0, 40.0, -quarter),
        (120.0, 60.0, 0.0),
        (160.0, 60.0, -quarter),
        (180.0, 40.0, 0.0),
    ]);
    let right = "0 ARC, 8 A, 10 160, 20 40, 40 20, 50 270, 51 40";
    let drawing = read_all(&[&outer, &left, right]).expect("healed");
    near(
        drawing.parts[0].outline.area(),
        90_000.0 - 1600.0 - PI * 400.0,
        1e-6,
    );
    assert_eq!(told(&drawing), Some(1));

    // What two outlines share stays refused: a part of lines on the edge of a square and of a polyline.
    let beside = flat(&[(100.0, 20.0), (100.0, 80.0), (150.0, 80.0)]);
    let rest = flat(&[(150.0, 80.0), (150.0, 20.0), (100.0, 20.0)]);
    let refused = read_all(&[&square(100.0), &beside, &rest]);
    assert!(
        matches!(refused, Err(DrawingError::OutlinesCross { .. })),
        "{refused:?}"
    );
    // So does one that has only its other edges.
    let edges = flat(&[(100.0, 0.0), (150.0, 0.0), (150.0, 100.0), (100.0, 100.0)]);
    let refused = read_all(&[&square(100.0), &edges]).expect_err("open");
    let told = refused.to_string();
    assert!(
        told.contains("both on the outline of LWPOLYLINE on layer `0`"),
        "{told}"
    );
    let halves = [
        flat(&[
            (0.0, 0.0),
            (50.0, 0.0),
            (50.0, 50.0),
            (0.0, 50.0),
            (0.0, 0.0),
        ]),
        flat(&[
            (50.0, 0.0),
            (100.0, 0.0),
            (100.0, 50.0),
            (50.0, 50.0),
            (50.0, 0.0),
        ]),
    ];
    let refused = read_all(&[&halves[0], &halves[1]]);
    assert!(refused.is_err(), "{refused:?}");
}

#[test]
fn copies_of_curves_are_those_of_the_first() {
    let blocks = "0 BLOCK, 8 0, 2 P, 70 0, 10 5, 20 5, \
        0 ELLIPSE, 8 0, 10 5, 20 5, 11 4, 21 1, 40 0.5, \
        0 SPLINE, 8 0, 70 9, 71 3, 74 4, 11 20, 21 2, 11 24, 21 3, 11 23, 21 6, 11 19, 21 5, 0 ENDBLK, 8 0";
    let grid = "0 INSERT, 8 0, 2 P, 10 0, 20 0, 50 20, 70 30, 71 30, 44 40, 45 30, 0 INSERT, 8 0, 2 P, 10 -100, 20 0, 42 -2";
    let drawing = read(&whole("", blocks, grid)).unwrap_or_else(|error| panic!("{error}"));
    assert_eq!(drawing.parts.len(), 2 * 901);
    let turn = crate::Placement::new(20.0, Point::default());
    for (i, part) in drawing.parts[..1800].iter().enumerate() {
        let copy = i / 2;
        let by = turn.turn(crate::Vec2::new(
            (copy % 30) as f64 * 40.0,
            (copy / 30) as f64 * 30.0,
        ));
        let first = &drawing.parts[i % 2].outline.outer.vertices;
        let own = &part.outline.outer.vertices;
        assert_eq!(own.len(), first.len());
        let is_moved = |(a, b): (&crate::Vertex, &crate::Vertex)| {
            a.point.distance(b.point + by) < 1e-9 && (a.bulge - b.bulge).abs() < 1e-6
        };
        assert!(own.iter().zip(first).all(is_moved), "{copy}");
    }
    // Stretched, it is another curve.
    near(
        drawing.parts[1800].outline.area(),
        2.0 * drawing.parts[0].outline.area(),
        0.1,
    );
    let counted = |kind: &str| {
        drawing.notes.iter().any(|n| {
            matches!(n, Note::Approximated { kind: k, count: 901, error, .. } if k == kind && *error <= 0.01)
        })
    };
    assert!(counted("ELLIPSE") && counted("SPLINE"));
}
