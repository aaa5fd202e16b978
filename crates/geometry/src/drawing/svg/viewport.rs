//! Lengths, viewports and the page.

use super::super::affine::Affine;
use super::super::error::DrawingError;
use super::super::{Unit, settle_unit};
use super::elements::culprit;
use roxmltree::{Document, Node};
use std::str::FromStr;
use svgtypes::{Align, AspectRatio, Length, LengthUnit, ViewBox};

/// The size that percentages refer to, in user units.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Viewport {
    pub width: f64,
    pub height: f64,
}

/// Which side of the viewport a percentage refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Along {
    X,
    Y,
    /// Neither: the root mean square of both (SVG 2, 8.9 Units).
    Diagonal,
}

impl Viewport {
    fn share(&self, percent: f64, along: Along) -> f64 {
        let whole = match along {
            Along::X => self.width,
            Along::Y => self.height,
            Along::Diagonal => (0.5 * (self.width * self.width + self.height * self.height)).sqrt(),
        };
        whole * percent / 100.0
    }
}

/// The unit of a length that says what it is in; `None` for plain numbers and for percentages.
fn unit_of(length: &Length) -> Option<Unit> {
    match length.unit {
        LengthUnit::Px => Some(Unit::Pixel),
        LengthUnit::In => Some(Unit::Inch),
        LengthUnit::Cm => Some(Unit::Centimetre),
        LengthUnit::Mm => Some(Unit::Millimetre),
        LengthUnit::Pt => Some(Unit::Point),
        LengthUnit::Pc => Some(Unit::Pica),
        LengthUnit::None | LengthUnit::Percent | LengthUnit::Em | LengthUnit::Ex => None,
    }
}

/// A length attribute as written; `None` when it is absent or `auto`.
fn parsed(
    document: &Document<'_>,
    node: Node<'_, '_>,
    name: &str,
) -> Result<Option<Length>, DrawingError> {
    let Some(text) = node.attribute(name) else {
        return Ok(None);
    };
    let text = text.trim();
    if text.is_empty() || text == "auto" {
        return Ok(None);
    }
    let bad = |remedy: &str| DrawingError::BadValue {
        culprit: culprit(document, node, ""),
        field: name.to_owned(),
        value: format!("`{text}`"),
        remedy: remedy.to_owned(),
    };
    // A quarter of a millimetre is the one CSS length the parser does not know.
    let quarter = text
        .strip_suffix(['q', 'Q'])
        .and_then(|number| number.trim().parse::<f64>().ok());
    let length = match quarter {
        Some(number) => Length::new(0.25 * number, LengthUnit::Mm),
        None => Length::from_str(text).map_err(|_| bad("expected a length such as 10 or 10mm"))?,
    };
    if !length.number.is_finite() {
        return Err(bad("expected a finite length"));
    }
    if matches!(length.unit, LengthUnit::Em | LengthUnit::Ex) {
        return Err(bad("lengths that hang on a font have no size here; use mm"));
    }
    Ok(Some(length))
}

/// A length attribute in user units.
pub(super) fn length(
    document: &Document<'_>,
    node: Node<'_, '_>,
    name: &str,
    along: Along,
    viewport: Viewport,
) -> Result<Option<f64>, DrawingError> {
    Ok(
        parsed(document, node, name)?.map(|length| match length.unit {
            LengthUnit::Percent => viewport.share(length.number, along),
            _ => match unit_of(&length) {
                Some(unit) => length.number * (unit.in_mm() / Unit::Pixel.in_mm()),
                None => length.number,
            },
        }),
    )
}

fn view_box(document: &Document<'_>, node: Node<'_, '_>) -> Result<Option<ViewBox>, DrawingError> {
    let Some(text) = node.attribute("viewBox") else {
        return Ok(None);
    };
    let parsed = ViewBox::from_str(text)
        .ok()
        .filter(|b| [b.x, b.y, b.w, b.h].iter().all(|v| v.is_finite()) && b.w > 0.0 && b.h > 0.0);
    match parsed {
        Some(view_box) => Ok(Some(view_box)),
        None => Err(DrawingError::BadValue {
            culprit: culprit(document, node, ""),
            field: "viewBox".to_owned(),
            value: format!("`{text}`"),
            remedy: "expected four numbers, the last two above 0".to_owned(),
        }),
    }
}

