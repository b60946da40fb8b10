//! Lower layers do not know higher ones: the imports of every file are read
//! and compared with the order in DEVELOPERS.md.

mod common;

use std::fs;
use std::path::Path;

/// Lowest first; a module may use what stands before it.
const ORDER: [&str; 22] = [
    "shown",
    "error",
    "references",
    "body",
    "settings",
    "files",
    "signal",
    "statistics",
    "video",
    "record",
    "pose",
    "movement",
    "film_check",
    "judgement",
    "session",
    "between",
    "archive",
    "report",
    "export",
    "pipeline",
    "cli",
    "main",
];

#[test]
fn imports_point_downward_only() {
    let place = |name: &str| ORDER.iter().position(|m| *m == name);
    let mut files = Vec::new();
    collect(&common::project("src"), &mut files);
    let mut imports = 0;
    for file in files {
        let inside = file.strip_prefix(common::project("src")).expect("inside");
        let own = inside.iter().next().expect("a name").to_string_lossy().replace(".rs", "");
        if own == "lib" {
            continue;
        }
        let rank = place(&own).unwrap_or_else(|| panic!("src/{own} is not in the order"));
        let text = fs::read_to_string(&file).expect("readable");
        // Documentation may point anywhere.
        let code: String = text
            .split("#[cfg(test)]")
            .next()
            .unwrap_or("")
            .lines()
            .filter(|line| !line.trim_start().starts_with("//"))
            .map(|line| format!("{line}\n"))
            .collect();
        for used in code.split("crate::").skip(1) {
            let names: Vec<String> = match used.strip_prefix('{') {
                Some(group) => group
                    .split('}')
                    .next()
                    .unwrap_or("")
                    .split(',')
                    .map(|n| n.trim().split("::").next().unwrap_or("").to_owned())
                    .collect(),
                None => {
                    vec![used.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()]
                }
            };
            for name in names {
                let Some(target) = place(&name) else { continue };
                imports += 1;
                assert!(
                    target <= rank,
                    "{} imports crate::{name}, which stands above it",
                    inside.display()
                );
            }
        }
    }
    assert!(imports > 50, "only {imports} imports were read");
}

/// Only `files` (and nobody else) touches the file system.
#[test]
fn only_one_module_uses_the_file_system() {
    let mut files = Vec::new();
    collect(&common::project("src"), &mut files);
    for file in files {
        let text = fs::read_to_string(&file).expect("readable");
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        let inside = file.starts_with(common::project("src/files"));
        assert!(!code.contains("std::fs") || inside, "{}", file.display());
    }
}

/// Macros that print end the program where standard output or error is closed or full: what
/// is printed goes through `write!` or `cli/common.rs`, which know what to do then.
#[test]
fn nothing_is_printed_that_can_end_the_program() {
    let mut files = Vec::new();
    collect(&common::project("src"), &mut files);
    for file in files {
        let text = fs::read_to_string(&file).expect("readable");
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        for line in code.lines().filter(|line| !line.trim_start().starts_with("//")) {
            for name in ["print!(", "println!(", "eprint!(", "eprintln!(", "dbg!("] {
                let whole = line.split(name).next().unwrap_or("");
                let called = whole.len() < line.len() && !whole.ends_with(char::is_alphabetic);
                assert!(!called, "{}: {line}", file.display());
            }
        }
    }
}

/// An installed program has none of this repository's sources beside it: what it says to
/// people must not send them there.
#[test]
fn no_message_names_a_file_of_the_sources() {
    let mut files = Vec::new();
    collect(&common::project("src"), &mut files);
    let mut messages = 0;
    for file in files {
        let text = fs::read_to_string(&file).expect("readable");
        let code = text.split("#[cfg(test)]").next().unwrap_or("");
        for line in code.lines() {
            let line = line.trim_start();
            // Comments for contributors and places of templates are no messages.
            let comment = line.starts_with("//") && !line.starts_with("///");
            let other = comment || line.starts_with("//!") || line.starts_with("#[template");
            messages += usize::from(line.contains('"'));
            let named = ["src/", "tests/", "DEVELOPERS.md"].iter().any(|name| line.contains(name));
            // A command's help is the documentation of its arguments.
            let of_the_command_line =
                line.contains('"') || file.starts_with(common::project("src/cli"));
            assert!(other || !of_the_command_line || !named, "{}: {line}", file.display());
        }
    }
    assert!(messages > 500, "only {messages} lines with text were read");
}

fn collect(folder: &Path, files: &mut Vec<std::path::PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_some_and(|e| e == "rs") {
            files.push(path);
        }
    }
}

/// Every key in brackets, in code and criteria, is a listed publication.
#[test]
fn every_reference_exists() {
    let mut files = vec![common::project("src/judgement/criteria/default.toml")];
    collect(&common::project("src"), &mut files);
    let mut keys = 0;
    for file in files {
        let text = fs::read_to_string(&file).expect("readable");
        for part in text.split('[').skip(1) {
            let key = part.split(']').next().unwrap_or("").trim_end_matches('\\');
            let (name, year) = match key.char_indices().rev().nth(3) {
                Some((at, _)) => key.split_at(at),
                None => ("", key),
            };
            let looks_like_a_key = name.len() > 2
                && name.starts_with(char::is_uppercase)
                && name.chars().all(char::is_alphanumeric)
                && year.len() == 4
                && year.chars().all(|c| c.is_ascii_digit());
            if looks_like_a_key {
                keys += 1;
                let known = plumbrise::references::find(key).is_some();
                assert!(known, "{}: [{key}] is not in references.rs", file.display());
            }
        }
    }
    assert!(keys > 30, "only {keys} keys were read");
}
