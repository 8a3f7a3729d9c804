"""The sentences of digging in and taking out: `steps.toml`, validated row by row."""

from typing import Literal, get_args

from pydantic import Field, model_validator

from knowledge.reading import How
from knowledge.sourced import DataRow, Sentence

StepName = Literal[
    "dig-first",
    "dig-on",
    "set",
    "set-every",
    "prop",
    "ends",
    "ladder",
    "inspect",
    "fill",
    "release",
    "release-last",
    "fill-up",
    "fill-up-props",
]
Need = Literal[
    "services located",
    "kit at hand",
    "face stands",
    "levels hold",
    "nobody in",
    "nobody outside the supported length",
    "ends closed",
    "ladder in",
    "work done",
    "filled close under",
]


class StepRule(Sentence):
    """One kind of step: its sentence, and what must be true first."""

    needs: tuple[Need, ...] = Field(min_length=1)


class StepRules(DataRow):
    """`steps.toml`: the steps of one trench, and how any unit is made ready, set and taken out, in order."""

    step: dict[StepName, StepRule]
    how: dict[How, dict[str, Sentence]]

    @model_validator(mode="after")
    def _whole(self) -> "StepRules":
        for how in get_args(How):
            if not self.how.get(how):
                raise ValueError(f"no line says how: how.{how}")
        blank = next(
            (f"{how}.{n}" for how, rows in self.how.items() for n, r in rows.items() if r.blanks), None
        )
        if blank:
            raise ValueError(f"how.{blank}: holds for any trench, so that nothing fills its blanks")
        if missing := set(get_args(StepName)) - self.step.keys():
            raise ValueError(f"no step {', '.join(sorted(missing))}")
        return self
