"""Lines of keys, held against what tomllib reads from the same text."""

import tomllib

import pytest
import tomli_w
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.scenario.places import lines_of_keys

TEXT = '''\
# a = 1
a.b = "x # y = 2"
"quoted key" = 1
[t] # [u]
long = """
not = 1
\\""" still = 2"""
list = [
  1, # one
  { k = 2, m.n = 3 },
  [4],
]
[[rows]]
id = 'a = 1'
[[rows]]
id = "b"
[rows.sub]
deep = 1979-05-27T07:32:00
[[rows.more]]
x = 1.5
'''
LINES = {
    ("a", "b"): 2,
    ("quoted key",): 3,
    ("t",): 4,
    ("t", "long"): 5,
    ("t", "list"): 8,
    ("t", "list", 0): 9,
    ("t", "list", 1, "k"): 10,
    ("t", "list", 1, "m", "n"): 10,
    ("t", "list", 2): 11,
    ("rows", 0): 13,
    ("rows", 0, "id"): 14,
    ("rows", 1, "id"): 16,
    ("rows", 1, "sub"): 17,
    ("rows", 1, "sub", "deep"): 18,
    ("rows", 1, "more", 0, "x"): 20,
}


@pytest.mark.parametrize("loc", LINES)
def test_line_of_a_key(loc):
    assert lines_of_keys(TEXT)[loc] == LINES[loc]


def locs(value, at=()):
    pairs = value.items() if isinstance(value, dict) else ()
    pairs = enumerate(value) if isinstance(value, list) else pairs
    found = {at}
    for step, inner in pairs:
        found |= locs(inner, (*at, step))
    return found


def test_keys_are_those_that_the_text_holds():
    assert set(lines_of_keys(TEXT)) == locs(tomllib.loads(TEXT)) - {()}


KEY = st.text(st.characters(codec="utf-8", exclude_categories=("Cs",)), max_size=5)
VALUE = st.recursive(
    st.booleans() | st.floats() | st.integers(-99, 99) | KEY | st.dates(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEY, inner, max_size=3),
    max_leaves=12,
)


@given(table=st.dictionaries(KEY, VALUE, max_size=4), multiline=st.booleans())
@settings(max_examples=200, deadline=None)
def test_every_key_of_any_text_has_a_line(table, multiline):
    text = tomli_w.dumps(table, multiline_strings=multiline)
    lines = lines_of_keys(text)
    assert set(lines) == locs(tomllib.loads(text)) - {()}
    assert all(1 <= line <= text.count("\n") + 1 for line in lines.values())


@given(text=st.text(max_size=60))
@settings(max_examples=200, deadline=None)
def test_nonsense_ends(text):
    assert isinstance(lines_of_keys(text), dict)


def test_deep_nesting_ends():
    lines_of_keys("a = " + "[" * 100_000)
