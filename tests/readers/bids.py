"""Lets the BIDS project's validator judge a data set, then compares its numbers with the
points as text.

usage: bids.py DATASET TRC ASSESSMENT
"""

import json
import pathlib
import subprocess
import sys

import numpy
import pandas

dataset, trc_file, assessment_file = sys.argv[1:]
validator = pathlib.Path(sys.executable).with_name("bids-validator-deno")
environment = {"PATH": str(validator.parent), "HOME": dataset + "-home", "DENO_NO_UPDATE_CHECK": "1"}
done = subprocess.run([validator, dataset, "--json"], capture_output=True, text=True, env=environment)
judged = json.loads(done.stdout)
errors = [issue for issue in judged["issues"]["issues"] if issue["severity"] == "error"]
assert not errors, errors
assert judged["summary"]["modalities"] and judged["summary"]["dataTypes"] == ["motion"], judged["summary"]

with open(assessment_file, encoding="utf-8") as file:
    assessment = json.load(file)
with open(trc_file, encoding="utf-8") as file:
    lines = file.read().split("\n")
names = [name for name in lines[3].split("\t")[2:] if name]
rows = [line.split("\t")[2:] for line in lines[6:] if line.strip()]
places = numpy.array([[float(c) if c else numpy.nan for c in row[: 3 * len(names)]] for row in rows])

(motion,) = pathlib.Path(dataset).glob("sub-*/ses-*/motion/*_motion.tsv")
table = pandas.read_csv(motion, sep="\t", header=None, na_values="n/a")
channels = pandas.read_csv(str(motion).replace("_motion.tsv", "_channels.tsv"), sep="\t")
events = pandas.read_csv(str(motion).replace("_motion.tsv", "_events.tsv"), sep="\t", na_values="n/a", keep_default_na=False)
with open(str(motion).replace(".tsv", ".json"), encoding="utf-8") as file:
    sidecar = json.load(file)
with open(str(motion).replace("_motion.tsv", "_channels.json"), encoding="utf-8") as file:
    frames = json.load(file)["reference_frame"]["Levels"]
# The table of *_channels.json in the specification (Motion).
assert set(frames) == set(channels["reference_frame"])
for frame in frames.values():
    assert frame["RotationOrder"] in {"XYZ", "XZY", "YXZ", "YZX", "ZXY", "ZYX"}
    directions = {"R": (1, 0, 0), "L": (-1, 0, 0), "A": (0, 1, 0), "P": (0, -1, 0), "S": (0, 0, 1), "I": (0, 0, -1)}
    handedness = numpy.linalg.det([directions[axis] for axis in frame["SpatialAxes"]])
    assert frame["RotationRule"] == {1: "right-hand", -1: "left-hand"}[round(handedness)]
assert list(channels["tracked_point"].unique()) == names
assert len(channels) == table.shape[1] == sidecar["MotionChannelCount"]
assert numpy.array_equal(table.to_numpy(dtype=float), places, equal_nan=True)
assert len(events) == len(assessment["reps"])
assert list(events["verdict_of_program"]) == [rep["judgement"] for rep in assessment["reps"]]
for rep, onset in zip(assessment["reps"], events["onset"]):
    if rep["seat_off_s"] is not None:
        assert onset == rep["seat_off_s"]
print(json.dumps({"warnings": sorted({i["code"] for i in judged["issues"]["issues"]}),
                  "subjects": judged["summary"]["subjects"], "cells": int(table.size)}))
