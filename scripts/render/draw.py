"""Draws people, rooms, cameras and whole clips at random, from the seeds of one set.

    python draw.py --set tuning --count 24 > tuning_hard.toml

Three sets never share a seed, and so no person, room or movement:

    sample    scenarios.toml, written by hand, seeds below 500: the README's table
    tuning    seeds 7000-99999: methods and constants are chosen on these
    training  seeds from 100000: networks learn from these (crops.py)

All ranges here are choices without an outside source, meant to be wider than what is
filmed; see README.md.
"""

import argparse
import colorsys
import sys

import numpy as np

from body import BOTTOMS, PRINTS
from scene import Camera

FIRST_SEED = {"tuning": 7000, "training": 100_000}
LAST_SEED = {"tuning": 99_999, "training": 2**31 - 1}
HALF_FOOT_BREADTH = 0.0275  # of stature, the limit of the knee's offset [Winter2009]

RISES = ("smooth", "even", "sine", "skewed", "hesitant", "jerky", "creeping", "ends_fast", "two_stage", "stops", "shaky")
DESCENTS = RISES
ARMS = ("crossed", "hanging", "forward", "hips", "clasped", "thighs")
THEMES = ("knee", "drop", "touch", "mixed", "knee", "stand", "touch", "mixed", "drop", "knee", "hands", "mixed")
"""What goes wrong in a tuning clip, by its number."""


def seed_of(which, number):
    """The seed of a set's clip or person `number`; raises ValueError past its end."""
    seed = FIRST_SEED[which] + number
    if not FIRST_SEED[which] <= seed <= LAST_SEED[which]:
        raise ValueError(f"the set {which!r} has no number {number}")
    return seed


# --- small draws ------------------------------------------------------------------------

def near(rng, middle, spread, digits=3):
    return round(float(rng.normal(middle, spread)), digits)


def between(rng, low, high, digits=3):
    return round(float(rng.uniform(low, high)), digits)


def one(rng, choices, p=None):
    """One of the choices, with weights p (any scale)."""
    p = None if p is None else np.asarray(p, float) / np.sum(p)
    return choices[int(rng.choice(len(choices), p=p))]


def colour(rng, dark=0.2):
    """A colour [3] sRGB 0..1; a share `dark` of them nearly black."""
    if rng.random() < dark:
        return [between(rng, 0.05, 0.16) for _ in range(3)]
    value = colorsys.hsv_to_rgb(rng.random(), rng.beta(1.2, 2.0), rng.uniform(0.06, 0.97))
    return [round(v, 3) for v in value]


# --- who ----------------------------------------------------------------------------------

def cloth(rng, plain):
    """A print and a gloss, or None for plain dull cloth (a share `plain`)."""
    if rng.random() < plain:
        return None
    kind = one(rng, PRINTS, [3, 3, 2, 1, 1, 2])
    return {"kind": kind, "size_m": round(float(np.exp(rng.uniform(np.log(0.015), np.log(0.14)))), 3),
            "turn_deg": one(rng, (0.0, 90.0, 45.0, 20.0)), "share": between(rng, 0.15, 0.6), "colour": colour(rng),
            "gloss": round(float(rng.beta(0.7, 2.0)) * 0.7, 3)}


def person(rng, ages=(18, 86)):
    """Parameters of Person, but its seed: body, proportions, clothes."""
    sex = between(rng, 0, 0.25) if rng.random() < 0.5 else between(rng, 0.75, 1)
    african, asian, caucasian = (round(float(v), 2) for v in rng.dirichlet([0.5, 0.5, 0.5]))
    proportions = {"hip_spacing": between(rng, 0.088, 0.108, 4)}
    if rng.random() < 0.7:
        proportions |= {"thigh": near(rng, 0.243, 0.008, 4), "shank": near(rng, 0.243, 0.008, 4)}
    bottom = one(rng, BOTTOMS, [17, 13, 10, 9, 9, 7, 8, 14, 13])
    shoes = one(rng, ("trainers", "barefoot", "socks", "sandals"), [58, 22, 12, 8])
    told = {
        "sex": sex, "age_years": between(rng, *ages, 0), "muscle": between(rng, 0.25, 0.85),
        "weight": round(float(rng.beta(2.2, 1.8)), 3),
        "stature_m": round(float(np.clip(rng.normal(1.62 + 0.13 * sex, 0.075), 1.45, 1.98)), 3),
        "ancestry": {"african": african, "asian": asian, "caucasian": caucasian}, "skin_tone": between(rng, 0, 1),
        "hair": one(rng, ("bald", "crop", "short", "full", "bob", "ponytail", "bun")),
        "top": one(rng, ("t-shirt", "long-sleeve", "loose", "long", "vest"), [26, 18, 18, 26, 12]),
        "top_colour": colour(rng), "top_print": cloth(rng, 0.55),
        "bottom": bottom, "bottom_colour": colour(rng, 0.65 if bottom in ("tights", "leggings") else 0.25),
        "bottom_print": cloth(rng, 0.5), "bottom_stripe": colour(rng) if rng.random() < 0.12 else None,
        "flare": between(rng, 0.050, 0.080), "shoes": shoes, "shoe_colour": colour(rng, 0.25), "sole_colour": colour(rng),
        "sock_colour": colour(rng), "sock_m": between(rng, 0.002, 0.005, 4), "sock_height": one(rng, (0.02, 0.045, 0.09, 0.15)), "proportions": proportions,
    }
    if bottom == "tights" and rng.random() < 0.6:   # black, and shining a little
        grey = between(rng, 0.05, 0.13)
        told |= {"bottom_colour": [grey, grey, grey], "bottom_print": {"kind": "plain", "gloss": between(rng, 0, 0.5)}}
    if bottom == "tights" and shoes == "socks":     # the feet of the tights
        told["sock_colour"] = told["bottom_colour"]
    return {name: value for name, value in told.items() if value is not None}


