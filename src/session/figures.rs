//! Drawings and pictures of a session, kept so that its reports can be made again without
//! the clip.

use serde::{Deserialize, Serialize};

/// A moment of a rep that is shown as a picture.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Moment {
    /// The pelvis leaves the seat.
    SeatOff,
    /// The knee is furthest inward.
    KneeInmost,
    /// The pelvis reaches the seat.
    SeatContact,
}

/// A picture of the annotated film, cut to the person.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct KeyPicture {
    /// Number of the rep.
    pub rep: usize,
    /// What it shows.
    pub moment: Moment,
    /// When, seconds from the clip's first frame.
    pub time_s: f64,
    /// Width, pixels.
    pub width_px: u32,
    /// Height, pixels.
    pub height_px: u32,
    /// The picture as a JPEG file.
    #[serde(with = "base64_text")]
    pub jpeg: Vec<u8>,
}

/// A drawing of a course over time, as an SVG file with text alternative.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Plot {
    /// What it shows, in a few words.
    pub title: String,
    /// The same in full, for those who cannot see it.
    pub alternative: String,
    /// The drawing.
    pub svg: String,
}

/// Drawings and pictures of a session, kept so that its reports can be made again without
/// the clip.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Figures {
    /// How faces are in film and pictures; null where there are neither.
    pub faces: Option<Faces>,
    /// Times of the annotated film; null where none was written.
    pub film: Option<FilmClock>,
    /// Plots of each rep, in the order of the reps; empty where there are none.
    pub rep_plots: Vec<Vec<Plot>>,
    /// Pictures of the film.
    pub pictures: Vec<KeyPicture>,
}

impl Figures {
    /// Without film and pictures where faces are shown in them, or may be: silence is not
    /// enough, only a session that says so has its faces hidden.
    pub fn without_faces(self) -> Self {
        match self.faces {
            Some(Faces::Hidden) => self,
            _ => Self { rep_plots: self.rep_plots, ..Self::default() },
        }
    }
}

/// How faces are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Faces {
    /// Blurred, with everything around.
    Hidden,
    /// As they are.
    Shown,
}

/// Bytes as text in JSON.
mod base64_text {
    use base64::Engine;
    use base64::prelude::BASE64_STANDARD;
    use serde::{Deserialize, Deserializer, Serializer, de};

    pub fn serialize<S: Serializer>(bytes: &[u8], to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&BASE64_STANDARD.encode(bytes))
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<u8>, D::Error> {
        let text = String::deserialize(from)?;
        BASE64_STANDARD.decode(text).map_err(de::Error::custom)
    }
}

/// How the annotated film's time goes with the time of the movement: slow motion marked
/// 30/s plays as slowly as the clip, and faulted seconds can be slowed down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FilmClock {
    /// Seconds of movement per second of the clip's own clock.
    pub time_factor: f64,
    /// Spans of movement shown [`SLOWER`] times slower, seconds, in order, apart.
    pub slow_s: Vec<(f64, f64)>,
}

/// How much slower faulted seconds are shown (design choice).
pub const SLOWER: f64 = 4.0;

impl FilmClock {
    /// Second of the film at which a second of the movement is shown.
    pub fn at_s(&self, movement_s: f64) -> f64 {
        let slowed = |(from, to): &(f64, f64)| (movement_s.min(*to) - from).max(0.0);
        let added: f64 = self.slow_s.iter().map(slowed).sum();
        (movement_s + (SLOWER - 1.0) * added) / self.time_factor
    }

    /// The movement is slowed down at that second of it.
    pub fn is_slow(&self, movement_s: f64) -> bool {
        self.slow_s.iter().any(|(from, to)| (*from..*to).contains(&movement_s))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: two seconds, the second of them four times slower, in a clip
    /// recorded at 240/s and marked 30/s.
    #[test]
    fn slow_seconds_and_slow_motion_add_up() {
        let clock = FilmClock { time_factor: 30.0 / 240.0, slow_s: vec![(1.0, 2.0)] };
        for (movement_s, film_s) in [(0.0, 0.0), (1.0, 8.0), (1.5, 24.0), (2.0, 40.0), (3.0, 48.0)]
        {
            assert!((clock.at_s(movement_s) - film_s).abs() < 1e-9, "{movement_s}");
        }
        assert!(clock.is_slow(1.5) && !clock.is_slow(2.5));
    }
}
