"""Jobs and verdict never read what the simulated room was told to do wrong: a verdict that could would
prove nothing."""

from __future__ import annotations

import ast
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

TOP = Path(__file__).parents[2]
JUDGES = ("verdict", "jobs", "measure", "work", "session", "plan")
KEPT = "faults"


def modules() -> list[Path]:
    return [path for room in JUDGES for path in sorted((TOP / "audio" / room).rglob("*.py"))]


def readings(tree: ast.AST) -> Iterator[int]:
    """Yield the lines that read an attribute or a key of that name, or name it to who does."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr == KEPT:
            yield node.lineno
        if isinstance(node, ast.Constant) and node.value == KEPT:
            yield node.lineno
        if isinstance(node, ast.keyword) and node.arg == KEPT:
            yield node.value.lineno
        if isinstance(node, ast.MatchClass) and KEPT in node.kwd_attrs:
            yield node.lineno


def imports(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def test_there_is_something_to_read() -> None:
    assert len(modules()) > 50
    assert {path.parent.name for path in modules()} >= set(JUDGES)


@pytest.mark.parametrize("path", modules(), ids=lambda p: p.relative_to(TOP).as_posix())
def test_no_judge_reads_the_rooms_faults(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    assert list(readings(tree)) == []
    assert [name for name in imports(tree) if name.startswith("audio.device.simulated")] == []


@pytest.mark.parametrize(
    "spying",
    [
        "device.faults",
        "wiring['device']['faults']",
        "setup.get('faults')",
        "getattr(device, 'faults')",
        "replace(device, faults=())",
        "match device:\n case SimulatedDevice(faults=f): pass",
    ],
)
def test_a_spy_would_be_caught(spying: str) -> None:
    assert list(readings(ast.parse(spying))) != []


def test_the_import_contract_names_the_judges_and_the_room() -> None:
    content = tomllib.loads((TOP / "pyproject.toml").read_text(encoding="utf-8"))
    contracts = content["tool"]["importlinter"]["contracts"]
    (one,) = [c for c in contracts if c["name"] == "verdict and jobs never read the room's faults"]
    assert one["type"] == "forbidden"
    assert {"audio.verdict", "audio.jobs", "audio.measure"} <= set(one["source_modules"])
    assert one["forbidden_modules"] == ["audio.device"]
    assert "allow_indirect_imports" not in one
