"""The servers that the other tests in this folder stand on are real, private and answer."""

import psycopg
import pytest
import redis

pytestmark = pytest.mark.services


def test_postgres_answers_and_is_of_a_supported_version(private_postgres):
    with psycopg.connect(private_postgres.url) as connection:
        version = connection.execute("SHOW server_version_num").fetchone()[0]
        folder = connection.execute("SHOW data_directory").fetchone()[0]
    assert int(version) >= 140000  # the oldest that Django 5.2 supports
    assert folder == str(private_postgres.folder / "data")


def test_redis_answers_and_survives_a_kill_and_a_start(private_redis):
    client = redis.Redis.from_url(private_redis.url)
    client.set("a", "1")
    assert client.get("a") == b"1"
    private_redis.kill()
    private_redis.start()
    assert client.get("a") is None  # nothing is kept: it is another process
    client.close()
