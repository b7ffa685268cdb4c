# `make demo` and `make test` set up all they need in .venv; nothing outside this folder is touched.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
READY := $(VENV)/ready

.PHONY: demo test second oldest coverage prove faults arm64 bench check lock clean pictures install-system
.DEFAULT_GOAL := test

$(READY): requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Tether needs Python 3.11 or newer; this is %s. Name another with: make PYTHON=python3.12" % sys.version.split()[0])'
	@echo "This sets up the environment in $(VENV), once; it takes some minutes. What is being fetched is named as it comes."
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --disable-pip-version-check --require-hashes -r requirements.lock
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $(READY)
	@echo "The environment in $(VENV) is ready."

demo: $(READY)  ## run a ladder on the simulated body
	$(BIN)/tether rehearse profiles/plans/demo.toml --pace 60 --answer-for-me

test: $(READY) check  ## the tests that need nothing but Python, in minutes
	$(BIN)/python -m pytest -q -n 4 --dist loadfile --no-loadscope-reorder -m "not prove"

second: ## the tests on a second Python, in a folder of its own: make second PYTHON=python3.13
	$(MAKE) VENV=.venv-second .venv-second/ready
	.venv-second/bin/python -m pytest -q -n 4 --dist loadfile --no-loadscope-reorder -m "not prove"

oldest: ## the tests with the oldest dependencies that pyproject.toml allows, in a folder of their own
	$(PYTHON) -m venv .venv-oldest
	.venv-oldest/bin/python -m pip install --quiet --disable-pip-version-check uv
	.venv-oldest/bin/uv pip install --quiet --python .venv-oldest/bin/python --resolution lowest-direct -e .
	.venv-oldest/bin/uv pip install --quiet --python .venv-oldest/bin/python --group dev
	.venv-oldest/bin/python -m pytest -q -n 4 --dist loadfile --no-loadscope-reorder -m "not prove"

coverage: $(READY)  ## which lines the tests run
	$(BIN)/python -m pytest -q -n 4 --dist loadfile --no-loadscope-reorder -m "not prove" --cov=tether --cov-report=term

RECORDING := .cache/recordings/canon-powershot-sx200.ioctl

$(RECORDING): tests/usb/fetch_recording.sh
	tests/usb/fetch_recording.sh $(@D)
	@touch $@

prove: $(READY) $(RECORDING)  ## the tests that need system packages, and the long stories
	$(BIN)/python -m pytest -q -n 4 --dist loadfile --no-loadscope-reorder -m prove

faults: $(READY)  ## the fault matrix, as much as fits into 40 minutes; all of it: python -m tests.faults.matrix --all
	$(BIN)/python -m tests.faults.matrix

arm64: $(READY)  ## wheels, ladders and unit tests on an emulated 64-bit ARM Debian (it says what it needs)
	tests/arm64.sh $(BIN)/python

bench: $(READY)  ## the measurements
	$(BIN)/python -m tests.bench.bench_start
	$(BIN)/python -m tests.bench.bench_plan
	$(BIN)/python -m tests.bench.bench_hold
	$(BIN)/python -m tests.bench.bench_faces
	$(BIN)/python -m tests.bench.bench_desk
	$(BIN)/python -m tests.bench.bench_memory
	$(BIN)/python -m tests.bench.bench_long
	$(BIN)/python -m tests.bench.bench_wire
	$(BIN)/python -m tests.bench.bench_readings
	$(BIN)/python -m tests.bench.bench_choosing
	$(BIN)/python -m tests.bench.bench_average

check: $(READY)  ## lint, format, types, order of rooms
	$(BIN)/ruff check tether tests
	$(BIN)/ruff format --check tether tests
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/vulture

lock:  ## pin the dependencies anew
	$(BIN)/python -m pip install --quiet uv
	$(BIN)/uv pip compile pyproject.toml --group dev --universal --python-version 3.11 --generate-hashes --quiet --upgrade --custom-compile-command "make lock" -o requirements.lock

install-system: $(READY)  ## as the user who runs Tether: the rule for cameras, and planned starts after a restart (asks for sudo)
	sudo install -m 0644 hardware-notes/60-tether-camera.rules /etc/udev/rules.d/
	sed "s|/usr/bin/env python3|$(CURDIR)/$(BIN)/python|" hardware-notes/tether-later@.service | sudo tee /etc/systemd/system/tether-later@.service >/dev/null
	sudo usermod -aG plugdev "$$(id -un)"
	sudo udevadm control --reload
	sudo udevadm trigger --subsystem-match=usb
	sudo systemctl daemon-reload
	sudo systemctl enable "tether-later@$$(id -un).service"

clean:
	rm -rf .venv .venv-second .venv-oldest

pictures: $(READY)  ## draw the README's pictures anew
	$(BIN)/tether ladder profiles/plans/demo.toml --picture docs/pictures/ladder.svg >/dev/null
	rm -rf outings/pictures
	$(BIN)/tether rehearse profiles/plans/demo.toml --pace max --outing outings/pictures >/dev/null
	$(BIN)/tether sheet outings/pictures --rungs 1,7,14 --to docs/pictures/three.jpg
	$(BIN)/tether sheet outings/pictures --strip docs/pictures/strip.jpg
	cp outings/pictures/readings/ladder-1.jpg docs/pictures/regions.jpg
	$(BIN)/python -m tests.pictures
