//! A first quick look through the clip: who is in it, who does the exercise,
//! and does the camera stay where it is. On the way the pictures are asked what they
//! tell of light, sharpness and tilt.

use image::RgbImage;
use nalgebra::Point2;

use super::detection::{Detection, Seen};
use super::heads::Heads;
use super::network::Detector;
use super::pictures::upright::{self, Lean};
use super::pictures::{Body, Glance, gathered, painted_out};
use super::steady_camera::Steadiness;
use crate::error::Result;
use crate::record::Pictures;
use crate::record::landmarks::{Head, Pose};

/// The survey looks at a frame about this often, seconds. A stand or a seated
/// rest lasts longer.
pub const INTERVAL_S: f64 = 0.2;
/// A person reappearing after more than this is taken for another one, seconds.
/// This and the limits below are design choices.
const MAX_ABSENCE_S: f64 = 3.0;
/// Between two looks a person moves less than this share of the body's radius
/// per second, plus a fixed share for the detector's own scatter. A fast rise
/// moves the hips by about half a radius in 0.7 s.
const MAX_DRIFT_PER_S: f64 = 1.0;
const SCATTER: f64 = 0.15;
/// Who rises from a chair stays in place: sightings further aside from the usual
/// place than this share of the body's radius are somebody else who came between.
const MAX_ASIDE: f64 = 0.3;
/// While nobody is found beside the people who were seen at once, one looks again after this
/// long, seconds (design choice: a second look costs as much as the first).
const LOOK_AGAIN_S: f64 = 1.0;
/// Score from which a second look has found a person and no remnant of one who was painted
/// out (design choice; such remnants reach about 0.5).
const SURELY_ANOTHER: f64 = 0.8;
/// A rise lifts the hips by about 0.4 of the body's radius; less than this is
/// fidgeting or detector scatter.
const SWING: f64 = 0.2;
/// Lines of the room are looked for this often, seconds, and this many times: they do
/// not move (design choice).
const LINES_INTERVAL_S: f64 = 2.0;
const LINES_LOOKS: usize = 10;
/// Landmarks belong to the subject if their hips are this near to where the survey saw
/// the subject's, shares of the body's radius.
pub(super) const MAX_STRAY: f64 = 0.25;
/// Somebody counts as «another person» when seen this often.
const MIN_SIGHTINGS: usize = 3;
/// Hips above the lower ankle in lengths of the trunk, [`Pose::hip_height`]: below the
/// first somebody may be sitting, above the second standing. From proportions of the body
/// ([Winter2009]) 1.70 upright and 1.0 on a seat at knee height; what lies between is
/// either (design choice).
const SITS_BELOW: f64 = 1.45;
const STANDS_ABOVE: f64 = 1.25;
/// A posture is that of a moment up to this far from it, seconds (design choice: less than
/// a rest on the seat or a stand).
const POSTURE_REACH_S: f64 = 0.5;

/// A sighting: when, where the hips are and the body's reach from there.
#[derive(Debug, Clone, PartialEq)]
struct Sighting {
    time_s: f64,
    hips_px: Point2<f64>,
    scale_point_px: Point2<f64>,
    glance: Glance,
    /// [`Pose::hip_height`], where the landmarks were looked at.
    hip_height: Option<f64>,
}

impl Sighting {
    fn radius_px(&self) -> f64 {
        (self.scale_point_px - self.hips_px).norm()
    }
}

/// One person's sightings in order of time.
#[derive(Debug, Clone, PartialEq)]
struct Track(Vec<Sighting>);

/// Gathers detections while the clip is skimmed.
#[derive(Default)]
pub struct Surveyor {
    tracks: Vec<Track>,
    heads: Heads,
    camera: Steadiness,
    leans: Vec<Vec<Lean>>,
    leans_at_s: Option<f64>,
    /// When one looks again for people beside those who were seen.
    look_again_s: f64,
}

/// What the survey found.
#[derive(Debug, Clone)]
pub struct Survey {
    subject: Track,
    /// Every head that was seen, person by person in order of time.
    pub heads: Vec<Head>,
    /// Others who were seen more than in passing.
    pub other_people: usize,
    /// Spans in which the camera moved, seconds.
    pub camera_moved_s: Vec<(f64, f64)>,
    /// What the pictures tell of the filming.
    pub pictures: Pictures,
}

