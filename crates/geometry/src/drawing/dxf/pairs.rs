//! A DXF file as group codes and values, each with its place.
//!
//! Source: DXF reference, "About the DXF format", ASCII and binary, and the table of group code
//! value types.

use super::super::error::DrawingError;

/// A value as stored: text to be parsed when it is needed, or a number of a binary file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Value<'a> {
    Text(&'a [u8]),
    Whole(i64),
    Real(f64),
}

/// A group code and its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pair<'a> {
    pub code: i32,
    pub value: Value<'a>,
    /// Line of the group code, from 1; in a binary file the byte it begins at.
    pub line: usize,
}

impl Pair<'_> {
    /// The value as text, without blanks round it. Bytes that are no UTF-8 are taken for Latin-1, and `\U+XXXX` is decoded.
    pub fn text(&self) -> String {
        let text = self.whole_text();
        match text.trim() {
            trimmed if trimmed.len() == text.len() => text,
            trimmed => trimmed.to_owned(),
        }
    }

    /// As [`Self::text`], with the blanks at both ends.
    pub fn whole_text(&self) -> String {
        let bytes = match self.value {
            Value::Text(bytes) => bytes,
            Value::Whole(v) => return v.to_string(),
            Value::Real(v) => return v.to_string(),
        };
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text.to_owned(),
            Err(_) => bytes.iter().map(|b| char::from(*b)).collect(),
        };
        if text.contains("\\U+") {
            unescaped(&text)
        } else {
            text
        }
    }

    /// Whether the value is this text.
    pub fn is(&self, text: &str) -> bool {
        matches!(self.value, Value::Text(bytes) if bytes.trim_ascii() == text.as_bytes())
    }

    /// The value as a number; `None` when it is none. May be infinite or NaN.
    pub fn number(&self) -> Option<f64> {
        match self.value {
            Value::Real(v) => Some(v),
            Value::Whole(v) => Some(v as f64),
            Value::Text(bytes) => std::str::from_utf8(bytes).ok()?.trim().parse().ok(),
        }
    }

    /// The value as a whole number.
    pub fn whole(&self) -> Option<i64> {
        match self.value {
            Value::Whole(v) => Some(v),
            Value::Real(_) => None,
            Value::Text(bytes) => std::str::from_utf8(bytes).ok()?.trim().parse().ok(),
        }
    }
}

fn unescaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find("\\U+") {
        out.push_str(&rest[..at]);
        let code = rest.get(at + 3..at + 7);
        match code
            .and_then(|hex| u32::from_str_radix(hex, 16).ok())
            .and_then(char::from_u32)
        {
            Some(c) => {
                out.push(c);
                rest = &rest[at + 7..];
            }
            None => {
                out.push_str("\\U+");
                rest = &rest[at + 3..];
            }
        }
    }
    out.push_str(rest);
    out
}

/// How a binary file ends its first 22 bytes.
const BINARY: &[u8] = b"Binary DXF\r\n\x1a\0";

/// The pairs of a file, up to its `EOF`.
///
/// # Errors
/// [`DrawingError::Malformed`] with the line (binary: byte) when the file is cut short or no DXF.
pub(super) fn pairs(bytes: &[u8]) -> Result<Vec<Pair<'_>>, DrawingError> {
    if is_binary(bytes) {
        binary(bytes)
    } else {
        ascii(bytes)
    }
}

/// Whether a file is a binary one, whose places are bytes instead of lines.
pub(super) fn is_binary(bytes: &[u8]) -> bool {
    bytes.get(..22).is_some_and(|head| head.ends_with(BINARY))
}

fn malformed(line: usize, what: impl Into<String>) -> DrawingError {
    DrawingError::Malformed {
        line,
        what: what.into(),
    }
}

