//! Lower layers do not know higher ones: the imports of every file are read
//! and compared with the order in DEVELOPERS.md.

#[path = "layers/code.rs"]
mod code;
mod common;

use std::fs;
use std::path::{Path, PathBuf};

use code::{At, Code};

/// Lowest first; a module may use what stands before it. `room::inner` places a module within
/// a room apart; the rest of the room stands where `room` does.
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

/// What of the file system is used elsewhere than in `files`, and why: end of the file's path,
/// what is used, reason. Each is needed: one that nothing uses fails.
const EXCEPTIONS: [(&str, &str, &str); 7] = [
    ("pose/assets.rs", "env::current_exe", "where the program lies; opens nothing"),
    ("pose/network.rs", "init_from", "a library is loaded by its path only"),
    ("pose/network.rs", "commit_from_file", "the model, its checksum verified before"),
    ("video/container.rs", "format::input*", "from a file that `files` has opened, no name"),
    ("video/decoder.rs", "metadata", "of a film, not of a file"),
    ("video/encoder.rs", "format::output*", "FFmpeg writes by name only, into a folder of `files`"),
    ("archive/sqlite.rs", "Connection::open*", "SQLite opens and locks its files itself"),
];

/// Ways to the file system, by the names on the way: of a path, `*` for any further ending.
const PATHS: [&str; 24] = [
    "fs",
    "File",
    "OpenOptions",
    "DirBuilder",
    "Connection::open*",
    "ImageReader::open",
    "env::current_dir",
    "env::current_exe",
    "env::home_dir",
    "env::set_current_dir",
    "env::temp_dir",
    "format::input*",
    "format::output*",
    "image::open",
    "image::save_buffer*",
    "libc",
    "os::unix",
    "os::windows",
    "process::Command",
    "rustix",
    "tempfile",
    // These would hide one of the others.
    "std::*",
    "std::env::*",
    "std::process::*",
];
/// The same by the name of a method.
const METHODS: [&str; 30] = [
    "append_dir",
    "append_dir_all",
    "append_file",
    "append_path",
    "append_path_with_name",
    "canonicalize",
    "commit_from_file",
    "exists",
    "from_file",
    "from_path",
    "init_from",
    "is_dir",
    "is_file",
    "is_symlink",
    "load_font_file",
    "load_fonts_dir",
    "load_system_fonts",
    "metadata",
    "open_file",
    "read_dir",
    "read_link",
    "save",
    "save_png",
    "save_with_format",
    "symlink_metadata",
    "try_exists",
    "unpack",
    "unpack_in",
    "write_to_file",
    "load_png",
];
/// Macros that print end the program where standard output or error is closed or full: what
/// is printed goes through `write!` or `cli/common.rs`, which know what to do then.
const PRINTING: [&str; 5] = ["print", "println", "eprint", "eprintln", "dbg"];

/// A source file of the program.
struct Source {
    /// From `src` on.
    name: String,
    module: Vec<String>,
    code: Code,
}

/// All of them, but those that are compiled for tests only.
fn sources() -> Vec<Source> {
    let mut files = Vec::new();
    collect(&common::project("src"), &mut files);
    let read = |file: &PathBuf| {
        let inside = file.strip_prefix(common::project("src")).expect("inside").with_extension("");
        let names = inside.iter().map(|name| name.to_string_lossy().into_owned());
        let module: Vec<String> = names.filter(|name| name != "mod" && name != "lib").collect();
        let code = code::read(&fs::read_to_string(file).expect("readable"), &module);
        Source { name: format!("{}.rs", inside.display()), module, code }
    };
    let mut all: Vec<Source> = files.iter().map(read).collect();
    let tests: Vec<_> = all.iter().flat_map(|source| source.code.test_modules.clone()).collect();
    all.retain(|source| !tests.iter().any(|test| source.module.starts_with(test)));
    assert!(all.len() > 100, "only {} files were read", all.len());
    all
}

/// A made-up file.
fn made_up(name: &str, text: &str) -> Source {
    let module: Vec<String> =
        name.trim_end_matches(".rs").split('/').map(str::to_owned).filter(|n| n != "mod").collect();
    Source { name: name.into(), code: code::read(text, &module), module }
}

fn none(offences: &[String]) {
    assert!(offences.is_empty(), "{}", offences.join("\n"));
}

/// Place in an order: that of the innermost room that is listed.
fn rank_in(order: &[&str], module: &[String]) -> Option<usize> {
    let names = |room: &str| room.split("::").count();
    let holds =
        |room: &str| module.iter().map(String::as_str).take(names(room)).eq(room.split("::"));
    let listed = order.iter().enumerate().filter(|(_, room)| holds(room));
    listed.max_by_key(|(_, room)| names(room)).map(|(rank, _)| rank)
}

