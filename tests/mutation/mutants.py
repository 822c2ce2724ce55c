"""Single faults in the code, all compiled in at once and switched on one at a time.

Every place that can be wrong is compiled as `(wrong if __mutant__ == 17 else right)`, where
`__mutant__` is a built-in of the run: 0 is the code as it stands. So a process that has imported
the code and the tests once can be forked for each fault, and the tests that reach a place are
found by a switch that notes what it is compared with.

Not altered: text (messages are held by other means than this), annotations, decorators, what a
`raise` says, `assert`, and patterns of `match`.
"""

import ast
import copy
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

SWITCH = "__mutant__"
ROOMS = ("base", "geometry", "speaker", "field", "aim", "rigging", "site")

_COMPARE: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
_ARITHMETIC: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.Mult,
    ast.Pow: ast.Mult,
    ast.BitAnd: ast.BitOr,
    ast.BitOr: ast.BitAnd,
}
_PAIRS = (
    ("min", "max"),
    ("minimum", "maximum"),
    ("fmin", "fmax"),
    ("argmin", "argmax"),
    ("sin", "cos"),
    ("floor", "ceil"),
    ("all", "any"),
    ("first", "last"),
)
_SWAP = {**dict(_PAIRS), **{right: left for left, right in _PAIRS}}
_DROPPED = ("abs", "sorted", "round")


@dataclass(frozen=True, kw_only=True)
class Mutant:
    """One fault: where it is, what it makes of what; `loading` where it acts as the code loads."""

    number: int
    path: str
    line: int
    function: str
    right: str
    wrong: str
    count: int
    loading: bool

    @property
    def room(self) -> str:
        return Path(self.path).with_suffix("").parts[1]

    @property
    def key(self) -> str:
        """What stays when lines move: file, function, the change, and which of its like it is."""
        return f"{self.path} {self.function}: {self.right} -> {self.wrong} #{self.count}"


def sources(root: Path) -> list[Path]:
    """The files of the rooms that compute, in order."""
    files = [root / "aiming" / f"{room}.py" for room in ROOMS]
    files += [file for room in ROOMS for file in sorted((root / "aiming" / room).glob("*.py"))]
    return sorted(file for file in files if file.is_file())


def mutated(text: str, *, path: str, first: int) -> tuple[ast.Module, list[Mutant]]:
    """The tree of a file with all its faults compiled in, and the faults, numbered from `first`."""
    tree = ast.parse(text)
    walk = _Walk(path=path, first=first)
    tree.body = walk.block(tree.body)
    return ast.fix_missing_locations(tree), walk.found


class _Walk:
    def __init__(self, *, path: str, first: int) -> None:
        self.path, self.next = path, first
        self.found: list[Mutant] = []
        self.names: list[str] = []
        self.running = 0  # how many functions deep: 0 is code that runs as the file loads
        self.seen: Counter[tuple[str, str, str]] = Counter()

    def _add(self, node: ast.AST, right: str, wrong: str) -> int:
        name = ".".join(self.names) or "(file)"
        self.seen[(name, right, wrong)] += 1
        number, self.next = self.next, self.next + 1
        self.found.append(
            Mutant(
                number=number,
                path=self.path,
                line=getattr(node, "lineno", 0),
                function=name,
                right=right,
                wrong=wrong,
                count=self.seen[(name, right, wrong)],
                loading=self.running == 0,
            )
        )
        return number

    def block(self, body: list[ast.stmt]) -> list[ast.stmt]:
        return [done for statement in body for done in self.statement(statement)]

    def statement(self, node: ast.stmt) -> list[ast.stmt]:
        if isinstance(node, ast.Assert | ast.Import | ast.ImportFrom):
            return [node]
        right = copy.deepcopy(node)
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            self._definition(node)
        elif isinstance(node, ast.Raise):
            pass
        elif isinstance(node, ast.AnnAssign):
            node.value = self.expression(node.value) if node.value else None
        elif isinstance(node, ast.Match):
            for case in node.cases:
                case.body = self.block(case.body)
                case.guard = self.expression(case.guard) if case.guard else None
            node.subject = self.expression(node.subject)
        else:
            self._children(node)
        if self.running == 0:
            return [node]
        return self._statement_faults(node, right)

    def _definition(self, node: ast.FunctionDef | ast.ClassDef) -> None:
        if isinstance(node, ast.FunctionDef):
            node.args.defaults = [self.expression(value) for value in node.args.defaults]
            node.args.kw_defaults = [
                self.expression(value) if value else None for value in node.args.kw_defaults
            ]
        self.names.append(node.name)
        self.running += isinstance(node, ast.FunctionDef)
        node.body = self.block(node.body)
        self.running -= isinstance(node, ast.FunctionDef)
        self.names.pop()

    def _statement_faults(self, node: ast.stmt, right: ast.stmt) -> list[ast.stmt]:
        text = ast.unparse(right).splitlines()[0]
        if isinstance(right, ast.AugAssign) and type(right.op) in _ARITHMETIC:
            wrong = copy.deepcopy(right)
            wrong.op = _ARITHMETIC[type(right.op)]()
            number = self._add(right, text, ast.unparse(wrong))
            node = ast.If(test=_switched(number), body=[wrong], orelse=[node])
        call = isinstance(right, ast.Expr) and isinstance(right.value, ast.Call)
        if call or isinstance(right, ast.AugAssign | ast.Raise | ast.Break | ast.Continue):
            number = self._add(right, text, "(left out)")
            node = ast.If(test=_switched(number), body=[ast.Pass()], orelse=[node])
        return [node]

    def _children(self, node: ast.AST) -> None:
        for name, value in ast.iter_fields(node):
            if isinstance(value, ast.expr):
                setattr(node, name, self.expression(value))
            elif isinstance(value, list) and value and isinstance(value[0], ast.stmt):
                setattr(node, name, self.block(value))
            elif isinstance(value, list):
                for place, one in enumerate(value):
                    if isinstance(one, ast.expr):
                        value[place] = self.expression(one)
                    elif isinstance(one, ast.AST):
                        self._children(one)

    def expression(self, node: ast.expr) -> ast.expr:
        if isinstance(node, ast.JoinedStr):
            return node
        right = copy.deepcopy(node)
        lambda_ = isinstance(node, ast.Lambda)
        self.running += lambda_
        self._children(node)
        self.running -= lambda_
        if isinstance(getattr(right, "ctx", None), ast.Store | ast.Del):
            return node
        done = node
        for wrong in _faults(right, loading=self.running == 0):
            number = self._add(right, ast.unparse(right), ast.unparse(wrong))
            done = ast.IfExp(test=_switched(number), body=wrong, orelse=done)
        return ast.copy_location(done, right)


