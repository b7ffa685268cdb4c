"""A camera on a network: it is not found by itself, and the camera library has to be told what it is."""

from __future__ import annotations

from collections.abc import Iterable

from tether.body.bodyfile import BodyFile
from tether.body.driver.reading import matches
from tether.errors import PlanError

#: How the camera library writes a port on a network.
PREFIX = "ptpip:"


def is_on_network(port: str) -> bool:
    """Say whether a port is on a network."""
    return port.startswith(PREFIX)


def full_port(port: str) -> str:
    """Return a port on a network as the library wants it: a number that is not the usual one is said twice, the second
    time for events.
    """
    address, _, number = port.removeprefix(PREFIX).rpartition(":")
    plain = address and ":" not in address and number.isdecimal()
    return f"{PREFIX}{address}:{number}:{number}" if plain else port


def model_at(port: str, given: str, file: BodyFile | None = None, known: Iterable[str] | None = None) -> str:
    """Return the library's name for the camera at a port; empty where the library finds that out itself.

    Parameters
    ----------
    port
        Where the camera is.
    given
        The name that the person gave; empty: the one that the body file's models leave.
    file
        The body file by which it is spoken to; None: none is named.
    known
        The library's names for cameras on a network; None: asked for.

    Raises
    ------
    PlanError
        None or several could be meant; with the names there are.
    """
    if not is_on_network(port):
        if given:
            raise PlanError(f'--model "{given}": this goes with a camera on a network: --port {PREFIX}ADDRESS.')
        return ""
    if known is None:
        from tether.body.driver.session import network_models  # the camera library, which most commands do without

        known = network_models()
    names = tuple(known)
    patterns = (given,) if given else file.driver.models if file and file.driver else ()
    found = [name for name in names if matches(name, patterns)]
    if len(found) == 1:
        return found[0]
    quoted = ", ".join(f'"{name}"' for name in names)
    why = f'"{given}" is none of them' if given else "a camera on a network does not say what it is"
    raise PlanError(f"--port {port}: {why}; name it with --model, as the camera library does: {quoted}.")
