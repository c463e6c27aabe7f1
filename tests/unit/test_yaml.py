"""The strict loader reads what it says, nothing more, and knows the line of everything."""

import json
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from audio.vocab.characters import is_hidden
from audio.vocab.errors import UseError
from audio.vocab.strict_yaml import LARGEST_BYTES, Node, Problems, load, read_text
from audio.vocab.yaml_text import block, flow, scalar


def read(text: str) -> Node:
    problems = Problems("a.yaml")
    node = load(text, problems=problems)
    problems.check()
    return node


def refused(text: str) -> str:
    with pytest.raises(UseError) as caught:
        read(text)
    return str(caught.value)


printable = st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp", "Cn", "Co"])
texts = st.text(printable, max_size=20)
scalars = (
    st.none()
    | st.booleans()
    | st.integers(-(10**14), 10**14)
    | st.floats(allow_nan=False, allow_infinity=False, min_value=-1e15, max_value=1e15)
    | texts
)
seen = st.characters(categories=["L", "N", "P", "S"]).filter(lambda c: not is_hidden(c))
keys = st.text(seen, min_size=1, max_size=12)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(keys, inner, max_size=4),
    max_leaves=12,
)


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("", None),
        ("null", None),
        ("~", None),
        ("true", True),
        ("false", False),
        ("0", 0),
        ("-12", -12),
        ("+5", 5),
        ("1.5", 1.5),
        ("-0.25e-3", -0.25e-3),
        ("1e-07", 1e-07),
        (".5", 0.5),
    ],
)
def test_reads_null_truth_and_decimal_numbers(written: str, meant: object) -> None:
    value = read(f"a: {written}").plain()["a"]
    assert value == meant
    assert type(value) is type(meant)


@pytest.mark.parametrize(
    "written",
    [
        *("10:30", "off", "on", "yes", "No", "True", "NULL", "0123", "0x1f", "0o17", "0b1"),
        *("1_000", ".inf", "-.inf", ".nan", "2026-11-25", "1,5", "٤٨٠٠٠", "4/4", "=", "1e"),
    ],
)
def test_anything_else_that_resembles_a_value_stays_text(written: str) -> None:
    assert read(f"a: {written}").plain() == {"a": written}


def test_quotes_make_text_of_everything() -> None:
    assert read("a: '12'\nb: \"true\"\nc: 'null'").plain() == {"a": "12", "b": "true", "c": "null"}


@given(values)
def test_every_json_document_means_what_json_says(value: object) -> None:
    # YAML 1.2.2, section 1.2: JSON is a subset of YAML; the standard library's writer is the referee.
    assert read(json.dumps(value, ensure_ascii=False)).plain() == value


@given(values)
def test_what_is_written_reads_the_same_here_and_in_a_yaml_1_1_reader(value: object) -> None:
    text = flow({"key": value})
    assert read(text).plain() == {"key": value}
    # PyYAML's own rules are YAML 1.1, the most trap-ridden that people still use. It alone reads a
    # number with an exponent and no dot as text, so such numbers are left out there.
    if "e" not in json.dumps(value):
        assert yaml.safe_load(text) == {"key": value}


@given(
    st.dictionaries(
        keys, scalars | st.lists(st.dictionaries(keys, scalars, min_size=1), max_size=3), min_size=1
    )
)
def test_block_style_reads_back(fields: dict[str, object]) -> None:
    assert read("\n".join(block(fields))).plain() == fields


@pytest.mark.parametrize(
    "word", ["yes", "off", "N", "null", "True", "a: b", "a #b", "- a", "x ", "1"]
)
def test_text_that_some_reader_would_take_for_something_else_is_quoted(word: str) -> None:
    assert scalar(word) == f'"{word}"'


def test_values_yaml_does_not_have_are_refused_by_the_writer() -> None:
    with pytest.raises(TypeError, match="no YAML for set"):
        flow({"a": {1}})


