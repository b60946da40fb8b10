use std::path::{Path, PathBuf};

use ffmpeg_next as ffmpeg;

use ffmpeg::software::scaling;
use ffmpeg::util::error::EAGAIN;
use ffmpeg::{Packet, Rational, codec, encoder, format, frame};

use super::decoder::{FrameStream, Options};
use crate::error::{Error, Result};

/// Ticks per second of a written film: every usual frame rate is a whole number of them.
const TICKS_PER_S: i32 = 90_000;
/// A key frame at least this often, so that a player can jump anywhere at once (design
/// choice).
const KEY_FRAME_EVERY: u32 = 30;

/// Writes an H.264 film in an MP4 file, frame by frame with the time of each: plays in
/// browsers and on phones, begins to play before all of it has arrived, without sound.
pub struct FilmWriter {
    path: PathBuf,
    output: format::context::Output,
    encoder: encoder::Video,
    scaler: scaling::Context,
    size: (u32, u32),
    /// The last packet, held back until its duration is known.
    held: Option<Packet>,
    last_tick: i64,
    frames: usize,
}

impl FilmWriter {
    /// Begins a film of pictures of that size, pixels (an odd last row or column is
    /// squeezed in, because the format knows even sizes only), at about `hz` frames
    /// per second.
    ///
    /// # Errors
    /// [`Error::FilmNotWritten`].
    pub fn create(path: &Path, width_px: u32, height_px: u32, hz: f64) -> Result<Self> {
        let failed = |why: ffmpeg::Error| not_written(why.to_string());
        ffmpeg::init().map_err(failed)?;
        let name = path.to_str().ok_or_else(|| Error::NameNotUnicode(path.into()))?;
        // «file:» keeps colons in names from being understood.
        let url = PathBuf::from(format!("file:{name}"));
        let mut output = format::output_as(&url, "mp4").map_err(failed)?;
        let codec = encoder::find_by_name("libx264")
            .or_else(|| encoder::find(codec::Id::H264))
            .ok_or_else(|| not_written("this FFmpeg has no H.264 encoder".into()))?;
        let size = (width_px / 2 * 2, height_px / 2 * 2);
        let mut settings =
            codec::context::Context::new_with_codec(codec).encoder().video().map_err(failed)?;
        settings.set_width(size.0);
        settings.set_height(size.1);
        settings.set_format(format::Pixel::YUV420P);
        settings.set_time_base(Rational(1, TICKS_PER_S));
        settings.set_frame_rate(Some(Rational((hz * 1000.0).round() as i32, 1000)));
        settings.set_gop(KEY_FRAME_EVERY);
        // Frames in their order: what is shown is what was written last.
        settings.set_max_b_frames(0);
        settings.set_flags(codec::Flags::GLOBAL_HEADER);
        let mut options = ffmpeg::Dictionary::new();
        // Design choices: quick, and good enough to look at.
        options.set("preset", "veryfast");
        options.set("crf", "24");
        let encoder = settings.open_with(options).map_err(failed)?;
        let mut stream = output.add_stream(codec).map_err(failed)?;
        stream.set_time_base(Rational(1, TICKS_PER_S));
        stream.set_parameters(&encoder);
        let mut options = ffmpeg::Dictionary::new();
        options.set("movflags", "+faststart");
        output.write_header_with(options).map_err(failed)?;
        let scaler = scaling::Context::get(
            format::Pixel::RGBA,
            width_px,
            height_px,
            format::Pixel::YUV420P,
            size.0,
            size.1,
            scaling::Flags::BILINEAR,
        )
        .map_err(failed)?;
        let path = path.to_owned();
        Ok(Self { path, output, encoder, scaler, size, held: None, last_tick: -1, frames: 0 })
    }

    /// Adds a picture shown from `time_s` on: `rgba`, row by row without padding, of the
    /// size given at the beginning. Times must grow.
    ///
    /// # Errors
    /// [`Error::FilmNotWritten`].
    pub fn add(&mut self, rgba: &[u8], time_s: f64) -> Result<()> {
        let input = self.scaler.input();
        let (width, height) = (input.width, input.height);
        let mut picture = frame::Video::new(format::Pixel::RGBA, width, height);
        let (stride, row) = (picture.stride(0), 4 * width as usize);
        for (into, from) in picture.data_mut(0).chunks_mut(stride).zip(rgba.chunks(row)) {
            into[..row].copy_from_slice(from);
        }
        let mut coded = frame::Video::new(format::Pixel::YUV420P, self.size.0, self.size.1);
        self.scaler.run(&picture, &mut coded).map_err(|e| self.failed(e))?;
        let tick = (time_s * f64::from(TICKS_PER_S)).round() as i64;
        self.last_tick = tick.max(self.last_tick + 1);
        coded.set_pts(Some(self.last_tick));
        self.encoder.send_frame(&coded).map_err(|e| self.failed(e))?;
        self.frames += 1;
        self.pass_on()
    }

