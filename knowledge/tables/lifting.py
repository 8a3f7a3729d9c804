"""How many people lift a thing: the HSE lifting and lowering filter, `lifting.toml`."""

from typing import Literal, get_args

from pydantic import Field, model_validator

from knowledge.sourced import DataRow, Sourced
from knowledge.units import Degree, Kilogram, Ratio

Height = Literal[
    "above shoulder",
    "shoulder to elbow",
    "elbow to knuckle",
    "knuckle to mid lower leg",
    "below mid lower leg",
]
Who = Literal["men", "women", "anyone"]
Reach = Literal["close", "out"]


class Box(DataRow):
    """What one person may lift at one height, hands close to the body or arms out."""

    close: Kilogram = Field(gt=0)
    out: Kilogram = Field(gt=0)


class Boxes(Sourced):
    men: Box
    women: Box


class Cut(Sourced):
    """Per cent taken off beyond a bound."""

    above: float
    cut: float = Field(gt=0, lt=100)


class Team(Sourced):
    """What part of the sum of their single capacities so many people can lift together."""

    people: int = Field(ge=2)
    share: Ratio = Field(gt=0, lt=1)


class Lifting(DataRow):
    """`lifting.toml`. Cuts and teams rise."""

    height: dict[Height, Boxes]
    often: tuple[Cut, ...]
    twist: tuple[Cut, ...]
    team: tuple[Team, ...]

    @model_validator(mode="after")
    def _whole(self) -> "Lifting":
        if missing := set(get_args(Height)) - self.height.keys():
            raise ValueError(f"no height {', '.join(sorted(missing))}")
        for rows in (
            [c.above for c in self.often],
            [c.above for c in self.twist],
            [t.people for t in self.team],
        ):
            if rows != sorted(rows):
                raise ValueError("cuts and teams must rise")
        return self

    def capacity(
        self, height: Height, reach: Reach, who: Who = "anyone", a_minute: float = 0.0, twist: Degree = 0.0
    ) -> Kilogram:
        """What one person may lift there: of anyone, the lower figure; less what the cuts take off."""
        boxes = self.height[height]
        people = {"men": [boxes.men], "women": [boxes.women], "anyone": [boxes.men, boxes.women]}[who]
        kg = min(getattr(box, reach) for box in people)
        for cuts, found in ((self.often, a_minute), (self.twist, twist)):
            kg *= 1 - max((c.cut for c in cuts if found > c.above), default=0) / 100
        return float(kg)

    def hands(
        self, mass: Kilogram, height: Height = "elbow to knuckle", reach: Reach = "close"
    ) -> int | None:
        """How many people lift `mass`, whoever they are; None where it takes a machine."""
        one = self.capacity(height, reach)
        if mass <= one:
            return 1
        return next((t.people for t in self.team if mass <= t.people * one * t.share), None)
