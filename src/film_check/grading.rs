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
