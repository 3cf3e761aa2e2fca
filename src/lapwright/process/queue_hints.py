"""Telling the solver a schedule to start from, every variable of it that a schedule settles."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from lapwright.model.queue import Booking
from lapwright.process.queue_model import QueueModel
from lapwright.process.queue_order import led_by_first, sequences


class Hints:
    """Hints for one model."""

    def __init__(self, model: QueueModel) -> None:
        self._m = model
        self._hinted: set[int] = set()

    def tell(self, bookings: Sequence[Booking]) -> None:
        """Tell the solver a schedule to start from, every variable of it that a schedule settles."""
        self._m.model.clear_hints()
        self._hinted.clear()
        bookings = led_by_first(bookings, list(self._m.tasks))
        known = {one.task_id: one for one in bookings}
        leaders = {(one.place_id, one.start): one.task_id for one in bookings if one.leads}
        for name, one in known.items():
            leader = leaders[(one.place_id, one.start)]
            setup = self._m.up(one.start) - self._m.up(one.begin)
            self._hint_value(self._m.starts[name], self._m.up(one.start))
            if self._m.begins[name] is not self._m.starts[name]:
                self._hint_value(self._m.begins[name], self._m.up(one.begin))
            self._hint_value(self._m.setups[name], setup)
            self._hint_value(self._m.ends[name], self._m.up(one.end))
            for place_id, spot in self._m.spots[name].items():
                here = place_id == one.place_id
                self._hint_value(spot.present, here)
                if spot.leads is not spot.present:
                    self._hint_value(spot.leads, here and leader == name)
                for other, lit in spot.joins.items():
                    self._hint_value(lit, here and leader == other)
                if spot.occupies is not None:
                    self._hint_value(spot.occupies, self._m.up(one.end) - self._m.up(one.begin))
            if name in self._m.leading:
                self._hint_value(self._m.leading[name], leader == name)
        self._hint_order(bookings)
        self._hint_value(self._m.makespan, max(self._m.up(one.end) for one in bookings))
        for (_, first, last), span in self._m.spans.items():
            start = self._m.up(known[first].start) if first else 0
            self._hint_value(span, self._m.up(known[last].end) - start)
        for job_id, late in self._m.late.items():
            mine = [one for name, one in known.items() if self._m.tasks[name].job_id == job_id]
            done = max(self._m.up(one.end) + self._m.up(self._m.tasks[one.task_id].rest) for one in mine)
            self._hint_value(late, max(0, done - self._m.due[job_id]))

    def _hint_order(self, bookings: Sequence[Booking]) -> None:
        steps = {
            place_id: set(zip([None, *names], [*names, None], strict=True))
            for place_id, names in sequences(bookings).items()
        }
        for place_id, arcs in self._m.arcs.items():
            self._hint_value(self._m.idle[place_id], place_id not in steps)
            for arc, lit in arcs.items():
                self._hint_value(lit, arc in steps.get(place_id, ()))

    def _hint_value(self, variable: Any, value: int) -> None:
        if isinstance(variable, self._m.cp.IntVar) and variable.index not in self._hinted:
            self._hinted.add(variable.index)
            self._m.model.add_hint(variable, value)
