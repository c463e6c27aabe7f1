"""``plan.yaml``: read with its lines, added to with every character kept; its lines as they stand."""

from __future__ import annotations

from pathlib import Path

import pytest
from session_cases import session_with_a_part, variant

from audio.jobs.planning import plan_now
from audio.session import journal, layout, plans
from audio.session.opened import Session
from audio.vocab.chain import AmpAsSet, Chain, ChainFile, Chains, Pedal
from audio.vocab.errors import UseError
from audio.vocab.findings import Verdict
from audio.vocab.opinion import Opinion
from audio.vocab.plan import PlanNow
from audio.vocab.plan_file import Known, parse_plan
from audio.vocab.section import Covers, Section
from audio.vocab.variant import ChainAsSet, Variant, VariantState

KNOWN = Known(
    parts={"last ferry": ("left", "right"), "lamps": ("hook",)},
    chains=("crunch", "fuzz into delay"),
)


def keys(text: str) -> list[str]:
    return [one.key for one in parse_plan(text, where="plan.yaml", known=KNOWN).wanted]


def test_each_part_goes_through_each_chain_in_the_order_written() -> None:
    text = "passes:\n  - {parts: [left, hook], chains: [crunch, bare path]}"
    assert keys(text) == [
        "left through crunch",
        "hook through crunch",
        "left through bare path",
        "hook through bare path",
    ]


def test_all_and_a_song_stand_for_what_there_is() -> None:
    assert len(keys("passes: [{parts: all, chains: all}]")) == 6
    assert keys("passes: [{song: last ferry, chain: crunch}]") == [
        "left through crunch",
        "right through crunch",
    ]


def test_the_same_wanted_again_is_another_line() -> None:
    text = """\
passes:
  - {part: hook, chain: crunch, bars: 5-8, times: 2}
  - {part: hook, chain: crunch, bars: 5-8}
  - {part: hook, chain: crunch, seconds: 12.5-18}
"""
    assert keys(text) == [
        "hook through crunch, bars 5-8",
        "hook through crunch, bars 5-8 (2)",
        "hook through crunch, bars 5-8 (3)",
        "hook through crunch, 12.5-18 s",
    ]


def test_capitals_do_not_make_another_part_or_chain() -> None:
    assert keys("passes: [{parts: [Hook, hook], chains: [CRUNCH, Bare Path, Wah]}]") == [
        "hook through crunch",
        "hook through bare path",
        "hook through Wah",
    ]


def test_more_passes_than_anybody_plays_are_refused_before_they_are_counted_out() -> None:
    many = ", ".join(f"n{number}" for number in range(3000))
    with pytest.raises(UseError, match="line 2: over 5000 passes"):
        keys(f"passes:\n  - {{parts: [{many}], chains: [{many}], times: 20}}")


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("passes:\n  - {part: hook}", 2, "chain is missing"),
        ("passes:\n  - {chain: crunch}", 2, "part is missing"),
        ("passes:\n  - {part: hook, chain: crunch, bar: 5}", 2, "did you mean bars"),
        ("passes:\n  - {song: nowhere, chain: crunch}", 2, "there is no song 'nowhere'"),
        ("passes:\n  - {song: lamps, part: hook, chain: crunch}", 2, "not both"),
        ("passes:\n  - {part: hook, chain: a, chains: [b]}", 2, "not both"),
        ("passes:\n  - {part: hook, chain: a, bars: 8-5}", 2, "end before they begin"),
        ("passes:\n  - {part: hook, chain: a, bars: 5, seconds: 1-2}", 2, "not both"),
        ("passes:\n  - {part: hook, chain: a, bars: [5]}", 2, "such as bars: 5-8"),
        ("passes:\n  - {part: hook, chain: a, times: 0}", 2, "from 1 to 20"),
        ("costs: {knob: -1}\npasses: []", 1, "from 0 to"),
        ("costs: {nob: 1}\npasses: []", 1, "did you mean knob"),
        ("passes: crunch", 1, "not a list"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_the_way_out(text: str, line: int, says: str) -> None:
    with pytest.raises(UseError) as told:
        keys(text)
    assert f"plan.yaml, line {line}:" in str(told.value)
    assert says in str(told.value)


# ---------------------------------------------------------------- adding to it


def put(session: Session, text: str) -> Path:
    path = layout.plan_yaml(session.folder)
    path.write_text(text, encoding="utf-8")
    return path


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# our evening\n",
        "passes:\n  - {part: rhythm-left, chain: fuzz}   # loud\n",
        "costs: {knob: 2}\npasses:\n- part: rhythm-left\n  chain: fuzz",
        "passes: []\n"[:7] + "\n",
    ],
)
def test_what_is_wanted_is_added_at_the_end_and_all_that_was_written_stays(
    tmp_path: Path, text: str
) -> None:
    session = session_with_a_part(tmp_path)
    path = put(session, text)
    before = plans.read_plan(session, Chains(found=(), problems=())).wanted
    plans.want(session, parts=("rhythm-left",), chains=("a: b", "crunch"))
    section = Section(from_bar=5, to_bar=8)
    plans.want(session, parts=("rhythm-left",), chains=("crunch",), section=section)
    assert path.read_text(encoding="utf-8").startswith(text)
    after = plans.read_plan(session, Chains(found=(), problems=())).wanted
    assert after[: len(before)] == before
    assert [one.key for one in after[len(before) :]] == [
        "rhythm-left through a: b",
        "rhythm-left through crunch",
        "rhythm-left through crunch, bars 5-8",
    ]


