//! Reading the person detector's output: anchors, boxes, overlaps.

use nalgebra::Point2;

use super::pictures::Body;
use super::region::Region;

/// Side of the detector's input square, pixels.
pub(super) const INPUT_PX: usize = 224;
/// Numbers per anchor in the box output: x, y, w, h, then 4 key points.
const BOX_NUMBERS: usize = 12;
/// Scores below this are nobody (reference pipeline).
const MIN_SCORE: f64 = 0.5;
/// From this score on it may be somebody, far away or half hidden: enough to hide a
/// face, not to follow a person. As low as goes without faces where there are none: in the
/// clips of `scripts/render/tuning.toml` (one person each) nobody else reaches it (design choice).
const MIN_DOUBTFUL_SCORE: f64 = 0.05;
/// Boxes overlapping more than this are the same person (reference pipeline).
const SAME_PERSON_OVERLAP: f64 = 0.3;

/// A person seen by the detector, in picture pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Detection {
    /// Probability 0–1.
    pub score: f64,
    /// Corner of the box (of head and neck) nearest the picture's origin.
    pub box_min_px: Point2<f64>,
    /// Opposite corner.
    pub box_max_px: Point2<f64>,
    /// Middle of the hips.
    pub hips_px: Point2<f64>,
    /// Point on the circle about the whole body, toward the head.
    pub scale_point_px: Point2<f64>,
}

impl Detection {
    /// Radius of the circle about the whole body, pixels.
    pub fn radius_px(&self) -> f64 {
        (self.scale_point_px - self.hips_px).norm()
    }

    /// Middle and radius of a circle that holds the whole head, pixels. The box frames
    /// head and neck, about 0.32 of the stature each way: its middle lies an eighth of its
    /// side below the nose, from where the back of a head is some 0.12 of the stature away
    /// (from memory), and the detector errs by 0.02 (design choice;
    /// `tests/annotated_film.rs` holds the circles against rendered faces).
    pub fn head_px(&self) -> (Point2<f64>, f64) {
        let side = (self.box_max_px - self.box_min_px).amax();
        let up = (self.scale_point_px - self.hips_px) / self.radius_px().max(1.0);
        (nalgebra::center(&self.box_min_px, &self.box_max_px) + up * side / 8.0, 0.45 * side)
    }

    /// Where this person is.
    pub fn body(&self) -> Body {
        Body { hips_px: self.hips_px, radius_px: self.radius_px() }
    }

    /// The square for the landmark network.
    pub fn region(&self) -> Region {
        Region::around_body(self.hips_px, self.scale_point_px)
    }
}

/// Centres of the detector's 2254 anchors in shares of its input square.
pub fn anchors() -> Vec<Point2<f64>> {
    let mut all = Vec::with_capacity(2254);
    for (stride, per_cell) in [(8, 2), (16, 2), (32, 6)] {
        let cells = INPUT_PX / stride;
        for y in 0..cells {
            for x in 0..cells {
                let centre = |i: usize| (i as f64 + 0.5) / cells as f64;
                all.extend(std::iter::repeat_n(Point2::new(centre(x), centre(y)), per_cell));
            }
        }
    }
    all
}

/// What the detector makes of a picture.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Seen {
    /// People, strongest first.
    pub people: Vec<Detection>,
    /// What may be further people.
    pub doubtful: Vec<Detection>,
}

/// Decodes raw boxes and scores.
pub(super) fn decode(
    anchors: &[Point2<f64>],
    boxes: &[f32],
    scores: &[f32],
    square: &Region,
) -> Seen {
    let mut candidates: Vec<Candidate> = anchors
        .iter()
        .zip(boxes.chunks_exact(BOX_NUMBERS))
        .zip(scores)
        .filter_map(|((anchor, raw), raw_score)| {
            let score = 1.0 / (1.0 + (-f64::from(raw_score.clamp(-100.0, 100.0))).exp());
            (score >= MIN_DOUBTFUL_SCORE).then(|| Candidate::new(score, raw, anchor))
        })
        .collect();
    candidates.sort_by(|a, b| b.score.total_cmp(&a.score));
    let sure = candidates.partition_point(|c| c.score >= MIN_SCORE);
    let mut rest = candidates.split_off(sure);
    let surely = candidates.clone();
    rest.retain(|c| surely.iter().all(|s| c.overlap(s) <= SAME_PERSON_OVERLAP));
    Seen { people: apart(candidates, square), doubtful: apart(rest, square) }
}

