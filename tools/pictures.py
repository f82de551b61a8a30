"""pictures.py ZIP FOLDER [PART...]: the pictures of the docs, made by the real program, so that they cannot go stale.

From the command line: the client's picture, the cut, the sheet, the hanger, what stands in the tank, the icon. By
Cycles: the materials and the annotated still. From a browser without a window, where there is one: the workshop's page.
From Blender's window, where DESKTOP_BLENDER starts one: verdict, gas, coat, a copy that is turned by hand.
What cannot be made here is named in one line and stays as it is. FOLDER takes what lies between.
"""

from __future__ import annotations

import json
import os
import runpy
import shutil
import subprocess
import sys
import time
from pathlib import Path

import mask_pictures
import palette  # beside this file
import tank_pictures
from stl_surface import corners, surface_of

ROOT = Path(__file__).resolve().parent.parent
PICTURES = ROOT / "docs" / "pictures"
WIDTHS = {
    "tank-helpers": 1200,
    "masks": 860,
    "finial": 760,
    "cut": 720,
    "sheet": 900,
    "workshop": 620,
    **dict.fromkeys(("verdict", "gas", "coat", "hanging"), 860),
}  # pixels in the docs, where it is not as it is made
RENDERED = ("materials", "still")  # by a path tracer
CUT_PLANE = '\n[cut]\nway = "level"  # along the axis of the part, which hangs on its side, and through both anodes\n'
SHADED = ("sheet", "hanger", "tank-helpers", "masks")  # with light and shadow
FROM_WINDOW = ("verdict", "gas", "coat", "hanging")
MADE = {
    "plan": ("finial", "cut", "sheet", "workshop"),
    "icon": (),  # written in its place, with its transparent corners
    "hanger": ("hanger",),
    "materials": ("materials", "still"),
    "tank": ("tank-helpers",),
    "masks": ("masks",),
    "window": FROM_WINDOW,
}  # by the part of this script that makes them; hanger and materials take what the plan has written
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
PLAN_LIMIT_S, WINDOW_LIMIT_S, BROWSER_LIMIT_S = 900, 1200, 120
WINDOW_SIZE = "1120x800"
ICON_PIXELS, ICON_CORNER = 256, 0.2  # the side, and the corner's radius as a share of it
ICON_GROUND = (0.10, 0.12, 0.18)
ICON_SHARE = 0.78  # of the icon's side that the part takes
HANGER_VIEWS = ((0.3, -1.0, 0.25), (1.0, -0.45, 0.25), (0.1, 1.0, 0.3))  # toward the viewer, the third along the way up
HANGER_PIXELS = 480
HELPER, PRINTED = (0.27, 0.47, 0.80), (0.85, 0.84, 0.82)  # display colors of what is printed to help, and of the part

sys.path[:0] = [str(ROOT), str(ROOT / "docs" / "gallery")]


def main(package: Path, folder: Path, *parts: str) -> int:
    folder.mkdir(parents=True, exist_ok=True)
    makers = {
        "plan": lambda: planned(folder),
        "icon": lambda: icon(PICTURES / "icon.png"),
        "hanger": lambda: hanger(folder),
        "materials": lambda: in_materials(folder),
        "tank": lambda: tank_pictures.draw(folder, folder / "tank-helpers.png"),
        "masks": lambda: mask_pictures.draw(folder / "masks.png"),
        "window": lambda: windowed(package, folder),
    }
    unknown = set(parts) - set(makers)
    if unknown:
        sys.exit(
            f"pictures: there is no {', '.join(sorted(unknown))}; name some of {', '.join(makers)}, or none for all"
        )
    for part in parts or makers:
        start, before = time.perf_counter(), processor_s()
        makers[part]()
        made = [name for name in MADE[part] if (folder / f"{name}.png").exists()]
        for name in made:
            ending = ".jpg" if name in RENDERED else ".png"
            published(folder / f"{name}.png", PICTURES / f"{name}{ending}", WIDTHS.get(name, 0), name in SHADED)
        took = f"{time.perf_counter() - start:.0f} s, {processor_s() - before:.0f} of a processor"
        print(f"pictures: {part} ({took}): {', '.join(made) or 'in its place'}", flush=True)
    return 0


def processor_s() -> float:
    """Of this process and those that it waited for."""
    return sum(os.times()[:4])


def planned(folder: Path) -> None:
    """What the command line draws of the demo part, and the workshop's page as a browser shows it."""
    for name in MADE["plan"]:
        (folder / f"{name}.png").unlink(missing_ok=True)
    headless(folder)
    browsed(folder / "workshop.html", folder / "workshop.png")


def headless(folder: Path) -> None:
    """The demo part through the command line."""
    demo = runpy.run_path(str(ROOT / "docs" / "demo" / "finial.py"))
    demo["write"](folder / "finial.stl", demo["finial"]())
    job = (ROOT / "docs" / "demo" / "finial.toml").read_text(encoding="utf-8")
    (folder / "finial.toml").write_text(job + CUT_PLANE, encoding="utf-8")
    plan = [sys.executable, "-m", "addon", "plan", folder / "finial.toml", "--page", "wide"]
    files = ["--picture", folder / "finial.png", "--cut", folder / "cut.png", "--workshop", folder / "workshop.html"]
    files += ["--sheet", folder / "sheet.png", "--hanger", folder / "hanger.stl", "--report", folder / "finial.json"]
    files += ["--blend", folder / "finial.blend"]
    subprocess.run([*plan, *files], cwd=ROOT, check=True, timeout=PLAN_LIMIT_S)


