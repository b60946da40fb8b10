//! Which files are opened as films, and how far FFmpeg is let go with one.
//!
//! FFmpeg is handed the open file and no name, may use no protocol and none but the
//! demuxers named here: a play list, a picture sequence or a film that points to another
//! file reaches nothing beyond its own bytes.

use std::io::Read;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use ffmpeg_next as ffmpeg;

use ffmpeg::format;
use ffmpeg::format::context::{Input, StreamIo};
use ffmpeg::util::error::EINVAL;
use image::ImageFormat;

use crate::error::{Error, Result};
use crate::files;

/// Demuxers of films that are whole in one file, as phones, cameras and programs that
/// record a screen write them.
const FILMS: [&str; 9] =
    ["mov", "matroska", "avi", "mpegts", "mpeg", "ogg", "asf", "flv", "yuv4mpegpipe"];
/// The same for people.
const FILMS_IN_WORDS: &str = "MP4, MOV, MKV, WebM, AVI, MPEG, OGV, WMV or FLV";
/// Demuxers of sound alone, so that it can be told that it is sound.
const SOUNDS: [&str; 4] = ["wav", "mp3", "aac", "flac"];

/// What FFmpeg may not do with a file. The first two refuse whatever else a file names
/// («none» is no protocol); the others bound what is read before the first frame, bytes
/// and microseconds, and the number of tracks (design choices, far above what films need).
const LIMITS: [(&str, &str); 6] = [
    ("protocol_whitelist", "none"),
    ("enable_drefs", "0"),
    ("use_absolute_path", "0"),
    ("probesize", "5000000"),
    ("analyzeduration", "10000000"),
    ("max_streams", "100"),
];

/// Opens a film. `stop`, once raised, ends this and all reading from it.
///
/// # Errors
/// Those of reading a file, [`Error::NotVideo`], [`Error::StillPicture`],
/// [`Error::Interrupted`].
pub(super) fn open(path: &Path, stop: &Arc<AtomicBool>) -> Result<Input> {
    files::check_readable_file(path)?;
    let file =
        StreamIo::from_read_seek(files::open(path)?).map_err(|e| not_video(path, e.to_string()))?;
    let known = FILMS.iter().chain(&SOUNDS).copied().collect::<Vec<_>>().join(",");
    let mut limits: ffmpeg::Dictionary = LIMITS.iter().collect();
    limits.set("format_whitelist", &known);
    let flag = stop.clone();
    let stopped = move || flag.load(Ordering::Relaxed);
    let input = format::input_from_stream_with_interrupt(file, None, Some(limits), stopped);
    match input {
        Ok(input) if is_known(&input) => Ok(input),
        _ if stop.load(Ordering::Relaxed) => Err(Error::Interrupted),
        _ if is_still_picture(path) => Err(Error::StillPicture(path.into())),
        Ok(_) => Err(of_no_known_kind(path)),
        // So FFmpeg answers where its demuxer is not among the known ones.
        Err(ffmpeg::Error::Other { errno: EINVAL }) => Err(of_no_known_kind(path)),
        Err(error) => Err(not_video(path, error.to_string())),
    }
}

/// FFmpeg names all that a demuxer reads, «mov,mp4,m4a,3gp,3g2,mj2».
fn is_known(input: &Input) -> bool {
    let demuxer = input.format();
    demuxer.name().split(',').any(|name| FILMS.contains(&name) || SOUNDS.contains(&name))
}

fn of_no_known_kind(path: &Path) -> Error {
    Error::NotVideo { path: path.into(), why: format!("it is no film in {FILMS_IN_WORDS}") }
}

pub(super) fn not_video(path: &Path, why: String) -> Error {
    Error::NotVideo { path: path.into(), why: why.to_lowercase() }
}

/// By its first bytes.
fn is_still_picture(path: &Path) -> bool {
    let mut head = Vec::new();
    let read = files::open(path).map(|file| file.take(12).read_to_end(&mut head));
    if !matches!(read, Ok(Ok(_))) {
        return false;
    }
    // Brands of ISO/IEC 23008-12, as phones write photographs.
    let photograph = head.get(4..8) == Some(b"ftyp".as_slice())
        && matches!(head.get(8..12), Some(b"heic" | b"heix" | b"mif1"));
    use ImageFormat::{Avif, Jpeg, Png, Tiff, WebP};
    photograph || matches!(image::guess_format(&head), Ok(Avif | Jpeg | Png | Tiff | WebP))
}
