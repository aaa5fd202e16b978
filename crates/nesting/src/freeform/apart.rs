//! Frames and their windows taken apart.
//!
//! A frame with parts in its window hardly moves while parts are pushed about: the parts would have to come along. So the
//! nest is put as another problem: frames are solid, and their windows are stock of their own, as many as there are
//! frames, each costing what it is worth while it is empty. What lies in a window then goes wherever its frame goes,
//! parts change between sheets and windows as they do between sheets, and every move works on windows too. Put together
//! again, the contents of each kind of window lie in any frames that have one.
//!
//! What lies in a window turns with its frame. So frames turn only by what all parts may be turned by, from how they lie in
//! the nest; copies that lie otherwise are parts of their own, and so are those on stock with other rules.

#[cfg(test)]
mod tests;

use super::fill::Sheet;
use super::holes::{Holes, Laid, Lying, least_rate, stock_of};
use super::nesting::{Nesting, Worth};
use super::region::Item;
use super::tables::Tables;
use super::work::Work;
use crate::{Angles, Part, Problem, Stock, StockKind, Turn};
use panelwright_geometry::{Bounds, Placement, Point, Polygon};

/// Kinds of windows above which their tables would take longer than they save.
const MOST_KINDS: usize = 60;

/// Angles this near to each other, in degrees, are the same.
const SAME_ANGLE: f64 = 1e-9;

/// Frames that lie alike, but for turns that all parts allow, on stock with the same rules.
struct Frame {
    /// Index of the part in the nest.
    part: usize,
    /// Index of stock that one lies on.
    stock: usize,
    /// The angle at which it is drawn in the problem taken apart.
    angle_deg: f64,
    /// By hole, in the order of [`Holes::at`]: the stock that it is, and its size at that angle.
    holes: Vec<(usize, [f64; 2])>,
}

/// Where a part of the problem taken apart lies in the nest that it was made of.
struct Place {
    part: usize,
    angle_deg: f64,
    /// Lower left corner of its bounds.
    at: Point,
    /// Its field where it lies on a sheet.
    field: usize,
}

/// A nest with its frames and windows taken apart.
pub(super) struct Apart {
    /// The parts of the nest, then the frames; the stock of the nest, then the windows.
    pub problem: Problem,
    /// How many of these are of the nest.
    parts: usize,
    stock: usize,
    frames: Vec<Frame>,
    holes: Holes,
    /// What lay on each sheet and in each window.
    laid: Vec<(usize, Vec<Place>)>,
}

impl Apart {
    /// `nesting` taken apart; `None` where it has no windows, where what lies in them could not go along with them, or where there
    /// are remnants.
    ///
    /// Which remnants are taken depends on what lies in windows, so sheets emptied with all that is in their frames do better
    /// there (ten orders of 60 parts with 12 remnants, 6 s on one core: 1.473 times the floor, taken apart 1.514 to 1.546).
    pub fn of(tables: &Tables, nesting: &Nesting) -> Option<Self> {
        let given = tables.problem;
        // What lies in the window of a frame without grain could not go along to stock with one.
        let with_grain = given.stock.iter().filter(|s| s.grain_deg.is_some()).count();
        let mixed = has_grain(given) && with_grain > 0 && with_grain < given.stock.len();
        let has_remnants = given.stock.iter().any(|s| s.kind == StockKind::Remnant);
        if !given.use_cutouts || has_remnants || mixed || nesting.missing.iter().any(|n| *n > 0) {
            return None;
        }
        let turns = common_turns(given)?;
        let mut apart = Self {
            problem: given.clone(),
            parts: given.parts.len(),
            stock: given.stock.len(),
            frames: Vec::new(),
            holes: Holes::of_parts_in(tables, nesting),
            laid: Vec::new(),
        };
        for (sheet, _) in &nesting.sheets {
            apart.add(tables, sheet, turns)?;
        }
        (!apart.frames.is_empty()).then_some(apart)
    }

