//! Whose head was where: sightings of heads strung together, so that faces can be
//! hidden between two looks as well.

use super::detection::Detection;
use crate::record::landmarks::Head;

/// A head that is seen again later than this may be anybody's, seconds (design choice).
const MAX_ABSENCE_S: f64 = 2.0;
/// Between two looks a head moves less than this many of its radii: a walker at 2 m/s
/// moves 0.4 m in 0.2 s, three radii (derived); after a look that failed, six.
const MAX_STEP_RADII: f64 = 6.0;

/// Heads of everybody, gathered look by look.
#[derive(Debug, Default)]
pub(super) struct Heads(Vec<Head>);

impl Heads {
    /// Adds the head of somebody seen; sightings come in order of time.
    pub fn add(&mut self, time_s: f64, seen: &Detection, clip_px_per_px: f64) {
        let (centre_px, radius_px) = seen.head_px();
        let (centre_px, radius_px) = (centre_px * clip_px_per_px, radius_px * clip_px_per_px);
        let people = self.0.iter().map(|h| h.person + 1).max().unwrap_or(0);
        let last = |person: usize| self.0.iter().rev().find(|h| h.person == person);
        let person = (0..people)
            .filter_map(|person| {
                let last = last(person)?;
                let step = (last.centre_px - centre_px).norm() / radius_px.max(last.radius_px);
                let near =
                    step < MAX_STEP_RADII && (0.0..MAX_ABSENCE_S).contains(&(time_s - last.time_s));
                (near && last.time_s < time_s).then_some((person, step))
            })
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map_or(people, |(person, _)| person);
        self.0.push(Head { person, time_s, centre_px, radius_px });
    }

    /// All of them, person by person in order of time.
    pub fn all(mut self) -> Vec<Head> {
        self.0.sort_by(|a, b| a.person.cmp(&b.person).then(a.time_s.total_cmp(&b.time_s)));
        self.0
    }
}
