"""The chat bot says what the answer says, and nothing bolder."""

import itertools
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

BOT = Path(__file__).with_name("chat_bot.py")
RANKS = ["none", "note", "caution", "warning"]
MARKS = {"Note. ": 1, "CAUTION. ": 2, "WARNING. ": 3}


@pytest.fixture
def chat(api: Any, run: Callable[..., str], tmp_path: Path) -> Callable[..., list[str]]:
    """Return a way to chat with the bot, which sees no package: it is started with -S."""

    def say(*lines: str, address: str | None = None) -> list[str]:
        said = "".join(f"{line}\n" for line in lines)
        command = (sys.executable, "-I", "-S", "-X", "utf8", BOT, address or api.address)
        return run(*command, cwd=tmp_path, said=said).split("\n---\n")[:-1]

    return say


def test_it_answers_a_line_of_chat(api: Any, chat: Callable[..., list[str]]) -> None:
    """Headline, link to the cautions and the text to paste, whole; other lines of the chat are not its business."""
    fields = {"layout": "2S1P", "cell_rating_a": 25, "coil_reading_ohm": 0.3}
    (message,) = chat("hello", "!coil 2S1P 25A 0.3", "", "25A is a lot")
    answer = httpx.get(f"{api.address}/v1/direct-load", params=fields).json()
    reply = httpx.get(f"{api.address}/v1/reply/direct-load", params=fields).text
    assert message == (
        f"WARNING. {answer['headline']}\nCautions: {api.address}/cautions/\n\n{reply}"
    )
    assert "Never exceed the manufacturer's continuous discharge rating." in message


def test_it_tells_every_fault_in_one_message(chat: Callable[..., list[str]]) -> None:
    """Who mistypes three things is told of all three at once, each by the name of its field."""
    (message,) = chat("!coil 9X 0A none")
    for field in ("layout", "cell_rating_a", "coil_reading_ohm"):
        assert message.count(f"\n- {field}: ") == 1
    assert message.startswith("No answer: ")
    assert "(request " in message


def test_it_tells_what_a_problem_without_a_field_says(
    api: Any, chat: Callable[..., list[str]]
) -> None:
    """Where no field is named, the sentence of the problem is shown."""
    api.later = {b'"errors":': b'"from_later":'}
    (message,) = chat("!coil 1S1P 0A 0.5")
    title, sentence, _ = message.splitlines()
    assert title.startswith("No answer: ")
    assert "It must be 0.1 A or more." in sentence


def test_it_never_says_less_than_the_answer(api: Any, chat: Callable[..., list[str]]) -> None:
    """Over many packs and loads the line on top is as grave as the gravest word of the answer, and holds its headline."""
    layouts, ratings, loads = (
        ("1S1P", "1S2P", "2S1P", "2S2P", "3S1P"),
        (10, 20, 35),
        (0.1, 0.5, 1.5),
    )
    asked = list(itertools.product(layouts, ratings, loads))
    messages = chat(*(f"!coil {layout} {rating}A {load}" for layout, rating, load in asked))
    body = {"items": [
        {"question": "direct-load", "ask": {"layout": layout, "cell_rating_a": rating, "coil_reading_ohm": load}}
        for layout, rating, load in asked
    ]}  # fmt: skip
    answers = [
        i["answer"] for i in httpx.post(f"{api.address}/v1/batch", json=body).json()["items"]
    ]
    shown = set()
    for message, answer in zip(messages, answers, strict=True):
        top = message.splitlines()[0]
        assert top.endswith(answer["headline"])
        rank = MARKS.get(top.removesuffix(answer["headline"]), 0)
        assert rank >= RANKS.index(answer["attention"])
        assert rank == 3 or answer["verdict"] != "over_limit"
        assert rank >= 2 or answer["verdict"] == "within_limit"
        shown.add(rank)
    assert {1, 3} <= shown


def test_a_word_from_later_is_a_warning(api: Any, chat: Callable[..., list[str]]) -> None:
    """A verdict that the bot does not know makes its line no milder."""
    asked = "!coil 1S2P 20A 0.5"
    (before,) = chat(asked)
    assert before.startswith("Note. ")
    api.later = {b'"verdict":"within_limit"': b'"verdict":"one_from_later"'}
    (after,) = chat(asked)
    assert after.startswith("WARNING. ")


def test_no_answer_is_no_permission(api: Any, chat: Callable[..., list[str]]) -> None:
    """Away, or a proxy that says so: the bot says that it has no answer."""
    api.away = 1
    (behind,) = chat("!coil 1S2P 20A 0.5")
    (gone,) = chat("!coil 1S2P 20A 0.5", address="http://127.0.0.1:9")
    assert behind == gone == "percell is away. No answer does not mean that it is allowed."


def test_it_says_how_it_is_asked(chat: Callable[..., list[str]]) -> None:
    """Too few words get the pattern of a question."""
    (message,) = chat("!coil 2S1P")
    assert "!coil 2S1P 25A 0.3" in message
