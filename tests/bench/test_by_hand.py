"""The scripts that are run by hand go through: one store each."""

import kind_recovery
import pytest
import reduction_advice


def test_the_recovery_of_kinds_goes_through(capsys: pytest.CaptureFixture[str]) -> None:
    kind_recovery.main(range(3, 4), plain=False, in_any_order=True)
    out = capsys.readouterr().out
    assert "of 1 suspected" in out
    assert "bargain      told  1" in out


def test_the_advice_on_reductions_is_played_on_the_truth(
    capsys: pytest.CaptureFixture[str],
) -> None:
    one = reduction_advice.weighed(3, plain=False)
    assert one is not None
    assert one.best == "never"
    assert one.is_advised
    assert one.low <= one.truth <= one.high
    reduction_advice.main(0, plain=True)
    assert "0 of 0 told" in capsys.readouterr().out
