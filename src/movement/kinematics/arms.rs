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
    let (first, last) = (rise.start, rise.end.checked_sub(1)?.min(tracks.count - 1));
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
        let on_chair = beside_m > settings::HAND_BESIDE_M
            && level_m < 2.0 * settings::HAND_NEAR_M
            && stays(metres(wrist(first), wrist(last)));
        if on_thigh || on_chair {
            return Some(true);
        }
    }
    (!hidden).then_some(false)
}