    /// Takes apart what lies on a sheet.
    fn add(&mut self, tables: &Tables, sheet: &Sheet, turns: u8) -> Option<()> {
        let laid = Laid::new(tables, sheet, &mut self.holes);
        let all = 0..laid.items.len();
        let angle_of = |item: usize| {
            let Item { pose, at, .. } = laid.items[item];
            pose.placement(*at).angle_deg()
        };
        // By item: the frame that it is a copy of.
        let mut frames: Vec<Option<usize>> = Vec::with_capacity(laid.items.len());
        // Its windows, each with the item and what lies in it.
        let mut windows: Vec<(usize, &Lying)> = Vec::new();
        let mut filled: Vec<(usize, Vec<Place>)> = Vec::new();
        for item in all.clone() {
            let own = &laid.holes[item];
            if own.is_empty() || !own.iter().all(|hole| laid.is_free((item, hole))) {
                frames.push(None);
                continue;
            }
            let frame = self.frame(tables, laid.items[item], sheet.stock, turns)?;
            frames.push(Some(frame));
            windows.extend(own.iter().map(|hole| (item, hole)));
            let kinds = self.frames[frame].holes.iter();
            filled.extend(kinds.map(|(kind, _)| (*kind, Vec::new())));
        }
        let mut on_sheet = Vec::new();
        for item in all {
            let mut place = Place {
                part: laid.items[item].part,
                angle_deg: angle_of(item),
                at: laid.items[item].at,
                field: sheet.items[item].0,
            };
            if let Some(frame) = frames[item] {
                place.part = self.parts + frame;
                place.angle_deg -= self.frames[frame].angle_deg;
            }
            let mut inner: &mut Vec<Place> = &mut on_sheet;
            let lies_in = (0..windows.len()).filter(|w| laid.is_in(item, windows[*w]));
            let area = |w: &usize| windows[*w].1.bounds.area();
            // The innermost window.
            if let Some(window) = lies_in.min_by(|v, w| area(v).total_cmp(&area(w))) {
                let (outer, hole) = windows[window];
                let drawn = self.frames[frames[outer]?].angle_deg;
                let by = quarters(drawn - angle_of(outer));
                let size = |b: Bounds| [b.width(), b.height()];
                let (own, room) = (laid.bounds[item], hole.bounds);
                place.at = turned_in(place.at - room.min.to_vec(), size(own), size(room), by);
                place.angle_deg += 90.0 * f64::from(by);
                inner = &mut filled[window].1;
            }
            place.angle_deg = place.angle_deg.rem_euclid(360.0);
            inner.push(place);
        }
        self.laid.push((sheet.stock, on_sheet));
        self.laid.extend(filled);
        Some(())
    }

    /// The frame that an item on `stock` is a copy of, now one more of it.
    fn frame(&mut self, tables: &Tables, item: &Item, stock: usize, turns: u8) -> Option<usize> {
        let given = tables.problem;
        let (part, sheet) = (&given.parts[item.part], &given.stock[stock]);
        let by = 360.0 / f64::from(turns);
        let angle = item.pose.placement(item.at).angle_deg().rem_euclid(by);
        let angle = if same_angle(angle, by) { 0.0 } else { angle };
        let holes = self.holes.at(tables, item.part, angle).iter();
        let holes: Vec<(usize, Polygon)> = holes.map(|h| (h.index, h.shape.clone())).collect();
        let mut kinds = Vec::with_capacity(holes.len());
        for (_, shape) in &holes {
            let rate = least_rate(given);
            let problem = &mut self.problem;
            let kind = stock_of(problem, self.stock, MOST_KINDS, sheet, shape, rate)?;
            let size = shape.bounds();
            kinds.push((kind, [size.width(), size.height()]));
        }
        let is_like = |frame: &Frame| {
            frame.part == item.part
                && same_angle(frame.angle_deg, angle)
                && have_same_rules(&given.stock[frame.stock], sheet)
        };
        let frame = self.frames.iter().position(is_like).unwrap_or_else(|| {
            let mut solid = part.outline.clone();
            let mut index = 0..solid.holes.len();
            (solid.holes).retain(|_| index.next().is_none_or(|i| holes.iter().all(|h| h.0 != i)));
            self.problem.parts.push(Part {
                outline: solid.placed(&Placement::new(angle, Point::default())),
                quantity: 0,
                turn: match turns {
                    4 => Turn::Quarter,
                    2 => Turn::Half,
                    _ => Turn::None,
                },
                // Frames stay on stock with the same rules, since what lies in their windows may need it.
                grain_deg: sheet.grain_deg.filter(|_| has_grain(given)),
                good_faces: sheet.good_faces,
                ..part.clone()
            });
            self.frames.push(Frame {
                part: item.part,
                stock,
                angle_deg: angle,
                holes: kinds,
            });
            self.frames.len() - 1
        });
        self.problem.parts[self.parts + frame].quantity += 1;
        self.problem.parts[item.part].quantity -= 1;
        Some(frame)
    }

    /// The nest as one of the problem taken apart, whose tables are `own`.
    pub fn present(&self, own: &Tables, work: &mut Work) -> Option<Nesting> {
        let mut present = Nesting {
            sheets: Vec::new(),
            missing: vec![0; self.problem.parts.len()],
        };
        for (stock, places) in self.laid.iter().filter(|(_, places)| !places.is_empty()) {
            let in_window = own.fields_of(*stock).start;
            let item = |place: &Place| {
                let pose = (own.catalogue).pose_alike(place.part, *stock, place.angle_deg)?;
                let on_sheet = *stock < self.stock;
                let field = if on_sheet { place.field } else { in_window };
                let (part, at) = (place.part, place.at);
                Some((field, Item { part, pose, at }))
            };
            let sheet = Sheet {
                stock: *stock,
                items: places.iter().map(item).collect::<Option<_>>()?,
            };
            let worth = Worth::of(&sheet, own, work);
            present.sheets.push((sheet, worth));
        }
        Some(present)
    }

