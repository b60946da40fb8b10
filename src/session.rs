//! The session folder: everything of one assessment, readable without us.

use std::path::{Path, PathBuf};

use crate::assessment::{Assessment, Source};
use crate::criteria::Criteria;
use crate::error::{Error, Result};
use crate::files::{self, FolderWriter};
use crate::motion::{MarkerNames, read_motion};
use crate::record::{
    Recording, is_recording, read_heads, read_landmarks, write_heads, write_landmarks,
};
use crate::report;
use crate::report::content::{Content, Faces, Figures};
use crate::review::Review;
use crate::summary::SessionSummary;
use crate::trajectory::Trajectories;

/// The document of the output contract.
pub const ASSESSMENT: &str = "assessment.json";
/// One row a rep.
pub const REPS: &str = "reps.csv";
/// Landmarks of every analysed frame.
pub const LANDMARKS: &str = "landmarks.csv";
/// Every head that was seen, so that faces can be hidden again.
pub const HEADS: &str = "heads.csv";
/// The courses the judgement rests on.
pub const TRAJECTORIES: &str = "trajectories.csv";
/// The points the measures rest on, for laboratory programs.
pub const MOTION: &str = "motion.trc";
/// The limits in force.
pub const CRITERIA: &str = "criteria.toml";
/// Drawings and pictures of the reports.
pub const FIGURES: &str = "figures.json";
/// What a clinician said of it; only where somebody did.
pub const REVIEW: &str = "review.json";

/// Default place: beside the clip, `CLIP-name.plumbrise`; of a very long name the beginning.
pub fn beside(clip: &Path) -> PathBuf {
    clip.with_file_name(files::name_with(clip.file_stem().unwrap_or_default(), ".plumbrise"))
}

/// The film with what was seen drawn on it.
pub const FILM: &str = "annotated.mp4";
/// The report as a page for a browser.
pub const PAGE: &str = "report.html";
/// The report on paper.
pub const PAPER: &str = "report.pdf";

/// Writes the data of a session into a folder under construction.
///
/// # Errors
/// [`Error::CannotWrite`].
pub fn write(
    folder: &FolderWriter,
    recording: &Recording,
    assessment: &Assessment,
    trajectories: &Trajectories,
    criteria: &Criteria,
) -> Result<()> {
    folder.write(ASSESSMENT, |out| {
        serde_json::to_writer_pretty(&mut *out, assessment)?;
        writeln!(out)
    })?;
    folder.write(REPS, |out| report::write_reps(assessment, out))?;
    if recording.motion.is_none() {
        folder.write(LANDMARKS, |out| write_landmarks(&recording.frames, out))?;
        folder.write(HEADS, |out| write_heads(&recording.heads, out))?;
    }
    folder.write(MOTION, |out| trajectories.write_motion(MOTION, out))?;
    folder.write(TRAJECTORIES, |out| trajectories.write(out))?;
    folder.write(CRITERIA, |out| out.write_all(criteria.to_toml().as_bytes()))
}

/// A session read back.
#[derive(Debug, Clone)]
pub struct Stored {
    /// What was seen.
    pub recording: Recording,
    /// How it was judged.
    pub assessment: Assessment,
}

fn bad(path: &Path, why: String) -> Error {
    Error::Session { path: path.into(), why }
}

/// The files of a session, wherever they are: in its folder, or in an archive.
pub trait SessionFiles {
    /// What the session is called in messages.
    fn shown(&self) -> PathBuf;

    /// True if it has a file of that name.
    fn has(&self, name: &str) -> bool;

    /// Content of a file; `None` where there is none.
    ///
    /// # Errors
    /// Where it is there and cannot be read, or is not what it was.
    fn content(&self, name: &str) -> Result<Option<Vec<u8>>>;
}

impl SessionFiles for Path {
    fn shown(&self) -> PathBuf {
        self.into()
    }

    fn has(&self, name: &str) -> bool {
        files::bring_back(self);
        files::exists(&self.join(name))
    }

    fn content(&self, name: &str) -> Result<Option<Vec<u8>>> {
        self.has(name).then(|| files::read_bytes(&self.join(name))).transpose()
    }
}

impl SessionFiles for PathBuf {
    fn shown(&self) -> PathBuf {
        self.clone()
    }

    fn has(&self, name: &str) -> bool {
        self.as_path().has(name)
    }

    fn content(&self, name: &str) -> Result<Option<Vec<u8>>> {
        self.as_path().content(name)
    }
}

/// A file as text, with what it is called in messages.
fn text<F: SessionFiles + ?Sized>(of: &F, name: &str) -> Result<Option<(String, PathBuf)>> {
    let Some(content) = of.content(name)? else { return Ok(None) };
    let path = of.shown().join(name);
    match String::from_utf8(content) {
        Ok(text) => Ok(Some((text, path))),
        Err(_) => Err(bad(&path, "it is not UTF-8 text".into())),
    }
}

