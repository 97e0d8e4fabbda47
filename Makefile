# The README's two commands are `make demo` and `make test`; everything else is here for those who change things.
SHELL := /bin/bash
PYTHON ?= $(shell for p in python3 python3.13 python3.12 python3.11; do $$p -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null && { echo $$p; break; }; done)
UV_VERSION := 0.13.9
BIN := .venv/bin
HALL ?= demo-hall
PORT ?= 8750
export UV_PYTHON_DOWNLOADS := never
export UV_PROJECT_ENVIRONMENT := .venv
unexport PYTHONDONTWRITEBYTECODE   # each of the hundreds of starts would translate SciPy anew

.PHONY: venv dev demo test soak bench lint types layers format fast clean
venv: .venv/.ok
dev: .venv/.dev

# Two stamps: what the product needs, and what its tests need on top.
.venv/.ok: uv.lock pyproject.toml
	@test -n "$(PYTHON)" || { echo "Brinehouse needs Python 3.11 or newer: on Debian, apt-get install python3 python3-venv"; exit 1; }
	@$(PYTHON) -c 'import ensurepip' 2>/dev/null || { echo "Python's venv module is missing: on Debian, apt-get install python3-venv"; exit 1; }
	@test -x $(BIN)/python || $(PYTHON) -m venv .venv
	@$(BIN)/pip install --quiet --disable-pip-version-check uv==$(UV_VERSION) 2>/dev/null; \
	  $(BIN)/uv sync --quiet --locked --inexact --no-dev 2>/dev/null || $(call by-pip,requirements.lock)
	@echo "compiling what tells the time in hand: about a minute, once"
	@$(BIN)/brinehouse warm
	@touch $@

.venv/.dev: .venv/.ok
	@$(BIN)/uv sync --quiet --locked --inexact 2>/dev/null || $(call by-pip,requirements-dev.lock)
	@touch $@

define by-pip
{ echo "uv could not be had or did not finish: installing the same locked versions with pip"; \
  $(BIN)/pip install --quiet --disable-pip-version-check --require-hashes --requirement $(1) && \
  $(BIN)/pip install --quiet --disable-pip-version-check --no-deps --editable .; }
endef

demo: venv
	@$(BIN)/brinehouse demo $(HALL) --port $(PORT) $(if $(filter 0,$(SERVE)),--no-serve)

test: dev lint types layers
	$(BIN)/python -m pytest -n 2 --dist worksteal

fast: dev                            # the tests without a browser, without kills
	$(BIN)/python -m pytest -n 2 --dist worksteal -m "not part" --ignore=tests/faults

soak: dev                            # long runs: hundreds of seeds, thousands of rebuilt disks
	$(BIN)/python -m pytest -n 2 --dist worksteal -m soak --run-soak

bench: dev
	$(BIN)/python -m benchmarks

lint: dev
	@$(BIN)/ruff format --check --quiet . && $(BIN)/ruff check --quiet .

format: dev
	@$(BIN)/ruff format . && $(BIN)/ruff check --fix .

types: dev
	@$(BIN)/pyright --warnings

layers: dev
	@$(BIN)/lint-imports --no-cache

clean:
	rm -rf .venv build dist demo-hall .coverage*
