//! Every word a physiotherapist or athlete reads about a result: sentences here, headings
//! and labels in [`labels`], of the filming in [`film`], of many clips in [`clips`], of two
//! sides in [`comparison`], of weeks in [`trend`], of reviews in [`review`], of the
//! archive in [`archive`].
//!
//! Plain, short, no praise, no alarm, never a diagnosis.

pub mod archive;
pub mod clips;
pub mod comparison;
pub mod export;
pub mod film;
#[cfg_attr(not(feature = "paper"), expect(dead_code, reason = "the paper says all of it"))]
pub(super) mod headings;
pub mod review;
pub mod trend;

use std::path::Path;

use jiff::civil::Date;

use self::headings::TOTALS;

use crate::judgement::criteria::Criteria;
use crate::judgement::document::{Assessment, Origin, Reason, Rep, SetSummary, Verdict};
use crate::judgement::measures::KNEE_OFFSET_PEAK;
use crate::judgement::{Note, Remark, remarks};
use crate::shown;

/// Shown with every result.
pub const CAUTIONS: [&str; 4] = [
    "A summary of the movement, for you and your clinician. It is not a diagnosis, does not \
     replace an examination, and clears nobody for sport.",
    "Stop the exercise at once with sharp or growing pain, if the knee gives way or locks, or \
     with dizziness, chest pain or loss of balance.",
    "Chair against a wall, support within reach, and somebody with you the first time. Do it only \
     if your clinician has said that you may.",
    "The rules of your clinic and country, and your clinician's judgement, come first.",
];

/// The cautions of a result: its own, as they were when it was made, and never none.
pub fn cautions(a: &Assessment) -> Vec<String> {
    match a.cautions.is_empty() {
        true => CAUTIONS.map(String::from).to_vec(),
        false => a.cautions.clone(),
    }
}

/// A reason in a table cell.
pub fn short(reason: Reason) -> &'static str {
    match reason {
        Reason::KneeInward => "knee inward",
        Reason::Drop => "dropped onto the seat",
        Reason::IncompleteStand => "not fully up",
        Reason::FreeFootDown => "free foot down",
        Reason::HandsUsed => "hands used",
        Reason::FootMoved => "standing foot moved",
        Reason::PauseTooLong => "long rest before",
        Reason::TrackingLost => "person lost from sight",
        Reason::OutOfFrame => "leg out of the picture",
        Reason::Occluded => "leg hidden",
        Reason::CameraMoved => "camera moved",
        Reason::OffAxis => "not seen from the front",
        Reason::FrameRateTooLow => "too few frames per second",
        Reason::CutOff => "cut off by the recording",
    }
}

/// Reasons one after the other.
pub fn reasons(reasons: &[Reason]) -> String {
    reasons.iter().map(|reason| short(*reason)).collect::<Vec<_>>().join(", ")
}

/// What a reason means, with rep numbers: «The knee came inside the foot on
/// reps 2 and 4.»
fn sentence(reason: Reason, reps: &str) -> String {
    match reason {
        Reason::KneeInward => format!("The knee came inside the foot on {reps}."),
        Reason::Drop => {
            format!("The last part of the way down was a drop onto the seat on {reps}.")
        }
        Reason::IncompleteStand => format!("Not fully upright on {reps}."),
        Reason::FreeFootDown => format!("The free foot touched the floor on {reps}."),
        Reason::HandsUsed => format!("A hand seemed to help on {reps}."),
        Reason::FootMoved => format!("The standing foot changed its place on {reps}."),
        Reason::PauseTooLong => format!("There was a long rest before {reps}."),
        Reason::TrackingLost => format!("The person was lost from sight during {reps}."),
        Reason::OutOfFrame => format!("The leg left the picture during {reps}."),
        Reason::Occluded => format!("The leg was hidden during {reps}."),
        Reason::CameraMoved => format!("The camera moved during {reps}."),
        Reason::OffAxis => {
            format!("Knee over foot can only be judged from the front; it was not on {reps}.")
        }
        Reason::FrameRateTooLow => {
            format!("The clip has too few frames per second to judge {reps}.")
        }
        Reason::CutOff => format!("The recording begins or ends within {reps}."),
    }
}

/// The result in one sentence.
pub fn headline(a: &Assessment) -> String {
    let set = &a.set;
    let leg = a.leg.map_or(String::new(), |leg| format!(", {} leg", leg.word()));
    let unjudged = match set.not_judged {
        0 => String::new(),
        n => format!("; {n} could not be judged"),
    };
    format!(
        "{} of {} {} clean ({}{leg}){unjudged}.",
        set.clean,
        set.reps,
        if set.reps == 1 { "rep was" } else { "reps were" },
        a.rung.words(),
    )
}

