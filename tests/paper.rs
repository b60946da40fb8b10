//! The report on paper, read back by poppler, which is not ours.
#![cfg(feature = "paper")]

mod common;

use std::path::Path;
use std::process::Command;

use common::{errors, plumbrise, session};
use plumbrise::judgement::criteria::Criteria;
use plumbrise::judgement::document::{Assessment, Verdict};
use plumbrise::report::content::Content;
use plumbrise::report::{paper, wording};
use plumbrise::session::{Figures, KeyPicture, Moment, Plot, Session};

/// A paper as a file, for poppler's tools.
struct Paper(tempfile::NamedTempFile);

impl Paper {
    fn of(content: &Content) -> Self {
        let file = tempfile::NamedTempFile::new().expect("a file");
        std::fs::write(file.path(), paper(content).expect("a paper")).expect("written");
        Self(file)
    }

    fn ask(&self, tool: &str, arguments: &[&str]) -> String {
        let output = Command::new(tool)
            .env("TZ", "UTC")
            .args(arguments)
            .arg(self.0.path())
            .args(if tool == "pdftotext" { &["-"][..] } else { &[] })
            .output()
            .unwrap_or_else(|e| panic!("{tool} ({e}): install Debian's poppler-utils"));
        assert!(output.status.success(), "{tool}: {}", errors(&output));
        // Poppler itself tells some titles of headings in two encodings at once.
        String::from_utf8_lossy(&output.stdout).into_owned()
    }

    fn text(&self) -> String {
        plain(&self.ask("pdftotext", &["-enc", "UTF-8"]))
    }

    fn info(&self, name: &str) -> String {
        let info = self.ask("pdfinfo", &["-isodates"]);
        let line = info.lines().find_map(|l| l.strip_prefix(&format!("{name}:")));
        line.unwrap_or_else(|| panic!("no {name} in {info}")).trim().to_owned()
    }
}

/// With single spaces, so that line ends do not count.
fn plain(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

static NO_FIGURES: Figures =
    Figures { faces: None, film: None, rep_plots: Vec::new(), pictures: Vec::new() };

fn content(session: &Session) -> Content<'_> {
    Content { session, date: jiff::civil::date(2026, 3, 9), figures: &NO_FIGURES }
}

/// As nobody has reviewed it.
fn judged(a: &Assessment) -> Session {
    Session::new(a.clone(), None, built_in())
}

fn assessed(folder: &Path) -> Assessment {
    plumbrise::session::read_assessment(folder).expect("a session")
}

fn built_in() -> Criteria {
    Criteria::built_in().expect("limits")
}

/// Finds each of `wanted` after the one before it.
fn in_order(text: &str, wanted: &[String]) {
    let mut from = 0;
    for piece in wanted {
        let piece = plain(piece);
        let at = text[from..].find(&piece);
        from +=
            at.unwrap_or_else(|| panic!("«{piece}» is not at its place in: {text}")) + piece.len();
    }
}

fn says_everything(a: &Assessment) {
    let text = Paper::of(&content(&judged(a))).text();
    let mut wanted = vec!["Rising from a chair".to_owned(), wording::headline(a)];
    wanted.extend(wording::findings(a));
    wanted.extend(wording::worth_a_look(a, &built_in()));
    wanted.extend(a.notes.clone());
    wanted.extend(a.cautions.clone());
    for rep in &a.reps {
        let mark = match rep.judgement {
            Verdict::Clean => "✓",
            Verdict::Faulted => "!",
            Verdict::NotJudged => "?",
        };
        let reasons: Vec<&str> = rep.reasons.iter().map(|r| wording::short(*r)).collect();
        let why = if reasons.is_empty() { "" } else { " – " };
        let verdict = wording::verdict(rep.judgement);
        wanted.push(format!("Rep {}: {mark} {verdict}{why}{}", rep.number, reasons.join(", ")));
    }
    wanted.push("What could not be judged".into());
    wanted.push("Limits of good form".into());
    wanted.push("Publications".into());
    in_order(&text, &wanted);
}

#[test]
fn everything_is_said_in_order() {
    let faults = assessed(&session("drops_right"));
    assert!(faults.reps.iter().any(|r| !r.reasons.is_empty()));
    says_everything(&faults);
    let side = assessed(&session("side_view"));
    assert!(side.set.not_judged > 0);
    says_everything(&side);
}

#[test]
fn a_single_rep_and_none_make_a_paper() {
    let mut a = assessed(&session("drops_right"));
    a.reps.truncate(1);
    says_everything(&a);
    a.reps.clear();
    says_everything(&a);
}

#[test]
fn points_of_a_laboratory_make_a_paper() {
    let points = session("drops_right").join("motion.trc");
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("points");
    let output = plumbrise().arg("assess").arg("--out").arg(&folder).arg(points).output();
    let output = output.expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    assert!(folder.join("report.pdf").exists());
    says_everything(&assessed(&folder));
}

