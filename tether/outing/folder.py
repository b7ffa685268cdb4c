"""The outing's folder: where frames, previews and the journal of one outing lie, and how files are named."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from tether.errors import PlanError, SupplyError, system_reason
from tether.exposure.labels import file_label, time_label
from tether.files.safe import safe_write
from tether.files.state import state_folder

if TYPE_CHECKING:
    from tether.body.protocol import CardFile
    from tether.shot.made import Made

#: Where the processes that read frames leave their last words, in an outing's folder.
READER_LOG_NAME = "reader.log"
#: Where those do that copy to a second disk.
COPIER_LOG_NAME = "copier.log"
#: Who knows where the person is, and until when: for whoever finds the computer. It is in no journal and no report.
WHO_KNOWS_NAME = "who-knows.txt"


@dataclass(frozen=True, kw_only=True)
class Folder:
    """The folder of one outing; `name` begins every file in it.

    `words` is where camera processes leave their last words; None: in the folder of their body.
    """

    path: Path
    name: str
    words: Path | None = None

    @property
    def frames(self) -> Path:
        """Raw frames as they came from the body."""
        return self.path / "frames"

    @property
    def previews(self) -> Path:
        """Small pictures of them."""
        return self.path / "previews"

    @property
    def averages(self) -> Path:
        """Raw files that are made of many."""
        return self.path / "averages"

    @property
    def simulated(self) -> Path:
        """Card and state of a simulated body."""
        return self.path / "simulated-body"

    @property
    def camera(self) -> Path:
        """What the camera process keeps of a body behind the driver."""
        return self.path / "camera"

    def readings(self, ladder: int) -> Path:
        """What frames of a ladder are read against, beside the picture of its regions."""
        return self.path / "readings" / f"ladder-{ladder}.npz"

    def average(self, ladder: int, rung: int) -> Path:
        """The raw file that is made of a rung's many frames."""
        return self.averages / f"{self.name}_L{ladder}_R{rung:02d}_mean.dng"

    def frame_name(self, file: CardFile, ladder: int, made: Made | None) -> str:
        """Return the name of a frame: outing, ladder, rung, the time it was open, the body's own number."""
        suffix = Path(file.name).suffix.lower()
        own = f"{file.number:04d}" if file.number is not None else Path(file.name).stem
        if made is None:
            return f"{self.name}_L{ladder}_by-hand_{own}{suffix}"
        what = {"rung": f"R{made.rung or 0:02d}", "proof": f"R{made.rung or 0:02d}-proof"}.get(made.kind, made.kind)
        return f"{self.name}_L{ladder}_{what}_{file_label(time_label(made.open_s))}_{own}{suffix}"


@contextmanager
def passing_folder(name: str) -> Iterator[Folder]:
    """Yield a folder that goes with the block; what a camera process says last is kept in the user's own folder."""
    with TemporaryDirectory(prefix="tether-") as place:
        words = None
        with suppress(SupplyError):
            words = state_folder() / "camera.log"
        yield Folder(path=Path(place), name=name, words=words)


def slug(title: str) -> str:
    """Return a title as part of a file name: plain lower-case letters, digits and hyphens."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "outing"


def new_folder(root: Path, title: str, today: datetime, simulated: bool) -> Folder:
    """Make the folder of a new outing under `root`, with the date in front and a number behind where it is taken."""
    kind = "-rehearsal" if simulated else ""
    name = f"{today:%Y-%m-%d}_{slug(title)}{kind}"
    for number in range(1, 1000):
        path = root / (name if number == 1 else f"{name}-{number}")
        try:
            path.mkdir(parents=True)
        except FileExistsError:
            continue
        except OSError as error:
            raise SupplyError(f"{path}: the outing's folder cannot be made: {system_reason(error)}.") from error
        return open_folder(path, title)
    raise PlanError(f"{root}: there are a thousand outings of this name and day already; give --outing another place.")


def folder_of(outing: Path | None, root: Path, title: str, today: datetime, simulated: bool) -> Folder:
    """Return the folder of an outing as `open_folder` does; None: of a new one, as `new_folder` does."""
    return new_folder(root, title, today, simulated) if outing is None else open_folder(outing, title)


def open_folder(path: Path, title: str) -> Folder:
    """Return the folder at `path`, made complete where parts of it are missing.

    Raises
    ------
    PlanError
        If its name is no UTF-8: the libraries that read frames can't open what is in it.
    SupplyError
        If it can't be written to.
    """
    try:
        str(path.absolute()).encode()
    except UnicodeEncodeError:
        shown = str(path).encode(errors="replace").decode()
        raise PlanError(f"{shown}: this folder's name is not UTF-8, so that frames in it can't be read.") from None
    folder = Folder(path=path, name=slug(title))
    try:
        for part in (folder.frames, folder.previews):
            part.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SupplyError(f"{path}: cannot be written to: {system_reason(error)}.") from error
    return folder


def keep_who_knows(outing: Path, words: str) -> None:
    """Keep in an outing's folder who knows where the person is; nothing where they say nothing.

    Raises
    ------
    SupplyError, PlanError
        If it can't be written.
    """
    if words.strip():
        safe_write(outing / WHO_KNOWS_NAME, f"{words.strip()}\n".encode(errors="replace"))
