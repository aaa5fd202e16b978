//! A nest file and the digests by which it is known.

use crate::nest_file::{
    FORMAT, NestFile, OffcutRecord, PlacementRecord, SawCutRecord, SheetRecord,
};
use crate::{Failure, Result, input};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;
use std::path::Path;

/// The digest by which a nest is known: SHA-256 of the bytes of its file, in hex.
#[must_use]
pub fn digest_of(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .fold(String::with_capacity(64), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
}

/// The digest of what a nest says is cut: the same for the same nest, however its file is written.
///
/// In it are the seed and of each sheet its number, what it is cut from, the parts, saw cuts and kept offcuts. `pinned` is
/// for nesting again, and sums, bounds and prices say nothing of the layout, so they are left out.
#[must_use]
pub(super) fn layout_digest(nest: &NestFile) -> String {
    let mut sheets: Vec<&SheetRecord> = nest.sheets.iter().collect();
    sheets.sort_by_key(|sheet| sheet.number);
    let sheets: Vec<Value> = sheets.into_iter().map(said).collect();
    digest_of(json!([nest.seed, sheets]).to_string().as_bytes())
}

/// What counts of a sheet; lists only, as the keys of a map might be written in another order one day.
fn said(sheet: &SheetRecord) -> Value {
    let part = |p: &PlacementRecord| {
        json!([
            p.part,
            p.kit,
            p.copy,
            p.kit_number,
            p.angle,
            p.origin,
            p.outline,
            p.holes
        ])
    };
    let cut = |c: &SawCutRecord| json!([c.from, c.to, c.kerf, c.stage]);
    let kept = |o: &OffcutRecord| json!([o.id, o.outline, o.voids]);
    let source = &sheet.source;
    let parts: Vec<Value> = sheet.placements.iter().map(part).collect();
    let cuts: Vec<Value> = sheet.saw_cuts.iter().map(cut).collect();
    let offcuts = sheet.offcuts.iter().filter(|offcut| offcut.kept);
    let offcuts: Vec<Value> = offcuts.map(kept).collect();
    json!([
        sheet.number,
        sheet.material,
        sheet.machine,
        [&source.kind, &source.id],
        source.lot,
        sheet.outline,
        sheet.voids,
        parts,
        cuts,
        offcuts
    ])
}

/// Reads a `nest.json` and its digest.
///
/// # Errors
/// The file cannot be read, or is no nest; with the key, line and column.
pub fn read_nest(path: &Path) -> Result<(NestFile, String)> {
    let bytes = input::nest_bytes(path)?;
    let nest: NestFile = input::json_of(path, &bytes, FORMAT)?;
    if nest.units != "mm" {
        let what = format!("the unit is '{}', and a nest is in mm", nest.units);
        let advice = "write it again with `panelwright nest`";
        return Err(Failure::in_file(path, "units", what, advice));
    }
    Ok((nest, digest_of(&bytes)))
}

#[cfg(test)]
mod tests {
    use super::super::testing::sheet_nest;
    use super::*;

    #[test]
    fn a_nest_says_the_same_however_it_is_written() {
        let nest = sheet_nest();
        let mut same = nest.clone();
        same.sheets[0].placements[0].pinned = true;
        same.sheets[0].source.price = 7.0;
        same.totals.spend = 7.0;
        same.sheets.reverse();
        assert_eq!(layout_digest(&same), layout_digest(&nest));
        let edits: [fn(&mut NestFile); 6] = [
            |nest| nest.seed += 1,
            |nest| nest.sheets[1].number = 9,
            |nest| nest.sheets[1].source.id = "W-2440-loose".to_owned(),
            |nest| nest.sheets[1].placements[0].copy = 9,
            |nest| nest.sheets[1].placements[0].outline[0][0] += 1e-9,
            |nest| nest.sheets[1].offcuts[0].kept = false,
        ];
        for edit in edits {
            let mut other = nest.clone();
            edit(&mut other);
            assert_ne!(layout_digest(&other), layout_digest(&nest), "{other:?}");
        }
    }

    #[test]
    fn reads_a_nest_file_and_its_digest() {
        let dir = tempfile::tempdir().expect("a folder");
        let path = dir.path().join("nest.json");
        let bytes = serde_json::to_vec_pretty(&sheet_nest()).expect("JSON");
        std::fs::write(&path, &bytes).expect("written");
        let (nest, digest) = read_nest(&path).expect("read");
        assert_eq!(nest, sheet_nest());
        assert_eq!(digest, digest_of(&bytes));
        // FIPS 180-2, appendix B.1.
        assert_eq!(
            digest_of(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        std::fs::write(
            &path,
            br#"{"format": "panelwright-nest-1", "sheets": [{"number": "one"}]}"#,
        )
        .expect("written");
        let failure = read_nest(&path).expect_err("wrong type");
        assert!(failure.place.contains("sheets[0].number"), "{failure}");
        std::fs::write(&path, [&bytes[..], b"{}"].concat()).expect("written");
        assert!(read_nest(&path).is_err());
        assert!(read_nest(&dir.path().join("none")).is_err());
        let inches = String::from_utf8(bytes)
            .expect("text")
            .replacen("\"mm\"", "\"inch\"", 1);
        std::fs::write(&path, inches).expect("written");
        let failure = read_nest(&path).expect_err("another unit");
        assert!(
            failure.to_string().contains("units: the unit is 'inch'"),
            "{failure}"
        );
    }
}
