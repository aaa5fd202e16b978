//! What the judge can find wrong.

use panelwright_geometry::Point;
use thiserror::Error;

/// The width that a cut should have.
fn blade_words(blade: Option<f64>) -> String {
    blade.map_or_else(
        || "which no blade is".to_owned(),
        |blade| format!("the blade cuts {blade} mm"),
    )
}

/// Something wrong with a nest. Sheets are counted from 1 as in what is written; places are in the
/// stock's coordinates, millimetres.
#[derive(Debug, Clone, PartialEq, Error)]
#[non_exhaustive]
pub enum Fault {
    /// A cut by the fence does not give what is said of it.
    #[error("sheet {sheet}: saw cut {cut}: {what}")]
    Setting {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// What is wrong.
        what: String,
    },
    /// A layout names stock that the problem does not have.
    #[error("sheet {sheet}: there is no stock number {index}")]
    UnknownStock {
        /// Sheet number.
        sheet: usize,
        /// The index it names.
        index: usize,
    },
    /// A layout or a line of what is missing names a part that the problem does not have.
    #[error("{}there is no part number {index}", on(.sheet))]
    UnknownPart {
        /// Sheet number; `None` in the list of what is missing.
        sheet: Option<usize>,
        /// The index it names.
        index: usize,
    },
    /// A sheet is taken and nothing is cut from it.
    #[error("sheet {sheet}: '{stock}' is taken but no part is cut from it")]
    EmptyLayout {
        /// Sheet number.
        sheet: usize,
        /// The stock taken.
        stock: String,
    },
    /// More pieces are taken than there are.
    #[error("{taken} of '{stock}' are taken, but there are only {available}")]
    SupplyExceeded {
        /// The kinds of stock that share the supply.
        stock: String,
        /// Pieces taken.
        taken: usize,
        /// Pieces there are.
        available: u32,
    },
    /// More copies are placed than wanted.
    #[error("'{part}': {placed} copies are placed, but only {wanted} are wanted")]
    TooMany {
        /// The part.
        part: String,
        /// Copies placed.
        placed: u64,
        /// Copies wanted.
        wanted: u32,
    },
    /// Copies placed and copies reported missing do not add up to what is wanted.
    #[error(
        "'{part}': {placed} copies are placed and {reported} are reported missing, which does not make the {wanted} wanted"
    )]
    MissingMiscounted {
        /// The part.
        part: String,
        /// Copies placed.
        placed: u64,
        /// Copies reported missing.
        reported: u64,
        /// Copies wanted.
        wanted: u32,
    },
    /// A copy of lower priority has the place of a missing one of the same shape.
    #[error(
        "'{part}' of priority {priority} is missing, though the same shape of priority {instead} is placed"
    )]
    LowerPriorityPlaced {
        /// The part that is missing.
        part: String,
        /// Its priority.
        priority: i32,
        /// Priority of what is placed instead.
        instead: i32,
    },
    /// A part lies at a place or an angle that is no number, or beyond any sheet.
    #[error("sheet {sheet}: '{part}' is placed at ({}, {}), turned by {angle_deg}, which is nowhere", .origin.x, .origin.y)]
    BadPlacement {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Its origin.
        origin: Point,
        /// Its turn in degrees.
        angle_deg: f64,
    },
    /// A part is turned by an angle that its turn rules out.
    #[error("sheet {sheet}: '{part}' at ({:.3}, {:.3}) is turned by {angle_deg} degrees, which is not allowed", .at.x, .at.y)]
    WrongAngle {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Its middle.
        at: Point,
        /// Its turn in degrees.
        angle_deg: f64,
    },
    /// A part's grain would not run with the stock's.
    #[error("sheet {sheet}: the grain of '{part}' at ({:.3}, {:.3}), turned by {angle_deg} degrees, does not run with that of '{stock}'", .at.x, .at.y)]
    WrongGrain {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// The stock.
        stock: String,
        /// Its middle.
        at: Point,
        /// Its turn in degrees.
        angle_deg: f64,
    },
    /// The stock has fewer good faces than the part needs.
    #[error("sheet {sheet}: '{part}' needs {needed} good faces, '{stock}' has {has}")]
    BadFace {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// The stock.
        stock: String,
        /// Good faces needed.
        needed: u8,
        /// Good faces there are.
        has: u8,
    },
    /// A part sticks out of the stock.
    #[error("sheet {sheet}: '{part}' sticks out of '{stock}' by {by:.4} mm at ({:.3}, {:.3})", .at.x, .at.y)]
    OutsideStock {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// The stock.
        stock: String,
        /// Where.
        at: Point,
        /// How far from the edge, at least.
        by: f64,
    },
    /// A part is in none of the blanks that the sheet is sawn into.
    #[error("sheet {sheet}: '{part}' sticks out of its blank by {by:.4} mm at ({:.3}, {:.3})", .at.x, .at.y)]
    OutsideBlanks {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Where.
        at: Point,
        /// How far from the nearest blank's edge, at least.
        by: f64,
    },
    /// A part is nearer to the edge of the stock or of its blank than the margin.
    #[error("sheet {sheet}: '{part}' is {distance:.4} mm from the edge at ({:.3}, {:.3}); the margin is {margin} mm", .at.x, .at.y)]
    MarginShort {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Where.
        at: Point,
        /// The distance there.
        distance: f64,
        /// The margin asked for.
        margin: f64,
    },
    /// A part lies over a void of the stock or too near to one.
    #[error("sheet {sheet}: '{part}' is {} at ({:.3}, {:.3}); the margin is {margin} mm", over(*.distance, "a void"), .at.x, .at.y)]
    OnVoid {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Where.
        at: Point,
        /// The distance there; below 0 when it lies over the void.
        distance: f64,
        /// The margin asked for.
        margin: f64,
    },
    /// A part lies over an area to be kept clear or too near to one.
    #[error("sheet {sheet}: '{part}' is {} at ({:.3}, {:.3}); the margin is {margin} mm", over(*.distance, "a flaw"), .at.x, .at.y)]
    OnKeepClear {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Where.
        at: Point,
        /// The distance there; below 0 when it lies over the area.
        distance: f64,
        /// The margin asked for.
        margin: f64,
    },
    /// A part lies over an area that the machine needs free, or too near to one.
    #[error("sheet {sheet}: '{part}' is {} at ({:.3}, {:.3}); the margin is {margin} mm", over(*.distance, "an area that the machine needs free"), .at.x, .at.y)]
    OnZone {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Where.
        at: Point,
        /// The distance there; below 0 when it lies over the area.
        distance: f64,
        /// The margin asked for.
        margin: f64,
    },
    /// A piece of stock with pinned parts is not in the nest.
    #[error("'{stock}' with {parts} pinned parts on it is not taken")]
    PinnedNotTaken {
        /// The stock.
        stock: String,
        /// How many parts are pinned on it.
        parts: usize,
    },
    /// A pinned part is missing, moved or turned.
    #[error("sheet {sheet}: '{part}' is pinned at ({}, {}), turned by {angle_deg} degrees, and does not lie there", .origin.x, .origin.y)]
    PinnedMoved {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Where its drawing's origin was pinned.
        origin: Point,
        /// Its turn in degrees.
        angle_deg: f64,
    },
    /// Two parts share material.
    #[error("sheet {sheet}: '{part}' and '{other}' overlap by {depth:.4} mm at ({:.3}, {:.3})", .at.x, .at.y)]
    Overlap {
        /// Sheet number.
        sheet: usize,
        /// One part.
        part: String,
        /// The other.
        other: String,
        /// Where.
        at: Point,
        /// How deep, at least.
        depth: f64,
    },
    /// Two parts are nearer to each other than the gap (or, sawn, than the blade is wide).
    #[error("sheet {sheet}: '{part}' and '{other}' are {distance:.4} mm apart at ({:.3}, {:.3}); {gap} mm are needed", .at.x, .at.y)]
    GapShort {
        /// Sheet number.
        sheet: usize,
        /// One part.
        part: String,
        /// The other.
        other: String,
        /// Where.
        at: Point,
        /// The distance there.
        distance: f64,
        /// The distance needed.
        gap: f64,
    },
    /// A part lies in a cut-out of another although that is not wanted.
    #[error("sheet {sheet}: '{part}' lies in a cut-out of '{other}', which the problem rules out")]
    InCutout {
        /// Sheet number.
        sheet: usize,
        /// The part inside.
        part: String,
        /// The part round it.
        other: String,
    },
    /// Saw cuts where nothing is sawn.
    #[error("sheet {sheet}: {cuts} saw cuts, but this layout is not sawn")]
    UnexpectedCuts {
        /// Sheet number.
        sheet: usize,
        /// How many.
        cuts: usize,
    },
    /// The saw cuts are not those of the break-down that the stock names.
    #[error("sheet {sheet}: the saw cuts are not those that break '{stock}' down")]
    CutsNotOfBreakDown {
        /// Sheet number.
        sheet: usize,
        /// The stock.
        stock: String,
    },
    /// A blank is not what the break-down's cuts leave.
    #[error("sheet {sheet}: blank {blank} of '{stock}' is not within one sawn piece")]
    BlankNotSawn {
        /// Sheet number.
        sheet: usize,
        /// The stock.
        stock: String,
        /// Number of the blank, from 1.
        blank: usize,
    },
    /// A cut's line is not upright, or no line at all.
    #[error("sheet {sheet}, cut {cut}: from ({}, {}) to ({}, {}) is no upright line", .from.x, .from.y, .to.x, .to.y)]
    CutNotUpright {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
    },
    /// A cut's width is not the blade's.
    #[error("sheet {sheet}, cut {cut}: it is {kerf} mm wide, {}", blade_words(*blade))]
    WrongKerf {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// Its width.
        kerf: f64,
        /// The blade's; `None` for a break-down, whose saw the problem does not know.
        blade: Option<f64>,
    },
    /// A cut runs through no piece.
    #[error("sheet {sheet}, cut {cut}: it meets no piece")]
    CutMeetsNothing {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
    },
    /// A cut begins or ends within a piece.
    #[error(
        "sheet {sheet}, cut {cut}: it stops {short:.4} mm short of the edge of the piece it meets"
    )]
    CutStopsShort {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// How much is missing at the worse end.
        short: f64,
    },
    /// A cut runs through a part.
    #[error("sheet {sheet}, cut {cut}: it runs through '{part}'")]
    CutThroughPart {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// The part.
        part: String,
    },
    /// A cut is longer than the saw can make.
    #[error(
        "sheet {sheet}, cut {cut}: it is {length:.1} mm long, the saw's limit that way is {limit} mm"
    )]
    CutTooLong {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// Length in the piece.
        length: f64,
        /// The limit.
        limit: f64,
    },
    /// A cut of an early stage comes after a later one on the same piece.
    #[error(
        "sheet {sheet}, cut {cut}: it belongs to stage {stage}, but the piece has been through stage {reached}"
    )]
    StageOutOfOrder {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// Its stage.
        stage: u32,
        /// The stage that made the piece.
        reached: u32,
    },
    /// Cuts of one stage are not parallel, or two successive stages are.
    #[error("sheet {sheet}, cut {cut}: a cut of stage {stage} must run {}", axis(*.along_x))]
    StageDirection {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// Its stage.
        stage: u32,
        /// Whether it should run along x.
        along_x: bool,
    },
    /// There are more stages than the saw rules allow.
    #[error("sheet {sheet}, cut {cut}: it belongs to stage {stage}, but only {limit} are allowed")]
    StageLimit {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
        /// Its stage.
        stage: u32,
        /// The limit.
        limit: u32,
    },
    /// A trim parts parts, which is what stages are counted for.
    #[error(
        "sheet {sheet}, cut {cut}: a trim only takes waste off, but there are parts on both sides"
    )]
    TrimPartsParts {
        /// Sheet number.
        sheet: usize,
        /// Number of the cut, from 1.
        cut: usize,
    },
    /// After all cuts a part is still joined to something.
    #[error(
        "sheet {sheet}: after all cuts '{part}' is in a piece of {length:.4} x {width:.4} mm, which is not its own size"
    )]
    NotFreed {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// The piece's size along x.
        length: f64,
        /// The piece's size along y.
        width: f64,
    },
    /// After all cuts no piece is where the part should be.
    #[error("sheet {sheet}: after all cuts there is no piece left for '{part}'")]
    NoPieceLeft {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
    },
    /// A sawn part is narrower than the saw can hold.
    #[error(
        "sheet {sheet}: '{part}' is {width:.3} mm wide, the saw holds nothing below {limit} mm"
    )]
    TooNarrow {
        /// Sheet number.
        sheet: usize,
        /// The part.
        part: String,
        /// Its shorter side.
        width: f64,
        /// The limit.
        limit: f64,
    },
    /// An offcut's outline is no outline.
    #[error("sheet {sheet}: offcut {offcut} has no outline with an area")]
    BadOffcut {
        /// Sheet number.
        sheet: usize,
        /// Number of the offcut, from 1.
        offcut: usize,
    },
    /// An offcut sticks out of the stock, or lies over a void.
    #[error("sheet {sheet}: offcut {offcut} is not material of the stock at ({:.3}, {:.3})", .at.x, .at.y)]
    OffcutOutside {
        /// Sheet number.
        sheet: usize,
        /// Number of the offcut, from 1.
        offcut: usize,
        /// Where.
        at: Point,
    },
    /// An offcut takes material of a part, or what the tool removes round it.
    #[error("sheet {sheet}: offcut {offcut} comes within {distance:.4} mm of '{part}' at ({:.3}, {:.3}); the tool takes {kerf} mm", .at.x, .at.y)]
    OffcutOnPart {
        /// Sheet number.
        sheet: usize,
        /// Number of the offcut, from 1.
        offcut: usize,
        /// The part.
        part: String,
        /// Where.
        at: Point,
        /// The distance there; below 0 when it lies over the part.
        distance: f64,
        /// What the tool takes.
        kerf: f64,
    },
    /// Two offcuts claim the same material.
    #[error("sheet {sheet}: offcuts {offcut} and {other} overlap at ({:.3}, {:.3})", .at.x, .at.y)]
    OffcutsOverlap {
        /// Sheet number.
        sheet: usize,
        /// Number of one, from 1.
        offcut: usize,
        /// Number of the other, from 1.
        other: usize,
        /// Where.
        at: Point,
    },
    /// A saw cut runs through an offcut.
    #[error("sheet {sheet}: offcut {offcut} is not within one sawn piece")]
    OffcutNotSawn {
        /// Sheet number.
        sheet: usize,
        /// Number of the offcut, from 1.
        offcut: usize,
    },
    /// An offcut is kept although the keep rule's rectangle cannot be inside it.
    #[error(
        "sheet {sheet}: offcut {offcut} is kept, but the keep rule's {least_length} x {least_width} mm are not in it"
    )]
    KeepRule {
        /// Sheet number.
        sheet: usize,
        /// Number of the offcut, from 1.
        offcut: usize,
        /// Least longer side.
        least_length: f64,
        /// Least shorter side.
        least_width: f64,
    },
    /// The value of an offcut makes no sense.
    #[error(
        "sheet {sheet}: offcut {offcut} is given the value {value}; {limit} is the most it can be"
    )]
    OffcutValue {
        /// Sheet number.
        sheet: usize,
        /// Number of the offcut, from 1.
        offcut: usize,
        /// The value given.
        value: f64,
        /// The most that makes sense: 0 when it is not kept, else what the stock cost.
        limit: f64,
    },
}

fn on(sheet: &Option<usize>) -> String {
    sheet.map_or_else(|| "missing parts: ".into(), |s| format!("sheet {s}: "))
}

fn over(distance: f64, what: &str) -> String {
    if distance < 0.0 {
        format!("over {what} by {:.4} mm", -distance)
    } else {
        format!("{distance:.4} mm from {what}")
    }
}

fn axis(along_x: bool) -> &'static str {
    if along_x {
        "along the length (x)"
    } else {
        "across the length (y)"
    }
}
