//! How the drawings of a kit are read: its rules and those of the part, and which of several parts of a
//! drawing is meant.

use crate::input::{Checker, DrawingRule, KitFile, KitPart, UseWord, suggestion};
use crate::{Failure, Result};
use panelwright_geometry::drawing::{
    self, Colour, Drawing, DrawnPart, LayerRules, LayerUse, ReadOptions,
};
use panelwright_geometry::tolerance::{JOIN, WIDEST_JOIN};
use serde_json::Value;
use std::path::Path;

/// The options for the drawing of `part`; those of the kit alone without one. `at` is the part's place in
/// the kit file.
///
/// # Errors
/// A colour that is none, with its place and value.
pub fn read_options(
    check: &Checker,
    kit: &KitFile,
    part: Option<(&KitPart, &str)>,
) -> Result<ReadOptions> {
    let mut layers = LayerRules::default();
    if let Some((part, at)) = part {
        let at = format!("{at}.drawing_rules");
        layers.rules.extend(rules(check, &part.drawing_rules, &at)?);
    }
    layers
        .rules
        .extend(rules(check, &kit.drawing_rules, "drawing_rules")?);
    let unit = part.and_then(|(part, _)| part.drawing_units);
    let join = match part {
        Some((part, at)) => join(check, kit, part, at)?,
        None => JOIN,
    };
    Ok(ReadOptions {
        unit: unit.map(drawing_unit),
        join,
        layers,
        ..ReadOptions::default()
    })
}

/// The unit of a file as drawings know it.
#[must_use]
pub fn drawing_unit(unit: crate::input::Unit) -> drawing::Unit {
    match unit {
        crate::input::Unit::Millimetre => drawing::Unit::Millimetre,
        crate::input::Unit::Inch => drawing::Unit::Inch,
    }
}

fn join(check: &Checker, kit: &KitFile, part: &KitPart, at: &str) -> Result<f64> {
    let Some(join) = part.join else {
        return Ok(JOIN);
    };
    let place = format!("{at}.join");
    let join = check.not_negative(&place, join, kit.units.in_mm())?;
    if join > WIDEST_JOIN {
        let what = format!("ends up to {join} mm apart would be joined");
        let advice = format!("give at most {WIDEST_JOIN} mm, and close wider gaps in the drawing");
        return Err(check.fail(place, what, advice));
    }
    Ok(join)
}

fn rules(check: &Checker, rules: &[DrawingRule], at: &str) -> Result<Vec<drawing::DrawingRule>> {
    let rule = |(i, rule): (usize, &DrawingRule)| {
        if rule.text == Some(true) && rule.becomes == UseWord::Cut {
            let what = "text cannot be cut: it is drawn in letters of single lines";
            let advice =
                "use \"mark\" or \"ignore\", or turn the text into outlines in the drawing";
            return Err(check.fail(format!("{at}[{i}].use"), what, advice));
        }
        Ok(drawing::DrawingRule {
            layer: rule.layer.clone(),
            colour: match &rule.colour {
                Some(value) => Some(colour(check, value, &format!("{at}[{i}].colour"))?),
                None => None,
            },
            line_type: rule.line_type.clone(),
            class: rule.class.clone(),
            text: rule.text,
            becomes: match rule.becomes {
                UseWord::Cut => LayerUse::Cut,
                UseWord::Mark => LayerUse::Mark,
                UseWord::Ignore => LayerUse::Ignore,
            },
        })
    };
    rules.iter().enumerate().map(rule).collect()
}

fn colour(check: &Checker, value: &Value, place: &str) -> Result<Colour> {
    let text = match value {
        Value::String(text) => Some(text.clone()),
        Value::Number(number) => Some(number.to_string()),
        _ => None,
    };
    text.and_then(|t| Colour::parse(&t)).ok_or_else(|| {
        let what = format!("{value} is no colour");
        let advice =
            "give a name (\"red\"), \"#rrggbb\", or a number from 1 to 255 of the DXF table";
        check.fail(place, what, advice)
    })
}

/// Whether a part of a kit stands for every part of its drawing.
#[must_use]
pub fn is_all(part: &KitPart) -> bool {
    part.from_drawing.as_ref().and_then(Value::as_str) == Some("all")
}

/// What a part of a drawing is called in messages and lists: its name, or its number.
#[must_use]
pub fn called(index: usize, part: &DrawnPart) -> String {
    part.name.clone().unwrap_or_else(|| (index + 1).to_string())
}

/// The part of a drawing that a kit means by `wanted`, its name or its number from 1. `place` is where
/// the kit says so.
///
/// # Errors
/// When there is no such part, or the choice is not clear.
pub fn pick<'a>(
    check: &Checker,
    place: &str,
    file: &Path,
    drawing: &'a Drawing,
    wanted: Option<&Value>,
) -> Result<&'a DrawnPart> {
    let parts = &drawing.parts;
    let names: Vec<String> = parts
        .iter()
        .enumerate()
        .map(|(i, p)| called(i, p))
        .collect();
    let Some(wanted) = wanted else {
        return match parts.as_slice() {
            [only] => Ok(only),
            all => Err(Failure::in_file(
                file,
                "",
                format!("there are {} separate outlines in it", all.len()),
                format!(
                    "keep one part in a drawing, or add \"from_drawing\" at {place}: \"all\", or one of {}",
                    shown(&names)
                ),
            )),
        };
    };
    let fail =
        |what: String, advice: String| check.fail(format!("{place}.from_drawing"), what, advice);
    if let Some(number) = wanted.as_u64() {
        let index = usize::try_from(number).ok().and_then(|n| n.checked_sub(1));
        return index.and_then(|i| parts.get(i)).ok_or_else(|| {
            let what = format!("{} has no part number {number}", file.display());
            fail(what, format!("there are {}, counted from 1", parts.len()))
        });
    }
    let Some(name) = wanted.as_str() else {
        let advice = "give \"all\", a name, or a number from 1".to_owned();
        return Err(fail(format!("{wanted} names no part of a drawing"), advice));
    };
    let mut found = parts.iter().filter(|p| p.name.as_deref() == Some(name));
    match (found.next(), found.next()) {
        (Some(part), None) => Ok(part),
        (Some(_), Some(_)) => Err(fail(
            format!("{} has several parts called '{name}'", file.display()),
            "give its number, as `panelwright check` lists them".to_owned(),
        )),
        (None, _) => {
            let named: Vec<&str> = parts.iter().filter_map(|p| p.name.as_deref()).collect();
            let what = format!("{} has no part called '{name}'", file.display());
            Err(fail(what, suggestion(name, &named)))
        }
    }
}

/// The first few of a list of names.
fn shown(names: &[String]) -> String {
    const MOST: usize = 8;
    let mut text = names
        .iter()
        .take(MOST)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    if names.len() > MOST {
        text += &format!(" and {} more", names.len() - MOST);
    }
    text
}
