//! What the feet do: the free foot in the air or on the floor, the stance foot
//! in its place.

use super::scale::Scale;
use super::stance::Stance;
use super::tracks::Tracks;
use crate::body::{Landmark, Side};
use crate::settings;
use crate::signal;

/// A touch of the floor by the free foot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Touch {
    /// When, seconds.
    pub time_s: f64,
    /// How sharply the floor stopped it: change of vertical speed, m/s.
    pub stop_m_s: f64,
}

/// The courses of both feet.
#[derive(Debug, Clone)]
pub struct Feet {
    rate_hz: f64,
    /// The free foot (mean of ankle, heel and toe, which jitter less together than
    /// the lowest of them) above the stance foot, metres in the picture (a foot held
    /// forward looks lower than it is), unfiltered.
    pub free_height_m: Vec<f64>,
    /// Distance of the stance foot's toes from their usual place, metres.
    pub stance_shift_m: Vec<f64>,
}

impl Feet {
    /// Measures both.
    pub fn measure(tracks: &Tracks, stance: &Stance, scale: &Scale) -> Self {
        let row = |side: Side| -> Vec<f64> {
            let parts = [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex]
                .map(|l| tracks.v_px(l, side));
            (0..tracks.count).map(|i| parts.iter().map(|p| p[i]).sum::<f64>() / 3.0).collect()
        };
        let floor = signal::median(&row(stance.side)).unwrap_or(0.0);
        let free_height_m =
            row(stance.side.opposite()).into_iter().map(|v| (floor - v) * scale.m_per_px).collect();
        let toe_u = tracks.smooth(tracks.u_px(Landmark::FootIndex, stance.side));
        let toe_v = tracks.smooth(tracks.v_px(Landmark::FootIndex, stance.side));
        let home = (signal::median(&toe_u).unwrap_or(0.0), signal::median(&toe_v).unwrap_or(0.0));
        let stance_shift_m = toe_u
            .iter()
            .zip(&toe_v)
            .map(|(u, v)| (u - home.0).hypot(v - home.1) * scale.m_per_px)
            .collect();
        Self { rate_hz: tracks.rate_hz, free_height_m, stance_shift_m }
    }

    /// Touches within a span of samples. The floor stops a foot at once, a
    /// muscle does not: a touch is a kink in the foot's height, upward, while
    /// the foot is below its neighbourhood in time. A slow placing of the foot
    /// is missed.
    pub fn touches(&self, span: std::ops::Range<usize>) -> Vec<Touch> {
        let h = &self.free_height_m;
        let reach = (settings::TOUCH_SLOPE_S * self.rate_hz).round().max(2.0) as usize;
        let around = (settings::TOUCH_AROUND_S * self.rate_hz).round().max(2.0) as usize;
        let mut touches: Vec<Touch> = Vec::new();
        for i in span {
            if i < around || i + around >= h.len() {
                continue;
            }
            let slope =
                |from: usize, to: usize| (h[to] - h[from]) / ((to - from) as f64) * self.rate_hz;
            let stop_m_s = slope(i, i + reach) - slope(i - reach, i);
            // It came down from somewhere and goes up again.
            let highest = |span: &[f64]| span.iter().fold(f64::NEG_INFINITY, |m, v| m.max(*v));
            let after = (i + 2 * around).min(h.len());
            let dip_m = highest(&h[i - around..i]).min(highest(&h[i..after])) - h[i];
            if stop_m_s > settings::TOUCH_STOP_M_S && dip_m > settings::TOUCH_DIP_M {
                let touch = Touch { time_s: i as f64 / self.rate_hz, stop_m_s };
                match touches.last_mut() {
                    Some(last) if touch.time_s - last.time_s < settings::TOUCH_AROUND_S => {
                        if stop_m_s > last.stop_m_s {
                            *last = touch;
                        }
                    }
                    _ => touches.push(touch),
                }
            }
        }
        touches
    }
}

