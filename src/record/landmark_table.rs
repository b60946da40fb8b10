//! Landmarks as a plain CSV table: one row a frame, eight columns a landmark.

use std::io::{self, Read, Write};
use std::path::Path;

use nalgebra::{Point2, Point3};

use crate::body::{LANDMARK_NAMES, LANDMARKS};
use crate::error::{Error, Result};
use crate::record::landmarks::{ImageLandmark, Pose, PoseFrame};
use crate::signal::{Grid, rounded};

/// Column endings of one landmark; `x_m`, `y_m`, `z_m` are the network's own
/// guess in metres about the hip centre.
const COLUMNS: [&str; 8] = ["x_px", "y_px", "z_px", "visibility", HEAT, "x_m", "y_m", "z_m"];
const HEAT: &str = "heat";
/// What stood in place of the heat in tables of the first versions; it is not used.
const PRESENCE: &str = "presence";

/// Rounds a frame to what the table holds, so that judging the stored landmarks
/// again gives the very same numbers.
pub fn as_stored(mut frame: PoseFrame) -> PoseFrame {
    let round = |value: &mut f64, digits: i32| *value = rounded(*value, digits);
    round(&mut frame.time_s, 6);
    if let Some(pose) = &mut frame.pose {
        for point in &mut pose.image {
            round(&mut point.place_px.x, 3);
            round(&mut point.place_px.y, 3);
            round(&mut point.depth_px, 2);
            round(&mut point.visibility, 4);
            point.heat.iter_mut().for_each(|heat| round(heat, 4));
        }
        for point in &mut pose.metric_m {
            point.iter_mut().for_each(|value| round(value, 4));
        }
    }
    frame
}

/// Writes the table; cells of a frame without a pose are empty.
///
/// # Errors
/// What `out` gives.
pub fn write_landmarks(frames: &[PoseFrame], out: &mut dyn Write) -> io::Result<()> {
    let mut table = csv::Writer::from_writer(out);
    table.write_record(header(HEAT))?;
    let mut row: Vec<String> = Vec::new();
    for frame in frames {
        row.clear();
        row.extend([frame.index.to_string(), format!("{:.6}", frame.time_s)]);
        match &frame.pose {
            None => row.extend(std::iter::repeat_n(String::new(), LANDMARKS * COLUMNS.len())),
            Some(pose) => {
                for (image, metric) in pose.image.iter().zip(&pose.metric_m) {
                    row.extend([
                        format!("{:.3}", image.place_px.x),
                        format!("{:.3}", image.place_px.y),
                        format!("{:.2}", image.depth_px),
                        format!("{:.4}", image.visibility),
                        image.heat.map_or_else(String::new, |heat| format!("{heat:.4}")),
                        format!("{:.4}", metric.x),
                        format!("{:.4}", metric.y),
                        format!("{:.4}", metric.z),
                    ]);
                }
            }
        }
        table.write_record(&row)?;
    }
    table.flush()
}

/// Reads the table back.
///
/// # Errors
/// [`Error::Session`] with line and reason, naming `path`.
pub fn read_landmarks(input: impl Read, path: &Path) -> Result<Vec<PoseFrame>> {
    let bad = |why: String| Error::Session { path: path.into(), why };
    let mut table = csv::Reader::from_reader(input);
    let found = table.headers().map_err(|e| bad(e.to_string()))?;
    let with_heat = found.iter().eq(header(HEAT));
    if !with_heat && found.iter().ne(header(PRESENCE)) {
        return Err(bad("the columns are not those of a landmark table".into()));
    }
    let frames: Vec<PoseFrame> = table
        .records()
        .enumerate()
        .map(|(i, record)| {
            let record = record.map_err(|e| bad(e.to_string()))?;
            parse(&record, with_heat)
                .ok_or_else(|| bad(format!("row {} cannot be understood", i + 2)))
        })
        .collect::<Result<_>>()?;
    let mut before_s = -f64::MIN_POSITIVE;
    for (i, frame) in frames.iter().enumerate() {
        if frame.time_s <= before_s {
            return Err(bad(format!("row {}: time does not go forward", i + 2)));
        }
        before_s = frame.time_s;
    }
    check_times(&frames).map_err(bad)?;
    Ok(frames)
}

/// Refuses times that leap: what is measured between them would be hardly anything but
/// gaps, and fill the memory.
///
/// # Errors
/// What is wrong, in words.
pub fn check_times(frames: &[PoseFrame]) -> Result<(), String> {
    let times_s: Vec<f64> = frames.iter().map(|frame| frame.time_s).collect();
    if times_s.len() > 1 && Grid::through(&times_s).is_none() {
        return Err("the times of its frames leap, with hardly a frame in between".into());
    }
    Ok(())
}

/// The first row, with `heat` as the name of that column.
fn header(heat: &'static str) -> impl Iterator<Item = String> {
    let column = move |column: &'static str| if column == HEAT { heat } else { column };
    let landmarks = LANDMARK_NAMES
        .iter()
        .flat_map(move |name| COLUMNS.iter().map(move |c| format!("{name}_{}", column(c))));
    ["frame".to_owned(), "time_s".to_owned()].into_iter().chain(landmarks)
}

