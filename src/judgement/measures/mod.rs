//! The one home of every measure of a rep: its name, how it is read from a rep, unit, digits,
//! what it is and how far it can be trusted, and where it is told. Tables, page, paper,
//! exports, comparison, trend, agreement, standard errors and `explain` go through this list;
//! none has one of its own.

mod list;

pub(crate) use list::OTHERS;
pub use list::*;

use serde::{Serialize, Serializer};

use crate::judgement::document::Rep;

/// A number of a rep.
#[derive(Debug)]
pub struct Measure {
    /// What it is called and what it is.
    pub about: Explained,
    /// Beside its value, for people.
    pub label: &'static str,
    /// What kind of number it is.
    pub kind: Kind,
    /// Its unit.
    pub unit: Unit,
    /// Decimal places shown.
    pub digits: usize,
    /// The number itself; `None` where it is not known.
    pub of: fn(&Rep) -> Option<f64>,
    /// Told with each rep on page and paper.
    pub with_each_rep: bool,
    /// Its column in the short table of reps, if it has one.
    pub column: Option<Column>,
    /// How it is compared between sessions, if it is.
    pub compared: Option<Compared>,
    /// What the method adds to its standard error that no disturbance of the landmarks brings
    /// about, as a fixed part in its unit and a share of the value: the fold of the hip settles
    /// before the joint does; a drop is over within 3 to 5 samples. Set so that the root mean square
    /// of the stated errors is that of the true ones, over 21 reps of seven clips of
    /// `scripts/render/tuning.toml` (t0 to t5 and t8), none of which the accuracy table is made
    /// of; `scripts/accuracy` prints both. No truth has the seated pause: it is as uncertain as
    /// the contact that begins it.
    pub method_error: (f64, f64),
}

/// What something in the document is.
#[derive(Debug, Clone, Copy)]
pub struct Explained {
    /// Its name in the document and in every table.
    pub key: &'static str,
    /// What it is, in one or two sentences.
    pub definition: &'static str,
    /// How it is computed.
    pub formula: &'static str,
    /// Unit and sign.
    pub reads: &'static str,
    /// Where it can be trusted and where not.
    pub validity: &'static str,
    /// Publications by key, or «design choice», «derived», «common practice».
    pub source: &'static str,
}

/// A field of a rep that is no number: what it is, and what it says.
#[derive(Debug)]
pub struct Mark {
    /// Its name in the document.
    pub key: &'static str,
    /// What it is.
    pub definition: &'static str,
    /// What it says of a rep.
    pub of: fn(&Rep) -> Said,
}

/// What a mark says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// A word of the document, or several with spaces between.
    Words(Option<String>),
    /// Yes or no.
    Flag(Option<bool>),
}

/// A field of a rep, in the order of the document.
#[derive(Debug, Clone, Copy)]
pub enum Field {
    /// A number.
    Number(&'static Measure),
    /// Anything else.
    Mark(&'static Mark),
}

/// What kind of number a measure is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A quantity.
    Number,
    /// A moment, seconds from the clip's first frame.
    Time,
    /// Time between two moments.
    Duration,
    /// How many.
    Count,
    /// A grade on a scale.
    Grade,
    /// How well the rep was seen.
    Sight,
}

impl Kind {
    /// True for whole numbers.
    pub fn is_whole(self) -> bool {
        matches!(self, Kind::Count | Kind::Grade)
    }

    /// True for what has a standard error.
    pub fn has_error(self) -> bool {
        matches!(self, Kind::Number | Kind::Time | Kind::Duration)
    }
}

/// Unit of a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum Unit {
    One,
    Reps,
    Second,
    Metre,
    Centimetre,
    MetrePerSecond,
    MetrePerSecondSquared,
    Degree,
    Percent,
    PercentOfLegLength,
    Hertz,
}

impl Unit {
    /// As UCUM writes it (Unified Code for Units of Measure).
    pub fn ucum(self) -> &'static str {
        match self {
            Unit::One => "1",
            Unit::Reps => "{reps}",
            Unit::Second => "s",
            Unit::Metre => "m",
            Unit::Centimetre => "cm",
            Unit::MetrePerSecond => "m/s",
            Unit::MetrePerSecondSquared => "m/s2",
            Unit::Degree => "deg",
            Unit::Percent | Unit::PercentOfLegLength => "%",
            Unit::Hertz => "Hz",
        }
    }

    /// As people read it; empty where a number has none.
    pub fn shown(self) -> &'static str {
        match self {
            Unit::One => "",
            Unit::Reps => "reps",
            Unit::MetrePerSecondSquared => "m/s²",
            Unit::Degree => "°",
            Unit::PercentOfLegLength => "% of leg length",
            other => other.ucum(),
        }
    }
}

