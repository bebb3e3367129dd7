"""The page as a file: sealed, escaped, small, written whole."""

import hashlib
import json
import re
from base64 import b64encode
from dataclasses import replace
from html.parser import HTMLParser

import pytest

from optibox.assess import assess
from optibox.files import write_text
from optibox.page.render import render
from optibox.page.rows import frontier_of
from tests.unit.page.subjects import (
    CATALOG,
    MONEY,
    asked,
    machines,
    subject,
    subject_of,
)
from tests.unit.present.machines import plan_of, reference_build

EVIL = "</script><script>document.title='taken'</script><img src=x onerror=alert(1)>"


class Parsed(HTMLParser):
    """Elements with their attributes, and the text of scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict]] = []
        self.inside: list[tuple[str, dict, str]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        if self.cdata_elem is not None:
            tag, attrs = self.elements[-1]
            self.inside.append((tag, attrs, data))


@pytest.fixture(scope="module")
def page() -> str:
    return render(subject(MONEY))


def evil_page() -> str:
    """Return a page of which every text of catalog and scenario is hostile."""
    evil = {"note": EVIL, "seller": EVIL, "order_code": EVIL}
    parts = tuple(
        p.model_copy(update=evil | {"label": f"{EVIL} {p.id}"}) for p in CATALOG.parts
    )
    catalog = replace(CATALOG, parts=parts, name=EVIL)
    question = asked().model_copy(update={"name": EVIL, "about": EVIL})
    found = assess(reference_build(catalog), question)
    other = assess(reference_build(catalog, timeout_min=None), question)
    command = f"optibox page '{EVIL}'"
    return render(subject_of(found, [other], catalog, command=command))


def hash_of(text: str) -> str:
    """Return a text's hash as policies write it (Content Security Policy 3, 2.3)."""
    return f"'sha256-{b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def test_policy_allows_this_style_and_script_and_nothing_else(page):
    parsed = Parsed(page)
    (policy,) = (
        a["content"]
        for tag, a in parsed.elements
        if tag == "meta" and a.get("http-equiv") == "Content-Security-Policy"
    )
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    (style,) = (text for tag, _, text in parsed.inside if tag == "style")
    (script,) = (t for tag, a, t in parsed.inside if tag == "script" and not a)
    assert rules["style-src"] == hash_of(style)
    assert rules["script-src"] == hash_of(script)
    assert "unsafe" not in policy


def test_no_handler_no_inline_style_nothing_from_outside(page):
    for tag, attributes in Parsed(page).elements:
        for name, value in attributes.items():
            assert not name.startswith("on"), (tag, name)
            assert name not in ("style", "src", "srcset", "action"), (tag, name)
            assert name != "href" or value.startswith("#"), (tag, value)
    assert not re.search(r"@import|url\(", page)
    assert set(re.findall(r"https?://[^\"' ]*", page)) == {"http://www.w3.org/2000/svg"}


def test_hostile_texts_stay_texts():
    text = evil_page()
    parsed = Parsed(text)
    scripts = [a for tag, a in parsed.elements if tag == "script"]
    assert scripts == [{"type": "application/json", "id": "data"}, {}]
    assert not [a for tag, a in parsed.elements if tag == "img"]
    (data,) = (t for tag, a, t in parsed.inside if a.get("id") == "data")
    assert EVIL in json.loads(data)["pool"] + [json.loads(data)["value"]["name"]]


def bytes_of(n_rows: int) -> int:
    """Return the size of a page whose machines all differ in timeout and flush."""
    question = asked(MONEY)
    builds = [
        reference_build(CATALOG, timeout_min=5 + n, flush_hour=n / 4)
        for n in range(n_rows)
    ]
    plan, *others = (assess(build, question) for build in builds)
    whole = subject_of(plan, others)
    assert len(whole.frontier.rows) > 0.9 * n_rows
    return len(render(whole).encode())


def test_pages_stay_small():
    """What one more machine takes leaves sixty of them below 2 MB."""
    few, more = bytes_of(4), bytes_of(12)
    assert few + (more - few) / 8 * 56 < 2_000_000


@pytest.mark.slow
def test_a_page_of_sixty_machines_is_below_two_megabytes():
    assert bytes_of(60) < 2_000_000


def test_a_page_of_one_machine_has_no_frontier():
    parsed = Parsed(render(subject(n_rows=1)))
    assert not [a for _, a in parsed.elements if a.get("id") == "scatter"]


def test_without_scripts_the_order_list_and_wiring_are_there(page):
    plain = page.split("<noscript>")[1].split("</noscript>")[0]
    assert "2.5 inch" in plain
    assert "<svg" in plain
    assert "SATA port 1 of the board" in plain


def test_the_same_subject_gives_the_same_page(page):
    assert render(subject(MONEY)) == page


def test_a_page_that_cannot_be_written_leaves_the_old_one(tmp_path, monkeypatch):
    path = tmp_path / "page.html"
    path.write_text("old")
    monkeypatch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError("full")))
    with pytest.raises(Exception, match=r"full|written"):
        write_text(path, render(subject(n_rows=1)))
    assert path.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_machines_are_numbered_by_price():
    plan, *others = machines(asked())
    front = frontier_of(plan_of(plan), others)
    prices = [row.values[0] for row in front.rows]
    assert prices == sorted(prices)
    assert front.row(front.plan_number).is_plan