/// Reads back how a session was judged.
///
/// # Errors
/// [`Error::Session`] with what is wrong.
pub fn read_assessment<F: SessionFiles + ?Sized>(session: &F) -> Result<Assessment> {
    let Some((text, path)) = text(session, ASSESSMENT)? else {
        let shown = session.shown();
        let why = match (shown.is_dir(), files::exists(&shown)) {
            (true, _) => format!("there is no {ASSESSMENT} in it"),
            (false, true) => "it is a file".into(),
            (false, false) => "it does not exist".into(),
        };
        return Err(bad(&shown, why));
    };
    let assessment: Assessment =
        serde_json::from_str(&text).map_err(|e| bad(&path, e.to_string()))?;
    if assessment.schema != crate::assessment::SCHEMA {
        return Err(bad(&path, format!("its schema is «{}»", assessment.schema)));
    }
    Ok(assessment)
}

/// How a clip was assessed into the folder `place` before, as it stands after its review;
/// `None` where nothing is there.
///
/// # Errors
/// [`Error::ResultsOfAnother`] where something else is there; those of reading the clip.
pub fn of_clip(place: &Path, clip: &Path) -> Result<Option<Assessment>> {
    files::bring_back(place);
    if !files::exists(place) {
        return Ok(None);
    }
    let sha256 = files::sha256(clip)?;
    let another = || Error::ResultsOfAnother(place.into());
    let assessment = read_assessment(place).map_err(|_| another())?;
    if assessment.clip.sha256 != sha256 {
        return Err(another());
    }
    // A review that cannot be read is for the commands that rest on it to refuse.
    let review = read_review(place).ok().flatten().zip(read_criteria(place).ok());
    Ok(Some(match review {
        Some((review, criteria)) => review.applied(&assessment, &criteria),
        None => assessment,
    }))
}

/// Reads back what is needed to judge a session again.
///
/// # Errors
/// [`Error::Session`] with what is wrong, [`Error::Missing`].
pub fn read(folder: &Path) -> Result<Stored> {
    let assessment = read_assessment(folder)?;
    // A film is judged again from its landmarks, markers from their points.
    let film = assessment.source == Source::Film;
    let kept = if film { LANDMARKS } else { MOTION };
    let path = folder.join(kept);
    if !files::exists(&path) {
        return Err(bad(folder, format!("there is no {kept} in it")));
    }
    let (frames, motion) = if film {
        (read_landmarks(files::open(&path)?, &path)?, None)
    } else {
        (Vec::new(), Some(read_motion(&path, &MarkerNames::built_in()?, None)?.motion))
    };
    if film && frames.is_empty() {
        return Err(bad(&path, "it holds no frame".into()));
    }
    // Sessions of the first versions have none.
    let heads_path = folder.join(HEADS);
    let heads = match film && files::exists(&heads_path) {
        true => read_heads(files::open(&heads_path)?, &heads_path)?,
        false => Vec::new(),
    };
    let recording = Recording {
        clip: assessment.clip.clone(),
        filming: assessment.filming.clone(),
        frames,
        heads,
        motion,
    };
    Ok(Stored { recording, assessment })
}

/// Reads back what a clinician said of a session; `None` where nobody did.
///
/// # Errors
/// [`Error::Session`] where it cannot be read or speaks of another assessment.
pub fn read_review<F: SessionFiles + ?Sized>(session: &F) -> Result<Option<Review>> {
    let Some((text, path)) = text(session, REVIEW)? else { return Ok(None) };
    let review: Review = serde_json::from_str(&text).map_err(|e| bad(&path, e.to_string()))?;
    if review.schema != crate::review::SCHEMA {
        return Err(bad(&path, format!("its schema is «{}»", review.schema)));
    }
    let assessment = session.content(ASSESSMENT)?.unwrap_or_default();
    if review.assessment_sha256 != files::sha256_of(&assessment) {
        return Err(bad(&path, format!("it speaks of another {ASSESSMENT}")));
    }
    Ok(Some(review))
}

/// The same, empty where nobody has said anything.
///
/// # Errors
/// Those of [`read_review`].
pub fn review_so_far<F: SessionFiles + ?Sized>(session: &F) -> Result<Review> {
    match read_review(session)? {
        Some(review) => Ok(review),
        None => {
            let assessment = session.content(ASSESSMENT)?.unwrap_or_default();
            Ok(Review::new(files::sha256_of(&assessment)))
        }
    }
}

