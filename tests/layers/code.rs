//! What a source file says to the compiler: its paths, calls, macros and texts, without
//! comments and without what is compiled for tests only.

use std::iter::Peekable;
use std::slice::Iter;
use std::str::FromStr;

use proc_macro2::{Delimiter, Group, TokenStream, TokenTree};

/// Something in a file, and the line where it stands.
#[derive(Debug, PartialEq)]
pub struct At<T> {
    pub what: T,
    pub line: usize,
}

/// What was read of one file.
#[derive(Debug, Default)]
pub struct Code {
    /// Every path of two names or more, each name of a `use` written out, an alias left out:
    /// `use a::{b, c as d}` is `a::b` and `a::c`. `crate`, `self` and `super` at the beginning
    /// are `crate` and the names from there. A path that follows a type in angle brackets
    /// begins with `_`.
    pub paths: Vec<At<Vec<String>>>,
    /// Names of methods that are called.
    pub methods: Vec<At<String>>,
    /// Names of macros that are called.
    pub macros: Vec<At<String>>,
    /// Literals of text.
    pub texts: Vec<At<String>>,
    /// Lines of documentation of what follows it.
    pub docs: Vec<At<String>>,
    /// Modules in files of their own that are compiled for tests only.
    pub test_modules: Vec<Vec<String>>,
}

/// Reads a file that holds the module `module` (from the root of the crate).
pub fn read(text: &str, module: &[String]) -> Code {
    let tokens = TokenStream::from_str(text).expect("tokens of Rust");
    let mut reader = Reader { module: module.to_vec(), code: Code::default() };
    reader.walk(tokens);
    reader.code
}

type Tokens<'a> = Peekable<Iter<'a, TokenTree>>;

fn listed(stream: TokenStream) -> Vec<TokenTree> {
    stream.into_iter().collect()
}

struct Reader {
    module: Vec<String>,
    code: Code,
}

impl Reader {
    fn walk(&mut self, stream: TokenStream) {
        let all = listed(stream);
        let mut rest = all.iter().peekable();
        // The tokens just passed: what a name follows tells what it is.
        let (mut dots, mut colons) = (0, 0);
        while let Some(token) = rest.next() {
            let line = token.span().start().line;
            let (dots_before, colons_before) = (dots, colons);
            (dots, colons) = (0, 0);
            match token {
                TokenTree::Punct(mark) if mark.as_char() == '.' => dots = dots_before + 1,
                TokenTree::Punct(mark) if mark.as_char() == ':' => colons = colons_before + 1,
                TokenTree::Punct(mark) if mark.as_char() == '#' => {
                    let whole_file = next_is(&mut rest, '!');
                    if whole_file {
                        rest.next();
                    }
                    let Some(TokenTree::Group(attribute)) = rest.next() else { continue };
                    match (for_tests_only(attribute), whole_file) {
                        (true, true) => return,
                        (true, false) => self.leave_out(&mut rest),
                        (false, _) => self.attribute(attribute, whole_file),
                    }
                }
                TokenTree::Punct(_) => {}
                TokenTree::Group(group) => self.walk(group.stream()),
                TokenTree::Literal(literal) => {
                    let text = literal.to_string();
                    if text.contains('"') {
                        self.code.texts.push(At { what: text, line });
                    }
                }
                TokenTree::Ident(name) if dots_before == 1 => {
                    let called = matches!(rest.peek(), Some(TokenTree::Group(g))
                        if g.delimiter() == Delimiter::Parenthesis);
                    if called || next_is(&mut rest, ':') {
                        self.code.methods.push(At { what: name.to_string(), line });
                    }
                }
                // Not `use<'a>` of a type.
                TokenTree::Ident(name) if name == "use" && !next_is(&mut rest, '<') => {
                    self.imports(&[], &mut rest);
                }
                TokenTree::Ident(name) if name == "mod" => {
                    let name = rest.next().map(|name| name.to_string()).unwrap_or_default();
                    if let Some(TokenTree::Group(inside)) = rest.peek() {
                        let inside = inside.stream();
                        rest.next();
                        self.module.push(name);
                        self.walk(inside);
                        self.module.pop();
                    }
                }
                TokenTree::Ident(name) => {
                    let mut path = if colons_before == 2 { vec!["_".into()] } else { vec![] };
                    path.push(name.to_string());
                    while double_colon(&mut rest) {
                        // `::<T>` ends the path, what may follow it begins with `_`.
                        let Some(TokenTree::Ident(name)) = rest.peek() else { break };
                        path.push(name.to_string());
                        rest.next();
                    }
                    let called = next_is(&mut rest, '!') && {
                        let mut later = rest.clone();
                        later.next();
                        matches!(later.peek(), Some(TokenTree::Group(_)))
                    };
                    if called {
                        let what = path.last().cloned().unwrap_or_default();
                        self.code.macros.push(At { what, line });
                    }
                    // Not `pub(crate)`.
                    if path != ["crate"] {
                        self.path(path, line);
                    }
                }
            }
        }
    }

