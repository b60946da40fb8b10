//! The assessment for a terminal: the plain sentence first, then the reps,
//! then what to look at, then the cautions.

mod film_check;
mod leaflet;

pub use film_check::film_check;
pub use leaflet::leaflet;

use super::lines::{section, strong, wrapped};
use super::wording;
use crate::judgement::document::{Rep, Verdict};
use crate::session::Session;

/// The session as it stands, as text, and what a review says of it; `colour` adds ANSI
/// emphasis that carries no meaning of its own.
pub fn terminal(session: &Session, colour: bool) -> String {
    let Session { machine, review, in_force: a, criteria } = session;
    let strong = |text: &str| strong(text, colour);
    let mut out = String::new();
    let mut line = |text: &str| {
        out.push_str(text);
        out.push('\n');
    };
    line(&strong(&wording::headline(a)));
    for finding in wording::findings(a) {
        line(&wrapped(&finding, ""));
    }
    let set = &a.set;
    if set.reps > 0 {
        let target = if set.target_met { "reached" } else { "not reached" };
        line(&wrapped(
            &format!(
                "Longest run of clean reps in one go: {}. Target of {}: {target}.",
                set.longest_clean_run, set.target
            ),
            "",
        ));
    }
    line(&wrapped(&wording::review::state(session.state()), ""));
    line("");
    line(&strong(&header()));
    line(&units());
    for rep in &a.reps {
        line(&row(rep));
    }
    if let Some(review) = review {
        let said = wording::review::record(review, machine);
        section(&mut out, &strong(wording::review::HEADING), &said);
    }
    section(&mut out, &strong("To look at"), &wording::worth_a_look(a, criteria));
    section(&mut out, &strong("About this film"), &a.notes);
    section(&mut out, &strong("Please note"), &a.cautions);
    out
}

fn header() -> String {
    format!(
        "{:>3}  {:<10} {:>7} {:>6} {:>6} {:>8} {:>10} {:>6}  {}",
        "Rep", "Verdict", "Begins", "Up", "Down", "At seat", "Knee", "Wobble", "Why"
    )
}

fn units() -> String {
    format!(
        "{:>3}  {:<10} {:>7} {:>6} {:>6} {:>8} {:>10} {:>6}",
        "", "", "s", "s", "s", "m/s", "cm in", "cm"
    )
}

fn row(rep: &Rep) -> String {
    let number = |v: Option<f64>, digits: usize| match v {
        Some(v) => format!("{v:.digits$}"),
        None => "–".to_owned(),
    };
    let mark = match rep.judgement {
        Verdict::Clean => "",
        Verdict::Faulted => "! ",
        Verdict::NotJudged => "? ",
    };
    let error = rep.standard_error.get("knee_offset_peak_cm");
    let knee = match (rep.knee_offset_peak_cm, error) {
        (Some(cm), Some(error)) => format!("{cm:.1} ±{error:.1}"),
        (cm, _) => number(cm, 1),
    };
    format!(
        "{:>3}  {:<10} {:>7} {:>6} {:>6} {:>8} {:>10} {:>6}  {mark}{}",
        rep.number,
        wording::verdict(rep.judgement),
        number(rep.seat_off_s, 1),
        number(rep.rise_s, 1),
        number(rep.descent_s, 1),
        number(rep.descent_final_m_s, 2),
        knee,
        number(rep.wobble_cm, 1),
        wording::reasons(&rep.reasons)
    )
    .trim_end()
    .to_owned()
}
