//! Whether any sheet or remnant is large enough for a part.

use crate::Result;
use crate::input::{Checker, KitPart, Machine, Material, Process, TurnWord};
use crate::job::Shop;
use panelwright_geometry::{Outline, tolerance};

/// A part and what it is to be cut from.
pub(super) struct Wish<'a> {
    /// As its kit has it.
    pub part: &'a KitPart,
    /// Its shape.
    pub outline: &'a Outline,
    /// Its material.
    pub material: &'a Material,
    /// The machine that frees it.
    pub machine: &'a Machine,
}

/// The shorter and the longer side of a part, or of the room for it.
type Sides = (f64, f64);

/// A sheet or a remnant, as far as parts may be too large for it.
struct Piece {
    length: f64,
    width: f64,
    remnant: bool,
}

impl Wish<'_> {
    /// Refuses a part that is larger than every sheet and remnant, however it is turned.
    ///
    /// # Errors
    /// It is, or the shop has nothing of its material; said of the place `at`.
    pub(super) fn fits_something(&self, shop: &Shop, check: &Checker, at: &str) -> Result<()> {
        let pieces = self.pieces(shop);
        if pieces.is_empty() {
            let name = &self.material.name;
            let what = format!("the shop has no sheet and no remnant of '{name}'");
            return Err(check.fail(at, what, "add a sheet to the shop file"));
        }
        if pieces.iter().any(|piece| self.fits(self.room(piece))) {
            return Ok(());
        }
        Err(check.fail(at, self.too_large(&pieces), self.advice(&pieces)))
    }

    /// What the shop has of the material.
    fn pieces(&self, shop: &Shop) -> Vec<Piece> {
        let name = &self.material.name;
        let sheets = shop.sheets.iter().filter(|s| s.material == *name);
        let sheets = sheets.map(|s| Piece {
            length: s.length,
            width: s.width,
            remnant: false,
        });
        let remnants = shop.remnants.iter().filter(|r| r.material == *name);
        let remnants = remnants.map(|r| {
            let bounds = r.outline.bounds();
            Piece {
                length: bounds.width(),
                width: bounds.height(),
                remnant: true,
            }
        });
        sheets.chain(remnants).collect()
    }

    /// What the part takes at least, however it is turned.
    fn least_sides(&self) -> Sides {
        let bounds = self.outline.bounds();
        let (a, b) = (bounds.width(), bounds.height());
        match self.part.turn {
            // It is nowhere narrower than its area over its longest extent.
            TurnWord::Free => (self.outline.outer.area() / a.hypot(b), a.max(b) * 0.5),
            _ => (a.min(b), a.max(b)),
        }
    }

    fn fits(&self, room: Sides) -> bool {
        let (short, long) = self.least_sides();
        short <= room.0 + tolerance::JUDGE && long <= room.1 + tolerance::JUDGE
    }

    /// The room for parts on a piece.
    fn room(&self, piece: &Piece) -> Sides {
        self.room_within(piece, 1.0, self.machine.bed)
    }

    /// The room with all that the machine keeps off the edges, `edges` of 1, or without, 0; on this bed, or on one without
    /// limits.
    fn room_within(&self, piece: &Piece, edges: f64, bed: Option<[f64; 2]>) -> Sides {
        let machine = self.machine;
        let (mut l, mut w) = (piece.length, piece.width);
        if machine.process == Process::Saw {
            // Remnants have sound edges: only sheets are trimmed.
            if !piece.remnant {
                l -= edges * (machine.trim.left + machine.trim.right);
                w -= edges * (machine.trim.bottom + machine.trim.top);
            }
        } else {
            let margin = if piece.remnant {
                machine.margin_on_remnants()
            } else {
                machine.margin
            };
            if let Some([a, b]) = bed {
                (l, w) = (l.max(w).min(a.max(b)), l.min(w).min(a.min(b)));
            }
            l -= edges * 2.0 * margin;
            w -= edges * 2.0 * margin;
        }
        (l.min(w), l.max(w))
    }

    /// Whether the part would fit a piece if the machine's bed took it whole: then no larger sheet is any help.
    fn bed_is_too_small(&self, pieces: &[Piece]) -> bool {
        let without = |piece: &Piece| self.room_within(piece, 1.0, None);
        self.machine.bed.is_some() && pieces.iter().any(|piece| self.fits(without(piece)))
    }

    /// What is said of a part that fits nothing.
    fn too_large(&self, pieces: &[Piece]) -> String {
        // A piece that its edges use up leaves no room, however large both of its sides are below nothing.
        let rooms = pieces.iter().map(|piece| self.room(piece));
        let rooms = rooms.map(|(a, b)| (a.max(0.0), b.max(0.0)));
        let (room_short, room_long) = rooms.fold((0.0_f64, 0.0_f64), |most, r| {
            if r.0 * r.1 > most.0 * most.1 { r } else { most }
        });
        let bounds = self.outline.bounds();
        let (length, width) = (bounds.width(), bounds.height());
        let d = decimals_apart(&[
            (length.max(width), room_long),
            (length.min(width), room_short),
        ]);
        let most = if room_short > 0.0 {
            format!("more than {room_long:.d$} x {room_short:.d$} mm")
        } else {
            "any room within its edges".to_owned()
        };
        let bed = match self.machine.bed {
            Some([a, b]) if self.bed_is_too_small(pieces) => {
                format!(", whose bed takes {a} x {b} mm")
            }
            _ => String::new(),
        };
        format!(
            "it measures {length:.d$} x {width:.d$} mm, and no sheet of '{}' leaves {most} on the {}{bed}",
            self.material.name, self.machine.name,
        )
    }

    /// What to look at then: the unit, what the machine keeps off the edges where a sheet is large enough without, and what
    /// is larger.
    fn advice(&self, pieces: &[Piece]) -> String {
        let unit = match self.part.drawing {
            Some(_) => "the drawing's unit",
            None => "the kit's unit",
        };
        let remedy = if self.bed_is_too_small(pieces) {
            "have it cut by a machine with a larger bed"
        } else {
            "add a larger sheet"
        };
        let mut sheets = pieces.iter().filter(|piece| !piece.remnant);
        let without_edges = |piece: &Piece| self.room_within(piece, 0.0, self.machine.bed);
        if !sheets.any(|sheet| self.fits(without_edges(sheet))) {
            return format!("check {unit}, or {remedy}");
        }
        let edges = match self.machine.process {
            Process::Saw => "the trim".to_owned(),
            Process::Router | Process::Laser => {
                format!("the margin of {} mm", self.machine.margin)
            }
        };
        format!("check {unit} and {edges}, or {remedy}")
    }
}

/// Decimals, 1 to 4, that show which sides of a part are longer than the room for them: pairs of side
/// and room.
fn decimals_apart(sides: &[(f64, f64)]) -> usize {
    let apart = |d: usize| {
        let mut longer = sides.iter().filter(|(side, room)| side > room);
        longer.all(|(side, room)| format!("{side:.d$}") != format!("{room:.d$}"))
    };
    (1..4).find(|d| apart(*d)).unwrap_or(4)
}
