//! A body in closed form, filmed by a camera without distortion, for tests. Measured from the
//! ankle of the working leg: x to the picture's right, y up, z toward the camera, metres.

use nalgebra::{Point2, Point3, Vector3};

use super::{Alignment, Courses, Feet, Pelvis, Scale, ScaleSource, Stance, Tracks, Trunk};
use crate::body::anthropometry as body;
use crate::body::{LANDMARKS, Landmark, Side};
use crate::record::landmarks::{ImageLandmark, Pose, PoseFrame};
use crate::record::{ClipFacts, Filming, Recording};
use crate::signal::MinimumJerk;

/// Pictures per second.
pub const RATE_HZ: f64 = 50.0;
/// Size of the picture, pixels.
pub const SIZE_PX: (f64, f64) = (1080.0, 1920.0);
/// Focal length: 0.9 of the longer side, which is what the program takes it for.
pub const FOCAL_PX: f64 = 0.9 * 1920.0;
/// Breadth between the hips and between the shoulders, metres.
pub const HIPS_M: f64 = 0.20;
pub const SHOULDERS_M: f64 = 0.36;

/// Seated, rise, stand, descent and seated again, seconds.
const PARTS_S: [f64; 5] = [1.5, 1.6, 1.0, 2.0, 1.5];
/// The trunk leans forward, or rights itself, within this time on the seat, seconds.
const LEAN_S: f64 = 0.8;
/// Both tilts while standing: knees bent by 5 degrees.
const STANDING_DEG: f64 = 2.5;

/// Somebody who rises from a seat on one leg once and sits down again, facing the camera.
#[derive(Debug, Clone, Copy)]
pub struct Body {
    /// The working leg.
    pub side: Side,
    pub stature_m: f64,
    /// Of the working ankle from the lens along the optical axis.
    pub distance_m: f64,
    /// Of the working ankle from the optical axis: right, and below it.
    pub right_m: f64,
    pub below_m: f64,
    /// Heading of the body, to the picture's right positive.
    pub yaw_deg: f64,
    /// Turn-out of the working foot.
    pub toe_out_deg: f64,
    /// Knee inward of the leg's plane half-way up.
    pub knee_in_m: f64,
    /// Trunk forward at seat-off and contact, and toward the working leg throughout.
    pub lean_deg: f64,
    pub aside_deg: f64,
    /// Hip of the free leg below the other.
    pub drop_m: f64,
    /// The leg's law: thigh over shank off the seat, both tilts when seated.
    pub tilt_ratio: f64,
    pub seated_shank_deg: f64,
    pub seated_thigh_deg: f64,
    /// Hip points above the joints when seated, as networks put them.
    pub fold_m: f64,
}

impl Body {
    /// Straight ahead, in the middle, the leg as is expected before looking.
    pub const USUAL: Self = Self {
        side: Side::Right,
        stature_m: 1.75,
        distance_m: 3.0,
        right_m: 0.0,
        below_m: 0.7,
        yaw_deg: 0.0,
        toe_out_deg: 0.0,
        knee_in_m: 0.0,
        lean_deg: 0.0,
        aside_deg: 0.0,
        drop_m: 0.0,
        tilt_ratio: 1.6,
        seated_shank_deg: 14.0,
        seated_thigh_deg: 80.0,
        fold_m: 0.0,
    };

    pub fn shank_m(&self) -> f64 {
        body::SHANK * self.stature_m
    }

    pub fn thigh_m(&self) -> f64 {
        body::THIGH * self.stature_m
    }

    /// From the middle of the hips to that of the shoulders.
    pub fn trunk_m(&self) -> f64 {
        let hips_m = (self.shank_m() + self.thigh_m()) * STANDING_DEG.to_radians().cos();
        body::ANKLE_TO_SHOULDER * self.stature_m - hips_m
    }

    /// How long it lasts, seconds.
    pub fn lasts_s() -> f64 {
        PARTS_S.iter().sum()
    }

