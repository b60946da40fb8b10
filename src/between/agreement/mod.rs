//! How far an assessment agrees with a clinician's own labels.

pub mod labels;
mod matching;

use serde::Serialize;

use crate::judgement::document::{Assessment, Outcome, Reason, Rep, Verdict};
use crate::judgement::measures::Measure;
use crate::statistics::{
    Differences, Interval, Limits, NoKappa, YesNo, differences, repeated_limits,
};
use labels::{Label, Labels, REASONS};

/// Version of the document.
pub const SCHEMA: &str = "plumbrise.agreement/1";

/// A session and the labels of the same set.
#[derive(Debug, Clone)]
pub struct Set {
    /// What the session is called.
    pub session: String,
    /// What the table of labels is called.
    pub labels_file: String,
    /// How the program judged.
    pub assessment: Assessment,
    /// How the clinician did.
    pub labels: Labels,
}

/// The document: agreement over all sets.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    /// [`SCHEMA`].
    pub schema: &'static str,
    /// Version of the program that compared.
    pub program_version: &'static str,
    /// Sets compared.
    pub sets: Vec<Compared>,
    /// Reps matched in all sets.
    pub matched: usize,
    /// Verdict and reasons.
    pub yes_no: Vec<YesNoAgreement>,
    /// Measures.
    pub numbers: Vec<NumberAgreement>,
}

/// How the rows of one set were found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Compared {
    /// What the session is called.
    pub session: String,
    /// What the table of labels is called.
    pub labels_file: String,
    /// Reps matched to a row by time.
    pub matched_by_time: usize,
    /// Reps matched to a row by number.
    pub matched_by_number: usize,
    /// Numbers of the reps without a row.
    pub only_tool_reps: Vec<usize>,
    /// Lines of the rows without a rep.
    pub only_clinician_lines: Vec<usize>,
}

/// A rep on which the two differ.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Place {
    /// Index into [`Agreement::sets`].
    pub set: usize,
    /// Number of the rep.
    pub rep: usize,
    /// Line in the table of labels.
    pub line: usize,
}

/// Why there is no kappa.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyNoKappa {
    /// No rep with an answer of both.
    NothingCompared,
    /// The program gave the same answer to all.
    ToolNeverVaries,
    /// The clinician gave the same answer to all.
    ClinicianNeverVaries,
    /// Both did.
    NeitherVaries,
}

/// Agreement on a yes-or-no question. Shares and indices as defined at
/// [`YesNo`]; null where they would be 0/0.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct YesNoAgreement {
    /// `faulted`, or a reason as in the document of a session.
    pub question: &'static str,
    /// Reps with an answer of both.
    pub compared: usize,
    pub both: usize,
    pub only_tool: usize,
    pub only_clinician: usize,
    pub neither: usize,
    /// Matched reps on which the clinician gave an answer and the program none.
    pub tool_silent: usize,
    /// Matched reps on which the clinician gave no answer.
    pub clinician_silent: usize,
    pub agreement_percent: Option<f64>,
    pub kappa: Option<f64>,
    /// Null also where no two answers differ.
    pub kappa_standard_error: Option<f64>,
    pub kappa_interval: Option<Interval>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_kappa_because: Option<WhyNoKappa>,
    pub positive_agreement: Option<f64>,
    pub negative_agreement: Option<f64>,
    pub prevalence_index: Option<f64>,
    /// Positive where the program says yes more often.
    pub bias_index: Option<f64>,
    /// Where they differ.
    pub differ: Vec<Place>,
}

/// How the limits of agreement were computed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Method {
    /// Every rep independent of the others [Bland1999].
    Independent,
    /// Several reps of each session, a session a person [Bland2007].
    Repeated,
}

/// Agreement on a measure: program less clinician, in the measure's own unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[allow(missing_docs)]
pub struct NumberAgreement {
    /// What is compared.
    pub measure: &'static Measure,
    /// Reps with a number of both.
    pub compared: usize,
    /// Sessions these are from.
    pub sessions: usize,
    pub tool_silent: usize,
    pub clinician_silent: usize,
    /// Null with fewer than two reps.
    pub method: Option<Method>,
    pub mean_difference: Option<f64>,
    pub mean_interval: Option<Interval>,
    pub standard_deviation: Option<f64>,
    pub limits: Option<Limits>,
    pub smallest_difference: Option<f64>,
    pub largest_difference: Option<f64>,
}

/// One matched rep.
struct Pair<'a> {
    set: usize,
    rep: &'a Rep,
    row: &'a Label,
}

