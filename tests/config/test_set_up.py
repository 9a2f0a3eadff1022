"""The set-up file's parts, each refused by the rules of the whole."""

import json
import tomllib

import pytest

from benchstation.config import set_up
from benchstation.config.settings import parse_settings
from benchstation.driver_api.errors import StationError


@pytest.mark.parametrize(
    ("check", "table", "said"),
    [
        (set_up.check_bench, {"shop": "S"}, "at least one part"),
        (set_up.check_bench, {"path_ratings": {"hose": "3 m"}}, "path_ratings.hose"),
        (set_up.check_person, {"id": "a", "name": "A", "roles": ["lead"], "pin": "1"}, "6 to 32"),
        (set_up.check_person, {"id": "A", "name": "A", "roles": ["lead"], "pin": "924716"}, "id"),
    ],
)
def test_a_part_is_refused_by_the_rules_of_the_whole(check, table, said):
    with pytest.raises(StationError, match=said):
        check(table, "Here")


def example(*changes):
    text = set_up.example()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    settings, _ = set_up.check_set_up(tomllib.loads(text), "the example")
    return settings


def test_the_example_names_the_volume_of_the_fill_tool_with_its_unit():
    assert example().fill_tool_volume_m3 == pytest.approx(5e-6)


@pytest.mark.parametrize(
    ("said", "roles"),
    [
        ("true", ("scale",)),
        ("false", ()),
        ('"scales and gauges"', ("scale", "gauge")),
    ],
)
def test_the_file_says_which_instruments_need_their_check_each_day(said, roles):
    settings = example(("daily_check = true ", f"daily_check = {said} "))
    assert settings.checked_daily == roles
    assert settings_from(settings).checked_daily == roles, "as it is kept"


def settings_from(settings):
    return parse_settings(json.loads(settings.model_dump_json(exclude_unset=True)), where="kept")


def test_a_daily_check_of_something_else_is_refused():
    with pytest.raises(StationError, match="daily_check"):
        example(("daily_check = true ", 'daily_check = "thermometers" '))
