//! Makes a large archive of invented sessions for `scripts/benchmark-archive.sh`:
//! `archive_of_many SESSION DIR COUNT`, SESSION a folder that the program made, of which
//! all are variations. Only their assessments are kept.

use std::error::Error;
use std::path::Path;
use std::{env, fs};

use plumbrise::archive::{Archive, Entry, Index, RecordedFrom, SqliteIndex, StoredFile};
use plumbrise::files::sha256_of;
use plumbrise::skeleton::Side;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = env::args().skip(1).collect();
    let [session, folder, count] = words.as_slice() else {
        return Err("archive_of_many SESSION DIR COUNT".into());
    };
    let (session, folder) = (Path::new(session), Path::new(folder));
    drop(Archive::open_or_create(folder)?);
    let summary = plumbrise::session::summary(session)?;
    let assessment = fs::read_to_string(session.join("assessment.json"))?;
    let mut sessions = Vec::new();
    for number in 0..count.parse::<i64>()? {
        // Twenty sessions a person: ten weeks, both legs.
        let (person, week, left) = (number / 20, number / 2 % 10, number % 2 == 0);
        let named = format!("\"file\": \"{number}-");
        let content = assessment.replacen("\"file\": \"", &named, 1);
        let sha256 = sha256_of(content.as_bytes());
        let object = folder.join("objects").join(&sha256[..2]).join(&sha256);
        fs::create_dir_all(object.parent().ok_or("no folder")?)?;
        fs::write(object, &content)?;
        let mut summary = summary.clone();
        summary.clip_sha256.clone_from(&sha256);
        summary.leg = Some(if left { Side::Left } else { Side::Right });
        summary.clean = (summary.reps / 2 + week as usize).min(summary.reps);
        let recorded_at = jiff::Timestamp::from_second(
            1_777_000_000 + 604_800 * week + 3_600 * (number % 2) + 60 * (person % 500),
        )?;
        let entry = Entry {
            id: sha256[..12].into(),
            person: format!("P{person:04}"),
            recorded_at,
            recorded_from: RecordedFrom::Told,
            added_at: recorded_at,
            summary,
        };
        let size = content.len() as u64;
        sessions.push((entry, vec![StoredFile { name: "assessment.json".into(), sha256, size }]));
    }
    SqliteIndex::open(&folder.join("index.sqlite"))?.put(&sessions)?;
    Ok(())
}
