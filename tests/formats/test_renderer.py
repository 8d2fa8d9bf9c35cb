"""The process that draws SVGs and PDFs: what becomes of a file that holds it up, or ends it."""

from __future__ import annotations

import os
import signal

import pytest

from impose.errors import Trouble
from impose.formats import renderer
from impose.formats.renderer import Renderer
from impose.messages import start_child


@pytest.mark.parametrize(
    ("script", "timer", "said"),
    [
        # It waits and takes no processor time, so that only the clock can end it.
        ("import time; time.sleep(600)", True, "takes too long"),
        ("import time; time.sleep(600)", False, "takes too long"),
        ("import os; os.kill(os.getpid(), 9)", True, "more memory than is allowed"),
        ("import os; os._exit(134)", True, "broke the renderer (code 134)"),
    ],
    ids=["hangs", "hangs where no timer is", "killed by the system", "aborts"],
)
@pytest.mark.skipif(os.name == "nt", reason="signals")
def test_a_renderer_that_does_not_answer_is_ended_and_said(script, timer, said, monkeypatch):
    hangs = "sleep" in script
    monkeypatch.setattr(renderer, "LONGEST_S", 0.2 if hangs and timer else 60)
    monkeypatch.setattr(renderer, "SMALL_S", 0.2)
    if not timer:
        monkeypatch.delattr(signal, "setitimer")
    monkeypatch.setattr(renderer, "_start_process", lambda: start_child(("-c", script)))
    with pytest.raises(Trouble) as caught:
        Renderer().ask("svg", "drawing.svg")
    assert said in str(caught.value)
    assert caught.value.findings[0].kind == "too-complex"