impl Surveyor {
    /// Looks at one frame. Returns who is in it, picture pixels.
    ///
    /// # Errors
    /// [`crate::Error::Network`].
    pub fn look(
        &mut self,
        detector: &mut Detector,
        picture: &RgbImage,
        time_s: f64,
        clip_px_per_px: f64,
    ) -> Result<Vec<Detection>> {
        let Seen { mut people, doubtful } = detector.look(picture)?;
        if !people.is_empty() && time_s >= self.look_again_s {
            let more = beside(detector, picture, &people)?;
            let soon = if more.is_empty() { LOOK_AGAIN_S } else { 0.0 };
            self.look_again_s = time_s + soon;
            people.extend(more);
        }
        for person in people.iter().chain(&doubtful) {
            self.heads.add(time_s, person, clip_px_per_px);
        }
        let bodies: Vec<Body> = people.iter().map(Detection::body).collect();
        self.camera.look(picture, time_s, &bodies);
        let glances = bodies.iter().map(|b| Glance::at(picture, b, &bodies)).collect();
        let due = self.leans_at_s.is_none_or(|last| time_s - last >= LINES_INTERVAL_S);
        if due && self.leans.len() < LINES_LOOKS {
            self.leans_at_s = Some(time_s);
            self.leans.push(upright::leans(picture, &bodies));
        }
        self.add(time_s, &people, glances, clip_px_per_px);
        Ok(people)
    }

