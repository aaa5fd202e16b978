//! The file itself: made, opened, changed.

use super::event::Event;
use super::fault::{
    can_be_written, can_be_written_beside, damaged, fault, has_room_beside, not_a_rack, read_only,
    unreadable,
};
use super::{copy, hold, remnant_row, schema, sheet_hold, sheet_stock};
use crate::aside::without_name;
use crate::aside::{folder_of, put_new};
use crate::job::Shop;
use crate::remnant::Remnant;
use crate::{Failure, Result};
use jiff::Zoned;
use rusqlite::{Connection, OpenFlags, Params, Row, TransactionBehavior};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::time::Duration;
use tempfile::TempDir;

/// How long a lock held by another process is waited for, unless said otherwise.
///
/// A booking holds it for milliseconds; who still waits after this has met a hung program.
pub const WAIT: Duration = Duration::from_secs(5);

/// Largest file that is looked through whenever it is opened, in bytes: some thousand remnants, in
/// about ten milliseconds.
const LOOKED_THROUGH: u64 = 4 * 1024 * 1024;

/// A connection is used by one thread at a time, and a path is a path, never a URI.
const FLAGS: OpenFlags = OpenFlags::SQLITE_OPEN_READ_WRITE.union(OpenFlags::SQLITE_OPEN_NO_MUTEX);

/// An open rack. See the [module](super) for what it holds.
#[derive(Debug)]
pub struct Rack {
    conn: Connection,
    path: PathBuf,
    wait: Duration,
    /// Holds the copy that is read in place of a file that may not be written; goes with it.
    _copy: Option<TempDir>,
}

/// Reading and writing with failures that name the file.
#[derive(Clone, Copy)]
pub(super) struct Db<'a> {
    conn: &'a Connection,
    path: &'a Path,
    wait: Duration,
}

/// One change of the rack: everything in it is kept, or nothing.
pub(super) struct Change<'a> {
    /// The rack inside the transaction.
    pub db: Db<'a>,
    /// When, RFC 3339.
    pub at: String,
    /// That day.
    pub day: String,
}

/// A moment as the rack stores it: RFC 3339, whole seconds, the zone's own offset.
pub(super) fn stamp(when: &Zoned) -> String {
    when.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
}

/// The day of a moment as the rack stores it, `YYYY-MM-DD`.
pub(crate) fn day_of(at: &str) -> &str {
    at.get(..10).unwrap_or(at)
}

impl Rack {
    /// Makes a rack at `path`, with the shop's remnants and sheet counts in it.
    ///
    /// It is built aside and then put in place, so that no half-made rack is ever found there.
    ///
    /// # Errors
    /// Something is at `path` already, or its folder cannot be written, or the shop names a remnant
    /// twice.
    pub fn create_from(path: &Path, shop: &Shop, when: &Zoned) -> Result<Self> {
        let exists = || {
            Failure::in_file(
                path,
                "",
                "there is a file already",
                "open it as the rack, or name another",
            )
        };
        if path.exists() {
            return Err(exists());
        }
        let folder = folder_of(path);
        let in_folder = |error: std::io::Error| {
            Failure::in_file(
                path,
                "",
                format!("the rack file cannot be made: {error}"),
                "check that its folder exists and that you may write in it",
            )
        };
        // A folder of its own, so that SQLite's helper files never lie about.
        let aside = tempfile::Builder::new()
            .prefix(".rack-")
            .tempdir_in(folder)
            .map_err(|e| in_folder(without_name(e)))?;
        let draft = aside.path().join("rack");
        let mut rack = Self {
            conn: Connection::open_with_flags(&draft, FLAGS | OpenFlags::SQLITE_OPEN_CREATE)
                .map_err(|e| fault(path, WAIT, &e))?,
            path: path.to_owned(),
            wait: WAIT,
            _copy: None,
        };
        rack.configure()?;
        schema::migrate(&mut rack.conn, schema::STEPS).map_err(|e| rack.fault(&e))?;
        rack.change(when, |change| {
            change.event(Event::new("created", format!("rack of {}", shop.name)))?;
            for sheet in &shop.sheets {
                sheet_stock::add(change, sheet)?;
            }
            for remnant in &shop.remnants {
                remnant_row::insert(change, remnant)?;
                change.event(
                    Event::new("listed", "from the shop's readable list").remnant(&remnant.id),
                )?;
            }
            Ok(())
        })?;
        // Closing writes the log back into the file and removes it.
        rack.conn.close().map_err(|(_, e)| fault(path, WAIT, &e))?;
        // Without overwriting: another process may have made the rack meanwhile.
        let draft = tempfile::TempPath::try_from_path(draft).map_err(in_folder)?;
        put_new(draft, path, exists, in_folder)?;
        // So that the name survives a power cut too. Not every system lets a folder be synced, and
        // without it the rack is there all the same.
        if let Ok(folder) = std::fs::File::open(folder) {
            let _ = folder.sync_all();
        }
        Self::open(path)
    }

