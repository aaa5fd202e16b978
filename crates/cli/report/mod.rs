//! What people read: the same figures as text and as HTML.
//!
//! [`Figures`] counts and groups first; [`text`] and [`html`] only say it. Nothing is rounded
//! before it is printed.

mod caution;
mod cutting;
mod figures;
mod html;
mod label;
#[cfg(test)]
mod languages;
mod picture;
#[cfg(test)]
pub(crate) mod sample;
mod saw;
pub(crate) mod text;
mod wording;

pub(crate) use caution::general as general_cautions;
pub use caution::{Caution, cautions};
pub(crate) use cutting::time;
pub(crate) use figures::place;
pub use figures::{Figures, Kept, MissingLine, PartLine, SheetFigures, SpendLine, Taken};
pub use html::html;
pub(crate) use picture::{drawing_alone, extent};
pub use text::{summary, text};
pub(crate) use wording::{way_up, way_up_words};
