"""Old price lists read with the fields added since."""

from lapwright.model.prices import PriceList
from lapwright.records.coding import from_plain, to_plain


def test_a_list_recorded_before_set_up_and_overhead_reads_without_them():
    """A column written by an earlier version lacks the fields; they are nought."""
    kept = PriceList(
        labour=60.0, station_hour=20.0, pad=60.0, pad_life=144e3, measuring_time=600.0, cleaning_time=600.0
    )
    plain = to_plain(kept)
    del plain["set_up_time"], plain["overhead"]
    assert from_plain(plain) == kept
