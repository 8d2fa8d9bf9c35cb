"""Sheets to PDF, and back again: the only room that uses PyMuPDF."""
