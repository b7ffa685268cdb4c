"""Real raw files that package registries carry: fetched by the registries' own clients, cached, checked by their hash.

None of them is committed: the packages' licences do not speak of the photographs in them. `tests/data/raw_files.csv`
lists them.
"""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray

from tests.data import rows
from tether.files.raw import RawFrame

CACHE = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "tether-tests"
FILES = {row["name"]: row for row in rows("raw_files")}
#: The release of Debian that carries these versions.
_SUITE = "bookworm"
_DEBIAN_KEYS = "/usr/share/keyrings/debian-archive-keyring.gpg"


def real_file(name: str) -> Path:
    """Return the path of a real raw file by its name in the table, fetched if need be; its hash is the table's."""
    path = CACHE / name
    if not path.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        _fetch(FILES[name]["registry"])
    assert hashlib.sha256(path.read_bytes()).hexdigest() == FILES[name]["sha256"], f"{path} is another file"
    return path


def _fetch(registry: str) -> None:
    """Fetch all of a registry's files that are not there."""
    missing = [row for row in FILES.values() if row["registry"] == registry and not (CACHE / row["name"]).exists()]
    download = _from_pypi if registry == "PyPI" else _from_debian
    with tempfile.TemporaryDirectory(dir=CACHE) as folder:
        download({row["package"]: row["version"] for row in missing}, Path(folder))
        for archive in Path(folder).glob("*.tar.*"):
            if not archive.name.endswith(".asc"):
                _unpack(archive, {row["member"]: CACHE / row["name"] for row in missing})


def _from_pypi(versions: dict[str, str], folder: Path) -> None:
    options = ["--no-deps", "--no-binary", ":all:", "--quiet", "--dest", str(folder)]
    packages = [f"{package}=={version}" for package, version in versions.items()]
    subprocess.run([sys.executable, "-m", "pip", "download", *options, *packages], check=True)


def _from_debian(versions: dict[str, str], folder: Path) -> None:
    """Download sources with lists of our own, from where the machine's packages come from; its own stay as they are."""
    state, parts = folder / "state", folder / "parts"
    parts.mkdir()
    (state / "lists" / "partial").mkdir(parents=True)
    (parts / "sources.sources").write_text(
        f"Types: deb-src\nURIs: {_archive()}\nSuites: {_SUITE}\nComponents: main\nSigned-By: {_DEBIAN_KEYS}\n",
        encoding="utf-8",
    )
    own = {
        "Dir::Etc::sourcelist": "/dev/null",
        "Dir::Etc::sourceparts": parts,
        "Dir::State": state,
        "Dir::Cache": folder / "cache",
        "APT::Sandbox::User": "root",
    }
    command = ["apt-get", "--quiet", *(f"--option={key}={value}" for key, value in own.items())]
    packages = [f"{package}={version}" for package, version in versions.items()]
    for what in (["update"], ["source", "--download-only", *packages]):
        subprocess.run([*command, *what], cwd=folder, check=True, stdout=subprocess.DEVNULL)


def _archive() -> str:
    """Return the address of the archive that the machine's own packages come from."""
    command = ["apt-get", "update", "--print-uris"]
    listed = subprocess.run(command, check=True, stdout=subprocess.PIPE, text=True).stdout
    found = re.search(rf"'(\S+)/dists/{_SUITE}/InRelease'", listed)
    assert found is not None, f"this machine's packages are not from Debian {_SUITE}"
    return found[1]


def _unpack(archive: Path, wanted: dict[str, Path]) -> None:
    """Take the wanted members, named as below the archive's one folder, to where they belong."""
    with tarfile.open(archive) as opened:
        for member in opened:
            path = wanted.get(member.name.partition("/")[2])
            file = opened.extractfile(member) if path is not None else None
            if path is not None and file is not None:
                part = archive.parent / path.name
                part.write_bytes(file.read())
                part.replace(path)


def real_arw() -> Path:
    """Return the path of a real ARW file."""
    return real_file("_DSC2164.ARW")


def landscape() -> RawFrame:
    """Return the real mosaic of a river landscape, cropped as the file says; LibRaw can't decode it."""
    with tifffile.TiffFile(real_file("03_jxl_bayer_raw_integer.dng")) as tiff:
        page = tiff.series[-1].keyframe
        stored, tags = page.asarray(), page.tags
        left, _, top, _ = tags["DefaultCropOrigin"].value
        width, _, height, _ = tags["DefaultCropSize"].value
        assert (tags["RowInterleaveFactor"].value, tags["ColumnInterleaveFactor"].value) == (2, 2)
    mosaic = _woven(stored)[top : top + height, left : left + width]
    return RawFrame(mosaic=np.ascontiguousarray(mosaic), pattern="RGGB", black=(512.0,) * 4, white=16383)


def _woven(stored: NDArray[np.uint16]) -> NDArray[np.uint16]:
    """Undo DNG 1.7.1.0's interleave factors of 2: each quarter of the picture is one place of the pattern."""
    height, width = (size // 2 for size in stored.shape)
    mosaic = np.empty_like(stored)
    for down in (0, 1):
        for right in (0, 1):
            lines, columns = slice(down * height, (down + 1) * height), slice(right * width, (right + 1) * width)
            mosaic[down::2, right::2] = stored[lines, columns]
    return mosaic


def colour_chart() -> RawFrame:
    """Return a small real mosaic of a colour chart; its file has no header, what its numbers mean is the package's."""
    numbers = np.fromfile(real_file("input.raw"), dtype="<u2").reshape(968, 1424)
    return RawFrame(mosaic=numbers, pattern="RGGB", black=(256.0,) * 4, white=4092)
