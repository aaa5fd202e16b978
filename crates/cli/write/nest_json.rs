//! `nest.json`: from a cut plan to its record, to text, and back.

use crate::bed::turned_on_bed;
use crate::cut_plan::{CutPart, CutPlan, CutSheet};
use crate::job::Job;
use crate::nest_file::{
    BedRecord, ChoiceRecord, CuttingRecord, FORMAT, MissingRecord, NestFile, OffcutRecord,
    PlacementRecord, Ring, SawCutRecord, SheetRecord, SourceRecord, TotalsRecord, ZoneRecord,
};
use crate::saw_steps::SawRate;
use crate::toolpath::{CutFigures, ToolPaths};
use crate::{Failure, Result};
use panelwright_geometry::{Point, Polygon};
use panelwright_nesting::StockKind;
use serde_json::Value;
use std::fmt::Write as _;

/// Lengths and areas are rounded to a millionth: ten thousand times finer than the 0.01 mm of any
/// check, and free of the noise of a turn.
const PER_UNIT: f64 = 1e6;

/// Ratios and angles are rounded finer: a millionth of a degree is 0.05 um at three metres.
const PER_RATIO: f64 = 1e9;

fn rounded(value: f64, per: f64) -> f64 {
    let rounded = (value * per).round() / per;
    // Adding zero turns -0 into 0.
    if rounded.is_finite() {
        rounded + 0.0
    } else {
        value
    }
}

fn length(value: f64) -> f64 {
    rounded(value, PER_UNIT)
}

fn ratio(value: f64) -> f64 {
    rounded(value, PER_RATIO)
}

fn pair(point: Point) -> [f64; 2] {
    [length(point.x), length(point.y)]
}

/// A ring without repeated corners.
fn ring(points: &[Point]) -> Ring {
    let mut pairs: Ring = points.iter().map(|p| pair(*p)).collect();
    pairs.dedup();
    if pairs.len() > 1 && pairs.first() == pairs.last() {
        pairs.pop();
    }
    pairs
}

/// The plan as anyone can check it, names instead of indices, curves as covering polygons.
///
/// # Panics
/// When the plan refers to items, materials or machines that `job` does not have.
#[must_use]
pub fn record(plan: &CutPlan, job: &Job) -> NestFile {
    let totals = &plan.totals;
    NestFile {
        format: FORMAT.to_owned(),
        units: "mm".to_owned(),
        seed: plan.seed,
        sheets: plan
            .sheets
            .iter()
            .enumerate()
            .map(|(i, s)| sheet(s, plan.paths.get(i), job))
            .collect(),
        not_placed: plan
            .missing
            .iter()
            .map(|missing| MissingRecord {
                part: job.items[missing.item].part.clone(),
                kit: job.items[missing.item].kit.clone(),
                quantity: missing.quantity,
                why: missing.why.clone(),
            })
            .collect(),
        totals: TotalsRecord {
            part_area: length(totals.part_area),
            taken_area: length(totals.taken_area),
            kept_area: length(totals.kept_area),
            yield_: ratio(totals.yield_),
            net_yield: ratio(totals.net_yield),
            spend: length(totals.spend),
            least_spend: length(totals.least_spend),
            kits: plan.kits,
            kits_complete: plan.kits_complete(),
        },
        choices: plan
            .choices
            .iter()
            .map(|choice| ChoiceRecord {
                option: choice.option.clone(),
                result: choice.result.clone(),
                spend_with: length(choice.spend_with),
                spend_without: length(choice.spend_without),
                missing_with: choice.missing_with,
                missing_without: choice.missing_without,
                kits_complete_without: choice.complete_without.clone(),
            })
            .collect(),
    }
}

fn cutting(figures: &CutFigures) -> CuttingRecord {
    CuttingRecord {
        lines: match figures.tool_path {
            true => "tool-path",
            false => "finished",
        }
        .to_owned(),
        cut_length: length(figures.cut_length),
        mark_length: length(figures.mark_length),
        pierces: figures.pierces,
        travel: length(figures.travel),
        travel_as_listed: length(figures.travel_as_drawn),
        tabs: figures.tabs,
        seconds: figures.seconds.map(length),
    }
}

