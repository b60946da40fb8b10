#!/usr/bin/env python3
"""How the pose network errs on rendered people, in the terms of src/judgement/uncertainty.rs.

    scripts/landmark-errors.py CLIPS SESSIONS

CLIPS: a folder of rendered clips with NAME.truth.json and NAME.frames.csv; use others
than the sample clips. SESSIONS: NAME/landmarks.csv as `plumbrise assess` leaves them.
Prints root mean squares over clips, shares of stature in per cent, across / down: what
lasts through a clip, what changes between sitting and standing, what wanders. Needs
numpy.
"""

import csv
import json
import pathlib
import sys

import numpy as np

POINTS = {"shoulder": "shoulder", "hip": "hip", "knee": "knee", "ankle": "ankle", "heel": "heel", "toe2": "foot_index"}
FREE_LEG = ("knee", "ankle", "heel", "toe2")  # of the free leg: not measured from


def table(path):
    rows = list(csv.reader(open(path)))
    number = lambda text: float(text) if text else np.nan
    return {name: np.array([number(row[i]) for row in rows[1:]]) for i, name in enumerate(rows[0])}


def main():
    clips, sessions = map(pathlib.Path, sys.argv[1:])
    found = {point: [] for point in POINTS}
    for path in sorted(clips.glob("*.truth.json")):
        name = path.name.removesuffix(".truth.json")
        truth = json.loads(path.read_text())
        if not (sessions / name / "landmarks.csv").exists() or abs(truth["yaw_deg"]) > 20:
            continue
        frames, seen = table(clips / f"{name}.frames.csv"), table(sessions / name / "landmarks.csv")
        at = seen[next(iter(seen))].astype(int)
        height = frames["pelvis_height_m"][at]
        share = (height - height.min()) / np.ptp(height)
        stand, seat = share > 0.95, share < 0.05
        # Pixels of the stature, from the true standing height of the head.
        side = truth["leg"]
        tall = (frames[f"heel_{side}_v_px"] - frames["head_top_v_px"])[at][stand]
        stature_px = np.median(tall)
        for point, landmark in POINTS.items():
            for s in ("left", "right"):
                if point in FREE_LEG and s != side:
                    continue
                error = [
                    (seen[f"{s}_{landmark}_{a}_px"] - frames[f"{point}_{s}_{b}_px"][at]) / stature_px
                    for a, b in (("x", "u"), ("y", "v"))
                ]
                parts = []
                for e in error:
                    up, down = np.nanmean(e[stand]), np.nanmean(e[seat])
                    rest = e - down - share * (up - down)
                    parts.append((0.5 * (up + down), up - down, np.nanstd(rest)))
                found[point].append(parts)
    print("share of stature, %      always        posture        wander")
    rms = lambda x: 100 * np.sqrt(np.mean(np.square(x), axis=0))
    every = []
    for point, rows in found.items():
        value = rms(rows)  # (2, 3)
        every.append(value)
        print(f"{point:10s}" + "".join(f"   {value[0, k]:5.2f} / {value[1, k]:5.2f}" for k in range(3)))
    value = np.sqrt(np.mean(np.square(every), axis=0))
    print("all       " + "".join(f"   {value[0, k]:5.2f} / {value[1, k]:5.2f}" for k in range(3)))


if __name__ == "__main__":
    main()
