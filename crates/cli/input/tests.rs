//! `demo-data/FILES.md` has a row for every key that may be written in the four files, and no other; its examples
//! can be read.

use super::*;
use crate::input::LabelStock;
use crate::paper::Lengths;
use serde::de::DeserializeOwned;
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::path::Path;

const FILES: &str = include_str!("../../../demo-data/FILES.md");

/// The modules of input files, and what else they take types of files from.
const SOURCES: [(&str, &str); 14] = [
    ("", include_str!("mod.rs")),
    ("check", include_str!("check.rs")),
    ("costing", include_str!("costing.rs")),
    ("cutting", include_str!("cutting.rs")),
    ("feature", include_str!("feature.rs")),
    ("kit", include_str!("kit.rs")),
    ("label_stock", include_str!("label_stock.rs")),
    ("order", include_str!("order.rs")),
    ("papers", include_str!("papers.rs")),
    ("read", include_str!("read.rs")),
    ("remnants", include_str!("remnants.rs")),
    ("shape", include_str!("shape.rs")),
    ("shop", include_str!("shop.rs")),
    ("language", include_str!("../paper/words.rs")),
];

/// Keys, with the number of types or rows they stand in, and words that are values.
#[derive(Default)]
struct Words {
    keys: BTreeMap<String, usize>,
    values: BTreeSet<String>,
}

impl Words {
    fn count(&mut self, key: &str) {
        *self.keys.entry(key.to_owned()).or_default() += 1;
    }

    /// What the types of the sources read.
    fn of_sources() -> Self {
        let mut all = Self::default();
        for (name, source) in SOURCES {
            for item in source.split("#[derive(").skip(1) {
                let (derived, rest) = item.split_once(")]").expect(name);
                if derived.split(',').any(|word| word.trim() == "Deserialize") {
                    let (item, _) = rest.split_once("\n}").expect(name);
                    all.read_type(item);
                }
            }
        }
        all
    }

    /// Reads a type from behind its `derive` to before the brace that ends it.
    fn read_type(&mut self, item: &str) {
        let (head, body) = item.split_once(" {\n").expect("a type with braces");
        let is_struct = head.contains("pub struct ");
        let case = quoted(head, "rename_all").next().unwrap_or_default();
        for tag in quoted(head, "tag") {
            self.count(tag);
        }
        let mut attributes = String::new();
        for line in body.lines() {
            let text = line.trim();
            if text.starts_with("//") {
                continue;
            }
            let depth = line.len() - line.trim_start().len();
            let field = match (is_struct, depth) {
                (true, 4) => text.strip_prefix("pub "),
                (false, 8) => Some(text),
                _ => None,
            };
            let field = field.and_then(|text| text.split_once(": "));
            if let Some((name, _)) = field {
                if !attributes.contains("skip") {
                    self.count(quoted(&attributes, "rename").next().unwrap_or(name));
                }
            } else if !is_struct && depth == 4 && text.starts_with(char::is_uppercase) {
                let name = text.trim_end_matches([' ', ',', '{']);
                let renamed = quoted(&attributes, "rename").next();
                let word = renamed.map_or_else(|| cased(name, case), str::to_owned);
                self.values.insert(word);
                self.values
                    .extend(quoted(&attributes, "alias").map(str::to_owned));
            } else {
                attributes.push_str(text);
                continue;
            }
            attributes.clear();
        }
    }

    /// What stands between backquotes outside of examples; keys are in the first column of tables of keys.
    fn of_document() -> Self {
        let mut all = Self::default();
        let (mut is_example, mut is_keys) = (false, false);
        for line in FILES.lines() {
            if line.starts_with("```") {
                is_example = !is_example;
            }
            if is_example {
                continue;
            }
            let words = spans(line).map(|word| word.trim_matches('"').to_owned());
            all.values.extend(words);
            match line.split('|').nth(1).map(str::trim) {
                None => is_keys = false,
                Some("key") => is_keys = true,
                Some(first) if is_keys => spans(first).for_each(|key| all.count(key)),
                Some(_) => {}
            }
        }
        all
    }
}

/// What stands between backquotes in a line.
fn spans(line: &str) -> impl Iterator<Item = &str> {
    line.split('`').skip(1).step_by(2)
}

/// The texts that attributes give for `name`.
fn quoted<'a>(attributes: &'a str, name: &str) -> impl Iterator<Item = &'a str> {
    let before = format!("{name} = \"");
    let found: Vec<&str> = attributes.split(&before).skip(1).collect();
    found.into_iter().filter_map(|rest| rest.split('"').next())
}

