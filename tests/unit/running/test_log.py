"""Access logs: read fast and slowly alike, in order, replayed as events would be."""

import random
import time
import tracemalloc
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import simpy
from hypothesis import given, settings
from hypothesis import strategies as st

from optibox.errors import InputError
from optibox.physics.operation import Transfers
from optibox.physics.replay import replay
from optibox.physics.replay_stream import advanced, blank_trace, replayed
from optibox.running.log_read import LogReader
from optibox.running.log_replay import DEAL_GAP_S, LogDuty, Reach, replay_log
from optibox.running.policy_year import reading_held
from tests.unit.running.test_operating_year_simulated import USE

REACH = Reach(
    drives=("data-1", "data-2"), is_shared=False, service_s=30.0, rate_mb_s=100.0
)
START = datetime(2026, 3, 2, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _short_logs(monkeypatch):
    """Most of these logs are as short as they can be."""
    monkeypatch.setattr("optibox.running.log_replay.SHORTEST_S", 1.0)


def written(tmp_path, text, name="log.csv") -> Path:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def columns(path):
    """All rows of a log, joined."""
    reader = LogReader(path)
    pieces = list(reader.pieces())
    times = np.concatenate([piece.time_s for piece in pieces])
    drives = [
        reader.names[k] for p in pieces if p.drive is not None for k in p.drive.tolist()
    ]
    return times.tolist(), drives, pieces


# --- replay against events -------------------------------------------------------


def by_events(times_s, service_s, timeout_s, until_s):
    """Spin a drive in a discrete-event simulation (simpy); return seconds and wakes."""
    env = simpy.Environment()
    state = {"spins": False, "since": 0.0, "spun": 0.0, "wakes": 0, "stop_at": 0.0}

    def stopper(at_s):
        yield env.timeout(at_s - env.now)
        if state["spins"] and state["stop_at"] <= env.now:
            state["spins"] = False
            state["spun"] += env.now - state["since"]

    def people():
        for at_s, takes_s in zip(times_s, service_s, strict=True):
            yield env.timeout(at_s - env.now)
            if not state["spins"]:
                state.update(spins=True, since=env.now)
                state["wakes"] += 1
            state["stop_at"] = max(state["stop_at"], env.now + takes_s + timeout_s)
            # an access at the very moment of the stop still finds the drive awake
            env.process(stopper(state["stop_at"] + 0.25))

    env.process(people())
    env.run(until=until_s + 10 * timeout_s + max(service_s, default=0.0) + 10)
    return state


@settings(deadline=None)
@given(
    st.lists(st.integers(0, 5_000), min_size=1, max_size=30),
    st.lists(st.integers(0, 400), min_size=30, max_size=30),
    st.sampled_from([60, 300, 900]),
    st.integers(1, 7),
)
def test_stream_against_events(times, services, timeout_s, piece):
    times = sorted(times)
    services = services[: len(times)]
    trace = blank_trace([60.0, 300.0, 900.0])
    for first in range(0, len(times), piece):
        part = slice(first, first + piece)
        trace = advanced(
            trace, np.array(times[part], float), np.array(services[part], float)
        )
    until_s = 10_000.0
    got = replayed(trace, float(timeout_s), until_s)
    events = by_events(times, services, timeout_s, until_s)
    assert got.wakes == events["wakes"]
    # each sleep of the simulation comes a quarter of a second late
    spun_s = events["spun"] - 0.25 * events["wakes"]
    assert got.spinning_share * until_s == pytest.approx(spun_s, abs=1e-6)


@settings(deadline=None)
@given(st.lists(st.integers(0, 5_000), max_size=40), st.sampled_from([0, 20, 200]))
def test_stream_against_the_plain_replay(times, service_s):
    times = sorted(times)
    trace = advanced(blank_trace([60.0, 600.0]), np.array(times, float), service_s)
    for timeout_s in (60.0, 600.0, float("inf")):
        plain = replay(times, service_s, timeout_s, 6_000.0)
        got = replayed(trace, timeout_s, 6_000.0)
        assert got.wakes == plain.wakes
        assert got.spinning_share == pytest.approx(plain.spinning_share)


def test_a_piece_out_of_order_is_refused():
    with pytest.raises(ValueError, match="order"):
        advanced(blank_trace([60.0]), np.array([5.0, 4.0]), 0.0)


# --- reading -----------------------------------------------------------------------


def test_columns_in_any_order_and_unknown_ones(tmp_path):
    text = "# a remark\nuser;bytes;time;drive\nx;100;2026-03-02T00:00:10;data-2\n"
    times, drives, pieces = columns(written(tmp_path, text))
    assert times == [START.timestamp() + 10]
    assert drives == ["data-2"]
    assert pieces[0].size_bytes.tolist() == [100.0]


@pytest.mark.parametrize(
    ("cell", "seconds"),
    [
        ("2026-03-02T01:00:00", 3600.0),
        ("2026-03-02 01:00:00.5", 3600.5),
        ("2026-03-02T01:00:00Z", 3600.0),
        ("2026-03-02T01:00:00+01:00", 0.0),
        ("2026-03-02", 0.0),
        (f"{START.timestamp() + 60}", 60.0),
    ],
)
def test_times_as_logs_write_them(tmp_path, cell, seconds):
    path = written(tmp_path, f"time\n{cell}\n{cell}\n")
    assert columns(path)[0] == [START.timestamp() + seconds] * 2


@given(st.data())
@settings(deadline=None, max_examples=30)
def test_fast_and_slow_ways_agree(tmp_path_factory, data):
    rows = data.draw(
        st.lists(
            st.tuples(
                st.integers(0, 10**6),
                st.sampled_from(["data-1", "data-22", "a b"]),
                st.integers(0, 10**12),
                st.sampled_from(["read", "write"]),
            ),
            min_size=1,
            max_size=20,
        )
    )
    folder = tmp_path_factory.mktemp("log")
    lines = [
        f"{(START + timedelta(seconds=s)).isoformat()[:19]},{d},{b},{o}"
        for s, d, b, o in rows
    ]
    head = "time,drive,bytes,operation\n"
    plain = written(folder, head + "\n".join(lines) + "\n", "plain.csv")
    quoted = [",".join(f'"{cell}"' for cell in line.split(",")) for line in lines]
    slow = written(folder, head + "\n\n".join(quoted), "slow.csv")
    fast_times, fast_drives, fast = columns(plain)
    slow_times, slow_drives, slower = columns(slow)
    assert fast_times == slow_times == [START.timestamp() + s for s, *_ in rows]
    assert fast_drives == slow_drives
    for column in ("size_bytes", "is_write"):
        both = [
            np.concatenate([getattr(piece, column) for piece in pieces]).tolist()
            for pieces in (fast, slower)
        ]
        assert both[0] == both[1]


def test_windows_line_ends_and_a_byte_order_mark(tmp_path):
    text = (
        b"\xef\xbb\xbftime,drive\r\n2026-03-02T00:00:00,a\r\n2026-03-02T00:00:09,b\r\n"
    )
    assert columns(written(tmp_path, text))[1] == ["a", "b"]


def test_all_faults_of_a_log_with_their_lines(tmp_path):
    text = (
        "time,drive,bytes,operation\n"
        "2026-03-02T00:00:00,data-1,5,read\n"
        "yesterday,data-1,5,read\n"
        "2026-03-02T00:00:01,data-1,-5,read\n"
        "2026-03-02T00:00:02,data-1,5,open\n"
        "2026-03-02T00:00:03,,5,read\n"
        "2026-03-02T00:00:04,data-1\n"
    )
    with pytest.raises(InputError) as caught:
        columns(written(tmp_path, text))
    found = {(f.line, f.field, f.value) for f in caught.value.faults}
    assert found == {
        (3, "time", "yesterday"),
        (4, "bytes", "-5"),
        (5, "operation", "open"),
        (6, "drive", ""),
        (7, "", ""),
    }


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds no rows"),
        ("when,drive\n1,a\n", "no column 'time'"),
        ("time,time\n1,1\n", "one twice"),
        ("time\n5\n", "holds 1 accesses"),
        ("time\nnan\n", "is no time"),
        ("time\n5\n5\n", "at one time"),
        (b"time\xff\n5\n", "not UTF-8"),
    ],
)
def test_logs_that_say_nothing(tmp_path, text, words):
    path = written(tmp_path, text)
    with pytest.raises(InputError, match=words):
        replay_log(path, REACH)


