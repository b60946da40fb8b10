use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, sync_channel};
use std::thread;

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

use super::frame::{ClipInfo, Frame};
use super::tone::{Hdr, ToneCurve};
use crate::error::{Error, Result};
use crate::files;

/// How to read a clip.
#[derive(Debug, Clone, Copy)]
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
}

impl Default for Options {
    fn default() -> Self {
        Self { recorded_hz: None, long_side_px: 1920, min_interval_s: 0.0, skim: false }
    }
}

/// Frames waiting between decoder and user; together with the codec's own
/// store this bounds memory.
const FRAMES_IN_FLIGHT: usize = 3;

/// Demuxers that carry one picture, not a film.
const STILL_FORMATS: [&str; 4] = ["image2", "_pipe", "ico", "jpegxl_anim"];

/// Opens `path` and tells what it is, without decoding it.
///
/// # Errors
/// One of the «cannot be read as video» errors of [`Error`].
pub fn probe(path: &Path, options: &Options) -> Result<ClipInfo> {
    Ok(Source::open(path, options)?.info)
}

/// Reads a container's time of creation (ISO 8601). Before 2000 no phone filmed: that is a
/// clock that was never set, or a field that was never filled (1904 or 1970).
fn recorded_at(text: &str) -> Option<Timestamp> {
    let at: Timestamp = text.parse().ok()?;
    (at.as_second() >= 946_684_800).then_some(at)
}

/// Iterator over the frames of a clip, decoded in the background.
pub struct FrameStream {
    info: ClipInfo,
    frames: Receiver<Frame>,
    worker: Option<thread::JoinHandle<Ended>>,
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
}

impl FrameStream {
    /// Opens the clip and starts decoding.
    ///
    /// # Errors
    /// As [`probe`].
    pub fn open(path: &Path, options: &Options) -> Result<Self> {
        let source = Source::open(path, options)?;
        let info = source.info.clone();
        let (sender, frames) = sync_channel(FRAMES_IN_FLIGHT);
        let worker = thread::spawn(move || source.decode(|frame| sender.send(frame).is_ok()));
        Ok(Self { info, frames, worker: Some(worker), ended: None })
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
}

impl Iterator for FrameStream {
    type Item = Frame;

    fn next(&mut self) -> Option<Frame> {
        if let Ok(frame) = self.frames.recv() {
            return Some(frame);
        }
        if let Some(worker) = self.worker.take() {
            // A decoder that died is a file that ended early.
            let died = Ended { damaged: 1, cut_short: true, ..Default::default() };
            self.ended = Some(worker.join().unwrap_or(died));
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
    pixel_aspect: f64,
    tone: Option<ToneCurve>,
    options: Options,
}

impl Source {
    fn open(path: &Path, options: &Options) -> Result<Self> {
        files::check_readable_file(path)?;
        let not_video = |why: String| Error::NotVideo { path: path.into(), why };
        ffmpeg::init().map_err(|e| not_video(e.to_string()))?;
        ffmpeg::log::set_level(ffmpeg::log::Level::Quiet);

        let input = open_local(path)?;
        let format_name = input.format().name().to_owned();
        let still = STILL_FORMATS.iter().any(|s| format_name.contains(s));
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
                not_video("it has no video track".into())
            });
        };
        if still {
            return Err(Error::StillPicture(path.into()));
        }

        let mut context = codec::Context::from_parameters(stream.parameters())
            .map_err(|e| not_video(e.to_string()))?;
        // One thread decodes while another runs the network; a second decoding
        // thread would only compete with it and hold more frames.
        context.set_threading(codec::threading::Config::count(1));
        let mut decoder = context
            .decoder()
            .video()
            .map_err(|e| not_video(format!("no decoder for its format: {e}")))?;
        if options.skim {
            decoder.skip_frame(Discard::NonReference);
        }
        if decoder.width() == 0 || decoder.height() == 0 {
            return Err(not_video("its picture has no size".into()));
        }

        let orientation = stream
            .side_data()
            .find(|d| d.kind() == SideData::DisplayMatrix)
            .and_then(|d| Orientation::from_display_matrix(d.data()))
            .unwrap_or_default();
        let sar = f64::from(decoder.aspect_ratio());
        let pixel_aspect = if sar.is_finite() && (0.1..10.0).contains(&sar) { sar } else { 1.0 };
        let square_width = (f64::from(decoder.width()) * pixel_aspect).round() as u32;
        let (width_px, height_px) = orientation.upright_size(square_width, decoder.height());

