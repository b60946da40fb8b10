//! Words about the filming: what a finding means, and what to do.

use crate::film_check::{Aspect, Because, Finding, Grade, overall};

/// The film in one sentence.
pub fn headline(findings: &[Finding]) -> String {
    let count = |grade: Grade| findings.iter().filter(|f| f.grade == grade).count();
    let (again, usable) = (count(Grade::FilmAgain), count(Grade::Usable));
    let things = |n: usize| if n == 1 { "one thing".into() } else { format!("{n} things") };
    match overall(findings) {
        Grade::Good => "The film is good: assess it.".into(),
        Grade::Usable => {
            format!("The film can be assessed; {} could be better.", things(usable))
        }
        Grade::FilmAgain => format!("Film again: {} must be put right.", things(again)),
        Grade::NotTold => "Nothing can be told about this film.".into(),
    }
}

/// A grade in a word, with a mark that does not rely on colour.
pub fn grade(grade: Grade) -> (&'static str, &'static str) {
    match grade {
        Grade::Good => (" ", "good"),
        Grade::Usable => ("~", "usable"),
        Grade::FilmAgain => ("!", "film again"),
        Grade::NotTold => ("?", "not told"),
    }
}

/// An aspect in a few words.
pub fn aspect(aspect: Aspect) -> &'static str {
    match aspect {
        Aspect::InView => "Body and feet in view",
        Aspect::Rises => "Rises seen",
        Aspect::Turn => "Person faces the camera",
        Aspect::Level => "Camera level",
        Aspect::Height => "Camera height",
        Aspect::Still => "Camera held still",
        Aspect::Distance => "Distance",
        Aspect::Size => "Size of the person",
        Aspect::FrameRate => "Frames per second",
        Aspect::Light => "Light",
        Aspect::Sharpness => "Sharpness",
        Aspect::Chair => "Same place on the seat",
        Aspect::Others => "Other people",
    }
}

/// The number of a finding, as people say it; empty where there is none.
pub fn measured(finding: &Finding) -> String {
    let Some(value) = finding.measured else { return String::new() };
    let size = value.abs();
    let error = finding.standard_error.map_or(String::new(), |e| format!(" ±{e:.1}"));
    match finding.aspect {
        Aspect::InView => format!("{value:.0} % of the time"),
        Aspect::Turn => format!("turned by {size:.0}°{error}"),
        Aspect::Level => format!("tilted by {size:.1}°{error}"),
        Aspect::Height | Aspect::Distance => format!("about {value:.1} m{error}"),
        Aspect::Still => format!("sways by {value:.1} cm"),
        Aspect::Size => format!("{value:.0} pixels tall"),
        Aspect::Light => format!("person {value:.0} of 255"),
        Aspect::Sharpness => format!("edges {value:.1} cm wide"),
        Aspect::Chair => format!("within {value:.0} cm sideways"),
        Aspect::Others if finding.because.is_none() => "none seen".into(),
        Aspect::Others if value == 0.0 => "perhaps".into(),
        Aspect::Rises | Aspect::FrameRate | Aspect::Others => format!("{value:.0}"),
    }
}

