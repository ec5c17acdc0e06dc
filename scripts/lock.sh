#!/usr/bin/env bash
# Pin every package with its hashes: requirements.lock to run, requirements-dev.lock to work on the program.
# Neither records where a package came from. UPGRADE=1 takes newer versions.
set -euo pipefail
cd "$(dirname "$0")/.."

options=(--quiet --generate-hashes --no-emit-index-url --no-annotate --universal --python-version 3.11
    --custom-compile-command "make lock")
if [ -n "${UPGRADE:-}" ]; then
    options+=(--upgrade)
fi
.venv/bin/uv pip compile pyproject.toml "${options[@]}" -o requirements.lock
.venv/bin/uv pip compile pyproject.toml --group dev -c requirements.lock "${options[@]}" -o requirements-dev.lock
