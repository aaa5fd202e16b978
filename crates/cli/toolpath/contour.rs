//! The lines of one part that a router or laser follows, in the part's own coordinates, with the
//! ways to begin each.

use super::lead::Lead;
use super::tool::Tool;
use crate::input::{Direction, LeadShape};
use crate::shape::Shape;
use panelwright_geometry::{Boundary, KerfError, Outline, Path, Point, Ring, Segment};

/// A turn of the line of more than this, in radians, is a corner: 10 degrees. Smaller ones are the
/// joints of fitted curves.
const CORNER: f64 = 10.0 * std::f64::consts::PI / 180.0;

/// A start lies at least this far from a corner where the line is long enough, millimetres, so that
/// the mark it leaves is not where people look first and where the next panel meets.
const FROM_CORNER: f64 = 10.0;

/// Most starts that are weighed for a line. More find hardly shorter ways and cost time.
const MOST_STARTS: usize = 12;

/// Starts on a line without corners, such as a circle.
const ROUND_STARTS: usize = 8;

/// What the tool leaves standing in an inside corner, over its radius, before the place counts as out
/// of its reach: a wedge of less than about 29 degrees, or a notch narrower than the tool.
const OUT_OF_REACH: f64 = 3.0;

/// A round opening whose radius is within this of the tool's, in millimetres, is drilled: the tool plunges in its middle.
const AS_WIDE: f64 = 0.005;

/// Radius of the circle that is drawn for a plunge: as small as readers of all kinds take for a circle, and with
/// [`AS_WIDE`] still within a hundredth of a millimetre of the edge.
const PLUNGE: f64 = 0.002;

/// What a line does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Work {
    /// Scores or engraves.
    Mark,
    /// Cuts the opening with this index.
    Inside(usize),
    /// Cuts the part free.
    Outside,
}

/// Why a part cannot be cut by a tool.
#[derive(Debug, Clone, PartialEq)]
pub enum Unfit {
    /// No path can be offset.
    Kerf(KerfError),
    /// The tool gets nowhere near a place of the outline: a notch that is too narrow.
    OutOfReach {
        /// The place.
        at: Point,
        /// How far the tool stays from it.
        by: f64,
    },
}

/// One line to follow.
#[derive(Debug, Clone)]
pub struct Contour {
    /// What it does.
    pub work: Work,
    /// The line, run in its direction.
    pub line: Path,
    /// Area that the finished line surrounds; 0 for a mark.
    pub area: f64,
    /// The ways to begin it; at least one.
    pub starts: Vec<Start>,
    /// Whether the tool only goes down and up again: a lead would be nowhere to go.
    pub plunge: bool,
}

/// A way to begin a line.
#[derive(Debug, Clone, PartialEq)]
pub struct Start {
    /// The segment it is on, and its share of the segment's length.
    pub on: (usize, f64),
    /// Whether an open line is run from its end.
    pub reversed: bool,
    /// Where that is.
    pub at: Point,
    /// Where the line ends when begun there.
    pub end: Point,
    /// Leads that stay clear of the part itself, the longest first.
    pub leads: Vec<Lead>,
}

/// The lines of a part: marks, openings, the outline.
///
/// # Errors
/// When the tool cannot make the part.
pub fn contours(outline: &Outline, tool: &Tool) -> Result<Vec<Contour>, Unfit> {
    let marks = outline
        .marks
        .iter()
        .filter(|m| m.vertices.len() > 1)
        .map(mark);
    let mut all: Vec<Contour> = marks.collect();
    if !tool.follows_path() {
        let holes = outline.holes.iter().enumerate();
        all.extend(holes.map(|(i, h)| finished(h, Work::Inside(i))));
        all.push(finished(&outline.outer, Work::Outside));
        return Ok(all);
    }
    let moved = moved(outline, tool.radius)?;
    for (ring, path) in outline.rings().zip(moved.rings()) {
        reached(ring, path, tool.radius)?;
    }
    let own = Boundary::new(outline.rings());
    let mut add = |finished: &Ring, path: &Ring, work: Work| {
        let inside = work != Work::Outside;
        // Climb: outlines clockwise, openings counter-clockwise; the scrap is on the left then.
        let climb = tool.direction == Direction::Climb;
        let path = path.clone().oriented(inside == climb);
        let starts = starts(&path, tool, inside, &own);
        all.push(Contour {
            work,
            line: path.into(),
            area: finished.area(),
            starts,
            plunge: inside && plunge(finished, tool.radius).is_some(),
        });
    };
    for (i, hole) in outline.holes.iter().enumerate() {
        add(hole, &moved.holes[i], Work::Inside(i));
    }
    add(&outline.outer, &moved.outer, Work::Outside);
    Ok(all)
}