/// The name of a variant as it is written.
fn cased(name: &str, case: &str) -> String {
    let mut word = String::new();
    for c in name.chars() {
        if case == "kebab-case" && c.is_uppercase() && !word.is_empty() {
            word.push('-');
        }
        word.push(c);
    }
    match case {
        "" => word,
        "lowercase" | "kebab-case" => word.to_lowercase(),
        other => panic!("this test does not know the case {other}"),
    }
}

/// The examples of the document.
fn examples() -> impl Iterator<Item = &'static str> {
    let blocks = FILES.split("```json\n").skip(1);
    blocks.filter_map(|rest| rest.split("```").next())
}

/// The example of a whole file.
fn whole<T: DeserializeOwned>(format: &str) -> T {
    let said = format!("\"format\": \"{format}\"");
    let text = examples().find(|text| text.contains(&said)).expect(format);
    json_of(Path::new("FILES.md"), text.as_bytes(), format).expect(format)
}

#[test]
fn every_key_has_its_row() {
    let (sources, document) = (Words::of_sources(), Words::of_document());
    assert!(sources.keys.len() > 100, "{:?}", sources.keys);
    for key in sources.keys.keys().chain(document.keys.keys()) {
        let count = |words: &Words| words.keys.get(key).copied().unwrap_or(0);
        let (types, rows) = (count(&sources), count(&document));
        assert_eq!(
            rows, types,
            "rows of FILES.md for '{key}', and types with it"
        );
    }
}

#[test]
fn every_word_that_is_a_value_is_told() {
    let (sources, document) = (Words::of_sources(), Words::of_document());
    let stocks = LabelStock::names().map(str::to_owned);
    let lengths = ["mm", "inch", "inch/32"].map(str::to_owned);
    for word in &lengths {
        assert!(word.parse::<Lengths>().is_ok(), "{word}");
    }
    for word in sources.values.iter().chain(&stocks).chain(&lengths) {
        assert!(
            document.values.contains(word),
            "FILES.md says nothing of '{word}'"
        );
    }
}

#[test]
fn no_module_is_left_out() {
    let modules = SOURCES[0].1.lines().filter_map(|line| {
        let name = line.strip_prefix("mod ")?.strip_suffix(';')?;
        (name != "tests").then_some(name)
    });
    for module in modules {
        assert!(SOURCES.iter().any(|(name, _)| *name == module), "{module}");
    }
}

#[test]
fn examples_can_be_read() {
    let shop: ShopFile = whole("panelwright-shop-1");
    shop_parts(&shop, Path::new("FILES.md")).expect("a sound shop");
    let _: KitFile = whole("panelwright-kit-1");
    let _: OrderFile = whole("panelwright-order-1");
    let _: RemnantsFile = whole("panelwright-remnants-1");
    let mut kinds = HashSet::new();
    for line in examples().flat_map(str::lines) {
        if line.starts_with("{\"kind\"") {
            let feature: Feature = serde_json::from_str(line).expect(line);
            kinds.insert(std::mem::discriminant(&feature));
            let (length, width, corner_radius) = (800.0, 600.0, 0.0);
            let features = vec![feature];
            let rectangle = Rectangle {
                length,
                width,
                corner_radius,
                features,
            };
            rectangle.outline(1.0).expect(line);
        }
    }
    assert_eq!(kinds.len(), 7);
    for text in examples().filter(|text| text.starts_with('"')) {
        let object: serde_json::Value = serde_json::from_str(&format!("{{{text}}}")).expect(text);
        for (key, value) in object.as_object().expect(text).clone() {
            let read = match key.as_str() {
                "keep" => serde_json::from_value::<Keep>(value).map(drop),
                "keep_clear" => serde_json::from_value::<Vec<KeepClear>>(value).map(drop),
                "cutting" => serde_json::from_value::<CutSettings>(value).map(drop),
                "room" => serde_json::from_value::<Vec<Room>>(value).map(drop),
                "papers" => serde_json::from_value::<Papers>(value).map(drop),
                "costing" => serde_json::from_value::<Costing>(value).map(drop),
                "drawing_rules" => serde_json::from_value::<Vec<DrawingRule>>(value).map(drop),
                "parts" => serde_json::from_value::<Vec<KitPart>>(value).map(drop),
                other => panic!("this test does not know '{other}'"),
            };
            read.expect(text);
        }
    }
}
