//! What a cutter looks for before a part is cut: warnings that name part and place.
//!
//! Sources of the limits: published guides of laser services (webs at least as wide as the sheet is
//! thick, openings at least one and a half times that) and of machining (an inside corner keeps the
//! tool's radius). They are those services' own limits and common practice, no standard.

use crate::input::Machine;
use crate::job::{Item, Job};
use crate::number::counted;
use crate::{Failure, Result};
use panelwright_geometry::{Narrow, Point};

/// An opening narrower than this many thicknesses is told.
const OPENING: f64 = 1.5;

/// A web narrower than this many thicknesses is told.
const WEB: f64 = 1.0;

/// An opening is narrower than the tool when it is by more than this, in millimetres: one drawn as wide as the tool is
/// not, whatever was lost in reading it.
const AS_WIDE: f64 = 1e-6;

/// Lines and arcs shorter than this, in millimetres, are told: controls stutter on them. (From memory.)
const TINY: f64 = 0.1;

/// Tools with a smaller radius, in millimetres, leave nothing worth telling in a corner: a laser.
const BLUNT: f64 = 0.25;

/// Something that may go wrong with a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// The part and its kit.
    pub place: String,
    /// What it is, with the value and where.
    pub what: String,
    /// What to do about it.
    pub advice: &'static str,
}

/// The warnings for every part that a router or laser cuts.
#[must_use]
pub fn warnings(job: &Job) -> Vec<Warning> {
    let mut all = Vec::new();
    for item in &job.items {
        let Some(machine) = job.finisher(item) else {
            continue;
        };
        let machine = &job.shop.machines[machine];
        let place = format!("part '{}' of kit '{}'", item.part, item.kit);
        let found = of_item(item, job.material_of(item).thickness, machine);
        all.extend(found.into_iter().map(|(what, advice)| Warning {
            place: place.clone(),
            what,
            advice,
        }));
    }
    all
}

/// Adds the warnings to what was noticed while reading; or, when they are to be errors, stops at the
/// first.
///
/// # Errors
/// With `strict`, when there is a warning.
pub fn apply(job: &mut Job, strict: bool) -> Result<()> {
    // Text that stands where lines are cut may have been meant to be seen.
    if strict && let Some((place, what)) = job.text_left.first() {
        let advice = "mark it or leave it out by that rule, turn it into lines, move it to a layer that is not cut, or \
            leave out --strict";
        return Err(Failure::new(place, what, advice));
    }
    let all = warnings(job);
    if strict && let Some(first) = all.first() {
        let more = match all.len() - 1 {
            0 => String::new(),
            1 => "; there is 1 more like it".to_owned(),
            more => format!("; there are {more} more like it"),
        };
        let advice = format!("{}, or leave out --strict{more}", first.advice);
        return Err(Failure::new(&first.place, &first.what, advice));
    }
    let notes = all
        .into_iter()
        .map(|w| format!("{}: {}; {}", w.place, w.what, w.advice));
    job.notes.extend(notes);
    Ok(())
}