/// Where to plunge for an opening that is a circle as wide as the tool.
fn plunge(hole: &Ring, radius: f64) -> Option<Point> {
    match Shape::closed(hole) {
        Shape::Circle { center, radius: r } if (r - radius).abs() <= AS_WIDE => Some(center),
        _ => None,
    }
}

/// The paths round an outline and in its openings; a tiny circle in one that is drilled.
fn moved(outline: &Outline, radius: f64) -> Result<Outline, Unfit> {
    let plunges = outline.holes.iter().map(|hole| plunge(hole, radius));
    let plunges: Vec<Option<Point>> = plunges.collect();
    let followed: Vec<usize> = (0..plunges.len())
        .filter(|i| plunges[*i].is_none())
        .collect();
    let rest = Outline {
        holes: followed.iter().map(|i| outline.holes[*i].clone()).collect(),
        ..outline.clone()
    };
    let named = |mut error: KerfError| {
        match &mut error {
            KerfError::HoleClosed { hole, .. } => *hole = followed[*hole],
            KerfError::BadRing { hole: Some(hole) }
            | KerfError::CrossesItself { hole: Some(hole) }
            | KerfError::NeckClosed {
                hole: Some(hole), ..
            }
            | KerfError::Unreliable {
                hole: Some(hole), ..
            } => *hole = followed[*hole],
            _ => {}
        }
        Unfit::Kerf(error)
    };
    let mut moved = rest.outward(radius).map_err(named)?;
    for (i, center) in plunges.iter().enumerate() {
        if let Some(center) = center {
            moved
                .holes
                .insert(i, Ring::circle(*center, PLUNGE).reversed());
        }
    }
    Ok(moved)
}

/// How much the tool leaves standing at the worst place of a ring, and where: the distance from there
/// to the path, less the radius. Inside corners always keep a little.
pub fn left_standing(ring: &Ring, path: &Ring, radius: f64) -> (Point, f64) {
    let path = Boundary::new([path]);
    ring.segments()
        .flat_map(|s| [s.start, s.point_at(0.5)])
        .map(|p| (p, path.distance(p) - radius))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or_default()
}

fn reached(ring: &Ring, path: &Ring, radius: f64) -> Result<(), Unfit> {
    let (at, by) = left_standing(ring, path, radius);
    if radius > 0.0 && by > OUT_OF_REACH * radius {
        return Err(Unfit::OutOfReach { at, by });
    }
    Ok(())
}

fn mark(path: &Path) -> Contour {
    let start = |segment: usize, at: Point, end: Point, reversed| Start {
        on: (segment, 0.0),
        reversed,
        at,
        end,
        leads: Vec::new(),
    };
    let starts = if path.closed {
        corners(path.vertices.len())
            .map(|i| start(i, path.vertices[i].point, path.vertices[i].point, false))
            .collect()
    } else {
        let (first, last) = (
            path.vertices[0].point,
            path.vertices[path.vertices.len() - 1].point,
        );
        vec![start(0, first, last, false), start(0, last, first, true)]
    };
    Contour {
        work: Work::Mark,
        line: path.clone(),
        area: 0.0,
        starts,
        plunge: false,
    }
}

/// Some of the corners of a ring, all round.
fn corners(count: usize) -> impl Iterator<Item = usize> {
    let step = count.div_ceil(MOST_STARTS).max(1);
    (0..count).step_by(step)
}

/// A finished edge: begun at one of its corners, so that no corner is added. A round one is drawn as a
/// circle, which has no start of its own.
fn finished(ring: &Ring, work: Work) -> Contour {
    let round = matches!(Shape::closed(ring), Shape::Circle { .. });
    let count = if round { 1 } else { ring.vertices.len() };
    Contour {
        work,
        line: ring.clone().into(),
        area: ring.area(),
        starts: corners(count)
            .map(|i| Start {
                on: (i, 0.0),
                reversed: false,
                at: ring.vertices[i].point,
                end: ring.vertices[i].point,
                leads: Vec::new(),
            })
            .collect(),
        plunge: false,
    }
}

/// A stretch of a path between two corners.
#[derive(Debug)]
struct Stretch {
    /// Where it begins, measured along the path.
    from: f64,
    length: f64,
}

