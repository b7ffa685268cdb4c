"""Letters and figures large enough to be read from two metres, drawn with half blocks."""

from __future__ import annotations

import re

#: Each sign as seven rows of dots, `#` for ink; five dots wide, a few narrower.
_SIGNS = {
    "0": ".###. #...# #...# #...# #...# #...# .###.",
    "1": "..#.. .##.. ..#.. ..#.. ..#.. ..#.. .###.",
    "2": ".###. #...# ....# ...#. ..#.. .#... #####",
    "3": ".###. #...# ....# ..##. ....# #...# .###.",
    "4": "...#. ..##. .#.#. #..#. ##### ...#. ...#.",
    "5": "##### #.... ####. ....# ....# #...# .###.",
    "6": ".###. #.... #.... ####. #...# #...# .###.",
    "7": "##### ....# ...#. ...#. ..#.. ..#.. ..#..",
    "8": ".###. #...# #...# .###. #...# #...# .###.",
    "9": ".###. #...# #...# .#### ....# ....# .###.",
    ":": ". # . . . # .",
    ".": ". . . . . . #",
    " ": "... ... ... ... ... ... ...",
    "A": ".###. #...# #...# ##### #...# #...# #...#",
    "B": "####. #...# #...# ####. #...# #...# ####.",
    "C": ".###. #...# #.... #.... #.... #...# .###.",
    "D": "####. #...# #...# #...# #...# #...# ####.",
    "E": "##### #.... #.... ####. #.... #.... #####",
    "F": "##### #.... #.... ####. #.... #.... #....",
    "G": ".###. #...# #.... #..## #...# #...# .###.",
    "H": "#...# #...# #...# ##### #...# #...# #...#",
    "I": "### .#. .#. .#. .#. .#. ###",
    "J": "..### ...#. ...#. ...#. ...#. #..#. .##..",
    "K": "#...# #..#. #.#.. ##... #.#.. #..#. #...#",
    "L": "#.... #.... #.... #.... #.... #.... #####",
    "M": "#...# ##.## #.#.# #.#.# #...# #...# #...#",
    "N": "#...# ##..# ##..# #.#.# #..## #..## #...#",
    "O": ".###. #...# #...# #...# #...# #...# .###.",
    "P": "####. #...# #...# ####. #.... #.... #....",
    "Q": ".###. #...# #...# #...# #.#.# #..#. .##.#",
    "R": "####. #...# #...# ####. #.#.. #..#. #...#",
    "S": ".#### #.... #.... .###. ....# ....# ####.",
    "T": "##### ..#.. ..#.. ..#.. ..#.. ..#.. ..#..",
    "U": "#...# #...# #...# #...# #...# #...# .###.",
    "V": "#...# #...# #...# #...# .#.#. .#.#. ..#..",
    "W": "#...# #...# #...# #.#.# #.#.# ##.## #...#",
    "X": "#...# #...# .#.#. ..#.. .#.#. #...# #...#",
    "Y": "#...# #...# .#.#. ..#.. ..#.. ..#.. ..#..",
    "Z": "##### ....# ...#. ..#.. .#... #.... #####",
    ",": ".. .. .. .. .. .# #.",
    "+": "..... ..#.. ..#.. ##### ..#.. ..#.. .....",
    "-": "..... ..... ..... ##### ..... ..... .....",
    "/": "....# ....# ...#. ..#.. .#... #.... #....",
}
_HIGH, _BETWEEN = 7, 1
_BLOCKS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}
#: What stays on one line: a word, with a number after it, such as a filter's.
_WORD = re.compile(r"\S+(?: \d\S*)*")


def drawn(text: str, columns: int, rows: int) -> tuple[str, ...] | None:
    """Draw a text as large as fits, on as many lines of words as make it largest.

    Parameters
    ----------
    text
        Letters, drawn as capitals; figures; and a few signs.
    columns, rows
        The room there is [cells]; a cell is taken to be twice as high as wide.

    Returns
    -------
    tuple of str or None
        The lines, all of one length; None where a dot would be smaller than half a cell, or a sign is not known.
    """
    capitals = text.upper()
    if not text.strip() or any(sign not in _SIGNS for sign in capitals):
        return None
    words = _WORD.findall(capitals)
    runs = {_wide(" ".join(words[at:end])) for at in range(len(words)) for end in range(at + 1, len(words) + 1)}
    ways = [_wrapped(words, wide) for wide in sorted(runs, reverse=True)]
    lines = max(ways, key=lambda way: _scale(way, columns, rows))
    scale = _scale(lines, columns, rows)
    if scale < 1:
        return None
    dots = _dots(lines)
    across = [int(x / scale) for x in range(int(len(dots[0]) * scale))]
    down = [int(y / scale) for y in range(int(len(dots) * scale))]
    return tuple(
        "".join(_BLOCKS[dots[upper][x], lower is not None and dots[lower][x]] for x in across)
        for upper, lower in zip(down[::2], [*down[1::2], None], strict=False)
    )


def _wrapped(words: list[str], wide: int) -> list[str]:
    """Set words on lines that are no wider [dots] than one word must be; of several, a comma ends one."""
    if _wide(whole := " ".join(words)) <= wide:
        return [whole]
    lines: list[str] = []
    for word in words:
        if lines and not lines[-1].endswith(",") and _wide(longer := f"{lines[-1]} {word}") <= wide:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _scale(lines: list[str], columns: int, rows: int) -> float:
    """Return how many cells across a dot is drawn in."""
    high = (_HIGH + _BETWEEN) * len(lines) - _BETWEEN
    scale = min(columns / max(map(_wide, lines)), 2 * rows / high)
    return 1.0 if 1 <= scale < 2 else scale  # between, strokes of one and of two would stand beside each other


def _wide(line: str) -> int:
    """Return how wide a line is [dots]: its signs beside each other, a dot apart."""
    return sum(len(_SIGNS[sign].split()[0]) + 1 for sign in line) - 1


def _dots(lines: list[str]) -> list[list[bool]]:
    """Set lines below each other, each in the middle."""
    wide = max(map(_wide, lines))
    rows: list[str] = []
    for line in lines:
        signs = [_SIGNS[sign].split() for sign in line]
        rows += [] if not rows else ["." * wide] * _BETWEEN
        rows += [".".join(sign[row] for sign in signs).center(wide, ".") for row in range(_HIGH)]
    return [[dot == "#" for dot in row] for row in rows]
