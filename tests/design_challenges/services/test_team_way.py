"""What leads a team on: the parts of its plan, its jobs, and what its tablet watches."""

from __future__ import annotations

import pytest

from design_challenges.services.jobs import share_jobs
from design_challenges.services.watch import Watched, what_changed


def who(names: list[str], turn: int) -> list[str]:
    return [job.who for job in share_jobs(names, turn)]


@pytest.mark.parametrize("names", [["Ana"], ["Ana", "Bo"], ["Ana", "Bo", "Cem"], ["Ana", "Bo", "Cem", "Dia"]])
def test_every_job_has_somebody_and_everybody_comes_to_every_job(names: list[str]) -> None:
    for place in range(4):
        assert {who(names, turn)[place] for turn in range(len(names))} == set(names)


def test_a_tap_moves_every_job_on_by_one() -> None:
    assert who(["Ana", "Bo", "Cem", "Dia"], 0) == ["Ana", "Bo", "Cem", "Dia"]
    assert who(["Ana", "Bo", "Cem", "Dia"], 1) == ["Bo", "Cem", "Dia", "Ana"]


def test_five_children_take_turns() -> None:
    names = ["Ana", "Bo", "Cem", "Dia", "Eli"]

    assert set().union(*(who(names, turn) for turn in range(2))) == set(names)


def test_with_nobody_there_there_are_no_jobs() -> None:
    assert share_jobs([], 3) == []


CALM = Watched(paused=False, helped=False, cleared="", open_steps=frozenset({"1plan", "1ready"}))


@pytest.mark.parametrize(
    "state",
    [CALM, Watched(True, True, "c2", frozenset({"2test"})), Watched(False, True, "", frozenset())],
)
def test_what_is_watched_travels_as_text(state: Watched) -> None:
    assert Watched.from_text(state.as_text()) == state


@pytest.mark.parametrize("text", ["", "p", "nonsense", ".."])
def test_text_that_is_no_state_does_no_harm(text: str) -> None:
    found = Watched.from_text(text)

    assert found is None or what_changed(found, found) == ""


@pytest.mark.parametrize(
    ("now", "said"),
    [
        (CALM, ""),
        (Watched(True, False, "", CALM.open_steps), "Your teacher paused the tablets."),
        (Watched(False, False, "c1", CALM.open_steps), "You are cleared to build!"),
        (Watched(False, False, "", CALM.open_steps | {"1build"}), "Your teacher opened a step."),
        (Watched(False, False, "", frozenset({"1plan"})), "Your teacher closed a step for now."),
        (Watched(False, True, "", CALM.open_steps), ""),
    ],
)
def test_what_changed_is_one_sentence(now: Watched, said: str) -> None:
    assert what_changed(CALM, now) == said


def test_a_pause_matters_more_than_the_rest() -> None:
    assert what_changed(CALM, Watched(True, False, "c1", frozenset())) == "Your teacher paused the tablets."


def test_the_end_of_a_pause_and_an_answered_call_are_said() -> None:
    paused = Watched(True, False, "", CALM.open_steps)
    calling = Watched(False, True, "", CALM.open_steps)

    assert what_changed(paused, CALM) == "You can go on now."
    assert what_changed(calling, CALM) == "Your teacher has seen your call."
