# The tasks of the project. `make check` is what CI runs.
.PHONY: check test long goldens bench docs pictures fuzz properties mutate wheel

check:            ## format, lint, types, import direction, tests; installs what it needs into .venv
	./check

test:             ## the tests alone, on all cores; a core goes through neighbouring tests, which share what is slow to make
	.venv/bin/python -m pytest -n auto --dist worksteal

long:             ## tests that the check leaves out: each step of the page by itself, and other axes, parts and widths
	.venv/bin/python -m pytest -n auto --dist worksteal -m long
	.venv/bin/mypy --platform darwin

goldens:          ## prove the tour in every dialect and write the golden files anew; then read the diff
	.venv/bin/python -m pytest tests/golden --update-goldens

bench:            ## whole posts against json.loads, and each stage by itself; two rotaries against one
	.venv/bin/python tests/bench/bench_post.py 1e6
	.venv/bin/python tests/bench/bench_chain.py 1e6

docs:             ## the site of the documentation, in build/docs; its reference pages are made from the models first
	.venv/bin/python docs/generate.py
	.venv/bin/python -m sphinx -q -W -n --keep-going -b html docs build/docs

pictures:         ## the screens of the documentation anew, in docs/pictures; then look at them
	.venv/bin/python docs/take_pictures.py

fuzz:             ## damaged files, kills and full disks for FUZZ_SECONDS (60), seed printed; finds are kept as tests
	.venv/bin/python tests/fuzz/fuzz.py

properties:       ## the property tests with many examples; takes an hour
	STEADYREST_HYPOTHESIS=long .venv/bin/python -m pytest -n auto tests/property

mutate:           ## a hundred small mistakes, one at a time: do the nearest tests notice? takes an hour
	.venv/bin/python tests/bench/mutate.py --count 100 --seed 1

wheel:            ## build the wheel and the source archive into dist/
	.venv/bin/python -m pip install --quiet build && .venv/bin/python -m build
