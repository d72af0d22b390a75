"""Which maths the worker computes with: the setting `engine` names a class to be made without arguments."""

from importlib import import_module
from typing import cast

from slab_app.work.ports import Engine
from slab_base.setting_fields import SettingError


def load_engine(*, name: str) -> Engine:
    """The engine named `module:Class`. Raises SettingError when there is no such class."""
    module, separator, attribute = name.partition(":")
    if not separator:
        raise SettingError(f"SLABWRIGHT_ENGINE must be written module:Class, not {name!r}")
    try:
        made = getattr(import_module(module), attribute)()
    except (ModuleNotFoundError, AttributeError) as problem:
        raise SettingError(f"SLABWRIGHT_ENGINE names {name!r}, which does not exist: {problem}") from problem
    return cast(Engine, made)


def warm(*, engine: Engine) -> None:
    """Load and compile what the engine can share with all children, in the parent before it forks.

    An engine may have a method `warm()`. It must not start threads or solvers: they do not survive a fork.
    """
    prepare = getattr(engine, "warm", None)
    if prepare is not None:
        prepare()
