//! One piece of stock filled part by part.

use super::region::{Item, Pull, Region};
use super::shape::Pose;
use super::tables::Tables;
use super::work::{Watch, Work};
use crate::{Layout, PlacedPart};
use rand::RngExt;
use rand_pcg::Pcg64Mcg;

/// What lies on one piece of stock.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sheet {
    /// Index of the stock.
    pub stock: usize,
    /// The parts, each with the index of its field.
    pub items: Vec<(usize, Item)>,
}

impl Sheet {
    /// Area of the parts, holes and pinned parts not counted.
    pub fn part_area(&self, tables: &Tables) -> f64 {
        self.items
            .iter()
            .map(|(_, item)| tables.catalogue.shape(item.part).area)
            .sum()
    }

    /// The layout with the left-overs that are kept, and what it costs.
    pub fn valued(&self, tables: &Tables) -> (Layout, f64) {
        let mut layout = self.layout(tables);
        layout.offcuts = tables.offcuts.kept(&layout);
        let spend = crate::spend_of(tables.problem, &layout);
        (layout, spend)
    }

    /// The layout without left-overs.
    pub fn layout(&self, tables: &Tables) -> Layout {
        let mut layout = Layout::bare(tables.problem, self.stock);
        layout
            .placed
            .extend(self.items.iter().map(|(_, item)| PlacedPart {
                part: item.part,
                placement: item.pose.placement(item.at),
            }));
        layout
    }
}

/// Parts in a row that do not fit before others of about their size are passed over in a hurry.
const TRUST: u32 = 8;

/// Angles this near to each other, in degrees, are the same.
const SAME_ANGLE: f64 = 1e-9;

/// How places are chosen.
#[derive(Debug)]
pub(super) struct Taste<'r> {
    /// What makes a place good.
    pub pull: Pull,
    /// Whims in the choice between poses, as a share of the part's size; 0 for none.
    pub blur: f64,
    /// How many of a part's poses are tried, the first ones.
    pub poses: usize,
    /// Whether poses that are half a turn apart from the first one go before all others: copies of one part then lie in
    /// rows, whatever place would look better for one of them.
    pub half_turns: bool,
    /// Whether parts are passed over once several before them in the order did not fit.
    pub hurry: bool,
    /// Where the whims come from.
    pub random: &'r mut Pcg64Mcg,
}

/// A piece of stock being filled.
#[derive(Debug, Clone)]
pub(super) struct Filling<'t> {
    tables: &'t Tables<'t>,
    stock: usize,
    regions: Vec<Region<'t>>,
    /// Parts of which no further copy fits, ever: what is placed only takes room away.
    full_for: Vec<bool>,
    area_left: f64,
}

impl<'t> Filling<'t> {
    /// Empty stock.
    pub fn new(tables: &'t Tables<'t>, stock: usize) -> Self {
        let fields = tables.fields_of(stock);
        Self {
            tables,
            stock,
            area_left: fields.clone().map(|f| tables.fields[f].area).sum(),
            regions: fields.map(|f| Region::new(tables, f)).collect(),
            full_for: vec![false; tables.problem.parts.len()],
        }
    }

    /// Stock with `items` on it, each with its field.
    pub fn with(tables: &'t Tables<'t>, stock: usize, items: &[(usize, Item)]) -> Self {
        let mut filling = Self::new(tables, stock);
        for (field, item) in items {
            let region = filling.regions.iter_mut().find(|r| r.field == *field);
            if let Some(region) = region {
                region.place(*item);
                filling.area_left -= tables.catalogue.shape(item.part).area;
            }
        }
        filling
    }

    /// Lays down as many of the copies that are `left` as fit, in this order (see [`fill`]), and takes
    /// them off there.
    pub fn fill(
        &mut self,
        order: &[(usize, u32)],
        left: &mut [u32],
        taste: &mut Taste,
        watch: &Watch,
        work: &mut Work,
    ) {
        let (mut failed, mut pass_over) = (0_u32, 0_u32);
        for &(part, copies) in order {
            if left[part] == 0 || copies == 0 || self.full_for[part] {
                continue;
            }
            if pass_over > 0 {
                pass_over -= 1;
                continue;
            }
            let mut added = false;
            for _ in 0..copies.min(left[part]) {
                let stopped = || watch.stopped();
                if stopped() || work.spent() || !self.add(part, taste, &stopped, work) {
                    break;
                }
                left[part] -= 1;
                added = true;
            }
            failed = if added { 0 } else { failed + 1 };
            // Never before something lies there: no part may be passed over on all stock.
            let begun = self.regions.iter().any(|r| !r.items.is_empty());
            if begun && taste.hurry && failed > TRUST {
                // Twice as far each time: an order of hundreds of kinds is through in a few looks.
                pass_over = 1 << (failed - TRUST).min(16);
            }
        }
    }

    /// Lays down one copy of `part` where `taste` likes it best; false when it does not fit, or when `stopped` said so
    /// first: where shapes are intricate, tables for one copy can take a second.
    pub fn add(
        &mut self,
        part: usize,
        taste: &mut Taste,
        stopped: &dyn Fn() -> bool,
        work: &mut Work,
    ) -> bool {
        let area = self.tables.catalogue.shape(part).area;
        if self.full_for[part] || area > self.area_left * (1.0 + 1e-9) + 1e-6 {
            return false;
        }
        for region in &mut self.regions {
            let mut best: Option<(f64, Item)> = None;
            let poses = self.tables.catalogue.poses(part, self.stock);
            let poses = &poses[..poses.len().min(taste.poses)];
            let in_row = |pose: &&Pose| {
                let off = (pose.angle_deg - poses[0].angle_deg).rem_euclid(180.0);
                !taste.half_turns || off.min(180.0 - off) < SAME_ANGLE
            };
            let in_rows = poses.iter().filter(in_row).count();
            let rest = poses.iter().filter(|pose| !in_row(pose));
            for (i, pose) in poses.iter().filter(in_row).chain(rest).enumerate() {
                if i == in_rows && best.is_some() {
                    break;
                }
                if stopped() {
                    return false;
                }
                let Some((mut cost, at)) = region.best(pose.turned, taste.pull, work) else {
                    continue;
                };
                if taste.blur > 0.0 {
                    let turned = &self.tables.catalogue.turned[pose.turned];
                    let size = turned.width + turned.height;
                    cost += taste.blur * size * taste.random.random::<f64>();
                }
                if best.is_none_or(|(least, _)| cost < least - 1e-9) {
                    let item = Item {
                        part,
                        pose: *pose,
                        at,
                    };
                    best = Some((cost, item));
                }
            }
            if let Some((_, item)) = best {
                region.place(item);
                self.area_left -= area;
                return true;
            }
        }
        self.full_for[part] = true;
        false
    }

    /// What lies on it.
    pub fn sheet(&self) -> Sheet {
        Sheet {
            stock: self.stock,
            items: self
                .regions
                .iter()
                .flat_map(|r| r.items.iter().map(|item| (r.field, *item)))
                .collect(),
        }
    }
}

/// Fills `stock` with as many of the `wanted` copies as fit.
///
/// `order` names parts and how many copies of each to try before the next; a part may come up again.
pub(super) fn fill(
    tables: &Tables,
    stock: usize,
    order: &[(usize, u32)],
    wanted: &[u32],
    taste: &mut Taste,
    watch: &Watch,
    work: &mut Work,
) -> Sheet {
    let mut filling = Filling::new(tables, stock);
    filling.fill(order, &mut wanted.to_vec(), taste, watch, work);
    filling.sheet()
}
