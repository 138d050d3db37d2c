"""Commands where something is missing or somebody else holds it: said in words, with the exit code that fits."""

from __future__ import annotations

import json
import signal
import sys
import threading
from pathlib import Path

import pytest

from gingerly import Position
from gingerly.cli.interrupt import Interrupts
from gingerly.cli.place import store, with_place
from gingerly.journal import Kind, open_journal
from support.command import Ended, within, write
from support.jobs import SOUND, spoiled
from support.packages import also_installed

PAD = SOUND[: SOUND.index('[[parts]]\nname = "lid 1"')]
CORNER = SOUND[: SOUND.index('[[parts]]\nname = "lid 2"')]
REAL = SOUND.replace('adapter = "mock"', 'adapter = "serial"').replace(
    "seed = 11\ntool_length_range = 0.5",
    'port = "socket://127.0.0.1:9"\nprofile = "practice"\nresolution = 0.0025\nacceleration = 300\n'
    "envelope = { low = [0, 0, -80], high = [300, 200, 0] }\ntop_feed = 1500\nrapid_feed = 2000",
)
"""The sound job for a real machine, behind a port at which nobody answers."""


def journalled(folder: Path, command: str, text: str, *options: str) -> Ended:
    return within(command, write(folder, text), "--journal", str(folder / "journal.db"), *options)


def said(ended: Ended) -> str:
    return " ".join((ended.stdout + ended.stderr).split())


# ---- check ----------------------------------------------------------------------------------------------------


def test_a_real_machine_is_planned_for_without_being_asked_anything(tmp_path: Path) -> None:
    """Nobody answers at its port, and the plan does without."""
    ended = within("check", write(tmp_path, REAL))
    assert ended.returncode == 0, ended.stderr
    assert "it was not asked anything; --connect asks it" in said(ended)
    assert "what it holds is not known while the machine is not connected" in said(ended)


@pytest.mark.parametrize(
    ("plate", "window"),
    [("", "where the tool is brought to, within "), ('plate = "none"\n', "where the tool is brought to ")],
)
def test_a_part_that_lies_here_is_begun_where_the_tool_is_brought_to(
    tmp_path: Path, plate: str, window: str
) -> None:
    """On the plate's flat there is a window to hit; bare stock has none, and a person is told what to say to them."""
    stock = "stock = { size_x = 80, size_y = 60, thickness = 18, jaw_height = 5, conductive = true }\n"
    here = f'place = "here"\nheight = 6\nsay = "mind the clamp"\n{plate}{stock if plate else ""}'
    text = spoiled("place = { x = 170, y = 40, z = -45 }\n", here)
    ended = within("check", write(tmp_path, text))
    assert f"start: {window}" in said(ended) + " "
    assert "say: mind the clamp" in said(ended)


def test_a_flute_that_must_be_turned_is_asked_for_before_its_touch(tmp_path: Path) -> None:
    text = CORNER.replace("reads = { z = 0.5 }", 'tool = "cutter"\nflute_faced = true')
    assert "the operator: turn flute" in said(within("check", write(tmp_path, text)))


def test_a_tool_that_is_too_thick_for_the_plate_is_refused_with_advice_on_tool_and_plate(tmp_path: Path) -> None:
    """Where it stands has nothing to do with it."""
    ended = within("check", write(tmp_path, CORNER.replace('diameter = "1/8 in"', "diameter = 60")))
    assert (ended.returncode, "check first: Use a thinner tool or a larger flat" in said(ended)) == (3, True)


# ---- verify and continuity ------------------------------------------------------------------------------------


def test_verify_needs_a_controller_that_tells_its_offsets(tmp_path: Path) -> None:
    ended = journalled(tmp_path, "verify", spoiled("seed = 11", "seed = 11\noffsets_readable = false"))
    assert ended.returncode == 3
    assert "this machine cannot tell its work offsets" in said(ended)


def test_verify_of_nothing_is_bad_input(tmp_path: Path) -> None:
    assert "no part sets a work offset" in said(journalled(tmp_path, "verify", PAD))
    ended = journalled(tmp_path, "verify", SOUND, "--part", "pad")
    assert (ended.returncode, "no part called 'pad' sets a work offset" in said(ended)) == (2, True)


