"""The picture of a deposit that grows: its times are round, so that each label tells the truth."""

import pytest

from shopflow.readings.pictures.growth import STEPS, even_step


@pytest.mark.parametrize(
    ("longest", "step"), [(21.3, 2.0), (60.0, 5.0), (1.1, 0.1), (700.0, 100.0), (12.0, 1.0), (12.1, 2.0)]
)
def test_twelve_round_steps_reach_the_end(longest, step):
    assert even_step(longest) == step
    assert even_step(longest) * STEPS >= longest
