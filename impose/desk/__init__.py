"""The hot folder: what is dropped in is taken once, made once, delivered once, and can be seen on the way.

The folder is the truth, events are hints; the ledger says what was decided, and every step can be repeated. So being
killed at any instant costs nothing but time: on the next start each step that was begun is finished or undone.
"""
