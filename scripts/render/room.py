"""What stands about a person: room, seat, and the pictures on floor and walls.

World axes as in scene.py, metres. Everything follows from the room's seed; nothing
is drawn here, see scene.py.
"""

import dataclasses

import numpy as np

SEATS = ("box", "stool", "chair", "bench", "armchair", "pouffe", "sofa", "none")
PLAIN_FLOORS = ("wood", "tile", "carpet")
FLOORS = PLAIN_FLOORS + ("checks", "parquet", "planks_across", "concrete", "speckled", "mat")
WALLS = ("plain", "plain", "brick", "panels", "stripes", "tiles", "plaster", "paper")

# Materials of a room's triangles, as the shader knows them.
FLOOR, WALL_GRAIN, WOOD_GRAIN, EVEN, WALL_MAP = range(5)


@dataclasses.dataclass(frozen=True)
class Chair:
    """kind: one of SEATS; seat top at seat_h_m; its front edge at front_z_m (toward
    the camera); centred at x_m; colour sRGB 0..1."""
    kind: str = "box"
    seat_h_m: float = 0.45
    front_z_m: float = -0.10
    x_m: float = 0.0
    width_m: float = 0.44
    depth_m: float = 0.42
    colour: tuple = (0.45, 0.33, 0.22)


@dataclasses.dataclass(frozen=True)
class Room:
    """Wall at wall_z_m (negative); floor: one of FLOORS or None (drawn by the seed).

    style "plain": a door, and a window or pictures on a plain wall. "varied": walls
    with a pattern, `clutter` pieces along them, and perhaps a rug; all by the seed; its
    side walls stand at least `aside_m` from the middle.
    """
    seed: int = 0
    wall_z_m: float = -1.6
    floor: str = None
    style: str = "plain"
    clutter: int = 4
    aside_m: float = 1.6


def linear(srgb):
    srgb = np.asarray(srgb, np.float64)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


class Boxes:
    """Collects boxes and cylinders as triangles (N, 12) float32."""

    def __init__(self):
        self.rows = []

    def quad(self, corners, normal, colour, uv, material):
        c = np.asarray(corners, float)
        uv = np.asarray(uv, float)
        for k in (0, 1, 2, 0, 2, 3):
            self.rows.append([*c[k], *normal, *linear(colour), *uv[k], material])

    def box(self, low, high, colour, material=1, grain=0.7):
        low, high = np.asarray(low, float), np.asarray(high, float)
        for axis in range(3):
            u, v = (axis + 1) % 3, (axis + 2) % 3
            for end in (low, high):
                sign = 1.0 if end is high else -1.0
                corner = np.zeros((4, 3))
                corner[:, axis] = end[axis]
                corner[:, u] = [low[u], high[u], high[u], low[u]]
                corner[:, v] = [low[v], low[v], high[v], high[v]]
                normal = np.zeros(3)
                normal[axis] = sign
                self.quad(corner, normal, colour, corner[:, [u, v]] * grain, material)

    def leg(self, bottom, top, radius, colour, sides=10):
        """A round bar between two points (3,) m."""
        bottom, top = np.asarray(bottom, float), np.asarray(top, float)
        axis = (top - bottom) / np.linalg.norm(top - bottom)
        a = np.cross(axis, [0.3, 0.1, 1.0])
        a /= np.linalg.norm(a)
        b = np.cross(axis, a)
        for k in range(sides):
            f0, f1 = 2 * np.pi * k / sides, 2 * np.pi * (k + 1) / sides
            n0, n1 = a * np.cos(f0) + b * np.sin(f0), a * np.cos(f1) + b * np.sin(f1)
            corner = [bottom + radius * n0, bottom + radius * n1, top + radius * n1, top + radius * n0]
            self.quad(corner, (n0 + n1) / np.linalg.norm(n0 + n1), colour,
                      [(k / sides, 0), (k / sides, 0.1), (k / sides, 0.5), (k / sides, 0.6)], 1)

    def disc(self, centre, radius, thickness, colour, sides=32):
        centre = np.asarray(centre, float)
        self.leg(centre - [0, thickness, 0], centre, radius, colour, sides)
        for k in range(sides):
            f0, f1 = 2 * np.pi * k / sides, 2 * np.pi * (k + 1) / sides
            ring = [centre, centre + radius * np.array([np.cos(f0), 0, np.sin(f0)]),
                    centre + radius * np.array([np.cos(f1), 0, np.sin(f1)]), centre]
            self.quad(ring, (0, 1, 0), colour, np.array(ring)[:, [0, 2]], 1)

    def array(self):
        return np.array(self.rows, np.float32).reshape(-1, 12)


