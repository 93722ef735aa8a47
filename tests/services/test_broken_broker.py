"""What happens to Redis: killed, emptied, restarted, cut off, or silent. No job is lost with it."""

import signal
import socket
import time

import pytest
import redis

from tests.services.drill_lab import wait_until

pytestmark = [pytest.mark.services, pytest.mark.xdist_group("drills")]

FULL = pytest.mark.full
#: Two sweeps of the product, and the time to run the jobs.
TWO_SWEEPS_S = 2 * 15 + 5


def kill_and_start(server):
    """A crash: with nothing kept on disk, every message is gone."""
    server.kill()
    server.start()


def empty(server):
    """Somebody empties the broker."""
    with redis.Redis.from_url(server.url) as client:
        client.flushall()


def drop_all_connections(server):
    """A proxy or firewall between forgets every connection."""
    with redis.Redis.from_url(server.url) as client:
        for kind in ("normal", "pubsub"):
            client.execute_command("CLIENT", "KILL", "TYPE", kind, "SKIPME", "yes")


@pytest.mark.parametrize("rounds", [1, pytest.param(5, marks=FULL)])
@pytest.mark.parametrize("injure", [kill_and_start, empty])
def test_jobs_whose_messages_are_lost_are_run_all_the_same(lab, private_redis, injure, rounds):
    """Fifty wait behind four long ones when the broker loses everything."""
    slowest_s = 0.0
    for _ in range(rounds):
        long = lab.submit("drill_work", 4, seconds=1.5)["ids"]
        lab.wait_for_state(long, "running", 20)
        waiting = lab.submit("drill_work", 50)["ids"]
        injure(private_redis)
        assert set(lab.states(waiting)) == {"queued"}
        slowest_s = max(slowest_s, lab.wait_for_state(waiting + long, "done", TWO_SWEEPS_S))
        assert lab.count("drillresult", waiting + long) == 54
    print(f"slowest: {slowest_s:.1f} s")


@pytest.mark.parametrize(
    ("injure", "rounds"),
    [
        (kill_and_start, 2),
        (drop_all_connections, 4),
        pytest.param(kill_and_start, 12, marks=FULL),
        pytest.param(drop_all_connections, 40, marks=FULL),
    ],
)
def test_a_canary_comes_through_after_the_connection_broke(lab, private_redis, injure, rounds):
    """A worker that reconnects and then takes nothing is the fault that asking it does not show."""
    slowest_s = 0.0
    for _ in range(rounds):
        injure(private_redis)
        canary = lab.submit("canary")["ids"]
        slowest_s = max(slowest_s, lab.wait_for_state(canary, "done", 30))
    print(f"slowest: {slowest_s:.1f} s")


@pytest.mark.parametrize("count", [2, pytest.param(20, marks=FULL)])
def test_a_broker_that_falls_silent_holds_up_no_page_and_loses_no_job(lab, private_redis, count):
    """The process is stopped, so that it accepts connections and never answers."""
    lab.submit("canary")  # the connection is there and was used
    slowest_s, ids = 0.0, []
    private_redis.process.send_signal(signal.SIGSTOP)
    try:
        for _ in range(count):
            answer = lab.submit("drill_trusting")
            slowest_s = max(slowest_s, answer["took_s"])
            ids += answer["ids"]
            time.sleep(10 / lab.speed)  # until the console tries the broker again
        burst = lab.submit("drill_trusting", 40)
        ids += burst["ids"]
    finally:
        private_redis.process.send_signal(signal.SIGCONT)
    print(f"page: {slowest_s:.2f} s")
    assert slowest_s <= 5, "the page that submits waits too long"
    assert burst["took_s"] <= 5, "a page with many jobs waits once, not for each"
    recovered_s = lab.wait_for_state(ids, "done", 60)
    print(f"recovered: {recovered_s:.1f} s")
    assert lab.count("drillresult", ids) == count + 40


@pytest.mark.parametrize("silence_s", [3, pytest.param(60, marks=FULL)])
def test_a_silence_in_which_jobs_end_costs_the_worker_none_of_its_children(lab, private_redis, silence_s):
    """An acknowledgement given up would leave its place taken, until a worker that looks well is deaf."""
    for _ in range(2):
        ending = lab.submit("drill_work", 4, seconds=1)["ids"]
        lab.wait_for_state(ending, "running", 20)
        private_redis.process.send_signal(signal.SIGSTOP)
        time.sleep(silence_s)
        private_redis.process.send_signal(signal.SIGCONT)
        lab.wait_for_state(ending, "done", 30)
    wait_until(
        lambda: lab.rows("SELECT 1 FROM jobs_job WHERE state IN ('queued', 'running')") == [], 30, "idle"
    )
    four = lab.submit("drill_work", 4, seconds=3)["ids"]
    lab.wait_for_state(four, "running", 10)
    lab.wait_for_state(four, "done", 20)


def test_a_broker_that_never_answered_is_no_reason_not_to_save(lab, private_redis):
    """A console that starts while nothing but an open port is there."""
    with socket.create_server(("127.0.0.1", 0)) as hole:
        lab.close_console()
        lab.environment["LABSITE_REDIS_URL"] = f"redis://127.0.0.1:{hole.getsockname()[1]}/0"
        try:
            answer = lab.submit("drill_work")
        finally:
            lab.environment["LABSITE_REDIS_URL"] = private_redis.url
            lab.close_console()
    assert answer["took_s"] <= 5
    lab.wait_for_state(answer["ids"], "done", TWO_SWEEPS_S)


def test_the_worker_s_sweep_sends_a_canary_by_itself(lab):
    """Nobody has to ask for the sign of life that the health page reads."""
    done = "SELECT count(*) FROM jobs_job WHERE kind = 'canary' AND dedupe_key = 'canary' AND state = 'done'"
    wait_until(lambda: lab.rows(done)[0][0] > 0, 20, "a canary of the sweep is done")
