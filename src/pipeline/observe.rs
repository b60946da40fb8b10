//! From a clip to a recording: dense for an assessment, sparse for a look at the filming.

use std::path::Path;
use std::sync::atomic::Ordering;
use std::sync::mpsc::{Receiver, sync_channel};
use std::thread;

use super::Progress;
use crate::error::{Error, Result};
use crate::files;
use crate::pose::{Detection, Landmarker, Networks, SURVEY_INTERVAL_S, Survey, Surveyor, Tracker};
use crate::record::landmarks::{Pose, PoseFrame};
use crate::record::{ClipFacts, Filming, Recording, as_stored, check_times};
use crate::settings;
use crate::signal::rounded;
use crate::video::{Frame, FrameStream, Options as VideoOptions};

/// From a clip to the landmarks of the person who does the exercise.
///
/// # Errors
/// Those of reading a clip, of the network, [`Error::TooShort`],
/// [`Error::Nobody`], [`Error::Interrupted`].
pub fn observe_clip(
    clip: &Path,
    recorded_hz: Option<f64>,
    networks: &mut Networks,
    progress: &mut dyn Progress,
) -> Result<Recording> {
    let survey = survey(clip, recorded_hz, networks, progress)?;

    let options = VideoOptions {
        recorded_hz,
        min_interval_s: 1.0 / settings::MAX_ANALYSED_HZ,
        stop: progress.stop().clone(),
        ..Default::default()
    };
    let mut stream = FrameStream::open(clip, &options)?;
    let Some(survey) = survey else { return Err(nobody(clip, &options)) };
    let frames = follow(&mut stream, &mut networks.landmarkers, &survey, progress)?;
    if frames.len() < 2 {
        return Err(Error::TooShort { path: clip.into(), frames: frames.len() });
    }
    check_times(&frames).map_err(|why| Error::NotVideo { path: clip.into(), why })?;
    let facts = facts(clip, &stream)?;
    let filming = filming(&frames, &survey, &stream, recorded_hz);
    Ok(Recording { clip: facts, filming, frames, heads: survey.heads, motion: None })
}

/// Who is in the clip, and who does the exercise; `None` if nobody was seen. Where several
/// people are in the picture their landmarks are looked at, now and then.
fn survey(
    clip: &Path,
    recorded_hz: Option<f64>,
    networks: &mut Networks,
    progress: &mut dyn Progress,
) -> Result<Option<Survey>> {
    let Networks { detector, landmarkers } = networks;
    let mut surveyor = Surveyor::default();
    let mut last_s = f64::NEG_INFINITY;
    for frame in FrameStream::open(clip, &skimming(recorded_hz, progress))? {
        let people = surveyor.look(detector, &frame.picture, frame.time_s, frame.clip_px_per_px)?;
        let due = frame.time_s - last_s >= settings::GLIMPSE_INTERVAL_S;
        if let Some(landmarker) = landmarkers.first_mut().filter(|_| due && people.len() > 1) {
            last_s = frame.time_s;
            surveyor.postures(frame.time_s, &glimpse(landmarker, &frame, &people)?.poses);
        }
    }
    go_on(progress)?;
    Ok(surveyor.conclude())
}

