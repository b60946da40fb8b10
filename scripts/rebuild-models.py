#!/usr/bin/env python3
"""Rebuild models/ from the registry package and check the numbers.

    python3 scripts/rebuild-models.py [--work DIR]

Makes a virtual environment with pinned versions in DIR (default: a temporary
folder), fetches the npm package with `npm pack`, converts its two TensorFlow
Lite networks to ONNX, compares both with the original interpreter, and only
then replaces the files in models/ and their checksums in models/manifest.toml.
Rebuilds may differ in bytes; what counts is the comparison.

Needs Python 3.11, npm and the registries.
"""
import argparse
import hashlib
import os
import pathlib
import re
import subprocess
import sys
import tarfile
import tempfile
import venv

PACKAGE = "@mediapipe/pose@0.5.1675469404"
PINS = ["tensorflow-cpu==2.15.1", "tf2onnx==1.17.0", "onnx==1.16.2", "numpy<2",
        "ai-edge-litert==2.3.0", "onnxruntime==1.31.1"]
MODELS = pathlib.Path(__file__).resolve().parent.parent / "models"
# Name, file in the package, and our names for its outputs (the rest is dropped).
NETWORKS = {
    "pose_detector": ("pose_solution_packed_assets.data",
                      {"Identity": "boxes", "Identity_1": "scores"}),
    "pose_landmarks_heavy": ("pose_landmark_heavy.tflite",
                             {"Identity": "landmarks", "Identity_1": "presence",
                              "Identity_3": "heatmap", "Identity_4": "world_landmarks"}),
}
# Largest difference allowed, in the output's own unit. Both run in 32-bit
# floats on the same 16-bit weights; only the order of sums differs.
TOLERANCE = {"boxes": 0.05, "scores": 0.05, "landmarks": 0.1, "presence": 1e-3,
             "heatmap": 0.05, "world_landmarks": 1e-3}


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--work", type=pathlib.Path)
    arguments = parser.parse_args()
    if os.environ.get("PLUMBRISE_REBUILD_INSIDE"):
        return convert_all(arguments.work)
    work = (arguments.work or pathlib.Path(tempfile.mkdtemp())).resolve()
    work.mkdir(parents=True, exist_ok=True)
    python = work / "venv" / "bin" / "python"
    if not python.exists():
        print(f"making a virtual environment in {work}")
        venv.create(work / "venv", with_pip=True)
        subprocess.run([python, "-m", "pip", "install", "-q", *PINS], check=True)
    if not (work / "package").exists():
        print(f"fetching {PACKAGE}")
        name = subprocess.run(["npm", "pack", "--silent", PACKAGE], cwd=work, check=True,
                              capture_output=True, text=True).stdout.split()[-1]
        with tarfile.open(work / name) as archive:
            archive.extractall(work)
    environment = dict(os.environ, PLUMBRISE_REBUILD_INSIDE="1", TF_CPP_MIN_LOG_LEVEL="3")
    return subprocess.run([python, __file__, "--work", str(work)], env=environment).returncode


def convert_all(work):
    done = {}
    for name, (source, outputs) in NETWORKS.items():
        original = work / "package" / source
        dense = work / f"{name}.tflite"
        dense.write_bytes(without_sparse_constants(original.read_bytes()))
        converted = work / f"{name}.raw.onnx"
        subprocess.run([sys.executable, "-m", "tf2onnx.convert", "--tflite", dense, "--output",
                        converted, "--opset", "17"], check=True, capture_output=True)
        finished = work / f"{name}.onnx"
        tidy(converted, finished, outputs)
        if not agrees(name, original, finished):
            print("models/ was left as it is", file=sys.stderr)
            return 1
        done[name] = finished.read_bytes()
    manifest = (MODELS / "manifest.toml").read_text()
    for name, content in done.items():
        digest = hashlib.sha256(content).hexdigest()
        manifest = re.sub(rf'(file = "{name}\.onnx"\nsha256 = ")[0-9a-f]*(")',
                          rf"\g<1>{digest}\g<2>", manifest)
        manifest = re.sub(rf'({digest}"\nbytes = )\d+', rf"\g<1>{len(content)}", manifest)
        replace(MODELS / f"{name}.onnx", content)
        print(f"models/{name}.onnx  {len(content)} bytes  sha256 {digest}")
    replace(MODELS / "manifest.toml", manifest.encode())
    return 0


