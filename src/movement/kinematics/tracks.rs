//! Landmarks on a uniform time grid.

use crate::body::{LANDMARKS, Landmark, Side};
use crate::record::Recording;
use crate::settings;
use crate::signal::{self, Grid};

/// How far a sample can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quality {
    /// Seen, or bridged over a short gap.
    Good,
    /// A landmark of the stance leg is hidden for longer than a short gap.
    Occluded,
    /// A landmark of the stance leg lies outside the picture.
    OutOfFrame,
    /// Nobody tracked for longer than a short gap.
    Lost,
}

/// Landmark courses in clip pixels at `rate_hz`, u right and v down, starting
/// at the clip's first frame.
#[derive(Debug, Clone)]
pub struct Tracks {
    /// Samples per second.
    pub rate_hz: f64,
    /// Number of samples.
    pub count: usize,
    /// Size of the picture, pixels.
    pub size_px: (f64, f64),
    /// False within gaps longer than [`settings::MAX_GAP_S`].
    pub measured: Vec<bool>,
    pub(super) u_px: Vec<Vec<f64>>,
    pub(super) v_px: Vec<Vec<f64>>,
    pub(super) visibility: Vec<Vec<f64>>,
    pub(super) sight: Vec<Vec<f64>>,
    /// How far each landmark is nearer to the camera than the hips by the
    /// network's guess, metres.
    pub(super) network_forward_m: Vec<Vec<f64>>,
    /// Metric distance shoulder–ankle the network guesses, metres, per sample.
    pub(super) network_height_m: Vec<f64>,
}

impl Tracks {
    /// From a recording; `None` with fewer than two tracked frames, or with times that leap.
    pub fn measure(recording: &Recording) -> Option<Self> {
        let seen: Vec<_> =
            recording.frames.iter().filter_map(|f| Some((f.time_s, f.pose.as_ref()?))).collect();
        if seen.len() < 2 {
            return None;
        }
        let all_s: Vec<f64> = recording.frames.iter().map(|f| f.time_s).collect();
        let Grid { rate_hz, count } = Grid::through(&all_s)?;
        let times: Vec<f64> = seen.iter().map(|(t, _)| *t).collect();
        let max_gap_s = max_gap_s(rate_hz);
        let grid = |value: &dyn Fn(usize) -> f64| {
            let values: Vec<f64> = (0..seen.len()).map(value).collect();
            signal::to_grid(&times, &values, count, rate_hz, max_gap_s)
        };
        let each = |value: &dyn Fn(usize, usize) -> f64| -> Vec<Vec<f64>> {
            (0..LANDMARKS).map(|p| grid(&|i| value(i, p)).values).collect()
        };
        let shoulder_above_ankle = |i: usize| {
            let m = &seen[i].1.metric_m;
            let y = |l: Landmark| (m[l.at(Side::Left)].y + m[l.at(Side::Right)].y) / 2.0;
            y(Landmark::Ankle) - y(Landmark::Shoulder)
        };
        Some(Self {
            rate_hz,
            count,
            size_px: (
                f64::from(recording.clip.width_px.unwrap_or(0)),
                f64::from(recording.clip.height_px.unwrap_or(0)),
            ),
            measured: grid(&|_| 0.0).measured,
            u_px: each(&|i, p| seen[i].1.image[p].place_px.x),
            v_px: each(&|i, p| seen[i].1.image[p].place_px.y),
            visibility: each(&|i, p| seen[i].1.image[p].visibility),
            sight: each(&|i, p| seen[i].1.image[p].sight()),
            network_forward_m: each(&|i, p| -seen[i].1.metric_m[p].z),
            network_height_m: grid(&shoulder_above_ankle).values,
        })
    }

    /// Column of a landmark, pixels from the left.
    pub fn u_px(&self, landmark: Landmark, side: Side) -> &[f64] {
        &self.u_px[landmark.at(side)]
    }

    /// Row of a landmark, pixels from the top.
    pub fn v_px(&self, landmark: Landmark, side: Side) -> &[f64] {
        &self.v_px[landmark.at(side)]
    }

