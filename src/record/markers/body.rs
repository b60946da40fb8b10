//! From markers on the skin to joint centres, turned to face the reader.

use std::path::Path;

use nalgebra::{Matrix3, Point3, Vector3, center};

use super::names::{self, Candidates, MarkerNames};
use super::rigid;
use super::trc::{Axis, Trc};
use super::{Motion, PELVIS, PointCourse, TRUNK_BY_CAMERA};
use crate::body::anthropometry as body;
use crate::body::{Landmark, Side};
use crate::error::{Error, Result};
use crate::files;
use crate::settings;
use crate::signal;

/// What a marker file gave.
#[derive(Debug, Clone, PartialEq)]
pub struct Captured {
    /// The points.
    pub motion: Motion,
    /// Rows of the file.
    pub rows: usize,
    /// Rows in which the points that are needed throughout were all there.
    pub whole_rows: usize,
    /// The file ends before it should.
    pub cut_short: bool,
    /// What was assumed, in words.
    pub notes: Vec<String>,
}

/// Reads a marker file. `up` names the laboratory's upward axis; without it,
/// it is the one along which the shoulders are above the ankles.
///
/// # Errors
/// [`Error::NotMotion`] with line or marker, [`Error::TooShort`], and those of
/// reading a file.
pub fn read_motion(path: &Path, names: &MarkerNames, up: Option<Axis>) -> Result<Captured> {
    files::check_readable_file(path)?;
    let bad = |why: String| Error::NotMotion { path: path.into(), why };
    let trc = Trc::parse(&files::read_text_lossy(path)?).map_err(bad)?;
    let rows = trc.times_s.len();
    if rows < 2 {
        return Err(Error::TooShort { path: path.into(), frames: rows });
    }
    captured(&trc, names, up).map_err(bad)
}

fn captured(trc: &Trc, names: &MarkerNames, up: Option<Axis>) -> Result<Captured, String> {
    let markers = Markers::new(trc)?;
    let found = Found::new(&markers, names)?;
    let mut notes = Vec::new();
    let by_camera = markers.get(TRUNK_BY_CAMERA);
    let axes = match by_camera {
        // Our own export of a film lies as the camera saw it.
        Some(_) => Matrix3::identity(),
        None => found.axes(up)?,
    };
    let factor = found.unit_factor(&axes, trc.unit_m, &mut notes)?;
    let turn = |course: &PointCourse| PointCourse {
        place_m: course.place_m.iter().map(|p| axes * p * factor).collect(),
        seen: course.seen.clone(),
    };
    let mut motion = Motion::new(markers.rate_hz, markers.count);
    let stature_m = found.stature(&axes) * factor;
    for side in [Side::Left, Side::Right] {
        let at = usize::from(side == Side::Right);
        let medial = if side == Side::Left { -Vector3::x() } else { Vector3::x() };
        // The joint's axis is taken as that of the pelvis, sideways.
        let inward = |breadth: f64| medial * (breadth / 2.0 * stature_m);
        let mut set = |landmark, point: &Point, shift: Vector3<f64>| {
            let mut course = turn(&point.course);
            if !point.is_centre {
                course.place_m.iter_mut().for_each(|p| *p += shift);
            }
            motion.set(landmark, side, course);
        };
        let below_acromion = -Vector3::y() * (body::ACROMION_TO_JOINT * stature_m);
        set(Landmark::Shoulder, &found.shoulder[at], below_acromion);
        set(Landmark::Knee, &found.knee[at], inward(body::KNEE_BREADTH));
        set(Landmark::Ankle, &found.ankle[at], inward(body::ANKLE_BREADTH));
        for (landmark, point) in
            [(Landmark::Heel, &found.heel[at]), (Landmark::FootIndex, &found.toe[at])]
        {
            set(landmark, point, Vector3::zeros());
        }
        for (landmark, candidates) in [
            (Landmark::Elbow, &names.elbow),
            (Landmark::Wrist, &names.wrist),
            (Landmark::Index, &names.hand),
        ] {
            if let Some(course) = markers.first(candidates.of(side)) {
                motion.set(landmark, side, turn(&course));
            }
        }
    }
    match &found.pelvis {
        Pelvis::Joints(joints) => {
            for (side, joint) in [Side::Left, Side::Right].into_iter().zip(joints) {
                motion.set(Landmark::Hip, side, turn(joint));
            }
        }
        Pelvis::Skin(skin) => {
            let skin = skin.each_ref().map(turn);
            let [fl, fr, bl, br] = &skin;
            motion.pelvis = Some(middle(&middle(fl, fr), &middle(bl, br)));
            let [left, right] = hip_centres(&skin, settings::MAX_GAP_S * markers.rate_hz);
            motion.set(Landmark::Hip, Side::Left, left);
            motion.set(Landmark::Hip, Side::Right, right);
        }
    }
    motion.trunk_by_camera = by_camera.as_ref().map(turn);
    if let Some(course) = markers.get(PELVIS) {
        motion.pelvis = Some(turn(&course));
    }
    check_feet(&motion)?;
    let whole = (0..motion.count).filter(|i| {
        [Landmark::Hip, Landmark::Shoulder].iter().all(|l| {
            [Side::Left, Side::Right].iter().all(|s| motion.get(*l, *s).is_some_and(|c| c.seen[*i]))
        })
    });
    let share = whole.count() as f64 / motion.count as f64;
    let rows = trc.times_s.len();
    let whole_rows = (share * rows as f64).round() as usize;
    Ok(Captured { motion, rows, whole_rows, cut_short: trc.cut_short, notes })
}

