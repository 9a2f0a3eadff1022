"""Lines of a worklist as a station would give them, without records."""

from benchstation.screens.model.elements import ActionView, TermGroup, TermView, Tone
from benchstation.screens.model.lists import ListDetail, ListRow
from benchstation.screens.model.worklist import LEAD, PAGE, PLACE


def line(kind, title, why, tone, page, place, beside=""):
    """Return one line."""
    row = ListRow(f"{kind} {title}", title, (why,), kind, tone, beside)
    groups = (TermGroup("Waits", (TermView(kind.capitalize(), why, beside),)),)
    lead = ActionView(LEAD, f"Go to {page}", "Ctrl+O", primary=True)
    return ListDetail(row, groups, (lead,), fields={PAGE: page, PLACE: place})


LINES = (
    line("check failed", "Scale 2", "check weight failed; 3 units rest on it since it was good",
         Tone.DANGER, "records", "scale-02 since the last good check", "scale-02, bench-2"),
    line("on hold", "MR-2228", "charge read by hand; the high limit was exceeded", Tone.CAUTION,
         "records", "MR-2228", "rescue 46 front"),
    line("deviation", "MR-2228", "accepted by Jana Lead: charge read by hand", Tone.CAUTION,
         "records", "MR-2228", "rescue 46 front"),
    line("to be released", "MR-2229", "pass, filed 2026-11-25 14:02 by Technician 12", Tone.QUIET,
         "records", "MR-2229", "rescue 46 rear"),
    line("second reading", "MR-2231", "due now", Tone.CAUTION, "queue", "line2", "carrier 50"),
    line("calibration", "Gauge 3", "calibration due 2026-12-20", Tone.QUIET, "instruments",
         "gauge-03", "gauge-03, bench-2"),
    line("expires", "L-0417", "may be used until 2026-12-24", Tone.QUIET, "materials", "L-0417",
         "rescue oil 10"),
)  # fmt: skip
