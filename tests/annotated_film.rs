//! The annotated film, decoded again frame by frame and held against its clip.
//!
//! Where the faces are comes from the renderer (`scripts/render/heads.py`: movement and
//! camera, no picture), not from anything the program saw.

mod common;

use std::fs;
use std::path::Path;

use common::{errors, plumbrise, project, reported, session};
use image::RgbImage;
use plumbrise::video::{FrameStream, Options};

/// Frontal, turned by 15° either way, from the side, and with somebody walking through.
const CLIPS: [&str; 5] = ["knee_far_in", "yaw_plus_15", "yaw_minus_15", "side_view", "passer_by"];

/// A face in a frame of the clip, pixels.
struct Face {
    frame: usize,
    centre: (f64, f64),
    radius: f64,
    /// How much of it the person who does the exercise does not cover.
    clear_share: f64,
}

fn faces(clip: &str) -> Vec<Face> {
    let path = project(&format!("tests/golden/heads/{clip}.csv"));
    let mut table = csv::Reader::from_path(path).expect("the table of faces");
    let faces = table.records().map(|row| {
        let row = row.expect("a row");
        let number = |i: usize| row[i].parse::<f64>().expect("a number");
        Face {
            frame: number(0) as usize,
            centre: (number(1), number(2)),
            radius: number(3),
            clear_share: number(4),
        }
    });
    faces.collect()
}

/// Pictures of both, pair by pair; every frame has its partner at the same time.
fn side_by_side(clip: &Path, film: &Path, mut look: impl FnMut(usize, &RgbImage, &RgbImage)) {
    let mut source = FrameStream::open(clip, &Options::default()).expect("the clip");
    let mut annotated = FrameStream::open(film, &Options::default()).expect("the film");
    loop {
        match (source.next(), annotated.next()) {
            (Some(a), Some(b)) => {
                assert!((a.time_s - b.time_s).abs() < 1e-3, "frame {}", a.index);
                assert_eq!(a.picture.dimensions(), b.picture.dimensions());
                look(a.index, &a.picture, &b.picture);
            }
            (None, None) => break,
            _ => panic!("the film has more or fewer frames than the clip"),
        }
    }
    assert_eq!((annotated.damaged(), annotated.frames()), (0, source.frames()));
    assert!((annotated.duration_s() - source.duration_s()).abs() < 1e-3);
}

/// How much is drawn within the disc finer than a quarter of its radius, grey levels:
/// deviation of each pixel from the mean of its neighbourhood.
fn detail(picture: &RgbImage, face: &Face) -> Option<f64> {
    let reach = (face.radius / 4.0).max(2.0) as i64;
    let grey = |x: i64, y: i64| {
        let [r, g, b] = picture.get_pixel(x as u32, y as u32).0.map(f64::from);
        0.3 * r + 0.6 * g + 0.1 * b
    };
    let inside = |x: i64, y: i64| {
        x >= 0 && y >= 0 && x < i64::from(picture.width()) && y < i64::from(picture.height())
    };
    let (mut sum, mut count) = (0.0, 0);
    let r = face.radius as i64;
    for dy in (-r..=r).step_by(2) {
        for dx in (-r..=r).step_by(2) {
            let (x, y) = (face.centre.0 as i64 + dx, face.centre.1 as i64 + dy);
            if dx * dx + dy * dy > r * r || !inside(x, y) {
                continue;
            }
            let around: Vec<f64> = (-reach..=reach)
                .step_by(2)
                .flat_map(|v| (-reach..=reach).step_by(2).map(move |u| (x + u, y + v)))
                .filter(|(x, y)| inside(*x, *y))
                .map(|(x, y)| grey(x, y))
                .collect();
            sum += (grey(x, y) - around.iter().sum::<f64>() / around.len() as f64).powi(2);
            count += 1;
        }
    }
    (count > 30).then(|| (sum / f64::from(count)).sqrt())
}

/// Grey levels of detail below which there is no face to be seen: it is behind somebody,
/// or at the edge.
const PLAIN: f64 = 4.0;

/// The largest share of a face's detail that is left, over all frames and faces.
fn detail_left(clip: &str, film: &Path) -> f64 {
    let faces = faces(clip);
    let (mut most_left, mut where_left) = (0.0f64, 0);
    let mut looked_at = 0;
    side_by_side(&project(&format!("sample-clips/{clip}.mp4")), film, |index, source, shown| {
        // Of a face behind the person there is more person than face to measure.
        for face in faces.iter().filter(|f| f.frame == index && f.clear_share > 0.95) {
            let Some((there, left)) = detail(source, face).zip(detail(shown, face)) else {
                continue;
            };
            if there < PLAIN {
                continue;
            }
            looked_at += 1;
            if left / there > most_left {
                (most_left, where_left) = (left / there, index);
            }
        }
    });
    println!("{clip}: at most {most_left:.2} is left, in frame {where_left}; {looked_at} faces");
    assert!(looked_at > 300, "{clip}: only {looked_at} faces were looked at");
    most_left
}

