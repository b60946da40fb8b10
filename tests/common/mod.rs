//! What several test files need.
#![allow(dead_code)]

pub mod markers;

use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::OnceLock;

use assert_cmd::Command;
use serde_json::Value;

/// A path inside the project.
pub fn project(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// The program, ready for arguments.
pub fn plumbrise() -> Command {
    let mut command = Command::cargo_bin("plumbrise").expect("the program is built");
    command.env("PLUMBRISE_MODELS", project("models"));
    command.env("PLUMBRISE_ONNXRUNTIME", project("runtime/libonnxruntime.so"));
    command
}

/// Standard error as text.
pub fn errors(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Parses a JSON file.
pub fn json(path: &Path) -> Value {
    serde_json::from_str(&std::fs::read_to_string(path).expect("readable")).expect("JSON")
}

/// Session folder of a sample clip, its stature told, without reports. Assessed once for
/// all tests and runs of the same program; not to be changed.
pub fn session(clip: &str) -> PathBuf {
    kept("data", clip, |place| {
        let truth = json(&project(&format!("sample-clips/{clip}.truth.json")));
        let stature_cm = 100.0 * truth["stature_m"].as_f64().expect("a stature");
        let output = plumbrise()
            .args(["assess", "--json", "--no-video", "--no-html", "--no-pdf", "--stature"])
            .arg(stature_cm.to_string())
            .arg("--out")
            .arg(place)
            .arg(project(&format!("sample-clips/{clip}.mp4")))
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
        let printed: Value = serde_json::from_slice(&output.stdout).expect("only JSON on stdout");
        assert_eq!(printed, json(&place.join("assessment.json")));
    })
}

/// The same with all reports.
pub fn reported(clip: &str) -> PathBuf {
    let data = session(clip);
    kept("reported", clip, |place| {
        let output = plumbrise()
            .args(["reassess", "--out"])
            .arg(place)
            .arg("--clip")
            .arg(project(&format!("sample-clips/{clip}.mp4")))
            .arg(&data)
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
    })
}

/// A folder that `make` has made with this very program, now or before.
fn kept(kind: &str, clip: &str, make: impl FnOnce(&Path)) -> PathBuf {
    static LOCK: std::sync::Mutex<()> = std::sync::Mutex::new(());
    static PROGRAM: OnceLock<String> = OnceLock::new();
    let _one_at_a_time = LOCK.lock();
    let program = PROGRAM.get_or_init(|| {
        let program = assert_cmd::cargo::cargo_bin("plumbrise");
        plumbrise::files::sha256(&program).expect("the program is readable")
    });
    let all = Path::new(env!("CARGO_TARGET_TMPDIR")).join("sessions");
    let own = all.join(&program[..16]);
    if !own.exists() {
        // What other programs made is of no use any more.
        let _ = std::fs::remove_dir_all(&all);
    }
    let folder = own.join(kind);
    std::fs::create_dir_all(&folder).expect("a folder");
    let place = folder.join(clip);
    if !place.exists() {
        make(&place);
    }
    place
}
