//! What should leave a rack that is full: the least valuable pieces first, as a proposal.

use super::candidate::{Sketchy, value};
use super::hold;
use super::store::{Db, Rack};
use crate::Result;
use crate::job::Shop;
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Bookings that tell what the shop cuts often: the latest ones.
const LATEST: i64 = 200;

/// A piece that takes a part the shop cuts often is worth up to so much more to it than its book value.
/// More lets small pieces that hold some bracket push out large ones; less throws out what would have
/// been cut tomorrow.
const OFTEN_CUT: f64 = 1.0;

/// A piece in order of what it is worth to the shop.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ranked {
    /// Its id.
    pub id: String,
    /// Size along x, millimetres.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Area, square millimetres.
    pub area: f64,
    /// Book value.
    pub value: f64,
    /// Share of the copies cut lately that it could hold, 0 to 1.
    pub often: f64,
    /// What it is ranked by: book value, more where it holds what is cut often.
    pub worth: f64,
}

/// What a material's rack holds against its limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Space {
    /// Material by name.
    pub material: String,
    /// Pieces on the rack.
    pub pieces: usize,
    /// Most pieces there should be.
    pub limit: usize,
    /// What should leave, least worth first.
    pub leave: Vec<Ranked>,
}

/// Proposes which pieces of a material should leave the rack for it to hold no more than `limit`. Pieces
/// held for an order stay. Nothing is changed.
///
/// # Errors
/// The rack cannot be read.
pub fn space(rack: &Rack, shop: &Shop, material: &str, limit: usize) -> Result<Space> {
    let db = rack.db();
    let there = Sketchy::on_rack(db, material)?;
    let pieces = there.len();
    let mut leave = Vec::new();
    if pieces > limit {
        let often = cut_often(db, material)?;
        let held: BTreeSet<String> = hold::standing(db, i64::MIN)?
            .into_iter()
            .map(|hold| hold.remnant.to_ascii_uppercase())
            .collect();
        leave = there
            .iter()
            .filter(|piece| !held.contains(&piece.id.to_ascii_uppercase()))
            .map(|piece| ranked(piece, value(shop, material, piece), &often))
            .collect();
        leave.sort_by(|a, b| {
            let by_area = a.area.total_cmp(&b.area);
            a.worth
                .total_cmp(&b.worth)
                .then(by_area)
                .then_with(|| a.id.cmp(&b.id))
        });
        leave.truncate(pieces - limit);
    }
    Ok(Space {
        material: material.to_owned(),
        pieces,
        limit,
        leave,
    })
}

/// Sides of a part's bounding rectangle, the longer first, and its share of all copies.
type Often = ([f64; 2], f64);

/// What was cut of a material lately.
fn cut_often(db: Db<'_>, material: &str) -> Result<Vec<Often>> {
    let parts = db.rows(
        "SELECT length, width, sum(copies) FROM booked_parts JOIN bookings ON number = booking \
         WHERE material = ?1 AND undone IS NULL AND booking > (SELECT max(number) FROM bookings) - ?2 \
         GROUP BY kit, part ORDER BY kit, part",
        (material, LATEST),
        |row| Ok(([row.get::<_, f64>(0)?, row.get(1)?], row.get::<_, f64>(2)?)),
    )?;
    let all: f64 = parts.iter().map(|(_, copies)| copies).sum();
    let share = |(size, copies)| (size, copies / all.max(1.0));
    Ok(parts.into_iter().map(share).collect())
}

fn ranked(piece: &Sketchy, value: f64, often: &[Often]) -> Ranked {
    // Where the clear rectangle is not known, the bounding one has to do: this only ranks.
    let [a, b] = piece.clear.unwrap_or(piece.size);
    let (long, short) = (a.max(b), a.min(b));
    let holds = often.iter().filter(|([l, w], _)| *l <= long && *w <= short);
    // Adding zero turns the -0 that the sum of nothing is into 0.
    let share = holds.map(|(_, share)| share).sum::<f64>() + 0.0;
    Ranked {
        id: piece.id.clone(),
        length: piece.size[0],
        width: piece.size[1],
        area: piece.area,
        value,
        often: share,
        worth: value * (1.0 + OFTEN_CUT * share),
    }
}

impl Space {
    /// For people.
    #[must_use]
    pub fn text(&self, currency: &str) -> String {
        let pieces = if self.pieces == 1 { "piece" } else { "pieces" };
        let mut text = format!(
            "{}: {} {pieces}, room for {}\n",
            self.material, self.pieces, self.limit
        );
        for piece in &self.leave {
            let _ = writeln!(
                text,
                "  {}  {:.0} x {:.0} mm, {:.2} {currency}, holds {:.0} % of what was cut lately",
                piece.id,
                piece.length,
                piece.width,
                piece.value,
                100.0 * piece.often
            );
        }
        text
    }
}
