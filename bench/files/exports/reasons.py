"""A reason as JSON holds it: its code, and its values."""

from typing import Any

from analysis.model.finding import Reason


def reason_object(reason: Reason) -> dict[str, Any]:
    """Return a reason as plain dicts: code and values."""
    return {"code": reason.code,
            "values": {name: plain_value(value) for name, value in reason.values.items()}}


def plain_value(value: Any) -> Any:
    """Return a value as JSON holds it; a reason behind it as its code and values."""
    if isinstance(value, Reason):
        return reason_object(value)
    return [plain_value(each) for each in value] if isinstance(value, tuple) else value
