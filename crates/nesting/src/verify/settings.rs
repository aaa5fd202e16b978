//! Cuts made by the settings of the fence alone: sizes of pieces, without any place.

use super::{Fault, SAWN};
use crate::sawing::FenceCut;
use panelwright_geometry::tolerance;
use std::collections::BTreeMap;

/// Makes the cuts as a person does who sees nothing but the list: takes the piece named, sets the fence, cuts.
/// Then compares what comes off with `freed`, pieces and the sizes along x and y they must have. `sheet` is for the
/// messages; `stock` is its size.
///
/// Empty when every piece comes out as it should.
#[must_use]
pub fn judge_settings(
    sheet: usize,
    stock: (f64, f64),
    cuts: &[FenceCut],
    freed: &[(usize, f64, f64)],
) -> Vec<Fault> {
    let mut faults = Vec::new();
    let mut there: BTreeMap<usize, (f64, f64)> = BTreeMap::from([(0, stock)]);
    for (i, cut) in cuts.iter().enumerate() {
        let fault = |what: String| Fault::Setting {
            sheet,
            cut: i + 1,
            what,
        };
        let Some((length, width)) = there.remove(&cut.piece) else {
            faults.push(fault("the piece to be cut is not there".into()));
            continue;
        };
        let (along, across) = if cut.along_x {
            (length, width)
        } else {
            (width, length)
        };
        let of = |across: f64| {
            if cut.along_x {
                (along, across)
            } else {
                (across, along)
            }
        };
        let rest = across - cut.setting - cut.kerf;
        let within = cut.setting > 0.0 && cut.setting < across + tolerance::JUDGE;
        if !within || (rest > tolerance::JUDGE) != cut.beyond.is_some() {
            faults.push(fault(format!(
                "with the fence at {} a piece of {across} does not give what is said",
                cut.setting
            )));
        }
        let mut put = |piece: usize, size: (f64, f64)| {
            if there.insert(piece, size).is_some() {
                faults.push(fault("a piece comes off that is there already".into()));
            }
        };
        put(cut.at_fence, of(cut.setting));
        if let Some(beyond) = cut.beyond {
            put(beyond, of(rest));
        }
    }
    for &(piece, length, width) in freed {
        let right = there.remove(&piece).is_some_and(|(l, w)| {
            (l - length).abs() <= 2.0 * SAWN && (w - width).abs() <= 2.0 * SAWN
        });
        if !right {
            faults.push(Fault::Setting {
                sheet,
                cut: cuts.len(),
                what: format!("no piece of {length} x {width} is left after the last cut"),
            });
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::SawCut;
    use crate::sawing::Sawing;
    use panelwright_geometry::{Bounds, Point};

    fn sawing() -> Sawing {
        let cut = |x0: f64, y0: f64, x1: f64, y1: f64, stage: u32| SawCut {
            from: Point::new(x0, y0),
            to: Point::new(x1, y1),
            kerf: 4.0,
            stage,
        };
        let part = Bounds::new(Point::new(0.0, 0.0), Point::new(200.0, 100.0));
        let stock = Bounds::new(Point::new(0.0, 0.0), Point::new(500.0, 300.0));
        let cuts = [cut(0., 102., 500., 102., 1), cut(202., 0., 202., 100., 2)];
        Sawing::of(stock, &cuts, &[part]).expect("cuts that can be followed")
    }

    #[test]
    fn right_settings_free_the_part_and_wrong_ones_are_told() {
        let good = sawing();
        let freed = [(good.cuts[1].at_fence, 200.0, 100.0)];
        let judged = |cuts: &[FenceCut]| judge_settings(1, (500.0, 300.0), cuts, &freed);
        assert_eq!(judged(&good.cuts), Vec::new());
        let mut wrong = good.cuts.clone();
        wrong[0].setting = 101.0;
        assert_eq!(judged(&wrong).len(), 1);
        let mut wrong = good.cuts.clone();
        wrong[1].along_x = true;
        assert!(!judged(&wrong).is_empty());
        let mut wrong = good.cuts.clone();
        wrong.swap(0, 1);
        assert!(judged(&wrong)[0].to_string().contains("not there"));
        let mut wrong = good.cuts;
        wrong[1].beyond = None;
        assert_eq!(judged(&wrong).len(), 1);
    }
}
