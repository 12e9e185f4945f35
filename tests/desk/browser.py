"""A browser that talks to the desk without a network: httpx, straight into the application."""

from __future__ import annotations

import asyncio
import uuid
from pathlib import Path
from typing import Any

import httpx

from fanlight.desk import Desk, create_app

HOST = "127.0.0.1:8471"
TOKEN = "one token, good once"


class Browser:
    """Sends requests as a page of the desk does; `enter` first."""

    def __init__(self, desk: Desk, static: Path | None = None) -> None:
        self._loop = asyncio.new_event_loop()
        app = create_app(desk, token=TOKEN, hosts=(HOST, "localhost:8471"), static=static)
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        self._client = httpx.AsyncClient(transport=transport, base_url=f"http://{HOST}")

    def send(self, method: str, path: str, **more: Any) -> httpx.Response:
        """Send what is given, with the headers that a browser adds unless told otherwise."""
        headers = {"origin": f"http://{HOST}", "sec-fetch-site": "same-origin"} | more.pop("headers", {})
        headers = {name: value for name, value in headers.items() if value is not None}
        return self._loop.run_until_complete(self._client.request(method, path, headers=headers, **more))

    def enter(self, token: str = TOKEN) -> httpx.Response:
        return self.send("POST", "/enter", json={"token": token})

    def get(self, path: str, **more: Any) -> httpx.Response:
        return self.send("GET", path, **more)

    def post(self, path: str, body: Any = None, **more: Any) -> httpx.Response:
        return self.send("POST", path, json=body, **more)

    def put_file(self, study: str, name: str, data: bytes) -> httpx.Response:
        return self.send("PUT", f"/api/studies/{study}/files", params={"name": name}, content=data)

    def new_study(self, title: str = "Juniper") -> str:
        return str(self.post("/api/studies", {"title": title}).json()["id"])

    def act(self, study: str, action: str, clip: str = "", key: str = "", **payload: Any) -> httpx.Response:
        body = {"id": key or new_id(), "author": "M. Linden", "clip": clip, "action": action, "payload": payload}
        return self.post(f"/api/studies/{study}/entries", body)

    def close(self) -> None:
        self._loop.run_until_complete(self._client.aclose())
        self._loop.run_until_complete(self._loop.shutdown_default_executor())
        self._loop.close()


def new_id() -> str:
    return str(uuid.uuid4())
