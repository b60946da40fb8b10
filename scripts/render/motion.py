"""A person rises from a chair and sits down again, by parameters and seed.

World axes, metres: X the person's left (picture-right of a square-on camera), Y up,
floor at 0, Z forward (toward the camera). Everything is computed on a grid of
RATE_HZ and sampled at the frames of the film, so that true events are known far
finer than a frame.

The stance foot is planted. The pelvis follows a course of height; forward it goes
where a leg of constant thigh and shank puts it; the trunk leans as far as balance
over the foot asks, and the pelvis shifts sideways until the centre of mass stands
over the foot (body segment masses [Winter2009]). The knee turns about the line from
hip to ankle until it lies where the script wants it over the foot.
"""

from dataclasses import dataclass, field

import numpy as np

RATE_HZ = 240
# Shares of the body's mass: head, arms and trunk; one whole leg [Winter2009], rounded.
TRUNK_MASS, LEG_MASS = 0.678, 0.16
UP = np.array([0.0, 1.0, 0.0])


# --- courses of time ---------------------------------------------------------------

def minimum_jerk(x):
    """Share of the way after share x of the time [Flash1985]."""
    x = np.clip(x, 0, 1)
    return x**3 * (10 - 15 * x + 6 * x**2)


def _ramped(x, start, end):
    """1 between, rising over `start` and falling over `end` (shares of the time)."""
    return minimum_jerk(x / start) * minimum_jerk((1 - x) / end)


def _shaky(x, shape):
    base = 30 * (x * (1 - x)) ** 2
    return base * np.maximum(1 + 0.5 * np.sin(2 * np.pi * (4.0 + shape) * x + 5 * shape), 0.02)


def _stops(x, shape):
    at, rest = 0.45 + 0.15 * shape, 0.07 + 0.04 * abs(shape)
    # It creeps where it seems to rest, so that the movement stays one movement.
    return np.where(x < at - rest, np.maximum(_ramped(x / (at - rest), 0.4, 0.45), 0.09 * (x > 0.1)),
                    np.where(x > at + rest, np.maximum(_ramped((x - at - rest) / (1 - at - rest), 0.45, 0.4), 0.09 * (x < 0.9)), 0.09))


# Speed (any unit) at share x of the time, of movements that are told by their speed.
SPEEDS = {
    "sine": lambda x, shape: np.sin(np.pi * x),
    "creeping": lambda x, shape: 0.18 * _ramped(x, 0.1, 0.2)
    + minimum_jerk((x - 0.20 - 0.1 * shape) / 0.3) * minimum_jerk((1 - x) / 0.35),
    "ends_fast": lambda x, shape: (0.25 + 0.75 * x ** (1 + 0.5 * shape)) * _ramped(x, 0.25, 0.05),
    "two_stage": lambda x, shape: _ramped(x, 0.15, 0.18) * (
        1 - 0.72 * minimum_jerk((x - 0.22 - 0.08 * shape) / 0.12) * minimum_jerk((0.80 + 0.08 * shape - x) / 0.12)),
    "stops": _stops,
    "shaky": _shaky,
}


def course(kind, x, recorded, shape=0.0):
    """Share of the way (0..1) at share x of the time, for one kind of movement.

    smooth: minimum jerk. skewed: its peak moved by shape (-1..1) toward the end.
    hesitant: two movements that overlap, with a near stop between. jerky: minimum
    jerk with a tremor in its time. even: constant speed with short rounded ends.
    sine: half a wave. creeping: starts late, a slow creep before most of the way.
    ends_fast: no slowing before the end (not a fall: gravity has no part in it).
    two_stage: quick, then slow and steady, then quick again. stops: comes to rest part-way.
    shaky: jerky, but stronger and in both time and height.
    A name of `recorded` plays a course taken from marker data.
    """
    x = np.clip(x, 0, 1)
    if kind in SPEEDS:
        grid = np.linspace(0, 1, 2001)
        way = np.concatenate([[0], np.cumsum(SPEEDS[kind](0.5 * (grid[1:] + grid[:-1]), shape))])
        return np.interp(x, grid, way / way[-1])
    if kind == "smooth":
        return minimum_jerk(x)
    if kind == "skewed":
        return minimum_jerk(x ** (2.0 ** (0.6 * shape)))
    if kind == "hesitant":
        first, stop = 0.45 + 0.1 * shape, 0.5
        return first * minimum_jerk(x / (stop + 0.06)) + (1 - first) * minimum_jerk((x - stop + 0.02) / (1 - stop + 0.02))
    if kind == "jerky":
        return minimum_jerk(x + 0.018 * np.sin(2 * np.pi * 4 * x + 6 * shape) * np.sin(np.pi * x))
    if kind == "even":
        end = 0.16
        grid = np.linspace(0, 1, 2001)
        way = np.cumsum(np.minimum(1, np.minimum(minimum_jerk(grid / end), minimum_jerk((1 - grid) / end))))
        return np.interp(x, grid, (way - way[0]) / (way[-1] - way[0]))
    return np.interp(x, np.linspace(0, 1, len(recorded[kind])), recorded[kind])


def drift(rng, count, period_s, size):
    """Smooth random course of standard deviation `size`, slower than `period_s`."""
    sigma = period_s * RATE_HZ / 4
    reach = int(4 * sigma)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    noise = np.convolve(rng.standard_normal(count + 2 * reach), kernel, "valid")
    return size * noise / np.sqrt((kernel**2).sum())


def evened(course, period_s):
    """A course (T,) through a Gaussian of standard deviation period_s / 2."""
    sigma = 0.5 * period_s * RATE_HZ
    reach = int(3 * sigma)
    kernel = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2)
    return np.convolve(np.pad(course, reach, "edge"), kernel / kernel.sum(), "valid")


