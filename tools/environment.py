"""Makes a virtual environment and installs dependency groups of pyproject.toml into it.

python tools/environment.py FOLDER GROUP...

Run by the Python that the environment is to have; the standard library is all that it needs. After the
group `host` it starts Blender's module once, and names what the system lacks in one line. A group named
types-... goes into a folder of that name inside the environment, so that several can lie side by side.
"""

from __future__ import annotations

import subprocess
import sys
import time
import tomllib
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
START_LIMIT = 180  # s for Blender's module to start on a cold disk

# What `import bpy` loads from the system: library -> Debian package.
SYSTEM = {
    "libX11.so.6": "libx11-6",
    "libXext.so.6": "libxext6",
    "libXrender.so.1": "libxrender1",
    "libXfixes.so.3": "libxfixes3",
    "libXi.so.6": "libxi6",
    "libxkbcommon.so.0": "libxkbcommon0",
    "libSM.so.6": "libsm6",
    "libICE.so.6": "libice6",
    "libGL.so.1": "libgl1",
}
# What pictures need beyond that; without it they are drawn the slow way.
PICTURE = {"libEGL.so.1": "libegl1 libegl-mesa0 libgl1-mesa-dri"}

LACKING = """
import ctypes, sys
for name in sys.argv[1:]:
    try:
        ctypes.CDLL(name)
    except OSError:
        print(name)
"""


def main(folder: Path, groups: list[str]) -> int:
    python = folder / "bin" / "python"
    if not runs(python):
        say(f"making {folder} with Python {sys.version.split()[0]}")
        venv.create(folder, with_pip=True, clear=folder.exists(), symlinks=True)
    beside = [group for group in groups if group.startswith("types-")]
    within = [name for group in groups if group not in beside for name in requirements(group)]
    if not installed(python, within):
        return 1
    if not all(installed(python, requirements(group), folder / group) for group in beside):
        return 1
    return 0 if "host" not in groups or host_starts(python) else 1


def requirements(group: str) -> list[str]:
    with open(ROOT / "pyproject.toml", "rb") as file:
        return tomllib.load(file)["dependency-groups"][group]


def runs(python: Path) -> bool:
    if not python.exists():
        return False
    return subprocess.run([python, "-c", "import pip"], capture_output=True).returncode == 0


def installed(python: Path, wanted: list[str], target: Path | None = None) -> bool:
    """Install what is wanted, with a line of progress for each download."""
    names = {name.split(";")[0].split("=")[0].split("<")[0].split(">")[0] for name in wanted}
    say(f"installing {', '.join(sorted(names))}")
    start = time.monotonic()
    command = [python, "-m", "pip", "install", "--disable-pip-version-check", "--progress-bar=off", *wanted]
    if target:
        command += ["--target", target, "--upgrade"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as pip:
        assert pip.stdout and pip.stderr
        for line in pip.stdout:
            if line.lstrip().startswith(("Downloading", "Installing")):
                say(line.strip()[:100])
        faults = pip.stderr.read()
    if pip.returncode:
        told = [line for line in faults.splitlines() if line.startswith("ERROR")]
        say(f"pip failed: {(told or faults.splitlines() or ['no reason given'])[-1]}")
        return False
    say(f"installed in {time.monotonic() - start:.0f} s")
    return True


def host_starts(python: Path) -> bool:
    """Whether Blender's module starts; if not, say what the system lacks."""
    try:
        probe = subprocess.run(
            [python, "-c", "import bpy; print(*bpy.app.version, sep='.')"],
            capture_output=True,
            text=True,
            timeout=START_LIMIT,
        )
    except subprocess.TimeoutExpired:
        say(f"Blender's module did not start within {START_LIMIT} s")
        return False
    if probe.returncode == 0:
        say(f"Blender {probe.stdout.split()[-1]} starts")
        return True
    packages = [SYSTEM[name] for name in lacking(python, SYSTEM)]
    if packages:
        say(f"Blender's module lacks system libraries; get them with: apt-get install {' '.join(packages)}")
    else:
        reason = (probe.stderr.splitlines() or [f"status {probe.returncode}"])[-1]
        say(f"Blender's module does not start: {reason}")
    return False


def lacking(python: Path, libraries: dict[str, str]) -> list[str]:
    """Which of the libraries do not load."""
    return subprocess.run(
        [python, "-c", LACKING, *libraries], capture_output=True, text=True, check=True
    ).stdout.split()


def say(text: str) -> None:
    print(f"environment: {text}", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]).absolute(), sys.argv[2:]))
