"""The node of a mocked USB device: what a program asks of the kernel by ioctl, answered over the mock's socket.

The messages are those of umockdev 0.17 (`libumockdev-preload.c`); the requests and structures those of the kernel's
usbfs on x86-64 (`linux/usbdevice_fs.h`). Calls on a node are answered at once: what takes long stays pending as a
transfer, as it does in the kernel.
"""

from __future__ import annotations

import contextlib
import errno
import fcntl
import os
import socket
import struct
import threading
from collections import deque
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

_IOCTL, _DONE, _READ, _WRITE = 1, 3, 5, 6
_MESSAGE = struct.Struct("<3q")
_SUBMIT, _DISCARD, _REAP, _REAP_NOW = 0x8038550A, 0x550B, 0x4008550C, 0x4008550D
_CLAIM, _RELEASE, _DRIVER, _CAPABILITIES = 0x8004550F, 0x80045510, 0x41045508, 0x8004551A
_CLEAR_HALT, _RESET, _CONTROL = 0x80045515, 0x5514, 0xC0185500
#: Claims, and takes the interface from a driver of the kernel where one has it; asked after a reset.
_DISCONNECT_CLAIM = 0x8108551B
#: No limit of size, scattered buffers, reaping after the device has left; with these a transfer is one request.
_CAN = 0x1D
_URB = struct.Struct("<BBxxiIxxxxQii")
_STATUS_AT, _LENGTH_AT, _URB_BYTES = 4, 28, 56
_CONTROL_TYPE = 2
_SETUP_BYTES = 8
_PACKET = 512
BULK_IN, BULK_OUT, INTERRUPT_IN = 0x81, 0x02, 0x83
#: F_SETPIPE_SZ of fcntl(2), and the least size of a pipe.
_SET_PIPE_SIZE, _PIPE_BYTES = 1031, 4096


class Device(Protocol):
    """What is behind a node."""

    def came(self, data: bytes) -> None:
        """Take what came on the pipe towards it; it must not wait."""

    def controlled(self, setup: bytes) -> bytes:
        """Answer a request to the device itself."""

    def reset(self) -> None:
        """Begin anew, as after a reset of its port."""


@dataclass
class _Transfer:
    """Data on the way to the program; one whose size is a whole number of packets ends with an empty one."""

    left: memoryview
    ends_empty: bool


@dataclass(frozen=True)
class _Urb:
    """A request of a program that waits for its data."""

    address: int
    endpoint: int
    buffer: int
    size: int


@dataclass
class _Handle:
    """One opening of the node by one program."""

    end: socket.socket
    pending: list[_Urb] = field(default_factory=list)
    done: deque[tuple[_Urb, int, int, bytes]] = field(default_factory=deque)

    def read(self, address: int, size: int) -> bytes:
        """Return the program's memory."""
        if not size:
            return b""
        self.end.sendall(_MESSAGE.pack(_READ, address, size))
        return _exactly(self.end, size)


class RefusedError(Exception):
    """A call fails with an error number."""

    def __init__(self, number: int) -> None:
        super().__init__(os.strerror(number))
        self.number = number


