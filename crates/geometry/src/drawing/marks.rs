//! Marks: to the part that each lies on, cut off where they run beyond it.

use super::DrawnPart;
use super::note::Note;
use crate::validate::Edges;
use crate::{Boundary, Bounds, Path, Point};

/// A mark may run this far beyond its part, in millimetres, and stays as it is drawn: lines that are meant to end at an
/// edge end no more exactly, and what a tool scores there is its own width.
const BEYOND: f64 = 0.05;

/// Gives every mark to the part it lies on, the smallest where there are several, and says what lies on none.
///
/// What of a mark lies beyond the outside of its part goes to the part it lies on there; on none it is left out, since it
/// would be scored into what lies beside the part on the sheet. Openings do not cut a mark: they are scrap.
/// `extents`: bounds and area of each part's outside.
pub(super) fn place_marks(
    paths: impl Iterator<Item = Path>,
    parts: &mut [DrawnPart],
    extents: &[(Bounds, f64)],
) -> Vec<Note> {
    let mut notes = Vec::new();
    let mut places = Places {
        edges: parts.iter().map(|_| None).collect(),
        parts,
        extents,
    };
    let (mut cut, mut first) = (0, None);
    for path in paths {
        let mut left = vec![(path, Vec::new())];
        let mut placed = false;
        while let Some((path, mut without)) = left.pop() {
            let Some((index, stretches)) = places.home(&path, &without) else {
                // What is left of a mark that was cut is told with the others.
                if !placed {
                    let at = path.vertices[0].point;
                    notes.push(Note::MarkOutside { at });
                }
                continue;
            };
            let marks = &mut places.parts[index].outline.marks;
            let Some(stretches) = stretches else {
                marks.push(path);
                placed = true;
                continue;
            };
            if !placed {
                cut += 1;
                first.get_or_insert(place_at(&path, stretches.cuts[0]));
            }
            placed = true;
            without.push(index);
            let (on, off) = stretches.apart(&path);
            marks.extend(on);
            left.extend(off.into_iter().map(|path| (path, without.clone())));
        }
    }
    if let Some(at) = first {
        notes.push(Note::MarksCut { count: cut, at });
    }
    notes
}

struct Places<'a> {
    parts: &'a mut [DrawnPart],
    extents: &'a [(Bounds, f64)],
    /// The outsides of the parts, once a mark lies there.
    edges: Vec<Option<Edges>>,
}

/// A mark in stretches that lie on a part and beyond it in turn.
struct Stretches {
    /// Where one ends and the next begins, measured along the mark.
    cuts: Vec<f64>,
    /// Whether the first lies on the part.
    begins_on: bool,
}