fn parse(record: &csv::StringRecord, with_heat: bool) -> Option<PoseFrame> {
    let number = |i: usize| -> Option<f64> {
        let value: f64 = record.get(i)?.parse().ok()?;
        value.is_finite().then_some(value)
    };
    let index = record.get(0)?.parse().ok()?;
    let time_s = number(1)?;
    if record.iter().skip(2).all(str::is_empty) {
        return Some(PoseFrame { index, time_s, pose: None });
    }
    let mut pose = Pose {
        image: [ImageLandmark {
            place_px: Point2::origin(),
            depth_px: 0.0,
            visibility: 0.0,
            heat: None,
        }; LANDMARKS],
        metric_m: [Point3::origin(); LANDMARKS],
    };
    for point in 0..LANDMARKS {
        let at = |column: usize| number(2 + COLUMNS.len() * point + column);
        // A table that was written again from an older one tells none either.
        let no_heat = !with_heat || record.get(2 + COLUMNS.len() * point + 4) == Some("");
        let heat = if no_heat { None } else { Some(at(4)?) };
        pose.image[point] = ImageLandmark {
            place_px: Point2::new(at(0)?, at(1)?),
            depth_px: at(2)?,
            visibility: at(3)?,
            heat,
        };
        pose.metric_m[point] = Point3::new(at(5)?, at(6)?, at(7)?);
    }
    Some(PoseFrame { index, time_s, pose: Some(pose) })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pose(seed: f64) -> Pose {
        Pose {
            image: std::array::from_fn(|i| ImageLandmark {
                place_px: Point2::new(seed + i as f64, 2.0 * i as f64 + 0.125),
                depth_px: -1.5,
                visibility: 0.75,
                heat: Some(0.875),
            }),
            metric_m: std::array::from_fn(|i| Point3::new(0.01 * i as f64, -0.5, 0.25)),
        }
    }

    #[test]
    fn a_written_table_reads_back() {
        let frames = vec![
            PoseFrame { index: 0, time_s: 0.0, pose: Some(pose(3.5)) },
            PoseFrame { index: 2, time_s: 0.066667, pose: None },
        ];
        let mut bytes = Vec::new();
        write_landmarks(&frames, &mut bytes).unwrap();
        let read = read_landmarks(bytes.as_slice(), Path::new("landmarks.csv")).unwrap();
        assert_eq!(read, frames);
    }

    #[test]
    fn a_frame_as_stored_reads_back_exactly() {
        let frame = PoseFrame { index: 7, time_s: 1.0 / 3.0, pose: Some(pose(0.123_456_789)) };
        let stored = as_stored(frame);
        let mut bytes = Vec::new();
        write_landmarks(std::slice::from_ref(&stored), &mut bytes).unwrap();
        assert_eq!(read_landmarks(bytes.as_slice(), Path::new("x")).unwrap(), [stored]);
    }

    #[test]
    fn tables_of_the_first_versions_tell_no_heat() {
        let frames = vec![PoseFrame { index: 0, time_s: 0.0, pose: Some(pose(0.0)) }];
        let mut bytes = Vec::new();
        write_landmarks(&frames, &mut bytes).unwrap();
        let older = String::from_utf8(bytes).unwrap().replace("_heat", "_presence");
        let read = read_landmarks(older.as_bytes(), Path::new("x")).unwrap();
        let without = as_stored(read[0].clone());
        assert!(without.pose.as_ref().unwrap().image.iter().all(|point| point.heat.is_none()));
        let mut bytes = Vec::new();
        write_landmarks(std::slice::from_ref(&without), &mut bytes).unwrap();
        assert_eq!(read_landmarks(bytes.as_slice(), Path::new("x")).unwrap(), [without]);
    }

    #[test]
    fn damaged_tables_are_refused_with_their_row() {
        let frames = vec![PoseFrame { index: 0, time_s: 0.0, pose: Some(pose(0.0)) }];
        let mut bytes = Vec::new();
        write_landmarks(&frames, &mut bytes).unwrap();
        let text = String::from_utf8(bytes).unwrap().replace("0.125", "north");
        let error = read_landmarks(text.as_bytes(), Path::new("x")).unwrap_err();
        assert!(error.to_string().contains("row 2"), "{error}");
        assert!(read_landmarks(&b"a,b\n1,2\n"[..], Path::new("x")).is_err());
    }

    #[test]
    fn times_that_no_film_has_are_refused() {
        let read = |times_s: &[&str]| {
            let mut text = Vec::new();
            write_landmarks(&[], &mut text).unwrap();
            let empty = ",".repeat(LANDMARKS * COLUMNS.len());
            for (i, time_s) in times_s.iter().enumerate() {
                writeln!(text, "{i},{time_s}{empty}").unwrap();
            }
            read_landmarks(text.as_slice(), Path::new("x"))
        };
        assert_eq!(read(&["0", "0.03", "0.07", "0.1"]).unwrap().len(), 4);
        for (times_s, says) in [
            (["0", "0.03", "0.07", "0.06"], "row 5: time does not go forward"),
            (["0", "0.03", "0.07", "0.07"], "row 5"),
            (["-1", "0.03", "0.07", "0.1"], "row 2"),
            (["0", "inf", "0.07", "0.1"], "row 3"),
            (["0", "NaN", "0.07", "0.1"], "row 3"),
            (["0", "0.03", "0.07", "100000"], "leap"),
            (["0", "0.03", "0.07", "1e300"], "leap"),
            (["100000", "100000.03", "100000.07", "100000.1"], "leap"),
        ] {
            let error = read(&times_s).unwrap_err().to_string();
            assert!(error.contains(says), "{error}");
        }
    }
}
