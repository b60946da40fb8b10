//! What the courses are taken from: a film, or points in three dimensions. Both lead to
//! the same courses; only here do they part.

use std::ops::Range;

use super::alignment::Alignment;
use super::believed::believed_points;
use super::courses::Courses;
use super::pelvis::Pelvis;
use super::scale::Scale;
use super::stance::Stance;
use super::tracks::Tracks;
use crate::body::Side;
use crate::record::Recording;
use crate::record::markers::Motion;
use crate::settings;

/// A recording, by what it holds.
#[derive(Debug, Clone, Copy)]
pub enum Observation<'a> {
    /// Landmarks in the pictures of one camera.
    Film(&'a Recording),
    /// Points in three dimensions.
    Points(&'a Motion),
}

impl<'a> Observation<'a> {
    /// That of a recording.
    pub fn of(recording: &'a Recording) -> Self {
        match &recording.motion {
            Some(motion) => Self::Points(motion),
            None => Self::Film(recording),
        }
    }

    /// Landmarks on a time grid; `None` if too few were followed.
    pub fn tracks(self) -> Option<Tracks> {
        match self {
            Self::Film(recording) => Tracks::measure(recording),
            Self::Points(motion) => Some(Tracks::from_motion(motion)),
        }
    }

    /// Postures and working leg; `leg` overrides what is seen; `None` if the body never
    /// clearly rises.
    pub fn stance(self, tracks: &Tracks, leg: Option<Side>) -> Option<Stance> {
        match self {
            Self::Film(_) => Stance::find(tracks, leg),
            Self::Points(motion) => Stance::from_motion(tracks, motion, leg),
        }
    }

    /// Metres per pixel, from what is known of the body or the seat.
    pub fn scale(
        self,
        tracks: &Tracks,
        stance: &Stance,
        stature_m: Option<f64>,
        seat_height_m: Option<f64>,
    ) -> Scale {
        match self {
            Self::Film(_) => Scale::find(tracks, stance, stature_m, seat_height_m),
            Self::Points(motion) => Scale::from_motion(tracks, stance, motion, stature_m),
        }
    }

    /// Pelvis height.
    pub fn pelvis(self, tracks: &Tracks, stance: &Stance, scale: &Scale) -> Pelvis {
        match self {
            Self::Film(_) => Pelvis::measure(tracks, stance, scale),
            Self::Points(motion) => Pelvis::from_motion(tracks, stance, motion),
        }
    }

    /// Knee over foot; `None` where a point of the leg is missing.
    pub fn alignment(
        self,
        tracks: &Tracks,
        stance: &Stance,
        scale: &Scale,
        pelvis: &Pelvis,
        loaded: &[Range<usize>],
    ) -> Option<Alignment> {
        match self {
            Self::Film(_) => Some(Alignment::measure(tracks, stance, scale, pelvis, loaded)),
            Self::Points(motion) => Alignment::from_motion(tracks, stance, motion),
        }
    }

    /// How far from its place a planted foot can be and still be this person's, pixels:
    /// a film may follow somebody else, points are one person's.
    pub fn foot_reach_px(self, scale: &Scale) -> f64 {
        match self {
            Self::Film(_) => settings::FOOT_REACH_OF_STATURE * scale.stature_m / scale.m_per_px,
            Self::Points(_) => f64::INFINITY,
        }
    }

    /// How far one foot seems ahead of the other, where points tell it: as a film would
    /// show it, metres in the picture.
    pub fn stagger_m(self) -> Option<f64> {
        match self {
            Self::Film(_) => None,
            Self::Points(motion) => Some(motion.stagger_m()? * settings::STAGGER_IN_PICTURE),
        }
    }

    /// The points the measures rest on. `alignment` is that of the working leg.
    pub fn points(self, courses: &Courses, alignment: &Alignment) -> Motion {
        match self {
            Self::Film(_) => believed_points(courses, alignment),
            Self::Points(motion) => motion.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::Point3;

    use super::super::made::{Body, near};
    use super::*;
    use crate::body::Landmark;
    use crate::record::markers::PointCourse;

    /// The toes of the left foot 0.3 m ahead.
    fn motion() -> Motion {
        let mut motion = Motion::new(100.0, 3);
        for (side, z) in [(Side::Left, 0.5), (Side::Right, 0.2)] {
            let place_m = vec![Point3::new(0.0, 0.0, z); 3];
            let course = PointCourse { place_m, seen: vec![true; 3] };
            motion.set(Landmark::FootIndex, side, course);
        }
        motion
    }

    #[test]
    fn a_recording_is_a_film_or_points() {
        let mut recording = Body::USUAL.recording();
        assert!(matches!(Observation::of(&recording), Observation::Film(_)));
        recording.motion = Some(motion());
        assert!(matches!(Observation::of(&recording), Observation::Points(_)));
    }

    /// A planted foot within a tenth of the stature is this person's in a film.
    #[test]
    fn how_far_a_foot_can_be_from_its_place() {
        let recording = Body::USUAL.recording();
        let scale = Body::USUAL.seen().scale;
        let film = Observation::Film(&recording);
        near(film.foot_reach_px(&scale) * scale.m_per_px, 0.175, 1e-9);
        assert_eq!(Observation::Points(&motion()).foot_reach_px(&scale), f64::INFINITY);
    }

    /// 0.3 m ahead looks 0.3·0.45/3 m lower from knee height, 3 m away.
    #[test]
    fn how_far_one_foot_is_ahead() {
        let recording = Body::USUAL.recording();
        assert_eq!(Observation::Film(&recording).stagger_m(), None);
        near(Observation::Points(&motion()).stagger_m().unwrap(), 0.045, 1e-9);
        assert_eq!(Observation::Points(&Motion::new(100.0, 3)).stagger_m(), None);
    }
}
