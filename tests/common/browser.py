"""A real browser for tests of this app: one launch per file, a page in any size, complaints kept."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
# No sandbox: needed where tests run as root, harmless for pages of our own. The rest keeps it quiet.
QUIET = ["--no-sandbox"] + [
    f"--disable-{habit}" for habit in ("gpu", "background-networking", "component-update", "sync")
]
needs_browser = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(CHROMIUM is None, reason="no chromium found"),
]
Opener = Callable[[str, tuple[int, int]], Page]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with pytest.MonkeyPatch.context() as env, sync_playwright() as play:
        # The browser's own loop runs in this thread, which is otherwise as any test's.
        env.setenv("DJANGO_ALLOW_ASYNC_UNSAFE", "true")
        launched = play.chromium.launch(executable_path=CHROMIUM, args=QUIET)
        yield launched
        launched.close()


@pytest.fixture
def complaints() -> list[str]:
    """What the browser complained of: refused styles or scripts, missing files, faults of our own scripts."""
    return []


@pytest.fixture
def open_page(browser, live_server, complaints) -> Iterator[Opener]:
    opened: list[Page] = []

    def opener(path: str, size: tuple[int, int] = (1138, 712)) -> Page:
        page = browser.new_page(viewport={"width": size[0], "height": size[1]}, has_touch=True)
        opened.append(page)
        page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.goto(live_server.url + path)
        return page

    yield opener
    for page in opened:
        page.close()