def bump(t, start, end):
    """0 outside, a smooth hill of height 1 between."""
    x = np.clip((t - start) / (end - start), 0, 1)
    return np.sin(np.pi * x) ** 2


def gate(t, start, end, ramp):
    """0 before start, 1 between, 0 after end, smooth over `ramp` seconds within."""
    return minimum_jerk((t - start) / ramp) * minimum_jerk((end - t) / ramp)


# --- rotations ---------------------------------------------------------------------

def unit(v):
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def about_x(a):
    c, s, z, o = np.cos(a), np.sin(a), np.zeros_like(a), np.ones_like(a)
    return np.stack([np.stack([o, z, z], -1), np.stack([z, c, -s], -1), np.stack([z, s, c], -1)], -2)


def about_y(a):
    c, s, z, o = np.cos(a), np.sin(a), np.zeros_like(a), np.ones_like(a)
    return np.stack([np.stack([c, z, s], -1), np.stack([z, o, z], -1), np.stack([-s, z, c], -1)], -2)


def about_z(a):
    c, s, z, o = np.cos(a), np.sin(a), np.zeros_like(a), np.ones_like(a)
    return np.stack([np.stack([c, -s, z], -1), np.stack([s, c, z], -1), np.stack([z, z, o], -1)], -2)


def frame_of(along, hinge):
    """Axes (.., 3, 3) of a bone: along it, across it (the hinge), and the third."""
    along = unit(along)
    across = unit(hinge - (hinge * along).sum(-1, keepdims=True) * along)
    return np.stack([along, across, np.cross(along, across)], -1)


def turn(v, rotation):
    return np.einsum("...ij,...j->...i", rotation, v)


# --- the script ---------------------------------------------------------------------

@dataclass
class Script:
    """What a person does in a clip. Lengths m, angles deg, times s."""

    stance: str = "right"
    rung: str = "single_leg"  # or two_leg, split_stance, lowering
    seat_height_m: float = 0.46
    shank_tilt_seated_deg: float = 14.0
    toe_out_deg: float = 7.0
    knee_rest_offset_m: float = -0.01  # of a good knee from the foot's plane, inward +
    lateral_lean_deg: float = 6.0  # of the trunk, toward the stance leg, standing
    balance_medial_m: float = 0.015  # of the centre of mass from the stance ankle
    pelvic_drop_deg: float = 2.0
    lean_cap_deg: float = 45.0
    lean_evened_s: float = 0.0  # time over which the lean ahead that balance asks for is evened out
    arms: str = "crossed"
    free_foot_m: tuple = (0.12, 0.30)  # height and way ahead of the free ankle, standing
    free_foot_side_m: float = 0.13  # from the stance ankle
    free_foot_seated_m: float = 0.42  # way ahead while it is held up before the seat is left
    stance_from_middle_m: float | None = None  # stance ankle from the seated pelvis's middle; None: under the hip
    balance_forward_m: float = 0.04  # of the centre of mass from the stance ankle
    lean_course: str = "loaded"  # of the trunk's lean aside: or constant, growing, standing
    lean_growing_s: float = 1.2  # before seat-off, over which a "growing" lean grows
    shift_lead_s: float | None = None  # the weight shifts aside this long before seat-off; None: while rising
    shift_s: float = 0.9  # how long the shift takes
    shift_slide: float = 0.35  # share of it by sliding on the seat; the trunk does the rest
    turn_deg: float = 0.0  # of pelvis and trunk about the vertical, toward the free leg +
    turn_loaded_deg: float = 0.0  # more of it while the weight is on the leg
    turn_noise_deg: float = 0.0
    heel_lift_deg: float = 0.0  # of the stance foot about its toes, most in the rise
    look_deg: float = 3.0  # how far the head wanders
    rest_free_foot: bool = False  # put down between reps
    seated_before_s: float = 2.0
    seated_after_s: float = 2.0
    noise: float = 1.0
    rep: dict = field(default_factory=dict)  # what reps have in common
    reps: list = field(default_factory=list)
    idle: list = field(default_factory=list)  # what is done while seated


REP = {
    "rise_s": 1.5, "stand_s": 0.8, "descent_s": 1.9, "pause_s": 1.4,
    "rise": "smooth", "descent": "smooth", "rise_shape": 0.0, "descent_shape": 0.0,
    "knee_in_deg": 0.0, "knee_in": "both", "drop_m": 0.0, "drop_g": 0.8,
    "height": 1.0, "touch": None, "touches": (), "knee_in_m": 0.0, "lean_more_deg": 0.0, "wobble_m": 0.0, "wobble_hz": 1.6, "hands": None,
}


@dataclass
class Movement:
    """One clip's motion on the grid of RATE_HZ (T samples)."""

    time_s: np.ndarray
    joints: dict  # name -> (T, 3) metres
    rotations: dict  # bone -> (T, 3, 3) from the rest pose, world axes
    reps: list  # per rep: what was asked, and the spans of rise and descent
    script: Script


# --- from script to motion ------------------------------------------------------------

