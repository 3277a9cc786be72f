"""Batches of glue-ups: never more clamps than there are, nothing before its turn, few."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from nesting.batches import Batching, Job, batches_for


def jobs_of(*clamps: int) -> list[Job]:
    """Jobs that wait for nothing."""
    return [Job(f"J{at}", count) for at, count in enumerate(clamps)]


def fewest(jobs: list[Job], clamps: int) -> int:
    """The fewest batches, by trying every way to number the jobs."""
    needs = [max(1, min(job.clamps, clamps)) for job in jobs]
    at = {job.name: index for index, job in enumerate(jobs)}
    for count in range(1, len(jobs) + 1):
        for way in itertools.product(range(count), repeat=len(jobs)):
            fits = all(
                sum(need for need, b in zip(needs, way, strict=True) if b == batch)
                <= clamps
                for batch in range(count)
            )
            if fits and all(
                way[at[name]] < way[at[job.name]] for job in jobs for name in job.after
            ):
                return count
    raise AssertionError("jobs one by one always do")


def check(jobs: list[Job], clamps: int, found: Batching) -> None:
    """Every job once, clamps for all of a batch, nothing before what it waits for."""
    needs = {job.name: min(job.clamps, max(1, clamps)) for job in jobs}
    where = {name: at for at, batch in enumerate(found.batches) for name in batch}
    assert sorted(name for batch in found.batches for name in batch) == sorted(needs)
    for batch in found.batches:
        assert batch
        assert len(batch) == 1 or sum(needs[name] for name in batch) <= clamps
    for job in jobs:
        assert all(where[name] < where[job.name] for name in job.after)
    assert found.least <= len(found.batches)


def test_six_panels_of_four_clamps_take_two_batches_of_twelve():
    found = batches_for(jobs_of(4, 4, 4, 4, 4, 4), 12)  # 24 clamps, 12 at a time
    assert [len(batch) for batch in found.batches] == [3, 3]
    assert found.is_proven


def test_filling_up_the_largest_first_is_not_good_enough():
    # Largest first puts 5 with 5 and then needs three batches; 5+4+3 = 5+4+3 = 12.
    jobs = jobs_of(5, 5, 4, 4, 3, 3)
    found = batches_for(jobs, 12)
    check(jobs, 12, found)
    assert (len(found.batches), found.least) == (2, 2)


def test_three_of_seven_never_share_twelve_clamps():
    # 21 clamps would be two batches of 12 by their sum, but 7 + 7 is more than 12.
    found = batches_for(jobs_of(7, 7, 7), 12)
    assert (len(found.batches), found.least) == (3, 3)


def test_what_no_bound_shows_is_proven_by_search():
    # 5 x 4 = 20 clamps would be two batches of 10 by their sum, but 3 x 4 is more than
    # 10: a batch holds two of the five, so there are three batches.
    found = batches_for(jobs_of(4, 4, 4, 4, 4), 10)
    assert (len(found.batches), found.least) == (3, 3)


def test_a_job_that_takes_more_clamps_than_there_are_goes_alone():
    found = batches_for(jobs_of(20, 1), 12)
    assert found.batches == (("J0",), ("J1",))
    assert batches_for(jobs_of(3, 3), 0).batches == (("J0",), ("J1",))


def test_joining_waits_for_the_parts_it_joins():
    jobs = [
        Job("whole", 4, ("left", "right")),
        Job("left", 4),
        Job("right", 4),
        Job("lid", 4),
    ]
    found = batches_for(jobs, 12)
    check(jobs, 12, found)
    assert (len(found.batches), found.least) == (2, 2)


def test_nothing_to_glue_takes_no_batch():
    assert batches_for([], 12) == Batching((), 0)


def test_jobs_in_a_circle_are_refused():
    with pytest.raises(ValueError, match="wait for each other"):
        batches_for([Job("a", 1, ("b",)), Job("b", 1, ("a",))], 12)


@st.composite
def some_jobs(draw: st.DrawFn, most: int) -> list[Job]:
    """Up to `most` jobs, some waiting for earlier ones."""
    clamps = draw(st.lists(st.integers(1, 8), min_size=1, max_size=most))
    jobs: list[Job] = []
    for at, count in enumerate(clamps):
        names = [job.name for job in jobs]
        after = draw(st.lists(st.sampled_from(names), max_size=1)) if names else []
        jobs.append(Job(f"J{at}", count, tuple(after)))
    return jobs


@settings(max_examples=60, deadline=None)
@given(jobs=some_jobs(5), clamps=st.integers(1, 12))
def test_no_way_to_number_a_few_jobs_takes_fewer_batches(jobs, clamps):
    found = batches_for(jobs, clamps)
    check(jobs, clamps, found)
    assert len(found.batches) == found.least == fewest(jobs, clamps)


@settings(max_examples=25, deadline=None)
@given(jobs=some_jobs(40), clamps=st.integers(4, 20))
def test_many_jobs_keep_the_rules(jobs, clamps):
    check(jobs, clamps, batches_for(jobs, clamps))
