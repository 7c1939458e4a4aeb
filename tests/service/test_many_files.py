"""A client whose socket is numbered beyond what select(2) can see, as with hundreds of ponds."""

from __future__ import annotations

import fcntl
import resource
import select
import socket
from collections.abc import Iterator

import pytest

from dawnline.service.many_files import Poll


@pytest.fixture
def high() -> Iterator[tuple[socket.socket, socket.socket]]:
    """A socket numbered above 2000, and the other end."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    if hard != resource.RLIM_INFINITY and hard < 4000:
        pytest.skip("this user may not open 4000 files")
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, 4000), hard))
    low, other = socket.socketpair()
    one = socket.socket(fileno=fcntl.fcntl(low.fileno(), fcntl.F_DUPFD_CLOEXEC, 2000))
    low.close()
    yield one, other
    one.close()
    other.close()
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def test_it_sees_what_can_be_read_and_written(high: tuple[socket.socket, socket.socket]) -> None:
    one, other = high
    with pytest.raises(ValueError, match="out of range"):
        select.select([one], [], [], 0)
    assert Poll.select([one], [], [], 0.0) == ([], [], [])
    assert Poll.select([one], [one], [], 0.0) == ([], [one], [])
    other.send(b"x")
    assert Poll.select([one], [], [], 1.0) == ([one], [], [])
    one.recv(1)
    other.close()
    assert Poll.select([one], [], [], 1.0) == ([one], [], [])  # a hang-up is found by reading
    assert one.recv(1) == b""


def test_a_closed_socket_is_refused_as_by_select(high: tuple[socket.socket, socket.socket]) -> None:
    one, _ = high
    one.close()
    with pytest.raises(ValueError, match="negative"):
        Poll.select([one], [], [], 0.0)
