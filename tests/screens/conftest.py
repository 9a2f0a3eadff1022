import pytest

from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    yield made
    made.store.close()
