"""Passwords as scrypt hashes (RFC 7914); the cost stands in each hash, so that it can be raised later."""

import base64
import hashlib
import hmac
import secrets

LEAST = 12  # characters; a passphrase, not a puzzle
MOST = 1000
_N, _R, _P = 2**15, 8, 3  # 32 MiB and about a quarter of a second: OWASP Password Storage Cheat Sheet, scrypt


def weak(password: str) -> str:
    """Why a password will not do, "" where it will."""
    if not LEAST <= len(password) <= MOST:
        return f"a password has {LEAST} to {MOST} characters"
    if len(set(password)) < 5:
        return "a password needs at least five different characters"
    return ""


def hashed(password: str) -> str:
    """The hash to keep, with its salt and cost."""
    salt = secrets.token_bytes(16)
    digest = _scrypt(password, salt, _N, _R, _P)
    return "$".join(("scrypt", str(_N), str(_R), str(_P), _text(salt), _text(digest)))


def matches(password: str, kept: str) -> bool:
    """Whether this is the password of a kept hash. Takes as long whether it is or not."""
    _, n, r, p, salt, digest = kept.split("$")
    found = _scrypt(password[:MOST], base64.b64decode(salt), int(n), int(r), int(p))
    return hmac.compare_digest(found, base64.b64decode(digest))


def _scrypt(password: str, salt: bytes, n: int, r: int, p: int) -> bytes:
    return hashlib.scrypt(password.encode(), salt=salt, n=n, r=r, p=p, maxmem=256 * n * r, dklen=32)


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode()
