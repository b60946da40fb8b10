//! Adding a session to an archive, and changing one that is in it.

use std::path::Path;

use jiff::Timestamp;

use super::record::Record;
use super::{Archive, Code, Entry, RECORD, RecordedFrom, StoredFile, whole_seconds};
use crate::error::{Error, Remedy, Result};
use crate::files::{self, FolderWriter};
use crate::session::{self, Figures, Neutral, Session, SessionFiles};

/// How a session is to be added.
#[derive(Debug, Clone, Copy)]
pub struct Adding<'a> {
    /// Whose it is.
    pub person: &'a Code,
    /// When the set was filmed, where somebody says so.
    pub recorded_at: Option<Timestamp>,
    /// The clip itself, to be kept too.
    pub clip: Option<&'a Path>,
    /// Everybody in the picture has agreed that their faces are kept.
    pub faces_with_consent: bool,
    /// Take a code that was erased before.
    pub again: bool,
    /// Makes those of page and paper again that the session has, for its neutral name.
    pub reports: MakeReports,
}

/// Writes the reports of a session into a folder, as far as it has some in its own.
pub type MakeReports = fn(&Path, &Session, &Figures, &FolderWriter) -> Result<()>;

/// What became of it.
#[derive(Debug, Clone)]
pub struct Added {
    /// The session as it is in the archive.
    pub entry: Entry,
    /// Whether anything was changed.
    pub novelty: Novelty,
    /// Files that were left out because they may show faces.
    pub left_out: Vec<String>,
}

/// Whether adding has changed anything.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Novelty {
    /// The session is new.
    New,
    /// It was there already, and nothing was changed.
    Known,
    /// It was there already; when it was filmed is now as told.
    TimeTold,
}

impl Archive {
    /// Adds a session, under a name of its clip that tells nothing of the person.
    ///
    /// # Errors
    /// Those of reading the session; [`Error::OtherClip`]; [`Error::Archive`] where the code
    /// was erased or the session is another person's; [`Error::CannotWrite`].
    pub fn add(&mut self, folder: &Path, how: &Adding) -> Result<Added> {
        let clip_sha256 = session::read_assessment(folder)?.clip.sha256;
        if let Some(clip) = how.clip
            && files::sha256(clip)? != clip_sha256
        {
            return Err(Error::OtherClip(clip.into()));
        }
        // Once before the lock, as it may take a while, and once for good.
        self.refuse_erased(how.person, how.again)?;
        let _lock = self.write()?;
        self.refuse_erased(how.person, how.again)?;
        let staged = self.store.staging()?.join("session");
        let writer = FolderWriter::new(&staged, true)?;
        let left_out = write_neutral(folder, how, &writer)?;
        writer.publish()?;
        let neutral = session::read_assessment(&staged)?.clip;
        if let Some(clip) = how.clip {
            files::copy_and_hash(clip, &staged.join(&neutral.file))?;
        }

        let stored = stored_files(&staged)?;
        let id = session::id(folder)?;
        if let Some(entry) = self.index.sessions_named(&id, 1)?.pop() {
            self.store.clear_staging()?;
            return self.known(entry, how);
        }

        let now = Timestamp::now();
        let (recorded_at, recorded_from) = match (how.recorded_at, neutral.recorded_at) {
            (Some(told), _) => (told, RecordedFrom::Told),
            (None, Some(clip)) => (clip, RecordedFrom::Clip),
            (None, None) => (now, RecordedFrom::Added),
        };
        let entry = Entry {
            id,
            person: how.person.as_str().into(),
            recorded_at: whole_seconds(recorded_at),
            recorded_from,
            added_at: whole_seconds(now),
            summary: session::summary(&staged)?,
        };
        self.keep(Some(&staged), &entry, stored)?;
        Ok(Added { entry, novelty: Novelty::New, left_out })
    }

