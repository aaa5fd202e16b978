//! Reading JSON files strictly: a key that is not known is an error with a suggestion.

use crate::{Failure, Result};
use serde::de::{DeserializeOwned, IgnoredAny, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};
use serde_json::Value;
use std::io::Read as _;
use std::path::Path;

/// A larger input file is not a shop's file. Reading it would only fill the memory.
const LARGEST_FILE: u64 = 64 * MIB;

/// A nest holds every copy as it lies, so a large one of intricate parts is long.
const LARGEST_NEST: u64 = 1024 * MIB;

const MIB: u64 = 1024 * 1024;

/// Reads a file whole, refusing what is absent, a folder or absurdly large.
///
/// # Errors
/// A [`Failure`] that names the file.
pub fn bytes(path: &Path) -> Result<Vec<u8>> {
    bytes_up_to(path, LARGEST_FILE)
}

/// [`bytes`] of a nest, which may be larger.
///
/// # Errors
/// As for [`bytes`].
pub fn nest_bytes(path: &Path) -> Result<Vec<u8>> {
    bytes_up_to(path, LARGEST_NEST)
}

fn bytes_up_to(path: &Path, most: u64) -> Result<Vec<u8>> {
    let fail = |what: String, advice: String| Failure::in_file(path, "", what, advice);
    let unreadable = |e: std::io::Error| match e.kind() {
        std::io::ErrorKind::NotFound => fail(
            "there is no such file".into(),
            "check the name and the folder".into(),
        ),
        _ => fail(
            format!("it cannot be read: {e}"),
            "check its permissions".into(),
        ),
    };
    if std::fs::metadata(path).map_err(unreadable)?.is_dir() {
        return Err(fail(
            "this is a folder, not a file".into(),
            "name a file in it".into(),
        ));
    }
    // What is no plain file may have no length of its own and never end.
    let mut bytes = Vec::new();
    let mut file = std::fs::File::open(path)
        .map_err(unreadable)?
        .take(most + 1);
    file.read_to_end(&mut bytes).map_err(unreadable)?;
    if bytes.len() as u64 > most {
        let most = most / MIB;
        return Err(fail(
            format!("it has more than {most} MiB"),
            format!("files up to {most} MiB are read here"),
        ));
    }
    Ok(bytes)
}

/// Reads a JSON file of the kind `format`.
///
/// # Errors
/// A [`Failure`] that names the file, the key and line, the value and what to do.
pub fn json<T: DeserializeOwned>(path: &Path, format: &str) -> Result<T> {
    let bytes = match format {
        crate::nest_file::FORMAT => nest_bytes(path)?,
        _ => bytes(path)?,
    };
    json_of(path, &bytes, format)
}

/// Reads JSON of the kind `format` from the bytes of a file; `path` is for messages.
///
/// # Errors
/// As for [`json`].
pub fn json_of<T: DeserializeOwned>(path: &Path, bytes: &[u8], format: &str) -> Result<T> {
    let text = std::str::from_utf8(bytes).map_err(|e| {
        let line = 1 + bytes[..e.valid_up_to()]
            .iter()
            .filter(|b| **b == b'\n')
            .count();
        Failure::in_file(
            path,
            format!("line {line}"),
            "this is not UTF-8 text",
            "save the file as UTF-8",
        )
    })?;
    // Some editors put a byte order mark in front.
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    check_format(path, text, format)?;
    parse(path, text)
}

/// Parses JSON text strictly; `path` is for messages.
///
/// # Errors
/// As for [`json`].
pub fn parse<T: DeserializeOwned>(path: &Path, text: &str) -> Result<T> {
    let mut reader = serde_json::Deserializer::from_str(text);
    let value = serde_path_to_error::deserialize(&mut reader).map_err(|e| {
        let place = match e.path().to_string().as_str() {
            "." => String::new(),
            key => format!("{key} "),
        };
        let inner = e.inner();
        let place = format!("{place}(line {}, column {})", inner.line(), inner.column());
        let message = inner.to_string();
        // The position is in the place already.
        let what = plain_words(message.split(" at line ").next().unwrap_or(&message));
        let advice = advice(&what);
        Failure::in_file(path, place, what, advice)
    })?;
    reader.end().map_err(|e| not_json(path, &e))?;
    Ok(value)
}

/// Says early, and in plain words, that a file is of another kind.
fn check_format(path: &Path, text: &str, format: &str) -> Result<()> {
    let add = format!("write \"format\": \"{format}\" at its top");
    if !text.trim_start().starts_with('{') {
        serde_json::from_str::<IgnoredAny>(text).map_err(|e| not_json(path, &e))?;
        let what = "this is JSON, but not an object { ... }";
        return Err(Failure::in_file(path, "", what, add));
    }
    let Stated(stated) = serde_json::from_str(text).map_err(|e| not_json(path, &e))?;
    match stated {
        None => Err(Failure::in_file(path, "format", "the key is missing", add)),
        Some(found) if found.as_str() == Some(format) => Ok(()),
        Some(found) => Err(Failure::in_file(
            path,
            "format",
            format!("this file says {found}, but a file of the kind \"{format}\" is needed here"),
            "name another file",
        )),
    }
}

/// The format that an object states; what else is in it is passed over, as a nest may be long.
struct Stated(Option<Value>);