def test_a_plan_that_cannot_be_added_to_is_left_alone_and_the_line_is_told(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    text = "passes: [{part: rhythm-left, chain: fuzz}]\ncosts: {knob: 1}\n"
    path = put(session, text)
    with pytest.raises(UseError, match="add this line to its passes by hand"):
        plans.want(session, parts=("rhythm-left",), chains=("crunch",))
    assert path.read_text(encoding="utf-8") == text
    with pytest.raises(UseError, match="there is no part"):
        plans.want(session, parts=("nobody",), chains=("crunch",))


# ---------------------------------------------------------------- its lines as they stand

CHAINS = Chains(
    found=tuple(
        ChainFile(
            chain=Chain(name=name, pedals=tuple(Pedal(name=p) for p in pedals)), file="a.yaml"
        )
        for name, pedals in {
            "crunch": ("drive",),
            "crunch and delay": ("drive", "delay"),
            "fuzz": ("fuzz", "wah", "phase"),
        }.items()
    ),
    problems=(),
)


def made(
    number: int,
    chain: str,
    *,
    verdict: Verdict = "good",
    state: VariantState = "kept",
    covers: str = "",
) -> Variant:
    section = Covers(text=covers, from_frame=0, frames=9, section_from_frame=1, section_to_frame=8)
    one = variant(number)
    return Variant(
        **{
            **{key: getattr(one, key) for key in one.__struct_fields__},
            "chain": ChainAsSet(name=chain),
            "verdict": verdict,
            "state": state,
            "covers": section if covers else None,
        }
    )


def planned(session: Session, *variants: Variant, said: tuple[Opinion, ...] = ()) -> PlanNow:
    return plan_now(session, chains=CHAINS, variants=variants, opinions=said)


def states(plan: PlanNow) -> dict[str, tuple[str, int | None]]:
    return {one.wanted.key.partition("through ")[2]: (one.state, one.number) for one in plan.lines}


def test_lines_come_in_the_order_that_replugs_least_from_what_is_plugged_in(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(
        session,
        "passes:\n  - {part: rhythm-left, chains: [crunch, fuzz, crunch and delay, bare path]}\n",
    )
    plan = planned(session)
    chains = [one.wanted.chain for one in plan.lines]
    assert chains[0] == "bare path"
    assert abs(chains.index("crunch") - chains.index("crunch and delay")) == 1
    assert plan.cost < plan.written_cost
    assert plan.exact
    after_fuzz = planned(session, made(1, "fuzz"))
    assert [one.wanted.chain for one in after_fuzz.lines][:2] == ["fuzz", "bare path"]
    assert after_fuzz.lines[0].state == "done"
    assert [one.name for one in after_fuzz.lines[1].touch] == ["fuzz", "wah", "phase"]


def test_a_line_is_answered_by_what_was_played_and_not_by_what_is_to_be_done_again(
    tmp_path: Path,
) -> None:
    session = session_with_a_part(tmp_path)
    put(
        session,
        "passes:\n  - {part: rhythm-left, chains: [crunch, fuzz], times: 2}\n"
        "  - {part: rhythm-left, chain: crunch, bars: 2-3}\n",
    )
    variants = (
        made(1, "crunch"),
        made(2, "crunch", verdict="redo"),
        made(3, "fuzz", verdict="look"),
        made(4, "fuzz", state="stopped"),
        made(5, "fuzz"),
        made(6, "crunch", covers="bars 2-3"),
    )
    assert states(planned(session, *variants)) == {
        "crunch": ("done", 1),
        "crunch (2)": ("to do", 2),
        "fuzz": ("done", 3),
        "fuzz (2)": ("done", 5),
        "crunch, bars 2-3": ("done", 6),
    }


def test_opinions_change_what_answers_a_line(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chains: [crunch, fuzz]}\n")
    corrected = Opinion(part="rhythm-left", number=1, chain="fuzz")
    assert states(planned(session, made(1, "crunch"), said=(corrected,))) == {
        "fuzz": ("done", 1),
        "crunch": ("to do", None),
    }
    gone = Opinion(part="rhythm-left", number=1, discarded=True)
    assert states(planned(session, made(1, "crunch"), said=(gone,)))["crunch"] == ("to do", None)


def test_hand_made_order_skips_and_repeats_stand_in_the_journal(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chains: [crunch, crunch and delay, fuzz]}\n")
    lines = [one.wanted.key for one in planned(session).lines]
    by_hand = (lines[2], lines[0])
    plans.order_by_hand(session, by_hand)
    plans.skip(session, lines[0], skipped=True)
    plan = planned(session)
    assert [one.wanted.key for one in plan.lines] == [lines[2], lines[0], lines[1]]
    assert (plan.by_hand, plan.lines[1].state) == (True, "skipped")
    plans.skip(session, lines[0], skipped=False)
    plans.again(session, lines[2])
    variants = (made(1, plan.lines[0].wanted.chain),)
    assert planned(session, *variants).lines[0].state == "to do"
    plans.order_by_hand(session, ())
    assert not planned(session).by_hand


def test_what_a_line_took_is_told_beside_it(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chain: crunch}\n")
    journal.append(
        session.folder, "run pass", run=1, part="rhythm-left", number=1, took_s=93.5, key="x"
    )
    assert planned(session, made(1, "crunch")).lines[0].took_s == 93.5


def of(*files: Chain) -> Chains:
    return Chains(found=tuple(ChainFile(chain=one, file="a.yaml") for one in files), problems=())


def amp(name: str) -> AmpAsSet:
    return AmpAsSet(name=name, loop=(Pedal(name="delay"),) if name == "left" else ())


TWO_AMPS = of(
    Chain(name="crunch", pedals=(Pedal(name="drive"),), amps=(amp("left"),)),
    Chain(name="clean", amps=(amp("right"),)),
)


def test_an_amp_is_told_as_another_one_also_after_chains_that_do_not_mention_it(
    tmp_path: Path,
) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chains: [clean, bare path]}\n")
    plan = plan_now(session, chains=TWO_AMPS, variants=(made(1, "crunch"),), opinions=())
    assert [one.wanted.chain for one in plan.lines] == ["bare path", "clean"]
    assert [(one.kind, one.name) for one in plan.lines[0].touch] == [
        ("out", "drive"),
        ("out", "delay"),
    ]
    assert [(one.kind, one.name) for one in plan.lines[1].touch] == [
        ("out", "left"),
        ("new", "right"),
    ]
    assert plan.cost == sum(one.cost for one in plan.lines)
    after = (made(1, "crunch"), made(2, "bare path"), made(3, "nobody knows"))
    late = plan_now(session, chains=TWO_AMPS, variants=after, opinions=())
    assert ("new", "right") in [(one.kind, one.name) for one in late.lines[-1].touch]


@pytest.mark.parametrize(
    ("at", "plugged"),
    [("2026-11-25T12:30:00+01:00", "no pedal"), ("2026-11-25T11:30:00+01:00", "the variant's")],
)
def test_where_the_bare_path_was_measured_since_every_pedal_is_new(
    tmp_path: Path, at: str, plugged: str
) -> None:
    session = session_with_a_part(tmp_path)  # its variants are made at noon
    put(session, "passes:\n  - {part: rhythm-left, chain: crunch and delay}\n")
    journal.append(session.folder, "run bare", run=1, clock=lambda: at)
    (line,) = planned(session, made(1, "crunch")).lines
    new = ["drive", "delay"] if plugged == "no pedal" else ["delay"]
    assert [one.name for one in line.touch] == new


def test_what_somebody_plugged_in_for_a_run_counts_though_nothing_was_recorded(
    tmp_path: Path,
) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chain: Crunch}\n")
    late = {"run": 1, "clock": lambda: "2026-11-25T13:00:00+01:00"}
    journal.append(session.folder, "run bare", **late)  # type: ignore[arg-type]
    for chain in ("CRUNCH", 7):
        journal.append(session.folder, "run line", key="k", part="p", chain=chain, **late)  # type: ignore[arg-type]
    assert planned(session, made(1, "fuzz")).lines[0].touch == ()


