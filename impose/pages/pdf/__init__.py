"""Sheets to PDF, and back again: the only room that uses PyMuPDF."""

from __future__ import annotations

from threading import RLock

LIBRARY = RLock()
"""Held while PyMuPDF is at work: it is not made for several threads at once (PyMuPDF documentation, "Multiprocessing").
"""
