#!/usr/bin/env python3
"""Rebuild the pose network in models/ from its source, or check it.

    python3.11 scripts/rebuild-models.py                 rebuild, check, replace
    python3.11 scripts/rebuild-models.py --check-only    check what is in models/

The source is the npm package that models/manifest.toml names: two networks in
TensorFlow Lite's format (the third, of the closer look, is made by
scripts/closer_look). Both ways run each network twice on the same pictures, the
source in its original interpreter and ours in ONNX Runtime, print the largest
difference of each output, and fail if one is beyond its tolerance.
Rebuilding replaces models/*.onnx, and their sizes and checksums in the manifest,
only after all checks passed; nothing else is written but the work folder. Rebuilds
differ in bytes (the converter makes up names), not in weights.

Needs Linux on x86-64, Python 3.11, npm, and the registries of PyPI and npm; with
ffmpeg, frames of sample-clips/ are among the pictures. Python packages go into
a virtual environment in the work folder (1.7 GB for a rebuild, 400 MB for a check),
so with --work a second run is quick.
"""

import argparse
import hashlib
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
import venv
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent
MODELS = PROJECT / "models"
MANIFEST = MODELS / "manifest.toml"

# ONNX Runtime in the version of scripts/prepare.sh.
TO_CHECK = ["ai-edge-litert==2.3.0", "onnxruntime==1.28.0", "numpy==1.26.4", "pillow==13.0.0",
            "protobuf==4.25.9", "flatbuffers==25.12.19"]
TO_CONVERT = ["tensorflow-cpu==2.15.1", "tf2onnx==1.17.0", "onnx==1.16.2"]
OPSET = 17

# From RGB picture values 0..255 to what each network takes.
NORMALISED = {
    "pose_detector": lambda values: values / 127.5 - 1.0,
    "pose_landmarks_heavy": lambda values: values / 255.0,
}

# What is compared: per output the parts with a unit of their own, as (what,
# unit, part of the array, tolerance). Both sides compute in 32-bit floats with
# the same weights and differ in the order of sums only. The tolerances are about
# ten times the largest difference seen on 132 pictures, random and of people, to
# leave room for processors that sum in another order. They are far below what an
# error in the conversion does (one weight of medium size set to zero moved
# landmarks by .3 to .8 px, where it had any effect; two filters swapped, by 8 px)
# and below what matters:
# .05 px are half a millimetre on a person in a region 2.3 m wide.
TOLERANCES = {
    "boxes": [("boxes and key points", "px of 224", lambda a: a, 0.02)],
    "scores": [("person", "logit", lambda a: a, 0.01)],
    "landmarks": [
        ("x and y", "px of 256", lambda a: a.reshape(-1, 5)[:, :2], 0.05),
        ("z", "px of 256", lambda a: a.reshape(-1, 5)[:, 2], 0.15),
        ("visibility and presence", "logit", lambda a: a.reshape(-1, 5)[:, 3:], 0.01),
    ],
    "presence": [("person", "probability", lambda a: a, 1e-3)],
    "heatmap": [("place of each point", "logit", lambda a: a, 0.05)],
    "world_landmarks": [("x, y and z", "mm", lambda a: a * 1000.0, 0.5)],
}
RANDOM_PICTURES = 8
SEED = 7
SECONDS_BETWEEN_FRAMES = 3


def main():
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--check-only", action="store_true", help="change nothing in models/")
    parser.add_argument(
        "--picture", nargs="+", type=Path, default=[], metavar="FILE",
        help="compare on these pictures of people (PNG, JPEG), beside seeded random ones; "
        "default: tests/golden/pose/ and frames of sample-clips/",
    )
    parser.add_argument(
        "--work", type=Path, metavar="DIR",
        help="keep environment and downloads here; default: a folder deleted at the end",
    )
    arguments = parser.parse_args()
    for picture in arguments.picture:
        if not picture.is_file():
            fail(f"{picture} is not a file", "name picture files after --picture")
    if arguments.work is None:
        with tempfile.TemporaryDirectory(prefix="rebuild-models-") as folder:
            return prepared(arguments, Path(folder).resolve())
    arguments.work.mkdir(parents=True, exist_ok=True)
    work = arguments.work.resolve()
    if Path(sys.prefix) != work / "venv":
        return prepared(arguments, work)
    return rebuild_or_check(arguments, work)


