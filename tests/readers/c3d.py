"""Reads a C3D file with ezc3d and compares it with the points as text and the reps.

usage: c3d.py FILE TRC ASSESSMENT
"""

import json
import sys

import ezc3d
import numpy

c3d_file, trc_file, assessment_file = sys.argv[1:]
c3d = ezc3d.c3d(c3d_file)
with open(assessment_file, encoding="utf-8") as file:
    assessment = json.load(file)
with open(trc_file, encoding="utf-8") as file:
    lines = file.read().split("\n")
names = [name for name in lines[3].split("\t")[2:] if name]
rate, frames = float(lines[2].split("\t")[0]), int(lines[2].split("\t")[2])
rows = [line.split("\t")[2:] for line in lines[6:] if line.strip()]
places = numpy.array([[float(c) if c else numpy.nan for c in row[: 3 * len(names)]] for row in rows])
places = places.reshape(frames, len(names), 3)

points = c3d["parameters"]["POINT"]
labels = [label for key in ["LABELS", "LABELS2", "LABELS3"] if key in points for label in points[key]["value"]]
assert labels == names
assert points["USED"]["value"][0] == len(names)
if frames <= 65535:
    assert points["FRAMES"]["value"][0] == frames
else:
    assert points["LONG_FRAMES"]["value"][0] == frames
assert points["UNITS"]["value"][0] == "mm"
assert abs(points["RATE"]["value"][0] - rate) < 1e-3
assert points["SCALE"]["value"][0] < 0
assert abs(c3d["header"]["points"]["frame_rate"] - rate) < 1e-3
read = c3d["data"]["points"][:3].transpose(2, 1, 0) / 1000.0
hidden = numpy.isnan(places).any(axis=2)
assert read.shape == places.shape
assert (numpy.isnan(read).any(axis=2) == hidden).all(), "hidden points are hidden"
assert (c3d["data"]["meta_points"]["residuals"][0].T[hidden] == -1).all()
worst = float(numpy.nanmax(numpy.abs(read - places)))
assert worst < 2e-6, worst  # Real numbers of 32 bits, millimetres.

events = c3d["parameters"]["EVENT"]
times = numpy.array(events["TIMES"]["value"])
seconds = 60.0 * times[0] + times[1]
named = {"Seat Off": "seat_off_s", "Stand": "stand_s", "Descent Start": "descent_start_s",
         "Seat Contact": "seat_contact_s"}
expected = sorted((rep[field], label) for rep in assessment["reps"]
                  for label, field in named.items() if rep[field] is not None)
assert events["USED"]["value"][0] == len(expected)
for (time, label), second, found in zip(expected, seconds, events["LABELS"]["value"], strict=True):
    assert abs(time - second) < 1e-4 and label == found.strip()
side = assessment["leg"].capitalize()
assert {context.strip() for context in events["CONTEXTS"]["value"]} == {side}
print(json.dumps({"points": len(names), "frames": frames, "events": len(expected),
                  "hidden": int(hidden.sum()), "worst_m": worst}))
