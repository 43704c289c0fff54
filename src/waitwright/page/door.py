"""Who may come in: sessions, the tokens of their forms, and the one-time key of a bench on the network."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from hashlib import sha256
from secrets import choice, token_bytes, token_urlsafe

_LETTERS = "23456789abcdefghjkmnpqrstuvwxyz"
"""Signs that nobody takes for another one, on a phone's keyboard without shift."""

_GROUPS, _GROUP = 5, 4


def new_key() -> str:
    """A key to type: five groups of four signs, 99 bits."""
    return "-".join("".join(choice(_LETTERS) for _ in range(_GROUP)) for _ in range(_GROUPS))


class Door:
    """Sessions are signed, not stored: a cookie is good for as long as this process lives.

    Attributes:
        key: The key that opens the door once; None where the door stands open (on the own machine).
    """

    def __init__(self, key: str | None = None, used: Callable[[str], None] = lambda key: None) -> None:
        """Take the first *key*; *used* is called with the next one, each time that one has been used."""
        self.key = key
        self._used = used
        self._secret = token_bytes(32)

    @property
    def locked(self) -> bool:
        """Whether a key is asked for."""
        return self.key is not None

    def redeem(self, given: str) -> bool:
        """Whether *given* is the key; from then on it is void, and another one holds."""
        if self.key is None or not hmac.compare_digest(_plain(given), _plain(self.key)):
            return False
        self.key = new_key()
        self._used(self.key)
        return True

    def session(self) -> str:
        """A new session, for a cookie."""
        name = token_urlsafe(16)
        return f"{name}.{self._sign('session', name)}"

    def knows(self, session: str) -> bool:
        """Whether *session* was made here."""
        name, _, signed = session.partition(".")
        return hmac.compare_digest(signed.encode(), self._sign("session", name).encode())

    def token(self, session: str) -> str:
        """What the forms of *session* carry."""
        return self._sign("form", session)

    def trusts(self, session: str, token: str) -> bool:
        """Whether a form with *token* was made for *session*."""
        return hmac.compare_digest(token.encode(), self.token(session).encode())

    def _sign(self, use: str, name: str) -> str:
        return hmac.new(self._secret, f"{use}:{name}".encode(), sha256).hexdigest()


def _plain(key: str) -> bytes:
    """A key as it may have been typed."""
    return "".join(key.lower().replace("-", " ").split()).encode()
