"""Who may text and on which site: forms to add, change and take out."""

from collections.abc import Mapping
from typing import Any, get_args
from zoneinfo import available_timezones

from aiohttp import web
from pydantic import BaseModel, ValidationError

from bot.config.people import PeopleFile, PersonRow, SiteRow, rows_of, written
from bot.config.shipped import PEOPLE
from bot.office.access import keepers_only
from bot.office.context import OFFICE
from bot.office.pages.changes import field, look, number
from bot.office.render import page
from knowledge.record.trench import Role
from knowledge.sourced import DataError, Rulebook

# What to write instead, by field: the models' own words are made for files.
HINTS = {
    "number": "A phone number in full, as +447700900123, or a chat account, as telegram:123.",
    "name": "A name of 1 to 80 signs that can be seen.",
    "role": "One of the roles.",
    "site": "The name of a site, 1 to 80 signs that can be seen.",
    "rulebook": "One of the rulebooks.",
    "kit": "One of the kits.",
    "shift_start": "A time of day, as 07:30.",
    "shift_end": "A time of day, as 17:00.",
    "zone": "A time zone, as Europe/London.",
    "address": "At most 200 signs that can be seen.",
    "client": "At most 200 signs that can be seen.",
    "client_address": "At most 200 signs that can be seen.",
    "appointed_until": "A day, as 2026-12-31, or nothing.",
    "work_days": "Days of the week from Monday at 0, as 0, 1, 2, 3, 4.",
    "days_off": "Days, as 2026-12-25, 2026-12-26, or nothing.",
    "kit_examined_until": "A day, as 2026-12-31, or nothing.",
}
LISTS = frozenset(("work_days", "days_off"))  # in one field, parted by commas
MAY_BE_EMPTY = frozenset(("kit", "appointed_until", "kit_examined_until"))
FORMS: Mapping[str, tuple[type[BaseModel], str]] = {
    "person": (PersonRow, "number"),
    "site": (SiteRow, "name"),
}


def _shown(row: BaseModel) -> dict[str, str]:
    """A row as the fields of its form."""
    values = row.model_dump().items()
    return {
        name: ", ".join(map(str, value)) if name in LISTS else str("" if value is None else value)
        for name, value in values
    }


def _given(form: Mapping[str, str]) -> dict[str, Any]:
    """The fields of a form as a row wants them."""
    return {
        name: [each.strip() for each in value.split(",") if each.strip()] if name in LISTS else value
        for name, value in form.items()
        if value or name not in MAY_BE_EMPTY
    }


NEW = {"person": {"role": "fitter"}, "site": _shown(SiteRow(name="x")) | {"name": ""}}


@keepers_only
async def show(request: web.Request) -> web.StreamResponse:
    """The form of one person or site, or an empty one."""
    what, name = request.match_info["what"], request.query.get("name", "")
    key = FORMS[what][1]
    values = dict(NEW[what])
    if name:
        row = next((each for each in _rows(request, what) if getattr(each, key) == name), None)
        if row is None:
            raise web.HTTPNotFound(text=f"There is no {what} {name}.")
        values = _shown(row)
    return _form(request, what, name, values, {})


@keepers_only
async def work(request: web.Request) -> web.StreamResponse:
    """Look at what the form would change."""
    what, form = request.match_info["what"], await request.post()
    model, key = FORMS[what]
    name, base = field(form, "row", 80), number(form, "base")
    given = {each: field(form, each, 1000).strip() for each in model.model_fields}
    rows, at = list(_rows(request, what)), None
    if name:
        at = next((i for i, each in enumerate(rows) if getattr(each, key) == name), None)
        if at is None:
            raise web.HTTPConflict(text=f"There is no {what} {name} any more.")
    try:
        row = None if "out" in form else model.model_validate(_given(given))
    except ValidationError as error:
        wrong = {str(each["loc"][0]): HINTS[str(each["loc"][0])] for each in error.errors()}
        return _form(request, what, name, given, wrong)
    new = [row] if row else []
    rows = rows + new if at is None else rows[:at] + new + rows[at + 1 :]
    try:
        text = written(_whole(request, what, rows), request.config_dict[OFFICE].in_force.texts[PEOPLE])
        return await look(request, PEOPLE, text, base)
    except ValidationError:
        return _form(request, what, name, given, {key: f"Somebody else has this {key} already."})
    except DataError as error:
        return _form(request, what, name, given, {"kit" if what == "site" else key: str(error)})


def _rows(request: web.Request, what: str) -> tuple[Any, ...]:
    rows: tuple[Any, ...] = getattr(rows_of(request.config_dict[OFFICE].in_force.texts[PEOPLE]), what)
    return rows


def _whole(request: web.Request, what: str, rows: list[Any]) -> PeopleFile:
    whole = rows_of(request.config_dict[OFFICE].in_force.texts[PEOPLE])
    return PeopleFile.model_validate({**dict(whole), what: tuple(rows)})


def _form(
    request: web.Request, what: str, name: str, values: Mapping[str, Any], wrong: Mapping[str, str]
) -> web.Response:
    office = request.config_dict[OFFICE]
    return page(
        request,
        f"{what}.html",
        status=422 if wrong else 200,
        row=name,
        base=office.in_force.base(PEOPLE),
        values=values,
        wrong=wrong,
        roles=get_args(Role),
        rulebooks=get_args(Rulebook),
        kits=list(office.basis.tables.kits),
        sites=[site.name for site in office.sites],
        zones=sorted(zone for zone in available_timezones() if "/" in zone or zone == "UTC"),
    )


routes = [web.get("/set-up/{what:person|site}", show), web.post("/set-up/{what:person|site}", work)]