    /// Nearness of a landmark to the camera against the hips, as the network
    /// guesses it, metres.
    pub fn network_forward_m(&self, landmark: Landmark, side: Side) -> &[f64] {
        &self.network_forward_m[landmark.at(side)]
    }

    /// Mean of the two sides' columns.
    pub fn mid_u_px(&self, landmark: Landmark) -> Vec<f64> {
        average(self.u_px(landmark, Side::Left), self.u_px(landmark, Side::Right))
    }

    /// Mean of the two sides' rows.
    pub fn mid_v_px(&self, landmark: Landmark) -> Vec<f64> {
        average(self.v_px(landmark, Side::Left), self.v_px(landmark, Side::Right))
    }

    /// Probability 0–1 that a landmark is not hidden.
    pub fn visibility(&self, landmark: Landmark, side: Side) -> &[f64] {
        &self.visibility[landmark.at(side)]
    }

    /// Whether a landmark is seen at a sample, not hidden.
    pub fn is_seen(&self, landmark: Landmark, side: Side, sample: usize) -> bool {
        self.sight[landmark.at(side)][sample] >= settings::MIN_HEAT
    }

    /// Where a landmark is hidden for longer than is bridged: furniture stays where it is, a
    /// point that is seen well before and after was not far away.
    fn hidden(&self, landmark: Landmark, side: Side) -> Vec<bool> {
        let seen: Vec<bool> = (0..self.count).map(|i| self.is_seen(landmark, side, i)).collect();
        // From the sample that is seen before it to the one after it.
        let long =
            |stretch: &[bool]| (stretch.len() + 1) as f64 > max_gap_s(self.rate_hz) * self.rate_hz;
        seen.chunk_by(|a, b| a == b)
            .flat_map(|stretch| vec![!stretch[0] && long(stretch); stretch.len()])
            .collect()
    }

    /// Zero-lag low-pass at the usual cut-off, [`settings::CUTOFF_HZ`].
    pub fn smooth(&self, series: &[f64]) -> Vec<f64> {
        signal::LowPass::zero_lag(series, settings::CUTOFF_HZ, self.rate_hz)
    }

    /// Samples in a span of seconds.
    pub fn samples(&self, seconds: f64) -> usize {
        (seconds * self.rate_hz).round().max(0.0) as usize
    }

    /// Index of the sample nearest to a time.
    pub fn index(&self, time_s: f64) -> usize {
        self.samples(time_s).min(self.count.saturating_sub(1))
    }

    /// Trust in the stance leg at each sample. Its foot is planted: where it
    /// seems to be further from `home_px` than `reach_px`, somebody else has been
    /// followed.
    pub fn quality(&self, stance: Side, home_px: (f64, f64), reach_px: f64) -> Vec<Quality> {
        let leg = [Landmark::Hip, Landmark::Knee, Landmark::Ankle, Landmark::FootIndex];
        let hidden = leg.map(|l| self.hidden(l, stance));
        (0..self.count)
            .map(|i| {
                let outside = |l: &Landmark| {
                    let (u, v) = (self.u_px(*l, stance)[i], self.v_px(*l, stance)[i]);
                    !(0.0..self.size_px.0).contains(&u) || !(0.0..self.size_px.1).contains(&v)
                };
                let (u, v) = (
                    self.u_px(Landmark::Ankle, stance)[i] - home_px.0,
                    self.v_px(Landmark::Ankle, stance)[i] - home_px.1,
                );
                if !self.measured[i] || u.hypot(v) > reach_px {
                    Quality::Lost
                } else if leg.iter().any(outside) {
                    Quality::OutOfFrame
                } else if hidden.iter().any(|hidden| hidden[i]) {
                    Quality::Occluded
                } else {
                    Quality::Good
                }
            })
            .collect()
    }
}

/// Longest gap that is bridged, seconds. At very low frame rates neighbouring frames are
/// themselves far apart: one and a half of their distance (design choice).
fn max_gap_s(rate_hz: f64) -> f64 {
    settings::MAX_GAP_S.max(1.5 / rate_hz)
}

fn average(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(x, y)| (x + y) / 2.0).collect()
}

#[cfg(test)]
mod tests {
    use super::super::made::still;
    use super::*;

