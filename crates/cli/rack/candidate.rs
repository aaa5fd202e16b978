//! A first look at remnants: which of a large rack are worth a nest at all, without reading a shape.

use super::store::Db;
use super::value::keep_value;
use crate::Result;
use crate::input::{Machine, Process};
use crate::job::{Item, Shop};
use crate::remnant::Remnant;
use panelwright_geometry::{Placement, Point, tolerance};
use panelwright_nesting::{Angles, KeepRule, Part, Stock};
use std::collections::{BTreeMap, BTreeSet};

/// What is known of a remnant without its shape. Lengths in millimetres.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sketchy {
    pub id: String,
    /// Sides of the bounding rectangle along x and y.
    pub size: [f64; 2],
    pub area: f64,
    /// Sides of the largest upright rectangle without void or flaw; `None` where that was not measured.
    pub clear: Option<[f64; 2]>,
    /// Its own book value.
    pub value: Option<f64>,
    pub good_faces: u8,
    pub grain_deg: Option<f64>,
}

impl Sketchy {
    /// All of one material on the rack; an index holds everything asked for.
    pub fn on_rack(db: Db<'_>, material: &str) -> Result<Vec<Self>> {
        db.rows(
            "SELECT id, length, width, area, clear_length, clear_width, value, good_faces, grain_deg \
             FROM remnants WHERE state = 'on-rack' AND material = ?1",
            [material],
            |row| {
                let clear = (row.get::<_, Option<f64>>(4)?, row.get::<_, Option<f64>>(5)?);
                Ok(Self {
                    id: row.get(0)?,
                    size: [row.get(1)?, row.get(2)?],
                    area: row.get(3)?,
                    clear: match clear {
                        (Some(length), Some(width)) => Some([length, width]),
                        _ => None,
                    },
                    value: row.get(6)?,
                    good_faces: row.get(7)?,
                    grain_deg: row.get(8)?,
                })
            },
        )
    }

    /// The same of a remnant in memory; its clear rectangle is not looked for.
    pub fn of(remnant: &Remnant) -> Self {
        let bounds = remnant.outline.bounds();
        let size = [bounds.width(), bounds.height()];
        let area = remnant.outline.area();
        let whole = remnant.flaws.is_empty() && area >= 0.999_999 * size[0] * size[1];
        Self {
            id: remnant.id.clone(),
            size,
            area,
            clear: whole.then_some(size),
            value: remnant.value,
            good_faces: remnant.good_faces,
            grain_deg: remnant.grain_deg,
        }
    }
}

/// What a group of items asks of a piece.
pub(super) struct Asked {
    parts: Vec<AskedPart>,
    /// Area of all copies.
    pub area: f64,
    /// Width that the tool takes beside a part.
    cut: f64,
    /// What no part may lie nearer to the edge than; only for guesses.
    margin: f64,
    /// The same where it holds for every piece; on the saw it depends on the trims.
    sure_margin: f64,
}

struct AskedPart {
    part: Part,
    area: f64,
    /// Extents that it may take, by the grain of the stock; `None` where it turns freely.
    extents: BTreeMap<Option<u64>, Option<Vec<[f64; 2]>>>,
}

