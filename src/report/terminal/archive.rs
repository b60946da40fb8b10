//! What `plumbrise archive` tells people: lists, a session, what was found and erased.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::archive::{
    Added, Entry, Erased, Fault, Novelty, Person, RecordedFrom, StoredFile, Verified,
};
use crate::judgement::measures;
use crate::report::lines::{Stands, table, wrapped};
use crate::report::wording::archive as words;
use crate::report::wording::review::state;
use crate::report::wording::with_error;
use crate::shown;

/// A session that was just added.
pub fn added(added: &Added) -> String {
    let Added { entry, novelty, .. } = added;
    let s = &entry.summary;
    let leg = s.leg.map_or(String::new(), |leg| format!(" ({})", leg.word()));
    format!(
        "{} {} of {}: {}{leg} on {}, {}, {} clean",
        match novelty {
            Novelty::New => "Added",
            Novelty::Known => "Already there, nothing changed:",
            Novelty::TimeTold => "Already there, the time changed:",
        },
        entry.id,
        entry.person,
        s.rung.words(),
        day(entry.recorded_at),
        words::count(s.reps, "rep", "reps"),
        s.clean
    )
}

/// What to know about a session that was just added.
pub fn remarks(added: &Added, clip: bool) -> Vec<String> {
    let new = added.novelty == Novelty::New;
    let unknown = added.entry.recorded_from == RecordedFrom::Added;
    let left_out = !added.left_out.is_empty();
    [
        left_out.then(|| words::left_out(&added.left_out)),
        (new && clip).then(|| words::CLIP_KEPT.to_owned()),
        (new && unknown).then(|| words::DAY_UNKNOWN.to_owned()),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// Persons, or that there is nobody.
pub fn persons(persons: &[Person], nobody: &str) -> String {
    if persons.is_empty() {
        return format!("{nobody}\n");
    }
    let mut rows = vec![["Person", "Sessions", "First", "Last"].map(String::from).to_vec()];
    rows.extend(
        persons
            .iter()
            .map(|p| vec![p.code.clone(), p.sessions.to_string(), day(p.first), day(p.last)]),
    );
    use Stands::{Left, Right};
    let mut out = lines_of(&rows, &[Left, Right, Left, Left]);
    let sessions = persons.iter().map(|p| p.sessions).sum();
    out += &format!(
        "{}, {}\n",
        words::count(persons.len(), "person", "persons"),
        words::count(sessions, "session", "sessions")
    );
    out
}

/// Sessions, a row each.
pub fn sessions(sessions: &[Entry]) -> String {
    let heads = ["Session", "Filmed", "Exercise", "Leg", "Reps", "Clean", "Run", "Review"];
    let row = |entry: &Entry| {
        let s = &entry.summary;
        let unknown = entry.recorded_from == RecordedFrom::Added;
        vec![
            entry.id.clone(),
            format!("{}{}", minute(entry.recorded_at), if unknown { "*" } else { "" }),
            words::rung(s.rung).into(),
            s.leg.map_or("both", |leg| leg.word()).into(),
            s.reps.to_string(),
            s.clean.to_string(),
            s.longest_clean_run.to_string(),
            words::review(&s.review).into(),
        ]
    };
    let mut rows = vec![heads.map(String::from).to_vec()];
    rows.extend(sessions.iter().map(row));
    use Stands::{Left, Right};
    let mut out = lines_of(&rows, &[Left, Left, Left, Left, Right, Right, Right, Left]);
    out += &format!("{}\n", words::RUN);
    if sessions.iter().any(|entry| entry.recorded_from == RecordedFrom::Added) {
        out += &format!("{}\n", words::FILMED_MARK);
    }
    out
}

/// A session: its numbers and its files.
pub fn session(entry: &Entry, files: &[StoredFile]) -> String {
    let s = &entry.summary;
    let from = match entry.recorded_from {
        RecordedFrom::Told => "as told",
        RecordedFrom::Clip => "as the camera wrote",
        RecordedFrom::Added => "not known; the day of adding",
    };
    let leg = s.leg.map_or(String::new(), |leg| format!(", {} leg", leg.word()));
    let mut lines = vec![
        format!("Session {} of {}\n", entry.id, entry.person),
        format!("  Filmed    {} ({from})", minute(entry.recorded_at)),
        format!("  Added     {}", minute(entry.added_at)),
        format!("  Exercise  {}{leg}", s.rung.words()),
        format!(
            "  Reps      {}: {} clean, {} faulted, {} not judged",
            s.reps, s.clean, s.faulted, s.not_judged
        ),
        format!("  In one go {} clean, of {} aimed at", s.longest_clean_run, s.target),
        format!("  Review    {}", state(s.review.clone())),
    ];
    if !s.measures.is_empty() {
        lines.push(format!("\n  {:<25} {:>8} {:>8} {:>5}", "Over the reps", "mean", "SD", "reps"));
    }
    for (measure, _) in measures::compared() {
        let Some(spread) = s.measures.get(measure.key()) else { continue };
        let [mean, deviation] = [Some(spread.mean), spread.standard_deviation]
            .map(|value| with_error(value, None, measure.digits));
        let name = measure.label_in_unit();
        lines.push(format!("  {name:<25} {mean:>8} {deviation:>8} {:>5}", spread.n));
    }
    lines.push("\n  Files".into());
    for file in files {
        lines.push(format!("  {:<25} {:>8}", shown::line(&file.name), words::size(file.size)));
    }
    lines.join("\n") + "\n"
}

/// What was found in an archive that was looked through.
pub fn verified(found: &Verified) -> String {
    let mut out = format!(
        "{}, {} ({}) looked at.\n",
        words::count(found.sessions, "session", "sessions"),
        words::count(found.files, "file", "files"),
        words::size(found.bytes)
    );
    for (title, faults) in [("Missing", &found.missing), ("Changed", &found.changed)] {
        for Fault { person, session, name, object } in faults {
            let name = shown::line(name);
            out += &format!("{title}: {name} of session {session} ({person}), {object}\n");
        }
    }
    for name in &found.extra {
        out += &format!("Not of this archive: {}\n", shown::line(name));
    }
    for fault in &found.index {
        out += &format!("Index: {}\n", shown::line(fault));
    }
    if found.read_me_changed {
        out += &format!("{}\n", words::READ_ME_CHANGED);
    }
    if !found.left_over.is_empty() {
        out += &format!("{}\n", wrapped(&words::left_over(&found.left_over), ""));
    }
    if found.unguarded {
        out += &format!("{}\n", wrapped(words::UNGUARDED, ""));
    }
    out + if found.is_clean() { "Nothing is wrong.\n" } else { "Something is wrong.\n" }
}

/// That a person was erased, and what was made sure of.
pub fn receipt(erased: &Erased) -> String {
    let proof = match erased.still_in.is_empty() {
        true => words::PROVED.to_owned(),
        false => words::still_in(&erased.still_in),
    };
    let mut out = format!(
        "Receipt: {} was erased on {}: {} with {}.\n",
        erased.person,
        minute(erased.at),
        words::count(erased.sessions.len(), "session", "sessions"),
        words::count(erased.files, "file", "files")
    );
    for point in [proof.as_str(), words::TOMBSTONE, words::NOT_REACHED] {
        out += &format!("{}\n", wrapped(point, "- "));
    }
    out
}

fn lines_of(rows: &[Vec<String>], stands: &[Stands]) -> String {
    table(rows, stands).into_iter().map(|line| line + "\n").collect()
}

/// The day, in this computer's time.
fn day(time: Timestamp) -> String {
    time.to_zoned_datetime(TimeZone::system()).date().to_string()
}

/// Day and minute, in this computer's time.
fn minute(time: Timestamp) -> String {
    time.to_zoned_datetime(TimeZone::system()).strftime("%Y-%m-%d %H:%M").to_string()
}
