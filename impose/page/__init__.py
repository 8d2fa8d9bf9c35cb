"""The page: the shop's own door in a browser, beside the command line; no sums here, nothing that is only here.

One process answers the browser and holds what a person edits; a process for each open batch plans, draws and makes.
What it works on is a plain batch folder, which the commands take at any time.
"""