/// Places to begin a path, away from the part's corners, with the leads that fit there.
fn starts(path: &Ring, tool: &Tool, inside: bool, own: &Boundary) -> Vec<Start> {
    let segments: Vec<Segment> = path.segments().collect();
    let lengths: Vec<f64> = segments.iter().map(Segment::length).collect();
    let whole: f64 = lengths.iter().sum();
    let mut stretches = stretches(&segments, &lengths, tool.radius, inside);
    stretches.sort_by(|a, b| {
        b.length
            .total_cmp(&a.length)
            .then(a.from.total_cmp(&b.from))
    });
    let places: Vec<f64> = if stretches.is_empty() {
        let step = whole / ROUND_STARTS as f64;
        (0..ROUND_STARTS).map(|i| (i as f64 + 0.5) * step).collect()
    } else {
        let spread = stretches.iter().flat_map(|s| {
            shares(s.length)
                .iter()
                .map(|share| (s.from + share * s.length) % whole)
        });
        spread.take(MOST_STARTS).collect()
    };
    let scrap_left = tool.direction == Direction::Climb;
    places
        .into_iter()
        .map(|place| {
            let on = locate(&lengths, place);
            let (at, along) = (
                segments[on.0].point_at(on.1),
                segments[on.0].tangent_at(on.1),
            );
            let leads = match tool.lead {
                LeadShape::None => Vec::new(),
                shape => Lead::sizes(shape, tool.lead_length)
                    .map(|length| Lead::new(shape, at, along, scrap_left, length))
                    .filter(|lead| lead.is_clear_of_part(at, own, tool.radius))
                    .collect(),
            };
            Start {
                on,
                reversed: false,
                at,
                end: at,
                leads,
            }
        })
        .collect()
}

/// Where on a stretch to begin: its middle, and nearer its ends when they are far from the corners.
fn shares(length: f64) -> &'static [f64] {
    if 0.1 * length >= FROM_CORNER {
        &[0.5, 0.1, 0.9, 0.3, 0.7]
    } else if 0.2 * length >= FROM_CORNER {
        &[0.5, 0.2, 0.8]
    } else {
        &[0.5]
    }
}

/// The segment and share at this distance from the start.
fn locate(lengths: &[f64], place: f64) -> (usize, f64) {
    let mut before = 0.0;
    for (i, length) in lengths.iter().enumerate() {
        if place < before + length {
            return (i, (place - before) / length);
        }
        before += length;
    }
    (lengths.len() - 1, 1.0)
}