# --- where ----------------------------------------------------------------------------------

def seat(rng, rung):
    """Parameters of Chair, but its place and height; open below where a foot goes behind."""
    kinds, often = ("stool", "chair", "bench", "none", "box", "armchair", "pouffe", "sofa"), [16, 22, 12, 4, 18, 10, 9, 9]
    open_below = 4 if rung == "split_stance" else len(kinds)
    kind = one(rng, kinds[:open_below], often[:open_below])
    return {"kind": kind, "width_m": between(rng, 0.36, 0.58), "depth_m": between(rng, 0.36, 0.48), "colour": colour(rng)}


def room(rng, seat_z_m):
    """Parameters of Room, but its seed, behind a seat whose front is at seat_z_m."""
    return {"style": one(rng, ("varied", "plain"), [85, 15]), "wall_z_m": round(seat_z_m - float(rng.uniform(0.75, 2.6)), 2),
            "clutter": int(rng.integers(0, 8))}


def light(rng):
    """Parameters of Light: from the front, the side, above or behind, dim to glaring."""
    turn = np.radians(rng.uniform(-180, 180) if rng.random() < 0.3 else rng.normal(0, 55))
    high = rng.uniform(0.35, 1.6)
    warm = rng.normal(0, 0.06)
    return {"direction": [round(float(v), 3) for v in (np.sin(turn), high, np.cos(turn))],
            "strength": between(rng, 0.1, 1.15), "ambient": between(rng, 0.22, 0.8),
            "tint": [round(float(1 + v), 3) for v in (warm, 0.0, -warm)],
            "exposure": round(float(np.exp(rng.normal(0, 0.22))), 3)}


def camera(rng, yaw_deg, far_m=(2.0, 4.2), roll_deg=0.9):
    """A phone on something or in a hand: what take() and Camera.around need."""
    return {"yaw_deg": round(yaw_deg, 1), "distance_m": between(rng, *far_m, 2), "height_m": between(rng, 0.35, 1.35, 2),
            "aim_m": between(rng, 0.65, 1.0, 2), "aim_x_m": near(rng, 0, 0.08, 2),
            "roll_deg": near(rng, 0, roll_deg, 2), "focal_share": between(rng, 0.70, 1.05)}


def holds(at, stature_m, width, height):
    """Whether the person, standing and with a foot ahead, lies within the picture."""
    told = {k: v for k, v in at.items() if k not in ("yaw_deg", "distance_m", "aim_m", "aim_x_m")}
    view = Camera.around((at["aim_x_m"], at["aim_m"], -0.15), at["distance_m"], -at["yaw_deg"], width=width, height=height, **told)
    px = view.project([(x, y, z) for x in (-0.42, 0.42) for y, z in ((1.06 * stature_m, 0.15), (-0.02, 0.5))])
    return bool(np.isfinite(px).all() and px.min() > 4 and px[:, 0].max() < width - 4 and px[:, 1].max() < height - 4)


def film(rng, pixels):
    """Parameters of Film and of the hand: a phone's encoder, its noise and its sharpening."""
    per_pixel = np.exp(rng.uniform(np.log(0.3), np.log(5.0)))      # bits a second
    held = rng.random() < 0.4
    told = {"noise": between(rng, 0.6, 4.0, 1), "bitrate_kbps": int(per_pixel * pixels / 1000),
            "exposure_drift": between(rng, 0.002, 0.03), "preset": one(rng, ("superfast", "veryfast", "fast")),
            "gop_s": one(rng, (0.5, 1.0, 2.0, 4.0)),
            "shake_m": between(rng, 0.0005, 0.004, 4) if held else 0.0, "shake_deg": between(rng, 0.02, 0.2) if held else 0.0}
    if rng.random() < 0.6:
        told["sharpen"] = between(rng, 0.2, 0.9)
    if rng.random() < 0.5:
        told["smear"] = between(rng, 0.3, 0.9)
    return told


