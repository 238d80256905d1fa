# Each target sets up everything it needs (.venv, the project, Qt's system libraries) and then does its work.
PYTHON ?= python3
ifeq ($(OS),Windows_NT)
VENV_PYTHON := .venv/Scripts/python.exe
else
VENV_PYTHON := .venv/bin/python
endif

.PHONY: demo test check bench validation screens torture test-bluez set-up clean

demo: set-up            ## the station with a simulated sensor: rack screen, or headless without a display
	@$(VENV_PYTHON) -m station demo

test: set-up            ## all tests (virtual radio, offscreen screens)
	@QT_QPA_PLATFORM=offscreen OPENBLAS_NUM_THREADS=1 $(VENV_PYTHON) -m pytest \
		-n auto --dist loadfile --no-loadscope-reorder

check: set-up           ## ruff, mypy, and the core's tests with Qt and the radio absent
	@$(VENV_PYTHON) -m ruff check .
	@$(VENV_PYTHON) -m ruff format --check .
	@$(VENV_PYTHON) -m mypy
	@OPENBLAS_NUM_THREADS=1 $(VENV_PYTHON) -m pytest -n 2 --dist loadfile -p tests.without_qt_and_radio -p no:pytest-qt \
		tests/architecture tests/motion tests/squad tests/readiness tests/drivers tests/store tests/capture

bench: set-up           ## timings, as ratios in one run; the rack, a room and eight hours of the engine (minutes)
	@QT_QPA_PLATFORM=offscreen OPENBLAS_NUM_THREADS=1 $(VENV_PYTHON) -m pytest --benchmark-only --benchmark-columns=min,median,max,rounds
	@OPENBLAS_NUM_THREADS=1 $(VENV_PYTHON) -m tests.bench.rack_screen
	@OPENBLAS_NUM_THREADS=1 $(VENV_PYTHON) -m tests.bench.shared_room
	@OPENBLAS_NUM_THREADS=1 $(VENV_PYTHON) -m tests.bench.engine_memory

validation: set-up      ## accuracy figures over many simulated sets: table and plots under validation-output/
	@OPENBLAS_NUM_THREADS=1 $(VENV_PYTHON) -m tests.validation

screens: set-up         ## pictures of every screen in every state under demo-output/screens/
	@QT_QPA_PLATFORM=offscreen $(VENV_PYTHON) -m station.screens.pictures demo-output/screens
	@QT_QPA_PLATFORM=offscreen $(VENV_PYTHON) -m tests.screens.day_pictures demo-output/screens
	@QT_QPA_PLATFORM=offscreen $(VENV_PYTHON) -m tests.screens.review_pictures demo-output/screens

torture: set-up         ## sensor killed 100 times, station killed 500 times, a failing PostgreSQL: none lost (half an hour)
	@RECONNECTS=100 $(VENV_PYTHON) -m pytest tests/radio/test_torture.py
	@KILLS=500 $(VENV_PYTHON) -m pytest tests/torture

test-bluez: set-up      ## the radio tests against a real BlueZ in a small virtual machine (root, some minutes)
	@VENV_PYTHON=$(VENV_PYTHON) tests/bluez_guest/test

set-up:
	@$(PYTHON) tools/set_up.py

clean:
	rm -rf .venv demo-output validation-output .pytest_cache .mypy_cache .ruff_cache .hypothesis