    /// Ten seconds at 30/s of a right leg in the middle of the picture.
    fn leg_in_view() -> Tracks {
        let course = |value: f64| vec![vec![value; 300]; LANDMARKS];
        Tracks { visibility: course(0.0), sight: course(0.9), ..still(300, 30.0) }
    }

    #[test]
    fn a_leg_is_hidden_where_little_speaks_for_a_point_for_longer_than_is_bridged() {
        let mut tracks = leg_in_view();
        let knee = Landmark::Knee.at(Side::Right);
        // 0.23 s from seen to seen are bridged ([`settings::MAX_GAP_S`], 0.25 s), 0.27 s are not.
        tracks.sight[knee][50..56].fill(0.4);
        tracks.sight[knee][100..107].fill(0.4);
        tracks.sight[Landmark::Knee.at(Side::Left)].fill(0.1);
        let quality = tracks.quality(Side::Right, (500.0, 500.0), 100.0);
        let hidden: Vec<usize> = (0..300).filter(|i| quality[*i] == Quality::Occluded).collect();
        assert_eq!(hidden, (100..107).collect::<Vec<_>>());
        assert!((0..300).all(|i| hidden.contains(&i) || quality[i] == Quality::Good));
    }

    #[test]
    fn a_foot_out_of_its_place_is_somebody_elses_and_out_of_the_picture_is_out() {
        let mut tracks = leg_in_view();
        tracks.u_px[Landmark::Ankle.at(Side::Right)][10] = 700.0;
        tracks.v_px[Landmark::FootIndex.at(Side::Right)][20] = 1000.0;
        tracks.measured[30] = false;
        let quality = tracks.quality(Side::Right, (500.0, 500.0), 100.0);
        assert_eq!(
            [10, 20, 30, 40].map(|i| quality[i]),
            [Quality::Lost, Quality::OutOfFrame, Quality::Lost, Quality::Good]
        );
    }

    use super::super::made::{Body, RATE_HZ};
    use crate::record::landmarks::Pose;

    /// On the time grid: as it was in every picture, on a straight line over a short gap, not
    /// measured over one longer than 0.25 s.
    #[test]
    fn landmarks_on_the_time_grid() {
        let body = Body::USUAL;
        let mut recording = body.recording();
        recording.frames.iter_mut().for_each(|frame| {
            let pose: &mut Pose = frame.pose.as_mut().unwrap();
            pose.image[Landmark::Knee.at(Side::Left)].visibility = 0.3;
            pose.image[Landmark::Knee.at(Side::Left)].heat = Some(0.7);
        });
        // 0.24 and 0.26 s between pictures with somebody in them.
        recording.frames[20..31].iter_mut().for_each(|frame| frame.pose = None);
        recording.frames[50..62].iter_mut().for_each(|frame| frame.pose = None);
        let tracks = Tracks::measure(&recording).unwrap();
        assert!((tracks.rate_hz - RATE_HZ).abs() < 1e-9);
        assert_eq!((tracks.count, tracks.size_px), (Body::count(), (1080.0, 1920.0)));
        let lost: Vec<usize> = (0..tracks.count).filter(|i| !tracks.measured[*i]).collect();
        // The picture before the gap falls on its sample but for rounding.
        assert_eq!(lost.strip_prefix(&[49]).unwrap_or(&lost), (50..62).collect::<Vec<_>>());
        for i in [0, 25, 120, 370] {
            for side in [Side::Left, Side::Right] {
                let hip = body.picture_px(body.point_m(Landmark::Hip, side, i as f64 / RATE_HZ));
                assert!((tracks.u_px(Landmark::Hip, side)[i] - hip.x).abs() < 1e-6);
                assert!((tracks.v_px(Landmark::Hip, side)[i] - hip.y).abs() < 1e-6);
            }
            let [left, right] = [Side::Left, Side::Right].map(|s| tracks.u_px(Landmark::Hip, s)[i]);
            assert!((tracks.mid_u_px(Landmark::Hip)[i] - (left + right) / 2.0).abs() < 1e-9);
            let [left, right] =
                [Side::Left, Side::Right].map(|s| tracks.v_px(Landmark::Knee, s)[i]);
            assert!((tracks.mid_v_px(Landmark::Knee)[i] - (left + right) / 2.0).abs() < 1e-9);
            // Of the network's metres: how far in front of the hips, how far the shoulders are
            // above the middle of the ankles.
            let at = |l, side| body.point_m(l, side, i as f64 / RATE_HZ);
            let toes = at(Landmark::FootIndex, Side::Right).z - at(Landmark::Hip, Side::Right).z;
            let found = tracks.network_forward_m(Landmark::FootIndex, Side::Right)[i];
            assert!((found - toes).abs() < 1e-6);
            let middle = |l| (at(l, Side::Left).y + at(l, Side::Right).y) / 2.0;
            let tall = middle(Landmark::Shoulder) - middle(Landmark::Ankle);
            assert!((tracks.network_height_m[i] - tall).abs() < 1e-6);
        }
        assert_eq!(tracks.visibility(Landmark::Knee, Side::Left)[5], 0.3);
        assert!(tracks.is_seen(Landmark::Knee, Side::Left, 5));
        // Two pictures are the least.
        recording.frames[1..].iter_mut().for_each(|frame| frame.pose = None);
        assert!(Tracks::measure(&recording).is_none());
    }

