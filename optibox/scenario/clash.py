"""The error of records whose keys do not go together."""

from pydantic_core import PydanticCustomError

CROSS = "cross"
"""Type of these errors, by which a reader knows them."""


def clash(*, key: str, problem: str, remedy: str) -> PydanticCustomError:
    """Return the error that names the key to change, and what to do."""
    context = {"key": key, "problem": problem, "remedy": remedy}
    return PydanticCustomError(CROSS, "{key} {problem}. {remedy}", context)