impl Asked {
    /// Of items and how many copies, on one machine.
    pub fn new<'a>(items: impl Iterator<Item = (&'a Item, u32)>, machine: &Machine) -> Self {
        let parts: Vec<AskedPart> = items
            .map(|(item, quantity)| AskedPart {
                area: item.outline.area(),
                part: Part {
                    turn: item.turn,
                    grain_deg: item.grain_deg,
                    good_faces: item.good_faces,
                    ..Part::new(item.part.clone(), item.outline.clone(), quantity)
                },
                extents: BTreeMap::new(),
            })
            .collect();
        let copies = |p: &AskedPart| f64::from(p.part.quantity);
        Self {
            area: parts.iter().map(|p| p.area * copies(p)).sum(),
            parts,
            sure_margin: match machine.process {
                Process::Saw => 0.0,
                Process::Router | Process::Laser => machine.margin_on_remnants(),
            },
            cut: machine.gap.unwrap_or(machine.kerf).max(machine.kerf),
            margin: match machine.process {
                Process::Saw => machine.margin + machine.kerf,
                Process::Router | Process::Laser => machine.margin_on_remnants(),
            },
        }
    }

    /// Whether every part could lie on the piece alone, and all of them by their area. Never wrong when
    /// it says no.
    pub fn may_hold_all(&mut self, piece: &Sketchy) -> bool {
        let margin = self.sure_margin;
        self.area <= piece.area + 1.0 && self.parts.iter_mut().all(|p| p.may_lie_on(piece, margin))
    }

    /// Whether one of the parts could lie on the piece.
    pub fn may_hold_one(&mut self, piece: &Sketchy) -> bool {
        let margin = self.sure_margin;
        self.parts.iter_mut().any(|p| p.may_lie_on(piece, margin))
    }

    /// A guess of the value lost when the parts are cut from a piece worth `value`: what is left of its
    /// clear rectangle when they are cut from a corner of that, by the keep rule. `None` where they do not
    /// go into that rectangle, as far as can be told, but may elsewhere on the piece.
    pub fn guess(&mut self, piece: &Sketchy, value: f64, keep: &KeepRule) -> Option<f64> {
        let clear = piece.clear?;
        let lost = |kept: f64| value - kept.min(value);
        let room = clear.map(|side| side - 2.0 * self.margin + tolerance::JUDGE);
        let one = match self.parts.as_mut_slice() {
            [one] if one.part.quantity == 1 => one,
            _ => {
                // Several parts are taken for one strip as wide as the piece, a fifth of it lost.
                let length = self.area / (0.8 * room[1].max(1.0));
                let left = clear[0] - length - self.cut - self.margin;
                return (length <= room[0]).then(|| lost(rest(left, clear[1], keep)));
            }
        };
        let extents = one.extents(piece.grain_deg).clone().unwrap_or_else(|| {
            let bounds = one.part.outline.bounds();
            vec![
                [bounds.width(), bounds.height()],
                [bounds.height(), bounds.width()],
            ]
        });
        extents
            .iter()
            .filter(|e| e[0] <= room[0] && e[1] <= room[1])
            .map(|e| {
                let taken = [0, 1].map(|i| e[i] + self.margin + self.cut);
                let [l, w] = clear;
                let along = rest(l - taken[0], w, keep) + rest(taken[0], w - taken[1], keep);
                let across = rest(l, w - taken[1], keep) + rest(l - taken[0], taken[1], keep);
                lost(along.max(across))
            })
            .min_by(f64::total_cmp)
    }
}

/// What a rectangle that is left is worth.
fn rest(length: f64, width: f64, keep: &KeepRule) -> f64 {
    if length > 0.0 && width > 0.0 && keep.passes(length, width) {
        keep.value_of_rectangle(length, width)
    } else {
        0.0
    }
}

impl AskedPart {
    fn extents(&mut self, grain_deg: Option<f64>) -> &Option<Vec<[f64; 2]>> {
        let part = &self.part;
        self.extents
            .entry(grain_deg.map(f64::to_bits))
            .or_insert_with(|| {
                let stock = Stock {
                    grain_deg,
                    ..Stock::sheet("", 1.0, 1.0, 0.0, 0)
                };
                match part.angles(&stock) {
                    Angles::Any => None,
                    Angles::Listed(angles) => Some(
                        angles
                            .into_iter()
                            .map(|angle| {
                                let turned = Placement::new(angle, Point::default());
                                let bounds = part.outline.outer.placed(&turned).bounds();
                                [bounds.width(), bounds.height()]
                            })
                            .collect(),
                    ),
                }
            })
    }