class Mover:
    """Moves one body (rest joints by name, metres) through a script."""

    def __init__(self, rest, stature_m, script, recorded=None, seed=0):
        self.rest = {k: np.asarray(v, float) for k, v in rest.items()}
        self.h = stature_m
        self.script = script
        self.recorded = recorded or {}
        self.seed = seed
        self.st, self.fr = script.stance, "left" if script.stance == "right" else "right"
        self.medial = 1.0 if self.st == "right" else -1.0  # X toward the free leg
        r = self.rest
        self.thigh = np.linalg.norm(r[f"knee_{self.st}"] - r[f"hip_{self.st}"])
        self.shank = np.linalg.norm(r[f"ankle_{self.st}"] - r[f"knee_{self.st}"])
        self.ankle_height = r[f"ankle_{self.st}"][1] - min(r[f"heel_{self.st}"][1], r[f"toe2_{self.st}"][1]) + 0.01
        self.half_hips = 0.5 * np.linalg.norm(r["hip_left"] - r["hip_right"])
        self.ankle = np.array([-0.04 * self.medial, self.ankle_height, 0.0])

    def move(self):
        t, plan, way = self._timetable()
        fault = np.zeros_like(t)
        movement = self._pose(t, plan, way, fault)
        # Find, rep by rep, how far the knee must go in for the angle asked for.
        for rep in plan:
            if not (rep["knee_in_deg"] or rep["knee_in_m"]):
                continue
            hill = self._knee_hill(t, rep, movement)
            low, high = 0.0, 0.22
            cut = slice(int(rep["off_s"] * RATE_HZ) - 20, int(rep["contact_s"] * RATE_HZ) + 20)
            for _ in range(12):
                amp = 0.5 * (low + high)
                trial = self._pose(t[cut], plan, way[cut], (fault + amp * hill)[cut], cut, len(t))
                if rep["knee_in_m"]:
                    too_little = knee_offset_m(trial.joints, self.st).max() < rep["knee_in_m"]
                else:
                    too_little = peak_fppa_deg(trial.joints, self.st) < rep["knee_in_deg"]
                low, high = (amp, high) if too_little else (low, amp)
            fault = fault + amp * hill
        return self._pose(t, plan, way, fault)

    # -- time ------------------------------------------------------------------------

    def _timetable(self):
        """Times, the reps with their spans, and the share of height at each time."""
        plan, clock = [], self.script.seated_before_s
        for asked in self.script.reps:
            rep = {**REP, **self.script.rep, **asked}
            rep["off_s"] = clock
            rep["top_s"] = clock + rep["rise_s"]
            rep["down_s"] = rep["top_s"] + rep["stand_s"]
            rep["contact_s"] = rep["down_s"] + rep["descent_s"]
            clock = rep["contact_s"] + rep["pause_s"]
            plan.append(rep)
        end = (plan[-1]["contact_s"] if plan else clock) + self.script.seated_after_s
        t = np.arange(int(round(end * RATE_HZ)) + 1) / RATE_HZ
        way = np.zeros_like(t)
        for rep in plan:
            up = course(rep["rise"], (t - rep["off_s"]) / rep["rise_s"], self.recorded, rep["rise_shape"])
            down = 1 - course(rep["descent"], (t - rep["down_s"]) / rep["descent_s"], self.recorded, rep["descent_shape"])
            here = (t >= rep["off_s"]) & (t < rep["contact_s"] + 0.2)
            share = np.where(t < 0.5 * (rep["top_s"] + rep["down_s"]), up, down) * rep["height"]
            if rep["drop_m"]:
                share = self._drop(t, share, rep)
            way = np.where(here, share, way)
        return t, plan, way

    def _drop(self, t, share, rep):
        """The last `drop_m` of the descent fall at `drop_g` of gravity."""
        rise_m = self.standing_m - self.seated_m
        at = np.flatnonzero((t > rep["down_s"]) & (share * rise_m <= rep["drop_m"]))[0]
        speed = (share[at - 1] - share[at]) * RATE_HZ * rise_m
        since = t - t[at]
        fall = share[at] * rise_m - speed * since - 0.5 * rep["drop_g"] * 9.81 * since**2
        hit = np.flatnonzero((since >= 0) & (fall <= 0))[0]
        after = t - t[hit]
        v = speed + rep["drop_g"] * 9.81 * (t[hit] - t[at])
        # The seat gives by some millimetres and takes the speed within 40 ms.
        sink = -v * after * np.exp(-np.maximum(after, 0) / 0.012)
        out = np.where(since >= 0, fall, share * rise_m)
        rep["contact_s"] = t[hit]
        return np.where(after >= 0, 0.35 * sink, out) / rise_m

    @property
    def seated_m(self):
        """Height of the hip joint centres on the seat; soft parts and the pelvis below
        them are taken as 0.05 of stature (design choice)."""
        return self.script.seat_height_m + 0.05 * self.h

    @property
    def standing_m(self):
        """Height of mid-hip over the floor when standing with the knee 5 deg bent."""
        leg = np.sqrt(self.thigh**2 + self.shank**2 + 2 * self.thigh * self.shank * np.cos(np.radians(5)))
        return self.ankle_height + leg - 0.012

    # -- posture by height -------------------------------------------------------------

    def _hip_forward(self, hip_height, share):
        """Hip ahead of the ankle, for a leg whose shank leans in proportion to the thigh."""
        s = self.script
        y = hip_height - self.ankle_height
        def tilts(ratio):
            low, high = np.zeros_like(y), np.full_like(y, np.radians(120))
            for _ in range(40):
                g = 0.5 * (low + high)
                above = self.shank * np.cos(np.minimum(ratio * g, 0.6)) + self.thigh * np.cos(g) > y
                low, high = np.where(above, g, low), np.where(above, high, g)
            return np.minimum(ratio * g, 0.6), g
        seated = np.radians(s.shank_tilt_seated_deg)
        y0 = self.seated_m - self.ankle_height
        g0 = np.arccos(np.clip((y0 - self.shank * np.cos(seated)) / self.thigh, -0.3, 0.99))
        ratio = seated / g0 + (0.62 - seated / g0) * minimum_jerk(np.clip(share, 0, 1) * 1.4)
        shank, thigh = tilts(ratio)
        return self.shank * np.sin(shank) - self.thigh * np.sin(thigh)

    def _pose(self, t, plan, way, fault, cut=slice(None), whole=None):
        s, r, med = self.script, self.rest, self.medial
        # The same noise in a trial of one rep as in the whole clip it is cut from.
        whole = whole or len(t)
        rng = np.random.default_rng(self.seed)
        noise = lambda period, size: s.noise * drift(rng, whole, period, size)[cut]
        sway_x, sway_z, nod = noise(1.2, 0.004), noise(1.5, 0.004), noise(2.0, 2.0)
        lean_noise, roll_noise, look = noise(1.6, 1.2), noise(1.4, 0.6), noise(3.0, 3.0)
        shake, seat_noise, foot_noise = noise(0.9, 0.0015), noise(1.0, 0.0006), noise(0.7, 0.008)
        turn_noise = noise(2.2, 1.0)
        look = look * s.look_deg / 3.0

        share = np.clip(way, -0.05, 1)
        # Preparing to rise, and settling after: the trunk goes first and comes back last.
        ready = np.zeros_like(t)
        for rep in plan:
            lead = 0.5 + 0.2 * rep["rise_s"]
            ready = np.maximum(ready, gate(t, rep["off_s"] - lead, rep["contact_s"] + 0.9, lead + 0.15))
        height = self.seated_m + way * (self.standing_m - self.seated_m) + seat_noise * (share < 0.02)
        loaded = minimum_jerk(share / 0.35)
        forward = self._hip_forward(height, share)

        # What is done while seated.
        lean_idle, slide, hop = np.zeros_like(t), np.zeros_like(t), np.zeros_like(t)
        for act in s.idle:
            w = bump(t, act["at_s"], act["at_s"] + act["for_s"])
            if act["what"] == "lean":
                lean_idle += act.get("deg", 35) * w
            elif act["what"] == "shift":
                hop += act.get("lift_m", 0.03) * bump(t, act["at_s"], act["at_s"] + 0.5 * act["for_s"])
                slide += act.get("m", 0.05) * minimum_jerk((t - act["at_s"]) / act["for_s"])
            elif act["what"] == "sway":
                slide += act.get("m", 0.04) * w
            elif act["what"] == "look":
                look = look + act.get("deg", 40) * w
        height = height + hop * (share < 0.05)

        hang = self._free_leg_share(t, plan)
        free_height, free_ahead, free_side = self._free_foot(t, plan, share, hang, foot_noise)

        lean_sit = 6.0
        def centre(lean_deg, pelvis_x, roll_deg):
            lean, roll = np.radians(lean_deg), np.radians(roll_deg)
            trunk = 0.288 * self.h  # hip to shoulder joints [Winter2009]
            up = 0.626 * trunk
            x = pelvis_x - med * up * np.sin(roll) * np.cos(lean)
            z = forward + up * np.sin(lean)
            # Legs: the stance leg half way, the free leg half way to its foot.
            x_legs = (0.5 * pelvis_x + 0.5 * self.ankle[0]) + (0.5 * pelvis_x + 0.5 * free_side + med * self.half_hips)
            z_legs = 0.55 * forward + (0.5 * forward + 0.45 * free_ahead)
            whole = TRUNK_MASS + 2 * LEG_MASS
            return (TRUNK_MASS * x + LEG_MASS * x_legs) / whole, (TRUNK_MASS * z + LEG_MASS * z_legs) / whole
        low, high = np.full_like(t, 3.0), np.full_like(t, s.lean_cap_deg)
        for _ in range(30):
            mid = 0.5 * (low + high)
            behind = centre(mid, 0 * t, 0 * t)[1] < s.balance_forward_m
            low, high = np.where(behind, mid, low), np.where(behind, high, mid)
        lean_need = evened(low, s.lean_evened_s) if s.lean_evened_s else low
        lean = ready * lean_need + (1 - ready) * lean_sit + lean_idle * (1 - ready) + lean_noise
        roll = self._lean_aside(t, plan, loaded, hang) + roll_noise
        drop = s.pelvic_drop_deg * loaded * hang

        low, high = np.full_like(t, -0.3), np.full_like(t, 0.3)
        target = self.ankle[0] + med * s.balance_medial_m
        for _ in range(30):
            mid = 0.5 * (low + high)
            over = centre(lean, mid, roll)[0] < target
            low, high = np.where(over, mid, low), np.where(over, high, mid)
        balanced = low
        aside = self.half_hips + 0.012 if s.stance_from_middle_m is None else s.stance_from_middle_m
        seat_x = self.ankle[0] + med * aside
        if s.rung in ("two_leg", "split_stance"):
            pelvis_x = seat_x + sway_x
        elif s.shift_lead_s is not None:
            pelvis_x, roll = self._shifted(t, plan, share, hang, seat_x, balanced, target, roll,
                                           lambda x, tilt: centre(lean, x, tilt)[0])
            pelvis_x = pelvis_x + sway_x * loaded
        else:
            shift = minimum_jerk(share / 0.5) * hang
            pelvis_x = seat_x + shift * (balanced - seat_x) + sway_x * loaded
        pelvis = np.stack([pelvis_x, height, forward + sway_z * loaded + slide * (1 - loaded)], -1)

        rot = {}
        tilt = about_z(np.radians(med * roll))
        facing = about_y(np.radians(med * (s.turn_deg + s.turn_loaded_deg * loaded + s.turn_noise_deg * turn_noise)))
        # Free side down: toward the free leg X falls.
        rot["pelvis"] = about_z(np.radians(-med * drop)) @ about_x(np.radians(0.55 * lean - 6 * (1 - loaded)))
        rot["abdomen"] = about_z(np.radians(0.4 * med * roll)) @ about_x(np.radians(0.85 * lean))
        rot["thorax"] = tilt @ about_x(np.radians(lean))
        rot["head"] = about_y(np.radians(look)) @ about_x(np.radians(0.3 * lean + nod))
        if s.turn_deg or s.turn_loaded_deg or s.turn_noise_deg:
            rot = {bone: facing @ turned for bone, turned in rot.items()}
        joints = {"pelvis": pelvis}
        put = lambda name, bone, origin: joints.__setitem__(
            name, joints[origin] + turn(r[name] - r[origin], rot[bone]))
        for side in ("left", "right"):
            put(f"hip_{side}", "pelvis", "pelvis")
        put("waist", "pelvis", "pelvis")
        put("chest", "abdomen", "waist")
        put("neck", "thorax", "chest")
        for side in ("left", "right"):
            put(f"shoulder_{side}", "thorax", "chest")
        for name in r:
            if name.split("_")[0] in ("head", "nose", "eye", "ear"):
                put(name, "head", "neck")

        st, fr = self.st, self.fr
        toe = np.radians(s.toe_out_deg)
        heading = np.array([-med * np.sin(toe), 0, np.cos(toe)])  # outward is away from the free leg
        inward = np.array([med * np.cos(toe), 0, np.sin(toe)])
        ankle = np.broadcast_to(self.ankle, pelvis.shape)
        pitch = self._heel_lift(t, plan)
        if pitch is not None:
            ankle = self._over_the_toes(ankle, heading, pitch)
        placing = self._placing(t)
        if placing is not None:
            ankle = ankle + placing
        offset = s.knee_rest_offset_m + fault + shake * loaded
        for rep in plan:
            if rep["wobble_m"]:
                offset = offset + rep["wobble_m"] * np.sin(2 * np.pi * rep["wobble_hz"] * t) * gate(
                    t, rep["off_s"], rep["contact_s"], 0.3)
        self._leg(joints, rot, st, ankle, heading, inward, offset, None)
        if pitch is not None:
            tip = frame_of(np.broadcast_to(heading, pelvis.shape), np.broadcast_to(np.cross(UP, heading), pelvis.shape))
            tipped = tip @ about_y(np.radians(pitch)) @ np.swapaxes(tip, -1, -2)
            rot[f"foot_{st}"] = tipped @ rot[f"foot_{st}"]
        if s.rung in ("two_leg", "split_stance"):
            mirror = np.array([-1, 1, 1.0])
            other = self.ankle * mirror + np.array([2 * seat_x, 0, 0])
            if s.rung == "split_stance":
                other = other + np.array([0, 0.05, -0.24])
            self._leg(joints, rot, fr, np.broadcast_to(other, pelvis.shape), heading * mirror, inward * mirror, s.knee_rest_offset_m + shake * loaded, None)
        else:
            free_ankle = np.stack([np.full_like(t, free_side), free_height, free_ahead], -1)
            mirror = np.array([-1, 1, 1.0])
            self._leg(joints, rot, fr, free_ankle, heading * mirror, inward * mirror, None, 0.12)
        for side, bone in ((st, f"foot_{st}"), (fr, f"foot_{fr}")):
            for point in ("heel", "toe2", "big_toe"):
                if f"{point}_{side}" in r:
                    put(f"{point}_{side}", bone, f"ankle_{side}")
        self._arms(t, plan, joints, rot, share)
        return Movement(t, joints, rot, plan, s)

    # -- trunk and weight aside ----------------------------------------------------------

    def _lean_aside(self, t, plan, loaded, hang):
        """The trunk's lean toward the stance leg, deg (T,)."""
        s = self.script
        on = loaded * hang
        if s.lean_course == "constant":
            on = np.ones_like(t)
        elif s.lean_course == "growing":
            for rep in plan:
                on = np.maximum(on, gate(t, rep["off_s"] - s.lean_growing_s, rep["contact_s"] + 0.8, s.lean_growing_s))
        elif s.lean_course == "standing":
            for rep in plan:
                up = gate(t, rep["off_s"] + 0.6 * rep["rise_s"], rep["down_s"] + 0.4 * rep["descent_s"], 0.4 * rep["rise_s"])
                on = np.where((t > rep["off_s"]) & (t < rep["contact_s"]), up, on * (t < rep["off_s"]))
        elif s.lean_course != "loaded":
            raise ValueError(f"unknown course of the lean: {s.lean_course!r}")
        lean = s.lateral_lean_deg * on
        for rep in plan:
            if rep["lean_more_deg"]:
                lean = lean + rep["lean_more_deg"] * gate(t, rep["off_s"] - 0.4, rep["contact_s"] + 0.4, 0.6)
        return lean

    def _shifted(self, t, plan, share, hang, seat_x, balanced, target, roll, centre_x):
        """Pelvis X and trunk lean of a weight shift with its own time, begun on the seat.

        On the seat the pelvis slides by a share of its way and the trunk leans for the
        rest, at most 12 deg more; off the seat the pelvis goes over the foot.
        """
        s = self.script
        shift = np.zeros_like(t)
        for rep in plan:
            start = rep["off_s"] - s.shift_lead_s
            end = max(rep["contact_s"] + 0.5, start + 2 * s.shift_s + 0.1)
            shift = np.maximum(shift, gate(t, start, end, s.shift_s))
        if s.rung == "lowering":
            shift = shift * hang
        off = minimum_jerk(share / 0.5) * hang
        begun = shift * s.shift_slide
        pelvis_x = seat_x + (begun + (1 - begun) * off) * (balanced - seat_x)
        still = 1 - off
        wanted = centre_x(0 * t + seat_x, roll) * (1 - shift) + shift * target
        low, high = np.full_like(t, -12.0), np.full_like(t, 12.0)
        for _ in range(20):
            more = 0.5 * (low + high)
            # Toward the stance leg, X falls for the right leg and rises for the left.
            short = self.medial * (centre_x(pelvis_x, roll + more) - wanted) > 0
            low, high = np.where(short, more, low), np.where(short, high, more)
        return pelvis_x, roll + still * shift * more

    # -- the stance foot -----------------------------------------------------------------

    def _heel_lift(self, t, plan):
        """How far the stance foot is tipped about its toes, deg (T,), or None."""
        if not self.script.heel_lift_deg:
            return None
        lift = np.zeros_like(t)
        for rep in plan:
            lift += bump(t, rep["off_s"] - 0.1, rep["off_s"] + 0.8 * rep["rise_s"])
        return self.script.heel_lift_deg * lift

    def _over_the_toes(self, ankle, heading, pitch):
        """Ankle (T, 3) when the foot is tipped about its toes by pitch deg."""
        reach = 0.95 * np.linalg.norm((self.rest[f"toe2_{self.st}"] - self.rest[f"ankle_{self.st}"])[[0, 2]])
        rise, back = self.ankle_height - 0.01, reach
        angle = np.radians(pitch)
        up = back * np.sin(angle) + rise * np.cos(angle) - rise
        ahead = back - back * np.cos(angle) + rise * np.sin(angle)
        return ankle + up[:, None] * UP + ahead[:, None] * heading

    def _placing(self, t):
        """The stance foot's way (T, 3) to its place while it is adjusted, or None."""
        acts = [act for act in self.script.idle if act["what"] == "place_foot"]
        if not acts:
            return None
        way = np.zeros((len(t), 3))
        for act in acts:
            left = 1 - minimum_jerk((t - act["at_s"]) / act["for_s"])
            way[:, 0] += self.medial * act.get("aside_m", 0.04) * left
            way[:, 2] += act.get("ahead_m", 0.06) * left
            way[:, 1] += act.get("lift_m", 0.03) * bump(t, act["at_s"], act["at_s"] + act["for_s"])
        return way

    def planted(self, t, plan):
        """Whether the stance foot stands flat and still (T,)."""
        lift, way = self._heel_lift(t, plan), self._placing(t)
        flat = np.ones(len(t), bool) if lift is None else lift < 2.0
        if way is not None:
            flat &= np.linalg.norm(np.gradient(way, t, axis=0), axis=1) < 0.005
        return flat

    def _free_leg_share(self, t, plan):
        """1 while the free leg is off the floor, 0 while it stands."""
        s = self.script
        if s.rung in ("two_leg", "split_stance"):
            return np.zeros_like(t)
        if s.rung == "lowering":
            up = np.zeros_like(t)
            for rep in plan:
                up = np.maximum(up, gate(t, rep["top_s"] - 0.1, rep["contact_s"] + 0.1, 0.35))
            return up
        if not s.rest_free_foot:
            return np.ones_like(t)
        up = np.zeros_like(t)
        for rep in plan:
            up = np.maximum(up, gate(t, rep["off_s"] - 0.75, rep["contact_s"] + 0.75, 0.4))
        return up

    def _free_foot(self, t, plan, share, hang, noise):
        """Height, way ahead and side of the free ankle."""
        s = self.script
        clearance, ahead = s.free_foot_m
        side = self.ankle[0] + self.medial * s.free_foot_side_m
        floor = self.ankle_height
        up = floor + clearance * (0.75 + 0.25 * share) + noise
        height = floor + hang * (up - floor)
        forward = (s.free_foot_seated_m - (s.free_foot_seated_m - ahead) * share) * hang + (1 - hang) * (0.10 if s.rung == "single_leg" else 0.0)
        for rep in plan:
            told = ([rep["touch"]] if rep["touch"] else []) + list(rep["touches"])
            rep["touched_s"], rep["touch_kinds"] = [], []
            for n, touch in enumerate(told):
                w, span = self._touching(t, rep, touch)
                height = height - w * (height - floor)
                if n or not rep["touch"]:
                    # A straight leg does not reach the floor far ahead: the foot comes in.
                    forward = forward - w * np.maximum(forward - (0.04 + 0.38 * (1 - share)), 0)
                rep["touched_s"].append(span)
                rep["touch_kinds"].append({"kind": touch.get("kind", "clear"), "in": touch["in"]})
        return height, forward, side

    @staticmethod
    def _touching(t, rep, touch):
        """How far down the free foot is for one touch (1: on the floor), and from when to when (s).

        clear: down fast, stopped by the floor. soft: placed slowly and rests.
        brush: the floor is only grazed, at speed. Told by `in` (a phase; "seat_off" is
        about leaving the seat) and `after_s`, seconds from its start.
        """
        kind = touch.get("kind", "clear")
        start = {"rise": "off_s", "stand": "top_s", "descent": "down_s", "seat_off": "off_s"}[touch["in"]]
        at = rep[start] + touch.get("after_s", -0.25 if touch["in"] == "seat_off" else 0.5)
        usual = {"clear": (0.22, 0.25, 0.35), "soft": (0.65, 0.5, 0.6), "brush": (0.25, 0.03, 0.25)}[kind]
        down, stay, rise = (touch.get(name, value) for name, value in zip(("down_s", "stay_s", "rise_s"), usual))
        since = t - at
        fall = np.clip(since / down, 0, 1) ** 1.6 if kind == "clear" else minimum_jerk(since / down)
        w = np.where(since < down, fall, 1 - minimum_jerk((since - down - stay) / rise))
        return np.where(since >= 0, w, 0), (at + down, at + down + stay)

    def _leg(self, joints, rot, side, ankle, heading, inward, offset, lift):
        """Two links from hip to ankle; the knee `offset` m inward of the foot's plane."""
        r = self.rest
        hip = joints[f"hip_{side}"]
        thigh = np.linalg.norm(r[f"knee_{side}"] - r[f"hip_{side}"])
        shank = np.linalg.norm(r[f"ankle_{side}"] - r[f"knee_{side}"])
        reach = np.linalg.norm(hip - ankle, axis=-1, keepdims=True)
        longest = 0.9985 * (thigh + shank)
        ankle = np.where(reach > longest, hip + (ankle - hip) * longest / reach, ankle)
        axis = unit(hip - ankle)
        d = np.minimum(reach, longest)
        a = (shank**2 - thigh**2 + d**2) / (2 * d)
        radius = np.sqrt(np.maximum(shank**2 - a**2, 0))
        base = ankle + a * axis
        ahead = unit(heading - (axis * heading).sum(-1, keepdims=True) * axis)
        across = np.cross(axis, ahead)
        across = across * np.sign((across * inward).sum(-1, keepdims=True))
        if offset is None:
            pole = ahead
        else:
            rest_off = ((base - ankle) @ inward)
            weight = minimum_jerk(radius[:, 0] / 0.16)
            want = rest_off + (offset - rest_off) * weight
            # r cos(psi) (ahead.inward) + r sin(psi) (across.inward) = want - rest_off
            p, q = ahead @ inward, across @ inward
            size = np.hypot(p, q)
            sine = np.clip((want - rest_off) / np.maximum(radius[:, 0] * size, 1e-6), -0.97, 0.97)
            psi = np.arcsin(sine) - np.arctan2(p, q)
            pole = np.cos(psi)[:, None] * ahead + np.sin(psi)[:, None] * across
        knee = base + radius * pole
        joints[f"knee_{side}"], joints[f"ankle_{side}"] = knee, ankle
        left = np.array([1.0, 0, 0])
        hinge = np.cross(pole, -axis)
        for bone, start, end in (("thigh", hip, knee), ("shank", knee, ankle)):
            o, e = (f"hip_{side}", f"knee_{side}") if bone == "thigh" else (f"knee_{side}", f"ankle_{side}")
            rest = frame_of(r[e] - r[o], left)
            rot[f"{bone}_{side}"] = frame_of(end - start, hinge) @ rest.T
        if lift is None:
            own = r[f"toe2_{side}"] - r[f"heel_{side}"]
            yaw = np.arctan2(heading[0], heading[2]) - np.arctan2(own[0], own[2])
            rot[f"foot_{side}"] = np.broadcast_to(about_y(np.array(yaw)), (len(hip), 3, 3))
        else:
            # Held a little toes-up; flat once it comes near the floor.
            flat = about_y(np.array(0.0))
            free = rot[f"shank_{side}"] @ about_x(np.array(lift))
            down = 1 - minimum_jerk((ankle[:, 1] - self.ankle_height) / 0.06)
            toes = free[:, :, 2]
            pitch = np.arctan2(toes[:, 1], np.hypot(toes[:, 0], toes[:, 2])) * (1 - down)
            own = r[f"toe2_{side}"] - r[f"heel_{side}"]
            yaw = np.arctan2(heading[0], heading[2]) - np.arctan2(own[0], own[2])
            rot[f"foot_{side}"] = about_y(np.full_like(pitch, yaw)) @ about_x(-np.clip(pitch, 0.0, 0.5)) @ flat

    def _arms(self, t, plan, joints, rot, share):
        r, s = self.rest, self.script
        for side, sign in (("left", 1.0), ("right", -1.0)):
            shoulder = joints[f"shoulder_{side}"]
            thorax = rot["thorax"]
            upper = np.linalg.norm(r[f"elbow_{side}"] - r[f"shoulder_{side}"])
            fore = np.linalg.norm(r[f"wrist_{side}"] - r[f"elbow_{side}"])
            local = {
                "crossed": ((0.25 * sign, -0.80, 0.45), (-0.80 * sign, 0.28, 0.42)),
                "hanging": ((0.12 * sign, -1.0, 0.05), (0.04 * sign, -1.0, 0.25)),
                "forward": ((0.10 * sign, -0.45, 0.9), (-0.10 * sign, 0.05, 1.0)),
                "thighs": ((0.14 * sign, -1.0, 0.20), (0.0, -0.7, 0.75)),
                "clasped": ((0.16 * sign, -0.95, 0.20), (-0.75 * sign, -0.35, 0.62)),
                "hips": ((0.75 * sign, -0.72, -0.15), (-0.72 * sign, -0.60, 0.35)),
            }[s.arms]
            a, b = (np.array(v) / np.linalg.norm(v) for v in local)
            wrist = shoulder + turn(upper * a + fore * b, thorax)
            elbow_hint = turn(a, thorax)
            if s.arms == "thighs":
                # Hands lie on the thighs while seated.
                h, k = joints[f"hip_{side}"], joints[f"knee_{side}"]
                goal = h + 0.62 * (k - h) + UP * 0.095 + np.array([-0.01 * sign, 0, 0])
                wrist = wrist + (1 - minimum_jerk(share / 0.3))[:, None] * (goal - wrist)
            for rep in plan:
                if rep["hands"] and (rep["hands"] != "one" or side == self.st):
                    w = gate(t, rep["off_s"] - 0.5, rep["off_s"] + 0.75 * rep["rise_s"], 0.45)[:, None]
                    if rep["hands"] == "chair":
                        goal = np.stack([joints["pelvis"][:, 0] + sign * 0.22, 0 * t + s.seat_height_m + 0.03,
                                         np.full_like(t, joints["pelvis"][0, 2] + 0.05)], -1)
                    else:
                        k, h = joints[f"knee_{self.st}"], joints[f"hip_{self.st}"]
                        goal = k + 0.22 * (h - k) + UP * 0.09 + np.array([0.03 * sign, 0, 0.02])
                    wrist = wrist + w * (goal - wrist)
            for act in s.idle:
                if act["what"] == "scratch" and side == act.get("hand", "left"):
                    w = gate(t, act["at_s"], act["at_s"] + act["for_s"], 0.4)[:, None]
                    goal = joints["neck"] + np.array([0.10 * sign, 0.12, 0.10]) if act.get("place") == "head" else \
                        joints[f"knee_{side}"] + np.array([0.02, 0.08, 0.03])
                    wrist = wrist + w * (goal - wrist)
            reach = np.linalg.norm(wrist - shoulder, axis=-1, keepdims=True)
            longest = 0.995 * (upper + fore)
            wrist = np.where(reach > longest, shoulder + (wrist - shoulder) * longest / reach, wrist)
            d = np.minimum(reach, longest)
            axis = unit(wrist - shoulder)
            along = (upper**2 - fore**2 + d**2) / (2 * d)
            radius = np.sqrt(np.maximum(upper**2 - along**2, 1e-8))
            pole = unit(elbow_hint - (elbow_hint * axis).sum(-1, keepdims=True) * axis)
            elbow = shoulder + along * axis + radius * pole
            joints[f"elbow_{side}"], joints[f"wrist_{side}"] = elbow, wrist
            # Elbows hinge about an axis across upper arm and forearm.
            rest_hinge = np.cross(r[f"elbow_{side}"] - r[f"shoulder_{side}"], np.array([0, 0, 1.0]))
            hinge = np.cross(elbow - shoulder, wrist - elbow)
            tiny = np.linalg.norm(hinge, axis=-1, keepdims=True) < 1e-4
            hinge = np.where(tiny, turn(rest_hinge, thorax), hinge)
            for bone, o, e, start, end in (("upper_arm", "shoulder", "elbow", shoulder, elbow), ("forearm", "elbow", "wrist", elbow, wrist)):
                rest = frame_of(r[f"{e}_{side}"] - r[f"{o}_{side}"], rest_hinge)
                rot[f"{bone}_{side}"] = frame_of(end - start, hinge) @ rest.T
            rot[f"hand_{side}"] = rot[f"forearm_{side}"]
            if f"hand_{side}" in r:
                joints[f"hand_{side}"] = wrist + turn(r[f"hand_{side}"] - r[f"wrist_{side}"], rot[f"hand_{side}"])

    def _knee_hill(self, t, rep, movement):
        """Where in the rep the knee goes in: deepest where it is bent 45 deg."""
        flexion = knee_flexion_deg(movement.joints, self.st)
        middle = 0.5 * (rep["top_s"] + rep["down_s"])
        hill = np.zeros_like(t)
        for part, inside in (("rise", (t >= rep["off_s"]) & (t < middle)), ("descent", (t >= middle) & (t <= rep["contact_s"]))):
            if rep["knee_in"] in (part, "both"):
                hill = np.where(inside, np.exp(-0.5 * ((flexion - 55) / 22) ** 2), hill)
        reach = int(0.06 * RATE_HZ)
        return np.convolve(np.pad(hill, reach, "edge"), np.ones(2 * reach + 1) / (2 * reach + 1), "valid")