def in_materials(folder: Path) -> None:
    """The part in the extension's materials, and the annotated still."""
    script = ROOT / "tools" / "material_pictures.py"
    names = ("finial.blend", "still.png", "materials.png")
    subprocess.run(
        [sys.executable, script, *(folder / name for name in names)], cwd=ROOT, check=True, timeout=PLAN_LIMIT_S
    )


def hanger(folder: Path) -> None:
    """The part on its printed hanger, from three sides, as it hangs."""
    import numpy as np

    from addon.engine.geometry.frames import basis, unit
    from addon.engine.reporting import png
    from addon.engine.visibility.shaded import sight, view

    part, helper = (corners(folder / f"{name}.stl") for name in ("finial", "hanger"))
    surface = surface_of(np.concatenate([part, helper]))
    tint = np.where(np.arange(len(surface.triangles))[:, None] < len(part), PRINTED, HELPER)
    up = unit(json.loads((folder / "finial.json").read_text(encoding="utf-8"))["field"]["up"])
    frame = np.array([*basis(up)[:2], up])
    seen = [sight(surface, view(np.array(toward) @ frame, up), HANGER_PIXELS) for toward in HANGER_VIEWS]
    views = [np.dstack([one.painted(tint), one.alpha]) for one in seen]
    high = max(len(one) for one in views)
    filled = [np.pad(one, ((high - len(one), 0), (8, 8), (0, 0))) for one in views]
    (folder / "hanger.png").write_bytes(png.encoded(np.hstack(filled)))


def icon(path: Path) -> None:
    """A bell in copper on a dark ground with round corners."""
    import numpy as np

    from addon.engine.reporting import png
    from addon.engine.sheet import finish
    from addon.engine.visibility.shaded import sight, view

    import parts

    surface = surface_of(parts.bell())
    seen = sight(surface, view((-0.5, -1.0, 0.35), (0, 0, 1)), round(ICON_SHARE * ICON_PIXELS))
    metal = seen.painted(np.tile(finish.METALS["copper"], (len(surface.triangles), 1)), finish.METAL_GLOSS["bright"])
    away = np.abs(np.arange(ICON_PIXELS) + 0.5 - ICON_PIXELS / 2) - ICON_PIXELS * (0.5 - ICON_CORNER)
    beyond = np.hypot(*(np.maximum(one, 0.0) for one in np.meshgrid(away, away)))
    pixels = np.zeros((ICON_PIXELS, ICON_PIXELS, 4))
    pixels[..., :3] = 255 * np.array(ICON_GROUND)
    pixels[..., 3] = 255 * np.clip(ICON_PIXELS * ICON_CORNER - beyond + 0.5, 0.0, 1.0)
    rows, columns = seen.size
    top, left = (ICON_PIXELS - rows) // 2, (ICON_PIXELS - columns) // 2
    place = pixels[top : top + rows, left : left + columns]
    cover = seen.alpha[..., None] / 255.0
    place[..., :3] += cover * (metal - place[..., :3])
    path.write_bytes(png.encoded(np.rint(pixels).astype(np.uint8)))


def published(picture: Path, target: Path, width: int, shaded: bool = False) -> None:
    """A picture in the docs: no wider than `width`, and small."""
    shutil.copyfile(picture, target)
    palette.packed(target, width, shaded)


def browsed(page: Path, picture: Path) -> None:
    """The first screen of a page as a browser draws it; nothing where there is no browser."""
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        print("pictures: no Chromium, so workshop.png stays as it is")
        return
    options = ["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--window-size=840,1180"]
    command = [browser, *options, f"--screenshot={picture.resolve()}", page.resolve().as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=BROWSER_LIMIT_S)


def windowed(package: Path, folder: Path) -> None:
    """The pictures of the real window; none where no Blender with a window is to be had."""
    for name in FROM_WINDOW:
        (folder / f"{name}.png").unlink(missing_ok=True)
    blender = Path(os.environ.get("DESKTOP_BLENDER", "../shared/tools/desktop-blender"))
    if not os.access(blender, os.X_OK):
        print(f"pictures: no Blender with a window (DESKTOP_BLENDER), so {', '.join(FROM_WINDOW)} stay as they are")
        return
    shot = [blender, "shot", "--zip", package.resolve(), "--script", ROOT / "tools" / "window_pictures.py"]
    shot += ["--size", WINDOW_SIZE, "--out", (folder / "end.png").resolve(), "--timeout", str(WINDOW_LIMIT_S)]
    done = subprocess.run([*shot, "--", folder.resolve()], cwd=ROOT, timeout=WINDOW_LIMIT_S + 60)
    if done.returncode:
        sys.exit(f"pictures: the window failed; see {folder / 'end.png'}")


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2]), *sys.argv[3:]))