    /// A session that is there already.
    fn known(&mut self, mut entry: Entry, how: &Adding) -> Result<Added> {
        if entry.person != how.person.as_str() {
            return Err(Error::Archive {
                path: self.folder().into(),
                why: format!("it is there already, as session {} of {}", entry.id, entry.person),
                remedy: Remedy::MoveSession,
            });
        }
        let mut novelty = Novelty::Known;
        let told = how.recorded_at.map(whole_seconds).filter(|told| *told != entry.recorded_at);
        if let Some(told) = told {
            let files = self.files_as_recorded(&entry)?;
            novelty = Novelty::TimeTold;
            entry.recorded_at = told;
            entry.recorded_from = RecordedFrom::Told;
            self.keep(None, &entry, files)?;
        }
        Ok(Added { entry, novelty, left_out: Vec::new() })
    }

    /// Puts a session under another person's code, where it was added under a wrong one.
    ///
    /// # Errors
    /// [`Error::Archive`] where there is no such session or the code was erased.
    pub fn move_session(&mut self, id: &str, person: &Code, again: bool) -> Result<Entry> {
        self.refuse_erased(person, again)?;
        let _lock = self.write()?;
        self.refuse_erased(person, again)?;
        let before = self.session(id)?;
        let files = self.files_as_recorded(&before)?;
        let entry = Entry { person: person.as_str().into(), ..before };
        self.keep(None, &entry, files)?;
        // Else the wrong code could still stand in what the index no longer uses.
        self.index.compact()?;
        Ok(entry)
    }

    /// Changes files of a session: `change` gets its folder and may add, change and remove
    /// files there, but for the assessment. All of it is kept, or nothing.
    ///
    /// # Errors
    /// Those of `change`; [`Error::Archive`] where it changed the assessment or took back
    /// what was said in a review; [`Error::CannotWrite`].
    pub fn amend<F>(&mut self, id: &str, change: F) -> Result<Entry>
    where
        F: FnOnce(&Path) -> Result<()>,
    {
        let _lock = self.write()?;
        let before = self.session(id)?;
        self.files_as_recorded(&before)?;
        let staged = self.store.staging()?.join("session");
        self.materialise(&before, &staged)?;
        let said = session::read_review(&staged)?;
        let sha256 = files::sha256(&staged.join(session::ASSESSMENT))?;
        change(&staged)?;

        let refused = |why: &str| {
            let path = self.folder().into();
            let remedy = Remedy::SayMore;
            Err(Error::Archive { path, why: why.into(), remedy })
        };
        if files::sha256(&staged.join(session::ASSESSMENT))? != sha256 {
            return refused("the assessment of a session in an archive is not changed");
        }
        let says = session::read_review(&staged)?;
        let said = said.map(|review| review.amendments).unwrap_or_default();
        let says = says.map(|review| review.amendments).unwrap_or_default();
        if !says.starts_with(&said) {
            return refused("what was said in a review is not taken back");
        }
        let stored = stored_files(&staged)?;
        let entry = Entry { summary: session::summary(&staged)?, ..before };
        self.keep(Some(&staged), &entry, stored)?;
        Ok(entry)
    }

    /// Files of a session that is about to be changed, without its record.
    ///
    /// # Errors
    /// [`Error::Archive`] where index and record do not agree: whatever has happened must not
    /// be written into a new record.
    fn files_as_recorded(&self, entry: &Entry) -> Result<Vec<StoredFile>> {
        let mut files = self.index.files(&entry.id)?;
        let record = Record::of(&self.index.id()?, entry, &files).file();
        if !files.contains(&record) {
            return Err(Error::Archive {
                path: self.folder().into(),
                why: format!("session {} is not as its record says", entry.id),
                remedy: Remedy::VerifySession,
            });
        }
        files.retain(|file| file.name != RECORD);
        Ok(files)
    }

