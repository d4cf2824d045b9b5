# Two commands set everything up by themselves: make demo, make test.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
DEMO := build/demo
EXAMPLE ?= raw_water_main

.PHONY: demo test check lint examples bench clean office

demo: $(VENV)/.run
	@mkdir -p $(DEMO)
	@cp examples/$(EXAMPLE).xlsx $(DEMO)/$(EXAMPLE).xlsx
	@$(BIN)/estimator estimate $(DEMO)/$(EXAMPLE).xlsx
	@echo "Open $(DEMO)/$(EXAMPLE).xlsx in a spreadsheet program: sheets Joints, Plan, Equipment, Cost, Bid, Checks."

test: $(VENV)/.dev office
	$(BIN)/python -m pytest $(PYTEST_OPTIONS)

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

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run: $(VENV)/bin/python constraints/run.txt pyproject.toml
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r constraints/run.txt
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/.dev: $(VENV)/.run constraints/dev.txt constraints/tables.txt
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r constraints/dev.txt
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes --no-deps -r constraints/tables.txt
	@touch $@

clean:
	rm -rf $(VENV) build .pytest_cache .mypy_cache .ruff_cache .hypothesis
