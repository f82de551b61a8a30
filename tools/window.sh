#!/usr/bin/env bash
# window.sh ZIP JOB.toml FOLDER: the extension in the real program: its command line, then its window.
# DESKTOP_BLENDER names the tool that starts Blender on a display of its own; a traceback fails the run.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."
shopt -s nullglob

blender=${DESKTOP_BLENDER:-../shared/tools/desktop-blender}
zip=$(realpath "$1")
job=$(realpath "$2")
mkdir -p "$3"
out=$(realpath "$3")
[[ -x $blender ]] || { echo "window: there is no $blender; name it with DESKTOP_BLENDER=..." >&2; exit 1; }

"$blender" setup
user=$(mktemp -d)
trap 'rm -rf "$user"' EXIT
run() { BLENDER_USER_RESOURCES=$user timeout 400 "$blender" run -- --command "$@"; }
echo "window: installing and enabling $zip"
run extension install-file -r user_default -e "$zip"
echo "window: the main job through Blender's own command line"
run platewright plan "$job" --report "$out/desktop.json" --plan "$out/desktop.txt"
test -s "$out/desktop.json" && test -s "$out/desktop.txt"
for script in ${WINDOW_SCRIPTS:-tests/window/*.py}; do
    echo "window: $script"
    "$blender" shot --zip "$zip" --script "$script" --size 1280x900 \
        --out "$out/$(basename "$script" .py).png" --timeout 900
done