/// A column of the short table of reps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its heading.
    pub head: &'static str,
    /// Below it.
    pub unit: &'static str,
    /// Decimal places.
    pub digits: usize,
    /// Its values carry their standard errors.
    pub with_error: bool,
}

/// How a measure is compared between sessions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Compared {
    /// Its place among those compared: what is aimed at comes first.
    pub place: u8,
    /// In which words it goes up and down.
    pub way: Way,
    /// What is hoped for, in a sentence; empty where nothing is.
    pub hope: &'static str,
    /// Published minimal detectable change in its unit, and the publication's key.
    pub least_change: Option<(f64, &'static str)>,
    /// Drawn over the weeks.
    pub drawn_over_weeks: bool,
    /// Drawn leg beside leg, the upright axis reaching at least so far.
    pub drawn_by_leg: Option<f64>,
}

/// In which words a number goes up and down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    /// Larger or smaller.
    Size,
    /// More or fewer.
    Number,
    /// Longer or shorter.
    Length,
    /// Faster or slower.
    Speed,
    /// Further in or less far in.
    Inward,
}

impl Measure {
    /// What most measures are: a number without a unit, told nowhere but in the document,
    /// `explain` and the exports.
    pub(crate) const PLAIN: Measure = Measure {
        about: Explained {
            key: "",
            definition: "",
            formula: "",
            reads: "",
            validity: "",
            source: "",
        },
        label: "",
        kind: Kind::Number,
        unit: Unit::One,
        digits: 2,
        of: |_| None,
        with_each_rep: false,
        column: None,
        compared: None,
        method_error: (0.0, 0.0),
    };

    /// Its name in the document and in every table.
    pub fn key(&self) -> &'static str {
        self.about.key
    }

    /// The number in a rep as text, as the document writes it; `None` where it is not known.
    pub fn written(&self, rep: &Rep) -> Option<String> {
        let value = (self.of)(rep)?;
        Some(if self.kind.is_whole() { format!("{value:.0}") } else { format!("{value:?}") })
    }

    /// Its standard error in a rep, where that is known.
    pub fn error(&self, rep: &Rep) -> Option<f64> {
        rep.standard_error.get(self.key()).copied()
    }

    /// Label and unit: «Knee inward, cm».
    pub fn label_in_unit(&self) -> String {
        in_unit(self.label, self.unit)
    }
}

/// A measure is known by its name.
impl PartialEq for Measure {
    fn eq(&self, other: &Self) -> bool {
        self.key() == other.key()
    }
}

impl Eq for Measure {}

/// Documents name a measure.
impl Serialize for Measure {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.key())
    }
}

/// A label with its unit behind it.
pub fn in_unit(label: &str, unit: Unit) -> String {
    match unit {
        Unit::One => label.into(),
        unit => format!("{label}, {}", unit.shown()),
    }
}

impl Explained {
    /// A key, as «[Winter2009]», is among its sources.
    pub fn cites(&self, key: &str) -> bool {
        self.source.contains(key) || self.validity.contains(key)
    }

    /// The first clause of what it is.
    pub fn briefly(&self) -> &'static str {
        self.definition.split(['.', ':', ';']).next().unwrap_or(self.definition)
    }
}

/// All fields of a rep in the order of the document, but its number, verdict and reasons,
/// and what there is to each of them.
pub fn fields() -> impl Iterator<Item = Field> {
    FIELDS.iter().copied().chain(made_up::measure().map(Field::Number))
}

/// All measures, in the order of the document.
pub fn all() -> impl Iterator<Item = &'static Measure> {
    fields().filter_map(|field| match field {
        Field::Number(measure) => Some(measure),
        Field::Mark(_) => None,
    })
}

/// Those of the short table of reps.
pub fn in_table() -> impl Iterator<Item = (&'static Measure, Column)> {
    all().filter_map(|m| Some((m, m.column?)))
}

/// Those told with each rep on page and paper.
pub fn with_each_rep() -> impl Iterator<Item = &'static Measure> {
    all().filter(|m| m.with_each_rep)
}

