//! Hands that help.

use super::scale::Scale;
use super::tracks::Tracks;
use crate::body::{Landmark, Side};
use crate::settings;

/// A hand that is supported stays in its place while the shoulders rise: on
/// the seat or an arm-rest it stays where it is in the picture, on a thigh it
/// stays with the knee. `None` where a wrist is hidden and nothing else tells.
pub fn supported_hand(
    tracks: &Tracks,
    scale: &Scale,
    rise: std::ops::Range<usize>,
) -> Option<bool> {
    let (first, last) = (rise.start, rise.end.checked_sub(1)?);
    if last <= first {
        return None;
    }
    let mut hidden = false;
    for side in [Side::Left, Side::Right] {
        let visible = rise.clone().all(|i| {
            i < tracks.count
                && tracks.visibility(Landmark::Wrist, side)[i] > settings::MIN_WRIST_VISIBILITY
        });
        if !visible {
            hidden = true;
            continue;
        }
        let at = |l: Landmark, i: usize| (tracks.u_px(l, side)[i], tracks.v_px(l, side)[i]);
        let metres = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0).hypot(a.1 - b.1) * scale.m_per_px;
        let minus = |a: (f64, f64), b: (f64, f64)| (a.0 - b.0, a.1 - b.1);
        let wrist = |i| at(Landmark::Wrist, i);
        let knee = |i| at(Landmark::Knee, i);
        let risen_m =
            (at(Landmark::Shoulder, first).1 - at(Landmark::Shoulder, last).1) * scale.m_per_px;
        if risen_m < settings::HAND_MIN_RISE_M {
            continue;
        }
        let stays = |moved_m: f64| moved_m < settings::HAND_STAYS * risen_m;
        let on_thigh = metres(wrist(first), knee(first)) < settings::HAND_NEAR_M
            && metres(wrist(last), knee(last)) < settings::HAND_NEAR_M
            && stays(metres(minus(wrist(first), knee(first)), minus(wrist(last), knee(last))));
        let hip = at(Landmark::Hip, first);
        let beside_m = (wrist(first).0 - hip.0).abs() * scale.m_per_px;
        let level_m = (wrist(first).1 - hip.1).abs() * scale.m_per_px;
        // A hand on the seat's edge is lower or higher than the hip by up to a hand more than on
        // the thigh (design choice).
        let on_chair = beside_m > settings::HAND_BESIDE_M
            && level_m < 2.0 * settings::HAND_NEAR_M
            && stays(metres(wrist(first), wrist(last)));
        if on_thigh || on_chair {
            return Some(true);
        }
    }
    (!hidden).then_some(false)
}

#[cfg(test)]
mod tests {
    use super::super::made::{scale, still};
    use super::*;

    /// Two samples: shoulders, hip, knees and wrists of both sides, metres right and up, a
    /// millimetre a pixel.
    #[derive(Clone, Copy)]
    struct Hands {
        risen_m: f64,
        hip: (f64, f64),
        knee: [(f64, f64); 2],
        wrist: [(f64, f64); 2],
    }

    /// A rise by 0.3 m; the hands hang free and rise with the body, far from hip and knee.
    const FREE: Hands = Hands {
        risen_m: 0.3,
        hip: (0.0, 0.5),
        knee: [(0.0, 0.45); 2],
        wrist: [(0.5, 0.9), (0.5, 1.2)],
    };

    fn tracks(hands: &[(Side, Hands)]) -> Tracks {
        let mut tracks = still(2, 50.0);
        for (side, of) in hands {
            let places = [
                (Landmark::Shoulder, [(0.0, 1.0), (0.0, 1.0 + of.risen_m)]),
                (Landmark::Hip, [of.hip, (of.hip.0, of.hip.1 + of.risen_m)]),
                (Landmark::Knee, of.knee),
                (Landmark::Wrist, of.wrist),
            ];
            for (landmark, at) in places {
                tracks.u_px[landmark.at(*side)] = at.map(|p| 1000.0 * p.0).to_vec();
                tracks.v_px[landmark.at(*side)] = at.map(|p| -1000.0 * p.1).to_vec();
            }
        }
        tracks
    }

    /// One hand like this, the other free.
    fn supported(hands: Hands) -> Option<bool> {
        let of = |side: Side| {
            supported_hand(&tracks(&[(side, hands), (side.opposite(), FREE)]), &scale(0.001), 0..2)
        };
        assert_eq!(of(Side::Left), of(Side::Right));
        of(Side::Left)
    }