        let announced_hz = [stream.avg_frame_rate(), stream.rate()]
            .map(f64::from)
            .into_iter()
            .find(|r| r.is_finite() && *r > 0.0)
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
            pixel_aspect,
            tone: hdr.map(ToneCurve::new),
            options: *options,
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
        while !at_end {
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
            let missing = announced.saturating_sub(clock.count as u64);
            ended.cut_short |= !self.options.skim && missing > 2 + announced / 50;
        }
        let interval_s = clock.median_interval_s();
        ended.frames = clock.count;
        ended.frame_rate_hz = 1.0 / interval_s;
        ended.duration_s = clock.last_s + interval_s;
        ended
    }

    /// Converts a decoded picture to upright RGB.
    fn upright(&self, raw: &frame::Video, kept: &mut Option<Converter>) -> Option<RgbImage> {
        let key = (raw.format(), raw.width(), raw.height());
        if kept.as_ref().is_none_or(|c| c.key != key) {
            *kept = Some(Converter::new(key, self.pixel_aspect, self.options.long_side_px)?);
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

/// Opens a local file and nothing else: a play list inside it must not make
/// FFmpeg reach for the network.
fn open_local(path: &Path) -> Result<Input> {
    let name = path.to_str().ok_or_else(|| Error::NameNotUnicode(path.into()))?;
    let mut limits = ffmpeg::Dictionary::new();
    limits.set("protocol_whitelist", "file");
    // «file:» keeps colons and leading dashes in names from being understood.
    let url = PathBuf::from(format!("file:{name}"));
    format::input_with_dictionary(&url, limits)
        .map_err(|e| Error::NotVideo { path: path.into(), why: e.to_string().to_lowercase() })
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

/// Seconds of movement from the timestamps of decoded frames.
struct Clock {
    seconds_per_tick: f64,
    nominal_interval_s: f64,
    first_tick: Option<i64>,
    last_s: f64,
    count: usize,
    intervals_s: Vec<f32>,
}

impl Clock {
    fn new(time_base_s: f64, info: &ClipInfo) -> Self {
        let hz = if info.announced_hz > 0.0 { info.announced_hz } else { 30.0 };
        Self {
            seconds_per_tick: time_base_s * info.time_factor,
            nominal_interval_s: info.time_factor / hz,
            first_tick: None,
            last_s: 0.0,
            count: 0,
            intervals_s: Vec::new(),
        }
    }

    /// Index and time of the next frame. A missing timestamp, or one that does
    /// not advance, is replaced by one nominal interval after the last.
    fn tick(&mut self, timestamp: Option<i64>) -> (usize, f64) {
        let index = self.count;
        self.count += 1;
        if index == 0 {
            self.first_tick = timestamp;
            return (0, 0.0);
        }
        let stamped = timestamp
            .zip(self.first_tick)
            .map(|(now, first)| (now - first) as f64 * self.seconds_per_tick);
        let now_s = match stamped {
            Some(t) if t > self.last_s => t,
            _ => self.last_s + self.nominal_interval_s,
        };
        self.intervals_s.push((now_s - self.last_s) as f32);
        self.last_s = now_s;
        (index, now_s)
    }

    fn median_interval_s(&mut self) -> f64 {
        let middle = self.intervals_s.len() / 2;
        if self.intervals_s.is_empty() {
            return self.nominal_interval_s;
        }
        f64::from(*self.intervals_s.select_nth_unstable_by(middle, f32::total_cmp).1)
    }
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
    fn new(key: PictureKey, pixel_aspect: f64, long_side_px: u32) -> Option<Self> {
        let (pixel, width, height) = key;
        let square = (f64::from(width) * pixel_aspect, f64::from(height));
        let reduce = (f64::from(long_side_px) / square.0.max(square.1)).min(1.0);
        let size = |side: f64| ((side * reduce).round() as u32).max(1);
        let scaler = scaling::Context::get(
            pixel,
            width,
            height,
            format::Pixel::RGB24,
            size(square.0),
            size(square.1),
            scaling::Flags::AREA | scaling::Flags::ACCURATE_RND,
        )
        .ok()?;
        Some(Self { key, scaler })
    }
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

    #[test]
    fn the_clock_follows_timestamps_and_survives_bad_ones() {
        let info = ClipInfo {
            width_px: 1,
            height_px: 1,
            announced_frames: None,
            announced_hz: 30.0,
            time_factor: 30.0 / 240.0,
            hdr: false,
            recorded_at: None,
        };
        let mut clock = Clock::new(1.0 / 600.0, &info);
        assert_eq!(clock.tick(Some(100)), (0, 0.0));
        let (_, t) = clock.tick(Some(120));
        assert!((t - 20.0 / 600.0 / 8.0).abs() < 1e-12, "slow motion: file time / 8");
        let (_, repeated) = clock.tick(Some(120));
        assert!((repeated - t - 1.0 / 240.0).abs() < 1e-12);
    }
}
