use std::panic::resume_unwind;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel, sync_channel};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use ffmpeg_next as ffmpeg;

use ffmpeg::codec::discard::Discard;
use ffmpeg::codec::packet::side_data::Type as SideData;
use ffmpeg::color::TransferCharacteristic;
use ffmpeg::format::context::Input;
use ffmpeg::format::stream::Disposition;
use ffmpeg::software::scaling;
use ffmpeg::util::error::EAGAIN;
use ffmpeg::{codec, format, frame, media};
use image::{RgbImage, imageops};
use jiff::Timestamp;

use super::clock::Clock;
use super::container::{self, not_video};
use super::frame::{ClipInfo, Frame};
use super::tone::{Hdr, ToneCurve};
use crate::error::{Error, Result};

/// How to read a clip.
#[derive(Debug, Clone)]
pub struct Options {
    /// Frame rate at which a slow-motion clip was really recorded, per second.
    pub recorded_hz: Option<f64>,
    /// Pictures are reduced so that their longer side is at most this, pixels.
    pub long_side_px: u32,
    /// Frames closer together than this are passed over, seconds.
    pub min_interval_s: f64,
    /// Pass over frames that no other frame depends on where that is cheap
    /// (for a quick survey).
    pub skim: bool,
    /// Once raised, from whatever thread, it ends opening and decoding.
    pub stop: Arc<AtomicBool>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            recorded_hz: None,
            long_side_px: 1920,
            min_interval_s: 0.0,
            skim: false,
            stop: Arc::default(),
        }
    }
}

/// Frames waiting between decoder and user; together with the codec's own
/// store this bounds memory.
const FRAMES_IN_FLIGHT: usize = 2;

/// Whoever waits for FFmpeg looks this often whether to stop is asked for (design choice).
const LOOK: Duration = Duration::from_millis(100);
/// Larger pictures are refused (design choice: twice those of 8K).
const MOST_PIXELS: u32 = 1 << 26;
/// After so many damaged pieces in a row nothing good comes any more (design choice: over a
/// minute of an ordinary film).
const GIVE_UP_AFTER: usize = 3000;
/// A rate that is announced beyond this, per second, is none (design choice).
const MOST_HZ: f64 = 2000.0;

/// Opens `path` and tells what it is, without decoding it.
///
/// # Errors
/// One of the «cannot be read as video» errors of [`Error`], [`Error::Interrupted`].
pub fn probe(path: &Path, options: &Options) -> Result<ClipInfo> {
    Ok(begin(path, options, drop)?.0)
}

/// Opens a clip and goes on with it, in a thread of its own: who waits for it can stop even
/// where FFmpeg does not come back.
fn begin<T: Send + 'static>(
    path: &Path,
    options: &Options,
    go_on: impl FnOnce(Source) -> T + Send + 'static,
) -> Result<(ClipInfo, JoinHandle<Option<T>>)> {
    let (tell, opened) = channel();
    let (own_path, own_options) = (path.to_owned(), options.clone());
    let worker = thread::spawn(move || match Source::open(&own_path, &own_options) {
        Ok(source) => tell.send(Ok(source.info.clone())).ok().map(|()| go_on(source)),
        Err(error) => {
            // Who does not wait any more need not know.
            let _ = tell.send(Err(error));
            None
        }
    });
    match awaited(&opened, &options.stop) {
        Some(info) => Ok((info?, worker)),
        None if options.stop.load(Ordering::Relaxed) => Err(Error::Interrupted),
        None => {
            Err(worker.join().map_or_else(|fault| resume_unwind(fault), |_| Error::Interrupted))
        }
    }
}

/// What is sent next; `None` where nothing comes any more, or to stop is asked for.
fn awaited<T>(from: &Receiver<T>, stop: &AtomicBool) -> Option<T> {
    while !stop.load(Ordering::Relaxed) {
        match from.recv_timeout(LOOK) {
            Err(RecvTimeoutError::Timeout) => {}
            sent => return sent.ok(),
        }
    }
    None
}

