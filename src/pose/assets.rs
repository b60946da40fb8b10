//! Where the pose network and ONNX Runtime live on this machine.

use std::env;
use std::path::{Path, PathBuf};

use serde::Deserialize;

use crate::error::{Error, Result};
use crate::files;

const MANIFEST: &str = "manifest.toml";
/// How far above the program a `models` or `runtime` folder is looked for
/// (a build lies in `target/release/`, tests one deeper).
const LEVELS_UP: usize = 4;

/// What stands in a library that reports on its user: the address it reports to, the names
/// of the client's parts, and the system's call that looks up an address, for which the
/// network has no use. Found in the releases 1.29.0 to 1.31.1 for x86_64 and aarch64, and
/// in none from 1.24.4 to 1.28.0.
const REPORTING: [&str; 3] =
    ["events.data.microsoft.com", "Microsoft12Applications6Events", "getaddrinfo"];

/// Folders and library the pose stage needs.
#[derive(Debug, Clone)]
pub struct Assets {
    /// Folder with `manifest.toml` and the ONNX files.
    pub models: PathBuf,
    /// The ONNX Runtime shared library.
    pub onnxruntime: PathBuf,
}

/// The facts about one model the program relies on, from the manifest.
#[derive(Debug, Clone, Deserialize)]
pub struct ModelFacts {
    /// Name by which the program asks for it.
    pub name: String,
    /// File name in the folder.
    pub file: String,
    /// SHA-256 of the file, hex.
    pub sha256: String,
}

#[derive(Deserialize)]
struct Manifest {
    landmark_order: Vec<String>,
    model: Vec<ModelFacts>,
}

impl Assets {
    /// Finds both, in this order: what the caller names, then folders `models`
    /// and `runtime` beside the program or a few levels above it.
    ///
    /// # Errors
    /// [`Error::ModelsMissing`], [`Error::RuntimeMissing`] with the places
    /// that were looked at.
    pub fn find(models: Option<&Path>, onnxruntime: Option<&Path>) -> Result<Self> {
        let near = folders_near_program();
        let candidates = match models {
            Some(named) => vec![named.to_path_buf()],
            None => near.iter().map(|f| f.join("models")).collect(),
        };
        let models = candidates
            .iter()
            .find(|f| files::is_file(&f.join(MANIFEST)))
            .cloned()
            .ok_or(Error::ModelsMissing { looked_at: candidates })?;
        let candidates = match onnxruntime {
            Some(named) => vec![named.to_path_buf()],
            None => near
                .iter()
                .flat_map(|f| [f.join("runtime").join(library_name()), f.join(library_name())])
                .collect(),
        };
        let onnxruntime = candidates
            .iter()
            .find(|f| files::is_file(f))
            .cloned()
            .ok_or(Error::RuntimeMissing { looked_at: candidates })?;
        Ok(Self { models, onnxruntime })
    }

    /// Path of the library, whose bytes hold no client that reports to anybody. Such a client
    /// begins to work when the library is loaded, whatever it is asked then.
    ///
    /// # Errors
    /// [`Error::RuntimeReports`], and those of reading it.
    pub fn quiet_library(&self) -> Result<&Path> {
        for mark in REPORTING {
            if files::contains(&self.onnxruntime, mark.as_bytes())? {
                return Err(Error::RuntimeReports(self.onnxruntime.clone()));
            }
        }
        Ok(&self.onnxruntime)
    }

    /// Path of a model whose bytes are those the manifest names.
    ///
    /// # Errors
    /// [`Error::ModelDiffers`] if the manifest does not know it, the landmark
    /// order is not this program's, or the checksum differs.
    pub fn verified(&self, name: &str) -> Result<PathBuf> {
        let path = self.models.join(MANIFEST);
        let differs = |path: &Path, why: String| Error::ModelDiffers { path: path.into(), why };
        let manifest: Manifest = toml::from_str(&files::read_text(&path)?)
            .map_err(|e| differs(&path, e.message().to_owned()))?;
        if manifest.landmark_order != crate::body::LANDMARK_NAMES {
            return Err(differs(&path, "its landmark order is another".into()));
        }
        let facts = manifest
            .model
            .into_iter()
            .find(|m| m.name == name)
            .ok_or_else(|| differs(&path, format!("it does not list '{name}'")))?;
        let file = self.models.join(&facts.file);
        if !files::exists(&file) {
            return Err(differs(&file, "it is not there".into()));
        }
        let found = files::sha256(&file)?;
        if found != facts.sha256 {
            return Err(differs(&file, format!("its SHA-256 is {found}")));
        }
        Ok(file)
    }
}

/// File name of the library on this system.
fn library_name() -> &'static str {
    if cfg!(target_os = "windows") {
        "onnxruntime.dll"
    } else if cfg!(target_os = "macos") {
        "libonnxruntime.dylib"
    } else {
        "libonnxruntime.so"
    }
}

fn folders_near_program() -> Vec<PathBuf> {
    let program = env::current_exe().ok().and_then(|p| files::real_path(&p)).unwrap_or_default();
    program.ancestors().skip(1).take(LEVELS_UP).map(Path::to_path_buf).collect()
}
