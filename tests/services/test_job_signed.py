"""A page counts as signed only with every step proved, when it was signed and now."""

import pytest

from bench.files.exports.export_document import file_sha256
from bench.files.job_record import add_entry, read_job
from bench.files.job_standing import Proof, Proofs
from bench.services import proof as service
from bench.services.proof import STEPS
from bench.wording.proof import box, headline, state_words

BEFORE = STEPS[:-1]


def signed(folder, then, now, simulated=()):
    """Return the step `signed`; then, now: (step, state) of those not proved."""
    page = folder / "proof.html"
    page.write_text("a page", encoding="utf-8")
    add_entry(folder, "signed", page, {"states": dict.fromkeys(BEFORE, "proved") | dict(then)},
              file_sha256(page))
    steps = [Proof(s, dict(now).get(s, "proved"), simulated=s in simulated) for s in BEFORE]
    found = service.signed_step(read_job(folder), steps)
    return found, Proofs(folder, (*steps, found))


@pytest.mark.parametrize(("then", "now", "left"), [
    ((), (), ()),
    ((("shake", "failed"),), (("shake", "failed"),), ("shake",)),
    ((("shake", "open"),), (), ("shake",)),
    ((), (("wires", "open"),), ("wires",)),
    ((("wires", "to do"),), (("drive", "failed"),), ("wires", "drive"))])
def test_signed_means_every_step_proved_then_and_now(tmp_path, then, now, left):
    """Whatever fails or was not seen keeps the page from counting (common practice, no source)."""
    found, proofs = signed(tmp_path, then, now)
    assert (found.state, found.because) == ("open" if left else "proved", left)
    assert proofs.all_proved is not bool(left)
    assert (box(found.state) == "[x]") is not bool(left)
    said = headline([(p.step, p.state, p.because) for p in proofs.steps])
    assert ("the page is signed" in said) is not bool(left)


def test_a_page_on_simulated_proofs_says_so(tmp_path):
    """Nothing of it was seen on a car: no tick, and not all is proved."""
    found, proofs = signed(tmp_path, (), (), ("wires",))
    assert (found.state, found.simulated) == ("proved", True)
    assert state_words(found.state, found.simulated, "signed") == "signed, simulated"
    assert box(found.state, found.simulated) == "[~]"
    assert not proofs.all_proved
