#!/usr/bin/env bash
# Installs what plumbrise needs and this machine lacks; quick when nothing is.
#   FFmpeg's development files, clang, a C compiler, pkg-config (Debian packages)
#   ONNX Runtime, into runtime/ of this project (from PyPI)
#   with --tests also what only the tests need: poppler-utils, which reads PDF, chromium
#   with node and npm, which open the page, dcmtk and the Python packages of
#   tests/readers.txt in .venv-readers/ (0.6 GB), which read the exports, and strace,
#   which sees what the program asks of the system
# On other systems than Debian and its kin it only says what is missing.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

# The last release that holds no client that reports on its user to its maker: those from
# 1.29 on write an identity of the user and look up a host as soon as they are loaded.
onnxruntime=1.28.0
for_tests=false
[ "${1:-}" != --tests ] || for_tests=true
case "$(uname -s)" in
Darwin) library=runtime/libonnxruntime.dylib ;;
*) library=runtime/libonnxruntime.so ;;
esac

say() { printf 'prepare: %s\n' "$1"; }
fail() {
    printf 'prepare: %s\nhint: %s\n' "$1" "$2" >&2
    exit 1
}

check_rust() {
    local wanted found
    wanted=$(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml)
    command -v cargo >/dev/null ||
        fail "Rust's cargo is not on the PATH" \
            "install Rust $wanted or newer (rustup.rs); if it is installed: . \"\$HOME/.cargo/env\""
    found=$(cargo --version | cut -d' ' -f2)
    [ "$(printf '%s\n' "$wanted" "$found" | sort -V | head -n 1)" = "$wanted" ] ||
        fail "Rust $found is too old, $wanted or newer is needed" "rustup update"
}

c_compiler_works() { echo '#include <stdio.h>' | cc -E - >/dev/null 2>&1; }

# The places where bindgen, which reads FFmpeg's headers, looks for libclang.
libclang_is_here() {
    local folder
    [ -z "${LIBCLANG_PATH:-}" ] || return 0
    for folder in '/usr/lib/llvm*/lib' '/usr/lib*' '/usr/lib/*-linux-gnu' \
        /opt/homebrew/opt/llvm/lib /Library/Developer/CommandLineTools/usr/lib; do
        if compgen -G "$folder/libclang.so*" || compgen -G "$folder/libclang-[0-9]*.so*" ||
            compgen -G "$folder/libclang.dylib"; then
            return 0
        fi
    done >/dev/null
    return 1
}

# Prints the names of the missing Debian packages, a line each.
missing_packages() {
    local part
    c_compiler_works || printf '%s\n' gcc libc6-dev
    command -v pkg-config >/dev/null || echo pkg-config
    command -v clang >/dev/null || echo clang
    libclang_is_here || echo libclang-dev
    for part in avcodec avformat avutil swscale; do
        pkg-config --exists "lib$part" 2>/dev/null || echo "lib$part-dev"
    done
    if $for_tests; then
        command -v pdftotext >/dev/null || echo poppler-utils
        command -v chromium >/dev/null || echo chromium
        command -v npm >/dev/null || printf "%s\n" nodejs npm
        command -v dcm2pdf >/dev/null || echo dcmtk
        [ "$(uname -s)" != Linux ] || command -v strace >/dev/null || echo strace
        command -v python3 >/dev/null || echo python3
        python3 -c 'import ensurepip, venv' 2>/dev/null || echo python3-venv
    fi
    if ! library_is_here && [ "$(uname -s)" = Linux ]; then
        command -v python3 >/dev/null || echo python3
        python3 -m pip --version >/dev/null 2>&1 || echo python3-pip
    fi
}

install_packages() {
    local as_root=()
    if [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null ||
            fail "Debian packages are missing, and this is neither root nor is there sudo" \
                "ask an administrator for: apt-get install $*"
        as_root=(sudo)
    fi
    say "installing from Debian, to read video, to build and to test: $*"
    "${as_root[@]}" apt-get update -qq ||
        fail "the package lists could not be fetched" "check the network and /etc/apt/sources.list"
    "${as_root[@]}" env DEBIAN_FRONTEND=noninteractive \
        apt-get install -y -qq --no-install-recommends "$@" >/dev/null ||
        fail "some packages could not be installed" "see above; then: apt-get install $*"
}

# SHA-256 of the library, where it is known.
checksum_for() {
    case "$1" in
    x86_64) echo aa4079d18f4ea7a5f3a94d80cd4bbe0f2740436626622d64d793803a20381083 ;;
    aarch64) echo 23a37c2994bc273e1d59a4f49af6cba5bf1cfbc29f04907ec27df375aba50a7d ;;
    esac
}