/// A session in a few numbers, as it stands after its review.
///
/// # Errors
/// Those of reading it.
pub fn summary<F: SessionFiles + ?Sized>(session: &F) -> Result<SessionSummary> {
    let assessment = read_assessment(session)?;
    Ok(match read_review(session)? {
        Some(review) => SessionSummary::of(&assessment, Some(&review), &read_criteria(session)?),
        None => SessionSummary::unreviewed(&assessment),
    })
}

/// Reads back drawings and pictures; sessions of the first versions have none.
///
/// # Errors
/// [`Error::Session`] where they cannot be read.
pub fn read_figures<F: SessionFiles + ?Sized>(session: &F) -> Result<Option<Figures>> {
    let Some((text, path)) = text(session, FIGURES)? else { return Ok(None) };
    serde_json::from_str(&text).map(Some).map_err(|e| bad(&path, e.to_string()))
}

/// Writes what the reports draw and show.
///
/// # Errors
/// [`Error::CannotWrite`].
pub fn write_figures(folder: &FolderWriter, figures: &Figures) -> Result<()> {
    folder.write(FIGURES, |out| Ok(serde_json::to_writer(out, figures)?))
}

/// Writes page and paper. Gives back why the paper could not be made, if so: the rest is
/// not lost for that.
///
/// # Errors
/// [`Error::CannotWrite`].
pub fn write_reports(
    folder: &FolderWriter,
    content: &Content,
    page: bool,
    paper: bool,
) -> Result<Option<Error>> {
    if page {
        let page = report::page(content, FILM);
        folder.write(PAGE, |out| out.write_all(page.as_bytes()))?;
    }
    #[cfg(feature = "paper")]
    if paper {
        match report::paper(content) {
            Ok(paper) => folder.write(PAPER, |out| out.write_all(&paper))?,
            Err(why) => return Ok(Some(why)),
        }
    }
    let _ = paper; // Without the typesetter there is none.
    Ok(None)
}

/// Refuses to replace a session that a clinician has reviewed: the review would be lost. To
/// be asked early, to spare a long run, and when the folder is published, as somebody may
/// review it meanwhile.
///
/// # Errors
/// [`Error::Reviewed`].
pub fn refuse_if_reviewed(folder: &Path) -> Result<()> {
    files::bring_back(folder);
    match files::exists(&folder.join(REVIEW)) {
        true => Err(Error::Reviewed(folder.into())),
        false => Ok(()),
    }
}

/// Adds to the review of a session and writes the session again; page and paper are made
/// again where there were some. Others who review it at the same time wait, so that nothing
/// that is said is lost.
///
/// # Errors
/// Those of `say`, of reading and writing the session, [`Error::Paper`].
pub fn add_to_review<F>(folder: &Path, say: F) -> Result<()>
where
    F: FnOnce(&Assessment, &mut Review) -> Result<()>,
{
    // What is no session is refused before anything is made beside it.
    read_assessment(folder)?;
    let into = FolderWriter::amend(folder)?;
    let assessment = read_assessment(folder)?;
    let mut review = review_so_far(folder)?;
    say(&assessment, &mut review)?;
    // Also what others put there.
    for name in files::files_in(folder)? {
        if ![REVIEW, PAGE, PAPER].contains(&name.as_str()) {
            into.copy(&name, &folder.join(&name))?;
        }
    }
    write_review(&into, &review)?;
    let figures = read_figures(folder)?.unwrap_or_default();
    write_reports_again(folder, &assessment, Some(&review), &figures, &into)?;
    into.publish()
}

/// A session as it may leave the house: under a name of its clip that tells nothing of the
/// person.
struct Neutral {
    assessment: Assessment,
    /// The assessment as a file.
    document: String,
    review: Option<Review>,
    figures: Figures,
    /// It says that faces are hidden, or everybody has agreed that they are shown.
    with_film: bool,
    left_out: Vec<String>,
}

impl Neutral {
    /// Film and pictures in which faces are shown, or may be, are left out unless
    /// `faces_with_consent`.
    fn read<F: SessionFiles + ?Sized>(session: &F, faces_with_consent: bool) -> Result<Self> {
        let mut assessment = read_assessment(session)?;
        let mut review = read_review(session)?;
        assessment.clip.file = neutral_name(&assessment);
        let document = serde_json::to_string_pretty(&assessment);
        let document = document.map_err(|e| bad(&session.shown(), e.to_string()))? + "\n";
        if let Some(review) = &mut review {
            review.assessment_sha256 = files::sha256_of(document.as_bytes());
        }
        let mut figures = read_figures(session)?.unwrap_or_default();
        let mut left_out = Vec::new();
        // Silence is not enough: only a session that says so has its faces hidden.
        let with_film = faces_with_consent || figures.faces == Some(Faces::Hidden);
        if !with_film {
            let pictures = std::mem::take(&mut figures.pictures);
            (figures.film, figures.faces) = (None, None);
            left_out.extend(session.has(FILM).then(|| FILM.to_owned()));
            left_out.extend((!pictures.is_empty()).then(|| PICTURES.to_owned()));
        }
        Ok(Self { assessment, document, review, figures, with_film, left_out })
    }
}