    fn may_lie_on(&mut self, piece: &Sketchy, margin: f64) -> bool {
        if self.part.good_faces > piece.good_faces || self.area > piece.area + 1.0 {
            return false;
        }
        let slack = tolerance::JUDGE;
        let size = piece.size.map(|side| side - 2.0 * margin);
        match self.extents(piece.grain_deg) {
            None => {
                // However it is turned, it is nowhere narrower than its area over its longest extent.
                let bounds = self.part.outline.bounds();
                let narrow = self.part.outline.outer.area() / bounds.width().hypot(bounds.height());
                narrow <= size[0].min(size[1]) + slack
            }
            Some(extents) => extents
                .iter()
                .any(|e| e[0] <= size[0] + slack && e[1] <= size[1] + slack),
        }
    }
}

/// Most remnants of a material that a nest is given: more of them take long to compare, and a nest
/// takes a dozen at the most.
const MOST_FOR_A_NEST: usize = 120;

/// Of a large rack, the remnants that a job may profit from, in their order: for each kind of part the
/// smallest that may hold it, then the largest ones. All of them where there are no more than 120 of a
/// material. Those whose ids are in `stay` are among them in any case. Returns those left out too.
pub fn promising(
    remnants: Vec<Remnant>,
    items: &[Item],
    shop: &Shop,
    stay: &BTreeSet<String>,
) -> (Vec<Remnant>, Vec<Remnant>) {
    let mut wanted = vec![true; remnants.len()];
    for material in &shop.materials {
        let here: Vec<usize> = (0..remnants.len())
            .filter(|i| remnants[*i].material == material.name)
            .collect();
        if here.len() <= MOST_FOR_A_NEST {
            continue;
        }
        let stays = |i: usize| stay.contains(&remnants[i].id);
        here.iter().for_each(|i| wanted[*i] = stays(*i));
        let index = shop.materials.iter().position(|m| m.name == material.name);
        let mut asked: Vec<Asked> = items
            .iter()
            .filter(|item| Some(item.material) == index)
            .map(|item| Asked::new([(item, 1)].into_iter(), &shop.machines[item.machine]))
            .collect();
        let mut pieces: Vec<(usize, Sketchy)> = here
            .iter()
            .map(|i| (*i, Sketchy::of(&remnants[*i])))
            .collect();
        pieces.sort_by(|a, b| a.1.area.total_cmp(&b.1.area).then(a.0.cmp(&b.0)));
        let share = (MOST_FOR_A_NEST / 2) / asked.len().max(1);
        let mut count = here.iter().filter(|i| stays(**i)).count();
        for part in &mut asked {
            let mut found = 0;
            for (i, piece) in &pieces {
                if found >= share.max(1) || count >= MOST_FOR_A_NEST {
                    break;
                }
                if part.may_hold_one(piece) {
                    found += 1;
                    count += usize::from(!std::mem::replace(&mut wanted[*i], true));
                }
            }
        }
        let useful = |asked: &mut Vec<Asked>, piece: &Sketchy| {
            asked.iter_mut().any(|part| part.may_hold_one(piece))
        };
        for (i, piece) in pieces.iter().rev() {
            if count >= MOST_FOR_A_NEST {
                break;
            }
            if !wanted[*i] && useful(&mut asked, piece) {
                wanted[*i] = true;
                count += 1;
            }
        }
    }
    let mut wanted = wanted.into_iter();
    remnants
        .into_iter()
        .partition(|_| wanted.next() == Some(true))
}

/// What a piece is worth: its own value, or by the keep rule.
pub(super) fn value(shop: &Shop, material: &str, piece: &Sketchy) -> f64 {
    piece
        .value
        .or_else(|| {
            // The border of its bounding rectangle: the true one is not at hand.
            let border = 2.0 * (piece.size[0] + piece.size[1]);
            keep_value(shop, material, piece.area, border)
        })
        .unwrap_or(0.0)
}
