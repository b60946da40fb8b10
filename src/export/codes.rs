//! Codes and units: UCUM for units, SNOMED CT for the knee, and our own for what neither
//! LOINC nor SNOMED CT names.

use serde_json::{Value, json};

use crate::body::Side;
use crate::judgement::measures::Unit;

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

/// A code of our own.
pub(super) fn own(code: &str, display: &str) -> Value {
    json!({"coding": [{"system": OWN, "code": code, "display": display}], "text": display})
}

/// A number with its unit.
pub(super) fn quantity(value: f64, unit: Unit) -> Value {
    let mut quantity = json!({"value": value});
    if unit != Unit::One {
        quantity["unit"] = unit.shown().into();
    }
    quantity["system"] = UCUM.into();
    quantity["code"] = unit.ucum().into();
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
