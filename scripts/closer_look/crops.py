"""From where the joints are to what the network is to tell."""

import numpy as np

from outputs import JOINTS, OF_A_LEG, SCALARS

HIP, KNEE, ANKLE, HEEL, TOE = range(len(JOINTS))
LEFT, RIGHT = 0, 1


def along(vectors, directions):
    return (vectors * directions).sum(-1)


def unit(vectors):
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def heading(direction, toward, up):
    """Of a direction against the line from there `toward` the camera, about the vertical, to the
    picture's right positive (N,), radians. All (N, 3)."""
    level = lambda v: v - along(v, up)[:, None] * up
    direction, toward = level(direction), level(toward)
    return np.arctan2(along(np.cross(toward, direction), up), along(direction, toward))


def scalars(joints_m, up, focal_px, working):
    """Numbers of outputs.SCALARS (N, 12), lengths in pixels of the picture with that focal length.

    joints_m (N, 2, 5, 3): left leg and right leg from the lens, in the camera's axes (right,
    down, ahead); up (N, 3): against gravity, in the same; focal_px (N,); working: LEFT or RIGHT,
    the leg whose ankle the pelvis' heading and the other ankle are told against."""
    told = np.zeros((len(joints_m), len(SCALARS)))
    for leg in (LEFT, RIGHT):
        joints = joints_m[:, leg]
        ankle = joints[:, ANKLE]
        sight, px_per_m = unit(ankle), focal_px / ankle[:, 2]
        first = leg * len(OF_A_LEG)
        for place, joint in enumerate((HIP, KNEE, TOE)):
            told[:, first + place] = -along(joints[:, joint] - ankle, sight) * px_per_m
        foot = joints[:, TOE] - ankle
        told[:, first + 3] = heading(foot, -sight, up)
        inward = np.cross(unit(foot - along(foot, up)[:, None] * up), up) * (1 if leg == LEFT else -1)
        told[:, first + 4] = along(joints[:, KNEE] - ankle, inward) * px_per_m
    ankle = joints_m[:, working, ANKLE]
    hips = joints_m[:, LEFT, HIP] - joints_m[:, RIGHT, HIP]
    told[:, 10] = heading(np.cross(hips, up), -unit(ankle), up)
    nearer = along(joints_m[:, RIGHT, ANKLE] - joints_m[:, LEFT, ANKLE], unit(ankle))
    told[:, 11] = nearer * focal_px / ankle[:, 2]
    return told


def read(path):
    """Pictures (N, H, W, 4) uint8, points (N, 10, 2) px, scalars and which of them mean something
    (N, 12) of a shard of scripts/render/crops.py, in which the working leg is the right one."""
    shard = np.load(path)
    from_right = lambda of_joints: np.concatenate([of_joints[:, 5:], of_joints[:, :5]], 1)
    lens_m = shard["sight"] * (shard["depth_m"] / shard["sight"][:, 2])[:, None]
    joints_m = (from_right(shard["joints_m"]) + lens_m[:, None]).reshape(-1, 2, len(JOINTS), 3)
    told = scalars(joints_m, shard["up"], shard["px_per_m"] * shard["depth_m"], RIGHT)
    # The renderer says some of it of the working leg in its own way.
    for name, mine in (("foot_heading", told[:, 8]), ("pelvis_heading", told[:, 10]),
                       ("knee_offset_m", told[:, 9] / shard["px_per_m"])):
        if not np.allclose(mine, shard[name], atol=1e-4):
            raise ValueError(f"{path}: {name} is told in two ways")
    # The direction of a foot in the air is of no use.
    known = np.ones_like(told)
    known[:, 3] = known[:, 4] = shard["free_foot_down"]
    return shard["picture"], from_right(shard["points_px"]), told, known
