//! Films that are not what they seem: texts that name other films, pipes, clocks that
//! jump, pictures of odd sizes. Each is refused in words or read as far as it makes sense,
//! and none takes more time or memory than its own bytes deserve.

mod common;

use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};
use std::process::Output;
use std::sync::atomic::Ordering;
use std::time::Duration;

use common::{errors, json, plumbrise, project, session};
use image::{ImageFormat, Rgb, RgbImage};
use plumbrise::Error;
use plumbrise::report::on_film::{Overlay, Style};
use plumbrise::session::Session;
use plumbrise::video::{FilmWriter, Frame, FrameStream, Options};
use tempfile::TempDir;

/// Runs the program; what waits for something that never comes is killed, and has no status.
fn run(words: &[&dyn AsRef<std::ffi::OsStr>]) -> Output {
    let mut command = plumbrise();
    command.args(words.iter().map(|word| word.as_ref()));
    command.timeout(Duration::from_secs(120)).output().expect("it runs")
}

fn refused(output: &Output, status: i32, says: &str) {
    let text = errors(output);
    assert_eq!(output.status.code(), Some(status), "{text}");
    assert!(text.contains(says), "«{says}» is not in: {text}");
    assert!(text.contains("hint: ") && !text.contains("panicked"), "{text}");
}

/// The size of an element as eight bytes, then what is in it (RFC 8794).
fn element(id: &[u8], content: &[u8]) -> Vec<u8> {
    let size = (1u64 << 56 | content.len() as u64).to_be_bytes();
    [id, &size, content].concat()
}

/// A Matroska film (RFC 9559) of JPEG pictures, each shown at its own time, milliseconds.
fn matroska(path: &Path, pictures: &[(u64, RgbImage)]) {
    let number = |id: &[u8], value: u64| element(id, &value.to_be_bytes());
    let (width, height) = pictures[0].1.dimensions();
    let size = [number(b"\xb0", width.into()), number(b"\xba", height.into())].concat();
    let track = [
        number(b"\xd7", 1),
        number(b"\x73\xc5", 1),
        number(b"\x83", 1),
        element(b"\x86", b"V_MJPEG"),
        element(b"\xe0", &size),
    ]
    .concat();
    let mut segment = [
        element(b"\x15\x49\xa9\x66", &number(b"\x2a\xd7\xb1", 1_000_000)),
        element(b"\x16\x54\xae\x6b", &element(b"\xae", &track)),
    ]
    .concat();
    for (time_ms, picture) in pictures {
        let mut block = b"\x81\x00\x00\x80".to_vec();
        let mut jpeg = Cursor::new(Vec::new());
        picture.write_to(&mut jpeg, ImageFormat::Jpeg).expect("a picture");
        block.extend(jpeg.into_inner());
        let cluster = [number(b"\xe7", *time_ms), element(b"\xa3", &block)].concat();
        segment.extend(element(b"\x1f\x43\xb6\x75", &cluster));
    }
    let head = element(b"\x1a\x45\xdf\xa3", &element(b"\x42\x82", b"matroska"));
    fs::write(path, [head, element(b"\x18\x53\x80\x67", &segment)].concat()).expect("written");
}

/// Thirty pictures a second, shown at these times, milliseconds.
fn film_at(folder: &TempDir, times_ms: &[u64]) -> PathBuf {
    let path = folder.path().join("film.mkv");
    let picture = RgbImage::from_pixel(32, 32, Rgb([90, 120, 60]));
    let pictures: Vec<_> = times_ms.iter().map(|time_ms| (*time_ms, picture.clone())).collect();
    matroska(&path, &pictures);
    path
}

/// Texts that other programs understand as films made of other files.
#[test]
fn a_text_that_names_a_film_is_no_film() {
    let other = project("sample-clips/drops_right.mp4");
    let other = other.to_str().expect("Unicode");
    let folder = tempfile::tempdir().expect("a folder");
    for (i, text) in [
        format!("#EXTM3U\n#EXT-X-TARGETDURATION:30\n#EXTINF:30,\n{other}\n#EXT-X-ENDLIST\n"),
        format!("ffconcat version 1.0\nfile '{other}'\n"),
        format!(
            "<?xml version=\"1.0\"?>\n<MPD xmlns=\"urn:mpeg:dash:schema:mpd:2011\" \
             profiles=\"urn:mpeg:dash:profile:isoff-on-demand:2011\" type=\"static\" \
             mediaPresentationDuration=\"PT30S\"><Period><AdaptationSet mimeType=\"video/mp4\">\
             <Representation id=\"1\" bandwidth=\"1\"><BaseURL>{other}</BaseURL>\
             </Representation></AdaptationSet></Period></MPD>\n"
        ),
        format!("v=0\no=- 0 0 IN IP4 127.0.0.1\ns=x\nm=video 5004 RTP/AVP 96\na=control:{other}\n"),
    ]
    .iter()
    .enumerate()
    {
        let path = folder.path().join(format!("list{i}.mp4"));
        fs::write(&path, text).expect("written");
        refused(&run(&[&"check", &path]), 3, "cannot be read as video");
        refused(&run(&[&"assess", &path]), 3, "cannot be read as video");
    }
}

