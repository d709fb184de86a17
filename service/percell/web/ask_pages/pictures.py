"""Layouts as small drawings: cells lie side by side in series and above each other in parallel."""

_CELL_WIDTH, _CELL_HEIGHT, _CAP = 24, 12, 3
_ACROSS, _DOWN, _LEAD = 12, 7, 8
_MARGIN = 3


def picture(series: int, parallel: int) -> str:
    """Return the drawing of a layout. The words beside it say the same."""
    step_x, step_y = _CELL_WIDTH + _CAP + _ACROSS, _CELL_HEIGHT + _DOWN
    width = 2 * (_MARGIN + _LEAD) + series * step_x - _ACROSS + (_ACROSS if parallel > 1 else 0)
    height = 2 * _MARGIN + parallel * step_y - _DOWN
    middle = height / 2
    first = _MARGIN + _LEAD + (_ACROSS / 2 if parallel > 1 else 0)
    rows = [_MARGIN + _CELL_HEIGHT / 2 + row * step_y for row in range(parallel)]
    wires, cells = [f"M{_MARGIN} {middle:g}H{width - _MARGIN:g}"] if parallel == 1 else [], []
    for group in range(series):
        x = first + group * step_x
        end = x + _CELL_WIDTH + _CAP
        left, right = x - _ACROSS / 2, end + _ACROSS / 2
        for y in rows:
            cells.append(
                f"M{x:g} {y - _CELL_HEIGHT / 2:g}h{_CELL_WIDTH}v{_CELL_HEIGHT}h-{_CELL_WIDTH}z"
                f"M{x + _CELL_WIDTH:g} {y - 3:g}h{_CAP}v6h-{_CAP}z"
            )
            if parallel > 1:
                wires.append(f"M{left:g} {y:g}H{right:g}")
        if parallel > 1:
            wires += [f"M{side:g} {rows[0]:g}V{rows[-1]:g}" for side in (left, right)]
    if parallel > 1:
        wires += [f"M{_MARGIN} {middle:g}h{_LEAD}", f"M{width - _MARGIN:g} {middle:g}h-{_LEAD}"]
    return (
        f'<svg class="pc-wiring" viewBox="0 0 {width:g} {height:g}" width="{width:g}" height="{height:g}" '
        f'aria-hidden="true"><path class="pc-wire" d="{"".join(wires)}"/><path class="pc-cell" d="{"".join(cells)}"/></svg>'
    )
