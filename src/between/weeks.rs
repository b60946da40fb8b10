//! Weeks: the sessions of one person in order, and what of their differences is change.
//!
//! A difference is called change only beyond the minimal detectable change. That is taken
//! from publications and from the tool's own sessions that were repeated on one day, the
//! larger of them where both are known, and is never smaller than 1.96·√(SE₁² + SE₂²) of
//! the two values at hand. Where neither is known nothing is called change.

use std::collections::BTreeMap;

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Serialize, Serializer};

use super::Count;

use crate::between::sides::NOT_JUDGED_SHARE_MAX;
use crate::body::Side;
use crate::judgement::document::Rung;
use crate::judgement::measures::{self, Compared, Measure};
use crate::session::review::ReviewState;
use crate::session::summary::{SessionSummary, day};
use crate::signal::rounded;
use crate::statistics::{WithinPerson, noise_of_difference, within_person};

/// Version of the document.
pub const SCHEMA: &str = "plumbrise.trend/1";

/// A session of somebody.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Dated {
    /// What the session is called.
    pub id: String,
    /// When it was filmed, or kept where nobody knows that.
    pub recorded_at: Timestamp,
    /// The day of filming is known.
    pub day_known: bool,
    /// In a few numbers, as it stands after its review.
    pub summary: SessionSummary,
}

impl Dated {
    /// Day of filming, UTC.
    pub fn day(&self) -> Date {
        day(self.recorded_at)
    }
}

/// How far each measure scatters where nothing has changed, from sessions that one person
/// repeated on one day.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Repeats {
    known: BTreeMap<(Rung, String), WithinPerson>,
}

/// What must be alike for two sessions to be compared: leg, exercise, height of the seat in
/// whole centimetres.
type Alike = (Option<Side>, Rung, Option<i64>);

fn alike(summary: &SessionSummary) -> Alike {
    let seat_cm = summary.seat_height_m.map(|m| (100.0 * m).round() as i64);
    (summary.leg, summary.rung, seat_cm)
}

impl Repeats {
    /// Learns from the sessions of all people there are, each with its person. The same clip
    /// twice is no repeat.
    pub fn of<'a>(sessions: impl IntoIterator<Item = (&'a str, &'a Dated)>) -> Self {
        let mut days: BTreeMap<(&str, Alike, Date), Vec<&SessionSummary>> = BTreeMap::new();
        for (person, session) in sessions {
            let summary = &session.summary;
            let same_day = days.entry((person, alike(summary), session.day())).or_default();
            if same_day.iter().all(|other| other.clip_sha256 != summary.clip_sha256) {
                same_day.push(summary);
            }
        }
        let mut groups: BTreeMap<(Rung, &str), Vec<Vec<f64>>> = BTreeMap::new();
        for ((_, (_, rung, _), _), same_day) in &days {
            for tracked in Tracked::all() {
                let values = same_day.iter().filter_map(|s| Some(tracked.value(s)?.value));
                groups.entry((*rung, tracked.key())).or_default().push(values.collect());
            }
        }
        let known = groups.into_iter().filter_map(|((rung, name), groups)| {
            // Repeats that never differ by anything tell of rounding, not of scatter.
            let within = within_person(&groups).filter(|w| w.detectable > 0.0)?;
            Some(((rung, name.to_owned()), within))
        });
        Self { known: known.collect() }
    }

    fn get(&self, rung: Rung, tracked: Tracked) -> Option<WithinPerson> {
        self.known.get(&(rung, tracked.key().to_owned())).copied()
    }
}

/// What is followed over sessions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Tracked {
    /// A count of the set.
    Count(Count),
    /// A measure of its reps.
    Measure(&'static Measure, Compared),
}

impl Tracked {
    /// Everything that is followed, in the order of telling.
    pub fn all() -> impl Iterator<Item = Tracked> {
        let measures = measures::compared().into_iter().map(|(m, how)| Tracked::Measure(m, how));
        Count::ALL.into_iter().map(Tracked::Count).chain(measures)
    }

    /// Its name in documents.
    pub fn key(self) -> &'static str {
        match self {
            Tracked::Count(count) => count.key(),
            Tracked::Measure(measure, _) => measure.key(),
        }
    }

    fn value(self, summary: &SessionSummary) -> Option<Value> {
        match self {
            Tracked::Count(count) => {
                Some(Value { value: count.of(summary) as f64, standard_error: None })
            }
            Tracked::Measure(measure, _) => summary
                .measures
                .get(measure.key())
                .map(|s| Value { value: s.mean, standard_error: s.standard_error }),
        }
    }

    /// Minimal detectable change, in its unit, as far as it is known without sessions of our
    /// own. Rises on one leg: 4 to 6, from memory, without a source; the larger is taken, for
    /// clean reps too (design choice: they are what such a test counts).
    fn least_change(self) -> Option<(f64, Basis)> {
        match self {
            Tracked::Count(Count::Clean | Count::Reps) => Some((6.0, Basis::FromMemory)),
            Tracked::Count(Count::LongestCleanRun) => None,
            Tracked::Measure(_, how) => {
                how.least_change.map(|(by, key)| (by, Basis::Published { key }))
            }
        }
    }
}

