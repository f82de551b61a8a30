"""site.py FOLDER: the documentation as a site that works from file://, and as a PDF where there is a browser.

Pages are put together in FOLDER/pages: those of docs/, what is kept at the root, and references that are made from the
engine's own settings and from the report's schema. A link that leads nowhere, or a page that asks another machine for
anything, fails the build. Needs the group `docs` of pyproject.toml.
"""

from __future__ import annotations

import dataclasses
import json
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
DOCS = ROOT / "docs"
AT_ROOT = {"DEVELOPERS.md": "developers.md", "CHANGELOG.md": "changes.md"}
BROWSERS = ("chromium", "chromium-browser", "google-chrome")
PRINT_LIMIT_S = 300
OUTSIDE = re.compile(
    r"""<(?:script|link|img|iframe|source)\b[^>]*\b(?:src|href)=["'](?:https?:)?//|url\(["']?https?://"""
)
LINK = re.compile(r"(\]\()(?!https?:|mailto:|#)([^)#\s]+)")

sys.path.insert(0, str(ROOT))


def main(folder: Path) -> int:
    pages = folder / "pages"
    shutil.rmtree(folder, ignore_errors=True)
    gather(pages)
    for builder, where in (("html", folder / "html"), ("singlehtml", folder / "single")):
        command = [sys.executable, "-m", "sphinx", "-b", builder, "-W", "--keep-going", "-q", "-E", pages, where]
        if subprocess.run(command, cwd=ROOT).returncode:
            print("site: a page or a link is not right; see above", file=sys.stderr)
            return 1
    asked = [path for path in (folder / "html").rglob("*.html") if OUTSIDE.search(path.read_text(encoding="utf-8"))]
    if asked:
        print(f"site: these pages ask another machine for something: {', '.join(map(str, asked))}", file=sys.stderr)
        return 1
    count = len(list((folder / "html").rglob("*.html")))
    print(f"site: {count} pages, all links lead somewhere: {folder / 'html' / 'index.html'}")
    return printed(folder / "single" / "index.html", folder / "platewright.pdf")


def gather(pages: Path) -> None:
    """The pages and pictures of the site, in one folder."""
    shutil.copytree(DOCS, pages, ignore=shutil.ignore_patterns("__pycache__", "*.py[co]", "demo"))
    for name, page in AT_ROOT.items():
        shutil.copy2(ROOT / name, pages / page)
    (pages / "reference-job.md").write_text(job_page(), encoding="utf-8")
    schema = json.loads((DOCS / "report.schema.json").read_text(encoding="utf-8"))
    (pages / "reference-report.md").write_text(report_page(schema), encoding="utf-8")
    for page in pages.rglob("*.md"):
        text = page.read_text(encoding="utf-8")
        page.write_text(LINK.sub(lambda found: found[1] + moved(found[2]), text), encoding="utf-8")


def moved(target: str) -> str:
    """Where a link leads on the site: files of the root have their own names there, and docs/ is its top."""
    name = target.removeprefix("../").removeprefix("docs/")
    return AT_ROOT.get(name, name if target.startswith("docs/") else target)


def job_page() -> str:
    """Every key of a job file, from the settings themselves."""
    from addon.engine.settings import job, schema

    told = [
        "# Reference: keys of a job",
        "",
        "Made from the settings. How they work together: [Job file](headless.md#job-file).",
        "",
    ]
    for name, (_, section, repeated) in job.SECTIONS.items():
        told += [f"## {'[[' if repeated else '['}{name}{']]' if repeated else ']'}", ""]
        told += ["| key | default | allowed | meaning |", "|---|---|---|---|"]
        for entry in dataclasses.fields(section):
            if "spec" in entry.metadata:
                spec = schema.spec_of(entry)
                told.append(f"| `{spec.key}` | {default(entry, spec)} | {allowed(spec)} | {cell(spec.doc)} |")
        told.append("")
    return "\n".join(told)


def default(entry: dataclasses.Field[Any], spec: Any) -> str:
    """In the key's own unit."""
    value = entry.default
    if value is dataclasses.MISSING or value is None or value == "":
        return "-"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int | float):
        return f"{(value - spec.offset) / spec.scale:.6g}"
    if isinstance(value, tuple):
        return (
            ", ".join(f"{one / spec.scale:.6g}" if isinstance(one, int | float) else str(one) for one in value) or "-"
        )
    return cell(str(value))


def allowed(spec: Any) -> str:
    if spec.choices:
        return ", ".join(spec.choices)
    limited = spec.low > -1e12 or spec.high < 1e12 or spec.least
    return cell(spec.allowed) if limited else "-"


