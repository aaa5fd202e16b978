//! The `panelwright` program.

fn main() {}