def _switched(number: int) -> ast.expr:
    name = ast.Name(id=SWITCH, ctx=ast.Load())
    return ast.Compare(left=name, ops=[ast.Eq()], comparators=[ast.Constant(number)])


def _faults(node: ast.expr, *, loading: bool) -> Iterator[ast.expr]:
    match node:
        case ast.Compare(left=left, ops=ops, comparators=others):
            for place, op in enumerate(ops):
                for other in _COMPARE[type(op)]:
                    wrong = [*ops[:place], other(), *ops[place + 1 :]]
                    yield ast.Compare(left=left, ops=wrong, comparators=others)
        case ast.BinOp(left=left, op=op, right=right):
            text = any(isinstance(_bare(side), str) for side in (left, right))
            types = loading and isinstance(op, ast.BitOr)
            if type(op) in _ARITHMETIC and not text and not types:
                yield ast.BinOp(left=left, op=_ARITHMETIC[type(op)](), right=right)
        case ast.UnaryOp(op=ast.USub() | ast.Not() | ast.Invert(), operand=operand):
            yield operand
        case ast.BoolOp(op=op, values=values):
            yield ast.BoolOp(op=ast.Or() if isinstance(op, ast.And) else ast.And(), values=values)
        case ast.IfExp(test=test, body=body, orelse=orelse):
            yield ast.IfExp(test=ast.UnaryOp(op=ast.Not(), operand=test), body=body, orelse=orelse)
        case ast.Call(func=func, args=args, keywords=keywords):
            yield from _call_faults(func, args, keywords)
        case ast.Constant(value=value):
            yield from _constant_faults(value)


def _call_faults(
    func: ast.expr, args: list[ast.expr], keywords: list[ast.keyword]
) -> Iterator[ast.expr]:
    match func:
        case ast.Name(id=name) if name in _SWAP:
            yield ast.Call(func=ast.Name(_SWAP[name], ast.Load()), args=args, keywords=keywords)
        case ast.Attribute(value=value, attr=name) if name in _SWAP:
            other = ast.Attribute(value=value, attr=_SWAP[name], ctx=ast.Load())
            yield ast.Call(func=other, args=args, keywords=keywords)
        case ast.Name(id=name) | ast.Attribute(attr=name) if name in _DROPPED and args:
            yield args[0]


def _constant_faults(value: object) -> Iterator[ast.expr]:
    if isinstance(value, bool):
        yield ast.Constant(not value)
    elif isinstance(value, int):
        yield ast.Constant(value + 1)
    elif isinstance(value, float):
        yield ast.Constant(value * 1.1 if value else 1.0)


def _bare(node: ast.expr) -> object:
    """Text, where an operand is text: its operators are no arithmetic."""
    if isinstance(node, ast.JoinedStr):
        return ""
    return node.value if isinstance(node, ast.Constant) else None
