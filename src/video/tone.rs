//! HDR to ordinary brightness, one curve per channel.
//!
//! The pose network was trained on ordinary pictures. HLG and PQ code values
//! are turned to light, divided by the light of reference white (203 cd/m²,
//! ITU-R BT.2408), compressed above it and encoded as sRGB. Gamut is left
//! alone. Formulas: ITU-R BT.2100-2 tables 4 and 5, IEC 61966-2-1.

use image::RgbImage;

const REFERENCE_WHITE_CD_M2: f64 = 203.0;
/// BT.2100: nominal peak of an HLG display.
const HLG_PEAK_CD_M2: f64 = 1000.0;
const HLG_SYSTEM_GAMMA: f64 = 1.2;
const PQ_PEAK_CD_M2: f64 = 10_000.0;

/// The HDR transfer functions of ITU-R BT.2100.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hdr {
    /// Hybrid log-gamma.
    Hlg,
    /// Perceptual quantiser.
    Pq,
}

/// Lookup table from an HDR code value (8 bit) to an sRGB one.
pub(super) struct ToneCurve([u8; 256]);

impl ToneCurve {
    pub(super) fn new(hdr: Hdr) -> Self {
        Self(std::array::from_fn(|code| {
            let signal = code as f64 / 255.0;
            let light_cd_m2 = match hdr {
                Hdr::Hlg => HLG_PEAK_CD_M2 * hlg_scene_light(signal).powf(HLG_SYSTEM_GAMMA),
                Hdr::Pq => PQ_PEAK_CD_M2 * pq_display_light(signal),
            };
            let relative = compress(light_cd_m2 / REFERENCE_WHITE_CD_M2);
            (255.0 * srgb_encode(relative)).round() as u8
        }))
    }

    pub(super) fn apply(&self, picture: &mut RgbImage) {
        for value in picture.as_mut() {
            *value = self.0[*value as usize];
        }
    }
}

/// BT.2100 table 5, inverse OETF of HLG: signal 0–1 → scene light 0–1.
fn hlg_scene_light(signal: f64) -> f64 {
    const A: f64 = 0.178_832_77;
    let b = 1.0 - 4.0 * A;
    let c = 0.5 - A * (4.0 * A).ln();
    if signal <= 0.5 { signal * signal / 3.0 } else { (((signal - c) / A).exp() + b) / 12.0 }
}

/// BT.2100 table 4, EOTF of PQ: signal 0–1 → display light 0–1 (of 10 000 cd/m²).
fn pq_display_light(signal: f64) -> f64 {
    const M1: f64 = 2610.0 / 16384.0;
    const M2: f64 = 2523.0 / 4096.0 * 128.0;
    const C1: f64 = 3424.0 / 4096.0;
    const C2: f64 = 2413.0 / 4096.0 * 32.0;
    const C3: f64 = 2392.0 / 4096.0 * 32.0;
    let p = signal.powf(1.0 / M2);
    ((p - C1).max(0.0) / (C2 - C3 * p)).powf(1.0 / M1)
}

/// Straight up to half of white, then a smooth approach to 1 (Reinhard et al.
/// 2002 shape, shifted); keeps mid tones as they are.
fn compress(relative_light: f64) -> f64 {
    const KNEE: f64 = 0.5;
    if relative_light <= KNEE {
        return relative_light;
    }
    let over = (relative_light - KNEE) / (1.0 - KNEE);
    KNEE + (1.0 - KNEE) * over / (1.0 + over)
}

fn srgb_encode(linear: f64) -> f64 {
    if linear <= 0.003_130_8 { 12.92 * linear } else { 1.055 * linear.powf(1.0 / 2.4) - 0.055 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn curves_meet_the_published_points() {
        // BT.2100-2: HLG signal 0.5 is scene light 1/12, signal 1 is 1.
        assert!((hlg_scene_light(0.5) - 1.0 / 12.0).abs() < 1e-9);
        assert!((hlg_scene_light(1.0) - 1.0).abs() < 1e-6);
        // BT.2408-7 table 1: reference white 203 cd/m² is 58 % PQ and 75 % HLG.
        assert!((PQ_PEAK_CD_M2 * pq_display_light(0.58) - 203.0).abs() < 4.0);
        let white = HLG_PEAK_CD_M2 * hlg_scene_light(0.75).powf(HLG_SYSTEM_GAMMA);
        assert!((white - 203.0).abs() < 2.0);
    }

    #[test]
    fn brighter_stays_brighter() {
        for hdr in [Hdr::Hlg, Hdr::Pq] {
            let ToneCurve(table) = ToneCurve::new(hdr);
            assert!(table.windows(2).all(|w| w[0] <= w[1]));
            assert_eq!(table[0], 0);
            assert!(table[255] > 200);
        }
    }
}