/// A photograph of a phone begins like a film of it.
#[test]
fn a_photograph_is_a_still_picture() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("IMG_0001.MOV");
    fs::write(&path, b"\0\0\0\x18ftypheic\0\0\0\0mif1heic\0\0\0\x08mdat").expect("written");
    refused(&run(&[&"check", &path]), 3, "is a still picture");
}

#[cfg(unix)]
#[test]
fn a_pipe_is_said_to_be_one_and_not_waited_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let clip = project("sample-clips/drops_right.mp4");
    for name in ["pipe.mp4", "pipe.trc", "pipe.toml"] {
        let pipe = folder.path().join(name);
        let made = std::process::Command::new("mkfifo").arg(&pipe).status().expect("mkfifo");
        assert!(made.success());
    }
    let pipe = |name: &str| folder.path().join(name);
    for words in [
        &[&"check", &pipe("pipe.mp4") as &dyn AsRef<std::ffi::OsStr>][..],
        &[&"assess", &pipe("pipe.mp4")],
        &[&"assess", &pipe("pipe.mp4"), &pipe("pipe.mp4")],
        &[&"assess", &pipe("pipe.trc")],
        &[&"assess", &clip, &"--criteria", &pipe("pipe.toml")],
        &[&"assess", &clip, &"--markers", &pipe("pipe.toml")],
        &[&"check", &"/dev/zero"],
    ] {
        let words_in_text = words.iter().map(|word| word.as_ref().to_string_lossy().into_owned());
        let words_in_text: Vec<String> = words_in_text.collect();
        let output = run(words);
        let text = errors(&output);
        assert!(text.contains("is not a regular file"), "{words_in_text:?}: {text}");
        assert!(matches!(output.status.code(), Some(2 | 3)), "{words_in_text:?}: {text}");
    }
    // A link to a file is a file.
    let link = folder.path().join("link.mp4");
    std::os::unix::fs::symlink(&clip, &link).expect("a link");
    assert!(FrameStream::open(&link, &Options::default()).is_ok());
}

/// Where the clock leaps far ahead or back, the film goes on after a gap; a single wrong
/// timestamp and a pause change nothing. Ten pictures, then ten more.
#[test]
fn a_clock_that_jumps_does_not_make_the_film_longer() {
    let folder = tempfile::tempdir().expect("a folder");
    let pace = |from_ms: u64| (0..10).map(move |i| from_ms + 33 * i);
    let read = |second: &mut dyn Iterator<Item = u64>| {
        let times_ms: Vec<u64> = pace(5_000).chain(second).collect();
        let path = film_at(&folder, &times_ms);
        let mut stream = FrameStream::open(&path, &Options::default()).expect("opens");
        let times_s: Vec<f64> = stream.by_ref().map(|frame| frame.time_s).collect();
        assert_eq!(times_s.len(), 20);
        assert!(times_s.windows(2).all(|w| w[0] < w[1]), "{times_s:?}");
        (times_s[19], stream.clock_jumps_s().len(), stream.damaged())
    };
    let (last_s, jumps, damaged) = read(&mut pace(5_330));
    assert!((last_s - 19.0 * 0.033).abs() < 0.01 && (jumps, damaged) == (0, 0), "{last_s}");
    let (last_s, jumps, damaged) = read(&mut pace(45_330));
    assert!((last_s - 40.627).abs() < 0.01 && (jumps, damaged) == (0, 0), "a pause: {last_s}");
    for elsewhere_ms in [1_505_330, 1_500_000_000, 0] {
        let (last_s, jumps, damaged) = read(&mut pace(elsewhere_ms));
        assert!((1.5..2.0).contains(&last_s) && (jumps, damaged) == (1, 0), "{last_s}");
    }
    let mut wrong =
        pace(5_330).map(|time_ms| if time_ms < 5_340 { 1_500_000_000 } else { time_ms });
    let (last_s, jumps, damaged) = read(&mut wrong);
    assert!((last_s - 19.0 * 0.033).abs() < 0.01 && (jumps, damaged) == (0, 1), "{last_s}");
}

