//! The rack's tables, and how an older file becomes a present one.

use rusqlite::{Connection, TransactionBehavior};

/// Marks a SQLite file as a rack: the letters `PWRK`, read as a number.
pub(super) const APPLICATION_ID: i32 = 0x5057_524b;

/// Step `i` turns schema `i` into `i + 1`; a new rack runs them all.
pub(super) const STEPS: &[&str] = &[
    include_str!("schema/1.sql"),
    include_str!("schema/2.sql"),
    include_str!("schema/3.sql"),
    include_str!("schema/4.sql"),
    include_str!("schema/5.sql"),
];

/// The schema that this program writes.
pub(super) const VERSION: usize = STEPS.len();

/// The version that a file carries.
pub(super) fn version(conn: &Connection) -> rusqlite::Result<i64> {
    conn.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Brings a file to the last of `steps`, all in one transaction; returns where it was before.
///
/// Foreign keys rest meanwhile, because a step may have to rebuild a table that others point to;
/// they are checked before anything is kept. The version is read again inside the transaction:
/// another process may have been faster.
pub(super) fn migrate(conn: &mut Connection, steps: &[&str]) -> rusqlite::Result<usize> {
    conn.pragma_update(None, "foreign_keys", false)?;
    let outcome = run(conn, steps);
    conn.pragma_update(None, "foreign_keys", true)?;
    outcome
}

fn run(conn: &mut Connection, steps: &[&str]) -> rusqlite::Result<usize> {
    let tx = conn.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let before = usize::try_from(version(&tx)?).unwrap_or(0);
    for step in steps.iter().skip(before) {
        tx.execute_batch(step)?;
    }
    if before < steps.len() {
        tx.pragma_update(None, "application_id", APPLICATION_ID)?;
        tx.pragma_update(None, "user_version", steps.len() as i64)?;
        if before > 0 {
            // By SQLite's clock: a rack is also opened by those who only look.
            tx.execute(
                "INSERT INTO events (at, kind, why) \
                 VALUES (strftime('%Y-%m-%dT%H:%M:%S+00:00'), 'migrated', ?1)",
                [format!("schema {before} became {}", steps.len())],
            )?;
        }
        let broken: i64 =
            tx.query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| {
                row.get(0)
            })?;
        if broken > 0 {
            return Err(rusqlite::Error::SqliteFailure(
                rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CORRUPT),
                Some(format!("{broken} records refer to something that is gone")),
            ));
        }
    }
    tx.commit()?;
    Ok(before)
}
