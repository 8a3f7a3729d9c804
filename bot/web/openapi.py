"""The OpenAPI description: `openapi.toml`, the shapes of texts and exchanges, and what all hooks share."""

import tomllib
from collections.abc import Collection
from pathlib import Path
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import JsonSchemaMode, models_json_schema

from bot.channels.json import JsonText
from knowledge.outcome import Outcome
from knowledge.reading import Reading

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


class Bad(BaseModel):
    """Why a hook was refused, and the field that is to blame where there is one."""

    error: str
    field: str = ""


def description(channels: Collection[str], version: str) -> dict[str, Any]:
    """The whole description, with the hooks of these channels only."""
    told: dict[str, Any] = tomllib.loads(FILE.read_text(encoding="utf-8"))
    told["info"]["version"] = version
    told["paths"] = {
        path: operations
        for path, operations in told["paths"].items()
        if not path.startswith("/hook/") or path.removeprefix("/hook/") in channels
    }
    told["components"] = {"schemas": _schemas()}
    for path, operations in told["paths"].items():
        if path.startswith("/hook/"):
            for operation in operations.values():
                operation["responses"] = _refusals(path) | operation.get("responses", _plain())
    return told


def _schemas() -> dict[str, Any]:
    shapes: list[tuple[type[BaseModel], JsonSchemaMode]] = [
        (JsonText, "validation"),
        (Exchange, "serialization"),
        (Bad, "serialization"),
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
