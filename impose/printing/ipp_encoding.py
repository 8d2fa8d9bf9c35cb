"""Messages of the Internet Printing Protocol as bytes and back again (RFC 8010, section 3). Pure: no network, no file.

An attribute has a name and one or more values; each value carries its syntax tag, since one attribute may mix them.
Whatever is read comes from outside and may be broken or hostile: lengths are proven before they are used, collections
are nested no deeper than `MOST_NESTED`, and every fault is a `BrokenMessage`.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Iterator, Mapping
from enum import IntEnum
from typing import NamedTuple, TypeAlias

from impose.values import FrozenStruct

MOST_NESTED = 8  # media-col nests twice; the deepest collection of the PWG registry four times
MOST_VALUES = 200_000  # values of one message: a printer's longest list of papers has some ten thousand


class Tag(IntEnum):
    """Delimiter and value tags (RFC 8010, 3.5.1 and 3.5.2)."""

    OPERATION = 0x01
    JOB = 0x02
    END = 0x03
    PRINTER = 0x04
    UNSUPPORTED = 0x05
    INTEGER = 0x21
    BOOLEAN = 0x22
    ENUM = 0x23
    OCTETS = 0x30
    DATE_TIME = 0x31
    RESOLUTION = 0x32
    RANGE = 0x33
    COLLECTION = 0x34
    TEXT_WITH_LANGUAGE = 0x35
    NAME_WITH_LANGUAGE = 0x36
    END_COLLECTION = 0x37
    TEXT = 0x41
    NAME = 0x42
    KEYWORD = 0x44
    URI = 0x45
    URI_SCHEME = 0x46
    CHARSET = 0x47
    LANGUAGE = 0x48
    MIME = 0x49
    MEMBER_NAME = 0x4A


class Operation(IntEnum):
    """Operations (RFC 8011, 5.4.15); the last is the spooler's own list of its queues."""

    PRINT_JOB = 0x0002
    VALIDATE_JOB = 0x0004
    CREATE_JOB = 0x0005
    SEND_DOCUMENT = 0x0006
    CANCEL_JOB = 0x0008
    GET_JOB_ATTRIBUTES = 0x0009
    GET_JOBS = 0x000A
    GET_PRINTER_ATTRIBUTES = 0x000B
    GET_QUEUES = 0x4002


class IntegerRange(NamedTuple):
    """rangeOfInteger, both ends included (RFC 8011, 5.1.14)."""

    low: int
    high: int

    def holds_value(self, value: int) -> bool:
        """Whether a number lies in it."""
        return self.low <= value <= self.high


class Resolution(NamedTuple):
    """Dots across and along an inch (RFC 8011, 5.1.16); dots to the centimetre are turned into inches when read."""

    across: int
    along: int


class LocalText(NamedTuple):
    """Text or a name with the language it is in (RFC 8011, 5.1.2.2 and 5.1.3.2)."""

    language: str
    text: str


Data: TypeAlias = "int | bool | str | bytes | IntegerRange | Resolution | LocalText | Collection | None"


class Value(NamedTuple):
    """One value with its syntax."""

    tag: int
    data: Data


class Attribute(FrozenStruct):
    """An attribute, or a member of a collection, with its values."""

    name: str
    values: tuple[Value, ...]


class Collection(FrozenStruct):
    """The members of a collection, in order (RFC 8010, 3.1.6)."""

    members: tuple[Attribute, ...]

    def find_first(self, name: str) -> Data:
        """The first value of a member; None if there is none."""
        for member in self.members:
            if member.name == name and member.values:
                return member.values[0].data
        return None


class Group(FrozenStruct):
    """Attributes behind one delimiter tag: of the operation, a job, a printer, or what is not supported."""

    tag: int
    attributes: tuple[Attribute, ...]

    def find_values(self, name: str) -> tuple[Value, ...]:
        """All values of an attribute; none if it is absent. Of one that is said twice, the first counts."""
        for attribute in self.attributes:
            if attribute.name == name:
                return attribute.values
        return ()

    def find_first(self, name: str) -> Data:
        """The first value of an attribute; None if it is absent."""
        values = self.find_values(name)
        return values[0].data if values else None


