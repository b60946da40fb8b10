//! Which leg does the work, and the postures everything is measured against.

use super::tracks::Tracks;
use crate::body::{Landmark, Side};
use crate::settings;
use crate::signal;

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
        self.samples(|share| share > 0.95)
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
    let top = signal::percentile(&known, 99.5).unwrap_or(0.0);
    let bottom = signal::percentile(&known, 2.0).unwrap_or(0.0);
    let part = |keep: &dyn Fn(f64) -> bool| -> Vec<f64> {
        known.iter().copied().filter(|b| keep(*b)).collect()
    };
    let upper = part(&|b| b > bottom + 0.85 * (top - bottom));
    let lower = part(&|b| b < bottom + 0.35 * (top - bottom));
    (signal::median(&lower).unwrap_or(0.0), signal::median(&upper).unwrap_or(0.0))
}

/// How little a foot looks like the standing one, pixels: how much it moves
/// while the body is up, plus how far it is from under the hips while standing.
fn restlessness(tracks: &Tracks, side: Side, share: &[f64], hips_u: &[f64]) -> f64 {
    let foot = [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex];
    let loaded: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > 0.25).collect();
    let standing: Vec<usize> = (0..tracks.count).filter(|i| share[*i] > 0.85).collect();
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
