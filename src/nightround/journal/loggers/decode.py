"""From the bytes of a file to its text: which encoding it is in, and that it is text at all."""

from __future__ import annotations

import codecs

from nightround.foundation.refusal import NotReadable

_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
# Bytes at the beginning of things that are no text, and what to do with them.
_NO_TEXT = (
    (b"PK\x03\x04", "a zipped file or a workbook", "Save the sheet as CSV, or unzip it, first"),
    (b"%PDF", "a PDF", "Export the readings as CSV from the logger's own program"),
    (b"\xd0\xcf\x11\xe0", "an old workbook", "Save the sheet as CSV first"),
    (b"\x1f\x8b", "a compressed file", "Unpack it first"),
)
LOOKED_AT = 4096


def decode(data: bytes, name: str) -> tuple[str, str]:
    """Return the text and the encoding's name. Raises NotReadable for what is no text."""
    if not data.strip():
        raise NotReadable(f"readings in {name}", got="an empty file", todo="Read the logger out again")
    for mark, what, todo in _NO_TEXT:
        if data.startswith(mark):
            raise NotReadable(f"a text file with a table in {name}", got=what, todo=todo)
    for mark, encoding in _MARKS:
        if data.startswith(mark):
            return _strictly(data, encoding, name), encoding.removesuffix("-sig")
    bare = _bare_utf16(data[:LOOKED_AT])
    if bare:
        return _strictly(data, bare, name), bare
    if b"\x00" in data[:LOOKED_AT]:
        raise NotReadable(f"a text file with a table in {name}", got="bytes that are no text",
                          todo="Export the readings as CSV from the logger's own program")  # fmt: skip
    try:
        return data.decode("utf-8"), "utf-8"
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "Windows-1252"


def _strictly(data: bytes, encoding: str, name: str) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError as fault:
        raise NotReadable(
            f"text in {encoding.removesuffix('-sig').upper()} in {name}, as its beginning says",
            got=f"bytes that are none, at byte {fault.start + 1} of {len(data)}",
            todo="The file may be cut: read the logger out again, or copy the file again",
        ) from fault


def _bare_utf16(data: bytes) -> str:
    """UTF-16 without a mark: nearly every second byte of plain letters and digits is nothing."""
    if len(data) < 4:
        return ""
    even, odd = data[0::2].count(0), data[1::2].count(0)
    if odd > 0.8 * len(data[1::2]) and even == 0:
        return "utf-16-le"
    return "utf-16-be" if even > 0.8 * len(data[0::2]) and odd == 0 else ""
