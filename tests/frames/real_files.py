"""Real raw files that package registries carry: fetched by the ordinary package client, cached, checked by their hash.

None of them is committed: the packages' licences do not speak of the photographs in them.
"""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
import tarfile
from pathlib import Path

CACHE = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "tether-tests"
#: PyPI sdist libraw-cffi 0.19.0 (package: MIT), a frame of 18.6 MB at 1/640 s, f/6.3, ISO 3200.
ARW_PACKAGE, ARW_MEMBER = "libraw-cffi==0.19.0", "libraw_cffi/tests/_DSC2164.ARW"
ARW_SHA256 = "42ec55eef6047c1bfbd1fd05fdcae78993f3513814138eff4cbcf9498c57d4e6"


def real_arw() -> Path:
    """Return the path of the real ARW file, fetched if need be; its hash is that of the one that was read."""
    path = CACHE / Path(ARW_MEMBER).name
    if not path.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        options = ["--no-deps", "--no-binary", ":all:", "--quiet", "--dest", str(CACHE)]
        subprocess.run([sys.executable, "-m", "pip", "download", *options, ARW_PACKAGE], check=True)
        with tarfile.open(next(CACHE.glob("libraw_cffi-*.tar.gz"))) as archive:
            (member,) = (one for one in archive.getmembers() if one.name.endswith(ARW_MEMBER))
            file = archive.extractfile(member)
            assert file is not None
            path.write_bytes(file.read())
    assert hashlib.sha256(path.read_bytes()).hexdigest() == ARW_SHA256
    return path
