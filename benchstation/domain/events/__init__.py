"""Every fact of a rebuild as one typed event. The journal stores them; state is their fold.

An event is a frozen dataclass of text, numbers, booleans, ``None`` and tuples or mappings of
these, so that its body is plain JSON. ``kind`` is stored beside the body and is never reused with
another meaning. Values are SI; pressures are absolute unless the name says gauge.

Each kind has a ``form``, the number of its body's shape; whoever changes the shape raises it and
adds the way from the form before to ``upgrades.py``. What is stored stays as it was written.
"""

from benchstation.domain.events.air import (
    AirRead,
    BodyMeasured,
    InRoomSince,
)
from benchstation.domain.events.alarms import (
    AlarmChanged,
    AlarmEpisodeRecorded,
    AlarmMuted,
    AlarmResumed,
)
from benchstation.domain.events.base import (
    Event,
    EventError,
    UnitEvent,
)
from benchstation.domain.events.charge import (
    ChargeCaptured,
    HoldTested,
)
from benchstation.domain.events.gauge import (
    GasFell,
    GasFound,
    GasRose,
    GaugeZero,
    LineFell,
    UnitWeighed,
)
from benchstation.domain.events.instruments import (
    CalibrationChanged,
    CalibrationDetails,
    CalibrationResult,
    Compared,
    RepeatabilityMeasured,
    ScaleResponded,
)
from benchstation.domain.events.materials import (
    MaterialClosed,
    MaterialReceived,
)
from benchstation.domain.events.orders import (
    OrderChanged,
    OrderedUnit,
    OrderPlaced,
    OrderUnitWithdrawn,
)
from benchstation.domain.events.people import (
    BadgeRegistered,
    BadgeSaltMade,
    PersonEnrolled,
    PersonLeft,
    PersonPrefers,
    PersonSignedIn,
    PersonSignedOut,
    PinRefused,
)
from benchstation.domain.events.reading import (
    EVENT_TYPES,
    event_from,
    known_type,
    stored_body,
)
from benchstation.domain.events.second_reading import (
    PressureReadAgain,
    SecondReadingJudged,
    UnitWaits,
)
from benchstation.domain.events.shop import (
    BenchSettingChanged,
    BenchSetUpChanged,
    CheckWithdrawn,
    DayLineSigned,
    InstrumentChecked,
    InstrumentRegistered,
    OilLotClosed,
    OilLotReceived,
    SpecificationApproved,
    SpecificationDrafted,
)
from benchstation.domain.events.shop_chain import (
    Adopted,
    BenchJoined,
    Conflicted,
    DeskJoined,
    LearnedLate,
    LineMoved,
    Settled,
    ShopFounded,
    ShopJoined,
    ShopTaken,
)
from benchstation.domain.events.trust import (
    BenchKeyMade,
    ClockRanBack,
    LossAccepted,
)
from benchstation.domain.events.unit import (
    DeviationSigned,
    HandedOver,
    HandOverRead,
    PhotoSetAside,
    PhotoTaken,
    RebuildAbandoned,
    RebuildOpened,
    StepReopened,
    StepSigned,
    UnitDisposed,
    UnitFetched,
    UnitFiled,
    UnitSetAside,
    ZeroProven,
)
from benchstation.domain.events.weighing import (
    LotChosen,
    LotConfirmed,
    MassCaptured,
    MethodChosen,
    OilJudged,
    OilUnweighed,
    ScaleChosen,
    TareLost,
    TareProven,
    UnweighedUndone,
)

__all__ = [
    "EVENT_TYPES",
    "Adopted",
    "AirRead",
    "AlarmChanged",
    "AlarmEpisodeRecorded",
    "AlarmMuted",
    "AlarmResumed",
    "BadgeRegistered",
    "BadgeSaltMade",
    "BenchJoined",
    "BenchKeyMade",
    "BenchSetUpChanged",
    "BenchSettingChanged",
    "BodyMeasured",
    "CalibrationChanged",
    "CalibrationDetails",
    "CalibrationResult",
    "ChargeCaptured",
    "CheckWithdrawn",
    "ClockRanBack",
    "Compared",
    "Conflicted",
    "DayLineSigned",
    "DeskJoined",
    "DeviationSigned",
    "Event",
    "EventError",
    "GasFell",
    "GasFound",
    "GasRose",
    "GaugeZero",
    "HandOverRead",
    "HandedOver",
    "HoldTested",
    "InRoomSince",
    "InstrumentChecked",
    "InstrumentRegistered",
    "LearnedLate",
    "LineFell",
    "LineMoved",
    "LossAccepted",
    "LotChosen",
    "LotConfirmed",
    "MassCaptured",
    "MaterialClosed",
    "MaterialReceived",
    "MethodChosen",
    "OilJudged",
    "OilLotClosed",
    "OilLotReceived",
    "OilUnweighed",
    "OrderChanged",
    "OrderPlaced",
    "OrderUnitWithdrawn",
    "OrderedUnit",
    "PersonEnrolled",
    "PersonLeft",
    "PersonPrefers",
    "PersonSignedIn",
    "PersonSignedOut",
    "PhotoSetAside",
    "PhotoTaken",
    "PinRefused",
    "PressureReadAgain",
    "RebuildAbandoned",
    "RebuildOpened",
    "RepeatabilityMeasured",
    "ScaleChosen",
    "ScaleResponded",
    "SecondReadingJudged",
    "Settled",
    "ShopFounded",
    "ShopJoined",
    "ShopTaken",
    "SpecificationApproved",
    "SpecificationDrafted",
    "StepReopened",
    "StepSigned",
    "TareLost",
    "TareProven",
    "UnitDisposed",
    "UnitEvent",
    "UnitFetched",
    "UnitFiled",
    "UnitSetAside",
    "UnitWaits",
    "UnitWeighed",
    "UnweighedUndone",
    "ZeroProven",
    "event_from",
    "known_type",
    "stored_body",
]
