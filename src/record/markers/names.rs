//! Which marker tells which point of the body.

use std::path::Path;

use serde::Deserialize;

use crate::body::Side;
use crate::error::{Error, Result, toml_fault};
use crate::files;

const DEFAULT: &str = include_str!("markers.toml");

/// Candidates of one point, in order.
#[derive(Debug, Clone, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Candidates {
    left: Vec<String>,
    right: Vec<String>,
}

impl Candidates {
    pub fn of(&self, side: Side) -> &[String] {
        match side {
            Side::Left => &self.left,
            Side::Right => &self.right,
        }
    }
}

macro_rules! points {
    ($($name:ident),+ $(,)?) => {
        /// Marker names of every point the kinematics can use.
        #[derive(Debug, Clone, PartialEq, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct MarkerNames {
            $(pub(super) $name: Candidates,)+
        }

        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Changes {
            $($name: Option<Candidates>,)+
        }

        impl MarkerNames {
            fn change(&mut self, changes: Changes) {
                $(if let Some(given) = changes.$name {
                    self.$name = given;
                })+
            }
        }
    };
}

points! {
    hip_joint, asis, psis, pelvis_other, shoulder_joint, acromion, elbow, wrist, hand, knee_joint, knee_lateral,
    knee_medial, ankle_joint, ankle_lateral, ankle_medial, heel, toe,
}

impl MarkerNames {
    /// The common names the program comes with.
    ///
    /// # Errors
    /// [`Error::MarkerNames`] if they do not parse, which a test rules out.
    pub fn built_in() -> Result<Self> {
        toml::from_str(DEFAULT).map_err(|e| Error::MarkerNames {
            path: "built-in".into(),
            why: e.message().to_owned(),
        })
    }

    /// The common names as a file, with words on its form.
    pub fn file() -> &'static str {
        DEFAULT
    }

    /// The common names, with the points a file names replaced by its own.
    ///
    /// # Errors
    /// [`Error::MarkerNames`] with what is wrong, or why it cannot be read.
    pub fn read(path: &Path) -> Result<Self> {
        let refuse = |why: String| Error::MarkerNames { path: path.into(), why };
        let text = files::read_text(path).map_err(|e| refuse(e.why_unread()))?;
        if text.trim().is_empty() {
            return Err(refuse("it is empty".into()));
        }
        let changes: Changes = toml::from_str(&text).map_err(|e| refuse(toml_fault(&text, &e)))?;
        let mut names = Self::built_in()?;
        names.change(changes);
        Ok(names)
    }
}

/// Index of a marker in a file: capitals and «subject:» do not matter.
pub(super) fn find(names: &[String], wanted: &str) -> Option<usize> {
    let bare = |name: &str| name.rsplit(':').next().unwrap_or(name).trim().to_lowercase();
    let wanted = bare(wanted);
    names.iter().position(|name| bare(name) == wanted)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_common_names_parse() {
        let names = MarkerNames::built_in().unwrap();
        assert_eq!(names.asis.of(Side::Left)[0], "LASI");
    }

    #[test]
    fn capitals_and_subjects_do_not_matter() {
        let names = ["Anna:lasi".to_owned(), "RASI".to_owned()];
        assert_eq!(find(&names, "LASI"), Some(0));
        assert_eq!(find(&names, "rasi"), Some(1));
        assert_eq!(find(&names, "ASI"), None);
    }

    #[test]
    fn a_file_replaces_the_points_it_names() {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("ours.toml");
        let write = |text: &str| std::fs::write(&path, text).unwrap();
        write("[heel]\nleft = [\"HL\"]\nright = [\"HR\"]\n");
        let names = MarkerNames::read(&path).unwrap();
        assert_eq!(names.heel.of(Side::Right), ["HR"]);
        assert_eq!(names.toe, MarkerNames::built_in().unwrap().toe);
        write("[heal]\nleft = []\nright = []\n");
        assert!(MarkerNames::read(&path).unwrap_err().to_string().contains("heal"));
    }
}
