//! Body proportions as shares of stature, from published tables.
//!
//! [Drillis1966] as drawn in [Winter2009] figure 4.1. Thigh, shank, knee and
//! ankle height are checked in a second source; the others are from memory
//! and cross-checked by their sums (0.039 + 0.246 + 0.245 = 0.530;
//! 0.530 + 0.288 = 0.818).

/// Hip joint to knee joint.
pub const THIGH: f64 = 0.245;
/// Knee joint to ankle joint.
pub const SHANK: f64 = 0.246;
/// Ankle joint above the floor.
pub const ANKLE_HEIGHT: f64 = 0.039;
/// Acromion above the floor.
pub const ACROMION_HEIGHT: f64 = 0.818;
/// Foot breadth at the ball; half of it reaches from the second toe's line to
/// the inner border.
pub const FOOT_BREADTH: f64 = 0.055;
/// The centre of the shoulder joint below the acromion, from memory.
pub const ACROMION_TO_JOINT: f64 = 0.020;
/// Shoulder joint above the ankle joint, standing: what the landmarks show.
pub const ANKLE_TO_SHOULDER: f64 = ACROMION_HEIGHT - ACROMION_TO_JOINT - ANKLE_HEIGHT;
/// Breadth of the knee between its outer and inner side, with the skin: half of
/// it lies between a marker outside and the joint's centre. Common practice,
/// no source.
pub const KNEE_BREADTH: f64 = 0.060;
/// The same of the ankle between the malleoli. Common practice, no source.
pub const ANKLE_BREADTH: f64 = 0.042;
/// Ankle joint to the tip of the second toe, along the foot. Derived: foot
/// length 0.152 ([Drillis1966]) less about a quarter behind the ankle.
pub const ANKLE_TO_TOE: f64 = 0.112;
/// The back of the heel behind the ankle joint. Derived: what remains of the
/// foot's length, 0.152 ([Drillis1966]).
pub const HEEL_TO_ANKLE: f64 = 0.152 - ANKLE_TO_TOE;
/// The network's foot point lies at the big toe; from there to the second
/// toe's line. Derived: the big toe fills the inner 30 % of the foot's breadth,
/// its middle is 0.35 of the breadth from the foot's middle line.
pub const BIG_TOE_TO_SECOND: f64 = 0.25 * FOOT_BREADTH;
/// Turn-out of the foot in quiet standing and walking, degrees: mean and
/// spread between healthy adults. [Murray1964], from memory.
pub const TOE_OUT_DEG: (f64, f64) = (7.0, 6.0);
/// Hip joint above the seat when sitting, metres, with its spread. Common
/// practice, no source.
pub const HIP_ABOVE_SEAT_M: (f64, f64) = (0.08, 0.02);
/// An adult's stature where nobody gave one, metres; used only for lengths
/// that hardly matter (perspective, foot length). Common practice, no source.
pub const TYPICAL_STATURE_M: f64 = 1.70;

#[cfg(test)]
mod tests {
    use super::*;

    /// Sums of [Winter2009] figure 4.1.
    #[test]
    fn shares_add_up() {
        assert!((ANKLE_HEIGHT + SHANK - 0.285).abs() < 1e-9, "knee height");
        assert!((ANKLE_HEIGHT + SHANK + THIGH - 0.530).abs() < 1e-9, "hip height");
    }
}
