"""A real nginx on loopback, set up by bot/deploy/nginx.conf, before a service that says back what came."""

import json
import shutil
import socket
import ssl
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread

from gateway import free_port, listens, until

CONF = Path(__file__).parents[2] / "bot" / "deploy" / "nginx.conf"
NGINX = shutil.which("nginx", path="/usr/sbin:/usr/local/sbin:/usr/bin")
MISSING = (
    "" if NGINX and shutil.which("openssl") else "nginx is not here: apt-get install nginx-light openssl"
)
NAME = "trench.example"

MAIN = """
daemon off;
pid nginx.pid;
error_log stderr;
events {{}}
http {{
    access_log off;
    {temporary}
    include site.conf;
}}
"""
TEMPORARY = ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")


class _SaysBack(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        body = json.dumps({"path": self.path, **{k.lower(): v for k, v in self.headers.items()}}).encode()
        self.send_response(200)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


class Proxy:
    """The running proxy, as the world sees it."""

    def __init__(self, port: int, certificate: Path) -> None:
        self._port = port
        self._trust = ssl.create_default_context(cafile=certificate)

    def ask(self, path: str) -> ssl.SSLSocket:
        """Send one request, and wait for nothing."""
        line = socket.create_connection(("127.0.0.1", self._port), timeout=60)
        call = self._trust.wrap_socket(line, server_hostname=NAME)
        call.sendall(f"GET {path} HTTP/1.0\r\nHost: {NAME}\r\nX-Forwarded-For: 192.0.2.1\r\n\r\n".encode())
        return call

    def get(self, path: str) -> tuple[int, str]:
        """Status and body."""
        return answer(self.ask(path))


def answer(call: ssl.SSLSocket) -> tuple[int, str]:
    """Status and body of a request that was sent."""
    with call, call.makefile("rb") as lines:
        head, _, body = lines.read().decode().partition("\r\n\r\n")
    return int(head.split()[1]), body


@contextmanager
def running(folder: Path) -> Iterator[Proxy]:
    """The proxy as it is shipped, on other ports and with a certificate of its own."""
    service = ThreadingHTTPServer(("127.0.0.1", 0), _SaysBack)
    Thread(target=service.serve_forever, daemon=True).start()
    port = free_port()
    certificate = _set_up(folder, port, service.server_address[1])
    assert NGINX
    nginx = [NGINX, "-p", str(folder), "-c", "nginx.conf"]
    tested = subprocess.run([*nginx, "-t"], capture_output=True, encoding="utf-8")
    assert tested.returncode == 0, tested.stderr
    assert "[warn]" not in tested.stderr, tested.stderr
    process = subprocess.Popen(nginx, stderr=subprocess.DEVNULL)
    try:
        until(lambda: listens(port), "nginx")
        yield Proxy(port, certificate)
    finally:
        process.terminate()
        process.wait()
        service.shutdown()
        service.server_close()


def _set_up(folder: Path, port: int, service: int) -> Path:
    certificate, key = folder / "site.pem", folder / "site.key"
    made = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={NAME}"]
    made += ["-addext", f"subjectAltName=DNS:{NAME}", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run(made, check=True, capture_output=True)
    text = CONF.read_text(encoding="utf-8")
    for there, here in {
        "listen 443 ssl": f"listen 127.0.0.1:{port} ssl",
        "127.0.0.1:8080": f"127.0.0.1:{service}",
        "/etc/ssl/trench.example.pem": str(certificate),
        "/etc/ssl/trench.example.key": str(key),
    }.items():
        assert there in text, there
        text = text.replace(there, here)
    (folder / "site.conf").write_text(text)
    temporary = "\n    ".join(f"{name}_temp_path {folder / name};" for name in TEMPORARY)
    (folder / "nginx.conf").write_text(MAIN.format(temporary=temporary))
    return certificate
