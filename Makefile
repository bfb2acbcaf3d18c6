# Every target sets up what it needs. See README.md for the two commands that matter.
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.DEFAULT_GOAL := run
.PHONY: run test check oracles bench trials soak pictures lock format clean

PY := .venv/bin/python
PIP_FLAGS := --quiet --disable-pip-version-check --no-input

.venv/.made:
	@tools/debian python3-venv
	@python3 -m venv .venv
	@touch $@

.venv/.run: .venv/.made requirements/run.txt pyproject.toml
	@echo "setting up .venv (first time: about a minute)" >&2
	@$(PY) -m pip install $(PIP_FLAGS) --require-hashes -r requirements/run.txt
	@$(PY) -m pip install $(PIP_FLAGS) --no-deps --no-build-isolation --editable .
	@$(PY) -m compileall -q src .venv/lib || true
	@$(PY) -c "from fanwright.virtual.air import warm; warm()"
	@$(PY) -m fanwright.evidence.recording.warm
	@touch $@

.venv/.test: .venv/.run requirements/test.txt
	@$(PY) -m pip install $(PIP_FLAGS) --require-hashes -r requirements/test.txt
	@touch $@

.venv-oracles/.made: requirements/oracles.txt
	@tools/debian python3-venv
	@python3 -m venv .venv-oracles
	@.venv-oracles/bin/python -m pip install $(PIP_FLAGS) --require-hashes -r requirements/oracles.txt
	@touch $@

run: .venv/.run
	@tools/show-demo

check: .venv/.test
	@.venv/bin/ruff format --check --quiet .
	@.venv/bin/ruff check --quiet .
	@.venv/bin/mypy
	@.venv/bin/lint-imports
	@$(PY) tools/check_docs.py

test: .venv/.test
	@tools/debian chromium poppler-utils postgresql
	@$(MAKE) --no-print-directory check
	@$(PY) -m pytest

oracles: .venv-oracles/.made
	@PYTHONPATH=src .venv-oracles/bin/python -m pytest -p no:cacheprovider oracles

bench: .venv/.test
	@$(PY) bench/run.py

trials: .venv/.test
	@OPENBLAS_NUM_THREADS=1 $(PY) trials/diagnosis.py
	@$(PY) trials/life.py
	@OPENBLAS_NUM_THREADS=1 $(PY) trials/identify.py
	@tools/mutate

soak: .venv/.test
	@FANWRIGHT_SOAK=1 $(PY) -m pytest tests/property tests/records/test_kill_rig.py

pictures: .venv/.test
	@tools/debian chromium poppler-utils
	@tools/pictures
	@tools/screens

format: .venv/.test
	@.venv/bin/ruff format --quiet .
	@.venv/bin/ruff check --quiet --fix .

# Rewrites the lock files from the .in files; the addresses of registries never enter them.
lock: .venv/.made
	@$(PY) -m pip install $(PIP_FLAGS) uv
	@for name in run test oracles; do \
	  .venv/bin/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	    --no-emit-index-url --no-emit-find-links --no-header --no-annotate \
	    requirements/$$name.in --output-file requirements/$$name.txt; done
	@! grep -n '://' requirements/*.txt

clean:
	@rm -rf .venv .venv-oracles build out mutants src/*.egg-info
