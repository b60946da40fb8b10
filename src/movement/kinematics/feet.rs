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
    pub fn new(tracks: &Tracks, stance: &Stance, scale: &Scale) -> Self {
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
