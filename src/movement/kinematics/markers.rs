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

#[cfg(test)]
mod tests {
    use super::super::made::near;
    use super::*;

    const RATE_HZ: f64 = 100.0;
    const COUNT: usize = 400;

    /// A body in space: seated for two seconds, standing for two, at once. Ankle of the working
    /// leg at (0.2, 0.1, 0.3), its toes 0.2 m ahead and turned out, the free foot up.
    struct Points {
        side: Side,
        toe_out_deg: f64,
        knee_in_m: f64,
        lean_deg: f64,
    }

    const USUAL: Points =
        Points { side: Side::Right, toe_out_deg: 0.0, knee_in_m: 0.0, lean_deg: 0.0 };

    impl Points {
        /// Height of the hips above the ankle.
        fn hips_m(i: usize) -> f64 {
            if i < COUNT / 2 { 0.45 } else { 0.80 }
        }

        fn motion(&self) -> Motion {
            let medial = self.side.medial();
            let ankle = Point3::new(0.2, 0.1, 0.3);
            let out_rad = -medial * self.toe_out_deg.to_radians();
            let lean_rad = self.lean_deg.to_radians();
            let mut motion = Motion::new(RATE_HZ, COUNT);
            for (landmark, working) in Landmark::ALL.iter().flat_map(|l| [(*l, true), (*l, false)])
            {
                let place = |i: usize| {
                    let up_m = Self::hips_m(i);
                    let aside = medial * if working { 0.0 } else { 0.2 };
                    let trunk = 0.5 * Vector3::new(0.0, lean_rad.cos(), lean_rad.sin());
                    let hip = Vector3::new(aside, up_m, -0.1);
                    let toe = 0.2 * Vector3::new(out_rad.sin(), 0.0, out_rad.cos());
                    // It is never at rest.
                    let restless_m = if i.is_multiple_of(2) { 0.02 } else { -0.02 };
                    let lifted_m = 0.2 + 0.3 * (up_m - 0.45) + restless_m;
                    let lifted = Vector3::new(aside, lifted_m, 0.0);
                    ankle
                        + match (landmark, working) {
                            (Landmark::Hip, _) => hip,
                            (Landmark::Knee, true) => {
                                Vector3::new(medial * self.knee_in_m, 0.4, 0.15)
                            }
                            (Landmark::Ankle, true) => Vector3::zeros(),
                            (Landmark::Heel, true) => -0.3 * toe,
                            (Landmark::FootIndex, true) => toe,
                            (Landmark::Shoulder, _) => hip + trunk,
                            (Landmark::Elbow | Landmark::Wrist | Landmark::Index, _) => hip,
                            (_, false) => lifted,
                        }
                };
                let course = PointCourse {
                    place_m: (0..COUNT).map(place).collect(),
                    seen: vec![true; COUNT],
                };
                let side = if working { self.side } else { self.side.opposite() };
                motion.set(landmark, side, course);
            }
            motion
        }
    }

    /// From the front, a millimetre a pixel, right and down.
    #[test]
    fn the_view_from_the_front() {
        let mut motion = USUAL.motion();
        let hide = |motion: &mut Motion, landmark, side, sample: usize| {
            let mut course = motion.get(landmark, side).unwrap().clone();
            course.seen[sample] = false;
            motion.set(landmark, side, course);
        };
        hide(&mut motion, Landmark::Hip, Side::Left, 7);
        hide(&mut motion, Landmark::Shoulder, Side::Right, 8);
        hide(&mut motion, Landmark::Knee, Side::Right, 9);
        let tracks = Tracks::from_motion(&motion);
        assert_eq!((tracks.rate_hz, tracks.count), (RATE_HZ, COUNT));
        // From the working leg's points at 0.2 m to the free one's at 0.4, from the heel or
        // toes at 0.1 to the shoulders at 1.4 m.
        near(tracks.size_px.0, 201.0, 1e-6);
        near(tracks.size_px.1, 1301.0, 1e-6);
        near(tracks.u_px(Landmark::Hip, Side::Right)[0], 0.0, 1e-6);
        near(tracks.u_px(Landmark::Hip, Side::Left)[0], 200.0, 1e-6);
        near(tracks.v_px(Landmark::Shoulder, Side::Left)[COUNT - 1], 0.0, 1e-6);
        near(tracks.v_px(Landmark::Hip, Side::Left)[0], 850.0, 1e-6);
        for sample in 6..11 {
            assert_eq!(tracks.measured[sample], sample != 7 && sample != 8, "{sample}");
            assert_eq!(tracks.is_seen(Landmark::Knee, Side::Right, sample), sample != 9);
            let seen = if sample == 9 { 0.0 } else { 1.0 };
            assert_eq!(tracks.visibility(Landmark::Knee, Side::Right)[sample], seen);
        }
    }

    fn stance(motion: &Motion) -> (Tracks, Stance) {
        let tracks = Tracks::from_motion(motion);
        let stance = Stance::from_motion(&tracks, motion, None).unwrap();
        (tracks, stance)
    }

