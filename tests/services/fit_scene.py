"""A member's saved readings, in a process of a production lab: ``python -m tests.services.fit_scene``.

Prints the ids of the roll and of the job that fits it, as JSON.
"""

import json

import django


def main() -> None:
    """Make the people, the standards and a roll with readings, through the services."""
    from curves.services.readings import record_readings
    from labsite.accounts.models import User
    from labsite.jobs.models import Job
    from tests.factories.rolls import make_batch, make_roll, make_standards, reading_values

    admin = User.objects.create_user("admin", "grey-card-18", display_name="Ada Minster", role="admin")
    member = User.objects.create_user("owner", "grey-card-18", display_name="Ola Ownfield")
    roll = make_roll(member, make_batch(member), make_standards(admin))
    record_readings(actor=member, strip_id=roll.strips.get().pk, values=reading_values(roll))
    job = Job.objects.get(kind="fit_roll")
    print(json.dumps({"roll": roll.pk, "job": str(job.pk)}))


if __name__ == "__main__":
    django.setup()
    main()
