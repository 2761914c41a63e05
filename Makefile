# Three commands for a newcomer: `make demo`, `make start` and `make test`. They need Python and make alone.
PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV ?= .venv
BIN := $(VENV)/bin
PORT ?= 8000
# How often the tests of faults kill a backup or restore at a random moment; TRIES=20 for the long run.
TRIES ?= 3
# Anything but 0: property tests draw all their examples, and the tests that take longest run too.
THOROUGH ?= 0
# How often the line of a phone is cut at a random point; CUTS=1000 for the long run.
CUTS ?= 30
# How long every address is asked whatever can be sent, and where that begins.
MINUTES ?= 10
SEED ?= 1
# Python keeps what it compiled, whatever it is told outside: a suite starts dozens of processes.
unexport PYTHONDONTWRITEBYTECODE

.DEFAULT_GOAL := help
.PHONY: help install demo start test long faults fuzz check bench format guide words lock pictures clean

help:
	@echo "make demo   install, load the demo portfolio, serve it on port $(PORT) until Ctrl-C"
	@echo "make start  install, serve a book of your own, empty at first, until Ctrl-C"
	@echo "make test   install, run the tests; THOROUGH=1 with every example and the long ones, as CI does"
	@echo "make long   measure which tests are left to THOROUGH=1, and write their list"
	@echo "make faults kill workers, stop servers, and count what comes of it; TRIES=20 and CUTS=1000 for the long run"
	@echo "make fuzz   every address as every person, with whatever can be sent; MINUTES=$(MINUTES) SEED=$(SEED)"
	@echo "make check  format, lint, types, insecure code, known flaws, import direction, migrations, deploy check"
	@echo "make bench  measure, as ratios in one run"
	@echo "make guide  write the kinds of record and the rules into DEVELOPERS.md"
	@echo "make words  find the texts of the code, bring the catalogues under locale/ up to date, compile them"
	@echo "make install, make format, make lock, make pictures, make clean"

# pip installs the installer, which does the rest in a fifth of pip's time. Where it finds no registry,
# since only pip was told of one, pip goes on.
PIP := $(BIN)/pip install --quiet --disable-pip-version-check --require-hashes --no-deps -r
UV := $(BIN)/uv pip install --quiet --python $(BIN)/python --require-hashes --no-deps -r

$(VENV)/.python: requirements-installer.txt
	@$(PYTHON) -c 'import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 14))' || \
	  { echo "Python 3.11 to 3.14 is needed; set PYTHON to one, for example: make PYTHON=/usr/bin/python3.11"; exit 1; }
	@$(PYTHON) -c 'import sys; v = sys.version_info[:2]; v != (3, 11) and print("This is Python %d.%d; Riserbook is tested on 3.11." % v)'
	$(PYTHON) -m venv $(VENV)
	$(PIP) $<
	@touch $@

$(VENV)/.runtime: requirements.txt $(VENV)/.python
	$(UV) $< || $(PIP) $<
	@touch $@

$(VENV)/.dev: requirements-dev.txt $(VENV)/.python
	$(UV) $< || $(PIP) $<
	@touch $@

install: $(VENV)/.runtime

# The invented portfolio has a folder of its own, so that it never mixes with yours.
demo: export RISERBOOK_VAR_DIR ?= var/demo
demo: $(VENV)/.runtime
	$(BIN)/python manage.py demo --port $(PORT)

start: $(VENV)/.runtime
	$(BIN)/python manage.py start --port $(PORT)

test: $(VENV)/.dev
	THOROUGH=$(THOROUGH) $(BIN)/pytest -n 2 --dist worksteal $(PYTEST_ARGS)

# Which tests take longest, and are left to THOROUGH=1: measured by a whole run without a browser.
long: $(VENV)/.dev
	THOROUGH=1 $(BIN)/pytest -n 2 --dist worksteal -q -m "not browser" --junitxml=var/long.xml
	$(BIN)/python -m tests.effort var/long.xml

faults: $(VENV)/.dev
	TRIES=$(TRIES) CUTS=$(CUTS) $(BIN)/pytest -n 2 tests/faults

fuzz: $(VENV)/.dev
	MINUTES=$(MINUTES) SEED=$(SEED) $(BIN)/pytest -n 0 -p no:randomly tests/fuzz

TEMPLATES := registry/templates scheduling/templates reports/templates
check: $(VENV)/.dev
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/djhtml --check --tabwidth 2 $(TEMPLATES)
	$(BIN)/djlint --lint --quiet $(TEMPLATES)
	$(BIN)/lint-imports
	$(BIN)/mypy
	$(BIN)/bandit --quiet --recursive --configfile pyproject.toml config registry scheduling reports
	$(BIN)/python -m tests.known_flaws
	$(BIN)/python manage.py makemigrations --check --dry-run
	PUBLIC_URL=https://book.averhythe.example SECRET_KEY=$$($(BIN)/python -c 'import secrets; print(secrets.token_urlsafe(64))') \
	  $(BIN)/python manage.py check --deploy --fail-level WARNING

bench: $(VENV)/.dev
	$(BIN)/python -m tests.benchmarks

format: $(VENV)/.dev
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .
	$(BIN)/djhtml --tabwidth 2 $(TEMPLATES)

guide: $(VENV)/.dev
	$(BIN)/python manage.py guide --write
	$(BIN)/python manage.py guide_rules --write

words: $(VENV)/.dev
	$(BIN)/python manage.py words

LOCK := $(BIN)/uv pip compile --quiet --generate-hashes --no-emit-index-url --no-header --universal --python-version 3.11
lock: $(VENV)/.dev
	$(LOCK) pyproject.toml -o requirements.txt
	$(LOCK) pyproject.toml --extra dev -o requirements-dev.txt
	$(LOCK) --group installer -o requirements-installer.txt
	@! grep -nE 'https?://|file:' requirements*.txt

pictures: $(VENV)/.dev
	$(BIN)/python -m tests.browser.screenshots

clean:
	rm -rf $(VENV) var static-built .pytest_cache .mypy_cache .ruff_cache .hypothesis
