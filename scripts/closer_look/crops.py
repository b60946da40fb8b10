"""From what scripts/render/crops.py stores to what the network is to tell."""

import numpy as np

from network import JOINTS, OF_A_LEG, SCALARS

HIP, KNEE, ANKLE, HEEL, TOE = range(len(JOINTS))
# In the stored pictures the working leg is the person's right one.
ORDER = [5, 6, 7, 8, 9, 0, 1, 2, 3, 4]


def along(vectors, directions):
    return (vectors * directions).sum(-1)


def unit(vectors):
    return vectors / np.linalg.norm(vectors, axis=-1, keepdims=True)


def scalars(shard):
    """Numbers of network.SCALARS (N, 12), lengths in pixels of the stored picture, and which of
    them mean something (N, 12): the heading of a foot in the air is of no use, so it has none."""
    sight, up = shard["sight"], shard["up"]
    joints = shard["joints_m"][:, ORDER].reshape(-1, 2, len(JOINTS), 3)
    count = len(joints)
    # The working ankle from the camera, metres in the camera's axes (right, down, ahead).
    origin = sight * (shard["depth_m"] / sight[:, 2])[:, None]
    told, known = np.zeros((count, len(SCALARS))), np.ones((count, len(SCALARS)))
    for leg in range(2):
        leg_joints = joints[:, leg]
        ankle = leg_joints[:, ANKLE]
        toward = unit(origin + ankle)
        px_per_m = shard["px_per_m"] * shard["depth_m"] / (shard["depth_m"] + ankle[:, 2])
        first = leg * len(OF_A_LEG)
        for place, joint in enumerate((HIP, KNEE, TOE)):
            told[:, first + place] = -along(leg_joints[:, joint] - ankle, toward) * px_per_m
        level = lambda v: v - along(v, up)[:, None] * up
        foot, toward = level(leg_joints[:, TOE] - ankle), level(-toward)
        # Seen from above, turned to the picture's right positive.
        told[:, first + 3] = np.arctan2(along(np.cross(toward, foot), up), along(foot, toward))
        inward = np.cross(unit(foot), up) * (1 if leg == 0 else -1)
        told[:, first + 4] = along(leg_joints[:, KNEE] - ankle, inward) * px_per_m
        if leg == 0:
            planted = shard["free_foot_down"]
            known[:, first + 3] = known[:, first + 4] = planted
    told[:, 10] = shard["pelvis_heading"]
    told[:, 11] = -along(joints[:, 0, ANKLE] - joints[:, 1, ANKLE], sight) * shard["px_per_m"]
    return told, known


def read(path):
    """Pictures (N, H, W, 4) uint8, points (N, 10, 2) px, scalars and known (N, 12) of a shard."""
    shard = np.load(path)
    told, known = scalars(shard)
    return shard["picture"], shard["points_px"][:, ORDER], told, known
