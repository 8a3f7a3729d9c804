"""What was changed, by whom and why; a look at what a change would do; saving it; and the way back."""

import asyncio
import logging
from dataclasses import dataclass
from typing import Any

from aiohttp import web

from bot.config import revisions
from bot.config.in_force import InForce
from bot.config.revisions import Revision
from bot.config.shipped import PEOPLE, WORDS
from bot.office import crew_changes, diff, read_again
from bot.office.access import keepers_only
from bot.office.context import OFFICE, ReadConnection
from bot.office.crew_changes import CrewNote
from bot.office.open_trenches import open_trenches
from bot.office.read_again import PastText, ReadOtherwise
from bot.office.render import page
from bot.office.saving import SAVING, Draft, OvertakenError
from bot.office.session import USER
from bot.office.what_if import Consequence, OpenTrench, consequences
from bot.office.worked_again import Difference
from knowledge.sourced import DataError

MOST = 500_000  # signs of a file
MOST_WHY = 300
PER_PAGE = 50
log = logging.getLogger("trenchword.office")


@dataclass(frozen=True)
class Effect:
    """What a change would do."""

    trenches: list[Consequence]
    notes: list[CrewNote]
    texts: list[ReadOtherwise]


async def look(
    request: web.Request, file: str, text: str, base: int | None = None, again: bool = False
) -> web.Response:
    """The page that shows what a text of a file would change, and saves it.

    `base` is the change that the text was made on, where a form says so; `again` where another file was saved
    since the last look. Raises DataError where the text cannot be used.
    """
    office, saving = request.config_dict[OFFICE], request.config_dict[SAVING]
    in_force, head = await saving.current()
    if base is not None and base != in_force.base(file):
        return await _overtaken(request, in_force, file, text, base)
    after = await saving.checked(file, text)
    now = office.now

    def find(connection: ReadConnection) -> tuple[list[OpenTrench], list[PastText]]:
        spoken = file.startswith(WORDS)
        return open_trenches(connection, office), read_again.latest_texts(
            connection.db, now
        ) if spoken else []

    open_, texts = await office.read(find)

    def work() -> Effect:
        return Effect(
            consequences(open_, now, in_force, after),
            crew_changes.crew_notes(in_force, after, open_, now) if file == PEOPLE else [],
            read_again.read_otherwise(texts, in_force.basis.words, after.basis.words),
        )

    try:
        effect = await asyncio.to_thread(work)
    except Exception as error:
        # Whatever fails here would fail a crew: it loads, and still an open trench has no answer.
        log.exception("no look: %s", file)
        raise DataError(f"{file}: an open trench could not be answered ({type(error).__name__})") from error
    return page(
        request,
        "look.html",
        status=409 if again else 200,
        again=again,
        draft=Draft(file, text, in_force.base(file), head),
        lines=await asyncio.to_thread(diff.lines, in_force.texts.get(file, ""), text),
        same=in_force.texts.get(file, "") == text and not in_force.is_undecided(file),
        open=len(open_),
        tried=len(texts),
        words=file.startswith(WORDS),
        people=file == PEOPLE,
        days=read_again.DAYS,
        effect=effect,
        alike=alike(effect.trenches),
    )


def alike(found: list[Consequence]) -> list[tuple[tuple[Difference, ...], list[Consequence]]]:
    """Trenches that would be answered otherwise in the same way stand together."""
    together: dict[str, list[Consequence]] = {}
    for each in found:
        together.setdefault(repr(each.differences), []).append(each)
    return [(same[0].differences, same) for same in together.values()]


async def _overtaken(
    request: web.Request, in_force: InForce, file: str, text: str, base: int
) -> web.Response:
    """Somebody saved the file after the form was opened: nothing is saved, and both are shown."""
    mine = await request.config_dict[OFFICE].read(lambda connection: revisions.find(connection.db, base))
    began, now = (mine.text or "") if mine else in_force.shipped.get(file, ""), in_force.texts.get(file, "")
    return page(
        request,
        "overtaken.html",
        status=409,
        file=file,
        change=in_force.changed.get(file),
        theirs=diff.lines(began, now),
        ours=diff.lines(now, text),
    )