class Message(FrozenStruct):
    """A request (`code` is its operation) or an answer (`code` is its status)."""

    code: int
    groups: tuple[Group, ...] = ()
    number: int = 1
    version: tuple[int, int] = (2, 0)

    def find_group(self, tag: int) -> Group:
        """The first group of a kind; an empty one if there is none."""
        return next((group for group in self.groups if group.tag == tag), Group(tag, ()))

    def find_groups(self, tag: int) -> list[Group]:
        """Every group of a kind: an answer lists one for each job."""
        return [group for group in self.groups if group.tag == tag]


class BrokenMessage(ValueError):
    """What was read is no message of the protocol; says what is wrong with it."""


def make_attribute(name: str, tag: int, *values: Data) -> Attribute:
    """An attribute whose values share one syntax."""
    return Attribute(name, tuple(Value(tag, value) for value in values))


def make_collection(name: str, *members: Attribute) -> Attribute:
    """An attribute whose one value is a collection."""
    return Attribute(name, (Value(Tag.COLLECTION, Collection(members)),))


def encode_message(message: Message) -> bytes:
    """A message as bytes, without the document that may follow it (RFC 8010, 3.1)."""
    parts = [struct.pack(">BBHI", *message.version, message.code, message.number)]
    for group in message.groups:
        parts.append(bytes([group.tag]))
        for attribute in group.attributes:
            parts += _attribute_parts(attribute.name, attribute.values)
    parts.append(bytes([Tag.END]))
    return b"".join(parts)


def _attribute_parts(name: str, values: Iterable[Value]) -> Iterator[bytes]:
    """One attribute: its name stands with the first value only (RFC 8010, 3.1.4 and 3.1.5)."""
    label = name.encode("ascii")
    for value in values:
        if isinstance(value.data, Collection):
            yield _pack_field(Tag.COLLECTION, label, b"")
            for member in value.data.members:
                yield _pack_field(Tag.MEMBER_NAME, b"", member.name.encode("ascii"))
                yield from _attribute_parts("", member.values)
            yield _pack_field(Tag.END_COLLECTION, b"", b"")
        else:
            yield _pack_field(value.tag, label, _value_bytes(value))
        label = b""


def _pack_field(tag: int, name: bytes, body: bytes) -> bytes:
    if len(body) > 0x7FFF or len(name) > 0x7FFF:  # SIGNED-SHORT (RFC 8010, 3.9)
        raise ValueError(f"a value of {len(body)} bytes is too long for the protocol")
    return struct.pack(">BH", tag, len(name)) + name + struct.pack(">H", len(body)) + body


def _value_bytes(value: Value) -> bytes:
    data = value.data
    if isinstance(data, bool):
        return bytes([data])
    if isinstance(data, int):
        return struct.pack(">i", data)
    if isinstance(data, IntegerRange):
        return struct.pack(">ii", *data)
    if isinstance(data, Resolution):
        return struct.pack(">iib", *data, 3)
    if isinstance(data, LocalText):
        language, text = data.language.encode("ascii"), data.text.encode("utf-8")
        return struct.pack(">H", len(language)) + language + struct.pack(">H", len(text)) + text
    if isinstance(data, bytes):
        return data
    return data.encode("utf-8") if isinstance(data, str) else b""


def decode_message(content: bytes) -> Message:
    """The message in an answer or a request. Raises `BrokenMessage`. A document behind it is left alone."""
    reader = _Reader(content)
    major, minor, code, number = struct.unpack(">BBHI", reader.take_bytes(8))
    groups: list[Group] = []
    tag = reader.read_tag()
    while tag != Tag.END:
        if tag >= 0x10:
            raise BrokenMessage("a value stands before the first group")
        attributes: dict[str, list[Value]] = {}
        group, tag, begun = tag, reader.read_tag(), False
        while tag >= 0x10:
            reader.read_attribute(tag, attributes, begun)
            tag, begun = reader.read_tag(), True
        groups.append(Group(group, _freeze_attributes(attributes)))
    return Message(code, tuple(groups), number, (major, minor))


def _freeze_attributes(values: Mapping[str, list[Value]]) -> tuple[Attribute, ...]:
    return tuple(Attribute(name, tuple(found)) for name, found in values.items())


