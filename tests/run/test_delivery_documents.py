"""What a delivery holds is on one list: every file that is written answers to one entry of it."""

from __future__ import annotations

import re

from impose.folder_exchange import hash_files_below
from impose.run import Options, plan, produce
from impose.run.delivery_documents import DOCUMENTS, describe_document


def test_every_file_of_a_delivery_is_on_the_list(batch, tmp_path):
    source = batch(
        ["Ada,A,dot.png,left-chest,hoodie adult M,1,60 mm,,,,", "Bo,B,dot.png,full-back,hoodie adult L,2,180 mm,,,,"],
        {"dot.png": ("ellipse", 300, 300)},
    )
    seen = set()
    for name, part in (("whole", None), ("parts", 1)):
        made = plan([source], Options({"papers": ["a4"]}, steps=50, workers=1, cache=False, part_sheets=part))
        folder = produce(made, tmp_path / name, preview_ppi=30)
        for file in hash_files_below(folder):
            kinds = [document.kind for document in DOCUMENTS if re.fullmatch(document.files, file)]
            assert len(kinds) == 1, file
            assert describe_document(file, {})[1] not in ("", file), file
            seen |= {*kinds}
    assert seen == {document.kind for document in DOCUMENTS}


def test_what_is_none_of_ours_goes_by_its_name():
    assert describe_document("signed.pdf", {}) == ("other", "signed.pdf")
    assert describe_document("sheets-a4.pdf.part", {})[0] == "other"
