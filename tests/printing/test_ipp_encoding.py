"""Bytes of the protocol: the standard's own examples, laws, and 5,000 broken messages."""

from __future__ import annotations

import random
import struct

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from impose.printing.ipp_encoding import (
    MOST_NESTED,
    MOST_VALUES,
    BrokenMessage,
    Group,
    IntegerRange,
    LocalText,
    Message,
    Operation,
    Resolution,
    Tag,
    decode_message,
    encode_message,
    make_attribute,
    make_collection,
)
from impose.printing.printer_attributes import read_report
from printing.made_up import HONEST, said


def part(tag: int, name: str, value: bytes) -> bytes:
    """One row of the standard's tables, spelled as there: tag, lengths, name, value."""
    return struct.pack(">BH", tag, len(name)) + name.encode() + struct.pack(">H", len(value)) + value


def test_the_print_job_request_of_the_standard():
    """RFC 8010, appendix A.1 (as in RFC 2565, 9.1, but for version and charset): job-name, fidelity, copies, sides."""
    printed = b"\x01\x01\x00\x02\x00\x00\x00\x01\x01"
    printed += part(0x47, "attributes-charset", b"utf-8") + part(0x48, "attributes-natural-language", b"en-us")
    printed += part(0x45, "printer-uri", b"ipp://printer.example.com/ipp/print/pinetree")
    printed += part(0x42, "job-name", b"foobar") + part(0x22, "ipp-attribute-fidelity", b"\x01")
    printed += (
        b"\x02" + part(0x21, "copies", b"\x00\x00\x00\x14") + part(0x44, "sides", b"two-sided-long-edge") + b"\x03"
    )
    said_ = Group(
        Tag.OPERATION,
        (
            make_attribute("attributes-charset", Tag.CHARSET, "utf-8"),
            make_attribute("attributes-natural-language", Tag.LANGUAGE, "en-us"),
            make_attribute("printer-uri", Tag.URI, "ipp://printer.example.com/ipp/print/pinetree"),
            make_attribute("job-name", Tag.NAME, "foobar"),
            make_attribute("ipp-attribute-fidelity", Tag.BOOLEAN, True),
        ),
    )
    job = Group(
        Tag.JOB,
        (make_attribute("copies", Tag.INTEGER, 20), make_attribute("sides", Tag.KEYWORD, "two-sided-long-edge")),
    )
    message = Message(Operation.PRINT_JOB, (said_, job), 1, (1, 1))
    assert encode_message(message) == printed
    assert decode_message(printed + b"%!PS...") == message


def test_the_collection_of_the_standard():
    """RFC 3382, table 5, with errata 3019: media-col with media-color and a media-size (today RFC 8010, 3.1.6)."""
    printed = part(0x34, "media-col", b"") + part(0x4A, "", b"media-color") + part(0x44, "", b"blue")
    printed += part(0x4A, "", b"media-size") + part(0x34, "", b"")
    printed += part(0x4A, "", b"x-dimension") + part(0x21, "", b"\0\0\0\x06")
    printed += part(0x4A, "", b"y-dimension") + part(0x21, "", b"\0\0\0\x04")
    printed += part(0x37, "", b"") + part(0x37, "", b"")
    media = make_collection(
        "media-col",
        make_attribute("media-color", Tag.KEYWORD, "blue"),
        make_collection(
            "media-size", make_attribute("x-dimension", Tag.INTEGER, 6), make_attribute("y-dimension", Tag.INTEGER, 4)
        ),
    )
    content = encode_message(Message(Operation.CREATE_JOB, (Group(Tag.JOB, (media,)),)))
    assert content == b"\x02\x00\x00\x05\x00\x00\x00\x01\x02" + printed + b"\x03"
    assert decode_message(content).groups[0].attributes == (media,)