@keepers_only
async def save(request: web.Request) -> web.StreamResponse:
    """Save what was looked at."""
    form, saving = await request.post(), request.config_dict[SAVING]
    file, text, why = (
        field(form, "file", 100),
        field(form, "text", MOST),
        field(form, "why", MOST_WHY).strip(),
    )
    draft = Draft(file, text, number(form, "base"), number(form, "seen"))
    if not known(await _texts(request), draft.file):
        raise web.HTTPNotFound(text=f"There is no file {draft.file}.")
    if not why:
        raise web.HTTPBadRequest(text="A change needs its reason. Go back and say why.")
    try:
        saved = await saving.save(draft, why, request[USER].name)
    except OvertakenError:
        return await looked(request, draft.file, draft.text, draft.base, again=True)
    except DataError as error:
        raise web.HTTPUnprocessableEntity(text=f"Not saved. {error}") from error
    raise web.HTTPSeeOther(f"/office/changes/{saved}")


async def every(request: web.Request) -> web.StreamResponse:
    """All changes, newest first."""
    before = request.query.get("before", "")
    start = int(before) if before.isdecimal() and len(before) < 16 else None
    found = await request.config_dict[OFFICE].read(
        lambda connection: revisions.page(connection.db, start, PER_PAGE + 1)
    )
    return page(request, "changes.html", changes=found[:PER_PAGE], more=len(found) > PER_PAGE)


async def one(request: web.Request) -> web.StreamResponse:
    """One change: who, when, why, what, and the way back."""
    in_force = request.config_dict[OFFICE].in_force
    change, before = await _found(request)
    readable = change.text is not None and (before is None or before.text is not None)
    was = before.text or "" if before else ""
    return page(
        request,
        "change.html",
        change=change,
        before=before,
        lines=await asyncio.to_thread(diff.lines, was, change.text or "") if readable else None,
        in_force=in_force.base(change.file) == change.number,
    )


@keepers_only
async def restore(request: web.Request) -> web.StreamResponse:
    """Look at an earlier text of a file, to save it as a new change."""
    change, _ = await _found(request)
    if change.text is None:
        raise web.HTTPGone(text="This text was erased.")
    return await looked(request, change.file, change.text)


@keepers_only
async def decide(request: web.Request) -> web.StreamResponse:
    """Look at a file as it came, or at the office's own, where both changed."""
    form, in_force = await request.post(), request.config_dict[OFFICE].in_force
    file = field(form, "file", 100)
    if file not in in_force.changed:
        raise web.HTTPNotFound(text=f"{file} was not changed.")
    text = in_force.shipped.get(file, "") if "came" in form else in_force.texts.get(file, "")
    return await looked(request, file, text)


async def looked(
    request: web.Request, file: str, text: str, base: int | None = None, again: bool = False
) -> web.Response:
    """The look, where there is no form to show an error in. Raises HTTPUnprocessableEntity."""
    try:
        return await look(request, file, text, base, again)
    except DataError as error:
        raise web.HTTPUnprocessableEntity(text=f"It can no longer be used. {error}") from error


def field(form: Any, name: str, most: int) -> str:
    """A field of a form as text, its line ends as in our files."""
    value = form.get(name, "")
    if not isinstance(value, str):
        raise web.HTTPBadRequest(text=f"{name} is no text.")
    text = value.replace("\r\n", "\n")
    if len(text) > most:
        raise web.HTTPBadRequest(text=f"{name} has more than {most} signs.")
    return text


def number(form: Any, name: str) -> int:
    """A whole number of a form."""
    text = field(form, name, 15)
    if not text.isdecimal():
        raise web.HTTPBadRequest(text=f"{name} is no number.")
    return int(text)


def known(texts: dict[str, str], file: str) -> bool:
    """Whether a file is there, or could be made: a kit."""
    return file in texts or new_kit(file)


def new_kit(file: str) -> bool:
    """Whether a name is that of a kit's file."""
    folder, _, name = file.partition("/")
    stem = name.removesuffix(".toml")
    plain = stem.isascii() and stem.replace("-", "").isalnum() and stem == stem.lower() and len(stem) <= 30
    return folder == "kits" and name == f"{stem}.toml" and plain


async def _texts(request: web.Request) -> dict[str, str]:
    in_force, _ = await request.config_dict[SAVING].current()
    return in_force.texts


async def _found(request: web.Request) -> tuple[Revision, Revision | None]:
    wanted = int(request.match_info["number"])

    def find(connection: ReadConnection) -> tuple[Revision | None, Revision | None]:
        change = revisions.find(connection.db, wanted)
        return change, revisions.one_before(connection.db, change) if change else None

    change, before = await request.config_dict[OFFICE].read(find)
    if change is None:
        raise web.HTTPNotFound(text=f"There is no change {wanted}.")
    return change, before


routes = [
    web.get("/changes", every),
    web.post("/changes/save", save),
    web.post("/changes/decide", decide),
    web.get(r"/changes/{number:\d{1,15}}", one),
    web.post(r"/changes/{number:\d{1,15}}/restore", restore),
]
