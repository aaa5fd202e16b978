//! `panelwright completions` and `panelwright man`: made from the same descriptions as the help, so they never differ from it.

use crate::args::{Cli, CompletionsArgs, ManArgs};
use crate::aside::aside;
use crate::{Failure, Result};
use clap_mangen::Man;
use std::fs;
use std::io::Write as _;
use std::path::Path;

/// The program's name where a shell looks for it.
const NAME: &str = "panelwright";

/// Runs `panelwright completions`; returns the script.
#[must_use]
pub fn completions(args: &CompletionsArgs) -> String {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::described(), NAME, &mut script);
    String::from_utf8_lossy(&script).into_owned()
}

/// Runs `panelwright man`; returns what to print.
///
/// # Errors
/// A folder that cannot be made or written to; no page is written then.
pub fn man(args: &ManArgs) -> Result<String> {
    let failed = |path: &Path, error: &std::io::Error| {
        let what = format!("cannot be written: {error}");
        let advice = "check its rights and the room on the disk, or name another folder";
        Failure::new(path.display().to_string(), what, advice)
    };
    let pages = pages().map_err(|e| failed(&args.out, &e))?;
    fs::create_dir_all(&args.out).map_err(|e| failed(&args.out, &e))?;
    // All are written aside before the first is put in place.
    let mut ready = Vec::new();
    for (name, text) in &pages {
        let path = args.out.join(name);
        let aside = aside(&path).and_then(|mut file| {
            file.write_all(text)?;
            Ok(file)
        });
        ready.push((aside.map_err(|e| failed(&path, &e))?, path));
    }
    for (file, path) in ready {
        file.persist(&path).map_err(|e| failed(&path, &e.error))?;
    }
    let (count, out) = (pages.len(), args.out.display());
    Ok(format!(
        "{count} pages written to {out}; read one with: man -l {}\n",
        args.out.join("panelwright.1").display()
    ))
}

/// A page for the program and one for each of its commands: names such as `panelwright-rack-list.1`, and contents.
fn pages() -> std::io::Result<Vec<(String, Vec<u8>)>> {
    let mut command = Cli::described().disable_help_subcommand(true);
    command.build();
    let mut pages = Vec::new();
    add_pages(&command, &mut pages)?;
    Ok(pages)
}

fn add_pages(command: &clap::Command, pages: &mut Vec<(String, Vec<u8>)>) -> std::io::Result<()> {
    let man = Man::new(command.clone()).manual("User Commands");
    let mut text = Vec::new();
    man.render_title(&mut text)?;
    man.render_name_section(&mut text)?;
    man.render_synopsis_section(&mut text)?;
    man.render_description_section(&mut text)?;
    man.render_options_section(&mut text)?;
    if command.has_subcommands() {
        man.render_subcommands_section(&mut text)?;
    }
    if let Some(more) = command.get_after_help() {
        text.extend(notes(&more.to_string()).into_bytes());
    }
    pages.push((man.get_filename(), text));
    for inner in command.get_subcommands().filter(|c| !c.is_hide_set()) {
        add_pages(inner, pages)?;
    }
    Ok(())
}

/// What stands below the options in the help, as roff: prose is filled, examples (indented there) are kept line by line.
///
/// Source: groff_man(7), macros SH, PP, EX and EE; groff(7), escapes.
fn notes(text: &str) -> String {
    let mut roff = String::from(".SH NOTES\n");
    let mut in_example = false;
    for line in text.lines() {
        let example = line.starts_with("  ");
        if example != in_example && !line.trim().is_empty() {
            roff += if example { ".PP\n.EX\n" } else { ".EE\n" };
            in_example = example;
        }
        if line.trim().is_empty() {
            roff += if in_example { "\n" } else { ".PP\n" };
            continue;
        }
        let escaped = line.replace('\\', "\\e").replace('-', "\\-");
        if escaped.starts_with(['.', '\'']) {
            roff += "\\&";
        }
        roff += &escaped;
        roff.push('\n');
    }
    if in_example {
        roff += ".EE\n";
    }
    roff
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    fn commands(command: &clap::Command, name: &str, into: &mut BTreeSet<String>) {
        into.insert(format!("{name}.1"));
        for inner in command.get_subcommands().filter(|c| c.get_name() != "help") {
            commands(inner, &format!("{name}-{}", inner.get_name()), into);
        }
    }

    #[test]
    fn each_command_has_a_page_with_its_options_and_examples() {
        let pages = pages().unwrap();
        let mut wanted = BTreeSet::new();
        commands(&Cli::described(), NAME, &mut wanted);
        let names: BTreeSet<String> = pages.iter().map(|p| p.0.clone()).collect();
        assert_eq!(names, wanted);
        let page = |name: &str| {
            let found = pages.iter().find(|p| p.0 == name).unwrap();
            String::from_utf8(found.1.clone()).unwrap()
        };
        assert!(page("panelwright-nest.1").contains("\\-\\-effort"));
        assert!(page("panelwright-rack-list.1").contains("panelwright rack list"));
        assert!(page("panelwright-nest.1").contains(".EX\n  panelwright nest demo\\-data/"));
    }

    #[test]
    fn notes_are_prose_and_examples() {
        let roff = notes(".a first\n\nExamples:\n  one \\\n    two\n\nThe end.");
        assert_eq!(
            roff,
            ".SH NOTES\n\\&.a first\n.PP\nExamples:\n.PP\n.EX\n  one \\e\n    two\n\n.EE\nThe end.\n"
        );
    }

    #[test]
    fn every_shell_gets_a_script_that_knows_the_commands() {
        for shell in [
            clap_complete::Shell::Bash,
            clap_complete::Shell::Elvish,
            clap_complete::Shell::Fish,
            clap_complete::Shell::PowerShell,
            clap_complete::Shell::Zsh,
        ] {
            let script = completions(&CompletionsArgs { shell });
            for word in ["panelwright", "nest", "kits-early", "bookings"] {
                assert!(script.contains(word), "{shell}: {word}");
            }
        }
    }
}