/// The map from the view box to a rectangle of this size at the origin.
///
/// Unequal ratios never stretch a part unless `preserveAspectRatio` is `none`.
fn fitting(node: Node<'_, '_>, view_box: &ViewBox, width: f64, height: f64) -> Affine {
    let aspect = node
        .attribute("preserveAspectRatio")
        .and_then(|text| AspectRatio::from_str(text).ok())
        .unwrap_or(AspectRatio {
            defer: false,
            align: Align::XMidYMid,
            slice: false,
        });
    let (mut x, mut y) = (width / view_box.w, height / view_box.h);
    if aspect.align != Align::None {
        let both = if aspect.slice { x.max(y) } else { x.min(y) };
        (x, y) = (both, both);
    }
    let (left, top) = match aspect.align {
        Align::None | Align::XMinYMin => (0.0, 0.0),
        Align::XMidYMin => (0.5, 0.0),
        Align::XMaxYMin => (1.0, 0.0),
        Align::XMinYMid => (0.0, 0.5),
        Align::XMidYMid => (0.5, 0.5),
        Align::XMaxYMid => (1.0, 0.5),
        Align::XMinYMax => (0.0, 1.0),
        Align::XMidYMax => (0.5, 1.0),
        Align::XMaxYMax => (1.0, 1.0),
    };
    Affine::shift(
        left * (width - view_box.w * x),
        top * (height - view_box.h * y),
    )
    .after(&Affine::scale(x, y))
    .after(&Affine::shift(-view_box.x, -view_box.y))
}

/// The page: its unit, whether its coordinates are pixels all the same, the map from them to
/// millimetres with y up, and what percentages refer to.
pub(super) fn page(
    document: &Document<'_>,
    root: Node<'_, '_>,
    claimed: Option<Unit>,
) -> Result<(Unit, bool, Affine, Viewport), DrawingError> {
    let width = parsed(document, root, "width")?;
    let height = parsed(document, root, "height")?;
    let view_box = view_box(document, root)?;
    for (name, length) in [("width", &width), ("height", &height)] {
        if let Some(length) = length
            && length.number <= 0.0
        {
            return Err(DrawingError::BadValue {
                culprit: culprit(document, root, ""),
                field: name.to_owned(),
                value: length.number.to_string(),
                remedy: "it must be above 0".to_owned(),
            });
        }
    }
    let sides = [width.as_ref(), height.as_ref()];
    let own = sides.into_iter().flatten().find_map(unit_of);
    let found = if sides.iter().all(Option::is_none) {
        "the drawing has neither width nor height"
    } else {
        "width and height carry no unit"
    };
    let unit = settle_unit(own, claimed, found)?;
    // One user unit without a view box: a pixel where lengths say what they are, else the unit
    // claimed.
    let plain = if own.is_some() {
        Unit::Pixel.in_mm()
    } else {
        unit.in_mm()
    };
    let in_mm = |length: Option<&Length>| {
        length
            .filter(|l| l.unit != LengthUnit::Percent)
            .map(|l| l.number * unit_of(l).map_or(plain, Unit::in_mm))
    };
    let up = Affine::scale(1.0, -1.0);
    Ok(match (view_box, in_mm(sides[0]), in_mm(sides[1])) {
        (Some(b), width, height) => {
            let map = match (width, height) {
                (Some(w), Some(h)) => fitting(root, &b, w, h),
                // A missing side follows from the other one (SVG 2, 8.2).
                (Some(w), None) => fitting(root, &b, w, b.h * w / b.w),
                (None, Some(h)) => fitting(root, &b, b.w * h / b.h, h),
                (None, None) => fitting(root, &b, b.w * plain, b.h * plain),
            };
            let viewport = Viewport {
                width: b.w,
                height: b.h,
            };
            (unit, false, up.after(&map), viewport)
        }
        (None, width, height) => {
            let viewport = Viewport {
                width: width.unwrap_or(0.0) / plain,
                height: height.unwrap_or(0.0) / plain,
            };
            (
                unit,
                own.is_some(),
                up.after(&Affine::scale(plain, plain)),
                viewport,
            )
        }
    })
}

/// The map of a nested `svg` or of a `symbol`, and what percentages in it refer to. `size`
/// overrules the element's own width and height.
pub(super) fn nested(
    document: &Document<'_>,
    node: Node<'_, '_>,
    outer: Viewport,
    size: (Option<f64>, Option<f64>),
) -> Result<(Affine, Viewport), DrawingError> {
    let own = |name, along| length(document, node, name, along, outer);
    let width = size.0.or(own("width", Along::X)?).unwrap_or(outer.width);
    let height = size.1.or(own("height", Along::Y)?).unwrap_or(outer.height);
    let is_svg = node.tag_name().name() == "svg";
    let place = if is_svg {
        Affine::shift(
            own("x", Along::X)?.unwrap_or(0.0),
            own("y", Along::Y)?.unwrap_or(0.0),
        )
    } else {
        Affine::IDENTITY
    };
    Ok(match view_box(document, node)? {
        // Without a size of the viewport there is nothing to fit the view box into.
        Some(b) if width > 0.0 && height > 0.0 => (
            place.after(&fitting(node, &b, width, height)),
            Viewport {
                width: b.w,
                height: b.h,
            },
        ),
        _ => (place, Viewport { width, height }),
    })
}
