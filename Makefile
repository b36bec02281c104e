# `make` lists the targets. Everything a target needs is set up by .ci/setup.
SHELL := /bin/bash
BIN := .venv/bin
ARGS ?=
ARCH ?= $(shell dpkg --print-architecture 2>/dev/null)
DEBIAN ?= 12
PACKAGES ?= amd64/12 amd64/13 arm64/12 arm64/13
PARTS ?=
.DEFAULT_GOAL := help
.PHONY: help run test quick soak bench lint types pagetypes wheel deb aboard release docs pictures looks units lock clean

help: ## list the targets
	@grep -hE '^[a-z]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 12

run: ## run the daemon on the simulated boat and print the page's address (ARGS=--quick: with a tenth of the time and water)
	@.ci/setup run
	@exec $(BIN)/halocline run --simulated $(ARGS)

test: ## set up everything and run all tests
	@.ci/setup dev
	@.ci/setup system
	@$(MAKE) --no-print-directory quick
	@$(BIN)/pytest -q -n 3 --dist loadfile -m "system and not soak"

quick: ## the half of the tests that needs no real processes, broker or browser
	@.ci/setup dev
	@.ci/setup node npm --prefix web test --silent
	@$(BIN)/pytest -q -n 2 --dist loadfile --no-loadscope-reorder -m "not system and not soak"

soak: ## the same tests in a large size (hours)
	@.ci/setup dev
	@.ci/setup system
	@HALOCLINE_SOAK=1 $(BIN)/pytest -q --timeout 7200
	@if [ $$(id -u) = 0 ]; then HALOCLINE_SOAK=1 $(MAKE) --no-print-directory aboard; else echo "make aboard was left out: it needs root"; fi

bench: ## benchmarks, as ratios
	@.ci/setup dev
	@.ci/setup bench
	@for bench in tests/bench/bench_*.py; do echo "== $$bench"; $(BIN)/python $$bench || exit 1; done

lint: ## style, import contracts, format
	@.ci/setup dev
	@$(BIN)/ruff check daemon hw tests
	@$(BIN)/ruff format --check daemon hw tests
	@.ci/setup node npm --prefix web run --silent format:check >/dev/null || { echo "web/: run npm --prefix web run format"; exit 1; }
	@$(BIN)/lint-imports >.lint-imports.log || { cat .lint-imports.log; rm .lint-imports.log; exit 1; }; rm -f .lint-imports.log

types: ## strict type checks; the page's types are those of the server's schema
	@.ci/setup dev
	@$(BIN)/mypy daemon/halocline hw/halocline_hw
	@cp web/src/generated/api.d.ts .api.before.d.ts
	@$(MAKE) --no-print-directory pagetypes
	@cmp -s .api.before.d.ts web/src/generated/api.d.ts || { rm -f .api.before.d.ts; echo "web/src/generated/api.d.ts was stale and is written anew: commit it"; exit 1; }
	@rm -f .api.before.d.ts
	@.ci/setup node npm --prefix web run --silent typecheck

pagetypes: ## write the page's types from the server's schema
	@.ci/setup dev
	@$(BIN)/python -m halocline.report.http.schema >.openapi.json
	@.ci/setup node npm --prefix web run --silent types -- ../.openapi.json; rm -f .openapi.json

wheel: ## build the wheel and the source archive into dist/
	@.ci/setup dev
	@rm -rf dist
	@$(BIN)/python -m build --outdir dist >dist.log 2>&1 || { tail -20 dist.log; rm -f dist.log; exit 1; }; rm -f dist.log
	@ls dist

deb: wheel ## build the Debian package into dist/ (ARCH=arm64, DEBIAN=13: for another computer)
	@.ci/setup package $(ARCH)
	@nice .ci/package $(ARCH) $(DEBIAN)

aboard: deb ## install the package on a computer with a real kernel and play its story (root, about 40 minutes; PARTS="run power")
	@.ci/setup rig
	@tests/aboard/build
	@$(BIN)/python tests/aboard/story.py --package dist/halocline_*_$$(dpkg --print-architecture).deb $(PARTS)

release: ## wheel, source archive, packages, upgrade notes and checksums into dist/, tried (PACKAGES="amd64/12": only these)
	@.ci/setup dev
	@$(BIN)/python .ci/release.py before
	@$(MAKE) --no-print-directory wheel
	@for each in $(PACKAGES); do .ci/setup package $${each%/*} && nice .ci/package $${each%/*} $${each#*/} || exit 1; done
	@lintian --fail-on error --suppress-tags script-not-executable,no-manual-page,maintainer-script-calls-systemctl dist/*.deb
	@$(BIN)/python .ci/release.py after

units: ## check the systemd units
	@.ci/setup dev
	@.ci/setup system
	@$(BIN)/pytest -q tests/systemd

docs: ## regenerate everything in the documents that is made from the code
	@.ci/setup dev
	@$(BIN)/python .ci/documents.py

pictures: ## take the pictures of the page that README shows
	@.ci/setup dev
	@.ci/setup system
	@$(BIN)/python .ci/pictures.py

looks: ## take pictures of every state of the page, three palettes, three sizes, into web/looks (minutes)
	@.ci/setup dev
	@.ci/setup system
	@.ci/setup node npm --prefix web run --silent look

lock: ## write the versions CI uses into .ci/constraints.txt
	@.ci/setup dev
	@$(BIN)/pip --disable-pip-version-check list --format=freeze --exclude-editable | grep -v '^setuptools=' >.ci/constraints.txt

clean: ## remove everything that was built or set up
	@rm -rf .venv dist web/dist web/dist-gallery web/looks web/node_modules .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	@find daemon hw tests -name __pycache__ -type d -prune -exec rm -rf {} +