impl Places<'_> {
    /// The part that a mark belongs to, and its stretches there when it does not lie on it as a whole.
    fn home(&mut self, path: &Path, without: &[usize]) -> Option<(usize, Option<Stretches>)> {
        let near = |index: &usize, bounds: &Bounds| {
            !without.contains(index) && self.extents[*index].0.touches(bounds)
        };
        let middle = path.segments().map(|s| s.point_at(0.5)).find_map(|p| {
            (0..self.parts.len())
                .filter(|i| near(i, &Bounds::new(p, p)))
                .filter(|i| self.parts[*i].outline.outer.surrounds(p))
                .min_by(|a, b| self.extents[*a].1.total_cmp(&self.extents[*b].1))
        });
        if let Some(index) = middle {
            return Some((index, self.stretches(index, path).ok().flatten()));
        }
        // No piece has its middle on a part, yet an end may lie on one.
        let bounds = path.segments().map(|s| s.bounds()).reduce(Bounds::union)?;
        let mut others: Vec<usize> = (0..self.parts.len()).filter(|i| near(i, &bounds)).collect();
        others.sort_by(|a, b| self.extents[*a].1.total_cmp(&self.extents[*b].1));
        others
            .into_iter()
            .find_map(|index| Some((index, self.stretches(index, path).ok()?)))
    }

    /// The stretches of a mark on a part and beyond it; none when all of it lies on the part.
    ///
    /// # Errors
    /// When nothing of it does.
    fn stretches(&mut self, index: usize, path: &Path) -> Result<Option<Stretches>, ()> {
        let outer = &self.parts[index].outline.outer;
        let edges = self.edges[index].get_or_insert_with(|| Edges::of(outer));
        let length = path.length();
        let mut cuts = edges.met_along(path);
        cuts.retain(|c| (BEYOND..=length - BEYOND).contains(c));
        let mut boundary = None;
        let mut is_on = |from: f64, to: f64| {
            [0.5, 0.25, 0.75].into_iter().all(|share| {
                let p = place_at(path, from + share * (to - from));
                outer.surrounds(p) || {
                    let boundary = boundary.get_or_insert_with(|| Boundary::new([outer]));
                    boundary.distance(p) <= BEYOND
                }
            })
        };
        let ends = std::iter::once(0.0).chain(cuts.iter().copied());
        let on: Vec<bool> = ends
            .zip(cuts.iter().copied().chain([length]))
            .map(|(from, to)| is_on(from, to))
            .collect();
        if on.iter().all(|on| *on) {
            return Ok(None);
        }
        if on.iter().all(|on| !*on) {
            return Err(());
        }
        // Where it only touches the edge it is not cut.
        let changes = on.windows(2).map(|pair| pair[0] != pair[1]);
        let cuts = cuts
            .into_iter()
            .zip(changes)
            .filter(|(_, changes)| *changes);
        Ok(Some(Stretches {
            cuts: cuts.map(|(cut, _)| cut).collect(),
            begins_on: on[0],
        }))
    }
}

impl Stretches {
    /// The pieces on the part, and those beyond it.
    fn apart(&self, path: &Path) -> (Vec<Path>, Vec<Path>) {
        let mut pieces = path.cut_at(&self.cuts);
        let mut first = self.begins_on;
        if path.closed && pieces.len() > 2 && pieces.len() % 2 == 1 {
            // It begins in the middle of a stretch, whose end is the last piece.
            if let Some(mut last) = pieces.pop() {
                last.vertices.pop();
                last.vertices.append(&mut pieces[0].vertices);
                pieces[0] = last;
            }
        }
        let (mut on, mut off) = (Vec::new(), Vec::new());
        for piece in pieces {
            match first {
                true => on.push(piece),
                false => off.push(piece),
            }
            first = !first;
        }
        (on, off)
    }
}

