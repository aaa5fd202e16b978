//! panelwright: from an order of panel kits to judged cut files, a yield report and a rack of
//! remnants. The program in `main.rs` is a thin shell round this library.
//!
//! [`geometry`] holds outlines and drawings, [`nesting`] the searches and the judge.

pub use panelwright_geometry as geometry;
pub use panelwright_nesting as nesting;

pub mod cut_plan;
mod failure;
pub mod input;
pub mod job;
pub mod nest_file;
pub mod rack;
pub mod remnant;
pub mod report;
pub mod write;

pub use failure::{Failure, Result};
