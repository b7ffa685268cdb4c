"""Every text that people may read, as the program has it: from its modules, its help and its page.

::

    python -m tests.docs.sentences
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

PRODUCT = Path(__file__).parents[2] / "tether"
#: Modules whose docstrings are shown: as help.
_HELP = ("command/commands.py",)
_WORDS = re.compile(r"[A-Za-z]{2}.* |[ ].*[A-Za-z]{2}")


class Sentence(NamedTuple):
    """A text, its file below the product, and its line; what is put into it in braces."""

    file: str
    line: int
    text: str


def sentences() -> Iterator[Sentence]:
    """Give every text of more than a word that people may read."""
    for path in sorted(PRODUCT.rglob("*.py")):
        yield from _of_module(path)
    for path in sorted((PRODUCT / "page" / "static").glob("page.*")):
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1):
            for text in re.findall(r'"([^"]* [^"]*)"|`([^`]* [^`]*)`|>([^<]* [^<]*)<', line):
                yield Sentence(_below(path), number, "".join(text))


def _of_module(path: Path) -> Iterator[Sentence]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    silent = _parts(tree)
    if _below(path) not in _HELP:
        silent |= {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    for node in ast.walk(tree):
        text = None if id(node) in silent else _text(node)
        if text and _WORDS.search(text):
            yield Sentence(_below(path), getattr(node, "lineno", 0), text)


def _parts(tree: ast.AST) -> set[int]:
    """Return what stands inside texts with something put into them, which are told whole."""
    wholes = (node for node in ast.walk(tree) if isinstance(node, ast.JoinedStr))
    return {id(part) for whole in wholes for part in ast.walk(whole) if part is not whole}


def _text(node: ast.AST) -> str | None:
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(str(one.value) if isinstance(one, ast.Constant) else "{…}" for one in node.values)
    return None


def _below(path: Path) -> str:
    return path.relative_to(PRODUCT).as_posix()


if __name__ == "__main__":
    for one in sentences():
        sys.stdout.write(f"{one.file}:{one.line}\t{one.text!r}\n")