# --- what follows from joints ---------------------------------------------------------

def knee_flexion_deg(joints, side):
    """Angle between thigh and shank, straight 0 (T,)."""
    thigh = unit(joints[f"knee_{side}"] - joints[f"hip_{side}"])
    shank = unit(joints[f"ankle_{side}"] - joints[f"knee_{side}"])
    return np.degrees(np.arccos(np.clip((thigh * shank).sum(-1), -1, 1)))


def knee_offset_m(joints, side):
    """Knee centre from the vertical plane through ankle and second toe, inward + (T,)."""
    knee, ankle, toe = (joints[f"{j}_{side}"] for j in ("knee", "ankle", "toe2"))
    along = (toe - ankle)[:, [0, 2]]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    way = (knee - ankle)[:, [0, 2]]
    med = 1.0 if side == "right" else -1.0
    return med * (way[:, 0] * along[:, 1] - way[:, 1] * along[:, 0])


def fppa_deg(joints, side):
    """Frontal plane projection angle in the body's own frontal plane, inward +  (T,)."""
    med = 1.0 if side == "right" else -1.0
    h, k, a = (joints[f"{j}_{side}"] for j in ("hip", "knee", "ankle"))
    return np.degrees(np.arctan2(med * (k - h)[:, 0], (h - k)[:, 1]) + np.arctan2(med * (k - a)[:, 0], (k - a)[:, 1]))


def peak_fppa_deg(joints, side):
    flexion = knee_flexion_deg(joints, side)
    bent = (flexion >= 30) & (flexion <= 60)
    return fppa_deg(joints, side)[bent].max() if bent.any() else 0.0