/// What pictures in the reports are called where they are left out.
const PICTURES: &str = "pictures of the reports";

/// Digits of a session's id: for 10,000 sessions one chance in five million that two share
/// it (birthday bound, 2⁻⁴⁸·n²/2).
const ID_DIGITS: usize = 12;

/// What a session is called outside its folder, in archives and exports: the first digits of
/// the SHA-256 of its assessment under a neutral name of the clip.
///
/// # Errors
/// Those of reading it.
pub fn id<F: SessionFiles + ?Sized>(session: &F) -> Result<String> {
    let mut id = files::sha256_of(Neutral::read(session, false)?.document.as_bytes());
    id.truncate(ID_DIGITS);
    Ok(id)
}

/// Writes a session again as it may leave the house: under a name of its clip that tells
/// nothing of the person, page and paper made again with it. Film and pictures in which
/// faces are shown, or may be, are left out unless `faces_with_consent`; gives back the
/// names of what was left out.
///
/// # Errors
/// Those of reading and writing it, [`Error::Paper`].
pub fn write_pseudonymous(
    folder: &Path,
    faces_with_consent: bool,
    into: &FolderWriter,
) -> Result<Vec<String>> {
    let neutral = Neutral::read(folder, faces_with_consent)?;
    let Neutral { assessment, document, review, figures, .. } = &neutral;
    into.write(ASSESSMENT, |out| out.write_all(document.as_bytes()))?;
    if let Some(review) = review {
        write_review(into, review)?;
    }
    for name in [REPS, LANDMARKS, HEADS, TRAJECTORIES, MOTION, CRITERIA] {
        into.copy(name, &folder.join(name))?;
    }
    if neutral.with_film {
        into.copy(FILM, &folder.join(FILM))?;
    }
    write_figures(into, figures)?;
    write_reports_again(folder, assessment, review.as_ref(), figures, into)?;
    Ok(neutral.left_out)
}

/// The paper of a session as it may leave the house; faces are never shown in it.
///
/// # Errors
/// Those of reading the session, [`Error::Paper`].
#[cfg(feature = "paper")]
pub fn pseudonymous_paper<F: SessionFiles + ?Sized>(session: &F) -> Result<Vec<u8>> {
    let Neutral { assessment, review, figures, .. } = Neutral::read(session, false)?;
    let criteria = read_criteria(session)?;
    let date = jiff::ZonedDateTime::now().date();
    report::paper(&Content {
        assessment: &assessment,
        criteria: &criteria,
        review: review.as_ref(),
        date,
        figures: &figures,
    })
}

fn write_review(folder: &FolderWriter, review: &Review) -> Result<()> {
    folder.write(REVIEW, |out| {
        serde_json::to_writer_pretty(&mut *out, review)?;
        writeln!(out)
    })
}

/// Makes those of page and paper again that `folder` has.
fn write_reports_again(
    folder: &Path,
    assessment: &Assessment,
    review: Option<&Review>,
    figures: &Figures,
    into: &FolderWriter,
) -> Result<()> {
    let criteria = read_criteria(folder)?;
    let date = jiff::ZonedDateTime::now().date();
    let content = Content { assessment, criteria: &criteria, review, date, figures };
    let had = |name: &str| files::exists(&folder.join(name));
    match write_reports(into, &content, had(PAGE), had(PAPER))? {
        Some(why) => Err(why),
        None => Ok(()),
    }
}

/// A clip's name that tells only which clip it is. It keeps its ending, if that is one of a
/// clip or marker file: a document may say anything.
fn neutral_name(assessment: &Assessment) -> String {
    let file = Path::new(&assessment.clip.file);
    let ending = file.extension().and_then(|e| e.to_str()).filter(|_| is_recording(file));
    let start = assessment.clip.sha256.get(..ID_DIGITS).unwrap_or_default();
    match ending {
        Some(ending) => format!("clip-{start}.{}", ending.to_lowercase()),
        None => format!("clip-{start}"),
    }
}

/// Reads back the limits a session was judged by.
///
/// # Errors
/// Those of [`Criteria::parse`].
pub fn read_criteria<F: SessionFiles + ?Sized>(session: &F) -> Result<Criteria> {
    match text(session, CRITERIA)? {
        Some((text, path)) => Criteria::parse(&text, &path),
        None => Criteria::built_in(),
    }
}
