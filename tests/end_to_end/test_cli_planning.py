"""`check`, `continuity`, `verify`, `job schema` and unattended runs: what they say, refuse, and end with."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest

from gingerly import Declined, batch
from gingerly import job as jobs
from gingerly.driver.events import RunStarted
from support.command import gingerly, within, write
from support.jobs import SOUND, spoiled
from support.terminal import Terminal

pytestmark = pytest.mark.thorough

EXAMPLES = Path(__file__).parents[2] / "examples"
WIRED = (EXAMPLES / "twelve_tags.toml").read_text()


def plain(text: str) -> str:
    """The text without its line breaks."""
    return " ".join(text.split())


# ---- check ------------------------------------------------------------------------------------------------


def test_check_shows_every_move_with_feed_time_window_push_and_what_limits_them(tmp_path: Path) -> None:
    ended = within("check", write(tmp_path, SOUND))
    assert ended.returncode == 0, ended.stderr
    said = plain(ended.stdout)
    for words in (
        "two lids: 4 parts",
        "1/4 pad: reference, pin, bare stock, front left corner",
        "circuit proved at: tip, flank",
        "the operator first: next part",
        "the operator first: next part, change tool",
        "approach at 701 mm/min: the tool may run on 0.3 mm",
        "re-touch at 150 mm/min: one motor step between two samples of the circuit",
        "if the lead is off here, the tool pushes up to 1.70 mm; pin bears",
        "axis to keep-out 'clamp': ",
        "room to the axis limits: ",
        "the place is known within 0.6 mm",
        "work offset 1 would be overwritten; it holds X0.000 Y0.000 Z0.000",
        "work offset 2 would be shifted",
        "writes no work offset",
    ):
        assert words in said
    assert max(len(line) for line in ended.stdout.splitlines()) <= 80


def test_check_as_json_holds_the_same_plan_under_stable_keys(tmp_path: Path) -> None:
    document = json.loads(within("check", "--json", write(tmp_path, SOUND)).stdout)
    assert set(document) == {"format", "job", "machine", "exit_code", "machine_time_s", "parts"}
    corner = document["parts"][1]
    assert [touch["name"] for touch in corner["touches"]] == ["top", "X wall", "top again", "Y wall"]
    assert corner["offsets"] == [{"number": 1, "before": {"x": 0.0, "y": 0.0, "z": 0.0}, "relative": False}]
    assert sum(part["machine_time_s"] for part in document["parts"]) == pytest.approx(
        document["machine_time_s"], abs=0.01
    )


def test_check_says_whose_time_it_tells_and_that_the_machine_is_virtual_once(tmp_path: Path) -> None:
    """What people take is in the time of a run, and in no forecast."""
    told = plain(within("check", write(tmp_path, SOUND)).stdout)
    assert "of machine time, besides what people take." in told
    assert "cellar mill (virtual machine): it was asked" in told


def test_check_moves_nothing(tmp_path: Path) -> None:
    """A machine whose every motion would be refused is checked all the same."""
    refused = 'faults = [{ what = "refused", call = "traverse" }, { what = "refused", call = "sense" }]'
    ended = within("check", write(tmp_path, spoiled("seed = 11", refused)))
    assert ended.returncode == 0


def test_check_of_a_part_without_room_ends_with_3_and_still_plans_the_others(tmp_path: Path) -> None:
    ended = within("check", write(tmp_path, spoiled("x = 170, y = 40", "x = 1170, y = 40")))
    assert ended.returncode == 3
    assert "REFUSED, OutsideEnvelope: " in ended.stdout
    assert ended.stdout.count("circuit proved at") == 3
    assert "would be refused before anything moved: 'lid 2'." in ended.stderr


def test_check_shows_the_old_value_of_an_offset(tmp_path: Path) -> None:
    text = SOUND.replace("seed = 11", "seed = 11\noffsets = { 2 = [1, 2, 3] }")
    assert "work offset 2 would be overwritten; it holds X1.000 Y2.000 Z3.000" in plain(
        within("check", write(tmp_path, text)).stdout
    )


# ---- continuity -------------------------------------------------------------------------------------------


def test_continuity_proves_the_circuit_where_the_part_is_touched_and_moves_nothing(tmp_path: Path) -> None:
    ended = within("continuity", "--part", "lid 1", "--json", write(tmp_path, SOUND))
    document = json.loads(ended.stdout)
    assert (ended.returncode, document["places"], document["proved"]) == (0, ["tip", "flank"], True)
    assert document["released"] is True


def test_continuity_of_a_lead_that_is_off_ends_with_1(tmp_path: Path) -> None:
    text = spoiled("seed = 11", 'faults = [{ what = "lead off", call = "look", nth = 3 }]')
    ended = within("continuity", "--part", "lid 1", write(tmp_path, text))
    assert ended.returncode == 1
    assert "CircuitNotChecked" in ended.stderr


def test_a_part_that_is_not_there_is_told_with_the_nearest_name(tmp_path: Path) -> None:
    ended = within("continuity", "--part", "lit 1", write(tmp_path, SOUND))
    assert ended.returncode == 2
    assert "--part: no part is called 'lit 1'; did you mean 'lid 1'?" in ended.stderr


def test_only_a_word_typed_at_the_prompt_waives_the_check(tmp_path: Path) -> None:
    """The waiver (I10): an option or a job file cannot do it, a person can, and it stands in what comes of it."""
    job = write(tmp_path, spoiled("seed = 11", 'faults = [{ what = "lead off", call = "look", nth = 3 }]'))
    with Terminal("continuity", "--prompts", "--part", "lid 1", job) as terminal:
        terminal.until("Type  tip  ")
        terminal.answer("without")
        terminal.until("That answers nothing")
        terminal.answer("without proof")
        terminal.answer("seated")
        terminal.answer("removed")
        screen, code = terminal.end()
    assert (code, "NOT PROVED" in screen, "MOVES" in screen) == (1, True, False), screen
    assert within("run", "--without-proof", job).returncode == 2
    assert within("run", write(tmp_path, spoiled("offset = 1", "offset = 1\nwaive = true"))).returncode == 2


# ---- verify -----------------------------------------------------------------------------------------------


def verified(folder: Path, *, z_off: float = 0.0) -> tuple[int, str]:
    """Verify "lid 1" on a machine that holds what a run has set, but for `z_off` mm."""
    only = SOUND[: SOUND.index('[[parts]]\nname = "lid 2"')]
    found = json.loads(within("run", "--json", write(folder, only)).stdout)["parts"][1]["found"]
    held = f"offsets = {{ 1 = [{found['x']}, {found['y']}, {found['z'] + z_off}] }}"
    ended = within(
        "verify", "--tolerance", "0.1 mm", write(folder, only.replace("seed = 11", f"seed = 11\n{held}"))
    )
    return ended.returncode, ended.stdout


def test_verify_touches_again_compares_and_writes_nothing(tmp_path: Path) -> None:
    code, out = verified(tmp_path)
    assert code == 0
    assert "lid 1: off Z " in out
    assert "work offset" not in out


def test_verify_of_what_was_set_elsewhere_is_a_fault_that_says_by_how_much(tmp_path: Path) -> None:
    code, out = verified(tmp_path, z_off=0.3)
    assert code == 1
    assert "NotAsSet" in out
    assert "mm allowed" in plain(out)


def test_continuity_without_having_seen_the_circuit_close_proves_nothing(tmp_path: Path) -> None:
    """A waiver looks like no proof, to people and to programs."""
    text = write(tmp_path, spoiled("seed = 11", 'operator = { answers = { "close at tip" = "waive" } }'))
    ended = within("continuity", "--part", "lid 1", text)
    assert (ended.returncode, "NOT PROVED" in ended.stdout) == (1, True)
    document = json.loads(within("continuity", "--part", "lid 1", "--json", text).stdout)
    assert (document["proved"], document["waived"], document["exit_code"]) == (False, True, 1)


# ---- unattended -------------------------------------------------------------------------------------------


def test_an_unattended_run_checks_its_own_circuit_and_ends_unreleased(tmp_path: Path) -> None:
    table = tmp_path / "tags.csv"
    ended = within("run", "--unattended", "--json", "--table", str(table), write(tmp_path, WIRED))
    document = json.loads(ended.stdout)
    assert (ended.returncode, document["released"], document["complete"]) == (4, False, True)
    lines = list(csv.DictReader(table.read_text(encoding="utf-8").splitlines()))
    assert [line["part"] for line in lines] == [
        f"tag {row}-{column}" for row in (1, 2, 3) for column in (1, 2, 3, 4)
    ]
    assert float(lines[0]["x"]) == pytest.approx(document["parts"][1]["found"]["x"], abs=1e-4)


def test_unattended_refuses_all_that_would_need_a_person_and_names_all_of_it(tmp_path: Path) -> None:
    ended = within("run", "--unattended", write(tmp_path, spoiled("seed = 11", 'seed = 11\nspindle = "commanded"')))
    assert ended.returncode == 3
    for need in (
        "the spindle is commanded, not measured",
        "the first part, 'pad', is no known, fixed reference",
        "part 'lid 1' needs the plate 'corner' to be laid on it",
        "part 'cutter in' needs another tool, 'cutter'",
    ):
        assert need in ended.stderr


def test_an_unattended_run_whose_lead_is_off_stops_at_the_reference(tmp_path: Path) -> None:
    text = WIRED.replace("seed = 12", 'seed = 12\nfaults = [{ what = "lead off", call = "sense", nth = 1 }]')
    ended = within("run", "--unattended", write(tmp_path, text))
    assert ended.returncode == 1
    assert "NoContact" in ended.stderr
    assert "Not begun: tag 1-1" in ended.stdout


def test_after_a_skipped_fault_an_unattended_run_touches_the_reference_again(tmp_path: Path) -> None:
    """What was proved before a fault proves nothing after it (I10)."""
    job = jobs.loads(WIRED.replace("seed = 12", 'seed = 12\nfaults = [{ what = "lead off", contact = 8 }]'))
    begun: list[str] = []
    summary = batch.run_blocking(
        job,
        unattended=True,
        observer=lambda event: begun.append(event.routine) if isinstance(event, RunStarted) else None,
    )
    statuses = [entry.status.value for entry in summary.parts]
    skipped = statuses.index("skipped")
    assert statuses == ["skipped" if n == skipped else "done" for n in range(len(statuses))]
    assert [n for n, routine in enumerate(begun) if routine == "self check"] == [0, skipped + 2]


def test_where_the_circuit_cannot_be_proved_again_an_unattended_run_ends(tmp_path: Path) -> None:
    faults = 'faults = [{ what = "lead off", call = "traverse", nth = 60, times = 0 }]'
    summary = batch.run_blocking(jobs.loads(WIRED.replace("seed = 12", f"seed = 12\n{faults}")), unattended=True)
    statuses = [entry.status.value for entry in summary.parts]
    assert statuses.count("skipped") == statuses.count("failed") == 1
    assert "done" not in statuses[statuses.index("skipped") :]


def test_an_unattended_run_that_ended_is_resumed_with_nobody_there(tmp_path: Path) -> None:
    memory = f"memory = {(tmp_path / 'mill.json').as_posix()!r}"
    faults = 'faults = [{ what = "lead off", call = "traverse", nth = 60, times = 0 }]'
    for more in (f"{memory}\n{faults}", memory):
        path = write(tmp_path, WIRED.replace("seed = 12", f"seed = 12\n{more}"))
        words = ("run", path, "--unattended", "--json", "--journal", str(tmp_path / "journal.db"))
        ended = within(*words, *(["--resume"] if more == memory else []))
    statuses = [part["status"] for part in json.loads(ended.stdout)["parts"]]
    assert (ended.returncode, set(statuses)) == (4, {"set before", "done"})
    assert statuses.count("done") == 13 - statuses.count("set before")


def test_a_script_is_told_what_stands_against_running_unattended() -> None:
    with pytest.raises(Declined, match="'pad', is no known, fixed reference"):
        batch.run_blocking(jobs.loads(SOUND), unattended=True)


def test_a_table_that_cannot_be_written_is_refused_before_anything_moves(tmp_path: Path) -> None:
    ended = within("run", "--table", str(tmp_path / "no" / "tags.csv"), write(tmp_path, WIRED))
    assert ended.returncode == 2
    assert "--table: cannot be written: No such file or directory" in ended.stderr


# ---- the schema, waves, and the rest ----------------------------------------------------------------------


def test_the_schema_is_one_json_document() -> None:
    schema = json.loads(gingerly("job", "schema").stdout)
    assert schema["$defs"]["JobTable"]["required"] == ["machine", "tools", "parts"]


@pytest.mark.parametrize("command", ["check", "run", "jog", "continuity", "verify"])
def test_every_command_that_reads_a_job_refuses_a_bad_one_with_2(command: str, tmp_path: Path) -> None:
    ended = within(command, write(tmp_path, spoiled("offset = 1", "ofset = 1")))
    assert ended.returncode == 2
    assert "parts[1].ofset: is not known here; did you mean 'offset'?" in ended.stderr


@pytest.mark.parametrize("command", ["check", "jog", "continuity", "verify", "job", "practice", "new-adapter"])
def test_every_command_teaches_its_exit_codes(command: str) -> None:
    ended = within(command, "--help")
    assert ended.returncode == 0
    assert "exit codes:" in ended.stdout
    assert max(len(line) for line in ended.stdout.splitlines()) <= 80


def test_progress_on_a_terminal_tells_the_time_that_is_left(tmp_path: Path) -> None:
    pause = 'faults = [{ what = "pause", call = "sense", nth = 3, after_mm = 0.5 }]'
    with Terminal("run", write(tmp_path, spoiled("seed = 11", f"seed = 11\n{pause}"))) as terminal:
        terminal.until("left 0:")
        assert ", job " in terminal.until("job ")
        terminal.type("\x03")
        assert terminal.end()[1] == 130
