//! A nest file and the digest by which it is known.

use crate::nest_file::{FORMAT, NestFile};
use crate::{Failure, Result, input};
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
