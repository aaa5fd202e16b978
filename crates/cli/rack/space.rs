//! What should leave a rack that is full: the least valuable pieces first, but for those that still fit, as a proposal.

use super::candidate::{Sketchy, value};
use super::hold;
use super::store::{Db, Rack};
use crate::Result;
use crate::area::{MM2_PER_M2, m2};
use crate::input::{Material, Room};
use crate::job::Shop;
use crate::remnant::Remnant;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// Bookings that tell what the shop cuts often, where its file does not: the latest ones.
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
    /// Material by name.
    pub material: String,
    /// Size along x, millimetres.
    pub length: f64,
    /// Size along y.
    pub width: f64,
    /// Area, square millimetres.
    pub area: f64,
    /// Book value.
    pub value: f64,
    /// Share of the copies cut often that it could hold, 0 to 1.
    pub often: f64,
    /// What it is ranked by: book value, more where it holds what is cut often.
    pub worth: f64,
}

/// What there is in a room of the rack against its limits.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Space {
    /// The room, in words.
    pub room: String,
    /// Pieces there.
    pub pieces: usize,
    /// Most pieces there should be.
    pub most_pieces: Option<u32>,
    /// Their area, square millimetres.
    pub area: f64,
    /// Most area there should be, square millimetres.
    pub most_area: Option<f64>,
    /// What should leave, least worth first.
    pub leave: Vec<Ranked>,
}

/// Proposes which pieces should leave a room of the rack for its limits to hold. Pieces held for an order
/// stay. Nothing is changed.
///
/// # Errors
/// The rack cannot be read.
pub fn space(rack: &Rack, shop: &Shop, room: &Room) -> Result<Space> {
    let db = rack.db();
    let materials = match &room.material {
        Some(material) => vec![material.clone()],
        None => db.rows(
            "SELECT DISTINCT material FROM remnants WHERE state = 'on-rack' ORDER BY material",
            [],
            |row| row.get(0),
        )?,
    };
    let inside = standing_in(db, room)?;
    let held: BTreeSet<String> = hold::standing(db, i64::MIN)?
        .into_iter()
        .map(|hold| hold.remnant.to_ascii_uppercase())
        .collect();
    let (mut pieces, mut area) = (0, 0.0);
    let mut leave = Vec::new();
    for material in &materials {
        let mut there = Sketchy::on_rack(db, material)?;
        there.retain(|piece| inside.as_ref().is_none_or(|ids| ids.contains(&piece.id)));
        pieces += there.len();
        area += there.iter().map(|piece| piece.area).sum::<f64>();
        let often = Often::known(db, shop, material)?;
        let free = there
            .iter()
            .filter(|piece| !held.contains(&piece.id.to_ascii_uppercase()));
        leave.extend(free.map(|piece| often.ranked(material, piece, value(shop, material, piece))));
    }
    let leave = leaving(leave, Over::new(room, pieces, area));
    Ok(Space {
        room: room.name(),
        pieces,
        most_pieces: room.pieces,
        area,
        most_area: room.area_m2.map(|a| a * MM2_PER_M2),
        leave,
    })
}

/// Ids of the pieces that stand at the room's place; `None` where it is not of a place.
fn standing_in(db: Db<'_>, room: &Room) -> Result<Option<BTreeSet<String>>> {
    let Some(place) = &room.place else {
        return Ok(None);
    };
    let all = db.rows(
        "SELECT id, place FROM remnants WHERE state = 'on-rack' AND place IS NOT NULL",
        [],
        |row| Ok((row.get::<_, String>(0)?, row.get::<_, String>(1)?)),
    )?;
    let there = all.into_iter().filter(|(_, at)| is_in(at, place));
    Ok(Some(there.map(|(id, _)| id).collect()))
}

/// Whether a place is one or within it: bay B2 is in bay B, and bay B12 is not in bay B1.
fn is_in(at: &str, place: &str) -> bool {
    let (at, place) = (at.trim().to_lowercase(), place.trim().to_lowercase());
    let Some(rest) = at.strip_prefix(&place) else {
        return false;
    };
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let letter = |c: Option<char>| c.is_some_and(char::is_alphabetic);
    let (last, next) = (place.chars().last(), rest.chars().next());
    !(digit(last) && digit(next) || letter(last) && letter(next))
}

