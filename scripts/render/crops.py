"""Renders pictures of legs with what is true of them, for training a network.

    python crops.py OUT --count 400 [--jobs 16] [--frames 150] [--seconds 300]
    python crops.py --pack DIR        copy of the body's data files; use with BODY_DATA=DIR

Person `n` of the training set (draw.py) gives OUT/NNNNNN.npz, uncompressed, N frames:

    picture        (N, 384, 307, 4) uint8: sRGB, and 255 x the share of the pixel that is the person
    points_px      (N, 10, 2) POINTS in the picture, corner at (0, 0)
    joints_m       (N, 10, 3) POINTS in the camera's axes (right, down, ahead), from the stance ankle
    sight, up      (N, 3) unit vectors in the same axes: camera -> stance ankle; against gravity
    pelvis_heading, foot_heading, free_heading  (N,) rad about the vertical, from the line of sight
                   (0: toward the camera; + : toward the picture's right)
    px_per_m       (N,) at the depth of the stance ankle
    planted        (N,) whether the stance foot stands flat and still
    single_leg, free_foot_down  (N,) bool
    knee_offset_m, knee_flexion_deg, stature_m, depth_m, roll_rad, pitch_rad, focal_share, yaw_rad  (N,)

The picture is LOOK's 256 x 320 about the legs and a margin of a fifth for shifting and
turning. A person who stands on the left leg is mirrored, so the stance leg is always the
one at the picture's left; all that is told is mirrored with it. Blur, noise and
compression are left to the training, which does them faster on its own machine.

OpenGL comes through EGL, from a graphics card or from software; one process a core.
"""

import argparse
import multiprocessing
import os
import pathlib
import time
import traceback

os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np  # noqa: E402

import draw  # noqa: E402
from body import BONES, Person, pack  # noqa: E402
from motion import Mover, Script, about_x, knee_flexion_deg, knee_offset_m  # noqa: E402
from scene import Camera, Chair, Light, Room, Scene  # noqa: E402

JOINTS = ("hip", "knee", "ankle", "heel", "toe2")
POINTS = tuple(f"{leg}_{joint}" for leg in ("stance", "free") for joint in JOINTS)
LOOK = (256, 320)  # width, height of what the network sees, px
MARGIN = 1.2
PICTURE = (int(LOOK[0] * MARGIN), int(LOOK[1] * MARGIN))
FILMED = (720, 1280)  # the whole picture that a crop is cut from
SCRIPTS = 3  # movements and rooms a person
ANKLE = 2


# --- what is drawn -----------------------------------------------------------------------

def script(rng, stature_m):
    """A movement of one rep: wider than the tuning set's, since only single frames are used."""
    rung = draw.one(rng, ("single_leg", "two_leg", "lowering", "split_stance"), [74, 10, 10, 6])
    told = draw.script(rng, stature_m, rung)
    told |= {
        "toe_out_deg": float(rng.normal(8, 9)), "knee_rest_offset_m": float(rng.uniform(-0.05, 0.10)),
        "balance_medial_m": float(rng.uniform(-0.02, 0.04)), "pelvic_drop_deg": float(rng.uniform(-5, 10)),
        "free_foot_m": (float(rng.uniform(0.03, 0.30)), float(rng.uniform(0.02, 0.50))),
        "free_foot_side_m": float(rng.uniform(0.06, 0.24)), "turn_deg": float(rng.normal(0, 6)),
        "heel_lift_deg": float(rng.uniform(4, 25)) if rng.random() < 0.25 else 0.0, "noise": float(rng.uniform(0.5, 3)),
        "seated_before_s": 1.4, "seated_after_s": 0.8,
    }
    if rng.random() < 0.35:
        told["idle"] = [draw.idle(rng, 1.9) | ({"what": "place_foot"} if rng.random() < 0.8 else {})]
    rep = draw.reps(rng, 1, "mixed", stature_m, draw.RECORDED, wrong=0.35)[0]
    # Knee and drop are drawn above or do not show in a frame; finding them takes time.
    for name in ("knee_in_m", "drop_m"):
        rep.pop(name, None)
    for course in ("rise", "descent"):
        rep[course] = draw.one(rng, draw.RISES)
    return Script(**told, reps=[rep])


