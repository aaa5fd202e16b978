//! How long cutting takes, and how set-ups and practice spread over a run.

/// Speed along the cut from the spindle: turns a minute, cutting edges, and what each takes off in a turn.
/// In the unit of the chip load, per minute.
///
/// # Source
/// Feeds pages of a tool supplier and of a carbide maker: see the tests.
#[must_use]
pub fn feed(rpm: f64, flutes: f64, chip_load: f64) -> f64 {
    rpm * flutes * chip_load
}

/// Minutes of a machine that goes along `length` so many times at a speed per minute, and takes
/// `start_seconds` for each start: to travel there and to pierce, plunge or set the fence.
#[must_use]
pub fn minutes(length: f64, passes: f64, per_minute: f64, starts: u32, start_seconds: f64) -> f64 {
    length * passes / per_minute + f64::from(starts) * start_seconds / 60.0
}

/// Exponent of the learning curve: `log2` of the rate, so 0.8 gives -0.3219.
#[must_use]
pub fn learning_exponent(rate: f64) -> f64 {
    rate.log2()
}

/// Average of the first `units`, as a share of the first one, by the cumulative average variant.
///
/// # Source
/// T. P. Wright, "Factors affecting the cost of airplanes", J. Aeronautical Sciences 3 (1936).
#[must_use]
pub fn average_share(rate: f64, units: u32) -> f64 {
    f64::from(units.max(1)).powf(learning_exponent(rate))
}

#[cfg(test)]
mod tests {
    use super::*;
    use panelwright_geometry::{Outline, Point, Ring};

    #[test]
    fn feeds_of_published_examples() {
        // Feeds page of a tooling supplier: 18 000 rpm, 2 flutes, 0.1 mm is 3600 mm a minute.
        assert!((feed(18_000.0, 2.0, 0.1) - 3_600.0).abs() < 1e-9);
        // A calculator page, in inches: 400 in a minute at 10 000 rpm and 3 flutes is a chip of 0.0133 in.
        assert!((feed(10_000.0, 3.0, 0.0133) - 400.0).abs() < 1.01);
        // A carbide maker's table for plastics: 1/4 in tool, 12 224 rpm, 0.0075 in a turn is 91.7 in a minute.
        assert!((feed(12_224.0, 1.0, 0.0075) - 91.7).abs() < 0.05);
    }

    #[test]
    fn laser_time_of_a_plate() {
        // Worked example: 300 x 200 mm with two holes of 12 mm is 1075.398 mm; at 20 mm/s with three pierces of
        // 0.5 s, no travel counted, it takes 55.270 s.
        let hole = |x: f64| Ring::circle(Point::new(x, 100.0), 6.0);
        let plate = Outline::from_rings(
            Outline::rectangle(300.0, 200.0).outer,
            vec![hole(60.0), hole(240.0)],
        );
        let length = plate.cut_length();
        assert!((length - 1_075.398).abs() < 5e-4, "{length}");
        let seconds = 60.0 * minutes(length, 1.0, 20.0 * 60.0, 3, 0.5);
        assert!((seconds - 55.270).abs() < 5e-4, "{seconds}");
    }

    #[test]
    fn saw_time_at_the_feeds_of_a_fabrication_article() {
        // Composite on a panel saw: 10 to 30 m a minute, so a sheet's length of 2.44 m takes 4.9 to 14.6 s.
        let seconds = |m_per_min: f64| 60.0 * minutes(2_440.0, 1.0, m_per_min * 1e3, 0, 0.0);
        assert!((seconds(30.0) - 4.88).abs() < 0.01 && (seconds(10.0) - 14.64).abs() < 0.01);
    }

    #[test]
    fn set_up_spreads_over_the_run() {
        // Worked example: set-up 30, then 3 minutes each at 60 an hour: 33.00, 6.00 and 3.30 each for 1, 10
        // and 100.
        use crate::estimate::money::Money;
        for (units, expected) in [(1, 33.00), (10, 6.00), (100, 3.30)] {
            let run = Money::at_rate(3.0 / 60.0, 60.0).times(units);
            let each = (Money::of(30.0) + run).part(units);
            assert_eq!(each.rounded(2), Money::of(expected), "{units}");
        }
    }

    #[test]
    fn learning_by_the_cumulative_average() {
        // Wright 1936, by way of cost accounting texts: at 80 %, b is -0.321928; the average of 2 is 0.80 (so
        // the second takes 0.60), of 4 it is 0.64, of 10 it is 0.4765; at 90 %, b is -0.152003.
        assert!((learning_exponent(0.8) + 0.321_928).abs() < 1e-6);
        assert!((learning_exponent(0.9) + 0.152_003).abs() < 1e-6);
        for (units, average) in [(1, 1.0), (2, 0.80), (4, 0.64), (10, 0.4765)] {
            assert!(
                (average_share(0.8, units) - average).abs() < 5e-5,
                "{units}"
            );
        }
        let second = 2.0 * average_share(0.8, 2) - 1.0;
        assert!((second - 0.60).abs() < 1e-12);
        assert!((average_share(1.0, 25) - 1.0).abs() < 1e-12);
    }
}
