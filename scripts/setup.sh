#!/usr/bin/env bash
# Make .venv ready: "run" for the program alone, "dev" for working on it as well.
# Nothing is done twice: the stamp in .venv names the lock that was installed.
set -euo pipefail
cd "$(dirname "$0")/.."

purpose="${1:-run}"
case "$purpose" in
    run) lock=requirements.lock ;;
    dev) lock=requirements-dev.lock ;;
    *) echo "Write: scripts/setup.sh run, or scripts/setup.sh dev" >&2; exit 2 ;;
esac

say() { printf '%s\n' "$*" >&2; }

# How to become root without asking anybody, if at all.
as_root=""
may_install=no
if command -v apt-get >/dev/null 2>&1; then
    if [ "$(id -u)" = 0 ]; then
        may_install=yes
    elif command -v sudo >/dev/null 2>&1 && sudo -n true 2>/dev/null; then
        may_install=yes
        as_root="sudo -n"
    fi
fi

lists_fresh=no
install_packages() { # names of Debian packages; false when it may not or cannot
    [ "$may_install" = yes ] || return 1
    if [ "$lists_fresh" = no ]; then
        $as_root apt-get update -qq >/dev/null || say "The package lists could not be renewed; trying with the old ones."
        lists_fresh=yes
    fi
    say "Installing: $*"
    $as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}

good_python() { # a Python of 3.11 or newer that can make a virtual environment
    "$1" -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1
}

find_python() {
    local name
    for name in ${PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11; do
        if command -v "$name" >/dev/null 2>&1 && good_python "$name"; then
            command -v "$name"
            return 0
        fi
    done
    return 1
}

make_venv() {
    if [ -x .venv/bin/python ] && .venv/bin/python -c 'import sys, pip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
        return
    fi
    local python name
    if ! python="$(find_python)"; then
        install_packages python3 python3-venv || true
        if ! python="$(find_python)"; then
            for name in 3.13 3.12 3.11; do # an older Ubuntu keeps a newer Python beside its own
                install_packages "python$name" "python$name-venv" 2>/dev/null && break
            done
            python="$(find_python)" || {
                say "Running Order needs Python 3.11 or newer with its venv module. Install it and run this again:"
                say "    sudo apt-get install python3 python3-venv"
                exit 1
            }
        fi
    fi
    "$python" -m venv --clear .venv
}

library_there() { # by the name that the loader looks for
    .venv/bin/python -c 'import ctypes, sys; ctypes.CDLL(sys.argv[1])' "$1" 2>/dev/null
}

printing_libraries() { # the letterpress behind the PDF pages
    local wanted=()
    library_there libpango-1.0.so.0 || wanted+=(libpango-1.0-0)
    library_there libpangoft2-1.0.so.0 || wanted+=(libpangoft2-1.0-0)
    library_there libharfbuzz-subset.so.0 || wanted+=(libharfbuzz-subset0)
    [ ${#wanted[@]} -gt 0 ] || return 0
    install_packages "${wanted[@]}" || {
        say "Printing will not work until these are installed; all else does:"
        say "    sudo apt-get install ${wanted[*]}"
    }
}

test_services() { # what the tests drive for real; each test that misses one says so by itself
    local wanted=()
    [ -n "$(ls /usr/lib/postgresql/*/bin/initdb 2>/dev/null)" ] || command -v initdb >/dev/null 2>&1 || wanted+=(postgresql)
    command -v redis-server >/dev/null 2>&1 || wanted+=(redis-server)
    command -v chromium >/dev/null 2>&1 || command -v chromium-browser >/dev/null 2>&1 ||
        command -v google-chrome >/dev/null 2>&1 || wanted+=(chromium)
    command -v pdftoppm >/dev/null 2>&1 || wanted+=(poppler-utils)
    [ ${#wanted[@]} -gt 0 ] || return 0
    # One at a time: a name that this release does not know must not keep the others away.
    local name missing=()
    for name in "${wanted[@]}"; do
        install_packages "$name" || missing+=("$name")
    done
    [ ${#missing[@]} -eq 0 ] || {
        say "Some tests will be reported as NOT RUN until these are installed:"
        say "    sudo apt-get install ${missing[*]}"
    }
}

make_venv
sum() { sha256sum "$1" | cut -d' ' -f1; }
stamp=.venv/installed-lock
# The working set holds all of the running set, at the same versions.
if ! grep -qsx "$(sum "$lock")" "$stamp"; then
    say "Installing the locked packages of $lock ..."
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-input --require-hashes -r "$lock"
    sum requirements.lock >"$stamp.part"
    if [ "$purpose" = dev ]; then
        sum requirements-dev.lock >>"$stamp.part"
    fi
    mv "$stamp.part" "$stamp"
fi
printing_libraries
if [ "$purpose" = dev ]; then
    test_services
fi
