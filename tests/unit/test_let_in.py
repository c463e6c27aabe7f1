"""What may never be in the program's own code: doors through which a file or a name becomes code."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SOURCES = sorted(path for room in ("audio", "tui", "demo") for path in (ROOT / room).rglob("*.py"))

STRICT = "audio/vocab/strict_yaml.py"
"""The only module that may know the YAML library."""

MODULES = frozenset(
    {"pickle", "cPickle", "marshal", "shelve", "dill", "joblib", "jsonpickle", "code", "xmlrpc"}
    | {"socketserver", "http", "ssl", "urllib", "ftplib", "smtplib", "asyncio", "requests"}
)
"""Modules that run what a file holds, or talk to a network."""

CALLS = frozenset({"eval", "exec", "compile", "__import__", "breakpoint"})
METHODS = frozenset(
    {"yaml.load", "yaml.full_load", "yaml.unsafe_load", "yaml.safe_load", "yaml.load_all"}
    | {"tempfile.mktemp", "os.system", "os.popen", "os.tempnam", "np.load", "numpy.load"}
    | {"np.fromfile", "np.genfromtxt", "numpy.fromfile", "subprocess.getoutput", "os.execvp"}
)
STARTS = frozenset({"run", "Popen", "call", "check_call", "check_output"})
"""What of ``subprocess`` starts a process."""

FAMILIES = frozenset({"AF_INET", "AF_INET6", "AF_PACKET", "create_connection", "create_server"})


def faults(source: str, name: str = "x.py") -> Iterator[str]:
    """Yield what a module does that it may not."""
    for node in ast.walk(ast.parse(source)):
        for module in _imported(node):
            if module.partition(".")[0] in MODULES:
                yield f"{name}:{node.lineno} imports {module}"
            if module.partition(".")[0] == "yaml" and name != STRICT:
                yield f"{name}:{node.lineno} reads YAML itself"
        if isinstance(node, ast.Attribute) and node.attr in FAMILIES:
            yield f"{name}:{node.lineno} uses {node.attr}"
        if isinstance(node, ast.Call):
            called = _called(node.func)
            if called in CALLS or called in METHODS:
                yield f"{name}:{node.lineno} calls {called}"
            for one in node.keywords:
                starts = called.rpartition(".")[2] in STARTS and one.arg == "shell"
                if (starts or one.arg == "allow_pickle") and ast.unparse(one.value) != "False":
                    yield f"{name}:{node.lineno} gives {one.arg}"


def _called(function: ast.expr) -> str:
    """Return what is called, such as ``np.load``; empty where it has no such name."""
    if isinstance(function, ast.Name):
        return function.id
    if isinstance(function, ast.Attribute):
        owner = function.value
        return f"{owner.id if isinstance(owner, ast.Name) else ''}.{function.attr}"
    return ""


def _imported(node: ast.AST) -> list[str]:
    if isinstance(node, ast.Import):
        return [one.name for one in node.names]
    if isinstance(node, ast.ImportFrom):
        return [node.module or ""]
    return []


def test_there_are_sources_to_look_at() -> None:
    rooms = {path.relative_to(ROOT).parts[0] for path in SOURCES}
    assert rooms == {"audio", "tui", "demo"}
    assert ROOT / STRICT in SOURCES


def test_no_file_and_no_name_becomes_code_and_yaml_is_read_strictly() -> None:
    found = [
        fault
        for path in SOURCES
        for fault in faults(path.read_text(), path.relative_to(ROOT).as_posix())
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        *(
            "import yaml",
            "from yaml import safe_load",
            "import pickle",
            "from marshal import loads",
        ),
        *("import shelve as s", "eval(x)", "exec('a')", "yaml.load(f, Loader=yaml.SafeLoader)"),
        *("np.load(p)", "load(p, allow_pickle=True)", "subprocess.run(x, shell=True)"),
        *("tempfile.mktemp()", "os.system(x)", "import http.server", "socket.AF_INET"),
        *("run(x, shell=chosen)", "def f():\n    import pickle.x", "socket.create_server(a)"),
    ],
)
def test_each_of_these_doors_would_be_seen(source: str) -> None:
    assert len(list(faults(source))) == 1


def test_the_strict_loader_takes_events_only_and_makes_no_objects() -> None:
    source = (ROOT / STRICT).read_text()
    used = {ast.unparse(n) for n in ast.walk(ast.parse(source)) if isinstance(n, ast.Attribute)}
    of_yaml = {name for name in used if name.startswith("yaml.")}
    allowed = {"parse", "SafeLoader", "Token", "YAMLError", "MarkedYAMLError", "Event"}
    assert "yaml.parse" in of_yaml
    assert {
        n for n in of_yaml if n.removeprefix("yaml.") not in allowed and "Event" not in n
    } == set()
