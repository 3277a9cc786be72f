"""Commands whose help ends with an example."""

from __future__ import annotations

from typing import Any

import click


class _WithExample(click.Command):
    """What shows an example of its use at the end of its help."""

    def __init__(self, *args: Any, example: str, **extra: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **extra)
        self.example = example

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the example as it is typed, unwrapped."""
        del ctx
        formatter.write(
            f"\nExample, on the files that `stavewright demo` makes:\n  {self.example}\n"
        )


class Shown(_WithExample):
    """A command whose help ends with an example of its use on the demo."""


class ShownGroup(_WithExample, click.Group):
    """A group of commands whose help ends with an example."""
