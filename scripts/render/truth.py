"""What is true of a rendered clip, by definition and from the true joints only.

Events come from the true height of mid-hip at motion.RATE_HZ, never from the script
(definitions: README of sample-clips). The script only tells which stretch of time
holds which rep, and which fault was asked for.
"""

import csv

import numpy as np
from scipy.signal import butter, sosfiltfilt

from motion import RATE_HZ, fppa_deg, knee_flexion_deg, knee_offset_m

SEAT_SHARE = 0.02  # of the excursion: the seat is left and reached there
STAND_SHARE = 0.95
REST_SHARE = 0.05  # of the peak speed: standing still begins and ends there
HALF_FOOT_BREADTH = 0.0275  # of stature [Winter2009]
IN_PICTURE = ("hip_left", "hip_right", "knee_left", "knee_right", "ankle_left", "ankle_right",
              "heel_left", "heel_right", "toe2_left", "toe2_right", "shoulder_left",
              "shoulder_right", "wrist_left", "wrist_right", "nose", "head_top", "neck")


def picture_fppa_deg(pixels, side):
    med = 1.0 if side == "right" else -1.0
    h, k, a = (pixels[f"{j}_{side}"] for j in ("hip", "knee", "ankle"))
    return np.degrees(np.arctan2(med * (k - h)[:, 0], (k - h)[:, 1]) + np.arctan2(med * (k - a)[:, 0], (a - k)[:, 1]))


def crossing(z, level, i):
    """Sub-sample place where z passes level between samples i-1 and i."""
    return (i - 1 + (level - z[i - 1]) / (z[i] - z[i - 1])) / RATE_HZ


