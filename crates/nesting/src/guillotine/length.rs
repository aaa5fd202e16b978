//! Whole nanometres inside the search, so that sums of parts and kerfs are exact.
//!
//! A nanometre is a millionth of a millimetre: far below what a saw or the judge can tell, and a
//! hundred metres of them fit an `i64` a million times over.

/// A length in nanometres.
pub(super) type Nm = i64;

/// Nanometres in a millimetre.
const PER_MM: f64 = 1e6;

/// How far below a whole nanometre a part's side may be before it is taken as the next lower one.
///
/// Sides are differences of coordinates and so carry rounding of some 1e-11 mm; without this slack
/// a side of 1219.2 mm could come out a nanometre short.
const ROUNDING: f64 = 0.01;

/// A stock length or a kerf, to the nearest nanometre.
pub(super) fn nearest(mm: f64) -> Nm {
    (mm * PER_MM).round() as Nm
}

/// A part's side, rounded down: thirds of a sheet must still fit three times.
pub(super) fn at_most(mm: f64) -> Nm {
    (mm * PER_MM + ROUNDING).floor() as Nm
}

/// Back to millimetres.
pub(super) fn mm(nm: Nm) -> f64 {
    nm as f64 / PER_MM
}

/// A limit that may be infinite.
pub(super) fn limit(mm: f64) -> Nm {
    if mm * PER_MM < Nm::MAX as f64 / 4.0 {
        (mm * PER_MM + ROUNDING).floor() as Nm
    } else {
        Nm::MAX / 4
    }
}

/// Area in square millimetres of a rectangle of these sides.
pub(super) fn area(size: [Nm; 2]) -> f64 {
    mm(size[0]) * mm(size[1])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_fit_three_times() {
        for length in [2440.0, 2000.0, 3050.0, 1000.1] {
            let third = at_most(length / 3.0);
            assert!(3 * third <= nearest(length) && 3 * third > nearest(length) - 4);
        }
        let far = 87_654.3 + 1219.2;
        assert_eq!(at_most(far - 87_654.3), 1_219_200_000);
    }
}