    /// Opens the rack at `path`, waiting up to [`WAIT`] for locks.
    ///
    /// # Errors
    /// No file is there, or it is not a rack, damaged, of a newer program, read-only or locked.
    pub fn open(path: &Path) -> Result<Self> {
        Self::open_within(path, WAIT)
    }

    /// Opens the rack at `path`, waiting up to `wait` for locks now and later.
    ///
    /// # Errors
    /// As [`Rack::open`].
    pub fn open_within(path: &Path, wait: Duration) -> Result<Self> {
        Self::open_file(path, path, None, wait)
    }

    /// Opens the rack at `path` to look at it. Where it may be read but not written, or its disk is full, what is
    /// opened is a copy of it, since SQLite makes files of its own beside a file that keeps a write-ahead log.
    ///
    /// What is changed in the rack that this returns may be lost.
    ///
    /// # Errors
    /// As [`Rack::open`], but for files that are read-only and disks that are full.
    pub fn open_to_read(path: &Path) -> Result<Self> {
        let failure = match Self::open(path) {
            Ok(rack) => return Ok(rack),
            Err(failure) => failure,
        };
        let could_be_changed =
            can_be_written(path) && can_be_written_beside(path) && has_room_beside(path);
        if !path.is_file() || could_be_changed {
            return Err(failure);
        }
        let copy = copy::of_unwritable(path)?;
        let file = copy.path().join(copy::NAME);
        Self::open_file(&file, path, Some(copy), WAIT)
    }

