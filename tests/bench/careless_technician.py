"""A technician who works as the demonstration's does, and now and then not quite."""

from collections.abc import Iterator
from contextlib import suppress

from benchstation.demo.recording import typed_at
from benchstation.demo.technician import Technician
from benchstation.domain.inputs.zero import ZeroReading, unseen_fields
from benchstation.domain.specification import StepKind
from benchstation.driver_api.errors import StationError


class Careless(Technician):
    """Works as the demonstration's technician does, and now and then not quite."""

    slips: float = 0.0

    def slip(self, chance: float) -> bool:
        return self.random.random() < chance * self.slips

    def usual(self, rebuild, step) -> Iterator[str]:
        session = self.session
        if rebuild.unread is not None:
            session.act("take_over", {})
        if rebuild.proof_due:
            yield from self.prove(rebuild, step)
            return
        yield from super().usual(rebuild, step)

    def prove(self, rebuild, step) -> Iterator[str]:
        """Prove that the gas is out of a unit that lay aside, or go back to the release."""
        release = rebuild.specification.step_of(StepKind.RELEASE)
        if self.random.random() < 0.6:
            if not self.slip(0.3):
                self.world.model.open_gas_screw()
                yield from self.pause(3.0, step.title)
            typed = typed_at(self.session, rebuild, release, self.plan.notes, self.random)
            try:
                self.session.act("prove", typed)
                return
            except StationError:
                pass
        self.session.act("to_release", {"reason": "the gas is not proven out"})
        yield step.title

    def release(self, rebuild, step) -> Iterator[str]:
        if self.slip(0.15):
            # Signs as soon as it may, with what it sees.
            self.world.model.open_gas_screw()
            self.world.model.vent_opening = 0.2
            yield from self.pause(self.random.uniform(0.0, 4.0), step.title)
            typed = typed_at(self.session, rebuild, step, self.plan.notes, self.random)
            try:
                self.session.act("typed", typed)
                self.session.act("sign", typed)
            except StationError:
                pass
        if self.still_at(step):
            taken_back = {f"confirm{n}": "" for n in range(1, len(step.statements) + 1)}
            self.session.act("typed", taken_back)
            yield from super().release(rebuild, step)

    def sign_form(self, step) -> None:
        """Sign; where the gauge saw nothing, say the two words that stand in for it."""
        rebuild = self.session.unit()
        typed = typed_at(self.session, rebuild, step, self.plan.notes, self.random)
        try:
            self.session.act("sign", typed)
        except StationError:
            if step.kind is not StepKind.RELEASE:
                raise
            words = [unseen_fields(a.name) for a in step.asked if isinstance(a.input, ZeroReading)]
            self.session.act("sign", typed | {field: "yes" for one in words for field in one})

    def charge(self, step) -> Iterator[str]:
        model = self.world.model
        if self.session.unit().zero_before is None and not self.slip(0.2):
            model.open_gas_screw()
            model.vent_opening = 0.5
            yield from self.pause(6.0, step.title)
            model.vent_opening = 0.0
        yield from super().charge(step)

    def weigh(self, step) -> Iterator[str]:
        model, unit = self.world.model, self.session.unit()
        if not unit.counting and model.oil_kg > 0.0 and not self.slip(0.3):
            # An honest hand begins with an empty body.
            model.put_on_pan("nothing")
            model.take_out(model.oil_kg)
        yield from super().weigh(step)

    def undo(self, step) -> None:
        if self.slip(0.3):
            return
        super().undo(step)
        if self.slip(0.2):
            self.world.model.oil_kg += self.random.uniform(0.0, 0.02)

    def seal_off(self, rebuild, step) -> Iterator[str]:
        model = self.world.model
        if self.slip(0.15):
            model.vent_opening = self.random.choice((0.003, 0.1))
            yield from self.pause(self.random.uniform(0.2, 6.0), step.title)
            model.vent_opening = 0.0
        if self.slip(0.15):
            model.vent_opening = 0.1
            yield from self.pause(8.0, step.title)
            model.vent_opening = 0.0
            typed = typed_at(self.session, rebuild, step, self.plan.notes, self.random)
            with suppress(StationError):
                self.session.act("sign", typed)
        if self.still_at(step):
            yield from super().seal_off(rebuild, step)
