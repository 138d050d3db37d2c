"""Mutation testing on demand: change the code in one place, and see whether a test notices.

`python tests/mutation/run.py` works in a clean clone of what is committed, in a folder of its own, since the mutants
are made in the files themselves: it installs gingerly and cosmic-ray there, tries every mutant of the groups below,
and prints the share that was killed and each survivor, with what `survivors.toml` says about it.

Left out are mutants of annotations, which are never evaluated, the shift and bit operators in place of arithmetic,
which any float refuses with a `TypeError`, and those of the star in a signature, which is no multiplication: all say
nothing of the tests.
"""

from __future__ import annotations

import argparse
import ast
import os
import re
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent


Stages = tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Group:
    """Files that are mutated, what may be imported once for all their mutants, and the tests, in stages.

    All mutants meet the first stage; the others only those that survive it.
    """

    files: tuple[str, ...]
    beneath: tuple[str, ...]
    stages: Stages
    cpu_s: int = 40


def _in(folder: str, *names: str, begins: str = "", ends: str = ".py") -> tuple[str, ...]:
    return tuple(f"{folder}/{begins}{name}{ends}" for name in names)


def _cycle(files: tuple[str, ...], first: tuple[str, ...]) -> Group:
    """A part of the cycle: the tests that are about it, all the cycle's, kept runs, and what uses the cycle."""
    beneath = ("gingerly.messages.faults", "gingerly.planner", "gingerly.budgets", "gingerly.uncertainty")
    rest = (f"{UNIT}/cycle", f"--ignore={EXPLORED}", f"--ignore={UNIT}/cycle/test_table_mutants.py")
    last = (*SMALL_TABLES, f"{UNIT}/driver", FROZEN)
    return Group(_in("lib/gingerly/cycle", *files), beneath, (first, rest, (KEPT_RUNS,), last))


def _driver(files: tuple[str, ...], first: tuple[str, ...]) -> Group:
    """A part of the driver: the tests that are about it, all the driver's, and what is built on it."""
    beneath = ("gingerly.cycle", "gingerly.routines", "gingerly.explore.features", "gingerly.fits")
    last = (f"{UNIT}/test_batch.py", f"{UNIT}/cycle/test_stop_test.py", "tests/end_to_end/test_routines.py")
    stages = (first, (f"{UNIT}/driver", f"{UNIT}/mock/test_adapter.py", FROZEN), (*SMALL_TABLES, *last))
    return Group(_in("lib/gingerly/driver", *files), beneath, stages)


UNIT = "tests/unit"
FROZEN = f"{UNIT}/test_frozen_data.py"
KEPT_RUNS = f"{UNIT}/cycle/test_table_mutants.py::test_the_kept_runs_are_what_the_table_does"
EXPLORED = f"{UNIT}/cycle/test_explorer.py"
SMALL_TABLES = (f"{UNIT}/test_jog.py", f"{UNIT}/routines/test_look_at_zero.py")


def _units(folder: str, *names: str) -> tuple[str, ...]:
    return _in(f"{UNIT}/{folder}", *names, begins="test_")


