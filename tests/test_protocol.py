"""The server's own protocol calls no method that percell's transport lacks."""

import ast
import inspect
import sys
from collections.abc import Iterator
from types import ModuleType

from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol

from percell import protocol
from percell.serve import SETTINGS

# hands the connection over to WebSockets, which are switched off
NEVER_CALLED = {"set_protocol"}


def modules() -> Iterator[ModuleType]:
    """Return the protocol's module, and the modules of uvicorn that it imports."""
    module = sys.modules[HttpToolsProtocol.__module__]
    yield module
    for node in ast.walk(ast.parse(inspect.getsource(module))):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("uvicorn.protocols"):
            yield sys.modules[str(node.module)]


def called(source: str) -> set[str]:
    """Return the methods that a module calls on a transport, by whatever name it holds it."""
    return {
        node.func.attr
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and ast.unparse(node.func.value).rpartition(".")[2].lstrip("_") == "transport"
    }


def test_the_transport_has_every_method_that_the_server_calls() -> None:
    """A method that the base class alone has would raise NotImplementedError at the first call."""
    found = set[str]().union(*(called(inspect.getsource(module)) for module in modules()))
    assert {"write", "close", "is_closing", "get_extra_info", "pause_reading"} <= found
    own = {name for name in vars(protocol._Gathering) if not name.startswith("_")}
    assert found - NEVER_CALLED <= own
    assert found >= NEVER_CALLED
    assert SETTINGS["ws"] == "none"


def test_the_protocol_overrides_methods_that_exist() -> None:
    """What percell's protocol replaces or uses, the server's own has under the same name."""
    for name in ("connection_made", "eof_received"):
        assert name in vars(protocol.Protocol)
        assert callable(getattr(HttpToolsProtocol, name))
    parameters = inspect.signature(HttpToolsProtocol.connection_made).parameters
    assert list(parameters) == ["self", "transport"]


def test_a_call_on_a_transport_is_seen() -> None:
    """The finder knows a transport as a variable, as an attribute and as a private one."""
    source = (
        "self.transport.abort()\ntransport.write(b'')\nself._transport.get_protocol()\nflow.drain()"
    )
    assert called(source) == {"abort", "write", "get_protocol"}