def chair_triangles(chair):
    """Triangles of the chair."""
    out = Boxes()
    h, z, w, d = chair.seat_h_m, chair.front_z_m, chair.width_m / 2, chair.depth_m
    x, colour = chair.x_m, chair.colour
    if chair.kind == "box":
        out.box((x - w, 0, z - d), (x + w, h, z), colour, 2)
    elif chair.kind == "stool":
        r = 0.5 * min(chair.width_m, d)
        out.disc((x, h, z - r), r, 0.045, colour)
        for sx in (-1, 1):
            for sz in (-1, 1):
                out.leg((x + sx * r * 0.80, 0, z - r + sz * r * 0.80), (x + sx * r * 0.55, h - 0.03, z - r + sz * r * 0.55),
                        0.016, (0.35, 0.35, 0.36))
    elif chair.kind == "chair":
        out.box((x - w, h - 0.035, z - d), (x + w, h, z), colour)
        for sx in (-1, 1):
            cx = x + sx * (w - 0.025)
            out.box((cx - 0.018, 0, z - 0.05), (cx + 0.018, h - 0.03, z - 0.015), colour)
            out.box((cx - 0.018, 0, z - d), (cx + 0.018, h + 0.46, z - d + 0.035), colour)
        for y in (0.16, 0.28, 0.40):
            out.box((x - w + 0.02, h + y, z - d + 0.005), (x + w - 0.02, h + y + 0.06, z - d + 0.025), colour)
    elif chair.kind == "bench":
        half = max(w, 0.55)
        out.box((x - half, h - 0.05, z - d), (x + half, h, z), colour, 2)
        for sx in (-1, 1):
            cx = x + sx * (half - 0.12)
            out.box((cx - 0.03, 0, z - d + 0.03), (cx + 0.03, h - 0.05, z - 0.03), _shaded(colour, 0.7), 2)
    elif chair.kind in ("armchair", "sofa"):
        half = max(w, 0.28) if chair.kind == "armchair" else max(w, 0.75)
        deep, soft = d + 0.12, _shaded(colour, 0.85)
        out.box((x - half, 0.08, z - deep), (x + half, h, z), colour)
        out.box((x - half - 0.14, h - 0.05, z - deep - 0.16), (x + half + 0.14, h + 0.42, z - deep), soft)
        for sx in (-1, 1):
            inner, outer = sorted((x + sx * half, x + sx * (half + 0.14)))
            out.box((inner, 0.06, z - deep), (outer, h + 0.17, z - 0.10), soft)
    elif chair.kind == "pouffe":
        r = 0.5 * min(max(chair.width_m, 0.40), d + 0.04)
        out.disc((x, h, z - r), r, h, colour)
    elif chair.kind != "none":
        raise ValueError(f"unknown chair {chair.kind!r}")
    return out.array()


def _shaded(colour, share):
    """A colour (3,) sRGB made darker or lighter."""
    return tuple(np.clip(np.asarray(colour, float) * share, 0, 1))


def chair_corners(chair):
    """Points (K, 3) m that bound the chair."""
    rows = chair_triangles(chair)
    return rows[:, :3].astype(float) if len(rows) else np.zeros((0, 3))


def room_triangles(room):
    """Triangles of floor, walls and what stands and hangs there, by the seed."""
    return {"plain": _plain_room, "varied": _varied_room}[room.style](room)


