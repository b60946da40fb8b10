//! A session as HL7 FHIR R4 (4.0.1): a Bundle of type collection with the report, every
//! number, the program, and the meaning of our own codes.
//!
//! The report is `preliminary` until a clinician has signed the session off. The person is
//! told by identifier only: a code, no Patient resource, no name. What is not known carries
//! a `dataAbsentReason`. No LOINC code is used, as none means these measures.

use std::collections::BTreeMap;

use base64::Engine;
use base64::engine::general_purpose::STANDARD as BASE64;
use jiff::Timestamp;
use serde_json::{Map, Value, json};

use super::codes::{OWN, PERSONS, SESSIONS, knee, own, quantity};
use super::identity::urn;
use super::stored::{Stored, iso};
use crate::error::Result;
use crate::files::FolderWriter;
use crate::judgement::document::{Rep, Verdict, word};
use crate::judgement::measures::{self, Explained, Measure, Unit};
use crate::report::wording::export as words;
use crate::session::review::{Amendment, Change, ReviewState};
use crate::shown::{in_xml, prose};

const CATEGORY: &str = "http://terminology.hl7.org/CodeSystem/observation-category";
const SERVICE_SECTION: &str = "http://terminology.hl7.org/CodeSystem/v2-0074";
const ABSENT: &str = "http://terminology.hl7.org/CodeSystem/data-absent-reason";

pub(super) fn write(session: &Stored, into: &FolderWriter) -> Result<()> {
    let bundle = Bundle::new(session).of(session.paper()?);
    into.write(&format!("{}.fhir.json", session.id()), |out| {
        serde_json::to_writer_pretty(&mut *out, &bundle)?;
        writeln!(out)
    })
}

/// A bundle under construction.
struct Bundle<'a> {
    stored: &'a Stored<'a>,
    entries: Vec<Value>,
    /// Our own codes that were used, with what they are called.
    codes: BTreeMap<String, Code>,
}

/// What a code of our own is called, and what it means.
struct Code {
    display: String,
    definition: String,
}

impl<'a> Bundle<'a> {
    fn new(stored: &'a Stored) -> Self {
        Self { stored, entries: Vec::new(), codes: BTreeMap::new() }
    }

    fn of(mut self, pdf: Option<Vec<u8>>) -> Value {
        let now = iso(Timestamp::now());
        let mut results = self.totals();
        results.extend(self.means());
        results.extend(self.reps());
        let report = self.report(results, pdf, &now);
        self.add("report", report);
        let device = self.device();
        self.add("device", device);
        let codes = self.code_system();
        self.add("codes", codes);
        // The report comes first for those who read it by eye.
        self.entries.sort_by_key(|entry| entry["resource"]["resourceType"] != "DiagnosticReport");
        json!({
            "resourceType": "Bundle",
            "identifier": {"system": SESSIONS, "value": self.stored.id()},
            "type": "collection",
            "timestamp": now,
            "entry": self.entries,
        })
    }

    /// Adds a resource and gives back the reference to it.
    fn add(&mut self, thing: &str, resource: Value) -> Value {
        let place = urn(self.stored.id(), thing);
        self.entries.push(json!({"fullUrl": place, "resource": resource}));
        json!({"reference": place})
    }

    fn code(&mut self, code: &str) -> Value {
        self.coded(code, words::display(code).into(), String::new())
    }

    fn coded(&mut self, code: &str, display: String, definition: String) -> Value {
        let coded = own(code, &display);
        self.codes.insert(code.to_owned(), Code { display, definition });
        coded
    }

    fn measure(&mut self, measure: &Measure) -> Value {
        let Explained { key, definition, .. } = measure.about;
        self.coded(key, measure.about.briefly().into(), definition.into())
    }

