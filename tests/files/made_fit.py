"""Small FIT files, written by hand from the protocol: one definition, one message a fix."""

from __future__ import annotations

import struct
from collections.abc import Iterable

EPOCH_S = 631_065_600  # 1989-12-31 UTC
NO_PLACE = 0x7FFFFFFF


def _crc(data: bytes) -> int:
    """CRC-16 as the protocol prints it (polynomial 0xA001, reflected)."""
    crc = 0
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ (0xA001 if crc & 1 else 0)
    return crc


def fit(
    fixes: Iterable[tuple[float | None, float | None, float, float]],
    *,
    order: str = "<",
    says: str | None = None,
) -> bytes:
    """Fixes lon, lat (degrees, None: no place), elevation, seconds since 1970. `order` the bytes
    are in, `says` the order the definition claims (default: the same)."""
    big = (says or order) == ">"
    body = bytearray([0x40, 0, int(big)])
    body += struct.pack((">" if big else "<") + "HB", 20, 4)  # record, four fields
    body += bytes([253, 4, 0x86, 0, 4, 0x85, 1, 4, 0x85, 2, 2, 0x84])
    for lon, lat, elevation, at in fixes:
        where = [NO_PLACE if v is None else round(v * 2**31 / 180.0) for v in (lat, lon)]
        body += b"\x00" + struct.pack(
            order + "IiiH", round(at) - EPOCH_S, *where, round((elevation + 500.0) * 5.0)
        )
    head = struct.pack("<BBHI4s", 14, 0x20, 2100, len(body), b".FIT")
    whole = head + struct.pack("<H", _crc(head)) + body
    return bytes(whole + struct.pack("<H", _crc(whole)))
