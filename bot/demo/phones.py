"""The two phones of the demo: who holds them, the stories to click through, and the channel behind them."""

import base64
import secrets
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from pydantic import SecretStr

from bot.channels.base import Hook, HookContent
from bot.channels.json import Json
from bot.config.people import People
from bot.message import Person
from knowledge.sourced import DataRow, parse

STORIES = Path(__file__).parent / "phone_stories.toml"


class StoryStep(DataRow):
    """One text of a story."""

    who: Literal["fitter", "supervisor"]
    say: str
    see: str


class PhoneStory(DataRow):
    """Texts to send one after another."""

    title: str
    step: tuple[StoryStep, ...]


class PhoneStories(DataRow):
    """The file whole."""

    story: tuple[PhoneStory, ...]


class DemoJson(Json):
    """The JSON channel of the demo: texts come in unsigned, from this machine only, and go to the phones."""

    def read(self, hook: Hook) -> HookContent:
        """One message, as a channel without a secret takes it. Raises BadHook."""
        return Json().read(hook)


@dataclass(frozen=True)
class Phones:
    """The fitter and the supervisor whose phones are shown, and the stories."""

    fitter: Person
    supervisor: Person
    stories: tuple[PhoneStory, ...]

    @property
    def people(self) -> tuple[Person, Person]:
        return self.fitter, self.supervisor


def phones_of(people: People) -> Phones | None:
    """The phones of a site that has a fitter and a supervisor; None where no site has."""
    for fitter in people:
        supervisors = people.supervisors(fitter.site)
        if fitter.role == "fitter" and supervisors:
            return Phones(fitter, supervisors[0], parse(STORIES, PhoneStories).story)
    return None


def sending_to(url: str) -> DemoJson:
    """The channel whose alerts and codes go to `url`."""
    secret = SecretStr(base64.b64encode(secrets.token_bytes(32)).decode())
    return DemoJson(send_url=url, secrets=(secret,))
