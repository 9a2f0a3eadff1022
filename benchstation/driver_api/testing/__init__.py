"""What a driver author tests a driver with: the conformance kit."""

from benchstation.driver_api.testing.conformance import DriverConformance
from benchstation.driver_api.testing.transcript import (
    DiffersError,
    Transcript,
    TranscriptError,
    parse_transcript,
    read_transcripts,
    replay,
)

__all__ = [
    "DiffersError",
    "DriverConformance",
    "Transcript",
    "TranscriptError",
    "parse_transcript",
    "read_transcripts",
    "replay",
]
