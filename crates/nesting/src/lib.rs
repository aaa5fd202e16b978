//! Nests flat parts on sheets and remnants.
//!
//! Two searches share one vocabulary: a **guillotine** search for what a panel saw can free with
//! edge-to-edge cuts, and a **free-form** search for routers and lasers, which turns parts, sets
//! them into window cut-outs and into irregular remnants. Whatever they find, the independent
//! judge in [`verify`] has the last word; it shares no collision code with them.
//!
//! The crate knows no files and no currency: a cost is a number to lower.
//!
//! Words: a *part* is cut from *stock*, which is a sheet or a remnant; a *layout* is what is cut
//! from one piece of stock; a *nest* is all layouts of an order. *Gap* is the least distance between
//! two finished outlines, *margin* the least distance from the stock's edge, *kerf* the width a tool
//! removes. An *offcut* is what is left of a layout. A *pinned* part has its place before the search
//! begins; a *zone* is an area that the machine needs free.

mod bound;
mod break_down;
mod budget;
mod error;
pub mod freeform;
pub mod guillotine;
mod layout;
mod offcut;
mod part;
mod problem;
mod run;
pub mod sawing;
mod start;
mod stock;
pub mod verify;

pub use bound::{least_net_area, least_spend, net_yield_ceiling, yield_ceiling, yield_ceilings};
pub use break_down::{BedFit, ForBlanks, OnlyUsed, break_downs, sawn_as, without_idle_cuts};
pub use budget::{Budget, Control, Progress};
pub use error::NestError;
pub use layout::{Layout, Nest, NotPlaced, Offcut, PlacedPart, SawCut, Why};
pub use offcut::{find_offcuts, spend_of};
pub use part::{Angles, Part, Turn};
pub use problem::{FirstCut, Method, Problem, SawRules, Trim};
pub use run::{nest, nest_from};
pub use start::{Dropped, standing};
pub use stock::{BreakDown, KeepRule, Stock, StockKind};
