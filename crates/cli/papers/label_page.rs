//! Labels on their sheets or rolls, as one HTML file to print.

use super::label::Label;
use crate::input::LabelStock;
use crate::number::short;
use crate::paper::Paper;
use crate::{Failure, Result};
use askama::Template;
use std::fmt::Write as _;

#[derive(Template)]
#[template(path = "labels.html", config = "crates/cli/papers/askama.toml")]
struct Page {
    language: &'static str,
    title: String,
    how: String,
    none: String,
    width: String,
    height: String,
    pages: Vec<Sheet>,
}

struct Sheet {
    name: String,
    view: String,
    svg: String,
}

/// Labels one after another on a stock.
///
/// # Errors
/// When a code has no room on it.
pub fn label_page(
    title: &str,
    labels: &[Label],
    stock: &LabelStock,
    paper: &Paper,
) -> Result<String> {
    let count = if labels.is_empty() {
        0
    } else {
        stock.pages(labels.len())
    };
    let mut pages = vec![String::new(); count];
    for (i, label) in labels.iter().enumerate() {
        let (page, whole, room) = stock.place(i);
        let _ = write!(
            pages[page],
            "<rect class=\"edge\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"1.5\"/>{}",
            short(whole.min.x, 3),
            short(whole.min.y, 3),
            short(whole.width(), 3),
            short(whole.height(), 3),
            label.svg(&room)?
        );
        pages[page].push('\n');
    }
    let [width, height] = [stock.page.0, stock.page.1].map(|mm| short(mm, 2));
    let view = format!("0 0 {width} {height}");
    let page = Page {
        language: paper.language.tag(),
        title: title.to_owned(),
        how: paper.say_with(
            "label-how-to-print",
            &[
                ("page", paper.size(stock.page.0, stock.page.1).into()),
                ("unit", paper.length_unit().into()),
            ],
        ),
        none: paper.say("label-none"),
        width,
        height,
        pages: (1..)
            .zip(pages)
            .map(|(n, svg)| Sheet {
                name: paper.say_with("paper-page-of", &[("n", n.into()), ("of", count.into())]),
                view: view.clone(),
                svg,
            })
            .collect(),
    };
    page.render().map_err(|error| {
        Failure::new(
            "labels",
            format!("the HTML could not be made: {error}"),
            "report this as a fault",
        )
    })
}
