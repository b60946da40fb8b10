//! The list itself. An entry leaves out what [`Measure::PLAIN`] says already.

use super::{Column, Compared, Explained, Field, Kind, Mark, Measure, Said, Unit, Way};
use crate::judgement::document::word;

/// See its definition, as of all that follow.
pub const SEAT_OFF: Measure = Measure {
    about: Explained {
        key: "seat_off_s",
        definition: "The pelvis leaves the seat after the forward lean.",
        formula: "mean of hip and shoulder height leaves its nearest valley for good, by 2 % of the excursion",
        reads: "s from the first frame",
        validity: "About a frame.",
        source: "Phases [Schenkman1990]; threshold: design choice",
    },
    label: "Leaves the seat at",
    kind: Kind::Time,
    unit: Unit::Second,
    of: |rep| rep.seat_off_s,
    with_each_rep: true,
    column: Some(Column { head: "Begins", unit: "s", digits: 1, with_error: false }),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const STAND: Measure = Measure {
    about: Explained {
        key: "stand_s",
        definition: "Upright and at rest.",
        formula: "95 % of the excursion and speed below 5 % of the rise's peak; the latter by a line through √speed",
        reads: "s from the first frame",
        validity: "About two frames. Null where a recording of markers ends before it.",
        source: "[Schenkman1990]; thresholds: design choice; √speed from minimum jerk [Flash1985]",
    },
    label: "Stands at",
    kind: Kind::Time,
    unit: Unit::Second,
    of: |rep| rep.stand_s,
    with_each_rep: true,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const DESCENT_START: Measure = Measure {
    about: Explained {
        key: "descent_start_s",
        definition: "The descent begins.",
        formula: "downward speed reaches 5 % of the descent's peak, by a line through √depth",
        reads: "s from the first frame",
        validity: "About two frames.",
        source: "Threshold: design choice; the line is derived: between minimum-jerk [Flash1985] and sinusoidal descents",
    },
    label: "Goes down from",
    kind: Kind::Time,
    unit: Unit::Second,
    of: |rep| rep.descent_start_s,
    with_each_rep: true,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const SEAT_CONTACT: Measure = Measure {
    about: Explained {
        key: "seat_contact_s",
        definition: "The pelvis is back on the seat; in a drop, the impact.",
        formula: "pelvis height within 2 % of the excursion of its level right after",
        reads: "s from the first frame",
        validity: "About two frames; hip points settle a little early.",
        source: "Design choice",
    },
    label: "On the seat at",
    kind: Kind::Time,
    unit: Unit::Second,
    of: |rep| rep.seat_contact_s,
    with_each_rep: true,
    method_error: (0.09, 0.0),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const RISE: Measure = Measure {
    about: Explained {
        key: "rise_s",
        definition: "From seat-off to stand.",
        formula: "stand_s − seat_off_s",
        reads: "s",
        validity: "For orientation: healthy adults rise on two legs in 1.9 s and sit down in 2.0 s.",
        source: "[Kerr1997]",
    },
    label: "Way up",
    kind: Kind::Duration,
    unit: Unit::Second,
    of: |rep| rep.rise_s,
    with_each_rep: true,
    column: Some(Column { head: "Up", unit: "s", digits: 1, with_error: false }),
    compared: Some(Compared {
        place: 5,
        way: Way::Length,
        hope: "",
        least_change: None,
        drawn_over_weeks: false,
        drawn_by_leg: Some(2.0),
    }),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const STAND_TIME: Measure = Measure {
    about: Explained {
        key: "stand_time_s",
        definition: "Time standing.",
        formula: "descent_start_s − stand_s",
        reads: "s",
        validity: "About three frames.",
        source: "Derived",
    },
    label: "Standing for",
    kind: Kind::Duration,
    unit: Unit::Second,
    of: |rep| rep.stand_time_s,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const DESCENT: Measure = Measure {
    about: Explained {
        key: "descent_s",
        definition: "From descent start to seat contact.",
        formula: "seat_contact_s − descent_start_s",
        reads: "s",
        validity: "Sitting down takes longer than rising and slows before the chair.",
        source: "[Kerr1997], [Mourey1998]",
    },
    label: "Way down",
    kind: Kind::Duration,
    unit: Unit::Second,
    of: |rep| rep.descent_s,
    with_each_rep: true,
    column: Some(Column { head: "Down", unit: "s", digits: 1, with_error: false }),
    compared: Some(Compared {
        place: 3,
        way: Way::Length,
        hope: "",
        least_change: None,
        drawn_over_weeks: true,
        drawn_by_leg: Some(2.0),
    }),
    method_error: (0.08, 0.0),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const SEATED_PAUSE: Measure = Measure {
    about: Explained {
        key: "seated_pause_s",
        definition: "Rest on the seat before the rep; empty before the first.",
        formula: "seat_off_s − seat_contact_s of the rep before; where reps go from stand to stand, of its own",
        reads: "s",
        validity: "About two frames; hip points settle a little early.",
        source: "Derived",
    },
    label: "Rest before",
    kind: Kind::Duration,
    unit: Unit::Second,
    digits: 1,
    of: |rep| rep.seated_pause_s,
    with_each_rep: true,
    method_error: (0.09, 0.0),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const CYCLE: Measure = Measure {
    about: Explained {
        key: "cycle_s",
        definition: "From leaving the seat to leaving it again; empty for the last rep.",
        formula: "seat_off_s of the next rep − seat_off_s",
        reads: "s",
        validity: "About a frame.",
        source: "Derived",
    },
    label: "From rep to rep",
    kind: Kind::Duration,
    unit: Unit::Second,
    of: |rep| rep.cycle_s,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const EXCURSION: Measure = Measure {
    about: Explained {
        key: "excursion_m",
        definition: "How far the pelvis goes up.",
        formula: "pelvis height standing less seated; its size from the hip points at their own distance from the camera",
        reads: "m",
        validity: "As good as the scale, and what the hip point means on the seat differs between bodies.",
        source: "Derived; seated hip [Needham2021]",
    },
    label: "Way of the pelvis",
    unit: Unit::Metre,
    of: |rep| rep.excursion_m,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const DESCENT_MEAN: Measure = Measure {
    about: Explained {
        key: "descent_mean_m_s",
        definition: "Mean downward speed of the pelvis.",
        formula: "height lost / descent_s; the size of the pelvis' way from the hip points, its course from them and the shoulders less a trunk of constant length",
        reads: "m/s, downward positive",
        validity: "As good as the scale: about 3 % with stature given, 7 % without.",
        source: "Derived",
    },
    label: "Mean speed down",
    unit: Unit::MetrePerSecond,
    of: |rep| rep.descent_mean_m_s,
    with_each_rep: true,
    compared: Some(Compared {
        place: 6,
        way: Way::Speed,
        hope: "",
        least_change: None,
        drawn_over_weeks: false,
        drawn_by_leg: None,
    }),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const DESCENT_PEAK: Measure = Measure {
    about: Explained {
        key: "descent_peak_m_s",
        definition: "Largest downward speed.",
        formula: "parabola over 0.5 s, or the speed at the seat if that is larger",
        reads: "m/s, downward positive",
        validity: "A smooth descent of 0.40 m in 2 s peaks at 0.375 m/s; a free drop of 5 cm reaches 0.99 m/s. Drops are read too low, up to by half, at 30 frames per second.",
        source: "Derived; minimum jerk [Flash1985]",
    },
    label: "Top speed down",
    unit: Unit::MetrePerSecond,
    of: |rep| rep.descent_peak_m_s,
    with_each_rep: true,
    compared: Some(Compared {
        place: 7,
        way: Way::Speed,
        hope: "",
        least_change: None,
        drawn_over_weeks: false,
        drawn_by_leg: None,
    }),
    method_error: (0.0, 0.25),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const DESCENT_FINAL: Measure = Measure {
    about: Explained {
        key: "descent_final_m_s",
        definition: "Mean downward speed over the last tenth of the way. A drop is faster than its limit and faster than the rest of the same descent.",
        formula: "a tenth of the excursion / time for it before seat contact",
        reads: "m/s, downward positive",
        validity: "At 30 frames per second drops of 5 cm and more are seen, unless the whole descent was quick (about 1.2 s: then 10 cm); under 4 cm not. Film at 60.",
        source: "Derived",
    },
    label: "Speed at the seat",
    unit: Unit::MetrePerSecond,
    of: |rep| rep.descent_final_m_s,
    with_each_rep: true,
    column: Some(Column { head: "At seat", unit: "m/s", digits: 2, with_error: false }),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const FINAL_RATIO: Measure = Measure {
    about: Explained {
        key: "final_ratio",
        definition: "Speed over the last tenth of the way as against the mean of the same descent.",
        formula: "descent_final_m_s / descent_mean_m_s",
        reads: "none; 1 at constant speed, less when slowing before the seat",
        validity: "More than 2 for a drop, and as descent_final_m_s.",
        source: "Derived",
    },
    label: "Speed at the seat ÷ mean",
    of: |rep| rep.final_ratio,
    compared: Some(Compared {
        place: 8,
        way: Way::Size,
        hope: "Near or below 1 the seat is met softly.",
        least_change: None,
        drawn_over_weeks: false,
        drawn_by_leg: None,
    }),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const DESCENT_END: Measure = Measure {
    about: Explained {
        key: "descent_end_m_s",
        definition: "Speed at which the seat is reached.",
        formula: "slope at the contact of a parabola through the unfiltered heights of the last 0.2 s; shown, not judged",
        reads: "m/s, downward positive",
        validity: "Read far too low for short drops at 30 frames per second.",
        source: "Design choice; no published limit exists; wording [Berg1992] item 4",
    },
    label: "Speed on reaching the seat",
    unit: Unit::MetrePerSecond,
    of: |rep| rep.descent_end_m_s,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const DESCENT_ACCELERATION: Measure = Measure {
    about: Explained {
        key: "descent_acceleration_m_s2",
        definition: "Largest downward acceleration held for 80 ms.",
        formula: "largest minimum over 80 ms of the speed's derivative within the descent",
        reads: "m/s², downward positive",
        validity: "Sensitive to noise; a free fall has 9.8.",
        source: "Design choice",
    },
    label: "Acceleration down",
    unit: Unit::MetrePerSecondSquared,
    digits: 1,
    of: |rep| rep.descent_acceleration_m_s2,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const LOWER_HALF: Measure = Measure {
    about: Explained {
        key: "lower_half_percent",
        definition: "Share of the descent's time spent in its lower half.",
        formula: "time from half height to seat contact / descent_s",
        reads: "%",
        validity: "50 for a descent that ends as it began; less for one that ends fast.",
        source: "Derived",
    },
    label: "Time in the lower half",
    unit: Unit::Percent,
    digits: 0,
    of: |rep| rep.lower_half_percent,
    ..Measure::PLAIN
};

const KNEE_LEG: Mark = Mark {
    key: "knee_leg",
    definition: "The leg whose knee this is; where both are watched, the one further in.",
    of: |rep| Said::Words(rep.knee_leg.as_ref().and_then(word)),
};

#[allow(missing_docs)]
pub const KNEE_OFFSET_PEAK: Measure = Measure {
    about: Explained {
        key: "knee_offset_peak_cm",
        definition: "How far the knee centre is from the vertical plane through ankle and second toe of the standing foot, at its largest while the leg carries the body.",
        formula: "medial·(X_knee·cos ζ − z_knee·sin ζ), X across and z toward the camera from the ankle, ζ the foot's heading; z_knee from pelvis height by a two-link leg",
        reads: "cm, inward positive for either leg",
        validity: "Front view, body turned by no more than 20°. From film its standard error is 1–2 cm, told with each rep. Judged once the pelvis is 15 % of its way above the seat. Grades: 0 over the foot, 1 inside the second toe, 2 past the inner border of the foot.",
        source: "Grades [Piva2006], [Ressman2021], [Ageberg2010]; foot breadth [Winter2009]; computation derived",
    },
    label: "Knee inward",
    unit: Unit::Centimetre,
    digits: 1,
    of: |rep| rep.knee_offset_peak_cm,
    with_each_rep: true,
    column: Some(Column { head: "Knee", unit: "cm in", digits: 1, with_error: true }),
    compared: Some(Compared {
        place: 1,
        way: Way::Inward,
        hope: "Over the foot, near zero, is what is aimed at.",
        least_change: None,
        drawn_over_weeks: true,
        drawn_by_leg: Some(5.0),
    }),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const KNEE_OFFSET_OF_LEG: Measure = Measure {
    about: Explained {
        key: "knee_offset_peak_percent_leg",
        definition: "Furthest inward as a share of the leg's length.",
        formula: "knee_offset_peak_cm / length of thigh and shank, usual shares of the stature",
        reads: "% of leg length, inward positive for either leg",
        validity: "As knee_offset_peak_cm, without the error of the scale.",
        source: "Leg length [Winter2009]; computation derived",
    },
    label: "Knee inward",
    unit: Unit::PercentOfLegLength,
    digits: 1,
    of: |rep| rep.knee_offset_peak_percent_leg,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const KNEE_OFFSET_AT: Measure = Measure {
    about: Explained {
        key: "knee_offset_peak_at_s",
        definition: "When the knee was furthest inward, from the first frame.",
        formula: "time of knee_offset_peak_cm",
        reads: "s from the first frame",
        validity: "Vague where the knee hardly moves.",
        source: "Derived",
    },
    label: "Knee furthest inward at",
    kind: Kind::Time,
    unit: Unit::Second,
    of: |rep| rep.knee_offset_peak_at_s,
    ..Measure::PLAIN
};

const KNEE_OFFSET_PHASE: Mark = Mark {
    key: "knee_offset_peak_phase",
    definition: "The part of the rep in which it was.",
    of: |rep| Said::Words(rep.knee_offset_peak_phase.as_ref().and_then(word)),
};

#[allow(missing_docs)]
pub const KNEE_OFFSET_GRADE: Measure = Measure {
    about: Explained {
        key: "knee_offset_grade",
        definition: "0 over the foot, 1 inside the second toe, 2 past the inner border.",
        formula: "1 from twice the standard error of knee_offset_peak_cm on, 2 past its limit",
        reads: "grade 0 to 2",
        validity: "As knee_offset_peak_cm; near a border either grade may be right.",
        source: "[Piva2006]",
    },
    label: "Grade of the knee",
    kind: Kind::Grade,
    digits: 0,
    of: |rep| rep.knee_offset_grade.map(f64::from),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const KNEE_PAST_LIMIT: Measure = Measure {
    about: Explained {
        key: "knee_past_limit_s",
        definition: "How long the knee was past its limit.",
        formula: "longest stretch with the knee offset past its limit, clear of the seat",
        reads: "s",
        validity: "As knee_offset_peak_cm.",
        source: "Derived",
    },
    label: "Knee past its limit for",
    kind: Kind::Duration,
    unit: Unit::Second,
    of: |rep| rep.knee_past_limit_s,
    ..Measure::PLAIN
};

const KNEE_PAST_LIMIT_SPANS: Mark = Mark {
    key: "knee_past_limit_spans_s",
    definition: "When it was past it: from, to, from, to; spaces between.",
    of: |rep| {
        let ends = rep.knee_past_limit_spans_s.iter().flat_map(|(from, to)| [*from, *to]);
        Said::Words(Some(spaced(ends)))
    },
};

#[allow(missing_docs)]
pub const FPPA_PEAK: Measure = Measure {
    about: Explained {
        key: "fppa_peak_deg",
        definition: "Frontal plane projection angle: the inward bend of the line hip–knee–ankle as a camera square in front would see it. An inward knee position in the picture, not a joint angle.",
        formula: "atan2(kx−hx, hy−ky) + atan2(kx−ax, ky−ay), less atan(tan s·sin ψ) + atan(tan t·sin ψ) for a body turned by ψ; largest where the knee is bent 30–60°",
        reads: "degrees, inward positive, straight 0",
        validity: "Hip centre as the pose network sees it, which shifts the angle by 2–3°. From film its standard error is 5–8°, told with each rep. Agrees poorly with the knee's angle in three dimensions (r 0.20). Between sessions less than 8° is not a change.",
        source: "[Willson2006], [Munro2012]; limits of agreement [Haberkamp2022], [Straub2022]; correction derived",
    },
    label: "Knee angle (FPPA)",
    unit: Unit::Degree,
    digits: 0,
    of: |rep| rep.fppa_peak_deg,
    with_each_rep: true,
    compared: Some(Compared {
        place: 4,
        way: Way::Inward,
        hope: "",
        // Smallest detectable difference 7.5–8.9° (verified).
        least_change: Some((8.0, "Munro2012")),
        drawn_over_weeks: true,
        drawn_by_leg: None,
    }),
    ..Measure::PLAIN
};

const FPPA_PHASE: Mark = Mark {
    key: "fppa_peak_phase",
    definition: "The part of the rep in which the angle was largest.",
    of: |rep| Said::Words(rep.fppa_peak_phase.as_ref().and_then(word)),
};

#[allow(missing_docs)]
pub const FPPA_PICTURE_PEAK: Measure = Measure {
    about: Explained {
        key: "fppa_picture_peak_deg",
        definition: "The same angle as it is in the picture, not corrected for a turned body; for comparison with papers.",
        formula: "as fppa_peak_deg without the last two terms",
        reads: "degrees, inward positive",
        validity: "False by 6° at 60° of flexion with the body turned by 5°.",
        source: "[Willson2006], [Munro2012]",
    },
    label: "Knee angle in the picture",
    unit: Unit::Degree,
    digits: 0,
    of: |rep| rep.fppa_picture_peak_deg,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const WOBBLE: Measure = Measure {
    about: Explained {
        key: "wobble_cm",
        definition: "How much the knee shakes from side to side while loaded. A little early on is expected and should shrink over weeks; it is not a fault by itself.",
        formula: "root mean square of the knee offset between 0.7 and 6 Hz",
        reads: "cm",
        validity: "Front view. Below about 0.2 cm it is landmark noise. A quick inward dive counts into it too.",
        source: "Shake as rated in [Ressman2021]; band: design choice",
    },
    label: "Knee wobble",
    unit: Unit::Centimetre,
    digits: 1,
    of: |rep| rep.wobble_cm,
    with_each_rep: true,
    column: Some(Column { head: "Wobble", unit: "cm", digits: 1, with_error: false }),
    compared: Some(Compared {
        place: 2,
        way: Way::Size,
        hope: "It should shrink over the weeks.",
        least_change: None,
        drawn_over_weeks: true,
        drawn_by_leg: Some(1.0),
    }),
    method_error: (0.02, 0.0),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const WOBBLE_TURNS: Measure = Measure {
    about: Explained {
        key: "wobble_turns",
        definition: "How often the knee changed its direction from side to side.",
        formula: "changes of direction of the shake between swings larger than 0.5 cm",
        reads: "count",
        validity: "As wobble_cm.",
        source: "Design choice",
    },
    label: "Turns of the knee",
    kind: Kind::Count,
    digits: 0,
    of: |rep| rep.wobble_turns.map(|n| n as f64),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const TRUNK_LEAN: Measure = Measure {
    about: Explained {
        key: "trunk_lean_deg",
        definition: "Largest sideways lean of the trunk.",
        formula: "mid-hip to mid-shoulder against vertical in the picture, less what forward lean adds when the body is turned",
        reads: "degrees, toward the standing leg positive",
        validity: "Front view, level camera. 3–5° of error.",
        source: "[Dingenen2014], [Nakagawa2012]",
    },
    label: "Trunk lean sideways",
    unit: Unit::Degree,
    digits: 0,
    of: |rep| rep.trunk_lean_deg,
    with_each_rep: true,
    compared: Some(Compared {
        place: 9,
        way: Way::Size,
        hope: "",
        least_change: None,
        drawn_over_weeks: false,
        drawn_by_leg: None,
    }),
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const PELVIC_DROP: Measure = Measure {
    about: Explained {
        key: "pelvic_drop_deg",
        definition: "Largest drop of the free side of the pelvis.",
        formula: "line through the hip points against horizontal in the picture",
        reads: "degrees, free side lower positive",
        validity: "Front view, level camera. Hip points under clothes are vague.",
        source: "[Nakagawa2012]",
    },
    label: "Pelvic drop",
    unit: Unit::Degree,
    digits: 0,
    of: |rep| rep.pelvic_drop_deg,
    with_each_rep: true,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const FORWARD_LEAN: Measure = Measure {
    about: Explained {
        key: "forward_lean_deg",
        definition: "Forward lean of the trunk.",
        formula: "largest asin of (distance·(1 − shoulder breadth standing / now) − way of the hips back) / trunk; of markers the trunk's tilt",
        reads: "degrees, forward positive",
        validity: "From the front it is inferred from how much nearer, and so broader, the shoulders come, to about 10°.",
        source: "Derived",
    },
    label: "Trunk lean forward",
    unit: Unit::Degree,
    digits: 0,
    of: |rep| rep.forward_lean_deg,
    ..Measure::PLAIN
};

const TOUCHES: Mark = Mark {
    key: "free_foot_touches_s",
    definition: "When the free foot touched the floor.",
    of: |rep| Said::Words(Some(spaced(rep.free_foot_touches_s.iter().copied()))),
};

#[allow(missing_docs)]
pub const FREE_FOOT_HEIGHT: Measure = Measure {
    about: Explained {
        key: "free_foot_height_cm",
        definition: "Height of the free foot.",
        formula: "5th percentile over the rep of the free foot's height above where it stands",
        reads: "cm above the floor",
        validity: "From the front, feet on one level.",
        source: "Design choice",
    },
    label: "Free foot above the floor",
    unit: Unit::Centimetre,
    digits: 1,
    of: |rep| rep.free_foot_height_cm,
    ..Measure::PLAIN
};

const HANDS: Mark = Mark {
    key: "hands_used",
    definition: "A hand that stays on the thigh, or beside the hip at seat height, while the shoulders rise.",
    of: |rep| Said::Flag(rep.hands_used),
};

#[allow(missing_docs)]
pub const STANCE_FOOT_SHIFT: Measure = Measure {
    about: Explained {
        key: "stance_foot_shift_cm",
        definition: "How far the standing foot changed its place.",
        formula: "90th percentile over the rep of the foot's distance from its usual place",
        reads: "cm",
        validity: "Below about 1 cm it is landmark noise.",
        source: "Design choice",
    },
    label: "Standing foot moved",
    unit: Unit::Centimetre,
    digits: 1,
    of: |rep| rep.stance_foot_shift_cm,
    with_each_rep: true,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const STAND_PERCENT: Measure = Measure {
    about: Explained {
        key: "stand_percent",
        definition: "Height reached, against the person's own usual standing in this clip.",
        formula: "100·reached / upper quartile of all reps",
        reads: "%",
        validity: "80–92 % is an incomplete stand, less an attempt. If all reps are incomplete alike, it does not show.",
        source: "Design choice",
    },
    label: "Height reached",
    unit: Unit::Percent,
    digits: 0,
    of: |rep| rep.stand_percent,
    with_each_rep: true,
    ..Measure::PLAIN
};

const SPARC_FORMULA: &str =
    "−∫√((1/ω_c)² + (dV/dω)²)dω up to 10 Hz, amplitude threshold 0.05, of the pelvis speed";
const SPARC_VALIDITY: &str = "Compare a person with themselves, at the same frame rate.";
const JERK_FORMULA: &str = "−ln(T³/v_peak²·∫(d²v/dt²)²dt)";
const JERK_VALIDITY: &str = "Very sensitive to noise; compare at the same frame rate only.";
const JERK_SOURCE: &str = "[Balasubramanian2015], [SmoothReview2023]";

#[allow(missing_docs)]
pub const SPARC_RISE: Measure = Measure {
    about: Explained {
        key: "sparc_rise",
        definition: "Smoothness of the way up: spectral arc length.",
        formula: SPARC_FORMULA,
        reads: "none; −1.4 is the smoothest, more negative is less smooth",
        validity: SPARC_VALIDITY,
        source: "[Balasubramanian2015]",
    },
    label: "Smoothness up",
    of: |rep| rep.sparc_rise,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const SPARC_DESCENT: Measure = Measure {
    about: Explained {
        key: "sparc_descent",
        definition: "Smoothness of the way down: spectral arc length.",
        ..SPARC_RISE.about
    },
    label: "Smoothness down",
    of: |rep| rep.sparc_descent,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const JERK_RISE: Measure = Measure {
    about: Explained {
        key: "jerk_rise",
        definition: "Smoothness of the way up by log dimensionless jerk.",
        formula: JERK_FORMULA,
        reads: "none; −5.3 is the smoothest",
        validity: JERK_VALIDITY,
        source: JERK_SOURCE,
    },
    label: "Jerk up",
    of: |rep| rep.jerk_rise,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const JERK_DESCENT: Measure = Measure {
    about: Explained {
        key: "jerk_descent",
        definition: "Smoothness of the way down by log dimensionless jerk.",
        ..JERK_RISE.about
    },
    label: "Jerk down",
    of: |rep| rep.jerk_descent,
    ..Measure::PLAIN
};

#[allow(missing_docs)]
pub const WELL_SEEN: Measure = Measure {
    about: Explained {
        key: "well_seen_percent",
        definition: "Share of the rep in which the leg was well seen.",
        formula: "samples with hip, knee, ankle and foot seen / all samples of the rep",
        reads: "%",
        validity: "Below its limit the rep is not judged.",
        source: "Design choice",
    },
    label: "Leg well seen",
    kind: Kind::Sight,
    unit: Unit::Percent,
    digits: 0,
    of: |rep| Some(rep.well_seen_percent),
    with_each_rep: true,
    ..Measure::PLAIN
};

/// All fields of a rep in the order of the document, but its number, verdict and reasons,
/// and what there is to each of them.
pub(super) static FIELDS: [Field; 43] = [
    Field::Number(&SEAT_OFF),
    Field::Number(&STAND),
    Field::Number(&DESCENT_START),
    Field::Number(&SEAT_CONTACT),
    Field::Number(&RISE),
    Field::Number(&STAND_TIME),
    Field::Number(&DESCENT),
    Field::Number(&SEATED_PAUSE),
    Field::Number(&CYCLE),
    Field::Number(&EXCURSION),
    Field::Number(&DESCENT_MEAN),
    Field::Number(&DESCENT_PEAK),
    Field::Number(&DESCENT_FINAL),
    Field::Number(&FINAL_RATIO),
    Field::Number(&DESCENT_END),
    Field::Number(&DESCENT_ACCELERATION),
    Field::Number(&LOWER_HALF),
    Field::Mark(&KNEE_LEG),
    Field::Number(&KNEE_OFFSET_PEAK),
    Field::Number(&KNEE_OFFSET_OF_LEG),
    Field::Number(&KNEE_OFFSET_AT),
    Field::Mark(&KNEE_OFFSET_PHASE),
    Field::Number(&KNEE_OFFSET_GRADE),
    Field::Number(&KNEE_PAST_LIMIT),
    Field::Mark(&KNEE_PAST_LIMIT_SPANS),
    Field::Number(&FPPA_PEAK),
    Field::Mark(&FPPA_PHASE),
    Field::Number(&FPPA_PICTURE_PEAK),
    Field::Number(&WOBBLE),
    Field::Number(&WOBBLE_TURNS),
    Field::Number(&TRUNK_LEAN),
    Field::Number(&PELVIC_DROP),
    Field::Number(&FORWARD_LEAN),
    Field::Mark(&TOUCHES),
    Field::Number(&FREE_FOOT_HEIGHT),
    Field::Mark(&HANDS),
    Field::Number(&STANCE_FOOT_SHIFT),
    Field::Number(&STAND_PERCENT),
    Field::Number(&SPARC_RISE),
    Field::Number(&SPARC_DESCENT),
    Field::Number(&JERK_RISE),
    Field::Number(&JERK_DESCENT),
    Field::Number(&WELL_SEEN),
];

/// What else `explain` tells of.
pub(crate) static OTHERS: [Explained; 3] = [
    Explained {
        key: TOUCHES.key,
        definition: TOUCHES.definition,
        formula: "kink of the foot's height by more than 0.35 m/s after coming down 5 cm and before going up as much",
        reads: "s from the first frame",
        validity: "A slow, soft placing of the foot, or of one held lower than 5 cm, is missed.",
        source: "Design choice",
    },
    Explained {
        key: HANDS.key,
        definition: HANDS.definition,
        formula: "hand moves less than 30 % of the shoulders' rise",
        reads: "true, false or unknown",
        validity: "Unknown where a hand is hidden.",
        source: "Design choice",
    },
    Explained {
        key: "standard_error",
        definition: "How far a number may well be off: the spread that errors of the landmarks, of the body's proportions and of the camera's level give it. The truth lies within twice this in about 95 of 100 cases, on rendered people.",
        formula: "standard deviation over 24 trials with all of these disturbed; for contact, descent time, peak speed and wobble an error of the method is added",
        reads: "that of the number; columns ..._standard_error in reps.csv",
        validity: "From film. Where the hip joint is under the skin is not in it. Markers of a laboratory get none.",
        source: "[JCGM101]",
    },
];

fn spaced(numbers: impl Iterator<Item = f64>) -> String {
    numbers.map(|n| format!("{n:?}")).collect::<Vec<_>>().join(" ")
}