# The library in runtime/ is the expected one; where that is not known, one that does not
# report. An earlier version of this script put another there.
library_is_here() {
    local wanted
    [ -e "$library" ] || return 1
    wanted=
    [ "$(uname -s)" != Linux ] || wanted=$(checksum_for "$(uname -m)")
    if [ -n "$wanted" ]; then
        echo "$wanted  $library" | sha256sum --check --status
    else
        ! grep -qaF events.data.microsoft.com "$library"
    fi
}

install_onnxruntime() {
    local wanted unpacked
    say "fetching ONNX Runtime $onnxruntime from PyPI into runtime/, to run the pose network (18 MB)"
    work=$(mktemp -d)
    trap 'rm -rf "$work"' EXIT
    # The library in the package is the same for every Python; naming one lets
    # any Python fetch it.
    python3 -m pip --disable-pip-version-check download -q --no-deps --only-binary=:all: \
        --implementation cp --python-version 3.12 --abi cp312 \
        -d "$work" "onnxruntime==$onnxruntime" ||
        fail "ONNX Runtime $onnxruntime could not be fetched from PyPI" \
            "check the network; behind a mirror set PIP_INDEX_URL; or put the library of its package at $library yourself"
    python3 -m zipfile -e "$work"/onnxruntime-*.whl "$work/wheel"
    unpacked=$work/wheel/onnxruntime/capi/libonnxruntime.so.$onnxruntime
    wanted=$(checksum_for "$(uname -m)")
    if [ -n "$wanted" ]; then
        echo "$wanted  $unpacked" | sha256sum --check --status ||
            fail "the fetched ONNX Runtime is not the expected file" \
                "fetch again; if it stays so, do not use that registry"
    else
        [ -n "$(find "$unpacked" -size +10M 2>/dev/null)" ] ||
            fail "the fetched package does not hold ONNX Runtime" "put the library at $library yourself"
    fi
    mkdir -p runtime
    cp "$work/wheel/onnxruntime/LICENSE" runtime/ONNXRUNTIME-LICENSE
    # Beside, then renamed: the library is there whole or not at all.
    cp "$unpacked" "$library.new"
    mv "$library.new" "$library"
}

# The list that was installed is kept beside the packages, so that a second time is quick.
install_readers() {
    local list=tests/readers.txt folder=.venv-readers
    cmp -s "$list" "$folder/installed.txt" && return
    say "fetching the readers of the exports from PyPI into $folder/, for the tests (0.2 GB)"
    rm -rf "$folder"
    python3 -m venv "$folder"
    "$folder/bin/python" -m pip --disable-pip-version-check install -q --only-binary=:all: \
        -r "$list" ||
        fail "the readers of $list could not be installed" \
            "check the network; they need Python 3.11 or newer; behind a mirror set PIP_INDEX_URL"
    cp "$list" "$folder/installed.txt"
}

check_rust
packages=()
for package in $(missing_packages); do
    packages+=("$package")
done
if [ "$(uname -s)" = Linux ] && command -v apt-get >/dev/null; then
    [ ${#packages[@]} -eq 0 ] || install_packages "${packages[@]}"
elif [ ${#packages[@]} -gt 0 ]; then
    fail "missing, by the names of Debian's packages: ${packages[*]}" \
        "install FFmpeg with headers, clang with libclang, a C compiler and pkg-config (for the tests also poppler's tools), then run this again"
fi
if ! library_is_here; then
    [ "$(uname -s)" = Linux ] ||
        fail "ONNX Runtime is not there, or one that reports to its maker" \
            "put the library of ONNX Runtime $onnxruntime at $library"
    [ ! -e "$library" ] || say "the ONNX Runtime in runtime/ is not $onnxruntime; it is replaced"
    install_onnxruntime
fi
! $for_tests || install_readers
say "everything is here"
