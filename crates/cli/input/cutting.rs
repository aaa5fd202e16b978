//! How a router or laser is to be driven, as written in the shop file: a machine's `cutting`.

use super::check::Checker;
use super::shop::Process;
use crate::Result;
use serde::Deserialize;

/// What the lines of a machine's cut files are, and how it works along them. Lengths in the shop
/// file's own unit until they are checked, then in millimetres.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct CutSettings {
    /// Finished edges, or the path of the tool's centre.
    pub lines: Lines,
    /// Which way the tool runs round a part (tool path).
    pub direction: Direction,
    /// How the tool comes to the path and leaves it (tool path).
    pub lead: LeadSettings,
    /// How small parts are held until the last (tool path).
    pub small_parts: SmallParts,
    /// How fast it cuts, length per minute; without it no time is told.
    pub feed: Option<f64>,
    /// How fast it moves between cuts, length per minute; as fast as it cuts when not given.
    pub travel_feed: Option<f64>,
    /// How long it takes to plunge or to burn through, seconds.
    pub pierce_seconds: f64,
    /// Release of the DXF files.
    pub dxf: DxfForm,
    /// Whether each operation is written to a file of its own as well.
    pub by_operation: bool,
}

/// What the lines of a cut file are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Lines {
    /// The parts' finished edges: whoever drives the machine sets its tool beside them.
    #[default]
    Finished,
    /// The path of the tool's centre, half the kerf beside the edges.
    ToolPath,
}

/// Which way the tool runs round a part, its spindle turning clockwise seen from above.
///
/// Source: handbook definition (the tooth cuts down from the full chip when climbing); which leaves
/// the better edge varies by material and tool, so it is a setting.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Outlines clockwise, openings counter-clockwise.
    #[default]
    Climb,
    /// The reverse.
    Conventional,
}

/// Shape of a lead.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LeadShape {
    /// A quarter circle that meets the path without a corner.
    #[default]
    Arc,
    /// A straight line at 45 degrees to the path.
    Line,
    /// The tool plunges on the path.
    None,
}

/// How the tool comes to the path and leaves it, on the side of the scrap.
#[derive(Debug, Clone, Copy, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LeadSettings {
    /// Its shape.
    pub shape: LeadShape,
    /// Radius of the arc or length of the line; when not given, most of what fits between two parts.
    pub length: Option<f64>,
}

/// How a small part is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hold {
    /// Bridges stay between it and the rest: lower than the sheet on a router, gaps on a laser.
    Tabs,
    /// A thin floor stays under its outline (router).
    Skin,
    /// Nothing holds it.
    None,
}

/// The rule for small parts.
#[derive(Debug, Clone, Copy, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SmallParts {
    /// How they are held; tabs on a router, nothing on a laser when not given.
    pub hold: Option<Hold>,
    /// A part with less area is small: square millimetres (square inches); 10 000 mm² when not given.
    pub area: Option<f64>,
    /// How many tabs, when not given 3.
    pub tabs: Option<u32>,
    /// Length of a tab; 4 mm when not given, 0.3 mm on a laser.
    pub tab_length: Option<f64>,
    /// Height of a tab (router); 0.8 mm when not given.
    pub tab_height: Option<f64>,
    /// Thickness of the floor; 0.2 mm when not given.
    pub skin: Option<f64>,
}

/// Release of a DXF file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, clap::ValueEnum)]
pub enum DxfForm {
    /// Release 2000 (AC1015): light polylines, units in the header.
    #[default]
    #[serde(rename = "2000")]
    #[value(name = "2000")]
    Release2000,
    /// Release 12 (AC1009), for controls that read nothing newer.
    #[serde(rename = "r12")]
    #[value(name = "r12")]
    Release12,
}

/// The settings in millimetres; `mm` is the size of the file's unit.
///
/// # Errors
/// The first value out of range, or one that means nothing for the process.
pub(super) fn checked(
    check: &Checker,
    at: &str,
    s: &CutSettings,
    process: Process,
    mm: f64,
) -> Result<CutSettings> {
    if process == Process::Saw {
        let what = "'cutting' means nothing for a saw: its cuts are the plan's own";
        return Err(check.fail(at, what, "remove it"));
    }
    let positive = |key: &str, value: Option<f64>, scale: f64| {
        value
            .map(|v| check.positive(&format!("{at}.{key}"), v, scale))
            .transpose()
    };
    let small = s.small_parts;
    if small.hold == Some(Hold::Skin) && process == Process::Laser {
        let what = "a laser cuts through: it cannot leave a thin floor";
        return Err(check.fail(
            format!("{at}.small_parts.hold"),
            what,
            "use \"tabs\" or \"none\"",
        ));
    }
    if let Some(tabs) = small.tabs
        && !(2..=12).contains(&tabs)
    {
        let what = format!("the number of tabs is {tabs}");
        let advice = "give 2 to 12; to hold parts otherwise, set 'hold' to \"skin\" or \"none\"";
        return Err(check.fail(format!("{at}.small_parts.tabs"), what, advice));
    }
    if !(0.0..=3600.0).contains(&s.pierce_seconds) {
        let what = format!("the time is {} s", s.pierce_seconds);
        return Err(check.fail(
            format!("{at}.pierce_seconds"),
            what,
            "give 0 to 3600 seconds",
        ));
    }
    Ok(CutSettings {
        lead: LeadSettings {
            length: positive("lead.length", s.lead.length, mm)?,
            ..s.lead
        },
        small_parts: SmallParts {
            area: area(check, at, small.area, mm)?,
            tab_length: positive("small_parts.tab_length", small.tab_length, mm)?,
            tab_height: positive("small_parts.tab_height", small.tab_height, mm)?,
            skin: positive("small_parts.skin", small.skin, mm)?,
            ..small
        },
        feed: speed(check, &format!("{at}.feed"), s.feed, mm)?,
        travel_feed: speed(check, &format!("{at}.travel_feed"), s.travel_feed, mm)?,
        ..s.clone()
    })
}

/// A length a minute, in millimetres.
fn speed(check: &Checker, at: &str, speed: Option<f64>, mm: f64) -> Result<Option<f64>> {
    /// A laser's fastest moves are some 200 m a minute; more is a slip of the unit.
    const FASTEST: f64 = 1e6;
    match speed.map(|v| v * mm) {
        Some(v) if !(v > 0.0 && v <= FASTEST) => {
            let what = format!("the speed is {}", v / mm);
            Err(check.fail(at, what, "give a length a minute above 0, up to 1000 m"))
        }
        speed => Ok(speed),
    }
}

fn area(check: &Checker, at: &str, area: Option<f64>, mm: f64) -> Result<Option<f64>> {
    match area {
        Some(area) if !(area > 0.0 && area * mm * mm <= 1e8) => {
            let what = format!("the area is {area}");
            let advice = "give the area below which a part is small, above 0";
            Err(check.fail(format!("{at}.small_parts.area"), what, advice))
        }
        area => Ok(area.map(|a| a * mm * mm)),
    }
}