    fn status(&self) -> &'static str {
        match self.stored.session.state() {
            ReviewState::SignedOff { .. } => "final",
            _ => "preliminary",
        }
    }

    /// Adds whom it is of and when it was.
    fn place_in_life(&self, resource: &mut Value) {
        if let Some(code) = self.stored.person() {
            let identifier = json!({"system": PERSONS, "value": code});
            resource["subject"] = json!({"type": "Patient", "identifier": identifier});
        }
        if let Some(at) = self.stored.recorded_at {
            resource["effectiveDateTime"] = iso(at).into();
        }
    }

    /// An observation without a value yet.
    fn observation(&mut self, coded: Value) -> Value {
        let mut observation = json!({
            "resourceType": "Observation",
            "status": self.status(),
            "category": [{"coding": [{"system": CATEGORY, "code": "exam", "display": "Exam"}]}],
            "code": coded,
        });
        self.place_in_life(&mut observation);
        if let Some(leg) = self.stored.session.machine.leg {
            observation["bodySite"] = knee(leg);
        }
        observation["device"] = json!({"reference": urn(self.stored.id(), "device")});
        observation
    }

    /// A component; where the value is not known, it says so.
    fn component(&self, coded: Value, value: Option<(&str, Value)>) -> Value {
        let mut component = json!({"code": coded});
        match value {
            Some((kind, value)) => component[kind] = value,
            None => component["dataAbsentReason"] = unknown(),
        }
        component
    }

    fn number(&self, coded: Value, value: Option<f64>, unit: Unit) -> Value {
        self.component(coded, value.map(|v| ("valueQuantity", quantity(v, unit))))
    }

    fn verdict(&mut self, code: &str, verdict: Option<Verdict>) -> Value {
        let value = verdict.map(|v| ("valueCodeableConcept", self.coded_verdict(v)));
        let coded = self.code(code);
        self.component(coded, value)
    }

    fn coded_verdict(&mut self, verdict: Verdict) -> Value {
        self.code(match verdict {
            Verdict::Clean => "clean",
            Verdict::Faulted => "faulted",
            Verdict::NotJudged => "not_judged",
        })
    }

    /// The totals of the set, after the review and as the program had them.
    fn totals(&mut self) -> Vec<Value> {
        let (machine, in_force) =
            (&self.stored.session.machine.set, &self.stored.session.in_force.set);
        let totals = [
            ("set_reps", in_force.reps, machine.reps),
            ("set_clean", in_force.clean, machine.clean),
            ("set_faulted", in_force.faulted, machine.faulted),
            ("set_not_judged", in_force.not_judged, machine.not_judged),
            ("set_longest_clean_run", in_force.longest_clean_run, machine.longest_clean_run),
        ];
        let mut all = Vec::new();
        for (code, after, before) in totals {
            let coded = self.code(code);
            let mut observation = self.observation(coded);
            observation["valueQuantity"] = quantity(after as f64, Unit::Reps);
            let coded = self.code("total_of_program");
            let before = self.number(coded, Some(before as f64), Unit::Reps);
            observation["component"] = json!([before]);
            all.push(self.add(code, observation));
        }
        all
    }

    /// Each measure over the reps.
    fn means(&mut self) -> Vec<Value> {
        let summary = self.stored.session.summary();
        let mut all = Vec::new();
        for (measure, _) in measures::compared() {
            let code = format!("{}_mean", measure.key());
            let definition = measure.about.definition.to_owned();
            let coded = self.coded(&code, words::display_of_mean(measure), definition);
            let mut observation = self.observation(coded);
            let unit = measure.unit;
            match summary.measures.get(measure.key()) {
                Some(spread) => {
                    observation["valueQuantity"] = quantity(spread.mean, unit);
                    let parts = [
                        ("reps_known", Some(spread.n as f64), Unit::Reps),
                        ("standard_deviation", spread.standard_deviation, unit),
                        ("standard_error", spread.standard_error, unit),
                    ];
                    let parts = parts.map(|(code, value, unit)| {
                        let coded = self.code(code);
                        self.number(coded, value, unit)
                    });
                    observation["component"] = parts.to_vec().into();
                }
                None => observation["dataAbsentReason"] = unknown(),
            }
            all.push(self.add(&code, observation));
        }
        all
    }

    fn reps(&mut self) -> Vec<Value> {
        let stored = self.stored;
        let reps = stored.session.machine.reps.iter().zip(&stored.session.in_force.reps);
        reps.map(|(machine, rep)| self.rep(machine, rep)).collect()
    }

    /// A rep: the verdict in force as its value, everything else as components.
    fn rep(&mut self, machine: &Rep, rep: &Rep) -> Value {
        let coded = self.code("rep");
        let mut observation = self.observation(coded);
        observation["valueCodeableConcept"] = self.coded_verdict(rep.judgement);
        let number = self.code("rep_number");
        let mut components = vec![
            self.component(number, Some(("valueInteger", rep.number.into()))),
            self.verdict("verdict_of_program", Some(machine.judgement)),
        ];
        let reviewed = self.stored.session.review.as_ref().is_some_and(|review| {
            review.changes_of(rep.number).any(|change| change.judgement.is_some())
        });
        components.push(self.verdict("verdict_of_review", reviewed.then_some(rep.judgement)));
        for (code, reasons) in [("reason_of_program", &machine.reasons), ("reason", &rep.reasons)] {
            for reason in reasons {
                let code_of = word(reason).unwrap_or_default();
                let said = self.coded(&code_of, words::display_of_reason(*reason), String::new());
                let value = Some(("valueCodeableConcept", said));
                let coded = self.code(code);
                components.push(self.component(coded, value));
            }
        }
        for measure in measures::all() {
            let coded = self.measure(measure);
            components.push(self.number(coded, (measure.of)(rep), measure.unit));
            if let Some(error) = measure.error(rep) {
                let code = format!("{}_standard_error", measure.key());
                let definition = words::standard_error(measure.key());
                let coded = self.coded(&code, words::display_of_error(measure), definition);
                components.push(self.number(coded, Some(error), measure.unit));
            }
        }
        observation["component"] = components.into();
        let notes = self.notes(|change| match change {
            Change::Rep(of) if of.rep == rep.number => of.note.as_deref(),
            _ => None,
        });
        if !notes.is_empty() {
            observation["note"] = notes.into();
        }
        self.add(&format!("rep-{}", rep.number), observation)
    }

    /// What a clinician noted, with who and when; a string of FHIR must hold no controls.
    fn notes<'c>(&'c self, text: impl Fn(&'c Change) -> Option<&'c str>) -> Vec<Value> {
        let said = self.stored.session.review.iter().flat_map(|review| &review.amendments);
        said.filter_map(|Amendment { at, by, what }| {
            let text = text(what)?;
            Some(json!({"authorString": prose(by), "time": iso(*at), "text": prose(text)}))
        })
        .collect()
    }

    fn report(&mut self, results: Vec<Value>, pdf: Option<Vec<u8>>, now: &str) -> Value {
        let conclusion = words::conclusion(
            &self.stored.session.in_force,
            &self.stored.session.state(),
            self.notes(|change| match change {
                Change::Note { text } => Some(text),
                _ => None,
            })
            .iter()
            .filter_map(|note| note["text"].as_str()),
        );
        let mut report = json!({
            "resourceType": "DiagnosticReport",
            "text": {"status": "generated", "div": narrative(&conclusion)},
            "identifier": [{"system": SESSIONS, "value": self.stored.id()}],
            "status": self.status(),
            // Physical therapy; from memory of HL7 table 0074.
            "category": [{"coding": [{"system": SERVICE_SECTION, "code": "PT"}]}],
            "code": self.code("set_report"),
        });
        self.place_in_life(&mut report);
        report["issued"] = match self.stored.session.state() {
            ReviewState::SignedOff { at, .. } => iso(at),
            _ => now.to_owned(),
        }
        .into();
        if let ReviewState::SignedOff { by, .. } = self.stored.session.state() {
            report["resultsInterpreter"] = json!([{"display": prose(&by)}]);
        }
        report["result"] = results.into();
        report["conclusion"] = conclusion.into();
        if let Some(pdf) = pdf {
            report["presentedForm"] = json!([{
                "contentType": "application/pdf",
                "language": "en",
                "data": BASE64.encode(pdf),
                "title": words::REPORT,
                "creation": now,
            }]);
        }
        report
    }

    fn device(&self) -> Value {
        json!({
            "resourceType": "Device",
            "deviceName": [{"name": "plumbrise", "type": "user-friendly-name"}],
            "type": {"text": words::SOFTWARE},
            "version": [{"value": self.stored.session.machine.program_version}],
        })
    }

    /// What our own codes mean, so that the bundle explains itself.
    fn code_system(&self) -> Value {
        let concepts: Vec<Value> = self
            .codes
            .iter()
            .map(|(code, Code { display, definition })| {
                let mut concept = Map::new();
                concept.insert("code".into(), code.as_str().into());
                concept.insert("display".into(), display.as_str().into());
                if !definition.is_empty() {
                    concept.insert("definition".into(), definition.as_str().into());
                }
                Value::Object(concept)
            })
            .collect();
        json!({
            "resourceType": "CodeSystem",
            "url": OWN,
            "version": env!("CARGO_PKG_VERSION"),
            "name": "PlumbriseMeasures",
            "title": words::CODES,
            "status": "active",
            "caseSensitive": true,
            // Only those that this bundle uses.
            "content": "fragment",
            "concept": concepts,
        })
    }
}

fn unknown() -> Value {
    json!({"coding": [{"system": ABSENT, "code": "unknown", "display": "Unknown"}]})
}

/// Lines as the XHTML that FHIR shows to people.
fn narrative(text: &str) -> String {
    let lines: String = text.lines().map(|line| format!("<p>{}</p>", in_xml(line))).collect();
    format!("<div xmlns=\"http://www.w3.org/1999/xhtml\">{lines}</div>")
}
