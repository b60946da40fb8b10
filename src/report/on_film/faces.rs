//! Hiding faces so that not one frame shows one.
//!
//! Finding faces and blurring them fails open: a face that is missed is shown. So it is
//! the other way round: above the knees the picture is blurred, but for the body of the
//! person who does the exercise, from the shoulders down, where the tracking is sure of
//! it. Then every head that was seen, the person's and anybody's, is taken out of what
//! is clear, with some room in space and time.

use std::collections::BTreeMap;

use nalgebra::Point2;
use tiny_skia::{
    BlendMode, FillRule, LineCap, LineJoin, Paint, PathBuilder, Pixmap, Rect, Shader, Stroke,
    Transform,
};

use crate::body::{Landmark, Side};
use crate::record::Recording;
use crate::record::landmarks::{Head, Pose, PoseFrame};
use crate::settings;
use crate::signal;

/// The first landmarks of the network's order are those of the face.
const FACE_LANDMARKS: usize = 11;
/// Heads seen this near in time are hidden, seconds (design choice: two looks of the
/// detector, and more than any head moves by its own width in).
const HEAD_LASTS_S: f64 = 0.4;
/// The same for those of the landmarks, which come with every frame (design choice).
const POSE_LASTS_S: f64 = 0.15;
/// The pose of a frame is that of its own time, give or take what analysis leaves out of
/// fast clips, seconds (derived: half an interval at 30 per second at most).
const SAME_FRAME_S: f64 = 0.017;
/// Between two looks at the same person further apart nobody knows where the head was,
/// seconds (design choice).
const HEAD_BRIDGED_S: f64 = 2.0;

/// Shares of stature. From the nose the back of a head is some 0.12 away (from memory), and
/// landmarks err by [`settings::LANDMARK_ALWAYS`], 0.01. The clear body keeps within the limbs' own outlines (an arm is about 0.05, a
/// thigh 0.10 across; design choice), so that whoever stands behind is not seen beside it.
const HEAD_RADIUS: f64 = 0.13;
const TRUNK_MARGIN: f64 = 0.02;
const ARM_WIDTH: f64 = 0.05;
const THIGH_WIDTH: f64 = 0.10;
const SHANK_WIDTH: f64 = 0.08;

/// A blurred picture has about this many cells along its longer side (design choice:
/// a head of the largest person in view, 0.15 of it, is three cells).
const CELLS: u32 = 20;
/// A head that fills much of the picture is blurred to this many cells across (design
/// choice).
const CELLS_A_HEAD: f64 = 4.0;
/// The mask is drawn that many times smaller; reading it back smoothly feathers it (design
/// choice).
const MASK_SHRINK: u32 = 4;

/// Where to blur a clip.
#[derive(Debug)]
pub struct Hiding<'a> {
    frames: &'a [PoseFrame],
    heads: Vec<Vec<Head>>,
    body_px: f64,
    /// Below this row nobody's face is, clip pixels; none without any pose.
    knee_row_px: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Circle {
    centre_px: Point2<f64>,
    radius_px: f64,
}

impl<'a> Hiding<'a> {
    /// `body_px`: the person's stature in clip pixels.
    pub fn new(recording: &'a Recording, body_px: f64) -> Self {
        let mut people: BTreeMap<usize, Vec<Head>> = BTreeMap::new();
        for head in &recording.heads {
            people.entry(head.person).or_default().push(*head);
        }
        let heads = people.into_values().collect();
        let knees: Vec<f64> = recording
            .frames
            .iter()
            .filter_map(|f| f.pose.as_ref())
            .map(|pose| {
                let row = |side| pose.place_px(Landmark::Knee, side).y;
                row(Side::Left).max(row(Side::Right))
            })
            .collect();
        let knee_row_px = signal::median(&knees);
        Self { frames: &recording.frames, heads, body_px, knee_row_px }
    }

    /// Blurs what must not be seen in the frame at `time_s`; `px`: picture pixels a clip
    /// pixel.
    pub fn apply(&self, picture: &mut Pixmap, time_s: f64, px: f64) {
        let heads = self.heads_at(time_s);
        let Some(mask) = self.clear_mask(picture, time_s, px, &heads) else {
            picture.fill(tiny_skia::Color::BLACK);
            return;
        };
        let long_px = picture.width().max(picture.height());
        let background = Cells::of(picture, (long_px / CELLS).max(8));
        let close: Vec<(Circle, Cells)> = heads
            .iter()
            .filter(|h| 2.0 * h.radius_px * px / CELLS_A_HEAD > f64::from(background.size_px))
            .map(|h| {
                let size_px = (2.0 * h.radius_px * px / CELLS_A_HEAD) as u32;
                (*h, Cells::of(picture, size_px.min(long_px).max(1)))
            })
            .collect();
        background.put(picture, &mask);
        for (head, cells) in close {
            cells.put_circle(picture, head.centre_px * px, head.radius_px * px);
        }
    }

