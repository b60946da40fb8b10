//! Every way in which a clip or a command can be wrong: one clear line, a hint,
//! the right exit status, and nothing left behind.

mod common;

use std::fs;
use std::io::Write;
use std::path::Path;
use std::process::Output;

use common::{errors, plumbrise, project};

/// Asserts status, that the message says `says`, that there is a hint and
/// neither panic nor backtrace, and that nothing was written beside `inputs`.
fn refused(output: &Output, status: i32, says: &str) {
    let text = errors(output);
    assert_eq!(output.status.code(), Some(status), "{text}");
    assert!(text.contains(says), "«{says}» is not in: {text}");
    assert!(text.contains("hint: "), "no hint: {text}");
    assert!(
        !text.contains("panicked")
            && !text.contains("fault at")
            && !text.contains("RUST_BACKTRACE"),
        "{text}"
    );
    assert!(text.trim_end().lines().count() <= 2, "more than one line and a hint: {text}");
    assert!(output.stdout.is_empty());
}

fn assess(clip: &Path) -> Output {
    plumbrise().arg("assess").arg("--").arg(clip).output().expect("it runs")
}

/// A folder and the names in it, to see that a run leaves nothing.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    fn file(&self, name: &str, content: &[u8]) -> std::path::PathBuf {
        let path = self.0.path().join(name);
        fs::write(&path, content).expect("written");
        path
    }

    fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = fs::read_dir(self.0.path())
            .expect("a folder")
            .map(|e| e.expect("an entry").file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

/// An uncompressed clip (YUV4MPEG2) of `frames` times the same picture.
fn still_clip(
    place: &Place,
    name: &str,
    picture: &image::RgbImage,
    frames: usize,
) -> std::path::PathBuf {
    let (w, h) = (picture.width() & !1, picture.height() & !1);
    let yuv = |x: u32, y: u32| {
        let [r, g, b] = picture.get_pixel(x, y).0.map(f64::from);
        // ITU-R BT.601, full range.
        let luma = 0.299 * r + 0.587 * g + 0.114 * b;
        [luma, 128.0 + 0.564 * (b - luma), 128.0 + 0.713 * (r - luma)].map(|v| v as u8)
    };
    let mut frame = b"FRAME\n".to_vec();
    frame.extend((0..h).flat_map(|y| (0..w).map(move |x| (x, y))).map(|(x, y)| yuv(x, y)[0]));
    for plane in [1, 2] {
        let half = (0..h / 2).flat_map(|y| (0..w / 2).map(move |x| (2 * x, 2 * y)));
        frame.extend(half.map(|(x, y)| yuv(x, y)[plane]));
    }
    let path = place.0.path().join(name);
    let mut file = fs::File::create(&path).expect("created");
    writeln!(file, "YUV4MPEG2 W{w} H{h} F30:1 Ip A1:1 C420jpeg").expect("written");
    for _ in 0..frames {
        file.write_all(&frame).expect("written");
    }
    path
}

fn seated() -> image::RgbImage {
    image::open(project("tests/golden/pose/seated.png")).expect("a picture").to_rgb8()
}

#[test]
fn missing_file() {
    refused(&assess(Path::new("no-such-clip.mp4")), 3, "there is no file 'no-such-clip.mp4'");
}

/// One bad clip among several: its error with its hint, and the worst status.
#[test]
fn several_missing_files() {
    let output = plumbrise().args(["assess", "no-1.mp4", "no-2.mp4"]).output().expect("it runs");
    assert_eq!(output.status.code(), Some(3));
    let text = errors(&output);
    assert_eq!(text.matches("there is no file").count(), 2, "{text}");
    assert_eq!(text.matches("hint: ").count(), 2, "{text}");
}

#[test]
fn folder() {
    let place = Place::new();
    refused(&assess(place.0.path()), 3, "there is no clip in the folder");
    let check = plumbrise().arg("check").arg(place.0.path()).output().expect("it runs");
    refused(&check, 3, "is a folder");
}

#[test]
fn empty_text_picture_and_sound() {
    let place = Place::new();
    let png = fs::read(project("tests/golden/pose/seated.png")).expect("a picture");
    let mut wav = b"RIFF\x24\x10\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00".to_vec();
    wav.extend(b"\x40\x1f\x00\x00\x80\x3e\x00\x00\x02\x00\x10\x00data\x00\x10\x00\x00");
    wav.extend([0u8; 4096]);
    for (name, content, says) in [
        ("empty.mp4", &b""[..], "is empty"),
        ("text.mp4", &b"Knees over toes, twice a day.\n".repeat(40)[..], "cannot be read as video"),
        ("picture.png", &png[..], "is a still picture"),
        ("picture.mp4", &png[..], "is a still picture"),
        ("sound.wav", &wav[..], "holds sound only"),
    ] {
        let before = place.names().len();
        let clip = place.file(name, content);
        refused(&assess(&clip), 3, says);
        assert_eq!(place.names().len(), before + 1, "{name}: only the clip itself is there");
    }
}

#[cfg(unix)]
#[test]
fn no_permission() {
    use std::os::unix::fs::PermissionsExt;
    let place = Place::new();
    let clip = place.file("closed.mp4", b"something");
    let mode = |mode| {
        fs::set_permissions(&clip, fs::Permissions::from_mode(mode)).expect("its mode is set");
    };
    let assess = || {
        let mut command = common::held_back(place.0.path());
        command.arg("assess").arg(&clip).output().expect("it runs")
    };
    mode(0o000);
    refused(&assess(), 3, "not allowed to read");
    // Else it would prove nothing: the same file is read where that is allowed.
    mode(0o444);
    let words = errors(&assess());
    assert!(!words.is_empty() && !words.contains("not allowed to read"), "{words}");
}

/// Borders of the boxes of an MP4 film (ISO/IEC 14496-12, 4.2: four bytes of size and four
/// of name, then boxes again in some), from `from` to `to`.
fn box_borders(film: &[u8], from: usize, to: usize) -> Vec<usize> {
    const OF_BOXES: [&[u8]; 7] = [b"moov", b"trak", b"mdia", b"minf", b"dinf", b"stbl", b"edts"];
    let (mut at, mut borders) = (from, Vec::new());
    while at + 8 <= to {
        let size = u32::from_be_bytes(film[at..at + 4].try_into().expect("four")) as usize;
        assert!(size >= 8 && at + size <= to, "a plain box at {at}");
        borders.push(at);
        if OF_BOXES.contains(&&film[at + 4..at + 8]) {
            borders.extend(box_borders(film, at + 8, at + size));
        }
        at += size;
    }
    borders
}

/// Cut anywhere, a clip is refused as unreadable, refused as holding nothing to
/// assess, or looked at as far as it goes; it never panics.
#[test]
fn truncated_at_many_places() {
    let whole = fs::read(project("sample-clips/clean_right.mp4")).expect("a clip");
    let last = whole.len() - 1;
    let borders = box_borders(&whole, 0, whole.len());
    assert!(borders.len() > 15, "{borders:?}");
    // The first bytes, borders of boxes and beside them, evenly spread, the last bytes.
    let mut cuts: Vec<usize> = (0..10).chain([last / 1000, last / 100, last / 50]).collect();
    cuts.extend(borders.iter().flat_map(|at| [at.saturating_sub(1), *at, at + 4, at + 8]));
    cuts.extend((1..6).map(|sixth| last * sixth / 6));
    cuts.extend([last - 1000, last]);
    cuts.sort_unstable();
    cuts.dedup();
    let place = Place::new();
    for cut in cuts {
        let clip = place.file("cut.mp4", &whole[..cut]);
        // Where there is much to look at, the quick look, which opens and decodes alike.
        let command = if cut > whole.len() / 50 { "check" } else { "assess" };
        let output = plumbrise().arg(command).arg(&clip).output().expect("it runs");
        let words = errors(&output);
        let status = output.status.code().unwrap_or_else(|| panic!("{cut}: {words}"));
        let assessed = command == "check" && status == 0;
        assert!(assessed || [3, 4].contains(&status), "{cut}: {status}, {words}");
        assert!(!words.contains("panicked") && !words.contains("fault at"), "{cut}: {words}");
        assert_eq!(place.names(), ["cut.mp4"], "{cut}");
        // Without its table of samples (all before the film's data) it cannot be read at all.
        assert!(status == 3 || cut > borders[borders.len() - 1], "{cut}: {status}");
    }
}

/// A clip cut in its first third holds one whole rep: assessed, with a warning.
#[test]
fn truncated_after_a_rep() {
    let whole = fs::read(project("sample-clips/drops_right.mp4")).expect("a clip");
    let place = Place::new();
    let clip = place.file("cut.mp4", &whole[..whole.len() * 35 / 100]);
    let output = assess(&clip);
    assert!(output.status.success(), "{}", errors(&output));
    let text = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(text.contains("The file ends before it should"), "{text}");
}

#[test]
fn one_frame_nobody_and_somebody_who_only_sits() {
    let place = Place::new();
    let room =
        image::RgbImage::from_fn(320, 480, |x, y| image::Rgb([90, (x / 4) as u8, (y / 4) as u8]));
    let one = still_clip(&place, "one.y4m", &seated(), 1);
    refused(&assess(&one), 4, "1 frame");
    let empty = still_clip(&place, "room.y4m", &room, 20);
    refused(&assess(&empty), 4, "nobody was found");
    let sits = still_clip(&place, "sits.y4m", &seated(), 45);
    refused(&assess(&sits), 4, "no rise from a chair");
    assert_eq!(place.names(), ["one.y4m", "room.y4m", "sits.y4m"]);
}

#[test]
fn odd_names_reach_the_clip() {
    let place = Place::new();
    for name in
        ["with space.y4m", "quote'\"s.y4m", "Übung.y4m", "knie🦵.y4m", "-dash.y4m", "a:b.y4m"]
    {
        let clip = still_clip(&place, name, &seated(), 2);
        let output = plumbrise()
            .current_dir(place.0.path())
            .args(["assess", "--", name])
            .output()
            .expect("it runs");
        assert_eq!(output.status.code(), Some(4), "{name}: {}", errors(&output));
        fs::remove_file(clip).expect("removed");
    }
}

#[test]
fn a_results_folder_that_exists_is_kept() {
    let place = Place::new();
    let clip = still_clip(&place, "clip.y4m", &seated(), 2);
    let results = place.0.path().join("clip.plumbrise");
    fs::create_dir(&results).expect("a folder");
    fs::write(results.join("note.txt"), "mine").expect("written");
    refused(&assess(&clip), 1, "exists already");
    assert!(results.join("note.txt").exists());
}

#[cfg(unix)]
#[test]
fn a_place_that_cannot_be_written() {
    let place = Place::new();
    let clip = still_clip(&place, "clip.y4m", &seated(), 2);
    for out in ["/proc/results", "/no/such/place/results"] {
        let output =
            plumbrise().args(["assess", "--out", out]).arg(&clip).output().expect("it runs");
        refused(&output, 1, "cannot write");
    }
}

/// A full disk: the largest file allowed is smaller than what must be written.
#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_leaves_nothing() {
    let session = common::session("drops_right");
    let place = Place::new();
    let out = place.0.path().join("results");
    let program = assert_cmd::cargo::cargo_bin("plumbrise");
    let output = std::process::Command::new("bash")
        .args(["-c", "trap '' XFSZ; ulimit -f 64; exec \"$0\" \"$@\""])
        .arg(program)
        .args(["reassess", "--out"])
        .args([&out, &session])
        .output()
        .expect("it runs");
    refused(&output, 1, "cannot write");
    assert!(place.names().is_empty());
}