    /// By the hips' height over the middle of both ankles, then over the working one; by the
    /// pelvis' or the camera's own course where there is one.
    #[test]
    fn postures_by_what_tells_them_best() {
        let mut motion = USUAL.motion();
        let (tracks, by_hips) = stance(&motion);
        assert_eq!(by_hips.side, Side::Right);
        near(by_hips.standing_px - by_hips.seated_px, 350.0, 1.0);
        near(by_hips.ankle_px.1, 1300.0, 1e-6);
        let course = |seated_m: f64, standing_m: f64| {
            let y = |i| if i < COUNT / 2 { seated_m } else { standing_m };
            let place_m = (0..COUNT).map(|i| Point3::new(0.0, y(i), 0.0)).collect();
            Some(PointCourse { place_m, seen: vec![true; COUNT] })
        };
        motion.pelvis = course(0.6, 1.0);
        let by_pelvis = Stance::from_motion(&tracks, &motion, None).unwrap();
        near(by_pelvis.standing_px - by_pelvis.seated_px, 400.0, 1.0);
        motion.trunk_by_camera = course(0.8, 1.3);
        let by_camera = Stance::from_motion(&tracks, &motion, None).unwrap();
        near(by_camera.standing_px - by_camera.seated_px, 500.0, 1.0);
        // Above the working ankle at 0.1 m.
        near(by_camera.standing_px, 1200.0, 1.0);
        assert_eq!(
            Stance::from_motion(&tracks, &motion, Some(Side::Left)).unwrap().side,
            Side::Left
        );
    }

    /// Shoulders 1.3 m above the ankle are 0.759 of the stature [Winter2009].
    #[test]
    fn metres_are_metres() {
        let mut motion = USUAL.motion();
        let (tracks, stance) = stance(&motion);
        let scale = Scale::from_motion(&tracks, &stance, &motion, None);
        assert_eq!(scale.source, ScaleSource::LaboratoryMarkers);
        assert_eq!((scale.m_per_px, scale.relative_uncertainty), (0.001, 0.0));
        assert_eq!(scale.distance_m, f64::INFINITY);
        near(scale.stature_m, 1.3 / 0.759, 0.002);
        assert_eq!(Scale::from_motion(&tracks, &stance, &motion, Some(1.8)).stature_m, 1.8);
        motion.trunk_by_camera = motion.get(Landmark::Hip, Side::Left).cloned();
        let film = Scale::from_motion(&tracks, &stance, &motion, None);
        assert_eq!(film.source, ScaleSource::PointsOfAFilm);
        assert_eq!(film.relative_uncertainty, settings::SCALE_SE_NETWORK);
    }

    #[test]
    fn the_pelvis_above_the_ankle_and_the_lean() {
        let mut motion = Points { lean_deg: 20.0, ..USUAL }.motion();
        let (tracks, stance) = stance(&motion);
        let pelvis = Pelvis::from_motion(&tracks, &stance, &motion);
        for i in [50, 350] {
            near(pelvis.raw_height_m[i], Points::hips_m(i), 1e-9);
            near(pelvis.height_m[i], Points::hips_m(i), 1e-6);
            near(pelvis.hip_height_m[i], Points::hips_m(i), 1e-6);
            near(pelvis.velocity_m_s[i], 0.0, 1e-4);
            near(pelvis.forward_lean_deg[i], 20.0, 1e-6);
        }
        // The whole way up within a sample, smoothed: as much as is gone per second in all.
        near(pelvis.velocity_m_s.iter().sum::<f64>() / RATE_HZ, 0.35, 1e-6);
        motion.pelvis = Some(PointCourse {
            place_m: vec![Point3::new(0.0, 1.0, 0.0); COUNT],
            seen: vec![true; COUNT],
        });
        let pelvis = Pelvis::from_motion(&tracks, &stance, &motion);
        near(pelvis.raw_height_m[50], 0.9, 1e-9);
    }

    /// A knee 0.15 m ahead of the ankle and so far inward, a foot turned out by so much: from
    /// the foot's vertical plane it is in·cos + 0.15·sin.
    #[test]
    fn the_knee_from_the_plane_of_the_foot() {
        for side in [Side::Left, Side::Right] {
            for (toe_out_deg, knee_in_m) in [(0.0, 0.03), (12.0, 0.0), (12.0, 0.03), (-8.0, -0.02)]
            {
                let motion = Points { side, toe_out_deg, knee_in_m, lean_deg: 0.0 }.motion();
                let (tracks, stance) = stance(&motion);
                let a = Alignment::from_motion(&tracks, &stance, &motion).unwrap();
                assert_eq!((a.side, a.facing, a.yaw_deg), (side, true, 0.0));
                near(a.toe_out_deg, toe_out_deg, 1e-6);
                let (sin, cos) = toe_out_deg.to_radians().sin_cos();
                near(a.knee_offset_m[50], knee_in_m * cos + 0.15 * sin, 1e-6);
                // Seen from the front: the knee 0.4 m up, the hip 0.45 m.
                let thigh_deg = (knee_in_m / 0.05).atan().to_degrees();
                let shank_deg = (knee_in_m / 0.40).atan().to_degrees();
                near(a.fppa_deg[50], thigh_deg + shank_deg, 1e-3);
                assert!(a.fppa_picture_deg[50].is_nan());
                // In space, by the law of cosines.
                let (hip, knee, ankle) = (
                    Vector3::new(0.0, 0.45, -0.1),
                    Vector3::new(knee_in_m, 0.4, 0.15),
                    Vector3::<f64>::zeros(),
                );
                let (a2, b2, c2) = (
                    (hip - knee).norm_squared(),
                    (knee - ankle).norm_squared(),
                    (hip - ankle).norm_squared(),
                );
                let inner_deg = ((a2 + b2 - c2) / (2.0 * (a2 * b2).sqrt())).acos().to_degrees();
                near(a.knee_flexion_deg[50], 180.0 - inner_deg, 1e-3);
            }
        }
    }

    #[test]
    fn a_leg_without_a_marker_has_no_alignment() {
        let (tracks, stance) = stance(&USUAL.motion());
        let bare = Motion::new(RATE_HZ, COUNT);
        assert!(Alignment::from_motion(&tracks, &stance, &bare).is_none());
    }
}
