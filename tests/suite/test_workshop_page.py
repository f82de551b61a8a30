"""The workshop sheet in a real browser: two A4 pages, nothing cut off, nothing fetched, boxes that are kept."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

from addon.engine.reporting import language, workshop

from cup_study import study

BROWSER = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-sync",
]
PROBE = """<script>{
const wide = [...document.querySelectorAll("main *")].filter(one => one.scrollWidth > one.clientWidth + 1
  && getComputedStyle(one).display !== "inline" && one.clientWidth > 0).map(one => one.className || one.tagName);
document.querySelector("#step3").click();
const stored = JSON.parse(localStorage.getItem(document.body.dataset.plan) || "{}");
const fetched = performance.getEntriesByType("resource").map(one => one.name).filter(one => !one.startsWith("data:"));
document.documentElement.dataset.found = JSON.stringify({
  over: document.documentElement.scrollWidth - document.documentElement.clientWidth, wide, fetched, kept: stored });
}</script>"""

pytestmark = pytest.mark.skipif(BROWSER is None, reason="no chromium on this machine; apt install chromium")


@pytest.fixture(scope="module")
def page(tmp_path_factory) -> Path:
    path = tmp_path_factory.mktemp("sheet") / "sheet.html"
    path.write_text(workshop.write(study()), encoding="utf-8")
    return path


def browse(page: Path, *flags: str) -> str:
    own = f"--user-data-dir={page.with_suffix('.profile')}"
    done = subprocess.run(
        [BROWSER, *FLAGS, own, *flags, page.as_uri()], capture_output=True, timeout=120, check=True, text=True
    )
    return done.stdout


def probed(page: Path, width: int) -> dict[str, Any]:
    """What the page says of itself when it is opened and the box of step 3 is clicked."""
    own = page.with_name(f"probed{width}.html")
    own.write_text(page.read_text(encoding="utf-8").replace("</body>", PROBE + "</body>"), encoding="utf-8")
    text = browse(own, f"--window-size={width},900", "--dump-dom")
    return json.loads(re.search(r'data-found="([^"]*)"', text)[1].replace("&quot;", '"'))


@pytest.mark.slow
def test_nothing_is_cut_off_or_fetched_and_a_box_stays_ticked(page):
    """On a phone and at a desk. A click ticks it; after opening the page anew, a second click takes the tick away."""
    phone, again, desk = (probed(page, width) for width in (390, 390, 1000))
    for found in (phone, desk):
        assert found["over"] <= 0 and found["wide"] == [] and found["fetched"] == []
    assert [found["kept"]["step3"] for found in (phone, again)] == [True, False]


@pytest.mark.slow
@pytest.mark.parametrize("name", language.names())
def test_it_prints_on_two_pages(page, name):
    """Pages counted in the PDF's own tree (ISO 32000-1, 7.7.3); A4 is 595 by 842 points."""
    page = page.with_name(f"{name}.html")
    page.write_text(workshop.write(study(), language.of(name)), encoding="utf-8")
    out = page.with_suffix(".pdf")
    browse(page, "--no-pdf-header-footer", f"--print-to-pdf={out}")
    data = out.read_bytes()
    assert re.findall(rb"/Type\s*/Pages.*?/Count\s+(\d+)|/Count\s+(\d+)", data, re.DOTALL)
    assert len(re.findall(rb"/Type\s*/Page\b", data)) == 2
    box = [float(one) for one in re.search(rb"/MediaBox\s*\[([^\]]*)\]", data)[1].split()]
    assert box == pytest.approx([0, 0, 595, 842], abs=1)
