"""A fixed list of runs on paper, and what an onlooker can say of each in one line.

`stories` finds the runs: the ideal one of each scenario, every single deviation that fires a row not seen before, and
pairs where a row needs two. Their lines are kept in ``traces.txt``; to write them anew after a change that is meant,
run ``python -m support.traces`` in the tests' folder, and read the difference.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from gingerly.cycle import Cycle, Setup, State, Unhandled
from gingerly.cycle.table import CYCLE, Row, expanded
from gingerly.explore.alphabet import deviations
from gingerly.explore.invariants import Monitor
from gingerly.explore.scenarios import Scenario, scenarios, special_scenarios
from gingerly.messages.commands import Command, Finish
from gingerly.messages.replies import Reply

FILE = Path(__file__).parent / "traces.txt"
STORIES_PER_ROW = 3

Deviations = tuple[tuple[int, str], ...]
"""At which steps of a run which deviations answer; all other answers are ideal."""

SCENARIOS = {scenario.name: scenario for scenario in (*scenarios(), *special_scenarios())}


class Told:
    """One run: its states, its orders, and what it says at its end."""

    def __init__(self, setup: Setup) -> None:
        self.setup = setup
        self.states: list[State] = []
        self.orders: list[Command] = []
        self.end = ""
        self.violation = ""

    @property
    def line(self) -> str:
        """The run in one line: a letter for each order, a digest of all they say, and the end."""
        letters = "".join(type(order).__name__[0] for order in self.orders)
        said = hashlib.sha256(repr(self.orders).encode()).hexdigest()[:8]
        return f"{letters} {said} {self.end}"


def run(name: str, path: Deviations, table: Cycle, *, watched: bool = True) -> Told:
    """Tell one run of a scenario on this table."""
    scenario: Scenario = SCENARIOS[name]
    paper, monitor, told = scenario.paper(), Monitor(scenario.setup), Told(scenario.setup)
    plan = dict(path)
    try:
        session, command = table.start(scenario.setup)
    except AssertionError:
        told.violation = "the run does not begin"
        return told
    monitor.order(command, session)
    for step in range(500):
        told.states.append(session.state)
        told.orders.append(command)
        if isinstance(command, Finish):
            break
        answer = next((d.answer for d in deviations(command) if d.name == plan.get(step)), None)
        reply: Reply = answer(paper, command) if answer is not None else paper.answer(command)
        try:
            following = table.advance(session, reply)
        except Exception as error:
            told.violation = f"broke down: {type(error).__name__}"
            return told
        if isinstance(following, Unhandled):
            told.violation = f"no rule for {type(following.reply).__name__} while {following.state.value}"
            return told
        monitor.reply(command, reply)
        command = following
        monitor.order(command, session)
        if watched and monitor.violation is not None:
            told.violation = str(monitor.violation)
            return told
    monitor.end(session)
    told.violation = str(monitor.violation or "")
    blame = session.blame
    told.end = " ".join(
        [
            session.state.value,
            f"{blame.fault.__name__} while {blame.state.value}" if blame is not None else "well",
            session.standstill.name.lower(),
            ",".join(f"{work.number}:{work.stands.name.lower()}" for work in session.works) or "-",
            "released" if session.released else "attached",
            "proved" if session.proof is not None else "unproved",
        ]
    )
    return told


def counting(rows: tuple[Row, ...], hits: list[int]) -> Cycle:
    """Return the table of `rows` in which every row that fires puts its number on `hits`."""
    from dataclasses import replace

    def noted(number: int, row: Row) -> Row:
        def note(session, reply):  # type: ignore[no-untyped-def]
            hits.append(number)
            row.note(session, reply)

        return replace(row, note=note)

    return Cycle([noted(number, row) for number, row in enumerate(rows)])


def stories() -> dict[int, list[tuple[str, Deviations]]]:
    """Return, for each row of the table by its number, a few runs that fire it: a search, for making the file anew."""
    rows, hits = expanded(), []  # type: ignore[var-annotated]
    table = counting(rows, hits)
    found: dict[int, list[tuple[str, Deviations]]] = defaultdict(list)
    seen: dict[tuple[str, Deviations], Told] = {}

    def tell(name: str, path: Deviations) -> Told:
        hits.clear()
        told = run(name, path, table, watched=False)
        for row in dict.fromkeys(hits):
            # Hand-written rows are told once in every scenario: their conditions depend on it.
            enough = STORIES_PER_ROW if row >= len(CYCLE) else 1 + sum(story[0] != name for story in found[row])
            if len(found[row]) < enough:
                found[row].append((name, path))
        return told

    for name in SCENARIOS:
        seen[name, ()] = tell(name, ())
        for path in _one_more(seen[name, ()], ()):
            seen[name, path] = tell(name, path)
    for state in {row.state for number, row in enumerate(rows) if not found[number]}:
        for name, path in _passing(seen, state):
            step = max(step for step, at in enumerate(seen[name, path].states) if at is state)
            for deviation in deviations(seen[name, path].orders[step]):
                tell(name, (*path, (step, deviation.name)))
    found[-1] = [*_circuits(seen), *_unanswered(seen), *_pairs(seen)]
    return found


def _unanswered(seen: dict[tuple[str, Deviations], Told]) -> Iterator[tuple[str, Deviations]]:
    """Each question of each ideal run left without an answer: what follows depends on the circuit at that moment."""
    for (name, path), told in list(seen.items()):
        if not path:
            for step, order in enumerate(told.orders):
                if "nobody answered" in {deviation.name for deviation in deviations(order)}:
                    yield name, ((step, "nobody answered"),)


def _circuits(seen: dict[tuple[str, Deviations], Told]) -> Iterator[tuple[str, Deviations]]:
    """The circuit seen closed once, at each step of each ideal run: conditions that ask for it must not be weaker."""
    for (name, path), told in list(seen.items()):
        if not path:
            for step, order in enumerate(told.orders):
                if "circuit closed in one look" in {deviation.name for deviation in deviations(order)}:
                    yield name, ((step, "circuit closed in one look"),)


def _pairs(seen: dict[tuple[str, Deviations], Told]) -> Iterator[tuple[str, Deviations]]:
    """Two deviations close together in one touch, and looks that turn out well only when none is left."""
    states = seen["still attached", ()].states
    first = states.index(State.APPROACHING)
    again = states.index(State.RETOUCHING, states.index(State.RETOUCHING) + 1)
    for sensed, whats in ((first, FAST), (again, SLOW)):
        for what in whats:
            for later, then in AFTERWARDS:
                yield "still attached", ((sensed, what), (sensed + later, then))
    yield "surface", ((1, "said yes and did nothing"), (22, "circuit closed in one look"))
    asked = seen["surface", ()].states
    opened = asked.index(State.AWAITING_OPENED)
    yield "surface", ((opened, "said yes and did nothing"), (opened + 21, "circuit open in one look"))
    yield (
        "still attached",
        ((first + 3, "link lost"), (first + 4, "moving for good"), (first + 24, "at rest in one look")),
    )
    yield "still attached", ((first + 1, "circuit open in one look"), (first + 2, "circuit closed in one look"))
    yield "still attached", ((first + 3, "plate gives way"), (first + 11, "circuit closed in one look"))
    yield "no extras", ((first + 6, "contact that does not agree"), (first + 8, "circuit closed in one look"))
    yield "no extras", ((first + 6, "contact that does not agree"),)
    yield "no extras", ((first + 1, "lead off"),)
    yield (
        "still attached",
        ((first, "no contact"), (first + 1, "moving for good"), (first + 21, "at rest in one look")),
    )
    yield "still attached", tuple((first + ahead, "circuit closed in one look") for ahead in (2, 3))
    yield "four re-touches", ((first + 3, "plate gives way"),)
    # Trouble while the circuit is closed, which is open when the machine is looked at again.
    steps = [("still attached", first + ahead) for ahead in range(4)]
    for name, step in [*steps, ("surface", asked.index(State.AWAITING_CLOSED) + 1)]:
        for deviation in deviations(seen[name, ()].orders[step]):
            yield name, ((step, deviation.name), (step + 1, "circuit open in one look"))


FAST = ("no contact", "contact far too early", "contact too far on", "contact that does not agree")
SLOW = ("no contact", "contact that does not agree", "plate gives way")
AFTERWARDS = (
    (1, "still moving"),
    (1, "circuit open in one look"),
    (2, "circuit closed in one look"),
    (3, "no contact"),
    (5, "circuit closed in one look"),
    (6, "no contact"),
)


def _passing(seen: dict[tuple[str, Deviations], Told], state: State) -> list[tuple[str, Deviations]]:
    """A few runs with one deviation that pass `state` after it: on machines of each kind, beginning of each kind."""
    chosen: dict[tuple[str, str, str], tuple[str, Deviations]] = {}
    for (name, path), told in seen.items():
        if path and state in told.states[path[0][0] + 1 :]:
            chosen.setdefault((name, path[0][1], told.end.split(" while ")[0]), (name, path))
    return list(chosen.values())[:40]


def _one_more(told: Told, path: Deviations) -> Iterator[Deviations]:
    first = path[-1][0] + 1 if path else 0
    for step in range(first, len(told.orders)):
        for deviation in deviations(told.orders[step]):
            yield (*path, (step, deviation.name))


def key(name: str, path: Deviations) -> str:
    """Return how a run is called in the file."""
    return f"{name} | {'; '.join(f'{step}: {what}' for step, what in path) or 'ideal'}"


def kept() -> dict[tuple[str, Deviations], str]:
    """Return the runs that are kept in the file, with the line of each."""
    found = {}
    for line in FILE.read_text(encoding="utf-8").splitlines():
        name, said, told = line.split(" | ")
        steps = [] if said == "ideal" else [step.split(": ", 1) for step in said.split("; ")]
        found[name, tuple((int(step), what) for step, what in steps)] = told
    return found


def main() -> None:
    """Search the runs anew and write their lines into the file."""
    table = Cycle(expanded())
    wanted = dict.fromkeys(story for several in stories().values() for story in several)
    written = sorted(f"{key(name, path)} | {run(name, path, table).line}\n" for name, path in wanted)
    FILE.write_text("".join(written), encoding="utf-8")


if __name__ == "__main__":
    main()
