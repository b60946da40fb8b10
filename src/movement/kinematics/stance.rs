//! Which leg does the work, and the postures everything is measured against.

use super::tracks::Tracks;
use crate::body::{Landmark, Side};
use crate::settings;
use crate::signal;

/// Standing: above this share of the way up, as the stand of a rep is (design choice).
const STANDING: f64 = 0.95;
/// Bottom and top of the body height, percentiles (design choice: the extremes themselves may
/// be outliers; the bottom takes more, as the trunk bends before a rise).
const EXTREMES_PERCENT: (f64, f64) = (2.0, 99.5);
/// The standing level, and where the foot stands under the hips, are read in the upper 15 % of
/// the range (design choice: a smooth rise is
/// there in the last 30 % of its time, derived: minimum jerk).
const UPPER: f64 = 0.85;
/// The seated level in the lower 35 %: a trunk of 0.5 m that leans by 45 degrees lowers the
/// mean of hips and shoulders by 7 cm, a fifth of a rise of 0.35 m (derived); the rest is room
/// for an upright seat (design choice).
const LOWER: f64 = 0.35;
/// The foot is watched while the body is up (design choice: the seat carries no more from a
/// quarter of the way on, whatever the trunk leans).
const WATCHED: f64 = 0.25;

/// The working leg and the clip's standing and seated postures.
#[derive(Debug, Clone)]
pub struct Stance {
    /// The leg that works.
    pub side: Side,
    /// How clearly the picture says so: 0 (even) to 1. 1 where the user said.
    pub clarity: f64,
    /// Row and column of its ankle while the foot is planted, pixels.
    pub ankle_px: (f64, f64),
    /// «Body height»: mean of hip and shoulder rows above the stance ankle,
    /// pixels, low-passed. Hip points alone sink when the trunk leans (the
    /// fold is seen, not the joint); the mean is the steadier clock.
    pub body_px: Vec<f64>,
    /// Its level while standing, pixels.
    pub standing_px: f64,
    /// Its level while sitting, pixels.
    pub seated_px: f64,
}

impl Stance {
    /// Finds the postures and the working leg (`leg` overrides the latter);
    /// `None` if the body never clearly rises.
    pub fn find(tracks: &Tracks, leg: Option<Side>) -> Option<Self> {
        let hips = tracks.mid_v_px(Landmark::Hip);
        let shoulders = tracks.mid_v_px(Landmark::Shoulder);
        let ankles = tracks.mid_v_px(Landmark::Ankle);
        let ground = signal::median(&ankles).unwrap_or(0.0);
        let raw: Vec<f64> =
            hips.iter().zip(&shoulders).map(|(h, s)| ground - (h + s) / 2.0).collect();
        Self::by_height(tracks, &raw, ground, leg)
    }

    /// The same from any measure of the body's height above the `ground` row,
    /// pixels.
    pub(super) fn by_height(
        tracks: &Tracks,
        raw: &[f64],
        ground: f64,
        leg: Option<Side>,
    ) -> Option<Self> {
        let body = tracks.smooth(raw);
        let (seated, standing) = levels(&body, tracks);
        let excursion = standing - seated;
        if excursion.is_nan() || excursion <= settings::MIN_EXCURSION_OF_BODY * standing {
            return None;
        }
        let share: Vec<f64> = body.iter().map(|b| (b - seated) / excursion).collect();
        let hips_u = tracks.mid_u_px(Landmark::Hip);
        let scores = [Side::Left, Side::Right]
            .map(|side| restlessness(tracks, side, &share, &hips_u) / standing);
        let found = if scores[0] < scores[1] { Side::Left } else { Side::Right };
        let side = leg.unwrap_or(found);
        let (low, high) = (scores[0].min(scores[1]), scores[0].max(scores[1]));
        let clarity = if leg.is_some() { 1.0 } else { 1.0 - low / high.max(1e-9) };

        let planted: Vec<usize> =
            (0..tracks.count).filter(|i| share[*i] > settings::SEATED_SHARE).collect();
        let over = |s: &[f64]| signal::median(&pick(s, &planted)).unwrap_or(0.0);
        let ankle_px =
            (over(tracks.u_px(Landmark::Ankle, side)), over(tracks.v_px(Landmark::Ankle, side)));
        let shift = ankle_px.1 - ground;
        Some(Self {
            side,
            clarity,
            ankle_px,
            body_px: body.iter().map(|b| b + shift).collect(),
            standing_px: standing + shift,
            seated_px: seated + shift,
        })
    }

