"""A script does the lab's main job from end to end with two tokens, a member's and an admin's."""

from labsite.jobs.runner import run_waiting_jobs
from tests.factories.main_job import MainJob
from tests.factories.scripts import Script


def test_the_main_job_with_tokens_alone(owner, admin):
    MainJob(Script(owner), Script(admin), finish_jobs=run_waiting_jobs).run()
