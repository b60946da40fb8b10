//! Does the person come down on the same place each time?

use crate::body::Landmark;
use crate::movement::kinematics::{Scale, Stance, Tracks};
use crate::settings;
use crate::signal;

/// Largest distance between the places where the hips rest, sideways, metres; `None` with
/// fewer than two rests. A chair that slides back is hardly seen from the front; one that
/// slides sideways shows, and so does a person who sits down elsewhere on it.
pub fn shift_m(tracks: &Tracks, stance: &Stance, scale: &Scale) -> Option<f64> {
    let share = stance.share();
    let hips = tracks.mid_u_px(Landmark::Hip);
    let least = tracks.samples(settings::FILM_REST_S).max(2);
    let places: Vec<f64> = signal::runs(&share, |s| *s < settings::SEATED_SHARE)
        .into_iter()
        .filter(|rest| rest.len() >= least)
        .filter_map(|rest| {
            let seen: Vec<f64> =
                rest.filter(|i| tracks.measured[*i]).filter_map(|i| hips.get(i).copied()).collect();
            signal::median(&seen)
        })
        .collect();
    if places.len() < 2 {
        return None;
    }
    let (low, high) = places
        .iter()
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), p| (low.min(*p), high.max(*p)));
    Some((high - low) * scale.m_per_px)
}