    /// What stays clear, alpha 255, in a picture [`MASK_SHRINK`] times smaller.
    fn clear_mask(
        &self,
        picture: &Pixmap,
        time_s: f64,
        px: f64,
        heads: &[Circle],
    ) -> Option<Pixmap> {
        let small = |size: u32| size.div_ceil(MASK_SHRINK);
        let mut mask = Pixmap::new(small(picture.width()), small(picture.height()))?;
        let shrink = px as f32 / MASK_SHRINK as f32;
        let to_mask = Transform::from_scale(shrink, shrink);
        let mut paint =
            Paint { shader: Shader::SolidColor(tiny_skia::Color::WHITE), ..Paint::default() };
        if let Some(row) = self.knee_row_px {
            let (width, height) = (mask.width() as f32, mask.height() as f32);
            let top = (row as f32 * shrink).clamp(0.0, height);
            if let Some(below) = Rect::from_ltrb(0.0, top, width, height) {
                mask.fill_rect(below, &paint, Transform::identity(), None);
            }
        }
        if let Some(pose) = self.pose_at(time_s) {
            draw_body(&mut mask, pose, self.body_px, &paint, to_mask);
        }
        paint.blend_mode = BlendMode::Clear;
        for head in heads {
            let path = PathBuilder::from_circle(
                head.centre_px.x as f32,
                head.centre_px.y as f32,
                head.radius_px as f32,
            );
            if let Some(path) = path {
                mask.fill_path(&path, &paint, FillRule::Winding, to_mask, None);
            }
        }
        Some(mask)
    }

    /// The pose of the very frame, so that a doubtful moment stays hidden.
    fn pose_at(&self, time_s: f64) -> Option<&Pose> {
        self.near(time_s, SAME_FRAME_S)
            .min_by(|a, b| (a.time_s - time_s).abs().total_cmp(&(b.time_s - time_s).abs()))?
            .pose
            .as_ref()
    }

    /// Frames within that time.
    fn near(&self, time_s: f64, within_s: f64) -> impl Iterator<Item = &'a PoseFrame> + use<'a> {
        let start = self.frames.partition_point(|f| f.time_s < time_s - within_s);
        self.frames[start..].iter().take_while(move |f| f.time_s <= time_s + within_s)
    }

    fn heads_at(&self, time_s: f64) -> Vec<Circle> {
        let by_landmarks = self
            .near(time_s, POSE_LASTS_S)
            .filter_map(|f| f.pose.as_ref())
            .map(|pose| head_of(pose, self.body_px));
        let by_detector = self.heads.iter().flat_map(|person| seen_about(person, time_s));
        by_landmarks.chain(by_detector).collect()
    }
}

/// The head by the landmarks of the face: enough to hold them all, and a whole head.
fn head_of(pose: &Pose, body_px: f64) -> Circle {
    let face = &pose.image[..FACE_LANDMARKS];
    let sum = face.iter().fold(nalgebra::Vector2::zeros(), |s, l| s + l.place_px.coords);
    let centre_px = Point2::from(sum / FACE_LANDMARKS as f64);
    let reach = face.iter().map(|l| (l.place_px - centre_px).norm()).fold(0.0, f64::max);
    Circle { centre_px, radius_px: (HEAD_RADIUS * body_px).max(1.5 * reach) }
}

/// Where one person's head may be: where it was seen just before and after, and in
/// between; near the first or last look also where it was heading.
fn seen_about(person: &[Head], time_s: f64) -> Vec<Circle> {
    let next = person.partition_point(|h| h.time_s <= time_s);
    let (before, after) = (next.checked_sub(1).map(|i| person[i]), person.get(next).copied());
    let mut circles = Vec::new();
    if let (Some(a), Some(b)) = (before, after)
        && b.time_s - a.time_s <= HEAD_BRIDGED_S
    {
        circles.push(between(&a, &b, time_s));
    }
    let lasting = |h: &Head| (h.time_s - time_s).abs() <= HEAD_LASTS_S;
    for head in before.iter().chain(&after).filter(|h| lasting(h)) {
        circles.push(Circle { centre_px: head.centre_px, radius_px: head.radius_px });
    }
    let ahead = match (before, after) {
        (Some(last), None) => next.checked_sub(2).map(|i| (person[i], last)),
        (None, Some(first)) => person.get(next + 1).map(|second| (first, *second)),
        _ => None,
    };
    if let Some((a, b)) = ahead
        && (lasting(&a) || lasting(&b))
        && b.time_s - a.time_s <= HEAD_BRIDGED_S
    {
        circles.push(between(&a, &b, time_s));
    }
    circles
}

