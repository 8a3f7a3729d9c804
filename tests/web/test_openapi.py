"""The OpenAPI description says what is there: checked by a validator of the standard and against the code."""

import pytest
from channel_samples import channel
from openapi_spec_validator import validate
from shipped import shipped

from bot.channels.base import all_channels
from bot.clock import MachineClock
from bot.config.people import People
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.service import Service
from bot.storage.turns import Store
from bot.web.app import application
from bot.web.openapi import description


def test_the_description_is_valid_openapi() -> None:
    validate(description(all_channels(), "1"))


def test_every_path_that_is_served_is_described_and_no_other() -> None:
    store, people, basis, clock = Store(":memory:"), People(), shipped(), MachineClock()
    channels = {name: channel(name) for name in all_channels()}
    service = Service(store, people, basis, clock, channels)
    app = application(
        store, service, Reminders(store, people, basis, Route(store, channels)), clock, channels
    )
    served = {route.resource.canonical for route in app.router.routes() if route.resource}
    served -= {"/hook/{channel}", "/hook/{channel}/{rest}"}
    assert set(description(channels, "1")["paths"]) == served | {f"/hook/{name}" for name in channels}
    store.close()


@pytest.mark.parametrize("name", sorted(all_channels()))
def test_only_channels_that_are_set_up_are_described(name: str) -> None:
    hooks = [path for path in description({name}, "1")["paths"] if path.startswith("/hook/")]
    assert hooks == [f"/hook/{name}"]
