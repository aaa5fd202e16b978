//! A line of a part where it lies on a piece: the ways to begin it, its leads clear of everything else, and how it is
//! drawn once one is chosen.

use super::contour::{Contour, Start, Work};
use super::figures::CutFigures;
use super::lead::Lead;
use super::tool::Tool;
use super::{Pass, hold};
use crate::cut_plan::CutSheet;
use crate::input::{Hold, LeadShape};
use crate::layer::Layer;
use crate::shape::Shape;
use panelwright_geometry::{Boundary, Bounds, Outline, Path, Placement, Point, Ring, Vertex};

/// A line where it lies, before its place in the order and its beginning are chosen.
pub(super) struct Task<'a> {
    part: usize,
    pub contour: &'a Contour,
    pub placement: Placement,
    depth: u32,
    occupied: bool,
    /// The ways to begin it.
    pub ways: Vec<(&'a Start, Option<Lead>)>,
}

/// What leads on a piece must keep off, and which part each ring of it belongs to.
pub(super) struct Obstacles {
    boundary: Boundary,
    owners: Vec<Option<usize>>,
    /// Bounds of what lies in windows: other parts and kept offcuts.
    guests: Vec<(Option<usize>, Bounds)>,
}

impl Obstacles {
    pub fn of(sheet: &CutSheet) -> Self {
        let mut rings: Vec<Ring> = Vec::new();
        let mut owners = Vec::new();
        let mut guests = Vec::new();
        for (i, part) in sheet.parts.iter().enumerate() {
            rings.extend(part.outline.rings().cloned());
            owners.resize(rings.len(), Some(i));
            guests.push((Some(i), part.outline.bounds()));
        }
        let kept = sheet.offcuts.iter().filter(|o| o.kept);
        for offcut in kept {
            guests.push((None, offcut.outline.bounds()));
            rings.extend(
                offcut
                    .outline
                    .rings()
                    .map(|r| Ring::polygon(r.iter().copied())),
            );
        }
        let zones = sheet.zones.iter().map(|z| &z.outline);
        let edges = std::iter::once(&sheet.outline).chain(&sheet.voids);
        let others = edges.chain(zones).filter(|r| r.len() > 2);
        rings.extend(others.map(|r| Ring::polygon(r.iter().copied())));
        let blanks = sheet.blanks.iter();
        rings.extend(blanks.map(|b| Ring::polygon(b.corners())));
        owners.resize(rings.len(), None);
        Self {
            boundary: Boundary::new(&rings),
            owners,
            guests,
        }
    }

    /// Whether anything but the part itself lies within these bounds.
    fn any_in(&self, bounds: &Bounds, part: usize) -> bool {
        self.guests
            .iter()
            .any(|(owner, guest)| *owner != Some(part) && bounds.contains(guest))
    }
}

impl<'a> Task<'a> {
    pub fn new(
        part: usize,
        contour: &'a Contour,
        placement: Placement,
        depth: u32,
        occupied: bool,
        obstacles: Option<&Obstacles>,
        tool: &Tool,
    ) -> Self {
        let line_bounds = || {
            Outline::from_rings(Ring::new(contour.line.vertices.clone()), Vec::new())
                .placed(&placement)
                .bounds()
        };
        // Nothing of others reaches into an opening unless it lies wholly inside.
        let near = obstacles.filter(|o| match contour.work {
            Work::Mark => false,
            Work::Outside => true,
            Work::Inside(_) => o.any_in(&line_bounds(), part),
        });
        let lead_of = |start: &Start| -> Option<Lead> {
            let mut leads = start.leads.iter().copied();
            leads.find(|lead| {
                near.is_none_or(|o| {
                    let (lead, at) = (lead.placed(&placement), placement.apply(start.at));
                    let own = |ring: usize| o.owners[ring] == Some(part);
                    lead.is_clear_of_others(at, &o.boundary, tool.radius, own)
                })
            })
        };
        let all = contour.starts.iter();
        let mut ways: Vec<_> = all.map(|s| (s, lead_of(s))).collect();
        // The longest lead that is to be had anywhere, give or take a little.
        let length = |way: &(&Start, Option<Lead>)| way.1.map_or(0.0, |l| l.length(way.0.at));
        let longest = ways.iter().map(length).fold(0.0, f64::max);
        ways.retain(|way| length(way) >= 0.6 * longest);
        Self {
            part,
            contour,
            placement,
            depth,
            occupied,
            ways,
        }
    }

    /// The block of the order that it belongs to; see the module's text.
    pub fn block(&self, small: f64) -> (u8, i64, u8, u8) {
        let size = u8::from(self.contour.area >= small);
        let depth = i64::from(self.depth);
        match self.contour.work {
            Work::Mark => (0, 0, 0, 0),
            // What falls out of an opening is scrap: its size does not matter, the way does.
            Work::Inside(_) if !self.occupied => (1, 0, 0, 0),
            // Between the parts that lie in it and the outlines of its own depth.
            Work::Inside(_) => (2, -depth, 0, size),
            Work::Outside => (2, -depth, 1, size),
        }
    }