/// Reads a container's time of creation (ISO 8601). Before 2000 no phone filmed: that is a
/// clock that was never set, or a field that was never filled (1904 or 1970).
fn recorded_at(text: &str) -> Option<Timestamp> {
    let at: Timestamp = text.parse().ok()?;
    (at.as_second() >= 946_684_800).then_some(at)
}

/// Iterator over the frames of a clip, decoded in the background. It also ends when it is
/// asked to stop ([`Options::stop`]); then nothing is known of the end.
pub struct FrameStream {
    info: ClipInfo,
    frames: Receiver<Frame>,
    stop: Arc<AtomicBool>,
    worker: Option<JoinHandle<Option<Ended>>>,
    ended: Option<Ended>,
}

/// How decoding ended.
#[derive(Debug, Clone, Default)]
struct Ended {
    damaged: usize,
    cut_short: bool,
    frames: usize,
    frame_rate_hz: f64,
    duration_s: f64,
    clock_jumps_s: Vec<f64>,
}

impl FrameStream {
    /// Opens the clip and starts decoding.
    ///
    /// # Errors
    /// As [`probe`].
    pub fn open(path: &Path, options: &Options) -> Result<Self> {
        let (sender, frames) = sync_channel(FRAMES_IN_FLIGHT);
        let decode = move |source: Source| source.decode(|frame| sender.send(frame).is_ok());
        let (info, worker) = begin(path, options, decode)?;
        let stop = options.stop.clone();
        Ok(Self { info, frames, stop, worker: Some(worker), ended: None })
    }

    /// What is known of the clip.
    pub fn info(&self) -> &ClipInfo {
        &self.info
    }

    /// Damaged pieces that were skipped; complete once the iterator has ended.
    pub fn damaged(&self) -> usize {
        self.ended.as_ref().map_or(0, |e| e.damaged)
    }

    /// Frames decoded, whether delivered or passed over; known at the end.
    pub fn frames(&self) -> usize {
        self.ended.as_ref().map_or(0, |e| e.frames)
    }

    /// Median frame rate of movement, per second; known at the end.
    pub fn frame_rate_hz(&self) -> f64 {
        self.ended.as_ref().map_or(0.0, |e| e.frame_rate_hz)
    }

    /// From the first frame to the end of the last, seconds; known at the end.
    pub fn duration_s(&self) -> f64 {
        self.ended.as_ref().map_or(0.0, |e| e.duration_s)
    }

    /// The file ended before what its header announced; known at the end.
    pub fn cut_short(&self) -> bool {
        self.ended.as_ref().is_some_and(|e| e.cut_short)
    }

    /// When the file's clock jumped, seconds; known at the end.
    pub fn clock_jumps_s(&self) -> &[f64] {
        self.ended.as_ref().map_or(&[], |e| &e.clock_jumps_s)
    }
}

impl Iterator for FrameStream {
    type Item = Frame;

    fn next(&mut self) -> Option<Frame> {
        if let Some(frame) = awaited(&self.frames, &self.stop) {
            return Some(frame);
        }
        // One that is to stop may be far inside FFmpeg; nobody waits for it.
        let worker = self.worker.take().filter(|_| !self.stop.load(Ordering::Relaxed));
        if let Some(worker) = worker {
            // A fault of the program is nothing the file is to blame for.
            self.ended = worker.join().unwrap_or_else(|fault| resume_unwind(fault));
        }
        None
    }
}

/// An open file with everything needed to decode its video stream.
struct Source {
    info: ClipInfo,
    input: Input,
    stream: usize,
    time_base_s: f64,
    decoder: codec::decoder::Video,
    orientation: Orientation,
    /// Size of all pictures before they are turned upright, pixels.
    stored_px: (u32, u32),
    tone: Option<ToneCurve>,
    options: Options,
}