/// On the straight line through two looks, also beyond them.
fn between(a: &Head, b: &Head, time_s: f64) -> Circle {
    let share = (time_s - a.time_s) / (b.time_s - a.time_s).max(1e-6);
    Circle {
        centre_px: a.centre_px + (b.centre_px - a.centre_px) * share,
        radius_px: 1.2 * a.radius_px.max(b.radius_px),
    }
}

fn draw_body(mask: &mut Pixmap, pose: &Pose, body_px: f64, paint: &Paint, transform: Transform) {
    let mut line = |landmarks: &[(Landmark, Side)], width: f64, filled: bool| {
        // Where a hidden joint is said to be anything may be.
        let seen = |(landmark, side): &(Landmark, Side)| {
            pose.image[landmark.at(*side)].sight() >= settings::MIN_HEAT
        };
        if !landmarks.iter().all(seen) {
            return;
        }
        let mut path = PathBuilder::new();
        for (i, (landmark, side)) in landmarks.iter().enumerate() {
            let p = pose.place_px(*landmark, *side);
            if i == 0 {
                path.move_to(p.x as f32, p.y as f32);
            } else {
                path.line_to(p.x as f32, p.y as f32);
            }
        }
        if filled {
            path.close();
        }
        let Some(path) = path.finish() else { return };
        let stroke = Stroke {
            width: (width * body_px) as f32,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            ..Stroke::default()
        };
        if filled {
            mask.fill_path(&path, paint, FillRule::Winding, transform, None);
        }
        mask.stroke_path(&path, paint, &stroke, transform, None);
    };
    use Landmark::{Ankle, Elbow, FootIndex, Heel, Hip, Index, Knee, Shoulder, Wrist};
    use Side::{Left, Right};
    let trunk = [(Shoulder, Left), (Shoulder, Right), (Hip, Right), (Hip, Left)];
    line(&trunk, TRUNK_MARGIN, true);
    line(&[(Hip, Left), (Hip, Right)], THIGH_WIDTH, false);
    for side in [Left, Right] {
        line(&[(Shoulder, side), (Elbow, side), (Wrist, side), (Index, side)], ARM_WIDTH, false);
        line(&[(Hip, side), (Knee, side)], THIGH_WIDTH, false);
        line(&[(Knee, side), (Ankle, side)], SHANK_WIDTH, false);
        line(&[(Ankle, side), (Heel, side), (FootIndex, side)], SHANK_WIDTH, false);
    }
}

/// A picture reduced to the means of square cells.
struct Cells {
    size_px: u32,
    columns: usize,
    means: Vec<[f32; 3]>,
    /// For each column of pixels the two columns of cells it lies between, and how far on.
    across: Vec<(usize, usize, f32)>,
}

impl Cells {
    fn of(picture: &Pixmap, size_px: u32) -> Self {
        let (width, height) = (picture.width(), picture.height());
        let (columns, rows) = (width.div_ceil(size_px) as usize, height.div_ceil(size_px) as usize);
        let mut sums = vec![[0u32; 4]; columns * rows];
        for (y, line) in picture.data().chunks_exact(4 * width as usize).enumerate() {
            let row = y / size_px as usize * columns;
            for (sum, cell) in sums[row..].iter_mut().zip(line.chunks(4 * size_px as usize)) {
                for pixel in cell.chunks_exact(4) {
                    sum[0] += u32::from(pixel[0]);
                    sum[1] += u32::from(pixel[1]);
                    sum[2] += u32::from(pixel[2]);
                }
                sum[3] += cell.len() as u32 / 4;
            }
        }
        let mean = |s: &[u32; 4]| [0, 1, 2].map(|i| s[i] as f32 / s[3].max(1) as f32);
        let across = (0..width).map(|x| between_cells(x, size_px, columns)).collect();
        Self { size_px, columns, means: sums.iter().map(mean).collect(), across }
    }