def test_the_order_is_not_called_the_best_where_that_is_not_known(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    quiet = Chain(name="quiet", pedals=(Pedal(name="wah"),))
    put(session, "passes:\n  - {part: rhythm-left, chains: [crunch, quiet, clean]}\n")
    known = of(*(one.chain for one in TWO_AMPS.found), quiet)
    plan = plan_now(session, chains=known, variants=(), opinions=())
    assert (plan.exact, plan.cost > 40.0) == (
        False,
        True,
    )  # the other amp has to be paid for somewhere
    put(session, "passes:\n  - {part: rhythm-left, chains: [crunch, clean]}\n")
    assert plan_now(session, chains=known, variants=(), opinions=()).exact


def test_of_a_chain_without_a_file_nobody_tells_what_to_touch(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chains: [wah by the door, bare path]}\n")
    bare, wah = planned(session, made(1, "crunch")).lines
    assert (bare.known, [one.kind for one in bare.touch]) == (True, ["out"])
    assert (wah.known, wah.touch, wah.cost > 0.0) == (False, (), True)


def test_a_variant_answers_its_line_whatever_its_capitals(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chain: crunch}\n")
    assert states(planned(session, made(1, "Crunch"))) == {"crunch": ("done", 1)}


def test_what_was_read_is_not_read_again_and_a_change_is_seen(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: rhythm-left, chain: crunch}\n")
    first = plans.read_plan(session, CHAINS)
    assert plans.read_plan(session, CHAINS) is first
    put(session, "passes:\n  - {part: rhythm-left, chain: fuzz}  # now\n")
    assert [one.chain for one in plans.read_plan(session, CHAINS).wanted] == ["fuzz"]


@pytest.mark.parametrize(
    "line",
    [
        '{"at": "now", "event": "plan ordered", "keys": 7}',
        '{"at": "now", "event": "plan ordered", "keys": [7]}',
        '{"at": "now", "event": "line skipped", "key": ["a"], "skipped": true}',
        '{"at": "now", "event": "line again", "key": null}',
        '{"at": "now", "event": "run pass", "part": [], "number": "x", "took_s": "long"}',
        '{"at": "now", "event": "run pass", "part": "a", "number": 1, "took_s": true}',
        '{"event": "plan ordered"}',
        "plan ordered",
    ],
)
def test_a_line_of_the_journal_that_is_none_changes_nothing(tmp_path: Path, line: str) -> None:
    session = session_with_a_part(tmp_path)
    with layout.journal(session.folder).open("a", encoding="utf-8") as file:
        file.write(line + "\n")
    assert plans.noted(session) == plans.Noted()


def test_bars_of_a_song_without_a_tempo_cannot_be_played_and_seconds_can(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    entry = "  - {part: rhythm-left, chain: crunch, "
    put(session, f"passes:\n{entry}bars: 5-8}}\n{entry}seconds: 1-2}}\n")
    bars, seconds = planned(session).lines
    assert (bars.state, seconds.state) == ("cannot", "to do")
    assert "has no tempo" in bars.why
    assert "ask for seconds" in bars.why
    plans.skip(session, bars.wanted.key, skipped=True)
    assert [one.state for one in planned(session).lines] == ["skipped", "to do"]


def test_a_part_that_is_gone_is_said_and_a_wrong_file_is_no_error(tmp_path: Path) -> None:
    session = session_with_a_part(tmp_path)
    put(session, "passes:\n  - {part: gone, chain: crunch}\n")
    line = planned(session).lines[0]
    assert (line.state, line.why.partition(";")[0]) == (
        "cannot",
        "there is no part 'gone' any more",
    )
    put(session, "passes: [")
    assert "line 1" in planned(session).problem
