"""The page's files, held in memory and compressed once, and a plain page for when they were not built."""

import gzip
import hashlib
import mimetypes
from dataclasses import dataclass
from html import escape
from pathlib import Path

from fastapi import APIRouter, Request, Response

import halocline
from halocline.report import texts
from halocline.report.conditions import LINK_IDS
from halocline.report.http.context import Context, RefusedError, demand_reader
from halocline.report.public_types import PublicCondition, PublicSnapshot

SQUEEZABLE = frozenset({".html", ".js", ".css", ".svg", ".json", ".txt", ".webmanifest", ".map"})
INDEX = "index.html"
FOR_EVER = "public, max-age=31536000, immutable"

PLAIN_CSS = """
:root { color-scheme: light dark; font: 1.1rem/1.5 system-ui, sans-serif; }
body { max-width: 40rem; margin: 1rem auto; padding: 0 1rem; overflow-wrap: anywhere; }
h1 { font-size: 1.1rem; } .sentence { font-size: 1.5rem; } .alarm { border-left: .4rem solid; padding-left: .6rem; }
td { padding-right: 1rem; } td.number { text-align: right; font-variant-numeric: tabular-nums; }
"""


@dataclass(frozen=True, slots=True)
class File:
    """One file of the page, ready to be sent."""

    content: bytes
    squeezed: bytes | None
    kind: str
    etag: str
    cache: str


def find_page() -> Path | None:
    """Where the built page is: inside the installed package, or in the checkout; None if it was not built."""
    package = Path(halocline.__file__).parent
    for candidate in (package / "web", package.parent.parent / "web" / "dist"):
        if (candidate / INDEX).is_file():
            return candidate
    return None


def load_page(directory: Path | None) -> dict[str, File]:
    """All files by their path; only what is in this dictionary is ever served."""
    if directory is None:
        return {}
    return {
        path.relative_to(directory).as_posix(): _load(path, hashed="assets" in path.parts)
        for path in sorted(directory.rglob("*"))
        if path.is_file()
    }


def routes(context: Context) -> APIRouter:
    """GET / and the files of the page."""
    router = APIRouter(include_in_schema=False)
    files = load_page(context.page_dir)

    @router.get("/")
    async def index(request: Request) -> Response:
        if INDEX in files:
            return _send(files[INDEX], request)
        demand_reader(context, request)
        return Response(plain_page(context.feed.live.public()), media_type="text/html; charset=utf-8")

    @router.get("/plain")
    async def plain(request: Request) -> Response:
        demand_reader(context, request)
        return Response(plain_page(context.feed.live.public()), media_type="text/html; charset=utf-8")

    @router.get("/plain.css")
    async def plain_css() -> Response:
        return Response(PLAIN_CSS, media_type="text/css")

    @router.get("/{path:path}")
    async def file(path: str, request: Request) -> Response:
        if path not in files:
            raise RefusedError(404, texts.NO_PAGE, "not_found")
        return _send(files[path], request)

    return router


def plain_page(now: PublicSnapshot) -> str:
    """The sentence, the alarms and the readings, without a script; it fetches itself anew every two seconds."""
    shown = now["last"] or now
    past = " (the last known, now past)" if now["last"] else ""
    alarms = "".join(
        f'<p class="alarm"><strong>{escape(alarm["means"])}</strong><br>{escape(alarm["do"])}</p>'
        for alarm in shown["alarms"] or ()
    )
    readings = "".join(
        f'<tr><td>{escape(channel.replace("_", " "))}</td><td class="number">{_number(reading["value"])}</td>'
        f"<td>{escape(reading['unit'] or '')}</td><td>{escape(reading['quality'])}</td></tr>"
        for channel, reading in shown["readings"].items()
    )
    listed = "".join(_condition(condition) for condition in now["conditions"])
    simulated = " · SIMULATED" if now["simulated"] else ""
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta http-equiv="refresh" content="2">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<title>{escape(now["boat"])}</title><link rel="stylesheet" href="/plain.css"></head><body>'
        f'<h1>{escape(now["boat"])}{simulated}</h1><p class="sentence">{escape(now["sentence"])}</p>'
        f"{alarms}{listed}<h2>Readings{past}</h2><table>{readings}</table></body></html>"
    )


def _condition(condition: PublicCondition) -> str:
    """What is wrong on the computer's side; what the sentence has said already is not said again."""
    items = "".join(
        f"<li>{escape(problem['key'] or problem['file'])}: found {escape(problem['found'])}; allowed: "
        f"{escape(problem['allowed'])}; {escape(problem['do'])}</li>"
        for problem in condition["problems"]
    )
    said = (
        "" if condition["id"] in LINK_IDS else f"<h2>{escape(condition['means'])}</h2><p>{escape(condition['do'])}</p>"
    )
    return said + (f"<ul>{items}</ul>" if items else "")


def _number(value: float | None) -> str:
    return "–" if value is None else f"{value:.4g}"


def _load(path: Path, *, hashed: bool) -> File:
    content = path.read_bytes()
    squeezed = gzip.compress(content, mtime=0) if path.suffix in SQUEEZABLE else None
    kind = mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    if kind.startswith("text/") or kind == "application/javascript":
        kind += "; charset=utf-8"
    etag = f'"{hashlib.sha256(content).hexdigest()[:20]}"'
    return File(content, squeezed, kind, etag, FOR_EVER if hashed else "no-cache")


def _send(file: File, request: Request) -> Response:
    headers = {"ETag": file.etag, "Cache-Control": file.cache, "Vary": "Accept-Encoding"}
    if request.headers.get("if-none-match") == file.etag:
        return Response(status_code=304, headers=headers)
    if file.squeezed is not None and "gzip" in request.headers.get("accept-encoding", ""):
        headers["Content-Encoding"] = "gzip"
        return Response(file.squeezed, media_type=file.kind, headers=headers)
    return Response(file.content, media_type=file.kind, headers=headers)
