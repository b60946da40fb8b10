//! Agreement with a clinician's labels for people: sentences first, then the
//! tables, then what to bear in mind. Its words are all here.

use super::lines::{self, Stands, section, strong, wrapped};
use super::wording;
use crate::between::agreement::labels::REASONS;
use crate::between::agreement::{
    Agreement, Compared, Method, NumberAgreement, WhyNoKappa, YesNoAgreement,
};
use crate::statistics::Interval;

/// Fewer reps than this say little about limits of agreement (design choice;
/// at 30 an interval of a limit is still 0.6 SD to either side).
const FEW: usize = 30;

/// How to fill in a template, for standard error beside it.
pub const TEMPLATE_HELP: &str = "\
Watch the film, not plumbrise's result, and fill in what you saw:
  judgement   clean, faulted or not_judged
  knee_inward, drop, ...   1 for yes, 0 for no; or one column 'reasons' with the
              names of those seen, or 'none'
  any number of the document as a further column, such as descent_s
An empty cell means that you did not say. Delete the row of a rep that was none;
add a row with start_s and end_s for one that is missing.";

/// Agreement as text; `colour` adds ANSI emphasis that carries no meaning of
/// its own.
pub fn agreement(a: &Agreement, colour: bool) -> String {
    let strong = |text: &str| strong(text, colour);
    let mut out = strong(&headline(a));
    out.push('\n');
    for set in &a.sets {
        for line in found(set, a.sets.len() > 1) {
            out.push_str(&wrapped(&line, ""));
            out.push('\n');
        }
    }
    let sentences: Vec<String> = a.yes_no.iter().map(|q| yes_no_sentence(q, a)).collect();
    section(&mut out, &strong("Verdict and reasons"), &sentences);
    let sentences: Vec<String> = a.numbers.iter().map(number_sentence).collect();
    section(&mut out, &strong("Measures, plumbrise less clinician"), &sentences);
    if !a.yes_no.is_empty() {
        table(&mut out, &strong("Counts of reps"), &counts(a));
        table(&mut out, &strong("Coefficients"), &coefficients(a));
    }
    if !a.numbers.is_empty() {
        table(&mut out, &strong("Differences"), &spread(a));
        table(&mut out, &strong("95 % limits of agreement"), &limits(a));
    }
    section(&mut out, &strong("Please note"), &notes(a));
    out
}

fn headline(a: &Agreement) -> String {
    let tool: usize = a.sets.iter().map(|s| s.only_tool_reps.len()).sum();
    let clinician: usize = a.sets.iter().map(|s| s.only_clinician_lines.len()).sum();
    let sessions = match a.sets.len() {
        1 => String::new(),
        n => format!(" from {n} sessions"),
    };
    format!(
        "{} compared{sessions}; {tool} found by plumbrise only, {clinician} labelled only.",
        reps(a.matched)
    )
}

fn reps(n: usize) -> String {
    if n == 1 { "1 rep".into() } else { format!("{n} reps") }
}

/// How rows and reps of one set were brought together.
fn found(set: &Compared, several: bool) -> Vec<String> {
    let mut lines = Vec::new();
    if several {
        let matched = set.matched_by_time + set.matched_by_number;
        lines.push(format!("{} with {}: {matched}.", set.session, set.labels_file));
    }
    match (set.matched_by_time, set.matched_by_number) {
        (_, 0) => {}
        (0, _) => lines.push(
            "Matched by number, without times: a rep too many or too few on either side shifts \
             all that follow."
                .into(),
        ),
        (_, n) => lines.push(format!("{} without times matched by number.", reps(n))),
    }
    if !set.only_tool_reps.is_empty() {
        lines.push(format!(
            "Found by plumbrise, not labelled: {}.",
            wording::rep_list(&set.only_tool_reps)
        ));
    }
    if !set.only_clinician_lines.is_empty() {
        let numbers: Vec<String> =
            set.only_clinician_lines.iter().map(ToString::to_string).collect();
        let word = if numbers.len() == 1 { "line" } else { "lines" };
        lines.push(format!(
            "Labelled, not found by plumbrise: {word} {} of the labels.",
            numbers.join(", ")
        ));
    }
    lines
}

fn question(name: &str) -> &str {
    match REASONS.iter().find(|(n, _)| *n == name) {
        Some((_, reason)) => wording::short(*reason),
        None => name,
    }
}

