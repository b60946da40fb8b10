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

from room import (Chair, FLOOR, Room, WALL_MAP, chair_corners, chair_triangles, floor_map,  # noqa: E402
                  grain_map, room_triangles, rug, wall_map)
from body import EYE  # noqa: E402


@dataclasses.dataclass(frozen=True)
class Camera:
    """A pinhole camera without distortion.

    width, height px; focal_share: focal length / the longer picture side;
    position (3,) m; yaw, pitch, roll rad. With all three 0 the camera looks
    along -Z. Positive yaw turns it to its left about the vertical, positive
    pitch up, positive roll tilts it to its left (the picture turns clockwise).
    offset_px: where the optical axis meets the picture, from its middle (u, v).
    """
    width: int = 720
    height: int = 1280
    focal_share: float = 0.80
    position: tuple = (0.0, 1.1, 3.2)
    yaw: float = 0.0
    pitch: float = 0.0
    roll: float = 0.0
    offset_px: tuple = (0.0, 0.0)

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

    def cut(self, left, top, width, height, scale=1.0):
        """The camera of a part of the picture: corner and size px, enlarged by `scale`.

        What it draws is what cropping and scaling the whole picture would give, without
        drawing the rest.
        """
        wide, high = int(round(width * scale)), int(round(height * scale))
        middle = np.array([self.width / 2 + self.offset_px[0], self.height / 2 + self.offset_px[1]])
        offset = (middle - (left, top)) * scale - (wide / 2, high / 2)
        return dataclasses.replace(self, width=wide, height=high, offset_px=tuple(offset),
                                   focal_share=self.focal_px * scale / max(wide, high))

    def local(self, points):
        """World points (N, 3) m in the camera's axes: right, down, ahead (N, 3) m."""
        return ((np.atleast_2d(np.asarray(points, float)) - self.position) @ self.axes.T) * (1, -1, -1)

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
        u, v = self.offset_px
        return np.stack([self.width / 2 + u + self.focal_px * local[:, 0] / depth,
                         self.height / 2 + v - self.focal_px * local[:, 1] / depth], 1)

    def matrix(self, near=0.3, far=20.0):
        """(4, 4) clip matrix that agrees with `project`."""
        view = np.eye(4)
        view[:3, :3] = self.axes
        view[:3, 3] = -self.axes @ np.asarray(self.position, float)
        f = self.focal_px
        u, v = self.offset_px
        clip = np.array([[2 * f / self.width, 0, -2 * u / self.width, 0], [0, 2 * f / self.height, 2 * v / self.height, 0],
                         [0, 0, (far + near) / (near - far), 2 * far * near / (near - far)], [0, 0, -1, 0]])
        return clip @ view