@pytest.mark.parametrize("command", ["verify", "continuity"])
def test_prompts_need_a_person_at_a_terminal(tmp_path: Path, command: str) -> None:
    ended = within(command, write(tmp_path, SOUND), "--prompts")
    assert ended.returncode == 3
    assert "need" in said(ended)
    assert "a person at a terminal" in said(ended)


@pytest.mark.parametrize("command", ["verify", "run"])
def test_without_a_journal_nothing_moves(tmp_path: Path, command: str) -> None:
    (tmp_path / "journal.db").mkdir()
    ended = journalled(tmp_path, command, SOUND)
    assert ended.returncode == 3
    assert "refused before anything moved." in ended.stderr
    assert "NotRecorded" in ended.stderr


def test_verify_tells_what_a_controller_holds_apart_from_what_the_journal_says(tmp_path: Path) -> None:
    """A controller that lost an offset is no plate that moved: both numbers are told, before anything moves too."""
    memory = tmp_path / "mill.json"
    text = spoiled("seed = 11", f"seed = 11\nmemory = {memory.as_posix()!r}")
    text = text[: text.index('[[parts]]\nname = "lid 2"')]
    journalled(tmp_path, "run", text)
    held = json.loads(memory.read_text())
    x, held["offsets"]["1"][0] = held["offsets"]["1"][0], 0.0
    memory.write_text(json.dumps(held))
    ended = journalled(tmp_path, "verify", text)
    told = said(ended)
    assert ended.returncode == 1
    assert "note: work offset 1 holds X0.000" in told
    assert f"X is 0.0000 mm in work offset 1 (the journal says that {x:.4f} mm was set)" in told
    assert "Has somebody changed the work offset" in told


@pytest.mark.thorough
def test_what_was_set_with_the_tool_before_is_verified_with_the_one_that_its_offset_fits_now(
    tmp_path: Path,
) -> None:
    """After the tool change both offsets fit the cutter, and so both are touched with it, at the new height."""
    memory = f"memory = {(tmp_path / 'mill.json').as_posix()!r}"
    text = spoiled("seed = 11", f"seed = 11\nideal = true\n{memory}").replace('tool = "cutter"\n', 'tool = "peg"\n')
    text = text.replace("tool_length_range = 0.5", "tool_length_range = 0")
    text = text.replace("[tools.cutter]\ndiameter = 4\nfree_length = 15\nflutes = 2\nhelix_deg = 30", PEG)
    assert journalled(tmp_path, "run", text).returncode == 0
    ended = journalled(tmp_path, "verify", text, "--json", "--tolerance", "2 mm")
    document = json.loads(ended.stdout)
    assert ended.returncode == 0, ended.stderr
    assert [part["tool"] for part in document["parts"]] == ["peg", "peg"]


PEG = "[tools.peg]\ndiameter = 4\nfree_length = 20"


def test_a_circuit_that_was_proved_is_said_to_be_where(tmp_path: Path) -> None:
    ended = within("continuity", "--part", "lid 1", write(tmp_path, SOUND))
    assert ended.returncode == 0
    assert "the circuit was seen open, closed (tip, flank), and open again." in said(ended)


def test_a_circuit_that_was_proved_and_not_taken_off_ends_with_4(tmp_path: Path) -> None:
    text = spoiled("seed = 11", 'operator = { answers = { release = "no" } }')
    ended = within("continuity", "--part", "lid 1", write(tmp_path, text))
    assert ended.returncode == 4
    assert "nobody has confirmed that test lead and plate are off." in ended.stderr


# ---- run, demo, rehearse --------------------------------------------------------------------------------------


def test_a_look_at_the_new_zeros_needs_somebody_who_looks(tmp_path: Path) -> None:
    ended = journalled(tmp_path, "run", SOUND, "--unattended", "--look-at-zero", "20 mm")
    assert (ended.returncode, "--look-at-zero needs somebody who looks" in ended.stderr) == (3, True)


def test_overwrite_accept_and_finished_belong_to_resume(tmp_path: Path) -> None:
    ended = journalled(tmp_path, "run", SOUND, "--overwrite", "1")
    assert (ended.returncode, "without it --overwrite, --accept" in said(ended)) == (2, True)


