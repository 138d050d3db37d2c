"""`gingerly demo` shows the whole job on a virtual machine, `gingerly run` does a job, examples run as they are."""

from __future__ import annotations

import json
import os
import pty
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from support.command import COMMAND, LIMIT_S, gingerly, within, write
from support.jobs import SOUND, spoiled

EXAMPLES = Path(__file__).parents[2] / "examples"


def test_the_demo_ends_released_and_its_planned_fault_is_part_of_the_show() -> None:
    ended = gingerly("demo")
    assert ended.returncode == 0, ended.stderr
    assert "dial 3               3  skipped: NoContact" in ended.stdout
    assert "the machine stands still (confirmed)" in ended.stdout
    assert "the tool would have been pushed" in " ".join(ended.stdout.split())
    assert "this fault was asked for" in ended.stdout


def test_the_demo_tells_what_to_do_next_and_the_cautions() -> None:
    ended = within("demo")
    assert "What to do next" in ended.stdout
    assert "look at the new zero of work offsets 1, 2, 4" in " ".join(ended.stdout.split())
    assert "spindle locked out while the test lead is on" in " ".join(ended.stderr.split())


def test_piped_output_is_plain_and_no_wider_than_80_columns() -> None:
    ended = gingerly("demo")
    assert "\x1b" not in ended.stdout + ended.stderr
    assert max(len(line) for line in ended.stdout.splitlines()) <= 80


def test_the_demo_as_json_is_one_document_and_nothing_else() -> None:
    ended = within("demo", "--json")
    document = json.loads(ended.stdout)
    assert ended.stderr == ""
    assert (document["exit_code"], document["released"], document["complete"]) == (0, True, True)
    assert [part["status"] for part in document["parts"]] == ["done", "done", "done", "skipped", "done", "done"]
    assert document["parts"][3]["fault"]["expected"] is True


def test_each_dial_is_found_within_what_the_virtual_machine_is_off_by() -> None:
    """The mock's imperfections on one wall add up: runout 15, seat 20, lip 10, edge 10, radius 2, a step 2.5 µm."""
    parts = json.loads(within("demo", "--json").stdout)["parts"]
    errors = [abs(error) for part in parts for error in (part["error_um"] or {}).values()]
    assert len(errors) == 11
    assert max(errors) < 62.0


def test_the_tool_change_shifts_the_offsets_that_it_names_and_no_other() -> None:
    change = json.loads(within("demo", "--json").stdout)["parts"][5]
    assert [offset["number"] for offset in change["offsets"]] == [1, 2, 4]
    for offset in change["offsets"]:
        assert offset["after"]["z"] - offset["before"]["z"] == pytest.approx(change["found"]["z"], abs=0.001)
        assert (offset["after"]["x"], offset["after"]["y"]) == (offset["before"]["x"], offset["before"]["y"])


def test_the_same_seed_gives_the_same_bytes_and_another_one_another_world() -> None:
    first, other = (within("demo", "--json", "--seed", seed).stdout for seed in ("5", "6"))
    second = gingerly("demo", "--json", "--seed", "5").stdout
    assert first == second
    assert first != other


def test_the_demo_runs_a_job_of_ones_own(tmp_path: Path) -> None:
    ended = within("demo", "--job", write(tmp_path, SOUND), "--json")
    assert ended.returncode == 0, ended.stderr
    assert json.loads(ended.stdout)["job"]["title"] == "two lids"


def test_a_run_on_a_virtual_machine_shows_the_cautions_and_its_operator_answers(tmp_path: Path) -> None:
    ended = within("run", write(tmp_path, SOUND))
    assert ended.returncode == 0, ended.stderr
    assert "This program is no safeguard for people." in ended.stderr
    assert "its virtual operator answers" in ended.stderr


def test_a_fault_ends_with_1_and_says_whether_the_machine_stands_still(tmp_path: Path) -> None:
    ended = within("run", write(tmp_path, spoiled("offset = 1", "offset = 1\nsimulated = { lead_off_after = 3 }")))
    assert ended.returncode == 1
    assert "ended with a fault (NoContact): the machine stands still (confirmed)." in ended.stderr


def test_a_place_outside_the_machine_is_refused_before_motion_with_3(tmp_path: Path) -> None:
    ended = within("run", write(tmp_path, spoiled("x = 170, y = 40", "x = 1170, y = 40")))
    assert ended.returncode == 3
    assert "refused before anything moved" in ended.stderr
    assert "mm outside on X" in " ".join(ended.stdout.split())


def test_lead_and_plate_not_confirmed_off_end_with_4(tmp_path: Path) -> None:
    ended = within("run", write(tmp_path, spoiled("seed = 11", 'operator = { answers = { release = "no" } }')))
    assert ended.returncode == 4
    assert "nobody has confirmed that test lead and plate are off" in ended.stderr


def test_prompts_without_a_terminal_are_refused_before_motion(tmp_path: Path) -> None:
    ended = within("run", "--prompts", write(tmp_path, SOUND))
    assert ended.returncode == 3
    assert "need a person at a terminal" in " ".join(ended.stderr.split())


@pytest.mark.parametrize("extra", [0, 1, 3])
def test_ctrl_c_stops_the_machine_first_and_more_of_them_change_nothing(extra: int, tmp_path: Path) -> None:
    """The virtual machine waits in the middle of a sense, for ever, until it is interrupted."""
    pause = '{ what = "pause", call = "sense", nth = 2, after_mm = 0.5 }'
    job = write(tmp_path, spoiled("seed = 11", f"faults = [{pause}]"))
    process = subprocess.Popen(
        [*COMMAND, "run", job],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        stdin=subprocess.DEVNULL,
        encoding="utf-8",
    )
    assert process.stderr is not None
    for line in process.stderr:
        if "operator: close at stock, clear" in line:
            break
    for _ in range(1 + extra):
        process.send_signal(signal.SIGINT)
    out, rest = process.communicate(timeout=LIMIT_S)
    assert process.returncode == 130
    assert "interrupted: the machine stands still (confirmed)." in rest
    assert "Traceback" not in out + rest
    assert "failed: Interrupted" in out


