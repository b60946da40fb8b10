//! Words in what is exported to other programs.

use super::{CAUTIONS, capital, findings, headline, short};
use crate::judgement::document::{Assessment, Reason, Rung};
use crate::judgement::measures::Measure;
use crate::session::review::ReviewState;
use crate::shown::prose;

/// Title of the report.
pub const REPORT: &str = "Rising from a chair on film: report of a set";
/// What made it.
pub const SOFTWARE: &str = "Software that measures rising from a chair in a film";
/// Title of our own codes.
pub const CODES: &str = "Measures of rising from a chair";

/// Said after every export.
pub const BEFORE_IT_GOES: &str = "Names of files and folders are not in it, and a person is a \
    code. But a code, a date and a way of moving can still be one person's, and the report may \
    show pictures: look before you pass it on. What was passed on cannot be taken back from here.";

/// Words for our own codes that are neither numbers nor reasons of a rep.
const DISPLAYS: [(&str, &str); 19] = [
    ("set_report", REPORT),
    ("set_reps", "Reps"),
    ("set_clean", "Reps in good form"),
    ("set_faulted", "Reps with a fault"),
    ("set_not_judged", "Reps that could not be judged"),
    ("set_longest_clean_run", "Longest run of reps in good form"),
    ("total_of_program", "As the program counted, before a review"),
    ("reps_known", "Reps in which it is known"),
    ("standard_deviation", "Standard deviation from rep to rep"),
    ("standard_error", "Standard error of the mean"),
    ("rep", "Rep"),
    ("rep_number", "Number of the rep"),
    ("verdict_of_program", "Verdict of the program"),
    ("verdict_of_review", "Verdict of the review"),
    ("reason_of_program", "Reason, of the program"),
    ("reason", "Reason"),
    ("clean", "In good form"),
    ("faulted", "With a fault"),
    ("not_judged", "Not judged"),
];

/// What a code of ours is called that is neither a number nor a reason of a rep.
pub fn display(code: &str) -> &'static str {
    DISPLAYS.iter().find(|(own, _)| *own == code).map_or("", |(_, words)| words)
}

/// What the code of a reason is called.
pub fn display_of_reason(reason: Reason) -> String {
    capital(short(reason))
}

/// What the code of a measure's standard error is called.
pub fn display_of_error(measure: &Measure) -> String {
    format!("{} (standard error)", measure.about.briefly())
}

/// What the code of a measure's mean is called.
pub fn display_of_mean(measure: &Measure) -> String {
    format!("{} (mean over the reps)", measure.about.briefly())
}

/// Columns of the tables that are no measures.
const COLUMNS: [(&str, &str); 33] = [
    ("person", "Code of the person; empty where none was given."),
    ("session", "What the session is called in this export."),
    ("recorded_at_utc", "When it was filmed, UTC; empty where nobody knows."),
    ("rung", "The exercise."),
    ("leg", "The working leg; empty where both work alike."),
    ("review_state", "How far a clinician has reviewed it: not_reviewed, begun, signed_off."),
    ("reviewed_at_utc", "When it was signed off, UTC."),
    ("rep", "Number of the rep."),
    ("verdict_of_program", "clean, faulted or not_judged, as the program found."),
    ("verdict", "The same as it stands after the review."),
    ("reasons_of_program", "Why, as the program found; spaces between."),
    ("reasons", "The same as they stand after the review."),
    ("times_corrected", "The review has corrected times of this rep."),
    ("program_version", "Version of the program that judged."),
    ("source", "film, markers, or points_of_a_film."),
    ("clip_sha256", "Checksum of the film or marker file."),
    ("clip_duration_s", "Length of the film."),
    ("clip_frame_rate_hz", "Frames per second of movement."),
    ("view", "From where the person is seen."),
    ("yaw_deg", "Heading of the body from facing the lens, to the picture's right positive."),
    ("yaw_standard_error", "Its standard error."),
    ("toe_out_deg", "Turn-out of the standing foot, outward positive."),
    ("scale_source", "Where metres come from."),
    ("scale_relative_uncertainty", "Standard error of the scale as a share."),
    ("stature_m", "Stature, told or estimated."),
    ("seat_height_m", "Height of the seat that was told."),
    ("reps", "Complete reps."),
    ("clean", "Reps in good form, after the review."),
    ("faulted", "Reps with a fault, after the review."),
    ("not_judged", "Reps that could not be judged, after the review."),
    ("longest_clean_run", "Longest run of reps in good form, after the review."),
    ("target", "Reps in good form in one go that are aimed at."),
    ("attempts", "Rises that turned back."),
];

