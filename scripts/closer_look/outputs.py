"""What the closer look is given and what it tells, by name and unit.

Input: (B, 3, 320, 256) RGB 0..1. Units of all outputs are pixels of this input and radians,
each with the logarithm of the scale b of its error, Laplace distributed (standard deviation
b * sqrt 2). Left and right are the person's.
"""

WIDTH, HEIGHT = 256, 320
LEGS, JOINTS = ("left", "right"), ("hip", "knee", "ankle", "heel", "toe")
POINTS = tuple(f"{joint}_{leg}" for leg in LEGS for joint in JOINTS)
# Of each leg: hip, knee and second toe nearer to the camera than its ankle, along the line of
# sight, pixels as at the ankle; where the foot points against the line of sight to it, radians,
# to the picture's right positive; knee inward of the foot's vertical plane, pixels as at the ankle.
OF_A_LEG = ("hip_nearer", "knee_nearer", "toe_nearer", "foot_heading", "knee_offset")
# Where the pelvis points, as the foot; left ankle nearer than the right one, as above.
OF_BOTH = ("pelvis_heading", "ankle_nearer")
SCALARS = tuple(f"{name}_{leg}" for leg in LEGS for name in OF_A_LEG) + OF_BOTH
ANGLES = tuple(name for name in SCALARS if "heading" in name)
# So that all errors are of one size for the loss: pixels / 4, radians * 10.
UNIT = tuple(10.0 if name in ANGLES else 0.25 for name in SCALARS)