    /// Where the tool begins and ends, by the way chosen.
    pub fn ends(&self, way: usize) -> (Point, Point) {
        let (start, lead) = &self.ways[way];
        let (from, to) = lead.map_or((start.at, start.end), |l| (l.from, l.to));
        (self.placement.apply(from), self.placement.apply(to))
    }
}

impl Task<'_> {
    /// The pass by the way chosen; adds what it amounts to.
    pub fn drawn(&self, way: usize, tool: &Tool, figures: &mut CutFigures) -> Pass {
        let (start, lead) = &self.ways[way];
        let lines = match self.contour.work {
            Work::Mark => {
                let line = self.begun(start);
                figures.mark_length += line.length();
                vec![(Layer::Mark, Shape::mark(&line))]
            }
            work if !tool.follows_path() => {
                figures.cut_length += self.contour.line.length();
                figures.pierces += 1;
                let layer = match work {
                    Work::Outside => Layer::Outside(self.depth),
                    _ => Layer::Inside(self.depth),
                };
                let Path { mut vertices, .. } = self.contour.line.clone();
                vertices.rotate_left(start.on.0);
                vec![(layer, Shape::closed(&Ring::new(vertices)))]
            }
            _ => self.path(start, lead.as_ref(), tool, figures),
        };
        let place = |(layer, shape): (Layer, Shape)| (layer, shape.placed(&self.placement));
        Pass {
            part: self.part,
            work: self.contour.work,
            lines: lines.into_iter().map(place).collect(),
            occupied: self.occupied,
        }
    }

    /// A mark as it is begun.
    fn begun(&self, start: &Start) -> Path {
        let line = &self.contour.line;
        if start.reversed {
            return line.reversed();
        }
        let mut line = line.clone();
        if line.closed {
            line.vertices.rotate_left(start.on.0);
        }
        line
    }

    /// The tool's path with its lead and tabs.
    fn path(
        &self,
        start: &Start,
        lead: Option<&Lead>,
        tool: &Tool,
        figures: &mut CutFigures,
    ) -> Vec<(Layer, Shape)> {
        let outside = self.contour.work == Work::Outside;
        let small = outside && self.contour.area < tool.small_area;
        let ring = Ring::new(self.contour.line.vertices.clone());
        let path = ring.opened_at(start.on.0, start.on.1);
        let tabs = match tool.hold {
            Hold::Tabs if small => hold::tabs(&path, tool),
            _ => Vec::new(),
        };
        let layer = match tool.hold {
            _ if !outside => Layer::PathInside(self.depth),
            Hold::Skin if small => Layer::PathSkin(self.depth),
            _ => Layer::PathOutside(self.depth),
        };
        figures.skins += usize::from(matches!(layer, Layer::PathSkin(_)));
        figures.not_held += usize::from(small && tool.hold == Hold::Tabs && tabs.is_empty());
        figures.tabs += tabs.len();
        // Where none was asked for, or there is no edge to come to, there is nothing to tell.
        let wanted = tool.lead != LeadShape::None && !self.contour.plunge;
        figures.without_lead += usize::from(wanted && lead.is_none());
        figures.pierces += 1;
        figures.cut_length += path.length();
        if tool.tab_height.is_none() {
            // Over a gap the tool is off, and it has to go through the sheet again behind it.
            figures.pierces += tabs.len();
            let gaps = tabs.iter().map(|(from, to)| to - from).sum::<f64>();
            figures.cut_length -= gaps;
            figures.travel += gaps;
        }
        if tabs.is_empty() && lead.is_none() {
            let mut vertices = path.vertices;
            vertices.pop();
            // Not as a circle, which has no start of its own.
            return vec![(layer, Shape::Ring(Ring::new(vertices)))];
        }
        let cuts: Vec<f64> = tabs.iter().flat_map(|(from, to)| [*from, *to]).collect();
        let mut pieces = path.cut_at(&cuts);
        if let Some(lead) = lead {
            figures.cut_length += lead.length(start.at);
            with_lead(&mut pieces, lead);
        }
        pieces
            .iter()
            .enumerate()
            .filter_map(|(i, piece)| match i % 2 {
                0 => Some((layer, Shape::mark(piece))),
                _ => tool
                    .tab_height
                    .map(|_| (Layer::PathTab(self.depth), Shape::mark(piece))),
            })
            .collect()
    }
}

/// Puts a lead before the first piece and behind the last.
fn with_lead(pieces: &mut [Path], lead: &Lead) {
    if let Some(first) = pieces.first_mut() {
        let from = Vertex {
            point: lead.from,
            bulge: lead.into,
        };
        first.vertices.insert(0, from);
    }
    if let Some(last) = pieces.last_mut() {
        if let Some(end) = last.vertices.last_mut() {
            end.bulge = lead.out_of;
        }
        last.vertices.push(Vertex {
            point: lead.to,
            bulge: 0.0,
        });
    }
}