class _Reader:
    """Reads fields one after the other and never beyond the end."""

    def __init__(self, content: bytes) -> None:
        self.content, self.at, self.values = content, 0, 0
        self.kept: list[Value] = []

    def take_bytes(self, length: int) -> bytes:
        end = self.at + length
        if end > len(self.content):
            raise BrokenMessage("it ends too early")
        taken = self.content[self.at : end]
        self.at = end
        return taken

    def read_tag(self) -> int:
        return self.take_bytes(1)[0]

    def read_field(self) -> tuple[str, bytes]:
        """Name and content of a field whose tag has been read."""
        name = self.take_bytes(int.from_bytes(self.take_bytes(2), "big"))
        body = self.take_bytes(int.from_bytes(self.take_bytes(2), "big"))
        self.values += 1
        if self.values > MOST_VALUES:
            raise BrokenMessage(f"it holds more than {MOST_VALUES} values")
        return name.decode("ascii", "replace"), body

    def read_attribute(self, tag: int, attributes: dict[str, list[Value]], begun: bool) -> None:
        """Read one value into its attribute. An attribute that is said twice is kept once, its first time."""
        name, body = self.read_field()
        value = self.read_value(tag, body, 0)
        if not name and not begun:
            raise BrokenMessage("a value has no attribute that it belongs to")
        if name:
            # A second attribute of the same name is read, so that what follows is found, and dropped.
            self.kept = [] if name in attributes else attributes.setdefault(name, [])
        self.kept.append(value)

    def read_value(self, tag: int, body: bytes, depth: int) -> Value:
        if tag == Tag.COLLECTION:
            return Value(tag, self.read_collection(depth))
        try:
            return Value(tag, _decode_data(tag, body))
        except (struct.error, UnicodeDecodeError) as error:
            raise BrokenMessage(f"a value of syntax 0x{tag:02x} has {len(body)} bytes") from error

    def read_collection(self, depth: int) -> Collection:
        if depth >= MOST_NESTED:
            raise BrokenMessage(f"collections are nested deeper than {MOST_NESTED}")
        members: dict[str, list[Value]] = {}
        name = ""
        while (tag := self.read_tag()) != Tag.END_COLLECTION:
            if tag < 0x10:
                raise BrokenMessage("a collection has no end")
            _, body = self.read_field()
            if tag == Tag.MEMBER_NAME:
                name = body.decode("ascii", "replace")
                members.setdefault(name, [])
            elif not name:
                raise BrokenMessage("a value in a collection has no name")
            else:
                members[name].append(self.read_value(tag, body, depth + 1))
        self.read_field()
        return Collection(_freeze_attributes(members))


def _decode_data(tag: int, body: bytes) -> Data:
    """A value's content by its syntax (RFC 8010, 3.9)."""
    if tag in (Tag.INTEGER, Tag.ENUM):
        return int(struct.unpack(">i", body)[0])
    if tag == Tag.BOOLEAN:
        return bool(struct.unpack(">B", body)[0])
    if tag == Tag.RANGE:
        return IntegerRange(*struct.unpack(">ii", body))
    if tag == Tag.RESOLUTION:
        across, along, unit = struct.unpack(">iib", body)
        return Resolution(across, along) if unit == 3 else Resolution(round(across * 2.54), round(along * 2.54))
    if tag in (Tag.TEXT_WITH_LANGUAGE, Tag.NAME_WITH_LANGUAGE):
        return _local_text(body)
    if 0x10 <= tag < 0x20:  # out of band: unsupported, unknown, no-value (RFC 8010, 3.8)
        return None
    return body.decode("utf-8", "replace") if 0x40 <= tag < 0x60 else body


def _local_text(body: bytes) -> LocalText:
    (length,) = struct.unpack(">H", body[:2])
    language, rest = body[2 : 2 + length], body[2 + length :]
    (length,) = struct.unpack(">H", rest[:2])
    if len(language) + 4 + length != len(body):
        raise struct.error("lengths within the value do not add up")
    return LocalText(language.decode("ascii", "replace"), rest[2:].decode("utf-8", "replace"))