def _plain_room(room):
    """A door on one side, a window or pictures on the other."""
    rng = np.random.default_rng([room.seed, 21])
    out = Boxes()
    z = room.wall_z_m
    wall = np.clip(np.array([(0.80, 0.78, 0.73), (0.72, 0.76, 0.78), (0.85, 0.84, 0.82), (0.70, 0.72, 0.66),
                             (0.78, 0.70, 0.64)][rng.integers(5)]) + rng.normal(0, 0.015, 3), 0, 1)
    white = np.array((0.88, 0.87, 0.85))
    tile = 1.0 / 1.6
    out.quad([(-5, 0, 5), (5, 0, 5), (5, 0, z), (-5, 0, z)], (0, 1, 0), white,
             np.array([(-5, 5), (5, 5), (5, z), (-5, z)]) * tile, 0)
    out.quad([(-5, 0, z), (5, 0, z), (5, 4, z), (-5, 4, z)], (0, 0, 1), wall,
             np.array([(-5, 0), (5, 0), (5, 4), (-5, 4)]) * 0.5, 1)
    skirting = rng.uniform(0.07, 0.12)
    out.box((-5, 0, z), (5, skirting, z + 0.018), white)
    for sx in (-1, 1):
        out.quad([(sx * 4.6, 0, z), (sx * 4.6, 0, 5), (sx * 4.6, 4, 5), (sx * 4.6, 4, z)], (-sx, 0, 0), wall * 0.97,
                 np.array([(0, 0), (6, 0), (6, 4), (0, 4)]) * 0.5, 1)
        out.box((sx * 4.6 - 0.02, 0, z), (sx * 4.6 + 0.02, skirting, 5), white)
    side = rng.choice((-1, 1))
    door = side * rng.uniform(0.75, 1.15)
    wood = np.array([(0.55, 0.42, 0.30), (0.86, 0.85, 0.82), (0.40, 0.28, 0.20)][rng.integers(3)])
    out.box((door - 0.49, 0, z), (door + 0.49, 2.09, z + 0.03), white * 0.95)
    out.box((door - 0.41, 0, z + 0.01), (door + 0.41, 2.02, z + 0.045), wood, 2)
    for low, high in ((0.15, 0.85), (1.0, 1.9)):
        out.box((door - 0.28, low, z + 0.04), (door + 0.28, high, z + 0.052), wood * 0.93, 2)
    out.box((door - side * 0.36 - 0.02, 1.0, z + 0.05), (door - side * 0.36 + 0.06, 1.03, z + 0.09), (0.7, 0.7, 0.7))
    centre = -side * rng.uniform(0.65, 1.0)
    if rng.random() < 0.5:
        out.box((centre - 0.5, 0.95, z), (centre + 0.5, 2.25, z + 0.04), white)
        for k in (-1, 1):
            out.box((centre + k * 0.235 - 0.20, 1.02, z + 0.02), (centre + k * 0.235 + 0.20, 2.18, z + 0.045),
                    (0.93, 0.96, 1.0), 3)
    else:
        for k in range(rng.integers(1, 4)):
            x, y = centre - side * 0.55 * k, rng.uniform(1.4, 1.8)
            w, h = rng.uniform(0.12, 0.25, 2)
            out.box((x - w, y - h, z), (x + w, y + h, z + 0.02), rng.uniform(0.1, 0.5, 3))
            out.box((x - w + 0.03, y - h + 0.03, z), (x + w - 0.03, y + h - 0.03, z + 0.024), rng.uniform(0.3, 0.9, 3), 2)
    return out.array()


def _noise(rng, size, cells, stretch=1):
    """Tiling smooth noise (size, size) about 0, unit spread."""
    spectrum = np.fft.fft2(rng.normal(0, 1, (size, size)))
    fy, fx = np.fft.fftfreq(size)[:, None] * size, np.fft.fftfreq(size)[None] * size
    spectrum *= np.exp(-((fx / cells) ** 2 + (fy * stretch / cells) ** 2))
    field = np.fft.ifft2(spectrum).real
    return (field / field.std()).astype(np.float32)


