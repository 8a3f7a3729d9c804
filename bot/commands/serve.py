"""`trenchword serve`: the service on HTTP."""

import argparse
import asyncio
import gc
import logging
import os
import secrets
import signal
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path

from aiohttp import web

from bot.channels.base import Channel
from bot.clock import Clock, MachineClock, MessageClock
from bot.commands import Commands
from bot.config import settings
from bot.config.in_force import InForce, warn
from bot.config.people import People
from bot.config.settings import Settings
from bot.delivery.reminders import Reminders
from bot.delivery.route import Route
from bot.demo.seed import PEOPLE, seed
from bot.office import users
from bot.office.mount import setup as setup_office
from bot.service import Service
from bot.storage.alone import Alone
from bot.storage.turns import Store
from bot.web.app import application
from bot.web.jsonlog import logged_as_json

log = logging.getLogger("trenchword.serve")
DEMO_DB = Path("trenchword-demo.sqlite")
TRY_NEXT = """
This is the demo: crew, site and kits are invented. Text it, in another terminal:

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
    settings.check_exposure(wanted, channels)
    with logged_as_json(wanted.log_level), Alone(wanted.db):
        app, password = _loaded(wanted, channels, args.demo)
        asyncio.run(_serve(app, wanted, password))
    return 0


def _loaded(wanted: Settings, channels: Mapping[str, Channel], demo: bool) -> tuple[web.Application, str]:
    """The service ready to run, and the password of the demo's office."""
    gc.disable()  # what is loaded here stays: looking through it for garbage would take half of the start
    try:
        app, password = _load(wanted, channels, demo)
        gc.freeze()
        return app, password
    finally:
        gc.enable()


def _load(wanted: Settings, channels: Mapping[str, Channel], demo: bool) -> tuple[web.Application, str]:
    if wanted.people:
        People.load(wanted.people)  # before a log is made: a file that cannot be read leaves none behind
    store = Store(wanted.db)
    in_force = InForce.load(store.db, wanted.people)
    warn(in_force)
    if settings.is_mute(channels):
        log.warning(settings.MUTE)
    basis, people = in_force.basis, in_force.people
    if demo and store.latest_sent() is None:
        seed(store, people, basis, datetime.now(UTC))
    clock = _clock(wanted, store)
    service = Service(store, people, basis, clock, channels, links=wanted.links)
    reminders = Reminders(store, people, basis, Route(store, channels))
    app = application(store, service, reminders, clock, channels)
    setup_office(app, store, wanted.db, in_force, clock)
    return app, _demo_user(store) if demo else ""


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


async def _serve(app: web.Application, wanted: Settings, password: str) -> None:
    stop = asyncio.Event()
    for signum in (signal.SIGINT, signal.SIGTERM):
        asyncio.get_running_loop().add_signal_handler(signum, stop.set)
    runner = web.AppRunner(app, access_log=None, shutdown_timeout=10)
    await runner.setup()
    try:
        await web.TCPSite(runner, wanted.host, wanted.port, backlog=512).start()
        host, port = runner.addresses[0][:2]
        print(f"Trenchword listens on http://{host}:{port}, log in {wanted.db}", flush=True)
        if password:
            url = f"http://{host}:{port}"
            print(TRY_NEXT.format(url=url, db=wanted.db, password=password), flush=True)
        await stop.wait()
    finally:
        await runner.cleanup()
