"""Would the tests notice? Changes the service in one place at a time, in a copy, and runs the tests of that place.

By hand, not in CI:

    python tests/bench/mutate.py                            150 changes, all files of FILES
    python tests/bench/mutate.py judging/bands.py --all     every change of one file

A change that no test notices is printed as it stands in the source. Those known to change nothing that matters stand,
each with its reason, in mutate_survivors.txt beside this script; all others want a test.
"""

import argparse
import ast
import itertools
import os
import random
import re
import resource
import shutil
import sys
import tempfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context
from pathlib import Path
from queue import SimpleQueue

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCE = Path("service/ampstead")
SURVIVORS = Path(__file__).with_name("mutate_survivors.txt")
FILES = (
    "words.py",
    "calculators/*.py",
    "cell/board/taps.py",
    "cell/kinds/resistance.py",
    "cell/limits/*.py",
    "inputs/*.py",
    "judging/*.py",
    "reading/*.py",
    "replying/answers.py",
    "replying/writers.py",
)
WIDE = {
    "calculators": [
        *("tests/unit/judging", "tests/unit/replying", "tests/contract/test_sentences.py"),
        *("tests/contract/test_doubt.py", "tests/contract/test_batch.py", "tests/contract/test_metamorphic.py"),
    ],
    "calculators/__init__.py": ["tests/unit/test_declare.py", "tests/contract/test_new_calculator.py"],
    "inputs": ["tests/unit/judging", "tests/contract/test_sentences.py"],
    "judging": ["tests/unit/judging", "tests/contract/test_doubt.py", "tests/contract/test_sentences.py"],
    "cell": ["tests/unit/cell", "tests/unit/judging"],
    "reading": [
        *("tests/unit/reading", "tests/unit/test_declare.py", "tests/contract/test_errors.py"),
        *("tests/contract/test_batch.py", "tests/contract/test_hostile_questions.py"),
    ],
    "replying": [
        *("tests/unit/replying", "tests/contract/test_envelope.py", "tests/contract/test_batch.py"),
        "tests/contract/test_cli.py",
    ],
    "words.py": ["tests/unit/replying", "tests/contract/test_sentences.py"],
}
"""Tests that run after those of a file's own name, by the part of the service."""
DOCUMENT = [
    "tests/contract/test_openapi.py::test_the_committed_examples_are_answers_of_the_service",
    "tests/contract/test_openapi.py::test_the_check_tells_a_stale_file_and_the_command_that_mends_it[None]",
]
"""Hold defaults and examples against what is committed."""
LONGEST = 300
"""Seconds of a processor after which a change counts as noticed: it made something endless."""
SWAPPED = {
    "min": "max",
    "argmin": "argmax",
    "minimum": "maximum",
    "any": "all",
    "floor": "ceil",
    "down": "up",
    "danger": "warning",
    "warning": "note",
}
SWAPPED |= {second: first for first, second in SWAPPED.items() if second != "note" and second != "warning"}
OPERATORS: dict[type[ast.AST], tuple[str, str]] = {
    ast.Lt: ("<", "<="),
    ast.LtE: ("<=", "<"),
    ast.Gt: (">", ">="),
    ast.GtE: (">=", ">"),
    ast.Eq: ("==", "!="),
    ast.NotEq: ("!=", "=="),
    ast.Is: ("is", "is not"),
    ast.IsNot: ("is not", "is"),
    ast.In: ("in", "not in"),
    ast.NotIn: ("not in", "in"),
    ast.Add: ("+", "-"),
    ast.Sub: ("-", "+"),
    ast.Mult: ("*", "/"),
    ast.Div: ("/", "*"),
    ast.Pow: ("**", "*"),
    ast.And: ("and", "or"),
    ast.Or: ("or", "and"),
}
DECLARED = {"ASKED", "WHEN", "MAIN", "SOURCES", "EXAMPLES"}
"""Texts that say what the rest rests on; nothing is worked out from them."""


