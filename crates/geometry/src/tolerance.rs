//! The named distances, each with the question it answers. All in millimetres.

/// How far a flattened curve may be from the true one in what the program writes and judges.
///
/// Larger shows in the fit of a part; smaller only makes more vertices.
pub const CHORD: f64 = 0.02;

/// Two ends of a drawing's curves that are nearer than this are the same end.
///
/// A hand-drawn gap is usually far larger, a rounding error of a drawing program far smaller.
pub const JOIN: f64 = 0.05;

/// Ends of curves farther apart than this are not one end by any rounding, whatever is asked for; joining them would
/// make holes up.
pub const WIDEST_JOIN: f64 = 2.0;

/// How far the arcs that stand for an ellipse or a spline may be from it.
pub const FIT: f64 = 0.01;

/// Lengths below this are no lengths: the ends of a segment coincide.
pub const COINCIDENT: f64 = 1e-6;

/// What the judge forgives when it compares a distance with what was asked for.
///
/// A thousandth of the 0.01 mm that the outside checks use, and a hundred times the rounding of
/// coordinates of ten metres after a turn.
pub const JUDGE: f64 = 1e-5;

/// No coordinate may be larger: a hundred metres. Beyond it a drawing has lost its unit.
pub const LARGEST: f64 = 100_000.0;
