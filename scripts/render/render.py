"""Renders the sample clips and writes their truth.

    python render.py [--out DIR] [--scenarios FILE] [--jobs N] [--truth-only] [NAME ...]

For each clip of the scenario file: NAME.mp4, NAME.truth.json (per rep) and
NAME.frames.csv (per frame). The same file gives the same pictures. With --truth-only
no picture is drawn, which takes seconds a clip. With --study the truth also says what
studies of the method ask (`study`, one entry a rep), and NAME.joints.npz holds all
joints of every frame in 3-D with its camera.
"""

import argparse
import json
import multiprocessing
import pathlib
import tomllib
from types import SimpleNamespace

import numpy as np

from body import Person
from film import Film, blended, hand_shake
from motion import RATE_HZ, Mover, Script, about_x, about_y
from scene import Camera, Chair, Light, Room, Scene
from truth import reps_of, study_of, write_frames, write_joints

HERE = pathlib.Path(__file__).parent


def scenarios(path):
    """Clips by name, each over what all have in common."""
    told = tomllib.loads(path.read_text())
    common = told.get("common", {})
    clips = {}
    for clip in told["clip"]:
        parts = {part: {**common.get(part, {}), **clip.get(part, {})}
                 for part in ("person", "script", "camera", "film", "chair", "room", "light")}
        clips[clip["name"]] = {**clip, **parts}
    return clips