#[test]
fn missing_library_and_models() {
    let place = Place::new();
    let clip = still_clip(&place, "clip.y4m", &seated(), 2);
    let with = |option: &str, value: &Path| {
        plumbrise().arg("assess").arg(option).arg(value).arg(&clip).output().expect("it runs")
    };
    let nowhere = place.0.path().join("nowhere");
    refused(&with("--onnxruntime", &nowhere), 1, "ONNX Runtime library was not found");
    refused(&with("--models", &nowhere), 1, "pose network");
    let text = place.file("library.so", b"not a library");
    refused(&with("--onnxruntime", &text), 1, "cannot be used");

    let models = place.0.path().join("models");
    fs::create_dir(&models).expect("a folder");
    fs::copy(project("models/manifest.toml"), models.join("manifest.toml")).expect("copied");
    refused(&with("--models", &models), 1, "not the expected one");
    fs::write(models.join("pose_detector.onnx"), "changed").expect("written");
    refused(&with("--models", &models), 1, "its SHA-256 is");
}

#[test]
fn wrong_words() {
    for arguments in [
        &["asess", "clip.mp4"][..],
        &["assess"],
        &["assess", "--leg", "middle", "clip.mp4"],
        &["assess", "--stature", "17.2", "clip.mp4"],
        &["assess", "--recorded-fps", "0", "clip.mp4"],
        &["assess", "--jobs", "0", "clip.mp4"],
        &["watch", "--every", "0", "."],
        &["explain", "happiness"],
    ] {
        let output = plumbrise().args(arguments).output().expect("it runs");
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", errors(&output));
        assert!(!errors(&output).is_empty() && output.stdout.is_empty());
    }
    let typo = plumbrise().args(["asess", "clip.mp4"]).output().expect("it runs");
    assert!(errors(&typo).contains("'assess'"), "it suggests the right word");
}

