#!/usr/bin/env bash
# Sets up, builds, and assesses a clip: one of the samples, or the one you name
# (with options of 'plumbrise assess', if any, after it).
set -euo pipefail
here=$(cd "$(dirname "$0")/.." && pwd)
"$here/scripts/prepare.sh"
cargo build --release --locked --manifest-path "$here/Cargo.toml"
if [ $# -eq 0 ]; then
    set -- "$here/sample-clips/knee_in_left.mp4" --stature 165
fi
"$here/target/release/plumbrise" assess --force "$@"
