"""The first pass over all shares, with few particles, only says where to look more closely."""

import pytest

from shrinkwise.demand.model import DemandModel
from shrinkwise.shelf import share


@pytest.mark.parametrize("name", ["Hot dog buns", "Wheat loaf"])
def test_as_many_particles_as_later_would_look_at_the_same_shares(
    name: str, sample_demand: DemandModel, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With a single particle these two lines would be looked for in the wrong place."""
    found = share.share_posterior(sample_demand.ledgers[name], seed=1)
    monkeypatch.setattr(share, "FEWER_PARTICLES", share.PARTICLES)
    thorough = share.share_posterior(sample_demand.ledgers[name], seed=1)
    assert found.mean == pytest.approx(thorough.mean, abs=1e-3)
    assert found.interval() == pytest.approx(thorough.interval(), abs=2e-3)