/// Documents name what is followed.
impl Serialize for Tracked {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(self.key())
    }
}

/// A value with its standard error, in the measure's unit.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Value {
    /// Count, or mean over the reps.
    pub value: f64,
    /// Null where it is not known; counts have none.
    pub standard_error: Option<f64>,
}

/// Where a minimal detectable change comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case", tag = "from")]
pub enum Basis {
    /// A publication.
    Published {
        /// Its key.
        key: &'static str,
    },
    /// About six rises, without a publication at hand.
    FromMemory,
    /// The tool's own repeated sessions.
    Repeats {
        /// Days on which somebody repeated a session.
        groups: usize,
        /// Degrees of freedom.
        degrees_of_freedom: usize,
    },
    /// The standard errors of the two values, which are larger than what else is known.
    MeasurementError,
}

/// What can be said of a difference in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ChangeSeen {
    /// Beyond the minimal detectable change.
    Changed,
    /// Not beyond it.
    WithinError,
    /// No minimal detectable change is known, or a value is missing.
    CannotTell,
}

/// From one session to a later one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// Place of the earlier session in its series.
    pub from: usize,
    /// Place of the later one.
    pub to: usize,
    /// Later less earlier, unit of the measure.
    pub difference: Option<f64>,
    /// Minimal detectable change.
    pub detectable: Option<f64>,
    /// Where that comes from.
    pub source: Option<Basis>,
    /// What can be said.
    pub outcome: ChangeSeen,
}

/// One measure over the sessions of a series.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Followed {
    /// What is followed.
    pub measure: Tracked,
    /// A value for each session.
    pub values: Vec<Option<Value>>,
    /// From the first session to the last; null where they are of one day.
    pub since_first: Option<Change>,
    /// From the last session of an earlier day to the last.
    pub since_last_time: Option<Change>,
}

/// Sessions that can be compared: same leg, same exercise, same seat.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// The exercise.
    pub rung: Rung,
    /// The working leg.
    pub leg: Option<Side>,
    /// Height of the seat, metres, if it was told.
    pub seat_height_m: Option<f64>,
    /// In order of time.
    pub sessions: Vec<Dated>,
    /// Every measure.
    pub courses: Vec<Followed>,
}

impl Series {
    fn of(sessions: Vec<Dated>, repeats: &Repeats) -> Option<Self> {
        let SessionSummary { rung, leg, seat_height_m, .. } = sessions.first()?.summary;
        let last = sessions.len() - 1;
        let today = sessions.last()?.day();
        let before = sessions.iter().rposition(|s| s.day() < today);
        let course = |measure: Tracked| {
            let values: Vec<Option<Value>> =
                sessions.iter().map(|s| measure.value(&s.summary)).collect();
            let change = |from: usize| {
                let pair = values.get(from).copied().flatten().zip(values.get(last).copied()?);
                Some(Change::of(measure, rung, (from, last), pair, repeats))
            };
            Followed {
                measure,
                since_first: before.and_then(|_| change(0)),
                since_last_time: before.and_then(change),
                values,
            }
        };
        let courses: Vec<Followed> = Tracked::all().map(course).collect();
        let known = |c: &Followed| c.values.iter().any(Option::is_some);
        let courses = courses.into_iter().filter(known).collect();
        Some(Self { rung, leg, seat_height_m, sessions, courses })
    }

    /// The course of what is followed under that name.
    pub fn course(&self, key: &str) -> Option<&Followed> {
        self.courses.iter().find(|c| c.measure.key() == key)
    }

    /// The last session.
    pub fn last(&self) -> Option<&Dated> {
        self.sessions.last()
    }
}

