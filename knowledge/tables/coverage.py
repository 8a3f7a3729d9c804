"""Which paragraph of the rulebooks is handled where, or why not: `coverage.toml`."""

from pydantic import Field, model_validator

from knowledge.sourced import DataRow, Sourced


class Paragraph(DataRow):
    """One paragraph that bears on this work.

    `where`: "rules.toml#rule.ladder" (a key of a data file), "knowledge/entry/steps.py::take_out" (a name in
    a module) or "tests/test_steps.py::test_x". `but`: what part of it is not handled, and why. `not`: why
    none of it is.
    """

    at: str
    about: str
    where: tuple[str, ...] = ()
    but: str = ""
    not_: str = Field(default="", alias="not")

    @model_validator(mode="after")
    def _one_answer(self) -> "Paragraph":
        if bool(self.where) == bool(self.not_):
            raise ValueError(f"{self.at}: say either `where` it is handled or why `not`")
        return self


class Publication(Sourced):
    """A regulation, standard or guide."""

    paragraph: tuple[Paragraph, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _once(self) -> "Publication":
        places = [p.at for p in self.paragraph]
        if len(set(places)) < len(places):
            raise ValueError("one paragraph twice")
        return self


class Coverage(DataRow):
    """`coverage.toml`."""

    text: tuple[Publication, ...]