    /// At 4 pictures a second neighbours are 0.25 s apart, at 3 a third: not a gap in itself.
    #[test]
    fn few_pictures_a_second_are_no_gap() {
        let mut recording = Body::USUAL.recording();
        recording.frames = recording.frames.into_iter().step_by(20).collect();
        let count = recording.frames.len();
        let tracks = Tracks::measure(&recording).unwrap();
        assert!((tracks.rate_hz - 2.5).abs() < 1e-9 && tracks.measured == vec![true; count]);
        recording.frames[4].pose = None;
        assert!(!Tracks::measure(&recording).unwrap().measured[4]);
    }

    /// 30 samples a second.
    #[test]
    fn seconds_and_samples() {
        let tracks = leg_in_view();
        assert_eq!([0.0, 0.5, 1.01, -1.0].map(|s| tracks.samples(s)), [0, 15, 30, 0]);
        assert_eq!([0.5, 9.96, 100.0].map(|s| tracks.index(s)), [15, 299, 299]);
    }

    /// From 0.5 of the heat on a point is seen.
    #[test]
    fn half_of_the_heat_is_seen() {
        let mut tracks = leg_in_view();
        let hip = Landmark::Hip.at(Side::Right);
        (tracks.sight[hip][0], tracks.sight[hip][1]) = (0.5, 0.49);
        assert!(tracks.is_seen(Landmark::Hip, Side::Right, 0));
        assert!(!tracks.is_seen(Landmark::Hip, Side::Right, 1));
    }

    /// In the picture from 0 to below its size; the ankle within reach of its place.
    #[test]
    fn both_sides_of_the_edges() {
        for (landmark, u, v, quality) in [
            (Landmark::Knee, 0.0, 0.0, Quality::Good),
            (Landmark::Knee, 999.9, 999.9, Quality::Good),
            (Landmark::Knee, -0.1, 500.0, Quality::OutOfFrame),
            (Landmark::Knee, 500.0, -0.1, Quality::OutOfFrame),
            (Landmark::Hip, 1000.0, 500.0, Quality::OutOfFrame),
            (Landmark::Elbow, 1000.0, 500.0, Quality::Good),
            (Landmark::Ankle, 560.0, 580.0, Quality::Good),
            (Landmark::Ankle, 440.0, 420.0, Quality::Good),
            (Landmark::Ankle, 561.0, 580.0, Quality::Lost),
            (Landmark::Ankle, 440.0, 419.0, Quality::Lost),
        ] {
            let mut tracks = leg_in_view();
            tracks.u_px[landmark.at(Side::Right)][9] = u;
            tracks.v_px[landmark.at(Side::Right)][9] = v;
            let found = tracks.quality(Side::Right, (500.0, 500.0), 100.0);
            assert_eq!((found[8], found[9]), (Quality::Good, quality), "{landmark:?} {u} {v}");
        }
    }
}
