#!/usr/bin/env bash
# Sets up and passes all checks and tests. The tests come last, so that their
# result is what one reads at the end.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
scripts/prepare.sh --tests
scripts/deny.sh
cargo build --release --locked
if cargo fmt --version >/dev/null 2>&1; then
    cargo fmt --check
else
    echo "test: rustfmt is not installed, layout not checked"
fi
if cargo clippy --version >/dev/null 2>&1; then
    cargo clippy --release --all-targets --locked -- -D warnings
else
    echo "test: clippy is not installed, lints not checked"
fi
scripts/features.sh
cargo test --release --locked
