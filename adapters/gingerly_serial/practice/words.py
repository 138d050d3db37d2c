"""What hands can do at the practice machine: the words, what each does, and what is typed after one."""

from __future__ import annotations

import json

from gingerly import units

CLOSINGS = ("close at tip", "close at flank", "close at stock", "close at bench")

HELP = """\
type what your hands do at the practice machine:
  close at tip, close at flank   hold the plate against the tool
  close at stock                 bridge tool and stock with a piece of metal
  close at bench                 hold lead and plate together, on the bench
  open                           take them apart again
  clear, hands away              seat the plate, take the hands away
  turn flute, turn half          turn the tool by hand
  next part, change tool         bring the next part, or its tool (with --job)
  release                        take lead and plate off
  lead on, lead off              clip the test lead on, or off
  emergency stop                 press the machine's own stop: an alarm stands
  mischief {"what": "reset"}     let something go wrong, as --mischief does
  scene {"place": [90, 60, -50]} put another blank on the table
  await motion 3                 be told when the third motion has begun
  set up                         begin all afresh, as just switched on
  plug in                        plug the cable in again (a pty has a new name)
  truth                          what is true now, as JSON
  help, quit"""
"""No line is longer than 80 columns."""


def from_json(text: str, what: str) -> object:
    """Return what a JSON text says; raises `ValueError` that names `what` it is meant for."""
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        raise ValueError(f"{what} {units.shown(text)} is not JSON") from None


def motion_number(text: str) -> int:
    """Return the number of a motion, counted from 1; raises `ValueError`."""
    if not (text.isascii() and text.isdecimal() and len(text) < 10):
        raise ValueError(f"await motion needs a whole number, not {units.shown(text)}")
    return int(text)