def prepared(arguments, work):
    """Prepares the work folder, then runs this script again in its environment."""
    if sys.version_info[:2] != (3, 11):
        fail(f"this is Python {sys.version.split()[0]}, the pinned packages need 3.11",
             "python3.11 scripts/rebuild-models.py")
    python = work / "venv" / "bin" / "python"
    if not python.exists():
        say("making a Python environment")
        venv.create(work / "venv", with_pip=True)
    wanted = TO_CHECK if arguments.check_only else TO_CHECK + TO_CONVERT
    say(f"Python packages: {', '.join(wanted)}")
    run([python, "-m", "pip", "--disable-pip-version-check", "install", "-q", *wanted],
        "the Python packages could not be installed", "check the network; pip's message is above")
    for model in from_elsewhere():
        fetch(model["source"], work)
    again = [python, __file__, "--work", work]
    again += ["--check-only"] if arguments.check_only else []
    again += ["--picture", *arguments.picture] if arguments.picture else []
    # Errors only, none of TensorFlow's remarks about the processor.
    return subprocess.run(again, env=os.environ | {"TF_CPP_MIN_LOG_LEVEL": "2"}).returncode


def rebuild_or_check(arguments, work):
    pictures = all_pictures(arguments.picture, work)
    finished, passed = {}, True
    for model in from_elsewhere():
        source = work / model["source"]["file"]
        ours = MODELS / model["file"]
        if arguments.check_only:
            passed &= is_as_listed(model, ours)
        else:
            say(f"converting {source.name}")
            ours = work / model["file"]
            convert(model, source, ours)
            finished[model["file"]] = ours.read_bytes()
        passed &= agrees(model, source, ours, pictures)
    if not passed:
        state = "is not what its source is" if arguments.check_only else "was left as it is"
        sys.stdout.flush()
        print(f"\nFAILED: models/ {state}", file=sys.stderr)
        return 1
    if not arguments.check_only:
        replace_models(finished)
    print("\npassed: models/ computes what its source computes")
    return 0


def manifest():
    # Here, so that an older Python gets as far as the message about its age.
    import tomllib

    return tomllib.loads(MANIFEST.read_text(encoding="utf-8"))


def from_elsewhere():
    """The networks that are not this project's own (those: scripts/closer_look)."""
    return [model for model in manifest()["model"] if "registry" in model["source"]]


def fetch(source, work):
    """Brings the source of one network into the work folder and checks that it is
    the one the manifest means."""
    target = work / source["file"]
    if not target.exists():
        if shutil.which("npm") is None:
            fail("npm is not on the PATH; it fetches the source", "install Node.js with npm")
        wanted = f"{source['package']}@{source['version']}"
        say(f"fetching {source['file']} of {wanted} from {source['registry']}")
        packed = run(["npm", "pack", "--silent", wanted], "npm could not fetch the package",
                     "check the network; npm's message is above", cwd=work).split()[-1]
        with tarfile.open(work / packed) as archive:
            target.write_bytes(archive.extractfile(f"package/{source['file']}").read())
    if sha256(target.read_bytes()) != source["sha256"]:
        fail(f"{target} is not the file that models/manifest.toml names as the source",
             "delete it and run again; if it stays so, the registry's package has changed")


def is_as_listed(model, path):
    """Whether a file in models/ is the one the manifest lists."""
    content = path.read_bytes() if path.is_file() else b""
    listed = (model["bytes"], model["sha256"])
    if (len(content), sha256(content)) == listed:
        return True
    print(f"{path.relative_to(PROJECT)} is missing or not the file models/manifest.toml lists")
    return False