GROUPS = {
    "plate": Group(
        ("lib/gingerly/plate.py",),
        (),
        (
            (f"{UNIT}/test_plate.py",),
            ("tests/properties/test_plate.py", f"{UNIT}/routines/test_preflight.py", FROZEN),
        ),
    ),
    "judgement": _cycle(("judgement",), _units("cycle", "judgement")),
    "triage": _cycle(("triage",), _units("cycle", "triage", "judgement")),
    "words": _cycle(
        ("explain", "ending", "diagram"),
        (
            *_units("cycle", "explain", "counts", "measures", "offsets"),
            *_units("cycle", "table", "stop_test", "circuit_check"),
        ),
    ),
    "table": _cycle(
        ("conditions", "machine", "notes", "orders", "session", "states", "table"),
        _units("cycle", "orders", "counts", "touching", "offsets", "circuit_check"),
    ),
    "small tables": _cycle(
        ("jog", "self_check", "stop_test", "view"), _units("cycle", "small_tables", "stop_test")
    ),
    "commit": Group(
        _in("lib/gingerly/routines", "tool_change", "course"),
        ("gingerly.cycle", "gingerly.planner", "gingerly.budgets"),
        (
            (*_units("cycle", "offsets"), *_units("routines", "course", "tool_change", "features", "walls", "top")),
            (FROZEN, f"{UNIT}/routines", "tests/properties/test_routines.py", "tests/end_to_end/test_routines.py"),
        ),
    ),
    "run": _driver(
        ("run", "carry", "clock", "events", "recorder", "result", "registry", "adapter", "scene"),
        _units("driver", "carry", "clock", "data", "floor", "recorder", "registry", "run", "interruption"),
    ),
    "machine": _driver(("machine",), (f"{UNIT}/driver", SMALL_TABLES[1], f"{UNIT}/test_unattended.py")),
    "station": _driver(
        ("station", "attachment", "first_day", "floor"),
        (
            *_units("driver", "station", "attachment", "first_day", "without", "floor"),
            "tests/end_to_end/test_stop_test.py",
        ),
    ),
    "jog": _driver(
        ("jog", "homing"), (*SMALL_TABLES, f"{UNIT}/driver/test_homing.py", f"{UNIT}/test_cli_jogging.py")
    ),
    "blocking": _driver(("blocking", "ctrl_c"), _units("driver", "blocking", "interruption")),
}
ALL_STAGES = "met all stages"
MOST_S = 1800.0
"""Seconds after which cosmic-ray asks no longer; the bounds that the tests have of their own strike long before."""
BITS = re.compile(r"core/ReplaceBinaryOperator_.*_(BitOr|BitAnd|BitXor|LShift|RShift)$")
TIMES = re.compile(r"core/ReplaceBinaryOperator_Mul_")


# ---- preparing ----------------------------------------------------------------------------------------------


def clone(into: Path) -> None:
    """Clone what is committed and install it there with cosmic-ray."""
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(into)], check=True)
    subprocess.run([sys.executable, "-m", "venv", ".venv"], cwd=into, check=True)
    subprocess.run([".venv/bin/pip", "install", "--quiet", "--editable", ".[mutation]"], cwd=into, check=True)


Places = set[tuple[int, int]]
"""Places in a file, as (line, column)."""


def annotations(tree: ast.AST) -> Places:
    """Return all places that belong to annotations."""
    roots: list[ast.AST] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.AnnAssign | ast.arg) and node.annotation is not None:
            roots.append(node.annotation)
        elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.returns is not None:
            roots.append(node.returns)
    return _within(roots)


def signatures(tree: ast.AST) -> Places:
    """Return all places between the name of a function and its body, but for what its arguments are by default."""
    heads: Places = set()
    defaults: list[ast.AST] = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            heads |= {(line, column) for line in range(node.lineno, node.body[0].lineno) for column in range(200)}
            defaults += [one for one in (*node.args.defaults, *node.args.kw_defaults) if one is not None]
    return heads - _within(defaults)


def _within(roots: Sequence[ast.AST]) -> Places:
    spans = set()
    for root in roots:
        lines = range(root.lineno, (root.end_lineno or root.lineno) + 1)
        spans |= {
            (line, column)
            for line in lines
            for column in range(
                root.col_offset if line == root.lineno else 0,
                root.end_col_offset if line == root.end_lineno else 200,  # type: ignore[arg-type]
            )
        }
    return spans


def prepare(session: Path, config: Path) -> int:
    """Make the list of mutants, drop those that say nothing, and return how many are left."""
    from cosmic_ray.work_db import use_db
    from cosmic_ray.work_item import WorkerOutcome, WorkResult

    subprocess.run([".venv/bin/cosmic-ray", "init", str(config), str(session)], check=True)
    kept, silent, stars = 0, {}, {}
    with use_db(session) as work:
        for item in list(work.pending_work_items):
            (mutation,) = item.mutations
            file = Path(mutation.module_path)
            if file not in silent:
                tree = ast.parse(file.read_text(encoding="utf-8"))
                silent[file], stars[file] = annotations(tree), signatures(tree)
            star = TIMES.match(mutation.operator_name) and mutation.start_pos in stars[file]
            if star or BITS.match(mutation.operator_name) or mutation.start_pos in silent[file]:
                work.set_result(item.job_id, WorkResult(worker_outcome=WorkerOutcome.SKIPPED))
            else:
                kept += 1
    return kept


