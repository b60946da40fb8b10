//! Codes and units: UCUM for units, SNOMED CT for the knee, and our own for what neither
//! LOINC nor SNOMED CT names.

use serde_json::{Value, json};

use crate::body::Side;

/// Our own codes: an OID under 2.25, the arc of UUIDs (Rec. ITU-T X.667, 6.3), which needs
/// no registration. Drawn once, not to be changed.
pub(super) const OWN: &str = "urn:oid:2.25.55433749960054526335890712757582040544";
/// Identifiers of persons: pseudonymous codes.
pub(super) const PERSONS: &str = "urn:oid:2.25.290248753838447886303213925767537509716";
/// Identifiers of sessions.
pub(super) const SESSIONS: &str = "urn:oid:2.25.199919427368050209697402632084156017469";
/// Units (UCUM).
pub(super) const UCUM: &str = "http://unitsofmeasure.org";
const SNOMED: &str = "http://snomed.info/sct";

/// Endings of names in the document and their units in UCUM, the longer before the shorter.
const UNITS: [(&str, &str); 9] = [
    ("_m_s2", "m/s2"),
    ("_m_s", "m/s"),
    ("_percent_leg", "%"),
    ("_percent", "%"),
    ("_cm", "cm"),
    ("_deg", "deg"),
    ("_hz", "Hz"),
    ("_m", "m"),
    ("_s", "s"),
];

/// Unit of a number by its name in the document; 1 for what has none.
pub(super) fn unit(name: &str) -> &'static str {
    UNITS.iter().find(|(ending, _)| name.ends_with(ending)).map_or("1", |(_, unit)| unit)
}

/// A code of our own.
pub(super) fn own(code: &str, display: &str) -> Value {
    json!({"coding": [{"system": OWN, "code": code, "display": display}], "text": display})
}

/// A number with its unit.
pub(super) fn quantity(value: f64, unit: &str) -> Value {
    let shown = match unit {
        "1" => "",
        "deg" => "°",
        "{reps}" => "reps",
        other => other,
    };
    let mut quantity = json!({"value": value});
    if !shown.is_empty() {
        quantity["unit"] = shown.into();
    }
    quantity["system"] = UCUM.into();
    quantity["code"] = unit.into();
    quantity
}

/// The knee, as SNOMED CT names it.
pub(super) fn knee(side: Side) -> Value {
    let (code, display) = match side {
        Side::Left => ("82169009", "Structure of left knee region"),
        Side::Right => ("6757004", "Structure of right knee region"),
    };
    let text = format!("{} knee", side.word());
    json!({"coding": [{"system": SNOMED, "code": code, "display": display}], "text": text})
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Names from the document, units as their definitions state them.
    #[test]
    fn units_come_from_names() {
        for (name, expected) in [
            ("rise_s", "s"),
            ("knee_offset_peak_at_s", "s"),
            ("descent_peak_m_s", "m/s"),
            ("descent_acceleration_m_s2", "m/s2"),
            ("knee_offset_peak_cm", "cm"),
            ("excursion_m", "m"),
            ("fppa_peak_deg", "deg"),
            ("stand_percent", "%"),
            ("knee_offset_peak_percent_leg", "%"),
            ("final_ratio", "1"),
            ("sparc_rise", "1"),
            ("wobble_turns", "1"),
        ] {
            assert_eq!(unit(name), expected, "{name}");
        }
    }
}
