"""Orders that come while another one is under way: obeyed beside it, or it ends and they come next."""

from __future__ import annotations

import queue

import pytest

from audio.jobs.deck import StoppedError
from audio.jobs.desk_listening import MEANWHILE
from audio.jobs.order_queue import OrderQueue
from audio.jobs.orders import Asked, CloseStream, Listen, OpenStream, RunPass, SayOfVariant

NOW = 0.0
LISTEN = Listen(part="riff")
PASS = RunPass(part="riff", chain="plain")
FIRST, SECOND = (SayOfVariant(part="riff", number=1, rating=stars) for stars in (2, 3))


@pytest.fixture
def orders() -> OrderQueue:
    """A queue whose listening is under way."""
    one = OrderQueue()
    one.put(LISTEN)
    assert one.next(NOW) == LISTEN
    return one


def beside(orders: OrderQueue) -> Asked | None:
    return orders.beside(MEANWHILE)


def nothing_waits(orders: OrderQueue) -> bool:
    try:
        orders.next(NOW)
    except queue.Empty:
        return True
    return False


def test_what_may_be_said_meanwhile_is_obeyed_beside_in_order_and_stops_nothing(
    orders: OrderQueue,
) -> None:
    orders.put(FIRST)
    orders.put(SECOND)
    assert [beside(orders), beside(orders), beside(orders)] == [FIRST, SECOND, None]
    assert not orders.stop_asked()
    assert nothing_waits(orders), "none is obeyed twice"


@pytest.mark.parametrize("other", [PASS, LISTEN, OpenStream(), CloseStream()])
def test_any_other_order_stops_what_is_under_way_and_comes_next(
    orders: OrderQueue, other: Asked
) -> None:
    orders.put(other)
    assert not orders.stop_asked(), "nobody has looked yet"
    assert beside(orders) is None
    assert orders.stop_asked()
    assert orders.next(NOW) == other
    assert not orders.stop_asked(), "it is under way itself now"
    assert not orders.refuse_forgotten(other)


def test_what_waits_behind_such_an_order_is_obeyed_behind_it(orders: OrderQueue) -> None:
    for one in (FIRST, PASS, SECOND):
        orders.put(one)
    assert beside(orders) == FIRST
    assert [beside(orders), beside(orders)] == [None, None]
    assert [orders.next(NOW), orders.next(NOW)] == [PASS, SECOND]
    assert nothing_waits(orders)


def test_the_end_stops_what_is_under_way_and_is_next(orders: OrderQueue) -> None:
    orders.put(FIRST)
    orders.close()
    assert beside(orders) == FIRST
    assert not orders.stop_asked()
    assert beside(orders) is None
    assert orders.stop_asked()
    assert orders.next(NOW) is None


def test_a_stop_still_stops_and_what_is_said_meanwhile_is_still_noted(orders: OrderQueue) -> None:
    orders.put(FIRST)
    orders.stop()
    assert orders.stop_asked()
    assert beside(orders) == FIRST
    orders.put(SECOND)
    assert orders.next(NOW) == SECOND
    assert not orders.refuse_forgotten(SECOND), "put in after the stop"


def test_a_stop_forgets_the_order_that_was_kept_where_it_would_have_sounded(
    orders: OrderQueue,
) -> None:
    orders.put(PASS)
    assert beside(orders) is None
    orders.stop()
    assert orders.next(NOW) == PASS
    with pytest.raises(StoppedError):
        orders.refuse_forgotten(PASS)


def test_a_stop_forgets_what_was_put_in_so_far_also_where_another_order_was_kept_before(
    orders: OrderQueue,
) -> None:
    orders.put(OpenStream())
    assert beside(orders) is None
    orders.put(PASS)
    orders.stop()
    assert orders.next(NOW) == OpenStream()
    assert orders.refuse_forgotten(OpenStream())
    assert orders.next(NOW) == PASS
    with pytest.raises(StoppedError):
        orders.refuse_forgotten(PASS)
