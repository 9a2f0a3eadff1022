"""Who is signed in: one after the other, their wrong tries, and what became of them meanwhile."""

from dataclasses import replace

from benchstation.bench.signed_in import SignedIn
from benchstation.domain.people import Person, Role

ADA = Person("ada", "Ada", frozenset((Role.LEAD,)))
BO = Person("bo", "Bo", frozenset((Role.TECHNICIAN,)))


def test_who_was_here_before_is_told_and_the_form_goes():
    signed_in = SignedIn(ADA)
    signed_in.show_form()
    assert signed_in.switching
    assert signed_in.become(BO) is ADA
    assert (signed_in.person, signed_in.switching) == (BO, False)
    signed_in.show_form()
    signed_in.leave_form()
    assert (signed_in.person, signed_in.switching) == (BO, False)


def test_what_is_on_record_of_the_person_is_taken_and_who_left_is_signed_out():
    signed_in = SignedIn(BO)
    lead = replace(BO, roles=frozenset((Role.LEAD,)))
    signed_in.refresh({"bo": lead})
    assert signed_in.person is lead
    signed_in.refresh({"bo": replace(lead, left=True)})
    assert signed_in.person is None
    signed_in.refresh({})
    assert signed_in.person is None


def test_wrong_tries_make_their_own_next_one_wait_until_they_are_forgotten():
    signed_in = SignedIn()
    for _ in range(10):
        signed_in.count_wrong("ada", 0.0)
    assert signed_in.wait_s("ada", 0.0) > 0
    assert signed_in.wait_s("bo", 0.0) == 0
    signed_in.forget_wrong("ada")
    assert signed_in.wait_s("ada", 0.0) == 0