    /// The colours of a row of pixels at the cells' middles.
    fn row(&self, y: u32) -> Vec<[f32; 3]> {
        let (above, below, share) = between_cells(y, self.size_px, self.means.len() / self.columns);
        let line = |row: usize| &self.means[row * self.columns..(row + 1) * self.columns];
        line(above).iter().zip(line(below)).map(|(a, b)| mixed(*a, *b, share)).collect()
    }

    /// Colour of a pixel of such a row, smoothly between the cells' middles.
    fn colour(&self, row: &[[f32; 3]], x: usize) -> [f32; 3] {
        let (left, right, share) = self.across[x];
        mixed(row[left], row[right], share)
    }

    /// Replaces what `mask` (smaller by [`MASK_SHRINK`]) does not keep clear.
    fn put(&self, picture: &mut Pixmap, mask: &Pixmap) {
        let width = picture.width() as usize;
        let mask_width = mask.width() as usize;
        let clear = |x: usize, y: usize| mask.data()[4 * (y * mask_width + x) + 3];
        let (last_x, last_y) = (mask_width - 1, mask.height() as usize - 1);
        let shrink = MASK_SHRINK as usize;
        for (y, line) in picture.data_mut().chunks_exact_mut(4 * width).enumerate() {
            let row = self.row(y as u32);
            let (my, next_y) = (y / shrink, (y / shrink + 1).min(last_y));
            let fy = (y % shrink) as f32 / shrink as f32;
            for (column, pixels) in line.chunks_mut(4 * shrink).enumerate() {
                let next = (column + 1).min(last_x);
                let corners = [
                    clear(column, my),
                    clear(next, my),
                    clear(column, next_y),
                    clear(next, next_y),
                ];
                if corners == [255; 4] {
                    continue;
                }
                let [a, b, c, d] = corners.map(f32::from);
                let (left, right) = (a + (c - a) * fy, b + (d - b) * fy);
                for (i, pixel) in pixels.chunks_exact_mut(4).enumerate() {
                    let keep = (left + (right - left) * (i as f32 / shrink as f32)) / 255.0;
                    let blurred = self.colour(&row, column * shrink + i);
                    for (value, blurred) in pixel.iter_mut().zip(blurred) {
                        *value = (blurred + (f32::from(*value) - blurred) * keep) as u8;
                    }
                }
            }
        }
    }

    /// Replaces a disc.
    fn put_circle(&self, picture: &mut Pixmap, centre_px: Point2<f64>, radius_px: f64) {
        let (width, height) = (picture.width(), picture.height());
        let inside = |from: f64, limit: u32| from.clamp(0.0, f64::from(limit)) as u32;
        let rows = inside(centre_px.y - radius_px, height)..inside(centre_px.y + radius_px, height);
        for y in rows {
            let dy = f64::from(y) - centre_px.y;
            let half = (radius_px * radius_px - dy * dy).max(0.0).sqrt();
            let row = self.row(y);
            for x in inside(centre_px.x - half, width)..inside(centre_px.x + half, width) {
                let colour = self.colour(&row, x as usize);
                let at = 4 * (y * width + x) as usize;
                for (value, blurred) in picture.data_mut()[at..at + 3].iter_mut().zip(colour) {
                    *value = blurred as u8;
                }
            }
        }
    }
}

/// The two cells whose middles a pixel lies between, and how far on from the first.
fn between_cells(at: u32, size_px: u32, cells: usize) -> (usize, usize, f32) {
    let place = ((at as f32 + 0.5) / size_px as f32 - 0.5).clamp(0.0, (cells - 1) as f32);
    let first = place as usize;
    (first, (first + 1).min(cells - 1), place - first as f32)
}

