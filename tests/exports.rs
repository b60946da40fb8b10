//! What is exported, read by programs of others: `tests/readers/` (`scripts/prepare.sh
//! --tests` installs what they need).

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use common::{errors, json, plumbrise, project, reported, session};
use jiff::Timestamp;
use plumbrise::export::{Format, Item, write};
use plumbrise::files::{self, FolderWriter};
use plumbrise::judgement::document::{Reason, Verdict};
use plumbrise::session::person::Code;
use plumbrise::session::review::{Change, RepChange, Review};
use serde_json::Value;
use tempfile::TempDir;

const CLIP: &str = "drops_right";
const CODE: &str = "K7-M2";

/// Lets a reader look at exports; what it prints.
fn reader(script: &str, arguments: &[&Path]) -> Value {
    let python = project(".venv-readers/bin/python");
    assert!(python.exists(), "{} is missing: scripts/prepare.sh --tests", python.display());
    let script = project("tests/readers").join(script);
    let output = Command::new(python).arg(&script).args(arguments).output().expect("Python runs");
    assert!(output.status.success(), "{}: {}", script.display(), errors(&output));
    serde_json::from_slice(&output.stdout).expect("JSON")
}

fn item(folder: &Path, id: &str) -> Item<'static> {
    let (session, person) = (Box::new(folder.to_owned()), Some(Code::new(CODE).expect("a code")));
    let recorded_at = Some("2026-05-04T09:30:15Z".parse().expect("a time"));
    Item { session, person, id: id.into(), recorded_at }
}

fn export(format: Format, items: &[Item], place: &Path) -> PathBuf {
    let into = FolderWriter::new(place, false).expect("a new folder");
    write(format, items, &into).expect("exported");
    into.publish().expect("published");
    place.to_owned()
}

fn copy_of(folder: &Path, to: &Path) {
    fs::create_dir_all(to).expect("a folder");
    for entry in fs::read_dir(folder).expect("a folder").flatten() {
        fs::copy(entry.path(), to.join(entry.file_name())).expect("copied");
    }
}

/// A copy of a session in which a clinician has corrected rep 2 and signed off.
fn reviewed(folder: &Path, to: &Path) {
    copy_of(folder, to);
    let assessment = plumbrise::session::read_assessment(to).expect("an assessment");
    let mut review = Review::new(files::sha256(&to.join("assessment.json")).expect("a file"));
    let at: Timestamp = "2026-05-05T08:00:00Z".parse().expect("a time");
    let change = RepChange {
        rep: 2,
        judgement: Some(Verdict::Faulted),
        reasons: Some(vec![Reason::FreeFootDown]),
        note: Some("The foot touched <twice> & late".into()),
        ..RepChange::default()
    };
    review.add(&assessment, at, "M3", Change::Rep(change)).expect("it holds");
    review.add(&assessment, at, "M3", Change::SignOff).expect("it holds");
    let text = serde_json::to_string(&review).expect("JSON");
    fs::write(to.join("review.json"), text).expect("written");
}

#[test]
fn fhir_bundle() {
    let place = TempDir::new().expect("a folder");
    let (folder, pdf) = (reported(CLIP), place.path().join("paper.pdf"));
    let document = json(&folder.join("assessment.json"));
    let out = export(Format::Fhir, &[item(&folder, "s1")], &place.path().join("out"));
    let assessment = folder.join("assessment.json");
    let read = |out: &Path, status: &str| {
        let arguments = [&out.join("s1.fhir.json"), &assessment, Path::new(status), &pdf];
        reader("fhir_r4.py", &arguments)
    };
    let told = read(&out, "preliminary");
    assert!(told["compared"].as_u64() > Some(100), "{told}");
    assert_eq!(told["subject"], CODE);
    assert_eq!(told["effective"], "2026-05-04T09:30:15.000Z");
    let machine: Vec<&Value> =
        document["reps"].as_array().expect("reps").iter().map(|rep| &rep["judgement"]).collect();
    assert_eq!(told["verdicts"].as_array().expect("verdicts").iter().collect::<Vec<_>>(), machine);

    // Reviewed: final, both verdicts visible, the same identifiers.
    let copy = place.path().join("copy");
    reviewed(&folder, &copy);
    let out = export(Format::Fhir, &[item(&copy, "s1")], &place.path().join("reviewed"));
    let after = read(&out, "final");
    assert_eq!(after["urls"], told["urls"]);
    assert_eq!(after["verdicts"][1], "faulted");
    assert_eq!(after["reviewed"][0], Value::Null);
    assert_eq!(after["reviewed"][1], "faulted");
    assert_eq!(after["notes"][0], "The foot touched <twice> & late");
    assert_eq!(after["interpreter"], "M3");
}

