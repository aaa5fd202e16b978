//! Drives the real program.
