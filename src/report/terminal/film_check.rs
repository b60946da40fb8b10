//! The quality of a film for a terminal.

use std::fmt::Write;

use crate::film_check::{Finding, Grade};
use crate::record::ClipFacts;
use crate::report::lines::{section, strong, wrapped};
use crate::report::wording::film;

/// The findings as text for a terminal; `colour` adds emphasis without a meaning of its
/// own.
pub fn film_check(clip: &ClipFacts, findings: &[Finding], colour: bool) -> String {
    let strong = |text: &str| strong(text, colour);
    let mut out = String::new();
    let _ = writeln!(out, "{}", strong(&film::headline(findings)));
    let _ = writeln!(out, "{}\n", wrapped(&about(clip), ""));
    for finding in findings {
        let (mark, word) = film::grade(finding.grade);
        let line = format!(
            "{mark} {:<24} {word:<11} {}",
            film::aspect(finding.aspect),
            film::measured(finding)
        );
        let _ = writeln!(out, "{}", line.trim_end());
    }
    let with = |grade: Grade| -> Vec<String> {
        findings.iter().filter(|f| f.grade == grade).filter_map(film::advice).collect()
    };
    section(&mut out, &strong("To put right"), &with(Grade::FilmAgain));
    section(&mut out, &strong("Could be better"), &with(Grade::Usable));
    section(&mut out, &strong("Look yourself"), &with(Grade::NotTold));
    out
}

fn about(clip: &ClipFacts) -> String {
    let size = clip.width_px.zip(clip.height_px);
    let size = size.map_or(String::new(), |(w, h)| format!(", {w}×{h}"));
    format!("{}, {:.0} s{size}", clip.file, clip.duration_s)
}
