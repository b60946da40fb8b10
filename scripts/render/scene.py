"""Room, chair, camera, light: software OpenGL pictures of people.

World axes, metres: X to the right of a square-on picture, Y up (floor = 0),
Z toward the camera. Picture coordinates: u right, v down, in pixels, the
CENTRE of the first pixel at (0.5, 0.5), the picture's corner at (0, 0).

    camera = Camera.around((0, 0.9, 0), 3.2, yaw_deg=0, height_m=1.1)
    scene = Scene(Room(seed=1), Chair("box", 0.45, -0.12), camera)
    picture = scene.draw([(person, person.skin(pelvis, rotations))])

Runs on Mesa llvmpipe through EGL; the same input gives the same pixels on
the same machine and Mesa version.
"""

import dataclasses
import os

import numpy as np

# One thread: several films run side by side, and the result is the same.
os.environ.setdefault("LP_NUM_THREADS", "0")
import moderngl  # noqa: E402


@dataclasses.dataclass(frozen=True)
class Camera:
    """A pinhole camera without distortion.

    width, height px; focal_share: focal length / the longer picture side;
    position (3,) m; yaw, pitch, roll rad. With all three 0 the camera looks
    along -Z. Positive yaw turns it to its left about the vertical, positive
    pitch up, positive roll tilts it to its left (the picture turns clockwise).
    """
    width: int = 720
    height: int = 1280
    focal_share: float = 0.80
    position: tuple = (0.0, 1.1, 3.2)
    yaw: float = 0.0
    pitch: float = 0.0
    roll: float = 0.0

    @classmethod
    def around(cls, target, distance_m, yaw_deg=0.0, height_m=1.1, roll_deg=0.0, **more):
        """A camera that looks at the target (3,) m from a horizontal distance.

        yaw_deg > 0: seen from the person's left (the camera moves to +X).
        """
        yaw = np.radians(yaw_deg)
        target = np.asarray(target, float)
        position = target + distance_m * np.array([np.sin(yaw), 0, np.cos(yaw)])
        position[1] = height_m
        pitch = np.arctan2(target[1] - height_m, distance_m)
        return cls(position=tuple(position), yaw=float(yaw), pitch=float(pitch), roll=np.radians(roll_deg), **more)

    def moved(self, shift_m=(0, 0, 0), yaw=0.0, pitch=0.0, roll=0.0):
        """The camera shifted (3,) m and turned by small angles, rad."""
        position = tuple(np.asarray(self.position, float) + np.asarray(shift_m, float))
        return dataclasses.replace(self, position=position, yaw=self.yaw + yaw, pitch=self.pitch + pitch,
                                   roll=self.roll + roll)

    @property
    def focal_px(self):
        return self.focal_share * max(self.width, self.height)

    @property
    def axes(self):
        """(3, 3): rows are the camera's right, up and backward axes in the world."""
        cy, sy, cp, sp, cr, sr = (f(a) for a in (self.yaw, self.pitch, self.roll) for f in (np.cos, np.sin))
        yaw = np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]])
        pitch = np.array([[1, 0, 0], [0, cp, -sp], [0, sp, cp]])
        roll = np.array([[cr, -sr, 0], [sr, cr, 0], [0, 0, 1]])
        return (yaw @ pitch @ roll).T

    def project(self, points):
        """World points (N, 3) m -> (N, 2) px; NaN behind the camera."""
        local = (np.atleast_2d(np.asarray(points, float)) - self.position) @ self.axes.T
        depth = np.where(local[:, 2] < -1e-6, -local[:, 2], np.nan)
        return np.stack([self.width / 2 + self.focal_px * local[:, 0] / depth,
                         self.height / 2 - self.focal_px * local[:, 1] / depth], 1)

    def matrix(self, near=0.3, far=20.0):
        """(4, 4) clip matrix that agrees with `project`."""
        view = np.eye(4)
        view[:3, :3] = self.axes
        view[:3, 3] = -self.axes @ np.asarray(self.position, float)
        f = self.focal_px
        clip = np.array([[2 * f / self.width, 0, 0, 0], [0, 2 * f / self.height, 0, 0],
                         [0, 0, (far + near) / (near - far), 2 * far * near / (near - far)], [0, 0, -1, 0]])
        return clip @ view


