"""Results as JSON for programs."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

FORMAT = 1


def plain(value: Any) -> Any:
    """Return a value as JSON has it: arrays as lists, what is not finite as null."""
    if isinstance(value, np.ndarray):
        return [plain(item) for item in value.tolist()]
    if isinstance(value, np.floating | float):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    if isinstance(value, dict):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    return value


def as_json(result: Mapping[str, Any]) -> str:
    """Return a result object (dict) as one line-free JSON text with its format number."""
    return json.dumps(plain({"format": FORMAT, **result}), allow_nan=False, indent=None)
