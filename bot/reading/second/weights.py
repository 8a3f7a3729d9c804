"""The file of the second reader's weights: what training writes and the service loads.

One line of JSON (stamp, digest of the body, buckets, columns with scale and bias), then a byte for each
bucket and column, bucket after bucket: a weight as a signed number, to be multiplied by its column's scale.
"""

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cached_property
from math import isfinite
from pathlib import Path
from typing import Literal

from knowledge.sourced import DataError

FARTHEST = 127  # of a signed byte
ORDER = ("danger", "purpose", "fact")  # of the columns


@dataclass(frozen=True)
class Column:
    """What is listened for: `danger`, a purpose, or the fact of entry that is spoken `of`. Log odds = bias +
    scale x sum / sqrt(features)."""

    of: Literal["danger", "purpose", "fact"]
    name: str
    scale: float
    bias: float


@dataclass(frozen=True)
class Weights:
    """What training found. `stamp` is the digest of the labelled texts and settings that it is from."""

    stamp: str
    buckets: int
    columns: tuple[Column, ...]
    body: bytes

    @cached_property
    def signed(self) -> memoryview:
        """The body as signed numbers."""
        return memoryview(self.body).cast("b")

    def row(self, bucket: int) -> tuple[int, ...]:
        """The weights of one bucket, a whole number for each column."""
        width = len(self.columns)
        return tuple(self.signed[bucket * width : (bucket + 1) * width])


def write(weights: Weights) -> bytes:
    """The file's bytes: the same for the same weights."""
    head = {
        "stamp": weights.stamp,
        "body": hashlib.sha256(weights.body).hexdigest(),
        "buckets": weights.buckets,
        "columns": [asdict(each) for each in weights.columns],
    }
    return json.dumps(head).encode() + b"\n" + weights.body


def load(path: Path) -> Weights:
    """The weights of a file. Raises DataError, naming file, key and reason, where it is not whole."""
    line, _, body = path.read_bytes().partition(b"\n")
    try:
        head = json.loads(line)
        columns = tuple(Column(**each) for each in head["columns"])
        weights = Weights(str(head["stamp"]), int(head["buckets"]), columns, body)
        digest = str(head["body"])
    except (ValueError, KeyError, TypeError) as error:
        raise DataError(f"{path.name}: first line: {type(error).__name__}: {error}") from None
    _check(path.name, weights, digest)
    return weights


def _check(name: str, weights: Weights, digest: str) -> None:
    if weights.buckets < 1 or len(weights.body) != weights.buckets * len(weights.columns):
        raise DataError(f"{name}: body: {len(weights.body)} bytes, not one for each bucket and column")
    if hashlib.sha256(weights.body).hexdigest() != digest:
        raise DataError(f"{name}: body: not what was written: its digest is another")
    for column in weights.columns:
        figures = (column.scale, column.bias)
        if not all(isinstance(each, float | int) and isfinite(each) for each in figures) or column.scale <= 0:
            raise DataError(
                f"{name}: columns.{column.name}: scale {column.scale}, bias {column.bias} cannot be"
            )
    names = [column.name for column in weights.columns]
    kinds = [column.of for column in weights.columns]
    ordered = sorted(kinds, key=ORDER.index) if set(kinds) == set(ORDER) else []
    if kinds != ordered or kinds.count("danger") != 1 or len(names) != len(set(names)):
        raise DataError(f"{name}: columns: {names} are not danger, then purposes, then facts, each once")
