"""Findings that follow from a current and a rating, for every kind of load."""

from msgspec import UNSET, UnsetType

from percell.physics.meter import NOISE
from percell.questions import rules
from percell.questions.chemistry import VOLTAGES, Chemistry
from percell.questions.rules import Finding, finding
from percell.questions.sharing import PERCENTILE, SPREAD, Sharing, Spread, hottest
from percell.questions.verdict import HEADROOM, Verdict, verdict


def against_rating(
    *, hottest_a: float, rating_a: float, sharing: Sharing | Spread, parallel: int, pack_a: float
) -> tuple[Verdict, list[Finding]]:
    """Return the verdict on the hardest-worked cell of a pack, and what to say about it."""
    judged, found = cell_against_rating(hottest_a=hottest_a, rating_a=rating_a)
    if parallel > 1:
        allowed_a = pack_a / (parallel - 0.5)
        how = (
            f"judged with {hottest_a:.3g} A, by the spread of the cells"
            if isinstance(sharing, Spread)
            else "judged with an even share"
            if sharing is Sharing.EVEN
            else "judged with the sharing allowance"
        )
        over = " That is above the rating." if verdict(allowed_a, rating_a) is Verdict.OVER else ""
        found.append(
            finding(
                rules.SHARING_ALLOWANCE,
                f"{parallel} cells share {pack_a:.3g} A: {pack_a / parallel:.3g} A each if evenly, "
                f"{allowed_a:.3g} A in the hardest-worked cell with the allowance; {how}.{over}",
            )
        )
        if parallel > 2 and not isinstance(sharing, Spread):
            found.append(_rule_not_careful(parallel, pack_a, rating_a))
    return judged, found


def cell_against_rating(*, hottest_a: float, rating_a: float) -> tuple[Verdict, list[Finding]]:
    """Return the verdict on a cell's current, and what to say about it."""
    found = []
    judged = verdict(hottest_a, rating_a)
    if judged is Verdict.OVER:
        found.append(
            finding(
                rules.OVER_RATING,
                f"A cell would carry {hottest_a:.3g} A, above its continuous rating of {rating_a:g} A.",
            )
        )
    elif judged is Verdict.LITTLE:
        found.append(
            finding(
                rules.LITTLE_HEADROOM,
                f"{hottest_a:.3g} A of {rating_a:g} A leaves less than {HEADROOM * 100:g} % of the rating.",
            )
        )
    return judged, found


def _rule_not_careful(parallel: int, pack_a: float, rating_a: float) -> Finding:
    share, above = hottest(parallel, SPREAD, PERCENTILE)
    over = " That is above the rating." if verdict(share * pack_a, rating_a) is Verdict.OVER else ""
    return finding(
        rules.SHARING_RULE_NOT_CAREFUL,
        f"If the resistances of the {parallel} cells scatter by an assumed {SPREAD * 100:g} %, the "
        f"hardest-worked cell carries more than the allowance counts on in {_percent(above)} of such "
        f"groups; {PERCENTILE * 100:g} % of them stay within a share of {share:.3g}, which is "
        f"{share * pack_a:.3g} A.{over}",
    )


def _percent(part: float) -> str:
    """Return a part of all groups in percent; what was only not seen to fail is not called all."""
    return "more than 99 %" if part > 0.99 else f"{100 * part:.2g} %"


def charged_above_chemistry(chemistry: Chemistry, charged_v: float | UnsetType) -> list[Finding]:
    """Return what to say about a charged voltage that the chemistry does not take."""
    preset = VOLTAGES[chemistry]
    if charged_v is UNSET or charged_v <= preset.charged_v:
        return []
    return [
        finding(
            rules.CHARGED_ABOVE_CHEMISTRY,
            f"{charged_v:g} V is above the {preset.charged_v:g} V to which {preset.name} is charged.",
        )
    ]


def cutoff_below_end(chemistry: Chemistry, cutoff_v: float) -> list[Finding]:
    """Return what to say about a lowest voltage below the end of discharge."""
    preset = VOLTAGES[chemistry]
    if cutoff_v >= preset.end_v * (1 - NOISE):
        return []
    return [
        finding(
            rules.CUTOFF_BELOW_END,
            f"A cell may be emptied to {cutoff_v:g} V, below {preset.end_v:g} V, the end of discharge of "
            f"{preset.name}.",
        )
    ]
