//! Outlines of flat parts: read, checked, turned, offset by a kerf, measured.
//!
//! Conventions, said here once:
//!
//! * Lengths are **millimetres**, areas square millimetres, `x` to the right and `y` **up**.
//! * Outer rings run **counter-clockwise**, holes clockwise, so the material is always on the left.
//! * Turns are counter-clockwise. They are kept in **degrees**, not radians, because a quarter turn
//!   has to be exact: a panel that is as wide as the sheet must still fit after it.
//! * A curve is a line or a **true arc**, given by the bulge of its segment: the tangent of a quarter
//!   of its sweep, positive when it runs counter-clockwise. Anything else (ellipse, spline) becomes
//!   arcs when it is read, within a stated distance.
//!
//! ```
//! use panelwright_geometry::{Outline, Point, Ring};
//!
//! let mut panel = Outline::rectangle(100.0, 60.0);
//! panel.holes.push(Ring::circle(Point::new(50.0, 30.0), 10.0).reversed());
//! assert!((panel.area() - (6000.0 - 100.0 * std::f64::consts::PI)).abs() < 1e-9);
//! ```

mod boundary;
mod bounds;
mod clearance;
pub mod drawing;
mod fit;
mod flatten;
mod inscribed;
mod kerf;
mod narrow;
mod outline;
mod path;
mod placement;
mod point;
mod polygon;
mod region;
mod relief;
mod ring;
mod segment;
pub mod tolerance;
mod validate;

pub use boundary::{Boundary, Nearest};
pub use bounds::Bounds;
pub use clearance::clearance;
pub use flatten::Side;
pub use inscribed::{largest_clear_rectangle, largest_rectangle};
pub use kerf::KerfError;
pub use narrow::{InsideCorner, Narrow};
pub use outline::Outline;
pub use path::Path;
pub use placement::Placement;
pub use point::{Point, Vec2};
pub use polygon::Polygon;
pub use region::{Join, Region};
pub use relief::{Relief, Relieved};
pub use ring::{Ring, Vertex};
pub use segment::{ArcGeometry, Segment};
pub use validate::{InvalidOutline, RingName, problems, validate};