# --- how ----------------------------------------------------------------------------------

def courses(rng, recorded):
    """Laws of rise and descent, drawn apart."""
    return {"rise": one(rng, RISES + recorded[0]), "rise_shape": between(rng, -0.8, 0.8, 2),
            "descent": one(rng, DESCENTS + recorded[1]), "descent_shape": between(rng, -0.8, 0.8, 2)}


def touch(rng):
    """One touch of the free foot."""
    kind = one(rng, ("clear", "soft", "brush"), [4, 4, 2])
    told = {"in": one(rng, ("seat_off", "rise", "stand", "descent"), [1, 2, 3, 3]), "kind": kind}
    told["after_s"] = between(rng, -0.3, 0.1, 2) if told["in"] == "seat_off" else between(rng, 0.0, 0.7, 2)
    if kind == "clear":
        told |= {"down_s": between(rng, 0.16, 0.35, 2), "stay_s": between(rng, 0.08, 0.35, 2)}
    elif kind == "soft":
        told |= {"down_s": between(rng, 0.4, 0.9, 2), "stay_s": between(rng, 0.2, 1.0, 2)}
    return told


def fault(rng, theme, stature_m):
    """What goes wrong in a rep of this theme; sizes lie on both sides of the limits."""
    kind = one(rng, ("knee", "drop", "touch", "stand", "hands")) if theme == "mixed" else theme
    if kind == "knee":
        limit = HALF_FOOT_BREADTH * stature_m
        size = limit + rng.normal(0, 0.012) if rng.random() < 0.5 else rng.uniform(0.02, 0.11)
        return {"knee_in_m": round(float(np.clip(size, 0.015, 0.12)), 3), "knee_in": one(rng, ("rise", "descent", "both"))}
    if kind == "drop":
        return {"drop_m": between(rng, 0.03, 0.20), "drop_g": between(rng, 0.6, 0.95, 2), "descent": one(rng, ("smooth", "even", "sine", "jerky"))}
    if kind == "touch":
        return {"touches": [touch(rng)]}
    if kind == "stand":
        return {"height": between(rng, 0.80, 0.97)}
    return {"hands": one(rng, ("thigh", "one"))}


def idle(rng, seated_s):
    """What is done on the seat before the first rep, within seated_s."""
    acts = {"look": {"deg": between(rng, -55, 55, 0)}, "lean": {"deg": between(rng, 12, 40, 0)},
            "sway": {"m": between(rng, 0.01, 0.05)}, "shift": {"m": between(rng, 0.01, 0.06), "lift_m": between(rng, 0.008, 0.04)},
            "place_foot": {"ahead_m": between(rng, -0.10, 0.12), "aside_m": between(rng, -0.05, 0.07), "lift_m": between(rng, 0.01, 0.06)}}
    what = one(rng, list(acts))
    return {"what": what, "at_s": 0.3, "for_s": round(seated_s - 0.9, 2), **acts[what]}


def script(rng, stature_m, rung="single_leg", arms=ARMS):
    """Parameters of Script but its reps: how this person stands, leans and shifts."""
    early = rng.random() < 0.75
    # Of the thorax; hips to shoulders lean about 0.6 of it.
    lean = between(rng, -6, 20, 1) if rng.random() < 0.65 else near(rng, 4, 3, 1)
    toe_out = float(np.clip(near(rng, 8, 8, 1), -10, 28))
    told = {
        "stance": one(rng, ("left", "right")), "rung": rung,
        "seat_height_m": round(float(np.clip(rng.normal(0.265 * stature_m, 0.03), 0.36, 0.55)), 3),
        "shank_tilt_seated_deg": between(rng, 4, 23, 1), "toe_out_deg": toe_out,
        # The less the trunk leans, the farther out hip and knee stand; toes turned in or out
        # take the knee only part of the way with them.
        "knee_rest_offset_m": near(rng, -0.012 - 0.0004 * (6 - lean) + 0.0009 * (toe_out - 8), 0.007), "lateral_lean_deg": lean,
        "lean_course": one(rng, ("loaded", "constant", "growing", "standing"), [3, 2, 3, 2]), "lean_growing_s": between(rng, 0.5, 2.0, 2),
        "balance_medial_m": near(rng, 0.008, 0.010), "balance_forward_m": near(rng, 0.05, 0.012),
        "stance_from_middle_m": between(rng, 0.03, 0.11), "pelvic_drop_deg": near(rng, 2, 3, 1), "lean_cap_deg": between(rng, 28, 55, 0),
        "shift_lead_s": between(rng, 0.0, 1.6, 2) if early else None, "shift_s": between(rng, 0.5, 1.4, 2), "shift_slide": between(rng, 0.1, 0.7, 2),
        "turn_deg": near(rng, 0, 2, 1), "turn_loaded_deg": near(rng, 0, 2, 1), "turn_noise_deg": between(rng, 0, 1.5, 2),
        "heel_lift_deg": between(rng, 3, 14, 1) if rng.random() < 0.08 else 0.0, "look_deg": between(rng, 1, 12, 1),
        "free_foot_m": [between(rng, 0.05, 0.24, 2), between(rng, 0.05, 0.23 * stature_m, 2)],
        "free_foot_seated_m": between(rng, 0.03, 0.17 * stature_m, 2), "lean_evened_s": between(rng, 0.15, 0.3, 2), "free_foot_side_m": between(rng, 0.07, 0.20, 2),
        "rest_free_foot": bool(rng.random() < 0.4), "arms": one(rng, arms), "noise": between(rng, 0.5, 1.8, 2),
    }
    return {name: value for name, value in told.items() if value is not None}


