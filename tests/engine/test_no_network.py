"""Nothing of the program is on a network, not even on this machine's own."""

from __future__ import annotations

import os
import re
import socket
from pathlib import Path

from needs import needs_samples
from sitting import Sitting, begins, make_session

from audio.jobs import news
from audio.jobs.cards import CardServer
from audio.jobs.orders import RunPass

pytestmark = needs_samples()

_SOCKET = re.compile(r"socket:\[(\d+)\]")


def sockets(pid: int) -> set[str]:
    """Return the inodes of a process's sockets."""
    found = set()
    for fd in Path(f"/proc/{pid}/fd").iterdir():
        try:
            match = _SOCKET.fullmatch(str(fd.readlink()))
        except FileNotFoundError:  # closed meanwhile
            continue
        if match:
            found.add(match[1])
    return found


def on_a_network(pid: int) -> set[str]:
    """Return the inodes of a process's sockets that the system lists under an Internet protocol."""
    listed = set()
    for protocol in ("tcp", "tcp6", "udp", "udp6", "raw", "raw6"):
        table = Path(f"/proc/{pid}/net/{protocol}")
        if table.exists():
            listed |= {row.split()[9] for row in table.read_text().splitlines()[1:]}
    return sockets(pid) & listed


def local() -> set[str]:
    """Return the inodes of the sockets that cannot leave this machine."""
    return {line.split()[6] for line in Path("/proc/net/unix").read_text().splitlines()[1:]}


def test_a_listening_and_a_sending_socket_would_be_seen() -> None:
    with socket.create_server(("127.0.0.1", 0)), socket.socket(type=socket.SOCK_DGRAM) as sender:
        sender.connect(("127.0.0.1", 9))
        assert len(on_a_network(os.getpid())) == 2
    assert not on_a_network(os.getpid())


def test_no_process_of_a_pass_is_on_a_network(tmp_path: Path) -> None:
    looked: list[tuple[int, set[str], set[str]]] = []
    with Sitting(make_session(tmp_path, riff=1.0)) as desk:
        desk.until(news.Ready)
        desk.opened()

        def look() -> None:
            pids = {os.getpid(), desk.engine_pid, *desk.new_children()}
            looked.extend((pid, on_a_network(pid), sockets(pid) & local()) for pid in pids)

        with CardServer(tmp_path, asked=print):
            desk.when(begins("pass"), look, desk.runner.stop)
            desk.obeyed(RunPass(part="riff", chain="plain"))
    assert len({pid for pid, _, _ in looked}) >= 3, "face, engine and worker"
    assert all(not inet for _, inet, _ in looked)
    faces = next(mine for pid, _, mine in looked if pid == os.getpid())
    assert faces, "the card's own socket was there to be seen"