/// Samples of the uniform grid for each row of the file, at most: with fewer rows there is
/// nothing to assess (design choice).
const MOST_GRID: f64 = 10.0;

/// The file's markers on a uniform grid.
struct Markers<'a> {
    trc: &'a Trc,
    rate_hz: f64,
    count: usize,
}

impl<'a> Markers<'a> {
    fn new(trc: &'a Trc) -> Result<Self, String> {
        let (first, last) = (trc.times_s[0], trc.times_s[trc.times_s.len() - 1]);
        let rate_hz = trc.rate_hz;
        let count = ((last - first) * rate_hz).round() + 1.0;
        if !rate_hz.is_finite() || count > MOST_GRID * trc.times_s.len() as f64 {
            return Err("its times leap: hardly any sample lies where the others lead".into());
        }
        Ok(Self { trc, rate_hz, count: count as usize })
    }

    /// Course of a marker in the file's axes and units; `None` if the file has
    /// none of that name, or hardly a sample of it.
    fn get(&self, name: &str) -> Option<PointCourse> {
        let marker = &self.trc.places_m[names::find(&self.trc.names, name)?];
        let start_s = self.trc.times_s[0];
        let known: Vec<(f64, Point3<f64>)> = self
            .trc
            .times_s
            .iter()
            .zip(marker)
            .filter_map(|(t, place)| Some((t - start_s, (*place)?)))
            .collect();
        if known.len() < 2 {
            return None;
        }
        let times: Vec<f64> = known.iter().map(|(t, _)| *t).collect();
        let max_gap_s = settings::MAX_GAP_S.max(1.5 / self.rate_hz);
        let [x, y, z] = [0, 1, 2].map(|axis| {
            let values: Vec<f64> = known.iter().map(|(_, p)| p[axis]).collect();
            signal::to_grid(&times, &values, self.count, self.rate_hz, max_gap_s)
        });
        let place_m =
            (0..self.count).map(|i| Point3::new(x.values[i], y.values[i], z.values[i])).collect();
        Some(PointCourse { place_m, seen: x.measured })
    }

    /// The first of the candidates that the file has.
    fn first(&self, candidates: &[String]) -> Option<PointCourse> {
        candidates.iter().find_map(|candidate| match candidate.split_once('+') {
            Some((a, b)) => Some(middle(&self.get(a)?, &self.get(b)?)),
            None => self.get(candidate),
        })
    }
}

/// A point with whether it is a joint's centre already.
struct Point {
    course: PointCourse,
    is_centre: bool,
}

/// The pelvis: hip centres (left, right), or markers on its bones in the order
/// left and right front, left and right back.
enum Pelvis {
    Joints([PointCourse; 2]),
    Skin([PointCourse; 4]),
}

/// The points that are needed, in the file's axes; pairs are (left, right).
struct Found {
    pelvis: Pelvis,
    shoulder: [Point; 2],
    knee: [Point; 2],
    ankle: [Point; 2],
    heel: [Point; 2],
    toe: [Point; 2],
}

