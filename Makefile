# Running Order. `make` alone lists what there is.
.DEFAULT_GOAL := help
SHELL := /bin/bash
.PHONY: help demo run setup test lint format lock bench shots clean
python := .venv/bin/python
export PORT HOST

help: ## list these targets
	@grep -E '^[a-z]+:.*## ' Makefile | sed -E 's/^([a-z]+):.*## /\1\t/' | expand -t 10

demo: ## an invented museum on this machine: installs what it needs, then serves until Ctrl-C
	@scripts/setup.sh run
	@$(python) scripts/run.py --demo

run: ## your own museum on this machine, empty at first
	@scripts/setup.sh run
	@$(python) scripts/run.py

setup: ## everything needed to work on the program
	@scripts/setup.sh dev

test: setup ## all checks and all tests
	@scripts/test.sh

lint: setup ## the checks without the tests
	@scripts/lint.sh

format: setup ## lay out the code as the checks want it
	@$(python) -m ruff check --fix-only --quiet .
	@$(python) -m ruff format .

lock: setup ## pin the packages anew (UPGRADE=1 takes newer versions)
	@scripts/lock.sh

bench: setup ## measure speed and plan quality
	@set -e; for name in engine seasons which_part phone; do echo "== bench/$$name.py"; $(python) -m "bench.$$name"; done

shots: setup ## pictures of every screen and print, into shots/
	@$(python) scripts/shots.py

clean: ## remove what the tools leave behind; data/ stays
	@rm -rf .venv .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache .coverage* htmlcov shots
	@find . -name __pycache__ -type d -prune -exec rm -rf {} +
