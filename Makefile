# The one way to set up, try and test Longlace. Needs nothing but make and a Python 3.11 or newer.
PYTHON ?= python3
VENV   ?= .venv
SHOWS  ?= 10000
WHOLE  ?= 300
KILLS  ?= 200
REPORTS ?= build/reports
PYTHONS ?= python3.12 python3.13
BIN    := $(VENV)/bin
PIP     = $(BIN)/python -m pip install -qq --disable-pip-version-check
# -m is used instead of the scripts in bin, so that a checkout that was moved still works.
PYTEST  = $(BIN)/python -m pytest
LOCK    = $(BIN)/python -m uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header $(if $(UPGRADE),--upgrade)

.DEFAULT_GOAL := help
.PHONY: help demo test test-fast test-long campaign full marked whole mutants same bench lint format lock pictures snapshots clean
.PHONY: kills reports soak
.DELETE_ON_ERROR:

help:  ## this list
	@echo "make TARGET [PYTHON=python3.12]"
	@sed -n 's/^\([a-z-]*\):.*##/  \1:/p' $(MAKEFILE_LIST)

demo: $(VENV)/.run  ## rehearse the built-in show on simulated machines
	@$(BIN)/python -m interlock.cli rehearse

test: lint  ## everything that must hold before a change goes in
	$(PYTEST) -n 2 -m "not realtime and not long"
	$(PYTEST) -m "realtime and not long"

test-fast: $(VENV)/.dev  ## the tests that need no real time
	$(PYTEST) -n 2 -m "not realtime and not long"

test-long: $(VENV)/.dev  ## the campaigns: minutes, not seconds
	$(PYTEST) -m long

campaign: $(VENV)/.dev  ## seeded shows through the desk, against what truly happened (SHOWS=10000)
	$(BIN)/python -m tests.campaign --shows $(SHOWS)

full: $(VENV)/.dev  ## a hundred of full length
	$(BIN)/python -m tests.campaign --full --shows 100

marked: $(VENV)/.dev  ## machines without counters, and crews that mark splices (SHOWS=10000)
	$(BIN)/python -m tests.campaign --marked --shows $(SHOWS)

whole: $(VENV)/.dev  ## the same through serial lines, bus and record, in virtual time (WHOLE=300)
	$(BIN)/python -m tests.campaign --whole --shows $(WHOLE)

soak: $(VENV)/.dev  ## four hours of sixteen houses with the board attached: is the memory flat? (six minutes)
	$(BIN)/python -m tests.tui.soak

mutants: $(VENV)/.dev  ## bugs planted in the desk, each of which the campaign must find
	$(BIN)/python -m tests.campaign.mutants

kills: $(VENV)/.dev  ## kill -9 of rehearsals at random moments: each record is looked at (KILLS=200)
	$(BIN)/python -m tests.incident.kills --times $(KILLS)

reports: $(VENV)/.dev  ## rehearsed incidents with a report each, to be read with fresh eyes (REPORTS=build/reports)
	$(BIN)/python -m tests.incident.stories $(REPORTS)

same: $(VENV)/.dev  ## other Pythons give the same lines (PYTHONS="python3.12 python3.13")
	$(BIN)/python -m tests.campaign.same $(PYTHONS)

bench: $(VENV)/.bench  ## how fast it is, beside its peers; writes docs/benchmarks.md
	$(BIN)/python -m benchmarks

lint: $(VENV)/.dev  ## formatting, mistakes, types, and who may import whom
	$(BIN)/python -m ruff format --check --quiet .
	$(BIN)/python -m ruff check --quiet .
	$(BIN)/python -m mypy
	$(BIN)/lint-imports --no-cache

format: $(VENV)/.dev  ## put code into the one form
	$(BIN)/python -m ruff format .
	$(BIN)/python -m ruff check --fix .

lock: $(VENV)/.dev  ## write requirements*.txt anew from pyproject.toml (UPGRADE=1: newest versions)
	$(LOCK) pyproject.toml --all-extras --group dev --output-file requirements-dev.txt
	$(LOCK) pyproject.toml --constraint requirements-dev.txt --output-file requirements.txt
	$(LOCK) --group build --constraint requirements-dev.txt --output-file requirements-build.txt
	$(LOCK) --group bench --constraint requirements-dev.txt --output-file requirements-bench.txt

pictures: $(VENV)/.dev  ## draw the pictures of docs/pictures anew
	$(BIN)/python -m tui.pictures docs/pictures

snapshots: $(VENV)/.dev  ## draw the pictures of tests/tui/snapshots anew, and build/snapshots.html to look at them
	$(BIN)/python tests/tui/snapshot_cases.py

clean:  ## away with the environment and all that was made
	rm -rf $(VENV) build dist .mypy_cache .ruff_cache .pytest_cache .import_linter_cache .hypothesis

# Two steps in one environment: what runs the program, and on top of it what tests it. Each is done again only when
# what it was made from has changed.
$(VENV)/.run: requirements.txt requirements-build.txt pyproject.toml .ci/venv
	@sh .ci/venv "$(PYTHON)" "$(VENV)"
	@echo "Setting up $(VENV) (once, and again when the requirements change) …"
	@$(PIP) --require-hashes -r requirements-build.txt -r requirements.txt
	@$(PIP) --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.dev: $(VENV)/.run requirements-dev.txt
	@echo "Setting up what the tests need …"
	@$(PIP) --require-hashes -r requirements-dev.txt
	@touch $@

$(VENV)/.bench: $(VENV)/.dev requirements-bench.txt
	@echo "Setting up what is measured against …"
	@$(PIP) --require-hashes -r requirements-bench.txt
	@touch $@