#[test]
fn it_is_an_archive_file_with_real_text_on_a4() {
    let a = assessed(&session("drops_right"));
    let paper = Paper::of(&content(&judged(&a)));
    let fonts = paper.ask("pdffonts", &[]);
    let fonts: Vec<&str> = fonts.lines().skip(2).collect();
    assert!(fonts.len() >= 2);
    for font in fonts {
        // Name, two words of type, encoding, embedded, subset, to Unicode.
        let words: Vec<&str> = font.split_whitespace().collect();
        assert!(words[0].contains("SourceSans3"), "{font}");
        assert_eq!(words[1..3], ["CID", "TrueType"], "{font}");
        assert_eq!(words[4..7], ["yes", "yes", "yes"], "{font}");
    }
    assert!(paper.info("Page size").contains("(A4)"));
    assert!(paper.info("Title").contains("drops_right.mp4"));
    assert!(paper.info("CreationDate").starts_with("2026-03-09"));
    assert_eq!(paper.info("Tagged"), "yes");
    assert_eq!(paper.info("JavaScript"), "no");
    let metadata = paper.ask("pdfinfo", &["-meta"]);
    for said in ["<pdfaid:part>2<", "<pdfaid:conformance>A<", "<pdfuaid:part>1<"] {
        assert!(metadata.contains(said), "{said} is not in {metadata}");
    }
    let pages: usize = paper.info("Pages").parse().expect("a number");
    for page in 1..=pages {
        let number = page.to_string();
        let text = paper.ask("pdftotext", &["-f", &number, "-l", &number]);
        assert!(text.contains("drops_right.mp4"), "{text}");
        assert!(text.contains(&format!("page {page} of {pages}")), "{text}");
    }
}

#[test]
fn any_name_of_a_clip_survives() {
    let mut a = assessed(&session("drops_right"));
    for (name, shown) in [
        ("<b>&\"#$*_x.mp4", "<b>&\"#$*_x.mp4"),
        ("Γόνατο [δεξί] #let x = 1 \\ `a` @b.mp4", "Γόνατο [δεξί] #let x = 1 \\ `a` @b.mp4"),
        ("Колено_№2 – äöü.mp4", "Колено_№2 – äöü.mp4"),
        ("膝\u{1}\u{e000}\u{1f9b5}.mp4", "?\\u{1}??.mp4"),
    ] {
        a.clip.file = name.into();
        let paper = Paper::of(&content(&judged(&a)));
        assert!(paper.info("Title").ends_with(shown), "{}", paper.info("Title"));
        let pages: usize = paper.info("Pages").parse().expect("a number");
        assert!(paper.text().matches(shown).count() > pages, "{}", paper.text());
    }
}

#[test]
fn plots_and_pictures_are_in_it_whole() {
    let a = assessed(&session("drops_right"));
    let mut figures = Figures::default();
    let plot = |words: &str| Plot {
        title: format!("title of {words}"),
        alternative: format!("a line that says {words}"),
        svg: format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 300 120\" \
             font-family=\"Source Sans 3\"><path d=\"M0 0L300 120\" stroke=\"#000\"/>\
             <text x=\"10\" y=\"60\">{words}</text></svg>"
        ),
    };
    figures.rep_plots =
        a.reps.iter().map(|r| vec![plot(&format!("course {}", r.number)); 3]).collect();
    let mut jpeg = Vec::new();
    image::RgbImage::from_pixel(60, 80, image::Rgb([90, 120, 150]))
        .write_to(&mut std::io::Cursor::new(&mut jpeg), image::ImageFormat::Jpeg)
        .expect("a picture");
    figures.pictures = vec![KeyPicture {
        rep: a.reps[0].number,
        moment: Moment::SeatContact,
        time_s: 4.5,
        width_px: 60,
        height_px: 80,
        jpeg,
    }];
    let paper = Paper::of(&Content { figures: &figures, ..content(&judged(&a)) });
    let text = paper.text();
    for rep in &a.reps {
        assert_eq!(text.matches(&format!("title of course {}", rep.number)).count(), 3);
    }
    // The words inside a plot are text too, not outlines.
    assert!(text.matches("course 1").count() >= 6);
    assert!(text.contains("4.50 s: reaching the seat"));
    let pictures = paper.ask("pdfimages", &["-list"]);
    assert_eq!(pictures.lines().skip(2).count(), 1, "plots are not rasterised: {pictures}");
    assert!(pictures.contains("jpeg"), "{pictures}");
}

