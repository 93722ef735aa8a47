"""The servers that the other tests in this folder stand on are real, private and answer."""

import psycopg
import pytest
import redis

from tests.private_servers import NotInstalled, find_program


def test_a_program_that_is_not_there_is_named_with_the_command_that_brings_it():
    with pytest.raises(
        NotInstalled, match=r"no-such-server is not installed \(Debian: apt-get install a-package\)"
    ):
        find_program("no-such-server", "/nowhere/*/no-such-server", package="a-package")


@pytest.mark.services
def test_postgres_answers_and_is_of_a_supported_version(private_postgres):
    with psycopg.connect(private_postgres.url) as connection:
        version = connection.execute("SHOW server_version_num").fetchone()[0]
        folder = connection.execute("SHOW data_directory").fetchone()[0]
    assert int(version) >= 140000  # the oldest that Django 5.2 supports
    assert folder == str(private_postgres.folder / "data")


@pytest.mark.services
def test_redis_answers_and_survives_a_kill_and_a_start(private_redis):
    client = redis.Redis.from_url(private_redis.url)
    client.set("a", "1")
    assert client.get("a") == b"1"
    private_redis.kill()
    private_redis.start()
    assert client.get("a") is None  # nothing is kept: it is another process
    client.close()
