"""`trenchword serve`: the service on HTTP."""

import argparse
import asyncio
import gc
import logging
import os
import secrets
import signal
import socket
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from aiohttp import web
from pydantic import SecretStr

from bot.channels.base import Channel
from bot.channels.json import Json
from bot.clock import Clock, MachineClock, MessageClock
from bot.commands import Commands, UsageError
from bot.config import settings
from bot.config.in_force import InForce, warn
from bot.config.people import People
from bot.config.settings import Settings, SettingsError
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.demo.phones import phones_of, sending_to
from bot.demo.seed import PEOPLE, seed
from bot.office import users
from bot.office.mount import setup as setup_office
from bot.service import Service
from bot.storage.alone import Alone
from bot.storage.one_name import give_one_name
from bot.storage.records import Records
from bot.storage.turns import Store
from bot.web import phone, slow_headers
from bot.web.app import HOOKS, application
from bot.web.jsonlog import logged_as_json
from bot.web.phone import PhonePage
from knowledge.sourced import DataError

log = logging.getLogger("trenchword.serve")
DEMO_DB = Path("trenchword-demo.sqlite")
TRY_NEXT = """
This is the demo: crew, site and kits are invented.{phone} Text it, in another terminal:

  curl {url}/hook/json \\
    -d '{{"id": "try-1", "from": "+447700900123", "text": "depth 1.6 width 0.9 soil firm clay"}}'

Sam (+447700900123) is a fitter, Alex (+447700900124) the supervisor. The office is at {url}/office/ :
name "demo", password "{password}" (made for this run). The record can be read here too:

  trenchword log list --db {db}
  trenchword log verify --db {db}
"""


def add(commands: Commands) -> None:
    """Put the command on the command line."""
    command = commands.add_parser("serve", help="run the service")
    command.add_argument("--host", help="address to listen on (127.0.0.1)")
    command.add_argument("--port", type=int, help="port to listen on (8080); 0 for any free one")
    command.add_argument("--db", type=Path, metavar="FILE", help="the SQLite file (trenchword.sqlite)")
    command.add_argument(
        "--people", type=Path, metavar="FILE", help="who may text, TOML; what the office changed wins"
    )
    command.add_argument("--clock", choices=("machine", "messages"), help="messages: the latest sent_at")
    command.add_argument("--log-level", choices=("debug", "info", "warning", "error"))
    command.add_argument("--demo", action="store_true", help="an invented crew, and a few days of exchanges")
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Serve until stopped by SIGINT or SIGTERM, then finish what was taken."""
    flags = {name: getattr(args, name) for name in Settings.model_fields if hasattr(args, name)}
    if args.demo:
        flags = {"db": DEMO_DB, "people": PEOPLE} | {n: v for n, v in flags.items() if v is not None}
    wanted = settings.read_settings(flags, os.environ)
    channels = settings.read_channels(os.environ)
    if args.demo:
        channels.setdefault("json", Json())
    settings.check_exposure(wanted, channels, args.demo)
    with logged_as_json(wanted.log_level), Alone(wanted.db), _listening(wanted) as bound:
        host, port = bound.getsockname()[:2]
        url = f"http://{f'[{host}]' if ':' in host else host}:{port}"
        app, demo = _loaded(wanted, channels, url if args.demo else None)
        asyncio.run(_serve(app, wanted, bound, url, demo))
    return 0


def _listening(wanted: Settings) -> socket.socket:
    """The port is taken before anything is loaded, since the demo's texts need to know where they go; nobody
    is let in by it before the service is there."""
    taken = socket.socket(socket.AF_INET6 if ":" in wanted.host else socket.AF_INET)
    if os.name == "posix":  # elsewhere it would let a second service take the same port
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        taken.bind((wanted.host, wanted.port))
    except OSError:
        taken.close()
        raise
    return taken


@dataclass(frozen=True)
class Demo:
    """What only the demo has: its office's password, and whether the phones are there."""

    password: str
    phones: bool


