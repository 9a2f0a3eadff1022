"""The set-up file's parts, each refused by the rules of the whole."""

import pytest

from benchstation.config import set_up
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