fn of_item(item: &Item, thickness: f64, machine: &Machine) -> Vec<(String, &'static str)> {
    let outline = &item.outline;
    let mut found = Vec::new();
    let (tool, limit) = (machine.kerf - AS_WIDE, OPENING * thickness - 1e-9);
    let openings = (0..outline.holes.len()).map(Some);
    let openings = openings.filter_map(|i| outline.opening_below(i, tool.max(limit)));
    // What the tool does not get into is told as that alone. It is no error: a small hole may be drilled, and whoever
    // does it has to know.
    let (closed, open): (Vec<_>, Vec<_>) = openings.partition(|narrow| narrow.width < tool);
    let least = |narrow: &[Narrow]| {
        let all = narrow.iter().copied();
        all.min_by(|a, b| a.width.total_cmp(&b.width))
    };
    if let Some(least) = least(&closed) {
        let what = format!(
            "{} in whole or in part narrower than the {} mm that the {} removes; the narrowest place is {:.2} mm wide, at {}",
            counted(closed.len(), "opening is", "openings are"),
            machine.kerf,
            machine.name,
            least.width,
            shown(least.at)
        );
        found.push((what, "have it drilled, or use a finer tool"));
    }
    if let Some(notch) = outline.opening_below(None, tool) {
        let what = format!(
            "a notch of the outside is {:.2} mm wide at {}, less than the {} mm that the {} removes",
            notch.width,
            shown(notch.at),
            machine.kerf,
            machine.name
        );
        found.push((what, "widen it, or use a finer tool"));
    }
    let radius = 0.5 * machine.kerf;
    let corners = match radius > BLUNT {
        true => outline.inside_corners(radius),
        false => Vec::new(),
    };
    let sharpest = corners.iter().min_by(|a, b| a.radius.total_cmp(&b.radius));
    if let Some(corner) = sharpest {
        let what = format!(
            "{} below the radius of {radius} mm that the {} leaves; the sharpest has {:.2} mm, at {}",
            counted(corners.len(), "inside corner is", "inside corners are"),
            machine.name,
            corner.radius,
            shown(corner.at)
        );
        found.push((
            what,
            "use a finer tool, or ask for a 'relief' where a square part must seat",
        ));
    }
    if let Some(web) = outline.web_below(WEB * thickness) {
        let what = format!(
            "a web is {:.2} mm wide at {}, less than the {thickness} mm of the sheet",
            web.width,
            shown(web.at)
        );
        found.push((what, "move openings apart or away from the edge"));
    }
    let narrow: Vec<Narrow> = open.into_iter().filter(|n| n.width < limit).collect();
    if let Some(least) = least(&narrow) {
        let what = format!(
            "{} narrower than {OPENING} times the {thickness} mm of the sheet; the narrowest is {:.2} mm \
             wide, at {}",
            counted(narrow.len(), "opening is", "openings are"),
            least.width,
            shown(least.at)
        );
        found.push((what, "widen it, or have it drilled"));
    }
    if let Some((shortest, count)) = outline.tiny_segments(TINY) {
        let what = format!(
            "{} shorter than {TINY} mm; the shortest has {:.4} mm, at {}",
            counted(count, "line or arc is", "lines and arcs are"),
            shortest.length(),
            shown(shortest.start)
        );
        found.push((what, "rid the drawing of them; machines stutter there"));
    }
    found
}

