"""A made fleet and its texts: every text is of another trench, and comes from the next fitter of the list."""

import base64
import hmac
import json
import time
from collections.abc import Iterator
from itertools import count
from pathlib import Path

SITES, FITTERS = 1_000, 2_000
SECRET = "whsec_" + base64.b64encode(b"for the bench alone, no secret").decode()
KEY = base64.b64decode(SECRET.removeprefix("whsec_"))
SOILS = ("firm clay", "firm sandy clay", "stiff clay", "very stiff clay")
SAYINGS = (
    "depth {depth:.2f} width {width:.2f} length {length:.1f} soil {soil} dry",
    "{depth:.2f} deep {width:.2f} wide {length:.1f} long {soil} no water",
    "d{depth:.2f}m w{millimetres:.0f} l{length:.1f} {soil} dry",
    "trench {depth:.2f}m deep, {millimetres:.0f}mm wide, {length:.1f}m long. {soil}, no water, no traffic",
)
DEPTHS, WIDTHS, LENGTHS = (
    101,
    61,
    91,
)  # 0.90 to 1.90 m and 0.60 to 1.20 m by centimetres, 3 to 12 m by decimetres
TRENCHES = DEPTHS * WIDTHS * LENGTHS
STEP = 2_654_435_761  # shares no factor with TRENCHES: every trench comes once before one comes twice


def number(fitter: int) -> str:
    """The telephone number of a fitter."""
    return f"+4477009{fitter:05}"


def write_people(file: Path) -> None:
    """The crew list of the fleet."""
    sites = (f'[[site]]\nname = "Street {site}"\n' for site in range(SITES))
    people = (
        f'[[person]]\nnumber = "{number(n)}"\nname = "Fitter {n}"\nrole = "fitter"\n'
        f'site = "Street {n % SITES}"\n'
        for n in range(FITTERS)
    )
    file.write_text("\n".join((*sites, *people)), encoding="utf-8")


def texts() -> Iterator[str]:
    """Texts that tell a whole trench each."""
    for n in count():
        at = n * STEP % TRENCHES
        at, depth = divmod(at, DEPTHS)
        length, width = divmod(at, WIDTHS)
        metres = 0.6 + width / 100
        yield SAYINGS[n % len(SAYINGS)].format(
            depth=0.9 + depth / 100,
            width=metres,
            millimetres=metres * 1000,
            length=3 + length / 10,
            soil=SOILS[n // len(SAYINGS) % len(SOILS)],
        )


def hooks() -> Iterator[tuple[bytes, bytes]]:
    """The headers and the body of JSON hooks, signed as Standard Webhooks at the time they are made."""
    for n, text in enumerate(texts()):
        body = json.dumps({"id": f"bench-{n}", "from": number(n % FITTERS), "text": text}).encode()
        stamp = str(int(time.time()))
        digest = hmac.digest(KEY, f"bench-{n}.{stamp}.".encode() + body, "sha256")
        headers = (
            f"webhook-id: bench-{n}\r\nwebhook-timestamp: {stamp}\r\n"
            f"webhook-signature: v1,{base64.b64encode(digest).decode()}\r\n"
        )
        yield headers.encode(), body
