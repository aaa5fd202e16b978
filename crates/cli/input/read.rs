//! Reading JSON files strictly: a key that is not known is an error with a suggestion.

use crate::{Failure, Result};
use serde::de::DeserializeOwned;
use std::path::Path;

/// A larger input file is not a shop's file. Reading it would only fill the memory.
const LARGEST_FILE: u64 = 64 * 1024 * 1024;

/// Reads a file whole, refusing what is absent, a folder or absurdly large.
///
/// # Errors
/// A [`Failure`] that names the file.
pub fn bytes(path: &Path) -> Result<Vec<u8>> {
    let fail = |what: String, advice: &str| Failure::in_file(path, "", what, advice);
    let about = std::fs::metadata(path).map_err(|e| match e.kind() {
        std::io::ErrorKind::NotFound => fail(
            "there is no such file".into(),
            "check the name and the folder",
        ),
        _ => fail(format!("it cannot be read: {e}"), "check its permissions"),
    })?;
    if about.is_dir() {
        return Err(fail(
            "this is a folder, not a file".into(),
            "name a file in it",
        ));
    }
    if about.len() > LARGEST_FILE {
        let size = about.len() / (1024 * 1024);
        return Err(fail(
            format!("it has {size} MiB"),
            "files up to 64 MiB are read",
        ));
    }
    std::fs::read(path)
        .map_err(|e| fail(format!("it cannot be read: {e}"), "check its permissions"))
}

/// Reads a JSON file of the kind `format`.
///
/// # Errors
/// A [`Failure`] that names the file, the key and line, the value and what to do.
pub fn json<T: DeserializeOwned>(path: &Path, format: &str) -> Result<T> {
    json_of(path, &bytes(path)?, format)
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
    let value: serde_json::Value = serde_json::from_str(text).map_err(|e| not_json(path, &e))?;
    let add = format!("write \"format\": \"{format}\" at its top");
    match value.get("format") {
        _ if !value.is_object() => Err(Failure::in_file(
            path,
            "",
            "this is JSON, but not an object { ... }",
            add,
        )),
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
