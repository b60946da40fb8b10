//! Which rung of the ladder is this, from what the feet do.

use crate::body::{Landmark, Side};
use crate::judgement::document::Rung;
use crate::movement::kinematics::{Scale, Stance, Tracks};
use crate::movement::repetition::Events;
use crate::signal;

/// A foot that stays within this spread is on the floor, metres (design
/// choice: above the landmark noise of planted feet; a free foot held forward
/// moves by 5 cm and more while the pelvis rises).
const PLANTED_M: f64 = 0.04;
/// Feet further apart than this, fore and aft, are a split stance, metres of
/// floor seen from 3 m at knee height (design choice).
const STAGGERED_M: f64 = 0.06;

/// What the other foot does.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FootWork {
    /// Typical motion of the other foot in the rises, metres.
    pub rise_m: f64,
    /// And in the descents.
    pub descent_m: f64,
    /// Difference of the two feet's rows, metres.
    pub stagger_m: f64,
}

/// Measures the other foot over all reps.
pub fn foot_work(tracks: &Tracks, stance: &Stance, scale: &Scale, reps: &[Events]) -> FootWork {
    let other = stance.side.opposite();
    let sample = |s: f64| tracks.index(s);
    let motion = |spans: &dyn Fn(&Events) -> (f64, f64)| {
        let each: Vec<f64> = reps
            .iter()
            .map(|rep| {
                let (from, to) = spans(rep);
                let range = sample(from)..sample(to).max(sample(from) + 1);
                [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex]
                    .iter()
                    .map(|l| {
                        let spread = |s: &[f64]| {
                            let part = &s[range.clone()];
                            signal::percentile(part, 90.0).unwrap_or(0.0)
                                - signal::percentile(part, 10.0).unwrap_or(0.0)
                        };
                        spread(tracks.u_px(*l, other)).hypot(spread(tracks.v_px(*l, other)))
                    })
                    .fold(0.0, f64::max)
                    * scale.m_per_px
            })
            .collect();
        signal::median(&each).unwrap_or(0.0)
    };
    let row = |side: Side| signal::median(tracks.v_px(Landmark::FootIndex, side)).unwrap_or(0.0);
    FootWork {
        rise_m: motion(&|r| (r.seat_off_s, r.stand_s)),
        descent_m: motion(&|r| (r.descent_start_s, r.seat_contact_s)),
        stagger_m: (row(Side::Left) - row(Side::Right)).abs() * scale.m_per_px,
    }
}

impl FootWork {
    /// The rung it looks like.
    pub fn rung(&self) -> Rung {
        let planted = |m: f64| m < PLANTED_M;
        match (planted(self.rise_m), planted(self.descent_m)) {
            (true, false) => Rung::Lowering,
            (false, _) => Rung::SingleLeg,
            (true, true) if self.stagger_m > STAGGERED_M => Rung::SplitStance,
            (true, true) => Rung::TwoLeg,
        }
    }
}
