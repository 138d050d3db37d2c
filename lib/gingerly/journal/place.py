"""Where the journal lies: the platform's folder for a user's data, on a local disk that has room."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

NAME = "journal.db"

VARIABLE = "GINGERLY_JOURNAL"
"""An environment variable that names another file."""

LEAST_ROOM = 16 * 1024 * 1024
"""Bytes that must be free before anything moves: thousands of parts fit into them. Our own choice."""

REMOTE = frozenset({"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "ceph", "glusterfs", "fuse", "webdav"})
"""File systems on which a write-ahead log is not safe: its index is shared memory, which stays on one computer."""


def default_path() -> Path:
    """Return the file that is the journal where nobody says otherwise; it may not exist yet."""
    named = os.environ.get(VARIABLE)
    return Path(named) if named else own_path()


def own_path() -> Path:
    """Return the file that is the journal where nobody has named any, ever."""
    return data_folder() / "gingerly" / NAME


def data_folder() -> Path:
    """Return the platform's folder for a user's data."""
    if sys.platform == "win32":
        return Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support"
    return Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")


def room(folder: Path) -> int:
    """Return how many bytes are free in `folder`."""
    return shutil.disk_usage(folder).free


def is_local(folder: Path, mounts: Path = Path("/proc/self/mounts")) -> bool:
    """Return whether `folder` lies on a disk of this computer, as far as the platform tells."""
    if sys.platform == "win32":
        return not str(folder.resolve()).startswith("\\\\")
    try:
        lines = mounts.read_text("utf-8", "replace").splitlines()
    except OSError:
        return True
    kinds = {words[1].replace("\\040", " "): words[2] for words in map(str.split, lines) if len(words) > 2}
    here = folder.resolve()
    for place in (here, *here.parents):
        kind = kinds.get(str(place))
        if kind is not None:
            return kind.partition(".")[0] not in REMOTE
    return True


def sync_folder(folder: Path) -> None:
    """Make sure that a file made in `folder` is still there after a power cut, where the platform can."""
    if sys.platform == "win32":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
