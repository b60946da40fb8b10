//! The points and the reps' events as a C3D file, for motion laboratories.
//!
//! Written after the format's published user guide: a header block, parameter blocks and
//! data of 512 bytes each, little-endian («Intel»), real numbers in the data. What has more
//! than 255 entries goes on in `LABELS2` and so on; what has more than 65 535 frames tells
//! their number in `TRIAL:ACTUAL_END_FIELD` and `POINT:LONG_FRAMES`.
//!
//! Millimetres, the customary unit; X picture-right, Y up, Z toward the camera. The first
//! frame is at 0 s of the clip.

use super::stored::Stored;
use crate::body::Side;
use crate::error::{Error, Remedy, Result};
use crate::files::FolderWriter;
use crate::judgement::document::Rep;
use crate::record::markers::Trc;

const BLOCK: usize = 512;
/// Millimetres in a metre.
const MM: f64 = 1000.0;
/// Resolution that integer data would have, millimetres; its sign says that the data are
/// real numbers.
const SCALE: f32 = -0.1;
/// The most entries that a parameter can have, as its dimensions are bytes.
const MOST: usize = 255;

pub(super) fn write(session: &Stored, into: &FolderWriter) -> Result<()> {
    let points = session.points()?;
    let events = events(&session.session.in_force.reps, session.session.machine.leg);
    let bytes =
        file(&points, &events, &session.session.machine.program_version).map_err(|why| {
            Error::NotExported {
                what: format!("'{}' cannot be written as C3D: {why}", session.shown()),
                remedy: Remedy::ExportAsTrc,
            }
        })?;
    into.write(&format!("{}.c3d", session.id()), |out| out.write_all(&bytes))
}

/// A moment of a rep.
struct Event {
    label: &'static str,
    context: &'static str,
    time_s: f64,
    description: String,
}

fn events(reps: &[Rep], leg: Option<Side>) -> Vec<Event> {
    let context = match leg {
        Some(Side::Left) => "Left",
        Some(Side::Right) => "Right",
        None => "General",
    };
    let mut events = Vec::new();
    for rep in reps {
        for (label, time_s) in [
            ("Seat Off", rep.seat_off_s),
            ("Stand", rep.stand_s),
            ("Descent Start", rep.descent_start_s),
            ("Seat Contact", rep.seat_contact_s),
        ] {
            if let Some(time_s) = time_s {
                let description = format!("rep {}", rep.number);
                events.push(Event { label, context, time_s, description });
            }
        }
    }
    events.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
    events
}

fn file(points: &Trc, events: &[Event], version: &str) -> Result<Vec<u8>, &'static str> {
    let frames = points.times_s.len();
    let last = u16::try_from(frames).unwrap_or(u16::MAX);
    let count = u16::try_from(points.names.len()).map_err(|_| "it has too many points")?;
    // How many blocks the parameters take does not depend on what is said about it.
    let blocks = parameters(points, events, version, 0)?.len() / BLOCK;
    let data_start = u16::try_from(2 + blocks).map_err(|_| "it has too many events")?;
    let mut bytes = header(count, last, data_start, points.rate_hz as f32);
    bytes.extend(parameters(points, events, version, data_start)?);
    for frame in 0..frames {
        for course in &points.places_m {
            let (place, residual) = match course.get(frame).copied().flatten() {
                Some(p) => ([p.x * MM, p.y * MM, p.z * MM], 0.0),
                None => ([0.0; 3], -1.0), // Negative: not seen.
            };
            place.iter().for_each(|v| bytes.extend((*v as f32).to_le_bytes()));
            bytes.extend(f32::to_le_bytes(residual));
        }
    }
    fill_block(&mut bytes);
    Ok(bytes)
}

fn fill_block(bytes: &mut Vec<u8>) {
    bytes.resize(bytes.len().next_multiple_of(BLOCK), 0);
}

fn header(points: u16, last_frame: u16, data_start: u16, rate_hz: f32) -> Vec<u8> {
    let mut bytes = vec![2, 0x50]; // Parameters begin at block 2; the mark of C3D.
    for word in [points, 0, 1, last_frame, 0] {
        bytes.extend(word.to_le_bytes());
    }
    bytes.extend(SCALE.to_le_bytes());
    bytes.extend(data_start.to_le_bytes());
    bytes.extend(0u16.to_le_bytes()); // Analogue samples a frame.
    bytes.extend(rate_hz.to_le_bytes());
    fill_block(&mut bytes);
    // Word 150: labels of events have four letters; their number after it stays 0.
    bytes[298..300].copy_from_slice(&12345u16.to_le_bytes());
    bytes
}

