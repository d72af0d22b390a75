"""The setting that names what a worker computes with."""

import pytest

from slab_base.setting_fields import SettingError
from slab_worker.engine import load_engine, warm
from tests.support.toy_engine import ToyEngine


def test_an_engine_is_made_from_its_name() -> None:
    assert isinstance(load_engine(name="tests.support.toy_engine:ToyEngine"), ToyEngine)


@pytest.mark.parametrize(
    "name", ["tests.support.toy_engine", "no_such_module:X", "tests.support.toy_engine:No"]
)
def test_a_name_that_leads_nowhere_is_refused_by_the_setting_s_name(name: str) -> None:
    with pytest.raises(SettingError, match="SLABWRIGHT_ENGINE"):
        load_engine(name=name)


def test_warming_calls_the_engine_s_own_hook_if_it_has_one() -> None:
    class Warmed(ToyEngine):
        called = 0

        def warm(self) -> None:
            self.called += 1

    engine = Warmed()
    warm(engine=engine)
    warm(engine=ToyEngine())
    assert engine.called == 1