/// From a clip to a sparse recording of the person who does the exercise, in one skimming
/// pass: the detector looks about every 0.2 s, the landmark network at every second of
/// these looks at up to [`MOST_PEOPLE`] people. For judging the filming, not the movement.
///
/// # Errors
/// As [`observe_clip`].
pub fn look_at_clip(
    clip: &Path,
    recorded_hz: Option<f64>,
    networks: &mut Networks,
    progress: &mut dyn Progress,
) -> Result<Recording> {
    let options = skimming(recorded_hz, progress);
    let mut stream = FrameStream::open(clip, &options)?;
    let info = stream.info().clone();
    let Networks { detector, landmarkers } = networks;
    let mut surveyor = Surveyor::default();
    let mut last_s = f64::NEG_INFINITY;
    let mut looks = in_lanes(
        landmarkers,
        |landmarker, waiting: Receiver<(Frame, Vec<Detection>)>| {
            waiting.iter().map(|(frame, people)| glimpse(landmarker, &frame, &people)).collect()
        },
        |queue| {
            for frame in stream.by_ref() {
                let people =
                    surveyor.look(detector, &frame.picture, frame.time_s, frame.clip_px_per_px)?;
                if frame.time_s - last_s >= settings::GLIMPSE_INTERVAL_S {
                    last_s = frame.time_s;
                    if !queue((frame, people)) {
                        break;
                    }
                }
            }
            go_on(progress)
        },
    )?;
    looks.iter().for_each(|look| surveyor.postures(look.time_s, &look.poses));
    let Some(survey) = surveyor.conclude() else { return Err(nobody(clip, &options)) };
    looks.sort_by_key(|look| look.index);
    let frames: Vec<PoseFrame> = looks
        .into_iter()
        .map(|look| {
            let pose = survey.subject_among(look.time_s, look.poses);
            PoseFrame { index: look.index, time_s: look.time_s, pose }
        })
        .collect();
    if frames.len() < 2 {
        return Err(Error::TooShort { path: clip.into(), frames: stream.frames() });
    }
    check_times(&frames).map_err(|why| Error::NotVideo { path: clip.into(), why })?;
    // Skimming passes over frames, so their number and rate are the container's word.
    let announced_hz = info.announced_hz / info.time_factor;
    let frame_rate_hz = if announced_hz > 0.0 { announced_hz } else { stream.frame_rate_hz() };
    let facts = ClipFacts {
        frames: info.announced_frames.map_or(stream.frames(), |n| n as usize),
        frame_rate_hz,
        ..facts(clip, &stream)?
    };
    let filming = filming(&frames, &survey, &stream, recorded_hz);
    Ok(Recording { clip: facts, filming, frames, heads: survey.heads, motion: None })
}

/// A stream of frames ends when the user stops it; nothing may be made of what came by.
fn go_on(progress: &dyn Progress) -> Result<()> {
    if progress.stopped() { Err(Error::Interrupted) } else { Ok(()) }
}

/// Few frames, quickly.
fn skimming(recorded_hz: Option<f64>, progress: &dyn Progress) -> VideoOptions {
    VideoOptions {
        recorded_hz,
        min_interval_s: SURVEY_INTERVAL_S,
        skim: true,
        stop: progress.stop().clone(),
        ..Default::default()
    }
}

/// A quick look takes in the landmarks of this many people at most; the one who does
/// the exercise is hardly ever fainter than two others (design choice).
const MOST_PEOPLE: usize = 3;

/// Everybody's landmarks in one frame.
struct Look {
    index: usize,
    time_s: f64,
    poses: Vec<Pose>,
}

fn glimpse(landmarker: &mut Landmarker, frame: &Frame, people: &[Detection]) -> Result<Look> {
    let mut poses = Vec::new();
    for person in people.iter().take(MOST_PEOPLE) {
        let pose = landmarker.pose_in(&frame.picture, &person.region())?;
        poses.extend(pose.map(|p| p.scaled(frame.clip_px_per_px)));
    }
    Ok(Look { index: frame.index, time_s: frame.time_s, poses })
}

/// Why a clip in which the survey found nobody cannot be used.
fn nobody(clip: &Path, options: &VideoOptions) -> Error {
    let every = VideoOptions { min_interval_s: 0.0, skim: false, ..options.clone() };
    let frames = FrameStream::open(clip, &every).map(|stream| stream.take(2).count());
    match frames {
        Err(error) => error,
        Ok(_) if options.stop.load(Ordering::Relaxed) => Error::Interrupted,
        Ok(0) => Error::NotVideo { path: clip.into(), why: "no frame of it can be decoded".into() },
        Ok(1) => Error::TooShort { path: clip.into(), frames: 1 },
        Ok(_) => Error::Nobody(clip.into()),
    }
}

