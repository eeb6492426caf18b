# The two commands of the project are `make run` and `make test`; both do all the set-up on a fresh machine.
PYTHON ?= python3
IN_RUN := $(PYTHON) tools/bootstrap.py --for run --
IN_TEST := $(PYTHON) tools/bootstrap.py --for test --

.PHONY: run test check lint types contract docs lock bench

run:  ## open the demo studio; one click from there begins your own
	$(IN_RUN) dyewright demo

test: export OPENBLAS_NUM_THREADS = 1  # each of two workers has one core; a second thread would only wait for the other
test:  ## every test; browser and database tests are skipped where Chromium or PostgreSQL are not installed
	$(IN_TEST) pytest -q -n 2 --dist loadfile

check: lint types contract test  ## what CI runs; the tests hold the docs to the code

lint:
	$(IN_TEST) ruff check .
	$(IN_TEST) ruff format --check .

types:
	$(IN_TEST) mypy

contract:
	$(IN_TEST) lint-imports --no-cache

docs:  ## only the tests that hold the docs to the code
	$(IN_TEST) pytest -q tests/docs

bench:  ## what measures speed; prints medians and ratios to a reference in the same run
	for script in benchmarks/bench_*.py; do $(IN_TEST) python $$script; done

lock:  ## renew the hashed requirement files
	uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-emit-find-links --no-annotate pyproject.toml -o requirements/run.txt
	uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --no-emit-find-links --no-annotate pyproject.toml --group dev -c requirements/run.txt -o requirements/test.txt