#[cfg(test)]
mod tests {
    use super::super::made::{Body, near, scale, stance, still};
    use super::*;

    const RATE_HZ: f64 = 100.0;

    /// A free foot at these heights, sample by sample.
    fn feet(free_height_m: Vec<f64>) -> Feet {
        Feet { rate_hz: RATE_HZ, stance_shift_m: vec![0.0; free_height_m.len()], free_height_m }
    }

    /// Comes down from 0.2 m, bounces at 0.1 m at each of these moments with this speed before
    /// and after, for as long as it takes to rise by `dip_m`; between them it is at that height.
    fn bounces(at_s: &[f64], speed_m_s: f64, dip_m: f64) -> Vec<f64> {
        (0..600)
            .map(|i| {
                let away_s = |t: &f64| (i as f64 / RATE_HZ - t).abs();
                let nearest_s = at_s.iter().map(away_s).fold(f64::INFINITY, f64::min);
                0.1 + (speed_m_s * nearest_s).min(dip_m)
            })
            .collect()
    }

    /// The floor turns −v to v: it stops 2v.
    #[test]
    fn a_kink_at_the_bottom_is_a_touch() {
        let found = feet(bounces(&[3.0], 0.5, 0.2)).touches(0..600);
        let [touch] = &found[..] else { panic!("{found:?}") };
        near(touch.time_s, 3.0, 0.5 / RATE_HZ);
        near(touch.stop_m_s, 1.0, 1e-9);
        // The kink on the way down, at the top, bends the other way.
        assert!(feet(bounces(&[3.0], 0.5, 0.2)).touches(0..285).is_empty());
    }

    #[test]
    fn a_slow_or_a_shallow_dip_is_none() {
        let touches = |speed_m_s, dip_m| feet(bounces(&[3.0], speed_m_s, dip_m)).touches(0..600);
        let limit_m_s = settings::TOUCH_STOP_M_S / 2.0;
        assert_eq!(touches(limit_m_s + 0.01, 0.2).len(), 1);
        assert_eq!(touches(limit_m_s - 0.01, 0.2).len(), 0);
        assert_eq!(touches(0.5, settings::TOUCH_DIP_M + 0.001).len(), 1);
        assert_eq!(touches(0.5, settings::TOUCH_DIP_M - 0.001).len(), 0);
        // From further up than it goes up again: the lesser way counts.
        for away in [1.0, -1.0] {
            let mut heights = bounces(&[3.0], 0.5, 0.04);
            let side = |i: &usize| away * (*i as f64 - 300.0) > 4.0;
            (0..600).filter(side).for_each(|i| heights[i] += 0.1);
            assert!(feet(heights).touches(296..305).is_empty(), "{away}");
        }
    }

    /// Two touches within [`settings::TOUCH_AROUND_S`] are one, the harder of them, in either
    /// order; further apart they are two.
    #[test]
    fn touches_close_to_one_another_are_one() {
        let both = |first: f64, second: f64, apart_s: f64| {
            let heights = bounces(&[3.0], first, 0.2);
            let other = bounces(&[3.0 + apart_s], second, 0.2);
            let lower = heights.iter().zip(&other).map(|(a, b)| a.min(*b)).collect();
            feet(lower).touches(0..600)
        };
        for (first, second, at_s) in [(1.0, 0.9, 3.0), (0.9, 1.0, 3.28)] {
            let found = both(first, second, 0.28);
            let [touch] = &found[..] else { panic!("{found:?}") };
            near(touch.time_s, at_s, 0.5 / RATE_HZ);
            near(touch.stop_m_s, 2.0, 1e-9);
        }
        let found = both(1.0, 1.0, 0.6);
        let [first, second] = &found[..] else { panic!("{found:?}") };
        near(first.time_s, 3.0, 1e-9);
        near(second.time_s, 3.6, 1e-9);
    }