def test_a_part_that_no_job_has_can_be_neither_accepted_nor_finished(tmp_path: Path) -> None:
    ended = journalled(tmp_path, "run", SOUND, "--resume", "--finished", "lit 1")
    assert ended.returncode == 2
    assert "no part is called 'lit 1'; did you mean 'lid 1'?" in said(ended)


@pytest.mark.thorough
def test_a_run_after_one_that_was_cut_off_says_that_it_begins_anew(tmp_path: Path) -> None:
    """A batch that failed in its second part came to its end; one without an end was cut off."""
    job = write(tmp_path, CORNER)
    path = str(tmp_path / "journal.db")
    assert within("run", job, "--journal", path).returncode == 0
    assert "was cut off" not in within("run", job, "--journal", path).stderr
    cut_off(path)
    assert "was cut off; this one begins anew" in said(within("run", job, "--journal", path))


def cut_off(path: str) -> None:
    """Begin a batch of the same job in the journal, as a process that died left it."""
    with open_journal(path) as journal:
        begun = journal.entries(kind=Kind.BATCH_BEGUN)[-1]
        journal.add(begun)


def test_a_part_that_lies_here_is_put_under_a_virtual_machines_tool(tmp_path: Path) -> None:
    text = CORNER.replace("place = { x = 40, y = 40, z = -45 }", 'place = "here"\nheight = 6').replace(
        "seed = 11", 'seed = 11\nposition = [150, 100, -20]\nguard = "polled"'
    )
    ended = journalled(tmp_path, "run", text, "--json")
    assert ended.returncode == 0, ended.stdout
    assert [part["status"] for part in json.loads(ended.stdout)["parts"]] == ["done", "done"]


def test_a_fault_that_is_expected_and_does_not_come_is_told_without_any_fault(tmp_path: Path) -> None:
    text = CORNER.replace("offset = 1", 'offset = 1\nsimulated = { expect = "NoContact" }')
    ended = journalled(tmp_path, "run", text)
    assert ended.returncode == 1
    assert "not everything went as the job expects; see the table." in said(ended)


def test_a_demo_never_moves_a_real_machine(tmp_path: Path) -> None:
    ended = within("demo", "--job", write(tmp_path, REAL))
    assert ended.returncode == 2
    assert "'serial' moves a real machine; a demo never does" in said(ended)


@pytest.mark.parametrize("count", ["0", "-1", "many", "1.5"])
def test_a_count_is_a_whole_number_of_at_least_one(tmp_path: Path, count: str) -> None:
    ended = within("rehearse", write(tmp_path, CORNER), "--runs", count)
    assert ended.returncode == 2
    assert "must be a whole number of 1 or more" in said(ended)


def test_one_run_of_a_rehearsal_is_told_as_a_document(tmp_path: Path) -> None:
    ended = within("rehearse", write(tmp_path, CORNER), "--run", "3", "--json")
    assert ended.returncode == 0
    document = json.loads(ended.stdout)
    assert (document["run"], document["done"]) == (3, True)
    assert [(axis["part"], axis["axis"]) for axis in document["axes"]] == [
        ("pad", "Z"),
        ("lid 1", "X"),
        ("lid 1", "Y"),
        ("lid 1", "Z"),
    ]


def test_a_scheduler_needs_the_package_that_speaks_to_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)  # as where it is not installed
    ended = within("rehearse", write(tmp_path, CORNER), "--runs", "2", "--scheduler", "tcp://127.0.0.1:9")
    assert ended.returncode == 2
    assert "--scheduler: " in said(ended)
    assert "Traceback" not in ended.stderr


def test_a_rate_that_cannot_be_is_told_once(tmp_path: Path) -> None:
    for rate, told in (("leed off=0.1", "no fault is called"), ("lead off", "lead off: must be such as")):
        ended = within("rehearse", write(tmp_path, CORNER), "--fault", rate)
        assert (ended.returncode, ended.stderr.count("--fault")) == (2, 1)
        assert ended.stderr.startswith(f"--fault: {told}")


# ---- history and adapters -------------------------------------------------------------------------------------