fn mixed(a: [f32; 3], b: [f32; 3], share: f32) -> [f32; 3] {
    std::array::from_fn(|i| a[i] + (b[i] - a[i]) * share)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::landmarks::ImageLandmark;
    use crate::record::{ClipFacts, Filming};

    fn head(time_s: f64, u: f64) -> Head {
        Head { person: 0, time_s, centre_px: Point2::new(u, 50.0), radius_px: 10.0 }
    }

    fn recording(frames: Vec<PoseFrame>, heads: Vec<Head>) -> Recording {
        let clip = ClipFacts {
            file: "film.mp4".into(),
            sha256: String::new(),
            width_px: Some(200),
            height_px: Some(400),
            duration_s: 1.0,
            frames: frames.len(),
            frame_rate_hz: 30.0,
            recorded_at: None,
        };
        Recording { clip, filming: Filming::default(), frames, heads, motion: None }
    }

    /// One-pixel stripes, of which no blur leaves anything.
    fn stripes() -> Pixmap {
        let mut picture = Pixmap::new(200, 400).unwrap();
        for (i, pixel) in picture.data_mut().chunks_exact_mut(4).enumerate() {
            let grey = if i % 2 == 0 { 0 } else { 255 };
            pixel.copy_from_slice(&[grey, grey, grey, 255]);
        }
        picture
    }

    /// Contrast of neighbours about a point.
    fn contrast(picture: &Pixmap, x: u32, y: u32) -> u8 {
        let at = |x: u32| picture.data()[4 * (y * 200 + x) as usize];
        at(x).abs_diff(at(x + 1))
    }

    #[test]
    fn without_a_pose_everything_is_hidden() {
        let lost = vec![PoseFrame { index: 0, time_s: 0.0, pose: None }];
        let recording = recording(lost, Vec::new());
        let mut picture = stripes();
        Hiding::new(&recording, 300.0).apply(&mut picture, 0.0, 1.0);
        for (x, y) in [(10, 10), (100, 200), (190, 390), (0, 399), (198, 0)] {
            assert!(contrast(&picture, x, y) < 8, "at {x} {y}");
        }
    }

    /// A person upright at column 100: knees at row 300, a head at row 60.
    fn standing() -> Pose {
        let mut pose = Pose {
            image: [ImageLandmark {
                place_px: Point2::new(100.0, 60.0),
                depth_px: 0.0,
                visibility: 1.0,
                heat: Some(1.0),
            }; crate::body::LANDMARKS],
            metric_m: [nalgebra::Point3::origin(); crate::body::LANDMARKS],
        };
        use Landmark::{Ankle, Elbow, FootIndex, Heel, Hip, Index, Knee, Shoulder, Wrist};
        let rows = [
            (Shoulder, 110.0),
            (Elbow, 150.0),
            (Wrist, 190.0),
            (Index, 200.0),
            (Hip, 210.0),
            (Knee, 300.0),
            (Ankle, 380.0),
            (Heel, 385.0),
            (FootIndex, 388.0),
        ];
        for (landmark, row) in rows {
            for (side, column) in [(Side::Left, 120.0), (Side::Right, 80.0)] {
                pose.image[landmark.at(side)].place_px = Point2::new(column, row);
            }
        }
        pose
    }

    #[test]
    fn the_body_and_the_floor_stay_clear_and_heads_do_not() {
        let frames = vec![PoseFrame { index: 0, time_s: 0.0, pose: Some(standing()) }];
        // Somebody's head before the person's trunk, and one at the floor.
        let other = |person: usize, u: f64, v: f64| Head {
            person,
            time_s: 0.1,
            centre_px: Point2::new(u, v),
            radius_px: 20.0,
        };
        let recording = recording(frames, vec![other(1, 100.0, 180.0), other(2, 30.0, 370.0)]);
        let mut picture = stripes();
        Hiding::new(&recording, 300.0).apply(&mut picture, 0.0, 1.0);
        assert_eq!(contrast(&picture, 100, 140), 255, "trunk");
        assert_eq!(contrast(&picture, 120, 340), 255, "shank");
        assert_eq!(contrast(&picture, 180, 330), 255, "floor");
        for (x, y, what) in [
            (100, 60, "own head"),
            (30, 140, "room"),
            (100, 180, "a head before the trunk"),
            (30, 370, "a head at the floor"),
        ] {
            assert!(contrast(&picture, x, y) < 8, "{what}");
        }
    }

    #[test]
    fn a_head_is_hidden_before_between_and_after_its_sightings() {
        // 50 px in 0.2 s, by hand: at 0.3 s halfway, at 0.6 s as far again.
        let walker = [head(0.2, 0.0), head(0.4, 50.0)];
        let hidden = |time_s: f64, u: f64| {
            seen_about(&walker, time_s).iter().any(|c| (c.centre_px.x - u).abs() < c.radius_px)
        };
        for (time_s, u) in [(0.2, 0.0), (0.3, 25.0), (0.4, 50.0), (0.6, 100.0), (0.0, -50.0)] {
            assert!(hidden(time_s, u), "{time_s} {u}");
        }
        assert!(!hidden(3.0, 50.0), "long after");
    }
}