#[test]
fn wrong_criteria_and_sessions() {
    let place = Place::new();
    let criteria = place.file("limits.toml", b"[fppa_maximum]\nvalue = 3.0\n");
    let output =
        plumbrise().args(["criteria", "--criteria"]).arg(&criteria).output().expect("it runs");
    refused(&output, 2, "line 1, column 2");
    let output = plumbrise().arg("reassess").arg(place.0.path()).output().expect("it runs");
    refused(&output, 1, "there is no assessment.json");
    place.file("assessment.json", b"{}");
    let output = plumbrise().arg("reassess").arg(place.0.path()).output().expect("it runs");
    refused(&output, 1, "not a session folder");
}

/// What an option names is wrong usage, however it is wrong; the hint is a command that
/// helps.
#[test]
fn files_of_options_that_cannot_be_used() {
    let place = Place::new();
    let clip = still_clip(&place, "clip.y4m", &seated(), 2);
    let nowhere = place.0.path().join("nowhere.toml");
    let folder = place.0.path().to_path_buf();
    let empty = place.file("empty.toml", b" \n");
    let bytes = place.file("bytes.toml", b"\xff\xfe\x00");
    let wrong = place.file("wrong.toml", b"[knee]\n");
    for (file, says) in [
        (&nowhere, "there is no such file"),
        (&folder, "it is a folder"),
        (&empty, "it is empty"),
        (&bytes, "it is not UTF-8 text"),
        (&wrong, "line 1, column 2: unknown field"),
    ] {
        for (option, helps) in
            [("--criteria", "'plumbrise criteria'"), ("--markers", "'plumbrise markers'")]
        {
            for command in ["assess", "watch"] {
                let named = if command == "watch" { place.0.path() } else { &clip };
                let output = plumbrise().arg(command).arg(named).arg(option).arg(file).output();
                let output = output.expect("it runs");
                refused(&output, 2, says);
                assert!(errors(&output).contains(helps), "{}", errors(&output));
            }
        }
        let output = plumbrise().args(["criteria", "--criteria"]).arg(file).output();
        refused(&output.expect("it runs"), 2, says);
    }
}