#[test]
fn dicom_encapsulated_pdf() {
    let place = TempDir::new().expect("a folder");
    let (folder, pdf) = (reported(CLIP), place.path().join("paper.pdf"));
    let out = export(Format::Dicom, &[item(&folder, "s1")], &place.path().join("out"));
    let told = reader("dicom_pdf.py", &[&out.join("s1.dcm"), &pdf]);
    for (name, value) in [
        ("name", CODE),
        ("id", CODE),
        ("side", "R"),
        ("burned_in", "NO"),
        ("verified", "UNVERIFIED"),
        ("acquired", "20260504093015"),
    ] {
        assert_eq!(told[name], value, "{name}");
    }
    // The review is in the paper: another instance of the same study.
    let copy = place.path().join("copy");
    reviewed(&folder, &copy);
    let out = export(Format::Dicom, &[item(&copy, "s1")], &place.path().join("reviewed"));
    let after = reader("dicom_pdf.py", &[&out.join("s1.dcm"), &pdf]);
    assert_eq!(after["verified"], "VERIFIED");
    assert_eq!(after["study"], told["study"]);
    assert_ne!(after["instance"], told["instance"]);

    // Faces that were shown with consent at home do not leave.
    let shown = place.path().join("shown");
    copy_of(&folder, &shown);
    let figures = shown.join("figures.json");
    let text = fs::read_to_string(&figures).expect("figures");
    let changed = text.replace("\"faces\":\"hidden\"", "\"faces\":\"shown\"");
    assert_ne!(text, changed);
    fs::write(&figures, changed).expect("written");
    let out = export(Format::Dicom, &[item(&shown, "s1")], &place.path().join("faceless"));
    let told = reader("dicom_pdf.py", &[&out.join("s1.dcm"), &pdf]);
    assert_eq!(told["burned_in"], "NO");
    let pictures = Command::new("pdfimages").arg("-list").arg(&pdf).output().expect("poppler");
    assert_eq!(String::from_utf8_lossy(&pictures.stdout).lines().skip(2).count(), 0);

    // Without a paper there is nothing to encapsulate.
    let into = FolderWriter::new(&place.path().join("none"), false).expect("a new folder");
    let refused = write(Format::Dicom, &[item(&session(CLIP), "s1")], &into);
    assert!(refused.expect_err("refused").to_string().contains("no report.pdf"));
}

/// Three sessions of two people, one of them reviewed, read back as one table.
#[test]
fn tables_of_many_sessions() {
    let place = TempDir::new().expect("a folder");
    let copy = place.path().join("copy");
    reviewed(&session(CLIP), &copy);
    let mut items =
        [item(&session(CLIP), "s1"), item(&session("knee_in_left"), "s2"), item(&copy, "s3")];
    items[1].person = Some(Code::new("0142").expect("a code"));
    items[2].recorded_at = None;
    let csv = export(Format::Csv, &items, &place.path().join("csv"));
    let parquet = export(Format::Parquet, &items, &place.path().join("parquet"));
    let mut arguments = vec![csv, parquet];
    for item in &items {
        arguments.push(item.person.as_ref().expect("a code").as_str().into());
        arguments.push(item.id.clone().into());
        arguments.push(item.session.shown().join("assessment.json"));
    }
    let arguments: Vec<&Path> = arguments.iter().map(PathBuf::as_path).collect();
    let told = reader("tables.py", &arguments);
    assert!(told["compared"].as_u64() > Some(1000), "{told}");
    assert_eq!(told["people"], serde_json::json!(["0142", CODE]));
    assert_eq!(told["states"], serde_json::json!(["not_reviewed", "signed_off"]));
    assert_eq!(told["recorded"][0], "2026-05-04 09:30:15+00:00");
    assert_eq!(told["undefined"], serde_json::json!([]), "columns without a meaning");
}