def floor_map(room, size=1024):
    """Floor picture (size, size, 3) uint8, 1.6 m wide and tiling."""
    rng = np.random.default_rng([room.seed, 22])
    choice = PLAIN_FLOORS if room.style == "plain" else FLOORS
    kind = room.floor or choice[rng.integers(len(choice))]
    y, x = np.mgrid[:size, :size] / size
    if kind == "wood":
        planks = 12
        row = np.floor(x * planks).astype(int)
        start = rng.uniform(0, 1, planks)
        piece = (row * 2 + (((y + start[row]) % 1.0) > 0.5)).astype(int)
        shade = rng.normal(1, 0.10, planks * 2)[piece]
        base = np.array([(0.62, 0.45, 0.30), (0.50, 0.36, 0.25), (0.70, 0.58, 0.44)][rng.integers(3)])
        grain = _noise(rng, size, 120, 14) * 0.05 + _noise(rng, size, 30, 8) * 0.04
        joint = (np.abs((x * planks) % 1.0 - 0.5) > 0.485) | (np.abs(((y + start[row]) * 2) % 1.0 - 0.5) > 0.497)
        value = base * (shade * (1 + grain) * np.where(joint, 0.55, 1))[..., None]
    elif kind == "tile":
        n = int(rng.integers(3, 6))
        shade = rng.normal(1, 0.03, (n, n))[np.floor(y * n).astype(int), np.floor(x * n).astype(int)]
        joint = np.maximum(np.abs((x * n) % 1 - 0.5), np.abs((y * n) % 1 - 0.5)) > 0.5 - 0.003 * n
        base = np.array([(0.70, 0.69, 0.67), (0.60, 0.52, 0.45), (0.45, 0.47, 0.50)][rng.integers(3)])
        value = base * (shade * (1 + 0.03 * _noise(rng, size, 40)) * np.where(joint, 0.7, 1))[..., None]
    elif kind == "carpet":
        base = np.array([(0.45, 0.45, 0.48), (0.50, 0.42, 0.36), (0.36, 0.42, 0.46)][rng.integers(3)])
        value = base * (1 + 0.07 * _noise(rng, size, 300) + 0.04 * _noise(rng, size, 12))[..., None]
    elif kind == "checks":
        n = 2 * int(rng.integers(2, 5))
        dark = (np.floor(x * n) + np.floor(y * n)) % 2
        a, b = any_colour(rng, 0.75), any_colour(rng, 0.4)
        value = np.where(dark[..., None] > 0.5, a, b) * (1 + 0.03 * _noise(rng, size, 60))[..., None]
    elif kind == "parquet":
        # Squares of five staves, turned by a quarter from one to the next.
        n, staves = 6, 5
        across = (np.floor(x * n) + np.floor(y * n)) % 2 > 0.5
        along = np.where(across, (x * n) % 1, (y * n) % 1)
        stave = np.floor(along * staves).astype(int)
        cell = (np.floor(x * n) * n + np.floor(y * n)).astype(int)
        shade = rng.normal(1, 0.09, (n * n, staves))[cell, stave]
        joint = np.abs((along * staves) % 1 - 0.5) > 0.475
        base = np.array([(0.60, 0.44, 0.28), (0.48, 0.32, 0.22), (0.72, 0.60, 0.44)][rng.integers(3)])
        value = base * (shade * np.where(joint, 0.7, 1) * (1 + 0.04 * _noise(rng, size, 90)))[..., None]
    elif kind == "planks_across":
        planks = int(rng.integers(8, 16))
        shade = rng.normal(1, 0.08, planks)[np.floor(y * planks).astype(int)]
        joint = np.abs((y * planks) % 1 - 0.5) > 0.48
        grain = 0.06 * _noise(rng, size, 90, 0.1)
        value = any_colour(rng, 0.6, 0.25) * (shade * (1 + grain) * np.where(joint, 0.6, 1))[..., None]
    elif kind in ("concrete", "speckled"):
        fine = 0.05 if kind == "concrete" else 0.22
        value = any_colour(rng, 0.6, 0.12) * (1 + 0.05 * _noise(rng, size, 5) + fine * _noise(rng, size, 250) ** 3 / 3)[..., None]
    elif kind == "mat":
        value = any_colour(rng, 0.5, 0.7) * (1 + 0.03 * np.sin(2 * np.pi * 64 * x) * np.sin(2 * np.pi * 64 * y))[..., None]
    else:
        raise ValueError(f"unknown floor {kind!r}")
    return (np.clip(value, 0, 1) * 255).astype(np.uint8)


def any_colour(rng, lightness=0.6, colourful=0.35):
    """A colour (3,) sRGB about a lightness, more or less grey."""
    grey = np.clip(rng.normal(lightness, 0.15), 0.04, 0.97)
    return np.clip(grey * (1 + colourful * rng.uniform(-1, 1, 3)), 0.02, 0.98)