/// What these two print is what the options take.
#[test]
fn criteria_and_markers_are_printed_and_taken() {
    let place = Place::new();
    let motion = project("tests/golden/motion/drops_right_two_reps.trc");
    for (command, option) in [("criteria", "--criteria"), ("markers", "--markers")] {
        let printed = plumbrise().arg(command).output().expect("it runs");
        assert!(printed.status.success(), "{}", errors(&printed));
        let file = place.file(command, &printed.stdout);
        let output = plumbrise()
            .args(["assess", "--json", "--no-pdf", "--no-html", "--out"])
            .arg(place.0.path().join(format!("{command}.plumbrise")))
            .arg(option)
            .arg(file)
            .arg(&motion)
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
    }
}

#[cfg(unix)]
mod where_nobody_reads {
    //! Standard output and error that are closed, full, or left by their reader change no
    //! outcome.

    use super::*;

    /// Runs a line of bash in a folder; `$plumbrise` is the program.
    fn bash(place: &Place, line: &str) -> Output {
        std::process::Command::new("bash")
            .args(["-c", line])
            .current_dir(place.0.path())
            .env("plumbrise", assert_cmd::cargo::cargo_bin("plumbrise"))
            .env("PLUMBRISE_MODELS", project("models"))
            .env("PLUMBRISE_ONNXRUNTIME", project("runtime/libonnxruntime.so"))
            .output()
            .expect("bash")
    }