/// The longest run of clean reps, and whether that reaches the target.
pub fn run_and_target(set: &SetSummary) -> String {
    let target = if set.target_met { TOTALS.reached } else { TOTALS.not_reached };
    format!(
        "Longest run of clean reps in one go: {}. Target of {}: {target}.",
        set.longest_clean_run, set.target
    )
}

/// Where everything was written.
pub fn kept_in(place: &Path) -> String {
    format!("Everything is in {}", shown::path(place))
}

/// What to open first.
pub fn to_look_at(file: &Path) -> String {
    format!("To look at: {}", shown::path(file))
}

/// Every reason that occurred with the reps it occurred on, most frequent first.
fn by_frequency(a: &Assessment) -> Vec<(Reason, Vec<usize>)> {
    let mut seen: Vec<(Reason, Vec<usize>)> = Vec::new();
    for rep in &a.reps {
        for reason in &rep.reasons {
            match seen.iter_mut().find(|(r, _)| r == reason) {
                Some((_, numbers)) => numbers.push(rep.number),
                None => seen.push((*reason, vec![rep.number])),
            }
        }
    }
    seen.sort_by_key(|(reason, numbers)| (std::cmp::Reverse(numbers.len()), *reason));
    seen
}

/// One sentence for each reason that occurred, most frequent first.
pub fn findings(a: &Assessment) -> Vec<String> {
    by_frequency(a)
        .iter()
        .map(|(reason, numbers)| {
            let all = numbers.len() == a.reps.len() && numbers.len() > 2;
            sentence(*reason, &if all { "all reps".into() } else { rep_list(numbers) })
        })
        .collect()
}

/// «rep 2», «reps 2 and 4», «reps 2, 4 and 5».
pub fn rep_list(numbers: &[usize]) -> String {
    let words: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    match words.split_last() {
        None => "no rep".into(),
        Some((only, [])) => format!("rep {only}"),
        Some((last, others)) => format!("reps {} and {last}", others.join(", ")),
    }
}

/// Things worth a look that are not faults.
pub fn worth_a_look(a: &Assessment, criteria: &Criteria) -> Vec<String> {
    remarks(a, criteria).iter().map(remark).collect()
}

fn remark(remark: &Remark) -> String {
    match remark {
        Remark::KneeClose(reps) => format!(
            "Knee position close to the limit on {}: look again, the measure cannot decide.",
            rep_list(reps)
        ),
        Remark::DropClose(reps) => {
            format!("Speed at the seat close to the limit on {}.", rep_list(reps))
        }
        Remark::TrunkLean(reps, deg) => {
            format!("Trunk leaning sideways by more than {deg:.0}° on {}.", rep_list(reps))
        }
        Remark::PelvicDrop(reps, deg) => {
            format!("Free side of the pelvis lower by more than {deg:.0}° on {}.", rep_list(reps))
        }
        Remark::TurnedBack(times_s) => {
            let at: Vec<String> = times_s.iter().map(|t| format!("{t:.1} s")).collect();
            let rises = if at.len() == 1 { "rise" } else { "rises" };
            format!(
                "{} {rises} turned back before standing (at {}); not counted.",
                at.len(),
                at.join(", ")
            )
        }
        Remark::Rested(reps, rest_s) => format!(
            "Rest on the seat longer than {rest_s:.0} s before {}: the set was not in one go.",
            rep_list(reps)
        ),
        Remark::KneeDrift(cm) => {
            let way = if *cm > 0.0 { "further inward" } else { "less far inward" };
            format!("Toward the end of the set the knee went {way} (by {:.1} cm).", cm.abs())
        }
    }
}

/// The assessment with what is said of it in words: what to bear in mind of it, and what
/// always holds.
pub fn in_words(mut assessment: Assessment, notes: &[Note]) -> Assessment {
    let is_film = assessment.source == Origin::Film;
    assessment.notes = film::notes(&assessment.film, is_film);
    assessment.notes.extend(notes.iter().map(note));
    assessment.cautions = CAUTIONS.map(String::from).to_vec();
    assessment
}