@dataclass(frozen=True)
class Change:
    """One place of a file, written otherwise."""

    path: str
    line: int
    start: int
    end: int
    new: str

    def told(self, text: str) -> str:
        """The line and what becomes of it, as the list of survivors writes it."""
        begin = text.rfind("\n", 0, self.start) + 1
        stop = text.find("\n", self.start)
        line = text[begin:stop]
        old = " ".join(text[self.start : self.end].split())
        return f"{self.path}: {line.strip()} :: {old or 'nothing'} -> {self.new}"


class Places(ast.NodeVisitor):
    """Every place that can be written otherwise, by its position in the text."""

    def __init__(self, path: str, text: str) -> None:
        self.path, self.text = path, text
        self.starts = [0]
        for line in text.splitlines(keepends=True):
            self.starts.append(self.starts[-1] + len(line))
        self.lines = text.splitlines(keepends=True)
        self.found: list[Change] = []

    def at(self, line: int, column: int) -> int:
        """The place of a node in the text: the tree counts bytes."""
        return self.starts[line - 1] + len(self.lines[line - 1].encode()[:column].decode())

    def span(self, node: ast.AST) -> tuple[int, int]:
        assert isinstance(node, ast.expr | ast.stmt)
        assert node.end_lineno is not None
        assert node.end_col_offset is not None
        return self.at(node.lineno, node.col_offset), self.at(node.end_lineno, node.end_col_offset)

    def change(self, start: int, end: int, new: str) -> None:
        self.found.append(Change(self.path, self.text.count("\n", 0, start) + 1, start, end, new))

    def between(self, first: ast.AST, second: ast.AST, operator: ast.AST) -> None:
        """Swap the operator that stands between two operands."""
        old, new = OPERATORS.get(type(operator), ("", ""))
        begin, stop = self.span(first)[1], self.span(second)[0]
        place = self.text.find(old, begin, stop) if old else -1
        if place >= 0:
            self.change(place, place + len(old), new)

    def visit_Compare(self, node: ast.Compare) -> None:
        strict = isinstance(node.ops[0], ast.Lt | ast.LtE | ast.Gt | ast.GtE)
        if not (strict and has_slack(node)):  # no figure lies exactly at a limit and its slack
            for first, operator, second in zip(
                [node.left, *node.comparators[:-1]], node.ops, node.comparators, strict=True
            ):
                self.between(first, second, operator)
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        texts = (ast.JoinedStr, ast.List, ast.Tuple, ast.Dict, ast.Set)
        sides = (node.left, node.right)
        if not any(
            isinstance(side, texts) or (isinstance(side, ast.Constant) and isinstance(side.value, str))
            for side in sides
        ):
            self.between(node.left, node.right, node.op)
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        for first, second in zip(node.values, node.values[1:], strict=False):
            self.between(first, second, node.op)
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not | ast.USub):
            self.change(self.span(node)[0], self.span(node.operand)[0], "")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        start, end = self.span(node)
        if isinstance(node.value, bool):
            self.change(start, end, str(not node.value))
        elif isinstance(node.value, int | float):
            self.change(start, end, repr(node.value + 1 if isinstance(node.value, int) else node.value * 1.1 + 0.001))
        elif isinstance(node.value, str) and node.value in SWAPPED:
            self.change(start, end, repr(SWAPPED[node.value]))

    def visit_Name(self, node: ast.Name) -> None:
        if node.id in SWAPPED and isinstance(node.ctx, ast.Load):
            self.change(*self.span(node), SWAPPED[node.id])

    def visit_Attribute(self, node: ast.Attribute) -> None:
        if node.attr in SWAPPED:
            end = self.span(node)[1]
            self.change(end - len(node.attr), end, SWAPPED[node.attr])
        self.generic_visit(node)

    def visit_keyword(self, node: ast.keyword) -> None:
        """``strict`` guards against our own mistakes and changes nothing while there is none."""
        if node.arg != "strict":
            self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        if name in ("Band", "where") and len(node.args) >= 3:
            first, second = (self.span(argument) for argument in node.args[1:3])
            swapped = self.text[slice(*second)] + self.text[first[1] : second[0]] + self.text[slice(*first)]
            self.change(first[0], second[1], swapped)
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        self.negated(node.test)
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self.negated(node.test)
        self.generic_visit(node)

    def negated(self, test: ast.expr) -> None:
        start, end = self.span(test)
        self.change(start, end, f"not ({self.text[start:end]})")

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Constant):
            return  # a docstring
        if isinstance(node.value, ast.Yield | ast.YieldFrom):
            self.change(*self.span(node), "yield from ()")
        self.generic_visit(node)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Parts of a text have no place of their own before Python 3.12."""

    def visit_Assert(self, node: ast.Assert) -> None:
        """For the checker of types."""

    def visit_Assign(self, node: ast.Assign) -> None:
        if not any(isinstance(target, ast.Name) and target.id in DECLARED for target in node.targets):
            self.generic_visit(node)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        """Declarations are held by the committed document."""
        if node.value:
            self.visit(node.value)

    def visit_arg(self, node: ast.arg) -> None:
        """Likewise."""

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        """Decorators say how a class is made, not what it holds."""
        for part in node.body:
            self.visit(part)

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for part in (*node.args.defaults, *(default for default in node.args.kw_defaults if default), *node.body):
            self.visit(part)


def has_slack(node: ast.Compare) -> bool:
    """Whether a comparison leaves room for rounding."""
    return any(isinstance(part, ast.Name) and part.id.endswith("SLACK") for part in ast.walk(node))


def changes(path: str, text: str) -> list[Change]:
    """Every change of one file."""
    places = Places(path, text)
    places.visit(ast.parse(text))
    return places.found


def changed(text: str, change: Change) -> str:
    return text[: change.start] + change.new + text[change.end :]


def compiles(text: str) -> bool:
    try:
        ast.parse(text)
    except SyntaxError:
        return False
    return True


def users(root: Path, path: str) -> list[str]:
    """The calculators that a file is, or that import it, by their modules' names."""
    if is_calculator(path):
        return [Path(path).stem]
    module = "ampstead." + path.removesuffix(".py").replace("/", ".")
    package, _, name = module.rpartition(".")
    imported = re.compile(rf"from {re.escape(module)} import|from {re.escape(package)} import [^)]*?\b{name}\b")
    return [file.stem for file in modules(root) if imported.search(file.read_text("utf-8"))]