impl<'de> Deserialize<'de> for Stated {
    fn deserialize<D: Deserializer<'de>>(reader: D) -> std::result::Result<Self, D::Error> {
        struct Keys;

        impl<'de> Visitor<'de> for Keys {
            type Value = Stated;

            fn expecting(&self, to: &mut std::fmt::Formatter) -> std::fmt::Result {
                to.write_str("an object")
            }

            fn visit_map<A: MapAccess<'de>>(
                self,
                mut map: A,
            ) -> std::result::Result<Stated, A::Error> {
                let mut stated = None;
                while let Some(key) = map.next_key::<String>()? {
                    if key == "format" {
                        stated = Some(map.next_value()?);
                    } else {
                        map.next_value::<IgnoredAny>()?;
                    }
                }
                Ok(Stated(stated))
            }
        }

        reader.deserialize_map(Keys)
    }
}

fn not_json(path: &Path, e: &serde_json::Error) -> Failure {
    let message = e.to_string();
    let what = message
        .split(" at line ")
        .next()
        .unwrap_or(&message)
        .to_string();
    let place = format!("line {}, column {}", e.line(), e.column());
    let advice =
        "numbers, texts in double quotes, commas between entries; NaN and comments are not JSON";
    Failure::in_file(path, place, format!("this is not JSON: {what}"), advice)
}

/// A message of the JSON reader without the words of programmers.
fn plain_words(message: &str) -> String {
    const WORDS: [(&str, &str); 15] = [
        (
            "internally tagged enum Feature",
            "an object with a \"kind\"",
        ),
        ("map with a single key", "a word in quotes"),
        ("a sequence", "a list"),
        ("sequence", "list"),
        ("floating point", "number"),
        ("f64", "a number"),
        ("u32", "a whole number of at least 0"),
        ("u64", "a whole number of at least 0"),
        ("usize", "a whole number of at least 0"),
        ("u8", "a whole number from 0 to 255"),
        ("i32", "a whole number"),
        ("i64", "a whole number"),
        ("a map", "an object"),
        ("map", "object"),
        ("struct ", "an object as "),
    ];
    let mut text = message.to_string();
    // What stands in backquotes is the user's own.
    if text.contains('`') && text.starts_with("unknown") {
        return text;
    }
    for (theirs, ours) in WORDS {
        text = text.replace(theirs, ours);
    }
    text
}

/// What to do about a message of the JSON reader.
fn advice(what: &str) -> String {
    let quoted: Vec<&str> = what.split('`').skip(1).step_by(2).collect();
    match quoted.split_first() {
        Some((wrong, known)) if what.starts_with("unknown ") => match closest(wrong, known) {
            Some(near) => format!("did you mean `{near}`?"),
            None if what.starts_with("unknown variant") => "give one of these".into(),
            None => "remove it".into(),
        },
        Some((missing, _)) if what.starts_with("missing field") => format!("add `{missing}`"),
        _ => "correct the value".into(),
    }
}

/// The one of `known` that `wrong` was most likely meant to be.
#[must_use]
pub fn closest<'a>(wrong: &str, known: &[&'a str]) -> Option<&'a str> {
    /// Below this likeness a suggestion would only confuse.
    const LIKE: f64 = 0.7;
    let lower = wrong.to_lowercase();
    known
        .iter()
        .map(|name| (strsim::jaro_winkler(&lower, &name.to_lowercase()), *name))
        .filter(|(like, _)| *like >= LIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
        .or_else(|| {
            // `radius` is most of `corner_radius`, but does not look like it.
            let has_word = |name: &&&str| name.split('_').any(|word| word == lower);
            known.iter().find(has_word).copied()
        })
}

/// "did you mean ...?" or the list of what there is.
#[must_use]
pub fn suggestion(wrong: &str, known: &[&str]) -> String {
    match closest(wrong, known) {
        Some(near) => format!("did you mean '{near}'?"),
        None if known.is_empty() => "there are none yet".into(),
        None => format!("there are: {}", known.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::OrderFile;

    fn failure(text: &str) -> Failure {
        parse::<OrderFile>(Path::new("order.json"), text).expect_err("bad input")
    }

    #[test]
    fn an_unknown_key_is_named_with_a_suggestion() {
        let text = "{\"format\": \"x\", \"order\": \"1\", \"shop\": \"s\",\n \"kits\": [{\"kit\": \"a\", \"quantitty\": 2}]}";
        let f = failure(text);
        assert!(
            f.place.contains("kits[0].quantitty") && f.place.contains("line 2"),
            "{f}"
        );
        assert!(f.advice.contains("`quantity`"), "{f}");
    }

    #[test]
    fn a_negative_count_names_key_and_value() {
        let text = "{\"format\": \"x\", \"order\": \"1\", \"shop\": \"s\", \"kits\": [{\"kit\": \"a\", \"quantity\": -2}]}";
        let f = failure(text);
        assert!(
            f.place.contains("kits[0].quantity") && f.what.contains("-2"),
            "{f}"
        );
    }

    #[test]
    fn suggestions_are_close_or_silent() {
        assert_eq!(
            closest("composit-3", &["acrylic-3", "composite-3"]),
            Some("composite-3")
        );
        assert_eq!(closest("zzz", &["acrylic-3", "composite-3"]), None);
        assert_eq!(
            closest("radius", &["length", "width", "corner_radius", "at"]),
            Some("corner_radius")
        );
    }
}