def reps(rng, count, theme, stature_m, recorded, wrong=0.5, rests=False):
    """`count` reps, of which a share `wrong` has a fault of the theme."""
    told = []
    for _ in range(count):
        rep = courses(rng, recorded) | {"rise_s": between(rng, 0.9, 2.0, 2), "stand_s": between(rng, 0.45, 0.9, 2),
                                        "descent_s": between(rng, 1.1, 2.3, 2), "pause_s": between(rng, 0.7, 1.2, 2)}
        if rng.random() < 0.25:
            rep |= {"wobble_m": between(rng, 0.004, 0.02), "wobble_hz": between(rng, 0.8, 2.0, 2)}
        if rng.random() < 0.3:
            rep["lean_more_deg"] = near(rng, 0, 3, 1)
        if rng.random() < wrong:
            rep |= fault(rng, theme, stature_m)
        if rests:       # long enough to put the foot down and take it up again
            rep["pause_s"] = between(rng, 1.7, 2.2, 2)
        told.append(rep)
    return told


RECORDED = (("rising_1", "rising_2"), ("lowering_1", "lowering_2"))
"""Courses of courses.json for rises and for descents."""


def clip(which, number):
    """One clip of a set as render.scenarios() gives it, but for what all have in common."""
    seed = seed_of(which, number)
    rng = np.random.default_rng([seed, 51])
    rung = one(rng, ("two_leg", "split_stance", "lowering")) if number % 12 == 11 else "single_leg"
    who, chair = person(rng), seat(rng, rung)
    tall = who["stature_m"]
    width, height = (720, 1280) if number % 8 == 1 else (540, 960)
    rate_hz = 60 if number % 4 == 3 else 30
    theme = THEMES[number % len(THEMES)] if rung == "single_leg" else "knee"
    at = camera(rng, float(rng.uniform(-20, 20)))
    while not holds(at, tall, width, height):
        at = camera(rng, at["yaw_deg"])
    snug = chair["kind"] in ("armchair", "sofa")
    how = script(rng, tall, rung, ("crossed", "forward", "clasped", "thighs") if snug else ARMS)
    before = between(rng, 1.3, 2.0, 1)
    how |= {"seated_before_s": before, "seated_after_s": 1.0, "reps": reps(rng, 4 if rate_hz == 30 else 2, theme, tall, RECORDED,
                     rests=how["rest_free_foot"])}
    if rng.random() < 0.5:
        how["idle"] = [idle(rng, before)]
    made = film(rng, width * height) | {"rate_hz": rate_hz}
    return {"name": f"{which}_{number:02d}", "story": "", "seed": seed, "person": who, "chair": chair,
            "room": room(rng, -0.25), "light": light(rng), "camera": {**at, "width": width, "height": height},
            "film": made, "script": how}


# --- TOML ---------------------------------------------------------------------------------

def toml_value(value):
    """A value as TOML on one line."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{k} = {toml_value(v)}" for k, v in value.items()) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(toml_value(v) for v in value) + "]"
    return repr(value)


def main():
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--set", choices=FIRST_SEED, default="tuning")
    words.add_argument("--count", type=int, default=24)
    told = words.parse_args()
    print(f"# Drawn by: python draw.py --set {told.set} --count {told.count}\n# Not written by hand; ranges and rules: draw.py.")
    for number in range(told.count):
        print("\n[[clip]]")
        for name, value in clip(told.set, number).items():
            print(f"{name} = {toml_value(value)}")


if __name__ == "__main__":
    sys.exit(main())
