# Two commands do everything on a fresh machine with git, make and Python 3.11 or newer:
#   make demo    make an environment, install, review the demo repository, say where the page is
#   make test    make an environment, install, run the tests
PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV ?= .venv
BIN = $(VENV)/bin
PIP = $(BIN)/python -m pip --disable-pip-version-check --quiet
DEMO ?= demo

.PHONY: demo test test-all lint format lock clean

demo: $(VENV)/.runtime
	@$(BIN)/reviewbot demo --out $(DEMO); status=$$?; [ $$status -le 1 ] || exit $$status; \
	[ $$status -eq 0 ] || echo "Exit status 1 is right here: the demo's faults are planted, and were found."

test: $(VENV)/.testing
	$(BIN)/python -m pytest -m "not slow" -n auto

test-all: $(VENV)/.testing
	$(BIN)/python -m pytest -n auto

lint: $(VENV)/.testing
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/zizmor --offline --no-progress .github docs/examples/github docs/examples/gitea

format: $(VENV)/.testing
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/.runtime: requirements.txt requirements-build.txt pyproject.toml | $(BIN)/python
	$(PIP) install --require-hashes -r requirements.txt -r requirements-build.txt
	$(PIP) install --no-deps --no-build-isolation --editable .
	@# pip compiles what it copies; what is used where it lies would be compiled at every start, where
	@# Python is told to write no byte code.
	$(BIN)/python -m compileall -q reviewbot
	$(BIN)/python -m reviewbot.report.page
	@touch $@

$(VENV)/.testing: requirements-test.txt $(VENV)/.runtime
	$(PIP) install --require-hashes -r requirements-test.txt
	@touch $@

# Versions and hashes, no addresses: a fresh install next year gives the same.
COMPILE = $(BIN)/uv pip compile --quiet --universal --generate-hashes --no-emit-index-url --no-header --python-version 3.11
lock: | $(BIN)/python
	$(PIP) install uv
	$(COMPILE) pyproject.toml -o requirements.txt
	$(COMPILE) pyproject.toml --all-extras -c requirements.txt -o requirements-test.txt
	$(COMPILE) pyproject.toml --extra fbx --extra usd -c requirements.txt -o .github/actions/requirements.txt
	echo "setuptools>=77" | $(COMPILE) - -o requirements-build.txt

clean:
	rm -rf $(VENV) $(DEMO) build *.egg-info
