"""Pictures of any size by their header, with next to nothing inside: what a trap looks like."""

import struct
import zlib


def png(width: int, height: int) -> bytes:
    """Return a PNG that says this size (ISO/IEC 15948, 11.2.2), with an empty image."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        body = kind + data
        return struct.pack(">I", len(data)) + body + struct.pack(">I", zlib.crc32(body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def jpeg(width: int, height: int, *, start: int = 0xC0, before: bytes = b"") -> bytes:
    """Return a JPEG whose frame header says this size (ITU-T T.81, B.2.2), without a scan."""
    app0 = b"\xff\xe0" + struct.pack(">H", 16) + b"JFIF\0" + bytes(9)
    frame = struct.pack(">BHHB", 8, height, width, 1) + b"\x01\x11\x00"
    sof = bytes((0xFF, start)) + struct.pack(">H", len(frame) + 2) + frame
    return b"\xff\xd8" + app0 + before + sof + b"\xff\xd9"
