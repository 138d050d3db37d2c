"""What surrounds the proof: the diagram made from the table, the machine on paper, and the search that deepens."""

from __future__ import annotations

import pytest

from gingerly.cycle.diagram import BEGIN, END, fenced, main, write_into
from gingerly.explore.alphabet import deviations
from gingerly.explore.explorer import explore
from gingerly.explore.scenarios import paper_at, scenarios
from gingerly.messages.commands import Finish


def test_the_diagram_goes_between_its_markers_and_leaves_the_rest():
    text = f"before\n{BEGIN}\nold\n{END}\nafter\n"
    assert write_into(text) == f"before\n{fenced()}\nafter\n"


@pytest.mark.parametrize("text", ["", BEGIN, END, f"{END} {BEGIN}"])
def test_without_both_markers_the_diagram_has_no_place(text):
    with pytest.raises(ValueError, match="no place for the diagram"):
        write_into(text)


def test_the_diagram_is_printed_or_written_into_a_file(tmp_path, capsys):
    main([])
    assert capsys.readouterr().out == f"{fenced()}\n"
    guide = tmp_path / "GUIDE.md"
    guide.write_text(f"a\n{BEGIN}\nstale\n{END}\nb\n", encoding="utf-8")
    main(["--write", str(guide)])
    assert guide.read_text(encoding="utf-8") == f"a\n{fenced()}\nb\n"
    assert capsys.readouterr().out == ""


@pytest.mark.parametrize(("name", "why"), [("none.md", "cannot be written anew"), ("bare.md", "no place for")])
def test_a_diagram_that_cannot_be_written_ends_with_a_sentence(name, why, tmp_path):
    (tmp_path / "bare.md").write_text("no markers", encoding="utf-8")
    with pytest.raises(SystemExit, match=f"{name}: .*{why}"):
        main(["--write", str(tmp_path / name)])


def test_what_asks_for_nothing_has_no_answer_on_paper_and_no_deviations():
    with pytest.raises(ValueError, match="asks for nothing"):
        paper_at().answer(Finish())
    assert tuple(deviations(Finish())) == ()


@pytest.mark.thorough
def test_exploring_deeper_and_deeper_ends_with_all_runs_of_the_deepest():
    (scenario,) = [one for one in scenarios() if one.name == "surface"]
    assert explore(scenario, faults=0).runs == 1
    deeper = explore(scenario, faults=1)
    assert deeper.counterexample is None
    assert deeper.runs > 200
