//! When a search ends before its steps are used up.

use crate::{Budget, Control};
use std::time::Instant;

/// The caller's control together with the budget's time limit.
pub(super) struct Stop<'a> {
    control: &'a Control<'a>,
    deadline: Option<Instant>,
}

impl<'a> Stop<'a> {
    /// The clock starts now.
    pub fn new(control: &'a Control<'a>, budget: &Budget) -> Self {
        Self {
            control,
            deadline: budget.limit.and_then(|l| Instant::now().checked_add(l)),
        }
    }

    /// Whether to end now.
    pub fn now(&self) -> bool {
        self.control.stopped() || self.deadline.is_some_and(|d| Instant::now() >= d)
    }
}