def is_calculator(path: str) -> bool:
    return Path(path).match("calculators/[a-z]*.py")


def modules(root: Path) -> list[Path]:
    return sorted((root / SOURCE / "calculators").glob("[a-z]*.py"))


def runs(root: Path, path: str) -> Iterator[list[str]]:
    """The tests of a file, each run as pytest's arguments: those of its name, then wider ones and its calculators'.

    Of tests that are asked of each calculator, a calculator's file wants its own alone, and those first: most changes
    are noticed there.
    """
    stem, calculators = Path(path).stem, users(root, path)
    own = sorted(str(test.relative_to(root)) for test in root.glob(f"tests/*/**/test_{stem}.py"))
    if own:
        yield own
    places = sorted((root / "tests/unit/calculators").glob("test_*.py"))
    served = [str(test.relative_to(root)) for test in places if any(name in test.stem for name in calculators)]
    answers = ["tests/reference", "tests/contract/test_plausible_answers.py"] if calculators else []
    wider = [test for test in (*served, *(WIDE.get(path) or WIDE[path.split("/")[0]]), *answers) if test not in own]
    if is_calculator(path):
        yield [*wider, "-k", stem.replace("_", "-")]
        asked = " or ".join(f"[{file.stem.replace('_', '-')}" for file in modules(root))
        yield ["tests/unit/judging", "-k", f"not ({asked})"]
    else:
        yield wider
    if calculators:
        yield DOCUMENT


def noticed(copy: Path, change: Change, text: str) -> bool:
    """Whether any test of the changed copy fails."""
    written(copy, change.path, changed(text, change))
    try:
        return any(failing(copy, tests) for tests in runs(copy, change.path))
    finally:
        written(copy, change.path, text)


def failing(copy: Path, tests: list[str]) -> bool:
    """Whether these tests fail, or cannot be imported, or do not end."""
    child = STARTED.Process(target=asked_of_pytest, args=(copy, tests))
    child.start()
    child.join(9 * LONGEST)
    if child.exitcode is None:
        child.kill()
        child.join()
    told = (copy / "output").read_text("utf-8", "replace")
    unusable = (3,) if "while loading conftest" in told else (3, 4)
    assert child.exitcode not in unusable, f"pytest cannot run {tests}"
    return child.exitcode not in (0, 5)  # 5: none of these tests is about the file