    #[test]
    fn free_hands_support_nothing() {
        assert_eq!(supported(FREE), Some(false));
    }

    /// 0.15 m from the knee and moving with it by less than 0.3 of the rise, 0.09 m.
    #[test]
    fn a_hand_on_the_thigh() {
        let on = |first: (f64, f64), last: (f64, f64)| {
            let knee = [(0.1, 0.45), (0.15, 0.40)];
            let wrist = [(0.1 + first.0, 0.45 + first.1), (0.15 + last.0, 0.40 + last.1)];
            supported(Hands { hip: (0.0, 2.0), knee, wrist, ..FREE })
        };
        assert_eq!(on((0.0, 0.1), (0.0, 0.1)), Some(true));
        assert_eq!(on((0.084, 0.112), (0.084, 0.112)), Some(true), "0.14 m away");
        assert_eq!(on((0.096, 0.128), (0.096, 0.128)), Some(false), "0.16 m away");
        // Far from the knee at one end only.
        assert_eq!(on((0.0, 0.12), (0.0, 0.16)), Some(false));
        assert_eq!(on((0.0, 0.16), (0.0, 0.12)), Some(false));
        // 0.088 and 0.092 m along the thigh.
        assert_eq!(on((0.0, 0.044), (0.0, -0.044)), Some(true));
        assert_eq!(on((0.0, 0.046), (0.0, -0.046)), Some(false));
        assert_eq!(on((0.044, 0.0), (-0.044, 0.0)), Some(true));
        assert_eq!(on((0.046, 0.0), (-0.046, 0.0)), Some(false));
    }

    /// Beside the hip by more than 0.15 m, level with it within 0.30 m, and in its place.
    #[test]
    fn a_hand_on_the_chair() {
        let on = |beside_m: f64, above_m: f64, moved_m: f64| {
            let hip = (0.2, 0.5);
            let first = (hip.0 + beside_m, hip.1 + above_m);
            let wrist = [first, (first.0 + 0.6 * moved_m, first.1 + 0.8 * moved_m)];
            supported(Hands { hip, knee: [(-1.0, 0.0); 2], wrist, ..FREE })
        };
        for toward in [1.0, -1.0] {
            assert_eq!(on(0.16 * toward, 0.0, 0.0), Some(true));
            assert_eq!(on(0.14 * toward, 0.0, 0.0), Some(false));
            assert_eq!(on(0.2, 0.29 * toward, 0.0), Some(true));
            assert_eq!(on(0.2, 0.31 * toward, 0.0), Some(false));
            assert_eq!(on(0.2, 0.0, 0.088 * toward), Some(true));
            assert_eq!(on(0.2, 0.0, 0.092 * toward), Some(false));
        }
    }

    /// While the shoulders rise by less than 0.10 m a still hand means nothing.
    #[test]
    fn hardly_a_rise_tells_nothing() {
        let on_chair = |risen_m: f64| {
            supported(Hands { risen_m, wrist: [(0.3, 0.5); 2], knee: [(-1.0, 0.0); 2], ..FREE })
        };
        assert_eq!(on_chair(0.101), Some(true));
        assert_eq!(on_chair(0.099), Some(false));
    }

    /// What is hidden may support, unless the other hand is seen to.
    #[test]
    fn a_hidden_wrist_leaves_it_open() {
        let on_chair = Hands { wrist: [(0.3, 0.5); 2], knee: [(-1.0, 0.0); 2], ..FREE };
        for (other, told) in [(FREE, None), (on_chair, Some(true))] {
            let mut tracks = tracks(&[(Side::Left, on_chair), (Side::Right, other)]);
            tracks.visibility[Landmark::Wrist.at(Side::Left)][1] = 0.5;
            assert_eq!(supported_hand(&tracks, &scale(0.001), 0..2), told);
            tracks.visibility[Landmark::Wrist.at(Side::Left)][1] = 0.51;
            assert_eq!(supported_hand(&tracks, &scale(0.001), 0..2), Some(true));
        }
    }

    #[test]
    fn a_span_of_less_than_two_samples_or_beyond_the_end_tells_nothing() {
        let tracks = tracks(&[(Side::Left, FREE), (Side::Right, FREE)]);
        for span in [0..0, 1..2, 0..9, 1..9] {
            assert_eq!(supported_hand(&tracks, &scale(0.001), span.clone()), None, "{span:?}");
        }
    }
}
