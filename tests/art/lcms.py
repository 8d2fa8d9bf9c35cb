"""Little CMS by another way than Pillow's: the system's own library, called directly, with its exact arithmetic.

Debian's poppler-utils, which the page tests need anyway, brings liblcms2. Where it is missing the tests that compare
with it are skipped.
"""

from __future__ import annotations

import ctypes
import ctypes.util
from functools import cache

import numpy as np

RGB_8, GREY_8, CMYK_8, LAB_DOUBLE = 0x40019, 0x30009, 0x60021, 0x4A0018  # lcms2.h, TYPE_*
NO_OPTIMIZE, BLACK_POINT, GAMUT_CHECK, SOFT_PROOF = 0x100, 0x2000, 0x1000, 0x4000  # lcms2.h, cmsFLAGS_*
_CHANNELS = {RGB_8: 3, GREY_8: 1, CMYK_8: 4, LAB_DOUBLE: 3}


@cache
def library() -> ctypes.CDLL | None:
    name = ctypes.util.find_library("lcms2")
    if name is None:
        return None
    lib = ctypes.CDLL(name)
    pointer, number = ctypes.c_void_p, ctypes.c_uint32
    lib.cmsOpenProfileFromMem.restype, lib.cmsOpenProfileFromMem.argtypes = pointer, [ctypes.c_char_p, number]
    lib.cmsCreateLab4Profile.restype, lib.cmsCreateLab4Profile.argtypes = pointer, [pointer]
    lib.cmsCreateTransform.restype = pointer
    lib.cmsCreateTransform.argtypes = [pointer, number, pointer, number, number, number]
    lib.cmsCreateProofingTransform.restype = pointer
    lib.cmsCreateProofingTransform.argtypes = [pointer, number, pointer, number, pointer, number, number, number]
    lib.cmsDoTransform.argtypes = [pointer, ctypes.c_char_p, pointer, number]
    lib.cmsDoTransform.restype = None
    return lib


def transformed(
    pixels: np.ndarray, source: bytes, take: int, target: bytes | None, give: int, intent: int, flags: int = 0
) -> np.ndarray:
    """Pixels (…, channels) through two profiles; without a target into Lab. `intent` by ICC number."""
    lib = library()
    assert lib is not None
    start = lib.cmsOpenProfileFromMem(source, len(source))
    end = lib.cmsCreateLab4Profile(None) if target is None else lib.cmsOpenProfileFromMem(target, len(target))
    return _through(lib.cmsCreateTransform(start, take, end, give, intent, flags | NO_OPTIMIZE), pixels, give)


def outside(pixels: np.ndarray, source: bytes, target: bytes, give: int) -> np.ndarray:
    """Which RGB pixels Little CMS's own gamut check calls out of the target's gamut."""
    lib = library()
    assert lib is not None
    marks = (ctypes.c_uint16 * 16)(*[0xFFFF, 0, 0xFFFF] + [0] * 13)
    lib.cmsSetAlarmCodes(marks)
    start, end = (lib.cmsOpenProfileFromMem(p, len(p)) for p in (source, target))
    flags = GAMUT_CHECK | SOFT_PROOF | NO_OPTIMIZE
    transform = lib.cmsCreateProofingTransform(start, RGB_8, start, RGB_8, end, 1, 1, flags)
    made = _through(transform, pixels, RGB_8)
    return (made == (255, 0, 255)).all(axis=-1)


def _through(transform: int | None, pixels: np.ndarray, give: int) -> np.ndarray:
    lib = library()
    assert lib is not None
    assert transform
    data = np.ascontiguousarray(pixels)
    count = data.size // data.shape[-1]
    made = np.empty((*data.shape[:-1], _CHANNELS[give]), np.float64 if give == LAB_DOUBLE else np.uint8)
    lib.cmsDoTransform(transform, data.tobytes(), made.ctypes.data, count)
    return made
