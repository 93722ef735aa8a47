"""Fields of what scripts send and get: finite numbers, whole numbers that fit, words out of a list."""

import math
from collections.abc import Mapping

from django.db import models
from django.http import QueryDict
from drf_spectacular.extensions import OpenApiSerializerFieldExtension
from drf_spectacular.plumbing import ResolvedComponent
from rest_framework import serializers

#: The largest values of the database's number columns.
LARGEST_WHOLE = 2**31 - 1
LARGEST_ID = 2**63 - 1


class Given(serializers.Serializer):
    """What a script sends. A name that is not asked for is refused: it may be a misspelt one."""

    #: Names that are read elsewhere.
    beside: frozenset[str] = frozenset()

    def to_internal_value(self, data):
        """Return the values that were given; tell unknown names and faulty values all at once."""
        unknown = self._unknown(data)
        try:
            values = super().to_internal_value(data)
        except serializers.ValidationError as refusal:
            raise serializers.ValidationError({**refusal.detail, **unknown}) from None
        if unknown:
            raise serializers.ValidationError(unknown)
        return values

    def _unknown(self, data) -> dict[str, list[str]]:
        names = set(data) - set(self.fields) - self.beside if isinstance(data, Mapping) else set()
        known = ", ".join(self.fields) or "nothing"
        message = f"This name is not known here. What can be given: {known}."
        # JSON can write halves of characters, which no answer can.
        return {name.encode(errors="backslashreplace").decode(): [message] for name in names}


class Asked(Given):
    """What the address of a list asks for, apart from its page."""

    beside = frozenset({"page", "page_size", "format"})

    def __init__(self, *, query: QueryDict | None = None, **options):
        """Take the query apart: a name may be repeated where a list is asked for; empty wants all."""
        if query is not None:
            options["data"] = {name: self._values(query, name) for name in query if query[name] != ""}
        super().__init__(**options)

    def _values(self, query: QueryDict, name: str) -> str | list[str]:
        is_list = isinstance(self._declared_fields.get(name), serializers.ListField)
        return query.getlist(name) if is_list else query[name]


class Number(serializers.FloatField):
    """A finite number; true and false are none."""

    def to_internal_value(self, data) -> float:
        """Return the number, or refuse what JSON can write but no column can keep."""
        if isinstance(data, bool):
            self.fail("invalid")
        try:
            number = super().to_internal_value(data)
        except OverflowError:
            self.fail("invalid")
        if not math.isfinite(number):
            self.fail("invalid")
        return number


def whole(**options) -> serializers.IntegerField:
    """Return a field for a count or a time that fits its column."""
    return serializers.IntegerField(**{"min_value": 0, "max_value": LARGEST_WHOLE} | options)


def identifier(**options) -> serializers.IntegerField:
    """Return a field for the id of a row."""
    return serializers.IntegerField(min_value=1, max_value=LARGEST_ID, **options)


def text(**options) -> serializers.CharField:
    """Return a field for words that may be left empty; where they may not, the service says so."""
    return serializers.CharField(allow_blank=True, **options)


class Choice(serializers.ChoiceField):
    """One word of an enumeration, which the document names once."""

    def __init__(self, enumeration: type[models.TextChoices], *, name: str = "", **options):
        self.enumeration = enumeration
        self.component_name = name or enumeration.__name__
        super().__init__(choices=enumeration.choices, **options)
        self.error_messages["invalid_choice"] = f"Give one of: {', '.join(enumeration.values)}."


class ChoiceComponent(OpenApiSerializerFieldExtension):
    """Puts each enumeration into the document as a schema of its own."""

    target_class = Choice

    def map_serializer_field(self, auto_schema, direction) -> dict:
        """Return a reference to the enumeration's schema."""
        enumeration = self.target.enumeration
        meanings = "; ".join(f"`{value}`: {label}" for value, label in enumeration.choices)
        component = ResolvedComponent(
            name=self.target.component_name,
            type=ResolvedComponent.SCHEMA,
            object=enumeration,
            schema={"type": "string", "enum": enumeration.values, "description": meanings},
        )
        auto_schema.registry.register_on_missing(component)
        return component.ref


class PersonSerializer(serializers.Serializer):
    """A person as readings and history name them."""

    id = serializers.IntegerField()
    name = serializers.CharField(source="display_name")