class Node:
    """See the module.

    Parameters
    ----------
    path, socket_path
        The node, and where the mock looks for who answers for it; both are made here.
    device
        What is behind it.
    mode
        Who may open it.
    """

    def __init__(self, path: Path, socket_path: Path, device: Device, mode: int = 0o666) -> None:
        self._device = device
        self._lock = threading.RLock()
        self._handles: list[_Handle] = []
        self._claimed_by: _Handle | None = None
        self._bulk: deque[_Transfer] = deque()
        self._interrupts: deque[bytes] = deque()
        self._gone = False
        self._path, self._socket_path = path, socket_path
        # A pipe, kept full: programs wait until it can be written to, which is when a transfer is done.
        os.mkfifo(path)
        path.chmod(mode)
        self._pipe = os.open(path, os.O_RDWR | os.O_NONBLOCK)
        fcntl.fcntl(self._pipe, _SET_PIPE_SIZE, _PIPE_BYTES)
        self._show()
        self._listener = socket.socket(socket.AF_UNIX)
        self._listener.bind(str(socket_path))
        socket_path.chmod(0o777)
        self._listener.listen(16)
        threading.Thread(target=self._accept, daemon=True).start()

    # For the device

    def send(self, data: bytes) -> None:
        """Send one transfer to the program."""
        with self._lock:
            self._bulk.append(_Transfer(left=memoryview(data), ends_empty=len(data) % _PACKET == 0))
            self._move()

    def interrupt(self, data: bytes) -> None:
        """Send an interrupt to the program."""
        with self._lock:
            self._interrupts.append(data)
            self._move()

    def forget(self) -> None:
        """Drop what is on the way to the program."""
        with self._lock:
            self._bulk.clear()
            self._interrupts.clear()

    @property
    def opened(self) -> bool:
        """Whether a program has it open."""
        return bool(self._handles)

    @property
    def claimed(self) -> bool:
        """Whether a program has claimed the device's interface."""
        return self._claimed_by is not None

    def leave(self) -> None:
        """Be gone: transfers fail, and all calls but those that fetch what failed."""
        with self._lock:
            self._path.unlink()
            self._gone = True
            self.forget()
            for handle in self._handles:
                for urb in list(handle.pending):
                    self._finish(handle, urb, -errno.ESHUTDOWN)
            self._show()

    def close(self) -> None:
        """Stop answering; a program that still has it open is ended by that at its next call."""
        self._socket_path.unlink(missing_ok=True)
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()

    # Programs

    def _accept(self) -> None:
        while True:
            try:
                end, _ = self._listener.accept()
            except OSError:
                return
            threading.Thread(target=self._serve, args=(_Handle(end),), daemon=True).start()

    def _serve(self, handle: _Handle) -> None:
        with self._lock:
            self._handles.append(handle)
        with handle.end, contextlib.suppress(EOFError, OSError):
            while True:
                kind, request, argument = _MESSAGE.unpack(_exactly(handle.end, _MESSAGE.size))
                self._answer(handle, kind, request & 0xFFFF_FFFF, argument)
        with self._lock:
            self._handles.remove(handle)
            if self._claimed_by is handle:
                self._claimed_by = None
            self._show()

    def _answer(self, handle: _Handle, kind: int, request: int, argument: int) -> None:
        try:
            if kind != _IOCTL:
                raise RefusedError(errno.EINVAL)
            result, writes = self._called(handle, request, argument)
        except RefusedError as refused:
            handle.end.sendall(_MESSAGE.pack(_DONE, -1, refused.number))
            return
        head = b"".join(_MESSAGE.pack(_WRITE, address, len(data)) + data for address, data in writes if data)
        handle.end.sendall(head + _MESSAGE.pack(_DONE, result, 0))

    def _called(self, handle: _Handle, request: int, argument: int) -> tuple[int, list[tuple[int, bytes]]]:
        """Do a call; return its result and what it writes into the program's memory."""
        if request in (_REAP, _REAP_NOW):
            return 0, self._reap(handle, argument)
        if self._gone:
            raise RefusedError(errno.ENODEV)
        match request:
            case _ if request == _SUBMIT:
                self._submit(handle, argument)
            case _ if request == _DISCARD:
                self._discard(handle, argument)
            case _ if request == _CAPABILITIES:
                return 0, [(argument, struct.pack("<I", _CAN))]
            case _ if request in (_CLAIM, _DISCONNECT_CLAIM):
                self._claim(handle)
            case _ if request == _RELEASE:
                self._claimed_by = None
            case _ if request == _DRIVER:
                raise RefusedError(errno.ENODATA)
            case _ if request == _RESET:
                self._device.reset()
            case _ if request == _CONTROL:
                return self._control(handle, argument)
            case _ if request == _CLEAR_HALT:
                pass
            case _:
                raise RefusedError(errno.ENOTTY)
        return 0, []

    def _claim(self, handle: _Handle) -> None:
        with self._lock:
            if self._claimed_by not in (None, handle):
                raise RefusedError(errno.EBUSY)
            self._claimed_by = handle

    def _control(self, handle: _Handle, argument: int) -> tuple[int, list[tuple[int, bytes]]]:
        head = handle.read(argument, 24)
        data = self._device.controlled(head[:_SETUP_BYTES])
        (address,) = struct.unpack_from("<Q", head, 16)
        return len(data), [(address, data)]

    # Transfers

    def _submit(self, handle: _Handle, address: int) -> None:
        head = handle.read(address, _URB_BYTES)
        kind, endpoint, _, _, buffer, size, _ = _URB.unpack_from(head)
        urb = _Urb(address=address, endpoint=endpoint, buffer=buffer, size=size)
        if kind == _CONTROL_TYPE:
            data = self._device.controlled(handle.read(buffer, _SETUP_BYTES))
            with self._lock:
                self._finish(handle, _Urb(address, 0, buffer + _SETUP_BYTES, size), 0, data)
        elif endpoint & 0x80:
            with self._lock:
                handle.pending.append(urb)
                self._move()
        else:
            data = handle.read(buffer, size)
            with self._lock:
                self._finish(handle, urb, 0, length=len(data))
            self._device.came(data)

    def _discard(self, handle: _Handle, address: int) -> None:
        with self._lock:
            urb = next((one for one in handle.pending if one.address == address), None)
            if urb is None:
                raise RefusedError(errno.EINVAL)
            self._finish(handle, urb, -errno.ENOENT)

    def _reap(self, handle: _Handle, argument: int) -> list[tuple[int, bytes]]:
        with self._lock:
            if not handle.done:
                raise RefusedError(errno.ENODEV if self._gone else errno.EAGAIN)
            urb, status, length, data = handle.done.popleft()
            self._show()
        return [
            (urb.buffer, data),
            (urb.address + _STATUS_AT, struct.pack("<i", status)),
            (urb.address + _LENGTH_AT, struct.pack("<i", length)),
            (argument, struct.pack("<Q", urb.address)),
        ]

    def _move(self) -> None:
        """Bring what is on the way into the requests that wait for it."""
        for handle in self._handles:
            for urb in list(handle.pending):
                if urb.endpoint == INTERRUPT_IN and self._interrupts:
                    self._finish(handle, urb, 0, self._interrupts.popleft()[: urb.size])
                elif urb.endpoint == BULK_IN and self._bulk:
                    self._finish(handle, urb, 0, self._part(urb.size))

    def _part(self, size: int) -> bytes:
        """Take as much of the next transfer as one request holds; a short packet ends it."""
        transfer = self._bulk[0]
        part = bytes(transfer.left[:size])
        transfer.left = transfer.left[size:]
        if len(part) < size or not (len(transfer.left) or transfer.ends_empty):
            self._bulk.popleft()
        return part

    def _finish(self, handle: _Handle, urb: _Urb, status: int, data: bytes = b"", length: int | None = None) -> None:
        handle.pending = [one for one in handle.pending if one is not urb]
        handle.done.append((urb, status, len(data) if length is None else length, data))
        self._show()

    def _show(self) -> None:
        """Have the pipe take something exactly while there is something to be fetched."""
        with contextlib.suppress(BlockingIOError):
            if self._gone or any(handle.done for handle in self._handles):
                os.read(self._pipe, _PIPE_BYTES)
            else:
                os.write(self._pipe, bytes(_PIPE_BYTES))


def _exactly(end: socket.socket, size: int) -> bytes:
    parts = bytearray()
    while len(parts) < size:
        part = end.recv(min(size - len(parts), 1 << 20))
        if not part:
            raise EOFError
        parts += part
    return bytes(parts)
