"""Write the figures that ``percell.questions.vocabulary.usual_spread`` keeps: run with no arguments."""

from pathlib import Path

from percell.questions.vocabulary import usual_spread
from percell.questions.vocabulary.sharing import PERCENTILE, SPREAD, drawn_hottest

MARK = "KEPT: dict[int, tuple[float, float]] = "

if __name__ == "__main__":
    module = Path(usual_spread.__file__)
    rows = [f"    {p}: {tuple(drawn_hottest(p, SPREAD, PERCENTILE))},\n" for p in range(1, 21)]
    head, _, _ = module.read_text("utf-8").partition(MARK)
    module.write_text(f"{head}{MARK}{{\n{''.join(rows)}}}\n", "utf-8")
