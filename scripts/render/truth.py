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


def heading_deg(forward):
    """Of directions (T, 3) about the vertical from +Z, toward the person's left +."""
    return np.degrees(np.arctan2(forward[:, 0], forward[:, 2]))


def pelvis_heading_deg(joints):
    """Which way the pelvis faces (T,), deg from +Z toward the person's left."""
    return heading_deg(np.cross(joints["hip_left"] - joints["hip_right"], (0.0, 1.0, 0.0)))


def pelvis_fppa_deg(joints, side):
    """fppa_deg() in the pelvis's own frontal plane, however it is turned (T,)."""
    turn = np.radians(pelvis_heading_deg(joints))
    across = np.stack([np.cos(turn), 0 * turn, -np.sin(turn)], 1)
    flat = {name: np.stack([(joints[name] * across).sum(1), joints[name][:, 1]], 1)
            for name in (f"{joint}_{side}" for joint in ("hip", "knee", "ankle"))}
    return fppa_deg(flat, side)


def study_of(movement, planted, camera):
    """What studies of the method ask of each rep beside reps_of(); numbers rounded.

    planted: (T,) whether the stance foot stands still; camera: at rest. Headings are
    about the vertical from the line against the camera's axis, to the picture's right +.
    """
    j, side = movement.joints, movement.script.stance
    turned = np.degrees(camera.yaw)
    pelvis = pelvis_heading_deg(j) - turned
    foot = heading_deg(j[f"toe2_{side}"] - j[f"ankle_{side}"]) - turned
    med = 1.0 if side == "right" else -1.0
    trunk = 0.5 * (j["shoulder_left"] + j["shoulder_right"]) - j["pelvis"]
    aside = -med * np.degrees(np.arctan2(trunk[:, 0], trunk[:, 1]))
    ahead = np.degrees(np.arctan2(trunk[:, 2], trunk[:, 1]))
    angle, flexion = pelvis_fppa_deg(j, side), knee_flexion_deg(j, side)
    shift = med * (j["pelvis"][:, 0] - j[f"ankle_{side}"][:, 0])
    index = lambda s: int(round(s * RATE_HZ))
    r = lambda v, d=2: round(float(v), d)
    free = "left" if side == "right" else "right"
    sole = lambda leg: np.minimum(j[f"heel_{leg}"][:, 1], j[f"toe2_{leg}"][:, 1])
    clearance = sole(free) - sole(side).min()
    out = []
    for rep in movement.reps:
        off, contact = index(rep["off_s"]), index(rep["contact_s"])
        loaded, middle = slice(off, contact + 1), index(0.5 * (rep["top_s"] + rep["down_s"]))
        bent = (flexion[loaded] >= 30) & (flexion[loaded] <= 60)
        touches = [{"start_s": r(a, 3), "end_s": r(b, 3), "clearance_m": r(clearance[index(a):index(b) + 1].min(), 3), **kind}
                   for (a, b), kind in zip(rep.get("touched_s", []), rep.get("touch_kinds", []))]
        out.append({
            "pelvis_yaw_deg": r(pelvis[loaded].mean()), "foot_yaw_deg": r(foot[loaded].mean()),
            "fppa_pelvis_peak_deg": r(angle[loaded][bent].max()) if bent.any() else None,
            "lean_aside_seat_off_deg": r(aside[off]), "lean_aside_standing_deg": r(aside[middle]),
            "lean_ahead_peak_deg": r(ahead[loaded].max()),
            "pelvis_from_ankle_seated_m": r(shift[max(off - RATE_HZ, 0)], 4), "pelvis_from_ankle_seat_off_m": r(shift[off], 4),
            "pelvis_from_ankle_standing_m": r(shift[middle], 4), "planted": bool(planted[loaded].all()),
            "rise": rep["rise"], "descent": rep["descent"], "height": rep["height"], "knee_in_m": rep["knee_in_m"], "touches": touches,
        })
    return out


def write_joints(path, movement, frame_index, planted, cameras):
    """Joints of every frame in 3-D and in the picture, and its camera, as .npz.

    joints (J,) names; world_m (F, J, 3); camera_m (F, J, 3) right, down, ahead of the lens;
    picture_px (F, J, 2); time_s, planted (F,); focal_px, position_m, yaw_pitch_roll_rad of
    each frame's camera.
    """
    names = sorted(movement.joints)
    world = np.stack([movement.joints[name][list(frame_index)] for name in names], 1)
    np.savez_compressed(
        path, joints=np.array(names), time_s=movement.time_s[list(frame_index)], planted=planted[list(frame_index)],
        world_m=world.astype(np.float32), camera_m=np.array([c.local(w) for c, w in zip(cameras, world)], np.float32),
        picture_px=np.array([c.project(w) for c, w in zip(cameras, world)], np.float32),
        focal_px=np.array([c.focal_px for c in cameras]), position_m=np.array([c.position for c in cameras]),
        yaw_pitch_roll_rad=np.array([(c.yaw, c.pitch, c.roll) for c in cameras]))


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
