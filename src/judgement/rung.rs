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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::judgement::verdict::tests::good;
    use crate::movement::kinematics::made::{near, scale, stance, still};

    // 2 mm a pixel. `good` rises from 1 to 3 s and goes down from 4 to 6 s.
    const RATE_HZ: f64 = 50.0;

    /// What the left foot does that sways by so many pixels in the rise and in the descent,
    /// standing on the floor so many below the right one.
    fn feet(rise_px: f64, descent_px: f64, below_px: f64) -> FootWork {
        let mut tracks = still(400, RATE_HZ);
        let sway = |i: usize| {
            let size_px = match i as f64 / RATE_HZ {
                t if (1.0..3.0).contains(&t) => rise_px,
                t if (4.0..6.0).contains(&t) => descent_px,
                _ => 0.0,
            };
            size_px * ((i % 2) as f64 - 0.5)
        };
        let u_px: Vec<f64> = (0..400).map(|i| 500.0 + 0.6 * sway(i)).collect();
        let v_px: Vec<f64> = (0..400).map(|i| 500.0 + below_px + 0.8 * sway(i)).collect();
        for landmark in [Landmark::Ankle, Landmark::Heel, Landmark::FootIndex] {
            tracks.set_columns(landmark, Side::Left, &u_px);
            tracks.set_rows(landmark, Side::Left, &v_px);
        }
        let scale = scale(0.002);
        let stance = stance(vec![600.0; 400], 400.0, 600.0);
        foot_work(&tracks, &stance, &scale, &[good().events; 3])
    }

    /// 3, 4 and 5 of a right-angled triangle, and the rungs by what the exercise is (common
    /// practice, no source): a foot that stays on the floor, going up, going down or both.
    #[test]
    fn the_rung_goes_by_what_the_other_foot_does() {
        let work = feet(40.0, 10.0, 20.0);
        near(work.rise_m, 0.08, 1e-9);
        near(work.descent_m, 0.02, 1e-9);
        near(work.stagger_m, 0.04, 1e-9);
        // On the floor within 20 px, staggered beyond 30.
        for (rise_px, descent_px, below_px, rung) in [
            (19.0, 19.0, 29.0, Rung::TwoLeg),
            (19.0, 19.0, 31.0, Rung::SplitStance),
            (19.0, 19.0, -31.0, Rung::SplitStance),
            (19.0, 21.0, 0.0, Rung::Lowering),
            (19.0, 21.0, 31.0, Rung::Lowering),
            (21.0, 19.0, 0.0, Rung::SingleLeg),
            (21.0, 21.0, 31.0, Rung::SingleLeg),
        ] {
            let found = feet(rise_px, descent_px, below_px).rung();
            assert_eq!(found, rung, "{rise_px} {descent_px} {below_px}");
        }
    }
}