def wall_map(room, size=512):
    """Wall picture (size, size, 3) uint8, 1.6 m wide and tiling; for a "varied" room."""
    rng = np.random.default_rng([room.seed, 24])
    kind = WALLS[rng.integers(len(WALLS))]
    base = any_colour(rng, rng.choice([0.80, 0.62, 0.38], p=[0.55, 0.3, 0.15]), 0.18)
    y, x = np.mgrid[:size, :size] / size
    value = np.ones((size, size)) + 0.012 * _noise(rng, size, 60)
    if kind == "brick":
        rows = 2 * int(rng.integers(8, 13))
        row = np.floor(y * rows).astype(int)
        along = x * rows / 3 + 0.5 * (row % 2)
        brick = (np.floor(along).astype(int) % (rows // 3 + 1)) + row * (rows // 3 + 1)
        joint = (np.abs((y * rows) % 1 - 0.5) > 0.45) | (np.abs(along % 1 - 0.5) > 0.48)
        value = value * rng.normal(1, 0.09, brick.max() + 1)[brick] * np.where(joint, 1.2, 1)
    elif kind in ("panels", "stripes"):
        n = int(rng.integers(4, 20))
        line = np.abs((x * n) % 1 - 0.5) > 0.46
        band = np.floor(x * 2 * n) % 2
        value = value * (np.where(line, 0.78, 1) if kind == "panels" else 1 + rng.uniform(-0.2, 0.2) * band)
    elif kind == "tiles":
        n = int(rng.integers(5, 12))
        joint = np.maximum(np.abs((x * n) % 1 - 0.5), np.abs((y * n) % 1 - 0.5)) > 0.475
        value = value * np.where(joint, 0.85, 1)
    elif kind == "plaster":
        value = value + 0.05 * _noise(rng, size, 25)
    elif kind == "paper":
        value = value + rng.uniform(0.06, 0.2) * (_noise(rng, size, 9) > 0.9)
    return (np.clip(base * value[..., None], 0, 1) * 255).astype(np.uint8)


def rug(room):
    """Rug of a "varied" room: (low x, low z, high x, high z) m, two linear colours, cells
    per metre; all 0 for a bare floor."""
    rng = np.random.default_rng([room.seed, 25])
    if room.style == "plain" or rng.random() < 0.6:
        return (0.0,) * 4, (0.0,) * 3, (0.0,) * 3, 0.0
    half, near, far = rng.uniform(0.7, 1.6), rng.uniform(0.3, 1.2), rng.uniform(0.1, 0.9)
    a = any_colour(rng, 0.5, 0.6)
    b = np.clip(a * rng.uniform(0.75, 1.25), 0, 1)
    middle = rng.normal(0, 0.15)
    return ((middle - half, -far, middle + half, near), tuple(linear(a)), tuple(linear(b)),
            float(rng.choice([0.0, rng.uniform(3, 16)])))


def grain_map(seed, size=256):
    """Fine noise (size, size, 4) uint8: cloth, hair, wall, wood."""
    rng = np.random.default_rng([seed, 23])
    layers = [_noise(rng, size, 60), _noise(rng, size, 110, 0.06), _noise(rng, size, 40), _noise(rng, size, 30, 0.1)]
    return (np.clip(np.stack(layers, -1) * 0.18 + 0.5, 0, 1) * 255).astype(np.uint8)


# --- a room with more in it -----------------------------------------------------------

def _varied_room(room):
    """Patterned walls and `clutter` pieces along them. Nothing stands where people are."""
    rng = np.random.default_rng([room.seed, 26])
    out = Boxes()
    z, tile = room.wall_z_m, 1.0 / 1.6
    high = 6.0  # beyond every picture's edge: no ceiling is drawn
    side = rng.uniform(room.aside_m, 4.6, 2) * (-1, 1)
    out.quad([(-5, 0, 5), (5, 0, 5), (5, 0, z), (-5, 0, z)], (0, 1, 0), (0.88, 0.87, 0.85),
             np.array([(-5, 5), (5, 5), (5, z), (-5, z)]) * tile, FLOOR)
    out.quad([(-5, 0, z), (5, 0, z), (5, high, z), (-5, high, z)], (0, 0, 1), (1, 1, 1),
             np.array([(-5, 0), (5, 0), (5, high), (-5, high)]) * tile, WALL_MAP)
    for x in side:
        out.quad([(x, 0, z), (x, 0, 5), (x, high, 5), (x, high, z)], (-np.sign(x), 0, 0), (1, 1, 1),
                 np.array([(0, 0), (6, 0), (6, high), (0, high)]) * tile, WALL_MAP)
    skirting, trim = rng.uniform(0.03, 0.15), any_colour(rng, rng.choice([0.85, 0.35]), 0.2)
    if rng.random() < 0.8:
        out.box((side[0], 0, z), (side[1], skirting, z + 0.018), trim)
    if rng.random() < 0.15:     # a lower half in another colour
        out.box((side[0], 0, z), (side[1], rng.uniform(0.8, 1.2), z + 0.012), any_colour(rng, 0.6, 0.3))
    pieces = (_door, _window, _picture, _shelf, _wall_bars, _plant, _boxes, _table, _radiator, _curtain, _ball)
    chance = np.array([2, 2, 2, 1.5, 1, 1.5, 1.5, 1, 1, 1, 0.7])
    for n, k in enumerate(rng.choice(len(pieces), room.clutter, p=chance / chance.sum())):
        x = rng.uniform(max(side[0] + 0.4, -2.0), min(side[1] - 0.4, 2.0))
        pieces[k](out, rng, x, z + 0.007 * n)      # no two faces in one plane
    return out.array()


def _beside(x, clear_m=0.62):
    """x moved aside so that a piece on the floor keeps clear of the person."""
    return x if abs(x) > clear_m else np.copysign(clear_m + 0.3 * abs(x), x or 1.0)


def _door(out, rng, x, z):
    colour, half, top = any_colour(rng, 0.6, 0.25), rng.uniform(0.38, 0.48), rng.uniform(1.95, 2.15)
    out.box((x - half - 0.08, 0, z), (x + half + 0.08, top + 0.07, z + 0.03), any_colour(rng, 0.8, 0.1))
    out.box((x - half, 0, z + 0.01), (x + half, top, z + 0.045), colour, WOOD_GRAIN)
    if rng.random() < 0.6:
        out.box((x - half + 0.12, 1.0, z + 0.04), (x + half - 0.12, top - 0.15, z + 0.05), _shaded(colour, 0.9), WOOD_GRAIN)
    out.box((x + half - 0.10, 1.0, z + 0.05), (x + half - 0.03, 1.03, z + 0.09), (0.7, 0.7, 0.7))


def _window(out, rng, x, z):
    """Panes up to several times as bright as a white wall."""
    half, low, high = rng.uniform(0.3, 0.9), rng.uniform(0.5, 1.1), rng.uniform(1.8, 2.4)
    bright = rng.uniform(0.6, 1.6) * np.array([0.94, 0.97, 1.0])
    out.box((x - half - 0.05, low - 0.05, z), (x + half + 0.05, high + 0.05, z + 0.04), any_colour(rng, 0.75, 0.2))
    panes = int(rng.integers(1, 4))
    for k in range(panes):
        a, b = x - half + 2 * half * k / panes + 0.02, x - half + 2 * half * (k + 1) / panes - 0.02
        out.box((a, low, z + 0.02), (b, high, z + 0.045), bright, EVEN)


def _picture(out, rng, x, z):
    y, (w, h) = rng.uniform(0.9, 1.8), rng.uniform(0.1, 0.45, 2)
    out.box((x - w, y - h, z), (x + w, y + h, z + 0.02), any_colour(rng, 0.3, 0.3))
    out.box((x - w + 0.03, y - h + 0.03, z), (x + w - 0.03, y + h - 0.03, z + 0.024), any_colour(rng, 0.6, 0.7), WOOD_GRAIN)
    for _ in range(3):
        a, b = rng.uniform(-0.6, 0.4, 2) * (w, h) + (x, y)
        out.box((a, b, z), (a + 0.3 * w, b + 0.3 * h, z + 0.027), any_colour(rng, 0.5, 0.9))


def _shelf(out, rng, x, z):
    x, half, top, deep = _beside(x, 0.85), rng.uniform(0.25, 0.5), rng.uniform(0.7, 1.9), rng.uniform(0.2, 0.32)
    colour, rows = any_colour(rng, 0.55, 0.3), int(rng.integers(2, 5))
    out.box((x - half, 0, z), (x + half, top, z + 0.02), _shaded(colour, 0.8), WOOD_GRAIN)
    for sx in (-1, 1):
        out.box((x + sx * half - 0.015, 0, z), (x + sx * half + 0.015, top, z + deep), colour, WOOD_GRAIN)
    for k in range(rows + 1):
        y = 0.05 + (top - 0.07) * k / rows
        out.box((x - half, y - 0.012, z), (x + half, y + 0.012, z + deep), colour, WOOD_GRAIN)
        at = x - half + 0.03
        while k < rows and at < x + half - 0.05:
            w = rng.uniform(0.02, 0.09)
            if rng.random() < 0.8:
                out.box((at, y + 0.012, z + 0.02), (at + 0.9 * w, y + rng.uniform(0.5, 0.85) * top / rows, z + 0.8 * deep),
                        any_colour(rng, 0.5, 0.8))
            at += w


def _wall_bars(out, rng, x, z):
    half, top, colour = rng.uniform(0.35, 0.5), rng.uniform(1.6, 2.4), any_colour(rng, 0.55, 0.3)
    for sx in (-1, 1):
        out.box((x + sx * half - 0.02, 0, z), (x + sx * half + 0.02, top, z + 0.10), colour, WOOD_GRAIN)
    for y in np.arange(0.2, top, rng.uniform(0.12, 0.2)):
        out.box((x - half, y - 0.014, z + 0.07), (x + half, y + 0.014, z + 0.1), colour)


def _plant(out, rng, x, z):
    x, height, green = _beside(x), rng.uniform(0.5, 1.3), np.array([0.20, 0.42, 0.18]) * rng.uniform(0.6, 1.4)
    at = np.array([x, 0, z + 0.25])
    out.disc(at + [0, 0.25, 0], 0.12, 0.25, any_colour(rng, 0.4, 0.5))
    for _ in range(14):
        tip = at + rng.normal(0, 1, 3) * [0.16, 0, 0.10] + [0, 0.25 + height * rng.uniform(0.3, 1), 0]
        out.leg(at + [0, 0.24, 0], tip, 0.006, _shaded(green, 0.7), 5)
        size = rng.uniform(0.02, 0.06, 3)
        out.box(tip - size, tip + size, _shaded(green, rng.uniform(0.7, 1.3)))


def _boxes(out, rng, x, z):
    x, y = _beside(x), 0.0
    for _ in range(int(rng.integers(1, 4))):
        w, h, d = rng.uniform(0.12, 0.28), rng.uniform(0.12, 0.35), rng.uniform(0.1, 0.2)
        x += rng.normal(0, 0.02)
        out.box((x - w, y, z + 0.05), (x + w, y + h, z + 0.05 + 2 * d), any_colour(rng, 0.5, 0.5), WOOD_GRAIN)
        y += h


def _table(out, rng, x, z):
    x, h, w, d = _beside(x, 0.95), rng.uniform(0.55, 0.76), rng.uniform(0.25, 0.5), rng.uniform(0.35, 0.6)
    colour = any_colour(rng, 0.5, 0.3)
    out.box((x - w, h - 0.03, z + 0.05), (x + w, h, z + 0.05 + d), colour, WOOD_GRAIN)
    for sx in (-1, 1):
        for deep in (0.08, d):
            out.leg((x + sx * (w - 0.03), 0, z + deep), (x + sx * (w - 0.03), h - 0.03, z + deep), 0.02, _shaded(colour, 0.7), 6)
    out.disc((x, h + 0.25, z + 0.05 + d / 2), rng.uniform(0.04, 0.1), 0.25, any_colour(rng, 0.6, 0.7), 12)


def _radiator(out, rng, x, z):
    half, top = rng.uniform(0.3, 0.6), rng.uniform(0.45, 0.7)
    for at in np.arange(x - half, x + half, 0.06):
        out.box((at, 0.12, z + 0.02), (at + 0.045, top, z + 0.09), (0.9, 0.9, 0.88))


def _curtain(out, rng, x, z):
    half, colour = rng.uniform(0.2, 0.45), any_colour(rng, 0.5, 0.6)
    for at in np.arange(x - half, x + half, 0.07):
        out.leg((at, 0.04, z + 0.06), (at, 2.3, z + 0.06), 0.04, _shaded(colour, rng.uniform(0.9, 1.1)), 7)


def _ball(out, rng, x, z):
    """A ball as a stack of discs."""
    x, r, colour = _beside(x, 0.8), rng.uniform(0.12, 0.33), any_colour(rng, 0.5, 0.8)
    for k in range(10):
        a, b = r * (1 - np.cos(np.pi * k / 10)), r * (1 - np.cos(np.pi * (k + 1) / 10))
        out.disc((x, b, z + r + 0.02), r * np.sin(np.pi * (k + 0.5) / 10), b - a, colour, 18)