fn ascii(bytes: &[u8]) -> Result<Vec<Pair<'_>>, DrawingError> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut lines = bytes.split(|b| *b == b'\n').enumerate();
    let mut pairs = Vec::with_capacity(bytes.len() / 16);
    let mut last = 0;
    while let Some((index, line)) = lines.next() {
        let line_number = index + 1;
        last = line_number;
        let code_text = line.trim_ascii();
        let code: Option<i32> = std::str::from_utf8(code_text)
            .ok()
            .and_then(|t| t.parse().ok());
        let Some(code) = code else {
            // A blank end without EOF is reported below as a file cut short.
            if code_text.is_empty() && lines.clone().all(|(_, l)| l.trim_ascii().is_empty()) {
                break;
            }
            let shown: String = String::from_utf8_lossy(code_text)
                .chars()
                .take(40)
                .collect();
            return Err(malformed(
                line_number,
                format!("expected a group code, found `{}`", shown.escape_debug()),
            ));
        };
        let Some((_, value)) = lines.next() else {
            return Err(malformed(
                line_number,
                "the file is cut short: a group code without its value; export it again",
            ));
        };
        let pair = Pair {
            code,
            value: Value::Text(value.strip_suffix(b"\r").unwrap_or(value)),
            line: line_number,
        };
        if code == 0 && pair.is("EOF") {
            return Ok(pairs);
        }
        if code != 999 {
            pairs.push(pair);
        }
    }
    Err(malformed(
        last,
        if pairs.is_empty() {
            "the file holds no drawing"
        } else {
            "the file is cut short: it has no EOF; export it again"
        },
    ))
}

/// Bytes of a binary file from a place on.
struct Bytes<'a> {
    all: &'a [u8],
    at: usize,
}

impl<'a> Bytes<'a> {
    fn take(&mut self, count: usize) -> Result<&'a [u8], DrawingError> {
        let end = self.at.saturating_add(count);
        let Some(taken) = self.all.get(self.at..end) else {
            return Err(malformed(
                self.at,
                "the binary file is cut short at this byte; export it again",
            ));
        };
        self.at = end;
        Ok(taken)
    }

    fn array<const N: usize>(&mut self) -> Result<[u8; N], DrawingError> {
        let mut out = [0; N];
        out.copy_from_slice(self.take(N)?);
        Ok(out)
    }

    fn text(&mut self) -> Result<&'a [u8], DrawingError> {
        let rest = self.all.get(self.at..).unwrap_or(&[]);
        let length = rest
            .iter()
            .position(|b| *b == 0)
            .map_or(usize::MAX, |n| n + 1);
        let taken = self.take(length)?;
        Ok(&taken[..taken.len() - 1])
    }
}

fn binary(bytes: &[u8]) -> Result<Vec<Pair<'_>>, DrawingError> {
    let mut bytes = Bytes { all: bytes, at: 22 };
    // Older releases store group codes in one byte; then the first pair, 0 SECTION, has its text
    // right behind.
    let short_codes = bytes.all.get(23) != Some(&0);
    let mut pairs = Vec::new();
    loop {
        let line = bytes.at;
        let code = if short_codes {
            match bytes.array::<1>()? {
                [255] => i32::from(i16::from_le_bytes(bytes.array()?)),
                [code] => i32::from(code),
            }
        } else {
            i32::from(i16::from_le_bytes(bytes.array()?))
        };
        let value = match code {
            10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => {
                Value::Real(f64::from_le_bytes(bytes.array()?))
            }
            60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => {
                Value::Whole(i64::from(i16::from_le_bytes(bytes.array()?)))
            }
            90..=99 | 420..=429 | 440..=459 | 1071 => {
                Value::Whole(i64::from(i32::from_le_bytes(bytes.array()?)))
            }
            160..=169 => Value::Whole(i64::from_le_bytes(bytes.array()?)),
            290..=299 => Value::Whole(i64::from(bytes.array::<1>()?[0])),
            310..=319 | 1004 => {
                let [length] = bytes.array()?;
                Value::Text(bytes.take(usize::from(length))?)
            }
            0..=9
            | 100..=109
            | 300..=309
            | 320..=369
            | 390..=399
            | 410..=419
            | 430..=439
            | 470..=481
            | 999..=1009 => Value::Text(bytes.text()?),
            _ => {
                return Err(malformed(
                    line,
                    format!("group code {code} is none of the DXF reference"),
                ));
            }
        };
        let pair = Pair { code, value, line };
        if code == 0 && pair.is("EOF") {
            return Ok(pairs);
        }
        pairs.push(pair);
    }
}
