//! The layers of a drawing and the order in which a machine should work through them.

use std::cmp::Reverse;
use std::fmt;

/// What a line of a drawing means.
///
/// A part that lies in a window of another part has a *depth* of 1 (2 in a window of such a part,
/// and so on), and its cuts have layers of their own. Otherwise a machine that works layer by layer
/// would cut the window first and then find the part on a loose piece.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Layer {
    /// Edge of the stock, and its voids.
    Edge,
    /// Areas of the stock that parts keep clear of.
    Flaw,
    /// Areas that the machine needs free: clamps, screws.
    Zone,
    /// Blanks that are sawn from the stock first.
    Blank,
    /// Left-overs that are kept.
    Offcut,
    /// Left-overs that are not kept.
    Scrap,
    /// Centre lines of saw cuts.
    Saw,
    /// Sizes that the saw cuts leave: parts sawn to size, rectangles that are finished later.
    Sawn,
    /// Finished edges shown beside tool paths; not cut.
    Finished,
    /// Lines scored or engraved.
    Mark,
    /// Cuts round holes and windows of parts at this depth.
    Inside(u32),
    /// Cuts round parts at this depth.
    Outside(u32),
    /// Tool paths inside holes and windows of parts at this depth.
    PathInside(u32),
    /// Tool paths round parts at this depth.
    PathOutside(u32),
    /// Tool paths round parts at this depth that leave a thin floor.
    PathSkin(u32),
    /// Tool paths over tabs of parts at this depth.
    PathTab(u32),
    /// Text.
    Label,
}

impl Layer {
    /// Its place in the order in which layers are listed and, where they are cut, worked.
    fn rank(self) -> (u8, Reverse<u32>, u8) {
        match self {
            Self::Edge => (0, Reverse(0), 0),
            Self::Flaw => (1, Reverse(0), 0),
            Self::Zone => (2, Reverse(0), 0),
            Self::Blank => (3, Reverse(0), 0),
            Self::Offcut => (4, Reverse(0), 0),
            Self::Scrap => (5, Reverse(0), 0),
            Self::Saw => (6, Reverse(0), 0),
            Self::Sawn => (7, Reverse(0), 0),
            Self::Finished => (8, Reverse(0), 0),
            Self::Mark => (9, Reverse(0), 0),
            Self::Inside(depth) | Self::PathInside(depth) => (10, Reverse(depth), 0),
            // Small parts, which a skin holds, are cut before large ones.
            Self::PathSkin(depth) => (10, Reverse(depth), 1),
            Self::Outside(depth) | Self::PathOutside(depth) => (10, Reverse(depth), 2),
            Self::PathTab(depth) => (10, Reverse(depth), 3),
            Self::Label => (11, Reverse(0), 0),
        }
    }

    /// Whether the router or laser follows its lines.
    #[must_use]
    pub const fn is_worked(self) -> bool {
        matches!(
            self,
            Self::Mark
                | Self::Inside(_)
                | Self::Outside(_)
                | Self::PathInside(_)
                | Self::PathOutside(_)
                | Self::PathSkin(_)
                | Self::PathTab(_)
        )
    }

    /// What it holds, for a reader who has not seen it before.
    #[must_use]
    pub fn title(self) -> String {
        let in_window = |what: &str, depth: u32| match depth {
            0 => what.to_owned(),
            1 => format!("{what}, parts in a window: cut before the windows"),
            _ => format!("{what}, parts {depth} windows deep: cut before those"),
        };
        match self {
            Self::Edge => "Edge of the stock and its voids".to_owned(),
            Self::Flaw => "Flaws, kept clear".to_owned(),
            Self::Zone => "Areas that the machine needs free".to_owned(),
            Self::Blank => "Blanks sawn first".to_owned(),
            Self::Offcut => "Offcuts to keep".to_owned(),
            Self::Scrap => "Scrap".to_owned(),
            Self::Saw => "Saw cuts, centre lines, numbered in cutting order".to_owned(),
            Self::Sawn => "Sizes that the saw leaves".to_owned(),
            Self::Finished => "Finished edges, not cut: tool paths run beside them".to_owned(),
            Self::Mark => "Score or engrave lines".to_owned(),
            Self::Inside(depth) => in_window("Inside cuts", depth),
            Self::Outside(depth) => in_window("Outside cuts", depth),
            Self::PathInside(depth) => in_window("Tool paths of inside cuts", depth),
            Self::PathOutside(depth) => in_window("Tool paths of outside cuts", depth),
            Self::PathSkin(depth) => in_window("Tool paths that leave a thin floor", depth),
            Self::PathTab(depth) => in_window("Tool paths over tabs, less deep", depth),
            Self::Label => "Text".to_owned(),
        }
    }
}

impl PartialOrd for Layer {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Layer {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.rank().cmp(&other.rank())
    }
}

/// The layer's name in a cut file, such as `PW-OUTSIDE` or, one window deep, `PW-OUTSIDE-1`.
impl fmt::Display for Layer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = match self {
            Self::Edge => "EDGE",
            Self::Flaw => "FLAW",
            Self::Zone => "ZONE",
            Self::Blank => "BLANK",
            Self::Offcut => "OFFCUT",
            Self::Scrap => "SCRAP",
            Self::Saw => "SAW",
            Self::Sawn => "SAWN",
            Self::Finished => "FINISHED",
            Self::Mark => "MARK",
            Self::Inside(_) => "INSIDE",
            Self::Outside(_) => "OUTSIDE",
            Self::PathInside(_) => "PATH-INSIDE",
            Self::PathOutside(_) => "PATH-OUTSIDE",
            Self::PathSkin(_) => "PATH-SKIN",
            Self::PathTab(_) => "PATH-TAB",
            Self::Label => "LABEL",
        };
        write!(f, "PW-{name}")?;
        match self {
            Self::Inside(depth)
            | Self::Outside(depth)
            | Self::PathInside(depth)
            | Self::PathOutside(depth)
            | Self::PathSkin(depth)
            | Self::PathTab(depth)
                if *depth > 0 =>
            {
                write!(f, "-{depth}")
            }
            _ => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_lies_in_a_window_comes_before_the_window() {
        let mut layers = [
            Layer::Outside(0),
            Layer::Label,
            Layer::Inside(0),
            Layer::Outside(1),
            Layer::Mark,
            Layer::Inside(1),
            Layer::Edge,
        ];
        layers.sort();
        let names: Vec<String> = layers.iter().map(Layer::to_string).collect();
        assert_eq!(
            names,
            [
                "PW-EDGE",
                "PW-MARK",
                "PW-INSIDE-1",
                "PW-OUTSIDE-1",
                "PW-INSIDE",
                "PW-OUTSIDE",
                "PW-LABEL"
            ]
        );
    }

    #[test]
    fn small_parts_on_a_skin_come_before_large_ones() {
        let mut layers = [
            Layer::PathOutside(0),
            Layer::PathSkin(0),
            Layer::PathOutside(1),
            Layer::PathInside(0),
            Layer::PathSkin(1),
        ];
        layers.sort();
        let names: Vec<String> = layers.iter().map(Layer::to_string).collect();
        assert_eq!(
            names,
            [
                "PW-PATH-SKIN-1",
                "PW-PATH-OUTSIDE-1",
                "PW-PATH-INSIDE",
                "PW-PATH-SKIN",
                "PW-PATH-OUTSIDE"
            ]
        );
    }
}
