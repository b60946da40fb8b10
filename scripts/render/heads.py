#!/usr/bin/env python3
"""Writes where the faces are in some sample clips: tests/golden/heads/NAME.csv.

    python heads.py [--out DIR] [NAME ...]

A row a face and frame: frame, u_px, v_px (tip of the nose), radius_px (from there four
fifths of the way to the crown: forehead to chin). From the movement and the camera of
scenarios.toml, as in render.py; no picture is drawn.
"""

import argparse
import csv
import json
import pathlib

import numpy as np

from body import Person
from render import HERE, scenarios, take, walking

NAMES = ["knee_far_in", "passer_by", "side_view", "yaw_minus_15", "yaw_plus_15"]


def faces_of(clip, recorded):
    """Per face an array frames × (nose u, nose v, crown u, crown v)."""
    this = take(clip, recorded)
    movement, camera, shake = this.movement, this.camera, this.shake

    def seen(points_at):
        return np.array([shake.camera(camera, i).project(points_at(i)).ravel() for i in this.frames])

    faces = [seen(lambda i: np.stack([movement.joints[n][i] for n in ("nose", "head_top")]))]
    for other in clip.get("passer_by", []):
        walker = Person(seed=clip["seed"] + 1, **other["person"])
        ahead = np.stack([walker.rest[n] - walker.rest["pelvis"] for n in ("nose", "head_top")])

        def points(i, ahead=ahead, walker=walker, other=other):
            place, turns = walking(walker, other, movement.time_s[i])
            return place + ahead @ turns["head"].T

        faces.append(seen(points))
    return faces, (camera.width, camera.height)


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("names", nargs="*", default=NAMES)
    words.add_argument("--out", type=pathlib.Path, default=HERE.parent.parent / "tests" / "golden" / "heads")
    told = words.parse_args()
    clips = scenarios(HERE / "scenarios.toml")
    recorded = json.loads((HERE / "courses.json").read_text())["courses"]
    told.out.mkdir(parents=True, exist_ok=True)
    for name in told.names or NAMES:
        faces, (width, height) = faces_of(clips[name], recorded)
        with open(told.out / f"{name}.csv", "w", newline="") as file:
            table = csv.writer(file, lineterminator="\n")
            table.writerow(["frame", "u_px", "v_px", "radius_px"])
            for face in faces:
                for frame, (u, v, crown_u, crown_v) in enumerate(face):
                    radius = 0.8 * np.hypot(crown_u - u, crown_v - v)
                    # Faces outside the picture are nobody's business.
                    if -radius < u < width + radius and -radius < v < height + radius:
                        table.writerow([frame, f"{u:.1f}", f"{v:.1f}", f"{radius:.1f}"])


if __name__ == "__main__":
    main()