/// One detection for each heap of overlapping candidates, strongest first.
fn apart(mut candidates: Vec<Candidate>, square: &Region) -> Vec<Detection> {
    let mut people = Vec::new();
    while let Some(best) = candidates.first().cloned() {
        let (same, others): (Vec<_>, Vec<_>) = candidates
            .into_iter()
            .partition(|c| c.overlap(&best) > SAME_PERSON_OVERLAP || *c == best);
        people.push(Candidate::weighted_mean(&same, best.score).into_picture(square));
        candidates = others;
    }
    people
}

/// A detection in shares of the input square: box corners, then key points.
#[derive(Debug, Clone, PartialEq)]
struct Candidate {
    score: f64,
    /// x0, y0, x1, y1, then x and y of the four key points.
    numbers: [f64; BOX_NUMBERS],
}

impl Candidate {
    fn new(score: f64, raw: &[f32], anchor: &Point2<f64>) -> Self {
        let share = |i: usize| f64::from(raw[i]) / INPUT_PX as f64;
        let (x, y) = (share(0) + anchor.x, share(1) + anchor.y);
        let (half_w, half_h) = (share(2) / 2.0, share(3) / 2.0);
        let mut numbers = [0.0; BOX_NUMBERS];
        numbers[..4].copy_from_slice(&[x - half_w, y - half_h, x + half_w, y + half_h]);
        for (i, number) in numbers.iter_mut().enumerate().skip(4) {
            *number = share(i) + if i % 2 == 0 { anchor.x } else { anchor.y };
        }
        Self { score, numbers }
    }

    /// Intersection over union of the boxes.
    fn overlap(&self, other: &Self) -> f64 {
        let (a, b) = (&self.numbers, &other.numbers);
        let w = (a[2].min(b[2]) - a[0].max(b[0])).max(0.0);
        let h = (a[3].min(b[3]) - a[1].max(b[1])).max(0.0);
        let area = |n: &[f64; BOX_NUMBERS]| (n[2] - n[0]) * (n[3] - n[1]);
        let union = area(a) + area(b) - w * h;
        if union > 0.0 { w * h / union } else { 0.0 }
    }

    fn weighted_mean(same: &[Self], score: f64) -> Self {
        let total: f64 = same.iter().map(|c| c.score).sum();
        let numbers = std::array::from_fn(|i| {
            same.iter().map(|c| c.score * c.numbers[i]).sum::<f64>() / total
        });
        Self { score, numbers }
    }

    fn into_picture(self, square: &Region) -> Detection {
        let point = |i: usize| square.picture_from_square(self.numbers[i], self.numbers[i + 1]);
        Detection {
            score: self.score,
            box_min_px: point(0),
            box_max_px: point(2),
            hips_px: point(4),
            scale_point_px: point(6),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn overlapping_boxes_are_one_person_and_distant_ones_two() {
        let anchors = vec![Point2::new(0.25, 0.5), Point2::new(0.26, 0.5), Point2::new(0.75, 0.5)];
        let mut raw = [0.0f32; BOX_NUMBERS];
        raw[2] = 44.8;
        raw[3] = 44.8;
        let boxes: Vec<f32> = raw.iter().copied().cycle().take(36).collect();
        let square = Region::whole_picture(100, 100);
        let people = decode(&anchors, &boxes, &[2.0, 2.0, 1.0], &square).people;
        assert_eq!(people.len(), 2);
        assert!((people[0].hips_px.x - 25.5).abs() < 1e-6, "mean of two equal scores");
        assert!((people[1].hips_px.x - 75.0).abs() < 1e-6);
        assert_eq!(decode(&anchors, &boxes, &[-9.0; 3], &square), Seen::default());
        // A score of 0.27 beside a person.
        let seen = decode(&anchors, &boxes, &[2.0, 2.0, -1.0], &square);
        assert_eq!((seen.people.len(), seen.doubtful.len()), (1, 1));
    }
}
