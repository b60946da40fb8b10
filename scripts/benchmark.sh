#!/usr/bin/env bash
# Prints time and peak memory of checking, assessing and judging again a sample clip, and of
# four clips one after the other and two at a time, in release mode. For a long clip: scripts/benchmark.sh CLIP.
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
alone = ["--no-video", "--no-html", "--no-pdf"]
seconds, _ = run("check", clip)
print(f"check     {seconds:.1f} s")
seconds, _ = run("assess", *alone, "--out", session, clip)
print(f"assess    {seconds:.1f} s, without reports")
seconds, peak_mb = run("assess", "--force", "--out", session, clip)
length = json.load(open(f"{session}/assessment.json"))["clip"]["duration_s"]
print(f"assess    {seconds:.1f} s, with all reports, peak {peak_mb:.0f} MB")
seconds, _ = run("reassess", *alone, session)
print(f"reassess  {seconds:.2f} s, without reports")
seconds, _ = run("reassess", "--no-video", session)
print(f"reassess  {seconds:.2f} s, with page and paper")
print(f"for a clip of {length:.1f} s")
four = [f"sample-clips/yaw_{name}.mp4" for name in ("minus_5", "minus_10", "plus_5", "plus_10")]
for jobs in "1", "2":
    seconds, _ = run("assess", "--jobs", jobs, "--out", f"{session}s-{jobs}", *four)
    print(f"assess    {seconds:.1f} s, four clips of 10 s with all reports, {jobs} at a time")
PYTHON
