import pytest

from benchstation.reports.export import filed_record
from tests.stepped_bench import make_bench


@pytest.fixture(scope="session")
def filed_bench(tmp_path_factory):
    """A bench with one careful and one troubled unit filed."""
    bench = make_bench(tmp_path_factory.mktemp("filed"))
    bench.work_to(None, serial="T-1")
    bench.session.act("next", {})
    bench.work_to(None, serial="T-<b>2</b>", careless_valve=True, oil_error_kg=3e-3)
    yield bench
    bench.store.close()


@pytest.fixture(scope="session")
def filed(filed_bench):
    """Both filed records, in order."""
    entries = filed_bench.store.entries(kind="unit.filed")
    return [filed_record(filed_bench.store, e.event.unit_id) for e in entries]