def camera(rng, middle_x_m):
    """A phone, mostly near square on, a third of them anywhere up to 60 deg aside."""
    kind = rng.random()
    yaw = rng.uniform(-20, 20) if kind < 0.42 else rng.normal(0, 6) if kind < 0.68 else rng.uniform(-60, 60)
    at = draw.camera(rng, yaw, (1.9, 4.6), 0.9 if rng.random() < 0.85 else 3.0)
    view = Camera.around((middle_x_m + rng.normal(0, 0.10), at["aim_m"] - 0.1, -0.1), at["distance_m"], yaw, at["height_m"],
                         at["roll_deg"], focal_share=at["focal_share"], width=FILMED[0], height=FILMED[1])
    return view.moved(yaw=np.radians(rng.normal(0, 2)), pitch=np.radians(rng.normal(0, 1)))


def posed(rng, person, movement, k):
    """Pelvis and rotations at sample k, the free foot perhaps turned a little more."""
    turns = {bone: movement.rotations[bone][k] for bone in BONES}
    free = "left" if movement.script.stance == "right" else "right"
    lifted = movement.joints[f"ankle_{free}"][k][1] > person.rest[f"ankle_{free}"][1] + 0.08
    if lifted and rng.random() < 0.5:
        turns[f"foot_{free}"] = turns[f"foot_{free}"] @ about_x(np.array(rng.normal(0, 0.25)))
    return movement.joints["pelvis"][k], turns


# --- what is true ------------------------------------------------------------------------

def crop_of(points_px):
    """Left, top, width, height px of the picture cut about leg points (N, 2) px, and its scale."""
    low, high = points_px.min(0), points_px.max(0)
    tall = 1.3 * max(high[1] - low[1], (high[0] - low[0]) / (LOOK[0] / LOOK[1]))
    scale = LOOK[1] / tall
    width, height = PICTURE[0] / scale, PICTURE[1] / scale
    left, top = 0.5 * (low + high) - (0.5 * width, 0.5 * height)
    return left, top, width, height, scale


def heading(direction, sight):
    """Angle of a direction (3,) m about the vertical from the line toward the camera, rad."""
    angle = np.arctan2(direction[0], direction[2]) - np.arctan2(-sight[0], -sight[2])
    return float((angle + np.pi) % (2 * np.pi) - np.pi)


def truth(joints, stance, view, cut):
    """What is told of one frame; joints: name -> (3,) m, view: the whole picture's camera."""
    free = "left" if stance == "right" else "right"
    place = np.array([joints[f"{joint}_{side}"] for side in (stance, free) for joint in JOINTS])
    ankle, axes = place[ANKLE], view.axes * np.array([[1], [-1], [-1]])
    mirror = -1.0 if stance == "left" else 1.0
    flip = np.array([mirror, 1, 1])
    sight = ankle - view.position
    hips = joints["hip_left"] - joints["hip_right"]
    depth = float((axes @ sight)[2])
    px = cut.project(place)
    if mirror < 0:
        px[:, 0] = cut.width - px[:, 0]
    toes = {side: joints[f"toe2_{side}"] - joints[f"ankle_{side}"] for side in (stance, free)}
    row = {name: joints[name][None] for name in (f"{joint}_{stance}" for joint in JOINTS)}
    return {
        "points_px": px, "joints_m": (place - ankle) @ axes.T * flip, "sight": axes @ sight / np.linalg.norm(sight) * flip,
        "up": axes @ (0, 1, 0) * flip, "pelvis_heading": mirror * heading(np.cross(hips, (0, 1, 0)), sight),
        "foot_heading": mirror * heading(toes[stance], sight), "free_heading": mirror * heading(toes[free], sight),
        "px_per_m": cut.focal_px / depth, "depth_m": depth, "roll_rad": mirror * view.roll, "pitch_rad": view.pitch,
        "focal_share": view.focal_share, "yaw_rad": mirror * view.yaw,
        "knee_offset_m": float(knee_offset_m(row, stance)[0]), "knee_flexion_deg": float(knee_flexion_deg(row, stance)[0]),
    }


def within(points_px):
    """Whether all points (N, 2) lie in the filmed picture, or a little aside of it."""
    u, v = points_px.T
    return bool(np.isfinite(points_px).all() and u.min() > -20 and u.max() < FILMED[0] + 20
                and v.min() > 20 and v.max() < FILMED[1] - 5)


# --- a person's frames -------------------------------------------------------------------

