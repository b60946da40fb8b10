//! From an assessment to the files of its session: data, film, page and paper.

use std::path::Path;
use std::sync::mpsc::{Receiver, sync_channel};
use std::thread;

use tiny_skia::Pixmap;

use super::Progress;
use crate::error::{Error, Result};
use crate::files::FolderWriter;
use crate::judgement::criteria::Criteria;
use crate::judgement::document::Told;
use crate::judgement::trajectories::Trajectories;
use crate::judgement::{Judgement, assess};
use crate::record::Recording;
use crate::report::content::Content;
use crate::report::on_film::{Overlay, Style};
use crate::report::{plots, wording, write_reports};
use crate::session::{self, Session};
use crate::session::{Faces, Figures, FilmClock, KeyPicture};
use crate::settings;
use crate::video::{FilmWriter, FrameStream, Options as VideoOptions};

/// Which reports to write, and how.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    /// The annotated film.
    pub film: bool,
    /// The page.
    pub page: bool,
    /// The paper.
    pub paper: bool,
    /// Show faces in film and pictures.
    pub faces_shown: bool,
    /// Show the faulted seconds of the film slower.
    pub slow_faults: bool,
}

/// A recording with all that came of it.
pub struct Judged<'a> {
    /// What was seen.
    pub recording: &'a Recording,
    /// How it was judged.
    pub session: Session,
    /// The courses the judgement rests on.
    pub trajectories: Trajectories,
}

impl<'a> Judged<'a> {
    /// Judges a recording.
    ///
    /// # Errors
    /// Those of [`assess`], naming `source`.
    pub fn new(
        recording: &'a Recording,
        told: &Told,
        criteria: Criteria,
        source: &Path,
    ) -> Result<Self> {
        let Judgement { assessment, notes, trajectories } =
            assess(recording, told, &criteria, source)?;
        let session = Session::new(wording::in_words(assessment, &notes), None, criteria);
        Ok(Self { recording, session, trajectories })
    }
}

/// Writes the data and the reports of an assessment into a folder under
/// construction. Without `clip` there is neither a film nor a picture. Gives back why a
/// report could not be made: the assessment is not lost for that.
///
/// # Errors
/// Those of writing the data, [`Error::Interrupted`].
pub fn write_session(
    folder: &FolderWriter,
    judged: &Judged,
    clip: Option<&Path>,
    wanted: &Wanted,
    progress: &mut dyn Progress,
) -> Result<Vec<Error>> {
    let Judged { recording, session, trajectories } = judged;
    let Session { machine: assessment, criteria, .. } = session;
    session::write(folder, recording, assessment, trajectories, criteria)?;
    let mut failed = Vec::new();
    let mut figures = Figures {
        faces: None,
        film: None,
        rep_plots: plots::rep_plots(assessment, trajectories, criteria),
        pictures: Vec::new(),
    };
    if let Some(clip) = clip.filter(|_| wanted.film || wanted.page || wanted.paper) {
        match annotate(folder, judged, clip, wanted, progress) {
            Ok((pictures, clock)) => {
                figures.faces = Some(if wanted.faces_shown { Faces::Shown } else { Faces::Hidden });
                figures.pictures = pictures;
                figures.film = wanted.film.then_some(clock);
            }
            Err(Error::Interrupted) => return Err(Error::Interrupted),
            Err(why) => {
                folder.discard(session::FILM);
                failed.push(why);
            }
        }
    }
    session::write_figures(folder, &figures)?;
    let date = jiff::ZonedDateTime::now().date();
    let content = Content { session, date, figures: &figures };
    failed.extend(write_reports(folder, &content, wanted.page, wanted.paper)?);
    Ok(failed)
}

/// Draws the assessment onto the clip: the film, if it is wanted, and pictures of the
/// reps' moments.
fn annotate(
    folder: &FolderWriter,
    judged: &Judged,
    clip: &Path,
    wanted: &Wanted,
    progress: &mut dyn Progress,
) -> Result<(Vec<KeyPicture>, FilmClock)> {
    let Judged { recording, session, trajectories } = judged;
    let Session { machine: assessment, criteria, .. } = session;
    let options = VideoOptions {
        recorded_hz: recording.filming.recorded_hz,
        long_side_px: settings::FILM_LONG_SIDE_PX,
        stop: progress.stop().clone(),
        ..Default::default()
    };
    let mut stream = FrameStream::open(clip, &options)?;
    let info = stream.info().clone();
    let style = Style {
        faces_shown: wanted.faces_shown,
        slow_faults: wanted.slow_faults,
        time_factor: info.time_factor,
    };
    let mut overlay = Overlay::new(recording, assessment, trajectories, criteria, style);
    let place = folder.place(session::FILM);
    thread::scope(|scope| {
        let (reel, waiting) = sync_channel(2);
        let hz = info.announced_hz;
        let film = wanted.film.then(|| scope.spawn(move || write_film(&place, hz, &waiting)));
        for frame in stream.by_ref() {
            let Some(picture) = overlay.draw(&frame) else { continue };
            let time_s = overlay.clock().at_s(frame.time_s);
            if film.is_some() && reel.send(Reel::Picture(picture, time_s)).is_err() {
                break; // The writer has failed; joining it tells why.
            }
            progress.drawn(frame.index as u64 + 1, info.announced_frames);
        }
        if progress.stopped() {
            return Err(Error::Interrupted);
        }
        if let Some(film) = film {
            let _ = reel.send(Reel::End(overlay.clock().at_s(stream.duration_s())));
            film.join().map_err(|_| Error::FilmNotWritten("a worker died".into()))??;
        }
        Ok(overlay.finish())
    })
}

/// What goes from the pencil to the film.
enum Reel {
    /// A picture, and from when on it is shown, seconds.
    Picture(Pixmap, f64),
    /// When the last one ends, seconds.
    End(f64),
}

/// Without an end, as after an interruption, the film is given up.
fn write_film(place: &Path, hz: f64, reel: &Receiver<Reel>) -> Result<()> {
    let mut film: Option<FilmWriter> = None;
    for piece in reel {
        match (piece, &mut film) {
            (Reel::Picture(picture, time_s), Some(film)) => film.add(picture.data(), time_s)?,
            (Reel::Picture(picture, time_s), None) => {
                let (width, height) = (picture.width(), picture.height());
                film.insert(FilmWriter::create(place, width, height, hz)?)
                    .add(picture.data(), time_s)?;
            }
            (Reel::End(time_s), _) => {
                return film.take().map_or(Ok(()), |film| film.finish(time_s));
            }
        }
    }
    Ok(())
}
