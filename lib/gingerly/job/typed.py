"""Typed tables: what a file may say is written as types, and read with every problem found, not only the first.

The only module that knows `msgspec`. Tables are its structs and stay fit for ``msgspec.json.schema``; its own
decoder stops at the first error, so the types are walked here instead. Quantities (a length, a feed) are numbers
or texts with a unit, read by `gingerly.units`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Annotated, Any

import msgspec
from msgspec import inspect as kinds

from gingerly import units
from gingerly.job.problems import Problems, below, item, nearest

Meta = msgspec.Meta

DEEPEST = 12
"""How deep free data (an adapter's options) may be nested. Our own choice."""

NAME_LIMIT = 60
"""No name is longer. Our own choice."""

SENTENCE_LIMIT = 300
"""Nothing that an operator is told in a job's own words is longer. Our own choice."""


def _non_negative(value: object, *, name: str) -> float:
    found = units.length(value, name=name)
    if found < 0.0:
        raise ValueError(f"{name} must be 0 mm or more, not {found:g}")
    return found


def _name(value: object, *, name: str) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{name} must be a text, not {units.shown(value)}")
    if not value.strip() or value != value.strip() or len(value) > NAME_LIMIT or not value.isprintable():
        raise ValueError(
            f"{name} {units.shown(value)} must have 1 to {NAME_LIMIT} printable characters, no space at its ends"
        )
    return value


def _sentence(value: object, *, name: str) -> str:
    if not isinstance(value, str) or not value.strip() or len(value) > SENTENCE_LIMIT or not value.isprintable():
        raise ValueError(f"{name} must be a text of 1 to {SENTENCE_LIMIT} printable characters")
    return value.strip()


READERS: dict[str, Callable[..., Any]] = {
    "length": units.length,
    "positive length": units.positive_length,
    "non-negative length": _non_negative,
    "feed": units.feed,
    "number": units.number,
    "name": _name,
    "sentence": _sentence,
}


def _kind(reader: str, description: str) -> msgspec.Meta:
    return Meta(description=description, extra={"reader": reader})


Length = Annotated[float | str, _kind("length", 'A length: a number of mm, or a text such as "6 mm" or "1/4 in".')]
PositiveLength = Annotated[
    float | str, _kind("positive length", 'A length above 0: a number of mm, or a text such as "6 mm" or "1/4 in".')
]
NonNegativeLength = Annotated[
    float | str, _kind("non-negative length", 'A length of 0 or more: a number of mm, or a text such as "6 mm".')
]
Feed = Annotated[float | str, _kind("feed", 'A feed: a number of mm/min, or a text such as "300 mm/min".')]
Number = Annotated[float, _kind("number", "A plain finite number.")]
Name = Annotated[str, _kind("name", "A name: 1 to 60 printable characters.")]
FileName = Annotated[str, _kind("sentence", "The name of a file: a text.")]
Sentence = Annotated[str, _kind("sentence", "A text for people: 1 to 300 printable characters.")]


def made(factory: Callable[[], Any]) -> Any:
    """Return the default of a field that is made anew for each table."""
    return msgspec.field(default_factory=factory)


class Table(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A table of a file: its fields are the known keys, and nothing else may stand there."""


def read_fields(kind: type[Table], data: Mapping[str, Any], problems: Problems) -> dict[str, Any]:
    """Return the fields of `data`, a table of `kind`, by name, and note every problem.

    What could not be read is None, also inside a list or a table of tables; so the rest can still be looked at.
    """
    info = kinds.type_info(kind)
    assert isinstance(info, kinds.StructType)
    return _Reader(problems).fields(info, data, "")


class _Wrong(Exception):
    """What was read is unusable; the problem has been noted."""


class _Reader:
    """Walks a type and the data that should be of it, side by side."""

    def __init__(self, problems: Problems) -> None:
        self._problems = problems

    def read(self, kind: kinds.Type, value: object, path: str) -> Any:
        """Return `value` read as `kind`; what is wrong is noted, and an unusable value comes back as None."""
        try:
            return self._read(kind, value, path)
        except _Wrong:
            return None

    def _read(self, kind: kinds.Type, value: object, path: str) -> Any:
        match kind:
            case kinds.Metadata():
                return self._metadata(kind, value, path)
            case kinds.StructType():
                return self._struct(kind, value, path)
            case kinds.UnionType():
                return self._union(kind, value, path)
            case kinds.ListType():
                return self._list(kind, value, path)
            case kinds.DictType():
                return self._dict(kind, value, path)
            case kinds.LiteralType():
                return self._choice(tuple(kind.values), value, path)
            case kinds.IntType():
                return self._whole(kind, value, path)
            case kinds.BoolType() if not isinstance(value, bool):
                raise self._wrong(path, f"is {units.shown(value)}; must be true or false")
            case kinds.AnyType():
                self._free(value, path, DEEPEST)
        return value

    # ---- single values --------------------------------------------------------------------------------

    def _metadata(self, kind: kinds.Metadata, value: object, path: str) -> Any:
        reader = READERS.get((kind.extra or {}).get("reader", ""))
        if reader is None:
            return self._read(kind.type, value, path)
        try:
            return reader(value, name=_called(path))
        except ValueError as error:
            raise self._wrong(path, error) from None

    def _choice(self, choices: tuple[Any, ...], value: object, path: str) -> Any:
        if isinstance(value, str) and value in choices:
            return value
        known = ", ".join(repr(choice) for choice in choices)
        must = f"must be {known}" if len(choices) == 1 else f"must be one of {known}"
        hint = nearest(value, choices) if isinstance(value, str) else ""
        raise self._wrong(path, f"is {units.shown(value)}; {must}{hint}")

    def _whole(self, kind: kinds.IntType, value: object, path: str) -> int:
        low, high = kind.ge, kind.le
        if isinstance(value, bool) or not isinstance(value, int) or not (low or 0) <= value <= (high or 0):
            raise self._wrong(path, f"is {units.shown(value)}; must be a whole number from {low} to {high}")
        return value

    def _union(self, kind: kinds.UnionType, value: object, path: str) -> Any:
        """Return the value read as the one member that its form speaks for: a table, a text, or a number."""
        members = [member for member in kind.types if not isinstance(member, kinds.NoneType)]
        tagged = [member for member in members if isinstance(member, kinds.StructType) and member.tag is not None]
        if len(tagged) > 1:
            return self._tagged(tagged, value, path)
        if len(members) == 1:
            return self._read(members[0], value, path)
        for member in members:
            word = isinstance(member, kinds.LiteralType)
            if isinstance(value, _form(member)) and (not word or value in _words(member)):
                return self._read(member, value, path)
        forms = " or ".join(_described(member) for member in members)
        known = [word for member in members for word in _words(member)]
        hint = nearest(value, known) if isinstance(value, str) else ""
        raise self._wrong(path, f"is {units.shown(value)}; must be {forms}{hint}")

    # ---- tables and lists -----------------------------------------------------------------------------

    def _tagged(self, members: list[kinds.StructType], value: object, path: str) -> Any:
        table = self._mapping(value, path)
        field = str(members[0].tag_field)
        tags = {str(member.tag): member for member in members}
        try:
            if field not in table:
                raise self._wrong(below(path, field), f"is missing; must be one of {', '.join(map(repr, tags))}")
            chosen = self._choice(tuple(tags), table[field], below(path, field))
        except _Wrong:
            self._whatever_it_is(members, table, path)
            raise
        return self._struct(tags[chosen], table, path)

    def _whatever_it_is(self, members: list[kinds.StructType], table: Mapping[str, Any], path: str) -> None:
        """Note what is wrong in a table of unknown kind, in the keys that mean the same wherever they are known."""
        for key, value in table.items():
            meant = [field.type for member in members for field in member.fields if field.name == key]
            if meant and all(kind == meant[0] for kind in meant):
                self.read(meant[0], value, below(path, key))

    def _struct(self, kind: kinds.StructType, value: object, path: str) -> Any:
        before = len(self._problems)
        values = self.fields(kind, self._mapping(value, path), path)
        if len(self._problems) > before:
            raise _Wrong
        return kind.cls(**values)

    def fields(self, kind: kinds.StructType, table: Mapping[str, Any], path: str) -> dict[str, Any]:
        """Return the fields that are given, read; notes unknown keys, missing ones and wrong values."""
        known = {field.name: field for field in kind.fields}
        for key in table:
            if key not in known and key != kind.tag_field:
                self._problems.add(below(path, key), f"is not known here{self._hint(key, known, path)}")
        values = {}
        for name, field in known.items():
            if name in table:
                values[name] = self.read(field.type, table[name], below(path, name))
            elif field.required:
                self._problems.add(below(path, name), f"is missing; must be {_described(field.type)}")
        return values

    def _hint(self, key: str, known: Mapping[str, kinds.Field], path: str) -> str:
        near = nearest(key, known)
        return near or f"; known are {', '.join(known)}"

    def _list(self, kind: kinds.ListType, value: object, path: str) -> list[Any]:
        if not isinstance(value, list):
            raise self._wrong(path, f"is {units.shown(value)}; must be a list")
        low, high = kind.min_length or 0, kind.max_length
        if not low <= len(value) <= (len(value) if high is None else high):
            wanted = f"at least {low}" if high is None else f"{low} to {high}"
            raise self._wrong(path, f"has {len(value)} items; must have {wanted}")
        return [self.read(kind.item_type, part, item(path, index)) for index, part in enumerate(value)]

    def _dict(self, kind: kinds.DictType, value: object, path: str) -> dict[str, Any]:
        found = {}
        if kind.min_length and not value:
            raise self._wrong(path, "is empty; must have at least one table")
        for key, part in self._mapping(value, path).items():
            at = below(path, key)
            self.read(kind.key_type, key, at)
            found[key] = self.read(kind.value_type, part, at)
        return found

    def _mapping(self, value: object, path: str) -> Mapping[str, Any]:
        if not isinstance(value, dict):
            raise self._wrong(path, f"is {units.shown(value)}; must be a table")
        return value

    def _free(self, value: object, path: str, left: int) -> None:
        """Note free data that is nested too deep, or holds numbers that are not finite."""
        if left == 0:
            raise self._wrong(path, f"is nested deeper than {DEEPEST} tables; nothing here needs that")
        if isinstance(value, dict):
            for key, part in value.items():
                self._free(part, below(path, key), left - 1)
        elif isinstance(value, list):
            for index, part in enumerate(value):
                self._free(part, item(path, index), left - 1)
        elif isinstance(value, float) and not abs(value) < float("inf"):
            raise self._wrong(path, f"is {units.shown(value)}; must be a finite number")

    def _wrong(self, path: str, what: object) -> _Wrong:
        self._problems.add(path, what)
        return _Wrong()


def _called(path: str) -> str:
    """What a message calls the value at `path`: the last key, unless that is a name somebody chose."""
    key = path.rpartition(".")[2]
    return "the name" if key.endswith('"') else key


def _words(kind: kinds.Type) -> tuple[Any, ...]:
    return tuple(kind.values) if isinstance(kind, kinds.LiteralType) else ()


def _form(kind: kinds.Type) -> type | tuple[()]:
    """The Python type by which a member of a union is told from the others; none where it is not told so."""
    match kind:
        case kinds.Metadata():
            return _form(kind.type)
        case kinds.StructType():
            return dict
        case kinds.LiteralType() | kinds.StrType():
            return str
        case kinds.IntType():
            return int
        case _:
            return ()


def _described(kind: kinds.Type) -> str:
    """What a value of this type looks like, in words."""
    match kind:
        case kinds.Metadata():
            said = (kind.extra_json_schema or {}).get("description", "")
            return str(said[:1].lower() + said[1:]).rstrip(".") if said else _described(kind.type)
        case kinds.StructType():
            keys = ", ".join(field.name for field in kind.fields if field.required) or "its keys"
            return f"a table with {keys}"
        case kinds.LiteralType():
            return " or ".join(repr(value) for value in kind.values)
        case kinds.IntType():
            return f"a whole number from {kind.ge} to {kind.le}"
        case kinds.ListType():
            return "a list"
        case kinds.DictType():
            return "tables with a name each"
        case kinds.UnionType():
            return " or ".join(_described(part) for part in kind.types if not isinstance(part, kinds.NoneType))
        case _:
            return "given"


def given_fields(table: object, *without: str) -> dict[str, Any]:
    """Return the fields of a table that were given, by name, with tables inside it as plain data."""
    fields = getattr(table, "__struct_fields__", ())
    values = {name: getattr(table, name) for name in fields if name not in without}
    return {name: _as_plain(value) for name, value in values.items() if value is not None}


def _as_plain(value: Any) -> Any:
    return given_fields(value) if isinstance(value, Table) else value
