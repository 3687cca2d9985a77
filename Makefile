# Everything a fresh clone needs: Python 3.11 or newer, make, and the system's package manager.
#
#   make demo      see it work: an invented job from the port to the answer, then the pages
#   make test      all tests but the slow truth tables
#
# Windows has no make: README.md gives the lines to type there.

PYTHON := .venv/bin/python

.PHONY: demo test lint bench evidence lock clean

demo:
	@sh .ci/setup run
	@$(PYTHON) -m dashboard demo $(DEMO)

test:
	@sh .ci/setup dev
	@sh .ci/test_tools
	@$(PYTHON) -m pytest -q -n 2 --dist loadfile -m "not evidence" $(TESTS)

lint:
	@sh .ci/setup dev
	$(PYTHON) -m ruff check .
	$(PYTHON) -m ruff format --check .
	$(PYTHON) -m mypy

bench:
	@sh .ci/setup dev
	@$(PYTHON) -m pytest -q -s tests/benchmarks --override-ini python_files="bench_*.py"

evidence:
	@sh .ci/setup dev
	@$(PYTHON) -m pytest -q -s -m evidence tests/evidence

# Exact versions, no addresses: where packages come from is the business of each machine.
lock:
	@sh .ci/setup dev
	@sh .ci/lock

clean:
	rm -rf .venv build demo_book .pytest_cache .mypy_cache .ruff_cache .hypothesis *.egg-info
