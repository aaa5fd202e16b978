//! The lines and texts a drawing is made of.

use panelwright_geometry::{Bounds, Path, Placement, Point, Ring, Segment, Vertex};

/// A line, curve or text of a drawing, in millimetres, y up.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A full circle.
    Circle {
        /// Centre.
        center: Point,
        /// Radius.
        radius: f64,
    },
    /// A closed chain of lines and arcs.
    Ring(Ring),
    /// A chain of lines and arcs, mostly open.
    Path(Path),
    /// A straight saw cut.
    Cut {
        /// One end of its centre line.
        from: Point,
        /// The other end.
        to: Point,
        /// Width it removes.
        kerf: f64,
    },
    /// One line of text.
    Text(Text),
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Its middle.
    pub at: Point,
    /// Height of its capitals.
    pub height: f64,
    /// Its direction in degrees, counter-clockwise, in (-90, 90] so that it is never upside down.
    pub turn_deg: f64,
    /// What it says.
    pub content: String,
}

/// Average advance of a character over the height of capitals.
///
/// Between the plain stroke font of drawing programs (about 0.9) and common screen fonts (about
/// 0.8). Too small and text runs over its part's edge; too large and it is smaller than need be.
pub const ADVANCE: f64 = 0.85;

impl Text {
    /// About how long the line is.
    #[must_use]
    pub fn length(&self) -> f64 {
        ADVANCE * self.height * self.content.chars().count() as f64
    }

    /// The text turned and moved, never upside down.
    #[must_use]
    pub fn placed(&self, placement: &Placement) -> Self {
        Self {
            at: placement.apply(self.at),
            turn_deg: upright(self.turn_deg + placement.angle_deg()),
            ..self.clone()
        }
    }
}

/// The same direction or its opposite, whichever can be read: in (-90, 90].
fn upright(turn_deg: f64) -> f64 {
    let turn = turn_deg.rem_euclid(180.0);
    if turn > 90.0 { turn - 180.0 } else { turn }
}

/// Arcs with a larger bulge are drawn as two.
///
/// The ends of such an arc (sweep above 337 degrees) are so near to each other that the rounding
/// of a reader's coordinates would change its radius.
const MOST_BULGE: f64 = 10.0;

/// How far the arcs of a ring may be from one circle to be drawn as one, in millimetres: the
/// rounding of a turn, far below what a machine can do.
const SAME_CIRCLE: f64 = 1e-7;

/// The circle that all segments of `ring` lie on, if they go round it once.
fn circle_of(ring: &Ring) -> Option<Shape> {
    let arcs: Vec<_> = ring
        .segments()
        .map(|s| s.arc_geometry())
        .collect::<Option<_>>()?;
    let first = arcs.first()?;
    let sweep: f64 = arcs.iter().map(|a| a.sweep).sum();
    let once = (sweep.abs() - std::f64::consts::TAU).abs() < 1e-9;
    let same = arcs.iter().all(|a| {
        a.sweep.signum() == first.sweep.signum()
            && a.center.distance(first.center) < SAME_CIRCLE
            && (a.radius - first.radius).abs() < SAME_CIRCLE
    });
    (once && same).then_some(Shape::Circle {
        center: first.center,
        radius: first.radius,
    })
}

/// The two halves of an arc that is nearly a full circle; any other segment as it is.
fn split(segment: &Segment) -> Vec<Vertex> {
    let start = Vertex {
        point: segment.start,
        bulge: segment.bulge,
    };
    if segment.bulge.abs() <= MOST_BULGE {
        return vec![start];
    }
    let bulge = (segment.bulge.atan() / 2.0).tan();
    vec![
        Vertex { bulge, ..start },
        Vertex {
            point: segment.point_at(0.5),
            bulge,
        },
    ]
}

impl Shape {
    /// A closed curve: a circle where it is one.
    #[must_use]
    pub fn closed(ring: &Ring) -> Self {
        circle_of(ring).unwrap_or_else(|| {
            Self::Ring(Ring::new(ring.segments().flat_map(|s| split(&s)).collect()))
        })
    }

    /// A closed chain of straight lines.
    pub fn polygon(points: impl IntoIterator<Item = Point>) -> Self {
        Self::Ring(Ring::polygon(points))
    }

    /// An upright rectangle.
    #[must_use]
    pub fn rectangle(bounds: Bounds) -> Self {
        Self::polygon(bounds.corners())
    }

    /// A score or engrave line.
    #[must_use]
    pub fn mark(path: &Path) -> Self {
        if path.closed {
            return Self::closed(&Ring::new(path.vertices.clone()));
        }
        let mut vertices: Vec<Vertex> = path.segments().flat_map(|s| split(&s)).collect();
        if let Some(last) = path.vertices.last() {
            vertices.push(Vertex {
                bulge: 0.0,
                ..*last
            });
        }
        Self::Path(Path {
            vertices,
            closed: false,
        })
    }

