"""How far a closer look errs on clips whose joints are known: check.py NETWORK.onnx CLIPS

CLIPS: a folder of NAME.mp4, NAME.truth.json and NAME.joints.npz, as scripts/render/render.py
--study makes them. Of the working leg between seat-off and contact, once the pelvis is 15 % of
its way up: root mean square over the clip of the points across (cm at the ankle); mean error of
the headings of foot and pelvis, which lasts through a clip (degrees); error of the knee offset at
its largest in each rep (cm), the camera's scale being known. Needs numpy, pillow, onnxruntime and
ffmpeg.
"""

import json
import pathlib
import subprocess
import sys

import numpy as np
import onnxruntime
from PIL import Image

from crops import LEFT, RIGHT, scalars
from outputs import ANGLES, HEIGHT, JOINTS, LEGS, SCALARS, WIDTH

NAMES = [f"{'toe2' if joint == 'toe' else joint}_{leg}" for leg in LEGS for joint in JOINTS]
MARGIN = 1.3  # as in scripts/render/crops.py
CLEAR_OF_SEAT = 0.15  # of the way, as the program judges a knee


def frames_of(film, width, height):
    command = ["ffmpeg", "-v", "error", "-i", film, "-f", "rawvideo", "-pix_fmt", "rgb24", "-"]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as decoder:
        while len(raw := decoder.stdout.read(width * height * 3)) == width * height * 3:
            yield np.frombuffer(raw, np.uint8).reshape(height, width, 3)


def look(network, picture, points_px):
    """What the network says of a picture whose legs lie at points_px (10, 2): points in the
    picture (10, 2), scalars in its pixels (12,)."""
    low, high = points_px.min(0), points_px.max(0)
    tall = MARGIN * max(high[1] - low[1], (high[0] - low[0]) * HEIGHT / WIDTH)
    px = tall / HEIGHT
    corner = 0.5 * (low + high) - 0.5 * px * np.array([WIDTH, HEIGHT])
    pad = int(np.ceil(max(0, *-corner, *(corner + px * np.array([WIDTH, HEIGHT]) - picture.shape[1::-1])))) + 1
    padded = Image.fromarray(np.pad(picture, ((pad, pad), (pad, pad), (0, 0)), "edge"))
    box = (*(corner + pad), *(corner + pad + px * np.array([WIDTH, HEIGHT])))
    crop = np.asarray(padded.resize((WIDTH, HEIGHT), Image.BILINEAR, box), np.float32)
    points, _, values = network.run(None, {"picture": crop.transpose(2, 0, 1)[None] / 255})
    units = np.array([1.0 if name in ANGLES else px for name in SCALARS])
    return corner + points[0] * px, values[0, :, 0] * units


def errors_of(network, film):
    """Errors of one clip by name; None if it shows no single-leg rises."""
    truth = json.loads(film.with_suffix(".truth.json").read_text())
    if truth["rung"] != "single_leg":
        return None
    known = np.load(film.with_suffix(".joints.npz"))
    at = [list(known["joints"]).index(name) for name in NAMES]
    world, local = known["world_m"][:, at], known["camera_m"][:, at]
    # What turns the world into the camera's axes turns what is up as well.
    turned = [np.linalg.lstsq(w - w.mean(0), c - c.mean(0), rcond=None)[0] for w, c in zip(world, local)]
    up = np.array(turned)[:, 1]
    working = LEFT if truth["leg"] == "left" else RIGHT
    told = scalars(local.reshape(-1, 2, len(JOINTS), 3), up, known["focal_px"], working)
    points_px, time_s = known["picture_px"][:, at], known["time_s"]
    width, height = truth["camera"]["size_px"]
    found = [look(network, picture, px) for picture, px in zip(frames_of(film, width, height), points_px)]
    points = np.array([f[0] for f in found])
    values = np.array([f[1] for f in found])
    first = working * len(JOINTS)
    ankle_m = local[:, first + JOINTS.index("ankle"), 2]
    cm_per_px = 100 * ankle_m / known["focal_px"]
    hips_m = world[:, [0, len(JOINTS)], 1].mean(1)
    carrying, peaks = np.zeros(len(time_s), bool), []
    for rep in truth["reps"]:
        during = (time_s > rep["seat_off_s"]) & (time_s < rep["seat_contact_s"])
        low, high = hips_m[during].min(), hips_m[during].max()
        during &= hips_m > low + CLEAR_OF_SEAT * (high - low)
        carrying |= during
        offset = first + 4  # as many numbers of a leg as joints
        calm = np.convolve(np.pad(values[during, offset], 2, "edge"), np.ones(5) / 5, "valid")
        peaks.append((calm * cm_per_px[during]).max() - (told[during, offset] * cm_per_px[during]).max())
    errors = {}
    for place, joint in enumerate(JOINTS):
        off = (points - points_px)[carrying, first + place, 0] * cm_per_px[carrying]
        errors[joint] = np.sqrt((off**2).mean())
    for name, place in (("foot_deg", first + 3), ("pelvis_deg", 10)):
        errors[name] = np.degrees((values - told)[carrying, place].mean())
    errors["offset_cm"] = np.abs(peaks).mean()
    return errors


def main():
    network = onnxruntime.InferenceSession(sys.argv[1])
    clips = {film.stem: errors_of(network, film) for film in sorted(pathlib.Path(sys.argv[2]).glob("*.mp4"))}
    clips = {name: errors for name, errors in clips.items() if errors}
    for name, errors in clips.items():
        print(name, " ".join(f"{of} {value:.2f}" for of, value in errors.items()))
    for of in next(iter(clips.values())):
        sizes = np.abs([errors[of] for errors in clips.values()])
        print(f"{of}: mean {sizes.mean():.2f}, largest {sizes.max():.2f}")


if __name__ == "__main__":
    main()
