//! Tabs: where a small part stays joined to the rest until it is broken out.

use super::tool::Tool;
use panelwright_geometry::{Path, tolerance};

/// Tabs take at most this share of a path; a part that is smaller gets fewer.
const MOST_OF_PATH: f64 = 0.4;

/// Fewer tabs let a part turn about the one it hangs on.
const FEWEST: u32 = 2;

/// The stretches of a closed path, begun at its start, over which tabs stay: from and to, measured
/// along the path. Empty when the part is too small for two.
///
/// They are spread evenly and then moved to the nearest straight stretch that is long enough, where
/// they are cleaned off with one stroke of a file. The tool's width goes on top of a tab's length,
/// because the tool takes half of it at either end.
#[must_use]
pub fn tabs(path: &Path, tool: &Tool) -> Vec<(f64, f64)> {
    let whole = path.length();
    let width = tool.tab_length + 2.0 * tool.radius;
    let most = (MOST_OF_PATH * whole / width) as u32;
    let count = tool.tabs.min(most);
    if count < FEWEST {
        return Vec::new();
    }
    let mut straight = Vec::new();
    let mut done = 0.0;
    for segment in path.segments() {
        let length = segment.length();
        if !segment.is_arc() && length > width {
            straight.push((done + 0.5 * width, done + length - 0.5 * width));
        }
        done += length;
    }
    let share = whole / f64::from(count);
    (0..count)
        .map(|i| {
            let wanted = (f64::from(i) + 0.5) * share;
            // Not so far that two could meet.
            let reach = 0.5 * (share - width) - tolerance::COINCIDENT;
            let moved = straight
                .iter()
                .map(|(from, to)| wanted.clamp(*from, *to))
                .filter(|middle| (middle - wanted).abs() <= reach)
                .min_by(|a, b| (a - wanted).abs().total_cmp(&(b - wanted).abs()));
            let middle = moved.unwrap_or(wanted);
            (middle - 0.5 * width, middle + 0.5 * width)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::{CutSettings, Machine};
    use panelwright_geometry::{Point, Ring};

    fn router() -> Tool {
        let text = r#"{"name": "r", "process": "router", "kerf": 3}"#;
        let machine: Machine = serde_json::from_str(text).unwrap();
        Tool::of(&Machine {
            cutting: Some(CutSettings::default()),
            ..machine
        })
    }

    #[test]
    fn tabs_lie_on_straight_stretches_and_never_meet() {
        let ring = Ring::rounded_rectangle(Point::default(), Point::new(60.0, 40.0), 12.0);
        for begin in [0.0, 0.3, 0.9] {
            let path = ring.opened_at(0, begin);
            let tabs = tabs(&path, &router());
            assert_eq!(tabs.len(), 3);
            let pieces = path.cut_at(&tabs.iter().flat_map(|(a, b)| [*a, *b]).collect::<Vec<_>>());
            assert_eq!(pieces.len(), 7);
            for piece in pieces.iter().skip(1).step_by(2) {
                assert!((piece.length() - 7.0).abs() < 1e-6);
                assert!(piece.segments().all(|s| !s.is_arc()));
            }
            assert!(tabs.windows(2).all(|w| w[0].1 < w[1].0));
            assert!(tabs[0].0 > 0.0 && tabs[2].1 < path.length());
        }
    }

    #[test]
    fn a_tiny_part_gets_fewer_or_none() {
        let round = |radius: f64| Ring::circle(Point::default(), radius).opened_at(0, 0.0);
        assert_eq!(tabs(&round(7.0), &router()).len(), 2);
        assert!(tabs(&round(4.0), &router()).is_empty());
    }
}
