# Two commands set everything up by themselves: make demo, make test.
PYTHON ?= python3
WORKERS ?= 2
VENV := .venv
BIN := $(VENV)/bin
DEMO := build/demo
EXAMPLE ?= raw_water_main

.PHONY: demo test quick check lint examples bench clean office

demo: $(VENV)/.run
	@mkdir -p $(DEMO)
	@cp examples/$(EXAMPLE).xlsx $(DEMO)/$(EXAMPLE).xlsx
	@$(BIN)/estimator estimate $(DEMO)/$(EXAMPLE).xlsx
	@echo "Open $(DEMO)/$(EXAMPLE).xlsx in a spreadsheet program: begin with Checks, Bid, Plan, Equipment and Options."

test: $(VENV)/.dev office
	$(BIN)/python -m pytest -n $(WORKERS) $(PYTEST_OPTIONS)

quick: $(VENV)/.dev
	$(BIN)/python -m pytest -n $(WORKERS) -m quick $(PYTEST_OPTIONS)

lint: $(VENV)/.dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

check: lint test

examples: $(VENV)/.run
	$(BIN)/python -m workbook_template build-examples examples

bench: $(VENV)/.dev
	$(BIN)/python -m pytest benchmarks -o addopts="" --benchmark-only

# LibreOffice recalculates and shows the workbooks in the tests; without it those tests skip.
office:
	@sh .ci/install-office

PIP := $(BIN)/python -m pip --disable-pip-version-check install --quiet
LOG := $(VENV)/install.log
# What pip and its helpers print is shown only when they fail.
define install
	@$(PIP) $(1) >$(LOG) 2>&1 || { cat $(LOG); exit 1; }
endef

$(VENV)/bin/python:
	@echo "Setting up Python in $(VENV), about a minute the first time"
	@$(PYTHON) -m venv $(VENV)

$(VENV)/.run: $(VENV)/bin/python constraints/run.txt pyproject.toml
	$(call install,--require-hashes -r constraints/run.txt)
	$(call install,--no-deps --no-build-isolation -e .)
	@touch $@

$(VENV)/.dev: $(VENV)/.run constraints/dev.txt constraints/tables.txt
	$(call install,--require-hashes -r constraints/dev.txt)
	$(call install,--require-hashes --no-deps -r constraints/tables.txt)
	@touch $@

clean:
	rm -rf $(VENV) build .pytest_cache .mypy_cache .ruff_cache .hypothesis