    /// [`Side::medial`] of the working leg.
    pub fn medial(&self) -> f64 {
        self.side.medial()
    }

    /// Body height as a share of the excursion: 0 seated, 1 standing.
    pub fn share(&self) -> Vec<f64> {
        let excursion = self.standing_px - self.seated_px;
        self.body_px.iter().map(|b| (b - self.seated_px) / excursion).collect()
    }
}

/// Postures, by the share of the excursion.
impl Stance {
    /// Samples in which the person stands.
    pub(super) fn standing(&self) -> Vec<usize> {
        self.samples(|share| share > STANDING)
    }

    /// Samples in which the person sits.
    pub(super) fn seated(&self) -> Vec<usize> {
        self.samples(|share| share < settings::SEATED_SHARE)
    }

    /// Samples in which the stance foot carries.
    pub(super) fn planted(&self) -> Vec<usize> {
        self.samples(|share| share > settings::SEATED_SHARE)
    }

    /// Typical values of a series while standing and while seated.
    pub(super) fn levels(&self, series: &[f64]) -> (f64, f64) {
        let over = |samples: &[usize]| signal::median(&pick(series, samples)).unwrap_or(0.0);
        (over(&self.standing()), over(&self.seated()))
    }

    /// Typical value of a series while the stance foot carries.
    pub fn while_planted(&self, series: &[f64]) -> Option<f64> {
        signal::median(&pick(series, &self.planted()))
    }

    fn samples(&self, keep: impl Fn(f64) -> bool) -> Vec<usize> {
        let share = self.share();
        (0..share.len()).filter(|i| keep(share[*i])).collect()
    }
}

/// Seated and standing level of the body height: the medians of the samples in
/// the lowest 35 % and the highest 15 % of its range. Sitting takes the larger
/// part, because the trunk leans.
fn levels(body: &[f64], tracks: &Tracks) -> (f64, f64) {
    let known: Vec<f64> =
        body.iter().zip(&tracks.measured).filter(|(_, m)| **m).map(|(b, _)| *b).collect();
    let top = signal::percentile(&known, EXTREMES_PERCENT.1).unwrap_or(0.0);
    let bottom = signal::percentile(&known, EXTREMES_PERCENT.0).unwrap_or(0.0);
    let part = |keep: &dyn Fn(f64) -> bool| -> Vec<f64> {
        known.iter().copied().filter(|b| keep(*b)).collect()
    };
    let upper = part(&|b| b > bottom + UPPER * (top - bottom));
    let lower = part(&|b| b < bottom + LOWER * (top - bottom));
    (signal::median(&lower).unwrap_or(0.0), signal::median(&upper).unwrap_or(0.0))
}

/// How little a foot looks like the standing one, pixels: how much it moves
/// while the body is up, plus how far it is from under the hips while standing.
fn restlessness(tracks: &Tracks, side: Side, share: &[f64], hips_u: &[f64]) -> f64 {
    let foot = [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex];
    let loaded: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > WATCHED).collect();
    let standing: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > UPPER).collect();
    let motion: f64 = foot
        .iter()
        .map(|l| {
            let spread = |s: &[f64]| signal::deviation(&pick(s, &loaded)).unwrap_or(0.0);
            spread(tracks.u_px(*l, side)).hypot(spread(tracks.v_px(*l, side)))
        })
        .sum();
    let aside: Vec<f64> = standing
        .iter()
        .map(|i| (tracks.u_px(Landmark::Ankle, side)[*i] - hips_u[*i]).abs())
        .collect();
    motion + signal::median(&aside).unwrap_or(0.0)
}

