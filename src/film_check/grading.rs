//! From numbers to grades.

use super::{Aspect, Because, Finding, Grade, Unit, from_the_front};
use crate::movement::kinematics::{Alignment, Scale};
use crate::record::Filming;
use crate::record::Pictures;
use crate::settings;

/// Not worth a run only where the number is past its limit by more than its own error.
fn grade(value: f64, se: f64, good: f64, usable: f64) -> Grade {
    if value - se > usable {
        Grade::FilmAgain
    } else if value > good {
        Grade::Usable
    } else {
        Grade::Good
    }
}

fn graded(aspect: Aspect, unit: Unit, grade: Grade, because: Because) -> Finding {
    Finding::new(aspect, unit, grade, (grade != Grade::Good).then_some(because))
}

fn not_told(aspect: Aspect, unit: Unit, because: Because) -> Finding {
    Finding::new(aspect, unit, Grade::NotTold, Some(because))
}

/// Shares of the looks: with the person found; of these with a foot, with knee, hip or
/// shoulder, and with the head out of the picture.
pub(super) fn in_view(followed: f64, feet: f64, body: f64, head: f64) -> Finding {
    let (good, usable) = settings::FILM_OUT_OF_VIEW;
    let cases = [
        (1.0 - followed, Because::PersonLost, 1.0 - settings::MIN_TRACKED),
        (body, Because::LegOut, usable),
        (feet, Because::FeetOut, usable),
        // Nothing is measured at the head.
        (head, Because::HeadOut, f64::INFINITY),
    ];
    let (grade, because) = cases
        .into_iter()
        .map(|(share, because, usable)| (grade(share, 0.0, good, usable), because))
        .reduce(|worst, case| if case.0 > worst.0 { case } else { worst })
        .unwrap_or((Grade::NotTold, Because::PersonLost));
    let seen = followed * (1.0 - feet.max(body));
    graded(Aspect::InView, Unit::Percent, grade, because).measuring(100.0 * seen, 0)
}

pub(super) fn rises(seen: usize) -> Finding {
    let grade = if seen == 0 { Grade::FilmAgain } else { Grade::Good };
    graded(Aspect::Rises, Unit::Count, grade, Because::NoRise).measuring(seen as f64, 0)
}

pub(super) fn turn(alignment: Option<&Alignment>, yaw_max_deg: f64) -> Finding {
    let (aspect, unit) = (Aspect::Turn, Unit::Degrees);
    let Some(a) = alignment else { return not_told(aspect, unit, Because::NoRise) };
    if a.shoulder_to_trunk < settings::SIDE_VIEW_BREADTH {
        return graded(aspect, unit, Grade::FilmAgain, Because::FromTheSide);
    }
    if !from_the_front(a) {
        return graded(aspect, unit, Grade::FilmAgain, Because::NotFromTheFront);
    }
    let grade = grade(a.yaw_deg.abs(), 0.0, settings::FILM_YAW_GOOD_DEG, yaw_max_deg);
    graded(aspect, unit, grade, Because::Turned).measuring(a.yaw_deg, 1).within(a.yaw_se_deg, 1)
}

pub(super) fn level(pictures: Option<&Pictures>) -> Finding {
    let (aspect, unit) = (Aspect::Level, Unit::Degrees);
    let Some(pictures) = pictures else { return not_told(aspect, unit, Because::NoPictures) };
    let Some(level) = pictures.level else { return not_told(aspect, unit, Because::NoLines) };
    let (good, usable) = settings::FILM_ROLL_DEG;
    let grade = grade(level.roll_deg.abs(), level.roll_se_deg, good, usable);
    graded(aspect, unit, grade, Because::Tilted)
        .measuring(level.roll_deg, 1)
        .within(level.roll_se_deg, 1)
}

/// `height_m`: height of the camera and its standard error.
pub(super) fn height(height_m: Option<(f64, f64)>) -> Finding {
    let (aspect, unit) = (Aspect::Height, Unit::Metres);
    let Some((h, se)) = height_m else { return not_told(aspect, unit, Because::NoFoot) };
    let (good, usable) = (settings::FILM_HEIGHT_GOOD_M, settings::FILM_HEIGHT_USABLE_M);
    let high = grade(h, se, good.1, usable.1);
    let low = grade(-h, se, -good.0, -usable.0);
    let (grade, because) =
        if low > high { (low, Because::TooLow) } else { (high, Because::TooHigh) };
    graded(aspect, unit, grade, because).measuring(h, 1).within(se, 1)
}

