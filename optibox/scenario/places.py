"""On which line each key of a TOML text stands, so that faults can say so."""

import re
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from typing import TypeAlias

Loc: TypeAlias = tuple[str | int, ...]
"""Where a value is in a table: keys, and indexes into lists."""

_TOKEN = re.compile(
    r"""(?P<skip>[ \t\r]+|\#[^\n]*)
    |(?P<newline>\n)
    |(?P<string>\"{3}(?:\\.|[^\\])*?\"{3,5}|'{3}.*?'{3,5}
        |"(?:\\.|[^"\\\n])*"|'[^'\n]*')
    |(?P<mark>[\[\]{}=,.])
    |(?P<bare>[^\s\[\]{}=,.\#"']+|.)""",
    re.VERBOSE | re.DOTALL,
)
_ENDS_VALUE = frozenset({"\n", ",", "]", "}", ""})


@dataclass(frozen=True, slots=True)
class _Token:
    text: str
    line: int
    is_quoted: bool = False


def lines_of_keys(text: str) -> dict[Loc, int]:
    r"""Return the line of every key and list item of a valid TOML text.

    Examples
    --------
    >>> lines_of_keys("[needs]\nusable_tb = 4\n")[("needs", "usable_tb")]
    2
    >>> lines_of_keys("[[owned]]\nid = 'a'\n")[("owned", 0, "id")]
    2
    """
    scanner = _Scanner(text)
    # nested too deep, or no TOML after all: the lines found so far are still right
    with suppress(RecursionError, ValueError):
        scanner.document()
    return scanner.lines


def _tokens(text: str) -> Iterator[_Token]:
    line = 1
    for match in _TOKEN.finditer(text):
        if match.lastgroup != "skip":
            yield _Token(match[0], line, match.lastgroup == "string")
        line += match[0].count("\n")


class _Scanner:
    """Walks tokens of a text that is known to be valid."""

    def __init__(self, text: str) -> None:
        self.lines: dict[Loc, int] = {}
        self._tables: dict[Loc, int] = {}
        self._tokens = list(_tokens(text))
        self._at = 0

    def document(self) -> None:
        prefix: Loc = ()
        while self._peek().text:
            if self._took("\n"):
                continue
            if self._peek().text == "[":
                prefix = self._header()
            else:
                self._assignment(prefix)

    def _peek(self) -> _Token:
        at_end = self._at >= len(self._tokens)
        return _Token("", 0) if at_end else self._tokens[self._at]

    def _next(self) -> _Token:
        token = self._peek()
        self._at += 1
        return token

    def _took(self, text: str) -> bool:
        is_it = self._peek().text == text
        self._at += is_it
        return is_it

    def _note(self, loc: Loc, line: int) -> None:
        self.lines.setdefault(loc, line)

    def _header(self) -> Loc:
        line = self._next().line
        is_list = self._took("[")
        *parents, last = self._keys("]")
        self._took("]")
        loc: Loc = ()
        for key in parents:
            loc += (key,)
            self._note(loc, line)
            if loc in self._tables:
                loc += (self._tables[loc] - 1,)
        loc += (last,)
        self._note(loc, line)
        if is_list:
            number = self._tables.get(loc, 0)
            self._tables[loc] = number + 1
            loc += (number,)
            self._note(loc, line)
        return loc

    def _keys(self, end: str) -> list[str]:
        keys: list[str] = []
        while self._peek().text not in (end, ""):
            token = self._next()
            if token.is_quoted:
                keys += tomllib.loads(f"{token.text} = 0")
            elif token.text != ".":
                keys.append(token.text)
        self._next()
        return keys or [""]

    def _assignment(self, prefix: Loc) -> None:
        line = self._peek().line
        loc = prefix
        for key in self._keys("="):
            loc += (key,)
            self._note(loc, line)
        self._value(loc)

    def _value(self, loc: Loc) -> None:
        if self._took("["):
            self._list(loc)
        elif self._took("{"):
            while not self._took("}") and self._peek().text:
                if not self._took(",") and not self._took("\n"):
                    self._assignment(loc)
        else:
            while self._peek().text not in _ENDS_VALUE:
                self._next()

    def _list(self, loc: Loc) -> None:
        number = 0
        while not self._took("]") and self._peek().text:
            if self._took(",") or self._took("\n"):
                continue
            self._note((*loc, number), self._peek().line)
            before = self._at
            self._value((*loc, number))
            self._at += self._at == before
            number += 1
