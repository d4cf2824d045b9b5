# Two commands set everything up by themselves: make demo, make test.
PYTHON ?= python3
WORKERS ?= 2
VENV := .venv
BIN := $(VENV)/bin
DEMO := build/demo
EXAMPLE ?= raw_water_main

# An environment whose Python has gone, as after an update of the system, is made anew.
ifneq ($(wildcard $(VENV)),)
ifneq ($(shell $(BIN)/python -c "import pip; print('works')" 2>/dev/null),works)
$(info The Python in $(VENV) does not work: setting it up anew)
$(shell rm -rf $(VENV))
endif
endif
NEEDED := needs Python 3.11 or later, found %d.%d: name another, as in make PYTHON=python3.12
CHECK := import sys; sys.exit(0 if sys.version_info >= (3, 11) else '$(NEEDED)' % sys.version_info[:2])

.PHONY: demo test quick near mutants check lint examples kit bench clean office site pictures
# What has been compiled is kept, whatever the caller's setting: pip leaves that to the first use.
unexport PYTHONDONTWRITEBYTECODE

demo: $(VENV)/.run
	@mkdir -p $(DEMO)
	@cp examples/$(EXAMPLE).xlsx $(DEMO)/$(EXAMPLE).xlsx
	@$(BIN)/python -m estimator estimate $(DEMO)/$(EXAMPLE).xlsx
ifeq ($(EXAMPLE),under_way)
	@$(BIN)/python -m estimator status $(DEMO)/$(EXAMPLE).xlsx --date 2027-03-26
	@echo "Open $(DEMO)/$(EXAMPLE).xlsx in a spreadsheet program: begin with Status, Joint log and Daily record."
else
	@echo "Open $(DEMO)/$(EXAMPLE).xlsx in a spreadsheet program: begin with Checks, Bid, Plan, Equipment and Options."
endif

test: $(VENV)/.dev office
	$(BIN)/python -m pytest -n $(WORKERS) $(PYTEST_OPTIONS)

quick: $(VENV)/.dev
	$(BIN)/python -m pytest -n $(WORKERS) -m quick $(PYTEST_OPTIONS)

near: $(VENV)/.dev
	$(BIN)/python -m tests.mutation.nearest $(MODULES)

mutants: $(VENV)/.dev
	$(BIN)/python -m tests.mutation $(MUTANTS)

lint: $(VENV)/.tools
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

# Lint and types need less than the tests: they run beside the rest of the set-up and the first tests.
check:
	@$(MAKE) --no-print-directory -j2 lint test

examples: $(VENV)/.run
	$(BIN)/python -m workbook_template build-examples examples

# What is handed to an office: a folder and a zip file per system; KIT=windows-x64 for one.
kit: $(VENV)/.dev
	$(BIN)/python -m release_kit $(KIT)

# Measures and writes the table of docs/performance.md; some ten minutes.
bench: $(VENV)/.dev
	$(BIN)/python -m benchmarks

# The documentation as a site in build/site, to open in any browser; any warning stops it.
site: $(VENV)/.dev
	@NO_MKDOCS_2_WARNING=1 $(BIN)/python -m mkdocs build --quiet --strict
	@echo "Open build/site/index.html; with search: $(BIN)/python -m http.server -d build/site"

# The pictures of the gallery, from the examples; LibreOffice prints them.
pictures: $(VENV)/.dev office
	$(BIN)/python -m site_pages.pictures

# LibreOffice recalculates and shows the workbooks in the tests; without it those tests skip.
office:
	@sh .ci/install-office

PIP := $(BIN)/python -m pip --disable-pip-version-check install --quiet --no-compile
# What pip and its helpers print is shown only when they fail.
define install
	@$(PIP) $(1) >$@.log 2>&1 || { cat $@.log; exit 1; }
endef

$(VENV)/bin/python:
	@$(PYTHON) -c "$(CHECK)"
	@echo "Setting up Python in $(VENV), about a minute the first time"
	@$(PYTHON) -m venv $(VENV)

$(VENV)/.run: $(VENV)/bin/python constraints/excel.txt pyproject.toml
	$(call install,--require-hashes -r constraints/excel.txt)
	$(call install,--no-deps --no-build-isolation -e .)
	@touch $@

# The lists are whole: nothing is looked for besides. What needs no other list is made beside it.
$(VENV)/.tools: $(VENV)/bin/python constraints/dev.txt
	$(call install,--require-hashes --no-deps -r constraints/dev.txt)
	@touch $@

$(VENV)/.notebook: $(VENV)/bin/python constraints/notebook.txt
	$(call install,--require-hashes --no-deps --upgrade --target $(VENV)/notebook -r constraints/notebook.txt)
	@touch $@

$(VENV)/.site: $(VENV)/.tools constraints/site.txt constraints/tables.txt
	$(call install,--require-hashes --no-deps -r constraints/site.txt -r constraints/tables.txt)
	@touch $@

.SECONDARY: $(VENV)/.tools $(VENV)/.notebook $(VENV)/.site
$(VENV)/.dev: $(VENV)/.tools $(VENV)/.notebook $(VENV)/.site constraints/excel.txt pyproject.toml
	$(call install,--no-deps --no-build-isolation -e .)
	@touch $(VENV)/.run $@

clean:
	rm -rf $(VENV) build .pytest_cache .mypy_cache .ruff_cache .hypothesis