/// The outline of elements that a reader aloud goes by (ISO 32000-1, 14.8), as poppler tells
/// it: what is a heading, a list, a table with its heads; the footer is none of it.
#[test]
fn what_is_read_aloud_has_its_structure() {
    let a = assessed(&session("drops_right"));
    let svg = "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 3 1\"/>".to_owned();
    let plot = Plot { title: "t".into(), alternative: "said".into(), svg };
    let rep_plots = vec![vec![plot.clone(), plot]; a.reps.len()];
    let figures = Figures { rep_plots, ..Figures::default() };
    let paper = Paper::of(&Content { figures: &figures, ..content(&judged(&a)) });
    let told = paper.ask("pdfinfo", &["-struct-text"]);
    let elements: Vec<&str> = told.lines().map(str::trim).collect();
    let count = |start: &str| elements.iter().filter(|line| line.starts_with(start)).count();
    assert_eq!(count("H1 "), 1);
    assert_eq!(count("H3 "), a.reps.len());
    assert_eq!(count("LI "), count("LBody"));
    assert!(count("L (") >= 2 && count("LI ") >= 4);
    // Reps, film and limits; the head has nine columns, and the first cell of a row is a
    // head too.
    assert_eq!((count("Table"), count("THead")), (3, 2));
    assert_eq!(count("/Scope /Column"), 9 + 3);
    assert_eq!(count("/Scope /Row"), a.reps.len() + a.film.len() + built_in().limits().len());
    assert_eq!(count("TD"), 8 * a.reps.len() + 2 * (a.film.len() + built_in().limits().len()));
    // And two of the whole set.
    assert_eq!(count("Figure"), 2 * a.reps.len() + 2);
    assert!(told.contains("Rising from a chair") && !told.contains("page 1 of"));
}

/// A hundred reps do not go on a page: the head of the table is seen on the second one too.
#[test]
fn the_head_of_a_long_table_is_repeated_for_the_eye() {
    let mut a = assessed(&session("drops_right"));
    let reps = a.reps.iter().cycle().take(100).cloned();
    a.reps = reps
        .zip(1..)
        .map(|(rep, number)| plumbrise::judgement::document::Rep { number, ..rep })
        .collect();
    let paper = Paper::of(&content(&judged(&a)));
    for page in ["1", "2"] {
        let text = paper.ask("pdftotext", &["-f", page, "-l", page]);
        assert!(text.contains("Verdict") && text.contains("cm in"), "page {page}: {text}");
    }
}

/// Where poppler finds the words: within the margins of 16 mm, even of a name without end,
/// and none over another.
#[test]
fn nothing_stands_beyond_the_margins_or_over_another() {
    let mut a = assessed(&session("side_view"));
    a.clip.file = format!("{}.mp4", "right_leg".repeat(28));
    a.notes.push(format!("A note with {}.", "a word that goes on ".repeat(60)));
    let paper = Paper::of(&content(&judged(&a)));
    let told = paper.ask("pdftotext", &["-bbox"]);
    let place = |line: &str| -> Option<[f64; 4]> {
        let value = |name: &str| {
            let from = line.find(&format!("{name}=\""))? + name.len() + 2;
            line[from..].split('"').next()?.parse::<f64>().ok()
        };
        Some([value("xMin")?, value("yMin")?, value("xMax")?, value("yMax")?])
    };
    let margin_pt = 16.0 / 25.4 * 72.0;
    for page in told.split("<page ").skip(1) {
        let words: Vec<[f64; 4]> =
            page.lines().filter(|l| l.contains("<word")).filter_map(place).collect();
        assert!(words.len() > 20);
        for (at, [left, top, right, bottom]) in words.iter().enumerate() {
            assert!(*left >= margin_pt - 0.5 && *right <= 595.28 - margin_pt + 0.5, "{page}");
            assert!(*top > 20.0 && *bottom < 841.89 - 15.0, "{page}");
            for [l, t, r, b] in &words[..at] {
                // Boxes reach from the highest to the lowest letter of the typeface, more
                // than a line takes: half of it is letters.
                let across = right.min(*r) - left.max(*l);
                let down = bottom.min(*b) - top.max(*t);
                let over = across > 1.0 && down > 0.55 * (bottom - top).min(b - t);
                assert!(!over, "{left} {top} over {l} {t} in {page}");
            }
        }
    }
}

/// No clock and no chance: what was set once is set again to the byte.
#[test]
fn the_same_content_makes_the_same_file() {
    let a = assessed(&session("drops_right"));
    let session = judged(&a);
    let content = content(&session);
    assert!(paper(&content).expect("a paper") == paper(&content).expect("a paper"));
}

#[test]
fn a_broken_plot_is_an_error_in_words() {
    let a = assessed(&session("drops_right"));
    let svg = "<svg".to_owned();
    let broken = Plot { title: "heights".into(), alternative: String::new(), svg };
    let figures = Figures { rep_plots: vec![vec![broken]], ..Figures::default() };
    let session = judged(&a);
    let content = Content { figures: &figures, ..content(&session) };
    let error = paper(&content).expect_err("no drawing");
    assert!(error.to_string().contains("cannot be made (the drawing «heights»: "), "{error}");
}

#[test]
fn no_paper_where_none_is_wanted() {
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("again");
    let kept = session("drops_right");
    let again = |more: &[&str]| {
        let mut command = plumbrise();
        command.args(["reassess", "--force", "--out"]).arg(&folder).args(more).arg(&kept);
        let output = command.output().expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
        folder.join("report.pdf").exists()
    };
    assert!(!again(&["--no-pdf"]));
    assert!(again(&[]));
}
