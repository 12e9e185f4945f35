"""The service as one application: guard, addresses, pages."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import AsyncIterator, Iterable
from importlib import resources
from pathlib import Path

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from fastapi.responses import FileResponse, JSONResponse, Response
from starlette.exceptions import HTTPException
from starlette.requests import Request

from fanlight.desk.api import routes
from fanlight.desk.body import Body
from fanlight.desk.desk import Desk
from fanlight.desk.errors import DeskError, bad_request, told
from fanlight.desk.guard import Guard, Keys, is_inside
from fanlight.review.worker import TaskError
from fanlight.store import StoreError

_TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".json": "application/json",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".woff2": "font/woff2",
    ".wasm": "application/wasm",
}


def create_app(desk: Desk, *, token: str, hosts: Iterable[str], static: Path | None = None) -> FastAPI:
    """Return the application.

    Parameters
    ----------
    desk : Desk
        Closed by its owner.
    token : str
        Launch token, good for one exchange.
    hosts : iterable of str
        What the Host header may say, each with its port.
    static : Path, optional
        Folder of the pages; the shipped ones by default.
    """
    folder = static or Path(str(resources.files("fanlight.desk") / "static"))
    entrance = Path(str(resources.files("fanlight.desk") / "entrance"))
    keys = Keys(token)
    names = tuple(hosts)
    # Cookies know no ports (RFC 6265, 8.5): two desks on one machine need two names.
    cookie = f"fanlight_desk_{names[0].rpartition(':')[2]}"

    @contextlib.asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        # Beside the loop: a page may ask while the first processes are still starting.
        threading.Thread(target=_begin, args=(desk,), name="begin", daemon=True).start()
        yield
        desk.hub.close()

    app = FastAPI(title="Fanlight desk", docs_url=None, redoc_url=None, openapi_url=None, lifespan=life)
    app.include_router(routes(desk))
    _add_errors(app)

    @app.post("/enter", status_code=204)
    def enter(body: Body) -> Response:
        answer = Response(status_code=204)
        answer.set_cookie(cookie, keys.exchange(body.text("token")), httponly=True, samesite="strict", path="/")
        return answer

    @app.get("/")
    def front(request: Request) -> Response:
        index = folder / "index.html"
        return _file(
            index if is_inside(keys, request.headers, cookie) and index.is_file() else entrance / "entrance.html"
        )

    @app.get("/{path:path}")
    def page(path: str) -> Response:
        if path in ("entrance.js", "entrance.css"):
            return _file(entrance / path)
        return _file(_inside(folder, path))

    app.add_middleware(Guard, keys=keys, hosts=names, cookie=cookie, upload_bytes=desk.options.limits.zip_total_bytes)
    return app


def _begin(desk: Desk) -> None:
    desk.resume()
    with contextlib.suppress(TaskError):  # then the first question waits for it, and says what is wrong
        desk.frames.warm()
    with contextlib.suppress(StoreError):  # as above
        desk.warm()


def _inside(folder: Path, path: str) -> Path:
    found = (folder / path).resolve()
    if not found.is_relative_to(folder.resolve()) or not found.is_file() or found.suffix not in _TYPES:
        raise DeskError(404, "there is no such page", f"/{path}"[:200], "Go back to the list of studies.")
    return found


def _file(path: Path) -> Response:
    return FileResponse(path, media_type=_TYPES[path.suffix])


def _add_errors(app: FastAPI) -> None:
    """Turn every refusal into the one form that pages read."""

    @app.exception_handler(DeskError)
    async def desk_error(_: Request, error: DeskError) -> JSONResponse:
        return JSONResponse(error.plain(), error.status)

    @app.exception_handler(StoreError)
    async def store_error(_: Request, error: StoreError) -> JSONResponse:
        known = told(error)
        return JSONResponse(known.plain(), known.status)

    @app.exception_handler(RequestValidationError)
    async def wrong_address(_: Request, error: RequestValidationError) -> JSONResponse:
        first = error.errors()[0]
        known = bad_request(str(first["msg"]), ".".join(str(part) for part in first["loc"]))
        return JSONResponse(known.plain(), known.status)

    @app.exception_handler(HTTPException)
    async def other(request: Request, error: HTTPException) -> JSONResponse:
        known = DeskError(error.status_code, str(error.detail), request.url.path, "Load the page anew.")
        return JSONResponse(known.plain(), known.status)

    @app.exception_handler(Exception)
    async def fault(request: Request, error: Exception) -> JSONResponse:
        remedy = "This looks like a fault of Fanlight: please report it. What was done before is kept."
        known = DeskError(500, f"an unexpected {type(error).__name__}", request.url.path, remedy)
        return JSONResponse(known.plain(), known.status)
