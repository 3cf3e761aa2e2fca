"""Search over routes: every chain of stages, at every load, speed and split of the stock that the trade rules allow.

All candidates are screened at once (`screening`); a few, each best at something, go on to be drawn job by job
(`planning`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from lapwright.errors import OutOfValidRange
from lapwright.process.candidates import Chain, RateSource
from lapwright.process.screening import Array, Grid, cut_variants, weigh
from lapwright.process.stages import Setting

Objective = Literal["time", "cost"]
LEAST_CHANCE = 0.5  # of a candidate on the front
_MOST_ON_FRONT = 12
_CAUTION = 0.006  # a closed form may promise this much more than the draws will show


@dataclass(frozen=True, slots=True, kw_only=True)
class Goal:
    """What a search is for: the shortest or the cheapest route that keeps every limit with at least this chance."""

    objective: Objective = "time"
    target_chance: float = 0.90

    def __post_init__(self) -> None:
        if not 0.5 <= self.target_chance < 1.0:
            raise OutOfValidRange("target_chance", self.target_chance, "from 0.5 to less than 1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """One route as screened: its cuts, margins on damage of laps and finish [1], time [s], cost, chance [1].

    `is_usual` when every load and speed is the middle of what is usual.
    """

    chain: Chain
    lap_multiple: float
    finish_multiple: float
    time: float
    cost: float
    chance: float
    is_usual: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """The outcome of a search: how many candidates were weighed, and those that are best at something, with labels.

    `front` are the candidates that no other one beats in time, cost and chance at once, by time.
    """

    weighed: int
    finalists: tuple[tuple[Candidate, tuple[str, ...]], ...]
    front: tuple[Candidate, ...]


def search(setting: Setting, chains: Sequence[Chain], rates: RateSource, goal: Goal) -> Found:
    """Weigh every load, speed and split of every chain, and keep what is best at something.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge, assumptions, prices.
    chains : sequence of Chain
        At the middle pressure and usual speed; each fits into the stock.
    rates : RateSource
        What is believed of the rates.
    goal : Goal
        Time or cost, and the chance to be held.

    Returns
    -------
    Found
        With no finalist when no chain fits into the stock at any split.
    """
    variants = cut_variants(setting, chains, rates)
    grids = [grid for chain in chains if (grid := weigh(setting, chain, variants)) is not None]
    if not grids:
        return Found(weighed=0, finalists=(), front=())
    table = _Table(grids)
    labelled = _labelled(table, goal)
    return Found(
        weighed=table.time.size,
        finalists=tuple((table.candidate(index), labels) for index, labels in labelled.items()),
        front=tuple(table.candidate(index) for index in _front(table)),
    )


def screened(setting: Setting, chain: Chain, *, lap_multiple: float, finish_multiple: float) -> Candidate | None:
    """One chain as it stands, at one split, weighed by the closed forms of the search.

    Parameters
    ----------
    setting : Setting
        Order, library, gauge, assumptions, prices.
    chain : Chain
        With the pressures and speeds to be used.
    lap_multiple : float [1]
        Margin on damage of the laps.
    finish_multiple : float [1]
        Margin on damage of the last stage.

    Returns
    -------
    Candidate or None
        None when the stock does not suffice.
    """
    grid = weigh(setting, chain, {}, splits=((lap_multiple, finish_multiple),))
    return None if grid is None else _Table([grid]).candidate(0)


# ----------------------------------------------------------------------------------------------------------------------


class _Table:
    """The grids of all chains as flat columns, so that they can be compared at once."""

    def __init__(self, grids: Sequence[Grid]) -> None:
        self.grids = grids
        self.time = np.concatenate([grid.time.ravel() for grid in grids])
        self.cost = np.concatenate([grid.cost.ravel() for grid in grids])
        self.chance = np.concatenate([grid.chance.ravel() for grid in grids])
        sizes = np.array([grid.time.size for grid in grids])
        self.of_grid = np.repeat(np.arange(len(grids)), sizes)
        self.begins = np.concatenate(([0], np.cumsum(sizes)[:-1]))
        options = [np.repeat(np.arange(len(grid.options)), len(grid.splits)) for grid in grids]
        self.usual = np.concatenate([row == grid.usual for row, grid in zip(options, grids, strict=True)])
        self.gentle = np.concatenate([row == grid.gentle for row, grid in zip(options, grids, strict=True)])
        self.stages = np.array([len(grid.chain) for grid in grids])[self.of_grid]

    def candidate(self, index: int) -> Candidate:
        grid = self.grids[int(self.of_grid[index])]
        option, split = divmod(int(index - self.begins[self.of_grid[index]]), len(grid.splits))
        laps, finish = grid.splits[split]
        return Candidate(
            chain=grid.options[option],
            lap_multiple=laps,
            finish_multiple=finish,
            time=float(self.time[index]),
            cost=float(self.cost[index]),
            chance=float(self.chance[index]),
            is_usual=option == grid.usual,
        )


def _labelled(table: _Table, goal: Goal) -> dict[int, tuple[str, ...]]:
    """Which candidates are best at something; each at the split and load at which it is."""
    held = table.chance >= goal.target_chance + _CAUTION
    if not held.any():
        held = table.chance >= table.chance.max() - 0.005
    measure = table.time if goal.objective == "time" else table.cost
    picked: dict[int, list[str]] = {}

    def pick(label: str, among: NDArray[np.bool_], by: Array) -> int | None:
        if not among.any():
            return None
        index = int(np.flatnonzero(among)[np.argmin(by[among])])
        picked.setdefault(index, []).append(label)
        return index

    best = pick("shortest", held, table.time)
    pick("cheapest", held, table.cost)
    pick("surest", table.chance >= table.chance.max() - 0.002, measure)
    pick("usual", held & table.usual, measure)
    for count in np.unique(table.stages):
        pick(f"stages {count}", held & (table.stages == count), measure)
    assert best is not None
    pick("gentle", held & table.gentle & (table.of_grid == table.of_grid[best]), measure)
    for other in _other_tools(table, held, measure):
        picked.setdefault(other, []).append("other tools")
    return {index: tuple(labels) for index, labels in picked.items()}


def _other_tools(table: _Table, held: NDArray[np.bool_], measure: Array) -> list[int]:
    """The best of each of the next chains that hold the chance: the same work with other plates and abrasives."""
    by_chain: dict[int, int] = {}
    for index in np.flatnonzero(held)[np.argsort(measure[held], kind="stable")]:
        by_chain.setdefault(int(table.of_grid[index]), int(index))
        if len(by_chain) == 5:
            break
    return list(by_chain.values())[1:]


def _front(table: _Table) -> list[int]:
    """Candidates that no other beats in time, cost and chance (to 0.1 %) at once, by time; the most telling of them."""
    risk = np.round(1.0 - table.chance, 3)
    usable = np.flatnonzero(table.chance >= LEAST_CHANCE)
    best: set[int] = set()
    for column in (table.time, table.cost):
        order = usable[np.argsort(column[usable], kind="stable")]
        best.update(order[np.unique(risk[order], return_index=True)[1]].tolist())
    rows = np.array(sorted(best), dtype=int)
    points = np.column_stack([table.time[rows], table.cost[rows], risk[rows]])
    no_worse = np.all(points[:, None, :] <= points[None, :, :], axis=2)
    better = np.any(points[:, None, :] < points[None, :, :], axis=2)
    kept = rows[~np.any(no_worse & better, axis=0)]
    kept = kept[np.argsort(table.time[kept], kind="stable")]
    if kept.size > _MOST_ON_FRONT:
        kept = kept[np.linspace(0, kept.size - 1, _MOST_ON_FRONT).round().astype(int)]
    return [int(index) for index in kept]
