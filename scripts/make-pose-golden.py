#!/usr/bin/env python3
"""Golden numbers for the pose stage, from the reference pipeline itself.

Runs the graph that ships with the Python package mediapipe (the pipeline of
the network's authors) on each PNG in tests/golden/pose/ and writes what it
says at every stage to a JSON file of the same name; then lets its anchor
calculator list the detector's anchors and writes anchors.json. It creates or
changes nothing else. tests/golden/pose/README.md explains the fields.

How to run, here with Python 3.11:

    python3.11 -m venv VENV
    VENV/bin/pip install mediapipe==0.10.21 numpy==1.26.4 \\
        opencv-contrib-python==4.11.0.86 protobuf==4.25.9
    npm pack @mediapipe/pose@0.5.1675469404   # then unpack the archive
    VENV/bin/python scripts/make-pose-golden.py \\
        --heavy package/pose_landmark_heavy.tflite

The wheel holds the detector but not the heavy landmark network (the package
would fetch that while running), hence --heavy. The script points the graph's
own model path at that file after checking its SHA-256.

How it stays the reference and not an imitation: every number is a packet of
the graph, only brought from shares of the picture to pixels. Settings are
those of single pictures: nothing carried over from an earlier picture, no
smoothing. The low-pass filter in front of `next_region` cannot be switched
off, but it passes its first sample unchanged, and each picture has a graph of
its own. The anchors never leave the graph as such; they are read from
detections decoded with a scale so large that a box's offset from its anchor
vanishes.
"""

import argparse
import hashlib
import json
import math
import re
import sys
from pathlib import Path

import cv2
import mediapipe
import numpy as np
from google.protobuf import json_format
from mediapipe.calculators.core.constant_side_packet_calculator_pb2 import (
    ConstantSidePacketCalculatorOptions,
)
from mediapipe.calculators.tensor.tensors_to_detections_calculator_pb2 import (
    TensorsToDetectionsCalculatorOptions,
)
from mediapipe.calculators.tflite.ssd_anchors_calculator_pb2 import SsdAnchorsCalculatorOptions
from mediapipe.framework import calculator_pb2
from mediapipe.python import packet_creator, packet_getter
from mediapipe.python._framework_bindings import resource_util
from mediapipe.python._framework_bindings.calculator_graph import CalculatorGraph
from mediapipe.python._framework_bindings.image_frame import ImageFormat
from mediapipe.python._framework_bindings.validated_graph_config import ValidatedGraphConfig

VERSION = "0.10.21"
HEAVY_SHA256 = "59e42d71bcd44cbdbabc419f0ff76686595fd265419566bd4009ef703ea8e1fe"
GRAPH = "mediapipe/modules/pose_landmark/pose_landmark_cpu.binarypb"
HEAVY_IN_GRAPH = "mediapipe/modules/pose_landmark/pose_landmark_heavy.tflite"
GOLDEN = Path(__file__).resolve().parent.parent / "tests" / "golden" / "pose"

# Names of streams in the graph once its parts are put in place.
PROBABILITY = (
    "poselandmarkbyroicpu__tensorstoposelandmarksandsegmentation__pose_presence_score"
)
DETECTION = "pose_detection"
REGION = "pose_rect_from_detection"
LANDMARKS = "pose_landmarks"
WORLD = "pose_world_landmarks"
NEXT_REGION = "pose_rect_from_landmarks"
ALL_DETECTIONS = "posedetectioncpu__unfiltered_detections"

# The detector's part of the graph as far as its boxes, still in the square.
ANCHOR_NODES = (
    "ImageToTensorCalculator",
    "SsdAnchorsCalculator",
    "InferenceCalculatorCpu",
    "TensorsToDetectionsCalculator",
)

SETTINGS = {
    "model_complexity": packet_creator.create_int(2),
    "use_prev_landmarks": packet_creator.create_bool(False),
    "smooth_landmarks": packet_creator.create_bool(False),
    "enable_segmentation": packet_creator.create_bool(False),
    "smooth_segmentation": packet_creator.create_bool(False),
}

