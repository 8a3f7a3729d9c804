"""Pages from templates. All that was said is escaped, and its hidden signs are made visible."""

import json
import re
from datetime import datetime, tzinfo
from functools import partial
from importlib.resources import files
from itertools import groupby
from pathlib import Path
from typing import Any
from urllib.parse import quote

import jinja2
from aiohttp import web
from markupsafe import Markup, escape

from bot.language.unseen import code, unseen
from bot.office.context import OFFICE
from bot.office.export import masked
from bot.office.session import COOKIE, USER, form_token
from bot.storage.log import HIT, HIT_END
from knowledge.units import on_sheet, printed

_UNITS = {"m": "m", "bar": "bar", "kn": "kN", "kpa": "kPa"}
KIND_WORDS = {"stop": "refused", "unclear": "not understood", "failed": "no answer", "ask": "asked"}
EXCERPT = 180  # signs of a text shown in a list


def page(request: web.Request, template: str, status: int = 200, **data: Any) -> web.Response:
    """A page made from a template, with what every page needs."""
    office = request.config_dict[OFFICE]
    text = _TEMPLATES.get_template(template).render(
        user=request.get(USER),
        form_token=form_token(request.cookies.get(COOKIE, "")),
        here=request.path,
        zone=office.zone,
        undecided=office.in_force.undecided,
        **data,
    )
    return web.Response(text=text, content_type="text/html", status=status)


def said(text: str | None) -> Markup:
    """What somebody wrote, harmless: escaped, kept apart from the direction of the text around it, and with
    signs that cannot be seen shown by their code."""
    if text is None:
        return Markup('<span class="erased">erased</span>')
    if text.replace("\n", " ").isprintable():
        return Markup('<bdi class="said">{}</bdi>').format(text)
    shown = "".join(_visible(sign) if unseen(sign) else str(escape(sign)) for sign in text)
    return Markup(f'<bdi class="said">{shown}</bdi>')


def excerpt(text: str | None) -> Markup:
    """The beginning of what somebody wrote."""
    if text is None or len(text) <= EXCERPT:
        return said(text)
    return said(text[:EXCERPT]) + Markup(f'<span class="cut"> … {len(text)} characters</span>')


def hits(text: str | None) -> Markup:
    """What was found, the words that were looked for marked."""
    if text is None:
        return said(None)
    cut = text if len(text) <= 2 * EXCERPT else text[: 2 * EXCERPT] + "…"
    parts = re.split(f"{HIT}([^{HIT}{HIT_END}]*){HIT_END}", cut)
    marked = [
        Markup("<mark>{}</mark>").format(said(each)) if n % 2 else said(each) for n, each in enumerate(parts)
    ]
    return Markup("").join(marked)


def clock(at: str | datetime | None, zone: tzinfo) -> str:
    """A time as it is read there: "Wed 25 Nov 2026, 08:10"."""
    if not at:
        return ""
    when = datetime.fromisoformat(at) if isinstance(at, str) else at
    return f"{when.astimezone(zone):%a %d %b %Y, %H:%M}"


def when(at: str | datetime | None, now: datetime, zone: tzinfo) -> str:
    """A time as short as it can be told: "08:10" of today, "25 Nov 08:10" of another day of this year."""
    if not at:
        return ""
    then = (datetime.fromisoformat(at) if isinstance(at, str) else at).astimezone(zone)
    today = now.astimezone(zone).date()
    if then.date() == today:
        return f"{then:%H:%M}"
    return f"{then:%d %b %H:%M}" if then.year == today.year else f"{then:%d %b %Y, %H:%M}"


def wall(at: datetime, zone: tzinfo) -> str:
    """A time of today to the second, as the clock on the wall shows it: "08:10:25"."""
    return f"{at.astimezone(zone):%H:%M:%S}"


def ago(at: datetime | None, now: datetime) -> str:
    """How long since: "2 h 5 min", "under a minute"."""
    if at is None:
        return ""
    minutes = max(0, int((now - at).total_seconds() // 60))
    if not minutes:
        return "under a minute"
    if minutes >= 48 * 60:
        return f"{minutes // 1440} days"
    return f"{minutes // 60} h {minutes % 60} min" if minutes >= 60 else f"{minutes} min"


def took(microseconds: int) -> str:
    """How long an answer took: "0.9 ms", "3.2 s"."""
    return f"{microseconds / 1e3:.1f} ms" if microseconds < 1e6 else f"{microseconds / 1e6:.1f} s"


def plain(value: Any) -> str:
    """A value of a reading or an outcome as words."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return printed(value)
    if isinstance(value, list):
        return "; ".join(plain(each) for each in value)
    if isinstance(value, dict):
        return ", ".join(f"{field(name)} {plain(each)}" for name, each in value.items() if told(each))
    return "" if value is None else str(value)


def told(value: Any) -> bool:
    """Whether a value says anything: no field that is left empty does."""
    return value is not None and value not in ("", [], {})


def field(name: str) -> str:
    """The name of a field as words, its unit in brackets: "depth (m)"."""
    words, _, last = name.rpartition("_")
    return f"{words.replace('_', ' ')} ({_UNITS[last]})" if last in _UNITS else name.replace("_", " ")


def parts(sheet: list[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    """The lines of a calculation sheet part by part, in their order; one that names no part is of none."""
    return [(part, list(lines)) for part, lines in groupby(sheet, lambda line: line.get("part", ""))]


def _visible(sign: str) -> str:
    return f'<span class="hidden-sign">{code(sign)}</span>'


_TEMPLATES = jinja2.Environment(
    loader=jinja2.FileSystemLoader(Path(str(files("bot.office") / "templates"))),
    autoescape=True,
    undefined=jinja2.StrictUndefined,
    auto_reload=False,
    trim_blocks=True,
    lstrip_blocks=True,
)
_TEMPLATES.filters |= {
    "urlencode": partial(quote, safe=""),  # a site may have a "/" in its name
    "said": said,
    "excerpt": excerpt,
    "clock": clock,
    "hits": hits,
    "wall": wall,
    "when": when,
    "masked": masked,
    "ago": ago,
    "took": took,
    "plain": plain,
    "told": told,
    "field": field,
    "printed": printed,
    "on_sheet": on_sheet,
    "parts": parts,
    "in_words": lambda kind: KIND_WORDS.get(kind, kind),
    "pretty": lambda value: json.dumps(value, ensure_ascii=False, indent=1),
}
