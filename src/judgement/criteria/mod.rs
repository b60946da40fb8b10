//! Limits of good form, as data: `default.toml`, and what the user changes.

use std::path::Path;

use serde::{Deserialize, Serialize};

use crate::error::{Error, Result, toml_fault};
use crate::{files, shown};

const DEFAULT: &str = include_str!("default.toml");
const SCHEMA: &str = "plumbrise.criteria/1";
/// Origin of a limit nobody has changed.
const BUILT_IN: &str = "built-in";

/// One limit with its reason.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limit {
    /// The number.
    pub value: f64,
    /// Its unit, in words.
    pub unit: String,
    /// Publication key, «design choice», «derived» or «common practice».
    pub source: String,
    /// «built-in», or the file it comes from.
    #[serde(default)]
    pub origin: String,
}

/// What a user's file may say of one limit.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Change {
    value: f64,
    unit: Option<String>,
    source: Option<String>,
    origin: Option<String>,
}

macro_rules! limits {
    ($($(#[$doc:meta])* $name:ident: $lowest:literal ..= $highest:literal,)+) => {
        /// All limits in force.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        #[serde(deny_unknown_fields)]
        pub struct Criteria {
            /// Version of the format.
            pub schema: String,
            $($(#[$doc])* pub $name: Limit,)+
        }

        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        struct Changes {
            schema: Option<String>,
            $($name: Option<Change>,)+
        }

        impl Criteria {
            /// Names and limits, in the order of the file.
            pub fn limits(&self) -> Vec<(&'static str, &Limit)> {
                vec![$((stringify!($name), &self.$name),)+]
            }

            fn mark_built_in(&mut self) {
                $(self.$name.origin = BUILT_IN.into();)+
            }

            fn change(&mut self, changes: Changes, origin: &str) -> Result<(), String> {
                $(if let Some(change) = changes.$name {
                    if !($lowest..=$highest).contains(&change.value) {
                        return Err(format!(
                            "{} = {} is outside {} to {}",
                            stringify!($name), change.value, $lowest, $highest,
                        ));
                    }
                    self.$name.apply(change, origin)?;
                })+
                Ok(())
            }
        }
    };
}

limits! {
    /// Knee offset beyond which the knee is inside the foot, % of stature.
    knee_offset_max: 0.1..=20.0,
    /// How long it must last, s.
    knee_offset_hold: 0.0..=5.0,
    /// Square-on frontal plane projection angle, deg.
    fppa_max: 1.0..=60.0,
    /// Speed at the end of the descent, m/s.
    drop_final_speed_max: 0.05..=5.0,
    /// The same over the rep's mean descent speed.
    drop_final_ratio_max: 1.0..=10.0,
    /// Height a rep must reach, % of the person's own rise.
    stand_share_min: 50.0..=100.0,
    /// Below this a rise is an attempt, % of the person's own rise.
    attempt_share: 30.0..=100.0,
    /// Touches of the free foot allowed.
    free_foot_touches_max: 0.0..=100.0,
    /// Rises with a supported hand allowed (0 or 1).
    hands_used_max: 0.0..=1.0,
    /// Shift of the stance foot, cm.
    stance_foot_shift_max: 0.5..=50.0,
    /// Longest rest on the seat within a run, s.
    pause_max: 0.1..=600.0,
    /// Does a longer rest fault the rep after it? 1 yes, 0 no.
    pause_faults_rep: 0.0..=1.0,
    /// Largest heading at which alignment is judged, deg.
    yaw_max: 1.0..=45.0,
    /// Share of a rep that must be well seen, %.
    good_samples_min: 50.0..=100.0,
    /// Clean reps in one go.
    target_reps: 1.0..=1000.0,
    /// Lateral trunk lean worth a look, deg.
    trunk_lean_note: 1.0..=60.0,
    /// Pelvic drop worth a look, deg.
    pelvic_drop_note: 1.0..=60.0,
}

impl Criteria {
    /// The knee offset's limit for somebody of that stature, metres.
    pub fn knee_offset_limit_m(&self, stature_m: f64) -> f64 {
        self.knee_offset_max.value / 100.0 * stature_m
    }
}

impl Limit {
    /// True if this is not the limit the program comes with.
    pub fn is_changed(&self) -> bool {
        self.origin != BUILT_IN
    }

    fn apply(&mut self, change: Change, origin: &str) -> Result<(), String> {
        if let Some(unit) = change.unit
            && unit != self.unit
        {
            return Err(format!("unit «{unit}» is not «{}»", self.unit));
        }
        if change.value != self.value {
            self.value = change.value;
            // A stored file tells where its changes came from; a copy of the
            // built-in limits with an edited value is the copy's doing.
            let own = change.origin.filter(|own| own != BUILT_IN);
            self.origin = own.map_or_else(|| origin.to_owned(), |own| shown::prose(&own));
        }
        if let Some(source) = change.source {
            // Printed with every result.
            self.source = shown::prose(&source);
        }
        Ok(())
    }
}

impl Criteria {
    /// The limits the program comes with.
    ///
    /// # Errors
    /// [`Error::Criteria`] if they do not parse, which a test rules out.
    pub fn built_in() -> Result<Self> {
        let mut criteria: Self = toml::from_str(DEFAULT)
            .map_err(|e| Error::Criteria { path: BUILT_IN.into(), why: e.message().to_owned() })?;
        criteria.mark_built_in();
        Ok(criteria)
    }

    /// The defaults, changed by the user's file.
    ///
    /// # Errors
    /// [`Error::Criteria`] with what is wrong: line, column and reason, or why it cannot be
    /// read.
    pub fn read(path: &Path) -> Result<Self> {
        let refuse = |why: String| Error::Criteria { path: path.into(), why };
        let text = files::read_text(path).map_err(|e| refuse(e.why_unread()))?;
        if text.trim().is_empty() {
            return Err(refuse("it is empty".into()));
        }
        Self::changed_by(&text, &shown::name(path)).map_err(refuse)
    }

    fn changed_by(text: &str, origin: &str) -> Result<Self, String> {
        let changes: Changes = toml::from_str(text).map_err(|e| toml_fault(text, &e))?;
        if let Some(schema) = &changes.schema
            && schema != SCHEMA
        {
            return Err(format!("its schema is «{schema}», not «{SCHEMA}»"));
        }
        let mut criteria = Self::built_in().map_err(|e| e.to_string())?;
        criteria.change(changes, origin)?;
        Ok(criteria)
    }

    /// The defaults, changed by the text of a file, which is called `path` in messages.
    ///
    /// # Errors
    /// [`Error::Criteria`] with line, column and reason.
    pub fn parse(text: &str, path: &Path) -> Result<Self> {
        let origin = path.file_name().unwrap_or_default().to_string_lossy();
        Self::changed_by(text, &origin).map_err(|why| Error::Criteria { path: path.into(), why })
    }

    /// The limits as a file that can be read back.
    ///
    /// # Errors
    /// [`Error::Criteria`] if they cannot be written, which a test rules out.
    pub fn to_toml(&self) -> Result<String> {
        toml::to_string_pretty(self)
            .map_err(|e| Error::Criteria { path: BUILT_IN.into(), why: e.to_string() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_parse_and_survive_a_round_trip() {
        let criteria = Criteria::built_in().unwrap();
        assert_eq!(criteria.schema, SCHEMA);
        assert!(criteria.limits().iter().all(|(_, limit)| !limit.is_changed()));
        assert_eq!(Criteria::changed_by(&criteria.to_toml().unwrap(), "copy"), Ok(criteria));
    }

    /// Half the foot's breadth, 0.055 of stature ([Winter2009]).
    #[test]
    fn the_knee_limit_is_half_a_foot() {
        let half_foot = crate::body::anthropometry::FOOT_BREADTH / 2.0 * 100.0;
        assert!((Criteria::built_in().unwrap().knee_offset_max.value - half_foot).abs() < 1e-9);
    }

    /// Of 1.72 m 2.75 % are 4.73 cm.
    #[test]
    fn the_knee_limit_is_a_share_of_the_stature() {
        let limit_m = Criteria::built_in().unwrap().knee_offset_limit_m(1.72);
        assert!((limit_m - 0.0473).abs() < 1e-9, "{limit_m}");
    }

    #[test]
    fn only_a_changed_limit_is_changed() {
        let changed = Criteria::changed_by("[fppa_max]\nvalue = 12.0\n", "ours.toml").unwrap();
        let names: Vec<&str> = changed
            .limits()
            .into_iter()
            .filter(|(_, limit)| limit.is_changed())
            .map(|(name, _)| name)
            .collect();
        assert_eq!(names, ["fppa_max"]);
    }

    #[test]
    fn one_limit_can_be_changed_alone() {
        let changed = Criteria::changed_by("[fppa_max]\nvalue = 12.0\n", "ours.toml").unwrap();
        assert_eq!(changed.fppa_max.value, 12.0);
        assert_eq!(changed.fppa_max.origin, "ours.toml");
        let stored = Criteria::changed_by(&changed.to_toml().unwrap(), "criteria.toml").unwrap();
        assert_eq!(stored, changed, "where a change came from survives storing");
        assert_eq!(changed.pause_max, Criteria::built_in().unwrap().pause_max);
    }

    #[test]
    fn mistakes_are_named_with_their_place() {
        let wrong = |text| Criteria::changed_by(text, "x").unwrap_err();
        assert!(wrong("[fpa_max]\nvalue = 1.0").starts_with("line 1, column 2"));
        assert!(wrong("[fppa_max]\nvalue = \"a\"").starts_with("line 2, column 9"));
        assert!(wrong("[fppa_max]\nvalue = -1.0").contains("outside"));
        assert!(wrong("[fppa_max]\nvalue = 9.0\nunit = \"rad\"").contains("unit"));
        assert!(wrong("schema = \"other/9\"").contains("schema"));
    }
}