    /// Ends the film at `end_s`, then opens it again and holds it against what it
    /// should be.
    ///
    /// # Errors
    /// [`Error::FilmNotWritten`].
    pub fn finish(mut self, end_s: f64) -> Result<()> {
        self.encoder.send_eof().map_err(|e| self.failed(e))?;
        self.pass_on()?;
        let end_tick = (end_s * f64::from(TICKS_PER_S)).round() as i64;
        if let Some(last) = self.held.take() {
            self.write(last, end_tick.max(self.last_tick + 1))?;
        }
        self.output.write_trailer().map_err(|e| self.failed(e))?;
        let last_s = end_s - self.last_tick as f64 / f64::from(TICKS_PER_S);
        let (path, frames) = (self.path.clone(), self.frames);
        drop(self);
        check(&path, frames, end_s, last_s.max(0.0))
    }

    /// Moves finished packets from the encoder into the file.
    fn pass_on(&mut self) -> Result<()> {
        loop {
            let mut packet = Packet::empty();
            match self.encoder.receive_packet(&mut packet) {
                Ok(()) => {
                    if let Some(before) = self.held.take() {
                        let until = packet.pts().unwrap_or(0);
                        self.write(before, until)?;
                    }
                    self.held = Some(packet);
                }
                Err(ffmpeg::Error::Other { errno: EAGAIN }) | Err(ffmpeg::Error::Eof) => {
                    return Ok(());
                }
                Err(e) => return Err(self.failed(e)),
            }
        }
    }

    fn write(&mut self, mut packet: Packet, until_tick: i64) -> Result<()> {
        packet.set_duration(until_tick - packet.pts().unwrap_or(0));
        packet.set_stream(0);
        if let Some(stream) = self.output.stream(0) {
            packet.rescale_ts(Rational(1, TICKS_PER_S), stream.time_base());
        }
        packet.write_interleaved(&mut self.output).map_err(|e| self.failed(e))
    }

    fn failed(&self, why: ffmpeg::Error) -> Error {
        not_written(why.to_string())
    }
}

fn not_written(why: String) -> Error {
    Error::FilmNotWritten(why.to_lowercase())
}

/// Decodes the whole film; a frame fewer or a wrong length is an error. How long the last
/// frame is shown, `last_s`, the stream tells only as usual for the others.
fn check(path: &Path, frames: usize, end_s: f64, last_s: f64) -> Result<()> {
    let small = Options { long_side_px: 64, ..Options::default() };
    let mut film = FrameStream::open(path, &small)?;
    film.by_ref().for_each(drop);
    let (found, damaged, found_s) = (film.frames(), film.damaged(), film.duration_s());
    if damaged > 0 || found != frames {
        return Err(not_written(format!(
            "it holds {found} frames where {frames} were written, {damaged} damaged"
        )));
    }
    if (found_s - end_s).abs() > 0.1 + last_s {
        return Err(not_written(format!("it lasts {found_s:.2} s instead of {end_s:.2} s")));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What was written is read back: as many frames, at their own uneven times (a phone's
    /// variable frame rate), to the last one's end, in even sizes as H.264 4:2:0 wants
    /// (ITU-T H.264, 6.2).
    #[test]
    fn a_film_of_odd_size_and_uneven_times_reads_back() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a:film.mp4");
        let times_s = [0.0, 0.034, 0.066, 0.1335, 0.15, 0.2];
        let (width, height) = (101u32, 67u32);
        let mut film = FilmWriter::create(&path, width, height, 30.0).unwrap();
        for (i, time_s) in times_s.iter().enumerate() {
            let grey = 40 * i as u8;
            film.add(&[grey, grey, grey, 255].repeat((width * height) as usize), *time_s).unwrap();
        }
        film.finish(0.3).unwrap();
        let read: Vec<_> = FrameStream::open(&path, &Options::default()).unwrap().collect();
        assert_eq!(read.len(), times_s.len());
        for (i, (frame, time_s)) in read.iter().zip(times_s).enumerate() {
            assert!((frame.time_s - time_s).abs() < 1e-4, "{} {time_s}", frame.time_s);
            assert_eq!(frame.picture.dimensions(), (100, 66));
            let middle = frame.picture.get_pixel(50, 33).0[0];
            assert!(middle.abs_diff(40 * i as u8) < 8, "frame {i} is not in its place");
        }
    }

    #[test]
    fn a_place_that_cannot_be_written_is_an_error_in_words() {
        let error = FilmWriter::create(Path::new("no/such/folder/film.mp4"), 64, 64, 30.0).err();
        assert!(error.unwrap().to_string().contains("could not be written"));
    }
}
