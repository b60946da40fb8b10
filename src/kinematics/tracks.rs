//! Landmarks on a uniform time grid.

use crate::record::Recording;
use crate::settings;
use crate::signal::{self, Grid};
use crate::skeleton::{LANDMARKS, Landmark, Side};

/// How far a sample can be trusted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Quality {
    /// Seen, or bridged over a short gap.
    Good,
    /// A landmark of the stance leg is hidden.
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
    pub fn new(recording: &Recording) -> Option<Self> {
        let seen: Vec<_> =
            recording.frames.iter().filter_map(|f| Some((f.time_s, f.pose.as_ref()?))).collect();
        if seen.len() < 2 {
            return None;
        }
        let all_s: Vec<f64> = recording.frames.iter().map(|f| f.time_s).collect();
        let Grid { rate_hz, count } = Grid::through(&all_s)?;
        let times: Vec<f64> = seen.iter().map(|(t, _)| *t).collect();
        // At very low frame rates neighbouring frames are themselves far apart.
        let max_gap_s = settings::MAX_GAP_S.max(1.5 / rate_hz);
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
                } else if leg.iter().any(|l| !self.is_seen(*l, stance, i)) {
                    Quality::Occluded
                } else {
                    Quality::Good
                }
            })
            .collect()
    }
}

fn average(a: &[f64], b: &[f64]) -> Vec<f64> {
    a.iter().zip(b).map(|(x, y)| (x + y) / 2.0).collect()
}
