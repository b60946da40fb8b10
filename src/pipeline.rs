//! The only place that knows the order of the stages.

use std::path::Path;
use std::sync::mpsc::sync_channel;
use std::thread;

use crate::assessment::Assessment;
use crate::criteria::Criteria;
use crate::error::{Error, Result};
use crate::files::{self, FolderWriter};
use crate::pose::landmarks::PoseFrame;
use crate::pose::{Landmarker, Networks, SURVEY_INTERVAL_S, Survey, Surveyor, Tracker};
use crate::record::{ClipFacts, Filming, Recording, as_stored};
use crate::session;
use crate::settings;
use crate::trajectory::Trajectories;
use crate::video::{Frame, FrameStream, Options as VideoOptions};

/// Told about the progress of a long run, and asked whether to go on.
pub trait Watcher {
    /// Frames done so far, and of how many if that is known.
    fn frames(&mut self, done: u64, of: Option<u64>);
    /// True if the user wants to stop.
    fn stopped(&self) -> bool;
}

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

/// Writes the data and the reports of an assessment into a folder under
/// construction. Without `clip` there is neither a film nor a picture.
///
/// # Errors
/// Those of writing and of reading the clip again, [`Error::Interrupted`].
pub fn write_session(
    folder: &FolderWriter,
    judged: &Judged,
    clip: Option<&Path>,
    wanted: &Wanted,
    watcher: &mut dyn Watcher,
) -> Result<()> {
    let Judged { recording, assessment, trajectories, criteria } = judged;
    session::write(folder, recording, assessment, trajectories, criteria)?;
    let _ = (clip, wanted, watcher);
    Ok(())
}

/// A recording with all that came of it.
pub struct Judged<'a> {
    /// What was seen.
    pub recording: &'a Recording,
    /// How it was judged.
    pub assessment: &'a Assessment,
    /// The courses the judgement rests on.
    pub trajectories: &'a Trajectories,
    /// The limits in force.
    pub criteria: &'a Criteria,
}

/// From a clip to the landmarks of the person who does the exercise.
///
/// # Errors
/// Those of reading a clip, of the network, [`Error::TooShort`],
/// [`Error::Nobody`], [`Error::Interrupted`].
pub fn watch_clip(
    clip: &Path,
    recorded_hz: Option<f64>,
    networks: &mut Networks,
    watcher: &mut dyn Watcher,
) -> Result<Recording> {
    let survey_options = VideoOptions {
        recorded_hz,
        min_interval_s: SURVEY_INTERVAL_S,
        skim: true,
        ..Default::default()
    };
    let mut surveyor = Surveyor::default();
    for frame in FrameStream::open(clip, &survey_options)? {
        if watcher.stopped() {
            return Err(Error::Interrupted);
        }
        surveyor.look(
            &mut networks.detector,
            &frame.picture,
            frame.time_s,
            frame.clip_px_per_px,
        )?;
    }
    let survey = surveyor.conclude();

    let options = VideoOptions {
        recorded_hz,
        min_interval_s: 1.0 / settings::MAX_ANALYSED_HZ,
        ..Default::default()
    };
    let mut stream = FrameStream::open(clip, &options)?;
    let info = stream.info().clone();
    let survey = match survey {
        Some(survey) => survey,
        None => {
            let frames = stream.by_ref().take(2).count();
            return Err(match frames {
                0 => Error::NotVideo {
                    path: clip.into(),
                    why: "no frame of it can be decoded".into(),
                },
                1 => Error::TooShort { path: clip.into(), frames },
                _ => Error::Nobody(clip.into()),
            });
        }
    };
    let frames = follow(&mut stream, &mut networks.landmarkers, &survey, watcher)?;
    if frames.len() < 2 {
        return Err(Error::TooShort { path: clip.into(), frames: frames.len() });
    }
    let tracked_frames = frames.iter().filter(|f| f.pose.is_some()).count();
    let frame_rate_hz = stream.frame_rate_hz();
    let facts = ClipFacts {
        file: clip.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        sha256: files::sha256(clip)?,
        width_px: Some(info.width_px),
        height_px: Some(info.height_px),
        duration_s: stream.duration_s(),
        frames: stream.frames(),
        frame_rate_hz,
    };
    let filming = Filming {
        analysed_frames: frames.len(),
        tracked_frames,
        other_people: survey.other_people,
        camera_moved_s: survey.camera_moved_s.clone(),
        damaged: stream.damaged(),
        cut_short: stream.cut_short(),
        hdr: info.hdr,
        recorded_hz,
        pictures: Some(survey.pictures.clone()),
        assumed: Vec::new(),
    };
    Ok(Recording { clip: facts, filming, frames, motion: None })
}

/// Landmarks of every frame of the stream, in order. Each lane follows the
/// subject on its own, in every n-th frame.
fn follow(
    stream: &mut FrameStream,
    landmarkers: &mut [Landmarker],
    survey: &Survey,
    watcher: &mut dyn Watcher,
) -> Result<Vec<PoseFrame>> {
    let info = stream.info().clone();
    let slow = info.announced_hz / info.time_factor < settings::MIN_HZ_FOR_LANES;
    let used = if slow { 1 } else { landmarkers.len() };
    thread::scope(|scope| {
        let (queues, lanes): (Vec<_>, Vec<_>) = landmarkers[..used]
            .iter_mut()
            .map(|landmarker| {
                let (queue, waiting) = sync_channel::<Frame>(1);
                let lane = scope.spawn(move || {
                    let mut tracker = Tracker::new(landmarker, survey);
                    waiting.iter().map(|frame| tracker.follow(&frame)).collect::<Result<Vec<_>>>()
                });
                (queue, lane)
            })
            .unzip();
        for (frame, queue) in stream.zip(queues.iter().cycle()) {
            if watcher.stopped() {
                return Err(Error::Interrupted);
            }
            let done = frame.index as u64 + 1;
            if queue.send(frame).is_err() {
                break; // The lane has failed; joining it tells why.
            }
            watcher.frames(done, info.announced_frames);
        }
        drop(queues);
        let mut frames = Vec::new();
        for lane in lanes {
            let followed = lane.join().map_err(|_| Error::Network("a worker died".into()))?;
            frames.extend(followed?.into_iter().map(as_stored));
        }
        frames.sort_by_key(|f| f.index);
        Ok(frames)
    })
}
