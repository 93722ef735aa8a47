"""Set the fields of a row: checked all together, saved, and told as before and after."""

from django.core.exceptions import ValidationError
from django.db import models

from labsite.common.errors import InvalidInput


def check_fields(row: models.Model, *names: str, also: tuple[dict, ...] = ()) -> None:
    """Raise InvalidInput with every fault of the named fields, and those found already."""
    others = {field.name for field in row._meta.fields} - set(names)
    problems = [*also, *_problems(row.clean_fields, others)]
    # A value that can't be stored can't be looked for either.
    bad = {problem["field"] for problem in problems}
    problems += _problems(row.validate_unique, others | bad)
    if problems:
        raise InvalidInput(problems[0]["message"], field=problems[0]["field"], problems=tuple(problems))


def _problems(check, exclude: set[str]) -> list[dict]:
    try:
        check(exclude=exclude)
    except ValidationError as fault:
        by_field = fault.message_dict.items()
        return [{"field": name, "message": text} for name, messages in by_field for text in messages]
    return []


def change_fields(row: models.Model, **values) -> tuple[dict, dict]:
    """Give a row new values and save what differs; return those fields before and after."""
    before = {name: getattr(row, name) for name in values}
    for name, value in values.items():
        setattr(row, name, value.strip() if isinstance(value, str) else value)
    check_fields(row, *values)
    after = {name: getattr(row, name) for name in values}
    changed = [name for name in values if before[name] != after[name]]
    if changed:
        row.save(update_fields=changed)
    return {name: before[name] for name in changed}, {name: after[name] for name in changed}