/// `m_across`: metres across the picture at the person.
pub(super) fn still(filming: &Filming, duration_s: f64, m_across: Option<f64>) -> Finding {
    let (aspect, unit) = (Aspect::Still, Unit::Centimetres);
    let wander = filming.pictures.as_ref().and_then(|p| p.wander);
    let wander_cm = wander.zip(m_across).map(|(share, m)| 100.0 * share * m);
    let moved_s: f64 = filming.camera_moved_s.iter().map(|(from, to)| to - from).sum();
    let moved = match moved_s / duration_s.max(1e-9) {
        _ if filming.camera_moved_s.is_empty() => Grade::Good,
        share if share > settings::FILM_MOVED_SHARE => Grade::FilmAgain,
        _ => Grade::Usable,
    };
    let (good, usable) = settings::FILM_WANDER_CM;
    let shaky = wander_cm.map(|cm| grade(cm, 0.0, good, usable));
    let finding = match shaky {
        Some(shaky) if shaky > moved => graded(aspect, unit, shaky, Because::Shaky),
        None if moved == Grade::Good => not_told(aspect, unit, Because::NoBackground),
        _ => Finding {
            when_s: filming.camera_moved_s.clone(),
            ..graded(aspect, unit, moved, Because::Moved)
        },
    };
    wander_cm.map_or(finding.clone(), |cm| finding.measuring(cm, 1))
}

pub(super) fn distance(scale: Option<&Scale>) -> Finding {
    let (aspect, unit) = (Aspect::Distance, Unit::Metres);
    let Some(scale) = scale else { return not_told(aspect, unit, Because::NoRise) };
    let away_m = scale.distance_m;
    let se_m = away_m * settings::FOCAL_SE.hypot(scale.relative_uncertainty);
    let (near, far) = settings::FILM_DISTANCE_GOOD_M;
    let (grade, because) = if away_m > far {
        // What counts when far away is how large the person is.
        (Grade::Usable, Because::TooFar)
    } else {
        (grade(-away_m, se_m, -near, -settings::FILM_DISTANCE_LEAST_M), Because::TooNear)
    };
    graded(aspect, unit, grade, because).measuring(away_m, 1).within(se_m, 1)
}

pub(super) fn size(scale: Option<&Scale>) -> Finding {
    let (aspect, unit) = (Aspect::Size, Unit::Pixels);
    let Some(scale) = scale else { return not_told(aspect, unit, Because::NoRise) };
    let stature_px = scale.stature_m / scale.m_per_px;
    let (good, usable) = settings::FILM_STATURE_PX;
    let grade = grade(-stature_px, 0.0, -good, -usable);
    graded(aspect, unit, grade, Because::TooSmall).measuring(stature_px, 0)
}

pub(super) fn frame_rate(rate_hz: f64) -> Finding {
    let (grade, because) = if rate_hz < settings::MIN_HZ_FOR_EVENTS {
        (Grade::FilmAgain, Because::TooFewFrames)
    } else if rate_hz < settings::MIN_HZ_FOR_DROPS {
        (Grade::Usable, Because::FewFramesForDrops)
    } else if rate_hz < settings::HZ_FOR_SHORT_DROPS {
        (Grade::Usable, Because::FewFramesForShortDrops)
    } else {
        (Grade::Good, Because::TooFewFrames)
    };
    graded(Aspect::FrameRate, Unit::Hertz, grade, because).measuring(rate_hz, 0)
}

pub(super) fn light(pictures: Option<&Pictures>) -> Finding {
    let (aspect, unit) = (Aspect::Light, Unit::Luma);
    let read =
        pictures.and_then(|p| Some((p.person_light?, p.surroundings_light?, p.brightest_light?)));
    let Some((person, surroundings, brightest)) = read else {
        return not_told(aspect, unit, Because::NoPictures);
    };
    let (good, usable) = settings::FILM_BRIGHTEST;
    let dark = grade(-brightest, 0.0, -good, -usable);
    let (good, usable) = settings::FILM_PERSON_LIGHT;
    let against = if surroundings > settings::FILM_BACKLIT_TIMES * person {
        grade(-person, 0.0, -good, -usable)
    } else {
        Grade::Good
    };
    let (grade, because) =
        if against > dark { (against, Because::Backlit) } else { (dark, Because::Dark) };
    graded(aspect, unit, grade, because).measuring(person, 0)
}

