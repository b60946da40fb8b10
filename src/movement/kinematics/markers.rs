//! The same courses from points in three dimensions: an orthographic view of
//! the body from its own front, 1 mm a pixel, for all that a picture shows;
//! depth straight from the points.

use nalgebra::{Point3, Vector3};

use super::alignment::{Alignment, frontal_plane_projection_angle_deg};
use super::pelvis::Pelvis;
use super::scale::{Scale, ScaleSource};
use super::stance::{Stance, pick};
use super::tracks::Tracks;
use crate::body::anthropometry as body;
use crate::body::{LANDMARKS, Landmark, Side};
use crate::record::markers::{Motion, PointCourse};
use crate::settings;
use crate::signal;

/// Side of a «pixel» of the view.
const M_PER_PX: f64 = 0.001;

impl Tracks {
    /// The view from the front. Points without a marker are hidden; samples
    /// without hips or shoulders are not measured.
    pub fn from_motion(motion: &Motion) -> Self {
        let nowhere = vec![0.0; motion.count];
        let (mut u_px, mut v_px, mut sight) = (
            vec![nowhere.clone(); LANDMARKS],
            vec![nowhere.clone(); LANDMARKS],
            vec![nowhere; LANDMARKS],
        );
        let mut measured = vec![true; motion.count];
        let (mut low, mut high) = (Point3::from([f64::MAX; 3]), Point3::from([f64::MIN; 3]));
        for course in courses(motion) {
            for p in &course.place_m {
                (low, high) = (low.inf(p), high.sup(p));
            }
        }
        for landmark in Landmark::ALL {
            for side in [Side::Left, Side::Right] {
                let Some(course) = motion.get(landmark, side) else { continue };
                let at = landmark.at(side);
                u_px[at] = course.place_m.iter().map(|p| (p.x - low.x) / M_PER_PX).collect();
                v_px[at] = course.place_m.iter().map(|p| (high.y - p.y) / M_PER_PX).collect();
                sight[at] = course.seen.iter().map(|s| f64::from(u8::from(*s))).collect();
                if matches!(landmark, Landmark::Hip | Landmark::Shoulder) {
                    measured.iter_mut().zip(&course.seen).for_each(|(m, seen)| *m &= seen);
                }
            }
        }
        let size = (high - low) / M_PER_PX;
        Self {
            rate_hz: motion.rate_hz,
            count: motion.count,
            size_px: (size.x + 1.0, size.y + 1.0),
            measured,
            u_px,
            v_px,
            visibility: sight.clone(),
            sight,
            network_forward_m: vec![vec![0.0; motion.count]; LANDMARKS],
            network_height_m: vec![0.0; motion.count],
        }
    }
}

impl Stance {
    /// Postures and working leg by the height of the pelvis; the export of a film
    /// by that of the trunk, as the film was.
    /// `None` as [`Stance::find`].
    pub fn from_motion(tracks: &Tracks, motion: &Motion, leg: Option<Side>) -> Option<Self> {
        let ankle_rows = signal::median(&tracks.mid_v_px(Landmark::Ankle)).unwrap_or(0.0);
        let heights = |places: &[Point3<f64>]| places.iter().map(|p| p.y).collect::<Vec<_>>();
        let ankle_m = middle(motion, Landmark::Ankle).and_then(|a| signal::median(&heights(&a)));
        let clock = motion.trunk_by_camera.as_ref().or(motion.pelvis.as_ref());
        let clock_m = match clock {
            Some(course) => heights(&course.place_m),
            None => heights(&middle(motion, Landmark::Hip).unwrap_or_default()),
        };
        let above: Vec<f64> =
            clock_m.iter().map(|h| (h - ankle_m.unwrap_or(0.0)) / M_PER_PX).collect();
        Self::by_height(tracks, &above, ankle_rows, leg)
    }
}

impl Scale {
    /// Of the view from the front. A stature that nobody gave is told by the
    /// shoulders' height while standing.
    pub fn from_motion(
        tracks: &Tracks,
        stance: &Stance,
        motion: &Motion,
        stature_m: Option<f64>,
    ) -> Self {
        let (shoulders_px, _) = stance.levels(&tracks.mid_v_px(Landmark::Shoulder));
        let above_m = (stance.ankle_px.1 - shoulders_px) * M_PER_PX;
        let (source, relative_uncertainty) = match motion.trunk_by_camera {
            // How the film's scale was found is not in its points: the worse case.
            Some(_) => (ScaleSource::PointsOfAFilm, settings::SCALE_SE_NETWORK),
            None => (ScaleSource::LaboratoryMarkers, 0.0),
        };
        Self {
            source,
            m_per_px: M_PER_PX,
            relative_uncertainty,
            stature_m: stature_m.unwrap_or(above_m / body::ANKLE_TO_SHOULDER),
            distance_m: f64::INFINITY,
        }
    }
}