/// How far a room is filled.
struct Over {
    pieces: usize,
    area: f64,
    most_pieces: usize,
    most_area: f64,
}

impl Over {
    fn new(room: &Room, pieces: usize, area: f64) -> Self {
        Self {
            pieces,
            area,
            most_pieces: room.pieces.map_or(usize::MAX, |n| n as usize),
            most_area: room.area_m2.map_or(f64::INFINITY, |a| a * MM2_PER_M2),
        }
    }

    fn is_too_much(&self) -> bool {
        self.pieces > self.most_pieces || self.area > self.most_area * (1.0 + 1e-9)
    }

    fn without(&mut self, area: f64) {
        self.pieces -= 1;
        self.area -= area;
    }

    /// Puts a piece back if the limits hold with it.
    fn takes_back(&mut self, area: f64) -> bool {
        let with = Self {
            pieces: self.pieces + 1,
            area: self.area + area,
            ..*self
        };
        let fits = !with.is_too_much();
        if fits {
            *self = with;
        }
        fits
    }
}

/// Which of these pieces should leave for the limits to hold, least worth first.
///
/// They leave from the least on until the limits hold. The last one may be large and make far more room than is
/// needed, so then those that fit into it come back, the most valuable first.
fn leaving(mut pieces: Vec<Ranked>, mut over: Over) -> Vec<Ranked> {
    sort(&mut pieces);
    let mut count = 0;
    while count < pieces.len() && over.is_too_much() {
        over.without(pieces[count].area);
        count += 1;
    }
    pieces.truncate(count);
    let mut leave = Vec::new();
    for piece in pieces.into_iter().rev() {
        if !over.takes_back(piece.area) {
            leave.push(piece);
        }
    }
    leave.reverse();
    leave
}

/// Least worth first.
fn sort(pieces: &mut [Ranked]) {
    pieces.sort_by(|a, b| {
        let by_area = a.area.total_cmp(&b.area);
        a.worth
            .total_cmp(&b.worth)
            .then(by_area)
            .then_with(|| a.id.cmp(&b.id))
    });
}

/// What a shop cuts often of a material.
struct Often {
    /// Sides that a part takes with the edge lost round it, the longer first, and its share of all copies.
    parts: Vec<([f64; 2], f64)>,
}

impl Often {
    fn new(parts: Vec<([f64; 2], f64)>, edge: f64) -> Self {
        let all: f64 = parts.iter().map(|(_, copies)| copies).sum();
        let part = |([a, b], copies): ([f64; 2], f64)| {
            let sides = [a.max(b), a.min(b)].map(|side| side + 2.0 * edge);
            (sides, copies / all.max(f64::MIN_POSITIVE))
        };
        Self {
            parts: parts.into_iter().map(part).collect(),
        }
    }

    /// What the shop file lists.
    fn listed(material: &Material) -> Option<Self> {
        let keep = &material.keep;
        let part = |often: &crate::input::CutOften| ([often.length, often.width], often.copies);
        let parts: Vec<_> = keep.cut_often.iter().map(part).collect();
        (!parts.is_empty()).then(|| Self::new(parts, keep.edge))
    }

    /// What the shop file lists or, where it lists nothing, what was booked lately.
    fn known(db: Db<'_>, shop: &Shop, material: &str) -> Result<Self> {
        let known = shop.materials.iter().find(|m| m.name == material);
        if let Some(listed) = known.and_then(Self::listed) {
            return Ok(listed);
        }
        let booked = db.rows(
            "SELECT length, width, sum(copies) FROM booked_parts JOIN bookings ON number = booking \
             WHERE material = ?1 AND undone IS NULL AND booking > (SELECT max(number) FROM bookings) - ?2 \
             GROUP BY kit, part ORDER BY kit, part",
            (material, LATEST),
            |row| Ok(([row.get::<_, f64>(0)?, row.get(1)?], row.get::<_, f64>(2)?)),
        )?;
        Ok(Self::new(booked, known.map_or(0.0, |m| m.keep.edge)))
    }