fn parameters(
    points: &Trc,
    events: &[Event],
    version: &str,
    data_start: u16,
) -> Result<Vec<u8>, &'static str> {
    let frames = points.times_s.len();
    let mut section = Section::default();
    section.group(1, "POINT", "Points in three dimensions");
    section.whole(1, "USED", points.names.len() as u16);
    section.real(1, "SCALE", &[SCALE]);
    section.real(1, "RATE", &[points.rate_hz as f32]);
    section.whole(1, "DATA_START", data_start);
    section.whole(1, "FRAMES", u16::try_from(frames).unwrap_or(u16::MAX));
    if frames > usize::from(u16::MAX) {
        section.real(1, "LONG_FRAMES", &[frames as f32]);
    }
    let names: Vec<&str> = points.names.iter().map(String::as_str).collect();
    section.texts(1, "LABELS", &names);
    section.texts(1, "DESCRIPTIONS", &names);
    section.text(1, "UNITS", "mm");
    section.text(1, "X_SCREEN", "+X");
    section.text(1, "Y_SCREEN", "+Y");
    section.group(2, "ANALOG", "None");
    section.whole(2, "USED", 0);
    section.group(3, "FORCE_PLATFORM", "None");
    section.whole(3, "USED", 0);
    section.group(4, "TRIAL", "Frames");
    for (name, frame) in [("ACTUAL_START_FIELD", 1), ("ACTUAL_END_FIELD", frames as u32)] {
        section.words(4, name, &[frame as u16, (frame >> 16) as u16]);
    }
    section.group(5, "EVENT", "Moments of the reps");
    section.whole(5, "USED", events.len() as u16);
    let each = |text: fn(&Event) -> &str| events.iter().map(text).collect::<Vec<_>>();
    section.texts(5, "CONTEXTS", &each(|e| e.context));
    section.texts(5, "LABELS", &each(|e| e.label));
    section.texts(5, "DESCRIPTIONS", &each(|e| &e.description));
    for (i, chunk) in events.chunks(MOST).enumerate() {
        // Minutes, then seconds.
        let times: Vec<f32> = chunk
            .iter()
            .flat_map(|e| {
                let minutes = (e.time_s / 60.0).floor();
                [minutes as f32, (e.time_s - 60.0 * minutes) as f32]
            })
            .collect();
        let dimensions = [2, chunk.len() as u8];
        let values = times.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<_>>();
        section.parameter(5, &numbered("TIMES", i), 4, &dimensions, &values);
    }
    section.group(6, "MANUFACTURER", "Program that wrote this file");
    section.text(6, "SOFTWARE", "plumbrise");
    section.text(6, "VERSION_LABEL", version);
    section.finish()
}

fn numbered(name: &str, chunk: usize) -> String {
    if chunk == 0 { name.to_owned() } else { format!("{name}{}", chunk + 1) }
}

/// Groups and parameters, one after the other.
#[derive(Default)]
struct Section {
    records: Vec<u8>,
    too_long: bool,
}

impl Section {
    /// Adds a record: lengths, name, and how far it is to the next one.
    fn record(&mut self, id: i8, name: &str, body: &[u8], description: &str) {
        // The way to the next record counts its own two bytes.
        let onward = 2 + body.len() + 1 + description.len();
        let Ok(onward) = i16::try_from(onward) else {
            self.too_long = true;
            return;
        };
        self.records.extend([name.len() as u8, id as u8]);
        self.records.extend(name.as_bytes());
        self.records.extend(onward.to_le_bytes());
        self.records.extend(body);
        self.records.push(description.len() as u8);
        self.records.extend(description.as_bytes());
    }

    fn group(&mut self, id: i8, name: &str, description: &str) {
        self.record(-id, name, &[], description);
    }

    /// Kinds: −1 letters, 2 whole numbers of 16 bits, 4 real numbers of 32.
    fn parameter(&mut self, group: i8, name: &str, kind: i8, dimensions: &[u8], values: &[u8]) {
        let mut body = vec![kind as u8, dimensions.len() as u8];
        body.extend(dimensions);
        body.extend(values);
        self.record(group, name, &body, "");
    }

    fn whole(&mut self, group: i8, name: &str, value: u16) {
        self.parameter(group, name, 2, &[], &value.to_le_bytes());
    }

    fn words(&mut self, group: i8, name: &str, values: &[u16]) {
        let bytes: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
        self.parameter(group, name, 2, &[values.len() as u8], &bytes);
    }

    fn real(&mut self, group: i8, name: &str, values: &[f32]) {
        let dimensions: &[u8] = if values.len() == 1 { &[] } else { &[values.len() as u8] };
        let bytes: Vec<u8> = values.iter().flat_map(|v| v.to_le_bytes()).collect();
        self.parameter(group, name, 4, dimensions, &bytes);
    }

    fn text(&mut self, group: i8, name: &str, value: &str) {
        let value: Vec<u8> = value.bytes().take(MOST).collect();
        self.parameter(group, name, -1, &[value.len() as u8], &value);
    }

    /// Texts of one length, filled with blanks.
    fn texts(&mut self, group: i8, name: &str, values: &[&str]) {
        for (i, chunk) in values.chunks(MOST).enumerate() {
            let length = chunk.iter().map(|text| text.len()).max().unwrap_or(0).min(MOST);
            let bytes: Vec<u8> = chunk
                .iter()
                .flat_map(|text| text.bytes().chain(std::iter::repeat(b' ')).take(length))
                .collect();
            let dimensions = [length as u8, chunk.len() as u8];
            self.parameter(group, &numbered(name, i), -1, &dimensions, &bytes);
        }
    }

    /// The whole section, with its own head, in full blocks.
    fn finish(self) -> Result<Vec<u8>, &'static str> {
        if self.too_long {
            return Err("it has too many points or events");
        }
        // Four bytes of head, and two zeros that end the records.
        let blocks = (4 + self.records.len() + 2).div_ceil(BLOCK);
        let blocks = u8::try_from(blocks).map_err(|_| "it has too many points or events")?;
        let mut bytes = vec![1, 0x50, blocks, 84]; // 84: little-endian.
        bytes.extend(self.records);
        bytes.extend([0, 0]);
        fill_block(&mut bytes);
        Ok(bytes)
    }
}