def test_a_log_of_an_hour_is_refused(tmp_path, monkeypatch):
    monkeypatch.undo()
    with pytest.raises(InputError, match=r"spans 1\.1 h"):
        replay_log(written(tmp_path, "time\n5\n4000\n"), REACH)


def test_accesses_that_overlap_all_day_keep_a_drive_busy_once(tmp_path):
    # one access a second, each of half a minute: busy all the time, not thirty times
    text = "time\n" + "\n".join(map(str, range(90_000)))
    found = replay_log(written(tmp_path, text), replace(REACH, is_shared=True))
    use = LogDuty(log=found, is_shared=True).of_mean_drive(USE, 10.0)
    reading = use.sessions_per_h * use.accesses * use.service_h
    assert reading == pytest.approx(1.0, rel=1e-3)
    held = reading_held(use, Transfers(ingest_h=6.0))
    assert held.sessions_per_h * held.service_h == pytest.approx(0.98 - 6 / 24)


def test_a_log_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match="is a folder"):
        replay_log(tmp_path, REACH)
    with pytest.raises(InputError, match="does not exist"):
        replay_log(tmp_path / "none.csv", REACH)


# --- order -------------------------------------------------------------------------


def test_small_disorder_is_put_right(tmp_path):
    chance = random.Random(4)
    times = sorted(chance.sample(range(100_000), 500))
    late = sorted(times, key=lambda t: t + chance.uniform(0, 1500))
    sound = written(tmp_path, "time\n" + "\n".join(map(str, times)), "sound.csv")
    shaken = written(tmp_path, "time\n" + "\n".join(map(str, late)), "shaken.csv")
    assert times != late
    assert replay_log(sound, REACH) == replay_log(shaken, REACH)