/// Those compared between sessions, what is aimed at first.
pub fn compared() -> Vec<(&'static Measure, Compared)> {
    let mut compared: Vec<_> = all().filter_map(|m| Some((m, m.compared?))).collect();
    compared.sort_by_key(|(_, how)| how.place);
    compared
}

/// Everything that `explain` tells of.
pub fn explained() -> impl Iterator<Item = &'static Explained> {
    all().map(|m| &m.about).chain(&OTHERS)
}

/// What is called so, or begins so.
pub fn find(name: &str) -> Option<&'static Explained> {
    if name.len() < 4 {
        return None;
    }
    let exact = explained().find(|e| e.key == name);
    exact.or_else(|| explained().find(|e| e.key.starts_with(name)))
}

/// The measure of that very name.
pub fn called(key: &str) -> Option<&'static Measure> {
    all().find(|m| m.key() == key)
}

/// A measure that a test adds, to see it in every output.
#[cfg(all(test, feature = "cli"))]
pub(crate) mod made_up {
    use std::cell::Cell;

    use super::Measure;

    thread_local! {
        static ADDED: Cell<Option<&'static Measure>> = const { Cell::new(None) };
    }

    /// Adds one in this thread.
    pub(crate) fn add(measure: Measure) {
        ADDED.set(Some(Box::leak(Box::new(measure))));
    }

    pub(super) fn measure() -> Option<&'static Measure> {
        ADDED.get()
    }
}

#[cfg(not(all(test, feature = "cli")))]
mod made_up {
    pub(super) fn measure() -> Option<&'static super::Measure> {
        None
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    /// The list against the document: every field that takes a number is a measure that reads
    /// that very field, the others are marks or told with the verdict; in the same order.
    #[test]
    fn the_list_is_the_document() {
        let before = serde_json::to_value(Rep::made(serde_json::json!({}))).unwrap();
        let with_the_verdict = ["number", "standard_error", "judgement", "reasons", "criteria"];
        let names: Vec<&str> = before.as_object().unwrap().keys().map(String::as_str).collect();
        let mut listed = Vec::new();
        for field in fields() {
            match field {
                Field::Mark(mark) => listed.push(mark.key),
                Field::Number(m) => {
                    let mut changed = before.clone();
                    changed[m.key()] = 7.into();
                    let rep: Rep = serde_json::from_value(changed).unwrap_or_else(|e| {
                        panic!("{} takes no number: {e}", m.key());
                    });
                    assert_eq!((m.of)(&rep), Some(7.0), "{}", m.key());
                    listed.push(m.key());
                }
            }
        }
        let told: Vec<&str> =
            names.into_iter().filter(|name| !with_the_verdict.contains(name)).collect();
        assert_eq!(listed, told);
    }

    #[test]
    fn measures_are_found_by_their_names() {
        for m in all() {
            assert_eq!(called(m.key()).map(Measure::key), Some(m.key()));
            assert_eq!(find(m.key()).map(|e| e.key), Some(m.key()));
        }
        assert!(called("no_such_measure").is_none() && called("fppa").is_none());
        assert!(find("fppa").is_some_and(|e| e.key.starts_with("fppa")));
        assert!(find("fpp").is_none() && find("no_such_measure").is_none());
    }

    /// Names end in their units; UCUM is the unit's code by its specification, section 4.
    #[test]
    fn every_measure_says_everything_of_itself() {
        let mut keys = BTreeSet::new();
        for m in all() {
            let Explained { key, definition, formula, reads, validity, source } = m.about;
            assert!(keys.insert(key), "{key} is there twice");
            for text in [definition, formula, reads, validity, source, m.label] {
                assert!(!text.is_empty(), "{key}");
            }
            let (ending, ucum) = match m.unit {
                Unit::Second if key.ends_with("_s") && !key.ends_with("_m_s") => ("_s", "s"),
                Unit::Metre if !key.ends_with("_cm") => ("_m", "m"),
                Unit::Centimetre => ("_cm", "cm"),
                Unit::MetrePerSecond => ("_m_s", "m/s"),
                Unit::MetrePerSecondSquared => ("_m_s2", "m/s2"),
                Unit::Degree => ("_deg", "deg"),
                Unit::PercentOfLegLength => ("_percent_leg", "%"),
                Unit::Percent => ("_percent", "%"),
                Unit::One => ("", "1"),
                other => panic!("{key} in {other:?}"),
            };
            let endings = ["_s", "_m", "_cm", "_m_s", "_m_s2", "_deg", "_percent"];
            let bare = ending.is_empty() && endings.iter().any(|e| key.ends_with(e));
            assert!(key.ends_with(ending) && !bare, "{key} in {:?}", m.unit);
            assert_eq!(m.unit.ucum(), ucum, "{key}");
            let timed = matches!(m.kind, Kind::Time | Kind::Duration);
            assert_eq!(timed, m.unit == Unit::Second, "{key}");
        }
    }

