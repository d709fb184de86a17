"""The contributor guide lists the limits of each question."""

from pathlib import Path

from percell.questions.registry import QUESTIONS

GUIDE = Path(__file__).resolve().parents[2] / "DEVELOPERS.md"


def test_the_guide_lists_the_limits_of_each_question():
    """The table has every question that holds something against a limit, and its limits in their order."""
    _, _, table = GUIDE.read_text("utf-8").partition("| Question | Limits |\n|---|---|\n")
    listed = table.partition("\n\n")[0].splitlines()
    assert listed == [
        f"| `{name}` | {', '.join(limit.words for limit in question.limits)} |"
        for name, question in QUESTIONS.items()
        if question.limits
    ]
