use super::super::*;
use crate::Point;

fn read(body: &str) -> Result<Drawing, DrawingError> {
    let svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">{body}</svg>"#
    );
    read_svg(svg.as_bytes(), &ReadOptions::default())
}

fn one(body: &str) -> crate::Outline {
    let drawing = read(body).expect("a drawing");
    assert_eq!(drawing.parts.len(), 1, "{body}");
    drawing.parts[0].outline.clone()
}

fn near(a: f64, b: f64, tol: f64) {
    assert!((a - b).abs() <= tol, "{a} is not {b}");
}

#[test]
fn basic_shapes_have_their_areas() {
    near(
        one(r#"<rect x="5" y="6" width="40" height="20"/>"#).area(),
        800.0,
        1e-9,
    );
    // 100 x 60 with corners of radius 8: 6000 - (4 - pi) 64.
    let rounded = one(r#"<rect width="100" height="60" rx="8"/>"#);
    near(rounded.area(), 5_945.061_929_8, 1e-6);
    assert_eq!(rounded.outer.vertices.len(), 8);
    let circle = one(r#"<circle cx="50" cy="30" r="10"/>"#);
    near(circle.area(), std::f64::consts::PI * 100.0, 1e-9);
    assert_eq!(circle.outer.vertices.len(), 2);
    near(circle.bounds().center().y, -30.0, 1e-9);
    // Area of an ellipse: pi a b.
    let ellipse = one(r#"<ellipse cx="50" cy="30" rx="40" ry="10"/>"#);
    near(
        ellipse.area(),
        std::f64::consts::PI * 400.0,
        0.01 * ellipse.cut_length(),
    );
    near(one(r#"<polygon points="0,0 3,0 0,4"/>"#).area(), 6.0, 1e-9);
    near(
        one(r#"<polyline points="0,0 3,0 0,4 0,0"/>"#).area(),
        6.0,
        1e-9,
    );
    let lines = r#"<line x1="0" y1="0" x2="3" y2="0"/><line x1="0" y1="4" x2="3" y2="0"/><line x1="0" y1="0" x2="0" y2="4"/>"#;
    near(one(lines).area(), 6.0, 1e-9);
}

#[test]
fn an_arc_with_sweep_passes_above_on_the_page() {
    // SVG 2 implementation notes: sweep 1 is increasing angle, so this arc passes (5, -5) on the
    // page and (5, 5) with y up; its chord runs right, so the arc turns clockwise: bulge -1.
    let drop = one("<path d='M0 0 A5 5 0 0 1 10 0 L10 20 L0 20 Z'/>");
    let arc = drop.outer.segments().find(|s| s.is_arc()).expect("an arc");
    assert!(arc.point_at(0.5).distance(Point::new(5.0, 5.0)) < 1e-9);
    let bulge = if arc.start.x < arc.end.x {
        arc.bulge
    } else {
        -arc.bulge
    };
    near(bulge, -1.0, 1e-9);
    near(drop.area(), 200.0 + 12.5 * std::f64::consts::PI, 1e-9);
}

#[test]
fn all_four_arc_flags() {
    // Chord 6 of a circle of radius 5: the caps are at 5 - 4 = 1 and 5 + 4 = 9 from the chord.
    for (large, sweep, apex) in [(0, 0, -1.0), (0, 1, 1.0), (1, 0, -9.0), (1, 1, 9.0)] {
        let outline = one(&format!("<path d='M0 0 A5 5 0 {large} {sweep} 6 0 Z'/>"));
        let b = outline.bounds();
        let far = if apex > 0.0 { b.max.y } else { b.min.y };
        near(far, apex, 1e-9);
    }
    // Radii too small are scaled up: a half circle over the chord.
    near(
        one("<path d='M0 0 A1 1 0 0 1 10 0 Z'/>").area(),
        12.5 * std::f64::consts::PI,
        1e-9,
    );
}

#[test]
fn path_commands_absolute_and_relative_agree() {
    let absolute = one(
        "<path d='M10 10 H50 V40 L30 60 Q20 60 20 50 T10 40 C5 30 15 30 10 20 S5 15 10 10 Z'/>",
    );
    let relative = one(
        "<path d='m10 10 h40 v30 l-20 20 q-10 0 -10 -10 t-10 -10 c-5 -10 5 -10 0 -20 s-5 -5 0 -10 z'/>",
    );
    near(absolute.area(), relative.area(), 1e-9);
    assert_eq!(absolute.outer.vertices.len(), relative.outer.vertices.len());
    // Two strokes; the second begins where the closed first one began.
    let two = read("<path d='M0 0 h10 v10 h-10 z m20 0 h5 v5 h-5 z'/>").expect("reads");
    assert_eq!(two.parts.len(), 2);
    near(two.parts[1].outline.bounds().min.x, 20.0, 1e-12);
}

#[test]
fn units_and_view_boxes() {
    let size = |head: &str| {
        let svg = format!(r#"<svg {head}><rect width="96" height="48"/></svg>"#);
        read_svg(svg.as_bytes(), &ReadOptions::default())
            .map(|d| (d.parts[0].outline.bounds(), d.unit))
    };
    // CSS Values and Units 3: 96 px = 1 in = 25.4 mm exactly.
    let (b, unit) = size(r#"width="960px" height="480px""#).expect("pixels");
    near(b.width(), 25.4, 1e-12);
    assert_eq!(unit, Unit::Pixel);
    let (b, unit) = size(r#"width="9.6in" height="4.8in" viewBox="0 0 960 480""#).expect("inches");
    near(b.width(), 24.384, 1e-9);
    assert_eq!(unit, Unit::Inch);
    let (b, _) = size(r#"width="19.2cm" height="9.6cm" viewBox="0 0 96 48""#).expect("cm");
    near(b.width(), 192.0, 1e-9);
    // 72 pt = 6 pc = 1 in.
    near(
        size(r#"width="72pt" viewBox="0 0 96 48""#)
            .expect("points")
            .0
            .width(),
        25.4,
        1e-9,
    );
    near(
        size(r#"width="6pc" viewBox="0 0 96 48""#)
            .expect("picas")
            .0
            .width(),
        25.4,
        1e-9,
    );
    near(
        size(r#"width="40Q" viewBox="0 0 96 48""#)
            .expect("quarters")
            .0
            .width(),
        10.0,
        1e-9,
    );
    // Unequal ratios fit by the smaller one and are centred (SVG 2, 8.6).
    let (b, _) = size(r#"width="96mm" height="96mm" viewBox="0 0 96 48""#).expect("mm");
    near(b.width(), 96.0, 1e-9);
    near(b.height(), 48.0, 1e-9);
    near(b.max.y, -24.0, 1e-9);
    let (b, _) =
        size(r#"width="96mm" height="96mm" viewBox="0 0 96 48" preserveAspectRatio="none""#)
            .expect("none");
    near(b.height(), 96.0, 1e-9);
    let plain = br#"<svg width="100mm"><rect width="96" height="48"/></svg>"#;
    let notes = read_svg(plain, &ReadOptions::default()).expect("mm").notes;
    assert!(notes[0].to_string().contains("no viewBox"), "{notes:?}");
    // A size in mm without a view box: user units are pixels.
    near(size(r#"width="100mm""#).expect("mm").0.width(), 25.4, 1e-9);
}

#[test]
fn drawings_without_units_use_the_claimed_one_or_ask() {
    let svg = br#"<svg width="100" height="50"><rect width="100" height="50"/></svg>"#;
    let error = read_svg(svg, &ReadOptions::default()).expect_err("no unit");
    assert!(matches!(error, DrawingError::NoUnit { .. }));
    assert_eq!(
        error.to_string(),
        "names no unit (width and height carry no unit); say which unit it is drawn in"
    );
    let claim = |unit| ReadOptions {
        unit: Some(unit),
        ..ReadOptions::default()
    };
    let inches = read_svg(svg, &claim(Unit::Inch)).expect("inches");
    near(inches.parts[0].outline.bounds().width(), 2540.0, 1e-9);
    let bare = br#"<svg viewBox="0 0 10 10"><rect width="10" height="5"/></svg>"#;
    near(
        read_svg(bare, &claim(Unit::Millimetre)).expect("mm").parts[0]
            .outline
            .area(),
        50.0,
        1e-9,
    );
    let own = br#"<svg width="4in" viewBox="0 0 4 4"><rect width="4" height="4"/></svg>"#;
    assert_eq!(
        read_svg(own, &claim(Unit::Millimetre)),
        Err(DrawingError::UnitClash {
            found: Unit::Inch,
            claimed: Unit::Millimetre
        })
    );
}

#[test]
fn layers_are_cut_marked_or_left_out() {
    let drawing = read(
        r#"<g id="panel"><rect width="100" height="50"/><circle cx="20" cy="20" r="5"/></g>
           <g id="Engrave"><g id="g7"><path d="M10 40 L90 40"/></g></g>
           <g id="notes"><path d="M0 0 L5 5"/></g>
           <path class="fine score" d="M10 45 L90 45"/>
           <g style="display: none"><path d="M0 0 L7 7"/></g>
           <text>Hello</text>"#,
    )
    .expect("reads");
    let part = &drawing.parts[0].outline;
    assert_eq!((part.holes.len(), part.marks.len()), (1, 2));
    let said = |n: fn(&Note) -> bool| drawing.notes.iter().any(n);
    assert!(said(
        |n| matches!(n, Note::LayerLeftOut { layer, why: "by rule", count: 1, .. } if layer == "notes")
    ));
    assert!(said(|n| matches!(
        n,
        Note::LayerLeftOut {
            why: "not displayed",
            ..
        }
    )));
    assert!(said(
        |n| matches!(n, Note::TextLeft { kind, count: 1, is_cut: true, .. } if kind == "text")
    ));
}

#[test]
fn what_is_hidden_without_a_layer_is_named_itself() {
    let left_out = |body: &str| -> Vec<String> {
        let drawing = read(body).expect("reads");
        let notes = drawing.notes.iter();
        notes
            .filter(|n| matches!(n, Note::LayerLeftOut { .. }))
            .map(ToString::to_string)
            .collect()
    };
    let notes = left_out(
        r#"<rect width="100" height="50"/>
<circle id="old" r="5" visibility="hidden"/><circle r="6" visibility="hidden"/>
<g id="spare"><circle r="7" visibility="hidden"/></g>"#,
    );
    assert_eq!(
        notes,
        [
            "2 entities without a layer left out (hidden); the first is circle `old` (line 2:1)",
            "layer `spare` left out (hidden): 1 entity",
        ]
    );
    let nothing = read(r#"<circle r="5" visibility="hidden"/>"#).expect_err("nothing is cut");
    let nothing = nothing.to_string();
    assert!(
        nothing.contains("1 without a layer (hidden), the first circle (line "),
        "{nothing}"
    );
}

#[test]
fn copies_and_symbols() {
    let drawing = read(
        r##"<defs><g id="flap"><title>Vent flap</title><rect width="10" height="5"/></g>
            <symbol id="s" viewBox="0 0 10 10"><rect width="10" height="10"/></symbol></defs>
            <use href="#flap" x="20"/><use href="#flap" transform="translate(50 0) rotate(90) scale(2)"/>
            <use href="#s" x="100" width="30" height="20"/>"##,
    )
    .expect("reads");
    let areas: Vec<f64> = drawing.parts.iter().map(|p| p.outline.area()).collect();
    near(areas[0], 50.0, 1e-9);
    near(areas[1], 200.0, 1e-9);
    // 10 x 10 fitted into 30 x 20 by the smaller ratio: 20 x 20, centred.
    near(areas[2], 400.0, 1e-9);
    near(drawing.parts[2].outline.bounds().min.x, 105.0, 1e-9);
    assert_eq!(drawing.parts[0].name.as_deref(), Some("Vent flap"));
    let error = read(r##"<g id="a"><use href="#b"/></g><g id="b"><use href="#a"/></g>"##)
        .expect_err("cycle");
    assert!(matches!(error, DrawingError::TooMuch { .. }), "{error}");
    let error = read(r##"<use href="#nowhere"/>"##).expect_err("dangling");
    assert!(error.to_string().contains("use (line 1:"), "{error}");
}

#[test]
fn similar_transforms_keep_arcs_and_others_are_fitted() {
    let turned = one(
        r#"<circle cx="3" cy="4" r="10" transform="translate(60 50) rotate(33) scale(-2 2)"/>"#,
    );
    assert_eq!(turned.outer.vertices.len(), 2);
    near(turned.area(), std::f64::consts::PI * 400.0, 1e-9);
    let drawing = read(r#"<circle r="10" transform="translate(60 50) scale(3 1) skewX(20)"/>"#)
        .expect("reads");
    let outline = &drawing.parts[0].outline;
    near(
        outline.area(),
        std::f64::consts::PI * 300.0,
        0.01 * outline.cut_length(),
    );
    assert!(
        drawing.notes.iter().any(
            |n| matches!(n, Note::Approximated { error, .. } if *error > 0.0 && *error <= 0.01)
        )
    );
}

/// Transforms, view boxes, `use` and `symbol` against a general SVG library.
#[test]
fn a_general_library_sees_the_same_corners() {
    let bodies = [
        r#"<g transform="translate(30 20) rotate(17)"><g transform="scale(1.5 0.5) skewY(10)"><rect x="1" y="2" width="30" height="20"/></g></g>"#,
        r#"<g transform="matrix(0.8 0.3 -0.2 1.1 40 10)"><polygon points="0,0 30,5 20,40"/></g>"#,
        r#"<svg x="20" y="10" width="60" height="30" viewBox="5 5 20 20"><rect x="6" y="6" width="8" height="9"/></svg>"#,
        r##"<defs><symbol id="s" viewBox="0 0 10 20" preserveAspectRatio="xMaxYMin"><rect x="1" y="1" width="8" height="8"/></symbol></defs><use href="#s" x="30" y="5" width="50" height="40" transform="rotate(5)"/>"##,
        r#"<g transform="rotate(30 50 40)"><rect x="40" y="30" width="20" height="20"/></g>"#,
    ];
    for body in bodies {
        let svg = format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="80mm" viewBox="10 0 200 100">{body}</svg>"#
        );
        let ours = read_svg(svg.as_bytes(), &ReadOptions::default()).expect(body);
        let b = ours.parts[0].outline.bounds();
        // At 25.4 dots per inch its pixels are millimetres.
        let settings = usvg::Options {
            dpi: 25.4,
            ..usvg::Options::default()
        };
        let tree = usvg::Tree::from_str(&svg, &settings).expect("usvg reads");
        let theirs = tree.root().abs_bounding_box();
        for (ours, theirs) in [
            (b.min.x, theirs.left()),
            (b.max.x, theirs.right()),
            (-b.max.y, theirs.top()),
            (-b.min.y, theirs.bottom()),
        ] {
            // Its coordinates are 32-bit.
            near(ours, f64::from(theirs), 1e-3);
        }
    }
}

#[test]
fn faults_are_told_apart() {
    let error = read("<path d='M0 0 L10 0 L10 10 L0 10.3'/>").expect_err("open");
    let DrawingError::OpenOutline {
        from,
        to,
        gap,
        culprit,
        ..
    } = &error
    else {
        panic!("{error}");
    };
    let ends = [*from, *to];
    assert!(ends.contains(&Point::new(0.0, 0.0)) && ends.contains(&Point::new(0.0, -10.3)));
    near(*gap, 10.3, 1e-9);
    assert_eq!((culprit.kind.as_str(), culprit.line), ("path", Some(1)));
    assert!(matches!(
        read("<path d='M0 0 L10 10 L10 0 L0 12 Z'/>"),
        Err(DrawingError::Invalid {
            source: crate::InvalidOutline::CrossesItself { .. },
            ..
        })
    ));
    assert!(matches!(
        read("<rect width='50' height='50'/><circle cx='50' cy='25' r='5'/>"),
        Err(DrawingError::OutlinesCross { .. })
    ));
    assert!(matches!(read(""), Err(DrawingError::Empty { .. })));
    let error = read("<path d='M0 0 L10 x'/>").expect_err("bad data");
    assert!(error.to_string().starts_with("path (line 1:"), "{error}");
    assert!(matches!(
        read("<rect width='1e9' height='5'/>"),
        Err(DrawingError::BadValue { .. })
    ));
    assert!(matches!(
        read("<circle r='-5'/>"),
        Err(DrawingError::BadValue { .. })
    ));
    assert!(matches!(
        read("<rect width='5em' height='5'/>"),
        Err(DrawingError::BadValue { .. })
    ));
    assert!(matches!(
        read("<rect width='nan' height='5'/>"),
        Err(DrawingError::BadValue { .. })
    ));
    assert!(matches!(
        read("<polygon points='0,0 5,0 5'/>"),
        Err(DrawingError::BadValue { .. })
    ));
    assert!(matches!(
        read_svg(b"<html/>", &ReadOptions::default()),
        Err(DrawingError::Malformed { .. })
    ));
    // Text that looks like the end of an empty element hides no depth.
    let hidden = format!(
        "<svg>{}{}</svg>",
        "<g>/>".repeat(100_000),
        "</g>".repeat(100_000)
    );
    assert!(matches!(
        read_svg(hidden.as_bytes(), &ReadOptions::default()),
        Err(DrawingError::Malformed { .. })
    ));
    // Copies of deep groups that copy in turn.
    let mut chain = String::new();
    for i in 0..16 {
        chain.push_str(&format!(
            r##"<g id="c{i}">{}<use href="#c{}"/>{}</g>"##,
            "<g>".repeat(150),
            i + 1,
            "</g>".repeat(150)
        ));
    }
    chain.push_str(r#"<g id="c16"><rect width="5" height="5"/></g>"#);
    assert!(matches!(read(&chain), Err(DrawingError::TooMuch { .. })));
    let deep = format!(
        "<svg>{}{}</svg>",
        "<g>".repeat(100_000),
        "</g>".repeat(100_000)
    );
    assert!(matches!(
        read_svg(deep.as_bytes(), &ReadOptions::default()),
        Err(DrawingError::Malformed { .. })
    ));
}

#[test]
fn style_sheets_hide_and_show() {
    // CSS Cascade 3: an id outweighs a class, importance outweighs both, `style` comes last.
    let shown = |sheet: &str, attributes: &str| {
        let body = format!(
            "<style>{sheet}</style><rect width='100' height='50'/><circle cx='50' cy='25' r='5' {attributes}/>"
        );
        one(&body).holes.len()
    };
    assert_eq!(shown("circle{display:none}", ""), 0);
    assert_eq!(shown("circle{display:none}", "display='inline'"), 0);
    assert_eq!(shown("circle{display:none}", "style='display:inline'"), 1);
    assert_eq!(
        shown("circle{display:none!important}", "style='display:inline'"),
        0
    );
    assert_eq!(
        shown("#a{display:inline}.b{display:none}", "id='a' class='b'"),
        1
    );
    assert_eq!(shown("svg > circle{visibility:hidden}", ""), 0);
    assert_eq!(shown("circle{fill:none;stroke:none}", ""), 0);
    let error = read("<style>circle{r:20px}</style><circle r='5'/>").expect_err("shape by style");
    assert!(error.to_string().contains("`r` set by a style"), "{error}");
}

#[test]
fn clip_paths_that_hide_something_are_refused() {
    let clipped = |clip: &str, shape: &str| {
        read(&format!(
            "<clipPath id='c'>{clip}</clipPath><rect width='150' height='90'/><g clip-path='url(#c)'>{shape}</g>"
        ))
    };
    let (page, hole) = (
        "<rect width='200' height='100'/>",
        "<circle cx='50' cy='50' r='20'/>",
    );
    let whole = clipped(page, hole).expect("all of it is shown");
    assert_eq!(whole.parts[0].outline.holes.len(), 1);
    let away = clipped("<rect x='100' width='9' height='9'/>", hole).expect("none of it is shown");
    assert_eq!(away.parts[0].outline.holes.len(), 0);
    for clip in [
        "<rect width='50' height='50'/>",
        "<circle cx='50' cy='50' r='90'/>",
        "<rect width='200' height='100' clip-path='url(#c)'/>",
        "",
    ] {
        let error = clipped(clip, hole).expect_err(clip).to_string();
        assert!(error.contains("is clipped by url(#c)"), "{error}");
    }
}

#[test]
fn labels_of_groups_are_layers_and_far_curves_are_refused() {
    let labelled = read(
        "<g xmlns:d='urn:drawing' id='layer1' d:label='Score'><path d='M5 5 H50'/></g><rect width='90' height='50'/>",
    )
    .expect("reads");
    assert_eq!(labelled.parts[0].outline.marks.len(), 1);
    for far in [
        "<ellipse rx='1e30' ry='5'/>",
        "<path d='M0 0 C 1e20 0 5 5 0 9 Z'/>",
    ] {
        let error = read(&format!("<rect width='90' height='50'/>{far}")).expect_err(far);
        assert!(matches!(error, DrawingError::BadValue { .. }), "{error}");
    }
}

#[test]
fn a_path_that_returns_to_its_start_is_closed() {
    let ring = one("<path d='M0 0 L10 0 L10 10 L0 10 L0 0'/>");
    assert_eq!(ring.outer.vertices.len(), 4);
    near(ring.area(), 100.0, 1e-12);
}

const SAMPLE: &str = r##"<?xml version="1.0"?>
<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">
  <defs><symbol id="s" viewBox="0 0 10 10"><circle cx="5" cy="5" r="4"/></symbol></defs>
  <g id="panel" transform="rotate(10) translate(5 5)"><title>Tray side</title>
    <path d="M0 0 h80 a10 10 0 0 1 10 10 v20 c0 10 -10 10 -20 10 q-20 5 -40 0 L0 40 Z"/>
    <ellipse cx="30" cy="20" rx="9" ry="5"/><use href="#s" x="50" y="10" width="9" height="9"/>
  </g>
  <g id="mark"><polyline points="10,10 20,12 30,10"/></g>
</svg>
"##;

#[test]
fn no_broken_file_panics() {
    let sample = SAMPLE.as_bytes();
    assert!(read_svg(sample, &ReadOptions::default()).is_ok());
    for end in (0..sample.len()).step_by(47) {
        assert!(
            read_svg(&sample[..end], &ReadOptions::default()).is_err() || end > sample.len() - 3
        );
    }
    super::super::tests::mutate(sample, 1500, |bytes| {
        let _ = read_svg(bytes, &ReadOptions::default());
    });
}

/// Where the strokes of marked text lie on a plate of the page's size: their number and bounds.
fn lettered(body: &str) -> (usize, crate::Bounds) {
    let mut options = ReadOptions::default();
    options.layers.rules.push(DrawingRule {
        layer: None,
        colour: None,
        line_type: None,
        class: None,
        text: Some(true),
        becomes: LayerUse::Mark,
    });
    let svg = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="200mm" height="100mm" viewBox="0 0 200 100">
           <rect width="200" height="100"/>{body}</svg>"#
    );
    let drawing = read_svg(svg.as_bytes(), &options).unwrap_or_else(|error| panic!("{error}"));
    let marks = &drawing.parts[0].outline.marks;
    let all = marks.iter().flat_map(|m| m.segments()).map(|s| s.bounds());
    let bounds = all.reduce(crate::Bounds::union).expect("strokes");
    (marks.len(), bounds)
}

#[test]
fn text_that_a_rule_marks_stands_where_it_is_drawn() {
    // Capitals are 0.7 of the size: 30 units make 21, on which the H of the grid (4 by 6) is 14 wide. Up is down in SVG.
    let is = |body: &str, expected: [f64; 4]| {
        let b = lettered(body).1;
        let found = [b.min.x, b.min.y, b.max.x, b.max.y];
        for (a, b) in found.into_iter().zip(expected) {
            assert!(
                (a - b).abs() < 1e-6,
                "{body}: {found:?} is not {expected:?}"
            );
        }
    };
    let h = [50.0, -40.0, 64.0, -19.0];
    is(r#"<text x="50" y="40" font-size="30">H</text>"#, h);
    is(
        r#"<text x="50" y="40" style="font: bold 30px sans-serif">
         H
       </text>"#,
        h,
    );
    is(
        r#"<g font-size="15"><text font-size="2em"><tspan x="50" y="40">H</tspan></text></g>"#,
        h,
    );
    is(
        r#"<g transform="translate(50 40)"><text font-size="30px">H</text></g>"#,
        h,
    );
    is(
        r#"<text x="40 200" y="30" dx="10" dy="10" font-size="30">H</text>"#,
        h,
    );
    is(
        r#"<text x="57" y="40" font-size="30" text-anchor="middle">H</text>"#,
        h,
    );
    is(
        r#"<g text-anchor="end"><text x="64" y="40" font-size="30">H </text></g>"#,
        h,
    );
    is(
        r#"<text x="50" y="29.5" font-size="30" dominant-baseline="central">H</text>"#,
        h,
    );
    is(
        r#"<text x="50" y="19" font-size="30" dominant-baseline="hanging">H</text>"#,
        h,
    );
    is(
        r#"<text transform="rotate(90 50 40)" x="50" y="40" font-size="30">H</text>"#,
        [50.0, -54.0, 71.0, -40.0],
    );
    // Two letters and the gap of 1.5 on the grid; a blank between is 1.5 wide and has its own gap.
    is(
        r#"<text x="50" y="40" font-size="30">HH</text>"#,
        [50.0, -40.0, 83.25, -19.0],
    );
    is(
        r#"<text x="50" y="40" font-size="30">H <tspan>  H</tspan></text>"#,
        [50.0, -40.0, 93.75, -19.0],
    );
    // Each letter at its own place, as printed pages are written.
    is(
        r#"<text x="50 100" y="40 50" font-size="30">HH</text>"#,
        [50.0, -50.0, 114.0, -19.0],
    );
    // A smaller tspan stands on the same line.
    is(
        r#"<text x="50" y="40" font-size="30">H<tspan font-size="15">H</tspan></text>"#,
        [50.0, -40.0, 76.25, -19.0],
    );
    // What is not shown is not marked.
    let hidden = r#"<text x="50" y="40" font-size="30">H<tspan display="none">H</tspan><tspan visibility="hidden">H</tspan></text>
        <text x="5" y="5" fill="none">H</text><text x="5" y="5" visibility="hidden">H</text>"#;
    assert_eq!(lettered(hidden).0, 3);
}

#[test]
fn style_rules_hold_as_on_a_screen() {
    let drawing = read(
        r#"<style>@import url("x.css"); @media print { #a { display: none } } @media screen { #b { display: none } }
           @media (min-width: 5cm) { #c { display: none } }</style><style media="print">#a { visibility: hidden }</style>
           <rect id="a" width="10" height="10"/><rect id="b" x="20" width="10" height="10"/>
           <rect id="c" x="40" width="10" height="10" mask="url(#m)"/>"#,
    )
    .expect("reads");
    let names: Vec<_> = drawing
        .parts
        .iter()
        .map(|p| p.name.clone().unwrap_or_default())
        .collect();
    assert_eq!(names, ["a", "c"]);
    let notes: Vec<String> = drawing.notes.iter().map(ToString::to_string).collect();
    let all = notes.join("\n");
    for text in [
        "`@import url(\"x.css\")`, `@media print`, `@media (min-width: 5cm)`, `style media=\"print\"` are not read",
        "1 mask not read; the first is mask",
        "masks are not applied",
    ] {
        assert!(all.contains(text), "{text} not in\n{all}");
    }
}
