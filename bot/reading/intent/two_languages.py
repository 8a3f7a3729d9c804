"""One reading of several, where words fit two languages ("largo" is long in Spanish, wide in Portuguese)."""

from collections.abc import Sequence

from bot.message import Heard
from knowledge.reading import ASKED, Reading

VALUES = tuple(ASKED)
AGAINST = (
    "hazards",
    "undone",
    "not_so",
    "left_over",
    "proposed",
    "site_words",
)  # what one of them says counts
JOINED = ("purpose", "done", "questions", "unread", "danger", *AGAINST)  # each in its own way, see below


def merged(heard: Sequence[Heard]) -> Heard:
    """One reading of several: a field in which they differ is asked about, a danger in any one counts."""
    first = heard[0]
    if len(heard) == 1:
        return first
    readings = [one.reading for one in heard]
    differing = {name for name in Reading.model_fields if name not in JOINED and any(_differ(name, readings))}
    asked = {name for one in readings for name in one.questions} | (differing & set(VALUES))
    hazards = tuple(dict.fromkeys(hazard for one in readings for hazard in one.hazards))
    purposes = [one.purpose for one in readings if one.purpose != "unclear"]
    blank = Reading()
    reading = readings[0].model_copy(
        update={name: getattr(blank, name) for name in differing}
        | {
            "purpose": "report" if hazards else next(iter(purposes), "unclear"),
            "questions": tuple(name for name in VALUES if name in asked),
            "done": tuple(what for what in readings[0].done if all(what in one.done for one in readings)),
            "danger": max((one.danger for one in readings if one.danger is not None), default=None),
            **{
                name: tuple(dict.fromkeys(what for one in readings for what in getattr(one, name)))
                for name in AGAINST
            },
        }
    )
    doubtful = {name for one in heard for name in one.doubtful} | differing
    return first.model_copy(
        update={"reading": reading, "doubtful": tuple(name for name in VALUES if name in doubtful)}
    )


def _differ(name: str, readings: Sequence[Reading]) -> list[bool]:
    return [getattr(one, name) != getattr(readings[0], name) for one in readings[1:]]
