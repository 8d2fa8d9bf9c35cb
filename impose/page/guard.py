"""What every request must show before it is looked at: the page is for this machine and for this person alone.

A page elsewhere can make a browser send requests here, a name can be made to point here (DNS rebinding), another
program on this machine receives the cookies of 127.0.0.1 whatever the port. Each is met by a rule of its own: the exact
`Host`, Fetch Metadata and the exact `Origin`, and a token that only the page's own script holds.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field

from impose.page.refusal import Refusal

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "font-src 'self'; frame-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
)
"""W3C CSP Level 3: the page's own files, and nothing else."""

HEADERS: Mapping[str, str] = {
    "Content-Security-Policy": POLICY,
    "X-Content-Type-Options": "nosniff",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cache-Control": "no-store",
    "X-Frame-Options": "DENY",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=()",
}
DOCUMENT_POLICY = (
    "sandbox allow-scripts allow-popups; default-src 'none'; style-src 'unsafe-inline'; script-src 'unsafe-inline'; "
    "img-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'self'"
)
"""For a proof of our making, which has its style and script in itself: an origin of its own, and nothing to fetch."""

TOKEN_HEADER = "X-Impose-Token"
SECRET_HEADER = "X-Impose-Secret"
SAFE = frozenset(("GET", "HEAD"))
MOST_SESSIONS = 64


@dataclass(slots=True)
class AccessKeys:
    """Who may come in: keys that work once, sessions by cookie with their page's token, and the server's secret."""

    port: int
    secret: str = field(default_factory=lambda: secrets.token_urlsafe(32))
    _keys: set[str] = field(default_factory=set)
    _sessions: dict[str, str] = field(default_factory=dict)

    @property
    def cookie(self) -> str:
        """The cookie's name: browsers tell no ports apart."""
        return f"impose_{self.port}"

    @property
    def hosts(self) -> tuple[str, ...]:
        """What the header `Host` may be."""
        return (f"127.0.0.1:{self.port}",)

    def make_key(self) -> str:
        """A key that lets somebody in once."""
        key = secrets.token_urlsafe(24)
        self._keys.add(key)
        return key

    def exchange_key(self, key: str) -> tuple[str, str]:
        """A session for a key, which is worth nothing afterwards: cookie and token. Raises `Refusal`."""
        held = next((entry for entry in self._keys if are_same(entry, key)), None)
        if held is None:
            raise Refusal(403, "no-key", "This address was used before.", "Open the page from its icon.")
        self._keys.discard(held)
        while len(self._sessions) >= MOST_SESSIONS:
            self._sessions.pop(next(iter(self._sessions)))
        cookie, token = secrets.token_urlsafe(24), secrets.token_urlsafe(24)
        self._sessions[cookie] = token
        return cookie, token

    def token_of(self, cookie: str | None) -> str | None:
        """The token of a session, None for a cookie that is none."""
        return next((token for session, token in self._sessions.items() if are_same(session, cookie or "")), None)


def are_same(text: str, other: str) -> bool:
    """Whether two secrets are equal, in a time that tells nothing of where they differ."""
    return hmac.compare_digest(text.encode("utf-8", "replace"), other.encode("utf-8", "replace"))


def refuse_stranger(method: str, headers: Mapping[str, str], hosts: tuple[str, ...]) -> None:
    """Raise `Refusal` for a request that another page, or a name that points here, has sent."""
    if headers.get("Host") not in hosts:
        raise Refusal(421, "not-here", "This page answers to its own address only.", "Open it from its icon.")
    if headers.get("Sec-Fetch-Site", "none") not in ("same-origin", "none"):
        raise Refusal(403, "stranger", "This was asked for by another page.", "Open the page from its icon.")
    origin = headers.get("Origin")
    own = f"http://{headers['Host']}"
    if (origin is not None or method not in SAFE) and origin != own:
        raise Refusal(403, "stranger", "This was sent by another page.", "Open the page from its icon.")


def refuse_without_session(keys: AccessKeys, cookie: str | None, token: str | None, needs_token: bool) -> None:
    """Raise `Refusal` for whoever has not come in by a key."""
    held = keys.token_of(cookie)
    if held is None:
        raise Refusal(403, "no-session", "This page is not open any more.", "Open it from its icon.")
    if needs_token and not are_same(held, token or ""):
        raise Refusal(403, "no-token", "This page is not open any more.", "Open it from its icon again.")
