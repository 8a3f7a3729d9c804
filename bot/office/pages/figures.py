"""The data files: each figure as a row beside its source, or the file's text; a new kit."""

import math
import tomllib
from datetime import date
from typing import Any

from aiohttp import web

from bot.config.shipped import KITS, PEOPLE, WORDS
from bot.office import diff, toml_edit
from bot.office.access import keepers_only
from bot.office.context import OFFICE
from bot.office.figure_rows import ORIGIN, FigureRow, called, rows
from bot.office.pages.changes import MOST, field, look, new_kit, number
from bot.office.pages.words import show_words
from bot.office.render import page
from knowledge.sourced import DataError

MOST_WORDS = 4000  # of one entry that is no figure
LONG = 12  # rows that one heading is enough for


async def every(request: web.Request) -> web.StreamResponse:
    """The files."""
    in_force = request.config_dict[OFFICE].in_force
    return page(
        request,
        "figures.html",
        in_force=in_force,
        files=sorted(in_force.texts, key=lambda name: (name.count("/"), called(name))),
        called=called,
        stamp=in_force.basis.tables.stamp,
    )


@keepers_only
async def begin_kit(request: web.Request) -> web.StreamResponse:
    """A new kit, as a copy of another."""
    name, like = request.query.get("name", "").strip(), request.query.get("like", "")
    texts, file = request.config_dict[OFFICE].in_force.texts, f"{KITS}{name}.toml"
    if not new_kit(file) or file in texts or f"{KITS}{like}.toml" not in texts:
        raise web.HTTPBadRequest(text="A new kit has a name of its own: small letters, figures and hyphens.")
    text = toml_edit.with_values(texts[f"{KITS}{like}.toml"], {("name",): name})
    return _form(request, file, text)


async def show(request: web.Request) -> web.StreamResponse:
    """One file, to be read or changed."""
    name = _name(request)
    text = request.config_dict[OFFICE].in_force.texts.get(name)
    if text is None:
        raise web.HTTPNotFound(text=f"There is no file {name}.")
    return await _shown(request, name, text)


@keepers_only
async def work(request: web.Request) -> web.StreamResponse:
    """Look at what another text, or other figures, would change; or take the text away."""
    name, form = _name(request), await request.post()
    text = "" if "out" in form else field(form, "text", MOST)
    if "take" in form:
        response = web.Response(text=text, content_type="application/toml")
        response.headers["Content-Disposition"] = f'attachment; filename="{name.rpartition("/")[2]}"'
        return response
    wrong: dict[str, str] = {}
    try:
        if "rows" in form:
            values, wrong = _values(form, rows(name, text))
            text = text if wrong else toml_edit.with_values(text, values)
        if not wrong:
            return await look(request, name, text, number(form, "base"))
        error = "Some figures cannot be taken: they are marked."
    except (tomllib.TOMLDecodeError, DataError) as bad:
        error = str(bad)
    return await _shown(request, name, text, error, wrong, form)


def _values(form: Any, found: list[FigureRow]) -> tuple[dict[tuple[str, ...], Any], dict[str, str]]:
    """What the form says otherwise than the text, by path, and what is wrong by field."""
    values: dict[tuple[str, ...], Any] = {}
    wrong: dict[str, str] = {}
    for row in found:
        for figure in row.numbers:
            key = field_name(figure.path)
            try:
                given = _figure(field(form, key, 40), figure.value) if key in form else figure.value
            except ValueError:
                wrong[key] = "A number, as 1.25."
                continue
            if given != figure.value:
                values[figure.path] = given
        for words in row.texts:
            key = field_name(words.path)
            if key not in form or (entered := _lines(field(form, key, MOST_WORDS))) == words.value:
                continue
            try:
                values[words.path] = words.read(entered)
            except ValueError as bad:
                wrong[key] = str(bad)
        for part in ORIGIN:
            key = field_name((*row.path, part))
            given_text = field(form, key, 300).strip() if key in form else getattr(row, part)
            if given_text == getattr(row, part):
                continue
            if part == "checked" and not _is_day(given_text):
                wrong[key] = "A day, as 2026-11-25."
            elif part == "source" and not given_text:
                wrong[key] = "A figure needs its source."
            else:
                values[(*row.path, part)] = (
                    date.fromisoformat(given_text) if part == "checked" else given_text
                )
    return values, wrong


def _lines(entered: str) -> str:
    """What a browser sent of a text, whose lines it ends in its own way."""
    return entered.replace("\r\n", "\n").strip()


def field_name(path: tuple[str, ...]) -> str:
    """The name of a figure's field in the form, which no other field of it can have."""
    return ".".join(("figure", *path))


def _figure(text: str, before: float) -> float:
    """A number as it was written; a whole one stays whole. Raises ValueError."""
    value = float(text.strip().replace(",", "."))
    if not math.isfinite(value):
        raise ValueError(text)
    return int(value) if isinstance(before, int) and value.is_integer() else value


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


async def _shown(
    request: web.Request, name: str, text: str, error: str = "", wrong: Any = None, form: Any = None
) -> web.Response:
    if name.startswith(WORDS) and not error:
        return await show_words(request, name, text)
    return _form(request, name, text, error, wrong, form)


def _form(
    request: web.Request, name: str, text: str, error: str = "", wrong: Any = None, form: Any = None
) -> web.Response:
    office = request.config_dict[OFFICE]
    try:
        found = rows(name, text) if not name.startswith(WORDS) and name != PEOPLE else []
    except tomllib.TOMLDecodeError:
        found = []
    undecided = office.in_force.is_undecided(name)
    return page(
        request,
        "figure_file.html",
        status=422 if error else 200,
        name=name,
        called=called(name),
        text=text,
        rows=found,
        groups=grouped(found),
        field_name=field_name,
        error=error,
        wrong=wrong or {},
        given=form or {},
        base=office.in_force.base(name),
        sources=office.basis.tables.sources.source,
        today=office.now.astimezone(office.zone).date().isoformat(),
        new=name not in office.in_force.texts,
        change=office.in_force.changed.get(name),
        shipped=name in office.in_force.shipped and name != PEOPLE,
        came=diff.lines(office.in_force.shipped.get(name, ""), office.in_force.texts[name])
        if undecided
        else None,
    )


def grouped(found: list[FigureRow]) -> list[tuple[str, list[FigureRow]]]:
    """The rows under what they begin with, for an index; a long list under what its rows end with, as the
    grounds under their kind."""
    together: dict[str, list[FigureRow]] = {}
    for row in found:
        together.setdefault(row.title.partition(" · ")[0], []).append(row)
    groups: dict[str, list[FigureRow]] = {}
    for first, own in together.items():
        for row in own:
            last = row.title.partition(" · ")[2].partition(" · ")[0].rpartition(" ")[2]
            groups.setdefault(f"{first}: {last}" if len(own) > LONG and last else first, []).append(row)
    return list(groups.items())


def _name(request: web.Request) -> str:
    name = request.match_info["name"]
    if name not in request.config_dict[OFFICE].in_force.texts and not new_kit(name):
        raise web.HTTPNotFound(text=f"There is no file {name}.")
    return name


routes = [
    web.get("/figures", every),
    web.get("/new-kit", begin_kit),
    web.get("/figures/{name:.+}", show),
    web.post("/figures/{name:.+}", work),
]