def take(clip, recorded):
    """Who moves how, before which camera: all of a clip but its pictures."""
    person = Person(seed=clip["seed"], **clip["person"])
    script = Script(**clip["script"])
    rest = {k: np.asarray(v) for k, v in person.rest.items()}
    mover = Mover(rest, person.stature_m, script, recorded, clip["seed"])
    movement = mover.move()

    film = dict(clip["film"])
    rate = film.pop("rate_hz", 30)
    shake_m, shake_deg = film.pop("shake_m", 0.002), film.pop("shake_deg", 0.1)
    at = dict(clip["camera"])
    yaw_deg = at.pop("yaw_deg", 0.0)
    # A person turned to the picture's right is seen from the person's right.
    aim = (at.pop("aim_x_m", 0.0), at.pop("aim_m", 0.85), -0.15)
    camera = Camera.around(aim, at.pop("distance_m", 3.0), -yaw_deg, **at)
    shake = hand_shake(len(movement.time_s), RATE_HZ, clip["seed"], shake_m, shake_deg)
    return SimpleNamespace(person=person, script=script, movement=movement, film=film,
                           planted=mover.planted(movement.time_s, movement.reps), rate_hz=rate,
                           frames=range(0, len(movement.time_s), RATE_HZ // rate), yaw_deg=yaw_deg,
                           camera=camera, shake=shake)


def render(job):
    clip, out, recorded, truth_only, study = job
    this = take(clip, recorded)
    person, script, movement, camera, shake = this.person, this.script, this.movement, this.camera, this.shake
    film, frames, step = this.film, this.frames, RATE_HZ // this.rate_hz
    shutter = film.pop("shutter_samples", 1)
    if not truth_only:
        chair = Chair(seat_h_m=script.seat_height_m, front_z_m=movement.joints["pelvis"][0, 2] + 0.10,
                      x_m=movement.joints["pelvis"][0, 0], **clip["chair"])
        draw(clip, out, person, movement, camera, chair, shake, film, frames, shutter, step)

    pixels = {name: np.empty((len(movement.time_s), 2)) for name in movement.joints}
    every = np.stack([movement.joints[name] for name in pixels], 1)
    for i in range(len(movement.time_s)):
        seen = shake.camera(camera, i).project(every[i])
        for k, name in enumerate(pixels):
            pixels[name][i] = seen[k]
    write_frames(out / f"{clip['name']}.frames.csv", movement, frames, pixels)
    toe = movement.joints[f"toe2_{script.stance}"][0] - movement.joints[f"ankle_{script.stance}"][0]
    outward = -1.0 if script.stance == "right" else 1.0
    truth = {
        "clip": f"{clip['name']}.mp4", "story": clip["story"], "leg": script.stance,
        "rung": script.rung, "stature_m": person.stature_m, "seat_height_m": script.seat_height_m,
        "yaw_deg": this.yaw_deg, "toe_out_deg": round(float(np.degrees(np.arctan2(outward * toe[0], toe[2]))), 1),
        "frame_rate_hz": this.rate_hz, "frames": len(frames),
        "camera": {"position_m": list(camera.position), "yaw_rad": camera.yaw, "pitch_rad": camera.pitch,
                   "roll_rad": float(camera.roll), "focal_share": camera.focal_share},
        "reps": reps_of(movement, pixels, person.stature_m),
    }
    if study:
        truth["study"] = study_of(movement, this.planted, camera)
        truth["camera"] |= {"focal_px": camera.focal_px, "pitch_deg": round(float(np.degrees(camera.pitch)), 2),
                            "roll_deg": round(float(np.degrees(camera.roll)), 2), "size_px": [camera.width, camera.height]}
        write_joints(out / f"{clip['name']}.joints.npz", movement, frames, this.planted, [shake.camera(camera, i) for i in frames])
    (out / f"{clip['name']}.truth.json").write_text(json.dumps(truth, indent=1) + "\n")
    return clip["name"]


def draw(clip, out, person, movement, camera, chair, shake, film, frames, shutter, step):
    """Draws and encodes NAME.mp4."""
    scene = Scene(Room(seed=clip["seed"], **clip["room"]), chair, camera, Light(**clip["light"]))
    others = [(Person(seed=clip["seed"] + 1, **other["person"]), other) for other in clip.get("passer_by", [])]

    def posed(i):
        turn = {bone: r[i] for bone, r in movement.rotations.items()}
        people = [(person, person.skin(movement.joints["pelvis"][i], turn))]
        for other, path in others:
            place, turns = walking(other, path, movement.time_s[i])
            people.append((other, other.skin(place, turns)))
        return people

    with Film(out / f"{clip['name']}.mp4", camera.width, camera.height, RATE_HZ // step, clip["seed"],
              max_frames=len(frames), **film) as reel:
        for n, i in enumerate(frames):
            moments = [min(i + k * step // (2 * shutter), len(movement.time_s) - 1) for k in range(shutter)]
            pictures = [scene.draw(posed(m), shake.camera(camera, m), reel.exposure(n)) for m in moments]
            reel.write(pictures[0] if shutter == 1 else blended(pictures))


def walking(person, path, t):
    """Pelvis place and rotations of a person who walks along X at depth `z_m`."""
    way = np.sign(path["to_x_m"] - path["from_x_m"])
    speed, cadence_hz = path.get("speed_m_s", 1.1), 0.9
    x = path["from_x_m"] + way * speed * max(0.0, t - path["at_s"])
    facing = about_y(np.array(way * np.pi / 2))
    swing = 2 * np.pi * cadence_hz * t
    turns = {"pelvis": facing, "abdomen": facing, "thorax": facing, "head": facing}
    for side, phase in (("left", 0.0), ("right", np.pi)):
        thigh = -0.42 * np.sin(swing + phase)
        knee = 0.15 + 0.45 * max(0.0, np.cos(swing + phase))
        turns[f"thigh_{side}"] = facing @ about_x(np.array(thigh))
        turns[f"shank_{side}"] = turns[f"foot_{side}"] = facing @ about_x(np.array(thigh + knee))
        arm = facing @ about_x(np.array(0.35 * np.sin(swing + phase)))
        turns[f"upper_arm_{side}"] = turns[f"forearm_{side}"] = turns[f"hand_{side}"] = arm
    height = person.rest["pelvis"][1] - 0.02 + 0.015 * np.cos(2 * swing)
    return np.array([x, height, path["z_m"]]), turns


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("names", nargs="*")
    words.add_argument("--scenarios", type=pathlib.Path, default=HERE / "scenarios.toml")
    words.add_argument("--out", type=pathlib.Path, default=HERE.parent.parent / "sample-clips")
    words.add_argument("--jobs", type=int, default=1)
    words.add_argument("--truth-only", action="store_true")
    words.add_argument("--study", action="store_true")
    told = words.parse_args()
    recorded = json.loads((HERE / "courses.json").read_text())["courses"]
    clips = scenarios(told.scenarios)
    unknown = set(told.names) - set(clips)
    if unknown:
        words.error(f"no such clip: {', '.join(sorted(unknown))}")
    told.out.mkdir(parents=True, exist_ok=True)
    jobs = [(clips[name], told.out, recorded, told.truth_only, told.study) for name in told.names or clips]
    # The longest first, so that no process is left alone with it.
    jobs.sort(key=lambda job: -len(job[0]["script"].get("reps", [])) * job[0]["film"].get("rate_hz", 30))
    with multiprocessing.get_context("spawn").Pool(told.jobs) as pool:
        for name in pool.imap_unordered(render, jobs):
            print(name, flush=True)


if __name__ == "__main__":
    main()
