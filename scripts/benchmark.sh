#!/usr/bin/env bash
# Prints time and peak memory of assessing and judging again a sample clip, in
# release mode. For a long clip: scripts/benchmark.sh CLIP.
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build --release --locked --quiet
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
python3 - "${1:-sample-clips/drops_right.mp4}" "$work/session" <<'PYTHON'
import json, resource, subprocess, sys, time
clip, session = sys.argv[1:]
def run(*words):
    start = time.monotonic()
    subprocess.run(["target/release/plumbrise", *words], check=True, stdout=subprocess.DEVNULL)
    peak_mb = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    return time.monotonic() - start, peak_mb
seconds, peak_mb = run("assess", "--out", session, clip)
length = json.load(open(f"{session}/assessment.json"))["clip"]["duration_s"]
print(f"assess    {seconds:.1f} s for a clip of {length:.1f} s, peak {peak_mb:.0f} MB")
seconds, _ = run("reassess", session)
print(f"reassess  {seconds:.2f} s")
PYTHON