/// One thing to bear in mind.
fn note(note: &Note) -> String {
    match note {
        Note::ScaleOfSeat => "Sizes come from the height of the seat, to about 6 %. Stature \
            (--stature CM) is better."
            .into(),
        Note::ScaleOfNetwork(percent) => format!(
            "No stature was given: lengths and speeds may be off by about {percent:.0} %. Give \
             --stature CM."
        ),
        Note::LegUnclear => {
            "Which leg works was not clear from the picture. If it is wrong, use --leg.".into()
        }
        Note::BothLegs => "Both legs work: the figures are of the knee that went further inward. \
            To have one knee watched, use --leg left or right."
            .into(),
        Note::OtherRung { told, seen } => format!(
            "Judged as «{}» as you said; by the feet it looks like «{}».",
            told.words(),
            seen.words()
        ),
        Note::NotMeasuredYet => {
            "Share of weight and the moment the free foot takes over are not measured yet.".into()
        }
        Note::RowsMissing { missing, of } => {
            format!("Hips or shoulders are missing in {missing} of {of} rows of the file.")
        }
        Note::FramesLost { missing, of } => {
            format!("The person could not be followed in {missing} of {of} frames.")
        }
        Note::Assumed(what) => what.clone(),
        Note::StandToStand { seat_seen: true } => {
            "Counted from stand to stand: the recording neither begins nor ends on the seat.".into()
        }
        Note::StandToStand { seat_seen: false } => {
            "No rest on a seat was seen, as in a squat: counted from stand to stand, with the \
             lowest point in the place of the seat."
                .into()
        }
        Note::BeginsDescending => {
            "A descent was under way when the recording began; when it started is not known.".into()
        }
        Note::EndsRising => "A rise was under way when the recording ended; whether it came to a \
            full stand is not known."
            .into(),
        Note::PointsOfAFilm => "Read from the points of a film: depths are a model's, and the \
            film itself judges better."
            .into(),
        Note::CutShort => "The file ends before it should; assessed as far as it goes.".into(),
        Note::Damaged(pieces) => format!("{pieces} damaged pieces of the file were skipped."),
        Note::ClockJumps(jumps_s) => {
            let at: Vec<String> = jumps_s.iter().map(|at_s| format!("{at_s:.1} s")).collect();
            format!(
                "The film's clock jumps (at {}), as where clips were joined: what was under way \
                 there is not counted or not judged.",
                at.join(", ")
            )
        }
        Note::CutOff { rises, jumps } => {
            let rises = if *rises == 1 { "One rise is" } else { "Some rises are" };
            let jump = if *jumps { ", or a jump of its clock," } else { "" };
            format!("{rises} cut off by the beginning or end of the clip{jump} and not counted.")
        }
        Note::HandsHidden(reps) => {
            format!("Whether hands helped could not be seen on {}.", rep_list(reps))
        }
        Note::OtherLimits(names) => format!("Limits other than the usual: {}.", names.join(", ")),
    }
}

/// The verdict as a word and a mark that does not rely on colour.
pub fn verdict(v: Verdict) -> &'static str {
    match v {
        Verdict::Clean => "clean",
        Verdict::Faulted => "fault",
        Verdict::NotJudged => "not judged",
    }
}

/// A verdict as one sign, where there is no room for the word.
pub fn mark(v: Verdict) -> char {
    match v {
        Verdict::Clean => '✓',
        Verdict::Faulted => '!',
        Verdict::NotJudged => '?',
    }
}

/// Why a session that is judged again gets no film.
pub fn clip_not_found(file: &str) -> String {
    format!(
        "no annotated film: '{}' is not beside the session (name it with --clip, or leave the film out with --no-video)",
        shown::line(file)
    )
}

/// On the film, while it goes slower ([`crate::session::SLOWER`]).
pub const SLOWED: &str = "4 × slower";

/// On the film, during a rep or at its end.
pub fn rep_and_phase(number: usize, of: usize, phase: &str) -> String {
    format!("Rep {number} of {of} · {phase}")
}

/// On the film, what goes on, from the word of the table of courses.
pub fn phase(table_word: &str) -> &'static str {
    match table_word {
        "rise" => "going up",
        "stand" => "standing",
        "descent" => "going down",
        _ => "seated",
    }
}

