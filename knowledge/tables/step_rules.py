"""The sentences of digging in and taking out: `steps.toml`, validated row by row."""

from typing import Literal, get_args

from pydantic import Field, model_validator

from knowledge.sourced import DataRow, Sentence

StepName = Literal[
    "dig-first",
    "dig-on",
    "set",
    "set-every",
    "ends",
    "ladder",
    "inspect",
    "fill",
    "release",
    "release-last",
    "fill-up",
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
    """`steps.toml`."""

    step: dict[StepName, StepRule]

    @model_validator(mode="after")
    def _whole(self) -> "StepRules":
        if missing := set(get_args(StepName)) - self.step.keys():
            raise ValueError(f"no step {', '.join(sorted(missing))}")
        return self
