"""Why something could not be done, in words for people: what the operating system or a port says, without its codes."""

from __future__ import annotations

import errno
import re
import socket

KNOWN = {
    errno.ENOENT: "there is nothing of this name",
    errno.ENXIO: "there is no such device",
    errno.ENODEV: "there is no such device",
    errno.EACCES: "this user may not use it",
    errno.EPERM: "this user may not use it",
    errno.EBUSY: "another program holds it",
    errno.EAGAIN: "another program holds it",
    errno.EADDRINUSE: "another program holds it",
    errno.EADDRNOTAVAIL: "this computer has no such address",
    errno.ECONNREFUSED: "nobody serves there",
    errno.ETIMEDOUT: "nobody answers there",
    errno.ECONNRESET: "the other end has closed the connection",
    errno.EPIPE: "the other end has closed the connection",
    errno.ECONNABORTED: "the other end has closed the connection",
    errno.EIO: "the device is gone",
    errno.ENOTTY: "it is no serial port",
    errno.EISDIR: "it is a folder",
    errno.ENOTDIR: "its folder does not exist",
    errno.ENOSPC: "the disk is full",
}
"""The usual ones in our own words; of all others the operating system's own are told."""

_CODE = re.compile(r"\[(?:Errno|WinError) (-?\d+)\] ?")
_QUOTED = re.compile(r"\w*\((\d+), ['\"](.*?)['\"]")
"""An error inside another one's text, as the interpreter writes it: with its number, and as a call."""


def why(error: BaseException) -> str:
    """Return the reason that an error names, for people."""
    if isinstance(error, UnicodeDecodeError):
        return "it is not UTF-8 text"
    if isinstance(error, TypeError | AttributeError):
        return "it was closed meanwhile"  # what a port is, or is not, once another thread has closed it
    if isinstance(error, TimeoutError):
        return KNOWN[errno.ETIMEDOUT]
    if isinstance(error, socket.gaierror):
        return "no computer of this name is known"
    text = str(error)
    quoted = _QUOTED.search(text)
    numbers = [int(found) for found in (*_CODE.findall(text), *(quoted.groups()[:1] if quoted else ()))]
    for number in (*numbers, error.errno if isinstance(error, OSError) else None):
        if number in KNOWN:
            return KNOWN[number]
    if quoted is not None:
        return quoted[2]
    return _CODE.sub("", (error.strerror if isinstance(error, OSError) else None) or text)