    /// `found`, a nest of the problem taken apart, put together again; `None` where something would lie as the nest does not
    /// know it.
    pub fn together(
        &mut self,
        tables: &Tables,
        own: &Tables,
        found: &Nesting,
        work: &mut Work,
    ) -> Option<Nesting> {
        let (parts, stock) = (self.parts, self.stock);
        let mut filled: Vec<Vec<&Sheet>> = vec![Vec::new(); self.problem.stock.len()];
        // Taken from the end, so that sheets with the same contents follow each other.
        for (sheet, _) in found.sheets.iter().rev() {
            filled[sheet.stock].push(sheet);
        }
        let mut builder = Builder {
            apart: self,
            tables,
            own,
            filled,
        };
        let mut together = Nesting {
            sheets: Vec::new(),
            missing: found.missing[..parts].to_vec(),
        };
        for (sheet, _) in found.sheets.iter().filter(|(s, _)| s.stock < stock) {
            let mut whole = Sheet {
                stock: sheet.stock,
                items: Vec::with_capacity(sheet.items.len()),
            };
            for (field, item) in &sheet.items {
                let Item { part, pose, at } = *item;
                builder.lay(&mut whole, *field, part, pose.angle_deg, at)?;
            }
            let worth = Worth::of(&whole, tables, work);
            together.sheets.push((whole, worth));
        }
        let nothing_left = builder.filled[stock..].iter().all(Vec::is_empty);
        let whole = found.missing.iter().all(|n| *n == 0);
        (nothing_left && whole).then_some(together)
    }
}

/// Puts sheets together.
struct Builder<'a, 't, 's> {
    apart: &'a mut Apart,
    tables: &'a Tables<'t>,
    own: &'a Tables<'a>,
    /// By stock: windows with what lies in them that no frame has yet.
    filled: Vec<Vec<&'s Sheet>>,
}

impl Builder<'_, '_, '_> {
    /// Lays a part of the problem taken apart on `sheet`, and in its windows what belongs there.
    fn lay(
        &mut self,
        sheet: &mut Sheet,
        field: usize,
        part: usize,
        angle_deg: f64,
        at: Point,
    ) -> Option<()> {
        let mut add = |part: usize, angle: f64| {
            let angle = angle.rem_euclid(360.0);
            let pose = (self.tables.catalogue).pose_alike(part, sheet.stock, angle)?;
            sheet.items.push((field, Item { part, pose, at }));
            Some(pose.placement(at))
        };
        let Some(frame) = part.checked_sub(self.apart.parts) else {
            return add(part, angle_deg).map(|_| ());
        };
        let frame = &self.apart.frames[frame];
        let placed = add(frame.part, frame.angle_deg + angle_deg)?;
        let by = quarters(placed.angle_deg() - frame.angle_deg);
        let holes = self
            .apart
            .holes
            .at(self.tables, frame.part, placed.angle_deg());
        let corners = holes.iter().map(|hole| hole.at + placed.origin.to_vec());
        let windows: Vec<_> = frame.holes.iter().copied().zip(corners).collect();
        for ((kind, size), corner) in windows {
            for (_, item) in self.filled[kind]
                .pop()
                .map_or(&[][..], |sheet| &sheet.items)
            {
                let turned = &self.own.catalogue.turned[item.pose.turned];
                let local = turned_in(item.at, [turned.width, turned.height], size, by);
                let angle = item.pose.angle_deg + 90.0 * f64::from(by);
                self.lay(sheet, field, item.part, angle, corner + local.to_vec())?;
            }
        }
        Some(())
    }
}

/// By how many of four quarters in all everything may be turned together: 4 for any quarter turn, 2 for half turns, 1 for none;
/// `None` where a part turns freely.
fn common_turns(problem: &Problem) -> Option<u8> {
    let mut turns = 4;
    for part in problem.parts.iter().filter(|part| part.quantity > 0) {
        for stock in &problem.stock {
            let Angles::Listed(angles) = part.angles(stock) else {
                return None;
            };
            let may = |angle: f64| angles.iter().any(|a| same_angle(*a, angle));
            while turns > 1 && !angles.iter().all(|a| may(a + 360.0 / f64::from(turns))) {
                turns /= 2;
            }
        }
    }
    Some(turns)
}

fn has_grain(problem: &Problem) -> bool {
    problem.parts.iter().any(|part| part.grain_deg.is_some())
}

/// Whether what may lie on one may lie on the other as well, and what is left of them is kept by the same rule.
fn have_same_rules(one: &Stock, other: &Stock) -> bool {
    one.grain_deg == other.grain_deg && one.good_faces == other.good_faces && one.keep == other.keep
}

fn same_angle(one: f64, other: f64) -> bool {
    let off = (one - other).rem_euclid(360.0);
    off.min(360.0 - off) < SAME_ANGLE
}

/// A multiple of a right angle, in quarters.
fn quarters(angle_deg: f64) -> u8 {
    (angle_deg / 90.0).round().rem_euclid(4.0) as u8
}

/// Where the lower left corner of a part in a room comes to lie when both are turned by so many quarters; both by their sizes.
fn turned_in(at: Point, [w, h]: [f64; 2], [width, height]: [f64; 2], quarters: u8) -> Point {
    match quarters {
        0 => at,
        1 => Point::new(height - at.y - h, at.x),
        2 => Point::new(width - at.x - w, height - at.y - h),
        _ => Point::new(at.y, width - at.x - w),
    }
}
