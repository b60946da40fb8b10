"""Real courses of rising and lowering, from marker data, for the rendered people.

    python make_courses.py squat.c3d > courses.json

squat.c3d comes with Debian's dart-doc (DART, BSD-2-Clause): one person, two squats,
then two toe touches, 120 Hz. Of each squat the height (Y) of the waist markers from rest
to rest is taken, as share of the way at 41 even steps of the time. Needs ezc3d, scipy.
"""

import json
import sys

import ezc3d
import numpy as np
from scipy.signal import butter, sosfiltfilt

c3d = ezc3d.c3d(sys.argv[1])
rate = c3d["parameters"]["POINT"]["RATE"]["value"][0]
names = c3d["parameters"]["POINT"]["LABELS"]["value"]
waist = [i for i, name in enumerate(names) if name.endswith(("FWT", "BWT"))]



def whole(track):
    """A marker's track with its gaps bridged, so that a lost marker makes no step."""
    known = np.flatnonzero(np.isfinite(track))
    return np.interp(np.arange(len(track)), known, track[known])


height = np.mean([whole(c3d["data"]["points"][1][i]) for i in waist], axis=0) / 1000
height = sosfiltfilt(butter(2, 6 / (rate / 2), output="sos"), height)
speed = np.gradient(height) * rate

courses = {}
deep = height < np.median(height) - 0.2
edges = np.flatnonzero(np.diff(deep.astype(int)))
for number, (into, out) in enumerate(zip(edges[0:4:2], edges[1:4:2]), 1):
    bottom = into + int(np.argmin(height[into:out]))
    for kind, sign in (("lowering", -1), ("rising", 1)):
        span = range(bottom, 0, -1) if sign < 0 else range(bottom, len(height) - 1)
        peak = max(span[: int(0.8 * rate)], key=lambda i: sign * speed[i])
        limit = 0.02 * abs(speed[peak])
        first = next((i for i in range(peak, 0, -1) if sign * speed[i] < limit), 0)
        last = next((i for i in range(peak, len(height)) if sign * speed[i] < limit), len(height) - 1)
        way = (height[first:last + 1] - height[first]) / (height[last] - height[first])
        even = np.interp(np.linspace(0, 1, 41), np.linspace(0, 1, len(way)), way)
        courses[f"{kind}_{number}"] = [round(float(v), 4) for v in even]
print(json.dumps({"source": "squat.c3d of DART (dart-doc, BSD-2-Clause), waist markers", "courses": courses}))