def replace(path, content):
    beside = path.with_suffix(path.suffix + ".new")
    beside.write_bytes(content)
    beside.replace(path)


def without_sparse_constants(content):
    """The same network with sparse constants written out (the converter cannot
    read them) and the operators that did so at run time removed."""
    import flatbuffers
    import numpy as np
    from tensorflow.lite.python import schema_py_generated as schema

    model = schema.ModelT.InitFromPackedBuf(content, 0)
    graph = model.subgraphs[0]
    densify = {i for i, c in enumerate(model.operatorCodes)
               if max(c.builtinCode, c.deprecatedBuiltinCode) == schema.BuiltinOperator.DENSIFY}
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
    builder = flatbuffers.Builder(1 << 22)
    builder.Finish(model.Pack(builder), b"TFL3")
    return bytes(builder.Output())


def written_out(tensor, values):
    """Dense array of a block-sparse constant (traversal order + block map, as
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
    assert taken == len(values), "not every value of a sparse constant was placed"
    return out


def tidy(source, target, outputs):
    """Our names, unused outputs dropped, and weights stored in 16 bits where
    that loses nothing (they come in 16 bits)."""
    import numpy as np
    import onnx
    from onnx import helper, numpy_helper

    model = onnx.load(source)
    graph = model.graph
    names = {graph.input[0].name: "picture", **outputs}
    kept = [o for o in graph.output if o.name in outputs]
    del graph.output[:]
    graph.output.extend(kept)
    for node in graph.node:
        for ends in (node.input, node.output):
            for i, name in enumerate(ends):
                ends[i] = names.get(name, name)
    for value in [*graph.input, *graph.output]:
        value.name = names[value.name]
    del graph.value_info[:]
    needed, nodes = {o.name for o in graph.output}, []
    for node in reversed(list(graph.node)):
        if any(o in needed for o in node.output):
            nodes.insert(0, node)
            needed.update(node.input)
    casts, weights = [], []
    for weight in [w for w in graph.initializer if w.name in needed]:
        array = numpy_helper.to_array(weight)
        half = array.astype(np.float16) if array.dtype == np.float32 else None
        if half is not None and array.size > 64 and np.array_equal(half.astype(np.float32), array):
            weights.append(numpy_helper.from_array(half, weight.name + "_half"))
            casts.append(helper.make_node("Cast", [weight.name + "_half"], [weight.name],
                                          to=onnx.TensorProto.FLOAT))
        else:
            weights.append(weight)
    del graph.node[:], graph.initializer[:]
    graph.node.extend(casts + nodes)
    graph.initializer.extend(weights)
    onnx.checker.check_model(model)
    onnx.save(model, target)


def agrees(name, original, converted):
    """Compares both networks on seeded pictures; prints the largest difference
    of each output."""
    import numpy as np
    import onnxruntime
    from ai_edge_litert.interpreter import Interpreter

    session = onnxruntime.InferenceSession(str(converted))
    interpreter = Interpreter(model_content=original.read_bytes())
    interpreter.allocate_tensors()
    slot = interpreter.get_input_details()[0]
    details = {tuple(d["shape"]): d["index"] for d in interpreter.get_output_details()}
    random = np.random.default_rng(7)
    names = [o.name for o in session.get_outputs()]
    worst = dict.fromkeys(names, 0.0)
    side = slot["shape"][1]
    for _ in range(8):
        coarse = random.random((1, 9, 9, 3))
        picture = np.kron(coarse, np.ones((1, 29, 29, 1)))[:, :side, :side].astype(np.float32)
        interpreter.set_tensor(slot["index"], picture)
        interpreter.invoke()
        for output, found in zip(names, session.run(None, {"picture": picture})):
            expected = interpreter.get_tensor(details[tuple(found.shape)])
            worst[output] = max(worst[output], float(np.abs(found - expected).max()))
    good = True
    for output, difference in worst.items():
        within = difference <= TOLERANCE[output]
        good &= within
        print(f"{name} {output}: largest difference {difference:.2g}, "
              f"allowed {TOLERANCE[output]} {'' if within else '  TOO LARGE'}")
    return good


if __name__ == "__main__":
    sys.exit(main())