/// Pictures that change in size come in that of the first, of which landmarks are told.
#[test]
fn pictures_of_one_film_have_one_size() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("film.mkv");
    let pictures: Vec<_> = [(64, 48), (64, 48), (48, 64), (16, 16), (200, 120)]
        .into_iter()
        .zip(0..)
        .map(|((width, height), i)| (33 * i, RgbImage::from_pixel(width, height, Rgb([80; 3]))))
        .collect();
    matroska(&path, &pictures);
    let read: Vec<_> = FrameStream::open(&path, &Options::default()).expect("opens").collect();
    assert_eq!(read.len(), 5);
    assert!(read.iter().all(|f| f.picture.dimensions() == (64, 48) && f.clip_px_per_px == 1.0));
}

#[test]
fn decoding_ends_when_it_is_asked_to() {
    let clip = project("sample-clips/drops_right.mp4");
    let options = Options::default();
    let mut stream = FrameStream::open(&clip, &options).expect("opens");
    assert!(stream.next().is_some());
    options.stop.store(true, Ordering::Relaxed);
    assert!(stream.next().is_none());
    assert!(matches!(FrameStream::open(&clip, &options), Err(Error::Interrupted)));
}

/// From one pixel on, upright, level and square: somebody or nobody, but no panic.
#[test]
fn films_of_every_size_are_looked_at() {
    let seated = image::open(project("tests/golden/pose/seated.png")).expect("a picture").to_rgb8();
    let folder = tempfile::tempdir().expect("a folder");
    for (width, height) in [(1, 1), (2, 2), (15, 17), (16, 16), (1, 2000), (2000, 1), (97, 40)] {
        let small = image::imageops::thumbnail(&seated, width, height);
        let path = folder.path().join(format!("{width}x{height}.y4m"));
        let mut file = fs::File::create(&path).expect("created");
        writeln!(file, "YUV4MPEG2 W{width} H{height} F30:1 Ip A1:1 C444").expect("written");
        // ITU-R BT.601, full range.
        let plane = |i: usize| {
            small.pixels().map(move |pixel| {
                let [r, g, b] = pixel.0.map(f64::from);
                let luma = 0.299 * r + 0.587 * g + 0.114 * b;
                [luma, 128.0 + 0.564 * (b - luma), 128.0 + 0.713 * (r - luma)][i] as u8
            })
        };
        let frame: Vec<u8> = (0..3).flat_map(plane).collect();
        for _ in 0..20 {
            file.write_all(b"FRAME\n").and_then(|()| file.write_all(&frame)).expect("written");
        }
        let text = run(&[&"check", &path]);
        assert_eq!(text.status.code(), Some(4), "{width}×{height}: {}", errors(&text));
        assert!(!errors(&text).contains("panicked"), "{}", errors(&text));
    }
}

/// The same for drawing, where the person is in the picture and where somebody is said to be
/// far outside.
#[test]
fn pictures_of_every_size_are_drawn_on() {
    let folder = session("drops_right");
    let Session { machine, criteria, .. } = Session::open(&folder).expect("a session");
    let mut recording = plumbrise::session::read_recording(&folder, &machine).expect("landmarks");
    let plumbrise::Judgement { assessment, trajectories, .. } =
        plumbrise::assess(&recording, &machine.told, &criteria, &folder).expect("judged");
    for (i, frame) in recording.frames.iter_mut().enumerate().skip(1).step_by(4) {
        let far = [1e3, 1e6, -1e6, 1e12][i / 4 % 4];
        let points = frame.pose.iter_mut().flat_map(|pose| &mut pose.image);
        points.for_each(|point| point.place_px.coords *= far);
    }
    let recording = &recording;
    for faces_shown in [true, false] {
        let style = Style { faces_shown, slow_faults: true, time_factor: 1.0 };
        for (width, height) in
            [(1, 1), (2, 2), (15, 17), (16, 16), (1, 2000), (2000, 1), (33, 47), (360, 640)]
        {
            let mut overlay = Overlay::new(recording, &assessment, &trajectories, &criteria, style);
            let clip_px = f64::from(recording.clip.width_px.expect("a width"));
            for index in (0..recording.frames.len()).step_by(if height > 100 { 97 } else { 23 }) {
                let time_s = recording.frames[index].time_s;
                let picture = RgbImage::from_pixel(width, height, Rgb([120; 3]));
                let clip_px_per_px = clip_px / f64::from(width);
                let drawn = overlay.draw(&Frame { index, time_s, picture, clip_px_per_px });
                let drawn = drawn.expect("a picture");
                assert_eq!((drawn.width(), drawn.height()), (width, height));
            }
            assert!(overlay.finish().0.iter().all(|taken| taken.jpeg.len() < 1_000_000));
        }
    }
    // A picture too small for a film is said to be so.
    let place = tempfile::tempdir().expect("a folder");
    let film = FilmWriter::create(&place.path().join("film.mp4"), 1, 1, 30.0);
    assert!(matches!(film, Err(Error::FilmNotWritten(_))));
}

