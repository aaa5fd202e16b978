//! Messages by language, in Project Fluent's open format: one folder for each language.

use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use serde::Deserialize;
use std::sync::OnceLock;

/// A value that stands in a message: a number (which decides between singular and plural) or a text that is
/// ready to print.
pub type Value<'a> = FluentValue<'a>;

/// Languages that papers are written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize, clap::ValueEnum)]
pub enum Language {
    /// English
    #[default]
    #[serde(rename = "en")]
    #[value(name = "en")]
    English,
    /// German
    #[serde(rename = "de")]
    #[value(name = "de")]
    German,
}

impl Language {
    /// All of them.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// Its tag after BCP 47, as in the `lang` of a page.
    #[must_use]
    pub const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// What stands before decimals.
    #[must_use]
    pub const fn decimal_sign(self) -> &'static str {
        match self {
            Self::English => ".",
            Self::German => ",",
        }
    }

    const fn messages(self) -> [&'static str; 6] {
        match self {
            Self::English => [
                include_str!("en/common.ftl"),
                include_str!("en/report.ftl"),
                include_str!("en/papers.ftl"),
                include_str!("en/rack.ftl"),
                include_str!("en/estimate.ftl"),
                include_str!("en/preview.ftl"),
            ],
            Self::German => [
                include_str!("de/common.ftl"),
                include_str!("de/report.ftl"),
                include_str!("de/papers.ftl"),
                include_str!("de/rack.ftl"),
                include_str!("de/estimate.ftl"),
                include_str!("de/preview.ftl"),
            ],
        }
    }

    /// The message `key` with `values` in it; the English one where the language has none, the key itself where
    /// there is none at all (the tests look for both).
    #[must_use]
    pub fn say(self, key: &str, values: &[(&str, Value)]) -> String {
        let args: FluentArgs = values.iter().map(|(k, v)| (*k, v.clone())).collect();
        self.found(key, &args)
            .or_else(|| Self::English.found(key, &args))
            .unwrap_or_else(|| key.to_owned())
    }

    fn found(self, key: &str, args: &FluentArgs) -> Option<String> {
        let bundle = self.bundle();
        let pattern = bundle.get_message(key)?.value()?;
        let mut errors = Vec::new();
        let text = bundle.format_pattern(pattern, Some(args), &mut errors);
        debug_assert!(errors.is_empty(), "{key}: {errors:?}");
        Some(text.into_owned())
    }

    fn bundle(self) -> &'static FluentBundle<FluentResource> {
        static BUNDLES: [OnceLock<FluentBundle<FluentResource>>; Language::ALL.len()] =
            [const { OnceLock::new() }; Language::ALL.len()];
        BUNDLES[self as usize].get_or_init(|| {
            let tags = self.tag().parse().into_iter().collect();
            let mut bundle = FluentBundle::new_concurrent(tags);
            // The marks of direction that it would set round values are for languages written from the right.
            bundle.set_use_isolating(false);
            for text in self.messages() {
                let resource = match FluentResource::try_new(text.to_owned()) {
                    Ok(resource) | Err((resource, _)) => resource,
                };
                bundle.add_resource_overriding(resource);
            }
            bundle
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use fluent_syntax::ast::{Entry, Expression, InlineExpression, Pattern, PatternElement};
    use std::collections::{BTreeMap, BTreeSet};
    use std::path::Path;

    type Messages = BTreeMap<String, BTreeSet<String>>;

    /// Messages of a language with the variables they use; panics on what is no proper message.
    fn messages(language: Language) -> Messages {
        let mut all = Messages::new();
        let trees = language.messages().map(|text| {
            fluent_syntax::parser::parse(text)
                .unwrap_or_else(|(_, errors)| panic!("{}: {errors:?}", language.tag()))
        });
        for entry in trees.iter().flat_map(|tree| &tree.body) {
            let Entry::Message(message) = entry else {
                continue;
            };
            let mut variables = BTreeSet::new();
            let value = message.value.as_ref().expect("a message has a text");
            in_pattern(value, &mut variables);
            let twice = all.insert(message.id.name.to_owned(), variables);
            assert!(twice.is_none(), "{} is there twice", message.id.name);
        }
        all
    }

    fn in_pattern(pattern: &Pattern<&str>, variables: &mut BTreeSet<String>) {
        for element in &pattern.elements {
            let PatternElement::Placeable { expression } = element else {
                continue;
            };
            let inline = match expression {
                Expression::Inline(inline) => inline,
                Expression::Select { selector, variants } => {
                    for variant in variants {
                        in_pattern(&variant.value, variables);
                    }
                    selector
                }
            };
            if let InlineExpression::VariableReference { id } = inline {
                variables.insert(id.name.to_owned());
            }
        }
    }

    /// All sources and templates that may ask for messages, one after another.
    fn sources() -> String {
        let mut all = String::new();
        let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("crates/cli")];
        while let Some(folder) = folders.pop() {
            for entry in std::fs::read_dir(&folder).expect("a source folder") {
                let path = entry.expect("an entry").path();
                if path.is_dir() && !path.ends_with("paper") {
                    folders.push(path);
                } else if path.extension().is_some_and(|e| e == "rs" || e == "html") {
                    all += &std::fs::read_to_string(&path).expect("a source file");
                }
            }
        }
        all
    }

    #[test]
    fn every_language_has_the_same_messages_and_variables() {
        let english = messages(Language::English);
        for language in Language::ALL {
            let own = messages(language);
            for (key, variables) in &english {
                let found = own.get(key);
                assert_eq!(
                    found,
                    Some(variables),
                    "{key} in {}, variables",
                    language.tag()
                );
            }
            for key in own.keys() {
                assert!(
                    english.contains_key(key),
                    "{key} is in {} only",
                    language.tag()
                );
            }
        }
    }

    #[test]
    fn every_message_that_is_asked_for_is_there() {
        let english = messages(Language::English);
        let sources = sources();
        for call in [".say(", ".say_with("] {
            for (at, _) in sources.match_indices(call) {
                let rest = sources[at + call.len()..].trim_start();
                let quoted = rest.strip_prefix('"').and_then(|r| r.split_once('"'));
                if let Some((key, _)) = quoted {
                    assert!(english.contains_key(key), "{key} is in no file of messages");
                }
            }
        }
    }

    #[test]
    fn every_message_is_used() {
        let sources = sources();
        // Those of `Paper` itself.
        let own = ["not-known", "parts-count"];
        for key in messages(Language::English).keys() {
            let used = own.contains(&key.as_str()) || sources.contains(&format!("\"{key}\""));
            assert!(used, "nothing asks for {key}");
        }
    }

    #[test]
    fn plurals() {
        let parts = |language: Language, n: usize| language.say("parts-count", &[("n", n.into())]);
        assert_eq!(parts(Language::English, 1), "1 part");
        assert_eq!(parts(Language::English, 12_345), "12345 parts");
        assert_eq!(parts(Language::German, 1), "1 Teil");
        assert_eq!(parts(Language::German, 3), "3 Teile");
    }

    #[test]
    fn a_message_that_is_nowhere_shows_its_key() {
        let key = "no-such-message-for-a-test";
        assert_eq!(Language::German.say(key, &[]), key);
    }
}