    #[test]
    fn measures_are_found_by_name_and_beginning() {
        let name = |text| find(text).map(|m| m.key);
        assert_eq!(name("knee_offset"), Some("knee_offset_peak_cm"));
        assert_eq!(name("sparc_descent"), Some("sparc_descent"));
        assert_eq!(name("hands_used"), Some("hands_used"));
        assert_eq!(name("happiness"), None);
        assert_eq!(name(""), None);
    }

    #[test]
    fn units_are_written_for_people() {
        assert_eq!(KNEE_OFFSET_PEAK.label_in_unit(), "Knee inward, cm");
        assert_eq!(FPPA_PEAK.unit.shown(), "°");
        assert_eq!(in_unit("Speeds up", Unit::MetrePerSecondSquared), "Speeds up, m/s²");
        assert_eq!(
            in_unit("Knee inward", Unit::PercentOfLegLength),
            "Knee inward, % of leg length"
        );
        assert_eq!(in_unit("Turns", Unit::One), "Turns");
        assert_eq!(in_unit("Clean", Unit::Reps), "Clean, reps");
    }

    #[test]
    fn what_is_cited_stands_in_source_or_validity() {
        let of = |source, validity| Explained { source, validity, ..Measure::PLAIN.about };
        assert!(of("[Kerr1997]", "").cites("Kerr1997"));
        assert!(of("", "[Kerr1997]").cites("Kerr1997"));
        assert!(!of("Derived", "").cites("Kerr1997"));
        assert_eq!(of("", "").briefly(), "");
        assert_eq!(RISE.about.briefly(), "From seat-off to stand");
    }

    /// What is told where is a choice; this is it, so that none is lost by mistake.
    #[test]
    fn measures_are_told_where_they_belong() {
        let keys = |measures: &mut dyn Iterator<Item = &'static Measure>| -> Vec<&str> {
            measures.map(Measure::key).collect()
        };
        assert_eq!(
            keys(&mut in_table().map(|(m, _)| m)),
            [
                "seat_off_s",
                "rise_s",
                "descent_s",
                "descent_final_m_s",
                "knee_offset_peak_cm",
                "wobble_cm"
            ]
        );
        assert_eq!(
            keys(&mut compared().into_iter().map(|(m, _)| m)),
            [
                "knee_offset_peak_cm",
                "wobble_cm",
                "descent_s",
                "fppa_peak_deg",
                "rise_s",
                "descent_mean_m_s",
                "descent_peak_m_s",
                "final_ratio",
                "trunk_lean_deg"
            ]
        );
        let drawn = |of: &dyn Fn(Compared) -> bool| {
            keys(&mut compared().into_iter().filter(|(_, how)| of(*how)).map(|(m, _)| m))
        };
        assert_eq!(
            drawn(&|how| how.drawn_over_weeks),
            ["knee_offset_peak_cm", "wobble_cm", "descent_s", "fppa_peak_deg"]
        );
        assert_eq!(
            drawn(&|how| how.drawn_by_leg.is_some()),
            ["knee_offset_peak_cm", "wobble_cm", "descent_s", "rise_s"]
        );
        assert_eq!(
            keys(&mut with_each_rep()),
            [
                "seat_off_s",
                "stand_s",
                "descent_start_s",
                "seat_contact_s",
                "rise_s",
                "descent_s",
                "seated_pause_s",
                "descent_mean_m_s",
                "descent_peak_m_s",
                "descent_final_m_s",
                "knee_offset_peak_cm",
                "fppa_peak_deg",
                "wobble_cm",
                "trunk_lean_deg",
                "pelvic_drop_deg",
                "stance_foot_shift_cm",
                "stand_percent",
                "well_seen_percent"
            ]
        );
    }
}
