"""The rack's file while processes are killed in the middle of it, and while two write."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from stock.errors import InputError
from stock.rack import open_rack
from stock.rack_check import check_rack
from stock.rack_entries import Step
from stock.rack_file import connect
from tests.stock.test_rack import oak, put

ROOT = Path(__file__).resolve().parents[2]
KILLS = 200

# Books a board per entry and says its number once that is confirmed, for ever.
WRITER = """
import sys
from pathlib import Path
from stock.rack import open_rack
from stock.rack_entries import Step
from tests.stock.test_rack import oak, put

path, name, most = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
with open_rack(path, makes=True) as rack:
    for n in range(most):
        rack.book("add", name, lambda _: [Step(puts=((None, oak(f"{name}-{n}")),))])
        print(f"{name}-{n}.", flush=True)
        if n % 5 == 4:
            rack.undo(name)
            print(f"not {name}-{n}.", flush=True)
"""
# Forks a writer at a word, so that 200 of them need no 200 starts of Python.
NURSERY = """
import os, sys
sys.path.insert(0, {root!r})
import stock.rack, tests.stock.test_rack
code = compile({writer!r}, "writer", "exec")
for line in sys.stdin:
    child = os.fork()
    if not child:
        print(f"child {{os.getpid()}}", flush=True)
        sys.argv = ["writer", *line.split()]
        exec(code, {{"__name__": "__main__"}})
        os._exit(0)
    os.waitpid(child, 0)
    print("\\ngone", flush=True)  # a kill may tear a line before its end
"""


def said(lines: list[str]) -> list[str]:
    """What a writer confirmed: whole lines end in a full stop, torn ones do not."""
    return [line.strip()[:-1] for line in lines if line.strip().endswith(".")]


def names_in(path: Path) -> set[str]:
    """Names on the rack, after everything about it was checked."""
    with open_rack(path) as rack:
        assert check_rack(rack) == ()
        return {one.name for one in rack.state().boards.values()}


@pytest.mark.skipif(not hasattr(os, "fork"), reason="forks and kills of POSIX")
def test_two_hundred_kills_lose_nothing_that_was_confirmed(tmp_path):
    """What was confirmed is there; at most the one entry in the air may be there or not."""
    chance = random.Random(7)
    code = NURSERY.format(root=str(ROOT), writer=WRITER)
    nursery = subprocess.Popen(
        [sys.executable, "-c", code], cwd=ROOT, text=True,
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    mid_write = 0
    try:
        for kill in range(KILLS):
            path = tmp_path / f"rack-{kill // 20}.sqlite"
            before = names_in(path) if path.exists() else set()
            print(f"{path} k{kill} 100000", file=nursery.stdin, flush=True)
            child = int(nursery.stdout.readline().removeprefix("child "))
            # every other one at any moment, the rest once it is at work on any disk
            confirmed = [nursery.stdout.readline()] if kill % 2 else []
            time.sleep(chance.uniform(0.0, 0.04))
            os.kill(child, signal.SIGKILL)
            while (line := nursery.stdout.readline()) != "gone\n":
                assert line, "the nursery is gone itself"
                confirmed.append(line)
            confirmed = said(confirmed)
            if not path.exists():
                assert not confirmed
                continue
            mid_write += path.with_name(f"{path.name}-journal").exists()
            taken_back = {line[4:] for line in confirmed if line.startswith("not ")}
            sure = before | {line for line in confirmed if not line.startswith("not ")}
            sure -= taken_back
            now = names_in(path)
            # the entry in the air may have added a board, or taken the last one back
            assert len(sure ^ now) <= 1, (sure ^ now, confirmed[-3:])
            missing = sure - now
            assert missing <= set(confirmed[-1:])
            assert all(int(name.rpartition("-")[2]) % 5 == 4 for name in missing)
    finally:
        nursery.kill()
        nursery.communicate()
    assert mid_write > 0  # some left a journal behind, which had to be rolled back


def test_two_processes_at_once_lose_no_entry(tmp_path):
    path = tmp_path / "rack.sqlite"
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), name, "30"],
            cwd=ROOT, text=True, stdout=subprocess.PIPE,
        )
        for name in ("a", "b")
    ]  # fmt: skip
    told = "".join(writer.communicate(timeout=60)[0] for writer in writers)
    lines = said(told.splitlines())
    assert [writer.returncode for writer in writers] == [0, 0]
    with open_rack(path) as rack:
        assert check_rack(rack) == ()
        entries = rack.entries()
    added = [line for line in lines if not line.startswith("not ")]
    assert len(added) == 60
    assert len(entries) == len(lines) == 72
    assert {
        one.after.name for entry in entries for one in entry.changes if one.after
    } >= set(added)


def test_who_waits_too_long_for_another_writer_is_told_so(tmp_path, monkeypatch):
    path = tmp_path / "rack.sqlite"
    with open_rack(path, makes=True) as rack:
        put(rack, oak("R1"))
    other = connect(path, wait=0.05)
    with open_rack(path) as rack:
        other.execute("BEGIN IMMEDIATE")
        monkeypatch.setattr(rack, "_base", connect(path, wait=0.05))
        with pytest.raises(InputError, match="another stavewright is writing to the rack"):
            rack.book("add", "t", lambda _: [Step(puts=((None, oak("R2")),))])
        other.execute("ROLLBACK")
        put(rack, oak("R2"))
    other.close()
    assert names_in(path) == {"R1", "R2"}
