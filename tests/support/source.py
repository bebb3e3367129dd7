"""Looking into the package's own source, without running it."""

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).parents[2]


def trees(folder: str = "optibox") -> Iterator[tuple[Path, ast.Module]]:
    """Yield every module under a folder, parsed."""
    for path in sorted((ROOT / folder).rglob("*.py")):
        yield path, ast.parse(path.read_text(encoding="utf-8"))


def text_of(node: ast.expr) -> str | None:
    """Return a string as written; of an f-string its text with the braces."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return ast.unparse(node)[2:-1]
    return None


def called(call: ast.Call) -> str:
    """Return the last part of the name of what is called."""
    if isinstance(call.func, ast.Attribute):
        return call.func.attr
    return call.func.id if isinstance(call.func, ast.Name) else ""


def functions(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    """Yield the functions of a module and of its classes."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            yield node


def calls_in(node: ast.AST) -> Iterator[ast.Call]:
    """Yield every call within a node."""
    yield from (found for found in ast.walk(node) if isinstance(found, ast.Call))


def rows_of(tree: ast.Module) -> set[tuple[str, str]]:
    """Return every row that a module writes: its name and the function.

    A row is written by ``require(name, ...)`` or by ``rows[name] = ...``. Where the name
    is a parameter of the function, its callers in the module say it.
    """
    found: set[tuple[str, str]] = set()
    for function in functions(tree):
        for name in _row_names(function):
            found |= _names(tree, function, name)
    return found


def _row_names(function: ast.FunctionDef) -> Iterator[ast.expr]:
    for node in ast.walk(function):
        if isinstance(node, ast.Call) and called(node) == "require":
            yield node.args[0]
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Subscript):
            target = node.targets[0]
            if ast.unparse(target.value) in ("rows", "program.rows"):
                yield target.slice


def _names(
    tree: ast.Module, function: ast.FunctionDef, name: ast.expr
) -> set[tuple[str, str]]:
    text = text_of(name)
    if text is not None:
        return {(text, function.name)}
    parameters = [argument.arg for argument in function.args.args]
    if not isinstance(name, ast.Name) or name.id not in parameters:
        msg = f"{function.name}: a row is named {ast.unparse(name)}"
        raise AssertionError(msg)
    place = parameters.index(name.id)
    found: set[tuple[str, str]] = set()
    for caller in functions(tree):
        for call in calls_in(caller):
            if called(call) == function.name:
                found |= _names(tree, caller, call.args[place])
    return found
