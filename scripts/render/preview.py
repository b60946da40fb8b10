"""Draw one person in a simple pose into a PNG.

    python preview.py standing|seated|squat OUT.png [--yaw DEG] [--seed N] ...
"""

import argparse

import numpy as np
from PIL import Image

from body import HAIR_STYLES, Person
from scene import Camera, Chair, Room, Scene


def turn_x(angle):
    """Rotation (3, 3) about X, rad; positive tips up toward forward."""
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[1, 0, 0], [0, c, -s], [0, s, c]])


def turn_y(angle):
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, 0, s], [0, 1, 0], [-s, 0, c]])


def between(a, b):
    """The shortest rotation (3, 3) that turns direction a into direction b."""
    a, b = np.asarray(a, float) / np.linalg.norm(a), np.asarray(b, float) / np.linalg.norm(b)
    v, c = np.cross(a, b), float(a @ b)
    k = np.array([[0, -v[2], v[1]], [v[2], 0, -v[0]], [-v[1], v[0], 0]])
    return np.eye(3) + k + k @ k / (1 + c)


def aimed(person, start, end, direction):
    """World rotation of the bone start -> end so that it points in a direction."""
    return between(person.rest[end] - person.rest[start], direction)


def leg(person, side, hip, ankle, knee_outward=0.0):
    """Two-link leg: rotations of thigh and shank for hip and ankle (3,) m."""
    thigh = np.linalg.norm(person.rest[f"knee_{side}"] - person.rest[f"hip_{side}"])
    shank = np.linalg.norm(person.rest[f"ankle_{side}"] - person.rest[f"knee_{side}"])
    line = ankle - hip
    reach = min(np.linalg.norm(line), 0.9995 * (thigh + shank))
    line = line / np.linalg.norm(line)
    along = (thigh ** 2 - shank ** 2 + reach ** 2) / (2 * reach)
    away = np.sqrt(max(thigh ** 2 - along ** 2, 0))
    sign = 1 if side == "left" else -1
    forward = np.array([sign * np.sin(knee_outward), 0, np.cos(knee_outward)])
    forward -= line * (forward @ line)
    knee = hip + along * line + away * forward / np.linalg.norm(forward)
    ankle = hip + reach * line
    return (aimed(person, f"hip_{side}", f"knee_{side}", knee - hip),
            aimed(person, f"knee_{side}", f"ankle_{side}", ankle - knee))


def pose(person, kind, seat_h_m=0.45):
    """(pelvis position (3,) m, rotations) of "standing", "seated", "squat"
    (half squat on the right leg, left leg forward) or "rest"."""
    rest = person.rest
    rotations = {bone: np.eye(3) for bone in ("foot_left", "foot_right")}
    if kind == "rest":
        return rest["pelvis"], {}
    half = 0.5 * np.linalg.norm(rest["hip_left"] - rest["hip_right"])
    lean = {"standing": 0.0, "seated": 0.10, "squat": 0.40}[kind]
    rotations["pelvis"] = turn_x(0.8 * lean)
    rotations["abdomen"] = turn_x(lean)
    rotations["thorax"] = turn_x(1.05 * lean)
    rotations["head"] = turn_x(0.3 * lean)
    ankle_y = rest["ankle_left"][1]
    toe_out = np.radians(7)
    feet = {}
    stand_y = np.linalg.norm(rest["knee_left"] - rest["hip_left"]) + np.linalg.norm(
        rest["ankle_left"] - rest["knee_left"]) + ankle_y - 0.004
    if kind == "standing":
        pelvis = np.array([0, stand_y, -0.02])
        for side, sign in (("left", 1), ("right", -1)):
            feet[side] = np.array([sign * (half + 0.02), ankle_y, -0.03])
    elif kind == "seated":
        pelvis = np.array([0, seat_h_m + 0.09, -0.36])
        for side, sign in (("left", 1), ("right", -1)):
            feet[side] = np.array([sign * (half + 0.03), ankle_y, 0.02])
    else:
        pelvis = np.array([-0.05, 0.80 * stand_y, -0.16])
        feet["right"] = np.array([-0.07, ankle_y, 0.0])
        feet["left"] = np.array([0.11, ankle_y + 0.14, 0.50])
    for side, sign in (("left", 1), ("right", -1)):
        hip = pelvis + rotations["pelvis"] @ (rest[f"hip_{side}"] - rest["pelvis"])
        thigh, shank = leg(person, side, hip, feet[side], toe_out)
        rotations[f"thigh_{side}"], rotations[f"shank_{side}"] = thigh, shank
        rotations[f"foot_{side}"] = turn_y(sign * toe_out)
        if kind == "squat" and side == "left":
            rotations[f"foot_{side}"] = turn_y(sign * toe_out) @ turn_x(-0.5)
        if kind == "standing":
            upper, fore = (sign * 0.20, -1, -0.02), (sign * 0.12, -1, 0.12)
        else:       # arms crossed on the chest
            upper, fore = (sign * 0.22, -0.9, 0.55), (-sign * 0.90, 0.45, 0.35)
        trunk = rotations["thorax"]
        rotations[f"upper_arm_{side}"] = trunk @ aimed(person, f"shoulder_{side}", f"elbow_{side}", upper)
        rotations[f"forearm_{side}"] = trunk @ aimed(person, f"elbow_{side}", f"wrist_{side}", fore)
        rotations[f"hand_{side}"] = trunk @ aimed(person, f"elbow_{side}", f"wrist_{side}", fore)
    return pelvis, rotations


BODIES = (
    dict(sex=1.0, age_years=34, muscle=0.6, weight=0.45, stature_m=1.78, hair="short", seed=1),
    dict(sex=0.0, age_years=28, muscle=0.5, weight=0.45, stature_m=1.66, hair="ponytail", bottom="leggings",
         ancestry={"african": 1.0}, seed=2),
    dict(sex=0.0, age_years=68, muscle=0.4, weight=0.68, stature_m=1.60, hair="bob", top="loose", bottom="wide", seed=3),
    dict(sex=1.0, age_years=55, muscle=0.5, weight=0.75, stature_m=1.72, hair="crop", bottom="shorts",
         ancestry={"asian": 1.0}, seed=4),
)
"""Parameters of a few different people."""


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("pose", choices=("rest", "standing", "seated", "squat"))
    parser.add_argument("output")
    parser.add_argument("--body", type=int, default=0, help="which of the sample people, 0..3")
    parser.add_argument("--yaw", type=float, default=0.0, help="camera yaw, degrees")
    parser.add_argument("--seed", type=int, default=0, help="room")
    parser.add_argument("--distance", type=float, default=3.0, help="camera distance, m")
    parser.add_argument("--focus", type=float, default=0.85, help="height looked at, m")
    parser.add_argument("--chair", default="box", choices=("box", "stool", "chair", "none"))
    parser.add_argument("--hair", choices=HAIR_STYLES)
    parser.add_argument("--bottom", choices=("shorts", "trousers", "leggings", "wide"))
    arguments = parser.parse_args()
    parameters = dict(BODIES[arguments.body])
    for name in ("hair", "bottom"):
        if getattr(arguments, name):
            parameters[name] = getattr(arguments, name)
    person = Person(**parameters)
    camera = Camera.around((0, arguments.focus, -0.05), arguments.distance, arguments.yaw, height_m=max(1.0, arguments.focus))
    scene = Scene(Room(seed=arguments.seed), Chair(arguments.chair, 0.45, -0.20), camera)
    Image.fromarray(scene.draw([(person, person.skin(*pose(person, arguments.pose)))])).save(arguments.output)


if __name__ == "__main__":
    main()
