"""The API keeps to its document, whatever schemathesis makes of that."""

import runpy
from pathlib import Path
from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.config import SchemathesisConfig

from percell.web.app import create_app

HERE = Path(__file__).parent
runpy.run_path(str(HERE / "contract_checks.py"))  # which makes the checks known
config = SchemathesisConfig.from_path(HERE.parents[1] / "schemathesis.toml")
schema = schemathesis.openapi.from_asgi("/openapi.json", create_app(), config=config)


@schema.parametrize()
@settings(
    max_examples=10,
    derandomize=True,  # the same cases each time; .ci/fuzz looks further
    database=None,
    deadline=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
def test_api_keeps_its_contract(case: Any) -> None:
    """All checks, over the examples, the edges of each field and random cases, right and wrong ones."""
    case.call_and_validate()
