"""What is kept for the next question; general reasoning, no source."""

from optibox.model.kept import Kept


def test_what_was_not_asked_for_longest_goes():
    made = []

    def make(key):
        made.append(key)
        return key.upper()

    kept = Kept(2)
    for key in ("a", "b", "a", "c", "a", "b"):
        assert kept.get(key, lambda key=key: make(key)) == key.upper()
    # c pushed b out, as a was asked for after it
    assert made == ["a", "b", "c", "b"]
    assert len(kept) == 2