fn rank(module: &[String]) -> Option<usize> {
    rank_in(&ORDER, module)
}

#[test]
fn rooms_within_rooms_have_places_of_their_own() {
    let order = ["low", "room::first", "middle", "room", "room::last"];
    for (module, expected) in [
        ("low", Some(0)),
        ("low::x", Some(0)),
        ("room::first", Some(1)),
        ("room::first::x::y", Some(1)),
        ("room", Some(3)),
        ("room::x", Some(3)),
        ("room::last::x", Some(4)),
        ("first", None),
        ("lower", None),
    ] {
        let names: Vec<String> = module.split("::").map(str::to_owned).collect();
        assert_eq!(rank_in(&order, &names), expected, "{module}");
    }
}

/// What a file imports from above itself, and how many imports were looked at. `root` is the
/// crate's: what it hands on under its own name stands where it is from.
fn upward(source: &Source, root: &Code) -> (Vec<String>, usize) {
    let own = rank(&source.module);
    let mut offences = Vec::new();
    if own.is_none() {
        offences.push(format!("src/{} is not in the order", source.name));
    }
    let mut seen = 0;
    for At { what, line } in &source.code.paths {
        let Some(("crate", rest)) = what.split_first().map(|(root, rest)| (root.as_str(), rest))
        else {
            continue;
        };
        seen += 1;
        let handed_on =
            root.paths.iter().map(|path| &path.what).find(|path| path.last() == rest.first());
        let target = rank(rest).or_else(|| rank(handed_on?));
        if target.is_none() || target > own {
            let path = what.join("::");
            offences.push(format!("{}:{line} imports {path}, which stands above it", source.name));
        }
    }
    (offences, seen)
}

#[test]
fn imports_point_downward_only() {
    let (mut offences, mut imports) = (Vec::new(), 0);
    let sources = sources();
    let root = sources.iter().find(|source| source.module.is_empty()).expect("lib.rs");
    for source in sources.iter().filter(|source| !source.module.is_empty()) {
        let (found, seen) = upward(source, &root.code);
        offences.extend(found);
        imports += seen;
    }
    none(&offences);
    assert!(imports > 500, "only {imports} imports were read");
}

/// The lowest room may use none of these of the highest; the highest may.
#[test]
fn an_upward_import_is_found() {
    let lowest = format!("{}/shelf.rs", ORDER[0].replace("::", "/"));
    let highest = ORDER[ORDER.len() - 1];
    let root = code::read(&format!("pub use {highest}::Handed;"), &[]);
    for text in [
        "use crate::HIGH::x;",
        "use crate::{LOW::y, HIGH::{x as w}};",
        "use super::super::HIGH;",
        "use crate::Handed;",
        "use crate::*;",
        "use crate::nowhere::x;",
        "fn f() -> crate::HIGH::X {}",
        "m!(crate::HIGH::x)",
        "#[cfg(test)] mod tests {} use plumbrise::HIGH::x;",
    ] {
        let text = text.replace("HIGH", highest).replace("LOW", ORDER[0]);
        let text = text
            .replace("super::super", &vec!["super"; 1 + ORDER[0].split("::").count()].join("::"));
        assert_eq!(upward(&made_up(&lowest, &text), &root).0.len(), 1, "{text}");
    }
    for text in ["use crate::LOW::x;", "// use crate::HIGH::x;", "#[cfg(test)] use crate::HIGH::x;"]
    {
        let text = text.replace("HIGH", highest).replace("LOW", ORDER[0]);
        assert_eq!(upward(&made_up(&lowest, &text), &root).0, [""; 0], "{text}");
    }
    assert_eq!(upward(&made_up("nowhere/x.rs", ""), &root).0.len(), 1);
}

/// Uses of the file system outside `files`: place and what is used.
fn touching(source: &Source) -> Vec<(String, &'static str)> {
    if source.module.first().is_some_and(|room| room == "files") {
        return Vec::new();
    }
    let mut found = Vec::new();
    let mut at = |line: usize, what| found.push((format!("{}:{line}", source.name), what));
    for At { what: path, line } in &source.code.paths {
        let way = PATHS.iter().find(|way| {
            let names: Vec<&str> = way.split("::").collect();
            path.windows(names.len()).any(|part| {
                part.iter().zip(&names).all(|(part, name)| match name.strip_suffix('*') {
                    Some(start) if !start.is_empty() => part.starts_with(start),
                    _ => part == name,
                })
            })
        });
        // `Path::exists`, as a function; functions of modules are others.
        let method = METHODS.iter().find(|method| {
            let [.., of, name] = path.as_slice() else { return false };
            name == *method && (of.starts_with(char::is_uppercase) || of == "_" || of == "ort")
        });
        if let Some(way) = way.or(method).or((path == &["std"]).then_some(&"std")) {
            at(*line, *way);
        }
    }
    for At { what: name, line } in &source.code.methods {
        if let Some(method) = METHODS.iter().find(|method| *method == name) {
            at(*line, *method);
        }
    }
    found
}

