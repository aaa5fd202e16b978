//! Where the rack is, and how it is opened to be looked at or changed.

use crate::args::RackPlace;
use crate::input::{ShopFile, json};
use crate::job::Shop;
use crate::rack::Rack;
use crate::read_job::{must_be_there, rack_path, shop_from_list};
use crate::{Failure, Result};
use jiff::Zoned;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The shop as its files tell it, and where its rack is, if anywhere.
pub fn shop(path: &Path, rack: Option<&Path>) -> Result<(Shop, Option<PathBuf>)> {
    let file: ShopFile = json(path, "panelwright-shop-1")?;
    Ok((shop_from_list(&file, path)?, rack_path(&file, path, rack)))
}

/// The rack file, there or not.
pub fn named(path: Option<PathBuf>) -> Result<PathBuf> {
    path.ok_or_else(|| {
        let advice = "add \"rack\": \"rack.db\" to the shop file, or give --rack FILE";
        Failure::new("--rack", "the shop file names no rack file", advice)
    })
}

/// The rack file, which must be there.
pub fn there(path: Option<PathBuf>) -> Result<PathBuf> {
    let path = named(path)?;
    if path.exists() {
        return Ok(path);
    }
    let what = "there is no rack file yet, so nothing was booked";
    Err(Failure::in_file(&path, "", what, "check --shop and --rack"))
}

/// Changes the rack, which is made where there is none yet. See [`change_file`].
pub fn change<T>(
    at: &RackPlace,
    when: &Zoned,
    make: impl Fn(&mut Rack, &Shop) -> Result<T>,
) -> Result<T> {
    let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
    change_file(&named(path)?, &shop, when, |rack| make(rack, &shop))
}

/// Changes the rack in this file. Once there is a rack file the list of remnants in the shop file is no longer read,
/// so none is made for a change that is refused: what would be the first change is tried on a draft.
pub fn change_file<T>(
    path: &Path,
    shop: &Shop,
    when: &Zoned,
    make: impl Fn(&mut Rack) -> Result<T>,
) -> Result<T> {
    if !path.exists() {
        let draft = draft()?;
        let file = draft.path().join("rack.db");
        make(&mut Rack::open_or_create(&file, shop, when)?)?;
    }
    make(&mut Rack::open_or_create(path, shop, when)?)
}

/// A rack that is only looked at.
pub struct Looked {
    pub rack: Rack,
    /// Holds a rack that was only made to be looked at; goes with it.
    _folder: Option<TempDir>,
}

/// The rack to read: its file, or where there is none yet what the shop file says would be in it.
/// Looking makes no file.
pub fn to_read(at: &RackPlace, when: &Zoned) -> Result<Looked> {
    let (shop, path) = shop(&at.shop, at.rack.as_deref())?;
    must_be_there(at.rack.as_deref())?;
    if let Some(path) = path.filter(|path| path.exists()) {
        return Ok(Looked {
            rack: Rack::open_to_read(&path)?,
            _folder: None,
        });
    }
    let folder = draft()?;
    let rack = Rack::create_from(&folder.path().join("rack.db"), &shop, when)?;
    Ok(Looked {
        rack,
        _folder: Some(folder),
    })
}

/// A folder for a rack that nobody keeps.
fn draft() -> Result<TempDir> {
    tempfile::tempdir().map_err(|e| {
        let what = format!("no draft of the rack can be made in it: {e}");
        let advice = "free some space there, or set TMPDIR to another folder";
        Failure::new("the folder for temporary files", what, advice)
    })
}