/// The place this far along a path.
fn place_at(path: &Path, mut along: f64) -> Point {
    let mut end = path.vertices[0].point;
    for segment in path.segments() {
        let length = segment.length();
        if along < length {
            return segment.point_at(along / length);
        }
        along -= length;
        end = segment.end;
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Outline, Ring, Vertex};

    fn part(outer: Ring) -> DrawnPart {
        DrawnPart {
            outline: Outline::from_rings(outer, Vec::new()),
            name: None,
        }
    }

    fn plate(x: f64) -> DrawnPart {
        let corners = [(x, 0.0), (x + 100.0, 0.0), (x + 100.0, 60.0), (x, 60.0)];
        part(Ring::polygon(corners.map(|(x, y)| Point::new(x, y))))
    }

    fn line(ends: &[(f64, f64)]) -> Path {
        Path {
            vertices: ends.iter().map(|(x, y)| Vertex::new(*x, *y, 0.0)).collect(),
            closed: false,
        }
    }

    /// The marks of each part as the ends of each, and the notes.
    fn placed(paths: Vec<Path>, parts: &mut [DrawnPart]) -> (Vec<Vec<[Point; 2]>>, Vec<String>) {
        let extents: Vec<_> = parts
            .iter()
            .map(|p| (p.outline.bounds(), p.outline.outer.area()))
            .collect();
        let notes = place_marks(paths.into_iter(), parts, &extents);
        let ends = |m: &Path| [m.vertices[0].point, m.vertices[m.vertices.len() - 1].point];
        let marks = parts
            .iter()
            .map(|p| p.outline.marks.iter().map(ends).collect());
        (
            marks.collect(),
            notes.iter().map(ToString::to_string).collect(),
        )
    }

    #[test]
    fn a_mark_is_cut_off_at_the_edge_of_its_part_whatever_its_share_there() {
        for end in [101.0, 150.0, 5000.0] {
            for ends in [[(50.0, 30.0), (end, 30.0)], [(end, 30.0), (50.0, 30.0)]] {
                let (marks, notes) = placed(vec![line(&ends)], &mut [plate(0.0)]);
                assert_eq!(marks[0].len(), 1, "{end}");
                for p in marks[0][0] {
                    assert!((p.y - 30.0).abs() < 1e-9);
                    assert!((p.x - 50.0).abs().min((p.x - 100.0).abs()) < 1e-9);
                }
                assert_eq!(
                    notes,
                    [
                        "1 mark runs beyond the edge of its part and is cut off there, the first at (100, 30)"
                    ]
                );
            }
        }
    }

    #[test]
    fn a_mark_on_its_part_stays_as_it_is_drawn() {
        // From edge to edge, along the edge, touching it, a hair beyond it, and round.
        let mut round = line(&[(10.0, 30.0), (30.0, 30.0)]);
        (
            round.closed,
            round.vertices[0].bulge,
            round.vertices[1].bulge,
        ) = (true, 1.0, 1.0);
        let paths = vec![
            line(&[(0.0, 30.0), (100.0, 30.0)]),
            line(&[(0.0, 0.0), (100.0, 0.0)]),
            line(&[(20.0, 30.0), (50.0, 60.0), (80.0, 30.0)]),
            line(&[(-0.04, 20.0), (100.04, 20.0)]),
            round,
        ];
        let mut parts = [plate(0.0)];
        let (_, notes) = placed(paths.clone(), &mut parts);
        assert_eq!(notes, [] as [String; 0]);
        assert_eq!(parts[0].outline.marks, paths);
    }

    #[test]
    fn what_lies_on_the_next_part_goes_there_and_the_rest_is_left_out() {
        let across = line(&[(50.0, 30.0), (170.0, 30.0)]);
        let beside = line(&[(300.0, 1.0), (310.0, 1.0)]);
        let (marks, notes) = placed(vec![across, beside], &mut [plate(0.0), plate(120.0)]);
        let at = |x: f64| Point::new(x, 30.0);
        let near =
            |a: [Point; 2], b: [Point; 2]| a[0].distance(b[0]) < 1e-9 && a[1].distance(b[1]) < 1e-9;
        assert!(near(marks[0][0], [at(50.0), at(100.0)]), "{marks:?}");
        assert!(near(marks[1][0], [at(120.0), at(170.0)]), "{marks:?}");
        assert_eq!((marks[0].len(), marks[1].len(), notes.len()), (1, 1, 2));
        assert!(notes[0].contains("(300, 1) lies on no part"), "{notes:?}");
    }

    #[test]
    fn a_round_mark_that_runs_out_keeps_one_piece_on_the_part() {
        for turn in [1.0, -1.0] {
            // Begun on the part, and begun beyond it.
            for x in [80.0, 120.0] {
                let mut round = line(&[(x, 30.0), (200.0 - x, 30.0)]);
                (
                    round.closed,
                    round.vertices[0].bulge,
                    round.vertices[1].bulge,
                ) = (true, turn, turn);
                let mut parts = [plate(0.0)];
                placed(vec![round], &mut parts);
                let marks = &parts[0].outline.marks;
                assert_eq!(marks.len(), 1);
                assert!((marks[0].length() - 20.0 * std::f64::consts::PI).abs() < 1e-6);
                let inside = |p: Point| p.x <= 100.0 + 1e-6;
                assert!(marks[0].segments().all(|s| inside(s.point_at(0.5))));
            }
        }
    }
}
