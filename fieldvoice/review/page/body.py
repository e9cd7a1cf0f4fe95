"""The JSON object that a request carries."""

from __future__ import annotations

import json

from starlette.requests import Request

from fieldvoice.errors import InputError
from fieldvoice.types import Json


async def asked_in(request: Request) -> Json:
    """What a request asks for.

    Raises:
        InputError: the body is no JSON, or no object.
    """
    try:
        asked = json.loads(await request.body())
    except (ValueError, RecursionError) as error:
        raise InputError("The request is no JSON.") from error
    if not isinstance(asked, dict):
        raise InputError("The request is no JSON object.")
    return asked
