"""The dead man's handle, on a line that keeps what it is told."""

import asyncio

import pytest

from lapwright.errors import NotConnected, OutOfValidRange
from lapwright.gauges import StopGuard, open_stop
from lapwright.gauges.stop.messages import FarSide, read_message


class Line:
    """A stop output that can be cut."""

    def __init__(self):
        self.messages, self.cut = [], False

    async def __aenter__(self):
        if self.cut:
            raise NotConnected("The line is cut.")
        return self

    async def __aexit__(self, *_):
        pass

    async def send(self, message, *, sequence):
        """Keep one message, unless cut."""
        if self.cut:
            raise NotConnected("The line is cut.")
        self.messages.append((message, sequence))


async def allowing(guard, seconds):
    """Ask for permission, as a recorder does."""
    for _ in range(round(seconds / 0.02)):
        guard.allow()
        await asyncio.sleep(0.02)


def words(line):
    """The first words of the messages."""
    return [message.split()[0].decode() for message, _ in line.messages]


def test_nothing_is_permitted_before_somebody_asks():
    """An open guard is silent."""

    async def script():
        line = Line()
        async with StopGuard(line, beat=0.02, limit=0.2) as guard:
            await asyncio.sleep(0.1)
            assert guard.state.word == "waiting"
        return line

    assert set(words(asyncio.run(script()))) == {"STOP"}


def test_permissions_are_numbered_and_carry_their_limit():
    """1, 2, 3 …; 0 for stop, which is sent on leaving."""

    async def script():
        line = Line()
        async with StopGuard(line, beat=0.02, hold=0.2, limit=0.5) as guard:
            await allowing(guard, 0.2)
        return line

    *run, last = [read_message(message) for message, _ in asyncio.run(script()).messages]
    assert [one.sequence for one in run] == list(range(1, len(run) + 1))
    assert len(run) >= 5
    assert {0.5} == {one.limit for one in run}
    assert (last.sequence, last.reason) == (0, "the recorder ends")


def test_when_the_asking_ceases_a_stop_is_sent():
    """The judging part hangs, the sending part lives."""

    async def script():
        line = Line()
        async with StopGuard(line, beat=0.02, hold=0.1, limit=0.5) as guard:
            await allowing(guard, 0.1)
            await asyncio.sleep(0.3)
            await allowing(guard, 0.1)
            return line, guard.state

    line, state = asyncio.run(script())
    assert state.word == "stopped"
    assert "nobody asked" in state.sentence
    first = words(line).index("STOP")
    assert "RUN" not in words(line)[first:]


def test_a_stop_is_sent_at_once_and_latches():
    """Not at the next beat; a later permission undoes nothing; the first reason counts."""

    async def script():
        line = Line()
        async with StopGuard(line, beat=0.4, hold=1.0, limit=1.0) as guard:
            guard.allow()
            await asyncio.sleep(0.05)
            guard.stop("the target is reached")
            guard.stop("something else")
            await asyncio.sleep(0.05)
            early = [message for message, _ in line.messages]
            guard.allow()
            await asyncio.sleep(0.5)
        return early, line

    early, line = asyncio.run(script())
    assert early[-1] == b"STOP 0 the target is reached\n"
    assert set(words(line)[len(early) - 1 :]) == {"STOP"}


def test_a_long_break_of_the_line_latches():
    """The machine must have stopped by itself; it must not start again by itself."""

    async def script():
        line = Line()
        async with StopGuard(line, beat=0.02, hold=0.2, limit=0.15) as guard:
            await allowing(guard, 0.1)
            line.cut, before = True, len(line.messages)
            await allowing(guard, 0.1)
            word = guard.state.word
            await allowing(guard, 0.2)
            line.cut = False
            await allowing(guard, 0.1)
            return word, guard.state, words(line)[before:]

    word, state, after = asyncio.run(script())
    assert word == "unreachable"
    assert (state.word, set(after)) == ("stopped", {"STOP"})
    assert "no permission got through" in state.sentence


def test_a_short_break_goes_by():
    """One lost message must not stop a run."""

    async def script():
        line = Line()
        async with StopGuard(line, beat=0.02, hold=0.3, limit=0.5) as guard:
            await allowing(guard, 0.1)
            line.cut = True
            await allowing(guard, 0.1)
            line.cut = False
            await allowing(guard, 0.1)
            return guard.state.word

    assert asyncio.run(script()) == "may_run"


def test_a_fault_of_the_recorder_is_a_stop_with_its_name():
    """Whatever goes wrong inside, the guard is left with a stop."""

    async def script(line):
        async with StopGuard(line, beat=0.02, limit=0.2) as guard:
            guard.allow()
            await asyncio.sleep(0.05)
            raise ZeroDivisionError

    line = Line()
    with pytest.raises(ZeroDivisionError):
        asyncio.run(script(line))
    assert line.messages[-1][0] == b"STOP 0 the recorder failed (ZeroDivisionError)\n"


def test_a_limit_of_less_than_two_beats_is_refused():
    """One lost message would stop the machine."""
    with pytest.raises(OutOfValidRange):
        StopGuard(open_stop("dry-run:"), beat=0.5, limit=0.6)


def test_a_machine_stays_stopped_until_reset():
    """Silence latches; old permissions do not count after a reset either."""
    machine = FarSide(limit=2.0)
    machine.hear(1, 10.0)
    assert machine.may_run(11.9)
    assert not machine.may_run(12.1)
    machine.hear(2, 12.2)
    assert (machine.may_run(12.2), machine.stopped) == (False, "no permission in time")
    machine.reset()
    assert not machine.may_run(12.3)
    machine.hear(3, 12.4)
    assert machine.may_run(12.5)


def test_a_shorter_limit_in_the_message_counts():
    """The machine's own limit is the longest."""
    machine = FarSide(limit=2.0)
    machine.hear(1, 0.0, limit=0.5)
    assert not machine.may_run(0.6)
