"""Threads answer one after the other as long as each is quick, and nobody waits long for one that is not."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable
from typing import Any

import pytest

from classroom.turns import Turns, in_turn

MANY = 8


def run_together(*works: Callable[[], object]) -> None:
    threads = [threading.Thread(target=work) for work in works]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(20)
        assert not thread.is_alive()


def test_quick_answers_are_made_one_after_the_other() -> None:
    inside, most = 0, 0

    def application(_environ: dict[str, Any], _start: Callable[..., Any]) -> Iterable[bytes]:
        nonlocal inside, most
        inside += 1
        most = max(most, inside)
        time.sleep(0.002)
        inside -= 1
        return []

    # So long that a loaded machine overtakes nobody.
    answer = in_turn(application, Turns(longest_s=20))
    run_together(*[lambda: answer({}, lambda *_: None)] * MANY)
    assert (inside, most) == (0, 1)


def test_a_slow_answer_is_gone_past_once_by_all_that_come_after_it() -> None:
    turns, slow_may_end, order = Turns(longest_s=0.05), threading.Event(), list[str]()

    def slow() -> None:
        mine = turns.take()
        order.append("slow begins")
        assert slow_may_end.wait(20)
        order.append("slow ends")
        turns.give_back(mine)

    first = threading.Thread(target=slow)
    first.start()
    while not order:
        time.sleep(0.001)

    def quick() -> None:
        mine = turns.take()
        order.append("quick")
        turns.give_back(mine)

    run_together(*[quick] * MANY)
    # The slow one has lost its turn: whoever comes now waits for nobody.
    assert turns._whose is None
    slow_may_end.set()
    first.join(20)
    assert order == ["slow begins", *["quick"] * MANY, "slow ends"]


def test_one_that_was_overtaken_takes_no_turn_away_when_it_ends() -> None:
    turns = Turns(longest_s=0.01)
    overtaken = turns.take()
    theirs = turns.take()
    turns.give_back(overtaken)
    assert turns._whose is theirs
    turns.give_back(theirs)
    assert turns._whose is None


def test_an_answer_that_fails_gives_its_turn_back() -> None:
    turns = Turns(longest_s=20)

    def application(_environ: dict[str, Any], _start: Callable[..., Any]) -> Iterable[bytes]:
        raise ValueError("on purpose")

    answer = in_turn(application, turns)
    with pytest.raises(ValueError, match="on purpose"):
        answer({}, lambda *_: None)
    assert turns._whose is None
