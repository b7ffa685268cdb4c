"""Codes of the protocol: standard ones (ISO 15740), and those of the two families whose dialects are spoken; and how an
operation can end other than well.

The families' own codes are as the public source of libgphoto2 lists them.
"""

from __future__ import annotations

from enum import IntEnum


class Response(IntEnum):
    """How an operation went."""

    OK = 0x2001
    GENERAL_ERROR = 0x2002
    SESSION_NOT_OPEN = 0x2003
    OPERATION_NOT_SUPPORTED = 0x2005
    INVALID_OBJECT = 0x2009
    PROPERTY_NOT_SUPPORTED = 0x200A
    STORE_FULL = 0x200C
    WRITE_PROTECTED = 0x200D
    NO_THUMBNAIL = 0x2010
    STORE_NOT_AVAILABLE = 0x2013
    BUSY = 0x2019
    INVALID_VALUE = 0x201C
    INVALID_PARAMETER = 0x201D
    SESSION_ALREADY_OPEN = 0x201E
    NIKON_OUT_OF_FOCUS = 0xA002
    NIKON_INVALID_STATUS = 0xA004
    NIKON_NOT_IN_LIVE_VIEW = 0xA00B
    NIKON_BULB_BUSY = 0xA200
    EOS_NOT_READY = 0xA102


class Op(IntEnum):
    """Operations."""

    GET_DEVICE_INFO = 0x1001
    OPEN_SESSION = 0x1002
    CLOSE_SESSION = 0x1003
    GET_STORAGE_IDS = 0x1004
    GET_STORAGE_INFO = 0x1005
    GET_NUM_OBJECTS = 0x1006
    GET_OBJECT_HANDLES = 0x1007
    GET_OBJECT_INFO = 0x1008
    GET_OBJECT = 0x1009
    GET_THUMB = 0x100A
    DELETE_OBJECT = 0x100B
    INITIATE_CAPTURE = 0x100E
    GET_PROPERTY_DESCRIPTION = 0x1014
    GET_PROPERTY_VALUE = 0x1015
    SET_PROPERTY_VALUE = 0x1016
    GET_PARTIAL_OBJECT = 0x101B

    NIKON_CAPTURE_TO_RAM = 0x90C0
    NIKON_CHANGE_CAMERA_MODE = 0x90C2
    NIKON_DELETE_RAM_IMAGE = 0x90C3
    NIKON_GET_EVENT = 0x90C7
    NIKON_DEVICE_READY = 0x90C8
    NIKON_START_LIVE_VIEW = 0x9201
    NIKON_END_LIVE_VIEW = 0x9202
    NIKON_GET_LIVE_VIEW = 0x9203
    NIKON_DRIVE_FOCUS = 0x9204
    NIKON_CHANGE_AF_AREA = 0x9205
    NIKON_CAPTURE = 0x9207
    NIKON_TERMINATE_CAPTURE = 0x920C

    EOS_GET_STORAGE_IDS = 0x9101
    EOS_GET_STORAGE_INFO = 0x9102
    EOS_GET_PARTIAL_OBJECT = 0x9107
    EOS_REMOTE_RELEASE = 0x910F
    EOS_SET_PROPERTY = 0x9110
    EOS_SET_REMOTE_MODE = 0x9114
    EOS_SET_EVENT_MODE = 0x9115
    EOS_GET_EVENT = 0x9116
    EOS_TRANSFER_COMPLETE = 0x9117
    EOS_HOST_CAPACITY = 0x911A
    EOS_KEEP_DEVICE_ON = 0x911D
    EOS_BULB_START = 0x9125
    EOS_BULB_END = 0x9126
    EOS_REQUEST_PROPERTY = 0x9127
    EOS_RELEASE_ON = 0x9128
    EOS_RELEASE_OFF = 0x9129
    EOS_START_LIVE_VIEW = 0x9151
    EOS_END_LIVE_VIEW = 0x9152
    EOS_GET_LIVE_VIEW = 0x9153
    EOS_DRIVE_LENS = 0x9155
    EOS_ZOOM = 0x9158
    EOS_ZOOM_POSITION = 0x9159


class Event(IntEnum):
    """Events; those of the EOS dialect come as records of a reply, not as packets."""

    OBJECT_ADDED = 0x4002
    PROPERTY_CHANGED = 0x4006
    CAPTURE_COMPLETE = 0x400D

    NIKON_ADDED_IN_RAM = 0xC101

    EOS_OBJECT_ADDED = 0xC181
    EOS_TRANSFER_WANTED = 0xC186
    EOS_PROPERTY_VALUE = 0xC189
    EOS_PROPERTY_CHOICES = 0xC18A
    EOS_STATUS = 0xC18B
    EOS_BULB_TIME = 0xC194


#: Formats of objects; the last is what Canon EOS bodies say of a raw file.
FOLDER, JPEG, DNG, EOS_RAW = 0x3001, 0x3801, 0x3811, 0xB103


class GoneError(Exception):
    """The body does not answer at all: the connection goes with it."""


class RefusedError(Exception):
    """An operation that is not done, and the response that says so."""

    def __init__(self, code: Response) -> None:
        super().__init__(code.name)
        self.code = code


def name_of(code: int) -> str:
    """Return an operation's name for the record."""
    try:
        return Op(code).name.replace("_", " ").lower()
    except ValueError:
        return f"0x{code:04x}"