fn yes_no_sentence(q: &YesNoAgreement, a: &Agreement) -> String {
    let name = question(q.question);
    let Some(percent) = q.agreement_percent else {
        return format!("«{name}»: plumbrise judged none of the {} labelled.", reps(q.tool_silent));
    };
    let mut text = format!(
        "«{name}»: the same answer on {} of {} ({percent:.0} %). ",
        q.both + q.neither,
        reps(q.compared)
    );
    text.push_str(&match (q.kappa, q.kappa_interval, q.no_kappa_because) {
        (Some(kappa), Some(interval), _) => {
            format!("Kappa {kappa:.2}, 95 % interval {}.", between(interval, 2))
        }
        (Some(kappa), None, _) => format!(
            "Kappa {kappa:.2}; its 95 % interval cannot be computed, because no two answers differ."
        ),
        (None, _, why) => format!("Kappa cannot be computed, because {}.", why_no_kappa(q, why)),
    });
    if !q.differ.is_empty() {
        let places: Vec<String> = a
            .sets
            .iter()
            .enumerate()
            .filter_map(|(index, set)| {
                let numbers: Vec<usize> =
                    q.differ.iter().filter(|p| p.set == index).map(|p| p.rep).collect();
                let session =
                    if a.sets.len() > 1 { format!(" of {}", set.session) } else { String::new() };
                (!numbers.is_empty()).then(|| format!("{}{session}", wording::rep_list(&numbers)))
            })
            .collect();
        text.push_str(&format!(" They differ on {}.", places.join("; ")));
    }
    text
}

fn why_no_kappa(q: &YesNoAgreement, why: Option<WhyNoKappa>) -> String {
    let word = |yes: bool| if yes { "yes" } else { "no" };
    match why {
        Some(WhyNoKappa::ToolNeverVaries) => {
            format!("plumbrise said {} to all", word(q.both + q.only_tool > 0))
        }
        Some(WhyNoKappa::ClinicianNeverVaries) => {
            format!("the clinician said {} to all", word(q.both + q.only_clinician > 0))
        }
        Some(WhyNoKappa::NeitherVaries) => "each gave one and the same answer to all".into(),
        Some(WhyNoKappa::NothingCompared) | None => "there is nothing to compare".into(),
    }
}

fn number_sentence(n: &NumberAgreement) -> String {
    let name = n.measure.key();
    let Some(mean) = n.mean_difference else {
        return format!(
            "{name}: plumbrise has no number for the {} labelled.",
            reps(n.tool_silent)
        );
    };
    let mean = wording::with_unit(&signed(mean), n.measure.unit.shown());
    let mut text = format!("{name}: on {}, {mean} on average", reps(n.compared));
    if let Some(interval) = n.mean_interval {
        text.push_str(&format!(" (95 % interval {})", between(interval, 2)));
    }
    match n.limits {
        Some(limits) => text.push_str(&format!(
            "; 95 % limits for a single rep {} to {}.",
            signed(limits.lower),
            signed(limits.upper)
        )),
        None => text.push_str("; one rep has no spread."),
    }
    text
}

/// With sign, and a minus as wide as the plus.
fn signed(value: f64) -> String {
    let text = format!("{value:+.2}");
    if text == "-0.00" { "+0.00".into() } else { text.replace('-', "−") }
}

fn plain(value: f64, digits: usize) -> String {
    format!("{value:.digits$}").replace('-', "−")
}

fn between(interval: Interval, digits: usize) -> String {
    format!("{} to {}", plain(interval.low, digits), plain(interval.high, digits))
}

fn or_dash(value: Option<f64>, digits: usize) -> String {
    value.map_or("–".into(), |v| plain(v, digits))
}

fn interval_or_dash(interval: Option<Interval>) -> String {
    interval.map_or("–".into(), |i| between(i, 2))
}

type Rows = Vec<Vec<String>>;

fn heading(words: &[&str]) -> Vec<String> {
    words.iter().map(|w| (*w).to_owned()).collect()
}

fn counts(a: &Agreement) -> Rows {
    let mut rows = vec![heading(&["", "both", "plumbrise", "clinician", "neither", "not"])];
    rows.push(heading(&["", "say so", "only", "only", "", "compared"]));
    rows.extend(a.yes_no.iter().map(|q| {
        let numbers =
            [q.both, q.only_tool, q.only_clinician, q.neither, q.tool_silent + q.clinician_silent];
        let mut row = vec![question(q.question).to_owned()];
        row.extend(numbers.iter().map(ToString::to_string));
        row
    }));
    rows
}

