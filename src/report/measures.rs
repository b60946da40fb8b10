//! What each measure is: definition, formula, unit, limits of validity, source.

/// One measure explained.
#[derive(Debug, Clone, Copy)]
pub struct Measure {
    /// Its field in the document.
    pub name: &'static str,
    /// What it is, in one or two sentences.
    pub definition: &'static str,
    /// How it is computed.
    pub formula: &'static str,
    /// Unit and sign.
    pub unit: &'static str,
    /// Where it can be trusted and where not.
    pub validity: &'static str,
    /// Publications by key, or «design choice», «derived», «common practice».
    pub source: &'static str,
}

impl Measure {
    /// A key, as «[Winter2009]», is among its sources.
    pub fn cites(&self, key: &str) -> bool {
        self.source.contains(key) || self.validity.contains(key)
    }
}

/// All measures, in the order in which they matter.
pub const MEASURES: &[Measure] = &[
    Measure {
        name: "knee_offset_peak_cm",
        definition: "How far the knee centre is from the vertical plane through ankle and second toe of the standing foot, at its largest while the leg carries the body.",
        formula: "medial·(X_knee·cos ζ − z_knee·sin ζ), X across and z toward the camera from the ankle, ζ the foot's heading; z_knee from pelvis height by a two-link leg",
        unit: "cm, inward positive for either leg",
        validity: "Front view, body turned by no more than 20°. From film its standard error is 1–2 cm, told with each rep. Judged once the pelvis is 15 % of its way above the seat. Grades: 0 over the foot, 1 inside the second toe, 2 past the inner border of the foot.",
        source: "Grades [Piva2006], [Ressman2021], [Ageberg2010]; foot breadth [Winter2009]; computation derived",
    },
    Measure {
        name: "fppa_peak_deg",
        definition: "Frontal plane projection angle: the inward bend of the line hip–knee–ankle as a camera square in front would see it. An inward knee position in the picture, not a joint angle.",
        formula: "atan2(kx−hx, hy−ky) + atan2(kx−ax, ky−ay), less atan(tan s·sin ψ) + atan(tan t·sin ψ) for a body turned by ψ; largest where the knee is bent 30–60°",
        unit: "degrees, inward positive, straight 0",
        validity: "Hip centre as the pose network sees it, which shifts the angle by 2–3°. From film its standard error is 5–8°, told with each rep. Agrees poorly with the knee's angle in three dimensions (r 0.20). Between sessions less than 8° is not a change.",
        source: "[Willson2006], [Munro2012]; limits of agreement [Haberkamp2022], [Straub2022]; correction derived",
    },
    Measure {
        name: "fppa_picture_peak_deg",
        definition: "The same angle as it is in the picture, not corrected for a turned body; for comparison with papers.",
        formula: "as fppa_peak_deg without the last two terms",
        unit: "degrees, inward positive",
        validity: "False by 6° at 60° of flexion with the body turned by 5°.",
        source: "[Willson2006], [Munro2012]",
    },
    Measure {
        name: "wobble_cm",
        definition: "How much the knee shakes from side to side while loaded. A little early on is expected and should shrink over weeks; it is not a fault by itself.",
        formula: "root mean square of the knee offset between 0.7 and 6 Hz; wobble_turns counts changes of direction larger than 0.5 cm",
        unit: "cm",
        validity: "Front view. Below about 0.2 cm it is landmark noise. A quick inward dive counts into it too.",
        source: "Shake as rated in [Ressman2021]; band: design choice",
    },
    Measure {
        name: "seat_off_s",
        definition: "The pelvis leaves the seat after the forward lean.",
        formula: "mean of hip and shoulder height leaves its nearest valley for good, by 2 % of the excursion",
        unit: "s from the first frame",
        validity: "About a frame.",
        source: "Phases [Schenkman1990]; threshold: design choice",
    },
    Measure {
        name: "stand_s",
        definition: "Upright and at rest.",
        formula: "95 % of the excursion and speed below 5 % of the rise's peak; the latter by a line through √speed",
        unit: "s from the first frame",
        validity: "About two frames. Null where a recording of markers ends before it.",
        source: "[Schenkman1990]; thresholds: design choice; √speed from minimum jerk [Flash1985]",
    },
    Measure {
        name: "descent_start_s",
        definition: "The descent begins.",
        formula: "downward speed reaches 5 % of the descent's peak, by a line through √depth",
        unit: "s from the first frame",
        validity: "About two frames.",
        source: "Threshold: design choice; the line is derived: between minimum-jerk [Flash1985] and sinusoidal descents",
    },
    Measure {
        name: "seat_contact_s",
        definition: "The pelvis is back on the seat; in a drop, the impact.",
        formula: "pelvis height within 2 % of the excursion of its level right after",
        unit: "s from the first frame",
        validity: "About two frames; hip points settle a little early.",
        source: "Design choice",
    },
    Measure {
        name: "rise_s",
        definition: "From seat-off to stand.",
        formula: "stand_s − seat_off_s",
        unit: "s",
        validity: "For orientation: healthy adults rise on two legs in 1.9 s and sit down in 2.0 s.",
        source: "[Kerr1997]",
    },
    Measure {
        name: "descent_s",
        definition: "From descent start to seat contact.",
        formula: "seat_contact_s − descent_start_s",
        unit: "s",
        validity: "Sitting down takes longer than rising and slows before the chair.",
        source: "[Kerr1997], [Mourey1998]",
    },
    Measure {
        name: "descent_mean_m_s",
        definition: "Mean downward speed of the pelvis.",
        formula: "height lost / descent_s; the size of the pelvis' way from the hip points, its course from them and the shoulders less a trunk of constant length",
        unit: "m/s, downward positive",
        validity: "As good as the scale: about 3 % with stature given, 7 % without.",
        source: "Derived",
    },
    Measure {
        name: "descent_peak_m_s",
        definition: "Largest downward speed.",
        formula: "parabola over 0.5 s, or the speed at the seat if that is larger",
        unit: "m/s, downward positive",
        validity: "A smooth descent of 0.40 m in 2 s peaks at 0.375 m/s; a free drop of 5 cm reaches 0.99 m/s. Drops are read too low, up to by half, at 30 frames per second.",
        source: "Derived; minimum jerk [Flash1985]",
    },
    Measure {
        name: "descent_final_m_s",
        definition: "Mean downward speed over the last tenth of the way. A drop is faster than its limit and faster than the rest of the same descent.",
        formula: "a tenth of the excursion / time for it before seat contact; final_ratio divides by the mean speed",
        unit: "m/s; ratio without unit",
        validity: "Ratio 1 at constant speed, less when slowing before the seat, more than 2 for a drop. At 30 frames per second drops of 5 cm and more are seen, unless the whole descent was quick (about 1.2 s: then 10 cm); under 4 cm not. Film at 60.",
        source: "Derived",
    },
    Measure {
        name: "descent_end_m_s",
        definition: "Speed at which the seat is reached.",
        formula: "slope at the contact of a parabola through the unfiltered heights of the last 0.2 s; shown, not judged",
        unit: "m/s, downward positive",
        validity: "Read far too low for short drops at 30 frames per second.",
        source: "Design choice; no published limit exists; wording [Berg1992] item 4",
    },
    Measure {
        name: "sparc_rise",
        definition: "Smoothness of the pelvis speed: spectral arc length (sparc_rise, sparc_descent).",
        formula: "−∫√((1/ω_c)² + (dV/dω)²)dω up to 10 Hz, amplitude threshold 0.05",
        unit: "none; −1.4 is the smoothest, more negative is less smooth",
        validity: "Compare a person with themselves, at the same frame rate.",
        source: "[Balasubramanian2015]",
    },
    Measure {
        name: "jerk_rise",
        definition: "Smoothness by log dimensionless jerk (jerk_rise, jerk_descent).",
        formula: "−ln(T³/v_peak²·∫(d²v/dt²)²dt)",
        unit: "none; −5.3 is the smoothest",
        validity: "Very sensitive to noise; compare at the same frame rate only.",
        source: "[Balasubramanian2015], [SmoothReview2023]",
    },
    Measure {
        name: "trunk_lean_deg",
        definition: "Largest sideways lean of the trunk.",
        formula: "mid-hip to mid-shoulder against vertical in the picture, less what forward lean adds when the body is turned",
        unit: "degrees, toward the standing leg positive",
        validity: "Front view, level camera. 3–5° of error.",
        source: "[Dingenen2014], [Nakagawa2012]",
    },
    Measure {
        name: "pelvic_drop_deg",
        definition: "Largest drop of the free side of the pelvis.",
        formula: "line through the hip points against horizontal in the picture",
        unit: "degrees, free side lower positive",
        validity: "Front view, level camera. Hip points under clothes are vague.",
        source: "[Nakagawa2012]",
    },
    Measure {
        name: "stand_percent",
        definition: "Height reached, against the person's own usual standing in this clip.",
        formula: "100·reached / upper quartile of all reps",
        unit: "%",
        validity: "80–92 % is an incomplete stand, less an attempt. If all reps are incomplete alike, it does not show.",
        source: "Design choice",
    },
    Measure {
        name: "free_foot_touches_s",
        definition: "When the free foot touched the floor.",
        formula: "kink of the foot's height by more than 0.35 m/s after coming down 5 cm and before going up as much",
        unit: "s from the first frame",
        validity: "A slow, soft placing of the foot, or of one held lower than 5 cm, is missed.",
        source: "Design choice",
    },
    Measure {
        name: "standard_error",
        definition: "How far a number may well be off: the spread that errors of the landmarks, of the body's proportions and of the camera's level give it. The truth lies within twice this in about 95 of 100 cases, on rendered people.",
        formula: "standard deviation over 24 trials with all of these disturbed; for contact, descent time, peak speed and wobble an error of the method is added",
        unit: "that of the number; columns ..._standard_error in reps.csv",
        validity: "From film. Where the hip joint is under the skin is not in it. Markers of a laboratory get none.",
        source: "[JCGM101]",
    },
    Measure {
        name: "hands_used",
        definition: "A hand that stays on the thigh, or beside the hip at seat height, while the shoulders rise.",
        formula: "hand moves less than 30 % of the shoulders' rise",
        unit: "true, false or unknown",
        validity: "Unknown where a hand is hidden.",
        source: "Design choice",
    },
];

/// The measure of that name, of a name it begins with, or whose entry also
/// covers it (as that of `sparc_rise` does `sparc_descent`).
pub fn find(name: &str) -> Option<&'static Measure> {
    if name.len() < 4 {
        return None;
    }
    let covers = |m: &&Measure| {
        let words = |text: &str| {
            text.split(|c: char| !c.is_alphanumeric() && c != '_').any(|word| word == name)
        };
        name.contains('_') && (words(m.definition) || words(m.formula))
    };
    let exact = MEASURES.iter().find(|m| m.name == name);
    exact
        .or_else(|| MEASURES.iter().find(|m| m.name.starts_with(name)))
        .or_else(|| MEASURES.iter().find(covers))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn measures_are_found_by_name_beginning_and_cover() {
        let name = |text| find(text).map(|m| m.name);
        assert_eq!(name("knee_offset"), Some("knee_offset_peak_cm"));
        assert_eq!(name("sparc_descent"), Some("sparc_rise"));
        assert_eq!(name("final_ratio"), Some("descent_final_m_s"));
        assert_eq!(name("happiness"), None);
        assert_eq!(name(""), None);
    }
}
