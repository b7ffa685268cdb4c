"""Lines of the camera library's log, as it writes transfers."""

from __future__ import annotations

import struct
from collections.abc import Iterator

from tether.body.driver.exchange import Line


def container(kind: int, code: int, rest: bytes = b"", transaction: int = 1) -> bytes:
    return struct.pack("<IHHI", 12 + len(rest), kind, code, transaction) + rest


def dumped(data: bytes) -> str:
    """Return data as the library writes them: sixteen in a line, a hyphen in the middle, then as characters."""
    rows = []
    for at in range(0, len(data), 16):
        row = data[at : at + 16]
        cells = "".join(f"{byte:02x}{'-' if place == 7 else ' '}" for place, byte in enumerate(row))
        shown = "".join(chr(byte) if 32 <= byte < 127 else "." for byte in row)
        rows.append(f"{at:04x}  {cells:<48} {shown}")
    return "\n".join(rows) + "\n"


def transfers(*sent: tuple[str, bytes]) -> Iterator[Line]:
    """Give lines of transfers, one every tenth of a second: to the port, from it, or from the interrupt endpoint."""
    words = {
        "to": "Wrote   {0} = 0x{0:x} bytes to port: (hexdump of {0} bytes)\n",
        "from": "Read    {0} = 0x{0:x} out of 1024 bytes from port: (hexdump of {0} bytes)\n",
        "interrupt": "Read    {0} = 0x{0:x} bytes from interrupt endpoint (fast): (hexdump of {0} bytes)\n",
    }
    for number, (way, data) in enumerate(sent):
        text = words[way].format(len(data)) + dumped(data)
        yield Line(at_s=number / 10, level=3, source="gp_port_read", text=text)
