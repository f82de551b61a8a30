#!/usr/bin/env bash
# check.sh FOLDER: lint, types against the oldest and the newest Blender, shell scripts, manifest.
# FOLDER is an environment with the dependency group `check`; types-oldest and types-newest lie in it.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
bin=$1/bin
failed=0

# step NAME COMMAND...: runs all steps, so that one run shows every fault.
step() {
    local start=$SECONDS
    if "${@:2}"; then echo "check: $1: fine ($((SECONDS - start)) s)"; else echo "check: $1: FAILED"; failed=1; fi
}

# The path makes the stubs count as installed ones.
typed() { PYTHONPATH=$PWD/$1 "$bin/mypy" --cache-dir ".mypy_cache/$2" --python-version "$3" 2>&1 | cut -c 1-240; }

# shellcheck disable=SC2317,SC2329 # called through step
# told NAME PID: what a step that runs beside the others says, once it has ended.
told() {
    local status=0
    wait "$2" || status=$?
    cat "$logs/$1"
    return "$status"
}

# The types take longest: both at once, beside the others.
logs=$(mktemp -d)
trap 'rm -rf "$logs"' EXIT
typed "$1/types-oldest" oldest 3.11 >"$logs/oldest" & oldest=$!
typed "$1/types-newest" newest 3.13 >"$logs/newest" & newest=$!

step "ruff" "$bin/ruff" check --quiet .
step "format" "$bin/ruff" format --check --quiet .
mapfile -t scripts < <(git grep -lE '^#!.*\b(bash|sh)$' -- ':!*.md')
step "shell" "$bin/shellcheck" "${scripts[@]}"
step "types, oldest Blender" told oldest "$oldest"
step "types, newest Blender" told newest "$newest"
exit "$failed"
