"""Addresses are read once, and all their faults named."""

import pytest

from lapwright.errors import BadInput
from lapwright.gauges import open_source, open_stop
from lapwright.gauges.address import parse_address, split_host
from lapwright.gauges.registry import DRIVERS, STOP_KINDS


def faults(address, opening=open_source):
    """The sentences of all faults of an address."""
    with pytest.raises(BadInput) as caught:
        opening(address)
    return [fault.sentence for fault in caught.value.faults]


def test_values_are_percent_decoded_and_a_plus_stays():
    """A regular pattern and a sign survive."""
    parsed = parse_address("tcp:h:1?pattern=%23(%3FP%3Cvalue%3E.%2B)&sign=+")
    assert dict(parsed.options) == {"pattern": "#(?P<value>.+)", "sign": "+"}


def test_all_faults_of_an_address_are_named_at_once():
    """Three faults, three sentences, with the nearest name and what was expected."""
    found = faults("serial:/dev/ttyS0?bauds=9600&parity=odder&unit=kg")
    assert len(found) == 3
    assert "Did you mean 'baud'?" in found[0]
    assert any("none, even, odd" in sentence for sentence in found)
    assert any("'kg'" in sentence for sentence in found)


@pytest.mark.parametrize(
    ("address", "word"),
    [
        ("serial", "no address"),
        ("seriel:/dev/ttyS0", "Did you mean 'serial:'?"),
        ("serial:?unit=um", "needs its port"),
        ("tcp:gauge?unit=um", "host and a port"),
        ("tcp:gauge:99999?unit=um", "host and a port"),
        ("mqtt:broker?unit=um", "names no topic"),
        ("opcua:server?unit=um", "node is missing"),
        ("opcua:server?node=i=5", "no unit"),
        ("replay:", "needs its file"),
        ("folder:?unit=um", "needs its folder"),
        ("bluetooth:?unit=um&characteristic=1", "needs its device"),
        ("tcp:h:1?unit=um&unit=mm", "given twice"),
        ("tcp:h:1?pattern=(", "not a regular pattern"),
        ("tcp:h:1?pattern=(%3FP%3Cvalu%3E.)", "named group 'value'"),
        ("tcp:h:1?pattern=(%3FP%3Cvalue%3E.)", "no unit"),
        ("tcp:h:1?unit=um&range=5mm..1mm", "smaller one"),
        ("tcp:h:1?unit=um&range=5mm", "two lengths"),
        ("tcp:h:1?unit=um&terminator=whatever", "CRLF"),
        ("tcp:h:1?unit=um&gap_s=0", "from 0.01"),
        ("tcp:h:1?unit=um&buffer=1", "from 10"),
        ("replay:f?speed=fast", "or 'max'"),
    ],
)
def test_each_fault_is_a_sentence(address, word):
    """What was found, what was expected."""
    assert any(word in sentence for sentence in faults(address))


@pytest.mark.parametrize("address", ["serial:", "mqtt:broker", "opcua:server", "lamp:", "dry-run:?x=1"])
def test_stop_outputs_are_checked_alike(address):
    """A stop output that cannot be meant is refused before the run."""
    assert faults(address, open_stop)


def test_the_place_may_be_ipv6_and_carry_a_scheme():
    """As people write it."""
    assert split_host("[::1]:4001") == ("::1", 4001, "")
    assert split_host("//broker/a/b", default_port=1883) == ("broker", 1883, "a/b")


def test_no_password_is_shown():
    """The name of the variable is left out, too."""
    source = open_source("mqtt:broker/t?unit=um&user=me&password_env=SECRET")
    assert source.status.address == "mqtt:broker/t?unit=um&user=me"


@pytest.mark.parametrize("entry", [*DRIVERS, *STOP_KINDS], ids=lambda entry: entry.name)
def test_option_names_are_unique_and_explained(entry):
    """Every option has a help text."""
    names = [option.name for option in entry.options]
    assert len(names) == len(set(names))
    assert all(option.help for option in entry.options)