/// Only `files` touches the file system.
#[test]
fn only_one_module_uses_the_file_system() {
    let mut needed = [false; EXCEPTIONS.len()];
    let mut offences = Vec::new();
    for source in sources() {
        for (place, used) in touching(&source) {
            let allowed = EXCEPTIONS
                .iter()
                .position(|(file, way, _)| source.name.ends_with(file) && *way == used);
            match allowed {
                Some(exception) => needed[exception] = true,
                None => offences.push(format!("{place} uses {used}")),
            }
        }
    }
    none(&offences);
    for ((file, way, _), needed) in EXCEPTIONS.iter().zip(needed) {
        assert!(needed, "{file} uses no {way}: the exception is not needed");
    }
}

#[test]
fn every_way_to_the_file_system_is_found() {
    let found = |name: &str, text: &str| touching(&made_up(name, text)).len();
    for way in PATHS {
        let whole = way.replace('*', if way.ends_with("::*") { "*" } else { "_more" });
        assert_eq!(
            found("x.rs", &format!("use {whole};")),
            usize::from(whole.contains("::")),
            "{way}"
        );
        assert_eq!(found("x.rs", &format!("use std::{{io, other::{whole} as y}};")), 1, "{way}");
    }
    for method in METHODS {
        assert_eq!(found("x.rs", &format!("fn f() {{ a.b().{method}(c) }}")), 1, "{method}");
        assert_eq!(found("x.rs", &format!("a.filter(Path::{method})")), 1, "{method}");
    }
    for text in [
        "use std::fs;",
        "use std::{fs as disk, io};",
        "use std as s;",
        "use std::{self as s};",
        "use std::*;",
        "fn f() { ::std::fs::read(x) }",
        "m! { std::fs::read(x) }",
        "use crate::files::fs;",
        "#[cfg(test)] mod tests { use std::fs; } fn f() { std::fs::read(x) }",
        "let x = <Path>::exists(p);",
    ] {
        assert_eq!(found("x.rs", text), 1, "{text}");
        assert_eq!(found("files/x.rs", text), 0, "{text}");
    }
    for text in ["// std::fs", "/// std::fs\nfn f() {}", "let x = \"std::fs\";", "files::exists(x)"]
    {
        assert_eq!(found("x.rs", text), 0, "{text}");
    }
}

fn printing(source: &Source) -> Vec<String> {
    let printing = source.code.macros.iter().filter(|at| PRINTING.contains(&at.what.as_str()));
    printing.map(|at| format!("{}:{} {}!", source.name, at.line, at.what)).collect()
}

#[test]
fn nothing_is_printed_that_can_end_the_program() {
    none(&sources().iter().flat_map(printing).collect::<Vec<_>>());
    for name in PRINTING {
        let text = format!("#[cfg(test)] mod t {{}} fn f() {{ m!(std::{name}!(\"\")) }}");
        assert_eq!(printing(&made_up("x.rs", &text)).len(), 1, "{name}");
    }
    assert_eq!(printing(&made_up("x.rs", "writeln!(out, \"println!()\")")), [""; 0]);
}

/// Texts that people may read which name a file of the sources: literals, and the
/// documentation of the command line's arguments, which is its help.
fn naming_sources(source: &Source) -> Vec<String> {
    let help = source.module.iter().any(|room| room == "cli").then_some(&source.code.docs);
    source
        .code
        .texts
        .iter()
        .chain(help.into_iter().flatten())
        .filter(|at| ["src/", "tests/", "DEVELOPERS.md"].iter().any(|name| at.what.contains(name)))
        .map(|at| format!("{}:{} {}", source.name, at.line, at.what))
        .collect()
}

/// An installed program has none of this repository's sources beside it: what it says to
/// people must not send them there.
#[test]
fn no_message_names_a_file_of_the_sources() {
    let sources = sources();
    none(&sources.iter().flat_map(naming_sources).collect::<Vec<_>>());
    let messages: usize = sources.iter().map(|source| source.code.texts.len()).sum();
    assert!(messages > 1000, "only {messages} texts were read");
    for text in ["f(\"see src/x.rs\")", "m!(r#\"DEVELOPERS.md\"#)", "/// See tests/x.\nstruct X;"] {
        assert_eq!(naming_sources(&made_up("cli/x.rs", text)).len(), 1, "{text}");
    }
    for text in ["// src/", "#[template(path = \"../src/x\")] struct X;", "//! src/"] {
        assert_eq!(naming_sources(&made_up("cli/x.rs", text)), [""; 0], "{text}");
    }
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
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
