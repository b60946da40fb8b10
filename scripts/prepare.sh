#!/usr/bin/env bash
# Installs what plumbrise needs and this machine lacks; quick when nothing is.
#   FFmpeg's development files, clang and pkg-config (Debian packages)
#   ONNX Runtime, into runtime/ of this project (from PyPI)
set -euo pipefail
cd "$(dirname "$0")/.."

onnxruntime=1.31.1
library=runtime/libonnxruntime.so

fail() { printf 'prepare: %s\nhint: %s\n' "$1" "$2" >&2; exit 1; }

command -v cargo >/dev/null || fail "Rust's cargo is not on the PATH" "install Rust 1.92 or newer from your system or rust-lang.org"
command -v python3 >/dev/null || fail "python3 was not found" "install Python 3 (only to unpack ONNX Runtime)"

missing_packages() {
    command -v cc >/dev/null || echo gcc libc6-dev
    command -v pkg-config >/dev/null || echo pkg-config
    command -v clang >/dev/null || echo clang
    ls /usr/lib/llvm-*/lib/libclang.so* >/dev/null 2>&1 || echo libclang-dev
    for library in avcodec avformat avutil swscale; do
        pkg-config --exists "lib$library" 2>/dev/null || echo "lib$library-dev"
    done
    python3 -m pip --version >/dev/null 2>&1 || [ -e "$1" ] || echo python3-pip
}

if [ "$(uname -s)" = Linux ] && command -v apt-get >/dev/null; then
    mapfile -t packages < <(missing_packages "$library" | tr ' ' '\n')
    if [ ${#packages[@]} -gt 0 ]; then
        echo "prepare: installing Debian packages: ${packages[*]}"
        root=()
        if [ "$(id -u)" -ne 0 ]; then
            command -v sudo >/dev/null || fail "packages are missing and there is neither root nor sudo" "ask an administrator to install: ${packages[*]}"
            root=(sudo)
        fi
        "${root[@]}" apt-get update -qq || fail "the package lists could not be fetched" "check the network"
        "${root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "${packages[@]}" >/dev/null ||
            fail "some packages could not be installed" "install them by hand: ${packages[*]}"
    fi
elif ! pkg-config --exists libavcodec libavformat libavutil libswscale 2>/dev/null; then
    fail "FFmpeg's development files were not found" "install FFmpeg 5.1 or newer with headers, clang and pkg-config, then run this again"
fi

if [ ! -e "$library" ]; then
    [ "$(uname -s)" = Linux ] || fail "ONNX Runtime is not in runtime/" "put the library of ONNX Runtime $onnxruntime there"
    echo "prepare: fetching ONNX Runtime $onnxruntime into runtime/"
    work=$(mktemp -d)
    trap 'rm -rf "$work"' EXIT
    python3 -m pip download -q --no-deps --only-binary=:all: -d "$work" "onnxruntime==$onnxruntime" ||
        fail "ONNX Runtime could not be fetched from PyPI" "check the network and that Python is 3.11 or newer"
    python3 -m zipfile -e "$work"/onnxruntime-*.whl "$work/wheel"
    mkdir -p runtime
    cp "$work/wheel/onnxruntime/LICENSE" runtime/ONNXRUNTIME-LICENSE
    cp "$work/wheel/onnxruntime/capi/libonnxruntime.so.$onnxruntime" "$library.new"
    mv "$library.new" "$library"
fi
echo "prepare: everything is here"
