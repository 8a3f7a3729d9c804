"""The OpenAPI description: `openapi.toml`, the shapes of texts and exchanges, and what all hooks share."""

import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any, Literal

from pydantic import AwareDatetime, BaseModel, Field
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from bot.channels.json import JsonText
from bot.delivery.events import EVENT_TYPES, ProgramEvent
from knowledge.outcome import Outcome
from knowledge.reading import Reading

BOARD = "/trenches.json"
FILE = Path(__file__).with_name("openapi.toml")
REFUSALS = {
    "400": "Not what this hook takes.",
    "401": "Not signed, or not by whom it should be.",
    "403": "The verify token is not right.",
    "405": "Not by this method.",
    "408": "The body did not come in time.",
    "413": "Too long.",
    "422": "A field is missing or cannot be used; the answer says which.",
    "503": "Not taken: come back later. The sender is to ring.",
}


class Exchange(BaseModel):
    """A text and what was decided on it. `exchange` is its number on the log."""

    exchange: int
    reply: str
    reading: Reading
    outcome: Outcome


class BoardTrench(BaseModel):
    """One open trench as the office's first page shows it, without anybody's name, number or words.

    `state` is one of six, and `says` the same in words. None of them is a permission: only the competent
    person on site lets people in, and `let_in_until` says until when they have. What is null was not told.
    """

    site: str
    trench: str
    state: Literal["hazard", "stop", "in", "wait", "no", "clear"]
    says: str
    facts: tuple[str, ...] = Field(description="what stands in the way of entry, by its facts, worst first")
    since: AwareDatetime | None = Field(description="of the worst of them")
    dug_m: float | None
    planned_m: float | None
    units_set: int
    units_planned: int | None
    inspected_at: AwareDatetime | None
    inspection_counts: bool
    let_in_until: AwareDatetime | None
    people_in: int = Field(description="as told; 0 is not a proof that nobody is in")
    not_told: int = Field(description="alarms about it that reached nobody yet")
    heard_at: AwareDatetime


class BoardTrenches(BaseModel):
    """Every open trench, the worst first, as it stood `at`. A board that cannot read this anew must say so:
    what it shows may be over within seconds."""

    at: AwareDatetime
    trenches: tuple[BoardTrench, ...]


class Bad(BaseModel):
    """Why a hook was refused, and the field that is to blame where there is one."""

    error: str
    field: str = ""


def description(channels: Collection[str], version: str, board: bool = False) -> dict[str, Any]:
    """The whole description, with the hooks of these channels only; `board`: open trenches can be read."""
    told: dict[str, Any] = tomllib.loads(FILE.read_text(encoding="utf-8"))
    told["info"]["version"] = version
    told["paths"] = {
        path: operations
        for path, operations in told["paths"].items()
        if (path.removeprefix("/hook/") in channels if path.startswith("/hook/") else path != BOARD or board)
    }
    told["webhooks"] = {type_: _event(why) for type_, why in EVENT_TYPES.items()}
    told["components"] = {"schemas": _schemas()}
    for path, operations in told["paths"].items():
        if path.startswith("/hook/"):
            for operation in operations.values():
                operation["responses"] = _refusals(path) | operation.get("responses", _plain())
    return told


def _event(why: str) -> dict[str, Any]:
    """One kind of event, posted to each of the company's own programs."""
    signed = [
        {"name": name, "in": "header", "required": True, "schema": {"type": "string"}}
        for name in ("webhook-id", "webhook-timestamp", "webhook-signature")
    ]
    body = {
        "required": True,
        "content": {"application/json": {"schema": {"$ref": "#/components/schemas/ProgramEvent"}}},
    }
    taken = {
        "2XX": {"description": "Taken. 4xx but 408, 425 and 429 ends it; else it comes again for a day."}
    }
    return {"post": {"summary": why, "parameters": signed, "requestBody": body, "responses": taken}}


def _schemas() -> dict[str, Any]:
    shapes: list[tuple[type[BaseModel], JsonSchemaMode]] = [
        (JsonText, "validation"),
        (Exchange, "serialization"),
        (Bad, "serialization"),
        (ProgramEvent, "serialization"),
        (BoardTrenches, "serialization"),
    ]
    _, whole = models_json_schema(shapes, ref_template="#/components/schemas/{model}")
    defined: dict[str, Any] = whole["$defs"]
    return defined


def _plain() -> dict[str, Any]:
    text = {"schema": {"type": "string"}}
    content = {"text/plain": text, "text/xml": text}
    return {"200": {"description": "Taken, and on the disk.", "content": content}}


def _refusals(path: str) -> dict[str, Any]:
    if path == "/hook/json":
        content: dict[str, Any] = {"application/json": {"schema": {"$ref": "#/components/schemas/Bad"}}}
    else:
        content = {"text/plain": {"schema": {"type": "string"}}}
    return {status: {"description": why, "content": content} for status, why in REFUSALS.items()}