    /// The shape turned and moved.
    #[must_use]
    pub fn placed(&self, placement: &Placement) -> Self {
        match self {
            Self::Circle { center, radius } => Self::Circle {
                center: placement.apply(*center),
                radius: *radius,
            },
            Self::Ring(ring) => Self::Ring(ring.placed(placement)),
            Self::Path(path) => Self::Path(path.placed(placement)),
            Self::Cut { from, to, kerf } => Self::Cut {
                from: placement.apply(*from),
                to: placement.apply(*to),
                kerf: *kerf,
            },
            Self::Text(text) => Self::Text(text.placed(placement)),
        }
    }

    /// Whether every number in it is finite.
    #[must_use]
    pub fn is_finite(&self) -> bool {
        let vertices = |v: &[Vertex]| v.iter().all(|v| v.point.is_finite() && v.bulge.is_finite());
        match self {
            Self::Circle { center, radius } => center.is_finite() && radius.is_finite(),
            Self::Ring(ring) => vertices(&ring.vertices),
            Self::Path(path) => vertices(&path.vertices),
            Self::Cut { from, to, kerf } => from.is_finite() && to.is_finite() && kerf.is_finite(),
            Self::Text(text) => {
                text.at.is_finite() && text.height.is_finite() && text.turn_deg.is_finite()
            }
        }
    }

    /// Its bounding rectangle; `None` for text and for what has no points.
    #[must_use]
    pub fn bounds(&self) -> Option<Bounds> {
        match self {
            Self::Circle { center, radius } => Some(Bounds::new(*center, *center).grown(*radius)),
            Self::Ring(ring) if ring.vertices.is_empty() => None,
            Self::Ring(ring) => Some(ring.bounds()),
            Self::Path(path) => path.segments().map(|s| s.bounds()).reduce(Bounds::union),
            Self::Cut { from, to, .. } => Some(Bounds::new(*from, *to)),
            Self::Text(_) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_is_found_in_any_number_of_arcs() {
        let whole = Ring::circle(Point::new(30.0, -7.0), 4.25);
        let quarter = (std::f64::consts::FRAC_PI_8).tan();
        let quarters = Ring::new(vec![
            Vertex::new(34.25, -7.0, quarter),
            Vertex::new(30.0, -2.75, quarter),
            Vertex::new(25.75, -7.0, quarter),
            Vertex::new(30.0, -11.25, quarter),
        ]);
        let turned = Placement::new(33.3, Point::new(1000.0, 2000.0));
        for ring in [
            whole.clone(),
            whole.reversed(),
            quarters.clone(),
            quarters.placed(&turned),
        ] {
            let Shape::Circle { radius, .. } = Shape::closed(&ring) else {
                panic!("not a circle: {ring:?}");
            };
            assert!((radius - 4.25).abs() < 1e-9);
        }
        let slot = Ring::new(vec![
            Vertex::new(0.0, 0.0, 0.0),
            Vertex::new(10.0, 0.0, 1.0),
            Vertex::new(10.0, 4.0, 0.0),
            Vertex::new(0.0, 4.0, 1.0),
        ]);
        assert!(matches!(Shape::closed(&slot), Shape::Ring(r) if r == slot));
        let lens = Ring::new(vec![
            Vertex::new(0.0, 0.0, 0.5),
            Vertex::new(10.0, 0.0, 0.5),
        ]);
        assert!(matches!(Shape::closed(&lens), Shape::Ring(_)));
    }

    #[test]
    fn a_nearly_full_circle_becomes_two_arcs_of_the_same_curve() {
        let ring = Ring::new(vec![
            Vertex::new(0.0, 0.0, 500.0),
            Vertex::new(0.04, 0.0, 0.0),
            Vertex::new(0.02, 0.01, 0.0),
        ]);
        let Shape::Ring(drawn) = Shape::closed(&ring) else {
            panic!("not a ring");
        };
        assert_eq!(drawn.vertices.len(), 4);
        assert!(drawn.vertices.iter().all(|v| v.bulge.abs() < 1.01));
        assert!((drawn.area() / ring.area() - 1.0).abs() < 1e-9);
        assert!((drawn.length() / ring.length() - 1.0).abs() < 1e-9);
    }

    #[test]
    fn text_is_never_upside_down() {
        for (turn, want) in [
            (0.0, 0.0),
            (90.0, 90.0),
            (180.0, 0.0),
            (270.0, 90.0),
            (135.0, -45.0),
        ] {
            assert_eq!(upright(turn), want);
        }
    }
}
