"""Profiles of a model printer, as bytes: written from the ICC specification, independent of the code under test.

The model: inks that each let through a share of red, green and blue light, laid one upon another (Beer and Lambert).
It has a true inverse, so both directions of the tables are exact but for their grid. The look of real printers (paper
that is not white, blacks that are not black, a gamut smaller than a screen's) comes from the numbers alone.

Layout: ICC.1:2001-04 (version 2, what printer profiles are mostly written in), 6.1 header, 6.5.7 lut16Type.
"""

from __future__ import annotations

import struct
from functools import cache

import numpy as np

D50 = np.array([0.9642, 1.0, 0.8249])
# Light to XYZ: the sRGB primaries adapted to D50 (published with many profiles; any three would do for a model).
LIGHT = np.array([[0.4361, 0.3851, 0.1431], [0.2225, 0.7169, 0.0606], [0.0139, 0.0971, 0.7141]])
LIGHT = LIGHT * (D50 / LIGHT.sum(axis=1))[:, None]
# What a full layer of cyan, magenta, yellow and black lets through of red, green and blue light.
INKS = np.array([[0.06, 0.55, 0.80], [0.75, 0.07, 0.45], [0.97, 0.85, 0.05], [0.10, 0.10, 0.10]])
GRID = {3: 17, 4: 9}


@cache
def model_profile(
    space: str = "RGB",
    paper: tuple[float, float, float] = (0.88, 0.92, 0.80),
    white_first: bool = True,
    tables: tuple[int, ...] = (0, 1, 2),
    stain: float = 0.0,
) -> bytes:
    """A printer profile for RGB (numbers turned over into cyan, magenta, yellow) or CMYK.

    `paper` is XYZ of blank paper against a perfect diffuser. `white_first` bends the input curves so that white falls
    on a grid point and comes out to the level; without it white comes out a level off, as it does in many profiles.
    `stain` is ink that even white is given.
    """
    there, back = _to_lab(space), _from_lab(space, white_first, stain)
    tags = [
        (b"desc", b"desc\0\0\0\0" + struct.pack(">I", 6) + b"model\0" + bytes(78)),
        (b"cprt", b"text\0\0\0\0none\0"),
        (b"wtpt", b"XYZ \0\0\0\0" + struct.pack(">3i", *(round(v * 65536) for v in paper))),
    ]
    for i in tables:
        tags += [(b"A2B%d" % i, there), (b"B2A%d" % i, back)]
    return assembled(b"prtr", space.encode().ljust(4), b"Lab ", tags)


def assembled(kind: bytes, space: bytes, connection: bytes, tags: list[tuple[bytes, bytes]]) -> bytes:
    """Header, table and tags."""
    start, table, body = 132 + 12 * len(tags), b"", b""
    for name, data in tags:
        table += name + struct.pack(">II", start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    head = struct.pack(
        ">I4sI4s4s4s6H", start + len(body), bytes(4), 0x02400000, kind, space, connection, *[2001, 4, 1, 0, 0, 0]
    )
    head = (head + b"acsp").ljust(68, b"\0") + struct.pack(">3i", *(round(v * 65536) for v in D50)) + bytes(48)
    return head + struct.pack(">I", len(tags)) + table + body


def printed_xyz(device: np.ndarray, space: str) -> np.ndarray:
    """What the model printer makes of device values from 0 to 1, relative to its paper."""
    layers = 1 - device if space == "RGB" else device
    light = np.exp(layers @ np.log(INKS[: layers.shape[-1]]))
    return light @ LIGHT.T


def device_of(xyz: np.ndarray, space: str) -> np.ndarray:
    """Device values from 0 to 1 that make a colour, clipped where there are none; no black ink."""
    light = np.maximum(xyz @ np.linalg.inv(LIGHT).T, 1e-4)
    layers = np.clip(np.log(light) @ np.linalg.inv(np.log(INKS[:3])), 0, 1)
    if space == "RGB":
        return 1 - layers
    return np.concatenate([layers, np.zeros_like(layers[..., :1])], axis=-1)


def lab_of(xyz: np.ndarray) -> np.ndarray:
    """CIE 1976 L*a*b* against D50 (CIE 15)."""
    t = xyz / D50
    f = np.where(t > (6 / 29) ** 3, np.cbrt(t), t / (3 * (6 / 29) ** 2) + 4 / 29)
    return np.stack([116 * f[..., 1] - 16, 500 * (f[..., 0] - f[..., 1]), 200 * (f[..., 1] - f[..., 2])], axis=-1)


def xyz_of(lab: np.ndarray) -> np.ndarray:
    y = (lab[..., 0] + 16) / 116
    f = np.stack([y + lab[..., 1] / 500, y, y - lab[..., 2] / 200], axis=-1)
    return D50 * np.where(f > 6 / 29, f**3, 3 * (6 / 29) ** 2 * (f - 4 / 29))


def _nodes(count: int, sides: int) -> np.ndarray:
    """Every grid point, the last channel changing fastest (6.5.7)."""
    axes = np.meshgrid(*[np.linspace(0, 1, count)] * sides, indexing="ij")
    return np.stack(axes, axis=-1).reshape(-1, sides)


def _to_lab(space: str) -> bytes:
    channels = 3 if space == "RGB" else 4
    lab = lab_of(printed_xyz(_nodes(GRID[channels], channels), space))
    straight = np.tile([0.0, 1.0], (channels, 1))
    return _lut16(straight, _encoded(lab), np.tile([0.0, 1.0], (3, 1)), GRID[channels])


def _encoded(lab: np.ndarray) -> np.ndarray:
    """Version 2 Lab: 0xFF00 is L = 100; 0x8000 is a = 0 (6.5.7, annex A)."""
    return np.stack([lab[:, 0] * 652.8, (lab[:, 1] + 128) * 256, (lab[:, 2] + 128) * 256], axis=-1) / 65535


def _from_lab(space: str, white_first: bool, stain: float) -> bytes:
    count, channels = 33, 3 if space == "RGB" else 4
    nodes = _nodes(count, 3)
    # The input curve takes 0xFF00 to 1 and 0x8000 to the middle, so that white is a grid point, or it does nothing.
    lightness, colour = (65280.0, 32768.0) if white_first else (65535.0, 32767.5)
    x = np.linspace(0, 65535, 257)
    curves = np.stack([np.minimum(x / lightness, 1)] + [np.interp(x, [0, colour, 65535], [0, 0.5, 1])] * 2)
    lab = np.stack(
        [nodes[:, 0] * lightness / 652.8]
        + [np.interp(nodes[:, i], [0, 0.5, 1], [0, colour, 65535]) / 256 - 128 for i in (1, 2)],
        axis=-1,
    )
    device = device_of(xyz_of(lab), space)
    device = device * (1 - stain) if space == "RGB" else np.maximum(device, stain)
    return _lut16(curves, device, np.tile([0.0, 1.0], (channels, 1)), count)


def _lut16(before: np.ndarray, table: np.ndarray, after: np.ndarray, grid: int) -> bytes:
    def words(values: np.ndarray) -> bytes:
        return np.clip(np.round(values * 65535), 0, 65535).astype(">u2").tobytes()

    unit = struct.pack(">9i", 65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
    head = b"mft2\0\0\0\0" + bytes([len(before), table.shape[1], grid, 0]) + unit
    head += struct.pack(">HH", before.shape[1], after.shape[1])
    return head + words(before) + words(table) + words(after)