def _loaded(
    wanted: Settings, channels: dict[str, Channel], url: str | None
) -> tuple[web.Application, Demo | None]:
    """The service ready to run; `url` is the demo's own, None where it is no demo."""
    gc.disable()  # what is loaded here stays: looking through it for garbage would take half of the start
    try:
        made = _load(wanted, channels, url)
        gc.freeze()
        return made
    except (DataError, SettingsError):
        raise
    except (ValueError, TypeError, LookupError) as error:
        # What stands in the file is no longer what was written.
        raise UsageError(
            f"{wanted.db} cannot be read ({type(error).__name__}): bring back a copy of it"
        ) from error
    finally:
        gc.enable()


def _load(
    wanted: Settings, channels: dict[str, Channel], url: str | None
) -> tuple[web.Application, Demo | None]:
    if wanted.people:
        People.load(wanted.people)  # before a log is made: a file that cannot be read leaves none behind
    token = secrets.token_urlsafe(32)
    by_phone = url is not None and channels["json"] == Json()  # who set up a channel has phones of their own
    if url and by_phone:
        channels["json"] = sending_to(f"{url}/phone/inbox/{token}")
        wanted = _for_phones(wanted, url)
    store = Store(wanted.db)
    in_force = InForce.load(store.db, wanted.people)
    warn(in_force)
    if settings.is_mute(channels):
        log.warning(settings.MUTE)
    basis, people = in_force.basis, in_force.people
    if url and store.latest_sent() is None:
        seed(store, people, basis, datetime.now(UTC))
    clock = _clock(wanted, store)
    with store.transaction():
        give_one_name(store, basis.tables, clock.now())
    service = Service(
        store, people, basis, clock, channels, links=wanted.links, keep_pictures=wanted.keep_pictures
    )
    reminders = Reminders(store, people, basis, Route(store, channels))
    app = application(store, service, reminders, clock, channels)
    setup_office(app, store, wanted.db, in_force, clock)
    if url is None:
        return app, None
    phones = phones_of(people) if by_phone else None
    if phones:
        records, submit = Records(store.db, basis.tables), app[HOOKS].submit
        site = phones.fitter.site
        phone.setup(app, PhonePage(phones, url, token, lambda: submit(lambda: records.next_ref(site))))
    return app, Demo(_demo_user(store), phones is not None)


def _for_phones(wanted: Settings, url: str) -> Settings:
    """The demo's sketches are seen on its own page, where nobody set up links, and its pictures are kept."""
    wanted = wanted.model_copy(update={"keep_pictures": True})
    if wanted.links:
        return wanted
    secret = SecretStr(secrets.token_urlsafe(32))
    return wanted.model_copy(update={"public_url": url, "sketch_secrets": (secret,)})


def _clock(wanted: Settings, store: Store) -> Clock:
    return MachineClock() if wanted.clock == "machine" else MessageClock(store.latest_sent())


def _demo_user(store: Store) -> str:
    """Make the demo's office user anew. Returns their password, which is kept nowhere else."""
    password = secrets.token_urlsafe(12)
    with store.transaction():
        if any(user.name == "demo" for user in users.every(store.db)):
            users.remove(store.db, "demo")
        users.add(store.db, "demo", "keeper", password, datetime.now(UTC))
    return password


async def _serve(
    app: web.Application, wanted: Settings, bound: socket.socket, url: str, demo: Demo | None
) -> None:
    stop = asyncio.Event()
    for signum in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(signum, stop.set)
    runner = web.AppRunner(app, access_log=None, shutdown_timeout=10)
    await runner.setup()
    try:
        await web.SockSite(runner, bound, backlog=512).start()
        print(f"Trenchword listens on {url}, log in {wanted.db}", flush=True)
        if demo:
            there = f" Its two phones are at {url}/phone/" if demo.phones else ""
            print(TRY_NEXT.format(url=url, db=wanted.db, password=demo.password, phone=there), flush=True)
        assert runner.server is not None
        watching = asyncio.create_task(slow_headers.watch(runner.server))
        await stop.wait()
        watching.cancel()
    finally:
        await runner.cleanup()