    /// Opens `file`, which failures call `path`.
    fn open_file(file: &Path, path: &Path, copy: Option<TempDir>, wait: Duration) -> Result<Self> {
        match std::fs::metadata(file) {
            Ok(meta) if meta.is_dir() => return Err(not_a_rack(path, "it is a folder")),
            Ok(meta) if meta.len() == 0 => return Err(not_a_rack(path, "it is empty")),
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Err(Failure::in_file(
                    path,
                    "",
                    "there is no rack file",
                    "the first booking makes it; or check the `rack` entry of the shop file",
                ));
            }
            Err(error) => return Err(unreadable(path, &error)),
        }
        // SQLite would read it all the same, and for that make files beside it that no one else may write.
        if !can_be_written(file) {
            return Err(read_only(path));
        }
        let conn = Connection::open_with_flags(file, FLAGS).map_err(|e| fault(path, wait, &e))?;
        let mut rack = Self {
            conn,
            path: path.to_owned(),
            wait,
            _copy: copy,
        };
        rack.set_wait(wait)?;
        rack.check_identity()?;
        rack.configure()?;
        let version = schema::version(&rack.conn).map_err(|e| rack.fault(&e))?;
        if version < schema::VERSION as i64 {
            schema::migrate(&mut rack.conn, schema::STEPS).map_err(|e| rack.fault(&e))?;
        }
        rack.check_health()?;
        Ok(rack)
    }

    /// Opens the rack and adds what the shop file knows and it does not: see [`Rack::learn`].
    ///
    /// # Errors
    /// As [`Rack::open`] and [`Rack::learn`].
    pub fn open_for(path: &Path, shop: &Shop, when: &Zoned) -> Result<Self> {
        let mut rack = Self::open(path)?;
        rack.learn(shop, when)?;
        Ok(rack)
    }

    /// [`Rack::open_for`] where there is a rack, else [`Rack::create_from`].
    ///
    /// # Errors
    /// As those two.
    pub fn open_or_create(path: &Path, shop: &Shop, when: &Zoned) -> Result<Self> {
        if !path.exists() {
            match Self::create_from(path, shop, when) {
                // Another process was faster.
                Err(_) if path.exists() => {}
                made => return made,
            }
        }
        Self::open_for(path, shop, when)
    }

    /// Takes over sheets of the shop file that the rack does not know, with their counts there.
    ///
    /// For sheets it knows, the rack's count stands and the file's lot and place are taken over.
    /// Remnants are left alone: once there is a rack, the readable list is history.
    ///
    /// # Errors
    /// A sheet that was booked before has another material or size now; it needs a new id.
    pub fn learn(&mut self, shop: &Shop, when: &Zoned) -> Result<()> {
        // Looked at first without a lock: nearly always there is nothing to do.
        if !sheet_stock::differs(self.db(), &shop.sheets)? {
            return Ok(());
        }
        self.change(when, |change| {
            sheet_stock::learn(change, &shop.sheets)?;
            Ok(())
        })
    }

    /// The remnants on the rack, held ones too, by id; numbers within ids count as numbers.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn remnants(&self) -> Result<Vec<Remnant>> {
        let on_rack = remnant_row::in_state(self.db(), super::State::OnRack)?;
        Ok(on_rack.into_iter().map(|logged| logged.remnant).collect())
    }

    /// The remnants on the rack: those that these orders may use now, and those held for another one. By id, as
    /// [`Rack::remnants`].
    pub(super) fn free_and_held(
        &self,
        orders: &[&str],
        now: &Zoned,
    ) -> Result<(Vec<Remnant>, Vec<Remnant>)> {
        let others: BTreeSet<String> = hold::standing(self.db(), now.timestamp().as_second())?
            .into_iter()
            .filter(|hold| hold::is_for_others(&hold.order, orders))
            .map(|hold| hold.remnant.to_ascii_uppercase())
            .collect();
        let is_free =
            |r: &Remnant| others.is_empty() || !others.contains(&r.id.to_ascii_uppercase());
        Ok(self.remnants()?.into_iter().partition(is_free))
    }

    /// How many sheets there are, by sheet id; `None` for sheets that are not counted.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn stock_counts(&self) -> Result<BTreeMap<String, Option<u32>>> {
        Ok(sheet_stock::all(self.db())?
            .into_iter()
            .map(|sheet| (sheet.id, sheet.stock))
            .collect())
    }

    /// How many sheets these orders may use together now, by sheet id: those counted, less those held for other
    /// orders; `None` for sheets that are not counted.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn stock_for(&self, orders: &[&str], now: &Zoned) -> Result<BTreeMap<String, Option<u32>>> {
        let mut counts = self.stock_counts()?;
        let now = now.timestamp().as_second();
        for (sheet, held) in sheet_hold::for_others(self.db(), orders, now)? {
            if let Some(Some(count)) = counts.get_mut(&sheet) {
                *count = count.saturating_sub(held);
            }
        }
        Ok(counts)
    }

    /// The sheets that are held for an order now, by sheet and order.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn sheet_holds(&self, now: &Zoned) -> Result<Vec<sheet_hold::SheetHold>> {
        sheet_hold::standing(self.db(), now.timestamp().as_second())
    }

    /// How many sheets are held now for orders other than these, by sheet id.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn sheets_of_others(&self, orders: &[&str], now: &Zoned) -> Result<BTreeMap<String, u32>> {
        sheet_hold::for_others(self.db(), orders, now.timestamp().as_second())
    }

    /// Puts what the rack holds into the shop: its remnants instead of the readable list, its counts
    /// instead of the file's, and the purchases that the counts are made up of. Returns notes on remnants left out because the shop does not know
    /// their material any more; they stay on the rack.
    ///
    /// What is held for another order than `orders` at the moment `now` is left out: remnants without a
    /// note, sheets with one.
    ///
    /// # Errors
    /// The file cannot be read.
    pub fn fill(&self, shop: &mut Shop, orders: &[&str], now: &Zoned) -> Result<Vec<String>> {
        let counts = self.stock_for(orders, now)?;
        let held = sheet_hold::for_others(self.db(), orders, now.timestamp().as_second())?;
        let told: Vec<String> = held
            .into_iter()
            .map(|(id, count)| format!("of sheet {id} {count} are held for other orders"))
            .collect();
        for sheet in &mut shop.sheets {
            if let Some(stock) = counts.get(&sheet.id) {
                sheet.stock = *stock;
            }
        }
        shop.purchases = sheet_stock::purchases(self.db(), &shop.sheets)?;
        let known = |remnant: &Remnant| shop.materials.iter().any(|m| m.name == remnant.material);
        let (free, held) = self.free_and_held(orders, now)?;
        let (remnants, strangers): (Vec<_>, Vec<_>) = free.into_iter().partition(known);
        (shop.remnants, shop.held) = (remnants, held);
        let strangers = strangers.into_iter().map(|remnant| {
            format!(
                "remnant {} is left out: the shop does not know its material {:?}",
                remnant.id, remnant.material
            )
        });
        Ok(told.into_iter().chain(strangers).collect())
    }

    /// Sets the count of a sheet, after a delivery or a count by hand; `None` stops counting it.
    ///
    /// # Errors
    /// The rack does not know the sheet, or `why` is empty.
    pub fn set_stock(
        &mut self,
        sheet: &str,
        stock: Option<u32>,
        why: &str,
        when: &Zoned,
    ) -> Result<()> {
        self.change(when, |change| sheet_stock::set(change, sheet, stock, why))
    }

    /// Where the file is.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// How long locks are waited for from now on.
    ///
    /// # Errors
    /// SQLite refuses the value.
    pub fn set_wait(&mut self, wait: Duration) -> Result<()> {
        self.wait = wait;
        self.conn.busy_timeout(wait).map_err(|e| self.fault(&e))
    }

    /// For reading.
    pub(super) fn db(&self) -> Db<'_> {
        Db {
            conn: &self.conn,
            path: &self.path,
            wait: self.wait,
        }
    }

    /// Runs `work` in one immediate transaction; its failure leaves the rack as it was.
    pub(super) fn change<T>(
        &mut self,
        when: &Zoned,
        work: impl FnOnce(&Change<'_>) -> Result<T>,
    ) -> Result<T> {
        let (path, wait) = (self.path.as_path(), self.wait);
        let tx = self
            .conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(|e| fault(path, wait, &e))?;
        let change = Change {
            db: Db {
                conn: &tx,
                path,
                wait,
            },
            at: stamp(when),
            day: when.date().to_string(),
        };
        // What has run out must not stand in the way of anything.
        hold::sweep(&change, when.timestamp().as_second())?;
        let done = work(&change)?;
        tx.commit().map_err(|e| fault(path, wait, &e))?;
        Ok(done)
    }

    fn fault(&self, error: &rusqlite::Error) -> Failure {
        fault(&self.path, self.wait, error)
    }

    /// What holds for every connection. The wait comes first: switching to a log needs a lock.
    fn configure(&mut self) -> Result<()> {
        self.set_wait(self.wait)?;
        let set = || -> rusqlite::Result<String> {
            let mode: String =
                self.conn
                    .pragma_update_and_check(None, "journal_mode", "wal", |row| row.get(0))?;
            // A booking that was reported must survive a power cut.
            self.conn.pragma_update(None, "synchronous", "full")?;
            self.conn.pragma_update(None, "foreign_keys", true)?;
            self.conn.pragma_update(None, "trusted_schema", false)?;
            Ok(mode)
        };
        let mode = set().map_err(|e| self.fault(&e))?;
        if mode != "wal" {
            return Err(Failure::in_file(
                &self.path,
                "",
                format!("the rack cannot keep a write-ahead log here (journal mode {mode})"),
                "keep the rack on a local disk, not on a network drive",
            ));
        }
        Ok(())
    }

    /// Whether this is a rack, and one that this program understands. Reads the header only, so
    /// that a file of something else stays as it is.
    fn check_identity(&self) -> Result<()> {
        let read = || -> rusqlite::Result<(i32, i64)> {
            let id = self
                .conn
                .pragma_query_value(None, "application_id", |row| row.get(0))?;
            // Touches the first page in earnest; the pragmas alone accept some broken headers.
            self.conn
                .query_row("SELECT count(*) FROM sqlite_schema", [], |row| {
                    row.get::<_, i64>(0)
                })?;
            Ok((id, schema::version(&self.conn)?))
        };
        let (id, version) = read().map_err(|e| self.fault(&e))?;
        if id != schema::APPLICATION_ID {
            return Err(not_a_rack(
                &self.path,
                "it is a SQLite file of another program",
            ));
        }
        if version > schema::VERSION as i64 {
            return Err(Failure::in_file(
                &self.path,
                "",
                format!(
                    "a newer program wrote this rack (schema {version}; this one knows up to {})",
                    schema::VERSION
                ),
                "update this program; nothing was changed",
            ));
        }
        if self.conn.is_readonly("main").map_err(|e| self.fault(&e))? {
            return Err(read_only(&self.path));
        }
        Ok(())
    }

    /// Most racks are small enough to be looked through every time they are opened. A large one takes
    /// too long for that: a broken page of it is found when it is read, or by [`super::check`].
    fn check_health(&self) -> Result<()> {
        if std::fs::metadata(&self.path).is_ok_and(|meta| meta.len() > LOOKED_THROUGH) {
            return Ok(());
        }
        let first: String = self
            .conn
            .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
            .map_err(|e| self.fault(&e))?;
        if first != "ok" {
            return Err(damaged(&self.path, &first));
        }
        let broken: i64 = self
            .conn
            .query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| {
                row.get(0)
            })
            .map_err(|e| self.fault(&e))?;
        if broken > 0 {
            return Err(damaged(
                &self.path,
                &format!("{broken} records refer to something that is gone"),
            ));
        }
        Ok(())
    }
}