impl Source {
    fn open(path: &Path, options: &Options) -> Result<Self> {
        let failed = |why: ffmpeg::Error| not_video(path, why.to_string());
        ffmpeg::init().map_err(failed)?;
        ffmpeg::log::set_level(ffmpeg::log::Level::Quiet);
        let input = container::open(path, &options.stop)?;
        let is_film = |s: &format::stream::Stream| {
            s.parameters().medium() == media::Type::Video
                && !s.disposition().contains(Disposition::ATTACHED_PIC)
        };
        let Some(stream) = input.streams().filter(is_film).max_by_key(|s| {
            let d = s.disposition().contains(Disposition::DEFAULT);
            (d, s.frames())
        }) else {
            let sound = input.streams().any(|s| s.parameters().medium() == media::Type::Audio);
            return Err(if sound {
                Error::AudioOnly(path.into())
            } else {
                not_video(path, "it has no video track".into())
            });
        };

        let mut context = codec::Context::from_parameters(stream.parameters()).map_err(failed)?;
        // One thread decodes while another runs the network; a second decoding
        // thread would only compete with it and hold more frames.
        context.set_threading(codec::threading::Config::count(1));
        let codec = codec::decoder::find(context.id());
        let mut limits = ffmpeg::Dictionary::new();
        limits.set("max_pixels", &MOST_PIXELS.to_string());
        let mut decoder = codec
            .ok_or(ffmpeg::Error::DecoderNotFound)
            .and_then(|codec| context.decoder().open_as_with(codec, limits)?.video())
            .map_err(|e| not_video(path, format!("no decoder for its format: {e}")))?;
        if options.skim {
            decoder.skip_frame(Discard::NonReference);
        }
        if decoder.width() == 0 || decoder.height() == 0 {
            return Err(not_video(path, "its picture has no size, or none that can be".into()));
        }

        let orientation = stream
            .side_data()
            .find(|d| d.kind() == SideData::DisplayMatrix)
            .and_then(|d| Orientation::from_display_matrix(d.data()))
            .unwrap_or_default();
        let sar = f64::from(decoder.aspect_ratio());
        let pixel_aspect = if sar.is_finite() && (0.1..10.0).contains(&sar) { sar } else { 1.0 };
        let square_width = (f64::from(decoder.width()) * pixel_aspect).round().max(1.0) as u32;
        let (width_px, height_px) = orientation.upright_size(square_width, decoder.height());
        let stored_px = reduced((square_width, decoder.height()), options.long_side_px);

        let announced_hz = [stream.avg_frame_rate(), stream.rate()]
            .map(f64::from)
            .into_iter()
            .find(|r| *r > 0.0 && *r <= MOST_HZ)
            .unwrap_or(0.0);
        let time_factor = match options.recorded_hz {
            Some(recorded) if announced_hz > 0.0 => announced_hz / recorded,
            _ => 1.0,
        };
        let time_base_s = f64::from(stream.time_base());
        let announced_frames = announced_frames(&input, &stream, announced_hz);
        let hdr = match decoder.color_transfer_characteristic() {
            TransferCharacteristic::ARIB_STD_B67 => Some(Hdr::Hlg),
            TransferCharacteristic::SMPTE2084 => Some(Hdr::Pq),
            _ => None,
        };
        let stream = stream.index();
        let info = ClipInfo {
            width_px,
            height_px,
            announced_frames,
            announced_hz,
            time_factor,
            hdr: hdr.is_some(),
            recorded_at: input.metadata().get("creation_time").and_then(recorded_at),
        };
        Ok(Self {
            info,
            input,
            stream,
            time_base_s,
            decoder,
            orientation,
            stored_px,
            tone: hdr.map(ToneCurve::new),
            options: options.clone(),
        })
    }

