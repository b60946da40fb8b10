"""Reads a bundle with the classes of fhir.resources 6.4 (R4, 4.0.1), checks what those
classes do not, and compares every number with the assessment.

usage: fhir_r4.py BUNDLE ASSESSMENT STATUS PDF   (the paper goes to PDF)
"""

import base64
import json
import sys

import fhir.resources
from fhir.resources.bundle import Bundle

bundle_file, assessment_file, status, pdf_file = sys.argv[1:]
assert fhir.resources.__fhir_version__ == "4.0.1"
with open(bundle_file, encoding="utf-8") as file:
    raw = json.load(file)
with open(assessment_file, encoding="utf-8") as file:
    assessment = json.load(file)
Bundle.parse_obj(raw)  # Structure, required elements, value[x] at most once, primitive types.
for spoilt in [{"status": None}, {"valueQuantity": {"value": 1}, "valueString": "x"}, {"colour": "red"}]:
    copy = json.loads(json.dumps(raw))
    (first, *_) = [e["resource"] for e in copy["entry"] if e["resource"]["resourceType"] == "Observation"]
    first.update(spoilt)
    try:
        Bundle.parse_obj(copy)
    except ValueError:
        continue
    raise AssertionError(f"the reader accepts {spoilt}")

# What stands in http://hl7.org/fhir/R4 as invariants and required bindings.
assert raw["type"] == "collection"
urls = [entry["fullUrl"] for entry in raw["entry"]]
assert len(set(urls)) == len(urls), "bdl-7: fullUrl is unique"
resources = {entry["fullUrl"]: entry["resource"] for entry in raw["entry"]}
by_type = {}
for resource in resources.values():
    by_type.setdefault(resource["resourceType"], []).append(resource)
(report,) = by_type["DiagnosticReport"]
(device,) = by_type["Device"]
(codes,) = by_type["CodeSystem"]
observations = by_type["Observation"]
assert set(by_type) == {"DiagnosticReport", "Device", "CodeSystem", "Observation"}

OWN = codes["url"]
defined = [concept["code"] for concept in codes["concept"]]
assert len(set(defined)) == len(defined), "csd-1: codes are unique"
UCUM = {"1", "s", "m", "cm", "m/s", "m/s2", "deg", "%", "{reps}"}


def walk(value):
    if isinstance(value, dict):
        yield value
        for inner in value.values():
            yield from walk(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from walk(inner)


for element in walk([report, device, observations]):
    assert element, "ele-1: an element has a value or children"
    if "reference" in element:
        assert element["reference"] in resources, element
    if element.get("system") == OWN:
        assert element["code"] in defined, element
    if element.get("system") == "http://unitsofmeasure.org":
        assert element["code"] in UCUM, element  # qty-3: a code has its system.
for observation in observations:
    assert observation["status"] == status
    values = [key for key in observation if key.startswith("value")]
    assert len(values) + ("dataAbsentReason" in observation) == 1, "obs-6"
    own_code = observation["code"]["coding"][0]["code"]
    for component in observation.get("component", []):
        values = [key for key in component if key.startswith("value")]
        assert len(values) + ("dataAbsentReason" in component) == 1
        assert component["code"]["coding"][0]["code"] != own_code, "obs-7"
    side = {"left": "82169009", "right": "6757004"}[assessment["leg"]]
    assert observation["bodySite"]["coding"][0]["code"] == side
assert report["status"] == status
assert report["text"]["div"].startswith('<div xmlns="http://www.w3.org/1999/xhtml">')
assert len(report["result"]) == len(observations)
for caution in assessment["cautions"]:
    assert caution in report["conclusion"], caution


def code_of(thing):
    return thing["code"]["coding"][0]["code"]


def verdict_of(component):
    return component["valueCodeableConcept"]["coding"][0]["code"]


# The numbers, against the document.
totals = {code_of(o): o["valueQuantity"]["value"] for o in observations if code_of(o).startswith("set_")}
machine = {
    code_of(o): o["component"][0]["valueQuantity"]["value"]
    for o in observations
    if code_of(o).startswith("set_")
}
for name in ["reps", "clean", "faulted", "not_judged", "longest_clean_run"]:
    assert machine[f"set_{name}"] == assessment["set"][name], name
units = {"_m_s2": "m/s2", "_m_s": "m/s", "_cm": "cm", "_deg": "deg", "_m": "m", "_s": "s", "_percent": "%"}
compared = 0
reps = [o for o in observations if code_of(o) == "rep"]
assert len(reps) == len(assessment["reps"])
for rep, observation in zip(assessment["reps"], reps):
    told = {code_of(c): c for c in observation["component"]}
    assert told["rep_number"]["valueInteger"] == rep["number"]
    assert verdict_of(told["verdict_of_program"]) == rep["judgement"]
    reasons = [verdict_of(c) for c in observation["component"] if code_of(c) == "reason_of_program"]
    assert reasons == rep["reasons"]
    for name, value in rep.items():
        if name not in told or isinstance(value, (str, list, dict, bool)):
            continue
        if value is None:
            assert told[name]["dataAbsentReason"]["coding"][0]["code"] == "unknown", name
        elif status == "preliminary" or name not in ("seat_off_s", "seat_contact_s", "rise_s", "descent_s", "seated_pause_s"):
            quantity = told[name]["valueQuantity"]
            assert quantity["value"] == value, name
            ending = next((u for e, u in units.items() if name.endswith(e)), None)
            assert ending is None or quantity["code"] == ending, (name, quantity)
        compared += 1
    for name, value in rep["standard_error"].items():
        assert told[f"{name}_standard_error"]["valueQuantity"]["value"] == value
        compared += 1
for name in ["rise_s", "knee_offset_peak_cm", "descent_mean_m_s"]:
    known = [rep[name] for rep in assessment["reps"] if rep[name] is not None]
    (mean,) = [o for o in observations if code_of(o) == f"{name}_mean"]
    if known and status == "preliminary":
        assert abs(mean["valueQuantity"]["value"] - sum(known) / len(known)) < 1e-4
(form,) = report["presentedForm"]
pdf = base64.b64decode(form["data"], validate=True)
assert form["contentType"] == "application/pdf" and pdf.startswith(b"%PDF-")
with open(pdf_file, "wb") as file:
    file.write(pdf)
verdicts = [o["valueCodeableConcept"]["coding"][0]["code"] for o in reps]
notes = [n["text"] for o in reps for n in o.get("note", [])]
reviewed = [
    verdict_of(c) if "valueCodeableConcept" in c else None
    for o in reps
    for c in o["component"]
    if code_of(c) == "verdict_of_review"
]
print(json.dumps({
    "compared": compared,
    "totals": totals,
    "verdicts": verdicts,
    "reviewed": reviewed,
    "notes": notes,
    "subject": report.get("subject", {}).get("identifier", {}).get("value"),
    "effective": report.get("effectiveDateTime"),
    "urls": sorted(urls),
    "interpreter": report.get("resultsInterpreter", [{}])[0].get("display"),
}))