    fn add(
        &mut self,
        time_s: f64,
        people: &[Detection],
        glances: Vec<Glance>,
        clip_px_per_px: f64,
    ) {
        let mut taken = vec![false; self.tracks.len()];
        for (person, glance) in people.iter().zip(glances) {
            let seen = Sighting {
                time_s,
                hips_px: person.hips_px * clip_px_per_px,
                scale_point_px: person.scale_point_px * clip_px_per_px,
                glance,
                hip_height: None,
            };
            let nearest = (0..self.tracks.len())
                .filter(|i| !taken[*i])
                .filter_map(|i| Some((i, self.tracks[i].distance(&seen)?)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            match nearest {
                Some((i, _)) => {
                    taken[i] = true;
                    self.tracks[i].0.push(seen);
                }
                None => {
                    self.tracks.push(Track(vec![seen]));
                    taken.push(true);
                }
            }
        }
    }

    /// Takes in the landmarks of people who were seen at `time_s`, clip pixels. Where there
    /// are several people they tell who sits and stands.
    pub fn postures(&mut self, time_s: f64, poses: &[Pose]) {
        for pose in poses {
            let here = |s: &&mut Sighting| {
                s.time_s == time_s
                    && (s.hips_px - pose.hips_px()).norm() < MAX_STRAY * s.radius_px()
            };
            let seen = self.tracks.iter_mut().flat_map(|t| &mut t.0).filter(here);
            let away = |s: &&mut Sighting| (s.hips_px - pose.hips_px()).norm();
            if let Some(seen) = seen.min_by(|a, b| away(a).total_cmp(&away(b))) {
                seen.hip_height = Some(pose.hip_height());
            }
        }
    }

    /// Decides who is meant; `None` if nobody was seen.
    pub fn conclude(self) -> Option<Survey> {
        let subject = self
            .tracks
            .iter()
            .max_by(|a, b| a.merit().partial_cmp(&b.merit()).unwrap_or(std::cmp::Ordering::Equal))?
            .clone();
        let (fragments, others): (Vec<_>, Vec<_>) = self
            .tracks
            .into_iter()
            .filter(|t| *t != subject)
            .partition(|t| subject.shares_place(t));
        let others: Vec<&Track> = others.iter().filter(|t| t.overlaps_in_time(&subject)).collect();
        let staying = others.iter().filter(|t| t.0.len() >= MIN_SIGHTINGS).count();
        let others = staying.max(usize::from(walks_through(&others)));
        let subject = subject.joined_with(fragments);
        let glances: Vec<Glance> = subject.0.iter().map(|s| s.glance).collect();
        let pictures = Pictures {
            movement_behind_s: self.camera.movement_behind_s(),
            ..gathered(&glances, &self.leans, self.camera.wander())
        };
        Some(Survey {
            subject,
            heads: self.heads.all(),
            other_people: others,
            camera_moved_s: self.camera.moved_s(),
            pictures,
        })
    }
}

/// People whom the detector passes over beside somebody nearer or larger: it looks again at
/// the picture with those painted out whom it has seen.
fn beside(
    detector: &mut Detector,
    picture: &RgbImage,
    seen: &[Detection],
) -> Result<Vec<Detection>> {
    let bodies: Vec<Body> = seen.iter().map(Detection::body).collect();
    let mut more = detector.look(&painted_out(picture, &bodies))?.people;
    // What sticks out of the paint is no person of its own.
    let apart = |d: &Detection| bodies.iter().all(|b| b.reach(d.hips_px.x, d.hips_px.y) > 1.0);
    more.retain(|d| d.score >= SURELY_ANOTHER && apart(d));
    Ok(more)
}

/// Somebody who walks goes too far between two looks for their sightings to make a track:
/// enough of them within [`MAX_ABSENCE_S`] are a person all the same.
fn walks_through(tracks: &[&Track]) -> bool {
    let mut times: Vec<f64> = tracks.iter().flat_map(|t| &t.0).map(|s| s.time_s).collect();
    times.sort_by(f64::total_cmp);
    times.windows(MIN_SIGHTINGS).any(|w| w[MIN_SIGHTINGS - 1] - w[0] <= MAX_ABSENCE_S)
}

impl Track {
    /// Distance of a new sighting in body radii, if it can be the same person.
    fn distance(&self, seen: &Sighting) -> Option<f64> {
        let last = self.0.last()?;
        let elapsed_s = seen.time_s - last.time_s;
        if elapsed_s > MAX_ABSENCE_S {
            return None;
        }
        let radius = last.radius_px().max(1.0);
        let shift = (seen.hips_px - last.hips_px).norm() / radius;
        let growth = (seen.radius_px() / radius).ln().abs();
        let reach = SCATTER + MAX_DRIFT_PER_S * elapsed_s;
        (shift < reach && growth < reach).then_some(shift + growth)
    }

    /// Usual column of the hips and usual radius, pixels.
    fn place(&self) -> (f64, f64) {
        let middle = |value: &dyn Fn(&Sighting) -> f64| {
            let values: Vec<f64> = self.0.iter().map(value).collect();
            crate::signal::median(&values).unwrap_or(0.0)
        };
        (middle(&|s| s.hips_px.x), middle(&Sighting::radius_px))
    }

    /// The other track is mostly where this one is: a piece of the same person's,
    /// broken off when somebody came between.
    fn shares_place(&self, other: &Track) -> bool {
        let ((column, radius), (other_column, other_radius)) = (self.place(), other.place());
        (column - other_column).abs() <= MAX_ASIDE * radius
            && (other_radius / radius.max(1.0)).ln().abs() < MAX_ASIDE
    }

    /// This track with its broken-off pieces, without sightings far aside.
    fn joined_with(self, fragments: Vec<Track>) -> Self {
        let (column, radius) = self.place();
        let own: Vec<f64> = self.0.iter().map(|s| s.time_s).collect();
        let elsewhere = |s: &Sighting| own.iter().all(|t| (t - s.time_s).abs() > INTERVAL_S / 2.0);
        let pieces = fragments.into_iter().flat_map(|f| f.0).filter(elsewhere);
        let mut all: Vec<Sighting> = pieces.collect();
        all.extend(self.0);
        all.retain(|s| (s.hips_px.x - column).abs() <= MAX_ASIDE * radius);
        all.sort_by(|a, b| a.time_s.total_cmp(&b.time_s));
        Self(all)
    }

    /// Who does the exercise? First who goes up and down the most while
    /// staying in place; then who is seen the longest; then who is largest.
    fn merit(&self) -> (usize, usize, f64) {
        let radii: Vec<f64> = self.0.iter().map(Sighting::radius_px).collect();
        let radius = crate::signal::median(&radii).unwrap_or(0.0);
        (self.swings(radius), self.0.len(), radius)
    }

    /// Ups and downs of the hips larger than [`SWING`] of the body's radius,
    /// not counting those of somebody who walks (whose hips go sideways more
    /// than they go up), nor any between two ends of which one is known not to be
    /// sitting, or the other not to be standing.
    fn swings(&self, radius_px: f64) -> usize {
        let is_one = |ends: &[&Sighting]| {
            let (from, to) = (ends[0], ends[1]);
            let rise = from.hips_px.y - to.hips_px.y;
            let sideways = (to.hips_px.x - from.hips_px.x).abs();
            let (low, high) = if rise > 0.0 { (from, to) } else { (to, from) };
            let sits = self.hip_height_about(low.time_s).is_none_or(|h| h < SITS_BELOW);
            let stands = self.hip_height_about(high.time_s).is_none_or(|h| h > STANDS_ABOVE);
            sideways < rise.abs() && sits && stands
        };
        self.turns(SWING * radius_px).windows(2).filter(|ends| is_one(ends)).count()
    }

    /// Where the hips turn between ways up and down of at least `least_px`, beginning and
    /// end included; nothing where there is no such way.
    fn turns(&self, least_px: f64) -> Vec<&Sighting> {
        let rise = |from: &Sighting, to: &Sighting| from.hips_px.y - to.hips_px.y;
        let is_way = |rise: f64| rise != 0.0 && rise.abs() >= least_px;
        let mut turns: Vec<&Sighting> = Vec::new();
        let mut heading = 0.0;
        for (i, seen) in self.0.iter().enumerate() {
            match turns.last_mut() {
                Some(end) if rise(end, seen) * heading > 0.0 => *end = seen,
                Some(end) if is_way(rise(end, seen)) => {
                    heading = rise(end, seen).signum();
                    turns.push(seen);
                }
                Some(_) => {}
                // The first way begins where it is longest so far.
                None => {
                    let before = self.0.iter().take(i);
                    let length = |s: &&Sighting| rise(s, seen).abs();
                    let start = before.max_by(|a, b| length(a).total_cmp(&length(b)));
                    if let Some(start) = start.filter(|start| is_way(rise(start, seen))) {
                        heading = rise(start, seen).signum();
                        turns = vec![start, seen];
                    }
                }
            }
        }
        turns
    }

    /// [`Sighting::hip_height`] at the moment nearest to `time_s` that has one.
    fn hip_height_about(&self, time_s: f64) -> Option<f64> {
        let away = |s: &&Sighting| (s.time_s - time_s).abs();
        let known = self.0.iter().filter(|s| s.hip_height.is_some());
        let nearest = known.min_by(|a, b| away(a).total_cmp(&away(b)))?;
        nearest.hip_height.filter(|_| away(&nearest) <= POSTURE_REACH_S)
    }

    fn overlaps_in_time(&self, other: &Track) -> bool {
        let span = |t: &Track| Some((t.0.first()?.time_s, t.0.last()?.time_s));
        match (span(self), span(other)) {
            (Some(a), Some(b)) => a.0 <= b.1 && b.0 <= a.1,
            _ => false,
        }
    }
}

impl Survey {
    /// The subject's landmarks among those of everybody at `time_s`, clip pixels.
    pub fn subject_among(&self, time_s: f64, poses: Vec<Pose>) -> Option<Pose> {
        let (hips, top) = self.subject_at(time_s)?;
        let away = |pose: &Pose| (pose.hips_px() - hips).norm() / (top - hips).norm();
        poses
            .into_iter()
            .filter(|pose| away(pose) < MAX_STRAY)
            .min_by(|a, b| away(a).total_cmp(&away(b)))
    }

    /// Where the subject is about `time_s`: hips and scale point, clip pixels,
    /// interpolated; `None` if not seen within [`MAX_ABSENCE_S`].
    pub(super) fn subject_at(&self, time_s: f64) -> Option<(Point2<f64>, Point2<f64>)> {
        let sightings = &self.subject.0;
        let after = sightings.partition_point(|s| s.time_s < time_s);
        let near = |s: &&Sighting| (s.time_s - time_s).abs() <= MAX_ABSENCE_S;
        let before = after.checked_sub(1).and_then(|i| sightings.get(i)).filter(near);
        match (before, sightings.get(after).filter(near)) {
            (Some(a), Some(b)) => {
                let share = (time_s - a.time_s) / (b.time_s - a.time_s).max(f64::EPSILON);
                let between = |p: Point2<f64>, q: Point2<f64>| p + (q - p) * share;
                Some((between(a.hips_px, b.hips_px), between(a.scale_point_px, b.scale_point_px)))
            }
            (Some(s), None) | (None, Some(s)) => Some((s.hips_px, s.scale_point_px)),
            (None, None) => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A person of radius 100 px at column `x` whose hips follow `height`.
    fn person(x: f64, height: f64) -> Detection {
        let hips_px = Point2::new(x, 400.0 - height);
        Detection {
            score: 0.9,
            box_min_px: hips_px,
            box_max_px: hips_px,
            hips_px,
            scale_point_px: hips_px - nalgebra::Vector2::new(0.0, 100.0),
        }
    }

    /// Up and down by 40 px every 4 s, as a rise from a chair looks.
    fn rising(time_s: f64) -> f64 {
        20.0 - 20.0 * (time_s * std::f64::consts::TAU / 4.0).cos()
    }

    fn survey(people_at: impl Fn(f64) -> Vec<Detection>) -> Survey {
        let mut surveyor = Surveyor::default();
        for look in 0..100 {
            let t = look as f64 * INTERVAL_S;
            let people = people_at(t);
            let glances = vec![Glance::default(); people.len()];
            surveyor.add(t, &people, glances, 1.0);
        }
        surveyor.conclude().unwrap()
    }

    #[test]
    fn who_rises_is_followed_though_another_stands_nearer() {
        let found = survey(|t| vec![person(300.0, 0.0), person(100.0, rising(t))]);
        assert_eq!(found.other_people, 1);
        assert!((found.subject_at(10.0).unwrap().0.x - 100.0).abs() < 1e-9);
    }

    /// The network's guess of somebody with that height of the hips, at `x`.
    fn posture(at: &Detection, hip_height: f64) -> Pose {
        use crate::body::{LANDMARKS, Landmark, Side};
        use crate::record::landmarks::ImageLandmark;
        let image =
            ImageLandmark { place_px: at.hips_px, depth_px: 0.0, visibility: 1.0, heat: Some(1.0) };
        let mut metric_m = [nalgebra::Point3::origin(); LANDMARKS];
        for side in [Side::Left, Side::Right] {
            // A trunk of 0.5 m that leans by 30 degrees.
            metric_m[Landmark::Shoulder.at(side)] = nalgebra::Point3::new(0.0, -0.433, -0.25);
            metric_m[Landmark::Ankle.at(side)].y = 0.5 * hip_height;
        }
        Pose { image: [image; LANDMARKS], metric_m }
    }

    /// Somebody smaller who bobs more often than the other rises: by the hips alone it
    /// would be the one who does the exercise. Standing or sitting all the time, it is not.
    #[test]
    fn who_bobs_is_told_from_who_rests_on_the_seat_and_rises() {
        for always in [1.0, 1.7] {
            let mut surveyor = Surveyor::default();
            for look in 0..100 {
                let t = look as f64 * INTERVAL_S;
                let bobbing = 12.0 * (t * std::f64::consts::TAU / 1.4).sin();
                let (small, riser) = (person(300.0, bobbing), person(100.0, rising(t)));
                let postures =
                    [posture(&small, always), posture(&riser, 1.0 + 0.7 * rising(t) / 40.0)];
                surveyor.add(t, &[small, riser], vec![Glance::default(); 2], 1.0);
                if look % 2 == 0 {
                    surveyor.postures(t, &postures);
                }
            }
            assert!(surveyor.tracks[0].turns(20.0).len() > surveyor.tracks[1].turns(20.0).len());
            let found = surveyor.conclude().unwrap();
            assert!((found.subject_at(10.0).unwrap().0.x - 100.0).abs() < 1e-9, "{always}");
        }
    }

    #[test]
    fn a_passer_by_does_not_take_over() {
        let found = survey(|t| {
            let mut seen = vec![person(300.0, rising(t))];
            let walker = 80.0 * (t - 6.0);
            if (0.0..600.0).contains(&walker) {
                seen.insert(0, person(walker, 5.0));
            }
            seen
        });
        for t in [1.0, 9.0, 10.0, 15.0] {
            assert!((found.subject_at(t).unwrap().0.x - 300.0).abs() < 1e-9, "at {t} s");
        }
    }

    #[test]
    fn somebody_who_hurries_past_is_another_person_and_a_single_ghost_is_not() {
        let hurries = survey(|t| {
            let ahead = 250.0 * (t - 6.0);
            let passes = (0.0..600.0).contains(&ahead);
            let mut seen = vec![person(1000.0, rising(t))];
            seen.extend(passes.then(|| person(ahead, 0.0)));
            seen
        });
        assert_eq!(hurries.other_people, 1);
        let ghost = survey(|t| {
            let mut seen = vec![person(300.0, rising(t))];
            seen.extend(((t * 10.0).round() as i64 % 70 == 0).then(|| person(900.0, 0.0)));
            seen
        });
        assert_eq!(ghost.other_people, 0);
    }

    #[test]
    fn nobody_gives_nothing() {
        assert!(Surveyor::default().conclude().is_none());
    }
}