/// Not one frame shows a face: of what is finer than a quarter of it, less than a fifth
/// is left (a blur to four cells across leaves about a tenth).
#[test]
fn no_frame_shows_a_face() {
    for clip in CLIPS {
        let left = detail_left(clip, &reported(clip).join("annotated.mp4"));
        assert!(left < 0.2, "{clip}: {left:.2} of a face's detail is left");
    }
}

/// The detector's circle about a head (`heads.csv`) holds the whole face, by the
/// renderer's own.
#[test]
fn the_detectors_circles_hold_the_faces() {
    for clip in ["knee_far_in", "yaw_plus_15", "yaw_minus_15"] {
        let path = session(clip).join("heads.csv");
        let heads = plumbrise::record::read_heads(fs::File::open(&path).expect("heads"), &path);
        let faces = faces(clip);
        let (mut held, mut seen) = (0, 0);
        for head in heads.expect("whole").iter().filter(|h| h.person == 0) {
            let frame = (head.time_s * 30.0).round() as usize;
            let face = faces.iter().find(|f| f.frame == frame).expect("a face in every frame");
            let away = (head.centre_px.x - face.centre.0).hypot(head.centre_px.y - face.centre.1);
            seen += 1;
            held += usize::from(away + face.radius <= head.radius_px);
        }
        println!("{clip}: {held} of {seen} faces within the detector's circle");
        assert!(seen > 40 && held == seen, "{clip}: {held} of {seen}");
    }
}

/// The measure sees faces where they are shown on purpose.
#[test]
fn faces_are_shown_on_request_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let shown = folder.path().join("shown");
    let output = plumbrise()
        .args(["reassess", "--faces", "show", "--no-pdf", "--out"])
        .arg(&shown)
        .arg("--clip")
        .arg(project("sample-clips/yaw_plus_15.mp4"))
        .arg(session("yaw_plus_15"))
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    let left = detail_left("yaw_plus_15", &shown.join("annotated.mp4"));
    assert!(left > 0.7, "only {left:.2} is left");
}

/// What is not to be hidden stays as it was: the floor below the feet.
#[test]
fn the_floor_stays_as_it_was() {
    let clip = project("sample-clips/knee_far_in.mp4");
    let film = reported("knee_far_in").join("annotated.mp4");
    side_by_side(&clip, &film, |index, source, shown| {
        let (width, height) = source.dimensions();
        let floor = (height * 9 / 10..height).flat_map(|y| (0..width).map(move |x| (x, y)));
        let (mut sum, mut count) = (0.0, 0.0);
        for (x, y) in floor.step_by(7) {
            let (a, b) = (source.get_pixel(x, y).0, shown.get_pixel(x, y).0);
            sum += (0..3).map(|i| f64::from(a[i].abs_diff(b[i]))).sum::<f64>() / 3.0;
            count += 1.0;
        }
        assert!(sum / count < 6.0, "frame {index}: {:.1} grey levels", sum / count);
    });
}

/// Slower where something is faulted, and no frame less: each is shown longer.
#[test]
fn faulted_seconds_go_slower_on_request() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("slow");
    let output = plumbrise()
        .args(["reassess", "--slow-faults", "--no-pdf", "--out"])
        .arg(&place)
        .arg("--clip")
        .arg(project("sample-clips/knee_far_in.mp4"))
        .arg(session("knee_far_in"))
        .output()
        .expect("it runs");
    assert!(output.status.success(), "{}", errors(&output));
    let read = |path: &Path| {
        let mut film = FrameStream::open(path, &Options::default()).expect("a film");
        let times: Vec<f64> = film.by_ref().map(|f| f.time_s).collect();
        (times, film.duration_s())
    };
    let (usual, usual_s) = read(&project("sample-clips/knee_far_in.mp4"));
    let (slow, slow_s) = read(&place.join("annotated.mp4"));
    assert_eq!(slow.len(), usual.len());
    let steps = |times: &[f64]| times.windows(2).map(|w| w[1] - w[0]).collect::<Vec<_>>();
    let slower = steps(&slow).iter().zip(steps(&usual)).filter(|(s, u)| **s > 3.9 * u).count();
    assert!(slower > 20, "{slower} frames are slower");
    let added_s = 3.0 * slower as f64 / 30.0;
    assert!((slow_s - usual_s - added_s).abs() < 0.3, "{slow_s} {usual_s} {added_s}");
}