@dataclasses.dataclass(frozen=True)
class Chair:
    """kind: "box" | "stool" | "chair" | "none"; seat top at seat_h_m; its front
    edge at front_z_m (toward the camera); centred at x_m; colour sRGB 0..1."""
    kind: str = "box"
    seat_h_m: float = 0.45
    front_z_m: float = -0.10
    x_m: float = 0.0
    width_m: float = 0.44
    depth_m: float = 0.42
    colour: tuple = (0.45, 0.33, 0.22)


@dataclasses.dataclass(frozen=True)
class Room:
    """Wall at wall_z_m (negative), floor "wood" | "tile" | "carpet" or None
    (drawn by the seed), and doors, windows, pictures drawn by the seed."""
    seed: int = 0
    wall_z_m: float = -1.6
    floor: str = None


@dataclasses.dataclass(frozen=True)
class Light:
    """Directional light from `direction` (3,) with a warm or cold tint, plus
    hemispheric ambient light; exposure multiplies linear light."""
    direction: tuple = (-0.45, 1.0, 0.75)
    strength: float = 0.75
    ambient: float = 0.55
    tint: tuple = (1.03, 1.0, 0.95)


_VERTEX = """
#version 330
uniform mat4 camera, sun;
in vec3 position, normal, colour; in vec2 uv; in float material;
out vec3 p, n, c, s; out vec2 t; flat out float m;
void main() {
    gl_Position = camera * vec4(position, 1);
    p = position; n = normal; c = colour; t = uv; m = material;
    s = (sun * vec4(position, 1)).xyz * 0.5 + 0.5;
}
"""

# Rooms have flat faces: fewer values to interpolate.
_ROOM_VERTEX = _VERTEX.replace("out vec3 p, n, c, s;", "out vec3 p, s; flat out vec3 n, c;")

_LIGHT = """
uniform vec3 eye, direction, tint; uniform float strength, ambient, exposure;
uniform sampler2DShadow shadow; uniform vec4 casters;
float lit(vec3 s, float bias) {
    // Nothing casts a shadow outside the box around people and chair. A loop,
    // because only loops let the software renderer skip work.
    bool far = any(lessThan(s.xy, casters.xy)) || any(greaterThan(s.xy, casters.zw));
    float sum = far ? 4.0 : 0.0;
    vec2 a = vec2(1.0, 0.4) * SPREAD / vec2(textureSize(shadow, 0));
    for (int k = far ? 4 : 0; k < 4; k++) {
        sum += texture(shadow, vec3(s.xy + a, s.z - bias));
        a = vec2(a.y, -a.x);
    }
    return sum * 0.25;
}
vec3 encode(vec3 x) {
    x = x * exposure; x = x / (1.0 + 0.18 * x * x);
    // The sRGB curve by square roots, within about one 8-bit step above black.
    vec3 a = sqrt(x), b = sqrt(a), c = sqrt(b);
    return 0.662002687 * a + 0.684122060 * b - 0.323583601 * c - 0.0225411470 * x;
}
"""

_PERSON = """
#version 330
#define SPREAD 1.3
in vec3 p, n, c, s; in vec2 t; flat in float m; out vec4 o;
uniform sampler2D skin; uniform sampler2D grain;
""" + _LIGHT + """
void main() {
    vec3 view = normalize(eye - p), normal = normalize(n), albedo = c;
    if (!gl_FrontFacing && m > 0.5 && m < 2.5) normal = dot(normal, view) < 0.0 ? -normal : normal;
    float gloss = 0.0, wrap = 0.15;
    if (m < 0.5) { vec3 q = texture(skin, t).rgb; albedo = c * q * q; gloss = 0.05; wrap = 0.30; }
    else if (m < 1.5) { albedo *= 0.90 + 0.22 * texture(grain, t).r; }
    else if (m < 2.5) { albedo *= 0.55 + 0.9 * texture(grain, t).g; gloss = 0.10; }
    else if (m < 3.5) {
        float r = length(t); vec3 iris = c * (0.6 + 0.8 * smoothstep(0.2, 0.5, r));
        albedo = mix(iris, vec3(0.72, 0.68, 0.66), smoothstep(0.46, 0.54, r));
        albedo = mix(vec3(0.01), albedo, smoothstep(0.17, 0.23, r)); gloss = 0.5;
    } else { gloss = 0.08; }
    vec3 l = normalize(direction), h = normalize(l + view);
    float d = max((dot(normal, l) + wrap) / (1.0 + wrap), 0.0);
    float shade = lit(s, 0.006);
    vec3 sky = mix(vec3(0.62, 0.58, 0.54), vec3(1.0, 1.0, 1.02), 0.5 + 0.5 * normal.y);
    float low = 0.75 + 0.25 * smoothstep(0.0, 0.6, p.y);
    vec3 light = tint * strength * d * shade + ambient * sky * low * (0.85 + 0.15 * max(dot(normal, view), 0.0));
    float spot = max(dot(normal, h), 0.0);
    spot *= spot; spot *= spot; spot *= spot; spot *= spot;          // power 16
    if (m > 2.5 && m < 3.5) { spot *= spot; spot *= spot; spot *= spot; }   // eyes: 128
    vec3 x = albedo * light + gloss * spot * shade * tint * strength;
    o = vec4(encode(x), 1);
}
"""

