"""Links that whoever holds one may open, for some hours: signed, so that none can be made up."""

import base64
import binascii
import hmac
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

from bot.channels.base import same_secret

_NAMED, _TIMED, _SIGNED = 7, 5, 18
"""Bytes of the exchange, of the time in seconds, of the signature. RFC 2104 section 5 wants at least half of
the hash, which is 16; with 18 the whole is a multiple of three, and base64 writes it in one way only."""


class Expired(Exception):  # noqa: N818 - it says what the link is
    """The link was ours, and its time is over."""


class Links:
    """Makes and checks them. The first of `secrets` signs; each of them is believed."""

    def __init__(self, public_url: str, secrets: Sequence[str], hours: float) -> None:
        self._url = f"{public_url.rstrip('/')}/sketch/"
        self._secrets = secrets
        self._hours = timedelta(hours=hours)

    def to(self, exchange: int, now: datetime) -> str:
        """A link to the sketch of an exchange, good from now on."""
        until = int((now + self._hours).timestamp())
        named = exchange.to_bytes(_NAMED) + until.to_bytes(_TIMED)
        return self._url + _token(named, self._secrets[0])

    def exchange(self, token: str, now: datetime) -> int | None:
        """The exchange that a link's last part names, None where it is none of ours. Raises Expired."""
        try:
            named = base64.urlsafe_b64decode(token)[: _NAMED + _TIMED]
        except (binascii.Error, ValueError):
            return None
        # The whole is made again and compared, so nothing in it counts that was not signed.
        if not same_secret(token, [_token(named, secret) for secret in self._secrets]):
            return None
        if now > datetime.fromtimestamp(int.from_bytes(named[_NAMED:]), UTC):
            raise Expired
        return int.from_bytes(named[:_NAMED])


def _token(named: bytes, secret: str) -> str:
    signature = hmac.digest(secret.encode(), b"sketch:" + named, "sha256")[:_SIGNED]
    return base64.urlsafe_b64encode(named + signature).decode()