fn shown(p: Point) -> String {
    format!("{:.1}, {:.1}", p.x, p.y)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::write::samples;
    use panelwright_geometry::{Outline, Placement, Ring, Vertex};

    fn told(outline: Outline) -> Vec<String> {
        let mut job = samples::job();
        job.items.truncate(1);
        job.items[0].outline = outline;
        warnings(&job).into_iter().map(|w| w.what).collect()
    }

    #[test]
    fn each_warning_names_its_place() {
        // A sheet of 4 mm and a tool of 6 mm.
        assert!(told(samples::door()).is_empty());
        let mut plate = Outline::rectangle(200.0, 100.0);
        let window = Ring::rounded_rectangle(Point::new(40.0, 40.0), Point::new(90.0, 80.0), 2.0);
        plate.holes.push(window.reversed());
        let found = told(plate.clone());
        assert_eq!(found.len(), 1);
        assert!(
            found[0].starts_with("4 inside corners are below the radius of 3 mm"),
            "{found:?}"
        );

        plate.holes[0] = Ring::circle(Point::new(50.0, 13.8), 10.0).reversed();
        assert_eq!(
            told(plate.clone()),
            ["a web is 3.80 mm wide at 50.0, 1.9, less than the 4 mm of the sheet"]
        );
        // At the limit is well.
        plate.holes[0] = Ring::circle(Point::new(50.0, 14.0), 10.0).reversed();
        plate
            .holes
            .push(Ring::circle(Point::new(150.0, 50.0), 3.0).reversed());
        assert!(told(plate.clone()).is_empty());
        plate.holes[1] = Ring::circle(Point::new(150.0, 50.0), 2.9).reversed();
        assert!(
            told(plate.clone())[0].contains("the narrowest place is 5.80 mm wide, at 150.0, 50.0")
        );
        plate.holes.truncate(1);
        plate
            .outer
            .vertices
            .insert(1, Vertex::new(199.95, 0.0, 0.0));
        assert!(told(plate)[0].contains("1 line or arc is shorter than 0.1 mm"));
    }

    /// A slot with half circles for ends along a line of this angle, in degrees, as a hole.
    fn slot(middle: Point, length: f64, width: f64, angle_deg: f64) -> Ring {
        let [a, b] = [0.5 * (length - width), 0.5 * width];
        let corners = [(-a, -b, 0.0), (a, -b, 1.0), (a, b, 0.0), (-a, b, 1.0)];
        ring(&corners)
            .placed(&Placement::new(angle_deg, middle))
            .reversed()
    }

    /// A ring of vertices with their bulges.
    fn ring(corners: &[(f64, f64, f64)]) -> Ring {
        let corners = corners
            .iter()
            .map(|(x, y, bulge)| Vertex::new(*x, *y, *bulge));
        Ring {
            vertices: corners.collect(),
        }
    }

    #[test]
    fn an_opening_that_the_tool_does_not_enter_is_told_once_however_it_lies() {
        // A tool of 6 mm; the sheet is told of openings below 6 mm as well.
        for angle in [0.0, 30.0, 45.0, 90.0] {
            let mut plate = Outline::rectangle(200.0, 100.0);
            let middle = Point::new(100.0, 50.0);
            plate.holes.push(slot(middle, 50.0, 5.0, angle));
            let found = told(plate.clone());
            let says = "1 opening is in whole or in part narrower than the 6 mm that the router removes; the narrowest place is 5.00 mm wide";
            assert_eq!(found.len(), 1, "{angle}: {found:?}");
            assert!(found[0].starts_with(says), "{angle}: {found:?}");
            plate.holes[0] = slot(middle, 50.0, 6.0, angle);
            assert!(told(plate).is_empty(), "{angle}");
        }
    }

    #[test]
    fn a_neck_of_an_opening_and_a_notch_of_the_outside_are_told() {
        let sharp = |corners: &[(f64, f64)]| {
            let corners: Vec<_> = corners.iter().map(|(x, y)| (*x, *y, 0.0)).collect();
            ring(&corners)
        };
        let tool = |outline: Outline| -> Vec<String> {
            let found = told(outline).into_iter();
            found
                .filter(|what| what.contains("router removes"))
                .collect()
        };
        // Two rooms of 30 x 30 mm, joined by a gap of 4 mm.
        let mut plate = Outline::rectangle(200.0, 100.0);
        let rooms = |gap: f64| {
            let (low, high) = (50.0 - 0.5 * gap, 50.0 + 0.5 * gap);
            let corners = [
                (40.0, 35.0),
                (70.0, 35.0),
                (70.0, low),
                (90.0, low),
                (90.0, 35.0),
                (120.0, 35.0),
                (120.0, 65.0),
                (90.0, 65.0),
                (90.0, high),
                (70.0, high),
                (70.0, 65.0),
                (40.0, 65.0),
            ];
            sharp(&corners).reversed()
        };
        plate.holes.push(rooms(4.0));
        let found = tool(plate.clone());
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(
            found[0].contains("the narrowest place is 4.00 mm wide, at "),
            "{found:?}"
        );
        plate.holes[0] = rooms(7.0);
        assert!(tool(plate).is_empty());
        let notched = |width: f64| {
            let (left, right) = (100.0 - 0.5 * width, 100.0 + 0.5 * width);
            let corners = [
                (0.0, 0.0),
                (200.0, 0.0),
                (200.0, 100.0),
                (right, 100.0),
                (right, 60.0),
                (left, 60.0),
                (left, 100.0),
                (0.0, 100.0),
            ];
            Outline {
                outer: sharp(&corners),
                ..Outline::rectangle(1.0, 1.0)
            }
        };
        let found = tool(notched(5.0));
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(
            found[0].starts_with("a notch of the outside is 5.00 mm wide at 100.0, "),
            "{found:?}"
        );
        assert!(tool(notched(6.0)).is_empty());
    }

    #[test]
    fn a_corner_is_no_narrow_opening() {
        let triangle = [(40.0, 20.0, 0.0), (160.0, 20.0, 0.0), (100.0, 80.0, 0.0)];
        let mut plate = Outline::rectangle(200.0, 100.0);
        plate.holes.push(ring(&triangle).reversed());
        let found = told(plate);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].starts_with("3 inside corners"), "{found:?}");
    }

    #[test]
    fn warnings_are_notes_or_errors() {
        let mut job = samples::job();
        job.items[0].outline.holes[1] = Ring::circle(Point::new(40.0, 380.0), 1.0).reversed();
        let failure = apply(&mut job.clone(), true).unwrap_err();
        assert!(
            failure.place.contains("door") && failure.what.contains("2.00 mm"),
            "{failure}"
        );
        apply(&mut job, false).unwrap();
        assert_eq!(job.notes.len(), 1);

        let mut job = samples::job();
        apply(&mut job, true).unwrap();
        job.text_left = vec![(
            "a.dxf".into(),
            "2 TEXT not read on layers that are cut".into(),
        )];
        let failure = apply(&mut job, true).unwrap_err();
        assert!(
            failure.place.contains("a.dxf") && failure.what.contains("2 TEXT"),
            "{failure}"
        );
    }
}
