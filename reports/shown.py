"""Commands whose help ends with an example."""

from __future__ import annotations

from typing import Any

import click


class Shown(click.Command):
    """A command whose help ends with an example of its use on the demo."""

    def __init__(self, *args: Any, example: str, **extra: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **extra)
        self.example = example

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the example as it is typed, unwrapped."""
        del ctx
        formatter.write(_words(self.example))


class ShownGroup(click.Group):
    """A group of commands whose help ends with an example."""

    def __init__(self, *args: Any, example: str, **extra: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **extra)
        self.example = example

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the example as it is typed, unwrapped."""
        del ctx
        formatter.write(_words(self.example))


def _words(example: str) -> str:
    return f"\nExample, on the files that `stavewright demo` makes:\n  {example}\n"
