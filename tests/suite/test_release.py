"""What is published: its names, its checksums, and the change log's last word."""

from __future__ import annotations

import hashlib
import sys
import zipfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / "tools"))
import release  # noqa: E402


def test_a_release_repeats_byte_for_byte_and_its_checksums_hold(tmp_path):
    """SHA-256 by hashlib (FIPS 180-4); the same files later give the same zip."""
    site = tmp_path / "site"
    (site / "html").mkdir(parents=True)
    (site / "html" / "index.html").write_text("<p>guide</p>")
    (tmp_path / "p.zip").write_bytes(b"PK")
    (tmp_path / "tasks").mkdir()
    (tmp_path / "tasks" / "bell.toml").write_text('part.file = "bell.stl"')
    found = []
    for name in ("one", "two"):
        (site / "html" / "index.html").touch()
        assert release.main(tmp_path / "p.zip", site, tmp_path / "tasks", tmp_path / name) == 0
        found.append({path.name: path.read_bytes() for path in (tmp_path / name).iterdir()})
    assert found[0] == found[1]
    sums = dict(line.split("  ")[::-1] for line in found[0].pop(release.SUMS).decode().splitlines())
    assert sums == {name: hashlib.sha256(data).hexdigest() for name, data in found[0].items()}
    [docs] = (tmp_path / "one").glob("*-docs.zip")
    assert zipfile.ZipFile(docs).namelist() == ["index.html"]


def test_a_change_log_without_the_version_is_told():
    assert "Unreleased" in release.unready("# Changes\n\n## Unreleased\n\n- more\n\n## 1.0.0\n\nFirst.\n", "1.0.0")
    assert "2.0.0" in release.unready("# Changes\n\n## Unreleased\n\n## 1.0.0\n\nFirst.\n", "2.0.0")
    assert release.unready("# Changes\n\n## Unreleased\n\n## 1.0.0\n\nFirst.\n", "1.0.0") == ""
