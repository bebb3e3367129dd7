"""Single faults of a module: what a slip of the hand would leave behind.

A fault replaces one piece of the source by another; everything around it stays byte for
byte. Left alone is what no test of behaviour can see or should pin: docstrings, messages,
annotations, decorators, assertions, ``__repr__`` and ``__str__``.
"""

import ast
import math
from dataclasses import dataclass

FLIPS: dict[type[ast.cmpop], tuple[str, ...]] = {
    ast.Lt: ("<=", ">"),
    ast.LtE: ("<", ">="),
    ast.Gt: (">=", "<"),
    ast.GtE: (">", "<="),
    ast.Eq: ("!=",),
    ast.NotEq: ("==",),
    ast.In: ("not in",),
    ast.NotIn: ("in",),
    ast.Is: ("is not",),
    ast.IsNot: ("is",),
}
"""Other comparisons: the boundary shifted, and the sense turned round."""

SWAPS: dict[type[ast.operator], str] = {
    ast.Add: "-",
    ast.Sub: "+",
    ast.Mult: "/",
    ast.Div: "*",
    ast.FloorDiv: "/",
    ast.Mod: "*",
    ast.Pow: "*",
}
TWINS = {
    "min": "max",
    "max": "min",
    "any": "all",
    "all": "any",
    "ceil": "floor",
    "floor": "ceil",
    "minimum": "maximum",
    "maximum": "minimum",
}
"""Functions that are taken for each other."""

SAYING = frozenset({"error", "warning", "information", "InternalError"})
"""Calls whose arguments are sentences for people."""

UNSEEN = frozenset({"strict", "maxsize", "slots", "frozen", "kw_only", "repr"})
"""Keywords that change nothing in a program that is right."""

SLIGHTLY = 1.04
"""What a physical factor is multiplied by: a few percent, well within what a loose
tolerance would let pass."""

TOLERANCE = 1e-5
"""Factors up to here bound rounding errors: a few percent of them mean nothing."""

FEW = 10
"""Whole numbers below count something and are off by one; others are off by percents."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One piece of source replaced by another."""

    path: str
    """File, relative to the project's folder."""
    line: int
    """Line on which the replaced piece begins, from 1."""
    column: int
    """Byte within that line, from 0."""
    end_line: int
    end_column: int
    before: str
    after: str
    first: int
    """First line of the statement (or of its head) that holds the piece."""
    last: int
    """Last line of it."""
    within: str
    """Name of the function or class around it, empty at the top of the module."""
    names: tuple[str, ...] = ()
    """What an import-time statement binds: who uses these names is who runs it."""

    @property
    def key(self) -> str:
        """Identify the fault within one state of the project."""
        return f"{self.path}:{self.line}:{self.column}:{self.before}->{self.after}"

    @property
    def change(self) -> str:
        """Say the change on one line."""
        before, after = (" ".join(t.split()) for t in (self.before, self.after))
        return f"{before}  ->  {after}"


def apply(fault: Fault, source: str) -> str:
    """Return the source with the fault in it."""
    lines = source.encode().splitlines(keepends=True)
    start = sum(map(len, lines[: fault.line - 1])) + fault.column
    end = sum(map(len, lines[: fault.end_line - 1])) + fault.end_column
    data = source.encode()
    return (data[:start] + fault.after.encode() + data[end:]).decode()


def faults_of(path: str, source: str) -> list[Fault]:
    r"""Return every fault of one module, in the order of the source.

    Examples
    --------
    >>> [f.change for f in faults_of("a.py", "def f(a, b):\n    return a + b\n")]
    ['a + b  ->  a', 'a + b  ->  a - b', 'a + b  ->  b']
    """
    finder = _Finder(path, source)
    finder.visit(ast.parse(source))
    unique = {fault.key: fault for fault in finder.found}
    return sorted(unique.values(), key=lambda f: (f.line, f.column, f.after))


def is_change(fault: Fault, source: str) -> bool:
    """Return whether the source with the fault is Python, and another program."""
    try:
        changed = ast.parse(apply(fault, source))
    except SyntaxError:
        return False
    return ast.dump(changed) != ast.dump(ast.parse(source))


