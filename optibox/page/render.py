"""The page as text: template, style and script put together, sealed by a policy."""

import json
from base64 import b64encode
from functools import cache
from hashlib import sha256
from importlib.resources import files
from typing import Any

from jinja2 import Environment, StrictUndefined, select_autoescape
from markupsafe import Markup

from optibox.page.data import Subject, page_data
from optibox.page.packing import packed
from optibox.page.shapes import svg_text

SCRIPTS = (
    "format.js",
    "money.js",
    "dom.js",
    "frontier.js",
    "charts.js",
    "chains.js",
    "sections.js",
    "bench.js",
    "main.js",
)
"""Script files in the order in which they are joined."""

_IN_SCRIPT = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"}
"""What could end a script element early, as JSON may write it instead."""


def render(subject: Subject) -> str:
    """Return the page of a subject: one file that asks for nothing from outside."""
    return render_data(page_data(subject))


def render_data(data: dict[str, Any]) -> str:
    """Return the page for data as ``page_data`` makes them."""
    style, script = _asset("page.css"), _script()
    plan = next((row for row in data["rows"] if row["is_plan"]), data["rows"][0])
    text: str = _template().render(
        data=data,
        plan=plan,
        drawing=Markup(svg_text(plan["drawing"])),
        json=Markup(json_text(packed(data))),
        style=Markup(style),
        script=Markup(script),
        policy=policy(style, script),
    )
    return text


def json_text(value: dict[str, Any]) -> str:
    r"""Return JSON that can stand inside a script element.

    Examples
    --------
    >>> json_text({"name": "</script>"})
    '{"name":"\\u003c/script\\u003e"}'
    """
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for char, instead in _IN_SCRIPT.items():
        text = text.replace(char, instead)
    return text


def policy(style: str, script: str) -> str:
    """Return the content-security policy: this style, this script, nothing else."""
    return (
        f"default-src 'none'; style-src '{_hash(style)}'; script-src '{_hash(script)}'; "
        "base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"


@cache
def _asset(name: str) -> str:
    return files("optibox.page").joinpath("assets", name).read_text(encoding="utf-8")


@cache
def _script() -> str:
    body = "\n".join(_asset(name) for name in SCRIPTS)
    return f'\n(() => {{\n"use strict";\n{body}\n}})();\n'


def _template() -> Any:  # noqa: ANN401 - jinja2 is imported where pages are made
    environment = Environment(
        autoescape=select_autoescape(default=True, default_for_string=True),
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.from_string(_asset("page.html.j2"))