#[test]
fn points_for_a_laboratory() {
    let place = TempDir::new().expect("a folder");
    let folder = session(CLIP);
    let items = [item(&folder, "s1")];
    let trc = export(Format::Trc, &items, &place.path().join("trc")).join("s1.trc");
    assert_eq!(fs::read(&trc).unwrap(), fs::read(folder.join("motion.trc")).unwrap());
    let c3d = export(Format::C3d, &items, &place.path().join("c3d")).join("s1.c3d");
    let assessment = folder.join("assessment.json");
    let told = reader("c3d.py", &[&c3d, &trc, &assessment]);
    let reps = json(&assessment)["reps"].as_array().expect("reps").len();
    assert_eq!(told["events"], 4 * reps);
    let bids = export(Format::Bids, &items, &place.path().join("bids"));
    let told = reader("bids.py", &[&bids, &trc, &assessment]);
    assert_eq!(told["subjects"], serde_json::json!(["K7M2"]));
}

/// More points than a parameter can name, more frames than a word can count, and gaps.
#[test]
fn large_c3d_files() {
    for (points, frames) in [(300, 40), (2, 66_000)] {
        let place = TempDir::new().expect("a folder");
        let copy = place.path().join("copy");
        copy_of(&session(CLIP), &copy);
        fs::write(copy.join("motion.trc"), marker_file(points, frames)).expect("written");
        let c3d = export(Format::C3d, &[item(&copy, "s1")], &place.path().join("out"));
        let files = [&c3d.join("s1.c3d"), &copy.join("motion.trc"), &copy.join("assessment.json")];
        let told = reader("c3d.py", &files.map(PathBuf::as_path));
        assert_eq!(
            (told["points"].as_u64(), told["frames"].as_u64()),
            (Some(points), Some(frames))
        );
        assert!(told["hidden"].as_u64() > Some(0), "{told}");
    }
}

/// Invented places, every seventh hidden.
fn marker_file(points: u64, frames: u64) -> String {
    let names: Vec<String> = (1..=points).map(|i| format!("P{i}\t\t")).collect();
    let axes: Vec<String> = (1..=points).map(|i| format!("X{i}\tY{i}\tZ{i}")).collect();
    let mut text = format!(
        "PathFileType\t4\t(X/Y/Z)\tmotion.trc\nDataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\t\
         OrigDataRate\tOrigDataStartFrame\tOrigNumFrames\n100\t100\t{frames}\t{points}\tm\t100\t1\t\
         {frames}\nFrame#\tTime\t{}\n\t\t{}\n\n",
        names.join("\t"),
        axes.join("\t")
    );
    for frame in 0..frames {
        text += &format!("{}\t{:.6}", frame + 1, frame as f64 / 100.0);
        for point in 0..points {
            let at = (frame * 31 + point * 17) % 1000;
            match at % 7 {
                0 => text += "\t\t\t",
                _ => text += &format!("\t0.{at:03}\t-0.{at:03}\t1.{at:03}"),
            }
        }
        text.push('\n');
    }
    text
}

