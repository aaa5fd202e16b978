//! Cut files: what a machine reads.