words = st.text(st.characters(min_codepoint=32, max_codepoint=0x2FFF, exclude_categories=["Cs"]), max_size=20)
numbers = st.integers(-(1 << 31), (1 << 31) - 1)
datas = st.one_of(
    st.tuples(st.just(Tag.INTEGER), numbers),
    st.tuples(st.just(Tag.ENUM), numbers),
    st.tuples(st.just(Tag.BOOLEAN), st.booleans()),
    st.tuples(st.just(Tag.RANGE), st.builds(IntegerRange, numbers, numbers)),
    st.tuples(st.just(Tag.RESOLUTION), st.builds(Resolution, numbers, numbers)),
    st.tuples(st.just(Tag.TEXT_WITH_LANGUAGE), st.builds(LocalText, st.sampled_from(["en", "de"]), words)),
    st.tuples(st.sampled_from([Tag.TEXT, Tag.NAME, Tag.KEYWORD, Tag.URI]), words),
    st.tuples(st.just(Tag.OCTETS), st.binary(max_size=8)),
)
attributes = st.recursive(
    st.builds(lambda pair: make_attribute("x", *pair), datas),
    lambda inner: st.builds(lambda members: make_collection("x", *members), st.lists(inner, min_size=1, max_size=1)),
    max_leaves=4,
)


@settings(max_examples=40, deadline=None)
@given(st.lists(attributes, max_size=1))
def test_what_is_written_is_read(found):
    message = Message(0, (Group(Tag.PRINTER, tuple(found)),))
    assert decode_message(encode_message(message)) == message


def test_dots_to_the_centimetre_are_read_as_dots_to_the_inch():
    """RFC 8011, 5.1.16: units 3 for inches, 4 for centimetres; 1 in is 2.54 cm, so 142 to the centimetre is 361."""
    content = encode_message(
        Message(0, (Group(Tag.PRINTER, (make_attribute("r", Tag.RESOLUTION, Resolution(142, 142)),)),))
    )
    assert decode_message(content.replace(b"\x8e\x03\x03", b"\x8e\x04\x03")).groups[0].find_first("r") == (361, 361)


def test_collections_without_end_and_too_deep_are_refused():
    head = b"\x02\x00\x00\x00\x00\x00\x00\x01\x04"
    open_ = part(0x34, "m", b"")
    inner = part(0x4A, "", b"m") + part(0x34, "", b"")
    with pytest.raises(BrokenMessage, match="deeper"):
        decode_message(head + open_ + inner * (MOST_NESTED + 5) + part(0x37, "", b"") * (MOST_NESTED + 6) + b"\x03")
    with pytest.raises(BrokenMessage):
        decode_message(head + open_ + inner + b"\x03")
    with pytest.raises(BrokenMessage, match="no attribute"):
        decode_message(head + part(0x21, "", b"\0\0\0\1") + b"\x03")


def test_an_attribute_said_twice_counts_once():
    head = b"\x02\x00\x00\x00\x00\x00\x00\x01\x04"
    twice = part(0x21, "a", b"\0\0\0\1") + part(0x21, "a", b"\0\0\0\2") + part(0x21, "", b"\0\0\0\3")
    assert [value.data for value in decode_message(head + twice + b"\x03").groups[0].find_values("a")] == [1]


def test_five_thousand_broken_messages_are_read_or_refused():
    """Bytes changed, cut, doubled and inserted in a printer's whole answer: a message or `BrokenMessage`, at once."""
    whole = encode_message(said(0, Group(Tag.PRINTER, tuple(HONEST.values()))))
    random_ = random.Random(8010)
    read = 0
    for _ in range(5000):
        broken = bytearray(whole)
        for _ in range(random_.randint(1, 6)):
            at = random_.randrange(len(broken) or 1)
            kind = random_.randrange(5)
            if kind == 0 and broken:
                broken[at] = random_.randrange(256)
            elif kind == 1:
                broken[at : at + 2] = struct.pack(">H", random_.choice((0, 0x7FFF, 0xFFFF, 1)))
            elif kind == 2:
                del broken[at : at + random_.randint(1, 40)]
            elif kind == 3:
                broken[at:at] = broken[at : at + random_.randint(1, 60)]
            else:
                del broken[max(at, 9) :]
        try:
            message = decode_message(bytes(broken))
        except BrokenMessage:
            continue
        read += 1
        report = read_report(message.find_group(Tag.PRINTER))
        report.knows_size(210, 297)
        report.find_edges(210, 297)
    assert 100 < read < 4900, "both must happen"


def test_values_without_end_are_not_read():
    """Each value of one byte more of an attribute costs six bytes: 8 MB would hold more than a million."""
    head = struct.pack(">BBHI", 2, 0, 0, 1) + bytes([Tag.PRINTER])
    more = part(Tag.BOOLEAN, "", b"\x01") * MOST_VALUES
    with pytest.raises(BrokenMessage, match="more than"):
        decode_message(head + part(Tag.BOOLEAN, "x", b"\x01") + more + bytes([Tag.END]))