    /// Puts a session into the index with its record and, where there is a finished folder of
    /// them, its files in place.
    fn keep(
        &mut self,
        staged: Option<&Path>,
        entry: &Entry,
        mut stored: Vec<StoredFile>,
    ) -> Result<()> {
        let record = Record::of(&self.index.id()?, entry, &stored);
        let before = self.index.files(&entry.id)?;
        let all = stored.iter().chain(&before).map(|file| file.sha256.clone());
        let touched: Vec<String> = all.chain([record.file().sha256]).collect();
        self.index.begin(&touched)?;
        if let Some(folder) = staged {
            for file in &stored {
                self.store.put(&folder.join(&file.name), &file.sha256)?;
            }
        }
        stored.push(self.store.put_record(&record)?);
        self.index.put(entry, &stored)?;
        self.close_unfinished(false)?;
        self.store.clear_staging()
    }

    fn refuse_erased(&self, person: &Code, again: bool) -> Result<()> {
        // Whoever has sessions has come back already.
        if again || !self.index.sessions(Some(person.as_str()))?.is_empty() {
            return Ok(());
        }
        match self.erased(person.as_str())? {
            Some(t) => Err(Error::Archive {
                path: self.folder().into(),
                why: format!(
                    "{person} was erased on {}",
                    t.at.to_zoned_datetime(jiff::tz::TimeZone::UTC).date()
                ),
                remedy: Remedy::OtherCode,
            }),
            None => Ok(()),
        }
    }

    /// A code that nobody has and nobody had.
    ///
    /// # Errors
    /// [`Error::Archive`] where the index cannot be read or nearly all codes are taken.
    pub fn free_code(&self) -> Result<Code> {
        let persons = self.index.persons()?;
        for _ in 0..1000 {
            let code = Code::draw()?;
            let taken = persons.iter().any(|person| person.code == code.as_str());
            if !taken && self.erased(code.as_str())?.is_none() {
                return Ok(code);
            }
        }
        Err(Error::Archive {
            path: self.folder().into(),
            why: "no free code was found".into(),
            remedy: Remedy::ChooseCode,
        })
    }
}

/// What pictures in the reports are called where they are left out.
const PICTURES: &str = "pictures of the reports";

/// Writes a session again as it may leave the house: under a name of its clip that tells
/// nothing of the person, page and paper made again with it. Film and pictures in which
/// faces are shown, or may be, are left out unless everybody has agreed; gives back the
/// names of what was left out.
fn write_neutral(folder: &Path, how: &Adding, into: &FolderWriter) -> Result<Vec<String>> {
    let Neutral { session, document } = Session::open(folder)?.neutral()?;
    let kept = session::read_figures(folder)?;
    let had_pictures = !kept.pictures.is_empty();
    let figures = if how.faces_with_consent { kept } else { kept.without_faces() };
    let with_film = how.faces_with_consent || figures.faces.is_some();

    into.write(session::ASSESSMENT, |out| out.write_all(document.as_bytes()))?;
    if let Some(review) = &session.review {
        session::write_review(into, review)?;
    }
    use session::{CRITERIA, FILM, HEADS, LANDMARKS, MOTION, REPS, TRAJECTORIES};
    for name in [REPS, LANDMARKS, HEADS, TRAJECTORIES, MOTION, CRITERIA] {
        into.copy(name, &folder.join(name))?;
    }
    let mut left_out = Vec::new();
    if with_film {
        into.copy(FILM, &folder.join(FILM))?;
    } else {
        left_out.extend(folder.has(FILM).then(|| FILM.to_owned()));
        left_out.extend(had_pictures.then(|| PICTURES.to_owned()));
    }
    session::write_figures(into, &figures)?;
    (how.reports)(folder, &session, &figures, into)?;
    Ok(left_out)
}

/// The files of a folder as the index names them.
fn stored_files(folder: &Path) -> Result<Vec<StoredFile>> {
    let stored = |name: String| {
        let path = folder.join(&name);
        Ok(StoredFile { sha256: files::sha256(&path)?, size: files::size(&path)?, name })
    };
    files::files_in(folder)?.into_iter().map(stored).collect()
}
