"""What is said of how panels match."""

from dataclasses import replace

import pytest

from reports.matching import planing_words
from tests.samples import bench_plan


@pytest.mark.parametrize(
    ("ways", "words"),
    [
        ([("heart", False), ("bark", True)], "all staves from one end"),
        ([("heart", True), ("bark", False)], "all staves from one end"),
        ([("heart", False), ("bark", False)], "not all staves from one end"),
        ([("heart", False), (None, False)], "look at each stave"),
    ],
)
def test_a_stave_turned_over_and_end_for_end_is_planed_as_before(ways, words):
    panel = bench_plan().panels[0]
    staves = tuple(
        replace(panel.staves[0], face=face, turned=turned) for face, turned in ways
    )
    assert planing_words(replace(panel, staves=staves)).startswith(words)
