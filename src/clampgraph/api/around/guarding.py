"""Who may ask: under which host name, from which web page, with which token.

A web page that a browser on this machine has open must not act here.
Its requests carry an ``Origin``, which has to be our own or one that is set;
a page that got its own name to point at this machine (DNS rebinding) carries that name as ``Host``;
and what writes must be of a type that a page cannot send without asking first (CORS preflight).
"""

import re
from dataclasses import dataclass

from starlette.types import ASGIApp, Receive, Scope, Send

from clampgraph.api.around.asgi import header, state_of
from clampgraph.api.problems import problem
from clampgraph.api.settings import Settings
from clampgraph.api.tokens import TokenFile

__all__ = ["Guarded", "scope_needed"]

LOCAL_NAMES = frozenset({"localhost", "127.0.0.1", "[::1]"})
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
FORM_TYPES = frozenset({"", "text/plain", "multipart/form-data", "application/x-www-form-urlencoded"})
"""Types of body that a web page may send to another origin without asking first (Fetch standard)."""

_OPEN = re.compile(r"/health(?:/alive|/ready)?")
_ADMIN = re.compile(r"/(?:packs|reload|cases/authors)(?:/|$)")
_QUESTION = re.compile(
    r"/(?:diagnoses|identifications|replacements|calculations|simulations|sparql|queries|tables|fits|batch)(?:/|$)"
)


@dataclass(frozen=True, slots=True)
class _Refusal:
    """Why a request goes no further."""

    status: int
    detail: str
    challenge: str = ""


def scope_needed(method: str, path: str, *, loopback: bool) -> str:
    """Return the scope that a request needs: none, read, write or admin; whatever is not known to read writes."""
    if _OPEN.fullmatch(path) or method == "OPTIONS":
        return "none"
    if path == "/metrics":
        return "none" if loopback else "admin"
    if method not in SAFE_METHODS and _ADMIN.match(path):
        return "admin"
    return "read" if method in SAFE_METHODS or _QUESTION.match(path) else "write"


class Guarded:
    """Refuse strange hosts, foreign web pages, and callers whose token does not reach."""

    def __init__(self, app: ASGIApp, settings: Settings, tokens: TokenFile | None) -> None:
        self.app, self.tokens = app, tokens
        self.loopback = settings.loopback
        self.origins = frozenset(settings.cors)
        own = LOCAL_NAMES | {settings.host} if settings.loopback else frozenset[str]()
        named = frozenset(name.lower() for name in settings.hosts)
        # Beyond this machine every request carries a token, which no page can lend to another name.
        self.hosts = frozenset[str]() if "*" in named or not (own or named) else own | named

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass the request on, or refuse it."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        refusal = self._foreign(scope) or self._unentitled(scope)
        if refusal is None:
            await self.app(scope, receive, send)
            return
        more = {"www-authenticate": refusal.challenge} if refusal.challenge else None
        await problem(refusal.status, refusal.detail, more)(scope, receive, send)

    def _foreign(self, scope: Scope) -> _Refusal | None:
        host = header(scope, b"host").lower()
        name = host if host.endswith("]") else host.rpartition(":")[0] or host
        if self.hosts and name not in self.hosts:
            return _Refusal(421, f"This service is not '{name}'; name it with --hosts if it is reached so.")
        if scope["method"] in SAFE_METHODS:
            return None
        origin = header(scope, b"origin").lower()
        if origin and "*" not in self.origins and origin not in self.origins and origin.partition("://")[2] != host:
            return _Refusal(403, f"Web pages of '{origin}' may not ask here; allow them with --cors.")
        return None

    def _unentitled(self, scope: Scope) -> _Refusal | None:
        method = scope["method"]
        needed = scope_needed(method, scope["path"], loopback=self.loopback)
        if needed != "none" and (self.tokens is not None or needed == "admin"):
            refusal = self._by_token(scope, needed)
            if refusal is not None:
                return refusal
        kind = header(scope, b"content-type").partition(";")[0].strip().lower()
        bodied = header(scope, b"content-length") not in ("", "0") or header(scope, b"transfer-encoding")
        if needed in ("write", "admin") and method not in SAFE_METHODS and bodied and kind in FORM_TYPES:
            return _Refusal(415, f"What writes is not sent as '{kind}'; send application/json.")
        return None

    def _by_token(self, scope: Scope, needed: str) -> _Refusal | None:
        kind, _, text = header(scope, b"authorization").partition(" ")
        if self.tokens is None:
            return _Refusal(
                403, "This needs a token of scope admin, and the service has none: start it with --tokens FILE."
            )
        token = self.tokens.verify(text.strip()) if kind.lower() == "bearer" else None
        if token is None:
            told = "The token is unknown or has expired" if text else "This needs a token"
            return _Refusal(401, f"{told}; send 'Authorization: Bearer TOKEN'.", 'Bearer realm="clampgraph"')
        state_of(scope).update(caller=token.name, token=token)
        if token.allows(needed):
            return None
        challenge = f'Bearer realm="clampgraph", error="insufficient_scope", scope="{needed}"'
        return _Refusal(403, f"The token '{token.name}' may {token.scope}; this needs the scope {needed}.", challenge)
