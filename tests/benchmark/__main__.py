"""Runs the benchmark commands."""

from tests.benchmark.commands import benchmark

benchmark(prog_name="python -m tests.benchmark")