    /// Decodes to the end, or until `deliver` returns false.
    fn decode(mut self, mut deliver: impl FnMut(Frame) -> bool) -> Ended {
        let mut ended = Ended::default();
        let mut clock = Clock::new(self.time_base_s, &self.info);
        let mut converter = None;
        let mut spacing = Spacing::new(self.options.min_interval_s);
        let mut packet = codec::packet::Packet::empty();
        let mut at_end = false;
        // Damaged pieces up to the last good frame.
        let mut before = 0;
        while !at_end && !self.options.stop.load(Ordering::Relaxed) {
            if ended.damaged - before > GIVE_UP_AFTER {
                ended.cut_short = true;
                break;
            }
            match packet.read(&mut self.input) {
                Ok(()) if packet.stream() == self.stream => {
                    if self.decoder.send_packet(&packet).is_err() {
                        ended.damaged += 1;
                    }
                }
                Ok(()) => continue,
                Err(ffmpeg::Error::InvalidData) => {
                    ended.damaged += 1;
                    continue;
                }
                Err(e) => {
                    ended.cut_short |= e != ffmpeg::Error::Eof;
                    // The last frames are still inside the decoder.
                    at_end = true;
                    if self.decoder.send_eof().is_err() {
                        break;
                    }
                }
            }
            let mut picture = frame::Video::empty();
            loop {
                match self.decoder.receive_frame(&mut picture) {
                    Ok(()) => {
                        before = ended.damaged;
                        let (index, time_s) = clock.tick(picture.timestamp());
                        if !spacing.admits(time_s) {
                            continue;
                        }
                        let Some(upright) = self.upright(&picture, &mut converter) else {
                            ended.damaged += 1;
                            continue;
                        };
                        let clip_px_per_px =
                            f64::from(self.info.width_px) / f64::from(upright.width());
                        if !deliver(Frame { index, time_s, picture: upright, clip_px_per_px }) {
                            return ended;
                        }
                    }
                    Err(ffmpeg::Error::Other { errno: EAGAIN }) | Err(ffmpeg::Error::Eof) => break,
                    Err(_) => {
                        ended.damaged += 1;
                        break;
                    }
                }
            }
        }
        if let Some(announced) = self.info.announced_frames {
            // Containers are off by a frame or two; a real cut is larger.
            let missing = announced.saturating_sub(clock.count() as u64);
            ended.cut_short |= !self.options.skim && missing > 2 + announced / 50;
        }
        let interval_s = clock.median_interval_s();
        ended.frames = clock.count();
        ended.frame_rate_hz = 1.0 / interval_s;
        ended.duration_s = clock.last_s() + interval_s;
        ended.damaged += clock.strays();
        ended.clock_jumps_s = clock.jumps_s().to_vec();
        ended
    }

    /// Converts a decoded picture to upright RGB.
    fn upright(&self, raw: &frame::Video, kept: &mut Option<Converter>) -> Option<RgbImage> {
        let key = (raw.format(), raw.width(), raw.height());
        if kept.as_ref().is_none_or(|c| c.key != key) {
            *kept = Some(Converter::new(key, self.stored_px)?);
        }
        let converter = kept.as_mut()?;
        let mut rgb = frame::Video::empty();
        converter.scaler.run(raw, &mut rgb).ok()?;
        let mut picture = packed(&rgb)?;
        if let Some(tone) = &self.tone {
            tone.apply(&mut picture);
        }
        Some(self.orientation.apply(picture))
    }
}

fn announced_frames(
    input: &Input,
    stream: &format::stream::Stream,
    announced_hz: f64,
) -> Option<u64> {
    if stream.frames() > 0 {
        return Some(stream.frames() as u64);
    }
    let duration_s = input.duration() as f64 / f64::from(ffmpeg::ffi::AV_TIME_BASE);
    (duration_s > 0.0 && announced_hz > 0.0).then_some((duration_s * announced_hz) as u64)
}

/// Passes over frames that follow too closely.
struct Spacing {
    min_interval_s: f64,
    last_s: f64,
}

impl Spacing {
    fn new(min_interval_s: f64) -> Self {
        Self { min_interval_s, last_s: f64::NEG_INFINITY }
    }

    fn admits(&mut self, time_s: f64) -> bool {
        let far_enough = time_s - self.last_s >= self.min_interval_s;
        if far_enough {
            self.last_s = time_s;
        }
        far_enough
    }
}

type PictureKey = (format::Pixel, u32, u32);

/// Colour conversion and reduction of one picture format.
struct Converter {
    key: PictureKey,
    scaler: scaling::Context,
}