/// Facts of a clip that was read to its end.
fn facts(clip: &Path, stream: &FrameStream) -> Result<ClipFacts> {
    let info = stream.info();
    Ok(ClipFacts {
        file: clip.file_name().unwrap_or_default().to_string_lossy().into_owned(),
        sha256: files::sha256(clip)?,
        width_px: Some(info.width_px),
        height_px: Some(info.height_px),
        duration_s: stream.duration_s(),
        frames: stream.frames(),
        frame_rate_hz: stream.frame_rate_hz(),
        recorded_at: info.recorded_at,
    })
}

/// How the filming of a clip that was read to its end went.
fn filming(
    frames: &[PoseFrame],
    survey: &Survey,
    stream: &FrameStream,
    recorded_hz: Option<f64>,
) -> Filming {
    Filming {
        analysed_frames: frames.len(),
        tracked_frames: frames.iter().filter(|f| f.pose.is_some()).count(),
        other_people: survey.other_people,
        camera_moved_s: survey.camera_moved_s.clone(),
        damaged: stream.damaged(),
        cut_short: stream.cut_short(),
        clock_jumps_s: stream.clock_jumps_s().iter().map(|at_s| rounded(*at_s, 2)).collect(),
        hdr: stream.info().hdr,
        recorded_hz,
        pictures: Some(survey.pictures.clone()),
        assumed: Vec::new(),
    }
}

/// Hands jobs to one lane for each landmark network in turn, and gathers what they make.
/// `feed` is given a queue that returns false once a lane has failed.
fn in_lanes<J: Send, R: Send>(
    landmarkers: &mut [Landmarker],
    work: impl Fn(&mut Landmarker, Receiver<J>) -> Result<Vec<R>> + Sync,
    feed: impl FnOnce(&mut dyn FnMut(J) -> bool) -> Result<()>,
) -> Result<Vec<R>> {
    thread::scope(|scope| {
        let work = &work;
        let (queues, lanes): (Vec<_>, Vec<_>) = landmarkers
            .iter_mut()
            .map(|landmarker| {
                let (queue, waiting) = sync_channel::<J>(1);
                (queue, scope.spawn(move || work(landmarker, waiting)))
            })
            .unzip();
        let mut turn = queues.iter().cycle();
        feed(&mut |job| turn.next().is_some_and(|queue| queue.send(job).is_ok()))?;
        drop(queues);
        let mut made = Vec::new();
        for lane in lanes {
            made.extend(lane.join().map_err(|_| Error::Network("a worker died".into()))??);
        }
        Ok(made)
    })
}

/// Landmarks of every frame of the stream, in order. Each lane follows the
/// subject on its own, in every n-th frame.
fn follow(
    stream: &mut FrameStream,
    landmarkers: &mut [Landmarker],
    survey: &Survey,
    progress: &mut dyn Progress,
) -> Result<Vec<PoseFrame>> {
    let info = stream.info().clone();
    let slow = info.announced_hz / info.time_factor < settings::MIN_HZ_FOR_LANES;
    let used = if slow { 1 } else { landmarkers.len() };
    let mut frames = in_lanes(
        &mut landmarkers[..used],
        |landmarker, waiting: Receiver<Frame>| {
            let mut tracker = Tracker::new(landmarker, survey);
            waiting.iter().map(|frame| tracker.follow(&frame)).collect()
        },
        |queue| {
            for frame in stream {
                let done = frame.index as u64 + 1;
                if !queue(frame) {
                    break; // The lane has failed; joining it tells why.
                }
                progress.frames(done, info.announced_frames);
            }
            go_on(progress)
        },
    )?;
    frames.sort_by_key(|f| f.index);
    Ok(frames.into_iter().map(as_stored).collect())
}