    /// Near the ends there is not enough to see that it came down and goes up again.
    #[test]
    fn the_ends_of_a_recording_tell_no_touch() {
        let reach_s = settings::TOUCH_AROUND_S;
        for (at_s, count) in
            [(reach_s, 1), (reach_s - 0.02, 0), (5.99 - reach_s, 1), (5.99 - reach_s + 0.02, 0)]
        {
            // Two samples beside the kink, with slopes over 0.13 s, 0.4·(1 − 2/13) m/s is left
            // of a stop of 0.4 m/s: too little.
            assert_eq!(feet(bounces(&[at_s], 0.2, 0.2)).touches(0..600).len(), count, "{at_s}");
        }
        assert!(feet(vec![0.1; 10]).touches(0..10).is_empty());
    }

    /// In the plane of the ankle a pixel is as many metres as the scale says.
    #[test]
    fn heights_and_shifts_in_metres() {
        let (free, planted) = (Side::Left, Side::Right);
        let mut tracks = still(300, 50.0);
        let rows =
            [(Landmark::Ankle, 700.0), (Landmark::Heel, 760.0), (Landmark::FootIndex, 790.0)];
        for (landmark, row) in rows {
            tracks.v_px[landmark.at(planted)].fill(row);
            tracks.v_px[landmark.at(free)].fill(row - 60.0);
        }
        // Of three landmarks one comes down by 30: their mean by 10.
        tracks.v_px[Landmark::Heel.at(free)][100] += 30.0;
        // For two of six seconds the toes are 3 right and 4 down of where they are usually.
        for i in 100..200 {
            tracks.u_px[Landmark::FootIndex.at(planted)][i] += 3.0;
            tracks.v_px[Landmark::FootIndex.at(planted)][i] += 4.0;
        }
        let stance = Stance {
            side: planted,
            ankle_px: (500.0, 700.0),
            ..stance(vec![600.0; 300], 400.0, 600.0)
        };
        let scale = scale(0.002);
        let feet = Feet::measure(&tracks, &stance, &scale);
        near(feet.free_height_m[20], 0.12, 1e-9);
        near(feet.free_height_m[100], 0.10, 1e-9);
        near(feet.stance_shift_m[20], 0.0, 1e-6);
        near(feet.stance_shift_m[150], 0.01, 1e-6);
    }

    /// As a film sees it, for either leg.
    #[test]
    fn the_free_foot_of_a_body() {
        for side in [Side::Left, Side::Right] {
            let body = Body { side, distance_m: 60.0, ..Body::USUAL };
            let seen = body.seen();
            let feet = Feet::measure(&seen.tracks, &seen.stance, &seen.scale);
            let height_m = |side: Side, time_s: f64| {
                [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex]
                    .map(|l| body.point_m(l, side, time_s).y / 3.0)
                    .iter()
                    .sum::<f64>()
            };
            for i in [20, 120, 200] {
                let time_s = i as f64 / 50.0;
                let above_m = height_m(side.opposite(), time_s) - height_m(side, time_s);
                near(feet.free_height_m[i], above_m, 0.005);
                near(feet.stance_shift_m[i], 0.0, 1e-6);
            }
        }
    }

    /// Down to 0.1 m at 3 s, a little up at once, and up for good within 0.8 s or later.
    #[test]
    fn a_foot_that_stays_down_for_a_while() {
        for (up_s, touches) in [(3.3, 1), (3.7, 1), (3.79, 1), (3.81, 0)] {
            let heights = (0..600).map(|i| match f64::from(i) / RATE_HZ - 3.0 {
                t if t < 0.0 => 0.1 + (-0.5 * t).min(0.2),
                t if t < up_s - 3.0 - 1e-9 => 0.1 + (0.5 * t).min(0.04),
                _ => 0.2,
            });
            // The step up is a kink too, but not one from above.
            let found = feet(heights.collect()).touches(299..302);
            assert_eq!(found.len(), touches, "{up_s}");
        }
    }
}
