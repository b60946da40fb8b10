//! What page and paper print, as text and in order: one source for both.

use serde::Serialize;

use super::wording::headings::{self, FACTS, NUMBERS, TOTALS, WORDS, Words};
use crate::film_check::Finding;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Outcome, Reason, Rep, Verdict};
use crate::references;
use crate::report::content::Content;
use crate::report::measures::{MEASURES, Measure};
use crate::report::plots;
use crate::report::wording::{self, film};
use crate::session::{KeyPicture, Plot, Session};

/// A label and what is said to it.
pub(super) type Fact = (&'static str, String);

#[derive(Serialize)]
pub(super) struct Sheet {
    pub words: &'static Words,
    pub title: &'static str,
    /// The clip's name, on every page.
    pub clip: String,
    pub date: Day,
    pub keywords: &'static [&'static str],
    pub headline: String,
    /// Reviewed or not.
    pub state: String,
    pub facts: Vec<Fact>,
    pub findings: Vec<String>,
    /// Everything that was said in the review, in order.
    pub review: Vec<String>,
    pub totals: Vec<Fact>,
    pub look: Vec<String>,
    pub notes: Vec<String>,
    /// Aspects of the filming: what, how good, with which number.
    pub film: Vec<(&'static str, String, String)>,
    pub cautions: Vec<String>,
    pub columns: &'static [(&'static str, &'static str)],
    pub reps: Vec<RepSheet>,
    pub set_plots: Vec<PlotSheet>,
    pub drift_is: &'static str,
    pub drift: Vec<Fact>,
    pub not_judged: Vec<String>,
    pub definitions: Vec<DefinitionSheet>,
    pub limits: Vec<LimitSheet>,
    pub sources: Vec<(&'static str, &'static str)>,
}

#[derive(Serialize)]
pub(super) struct Day {
    pub year: i16,
    pub month: i8,
    pub day: i8,
}

impl Day {
    pub(super) fn of(date: jiff::civil::Date) -> Self {
        Self { year: date.year(), month: date.month(), day: date.day() }
    }
}

#[derive(Serialize)]
pub(super) struct RepSheet {
    pub number: usize,
    /// A sign for those who skim; the word stands beside it.
    pub mark: char,
    pub verdict: &'static str,
    pub clean: bool,
    pub reasons: String,
    /// What the review changed, and its notes on the rep.
    pub review: Vec<String>,
    pub row: Vec<String>,
    pub numbers: Vec<Fact>,
    pub plots: Vec<PlotSheet>,
    pub pictures: Vec<PictureSheet>,
}

#[derive(Serialize)]
pub(super) struct PlotSheet {
    pub title: String,
    pub alternative: String,
    pub svg: String,
}

#[derive(Serialize)]
pub(super) struct PictureSheet {
    pub file: String,
    pub shows: String,
}

#[derive(Serialize)]
pub(super) struct DefinitionSheet {
    pub name: &'static str,
    /// What it is called with each rep, if it is told there.
    pub label: Option<&'static str>,
    pub definition: &'static str,
    pub formula: &'static str,
    pub unit: &'static str,
    pub validity: &'static str,
    pub source: &'static str,
}

#[derive(Serialize)]
pub(super) struct LimitSheet {
    pub name: String,
    pub value: String,
    pub source: String,
}

/// Name of the file of the n-th picture.
pub(super) fn picture_file(number: usize) -> String {
    format!("picture-{number}.jpg")
}

impl Sheet {
    pub(super) fn of(content: &Content) -> Self {
        let Session { machine, review, in_force: a, criteria } = content.session;
        Self {
            words: &WORDS,
            title: headings::TITLE,
            clip: a.clip.file.clone(),
            date: Day::of(content.date),
            keywords: &headings::KEYWORDS,
            headline: wording::headline(a),
            state: wording::review::state(content.session.state()),
            facts: facts(content, a),
            review: review
                .as_ref()
                .map_or(Vec::new(), |review| wording::review::record(review, machine)),
            findings: wording::findings(a),
            totals: totals(a),
            look: wording::worth_a_look(a, criteria),
            notes: a.notes.clone(),
            film: a.film.iter().map(film_row).collect(),
            cautions: a.cautions.clone(),
            columns: &headings::COLUMNS,
            reps: a.reps.iter().enumerate().map(|(i, rep)| rep_sheet(content, i, rep)).collect(),
            set_plots: plots::set_plots(a, criteria).iter().map(plot_sheet).collect(),
            drift_is: headings::DRIFT_IS,
            drift: drift(a),
            not_judged: not_judged(a),
            definitions: MEASURES.iter().map(definition).collect(),
            limits: limits(criteria),
            sources: sources(criteria),
        }
    }
}

fn film_row(finding: &Finding) -> (&'static str, String, String) {
    let (mark, grade) = film::grade(finding.grade);
    (film::aspect(finding.aspect), format!("{mark} {grade}"), film::measured(finding))
}

fn facts(content: &Content, a: &Assessment) -> Vec<Fact> {
    let mut stature = format!("{:.0} cm", 100.0 * a.scale.stature_m);
    if a.told.stature_m.is_none() {
        stature = format!("{stature}, {}", FACTS.stature_estimated);
    }
    vec![
        (FACTS.clip, a.clip.file.clone()),
        (FACTS.date, content.date.strftime("%-d %B %Y").to_string()),
        (FACTS.exercise, a.rung.words().into()),
        (FACTS.leg, a.leg.map_or(FACTS.both_legs, |leg| leg.word()).into()),
        (FACTS.length, format!("{:.0} s", a.clip.duration_s)),
        (FACTS.rate, format!("{:.0}", a.clip.frame_rate_hz)),
        (FACTS.stature, stature),
        (FACTS.program, format!("plumbrise {}", a.program_version)),
        (FACTS.checksum, a.clip.sha256.clone()),
    ]
}

fn totals(a: &Assessment) -> Vec<Fact> {
    let set = &a.set;
    let target = if set.target_met { TOTALS.reached } else { TOTALS.not_reached };
    vec![
        (TOTALS.reps, set.reps.to_string()),
        (TOTALS.clean, set.clean.to_string()),
        (TOTALS.faulted, set.faulted.to_string()),
        (TOTALS.not_judged, set.not_judged.to_string()),
        (TOTALS.run, set.longest_clean_run.to_string()),
        (TOTALS.target, format!("{}: {target}", set.target)),
    ]
}

fn rep_sheet(content: &Content, at: usize, rep: &Rep) -> RepSheet {
    let session = content.session;
    let reasons = wording::reasons(&rep.reasons);
    let mark = wording::mark(rep.judgement);
    let verdict = wording::verdict(rep.judgement);
    let known = rep.numbers();
    let number = |name: &str, digits: usize| {
        let value = known.iter().find(|(n, _)| n == name).and_then(|(_, value)| *value);
        wording::with_error(value, rep.standard_error.get(name).copied(), digits)
    };
    // In the table only the knee carries its standard error, as in the terminal.
    let short = |value: Option<f64>, digits: usize| wording::with_error(value, None, digits);
    RepSheet {
        number: rep.number,
        mark,
        verdict,
        clean: rep.judgement == Verdict::Clean,
        row: vec![
            rep.number.to_string(),
            format!("{mark} {verdict}"),
            short(rep.seat_off_s, 1),
            short(rep.rise_s, 1),
            short(rep.descent_s, 1),
            short(rep.descent_final_m_s, 2),
            number("knee_offset_peak_cm", 1),
            short(rep.wobble_cm, 1),
            reasons.clone(),
        ],
        reasons,
        review: session
            .review
            .as_ref()
            .zip(session.machine.reps.get(at))
            .map_or(Vec::new(), |(review, machine)| wording::review::of_rep(review, machine)),
        numbers: NUMBERS
            .iter()
            .map(|(name, label, unit, digits)| {
                (*label, wording::with_unit(&number(name, *digits), unit))
            })
            .collect(),
        plots: content.figures.rep_plots.get(at).into_iter().flatten().map(plot_sheet).collect(),
        pictures: pictures(&content.figures.pictures, rep.number),
    }
}

impl RepSheet {
    /// A number with its label, by the number's name in the document.
    pub(super) fn number_called(&self, name: &str) -> Option<Fact> {
        let at = NUMBERS.iter().position(|(n, ..)| *n == name)?;
        self.numbers.get(at).cloned()
    }
}

fn plot_sheet(plot: &Plot) -> PlotSheet {
    let Plot { title, alternative, svg } = plot.clone();
    PlotSheet { title, alternative, svg }
}

fn pictures(all: &[KeyPicture], rep: usize) -> Vec<PictureSheet> {
    let own = all.iter().enumerate().filter(|(_, picture)| picture.rep == rep);
    own.map(|(number, picture)| PictureSheet {
        file: picture_file(number),
        shows: format!("{:.2} s: {}", picture.time_s, headings::moment(picture.moment)),
    })
    .collect()
}

fn drift(a: &Assessment) -> Vec<Fact> {
    let Some(drift) = &a.set.drift else { return Vec::new() };
    let values = [drift.knee_offset_cm, drift.wobble_cm, drift.rise_s, drift.descent_s];
    let pairs = headings::DRIFT.iter().zip(values);
    pairs
        .filter_map(|((label, unit), value)| {
            Some((*label, wording::with_unit(&wording::signed(value?, 1), unit)))
        })
        .collect()
}

/// One sentence for each criterion and reason for which it could not be judged.
fn not_judged(a: &Assessment) -> Vec<String> {
    let mut open: Vec<(Reason, Option<Reason>, Vec<usize>)> = Vec::new();
    for rep in &a.reps {
        for c in rep.criteria.iter().filter(|c| c.outcome == Outcome::CannotJudge) {
            match open.iter_mut().find(|(what, why, _)| (*what, *why) == (c.criterion, c.because)) {
                Some((_, _, reps)) => reps.push(rep.number),
                None => open.push((c.criterion, c.because, vec![rep.number])),
            }
        }
    }
    if open.is_empty() {
        return vec![headings::ALL_JUDGED.into()];
    }
    let sentence = |(what, why, reps): &(Reason, Option<Reason>, Vec<usize>)| {
        let why = why.map_or(String::new(), |why| format!(": {}", wording::short(why)));
        format!("{}, {}{why}.", headings::about(*what), wording::rep_list(reps))
    };
    open.iter().map(sentence).collect()
}

fn definition(m: &Measure) -> DefinitionSheet {
    let Measure { name, definition, formula, unit, validity, source } = *m;
    let label = NUMBERS.iter().find(|(number, ..)| *number == name).map(|(_, label, ..)| *label);
    DefinitionSheet { name, label, definition, formula, unit, validity, source }
}

fn limits(criteria: &Criteria) -> Vec<LimitSheet> {
    let limits = criteria.limits().into_iter();
    limits
        .map(|(name, limit)| LimitSheet {
            name: name.to_owned(),
            value: format!("{} {}", limit.value, limit.unit),
            source: limit.source.clone(),
        })
        .collect()
}

/// The publications behind measures and limits.
fn sources(criteria: &Criteria) -> Vec<(&'static str, &'static str)> {
    let limits = criteria.limits();
    references::cited(|key| {
        MEASURES.iter().any(|m| m.cites(key)) || limits.iter().any(|(_, l)| l.source.contains(key))
    })
}
