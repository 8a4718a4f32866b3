"""A whole shop behind a real browser: the asynchronous server with its live stream, tablets, no internet."""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator

import pytest
import uvicorn
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from playwright.sync_api import BrowserContext, Page

from shopflow.people import presence, tablets
from shopflow.people.models import Person, Tablet
from tests import cast
from tests.common.browser import CHROMIUM, browser, complaints

__all__ = ["browser", "complaints"]

PORTRAIT, LANDSCAPE = (712, 1138), (1138, 712)
Opener = Callable[..., Page]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if "/browser/" in str(item.path):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.django_db(transaction=True))
            item.add_marker(pytest.mark.skipif(CHROMIUM is None, reason="no chromium found"))


@pytest.fixture(scope="session")
def served(django_db_setup: None) -> Iterator[str]:
    """The address of the shop's own kind of server, run in this process on the tests' database."""
    from shopflow.asgi import application

    door = socket.socket()
    door.bind(("127.0.0.1", 0))
    config = uvicorn.Config(application, log_level="error", lifespan="off", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
    thread.start()
    yield f"http://127.0.0.1:{door.getsockname()[1]}"
    server.should_exit = True
    thread.join(timeout=5)


def enrolled(name: str = "Refinishing tablet") -> tuple[Tablet, str]:
    """A shop tablet and the secret that its browser keeps."""
    secret = f"secret of {name}"
    tablet = cast.tablet(name)
    tablet.token_hash = tablets.fingerprint(secret)
    tablet.save()
    return tablet, secret


def sign_in(context: BrowserContext, address: str, person: Person, *, on: Tablet | None = None) -> None:
    """Put this person's session into the browser, as signing in with a PIN would."""
    session = SessionStore()
    session[SESSION_KEY] = str(person.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = person.get_session_auth_hash()
    if on:
        session[presence.TABLET] = on.pk
    session.save()
    _cookie(context, address, settings.SESSION_COOKIE_NAME, session.session_key)


def _cookie(context: BrowserContext, address: str, name: str, value: str) -> None:
    context.add_cookies([{"name": name, "value": value, "url": address}])


@pytest.fixture
def open_tablet(browser, served, complaints) -> Iterator[Opener]:
    """open_tablet(person, "/bench/refinishing/"): that page on a tablet of its own with a touch screen."""
    contexts = []

    def opener(
        person: Person | None,
        path: str,
        *,
        size: tuple[int, int] = PORTRAIT,
        tablet: tuple[Tablet, str] | None = None,
        javascript: bool = True,
    ) -> Page:
        context = browser.new_context(
            viewport={"width": size[0], "height": size[1]},
            has_touch=True,
            java_script_enabled=javascript,
            base_url=served,
        )
        contexts.append(context)
        if tablet:
            _cookie(context, served, tablets.COOKIE, tablet[1])
        if person:
            sign_in(context, served, person, on=tablet[0] if tablet else None)
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on("console", lambda said: _note(said, complaints))
        page.goto(path)
        return page

    yield opener
    for context in contexts:
        context.close()


def _note(said: object, complaints: list[str]) -> None:
    """Faults of our own pages; a refused or unanswered tap is what these tests are about."""
    expected = ("Failed to load resource", "net::ERR")
    if said.type == "error" and not any(words in said.text for words in expected):
        complaints.append(said.text)
