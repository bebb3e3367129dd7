"""One browser for all tests of the page, one tab for each."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from optibox.page.render import render
from tests.support.browser import chromium_path
from tests.unit.page.subjects import MONEY, subject


@pytest.fixture(scope="session")
def browser() -> Iterator:
    path = chromium_path()
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def folder(tmp_path_factory) -> Path:
    """Return a folder with a page of flat prices and one of bands."""
    path = tmp_path_factory.mktemp("pages")
    for name, money in (("flat", None), ("bands", MONEY)):
        (path / f"{name}.html").write_text(render(subject(money)), encoding="utf-8")
    return path


@pytest.fixture
def opened(browser, folder) -> Iterator:
    """Return what opens a page, offline; nothing may fail or be fetched meanwhile."""
    contexts, faults = [], []

    def show(name="flat", address="", text=None, **options):
        file = folder / f"{name}.html"
        if text is not None:
            file.write_text(text, encoding="utf-8")
        context = browser.new_context(offline=True, **options)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda m: faults.append(m.text) if m.type == "error" else 0)
        page.on(
            "request",
            lambda r: None if r.url.startswith("file:") else faults.append(r.url),
        )
        page.goto(file.as_uri() + address)
        return page

    yield show
    for context in contexts:
        context.close()
    assert not faults


@pytest.fixture
def go():
    """Return what changes a page's address behind the hash, and waits for the page."""
    script = """address => new Promise(done => {
        if (decodeURIComponent(location.hash.slice(1)) === address) { done(); return; }
        addEventListener('hashchange', () => setTimeout(done), { once: true });
        location.hash = address;
    })"""

    def change(page, **settings):
        page.evaluate(script, "&".join(f"{k}={v}" for k, v in settings.items()))

    return change
