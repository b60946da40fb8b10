#!/usr/bin/env bash
# Prints how long the archive's commands take with 10,000 invented sessions (or as many as
# are told), the best of five, in release mode.
set -euo pipefail
cd "$(dirname "$0")/.."
cargo build --release --locked --quiet --bin plumbrise --example archive_of_many
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
target/release/plumbrise assess --no-video --no-html --no-pdf --json \
    --out "$work/one" sample-clips/drops_right.mp4 >"$work/one.json"
python3 - "$work" "${1:-10000}" <<'PYTHON'
import json, subprocess, sys, time
work, count = sys.argv[1:]
archive = f"{work}/archive"
def timed(*words, times=5, allowed=(0,)):
    best = float("inf")
    for _ in range(times):
        start = time.monotonic()
        done = subprocess.run(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        best = min(best, time.monotonic() - start)
        if done.returncode not in allowed:
            return None, done.stderr.decode()
    return best, done.stdout.decode()
def show(name, *words, times=5):
    seconds, said = timed("target/release/plumbrise", *words, "--archive", archive, times=times)
    if seconds is None:
        print(f"{name:<24} not done: {said.splitlines()[0]}")
    else:
        print(f"{name:<24} {seconds:.3f} s")
    return said
seconds, said = timed("target/release/examples/archive_of_many", f"{work}/one", archive, count, times=1)
print(f"{'made, by the library':<24} {seconds:.1f} s, {count} sessions")
show("list", "archive", "list")
show("list --json", "archive", "list", "--json")
sessions = json.loads(show("list --person", "archive", "list", "--person", "P0042", "--json"))
show("show", "archive", "show", sessions[0]["id"])
show("trend", "trend", "P0042")
show("add", "archive", "add", f"{work}/one", "--person", "K7-M2", times=1)
show("verify", "archive", "verify", times=1)
show("erase", "archive", "erase", "P0042", "--yes", times=1)
show("backup", "archive", "backup", f"{work}/all.tar", times=1)
PYTHON
