#!/usr/bin/env bash
# Do the tests catch errors? Changes the core in small ways, one after another (a sign, a
# comparison, a constant returned), and runs the unit tests of the same modules each time: a
# change that no test notices shows what is untested. Takes hours for all, so it is no part of
# scripts/test.sh.
#
#   scripts/mutants.sh signal statistics          # these modules
#   scripts/mutants.sh movement/kinematics --shard 0/4   # a quarter of one
#   scripts/mutants.sh signal --list              # only what would be changed
#
# Works on a copy in target/mutants/MODULES, beside the outcome, mutants.out; what was built
# is kept. --iterate passes over what was caught before. Which changes survive and why:
# scripts/mutants-survivors.md.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

modules=()
while [[ $# -gt 0 && $1 != -* ]]; do
    modules+=("$1")
    shift
done
if [[ ${#modules[@]} -eq 0 ]]; then
    modules=(signal statistics movement/repetition movement/kinematics judgement film_check)
fi
cargo mutants --version >/dev/null 2>&1 || cargo install cargo-mutants --locked

place=$PWD/target/mutants/$(IFS=-; echo "${modules[*]//\//-}")
mkdir -p "$place/tree"
rm -rf "$place/tree/src"
git ls-files -z --cached --others --exclude-standard -- . ':!sample-clips/*.mp4' ':!models/*.onnx' |
    xargs -0 cp --parents -t "$place/tree"

# These two use no other module: built alone they take a second a mutant.
alone=true
for module in "${modules[@]}"; do
    [[ $module =~ ^(signal|statistics)$ ]] || alone=false
done
if $alone; then
    printf '//! Alone.\npub mod signal;\npub mod statistics;\n' >"$place/tree/src/lib.rs"
    sed -i 's/^pub(crate) use/pub use/' "$place/tree/src/signal/mod.rs"
fi

files=() filters=()
for module in "${modules[@]}"; do
    files+=(--file "src/$module.rs" --file "src/$module/**")
    filters+=("${module//\//::}::")
done
export CARGO_TARGET_DIR=$place/build
nice -n 10 cargo mutants --dir "$place/tree" --in-place --output "$place" \
    --config scripts/mutants.toml "${files[@]}" "$@" -- -- "${filters[@]}"
