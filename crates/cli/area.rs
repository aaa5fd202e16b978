//! Areas: what is measured in square millimetres is paid for, weighed and told by the square metre.

/// Square millimetres in a square metre.
pub(crate) const MM2_PER_M2: f64 = 1e6;

/// Square metres of an area in square millimetres.
pub(crate) fn m2(mm2: f64) -> f64 {
    mm2 / MM2_PER_M2
}