def configure(name: str, group: Group, at: Path) -> Path:
    """Write cosmic-ray's configuration for one group."""
    files = ", ".join(f'"{file}"' for file in group.files)
    text = (
        f"[cosmic-ray]\nmodule-path = [{files}]\ntimeout = {MOST_S}\nexcluded-modules = []\n"
        'test-command = "true"\n[cosmic-ray.distributor]\nname = "local"\n'
    )
    config = at / f"{name}.toml"
    config.write_text(text, encoding="utf-8")
    return config


# ---- trying -------------------------------------------------------------------------------------------------


def warm(address: Path, group: Group, stages: Stages) -> subprocess.Popen[bytes]:
    """Start the process that runs the tests; it has seen them pass as the code stands once it opens its door."""
    address.unlink(missing_ok=True)
    given = f"{str(address)!r}, {group.files!r}, {group.beneath!r}, {stages!r}, {group.cpu_s}"
    code = f"import sys; sys.path.insert(0, {str(HERE)!r}); import warm; warm.serve({given})"
    process = subprocess.Popen([sys.executable, "-c", code])
    while not address.exists() and process.poll() is None:
        with suppress(subprocess.TimeoutExpired):  # it ends only where the tests do not pass
            process.wait(0.05)
    if process.poll() is not None:
        raise SystemExit(f"{address.stem}: the tests do not pass as the code stands, so they can judge no mutant")
    return process


def attempt(name: str, group: Group, at: Path, asked: argparse.Namespace) -> None:
    """Try all mutants of one group on its first stage of tests, then those that survive it on all the others.

    The order is random, so what was tried within a given time is a sample. What has been tried is not tried again,
    but for earlier survivors with ``--again``.
    """
    from cosmic_ray.work_db import use_db
    from cosmic_ray.work_item import TestOutcome

    session = at / f"{name}.sqlite"
    if not session.exists():
        print(f"{name}: {prepare(session, configure(name, group, at))} mutants", flush=True)
    began = time.monotonic()
    with use_db(session) as work:
        until = began + asked.seconds
        execute(work, work.pending_work_items, at / f"{name}.sock", group, group.stages[:1], until)
        survived = {
            job: asked.again or result.output != ALL_STAGES
            for job, result in work.results
            if result.test_outcome is TestOutcome.SURVIVED
        }
        items = [item for item in work.work_items if survived.get(item.job_id)]
        execute(work, items, at / f"{name}.sock", group, group.stages, float("inf"))
    print(f"{name}: tried in {time.monotonic() - began:.0f} s", flush=True)


def execute(work: Any, items: Sequence[Any], address: Path, group: Group, stages: Stages, until: float) -> None:
    """Let cosmic-ray try these mutants with the tests of these stages, and keep what came of each."""
    import attrs
    from cosmic_ray.mutating import mutate_and_test

    command = f"{sys.executable} -S -E {HERE / 'ask.py'} '{address}'"
    process = warm(address, group, stages) if items else None
    try:
        for item in items:
            if time.monotonic() > until:
                break
            result = mutate_and_test(item.mutations, command, MOST_S)
            judged = ALL_STAGES if stages == group.stages else ""
            work.set_result(item.job_id, attrs.evolve(result, output=judged))
    finally:
        if process is not None:
            process.kill()
            process.wait()


# ---- telling ------------------------------------------------------------------------------------------------


@dataclass(frozen=True, order=True)
class Survivor:
    """A mutant that no test noticed: what stood in a file, what instead, and by which of cosmic-ray's operators."""

    file: str
    line: int
    old: str
    new: str
    operator: str

    def why(self, listed: dict[str, Any]) -> str:
        """Return the reason that is listed for it, or for all mutants of its kind; nothing where there is none."""
        for one in listed["survivor"]:
            if (one["file"], one["old"]) == (self.file, self.old) and self.new in one["new"]:
                return str(one["why"])
        return str(listed["kind"].get(self.operator, ""))