impl Db<'_> {
    /// Every row of a query, in the query's order.
    pub fn rows<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>> {
        let run = || -> rusqlite::Result<Vec<T>> {
            self.conn
                .prepare_cached(sql)?
                .query_map(params, read)?
                .collect()
        };
        run().map_err(|e| fault(self.path, self.wait, &e))
    }

    /// The first row of a query, if there is one.
    pub fn first<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Option<T>> {
        Ok(self.rows(sql, params, read)?.into_iter().next())
    }

    /// Runs a statement that returns nothing and is no part of a change.
    pub fn run_outside(&self, sql: &str, params: impl Params) -> Result<()> {
        self.conn
            .execute(sql, params)
            .map(|_| ())
            .map_err(|e| fault(self.path, self.wait, &e))
    }

    /// What is wrong with the content of the file.
    pub fn damaged(&self, how: &str) -> Failure {
        damaged(self.path, how)
    }
}

impl Change<'_> {
    /// Runs one statement; returns how many rows it changed.
    pub fn run(&self, sql: &str, params: impl Params) -> Result<usize> {
        let db = &self.db;
        db.conn
            .prepare_cached(sql)
            .and_then(|mut statement| statement.execute(params))
            .map_err(|e| fault(db.path, db.wait, &e))
    }

    /// The number that the last insert was given.
    pub fn last_number(&self) -> i64 {
        self.db.conn.last_insert_rowid()
    }
}

#[cfg(test)]
mod tests;
