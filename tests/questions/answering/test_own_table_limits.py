"""A caller's own table has a limit of entries, and each of its parts has one."""

import pytest
from litestar.testing import TestClient

from percell.web.app import create_app

LIMIT = 2000


@pytest.fixture(scope="module")
def asked():
    """Return the function that asks for a table of so many rows and columns of two axes."""
    with TestClient(create_app()) as client:

        def ask(rows, first=1, second=1):
            body = {
                "question": "highest-power",
                "fixed": {"layout": "1S1P"},
                "rows_by": {
                    "field": "cell_rating_a",
                    "heading": "Rating",
                    "values": [1 + n / 10 for n in range(rows)],
                },
                "columns_by": [
                    {
                        "field": "efficiency",
                        "heading": "Efficiency",
                        "values": [0.5 + n / 1000 for n in range(first)],
                    },
                    {
                        "field": "idle_power_w",
                        "heading": "Idle",
                        "values": [n / 100 for n in range(second)],
                    },
                ],
                "prints": [{"field": "highest_power_w", "heading": "P", "round": "down"}],
            }
            return client.post("/v1/tables", json=body)

        yield ask


@pytest.mark.parametrize(
    ("rows", "first", "second"),
    [(200, 10, 1), (200, 1, 10), (40, 50, 1), (20, 10, 10), (1, 10, 200)],
)
def test_two_thousand_cells_are_answered(asked, rows, first, second):
    """At the limit every entry is there, for any number of rows and columns."""
    assert rows * first * second == LIMIT
    reply = asked(rows, first, second)
    assert reply.status_code == 200, reply.text
    table = reply.json()
    assert len(table["rows"]) == rows
    assert {len(row["cells"]) for row in table["rows"]} == {first * second}


@pytest.mark.parametrize(("rows", "first", "second"), [(69, 29, 1), (23, 1, 87), (3, 23, 29)])
def test_one_cell_more_is_refused(asked, rows, first, second):
    """2,001 cells, which are 3 × 23 × 29, are refused with the limit and their number."""
    assert rows * first * second == LIMIT + 1
    reply = asked(rows, first, second)
    assert reply.status_code == 422
    (error,) = reply.json()["errors"]
    assert error["pointer"] == "/rows_by/values"
    assert "2000" in error["detail"].replace(",", "")
    assert "2001" in error["detail"].replace(",", "")


@pytest.mark.parametrize(("values", "status"), [(200, 200), (201, 422)])
@pytest.mark.parametrize("axis", [0, 1, 2])
def test_an_axis_has_two_hundred_values(asked, axis, values, status):
    """Each axis alone is bounded too, at two hundred values."""
    sizes = [1, 1, 1]
    sizes[axis] = values
    assert asked(*sizes).status_code == status