# Divided by this, an offset of the network is lost beside an anchor's
# coordinates in single precision.
VANISHING_SCALE = 1e20
LISTED_AT_EACH_END = 12
LISTED_EVERY = 97


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument(
        "--heavy", required=True, type=Path, metavar="FILE.tflite",
        help="pose_landmark_heavy.tflite of the npm package @mediapipe/pose",
    )
    heavy = parser.parse_args().heavy.resolve()
    if mediapipe.__version__ != VERSION:
        sys.exit(f"mediapipe is {mediapipe.__version__}, the golden numbers are of {VERSION}")
    if hashlib.sha256(heavy.read_bytes()).hexdigest() != HEAVY_SHA256:
        sys.exit(f"{heavy} is not the network the golden numbers are of")

    package = Path(mediapipe.__file__).parent.parent
    resource_util.set_resource_dir(str(package))
    shipped = shipped_graph(package / GRAPH)
    for png in sorted(GOLDEN.glob("*.png")):
        picture = cv2.cvtColor(cv2.imread(str(png), cv2.IMREAD_COLOR), cv2.COLOR_BGR2RGB)
        write(png.with_suffix(".json"), stages(with_model(shipped, heavy), picture, png.name))
    write(GOLDEN / "anchors.json", anchors(shipped))


def shipped_graph(path):
    """The package's pose graph with all its parts put in place."""
    validated = ValidatedGraphConfig()
    validated.initialize(binary_graph_path=str(path))
    return calculator_pb2.CalculatorGraphConfig.FromString(validated.binary_config)


def with_model(shipped, heavy):
    """A copy of the graph that reads the heavy network from `heavy`."""
    graph = calculator_pb2.CalculatorGraphConfig()
    graph.CopyFrom(shipped)
    places = 0
    for node in graph.node:
        constants = node.options.Extensions[ConstantSidePacketCalculatorOptions.ext]
        for packet in constants.packet if node.calculator == "ConstantSidePacketCalculator" else []:
            if packet.string_value == HEAVY_IN_GRAPH:
                packet.string_value = str(heavy)
                places += 1
    if places != 1:
        sys.exit(f"the graph names {HEAVY_IN_GRAPH} {places} times, once was expected")
    return graph


def run(config, picture, settings, streams):
    """The packets that `streams` carry for one RGB picture, by stream."""
    graph = CalculatorGraph(graph_config=config)
    packets = {}
    for stream in streams:
        graph.observe_output_stream(stream, packets.__setitem__)
    graph.start_run(settings)
    frame = packet_creator.create_image_frame(
        image_format=ImageFormat.SRGB, data=np.ascontiguousarray(picture)
    )
    graph.add_packet_to_input_stream("image", frame.at(0))
    graph.close_all_packet_sources()
    graph.wait_until_done()
    missing = sorted(set(streams) - set(packets))
    if missing:
        sys.exit(f"the graph said nothing on {missing}: is there a person in the picture?")
    return packets


def stages(graph, picture, name):
    """What the reference says about one picture, stage by stage."""
    height, width = picture.shape[:2]
    size = (width, height)
    streams = (DETECTION, REGION, PROBABILITY, LANDMARKS, WORLD, NEXT_REGION)
    packets = run(graph, picture, SETTINGS, streams)
    found = packet_getter.get_proto(packets[DETECTION])
    box = found.location_data.relative_bounding_box
    return {
        "picture": {"file": name, "width_px": width, "height_px": height},
        "detection": {
            "score": number(found.score[0]),
            "box": [
                number(box.xmin + box.width / 2),
                number(box.ymin + box.height / 2),
                number(box.width),
                number(box.height),
            ],
            "keypoints": [
                [number(k.x), number(k.y)] for k in found.location_data.relative_keypoints
            ],
        },
        "region": region_px(packet_getter.get_proto(packets[REGION]), size),
        "person_probability": number(packet_getter.get_float(packets[PROBABILITY])),
        "landmarks": [
            [
                number(p.x * width),
                number(p.y * height),
                # The reference measures depth in picture widths.
                number(p.z * width),
                number(p.visibility),
                number(p.presence),
            ]
            for p in packet_getter.get_proto(packets[LANDMARKS]).landmark
        ],
        "world_landmarks": [
            [number(p.x), number(p.y), number(p.z)]
            for p in packet_getter.get_proto(packets[WORLD]).landmark
        ],
        "next_region": region_px(packet_getter.get_proto(packets[NEXT_REGION]), size),
    }


