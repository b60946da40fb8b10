#!/usr/bin/env bash
# Sets up, builds, and assesses a clip: a sample, or the one you name (with options
# of 'plumbrise assess', if any, after it). A result of the same clip is replaced.
set -euo pipefail
project=$(cd "$(dirname "${BASH_SOURCE[0]}")/.." && pwd)
"$project/scripts/prepare.sh"
cargo build --release --locked --manifest-path "$project/Cargo.toml"
if [ $# -eq 0 ]; then
    set -- "$project/sample-clips/knee_in_left.mp4" --stature 165
fi
# The summary ends with the folder that holds the result.
"$project/target/release/plumbrise" assess --force "$@"
