//! Closed chains to parts: which ring is an outside, which a hole, and of which part.

use super::error::{Culprit, DrawingError};
use super::join::{Loose, join, nearest_mate};
use super::lettering::Lettering;
use super::marks::place_marks;
use super::note::{MarkedText, Note};
use super::pen::Chain;
use super::sketch::Sketch;
use super::{DrawnPart, ReadOptions};
use crate::validate::{Crossing, crossings, validate_uncrossed};
use crate::{Boundary, Bounds, InvalidOutline, Outline, Path, Point, Ring, RingName, tolerance};
use rstar::primitives::{GeomWithData, Rectangle};
use rstar::{AABB, RTree};

/// A closed chain with what nesting needs to know of it.
struct Loop {
    ring: Ring,
    area: f64,
    culprit: Box<Culprit>,
    name: Option<String>,
}

/// The parts of a sketch and everything there is to say about them.
pub(super) fn assemble(
    sketch: Sketch,
    options: &ReadOptions,
) -> Result<(Vec<DrawnPart>, Vec<Note>), DrawingError> {
    let near = options.sound_join()?;
    let mut notes = sketch.notes();
    let hint = sketch.hint();
    let cut = join(sketch.cut, near, true)?;
    notes.extend(cut.notes);
    if let Some(chain) = cut.open.first() {
        let Loose { end, mate } = nearest_mate(&cut.open, 0);
        let to = if end == chain.start() {
            chain.end()
        } else {
            chain.start()
        };
        return Err(DrawingError::OpenOutline {
            neighbour: outline_at(&cut.closed, [end, to], near),
            culprit: chain.culprit.clone(),
            from: end,
            to,
            mate,
            gap: end.distance(mate),
            others: cut.open[1..]
                .iter()
                .map(|chain| (chain.start(), chain.end()))
                .collect(),
        });
    }
    if cut.closed.is_empty() {
        return Err(DrawingError::Empty { hint });
    }
    let loops: Vec<Loop> = cut
        .closed
        .into_iter()
        .map(|chain: Chain| {
            let ring = Ring::new(chain.vertices);
            Loop {
                area: ring.area(),
                ring,
                culprit: chain.culprit,
                name: chain.name,
            }
        })
        .collect();
    check_crossings(&loops)?;
    let (mut parts, members) = nested(&loops);
    check_parts(&parts, &members, &loops)?;
    let marks = join(sketch.marks, near, false)?;
    notes.extend(marks.notes);
    let extents: Vec<(Bounds, f64)> = parts
        .iter()
        .map(|part| (part.outline.bounds(), part.outline.outer.area()))
        .collect();
    let chains = marks.closed.into_iter().chain(marks.open);
    let paths = chains.map(|chain| Path {
        closed: chain.closed,
        vertices: chain.vertices,
    });
    notes.extend(place_marks(paths, &mut parts, &extents));
    notes.extend(place_letterings(sketch.letterings, &mut parts, &extents));
    Ok((parts, notes))
}

/// The closed chain, if there is one, on which two places lie.
fn outline_at(closed: &[Chain], places: [Point; 2], tol: f64) -> Option<Box<Culprit>> {
    let is_on = |chain: &&Chain| {
        let ring = Ring::new(chain.vertices.clone());
        let bounds = ring.bounds().grown(tol);
        let is_near = |p: &Point| {
            bounds.contains(&Bounds::new(*p, *p)) && Boundary::new([&ring]).distance(*p) <= tol
        };
        places.iter().all(is_near)
    };
    closed.iter().find(is_on).map(|chain| chain.culprit.clone())
}

/// Parts by the even-odd rule, in the order of their outsides in the drawing; and for each the
/// loops it is made of, outside first.
fn nested(loops: &[Loop]) -> (Vec<DrawnPart>, Vec<Vec<usize>>) {
    let tree = RTree::bulk_load(
        loops
            .iter()
            .enumerate()
            .map(|(index, l)| {
                let b = l.ring.bounds();
                let rectangle = Rectangle::from_corners([b.min.x, b.min.y], [b.max.x, b.max.y]);
                GeomWithData::new(rectangle, index)
            })
            .collect(),
    );
    let around = |index: usize| -> Vec<usize> {
        let p = loops[index].ring.vertices[0].point;
        let mut around: Vec<usize> = tree
            .locate_in_envelope_intersecting(&AABB::from_point([p.x, p.y]))
            .map(|found| found.data)
            .filter(|other| *other != index && loops[*other].ring.surrounds(p))
            .collect();
        around.sort_by(|a, b| loops[*a].area.total_cmp(&loops[*b].area).then(a.cmp(b)));
        around
    };
    let surrounding: Vec<Vec<usize>> = (0..loops.len()).map(around).collect();
    let mut part_of = vec![None; loops.len()];
    let mut members: Vec<Vec<usize>> = Vec::new();
    for (index, round) in surrounding.iter().enumerate() {
        if round.len() % 2 == 0 {
            part_of[index] = Some(members.len());
            members.push(vec![index]);
        }
    }
    for (index, round) in surrounding.iter().enumerate() {
        if round.len() % 2 == 1 {
            // The tightest ring round a hole is its outside; odd nesting of crossing rings can
            // make that another hole, and then any outside serves to report the crossing.
            let part = round.iter().find_map(|r| part_of[*r]);
            match part {
                Some(part) => members[part].push(index),
                None => members.push(vec![index]),
            }
        }
    }
    let parts = members
        .iter()
        .map(|member| DrawnPart {
            outline: Outline::from_rings(
                loops[member[0]].ring.clone(),
                member[1..].iter().map(|m| loops[*m].ring.clone()).collect(),
            ),
            name: loops[member[0]].name.clone(),
        })
        .collect();
    (parts, members)
}