def region_px(rect, size):
    """A region of the graph, which is in shares of the picture, in pixels."""
    width, height = size
    if abs(rect.width * width - rect.height * height) > 1e-3:
        sys.exit("a region of the reference is not square")
    return {
        "centre_px": [number(rect.x_center * width), number(rect.y_center * height)],
        "side_px": number(rect.width * width),
        "rotation_rad": number(rect.rotation),
    }


def anchors(shipped):
    """The detector's anchors in the order of its output."""
    graph = calculator_pb2.CalculatorGraphConfig(input_stream=["image"])
    for node in shipped.node:
        if not node.name.startswith("posedetectioncpu__") or node.calculator not in ANCHOR_NODES:
            continue
        copy = graph.node.add()
        copy.CopyFrom(node)
        if node.calculator == "ImageToTensorCalculator":
            copy.input_stream[:] = ["IMAGE:image"]
        if node.calculator == "SsdAnchorsCalculator":
            options = node.options.Extensions[SsdAnchorsCalculatorOptions.ext]
        if node.calculator == "TensorsToDetectionsCalculator":
            decoding = copy.options.Extensions[TensorsToDetectionsCalculatorOptions.ext]
            decoding.x_scale = decoding.y_scale = VANISHING_SCALE
            decoding.w_scale = decoding.h_scale = VANISHING_SCALE
            # exp(0) = 1: the box then has the size of its anchor.
            decoding.apply_exponential_on_box_size = True
            decoding.min_score_thresh = 0.0
    blank = np.zeros((224, 224, 3), np.uint8)
    packets = run(graph, blank, {}, [ALL_DETECTIONS])
    boxes = [d.location_data for d in packet_getter.get_proto_list(packets[ALL_DETECTIONS])]
    points = [(b.relative_keypoints[0].x, b.relative_keypoints[0].y) for b in boxes]
    if any(
        (k.x, k.y) != point for b, point in zip(boxes, points) for k in b.relative_keypoints
    ):
        sys.exit("key points of one anchor differ: the scale did not make offsets vanish")
    sizes = {
        (round(b.relative_bounding_box.width, 5), round(b.relative_bounding_box.height, 5))
        for b in boxes
    }
    listed = [[number(x), number(y)] for x, y in points]
    return {
        "options": json_format.MessageToDict(options, preserving_proto_field_name=True),
        "count": len(points),
        "sizes": sorted(sizes),
        "sum_x": number(math.fsum(x for x, _ in points)),
        "sum_y": number(math.fsum(y for _, y in points)),
        "first": listed[:LISTED_AT_EACH_END],
        "last": listed[-LISTED_AT_EACH_END:],
        "every": LISTED_EVERY,
        "samples": listed[::LISTED_EVERY],
    }


def number(value):
    """Seven decimals, far below every tolerance."""
    return round(value, 7)


def write(path, content):
    """JSON with each list of plain numbers on one line, so that changes can be read."""
    text = json.dumps(content, indent=1)
    text = re.sub(
        r"\[\s+([^\[\]{}]*?)\s+\]", lambda m: f"[{' '.join(m[1].split())}]", text
    )
    path.write_text(text + "\n", encoding="utf-8")
    print(path.relative_to(GOLDEN.parent.parent.parent), path.stat().st_size, "bytes")


if __name__ == "__main__":
    main()
