#!/usr/bin/env bash
# Everything: the checks, all tests with coverage, then the database tests again on PostgreSQL.
#   QUICK=1            leaves out the second run and the slow tests
#   COVERAGE_FLOOR=95  the share of lines and branches that must be run, in 100
set -uo pipefail
cd "$(dirname "$0")/.."
. scripts/steps.sh
. scripts/checks.sh

# Two at a time: each has its own database, and both need a whole core. A file's tests stay together.
spread=(-n "${TEST_WORKERS:-2}" --dist loadfile -q)
python=.venv/bin/python
unset DATABASE_URL REDIS_URL DATA_DIR DJANGO_SETTINGS_MODULE

checks
if [ -n "${QUICK:-}" ]; then
    step "tests" $python -m pytest "${spread[@]}" -m "not slow"
    verdict
fi
rm -f .coverage .coverage.*
step "tests" $python -m pytest "${spread[@]}" --cov --cov-report=
step "coverage" $python -m coverage report --skip-covered --skip-empty --fail-under="${COVERAGE_FLOOR:-95}"
step "coverage of the engine" $python -m coverage report --include='readiness/engine/*' --skip-covered --fail-under=100
step "database tests on PostgreSQL" $python -m tests.plugins.servers postgres -- \
    pytest "${spread[@]}" --database-only -m "not browser and not slow and not prints"
verdict
