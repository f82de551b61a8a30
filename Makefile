# Every target makes what it needs on a fresh machine with git, make and Python 3.11 or 3.13.
# PYTHON=...  the Python to use, path or version    VENV=...  where the environment lies    TESTS=...  what to test
PYTHON ?=
VENV ?= .venv
TOOLS ?= .venv-check
TESTS ?= tests
BIN = $(VENV)/bin
SITE_TOOLS ?= .venv-docs
DEMO = build/demo
GALLERY = build/gallery
TASKS = build/tasks
SITE = build/site
ZIP = dist/platewright.zip
export PYTHON

.PHONY: demo gallery tasks docs pictures release test quick check zip bench window clean
.DELETE_ON_ERROR:

demo: $(VENV)/.host
	@mkdir -p $(DEMO)
	@$(BIN)/python docs/demo/finial.py $(DEMO)/finial.stl
	@cp docs/demo/finial.toml $(DEMO)/finial.toml
	@timeout 300 $(BIN)/python -m addon plan $(DEMO)/finial.toml --report $(DEMO)/report.json \
	    --plan $(DEMO)/plan.txt --workshop $(DEMO)/workshop.html --sheet $(DEMO)/sheet.pdf --picture $(DEMO)/picture.png --blend $(DEMO)/finial.blend
	@cat $(DEMO)/plan.txt
	@echo "That was $(DEMO)/plan.txt. Open next:"
	@echo "  $(DEMO)/workshop.html  the same for the bench, with pictures at the steps"
	@echo "  $(DEMO)/picture.png    the thickness of the metal, in color on the part"
	@echo "  $(DEMO)/sheet.pdf      the finished piece, for the client"
	@echo "  $(DEMO)/finial.blend   in Blender: all results as attributes"

# Twelve parts of different kinds, planned in one call; renews docs/gallery.md and its pictures.
gallery: $(VENV)/.test
	OPENBLAS_NUM_THREADS=1 $(BIN)/python tools/gallery.py $(GALLERY)

# The models, the jobs and a .blend of every task of the docs.
tasks: $(VENV)/.host
	@$(BIN)/python tools/tasks.py $(TASKS)

# The site, its links checked, for file:// as well; and the same as a PDF where there is a browser to print it.
docs: $(SITE_TOOLS)/.docs
	@$(SITE_TOOLS)/bin/python tools/site.py $(SITE)

# The pictures of the docs, by the program itself: from the command line, from a browser and from a window where they are.
# PARTS="plan hanger" makes some of plan, icon, hanger, materials, tank, masks, window; hanger and materials need the plan's files.
pictures: $(VENV)/.test zip
	OPENBLAS_NUM_THREADS=1 $(BIN)/python tools/pictures.py $(ZIP) build/pictures $(PARTS)

# What is published, with checksums: the zip that Blender's builder has validated, the site, the PDF, the tasks, the icon.
release: zip docs tasks
	@$(BIN)/python tools/release.py $(ZIP) $(SITE) $(TASKS) dist/release

# One thread each for two workers: two threads of BLAS beside another worker wait for each other more than they compute.
test: $(VENV)/.test
	OPENBLAS_NUM_THREADS=1 timeout 1500 $(BIN)/python -m pytest -n 2 --dist loadgroup $(TESTS)

quick: $(VENV)/.test
	OPENBLAS_NUM_THREADS=1 timeout 600 $(BIN)/python -m pytest -n 2 --dist loadgroup -m "not slow" $(TESTS)

check: $(TOOLS)/.check zip
	tools/check.sh $(TOOLS)

zip: $(VENV)/.host
	@$(BIN)/python tools/package.py $(ZIP)

bench: $(VENV)/.test
	@for file in tests/bench/bench_*.py; do \
	    PYTHONPATH=.:tests timeout 900 $(BIN)/python "$$file" || exit 1; done

window: zip
	@mkdir -p $(DEMO)
	@$(BIN)/python docs/demo/finial.py $(DEMO)/finial.stl
	@cp docs/demo/finial.toml $(DEMO)/finial.toml
	@tools/window.sh $(ZIP) $(DEMO)/finial.toml build/window

clean:
	rm -rf build dist .venv .venv-* .mypy_cache .pytest_cache .ruff_cache .hypothesis

# The environments. A stamp is renewed when what it was made from changes.
$(VENV)/.host: pyproject.toml tools/environment.py
	@python=$$(tools/find-python) && "$$python" tools/environment.py $(VENV) host
	@touch $@

$(VENV)/.test: pyproject.toml tools/environment.py
	@python=$$(tools/find-python) && "$$python" tools/environment.py $(VENV) host test bench
	@touch $(VENV)/.host $@

$(SITE_TOOLS)/.docs: pyproject.toml tools/environment.py
	@python=$$(tools/find-python) && "$$python" tools/environment.py $(SITE_TOOLS) docs
	@touch $@

$(TOOLS)/.check: pyproject.toml tools/environment.py
	@python=$$(tools/find-python) && "$$python" tools/environment.py $(TOOLS) check types-oldest types-newest
	@touch $@
