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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Side;
    use crate::movement::kinematics::made::{scale, stance, still};

    const SCALE: Scale = scale(0.002);

    /// Rests of so many samples at 10 a second with the hips at these columns, a stand of ten
    /// between them; what is hidden of each.
    fn shift(rests: &[(usize, f64)], hidden: usize) -> Option<f64> {
        let (mut body_px, mut hips_px, mut measured) = (Vec::new(), Vec::new(), Vec::new());
        for (count, column) in rests {
            // Up: the hips are elsewhere.
            body_px.extend(vec![600.0; 10]);
            hips_px.extend(vec![0.0; 10]);
            measured.extend(vec![true; 10]);
            // On the seat up to a tenth of the way.
            body_px.extend((0..*count).map(|i| if i % 2 == 0 { 400.0 } else { 418.0 }));
            hips_px.extend((0..*count).map(|i| if i < hidden { 0.0 } else { *column }));
            measured.extend((0..*count).map(|i| i >= hidden));
        }
        let mut tracks = still(body_px.len(), 10.0);
        for side in [Side::Left, Side::Right] {
            let aside = if side == Side::Left { 50.0 } else { -50.0 };
            let hip: Vec<f64> = hips_px.iter().map(|u| u + aside).collect();
            tracks.set_columns(Landmark::Hip, side, &hip);
        }
        tracks.measured = measured;
        let stance = stance(body_px, 400.0, 600.0);
        shift_m(&tracks, &stance, &SCALE)
    }

    /// 40 pixels of 2 mm between the outermost places.
    #[test]
    fn between_the_outermost_places_of_rest() {
        let is = |found: Option<f64>, expected: f64| {
            assert!((found.unwrap() - expected).abs() < 1e-9, "{found:?}");
        };
        is(shift(&[(10, 510.0), (10, 500.0), (10, 540.0), (10, 520.0)], 0), 0.08);
        is(shift(&[(10, 500.0), (10, 500.0)], 0), 0.0);
        // What is not measured has no say, though it be the most of it.
        is(shift(&[(10, 510.0), (10, 500.0)], 7), 0.02);
        // A rest lasts 0.6 s.
        is(shift(&[(6, 510.0), (6, 500.0)], 0), 0.02);
        assert_eq!(shift(&[(6, 510.0), (5, 500.0)], 0), None);
        assert_eq!(shift(&[(10, 510.0)], 0), None);
        // Just a tenth of the way up is off the seat.
        let mut body_px = vec![400.0; 10];
        body_px[5] = 420.0;
        let stance = stance([&body_px[..], &[600.0; 5], &body_px].concat(), 400.0, 600.0);
        assert_eq!(shift_m(&still(25, 10.0), &stance, &SCALE), None);
        assert_eq!(shift(&[(10, 510.0), (10, 500.0)], 10), None);
    }
}