def test_disorder_across_blocks(tmp_path, monkeypatch):
    monkeypatch.setattr("optibox.running.log_read._BLOCK_BYTES", 64)
    rows = [3 * n for n in range(400)]
    shaken = [r - 1000 if r % 7 == 0 and r > 1000 else r for r in rows]
    path = written(tmp_path, "time\n" + "\n".join(map(str, shaken)))
    whole = replay_log(path, REACH)
    monkeypatch.setattr("optibox.running.log_read._BLOCK_BYTES", 1 << 20)
    assert replay_log(path, REACH) == whole
    assert whole.n_rows == 400


def test_great_disorder_is_refused_with_its_line(tmp_path, monkeypatch):
    monkeypatch.setattr("optibox.running.log_read._BLOCK_BYTES", 64)
    rows = [*range(0, 90_000, 600), 60, *range(90_000, 99_000, 600)]
    path = written(tmp_path, "time\n" + "\n".join(map(str, rows)) + "\n")
    with pytest.raises(InputError) as caught:
        replay_log(path, REACH)
    assert caught.value.faults[0].line == 152


# --- who is reached ------------------------------------------------------------------


def test_named_drives_are_followed_one_by_one(tmp_path):
    rows = [(0, "data-1"), (100, "data-2"), (4_000, "data-1"), (4_010, "data-2")]
    text = "time,drive\n" + "\n".join(f"{t},{d}" for t, d in rows)
    found = replay_log(written(tmp_path, text), REACH, (5.0, 120.0))
    assert {name: t.wakes for name, t in found.traces.items()} == {
        "data-1": (2, 1),
        "data-2": (2, 1),
    }
    assert found.span_s == 4_010


def test_writes_are_left_out(tmp_path):
    text = "time,operation\n0,read\n50,write\n9000,read\n9001,write\n"
    found = replay_log(written(tmp_path, text), REACH)
    assert (found.n_rows, found.n_writes) == (4, 2)
    assert sum(trace.n for trace in found.traces.values()) == 2


def test_bytes_become_time_at_the_builds_rate(tmp_path):
    path = written(tmp_path, "time,bytes\n0,1e9\n9000,3e9\n")
    # 1 and 3 GB at 100 MB/s: 10 and 30 s
    assert replay_log(path, REACH).service_s == pytest.approx(20.0)


def test_visits_are_dealt_in_turn_without_names(tmp_path):
    gap = int(DEAL_GAP_S) + 31
    times = [0, 60, gap + 60, gap + 90, 2 * gap + 90]
    found = replay_log(written(tmp_path, "time\n" + "\n".join(map(str, times))), REACH)
    assert {n: t.n for n, t in found.traces.items()} == {"data-1": 3, "data-2": 2}
    shared = replay_log(
        written(tmp_path, "time\n" + "\n".join(map(str, times))),
        replace(REACH, is_shared=True),
    )
    assert {t.n for t in shared.traces.values()} == {5}


def test_other_names_are_matched_or_refused(tmp_path):
    text = "time,drive\n0,sdb\n9000,sda\n"
    found = replay_log(written(tmp_path, text), REACH)
    assert "sda as data-1, sdb as data-2" in found.how
    text += "9500,sdc\n"
    with pytest.raises(InputError, match="3 drives; the build has 2"):
        replay_log(written(tmp_path, text), REACH)
    many = "time,drive\n" + "\n".join(f"{n},d{n}" for n in range(200))
    with pytest.raises(InputError, match="more than 64 drives"):
        replay_log(written(tmp_path, many), REACH)


def test_hours_of_the_week(tmp_path):
    # 2 March 2026 is a Monday (Python's own calendar)
    assert START.weekday() == 0
    text = "time\n2026-03-02T00:30:00\n2026-03-08T23:59:59\n"
    found = replay_log(written(tmp_path, text), REACH)
    assert [h for h, n in enumerate(found.by_hour) if n] == [0, 167]
    duty = LogDuty(log=found, is_shared=False)
    monday = [hour < 24 for hour in range(168)]
    per_year = duty.accesses_per_year_in(monday)
    assert per_year == pytest.approx(8760 / found.span_h)


# --- size ----------------------------------------------------------------------------


@pytest.mark.slow
def test_a_million_rows_in_little_time_and_memory(tmp_path):
    chance = np.random.default_rng(3)
    times = np.cumsum(chance.integers(1, 60, 1_000_000)) + 1_772_409_600
    drives = chance.integers(1, 3, times.size)
    stamps = times.astype("datetime64[s]").astype(str)
    path = tmp_path / "long.csv"
    with path.open("w") as file:
        file.write("time,drive,bytes,operation\n")
        file.writelines(
            f"{t},data-{d},1000000,read\n" for t, d in zip(stamps, drives, strict=True)
        )
    started = time.process_time()
    found = replay_log(path, REACH)
    assert found.n_rows == 1_000_000
    # about a second on an idle machine; generous, since clocks of busy ones vary
    assert time.process_time() - started < 3.0
    tracemalloc.start()
    replay_log(path, REACH)
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 40e6 < path.stat().st_size