fn coefficients(a: &Agreement) -> Rows {
    let mut rows =
        vec![heading(&["", "same", "kappa", "95 % interval", "agree", "agree", "preva-", "bias"])];
    rows.push(heading(&["", "%", "", "", "on yes", "on no", "lence", ""]));
    rows.extend(a.yes_no.iter().map(|q| {
        vec![
            question(q.question).to_owned(),
            or_dash(q.agreement_percent, 0),
            or_dash(q.kappa, 2),
            interval_or_dash(q.kappa_interval),
            or_dash(q.positive_agreement, 2),
            or_dash(q.negative_agreement, 2),
            or_dash(q.prevalence_index, 2),
            or_dash(q.bias_index, 2),
        ]
    }));
    rows
}

fn spread(a: &Agreement) -> Rows {
    let mut rows =
        vec![heading(&["", "reps", "mean", "95 % interval", "SD", "smallest", "largest"])];
    rows.extend(a.numbers.iter().map(|n| {
        vec![
            n.measure.key().to_owned(),
            n.compared.to_string(),
            or_dash(n.mean_difference, 2),
            interval_or_dash(n.mean_interval),
            or_dash(n.standard_deviation, 2),
            or_dash(n.smallest_difference, 2),
            or_dash(n.largest_difference, 2),
        ]
    }));
    rows
}

fn limits(a: &Agreement) -> Rows {
    let mut rows = vec![heading(&["", "lower", "95 % interval", "upper", "95 % interval"])];
    rows.extend(a.numbers.iter().map(|n| {
        vec![
            n.measure.key().to_owned(),
            or_dash(n.limits.map(|l| l.lower), 2),
            interval_or_dash(n.limits.and_then(|l| l.lower_interval)),
            or_dash(n.limits.map(|l| l.upper), 2),
            interval_or_dash(n.limits.and_then(|l| l.upper_interval)),
        ]
    }));
    rows
}

/// A table under its title, the first column to the left, the others to the right.
fn table(out: &mut String, title: &str, rows: &[Vec<String>]) {
    let columns = rows.first().map_or(0, Vec::len);
    let stands: Vec<Stands> =
        (0..columns).map(|at| if at == 0 { Stands::Left } else { Stands::Right }).collect();
    out.push_str(&format!("\n{title}\n"));
    for line in lines::table(rows, &stands) {
        out.push_str(&line);
        out.push('\n');
    }
}

fn notes(a: &Agreement) -> Vec<String> {
    let mut notes = vec![
        "Agreement with one clinician does not show who is right, and holds for these people, \
         this clinician and this way of filming."
            .to_owned(),
        "It means something only if the labels were made from the film, without looking at \
         plumbrise's result."
            .to_owned(),
    ];
    let repeated = a.numbers.iter().any(|n| n.method == Some(Method::Repeated));
    let independent = a.numbers.iter().any(|n| n.method == Some(Method::Independent));
    if independent && a.matched > 1 {
        notes.push(
            "Reps of one person resemble each other, and these limits take each as independent: \
             for other people they are too narrow. Give several people's sessions together."
                .into(),
        );
    }
    if repeated {
        let sessions = a.numbers.iter().map(|n| n.sessions).max().unwrap_or(0);
        notes.push(format!(
            "The limits count each of {sessions} sessions as a person of its own, with spread \
             between and within persons [Bland2007]; give one session a person. With few persons \
             the spread between them is hardly known. The limits themselves then have no \
             interval here."
        ));
    }
    if a.numbers.iter().any(|n| n.compared < FEW) {
        notes.push(format!(
            "Fewer than {FEW} reps: the limits of agreement are themselves uncertain."
        ));
    }
    if !a.yes_no.is_empty() {
        notes.push(
            "The intervals of kappa, too, take each rep as independent and are rough with few \
             reps."
                .into(),
        );
        notes.push(
            "Kappa is the share of agreement beyond chance: (observed − chance) / (1 − chance) \
             [Cohen1960], interval ± 1.96 standard errors [Fleiss1969]. It is low where nearly \
             all answers are the same (prevalence near 1 or −1 [Byrt1993]), so look at the \
             counts and at «agree on yes» and «agree on no» [Cicchetti1990] as well. Bias above 0: \
             plumbrise says yes more often."
                .into(),
        );
        notes.push(
            "Not compared are reps on which either gave no answer; plumbrise also judges fewer \
             things from the side, from afar or in some exercises."
                .into(),
        );
    }
    if !a.numbers.is_empty() {
        notes.push(
            "Limits of agreement: mean ± 1.96 SD; about 95 of 100 differences lie within \
             [Bland1986], [Bland1999]. Whether that is near enough is for you to say."
                .into(),
        );
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn signs_are_as_wide_as_each_other() {
        assert_eq!((signed(-0.001), signed(-1.5)), ("+0.00".into(), "−1.50".into()));
    }
}