pub(super) fn pick(series: &[f64], indices: &[usize]) -> Vec<f64> {
    indices.iter().filter_map(|i| series.get(*i).copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::super::made::{Body, FOCAL_PX, SIZE_PX, near, stance, still};
    use super::*;

    /// Either leg, and the postures in pixels of a camera 60 m away, where depth hardly counts.
    #[test]
    fn the_planted_foot_and_the_postures() {
        for side in [Side::Left, Side::Right] {
            let body = Body { side, distance_m: 60.0, right_m: 0.3, ..Body::USUAL };
            let stance = body.seen().stance;
            assert_eq!((stance.side, stance.medial()), (side, side.medial()));
            let px_per_m = FOCAL_PX / body.distance_m;
            near(stance.ankle_px.0, SIZE_PX.0 / 2.0 + px_per_m * body.right_m, 1e-6);
            near(stance.ankle_px.1, SIZE_PX.1 / 2.0 + px_per_m * body.below_m, 1e-6);
            let body_px = |time_s: f64| {
                let y = |l: Landmark| {
                    let of = |side| body.point_m(l, side, time_s).y;
                    (of(Side::Left) + of(Side::Right)) / 2.0
                };
                px_per_m * (y(Landmark::Hip) + y(Landmark::Shoulder)) / 2.0
            };
            near(stance.standing_px, body_px(3.6), 0.05);
            near(stance.seated_px, body_px(0.5), 0.05);
            let share = stance.share();
            near(share[20], 0.0, 0.005);
            near(share[180], 1.0, 0.005);
            let half = (body_px(2.3) - body_px(0.5)) / (body_px(3.6) - body_px(0.5));
            near(share[115], half, 0.005);
        }
    }

    /// What the user says counts; what is seen is clear by as much as the free foot moves and
    /// is aside.
    #[test]
    fn the_leg_that_was_told() {
        let seen = Body::USUAL.seen();
        for side in [Side::Left, Side::Right] {
            let told = Stance::find(&seen.tracks, Some(side)).unwrap();
            assert_eq!((told.side, told.clarity), (side, 1.0));
        }
    }

    /// Hips, shoulders and ankles of both sides, `count` samples.
    fn body(hip_row: &[f64], ankle: [(f64, f64); 2]) -> Tracks {
        let mut tracks = still(hip_row.len(), 30.0);
        for (side, ankle) in [Side::Left, Side::Right].into_iter().zip(ankle) {
            tracks.v_px[Landmark::Hip.at(side)] = hip_row.to_vec();
            tracks.v_px[Landmark::Shoulder.at(side)] = hip_row.to_vec();
            for landmark in [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex] {
                tracks.u_px[landmark.at(side)].fill(ankle.0);
                tracks.v_px[landmark.at(side)].fill(ankle.1);
            }
        }
        tracks
    }

    /// Seated for 4 s, standing for 4 s.
    fn up_to(seated_px: f64, standing_px: f64) -> Vec<f64> {
        (0..240).map(|i| 900.0 - if i < 120 { seated_px } else { standing_px }).collect()
    }

    /// Feet that keep still as far as they are aside: 1 − 20/50.
    #[test]
    fn how_clear_the_leg_is() {
        let tracks = body(&up_to(400.0, 600.0), [(550.0, 900.0), (480.0, 900.0)]);
        let stance = Stance::find(&tracks, None).unwrap();
        assert_eq!(stance.side, Side::Right);
        near(stance.clarity, 0.6, 1e-9);
        assert_eq!(stance.ankle_px, (480.0, 900.0));
        let even = body(&up_to(400.0, 600.0), [(520.0, 900.0), (480.0, 900.0)]);
        near(Stance::find(&even, None).unwrap().clarity, 0.0, 1e-9);
    }

    /// The foot that moves while the body is up is the free one, though it is not aside; and
    /// how it moves while the seat carries tells nothing.
    #[test]
    fn the_free_foot_moves_while_the_body_is_up() {
        // Mostly seated, so that what the feet do there would count for more.
        let seat_and_stand: Vec<f64> =
            (0..240).map(|i| if i < 180 { 500.0 } else { 300.0 }).collect();
        for (direction, up) in [(0, true), (1, true), (0, false), (1, false)] {
            let mut tracks = body(&seat_and_stand, [(500.0, 900.0), (530.0, 900.0)]);
            let samples = if up { 180..240 } else { 0..175 };
            for landmark in [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex] {
                let course = if direction == 0 { &mut tracks.u_px } else { &mut tracks.v_px };
                for i in samples.clone() {
                    course[landmark.at(Side::Left)][i] += if i % 2 == 0 { 40.0 } else { -40.0 };
                }
            }
            let stance = Stance::find(&tracks, None).unwrap();
            assert_eq!(stance.side, if up { Side::Right } else { Side::Left });
        }
    }

    /// The foot's place is where it is while it carries, not where it was put before.
    #[test]
    fn the_place_of_the_planted_foot() {
        let mut tracks = body(&up_to(400.0, 600.0), [(560.0, 900.0), (500.0, 900.0)]);
        for i in 0..115 {
            tracks.u_px[Landmark::Ankle.at(Side::Right)][i] = 440.0;
            tracks.v_px[Landmark::Ankle.at(Side::Right)][i] = 890.0;
        }
        let stance = Stance::find(&tracks, None).unwrap();
        assert_eq!((stance.side, stance.ankle_px), (Side::Right, (500.0, 900.0)));
    }

    /// The feet are aside by where they are while standing, not while sitting.
    #[test]
    fn a_foot_is_aside_of_the_hips_of_somebody_who_stands() {
        let mut tracks = body(&up_to(400.0, 600.0), [(500.0, 900.0), (560.0, 900.0)]);
        for i in 0..100 {
            for side in [Side::Left, Side::Right] {
                tracks.u_px[Landmark::Hip.at(side)][i] = 560.0;
            }
        }
        assert_eq!(Stance::find(&tracks, None).unwrap().side, Side::Left);
    }

    /// A rise lifts the body by 15 % of its standing height at least.
    #[test]
    fn who_keeps_the_same_height_does_not_rise() {
        let found = |seated_px: f64| {
            let tracks = body(&up_to(seated_px, 600.0), [(480.0, 900.0), (530.0, 900.0)]);
            Stance::find(&tracks, None)
        };
        let limit_px = 600.0 * (1.0 - settings::MIN_EXCURSION_OF_BODY);
        assert!(found(limit_px - 1.0).is_some() && found(limit_px + 1.0).is_none());
        let gone = body(&[f64::NAN; 60], [(480.0, 900.0), (530.0, 900.0)]);
        assert!(Stance::find(&gone, None).is_none());
    }

    /// The free ankle is higher: body height is above the working one.
    #[test]
    fn heights_are_above_the_working_ankle() {
        let tracks = body(&up_to(400.0, 600.0), [(560.0, 800.0), (500.0, 900.0)]);
        let stance = Stance::find(&tracks, None).unwrap();
        assert_eq!(stance.side, Side::Right);
        near(stance.standing_px, 600.0, 0.5);
        near(stance.seated_px, 400.0, 0.5);
        near(stance.body_px[30], 400.0, 0.5);
        near(stance.body_px[200], 600.0, 0.5);
    }

    /// Levels of a course by hand: seated are the samples in the lowest 35 % of the range,
    /// standing those in its upper 15 %; what is not measured has no say.
    #[test]
    fn levels_of_seat_and_stand() {
        // 470 and 570 px are just where either part ends.
        let parts =
            [(400.0, 120), (465.0, 60), (470.0, 100), (570.0, 100), (575.0, 60), (600.0, 120)];
        let course: Vec<f64> =
            parts.iter().flat_map(|(level, count)| vec![*level; *count]).collect();
        let mut tracks = still(course.len(), 30.0);
        // Of 120 and 60 samples the median is that of the 120.
        assert_eq!(levels(&course, &tracks), (400.0, 600.0));
        tracks.measured[..80].fill(false);
        tracks.measured[484..].fill(false);
        // Of 40 and 60, and of 60 and 44.
        assert_eq!(levels(&course, &tracks), (465.0, 575.0));
        tracks.measured.fill(false);
        assert_eq!(levels(&course, &tracks), (0.0, 0.0));
    }

    /// A twentieth below the stand still stands; up to a tenth of the way the seat carries.
    #[test]
    fn postures_by_the_share_of_the_way() {
        let stance =
            stance(vec![400.0, 418.0, 422.0, 588.0, 592.0, 600.0, 420.0, 590.0], 400.0, 600.0);
        assert_eq!(stance.share(), [0.0, 0.09, 0.11, 0.94, 0.96, 1.0, 0.1, 0.95]);
        assert_eq!(stance.seated(), [0, 1]);
        // Just there it is neither.
        assert_eq!(stance.planted(), [2, 3, 4, 5, 7]);
        assert_eq!(stance.standing(), [4, 5]);
        let series = [1.0, 2.0, 10.0, 20.0, 30.0, 40.0];
        assert_eq!(stance.levels(&series), (35.0, 1.5));
        assert_eq!(stance.while_planted(&series), Some(25.0));
        assert_eq!(stance.while_planted(&[]), None);
        assert_eq!(stance.levels(&[]), (0.0, 0.0));
        assert_eq!(pick(&series, &[5, 9, 0]), [40.0, 1.0]);
    }
}
