"""Letters and figures large enough to be read from two metres, drawn with half blocks."""

from __future__ import annotations

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
_HIGH = 7
_BLOCKS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def drawn(text: str, columns: int, rows: int) -> tuple[str, ...] | None:
    """Draw a text as large as fits.

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
    if not text or any(sign not in _SIGNS for sign in capitals):
        return None
    dots = _dots(capitals)
    wide = len(dots[0])
    scale = min(columns / wide, 2 * rows / _HIGH)
    if scale < 1:
        return None
    if scale < 2:
        scale = 1.0  # between, strokes of one and of two would stand beside each other
    across = [int(x / scale) for x in range(int(wide * scale))]
    down = [int(y / scale) for y in range(int(_HIGH * scale))]
    return tuple(
        "".join(_BLOCKS[dots[upper][x], lower is not None and dots[lower][x]] for x in across)
        for upper, lower in zip(down[::2], [*down[1::2], None], strict=False)
    )


def _dots(text: str) -> list[list[bool]]:
    """Set the signs beside each other, a dot apart."""
    signs = [_SIGNS[sign].split() for sign in text]
    return [[dot == "#" for dot in ".".join(sign[row] for sign in signs)] for row in range(_HIGH)]
