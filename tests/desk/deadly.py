"""A maker's process that a picture named crash takes down, as a picture made to break a decoder would."""

from __future__ import annotations

import os
import signal

from impose.desk import child, make

real = make.answer


def answer(request: make.Request) -> make.Reply:
    if isinstance(request, make.Make) and any("crash" in parcel.shown for parcel in request.parcels):
        os.kill(os.getpid(), signal.SIGSEGV)
    return real(request)


make.answer = answer
child.main()