impl Change {
    fn of(
        measure: Tracked,
        rung: Rung,
        (from, to): (usize, usize),
        pair: Option<(Value, Value)>,
        repeats: &Repeats,
    ) -> Self {
        let difference = pair.map(|(a, b)| rounded(b.value - a.value, 4));
        let noise = pair
            .and_then(|(a, b)| a.standard_error.zip(b.standard_error))
            .map(|(a, b)| (noise_of_difference(a, b), Basis::MeasurementError));
        let published = measure.least_change();
        let own = repeats.get(rung, measure).map(|w| {
            let (groups, degrees_of_freedom) = (w.groups, w.degrees_of_freedom);
            (w.detectable, Basis::Repeats { groups, degrees_of_freedom })
        });
        let larger = |a: (f64, Basis), b: (f64, Basis)| if b.0 > a.0 { b } else { a };
        // Errors of measuring alone do not tell how far a person varies from day to day.
        let learnt = [published, own].into_iter().flatten().reduce(larger);
        let detectable = learnt.map(|learnt| noise.into_iter().fold(learnt, larger));
        Self {
            from,
            to,
            difference,
            detectable: detectable.map(|(by, _)| rounded(by, 4)),
            source: detectable.map(|(_, source)| source),
            outcome: match difference.zip(detectable) {
                None => ChangeSeen::CannotTell,
                Some((d, (by, _))) if d.abs() > by => ChangeSeen::Changed,
                Some(_) => ChangeSeen::WithinError,
            },
        }
    }
}

/// The highest rung somebody did on a leg.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Reached {
    /// The leg; null where both work alike.
    pub leg: Option<Side>,
    /// The exercise.
    pub rung: Rung,
    /// Day of its first session.
    pub since: Date,
}

/// What makes a trend less sure.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "caution")]
pub enum Caution {
    /// The same clip more than once.
    SameClip {
        /// The sessions.
        ids: Vec<String>,
    },
    /// Sessions of one exercise on seats of different height, or of unknown height.
    Seats {
        /// Some height was not told.
        unknown: bool,
        /// More than one height was told.
        different: bool,
    },
    /// Sessions that stand on the day they were kept, as nobody knows when they were filmed.
    DayUnknown {
        /// The sessions.
        ids: Vec<String>,
    },
    /// Sessions nobody has signed off.
    NotReviewed {
        /// How many.
        sessions: usize,
        /// Of how many.
        of: usize,
    },
    /// A session of which many reps could not be judged.
    ManyNotJudged {
        /// The session.
        id: String,
        /// Reps that could not be judged.
        not_judged: usize,
        /// Of how many.
        reps: usize,
    },
    /// The number of reps that is aimed at was not always the same.
    OtherTarget,
}

/// The document `trend.json`.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trend {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Code of the person, if there is one.
    pub person: Option<String>,
    /// How far each leg has come on the ladder of exercises.
    pub reached: Vec<Reached>,
    /// Sessions that can be compared, by leg, exercise and seat.
    pub series: Vec<Series>,
    /// What makes it less sure.
    pub cautions: Vec<Caution>,
}

impl Trend {
    /// Follows the sessions of one person, in whichever order they come.
    pub fn of(person: Option<String>, mut sessions: Vec<Dated>, repeats: &Repeats) -> Self {
        sessions.sort_by_key(|s| s.recorded_at);
        let mut reached: BTreeMap<Option<Side>, Reached> = BTreeMap::new();
        for session in &sessions {
            let SessionSummary { leg, rung, .. } = session.summary;
            let higher = reached.get(&leg).is_none_or(|before| rung > before.rung);
            if higher {
                reached.insert(leg, Reached { leg, rung, since: session.day() });
            }
        }
        let cautions = cautions(&sessions);
        let mut series: BTreeMap<Alike, Vec<Dated>> = BTreeMap::new();
        for session in sessions {
            series.entry(alike(&session.summary)).or_default().push(session);
        }
        Self {
            schema: SCHEMA,
            person,
            reached: reached.into_values().collect(),
            series: series.into_values().filter_map(|all| Series::of(all, repeats)).collect(),
            cautions,
        }
    }

    /// The series that was added to last.
    pub fn latest(&self) -> Option<&Series> {
        self.series.iter().max_by_key(|s| s.last().map(|last| last.recorded_at))
    }
}