def replace_models(finished):
    """Replaces models in models/ and their size and checksum in the manifest: all
    are written beside first, so that a full disk changes nothing."""
    text = MANIFEST.read_text(encoding="utf-8")
    for name, content in finished.items():
        text, places = re.subn(
            rf'(\nfile = "{re.escape(name)}"\nsha256 = )"[0-9a-f]*"(\nbytes = )\d+\n',
            rf'\g<1>"{sha256(content)}"\g<2>{len(content)}\n', text,
        )
        if places != 1:
            fail(f"models/manifest.toml lists {name} {places} times in the expected form",
                 "it must have the lines file, sha256 and bytes, in this order")
    # The manifest is last: if this is interrupted, the program refuses the models.
    finished = finished | {MANIFEST.name: text.encode()}
    for name, content in finished.items():
        (MODELS / f"{name}.new").write_bytes(content)
    for name, content in finished.items():
        (MODELS / f"{name}.new").replace(MODELS / name)
        print(f"models/{name}: {len(content)} bytes, SHA-256 {sha256(content)}")


# Conversion


def convert(model, source, target):
    """Converts one network to ONNX with the manifest's names."""
    dense, raw = target.with_suffix(".dense.tflite"), target.with_suffix(".raw.onnx")
    dense.write_bytes(without_sparse_constants(source.read_bytes()))
    run([sys.executable, "-m", "tf2onnx.convert", "--tflite", dense, "--output", raw,
         "--opset", str(OPSET)], f"{source.name} could not be converted", "see above")
    tidy(model, raw, target)


