# One place for every command: `make demo` and `make test` do all their own set-up.
PYTHON ?= python3
VENV := .venv
ifeq ($(OS),Windows_NT)
BIN := $(VENV)/Scripts
else
BIN := $(VENV)/bin
endif
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt
DEMO := schedules/alder-row.toml

.PHONY: demo test node check docs bench bench-many truth torture smoke clean
.DEFAULT_GOAL := demo

$(VENV)/made:
	$(PYTHON) -m venv $(VENV)
	@touch $@

$(VENV)/for-use: $(VENV)/made pyproject.toml constraints.txt
	$(PIP) -e '.[all]'
	$(BIN)/python -m compileall -q src
	@touch $@

$(VENV)/for-work: $(VENV)/for-use
	$(PIP) -e '.[all,test,check]'
	@touch $@

demo: $(VENV)/for-use ## Plan a demo site for a year and show the result
	$(BIN)/daylatch plan $(DEMO) --year 2027

# Tests start the program hundreds of times, and rewriting their asserts takes seconds: byte code is
# kept. Each worker begins with one half of the tests, so that what a module's tests share is made
# once, and takes from the other's when it is done.
test: export PYTHONDONTWRITEBYTECODE :=
test: $(VENV)/for-work node ## Run all tests; the last lines say which programs they lacked
	$(BIN)/python -m pytest -n 2 --dist worksteal

# The second reader of calendar files. Without npm, or if it fails, the tests say what is untested.
NODE := tests/peers/node
node: $(if $(shell command -v npm),$(NODE)/node_modules/made)

$(NODE)/node_modules/made: $(NODE)/package-lock.json
	npm ci --prefix $(NODE) --ignore-scripts --no-audit --no-fund --silent && touch $@ \
		|| echo "npm ci failed in $(NODE)"

check: $(VENV)/for-work ## Format, lint, types, and whether generated files are current
	$(BIN)/ruff format --check src tests tools bench
	$(BIN)/ruff check src tests tools bench
	$(BIN)/mypy
	$(BIN)/python tools/generate.py --check

docs: $(VENV)/for-work ## Make the generated pages, pictures and demo plans anew
	$(BIN)/python tools/generate.py

smoke: ## Install a copy as a keeper would, and compare what it prints
	$(PYTHON) -m venv --clear build/smoke
	build/smoke/bin/python -m pip install --quiet --disable-pip-version-check -c constraints.txt .
	build/smoke/bin/daylatch plan $(DEMO) --year 2027 | cmp - schedules/alder-row-2027.txt
	@echo "the installed copy prints the demo plan"

bench: $(VENV)/for-work ## Measure the goals as ratios, each beside its peer
	$(BIN)/python bench/bench_sun.py
	$(BIN)/python bench/bench_plan.py
	$(BIN)/python bench/bench_due.py
	$(BIN)/python bench/bench_nights.py
	$(BIN)/python bench/bench_skyline.py
	$(BIN)/python bench/bench_timers.py
	$(BIN)/python bench/bench_table.py
	$(BIN)/python bench/bench_sync.py
	$(BIN)/python bench/bench_diary.py
	$(BIN)/python bench/bench_audit.py
	$(BIN)/python bench/bench_roosting.py
	$(BIN)/python bench/bench_power.py
	$(BIN)/python bench/bench_home.py
	$(BIN)/python bench/bench_check.py
	$(BIN)/python bench/bench_many.py

# SITES=50000 takes a twentieth of the time.
SITES := 1000000
bench-many: $(VENV)/for-work ## Plan a million houses into a dataset, and measure time and memory
	$(BIN)/python bench/bench_many.py --sites $(SITES)

# SITE_DAYS=10000000 compares more of them; OPTIONS="--count 50 --seed 2" tortures otherwise.
SITE_DAYS := 5000000
truth: export PYTHONPATH := tests
truth: $(VENV)/for-work ## Compare the Sun with a JPL ephemeris for millions of random site-days
	$(BIN)/python -m reference.compare_at_large --site-days $(SITE_DAYS)

torture: export PYTHONPATH := tests
torture: $(VENV)/for-work ## What is too long for the tests: kills, hostile files, mutated tables
	$(BIN)/python -m torture.kills_of_files $(OPTIONS)
	$(BIN)/python -m torture.kills_of_sync $(OPTIONS)
	$(BIN)/python -m torture.kills_of_diary $(OPTIONS)
	$(BIN)/python -m torture.shared_diary $(OPTIONS)
	$(BIN)/python -m torture.kills_of_watch $(OPTIONS)
	$(BIN)/python -m torture.hostile_site_files $(OPTIONS)
	$(BIN)/python -m torture.mutated_tables $(OPTIONS)

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis build dist $(NODE)/node_modules
