"""The hardest-worked cell at the spread that is assumed when none is given, worked out beforehand.

Drawing the groups takes some hundredths of a second, too long for every answer that mentions it. The
figures are written by ``tests/reference/make_usual_spread.py``, and a test draws them again.
"""

# cells in parallel: share at the percentile, part of the groups above the sharing allowance
KEPT: dict[int, tuple[float, float]] = {
    1: (1.0, 0.0),
    2: (0.5919403099553938, 0.0),
    3: (0.4157065360055728, 0.037605),
    4: (0.3210179067229575, 0.24021),
    5: (0.26178614745591494, 0.52844),
    6: (0.22100307955673099, 0.76839),
    7: (0.19165878001753972, 0.90566),
    8: (0.1688821472063536, 0.96814),
    9: (0.1513618969406478, 0.99033),
    10: (0.13693355225215675, 0.99732),
    11: (0.1251515397452002, 0.99943),
    12: (0.11501418153385201, 0.99986),
    13: (0.10664848966564935, 0.99998),
    14: (0.09927961784678392, 1.0),
    15: (0.09292849835853294, 1.0),
    16: (0.08725776476677258, 1.0),
    17: (0.08228916337063198, 1.0),
    18: (0.07785553260943064, 1.0),
    19: (0.07387567212939565, 1.0),
    20: (0.07027864668383937, 1.0),
}