impl Pelvis {
    /// True height of the pelvis' middle above the stance ankle, and the
    /// trunk's lean forward.
    pub fn from_motion(tracks: &Tracks, stance: &Stance, motion: &Motion) -> Self {
        let nowhere = || vec![Point3::origin(); motion.count];
        let hips = middle(motion, Landmark::Hip).unwrap_or_else(nowhere);
        let shoulders = middle(motion, Landmark::Shoulder).unwrap_or_else(nowhere);
        let centre = motion.pelvis.as_ref().map_or(&hips, |course| &course.place_m);
        let ankle: Vec<f64> = motion
            .get(Landmark::Ankle, stance.side)
            .map_or(Vec::new(), |course| course.place_m.iter().map(|p| p.y).collect());
        let ankle_m = signal::median(&pick(&ankle, &stance.planted())).unwrap_or(0.0);
        let raw_height_m: Vec<f64> = centre.iter().map(|p| p.y - ankle_m).collect();
        let lean: Vec<f64> = hips
            .iter()
            .zip(&shoulders)
            .map(|(hip, top)| (top.z - hip.z).atan2(top.y - hip.y).to_degrees())
            .collect();
        let height_m = tracks.smooth(&raw_height_m);
        let velocity_m_s = signal::derivative(&height_m, tracks.rate_hz);
        Self {
            hip_height_m: height_m.clone(),
            height_m,
            raw_height_m,
            velocity_m_s,
            forward_lean_deg: tracks.smooth(&lean),
        }
    }
}

impl Alignment {
    /// From the leg's own points: the knee from the vertical plane through
    /// ankle and second toe, the angle in the body's own frontal plane, the
    /// knee's true flexion. No picture, hence no angle in one (not a number).
    /// `None` where the leg lacks a marker.
    pub fn from_motion(tracks: &Tracks, stance: &Stance, motion: &Motion) -> Option<Self> {
        let smooth = |landmark| Some(smoothed(tracks, motion.get(landmark, stance.side)?));
        let (hip, knee) = (smooth(Landmark::Hip)?, smooth(Landmark::Knee)?);
        let (ankle, toe) = (smooth(Landmark::Ankle)?, smooth(Landmark::FootIndex)?);
        let medial = stance.medial();
        let heading: Vec<f64> =
            ankle.iter().zip(&toe).map(|(a, t)| (t.x - a.x).atan2(t.z - a.z)).collect();
        let each = |value: &dyn Fn(usize) -> f64| (0..tracks.count).map(value).collect();
        let flat = |p: &Point3<f64>| (medial * p.x, p.y);
        Some(Self {
            side: stance.side,
            // The view is from the body's own front.
            yaw_deg: 0.0,
            yaw_se_deg: 0.0,
            toe_out_deg: -medial * signal::median(&heading)?.to_degrees(),
            shoulder_to_trunk: f64::INFINITY,
            facing: true,
            // The points themselves are there: no model is needed.
            leg: Vec::new(),
            foot_axis_m: 0.0,
            foot_heading_rad: 0.0,
            knee_offset_m: each(&|i| {
                let (sin, cos) = heading[i].sin_cos();
                let from_ankle = knee[i] - ankle[i];
                medial * (from_ankle.x * cos - from_ankle.z * sin)
            }),
            fppa_picture_deg: vec![f64::NAN; tracks.count],
            fppa_deg: each(&|i| {
                frontal_plane_projection_angle_deg(flat(&hip[i]), flat(&knee[i]), flat(&ankle[i]))
            }),
            knee_flexion_deg: each(&|i| {
                let (thigh, shank): (Vector3<f64>, _) = (knee[i] - hip[i], ankle[i] - knee[i]);
                thigh.angle(&shank).to_degrees()
            }),
        })
    }
}

fn courses(motion: &Motion) -> impl Iterator<Item = &PointCourse> {
    Landmark::ALL.into_iter().flat_map(move |landmark| {
        [Side::Left, Side::Right].into_iter().filter_map(move |side| motion.get(landmark, side))
    })
}

fn middle(motion: &Motion, landmark: Landmark) -> Option<Vec<Point3<f64>>> {
    let [left, right] = [Side::Left, Side::Right].map(|side| motion.get(landmark, side));
    let pairs = left?.place_m.iter().zip(&right?.place_m);
    Some(pairs.map(|(l, r)| nalgebra::center(l, r)).collect())
}

fn smoothed(tracks: &Tracks, course: &PointCourse) -> Vec<Point3<f64>> {
    let [x, y, z] =
        [0, 1, 2].map(|k| tracks.smooth(&course.place_m.iter().map(|p| p[k]).collect::<Vec<_>>()));
    (0..tracks.count).map(|i| Point3::new(x[i], y[i], z[i])).collect()
}
