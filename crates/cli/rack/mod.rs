//! The rack: the log of remnants and stock, a SQLite file.