impl Converter {
    /// A film whose pictures change in size, as some of calls and screens do, has them all
    /// in that of the first.
    fn new(key: PictureKey, (to_width, to_height): (u32, u32)) -> Option<Self> {
        let (pixel, width, height) = key;
        let scaler = scaling::Context::get(
            pixel,
            width,
            height,
            format::Pixel::RGB24,
            to_width,
            to_height,
            scaling::Flags::AREA | scaling::Flags::ACCURATE_RND,
        )
        .ok()?;
        Some(Self { key, scaler })
    }
}

/// A size whose longer side is at most `long_side_px`, of the same shape, in whole pixels.
fn reduced((width, height): (u32, u32), long_side_px: u32) -> (u32, u32) {
    let share = (f64::from(long_side_px) / f64::from(width.max(height))).min(1.0);
    let side = |side: u32| ((f64::from(side) * share).round() as u32).max(1);
    (side(width), side(height))
}

/// Copies an RGB24 frame without its row padding.
fn packed(rgb: &frame::Video) -> Option<RgbImage> {
    let (width, height, stride) = (rgb.width(), rgb.height(), rgb.stride(0));
    let row = width as usize * 3;
    let mut bytes = Vec::with_capacity(row * height as usize);
    for line in rgb.data(0).chunks(stride).take(height as usize) {
        bytes.extend_from_slice(line.get(..row)?);
    }
    RgbImage::from_raw(width, height, bytes)
}

/// What must be done to a stored picture so that it stands upright.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Orientation {
    /// Quarter turns clockwise, after mirroring.
    quarter_turns: u8,
    /// Mirror left and right first.
    mirror: bool,
}

impl Orientation {
    /// From the 3×3 display matrix of ISO/IEC 14496-12 (`tkhd`), nine native
    /// 32-bit numbers; only its upper left 2×2 part, in quarter turns.
    fn from_display_matrix(bytes: &[u8]) -> Option<Self> {
        let number = |i: usize| -> Option<f64> {
            let four: [u8; 4] = bytes.get(4 * i..4 * i + 4)?.try_into().ok()?;
            Some(f64::from(i32::from_ne_bytes(four)))
        };
        let (a, b, c, d) = (number(0)?, number(1)?, number(3)?, number(4)?);
        let mirror = a * d - b * c < 0.0;
        // Picture axes: a stored pixel (x, y) is shown at (a·x + c·y, b·x + d·y).
        let (cos, sin) = if mirror { (-a, -b) } else { (a, b) };
        let turns = (sin.atan2(cos) / std::f64::consts::FRAC_PI_2).round() as i32;
        Some(Self { quarter_turns: turns.rem_euclid(4) as u8, mirror })
    }

    fn upright_size(self, width: u32, height: u32) -> (u32, u32) {
        if self.quarter_turns % 2 == 1 { (height, width) } else { (width, height) }
    }

