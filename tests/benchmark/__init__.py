"""Measures the optimizer: `python -m tests.benchmark --help`. Not part of the tests.

Read `commands.py` first: published instances in `published.py`, projects of our own making
in `generated.py`, and two ways to plan them without our search, `craftsman.py` and
`packer.py`, whose layouts are costed in `layouts.py` by the same objective.
"""
