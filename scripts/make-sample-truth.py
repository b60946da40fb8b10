#!/usr/bin/env python3
"""Condenses the full truth of a rendered clip to what the tests compare with.

    make-sample-truth.py FULL_TRUTH.json OUT.json

FULL_TRUTH holds, per frame, the renderer's own joints and what follows from them;
it is far too large to keep here. Events come from the true pelvis height and speed,
not from the commanded motion, by the definitions in README.md of sample-clips/.
Standard library only.
"""

import json
import math
import statistics
import sys

SEAT_FRACTION = 0.02  # of the excursion: off the seat above, on it below
STAND_FRACTION = 0.95  # of the excursion
REST_FRACTION = 0.05  # of the peak speed of the rise or descent
FPPA_FLEXION_DEG = (30.0, 60.0)
FAULT_DEG = 18.0  # commanded knee-in from which the fault must be named


def crossing_s(times_s, heights_m, level_m, after):
    """Time between frames `after - 1` and `after` at which the height is `level_m`."""
    low, high = heights_m[after - 1], heights_m[after]
    share = (level_m - low) / (high - low)
    return times_s[after - 1] + share * (times_s[after] - times_s[after - 1])


def knee_offset_m(full, i):
    """Distance of the knee centre in frame `i` from the vertical plane through ankle and
    second toe of the stance foot, + towards the other leg. The field `knee_medial_m` of
    the full truth is another thing: the distance from the line hip-ankle."""
    side = full["stance_side"]
    ankle, toe, knee = (full["joints3d"][f"{joint}_{side}"][i] for joint in ("ankle", "toe2", "knee"))
    ahead_x, ahead_z = toe[0] - ankle[0], toe[2] - ankle[2]
    # + is the subject's left, which is inward for the right leg.
    to_left = (knee[0] - ankle[0]) * ahead_z - (knee[2] - ankle[2]) * ahead_x
    return to_left / math.hypot(ahead_x, ahead_z) * (1 if side == "r" else -1)


def rep_truth(full, rep, end_s):
    """Events and measures of one rep that is over before `end_s`."""
    times_s, y_m, v_m_s = full["t"], full["pelvis_y_m"], full["pelvis_vy_mps"]
    frames = [i for i, t in enumerate(times_s) if rep["prep_start"] <= t < end_s]
    # The commanded times only tell the rise from the descent.
    upright = [i for i in frames if rep["top_reached"] <= times_s[i] <= rep["descent_start"]]
    rise = [i for i in frames if i <= upright[-1]]
    descent = [i for i in frames if i >= upright[0]]

    seated_m = full["body"]["pelvis_seated_y_m"]
    excursion_m = statistics.median(y_m[i] for i in upright) - seated_m
    seat_level_m = seated_m + SEAT_FRACTION * excursion_m

    off = next(i for i in rise if y_m[i] >= seat_level_m)
    seat_off_s = crossing_s(times_s, y_m, seat_level_m, off)

    fastest = max(rise, key=lambda i: v_m_s[i])
    stand = next(
        i
        for i in frames
        if i > fastest
        and y_m[i] >= seated_m + STAND_FRACTION * excursion_m
        and abs(v_m_s[i]) < REST_FRACTION * v_m_s[fastest]
    )

    # A drop goes on below the level for an instant; the peak belongs to the way down.
    contact = next(i for i in descent if y_m[i] < seat_level_m)
    seat_contact_s = crossing_s(times_s, y_m, seat_level_m, contact)
    way_down = [i for i in descent if i < contact]
    fastest = min(way_down, key=lambda i: v_m_s[i])
    slow = [i for i in way_down if i < fastest and v_m_s[i] >= REST_FRACTION * v_m_s[fastest]]
    start = slow[-1] + 1  # from here on it stays faster, up to the peak
    lost_m = y_m[start] - seat_level_m

    off_seat = range(off, contact)
    low_deg, high_deg = FPPA_FLEXION_DEG
    bent = [i for i in off_seat if low_deg <= full["knee_flexion_deg"][i] <= high_deg]
    commanded_deg = max((k["target_deg"] for k in rep["knee_in_commanded"]), default=0)
    grey = 0 < commanded_deg < FAULT_DEG
    reasons = ["knee_inward"] * (commanded_deg >= FAULT_DEG) + ["drop"] * rep["commanded"]["drop"]
    return {
        "seat_off_s": round(seat_off_s, 3),
        "stand_s": round(times_s[stand], 3),
        "descent_start_s": round(times_s[start], 3),
        "seat_contact_s": round(seat_contact_s, 3),
        "descent_mean_m_s": round(lost_m / (seat_contact_s - times_s[start]), 3),
        "descent_peak_m_s": round(-v_m_s[fastest], 3),
        "knee_offset_peak_cm": round(100 * max(knee_offset_m(full, i) for i in off_seat), 2),
        "fppa_peak_deg": round(max(full["fppa3d_deg"][i] for i in bent), 1),
        "fppa_picture_peak_deg": round(max(full["fppa2d_deg"][i] for i in bent), 1),
        # Null: near the limit, either verdict is right.
        "reasons": None if grey else reasons,
    }


def main():
    if len(sys.argv) != 3:
        sys.exit("usage: make-sample-truth.py FULL_TRUTH.json OUT.json")
    with open(sys.argv[1], encoding="utf-8") as file:
        full = json.load(file)
    ends_s = [rep["prep_start"] for rep in full["reps"][1:]] + [float("inf")]
    truth = {
        "stature_m": full["body"]["stature_m"],
        "leg": {"l": "left", "r": "right"}[full["stance_side"]],
        "frames": full["n_frames"],
        "frame_rate_hz": full["fps"],
        "reps": [rep_truth(full, rep, end_s) for rep, end_s in zip(full["reps"], ends_s)],
    }
    with open(sys.argv[2], "w", encoding="utf-8") as file:
        json.dump(truth, file, indent=1)
        file.write("\n")


main()