# ---- at a terminal ----------------------------------------------------------------------------------------


def at_terminal(*arguments: str, answers: dict[str, str], **environment: str) -> tuple[str, int]:
    """Run the command at a terminal of 80 columns, type an answer after each prompt, and return screen and code."""
    words = [*COMMAND, *arguments]
    child, screen = pty.fork()
    if child == 0:
        os.environ.update({"TERM": "xterm", "COLUMNS": "80", "PYTHONUTF8": "1", **environment})
        os.execv(sys.executable, words)
    text = ""
    while select.select([screen], [], [], LIMIT_S)[0]:
        try:
            data = os.read(screen, 65536)
        except OSError:
            break
        if not data:
            break
        text += data.decode("utf-8", "replace")
        if text.endswith("> "):
            last = text[text.rindex("Question ") :]
            word = next(word for shown, word in answers.items() if shown in last)
            os.write(screen, f"{word}\n".encode())
            text += "\n"
    os.close(screen)
    return text, os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def test_a_person_at_a_terminal_is_asked_step_by_step(tmp_path: Path) -> None:
    words = ("tip", "flank", "stock", "apart", "clear", "moved", "changed", "removed")
    answers = {f"Type  {word}  ": word for word in words}
    screen, code = at_terminal("run", "--prompts", write(tmp_path, SOUND), answers=answers)
    assert code == 0, screen
    assert "The machine is virtual, and nothing real moves." in screen
    assert screen.count("machine 'cellar mill'") >= 12
    assert "Take test lead and touch plate off the machine, both of them." in screen


def test_ctrl_c_at_a_question_ends_the_run_with_nothing_under_way(tmp_path: Path) -> None:
    answers = {"Type  stock  ": "\x03\x03"}
    screen, code = at_terminal("run", "--prompts", write(tmp_path, SOUND), answers=answers)
    assert code == 130
    assert "interrupted: " in screen
    assert "Traceback" not in screen


def test_a_no_at_the_terminal_moves_nothing(tmp_path: Path) -> None:
    screen, code = at_terminal("run", "--prompts", write(tmp_path, SOUND), answers={"Type": "no"})
    assert code == 1
    assert "Declined" in screen


@pytest.mark.thorough
def test_at_a_terminal_there_are_colours_unless_they_are_not_wanted() -> None:
    coloured, _ = at_terminal("demo", answers={})
    plain, code = at_terminal("demo", answers={}, NO_COLOR="1")
    assert "\x1b[32m" in coloured
    assert "\x1b[32m" not in plain
    assert code == 0


# ---- examples and help ------------------------------------------------------------------------------------


@pytest.mark.parametrize("example", sorted(EXAMPLES.glob("*.toml")), ids=lambda path: path.name)
def test_every_example_job_runs_as_it_stands(example: Path) -> None:
    ended = within("demo", "--job", str(example))
    assert ended.returncode == 0, ended.stderr


def test_what_is_found_besides_an_origin_is_shown_and_stands_in_the_document() -> None:
    """The virtual bore of the example is 26 mm wide, made as true as its edges are: 10 µm, and the pin's 2 µm."""
    job = str(EXAMPLES / "holes_and_ribs.toml")
    assert "arbor hole: diameter 26.0" in within("demo", "--job", job).stdout
    measures = json.loads(within("demo", "--job", job, "--json").stdout)["parts"][0]["measures"]
    assert measures["diameter"] == pytest.approx(26.0, abs=0.05)


@pytest.mark.parametrize(
    "example",
    [
        "batch_async.py",
        "batch_blocking.py",
        "jog_by_script.py",
        "job_in_a_script.py",
        "tool_change.py",
        "twelve_in_a_fixture.py",
    ],
)
def test_every_example_script_of_a_batch_runs_as_it_stands(example: str) -> None:
    ended = subprocess.run(
        [sys.executable, "-W", "error", str(EXAMPLES / example)],
        capture_output=True,
        text=True,
        timeout=LIMIT_S,
        check=False,
    )
    assert ended.returncode == 0, ended.stderr
    assert ended.stdout


@pytest.mark.parametrize("arguments", [(), ("demo",), ("check",), ("run",), ("adapters",)])
def test_every_command_has_help(arguments: tuple[str, ...]) -> None:
    ended = within(*arguments, "--help")
    assert ended.returncode == 0
    assert "usage: gingerly" in ended.stdout


def test_the_mock_is_listed_among_the_adapters() -> None:
    adapters = json.loads(within("adapters", "--json").stdout)["adapters"]
    assert "gingerly_mock:MockAdapter" in [adapter["entry_point"] for adapter in adapters]


def test_commands_that_another_package_adds_are_listed_and_called() -> None:
    assert "practice" in within("--help").stdout
    assert within("profile", "check", "practice").returncode == 0


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys; from gingerly.cli.parser import parser; parser(); print([m for m in {!r} if m in sys.modules])"
    )
    heavy = ("rich", "numpy", "transitions", "msgspec", "asyncio", "serial")
    ended = subprocess.run([sys.executable, "-c", code.format(heavy)], capture_output=True, text=True, check=False)
    assert ended.stdout.strip() == "[]"
