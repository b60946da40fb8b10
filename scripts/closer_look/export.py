"""Stores the weights of a trained closer look in 16 bits: export.py TRAINED.onnx OUT.onnx

What is computed stays in 32 bits; each stored weight is cast when the network is loaded.
"""

import sys

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper


def main():
    model = onnx.load(sys.argv[1])
    graph = model.graph
    casts, stored = [], []
    for weight in list(graph.initializer):
        array = numpy_helper.to_array(weight)
        if array.dtype != np.float32 or array.size < 64:
            stored.append(weight)
            continue
        name = f"{weight.name}_16"
        stored.append(numpy_helper.from_array(array.astype(np.float16), name))
        casts.append(helper.make_node("Cast", [name], [weight.name], to=TensorProto.FLOAT))
    nodes = casts + list(graph.node)
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend(stored)
    graph.node.extend(nodes)
    onnx.checker.check_model(model)
    onnx.save(model, sys.argv[2])


if __name__ == "__main__":
    main()