pub(super) fn sharpness(pictures: Option<&Pictures>, stature_m: Option<f64>) -> Finding {
    let (aspect, unit) = (Aspect::Sharpness, Unit::Centimetres);
    let Some(pictures) = pictures else { return not_told(aspect, unit, Because::NoPictures) };
    let Some((usual, worst)) = pictures.edge_width.zip(pictures.edge_width_at_worst) else {
        return not_told(aspect, unit, Because::NoEdges);
    };
    let (good, usable) = settings::FILM_EDGE_WIDTH;
    let always = grade(usual, 0.0, good, usable);
    let moving = grade(worst, 0.0, good, usable);
    // Sharp at rest and blurred now and then is the blur of movement.
    let (grade, because, width) = if moving > always {
        (moving.min(Grade::Usable), Because::MotionBlur, worst)
    } else {
        (always, Because::OutOfFocus, usual)
    };
    let stature_m = stature_m.unwrap_or(crate::body::anthropometry::TYPICAL_STATURE_M);
    graded(aspect, unit, grade, because).measuring(100.0 * width * stature_m, 1)
}

pub(super) fn chair(shift_m: Option<f64>) -> Finding {
    let (aspect, unit) = (Aspect::Chair, Unit::Centimetres);
    let Some(shift_m) = shift_m else { return not_told(aspect, unit, Because::SeatedOnce) };
    let (good, usable) = settings::FILM_SEAT_SHIFT_M;
    let grade = grade(shift_m, 0.0, good, usable);
    graded(aspect, unit, grade, Because::SeatShifted).measuring(100.0 * shift_m, 0)
}