    /// What a program's output may be, and whether that is to be complained of.
    const OUTPUTS: [(&str, bool); 3] = [
        (">/dev/full", true),
        (">&-", false),
        // The reader is gone before anything is written.
        ("> >(exec >&- <&-; :)", false),
    ];

    fn motion(place: &Place, name: &str) {
        let kept = project("tests/golden/motion/drops_right_two_reps.trc");
        fs::copy(kept, place.0.path().join(name)).expect("copied");
    }

    #[track_caller]
    fn ends(output: &Output, status: i32, line: &str) {
        let text = errors(output);
        assert_eq!(output.status.code(), Some(status), "{line}: {text}");
        assert!(!text.contains("panicked"), "{line}: {text}");
    }

    #[test]
    fn what_only_prints() {
        let place = Place::new();
        for command in [
            "explain",
            "explain rise_s",
            "criteria",
            "markers",
            "guide",
            "completions bash",
            "--help",
            "--version",
        ] {
            for (to, full) in OUTPUTS {
                let line = format!("\"$plumbrise\" {command} {to}");
                let output = bash(&place, &line);
                ends(&output, i32::from(full), &line);
                assert_eq!(
                    errors(&output).contains("cannot write 'standard output'"),
                    full,
                    "{line}"
                );
            }
            for to in ["2>/dev/full", "2>&-"] {
                let line = format!("\"$plumbrise\" {command} {to}");
                let output = bash(&place, &line);
                ends(&output, 0, &line);
                assert!(!output.stdout.is_empty());
            }
        }
        for to in ["2>/dev/full", "2>&-", "2> >(exec >&- <&-; :)"] {
            for (command, status) in [
                ("assess nowhere.mp4", 3),
                ("assess a.mp4 b.mp4", 3),
                ("explain luck", 2),
                ("asess", 2),
            ] {
                let line = format!("\"$plumbrise\" {command} {to}");
                ends(&bash(&place, &line), status, &line);
            }
        }
    }

    #[test]
    fn a_session_is_kept_all_the_same() {
        for (to, full) in OUTPUTS {
            for json in ["", "--json"] {
                let place = Place::new();
                motion(&place, "one.trc");
                let line = format!(
                    "\"$plumbrise\" assess one.trc --no-pdf {json} --person K7-M2 --archive kept {to}"
                );
                let output = bash(&place, &line);
                ends(&output, i32::from(full), &line);
                assert_eq!(
                    errors(&output).matches("cannot write 'standard output'").count(),
                    usize::from(full),
                    "{line}"
                );
                assert!(place.0.path().join("one.plumbrise/report.html").exists(), "{line}");
                let list = bash(&place, "\"$plumbrise\" archive list --archive kept");
                assert!(String::from_utf8_lossy(&list.stdout).contains("1 session"), "{line}");
                let line = format!("\"$plumbrise\" reassess one.plumbrise --no-pdf {json} {to}");
                ends(&bash(&place, &line), i32::from(full), &line);
            }
        }
    }

