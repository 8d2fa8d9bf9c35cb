"""One small batch, planned and delivered once, for all tests of its pages."""

from __future__ import annotations

import json

import pytest

from impose.run import Options, plan, produce
from pages.proof.reading import HEADING, ROWS, Made, artwork


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    folder = tmp_path_factory.mktemp("proof")
    art = artwork()
    for name, image in art.items():
        image.save(folder / f"{name}.png", compress_level=1)
    (folder / "b.csv").write_text("\n".join([HEADING, *ROWS]) + "\n", "utf-8")
    planned = plan([folder / "b.csv"], Options(settings={"papers": ["a4", "a3"]}, steps=20, workers=1, cache=False))
    out = produce(planned, folder / "out", preview_ppi=60)
    return Made(out, json.loads((out / "batch.json").read_text("utf-8")), planned, art)