_ROOM = """
#version 330
#define SPREAD 2.2
in vec3 p, s; flat in vec3 n, c; in vec2 t; flat in float m; out vec4 o;
uniform sampler2D floor_map; uniform sampler2D grain; uniform vec4 feet; uniform vec4 seat;
""" + _LIGHT + """
void main() {
    float open = 1.0;
#ifdef FLOOR
    vec3 q = texture(floor_map, t).rgb, albedo = q * q;
    // Contact: less sky light beside feet and seat.
    vec2 a = (p.xz - feet.xy) / vec2(0.085, 0.16), b = (p.xz - feet.zw) / vec2(0.085, 0.16);
    open -= 0.55 * exp(-dot(a, a)) + 0.55 * exp(-dot(b, b));
    vec2 e = max(abs(p.xz - seat.xy) - seat.zw, 0.0);
    if (seat.z > 0.0) open -= 0.45 * exp(-dot(e, e) / 0.018);
    open = max(open, 0.25);
#else
    vec4 g = texture(grain, t);
    vec3 albedo = c * (m < 1.5 ? 0.96 + 0.08 * g.b : (m < 2.5 ? 0.85 + 0.3 * g.a : 1.0));
#endif
    float d = max(dot(n, normalize(direction)), 0.0);
    float shade = lit(s, 0.004);
    vec3 sky = mix(vec3(0.66, 0.63, 0.60), vec3(1.0), 0.5 + 0.5 * n.y);
    o = vec4(encode(albedo * (tint * strength * d * shade + ambient * sky * open)), 1);
}
"""

_DEPTH_VERTEX = """
#version 330
uniform mat4 sun; in vec3 position;
void main() { gl_Position = sun * vec4(position, 1); }
"""
_DEPTH = "#version 330\nvoid main() {}\n"

_LAYOUT = ("3f 3f 3f 2f 1f", "position", "normal", "colour", "uv", "material")
_FLOOR_LAYOUT = ("3f 3f 12x 2f 4x", "position", "normal", "uv")


def _linear(srgb):
    srgb = np.asarray(srgb, np.float64)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


class _Boxes:
    """Collects boxes and cylinders as triangles (N, 12) float32."""

    def __init__(self):
        self.rows = []

    def quad(self, corners, normal, colour, uv, material):
        c = np.asarray(corners, float)
        uv = np.asarray(uv, float)
        for k in (0, 1, 2, 0, 2, 3):
            self.rows.append([*c[k], *normal, *_linear(colour), *uv[k], material])

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


def _chair(chair):
    """Triangles of the chair."""
    out = _Boxes()
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
    elif chair.kind != "none":
        raise ValueError(f"unknown chair {chair.kind!r}")
    return out.array()


def _chair_corners(chair):
    """Points (K, 3) m that bound the chair."""
    rows = _chair(chair)
    return rows[:, :3].astype(float) if len(rows) else np.zeros((0, 3))


def _room(room):
    """Triangles of floor, wall and what hangs on it, by the seed."""
    rng = np.random.default_rng([room.seed, 21])
    out = _Boxes()
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
    # A door on one side, a window or pictures on the other.
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


def _floor_map(room, size=1024):
    """Floor picture (size, size, 3) uint8, 1.6 m wide and tiling."""
    rng = np.random.default_rng([room.seed, 22])
    kind = room.floor or ("wood", "tile", "carpet")[rng.integers(3)]
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
    else:
        raise ValueError(f"unknown floor {kind!r}")
    return (np.clip(value, 0, 1) * 255).astype(np.uint8)


