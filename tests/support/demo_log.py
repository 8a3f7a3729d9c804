"""A log with the demo's exchanges in it."""

from datetime import UTC, datetime
from pathlib import Path

from shipped import shipped

from bot.commands.serve import PEOPLE
from bot.config.people import People
from bot.demo.seed import seed
from bot.storage.turns import Store


def demo_log(folder: Path) -> str:
    """The file, made in `folder` and closed."""
    file = folder / "demo.sqlite"
    store = Store(file)
    assert seed(store, People.load(PEOPLE), shipped(), datetime.now(UTC)) > 10
    store.close()
    return str(file)
