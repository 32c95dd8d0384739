"""Let a room import what is rarely needed only when it is first asked for."""

from collections.abc import Callable, Iterable, Mapping
from importlib import import_module
from typing import Any


def open_later(room: str, modules: Mapping[str, Iterable[str]]) -> Callable[[str], Any]:
    """Give a room its `__getattr__`: a name is imported from its module when somebody asks for it.

    Args:
        room: full name of the package.
        modules: module in it -> public names that stand there.
    """
    home = {name: module for module, names in modules.items() for name in names}

    def get_attribute(name: str) -> Any:
        if name not in home:
            raise AttributeError(f"module {room!r} has no attribute {name!r}")
        return getattr(import_module(f"{room}.{home[name]}"), name)

    return get_attribute