def reps_of(movement, pixels, stature_m):
    """One dictionary a rep (attempts included, marked), numbers rounded for a file.

    pixels: name -> (T, 2), projected by the true camera of each instant.
    """
    j, side = movement.joints, movement.script.stance
    z = j["pelvis"][:, 1]
    w = np.gradient(z, 1 / RATE_HZ)
    offset, angle = knee_offset_m(j, side), fppa_deg(j, side)
    in_picture, flexion = picture_fppa_deg(pixels, side), knee_flexion_deg(j, side)
    sos = butter(2, 0.7 / (RATE_HZ / 2), output="sos"), butter(2, 6 / (RATE_HZ / 2), output="sos")
    shake = sosfiltfilt(sos[1], offset) - sosfiltfilt(sos[0], offset)
    shoulders = 0.5 * (j["shoulder_left"] + j["shoulder_right"])
    trunk = shoulders - j["pelvis"]
    lean = np.degrees(np.arctan2(trunk[:, 0], trunk[:, 1]))
    hips = j["hip_left"] - j["hip_right"]
    med = 1.0 if side == "right" else -1.0
    sink = np.degrees(np.arctan2(-med * hips[:, 1], hips[:, 0]))
    plan = movement.reps
    index = lambda s: int(round(s * RATE_HZ))
    seats, tops = [], []
    for n, rep in enumerate(plan):
        # Settled again 0.3 s after the last contact; not yet stirring 0.05 s before this rise.
        before = index(plan[n - 1]["contact_s"] + 0.3) if n else 0
        seats.append(float(np.median(z[before:max(index(rep["off_s"] - 0.05), before + 2)])))
        tops.append(float(np.median(z[index(rep["top_s"] + 0.1):max(index(rep["down_s"] - 0.1), index(rep["top_s"] + 0.1) + 2)])))
    whole = [top for top, rep in zip(tops, plan) if rep["height"] > 0.99]
    standing = float(np.median(whole or tops))
    out = []
    for n, rep in enumerate(plan):
        seat, top = seats[n], tops[n]
        own = top - seat if rep["height"] < 0.99 else standing - seat
        excursion = standing - seat
        first, middle = index(rep["off_s"] - 0.1), index(0.5 * (rep["top_s"] + rep["down_s"]))
        last = min(index(rep["contact_s"] + 0.25), len(z) - 1)
        leave = seat + SEAT_SHARE * excursion
        i = middle - np.flatnonzero(z[first:middle][::-1] <= leave)[0]
        off = crossing(z, leave, i)
        peak_up = w[i:middle].max()
        after = i + int(np.argmax(w[i:middle]))
        still = np.flatnonzero((z[after:middle + 1] >= seat + STAND_SHARE * own) & (np.abs(w[after:middle + 1]) < REST_SHARE * peak_up))
        stand = (after + still[0]) / RATE_HZ if len(still) else middle / RATE_HZ
        k = middle + np.flatnonzero(z[middle:last] <= leave)[0]
        contact = crossing(z, leave, k)
        fastest = middle + int(np.argmin(w[middle:k + 1]))
        slow = np.flatnonzero(w[middle:fastest] > REST_SHARE * w[fastest])
        down = (middle + (slow[-1] + 1 if len(slow) else 0)) / RATE_HZ
        loaded = slice(index(off), index(contact) + 1)
        bent = (flexion[loaded] >= 30) & (flexion[loaded] <= 60)
        past = offset[loaded] > HALF_FOOT_BREADTH * stature_m
        lengths = np.diff(np.flatnonzero(np.diff(np.concatenate([[0], past.astype(int), [0]]))))[::2]
        tenth = np.flatnonzero(z[index(down):index(contact)] > leave + 0.1 * excursion)
        final_s = contact - (index(down) + tenth[-1] + 1) / RATE_HZ if len(tenth) else np.nan
        lost = z[index(down)] - leave
        r = lambda v, d=4: None if v is None or not np.isfinite(v) else round(float(v), d)
        out.append({
            "attempt": bool(rep["height"] < 0.8),
            "seat_off_s": r(off), "stand_s": r(stand), "descent_start_s": r(down), "seat_contact_s": r(contact),
            "rise_s": r(stand - off), "descent_s": r(contact - down),
            "descent_mean_m_s": r(lost / (contact - down)), "descent_peak_m_s": r(-w[fastest]),
            "descent_final_m_s": r(0.1 * excursion / final_s), "excursion_m": r(own),
            "knee_offset_peak_cm": r(100 * offset[loaded].max(), 2),
            "knee_past_limit_s": r(lengths.max() / RATE_HZ if len(lengths) else 0, 3),
            "fppa_peak_deg": r(angle[loaded][bent].max(), 2) if bent.any() else None,
            "fppa_picture_peak_deg": r(in_picture[loaded][bent].max(), 2) if bent.any() else None,
            "wobble_cm": r(100 * np.sqrt(np.mean(shake[loaded] ** 2)), 3),
            "trunk_lean_deg": r(-med * lean[loaded][np.argmax(np.abs(lean[loaded]))], 2),
            "pelvic_drop_deg": r(sink[loaded].max(), 2),
            "stand_percent": r(100 * (top - seat) / excursion, 1),
            "dropped_m": rep["drop_m"], "knee_in_deg": rep["knee_in_deg"],
            "touched_s": [[r(a, 3), r(b, 3)] for a, b in rep.get("touched_s", [])],
            "hands": rep["hands"] is not None,
        })
    return out


def write_frames(path, movement, frame_index, pixels):
    """One row a frame: time, true height, knee, and joints in the picture (px)."""
    j, side = movement.joints, movement.script.stance
    z = j["pelvis"][:, 1]
    columns = {
        "time_s": (movement.time_s, 4), "pelvis_height_m": (z, 4),
        "pelvis_velocity_m_s": (np.gradient(z, 1 / RATE_HZ), 3),
        "knee_flexion_deg": (knee_flexion_deg(j, side), 1),
        "knee_offset_m": (knee_offset_m(j, side), 4), "fppa_deg": (fppa_deg(j, side), 2),
    }
    for name in IN_PICTURE:
        for axis, letter in enumerate("uv"):
            columns[f"{name}_{letter}_px"] = (pixels[name][:, axis], 1)
    with open(path, "w", newline="") as file:
        table = csv.writer(file)
        table.writerow(columns)
        for i in frame_index:
            table.writerow([f"{values[i]:.{digits}f}" for values, digits in columns.values()])