    pub fn count() -> usize {
        (Self::lasts_s() * RATE_HZ).round() as usize + 1
    }

    /// How far up: 0 seated, 1 standing.
    pub fn up(time_s: f64) -> f64 {
        let gone = |from_s: f64, lasts_s: f64| {
            MinimumJerk { distance_m: 1.0, duration_s: lasts_s }.position_m(time_s - from_s)
        };
        let down_s = PARTS_S[0] + PARTS_S[1] + PARTS_S[2];
        gone(PARTS_S[0], PARTS_S[1]) - gone(down_s, PARTS_S[3])
    }

    /// Forward lean of the trunk, radians: all at seat-off and contact.
    pub fn lean_rad(&self, time_s: f64) -> f64 {
        let gone = |from_s: f64| {
            MinimumJerk { distance_m: 1.0, duration_s: LEAN_S }.position_m(time_s - from_s)
        };
        let contact_s: f64 = PARTS_S[..4].iter().sum();
        let share = gone(PARTS_S[0] - LEAN_S) - gone(contact_s) - Self::up(time_s);
        self.lean_deg.to_radians() * share
    }

    /// Forward tilt of the shank and backward tilt of the thigh, radians.
    pub fn tilts_rad(&self, time_s: f64) -> (f64, f64) {
        let bent = 1.0 - Self::up(time_s);
        let straight = 2.0 * STANDING_DEG / (1.0 + 1.0 / self.tilt_ratio);
        let thigh_deg = straight + (self.seated_thigh_deg - straight) * bent;
        // [`super::TwoLinkLeg`]: a constant ratio while the thigh is free of the seat, from
        // 40 degrees on smoothly to the tilt that the seat gives.
        let x = ((thigh_deg - 40.0) / (self.seated_thigh_deg - 40.0)).clamp(0.0, 1.0);
        let free_deg = thigh_deg / self.tilt_ratio;
        let seat = x * x * (3.0 - 2.0 * x);
        let shank_deg = free_deg * (1.0 - seat) + self.seated_shank_deg * seat;
        (shank_deg.to_radians(), thigh_deg.to_radians())
    }

    /// Where a point of the body truly is; the hips where a network sees them.
    pub fn point_m(&self, landmark: Landmark, side: Side, time_s: f64) -> Point3<f64> {
        let (sin, cos) = self.yaw_deg.to_radians().sin_cos();
        let (ahead, up) = (Vector3::new(sin, 0.0, cos), Vector3::y());
        let inward = self.side.medial() * Vector3::new(cos, 0.0, -sin);
        let (shank_rad, thigh_rad) = self.tilts_rad(time_s);
        let share = Self::up(time_s);
        let working = side == self.side;

        let straight_knee = self.shank_m() * (shank_rad.sin() * ahead + shank_rad.cos() * up);
        let hip = straight_knee + self.thigh_m() * (thigh_rad.cos() * up - thigh_rad.sin() * ahead);
        let fold = self.fold_m * (1.0 - share) * up;
        let hips = hip + fold + HIPS_M / 2.0 * inward;
        let half_hips = HIPS_M / 2.0 * inward - self.drop_m / 2.0 * up;
        let (lean_rad, aside_rad) = (self.lean_rad(time_s), self.aside_deg.to_radians());
        let trunk = lean_rad.sin() * ahead
            + lean_rad.cos() * (aside_rad.cos() * up - aside_rad.sin() * inward);
        let shoulders = hips - fold + self.trunk_m() * trunk;
        let foot_rad = (self.yaw_deg - self.side.medial() * self.toe_out_deg).to_radians();
        let foot_ahead = Vector3::new(foot_rad.sin(), 0.0, foot_rad.cos());
        let foot_inward = self.side.medial() * Vector3::new(foot_rad.cos(), 0.0, -foot_rad.sin());
        let floor = -body::ANKLE_HEIGHT * self.stature_m * up;
        // The free foot hangs beside and a little ahead of its hip.
        let free = hips + half_hips + 0.05 * (ahead + inward) - 0.35 * self.stature_m * up;
        let of = |working_side: f64, of: Vector3<f64>, half: Vector3<f64>| of + working_side * half;
        let beside = if working { -1.0 } else { 1.0 };
        let big_toe = body::BIG_TOE_TO_SECOND * self.stature_m;
        Point3::from(match (landmark, working) {
            (Landmark::Shoulder, _) => of(beside, shoulders, SHOULDERS_M / 2.0 * inward),
            (Landmark::Elbow, _) => of(beside, shoulders, 0.25 * inward) - 0.3 * up,
            (Landmark::Wrist | Landmark::Index, _) => {
                of(beside, shoulders, 0.3 * inward) - 0.1 * up
            }
            (Landmark::Hip, _) => of(beside, hips, half_hips),
            (Landmark::Knee, true) => {
                straight_knee + 4.0 * share * (1.0 - share) * self.knee_in_m * inward
            }
            (Landmark::Ankle, true) => Vector3::zeros(),
            (Landmark::Heel, true) => floor - body::HEEL_TO_ANKLE * self.stature_m * foot_ahead,
            (Landmark::FootIndex, true) => {
                floor + body::ANKLE_TO_TOE * self.stature_m * foot_ahead + big_toe * foot_inward
            }
            (Landmark::Knee, false) => free + 0.35 * up,
            (Landmark::Ankle, false) => free,
            (Landmark::Heel, false) => free - 0.07 * up - 0.07 * ahead,
            (Landmark::FootIndex, false) => free - 0.05 * up + 0.2 * ahead,
        })
    }

