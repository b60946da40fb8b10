//! Makes a large archive of invented sessions for `scripts/benchmark-archive.sh`:
//! `archive_of_many SESSION DIR COUNT`, SESSION a folder that the program made, of which
//! all are variations. Only their assessments are kept.

use std::error::Error;
use std::path::Path;
use std::{env, fs};

use plumbrise::archive::{Archive, Entry, Record, RecordedFrom, SqliteIndex, StoredFile};
use plumbrise::body::Side;
use plumbrise::files::sha256_of;
use plumbrise::judgement::document::Assessment;
use plumbrise::session::read_assessment;
use plumbrise::session::review::ReviewState;
use plumbrise::session::summary::SessionSummary;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = env::args().skip(1).collect();
    let [session, folder, count] = words.as_slice() else {
        return Err("archive_of_many SESSION DIR COUNT".into());
    };
    let folder = Path::new(folder);
    let id = Archive::open_or_create(folder)?.id()?;
    let mut assessment: Assessment = read_assessment(Path::new(session))?;
    let mut sessions = Vec::new();
    for number in 0..count.parse::<i64>()? {
        // Twenty sessions a person: ten weeks, both legs.
        let (person, week, left) = (number / 20, number / 2 % 10, number % 2 == 0);
        assessment.clip.file = format!("{number}.mp4");
        assessment.clip.sha256 = sha256_of(assessment.clip.file.as_bytes());
        assessment.leg = Some(if left { Side::Left } else { Side::Right });
        let reps = assessment.set.reps;
        assessment.set.clean = (reps / 2 + week as usize).min(reps);
        let content = serde_json::to_string_pretty(&assessment)? + "\n";
        let file = put(folder, "assessment.json", &content)?;
        let recorded_at = jiff::Timestamp::from_second(
            1_777_000_000 + 604_800 * week + 3_600 * (number % 2) + 60 * (person % 500),
        )?;
        let entry = Entry {
            id: file.sha256[..12].into(),
            person: format!("P{person:04}"),
            recorded_at,
            recorded_from: RecordedFrom::Told,
            added_at: recorded_at,
            summary: SessionSummary::of(&assessment, ReviewState::NotReviewed),
        };
        let record = Record::of(&id, &entry, std::slice::from_ref(&file));
        let record = put(folder, &record.file().name, &record.text())?;
        sessions.push((entry, vec![file, record]));
    }
    SqliteIndex::open(&folder.join("index.sqlite"))?.put_all(&sessions)?;
    Ok(())
}

/// Puts a file in its place in an archive.
fn put(archive: &Path, name: &str, content: &str) -> Result<StoredFile, Box<dyn Error>> {
    let sha256 = sha256_of(content.as_bytes());
    let folder = archive.join("files").join(&sha256[..2]);
    fs::create_dir_all(&folder)?;
    fs::write(folder.join(&sha256), content)?;
    Ok(StoredFile { name: name.into(), sha256, size: content.len() as u64 })
}
