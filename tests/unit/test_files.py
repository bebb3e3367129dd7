"""Files: read with clear faults, written whole or not at all."""

import os
from pathlib import Path

import pytest

from optibox.errors import InputError
from optibox.files import line_of_key, parse_toml, read_text, read_toml, write_text


def the_fault(call, *args):
    with pytest.raises(InputError) as caught:
        call(*args)
    (fault,) = caught.value.faults
    return fault


def test_text_is_written_and_read(tmp_path):
    path = tmp_path / "a.toml"
    write_text(path, 'format = 1\nname = "größe"\n')
    assert read_toml(path) == {"format": 1, "name": "größe"}
    assert [p.name for p in tmp_path.iterdir()] == ["a.toml"]


def test_line_ends_are_kept(tmp_path):
    write_text(tmp_path / "a", "x\r\ny\n")
    assert (tmp_path / "a").read_bytes() == b"x\r\ny\n"


def test_a_new_file_gets_the_usual_permissions_and_an_old_one_keeps_its_own(tmp_path):
    path, plain = tmp_path / "a", tmp_path / "b"
    write_text(path, "x")
    plain.touch()
    assert path.stat().st_mode == plain.stat().st_mode
    path.chmod(0o640)
    write_text(path, "y")
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_link_is_followed(tmp_path):
    real = tmp_path / "real"
    real.write_text("x")
    link = tmp_path / "link"
    link.symlink_to(real)
    write_text(link, "y")
    assert link.is_symlink()
    assert real.read_text() == "y"


def test_nothing_is_left_when_writing_fails(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_text("before")

    def fails(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fails)
    fault = the_fault(write_text, path, "after")
    assert "No space left" in fault.problem
    assert path.read_text() == "before"
    assert [p.name for p in tmp_path.iterdir()] == ["a"]


def test_places_that_cannot_be_written(tmp_path):
    assert "is a folder" in the_fault(write_text, tmp_path, "x").problem
    missing = tmp_path / "none" / "a"
    assert "does not exist" in the_fault(write_text, missing, "x").problem
    (tmp_path / "file").touch()
    assert (
        "is not a folder" in the_fault(write_text, tmp_path / "file" / "a", "x").problem
    )


def test_write_protection(tmp_path, monkeypatch):
    path = tmp_path / "a"
    path.write_text("x")
    monkeypatch.setattr(os, "access", lambda *_: False)
    assert the_fault(write_text, path, "y").problem == "is write-protected"


def test_files_that_cannot_be_read(tmp_path, monkeypatch):
    assert the_fault(read_text, tmp_path / "none").problem == "does not exist"
    assert "is a folder" in the_fault(read_text, tmp_path).problem

    def fails(_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", fails)
    assert "Permission denied" in the_fault(read_text, tmp_path / "a").problem


@pytest.mark.parametrize(
    ("data", "line", "words"),
    [
        (b"a\r\nb\r\n\xe4\n", 3, "0xe4"),
        (b"a\rb\0", 2, "NUL"),
        ("a".encode("utf-16"), 1, "UTF-16"),
    ],
)
def test_other_encodings(tmp_path, data, line, words):
    path = tmp_path / "a"
    path.write_bytes(data)
    fault = the_fault(read_text, path)
    assert (fault.path, fault.line) == (str(path), line)
    assert words in fault.problem


@pytest.mark.parametrize(
    ("text", "line", "field"),
    [
        ("a = 1\nb = \n", 2, ""),
        ('a = "x', 1, ""),
        ("a = 1\na = 2\n", 2, ""),
        ("a = 1\nformat = 2\n", 2, "format"),
        ("format = true\n", 1, "format"),
        ('format = "1"\n', 1, "format"),
    ],
)
def test_toml_faults(text, line, field):
    fault = the_fault(parse_toml, Path("s.toml"), text)
    assert (fault.path, fault.line, fault.field) == ("s.toml", line, field)


def test_lines_of_keys():
    text = "a = 1\n[x]\n  b_c = 2\n'd' = 3\n"
    assert [line_of_key(text, key) for key in ("a", "b_c", "d", "c")] == [1, 3, 4, 0]
