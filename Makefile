# make demo   environment, install, and the main job from study file to exported pack
# make test   the whole test suite with linters
PYTHON ?= python3.11
VENV   := .venv
BIN    := $(VENV)/bin
READY  := $(VENV)/.ready

# A model is single-threaded: numerical libraries must not start threads of their own.
export OMP_NUM_THREADS ?= 1
export OPENBLAS_NUM_THREADS ?= 1

.PHONY: install demo test test-fast test-slow hunt lint bench accuracy lock clean
.DEFAULT_GOAL := install

$(READY): pyproject.toml requirements.lock
	command -v $(PYTHON) >/dev/null && $(PYTHON) -m venv $(VENV) || python3 -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps -e .
	touch $(READY)

install: $(READY)

demo: $(READY)
	PARETORQUE=$(BIN)/paretorque sh studies/demo.sh

lint: $(READY)
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

test: lint
	$(BIN)/python -m pytest -n 2 --dist loadfile -m "not slow and not benchmark"

test-fast: $(READY)
	$(BIN)/python -m pytest -m "not slow and not benchmark" tests/unit tests/published

test-slow: $(READY)
	$(BIN)/python -m pytest -m slow

hunt: $(READY)
	for i in 1 2 3 4 5 6 7 8 9 10; do \
	  $(BIN)/python -m pytest -q -n 2 --hypothesis-profile hunt -m "not slow" tests/property || exit 1; \
	done

bench: $(READY)
	$(BIN)/python -m tests.benchmarks

accuracy: $(READY)
	$(BIN)/python -m tests.accuracy

lock: $(READY)
	$(BIN)/python -m pip install --quiet --upgrade --editable ".[dev]"
	$(BIN)/python -m pip freeze --exclude-editable > requirements.lock

clean:
	rm -rf $(VENV) runs packs .pytest_cache .mypy_cache .ruff_cache