/// A stored session of which the times are changed by `change`, seconds, judged again.
fn judged_at_other_times(folder: &TempDir, change: impl Fn(f64) -> f64) -> (PathBuf, Output) {
    let changed = folder.path().join("changed.plumbrise");
    let _ = fs::remove_dir_all(&changed);
    fs::create_dir(&changed).expect("a folder");
    for file in fs::read_dir(session("drops_right")).expect("a session") {
        let file = file.expect("a file").path();
        fs::copy(&file, changed.join(file.file_name().expect("a name"))).expect("copied");
    }
    let path = changed.join("landmarks.csv");
    let text = fs::read_to_string(&path).expect("a table");
    let mut lines = text.lines();
    let mut table = format!("{}\n", lines.next().expect("a head"));
    for line in lines {
        let mut cells = line.splitn(3, ',');
        let mut cell = || cells.next().expect("a cell");
        let (index, time_s, landmarks) = (cell(), cell(), cell());
        let time_s = change(time_s.parse().expect("a time"));
        table.push_str(&format!("{index},{time_s},{landmarks}\n"));
    }
    fs::write(&path, table).expect("written");
    let out = folder.path().join("again.plumbrise");
    let words: [&dyn AsRef<std::ffi::OsStr>; 7] =
        [&"reassess", &"--no-html", &"--no-pdf", &"--force", &"--out", &out, &changed];
    let output = run(&words);
    (out, output)
}

#[test]
fn stored_times_that_no_film_has_are_refused_and_a_pause_is_a_gap() {
    let folder = tempfile::tempdir().expect("a folder");
    let whole = json(&session("drops_right").join("assessment.json"));
    let pause_at_s = {
        let reps = whole["reps"].as_array().expect("reps");
        let between = [&reps[0]["seat_contact_s"], &reps[1]["seat_off_s"]];
        between.iter().map(|event| event.as_f64().expect("a time")).sum::<f64>() / 2.0
    };
    let from_then = |later_s: f64| move |t: f64| if t < pause_at_s { t } else { t + later_s };
    for (later_s, says) in [
        (100_000.0, "leap"),
        (f64::INFINITY, "cannot be understood"),
        (f64::NAN, "cannot be understood"),
        (-1.0, "time does not go forward"),
        (-100.0, "time does not go forward"),
    ] {
        let (_, output) = judged_at_other_times(&folder, from_then(later_s));
        refused(&output, 1, says);
    }
    let (out, output) = judged_at_other_times(&folder, from_then(50.0));
    assert!(output.status.success(), "{}", errors(&output));
    let paused = json(&out.join("assessment.json"));
    let times = |document: &serde_json::Value| -> Vec<f64> {
        let reps = document["reps"].as_array().expect("reps").iter();
        reps.map(|rep| rep["seat_contact_s"].as_f64().expect("a time")).collect()
    };
    let (before, after) = (times(&whole), times(&paused));
    assert_eq!(before.len(), after.len());
    for (before_s, after_s) in before.into_iter().zip(after) {
        assert!((from_then(50.0)(before_s) - after_s).abs() < 0.1, "{before_s} {after_s}");
    }
    // As many samples as the clip and its pause have, no more.
    let rows = fs::read_to_string(out.join("trajectories.csv")).expect("a table").lines().count();
    let seconds = whole["clip"]["duration_s"].as_f64().expect("a length") + 50.0;
    assert!((rows as f64 - 30.0 * seconds).abs() < 10.0, "{rows} rows for {seconds} s");
}