/// The stretches between corners; none when the path has no corner.
///
/// The path turns round an outside corner on an arc of the tool's radius: that arc is the corner.
fn stretches(segments: &[Segment], lengths: &[f64], radius: f64, inside: bool) -> Vec<Stretch> {
    let n = segments.len();
    let is_corner = |i: usize| {
        !inside
            && segments[i]
                .arc_geometry()
                .is_some_and(|arc| (arc.radius - radius).abs() < 1e-3)
    };
    let breaks = |i: usize| {
        let before = (i + n - 1) % n;
        let (a, b) = (
            segments[before].tangent_at(1.0),
            segments[i].tangent_at(0.0),
        );
        a.cross(b).atan2(a.dot(b)).abs() > CORNER || is_corner(i) != is_corner(before)
    };
    let Some(first) = (0..n).find(|i| breaks(*i)) else {
        return Vec::new();
    };
    let begins: Vec<f64> = lengths
        .iter()
        .scan(0.0, |sum, l| {
            *sum += l;
            Some(*sum - l)
        })
        .collect();
    let mut all: Vec<Stretch> = Vec::new();
    for k in 0..n {
        let i = (first + k) % n;
        if breaks(i) {
            all.push(Stretch {
                from: begins[i],
                // Marks a corner arc until the end, so that nothing begins there.
                length: if is_corner(i) { f64::NEG_INFINITY } else { 0.0 },
            });
        }
        if let Some(last) = all.last_mut() {
            last.length += lengths[i];
        }
    }
    all.retain(|s| s.length > 0.0);
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{Hold, Lines};

    pub fn tool(kerf: f64) -> Tool {
        Tool {
            lines: Lines::ToolPath,
            radius: 0.5 * kerf,
            direction: Direction::Climb,
            lead: LeadShape::Arc,
            lead_length: 2.0,
            hold: Hold::None,
            small_area: 10_000.0,
            tabs: 3,
            tab_length: 4.0,
            tab_height: Some(0.8),
            skin: 0.2,
            feed: None,
            travel_feed: None,
            pierce_seconds: 0.0,
        }
    }

    fn plate() -> Outline {
        let mut plate = Outline::rectangle(300.0, 200.0);
        for x in [50.0, 250.0] {
            plate
                .holes
                .push(Ring::circle(Point::new(x, 100.0), 6.0).reversed());
        }
        plate
    }

    #[test]
    fn climb_runs_outlines_clockwise_and_openings_counter_clockwise() {
        // Source: definition of climb cutting with a spindle that turns clockwise seen from above.
        for (direction, outside_ccw) in [(Direction::Climb, false), (Direction::Conventional, true)]
        {
            let tool = Tool {
                direction,
                ..tool(6.0)
            };
            for contour in contours(&plate(), &tool).unwrap() {
                let ring = Ring::new(contour.line.vertices.clone());
                assert_eq!(
                    ring.is_ccw(),
                    outside_ccw == (contour.work == Work::Outside)
                );
            }
        }
    }

    #[test]
    fn starts_are_away_from_corners_and_have_leads_in_the_scrap() {
        for direction in [Direction::Climb, Direction::Conventional] {
            let tool = Tool {
                direction,
                ..tool(6.0)
            };
            let plate = plate();
            let own = Boundary::new(plate.rings());
            for contour in contours(&plate, &tool).unwrap() {
                assert!(contour.starts.len() >= 4);
                for start in &contour.starts {
                    assert!((own.distance(start.at) - 3.0).abs() < 1e-6);
                    if contour.work == Work::Outside {
                        let corner = plate.outer.vertices.iter();
                        let least = corner
                            .map(|v| v.point.distance(start.at))
                            .fold(f64::INFINITY, f64::min);
                        assert!(least >= FROM_CORNER, "{least}");
                    }
                    let lead = &start.leads[0];
                    for end in [lead.from, lead.to] {
                        let out = end.x < 0.0 || end.y < 0.0 || end.x > 300.0 || end.y > 200.0;
                        assert_eq!(out, contour.work == Work::Outside);
                        assert!(own.distance(end) > 3.0);
                    }
                }
            }
        }
    }

    #[test]
    fn a_round_opening_as_wide_as_the_tool_is_drilled() {
        for width in [5.992, 6.0, 6.008] {
            let mut plate = plate();
            plate.holes.insert(
                1,
                Ring::circle(Point::new(150.0, 50.0), 0.5 * width).reversed(),
            );
            let all = contours(&plate, &tool(6.0)).unwrap();
            assert_eq!(all.len(), 4);
            for contour in &all {
                let drilled = contour.work == Work::Inside(1);
                assert_eq!(contour.plunge, drilled, "{width}");
                let bounds = Ring::new(contour.line.vertices.clone()).bounds();
                if drilled {
                    assert!(bounds.center().distance(Point::new(150.0, 50.0)) < 1e-9);
                    assert!((bounds.width() - 2.0 * PLUNGE).abs() < 1e-9);
                    assert!(contour.starts.iter().all(|s| s.leads.is_empty()));
                }
            }
        }
        // A fault is told of the opening that has it.
        let mut plate = plate();
        for (x, radius) in [(150.0, 3.0), (180.0, 2.0)] {
            plate
                .holes
                .push(Ring::circle(Point::new(x, 50.0), radius).reversed());
        }
        assert!(matches!(
            contours(&plate, &tool(6.0)),
            Err(Unfit::Kerf(KerfError::HoleClosed { hole: 3, .. }))
        ));
    }

    #[test]
    fn what_the_tool_does_not_reach_is_refused() {
        let notch = |width: f64| {
            let half = 0.5 * width;
            Outline::polygon(
                [
                    (0.0, 0.0),
                    (100.0, 0.0),
                    (100.0, 60.0),
                    (50.0 + half, 60.0),
                    (50.0 + half, 30.0),
                    (50.0 - half, 30.0),
                    (50.0 - half, 60.0),
                    (0.0, 60.0),
                ]
                .map(|(x, y)| Point::new(x, y)),
            )
        };
        assert!(contours(&notch(3.3), &tool(3.0)).is_ok());
        let Err(Unfit::OutOfReach { at, by }) = contours(&notch(2.7), &tool(3.0)) else {
            panic!("a notch of 2.7 mm was cut with a tool of 3 mm");
        };
        assert!((at.y - 30.0).abs() < 1e-9 && by > 20.0);
        let mut holed = plate();
        holed
            .holes
            .push(Ring::circle(Point::new(150.0, 50.0), 1.4).reversed());
        assert!(matches!(
            contours(&holed, &tool(3.0)),
            Err(Unfit::Kerf(KerfError::HoleClosed { hole: 2, .. }))
        ));
    }
}
