//! What page and paper print, as text and in order: one source for both.

use super::wording::headings::{self, FACTS, TOTALS, WORDS, Words};
use crate::film_check::Finding;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Outcome, Reason, Rep, Verdict};
use crate::judgement::measures::{self, Column, Explained, Kind, Measure};
use crate::references;
use crate::report::content::Content;
use crate::report::plots;
use crate::report::wording::{self, film};
use crate::session::{KeyPicture, Plot, Session};

/// A label and what is said to it.
pub(super) type Fact = (&'static str, String);

pub(super) struct Sheet {
    pub words: &'static Words,
    pub title: &'static str,
    /// The clip's name, on every page.
    pub clip: String,
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
    /// Heads of the table of reps: name, and unit below it.
    pub columns: Vec<(&'static str, &'static str)>,
    pub reps: Vec<RepSheet>,
    pub set_plots: Vec<PlotSheet>,
    pub drift_is: &'static str,
    pub drift: Vec<Fact>,
    pub not_judged: Vec<String>,
    pub definitions: Vec<DefinitionSheet>,
    pub limits: Vec<LimitSheet>,
    pub sources: Vec<(&'static str, &'static str)>,
}

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
    /// The few that are seen at once.
    pub short: Vec<Fact>,
    pub plots: Vec<PlotSheet>,
    pub pictures: Vec<PictureSheet>,
}

pub(super) struct PlotSheet {
    pub title: String,
    pub alternative: String,
    pub svg: String,
}

pub(super) struct PictureSheet {
    /// The picture as a JPEG file.
    pub jpeg: Vec<u8>,
    pub shows: String,
}

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

pub(super) struct LimitSheet {
    pub name: String,
    pub value: String,
    pub source: String,
}

impl Sheet {
    pub(super) fn of(content: &Content) -> Self {
        let Session { machine, review, in_force: a, criteria } = content.session;
        Self {
            words: &WORDS,
            title: headings::TITLE,
            clip: a.clip.file.clone(),
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
            cautions: wording::cautions(a),
            columns: columns(),
            reps: a.reps.iter().enumerate().map(|(i, rep)| rep_sheet(content, i, rep)).collect(),
            set_plots: plots::set_plots(a, criteria).iter().map(plot_sheet).collect(),
            drift_is: headings::DRIFT_IS,
            drift: drift(a),
            not_judged: not_judged(a),
            definitions: definitions(),
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
    let number = |measure: &Measure| {
        let text = wording::with_error((measure.of)(rep), measure.error(rep), measure.digits);
        wording::with_unit(&text, measure.unit.shown())
    };
    RepSheet {
        number: rep.number,
        mark,
        verdict,
        clean: rep.judgement == Verdict::Clean,
        row: [rep.number.to_string(), format!("{mark} {verdict}")]
            .into_iter()
            .chain(measures::in_table().map(|(measure, column)| in_column(measure, column, rep)))
            .chain([reasons.clone()])
            .collect(),
        reasons,
        review: session
            .review
            .as_ref()
            .zip(session.machine.reps.get(at))
            .map_or(Vec::new(), |(review, machine)| wording::review::of_rep(review, machine)),
        numbers: measures::with_each_rep().map(|m| (m.label, number(m))).collect(),
        short: measures::in_table()
            .filter(|(m, _)| m.kind != Kind::Time)
            .map(|(m, _)| (m.label, number(m)))
            .collect(),
        plots: content.figures.rep_plots.get(at).into_iter().flatten().map(plot_sheet).collect(),
        pictures: pictures(&content.figures.pictures, rep.number),
    }
}

/// A measure in its column of the table of reps; its standard error only where the column
/// says so.
pub(super) fn in_column(measure: &Measure, column: Column, rep: &Rep) -> String {
    let error = measure.error(rep).filter(|_| column.with_error);
    wording::with_error((measure.of)(rep), error, column.digits)
}

fn columns() -> Vec<(&'static str, &'static str)> {
    let measures = measures::in_table().map(|(_, column)| (column.head, column.unit));
    headings::REP_AND_VERDICT
        .into_iter()
        .map(|head| (head, ""))
        .chain(measures)
        .chain([(headings::WHY, "")])
        .collect()
}

fn plot_sheet(plot: &Plot) -> PlotSheet {
    let Plot { title, alternative, svg } = plot.clone();
    PlotSheet { title, alternative, svg }
}

fn pictures(all: &[KeyPicture], rep: usize) -> Vec<PictureSheet> {
    let own = all.iter().filter(|picture| picture.rep == rep);
    own.map(|picture| PictureSheet {
        jpeg: picture.jpeg.clone(),
        shows: format!("{:.2} s: {}", picture.time_s, headings::moment(picture.moment)),
    })
    .collect()
}

fn drift(a: &Assessment) -> Vec<Fact> {
    let Some(drift) = &a.set.drift else { return Vec::new() };
    let values = [drift.knee_offset_cm, drift.wobble_cm, drift.rise_s, drift.descent_s];
    let pairs = headings::DRIFT.iter().zip(values);
    pairs
        .filter_map(|(measure, value)| {
            let change = wording::signed(value?, 1);
            Some((measure.label, wording::with_unit(&change, measure.unit.shown())))
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

/// What is told in the report, and what else needs to be known to read it.
fn definitions() -> Vec<DefinitionSheet> {
    let sheet = |it: &Explained, label| {
        let Explained { key: name, definition, formula, reads: unit, validity, source } = *it;
        DefinitionSheet { name, label, definition, formula, unit, validity, source }
    };
    told().map(|(it, label)| sheet(it, label)).collect()
}

/// What there is to explain, and its label.
fn told() -> impl Iterator<Item = (&'static Explained, Option<&'static str>)> {
    let told = measures::with_each_rep().map(|m| (&m.about, Some(m.label)));
    told.chain(measures::OTHERS.iter().map(|it| (it, None)))
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
        told().any(|(it, _)| it.cites(key)) || limits.iter().any(|(_, l)| l.source.contains(key))
    })
}
