"""Settings: where a value comes from, and what is refused."""

import subprocess
import sys

import pytest

from lapwright.errors import SettingError
from lapwright.settings import FILE_NAME, Settings, describe_settings, read_settings


def write(folder, text):
    """A settings file in a folder."""
    (folder / FILE_NAME).write_text(text, encoding="utf-8")


def test_a_later_layer_weighs_more(tmp_path):
    """Default, then file, then environment, then command line; each value says where it came from."""
    write(tmp_path, 'port = 1000\nlanguage = "de"\nlaboratory = "L"\n')
    values = read_settings({"data": tmp_path, "port": 3000}, {"LAPWRIGHT_PORT": "2000", "LAPWRIGHT_LANGUAGE": "en"})
    assert (values.port, values.language, values.laboratory, values.host) == (3000, "en", "L", "127.0.0.1")
    names = ("port", "language", "laboratory", "host", "data")
    origins = ["command line", "environment", "file", "default", "command line"]
    assert [values.origins[name] for name in names] == origins


def test_the_data_folder_is_taken_from_the_command_line_before_the_environment(tmp_path):
    """--data over LAPWRIGHT_DATA over the user's folder."""
    environ = {"LAPWRIGHT_DATA": str(tmp_path / "b")}
    assert read_settings({"data": tmp_path / "a"}, environ).data == tmp_path / "a"
    assert read_settings({}, environ).data == tmp_path / "b"
    assert read_settings({}, {}).data.name == "lapwright"


def test_an_unknown_name_is_refused_with_the_nearest(tmp_path):
    """In the file, in the environment and on the command line; all faults at once."""
    write(tmp_path, "prot = 1\n")
    with pytest.raises(SettingError) as caught:
        read_settings({"data": tmp_path, "langauge": "en"}, {"LAPWRIGHT_HOSTS": "x"})
    sentences = [fault.sentence for fault in caught.value.faults]
    assert [("port" in sentences[0]), ("host" in sentences[1]), ("language" in sentences[2])] == [True, True, True]
    assert len(sentences) == 3


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("port", "70000"), ("port", "many"), ("port", 1.5), ("language", "fr"), ("time_zone", "Nowhere/Land"), ("person", " "),
        ("database", "mysql://x"), ("zero_spread_um", "-1"), ("question_sigma", "nan"), ("question_sigma", "inf"),
    ],
)  # fmt: skip
def test_a_value_that_does_not_fit_is_refused(tmp_path, name, value):
    """The sentence holds what was found and what was expected."""
    with pytest.raises(SettingError, match=r"found .* expected"):
        read_settings({"data": tmp_path, name: value}, {})


def test_a_settings_file_that_is_no_toml_is_refused(tmp_path):
    """It is named, not skipped."""
    write(tmp_path, "port = = 3")
    with pytest.raises(SettingError, match=FILE_NAME):
        read_settings({"data": tmp_path}, {})


def test_a_path_cannot_be_set_in_the_file_that_lies_there(tmp_path):
    """The data folder is where the file is."""
    write(tmp_path, 'data = "/elsewhere"\n')
    with pytest.raises(SettingError, match="no setting 'data'"):
        read_settings({"data": tmp_path}, {})


def test_the_database_is_a_file_in_the_data_folder_by_default(tmp_path):
    """An address takes its place."""
    assert read_settings({"data": tmp_path}, {}).database_url == f"sqlite:///{tmp_path / 'lapwright.sqlite3'}"
    address = "postgresql://u@h/n"
    assert read_settings({"data": tmp_path}, {"LAPWRIGHT_DATABASE": address}).database_url == address


def test_every_setting_is_described():
    """Help for each, and the variable that sets it."""
    listed = describe_settings()
    assert [one.name for one in listed] == [name for name in Settings.__dataclass_fields__ if name != "origins"]
    assert all(one.help.endswith(".") and one.variable == f"LAPWRIGHT_{one.name.upper()}" for one in listed)


def test_settings_load_no_django():
    """They are read by every command."""
    script = "import sys, lapwright.settings as s; s.read_settings({}, {}); print('django' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", script], check=True, capture_output=True, text=True)
    assert done.stdout == "False\n"
