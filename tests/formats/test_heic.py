"""HEIC against the command of another build of its library (libheif-examples): the same pixels, turned the same way."""

from __future__ import annotations

import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from impose.art.prepare import PreparationOptions
from impose.file_types import HEIC, identify_file
from impose.formats.prepare_file import convert_file

pillow_heif = pytest.importorskip("pillow_heif")
DECODER = shutil.which("heif-dec") or shutil.which("heif-convert")


@pytest.mark.skipif(DECODER is None, reason="libheif-examples is not installed")
@pytest.mark.parametrize(("chroma", "most"), [(444, 0), (420, 1)])
@pytest.mark.parametrize("orientation", [1, 6])
def test_pixels_are_those_of_the_librarys_own_command(tmp_path: Path, chroma, most, orientation):
    """Alike where colour has its full resolution; within a level where it has half: releases smooth it differently."""
    pillow_heif.register_heif_opener()
    y, x = np.mgrid[0:120, 0:160]
    rgb = np.stack([40 + x, 30 + y, 90 + 60 * np.sin(x / 9)], axis=-1).astype(np.uint8)
    exif = Image.Exif()
    exif[0x0112] = orientation
    file = io.BytesIO()
    Image.fromarray(rgb).save(file, "HEIF", quality=90, chroma=chroma, exif=exif.tobytes())
    content = file.getvalue()
    assert identify_file(content) is HEIC
    (tmp_path / "a.heic").write_bytes(content)
    subprocess.run([str(DECODER), "a.heic", "a.png"], cwd=tmp_path, check=True, capture_output=True)
    theirs = np.asarray(Image.open(tmp_path / "a.png").convert("RGB")).astype(int)
    made = convert_file(content, HEIC, PreparationOptions(), "a.heic")
    assert made.image is not None
    ours = np.asarray(made.image.convert("RGB")).astype(int)
    assert ours.shape == theirs.shape == ((120, 160, 3) if orientation == 1 else (160, 120, 3))
    assert np.abs(ours - theirs).max() <= most