    fn apply(self, mut picture: RgbImage) -> RgbImage {
        if self.mirror {
            imageops::flip_horizontal_in_place(&mut picture);
        }
        match self.quarter_turns {
            1 => imageops::rotate90(&picture),
            2 => imageops::rotate180(&picture),
            3 => imageops::rotate270(&picture),
            _ => picture,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn matrix(a: i32, b: i32, c: i32, d: i32) -> Vec<u8> {
        let one = 1 << 16;
        [a * one, b * one, 0, c * one, d * one, 0, 0, 0, 1 << 30]
            .iter()
            .flat_map(|n: &i32| n.to_ne_bytes())
            .collect()
    }

    #[test]
    fn display_matrices_of_phones() {
        // ISO/IEC 14496-12 §8.3.2: (a b c d) = (0 1 -1 0) shows the picture
        // turned by 90° clockwise; the others follow by turning again.
        for (m, turns) in [
            (matrix(1, 0, 0, 1), 0),
            (matrix(0, 1, -1, 0), 1),
            (matrix(-1, 0, 0, -1), 2),
            (matrix(0, -1, 1, 0), 3),
        ] {
            let expected = Orientation { quarter_turns: turns, mirror: false };
            assert_eq!(Orientation::from_display_matrix(&m), Some(expected));
        }
        let mirrored = Orientation::from_display_matrix(&matrix(-1, 0, 0, 1)).unwrap();
        assert_eq!(mirrored, Orientation { quarter_turns: 0, mirror: true });
        assert_eq!(Orientation::from_display_matrix(&[1, 2, 3]), None);
    }

    #[test]
    fn mirrored_quarter_turn_moves_a_corner_as_the_matrix_says() {
        // (a b c d) = (0 1 1 0) transposes: stored (x, y) is shown at (y, x).
        let o = Orientation::from_display_matrix(&matrix(0, 1, 1, 0)).unwrap();
        let mut stored = RgbImage::new(3, 2);
        stored.put_pixel(2, 0, image::Rgb([255, 0, 0]));
        let shown = o.apply(stored);
        assert_eq!(shown.dimensions(), (2, 3));
        assert_eq!(shown.get_pixel(0, 2).0, [255, 0, 0]);
    }

    /// At the pipeline's limit a 60/s clip keeps every frame though its timestamps
    /// scatter by 2 ms, and 120/s and 240/s clips are thinned to 60/s.
    #[test]
    fn sixty_frames_a_second_are_kept_whole() {
        let kept = |rate_hz: f64, scatter_s: f64| {
            let mut spacing = Spacing::new(1.0 / crate::settings::MAX_ANALYSED_HZ);
            (0..600)
                .map(|i| i as f64 / rate_hz + if i % 2 == 0 { scatter_s } else { 0.0 })
                .filter(|t| spacing.admits(*t))
                .count()
        };
        assert_eq!(kept(60.0, 0.002), 600);
        assert_eq!(kept(120.0, 0.0), 300);
        assert_eq!(kept(240.0, 0.0), 150);
    }

    /// Times as phones write them (ISO 8601); 1904 is the beginning of QuickTime's own count
    /// (ISO/IEC 14496-12), 1970 that of Unix.
    #[test]
    fn a_time_of_creation_counts_unless_no_clock_was_set() {
        let at = |text: &str| recorded_at(text).map(|at| at.to_string());
        let kept = Some("2026-05-04T09:30:15Z".to_owned());
        assert_eq!(at("2026-05-04T09:30:15.000000Z"), kept);
        assert_eq!(at("2026-05-04T11:30:15+02:00"), kept);
        for nothing in ["1904-01-01T00:00:00Z", "1970-01-01T00:00:00Z", "yesterday", ""] {
            assert_eq!(at(nothing), None, "{nothing}");
        }
    }

    /// A stream whose decoding thread does that, without a film.
    fn stream(stop: &Arc<AtomicBool>, work: impl FnOnce() + Send + 'static) -> FrameStream {
        let (keep, frames) = sync_channel(1);
        let info = ClipInfo {
            width_px: 1,
            height_px: 1,
            announced_frames: None,
            announced_hz: 30.0,
            time_factor: 1.0,
            hdr: false,
            recorded_at: None,
        };
        let worker = thread::spawn(move || {
            let _keep = keep;
            work();
            None
        });
        FrameStream { info, frames, stop: stop.clone(), worker: Some(worker), ended: None }
    }

    #[test]
    #[should_panic = "a fault of the program"]
    fn a_fault_while_decoding_is_not_taken_for_the_end_of_the_file() {
        stream(&Arc::default(), || panic!("a fault of the program")).next();
    }

    /// Who asks to stop is not kept waiting by a decoder that does not come back.
    #[test]
    fn a_stream_that_is_to_stop_ends_though_its_decoder_does_not() {
        let stop = Arc::new(AtomicBool::new(false));
        let (end, never) = channel::<()>();
        let mut stream = stream(&stop, move || {
            let _ = never.recv();
        });
        stop.store(true, Ordering::Relaxed);
        assert!(stream.next().is_none());
        drop(end);
    }

    #[test]
    fn pictures_are_reduced_in_shape_and_never_to_nothing() {
        assert_eq!(reduced((3840, 2160), 1920), (1920, 1080));
        assert_eq!(reduced((1080, 1920), 1920), (1080, 1920));
        assert_eq!(reduced((1, 40_000), 1920), (1, 1920));
        assert_eq!(reduced((16, 16), 1920), (16, 16));
    }
}