impl Found {
    fn new(markers: &Markers, names: &MarkerNames) -> Result<Self, String> {
        let mut missing: Vec<String> = Vec::new();
        let both = |candidates: &Candidates| {
            let [left, right] = [Side::Left, Side::Right].map(|s| markers.first(candidates.of(s)));
            Some([left?, right?])
        };
        let mut miss = |what: &str, candidates: &Candidates| {
            for side in [Side::Left, Side::Right] {
                if markers.first(candidates.of(side)).is_none() {
                    let first = candidates.of(side).iter().find(|c| c.to_uppercase() == **c);
                    let like = first.or(candidates.of(side).first());
                    let like = like.map_or(String::new(), |c| format!(" (such as {c})"));
                    missing.push(format!("{} {what}{like}", side.word()));
                }
            }
        };
        // A centre that the file has; else the middle of two sides of the joint;
        // else the outer side alone.
        let mut joint =
            |what: &str, centre: &Candidates, outer: &Candidates, inner: &Candidates| {
                let point = [Side::Left, Side::Right].map(|side| {
                    let outer = markers.first(outer.of(side));
                    let middle = outer
                        .as_ref()
                        .and_then(|o| Some(middle(o, &markers.first(inner.of(side))?)));
                    let centre = markers.first(centre.of(side)).or(middle);
                    let is_centre = centre.is_some();
                    centre.or(outer).map(|course| Point { course, is_centre })
                });
                if point.iter().any(Option::is_none) {
                    miss(what, outer);
                }
                let [left, right] = point;
                Some([left?, right?])
            };
        let none = Candidates::default();
        let shoulder = joint("shoulder", &names.shoulder_joint, &names.acromion, &none);
        let knee = joint("knee", &names.knee_joint, &names.knee_lateral, &names.knee_medial);
        let ankle = joint("ankle", &names.ankle_joint, &names.ankle_lateral, &names.ankle_medial);
        let heel = joint("heel", &names.heel, &names.heel, &none);
        let toe = joint("second toe", &names.toe, &names.toe, &none);
        let pelvis = match (both(&names.hip_joint), both(&names.asis), both(&names.psis)) {
            (Some(joints), ..) => Some(Pelvis::Joints(joints)),
            (None, Some([fl, fr]), Some([bl, br])) => {
                let mut bone = vec![fl, fr, bl, br];
                let others = [Side::Left, Side::Right].map(|s| names.pelvis_other.of(s));
                bone.extend(others.into_iter().flatten().filter_map(|name| markers.get(name)));
                rigid::fill(&mut bone);
                bone.truncate(4);
                bone.try_into().ok().map(Pelvis::Skin)
            }
            _ => {
                miss("front of the pelvis", &names.asis);
                miss("back of the pelvis", &names.psis);
                None
            }
        };
        match (pelvis, shoulder, knee, ankle, heel, toe) {
            (Some(pelvis), Some(shoulder), Some(knee), Some(ankle), Some(heel), Some(toe)) => {
                Ok(Self { pelvis, shoulder, knee, ankle, heel, toe })
            }
            _ => Err(format!(
                "no marker for: {}; the file has {}",
                missing.join(", "),
                markers.trc.names.join(", ")
            )),
        }
    }

    /// From the ankles' middle to the shoulders', typical.
    fn ankles_to_shoulders(&self) -> Vector3<f64> {
        let [a, b] = [&self.ankle, &self.shoulder];
        typical(&middle(&a[0].course, &a[1].course), &middle(&b[0].course, &b[1].course))
    }

    /// Rows X, Y, Z of the body in the laboratory's axes.
    fn axes(&self, up: Option<Axis>) -> Result<Matrix3<f64>, String> {
        let rise = self.ankles_to_shoulders();
        let up = match up {
            Some(axis) => axis.unit(),
            None => Axis::ALL
                .into_iter()
                .map(Axis::unit)
                .max_by(|a, b| rise.dot(a).abs().total_cmp(&rise.dot(b).abs()))
                .map_or(Vector3::y(), |axis| axis * rise.dot(&axis).signum()),
        };
        if rise.dot(&up) < 0.5 * rise.norm() {
            return Err("along the upward axis the shoulders are not above the ankles".into());
        }
        let (left, right) = match &self.pelvis {
            Pelvis::Joints([left, right]) | Pelvis::Skin([left, right, ..]) => (left, right),
        };
        let across = typical(right, left);
        let across = across - up * across.dot(&up);
        let across = across.try_normalize(1e-9).ok_or("the two sides of the pelvis are one")?;
        let forward = across.cross(&up);
        Ok(Matrix3::from_rows(&[across.transpose(), up.transpose(), forward.transpose()]))
    }

