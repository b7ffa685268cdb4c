"""A simulated camera on the wire, by hand: ``python -m tether.body.responder --dialect eos``."""

from __future__ import annotations

import argparse
import signal
import sys
import tempfile
from pathlib import Path
from typing import get_args

from tether.body.bodyfile import load_body_file
from tether.body.dialects import MODELS, Dialect
from tether.body.open import BodyChoice
from tether.body.responder.control import ALONE_S
from tether.body.responder.process import serve
from tether.body.responder.start import Focus, Mode, WireHow, WireStart
from tether.body.simulated.world import World, load_world
from tether.errors import TetherError

_LENS = (2.8, 22.0)


def main() -> int:
    """Run until Ctrl-C."""
    given = _parser().parse_args()
    try:
        world = load_world(given.world) if given.world else World()
        abilities = load_body_file(f"wire-{given.dialect}").abilities(*_LENS)
        folder = (given.folder or Path(tempfile.mkdtemp(prefix="tether-wire-"))).absolute()
        folder.mkdir(parents=True, exist_ok=True)
        how = WireHow(mode=given.mode, focus=given.focus, two_files=given.two_files)
        choice = BodyChoice(abilities=abilities, folder=folder, world=world)
        start = WireStart(dialect=given.dialect, choice=choice, how=how)
        _say(
            f"This is no camera: it is a simulated one that speaks over a loopback port. Its card and record are in"
            f" {folder}. The camera library knows it as “{MODELS[start.dialect]}”. Ctrl-C ends it; it ends by itself"
            f" when nobody was heard of for {ALONE_S / 60:.0f} minutes."
        )
        serve(start, folder, ends_at=(signal.SIGINT, signal.SIGTERM))
    except TetherError as error:
        _say(*error.sentences)
        return 1
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m tether.body.responder", description=__doc__)
    parser.add_argument("--dialect", choices=get_args(Dialect), default="eos", help="what it speaks")
    parser.add_argument("--folder", type=Path, help="where its card and record are kept; else a new one is made")
    parser.add_argument("--world", type=Path, help="a world file: what is true of it and around it")
    parser.add_argument("--mode", choices=get_args(Mode), default="M", help="where its mode dial stands")
    parser.add_argument("--focus", choices=get_args(Focus), default="manual", help="where the lens's switch stands")
    parser.add_argument("--two-files", action="store_true", help="a raw file and a JPEG for each frame")
    return parser


def _say(*sentences: str) -> None:
    print(*sentences, file=sys.stderr, flush=True)  # noqa: T201 - for the person


if __name__ == "__main__":
    sys.exit(main())
