"""Who may talk to the desk: the browser of the person who started it, and nobody else.

Every request must name this host, come from this origin and, but for the entrance, carry the cookie that the launch
token was exchanged for. What is sent is bounded, what goes out forbids everything from elsewhere.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import threading
from collections.abc import Iterable
from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fanlight.desk.errors import DeskError

# Engineering judgement: the largest honest act is a trace of some hundred points.
BODY_BYTES = 1024 * 1024
# Reachable without a cookie: the page that tells how to get in, and the exchange itself.
ENTRANCE = frozenset({"/", "/enter", "/entrance.js", "/entrance.css"})
_SAFE = frozenset({"GET", "HEAD"})

PAGE_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; "
    "connect-src 'self'; worker-src 'self'; frame-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'self'"
)
# Letters hold their pictures and style within themselves, and no script at all.
PAPER_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; sandbox; frame-ancestors 'self'"
# The page of the desk puts the words of a living preview into its frame, so that it keeps its place while it changes.
PREVIEW_POLICY = PAPER_POLICY.replace("sandbox;", "sandbox allow-same-origin;")
_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
}


def new_secret() -> str:
    """Return a secret that nobody guesses."""
    return secrets.token_urlsafe(32)


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode()).digest()


class Keys:
    """The launch token, good once, and the sessions that it opened. Only hashes are held."""

    def __init__(self, token: str) -> None:
        self._token: bytes | None = _digest(token)
        self._sessions: set[bytes] = set()
        self._lock = threading.Lock()

    def exchange(self, token: str) -> str:
        """Return a session's secret for the launch token.

        Raises
        ------
        DeskError
            When it is not the token, or was used.
        """
        with self._lock:
            if self._token is None or not hmac.compare_digest(self._token, _digest(token)):
                raise DeskError(
                    HTTPStatus.FORBIDDEN,
                    "this address was used already, or is not the one that was printed",
                    "launch token",
                    "Use the browser in which the desk is open, or start `fanlight desk` again for a new address.",
                )
            self._token = None
            session = new_secret()
            self._sessions.add(_digest(session))
            return session

    def knows(self, session: str) -> bool:
        """Return whether a session was opened here."""
        mine = _digest(session)
        return any(hmac.compare_digest(mine, known) for known in tuple(self._sessions))


class Guard:
    """Middleware in front of the whole desk.

    Parameters
    ----------
    app : ASGI application
    keys : Keys
    hosts : iterable of str
        What the Host header may say: "127.0.0.1:8471", …
    cookie : str
        Name of the cookie.
    upload_bytes : int
        Largest body of a file.
    """

    def __init__(self, app: ASGIApp, *, keys: Keys, hosts: Iterable[str], cookie: str, upload_bytes: int) -> None:
        self._app = app
        self._keys = keys
        self._hosts = frozenset(hosts)
        self._cookie = cookie
        self._upload_bytes = upload_bytes

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request pass, or answer it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        guarded = _with_headers(scope["path"], send)
        limit = self._upload_bytes if scope["method"] == "PUT" else BODY_BYTES
        try:
            self._check(scope["method"], scope["path"], Headers(scope=scope), limit)
        except DeskError as error:
            await _answer(error, guarded)
            return
        await self._app(scope, _bounded(receive, limit), guarded)

    def _check(self, method: str, path: str, headers: Headers, limit: int) -> None:
        hosts = headers.getlist("host")
        if len(hosts) != 1 or hosts[0].lower() not in self._hosts:
            raise _foreign("Host", ", ".join(hosts))
        origins = headers.getlist("origin")
        if any(origin.lower() != f"http://{hosts[0].lower()}" for origin in origins):
            raise _foreign("Origin", ", ".join(origins))
        # Browsers name the origin of everything that changes something (Fetch standard, "append a request Origin").
        if method not in _SAFE and len(origins) != 1:
            raise _foreign("Origin", "none")
        site = headers.get("sec-fetch-site", "none")
        if path not in ENTRANCE and site not in ("same-origin", "none"):
            raise _foreign("Sec-Fetch-Site", site)
        if path not in ENTRANCE and not is_inside(self._keys, headers, self._cookie):
            raise DeskError(
                HTTPStatus.UNAUTHORIZED,
                "this browser has not entered the desk",
                "cookie",
                "Open the address that `fanlight desk` printed when it was started; nothing typed so far is lost.",
            )
        length = headers.get("content-length", "0")
        if not length.isascii() or not length.isdigit() or int(length) > limit:
            raise too_large(limit)


def is_inside(keys: Keys, headers: Headers, cookie: str) -> bool:
    """Return whether a request carries the cookie of a session."""
    return any(keys.knows(value) for value in sessions_in(headers, cookie))


def sessions_in(headers: Headers, name: str) -> list[str]:
    """Return the values of our cookie in a request; whatever other programs of this machine keep in theirs.

    Pairs stand between semicolons (RFC 6265, 4.2.1 and 5.4). Our values hold no quotes and no semicolon.
    """
    pairs = (pair.partition("=") for line in headers.getlist("cookie") for pair in line.split(";"))
    return [value.strip() for key, _, value in pairs if key.strip() == name]


def too_large(limit: int) -> DeskError:
    """Return the error for a body above its bound."""
    return DeskError(
        HTTPStatus.REQUEST_ENTITY_TOO_LARGE,
        f"more than {limit / 1e9:.1f} GB was sent" if limit > BODY_BYTES else f"more than {limit} bytes were sent",
        "request",
        "Export a shorter clip, or send the study in parts.",
    )


def _foreign(header: str, value: str) -> DeskError:
    return DeskError(
        HTTPStatus.FORBIDDEN,
        f"the request does not come from this desk ({header}: {value[:100] or 'none'})",
        "address",
        "Open the address that `fanlight desk` printed, exactly as it stands there.",
    )


def _bounded(receive: Receive, limit: int) -> Receive:
    """Count what comes: the stated length may lie, or be missing."""
    got = 0

    async def bounded() -> Message:
        nonlocal got
        message = await receive()
        got += len(message.get("body", b""))
        if got > limit:
            raise too_large(limit)
        return message

    return bounded


def _with_headers(path: str, send: Send) -> Send:
    async def guarded(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers[name] = value
            headers.setdefault("content-security-policy", PAGE_POLICY)
            is_data = path.startswith("/api/") or path in ENTRANCE
            headers.setdefault("cache-control", "no-store" if is_data else "no-cache")
        await send(message)

    return guarded


async def _answer(error: DeskError, send: Send) -> None:
    body = json.dumps(error.plain()).encode()
    head = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    # The body of the request is not read: the connection cannot carry another one.
    await send(
        {"type": "http.response.start", "status": int(error.status), "headers": [*head, (b"connection", b"close")]}
    )
    await send({"type": "http.response.body", "body": body})
