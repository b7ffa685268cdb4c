"""The person's own certificate for the page: with it what is shown goes over the network encrypted."""

from __future__ import annotations

import ssl
from pathlib import Path

from tether.errors import PlanError, system_reason

_CERTIFICATE, _KEY = "-----BEGIN CERTIFICATE-----", "PRIVATE KEY-----"


def encryption(certificate: Path | None, key: Path | None) -> ssl.SSLContext | None:
    """Return what connections are encrypted by; None where neither a certificate nor its key is named.

    Raises
    ------
    PlanError
        If one is named without the other, can't be read, is something else, or they do not belong together.
    """
    if certificate is None and key is None:
        return None
    if certificate is None or key is None:
        raise PlanError("--certificate and --key go together: name the file of each.")
    _look_into(certificate, _CERTIFICATE, "--certificate", "no certificate in PEM form")
    _look_into(key, _KEY, "--key", "no private key in PEM form")
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    try:
        context.load_cert_chain(certificate, key, password=_locked)
    except ssl.SSLError as error:
        if error.reason == "KEY_VALUES_MISMATCH":
            raise PlanError(f"--key {key}: this key does not belong to the certificate {certificate}.") from error
        raise PlanError(f"--certificate {certificate}, --key {key}: one of them is damaged.") from error
    except _LockedError as error:
        raise PlanError(f"--key {key}: this key is locked by a passphrase; name one that is not.") from error
    return context


class _LockedError(Exception):
    """The key wants a passphrase."""


def _locked() -> str:
    raise _LockedError


def _look_into(file: Path, mark: str, option: str, lacks: str) -> None:
    try:
        text = file.read_text(encoding="utf-8", errors="replace")
    except OSError as error:
        raise PlanError(f"{option} {file}: it can't be read: {system_reason(error)}.") from error
    if mark not in text:
        raise PlanError(f"{option} {file}: there is {lacks} in it.")