/// On the film, between reps.
pub fn between_reps(done: usize, of: usize, phase: &str) -> String {
    match done {
        0 => format!("{} · {of} {} to come", capital(phase), if of == 1 { "rep" } else { "reps" }),
        _ => format!("{} · {done} of {of} done", capital(phase)),
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

// Drawings.

/// Titles of drawings, and words in them.
pub const KNEE_PLOT: &str = "Knee inward of the foot";
/// See [`KNEE_PLOT`].
pub const PELVIS_PLOT: &str = "Pelvis: height and speed";
/// See [`KNEE_PLOT`].
pub const KNEE_SET_PLOT: &str = "Knee furthest inward, rep by rep";
/// See [`KNEE_PLOT`].
pub const TIMES_SET_PLOT: &str = "Time up and time down, rep by rep";
/// See [`KNEE_PLOT`].
pub const UP: &str = "up";
/// See [`KNEE_PLOT`].
pub const STANDING: &str = "stand";
/// See [`KNEE_PLOT`].
pub const DOWN: &str = "down";
/// See [`KNEE_PLOT`].
pub const REP: &str = "rep";
/// See [`KNEE_PLOT`].
pub const KNEE_OVER_FOOT: &str = "over the foot";
/// See [`KNEE_PLOT`].
pub const KNEE_INSIDE: &str = "inside";
/// See [`KNEE_PLOT`].
pub const NOT_JUDGED: &str = "not judged";

/// A number with a minus sign instead of a hyphen, and no minus before zero.
pub fn number(value: f64, digits: usize) -> String {
    let text = format!("{value:.digits$}");
    match text.strip_prefix('-') {
        Some(size) if size.chars().all(|c| matches!(c, '0' | '.')) => size.to_owned(),
        Some(size) => format!("−{size}"),
        None => text,
    }
}

/// «a», «a and b», «a, b and c».
pub fn plain_list(words: &[&str]) -> String {
    match words.split_last() {
        None => String::new(),
        Some((only, [])) => (*only).into(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
    }
}

/// In place of a number.
pub const UNKNOWN: &str = "–";

/// A number, if it is known, with its standard error, if that is.
pub fn with_error(value: Option<f64>, error: Option<f64>, digits: usize) -> String {
    match (value, error) {
        (None, _) => UNKNOWN.into(),
        (Some(value), Some(error)) => format!("{} ±{error:.digits$}", number(value, digits)),
        (Some(value), None) => number(value, digits),
    }
}

/// A degree sign stands at its number, other units apart from it.
pub fn with_unit(number: &str, unit: &str) -> String {
    match unit {
        _ if number == UNKNOWN || unit.is_empty() => number.into(),
        "°" => format!("{number}°"),
        _ => format!("{number} {unit}"),
    }
}

/// A day with its year.
pub fn full_day(day: Date) -> String {
    day.strftime("%-d %b %Y").to_string()
}

/// A difference with its sign; none at zero.
pub fn signed(value: f64, digits: usize) -> String {
    let text = number(value, digits);
    let nought = text.chars().all(|c| matches!(c, '0' | '.'));
    if value > 0.0 && !nought { format!("+{text}") } else { text }
}

/// The line of a limit.
pub fn limit_is(cm: f64) -> String {
    format!("limit {cm:.1}")
}

/// Text in place of the drawing of a knee's course.
pub fn knee_plot(rep: &Rep, start_s: f64, limit_cm: f64) -> String {
    let peak = match (rep.knee_offset_peak_cm, KNEE_OFFSET_PEAK.error(rep)) {
        (Some(cm), Some(error)) => {
            format!("Furthest inward {} cm, give or take {error:.1}", number(cm, 1))
        }
        (Some(cm), None) => format!("Furthest inward {} cm", number(cm, 1)),
        (None, _) => "Not judged".into(),
    };
    let when = rep
        .knee_offset_peak_at_s
        .map_or(String::new(), |at| format!(", {:.1} s into the rep", (at - start_s).max(0.0)));
    format!(
        "Rep {}: knee inward of the foot over time. {peak}{when}. The limit is {limit_cm:.1} cm.",
        rep.number
    )
}

/// Text in place of the drawing of the pelvis' course.
pub fn pelvis_plot(rep: &Rep) -> String {
    let mut parts = Vec::new();
    if let Some(s) = rep.rise_s {
        parts.push(format!("up in {s:.1} s"));
    }
    if let Some(s) = rep.descent_s {
        parts.push(format!("down in {s:.1} s"));
    }
    if let Some(v) = rep.descent_peak_m_s {
        parts.push(format!("at most {v:.2} m/s on the way down"));
    }
    if let Some(v) = rep.descent_final_m_s {
        parts.push(format!("{v:.2} m/s just above the seat"));
    }
    let parts = if parts.is_empty() { "not measured".into() } else { parts.join(", ") };
    format!("Rep {}: height and speed of the pelvis over time: {parts}.", rep.number)
}

/// Text in place of the drawing of all knees.
pub fn knee_set_plot(a: &Assessment, limit_cm: f64) -> String {
    let each: Vec<String> = a
        .reps
        .iter()
        .map(|r| match r.knee_offset_peak_cm {
            Some(cm) => format!("{}: {}", r.number, number(cm, 1)),
            None => format!("{}: not judged", r.number),
        })
        .collect();
    format!(
        "How far the knee came inward of the foot in each rep, in cm. {}. The limit is {limit_cm:.1} cm.",
        each.join("; ")
    )
}

/// Text in place of the drawing of all times.
pub fn times_set_plot(a: &Assessment) -> String {
    let seconds = |v: Option<f64>| v.map_or("unknown".into(), |s| format!("{s:.1}"));
    let each: Vec<String> = a
        .reps
        .iter()
        .map(|r| format!("{}: up {}, down {}", r.number, seconds(r.rise_s), seconds(r.descent_s)))
        .collect();
    format!("Time up and time down of each rep, in seconds. {}.", each.join("; "))
}