def report_page(schema: dict[str, Any]) -> str:
    """Every key of a report, from its schema."""
    told = [
        "# Reference: keys of a report",
        "",
        "Made from `report.schema.json`. What they mean together: [Report](headless.md#report).",
        "",
    ]
    for name, entry in schema["properties"].items():
        told += [f"## {name}", ""]
        note = resolved(entry, schema["$defs"])[0].get("description", "")
        told += [cell(note[:1].upper() + note[1:]) + ".", ""] if note else []
        for kind, one in variants(entry, schema["$defs"]):
            told += [f"### {name}: {kind}", ""] if kind else []
            rows = list(keys(one, schema["$defs"], "[]." if kind else ""))
            if rows:
                told += [
                    "| key | type | meaning |",
                    "|---|---|---|",
                    *(f"| `{a}` | {b} | {cell(c)} |" for a, b, c in rows),
                    "",
                ]
    return "\n".join(told)


def variants(entry: dict[str, Any], shared: dict[str, Any]) -> list[tuple[str, dict[str, Any]]]:
    """(name of its kind, entry) of each of the things that a list may hold, else the entry alone without a name."""
    choices = resolved(entry, shared)[0].get("items", {}).get("anyOf", [])
    found = [resolved(choice, shared)[0] for choice in choices]
    return [(one["properties"]["kind"]["const"], one) for one in found] or [("", entry)]


def keys(entry: dict[str, Any], shared: dict[str, Any], before: str) -> Iterator[tuple[str, str, str]]:
    """Path, type and meaning of what an entry holds."""
    found, may_lack = resolved(entry, shared)
    if "items" in found and "properties" in resolved(found["items"], shared)[0]:
        found, before = resolved(found["items"], shared)[0], before + "[]."
    for key, one in found.get("properties", {}).items():
        inner, lacks = resolved(one, shared)
        kind = told_type(inner, shared)
        yield before + key, kind + (" or null" if lacks and "null" not in kind else ""), inner.get("description", "")
        yield from keys(one, shared, f"{before}{key}" + ("" if "items" in inner else "."))


def told_type(found: dict[str, Any], shared: dict[str, Any]) -> str:
    """The type of a resolved entry in words."""
    if "const" in found:
        return f'"{found["const"]}"'
    if "enum" in found:
        listed = ["null" if value is None else f'"{value}"' for value in found["enum"]]
        return " or ".join(listed) if len(listed) < 7 else "one of a [list](headless.md#codes-of-findings)"
    kind = found.get("type", "any")
    words = [str(one) for one in (kind if isinstance(kind, list) else [kind])]
    if "array" in words and "items" in found:
        several = {"number": "numbers", "string": "texts", "integer": "integers", "array": "points"}
        held = resolved(found["items"], shared)[0].get("type")
        what = several.get(held, "objects") if isinstance(held, str) else "numbers"
        count = found.get("maxItems")
        words[words.index("array")] = (
            f"{count} {what}" if count and count == found.get("minItems") else f"list of {what}"
        )
    return " or ".join(words)


def resolved(entry: dict[str, Any], shared: dict[str, Any]) -> tuple[dict[str, Any], bool]:
    """What an entry refers to, and whether it may be null."""
    own = {key: value for key, value in entry.items() if key == "description"}
    if "$ref" in entry:
        found, lacks = resolved(shared[entry["$ref"].rpartition("/")[2]], shared)
        return {**found, **own}, lacks
    for choice in ("anyOf", "oneOf"):
        if choice in entry:
            real = [one for one in entry[choice] if one.get("type") != "null"]
            found, lacks = resolved(real[0], shared)
            return {**found, **own}, lacks or len(real) < len(entry[choice])
    return entry, False


def cell(text: str) -> str:
    return " ".join(text.replace("|", "\\|").replace("<", "&lt;").split())


def with_contents(page: Path) -> None:
    """Put the list of pages, which a screen has at its side, before the first page: for paper."""
    text = page.read_text(encoding="utf-8")
    listed = re.search(r'(<p class="caption".*?</ul>)\s*(?=<hr|</div>|<h3)', text, re.DOTALL)
    title = re.search(r"<h1>Platewright.*?</h1>", text, re.DOTALL)
    if listed is None or title is None:
        raise SystemExit("site: the page for the PDF has no list of pages, or no title; see tools/site.py")
    nav = f'<nav class="contents">{listed[1]}</nav>'
    page.write_text(text[: title.end()] + nav + text[title.end() :], encoding="utf-8")


def printed(page: Path, target: Path) -> int:
    """The whole site on paper, by a browser without a window; without one, a line says so."""
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is None:
        print("site: no PDF, for there is no Chromium to print it")
        return 0
    with_contents(page)
    options = [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--no-pdf-header-footer",
        "--generate-pdf-document-outline",
        "--host-resolver-rules=MAP * ~NOTFOUND",
    ]
    command = [browser, *options, f"--print-to-pdf={target.resolve()}", page.resolve().as_uri()]
    done = subprocess.run(command, capture_output=True, text=True, timeout=PRINT_LIMIT_S)
    if done.returncode or not target.exists():
        print(f"site: the browser printed nothing: {done.stderr.strip()[-300:]}", file=sys.stderr)
        return 1
    print(f"site: {target}, {target.stat().st_size // 1024} KiB")
    return 0


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