def frames_of(number, count, scene):
    """All that is stored of training person `number`: a list of dictionaries, about `count`."""
    seed = draw.seed_of("training", number)
    rng = np.random.default_rng([seed, 52])
    person = Person(seed=seed, **draw.person(rng))
    out = []
    for part in range(SCRIPTS):
        asked = script(rng, person.stature_m)
        mover = Mover(person.rest, person.stature_m, asked, seed=int(rng.integers(1 << 30)))
        movement = mover.move()
        out += moments(rng, person, movement, mover.planted(movement.time_s, movement.reps), scene,
                       int(rng.integers(1 << 30)), count // SCRIPTS)
    scene.forget(person)
    return out


def moments(rng, person, movement, planted, scene, room_seed, count):
    """`count` frames of one movement in one room, each from its own camera and light."""
    asked, stance = movement.script, movement.script.stance
    free = "left" if stance == "right" else "right"
    start = movement.joints["pelvis"][5]
    front = start[2] + rng.uniform(0.05, 0.20)
    chair = Chair(seat_h_m=asked.seat_height_m, front_z_m=float(front), x_m=float(start[0]), **draw.seat(rng, asked.rung))
    scene.furnish(Room(seed=room_seed, aside_m=4.2, **draw.room(rng, front)), chair, floor_px=512)
    out = []
    for k in rng.choice(len(movement.time_s), count, replace=False):
        pelvis, turns = posed(rng, person, movement, k)
        joints = person.joints(pelvis, turns)
        view = camera(rng, pelvis[0])
        px = view.project([joints[f"{joint}_{side}"] for side in (stance, free) for joint in JOINTS])
        if not within(px):
            continue
        cut = view.cut(*crop_of(px))
        scene.light = Light(**draw.light(rng))
        picture = scene.draw([(person, person.skin(pelvis, turns))], cut, mask=True)
        told = truth(joints, stance, view, cut)
        told |= {"picture": picture[:, ::-1] if stance == "left" else picture, "planted": planted[k],
                 "stature_m": person.stature_m, "single_leg": asked.rung == "single_leg",
                 "free_foot_down": joints[f"ankle_{free}"][1] < person.rest[f"ankle_{free}"][1] + 0.006}
        out.append(told)
    return out


def store(path, frames):
    """Writes frames as one .npz that appears only when it is whole."""
    kinds = {"picture": np.uint8, "planted": bool, "single_leg": bool, "free_foot_down": bool}
    columns = {name: np.array([frame[name] for frame in frames], kinds.get(name, np.float32)) for name in frames[0]}
    unfinished = path.with_suffix(".part")
    with open(unfinished, "wb") as file:
        np.savez(file, **columns)
    unfinished.rename(path)


def work(job):
    """One process: every `jobs`-th person, until all are there or the time is up."""
    worker, told = job
    end, total, people, began = time.monotonic() + told.seconds, 0, 0, time.monotonic()
    scene = Scene()
    for number in range(told.first + worker, told.first + told.count, told.jobs):
        if time.monotonic() > end:
            break
        path = told.out / f"{number:06d}.npz"
        if path.exists():
            continue
        try:
            frames = frames_of(number, told.frames, scene)
        except Exception:
            # One odd person must not end a long run; the seed is enough to look into it.
            print(f"person {number}:", traceback.format_exc(), sep="\n", flush=True)
            continue
        if frames:
            store(path, frames)
        total, people = total + len(frames), people + 1
    print(f"process {worker}: {people} people, {total} frames, {total / (time.monotonic() - began):.1f} frames/s", flush=True)


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("out", type=pathlib.Path, nargs="?")
    words.add_argument("--first", type=int, default=0, help="number of the first person")
    words.add_argument("--count", type=int, default=400, help="people")
    words.add_argument("--frames", type=int, default=150, help="tried a person; a few lie outside the picture")
    words.add_argument("--jobs", type=int, default=1)
    words.add_argument("--seconds", type=float, default=float("inf"), help="no new person after this")
    words.add_argument("--pack", type=pathlib.Path, help="copy the body's data files here, and end")
    told = words.parse_args()
    if told.pack:
        return pack(told.pack)
    if not told.out:
        words.error("where to? OUT is missing")
    told.out.mkdir(parents=True, exist_ok=True)
    with multiprocessing.get_context("spawn").Pool(told.jobs) as pool:
        list(pool.imap_unordered(work, [(k, told) for k in range(told.jobs)]))


if __name__ == "__main__":
    main()
