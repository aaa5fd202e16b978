//! The order for what has to be cut again after a sheet was spoiled.

use crate::aside::{aside, put_new};
use crate::input::{KitFile, OrderFile, json};
use crate::rack::ToCutAgain;
use crate::read_job::beside;
use crate::{Failure, Result};
use serde_json::json;
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// An order that is written aside and waits to be put in place.
pub struct FollowUp {
    to: PathBuf,
    file: NamedTempFile,
}

/// Writes aside an order for `again`, with the shop, kits and roles of the order file `of`.
///
/// # Errors
/// There is a file at `to`, its folder cannot be written, or a kit is not one of the order's.
pub fn prepare(to: &Path, of: &Path, again: &[ToCutAgain]) -> Result<FollowUp> {
    let order = OrderFile::read(of)?;
    if again.is_empty() {
        let advice = "leave --again-to out";
        return Err(Failure::in_file(
            to,
            "",
            "nothing has to be cut again",
            advice,
        ));
    }
    if to.exists() {
        return Err(exists(to));
    }
    let mut kits: BTreeMap<String, PathBuf> = BTreeMap::new();
    let named = order.kits.iter().map(|line| &line.kit);
    for name in named.chain(order.parts.iter().map(|line| &line.kit)) {
        let path = beside(of, name);
        let kit: KitFile = json(&path, "panelwright-kit-1")?;
        kits.insert(kit.kit, path);
    }
    let parts = again
        .iter()
        .map(|part| {
            let path = kits.get(&part.kit).ok_or_else(|| {
                let what = format!("none of its kits is called '{}'", part.kit);
                Failure::in_file(of, "kits", what, "name the order that the nest was made of")
            })?;
            Ok(json!({
                "kit": seen_from(to, path), "part": part.part, "quantity": part.quantity,
            }))
        })
        .collect::<Result<Vec<_>>>()?;
    let mut text = json!({
        "format": "panelwright-order-1",
        "order": format!("{} again", order.order),
        "shop": seen_from(to, &beside(of, &order.shop)),
        "parts": parts,
        "roles": order.roles,
    });
    if let Some(due) = order.due {
        text["due"] = due.into();
    }
    let write = || -> std::io::Result<NamedTempFile> {
        let mut file = aside(to)?;
        writeln!(file, "{text:#}")?;
        file.as_file().sync_all()?;
        Ok(file)
    };
    let file = write().map_err(|e| cannot(to, &e))?;
    Ok(FollowUp {
        to: to.to_owned(),
        file,
    })
}

impl FollowUp {
    /// Puts the order in place; returns where it is.
    ///
    /// # Errors
    /// There is a file meanwhile, or the folder refuses.
    pub fn put_in_place(self) -> Result<PathBuf> {
        let Self { to, file } = self;
        let file = file.into_temp_path();
        put_new(file, &to, || exists(&to), |e| cannot(&to, &e))?;
        Ok(to)
    }
}

fn exists(to: &Path) -> Failure {
    Failure::in_file(to, "", "there is a file already", "name another")
}

fn cannot(to: &Path, error: &std::io::Error) -> Failure {
    let what = format!("the order cannot be written: {error}");
    Failure::in_file(
        to,
        "",
        what,
        "check that its folder exists and that you may write in it",
    )
}

/// How the file `to` names `path`: by the way from its own folder where there is one, else in full.
fn seen_from(to: &Path, path: &Path) -> PathBuf {
    let full = |path: &Path| std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let path = full(path);
    let folder = full(to);
    let Some(mut folder) = folder.parent() else {
        return path;
    };
    let mut way = PathBuf::new();
    loop {
        if let Ok(rest) = path.strip_prefix(folder) {
            return way.join(rest);
        }
        way.push("..");
        match folder.parent() {
            Some(parent) if parent.parent().is_some() => folder = parent,
            // Nothing in common but the root.
            _ => return path,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_named_by_the_way_to_them() {
        for (to, path, way) in [
            ("/a/b/again.json", "/a/b/kit.json", "kit.json"),
            ("/a/b/again.json", "/a/kits/kit.json", "../kits/kit.json"),
            ("/a/b/c/again.json", "/a/kit.json", "../../kit.json"),
            ("/a/b/again.json", "/x/kit.json", "/x/kit.json"),
        ] {
            assert_eq!(
                seen_from(Path::new(to), Path::new(path)),
                Path::new(way),
                "{to} {path}"
            );
        }
    }
}