def asked_of_pytest(copy: Path, tests: list[str]) -> None:
    """In a process of its own, which has imported what is not ours already."""
    resource.setrlimit(resource.RLIMIT_CPU, (LONGEST, LONGEST))
    output = os.open(copy / "output", os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
    os.dup2(output, 1)
    os.dup2(output, 2)
    os.chdir(copy)
    source, compiled = str(copy / SOURCE.parent), str(copy / "compiled")
    os.environ |= {
        "EVERY_ROW": "1",
        "PYTHONPATH": source,
        "PYTHONPYCACHEPREFIX": compiled,
        "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
    }
    sys.path.insert(0, source)
    sys.pycache_prefix, sys.dont_write_bytecode = compiled, False
    sys.exit(int(pytest.main(["-qx", "-p", "no:cacheprovider", *tests])))


STARTED = get_context("forkserver")
STARTED.set_forkserver_preload(
    ["flask", "hypothesis", "jsonschema", "marshmallow", "numpy", "pint", "pytest", "scipy.integrate"]
)
TICKS = itertools.count(1_000_000_000)


def written(copy: Path, path: str, text: str) -> None:
    """Write a file of the copy, at another time than ever before: by that Python tells that it must compile it anew."""
    file = copy / SOURCE / path
    file.write_text(text, encoding="utf-8")
    tick = next(TICKS)
    os.utime(file, (tick, tick))


def copies(size: int, within: Path) -> Iterator[Path]:
    unneeded = shutil.ignore_patterns(".git", ".venv", "__pycache__", ".*_cache", ".hypothesis")
    for number in range(size):
        yield shutil.copytree(ROOT, within / str(number), ignore=unneeded)


def known() -> set[str]:
    """The survivors listed with a reason, which follows each in a line of its own."""
    if not SURVIVORS.exists():
        return set()
    return {line for line in SURVIVORS.read_text("utf-8").splitlines() if " :: " in line}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("files", nargs="*", default=FILES, help="within service/ampstead, as patterns")
    parser.add_argument("--sample", type=int, default=150, help="how many changes, at random")
    parser.add_argument("--all", action="store_true", help="every change")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--skip", type=int, default=0, help="how many of these were tried before")
    parser.add_argument("--at-once", type=int, default=os.cpu_count() or 1)
    asked = parser.parse_args()
    paths = sorted({path for pattern in asked.files for path in (ROOT / SOURCE).glob(pattern)})
    texts = {str(path.relative_to(ROOT / SOURCE)): path.read_text("utf-8") for path in paths}
    every = [change for name, text in texts.items() for change in changes(name, text)]
    random.Random(asked.seed).shuffle(every)
    compiled = (change for change in every if compiles(changed(texts[change.path], change)))
    every = list(itertools.islice(compiled, asked.skip, None if asked.all else asked.sample))
    survivors, listed = [], known()
    with tempfile.TemporaryDirectory() as directory, ThreadPoolExecutor(asked.at_once) as pool:
        free: SimpleQueue[Path] = SimpleQueue()
        for copy in copies(asked.at_once, Path(directory)):
            free.put(copy)

        def tried(change: Change) -> tuple[Change, bool]:
            copy = free.get()
            try:
                return change, noticed(copy, change, texts[change.path])
            finally:
                free.put(copy)

        for number, (change, seen) in enumerate(pool.map(tried, every), asked.skip + 1):
            if not seen:
                told = change.told(texts[change.path])
                survivors.append(told)
                state = "listed" if told in listed else "SURVIVED"
                print(f"{number} {state} line {change.line} of {told}", flush=True)
    part = len(survivors) / len(every) if every else 0.0
    unexplained = sum(told not in listed for told in survivors)
    print(f"{len(every)} changes, {len(survivors)} not noticed ({part:.1%}), {unexplained} of them without a reason")


if __name__ == "__main__":
    main()
