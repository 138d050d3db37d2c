"""What a reader of typed data objects to in a profile, told in the words of people who write TOML. Pure."""

from __future__ import annotations

import difflib
import re
from typing import Any

import msgspec

WORDS = {
    "str": "a text",
    "int": "a whole number",
    "float": "a number",
    "bool": "true or false",
    "array": "a list",
    "object": "a table",
    "datetime": "a date",
    "date": "a date",
    "time": "a time",
    "null": "nothing",
}
"""The kinds of values, as the reader names them and as we do."""

SIGNS = {">=": "of at least", "<=": "of at most", ">": "above", "<": "below"}

_KIND = re.compile(r"`([\w |]+)`")
_STEP = re.compile(r"\.?([^.\[\]]+)|\[(\d+|\.\.\.)\]")
_IN_KEYS = "key` in `"


def complaint(error: Exception, kind: type) -> str:
    """Return the error with its key in front, as people write keys; `kind` is what was to be read."""
    said, _, path = str(error).partition(" - at `")
    is_key = path.startswith(_IN_KEYS)
    path = path.removeprefix(_IN_KEYS).rstrip("`").removeprefix("$").removeprefix(".")
    known = _words_at(path, kind, keys=is_key)
    if said.startswith("Invalid enum value ") and known:
        text = _not_known(said.removeprefix("Invalid enum value ").strip("'"), known)
    elif "unknown field" in said:
        key = said.rpartition(" ")[2].strip("`")
        text = f"there is no key {key!r}{_near(key, _fields_at(path, kind))}"
    elif "missing required field" in said:
        text = f"missing {said.rpartition(' ')[2].strip('`')}"
    else:
        text = _spelled(said)
    return f"{_place(path)}: {text}" if path else text


def _place(path: str) -> str:
    """Return a path as the other objections write it: replies are counted from 1, chosen keys are left out."""
    path = re.sub(r"^reply\[(\d+)\]", lambda found: f"reply {int(found[1]) + 1}", path)
    return path.partition("[...]")[0]


def _spelled(said: str) -> str:
    """Return what was expected and what stands there, in words: "must be a text, not a whole number"."""
    text = _KIND.sub(lambda found: " or ".join(WORDS.get(one, one) for one in _kinds(found[1])), said)
    text = text.replace("Expected ", "must be ", 1).replace(", got ", ", not ", 1)
    for kind, items in (("a text", "characters"), ("a list", "items")):
        text = re.sub(rf"{kind} of length ([<>]=) (\d+)", rf"{kind} \1 \2 {items}", text)
    for sign, words in SIGNS.items():
        text = text.replace(f" {sign} ", f" {words} ")
    return text


def _kinds(names: str) -> list[str]:
    """The kinds that may stand there; a key that may be left out is just left out, never nothing."""
    found = [one.strip() for one in names.split("|")]
    return [one for one in found if one != "null"] or found


def _not_known(value: str, known: list[str]) -> str:
    return f"must be one of {', '.join(known)}, not {value!r}{_near(value, known)}"


def _near(word: str, known: list[str]) -> str:
    near = difflib.get_close_matches(word, known, n=1)
    return f"; did you mean {near[0]!r}?" if near else ""


# ---- what may stand at a path ---------------------------------------------------------------------------------


def _at(path: str, kind: type) -> Any:
    """Return the description of what stands at a path, or None where there is nothing known."""
    info: Any = msgspec.inspect.type_info(kind)
    for name, _ in _STEP.findall(path):
        info = _plain(info)
        if isinstance(info, msgspec.inspect.StructType):
            info = {field.encode_name: field.type for field in info.fields}.get(name)
        elif isinstance(info, msgspec.inspect.ListType):
            info = info.item_type
        elif isinstance(info, msgspec.inspect.DictType):
            info = info.value_type
        else:
            return None
    return _plain(info)


def _plain(info: Any) -> Any:
    """Return a description without its notes, and of what may be left out just what it is when it is there."""
    while True:
        if isinstance(info, msgspec.inspect.Metadata):
            info = info.type
        elif isinstance(info, msgspec.inspect.UnionType):
            info = next((one for one in info.types if not isinstance(one, msgspec.inspect.NoneType)), None)
        else:
            return info


def _words_at(path: str, kind: type, *, keys: bool) -> list[str]:
    info = _at(path, kind)
    if keys and isinstance(info, msgspec.inspect.DictType):
        info = _plain(info.key_type)
    return [str(value) for value in info.values] if isinstance(info, msgspec.inspect.LiteralType) else []


def _fields_at(path: str, kind: type) -> list[str]:
    info = _at(path, kind)
    return [field.encode_name for field in info.fields] if isinstance(info, msgspec.inspect.StructType) else []