    /// The rest of a `use` behind the names `before`, up to its end or the next comma.
    fn imports(&mut self, before: &[String], rest: &mut Tokens) {
        let mut path = before.to_vec();
        while let Some(token) = rest.next() {
            let line = token.span().start().line;
            match token {
                TokenTree::Punct(mark) if mark.as_char() == ';' || mark.as_char() == ',' => break,
                TokenTree::Punct(mark) if mark.as_char() == '*' => {
                    path.push("*".into());
                    self.path(path.clone(), line);
                }
                TokenTree::Ident(name) if name == "as" => drop(rest.next()),
                TokenTree::Ident(name) => {
                    path.push(name.to_string());
                    if !next_is(rest, ':') {
                        self.path(path.clone(), line);
                    }
                }
                TokenTree::Group(group) => {
                    let all = listed(group.stream());
                    let mut inside = all.iter().peekable();
                    while inside.peek().is_some() {
                        self.imports(&path, &mut inside);
                    }
                }
                TokenTree::Punct(_) | TokenTree::Literal(_) => {}
            }
        }
    }

    fn path(&mut self, path: Vec<String>, line: usize) {
        let mut here = self.module.clone();
        let (mut from_here, mut names) = (false, path.iter().peekable());
        loop {
            match names.peek().map(|name| name.as_str()) {
                Some("crate" | "plumbrise") if !from_here => here.clear(),
                Some("self") if path.len() > 1 => {}
                Some("super") => drop(here.pop()),
                _ => break,
            }
            from_here = true;
            names.next();
        }
        let rest = names.cloned();
        let what: Vec<String> = match from_here {
            true => std::iter::once("crate".into()).chain(here).chain(rest).collect(),
            false => rest.collect(),
        };
        // Names of nothing but `self` at the end of a `use` mean what stands before.
        let what: Vec<String> = what.into_iter().filter(|name| name != "self").collect();
        // `use std as other` hides what follows.
        if what.len() > 1 || from_here || what == ["std"] {
            self.code.paths.push(At { what, line });
        }
    }

    fn attribute(&mut self, attribute: &Group, whole_file: bool) {
        let all = listed(attribute.stream());
        let mut inside = all.iter().peekable();
        let line = attribute.span().start().line;
        match inside.next().map(|name| name.to_string()).as_deref() {
            Some("doc") if whole_file => {}
            Some("doc") => {
                let what = inside.nth(1).map(|text| text.to_string()).unwrap_or_default();
                self.code.docs.push(At { what, line });
            }
            // The place of a template, for the compiler.
            Some("template") => {}
            _ => self.walk(attribute.stream()),
        }
    }

    /// Passes what an attribute belongs to: an item, else a field, a variant or an argument.
    fn leave_out(&mut self, rest: &mut Tokens) {
        const TO_SEMICOLON: [&str; 4] = ["use", "static", "type", "let"];
        const TO_BRACES: [&str; 9] =
            ["fn", "mod", "impl", "struct", "enum", "trait", "unsafe", "extern", "macro_rules"];
        let (mut commas, mut braces, mut name_follows) = (true, true, false);
        while let Some(token) = rest.next() {
            match &token {
                TokenTree::Punct(mark) if mark.as_char() == ';' => return,
                TokenTree::Punct(mark) if mark.as_char() == ',' && commas => return,
                TokenTree::Group(group) if group.delimiter() == Delimiter::Brace && braces => {
                    return;
                }
                TokenTree::Ident(name) => {
                    let name = name.to_string();
                    if std::mem::take(&mut name_follows) && next_is(rest, ';') {
                        let module = self.module.iter().cloned().chain([name.clone()]);
                        self.code.test_modules.push(module.collect());
                    }
                    name_follows = name == "mod";
                    let constant = name == "const" && !next_is_word(rest, "fn");
                    if commas && (constant || TO_SEMICOLON.contains(&name.as_str())) {
                        (commas, braces) = (false, false);
                    } else if TO_BRACES.contains(&name.as_str()) {
                        commas = false;
                    }
                }
                _ => {}
            }
        }
    }
}