    #[test]
    fn all_clips_are_done_all_the_same() {
        for (to, full) in OUTPUTS.into_iter().chain([("2>/dev/full", false), ("2>&-", false)]) {
            for command in [
                "assess --no-pdf .",
                "assess --no-pdf --json .",
                "watch --no-pdf --once --settle 0 --every 0.1 .",
            ] {
                let place = Place::new();
                motion(&place, "one.trc");
                place.file("bad.trc", b"no markers");
                motion(&place, "two.trc");
                let line = format!("\"$plumbrise\" {command} {to}");
                let output = bash(&place, &line);
                // The worst of all: that of the file which cannot be read.
                ends(&output, 3, &line);
                for done in ["one.plumbrise", "two.plumbrise"] {
                    assert!(place.names().contains(&done.to_owned()), "{line}: {done}");
                }
                let complaints = errors(&output).matches("cannot write 'standard output'").count();
                assert_eq!(complaints, usize::from(full), "{line}: {}", errors(&output));
            }
        }
    }

    /// Without a bad one among them, the exit status tells of the lost lines.
    #[test]
    fn a_watcher_tells_of_lines_that_were_lost() {
        for (to, full) in OUTPUTS {
            let place = Place::new();
            motion(&place, "one.trc");
            let line =
                format!("\"$plumbrise\" watch --no-pdf --once --settle 0 --every 0.1 . {to}");
            ends(&bash(&place, &line), i32::from(full), &line);
            assert!(place.names().contains(&"one.plumbrise".to_owned()), "{line}");
        }
    }

    /// The verdict on a film is the exit status, whether it is read or not.
    #[test]
    fn a_film_to_be_filmed_again() {
        let place = Place::new();
        still_clip(&place, "sits.y4m", &seated(), 45);
        for to in ["", ">/dev/full", ">&-", "> >(exec >&- <&-; :)"] {
            let line = format!("\"$plumbrise\" check sits.y4m {to}");
            ends(&bash(&place, &line), 4, &line);
        }
    }
}

#[test]
fn criteria_and_explanations_print() {
    let run = |arguments: &[&str]| {
        let output = plumbrise().args(arguments).output().expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
        String::from_utf8(output.stdout).expect("text")
    };
    let criteria = run(&["criteria"]);
    assert!(criteria.contains("[knee_offset_max]") && criteria.contains("[Piva2006]"));
    let list = run(&["explain"]);
    let words = run(&["explain", "knee_offset_peak_cm"]);
    for part in ["Formula", "Unit", "Validity", "Source", "[Ressman2021]"] {
        assert!(words.contains(part), "{words}");
    }
    assert!(list.lines().count() >= 20);
    assert!(run(&["completions", "bash"]).contains("plumbrise"));
    assert!(run(&["assess", "--help"]).contains("--recorded-fps"));
}

/// Ctrl-C in the middle: status 130, nothing left.
#[cfg(unix)]
#[test]
fn ctrl_c_leaves_nothing() {
    let place = Place::new();
    let clip = place.0.path().join("clip.mp4");
    fs::copy(project("sample-clips/drops_right.mp4"), &clip).expect("copied");
    let child = std::process::Command::new(assert_cmd::cargo::cargo_bin("plumbrise"))
        .env("PLUMBRISE_MODELS", project("models"))
        .env("PLUMBRISE_ONNXRUNTIME", project("runtime/libonnxruntime.so"))
        .arg("assess")
        .arg(&clip)
        .stderr(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .expect("it starts");
    std::thread::sleep(std::time::Duration::from_secs(2));
    let kill = format!("kill -INT {}", child.id());
    std::process::Command::new("sh").args(["-c", &kill]).status().expect("sent");
    let output = child.wait_with_output().expect("it ends");
    assert_eq!(output.status.code(), Some(130), "{}", errors(&output));
    assert!(errors(&output).contains("interrupted"));
    assert_eq!(place.names(), ["clip.mp4"]);
}

/// The words of both forms are compared in `report/guide`.
#[test]
fn the_guide_is_text_or_a_page() {
    let print = |arguments: &[&str]| {
        let output = plumbrise().args(arguments).output().expect("it runs");
        assert!(output.status.success() && output.stderr.is_empty(), "{}", errors(&output));
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    let text = print(&["guide"]);
    assert!(text.contains("knee height") && !text.contains('\x1b') && !text.contains("<p>"));
    let page = print(&["guide", "--html"]);
    assert!(page.starts_with("<!doctype html>") && page.trim_end().ends_with("</html>"));
}