    /// Stature the shoulders' height over the ankles speaks for, in the file's
    /// supposed metres.
    fn stature(&self, axes: &Matrix3<f64>) -> f64 {
        let heights = |p: &[Point; 2]| -> Vec<f64> {
            let course = middle(&p[0].course, &p[1].course);
            course.place_m.iter().map(|p| (axes * p).y).collect()
        };
        let above: Vec<f64> =
            heights(&self.shoulder).iter().zip(heights(&self.ankle)).map(|(s, a)| s - a).collect();
        let tall = signal::percentile(&above, 95.0).unwrap_or(0.0);
        let joints = self.shoulder.iter().all(|p| p.is_centre);
        tall / if joints {
            body::ANKLE_TO_SHOULDER
        } else {
            body::ANKLE_TO_SHOULDER + body::ACROMION_TO_JOINT
        }
    }

    /// What to multiply with if the header names the wrong unit.
    fn unit_factor(
        &self,
        axes: &Matrix3<f64>,
        unit_m: f64,
        notes: &mut Vec<String>,
    ) -> Result<f64, String> {
        let stature = self.stature(axes);
        let human = |factor: &f64| settings::HUMAN_STATURE_M.contains(&(stature * factor));
        if human(&1.0) {
            return Ok(1.0);
        }
        let units = [("m", 1.0), ("cm", 0.01), ("mm", 0.001)];
        match units.iter().find(|(_, m)| human(&(m / unit_m))) {
            Some((name, m)) => {
                notes.push(format!(
                    "By the unit in its header the person would be {stature:.4} m tall; read as {name}."
                ));
                Ok(m / unit_m)
            }
            None => Err(format!("the person would be {stature:.4} m tall by the unit of line 3")),
        }
    }
}

/// Hip joint centres from the pelvis' four bony points, in the order left and
/// right front, left and right back. [Harrington2007], millimetres:
/// −0.24·depth − 9.9 forward, −0.30·width − 10.9 up, ±(0.33·width + 7.3)
/// sideways of the middle of the front points. Coefficients from memory, the
/// same in several independent public implementations; the paper was not read. Where
/// markers lie on each other for up to `bridged` samples, the pelvis keeps its direction.
fn hip_centres([fl, fr, bl, br]: &[PointCourse; 4], bridged: f64) -> [PointCourse; 2] {
    let mut seen: Vec<bool> =
        (0..fl.seen.len()).map(|i| fl.seen[i] && fr.seen[i] && bl.seen[i] && br.seen[i]).collect();
    // One size for the whole file, from what was seen: bones do not change.
    let front = middle(fl, fr);
    let back = middle(bl, br);
    let size = |a: &PointCourse, b: &PointCourse| {
        let lengths: Vec<f64> = (0..seen.len())
            .filter(|i| seen[*i])
            .map(|i| (a.place_m[i] - b.place_m[i]).norm())
            .collect();
        signal::median(&lengths).unwrap_or(0.0)
    };
    let (width_m, depth_m) = (size(fl, fr), size(&front, &back));
    let forward_m = -0.24 * depth_m - 0.0099;
    let up_m = -0.30 * width_m - 0.0109;
    let aside_m = 0.33 * width_m + 0.0073;
    // Left, up and ahead; markers that lie on each other have none.
    let axes: Vec<Option<[Vector3<f64>; 3]>> = (0..seen.len())
        .map(|i| {
            let left = (fl.place_m[i] - fr.place_m[i]).try_normalize(1e-9)?;
            let ahead = front.place_m[i] - back.place_m[i];
            let ahead = (ahead - left * ahead.dot(&left)).try_normalize(1e-9)?;
            // X to the left, Y up, Z ahead: right-handed.
            Some([left, ahead.cross(&left), ahead])
        })
        .collect();
    for gap in signal::runs(&axes, Option::is_none) {
        if gap.len() as f64 > bridged {
            seen[gap].fill(false);
        }
    }
    let first = axes.iter().flatten().next().copied();
    let centre = |side: f64| {
        let mut held = first.unwrap_or([Vector3::zeros(); 3]);
        let place_m = (0..seen.len())
            .map(|i| {
                let [left, up, ahead] = axes[i].unwrap_or(held);
                held = [left, up, ahead];
                front.place_m[i] + ahead * forward_m + up * up_m + left * (side * aside_m)
            })
            .collect();
        PointCourse { place_m, seen: seen.clone() }
    };
    [centre(1.0), centre(-1.0)]
}

