//! Text of people and of files, made safe to show.
//!
//! A name or a note may hold characters that are not seen but act: they move a terminal's
//! cursor, begin a line that looks like a result, turn the direction of reading, hide. Where
//! such text is shown they are written out (`\u{1b}`). What is stored stays as it was given.

use std::path::Path;

/// Text in one line, every character of it to be seen.
pub fn line(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if acts(c) { out.extend(c.escape_default()) } else { out.push(c) }
    }
    out
}

/// Running text, such as a note: its breaks are spaces, the rest as in [`line`].
pub fn prose(text: &str) -> String {
    text.split_whitespace().map(line).collect::<Vec<_>>().join(" ")
}

/// A path as one line.
pub fn path(path: &Path) -> String {
    line(&path.to_string_lossy())
}

/// The last part of a path as one line.
pub fn name(path: &Path) -> String {
    line(&path.file_name().unwrap_or_default().to_string_lossy())
}

/// The same JSON text with those characters as its own escapes, so that it is read back as
/// it was.
pub fn json(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        // JSON itself is broken into lines, and they are escaped in its strings.
        if acts(c) && c != '\n' {
            for unit in c.encode_utf16(&mut [0; 2]) {
                out += &format!("\\u{unit:04x}");
            }
        } else {
            out.push(c);
        }
    }
    out
}

/// True for what is not seen, or does something to what stands around it. The two joiners
/// (U+200C, U+200D) are spared: several scripts and signs are written with them, and they
/// neither move nor turn anything.
pub fn acts(c: char) -> bool {
    // The controls, U+0000 to U+001F and U+007F to U+009F, and of the format characters of
    // the Unicode Standard (category Cf) and its separators (Zl, Zp) those that occur in
    // any text.
    c.is_control()
        || matches!(c,
            '\u{ad}'                        // soft hyphen
            | '\u{61c}'                     // direction
            | '\u{180e}'
            | '\u{200b}'                    // no width
            | '\u{200e}' | '\u{200f}'       // direction
            | '\u{2028}' | '\u{2029}'       // lines and paragraphs
            | '\u{202a}'..='\u{202e}'       // direction
            | '\u{2060}'..='\u{206f}'       // no width, direction
            | '\u{feff}'                    // no width
            | '\u{fff9}'..='\u{fffb}'       // annotation
            | '\u{e0000}'..='\u{e0fff}') // tags
}

/// Text as the content or an attribute of XML.
pub fn in_xml(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_acts_is_written_out() {
        assert_eq!(line("knee\u{1b}[2J\r\n5 of 5\t"), "knee\\u{1b}[2J\\r\\n5 of 5\\t");
        assert_eq!(line("a\u{9b}31mb"), "a\\u{9b}31mb", "one character that begins a sequence");
        assert_eq!(line("fdp\u{202e}4pm.mp4"), "fdp\\u{202e}4pm.mp4");
        for c in ['\u{7f}', '\u{2028}', '\u{2066}', '\u{200b}', '\u{feff}', '\u{e0041}'] {
            assert_eq!(line(&c.to_string()), format!("\\u{{{:x}}}", u32::from(c)));
        }
    }

    #[test]
    fn other_text_stays() {
        for text in ["Übung 2 «links».mp4", "knie🦵.mp4", "می\u{200c}شود", "👩\u{200d}⚕", "a\\n"]
        {
            assert_eq!(line(text), text);
            assert_eq!(line(&line(text)), text);
        }
    }

    #[test]
    fn a_note_is_one_paragraph() {
        assert_eq!(prose(" one\n\ttwo\u{2028}three \u{1b}[1m"), "one two three \\u{1b}[1m");
    }

    #[test]
    fn json_is_read_back_as_it_was() {
        let given = "a\u{1b}\u{9b}\u{202e}\n\u{e0041}\u{7f}é";
        let plain = serde_json::to_string_pretty(&[given]).unwrap();
        let shown = json(&plain);
        assert_eq!(shown.lines().count(), 3);
        assert!(!shown.chars().any(|c| acts(c) && c != '\n'), "{shown}");
        assert_eq!(serde_json::from_str::<Vec<String>>(&shown).unwrap(), [given]);
    }
}
