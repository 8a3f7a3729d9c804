"""A real SMS gateway on loopback: Kannel of Debian's packages, with a simulated network and its phones."""

import contextlib
import re
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote_from_bytes, quote_plus, unquote_to_bytes

import patience

CONF = Path(__file__).parents[2] / "bot" / "deploy" / "kannel.conf"
SAM, SERVICE = "447700900123", "70011"
MISSING = (
    ""
    if shutil.which("bearerbox") and shutil.which("smsbox")
    else "Kannel is not here: apt-get install --no-install-recommends kannel"
)

NETWORK = """
group = smsc
smsc = fake
smsc-id = FAKE
port = {smsc}
connect-allow-ip = "127.0.0.1"
"""
QUICKER = {"http-queue-delay = 10": "http-queue-delay = 1", "-mo-timeout = 60": "-mo-timeout = 2"}


def configuration(hook: str, password: str, ports: Mapping[str, int]) -> str:
    """The configuration as shipped, on other ports, with shorter waits, and with a simulated network."""
    text = CONF.read_text(encoding="utf-8")
    changes = QUICKER | {
        "13000": str(ports["admin"]),
        "13001": str(ports["box"]),
        "13013": str(ports["sendsms"]),
        "/var/spool/kannel": "spool",
        "SENDSMS-PASSWORD": password,
        "http://127.0.0.1:8080/hook/kannel?key=SECRET": hook,
    }
    for there, here in changes.items():
        assert text.count(there) == 1, there
        text = text.replace(there, here)
    return text + NETWORK.format(**ports)


def free_port() -> int:
    """A port that nobody listens on now."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port: int = taken.getsockname()[1]
        return port


def until(true: Callable[[], bool], what: str) -> None:
    """Wait until something holds; fail where it does not come about."""
    end = time.monotonic() + patience.SECONDS
    while not true():
        if time.monotonic() > end:
            raise AssertionError(f"{what}: not in {patience.SECONDS:.0f} s")
        time.sleep(0.05)


def listens(port: int) -> bool:
    """True where somebody listens on the port."""
    with socket.socket() as caller:
        return caller.connect_ex(("127.0.0.1", port)) == 0


class Gateway:
    """Kannel with one simulated network. `hook` is the url that it gets for each text."""

    def __init__(self, folder: Path, hook: str, password: str) -> None:
        (folder / "spool").mkdir(parents=True)
        self._folder = folder
        self._ports = {name: free_port() for name in ("admin", "box", "smsc", "sendsms")}
        (folder / "kannel.conf").write_text(configuration(hook, password, self._ports))
        self._running: dict[str, subprocess.Popen[bytes]] = {}
        self._phones: list[socket.socket] = []
        self.sendsms = f"http://127.0.0.1:{self._ports['sendsms']}/cgi-bin/sendsms"

    def start(self) -> None:
        """Start both boxes and wait until they take texts."""
        self._start("bearerbox")
        self._start("smsbox")

    def _run(self, box: str) -> None:
        with (self._folder / f"{box}.out").open("ab") as out:
            self._running[box] = subprocess.Popen(
                [box, "kannel.conf"], cwd=self._folder, stdout=out, stderr=out
            )

    def _serves_sendsms(self) -> bool:
        """Whether the box that takes texts is there; one that ended itself is started again."""
        if self._running["smsbox"].poll() is not None:
            self._run("smsbox")
        return listens(self._ports["sendsms"]) and b"smsbox:" in self._status()

    def _start(self, box: str) -> None:
        self._run(box)
        if box == "bearerbox":
            # The other box ends itself where it cannot connect to this one.
            until(lambda: listens(self._ports["smsc"]) and listens(self._ports["box"]), box)
        else:
            until(self._serves_sendsms, box)

    def _status(self) -> bytes:
        url = f"http://127.0.0.1:{self._ports['admin']}/status.txt?password=ADMIN-PASSWORD"
        with urllib.request.urlopen(url, timeout=patience.SECONDS) as response:
            return bytes(response.read())

    def kill(self, box: str) -> None:
        """End a box without warning."""
        self._running[box].kill()
        self._running.pop(box).wait()

    def restart(self, box: str) -> None:
        """Bring a killed box back."""
        self._start(box)

    def stop(self) -> None:
        """End everything."""
        for phone in self._phones:
            phone.close()
        for process in reversed(self._running.values()):
            process.kill()
            process.wait()

    def phones(self) -> "Phones":
        """The phones of the simulated network."""
        line = socket.create_connection(("127.0.0.1", self._ports["smsc"]))
        self._phones.append(line)
        return Phones(line)


@dataclass(frozen=True)
class Sms:
    """One SMS as a phone gets it: the header of a part, b"" for a text of one part, and the text's bytes."""

    header: bytes
    data: bytes
    ucs2: bool = False

    def text(self, coding: str = "GSM") -> str:
        """The words. A part does not say its coding; the whole that it belongs to does."""
        return self.data.decode("utf-16-be" if self.ucs2 or coding == "UCS-2" else "utf-8")


class Phones:
    """All phones of the simulated network: Kannel's "fake" connection, one line of text for each SMS."""

    _LINE = re.compile(rb"^\S+ \S+ (?:(text)|(ucs-2)|udh (\S+) data) (.*)$", re.MULTILINE)

    def __init__(self, line: socket.socket) -> None:
        line.setblocking(False)
        self._line = line
        self._came = b""

    def send(self, text: str, number: str = SAM) -> None:
        """Send a text of one part."""
        self._line.sendall(f"{number} {SERVICE} text {text}\n".encode())

    def send_part(self, text: str, part: int, of: int = 2, number: str = SAM) -> None:
        """Send one part of a long text, its reference always 204."""
        header = quote_from_bytes(bytes((5, 0, 3, 204, of, part)))
        self._line.sendall(f"{number} {SERVICE} udh {header} {quote_plus(text)}\n".encode())

    def got(self) -> list[Sms]:
        """Each SMS that came so far, parts in the order of their headers."""
        with contextlib.suppress(BlockingIOError):
            while more := self._line.recv(65536):
                self._came += more
        whole = self._came[: self._came.rfind(b"\n") + 1]
        found = []
        for plain, ucs2, header, data in self._LINE.findall(whole):
            found.append(Sms(_unquoted(header), data if plain else _unquoted(data), bool(ucs2)))
        return sorted(found, key=lambda sms: sms.header)


def _unquoted(given: bytes) -> bytes:
    return unquote_to_bytes(given.replace(b"+", b" "))


def post(url: str, body: bytes, headers: dict[str, str]) -> tuple[int, bytes]:
    """A plain HTTP post: status and body."""
    request = urllib.request.Request(url, body, headers, method="POST")
    try:
        with urllib.request.urlopen(request, timeout=patience.SECONDS) as response:
            return response.status, response.read()
    except urllib.error.HTTPError as error:
        return error.code, error.read()