def without_sparse_constants(content):
    """The same network with sparse constants written out (the converter cannot
    read them) and the operators that did so at run time removed."""
    import flatbuffers
    import numpy as np
    from tensorflow.lite.python import schema_py_generated as schema

    model = schema.ModelT.InitFromPackedBuf(content, 0)
    graph = model.subgraphs[0]
    densify = {
        i for i, code in enumerate(model.operatorCodes)
        if max(code.builtinCode, code.deprecatedBuiltinCode) == schema.BuiltinOperator.DENSIFY
    }
    kept = []
    for operator in graph.operators:
        if operator.opcodeIndex not in densify:
            kept.append(operator)
            continue
        sparse, dense = graph.tensors[operator.inputs[0]], graph.tensors[operator.outputs[0]]
        kind = np.float16 if sparse.type == schema.TensorType.FLOAT16 else np.float32
        values = np.frombuffer(bytes(model.buffers[sparse.buffer].data), dtype=kind)
        buffer = schema.BufferT()
        buffer.data = np.frombuffer(written_out(sparse, values).tobytes(), np.uint8)
        model.buffers.append(buffer)
        dense.buffer = len(model.buffers) - 1
        sparse.buffer = 0
    graph.operators = kept
    for tensor in graph.tensors:
        tensor.sparsity = None
    builder = flatbuffers.Builder(len(content))
    builder.Finish(model.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def written_out(tensor, values):
    """Dense array of a block-sparse constant (traversal order and block map, as
    the TensorFlow Lite schema defines them)."""
    import numpy as np

    shape = list(tensor.shape)
    order = list(tensor.sparsity.traversalOrder)
    levels = tensor.sparsity.dimMetadata
    blocks = [] if tensor.sparsity.blockMap is None else list(tensor.sparsity.blockMap)
    size = [1] * len(shape)
    for k, dimension in enumerate(blocks):
        size[dimension] = levels[order.index(len(shape) + k)].denseSize
    out, index, taken = np.zeros(shape, values.dtype), {}, 0

    def descend(level, position):
        nonlocal taken
        if level == len(order):
            at = [index[d] * size[d] for d in range(len(shape))]
            for k, dimension in enumerate(blocks):
                at[dimension] += index[len(shape) + k]
            out[tuple(at)] = values[taken]
            taken += 1
            return
        meta = levels[level]
        if meta.arraySegments is None:
            for i in range(meta.denseSize):
                index[order[level]] = i
                descend(level + 1, position * meta.denseSize + i)
        else:
            segments, indices = meta.arraySegments.values, meta.arrayIndices.values
            for p in range(segments[position], segments[position + 1]):
                index[order[level]] = indices[p]
                descend(level + 1, p)

    descend(0, 0)
    if taken != len(values):
        fail(f"{taken} of {len(values)} values of a sparse constant were placed",
             "its storage is not understood; this script needs a change")
    return out


def tidy(model, raw, target):
    """Gives input and outputs the manifest's names, drops what only other outputs
    need, and stores weights in 16 bits where that loses nothing."""
    import numpy as np
    import onnx
    from onnx import helper, numpy_helper

    network = onnx.load(raw)
    graph = network.graph
    renamed = {graph.input[0].name: model["input"]["name"]}
    renamed |= {output["original"]: output["name"] for output in model["outputs"]}
    for node in graph.node:
        node.input[:] = [renamed.get(name, name) for name in node.input]
        node.output[:] = [renamed.get(name, name) for name in node.output]
    del graph.input[:], graph.output[:], graph.value_info[:]
    shaped = [
        helper.make_tensor_value_info(value["name"], onnx.TensorProto.FLOAT, value["shape"])
        for value in [model["input"], *model["outputs"]]
    ]
    graph.input.append(shaped[0])
    graph.output.extend(shaped[1:])

    needed, nodes = {value.name for value in graph.output}, []
    for node in reversed(graph.node):
        if needed.intersection(node.output):
            nodes.append(node)
            needed.update(node.input)
    casts, weights = [], []
    for weight in graph.initializer:
        if weight.name not in needed:
            continue
        array = numpy_helper.to_array(weight)
        # A handful of values is not worth an operator.
        if array.dtype == np.float32 and array.size > 64:
            half = array.astype(np.float16)
            if np.array_equal(half.astype(np.float32), array):
                stored = f"{weight.name}_half"
                weights.append(numpy_helper.from_array(half, stored))
                casts.append(helper.make_node("Cast", [stored], [weight.name],
                                              to=onnx.TensorProto.FLOAT))
                continue
        weights.append(weight)
    nodes.reverse()
    del graph.node[:], graph.initializer[:]
    graph.node.extend(casts + nodes)
    graph.initializer.extend(weights)
    # In place of the converter's note, which names a folder of this machine.
    source = model["source"]
    graph.doc_string = (
        f"Converted by plumbrise from {source['file']} of {source['registry']} "
        f"{source['package']} {source['version']}, {model['licence']}"
    )
    onnx.checker.check_model(network, full_check=True)
    onnx.save(network, target)


# Comparison


def all_pictures(named, work):
    """RGB pictures to compare on, each 0..255 of height × width × 3, by kind."""
    import numpy as np
    from PIL import Image, ImageOps

    random = np.random.default_rng(SEED)
    pictures = {"random": []}
    for i in range(RANDOM_PICTURES):
        # Fine noise, and coarse patches that excite the deeper layers more.
        patches = 256 if i % 2 else 8
        noise = random.integers(0, 256, (patches, patches, 3), dtype=np.uint8)
        pictures["random"].append(np.kron(noise, np.ones((256 // patches,) * 2 + (1,), np.uint8)))

    def opened(path):
        try:
            with Image.open(path) as picture:
                return np.asarray(ImageOps.exif_transpose(picture).convert("RGB"))
        except OSError as error:
            fail(f"{path} cannot be read as a picture: {error}", "give PNG or JPEG files")

    if named:
        pictures["given"] = [opened(path) for path in named]
    else:
        golden = sorted((PROJECT / "tests" / "golden" / "pose").glob("*.png"))
        pictures["golden"] = [opened(path) for path in golden]
        with tempfile.TemporaryDirectory(dir=work) as folder:
            pictures["sample clips"] = [opened(path) for path in sample_frames(Path(folder))]
    pictures = {kind: found for kind, found in pictures.items() if found}
    say("comparing on pictures: "
        + ", ".join(f"{len(found)} {kind}" for kind, found in pictures.items()))
    return pictures


def sample_frames(folder):
    """Frames of the sample clips as files in `folder`; none without ffmpeg."""
    if shutil.which("ffmpeg") is None:
        say("ffmpeg is not on the PATH: no frames of sample-clips/ among the pictures")
        return []
    for clip in sorted((PROJECT / "sample-clips").glob("*.mp4")):
        run(["ffmpeg", "-v", "error", "-i", clip, "-vf", f"fps=1/{SECONDS_BETWEEN_FRAMES}",
             folder / f"{clip.stem}-%03d.png"], f"ffmpeg could not read {clip}", "see above")
    return sorted(folder.glob("*.png"))


def agrees(model, source, ours, pictures):
    """Whether a network agrees with its source on all pictures; prints the largest
    difference of each output, and the kind of picture that made it."""
    import numpy as np
    import onnxruntime
    from ai_edge_litert.interpreter import Interpreter

    options = onnxruntime.SessionOptions()
    options.graph_optimization_level = onnxruntime.GraphOptimizationLevel.ORT_ENABLE_ALL
    try:
        session = onnxruntime.InferenceSession(
            ours.read_bytes(), options, providers=["CPUExecutionProvider"]
        )
    except (OSError, *onnxruntime_errors()) as error:
        print(f"{model['file']} cannot be loaded: {error}")
        return False
    found = [(v.name, v.shape) for v in [*session.get_inputs(), *session.get_outputs()]]
    listed = [(v["name"], v["shape"]) for v in [model["input"], *model["outputs"]]]
    if found != listed:
        print(f"{model['file']} has {found}, models/manifest.toml lists {listed}")
        return False
    interpreter = Interpreter(model_content=source.read_bytes())
    interpreter.allocate_tensors()
    slot = interpreter.get_input_details()[0]["index"]
    tensors = {d["name"]: d["index"] for d in interpreter.get_output_details()}

    names = [output["name"] for output in model["outputs"]]
    worst = {}
    for kind, picture in ((kind, p) for kind, found in pictures.items() for p in found):
        values = NORMALISED[model["name"]](squared(picture, model["input"]["shape"][1]))
        values = values[np.newaxis].astype(np.float32)
        interpreter.set_tensor(slot, values)
        interpreter.invoke()
        results = session.run(names, {model["input"]["name"]: values})
        for output, result in zip(model["outputs"], results, strict=True):
            expected = interpreter.get_tensor(tensors[output["original"]])
            if result.shape != expected.shape:
                print(f"{output['name']} is {result.shape}, in the source {expected.shape}")
                return False
            for what, unit, part, tolerance in TOLERANCES[output["name"]]:
                difference = float(np.abs(part(result) - part(expected)).max())
                # A difference that is not a number is the worst.
                rank = np.inf if np.isnan(difference) else difference
                key = (output["name"], what, unit, tolerance)
                worst[key] = max(worst.get(key, (-1.0, 0.0, "")), (rank, difference, kind))

    print(f"\n{model['file']}: largest difference from {source.name}")
    passed = True
    for (name, what, unit, tolerance), (rank, difference, kind) in worst.items():
        within = rank <= tolerance
        passed &= within
        print(f"  {name + ', ' + what:<34} {difference:<8.2g} allowed {tolerance:<6g} {unit:<11} "
              f"({kind}){'' if within else '  TOO LARGE'}")
    sys.stdout.flush()
    return passed


def onnxruntime_errors():
    """What ONNX Runtime raises about a file it cannot load."""
    from onnxruntime.capi import onnxruntime_pybind11_state as state

    return (state.Fail, state.InvalidArgument, state.InvalidGraph, state.InvalidProtobuf,
            state.NoSuchFile, state.NotImplemented)


def squared(picture, side):
    """The whole picture in a square of `side` px, black beside it."""
    import numpy as np
    from PIL import Image, ImageOps

    fitted = ImageOps.pad(Image.fromarray(picture), (side, side), Image.Resampling.BILINEAR)
    return np.asarray(fitted, dtype=np.float64)


# Small helpers


def run(command, what, hint, cwd=None):
    """Runs a program and returns what it printed; on failure shows its errors."""
    result = subprocess.run([str(word) for word in command], cwd=cwd, capture_output=True,
                            text=True)
    if result.returncode != 0:
        print(result.stdout + result.stderr, file=sys.stderr)
        fail(what, hint)
    return result.stdout


def sha256(content):
    return hashlib.sha256(content).hexdigest()


def say(what):
    print(what, flush=True)


def fail(what, hint):
    sys.exit(f"error: {what}\nhint: {hint}")


if __name__ == "__main__":
    sys.exit(main())