class _Finder(ast.NodeVisitor):
    """Walk a module and note what could be wrong in it."""

    def __init__(self, path: str, source: str) -> None:
        self.path, self.lines = path, [line.encode() for line in source.splitlines()]
        self.found: list[Fault] = []
        self.scopes: list[str] = []
        self.is_run_later = False
        self.statement: ast.stmt | None = None

    # --- what surrounds a piece ----------------------------------------------------
    def visit(self, node: ast.AST) -> None:
        if not isinstance(node, ast.stmt):
            super().visit(node)
            return
        outer, self.statement = self.statement, node
        super().visit(node)
        self.statement = outer

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for default in (*node.args.defaults, *node.args.kw_defaults):
            if default is not None:
                self._in(node.name, [default])
        if node.name in {"__repr__", "__str__"}:
            return
        outer, self.is_run_later = self.is_run_later, True
        self._in(node.name, node.body)
        self.is_run_later = outer

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        self._in(node.name, node.body)

    def _in(self, name: str, nodes: list) -> None:
        self.scopes.append(name)
        for node in nodes:
            self.visit(node)
        self.scopes.pop()

    # --- what is left alone --------------------------------------------------------
    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Leave sentences alone."""

    def visit_Raise(self, node: ast.Raise) -> None:
        """Leave messages of errors alone."""

    def visit_Assert(self, node: ast.Assert) -> None:
        """Leave what must hold anyway alone."""

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    # --- what goes wrong -----------------------------------------------------------
    def visit_Compare(self, node: ast.Compare) -> None:
        if len(node.ops) == 1:
            for sign in FLIPS[type(node.ops[0])]:
                self._note(
                    node,
                    f"{self._text(node.left)} {sign} {self._text(node.comparators[0])}",
                )
        else:
            self._chain(node)
        self.generic_visit(node)

    def _chain(self, node: ast.Compare) -> None:
        """Shift each boundary of ``a <= b < c`` in turn."""
        terms = [self._text(term) for term in (node.left, *node.comparators)]
        signs = [_sign(op) for op in node.ops]
        for index, op in enumerate(node.ops):
            changed = [*signs]
            changed[index] = FLIPS[type(op)][0]
            rest = "".join(f" {s} {t}" for s, t in zip(changed, terms[1:], strict=True))
            self._note(node, terms[0] + rest)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        left, right = self._text(node.left), self._text(node.right)
        if type(node.op) in SWAPS and not _is_text(node):
            self._note(node, f"{left} {SWAPS[type(node.op)]} {right}")
            if isinstance(node.op, ast.Add | ast.Sub | ast.Mult | ast.Div):
                self._note(node, left)
            if isinstance(node.op, ast.Add | ast.Mult):
                self._note(node, right)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        terms = [self._text(value) for value in node.values]
        other = " or " if isinstance(node.op, ast.And) else " and "
        same = " and " if isinstance(node.op, ast.And) else " or "
        self._note(node, f"({other.join(terms)})")
        for index in range(len(terms)):
            self._note(node, f"({same.join(terms[:index] + terms[index + 1 :])})")
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not | ast.USub):
            self._note(node, f"({self._text(node.operand)})")
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        parts = (self._text(n) for n in (node.body, node.test, node.orelse))
        body, test, other = parts
        if not any(isinstance(n, ast.JoinedStr) for n in ast.walk(node)):
            self._note(node, f"{other} if {test} else {body}")
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        if _is_checking(node.test):
            return
        leaves = isinstance(node.body[-1], ast.Return | ast.Continue | ast.Break)
        if leaves and not node.orelse:
            self._note(node.test, "False")
        elif not isinstance(node.test, ast.Compare | ast.BoolOp | ast.UnaryOp):
            self._note(node.test, f"not {self._text(node.test)}")
        self.generic_visit(node)

    def visit_comprehension(self, node: ast.comprehension) -> None:
        for test in node.ifs:
            self._note(test, "True")
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        if type(node.op) in SWAPS and not _is_text(node.value):
            target, value = self._text(node.target), self._text(node.value)
            self._note(node, f"{target} {SWAPS[type(node.op)]}= {value}")
        self._note(node, "pass")
        self.generic_visit(node)

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Constant):
            return
        if isinstance(node.value, ast.YieldFrom):
            self._note(node, "yield from ()")
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
        name = node.func.id if isinstance(node.func, ast.Name) else name
        if name in SAYING:
            return
        if name in TWINS:
            before = self._text(node.func)
            self._note(node.func, before.removesuffix(name) + TWINS[name])
        self.visit(node.func)
        for argument in node.args:
            self.visit(argument)
        for keyword in node.keywords:
            if keyword.arg not in UNSEEN:
                self.visit(keyword.value)

    def visit_Constant(self, node: ast.Constant) -> None:
        value = node.value
        if isinstance(value, bool):
            self._note(node, str(not value))
        elif isinstance(value, int | float):
            for other in _others(value):
                self._note(node, repr(other))

    # --- notes ---------------------------------------------------------------------
    def _source(self, node: ast.expr | ast.stmt) -> str:
        end = node.end_lineno or node.lineno
        lines = self.lines[node.lineno - 1 : end]
        lines[-1] = lines[-1][: node.end_col_offset]
        lines[0] = lines[0][node.col_offset :]
        return b"\n".join(lines).decode()

    def _text(self, node: ast.expr) -> str:
        text = self._source(node)
        needs = isinstance(
            node, ast.BinOp | ast.BoolOp | ast.IfExp | ast.Compare | ast.Lambda
        ) or (isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not))
        return f"({text})" if needs or "\n" in text else text

    def _note(self, node: ast.expr | ast.stmt, after: str) -> None:
        if self.statement is None:
            return
        before = self._source(node)
        first, last = _head(self.statement)
        self.found.append(
            Fault(
                path=self.path,
                line=node.lineno,
                column=node.col_offset,
                end_line=node.end_lineno or node.lineno,
                end_column=node.end_col_offset or node.col_offset,
                before=before,
                after=after,
                first=first,
                last=last,
                within=".".join(self.scopes),
                names=() if self.is_run_later else self._bound(),
            )
        )

    def _bound(self) -> tuple[str, ...]:
        """Return what the statement around a piece binds when the module is imported."""
        node = self.statement
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            return (node.name,)
        targets = node.targets if isinstance(node, ast.Assign) else []
        targets = [node.target] if isinstance(node, ast.AnnAssign) else targets
        names = [n.id for t in targets for n in ast.walk(t) if isinstance(n, ast.Name)]
        return tuple(names) or (self.scopes[-1:] and (self.scopes[-1],)) or ("",)


def _head(node: ast.stmt) -> tuple[int, int]:
    """Return first and last line of a statement without the statements inside it."""
    body = getattr(node, "body", None)
    if isinstance(body, list) and body:
        return node.lineno, max(node.lineno, body[0].lineno - 1)
    return node.lineno, node.end_lineno or node.lineno


def _sign(op: ast.cmpop) -> str:
    expression = ast.Compare(ast.Name("a"), [op], [ast.Name("b")])
    return ast.unparse(expression).removeprefix("a ").removesuffix(" b")


def _is_text(node: ast.expr) -> bool:
    """Return whether an expression is a string, or joins some."""
    if isinstance(node, ast.BinOp):
        return _is_text(node.left) or _is_text(node.right)
    is_literal = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return is_literal or isinstance(node, ast.JoinedStr)


def _is_checking(node: ast.expr) -> bool:
    return isinstance(node, ast.Name) and node.id == "TYPE_CHECKING"


def _others(value: float) -> tuple[float, ...]:
    """Return wrong values for a number."""
    if isinstance(value, int):
        if abs(value) < FEW:
            return (value + 1, value - 1) if value > 0 else (value + 1,)
        return (max(value + 1, round(value * SLIGHTLY)),)
    if value == 0.0 or math.isinf(value):
        return (1.0,)
    if abs(value) <= TOLERANCE:
        return ()
    return (value * SLIGHTLY, value / SLIGHTLY)
