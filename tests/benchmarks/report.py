"""How every benchmark reports: Markdown rows, then each target and whether it was reached."""

from typing import NamedTuple


class Target(NamedTuple):
    """A ratio that was measured, and its bound."""

    name: str
    measured: float
    at_least: float | None = None
    at_most: float | None = None

    @property
    def reached(self) -> bool:
        """Whether the ratio is within its bound."""
        return (self.at_least is None or self.measured >= self.at_least) and (
            self.at_most is None or self.measured <= self.at_most
        )


def rows_and_verdict(rows: list[str], targets: list[Target]) -> int:
    """Print rows and targets; return the exit code, 1 where a target is missed."""
    print("\n".join(rows))
    print("\n| target | bound | measured | reached |\n|---|---|---|---|")
    for target in targets:
        bound = f"≥ {target.at_least:g}" if target.at_least is not None else f"≤ {target.at_most:g}"
        reached = "yes" if target.reached else "**no**"
        print(f"| {target.name} | {bound} | {target.measured:.2f} | {reached} |")
    return 0 if all(target.reached for target in targets) else 1