/// Neither the person's name, which stands in names of files and folders, nor the user's is
/// in anything that is exported.
#[test]
fn no_name_leaves() {
    const MARKS: [&str; 3] = ["annabel", "bartholomew", "/home/"];
    let place = TempDir::new().expect("a folder");
    let folder = place.path().join("Annabel-Sample.plumbrise");
    let data = place.path().join("data");
    copy_of(&session(CLIP), &data);
    let path = data.join("assessment.json");
    let mut document = json(&path);
    document["clip"]["file"] = "Annabel Sample, Monday.mp4".into();
    fs::write(&path, document.to_string()).expect("written");
    let as_user = |arguments: &[&str], paths: &[&Path]| {
        let output = plumbrise()
            .args(arguments)
            .args(paths)
            .env("USER", "bartholomew")
            .env("LOGNAME", "bartholomew")
            .env("HOME", "/home/bartholomew")
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
    };
    as_user(&["reassess", "--no-video", "--out"], &[&folder, &data]);
    let found = |text: &[u8]| {
        let text = String::from_utf8_lossy(text).to_lowercase();
        MARKS.iter().any(|mark| text.contains(mark))
    };
    // The name is where it may be: in the session itself, its paper included.
    assert!(found(&text_of(&folder.join("report.pdf"))));

    let paper = place.path().join("paper.pdf");
    for form in ["fhir", "dicom", "csv", "parquet", "trc", "c3d", "bids"] {
        let out = place.path().join(form);
        as_user(&["export", "--as", form, "--person", CODE, "--out"], &[&out, &folder]);
        let mut files = Vec::new();
        collect(&out, &mut files);
        assert!(!files.is_empty(), "{form}");
        for file in files {
            let inside = file.strip_prefix(&out).expect("inside").to_string_lossy().into_owned();
            let bytes = fs::read(&file).expect("readable");
            // Also where each letter takes two bytes.
            let narrow: Vec<u8> = bytes.iter().copied().filter(|b| *b != 0).collect();
            assert!(!found(inside.as_bytes()) && !found(&bytes) && !found(&narrow), "{inside}");
            match form {
                "fhir" => {
                    let assessment = folder.join("assessment.json");
                    let arguments = [&file, &assessment, Path::new("preliminary"), &paper];
                    reader("fhir_r4.py", &arguments);
                }
                "dicom" => drop(reader("dicom_pdf.py", &[&file, &paper])),
                _ => continue,
            }
            assert!(!found(&text_of(&paper)), "{form}: the paper");
        }
    }
}

/// Text and facts of a PDF file, as poppler reads them.
fn text_of(pdf: &Path) -> Vec<u8> {
    let run = |program: &str, arguments: &[&str]| {
        let output = Command::new(program).arg(pdf).args(arguments).output().expect("poppler");
        assert!(output.status.success(), "{}", errors(&output));
        output.stdout
    };
    let mut all = run("pdftotext", &["-"]);
    all.extend(run("pdfinfo", &[]));
    all.extend(run("pdfinfo", &["-meta"]));
    all
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder").flatten() {
        match entry.path().is_dir() {
            true => collect(&entry.path(), files),
            false => files.push(entry.path()),
        }
    }
}

/// What cannot be exported is refused in words, and leaves nothing.
#[test]
fn refusals() {
    let place = TempDir::new().expect("a folder");
    let out = place.path().join("out");
    let folder = session(CLIP);
    let run = |form: &str, person: Option<&str>, sessions: &[&Path]| {
        let mut command = plumbrise();
        command.args(["export", "--as", form, "--out"]).arg(&out).args(sessions);
        command.args(person.map(|code| ["--person", code]).into_iter().flatten());
        let output = command.output().expect("it runs");
        assert!(!out.exists());
        (output.status.code(), errors(&output))
    };
    let (status, text) = run("csv", Some("Anna"), &[&folder]);
    assert!(status == Some(2) && text.contains("'Anna' is not a code"), "{text}");
    let (status, text) = run("bids", None, &[&folder]);
    assert!(status == Some(1) && text.contains("--person"), "{text}");
    let (status, text) = run("csv", None, &[&folder, &folder]);
    assert!(status == Some(1) && text.contains("twice"), "{text}");
    let (status, text) = run("csv", None, &[&place.path().join("nowhere")]);
    assert!(status == Some(1) && text.contains("does not exist"), "{text}");
    let left: Vec<_> = fs::read_dir(place.path()).expect("a folder").flatten().collect();
    assert!(left.is_empty(), "{left:?}");
}