fn sheet(sheet: &CutSheet, paths: Option<&ToolPaths>, job: &Job) -> SheetRecord {
    let stock = sheet.polygon();
    let flaws = Polygon::new(Vec::new(), sheet.flaws.clone());
    SheetRecord {
        number: sheet.number,
        material: job.shop.materials[sheet.material].name.clone(),
        machine: job.shop.machines[sheet.machine].name.clone(),
        method: if sheet.guillotine {
            "guillotine"
        } else {
            "free-form"
        }
        .to_owned(),
        source: SourceRecord {
            kind: match sheet.source.kind {
                StockKind::Sheet => "sheet",
                StockKind::Remnant => "remnant",
            }
            .to_owned(),
            id: sheet.source.id.clone(),
            price: length(sheet.source.price),
            lot: sheet.source.lot.clone(),
        },
        outline: ring(&stock.outer),
        voids: stock
            .holes
            .iter()
            .chain(&flaws.holes)
            .map(|v| ring(v))
            .collect(),
        keep_clear: sheet
            .zones
            .iter()
            .map(|zone| ZoneRecord {
                why: zone.why.clone(),
                outline: ring(&zone.outline),
            })
            .collect(),
        margin: length(sheet.margin),
        gap: length(sheet.gap),
        kerf: length(sheet.kerf),
        placements: sheet.parts.iter().map(|p| placement(p, job)).collect(),
        saw_cuts: sheet
            .saw_cuts
            .iter()
            .map(|cut| SawCutRecord {
                from: pair(cut.from),
                to: pair(cut.to),
                kerf: length(cut.kerf),
                stage: cut.stage,
            })
            .collect(),
        saw_seconds: SawRate::of(sheet, &job.shop)
            .map(|rate| length(60.0 * rate.minutes(&sheet.saw_cuts))),
        offcuts: sheet
            .offcuts
            .iter()
            .map(|offcut| OffcutRecord {
                id: offcut.id.clone(),
                outline: ring(&offcut.outline.outer),
                voids: offcut.outline.holes.iter().map(|v| ring(v)).collect(),
                area: length(offcut.outline.area()),
                kept: offcut.kept,
            })
            .collect(),
        yield_: ratio(sheet.yield_),
        yield_ceiling: ratio(sheet.yield_ceiling),
        kits_complete: sheet.kits_complete,
        on_bed: turned_on_bed(sheet, &job.shop.machines[sheet.machine]).map(|to_bed| BedRecord {
            angle: ratio(to_bed.angle_deg()),
            origin: pair(to_bed.origin),
        }),
        cutting: paths
            .filter(|_| !sheet.guillotine)
            .map(|p| cutting(&p.figures)),
    }
}

fn placement(part: &CutPart, job: &Job) -> PlacementRecord {
    let item = &job.items[part.item];
    // As it is judged: chords of the part as drawn.
    let covering = item.outline.covering().placed(&part.placement);
    PlacementRecord {
        part: item.part.clone(),
        kit: item.kit.clone(),
        copy: part.copy,
        kit_number: part.kit_number,
        angle: ratio(part.placement.angle_deg()),
        origin: pair(part.placement.origin),
        pinned: part.pinned,
        outline: ring(&covering.outer),
        holes: covering.holes.iter().map(|h| ring(h)).collect(),
    }
}

/// The record as text: keys in the order of the format, a ring on one line.
///
/// # Errors
/// When a number is not finite, naming where; JSON has no word for it.
pub fn to_string(nest: &NestFile) -> Result<String> {
    let value = serde_json::to_value(nest)
        .map_err(|e| Failure::new("nest.json", e.to_string(), "report this as a fault"))?;
    let mut out = String::new();
    write_value(&mut out, &value, 0, "nest.json")?;
    out.push('\n');
    Ok(out)
}

/// Whether an array goes on one line: numbers, or pairs of them.
fn is_flat(values: &[Value]) -> bool {
    values.iter().all(|v| match v {
        Value::Array(inner) => inner.iter().all(Value::is_number),
        other => other.is_number(),
    })
}

fn indent(out: &mut String, depth: usize) {
    out.push('\n');
    for _ in 0..depth {
        out.push_str("  ");
    }
}

