"""Scripts that use the API with a token; every answer they get is held against the OpenAPI document."""

import json
import re
from functools import cache

import jsonschema
from django.urls import Resolver404, resolve
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from labsite.accounts.services import issue_token

API = "/api/v1/"


@cache
def api_document() -> dict:
    """The OpenAPI document as it is served."""
    made = SchemaGenerator().get_schema(request=None, public=True)
    return json.loads(json.dumps(made, default=str))


def operations() -> list[tuple[str, str, dict]]:
    """Every operation of the document: method, path, operation."""
    return [
        (method, path, operation)
        for path, methods in api_document()["paths"].items()
        for method, operation in methods.items()
    ]


@cache
def operation_of(method: str, path: str) -> dict:
    """What the document says of a method at a real address."""
    route = resolve(path).route
    template = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", f"/{route}")
    return api_document()["paths"][template][method.lower()]


class Script:
    """A client that may carry a token; ``call`` asserts that the answer is just what is documented."""

    def __init__(self, user=None, *, is_read_only=False, shows_token=True):
        self.client = APIClient(raise_request_exception=False)
        if user is None:
            return
        token = issue_token(actor=user, name=f"Script of {user.username}", is_read_only=is_read_only)
        if shows_token:
            self.client.credentials(HTTP_AUTHORIZATION=f"Token {token.secret}")
        else:  # for many calls that are about something else: looking a token up takes a fifth of each
            self.client.force_authenticate(user, token.row)

    def call(self, method: str, path: str, body=None, *, query=None, form=False):
        """Send a request and return its answer, checked against the document."""
        path = path if path.startswith("/") else API + path
        how = {"format": "multipart" if form else "json"} if body is not None else {}
        address = f"{path}?{query}" if query else path
        answer = getattr(self.client, method.lower())(address, body, **how)
        check_answer(method, path, answer)
        return answer

    def get(self, path: str, query: str = ""):
        """Read; return the body of an answer that has to be 200."""
        answer = self.call("get", path, query=query)
        assert answer.status_code == 200, answer.content
        return answer.json()

    def does(self, method: str, path: str, body=None, *, status=200, **how):
        """Write; return the body of an answer that has to have this status."""
        answer = self.call(method, path, body, **how)
        assert answer.status_code == status, answer.content
        return answer.json() if answer.content else None

    def refused(self, method: str, path: str, body=None, *, status, **how) -> dict:
        """Ask for what has to be refused; return the refusal."""
        return self.does(method, path, body, status=status, **how)


def check_answer(method: str, path: str, answer) -> None:
    """Assert that the status and the body of an answer are what the document promises."""
    try:
        responses = operation_of(method, path)["responses"]
    except (Resolver404, KeyError):
        raise AssertionError(f"{method} {path} is not in the document") from None
    told = f"{method.upper()} {path} answered {answer.status_code}: {answer.content[:400]!r}"
    assert str(answer.status_code) in responses, told
    content = responses[str(answer.status_code)].get("content")
    if content is None:
        assert answer.content == b"", told
        return
    if "application/json" not in content:
        assert answer["Content-Type"] in content and answer.content, told
        return
    _validator(json.dumps(content["application/json"]["schema"])).validate(answer.json())


@cache
def _validator(schema: str) -> jsonschema.Draft202012Validator:
    return jsonschema.Draft202012Validator(_closed(json.loads(schema)) | {"components": _components()})


@cache
def _components() -> dict:
    return _closed(api_document()["components"])


def _closed(schema):
    """The schema as JSON Schema has it, with objects that hold nothing but what is named."""
    if isinstance(schema, list):
        return [_closed(each) for each in schema]
    if not isinstance(schema, dict):
        return schema
    made = {name: _closed(inner) for name, inner in schema.items() if name != "nullable"}
    if isinstance(made.get("properties"), dict) and "additionalProperties" not in made:
        made["additionalProperties"] = False
    return {"anyOf": [made, {"type": "null"}]} if schema.get("nullable") is True else made