/// All outlines against each other and against themselves. Comes before nesting, which means
/// nothing for rings that cross.
fn check_crossings(loops: &[Loop]) -> Result<(), DrawingError> {
    for l in loops {
        let coincide = |s: crate::Segment| s.chord() <= tolerance::COINCIDENT;
        if let Some(corner) = l.ring.segments().position(coincide) {
            return Err(DrawingError::Invalid {
                culprit: l.culprit.clone(),
                source: InvalidOutline::ZeroLength {
                    ring: RingName::Outside,
                    corner,
                    at: l.ring.vertices[corner].point,
                },
            });
        }
    }
    let rings: Vec<&Ring> = loops.iter().map(|l| &l.ring).collect();
    let Some(&Crossing { first, second, at }) = crossings(&rings, 1).first() else {
        return Ok(());
    };
    if first != second {
        return Err(DrawingError::OutlinesCross {
            first: loops[first].culprit.clone(),
            second: loops[second].culprit.clone(),
            at,
        });
    }
    // A hole is called by its number in the part; alone in its message, it is the first.
    let p = loops[first].ring.vertices[0].point;
    let depth = (0..loops.len())
        .filter(|other| *other != first && loops[*other].ring.surrounds(p))
        .count();
    let ring = if depth % 2 == 0 {
        RingName::Outside
    } else {
        RingName::Hole(0)
    };
    Err(DrawingError::Invalid {
        culprit: loops[first].culprit.clone(),
        source: InvalidOutline::CrossesItself { ring, at },
    })
}

/// Every part by itself, crossings apart: those are known not to be.
fn check_parts(
    parts: &[DrawnPart],
    members: &[Vec<usize>],
    loops: &[Loop],
) -> Result<(), DrawingError> {
    for (part, member) in parts.iter().zip(members) {
        if let Err(source) = validate_uncrossed(&part.outline) {
            let index = match source.ring() {
                RingName::Hole(hole) => hole + 1,
                RingName::Outside | RingName::Mark(_) => 0,
            };
            return Err(DrawingError::Invalid {
                culprit: loops[member[index]].culprit.clone(),
                source,
            });
        }
    }
    Ok(())
}

/// Gives letters to the parts they lie on.
///
/// Every stroke must lie on the material of one part as a whole: letters that run over an edge would be
/// cut into what lies beside it on the sheet.
fn place_letterings(
    letterings: Vec<Lettering>,
    parts: &mut [DrawnPart],
    extents: &[(Bounds, f64)],
) -> Vec<Note> {
    let mut texts = Vec::new();
    let (mut missing, mut outside): (Vec<char>, usize) = (Vec::new(), 0);
    let (mut first_missing, mut first_outside) = (None, None);
    for lettering in letterings {
        let named = (lettering.words.clone(), lettering.at);
        let strokes = lettering.strokes.len();
        for c in lettering.missing {
            if !missing.contains(&c) {
                missing.push(c);
            }
            first_missing.get_or_insert_with(|| named.clone());
        }
        let mut lost = 0;
        for chain in lettering.strokes {
            let path = Path {
                closed: chain.closed,
                vertices: chain.vertices,
            };
            match material_under(&path, parts, extents) {
                Some(index) => parts[index].outline.marks.push(path),
                None => lost += 1,
            }
        }
        if lost > 0 {
            outside += lost;
            first_outside.get_or_insert(named);
        }
        if strokes > lost {
            texts.push(MarkedText {
                words: lettering.words,
                at: lettering.at,
                height: lettering.height,
                strokes: strokes - lost,
            });
        }
    }
    let mut notes = Vec::new();
    if !texts.is_empty() {
        notes.push(Note::Lettered { texts });
    }
    if let Some((words, at)) = first_missing {
        notes.push(Note::LettersMissing {
            characters: missing,
            words,
            at,
        });
    }
    if let Some((words, at)) = first_outside {
        notes.push(Note::LettersOutside {
            count: outside,
            words,
            at,
        });
    }
    notes
}

/// The part on whose material all of a stroke lies, looked at in the ends and the middle of each piece.
fn material_under(path: &Path, parts: &[DrawnPart], extents: &[(Bounds, f64)]) -> Option<usize> {
    let places: Vec<Point> = path
        .segments()
        .flat_map(|s| [s.start, s.point_at(0.5), s.end])
        .collect();
    let bounds = Bounds::of_points(places.iter().copied())?;
    let on = |index: usize, p: Point| {
        let outline = &parts[index].outline;
        outline.outer.surrounds(p) && !outline.holes.iter().any(|hole| hole.surrounds(p))
    };
    (0..parts.len())
        .filter(|i| extents[*i].0.contains(&bounds))
        .find(|i| places.iter().all(|p| on(*i, *p)))
}