def survivors(session: Path) -> tuple[int, int, list[Survivor]]:
    """Return how many mutants wait, how many were tried, and which survived."""
    from cosmic_ray.work_db import use_db
    from cosmic_ray.work_item import TestOutcome, WorkerOutcome

    tried, left = 0, []
    with use_db(session) as work:
        items = {item.job_id: item for item in work.work_items}
        for job, result in work.results:
            if result.worker_outcome is not WorkerOutcome.NORMAL:
                continue
            tried += 1
            if result.test_outcome is TestOutcome.SURVIVED:
                (mutation,) = items[job].mutations
                old, new = changed(result.diff)
                file, operator = Path(mutation.module_path).as_posix(), mutation.operator_name.removeprefix("core/")
                left.append(Survivor(file, mutation.start_pos[0], old, new, operator))
        waiting = len(work.pending_work_items)
    return waiting, tried, sorted(left)


def changed(diff: str) -> tuple[str, str]:
    """Return the lines that a diff takes out, and those that it puts in, each as one line."""
    lines = diff.splitlines()
    taken = [line[1:].strip() for line in lines if line.startswith("-") and not line.startswith("---")]
    put = [line[1:].strip() for line in lines if line.startswith("+") and not line.startswith("+++")]
    return " ".join(taken), " ".join(put)


def tell(names: list[str], at: Path) -> bool:
    """Print the shares and the survivors; return whether 90 in 100 were killed and each survivor has its reason."""
    with (HERE / "survivors.toml").open("rb") as file:
        listed = tomllib.load(file)
    enough, unexplained = True, 0
    for name in names:
        waiting, tried, left = survivors(at / f"{name}.sqlite")
        share = 100.0 * (tried - len(left)) / max(tried, 1)
        enough = enough and share >= 90.0
        told = f"{tried} mutants" if not waiting else f"{tried} mutants tried of {waiting + tried}"
        print(f"\n{name}: {told}, {len(left)} survived: {share:.1f} % killed")
        for one in left:
            why = one.why(listed)
            unexplained += not why
            print(f"  {one.file}:{one.line}\n    - {one.old}\n    + {one.new}\n    {why or 'NO REASON LISTED'}")
    print(f"\n{unexplained} survivors without a reason in tests/mutation/survivors.toml")
    return enough and not unexplained


def main() -> int:
    """Clone, try, tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "groups", nargs="*", metavar="GROUP", help=f"some of {', '.join(GROUPS)}; all of them by default"
    )
    parser.add_argument(
        "--into", type=Path, help="the folder to clone into, kept afterwards; goes on where it stopped"
    )
    parser.add_argument(
        "--again", action="store_true", help="try earlier survivors again, after tests were written"
    )
    parser.add_argument(
        "--seconds", type=float, default=float("inf"), help="end the first stage of a group after so long: a sample"
    )
    parser.add_argument("--here", action="store_true", help=argparse.SUPPRESS)
    parser.add_argument("--tell", action="store_true", help="only print what was found so far")
    asked = parser.parse_args()
    names = asked.groups or list(GROUPS)
    if not asked.here:
        into = (asked.into or Path(tempfile.mkdtemp(prefix="mutants-"))).resolve()
        if not (into / ".git").exists():
            clone(into)
        passed_on = [*names, "--here", *(["--again"] * asked.again), *(["--tell"] * asked.tell)]
        return subprocess.run(
            [".venv/bin/python", "tests/mutation/run.py", *passed_on], cwd=into, check=False
        ).returncode
    at = ROOT / ".mutants"
    at.mkdir(exist_ok=True)
    os.environ["PYTHONHASHSEED"] = "0"
    for name in names if not asked.tell else ():
        attempt(name, GROUPS[name], at, asked)
    return 0 if tell(names, at) else 1


if __name__ == "__main__":
    sys.exit(main())
