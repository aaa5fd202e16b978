//! How much cutting a sheet is: length, pierces, travel, time.

use super::tool::Tool;

/// Seconds in the minute that feeds are given for.
const MINUTE: f64 = 60.0;

/// What cutting a sheet amounts to. Lengths in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct CutFigures {
    /// Whether the lines are paths of the tool's centre rather than finished edges.
    pub tool_path: bool,
    /// Length of the cuts, leads and what is cut over tabs included.
    pub cut_length: f64,
    /// Length of the marks.
    pub mark_length: f64,
    /// How often the tool goes through the sheet.
    pub pierces: usize,
    /// Moves between cuts, from the corner of the piece to the last one.
    pub travel: f64,
    /// The same moves with everything cut in the order in which it is listed and drawn.
    pub travel_as_drawn: f64,
    /// Cuts that have no lead because there is no room for one.
    pub without_lead: usize,
    /// Tabs.
    pub tabs: usize,
    /// Parts cut down to a thin floor.
    pub skins: usize,
    /// Small parts that are to be held and are too small for two tabs.
    pub not_held: usize,
    /// Time, where the shop file tells the feed.
    pub seconds: Option<f64>,
}

impl CutFigures {
    /// With the time that `tool` takes: length over feed, so long for each pierce, and the moves.
    ///
    /// Marks are run at the same feed. Loading, changes of tool and acceleration are not in it.
    #[must_use]
    pub fn timed(self, tool: &Tool) -> Self {
        let seconds = tool.feed.map(|feed| {
            let cut = (self.cut_length + self.mark_length) / feed * MINUTE;
            let moves = self.travel / tool.travel_feed.unwrap_or(feed) * MINUTE;
            cut + self.pierces as f64 * tool.pierce_seconds + moves
        });
        Self { seconds, ..self }
    }

    /// As much for each of `copies` pieces alike.
    #[must_use]
    pub fn times(self, copies: usize) -> Self {
        let n = copies as f64;
        Self {
            tool_path: self.tool_path,
            cut_length: n * self.cut_length,
            mark_length: n * self.mark_length,
            pierces: copies * self.pierces,
            travel: n * self.travel,
            travel_as_drawn: n * self.travel_as_drawn,
            without_lead: copies * self.without_lead,
            tabs: copies * self.tabs,
            skins: copies * self.skins,
            not_held: copies * self.not_held,
            seconds: self.seconds.map(|s| n * s),
        }
    }

    /// The sum of both.
    #[must_use]
    pub fn and(self, other: &Self) -> Self {
        Self {
            tool_path: self.tool_path || other.tool_path,
            cut_length: self.cut_length + other.cut_length,
            mark_length: self.mark_length + other.mark_length,
            pierces: self.pierces + other.pierces,
            travel: self.travel + other.travel,
            travel_as_drawn: self.travel_as_drawn + other.travel_as_drawn,
            without_lead: self.without_lead + other.without_lead,
            tabs: self.tabs + other.tabs,
            skins: self.skins + other.skins,
            not_held: self.not_held + other.not_held,
            seconds: match (self.seconds, other.seconds) {
                (Some(a), Some(b)) => Some(a + b),
                _ => None,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::Machine;
    use panelwright_geometry::{Outline, Point, Ring};

    #[test]
    fn the_time_of_a_published_example() {
        // A 300 x 200 outline with two holes of 12 mm at 20 mm/s and three pierces of 0.5 s, without
        // travel: 1075.398 mm and 55.270 s. Source: length over speed and a time for each pierce, the
        // model laser tables use; the value was computed by hand.
        let text = r#"{"name": "l", "process": "laser", "kerf": 0.2,
            "cutting": {"feed": 1200, "pierce_seconds": 0.5}}"#;
        let tool = Tool::of(&serde_json::from_str::<Machine>(text).unwrap());
        let mut plate = Outline::rectangle(300.0, 200.0);
        for x in [50.0, 250.0] {
            plate
                .holes
                .push(Ring::circle(Point::new(x, 100.0), 6.0).reversed());
        }
        let figures = CutFigures {
            cut_length: plate.cut_length(),
            pierces: 3,
            ..CutFigures::default()
        };
        assert!((figures.cut_length - 1075.398).abs() < 5e-4);
        let seconds = figures.timed(&tool).seconds.unwrap();
        assert!((seconds - 55.270).abs() < 5e-4, "{seconds}");
    }
}
