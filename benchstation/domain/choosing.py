"""Signing a choice of listed options, and a text of several lines."""

from collections.abc import Mapping
from typing import Any

from benchstation.domain.events import Event, StepSigned
from benchstation.domain.rebuild import QA_HOLD, Rebuild
from benchstation.domain.specification import StepKind
from benchstation.domain.step_content import Hold
from benchstation.domain.unit_commands import NotAllowedError, form_evidence, require_step

LONGEST_TEXT = 4000
SUMMARY = 80


def sign_choice(rebuild: Rebuild, fields: Mapping[str, str]) -> list[Event]:
    """Sign the chosen option; one that needs a deviation only after it was signed."""
    step = require_step(rebuild, StepKind.CHOOSE)
    choice = step.choose
    assert choice is not None
    option = choice.option(fields.get("choice", ""))
    if option is None:
        raise NotAllowedError(
            f"'{choice.label}' is not chosen yet.", where=step.title, advice="Choose one."
        )
    evidence: dict[str, Any] = {**form_evidence(step, fields), "choice": option.id}
    evidence["chosen"] = option.text
    said = f"{choice.label}: {option.text}"
    if option.hold is Hold.DEVIATION:
        if not rebuild.deviated(step.id):
            raise NotAllowedError(
                f"'{option.text}' needs a deviation.",
                where=step.title,
                advice="Replace the part and choose again, or have a lead accept it.",
            )
        said += ", accepted as a deviation"
    if option.hold is Hold.QA:
        evidence[QA_HOLD] = said
    return [StepSigned(rebuild.unit_id, step.id, said, evidence)]


def sign_note(rebuild: Rebuild, fields: Mapping[str, str]) -> list[Event]:
    """Sign a text; an empty one only where it may stay empty."""
    step = require_step(rebuild, StepKind.NOTE)
    asked = step.text
    assert asked is not None
    lines = [line.rstrip() for line in fields.get("text", "").strip().splitlines()]
    text = "\n".join(lines)
    if asked.required and not text:
        raise NotAllowedError(
            f"still to do: {asked.label}.", where=step.title, advice="Write it down in a few words."
        )
    if len(text) > LONGEST_TEXT or not all(line.replace("\t", " ").isprintable() for line in lines):
        raise NotAllowedError(
            f"'{asked.label}' is longer than {LONGEST_TEXT} characters or cannot be printed.",
            where=step.title,
            advice="Shorten it; what you typed is kept.",
        )
    said = " / ".join(line for line in lines if line)
    short = said if len(said) <= SUMMARY else f"{said[: SUMMARY - 1].rstrip()}…"
    evidence: dict[str, Any] = {**form_evidence(step, fields), "text": text}
    return [StepSigned(rebuild.unit_id, step.id, short or "nothing to note", evidence)]
