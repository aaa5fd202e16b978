//! A machine's way of cutting, resolved: every default filled in.

use crate::input::{CutSettings, Direction, Hold, LeadShape, Lines, Machine, Process, SmallParts};

/// Share of what is free between two parts that a lead takes, when nobody says how long it is. The
/// rest keeps it off the neighbour's edge by more than the rounding of both.
const LEAD_SHARE: f64 = 0.85;

/// Longest and shortest lead that is chosen, millimetres. Common practice: about a tool's width.
const LEADS: (f64, f64) = (0.5, 5.0);

/// Below this area, in square millimetres, a part may lift on its closing cut.
///
/// Common practice: 0.01 to 0.02 m²; the lower end, as in the caution of the papers.
const SMALL_PART: f64 = 10_000.0;

/// Tabs of a part, each so long and so high. Common practice on routers: 2 to 4 of 3 to 6 mm, 0.5 to
/// 1 mm high; on lasers a few tenths of a millimetre, through the whole sheet.
const TABS: (u32, f64, f64) = (3, 4.0, 0.8);
const LASER_TAB: f64 = 0.3;

/// Floor left under a part. Common practice: 0.1 to 0.3 mm.
const SKIN: f64 = 0.2;

/// How a machine cuts; lengths in millimetres, feeds per minute.
#[derive(Debug, Clone, PartialEq)]
pub struct Tool {
    /// What the lines of its files are.
    pub lines: Lines,
    /// Half the width it removes.
    pub radius: f64,
    /// Which way it runs round a part.
    pub direction: Direction,
    /// Shape of its leads.
    pub lead: LeadShape,
    /// Radius or length of its leads.
    pub lead_length: f64,
    /// How it holds small parts.
    pub hold: Hold,
    /// Area below which a part is small.
    pub small_area: f64,
    /// How many tabs a part gets.
    pub tabs: u32,
    /// Length of a tab, as it stays on the part.
    pub tab_length: f64,
    /// Height of a tab; `None` where tabs are gaps in the cut.
    pub tab_height: Option<f64>,
    /// Thickness of the floor left under a part.
    pub skin: f64,
    /// Feed of a cut, if it is known.
    pub feed: Option<f64>,
    /// Feed of a move between cuts, if it is known.
    pub travel_feed: Option<f64>,
    /// Time to plunge or burn through, seconds.
    pub pierce_seconds: f64,
}

impl Tool {
    /// The way `machine` cuts.
    #[must_use]
    pub fn of(machine: &Machine) -> Self {
        let given = machine.cutting.clone().unwrap_or_default();
        let CutSettings {
            lead, small_parts, ..
        } = given;
        let laser = machine.process == Process::Laser;
        let SmallParts {
            hold,
            area,
            tabs,
            tab_length,
            tab_height,
            skin,
        } = small_parts;
        let free = machine.gap.unwrap_or(machine.kerf) - machine.kerf;
        let usual = (LEAD_SHARE * free).clamp(LEADS.0, LEADS.1);
        Self {
            lines: given.lines,
            radius: 0.5 * machine.kerf,
            direction: given.direction,
            lead: lead.shape,
            lead_length: lead.length.unwrap_or(usual),
            hold: hold.unwrap_or(if laser { Hold::None } else { Hold::Tabs }),
            small_area: area.unwrap_or(SMALL_PART),
            tabs: tabs.unwrap_or(TABS.0),
            tab_length: tab_length.unwrap_or(if laser { LASER_TAB } else { TABS.1 }),
            tab_height: (!laser).then(|| tab_height.unwrap_or(TABS.2)),
            skin: skin.unwrap_or(SKIN),
            feed: given.feed,
            travel_feed: given.travel_feed.or(given.feed),
            pierce_seconds: given.pierce_seconds,
        }
    }

    /// Whether the files hold the path of its centre.
    #[must_use]
    pub fn follows_path(&self) -> bool {
        self.lines == Lines::ToolPath
    }
}
