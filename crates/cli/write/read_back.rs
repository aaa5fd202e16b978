//! Reads a DXF file back before it leaves, with a reader that shares no code with the writer.
//!
//! The judge passes layouts; this passes the file made of them. A shop's machine does exactly what
//! the file says, so a slip of the writer must stop here.

use super::Drawing;
use crate::input::DxfForm;
use crate::shape::Shape;
use crate::{Failure, Result};
use dxf::entities::{Entity as Read, EntityType};
use panelwright_geometry::{Point, Vertex};

/// How far a coordinate may be from what was drawn, in millimetres: the decimals written, doubled.
const NEAR: f64 = 2e-6;

/// Checks that `bytes` hold every line and curve of `drawing`, in order, on its layer, with arcs as
/// arcs; `form` is the release it was written in. Texts are not compared.
///
/// # Errors
/// A failure that names the file and the first thing that differs.
pub fn check(name: &str, bytes: &[u8], drawing: &Drawing, form: DxfForm) -> Result<()> {
    let fail = |what: String| {
        let advice = "nothing was written; please report this with the order";
        Failure::new(
            name,
            format!("the cut file does not read back as drawn: {what}"),
            advice,
        )
    };
    let back = dxf::Drawing::load(&mut &bytes[..]).map_err(|e| fail(e.to_string()))?;
    // Release 12 has no place for a unit.
    let unit = back.header.default_drawing_units;
    if form == DxfForm::Release2000 && unit != dxf::enums::Units::Millimeters {
        return Err(fail("its unit is not the millimetre".into()));
    }
    let mut found = back
        .entities()
        .filter(|e| !matches!(e.specific, EntityType::Text(_)));
    for (i, entity) in drawing.entities.iter().enumerate() {
        if matches!(entity.shape, Shape::Text(_)) {
            continue;
        }
        let read = found
            .next()
            .ok_or_else(|| fail(format!("it ends before entity {}", i + 1)))?;
        let layer = entity.layer.to_string();
        if read.common.layer != layer {
            let what = format!(
                "entity {} is on layer {}, not {layer}",
                i + 1,
                read.common.layer
            );
            return Err(fail(what));
        }
        if !same(&entity.shape, read) {
            return Err(fail(format!(
                "entity {} on layer {layer} has another shape",
                i + 1
            )));
        }
    }
    match found.next() {
        None => Ok(()),
        Some(more) => Err(fail(format!("it has more on layer {}", more.common.layer))),
    }
}

fn same(drawn: &Shape, read: &Read) -> bool {
    match (drawn, &read.specific) {
        (Shape::Circle { center, radius }, EntityType::Circle(circle)) => {
            near(*center, circle.center.x, circle.center.y) && (radius - circle.radius).abs() < NEAR
        }
        (Shape::Ring(ring), EntityType::LwPolyline(line)) => {
            line.is_closed() && same_chain(&ring.vertices, line, true)
        }
        (Shape::Path(path), EntityType::LwPolyline(line)) => {
            line.is_closed() == path.closed && same_chain(&path.vertices, line, path.closed)
        }
        (Shape::Ring(ring), EntityType::Polyline(line)) => {
            line.is_closed() && same_vertices(&ring.vertices, line, true)
        }
        (Shape::Path(path), EntityType::Polyline(line)) => {
            line.is_closed() == path.closed && same_vertices(&path.vertices, line, path.closed)
        }
        (Shape::Cut { from, to, .. }, EntityType::Line(line)) => {
            near(*from, line.p1.x, line.p1.y) && near(*to, line.p2.x, line.p2.y)
        }
        _ => false,
    }
}

fn same_chain(drawn: &[Vertex], read: &dxf::entities::LwPolyline, closed: bool) -> bool {
    same_corners(
        drawn,
        read.vertices.iter().map(|v| (v.x, v.y, v.bulge)),
        closed,
    )
}

/// The same for a polyline of release 12.
fn same_vertices(drawn: &[Vertex], read: &dxf::entities::Polyline, closed: bool) -> bool {
    let corners = read
        .vertices()
        .map(|v| (v.location.x, v.location.y, v.bulge));
    same_corners(drawn, corners, closed)
}

fn same_corners(
    drawn: &[Vertex],
    mut read: impl Iterator<Item = (f64, f64, f64)>,
    closed: bool,
) -> bool {
    let all = drawn.iter().enumerate().all(|(i, a)| {
        let counts = closed || i + 1 < drawn.len();
        read.next().is_some_and(|(x, y, bulge)| {
            near(a.point, x, y) && (!counts || (a.bulge - bulge).abs() < NEAR)
        })
    });
    all && read.next().is_none()
}

fn near(a: Point, x: f64, y: f64) -> bool {
    (a.x - x).abs() < NEAR && (a.y - y).abs() < NEAR
}

#[cfg(test)]
mod tests {
    use super::super::{dxf as writer, samples};
    use super::*;

    fn sheet() -> Drawing {
        let job = samples::job();
        Drawing::of_sheet(&samples::plan(&job).sheets[0], 3, &job).unwrap()
    }

    #[test]
    fn what_was_written_reads_back() {
        let drawing = sheet();
        check(
            "x.dxf",
            &writer::to_bytes(&drawing),
            &drawing,
            DxfForm::Release2000,
        )
        .unwrap();
    }

    #[test]
    fn what_differs_is_refused() {
        let drawing = sheet();
        let bytes = writer::to_bytes(&drawing);
        let curved = |d: &Drawing| {
            let round = |s: &Shape| matches!(s, Shape::Ring(r) if r.vertices.iter().any(|v| v.bulge != 0.0));
            d.entities
                .iter()
                .position(|e| round(&e.shape))
                .expect("an arc")
        };
        let at = curved(&drawing);

        let mut flat = drawing.clone();
        if let Shape::Ring(ring) = &mut flat.entities[at].shape {
            ring.vertices.iter_mut().for_each(|v| v.bulge = 0.0);
        }
        assert!(
            check("x.dxf", &bytes, &flat, DxfForm::Release2000)
                .unwrap_err()
                .what
                .contains("another shape")
        );

        let mut moved = drawing.clone();
        if let Shape::Ring(ring) = &mut moved.entities[at].shape {
            ring.vertices[0].point.x += 0.001;
        }
        assert!(check("x.dxf", &bytes, &moved, DxfForm::Release2000).is_err());

        let mut fewer = drawing.clone();
        fewer.entities.remove(at);
        assert!(check("x.dxf", &bytes, &fewer, DxfForm::Release2000).is_err());
        assert!(
            check(
                "x.dxf",
                &bytes[..bytes.len() / 2],
                &drawing,
                DxfForm::Release2000
            )
            .is_err()
        );
    }
}