/// What a finding means and what to do, in a sentence or two; `None` for a good one.
pub fn advice(finding: &Finding) -> Option<String> {
    let because = finding.because?;
    let value = finding.measured.unwrap_or(0.0);
    let size = value.abs();
    Some(match because {
        Because::PersonLost => {
            "The person was not found in part of the film. Film the whole body, with light on \
             it and nobody in between."
                .into()
        }
        Because::FeetOut => "A foot leaves the picture. Move the camera back, or tip it down, \
             until both feet stay in view."
            .into(),
        Because::LegOut => "Part of the body leaves the picture. Move the camera back, or turn \
             it, until the whole body stays in view."
            .into(),
        Because::HeadOut => {
            "The head leaves the picture. The knee can be judged without it; move the camera \
             back if you can."
                .into()
        }
        Because::NoRise => match finding.aspect {
            Aspect::Rises => "No rise from a chair was seen. Film at least one whole rise: start \
                 seated, stand up, sit down."
                .into(),
            _ => "This needs a rise to measure by.".into(),
        },
        Because::Turned if finding.grade == Grade::FilmAgain => format!(
            "The body is turned by about {size:.0}° from the camera: knee over foot cannot be \
             judged. Put the camera straight in front."
        ),
        Because::Turned => format!(
            "The body is turned by about {size:.0}° from the camera. Angles are corrected for \
             it, less surely. Put the camera straight in front."
        ),
        Because::FromTheSide => "Filmed from the side: rise and descent can be judged, knee over \
             foot cannot. Film from the front."
            .into(),
        Because::NotFromTheFront => "Not filmed from the front: knee over foot cannot be judged. \
             Put the camera straight in front."
            .into(),
        Because::Tilted => {
            let way = if value > 0.0 { "left" } else { "right" };
            format!(
                "The camera is tilted to its {way} by about {size:.0}°: that shifts the knee \
                 sideways by {:.0} cm. Put it level.",
                100.0 * knee_shift_m(size)
            )
        }
        Because::NoLines => "No upright lines behind the person to tell whether the camera is \
             level. Look at the grid of the phone's camera."
            .into(),
        Because::NoFoot => "How high the camera stands needs a rise seen from the front, or \
             upright lines behind the person. Knee height is best."
            .into(),
        Because::TooHigh => {
            format!("The camera stands high, at about {value:.1} m. Put it at knee height.")
        }
        Because::TooLow => {
            format!("The camera stands low, at about {value:.1} m. Put it at knee height.")
        }
        Because::Moved => {
            format!(
                "The camera moved ({}); reps meanwhile are not judged. Put it on something firm \
                 and do not touch it.",
                spans(finding)
            )
        }
        Because::Shaky => format!(
            "The picture sways by {value:.1} cm at the person. Put the camera on something \
             firm instead of holding it."
        ),
        Because::NoBackground => {
            "Too little behind the person to tell whether the camera stands still.".into()
        }
        Because::TooNear => format!(
            "The camera is near, at about {value:.1} m: whatever comes forward looks too large. \
             Move it back to 2 to 4 m."
        ),
        Because::TooFar => {
            format!("The camera is far, at about {value:.1} m. 2 to 4 m are better.")
        }
        Because::TooSmall => format!(
            "The person is only {value:.0} pixels tall. Move the camera nearer, or film in a \
             higher resolution."
        ),
        Because::TooFewFrames => format!(
            "{value:.0} frames per second are too few to time a rise. Film at 60, or at 30."
        ),
        Because::FewFramesForDrops => format!(
            "At {value:.0} frames per second a drop onto the seat cannot be seen. Film at 60."
        ),
        Because::FewFramesForShortDrops => format!(
            "At {value:.0} frames per second short drops under 4 cm cannot be seen. Film at 60 \
             to see them."
        ),
        Because::Dark => "The film is dark. Put more light on the person.".into(),
        Because::Backlit => "The person stands against the light. Put the window or the lamp \
             behind the camera, or draw the curtain."
            .into(),
        Because::OutOfFocus => "The person is blurred. Wipe the lens, tap on the person to \
             focus, and give it more light."
            .into(),
        Because::MotionBlur => "The person is blurred while moving. More light makes the \
             pictures sharper."
            .into(),
        Because::NoEdges => "Too little contrast at the person to tell how sharp it is.".into(),
        Because::SeatShifted => format!(
            "The hips come to rest up to {value:.0} cm apart, sideways. Look whether the chair \
             slides, and put it against a wall."
        ),
        Because::SeatedOnce => "Whether the chair stays in place needs two rests on it. Put it \
             against a wall in any case."
            .into(),
        Because::MovementBehind => format!(
            "Something moves beside or behind the person ({}), perhaps somebody else. Film with \
             nobody else in the picture.",
            spans(finding)
        ),
        Because::OtherPeople if value > 1.0 => {
            format!("{value:.0} other people were in the picture; the one who rises is followed.")
        }
        Because::OtherPeople => {
            "Another person was in the picture; the one who rises is followed.".into()
        }
        Because::NoPictures => {
            "Not told by this film: an old session, or too little of the person in it.".into()
        }
    })
}

/// «3–7 s, 12 s».
fn spans(finding: &Finding) -> String {
    let each: Vec<String> = finding
        .when_s
        .iter()
        .map(|(from, to)| match (from.round(), to.round()) {
            (from, to) if from == to => format!("{from:.0} s"),
            (from, to) => format!("{from:.0}–{to:.0} s"),
        })
        .collect();
    each.join(", ")
}

/// Sideways shift of a knee 0.42 m above the ankle in a picture tilted by `roll_deg`,
/// metres: the shank of somebody of usual stature.
fn knee_shift_m(roll_deg: f64) -> f64 {
    crate::body::anthropometry::SHANK
        * crate::body::anthropometry::TYPICAL_STATURE_M
        * roll_deg.to_radians().sin()
}

/// What an assessment says of the filming: advice of what is not good, worst first, or one
/// line if all of a film is. What cannot be told is left out: the assessment shows by
/// itself what it could not see.
pub fn notes(findings: &[Finding], is_film: bool) -> Vec<String> {
    let mut worst: Vec<&Finding> = findings.iter().filter(|f| f.grade >= Grade::Usable).collect();
    worst.sort_by_key(|f| std::cmp::Reverse(f.grade));
    if worst.is_empty() && is_film && !findings.is_empty() {
        return vec!["Filmed well, as far as can be told.".into()];
    }
    worst.into_iter().filter_map(advice).collect()
}