/// What a column is that is no measure of a rep; empty where its name says all.
pub fn column(name: &str) -> &'static str {
    COLUMNS.iter().find(|(own, _)| *own == name).map_or("", |(_, meaning)| meaning)
}

/// What the column of a standard error is.
pub fn standard_error(of: &str) -> String {
    format!("Standard error of {of}, in the same unit.")
}

/// The result in words, for a record system.
pub fn conclusion<'a>(
    in_force: &Assessment,
    review: &ReviewState,
    notes: impl Iterator<Item = &'a str>,
) -> String {
    let mut lines = vec![headline(in_force)];
    lines.extend(findings(in_force));
    lines.push(match review {
        // The moment stands in the data, in UTC.
        ReviewState::SignedOff { by, .. } => format!("Reviewed and signed off by {}.", prose(by)),
        open => super::review::state(open.clone()),
    });
    lines.extend(notes.map(|note| format!("Note: {}", prose(note))));
    lines.extend(CAUTIONS.map(str::to_owned));
    lines.join("\n")
}

/// Name of a motion data set.
pub const BIDS_NAME: &str = "Rising from a chair, points in three dimensions";

/// What a reader of the data set should know first.
pub const BIDS_README: &str = "\
# Rising from a chair, points in three dimensions

Sets of rising from a chair, one session each, measured from a film of one camera or from
markers of a motion laboratory. Places are in metres, times in seconds from the first
sample; n/a is not known. The events are the reps, with the verdict of the program and the
verdict after a clinician's review.

From a film, x and y are seen and z is a model: a two-link leg, usual proportions of the
body, and apparent width. Do not take z for a measurement. Points are what a pose network
sees, which is not the joints' centres.

A person is a code. Whoever holds the list of codes can tell who it is: keep that list
apart from these data, and do not look for people in them.

A summary of movement, not a diagnosis.
";

/// What a participant is.
pub const PARTICIPANT: &str = "Code of the person, letters and digits only.";

/// Axes of a film's points.
pub const FRAME_OF_A_FILM: &str = "From the ankle of the standing foot: x to the picture's \
    right, y up from the floor, z toward the camera. The person faces the camera, turned by up \
    to 20 degrees. z is a model, not seen.";
/// Axes of a marker file's points.
pub const FRAME_OF_MARKERS: &str = "Turned so that the person faces the reader: x to the \
    person's left, y up, z forward.";

/// Order and rule of rotations are asked for, and there are none.
pub const NO_ROTATIONS: &str = "Right-handed. All channels are positions: order and rule of \
    rotations apply to nothing in this data set.";

/// What was done.
pub fn task(rung: Rung, leg: Option<&str>) -> String {
    let leg = leg.map_or(String::new(), |leg| format!(", {leg} leg"));
    format!("Rising from a chair and sitting down again: {}{leg}.", rung.words())
}

/// Columns of the table of reps in a motion data set: name, unit, meaning.
pub const EVENT_COLUMNS: [(&str, &str, &str); 10] = [
    ("onset", "s", "First known moment of the rep, usually that of leaving the seat."),
    ("duration", "s", "Until its last known moment, usually that of reaching the seat."),
    ("trial_type", "", "Always rep."),
    ("rep", "", "Number of the rep."),
    ("stand", "s", "When the person stands."),
    ("descent_start", "s", "When the way down begins."),
    ("verdict_of_program", "", "clean, faulted or not_judged, as the program found."),
    ("verdict", "", "The same as it stands after a clinician's review."),
    ("reasons", "", "Why it is not clean; spaces between."),
    ("review_state", "", "not_reviewed, begun or signed_off."),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// No string may be empty (FHIR R4, «string»).
    #[test]
    fn every_code_and_reason_has_words() {
        assert!(DISPLAYS.iter().all(|(code, words)| !code.is_empty() && !words.is_empty()));
        assert_eq!(display_of_reason(Reason::FrameRateTooLow), "Too few frames per second");
        assert_eq!(display_of_reason(Reason::KneeInward), "Knee inward");
    }
}