fn next_is(rest: &mut Tokens, mark: char) -> bool {
    matches!(rest.peek(), Some(TokenTree::Punct(next)) if next.as_char() == mark)
}

fn next_is_word(rest: &mut Tokens, word: &str) -> bool {
    matches!(rest.peek(), Some(TokenTree::Ident(next)) if next == word)
}

/// Passes `::`, if that comes next.
fn double_colon(rest: &mut Tokens) -> bool {
    let mut later = rest.clone();
    let both = next_is(&mut later, ':') && later.next().is_some() && next_is(&mut later, ':');
    if both && let Some(TokenTree::Ident(_)) = later.nth(1) {
        rest.nth(1);
        return true;
    }
    false
}

/// `cfg(test)` and `cfg(all(test, …))`.
fn for_tests_only(attribute: &Group) -> bool {
    let text: String =
        attribute.stream().to_string().chars().filter(|c| !c.is_whitespace()).collect();
    text == "cfg(test)" || text.starts_with("cfg(all(test,")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn here(text: &str) -> Code {
        read(text, &["room".into(), "shelf".into()])
    }

    fn paths(text: &str) -> Vec<String> {
        here(text).paths.into_iter().map(|path| path.what.join("::")).collect()
    }

    #[test]
    fn only_what_is_for_tests_is_left_out() {
        for (text, left) in [
            ("#[cfg(test)] mod tests { fn f() { a::b() } } fn g() { c::d() }", &["c::d"][..]),
            ("#[cfg(all(test, unix))] #[x] pub(crate) mod t { a::b } c::d", &["c::d"]),
            ("#[cfg(test)] use a::{b, c}; use c::d;", &["c::d"]),
            ("#[cfg(test)] pub const A: B = B { x: a::b }; c::d", &["c::d"]),
            ("#[cfg(test)] const fn f<A, B>() { a::b } c::d", &["c::d"]),
            ("#[cfg(test)] fn f<A, B>(x: a::b) where A: a::b { a::b } c::d", &["c::d"]),
            ("struct S { #[cfg(test)] x: a::b, y: c::d }", &["c::d"]),
            ("#[cfg(test)] mod made; c::d", &["c::d"]),
            ("#[cfg(not(test))] fn f() { c::d }", &["c::d"]),
            ("#[cfg(any(test, unix))] fn f() { c::d }", &["c::d"]),
            ("#![cfg(test)] a::b", &[]),
            (
                "\"}\"; '}'; r#\"\"}\"#; // }\n /* { */ #[cfg(test)] mod t { '{'; \"}\" } c::d",
                &["c::d"],
            ),
        ] {
            assert_eq!(paths(text), left, "{text}");
        }
        let made = here("#[cfg(test)] mod made;").test_modules;
        assert_eq!(made, [["room", "shelf", "made"]]);
    }

    #[test]
    fn a_path_is_known_however_it_is_written() {
        for (text, path) in [
            (
                "use a::{self as x, b::{c as d, e}, f::*};",
                &["a", "a::b::c", "a::b::e", "a::f::*"][..],
            ),
            ("use crate::{x, y::z};", &["crate::x", "crate::y::z"]),
            ("use super::x;", &["crate::room::x"]),
            ("mod m { fn f() { super::x() } }", &["crate::room::shelf::x"]),
            ("super::super::x", &["crate::x"]),
            ("self::x::y", &["crate::room::shelf::x::y"]),
            ("plumbrise::x", &["crate::x"]),
            ("::a::b(c::<d::e>::f)", &["_::a::b", "d::e", "_::f"]),
            ("m!(a::b)", &["a::b"]),
            ("use std as s;", &["std"]),
            ("fn f(self) -> impl X + use<'a> { self.x }", &[]),
        ] {
            let found = paths(text);
            let expected: Vec<&str> =
                path.iter().copied().filter(|p| p.contains("::") || *p == "std").collect();
            assert_eq!(found, expected, "{text}");
        }
    }

    #[test]
    fn calls_and_texts() {
        let code =
            here("/// told\nfn f() { a.b(); a.c::<d>(); a.e; x!(0..f(1)); \"said\" } //! no");
        let names = |all: Vec<At<String>>| all.into_iter().map(|at| at.what).collect::<Vec<_>>();
        assert_eq!(code.docs[0].line, 1);
        assert_eq!(names(code.methods), ["b", "c"]);
        assert_eq!(names(code.macros), ["x"]);
        assert_eq!(code.texts, [At { what: "\"said\"".into(), line: 2 }]);
        assert_eq!(names(code.docs), ["\" told\""]);
    }
}
