//! Marker files of a movement in closed form.

use std::fmt::Write as _;

/// Rate of the made files, per second.
pub const RATE_HZ: f64 = 100.0;
/// Shank and thigh, metres.
pub const LINK_M: f64 = 0.42;
/// Hip above the ankle standing and seated, metres.
pub const HIP_M: (f64, f64) = (0.80, 0.40);
/// Duration of rise and descent, seconds.
pub const RISE_S: f64 = 1.6;
pub const DESCENT_S: f64 = 2.0;
/// How far the knees are inside the vertical plane of the foot, metres.
pub const INWARD_M: f64 = 0.02;

/// Share of a minimum-jerk way (Flash and Hogan 1985).
pub fn way(t: f64) -> f64 {
    let t = t.clamp(0.0, 1.0);
    t.powi(3) * (10.0 - 15.0 * t + 6.0 * t * t)
}

/// Pieces of a set: (seconds, hip height at the end as a share of the rise).
pub fn height_m(pieces: &[(f64, f64)], start: f64, time_s: f64) -> f64 {
    let (mut level, mut from_s) = (start, 0.0);
    for (duration_s, to) in pieces {
        if time_s < from_s + duration_s {
            level += (to - level) * way((time_s - from_s) / duration_s);
            break;
        }
        (level, from_s) = (*to, from_s + duration_s);
    }
    HIP_M.1 + level * (HIP_M.0 - HIP_M.1)
}

/// A marker file in millimetres, Z up, the person facing −X: a two-link leg over
/// planted feet, the hip always above the ankle, pelvis and trunk upright.
pub fn made(pieces: &[(f64, f64)], start: f64) -> String {
    let total_s: f64 = pieces.iter().map(|(s, _)| s).sum();
    made_between(pieces, start, (0.0, total_s))
}

/// The same, recorded from one moment to another only, seconds.
pub fn made_between(pieces: &[(f64, f64)], start: f64, (from_s, to_s): (f64, f64)) -> String {
    let rows = ((to_s - from_s) * RATE_HZ).round() as usize;
    // Inverse of the regression of Harrington 2007 for a pelvis 240 wide and 160
    // deep: where the front markers are when the hips are at (0, 0, h).
    let (ahead, above) = (0.24 * 160.0 + 9.9, 0.30 * 240.0 + 10.9);
    let hip_aside = 0.33 * 240.0 + 7.3;
    let names = ["ASI", "PSI", "SHO", "KNE", "KNM", "ANK", "MED", "HEE", "TOE"];
    let mut text = String::from("PathFileType\t4\t(X/Y/Z)\tmade.trc\n");
    text += "DataRate\tCameraRate\tNumFrames\tNumMarkers\tUnits\n";
    let _ = writeln!(text, "{RATE_HZ}\t{RATE_HZ}\t{rows}\t18\tmm\nFrame#\tTime\t{}\t\t", {
        let all: Vec<String> =
            names.iter().flat_map(|n| [format!("P:L{n}"), format!("P:R{n}")]).collect();
        all.join("\t\t\t")
    });
    text += "\t\tX1\tY1\tZ1\n\n";
    for row in 0..rows {
        let time_s = row as f64 / RATE_HZ;
        let hip = 1000.0 * height_m(pieces, start, from_s + time_s);
        let knee_ahead = ((1000.0 * LINK_M).powi(2) - (hip / 2.0).powi(2)).sqrt();
        let inward = 1000.0 * INWARD_M;
        let floor = 70.0;
        let _ = write!(text, "{}\t{time_s:.3}", row + 1);
        // Per name: ahead, aside (of the middle), above the floor.
        for (forward, aside, up) in [
            (ahead, 120.0, floor + hip + above),
            (ahead - 160.0, 40.0, floor + hip + above),
            (0.0, 180.0, floor + hip + 520.0),
            (knee_ahead, hip_aside - inward + 50.0, floor + hip / 2.0),
            (knee_ahead, hip_aside - inward - 50.0, floor + hip / 2.0),
            (0.0, hip_aside + 35.0, floor),
            (0.0, hip_aside - 35.0, floor),
            (-50.0, hip_aside, 30.0),
            (150.0, hip_aside, 30.0),
        ] {
            // Facing −X, the left is at −Y.
            let _ = write!(text, "\t{:.3}\t{:.3}\t{up:.3}", -forward, -aside);
            let _ = write!(text, "\t{:.3}\t{aside:.3}\t{up:.3}", -forward);
        }
        text.push('\n');
    }
    text
}

/// Seated, up, stand, down, seated, …
pub fn sets(count: usize) -> Vec<(f64, f64)> {
    let one = [(RISE_S, 1.0), (1.0, 1.0), (DESCENT_S, 0.0), (1.0, 0.0)];
    std::iter::once((1.0, 0.0)).chain(one.iter().copied().cycle().take(4 * count)).collect()
}