@dataclasses.dataclass(frozen=True)
class Light:
    """Directional light from `direction` (3,) with a warm or cold tint, plus
    hemispheric ambient light; exposure multiplies linear light, before the curve."""
    direction: tuple = (-0.45, 1.0, 0.75)
    strength: float = 0.75
    ambient: float = 0.55
    tint: tuple = (1.03, 1.0, 0.95)
    exposure: float = 1.0


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
uniform vec4 print_colour[2]; uniform vec4 print_form[2];   // rgb, gloss; kind, cells per uv, turn, share
""" + _LIGHT + """
// How much of the second colour a printed cloth shows at t: 0 .. 1.
float printed(vec4 form, vec2 t) {
    float s = sin(form.z), k = cos(form.z);
    vec2 q = mat2(k, -s, s, k) * t * form.y, edge = fwidth(q) + 0.001, f = abs(fract(q) - 0.5);
    float half_ = 0.5 * form.w;
    float a = 1.0 - smoothstep(half_ - edge.x, half_ + edge.x, f.x), b = 1.0 - smoothstep(half_ - edge.y, half_ + edge.y, f.y);
    if (form.x < 1.5) return a;                                     // stripes
    if (form.x < 2.5) return 0.5 * (a + b);                         // checks
    if (form.x < 3.5) return a * b;                                 // squares
    if (form.x < 4.5) return 1.0 - smoothstep(half_ - edge.x, half_ + edge.x, length(f));  // dots
    float cloud = texture(grain, q * 0.11).b * 0.6 + texture(grain, q * 0.23 + 0.3).r * 0.4;
    return smoothstep(0.5 - 0.02, 0.5 + 0.02, cloud - 0.12 * (0.5 - form.w));   // flowers and clouds
}
void main() {
    vec3 view = normalize(eye - p), normal = normalize(n), albedo = c;
    if (!gl_FrontFacing && ((m > 0.5 && m < 2.5) || m > 4.5)) normal = dot(normal, view) < 0.0 ? -normal : normal;
    float gloss = 0.0, wrap = 0.15;
    if (m < 0.5) { vec3 q = texture(skin, t).rgb; albedo = c * q * q; gloss = 0.05; wrap = 0.30; }
    else if (m < 1.5) { albedo *= 0.90 + 0.22 * texture(grain, t).r; }
    else if (m < 2.5) { albedo *= 0.55 + 0.9 * texture(grain, t).g; gloss = 0.10; }
    else if (m < 3.5) {
        float r = length(t); vec3 iris = c * (0.6 + 0.8 * smoothstep(0.2, 0.5, r));
        albedo = mix(iris, vec3(0.72, 0.68, 0.66), smoothstep(0.46, 0.54, r));
        albedo = mix(vec3(0.01), albedo, smoothstep(0.17, 0.23, r)); gloss = 0.5;
    } else if (m < 4.5) { gloss = 0.08; }
    else {
        int k = m < 5.5 ? 0 : 1;
        if (print_form[k].x > 0.5) albedo = mix(albedo, print_colour[k].rgb, printed(print_form[k], t));
        albedo *= 0.90 + 0.22 * texture(grain, t).r;
        // Sheen where the cloth is seen from its edge, as on tights.
        float rim = 1.0 - max(dot(normal, view), 0.0);
        gloss = print_colour[k].a; albedo += 0.10 * gloss * rim * rim;
    }
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
uniform vec4 rug; uniform vec3 rug_a, rug_b; uniform float rug_cells;
""" + _LIGHT + """
void main() {
    float open = 1.0;
#ifdef FLOOR
    vec3 q = texture(floor_map, t).rgb, albedo = q * q;
    if (all(greaterThan(p.xz, rug.xy)) && all(lessThan(p.xz, rug.zw))) {
        vec2 cell = floor(p.xz * rug_cells);
        float odd = mod(cell.x + cell.y, 2.0);
        albedo = mix(rug_a, rug_b, odd) * (0.8 + 0.4 * texture(grain, p.xz * 2.0).r);
    }
    // Contact: less sky light beside feet and seat.
    vec2 a = (p.xz - feet.xy) / vec2(0.085, 0.16), b = (p.xz - feet.zw) / vec2(0.085, 0.16);
    open -= 0.55 * exp(-dot(a, a)) + 0.55 * exp(-dot(b, b));
    vec2 e = max(abs(p.xz - seat.xy) - seat.zw, 0.0);
    if (seat.z > 0.0) open -= 0.45 * exp(-dot(e, e) / 0.018);
    open = max(open, 0.25);
#elif defined(WALL)
    vec3 q = texture(floor_map, t).rgb, albedo = q * q;
#else
    vec4 g = texture(grain, t);
    vec3 albedo = c * (m < 1.5 ? 0.96 + 0.08 * g.b : (m < 2.5 ? 0.85 + 0.3 * g.a : 1.0));
#endif
    float d = max(dot(n, normalize(direction)), 0.0);
    float shade = lit(s, 0.004);
    vec3 sky = mix(vec3(0.66, 0.63, 0.60), vec3(1.0), 0.5 + 0.5 * n.y);
    o = vec4(encode(albedo * (tint * strength * d * shade + ambient * sky * open)), 0);
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


class Scene:
    """A room with a chair, drawn from a camera. One OpenGL context each.

    samples: per pixel; shadow_px: side of the shadow map.
    """

    def __init__(self, room=Room(), chair=Chair(), camera=Camera(), light=Light(), samples=4, shadow_px=1024):
        self.camera, self.light = camera, light
        self._gl = moderngl.create_standalone_context(backend="egl", require=330)
        gl = self._gl
        self._person_program = gl.program(_VERTEX, _PERSON)
        self._room_program = gl.program(_ROOM_VERTEX, _ROOM)
        self._floor_program = gl.program(_ROOM_VERTEX, _ROOM.replace("#version 330", "#version 330\n#define FLOOR"))
        self._wall_program = gl.program(_ROOM_VERTEX, _ROOM.replace("#version 330", "#version 330\n#define WALL"))
        self._depth_program = gl.program(_DEPTH_VERTEX, _DEPTH)
        self._target = None
        self._samples = samples
        self._shadow_map = gl.depth_texture((shadow_px, shadow_px))
        self._shadow_map.compare_func = "<="
        self._shadow_map.filter = (moderngl.LINEAR, moderngl.LINEAR)
        self._shadow_map.repeat_x = self._shadow_map.repeat_y = False
        self._shadow = gl.framebuffer(depth_attachment=self._shadow_map)
        self._people, self._furniture = {}, []
        self.furnish(room, chair)

    def furnish(self, room, chair, floor_px=1024):
        """Stands in another room with another chair; floor_px: size of the floor's picture."""
        self.room, self.chair = room, chair
        for thing in self._furniture:
            thing.release()
        self._furniture = []
        self._floor = self._texture(floor_map(room, floor_px), between_levels=True)
        self._grain = self._texture(grain_map(room.seed))
        self._furniture += [self._floor, self._grain]
        self._wall = self._grain
        if room.style != "plain":
            self._wall = self._texture(wall_map(room), between_levels=True)
            self._furniture.append(self._wall)
        rows, seat = room_triangles(room), chair_triangles(chair)
        material = rows[:, 11]
        pictured = (material == FLOOR) | (material == WALL_MAP)
        self._room_parts = [self._part(rows[material == FLOOR], self._floor_program, _FLOOR_LAYOUT),
                            self._part(rows[material == WALL_MAP], self._wall_program, _FLOOR_LAYOUT),
                            self._part(rows[~pictured], self._room_program, _LAYOUT),
                            self._part(seat, self._room_program, _LAYOUT)]
        self._seat_shadow = None
        if len(seat):
            buffer = self._gl.buffer(seat.tobytes())
            self._seat_shadow = self._gl.vertex_array(self._depth_program, [(buffer, "3f 36x", "position")])
            self._furniture += [buffer, self._seat_shadow]
        self._chair_corners = chair_corners(chair)

    def _part(self, rows, program, layout):
        """Triangles (N, 12) as something to draw; None if there are none."""
        if not len(rows):
            return None
        buffer = self._gl.buffer(rows.tobytes())
        array = self._gl.vertex_array(program, [(buffer, *layout)])
        self._furniture += [buffer, array]
        return array

    def forget(self, person):
        """Frees what is kept of a person who will not be drawn again."""
        kept = self._people.pop(id(person), None)
        for thing in kept[-1] if kept else ():
            thing.release()

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
            free = (person.material > 0.5) & (person.material != EYE)
            # Cloth and hair take their grain from where they are at rest.
            r = person.rest_vertices[free]
            uv[free] = np.stack([r[:, 0] + 0.7 * r[:, 2], r[:, 1] + 0.2 * r[:, 2]], 1) * 5.0
            fixed = np.concatenate([person.colour, uv, person.material[:, None]], 1).astype(np.float32)
            moving = gl.buffer(reserve=len(fixed) * 24, dynamic=True)
            index = gl.buffer(person.faces.tobytes())
            looks = gl.buffer(fixed.tobytes())
            draw = gl.vertex_array(self._person_program, [
                (moving, "3f 3f", "position", "normal"), (looks, "3f 2f 1f", "colour", "uv", "material")], index)
            depth = gl.vertex_array(self._depth_program, [(moving, "3f 12x", "position")], index)
            skin = self._texture(person.skin_map)
            # `person` is kept so that its id stays its own.
            self._people[id(person)] = (moving, draw, depth, skin, person, (moving, index, looks, draw, depth, skin))
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

    def draw(self, people, camera=None, exposure=1.0, mask=False):
        """Picture (H, W, 3) uint8 sRGB of [(Person, vertices (N, 6) of skin()), ...].

        camera: instead of the scene's own, for this picture; exposure
        multiplies linear light. mask: a fourth channel, 255 times the share of
        the pixel that shows a person.
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
        if self._seat_shadow:
            self._seat_shadow.render()
        for item in drawn:
            item[2].render()

        sampled.use()
        sampled.clear(0.8, 0.8, 0.8, 0.0)
        matrix = camera.matrix().T.astype(np.float32).tobytes()
        self._shadow_map.use(0)
        self._grain.use(1)
        self._floor.use(2)
        self._wall.use(4)
        for program in (self._person_program, self._room_program, self._floor_program, self._wall_program):
            for name, data in (("camera", matrix), ("sun", sun_bytes)):
                if name in program:
                    program[name].write(data)
            self._set(program, "casters", casters)
            self._set(program, "direction", light.direction)
            self._set(program, "tint", light.tint)
            self._set(program, "eye", camera.position)
            for name, value in (("strength", light.strength), ("ambient", light.ambient), ("exposure", exposure * light.exposure),
                                ("shadow", 0), ("grain", 1), ("floor_map", 2), ("skin", 3)):
                self._set(program, name, value)
        self._set(self._wall_program, "floor_map", 4)
        for name, value in zip(("rug", "rug_a", "rug_b", "rug_cells"), rug(self.room)):
            self._set(self._floor_program, name, value)
        feet = (feet + [(99.0, 99.0)] * 2)[:2]
        self._set(self._floor_program, "feet", (*feet[0], *feet[1]))
        c = self.chair
        seat = (0, 0, 0, 0) if c.kind == "none" else (
            c.x_m, c.front_z_m - c.depth_m / 2, c.width_m / 2, c.depth_m / 2)
        self._set(self._floor_program, "seat", seat)
        for item in drawn:
            item[3].use(3)
            self._set(self._person_program, "print_colour", [tuple(p.colour) + (p.gloss,) for p in item[4].prints])
            self._set(self._person_program, "print_form", [(p.kind, p.cells, p.turn, p.share) for p in item[4].prints])
            closed, total = item[4].closed_faces, len(item[4].faces)
            gl.enable(moderngl.CULL_FACE)
            item[1].render(vertices=3 * closed)
            gl.disable(moderngl.CULL_FACE)
            item[1].render(vertices=3 * (total - closed), first=3 * closed)
        for part in self._room_parts[::-1]:
            if part:
                part.render()
        gl.copy_framebuffer(plain, sampled)
        channels = 4 if mask else 3
        pixels = np.frombuffer(plain.read(components=channels, alignment=1), np.uint8)
        return pixels.reshape(camera.height, camera.width, channels)[::-1]

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
