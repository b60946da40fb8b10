#!/usr/bin/env python3
"""Writes where the faces are in some sample clips: tests/golden/heads/NAME.csv.

    python heads.py [--out DIR] [NAME ...]

A row a face and frame: frame, u_px, v_px (tip of the nose), radius_px (from there four
fifths of the way to the crown: forehead to chin), clear_share (how much of that disc the
person who does the exercise does not cover; 1 for that person's own face). From the movement and the camera of
scenarios.toml, as in render.py; no picture is drawn.
"""

import argparse
import csv
import json
import pathlib

import numpy as np
from scipy.spatial import cKDTree

from body import Person
from render import HERE, scenarios, take, walking

# A pixel this near to a vertex of the mesh is covered by it, pixels.
COVERS_PX = 8
NAMES = ["knee_far_in", "passer_by", "side_view", "yaw_minus_15", "yaw_plus_15"]


def faces_of(clip, recorded):
    """Per face an array frames × (nose u, nose v, radius, clear share)."""
    this = take(clip, recorded)
    movement, camera, shake = this.movement, this.camera, this.shake

    def seen(points_at):
        nose, crown = np.array([shake.camera(camera, i).project(points_at(i)) for i in this.frames]).swapaxes(0, 1)
        return np.column_stack([nose, 0.8 * np.hypot(*(crown - nose).T), np.ones(len(nose))])

    def body_px(i):
        turn = {bone: r[i] for bone, r in movement.rotations.items()}
        return shake.camera(camera, i).project(this.person.skin(movement.joints["pelvis"][i], turn)[:, :3])

    faces = [seen(lambda i: np.stack([movement.joints[n][i] for n in ("nose", "head_top")]))]
    for other in clip.get("passer_by", []):
        walker = Person(seed=clip["seed"] + 1, **other["person"])
        ahead = np.stack([walker.rest[n] - walker.rest["pelvis"] for n in ("nose", "head_top")])

        def points(i, ahead=ahead, walker=walker, other=other):
            place, turns = walking(walker, other, movement.time_s[i])
            return place + ahead @ turns["head"].T

        face = seen(points)
        for row, i in zip(face, this.frames):
            row[3] = clear_share(row, body_px(i))
        faces.append(face)
    return faces, (camera.width, camera.height)


def clear_share(face, body_px):
    """Share of a face's disc that no vertex is near to."""
    u, v, radius, _ = face
    across = np.linspace(-radius, radius, 21)
    disc = np.stack(np.meshgrid(across, across), -1).reshape(-1, 2)
    disc = disc[np.hypot(*disc.T) <= radius] + (u, v)
    distance, _ = cKDTree(body_px).query(disc, distance_upper_bound=COVERS_PX)
    return np.isinf(distance).mean()


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
            table.writerow(["frame", "u_px", "v_px", "radius_px", "clear_share"])
            for face in faces:
                for frame, (u, v, radius, clear) in enumerate(face):
                    # Faces outside the picture are nobody's business.
                    if -radius < u < width + radius and -radius < v < height + radius:
                        table.writerow([frame, f"{u:.1f}", f"{v:.1f}", f"{radius:.1f}", f"{clear:.2f}"])


if __name__ == "__main__":
    main()
