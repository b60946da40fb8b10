#!/usr/bin/env bash
# Checks each sensible choice of features, without a warning where clippy is there. They share
# what is compiled.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
check=(cargo check --release --locked)
strict=()
if cargo clippy --version >/dev/null 2>&1; then
    check=(cargo clippy --release --locked)
    strict=(-- -D warnings)
fi
# The core must build with neither FFmpeg nor ONNX Runtime; then each feature by itself, and
# the command without some or all of what it can do without (with all of it is the default).
for features in \
    "" video network archive parquet paper dicom \
    cli cli,parquet cli,paper; do
    echo "features: ${features:-none}"
    "${check[@]}" --no-default-features --features "$features" "${strict[@]}"
done