/// From the side the body reaches beyond its usual outline, and moves there itself.
pub(super) fn others(filming: &Filming, from_the_front: bool) -> Finding {
    let (aspect, unit, people) = (Aspect::Others, Unit::Count, filming.other_people);
    let pictures = filming.pictures.as_ref().filter(|_| from_the_front);
    let behind = pictures.map_or(&[][..], |p| &p.movement_behind_s);
    let finding = match (people, behind) {
        (0, []) => graded(aspect, unit, Grade::Good, Because::OtherPeople),
        (0, _) => graded(aspect, unit, Grade::Usable, Because::MovementBehind),
        _ => graded(aspect, unit, Grade::Usable, Because::OtherPeople),
    };
    Finding { when_s: behind.to_vec(), ..finding.measuring(people as f64, 0) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::movement::kinematics::made::Body;
    use crate::movement::kinematics::{Pelvis, ScaleSource};
    use crate::record::Level;

    fn told(finding: Finding) -> (Grade, Option<Because>) {
        (finding.grade, finding.because)
    }

    fn good() -> (Grade, Option<Because>) {
        (Grade::Good, None)
    }

    fn usable(because: Because) -> (Grade, Option<Because>) {
        (Grade::Usable, Some(because))
    }

    fn again(because: Because) -> (Grade, Option<Because>) {
        (Grade::FilmAgain, Some(because))
    }

    fn not_known(because: Because) -> (Grade, Option<Because>) {
        (Grade::NotTold, Some(because))
    }

    /// Good up to 2, to be filmed again past 5 by more than the error of 1.
    #[test]
    fn a_number_and_its_error_against_two_limits() {
        for (value, expected) in [
            (2.0, Grade::Good),
            (2.1, Grade::Usable),
            (5.9, Grade::Usable),
            (6.0, Grade::Usable),
            (6.1, Grade::FilmAgain),
        ] {
            assert_eq!(grade(value, 1.0, 2.0, 5.0), expected, "{value}");
        }
    }

    /// Limits of the settings: 2 and 15 % out of view, half followed.
    #[test]
    fn what_of_the_body_is_in_view() {
        assert_eq!(told(in_view(0.99, 0.01, 0.01, 0.01)), good());
        for (followed, feet, body, head, expected) in [
            (0.97, 0.0, 0.0, 0.0, usable(Because::PersonLost)),
            (0.51, 0.0, 0.0, 0.0, usable(Because::PersonLost)),
            (0.49, 0.0, 0.0, 0.0, again(Because::PersonLost)),
            (1.0, 0.03, 0.0, 0.0, usable(Because::FeetOut)),
            (1.0, 0.16, 0.03, 0.0, again(Because::FeetOut)),
            (1.0, 0.0, 0.03, 0.0, usable(Because::LegOut)),
            (1.0, 0.03, 0.16, 1.0, again(Because::LegOut)),
            (1.0, 0.0, 0.0, 0.03, usable(Because::HeadOut)),
            (1.0, 0.0, 0.0, 1.0, usable(Because::HeadOut)),
            // As bad as one another: the first that is named.
            (1.0, 0.16, 0.16, 0.0, again(Because::LegOut)),
        ] {
            assert_eq!(told(in_view(followed, feet, body, head)), expected, "{followed} {feet}");
        }
        // Nine tenths followed, a fifth of it out of the picture.
        assert_eq!(in_view(0.9, 0.2, 0.1, 0.5).measured, Some(72.0));
        assert_eq!(in_view(0.9, 0.1, 0.2, 0.5).measured, Some(72.0));
    }

    #[test]
    fn one_rise_is_enough() {
        assert_eq!((told(rises(0)), rises(0).measured), (again(Because::NoRise), Some(0.0)));
        assert_eq!((told(rises(3)), rises(3).measured), (good(), Some(3.0)));
    }

    fn alignment(yaw_deg: f64, shoulder_to_trunk: f64, facing: bool) -> Alignment {
        let seen = Body::USUAL.seen();
        let pelvis = Pelvis::measure(&seen.tracks, &seen.stance, &seen.scale);
        let mut a = Alignment::measure(&seen.tracks, &seen.stance, &seen.scale, &pelvis, &[]);
        (a.yaw_deg, a.yaw_se_deg) = (yaw_deg, 3.56);
        (a.shoulder_to_trunk, a.facing) = (shoulder_to_trunk, facing);
        a
    }

    /// Narrower than 0.3 of the trunk is the side, than 0.5 no front; 8 degrees are good, and
    /// the limit here is 20.
    #[test]
    fn how_far_somebody_is_turned() {
        let of = |yaw_deg, breadth, facing| turn(Some(&alignment(yaw_deg, breadth, facing)), 20.0);
        for (yaw_deg, breadth, facing, expected) in [
            (0.0, 0.29, true, again(Because::FromTheSide)),
            (0.0, 0.30, true, again(Because::NotFromTheFront)),
            (0.0, 0.49, true, again(Because::NotFromTheFront)),
            (0.0, 0.51, false, again(Because::NotFromTheFront)),
            (7.9, 0.50, true, good()),
            (-8.1, 0.75, true, usable(Because::Turned)),
            (19.9, 0.75, true, usable(Because::Turned)),
            (-20.1, 0.75, true, again(Because::Turned)),
        ] {
            assert_eq!(told(of(yaw_deg, breadth, facing)), expected, "{yaw_deg} {breadth}");
        }
        let turned = of(-8.14, 0.75, true);
        assert_eq!((turned.measured, turned.standard_error), (Some(-8.1), Some(3.6)));
        assert_eq!(told(turn(None, 20.0)), not_known(Because::NoRise));
    }

    fn leaning(roll_deg: f64, roll_se_deg: f64) -> Pictures {
        let level = Level { roll_deg, roll_se_deg, pitch_deg: 0.0, pitch_se_deg: 1.0 };
        Pictures { level: Some(level), ..Pictures::default() }
    }

    /// 1.5 and 3.5 degrees.
    #[test]
    fn how_level_the_camera_is() {
        for (roll_deg, se_deg, expected) in [
            (1.4, 0.0, good()),
            (-1.6, 0.0, usable(Because::Tilted)),
            (3.4, 0.0, usable(Because::Tilted)),
            (-3.6, 0.0, again(Because::Tilted)),
            (4.4, 1.0, usable(Because::Tilted)),
        ] {
            assert_eq!(told(level(Some(&leaning(roll_deg, se_deg)))), expected, "{roll_deg}");
        }
        let found = level(Some(&leaning(-1.62, 0.44)));
        assert_eq!((found.measured, found.standard_error), (Some(-1.6), Some(0.4)));
        assert_eq!(told(level(None)), not_known(Because::NoPictures));
        assert_eq!(told(level(Some(&Pictures::default()))), not_known(Because::NoLines));
    }

    /// Good from 0.35 to 1.25 m, usable from 0.1 to 1.6.
    #[test]
    fn how_high_the_camera_is() {
        for (height_m, se_m, expected) in [
            (0.36, 0.0, good()),
            (1.24, 0.0, good()),
            (0.34, 0.0, usable(Because::TooLow)),
            (0.11, 0.0, usable(Because::TooLow)),
            (0.09, 0.0, again(Because::TooLow)),
            (1.26, 0.0, usable(Because::TooHigh)),
            (1.59, 0.0, usable(Because::TooHigh)),
            (1.61, 0.0, again(Because::TooHigh)),
            (1.75, 0.2, usable(Because::TooHigh)),
            (-0.05, 0.2, usable(Because::TooLow)),
        ] {
            assert_eq!(told(height(Some((height_m, se_m)))), expected, "{height_m}");
        }
        let found = height(Some((0.84, 0.26)));
        assert_eq!((found.measured, found.standard_error), (Some(0.8), Some(0.3)));
        assert_eq!(told(height(None)), not_known(Because::NoFoot));
    }

    /// Up to 1.4 and 4.7 cm of wander, a fifth of the time away.
    #[test]
    fn how_still_the_camera_is() {
        let of = |wander_cm: Option<f64>, moved_s: &[(f64, f64)]| {
            let pictures =
                Pictures { wander: wander_cm.map(|cm| cm / 200.0), ..Pictures::default() };
            let filming = Filming {
                pictures: Some(pictures),
                camera_moved_s: moved_s.to_vec(),
                ..Filming::default()
            };
            still(&filming, 10.0, Some(2.0))
        };
        let (short, long) = ([(1.0, 2.5), (6.0, 6.4)], [(1.0, 2.5), (6.0, 6.6)]);
        for (wander_cm, moved_s, expected) in [
            (Some(1.3), &[][..], good()),
            (Some(1.5), &[], usable(Because::Shaky)),
            (Some(4.6), &[], usable(Because::Shaky)),
            (Some(4.8), &[], again(Because::Shaky)),
            (Some(4.6), &short, usable(Because::Moved)),
            (Some(4.8), &short, again(Because::Shaky)),
            (Some(1.3), &long, again(Because::Moved)),
            (None, &short, usable(Because::Moved)),
            (None, &long, again(Because::Moved)),
            (None, &[], not_known(Because::NoBackground)),
        ] {
            let found = of(wander_cm, moved_s);
            let moved = found.because == Some(Because::Moved);
            assert_eq!(found.when_s, if moved { moved_s } else { &[] }, "{wander_cm:?}");
            assert_eq!(found.measured, wander_cm);
            assert_eq!(told(found), expected, "{wander_cm:?} {moved_s:?}");
        }
    }

    fn scale(distance_m: f64, m_per_px: f64, relative_uncertainty: f64) -> Scale {
        let source = ScaleSource::Stature;
        Scale { source, m_per_px, relative_uncertainty, stature_m: 1.7, distance_m }
    }

    /// 1.7 to 5 m; nearer than 1.2 m only where the error, √(0.16² + 0.12²) = 0.2 of it, does
    /// not reach there.
    #[test]
    fn how_far_the_camera_is() {
        for (distance_m, expected) in [
            (1.71, good()),
            (5.0, good()),
            (1.69, usable(Because::TooNear)),
            (1.01, usable(Because::TooNear)),
            (0.99, again(Because::TooNear)),
            (5.01, usable(Because::TooFar)),
            (50.0, usable(Because::TooFar)),
        ] {
            assert_eq!(told(distance(Some(&scale(distance_m, 1.0, 0.12)))), expected);
        }
        let found = distance(Some(&scale(2.96, 1.0, 0.12)));
        assert_eq!((found.measured, found.standard_error), (Some(3.0), Some(0.6)));
        assert_eq!(told(distance(None)), not_known(Because::NoRise));
    }

    /// 205 and 105 pixels of stature.
    #[test]
    fn how_large_the_person_is() {
        for (stature_px, expected) in [
            (206.0, good()),
            (204.0, usable(Because::TooSmall)),
            (106.0, usable(Because::TooSmall)),
            (104.0, again(Because::TooSmall)),
        ] {
            let found = size(Some(&scale(3.0, 1.7 / stature_px, 0.0)));
            assert_eq!(found.measured, Some(stature_px));
            assert_eq!(told(found), expected, "{stature_px}");
        }
        assert_eq!(told(size(None)), not_known(Because::NoRise));
    }

    /// 12, 20 and 50 a second.
    #[test]
    fn how_many_pictures_there_are() {
        for (rate_hz, expected) in [
            (11.9, again(Because::TooFewFrames)),
            (12.0, usable(Because::FewFramesForDrops)),
            (19.9, usable(Because::FewFramesForDrops)),
            (20.0, usable(Because::FewFramesForShortDrops)),
            (49.9, usable(Because::FewFramesForShortDrops)),
            (50.0, good()),
        ] {
            assert_eq!(told(frame_rate(rate_hz)), expected, "{rate_hz}");
        }
        assert_eq!(frame_rate(29.97).measured, Some(30.0));
    }

    /// The brightest parts above 110 and 60; a person before surroundings more than 2.5 times
    /// as bright above 55 and 30.
    #[test]
    fn how_light_it_is() {
        for (person, surroundings, brightest, expected) in [
            (100.0, 100.0, 111.0, good()),
            (50.0, 50.0, 109.0, usable(Because::Dark)),
            (50.0, 50.0, 61.0, usable(Because::Dark)),
            (50.0, 50.0, 59.0, again(Because::Dark)),
            (54.0, 134.0, 200.0, good()),
            (54.0, 136.0, 200.0, usable(Because::Backlit)),
            (56.0, 141.0, 200.0, good()),
            (31.0, 200.0, 200.0, usable(Because::Backlit)),
            (29.0, 200.0, 200.0, again(Because::Backlit)),
            (54.0, 136.0, 100.0, usable(Because::Dark)),
        ] {
            let pictures = Pictures {
                person_light: Some(person),
                surroundings_light: Some(surroundings),
                brightest_light: Some(brightest),
                ..Pictures::default()
            };
            let found = light(Some(&pictures));
            assert_eq!(found.measured, Some(person));
            assert_eq!(told(found), expected, "{person} {surroundings} {brightest}");
        }
        assert_eq!(told(light(None)), not_known(Because::NoPictures));
        assert_eq!(told(light(Some(&Pictures::default()))), not_known(Because::NoPictures));
    }

    /// 1 and 2 % of the stature; blurred now and then is never a reason to film again.
    #[test]
    fn how_sharp_it_is() {
        let of = |usual, worst, stature_m| {
            let pictures = Pictures {
                edge_width: Some(usual),
                edge_width_at_worst: Some(worst),
                ..Pictures::default()
            };
            sharpness(Some(&pictures), stature_m)
        };
        for (usual, worst, expected, width_cm) in [
            (0.009, 0.0095, good(), 1.8),
            (0.011, 0.012, usable(Because::OutOfFocus), 2.2),
            (0.021, 0.03, again(Because::OutOfFocus), 4.2),
            (0.009, 0.011, usable(Because::MotionBlur), 2.2),
            (0.009, 0.03, usable(Because::MotionBlur), 6.0),
        ] {
            let found = of(usual, worst, Some(2.0));
            assert_eq!(found.measured, Some(width_cm));
            assert_eq!(told(found), expected, "{usual} {worst}");
        }
        assert_eq!(of(0.01, 0.01, None).measured, Some(1.7), "of a usual stature");
        assert_eq!(told(sharpness(None, None)), not_known(Because::NoPictures));
        let none = Pictures::default();
        assert_eq!(told(sharpness(Some(&none), None)), not_known(Because::NoEdges));
    }

    /// 8 and 20 cm.
    #[test]
    fn whether_the_seat_keeps_its_place() {
        for (shift_m, expected) in [
            (0.079, good()),
            (0.081, usable(Because::SeatShifted)),
            (0.199, usable(Because::SeatShifted)),
            (0.201, again(Because::SeatShifted)),
        ] {
            assert_eq!(told(chair(Some(shift_m))), expected, "{shift_m}");
        }
        assert_eq!(chair(Some(0.124)).measured, Some(12.0));
        assert_eq!(told(chair(None)), not_known(Because::SeatedOnce));
    }

    #[test]
    fn others_and_what_moves_behind() {
        let of = |other_people, behind_s: &[(f64, f64)], front| {
            let pictures = Pictures { movement_behind_s: behind_s.to_vec(), ..Pictures::default() };
            let filming = Filming { other_people, pictures: Some(pictures), ..Filming::default() };
            others(&filming, front)
        };
        let behind = [(1.0, 2.0)];
        assert_eq!(told(of(0, &[], true)), good());
        assert_eq!(told(of(0, &behind, true)), usable(Because::MovementBehind));
        assert_eq!(of(0, &behind, true).when_s, behind);
        assert_eq!(told(of(0, &behind, false)), good());
        assert_eq!(told(of(2, &[], true)), usable(Because::OtherPeople));
        assert_eq!(told(of(2, &behind, true)), usable(Because::OtherPeople));
        assert_eq!(of(2, &[], true).measured, Some(2.0));
    }
}