    fn ranked(&self, material: &str, piece: &Sketchy, value: f64) -> Ranked {
        // Where the clear rectangle is not known, the bounding one has to do: this only ranks.
        let [a, b] = piece.clear.unwrap_or(piece.size);
        let (long, short) = (a.max(b), a.min(b));
        let holds = self
            .parts
            .iter()
            .filter(|([l, w], _)| *l <= long && *w <= short);
        // Adding zero turns the -0 that the sum of nothing is into 0.
        let share = holds.map(|(_, share)| share).sum::<f64>() + 0.0;
        Ranked {
            id: piece.id.clone(),
            material: material.to_owned(),
            length: piece.size[0],
            width: piece.size[1],
            area: piece.area,
            value,
            often: share,
            worth: value * (1.0 + OFTEN_CUT * share),
        }
    }
}

/// What is to leave once new offcuts have come.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Overflow {
    /// New offcuts, as indices, that are among what should leave.
    pub offcuts: Vec<usize>,
    /// Ids of pieces that are there already.
    pub pieces: Vec<String>,
}

/// What a room has to do without for `new` offcuts, each with its material's name, once they stand beside
/// what the shop's rack holds but for the remnants in `taken` (by id). By what the shop file lists as cut
/// often; of pieces held for another order none leaves.
///
/// Only for rooms of no particular place: where offcuts are put nobody knows yet.
#[must_use]
pub fn overflow(
    shop: &Shop,
    room: &Room,
    new: &[(String, Remnant)],
    taken: &BTreeSet<String>,
) -> Overflow {
    let mut overflow = Overflow::default();
    if room.place.is_some() {
        return overflow;
    }
    let of_room = |material: &str| room.material.as_ref().is_none_or(|m| m == material);
    let often: BTreeMap<&str, Often> = shop
        .materials
        .iter()
        .map(|m| {
            (
                m.name.as_str(),
                Often::listed(m).unwrap_or(Often { parts: Vec::new() }),
            )
        })
        .collect();
    let ranked = |id: String, remnant: &Remnant| {
        let sketchy = Sketchy {
            id,
            ..Sketchy::of(remnant)
        };
        let value = value(shop, &remnant.material, &sketchy);
        let often = often.get(remnant.material.as_str())?;
        Some(often.ranked(&remnant.material, &sketchy, value))
    };
    let stays = |r: &&Remnant| of_room(&r.material) && !taken.contains(&r.id);
    let rack = shop.remnants.iter().chain(&shop.aside).filter(stays);
    let mut all: Vec<Ranked> = rack.filter_map(|r| ranked(r.id.clone(), r)).collect();
    let held = shop.held.iter().filter(|r| of_room(&r.material));
    let (held_pieces, held_area) =
        held.fold((0, 0.0), |(n, area), r| (n + 1, area + r.outline.area()));
    // No id of the rack begins with a blank.
    let name = |i: usize| format!(" {i}");
    let new = new
        .iter()
        .enumerate()
        .filter(|(_, (material, _))| of_room(material));
    all.extend(new.filter_map(|(i, (_, r))| ranked(name(i), r)));
    let area = all.iter().map(|r| r.area).sum::<f64>() + held_area;
    let over = Over::new(room, all.len() + held_pieces, area);
    for piece in leaving(all, over) {
        match piece.id.strip_prefix(' ').map(str::parse) {
            Some(Ok(i)) => overflow.offcuts.push(i),
            _ => overflow.pieces.push(piece.id),
        }
    }
    overflow
}

impl Space {
    /// For people.
    #[must_use]
    pub fn text(&self, currency: &str) -> String {
        let pieces = if self.pieces == 1 { "piece" } else { "pieces" };
        let mut most = Vec::new();
        most.extend(self.most_pieces.map(|n| format!("{n}")));
        most.extend(self.most_area.map(|a| format!("{:.2} m2", m2(a))));
        let mut text = format!(
            "{}: {} {pieces}, {:.2} m2, room for {}\n",
            self.room,
            self.pieces,
            m2(self.area),
            most.join(" and ")
        );
        for piece in &self.leave {
            let _ = writeln!(
                text,
                "  {}  {:.0} x {:.0} mm, {:.2} {currency}, holds {:.0} % of what is cut often",
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

#[cfg(test)]
mod tests;
