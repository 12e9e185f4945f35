"""Who gets in, and what is told to those who do not."""

from __future__ import annotations

import json
from typing import Any

import pytest

from tests.desk.browser import HOST, TOKEN, Browser


def error_of(answer: Any) -> dict[str, str]:
    said: dict[str, str] = answer.json()["error"]
    assert set(said) == {"what", "where", "remedy"}
    assert all(said.values())
    return said


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:80", f"{HOST}.evil.example", ""])
def test_another_host_is_refused(browser: Browser, host: str) -> None:
    """A page of another name that points at this machine gets nothing, not even the entrance."""
    for path in ("/", "/api/waiting"):
        answer = browser.get(path, headers={"host": host})

        assert answer.status_code == 403
        assert "Host" in error_of(answer)["what"]


@pytest.mark.parametrize("origin", ["http://evil.example", "https://" + HOST, "null", "http://127.0.0.1:9999", None])
def test_another_origin_changes_nothing(browser: Browser, origin: str | None) -> None:
    """Also none at all: browsers always name it where something changes."""
    answer = browser.post("/api/studies", {"title": "x"}, headers={"origin": origin})

    assert answer.status_code == 403
    assert browser.get("/api/waiting").json()["studies"] == []


@pytest.mark.parametrize("site", ["cross-site", "same-site"])
def test_a_page_elsewhere_reads_nothing(browser: Browser, site: str) -> None:
    """Another port of this machine is another place."""
    answer = browser.get("/api/waiting", headers={"origin": None, "sec-fetch-site": site})

    assert answer.status_code == 403


def test_without_a_cookie_there_is_only_the_entrance(outside: Browser) -> None:
    """It says how to get in, and holds no data."""
    refused = outside.get("/api/waiting")

    assert refused.status_code == 401
    assert "fanlight desk" in error_of(refused)["remedy"]
    assert outside.get("/index.html").status_code == 401
    front = outside.get("/")
    assert front.status_code == 200
    assert "Open the address" in front.text
    assert outside.get("/entrance.js").headers["content-type"].startswith("text/javascript")


def test_the_token_works_once(outside: Browser) -> None:
    """A wrong one does not use it up; the right one gives a cookie that scripts and other sites cannot use."""
    assert outside.enter("a guess").status_code == 403
    first = outside.enter(TOKEN)
    second = outside.enter(TOKEN)

    assert first.status_code == 204
    cookie = first.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert TOKEN not in cookie
    assert second.status_code == 403
    assert "used already" in error_of(second)["what"]
    assert outside.get("/api/waiting").status_code == 200


@pytest.mark.parametrize("other", ['jup={"a": 1}', "a b=c", "=", "x", 'q="', "ü=ü", ""])
@pytest.mark.parametrize("form", ["{other}; {ours}", "{ours};{other}"])
def test_cookies_of_other_programs_shut_nobody_out(outside: Browser, other: str, form: str) -> None:
    """Cookies know no ports (RFC 6265, 8.5): another program on this machine may set what no standard allows."""
    ours = outside.enter().headers["set-cookie"].split(";")[0]
    name = ours.split("=")[0]
    outside._client.cookies.clear()

    cookie = form.format(ours=ours, other=other).encode()
    assert outside.get("/api/waiting", headers={"cookie": cookie}).status_code == 200
    for wrong in (f"{other}; x{ours}", f"{other}; {name}=", other):
        assert outside.get("/api/waiting", headers={"cookie": wrong.encode()}).status_code == 401


@pytest.mark.parametrize("path", ["/", "/api/waiting", "/nowhere", "/entrance.css"])
def test_every_answer_forbids_what_comes_from_elsewhere(browser: Browser, path: str) -> None:
    """No outside origin stands in the policy; nothing is guessed, framed elsewhere or kept."""
    head = browser.get(path).headers

    policy = head["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'self'" in policy
    assert "http" not in policy
    assert "unsafe" not in policy
    assert head["x-content-type-options"] == "nosniff"
    assert head["referrer-policy"] == "no-referrer"
    if path.startswith("/api/"):
        assert head["cache-control"] == "no-store"


def test_a_body_is_bounded(browser: Browser) -> None:
    """By what is stated, and by what comes when nothing is stated."""

    async def endless() -> Any:
        for _ in range(3000):
            yield b" " * 1000

    stated = browser.post("/api/studies", {"title": "x" * 2_000_000})
    counted = browser.send("POST", "/api/studies", content=endless())

    for answer in (stated, counted):
        assert answer.status_code == 413
        assert "1048576 bytes" in error_of(answer)["what"]


@pytest.mark.parametrize("body", [b"{", b"[]", b'{"title": 3}', b'{"title": "' + b"x" * 301 + b'"}', b"[" * 100_000])
def test_what_no_page_sends_is_named(browser: Browser, body: bytes) -> None:
    answer = browser.send("POST", "/api/studies", content=body)

    assert answer.status_code == 422
    assert error_of(answer)["where"] in ("body", "title")


@pytest.mark.parametrize("path", ["/../app.py", "/%2e%2e/app.py", "/..%2fapp.py", "/static/../../app.py"])
def test_pages_lie_in_one_folder(browser: Browser, path: str) -> None:
    answer = browser.get(path)

    assert answer.status_code == 404
    assert "import" not in answer.text


def test_a_fault_of_ours_is_told_without_its_insides(browser: Browser, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page hears what it can do; no trace, no value of the study."""

    def broken(*_: object) -> None:
        raise RuntimeError("Juniper")

    monkeypatch.setattr("fanlight.desk.api.waiting_page", broken)
    answer = browser.get("/api/waiting")

    assert answer.status_code == 500
    assert "report it" in error_of(answer)["remedy"]
    assert "Juniper" not in json.dumps(answer.json())