    /// Where a point falls in the picture, pixels.
    pub fn picture_px(&self, point_m: Point3<f64>) -> Point2<f64> {
        let per_m = FOCAL_PX / (self.distance_m - point_m.z);
        Point2::new(
            SIZE_PX.0 / 2.0 + per_m * (self.right_m + point_m.x),
            SIZE_PX.1 / 2.0 + per_m * (self.below_m - point_m.y),
        )
    }

    fn pose(&self, time_s: f64) -> Pose {
        let place = |l: Landmark, side: Side| self.point_m(l, side, time_s);
        let middle = |l: Landmark| nalgebra::center(&place(l, Side::Left), &place(l, Side::Right));
        let (head, hips) = (middle(Landmark::Shoulder) + 0.2 * Vector3::y(), middle(Landmark::Hip));
        let seen = |p: Point3<f64>| ImageLandmark {
            place_px: self.picture_px(p),
            depth_px: 0.0,
            visibility: 1.0,
            heat: Some(1.0),
        };
        // The network's own metres are about the hips, y down, z away.
        let guessed = |p: Point3<f64>| Point3::new(p.x - hips.x, hips.y - p.y, hips.z - p.z);
        let (mut image, mut metric_m) = ([seen(head); LANDMARKS], [guessed(head); LANDMARKS]);
        for landmark in Landmark::ALL {
            for side in [Side::Left, Side::Right] {
                let p = place(landmark, side);
                image[landmark.at(side)] = seen(p);
                metric_m[landmark.at(side)] = guessed(p);
            }
        }
        Pose { image, metric_m }
    }

    /// The film of it.
    pub fn recording(&self) -> Recording {
        let frames = (0..Self::count()).map(|index| {
            let time_s = index as f64 / RATE_HZ;
            PoseFrame { index, time_s, pose: Some(self.pose(time_s)) }
        });
        Recording {
            clip: ClipFacts {
                file: "made.mp4".into(),
                sha256: String::new(),
                width_px: Some(SIZE_PX.0 as u32),
                height_px: Some(SIZE_PX.1 as u32),
                duration_s: Self::lasts_s(),
                frames: Self::count(),
                frame_rate_hz: RATE_HZ,
                recorded_at: None,
            },
            filming: Filming::default(),
            frames: frames.collect(),
            heads: Vec::new(),
            motion: None,
        }
    }

