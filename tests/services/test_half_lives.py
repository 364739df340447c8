"""How long packs of a model last, in sentences that do not look further than its packs allow."""

from fleetcare.domain.projection.lasting import Lived
from fleetcare.domain.wording import say
from fleetcare.services.half_lives import half_lives_told


def test_three_pulls_of_packs_of_one_age_name_no_age_that_no_pack_has_reached() -> None:
    young = Lived("N13 pack", (450.0, 478.0, 485.0, *[490.0] * 20), (True, True, True, *[False] * 20))
    (told,) = (say(one) for one in half_lives_told([young]))
    assert told == (
        "N13 pack: fewer than half of its packs are pulled so far (3 of 23; the oldest is 16 months). At which age half will be "
        "cannot be told from that: it takes 10 pulled, or packs followed that long. What is expected of the next two quarters "
        "stands under Packs needed."
    )


def test_ten_pulls_look_a_little_beyond_and_say_so() -> None:
    many = Lived("N13 pack", (*[400.0 + 10 * n for n in range(10)], *[500.0] * 14), (*[True] * 10, *[False] * 14))
    (told,) = (say(one) for one in half_lives_told([many]))
    assert told.startswith("N13 pack: half of its packs are pulled at an age of about ")
    assert "that is further than the oldest pack, 16 months, shows" in told
