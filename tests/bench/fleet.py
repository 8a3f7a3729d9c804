"""A made fleet and its texts: every text is of another trench, and comes from the next fitter of the list.

Every text is sized, none is asked about: a length of 10 m or more has its unit. Beside the fleet stand the
crews whose whole days are played (`days.py`), each with a site, a fitter and a supervisor of its own.
"""

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
    "depth {depth:.2f} width {width:.2f} length {length:.1f}m soil {soil} dry",
    "{depth:.2f} deep {width:.2f} wide {length:.1f}m long {soil} no water",
    "d{depth:.2f}m w{millimetres:.0f} l{length:.1f}m {soil} dry",
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


def crew_number(site: int, who: str) -> str:
    """The telephone number of the fitter ("F") or the supervisor of a crew whose days are played."""
    return f"+44770{80 + (who == 'F')}{site:05}"


def write_people(file: Path, crews: int) -> None:
    """The crew list: the fleet, and so many crews whose days are played."""
    sites = (f'[[site]]\nname = "Street {site}"\n' for site in range(SITES))
    lanes = (f'[[site]]\nname = "Lane {site}"\n' for site in range(crews))
    fleet = (_person(number(n), f"Fitter {n}", "fitter", f"Street {n % SITES}") for n in range(FITTERS))
    crew = (
        _person(crew_number(site, who), f"{role} {site}", role, f"Lane {site}")
        for site in range(crews)
        for who, role in (("F", "fitter"), ("S", "supervisor"))
    )
    file.write_text("\n".join((*sites, *lanes, *fleet, *crew)), encoding="utf-8")


def _person(number: str, name: str, role: str, site: str) -> str:
    return f'[[person]]\nnumber = "{number}"\nname = "{name}"\nrole = "{role}"\nsite = "{site}"\n'


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
    """The headers and the body of JSON hooks that bring the fleet's texts."""
    for n, text in enumerate(texts()):
        yield hook(f"bench-{n}", number(n % FITTERS), text)


def hook(id: str, sender: str, text: str) -> tuple[bytes, bytes]:
    """One JSON hook, signed as Standard Webhooks at the time it is made."""
    body = json.dumps({"id": id, "from": sender, "text": text}).encode()
    stamp = str(int(time.time()))
    digest = hmac.digest(KEY, f"{id}.{stamp}.".encode() + body, "sha256")
    headers = (
        f"webhook-id: {id}\r\nwebhook-timestamp: {stamp}\r\n"
        f"webhook-signature: v1,{base64.b64encode(digest).decode()}\r\n"
    )
    return headers.encode(), body
