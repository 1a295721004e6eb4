"""JSON as the API writes it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import orjson
from rest_framework.renderers import JSONRenderer
from rest_framework.utils.encoders import JSONEncoder

_OPTIONS = orjson.OPT_NON_STR_KEYS | orjson.OPT_PASSTHROUGH_DATETIME
_other = JSONEncoder().default


class FastJSONRenderer(JSONRenderer):
    """Says the same as its parent, several times as fast: long lists are mostly this."""

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: Mapping[str, Any] | None = None,
    ) -> bytes:
        """UTF-8 without spaces."""
        if data is None:
            return b""
        try:
            return orjson.dumps(data, default=_other, option=_OPTIONS)
        except orjson.JSONEncodeError:  # an integer of more than 64 bits
            text: bytes = super().render(data, accepted_media_type, renderer_context)
            return text