fn write_value(out: &mut String, value: &Value, depth: usize, place: &str) -> Result<()> {
    match value {
        // The record has no empty values, so this was a number that is none.
        Value::Null => {
            return Err(Failure::new(
                place,
                "is not a finite number",
                "check the lengths and prices of the order's files",
            ));
        }
        Value::Array(values) if values.is_empty() => out.push_str("[]"),
        Value::Array(values) if is_flat(values) => {
            out.push('[');
            for (i, value) in values.iter().enumerate() {
                if i > 0 {
                    out.push_str(", ");
                }
                write_value(out, value, depth, place)?;
            }
            out.push(']');
        }
        Value::Array(values) => {
            out.push('[');
            for (i, value) in values.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                indent(out, depth + 1);
                write_value(out, value, depth + 1, &format!("{place}[{i}]"))?;
            }
            indent(out, depth);
            out.push(']');
        }
        Value::Object(map) => {
            out.push('{');
            for (i, (key, value)) in map.iter().enumerate() {
                if i > 0 {
                    out.push(',');
                }
                indent(out, depth + 1);
                let _ = write!(out, "{}: ", Value::from(key.as_str()));
                write_value(out, value, depth + 1, &format!("{place}.{key}"))?;
            }
            indent(out, depth);
            out.push('}');
        }
        // Whole millimetres stand without ".0": half the file would be that.
        Value::Number(number) => match number.as_f64() {
            Some(whole) if number.is_f64() && whole.fract() == 0.0 && whole.abs() < 1e15 => {
                let _ = write!(out, "{whole:.0}");
            }
            _ => {
                let _ = write!(out, "{number}");
            }
        },
        other => {
            let _ = write!(out, "{other}");
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::samples;
    use super::*;
    use panelwright_geometry::tolerance;
    use proptest::prelude::*;

    fn sample() -> NestFile {
        let job = samples::job();
        record(&samples::plan(&job), &job)
    }

    fn signed_area(ring: &Ring) -> f64 {
        let n = ring.len();
        (0..n)
            .map(|i| {
                let ([ax, ay], [bx, by]) = (ring[i], ring[(i + 1) % n]);
                0.5 * (ax * by - bx * ay)
            })
            .sum()
    }

    #[test]
    fn what_was_written_reads_back() {
        let nest = sample();
        let text = to_string(&nest).unwrap();
        assert_eq!(serde_json::from_str::<NestFile>(&text).unwrap(), nest);
        assert_eq!(to_string(&sample()).unwrap(), text);
    }

    #[test]
    fn a_ring_is_one_line_and_an_object_is_not() {
        let text = to_string(&sample()).unwrap();
        let rings = text.lines().filter(|l| l.contains("\"outline\": [["));
        let ends = text
            .lines()
            .filter(|l| l.ends_with("]],") || l.ends_with("]]"));
        assert_eq!(rings.count(), 3 + 7 + 2);
        assert!(ends.count() >= 12);
        assert!(
            text.contains("\n      \"outline\": [[0, 0], [2600, 0], [2600, 1400], [0, 1400]],\n")
        );
    }

    #[test]
    fn outlines_run_counter_clockwise_and_cover_the_part() {
        let job = samples::job();
        let plan = samples::plan(&job);
        let nest = record(&plan, &job);
        for (sheet, cut) in nest.sheets.iter().zip(&plan.sheets) {
            assert!(signed_area(&sheet.outline) > 0.0);
            assert_eq!(sheet.voids.len(), cut.voids.len() + cut.flaws.len());
            for (placed, part) in sheet.placements.iter().zip(&cut.parts) {
                let holes: f64 = placed.holes.iter().map(|h| signed_area(h).abs()).sum();
                let area = signed_area(&placed.outline) - holes;
                let more = area - part.outline.area();
                let most = tolerance::CHORD * part.outline.cut_length();
                assert!(
                    (0.0..most).contains(&(more + 1e-3)),
                    "{} {more}",
                    placed.part
                );
            }
        }
    }

    #[test]
    fn a_number_that_is_none_is_named() {
        let mut nest = sample();
        nest.sheets[1].yield_ceiling = f64::NAN;
        let text = to_string(&nest).unwrap_err().to_string();
        assert!(text.contains("sheets[1].yield_ceiling"), "{text}");
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn any_length_and_any_text_come_back(
            numbers in prop::collection::vec((-1e5..1e5_f64).prop_map(length), 8),
            name in "\\PC{0,12}[\"\\\\\u{0}-\u{1f}]{0,3}",
        ) {
            let mut nest = sample();
            let sheet = &mut nest.sheets[0];
            sheet.outline = numbers.chunks(2).map(|c| [c[0], c[1]]).collect();
            sheet.gap = numbers[0];
            sheet.material = name;
            let text = to_string(&nest).unwrap();
            let back = serde_json::from_str::<NestFile>(&text).unwrap();
            prop_assert!(back == nest);
        }
    }
}
