"""Results as plain JSON and numbers, and back: no code is ever loaded from a file.

Only the frozen data classes of the modules named here are rebuilt. Arrays and numeric columns go
to ``arrays`` as they are, so that what is loaded equals what was saved to the last digit.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import date
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from tonecompare.errors import InputError
from tonecompare.language import SaidLater, tr_later

#: Modules whose data classes may stand in a file.
_MODULES = (
    "session.model", "measure.flags", "measure.measured", "measure.model", "measure.table",
    "measure.resonances",
    "measure.outputs.recorded_blend", "measure.outputs.results", "compare.model",
    "compare.cause_facts",
    "compare.comparisons", "compare.difference.difference_rows", "compare.reasons",
    "compare.bench.signs",
    "compare.worth.work_steps", "report.words.finding_words.finding",
    "compare.side_by_side.sounds",
    "report.difference_views",
    "front.results",
)  # fmt: skip

Array = NDArray[Any]


@cache
def _classes() -> dict[str, type]:
    """Return every data class that may be saved, by module and name."""
    found = {}
    for name in _MODULES:
        module = import_module(f"tonecompare.{name}")
        for each in vars(module).values():
            if isinstance(each, type) and is_dataclass(each) and each.__module__ == module.__name__:
                found[f"{name}:{each.__name__}"] = each
    return found


def to_plain(value: Any, arrays: dict[str, Array]) -> Any:
    """Return a value as JSON knows it; numbers in bulk are put into ``arrays`` by name.

    Raises
    ------
    TypeError
        When the value holds something that is no data.
    """
    if isinstance(value, np.generic):
        value = value.item()
    if value is pd.NA:
        return {"missing": True}
    if isinstance(value, SaidLater) and value.values:
        return {"said": [value.template, to_plain(value.values, arrays)]}
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return {"float": value.hex()}
    if isinstance(value, (tuple, list)):
        return {type(value).__name__: [to_plain(each, arrays) for each in value]}
    if isinstance(value, Mapping):
        pairs = [[to_plain(key, arrays), to_plain(each, arrays)] for key, each in value.items()]
        return {"map": pairs}
    if isinstance(value, np.ndarray) and value.dtype != object:
        return {"array": _kept(value, arrays)}
    if isinstance(value, np.ndarray):
        return {"objects": [to_plain(each, arrays) for each in value.tolist()]}
    if isinstance(value, pd.DataFrame):
        columns = [[str(name), _column(value[name], arrays)] for name in value.columns]
        return {"frame": columns, "rows": len(value)}
    if isinstance(value, Path):
        return {"path": value.as_posix()}
    if isinstance(value, date):
        return {"date": value.isoformat()}
    if is_dataclass(value):
        name = f"{type(value).__module__.removeprefix('tonecompare.')}:{type(value).__name__}"
        if name in _classes():
            parts = {
                one.name: to_plain(getattr(value, one.name), arrays)
                for one in fields(value)
                if one.init
            }
            return {"class": name, "fields": parts}
    raise TypeError(f"{type(value).__name__} cannot be saved")


def from_plain(value: Any, arrays: Mapping[str, Array]) -> Any:
    """Return what :func:`to_plain` was given.

    Raises
    ------
    InputError
        When a class is none that may be saved.
    KeyError, TypeError, ValueError
        When the data does not fit together.
    """
    if not isinstance(value, dict):
        return value
    if "class" in value:
        if value["class"] not in _classes():
            raise InputError(f'"{value["class"]}" is nothing this version of tonecompare knows')
        parts = {name: from_plain(each, arrays) for name, each in value["fields"].items()}
        return _classes()[value["class"]](**parts)
    if "frame" in value:
        columns = {name: from_plain(each, arrays) for name, each in value["frame"]}
        return pd.DataFrame(columns, index=pd.RangeIndex(value["rows"]))
    if "column" in value:
        cells = [from_plain(each, arrays) for each in value["column"]]
        return pd.Series(cells, dtype=object).astype(value["dtype"])
    ((kind, held),) = value.items()
    if kind == "objects":
        objects = np.empty(len(held), dtype=np.object_)
        for place, each in enumerate(held):
            objects[place] = from_plain(each, arrays)
        return objects
    if kind in ("tuple", "list"):
        each_one = (from_plain(each, arrays) for each in held)
        return tuple(each_one) if kind == "tuple" else list(each_one)
    if kind == "said":
        return tr_later(held[0], **from_plain(held[1], arrays))
    if kind == "map":
        return {from_plain(key, arrays): from_plain(each, arrays) for key, each in held}
    simple: dict[str, Callable[[Any], Any]] = {
        "float": float.fromhex,
        "array": arrays.__getitem__,
        "path": Path,
        "date": date.fromisoformat,
        "missing": lambda _: pd.NA,
    }
    return simple[kind](held)


def _column(column: pd.Series, arrays: dict[str, Array]) -> Any:
    if isinstance(column.dtype, np.dtype) and column.dtype.kind in "fiub":
        return {"array": _kept(column.to_numpy(), arrays)}
    cells = [to_plain(each, arrays) for each in column.astype(object)]
    return {"column": cells, "dtype": str(column.dtype)}


def _kept(values: Array, arrays: dict[str, Array]) -> str:
    name = f"a{len(arrays)}"
    arrays[name] = values
    return name
