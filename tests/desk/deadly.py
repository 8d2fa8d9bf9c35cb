"""A maker's process that a picture named crash takes down, as a picture made to break a decoder would."""

from __future__ import annotations

import os
import signal

from impose.desk import worker as child
from impose.desk import worker_jobs as make

real = make.answer_request


def answer(request: make.Request) -> make.Reply:
    if isinstance(request, make.MakeJob) and any("crash" in parcel.shown for parcel in request.parcels):
        os.kill(os.getpid(), signal.SIGSEGV)
    return real(request)


make.answer_request = answer
child.main()