def test_every_node_knows_its_line_and_place() -> None:
    text = "a: 1\nb:\n  - x\n  - {c: [2, three]}\n"
    node = read(text)
    assert node.key_lines == {"a": 1, "b": 2}
    b = node.value["b"]
    assert [(i.line, i.column) for i in b.value] == [(3, 4), (4, 4)]
    assert (b.line, b.column, b.flow) == (3, 2, False)
    mapping = b.value[1]
    assert mapping.flow
    assert text[mapping.start : mapping.end] == "{c: [2, three]}"
    three = mapping.value["c"].value[1]
    assert text[three.start : three.end] == "three"


def test_everything_wrong_is_said_at_once_in_the_files_order() -> None:
    message = refused("a: 1\nb: &x 2\na: 3\nc: *x\nd: !!int 4\n? [e]\n: 5\nf: 1e999\n")
    assert [line.split(":")[0] for line in message.splitlines()] == [
        f"a.yaml, line {n}" for n in (2, 3, 4, 5, 6, 8)
    ]
    for word in ("anchor", "'a' is given twice, first in line 1", "alias *x", "tag", "too large"):
        assert word in message


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("a: 1\n---\nb: 2\n", 2, "second document"),
        ("a:\n\t- 1\n", 2, "tab"),
        ("a: b: c\n", 1, "colon"),
        ("a: [1,\nb: 2\n", 1, "close it"),
        ("a: 'x\n", 1, "never closed"),
        ("a: 1\n b: 2\n", 2, "ind"),
        ("a: 1\nb\n", 3, "key: value"),
        ("a: @x\n", 1, "quotes"),
        ('a: "\\q"\n', 1, "single quotes"),
        ("a: x\x00y\n", 1, "U+0000"),
        ("a: 1\nb: x\x1by\n", 2, "U+001B"),
        ("a: x\u2028y\n", 1, "U+2028"),
        ('a: "x\\u0007y"\n', 1, "U+0007"),
        ('"a\\tb": 1\n', 1, "hidden character in a key"),
        ("'': 1\n", 1, "plain text"),
        ("a: " + "[" * 40 + "]" * 40, 1, "nested too deep"),
        ("a: &a [*a, *a]\n", 1, "anchor"),
        ("%TAG ! x\n---\na: !b 1\n", 3, "tag"),
        ("a: 1\n...\n%YAML 9.9\n---\n", 3, "YAML"),
    ],
)
def test_names_the_line_and_the_way_out(text: str, line: int, words: str) -> None:
    message = refused(text)
    assert f"a.yaml, line {line}: " in message
    assert words in message
    assert "; " in message or ", " in message


@pytest.mark.parametrize("deep", ["[", "{a: ", "- ", "? ", "[{"])
def test_a_bomb_of_brackets_or_dashes_is_refused_without_reading_it_all(deep: str) -> None:
    assert "nested too deep" in refused(deep * 50_000)


@given(st.text(max_size=60) | st.text(alphabet="a:-[]{}&*!|>'\"#%@`,?\n \t\x00\\", max_size=60))
def test_any_text_is_read_or_refused_with_a_line(text: str) -> None:
    said = ""
    try:
        read(text)
    except UseError as error:
        said = str(error)
    assert all(line.startswith("a.yaml, line ") for line in said.splitlines())


def test_line_ends_of_windows_and_a_byte_order_mark_change_nothing() -> None:
    assert read("\ufeffa: 1\r\nb:\r\n  - c\r\n").plain() == {"a": 1, "b": ["c"]}


def test_a_file_that_cannot_be_read_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "latin.yaml").write_bytes(b"a: 1\nname: caf\xe9\n")
    (tmp_path / "big.yaml").write_bytes(b"#" * (LARGEST_BYTES + 1))
    for path, words in (
        (tmp_path / "none.yaml", "no such file"),
        (tmp_path, "folder"),
        (tmp_path / "latin.yaml", "line 2: this is no UTF-8"),
        (tmp_path / "big.yaml", "larger"),
        (Path("nul\0.yaml"), "cannot be read"),
        (tmp_path / ("x" * 300), "cannot be read"),
    ):
        with pytest.raises(UseError, match=words) as caught:
            read_text(path)
        assert len(str(caught.value).splitlines()) == 1


def test_text_is_read_with_its_line_ends(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_bytes("a: é\r\n".encode())
    assert read_text(tmp_path / "a.yaml") == "a: é\r\n"