    /// Its courses, with the stature as given.
    pub fn seen(&self) -> Seen {
        let tracks = Tracks::measure(&self.recording()).expect("enough pictures");
        Seen::of(tracks, self.stature_m)
    }
}

/// What the kinematics see of a body.
#[derive(Debug, Clone)]
pub struct Seen {
    pub tracks: Tracks,
    pub stance: Stance,
    pub scale: Scale,
}

impl Seen {
    pub fn of(tracks: Tracks, stature_m: f64) -> Self {
        let stance = Stance::find(&tracks, None).expect("it rises");
        let scale = Scale::find(&tracks, &stance, Some(stature_m), None);
        Self { tracks, stance, scale }
    }

    /// Gives all courses, and knee over foot, which is among them where it is `judged`.
    pub fn with_courses<T>(&self, judged: bool, of: impl FnOnce(&Courses, &Alignment) -> T) -> T {
        let Self { tracks, stance, scale } = self;
        let pelvis = &Pelvis::measure(tracks, stance, scale);
        let alignment = Alignment::measure(tracks, stance, scale, pelvis, &[loaded()]);
        let trunk = &Trunk::measure(tracks, stance, &pelvis.forward_lean_deg, 0.0);
        let feet = &Feet::measure(tracks, stance, scale);
        let alignments = if judged { std::slice::from_ref(&alignment) } else { &[] };
        let quality = &[];
        let courses = Courses { tracks, stance, scale, pelvis, trunk, feet, alignments, quality };
        of(&courses, &alignment)
    }
}

/// A right leg whose body height takes that course, between the two levels.
pub fn stance(body_px: Vec<f64>, seated_px: f64, standing_px: f64) -> Stance {
    Stance {
        side: Side::Right,
        clarity: 1.0,
        ankle_px: (0.0, 0.0),
        body_px,
        standing_px,
        seated_px,
    }
}

/// A scale that is sure, of somebody of 1.75 m at 3 m.
pub const fn scale(m_per_px: f64) -> Scale {
    Scale {
        source: ScaleSource::Stature,
        m_per_px,
        relative_uncertainty: 0.0,
        stature_m: 1.75,
        distance_m: 3.0,
    }
}

/// Tracks in which every landmark keeps its place in the middle of the picture, for tests
/// that move a few of them.
pub fn still(count: usize, rate_hz: f64) -> Tracks {
    let course = |value: f64| vec![vec![value; count]; LANDMARKS];
    Tracks {
        rate_hz,
        count,
        size_px: (1000.0, 1000.0),
        measured: vec![true; count],
        u_px: course(500.0),
        v_px: course(500.0),
        visibility: course(1.0),
        sight: course(1.0),
        network_forward_m: course(0.0),
        network_height_m: vec![1.4; count],
    }
}

impl Tracks {
    /// Columns of one landmark, pixels.
    pub fn set_columns(&mut self, landmark: Landmark, side: Side, u_px: &[f64]) {
        self.u_px[landmark.at(side)] = u_px.to_vec();
    }

    /// And its rows.
    pub fn set_rows(&mut self, landmark: Landmark, side: Side, v_px: &[f64]) {
        self.v_px[landmark.at(side)] = v_px.to_vec();
    }
}

/// Samples at which a rep of a [`Body`] is on its way: from the start of the rise to the end
/// of the descent.
pub fn loaded() -> std::ops::Range<usize> {
    let contact_s: f64 = PARTS_S[..4].iter().sum();
    (PARTS_S[0] * RATE_HZ) as usize..(contact_s * RATE_HZ) as usize
}

/// Found and true value.
#[track_caller]
pub fn near(found: f64, truth: f64, budget: f64) {
    assert!((found - truth).abs() <= budget, "{found} is not {truth}");
}
