"""Bearer tokens: made once, shown once, kept only as salted hashes in a file.

A token is ``cg_<id>_<secret>``: the identifier finds the row, the secret is 256 random bits.
Against a secret of that size guessing is hopeless, so one round of SHA-256 with a salt of its own is enough,
and a request costs microseconds; a slow hash is for what people choose themselves.
"""

import hashlib
import hmac
import json
import os
import re
import secrets
import time
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from clampgraph.errors import DataError, UnknownNameError, WrongCallError

__all__ = ["SCOPES", "Token", "TokenFile"]

SCOPES = ("read", "write", "admin")
"""What a token allows, each with all that stands before it."""

LOOK_AGAIN = 1.0
"""Seconds after which the file is looked at again, so that a token taken back ends soon."""

_NAME = re.compile(r"[a-z0-9][a-z0-9.-]{0,63}", re.ASCII)
_FORM = re.compile(r"cg_([0-9a-f]{16})_([\w-]{43})", re.ASCII)


@dataclass(frozen=True, slots=True)
class Token:
    """What is kept of a token."""

    name: str
    id: str
    scope: str
    salt: str
    digest: str
    expires: str

    def allows(self, scope: str) -> bool:
        """Whether the token reaches as far as a scope."""
        return SCOPES.index(self.scope) >= SCOPES.index(scope)

    def lives(self, now: datetime) -> bool:
        """Whether the token has not expired."""
        return now < datetime.fromisoformat(self.expires)


class TokenFile:
    """The tokens of one file; read anew when the file changes."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._looked, self._stamp = float("-inf"), (0, 0)
        self._tokens: Mapping[str, Token] = {}

    def verify(self, text: str, now: datetime | None = None) -> Token | None:
        """Return the token that a text is, if it is one of ours and has not expired."""
        match = _FORM.fullmatch(text)
        if match is None:
            return None
        token = self._current().get(match[1])
        salt = token.salt if token else "00" * 16
        same = hmac.compare_digest(_digest(salt, match[2]), token.digest if token else "")
        return token if token and same and token.lives(now or datetime.now(UTC)) else None

    def holds(self, token: Token) -> bool:
        """Tell whether a token that was verified before is still ours, and has not expired."""
        return self._current().get(token.id) == token and token.lives(datetime.now(UTC))

    def issue(self, name: str, scope: str, days: int) -> str:
        """Make a token, keep its hash, and return it; it cannot be shown again.

        Raises
        ------
        WrongCallError
            If the name is malformed or taken, the scope is unknown, or the days are not from 1 to 3650.
        DataError
            If the file cannot be read or written.
        """
        if _NAME.fullmatch(name) is None:
            raise WrongCallError(f"'{name}' cannot name a token: write small letters, digits, '-' and '.', at most 64.")
        if scope not in SCOPES:
            raise WrongCallError(f"There is no scope '{scope}'; choose one of {', '.join(SCOPES)}.")
        if not 1 <= days <= 3650:
            raise WrongCallError(f"A token cannot live {days} days; choose 1 to 3650.")
        kept = self.read() if self.path.exists() else ()
        if any(token.name == name for token in kept):
            raise WrongCallError(f"There is a token '{name}' already: take it back with --revoke, or choose another.")
        identifier, salt, secret = secrets.token_hex(8), secrets.token_hex(16), secrets.token_urlsafe(32)
        expires = (datetime.now(UTC) + timedelta(days=days)).isoformat(timespec="seconds")
        self._write((*kept, Token(name, identifier, scope, salt, _digest(salt, secret), expires)))
        return f"cg_{identifier}_{secret}"

    def revoke(self, name: str) -> None:
        """Take a token back.

        Raises
        ------
        UnknownNameError
            If there is no token of that name.
        DataError
            If the file cannot be read or written.
        """
        kept = self.read()
        if all(token.name != name for token in kept):
            raise UnknownNameError("token", name, [token.name for token in kept], f"in {self.path}")
        self._write(tuple(token for token in kept if token.name != name))

    def read(self) -> tuple[Token, ...]:
        """Return what the file holds.

        Raises
        ------
        DataError
            If the file cannot be read, or is no file of tokens.
        """
        try:
            tokens = tuple(Token(**row) for row in json.loads(self.path.read_text("utf-8"))["tokens"])
            sound = all(_sound(token) for token in tokens)
        except OSError as error:
            raise DataError(f"The file of tokens {self.path} cannot be read: {error.strerror}.") from error
        except (ValueError, KeyError, TypeError) as error:
            raise DataError(f"{self.path} is no file of tokens; make one with 'clampgraph token'.") from error
        if not sound:
            raise DataError(f"{self.path} holds a token of an unknown scope, or one that never expires.")
        return tokens

    def _current(self) -> Mapping[str, Token]:
        """Return the tokens by identifier; a file that is gone or broken lets nobody in."""
        if time.monotonic() - self._looked > LOOK_AGAIN:
            self._looked = time.monotonic()
            try:
                status = self.path.stat()
                stamp = status.st_mtime_ns, status.st_ino
                if stamp != self._stamp:
                    self._tokens, self._stamp = {token.id: token for token in self.read()}, stamp
            except (OSError, DataError):
                self._tokens, self._stamp = {}, (0, 0)
        return self._tokens

    def _write(self, tokens: tuple[Token, ...]) -> None:
        """Write the file whole or not at all, for its owner only."""
        part = self.path.with_name(f"{self.path.name}.{secrets.token_hex(4)}.part")
        text = json.dumps({"tokens": [asdict(token) for token in tokens]}, indent=1) + "\n"
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
                file.write(text)
            part.replace(self.path)
        except OSError as error:
            part.unlink(missing_ok=True)
            raise DataError(f"The file of tokens {self.path} cannot be written: {error.strerror}.") from error


def _sound(token: Token) -> bool:
    """Tell whether a row has a known scope and an end; raise ValueError or TypeError if it is no token at all."""
    bytes.fromhex(token.salt), bytes.fromhex(token.digest)
    return token.scope in SCOPES and datetime.fromisoformat(token.expires).tzinfo is not None


def _digest(salt: str, secret: str) -> str:
    return hashlib.sha256(bytes.fromhex(salt) + secret.encode()).hexdigest()
