#!/usr/bin/env bash
# The checks that need no test: style, types, who may import whom, migrations, deployment settings.
set -uo pipefail
cd "$(dirname "$0")/.."
. scripts/steps.sh
. scripts/checks.sh
checks
verdict
