# Rooftally's commands. `make setup` prepares everything that the others need and is quick when nothing changed.
SHELL := /bin/bash
PYTHON := .venv/bin/python
ARGS ?=
PORT ?=

.PHONY: help setup test test-fast check demo serve walk prove bench screenshots soak lock

help:
	@echo "make demo         the invented company Telhado Claro, its whole job shown step by step, then served (PORT=8010)"
	@echo "make serve        an empty installation in one process (ARGS=… goes to manage.py serve)"
	@echo "make test         every check and every test, on SQLite and on PostgreSQL with Redis"
	@echo "make test-fast    the inner loop: style and the quick tests on SQLite"
	@echo "make check        style, types, templates, layers and migrations alone"
	@echo "make setup        .venv, node_modules and the programs that tests need"
	@echo "make walk         the demo on a throwaway server, walked as each role: every link, count, row and script"
	@echo "make prove        breaks the program in a scratch copy, one listed break at a time; each test must go red"
	@echo "make screenshots  the demo's pages as pictures in var/screenshots"
	@echo "make bench        the benchmarks; make soak: the long runs under faults"
	@echo "make lock         the lock files, after a change in pyproject.toml"

setup:
	@bash .ci/setup

test: setup
	@bash .ci/test

test-fast: setup
	@bash .ci/test fast

check: setup
	@bash .ci/check

demo: setup
	@ROOFTALLY_DATA_DIR=$${ROOFTALLY_DATA_DIR:-var/demo} $(PYTHON) manage.py demo $(if $(PORT),--port $(PORT)) $(ARGS)

serve: setup
	@$(PYTHON) manage.py serve $(ARGS)

walk: setup
	@$(PYTHON) -m tests.walk $(ARGS)

prove: setup
	@$(PYTHON) -m tests.prove $(ARGS)

bench: setup
	@$(PYTHON) -m tests.benchmarks $(ARGS)

soak: setup
	@$(PYTHON) -m tests.soak $(ARGS)

screenshots: setup
	@$(PYTHON) -m tests.screenshots $(ARGS)

lock: setup
	@bash .ci/lock