/// Compares every set and pools them. Questions and measures on which the
/// clinician said nothing are left out.
pub fn compare(sets: &[Set]) -> Agreement {
    let mut compared = Vec::new();
    let mut pairs: Vec<Pair> = Vec::new();
    for (index, set) in sets.iter().enumerate() {
        let (reps, rows) = (&set.assessment.reps, &set.labels.rows);
        let found = matching::matched(reps, rows);
        let mut own: Vec<(usize, usize)> =
            found.by_time.iter().chain(&found.by_number).copied().collect();
        own.sort_unstable();
        let free_rep = |i: &usize| own.iter().all(|(rep, _)| rep != i);
        let free_row = |j: &usize| own.iter().all(|(_, row)| row != j);
        compared.push(Compared {
            session: set.session.clone(),
            labels_file: set.labels_file.clone(),
            matched_by_time: found.by_time.len(),
            matched_by_number: found.by_number.len(),
            only_tool_reps: (0..reps.len()).filter(free_rep).map(|i| reps[i].number).collect(),
            only_clinician_lines: (0..rows.len()).filter(free_row).map(|j| rows[j].line).collect(),
        });
        pairs.extend(own.iter().map(|(i, j)| Pair { set: index, rep: &reps[*i], row: &rows[*j] }));
    }

    let verdict = yes_no("faulted", &pairs, |p| (faulted(p.rep.judgement), said_faulted(p.row)));
    let reasons = REASONS.iter().enumerate().map(|(i, (name, reason))| {
        yes_no(name, &pairs, |p| (failed(p.rep, *reason), p.row.reasons[i]))
    });
    let asked = |a: &YesNoAgreement| a.compared + a.tool_silent > 0;

    let mut measures: Vec<&'static Measure> = Vec::new();
    for measure in sets.iter().flat_map(|set| &set.labels.numbers) {
        if !measures.contains(measure) {
            measures.push(measure);
        }
    }
    let numbers = measures.into_iter().map(|measure| number(measure, sets, &pairs));
    Agreement {
        schema: SCHEMA,
        program_version: env!("CARGO_PKG_VERSION"),
        matched: pairs.len(),
        yes_no: std::iter::once(verdict).chain(reasons).filter(asked).collect(),
        numbers: numbers.filter(|n| n.compared + n.tool_silent > 0).collect(),
        sets: compared,
    }
}

/// True for faulted, false for clean, None for not judged.
fn faulted(verdict: Verdict) -> Option<bool> {
    match verdict {
        Verdict::Clean => Some(false),
        Verdict::Faulted => Some(true),
        Verdict::NotJudged => None,
    }
}

fn said_faulted(row: &Label) -> Option<bool> {
    row.judgement.and_then(faulted)
}

/// Whether a rep failed a criterion; None where it was not or could not be
/// judged by it.
fn failed(rep: &Rep, reason: Reason) -> Option<bool> {
    match rep.criteria.iter().find(|c| c.criterion == reason)?.outcome {
        Outcome::Met => Some(false),
        Outcome::NotMet => Some(true),
        Outcome::CannotJudge => None,
    }
}

fn yes_no(
    question: &'static str,
    pairs: &[Pair],
    answers: impl Fn(&Pair) -> (Option<bool>, Option<bool>),
) -> YesNoAgreement {
    let mut counts = YesNo::default();
    let (mut tool_silent, mut clinician_silent) = (0, 0);
    let mut differ = Vec::new();
    for pair in pairs {
        match answers(pair) {
            (Some(tool), Some(clinician)) => {
                counts.add(tool, clinician);
                if tool != clinician {
                    differ.push(Place { set: pair.set, rep: pair.rep.number, line: pair.row.line });
                }
            }
            (None, Some(_)) => tool_silent += 1,
            (_, None) => clinician_silent += 1,
        }
    }
    let kappa = counts.kappa();
    let known = kappa.ok();
    YesNoAgreement {
        question,
        compared: counts.total(),
        both: counts.both,
        only_tool: counts.only_first,
        only_clinician: counts.only_second,
        neither: counts.neither,
        tool_silent,
        clinician_silent,
        agreement_percent: counts.agreement().map(|share| 100.0 * share),
        kappa: known.map(|k| k.value),
        kappa_standard_error: known.and_then(|k| k.standard_error),
        kappa_interval: known.and_then(|k| k.interval()),
        no_kappa_because: kappa.err().map(|why| match why {
            NoKappa::Nothing => WhyNoKappa::NothingCompared,
            NoKappa::RowsNeverVary => WhyNoKappa::ToolNeverVaries,
            NoKappa::ColumnsNeverVary => WhyNoKappa::ClinicianNeverVaries,
            NoKappa::NeitherVaries => WhyNoKappa::NeitherVaries,
        }),
        positive_agreement: counts.positive_agreement(),
        negative_agreement: counts.negative_agreement(),
        prevalence_index: counts.prevalence_index(),
        bias_index: counts.bias_index(),
        differ,
    }
}

fn number(measure: &'static Measure, sets: &[Set], pairs: &[Pair]) -> NumberAgreement {
    let mut groups: Vec<Vec<f64>> = vec![Vec::new(); sets.len()];
    let (mut tool_silent, mut clinician_silent) = (0, 0);
    for pair in pairs {
        let columns = &sets[pair.set].labels.numbers;
        let column = columns.iter().position(|of| *of == measure);
        let clinician = column.and_then(|c| pair.row.numbers[c]);
        match ((measure.of)(pair.rep), clinician) {
            (Some(tool), Some(clinician)) => groups[pair.set].push(tool - clinician),
            (None, Some(_)) => tool_silent += 1,
            (_, None) => clinician_silent += 1,
        }
    }
    let repeated = repeated_limits(&groups);
    let method = match repeated {
        Some(_) => Method::Repeated,
        None => Method::Independent,
    };
    let sample: Option<Differences> = repeated.or_else(|| differences(&groups.concat()));
    NumberAgreement {
        measure,
        compared: sample.map_or(0, |d| d.n),
        sessions: groups.iter().filter(|g| !g.is_empty()).count(),
        tool_silent,
        clinician_silent,
        method: sample.and_then(|d| d.limits).map(|_| method),
        mean_difference: sample.map(|d| d.mean),
        mean_interval: sample.and_then(|d| d.mean_interval),
        standard_deviation: sample.and_then(|d| d.standard_deviation),
        limits: sample.and_then(|d| d.limits),
        smallest_difference: sample.map(|d| d.smallest),
        largest_difference: sample.map(|d| d.largest),
    }
}