fn cautions(sessions: &[Dated]) -> Vec<Caution> {
    let mut found = Vec::new();
    let mut clips: BTreeMap<&str, Vec<String>> = BTreeMap::new();
    for session in sessions.iter().filter(|s| !s.summary.clip_sha256.is_empty()) {
        clips.entry(&session.summary.clip_sha256).or_default().push(session.id.clone());
    }
    let twice = clips.into_values().filter(|ids| ids.len() > 1);
    found.extend(twice.map(|ids| Caution::SameClip { ids }));
    let undated = sessions.iter().filter(|s| !s.day_known).map(|s| s.id.clone());
    let ids: Vec<String> = undated.collect();
    if !ids.is_empty() {
        found.push(Caution::DayUnknown { ids });
    }
    let mut seats: BTreeMap<_, Vec<Option<i64>>> = BTreeMap::new();
    for session in sessions {
        let (leg, rung, seat_cm) = alike(&session.summary);
        let known = seats.entry((leg, rung)).or_default();
        if !known.contains(&seat_cm) {
            known.push(seat_cm);
        }
    }
    let unknown = seats.values().any(|known| known.contains(&None));
    let different = seats.values().any(|known| known.iter().flatten().count() > 1);
    if unknown || different {
        found.push(Caution::Seats { unknown, different });
    }
    if sessions.windows(2).any(|pair| pair[0].summary.target != pair[1].summary.target) {
        found.push(Caution::OtherTarget);
    }
    for session in sessions {
        let SessionSummary { reps, not_judged, .. } = session.summary;
        if not_judged as f64 > NOT_JUDGED_SHARE_MAX * reps as f64 {
            found.push(Caution::ManyNotJudged { id: session.id.clone(), not_judged, reps });
        }
    }
    let signed = |s: &&Dated| matches!(s.summary.review, ReviewState::SignedOff { .. });
    let open = sessions.len() - sessions.iter().filter(signed).count();
    if open > 0 {
        found.push(Caution::NotReviewed { sessions: open, of: sessions.len() });
    }
    found
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use crate::session::summary::Spread;

    fn tracked(key: &str) -> Tracked {
        Tracked::all().find(|tracked| tracked.key() == key).unwrap()
    }

    /// A session on the right leg of somebody fictional.
    pub(crate) fn session(id: &str, at: &str, clean: usize, measures: &[(&str, f64)]) -> Dated {
        let spread =
            |mean| Spread { n: 5, mean, standard_deviation: Some(0.1), standard_error: Some(0.3) };
        let summary = SessionSummary {
            clip_sha256: id.into(),
            recorded_at: None,
            rung: Rung::SingleLeg,
            leg: Some(Side::Right),
            seat_height_m: Some(0.45),
            reps: 22,
            clean,
            faulted: 22 - clean,
            not_judged: 0,
            longest_clean_run: clean / 2,
            target: 22,
            review: ReviewState::NotReviewed,
            measures: measures.iter().map(|(name, m)| (name.to_string(), spread(*m))).collect(),
        };
        let recorded_at = format!("{at}T10:00:00Z").parse().unwrap();
        Dated { id: id.into(), recorded_at, day_known: true, summary }
    }

    fn changes<'a>(trend: &'a Trend, measure: &str) -> (&'a Change, &'a Change) {
        let course = trend.series[0].course(measure).unwrap();
        (course.since_first.as_ref().unwrap(), course.since_last_time.as_ref().unwrap())
    }

    /// About six rises are not change, seven are; 8° of FPPA are the published limit
    /// ([Munro2012]).
    #[test]
    fn change_is_called_so_only_beyond_what_is_detectable() {
        let sessions = vec![
            session("c", "2026-05-18", 15, &[("fppa_peak_deg", 4.0)]),
            session("a", "2026-05-04", 8, &[("fppa_peak_deg", 12.5)]),
            session("b", "2026-05-11", 9, &[("fppa_peak_deg", 11.9)]),
        ];
        let trend = Trend::of(Some("K7-M2".into()), sessions, &Repeats::default());
        let (first, last) = changes(&trend, "clean");
        assert_eq!((first.from, first.to, first.difference), (0, 2, Some(7.0)));
        assert_eq!((first.outcome, first.source), (ChangeSeen::Changed, Some(Basis::FromMemory)));
        assert_eq!((last.from, last.difference), (1, Some(6.0)));
        assert_eq!(last.outcome, ChangeSeen::WithinError);
        let (first, last) = changes(&trend, "fppa_peak_deg");
        assert_eq!((first.difference, first.outcome), (Some(-8.5), ChangeSeen::Changed));
        assert_eq!((last.difference, last.outcome), (Some(-7.9), ChangeSeen::WithinError));
        assert_eq!(last.source, Some(Basis::Published { key: "Munro2012" }));
        // Of a run nobody has published anything.
        let (first, _) = changes(&trend, "longest_clean_run");
        assert_eq!((first.outcome, first.detectable), (ChangeSeen::CannotTell, None));
    }

    /// Three pairs on three days, 0.2 apart: squares 3 × 0.02, MS 0.02, SEM 0.1414, and with
    /// Student's t of three degrees of freedom (3.182) 0.636. The two standard errors of 0.3
    /// allow 0.83, which is more.
    #[test]
    fn repeats_on_one_day_teach_what_is_detectable() {
        let pair = |n: &str, at: &str| {
            [
                session(&format!("{n}1"), at, 8, &[("wobble_cm", 1.0)]),
                session(&format!("{n}2"), at, 8, &[("wobble_cm", 1.2)]),
            ]
        };
        let mut sessions = [pair("a", "2026-05-04"), pair("b", "2026-05-11")].concat();
        let learn = |sessions: &[Dated]| Repeats::of(sessions.iter().map(|s| ("K7-M2", s)));
        let wobble =
            |sessions: &[Dated]| learn(sessions).get(Rung::SingleLeg, tracked("wobble_cm"));
        assert_eq!(wobble(&sessions), None, "two degrees of freedom are too few");
        sessions.push(session("c1", "2026-05-18", 8, &[("wobble_cm", 0.2)]));
        sessions.push(sessions[4].clone());
        assert_eq!(wobble(&sessions), None, "the same clip is no repeat");
        sessions[5] = session("c2", "2026-05-18", 8, &[("wobble_cm", 0.4)]);
        let within = wobble(&sessions).unwrap();
        assert_eq!((within.groups, within.degrees_of_freedom), (3, 3));
        assert!((within.detectable - 3.182 * 2f64.sqrt() * 0.02f64.sqrt()).abs() < 1e-3);
        let repeats = learn(&sessions);
        // Counts that never differ teach nothing.
        assert_eq!(repeats.get(Rung::SingleLeg, tracked("clean")), None);
        assert_eq!(repeats.get(Rung::Lowering, tracked("wobble_cm")), None);

        let trend = Trend::of(None, sessions.clone(), &repeats);
        let (first, last) = changes(&trend, "wobble_cm");
        assert_eq!((first.from, last.from, last.to), (0, 3, 5), "an earlier day");
        assert_eq!((first.difference, first.outcome), (Some(-0.6), ChangeSeen::WithinError));
        assert_eq!((last.difference, last.outcome), (Some(-0.8), ChangeSeen::WithinError));
        assert_eq!(last.source, Some(Basis::MeasurementError));
        assert!((last.detectable.unwrap() - 1.96 * 0.3 * 2f64.sqrt()).abs() < 1e-3);
        for s in &mut sessions {
            s.summary.measures.get_mut("wobble_cm").unwrap().standard_error = Some(0.01);
        }
        let trend = Trend::of(None, sessions, &repeats);
        let (_, last) = changes(&trend, "wobble_cm");
        assert_eq!(last.outcome, ChangeSeen::Changed);
        assert_eq!(last.source, Some(Basis::Repeats { groups: 3, degrees_of_freedom: 3 }));
    }

    #[test]
    fn nothing_known_nothing_called_change() {
        let sessions = vec![
            session("a", "2026-05-04", 8, &[("wobble_cm", 9.0)]),
            session("b", "2026-05-11", 8, &[("wobble_cm", 1.0)]),
        ];
        let trend = Trend::of(None, sessions, &Repeats::default());
        let (first, _) = changes(&trend, "wobble_cm");
        assert_eq!((first.difference, first.outcome), (Some(-8.0), ChangeSeen::CannotTell));
    }

    #[test]
    fn other_rungs_and_seats_are_never_compared() {
        let mut sessions: Vec<Dated> = ["2026-05-04", "2026-05-11", "2026-05-18", "2026-05-25"]
            .into_iter()
            .map(|at| session(at, at, 8, &[]))
            .collect();
        sessions[0].summary.rung = Rung::Lowering;
        sessions[1].summary.seat_height_m = Some(0.5);
        let trend = Trend::of(None, sessions.clone(), &Repeats::default());
        assert_eq!(trend.series.iter().map(|s| s.sessions.len()).collect::<Vec<_>>(), [1, 2, 1]);
        assert_eq!(trend.latest().unwrap().last().unwrap().id, "2026-05-25");
        assert!(trend.series[0].courses.iter().all(|c| c.since_first.is_none()));
        let reached = &trend.reached[0];
        assert_eq!((reached.rung, reached.since), (Rung::SingleLeg, sessions[1].day()));
        assert!(trend.cautions.contains(&Caution::Seats { unknown: false, different: true }));
        let open = Caution::NotReviewed { sessions: 4, of: 4 };
        assert!(trend.cautions.contains(&open));
        // Two sessions of one day: no time has passed between them.
        let same = vec![session("a", "2026-05-04", 8, &[]), session("b", "2026-05-04", 9, &[])];
        let trend = Trend::of(None, same, &Repeats::default());
        assert!(trend.series[0].courses.iter().all(|c| c.since_first.is_none()));
        assert_eq!(Trend::of(None, Vec::new(), &Repeats::default()).series, []);
    }
}
