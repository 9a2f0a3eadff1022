"""What the specification's editor does to its text: the domain's own rules, for the window.

They stand apart from what the pages show, for they bring every kind of input with them: a window
loads them with the Specifications page, not before its first frame.
"""

from benchstation.domain.approval import EXAMPLE as EXAMPLE
from benchstation.domain.approval import why_not_own as why_not_own
from benchstation.domain.example_marks import marked as marked
from benchstation.domain.specification import EXAMPLE_TABLE as EXAMPLE_TABLE
from benchstation.domain.specification_edit import CannotEditError as CannotEditError
from benchstation.domain.specification_edit import with_entry as with_entry
from benchstation.domain.specification_edit import with_entry_moved as with_entry_moved
from benchstation.domain.specification_edit import with_value as with_value
from benchstation.domain.specification_edit import without_entry as without_entry
from benchstation.domain.specification_text import raised as raised
from benchstation.domain.specification_text import with_values as with_values