@pytest.mark.thorough
def test_history_of_one_job_is_asked_for_by_its_file(tmp_path: Path) -> None:
    """What was never taken off is named below; where nothing fits, that is said and no table shown."""
    job = write(tmp_path, CORNER.replace("seed = 11", 'seed = 11\noperator = { answers = { release = "no" } }'))
    path = str(tmp_path / "journal.db")
    within("run", job, "--journal", path)
    found = within("history", "--journal", path, "--job", job)
    assert "NOT RELEASED, lead and plate were never confirmed off: lid 1 on cellar mill" in said(found)
    none = within("history", "--journal", path, "--job", "another.toml")
    assert (none.returncode, none.stdout, none.stderr) == (0, "", "nothing of this kind was set\n")


def test_the_adapters_are_listed_with_what_they_are_and_where_from() -> None:
    lines = within("adapters").stdout.splitlines()
    told = {line.split()[0]: line for line in lines[::2]}
    assert {"mock", "serial"} <= set(told)
    names = {entry["name"] for entry in json.loads(within("adapters", "--json").stdout)["adapters"]}
    assert set(told) == names
    assert any("gingerly_mock:MockAdapter, from gingerly" in line for line in lines[1::2])


def test_two_adapters_of_one_name_are_told_and_neither_wins(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    also_installed(tmp_path, "mock = other:Machine")
    monkeypatch.syspath_prepend(tmp_path)
    ended = within("adapters")
    assert ended.returncode == 1
    assert "two adapters are called 'mock'" in ended.stderr


def test_an_adapter_that_cannot_be_loaded_is_listed_as_that(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    also_installed(tmp_path, "broken = no_such_module:Machine")
    monkeypatch.syspath_prepend(tmp_path)
    ended = within("adapters")
    assert ended.returncode == 0
    assert "cannot be loaded: ModuleNotFoundError" in ended.stdout


# ---- Ctrl-C, and a place put into a job -----------------------------------------------------------------------


def test_while_nothing_is_guarded_an_interruption_ends_the_program_as_usual() -> None:
    with Interrupts() as interrupts, pytest.raises(KeyboardInterrupt):
        signal.raise_signal(signal.SIGINT)
    assert interrupts.seen


def test_in_another_thread_signals_are_left_as_they_are() -> None:
    """Python takes handlers from the main thread alone."""
    before, during = signal.getsignal(signal.SIGINT), []

    def work() -> None:
        with Interrupts():
            during.append(signal.getsignal(signal.SIGINT))

    thread = threading.Thread(target=work)
    thread.start()
    thread.join()
    assert during == [before]


def test_a_place_goes_into_the_line_of_its_part_or_nowhere(tmp_path: Path) -> None:
    place = Position(1.0, 2.0, -3.0)
    path = Path(write(tmp_path, SOUND))
    assert not store(path, "no such part", place)
    assert path.read_text(encoding="utf-8") == SOUND
    assert store(path, "lid 2", place)
    assert path.read_text(encoding="utf-8") == spoiled(
        "place = { x = 170, y = 40, z = -45 }", "place = { x = 1.000, y = 2.000, z = -3.000 }"
    )


def test_parts_that_stand_in_one_line_are_left_alone() -> None:
    inline = 'parts = [{ name = "one", place = "here" }]\n'
    assert with_place(inline, "one", Position(1.0, 2.0, 3.0)) is None


def test_what_a_source_contributes_is_its_sensitivity_times_its_uncertainty(tmp_path: Path) -> None:
    """Also of a size with an unknown angle, a runout: JCGM 100, 5.1.3, u_i(y) = |c_i| u(x_i)."""
    document = json.loads(journalled(tmp_path, "run", SOUND, "--json").stdout)
    sources = [one for part in document["parts"] for said in part["uncertainty"].values() for one in said["budget"]]
    assert any(one["source"] == "runout" for one in sources)
    for one in sources:
        expected = abs(one["sensitivity"]) * one["standard_uncertainty"]
        assert one["contribution"] == pytest.approx(expected, rel=1e-3, abs=1e-6), one


def test_a_journal_with_a_name_that_no_disk_takes_is_bad_input() -> None:
    ended = within("history", "--journal", "x" * 300)
    assert ended.returncode == 2
    assert "x" * 10 in ended.stderr
