//! What several test files need.
#![allow(dead_code)]

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

/// Session folder of a sample clip, assessed once per test binary.
pub fn session(clip: &str, stature_cm: &str) -> PathBuf {
    static DONE: OnceLock<tempfile::TempDir> = OnceLock::new();
    static LOCK: std::sync::Mutex<()> = std::sync::Mutex::new(());
    let _one_at_a_time = LOCK.lock();
    let folder = DONE.get_or_init(|| tempfile::tempdir().expect("a temporary folder"));
    let place = folder.path().join(clip);
    if !place.exists() {
        let output = plumbrise()
            .args(["assess", "--json", "--stature", stature_cm, "--out"])
            .arg(&place)
            .arg(project(&format!("sample-clips/{clip}.mp4")))
            .output()
            .expect("it runs");
        assert!(output.status.success(), "{}", errors(&output));
        let printed: Value = serde_json::from_slice(&output.stdout).expect("only JSON on stdout");
        assert_eq!(printed, json(&place.join("assessment.json")));
    }
    place
}