/// Feet point forward, or the names of left and right, heel and toe are mixed up.
fn check_feet(motion: &Motion) -> Result<(), String> {
    let ahead = [Side::Left, Side::Right].iter().filter_map(|side| {
        let heel = motion.get(Landmark::Heel, *side)?;
        Some(typical(heel, motion.get(Landmark::FootIndex, *side)?).z)
    });
    if ahead.sum::<f64>() < 0.0 {
        return Err("the feet point backward: left and right, or heels and toes, seem to be \
                    exchanged in the names of the markers"
            .into());
    }
    Ok(())
}

fn middle(a: &PointCourse, b: &PointCourse) -> PointCourse {
    PointCourse {
        place_m: a.place_m.iter().zip(&b.place_m).map(|(a, b)| center(a, b)).collect(),
        seen: a.seen.iter().zip(&b.seen).map(|(a, b)| *a && *b).collect(),
    }
}

/// Median way from one point to another where both are seen.
fn typical(from: &PointCourse, to: &PointCourse) -> Vector3<f64> {
    let axis = |k: usize| {
        let ways: Vec<f64> = (0..from.seen.len())
            .filter(|i| from.seen[*i] && to.seen[*i])
            .map(|i| to.place_m[i][k] - from.place_m[i][k])
            .collect();
        signal::median(&ways).unwrap_or(0.0)
    };
    Vector3::new(axis(0), axis(1), axis(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A person standing, in millimetres, Z up, facing −Y: hips, shoulders and
    /// legs at round places; 20 rows at 100/s.
    fn standing() -> Trc {
        let points = [
            ("LASI", [120.0, -100.0, 1000.0]),
            ("RASI", [-120.0, -100.0, 1000.0]),
            ("LPSI", [40.0, 60.0, 1000.0]),
            ("RPSI", [-40.0, 60.0, 1000.0]),
            ("LSHO", [180.0, 0.0, 1400.0]),
            ("RSHO", [-180.0, 0.0, 1400.0]),
            ("LKNE", [150.0, 0.0, 490.0]),
            ("RKNE", [-150.0, 0.0, 490.0]),
            ("LANK", [140.0, 0.0, 70.0]),
            ("RANK", [-140.0, 0.0, 70.0]),
            ("LHEE", [100.0, 60.0, 40.0]),
            ("RHEE", [-100.0, 60.0, 40.0]),
            ("LTOE", [100.0, -130.0, 40.0]),
            ("RTOE", [-100.0, -130.0, 40.0]),
        ];
        Trc {
            rate_hz: 100.0,
            names: points.iter().map(|(name, _)| format!("Anna:{name}")).collect(),
            times_s: (0..20).map(|i| f64::from(i) / 100.0).collect(),
            places_m: points
                .iter()
                .map(|(_, p)| vec![Some(Point3::new(p[0], p[1], p[2]) / 1000.0); 20])
                .collect(),
            unit_m: 0.001,
            cut_short: false,
        }
    }

    fn read(trc: &Trc) -> Result<Captured, String> {
        captured(trc, &MarkerNames::built_in().unwrap(), None)
    }

    /// [Harrington2007] by hand: width 240, depth 160 mm → 48.3 back, 82.9 down,
    /// 86.5 aside of the middle of the front points.
    #[test]
    fn the_body_faces_the_reader_and_hips_are_where_the_regression_puts_them() {
        let body = read(&standing()).unwrap().motion;
        let at = |l, s| body.get(l, s).unwrap().place_m[5];
        let hip = at(Landmark::Hip, Side::Left);
        assert!((hip - Point3::new(0.0865, 0.9171, 0.0517)).norm() < 1e-9, "{hip}");
        assert!(at(Landmark::FootIndex, Side::Right).z > at(Landmark::Heel, Side::Right).z);
        let (knee, stature) = (at(Landmark::Knee, Side::Right), 1.330 / 0.779);
        let centre = -0.150 + body::KNEE_BREADTH / 2.0 * stature;
        assert!((knee.x - centre).abs() < 1e-9 && (knee.y - 0.49).abs() < 1e-12);
    }

    #[test]
    fn a_wrong_unit_is_noticed() {
        let mut trc = standing();
        for place in trc.places_m.iter_mut().flatten().flatten() {
            *place *= 1000.0;
        }
        trc.unit_m = 1.0;
        let found = read(&trc).unwrap();
        assert!(found.notes[0].contains("read as mm"), "{:?}", found.notes);
        let hip = found.motion.get(Landmark::Hip, Side::Left).unwrap().place_m[0];
        assert!((hip.x - 0.0865).abs() < 1e-9);
        for place in trc.places_m.iter_mut().flatten().flatten() {
            *place *= 7.0;
        }
        assert!(read(&trc).unwrap_err().contains("m tall"));
    }

    #[test]
    fn missing_and_exchanged_markers_are_named() {
        let mut trc = standing();
        trc.names[6] = "Anna:HOBBY".into();
        let error = read(&trc).unwrap_err();
        assert!(error.contains("left knee (such as LKNE)") && error.contains("Anna:HOBBY"));
        let mut trc = standing();
        for name in &mut trc.names {
            let other = match name.as_bytes()[5] {
                b'L' => "Anna:R",
                _ => "Anna:L",
            };
            name.replace_range(0..6, other);
        }
        assert!(read(&trc).unwrap_err().contains("backward"));
        assert!(captured(&standing(), &MarkerNames::built_in().unwrap(), Some(Axis::Y)).is_err());
    }

    /// Times that leap so that there is next to nothing between them; and so far that the
    /// count of samples is past all numbers.
    #[test]
    fn times_that_leap() {
        let leaping = |last_s: f64| {
            let mut trc = standing();
            trc.times_s[19] = last_s;
            trc
        };
        for last_s in [3.0, 1e9, 1e300, f64::MAX] {
            let error = read(&leaping(last_s)).unwrap_err();
            assert!(error.contains("times leap"), "{last_s}: {error}");
        }
        // A leap over some rows is a gap.
        let body = read(&leaping(1.0)).unwrap().motion;
        assert_eq!(body.count, 101);
        let seen = &body.get(Landmark::Knee, Side::Left).unwrap().seen;
        assert!(seen[18] && !seen[60] && seen[100]);
    }

    /// Two markers of the pelvis at one place tell no direction: as in a gap, a short while is
    /// bridged, a long one not seen, and no other sample is spoilt.
    #[test]
    fn markers_that_lie_on_each_other() {
        for (last, unseen) in [(7, vec![]), (10, (4..=10).collect())] {
            let mut trc = standing();
            trc.times_s = (0..20).map(|i| f64::from(i) / 20.0).collect();
            trc.rate_hz = 20.0;
            let right = trc.places_m[1].clone();
            trc.places_m[0][4..=last].clone_from_slice(&right[4..=last]);
            let body = read(&trc).unwrap().motion;
            let hip = body.get(Landmark::Hip, Side::Left).unwrap();
            assert_eq!((0..20).filter(|i| !hip.seen[*i]).collect::<Vec<usize>>(), unseen);
            assert!(hip.place_m.iter().all(|p| p.coords.iter().all(|c| c.is_finite())));
            assert!((hip.place_m[16] - hip.place_m[3]).norm() < 1e-9);
        }
    }

    /// Gaps up to 0.25 s are filled, longer ones are not seen.
    #[test]
    fn gaps() {
        let mut trc = standing();
        trc.times_s = (0..20).map(|i| f64::from(i) / 20.0).collect();
        trc.rate_hz = 20.0;
        let knee = &mut trc.places_m[6];
        knee[3..7].fill(None);
        knee[10..15].fill(None);
        let body = read(&trc).unwrap().motion;
        let seen = &body.get(Landmark::Knee, Side::Left).unwrap().seen;
        let unseen: Vec<usize> = (0..20).filter(|i| !seen[*i]).collect();
        assert_eq!(unseen, [10, 11, 12, 13, 14]);
    }
}
