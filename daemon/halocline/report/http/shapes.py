"""Models of the API made from types that are written elsewhere, so that nothing is described twice."""

from collections.abc import Mapping
from functools import cache
from typing import Any, get_args, get_origin, get_type_hints, is_typeddict

from pydantic import BaseModel, Field, create_model


@cache
def model_of(shape: Any) -> type[BaseModel]:
    """The model of a TypedDict, with the same name, keys, types and text."""
    fields: dict[str, Any] = {}
    for key, hint in get_type_hints(shape).items():
        taken = hasattr(BaseModel, key)
        fields[f"{key}_" if taken else key] = (_modelled(hint), Field(alias=key) if taken else ...)
    return create_model(shape.__name__, __doc__=shape.__doc__, **fields)


def _modelled(hint: Any) -> Any:
    """The type with a model in the place of each TypedDict."""
    if is_typeddict(hint):
        return model_of(hint)
    inside = get_args(hint)
    if not any(map(_has_shape, inside)):
        return hint
    if get_origin(hint) in (list, dict, Mapping):
        return get_origin(hint)[tuple(map(_modelled, inside))]
    return _modelled(inside[0]) | _modelled(inside[1])


def _has_shape(hint: Any) -> bool:
    return is_typeddict(hint) or any(map(_has_shape, get_args(hint)))