def _grain_map(seed, size=256):
    """Fine noise (size, size, 4) uint8: cloth, hair, wall, wood."""
    rng = np.random.default_rng([seed, 23])
    layers = [_noise(rng, size, 60), _noise(rng, size, 110, 0.06), _noise(rng, size, 40), _noise(rng, size, 30, 0.1)]
    return (np.clip(np.stack(layers, -1) * 0.18 + 0.5, 0, 1) * 255).astype(np.uint8)


class Scene:
    """A room with a chair, drawn from a camera. One OpenGL context each."""

    def __init__(self, room=Room(), chair=Chair(), camera=Camera(), light=Light(), samples=4):
        self.room, self.chair, self.camera, self.light = room, chair, camera, light
        self._gl = moderngl.create_standalone_context(backend="egl", require=330)
        gl = self._gl
        self._person_program = gl.program(_VERTEX, _PERSON)
        self._room_program = gl.program(_ROOM_VERTEX, _ROOM)
        self._floor_program = gl.program(_ROOM_VERTEX, _ROOM.replace("#version 330", "#version 330\n#define FLOOR"))
        self._depth_program = gl.program(_DEPTH_VERTEX, _DEPTH)
        self._target = None
        self._samples = samples
        self._shadow_map = gl.depth_texture((1024, 1024))
        self._shadow_map.compare_func = "<="
        self._shadow_map.filter = (moderngl.LINEAR, moderngl.LINEAR)
        self._shadow_map.repeat_x = self._shadow_map.repeat_y = False
        self._shadow = gl.framebuffer(depth_attachment=self._shadow_map)
        self._floor = self._texture(_floor_map(room), between_levels=True)
        self._grain = self._texture(_grain_map(room.seed))
        self._statics = []
        room_rows = _room(room)
        flat = room_rows[:, 11] < 0.5
        for data, program, layout in ((room_rows[flat], self._floor_program, _FLOOR_LAYOUT),
                                      (room_rows[~flat], self._room_program, _LAYOUT),
                                      (_chair(chair), self._room_program, _LAYOUT)):
            if len(data):
                buffer = gl.buffer(data.tobytes())
                self._statics.append((
                    gl.vertex_array(program, [(buffer, *layout)]),
                    gl.vertex_array(self._depth_program, [(buffer, "3f 36x", "position")])))
        self._chair_corners = _chair_corners(chair)
        self._people = {}

    def _texture(self, picture, between_levels=False):
        texture = self._gl.texture((picture.shape[1], picture.shape[0]), picture.shape[2],
                                   np.ascontiguousarray(picture[::-1]).tobytes())
        texture.build_mipmaps()
        texture.filter = (moderngl.LINEAR_MIPMAP_LINEAR if between_levels else moderngl.LINEAR_MIPMAP_NEAREST,
                          moderngl.LINEAR)
        return texture

    def _person(self, person):
        """Buffers of a person, made on first sight."""
        if id(person) not in self._people:
            gl = self._gl
            uv = person.uv.copy()
            free = (person.material > 0.5) & (person.material != 3)
            # Cloth and hair take their grain from where they are at rest.
            r = person.rest_vertices[free]
            uv[free] = np.stack([r[:, 0] + 0.7 * r[:, 2], r[:, 1] + 0.2 * r[:, 2]], 1) * 5.0
            fixed = np.concatenate([person.colour, uv, person.material[:, None]], 1).astype(np.float32)
            moving = gl.buffer(reserve=len(fixed) * 24, dynamic=True)
            index = gl.buffer(person.faces.tobytes())
            draw = gl.vertex_array(self._person_program, [
                (moving, "3f 3f", "position", "normal"),
                (gl.buffer(fixed.tobytes()), "3f 2f 1f", "colour", "uv", "material")], index)
            depth = gl.vertex_array(self._depth_program, [(moving, "3f 12x", "position")], index)
            # `person` is kept so that its id stays its own.
            self._people[id(person)] = (moving, draw, depth, self._texture(person.skin_map), person)
        return self._people[id(person)]

    def _sun(self, centre):
        """(4, 4) clip matrix of the shadow map, a 3 m square about the people."""
        back = np.asarray(self.light.direction, float)
        back = back / np.linalg.norm(back)
        right = np.cross([0, 1, 0], back)
        right /= np.linalg.norm(right)
        axes = np.stack([right, np.cross(back, right), back])
        matrix = np.eye(4)
        matrix[:3, :3] = axes
        matrix[:3, 3] = -axes @ centre
        return np.diag([1 / 1.5, 1 / 1.5, -1 / 3.0, 1]) @ matrix

    def _resize(self, camera):
        size = (camera.width, camera.height)
        if self._target is None or self._target[0].size != size:
            gl = self._gl
            sampled = gl.framebuffer(gl.renderbuffer(size, 4, samples=self._samples),
                                     gl.depth_renderbuffer(size, samples=self._samples))
            self._target = (sampled, gl.framebuffer(gl.renderbuffer(size, 4)))
        return self._target

    def draw(self, people, camera=None, exposure=1.0):
        """Picture (H, W, 3) uint8 sRGB of [(Person, vertices (N, 6) of skin()), ...].

        camera: instead of the scene's own, for this picture; exposure
        multiplies linear light.
        """
        camera = camera or self.camera
        gl, light = self._gl, self.light
        sampled, plain = self._resize(camera)
        feet, centre = [], np.array([0.0, 0.9, 0.0])
        drawn = []
        for person, vertices in people:
            item = self._person(person)
            item[0].write(np.ascontiguousarray(vertices, np.float32))
            drawn.append(item)
            feet += _footprints(person, vertices)
        if people:
            mean = np.mean([v[:, :3].mean(0) for _, v in people], axis=0)
            centre = np.array([mean[0], 0.8, mean[2] - 0.1])
        sun = self._sun(centre)
        sun_bytes = sun.T.astype(np.float32).tobytes()

        casters = np.concatenate([self._chair_corners, [[0, 0, 0]]] + [v[:, :3] for _, v in people])
        flat = 0.5 * (casters @ sun[:2, :3].T + sun[:2, 3]) + 0.5
        casters = (*(flat.min(0) - 0.01), *(flat.max(0) + 0.01))

        gl.enable(moderngl.DEPTH_TEST)
        self._shadow.use()
        self._shadow.clear(depth=1.0)
        self._depth_program["sun"].write(sun_bytes)
        for _, depth in self._statics[2:]:
            depth.render()
        for item in drawn:
            item[2].render()

        sampled.use()
        sampled.clear(0.8, 0.8, 0.8, 1.0)
        matrix = camera.matrix().T.astype(np.float32).tobytes()
        self._shadow_map.use(0)
        self._grain.use(1)
        self._floor.use(2)
        for program in (self._person_program, self._room_program, self._floor_program):
            for name, data in (("camera", matrix), ("sun", sun_bytes)):
                if name in program:
                    program[name].write(data)
            self._set(program, "casters", casters)
            self._set(program, "direction", light.direction)
            self._set(program, "tint", light.tint)
            self._set(program, "eye", camera.position)
            for name, value in (("strength", light.strength), ("ambient", light.ambient), ("exposure", exposure),
                                ("shadow", 0), ("grain", 1), ("floor_map", 2), ("skin", 3)):
                self._set(program, name, value)
        feet = (feet + [(99.0, 99.0)] * 2)[:2]
        self._set(self._floor_program, "feet", (*feet[0], *feet[1]))
        c = self.chair
        seat = (0, 0, 0, 0) if c.kind == "none" else (
            c.x_m, c.front_z_m - c.depth_m / 2, c.width_m / 2, c.depth_m / 2)
        self._set(self._floor_program, "seat", seat)
        for item in drawn:
            item[3].use(3)
            closed, total = item[4].closed_faces, len(item[4].faces)
            gl.enable(moderngl.CULL_FACE)
            item[1].render(vertices=3 * closed)
            gl.disable(moderngl.CULL_FACE)
            item[1].render(vertices=3 * (total - closed), first=3 * closed)
        for room, _ in self._statics[::-1]:
            room.render()
        gl.copy_framebuffer(plain, sampled)
        pixels = np.frombuffer(plain.read(components=3, alignment=1), np.uint8)
        return pixels.reshape(camera.height, camera.width, 3)[::-1]

    @staticmethod
    def _set(program, name, value):
        if name in program:
            program[name].value = value


def _footprints(person, vertices):
    """Where the two feet are on the floor, [(x, z), ...] m; lifted feet left out."""
    out = []
    foot = person.foot_vertices()
    for index in foot:
        p = vertices[index, :3]
        if p[:, 1].min() < 0.04:
            out.append((float(p[:, 0].mean()), float(p[:, 2].mean())))
        else:
            out.append((99.0, 99.0))
    return out
