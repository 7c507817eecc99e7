"""The embedded broker takes and gives messages through a private socket."""

from __future__ import annotations

import os
import shutil
import signal
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

import kombu
import pytest
import redis

from registry.embedded import binaries
from registry.embedded.broker import BrokerDidNotStart, EmbeddedBroker


@pytest.fixture
def broker(tmp_path: Path) -> Iterator[EmbeddedBroker]:
    broker = EmbeddedBroker(tmp_path / "broker")
    yield broker
    broker.stop()


def send_and_receive(url: str, message: str) -> object:
    with kombu.Connection(url) as connection:
        queue = connection.SimpleQueue("test")
        queue.put(message)
        received = queue.get(timeout=2)
        received.ack()
        queue.close()
    return received.payload


def client_of(broker: EmbeddedBroker) -> redis.Redis:
    return redis.Redis(unix_socket_path=broker.url().removeprefix("redis+socket://"))


def test_a_message_sent_is_received(broker: EmbeddedBroker) -> None:
    assert send_and_receive(broker.start(), "hello") == "hello"


@pytest.mark.parametrize("name", ["two words", "percent % and ünïcode", "long" * 40])
def test_any_folder_name_will_do(tmp_path: Path, name: str) -> None:
    with EmbeddedBroker(tmp_path / name) as broker:
        assert send_and_receive(broker.url(), "hello") == "hello"


def test_the_broker_has_no_port_and_keeps_nothing(broker: EmbeddedBroker) -> None:
    broker.start()
    client = client_of(broker)

    assert client.config_get("port") == {"port": "0"}
    assert client.config_get("save") == {"save": ""}
    assert client.config_get("appendonly") == {"appendonly": "no"}


def test_nobody_else_may_reach_the_socket(broker: EmbeddedBroker) -> None:
    broker.start()

    assert stat.S_IMODE((broker.data / "socket").stat().st_mode) == 0o700


def test_a_second_start_finds_the_first_broker(broker: EmbeddedBroker) -> None:
    url = broker.start()
    client_of(broker).set("mark", "first")

    again = EmbeddedBroker(broker.data)

    assert again.start() == url
    assert client_of(again).get("mark") == b"first"


def test_leaving_a_block_that_only_found_the_broker_keeps_it_running(
    broker: EmbeddedBroker,
) -> None:
    broker.start()

    with EmbeddedBroker(broker.data):
        pass

    assert broker.running()


def test_a_killed_broker_is_started_again(broker: EmbeddedBroker) -> None:
    broker.start()
    info = client_of(broker).info("server")
    assert isinstance(info, dict)
    os.kill(info["process_id"], signal.SIGKILL)

    assert send_and_receive(broker.start(), "hello") == "hello"


def test_a_stopped_broker_leaves_no_socket(broker: EmbeddedBroker) -> None:
    broker.start()

    broker.stop()
    broker.stop()

    assert not broker.running()
    assert not (broker.data / "socket").exists()


def test_a_broker_that_cannot_start_points_to_its_log(
    broker: EmbeddedBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("registry.embedded.broker.find_broker", lambda: Path("/bin/false"))

    with pytest.raises(BrokerDidNotStart, match=r"server\.log"):
        broker.start()


def test_the_program_of_the_machine_serves_without_the_package(
    broker: EmbeddedBroker, monkeypatch: pytest.MonkeyPatch
) -> None:
    if not (shutil.which("valkey-server") or shutil.which("redis-server")):
        pytest.skip("this machine has no broker of its own")
    without_package: Callable[[str], list[Path]] = lambda package: []  # noqa: E731
    monkeypatch.setattr(binaries, "_package_folders", without_package)

    assert send_and_receive(broker.start(), "hello") == "hello"
