"""Without a PostgreSQL its tests are left out, but never on the build machine."""

import pytest

from tests.shop_server import no_server


def test_without_a_server_tests_are_skipped_and_fail_on_the_build_machine(monkeypatch):
    monkeypatch.delenv("CI", raising=False)
    with pytest.raises(pytest.skip.Exception, match="no server"):
        no_server("no server")
    monkeypatch.setenv("CI", "1")
    with pytest.raises(pytest.fail.Exception, match="Debian: postgresql"):
        no_server("no server")
