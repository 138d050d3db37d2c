"""What the operating system says, in words: no numbers, no names of exceptions."""

from __future__ import annotations

import errno
import re
import socket
from pathlib import Path

import pytest
import serial

from gingerly_serial.why import KNOWN, why

OF_THE_INTERPRETER = re.compile(r"Errno|WinError|Error|[\[\]()]|NoneType|object")


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (FileNotFoundError(errno.ENOENT, "No such file or directory", "x"), "there is nothing of this name"),
        (OSError(errno.ENOSPC, "No space left on device"), "the disk is full"),
        (BrokenPipeError(errno.EPIPE, "Broken pipe"), "the other end has closed the connection"),
        (TimeoutError("timed out"), "nobody answers there"),
        (socket.gaierror(socket.EAI_NONAME, "Name or service not known"), "no computer of this name is known"),
        (TypeError("'NoneType' object cannot be interpreted as an integer"), "it was closed meanwhile"),
        (OSError(errno.EXDEV, "Invalid cross-device link"), "Invalid cross-device link"),
        (ConnectionError("the other end has closed the connection"), "the other end has closed the connection"),
    ],
)
def test_a_reason_is_told_in_words(error: Exception, words: str) -> None:
    assert why(error) == words


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("could not open port 'COM3': PermissionError(13, 'Access is denied.', None, 5)", KNOWN[errno.EACCES]),
        (
            "could not open port 'COM9': OSError(999, 'The device is not ready.', None, 21)",
            "The device is not ready.",
        ),
        ("Could not configure port: (25, 'Inappropriate ioctl for device')", "it is no serial port"),
        ("Could not open port rfc2217://h:9: [Errno 111] Connection refused", KNOWN[errno.ECONNREFUSED]),
        ("Could not open port x: [Errno 999] Something else", "Could not open port x: Something else"),
    ],
)
def test_an_error_that_a_port_quotes_is_told_by_its_reason(text: str, words: str) -> None:
    """The texts are those of pyserial (from memory of its source), on Windows and elsewhere."""
    if "111" in text and errno.ECONNREFUSED != 111:
        pytest.skip("the number of the text is Linux's")
    assert why(serial.SerialException(text)) == words


def test_text_that_is_not_utf_8_is_said_to_be_so(tmp_path: Path) -> None:
    (tmp_path / "x").write_bytes(b"\xff")
    with pytest.raises(UnicodeDecodeError) as caught:
        (tmp_path / "x").read_text("utf-8")
    assert why(caught.value) == "it is not UTF-8 text"


@pytest.mark.parametrize("number", sorted(KNOWN))
def test_no_usual_reason_shows_what_the_interpreter_writes(number: int) -> None:
    assert not OF_THE_INTERPRETER.search(why(OSError(number, "[Errno 1] x")))
