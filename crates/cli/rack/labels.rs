//! Labels for remnants: identity, material, sizes, sketch and a QR code, as a page to print.

use super::picture::{Drawn, sketch};
use super::remnant_row::{self, State};
use super::shape;
use super::store::Rack;
use crate::Result;
use crate::input::LabelStock;
use crate::number::plain;
use crate::paper::Paper;
use crate::papers::{Label, Sketch, grain_words, label_page};
use crate::remnant::Remnant;
use panelwright_geometry::Polygon;
use std::rc::Rc;

/// Labels of remnants as an HTML page; of all on the rack when `ids` is empty.
///
/// The QR code holds the identity alone, so that a label stays true when a remnant is moved.
///
/// # Errors
/// The rack cannot be read, or does not know one of the ids.
pub fn labels(rack: &Rack, ids: &[String], stock: &LabelStock, paper: &Paper) -> Result<String> {
    let db = rack.db();
    let remnants: Vec<Remnant> = if ids.is_empty() {
        let all = remnant_row::in_state(db, State::OnRack)?;
        all.into_iter().map(|logged| logged.remnant).collect()
    } else {
        ids.iter()
            .map(|id| match remnant_row::find(db, id)? {
                Some(logged) => Ok(logged.remnant),
                None => Err(remnant_row::unknown(db, id)?),
            })
            .collect::<Result<_>>()?
    };
    let labels: Vec<Label> = remnants.iter().map(|r| label(r, paper)).collect();
    label_page(&paper.say("label-remnants-title"), &labels, stock, paper)
}

fn label(remnant: &Remnant, paper: &Paper) -> Label {
    let bounds = remnant.outline.bounds();
    let size = format!(
        "{} {}",
        paper.size(bounds.width(), bounds.height()),
        paper.length_unit()
    );
    let mut shape = vec![size];
    let outside = Polygon::new(remnant.outline.outer.clone(), Vec::new());
    match shape::describe(&outside, 0) {
        name if name.is_empty() => {}
        // An L, T, U or Z is one in every language; the sketch shows the others.
        name if name.len() == 1 => shape.push(name),
        _ => shape.push(paper.say("label-not-rectangular")),
    }
    for (key, count) in [
        ("label-voids", remnant.outline.holes.len()),
        ("label-flaws", remnant.flaws.len()),
    ] {
        if count > 0 {
            shape.push(paper.say_with(key, &[("n", count.into())]));
        }
    }
    let mut rest = Vec::new();
    // First what another piece beside it may differ in.
    if let Some(lot) = &remnant.lot {
        rest.push(paper.say_with("label-lot", &[("lot", plain(lot).into())]));
    }
    rest.push(paper.say_with("label-faces", &[("faces", remnant.good_faces.into())]));
    rest.extend(grain_words(paper, remnant.grain_deg, &bounds));
    if let Some(day) = &remnant.logged {
        rest.push(paper.say_with("label-logged", &[("day", plain(day).into())]));
    }
    let drawn = Drawn::of(remnant);
    Label {
        kind: paper.say("label-remnant"),
        title: plain(&remnant.id),
        under: plain(&remnant.material),
        lines: vec![
            shape.join(", "),
            rest.join(", "),
            remnant.note.as_deref().map(plain).unwrap_or_default(),
        ],
        identity: remnant.id.clone(),
        sketch: Some(Sketch {
            proportion: bounds.width() / bounds.height(),
            draw: Rc::new(move |w, h| sketch(&drawn, 0.0, h, w, h)),
        }),
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::TestRack;
    use super::*;

    #[test]
    fn a_label_says_what_the_piece_is() {
        let test = TestRack::new();
        let stock = LabelStock::named("a4-2x7").expect("a stock");
        let paper = Paper::default();
        let page = labels(&test.rack, &[], &stock, &paper).expect("labels");
        assert_eq!(page.matches("class=\"label\"").count(), 2);
        for words in [
            "R-0012",
            "brushed 3",
            "900 x 600 mm, L, 1 void, 1 flaw",
            "lot P-28",
            "both faces good",
        ] {
            assert!(page.contains(words), "{words}: {page}");
        }
        let one = labels(&test.rack, &["r-0007".to_owned()], &stock, &paper).expect("a label");
        assert_eq!(one.matches("class=\"label\"").count(), 1);
        let unknown = ["R-0099".to_owned()];
        let failure = labels(&test.rack, &unknown, &stock, &paper).expect_err("unknown");
        assert!(failure.to_string().contains("R-0099"), "{failure}");
    }
}
